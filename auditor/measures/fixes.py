"""Position fixes of machines against streams: nearest reach, inside the zone or not, passes and the time they took.

Coordinates are local metres, distances ft (0.3048 m exactly), times seconds. A million fixes are read in one call.
"""

from __future__ import annotations

from dataclasses import dataclass
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
_SAME_S: Final = 1e-3
"""Times no farther apart are one: the edges of moves are found by their share of the way."""


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
    x_m: ArrayLike,
    y_m: ArrayLike,
    time_s: ArrayLike,
    track: ArrayLike,
    steps: pl.DataFrame,
    zones: _Shapes,
    sure: _Shapes,
) -> pl.DataFrame:
    """Passes of tracks through zones and the time they took: a row for each unbroken stay of a track in a zone.

    Between two fixes a machine is taken to have gone straight at an even pace, so that it enters and leaves where its way
    meets the edge, also where no fix lies inside. A gap or a jump ends a stay: where the machine was then is not known.

    Gives `track`, `zone` (index), `pass` (1 first, along the track in that zone), `first_s`, `last_s`, `inside_s` (from one
    to the other), of the time in `sure`, which is the smaller ground where a position is inside whatever its error:
    `sure_s`, `sure_first_s`, `sure_last_s` and `is_sure` (whether there is any, also a lone fix without time before or
    after); `gap_count` and `gap_s` of the gaps and jumps that it begins or ends with, each counted with one stay only; and
    `joined`: the track may have stayed inside since the row before, for that gap begins and ends inside. What was reached
    and left by a jump is no sign of having been elsewhere, nor for certain of having been inside.

    Parameters: `x_m`, `y_m` metres, `time_s` seconds, `track` a whole number, all (M,) and in the order of `fix_steps`,
    which gave `steps`; `zones` (N,) polygons, and `sure` (N,) polygons inside them, empty where nothing is certain.

    Null: a fix with a NaN coordinate or time takes no part; `sure_first_s` and `sure_last_s` where nothing is certain.

    Source: by definition, time = distance / speed along a straight step; guarded decision of JCGM 106:2012, 8.3.
    """
    way = _way(x_m, y_m, time_s, track, steps)
    outer, inner = _stays(way, _sound(zones, "zone")), _stays(way, np.asarray(sure, dtype=object))
    stays = outer.join(_runs(way.fixes), on="run", how="left", maintain_order="left").with_columns(
        _from=pl.col("first_s") <= pl.col("_begins") + _SAME_S, _to=pl.col("last_s") >= pl.col("_ends") - _SAME_S
    )
    by = ("track", "zone")
    last_part, last_to = pl.col("_part").shift(1).over(by), pl.col("_to").shift(1).over(by)
    joined = pl.col("_from") & last_to & (last_part + 1 >= pl.col("_part"))
    stays = stays.with_columns(joined=joined.fill_null(False))
    next_joined = pl.col("joined").shift(-1).over(by).fill_null(False)
    gaps = pl.when("_from").then("_before"), pl.when(pl.col("_to") & ~next_joined).then("_after")
    stays = stays.with_columns(
        gap_count=sum((g.is_not_null().cast(pl.Int64) for g in gaps), start=pl.lit(0, dtype=pl.Int64)),
        gap_s=sum((g.fill_null(0.0) for g in gaps), start=pl.lit(0.0)),
    )
    return _with_sure(stays, inner).select(
        *by, pl.int_range(1, pl.len() + 1, dtype=pl.Int64).over(by).alias("pass"), "first_s", "last_s", "inside_s",
        "sure_s", "sure_first_s", "sure_last_s", "is_sure", "gap_count", "gap_s", "joined",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Way:
    """Fixes with place and time, the moves between those that follow each other, and the places where one stood still.

    `fixes` has `track`, `run` (the unbroken run), `t`, `lost` (seconds of the gap or jump before) and `jump`; `moves` and `stands`
    have `track`, `run`, `t0` and `t1` for each of `lines` and `points`.
    """

    fixes: pl.DataFrame
    moves: pl.DataFrame
    lines: _Shapes
    stands: pl.DataFrame
    points: _Shapes


def _way(x_m: ArrayLike, y_m: ArrayLike, time_s: ArrayLike, track: ArrayLike, steps: pl.DataFrame) -> _Way:
    broken = (pl.col("gap") | pl.col("jump")).fill_null(True)
    every = pl.DataFrame(
        {"x": np.asarray(x_m, dtype=float), "y": np.asarray(y_m, dtype=float), "t": np.asarray(time_s, dtype=float),
         "track": np.asarray(track, dtype=np.int64)}
    ).hstack(
        steps.select(_broken=broken, lost=pl.when(broken).then("step_s"), jump=pl.col("jump").fill_null(False))
    )  # fmt: skip
    same = (pl.col("track") == pl.col("track").shift(1)).fill_null(False)
    rows = every.with_columns(run=(pl.col("_broken") | ~same).cast(pl.Int64).cum_sum())
    rows = rows.filter(pl.all_horizontal(pl.col("x", "y", "t").is_finite()))
    follows = (pl.col("run") == pl.col("run").shift(1)).fill_null(False)
    still = follows & (pl.col("x") == pl.col("x").shift(1)) & (pl.col("y") == pl.col("y").shift(1))
    rows = rows.with_columns(
        t0=pl.when(follows).then(pl.col("t").shift(1)).otherwise("t"), t1=pl.col("t"), x0=pl.col("x").shift(1),
        y0=pl.col("y").shift(1), _moves=follows & ~still, _stands=still | (pl.len().over("run") == 1),
    )  # fmt: skip
    moves, stands = rows.filter("_moves"), rows.filter("_stands")
    ends = moves.select("x0", "y0", "x", "y").to_numpy().reshape(-1, 2, 2)
    points = shapely.points(stands.select("x", "y").to_numpy())
    return _Way(rows, moves, shapely.linestrings(ends), stands, np.asarray(points, dtype=object))


def _runs(fixes: pl.DataFrame) -> pl.DataFrame:
    """Each run: when it begins and ends, what was lost before and after, whether it is stray, and its `_part` of the track.

    A run that was reached and left by a jump is stray: its positions are wrong rather than the others. It makes no part.
    """
    runs = fixes.group_by("track", "run", maintain_order=True).agg(
        _begins=pl.col("t").first(),
        _ends=pl.col("t").last(),
        _before=pl.col("lost").first(),
        _jump=pl.col("jump").first(),
    )
    after, left = (pl.col(name).shift(-1).over("track") for name in ("_before", "_jump"))
    runs = runs.with_columns(_after=after, _stray=pl.col("_jump") & left.fill_null(False))
    return runs.with_columns(_part=(~pl.col("_stray")).cast(pl.Int64).cum_sum()).drop("track")


def _stays(way: _Way, zones: _Shapes) -> pl.DataFrame:
    """Unbroken stays in zones: `track`, `zone`, `run`, `first_s`, `last_s`, `inside_s`, in the order of tracks and time."""
    tree = shapely.STRtree(way.lines)
    whole = np.stack(tree.query(zones, predicate="covers"), axis=1)
    met = np.stack(tree.query(zones, predicate="intersects"), axis=1)
    # Cutting a move at the edge of a zone takes long, and most of them lie wholly inside.
    code = met[:, 0] * len(way.lines) + met[:, 1]
    cut = met[~np.isin(code, whole[:, 0] * len(way.lines) + whole[:, 1])]
    shares = np.repeat([[0.0, 1.0]], len(whole), axis=0)
    parts, owner = shapely.get_parts(shapely.intersection(way.lines[cut[:, 1]], zones[cut[:, 0]]), return_index=True)
    parts, owner = parts[shapely.get_dimensions(parts) == 1], owner[shapely.get_dimensions(parts) == 1]
    ends = shapely.get_point(parts, 0), shapely.get_point(parts, -1)
    on = way.lines[cut[owner, 1]]
    parted = np.sort(np.stack([shapely.line_locate_point(on, p, normalized=True) for p in ends], axis=1), axis=1)
    at = np.stack(shapely.STRtree(way.points).query(zones, predicate="covers"), axis=1)
    found = [
        _spent(way.moves, np.concatenate([whole, cut[owner]]), np.concatenate([shares, parted])),
        _spent(way.stands, at, np.repeat([[0.0, 1.0]], len(at), axis=0)),
    ]
    by = ("track", "zone")
    rows = pl.concat(found).sort(*by, "first_s", "last_s", "run")
    before = pl.col("last_s").cum_max().shift(1).over(by)
    apart = (pl.col("run") != pl.col("run").shift(1).over(by)) | (pl.col("first_s") > before + _SAME_S)
    rows = rows.with_columns(_stay=apart.fill_null(True).cast(pl.Int64).cum_sum())
    stays = rows.group_by(*by, "_stay", maintain_order=True).agg(
        pl.col("run").first(), pl.col("first_s").min(), pl.col("last_s").max()
    )
    return stays.with_columns(inside_s=pl.col("last_s") - pl.col("first_s")).drop("_stay")


def _spent(rows: pl.DataFrame, pairs: NDArray[np.int64], shares: _Numbers) -> pl.DataFrame:
    """When each pair of zone and move began and ended, from the shares of the move."""
    part = rows.select("track", "run", "t0", "t1")[pairs[:, 1]]
    took = pl.col("t1") - pl.col("t0")
    return part.with_columns(
        zone=pl.Series(pairs[:, 0], dtype=pl.Int64), _a=pl.Series(shares[:, 0]), _b=pl.Series(shares[:, 1])
    ).select(
        "track", "zone", "run", first_s=pl.col("t0") + pl.col("_a") * took, last_s=pl.col("t0") + pl.col("_b") * took
    )


def _with_sure(stays: pl.DataFrame, inner: pl.DataFrame) -> pl.DataFrame:
    """The stays with the certain time inside each of them."""
    by = ["track", "zone"]
    stays = stays.with_row_index("_stay")
    middle = inner.with_columns(first_s=(pl.col("first_s") + pl.col("last_s")) / 2, _a="first_s", _b="last_s")
    held = middle.sort("first_s").join_asof(
        stays.sort("first_s").select(*by, "_stay", "first_s"), on="first_s", by=by, check_sortedness=False
    )
    sums = held.drop_nulls("_stay").group_by("_stay").agg(
        sure_s=pl.col("inside_s").sum(), sure_first_s=pl.col("_a").min(), sure_last_s=pl.col("_b").max()
    )  # fmt: skip
    found = stays.join(sums, on="_stay", how="left", maintain_order="left")
    return found.with_columns(
        is_sure=pl.col("sure_s").is_not_null() & ~pl.col("_stray"),
        # Rounding may draw the smaller ground a hair over the edge of the larger.
        sure_s=pl.min_horizontal(pl.col("sure_s").fill_null(0.0), "inside_s"),
    )


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
