"""What lies inside required zones, on drawings whose numbers are worked by hand. Drawn in feet."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import polars as pl
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.measures import intrusions as in_zone
from auditor.measures import reaches as reaches_module
from auditor.measures import zones as zones_module
from auditor.measures.intrusions import intrusions
from auditor.measures.reaches import FOOT_M, head_stations, stations, zone_width_ft
from auditor.measures.zones import disjoint_zones, required_zones
from tests.measures.test_reaches import BEND, EAST, Shapes, box, feet

TURNS = st.integers(0, 62_831).map(lambda n: n / 10_000)
SHIFTS = st.integers(-5_000_000, 5_000_000).map(lambda n: n / 10)
"""Angles in radians and metres as a map may have them; numbers near the smallest of all break the geometry library."""


def found(
    geometry: Any,
    width: Any = 50.0,
    *,
    error: float = 5.0,
    lines: Shapes = EAST,
    every: float = 100,
    stream: float = 12,
) -> pl.DataFrame:
    """What of some shapes lies in the zones of some reaches; by default 50 ft from the banks of a 12-ft stream."""
    shapes = np.array(geometry if isinstance(geometry, list) else [geometry])
    rows = stations(lines, stream, every)
    return intrusions(lines, rows, width, shapes, error, search_ft=100, touch_ft=0.1)


def point(x: float, y: float) -> shapely.Point:
    return shapely.Point(x * FOOT_M, y * FOOT_M)


def test_a_harvest_that_reaches_into_the_zone() -> None:
    # The zone goes from 6 to 56 ft. The cut begins at 36 ft: 30 ft from the bank, 20 ft deep, 330 ft long,
    # 330 x 20 = 6,600 square feet = 0.1515 acres.
    row = found(box(120, 36, 450, 300)).row(0, named=True)
    assert row == pytest.approx(
        {
            "reach": 0, "side": "left", "geometry": 0, "nearest_ft": 30, "depth_ft": 20, "inside": True,
            "area_acres": 6_600 / 43_560, "track_ft": 0, "from_ft": 120, "to_ft": 450, "length_ft": 330,
        }
    )  # fmt: skip


def test_a_track_has_length_and_no_area() -> None:
    # A track straight across: 100 ft of zone in all, 50 ft on each bank, through the channel.
    rows = found(feet([(300, -200), (300, 200)])[0])
    assert rows["side"].to_list() == ["left", "right"]
    assert rows["track_ft"].to_list() == pytest.approx([50, 50])
    assert rows["area_acres"].to_list() == [0, 0]
    assert rows["nearest_ft"].to_list() == [0, 0]
    assert rows["depth_ft"].to_list() == pytest.approx([50, 50])
    assert rows["length_ft"].to_list() == pytest.approx([0, 0])


def test_a_track_along_the_stream() -> None:
    # From (200, 26) to (500, 66): 20 ft from the bank at its nearest; it leaves the zone at y = 56, three quarters of
    # the way, at x = 425; length inside 0.75 hypot(300, 40).
    row = found(feet([(200, 26), (500, 66)])[0]).row(0, named=True)
    assert (row["nearest_ft"], row["depth_ft"]) == pytest.approx((20, 30))
    assert (row["from_ft"], row["to_ft"]) == pytest.approx((200, 425))
    assert row["track_ft"] == pytest.approx(0.75 * math.hypot(300, 40))


@pytest.mark.parametrize(
    ("y", "inside", "depth"),
    [
        # Zone to 56 ft, known to 5 ft: inside for sure nearer than 51, outside for sure from 61 on.
        (50.9, True, 5.1),
        (51, None, 5),
        (56, None, 0),
        (60.9, None, -4.9),
        (61, False, -5),
        (61.1, False, -5.1),
    ],
)
def test_an_intrusion_shallower_than_the_error_is_open(y: float, inside: bool | None, depth: float) -> None:
    row = found(point(333, y)).row(0, named=True)
    assert row["inside"] is inside
    assert row["depth_ft"] == pytest.approx(depth)
    assert row["area_acres"] == row["track_ft"] == 0


def test_without_error_the_edge_itself_is_outside() -> None:
    rows = found([point(333, 55.9), point(333, 56), point(333, 56.1)], error=0.0)
    assert rows["inside"].to_list() == [True, False, False]


def test_an_unknown_error_decides_nothing() -> None:
    assert found([point(333, 10), point(333, 90)], error=float("nan"))["inside"].to_list() == [None, None]


def test_far_shapes_have_no_row() -> None:
    # Search ends 100 ft beyond the zone: 156 ft from the line.
    assert found([point(333, 155.9), point(333, 156.1)])["geometry"].to_list() == [0]
    assert found([point(5000, 0)]).height == 0
    assert found(np.empty(0, dtype=object).tolist()).height == 0


def test_widths_along_the_bank_decide_where() -> None:
    # Left: 30 ft to 500, then 90 ft. A cut 56 ft from the line is 50 ft from the bank: 20 ft outside there, 40 ft
    # inside here, over 500 to 700: 200 x 40 = 8,000 square feet.
    width = [30.0] * 5 + [90.0] * 5 + [0.0] * 10
    row = found(box(300, 56, 700, 300), width).row(0, named=True)
    assert (row["depth_ft"], row["from_ft"], row["to_ft"]) == pytest.approx((40, 500, 700), abs=1e-3)
    assert row["area_acres"] == pytest.approx(8_000 / 43_560, rel=1e-5)


def test_a_stretch_without_width_leaves_it_open() -> None:
    width = [50.0] * 5 + [float("nan")] * 5 + [50.0] * 10
    # Shown inside by the known stretch; depth and area are not known.
    both = found(box(400, 16, 600, 30), width).row(0, named=True)
    assert both["inside"] is True
    assert both["depth_ft"] is both["area_acres"] is both["length_ft"] is None
    # Nothing but the unknown stretch near: open, however near the bank.
    only = found(point(777, 10), width).row(0, named=True)
    assert (only["inside"], only["depth_ft"], only["nearest_ft"]) == (None, None, pytest.approx(4))
    # The other bank and the far stretch are as ever.
    assert found(point(777, -10), width).row(0, named=True)["inside"] is True


def test_a_stream_of_unknown_width_leaves_it_open() -> None:
    row = found(point(500, 20), stream=float("nan")).row(0, named=True)
    assert (row["inside"], row["depth_ft"], row["nearest_ft"]) == (None, None, None)


def test_the_head_of_a_stream_is_a_bank_of_its_own() -> None:
    rows = pl.concat([stations(EAST, 12, 100), head_stations(EAST, np.array([True]), 12, 50, 30)])
    # From 30 ft west of the source on: 24 ft from the bank; 20 ft west and 60 ft south: hypot = 63.2, outside by 7.2 ft.
    shapes = np.array([box(-40, -5, -30, 5), point(-20, -60)])
    got = intrusions(EAST, rows, 50, shapes, 5, search_ft=50, touch_ft=0.1)
    assert got["side"].to_list() == ["head", "head"]
    assert got["depth_ft"].to_list() == pytest.approx([26, 56 - math.hypot(20, 60)])
    assert got["inside"].to_list() == [True, False]
    # Half circle of 56 ft: 175.93 ft in 6 stretches of 29.32; straight above the source two of them meet.
    assert got.row(0, named=True)["length_ft"] == pytest.approx(2 * 56 * math.pi / 6, abs=1e-3)


def test_outside_of_a_bend() -> None:
    # South-east of the bend at (100, 0), 30 ft east and 40 ft south: 50 ft from the line, on the right.
    row = found(point(130, -40), 60.0, lines=BEND, stream=0, every=30).row(0, named=True)
    assert (row["side"], row["nearest_ft"], row["depth_ft"]) == ("right", pytest.approx(50), pytest.approx(10))
    # Inside of the bend, 30 ft from the one limb and 20 ft from the other, on the left: 20 counts.
    row = found(point(80, 30), 60.0, lines=BEND, stream=0, every=30).row(0, named=True)
    assert (row["side"], row["nearest_ft"]) == ("left", pytest.approx(20))


def test_ground_across_the_own_stream_belongs_to_the_other_bank() -> None:
    # A hairpin 40 ft wide: a stump 10 ft north of the upper limb is 50 ft from the lower one, across the upper limb.
    hairpin = feet([(0, 0), (200, 0), (200, 40), (0, 40)])
    rows = found(point(100, 50), 60.0, lines=hairpin, stream=0, every=40)
    assert rows["side"].to_list() == ["right"]
    assert rows["nearest_ft"].to_list() == pytest.approx([10])


def test_each_stream_near_a_confluence_has_its_row() -> None:
    lines = feet([(0, 0), (500, 0)], [(500, 0), (1000, 0)], [(500, 400), (500, 0)])
    rows = found(point(480, 30), 50.0, lines=lines, stream=0)
    # 30 ft from the main stream on its left, 20 ft from the tributary, which flows south, on its right.
    assert rows.select("reach", "side", "nearest_ft").rows() == [
        (0, "left", pytest.approx(30)),
        (2, "right", pytest.approx(20)),
    ]


def test_a_shape_that_is_missing_is_refused() -> None:
    with pytest.raises(ValueError, match="geometry 1 has no sound shape"):
        found([point(0, 0), None])


BOW = feet([(0, 0), (150, 60), (300, -40), (420, 130)])
# To a thousandth of a foot: no survey knows places to 1e-176.
places = st.tuples(st.integers(-50_000, 450_000), st.integers(-150_000, 250_000)).map(
    lambda p: (p[0] / 1000, p[1] / 1000)
)


@given(st.lists(places, min_size=1, max_size=5, unique=True), st.floats(0, 80), st.floats(0, 80))
@settings(max_examples=40, deadline=None)
def test_a_wider_requirement_never_shrinks_an_intrusion(
    spots: list[tuple[float, float]], width: float, more: float
) -> None:
    shapes: list[Any] = [point(*spot).buffer(6 * FOOT_M) for spot in spots]
    keys = ["reach", "side", "geometry"]
    narrow = found(shapes, width, lines=BOW, every=60, stream=8)
    wide = found(shapes, width + more, lines=BOW, every=60, stream=8)
    both = narrow.join(wide, on=keys, how="left", suffix="_wide")
    assert both["depth_ft_wide"].null_count() == 0
    for name in ("depth_ft", "area_acres", "length_ft"):
        assert (both[f"{name}_wide"] >= both[name] - 1e-6).all()
    assert not (both["inside"] & ~both["inside_wide"].fill_null(False)).any()


@given(places, TURNS, SHIFTS, st.booleans())
@settings(max_examples=40, deadline=None)
def test_turning_shifting_and_mirroring_a_site_changes_nothing(
    spot: tuple[float, float], angle: float, shift: float, mirror: bool
) -> None:
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])

    def moved(shapes: Shapes) -> Shapes:
        there: Shapes = shapely.transform(shapes, lambda xy: (xy @ turn + shift) * ([-1, 1] if mirror else [1, 1]))
        return there

    shapes = np.array([box(spot[0], spot[1], spot[0] + 33.3, spot[1] + 21.7)])
    plain = found(list(shapes), 70.0, lines=BOW, every=60)
    again = found(list(moved(shapes)), 70.0, lines=moved(BOW), every=60)
    if mirror:
        again = again.with_columns(side=pl.col("side").replace({"left": "right", "right": "left"}))
    again, plain = again.sort("side"), plain.sort("side")
    assert again["side"].to_list() == plain["side"].to_list()
    for name in ("nearest_ft", "depth_ft", "area_acres", "from_ft", "to_ft"):
        assert again[name].to_list() == pytest.approx(
            plain[name].to_list(), abs=1e-4 if name in ("from_ft", "to_ft") else 2e-6
        )


@given(places, st.floats(10, 90))
@settings(max_examples=60, deadline=None)
def test_the_distance_is_that_to_the_line(spot: tuple[float, float], width: float) -> None:
    # A place above or beside the line, not beyond its ends: its nearest row is the plain distance to the line.
    place = point(*spot)
    on = shapely.line_locate_point(BOW[0], place)
    if not 1e-3 < on < shapely.length(BOW[0]) - 1e-3:
        return
    rows = found(place, width, lines=BOW, stream=0, every=45, error=0.0)
    apart = shapely.distance(BOW[0], place) / FOOT_M
    if apart > width + 100:
        assert rows.height == 0
    else:
        assert rows["nearest_ft"].min() == pytest.approx(apart, abs=1e-5)
        assert rows["inside"].any() is bool(round(width - apart, 6) > 0)


def test_blocks_worked_on_at_a_time_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    # Twelve winding reaches, each with a band of cut beside it; all at once, and in blocks of a few shapes.
    rng = np.random.default_rng(3)
    xy = np.stack([np.broadcast_to(np.arange(0, 400, 40.0), (12, 10)), rng.uniform(-15, 15, (12, 10))], axis=-1)
    lines = shapely.linestrings(xy + np.arange(12)[:, None, None] * np.array([30.0, 45.0]))
    rows = stations(lines, 10.0, 50.0)
    cut = shapely.difference(shapely.buffer(lines, 20.0), shapely.buffer(lines, 9.0))

    def worked_out() -> tuple[pl.DataFrame, list[float], pl.DataFrame]:
        zones = disjoint_zones(required_zones(lines, rows, 50.0, touch_ft=3.0)[1])
        found = intrusions(lines, rows, 50.0, cut, 5.0, search_ft=0.0, touch_ft=3.0)
        return found, shapely.area(zones).tolist(), zone_width_ft(rows, cut, 330.0, lines=lines)

    whole = worked_out()
    assert whole[0].height > 12
    for module, name in ((in_zone, "_FEW"), (zones_module, "_FEW"), (zones_module, "_BLOCK")):
        monkeypatch.setattr(module, name, 7)
    monkeypatch.setattr(reaches_module._blocks, "__defaults__", (7,))
    few = worked_out()
    assert few[0].equals(whole[0]) and few[1] == whole[1] and few[2].equals(whole[2])
