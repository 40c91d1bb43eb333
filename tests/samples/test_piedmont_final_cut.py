"""The situations of the sample job come out as the sums by hand say."""

from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest
import yaml

from auditor.check.tally import judge_tables
from auditor.record import read_jobs
from auditor.rules.compiled import Code
from auditor.rules.reading import read_rules

ROOT = Path(__file__).parents[2]
JOB = ROOT / "sample_jobs" / "piedmont_final_cut"
SITUATIONS = yaml.safe_load(Path(__file__).with_name("piedmont_final_cut.yaml").read_text(encoding="utf-8"))[
    "situations"
]
TESTED = [s for s in SITUATIONS if "rule" in s]


@pytest.fixture(scope="module")
def record():
    return read_jobs([JOB])


@pytest.fixture(scope="module")
def outcomes(record) -> pl.DataFrame:
    """One row per rule and row of its view: load, leg (blank where the view has none), rule, code."""
    return pl.concat(_outcomes(record))


def _outcomes(record) -> Iterator[pl.DataFrame]:
    for judged in judge_tables(record.tables, read_rules()):
        leg = pl.col("leg").cast(pl.Int64) if "leg" in judged.frame.columns else pl.lit(None, pl.Int64).alias("leg")
        rows = judged.frame.select(pl.col("subject").alias("load"), leg)
        for index, rule in enumerate(judged.rules):
            yield rows.with_columns(pl.lit(rule.key).alias("rule"), judged.codes[str(index)].alias("code"))


@pytest.mark.parametrize("s", TESTED, ids=lambda s: f"{s['load']}: {s['situation']}")
def test_situation(s, outcomes):
    rows = outcomes.filter(pl.col("load") == s["load"], pl.col("rule") == s["rule"])
    if "leg" in s:
        rows = rows.filter(pl.col("leg") == s["leg"])
    worst = rows["code"].max()
    # a rule that is not in force on the day has no rows
    found = "not applicable" if worst is None else Code(worst).name.lower().replace("_", " ")
    assert found == s["expect"]


def test_every_rule_named_is_one():
    known = set(read_rules().keys())
    assert [s["rule"] for s in TESTED if s["rule"] not in known] == []


@pytest.mark.parametrize("s", SITUATIONS, ids=lambda s: f"{s['load']}: {s['situation']}")
def test_the_load_is_the_one_meant(s, record):
    rows = record.tables["loads"].filter(pl.col("load") == s["load"])
    assert rows.select("load_date", "truck", "destination").row(0) == (s["load_date"], s["truck"], s["destination"])


def test_the_flag_law_changes_inside_the_job(record):
    days = record.tables["loads"]["load_date"]
    # 2022, c. 50 began on 1 July 2023; 90 loads, of them 49 before that day, counted in the loads table.
    before = days.dt.month() < 7
    assert (len(days), int(before.sum())) == (90, 49)
