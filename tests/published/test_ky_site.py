"""Kentucky's harvest-site figures against the field guide, statutes and rules named beside them, typed here again."""

from __future__ import annotations

from datetime import date

import pytest

from tests.published.site_rows import files_of, marks, outcomes, rule_of, sides

FILES = files_of("US-KY", "streamside", "crossings", "trails", "fuel")
FILE = FILES["streamside"]
CONFORMS, DEPARTS, BREACHES, OPEN = "conformity", "departure from practice", "nonconformity", "inconclusive"
OUT = "not applicable"
WARM = {"stream_class": "perennial", "trout_waters": "none", "stream_in_wetland": False}
FLOOR = [BREACHES, CONFORMS, CONFORMS]

# FOR-69 BMP 2, table 2-1: seed, lb of pure live seed an acre, first and last day of sowing (month, day).
SEEDS = [
    ("winter_wheat", 35, (10, 15), (3, 1)),
    ("grain_rye", 35, (10, 15), (3, 1)),
    ("spring_oats", 35, (10, 15), (3, 1)),
    ("foxtail_millet", 12, (5, 1), (7, 15)),
    ("japanese_millet", 15, (5, 1), (7, 1)),
    ("pearl_millet", 10, (5, 1), (7, 1)),
    ("annual_ryegrass", 5, (8, 1), (10, 15)),
    ("browntop_millet", 15, (5, 1), (7, 1)),
    ("cereal_rye", 25, (9, 15), (10, 15)),
]


@pytest.mark.parametrize(("slope", "figure"), [(0, 25), (14.9, 25), (15.1, 55), (60, 55)])
def test_tree_zone_of_ordinary_perennial_water(slope, figure):
    # FOR-69 BMP 3, table 3-1: slope less than 15 percent 25 ft, greater than 15 percent 55 ft.
    row = {**WARM, "station_slope_pct": slope, "width_doubt_ft": 0}
    assert outcomes(FILE, "tree-zone", sides("zone_width_ft", figure, **row)) == FLOOR


def test_fifteen_percent_is_in_no_row():
    row = {**WARM, "station_slope_pct": 15, "width_doubt_ft": 0}
    rows = [{**row, "zone_width_ft": w} for w in (24, 25, 54, 55)]
    assert outcomes(FILE, "tree-zone", rows) == [BREACHES, OPEN, OPEN, CONFORMS]


def test_widths_run_along_the_ground_from_the_bank():
    # Table 3-1: surface distance.
    held = FILE.definitions["zone_width"]
    assert (held.model_extra["along"], held.model_extra["start"], held.verified) == ("ground", "bank", "read")


def test_half_of_the_overstory_stays():
    # Table 3-1: 50 percent of the overstory trees, both slope classes.
    for slope in (5, 30):
        row = {**WARM, "bank_slope_pct": slope, "strip_from_ft": 0}
        assert outcomes(FILE, "overstory-kept", sides("overstory_kept_pct", 50, **row)) == FLOOR


@pytest.mark.parametrize(("slope", "figure"), [(5, 25), (30, 55)])
def test_disturbed_ground_stays_away(slope, figure):
    # State university, 7 October 2016: 25 ft, or 55 on steeper ground, the current practice for roads and skid trails.
    for kind in ("road", "skid_trail", "deck"):
        row = {**WARM, "disturbance_kind": kind, "at_crossing": False, "land_slope_pct": slope, "distance_doubt_ft": 0}
        assert outcomes(FILE, "ground-distance", sides("distance_from_bank_ft", figure, **row)) == FLOOR


def test_a_stream_bed_is_no_road_unless_the_reason_is_given():
    # FOR-69 BMP 3, use of stream beds; the exception must be reasoned.
    row = {"disturbance_kind": "road", "at_crossing": False, "in_channel": True}
    rows = [
        {**row, "in_channel": False},
        {**row, "reason_inside_zone": "none"},
        {**row, "reason_inside_zone": "land_feature", "reason": "notch in the rock"},
        {**row, "reason_inside_zone": "no_other_place"},
        {**row, "reason_inside_zone": "property_line", "reason": "fence"},
    ]
    assert outcomes(FILE, "stream-bed", rows) == [CONFORMS, BREACHES, OUT, BREACHES, BREACHES]


@pytest.mark.parametrize(
    ("rule", "kind"),
    # KRS 149.342(5): temporary designation; 402 KAR 3:050: listed operators; both before the start.
    [("temporary-logger-notice-time", "temporary_master_logger"), ("listed-operator-notice-time", "bad_actor")],
)
def test_notices_before_the_start(rule, kind):
    rows = [{"notice_kind": kind, "hours_before_start": h} for h in (1, 0, -1)]
    assert outcomes(FILE, rule, rows) == [CONFORMS, BREACHES, BREACHES]


def test_a_voice_mail_is_no_notice():
    # 402 KAR 3:050: letter, fax, e-mail, telephone conversation or in person; a voice-mail message does not count.
    ways = ("letter", "fax", "email", "telephone", "in_person", "voice_mail")
    rows = [{"notice_kind": "bad_actor", "method": way} for way in ways]
    assert outcomes(FILE, "listed-operator-notice-way", rows) == [CONFORMS] * 5 + [BREACHES]


def test_notice_duties_bind_only_those_they_name():
    for rule, kind, fact in (
        ("temporary-logger-notice", "temporary_master_logger", "temporary_master_logger"),
        ("listed-operator-notice", "bad_actor", "bad_actor"),
    ):
        rows = [{"notice_kind": kind, fact: yes, "notice_count": n} for yes, n in ((True, 1), (True, 0), (False, 0))]
        assert outcomes(FILE, rule, rows) == [CONFORMS, BREACHES, OUT]


def test_ten_acres_need_a_water_quality_plan():
    # FOR-96: 10 or more contiguous acres.
    rows = sides("tract_acres", 10, **{"holds:water_quality_plan": False})
    assert outcomes(FILE, "water-quality-plan", rows) == [CONFORMS, BREACHES, BREACHES]
    assert outcomes(FILE, "water-quality-plan", [{"tract_acres": 50, "holds:water_quality_plan": True}]) == [OUT]


def test_more_than_one_square_mile_needs_a_floodplain_permit():
    # KRS 151.250, FOR-67 appendix A: perennial stream draining more than 1 square mile; 1 mi2 = 640 acres.
    row = {"crossing_type": "bridge", "stream_class": "perennial", "holds:floodplain_permit": False}
    rows = sides("drainage_area_acres", 640, **row)
    assert outcomes(FILES["crossings"], "floodplain-permit", rows) == [CONFORMS, CONFORMS, BREACHES]


@pytest.mark.parametrize(("species", "rate", "first", "last"), SEEDS)
def test_seeds_of_the_printed_table(species, rate, first, last):
    file = FILES["trails"]
    assert outcomes(file, "seed-rate", sides("pls_rate_lb_per_ac", rate, species=species)) == [
        DEPARTS, CONFORMS, CONFORMS,
    ]  # fmt: skip
    # Day of a year without 29 February, by the calendar of 2026.
    start, end = ((date(2026, *day) - date(2025, 12, 31)).days for day in (first, last))
    rows = [{"species": species, "sown_day_of_year": d} for d in (start - 1, start, end, end + 1)]
    assert outcomes(file, "seed-season", rows) == [DEPARTS, CONFORMS, CONFORMS, DEPARTS]


def test_temporary_seed_goes_in_with_a_permanent_mix():
    rows = [{"species": "pearl_millet", "permanent_mix_too": yes} for yes in (True, False)]
    assert outcomes(FILES["trails"], "permanent-mix", rows) == [CONFORMS, DEPARTS]


def test_standing_of_the_rules():
    # KRS 149.344: the practices bind; the seed table is the recommended way; telling the agency is encouraged.
    held = {r.id: r.standing for f in FILES.values() for r in f.rules}
    for rule in ("tree-zone", "overstory-kept", "understory", "ground-distance", "stream-bed", "bare-areas"):
        assert held[rule] == "mandatory practice"
    assert {i for i, s in held.items() if s == "voluntary practice"} == {"seed-rate", "seed-season", "permanent-mix"}
    assert held["harvest-told"] == "guidance"
    assert held["water-pollution"] == "statute"


def test_no_mark_is_promoted():
    # Second-hand: the summary of distances and the acres of the plan. All else was read; nothing rests on memory.
    every = {name: mark for file in FILES.values() for name, mark in marks(file).items()}
    assert {name for name, mark in every.items() if mark == "secondary"} == {
        "limit ground_distance_ft", "rule ground-distance", "limit plan_acres", "rule water-quality-plan",
    }  # fmt: skip
    assert set(every.values()) == {"read", "secondary"}
    assert rule_of(FILE, "tree-zone").verified == "read"


def test_weak_memories_are_no_limits():
    # Table 3-2 (25 + 2 x slope), cold-water zone of 60 ft, intermittent 25 ft: memory, low or medium.
    assert {n.what for n in FILE.not_found} >= {
        "table 3-2, distance of disturbed ground by slope",
        "zone along cold-water habitat",
        "distance of disturbed ground along intermittent streams",
    }
    assert FILES["fuel"].rules == []
