"""Like loads judged together: the report is the same as when every load is judged by itself."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from auditor import read_jobs
from auditor.audit import check
from auditor.check import alike as alike_module
from auditor.check import tally as tally_module
from auditor.check.alike import alike_loads
from auditor.check.tally import tables_of
from auditor.record import Record, record_from_rows
from auditor.report.json_text import report_json
from auditor.rules.reading import Rulebook, read_rules
from tests.check.haul import load, rows_of
from tests.rules.small import LIMIT, a_file, a_limit, an_allowance

SAMPLES = Path(__file__).resolve().parents[2] / "sample_jobs"
LEGS = (
    {"leg": 1, "road_class": "county_road", "county": "Warren", "pickup_or_delivery": "yes"},
    {"leg": 2, "road_class": "state_route", "posted_bridge_gross_lb": 79_000},
    {"leg": 3, "road_class": "interstate"},
    {"leg": 4, "road_class": "us_route", "state": "US-SC"},
)
AXLES = [{"truck": "T1", "trailer": "L1", "axle": n, "position_ft": p, "lift_axle": "no"}
         for n, p in enumerate((0, 15.6, 20.0, 53.0, 57.2), 1)]  # fmt: skip


@pytest.fixture(autouse=True)
def any_number_of_loads(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sets are made of however few loads, and no load is shown by itself."""
    monkeypatch.setattr(tally_module, "WEIGHTS_SHOWN_UP_TO", -1)
    monkeypatch.setattr(alike_module, "LARGEST_SHARE", 1.0)
    monkeypatch.setattr(alike_module, "FEWEST_LOADS", 0)


@cache
def rulebook() -> Rulebook:
    return read_rules(["US-GA", "US-SC"])


@cache
def permits() -> Rulebook:
    """A gross limit that a permit raises, with a tolerance for loads of some weight only."""
    tolerated = an_allowance(
        "slack", "enforcement tolerance", percent_more=5, than="limit", where={"gross_weight_lb": "[80001, 84500]"}
    )
    permit = an_allowance("permit", "permit", value=84_050, needs={"document": "overweight_permit"})
    return Rulebook((a_file(**{LIMIT: a_limit(allowances=[permit, tolerated])}),))


def said(record: Record, rules: Rulebook, together: bool) -> bytes:
    with pytest.MonkeyPatch.context() as patch:
        if not together:
            patch.setattr(alike_module, "FEWEST_LOADS", 10**9)
        return report_json(check(record, rules))


# The law of Georgia's allowance changed on 5 May 2023; the paper below ends on 3 May.
DAYS = [None, *(dt.date(2023, 5, 2) + dt.timedelta(n) for n in range(5))]
LOADS = st.fixed_dictionaries(
    {
        "truck": st.sampled_from(["T1", "T2"]),
        "trailer": st.sampled_from(["L1", None]),
        "product": st.sampled_from(["sawlogs", "chips", None]),
        "load_date": st.sampled_from(DAYS),
        "gross_weight_lb": st.sampled_from([None, 56_000, 79_500, 80_001, 84_100, 88_500]),
        "tare_weight_lb": st.sampled_from([None, 27_000]),
        "origin_kind": st.sampled_from(["forest", None]),
        "rear_overhang_ft": st.sampled_from([None, 3.5, 4.5]),
        "slippery": st.sampled_from([None, "yes", "no"]),
        "overall_length_ft": st.sampled_from([None, 60.0]),
    }
)
UNDATED = {
    "truck": "T1", "trailer": "L1", "product": "sawlogs", "load_date": None, "gross_weight_lb": 56_000,
    "tare_weight_lb": None, "origin_kind": "forest", "rear_overhang_ft": None, "slippery": None, "overall_length_ft": None,
}  # fmt: skip
"""Every limit of such a load is its own, so that nothing is read from its set."""
OWN = st.lists(st.sampled_from(["axle_weights", "tickets", "load_checks", "markings", "stacks"]), unique=True)


def haul(loads: list[dict[str, Any]], own: list[str], paper: bool) -> Record:
    """Loads of one job, the first with rows of its own in these tables."""
    first = "A0"
    tables: dict[str, list[dict[str, Any]]] = {
        "axle_weights": [{"load": first, "first_axle": 2, "last_axle": 3, "weight_lb": 36_000}],
        "tickets": [{"load": first, "given_to": "seller", "given_on": "2023-05-06"}],
        "load_checks": [{"load": first, "check": 1, "miles_from_start": 20}],
        "markings": [{"load": first, "flag_count": 1}],
        "stacks": [{"load": first, "stack": 1, "orientation": "lengthwise", "bunk_count": 1}],
    }
    named = {name: rows for name, rows in tables.items() if name in own}
    named["stacks"] = [
        *named.get("stacks", []),
        {"truck": "T1", "stack": 1, "orientation": "lengthwise", "bunk_count": 2},
    ]
    if paper:
        permit = {"document": "P1", "kind": "overweight_permit", "valid_from": "2023-01-01"}
        named["documents"] = [permit | {"valid_until": "2023-05-03"}]
    rows = rows_of([load(f"A{i}", **fields) for i, fields in enumerate(loads)], LEGS, "JOB", axles=AXLES, **named)
    trucks = [{"job": "JOB", "truck": t, "kind": "tractor"} for t in ("T1", "T2")]
    return record_from_rows(rows | {"trucks": trucks})


@pytest.mark.parametrize("rules", [rulebook, permits])
@example(loads=[UNDATED], own=[], paper=False)
@given(st.lists(LOADS, min_size=2, max_size=14), OWN, st.booleans())
@settings(max_examples=15, deadline=None)
def test_nothing_changes_when_like_loads_are_judged_together(
    rules: Callable[[], Rulebook], loads: list[dict[str, Any]], own: list[str], paper: bool
) -> None:
    record = haul([*loads, *loads], own, paper)
    assert said(record, rules(), together=True) == said(record, rules(), together=False)


@pytest.mark.parametrize("name", ["ridge_thinning", "piedmont_final_cut"])
def test_nor_on_a_whole_job(name: str) -> None:
    record, rules = read_jobs([SAMPLES / name]), read_rules()
    assert said(record, rules, together=True) == said(record, rules, together=False)


def sets_of(record: Record, days: list[dt.date]) -> list[list[str]]:
    found = alike_loads(tables_of(record), {"axle_runs": ["product", "gross_weight_lb", "slippery"]}, days)["load_legs"]
    assert found.loads.height == len(found.sizes)
    assert sorted(found.own["load"]) == sorted(record.tables["loads"]["load"])
    bounds = zip(found.starts[:-1], found.starts[1:], strict=True)
    return sorted(sorted(found.own["load"][int(a) : int(b)].to_list()) for a, b in bounds)


SAWLOGS = {"truck": "T1", "trailer": "L1", "product": "sawlogs", "gross_weight_lb": 79_000, "slippery": "no"}


def loads_on(*days: int | None, **fields: Any) -> list[dict[str, Any]]:
    return [
        SAWLOGS | {"gross_weight_lb": 79_000 + n, "load_date": None if d is None else dt.date(2023, 5, d)} | fields
        for n, d in enumerate(days)
    ]


def test_weights_do_not_part_loads_but_products_and_vehicles_do() -> None:
    chips = loads_on(2, product="chips")
    other = loads_on(2, truck="T2")
    made = haul([*loads_on(2, 2, 2), *chips, *other], [], paper=False)
    assert sets_of(made, []) == [["A0", "A1", "A2"], ["A3"], ["A4"]]


def test_a_change_of_the_law_parts_loads_from_its_day_on() -> None:
    made = haul(loads_on(3, 4, 5, 6, None), [], paper=False)
    assert sets_of(made, [dt.date(2023, 5, 5)]) == [["A0", "A1"], ["A2", "A3"], ["A4"]]


def test_the_end_of_a_paper_parts_loads_after_its_last_day() -> None:
    # valid through 3 May
    assert sets_of(haul(loads_on(2, 3, 4, 5), [], paper=True), []) == [["A0", "A1"], ["A2", "A3"]]


def test_a_load_with_readings_of_its_own_is_a_set_of_its_own() -> None:
    assert sets_of(haul(loads_on(2, 2, 2), ["axle_weights"], paper=False), []) == [["A0"], ["A1", "A2"]]


def test_a_figure_that_all_loads_share_stays_with_the_set() -> None:
    same = [SAWLOGS | {"load_date": dt.date(2023, 5, 2)}] * 3
    found = alike_loads(tables_of(haul(same, [], paper=False)), {"load_legs": ["gross_weight_lb"]}, [])["load_legs"]
    assert found.loads["gross_weight_lb"].to_list() == [79_000]
    assert "gross_weight_lb" not in found.own.columns


def test_sets_are_not_made_where_they_do_not_pay(monkeypatch: pytest.MonkeyPatch) -> None:
    tables = tables_of(haul(loads_on(2, 2, 2), [], paper=False))
    monkeypatch.setattr(alike_module, "FEWEST_LOADS", 4)
    assert "load_legs" not in alike_loads(tables, {"load_legs": ["gross_weight_lb"]}, [])
    monkeypatch.setattr(alike_module, "FEWEST_LOADS", 3)
    assert "load_legs" in alike_loads(tables, {"load_legs": ["gross_weight_lb"]}, [])
    monkeypatch.setattr(alike_module, "LARGEST_SHARE", 0.3)
    assert "load_legs" not in alike_loads(tables, {"load_legs": ["gross_weight_lb"]}, [])


def test_the_comparison_finds_a_planted_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    # A set that spans the end of a paper takes all its loads for permitted, or none.
    record = haul(loads_on(2, 3, 4, 5, gross_weight_lb=84_000), [], paper=True)
    alone = said(record, permits(), together=False)
    assert said(record, permits(), together=True) == alone
    forgotten = pl.Series("_period", [0] * 4, dtype=pl.UInt32)
    monkeypatch.setattr(alike_module, "_paper_period", lambda _: forgotten)
    assert said(record, permits(), together=True) != alone
