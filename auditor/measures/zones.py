"""Required zones along reaches as shapes: their polygons and areas.

Coordinates are local metres, widths ft (0.3048 m exactly), areas acres (43,560 square feet). Lines, stations and sides
are those of `auditor.measures.reaches`; a width belongs to the stretch its station stands for, and is level.
Arcs of 15 m or more are drawn with 64 chords a quarter circle, narrower ones with chords no farther from the arc: an area on
an arc comes out low by at most 0.01 percent, or by 0.1 percent within 15 m.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

import numpy as np
import polars as pl
import shapely
from numpy.typing import ArrayLike, NDArray

from auditor.measures.outlines import Pieces
from auditor.measures.reaches import (
    _BLOCK,
    _LINE,
    FOOT_M,
    _axis,
    _blocks,
    _each,
    _less,
    _Numbers,
    _parts,
    _Shapes,
    _sound,
    _tree,
    _xy,
    points_along,
)
from auditor.measures.streamside import horizontal_width_ft

_SQM_PER_ACRE: Final = 43_560 * FOOT_M**2
_CHORD: Final = math.pi / 128
_FINE_M: Final = 15.0
"""Up to this radius arcs have longer chords, but as near to the arc as the chords of this one: 1.2 mm."""
_FEW: Final = 500
"""How many zones are worked on together; more would only take more memory."""
_SIDES: Final = pl.Enum(["left", "right", "head"])
_OVERLAP_FT: Final = 1e-4
"""How far neighbouring stretches overlap, so that rounding leaves no gap between them and a bend at their end is filled."""


def required_zones(
    lines: _Shapes, stations: pl.DataFrame, width_ft: ArrayLike, *, touch_ft: float, water: _Shapes | None = None
) -> tuple[pl.DataFrame, _Shapes]:
    """The required zone of each bank: a frame with `reach`, `side`, and as many polygons, in that order.

    A zone is all ground on that side within `width_ft` of the bank, stretch by stretch; round where the line bends away
    (also from one reach to the next, to the lesser of both widths), square where a reach begins or ends. Neither channels
    nor `water` belong to it. Zones of two banks may overlap where reaches meet: see `disjoint_zones`.

    Parameters: `lines` (N,), `stations` (rows), `width_ft` (ft from the bank, 0 or more; a row each or one for all);
    `touch_ft`, how far apart the ends of joined reaches may be drawn; `water` polygons of open water.

    None where the width or the bank of any station of that bank is unknown (null, NaN or negative).

    Source: by definition; variable zone widths of BMP manuals, common practice.
    """
    every = np.ones(stations.height, dtype=bool)
    return _banks(stations)[0], _bank_zones(lines, stations, _widths(stations, width_ft), every, touch_ft, water)


def shore_zones(water: _Shapes, width_ft: ArrayLike) -> _Shapes:
    """The required zone all around lakes and ponds: the ground within `width_ft` ft of each polygon, a polygon each.

    Parameters: `water` (N,) polygons; `width_ft` 0 or more, one each or one for all. Islands inside belong to the zone.

    None where the width is NaN or negative.

    Source: by definition, common practice.
    """
    pools = _sound(water, "water polygon")
    width = np.broadcast_to(np.asarray(width_ft, dtype=float), len(pools))
    far = shapely.buffer(pools, np.where(width >= 0, width, np.nan) * FOOT_M, quad_segs=64)
    return _masked(_less(far, pools), width >= 0)


def disjoint_zones(zones: _Shapes) -> _Shapes:
    """Zones without common ground: what several share stays with the first, so that areas add up to the union.

    Parameters: `zones` (N,) polygons, no unit of their own; a caller puts the zone that governs first.

    None stays None, and takes nothing from the others.

    Source: by definition, the union counts ground once.
    """
    known = ~shapely.is_missing(zones)
    whole = np.flatnonzero(known)
    at, other = shapely.STRtree(zones[whole]).query(zones[whole], predicate="intersects")
    at, other = at[at > other], other[at > other]
    found = np.array(zones, dtype=object)

    def cut(some: slice) -> None:
        here = (at >= some.start) & (at < some.stop)
        taken = _joined(zones[whole[other[here]]], at[here] - some.start, some.stop - some.start)
        rows = np.flatnonzero(~shapely.is_missing(taken))
        found[whole[some][rows]] = _less(zones[whole[some][rows]], taken[rows])

    _each(cut, _blocks(len(whole), _FEW))
    return found


def zone_area_acres(zones: _Shapes) -> _Numbers:
    """Level area of each zone in acres, shape (N,); NaN where the zone is None.

    Zones of banks that meet overlap; those of `disjoint_zones` add up.

    Source: by definition, 1 acre = 43,560 square feet.
    """
    return np.asarray(shapely.area(zones), dtype=float) / _SQM_PER_ACRE


def level_zone_width_ft(width_ft: ArrayLike, slope_pct: ArrayLike) -> _Numbers:
    """Level width in ft on the map of a required width (ft) that a state tapes along the ground on a slope (percent).

    Shape (N,). NaN where either is NaN.

    Source: arithmetic, the right triangle, as `streamside.horizontal_width_ft`; Kentucky FOR-69 measures so.
    """
    width, slope = np.broadcast_arrays(np.asarray(width_ft, dtype=float), np.asarray(slope_pct, dtype=float))
    rows = pl.DataFrame({"width": width.ravel(), "slope": slope.ravel()})
    return rows.select(horizontal_width_ft(pl.col("width"), pl.col("slope"))).to_series().to_numpy()


def _column(frame: pl.DataFrame, name: str) -> _Numbers:
    """A column of numbers, NaN for null."""
    return frame[name].cast(pl.Float64).fill_null(np.nan).to_numpy()


def _widths(stations: pl.DataFrame, width_ft: ArrayLike) -> _Numbers:
    """A width for each row; what is no width is NaN."""
    width = np.broadcast_to(np.asarray(width_ft, dtype=float), stations.height)
    return np.where(width >= 0, width, np.nan)


def _banks(stations: pl.DataFrame) -> tuple[pl.DataFrame, NDArray[np.int64]]:
    """The banks in order, and the number of the bank of each row."""
    rows = stations.select("reach", pl.col("side").cast(_SIDES))
    banks = rows.unique().sort("reach", "side")
    numbered = rows.join(banks.with_row_index("_bank"), on=["reach", "side"], how="left", maintain_order="left")
    return banks.with_columns(pl.col("side").cast(pl.String)), numbered["_bank"].to_numpy().astype(np.int64)


def _bank_zones(
    lines: _Shapes,
    stations: pl.DataFrame,
    width: _Numbers,
    wanted: NDArray[np.bool_],
    touch_ft: float,
    water: _Shapes | None,
) -> _Shapes:
    """The zone of each bank that has a wanted row; None for the others and where a row is unknown."""
    banks, owner = _banks(stations)
    bank = _column(stations, "bank_ft")
    radius = np.where(wanted, bank + width, np.nan) * FOOT_M
    outer, row, runs = _run_ground(lines, stations, owner, radius, touch_ft)
    zones = _merged(outer, runs["bank"].to_numpy()[row], banks.height)
    del outer  # Hundreds of megabytes on a big map.
    # Channels matter where a zone may touch them: those of its own reach and of reaches near it.
    _, near = shapely.STRtree(lines).query(zones, predicate="dwithin", distance=np.nanmax(bank, initial=0) * FOOT_M)
    channel = np.where(np.isin(stations["reach"].to_numpy(), near), bank, np.nan) * FOOT_M
    wet, row, runs = _run_ground(lines, stations, owner, channel, touch_ft)
    wet = _merged(wet, runs["reach"].to_numpy()[row], len(lines))
    wet = wet[~shapely.is_missing(wet)]
    if water is not None and len(water):
        wet = np.concatenate([wet, _sound(water, "water polygon")])
    zones = _without(zones, wet)
    zones[shapely.is_missing(zones)] = shapely.Polygon()
    unknown = ~np.isfinite(radius) | np.isnan(_column(stations, "from_ft"))
    zones[np.unique(owner[unknown])] = None
    return zones


def _run_ground(
    lines: _Shapes, stations: pl.DataFrame, owner: NDArray[np.int64], radius_m: _Numbers, touch_ft: float
) -> tuple[_Shapes, NDArray[np.int64], pl.DataFrame]:
    """The ground of runs of rows: neighbours of one bank and radius are drawn as one, heads row by row."""
    runs = _runs(stations, pl.DataFrame({"bank": owner, "radius": radius_m}))
    pieces, row, _ = _ground(lines, runs, runs["radius"].to_numpy(), touch_ft)
    return _drawn(pieces), row, runs


def _runs(stations: pl.DataFrame, alike: pl.DataFrame) -> pl.DataFrame:
    """Neighbouring rows that are `alike`, their `bank` among it, as one row, with what ground is drawn of; heads row by row."""
    rows = stations.select("reach", "side", "from_ft", "to_ft", "x_m", "y_m", "normal_east", "normal_north")
    rows = rows.hstack(alike).sort("bank", "from_ft")
    apart = (pl.col("from_ft") - pl.col("to_ft").shift(1)).abs() > _OVERLAP_FT
    new = pl.any_horizontal(apart, *(pl.col(c) != pl.col(c).shift(1) for c in alike.columns))
    new = (new | (pl.col("side") == "head")).fill_null(True)
    return rows.group_by(new.cum_sum().alias("_run"), maintain_order=True).agg(
        pl.all().exclude("to_ft").first(), pl.col("to_ft").last()
    )


def _merged(pieces: _Shapes, owner: NDArray[np.int64], count: int) -> _Shapes:
    """The union of overlapping pieces of ground by owner, None where it has none."""
    found = np.full(count, None, dtype=object)
    order = np.argsort(owner, kind="stable")
    ends = np.flatnonzero(np.diff(owner[order], append=-1)) + 1

    def merge(block: slice) -> None:
        some = order[block]
        owners, index = np.unique(owner[some], return_inverse=True)
        # A buffer of nothing takes all rings at once, by their winding; it is much faster than union upon union.
        found[owners] = shapely.buffer(shapely.multipolygons(shapely.orient_polygons(pieces[some]), indices=index), 0.0)

    # Whole owners, of some pieces together.
    cuts = [0, *np.unique(ends[np.searchsorted(ends, np.arange(_BLOCK, len(order), _BLOCK))]), len(order)]
    _each(merge, [slice(int(a), int(b)) for a, b in pairwise(cuts) if b > a])
    return found


def _joined(shapes: _Shapes, owner: NDArray[np.int64], count: int) -> _Shapes:
    """The union of the polygons of each owner, None where it has none; missing ones are left out."""
    parts, of = _parts(shapes)
    return _merged(parts, owner[of], count)


def _without(zones: _Shapes, taken: _Shapes) -> _Shapes:
    """The zones less what they have in common with the shapes to be taken away."""
    tree, found = _tree(taken), np.array(zones, dtype=object)

    def cut(some: slice) -> None:
        at, other = tree.query(zones[some], predicate="intersects")
        # Both sides of a reach meet the same channels, whose union is then made once.
        met = pl.DataFrame({"zone": at, "other": other}).sort("zone", "other")
        met = met.group_by("zone", maintain_order=True).agg("other")
        kind = met["other"].cast(pl.List(pl.String)).list.join(",").rank("dense").alias("kind")
        one = met.with_columns(kind).unique("kind", keep="first", maintain_order=True).explode("other")
        away = _joined(taken[one["other"].to_numpy()], one["kind"].to_numpy().astype(np.int64), met.height + 1)
        rows = some.start + met["zone"].to_numpy()
        found[rows] = _less(zones[rows], away[kind.to_numpy()])

    _each(cut, _blocks(len(zones), _FEW))
    return found


def _masked(shapes: _Shapes, keep: NDArray[np.bool_]) -> _Shapes:
    """The shapes, None where they are not to be kept."""
    found = np.array(shapes, dtype=object)
    found[~keep] = None
    return found


def _courses(lines: _Shapes, stations: pl.DataFrame, extra_ft: float) -> tuple[_Numbers, NDArray[np.int64], _Numbers]:
    """The vertices of the stretch of each row, a little longer at both ends but not beyond the line, their row, and how
    far along the line they are, in metres.
    """
    reach = stations["reach"].to_numpy()
    sound = shapely.remove_repeated_points(_sound(lines, "line", only=_LINE))
    total = shapely.length(sound)[reach] / FOOT_M
    start = np.maximum(_column(stations, "from_ft") - extra_ft, 0.0)
    end = np.minimum(_column(stations, "to_ft") + extra_ft, total)
    xy, axis, first, _ = _axis(sound)
    # Vertices nearer than a third of the overlap to an end are taken for the end itself.
    near = _OVERLAP_FT / 3
    low = np.searchsorted(axis, axis[first[reach]] + (start + near) * FOOT_M, side="right")
    high = np.maximum(np.searchsorted(axis, axis[first[reach]] + (end - near) * FOOT_M, side="left"), low)
    size = high - low + 2
    owner = np.repeat(np.arange(len(reach)), size)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(size) - size, size)
    vertex = np.clip(low[owner] + place - 1, 0, max(len(xy) - 1, 0))
    found, along = xy[vertex], axis[vertex] - axis[first[reach]][owner]
    for ends, ft in ((place == 0, start), (place == size[owner] - 1, end)):
        found[ends] = _xy(points_along(lines, reach, ft), "x_m", "y_m")
        along[ends] = ft * FOOT_M
    return found, owner, along


def _ground(
    lines: _Shapes, stations: pl.DataFrame, radius_m: _Numbers, touch_ft: float
) -> tuple[Pieces, NDArray[np.int64], _Numbers]:
    """The ground within a radius of the line on the side of each row, in overlapping pieces, the row of each, and how far
    along the line, in metres, the piece of line begins and ends that it lies beside, of shape (pieces, 2).

    A row of unknown radius or stretch has no piece, nor has one of radius 0. Both ends of a sector are its centre.
    """
    side = stations["side"].cast(pl.String).to_numpy()
    sign = np.select([side == "left", side == "right"], [1.0, -1.0], 0.0)
    wide = np.isfinite(_column(stations, "from_ft")) & np.isfinite(radius_m) & (radius_m > 0)
    rows = np.flatnonzero(wide & (sign != 0))
    xy, owner, along = _courses(lines, stations[rows], _OVERLAP_FT)
    row = rows[owner] if len(rows) else owner
    step = np.diff(xy, axis=0)
    size = np.hypot(step[:, 0], step[:, 1])
    inner = (np.diff(row) == 0) & (size > 0)
    unit = step / np.where(size > 0, size, 1.0)[:, None]
    across = np.column_stack([-unit[:, 1], unit[:, 0]]) * (sign * radius_m)[row[:-1]][:, None]
    both = inner[:-1] & inner[1:]
    bends = (row[1:-1][both], xy[1:-1][both], unit[:-1][both], unit[1:][both], radius_m[row[1:-1][both]])
    joints = _joints(lines, stations, radius_m, touch_ft, rows)
    total = shapely.length(lines)[stations["reach"].to_numpy()]
    sectors = (
        _gaps(*bends, along[1:-1][both], sign),
        _gaps(*joints, total[joints[0]], sign),
        _fans(stations, radius_m, np.flatnonzero(wide & (sign == 0))),
    )
    row_of, centre, begin, turns, radius, place = (np.concatenate(of) for of in zip(*sectors, strict=True))
    none = np.full(int(inner.sum()), np.nan)
    pieces = Pieces(
        np.concatenate([xy[:-1][inner], centre]),
        np.concatenate([xy[1:][inner], centre]),
        np.concatenate([across[inner], np.zeros_like(centre)]),
        *(np.concatenate([none, of]) for of in (begin, turns, radius)),
    )
    places = np.stack([along[:-1], along[1:]], axis=1)[inner], np.repeat(place[:, None], 2, axis=1)
    return pieces, np.concatenate([row[:-1][inner], row_of]), np.concatenate(places)


def _drawn(pieces: Pieces) -> _Shapes:
    """Pieces of ground as polygons."""
    found = np.full(len(pieces.radius), None, dtype=object)
    around = np.isfinite(pieces.radius)
    found[around] = _sectors(*(of[around] for of in (pieces.start, pieces.begin, pieces.turns, pieces.radius)))
    start, end, over = (of[~around] for of in (pieces.start, pieces.end, pieces.over))
    found[~around] = shapely.polygons(np.stack([start, end, end + over, start + over], axis=1))
    return found


_Sectors = tuple[NDArray[np.int64], _Numbers, _Numbers, _Numbers, _Numbers, _Numbers]
"""Row, centre (n, 2), angle where it begins, angle it turns through, radius, place of the centre along the line in m."""


def _gaps(
    row: NDArray[np.int64],
    at: _Numbers,
    before: _Numbers,
    after: _Numbers,
    radius: _Numbers,
    along: _Numbers,
    sign: _Numbers,
) -> _Sectors:
    """The sectors that bends away from a side leave open between two rectangles."""
    turn = np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1))
    begin = np.arctan2(before[:, 1], before[:, 0]) + sign[row] * math.pi / 2
    away = turn * sign[row] < 0
    return row[away], at[away], begin[away], turn[away], radius[away], along[away]


def _joints(
    lines: _Shapes, stations: pl.DataFrame, radius_m: _Numbers, touch_ft: float, rows: NDArray[np.int64]
) -> tuple[NDArray[np.int64], _Numbers, _Numbers, _Numbers, _Numbers]:
    """The bends where one reach goes on in another, side by side, with the lesser of both radii."""
    starts, ends = shapely.get_point(lines, 0), shapely.get_point(lines, -1)
    one, other = shapely.STRtree(starts).query(ends, predicate="dwithin", distance=touch_ft * FOOT_M)
    here = stations.select("reach", "side", "from_ft", "to_ft")[rows].with_columns(
        row=pl.Series(rows), radius=pl.Series(radius_m[rows]), total=pl.Series(shapely.length(lines)).gather(stations["reach"][rows]) / FOOT_M
    )  # fmt: skip
    last = here.filter(pl.col("to_ft") >= pl.col("total") - _OVERLAP_FT)
    first = here.filter(pl.col("from_ft") <= _OVERLAP_FT)
    met = (
        pl.DataFrame({"reach": one, "next": other})
        .filter(pl.col("reach") != pl.col("next"))
        .join(last, on="reach", how="inner")
        .join(first.select("side", "radius", next="reach"), on=["next", "side"], how="inner", suffix="_next")
        .sort("row", "next")
    )
    end = points_along(lines, met["reach"], met["total"])
    start = points_along(lines, met["next"], np.zeros(met.height))
    radius = np.minimum(met["radius"].to_numpy(), met["radius_next"].to_numpy())
    return (
        met["row"].to_numpy(),
        _xy(end, "x_m", "y_m"),
        _xy(end, "east", "north"),
        _xy(start, "east", "north"),
        radius,
    )


def _fans(stations: pl.DataFrame, radius_m: _Numbers, heads: NDArray[np.int64]) -> _Sectors:
    """The part of the half circle above a source that each of its rows stands for."""
    wedge = math.pi / stations.select(pl.len().over("reach", "side")).to_series().to_numpy()[heads]
    normal = _xy(stations, "normal_east", "normal_north")[heads]
    middle = np.arctan2(normal[:, 1], normal[:, 0])
    return heads, _xy(stations, "x_m", "y_m")[heads], middle - wedge / 2, wedge, radius_m[heads], np.zeros(len(heads))


def _sectors(centre: _Numbers, begin: _Numbers, turn: _Numbers, radius: _Numbers) -> _Shapes:
    """Sectors of circles as polygons."""
    chord = _CHORD * np.sqrt(_FINE_M / np.minimum(radius, _FINE_M)).clip(max=3.0)
    chords = np.ceil(np.abs(turn) / chord - _CHORD).clip(1).astype(np.int64)
    size = chords + 2
    owner = np.repeat(np.arange(len(chords)), size)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(size) - size, size)
    angle = begin[owner] + turn[owner] * (place - 1) / chords[owner]
    reach = np.where(place == 0, 0.0, radius[owner])
    xy = centre[owner] + np.column_stack([reach * np.cos(angle), reach * np.sin(angle)])
    found: _Shapes = (
        shapely.polygons(shapely.linearrings(xy, indices=owner)) if len(owner) else np.empty(0, dtype=object)
    )
    return found
