"""How each layer of a site map is drawn: line patterns, hatching and marker shapes that differ without their colours."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from auditor.report.map_geometry import Line, Point, hatch, inside, ticks
from auditor.report.model import MapFeature

Kind = Literal["point", "line", "polygon"]
INK = "#1c1c1c"
_WATER, _ZONE, _EARTH, _RED = "#1d5f8a", "#2f6b4f", "#6d4513", "#8f1d0e"
_CLASSES = ("perennial", "intermittent", "ephemeral")
_SPACING = 5.0
_STEEP, _LEVEL = math.pi / 4, 0.0


@dataclass(frozen=True, slots=True)
class Look:
    """How one layer, or one class of a layer, is drawn. Lower `order` lies below."""

    order: int
    words: str
    colour: str = INK
    width: float = 1.0
    dash: str = ""
    round_ends: bool = False
    fill: str = "none"
    hatched: float | None = None
    """Direction of the hatching in radians; None: no hatching."""
    strokes: Literal["", "ticks", "double"] = ""
    shape: str = ""
    """Marker of a point, also set inside a polygon; empty: a diamond for points and none in polygons."""
    named: bool = False


STREAMS = {
    "perennial": Look(60, "perennial stream", _WATER, 2.0, named=True),
    "intermittent": Look(60, "intermittent stream", _WATER, 1.8, dash="8 3.5", named=True),
    "ephemeral": Look(60, "ephemeral stream", _WATER, 2.2, dash="0.1 4.2", round_ends=True, named=True),
    "": Look(60, "stream, class not recorded", _WATER, 1.6, dash="9 3 1.5 3", named=True),
}
LOOKS = {
    "unit": Look(10, "cutting unit", "#4d4d4d", 1.1, dash="15 3", fill="#f4f3ec", named=True),
    "water body": Look(20, "water body", _WATER, 0.8, fill="#e3edf3", hatched=_LEVEL, named=True),
    "required zone": Look(30, "required streamside zone", _ZONE, 0.6, hatched=_STEEP),
    "road": Look(40, "road", _EARTH, 3.4, strokes="double", named=True),
    "trail": Look(41, "skid trail or firelane", _EARTH, 0.8, strokes="ticks", named=True),
    "track": Look(42, "machine track", "#555555", 0.6, dash="2 2"),
    "cut edge": Look(65, "edge of the cut", INK, 1.3, dash="10 2.5 1.5 2.5 1.5 2.5"),
    "intrusion": Look(70, "intrusion into a zone", _RED, 2.8, fill=_RED),
    "possible intrusion": Look(69, "possible intrusion", _RED, 1.8, dash="3 2", fill="#ffffff", hatched=-_STEEP),
    "deck": Look(80, "deck", shape="square", named=True),
    "pile": Look(81, "slash pile", shape="triangle", named=True),
    "crossing": Look(82, "crossing", shape="cross", named=True),
    "tank": Look(83, "fuel or oil container", shape="disc", named=True),
    "plot": Look(84, "sample plot", shape="plus"),
    "receptor": Look(85, "smoke or noise receptor", shape="house", named=True),
    "station": Look(86, "station", shape="tick"),
    "fix": Look(43, "position of a machine", "#555555", shape="dot"),
}
_OTHER_WORDS = {
    "water bodies": "water body", "fixes": "fix", "cutting unit": "unit", "edge of the cut": "cut edge",
    "slash pile": "pile", "sample plot": "plot", "machine track": "track",
}  # fmt: skip


def layer_of(feature: MapFeature) -> str:
    """The layer in one spelling: "required_zones" and "Required zone" are "required zone"; any class of stream is "stream"."""
    word = " ".join(feature.layer.replace("_", " ").lower().split())
    if word.removesuffix("s").endswith(" stream"):
        return "stream"
    word = word if word in LOOKS else _OTHER_WORDS.get(word) or word.removesuffix("s")
    return _OTHER_WORDS.get(word, word)


def look_of(feature: MapFeature) -> Look:
    """How a feature is drawn. A layer without a look of its own is drawn plainly under its own name."""
    layer = layer_of(feature)
    if layer == "stream":
        said = f"{feature.layer} {feature.detail}".replace("_", " ").replace(",", " ").replace(";", " ").lower().split()
        return STREAMS[next((c for c in _CLASSES if c in said), "")]
    return LOOKS.get(layer) or Look(50, layer or "layer not named", "#555555", 0.9, dash="4 1.5")


def drawn(look: Look, kind: Kind, parts: Sequence[Line]) -> str:
    """A feature as SVG; `parts` are in units of the paper."""
    if kind == "point":
        return "".join(marker(look, *part[0]) for part in parts if part)
    if kind == "line":
        return _line(look, parts)
    if look.shape:
        outline = _path([_trace(ring, True) for ring in parts], look.colour, 0.8, "", False, "#ffffff")
        return outline + marker(look, *inside(parts))
    lines = [] if look.hatched is None else hatch(parts, _SPACING, look.hatched)
    inner = _path([_trace(pair, False) for pair in lines], look.colour, 0.45) if lines else ""
    return (
        _path([_trace(r, True) for r in parts], look.colour, min(look.width, 1.2), look.dash, False, look.fill) + inner
    )


def _line(look: Look, parts: Sequence[Line]) -> str:
    traces = [_trace(part, False) for part in parts]
    main = _path(traces, look.colour, look.width, look.dash, look.round_ends)
    if look in STREAMS.values():
        # A clear edge, so that the pattern of the line shows through hatching.
        return _path(traces, "#ffffff", look.width + 2.4) + main
    if look.strokes == "double":
        return main + _path(traces, "#ffffff", look.width - 1.6)
    if look.strokes == "ticks":
        across = [_trace(pair, False) for part in parts for pair in ticks(part, 9.0, 2.3)]
        return main + (_path(across, look.colour, look.width) if across else "")
    return main


def _trace(points: Line, closed: bool) -> str:
    return "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in points) + ("Z" if closed else "")


def _path(
    traces: Sequence[str], colour: str, width: float, dash: str = "", round_ends: bool = False, fill: str = "none"
) -> str:
    pattern = f' stroke-dasharray="{dash}"' if dash else ""
    ends = ' stroke-linecap="round"' if round_ends else ""
    rule = "" if fill == "none" else ' fill-rule="evenodd"'
    return (
        f'<path d="{"".join(traces)}" fill="{fill}"{rule} stroke="{colour}" stroke-width="{width:g}"'
        f' stroke-linejoin="round"{pattern}{ends}/>'
    )


def _around(x: float, y: float, corners: Sequence[Point]) -> str:
    return _trace([(x + dx, y + dy) for dx, dy in corners], True)


def marker(look: Look, x: float, y: float) -> str:
    """The marker of a point: each layer has a shape of its own."""
    colour = look.colour
    if look.shape == "square":
        return _path([_around(x, y, [(-4, -4), (4, -4), (4, 4), (-4, 4)])], colour, 1.3, fill="#ffffff")
    if look.shape == "triangle":
        return _path([_around(x, y, [(0, -5), (4.6, 3.5), (-4.6, 3.5)])], colour, 1.2, fill="#ffffff")
    if look.shape == "house":
        return _path([_around(x, y, [(0, -5), (4, -1), (4, 4), (-4, 4), (-4, -1)])], colour, 1.2, fill="#ffffff")
    if look.shape == "cross":
        bars = [_trace([(x - 4, y - s), (x + 4, y + s)], False) for s in (4, -4)]
        return _path(bars, "#ffffff", 4.6) + _path(bars, colour, 2.2)
    if look.shape == "plus":
        return _path([_trace([(x - 4, y), (x + 4, y)], False), _trace([(x, y - 4), (x, y + 4)], False)], colour, 1.1)
    if look.shape == "tick":
        return _path([_trace([(x, y - 3), (x, y + 3)], False)], colour, 1.1)
    if look.shape in ("disc", "dot"):
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{3.4 if look.shape == "disc" else 0.9:g}" fill="{colour}"/>'
    return _path([_around(x, y, [(0, -4.2), (4.2, 0), (0, 4.2), (-4.2, 0)])], INK, 0.8, fill=look.colour)
