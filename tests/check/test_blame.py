"""Blank facts name only the fields that may be to blame: what is filled in every row concerned is left out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pytest

from auditor.check.blame import Blame
from auditor.check.missing import narrowed_gaps
from auditor.record import Record, record_from_rows
from auditor.rules.reading import Rulebook
from tests.check.haul import a_record, job_report, load, report, rows_of, together
from tests.rules.small import a_file, a_rule

GIVEN = "tickets.given_on, loads.load_date"
LAYOUT = "axles.position_ft, axles.lift_axle"
COUNTED = "axles.axle, axles.lift_axle"
Rows = Sequence[Mapping[str, Any]]


def narrowed(record: Record, fact: str, *subjects: str, table: str = "loads") -> str:
    return Blame(record.tables.__getitem__).narrowed(fact, table, subjects)


def axle(number: int, **fields: Any) -> dict[str, Any]:
    return {"truck": "T1", "trailer": "L1", "axle": number, **fields}


def test_a_field_that_is_filled_in_all_rows_is_not_named() -> None:
    record = a_record([load("A1")], axles=[axle(1, position_ft=0), axle(2, position_ft=12)])
    assert narrowed(record, LAYOUT, "A1") == "axles.lift_axle"
    assert narrowed(record, COUNTED, "A1") == "axles.lift_axle"


def test_a_field_blank_in_one_row_stays() -> None:
    record = a_record([load("A1")], axles=[axle(1, position_ft=0), axle(2)])
    assert narrowed(record, LAYOUT, "A1") == LAYOUT


def test_a_table_without_a_row_for_the_load_has_all_its_fields_blank() -> None:
    assert narrowed(a_record([load("A1")]), COUNTED, "A1") == COUNTED
    # another trailer's axles say nothing of this one
    others = a_record(
        [load("A1")],
        trailers=[{"trailer": "L1"}, {"trailer": "L2"}],
        axles=[axle(1, position_ft=0, lift_axle=False) | {"trailer": "L2"}],
    )
    assert narrowed(others, COUNTED, "A1") == COUNTED


def test_a_lacking_ticket_is_no_lacking_day_of_the_load() -> None:
    tickets = [{"load": "A2", "given_on": "2026-05-06"}, {"load": "A3"}]
    record = a_record([load("A1"), load("A2", load_date=None), load("A3")], tickets=tickets)
    assert narrowed(record, GIVEN, "A1") == "tickets.given_on"
    assert narrowed(record, GIVEN, "A2") == "loads.load_date"
    assert narrowed(record, GIVEN, "A3") == "tickets.given_on"
    assert narrowed(record, GIVEN, "A1", "A2") == GIVEN


def test_rows_of_another_load_do_not_count() -> None:
    record = a_record([load("A1"), load("A2", trailer=None)])
    assert narrowed(record, "trucks.kind, loads.trailer", "A2") == "loads.trailer"


def test_where_the_rows_concerned_are_whole_those_of_the_job_are_looked_at() -> None:
    # the speed of a load hangs on the load before: A2 has its time, A1 has none
    rows = [load("A1"), load("A2", scaled_at="10:00")]
    record = a_record(rows, legs=({"leg": 1, "miles": 40},))
    assert narrowed(record, "loads.scaled_at, legs.miles", "A2") == "loads.scaled_at"


def test_where_nothing_is_blank_all_fields_are_kept() -> None:
    record = a_record([load("A1")], axles=[axle(1, position_ft=0, lift_axle=False)])
    assert narrowed(record, LAYOUT, "A1") == LAYOUT


def test_usual_rows_of_the_truck_stand_for_a_load_without_its_own() -> None:
    fact = "tiedowns.count, tiedowns.kind"
    usual = [{"truck": "T1", "stack": 1, "tiedown": 1, "kind": "tiedown"}]
    own = [{"load": "A2", "stack": 1, "tiedown": 1, "count": 4}]
    record = a_record([load("A1"), load("A2")], tiedowns=[*usual, *own])
    assert narrowed(record, fact, "A1") == "tiedowns.count"
    assert narrowed(record, fact, "A2") == "tiedowns.kind"
    assert narrowed(a_record([load("A1")]), fact, "A1") == fact


def test_a_list_that_is_not_whole_is_to_blame_as_a_blank_one_is() -> None:
    rows = {
        "job": [{"job": "J", "state": "US-SC"}],
        "segments": [
            {"segment": "T1", "kind": "skid_trail", "length_ft": 400, "drains_listed": "yes"},
            {"segment": "T2", "kind": "skid_trail", "length_ft": 400, "drains_listed": "no"},
            {"segment": "T3", "kind": "skid_trail", "drains_listed": "yes"},
        ],
        "drains": [{"segment": f"T{n}", "drain": 1, "kind": "water_bar", "along_ft": 90} for n in (1, 2, 3)],
    }
    fact = "drains.along_ft, segments.length_ft, segments.drains_listed"
    record = record_from_rows(rows, "J")
    assert narrowed(record, fact, "T2", table="segments") == "segments.drains_listed"
    assert narrowed(record, fact, "T3", table="segments") == "segments.length_ft"


@pytest.mark.parametrize(
    ("table", "subject", "fact", "expected"),
    [
        # over the bank to its stream, over the plots of a bank to their trees
        ("tanks", "F1", "streams.field_signs, streams.field_signs_listed", "streams.field_signs_listed"),
        ("banks", "b1", "plots.tree_count, tallies.dbh_in", "tallies.dbh_in"),
        # over the bank that both belong to
        ("disturbances", "D1", "disturbances.along_ft, stations.along_ft", "disturbances.along_ft"),
    ],
)
def test_rows_are_found_by_the_names_that_tables_share(table: str, subject: str, fact: str, expected: str) -> None:
    rows: dict[str, Rows] = {
        "job": [{"job": "J", "state": "US-SC"}],
        "streams": [
            {"stream": "Otter", "field_signs": "defined_channel"},
            {"stream": "Run", "field_signs_listed": True},
        ],
        "banks": [{"bank": "b1", "stream": "Otter"}, {"bank": "b2", "stream": "Run"}],
        "stations": [{"bank": "b1", "station": 1, "along_ft": 0}, {"bank": "b2", "station": 1}],
        "plots": [
            {"plot": "P1", "kind": "fixed", "bank": "b1", "tree_count": 4},
            {"plot": "P2", "kind": "fixed", "bank": "b2"},
        ],
        "tallies": [
            {"plot": "P1", "line": 1, "tree_count": 1},
            {"plot": "P2", "line": 1, "tree_count": 1, "dbh_in": 9},
        ],
        "disturbances": [{"disturbance": "D1", "bank": "b1", "kind": "skid_trail"}],
        "tanks": [{"tank": "F1", "bank": "b1"}],
    }
    assert narrowed(record_from_rows(rows, "J"), fact, subject, table=table) == expected


def test_a_fact_that_falls_together_with_another_counts_each_load_once() -> None:
    rules = [
        a_rule(id="days", examines="loads", must={"ticket_days_after_removal": {"at_most": 20}}),
        a_rule(id="harvest", examines="loads", must={"ticket_days_after_harvest": {"at_most": 20}}),
    ]
    rows = rows_of([load("A1"), load("A2")], ({"leg": 1},), "J")
    rows["job"] = [{"job": "J", "state": "US-GA", "harvest_completed_on": "2026-05-20"}]
    (fact,) = job_report(record_from_rows(rows), a_file(rules)).missing
    assert (fact.fact, fact.subject_count, len(fact.rules)) == ("tickets.given_on", 2, 2)
    assert (fact.meaning, fact.todo) == ("day the ticket was given", "Fill given_on in the table tickets.")


def test_each_job_is_looked_at_by_its_own_rows() -> None:
    rule = a_rule(must={"tandem_count": {"at_most": 2}})
    one = rows_of([load("A1")], ({"leg": 1},), "A", axles=[axle(n, lift_axle=False) for n in (1, 2, 3)])
    two = rows_of([load("A1")], ({"leg": 1},), "B", axles=[axle(n, position_ft=12 * n) for n in (1, 2, 3)])
    found = [[m.fact for m in job.missing] for job in report(together(one, two), a_file(rule)).jobs]
    assert found == [["axles.position_ft"], ["axles.lift_axle"]]


def test_gaps_keep_their_loads() -> None:
    gaps = [((("us-ga/weight/gross", LAYOUT), ("us-ga/weight/gross", "axles.lift_axle")), ["A1"])]
    record = a_record([load("A1")], axles=[axle(1, position_ft=0)])
    blame = Blame(record.tables.__getitem__)
    assert narrowed_gaps(gaps, Rulebook((a_file(),)), blame) == [((("us-ga/weight/gross", "axles.lift_axle"),), ["A1"])]
