"""What is wrong with the shapes of a map layer: refused where its owner must decide, else mended and said."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import polars as pl
import shapely

from auditor.record.faults import folded
from auditor.record.raw import Place
from auditor.vocabulary.maps import MapLayer
from auditor.vocabulary.problems import Problem

Shapes = npt.NDArray[Any]
"""An object array of geometries."""
Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]

M2_PER_ACRE: Final = 43_560 * 0.3048**2
JUMP_MPH: Final = 60.0
"""A fix that only a faster machine could have reached is called a jump."""
_M_PER_MILE: Final = 1609.344
_SHOWN: Final = 5
_POLYGON: Final = 3
_KINDS: Final = {"point": (0, 4), "line": (1, 2, 5), "polygon": (3, 6)}
_WORDS: Final = ("a point", "a line", "a line", "a polygon", "points", "lines", "polygons", "a mixture of shapes")
_US: Final = ((-180, 17, -64, 72), (172, 50, 180, 56), (144, 13, 147, 21), (-172, -15, -168, -10))
"""West, south, east, north, in degrees: the states and Puerto Rico, the Aleutians, the Marianas, Samoa."""


@dataclass(slots=True)
class Checked:
    """Geometries of a layer after a check, with what was refused and what was mended."""

    shapes: Shapes
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def decode(wkb: Shapes, layer: MapLayer, place: Place) -> Checked:
    """Geometries from their bytes, flat. Rings left open are closed; missing, empty and other shapes are refused."""
    shapes = shapely.from_wkb(wkb, on_invalid="ignore")
    there = np.not_equal(wkb, np.array(None, dtype=object)).astype(bool)
    lost = there & shapely.is_missing(shapes)
    result = Checked(shapes)
    if lost.any():
        mended = shapely.from_wkb(wkb[lost], on_invalid="fix")
        closed = np.isin(shapely.get_type_id(mended), _KINDS["polygon"]) & ~shapely.is_empty(mended)
        shapes[np.flatnonzero(lost)[closed]] = mended[closed]
        count = int(closed.sum())
        if count:
            rows = np.flatnonzero(lost)[closed]
            result.notes.append(
                f"{layer.name}: {_counted(count, 'ring')} of {place.file} not closed; closed by a straight line ({_features(rows)})"
            )
        lost &= shapely.is_missing(shapes)
    empty = ~lost & (shapely.is_missing(shapes) | shapely.is_empty(shapes))
    result.problems += _folded(place, lost, "a shape that cannot be read", "a complete shape", "Draw it again.")
    result.problems += _folded(place, empty, "no shape", "a feature with a shape", "Draw it, or delete the feature.")
    usable = ~lost & ~empty
    allowed = [kind for shape in layer.shapes for kind in _KINDS[shape]]
    kinds = shapely.get_type_id(shapes)
    other = usable & ~np.isin(kinds, allowed)
    expected = " or ".join(f"a {shape}" for shape in layer.shapes)
    for kind in np.unique(kinds[other]):
        todo = "Export closed lines as polygons." if expected == "a polygon" and kind in _KINDS["line"] else ""
        todo = todo or "Check which layer this is and what it holds."
        result.problems += _folded(place, other & (kinds == kind), _WORDS[kind], f"{expected} in {layer.name}", todo)
    tall = int(shapely.has_z(shapes).sum())
    if tall:
        result.notes.append(f"{layer.name}: heights of {_counted(tall, 'feature')} of {place.file} left out")
    result.shapes = shapely.force_2d(shapes)
    return result


def misplaced(own: Shapes, degrees: Shapes, geographic: bool, place: Place) -> list[Problem]:
    """Features that lie outside the United States, with the likely reason.

    `own` are the geometries as the file has them, `degrees` the same as longitude and latitude.
    """
    raw, bounds = shapely.bounds(own), shapely.bounds(degrees)
    left = ~_within_us(bounds)
    if not left.any():
        return []
    problems: list[Problem] = []
    stray = left & _has_corner_at_zero(own) & geographic & ~(np.abs(raw) <= 1).all(1)
    found, todo = (
        "a corner at longitude 0, latitude 0, in the sea off Africa",
        "Delete the corner; its position was not known.",
    )
    problems += _folded(place, stray, found, _HERE, todo)
    left &= ~stray
    for test, found, expected, todo in _REASONS:
        hit = left & test(raw, bounds, geographic)
        left &= ~hit
        if hit.any():
            words = [(found.format(*_corner(raw[row])), expected, todo) for row in np.flatnonzero(hit)[:20]]
            problems += folded(place, "geometry", _rows(hit), words)
    return problems


def whole_polygons(shapes: Shapes, layer: MapLayer, place: Place) -> tuple[Checked, Whole]:
    """The parts of local geometries, self-crossing polygons mended, and the feature (from 0) of each part."""
    parts, owner = shapely.get_parts(shapes, return_index=True)
    result = Checked(parts)
    bad = (shapely.get_type_id(parts) == _POLYGON) & ~shapely.is_valid(parts)
    if bad.any():
        parts, owner = _mended(parts, owner, bad, layer, place, result)
    several = int((np.bincount(owner, minlength=len(shapes)) > 1).sum())
    if several:
        words = _counted(several, "feature")
        result.notes.append(f'{layer.name}: {words} of {place.file} in several parts; taken apart as "#2", "#3"')
    short = int(((shapely.get_type_id(parts) == 1) & (shapely.length(parts) == 0)).sum())
    if short:
        result.notes.append(f"{layer.name}: {_counted(short, 'line')} of {place.file} of no length; kept")
    result.shapes = parts
    return result, owner


def _mended(
    parts: Shapes, owner: Whole, bad: Flags, layer: MapLayer, place: Place, result: Checked
) -> tuple[Shapes, Whole]:
    features = owner[bad]
    before = np.abs(shapely.area(parts[bad]))
    pieces, of = shapely.get_parts(shapely.make_valid(parts[bad]), return_index=True)
    pieces, deeper = shapely.get_parts(pieces, return_index=True)
    of = of[deeper]
    flat = (shapely.get_type_id(pieces) == _POLYGON) & (shapely.area(pieces) > 0)
    pieces, of = pieces[flat], of[flat]
    after = np.bincount(of, weights=shapely.area(pieces), minlength=len(features))
    gone = np.zeros(int(owner.max()) + 1, dtype=bool)
    gone[features[after == 0]] = True
    todo = "Draw its outline again, or delete it."
    result.problems += _folded(place, gone, "a polygon without any area", "a polygon", todo)
    for feature, old, new in list(zip(features, before, after, strict=True))[:_SHOWN]:
        area = f"area {old / M2_PER_ACRE:,.2f} acres before, {new / M2_PER_ACRE:,.2f} acres after"
        result.notes.append(
            f"{layer.name}: outline of feature {feature + 1} of {place.file} crosses itself; mended, {area}"
        )
    if len(features) > _SHOWN:
        change = (after.sum() - before.sum()) / M2_PER_ACRE
        words = f"{len(features):,} outlines of {place.file} cross themselves"
        result.notes.append(f"{layer.name}: {words}; mended, {change:+,.2f} acres in all")
    parts, owner = np.concatenate([parts[~bad], pieces]), np.concatenate([owner[~bad], features[of]])
    order = np.argsort(owner, kind="stable")
    return parts[order], owner[order]


def repeated_notes(layer: MapLayer, frame: pl.DataFrame) -> list[str]:
    """Shapes that lie twice in a layer; they are kept, and said because they would count twice."""
    columns = ["geometry", "track", "fixed_on", "fixed_at"] if layer.name == "fixes" else ["geometry"]
    again = frame.height - frame.select(columns).n_unique()
    if not again:
        return []
    words = "fixes" if layer.name == "fixes" else "features"
    return [f"{layer.name}: {again:,} {words} are the same as one before; kept, so they count twice"]


def fix_notes(fixes: pl.DataFrame, x_m: Floats, y_m: Floats) -> list[str]:
    """Order, gaps and jumps of fixes along each track; nothing is taken out."""
    when = pl.col("fixed_on").dt.combine(pl.col("fixed_at"))
    frame = fixes.select("track", when=when).with_columns(x=pl.Series(x_m), y=pl.Series(y_m))
    untimed = frame["when"].null_count()
    notes = [f"fixes: {untimed:,} of {frame.height:,} without a time; kept"] if untimed else []
    timed = frame.drop_nulls("when")
    backward = timed.select((pl.col("when") < pl.col("when").shift(1).over("track")).sum()).item()
    if backward:
        notes.append(f"fixes: {backward:,} of {frame.height:,} earlier than the fix above on their track; kept")
    ordered = timed.sort("track", "when", maintain_order=True)
    step = [(pl.col(n) - pl.col(n).shift(1).over("track")).alias(f"d{n}") for n in ("when", "x", "y")]
    steps = (
        ordered.with_columns(step).drop_nulls("dwhen").with_columns(s=pl.col("dwhen").dt.total_milliseconds() / 1000)
    )
    if not steps.height:
        return notes
    far = (pl.col("dx").pow(2) + pl.col("dy").pow(2)).sqrt()
    limit = JUMP_MPH * _M_PER_MILE / 3600
    jumps = steps.select(((far > limit * pl.col("s")) & (far > 0)).sum()).item()
    if jumps:
        notes.append(f"fixes: {jumps:,} jumps that would need more than {JUMP_MPH:g} miles an hour; kept")
    longest = steps.sort("s", descending=True, maintain_order=True).row(0, named=True)
    of = "" if longest["track"] is None else f", track {longest['track']}"
    notes.append(
        f"fixes: longest gap between fixes {_span(longest['s'])}, up to {longest['when']:%Y-%m-%d %H:%M:%S}{of}"
    )
    return notes


def far_off(degrees: Shapes, middle: tuple[float, float]) -> tuple[int, float]:
    """The feature (from 0) farthest from the middle (longitude, latitude), and its distance in km, on a sphere."""
    bounds = np.radians(shapely.bounds(degrees))
    east, north = (bounds[:, 0] + bounds[:, 2]) / 2, (bounds[:, 1] + bounds[:, 3]) / 2
    lon, lat = np.radians(middle)
    cosine = np.sin(north) * np.sin(lat) + np.cos(north) * np.cos(lat) * np.cos(east - lon)
    km = 6371.0 * np.arccos(np.clip(cosine, -1, 1))
    return int(np.argmax(km)), float(km.max())


def _within_us(bounds: Floats) -> Flags:
    inside = np.zeros(len(bounds), dtype=bool)
    for west, south, east, north in _US:
        inside |= (bounds >= (west, south, west, south)).all(1) & (bounds <= (east, north, east, north)).all(1)
    return inside


_Test = Callable[[Floats, Floats, bool], Any]
_HERE: Final = "a place in the United States"


_REASONS: Final[tuple[tuple[_Test, str, str, str], ...]] = (
    (
        lambda raw, at, geo: ~np.isfinite(raw).all(1),
        "coordinates that are no numbers", _HERE, "Export the feature again.",
    ),
    (
        lambda raw, at, geo: (np.abs(raw) <= 1).all(1) & geo,
        "longitude {0:.6g}, latitude {1:.6g}, in the sea off Africa", _HERE,
        "A position was not known and written as zero: give the feature its true place, or delete it.",
    ),
    (
        lambda raw, at, geo: _within_us(raw[:, [1, 0, 3, 2]]) & geo,
        "longitude {0:.6g}, latitude {1:.6g}, which lie in the United States the other way round", _HERE,
        "Longitude and latitude are swapped: export the file with longitude first.",
    ),
    (
        lambda raw, at, geo: _within_us(np.stack([-raw[:, 2], raw[:, 1], -raw[:, 0], raw[:, 3]], 1)) & geo,
        "longitude {0:.6g}, latitude {1:.6g}", _HERE, "Longitudes west of Greenwich are negative: write the minus sign.",
    ),
    (
        lambda raw, at, geo: ((np.abs(raw) > (180, 90, 180, 90)).any(1)) & geo,
        "the coordinates {0:.6g}, {1:.6g} in a file said to be in degrees", "degrees of longitude and latitude",
        "Export it again with its true projection.",
    ),
    (
        lambda raw, at, geo: (np.abs(raw) <= (180, 90, 180, 90)).all(1) & (not geo),
        "the coordinates {0:.6g}, {1:.6g}, which look like degrees", "coordinates of the projection that the file names",
        "Export it again with its true projection, longitude and latitude (EPSG:4326).",
    ),
    (
        lambda raw, at, geo: ~np.isfinite(at).all(1),
        "the coordinates {0:.6g}, {1:.6g}, beyond the projection that the file names", _HERE,
        "Check the projection and the unit of the coordinates.",
    ),
    (
        lambda raw, at, geo: np.ones(len(raw), dtype=bool),
        "the coordinates {0:.6g}, {1:.6g}, outside the United States", _HERE,
        "Check the projection and the unit of the coordinates.",
    ),
)  # fmt: skip
"""Test on the bounds in the file's own coordinates and in degrees; found, expected, what to do. The first that fits."""


def _has_corner_at_zero(shapes: Shapes) -> Flags:
    corners, owner = shapely.get_coordinates(shapes, return_index=True)
    hits = np.bincount(owner[(np.abs(corners) <= 1).all(1)], minlength=len(shapes))
    found: Flags = hits > 0
    return found


def _corner(bounds: Floats) -> tuple[float, float]:
    return float(bounds[0]), float(bounds[1])


def _rows(flags: Flags) -> pl.Series:
    return pl.Series(np.flatnonzero(flags) + 1)


def _folded(place: Place, flags: Flags, found: str, expected: str, todo: str) -> list[Problem]:
    return list(folded(place, "geometry", _rows(flags), [(found, expected, todo)])) if flags.any() else []


def _features(rows: Whole) -> str:
    shown = ", ".join(str(row + 1) for row in rows[:_SHOWN])
    more = f" and {len(rows) - _SHOWN:,} more" if len(rows) > _SHOWN else ""
    return f"feature{'s' if len(rows) > 1 else ''} {shown}{more}"


def _counted(count: int, noun: str) -> str:
    return f"{count:,} {noun}{'' if count == 1 else 's'}"


def _span(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:g} s"
    return f"{seconds / 60:,.1f} minutes" if seconds < 7200 else f"{seconds / 3600:,.1f} hours"
