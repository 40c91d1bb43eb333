"""The sample job against its situations, each worked by hand in `ridge_thinning.yaml`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import polars as pl
import pytest
import yaml

from auditor.audit import check
from auditor.check.details import allowances_used
from auditor.check.evaluate import Judged, subject_codes
from auditor.check.examples import outcome_words
from auditor.check.tally import judge_tables, places_of, tables_of
from auditor.record import Record, read_jobs
from auditor.report.model import JobReport
from auditor.rules.reading import Rulebook, read_rules
from tests.house.tree import ROOT

BY_HAND = Path(__file__).with_name("ridge_thinning.yaml").read_text(encoding="utf-8")
SITUATIONS: list[dict[str, Any]] = yaml.safe_load(BY_HAND)["situations"]
JUDGED = [s for s in SITUATIONS if s["expect"]]


def name(situation: dict[str, Any]) -> str:
    return f"{situation['load']}: {situation['situation']}"


@pytest.fixture(scope="module")
def record() -> Record:
    return read_jobs([ROOT / "sample_jobs" / "ridge_thinning"])


@pytest.fixture(scope="module")
def rulebook(record: Record) -> Rulebook:
    return read_rules(places_of(record.tables))


@pytest.fixture(scope="module")
def judged(record: Record, rulebook: Rulebook) -> list[Judged]:
    return list(judge_tables(tables_of(record), rulebook))


@pytest.fixture(scope="module")
def outcomes(judged: list[Judged], rulebook: Rulebook) -> dict[tuple[str, str], str]:
    """(load, rule) -> outcome of the load's worst row."""
    found = {}
    for part in judged:
        worst = subject_codes(part)
        for rule in part.rules:
            for load, code in zip(worst["subject"], worst[rule.key], strict=True):
                found[load, rule.key] = outcome_words(code, rule.rule)
    return found


@pytest.fixture(scope="module")
def job(record: Record, rulebook: Rulebook) -> JobReport:
    (found,) = check(record, rulebook).jobs
    return found


def items(job: JobReport) -> dict[tuple[str, str], tuple[bool | None, bool]]:
    """(load, rule) -> whether its worst row is tolerated, and whether its limit is confirmed."""
    return {(i.subject, f.rule): (i.tolerated, f.confirmed) for f in job.findings for i in f.items}


@pytest.mark.parametrize("situation", JUDGED, ids=name)
def test_each_situation_comes_out_as_worked_by_hand(
    situation: dict[str, Any], outcomes: dict[tuple[str, str], str]
) -> None:
    load = situation["load"]
    assert {rule: outcomes[load, rule] for rule in situation["expect"]} == situation["expect"], situation["by_hand"]


@pytest.mark.parametrize("situation", [s for s in JUDGED if "on_road" in s], ids=name)
def test_a_load_is_judged_road_by_road(situation: dict[str, Any], judged: list[Judged]) -> None:
    found: dict[str, dict[str, str]] = {}
    for part in judged:
        for index, rule in enumerate(part.rules):
            rows = part.frame.with_columns(code=part.codes[str(index)]).filter(pl.col("load") == situation["load"])
            for road, code in rows.select("road_name", "code").iter_rows() if "road_name" in rows.columns else ():
                found.setdefault(road, {})[rule.key] = outcome_words(code, rule.rule)
    for road, expected in situation["on_road"].items():
        assert {rule: found[road][rule] for rule in expected} == expected


@pytest.mark.parametrize("situation", [s for s in JUDGED if "nonconformity" in s["expect"].values()], ids=name)
def test_the_report_lists_each_nonconformity_with_its_marks(situation: dict[str, Any], job: JobReport) -> None:
    found = items(job)
    for rule, outcome in situation["expect"].items():
        key = (situation["load"], rule)
        assert (key in found) is (outcome == "nonconformity"), rule
        if rule in situation.get("tolerated", {}):
            assert found[key][0] is situation["tolerated"][rule]
        if outcome == "nonconformity":
            assert found[key][1] is not situation.get("unconfirmed", False)


@pytest.mark.parametrize("situation", [s for s in JUDGED if "by" in s], ids=name)
def test_each_load_inside_by_an_allowance_conforms_by_the_one_said(
    situation: dict[str, Any], judged: list[Judged]
) -> None:
    used = {
        (load, rule, arm)
        for part in judged
        for frame in allowances_used(part)
        for load, rule, arm in frame.select("subject", "rule", "arm").iter_rows()
    }
    for rule, arm in situation["by"].items():
        assert (situation["load"], rule, arm) in used


def test_no_load_has_a_nonconformity_that_is_not_worked_by_hand(job: JobReport) -> None:
    expected = {
        (s["load"], rule) for s in JUDGED for rule, outcome in s["expect"].items() if outcome == "nonconformity"
    }
    found = {(i.subject, f.rule) for f in job.findings if f.kind == "nonconformity" for i in f.items}
    assert found == expected


def test_what_no_rule_judges_is_named_with_the_reason() -> None:
    assert all(s["no_rule"] for s in SITUATIONS if not s["expect"])
    assert len(JUDGED) > 0.8 * len(SITUATIONS)


def test_the_conclusion_counts_what_the_situations_say(job: JobReport) -> None:
    confirmed = {
        s["load"] for s in JUDGED if "nonconformity" in s["expect"].values() and not s.get("unconfirmed", False)
    }
    only_tolerated = {s["load"] for s in JUDGED if s.get("tolerated")} - {
        s["load"]
        for s in JUDGED
        for rule, outcome in s["expect"].items()
        if outcome == "nonconformity" and not s.get("tolerated", {}).get(rule, False)
    }
    c = job.conclusion
    assert (c.count_of("load").count, c.count_of("load").with_nonconformity, c.count_of("load").only_tolerated) == (
        148,
        len(confirmed),
        len(only_tolerated),
    )
    assert only_tolerated == {"S26-0255"}
    assert (c.status, c.unconfirmed_count) == ("nonconformities", 1)
