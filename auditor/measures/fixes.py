"""Position fixes of machines against streams: nearest reach, inside the zone or not, passes and the time they took.

Coordinates are local metres, distances ft (0.3048 m exactly), times seconds. A million fixes are read in one call.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import polars as pl
import shapely
from numpy.typing import ArrayLike, NDArray

from auditor.measures.reaches import _LINE, FOOT_M, _Numbers, _Shapes, _sound

_MPH: Final = 5280 / 3600
"""Feet a second in one mile an hour."""
_CHUNK: Final = 200_000
_DECIMALS: Final = 6
_NOISE_FT: Final = 1e-6


def fix_extent(
    x_m: ArrayLike,
    y_m: ArrayLike,
    lines: _Shapes,
    bank_ft: ArrayLike,
    width_ft: ArrayLike,
    *,
    uncertainty_ft: ArrayLike,
    search_ft: float,
) -> pl.DataFrame:
    """Nearest reach of each fix and how deep the fix lies in a zone: one row a fix, in their order.

    Gives `reach` (index of the nearest line) and `distance_ft` (to its bank, 0 in the channel), both null where the
    nearest line is farther than `search_ft` ft; `zone` (the reach in whose zone the fix lies deepest, or whose zone is
    nearest) and `depth_ft` (that zone's width less the distance to the bank, negative outside), both null where the fix
    lies farther outside of every zone than the greatest uncertainty; and `inside`: true where the depth exceeds the
    uncertainty, false where the fix lies at least as far outside, null between.

    Parameters: `x_m`, `y_m` (M,) metres; `lines` (N,) reaches, or their stretches where the width changes; `bank_ft`
    (line to bank) and `width_ft` (zone from the bank), ft, 0 or more, (N,) or one for all, alike on both sides;
    `uncertainty_ft` of a fix, 0 or more, (M,) or one; `search_ft` 0 or more.

    Null: all of a fix with a NaN coordinate; `depth_ft`, and `inside` unless another zone shows it, of a fix within
    `search_ft` of a line whose width or bank is NaN; `inside` where the uncertainty is NaN.

    Source: by definition; guarded decision of JCGM 106:2012, 8.3.
    """
    x, y = np.asarray(x_m, dtype=float), np.asarray(y_m, dtype=float)
    lines = _sound(lines, "line", only=_LINE)
    bank = np.broadcast_to(np.asarray(bank_ft, dtype=float), len(lines))
    width = np.broadcast_to(np.asarray(width_ft, dtype=float), len(lines))
    edge = np.where((bank >= 0) & (width >= 0), bank + width, np.nan)
    error = np.broadcast_to(np.asarray(uncertainty_ft, dtype=float), len(x))
    least = -float(np.nanmax(error, initial=0)) - _NOISE_FT
    reach, apart, zone, depth, unsure = _search(x, y, lines, edge, least, search_ft)
    # Deeper than this every line that matters was in reach of the search: the deepest is known.
    zone[depth < least] = -1
    found = reach >= 0
    bank_there = bank[reach] if len(lines) else apart
    # A fix near no zone keeps the depth of minus infinity: outside by any measure.
    return pl.DataFrame(
        {
            "_known": np.isfinite(x) & np.isfinite(y), "_near": found & (apart <= search_ft), "_reach": reach,
            "_distance": np.maximum(np.where(found, apart, np.nan) - bank_there, 0.0), "_zone": zone,
            "_depth": np.round(depth, _DECIMALS), "_unsure": unsure, "_error": error,
        }
    ).with_columns(pl.col("_depth", "_error", "_distance").fill_nan(None)).select(
        reach=pl.when("_near").then("_reach"),
        distance_ft=pl.when("_near").then(pl.col("_distance").round(_DECIMALS)),
        zone=pl.when(pl.col("_zone") >= 0).then("_zone"),
        depth_ft=pl.when((pl.col("_zone") >= 0) & ~pl.col("_unsure")).then("_depth"),
        inside=pl.when(pl.col("_known") & (pl.col("_depth") > pl.col("_error"))).then(True)
        .when(pl.col("_known") & ~pl.col("_unsure") & (pl.col("_depth") <= -pl.col("_error"))).then(False),
    )  # fmt: skip


def fix_steps(
    x_m: ArrayLike, y_m: ArrayLike, time_s: ArrayLike, track: ArrayLike, *, longest_gap_s: float, fastest_mph: float
) -> pl.DataFrame:
    """The step to each fix from the one before on its track: `step_s`, `step_ft`, `speed_mph`, `gap`, `jump`, a row each.

    `gap` is true where the step took longer than `longest_gap_s` seconds, `jump` where its speed exceeds `fastest_mph`
    mph; a move in no time at all is a jump.

    Parameters: arrays of shape (M,): metres, seconds, and a whole number for the track; the fixes of a track stand
    together in order of time. Raises ValueError where a time is before that of the fix above.

    Null: the first fix of a track; what needs a NaN time or coordinate.

    Source: by definition, speed = distance / time; 1 mile = 5,280 ft.
    """
    frame = pl.DataFrame(
        {
            "x": np.asarray(x_m, dtype=float),
            "y": np.asarray(y_m, dtype=float),
            "t": np.asarray(time_s, dtype=float),
            "track": np.asarray(track),
        }
    ).with_columns(pl.col("x", "y", "t").fill_nan(None))
    same = pl.col("track") == pl.col("track").shift(1)
    before = {c: pl.when(same).then(pl.col(c).shift(1)) for c in ("x", "y", "t")}
    step_ft = ((pl.col("x") - before["x"]) ** 2 + (pl.col("y") - before["y"]) ** 2).sqrt() / FOOT_M
    steps = frame.select(step_s=pl.col("t") - before["t"], step_ft=step_ft)
    back = steps["step_s"] < 0
    if back.any():
        raise ValueError(f"fix {back.fill_null(False).arg_max()} has a time before that of the fix above it")
    took, moved = pl.col("step_s"), pl.col("step_ft")
    speed = pl.when(took > 0).then(moved / took / _MPH)
    still = (took == 0) & (moved == 0)
    return steps.with_columns(
        speed_mph=speed,
        gap=took > longest_gap_s,
        jump=pl.when(took > 0).then(speed > fastest_mph).when(took == 0).then(~still),
    )


def zone_passes(
    fixes: pl.DataFrame, steps: pl.DataFrame, track: ArrayLike, time_s: ArrayLike, *, doubtful: bool = False
) -> pl.DataFrame:
    """Passes through zones: successive fixes of one track inside, one row a pass.

    Gives `track`, `pass` (1 first), `reach` (whose zone the deepest fix lies in), `first_fix`, `last_fix` (row indexes),
    `fix_count`, `first_s`, `last_s`, `inside_s` (seconds of the steps between two fixes inside), `uncounted_count` (steps
    left out of it: gaps, jumps, unknown times), `jump_count` (fixes reached by a jump) and `deepest_ft`.

    Parameters: `fixes` from `fix_extent`, `steps` from `fix_steps`, `track` and `time_s` (M,) as there. With `doubtful`
    fixes whose `inside` is null count as inside too: the two readings bound the passes.

    Null: `deepest_ft` where no depth is known; `first_s`, `last_s` where the time is NaN. The time on the way in and out
    is not counted, so that `inside_s` is at most the time really spent.

    Source: by definition.
    """
    within = fixes["inside"].fill_null(doubtful)
    rows = pl.DataFrame(
        {"track": np.asarray(track), "time": np.asarray(time_s, dtype=float), "_in": within}
    ).with_row_index("fix").with_columns(
        _run=pl.struct("track", "_in").rle_id(), depth=fixes["depth_ft"], reach=fixes["zone"],
        jump=steps["jump"].fill_null(False), step=steps["step_s"],
        counts=(~steps["gap"] & ~steps["jump"]).fill_null(False),
    ).with_columns(pl.col("time").fill_nan(None))  # fmt: skip
    later = (pl.int_range(pl.len()) > 0).over("_run")
    rows = rows.with_columns(later=later).filter("_in")
    passes = rows.group_by("track", "_run", maintain_order=True).agg(
        pl.col("reach").sort_by("depth", descending=True, nulls_last=True, maintain_order=True).first(),
        pl.col("fix").first().cast(pl.Int64).alias("first_fix"), pl.col("fix").last().cast(pl.Int64).alias("last_fix"),
        pl.len().cast(pl.Int64).alias("fix_count"),
        pl.col("time").first().alias("first_s"), pl.col("time").last().alias("last_s"),
        pl.col("step").filter(pl.col("later") & pl.col("counts")).sum().alias("inside_s"),
        (pl.col("later") & ~pl.col("counts")).sum().cast(pl.Int64).alias("uncounted_count"),
        pl.col("jump").sum().cast(pl.Int64).alias("jump_count"), pl.col("depth").max().alias("deepest_ft"),
    )  # fmt: skip
    return passes.drop("_run").insert_column(1, pl.Series("pass", np.arange(1, passes.height + 1)))


def _search(
    x: _Numbers, y: _Numbers, lines: _Shapes, edge: _Numbers, least: float, search_ft: float
) -> tuple[NDArray[np.int64], _Numbers, NDArray[np.int64], _Numbers, NDArray[np.bool_]]:
    """Nearest line of each fix and its distance (-1 and infinite: none), and zone, depth and doubt of the deepest."""
    zone_far = float(np.nanmax(edge, initial=0)) - least
    # A zone of unknown width may reach as far as fixes are looked for.
    zone_far = max(search_ft, zone_far) if np.isnan(edge).any() else zone_far
    far = max(search_ft, zone_far)
    pieces, owner = _pieces(lines)
    tree = shapely.STRtree(pieces)
    known = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    reach, zone = np.full(len(x), -1, dtype=np.int64), np.full(len(x), -1, dtype=np.int64)
    apart, depth, unsure = np.full(len(x), np.inf), np.full(len(x), -np.inf), np.zeros(len(x), dtype=bool)
    # A share at a time: a million points as shapes at once would take the memory of several.
    for rows in np.array_split(known, max(1, -(-len(known) // _CHUNK))):
        points = shapely.points(x[rows], y[rows])
        (at, piece), metres = tree.query_nearest(
            points, max_distance=far * FOOT_M, return_distance=True, all_matches=False
        )
        here = rows[at]
        reach[here], apart[here] = owner[piece], metres / FOOT_M
        close = apart[here] <= zone_far
        at, here = at[close], here[close]
        depth[here], zone[here] = edge[reach[here]] - apart[here], reach[here]
        # Where no zone is wider than that of the nearest reach, no other can hold the fix deeper.
        unlike = ~(edge[reach[here]] >= edge.max(initial=-np.inf))
        _deepest(tree, owner, edge, points[at[unlike]], here[unlike], zone_far, (depth, zone, unsure))
    return reach, apart, zone, depth, unsure


def _pieces(lines: _Shapes) -> tuple[_Shapes, NDArray[np.int64]]:
    """The straight pieces of lines and whose they are: small boxes make the search fast."""
    xy, owner = shapely.get_coordinates(lines, return_index=True)
    inner = np.diff(owner) == 0
    return shapely.linestrings(np.stack([xy[:-1], xy[1:]], axis=1)[inner]), owner[:-1][inner]


def _deepest(
    tree: shapely.STRtree, owner: NDArray[np.int64], edge: _Numbers, points: _Shapes, rows: NDArray[np.int64], far: float,
    into: tuple[_Numbers, NDArray[np.int64], NDArray[np.bool_]],
) -> None:  # fmt: skip
    """Depth and zone of fixes that may lie deeper in the zone of a reach that is not the nearest; unsure where unknown."""
    depth, zone, unsure = into
    at, piece = tree.query(points, predicate="dwithin", distance=far * FOOT_M)
    reach = owner[piece]
    deep = edge[reach] - shapely.distance(points[at], tree.geometries[piece]) / FOOT_M
    open_ = np.isnan(deep)
    unsure[rows[at[open_]]] = True
    # The best of each fix, first reach first among equals: the last of its rows in this order.
    order = np.lexsort((-reach[~open_], deep[~open_], at[~open_]))
    at, reach, deep = at[~open_][order], reach[~open_][order], deep[~open_][order]
    last = np.flatnonzero(np.append(np.diff(at) != 0, True)) if len(at) else np.zeros(0, dtype=np.int64)
    depth[rows], zone[rows] = -np.inf, -1
    depth[rows[at[last]]], zone[rows[at[last]]] = deep[last], reach[last]
