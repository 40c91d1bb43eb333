"""Federal and common figures of the harvest site against the texts named beside them, typed here again."""

from __future__ import annotations

import pytest

from tests.published.site_rows import files_of, marks, outcomes, rule_of, sides

FILES = files_of("US", "crossings", "fuel", "trails", "residual_stand")
CROSSINGS, FUEL, TRAILS, STAND = (FILES[t] for t in ("crossings", "fuel", "trails", "residual_stand"))
CONFORMS, DEPARTS, BREACHES, OPEN = "conformity", "departure from practice", "nonconformity", "inconclusive"
OUT, UNSHOWN = "not applicable", "not evidenced"

# 33 CFR 323.4(a)(6): the fifteen items in their order, with what is judged of each.
PRACTICES = {
    "(i)": ["roads_fewest", "trails_fewest"], "(ii)": ["roads_away_from_water"], "(iii)": ["fill_passes_floods"],
    "(iv)": ["fill_stabilised"], "(v)": ["machines_within_fill"], "(vi)": ["vegetation_least_disturbed"],
    "(vii)": ["aquatic_life_passes"], "(viii)": ["borrow_from_upland"], "(ix)": ["listed_species_unharmed"],
    "(x)": ["breeding_and_spawning_areas_avoided"], "(xi)": ["water_intakes_avoided"],
    "(xii)": ["shellfish_areas_avoided"], "(xiii)": ["wild_and_scenic_rivers_avoided"], "(xiv)": ["fill_clean"],
    "(xv)": ["temporary_fill_removed"],
}  # fmt: skip
JUDGED = {r.at.removeprefix("(a)(6)"): r for r in CROSSINGS.rules if r.examines == "observations"}
# Service forester's handbook (2012), distances between water bars: grade in percent, ft.
BARS = {2: 250, 5: 135, 10: 80, 15: 60, 20: 45, 25: 40, 30: 35, 40: 30}


def test_there_are_fifteen():
    assert list(JUDGED) == list(PRACTICES)
    assert len(PRACTICES) == 15


@pytest.mark.parametrize("item", PRACTICES)
def test_practice_binds_in_waters_of_the_united_states(item):
    for question in PRACTICES[item]:
        no = {"question": question, "answer": "no"}
        rows = [{**no, "us_waters": True}, {**no, "us_waters": False}, no, {**no, "answer": "yes", "us_waters": True}]
        assert outcomes(CROSSINGS, JUDGED[item].id, rows) == [BREACHES, OUT, UNSHOWN, CONFORMS]


def test_items_ten_to_fifteen_are_recalled():
    # (i) to (ix) were read in reprints; (x) to (xv) recalled.
    recalled = {item for item, rule in JUDGED.items() if rule.verified == "memory"}
    assert recalled == {"(x)", "(xi)", "(xii)", "(xiii)", "(xiv)", "(xv)"}
    assert {rule.standing for rule in CROSSINGS.rules} == {"regulation"}
    assert {r.verified for r in CROSSINGS.rules if r.at == "(a)(6)(xv)"} == {"memory"}


def test_spill_plan_above_1320_gal():
    # 40 CFR 112.1(d)(2)(ii): 1,320 gal or less is exempt; only containers of 55 gal or more count.
    row = {"spill_could_reach_water": True, "holds:spill_plan": False}
    assert outcomes(FUEL, "spill-plan", sides("oil_capacity_gal", 1320, 1, **row)) == [CONFORMS, CONFORMS, BREACHES]
    far = {**row, "spill_could_reach_water": False, "oil_capacity_gal": 9000}
    assert outcomes(FUEL, "spill-plan", [far, {**far, "spill_could_reach_water": True, "holds:spill_plan": True}]) == [
        OUT,
        OUT,
    ]
    assert FUEL.definitions["spill_plan"].model_extra["least_gal"] == 55


def test_any_sheen_is_reported():
    # 40 CFR 110.3, 110.6: film, sheen, sludge; no amount; to the national response centre.
    wet = {"to_water": True, "sludge": False, "volume_gal": 0.1}
    rows = [
        {**wet, "sheen": True, "reported_to": [to]} for to in ("national_response_center", "state_environmental_agency")
    ]
    assert outcomes(FUEL, "sheen-report", rows) == [CONFORMS, BREACHES]
    assert outcomes(FUEL, "sheen-report", [{**wet, "sheen": False, "reported_to": ["landowner"]}]) == [OUT]


@pytest.mark.parametrize("grade", BARS)
def test_water_bars_of_the_handbook(grade):
    row = {"job_state": "US-VA", "segment_kind": "skid_trail", "gap_uncertainty_ft": 0, "gap_grade_pct": grade}
    assert outcomes(TRAILS, "bar-spacing", sides("gap_ft", BARS[grade], 1, **row)) == [CONFORMS, CONFORMS, DEPARTS]


def test_states_with_tables_of_their_own_are_left_to_them():
    row = {"segment_kind": "skid_trail", "gap_uncertainty_ft": 0, "gap_grade_pct": 10, "gap_ft": 300}
    rows = [{**row, "job_state": s} for s in ("US-SC", "US-TX", "US-NC")]
    assert outcomes(TRAILS, "bar-spacing", rows) == [OUT, OUT, DEPARTS]


def test_between_two_rows_on_a_straight_line():
    # 12 percent: 80 - 2 / 5 x (80 - 60) = 72 ft.
    row = {"job_state": "US-VA", "segment_kind": "skid_trail", "gap_uncertainty_ft": 0, "gap_grade_pct": 12}
    assert outcomes(TRAILS, "bar-spacing", [{**row, "gap_ft": ft} for ft in (71.9, 72.1)]) == [CONFORMS, DEPARTS]


def test_angle_of_water_bars():
    # Handbook 45 to 60 degrees from the centre line, guide page 30 to 45: 30 to 60 is accepted.
    rows = [{"drain_kind": "water_bar", "drain_angle_deg": a} for a in (29, 30, 45, 60, 61, 90)]
    assert outcomes(TRAILS, "bar-angle", rows) == [DEPARTS, CONFORMS, CONFORMS, CONFORMS, DEPARTS, DEPARTS]


def test_size_of_water_bars():
    # Guide page: at least 12 in from trench bottom to top; outlet at least 3 in lower than the upper end.
    for rule, column, figure in (("bar-height", "height_in", 12), ("bar-outlet-drop", "outlet_drop_in", 3)):
        rows = sides(column, figure, drain_kind="water_bar")
        assert outcomes(TRAILS, rule, rows) == [DEPARTS, CONFORMS, CONFORMS]


def test_skidding_distance_of_the_trade():
    # Common practice: about 1,500 ft at most for wheeled machines; no published source.
    assert outcomes(TRAILS, "skid-distance", sides("longest_skid_ft", 1500, 1)) == [CONFORMS, CONFORMS, DEPARTS]
    held = rule_of(TRAILS, "skid-distance")
    assert (held.verified, held.grade, held.standing) == ("memory", "minor", "common practice")


# A thinning contract of the Southeast: 70 ft2 an acre, 200 to 250 trees an acre, trails 75 ft apart; the rest invented.
PLANS = [
    ("basal-area-least", "basal_area_ft2_per_ac", "least_basal_area_ft2_per_ac", 70, True),
    ("basal-area-most", "basal_area_ft2_per_ac", "most_basal_area_ft2_per_ac", 90, False),
    ("trees-least", "trees_per_ac", "least_trees_per_ac", 200, True),
    ("trees-most", "trees_per_ac", "most_trees_per_ac", 250, False),
    ("damage", "damaged_pct", "most_damaged_pct", 5, False),
    ("stump-height", "tallest_stump_in", "highest_stump_in", 6, False),
    ("trail-spacing", "trail_spacing_ft", "planned_trail_spacing_ft", 75, True),
]


@pytest.mark.parametrize(("rule", "column", "field", "figure", "least"), PLANS)
def test_the_plan_sets_the_limit(rule, column, field, figure, least):
    exact = {"basal_area_uncertainty_ft2_per_ac": 0, "uncertainty_trees_per_ac": 0}
    expected = [DEPARTS, CONFORMS, CONFORMS] if least else [CONFORMS, CONFORMS, DEPARTS]
    for planned in (figure, 2 * figure):
        assert outcomes(STAND, rule, sides(column, planned, **exact, **{field: planned})) == expected
    assert outcomes(STAND, rule, [{**exact, column: figure}]) == [OUT]


def test_a_sampled_mean_inside_its_doubt_stays_open():
    row = {"least_basal_area_ft2_per_ac": 70, "basal_area_ft2_per_ac": 66, "basal_area_uncertainty_ft2_per_ac": 8}
    assert outcomes(STAND, "basal-area-least", [row, {**row, "basal_area_uncertainty_ft2_per_ac": 3}]) == [
        OPEN,
        DEPARTS,
    ]


def test_a_bund_holds_the_largest_container():
    # 40 CFR 112.8(c)(2), as a filed plan's table sums it up: the largest single container, with room for rain. Only above
    # 1,320 gal in containers of 55 gal or more (112.1(d)); mobile refuelers are free of it (71 FR 77266).
    site = {
        "spill_could_reach_water": True, "motive": False, "permanently_closed": False, "buried": False,
        "mobile_refueler": False, "site_capacity_gal": 1321, "capacity_gal": 55,
    }  # fmt: skip
    for largest in (55, 1000):
        rows = sides("bund_gal", largest, 1, **site, largest_in_bund_gal=largest)
        assert outcomes(FUEL, "sized-containment", rows) == [BREACHES, CONFORMS, CONFORMS]
    bare = {**site, "bund_gal": 0, "largest_in_bund_gal": 55}
    free = [{**bare, "site_capacity_gal": 1320}, {**bare, "capacity_gal": 54.9}, {**bare, "mobile_refueler": True}]
    assert outcomes(FUEL, "sized-containment", free) == [OUT, OUT, OUT]


def test_no_mark_is_promoted():
    assert {n for n, m in marks(TRAILS).items() if m == "memory"} == {"limit skid_ft", "rule skid-distance"}
    assert {n for n, m in marks(TRAILS).items() if m == "read"} == {
        "limit bar_spacing_ft", "limit bar_from_pct", "limit bar_to_pct", "limit bar_most_deg", "rule bar-spacing",
    }  # fmt: skip
    assert marks(FUEL) == {
        "limit plan_gal": "read", "limit container_gal": "read", "rule spill-plan": "read", "rule sheen-report": "secondary",
        "rule sized-containment": "secondary",
    }  # fmt: skip
    assert set(marks(STAND).values()) == {"secondary"}
    assert STAND.limits == {}
    # 42,000 gal under ground: memory without a stated confidence.
    assert "capacity under ground without a spill plan" in {n.what for n in FUEL.not_found}


def test_no_figure_of_the_files_is_left_out():
    assert {n for f in FILES.values() for n in f.limits} == {
        "plan_gal", "container_gal", "skid_ft", "bar_spacing_ft", "bar_from_pct", "bar_to_pct", "bar_least_deg", "bar_most_deg",
        "bar_height_in", "bar_outlet_drop_in",
    }  # fmt: skip


def test_the_table_of_water_bars_ends_where_it_was_printed():
    # Handbook: first row 2 percent, last row 40.
    row = {"job_state": "US-VA", "segment_kind": "skid_trail", "gap_uncertainty_ft": 0, "gap_ft": 900}
    rows = [{**row, "gap_grade_pct": g} for g in (1.9, 2, 40, 40.1)]
    assert outcomes(TRAILS, "bar-spacing", rows) == [OUT, DEPARTS, DEPARTS, OUT]
