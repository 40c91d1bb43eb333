"""Edges inside pieces of ground, against what GEOS cuts out of the same shapes."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.measures.outlines import Pieces, edges_inside, outlines

PLACES = st.tuples(st.integers(-300, 300), st.integers(-300, 300)).map(lambda at: (at[0] / 10, at[1] / 10))
NONE = np.array([np.nan])


def rectangle(start: tuple[float, float], end: tuple[float, float], wide: float) -> tuple[Pieces, shapely.Geometry]:
    """A rectangle to the left of a line, and the same as a polygon."""
    one, two = np.array([start]), np.array([end])
    step = two - one
    over = np.column_stack([-step[:, 1], step[:, 0]]) * wide / np.hypot(*step[0])
    return Pieces(one, two, over, NONE, NONE, NONE), shapely.Polygon(np.concatenate([one, two, two + over, one + over]))


def sector(at: tuple[float, float], begin: float, turn: float, radius: float) -> tuple[Pieces, shapely.Geometry]:
    """A sector, and the same as a polygon with chords of a thousandth of its turn."""
    angle = begin + turn * np.linspace(0, 1, 1001)
    arc = np.array(at) + radius * np.column_stack([np.cos(angle), np.sin(angle)])
    centre, fields = np.array([at]), (np.array([v]) for v in (begin, turn, radius))
    return Pieces(centre, centre, np.zeros((1, 2)), *fields), shapely.Polygon([at, *arc])


def held_to_geos(pieces: Pieces, ground: shapely.Geometry, beside: shapely.Geometry, shape: shapely.Geometry) -> None:
    """Length of the outline inside, and the nearest place, as GEOS has them; 1 mm for the chords of an arc."""
    found = edges_inside(pieces, outlines(np.array([shape], dtype=object)), 1e-9)
    step = found.ends[:, 1] - found.ends[:, 0]
    rim = shapely.boundary(shape) if shapely.get_dimensions(shape) == 2 else shape
    xy = shapely.get_coordinates(rim)
    # Edge by edge, for a line may lie on itself.
    inside = shapely.length(
        shapely.intersection(shapely.linestrings(np.stack([xy[:-1], xy[1:]], axis=1)), ground)
    ).sum()
    assert np.hypot(step[:, 0], step[:, 1]).sum() == pytest.approx(inside, rel=1e-3, abs=0.02)
    common = shapely.intersection(shape, shapely.buffer(ground, 1e-9))
    if not found.piece.size:
        assert shapely.length(shapely.intersection(shape, ground)) < 0.02
        return
    ways = found.ways[:, 1] - found.ways[:, 0]
    assert np.hypot(ways[:, 0], ways[:, 1]).min() == pytest.approx(shapely.distance(beside, common), abs=2e-3)
    assert (shapely.distance(beside, shapely.points(found.ways[:, 0])) < 1e-6).all()
    assert (shapely.distance(shape, shapely.points(found.ways[:, 1])) < 1e-6).all()


SHAPES = st.one_of(
    st.lists(PLACES, min_size=2, max_size=30, unique=True).map(shapely.LineString),
    st.lists(PLACES, min_size=4, max_size=12, unique=True).map(lambda at: shapely.MultiPoint(at).convex_hull),
    st.tuples(PLACES, st.floats(1, 40)).map(lambda of: shapely.Point(of[0]).buffer(of[1])),
)


@given(PLACES, PLACES, st.floats(1, 30), SHAPES)
@settings(max_examples=150, deadline=None)
def test_edges_in_a_rectangle_are_those_that_geos_finds(
    start: tuple[float, float], end: tuple[float, float], wide: float, shape: shapely.Geometry
) -> None:
    if start != end:
        pieces, ground = rectangle(start, end, wide)
        held_to_geos(pieces, ground, shapely.LineString([start, end]), shape)


@given(PLACES, st.floats(-3, 3), st.floats(0.05, math.pi - 0.01), st.booleans(), st.floats(1, 30), SHAPES)
@settings(max_examples=150, deadline=None)
def test_edges_in_a_sector_are_those_that_geos_finds(
    at: tuple[float, float], begin: float, turn: float, back: bool, radius: float, shape: shapely.Geometry
) -> None:
    pieces, ground = sector(at, begin, -turn if back else turn, radius)
    held_to_geos(pieces, ground, shapely.Point(at), shape)


def test_ground_that_covers_a_piece_is_met_at_its_corners() -> None:
    # A square of 100 m around a rectangle of 10 m by 5 m: no edge inside, four corners, the nearest 0 m from the line.
    pieces, _ = rectangle((0, 0), (10, 0), 5)
    found = edges_inside(pieces, outlines(np.array([shapely.box(-50, -50, 50, 50)], dtype=object)), 1e-9)
    assert {tuple(end) for end in found.ends[:, 0].tolist()} == {(0, 0), (10, 0), (10, 5), (0, 5)}
    assert np.hypot(*(found.ways[:, 1] - found.ways[:, 0]).T).min() == 0


def test_points_collections_and_nothing() -> None:
    # Of a point in the rectangle, one outside, and a collection with a line from x = 2 to 6 at y = 3: the line is cut at
    # x = 5, where the rectangle ends.
    pieces, _ = rectangle((0, 0), (5, 0), 5)
    line = shapely.GeometryCollection([shapely.MultiLineString([[(2, 3), (6, 3)]])])
    shapes = np.array([shapely.Point(1, 2), shapely.Point(1, 9), line, None, shapely.Polygon()], dtype=object)
    found = edges_inside(pieces, outlines(shapes), 0.0)
    assert found.shape.tolist() == [2, 0] or found.shape.tolist() == [0, 2]
    assert sorted(found.ends.tolist()) == [[[1, 2], [1, 2]], [[2, 3], [5, 3]]]
    assert sorted(np.hypot(*(found.ways[:, 1] - found.ways[:, 0]).T).tolist()) == [2, 3]
    assert edges_inside(pieces, outlines(shapes[3:]), 0.0).piece.size == 0
