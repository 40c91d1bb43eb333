"""The close-out by tape and pace against its situations, each worked by hand in `blackgum_closeout.yaml`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import polars as pl
import pytest
import yaml

from auditor.audit import check
from auditor.check.evaluate import Judged
from auditor.check.tally import judge_tables, places_of, tables_of
from auditor.record import Record, read_jobs
from auditor.report.model import JobReport
from auditor.rules.compiled import Code
from auditor.rules.reading import Rulebook, read_rules
from auditor.vocabulary import VIEWS
from tests.house.tree import ROOT

BY_HAND = Path(__file__).with_name("blackgum_closeout.yaml").read_text(encoding="utf-8")
SITUATIONS: list[dict[str, Any]] = yaml.safe_load(BY_HAND)["situations"]
FAILING = [s for s in SITUATIONS if s["expect"] == "nonconformity"]
OPEN = (Code.NONCONFORMITY, Code.NOT_EVIDENCED, Code.INCONCLUSIVE, Code.NOT_VERIFIABLE)
Row = tuple[str, tuple[tuple[str, Any], ...]]


def name(situation: dict[str, Any]) -> str:
    where = " ".join(str(v) for v in situation["at"].values())
    return f"{situation['rule']} {where}: {situation['situation']}"


def key(situation: dict[str, Any]) -> Row:
    return situation["rule"], tuple(situation["at"].items())


def words(code: int) -> str:
    return Code(code).name.lower().replace("_", " ")


@pytest.fixture(scope="module")
def record() -> Record:
    return read_jobs([ROOT / "sample_jobs" / "blackgum_closeout"])


@pytest.fixture(scope="module")
def rulebook(record: Record) -> Rulebook:
    return read_rules(places_of(record.tables))


@pytest.fixture(scope="module")
def judged(record: Record, rulebook: Rulebook) -> list[Judged]:
    views = [n for n, view in VIEWS.items() if view.subject != "loads"]
    return list(judge_tables(tables_of(record), rulebook, views))


@pytest.fixture(scope="module")
def job(record: Record, rulebook: Rulebook) -> JobReport:
    (found,) = check(record, rulebook).jobs
    return found


@pytest.fixture(scope="module")
def outcomes(judged: list[Judged]) -> dict[Row, str]:
    """Every row of every rule by the columns that the situations name it by."""
    columns = {s["rule"]: list(s["at"]) for s in SITUATIONS}
    found: dict[Row, str] = {}
    for part in judged:
        for index, rule in enumerate(part.rules):
            items = columns.get(rule.key, [c for c in VIEWS[part.view].item if c in part.frame.columns])
            codes = part.codes[str(index)].to_list()
            for row, code in zip(part.frame.select(items).iter_rows(), codes, strict=True):
                place = rule.key, tuple(zip(items, row, strict=True))
                assert place not in found
                found[place] = words(code)
    return found


@pytest.mark.parametrize("situation", SITUATIONS, ids=name)
def test_each_situation_comes_out_as_worked_by_hand(situation: dict[str, Any], outcomes: dict[Row, str]) -> None:
    assert outcomes[key(situation)] == situation["expect"], situation["by_hand"]


def test_no_row_fails_or_stays_open_that_is_not_worked_by_hand(outcomes: dict[Row, str]) -> None:
    doubtful = {words(code) for code in OPEN}
    worked = {key(s): s["expect"] for s in SITUATIONS}
    assert len(worked) == len(SITUATIONS)
    assert {k: v for k, v in outcomes.items() if v in doubtful} == {k: v for k, v in worked.items() if v in doubtful}


@pytest.mark.parametrize("situation", FAILING, ids=name)
def test_the_report_says_how_far_off_and_how_sure(situation: dict[str, Any], job: JobReport) -> None:
    finding = next(f for f in job.findings if f.rule == situation["rule"])
    assert finding.kind == ("departure from practice" if situation.get("departure") else "nonconformity")
    assert finding.confirmed is not situation.get("unconfirmed", False)
    subject = next(iter(situation["at"].values()))
    items = [i for i in finding.items if i.subject == subject]
    assert items
    if "margin" in situation:
        # A finding lists the worst row of each subject first; the others are named or counted with it.
        hand = max(
            s["margin"] for s in FAILING if s["rule"] == finding.rule and next(iter(s["at"].values())) == subject
        )
        assert max(i.margin for i in items if i.margin is not None) == pytest.approx(hand, abs=1e-4)


def test_every_subject_of_the_record_is_worked(record: Record) -> None:
    """Each bank with a zone, each crossing, trail, water bar, deck, fuel site, spill and cutting unit."""
    named: dict[str, set[Any]] = {}
    for situation in SITUATIONS:
        for column, value in situation["at"].items():
            named.setdefault(column, set()).add(value)
    tables = record.tables
    for table, column in (("crossings", "crossing"), ("segments", "segment"), ("decks", "deck"), ("spills", "spill"),
                          ("stands", "stand"), ("tanks", "site")):  # fmt: skip
        assert set(tables[table][column]) <= named[column], table
    # No zone was read for the ephemeral channel.
    assert set(tables["stations"]["bank"]) <= named["bank"]
    assert set(tables["banks"]["bank"]) - named["bank"] == {"DG-left"}


def test_the_conclusion_counts_what_the_situations_say(job: JobReport) -> None:
    counted = [s for s in FAILING if not s.get("unconfirmed") and not s.get("departure")]
    c = job.conclusion
    for word, column in (("bank", "bank"), ("crossing", "crossing"), ("road or trail segment", "segment")):
        failing = {s["at"][column] for s in counted if column in s["at"]}
        assert c.count_of(word).with_nonconformity == len(failing), word
    assert c.count_of("disturbed place").with_nonconformity == 1
    assert c.status == "nonconformities"
    assert c.unconfirmed_count == len({s["rule"] for s in FAILING if s.get("unconfirmed")})
    assert c.departure_count == len({s["rule"] for s in FAILING if s.get("departure")})


def test_the_risks_seen_on_the_ground_are_told(job: JobReport, record: Record) -> None:
    # Three judgements of the walk say that water is or will very likely be harmed.
    seen = record.tables["observations"].filter(pl.col("significant_risk"))["observation"].to_list()
    assert seen == ["O6", "O13", "O16"]
    assert any("O6, O13, O16" in sentence for sentence in job.conclusion.sentences)
