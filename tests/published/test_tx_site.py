"""Texas's harvest-site figures: rows typed here from the printed statements and judged by the rule files.

Printed statements: the state forest service's question-and-answer columns on its handbook (month and year beside each
row), a logger-training page on the same handbook, 4 TAC 215.13, and the state agency's table to 30 TAC 327.4.
"""

from __future__ import annotations

from typing import Any

import pytest

from auditor.rules.models import RuleFile
from auditor.rules.reading import read_rules
from auditor.rules.statements import statements
from tests.rules.small import outcomes

SITE = ("streamside", "crossings", "trails", "fuel")
FILES = {f.topic: f for f in read_rules(["US-TX"]).files if f.place == "US-TX" and f.topic in SITE}
YES, NO, BREACH = "conformity", "departure from practice", "nonconformity"
OUT, BLANK, OPEN = "not applicable", "not evidenced", "inconclusive"
PERENNIAL: dict[str, Any] = {"stream_kind": "stream", "stream_class": "perennial"}
INTERMITTENT: dict[str, Any] = {"stream_kind": "stream", "stream_class": "intermittent"}
EPHEMERAL: dict[str, Any] = {"stream_kind": "stream", "stream_class": "ephemeral"}


def alone(name: str) -> RuleFile:
    """The file of a rule named topic/rule, with that rule alone."""
    topic, _, rule = name.partition("/")
    file = FILES[topic]
    (one,) = [r for r in file.rules if r.id == rule]
    return file.model_copy(update={"rules": [one]})


def verdict(name: str, **row: Any) -> str:
    """What becomes of one row under one rule."""
    (found,) = outcomes(alone(name), row)
    return found


def test_every_topic_has_its_file() -> None:
    assert set(FILES) == set(SITE)


@pytest.mark.parametrize(
    ("stream", "width", "expected"),
    [
        # Columns of 2001 to 2009, trivia of July 2009: 50 ft on each side, perennial and intermittent.
        (PERENNIAL, 50, YES), (PERENNIAL, 49.9, NO), (PERENNIAL, 50.1, YES),
        (INTERMITTENT, 50, YES), (INTERMITTENT, 49.9, NO),
        # Intermittent: above the head of the stream too.
        (INTERMITTENT | {"side": "head"}, 49.9, NO),
        # Column of June 2002: lakes, ponds and reservoirs alike.
        ({"stream_kind": "lake_or_pond"}, 49.9, NO), ({"stream_kind": "reservoir"}, 50, YES),
        # Column of July 2007: no fixed width for ephemeral streams.
        (EPHEMERAL, 0, OUT),
        # Column of December 2003: a dredged stream only where its flow makes it perennial or intermittent.
        ({"stream_kind": "ditch_or_canal", "once_natural": True, "stream_class": "intermittent"}, 10, NO),
        ({"stream_kind": "ditch_or_canal", "once_natural": True, "stream_class": "ephemeral"}, 10, OUT),
        ({"stream_kind": "ditch_or_canal", "once_natural": False, "stream_class": "intermittent"}, 10, OUT),
    ],
)  # fmt: skip
def test_zone_width(stream: dict[str, Any], width: float, expected: str) -> None:
    assert verdict("streamside/zone-width", zone_width_ft=width, width_doubt_ft=0, **stream) == expected


def test_widths_run_level_from_the_bank() -> None:
    # Trivia of July 2009: level distance; 4 TAC 215.13(2): from each bank.
    stated = FILES["streamside"].definitions["zone_width"].model_extra
    assert stated == {"along": "horizontal", "start": "bank"}


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        # Columns of March 2003 and March 2009: 50 ft2/acre; half of the crowns only where that cannot be measured.
        ({"basal_area_ft2_per_ac": 50, "basal_area_uncertainty_ft2_per_ac": 0}, YES),
        ({"basal_area_ft2_per_ac": 49.9, "basal_area_uncertainty_ft2_per_ac": 0}, NO),
        ({"canopy_kept_pct": 50}, YES),
        ({"canopy_kept_pct": 49.9}, BLANK),
        ({"basal_area_ft2_per_ac": 40, "basal_area_uncertainty_ft2_per_ac": 0, "canopy_kept_pct": 90}, NO),
        # By hand: five "in" trees of a 10-factor prism on average are 50; four are 40, and 40 + 12 lies above 50.
        ({"basal_area_ft2_per_ac": 4 * 10, "basal_area_uncertainty_ft2_per_ac": 12}, OPEN),
    ],
)
def test_residual_cover(row: dict[str, Any], expected: str) -> None:
    assert verdict("streamside/zone-cover", **PERENNIAL, **row) == expected


@pytest.mark.parametrize(
    ("stream_class", "flow", "expected"),
    [
        # Columns of July, September and October 2007: at least 90 percent; at least 30 percent; below 30 percent.
        ("perennial", 90, YES), ("perennial", 89, BLANK), ("intermittent", 30, YES), ("intermittent", 29, NO),
        ("intermittent", 89, YES), ("intermittent", 90, NO), ("ephemeral", 29, YES), ("ephemeral", 30, NO),
    ],
)  # fmt: skip
def test_flow_divides_the_classes(stream_class: str, flow: float, expected: str) -> None:
    rule = "perennial-class" if stream_class == "perennial" else "other-class"
    assert verdict(f"streamside/{rule}", stream_class=stream_class, flow_share_pct=flow) == expected


def test_five_signs_make_it_perennial_where_flow_is_not_known() -> None:
    # Column of October 2007: five or more of the listed signs.
    assert verdict("streamside/perennial-class", stream_class="perennial", sign_count=5) == YES
    assert verdict("streamside/perennial-class", stream_class="perennial", sign_count=4, flow_share_pct=50) == NO


@pytest.mark.parametrize(("kind", "distance", "expected"), [
    # Column of September 2001: firelanes follow the outer edge. Trivia of July 2009: to the toe of a road or trail.
    ("firelane", 50, YES), ("firelane", 49, NO), ("skid_trail", 49, NO), ("road", 51, YES),
])  # fmt: skip
def test_disturbed_ground_lies_outside_the_least_zone(kind: str, distance: float, expected: str) -> None:
    row = {"disturbance_kind": kind, "distance_from_bank_ft": distance, "distance_doubt_ft": 0}
    assert verdict("streamside/disturbed-ground", **PERENNIAL, at_crossing=False, **row) == expected


def test_fertiliser_and_slash_stay_out() -> None:
    # Column of August 2002 (fertiliser); logger lesson (debris pushed into zones).
    near = {"distance_from_bank_ft": 49, "distance_doubt_ft": 0, **PERENNIAL}
    assert verdict("streamside/fertiliser", disturbance_kind="fertiliser", **near) == NO
    assert verdict("streamside/slash-piles", disturbance_kind="slash_pile", **near) == NO


# 4 TAC 215.13, copy of 2015.
@pytest.mark.parametrize(("width", "expected"), [(50, YES), (49.9, BREACH)])  # (2): 50 ft
def test_tax_width(width: float, expected: str) -> None:
    assert verdict("streamside/tax-width", zone_new=True, zone_width_ft=width, width_doubt_ft=0) == expected
    assert verdict("streamside/tax-width", zone_width_ft=width, width_doubt_ft=0) == OUT


@pytest.mark.parametrize(
    ("age", "trees", "basal_area", "expected"),
    [
        # (5): age 10 and 300 trees an acre, or 50 ft2/acre; whether the age binds the second is not clear.
        (10, 300, 0, YES), (9, 300, 0, BREACH), (10, 299, 0, BREACH), (10, 0, 50, YES), (10, 0, 49, BREACH), (9, 0, 50, OPEN),
    ],
)  # fmt: skip
def test_tax_stocking(age: float, trees: float, basal_area: float, expected: str) -> None:
    row = {"stand_age_years": age, "trees_per_ac": trees, "basal_area_ft2_per_ac": basal_area}
    sure = {"uncertainty_trees_per_ac": 0, "basal_area_uncertainty_ft2_per_ac": 0}
    assert verdict("streamside/tax-stocking", zone_new=True, **row, **sure) == expected


@pytest.mark.parametrize(
    ("gap", "shows", "expected"), [(100, False, YES), (101, False, BREACH), (500, True, OUT)]
)  # (4)
def test_tax_marking(gap: float, shows: bool, expected: str) -> None:
    row = {"zone_new": True, "marking_gap_ft": gap, "edge_self_evident": shows}
    assert verdict("streamside/tax-marking", **row) == expected


def test_tax_rule_and_practice_do_not_mix() -> None:
    # 4 TAC 215.13 is a regulation for the owner; the handbook is a voluntary practice.
    for rule in FILES["streamside"].rules:
        tax = rule.id.startswith("tax-")
        assert (rule.standing == "regulation") == (rule.source == "tax-rule") == (rule.duty_of == "landowner") == tax
        if tax:
            assert "zone_new" in repr(rule.when)
            assert verdict(f"streamside/{rule.id}", **{"holds:management_plan": False}) == OUT


@pytest.mark.parametrize(
    ("rule", "row", "expected"),
    [
        # Column of November 2002: never dirt; brush or logs lengthwise if they come out again.
        ("dirt-fill", {"temporary": True, "crossing_type": "dirt_fill"}, NO),
        ("dirt-fill", {"temporary": True, "crossing_type": "log_or_brush_fill"}, YES),
        ("temporary-removed", {"temporary": True, "crossing_type": "log_or_brush_fill", "fill_removed": False}, NO),
        # Column of November 2012: crossing and approaches at 90 degrees; straight reach, low stable banks.
        ("angle", {"temporary": True, "crossing_angle_deg": 90}, YES),
        ("angle", {"temporary": True, "crossing_angle_deg": 89}, NO),
        ("approach-angle", {"temporary": True, "approach_angle_deg": 89}, NO),
        ("place", {"existing": False, "straight_reach": False, "banks_low_stable": True}, NO),
        # Column of March 2013: each end at least 1 ft beyond the fill; straight reach, firm bed.
        ("pipe-length", {"beyond_fill_ft": 1}, YES), ("pipe-length", {"beyond_fill_ft": 0.9}, NO),
        ("culvert-place", {"crossing_type": "culvert", "straight_reach": True, "firm_bottom": False}, NO),
        # Column of March 2009: approaches restored and held.
        ("approaches-covered", {"temporary": True, "cover": "none"}, NO),
    ],
)  # fmt: skip
def test_crossings(rule: str, row: dict[str, Any], expected: str) -> None:
    assert verdict(f"crossings/{rule}", **row) == expected


WING_DITCHES = [
    # Column of September 2000, from pages 37 and 38: 2 to 5 percent 200 ft; 5 to 10 percent 100 ft; over 10 percent 75 ft.
    (2, 200), (3, 200), (4.9, 200), (5.1, 100), (8, 100), (10, 100), (10.1, 75), (20, 75),
]  # fmt: skip


@pytest.mark.parametrize(("grade", "printed"), WING_DITCHES)
def test_wing_ditch_spacing(grade: float, printed: float) -> None:
    def gap(length: float) -> str:
        row = {"drain_group": "turnouts", "gap_grade_pct": grade, "gap_ft": length, "gap_uncertainty_ft": 0}
        return verdict("trails/turnout-spacing", from_ft=100, to_ft=100 + length, length_ft=5000, **row)

    assert [gap(printed - 1), gap(printed), gap(printed + 1)] == [YES, YES, NO]


def test_at_five_percent_the_printed_classes_overlap() -> None:
    def gap(length: float) -> str:
        row = {"drain_group": "turnouts", "gap_grade_pct": 5, "gap_ft": length, "gap_uncertainty_ft": 0}
        return verdict("trails/turnout-spacing", from_ft=100, to_ft=100 + length, length_ft=5000, **row)

    assert [gap(100), gap(101), gap(200), gap(201)] == [YES, OPEN, OPEN, NO]


# Column of March 2013: 400 / S + 100, S the grade as a whole number of percent. By hand:
FORMULA = [(2, 400 / 2 + 100), (4, 100 + 100), (8, 50 + 100), (10, 40 + 100), (16, 25 + 100), (20, 20 + 100)]


@pytest.mark.parametrize(("grade", "printed"), FORMULA)
def test_a_stretch_without_any_drain_is_held_against_the_formula(grade: float, printed: float) -> None:
    def gap(length: float) -> str:
        row = {"drain_group": "all", "gap_grade_pct": grade, "gap_ft": length, "gap_uncertainty_ft": 0}
        return verdict("trails/drain-spacing", **row)

    assert [gap(printed - 1), gap(printed), gap(printed + 1)] == [YES, YES, NO]


def test_a_road_without_wing_ditches_is_not_held_against_their_table() -> None:
    row = {"gap_grade_pct": 8, "gap_ft": 140, "gap_uncertainty_ft": 0, "from_ft": 0, "to_ft": 140, "length_ft": 140}
    assert verdict("trails/turnout-spacing", drain_group="turnouts", **row) == OUT
    assert verdict("trails/drain-spacing", drain_group="all", **row) == YES


@pytest.mark.parametrize(("depth", "length", "expected"), [
    # Column of January 2003: more than 6 in over more than 50 ft, both.
    (6, 80, YES), (6.1, 50, YES), (6.1, 50.1, NO), (12, 20, YES),
])  # fmt: skip
def test_excessive_ruts(depth: float, length: float, expected: str) -> None:
    assert FILES["trails"].definitions["ruts"].model_extra == {"over_depth_in": 6}
    assert verdict("trails/ruts-off-trails", mean_depth_in=depth, length_ft=length, in_wetland=False) == expected
    longest = length if depth > 6 else 0
    assert verdict("trails/excessive-ruts", longest_rut_ft=longest, in_wetland=False) == expected


def test_wetland_ruts_have_no_fixed_depth() -> None:
    # Training page quoting the handbook: natural flow not held back or changed.
    assert verdict("trails/ruts-off-trails", mean_depth_in=20, length_ft=200, in_wetland=True) == OUT
    assert verdict("trails/wetland-ruts", changes_flow=True, in_wetland=True) == NO


@pytest.mark.parametrize(
    ("rule", "row", "expected"),
    [
        # Columns of February 2004 and August 2013: broad-based dips to 12 percent, reverse grade 3 percent;
        # rolling dips to 15 percent, reverse grade 3 to 8 percent over 10 to 15 ft.
        ("broad-based-dip-grade", {"drain_kind": "broad_based_dip", "local_grade_pct": 12}, YES),
        ("broad-based-dip-grade", {"drain_kind": "broad_based_dip", "local_grade_pct": 12.1}, NO),
        ("rolling-dip-grade", {"drain_kind": "rolling_dip", "local_grade_pct": 15}, YES),
        ("rolling-dip-grade", {"drain_kind": "rolling_dip", "local_grade_pct": 15.1}, NO),
        ("broad-based-dip-reverse", {"drain_kind": "broad_based_dip", "reverse_grade_pct": 2.9}, NO),
        ("rolling-dip-shape", {"drain_kind": "rolling_dip", "reverse_grade_pct": 3, "reverse_length_ft": 15}, YES),
        ("rolling-dip-shape", {"drain_kind": "rolling_dip", "reverse_grade_pct": 8, "reverse_length_ft": 10}, YES),
        ("rolling-dip-shape", {"drain_kind": "rolling_dip", "reverse_grade_pct": 8.1, "reverse_length_ft": 10}, NO),
        ("rolling-dip-shape", {"drain_kind": "rolling_dip", "reverse_grade_pct": 8, "reverse_length_ft": 15.1}, NO),
        # Column of December 2009: roads steeper than 10 percent, or wet or erodible ground, in dry weather only.
        ("dry-weather", {"segment_kind": "haul_road", "mean_grade_pct": 10.1, "used_wet": True}, NO),
        ("dry-weather", {"segment_kind": "haul_road", "mean_grade_pct": 10, "wet_or_erodible": False, "used_wet": True}, OUT),
        ("dry-weather", {"segment_kind": "haul_road", "mean_grade_pct": 1, "wet_or_erodible": True, "used_wet": True}, NO),
        # Columns of September 2000 and August 2011: not straight into streams, gullies or ditches.
        ("turnout-outlet", {"drain_kind": "turnout", "outlet": "channel"}, NO),
        ("turnout-outlet", {"drain_kind": "turnout", "outlet": "forest_floor"}, YES),
        # Column of December 2012: legumes only with grasses.
        ("legumes", {"species": "legumes"}, NO), ("legumes", {"species": "grass_and_legume_mix"}, YES),
    ],
)  # fmt: skip
def test_roads_and_dips(rule: str, row: dict[str, Any], expected: str) -> None:
    assert verdict(f"trails/{rule}", **row) == expected


@pytest.mark.parametrize(("height", "expected"), [(11.9, NO), (12, YES), (24, YES), (24.1, NO)])
def test_water_bar_height(height: float, expected: str) -> None:
    # Logger-training page on water bars: 1 to 2 ft high, tied into the bank, outlet to the undisturbed floor.
    row = {"drain_kind": "water_bar", "upper_end_tied_in": True, "outlet": "forest_floor"}
    assert verdict("trails/water-bar-shape", height_in=height, **row) == expected


@pytest.mark.parametrize(
    ("distance", "expected"),
    # Columns of June 2002 and April 2007: 50 ft from the edge of the zone of 50 ft, so 100 ft from the bank.
    [(50 + 50, YES), (99, NO), (50, NO)],
)
def test_decks_are_measured_from_the_edge_of_the_least_zone(distance: float, expected: str) -> None:
    row = {"distance_from_bank_ft": distance, "distance_doubt_ft": 0, **PERENNIAL}
    assert verdict("trails/deck-distance", **row) == expected
    # Column of June 2002: a zone left wider for another purpose does not push the deck back.
    assert verdict("trails/deck-distance", distance_from_zone_ft=0, **row) == expected


@pytest.mark.parametrize(
    ("substance", "exempt", "amount"),
    [
        # Agency table to 30 TAC 327.4: 25 gal; 5 barrels of 42 gal from an exempt tank, or of other oil.
        ("diesel", False, 25), ("used_oil", False, 25), ("diesel", True, 5 * 42), ("vegetable_oil", False, 5 * 42),
        ("crude_oil", False, 5 * 42),
    ],
)  # fmt: skip
def test_reportable_amounts_on_land(substance: str, exempt: bool, amount: float) -> None:
    def late(gallons: float) -> str:
        row = {"substance": substance, "from_exempt_tank": exempt, "to_water": False, "sheen": False}
        return verdict("fuel/spill-report", volume_gal=gallons, hours_to_report=25, **row)

    assert [late(amount - 0.1), late(amount), late(amount + 0.1)] == [OUT, BREACH, BREACH]


@pytest.mark.parametrize(("hours", "expected"), [(23.9, YES), (24, YES), (24.1, BREACH)])  # 30 TAC 327: within 24 h
def test_hours_to_report(hours: float, expected: str) -> None:
    row = {"substance": "hydraulic_oil", "from_exempt_tank": False, "to_water": True, "sheen": True, "volume_gal": 0.5}
    assert verdict("fuel/spill-report", hours_to_report=hours, **row) == expected


MARKS_SEEN = {
    # Columns and lessons restate the handbook; the tax rule and the agency's table were read.
    "handbook": "secondary", "logger-lesson": "secondary", "water-bar-lesson": "secondary",
    "tax-rule": "read", "30-tac-327": "read",
    "implementation-report": "read",  # rounds of 2002 and 2008 of the state's own monitoring report
}  # fmt: skip


@pytest.mark.parametrize("topic", SITE)
def test_no_mark_is_promoted(topic: str) -> None:
    found = list(statements(FILES[topic]))
    assert found
    assert {(s.source, s.verified) for s in found} <= set(MARKS_SEEN.items())


@pytest.mark.parametrize("topic", SITE)
def test_only_regulations_bind(topic: str) -> None:
    for rule in FILES[topic].rules:
        assert (rule.standing in ("voluntary practice", "guidance")) == (MARKS_SEEN[rule.source] == "secondary")


def test_what_is_known_from_memory_alone_is_no_limit() -> None:
    # From memory: rolling dips every 180, 150, 135 and 120 ft. Not reached: water bars, broad-based dips, culverts.
    missing = " ".join(entry.what for file in FILES.values() for entry in file.not_found)
    for word in ("rolling dips", "water bars", "broad-based dips", "culvert sizes"):
        assert word in missing
    values = {v.value for file in FILES.values() for limit in file.limits.values() for v in limit.versions}
    assert not values & {180, 150, 135, 120}


def test_a_stretch_that_other_drains_relieve_is_no_distance_between_wing_ditches() -> None:
    # Column of September 2000: 100 ft at 8 percent. A dip in between turns the water off as well.
    row = {"drain_group": "turnouts", "gap_grade_pct": 8, "gap_ft": 400, "gap_uncertainty_ft": 0}
    for between, expected in ((0, NO), (1, OUT)):
        found = verdict(
            "trails/turnout-spacing", from_ft=100, to_ft=500, length_ft=5000, other_drain_count=between, **row
        )
        assert found == expected


def test_every_limit_has_a_row_above() -> None:
    assert {f"{topic}/{name}" for topic, file in FILES.items() for name in file.limits} == {
        "streamside/zone_width_ft", "streamside/basal_area_ft2_per_ac", "streamside/canopy_kept_pct",
        "streamside/perennial_flow_pct", "streamside/intermittent_flow_pct", "streamside/perennial_signs",
        "streamside/tax_zone_width_ft", "streamside/tax_stand_age_years", "streamside/tax_trees_per_ac",
        "streamside/tax_basal_area_ft2_per_ac", "streamside/tax_age_with_basal_area_years", "streamside/tax_marking_gap_ft",
        "crossings/square_deg", "crossings/beyond_fill_ft",
        "trails/turnout_spacing_ft", "trails/table_from_pct", "trails/cross_drain_spacing_ft", "trails/drain_spacing_ft",
        "trails/rut_depth_in", "trails/rut_length_ft", "trails/broad_based_dip_grade_pct", "trails/rolling_dip_grade_pct",
        "trails/broad_based_dip_reverse_pct", "trails/rolling_dip_least_reverse_pct", "trails/rolling_dip_most_reverse_pct",
        "trails/rolling_dip_least_length_ft", "trails/rolling_dip_most_length_ft", "trails/dry_weather_grade_pct",
        "trails/water_bar_least_height_in", "trails/water_bar_most_height_in", "trails/least_zone_ft",
        "trails/beyond_zone_ft", "trails/deck_distance_ft", "fuel/reportable_gal", "fuel/report_hours",
    }  # fmt: skip
