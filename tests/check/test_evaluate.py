"""The truth table of the outcomes, and the law of the day."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date
from typing import Any

import polars as pl
import pytest

from auditor.check.evaluate import editions, rules_of_views, subject_codes
from auditor.rules.compiled import Code
from tests.rules.small import CITED, LIMIT, a_file, a_limit, a_rule, an_allowance, blamed, judge, outcomes

NA, YES, NO, BLANK, OPEN = "not applicable", "conformity", "nonconformity", "not evidenced", "inconclusive"
SOURCES_DISAGREE = a_limit({"said": [{"value": v, **CITED} for v in (80_000, 84_000)]})
WEIGHTS = {"true": 70_000, "false": 90_000, "blank": None, "within the range": 82_000}
MUST = tuple(WEIGHTS)
# (scope, exception) -> outcome for a requirement that is true, false, unknown by a blank, unknown without one
TABLE: dict[tuple[bool | None, bool | None], tuple[str, str, str, str]] = {
    (False, False): (NA, NA, NA, NA),
    (False, True): (NA, NA, NA, NA),
    (False, None): (NA, NA, NA, NA),
    (True, True): (NA, NA, NA, NA),
    (None, True): (NA, NA, NA, NA),
    (True, False): (YES, NO, BLANK, OPEN),
    (True, None): (YES, BLANK, BLANK, BLANK),
    (None, False): (YES, BLANK, BLANK, BLANK),
    (None, None): (YES, BLANK, BLANK, BLANK),
}
EXCEPTION = [{"id": "dark", "title": "in the dark", "where": {"dark": True}}]


@pytest.mark.parametrize("part", ["where", "when"])
def test_every_row_of_the_truth_table(part: str) -> None:
    file = a_file(a_rule(**{part: {"unitized": True}}, unless=EXCEPTION), **{LIMIT: SOURCES_DISAGREE})
    cases = list(itertools.product(TABLE, MUST))
    rows = [{"unitized": s, "dark": e, "gross_weight_lb": WEIGHTS[m]} for (s, e), m in cases]
    expected = [TABLE[pair][MUST.index(m)] for pair, m in cases]
    assert len(cases) == 36
    assert outcomes(file, *rows) == expected


def test_the_blank_scope_or_exception_is_named() -> None:
    file = a_file(a_rule(where={"unitized": True}, unless=EXCEPTION))
    assert blamed(file, {"dark": False, "gross_weight_lb": 90_000}) == ["unitized"]
    assert blamed(file, {"unitized": True, "gross_weight_lb": 90_000}) == ["dark"]
    assert blamed(file, {"unitized": True, "dark": False}) == ["gross_weight_lb"]


def test_scope_and_trigger_must_both_hold() -> None:
    file = a_file(a_rule(where={"unitized": True}, when={"dark": True}))
    rows = [
        {"unitized": u, "dark": d, "gross_weight_lb": 90_000}
        for u, d in ((True, True), (True, False), (False, None), (None, True))
    ]
    assert outcomes(file, *rows) == [NO, NA, NA, BLANK]


def test_an_exception_that_needs_a_paper_does_not_hold_without_one() -> None:
    paper = {"id": "p", "title": "permit", "where": {"dark": True}, "needs": {"document": "overweight_permit"}}
    file = a_file(a_rule(unless=[paper]))
    rows = [{"dark": True, "holds:overweight_permit": h, "gross_weight_lb": 90_000} for h in (True, False, None)]
    assert outcomes(file, *rows) == [NA, NO, BLANK]


def test_an_act_without_record_is_not_verifiable_where_it_is_blank() -> None:
    act = a_rule(must={"unitized": True}, evidence="act without record")
    rows: list[dict[str, Any]] = [{"unitized": True}, {"unitized": False}, {}]
    assert outcomes(a_file(act), *rows) == [YES, NO, "not verifiable"]


@pytest.mark.parametrize("standing", ["voluntary practice", "guidance", "common practice"])
def test_a_voluntary_practice_gives_a_departure(standing: str) -> None:
    assert outcomes(a_file(a_rule(standing=standing)), {"gross_weight_lb": 90_000}) == ["departure from practice"]


@pytest.mark.parametrize("standing", ["statute", "regulation", "permit condition", "mandatory practice"])
def test_what_binds_gives_a_nonconformity(standing: str) -> None:
    assert outcomes(a_file(a_rule(standing=standing)), {"gross_weight_lb": 90_000}) == [NO]


BEFORE, CHANGE = date(2025, 6, 30), date(2025, 7, 1)


def test_a_rule_begins_on_its_first_day_and_ends_after_its_last() -> None:
    begins, ends = (
        [a_rule(id="other"), a_rule() | dates] for dates in ({"from": "2025-07-01"}, {"until": "2025-06-30"})
    )
    heavy = [{"on": d, "gross_weight_lb": 90_000} for d in (BEFORE, CHANGE)]
    for rules, on_days in ((begins, [CHANGE]), (ends, [BEFORE])):
        found = {j.frame["load_date"][0] for j in judge(a_file(rules), *heavy) for r in j.rules if r.rule.id == "gross"}
        assert found == set(on_days)


def test_without_a_day_a_dated_rule_is_open() -> None:
    file = a_file(a_rule() | {"from": "2025-07-01"})
    rows = [{"on": None, "gross_weight_lb": w} for w in (70_000, 90_000)]
    assert outcomes(file, *rows) == [YES, BLANK]
    assert blamed(file, rows[1]) == ["load_date"]


def test_a_permit_holds_or_not_by_the_day() -> None:
    allowance = an_allowance(value=95_000) | {"from": "2025-07-01"}
    file = a_file(None, **{LIMIT: a_limit(allowances=[allowance])})
    assert outcomes(file, *({"on": d, "gross_weight_lb": 90_000} for d in (BEFORE, CHANGE))) == [NO, YES]


def test_a_view_is_cut_where_the_law_changes_and_loses_no_row() -> None:
    days = [date(2024, 1, 1), BEFORE, CHANGE, date(2027, 1, 1), None]
    frame = pl.DataFrame({"load_date": days}, schema={"load_date": pl.Date})
    parts = list(editions(frame, "load_date", [CHANGE]))
    assert [(start, part["load_date"].to_list()) for start, part in parts] == [
        (date.min, days[:2]), (CHANGE, days[2:4]), (None, [None])
    ]  # fmt: skip


@pytest.mark.parametrize("loads", ["AAAB", "BAAA", "ABAA"], ids=["in order", "falling", "mixed"])
def test_the_worst_row_of_a_load_counts_once(loads: str) -> None:
    weights = iter([70_000, 90_000, None])
    rows = [{"gross_weight_lb": 70_000 if load == "B" else next(weights)} for load in loads]
    (judged,) = judge(a_file(), *rows)
    places = pl.Series("_place", ["AB".index(load) for load in loads], dtype=pl.UInt32)
    merged = replace(judged, frame=judged.frame.with_columns(places, subject=pl.Series(list(loads))))
    worst = subject_codes(merged).rows()
    assert worst == [("example", "A", 0, int(Code.NONCONFORMITY)), ("example", "B", 1, int(Code.CONFORMITY))]
    assert sorted(Code, reverse=True)[:3] == [Code.NONCONFORMITY, Code.NOT_EVIDENCED, Code.INCONCLUSIVE]


def test_a_view_without_rows_has_no_loads() -> None:
    (judged,) = judge(a_file(), {"gross_weight_lb": 70_000})
    frame = judged.frame.head(0).with_columns(pl.Series("_place", [], dtype=pl.UInt32))
    assert subject_codes(replace(judged, frame=frame, codes=judged.codes.head(0))).is_empty()


def test_rules_are_sorted_by_the_view_they_examine() -> None:
    file = a_file([a_rule(), a_rule(id="b", examines="axle_groups", must={"group_kind": "single"})])
    assert {view: [r.id for _, r in rules] for view, rules in rules_of_views([file]).items()} == {
        "load_legs": ["gross"], "axle_groups": ["b"]
    }  # fmt: skip
