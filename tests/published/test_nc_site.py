"""North Carolina's harvest-site figures against the guidelines, rules and leaflets named beside them, typed here again."""

from __future__ import annotations

import pytest

from tests.published.site_rows import files_of, marks, outcomes, rule_of, sides

FILES = files_of("US-NC", "streamside", "crossings", "trails", "fuel")
FILE, CROSSINGS, TRAILS = FILES["streamside"], FILES["crossings"], FILES["trails"]
CONFORMS, DEPARTS, BREACHES, OPEN = "conformity", "departure from practice", "nonconformity", "inconclusive"
OUT, UNSHOWN = "not applicable", "not evidenced"
FLOOR, CEILING = [BREACHES, CONFORMS, CONFORMS], [CONFORMS, CONFORMS, BREACHES]
NEUSE = {"designations": ["riparian_buffer_rules"], "watershed": "Neuse", "stream_kind": "stream"}
CATAWBA = {**NEUSE, "watershed": "Catawba", "stream_kind": "river"}
STUMP = {"distance_doubt_ft": 0, "cut_reason": "harvest", "roots_in_bank": False}
CLEARED = {"harvest_type": "land_clearing", "land_use_after": "development", "trout_waters": "designated"}

# Definitions of the Neuse and Tar-Pamlico rules, recalled: pine 14 in dbh or 18 in stump; hardwood and wetland species
# 16 in dbh or 24 in stump.
HIGH_VALUE = [("loblolly_pine", 14, 18), ("white_pine", 14, 18), ("other_pine", 14, 18), ("hardwood", 16, 24), ("cypress", 16, 24)]  # fmt: skip


@pytest.mark.parametrize("water", [NEUSE, CATAWBA])
def test_zone_1_is_30_ft(water):
    # Catawba leaflet (2004), Randleman leaflet (2010), state letter on the Neuse (1999): zone 1 from 0 to 30 ft.
    row = {**water, "width_doubt_ft": 0}
    assert outcomes(FILE, "buffer-zone-1", sides("zone_width_ft", 30, **row)) == FLOOR
    assert outcomes(FILE, "buffer-zone-1", sides("primary_width_ft", 30, zone_width_ft=60, **row)) == FLOOR


def test_the_buffer_is_30_and_20_ft():
    # The same leaflets: zone 2 from 30 to 50 ft; its trees may be cut, so the edge of a cut is no end of the buffer.
    row = {**NEUSE, "width_doubt_ft": 0}
    assert outcomes(FILE, "buffer-width", sides("zone_width_ft", 30 + 20, measured_to="road", **row)) == FLOOR
    assert outcomes(FILE, "buffer-width", [{**row, "zone_width_ft": 31, "measured_to": "edge_of_cut"}]) == [OUT]


@pytest.mark.parametrize(("species", "dbh", "stump"), HIGH_VALUE)
def test_trees_that_may_be_cut_at_the_bank(species, dbh, stump):
    row = {**NEUSE, **STUMP, "distance_from_bank_ft": 5, "species_group": species}
    by_breast = sides("dbh_in", dbh, stump_diameter_in=stump - 3, **row)
    by_stump = sides("stump_diameter_in", stump, dbh_in=dbh - 3, **row)
    assert outcomes(FILE, "inner-strip-trees", [*by_breast, *by_stump]) == FLOOR * 2
    assert outcomes(FILE, "inner-strip-trees", [{**row, "dbh_in": dbh + 9, "roots_in_bank": True}]) == [BREACHES]


def test_a_softwood_in_no_class_stays_open():
    row = {**NEUSE, **STUMP, "distance_from_bank_ft": 5, "species_group": "other_softwood"}
    assert outcomes(FILE, "inner-strip-trees", [{**row, "dbh_in": 15, "stump_diameter_in": 17}]) == [OPEN]


def test_the_inner_strip_ends_at_10_ft():
    # Catawba leaflet and county copy: 0 to 10 ft.
    row = {**NEUSE, **STUMP, "species_group": "hardwood", "dbh_in": 8, "stump_diameter_in": 9}
    rows = sides("distance_from_bank_ft", 10, 0.1, **row)
    assert outcomes(FILE, "inner-strip-trees", rows) == [BREACHES, OUT, OUT]


def test_the_strip_at_the_bank_is_cut_under_a_paper_only():
    # County copy: forestry use-value deferment (G.S. 105-277.2 to .6) or a forester's management plan.
    row = {**NEUSE, **STUMP, "distance_from_bank_ft": 5}
    held = [
        {"holds:management_plan": p, "holds:forestry_use_value": u}
        for p, u in ((True, False), (False, True), (False, False))
    ]
    assert outcomes(FILE, "inner-strip-paper", [{**row, **papers} for papers in held]) == [OUT, OUT, BREACHES]
    assert outcomes(FILE, "inner-strip-paper", [{**row, **held[2], "distance_from_bank_ft": 10}]) == [OUT]


def test_catawba_limits_stumps_and_the_others_a_share():
    # Catawba leaflet, 10 to 30 ft: stumps larger than 12 in only. County copy, 10 to 30 ft: at most 50 percent cut.
    stump = {**CATAWBA, **STUMP, "distance_from_bank_ft": 20}
    assert outcomes(FILE, "catawba-outer-strip", sides("stump_diameter_in", 12, **stump)) == [
        BREACHES,
        BREACHES,
        CONFORMS,
    ]
    assert outcomes(FILE, "catawba-outer-strip", [{**stump, **NEUSE, "stump_diameter_in": 8}]) == [OUT]
    strip = {"strip_from_ft": 10, "strip_to_ft": 30}
    assert outcomes(FILE, "outer-strip-trees", sides("overstory_kept_pct", 100 - 50, **strip, **NEUSE)) == FLOOR
    assert outcomes(FILE, "outer-strip-trees", [{**strip, **CATAWBA, "overstory_kept_pct": 10}]) == [OUT]


@pytest.mark.parametrize(("planted", "years"), [(False, 15), (True, 5)])
def test_years_between_cuttings(planted, years):
    # County copy: every 15 years, plantations 5.
    row = {**NEUSE, "zone_harvest": "thinning", "last_zone_cut_on": "2012-05-04", "planted": planted}
    assert outcomes(FILE, "re-entry", sides("zone_cut_interval_years", years, **row)) == FLOOR


def test_machines_stay_out_of_zone_1():
    # County copy: no tracked or wheeled vehicles in zone 1 but at crossings, no site preparation that disturbs soil.
    for kind in ("machine_tracks", "skid_trail", "site_preparation"):
        row = {**NEUSE, "disturbance_kind": kind, "at_crossing": False, "distance_doubt_ft": 0}
        assert outcomes(FILE, "zone-1-machines", sides("distance_from_bank_ft", 30, **row)) == FLOOR
    at = {
        **NEUSE,
        "disturbance_kind": "skid_trail",
        "at_crossing": True,
        "distance_from_bank_ft": 0,
        "distance_doubt_ft": 0,
    }
    assert outcomes(FILE, "zone-1-machines", [at]) == [OUT]


def test_buffers_bind_mapped_waters_of_their_basins_only():
    # 15A NCAC 02B .0714(3)(a): soil survey map, USGS map or approved map. Catawba leaflet: main stem and its lakes only.
    short = {
        "zone_width_ft": 10,
        "width_doubt_ft": 0,
        "designations": [],
        "designations_checked": True,
        "maps_checked": True,
    }
    inside = {"special_areas": ["riparian_buffer_watershed"], "watershed": "Tar-Pamlico", "stream_kind": "stream"}
    rows = [{**short, **inside, "mapped_on": [m]} for m in ("soil_survey_map", "usgs_map", "agency_map", "trout_list")]
    assert outcomes(FILE, "buffer-zone-1", rows) == [BREACHES] * 3 + [OUT]
    catawba = {**short, **inside, "watershed": "Catawba", "mapped_on": ["usgs_map"]}
    rows = [{**catawba, "stream_kind": kind} for kind in ("stream", "river", "reservoir")]
    assert outcomes(FILE, "buffer-zone-1", rows) == [OUT, BREACHES, BREACHES]
    assert outcomes(FILE, "buffer-zone-1", [{**short, **inside, "mapped_on": [], "stream_class": "ephemeral"}]) == [OUT]


def test_trout_buffer_where_forestry_lost_its_exemption():
    # G.S. 113A-57(1), 15A NCAC 04B .0125(b): 25 ft, level from the top of the bank.
    row = {**CLEARED, "width_doubt_ft": 0}
    rows = sides("undisturbed_width_ft", 25, **row)
    assert outcomes(FILE, "trout-buffer-reading", rows) == [DEPARTS, CONFORMS, CONFORMS]
    forest = {**row, "harvest_type": "clearcut", "land_use_after": "forest", "undisturbed_width_ft": 5}
    assert outcomes(FILE, "trout-buffer-reading", [forest]) == [OUT]
    held = FILE.definitions["zone_width"]
    assert (held.model_extra["along"], held.model_extra["start"]) == ("horizontal", "top_of_bank")


def test_how_much_of_a_trout_buffer_may_be_disturbed():
    # 15A NCAC 04B .0125(c): at most 10 percent of the length in the tract and 100 ft in each 1,000 ft.
    rule = rule_of(FILE, "trout-buffer-extent")
    assert rule.outcomes_of.rule == "trout-buffer-reading"
    assert FILE.limits[rule.outcomes_of.window_ft].versions[0].value == 1000
    share = sides("failing_share_pct", 10, worst_window_ft=0, **CLEARED)
    window = sides("worst_window_ft", 100, failing_share_pct=0, **CLEARED)
    assert outcomes(FILE, rule.id, [*share, *window]) == CEILING * 2


def test_siltation_stays_in_the_nearest_quarter():
    # G.S. 113A-57(1): the 25 percent of the strip nearest the work. 60 ft: the 45 ft at the water stay clear.
    row = {**CLEARED, "undisturbed_width_ft": 60, "width_doubt_ft": 0}
    assert outcomes(FILE, "siltation-in-buffer", sides("nearest_sediment_ft", 60 - 0.25 * 60, **row)) == FLOOR


def test_the_guidelines_look_at_the_result():
    # 02 NCAC 60C .0201(a): visible sediment confined, no width. A wide zone does not answer for it.
    seen = {"question": "sediment_confined_to_zone"}
    rows = [{**seen, "answer": "yes"}, {**seen, "answer": "no"}, seen]
    assert outcomes(FILE, "sediment-confined", rows) == [CONFORMS, BREACHES, UNSHOWN]
    assert rule_of(FILE, "sediment-confined").evidence == "observation"
    assert not {r.id for r in FILE.rules if r.examines == "stations" and r.source.startswith("fpg")} - {
        "sediment-distance"
    }


def test_decks_and_the_exception_that_goose_creek_lacks():
    # 02 NCAC 60C .0201(c): inside only where property lines or land features leave no other place, with working controls.
    # 15A NCAC 02B .0608 (2024): no decks or sawmills in a Goose Creek buffer.
    inside = {"distance_from_zone_ft": 0, "reason_inside_zone": "property_line", "controls_working": True}
    assert outcomes(TRAILS, "decks-outside-zone", [inside, {**inside, "controls_working": False}]) == [OUT, BREACHES]
    goose = {**inside, "special_areas": ["goose_creek_watershed"]}
    assert outcomes(TRAILS, "goose-creek-decks", [goose, {**goose, "distance_from_zone_ft": 1}]) == [BREACHES, CONFORMS]
    neuse = {**inside, "special_areas": ["riparian_buffer_watershed"], "special_areas_checked": True}
    assert outcomes(TRAILS, "goose-creek-decks", [neuse]) == [OUT]


@pytest.mark.parametrize("rule", ["crossing-cover", "approach-cover"])
def test_ground_cover_at_crossings(rule):
    # 02 NCAC 60C .0203, agency summary of 2000: within 10 working days of the first disturbance.
    rest = {"existing": False} if rule == "crossing-cover" else {}
    assert outcomes(CROSSINGS, rule, sides("working_days_to_cover", 10, 1, **rest)) == CEILING


@pytest.mark.parametrize("rule", ["closed-covered", "closed-deck-covered"])
def test_ground_cover_after_a_phase_ends(rule):
    # 02 NCAC 60C .0209, recalled with high confidence: within 30 working days after ceasing a phase or going inactive.
    rest = {"closed_on": "2026-03-02"}
    assert outcomes(TRAILS, rule, sides("working_days_closed_to_cover", 30, 1, **rest)) == CEILING
    rows = [rest, {**rest, "working_days_closed_to_cover": [31, None]}, {"working_days_closed_to_cover": 90}]
    assert outcomes(TRAILS, rule, rows) == [UNSHOWN, BREACHES, OUT]


@pytest.mark.parametrize("rule", ["graded-covered", "graded-deck-covered"])
def test_ground_cover_after_grading_where_the_sediment_act_applies(rule):
    # G.S. 113A-57(2): within 21 calendar days of completing a phase of grading.
    rest = {k: v for k, v in CLEARED.items() if k != "trout_waters" or "deck" in rule} | {"graded_on": "2026-03-02"}
    assert outcomes(TRAILS, rule, sides("days_graded_to_cover", 21, 1, **rest)) == CEILING


def test_the_sediment_plan_is_filed_30_days_before():
    # G.S. 113A-57(4): filed 30 days or more before the disturbing begins.
    rest = {"notice_kind": "sediment_plan_filing", "harvest_type": "land_clearing", "land_use_after": "development"}
    assert outcomes(TRAILS, "sediment-plan-filed", sides("days_before_start", 30, 1, **rest)) == FLOOR


def test_approved_cutting_in_goose_creek_is_reported_within_60_days():
    # 15A NCAC 02B .0608, text of 2024: reported to the Division within 60 calendar days.
    rest = {
        "notice_kind": "dead_or_infested_trees", "special_areas": ["goose_creek_watershed"],
        "given_to": "state_environmental_agency",
    }  # fmt: skip
    assert outcomes(FILE, "goose-creek-approval-reported", sides("days_after_event", 60, 1, **rest)) == CEILING


@pytest.mark.parametrize(("acres", "runoff", "opening"), [(16, 0.5, 4.0), (81, 0.2, 5.4), (256, 1.0, 64.0)])
def test_talbots_formula(acres, runoff, opening):
    # N.C. forest service, culvert sizing: A = C x M^0.75; 16^0.75 = 8, 81^0.75 = 27, 256^0.75 = 64.
    row = {"crossing_type": "culvert", "drainage_area_acres": acres, "runoff_share": runoff}
    rows = [{**row, "pipe_opening_sqft": opening + d} for d in (-0.05, 1e-9, 0.05)]
    assert outcomes(CROSSINGS, "culvert-opening", rows) == [DEPARTS, CONFORMS, CONFORMS]


@pytest.mark.parametrize(
    ("grade", "least", "most"),
    [(2, 200, 300), (3, 200, 300), (4, 200, 300), (5, 160, 180), (7, 160, 180), (8, 140, 150), (10, 140, 150)],
)
def test_dips_of_the_printed_ranges(grade, least, most):
    # Stewardship plan repeating the state's guidance: 2-4 % 200-300, 5-7 % 160-180, 8-10 % 140-150 ft.
    row = {"segment_kind": "haul_road", "gap_uncertainty_ft": 0, "gap_grade_pct": grade}
    rows = [{**row, "gap_ft": ft} for ft in (least, least + 1, most, most + 1)]
    assert outcomes(TRAILS, "dip-spacing", rows) == [CONFORMS, OPEN, OPEN, DEPARTS]


def test_grades_in_no_printed_class():
    # 4 to 5 percent lies between two classes; 12 percent was cut off.
    row = {"segment_kind": "haul_road", "gap_uncertainty_ft": 0}
    rows = [{**row, "gap_grade_pct": g, "gap_ft": ft} for g, ft in ((4.5, 160), (4.5, 250), (4.5, 301), (12, 100))]
    assert outcomes(TRAILS, "dip-spacing", rows) == [CONFORMS, OPEN, DEPARTS, OPEN]


def test_dips_suit_grades_under_12_percent():
    rows = sides("local_grade_pct", 12, drain_kind="broad_based_dip")
    assert outcomes(TRAILS, "dip-grade", rows) == [CONFORMS, DEPARTS, DEPARTS]


def test_a_bar_against_traffic_is_3_ft_high():
    # The county's copy: 3 ft or more in height, after regular use ends.
    rows = sides("height_in", 3 * 12, drain_kind="water_bar", traffic_barrier=True)
    assert outcomes(TRAILS, "barrier-height", rows) == [DEPARTS, CONFORMS, CONFORMS]


def test_forestry_that_lost_its_exemption_is_held_to_the_sediment_act():
    # G.S. 113A-52.01(2): the exemption holds for work done to the guidelines only.
    row = {"harvest_type": "clearcut", "land_use_after": "forest", "disturbed_sqft": 43_561}
    rows = [{**row, "exemption_lost": lost, "holds:sediment_control_plan": False} for lost in (True, False, None)]
    assert outcomes(TRAILS, "sediment-plan", rows) == [BREACHES, OUT, OUT]


def test_an_acre_needs_a_sediment_plan():
    # G.S. 113A-57(4): more than 1 acre; 1 acre = 43,560 ft2.
    rows = sides("disturbed_sqft", 43_560, 1, **{**CLEARED, "holds:sediment_control_plan": False})
    assert (
        outcomes(TRAILS, "sediment-plan", [{k: v for k, v in r.items() if k != "trout_waters"} for r in rows])
        == CEILING
    )


def test_a_discharge_is_reported_within_24_hours():
    # G.S. 143-215.85(b).
    rows = sides("hours_to_report", 24, 1, substance="diesel", to_water=True)
    assert outcomes(FILES["fuel"], "spill-report", rows) == CEILING


def test_scores_of_the_stream_form():
    # Stream identification, recalled: 19 points at least intermittent, 30 perennial.
    rows = [{"identification_points": p, "stream_class": c} for p, c in ((30, "intermittent"), (29.5, "intermittent"), (19, "ephemeral"), (18.5, "ephemeral"))]  # fmt: skip
    assert outcomes(FILE, "class-by-score", rows) == [DEPARTS, CONFORMS, DEPARTS, OUT]


def test_standing_of_the_three_layers():
    held = {r.id: r.standing for f in FILES.values() for r in f.rules}
    for rule in ("sediment-confined", "debris", "zone-1-machines", "goose-creek-decks", "trout-buffer-extent"):
        assert held[rule] == "regulation"
    voluntary = {"culvert-opening", "dip-spacing", "dip-grade", "bars-stabilised", "bars-checked-after-storm"}
    voluntary |= {"barrier-height"}
    assert {i for i, s in held.items() if s == "voluntary practice"} == voluntary
    # One short reading is a pointer; the bank as a whole is what .0125(c) limits.
    assert {i for i, s in held.items() if s == "guidance"} == {"trout-buffer-reading", "class-by-score"}


def test_no_mark_is_promoted():
    every = {name: mark for file in FILES.values() for name, mark in marks(file).items()}
    # Recalled: high-value trees, the scores, the 30 working days. Second-hand: the county copy, the buffers of basins not read, the dips.
    assert {n for n, m in every.items() if m == "memory"} == {
        "limit high_value_dbh_in", "limit high_value_stump_in", "limit intermittent_points", "limit perennial_points",
        "rule class-by-score", "limit closed_cover_working_days", "rule closed-covered", "rule closed-deck-covered",
    }  # fmt: skip
    assert {rule_of(TRAILS, r).grade for r in ("closed-covered", "closed-deck-covered")} == {"minor"}
    assert {n for n, m in every.items() if m == "secondary"} == {
        "limit zone_1_ft", "limit buffer_ft", "limit outer_strip_kept_pct", "limit re_entry_years",
        "limit dip_spacing_ft", "limit dip_grade_pct", "limit dip_from_pct", "rule buffer-zone-1", "rule buffer-width",
        "rule inner-strip-trees", "rule inner-strip-paper", "rule outer-strip-trees", "rule re-entry",
        "rule zone-1-machines", "rule dip-spacing", "rule dip-grade", "rule bars-stabilised",
        "rule bars-checked-after-storm", "rule barrier-height", "limit barrier_height_in",
    }  # fmt: skip


def test_weak_memories_are_no_limits():
    # Manual zone of 50 ft: memory, medium. 25 gal and 100 ft: memory without confidence.
    missing = {n.what for f in FILES.values() for n in f.not_found}
    assert {
        "least width of a zone by the forestry BMP manual",
        "amounts on land and nearness to water from which a discharge has to be reported",
    } <= missing


def test_no_figure_of_the_files_is_left_out():
    # Every limit above; the words of the Catawba basin and Talbot's formula besides.
    assert {n for f in FILES.values() for n in f.limits} == {
        "catawba_names", "inner_strip_ft", "zone_1_ft", "buffer_ft", "outer_strip_kept_pct", "re_entry_years",
        "catawba_stump_in", "high_value_dbh_in", "high_value_stump_in", "trout_buffer_ft", "clear_of_silt_ft",
        "disturbed_share_pct", "disturbed_in_window_ft", "window_ft", "classified_days", "intermittent_points",
        "perennial_points", "cover_working_days", "waterway_opening_sqft", "dip_spacing_ft", "dip_grade_pct",
        "dip_from_pct", "acre_sqft", "report_hours", "plan_filed_days", "graded_cover_days", "approval_report_days",
        "closed_cover_working_days", "barrier_height_in",
    }  # fmt: skip


def test_a_classification_in_goose_creek_holds_5_years():
    # 15A NCAC 02B .0607(d): 5 years; 4 x 365 + 366 = 1,826 days with one leap day. Certified staff or agency foresters.
    row = {"special_areas": ["goose_creek_watershed"], "classified_by": "agency_forester"}
    assert outcomes(FILE, "goose-creek-classified", sides("days_since_classified", 4 * 365 + 366, 1, **row)) == CEILING
    by = [{**row, "classified_by": who, "days_since_classified": 9} for who in ("agency_staff", "logger")]
    assert outcomes(FILE, "goose-creek-classified", by) == [CONFORMS, BREACHES]
