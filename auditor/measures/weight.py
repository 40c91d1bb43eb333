"""Weight: what the bridge formula allows on a run of axles, and what the scale readings say a run weighs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray

SpanRounding = Literal["nearest", "up", "exact"]
Ties = Literal["down", "up"]
Cells = Mapping[Any, Mapping[Any, float]]

_Numbers = NDArray[np.float64]
_STEP_LB = 500.0
_NOISE_DECIMALS = 6
"""Positions are kept to a hundredth of a foot: what lies beyond six decimals is noise of binary fractions."""
_LOADS_AT_ONCE = 100_000


def bridge_limit_lb(
    axle_count: ArrayLike | None,
    span_ft: ArrayLike | None,
    *,
    span_rounding: SpanRounding = "nearest",
    ties: Ties = "down",
    cells: Cells | None = None,
    span_added_ft: float = 0.0,
) -> float | _Numbers:
    """Weight the bridge formula allows on a run of consecutive axles, lb.

    W = 500 (L N / (N - 1) + 12 N + 36) to the nearest 500 lb, with N axles and L ft from the first to the last
    centre. No cap (tandem, gross) is applied: those are limits of their own.

    Parameters: `axle_count` whole number, 2 or more; `span_ft` ft, more than 0; numbers or arrays of any shapes that
    broadcast, two scalars give a float. `span_rounding` makes whole feet of the span before use: "nearest" (exactly
    half a foot goes up), "up" (any fraction goes up) or "exact" (no rounding). `ties`: a result half way between two
    steps goes "down" or "up". `cells` are a printed table's values that stand in place of the formula: axle count ->
    whole foot of span -> lb; keys may be text. `span_added_ft` is added to every span before it is rounded, for a law
    that treats a vehicle as longer than it is.

    Outside the range: fewer than 2 axles, a count that is not whole, a span of 0 or less: NaN. NaN or None in: NaN.

    Source: 23 U.S.C. 127(a)(2). Rounding of the span: Va. Code 46.2-1126 (any fraction up), Wis. Stat. 348.15(5m)
    (nearest, half up). Added span: Miss. Code 63-5-34. Ties down as in the table of Va. Code 46.2-1126; up as in
    67 Pa. Code 185.3.
    """
    count, span = np.broadcast_arrays(np.asarray(axle_count, dtype=float), np.asarray(span_ft, dtype=float))
    usable = (count >= 2) & (count == np.floor(count)) & (span > 0) & np.isfinite(span)
    n = np.where(usable, count, 2.0)
    feet = _whole_feet(np.where(usable, span + span_added_ft, 1.0), span_rounding)
    steps = np.round(feet * n / (n - 1) + 12 * n + 36, _NOISE_DECIMALS)
    if ties == "down":
        steps = np.ceil(steps - 0.5)
    elif ties == "up":
        steps = np.floor(steps + 0.5)
    else:
        raise ValueError(f'ties is "{ties}"; it must be "down" or "up"')
    limit = np.where(usable, _STEP_LB * steps, np.nan)
    if cells:
        printed = _printed(cells, n, feet)
        limit = np.where(usable & ~np.isnan(printed), printed, limit)
    return float(limit) if limit.ndim == 0 else limit


def weigh_runs(runs: pl.DataFrame, readings: pl.DataFrame) -> pl.DataFrame:
    """What the scale readings of a load say about the weight of a run of its axles, as an interval, lb.

    Parameters: `runs` has `job`, `load`, `first_axle`, `last_axle` (both ends belong to the run) and any other
    columns; `readings` has `job`, `load`, `first_axle`, `last_axle`, `weight_lb`, one row per reading.

    Returns `runs`, in its order, with `weight_lb__lo` and `weight_lb__hi`. Low is the sum of the readings that lie
    wholly inside the run (0 if none does), high the sum of the readings that touch it; where the readings tile the
    run both are its weight. Readings that overlap are never added up: low is the heaviest set of readings inside that
    share no axle, high the lightest set that covers the run. Overlapping readings that contradict each other give
    the interval between the two answers.

    Blanks: high is null where some axle of the run is in no reading; both are null where an end of the run is null.
    A reading with a blank, or whose last axle is before its first, is left out.

    Source: arithmetic: a whole weighs what its parts weigh together, and no part less than nothing.
    """
    usable = readings.filter((pl.col("first_axle") >= 1) & (pl.col("first_axle") <= pl.col("last_axle")))
    bounds = (
        usable.filter(pl.col("weight_lb").is_not_null())
        .group_by("job", "load", "first_axle", "last_axle")
        .agg(pl.col("weight_lb").min().alias("least"), pl.col("weight_lb").max().alias("most"))
    )
    loads = runs.select("job", "load").unique().with_row_index("_load")
    bounds = bounds.join(loads, on=["job", "load"])
    places = runs.select("job", "load", "first_axle", "last_axle").join(
        loads, on=["job", "load"], how="left", maintain_order="left"
    )
    low, high = _weigh(places, bounds.sort("_load"))
    return runs.with_columns(
        pl.Series("weight_lb__lo", low, dtype=pl.Float64).fill_nan(None),
        pl.Series("weight_lb__hi", high, dtype=pl.Float64).fill_nan(None),
    )


def _whole_feet(span_ft: _Numbers, rounding: SpanRounding) -> _Numbers:
    span = np.round(span_ft, _NOISE_DECIMALS)
    if rounding == "nearest":
        return np.floor(span + 0.5)
    if rounding == "up":
        return np.ceil(span)
    if rounding == "exact":
        return span
    raise ValueError(f'span_rounding is "{rounding}"; it must be "nearest", "up" or "exact"')


def _printed(cells: Cells, count: _Numbers, feet: _Numbers) -> _Numbers:
    """The table's cell for each run; NaN where the table prints none."""
    entries = [(int(n), int(ft), float(lb)) for n, row in cells.items() for ft, lb in row.items()]
    axles = max((n for n, _, _ in entries), default=0)
    longest = max((ft for _, ft, _ in entries), default=0)
    table = np.full((axles + 1, longest + 1), np.nan)
    for n, ft, lb in entries:
        table[n, ft] = lb
    inside = (count <= axles) & (feet <= longest) & (feet == np.floor(feet))
    row = np.where(inside, count, 0).astype(int)
    column = np.where(inside, feet, 0).astype(int)
    return np.where(inside, table[row, column], np.nan)


def _weigh(places: pl.DataFrame, bounds: pl.DataFrame) -> tuple[_Numbers, _Numbers]:
    """Low and high of each run, a batch of loads at a time to keep the arrays small."""
    load, first, last = (places[c].cast(pl.Float64).to_numpy() for c in ("_load", "first_axle", "last_axle"))
    low, high = np.full(load.shape, np.nan), np.full(load.shape, np.nan)
    known = ~(np.isnan(first) | np.isnan(last))
    size = int(max(last[known].max(initial=0.0), bounds["last_axle"].to_numpy().max(initial=0))) + 1
    read_load = bounds["_load"].to_numpy()
    total = int(load.max(initial=-1.0)) + 1
    for start in range(0, total, _LOADS_AT_ONCE):
        stop = min(start + _LOADS_AT_ONCE, total)
        part = bounds[int(np.searchsorted(read_load, start)) : int(np.searchsorted(read_load, stop))]
        lows, highs = _all_runs(part, start, stop - start, size)
        at = np.flatnonzero(known & (load >= start) & (load < stop))
        where = (load[at].astype(int) - start, first[at].astype(int), last[at].astype(int))
        low[at], high[at] = lows[where], highs[where]
    contradict = low > high
    low[contradict], high[contradict] = high[contradict], low[contradict]
    high[np.isinf(high)] = np.nan
    return low, high


def _all_runs(bounds: pl.DataFrame, start: int, loads: int, size: int) -> tuple[_Numbers, _Numbers]:
    """Low and high of every run of every load of the batch, [load, first axle, last axle]; high inf: not covered."""
    most = np.full((loads, size, size), -np.inf)
    least = np.full((loads, size, size), np.inf)
    at = (
        bounds["_load"].to_numpy().astype(int) - start,
        bounds["first_axle"].to_numpy(),
        bounds["last_axle"].to_numpy(),
    )
    most[at], least[at] = bounds["most"].to_numpy(), bounds["least"].to_numpy()
    # The lightest reading from axle f that reaches axle b or beyond.
    reach = np.minimum.accumulate(least[:, :, ::-1], axis=2)[:, :, ::-1]
    lows, highs = np.zeros((loads, size, size)), np.full((loads, size, size), np.inf)
    for a in range(1, size):
        for b in range(a, size):
            heaviest = lows[:, a, b - 1].copy() if b > a else np.zeros(loads)
            lightest = reach[:, 1 : a + 1, b].min(axis=1)
            for f in range(a, b + 1):
                packed = lows[:, a, f - 1] + most[:, f, b] if f > a else most[:, f, b]
                np.maximum(heaviest, packed, out=heaviest)
                if f > a:
                    np.minimum(lightest, highs[:, a, f - 1] + reach[:, f, b], out=lightest)
            lows[:, a, b], highs[:, a, b] = heaviest, lightest
    return lows, highs
