"""The sample job against its situations, each worked by hand in `ridge_thinning.yaml`."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from auditor.audit import check
from auditor.check.evaluate import load_codes
from auditor.check.tally import judge_tables, places_of
from auditor.record import Record, read_jobs
from auditor.report.model import JobReport
from auditor.rules.compiled import Code
from auditor.rules.reading import Rulebook, read_rules
from tests.house.tree import ROOT

SITUATIONS: list[dict[str, Any]] = yaml.safe_load(Path(__file__).with_name("ridge_thinning.yaml").read_text("utf-8"))["situations"]
ORDER = [Code.NOT_APPLICABLE, Code.CONFORMITY, Code.NOT_VERIFIABLE, Code.INCONCLUSIVE, Code.NOT_EVIDENCED, Code.NONCONFORMITY]


@pytest.fixture(scope="module")
def record() -> Record:
    return read_jobs([ROOT / "sample_jobs" / "ridge_thinning"])


@pytest.fixture(scope="module")
def rulebook(record: Record) -> Rulebook:
    return read_rules(places_of(record.tables))


@pytest.fixture(scope="module")
def job(record: Record, rulebook: Rulebook) -> JobReport:
    (found,) = check(record, rulebook).jobs
    return found


@pytest.fixture(scope="module")
def codes(record: Record, rulebook: Rulebook) -> dict[tuple[str, str], Code]:
    """(load, rule) -> outcome of its worst row."""
    found = {}
    for judged in judge_tables(record.tables, rulebook):
        worst = load_codes(judged)
        for key in [c for c in worst.columns if c not in ("job", "load")]:
            for load, code in zip(worst["load"], worst[key], strict=True):
                found[load, key] = Code(code)
    return found
