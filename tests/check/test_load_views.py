"""The views of loads, stacks and tiedowns over small invented records."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import polars as pl
import pytest

from auditor.check.views import build_view
from auditor.vocabulary import TABLES, VIEWS

KINDS: dict[str, Any] = {
    "text": pl.String, "classes": pl.List(pl.String), "number": pl.Float64, "whole": pl.Int64, "yes_no": pl.Boolean,
    "date": pl.Date, "time": pl.Time,
}  # fmt: skip

# The figures of law in these tests; chain from the table of 49 CFR 393.108, factors from 393.106(d).
LAW: dict[str, Any] = {
    "working_load_limits": {
        "tables": [{"material": "chain", "grade": "70", "sizes": {"0.3125": 4700, "0.375": 6600}}],
        "unmarked": {},
        "routing_factors": {"over_to_other_side": 1.0, "same_side": 0.5, "vehicle_to_article": 0.5},
    },
    "log_length": {"shortwood_up_to_ft": 16},
    "ticket": {"contents": ["ticket_number", "species", ["gross_tare_net", "volume"]]},
    "tiedown_positions": {"targets": [0.3333, 0.6667]},
}
DAY = dt.date(2024, 3, 15)


def record(**rows: list[dict[str, Any]]) -> dict[str, pl.DataFrame]:
    """The tables of a record; every table is there, with all its fields."""
    tables = {}
    for name, table in TABLES.items():
        schema: dict[str, Any] = {"job": pl.String}
        for f in table.fields:
            schema[f.name] = pl.Enum(f.classes) if f.kind == "class" else KINDS[f.kind]
        schema |= {"_file": pl.String, "_sheet": pl.String, "_row": pl.UInt32}
        held = [
            {"job": "J1", "_file": f"{name}.csv", "_row": n} | row for n, row in enumerate(rows.get(name, []), start=2)
        ]
        tables[name] = pl.DataFrame(held, schema=schema)
    return tables


def load(number: str = "101", **values: Any) -> dict[str, Any]:
    base = {
        "load": number, "ticket_number": number, "truck": "T1", "destination": "Mill", "load_date": DAY,
        "gross_weight_lb": 84_000, "tare_weight_lb": 30_000, "net_weight_lb": 54_000,
    }  # fmt: skip
    return base | values


def stack(number: int = 1, **values: Any) -> dict[str, Any]:
    base = {"load": "101", "stack": number, "shortest_log_ft": 30.0, "longest_log_ft": 40.0}
    return base | values


def chain(number: int = 1, **values: Any) -> dict[str, Any]:
    base = {
        "load": "101", "tiedown": number, "count": 1, "kind": "tiedown", "material": "chain", "size_in": 0.375,
        "grade": "70", "routing": "over_to_other_side", "defective": False,
    }  # fmt: skip
    return base | values


def rows_of(view: str, tables: Mapping[str, pl.DataFrame], law: Any = LAW, place: str = "US") -> list[dict[str, Any]]:
    frame: pl.DataFrame = build_view(view, tables, place, law, ()).drop("subject")
    return frame.to_dicts()


def only(view: str, **rows: Any) -> dict[str, Any]:
    found = rows_of(view, record(**rows))
    assert len(found) == 1
    return found[0]


@pytest.mark.parametrize("view", ["loads", "stacks", "tiedowns"])
@pytest.mark.parametrize("law", [LAW, {}], ids=["with law", "without"])
@pytest.mark.parametrize("filled", [True, False])
def test_every_column_of_the_vocabulary(view: str, law: Any, filled: bool) -> None:
    tables = record(loads=[load()], stacks=[stack()], tiedowns=[chain()]) if filled else record()
    found: pl.DataFrame = build_view(view, tables, "US", law, ()).drop("subject")
    names = [n for f in VIEWS[view].fields for n in ([f"{f.name}__lo", f"{f.name}__hi"] if f.interval else [f.name])]
    assert found.columns == ["job", *names, "_file", "_sheet", "_row", "_place"]
    for f in VIEWS[view].fields:
        types = {found.schema[n] for n in ([f"{f.name}__lo", f"{f.name}__hi"] if f.interval else [f.name])}
        assert types == {pl.Enum(f.classes) if f.kind == "class" else KINDS[f.kind]}, f.name
    assert len(found) == int(filled)


class TestLoads:
    def test_provenance_is_that_of_the_load(self) -> None:
        found = only("loads", job=[{}], loads=[load()], tickets=[{"load": "101"}])
        assert (found["_file"], found["_row"]) == ("loads.csv", 2)

    def test_trip_and_looks(self) -> None:
        legs = [{"destination": "Mill", "leg": n, "state": "US-GA", "miles": m} for n, m in ((1, 4.0), (2, 56.0))]
        looks = [{"load": "101", "check": n, "miles_from_start": m} for n, m in ((1, 0.0), (2, 45.0))]
        found = only("loads", loads=[load()], legs=legs, load_checks=looks)
        assert found["trip_miles"] == 60  # 4 + 56
        assert (found["check_count"], found["first_check_miles"], found["check_gap_miles"]) == (2, 45, 45)
        assert found["checked_before_driving"] is True

    def test_nothing_recorded_is_no_evidence(self) -> None:
        found = only("loads", loads=[load()])
        names = [
            "trip_miles", "check_count", "checked_before_driving", "ticket_given", "ticket_missing_count", "flag_count",
            "missing_contents",
            "sold_by_load", "truck_kind", "axle_sum_gap_lb", "implied_speed_mph", "days_outside_operation",
        ]  # fmt: skip
        assert {n: found[n] for n in names} == dict.fromkeys(names)

    def test_the_ticket_handed_out(self) -> None:
        found = only(
            "loads",
            job=[{"harvest_completed_on": dt.date(2024, 3, 25), "sold_by_load": True}],
            loads=[load()],
            tickets=[{"load": "101", "given_on": dt.date(2024, 4, 4), "given_to": "seller", "contents": ["species"]}],
        )
        assert found["ticket_given"] is True
        assert found["ticket_days_after_removal"] == 20  # 15 March to 4 April
        assert found["ticket_days_after_harvest"] == 10  # 25 March to 4 April
        assert found["ticket_missing_count"] == 2
        assert found["missing_contents"] == "ticket number; gross, tare and net weight or volume"
        assert found["sold_by_load"] is True

    @pytest.mark.parametrize(
        ("to", "expected"), [("seller", True), ("other", False), ("landowner", None), (None, None)]
    )
    def test_to_whom_the_ticket_went(self, to: str | None, expected: bool | None) -> None:
        found = only("loads", loads=[load()], tickets=[{"load": "101", "given_to": to}])
        assert found["ticket_given"] is expected

    def test_without_a_law_on_contents_nothing_is_missing_or_present(self) -> None:
        tables = record(loads=[load()], tickets=[{"load": "101", "contents": ["species"]}])
        (found,) = rows_of("loads", tables, law={})
        assert (found["ticket_missing_count"], found["missing_contents"]) == (None, None)

    def test_the_scale_ticket_against_itself(self) -> None:
        found = only(
            "loads",
            job=[{"operation_start": dt.date(2024, 3, 1), "operation_end": dt.date(2024, 3, 13)}],
            loads=[load(net_weight_lb=53_900)],
        )
        assert found["ticket_gap_lb"] == 100  # 84,000 - 30,000 - 53,900
        assert found["days_outside_operation"] == 2  # 13 to 15 March
        assert found["same_ticket_count"] == 1

    def test_the_load_before_may_have_gone_to_another_state(self) -> None:
        legs = [
            {"destination": "Mill", "leg": 1, "state": "US-GA", "miles": 30.0},
            {"destination": "Far", "leg": 1, "state": "US-SC", "miles": 30.0},
        ]
        two = [
            load("101", destination="Far", scaled_at=dt.time(8)),
            load("102", scaled_at=dt.time(10)),
        ]
        found = rows_of("loads", record(loads=two, legs=legs), place="US-GA")
        assert [r["load"] for r in found] == ["102"]
        assert found[0]["implied_speed_mph"] == 30  # 30 miles back and 30 out in 2 h

    def test_own_markings_before_usual_ones(self) -> None:
        marks = [{"truck": "T1", "flag_count": 1}, {"load": "101", "flag_count": 2}]
        found = rows_of("loads", record(loads=[load(), load("102"), load("103", truck="T2")], markings=marks))
        assert [r["flag_count"] for r in found] == [2, 1, None]


class TestStacks:
    def test_a_whole_stack(self) -> None:
        found = only(
            "stacks",
            loads=[load()],
            stacks=[stack()],
            tiedowns=[
                chain(count=2),
                chain(2, size_in=0.3125, routing="same_side"),
                chain(3, kind="wrapper", position_ft=4.0),
                chain(4, kind="wrapper", position_ft=16.0),
            ],
        )
        assert (found["stack_count"], found["stack_basis"], found["tiedown_basis"]) == (1, "this_load", "this_load")
        assert (found["tiedown_count"], found["wrapper_count"]) == (3, 2)
        # 2 x 6,600 + 4,700 / 2
        assert (found["aggregate_wll_lb__lo"], found["aggregate_wll_lb__hi"]) == (15_550, 15_550)
        assert found["weakest_tiedown_wll_lb"] == 4700
        assert found["wrapper_spacing_ft"] == 12  # 16 - 4
        assert found["log_length_class"] == "longwood"
        assert (found["stack_weight_lb__lo"], found["stack_weight_lb__hi"]) == (54_000, 54_000)

    def test_a_load_without_stacks_keeps_a_row_of_blanks(self) -> None:
        found = only("stacks", loads=[load()])
        blank = ["stack", "stack_basis", "stack_count", "tiedown_count", "tiedown_basis", "log_length_class"]
        assert {n: found[n] for n in blank} == dict.fromkeys(blank)
        assert (found["aggregate_wll_lb__lo"], found["aggregate_wll_lb__hi"]) == (None, None)
        assert (found["stack_weight_lb__lo"], found["stack_weight_lb__hi"]) == (0, 54_000)
        assert found["ticket_number"] == "101"

    def test_tiedowns_of_a_load_without_stacks_prove_no_count(self) -> None:
        found = only("stacks", loads=[load()], tiedowns=[chain(count=2, stack=1), chain(2)])
        assert found["tiedown_count"] is None
        # all three chains may hold one stack, or none of them: 3 x 6,600
        assert (found["aggregate_wll_lb__lo"], found["aggregate_wll_lb__hi"]) == (0, 19_800)

    def test_stacks_without_tiedown_lines_have_no_count(self) -> None:
        found = only("stacks", loads=[load()], stacks=[stack()])
        assert (found["tiedown_count"], found["wrapper_count"], found["aggregate_wll_lb__hi"]) == (None, None, None)

    def test_a_stack_that_no_line_names_has_no_count(self) -> None:
        tables = record(loads=[load()], stacks=[stack(1), stack(2)], tiedowns=[chain(stack=1, count=2)])
        assert [r["tiedown_count"] for r in rows_of("stacks", tables)] == [2, None]

    def test_a_line_without_a_stack_among_several_is_certain_for_none(self) -> None:
        lines = [chain(stack=1, count=2), chain(stack=2, tiedown=2), chain(3)]
        found = rows_of("stacks", record(loads=[load()], stacks=[stack(1), stack(2)], tiedowns=lines))
        ends = [(r["aggregate_wll_lb__lo"], r["aggregate_wll_lb__hi"]) for r in found]
        assert ends == [(13_200, 19_800), (6600, 13_200)]  # 2 or 3, and 1 or 2, chains of 6,600
        assert [r["tiedown_count"] for r in found] == [None, None]
        assert [r["wrapper_count"] for r in found] == [0, 0]
        assert [(r["stack_weight_lb__lo"], r["stack_weight_lb__hi"]) for r in found] == [(0, 54_000)] * 2

    def test_usual_rows_hold_only_where_a_load_has_none_of_its_own(self) -> None:
        tables = record(
            loads=[load(), load("102"), load("103", truck="T2")],
            stacks=[stack(1, load=None, truck="T1"), stack(2, load=None, truck="T1"), stack(1)],
            tiedowns=[chain(stack=1, load=None, truck="T1", count=4), chain(stack=1, load="102", count=2)],
        )
        found = rows_of("stacks", tables)
        shown = [(r["load"], r["stack"], r["stack_basis"], r["tiedown_basis"], r["tiedown_count"]) for r in found]
        assert shown == [
            ("101", 1, "this_load", "usual", 4),
            ("102", 1, "usual", "this_load", 2),
            ("102", 2, "usual", "this_load", None),
            ("103", None, None, None, None),
        ]

    def test_loads_that_share_usual_rows_keep_their_own_weights(self) -> None:
        tables = record(
            loads=[load(), load("102", net_weight_lb=40_000), load("201", job="J2", net_weight_lb=30_000)],
            stacks=[stack(load=None, truck="T1"), stack(load=None, truck="T1", job="J2", longest_log_ft=50.0)],
            tiedowns=[chain(load=None, truck="T1", count=2)],
        )
        found = rows_of("stacks", tables)
        assert [(r["load"], r["stack_weight_lb__lo"]) for r in found] == [
            ("101", 54_000),
            ("102", 40_000),
            ("201", 30_000),
        ]
        assert [r["longest_log_ft"] for r in found] == [40, 40, 50]
        assert [r["aggregate_wll_lb__lo"] for r in found] == [13_200, 13_200, None]  # 2 x 6,600; job J2 lists none
        assert [r["_row"] for r in found] == [2, 3, 4]

    def test_own_rows_of_one_load_do_not_pass_to_the_next(self) -> None:
        usual = {"stacks": [stack(load=None, truck="T1")], "tiedowns": [chain(load=None, truck="T1", count=2)]}
        two = [load(), load("102")]
        found = rows_of("stacks", record(loads=two, stacks=usual["stacks"], tiedowns=[*usual["tiedowns"], chain()]))
        assert [(r["tiedown_count"], r["tiedown_basis"]) for r in found] == [(1, "this_load"), (2, "usual")]
        own = stack(longest_log_ft=35.0)
        found = rows_of("stacks", record(loads=two, stacks=[*usual["stacks"], own], tiedowns=usual["tiedowns"]))
        assert [(r["longest_log_ft"], r["stack_basis"]) for r in found] == [(35, "this_load"), (40, "usual")]

    def test_the_usual_rows_of_a_truck_of_another_job_do_not_hold(self) -> None:
        tables = record(loads=[load()], stacks=[stack(load=None, truck="T1", job="J2")])
        assert rows_of("stacks", tables)[0]["stack"] is None

    def test_lengths_are_those_of_the_stack(self) -> None:
        found = only(
            "stacks", loads=[load(longest_log_ft=60.0)], stacks=[stack(shortest_log_ft=8.0, longest_log_ft=16.0)]
        )
        assert (found["longest_log_ft"], found["log_length_class"]) == (16, "shortwood")

    def test_positions_against_one_and_two_thirds(self) -> None:
        lines = [chain(position_ft=13.332), chain(2, position_ft=30.668)]
        found = only("stacks", loads=[load()], stacks=[stack()], tiedowns=lines)
        # 13.332 / 40 = 0.3333; 30.668 / 40 = 0.7667, a tenth from 0.6667
        assert found["tiedown_position_gap_share"] == pytest.approx(0.1)

    def test_blank_facts_leave_the_sum_open(self) -> None:
        found = only("stacks", loads=[load()], stacks=[stack()], tiedowns=[chain(), chain(2, size_in=None)])
        assert (found["aggregate_wll_lb__lo"], found["aggregate_wll_lb__hi"]) == (6600, None)
        assert found["weakest_tiedown_wll_lb"] is None
        assert found["tiedown_count"] == 2


class TestTiedowns:
    def test_a_line_with_its_limit(self) -> None:
        found = only("tiedowns", loads=[load()], tiedowns=[chain(tensioner_wll_lb=5400)])
        assert (found["wll_lb"], found["wll_basis"], found["tiedown_basis"]) == (5400, "table", "this_load")
        assert (found["_file"], found["truck"]) == ("loads.csv", "T1")

    def test_no_lines_no_rows(self) -> None:
        assert rows_of("tiedowns", record(loads=[load()], stacks=[stack()])) == []

    def test_usual_lines_are_repeated_for_each_load(self) -> None:
        lines = [chain(load=None, truck="T1"), chain(2, load=None, truck="T1"), chain(load="102", marked_wll_lb=7000)]
        found = rows_of("tiedowns", record(loads=[load(), load("102")], tiedowns=lines))
        assert [(r["load"], r["tiedown"], r["tiedown_basis"], r["wll_lb"]) for r in found] == [
            ("101", 1, "usual", 6600),
            ("101", 2, "usual", 6600),
            ("102", 1, "this_load", 7000),
        ]
