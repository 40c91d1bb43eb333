"""Where numbers and names stand on a map, so that they do not cover each other."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from auditor.report.map_geometry import Box, Point

_RINGS = (15.0, 21.0, 28.0, 36.0, 46.0, 58.0, 72.0, 90.0, 112.0, 140.0)
_ANGLES = 16
_GAP = 1.5
_CENTRE = ((0, 0),)


@dataclass(frozen=True, slots=True)
class Placed:
    """A number beside what it belongs to: the place meant and the box of the number."""

    anchor: Point
    box: Box

    @property
    def middle(self) -> Point:
        """The middle of the number."""
        return (self.box.left + self.box.right) / 2, (self.box.top + self.box.bottom) / 2


def box_at(x: float, y: float, width: float, height: float) -> Box:
    """A box around its middle."""
    return Box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def place_numbers(
    anchors: Sequence[Point], widths: Sequence[float], height: float, area: Box, taken: Sequence[Box]
) -> list[Placed]:
    """A place for each number near its anchor, in the order given.

    None covers another, nor its leader line or what `taken` covers where there is room for that. A number that finds
    no free place in the whole area stands on its anchor.
    """
    placed: list[Placed] = []
    covered = [*taken, *(box_at(*anchor, 4, 4) for anchor in anchors)]
    for anchor, width in zip(anchors, widths, strict=True):
        # In a crowd it matters most that every number can be read, then whose it is, then what it covers.
        clear = (box for box in _apart(anchor, width, height, area, placed) if not _crossed(box, anchor, placed))
        free = next((box for box in clear if not any(box.meets(other) for other in covered)), None)
        if free is None:
            clear = (box for box in _apart(anchor, width, height, area, placed) if not _crossed(box, anchor, placed))
            free = next(clear, None) or next(_apart(anchor, width, height, area, placed), None)
        placed.append(Placed(anchor, free or _on(anchor, width, height, area)))
    return placed


def _roomy(box: Box) -> Box:
    return Box(box.left - _GAP, box.top - _GAP, box.right + _GAP, box.bottom + _GAP)


def _apart(anchor: Point, width: float, height: float, area: Box, placed: Sequence[Placed]) -> Iterator[Box]:
    """Boxes in the area that no number stands on, the nearest first."""
    for x, y in _near(anchor, area):
        box = box_at(x, y, width, height)
        if area.holds(box) and not any(_roomy(box).meets(p.box) for p in placed):
            yield box


def _crossed(box: Box, anchor: Point, placed: Sequence[Placed]) -> bool:
    """Whether a leader line would go through a number."""
    middle = (box.left + box.right) / 2, (box.top + box.bottom) / 2
    return any(p.box.cut_by(anchor, middle) or _roomy(box).cut_by(p.anchor, p.middle) for p in placed)


def _near(anchor: Point, area: Box) -> Iterator[Point]:
    """Places around an anchor, the nearer first, outward from the middle of the area first; then a grid over it all."""
    outward = math.atan2(anchor[1] - (area.top + area.bottom) / 2, anchor[0] - (area.left + area.right) / 2)
    for ring in _RINGS:
        for step in range(_ANGLES):
            turn = outward + (step + 1) // 2 * (1 if step % 2 else -1) * 2 * math.pi / _ANGLES
            yield anchor[0] + ring * math.cos(turn), anchor[1] + ring * math.sin(turn)
    columns, rows = int((area.right - area.left) / 20), int((area.bottom - area.top) / 18)
    grid = [(area.left + 10 + 20 * c, area.top + 9 + 18 * r) for r in range(rows) for c in range(columns)]
    yield from sorted(grid, key=lambda p: (round(math.dist(p, anchor), 3), p))


def _on(anchor: Point, width: float, height: float, area: Box) -> Box:
    x = min(max(anchor[0], area.left + width / 2), area.right - width / 2)
    y = min(max(anchor[1], area.top + height / 2), area.bottom - height / 2)
    return box_at(x, y, width, height)


def place_name(
    spots: Sequence[Point], width: float, height: float, area: Box, taken: Sequence[Box], centred: bool = False
) -> Box | None:
    """The first free box beside one of the spots, right of it first, or on it where `centred`; None without room."""
    for x, y in spots:
        for dx, dy in (
            *(_CENTRE if centred else ()),
            (8, 0),
            (-8, 0),
            (0, -9),
            (0, 9),
            (7, -7),
            (-7, -7),
            (7, 7),
            (-7, 7),
            *_CENTRE,
        ):
            half = (width / 2) * ((dx > 0) - (dx < 0))
            box = box_at(x + dx + half, y + dy, width, height)
            if area.holds(box) and not any(box.meets(other) for other in taken):
                return box
    return None
