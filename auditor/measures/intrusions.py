"""What lies in the required zones along the water: harvest, tracks and places, how deep, how much, how far along.

Coordinates are local metres; distances and depths ft (0.3048 m exactly), areas acres (43,560 square feet). Lines,
stations and sides are those of `auditor.measures.reaches`, zones those of `auditor.measures.zones`.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import polars as pl
import shapely
from numpy.typing import ArrayLike, NDArray

from auditor.measures.reaches import FOOT_M, _common, _crosses, _Numbers, _Shapes, _shortest, _sound, _xy
from auditor.measures.zones import _SIDES, _SQM_PER_ACRE, _bank_zones, _banks, _column, _courses, _ground, _widths

_DECIMALS: Final = 6


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
) -> pl.DataFrame:
    """What lies in or near the required zones: one row for each bank and geometry within `search_ft` of the zone.

    Gives `reach`, `side`, `geometry` (its index), `nearest_ft` (to the bank; 0 in the channel), `depth_ft` (required
    width less nearest distance, the greatest along the bank; negative outside), `inside`, `area_acres`, `track_ft`
    (length of a line inside), `from_ft`, `to_ft`, `length_ft` (first to last place along the bank; of a head, whole
    stretches). `inside` is true where the depth exceeds `uncertainty_ft`, false where the geometry stays as far outside,
    null between. A point or line has area 0. What lies across the own reach belongs to its other bank.

    Parameters: as `required_zones`; `geometries` (M,) of any kind; `uncertainty_ft`, 0 or more, one each or one for all;
    `search_ft` 0 or more.

    Null: depth, area and extent of a bank where a stretch near the geometry has no known width or bank; `inside` too,
    unless another stretch shows it. `inside` where the uncertainty is NaN. A pair without a row is farther off.

    Source: by definition; guarded decision of JCGM 106:2012, 8.3.
    """
    shapes = _sound(geometries, "geometry")
    bank, width = _column(stations, "bank_ft"), _widths(stations, width_ft)
    reach = (np.nan_to_num(bank) + np.nan_to_num(width) + search_ft) * FOOT_M
    near = _pieces(*_ground(lines, stations, reach, touch_ft), shapes)
    own = _own_lines(lines, stations)
    ways = _shortest(own[near[0]], near[2])
    this_side = ~_crosses(ways, lines[stations["reach"].to_numpy()[near[0]]])
    row, which = near[0][this_side], near[1][this_side]
    apart = np.hypot(*(ways[this_side, 1] - ways[this_side, 0]).T) / FOOT_M
    nearest = np.maximum(apart - bank[row], 0.0)
    found = _pair(stations, row, which).with_columns(nearest=nearest, depth=width[row] - nearest)
    pairs = found.group_by("reach", "side", "geometry").agg(
        nearest_ft=pl.when(~pl.col("nearest").is_nan().any()).then(pl.col("nearest").min().round(_DECIMALS)),
        depth_ft=pl.when(~pl.col("depth").is_nan().any()).then(pl.col("depth").max().round(_DECIMALS)),
        _known=pl.col("depth").fill_nan(None).max().round(_DECIMALS),
    )
    error = np.broadcast_to(np.asarray(uncertainty_ft, dtype=float), len(shapes))[pairs["geometry"].to_numpy()]
    sure_in = pl.col("_known") > pl.Series(error).fill_nan(None)
    sure_out = pl.col("depth_ft") <= -pl.Series(error).fill_nan(None)
    pairs = pairs.with_columns(inside=pl.when(sure_in).then(True).when(sure_out).then(False))
    pairs = pairs.filter(pl.col("depth_ft").is_null() | (pl.col("depth_ft") >= -search_ft))
    extent = _extent(lines, stations, (bank + width) * FOOT_M, shapes, touch_ft)
    banks, owner = _banks(stations)
    met = np.isin(owner, owner[row])
    amounts = _amounts(banks, _bank_zones(lines, stations, width, met, touch_ft, water), shapes)
    on = ["reach", "side", "geometry"]
    sure = pl.col("depth_ft").is_not_null()
    return pairs.join(amounts, on=on, how="left").join(extent, on=on, how="left").select(
        "reach", "side", "geometry", "nearest_ft", "depth_ft", "inside",
        *(pl.when(sure).then(pl.col(c).fill_null(0.0)).alias(c) for c in ("area_acres", "track_ft")),
        *(pl.when(sure).then(pl.col(c)).alias(c) for c in ("from_ft", "to_ft")),
        pl.when(sure).then((pl.col("to_ft") - pl.col("from_ft")).fill_null(0.0)).alias("length_ft"),
    ).sort("reach", pl.col("side").cast(_SIDES), "geometry")  # fmt: skip


def _pair(stations: pl.DataFrame, row: NDArray[np.int64], which: NDArray[np.int64]) -> pl.DataFrame:
    """Bank and geometry of each piece."""
    return stations.select("reach", "side")[row].with_columns(geometry=pl.Series(which, dtype=pl.Int64))


def _pieces(
    ground: _Shapes, row: NDArray[np.int64], shapes: _Shapes
) -> tuple[NDArray[np.int64], NDArray[np.int64], _Shapes]:
    """The parts of shapes on pieces of ground: row of the piece, index of the shape, and the part."""
    at, which = shapely.STRtree(shapes).query(ground, predicate="intersects")
    parts, owner = shapely.get_parts(_common(ground[at], shapes[which]), return_index=True)
    return row[at][owner], which[owner], parts


def _amounts(banks: pl.DataFrame, zones: _Shapes, shapes: _Shapes) -> pl.DataFrame:
    """Area and, of lines, length of each shape inside each zone."""
    at, which = shapely.STRtree(shapes).query(zones, predicate="intersects")
    common = _common(zones[at], shapes[which])
    length = np.where(shapely.get_dimensions(shapes)[which] == 1, shapely.length(common) / FOOT_M, 0.0)
    return _pair(banks, at, which).with_columns(
        area_acres=shapely.area(common) / _SQM_PER_ACRE, track_ft=pl.Series(length).round(_DECIMALS)
    )


def _extent(
    lines: _Shapes, stations: pl.DataFrame, radius_m: _Numbers, shapes: _Shapes, touch_ft: float
) -> pl.DataFrame:
    """First and last place along the bank of what of each shape lies within the radius."""
    row, which, parts = _pieces(*_ground(lines, stations, radius_m, touch_ft), shapes)
    own = _own_lines(lines, stations)
    xy, owner = shapely.get_coordinates(parts, return_index=True)
    row, which = row[owner], which[owner]
    start, end = _column(stations, "from_ft")[row], _column(stations, "to_ft")[row]
    head = stations["side"].cast(pl.String).to_numpy()[row] == "head"
    place = np.full(len(row), np.nan)
    place[~head] = shapely.line_locate_point(own[row[~head]], shapely.points(xy[~head])) / FOOT_M + start[~head]
    low, high = np.where(head, start, place), np.where(head, end, place)
    return _pair(stations, row, which).with_columns(low=low, high=high).group_by("reach", "side", "geometry").agg(
        from_ft=pl.col("low").min().round(_DECIMALS), to_ft=pl.col("high").max().round(_DECIMALS)
    )  # fmt: skip


def _own_lines(lines: _Shapes, stations: pl.DataFrame) -> _Shapes:
    """What the distance of each row is measured from: its stretch of the line, or the source."""
    side = stations["side"].cast(pl.String).to_numpy()
    found: _Shapes = shapely.points(_xy(stations, "x_m", "y_m"))
    rows = np.flatnonzero(side != "head")
    xy, owner = _courses(lines, stations[rows], 0.0)
    found[rows] = shapely.linestrings(xy, indices=owner)
    return found
