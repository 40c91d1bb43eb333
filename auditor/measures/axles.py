"""How the axles of a combination group: single axles, tandems, and every run of consecutive axles.

What a tandem is, whether the steer axle can belong to one and whether lift axles count differ by law: they are
parameters. All combinations are worked out at once in arrays of combination x first axle x last axle. A blank makes
some answers open: each run then has a "surely" and a "maybe", and only what holds either way is stated.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from auditor.vocabulary.intervals import Interval, parse_interval

COMBINATION = ("job", "truck", "trailer")
"""What identifies a combination; `trailer` is null for a straight truck, so join with `nulls_equal=True`."""

_KIND = pl.Enum(["single", "tandem"])
_NOISE_DECIMALS = 6

_Flags = NDArray[np.bool_]
_Numbers = NDArray[np.float64]
_Places = tuple[NDArray[np.intp], ...]
"""Combination, first axle and last axle of each run."""


@dataclass(frozen=True, slots=True)
class _Grid:
    """Axles of all combinations, [combination, axle number - 1]: position, and whether the axle surely or maybe counts."""

    keys: pl.DataFrame
    position_ft: _Numbers
    surely: _Flags
    maybe: _Flags


@dataclass(frozen=True, slots=True)
class _Groups:
    """Runs that are groups, [combination, first, last]: for certain, or open because of a blank."""

    single: _Flags
    tandem: _Flags
    tandem_maybe: _Flags
    undecided: _Flags


def axle_groups(
    axles: pl.DataFrame, *, tandem_spread_in: str, steer_axle_in_tandem: bool, lift_axles_count: bool
) -> pl.DataFrame:
    """Single axles and tandems of each combination.

    A tandem is a longest run of two or more consecutive counted axles whose distance from first to last centre lies
    in the interval `tandem_spread_in` (inches); three axles inside it are one tandem. A wide interval can make
    tandems overlap; each is given. Axles not further apart than the lower end of the interval are one single axle;
    an axle in no tandem is a single.

    Parameters: `axles` holds one row per axle, unique by job, truck, trailer, axle: `job`, `truck`, `trailer`
    (null: straight truck), `axle` (number from the front, 1 is the steer axle), `position_ft` (ft behind the steer
    axle, 0 to 150, to a hundredth), `lift_axle`. `tandem_spread_in` such as "(40, 96]"; ValueError if it is no
    interval. With `lift_axles_count` false, lift axles are left out (they stay in no group; their weight still
    counts in a group that reaches across them).

    Returns `job`, `truck`, `trailer`, `group_kind`, `first_axle`, `last_axle`, `spread_in`, ordered from the front.
    Blanks: a blank position, a number missing in the sequence, or (where lift axles do not count) a blank
    `lift_axle` leaves open how the axles near it group. Each stretch of axles left open is one row with null kind
    and spread: every group it may hold lies inside it. Positions that do not increase are taken as blank.

    Source: 23 CFR 658.5 (single axle weight, tandem axle weight) and the FHWA questions and answers on 23 CFR 658.17
    (any number of consecutive axles over 40 in and not over 96 in apart).
    """
    grid = _grid(axles, lift_axles_count)
    groups = _groups(grid, parse_interval(tandem_spread_in), steer_axle_in_tandem)
    first_open, last_open = _stretches(groups.undecided)
    found: list[tuple[_Places, str | None]] = [
        (np.nonzero(groups.single), "single"),
        (np.nonzero(groups.tandem), "tandem"),
        (_pair_stretches(first_open, last_open), None),
    ]
    rows = pl.concat(
        _rows(grid, places).with_columns(
            pl.lit(kind, dtype=_KIND).alias("group_kind"),
            (pl.lit(None, dtype=pl.Float64) if kind is None else _inches(pl.col("span_ft"))).alias("spread_in"),
        )
        for places, kind in found
    )
    return (
        rows.sort("_c", "first_axle", "last_axle", maintain_order=True)
        .select(*COMBINATION, "group_kind", "first_axle", "last_axle", "spread_in")
    )  # fmt: skip


def axle_runs(
    axles: pl.DataFrame, *, tandem_spread_in: str, steer_axle_in_tandem: bool, lift_axles_count: bool
) -> pl.DataFrame:
    """Every run of two or more consecutive counted axles of each combination: n axles make n(n - 1)/2 runs.

    Parameters as for `axle_groups`. Returns `job`, `truck`, `trailer`, `first_axle`, `last_axle`, `run_axle_count`
    (axles counted one by one, also those close together), `run_span_ft`, `run_span_in` (first to last centre) and
    `two_tandems` (the run is two consecutive tandems and nothing else).

    Blanks: the span is null where either end has no position. Where an axle of the run may or may not count, the run
    is listed with a null count; `two_tandems` is null where the grouping is open.

    Source: 23 U.S.C. 127(a)(2) ("any group of two or more consecutive axles"; two consecutive sets of tandem axles).
    """
    grid = _grid(axles, lift_axles_count)
    groups = _groups(grid, parse_interval(tandem_spread_in), steer_axle_in_tandem)
    two_surely = _product(groups.tandem, _next_to(grid.maybe), groups.tandem)
    two_maybe = _product(groups.tandem_maybe, _next_to(grid.surely), groups.tandem_maybe)
    c, i, j = np.nonzero(_pairs(grid.maybe) & ~np.eye(grid.maybe.shape[1], dtype=bool))
    doubtful = _inside(grid.maybe & ~grid.surely)[c, i, j] > 0
    counted = _inside(grid.surely)[c, i, j]
    return _rows(grid, (c, i, j)).select(
        *COMBINATION, "first_axle", "last_axle",
        _null_where(doubtful, counted, "run_axle_count"),
        pl.col("span_ft").alias("run_span_ft"),
        _inches(pl.col("span_ft")).alias("run_span_in"),
        _null_where(two_maybe[c, i, j] & ~two_surely[c, i, j], two_surely[c, i, j], "two_tandems"),
    )  # fmt: skip


def axle_layout(
    axles: pl.DataFrame, *, tandem_spread_in: str, steer_axle_in_tandem: bool, lift_axles_count: bool
) -> pl.DataFrame:
    """One row per combination: `axle_count`, `outer_span_ft`, `single_axle_count`, `tandem_count`.

    Parameters as for `axle_groups`. `axle_count` counts axles one by one; `outer_span_ft` runs from the first to the
    last counted axle; axles joined into one single axle are one in `single_axle_count`.

    Blanks: the count is null where an axle may or may not count; the span where either end is in doubt or without
    position; both group counts where the grouping of any axle is open. A combination without rows has no row here.

    Source: 23 CFR 658.5; 23 U.S.C. 127(a)(2).
    """
    grid = _grid(axles, lift_axles_count)
    groups = _groups(grid, parse_interval(tandem_spread_in), steer_axle_in_tandem)
    doubtful = np.any(grid.maybe & ~grid.surely, axis=1)
    open_grouping = np.any(groups.undecided, axis=(1, 2))
    return grid.keys.select(
        *COMBINATION,
        _null_where(doubtful, grid.surely.sum(axis=1), "axle_count"),
        _outer_span_ft(grid),
        _null_where(open_grouping, groups.single.sum(axis=(1, 2)), "single_axle_count"),
        _null_where(open_grouping, groups.tandem.sum(axis=(1, 2)), "tandem_count"),
    )


def _grid(axles: pl.DataFrame, lift_axles_count: bool) -> _Grid:
    keys = axles.select(COMBINATION).unique(maintain_order=True).with_row_index("_c")
    placed = axles.join(keys, on=COMBINATION, nulls_equal=True).select("_c", "axle", "position_ft", "lift_axle")
    c = placed["_c"].to_numpy()
    k = placed["axle"].to_numpy() - 1
    shape = (keys.height, int(k.max()) + 1 if k.size else 0)
    position = np.full(shape, np.nan)
    position[c, k] = placed["position_ft"].to_numpy()
    listed, lift, fixed = (np.zeros(shape, dtype=bool) for _ in range(3))
    listed[c, k] = True
    lift[c, k] = placed["lift_axle"].fill_null(False).to_numpy()
    fixed[c, k] = ~placed["lift_axle"].fill_null(True).to_numpy()
    # A number left out below a listed one is an axle of which nothing is known.
    numbered = np.maximum.accumulate(listed[:, ::-1], axis=1)[:, ::-1]
    surely, maybe = (listed, numbered) if lift_axles_count else (fixed, numbered & ~lift)
    if shape[1] > 1:
        before = np.fmax.accumulate(position, axis=1)[:, :-1]
        position[(position[:, 1:] <= before).any(axis=1)] = np.nan
    return _Grid(keys, position, surely, maybe)


def _groups(grid: _Grid, spread_in: Interval, steer_axle_in_tandem: bool) -> _Groups:
    least, most = _spread_bounds_in(grid)
    n = grid.maybe.shape[1]
    alone = np.eye(n, dtype=bool)
    may_be_tandem = ~alone
    if not steer_axle_in_tandem:
        may_be_tandem[:1, :] = False

    def above_low(spread: _Numbers) -> _Flags:
        return spread >= spread_in.low if spread_in.takes_low else spread > spread_in.low

    def below_high(spread: _Numbers) -> _Flags:
        return spread <= spread_in.high if spread_in.takes_high else spread < spread_in.high

    exists, can_exist = _pairs(grid.surely), _pairs(grid.maybe)
    close, close_maybe = ~above_low(most) | alone, ~above_low(least) | alone
    tandem = exists & above_low(least) & below_high(most) & may_be_tandem
    tandem_maybe = can_exist & above_low(most) & below_high(least) & may_be_tandem
    grouped = exists & (close | (below_high(most) & may_be_tandem))
    inside_some = _strictly_inside(grouped)
    inside_maybe = _strictly_inside((can_exist & close_maybe) | tandem_maybe)
    single = exists & close & ~inside_maybe
    tandem &= ~inside_maybe
    maybe = ((can_exist & close_maybe) | tandem_maybe) & ~inside_some
    return _Groups(single, tandem, tandem_maybe & ~inside_some, maybe & ~single & ~tandem)


def _spread_bounds_in(grid: _Grid) -> tuple[_Numbers, _Numbers]:
    """Least and greatest distance of each pair of axles: a blank position lies between its nearest neighbours."""
    position = grid.position_ft
    blank = np.isnan(position)
    after = np.where(blank, -np.inf, position)
    before = np.where(blank, np.inf, position)
    after = np.maximum.accumulate(after, axis=1)
    before = np.minimum.accumulate(before[:, ::-1], axis=1)[:, ::-1]
    least = np.maximum(after[:, None, :] - before[:, :, None], 0.0)
    most = before[:, None, :] - after[:, :, None]
    return np.round(least * 12, _NOISE_DECIMALS), np.round(most * 12, _NOISE_DECIMALS)


def _pairs(flags: _Flags) -> _Flags:
    """Runs whose both ends are flagged, first not behind last."""
    return np.asarray(np.triu(flags[:, :, None] & flags[:, None, :]), dtype=bool)


def _containing(runs: _Flags) -> _Flags:
    """For each run, whether it or a run around it is flagged."""
    up = np.maximum.accumulate(runs, axis=1)
    return np.asarray(np.maximum.accumulate(up[:, :, ::-1], axis=2)[:, :, ::-1], dtype=bool)


def _strictly_inside(runs: _Flags) -> _Flags:
    around = _containing(runs)
    inside = np.zeros_like(runs)
    inside[:, 1:, :] |= around[:, :-1, :]
    inside[:, :, :-1] |= around[:, :, 1:]
    return inside


def _stretches(undecided: _Flags) -> tuple[_Flags, _Flags]:
    """First and last axles of the stretches that open runs cover together."""
    around = _containing(undecided)
    covered = np.diagonal(around, axis1=1, axis2=2)
    linked = np.diagonal(around, offset=1, axis1=1, axis2=2)
    first, last = covered.copy(), covered.copy()
    first[:, 1:] &= ~linked
    last[:, :-1] &= ~linked
    return first, last


def _pair_stretches(first: _Flags, last: _Flags) -> _Places:
    c, i = np.nonzero(first)
    return c, i, np.nonzero(last)[1]


def _inside(flags: _Flags) -> NDArray[np.int_]:
    """Flagged axles of each run, both ends included."""
    total = np.cumsum(flags, axis=1, dtype=np.int_)
    return np.asarray(total[:, None, :] - (total - flags)[:, :, None], dtype=np.int_)


def _next_to(flags: _Flags) -> _Flags:
    """Pairs of axles, the second behind the first, with no flagged axle between them."""
    ends = flags.astype(np.int_)[:, :, None] + flags[:, None, :]
    return np.asarray(np.triu(_inside(flags) == ends, k=1), dtype=bool)


def _product(first: _Flags, next_to: _Flags, second: _Flags) -> _Flags:
    """Runs made of a flagged run, the axle next to it, and a flagged run from there."""
    steps = first.astype(np.float32) @ next_to.astype(np.float32) @ second.astype(np.float32)
    return np.asarray(steps > 0, dtype=bool)


def _outer_span_ft(grid: _Grid) -> pl.Series:
    if not grid.maybe.size:
        return pl.Series("outer_span_ft", [], dtype=pl.Float64)
    n = grid.maybe.shape[1]
    first, last = (np.argmax(f, axis=1) for f in (grid.surely, grid.surely[:, ::-1]))
    settled = grid.surely.any(axis=1)
    settled &= (first == np.argmax(grid.maybe, axis=1)) & (last == np.argmax(grid.maybe[:, ::-1], axis=1))
    rows = np.arange(len(first))
    span = grid.position_ft[rows, n - 1 - last] - grid.position_ft[rows, first]
    return pl.Series("outer_span_ft", np.where(settled, np.round(span, _NOISE_DECIMALS), np.nan)).fill_nan(None)


def _rows(grid: _Grid, places: _Places) -> pl.DataFrame:
    """Keys, first and last axle and span of the runs at those places."""
    c, i, j = places
    span = np.round(grid.position_ft[c, j] - grid.position_ft[c, i], _NOISE_DECIMALS)
    return grid.keys[c].with_columns(
        pl.Series("first_axle", i + 1, dtype=pl.Int64),
        pl.Series("last_axle", j + 1, dtype=pl.Int64),
        pl.Series("span_ft", span, dtype=pl.Float64).fill_nan(None),
    )


def _inches(feet: pl.Expr) -> pl.Expr:
    return (feet * 12).round(_NOISE_DECIMALS)


def _null_where(unknown: NDArray[Any] | np.bool, values: NDArray[Any], name: str) -> pl.Series:
    series = pl.Series(name, values)
    series = series if series.dtype == pl.Boolean else series.cast(pl.Int64)
    return series.to_frame().select(pl.when(~pl.Series(unknown)).then(pl.col(name))).to_series().alias(name)
