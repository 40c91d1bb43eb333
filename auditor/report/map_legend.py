"""What stands around the map of a site: scale bar, north arrow and legend."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape

from auditor.report import wording as say
from auditor.report.map_geometry import Box, round_length
from auditor.report.map_looks import INK, Kind, Look, drawn, look_of
from auditor.report.model import MapFeature

M_PER_FT = 0.3048
FONT = 9.5
LETTER = 0.54 * FONT
"""A width of a letter that few words exceed, in units of the paper."""
_ROW = 14.5
LONGEST_WORDS = 26


def text(x: float, y: float, words: str, anchor: str = "start", more: str = "") -> str:
    """Words on the paper, escaped and without what disturbs a page."""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{more}>{escape(say.clean(words))}</text>'


def scale_bar(area: Box, scale: float, top: float) -> list[str]:
    """One bar of round feet above, one of round metres below."""
    parts: list[str] = []
    # Two fifths of the strip leave room for the arrow and for the words at the end of a bar.
    most_m = (area.right - area.left) * 0.4 / scale
    for y, unit, metres in ((top + 4, "ft", M_PER_FT), (top + 19, "m", 1.0)):
        stated = round_length(most_m / metres)
        long = stated * metres * scale
        for place, fill in enumerate((INK, "#fff")):
            parts.append(
                f'<rect data-scale="{unit}" x="{4 + place * long / 2:.3f}" y="{y:.1f}" width="{long / 2:.3f}" height="5"'
                f' fill="{fill}" stroke="{INK}" stroke-width="0.7"/>'
            )
        parts.append(text(4 + long + 6, y + 6, f"0 to {say.number(stated)} {unit}"))
    return parts


def north_arrow(x: float, top: float) -> list[str]:
    """An arrow to grid north with its word."""
    return [
        f'<path d="M{x:.1f},{top:.1f}L{x + 5:.1f},{top + 24:.1f}L{x:.1f},{top + 18:.1f}Z" fill="{INK}"/>',
        f'<path d="M{x:.1f},{top:.1f}L{x - 5:.1f},{top + 24:.1f}L{x:.1f},{top + 18:.1f}Z" fill="#fff" stroke="{INK}" stroke-width="0.8"/>',
        text(x + 9, top + 12, "N", more=' font-weight="700"'),
        text(x - 9, top + 24, "grid north", "end"),
    ]  # fmt: skip


def legend_entries(features: Iterable[MapFeature]) -> list[tuple[Look, Kind]]:
    """Each look once, with the first kind of shape it has, in the order of the layers from the top."""
    kinds: dict[Look, Kind] = {}
    for feature in features:
        kinds.setdefault(look_of(feature), feature.kind)
    return sorted(kinds.items(), key=lambda entry: (entry[0].order, entry[0].words))


def legend_of(
    entries: Sequence[tuple[Look, Kind]], left: float, top: float, right: float, single: bool
) -> tuple[list[str], float]:
    """What each pattern and shape means, in columns or in one column, and where the last line ends."""
    if not entries:
        return [], top
    width = 32 + max(len(_short(look)) for look, _ in entries) * LETTER
    columns = 1 if single else max(1, int((right - left) / width))
    rows = math.ceil(len(entries) / columns)
    parts: list[str] = []
    for place, (look, kind) in enumerate(entries):
        x, y = left + place // rows * (right - left) / columns, top + 4 + place % rows * _ROW
        parts.append(_swatch(look, kind, x, y) + text(x + 31, y + 3.4, _short(look)))
    return parts, top + 4 + (rows - 0.4) * _ROW


def _short(look: Look) -> str:
    return say.clean(look.words)[:LONGEST_WORDS]


def _swatch(look: Look, kind: Kind, x: float, y: float) -> str:
    if look.shape or kind == "point":
        return drawn(look, "point", [[(x + 14, y)]])
    if kind == "line":
        return drawn(look, "line", [[(x, y + 2), (x + 12, y - 2), (x + 27, y + 1)]])
    return drawn(look, "polygon", [[(x, y - 5), (x + 27, y - 5), (x + 27, y + 5), (x, y + 5)]])
