"""Reaches, stations and zone widths on drawings whose numbers are worked by hand. 100 ft = 30.48 m."""

from __future__ import annotations

import math

import numpy as np
import polars as pl
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from auditor.measures.reaches import (
    FOOT_M,
    common_part,
    head_stations,
    merge_reaches,
    nearer_other,
    points_along,
    stations,
    stream_heads,
    transect_slope_pct,
    zone_width_ft,
)

Shapes = NDArray[np.object_]


TURNS = st.integers(0, 62_831).map(lambda n: n / 10_000)
SHIFTS = st.integers(-5_000_000, 5_000_000).map(lambda n: n / 10)
"""Angles in radians and metres as a map may have them; numbers near the smallest of all break the geometry library."""


def feet(*lines: list[tuple[float, float]]) -> Shapes:
    """Lines drawn in feet."""
    return np.array([shapely.LineString(np.array(line) * FOOT_M) for line in lines])


def box(west: float, south: float, east: float, north: float) -> shapely.Polygon:
    """A rectangle drawn in feet."""
    return shapely.box(west * FOOT_M, south * FOOT_M, east * FOOT_M, north * FOOT_M)


EAST = feet([(0, 0), (1000, 0)])
BEND = feet([(0, 0), (100, 0), (100, 100)])


def test_lines_of_one_stream_become_one_reach() -> None:
    lines = feet([(0, 0), (10, 0)], [(30, 0), (40, 0)], [(10, 0), (20, 5)], [(20, 5), (30, 0)], [(0, 9), (5, 9)])
    reaches, keys = merge_reaches(lines, ["Mill", "Mill", "Mill", "Dry", "Dry"])
    # 0-10 goes on in 10-20; the piece between 20 and 30 is another stream; names in order of first appearance.
    assert keys == ["Mill", "Mill", "Dry", "Dry"]
    ends = [tuple(np.round(np.array(r.coords)[[0, -1], 0] / FOOT_M, 6)) for r in reaches]
    assert sorted(ends) == [(0, 5), (0, 20), (20, 30), (30, 40)]


def test_lines_that_run_head_on_stay_apart() -> None:
    reaches, _ = merge_reaches(feet([(0, 0), (10, 0)], [(20, 0), (10, 0)]), ["a", "a"])
    assert len(reaches) == 2


def test_no_lines_make_no_reaches() -> None:
    assert len(merge_reaches(np.empty(0, dtype=object), [])[0]) == 0


@pytest.mark.parametrize(
    ("along", "x", "y", "east", "north"),
    [
        (0, 0, 0, 1, 0),
        (50, 50, 0, 1, 0),
        (100, 100, 0, math.sqrt(0.5), math.sqrt(0.5)),  # at the bend, half way between east and north
        (150, 100, 50, 0, 1),
        (200, 100, 100, 0, 1),
    ],
)
def test_places_along_a_line(along: float, x: float, y: float, east: float, north: float) -> None:
    row = points_along(np.concatenate([EAST, BEND]), [1], [along]).row(0)
    assert row == pytest.approx((x * FOOT_M, y * FOOT_M, east, north), abs=1e-9)


def test_places_off_the_line_are_null() -> None:
    found = points_along(BEND, [0, 0, 0], [-0.1, 200.1, float("nan")])
    assert found.null_count().row(0) == (3, 3, 3, 3)


def test_repeated_vertices_have_no_direction_of_their_own() -> None:
    assert points_along(feet([(0, 0), (5, 0), (5, 0), (9, 0)]), [0], [5])["east"].to_list() == [1]


@pytest.mark.parametrize("bad", [None, shapely.LineString(), shapely.Point(0, 0), shapely.LineString([(1, 1), (1, 1)])])
def test_a_line_without_a_sound_shape_is_refused(bad: object) -> None:
    with pytest.raises(ValueError, match="line 1 has no sound shape"):
        points_along(np.array([EAST[0], bad], dtype=object), [0], [0])


def test_stations_stand_for_equal_parts() -> None:
    found = stations(EAST, 12, 300)
    left = found.filter(side="left")
    # 1,000 / 300 -> 4 parts of 250 ft, stations in their middle.
    assert left["along_ft"].to_list() == pytest.approx([125, 375, 625, 875])
    assert left["from_ft"].to_list() == pytest.approx([0, 250, 500, 750])
    assert left["to_ft"].to_list() == pytest.approx([250, 500, 750, 1000])
    # Flowing east, left is north; the bank is 12 / 2 = 6 ft off.
    assert left.select("normal_east", "normal_north").row(0) == pytest.approx((0, 1))
    assert left["bank_y_m"].to_list() == pytest.approx([6 * FOOT_M] * 4)
    assert found.filter(side="right")["bank_y_m"].to_list() == pytest.approx([-6 * FOOT_M] * 4)
    assert left["station"].to_list() == [1, 2, 3, 4]


@pytest.mark.parametrize(("every", "count"), [(1000, 1), (999.9, 2), (500, 2), (499.9, 3), (2000, 1)])
def test_how_many_stations(every: float, count: int) -> None:
    assert stations(EAST, 0, every).height == 2 * count


def test_a_stream_of_unknown_width_has_no_bank() -> None:
    found = stations(EAST, float("nan"), 500)
    assert found["bank_ft"].null_count() == 4
    assert found["x_m"].null_count() == 0
    with pytest.raises(ValueError, match="more than 0 ft apart"):
        stations(EAST, 0, 0)


@pytest.mark.parametrize(("islands", "bank"), [("water", 40), ("land", 10)])
def test_the_bank_is_the_edge_of_open_water(islands: str, bank: float) -> None:
    # A pond from 200 to 600 ft, 40 ft to each side, in three tiles; an island from 10 to 20 ft north of the line.
    pond = [box(200, -40, 400, 25), box(200, 25, 400, 40), box(400, -40, 600, 40).difference(box(460, 10, 599, 20))]
    found = stations(EAST, 6, 100, water=np.array(pond), islands=islands)  # type: ignore[arg-type]
    left = found.filter(side="left")
    assert left["in_water"].to_list() == [False] * 2 + [True] * 4 + [False] * 4
    assert left["bank_ft"].to_list() == pytest.approx([3, 3, 40, 40, 40, bank, 3, 3, 3, 3])
    assert found.filter(side="right")["bank_ft"].to_list()[5] == pytest.approx(40)


def test_heads_of_streams() -> None:
    lines = feet([(0, 0), (100, 0)], [(100.5, 0), (200, 0)], [(150, 90), (150, 1)], [(300, 0), (400, 0)])
    # The second begins where the first ends; the third joins it but begins alone; the fourth flows out of a pond.
    assert stream_heads(lines, touch_ft=2, water=np.array([box(280, -9, 299, 9)])).tolist() == [
        True,
        False,
        True,
        False,
    ]
    assert stream_heads(lines, touch_ft=0.4).tolist() == [True] * 4


def test_stations_around_a_source() -> None:
    # Half circle of radius 10 / 2 + 95 = 100 ft: 314.16 ft, in 4 parts of 78.54 ft.
    found = head_stations(EAST, np.array([True]), 10, 95, 80)
    assert found["side"].unique().to_list() == ["head"]
    assert found["along_ft"].to_list() == pytest.approx([(k + 0.5) * 25 * math.pi for k in range(4)])
    # From the left bank (north) over the source (west) to the right bank (south): 112.5, 157.5, 202.5, 247.5 degrees.
    angles = np.degrees(np.arctan2(found["normal_north"], found["normal_east"])) % 360
    assert angles.to_list() == pytest.approx([112.5, 157.5, 202.5, 247.5])
    assert found["bank_x_m"][1] == pytest.approx(5 * FOOT_M * math.cos(math.radians(157.5)))


def test_a_head_of_unknown_width() -> None:
    found = head_stations(EAST, np.array([True]), 10, float("nan"), 80)
    assert found.select("station", "from_ft", "bank_ft", "normal_east").row(0) == pytest.approx((1, None, None, -1))
    assert head_stations(EAST, np.array([False]), 10, 50, 80).height == 0


def test_ground_behind_another_stream_is_judged_there() -> None:
    # A tributary comes down from the north-west at 45 degrees and joins the main stream at 500 ft.
    lines = feet([(0, 0), (500, 0)], [(500, 0), (1000, 0)], [(300, 200), (500, 0)])
    found = stations(lines, 4, 100)
    flags = nearer_other(found, lines, 100)
    left = flags.filter(found["reach"].eq(0) & found["side"].eq("left")).to_list()
    # Transects to 102 ft: at 450 the tributary passes 50 ft north, at 350 ft 150 ft north.
    assert left == [False, False, False, False, True]
    assert not any(flags.filter(found["reach"].eq(0) & found["side"].eq("right")))
    assert nearer_other(stations(lines, float("nan"), 100), lines, 100).null_count() == found.height


def test_a_zone_kept_to_a_cut_edge() -> None:
    cut = np.array([box(0, 56, 400, 300), box(600, 206, 1000, 300), box(0, -500, 1000, -80)])
    found = zone_width_ft(stations(EAST, 12, 250), cut, 150, lines=EAST)
    # Bank at 6 ft: 56 - 6 = 50 ft opposite; from (375, 6) too; from (625, 6) to the corner (400, 56): hypot(225, 50).
    assert found["transect_ft"].to_list()[:4] == pytest.approx([50, 50, None, None])
    assert found["zone_width_ft"].to_list() == pytest.approx([50, 50, 150, 150, 74, 74, 74, 74])
    assert found["wider_than_read"].to_list() == [False, False, True, True] + [False] * 4


def test_the_shortest_way_to_a_slanting_edge_governs() -> None:
    # An edge that comes nearer at 45 degrees: y = 200 - x. From (100, 0) 100 ft along the transect, 100 / sqrt 2 straight.
    line = feet([(0, 0), (200, 0)])
    found = zone_width_ft(stations(line, 0, 200), feet([(-100, 300), (200, 0)]), 150, lines=line)
    left = found.row(0, named=True)
    assert left["transect_ft"] == pytest.approx(100)
    assert left["nearest_ft"] == left["zone_width_ft"] == pytest.approx(100 / math.sqrt(2))
    assert found["wider_than_read"].to_list() == [False, True]


def test_a_cut_across_the_same_stream_is_the_other_banks() -> None:
    # A hairpin: out east at y = 0, back west at y = 40. The cut lies north of the upper limb, on its right bank.
    hairpin = feet([(0, 0), (200, 0), (200, 40), (0, 40)])
    found = stations(hairpin, 0, 440)
    found = found.with_columns(
        x_m=pl.lit(100 * FOOT_M), bank_x_m=pl.lit(100 * FOOT_M), y_m=pl.lit(0.0), bank_y_m=pl.lit(0.0)
    )
    found = found.with_columns(normal_east=pl.lit(0.0), normal_north=pl.lit(1.0))[:1]
    kept = zone_width_ft(found, np.array([box(0, 60, 200, 90)]), 100, lines=hairpin)
    assert kept.row(0) == (None, None, 100, True)


def test_a_width_needs_a_bank_and_a_sound_cut() -> None:
    unknown = zone_width_ft(stations(EAST, float("nan"), 500), np.array([box(0, 20, 9, 30)]), 100, lines=EAST)
    assert unknown.null_count().row(0) == (4, 4, 4, 4)
    with pytest.raises(ValueError, match="cut 0 has no sound shape"):
        zone_width_ft(stations(EAST, 0, 500), np.array([None], dtype=object), 100, lines=EAST)
    with pytest.raises(ValueError, match="farther than 0 ft"):
        zone_width_ft(stations(EAST, 0, 500), EAST, 0, lines=EAST)


def test_without_a_cut_the_zone_is_wider_than_read() -> None:
    found = zone_width_ft(stations(EAST, 0, 500), np.empty(0, dtype=object), 100, lines=EAST)
    assert found["wider_than_read"].to_list() == [True] * 4


@given(st.floats(-1, 1), st.floats(-1, 1), st.floats(0, 2 * math.pi))
def test_slope_of_a_plane(a: float, b: float, course: float) -> None:
    # z = a x + b y rises by a n_x + b n_y a metre along the normal n; without sign, in percent.
    line = feet([(0, 0), (500 * math.cos(course), 500 * math.sin(course))])
    found = stations(line, 8, 250)
    slope = transect_slope_pct(found, lambda x, y: a * x + b * y, 100, sample_ft=10)
    expected = (100 * (a * found["normal_east"] + b * found["normal_north"]).abs()).to_list()
    assert slope.tolist() == pytest.approx(expected, abs=1e-6)


def test_slope_of_a_cone_around_a_source() -> None:
    # z = 0.3 r around the source: every transect from it climbs at 30 percent.
    found = head_stations(EAST, np.array([True]), 10, 95, 40)
    slope = transect_slope_pct(found, lambda x, y: 0.3 * np.hypot(x, y), 100, sample_ft=25)
    assert slope.tolist() == pytest.approx([30] * 8)


def test_a_hole_in_the_heights_is_not_bridged() -> None:
    found = stations(EAST, 0, 500)

    def heights(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.where((y > 49 * FOOT_M) & (y < 51 * FOOT_M) & (x < 100), np.nan, y)

    # x = 250 ft is 76 m, 750 ft is 229 m; samples every 50 ft, one of them in the hole.
    assert transect_slope_pct(found, heights, 100, sample_ft=50).tolist() == pytest.approx(
        [np.nan, 100, 100, 100], nan_ok=True
    )
    with pytest.raises(ValueError, match="more than 0 ft"):
        transect_slope_pct(found, heights, 0, sample_ft=1)


@given(TURNS, SHIFTS, st.booleans())
def test_turning_shifting_and_mirroring_a_site_changes_no_width(angle: float, shift: float, mirror: bool) -> None:
    line = feet([(0, 0), (150, 40), (300, -30), (480, 10)])
    cut = np.array([box(50, 90, 200, 200), box(330, 60, 360, 99), box(100, -150, 300, -85)])
    plain = zone_width_ft(stations(line, 10, 60), cut, 120, lines=line)

    def moved(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        turned = xy @ np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]]) + shift
        return turned * [-1, 1] if mirror else turned

    line, cut = shapely.transform(line, moved), shapely.transform(cut, moved)
    again = zone_width_ft(stations(line, 10, 60), cut, 120, lines=line)
    if mirror:  # left and right change places
        again = pl.concat([again[8:], again[:8]]) if again.height == 16 else pl.concat([again[9:], again[:9]])
    for name in ("transect_ft", "nearest_ft", "zone_width_ft"):
        # Shapes are cut on a grid of 1e-7 m; on an edge met aslant that is a few times as much.
        assert again[name].to_list() == pytest.approx(plain[name].to_list(), abs=1e-5)


def test_what_nearly_equal_shapes_share_is_a_sound_shape() -> None:
    # Two squares of 10 m, the second 1e-9 m off: all of the 100 square metres; squares that only touch share no ground.
    one, other = shapely.box(0, 0, 10, 10), shapely.box(1e-9, 1e-9, 10 + 1e-9, 10)
    (whole, touch, none) = common_part(np.array([one, one, None]), np.array([other, shapely.box(10, 0, 20, 10), one]))
    assert shapely.is_valid(whole) and shapely.area(whole) == pytest.approx(100)
    assert shapely.area(touch) == 0 and none is None


def plainly_nearest_ft(station: dict[str, float], line: object, cuts: Shapes, far_ft: float) -> float | None:
    """What of the cuts lies ahead of the bank is drawn, and the shortest way to each part that meets no water is measured."""
    bank, way = (np.array([station[k + "east"], station[k + "north"]]) for k in ("bank_", "normal_"))
    across = np.array([-way[1], way[0]])
    far = far_ft * FOOT_M
    ahead = shapely.Polygon(
        [bank - far * across, bank + far * across, bank + far * (across + way), bank + far * (way - across)]
    )
    found = []
    for part in shapely.get_parts(shapely.intersection(cuts, ahead)):
        if part.is_empty:
            continue
        shortest = shapely.shortest_line(shapely.Point(bank), part)
        middle = shapely.line_interpolate_point(shortest, [0.01, 0.99], normalized=True)
        blocked = shortest.length > 0.01 and shapely.LineString(middle).intersects(line)
        found += [shortest.length] if shortest.length <= far and not blocked else []
    return min(found) / FOOT_M if found else None


@pytest.mark.parametrize("seed", range(6))
def test_the_shortest_way_is_that_of_plain_geometry(seed: int) -> None:
    # Squares on both sides of a winding stream: before, behind, across the water, over the bank and far off.
    rng = np.random.default_rng(seed)
    line = shapely.LineString([(0, 0), (40, 10), (70, -20), (90, 30), (120, 0)])
    corners, sizes = rng.uniform((-20, -70), (140, 70), (7, 2)), rng.uniform(3, 25, 7)
    cuts = shapely.box(corners[:, 0], corners[:, 1], corners[:, 0] + sizes, corners[:, 1] + sizes)
    lines = np.array([line])
    rows = stations(lines, 6.0, 20.0)
    for transects in (True, False):
        found = zone_width_ft(rows, cuts, 100.0, lines=lines, transects=transects)
        for row, read in zip(rows.to_dicts(), found.to_dicts(), strict=True):
            station = {"bank_east": row["bank_x_m"], "bank_north": row["bank_y_m"]} | {
                k: row[k] for k in ("normal_east", "normal_north")
            }
            expected = plainly_nearest_ft(station, line, cuts, 100.0)
            assert read["nearest_ft"] == pytest.approx(expected, abs=1e-4), row
            least = [v for v in (read["transect_ft"], expected) if v is not None]
            assert read["zone_width_ft"] == pytest.approx(min(least, default=100.0), abs=1e-4)
    # Where a transect is left unread it cannot govern.
    whole, quick = (zone_width_ft(rows, cuts, 100.0, lines=lines, transects=t) for t in (True, False))
    assert whole.drop("transect_ft").equals(quick.drop("transect_ft"))
