"""The map of a harvest site, drawn as SVG: legend, scale bar, north arrow, and the numbers of the findings."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from auditor.report import wording as say
from auditor.report.map_geometry import Box, Line, Point, around, at, inside, length, thinned
from auditor.report.map_labels import Placed, place_name, place_numbers
from auditor.report.map_legend import FONT, LETTER, legend_entries, legend_of, north_arrow, scale_bar, text
from auditor.report.map_looks import INK, Look, drawn, look_of
from auditor.report.model import MapFeature, SiteMap

_PAD, _NARROW_PAD = 26.0, 15.0
_SIDE = 172.0
"""Width of the legend beside the map of a tall site."""
_TALL = 1.25
_ROOMY = 500.0
"""From this width on the legend of a tall site stands beside it."""
_LEAST_HEIGHT = 110.0
_STRIP = 40.0
_NUMBER_HEIGHT = 13.0
_LEAST_STEP = 0.4
_LONGEST_NAME = 26
"""Letters of a name on the map; a longer one ends in three dots."""


@dataclass(frozen=True, slots=True)
class MapMark:
    """A number on the map: that of its finding, with a letter where a finding shows in several places."""

    label: str
    feature: MapFeature


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where a place of the site stands on the paper."""

    area: Box
    left: float
    bottom: float
    west: float
    south: float
    scale: float
    """Units of the paper to the metre."""

    def lines(self, feature: MapFeature) -> list[list[Point]]:
        """The parts of a feature on the paper, without points that would fall on each other."""
        return [
            thinned([(self.left + (e - self.west) * self.scale, self.bottom - (n - self.south) * self.scale) for e, n in part], _LEAST_STEP)
            for part in feature.parts if part
        ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Shape:
    """A feature as it is drawn."""

    feature: MapFeature
    look: Look
    parts: list[list[Point]]


def map_marks(site: SiteMap) -> list[MapMark]:
    """The numbers of a map in the order of the findings: 1, 2a, 2b ..."""
    shown = sorted((f for f in _drawable(site) if f.finding is not None), key=lambda f: f.finding or 0)
    totals = Counter(f.finding for f in shown)
    seen: Counter[int | None] = Counter()
    marks: list[MapMark] = []
    for feature in shown:
        seen[feature.finding] += 1
        letter = _letters(seen[feature.finding]) if totals[feature.finding] > 1 else ""
        marks.append(MapMark(f"{feature.finding}{letter}", feature))
    return marks


def _letters(place: int) -> str:
    """The letters a to z, then aa, ab ..."""
    text = ""
    while place:
        place, rest = divmod(place - 1, 26)
        text = chr(ord("a") + rest) + text
    return text


def _drawable(site: SiteMap) -> list[MapFeature]:
    return [f for f in site.features if any(f.parts) and all(math.isfinite(v) for p in f.parts for xy in p for v in xy)]


def site_map(site: SiteMap, width: float) -> str:
    """The map as an SVG picture `width` units wide; empty where nothing can be drawn.

    The legend stands below, beside the map of a tall site where there is room. Numbers are those of the findings.
    """
    features = _drawable(site)
    if not features:
        return ""
    looks = {f.layer + f.detail: look_of(f) for f in features}
    legend = legend_entries(features)
    frame, beside = _frame(site, features, width)
    shapes = [_Shape(f, looks[f.layer + f.detail], frame.lines(f)) for f in features]
    shapes.sort(key=lambda shape: shape.look.order)
    body = [_backdrop(frame.area)]
    body += [_group(shape) for shape in shapes]
    body += _words(frame, shapes, map_marks(site))
    strip = frame.area.bottom + 8
    body += scale_bar(frame.area, frame.scale, strip) + north_arrow(frame.area.right - 26, strip)
    top, left, room = (8.0, frame.area.right + 12, width) if beside else (strip + _STRIP, 4.0, width)
    drawn_legend, low = legend_of(legend, left, top, room, single=beside)
    body += drawn_legend
    height = math.ceil(max(strip + _STRIP, low) + 2)
    told = _told(features)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="0 0 {width:g} {height:g}" role="img"'
        f" aria-label={quoteattr(told)}"
        f' font-family="Report Sans, sans-serif" font-size="{FONT:g}" fill="{INK}">'
        f"<title>{escape(told)}</title>{''.join(body)}</svg>"
    )


def _frame(site: SiteMap, features: Sequence[MapFeature], width: float) -> tuple[_Frame, bool]:
    """The largest scale at which the whole site fits, and whether the legend stands beside the map."""
    corners = [(0.0, 0.0), (max(site.width_m, 0.0), max(site.height_m, 0.0))]
    site_box = around([*corners, *(xy for f in features for part in f.parts for xy in part)])
    east, north = max(site_box.right - site_box.left, 1.0), max(site_box.bottom - site_box.top, 1.0)
    beside = width >= _ROOMY and north / east > _TALL
    across = width - (_SIDE if beside else 0.0)
    pad = _PAD if width >= _ROOMY else _NARROW_PAD
    most = width * (1.5 if width < _ROOMY else 1.05 if beside else 0.8)
    scale = min((across - 2 * pad - 2) / east, (most - 2 * pad) / north)
    height = max(north * scale + 2 * pad, _LEAST_HEIGHT)
    # A tall site needs no more than its own width and some room for names.
    wide = min(across - 2, max(east * scale + 2 * pad + 90, 240.0)) if beside else across - 2
    area = Box(1.0, 1.0, 1.0 + wide, 1.0 + height)
    left = 1.0 + (wide - east * scale) / 2
    bottom = 1.0 + (height + north * scale) / 2
    return _Frame(area, left, bottom, site_box.left, site_box.top, scale), beside


def _told(features: Iterable[MapFeature]) -> str:
    counts = Counter(say.clean(f.layer.replace("_", " ")) for f in features)
    return "Map of the site: " + ", ".join(say.count(n, layer) for layer, n in counts.items())


def _backdrop(area: Box) -> str:
    return (
        f'<rect x="{area.left:g}" y="{area.top:g}" width="{area.right - area.left:.1f}"'
        f' height="{area.bottom - area.top:.1f}" fill="#fff" stroke="{INK}" stroke-width="0.8"/>'
    )


def _group(shape: _Shape) -> str:
    name = quoteattr(say.clean(shape.feature.layer))
    return f"<g data-layer={name}>{drawn(shape.look, shape.feature.kind, shape.parts)}</g>"


def _anchor(shape: _Shape) -> Point:
    """The place of a feature that its number points to."""
    if shape.feature.kind == "polygon":
        return inside(shape.parts)
    longest = max(shape.parts, key=length)
    return at(longest, length(longest) / 2)[0] if shape.feature.kind == "line" else longest[0]


def _words(frame: _Frame, shapes: Sequence[_Shape], marks: Sequence[MapMark]) -> list[str]:
    """Numbers with their leader lines, and the names for which there is room."""
    by_feature = {id(shape.feature): shape for shape in shapes}
    markers = [around(part, 5.0) for s in shapes if s.look.shape and s.feature.kind == "point" for part in s.parts]
    markers += [around([_anchor(s)], 5.0) for s in shapes if s.look.shape and s.feature.kind == "polygon"]
    hidden = [around(part, 1.0) for s in shapes if s.feature.finding is not None for part in s.parts]
    widths = [max(_NUMBER_HEIGHT, len(mark.label) * 6.0 + 6) for mark in marks]
    anchors = [_anchor(by_feature[id(mark.feature)]) for mark in marks]
    room = Box(frame.area.left + 2, frame.area.top + 2, frame.area.right - 2, frame.area.bottom - 2)
    placed = place_numbers(anchors, widths, _NUMBER_HEIGHT, room, [*markers, *hidden])
    taken = [*markers, *hidden, *(p.box for p in placed)]
    names = _names(room, shapes, taken)
    leaders = [_leader(p) for p in placed]
    return [*names, *leaders, *(_number(p, m) for p, m in zip(placed, marks, strict=True))]


def _leader(placed: Placed) -> str:
    (x, y), (mx, my) = placed.anchor, placed.middle
    return (
        f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{mx:.1f}" y2="{my:.1f}" stroke="#fff" stroke-width="2.2"/>'
        f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{mx:.1f}" y2="{my:.1f}" stroke="{INK}" stroke-width="0.9"/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="1.8" fill="{INK}" stroke="#fff" stroke-width="0.7"/>'
    )


def _number(placed: Placed, mark: MapMark) -> str:
    box = placed.box
    return (
        f'<rect x="{box.left:.1f}" y="{box.top:.1f}" width="{box.right - box.left:.1f}" height="{_NUMBER_HEIGHT:g}"'
        f' rx="4" fill="#fff" stroke="{INK}" stroke-width="1.1"/>'
        f'<text x="{placed.middle[0]:.1f}" y="{box.bottom - 3.1:.1f}" text-anchor="middle" font-weight="700"'
        f' data-finding="{mark.feature.finding}">{mark.label}</text>'
    )


def _names(room: Box, shapes: Sequence[_Shape], taken: list[Box]) -> list[str]:
    """Names of streams, units, decks ..., markers first; each name of a layer once; left out where there is no room."""
    drawn_names: list[str] = []
    seen: set[tuple[str, str]] = set()
    for shape in sorted(shapes, key=lambda s: -s.look.order):
        words = say.clean(shape.feature.name)
        if len(words) > _LONGEST_NAME:
            words = words[: _LONGEST_NAME - 1].rstrip(" ,;") + "\u2026"
        if not shape.look.named or not words or (shape.look.words, words) in seen:
            continue
        box = place_name(
            _spots(shape),
            len(words) * LETTER + 3,
            FONT + 2,
            room,
            taken,
            shape.feature.kind == "polygon" and not shape.look.shape,
        )
        if box is None:
            continue
        seen.add((shape.look.words, words))
        taken.append(box)
        drawn_names.append(
            f'<rect x="{box.left:.1f}" y="{box.top:.1f}" width="{box.right - box.left:.1f}" height="{FONT + 2:g}"'
            f' fill="#fff" fill-opacity="0.85"/>' + text((box.left + box.right) / 2, box.bottom - 3, words, "middle")
        )
    return drawn_names


def _spots(shape: _Shape) -> list[Point]:
    if shape.feature.kind != "line":
        return [_anchor(shape)]
    longest: Line = max(shape.parts, key=length)
    return [at(longest, length(longest) * share)[0] for share in (0.5, 0.3, 0.7, 0.15, 0.85, 0.4, 0.6)]
