"""Plane geometry of a drawn map: boxes, hatching, places on lines and in polygons. Paper coordinates, y down."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

Point = tuple[float, float]
Line = Sequence[Point]
_ROUND = (5.0, 2.0, 1.0)
_HEIGHTS = (0.5, 0.42, 0.58, 0.34, 0.66, 0.25, 0.75, 0.12, 0.88)
"""Where a polygon is cut across to find its widest part, as shares of its height."""


@dataclass(frozen=True, slots=True)
class Box:
    """A part of the paper that something covers."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """Whether the two share more than an edge."""
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )

    def holds(self, other: Box) -> bool:
        """Whether the other lies inside, edges included."""
        return (
            self.left <= other.left and other.right <= self.right
            and self.top <= other.top and other.bottom <= self.bottom
        )  # fmt: skip

    def cut_by(self, start: Point, end: Point) -> bool:
        """Whether a straight line from start to end goes through the box."""
        low, high = 0.0, 1.0
        for a, b, least, most in (
            (start[0], end[0], self.left, self.right), (start[1], end[1], self.top, self.bottom),
        ):  # fmt: skip
            if a == b:
                if not least < a < most:
                    return False
                continue
            first, last = sorted(((least - a) / (b - a), (most - a) / (b - a)))
            low, high = max(low, first), min(high, last)
        return low < high


def around(points: Iterator[Point] | Sequence[Point], margin: float = 0.0) -> Box:
    """The box around at least one point."""
    xs, ys = zip(*points, strict=True)
    return Box(min(xs) - margin, min(ys) - margin, max(xs) + margin, max(ys) + margin)


def round_length(most: float) -> float:
    """The largest of 1, 2 and 5 times a power of ten that is not above a positive length.

    >>> round_length(730), round_length(99), round_length(1)
    (500.0, 50.0, 1.0)
    """
    power = 10.0 ** math.floor(math.log10(most))
    return next((power * times for times in _ROUND if power * times <= most), power)


def thinned(points: Line, least: float) -> list[Point]:
    """The line without points closer than `least` to the one kept before; its ends stay."""
    kept: list[Point] = []
    for point in points:
        if not kept or math.dist(kept[-1], point) >= least:
            kept.append(point)
    if kept and kept[-1] != points[-1]:
        kept.append(points[-1])
    return kept


def _spans(rings: Sequence[Line], height: float, turn: float) -> list[tuple[float, float]]:
    """Where a straight line lies inside the rings by the even-odd rule; the line is level after a turn by `turn`."""
    cos, sin = math.cos(turn), math.sin(turn)
    met: list[float] = []
    for ring in rings:
        turned = [(x * cos + y * sin, y * cos - x * sin) for x, y in ring]
        for (x1, y1), (x2, y2) in pairwise([*turned, turned[0]]):
            if (y1 <= height) != (y2 <= height):
                met.append(x1 + (height - y1) / (y2 - y1) * (x2 - x1))
    met.sort()
    return list(zip(met[::2], met[1::2], strict=False))


def hatch(rings: Sequence[Line], spacing: float, turn: float) -> list[tuple[Point, Point]]:
    """Parallel lines inside a polygon with holes, `spacing` apart, turned by `turn` radians.

    The lines lie on one grid for the whole paper, so that those of overlapping polygons coincide.
    """
    cos, sin = math.cos(turn), math.sin(turn)
    heights = [y * cos - x * sin for ring in rings for x, y in ring]
    if not heights:
        return []
    drawn: list[tuple[Point, Point]] = []
    for place in range(math.ceil(min(heights) / spacing), math.floor(max(heights) / spacing) + 1):
        level = place * spacing
        for low, high in _spans(rings, level, turn):
            drawn.append(
                (
                    (low * cos - level * sin, low * sin + level * cos),
                    (high * cos - level * sin, high * sin + level * cos),
                )
            )
    return drawn


def inside(rings: Sequence[Line]) -> Point:
    """A point inside a polygon: the middle of its widest part on one of a few lines across it."""
    box = around([point for ring in rings for point in ring])
    best, width = rings[0][0], 0.0
    for share in _HEIGHTS:
        height = box.top + share * (box.bottom - box.top)
        for low, high in _spans(rings, height, 0.0):
            if high - low > width + 1e-9:
                best, width = ((low + high) / 2, height), high - low
    return best


def length(line: Line) -> float:
    """The length of a line of points."""
    return math.fsum(math.dist(a, b) for a, b in pairwise(line))


def at(line: Line, way: float) -> tuple[Point, Point]:
    """The place on a line after a way along it, and the direction there; its ends beyond them."""
    left, direction = way, (1.0, 0.0)
    for a, b in pairwise(line):
        long = math.dist(a, b)
        if long == 0:
            continue
        direction = ((b[0] - a[0]) / long, (b[1] - a[1]) / long)
        if left <= long:
            part = max(left, 0.0) / long
            return (a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1])), direction
        left -= long
    return line[-1], direction


def ticks(line: Line, step: float, half: float) -> list[tuple[Point, Point]]:
    """Short strokes across a line, `step` apart, each reaching `half` to either side."""
    drawn: list[tuple[Point, Point]] = []
    whole = length(line)
    for place in range(int(whole / step + 0.5)):
        (x, y), (dx, dy) = at(line, (place + 0.5) * step)
        drawn.append(((x - dy * half, y + dx * half), (x + dy * half, y - dx * half)))
    return drawn
