"""Which comparison speaks for a breach, how far off it is, which entry set the limit, what is tolerated, what would help."""

from __future__ import annotations

from typing import Any

import pytest

from auditor.check.details import allowances_used
from tests.rules.small import LIMIT, a_cap, a_file, a_limit, a_rule, an_allowance, detail, judge

LOWER = "least_lb"


def of(must: dict[str, Any], row: dict[str, Any], **limits: Any) -> dict[str, Any]:
    return detail(a_file(a_rule(must=must), **limits), row)


LIMITS = {"length_ft": a_limit(60), "height_ft": a_limit(13.5), LIMIT: a_limit()}
LENGTH = {"overall_length_ft": {"at_most": {"limit": "length_ft"}}}
HEIGHT = {"load_height_ft": {"at_most": {"limit": "height_ft"}}}
GROSS = {"gross_weight_lb": {"at_most": {"limit": LIMIT}}}


def test_of_what_must_all_hold_the_part_that_is_furthest_off_speaks() -> None:
    # 63 ft over 60 is 5 percent; 14 ft over 13.5 is 3.7; 82,000 lb over 80,000 is 2.5
    row = {"overall_length_ft": 63, "load_height_ft": 14, "gross_weight_lb": 82_000}
    assert of({"all_of": [GROSS, HEIGHT, LENGTH]}, row, **LIMITS)["column"] == "overall_length_ft"
    # 60 ft holds, so the height speaks
    assert (
        of({"all_of": [GROSS, HEIGHT, LENGTH]}, row | {"overall_length_ft": 60}, **LIMITS)["column"] == "load_height_ft"
    )


def test_of_alternatives_the_nearest_speaks() -> None:
    row = {"overall_length_ft": 63, "load_height_ft": 14, "gross_weight_lb": 82_000}
    found = of({"any_of": [LENGTH, HEIGHT, GROSS]}, row, **LIMITS)
    assert (found["column"], found["margin"]) == ("gross_weight_lb", 2_000)


def test_of_n_that_are_asked_for_one_that_holds_does_not_speak() -> None:
    must = {"at_least_n_of": {"n": 2, "of": [LENGTH, HEIGHT, GROSS]}}
    row = {"overall_length_ft": 50, "load_height_ft": 14, "gross_weight_lb": 90_000}
    # the length holds; the height is 3.7 percent off, the weight 12.5
    assert of(must, row, **LIMITS)["column"] == "load_height_ft"


def test_an_alternative_that_holds_leaves_the_other_part_to_speak() -> None:
    row = {"overall_length_ft": 50, "load_height_ft": 20, "gross_weight_lb": 80_001}
    found = of({"all_of": [{"any_of": [LENGTH, HEIGHT]}, GROSS]}, row, **LIMITS)
    assert (found["column"], found["margin"]) == ("gross_weight_lb", 1)


def test_under_a_none_of_the_opposite_is_asked_for() -> None:
    # none may be at least 60 ft: 63 is 3 over what it must stay below
    found = of({"none_of": [{"overall_length_ft": {"at_least": {"limit": "length_ft"}}}, {"dark": True}]},
               {"overall_length_ft": 63, "dark": False}, **LIMITS)  # fmt: skip
    assert (found["column"], found["op"], found["margin"]) == ("overall_length_ft", "less_than", 3)


def test_many_parts_cost_no_more_than_their_number() -> None:
    parts = [{"any_of": [GROSS, LENGTH]} for _ in range(40)]
    row = {"overall_length_ft": 63, "gross_weight_lb": 82_000}
    assert of({"all_of": parts}, row, **LIMITS)["column"] == "gross_weight_lb"


@pytest.mark.parametrize(
    ("op", "value", "measured", "margin"),
    [
        ("at_most", 80_001, 80_001, 1),
        ("less_than", 80_000, 80_000, 0),
        ("at_least", 79_990, 79_990, 10),
        ("more_than", 80_000, 80_000, 0),
        ("equals", 80_003, 80_003, 3),
        ("equals", 79_996, 79_996, 4),
    ],
)
def test_margins(op: str, value: int, measured: float, margin: float) -> None:
    found = of({"gross_weight_lb": {op: {"limit": LIMIT}}}, {"gross_weight_lb": value}, **{LIMIT: a_limit()})
    assert (found["op"], found["measured"], found["limit"], found["margin"]) == (op, measured, 80_000, margin)


def test_a_margin_has_no_dust_of_binary_fractions() -> None:
    # 13.8 - 13.5 is 0.3000000000000007 in binary fractions
    assert of(HEIGHT, {"load_height_ft": 13.8}, height_ft=a_limit(13.5))["margin"] == 0.3


def test_a_range_is_off_by_its_nearest_end() -> None:
    rule = a_rule(examines="axle_groups", must={"group_weight_lb": {"at_most": {"limit": LIMIT}}})
    found = detail(a_file(rule, **{LIMIT: a_limit(34_000)}), {"group_weight_lb": [35_000, 50_000]})
    assert (found["measured"], found["margin"]) == (35_000, 1_000)


def test_a_word_has_no_margin_but_is_shown() -> None:
    found = of({"product": "chips"}, {"product": "sawlogs"})
    assert (found["found"], found["measured"], found["limit"], found["margin"]) == ("sawlogs", None, None, None)


RAISE = an_allowance("ten", percent_more=10, than="base", where={"product": "chips"})
CAP = a_cap("county", value=56_000, where={"road_class": "county_road"})


@pytest.mark.parametrize(
    ("row", "limit", "arm"),
    [
        ({"product": "sawlogs", "road_class": "interstate"}, 80_000, "base"),
        ({"product": "chips", "road_class": "interstate"}, 88_000, "ten"),
        ({"product": "chips", "road_class": "county_road"}, 56_000, "county"),
        ({"road_class": "interstate"}, 88_000, "ten"),  # the product is blank: over every limit it could have
    ],
)
def test_the_entry_that_set_the_limit_speaks(row: dict[str, Any], limit: float, arm: str) -> None:
    found = detail(a_file(None, **{LIMIT: a_limit(allowances=[RAISE], caps=[CAP])}), row | {"gross_weight_lb": 90_000})
    assert (found["limit"], found["arm"]) == (limit, arm)


def test_tolerated_true_false_and_unknown() -> None:
    fifteen = an_allowance(
        "fifteen", form="enforcement tolerance", percent_more=15, than="base", where={"product": "chips"}
    )
    file = a_file(None, **{LIMIT: a_limit(73_280, allowances=[fifteen])})
    # 73,280 x 115 / 100 = 84,272
    rows = [
        ({"product": "chips", "gross_weight_lb": 84_272}, True, 84_272),
        ({"product": "chips", "gross_weight_lb": 84_273}, False, 84_272),
        ({"product": "sawlogs", "gross_weight_lb": 73_281}, False, None),
        ({"gross_weight_lb": 73_281}, None, 84_272),
        ({"gross_weight_lb": 84_273}, False, 84_272),
    ]
    for row, tolerated, up_to in rows:
        found = detail(file, row)
        assert (found["tolerated"], found["tolerated_limit"]) == (tolerated, up_to), row


def test_without_a_tolerance_nothing_is_said_of_one() -> None:
    found = detail(a_file(), {"gross_weight_lb": 90_000})
    assert (found["tolerated"], found["tolerated_limit"]) == (None, None)


def permit(value: int, **parts: Any) -> dict[str, Any]:
    return an_allowance(f"permit-{value}", form="permit", value=value, needs={"document": "overweight_permit"}, **parts)


def would(*allowances: dict[str, Any], weight: int = 90_000, caps: Any = (), **row: Any) -> str | None:
    file = a_file(None, **{LIMIT: a_limit(allowances=list(allowances), caps=list(caps))})
    found: str | None = detail(file, {"holds:overweight_permit": False, "gross_weight_lb": weight, **row})["would"]
    return found


def test_the_permit_that_would_cover_the_load_is_named() -> None:
    assert would(permit(100_000)) == "permit-100000"
    assert would(permit(85_000)) is None  # it would not reach 90,000
    assert would(permit(90_000)) == "permit-90000"


def test_a_permit_whose_other_conditions_fail_or_are_blank_is_not_named() -> None:
    chips = permit(100_000, where={"product": "chips"})
    assert would(chips, product="chips") == "permit-100000"
    assert would(chips, product="sawlogs") is None


def test_a_permit_does_not_help_against_a_cap() -> None:
    assert would(permit(100_000), caps=[CAP], road_class="county_road") is None
    assert would(permit(100_000), caps=[CAP], road_class="interstate") == "permit-100000"


def used(file: Any, *rows: dict[str, Any]) -> list[tuple[str, str, float]]:
    return [
        r
        for j in judge(file, *rows)
        for part in allowances_used(j)
        for r in part.select("subject", "arm", "measured").rows()
    ]


def test_a_load_inside_only_by_an_allowance_is_told() -> None:
    file = a_file(None, **{LIMIT: a_limit(allowances=[RAISE])})
    rows = [{"product": "chips", "gross_weight_lb": w} for w in (80_000, 80_001, 88_000, 88_001)]
    assert used(file, *rows) == [("1", "ten", 80_001), ("2", "ten", 88_000)]


def test_an_open_or_missing_allowance_is_not_used() -> None:
    file = a_file(None, **{LIMIT: a_limit(allowances=[RAISE])})
    assert (
        used(file, {"gross_weight_lb": 85_000}, {"product": "sawlogs", "gross_weight_lb": 85_000}, {"product": "chips"})
        == []
    )
