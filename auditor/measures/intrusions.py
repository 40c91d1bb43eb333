"""What lies in the required zones along the water: harvest, tracks and places, how deep, how much, how far along.

Coordinates are local metres; distances and depths ft (0.3048 m exactly), areas acres (43,560 square feet). Lines,
stations and sides are those of `auditor.measures.reaches`, zones those of `auditor.measures.zones`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

import numpy as np
import polars as pl
import shapely
from numpy.typing import ArrayLike, NDArray

from auditor.measures.outlines import Outlines, Pieces, edges_inside, outlines
from auditor.measures.reaches import (
    _CLEAR_M,
    _GRID_M,
    FOOT_M,
    _blocks,
    _crosses,
    _each,
    _Numbers,
    _Shapes,
    _sound,
    _xy,
    common_part,
)
from auditor.measures.zones import (
    _SIDES,
    _SQM_PER_ACRE,
    _bank_zones,
    _banks,
    _column,
    _courses,
    _ground,
    _runs,
    _widths,
)

_DECIMALS: Final = 6
_FEW: Final = 4_000
"""How many pieces of ground are worked on together; more would only take more memory."""


def intrusions(
    lines: _Shapes,
    stations: pl.DataFrame,
    width_ft: ArrayLike,
    geometries: _Shapes,
    uncertainty_ft: ArrayLike,
    *,
    search_ft: float,
    touch_ft: float,
    water: _Shapes | None = None,
    amounts: bool = True,
) -> pl.DataFrame:
    """What lies in or near the required zones: one row for each bank and geometry within `search_ft` of the zone.

    Gives `reach`, `side`, `geometry` (its index), `nearest_ft` (to the bank; 0 in the channel), `depth_ft` (required
    width less nearest distance, the greatest along the bank; negative outside), `inside`, `area_acres`, `track_ft`
    (length of a line inside), `from_ft`, `to_ft`, `length_ft` (first to last place along the bank; of a head, whole
    stretches). `inside` is true where the depth exceeds `uncertainty_ft`, false where the geometry stays as far outside,
    null between. A point or line has area 0. What lies across the own reach belongs to its other bank.

    Parameters: as `required_zones`; `geometries` (M,) of any kind; `uncertainty_ft`, 0 or more, one each or one for all;
    `search_ft` 0 or more. Without `amounts`, area and length inside are null: they need the shapes of the zones.

    Null: depth, area and extent of a bank where a stretch near the geometry has no known width or bank; `inside` too,
    unless another stretch shows it. `inside` where the uncertainty is NaN. A pair without a row is farther off.

    Source: by definition; guarded decision of JCGM 106:2012, 8.3.
    """
    shapes = _sound(geometries, "geometry")
    bank, width = _column(stations, "bank_ft"), _widths(stations, width_ft)
    reach = (np.nan_to_num(bank) + np.nan_to_num(width) + search_ft) * FOOT_M
    banks, owner = _banks(stations)
    runs = _runs(stations, pl.DataFrame({"bank": owner, "_reach": reach, "_bank": bank, "_width": width}))
    order = _in_order(stations, owner)
    near, inside = _near_and_inside(lines, order, runs, shapes, search_ft, touch_ft)
    row, which = near.row, near.shape
    bank_of, width_of = runs["_bank"].to_numpy()[row], runs["_width"].to_numpy()[row]
    nearest = np.maximum(near.apart_m / FOOT_M - bank_of, 0.0)
    found = _pair(runs, row, which).with_columns(nearest=nearest, depth=width_of - nearest)
    error = np.broadcast_to(np.asarray(uncertainty_ft, dtype=float), len(shapes))
    pairs = _deepest(found, error, search_ft)
    extent = _extent(lines, order, runs, inside)
    on = ["reach", "side", "geometry"]
    inside_of = _pair(runs, row[:0], which[:0]).with_columns(area_acres=pl.lit(0.0), track_ft=pl.lit(0.0))
    if amounts:
        met = np.isin(owner, runs["bank"].to_numpy()[row])
        inside_of = _amounts(banks, _bank_zones(lines, stations, width, met, touch_ft, water), shapes)
    sure = pl.col("depth_ft").is_not_null()
    return pairs.join(inside_of, on=on, how="left").join(extent, on=on, how="left").select(
        "reach", "side", "geometry", "nearest_ft", "depth_ft", "inside",
        *(pl.when(sure).then(pl.col(c).fill_null(0.0) if amounts else pl.col(c)).alias(c) for c in ("area_acres", "track_ft")),
        *(pl.when(sure).then(pl.col(c)).alias(c) for c in ("from_ft", "to_ft")),
        pl.when(sure).then((pl.col("to_ft") - pl.col("from_ft")).fill_null(0.0)).alias("length_ft"),
    ).sort("reach", pl.col("side").cast(_SIDES), "geometry")  # fmt: skip


def _near_and_inside(
    lines: _Shapes, order: pl.DataFrame, runs: pl.DataFrame, shapes: _Shapes, search_ft: float, touch_ft: float
) -> tuple[_Found, _Found]:
    """What of each shape is nearest to each run within the search, and the outermost edges of each inside the zones."""
    edges, zone = outlines(shapes), (runs["_bank"] + runs["_width"]).to_numpy() * FOOT_M
    nearest = partial(_nearest_visible, own=lines[runs["reach"].to_numpy()])
    outermost = partial(_outermost, order=order, runs=runs, known=np.isfinite(zone))
    around = _ground(lines, runs, runs["_reach"].to_numpy(), touch_ft)
    if search_ft == 0:
        near, inside = _met(*around, edges, nearest, outermost)
        return near, inside
    (near,) = _met(*around, edges, nearest)
    (inside,) = _met(*_ground(lines, runs, zone, touch_ft), edges, outermost)
    return near, inside


def _deepest(found: pl.DataFrame, error: NDArray[np.float64], search_ft: float) -> pl.DataFrame:
    """For each bank and geometry the least distance, the greatest depth and whether it is inside; farther ones are left out."""
    pairs = found.group_by("reach", "side", "geometry").agg(
        nearest_ft=pl.when(~pl.col("nearest").is_nan().any()).then(pl.col("nearest").min().round(_DECIMALS)),
        depth_ft=pl.when(~pl.col("depth").is_nan().any()).then(pl.col("depth").max().round(_DECIMALS)),
        _known=pl.col("depth").fill_nan(None).max().round(_DECIMALS),
    )
    doubt = pl.Series(error[pairs["geometry"].to_numpy()]).fill_nan(None)
    sure_in, sure_out = pl.col("_known") > doubt, pl.col("depth_ft") <= -doubt
    pairs = pairs.with_columns(inside=pl.when(sure_in).then(True).when(sure_out).then(False))
    return pairs.filter(pl.col("depth_ft").is_null() | (pl.col("depth_ft") >= -search_ft))


def stretches_near(lines: _Shapes, stations: pl.DataFrame, shapes: _Shapes, within_ft: float) -> NDArray[np.bool_]:
    """Which rows stand for a stretch, or a source, from whose bank some shape lies at most `within_ft` ft, on either side.

    Shape (rows,). Distances run from the line, less that of the bank, so that whatever lies in a zone up to `within_ft`
    wide makes the row of the zone near; a row whose bank is null is measured from its line.

    Parameters: `lines` (N,) and `stations` as `required_zones`; `shapes` (M,) of any kind; `within_ft` 0 or more.

    Null: none; a missing shape is refused with a ValueError.

    Source: by definition.
    """
    others = _sound(shapes, "shape")
    if not len(others) or stations.is_empty():
        return np.zeros(stations.height, dtype=bool)
    far = (np.nan_to_num(_column(stations, "bank_ft")) + within_ft) * FOOT_M
    # Both sides of a stretch, and all rows of a source, are measured from one line.
    at_source = (pl.col("side").cast(pl.String) == "head").alias("at_source")
    ends = pl.when(pl.col("side").cast(pl.String) != "head").then(pl.col("from_ft", "to_ft"))
    rows = stations.select("reach", at_source, ends)
    first = rows.with_row_index("row").unique(rows.columns, keep="first", maintain_order=True).with_row_index("of")
    of = rows.join(first, on=rows.columns, how="left", nulls_equal=True, maintain_order="left")["of"].to_numpy()
    own = _own_lines(lines, stations[first["row"]])
    least = np.full(len(own), np.inf)
    np.minimum.at(least, of, far)
    # The station of a stretch settles most of them, and is found much faster than its line.
    long, edges = shapely.length(own), outlines(others)
    places = _xy(stations, "x_m", "y_m")[first["row"].to_numpy()]
    apart = _apart(edges, shapely.points(places), far.max() + long.max())
    apart[edges.covering(places)[0]] = 0.0
    open_ = (apart > least) & (apart <= far.max() + long + _CLEAR_M)
    apart[open_] = _apart(edges, own[open_], far.max())
    return np.asarray(apart[of] <= far, dtype=bool)


def _apart(edges: Outlines, shapes: _Shapes, far: float) -> _Numbers:
    """How far in metres the nearest outline is, infinite where it is farther than `far`."""

    def part(some: slice) -> _Numbers:
        found = np.full(some.stop - some.start, np.inf)
        (at, _), apart = edges.tree.query_nearest(
            shapes[some], max_distance=far + _CLEAR_M, all_matches=False, return_distance=True
        )
        found[at] = apart
        return found

    return np.concatenate([np.empty(0), *_each(part, _blocks(len(shapes)))])


def _pair(stations: pl.DataFrame, row: NDArray[np.int64], which: NDArray[np.int64]) -> pl.DataFrame:
    """Bank and geometry of each piece."""
    return stations.select("reach", "side")[row].with_columns(geometry=pl.Series(which, dtype=pl.Int64))


@dataclass(frozen=True, slots=True)
class _Found:
    """Edges of shapes on pieces of ground: row of the piece, index of the shape, both ends, how far along the line in
    metres lies what is nearest to each, and the shortest way from the line.
    """

    row: NDArray[np.int64]
    shape: NDArray[np.int64]
    ends: _Numbers
    feet_m: _Numbers
    ways: _Numbers

    def of(self, some: NDArray[np.bool_] | NDArray[np.int64] | slice) -> _Found:
        """Some of them."""
        return _Found(*(field[some] for field in self.fields))

    @property
    def fields(self) -> tuple[NDArray[Any], ...]:
        """All of it, in the order of its making."""
        return self.row, self.shape, self.ends, self.feet_m, self.ways

    @property
    def apart_m(self) -> _Numbers:
        """How long the shortest ways are, in metres."""
        step = self.ways[:, 1] - self.ways[:, 0]
        return np.hypot(step[:, 0], step[:, 1])


def _met(
    pieces: Pieces, row: NDArray[np.int64], along_m: _Numbers, lines: Outlines, *kept: Callable[[_Found], _Found]
) -> list[_Found]:
    """What is kept of the edges of shapes on pieces of ground, beside a piece of line that begins and ends `along_m`."""

    def part(some: slice) -> list[_Found]:
        here = pieces.of(some)
        found = edges_inside(here, lines, _GRID_M)
        start, step = here.start[found.piece], (here.end - here.start)[found.piece]
        size = np.hypot(step[:, 0], step[:, 1])[:, None]
        share = ((found.ends - start[:, None]) * step[:, None]).sum(axis=2) / np.where(size > 0, size, 1.0) ** 2
        low, high = np.split(along_m[some][found.piece], 2, axis=1)
        feet = low + np.clip(share, 0.0, 1.0) * (high - low)
        whole = _Found(row[some][found.piece], found.shape, found.ends, feet, found.ways)
        return [keep(whole) for keep in kept]

    parts = _each(part, _blocks(max(len(row), 1), _FEW))
    return [
        _Found(*(np.concatenate(of) for of in zip(*(found.fields for found in some), strict=True)))
        for some in zip(*parts, strict=True)
    ]


def _nearest_visible(found: _Found, own: _Shapes) -> _Found:
    """For each row and shape the edge with the shortest way that does not cross the row's own line, if there is one."""
    order = np.lexsort((found.apart_m, found.shape, found.row))
    pairs = found.row[order], found.shape[order]
    first = np.ones(len(order), dtype=bool)
    first[1:] = (np.diff(pairs[0]) != 0) | (np.diff(pairs[1]) != 0)
    group = np.cumsum(first) - 1
    seen = ~_crosses(found.ways[order[first]], own[pairs[0][first]])
    # The others are looked at where the nearest is hidden.
    others = np.flatnonzero(~first & ~seen[group])
    others = others[~_crosses(found.ways[order[others]], own[pairs[0][others]])]
    others = others[np.unique(group[others], return_index=True)[1]]
    return found.of(order[np.concatenate([np.flatnonzero(first)[seen], others])])


def _amounts(banks: pl.DataFrame, zones: _Shapes, shapes: _Shapes) -> pl.DataFrame:
    """Area and, of lines, length of each shape inside each zone."""
    at, which = shapely.STRtree(shapes).query(zones, predicate="intersects")
    common = common_part(zones[at], shapes[which])
    length = np.where(shapely.get_dimensions(shapes)[which] == 1, shapely.length(common) / FOOT_M, 0.0)
    return _pair(banks, at, which).with_columns(
        area_acres=shapely.area(common) / _SQM_PER_ACRE, track_ft=pl.Series(length).round(_DECIMALS)
    )


def _in_order(stations: pl.DataFrame, owner: NDArray[np.int64]) -> pl.DataFrame:
    """The stretches along each bank; `owner` is the number of each row's bank."""
    order = stations.select("reach", "side", "from_ft", "to_ft", "x_m", "y_m", bank=pl.Series(owner))
    return order.filter(pl.col("from_ft").is_not_null()).sort("bank", "from_ft")


def _outermost(found: _Found, order: pl.DataFrame, runs: pl.DataFrame, known: NDArray[np.bool_]) -> _Found:
    """The edges on ground of `known` width whose ends lie beside the first and last stretch that those of a shape lie beside.

    There its first and last place are.
    """
    found = found.of(known[found.row])
    stretch = _stretches(order, runs, found)
    low, high = stretch.min(axis=1), stretch.max(axis=1)
    beside = _pair(runs, found.row, found.shape).with_columns(low=low, high=high)
    pair = ["reach", "side", "geometry"]
    first, last = pl.col("low") == pl.col("low").min().over(pair), pl.col("high") == pl.col("high").max().over(pair)
    return found.of(beside.select(first | last).to_series().to_numpy())


def _extent(lines: _Shapes, order: pl.DataFrame, runs: pl.DataFrame, found: _Found) -> pl.DataFrame:
    """First and last place along the bank of each shape that was found; of a source the whole stretches."""
    row = np.repeat(found.row, 2)
    head = runs["side"].cast(pl.String).to_numpy()[row] == "head"
    place = np.full(len(row), np.nan)
    stretch, xy = _stretches(order, runs, found).ravel(), found.ends.reshape(-1, 2)
    place[~head] = _along(lines, order, stretch[~head], xy[~head])
    low = np.where(head, _column(runs, "from_ft")[row], place)
    high = np.where(head, _column(runs, "to_ft")[row], place)
    both = _pair(runs, row, np.repeat(found.shape, 2)).with_columns(low=low, high=high)
    return both.group_by("reach", "side", "geometry").agg(
        from_ft=pl.col("low").min().round(_DECIMALS), to_ft=pl.col("high").max().round(_DECIMALS)
    )


def _stretches(order: pl.DataFrame, runs: pl.DataFrame, found: _Found) -> NDArray[np.int64]:
    """Beside which stretch both ends of each edge lie: that on which the foot on the line lies."""
    # One axis for all banks, so that a single search finds every stretch; no line is so long.
    long = 1e8
    begins = order["bank"].to_numpy() * long + order["from_ft"].to_numpy()
    feet = runs["bank"].to_numpy()[found.row, None] * long + found.feet_m / FOOT_M
    return np.maximum(np.searchsorted(begins, feet, side="right") - 1, 0)


def _along(lines: _Shapes, order: pl.DataFrame, stretch: NDArray[np.int64], xy: _Numbers) -> _Numbers:
    """How far along the line each place beside a stretch is, ft."""
    used, index = np.unique(stretch, return_inverse=True)
    own = _own_lines(lines, order[used])[index]
    start = order["from_ft"].to_numpy()[stretch]
    return np.asarray(shapely.line_locate_point(own, shapely.points(xy)) / FOOT_M + start, dtype=float)


def _own_lines(lines: _Shapes, stations: pl.DataFrame) -> _Shapes:
    """What the distance of each row is measured from: its stretch of the line, or the source."""
    side = stations["side"].cast(pl.String).to_numpy()
    found: _Shapes = shapely.points(_xy(stations, "x_m", "y_m"))
    rows = np.flatnonzero(side != "head")
    xy, owner, _ = _courses(lines, stations[rows], 0.0)
    found[rows] = shapely.linestrings(xy, indices=owner)
    return found
