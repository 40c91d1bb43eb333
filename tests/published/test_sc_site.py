"""South Carolina's harvest-site figures against the tables of the 1994 manual (web edition), typed here again."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tests.published.site_rows import files_of, marks, outcomes, rule_of, sides

FILES = files_of("US-SC", "streamside", "crossings", "trails", "fuel")
CONFORMS, DEPARTS, OPEN = "conformity", "departure from practice", "inconclusive"
FLOOR = [DEPARTS, CONFORMS, CONFORMS]
CEILING = [CONFORMS, CONFORMS, DEPARTS]

# Manual, streamside zones, figure 2: the four printed lines of slope with one slope of each, then primary zone on
# ordinary streams, primary zone on trout waters, secondary zone. Text: 80 ft for trout waters above 5 percent.
ZONES = [
    (4, 40, 40, 0),  # less than 5 %
    (12, 40, 80, 40),  # 5 % - 20 %
    (20, 40, 80, 40),
    (21, 40, 80, 80),  # 21 % - 40 %
    (40, 40, 80, 80),
    (41, 40, 80, 120),  # greater than 40 %
]
# Manual, forest road construction, table 3: grade in percent, broad-based dips and culverts, water bars and turnouts.
SPACINGS = [(2, 300, 245), (5, 180, 125), (10, 140, 80), (15, 125, 60), (20, 120, 50), (25, 115, 40)]
# Manual, stream crossings, table 1, inches: acres, then four columns for permanent (25-year) and four for temporary
# (2-year) culverts. The heads of the columns were not in the copy; the order is inferred.
PIPES = [
    (10, (24, 12, 30, 24), (12, 12, 18, 12)),
    (50, (36, 18, 48, 48), (18, 12, 30, 24)),
    (100, (48, 24, 54, 60), (24, 18, 36, 30)),
    (200, (60, 36, 72, 72), (30, 24, 42, 36)),
]
REGIONS = ("lower_coastal_plain", "upper_coastal_plain", "piedmont", "mountains")
TAPED = {"stream_class": "perennial", "stream_kind": "stream", "width_doubt_ft": 0}


@pytest.mark.parametrize(("slope", "primary", "trout", "secondary"), ZONES)
@pytest.mark.parametrize("stream_class", ["perennial", "intermittent"])
def test_zones_of_ordinary_streams(slope, primary, trout, secondary, stream_class):
    row = {**TAPED, "stream_class": stream_class, "trout_waters": "none", "station_slope_pct": slope}
    file = FILES["streamside"]
    assert outcomes(file, "zone-width", sides("zone_width_ft", primary, **row)) == FLOOR
    assert outcomes(file, "primary-width", sides("primary_width_ft", primary, **row)) == FLOOR
    assert outcomes(file, "whole-zone", sides("zone_width_ft", primary + secondary, **row)) == FLOOR


@pytest.mark.parametrize(("slope", "primary", "trout", "secondary"), ZONES)
def test_zones_of_designated_trout_waters(slope, primary, trout, secondary):
    row = {**TAPED, "trout_waters": "designated", "station_slope_pct": slope}
    file = FILES["streamside"]
    assert outcomes(file, "zone-width", sides("zone_width_ft", trout, **row)) == FLOOR
    # Whether the secondary zone lies beyond the wider primary zone is not certain: open from one reading to the other.
    widths = [{**row, "zone_width_ft": w} for w in (trout - 1, trout, trout + secondary - 1, trout + secondary)]
    wanted = [DEPARTS, OPEN, OPEN, CONFORMS] if secondary else [DEPARTS, CONFORMS, DEPARTS, CONFORMS]
    assert outcomes(file, "whole-zone", widths) == wanted


def test_slopes_that_no_line_prints_stay_open_between_their_neighbours():
    # Lines "5 % - 20 %" (40 + 40) and "21 % - 40 %" (40 + 80).
    row = {**TAPED, "trout_waters": "none", "station_slope_pct": 20.5}
    widths = [{**row, "zone_width_ft": w} for w in (79, 80, 119, 120)]
    assert outcomes(FILES["streamside"], "whole-zone", widths) == [DEPARTS, OPEN, OPEN, CONFORMS]


def test_text_and_table_differ_at_five_percent_on_trout_waters():
    # The text: 80 ft on slopes greater than 5 %; the table: 80 ft in the line 5 % - 20 %.
    row = {**TAPED, "trout_waters": "designated", "station_slope_pct": 5}
    widths = [{**row, "zone_width_ft": w} for w in (39, 40, 79, 80)]
    assert outcomes(FILES["streamside"], "zone-width", widths) == [DEPARTS, OPEN, OPEN, CONFORMS]


@pytest.mark.parametrize(("grade", "dips", "bars"), SPACINGS)
def test_spacing_of_drains_at_the_printed_grades(grade, dips, bars):
    row = {"drain_group": "all", "gap_grade_pct": grade, "gap_uncertainty_ft": 0}
    for rule, kinds, figure in (
        ("trail-drains", ("skid_trail", "firelane"), bars),
        ("road-drains", ("haul_road", "access_road"), dips),
    ):
        for kind in kinds:
            assert outcomes(FILES["trails"], rule, sides("gap_ft", figure, segment_kind=kind, **row)) == CEILING


@pytest.mark.parametrize(("grade", "dips", "bars"), SPACINGS)
def test_between_like_drains_their_own_column_holds(grade, dips, bars):
    # Table 3: one column for broad-based dips and culverts, one for water bars and turnouts.
    row = {"drain_group": "all", "gap_grade_pct": grade, "gap_uncertainty_ft": 0}
    on_trail = {**row, "segment_kind": "skid_trail", "from_kind": "broad_based_dip", "to_kind": "cross_drain"}
    on_road = {**row, "segment_kind": "haul_road", "from_kind": "water_bar", "to_kind": "turnout"}
    for figure, own, usual, ends in (
        (dips, "dips-on-trails", "trail-drains", on_trail), (bars, "bars-on-roads", "road-drains", on_road),
    ):  # fmt: skip
        rows = sides("gap_ft", figure, **ends)
        assert outcomes(FILES["trails"], own, rows) == CEILING
        assert outcomes(FILES["trails"], usual, rows) == ["not applicable"] * 3


def test_between_printed_grades_the_straight_line_is_our_choice():
    row = {"drain_group": "all", "segment_kind": "skid_trail", "gap_grade_pct": 8, "gap_uncertainty_ft": 0}
    # 125 at 5 percent, 80 at 10: 125 - (125 - 80) x 3 / 5 = 98.
    assert outcomes(FILES["trails"], "trail-drains", sides("gap_ft", 98, **row)) == CEILING
    for name in ("bar_spacing_ft", "dip_spacing_ft"):
        (version,) = FILES["trails"].limits[name].versions
        assert version.points.between_is == "our choice"
        assert sorted(version.points.values) == [grade for grade, _, _ in SPACINGS]


def test_spacing_beyond_the_table():
    row = {"drain_group": "all", "segment_kind": "skid_trail", "gap_ft": 90, "gap_uncertainty_ft": 0}
    rows = [{**row, "gap_grade_pct": g} for g in (1.9, 25.1)]
    assert outcomes(FILES["trails"], "trail-drains", rows) == ["not applicable", OPEN]


@pytest.mark.parametrize(("acres", "permanent", "temporary"), PIPES)
def test_pipes_at_the_printed_areas(acres, permanent, temporary):
    for block, is_temporary in ((permanent, False), (temporary, True)):
        for region, inches in zip(REGIONS, block, strict=True):
            row = {
                "crossing_type": "culvert",
                "region": region,
                "drainage_area_acres": acres,
                "temporary": is_temporary,
            }
            rows = [{**r, "largest_pipe_in": r["equal_flow_in"]} for r in sides("equal_flow_in", inches, **row)]
            assert outcomes(FILES["crossings"], "pipe-size", rows) == FLOOR


@pytest.mark.parametrize(("smaller", "larger"), list(pairwise(PIPES)))
def test_pipes_between_the_printed_areas_stay_open_between_their_sizes(smaller, larger):
    acres = (smaller[0] + larger[0]) / 2
    for region, low, high in zip(REGIONS, smaller[1], larger[1], strict=True):
        row = {"crossing_type": "culvert", "region": region, "drainage_area_acres": acres, "temporary": False}
        rows = [{**row, "equal_flow_in": d, "largest_pipe_in": d} for d in (low - 1, low, high - 1, high)]
        between = [OPEN, OPEN] if low < high else [CONFORMS, DEPARTS]
        assert outcomes(FILES["crossings"], "pipe-size", rows) == [DEPARTS, *between, CONFORMS]


def test_chemicals_stay_eighty_feet_away():
    # State forestry association, summary of the manual: none within 80 ft of each side of a stream.
    for kind in ("pesticide", "fertiliser"):
        rows = sides("distance_from_bank_ft", 80, disturbance_kind=kind, distance_doubt_ft=0)
        assert outcomes(FILES["streamside"], "chemicals", rows) == FLOOR


def test_a_bridge_is_temporary_for_six_months():
    # Manual, stream crossings: permanent when in place longer than 6 months. Six months have 181 days (1 November to
    # 1 May) to 184 days (1 May to 1 November).
    rows = [{"crossing_type": "bridge", "temporary": True, "days_in_place": d} for d in (181, 182, 184, 185)]
    assert outcomes(FILES["crossings"], "temporary-bridge", rows) == [CONFORMS, OPEN, OPEN, DEPARTS]


def test_woody_fill_belongs_in_a_well_defined_channel():
    # Stream crossings page: small streams with well-defined channels; no figure for small.
    row = {"crossing_type": "log_or_brush_fill", "stream_class": "ephemeral", "field_signs_listed": True}
    rows = [{**row, "field_signs": signs} for signs in (["defined_channel"], ["no_defined_channel"])]
    assert outcomes(FILES["crossings"], "woody-fill-channel", rows) == [CONFORMS, DEPARTS]


def test_woody_fill_belongs_in_intermittent_and_ephemeral_channels():
    rows = [
        {"crossing_type": "log_or_brush_fill", "stream_class": c} for c in ("intermittent", "ephemeral", "perennial")
    ]
    assert outcomes(FILES["crossings"], "woody-fill-place", rows) == [CONFORMS, CONFORMS, DEPARTS]


def test_the_practices_are_voluntary():
    # Manual and agency pages: voluntary; the permit for navigable water alone is a matter of law.
    binding = {r.id for f in FILES.values() for r in f.rules if r.standing != "voluntary practice"}
    assert binding == {"navigable-permit"}
    assert rule_of(FILES["crossings"], "navigable-permit").standing == "permit condition"


def test_no_mark_is_promoted():
    # The web manual was read; the association's summary is second-hand; the heads of the culvert table are inferred.
    assert marks(FILES["streamside"]) == {
        "limit primary_zone_ft": "read", "limit whole_zone_ft": "read", "limit chemical_distance_ft": "secondary",
        "rule zone-width": "read", "rule primary-width": "read", "rule whole-zone": "read", "rule chemicals": "secondary",
    }  # fmt: skip
    assert marks(FILES["crossings"]) == {
        "limit pipe_diameter_in": "memory", "limit temporary_bridge_days": "read", "rule pipe-size": "memory",
        "rule navigable-permit": "read", "rule woody-fill-place": "read", "rule woody-fill-out": "read",
        "rule woody-fill-channel": "read",
        "rule temporary-bridge": "read",
    }  # fmt: skip
    assert marks(FILES["trails"]) == dict.fromkeys(
        ("limit bar_spacing_ft", "limit dip_spacing_ft", "limit least_table_grade_pct",
         "rule trail-drains", "rule road-drains", "rule dips-on-trails", "rule bars-on-roads", "rule turnout-outlet"), "read",
    )  # fmt: skip
    assert FILES["fuel"].rules == []


def test_what_is_only_remembered_without_certainty_is_no_limit():
    # 50 square feet an acre in the primary zone and 25 gallons of petroleum: memory, not of high confidence.
    assert "basal area left in the primary zone" in {n.what for n in FILES["streamside"].not_found}
    assert [n.result for n in FILES["fuel"].not_found] == ["not found"]
