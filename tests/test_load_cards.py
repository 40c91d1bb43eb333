"""Load cards from a job folder: the library call and the command."""

from __future__ import annotations

import json
import shutil
from datetime import date
from pathlib import Path

import pytest

import auditor
from auditor.cli import NOTHING_FOUND, UNUSABLE, main
from tests.house.tree import ROOT

SAMPLE = ROOT / "sample_jobs" / "ridge_thinning"


@pytest.fixture(scope="module")
def cards() -> auditor.LoadCards:
    return auditor.load_cards(SAMPLE)


def test_the_day_is_the_audit_date_of_the_job(cards: auditor.LoadCards) -> None:
    assert cards.on == date(2026, 6, 12)
    assert [(c.truck, c.trailer) for c in cards.cards] == [
        ("T11", "L21"), ("T12", "L22"), ("T14", "L24"), ("T15", "P31"), ("T17", ""),
    ]  # fmt: skip
    assert {r.id for r in cards.rules} >= {"us/weight", "us-ga/weight", "us-sc/weight"}
    assert all(len(r.sha256) == 64 for r in cards.rules)


def test_the_sample_worked_by_hand(cards: auditor.LoadCards) -> None:
    # Cutler: Georgia, 31 miles, 80,000 and ten percent. Marrow ends in a metro county: 80,000 and five percent.
    # Tolliver: South Carolina, five axles. Cutler's back gate: postings unchecked, and a bridge posted for 60,000.
    ways = {w.destination: (w.gross_lb, w.could_gross_lb) for w in cards.cards[0].ways}
    assert ways == {
        "CUTLER": (88_000, None), "MARROW": (84_000, None), "TOLLIVER": (73_280, None), "CUTLER-BACK": (None, 60_000),
    }  # fmt: skip
    # T11: 59,720 lb of payload ask for a sixth, 9,954 lb: two of 5,400. T12: 57,620 / 6 = 9,604: three of 4,700.
    # T14: its crib needs none. T17: 50,470 / 6 = 8,412: three of 3,000, one more than it has.
    needed = {c.truck: {t.needed for t in c.tiedowns} for c in cards.cards}
    assert needed["T11"] == {2} and needed["T12"] == {3} and needed["T14"] == {0} and needed["T17"] == {3}


def test_another_day_and_one_truck() -> None:
    found = auditor.load_cards(SAMPLE, date(2023, 5, 4), "T11")
    assert [c.truck for c in found.cards] == ["T11"]
    # the day before the ten percent variance
    assert next(w.gross_lb for w in found.cards[0].ways if w.destination == "CUTLER") == 84_000


def test_an_unknown_truck_is_refused_with_those_that_hauled() -> None:
    with pytest.raises(auditor.UnusableInput) as caught:
        auditor.load_cards(SAMPLE, truck="T99")
    (problem,) = caught.value.problems
    assert (problem.found, problem.expected) == ("T99", "one of T11, T12, T14, T15, T17")


def test_without_a_day_the_command_asks_for_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "job"
    shutil.copytree(SAMPLE, folder)
    text = (folder / "job.yaml").read_text(encoding="utf-8")
    (folder / "job.yaml").write_text(text.replace("audit_date: 2026-06-12\n", ""), encoding="utf-8")
    assert main(["card", str(folder)]) == UNUSABLE
    assert "audit_date: found blank; expected the day of the card" in capsys.readouterr().err
    assert main(["card", str(folder), "--on", "2026-06-12", "--truck", "T17"]) == NOTHING_FOUND
    assert "LOAD CARD: T17, for 12 June 2026" in capsys.readouterr().out


def test_the_command_writes_and_prints(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "card.json"
    assert main(["card", str(SAMPLE), "--truck", "T11", "--write", str(target), "--format", "json"]) == NOTHING_FOUND
    assert capsys.readouterr().out.encode() == target.read_bytes()
    assert json.loads(target.read_bytes())["schema_name"] == "load card 1"


def test_the_schema_of_the_card_is_published(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", "card"]) == NOTHING_FOUND
    assert json.loads(capsys.readouterr().out)["title"] == "load card 1"
