"""Crossings: pipe openings and diameters, cover, the angle to the stream, days in place, approaches."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Literal

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray

Between = Literal["lower", "higher", "interpolate"]
_Numbers = NDArray[np.float64]
_CIRCLE = math.pi / 576
"""Square feet of a circle of 1 in diameter."""


def pipe_area_sqft(diameter_in: pl.Expr) -> pl.Expr:
    """Opening of a round pipe in ft2 from its inside diameter in inches, more than 0.

    Null where the diameter is null.

    Source: arithmetic, pi d^2 / (4 x 144); a pipe of 90 in has 44.2 ft2 (Florida silviculture BMP manual, p. 81).
    """
    return _CIRCLE * diameter_in**2


def pipe_openings(pipes: pl.DataFrame) -> pl.DataFrame:
    """Opening of all pipes of a crossing, and the one pipe that would match them, by job and crossing.

    Gives, each as `__lo` and `__hi`: `pipe_opening_sqft` (sum of areas, ft2), `equal_area_in` (diameter in inches of one
    pipe of that area) and `equal_flow_in` (diameter of one pipe that carries as much when all run full on the same
    slope: flow goes with d^(8/3)). Pipes of equal area carry less than one large pipe, so `equal_flow_in` is the smaller.

    Parameters: `pipes` has `job`, `crossing`, `pipe_count` (how many alike, 0 or more), `diameter_in` (in, more than 0).
    A line with a blank adds nothing to low and leaves high null.

    Source: arithmetic; Manning's equation for round pipes running full (flow as d^(8/3)), common practice.
    """
    count, d = pl.col("pipe_count"), pl.col("diameter_in")
    whole = ~(count.is_null() | d.is_null()).any()
    area, flow = (count * d**2).sum(), (count * d ** (8 / 3)).sum()
    answers = {"pipe_opening_sqft": _CIRCLE * area, "equal_area_in": area.sqrt(), "equal_flow_in": flow**0.375}
    return pipes.group_by("job", "crossing", maintain_order=True).agg(
        *(
            end.alias(f"{name}__{side}")
            for name, answer in answers.items()
            for side, end in (("lo", answer), ("hi", pl.when(whole).then(answer)))
        )
    )


def talbot_opening_sqft(
    drainage_area_acres: ArrayLike, runoff_share: ArrayLike, *, rain_in_per_h: float = 4.0
) -> _Numbers:
    """Waterway opening by Talbot's formula, ft2: C M^0.75 for M acres; arrays that broadcast.

    Parameters: `drainage_area_acres` 0 or more; `runoff_share` is the coefficient C, 0 to 1, without unit;
    `rain_in_per_h` scales the opening in proportion to the 4 in an hour that the formula rests on.

    NaN where an input is NaN or out of range. Raises ValueError for rain of 0 or less.

    Source: N.C. Forest Service, culvert sizing (A = C M^0.75, basis 4 in of rain an hour; Code reference 02 NCAC 60C).
    That the opening goes in proportion to the rain is an inference.
    """
    if not rain_in_per_h > 0:
        raise ValueError(f"rain is more than 0 in an hour, found {rain_in_per_h}")
    acres, share = np.broadcast_arrays(
        np.asarray(drainage_area_acres, dtype=float), np.asarray(runoff_share, dtype=float)
    )
    usable = (acres >= 0) & (share >= 0) & (share <= 1)
    return np.where(usable, np.where(usable, share, 0) * np.where(usable, acres, 0) ** 0.75 * rain_in_per_h / 4, np.nan)


def opening_diameter_in(opening_sqft: pl.Expr) -> pl.Expr:
    """Diameter in inches of the one round pipe with an opening of so many ft2, 0 or more.

    Null where the opening is null.

    Source: arithmetic, sqrt(4 x 144 x area / pi).
    """
    return (opening_sqft / _CIRCLE).sqrt()


def table_diameter_in(
    acres: pl.Series, tables: Mapping[str, Mapping[Any, float]], region: pl.Series, *, between: Between
) -> pl.DataFrame:
    """Pipe diameter in inches that a table gives for acres drained: `diameter_in__lo`, `diameter_in__hi`, a row each.

    Parameters: `acres` drained, more than 0; `tables` maps each region to its points, acres -> inches (two or more);
    `region` names the table of each row, null where it is not known. `between` two points: the value of the "lower" or
    "higher" one, or a straight line ("interpolate").

    Rows with a null region get the least and the greatest of all tables. Null where acres is null, lies outside a
    table's points, or the region has no table: nothing is drawn out beyond the print.

    Source: SC Forestry Commission BMP manual, stream crossings, table 1 (from the USGS report 91-4157; Stat. regions),
    passed in as a parameter.
    """
    if not tables:
        raise ValueError("at least one table is needed")
    names = list(tables)
    place = acres.cast(pl.Float64).fill_null(np.nan).to_numpy()
    answers = np.column_stack([_at_points(place, tables[name], between) for name in names])
    index = region.cast(pl.String).replace_strict(
        {n: i for i, n in enumerate(names)}, default=None, return_dtype=pl.Int64
    )
    blank = region.is_null().to_numpy()
    known = index.is_not_null().to_numpy()
    own = answers[np.arange(len(place)), np.where(known, index.fill_null(0).to_numpy(), 0)]
    own = np.where(known, own, np.nan)
    return pl.DataFrame(
        {
            "diameter_in__lo": np.where(blank, answers.min(axis=1), own),
            "diameter_in__hi": np.where(blank, answers.max(axis=1), own),
        }
    ).fill_nan(None)


def cover_required_ft(diameter_in: pl.Expr, *, least_ft: float, diameter_share: float) -> pl.Expr:
    """Fill that a pipe needs over it, ft: the greater of a least depth and a share of its diameter (in inches).

    Parameters: `least_ft` in ft; `diameter_share` without unit, 0.5 for half. Null where the diameter is null.

    Source: Alabama Extension, timber-harvest BMPs, figure 1 note (1 ft, or half the diameter), common practice.
    """
    share = diameter_share * diameter_in / 12
    return pl.when(share > least_ft).then(share).when(share <= least_ft).then(least_ft)


def angle_to_line_deg(angle_deg: pl.Expr, angle_from: pl.Expr, line: str) -> pl.Expr:
    """Angle to a line, 0 to 90 degrees, whatever it was measured from; 90 is square across.

    Parameters: `angle_deg` 0 to 180; `angle_from` says where 0 lies: along the line (`line` is its word, "stream_line"
    for a crossing, "centre_line" for a drain) or "square" across it.

    Null where either is null, the angle is out of range or the word is another.

    Source: arithmetic; 30 degrees off square is 60 from the line. Angles beyond 90 degrees are taken from the other
    side.
    """
    folded = (
        pl.when(angle_deg.is_between(0, 90)).then(angle_deg).when(angle_deg.is_between(90, 180)).then(180 - angle_deg)
    )
    reference = angle_from.cast(pl.String)
    return pl.when(reference == line).then(folded).when(reference == "square").then(90 - folded)


def days_in_place(installed_on: pl.Expr, removed_on: pl.Expr, in_place: pl.Expr, as_of: pl.Expr) -> dict[str, pl.Expr]:
    """Days a crossing stood, the day of installing not counted: expressions `lo` and `hi`.

    Parameters: dates, and `in_place` (yes or no, still there on the day `as_of`).

    Removed: removed less installed, both ends alike. Still there: at least the days to `as_of`, no upper end. Neither
    known: both null. Null where `installed_on` is null, or a day lies before it.

    Source: by definition; SC Forestry Commission BMP manual and Reg. practice count a bridge over 6 months as permanent.
    """
    stood = (removed_on - installed_on).dt.total_days()
    so_far = (as_of - installed_on).dt.total_days()
    done = pl.when(stood >= 0).then(stood)
    low = pl.when(removed_on.is_not_null()).then(done).when(in_place & (so_far >= 0)).then(so_far)
    return {"lo": low, "hi": pl.when(removed_on.is_not_null()).then(done)}


def approach_length_ft(length_ft: pl.Expr, nearest_drain_ft: pl.Expr, drained: pl.Expr) -> dict[str, pl.Expr]:
    """Length of road that drains to the crossing, ft: expressions `lo` and `hi`.

    Parameters: `length_ft` from the bank to where the road no longer drains to the water (ft, 0 or more),
    `nearest_drain_ft` from the bank to the nearest drain (ft, 0 or more), `drained` (yes or no, a drain turns the water
    off before the stream).

    Not drained: the whole length. Drained: the lesser of both. `drained` blank: from the lesser of what is known to the
    whole length. A blank length leaves high at the drain, or null where there is none; low is 0 unless both are known.

    Source: by definition, the stretch between the water and the first drain.
    """
    lesser = (
        pl.when(length_ft.is_null())
        .then(nearest_drain_ft)
        .when(nearest_drain_ft.is_null() | (length_ft <= nearest_drain_ft))
        .then(length_ft)
        .otherwise(nearest_drain_ft)
    )
    both = length_ft.is_not_null() & nearest_drain_ft.is_not_null()
    low = pl.when(~drained).then(length_ft).when(both).then(lesser).otherwise(0.0)
    high = pl.when(drained).then(lesser).otherwise(length_ft)
    return {"lo": pl.when(low.is_null()).then(0.0).otherwise(low), "hi": high}


def channel_opening_sqft(top_width_ft: pl.Expr, bottom_width_ft: pl.Expr, depth_ft: pl.Expr) -> pl.Expr:
    """Opening by the cross-section rule of thumb, ft2: (top width + bottom width) x depth, all ft.

    That is twice the channel's own cross-section. Null where one is null.

    Source: common practice, averaged over the crossing and 100 ft up and down of it.
    """
    return (top_width_ft + bottom_width_ft) * depth_ft


def pipe_beyond_fill_ft(beyond_ft: pl.Expr, length_ft: pl.Expr, fill_width_ft: pl.Expr) -> dict[str, pl.Expr]:
    """Reach of a pipe beyond the fill at its shorter end, ft: expressions `lo` and `hi`.

    Parameters: `beyond_ft` as measured (negative: it ends inside); `length_ft` of the pipe, `fill_width_ft` toe to toe.

    As measured where it was; else at most half of what the pipe is longer than the fill, and no lower end.

    Source: arithmetic; Texas A&M Forest Service, culverts (1 ft beyond the fill), common practice.
    """
    most = (length_ft - fill_width_ft) / 2
    return {"lo": beyond_ft, "hi": pl.when(beyond_ft.is_not_null()).then(beyond_ft).otherwise(most)}


def pipe_gap_share(between_ft: pl.Expr, diameter_in: pl.Expr) -> pl.Expr:
    """Clear space between neighbouring pipes (ft) as a share of their inside diameter (in, more than 0), without unit.

    Null where either is null or the diameter is not more than 0.

    Source: by definition; Florida silviculture BMP manual (half the diameter), common practice.
    """
    return pl.when(diameter_in > 0).then(12 * between_ft / diameter_in)


def _at_points(place: _Numbers, points: Mapping[Any, float], between: Between) -> _Numbers:
    ordered = sorted((float(at), float(value)) for at, value in points.items())
    at, value = (np.array(side) for side in zip(*ordered, strict=True))
    inside = (place >= at[0]) & (place <= at[-1])
    if between == "interpolate":
        found = np.interp(np.where(inside, place, at[0]), at, value)
    elif between == "higher":
        found = value[np.clip(np.searchsorted(at, place, side="left"), 0, len(at) - 1)]
    elif between == "lower":
        found = value[np.clip(np.searchsorted(at, place, side="right") - 1, 0, len(at) - 1)]
    else:
        raise ValueError(f'between is "{between}"; it must be "lower", "higher" or "interpolate"')
    return np.asarray(np.where(inside, found, np.nan))
