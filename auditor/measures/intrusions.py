"""What lies in the required zones along the water: harvest, tracks and places, how deep, how much, how far along.

Coordinates are local metres; distances and depths ft (0.3048 m exactly), areas acres (43,560 square feet). Lines,
stations and sides are those of `auditor.measures.reaches`, zones those of `auditor.measures.zones`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl
import shapely
from numpy.typing import ArrayLike, NDArray

from auditor.measures.reaches import (
    _CLEAR_M,
    FOOT_M,
    _blocks,
    _crosses,
    _each,
    _Numbers,
    _parts,
    _Shapes,
    _shortest,
    _sound,
    _tree,
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
_FEW: Final = 10_000
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
    near = _pieces(*_ground(lines, runs, runs["_reach"].to_numpy(), touch_ft), shapes)
    ways = _shortest(_beside(near.beside), near.parts)
    this_side = ~_crosses(ways, lines[runs["reach"].to_numpy()[near.row]])
    row, which = near.row[this_side], near.shape[this_side]
    apart = np.hypot(*(ways[this_side, 1] - ways[this_side, 0]).T) / FOOT_M
    bank_of, width_of = runs["_bank"].to_numpy()[row], runs["_width"].to_numpy()[row]
    nearest = np.maximum(apart - bank_of, 0.0)
    found = _pair(runs, row, which).with_columns(nearest=nearest, depth=width_of - nearest)
    error = np.broadcast_to(np.asarray(uncertainty_ft, dtype=float), len(shapes))
    pairs = _deepest(found, error, search_ft)
    zone = (runs["_bank"] + runs["_width"]).to_numpy() * FOOT_M
    inside = near if search_ft == 0 else _pieces(*_ground(lines, runs, zone, touch_ft), shapes)
    extent = _extent(lines, stations, owner, runs, inside.of(np.isfinite(zone[inside.row])))
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
    long, tree = shapely.length(own), _tree(others)
    places = shapely.points(_xy(stations, "x_m", "y_m")[first["row"].to_numpy()])
    apart = _apart(tree, places, far.max() + long.max())
    open_ = (apart > least) & (apart <= far.max() + long + _CLEAR_M)
    apart[open_] = _apart(tree, own[open_], far.max())
    return np.asarray(apart[of] <= far, dtype=bool)


def _apart(tree: shapely.STRtree, shapes: _Shapes, far: float) -> _Numbers:
    """How far in metres the nearest shape of the tree is, infinite where it is farther than `far`."""

    def part(some: slice) -> _Numbers:
        found = np.full(some.stop - some.start, np.inf)
        (at, _), apart = tree.query_nearest(
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
    """Parts of shapes on pieces of ground: row of the piece, index of the shape, the part, and the line beside it."""

    row: NDArray[np.int64]
    shape: NDArray[np.int64]
    parts: _Shapes
    beside: _Numbers

    def of(self, some: NDArray[np.bool_] | slice) -> _Found:
        """Some of them."""
        return _Found(self.row[some], self.shape[some], self.parts[some], self.beside[some])


def _pieces(ground: _Shapes, row: NDArray[np.int64], beside: _Numbers, shapes: _Shapes) -> _Found:
    """The parts of shapes on pieces of ground."""
    tree = _tree(shapes)

    def part(some: slice) -> _Found:
        at, which = tree.query(ground[some], predicate="intersects")
        parts, owner = _parts(common_part(ground[some][at], shapes[which]))
        return _Found(row[some][at][owner], which[owner], parts, beside[some][at][owner])

    found = _each(part, _blocks(max(len(ground), 1), _FEW))
    return _Found(
        *(np.concatenate(of) for of in zip(*((f.row, f.shape, f.parts, f.beside) for f in found), strict=True))
    )


def _beside(ends: _Numbers) -> _Shapes:
    """The piece of line beside each piece of ground, or the point where it is one."""
    found: _Shapes = shapely.points(ends[:, 0, :2])
    long = (ends[:, 0] != ends[:, 1]).any(axis=1)
    found[long] = shapely.linestrings(ends[long, :, :2])
    return found


def _amounts(banks: pl.DataFrame, zones: _Shapes, shapes: _Shapes) -> pl.DataFrame:
    """Area and, of lines, length of each shape inside each zone."""
    at, which = shapely.STRtree(shapes).query(zones, predicate="intersects")
    common = common_part(zones[at], shapes[which])
    length = np.where(shapely.get_dimensions(shapes)[which] == 1, shapely.length(common) / FOOT_M, 0.0)
    return _pair(banks, at, which).with_columns(
        area_acres=shapely.area(common) / _SQM_PER_ACRE, track_ft=pl.Series(length).round(_DECIMALS)
    )


def _extent(
    lines: _Shapes, stations: pl.DataFrame, owner: NDArray[np.int64], runs: pl.DataFrame, found: _Found
) -> pl.DataFrame:
    """First and last place along the bank of what of each shape was found; `owner` is the number of each row's bank."""
    order = stations.select("reach", "side", "from_ft", "to_ft", "x_m", "y_m", bank=pl.Series(owner))
    order = order.filter(pl.col("from_ft").is_not_null()).sort("bank", "from_ft")
    blocks = _blocks(max(len(found.row), 1), _FEW)
    parts = _each(lambda some: _places(lines, order, runs, found.of(some)), blocks)
    return pl.concat(parts).group_by("reach", "side", "geometry").agg(
        from_ft=pl.col("low").min().round(_DECIMALS), to_ft=pl.col("high").max().round(_DECIMALS)
    )  # fmt: skip


def _places(lines: _Shapes, order: pl.DataFrame, runs: pl.DataFrame, found: _Found) -> pl.DataFrame:
    """First and last place along the bank of each shape that was found."""
    xy, owner = shapely.get_coordinates(found.parts, return_index=True)
    row, which, ends = found.row[owner], found.shape[owner], found.beside[owner]
    step = ends[:, 1] - ends[:, 0]
    size = np.hypot(step[:, 0], step[:, 1])
    share = ((xy - ends[:, 0, :2]) * step[:, :2]).sum(axis=1) / np.where(size > 0, size, 1.0) ** 2
    foot = (ends[:, 0, 2] + np.clip(share, 0.0, 1.0) * step[:, 2]) / FOOT_M
    head = runs["side"].cast(pl.String).to_numpy()[row] == "head"
    place = np.full(len(row), np.nan)
    place[~head] = _along(lines, order, runs["bank"].to_numpy()[row[~head]], foot[~head], xy[~head])
    low = np.where(head, _column(runs, "from_ft")[row], place)
    high = np.where(head, _column(runs, "to_ft")[row], place)
    both = _pair(runs, row, which).with_columns(low=low, high=high).group_by("reach", "side", "geometry")
    return both.agg(pl.col("low").min(), pl.col("high").max())


def _along(lines: _Shapes, order: pl.DataFrame, bank: NDArray[np.int64], foot_ft: _Numbers, xy: _Numbers) -> _Numbers:
    """How far along the line each place is, ft: beside the stretch that its foot on the line lies on."""
    # One axis for all banks, so that a single search finds every stretch; no line is so long.
    long = 1e8
    begins = order["bank"].to_numpy() * long + order["from_ft"].to_numpy()
    stretch = np.maximum(np.searchsorted(begins, bank * long + foot_ft, side="right") - 1, 0)
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
