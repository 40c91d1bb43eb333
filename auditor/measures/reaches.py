"""Streams on a map: reaches, stations along them, banks, heads of streams, and the width of the zone kept there.

Coordinates are local metres, x east and y north, already projected; distances are ft (0.3048 m exactly). Lines run
downstream. Shapes are numpy arrays of shapely geometries; a shape that is missing, empty or broken is refused with a
ValueError, never skipped. A frame of stations has a row a station and side:

`reach` (index of its line), `side` ("left" or "right" looking downstream, "head" above a source), `station` (1 first
within its side), `along_ft`, `from_ft`, `to_ft` (the stretch it stands for), `x_m`, `y_m` (on the line), `normal_east`,
`normal_north` (unit vector away from the water), `bank_ft` (from the line to the bank), `bank_x_m`, `bank_y_m`, `in_water`.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any, Final, Literal, TypeVar

import numpy as np
import polars as pl
import shapely
from numpy.typing import ArrayLike, NDArray

from auditor.measures.outlines import Outlines, outlines

FOOT_M: Final = 0.3048
"""The international foot in metres, exact."""
Islands = Literal["water", "land"]

_LINE: Final = 1
_COLLECTION: Final = 7
_BLOCK: Final = 20_000
_MOST_AT_A_TIME: Final = 8
_SAME_M: Final = 1e-7
_GRID_M: Final = 1e-7
"""Shapes are cut and joined on so fine a grid: in floating numbers nearly equal edges can lose whole areas unnoticed."""
_CLEAR_M: Final = 1e-3
"""How far from its ends a way across is looked at, so that rounding at a bank makes no crossing."""
_WHOLE: Final = 1e-9

_T = TypeVar("_T")
_Numbers = NDArray[np.float64]
_Shapes = NDArray[np.object_]


def merge_reaches(lines: _Shapes, keys: Sequence[Any]) -> tuple[_Shapes, list[Any]]:
    """Reaches made of lines (metres, no unit of its own): lines of one key that follow end to start become one.

    Parameters: `lines` of shape (N,), each one piece; `keys` of length N say what belongs together, such as (name,
    class, width). Gives the reaches and the key of each, by first appearance of the key. Directions stay; lines that
    meet head on, and three that meet in a point, stay apart. A key may be None: a key like any other.

    Raises ValueError for a missing, empty or broken line.

    Source: by definition; NHD flowlines are digitised downstream.
    """
    lines = _sound(lines, "line", only=_LINE)
    order = {key: n for n, key in reversed(list(enumerate(keys)))}
    first = np.array([order[key] for key in keys], dtype=np.int64)
    if not len(lines):
        return lines, []
    by_key = np.argsort(first, kind="stable")
    groups, index = np.unique(first[by_key], return_inverse=True)
    bundles = shapely.multilinestrings(lines[by_key], indices=index)
    parts, owner = shapely.get_parts(shapely.line_merge(bundles, directed=True), return_index=True)
    return parts, [keys[int(groups[n])] for n in owner]


def points_along(lines: _Shapes, reach: ArrayLike, along_ft: ArrayLike) -> pl.DataFrame:
    """Places along lines: `x_m`, `y_m` and the direction of the line there, `east`, `north` (unit vector), a row each.

    Parameters: `lines` of shape (N,); `reach` (which line) and `along_ft` (ft from its start, 0 to its length), both of
    shape (M,). At a vertex the direction is half way between its two pieces; where the line turns straight back, that
    of the piece ahead.

    All null where `along_ft` is NaN or lies off the line.

    Source: arithmetic, linear referencing along a polyline.
    """
    unbent = shapely.remove_repeated_points(_sound(lines, "line", only=_LINE))
    which = np.asarray(reach, dtype=np.int64)
    along = np.asarray(along_ft, dtype=float) * FOOT_M
    xy, axis, first, last = _axis(unbent)
    step = np.diff(xy, axis=0, prepend=xy[:1])
    length = np.hypot(step[:, 0], step[:, 1])
    total = axis[last] - axis[first]
    off = ~((along >= -_SAME_M) & (along <= total[which] + _SAME_M))
    place = axis[first[which]] + np.clip(np.where(off, 0.0, along), 0.0, total[which])
    ahead = np.clip(np.searchsorted(axis, place + _SAME_M, side="right"), first[which] + 1, last[which])
    behind = np.clip(np.searchsorted(axis, place - _SAME_M, side="left"), first[which] + 1, last[which])
    unit = step / np.where(length > 0, length, 1.0)[:, None]
    mean = unit[ahead] + unit[behind]
    size = np.hypot(mean[:, 0], mean[:, 1])
    way = np.where((size > _WHOLE)[:, None], mean / np.where(size > _WHOLE, size, 1.0)[:, None], unit[ahead])
    at = xy[ahead - 1] + (place - axis[ahead - 1])[:, None] * unit[ahead]
    found = np.where(off[:, None], np.nan, np.column_stack([at, way]))
    return pl.DataFrame(found, schema=["x_m", "y_m", "east", "north"], orient="row").fill_nan(None)


def stations(
    lines: _Shapes, width_ft: ArrayLike, every_ft: float, *, water: _Shapes | None = None, islands: Islands = "water"
) -> pl.DataFrame:
    """Stations along both banks of reaches: the frame described above, sides "left" and "right".

    Each reach is cut into equal parts of at most `every_ft`, with a station in the middle of each, so that every station
    stands for the same length and the lengths add up to the reach.

    Parameters: `lines` of shape (N,); `width_ft` bank to bank, ft, 0 or more, of shape (N,) or one for all; `every_ft`
    more than 0. `water`: polygons of open water; where a station lies in one, its bank is the polygon's edge along the
    transect (`in_water`). `islands`: "water", a braided stream ends at its outer edge; "land", the first island's edge.

    Null: the bank of a station where the width is NaN or negative and no polygon tells it. Raises ValueError for
    `every_ft` not more than 0.

    Source: common practice, systematic line sampling; half the bank-full width to each side, by definition.
    """
    if not every_ft > 0:
        raise ValueError(f"stations are more than 0 ft apart, found {every_ft}")
    lines = _sound(lines, "line", only=_LINE)
    length = shapely.length(lines) / FOOT_M
    count = np.ceil(length / every_ft - _WHOLE).clip(1).astype(np.int64)
    reach = np.repeat(np.arange(len(lines)), count)
    number = np.arange(len(reach)) - np.repeat(np.cumsum(count) - count, count)
    part = (length / count)[reach]
    places = points_along(lines, reach, (number + 0.5) * part)
    width = np.broadcast_to(np.asarray(width_ft, dtype=float), len(lines))[reach]
    one_side = places.select("x_m", "y_m", "east", "north").with_columns(
        reach=reach, station=number + 1, along_ft=(number + 0.5) * part, from_ft=number * part, to_ft=(number + 1) * part,
        bank_ft=np.where(width >= 0, width / 2, np.nan),
    )  # fmt: skip
    both = pl.concat(
        one_side.with_columns(
            side=pl.lit(side), normal_east=-sign * pl.col("north"), normal_north=sign * pl.col("east")
        )
        for side, sign in (("left", 1), ("right", -1))
    ).sort("reach", "side", "station")
    return _with_banks(both, water, islands)


def stream_heads(lines: _Shapes, *, touch_ft: float, water: _Shapes | None = None) -> NDArray[np.bool_]:
    """Which lines begin at a source: their upper end comes within `touch_ft` ft of no other line and no water polygon.

    Parameters: `lines` and `water` arrays of shapes; `touch_ft` 0 or more, how far apart the ends of joined lines may
    have been drawn. Shape (N,).

    Null: none; a missing line is refused.

    Source: by definition; BMP manuals carry the zone around the head of a stream, common practice.
    """
    lines = _sound(lines, "line", only=_LINE)
    starts = shapely.get_point(lines, 0)
    at, other = shapely.STRtree(lines).query(starts, predicate="dwithin", distance=touch_ft * FOOT_M)
    heads = np.ones(len(lines), dtype=bool)
    heads[at[at != other]] = False
    if water is not None and len(water):
        pools = shapely.STRtree(_sound(water, "water polygon"))
        heads[pools.query(starts, predicate="dwithin", distance=touch_ft * FOOT_M)[0]] = False
    return heads


def head_stations(
    lines: _Shapes, heads: NDArray[np.bool_], width_ft: ArrayLike, zone_ft: ArrayLike, every_ft: float
) -> pl.DataFrame:
    """Stations on the half circle above each source: the frame described above, side "head".

    `along_ft` runs on the half circle of radius width / 2 + zone, from the left bank over the source to the right bank,
    in equal parts of at most `every_ft`; `normal_*` fan out from the source.

    Parameters: `lines` (N,), `heads` (N,) from `stream_heads`; `width_ft` (bank to bank) and `zone_ft` (radius of the
    zone from the bank), ft, (N,) or one for all; `every_ft` more than 0. `in_water` is false.

    A head whose width or zone is NaN has one station, straight above the source, with null stretch and bank.

    Source: common practice (the zone goes around the head); half circle, pi x radius, by definition.
    """
    if not every_ft > 0:
        raise ValueError(f"stations are more than 0 ft apart, found {every_ft}")
    where = np.flatnonzero(heads)
    half = (np.broadcast_to(np.asarray(width_ft, dtype=float), len(lines)) / 2)[where]
    arc = math.pi * (half + np.broadcast_to(np.asarray(zone_ft, dtype=float), len(lines))[where])
    arc = np.where(arc > 0, arc, np.nan)
    count = np.ceil(np.nan_to_num(arc, nan=1.0) / every_ft - _WHOLE).clip(1).astype(np.int64)
    row = np.repeat(np.arange(len(where)), count)
    number = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    part = (arc / count)[row]
    source = points_along(lines, where[row], np.zeros(len(row)))
    east, north = source["east"].to_numpy(), source["north"].to_numpy()
    turn = math.pi / 2 + math.pi * (number + 0.5) / count[row]
    fan = source.select("x_m", "y_m").with_columns(
        reach=where[row], side=pl.lit("head"), station=number + 1,
        along_ft=(number + 0.5) * part, from_ft=number * part, to_ft=(number + 1) * part,
        normal_east=np.cos(turn) * east - np.sin(turn) * north, normal_north=np.sin(turn) * east + np.cos(turn) * north,
        bank_ft=np.where(np.isnan(part), np.nan, half[row]),
    )  # fmt: skip
    return _with_banks(fan, None, "water")


def nearer_other(stations: pl.DataFrame, lines: _Shapes, reach_ft: ArrayLike) -> pl.Series:
    """Whether a station's transect, out to `reach_ft` ft from the bank, meets the line of another reach, yes or no.

    The ground beyond lies nearer to that stream and is judged there; a caller leaves such stations out.

    Parameters: `stations` as described above; `lines` (N,); `reach_ft`, 0 or more, one for all or a row each.

    Null where the bank or `reach_ft` is unknown.

    Source: by definition; a zone is measured from the nearest water.
    """
    centre, outward = _xy(stations, "x_m", "y_m"), _xy(stations, "normal_east", "normal_north")
    far = (
        stations["bank_ft"].cast(pl.Float64).fill_null(np.nan).to_numpy() + np.asarray(reach_ft, dtype=float)
    ) * FOOT_M
    known = np.isfinite(far)
    rows = np.flatnonzero(known)
    ways = _ways(centre[rows], centre[rows] + far[rows, None] * outward[rows])
    at, other = shapely.STRtree(_sound(lines, "line", only=_LINE)).query(ways, predicate="intersects")
    met = np.zeros(len(far), dtype=bool)
    met[rows[at[stations["reach"].to_numpy()[rows[at]] != other]]] = True
    return pl.select(pl.when(pl.Series(known)).then(pl.Series(met)).alias("nearer_other")).to_series()


def zone_width_ft(
    stations: pl.DataFrame, cut: _Shapes, reach_ft: float, *, lines: _Shapes, transects: bool = True
) -> pl.DataFrame:
    """Width of the zone as kept at each station, ft: `transect_ft`, `nearest_ft`, `zone_width_ft`, `wider_than_read`.

    `transect_ft` is the distance from the bank along the transect to the first cut; `nearest_ft` the shortest distance
    to any cut on that side; the smaller governs. On that side is what lies ahead of the bank and whose nearest place, of
    each connected part, is not across the own stream. Both are looked for out to `reach_ft` and null where nothing is
    met; with neither, `zone_width_ft` is `reach_ft` and `wider_than_read` true.

    Parameters: `stations` as described above; `cut` harvested polygons, cut-edge lines or stumps, of any number: all
    that there are, since none means none; `reach_ft` more than 0; `lines` (N,) the reaches. Without `transects`,
    `transect_ft` is null where it cannot govern, which is much faster.

    All null where the bank is unknown. Raises ValueError for a `reach_ft` not more than 0 and for a cut without shape.

    Source: by definition; BMP manuals, width at right angles to the stream, common practice.
    """
    if not reach_ft > 0:
        raise ValueError(f"cuts are looked for farther than 0 ft from the bank, found {reach_ft}")
    cut, far = _sound(cut, "cut"), reach_ft * FOOT_M
    bank, outward = _xy(stations, "bank_x_m", "bank_y_m"), _xy(stations, "normal_east", "normal_north")
    rows = np.flatnonzero(np.isfinite(bank).all(axis=1))
    own = _sound(lines, "line", only=_LINE)[stations["reach"].to_numpy()[rows]]
    tree, edges, read = _tree(cut), outlines(cut), np.full((2, stations.height), np.nan)

    def widths(part: slice) -> _Numbers:
        at = rows[part]
        return _least_widths(bank[at], outward[at], own[part], tree, edges, far, transects)

    if len(rows):
        read[:, rows] = np.concatenate(_each(widths, _blocks(len(rows))), axis=1)
    known = np.zeros(stations.height, dtype=bool)
    known[rows] = True
    least = np.fmin(read[0], read[1])
    none = known & np.isnan(least)
    return pl.DataFrame(
        {
            "transect_ft": read[0],
            "nearest_ft": read[1],
            "zone_width_ft": np.where(none, reach_ft, least),
            "wider_than_read": none,
        }
    ).select(
        pl.col("transect_ft", "nearest_ft", "zone_width_ft").fill_nan(None),
        pl.when(pl.Series(known)).then(pl.col("wider_than_read")).alias("wider_than_read"),
    )


def _least_widths(
    near: _Numbers,
    ahead: _Numbers,
    own: _Shapes,
    tree: shapely.STRtree,
    edges: Outlines,
    far: float,
    transects: bool,
) -> _Numbers:
    """From each bank the way along its transect and the shortest way to a cut, ft, of shape (2, rows); NaN for none."""
    nearest, sure = _nearest_ahead(near, ahead, own, edges, far)
    left = np.flatnonzero(~sure)
    nearest[left] = _nearest_in_part(near[left], ahead[left], own[left], tree, far)
    along = np.full(len(near), np.inf)
    looked = np.arange(len(near)) if transects else left
    ways = _ways(near[looked], near[looked] + far * ahead[looked])
    at, which = tree.query(ways, predicate="intersects")
    along[looked] = _least_visible(near[looked], ways[at], at, tree.geometries[which], own[looked], far)
    found = np.stack([along, nearest]) / FOOT_M
    found[np.isinf(found)] = np.nan
    return found


def _nearest_ahead(
    points: _Numbers, outward: _Numbers, own: _Shapes, lines: Outlines, far: float
) -> tuple[_Numbers, NDArray[np.bool_]]:
    """The way in metres to the nearest of some shapes, infinite where none is near, and where that is settled.

    It is settled where none is near, and where the nearest lies ahead and not across the own line: nothing can be nearer.
    """
    found, sure = np.full(len(points), np.inf), np.ones(len(points), dtype=bool)
    at, which = lines.tree.query_nearest(shapely.points(points), max_distance=far * (1 + _WHOLE), all_matches=False)
    distance, good = _seen(points[at], outward[at], lines.tree.geometries[which], own[at], far)
    found[at[good]] = distance[good]
    sure[at[~good & (distance <= far)]] = False
    inside, _ = lines.covering(points)
    found[inside], sure[inside] = 0.0, True
    return found, sure


def _nearest_in_part(points: _Numbers, outward: _Numbers, own: _Shapes, tree: shapely.STRtree, far: float) -> _Numbers:
    """The same where the nearest shape lies behind or across the line: of each, what lies ahead is looked at by itself."""
    found = np.full(len(points), np.inf)
    at, which = tree.query(shapely.points(points), predicate="dwithin", distance=far)
    distance, good = _seen(points[at], outward[at], tree.geometries[which], own[at], far)
    np.minimum.at(found, at[good], distance[good])
    # Only a shape that is nearer as a whole can be nearer in part.
    open_ = ~good & (distance < found[at])
    at, which = at[open_], which[open_]
    out = np.minimum(found, far)[:, None] * outward
    across = np.column_stack([-out[:, 1], out[:, 0]])
    ahead = shapely.polygons(
        np.stack([points - across, points + across, points + across + out, points - across + out], axis=1)
    )
    shapely.prepare(ahead)
    met = shapely.intersects(ahead[at], tree.geometries[which])
    at, which = at[met], which[met]
    in_part = _least_visible(points, ahead[at], at, tree.geometries[which], own, far)
    return np.asarray(np.minimum(found, in_part), dtype=float)


def _seen(
    points: _Numbers, outward: _Numbers, shapes: _Shapes, own: _Shapes, far: float
) -> tuple[_Numbers, NDArray[np.bool_]]:
    """The shortest way in metres from each point to its shape, and whether it goes ahead, not too far, not over the line."""
    ways = _shortest(shapely.points(points), shapes)
    step = ways[:, 1] - ways[:, 0]
    distance = np.hypot(step[:, 0], step[:, 1])
    good = (distance <= far) & ((step * outward).sum(axis=1) >= -_GRID_M)
    good[good] = ~_crosses(ways[good], own[good])
    return distance, good


def _least_visible(
    points: _Numbers, searched: _Shapes, at: NDArray[np.int64], shapes: _Shapes, own: _Shapes, far: float
) -> _Numbers:
    """The shortest way from each point to a part of its shapes inside what is searched, not over its own line."""
    # Lines have no area to lose, and need no grid.
    solid = shapely.get_dimensions(shapes) == 2
    common = np.empty(len(shapes), dtype=object)
    common[solid] = common_part(searched[solid], shapes[solid])
    common[~solid] = shapely.intersection(searched[~solid], shapes[~solid])
    met, owner = _parts(common)
    at = at[owner]
    ways = _shortest(shapely.points(points[at]), met)
    distance = np.hypot(*(ways[:, 1] - ways[:, 0]).T)
    good = (distance <= far) & ~_crosses(ways, own[at])
    found = np.full(len(points), np.inf)
    np.minimum.at(found, at[good], distance[good])
    return found


def transect_slope_pct(
    stations: pl.DataFrame, heights: Callable[[_Numbers, _Numbers], _Numbers], run_ft: float, *, sample_ft: float
) -> _Numbers:
    """Average slope of the ground along each transect over its first `run_ft` from the bank, percent without sign.

    It is the height at the far end less that at the bank, over the run: the mean of the grades along the way.

    Parameters: `stations` as described above; `heights(x_m, y_m)` gives heights in metres for arrays of one shape, NaN
    where it has none; `run_ft` more than 0; the way is sampled every `sample_ft` or closer, to find holes.

    NaN where the bank is unknown or any sample of the way is NaN: a hole is not bridged.

    Source: by definition, 100 x rise / run; SC Forestry Commission BMP manual (average percent slope perpendicular to
    the stream), common practice.
    """
    if not (run_ft > 0 and sample_ft > 0):
        raise ValueError(f"run and sample distance are more than 0 ft, found {run_ft} and {sample_ft}")
    out = np.linspace(0.0, run_ft * FOOT_M, int(np.ceil(run_ft / sample_ft - _WHOLE)) + 1)
    bank, outward = _xy(stations, "bank_x_m", "bank_y_m"), _xy(stations, "normal_east", "normal_north")
    ways = bank[:, None, :] + out[None, :, None] * outward[:, None, :]
    z = np.asarray(heights(ways[..., 0], ways[..., 1]), dtype=float)
    slope = 100 * np.abs(z[:, -1] - z[:, 0]) / out[-1]
    return np.where(np.isfinite(z).all(axis=1) & np.isfinite(bank).all(axis=1), slope, np.nan)


def _blocks(count: int, size: int = _BLOCK) -> list[slice]:
    """Rows in blocks, so that the shapes made on the way take no more memory for more rows."""
    return [slice(start, min(start + size, count)) for start in range(0, count, size)]


def _each(work: Callable[[slice], _T], blocks: Sequence[slice]) -> list[_T]:
    """What work gives for each block, in their order; the library for geometry leaves room for several at a time."""
    if len(blocks) < 2:
        return [work(block) for block in blocks]
    with ThreadPoolExecutor(min(os.cpu_count() or 1, _MOST_AT_A_TIME)) as pool:
        return list(pool.map(work, blocks))


def _tree(shapes: _Shapes) -> shapely.STRtree:
    """An index of shapes that is made before several blocks ask it at a time."""
    tree = shapely.STRtree(shapes)
    tree.query(shapely.box(0, 0, 1, 1))
    return tree


def common_part(shapes: _Shapes, others: _Shapes, *, grid_m: float = _GRID_M) -> _Shapes:
    """What each shape has in common with the other, on a grid, on which nearly equal edges become one.

    Parameters: `shapes` and `others` of shape (N,), coordinates in metres; `grid_m`, more than 0, 1e-7 m (3e-7 ft) if
    not told: shapes that were cut on one grid before lose the hairs of that only on a wider one. What meets nowhere gives an empty shape.

    Null: None where either is None.

    Source: by definition; in floating numbers nearly equal edges can lose whole areas unnoticed.
    """
    # The library divides by zero on its way where edges coincide, and comes out right.
    with np.errstate(divide="ignore", invalid="ignore"):
        found: _Shapes = shapely.intersection(shapes, others, grid_size=grid_m)
    return found


def _sound(shapes: _Shapes, what: str, *, only: int | None = None) -> _Shapes:
    """The shapes as an array; refused where one is missing, empty, broken or not of the type asked for."""
    found = np.asarray(shapes, dtype=object)
    bad = np.asarray(shapely.is_missing(found) | shapely.is_empty(found) | ~shapely.is_valid(found), dtype=bool)
    if only is not None:
        bad |= shapely.get_type_id(found) != only
    if bad.any():
        raise ValueError(f"{what} {int(np.flatnonzero(bad)[0])} has no sound shape of one piece" if only is not None
                         else f"{what} {int(np.flatnonzero(bad)[0])} has no sound shape")  # fmt: skip
    return found


def _xy(frame: pl.DataFrame, x: str, y: str) -> _Numbers:
    """Two columns as points, NaN for null."""
    return frame.select(pl.col(x, y).cast(pl.Float64).fill_null(np.nan)).to_numpy()


def _axis(lines: _Shapes) -> tuple[_Numbers, _Numbers, NDArray[np.int64], NDArray[np.int64]]:
    """The vertices of all lines, their places in metres on one axis, and the first and last vertex of each line.

    The axis runs through all lines with 1 m between them, so that a single search finds every place.
    """
    xy, owner = shapely.get_coordinates(lines, return_index=True)
    step = np.diff(xy, axis=0, prepend=xy[:1])
    axis = np.cumsum(np.where(np.diff(owner, prepend=-1) == 0, np.hypot(step[:, 0], step[:, 1]), 1.0))
    first = np.searchsorted(owner, np.arange(len(lines)))
    last = np.searchsorted(owner, np.arange(len(lines)), side="right") - 1
    return xy, axis, first, last


def _ways(start: _Numbers, end: _Numbers) -> _Shapes:
    """Straight lines from the one points to the others."""
    found: _Shapes = shapely.linestrings(np.stack([start, end], axis=1))
    return found


def _parts(shapes: _Shapes) -> tuple[_Shapes, NDArray[np.int64]]:
    """The parts of shapes and the index of the shape of each; what touches by less than the grid has none."""
    parts, owner = shapely.get_parts(shapes, return_index=True)
    some = ~shapely.is_empty(parts)
    return parts[some], owner[some]


def _less(shapes: _Shapes, others: _Shapes) -> _Shapes:
    """Each polygon less the other: polygons alone, without the lines that may be left where edges fall together."""
    with np.errstate(divide="ignore", invalid="ignore"):
        found: _Shapes = shapely.difference(shapes, others, grid_size=_GRID_M)
    mixed = np.flatnonzero(shapely.get_type_id(found) == _COLLECTION)
    parts, owner = shapely.get_parts(found[mixed], return_index=True)
    solid = shapely.get_dimensions(parts) == 2
    found[mixed] = shapely.Polygon()
    some, index = np.unique(owner[solid], return_inverse=True)
    if len(some):
        found[mixed[some]] = shapely.multipolygons(parts[solid], indices=index)
    return found


def _shortest(shapes: _Shapes, others: _Shapes) -> _Numbers:
    """The shortest way from each shape to the other, of shape (M, 2, 2)."""
    # The library divides by zero on its way where shapes touch, and comes out right.
    with np.errstate(divide="ignore", invalid="ignore"):
        ways: _Shapes = shapely.shortest_line(shapes, others)
    return np.asarray(shapely.get_coordinates(ways), dtype=float).reshape(-1, 2, 2)


def _crosses(ways: _Numbers, lines: _Shapes) -> NDArray[np.bool_]:
    """Whether a straight way, of shape (M, 2, 2), crosses its line; a little is left off both ends."""
    step = ways[:, 1] - ways[:, 0]
    size = np.hypot(step[:, 0], step[:, 1])
    trim = (_CLEAR_M / np.where(size > 0, size, 1.0))[:, None] * step
    inner = _ways(ways[:, 0] + trim, ways[:, 1] - trim)
    return np.asarray((size > 3 * _CLEAR_M) & shapely.intersects(inner, lines), dtype=bool)


def _with_banks(rows: pl.DataFrame, water: _Shapes | None, islands: Islands) -> pl.DataFrame:
    """Stations with their bank: half the width away, or at the edge of the water polygon they lie in."""
    bank = rows["bank_ft"].cast(pl.Float64).fill_null(np.nan).to_numpy()
    centre, outward = _xy(rows, "x_m", "y_m"), _xy(rows, "normal_east", "normal_north")
    edge = np.full(rows.height, np.nan)
    if water is not None and len(water):
        # Tiles of one water are joined first: their common edge is no bank.
        pools = shapely.get_parts(shapely.union_all(_sound(water, "water polygon"), grid_size=_GRID_M))
        if islands == "water":
            pools = shapely.get_parts(
                shapely.union_all(shapely.polygons(shapely.get_exterior_ring(pools)), grid_size=_GRID_M)
            )
        at, pool = shapely.STRtree(pools).query(shapely.points(centre), predicate="within")
        west, south, east, north = shapely.bounds(pools)[pool].T
        rays = _ways(centre[at], centre[at] + outward[at] * (np.hypot(east - west, north - south) + 1)[:, None])
        rim = shapely.intersection(rays, shapely.boundary(pools)[pool])
        edge[at] = shapely.distance(shapely.points(centre[at]), rim) / FOOT_M
    bank = np.where(np.isnan(edge), bank, edge)
    points = centre + (bank * FOOT_M)[:, None] * outward
    found = rows.with_columns(
        bank_ft=bank, bank_x_m=points[:, 0], bank_y_m=points[:, 1], in_water=~np.isnan(edge)
    ).with_columns(pl.col(pl.Float64).fill_nan(None))
    return found.select(
        "reach", "side", "station", "along_ft", "from_ft", "to_ft", "x_m", "y_m", "normal_east", "normal_north",
        "bank_ft", "bank_x_m", "bank_y_m", "in_water",
    )  # fmt: skip
