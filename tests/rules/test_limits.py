"""How a limit comes about: versions, raises, permits, caps, tolerances, shapes. Every figure is worked out beside it."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

import pytest

from tests.rules.small import (
    CITED,
    LIMIT,
    a_cap,
    a_file,
    a_limit,
    a_rule,
    an_allowance,
    blamed,
    bounds,
    detail,
    outcomes,
)

CHIPS = {"product": "chips"}
FREE = (-math.inf, math.inf)
Bounds = tuple[float, float]


def one(limit: dict[str, Any], *rows: dict[str, Any], **others: Any) -> list[Bounds]:
    return bounds(a_file(None, **{LIMIT: limit, **others}), *rows)


def test_a_number_is_the_limit_of_every_row() -> None:
    assert one(a_limit(80_000), {}) == [(80_000, 80_000)]


def test_a_raise_holds_fails_or_leaves_a_range() -> None:
    limit = a_limit(allowances=[an_allowance(value=88_000, where=CHIPS)])
    rows = ({"product": "chips"}, {"product": "sawlogs"}, {})
    assert one(limit, *rows) == [(88_000, 88_000), (80_000, 80_000), (80_000, 88_000)]


def test_the_greatest_of_several_raises_counts_and_a_lower_one_takes_nothing_away() -> None:
    raises = [
        an_allowance("a", value=88_000, where=CHIPS),
        an_allowance("b", value=84_000),
        an_allowance("c", value=70_000),
    ]
    assert one(a_limit(allowances=raises), {"product": "chips"}, {"product": "sawlogs"}) == [
        (88_000, 88_000),
        (84_000, 84_000),
    ]


def test_a_permit_needs_its_paper() -> None:
    limit = a_limit(allowances=[an_allowance(form="permit", value=90_000, needs={"document": "overweight_permit"})])
    held, not_held, dates_blank = ({"holds:overweight_permit": v} for v in (True, False, None))
    assert one(limit, held, not_held, dates_blank) == [(90_000, 90_000), (80_000, 80_000), (80_000, 90_000)]
    file = a_file(None, **{LIMIT: limit})
    assert blamed(file, {**dates_blank, "gross_weight_lb": 85_000}) == ["holds:overweight_permit"]


def test_a_cap_lowers_every_allowance_and_an_open_cap_may() -> None:
    limit = a_limit(
        allowances=[an_allowance(value=88_000)], caps=[a_cap(value=56_000, where={"road_class": "county_road"})]
    )
    rows = ({"road_class": "county_road"}, {"road_class": "interstate"}, {})
    assert one(limit, *rows) == [(56_000, 56_000), (88_000, 88_000), (56_000, 88_000)]


def test_a_cap_above_the_limit_does_not_raise_it() -> None:
    assert one(a_limit(caps=[a_cap(value=90_000)]), {}) == [(80_000, 80_000)]


def test_a_blank_column_as_cap_can_be_anything_below() -> None:
    limit = a_limit(caps=[a_cap(field="posted_road_gross_lb")])
    assert one(limit, {"posted_road_gross_lb": 60_000}, {}) == [(60_000, 60_000), (-math.inf, 80_000)]


def test_a_tolerance_does_not_change_the_limit() -> None:
    limit = a_limit(
        73_280, allowances=[an_allowance(form="enforcement tolerance", percent_more=15, than="base", where=CHIPS)]
    )
    file = a_file(None, **{LIMIT: limit})
    rows = ({"product": "chips"}, {"product": "sawlogs"}, {})
    assert bounds(file, *rows) == [(73_280, 73_280)] * 3
    # 73,280 x 115 / 100 = 84,272
    assert bounds(file, *rows, part=":tolerated_") == [(84_272, 84_272), (73_280, 73_280), (73_280, 84_272)]


def test_court_defences_and_penalty_relief_change_nothing() -> None:
    forms = [an_allowance(f, form=f, value=99_000) for f in ("court defence", "penalty relief")]
    assert one(a_limit(allowances=forms), {}) == [(80_000, 80_000)]


def test_percent_of_base_limit_and_another_limit() -> None:
    raised = an_allowance("raise", value=90_000)
    of_base = an_allowance("t", form="enforcement tolerance", percent_more=10, than="base")
    of_limit = an_allowance("t", form="enforcement tolerance", percent_more=10, than="limit")
    of_other = an_allowance("t", form="enforcement tolerance", percent_more=10, than="other_lb")
    other = a_limit(100_000)
    # base 80,000 x 1.10 = 88,000 stays under the raised 90,000; 90,000 x 1.10 = 99,000; 100,000 x 1.10 = 110,000
    for tolerance, expected in ((of_base, 90_000), (of_limit, 99_000), (of_other, 110_000)):
        file = a_file(None, **{LIMIT: a_limit(allowances=[raised, tolerance]), "other_lb": other})
        assert bounds(file, {}, part=":tolerated_") == [(expected, expected)]


def test_percentages_of_whole_pounds_are_exact() -> None:
    # 80,000 x 110 / 100 and 36,000 x 115 / 100: as 80,000 x 1.1 the first would be 88,000.00000000001
    assert one(a_limit(allowances=[an_allowance(percent_more=10, than="base")]), {}) == [(88_000, 88_000)]
    assert one(a_limit(36_000, allowances=[an_allowance(percent_more=15, than="base")]), {}) == [(41_400, 41_400)]


def test_a_named_limit_brings_its_own_allowances() -> None:
    other = a_limit(34_000, allowances=[an_allowance(value=36_000, where=CHIPS)])
    limit = a_limit({"limit": "other_lb"})
    assert one(limit, {"product": "chips"}, {}, other_lb=other) == [(36_000, 36_000), (34_000, 36_000)]


def test_sums_count_blanks_as_unknown() -> None:
    limit = a_limit(
        {"sum_of": [{"times": "single_axle_count", "of": "single_lb"}, {"times": "tandem_count", "of": "tandem_lb"}]}
    )
    others = {"single_lb": a_limit(20_000), "tandem_lb": a_limit(34_000)}
    # 1 x 20,000 + 2 x 34,000 = 88,000
    rows = ({"single_axle_count": 1, "tandem_count": 2}, {"single_axle_count": 1})
    assert one(limit, *rows, **others) == [(88_000, 88_000), FREE]
    file = a_file(None, **{LIMIT: limit, **others})
    assert blamed(file, {"gross_weight_lb": 80_000, "single_axle_count": 1}) == ["tandem_count"]


def test_lesser_and_greater_of_need_all_their_parts() -> None:
    parts = [{"value": 70_000}, {"field": "designated_gross_lb"}]
    rows = ({"designated_gross_lb": 73_000}, {"designated_gross_lb": 60_000}, {})
    assert one(a_limit({"lesser_of": parts}), *rows) == [(70_000, 70_000), (60_000, 60_000), FREE]
    assert one(a_limit({"greater_of": parts}), *rows) == [(73_000, 73_000), (70_000, 70_000), FREE]


def test_sources_that_disagree_leave_what_lies_between_inconclusive() -> None:
    said = [{"value": v, **CITED} for v in (84_000, 80_000)]
    file = a_file(None, **{LIMIT: a_limit({"said": said})})
    assert bounds(file, {}) == [(80_000, 84_000)]
    rows = [{"gross_weight_lb": w} for w in (80_000, 80_001, 84_000, 84_001)]
    assert outcomes(file, *rows) == ["conformity", "inconclusive", "inconclusive", "nonconformity"]


POINTS = {"at": "outer_span_ft", "values": {10: 40_000, 20: 60_000}, "between_is": "law"}


@pytest.mark.parametrize(("between", "middle"), [("lower", 40_000), ("higher", 60_000), ("interpolate", 50_000)])
def test_points_answer_at_and_between_them_and_nowhere_else(between: str, middle: float) -> None:
    # half way from 10 to 20 ft: 40,000 + (60,000 - 40,000) / 2 = 50,000
    limit = a_limit({"points": {**POINTS, "between": between}})
    rows = [{"outer_span_ft": s} for s in (9.9, 10, 15, 20, 20.1, None)]
    assert one(limit, *rows) == [FREE, (40_000, 40_000), (middle, middle), (60_000, 60_000), FREE, FREE]
    file = a_file(None, **{LIMIT: limit})
    assert blamed(file, {"gross_weight_lb": 50_000}) == ["outer_span_ft"]
    assert outcomes(file, {"gross_weight_lb": 50_000, "outer_span_ft": 25}) == ["inconclusive"]


def test_linear_with_ends() -> None:
    # 1,000 x span + 20,000, at least 30,000, at most 60,000: 5 ft 25,000; 15 ft 35,000; 50 ft 70,000
    limit = a_limit(
        {"linear": {"base": 20_000, "times": 1_000, "per": "outer_span_ft", "at_least": 30_000, "at_most": 60_000}}
    )
    rows = [{"outer_span_ft": s} for s in (5, 15, 50, None)]
    assert one(limit, *rows) == [(30_000, 30_000), (35_000, 35_000), (60_000, 60_000), FREE]


def test_linear_of_a_range_turns_round_where_it_falls() -> None:
    # 50,000 - weight over [10,000, 20,000]: 30,000 to 40,000
    rule = a_rule(examines="axle_groups", must={"gross_weight_lb": {"at_most": {"limit": LIMIT}}})
    limit = a_limit({"linear": {"base": 50_000, "times": -1, "per": "group_weight_lb"}})
    assert bounds(a_file(rule, **{LIMIT: limit}), {"group_weight_lb": [10_000, 20_000]}) == [(30_000, 40_000)]


TABLE = {
    "rows": [
        {"when": {"axle_count": "[1, 4]"}, "value": 70_000},
        {"when": {"axle_count": {"at_least": 5}, "product": "chips"}, "value": 80_000},
        {"when": {"axle_count": {"at_least": 5}, "product": {"none_of": ["chips"]}}, "value": 76_000},
    ]
}


def test_every_row_of_a_table_not_excluded_stays_a_candidate() -> None:
    rows = ({"axle_count": 4}, {"axle_count": 5, "product": "chips"}, {"axle_count": 5}, {"product": "sawlogs"}, {})
    expected = [(70_000, 70_000), (80_000, 80_000), (76_000, 80_000), (70_000, 76_000), (70_000, 80_000)]
    assert one(a_limit({"table": TABLE}), *rows) == expected


def test_a_blank_class_does_not_matter_where_all_rows_agree() -> None:
    file = a_file(None, **{LIMIT: a_limit({"table": TABLE})})
    rows = [{"axle_count": 5, "gross_weight_lb": w} for w in (76_000, 76_001, 80_001)]
    assert outcomes(file, *rows) == ["conformity", "not evidenced", "nonconformity"]
    assert blamed(file, rows[1]) == ["product"]


def test_a_table_without_a_row_for_the_case_knows_nothing() -> None:
    table = {"rows": [{"when": {"axle_count": "[1, 4]"}, "value": 70_000}]}
    assert one(a_limit({"table": table}), {"axle_count": 5}) == [FREE]


CHANGE = date(2025, 7, 1)
VERSIONS = [{"value": 80_000, "until": "2025-06-30", **CITED}, {"value": 84_000, "from": "2025-07-01", **CITED}]


def test_the_version_of_the_day_holds_on_both_sides_of_a_change() -> None:
    limit = a_limit() | {"versions": VERSIONS}
    assert one(limit, {"on": date(2025, 6, 30)}, {"on": CHANGE}) == [(80_000, 80_000), (84_000, 84_000)]


def test_without_a_day_every_version_stays_a_candidate() -> None:
    file = a_file(None, **{LIMIT: a_limit() | {"versions": VERSIONS}})
    rows = [{"on": None, "gross_weight_lb": w} for w in (80_000, 80_001, 84_001)]
    assert bounds(file, *rows) == [(80_000, 84_000)] * 3
    assert outcomes(file, *rows) == ["conformity", "not evidenced", "nonconformity"]
    assert blamed(file, rows[1]) == ["load_date"]


def test_the_version_that_spoke_is_named_by_its_beginning() -> None:
    file = a_file(None, **{LIMIT: a_limit() | {"versions": VERSIONS}})
    before = detail(file, {"on": date(2025, 6, 30), "gross_weight_lb": 85_000})
    after = detail(file, {"on": CHANGE, "gross_weight_lb": 85_000})
    assert (before["arm"], before["limit"], after["arm"], after["limit"]) == ("base", 80_000, "base:2025-07-01", 84_000)


def test_no_version_in_force_knows_nothing() -> None:
    file = a_file(None, **{LIMIT: a_limit() | {"versions": [{"value": 80_000, "from": "2025-07-01", **CITED}]}})
    assert outcomes(file, {"on": date(2025, 6, 30), "gross_weight_lb": 99_000}) == ["inconclusive"]


def test_an_allowance_holds_from_its_first_to_its_last_day() -> None:
    more = an_allowance(value=88_000) | {"from": "2023-05-05", "until": "2025-07-01"}
    days = [date(2023, 5, 4), date(2023, 5, 5), date(2025, 7, 1), date(2025, 7, 2)]
    expected = [(80_000, 80_000), (88_000, 88_000), (88_000, 88_000), (80_000, 80_000)]
    assert one(a_limit(allowances=[more]), *({"on": d} for d in days)) == expected
    assert one(a_limit(allowances=[more]), {"on": None}) == [(80_000, 88_000)]


def test_lists_of_words_follow_the_day() -> None:
    versions = [
        {"words": ["Henry"], "until": "2025-06-30", **CITED},
        {"words": ["Henry", "Cobb"], "from": "2025-07-01", **CITED},
    ]
    file = a_file(a_rule(must={"county": {"none_of": {"limit": "metro"}}}), metro=a_limit() | {"versions": versions})
    rows = [{"county": c, "on": d} for d in (date(2025, 6, 30), CHANGE, None) for c in ("Henry", "Cobb", "Warren")]
    no, yes = "nonconformity", "conformity"
    assert outcomes(file, *rows) == [no, yes, yes, no, no, yes, no, "not evidenced", yes]
    assert blamed(file, rows[7]) == ["load_date"]


def test_a_measure_of_blank_columns_is_unknown_and_they_are_blamed() -> None:
    # 5 axles over 51 ft: 500 x (51 x 5 / 4 + 12 x 5 + 36) = 79,875, to the nearest 500: 80,000 (23 U.S.C. 127(a)(2))
    of = {"axle_count": "axle_count", "span_ft": "outer_span_ft"}
    limit = a_limit({"measure": {"name": "bridge_limit_lb", "of": of, "with": {"span_rounding": "nearest"}}})
    assert one(limit, {"axle_count": 5, "outer_span_ft": 51}) == [(80_000, 80_000)]
    file = a_file(None, **{LIMIT: limit})
    assert outcomes(file, {"axle_count": 5, "gross_weight_lb": 70_000}) == ["not evidenced"]
    assert blamed(file, {"axle_count": 5, "gross_weight_lb": 70_000}) == ["outer_span_ft"]
