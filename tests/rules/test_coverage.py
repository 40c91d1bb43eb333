"""What the worked examples touch: small files worked by hand, and every value of the shipped ones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pytest

from auditor import cli
from auditor.check.example_coverage import FileCoverage, coverage_lines, example_coverage
from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook, read_rules
from tests.rules.small import CITED, LIMIT, a_cap, a_file, a_limit, a_rule, an_allowance

BASE = f"us-ga/weight/{LIMIT}/base"
UNREACHED: dict[str, str] = {
    "us-nc/streamside/window_ft/base": "the length of a window: examples give what was found in one",
    "us/weight/bridge_run_limit_lb/la-tridum, 80,000 by usc-23-127": "six axles on 50.5 ft or more: the formula gives more",
    "us/weight/bridge_run_limit_lb/la-tridum, 83,400 by la-73-503": "six axles on 50.5 ft or more: the formula gives more",
    "us/securement/half_if_it_applies_lb/base, row 250,000 where trailer_kind is pole; vehicle_type is combination": (
        "stands for no bound; one half of the weight is always the lesser"
    ),
    "us-nc/weight/axle_group_limit_lb/forest-products-90000, 38,000 by code-20-118": "the table never gives less",
    "us-va/weight/gross_limit_lb/forest-products-permit": "four axles: below the general gross that it would raise",
}
"""Values of shipped files that no example can reach, and why."""


def examples(*rows: Mapping[str, Any], expect: Sequence[str] = ()) -> list[dict[str, Any]]:
    told = expect or ["conformity"] * len(rows)
    return [
        {"situation": str(i), "on": "2026-05-04", "row": dict(row), "expect": e}
        for i, (row, e) in enumerate(zip(rows, told, strict=True))
    ]


def gross(*weights: float, **facts: Any) -> list[dict[str, Any]]:
    """Examples of these gross weights; what must come out does not matter to what they touch."""
    return examples(*({"gross_weight_lb": w, **facts} for w in weights))


def covered(file: RuleFile) -> FileCoverage:
    (found,) = example_coverage(Rulebook((file,)))
    return found


def of(limit: Mapping[str, Any], told: list[dict[str, Any]], **parts: Any) -> FileCoverage:
    return covered(a_file(a_rule(examples=told, **parts), **{LIMIT: limit}))


@pytest.mark.parametrize(
    ("weights", "missing"),
    [
        ((79_999, 80_000, 80_001), []),
        ((80_000, 80_001), ["under"]),
        ((79_999, 80_001), ["at"]),
        ((79_999, 80_000), ["over"]),
        # A step of a truck scale, 20 lb, is still just beside; a pound more is not.
        ((79_980, 80_000, 80_020), []),
        ((79_979, 80_000, 80_021), ["under", "over"]),
        ((60_000,), ["under", "at", "over"]),
    ],
)
def test_a_boundary_wants_an_example_under_at_and_over(weights: Sequence[float], missing: list[str]) -> None:
    found = of(a_limit(80_000), gross(*weights))
    assert found.untouched() == []
    assert found.missing().get(BASE, []) == missing


def test_without_examples_nothing_is_touched() -> None:
    found = of(a_limit(80_000), [])
    assert found.untouched() == [BASE]
    assert found.missing() == {BASE: ["under", "at", "over"]}


def test_an_example_out_of_scope_touches_nothing_that_the_rule_requires() -> None:
    told = examples({"gross_weight_lb": 80_000, "road_class": "private"}, expect=["not applicable"])
    found = of(a_limit(80_000), told, where={"road_class": {"none_of": ["private"]}})
    assert found.untouched() == [BASE]


def test_a_blank_value_reaches_the_limit_but_no_side_of_it() -> None:
    found = of(a_limit(80_000), examples({}, expect=["not evidenced"]))
    assert (found.untouched(), found.missing()[BASE]) == ([], ["under", "at", "over"])


def test_an_allowance_is_touched_only_where_it_speaks() -> None:
    limit = a_limit(80_000, allowances=[an_allowance("woods", value=84_000, where={"unitized": True})])
    without = of(limit, gross(80_000, unitized=False))
    assert without.untouched() == [f"us-ga/weight/{LIMIT}/woods"]
    # Where the condition is blank the limit may be either, so neither speaks.
    assert of(limit, gross(80_000)).untouched() == [BASE, f"us-ga/weight/{LIMIT}/woods"]
    within = of(limit, gross(83_999, 84_000, 84_001, unitized=True))
    assert f"us-ga/weight/{LIMIT}/woods" not in within.missing()
    assert within.untouched() == [BASE]


def test_an_allowance_that_adds_to_the_base_reaches_the_base_too_without_touching_its_boundary() -> None:
    more = an_allowance("woods", percent_more=5, than="base", where={"unitized": True})
    found = of(a_limit(80_000, allowances=[more]), gross(83_999, 84_000, 84_001, unitized=True))
    assert found.untouched() == []
    assert found.missing() == {BASE: ["under", "at", "over"]}


def test_a_cap_is_touched_where_it_lowers_the_limit() -> None:
    limit = a_limit(80_000, caps=[a_cap("county", value=56_000, where={"road_class": "county_road"})])
    found = of(limit, gross(55_999, 56_000, 56_001, road_class="county_road"))
    assert (found.untouched(), list(found.missing())) == ([BASE], [BASE])


def test_a_tolerance_has_a_boundary_of_its_own() -> None:
    tolerance = an_allowance("scale", "enforcement tolerance", percent_more=5, than="limit")
    name = f"us-ga/weight/{LIMIT}/scale"
    limit = a_limit(80_000, allowances=[tolerance])
    # 5 percent more than 80,000 lb is 84,000 lb.
    told = examples(*({"gross_weight_lb": w} for w in (83_999, 84_000, 84_001)), expect=["nonconformity"] * 3)
    found = of(limit, told)
    assert name not in found.missing()
    assert of(limit, gross(79_999, 80_000, 80_001)).missing() == {name: ["under", "at", "over"]}


@pytest.mark.parametrize("form", ["court defence", "penalty relief"])
def test_what_changes_no_outcome_is_not_counted(form: str) -> None:
    found = of(a_limit(80_000, allowances=[an_allowance("court", form, value=84_000)]), gross(80_000))
    assert list(found.entries) == [BASE]


def test_every_row_of_a_table_counts_by_itself() -> None:
    rows = [
        {"when": {"vehicle_type": "single_unit"}, "value": 60_000},
        {"when": {"vehicle_type": "combination"}, "value": 80_000},
    ]
    found = of(a_limit({"table": {"rows": rows}}), gross(59_999, 60_000, 60_001, vehicle_type="single_unit"))
    combination = f"{BASE}, row 80,000 where vehicle_type is combination"
    assert found.untouched() == [combination]
    assert list(found.missing()) == [combination]


def test_where_the_class_is_blank_no_single_row_speaks() -> None:
    rows = [{"when": {"unitized": True}, "value": 60_000}, {"when": {"unitized": False}, "value": 80_000}]
    found = of(a_limit({"table": {"rows": rows}}), gross(60_000))
    assert len(found.untouched()) == 2


def test_values_that_disagree_are_boundaries_each() -> None:
    said = [{"value": v, "source": "s", "verified": "read"} for v in (34_000, 36_000)]
    found = of(a_limit({"said": said}), gross(33_999, 34_000, 34_001, 36_001))
    assert found.missing() == {f"{BASE}, 36,000 by s": ["under", "at"]}


def test_of_the_lesser_of_two_the_one_that_gives_the_limit_is_touched() -> None:
    shape = {"lesser_of": [{"limit": "full_lb"}, {"value": 70_000}]}
    file = a_file(a_rule(examples=gross(69_999, 70_000, 70_001)), **{LIMIT: a_limit(shape), "full_lb": a_limit(80_000)})
    assert f"{BASE}, 70,000" not in covered(file).missing()
    assert "us-ga/weight/full_lb/base" in covered(file).missing()


def test_versions_are_told_apart_by_the_day_of_the_example() -> None:
    limit = {
        "means": "weight", "unit": "lb",
        "versions": [{"value": 80_000, "until": "2023-06-30", **CITED}, {"value": 84_000, "from": "2023-07-01", **CITED}],
    }  # fmt: skip
    found = of(limit, gross(83_999, 84_000, 84_001))
    assert found.untouched() == [f"us-ga/weight/{LIMIT}/base@until-2023-06-30"]


def test_limits_inside_a_sum_are_reached_and_have_no_boundary_where_nothing_is_held_against_them() -> None:
    shape = {"sum_of": [{"times": "single_axle_count", "of": "axle_lb"}]}
    file = a_file(
        a_rule(examples=gross(59_999, 60_000, 60_001, single_axle_count=3)),
        **{LIMIT: a_limit(shape), "axle_lb": a_limit(20_000)},
    )
    found = covered(file)
    assert found.untouched() == []
    assert list(found.boundaries) == [BASE]


def test_words_are_reached_where_they_decide() -> None:
    def told(**row: Any) -> FileCoverage:
        limits = {LIMIT: a_limit(80_000), "soft": a_limit({"words": ["Fern"]}, unit="words")}
        rule = a_rule(where={"county": {"one_of": {"limit": "soft"}}}, examples=gross(80_000, **row))
        return covered(a_file(rule, **limits))

    assert told(county="Fern").untouched() == []
    assert "us-ga/weight/soft/base" in told().untouched()
    assert "us-ga/weight/soft/base" not in told(county="Moss").boundaries


def test_lengths_are_just_beside_within_a_foot_and_heights_within_a_tenth() -> None:
    def missing(limit_ft: float, column: str, *values: float) -> dict[str, list[str]]:
        told = examples(*({column: v} for v in values))
        rule = a_rule(must={column: {"at_most": {"limit": LIMIT}}}, examples=told)
        return covered(a_file(rule, **{LIMIT: a_limit(limit_ft, unit="ft")})).missing()

    assert missing(53, "trailer_length_ft", 52, 53, 54) == {}
    assert missing(53, "trailer_length_ft", 51.9, 53, 54.1) == {BASE: ["under", "over"]}
    assert missing(13.5, "load_height_ft", 13.4, 13.5, 13.6) == {}
    assert missing(13.5, "load_height_ft", 13.3, 13.5, 13.7) == {BASE: ["under", "over"]}


def test_the_notes_name_what_is_missing_and_give_totals() -> None:
    limit = a_limit(80_000, allowances=[an_allowance("woods", value=84_000, where={"unitized": True})])
    file = a_file(a_rule(examples=gross(80_000, 80_001, unitized=False)), **{LIMIT: limit})
    assert list(coverage_lines(Rulebook((file,)))) == [
        f"Note: us-ga/weight/{LIMIT}/woods: no worked example",
        f"Note: {BASE}: no worked example just under it",
        "us-ga/weight: 0 of 2 boundaries touched, 1 of 2 values reached",
    ]


def test_the_command_adds_notes_and_stays_clean(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["rules", "check", "us-sc", "--coverage"]) == 0
    out = capsys.readouterr().out
    assert "us-sc/weight: 19 of 19 boundaries touched, 19 of 19 values reached" in out
    assert "us/weight: " not in out
    assert out.splitlines()[-1].endswith(", 0 problems")
    assert cli.main(["rules", "check", "us-sc"]) == 0
    assert "boundaries touched" not in capsys.readouterr().out


@pytest.fixture(scope="module")
def shipped() -> list[FileCoverage]:
    return example_coverage(read_rules())


def test_every_value_of_the_shipped_files_is_reached_by_an_example(shipped: list[FileCoverage]) -> None:
    unreached = {address for found in shipped for address in found.untouched()}
    assert sorted(unreached - set(UNREACHED)) == [], "write an example, or say here why none can reach it"
    assert sorted(set(UNREACHED) - unreached) == [], "an example reaches it now: take it out of the list"
    assert sum(len(found.entries) for found in shipped) > len(UNREACHED)


def test_seven_of_eight_boundaries_of_the_shipped_files_are_touched_on_both_sides(shipped: list[FileCoverage]) -> None:
    lacking = sum(len(found.missing()) for found in shipped)
    assert lacking * 8 <= sum(len(found.boundaries) for found in shipped), "examples under, at and over are missing"
