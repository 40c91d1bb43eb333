"""What must hold for every load under the shipped rules, whatever its figures."""

from __future__ import annotations

import random
from functools import cache
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.audit import check
from auditor.check.evaluate import subject_codes
from auditor.check.tally import judge_tables
from auditor.measures.weight import bridge_limit_lb
from auditor.record import Record, record_from_rows
from auditor.report.model import JobReport
from auditor.rules.compiled import Code
from auditor.rules.reading import Rulebook, read_rules
from tests.check.haul import load, rows_of

LEGS = (
    {"leg": 1, "road_class": "county_road", "county": "Warren", "pickup_or_delivery": "yes"},
    {"leg": 2, "road_class": "state_route", "county": "Henry"},
    {"leg": 3, "road_class": "interstate"},
    {"leg": 4, "road_class": "us_route", "state": "US-SC"},
)
AXLES = [{"truck": "T1", "trailer": "L1", "axle": n, "position_ft": p, "lift_axle": "no"}
         for n, p in enumerate((0, 15.6, 20.0, 53.0, 57.2), 1)]  # fmt: skip


@cache
def rulebook() -> Rulebook:
    return read_rules(["US-GA", "US-SC"])


def record(loads: list[dict[str, Any]], **tables: Any) -> Record:
    rows = rows_of(loads, LEGS, "JOB", axles=AXLES, **tables)
    mill = {"job": "JOB", "destination": "MILL", "state": "US-GA", "kind": "first_processing", "haul_radius_miles": 40}
    return record_from_rows(rows | {"destinations": [mill]})


def codes(made: Record, views: tuple[str, ...]) -> dict[tuple[str, str], Code]:
    """(load, rule) -> outcome of the worst row, under the shipped rules of Georgia, South Carolina and the federal ones."""
    found = {}
    for judged in judge_tables(made.tables, rulebook(), views):
        worst = subject_codes(judged)
        for rule in judged.rules:
            found |= {(n, rule.key): Code(c) for n, c in zip(worst["subject"], worst[rule.key], strict=True)}
    return found


def timber(ticket: str, **fields: Any) -> dict[str, Any]:
    return load(ticket, **{"product": "sawlogs", "origin_kind": "forest", **fields})


WEIGHT_RULES = tuple(f"{place}/weight/gross" for place in ("us", "us-ga", "us-sc"))


@given(st.lists(st.integers(30_000, 120_000), min_size=2, max_size=12, unique=True), st.booleans())
@settings(max_examples=12, deadline=None)
def test_more_weight_never_improves_an_outcome(weights: list[int], product_known: bool) -> None:
    weights = sorted(weights)
    product = "sawlogs" if product_known else None
    found = codes(record([timber(str(w), gross_weight_lb=w, product=product) for w in weights]), ("load_legs",))
    for rule in WEIGHT_RULES:
        judged = [found[str(w), rule] for w in weights]
        assert judged == sorted(judged), (rule, dict(zip(weights, judged, strict=True)))


@given(st.integers(0, 60_000), st.integers(0, 60_000), st.integers(60_000, 100_000))
@settings(max_examples=12, deadline=None)
def test_more_weight_on_a_tandem_never_improves_an_outcome(light: int, more: int, gross: int) -> None:
    rows = [timber(t, gross_weight_lb=gross) for t in ("light", "heavy")]
    readings = [
        {"load": t, "first_axle": 4, "last_axle": 5, "weight_lb": max(w, 1)}
        for t, w in (("light", light), ("heavy", light + more))
    ]
    found = codes(record(rows, axle_weights=readings), ("axle_groups",))
    tandems = [rule for load_, rule in found if load_ == "light" and rule.endswith("/tandem")]
    assert tandems
    for rule in tandems:
        assert found["heavy", rule] >= found["light", rule], rule


CHAIN = {"stack": 1, "tiedown": 1, "kind": "tiedown", "material": "chain", "size_in": 0.375, "grade": "70",
         "tensioner_wll_lb": 9_000, "anchor_wll_lb": 9_000, "routing": "over_to_other_side", "defective": "no",
         "knotted": "no", "tightenable": "yes", "edge_protected": "yes"}  # fmt: skip
STACK = {
    "stack": 1,
    "orientation": "lengthwise",
    "bunk_count": 2,
    "packed": "yes",
    "blocked_front": "no",
    "blocked_rear": "no",
}


@given(st.integers(1, 12), st.integers(10_000, 70_000), st.integers(6, 50), st.sampled_from(["43", "70", None]))
@settings(max_examples=12, deadline=None)
def test_one_more_sound_tiedown_never_worsens(count: int, net: int, length: int, grade: str | None) -> None:
    rows = [timber(t, net_weight_lb=net) for t in ("fewer", "more")]
    stacks = [{"load": t, **STACK, "shortest_log_ft": length, "longest_log_ft": length} for t in ("fewer", "more")]
    lines = [{"load": t, **CHAIN, "grade": grade, "count": n} for t, n in (("fewer", count), ("more", count + 1))]
    found = codes(record(rows, stacks=stacks, tiedowns=lines), ("stacks", "tiedowns"))
    rules = [rule for name, rule in found if name == "fewer"]
    assert "us/securement/aggregate-wll" in rules
    for rule in rules:
        assert found["more", rule] <= found["fewer", rule], (rule, found["fewer", rule].name, found["more", rule].name)


@pytest.mark.parametrize("axles", range(2, 10))
@given(st.floats(4, 120), st.floats(0, 40))
@settings(max_examples=60, deadline=None)
def test_a_longer_span_never_lowers_the_bridge_limit(axles: int, span: float, more: float) -> None:
    short, long = (float(bridge_limit_lb(axles, s, span_rounding="nearest")) for s in (span, span + more))
    assert not long < short


@given(st.integers(0, 2**32))
@settings(max_examples=4, deadline=None)
def test_shuffled_rows_give_the_same_report(seed: int) -> None:
    shuffle = random.Random(seed)
    tables = {name: [dict(r) for r in rows] for name, rows in FULL.items()}
    for rows in tables.values():
        shuffle.shuffle(rows)
    assert bare(tables) == bare(FULL)


WEIGHTS = (70_000, 79_000, 81_000, 84_500, 88_001, 95_000, None)
FULL: dict[str, list[dict[str, Any]]] = {
    **{
        name: list(rows)
        for name, rows in rows_of(
            [timber(f"A{i}", gross_weight_lb=w, net_weight_lb=50_000, rear_overhang_ft=i) for i, w in enumerate(WEIGHTS)], LEGS, "JOB",
            axles=AXLES,
            axle_weights=[{"load": f"A{i}", "first_axle": n, "last_axle": n, "weight_lb": 16_500 + 400 * i} for i in range(6) for n in range(2, 6)],
            stacks=[{"load": f"A{i}", **STACK, "shortest_log_ft": 20 + i, "longest_log_ft": 40} for i in range(5)],
            tiedowns=[{"load": f"A{i}", **CHAIN, "count": 1 + i % 3} for i in range(5)],
            markings=[{"truck": "T1", "flag_count": 1, "flag_side_in": 12}],
        ).items()
    },
}  # fmt: skip


def bare(tables: dict[str, list[dict[str, Any]]]) -> dict[str, Any]:
    """The report of a record without the places of its rows, which shuffling moves."""
    made = record_from_rows(tables)
    (job,) = check(made, rulebook()).jobs
    return _without_rows(job)


def _without_rows(job: JobReport) -> dict[str, Any]:
    told = job.model_dump()
    assert told["findings"]
    for finding in told["findings"]:
        for item in finding["items"]:
            item["source"] = ""
    return told
