"""The chart of the report, drawn as SVG: every load's gross weight against the limit that held for it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from xml.sax.saxutils import escape, quoteattr

from auditor.report import wording as say
from auditor.report.map_geometry import Box
from auditor.report.model import Limit, WeightPoint

WIDTH, HEIGHT = 680.0, 290.0
NARROW = 340.0
"""Width for a phone: letters keep their size, and the words of the legend take more lines."""
_LEFT, _RIGHT, _BOTTOM = 64.0, 40.0, 46.0
_LEGEND_LINE, _UNDER_LEGEND = 13.5, 32.0
_LANE = 20.0
"""Height of the strip under the scale for loads whose weight is not known."""
_FONT = 9.5
_LETTER = 0.52 * _FONT
_INK, _GRID, _RULE = "#1c1c1c", "#d9d9d9", "#8a8a8a"
_COLOURS = {
    "inside": "#7c9db5",
    "inside by allowance": "#0b5c93",
    "over, tolerated": "#e09a1a",
    "over": "#8f1d0e",
    "not shown": "#3a3a3a",
}
"""Colours that differ in lightness too; each state has a shape of its own besides. Drawn in this order."""
_NAMED = 3
"""How many of the loads furthest over are named."""
_TICK_COUNT = 5
_LEAST_TICK = 4.0
"""Least distance of the marks of two days."""
_LEAST_SPAN_LB = 5000.0
"""Loads that weigh nearly the same must not look far apart."""


@dataclass(frozen=True)
class _Frame:
    """Where a load and a weight stand on the paper."""

    low: float
    high: float
    loads: int
    width: float
    top: float
    bottom: float

    @property
    def right(self) -> float:
        """Where the space for loads ends."""
        return self.width - _RIGHT

    def x(self, place: int) -> float:
        """The middle of a load's own place."""
        return _LEFT + (place + 0.5) * (self.right - _LEFT) / max(self.loads, 1)

    def y(self, pounds: float) -> float:
        """The height of a weight."""
        return self.bottom - (pounds - self.low) / (self.high - self.low) * (self.bottom - self.top)


def weights_chart(points: Sequence[WeightPoint], width: float = WIDTH) -> str:
    """An SVG picture of the loads in order of date and ticket; empty where no weight or limit is known.

    Every load has a place of its own, so that loads of one day do not cover each other. A short line over or under
    each mark shows the limit that held for that load. A load without a known weight stands in a strip below.
    """
    ordered = sorted(points, key=lambda p: (p.on is None, p.on or date.min, p.ticket))
    known = [v for p in ordered for v in (p.gross_lb, p.limit_lb) if v is not None]
    if not known:
        return ""
    unweighed = any(p.gross_lb is None for p in ordered)
    step = _step(min(known), max(known))
    low, high = math.floor(min(known) / step) * step, math.ceil(max(known) / step) * step
    if low == high:
        low, high = max(low - step, 0.0), high + step
    legend, legend_bottom = _legend(ordered, width)
    bottom = HEIGHT - _BOTTOM - (_LANE if unweighed else 0.0)
    frame = _Frame(low, high, len(ordered), width, legend_bottom + _UNDER_LEGEND, bottom)
    parts = [*legend, *_scale(frame, step), *_days(frame, ordered), *_lane(unweighed), *_limits(frame, ordered)]
    parts += [*_marks(frame, ordered), *_names(frame, ordered)]
    told = f"Gross weight of {say.count(len(ordered), 'load')} against the limit of each"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="0 0 {width:g} {HEIGHT:g}" role="img"'
        f" aria-label={quoteattr(told)}"
        f' font-family="Report Sans, sans-serif" font-size="{_FONT:g}" fill="{_INK}">'
        f"<title>{escape(told)}</title>{''.join(parts)}</svg>"
    )


def _step(low: float, high: float) -> float:
    """A round step of the scale, in lb and in whole or half tons."""
    wanted = max(high - low, _LEAST_SPAN_LB) / _TICK_COUNT
    power = 10.0 ** math.floor(math.log10(wanted))
    return next(power * times for times in (1, 2, 5, 10) if power * times >= wanted)


def _text(x: float, y: float, words: str, anchor: str = "start", more: str = "") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{more}>{escape(say.clean(words))}</text>'


def _line(x1: float, y1: float, x2: float, y2: float, colour: str, width: float) -> str:
    return f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" stroke="{colour}" stroke-width="{width:g}"/>'


def _scale(frame: _Frame, step: float) -> list[str]:
    """The scale in pounds on the left and in short tons on the right."""
    right = frame.right
    parts = [
        _text(_LEFT - 6, frame.top - 10, "lb", "end"), _text(frame.width - 1, frame.top - 10, "short tons", "end"),
    ]  # fmt: skip
    for place in range(round((frame.high - frame.low) / step) + 1):
        pounds = frame.low + place * step
        y = frame.y(pounds)
        parts.append(_line(_LEFT, y, right, y, _RULE if place == 0 else _GRID, 0.6))
        parts.append(_text(_LEFT - 6, y + 3.3, say.number(pounds), "end"))
        parts.append(_text(right + 6, y + 3.3, say.number(pounds / say.LB_PER_TON)))
    return parts


def _days(frame: _Frame, ordered: Sequence[WeightPoint]) -> list[str]:
    """A small mark where each day begins, with its date where there is room; the year once."""
    half = (frame.x(1) - frame.x(0)) / 2
    base = HEIGHT - _BOTTOM
    parts, free_from, year = [], 0.0, 0
    # Closer marks would run together into a bar.
    marked = len({point.on for point in ordered}) * _LEAST_TICK <= frame.right - _LEFT
    for place, point in enumerate(ordered):
        if place and point.on == ordered[place - 1].on:
            continue
        x = frame.x(place) - half
        words = "no date" if point.on is None else say.short_day(point.on, with_year=point.on.year != year)
        roomy = x >= free_from and x + len(words) * _LETTER <= frame.width - 4
        if roomy or marked:
            parts.append(_line(x, base, x, base + (7 if roomy else 3), _RULE, 0.6))
        if roomy:
            parts.append(_text(x + 1, base + 16, words))
            free_from = x + len(words) * _LETTER + 10
            year = point.on.year if point.on is not None else year
    parts.append(_line(_LEFT, base, frame.right, base, _RULE, 0.6))
    words = "loads in order of date and ticket"
    if frame.width == WIDTH:
        words += "; equal places, whatever the days between"
    parts.append(_text((_LEFT + frame.right) / 2, base + 32, words, "middle"))
    return parts


def _lane(unweighed: bool) -> list[str]:
    return [_text(_LEFT - 6, HEIGHT - _BOTTOM - 4, "not weighed", "end")] if unweighed else []


def _limits(frame: _Frame, ordered: Sequence[WeightPoint]) -> list[str]:
    """The limit of each load as a short line; equal limits of neighbours join into one."""
    half = (frame.x(1) - frame.x(0)) / 2
    parts, start = [], 0
    for place in range(1, len(ordered) + 1):
        limit = ordered[start].limit_lb
        if place < len(ordered) and ordered[place].limit_lb == limit:
            continue
        if limit is not None:
            y = frame.y(limit)
            parts.append(_line(frame.x(start) - half, y, frame.x(place - 1) + half, y, _INK, 1.1))
        start = place
    return parts


def _marks(frame: _Frame, ordered: Sequence[WeightPoint]) -> list[str]:
    """One mark for each load, those over the limit last and so on top, each with a line from its limit."""
    size = min(3.1, max(1.6, (frame.right - _LEFT) / frame.loads * 0.8))
    parts = []
    for state, colour in _COLOURS.items():
        for place, point in enumerate(ordered):
            if point.state != state:
                continue
            x = frame.x(place)
            if point.gross_lb is None:
                parts.append(_mark("not shown", x, HEIGHT - _BOTTOM - 7.5, size))
                continue
            y = frame.y(point.gross_lb)
            if state.startswith("over") and point.limit_lb is not None:
                parts.append(_line(x, frame.y(point.limit_lb), x, y, colour, 0.8))
            parts.append(_mark(state, x, y, size))
    return parts


def _mark(state: str, x: float, y: float, size: float) -> str:
    """The shape of a state: disc, ring, triangle, diamond or cross."""
    colour = _COLOURS[state]
    if state == "inside":
        return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{size * 0.75:.2f}" fill="{colour}"/>'
    if state == "inside by allowance":
        return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{size * 0.95:.2f}" fill="#fff" stroke="{colour}" stroke-width="1.3"/>'
    if state == "not shown":
        d, width = size * 0.9, 1.1
        return _line(x - d, y - d, x + d, y + d, colour, width) + _line(x - d, y + d, x + d, y - d, colour, width)
    a = size * 1.45
    corners = (
        [(0, -a), (a, a * 0.8), (-a, a * 0.8)] if state == "over, tolerated" else [(0, -a), (a, 0), (0, a), (-a, 0)]
    )
    path = " ".join(f"{x + dx:.2f},{y + dy:.2f}" for dx, dy in corners)
    return f'<polygon points="{path}" fill="{colour}" stroke="{_INK}" stroke-width="0.5"/>'


def _names(frame: _Frame, ordered: Sequence[WeightPoint]) -> list[str]:
    """The tickets of the loads furthest over, each beside its mark; left out where it would cover something."""
    over = [
        (p.gross_lb - p.limit_lb, place, p)
        for place, p in enumerate(ordered)
        if p.state.startswith("over") and p.gross_lb is not None and p.limit_lb is not None
    ]
    over.sort(key=lambda entry: (-entry[0], entry[1]))
    drawn = [
        Box(frame.x(n) - 4, frame.y(v) - 4, frame.x(n) + 4, frame.y(v) + 4)
        for n, p in enumerate(ordered) for v in (p.gross_lb, p.limit_lb) if v is not None
    ]  # fmt: skip
    parts: list[str] = []
    for excess, place, point in over[:_NAMED]:
        words = f"{say.clean(point.ticket)[:18]}: +{say.quantity(excess, 'lb')}"
        box = _room(frame, place, point.gross_lb or 0.0, len(words) * _LETTER, drawn)
        if box is not None:
            drawn.append(box)
            back = f'<rect x="{box.left:.1f}" y="{box.top:.1f}" width="{box.right - box.left:.1f}" height="{_FONT + 2:.1f}" fill="#fff"/>'
            parts += [back, _text(box.left + 1, box.bottom - 3, words)]
    return parts


def _room(frame: _Frame, place: int, pounds: float, width: float, drawn: Sequence[Box]) -> Box | None:
    """The first free place for words around a mark: above, to the right, to the left, further above, below."""
    x, y, height = frame.x(place), frame.y(pounds), _FONT + 2
    for left, top in (
        (x - width / 2, y - height - 5), (x + 7, y - height / 2), (x - width - 7, y - height / 2),
        (x - width / 2, y - 2 * height - 5), (x - width / 2, y + 6),
    ):  # fmt: skip
        box = Box(left, top, left + width, top + height)
        inside = box.left > _LEFT and box.right < frame.right and box.top > frame.top - 22
        if inside and not any(box.meets(other) for other in drawn):
            return box
    return None


def _legend(ordered: Sequence[WeightPoint], paper: float) -> tuple[list[str], float]:
    """What each shape means and how many loads have it, in as many lines as they need, and where the last line is.

    Only states that occur are named.
    """
    entries = [(s, f"{say.weight_state(s)} ({n:,})") for s in _COLOURS if (n := sum(p.state == s for p in ordered))]
    entries.append(("limit", "limit of each load"))
    widths = [24 + len(words) * _LETTER for _, words in entries]
    start = 4.0 if sum(widths) > paper - _LEFT else _LEFT
    parts, x, y = [], start, 10.0
    for (state, words), width in zip(entries, widths, strict=True):
        if x > start and x + width - 12 > paper:
            x, y = start, y + _LEGEND_LINE
        mark = (
            _line(x - 2, y - 3.2, x + 9, y - 3.2, _INK, 1.1) if state == "limit" else _mark(state, x + 4, y - 3.2, 3.1)
        )
        parts += [mark, _text(x + 12, y, words)]
        x += width
    return parts, y


@dataclass(frozen=True, slots=True)
class Level:
    """A limit that is drawn: its weight, its name, and how many loads it held for."""

    limit_lb: float
    name: str
    load_count: int


def levels(points: Sequence[WeightPoint], limits: Sequence[Limit]) -> list[Level]:
    """The limits that a chart draws, the commonest first, named as the list of limits names them."""
    known = {limit.key: limit for limit in limits}
    counted = Counter((p.limit_lb, p.limit_key or "") for p in points if p.limit_lb is not None)
    return [
        Level(pounds, say.titled(say.limit_name(known[key]), key) if key in known else key, loads)
        for (pounds, key), loads in sorted(counted.items(), key=lambda entry: (-entry[1], entry[0]))
    ]
