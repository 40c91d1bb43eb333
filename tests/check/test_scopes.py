"""What of a job is judged: its loads where their roads lie, its site in its own state."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import polars as pl
import pytest

from auditor.check.scopes import JobScope, job_scope, topics_needed, used_files
from auditor.record import record_from_rows
from auditor.rules.reading import Rulebook, read_rules
from auditor.vocabulary import TOPIC_GROUPS

Rows = Mapping[str, Sequence[Mapping[str, Any]]]
HAUL: Rows = {
    "trucks": [{"truck": "T1", "kind": "tractor"}],
    "destinations": [{"destination": "MILL"}],
    "legs": [
        {"destination": "MILL", "leg": 1, "state": "US-GA", "road_class": "state_route"},
        {"destination": "MILL", "leg": 2, "state": "US-SC"},
    ],
    "loads": [
        {"ticket_number": str(day), "load_date": f"2026-03-0{day}", "truck": "T1", "destination": "MILL"}
        for day in (4, 2, 3)
    ],
}
SITE: Rows = {
    "streams": [{"stream": "S"}],
    "banks": [{"bank": "L", "stream": "S"}, {"bank": "R", "stream": "S"}],
    "stations": [{"bank": "L", "station": n} for n in (1, 2, 3)],
}
NO_LOADS = "The record holds no loads; the rules on hauling were not applied."
NO_SITE = "The record holds nothing of the harvest site; the rules on water and ground were not applied."


@pytest.fixture(scope="module")
def rulebook() -> Rulebook:
    return read_rules(["US-GA", "US-SC", "US-NC"])


def scope(rulebook: Rulebook, state: str, *parts: Rows) -> JobScope:
    rows = {t: own for part in parts for t, own in part.items()}
    record = record_from_rows({"job": [{"state": state}], **rows})
    return job_scope(state, record.tables, rulebook)


def held_against(found: JobScope) -> set[tuple[str, str]]:
    """(place, haul or ground) of the rule files."""
    return {(f.place, g) for f in found.files for g, topics in TOPIC_GROUPS.items() if f.topic in topics}


def test_a_haul_alone(rulebook: Rulebook) -> None:
    found = scope(rulebook, "US-GA", HAUL)
    # Judged where its roads lie; a job without a site is not held against site rules.
    assert held_against(found) == {("US", "haul"), ("US-GA", "haul"), ("US-SC", "haul")}
    assert dict(found.counts) == {"loads": 3}
    assert (found.load_count, found.first_load, found.last_load) == (3, date(2026, 3, 2), date(2026, 3, 4))
    assert found.left_out == (NO_SITE,)


def test_a_site_alone(rulebook: Rulebook) -> None:
    found = scope(rulebook, "US-SC", SITE)
    assert held_against(found) == {("US", "ground"), ("US-SC", "ground")}
    # Banks are judged by the rules on their stations; stations are parts of banks and not counted by themselves.
    assert dict(found.counts)["banks"] == 2
    assert not {"stations", "loads"} & set(found.counts)
    assert (found.load_count, found.first_load, found.last_load) == (0, None, None)
    assert found.left_out == (NO_LOADS,)


def test_a_site_is_counted_as_a_job_where_some_rule_examines_the_job(rulebook: Rulebook) -> None:
    # Georgia asks for notices of each job; nothing of South Carolina or of the federal files but fuel does.
    assert dict(scope(rulebook, "US-GA", SITE).counts)["job"] == 1
    without = Rulebook(tuple(f for f in rulebook.files if f.topic != "fuel"))
    assert "job" not in scope(without, "US-SC", SITE).counts
    assert "job" not in scope(rulebook, "US-GA", HAUL).counts


def test_haul_and_site_together(rulebook: Rulebook) -> None:
    found = scope(rulebook, "US-NC", HAUL, SITE)
    # The site lies in North Carolina, the roads in Georgia and South Carolina: each is judged where it lies.
    assert held_against(found) == {
        ("US", "haul"), ("US", "ground"), ("US-GA", "haul"), ("US-SC", "haul"), ("US-NC", "ground"),
    }  # fmt: skip
    assert {t: found.counts[t] for t in ("loads", "banks")} == {"loads": 3, "banks": 2}
    assert next(iter(found.counts)) == "loads"
    assert found.left_out == ()


def test_a_record_of_nothing_is_a_haul_without_loads(rulebook: Rulebook) -> None:
    found = scope(rulebook, "US-GA")
    assert held_against(found) == {("US", "haul")}
    assert (dict(found.counts), found.load_count) == ({}, 0)
    assert found.left_out == (NO_SITE,)


def test_a_state_without_site_rules_is_told(rulebook: Rulebook) -> None:
    found = scope(rulebook, "US-OH", SITE)
    assert held_against(found) == {("US", "ground")}
    assert found.left_out == (
        "No rule file on harvest sites for US-OH: the site was judged by federal rules only.",
        NO_LOADS,
    )


def test_a_road_in_a_state_without_rules_is_told(rulebook: Rulebook) -> None:
    far = {**HAUL, "legs": [{"destination": "MILL", "leg": 1, "state": "US-OH"}]}
    found = scope(rulebook, "US-GA", far)
    assert held_against(found) == {("US", "haul")}
    assert found.left_out == ("No rule file for US-OH: its roads were judged by federal rules only.", NO_SITE)


def test_site_rules_alone_do_not_cover_roads(rulebook: Rulebook) -> None:
    """A state may have rules on sites and none on hauling."""
    ground = TOPIC_GROUPS["ground"]
    book = Rulebook(tuple(f for f in rulebook.files if f.place != "US-SC" or f.topic in ground))
    found = scope(book, "US-SC", HAUL, SITE)
    assert held_against(found) == {("US", "haul"), ("US", "ground"), ("US-GA", "haul"), ("US-SC", "ground")}
    assert found.left_out == ("No rule file for US-SC: its roads were judged by federal rules only.",)


@pytest.mark.parametrize(
    ("parts", "groups"),
    [((HAUL,), ["haul"]), ((SITE,), ["ground"]), ((HAUL, SITE), ["haul", "ground"]), ((), ["haul"])],
    ids=["haul", "site", "both", "neither"],
)
def test_the_topics_and_files_of_a_whole_record(rulebook: Rulebook, parts: tuple[Rows, ...], groups: list[str]) -> None:
    rows = {t: own for part in parts for t, own in part.items()}
    record = record_from_rows({"job": [{"state": "US-SC"}], **rows})
    topics = [topic for group in groups for topic in TOPIC_GROUPS[group]]
    assert topics_needed(record) == topics
    used = used_files(record, rulebook, ["US", "US-SC"])
    assert used == [f for f in rulebook.files if f.place in ("US", "US-SC") and f.topic in topics]
    assert {f.place for f in used} == {"US", "US-SC"}


def test_tables_without_rows_may_be_left_out(rulebook: Rulebook) -> None:
    assert job_scope("US-SC", {"banks": pl.DataFrame({"job": ["J"]})}, rulebook).counts["banks"] == 1
    assert job_scope("US-SC", {}, rulebook).load_count == 0
