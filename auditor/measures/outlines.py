"""Outlines of shapes in short chains of edges, so that a search need not look at whole shapes, and their edges inside
many small pieces of ground.

Coordinates are local metres. A piece of ground is a rectangle beside a straight line, or a sector of a circle of half a
turn at most; both are convex, so that what is nearest to the line or the centre, and first or last beside it, is an end
of an edge of the outline inside the piece, the nearest place of such an edge, or a corner of the piece.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

_Numbers = NDArray[np.float64]
_Indices = NDArray[np.int64]
_Shapes = NDArray[np.object_]

_CHAIN: Final = 6
"""How many edges a chain has at most: so few are measured fast, and more chains would take more memory."""
_ARC: Final = 5
"""How many places of its arc stand for a sector in the search for what is near."""


@dataclass(frozen=True, slots=True)
class Outlines:
    """The edges of shapes in chains: the vertices of all, the first and last of each chain, the shape of each, the shapes
    that are ground, and an index of the chains. An edge runs from a vertex of a chain to the next; a point is one without length.
    """

    xy: _Numbers
    first: _Indices
    last: _Indices
    shape: _Indices
    solid: _Indices
    shapes: _Shapes
    tree: shapely.STRtree

    def covering(self, points: _Numbers) -> tuple[_Indices, _Indices]:
        """Which points lie in or on which shapes that are ground: the place of each point and that of the shape.

        Parameters: `points` of shape (N, 2), coordinates in metres (m).

        Null: a point of NaN lies nowhere.

        Source: by definition.
        """
        solid, at = shapely.STRtree(shapely.points(points)).query(self.shapes[self.solid], predicate="intersects")
        return at, self.solid[solid]


def outlines(shapes: _Shapes) -> Outlines:
    """The outlines of shapes of any kind, shape (N,): coordinates in metres, no unit of their own.

    Null: a missing or empty shape has none.

    Source: by definition.
    """
    parts, owner = shapely.get_parts(shapes, return_index=True)
    # Parts of a collection may have parts themselves.
    parts, of = shapely.get_parts(parts, return_index=True)
    owner = owner[of]
    kind = shapely.get_dimensions(parts)
    rings, ring_of = shapely.get_rings(parts[kind == 2], return_index=True)
    points = np.repeat(shapely.get_coordinates(parts[kind == 0]), 2, axis=0)
    drawn = np.concatenate([rings, parts[kind == 1]])
    xy = np.concatenate([shapely.get_coordinates(drawn), points])
    size = np.concatenate([shapely.get_num_coordinates(drawn), np.full(len(points) // 2, 2)])
    shape = np.concatenate([owner[kind == 2][ring_of], owner[kind == 1], owner[kind == 0]])
    chains = -(-(size - 1) // _CHAIN)
    line = np.repeat(np.arange(len(size)), chains)
    number = np.arange(len(line)) - np.repeat(np.cumsum(chains) - chains, chains)
    start = (np.cumsum(size) - size)[line]
    first = start + number * _CHAIN
    last = np.minimum(first + _CHAIN, start + size[line] - 1)
    vertex, chain = _counted(first, last - first + 1)
    drawn = shapely.linestrings(xy[vertex], indices=chain) if len(chain) else np.empty(0, dtype=object)
    tree = shapely.STRtree(drawn)
    # The index is made now, before several blocks ask it at a time.
    tree.query(shapely.box(0, 0, 1, 1))
    return Outlines(xy, first, last, shape[line], np.flatnonzero(shapely.get_dimensions(shapes) == 2), shapes, tree)


@dataclass(frozen=True, slots=True)
class Pieces:
    """Pieces of ground: the line beside each, `start` to `end` (P, 2); the ground `over` (P, 2) from it, of a rectangle;
    where a sector begins and how far it `turns`, in radians, and its radius in metres, NaN of a rectangle.
    """

    start: _Numbers
    end: _Numbers
    over: _Numbers
    begin: _Numbers
    turns: _Numbers
    radius: _Numbers

    def of(self, some: slice) -> Pieces:
        """Some of them."""
        fields = (self.start, self.end, self.over, self.begin, self.turns, self.radius)
        return Pieces(*(field[some] for field in fields))

    def hulls(self) -> tuple[_Numbers, _Numbers]:
        """Places of each piece from its start, its corners among them, of shape (P, 6, 2), and how far it may reach beyond."""
        along = self.end - self.start
        angle = self.begin[:, None] + self.turns[:, None] * np.linspace(0, 1, _ARC)
        arc = self.radius[:, None, None] * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
        corners = np.stack([along, self.over, along + self.over, along, along], axis=1)
        around = np.isfinite(self.radius)
        hull = np.where(around[:, None, None], arc, corners)
        beyond = np.where(around, self.radius * (1 - np.cos(self.turns / (2 * (_ARC - 1)))), 0.0)
        return np.concatenate([np.zeros((len(along), 1, 2)), hull], axis=1), beyond

    def sides(self) -> _Numbers:
        """The straight sides of each piece from its start: inward unit vector and where it begins, of shape (P, 4, 3)."""
        along, out = self.end - self.start, self.over
        long, wide = np.hypot(*along.T), np.hypot(*out.T)
        one, two = along / np.where(long > 0, long, 1.0)[:, None], out / np.where(wide > 0, wide, 1.0)[:, None]
        none = np.zeros(len(along))
        square = [np.column_stack(s) for s in ((one, none), (-one, -long), (two, none), (-two, -wide))]
        sign = np.where(self.turns < 0, -1.0, 1.0)
        close = self.begin + self.turns
        first = np.column_stack([-sign * np.sin(self.begin), sign * np.cos(self.begin), none])
        second = np.column_stack([sign * np.sin(close), -sign * np.cos(close), none])
        free = np.column_stack([none, none, none - 1.0])
        around = np.isfinite(self.radius)[:, None, None]
        return np.where(around, np.stack([first, second, free, free], axis=1), np.stack(square, axis=1))


@dataclass(frozen=True, slots=True)
class Edges:
    """Edges of shapes inside pieces of ground: place of the piece, of the shape, both ends (E, 2, 2), and the shortest way
    from the line or the centre beside the piece (E, 2, 2).
    """

    piece: _Indices
    shape: _Indices
    ends: _Numbers
    ways: _Numbers


def edges_inside(pieces: Pieces, lines: Outlines, slack_m: float) -> Edges:
    """The edges of shapes inside pieces of ground; a corner of a piece on ground of a shape is an edge without length.

    Parameters: `pieces` (P,), `lines` the outlines of the shapes, `slack_m` how far in metres (m) beyond a piece an edge
    still counts, for rounding.

    Null: none; coordinates are finite.

    Source: arithmetic, clipping of a line against the sides of a convex shape (Cyrus and Beck 1978).
    """
    hull, beyond = pieces.hulls()
    low = hull.min(axis=1) - (beyond + slack_m)[:, None]
    high = hull.max(axis=1) + (beyond + slack_m)[:, None]
    boxes = shapely.box(*(low + pieces.start).T, *(high + pieces.start).T)
    piece, chain = lines.tree.query(boxes)
    vertex, pair = _counted(lines.first[chain], (lines.last - lines.first)[chain])
    a, b = (lines.xy[v] - pieces.start[piece[pair]] for v in (vertex, vertex + 1))
    near = (np.maximum(a, b) >= low[piece[pair]]).all(axis=1) & (np.minimum(a, b) <= high[piece[pair]]).all(axis=1)
    corners = (hull + pieces.start[:, None]).reshape(-1, 2)
    corner, solid = lines.covering(corners)
    at = corner // hull.shape[1]
    inner = hull.reshape(-1, 2)[corner]
    piece = np.concatenate([piece[pair[near]], at])
    shape = np.concatenate([lines.shape[chain[pair[near]]], solid])
    a, b = np.concatenate([a[near], inner]), np.concatenate([b[near], inner])
    begin, close = _clipped(a, b, pieces.sides()[piece], pieces.radius[piece], slack_m)
    kept = np.flatnonzero(begin <= close)
    piece, a, step = piece[kept], a[kept], (b - a)[kept]
    ends = a[:, None] + np.stack([begin[kept], close[kept]], axis=1)[..., None] * step[:, None]
    return Edges(piece, shape[kept], ends + pieces.start[piece][:, None], _shortest(pieces, piece, ends))


def _counted(first: _Indices, count: _Indices) -> tuple[_Indices, _Indices]:
    """The numbers from each first one on, as many as are asked for, and the place of the first one of each."""
    owner = np.repeat(np.arange(len(first)), count)
    return first[owner] + np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count), owner


def _clipped(a: _Numbers, b: _Numbers, sides: _Numbers, radius: _Numbers, slack_m: float) -> tuple[_Numbers, _Numbers]:
    """The shares of each edge at which its part inside begins and closes; it begins after it closes where none is inside."""
    begin, close = np.zeros(len(a)), np.ones(len(a))
    with np.errstate(divide="ignore", invalid="ignore"):
        for side in range(sides.shape[1]):
            inward, from_m = sides[:, side, :2], sides[:, side, 2] - slack_m
            at_a, at_b = (a * inward).sum(axis=1) - from_m, (b * inward).sum(axis=1) - from_m
            share = at_a / (at_a - at_b)
            begin = np.where((at_a < 0) & (at_b >= 0), np.maximum(begin, share), begin)
            close = np.where((at_a >= 0) & (at_b < 0), np.minimum(close, share), close)
            begin[(at_a < 0) & (at_b < 0)] = 2.0
        arc = np.flatnonzero(np.isfinite(radius))
        step, far = (b - a)[arc], radius[arc] + slack_m
        square, half = (step**2).sum(axis=1), (a[arc] * step).sum(axis=1)
        over = (a[arc] ** 2).sum(axis=1) - far**2
        root = np.sqrt(half**2 - square * over)
        met = np.where(square > 0, root >= 0, over <= 0)
        first, second = ((-half + sign * root) / square for sign in (-1, 1))
    long = square > 0
    begin[arc] = np.where(met, np.where(long, np.maximum(begin[arc], first), begin[arc]), 2.0)
    close[arc] = np.where(met & long, np.minimum(close[arc], second), close[arc])
    return begin, close


def _shortest(pieces: Pieces, piece: _Indices, ends: _Numbers) -> _Numbers:
    """The shortest way to each edge inside its piece, from the line beside it or the centre; places from the start."""
    along = (pieces.end - pieces.start)[piece]
    long = np.hypot(*along.T)
    one = along / np.where(long > 0, long, 1.0)[:, None]
    out = np.abs(one[:, None, 0] * ends[..., 1] - one[:, None, 1] * ends[..., 0])
    # Beside a line the way grows evenly along the edge; from a centre it is shortest at the foot.
    nearer = np.where((out[:, 0] <= out[:, 1])[:, None], ends[:, 0], ends[:, 1])
    step = ends[:, 1] - ends[:, 0]
    square = (step**2).sum(axis=1)
    share = np.clip(-(ends[:, 0] * step).sum(axis=1) / np.where(square > 0, square, 1.0), 0.0, 1.0)
    around = np.isfinite(pieces.radius[piece])
    end = np.where(around[:, None], ends[:, 0] + share[:, None] * step, nearer)
    foot = np.clip((end * one).sum(axis=1), 0.0, long)[:, None] * one
    return np.stack([foot, end], axis=1) + pieces.start[piece][:, None]
