"""Mississippi's figures in the rule files against the Code, typed here again from the sections named beside them."""

from datetime import date

import pytest

from auditor.measures.weight import bridge_limit_lb
from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

FILES = {f.id: f for f in read_rules(["US-MS"]).files if f.place == "US-MS" and f.topic in TOPIC_GROUPS["haul"]}

FIGURES = [
    # Miss. Code 63-5-27(2): 20,000 lb. (3): 34,000 lb. 63-5-33(3): 40,000 lb on a tandem of a forest haul.
    ("weight", "general_single_axle_lb", "base", "value", 20_000),
    ("weight", "single_axle_limit_lb", "base", "limit", "general_single_axle_lb"),
    ("weight", "tandem_limit_lb", "base", "value", 34_000),
    ("weight", "forest_tandem_lb", "base", "value", 40_000),
    ("weight", "tandem_limit_lb", "forest-tandem", "limit", "forest_tandem_lb"),
    # 63-5-33(3): 10 percent with a harvest permit, 5 without, on tandem or axle.
    *(("weight", f"{a}_limit_lb", "harvest-permit-10", "percent_more", 10) for a in ("single_axle", "tandem")),
    *(("weight", f"{a}_limit_lb", "tolerance-5", "percent_more", 5) for a in ("single_axle", "tandem", "axle_sum")),
    # 63-5-33(3), (5)(a) in the text of 1 July 2018 to 30 June 2023: 84,000 lb.
    *(("weight", f"{g}_lb", "harvest-permit-84000", "value", 84_000) for g in ("gross_limit", "county_road_gross")),
    ("weight", "gross_limit_lb", "base", "limit", "full_road_gross_lb"),
    ("weight", "gross_limit_lb", "low-weight-road", "limit", "low_road_gross_lb"),
    ("weight", "county_road_gross_lb", "base", "field", "designated_gross_lb"),
    # 63-5-33(1): roads of full weight 80,000 lb; Table III begins above 8 ft. (2): two tandems, 2 x 34,000 lb.
    ("weight", "full_class_lb", "base", "value", 80_000),
    ("weight", "tandem_spread_in", "base", "value", 8 * 12),
    ("weight", "two_tandem_limit_lb", "base", "value", 2 * 34_000),
    ("weight", "group_limit_lb", "two-tandems", "limit", "two_tandem_limit_lb"),
    ("weight", "group_limit_lb", "forest-haul", "limit", "forest_group_limit_lb"),
    # 63-5-13(1): 8.5 ft. (2): 9.5 ft. 63-5-17: 13 ft 6 in. 63-5-19(1): 40 ft, (2): 53 ft, (6): 28 ft. 63-5-23: 3 ft.
    ("size", "width_limit_in", "base", "value", 8.5 * 12),
    ("size", "width_limit_in", "long-product", "value", 9.5 * 12),
    ("size", "height_limit_ft", "base", "value", 13 + 6 / 12),
    ("size", "single_vehicle_length_ft", "base", "value", 40),
    ("size", "semitrailer_length_ft", "base", "value", 53),
    ("size", "beyond_rear_axle_limit_ft", "base", "value", 28),
    ("size", "front_overhang_limit_ft", "base", "value", 3),
    # 63-7-47(1): 4 ft, flag of 16 in.
    ("size", "projecting_load_ft", "base", "value", 4),
    ("size", "flag_size_in", "base", "value", 16),
    # 63-5-19(6): projecting 4 ft, two chains, wire ropes or straps.
    ("securement", "projecting_load_ft", "base", "value", 4),
    ("securement", "tiedowns_needed", "base", "value", 2),
]
LESSERS = {
    # 63-5-33(1): Table III, 80,000 at most. 63-5-34: the same, 12 ft longer.
    ("full_road_gross_lb", "base"): 80_000,
    ("full_road_gross_lb", "twelve-feet"): 80_000,
    # 63-5-33(3), from 1 July 2023: 10 percent, 88,000 at most.
    ("gross_limit_lb", "harvest-permit-88000"): 88_000,
    ("county_road_gross_lb", "harvest-permit-88000"): 88_000,
    # 63-5-33(3): 5 percent, at most 80,000 and 2 percent; nothing above 80,000 with a scale at the origin.
    ("gross_limit_lb", "tolerance-5"): 80_000 * 102 / 100,
    ("gross_limit_lb", "tolerance-5-scale"): 80_000,
    ("county_road_gross_lb", "tolerance-5"): 80_000,
}
OTHERS = {
    ("weight", "low_road_gross_lb", "base"),
    ("weight", "axle_sum_limit_lb", "base"),
    ("weight", "forest_axle_sum_lb", "base"),
    ("weight", "forest_group_limit_lb", "base"),
    ("weight", "group_limit_lb", "base"),
    ("size", "night_projection_ft", "base"),
    ("tickets", "ticket_days", "base"),
}


def arms(limit: Limit) -> dict[str, Shape]:
    """The first version of a limit, its allowances and its caps."""
    return {"base": limit.versions[0]} | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


def weight(limit: str, arm: str = "base") -> Shape:
    """One arm of a limit of the weight file."""
    return arms(FILES["us-ms/weight"].limits[limit])[arm]


@pytest.mark.parametrize(("file", "limit", "arm", "shape", "figure"), FIGURES)
def test_figure_of_the_statute(file, limit, arm, shape, figure):
    entry = arms(FILES[f"us-ms/{file}"].limits[limit])[arm]
    assert entry.kind == shape
    assert getattr(entry, shape) == figure


@pytest.mark.parametrize(("place", "most"), LESSERS.items())
def test_the_most_that_a_lesser_of_two_can_be(place, most):
    assert [s.value for s in weight(*place).lesser_of if s.value is not None] == [most]


def test_no_figure_of_the_files_is_left_out():
    typed = {(file, limit, arm) for file, limit, arm, _, _ in FIGURES} | {("weight", *p) for p in LESSERS} | OTHERS
    held = {
        (file.topic, name, arm) for file in FILES.values() for name, limit in file.limits.items() for arm in arms(limit)
    }
    assert held == typed


def test_rows_of_the_tables_for_lighter_roads():
    # 63-5-29: two axles 24,000; Table I top 57,650, 29 ft 51,800, 20 ft 43,900. 63-5-31: 27,000; top 64,650.
    assert [r.value for r in weight("low_road_gross_lb").table.rows] == [24_000, 57_650, 51_800, 43_900, 27_000, 64_650]


@pytest.mark.parametrize(
    ("axles", "feet", "pounds"),
    # Cells of Table III as printed.
    [
        (5, 36, 70_500), (5, 38, 71_500), (5, 40, 73_000), (5, 48, 78_000), (5, 51, 80_000), (3, 13, 45_500),
        (6, 40, 78_000), (6, 43, 80_000), (4, 57, 80_000),
    ],
)  # fmt: skip
def test_cells_of_table_iii(axles, feet, pounds):
    held = weight("group_limit_lb").measure
    assert bridge_limit_lb(axles, feet, **held.parameters) == pounds


@pytest.mark.parametrize(
    ("axles", "feet", "pounds"),
    # 63-5-34 and the cells above: 39 ft count as 51 ft, 36 as 48, 31 as 43, 45 as 57.
    [(5, 39, 80_000), (5, 36, 78_000), (6, 31, 80_000), (4, 45, 80_000)],
)
def test_twelve_feet_are_added(axles, feet, pounds):
    held = next(s.measure for s in weight("full_road_gross_lb", "twelve-feet").lesser_of if s.measure)
    assert bridge_limit_lb(axles, feet, **held.parameters) == pounds


def test_twelve_feet_are_for_vehicles_of_more_than_29_ft():
    assert weight("full_road_gross_lb", "twelve-feet").where == {"outer_span_ft": {"more_than": 29}}


@pytest.mark.parametrize("limit", ["gross_limit_lb", "county_road_gross_lb"])
def test_the_permit_weight_changes_on_1_july_2023(limit):
    # History notes of 63-5-33: 2018 ch. 425 on 1 July 2018; 2021 ch. 478 and 2022 ch. 305 on 1 July 2023.
    older, newer = weight(limit, "harvest-permit-84000"), weight(limit, "harvest-permit-88000")
    assert (older.from_, older.until) == (date(2018, 7, 1), date(2023, 6, 30))
    assert (newer.from_, newer.until) == (date(2023, 7, 1), None)
    for permit in (older, newer):
        assert (permit.form, permit.needs.document, permit.needs.state) == ("permit", "harvest_permit", "US-MS")


def test_percentages_on_a_tandem_run_on_the_forest_figure():
    # 63-5-33(3): 40,000 x 1.10 = 44,000 with a permit, 40,000 x 1.05 = 42,000 without.
    for arm, pounds in (("harvest-permit-10", 44_000), ("tolerance-5", 42_000)):
        entry = weight("tandem_limit_lb", arm)
        assert entry.than == "forest_tandem_lb"
        assert weight(entry.than).value * (100 + entry.percent_more) / 100 == pounds


def test_the_daylight_rule_and_the_year_in_doubt():
    # 63-5-19(6)-(7): in force at least to 30 June 2022; gone on 1 July 2022 or on 1 July 2023.
    sure, doubt = FILES["us-ms/size"].limits["night_projection_ft"].versions
    assert (sure.value, sure.until) == (4, date(2022, 6, 30))
    assert (doubt.from_, doubt.until) == (date(2022, 7, 1), date(2023, 6, 30))
    (rule,) = [r for r in FILES["us-ms/size"].rules if r.id == "daylight-only"]
    assert rule.until == date(2023, 6, 30)


def test_the_tiedown_count_binds_projecting_loads_only():
    (rule,) = FILES["us-ms/securement"].rules
    assert rule.when == {"rear_overhang_ft": {"at_least": {"limit": "projecting_load_ft"}}}


def test_the_next_business_day_is_between_one_and_five_days():
    # 75-27-113: close of the next business day; a weekend with two holidays makes five.
    (version,) = FILES["us-ms/tickets"].limits["ticket_days"].versions
    assert sorted(s.value for s in version.said) == [1, 2 + 2 + 1]


def test_what_a_tandem_is():
    # 63-5-27(3): more than 40 in and not more than 96 in.
    assert FILES["us-ms/weight"].definitions["axle_groups"].model_extra["tandem_spread_in"] == "(40, 96]"
