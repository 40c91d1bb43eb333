"""Required zones on drawings whose areas are worked by hand. Drawn in feet; 1 acre is 43,560 square feet."""

from __future__ import annotations

import math

import numpy as np
import polars as pl
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st

from auditor.measures.reaches import FOOT_M, head_stations, stations
from auditor.measures.zones import disjoint_zones, level_zone_width_ft, required_zones, shore_zones, zone_area_acres
from tests.measures.test_reaches import BEND, EAST, Shapes, box, feet

ARC = 1e-4
"""Arcs are chords: areas on them come out low by up to 0.01 percent."""


TURNS = st.integers(0, 62_831).map(lambda n: n / 10_000)
SHIFTS = st.integers(-5_000_000, 5_000_000).map(lambda n: n / 10)
"""Angles in radians and metres as a map may have them; numbers near the smallest of all break the geometry library."""


def areas_sqft(
    lines: Shapes, every: float, width: float | list[float], stream_ft: float = 0.0, water: Shapes | None = None
) -> dict[tuple[int, str], float]:
    """Area of each bank's zone in square feet."""
    banks, zones = required_zones(lines, stations(lines, stream_ft, every), width, touch_ft=0.1, water=water)
    return dict(zip(banks.iter_rows(), (zone_area_acres(zones) * 43_560).tolist(), strict=True))


def union_sqft(zones: Shapes) -> float:
    return float(zone_area_acres(disjoint_zones(zones)).sum() * 43_560)


@pytest.mark.parametrize("stream", [0, 12])
@pytest.mark.parametrize("every", [1000, 130])
def test_a_straight_reach_is_length_by_width(stream: float, every: float) -> None:
    # 1,000 ft x 50 ft on each bank, whatever the width of the stream between them.
    assert areas_sqft(EAST, every, 50, stream) == pytest.approx({(0, "left"): 50_000, (0, "right"): 50_000})


def test_widths_may_change_along_a_bank() -> None:
    # Left 250 ft each of 40, 60, 80, 100 ft; right 250 ft each of 0, 0, 50, 50 ft.
    found = areas_sqft(EAST, 250, [40, 60, 80, 100, 0, 0, 50, 50], 10)
    assert found == pytest.approx({(0, "left"): 250 * 280, (0, "right"): 250 * 100})


@pytest.mark.parametrize("every", [1000, 100, 30])
def test_a_bend_is_round_outside_and_square_inside(every: float) -> None:
    # East 100 ft, then north 100 ft, 40 ft wide. Inside (left): two rectangles less their common square of 40 ft:
    # 2 x 4,000 - 1,600 = 6,400. Outside (right): 2 x 4,000 + a quarter circle of 40 ft: 8,000 + 400 pi.
    found = areas_sqft(BEND, every, 40)
    assert found[0, "left"] == pytest.approx(6_400)
    assert found[0, "right"] == pytest.approx(8_000 + 400 * math.pi, rel=ARC)


def test_the_channel_is_no_part_of_the_zone() -> None:
    # A stream of 20 ft at the bend: inside the banks meet at (90, 10), two rectangles 90 x 40 less 40 x 40: 5,600.
    # Outside: 2 x 4,000 + a quarter ring from 10 to 50 ft: (2,500 - 100) pi / 4 = 600 pi.
    found = areas_sqft(BEND, 50, 40, 20)
    assert found[0, "left"] == pytest.approx(5_600)
    assert found[0, "right"] == pytest.approx(8_000 + 600 * math.pi, rel=ARC)


def test_the_zone_goes_around_the_source() -> None:
    # A half ring from 5 to 55 ft: (3,025 - 25) pi / 2 = 1,500 pi.
    head = head_stations(EAST, np.array([True]), 10, 50, 20)
    banks, zones = required_zones(EAST, head, 50, touch_ft=0.1)
    assert banks.rows() == [(0, "head")]
    assert zone_area_acres(zones)[0] * 43_560 == pytest.approx(1_500 * math.pi, rel=ARC)
    _, both = required_zones(EAST, pl.concat([stations(EAST, 10, 100), head]), 50, touch_ft=0.1)
    assert union_sqft(both) == pytest.approx(100_000 + 1_500 * math.pi, rel=ARC)


def test_two_crossing_streams_share_ground_once() -> None:
    # Two 1,000 ft strips of 100 ft cross at right angles: 100,000 + 100,000 - 100 x 100 = 190,000.
    lines = feet([(0, 0), (1000, 0)], [(500, -500), (500, 500)])
    banks, zones = required_zones(lines, stations(lines, 0, 200), 50, touch_ft=0.1)
    assert zone_area_acres(zones).sum() * 43_560 == pytest.approx(200_000)
    assert union_sqft(zones) == pytest.approx(190_000)
    # The first bank keeps its ground, the crossing stream loses 50 x 100 on each bank.
    alone = zone_area_acres(disjoint_zones(zones)) * 43_560
    assert dict(zip(banks.iter_rows(), alone, strict=True)) == pytest.approx(
        {(0, "left"): 50_000, (0, "right"): 50_000, (1, "left"): 45_000, (1, "right"): 45_000}
    )


def test_streams_that_cross_aslant() -> None:
    # Strips of width w that cross at 60 degrees share a rhombus of w^2 / sin 60: 2 x 100,000 - 10,000 / sin 60.
    c, s = 500 * math.cos(math.pi / 3), 500 * math.sin(math.pi / 3)
    lines = feet([(-500, 0), (500, 0)], [(-c, -s), (c, s)])
    _, zones = required_zones(lines, stations(lines, 0, 200), 50, touch_ft=0.1)
    assert union_sqft(zones) == pytest.approx(200_000 - 10_000 / math.sin(math.pi / 3))


def test_open_water_is_no_part_of_the_zone() -> None:
    # A pond 200 ft long and 30 ft to each side: its banks start at 30 ft, so the strip of 50 ft moves outward.
    found = areas_sqft(EAST, 100, 50, 0, np.array([box(200, -30, 400, 30)]))
    # The stations do not know the pond: 1,000 x 50 less 200 x 30.
    assert found[0, "left"] == pytest.approx(44_000)
    wet = np.array([box(200, -30, 400, 30)])
    rows = stations(EAST, 0, 100, water=wet)
    _, zones = required_zones(EAST, rows, 50, touch_ft=0.1, water=wet)
    assert zone_area_acres(zones)[0] * 43_560 == pytest.approx(50_000)


@pytest.mark.parametrize("unknown", [float("nan"), -1.0])
def test_a_bank_with_an_unknown_width_has_no_zone(unknown: float) -> None:
    found = areas_sqft(EAST, 500, [50, unknown, 50, 50])
    assert math.isnan(found[0, "left"])
    assert found[0, "right"] == pytest.approx(50_000)


def test_a_stream_of_unknown_width_has_no_zone() -> None:
    banks, zones = required_zones(EAST, stations(EAST, float("nan"), 500), 50, touch_ft=0.1)
    assert banks.height == 2
    assert zones.tolist() == [None, None]
    assert disjoint_zones(zones).tolist() == [None, None]


def test_a_required_width_of_nothing_has_no_area() -> None:
    assert areas_sqft(EAST, 500, 0.0, 10) == {(0, "left"): 0, (0, "right"): 0}
    assert areas_sqft(EAST, 500, 0.0) == {(0, "left"): 0, (0, "right"): 0}


@pytest.mark.parametrize("gap", [0.0, 0.05])
def test_reaches_that_follow_leave_no_wedge_between_them(gap: float) -> None:
    # The bend again, as two reaches with their ends up to 0.05 ft apart: the quarter circle stays.
    lines = feet([(0, 0), (100 - gap, 0)], [(100, 0), (100, 100)])
    _, zones = required_zones(lines, stations(lines, 0, 30), 40, touch_ft=0.1)
    # Union: 6,400 + 8,000 + 400 pi, less what the gap leaves out, at most 0.05 x 80.
    assert union_sqft(zones) == pytest.approx(14_400 + 400 * math.pi, abs=4)


def test_between_reaches_of_unlike_width_the_lesser_goes_around() -> None:
    # 40 ft along the first reach, 20 along the second: the first right bank has 100 x 40 and a quarter circle of 20 ft.
    lines = feet([(0, 0), (100, 0)], [(100, 0), (100, 100)])
    found = areas_sqft(lines, 100, [40, 40, 20, 20])
    assert found[0, "right"] == pytest.approx(4_000 + 100 * math.pi, rel=ARC)
    assert found[1, "right"] == pytest.approx(2_000)


def test_reaches_that_only_lie_near_are_not_joined() -> None:
    lines = feet([(0, 0), (99, 0)], [(100, 0), (100, 100)])
    _, zones = required_zones(lines, stations(lines, 0, 30), 40, touch_ft=0.1)
    # Without the quarter circle of 400 pi: 99 x 80 + 100 x 80 less 39 x 40 of common ground.
    assert union_sqft(zones) == pytest.approx(7_920 + 8_000 - 39 * 40)


# Nearly equal edges: cut in floating numbers, a quarter of this zone was lost.
@example(0.21769334776366123, 76.90753449538362, 36.98818926929405)
@given(st.floats(0.05, 0.95), st.floats(10, 120), st.floats(7, 90))
@settings(max_examples=25, deadline=None)
def test_splitting_a_reach_does_not_change_its_zone(share: float, width: float, every: float) -> None:
    whole = feet([(0, 0), (200, 30), (350, -60), (500, 120), (520, 300)])
    length = shapely.length(whole[0])
    cut = share * length
    at = shapely.line_interpolate_point(whole[0], cut).coords[0]
    xy = shapely.get_coordinates(whole[0])
    along = np.array([shapely.line_locate_point(whole[0], shapely.Point(p)) for p in xy])
    halves = np.array(
        [shapely.LineString([*xy[along < cut - 1e-6], at]), shapely.LineString([at, *xy[along > cut + 1e-6]])]
    )
    areas = [
        union_sqft(required_zones(lines, stations(lines, 6, every), width, touch_ft=0.1)[1])
        for lines in (whole, halves)
    ]
    assert areas[1] == pytest.approx(areas[0], rel=1e-6)


@given(TURNS, SHIFTS, st.booleans())
@settings(max_examples=25, deadline=None)
def test_turning_shifting_and_mirroring_a_site_changes_no_area(angle: float, shift: float, mirror: bool) -> None:
    lines = feet([(0, 0), (200, 30), (350, -60)], [(350, -60), (500, 120)])
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    moved = shapely.transform(lines, lambda xy: (xy @ turn + shift) * ([-1, 1] if mirror else [1, 1]))
    plain, again = areas_sqft(lines, 60, 70, 8), areas_sqft(moved, 60, 70, 8)
    swap = {"left": "right", "right": "left"} if mirror else {"left": "left", "right": "right"}
    assert {(r, swap[s]): a for (r, s), a in again.items()} == pytest.approx(plain, rel=1e-6)


# To a tenth of a foot: the flat end of a buffer goes astray at a last step of no length to speak of.
PLACES = st.integers(0, 9000).map(lambda tenths: tenths / 10)


@given(st.lists(st.tuples(PLACES, PLACES), min_size=3, max_size=8, unique=True), st.floats(5, 80))
@settings(max_examples=40, deadline=None)
def test_a_zone_is_what_lies_within_its_width(course: list[tuple[float, float]], width: float) -> None:
    # Both banks together are the round buffer with square ends that GEOS draws on its own, for any course.
    line = feet(course)
    if shapely.length(line)[0] < 1:
        return
    _, zones = required_zones(line, stations(line, 0, 75), width, touch_ft=0.0)
    buffer = shapely.buffer(line[0], width * FOOT_M, cap_style="flat", quad_segs=64)
    with np.errstate(divide="ignore", invalid="ignore"):
        union = shapely.union_all(zones, grid_size=1e-7)
    # GEOS leaves out what its flat ends cut from sharp bends, and draws arcs between other points.
    assert shapely.area(shapely.difference(buffer, union, grid_size=1e-7)) <= 2e-3 * shapely.area(buffer)
    round_ = shapely.buffer(line[0], width * FOOT_M * (1 + 1e-6), quad_segs=256)
    assert shapely.area(shapely.difference(union, round_, grid_size=1e-7)) <= 1e-4 * shapely.area(buffer)


def test_the_zone_around_a_pond() -> None:
    # A square of 100 ft, 30 ft wide all around: 4 x 100 x 30 + pi 30^2; a circle of 50 ft: pi (80^2 - 50^2).
    pond = np.array([box(0, 0, 100, 100), shapely.Point(900, 900).buffer(50 * FOOT_M, quad_segs=256)])
    found = zone_area_acres(shore_zones(pond, 30)) * 43_560
    assert found.tolist() == pytest.approx([12_000 + 900 * math.pi, 3_900 * math.pi], rel=2e-4)
    assert shore_zones(pond, [30, float("nan")])[1] is None


def test_a_width_along_the_ground_is_shorter_on_the_map() -> None:
    # On 75 percent a slope of 100 ft covers 100 / 1.25 = 80 ft (3-4-5 triangle); on level ground it is itself.
    assert level_zone_width_ft([100, 100, 100], [75, 0, float("nan")]).tolist() == pytest.approx(
        [80, 100, np.nan], nan_ok=True
    )


def test_zones_that_nearly_share_an_edge_stay_polygons() -> None:
    # Where edges run 1e-7 m apart the library leaves a line beside the polygon; ground without width is no zone.
    one = shapely.Polygon(
        [(5996.79199685, 11999.53513939037), (5996.79199685, 11999.1066552), (5995.79199685, 11999.1066552),
         (5995.79199685, 11999.678170882122)]
    )  # fmt: skip
    other = shapely.Polygon(
        [(5996.291997, 11999.6066552), (5995.79199685, 11999.55361519644), (5995.79199685, 11999.678170965803)]
    )
    with np.errstate(all="ignore"):
        left = shapely.difference(other, one, grid_size=1e-7)
    assert left.geom_type == "GeometryCollection", "the library leaves a line here"
    first, second = disjoint_zones(np.array([one, other]))
    assert first.equals(one) and {first.geom_type, second.geom_type} <= {"Polygon", "MultiPolygon"}
    assert first.area + second.area == pytest.approx(shapely.union(one, other).area)
