"""Conditions of rule files: what each test and group says of a row, and which blank keeps it open."""

from __future__ import annotations

from typing import Any

import pytest

from tests.rules.small import LIMIT, a_file, a_limit, a_rule, blamed, outcomes

YES, NO, OPEN, OUT = "conformity", "nonconformity", "not evidenced", "not applicable"


def held(must: dict[str, Any], *rows: dict[str, Any], **limits: Any) -> list[str]:
    return outcomes(a_file(a_rule(must=must), **limits), *rows)


@pytest.mark.parametrize(
    ("must", "yes", "no"),
    [
        ({"product": "chips"}, {"product": "chips"}, {"product": "sawlogs"}),
        ({"product": {"one_of": ["chips", "biomass"]}}, {"product": "biomass"}, {"product": "sawlogs"}),
        ({"product": {"none_of": ["chips", "biomass"]}}, {"product": "sawlogs"}, {"product": "chips"}),
        ({"unitized": True}, {"unitized": True}, {"unitized": False}),
        ({"unitized": False}, {"unitized": False}, {"unitized": True}),
        ({"county": "Henry"}, {"county": "Henry"}, {"county": "Warren"}),
        ({"axle_count": {"equals": 1}}, {"axle_count": 1}, {"axle_count": 2}),
        ({"axle_count": {"more_than": 1}}, {"axle_count": 2}, {"axle_count": 1}),
        ({"axle_count": {"less_than": 1}}, {"axle_count": 0}, {"axle_count": 1}),
        ({"axle_count": {"at_least": 0, "at_most": 1}}, {"axle_count": 1}, {"axle_count": 2}),
        ({"haul_radius_miles": "[0, 1)"}, {"haul_radius_miles": 0}, {"haul_radius_miles": 1}),
        ({"haul_radius_miles": "(0, 1]"}, {"haul_radius_miles": 1}, {"haul_radius_miles": 0}),
        ({"haul_radius_miles": {"within": "(0, inf)"}}, {"haul_radius_miles": 5000}, {"haul_radius_miles": 0}),
        ({"registered_gross_lb": {"at_least": {"field": "gross_weight_lb"}}},
         {"registered_gross_lb": 80_000, "gross_weight_lb": 80_000}, {"registered_gross_lb": 79_999, "gross_weight_lb": 80_000}),
    ],
)  # fmt: skip
def test_a_test_holds_fails_or_is_open_where_the_fact_is_blank(
    must: dict[str, Any], yes: dict[str, Any], no: dict[str, Any]
) -> None:
    assert held(must, yes, no, {}) == [YES, NO, OPEN]


def test_recorded_is_never_open() -> None:
    assert held({"county": {"recorded": True}}, {"county": "Henry"}, {}) == [YES, NO]
    assert held({"county": {"recorded": False}}, {"county": "Henry"}, {}) == [NO, YES]


def test_a_blank_field_to_compare_with_is_blamed_like_the_value() -> None:
    file = a_file(a_rule(must={"registered_gross_lb": {"at_least": {"field": "gross_weight_lb"}}}))
    assert blamed(file, {"registered_gross_lb": 80_000}) == ["gross_weight_lb"]
    assert blamed(file, {}) == ["gross_weight_lb", "registered_gross_lb"]


CHIPS, DARK = {"product": "chips"}, {"dark": True}


@pytest.mark.parametrize(
    ("tree", "holds", "fails", "is_open"),
    [
        ({"all_of": [CHIPS, DARK]}, [(True, True)], [(True, False), (None, False), (False, None)], [(True, None), (None, None)]),
        ({**CHIPS, **DARK}, [(True, True)], [(True, False), (None, False)], [(True, None)]),
        ({"any_of": [CHIPS, DARK]}, [(True, None), (False, True)], [(False, False)], [(False, None), (None, None)]),
        ({"none_of": [CHIPS, DARK]}, [(False, False)], [(True, None), (False, True)], [(False, None), (None, None)]),
        ({"at_least_n_of": {"n": 2, "of": [CHIPS, DARK]}}, [(True, True)], [(None, False)], [(True, None)]),
    ],
)  # fmt: skip
def test_groups(
    tree: dict[str, Any],
    holds: list[tuple[bool | None, ...]],
    fails: list[tuple[bool | None, ...]],
    is_open: list[tuple[bool | None, ...]],
) -> None:
    words = {True: "chips", False: "sawlogs", None: None}
    rows = [{"product": words[chips], "dark": dark} for chips, dark in [*holds, *fails, *is_open]]
    assert held(tree, *rows) == [YES] * len(holds) + [NO] * len(fails) + [OPEN] * len(is_open)


def test_only_the_blank_that_decides_is_blamed() -> None:
    file = a_file(a_rule(must={"all_of": [{"any_of": [CHIPS, {"unitized": True}]}, DARK]}))
    # chips: the alternative holds whatever "unitized" is, so only the dark is asked for
    assert blamed(file, {"product": "chips"}) == ["dark"]
    assert blamed(file, {"dark": True, "product": "sawlogs"}) == ["unitized"]


def test_several_tests_of_one_column_must_all_hold() -> None:
    must = {"haul_radius_miles": {"more_than": 0, "at_most": 1}}
    assert held(must, {"haul_radius_miles": 1}, {"haul_radius_miles": 0}, {"haul_radius_miles": 2}) == [YES, NO, NO]


def test_a_list_of_words_can_be_a_limit() -> None:
    counties = a_limit({"words": ["Henry", "Cobb"]})
    must = {"county": {"none_of": {"limit": "metro"}}}
    assert held(must, {"county": "Warren"}, {"county": "Cobb"}, {}, metro=counties) == [YES, NO, OPEN]


def test_a_range_of_weight_is_judged_at_both_ends() -> None:
    rule = a_rule(examines="axle_groups", must={"group_weight_lb": {"at_most": {"limit": LIMIT}}})
    file = a_file(rule, **{LIMIT: a_limit(34_000)})
    rows = [{"group_weight_lb": w} for w in ([0, 34_000], [34_001, 90_000], [0, 34_001], 34_000)]
    assert outcomes(file, *rows) == [YES, NO, OPEN, YES]
    assert blamed(file, rows[2]) == ["group_weight_lb"]


def test_guarded_wants_the_whole_uncertainty_on_one_side() -> None:
    # 80,000: 79,500 + 500 = 80,000 inside; 79,501 + 500 = 80,001 straddles; 80,501 - 500 = 80,001 outside
    rows = [{"gross_weight_lb": w, "scale_uncertainty_lb": 500} for w in (79_500, 79_501, 80_500, 80_501)]
    guarded = a_file(a_rule(decision="guarded"))
    assert outcomes(guarded, *rows) == [YES, "inconclusive", "inconclusive", NO]
    assert outcomes(a_file(), *rows) == [YES, YES, NO, NO]
    assert blamed(guarded, {"gross_weight_lb": 70_000}) == ["scale_uncertainty_lb"]
