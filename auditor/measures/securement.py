"""What holds the logs: working load limits, their sum, counts, positions and classes of logs.

Every figure of law is a parameter. Arguments of the vectorised functions may be scalars or columns (polars
Series, numpy arrays, lists) of one length; scalars are spread over the columns. Null in, null out, unless the
answer is the same whatever the blank holds. NaN counts as null.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias

import numpy as np
import polars as pl

from auditor.vocabulary import VIEWS

Values: TypeAlias = "pl.Series | np.ndarray[Any, Any] | Sequence[Any] | str | float | bool | None"

SIZE_ROUNDING_IN = 0.005
"""A size within this of a listed one is that size: 5/16 in is often written 0.31, 11 mm chain is listed as 7/16 in."""
THICKNESS_ROUNDING_IN = 0.0005
"""The same for the thickness of strapping, which is listed to a thousandth of an inch."""

WLL_BASES = pl.Enum(next(f.classes for f in VIEWS["tiedowns"].fields if f.name == "wll_basis"))
LOG_CLASSES = pl.Enum(next(f.classes for f in VIEWS["stacks"].fields if f.name == "log_length_class"))

_STACK = ("job", "load", "stack")
_PARTS = {
    "material": pl.String, "size_in": pl.Float64, "grade": pl.String, "thickness_in": pl.Float64,
    "marked_wll_lb": pl.Float64, "tensioner_wll_lb": pl.Float64, "anchor_wll_lb": pl.Float64,
}  # fmt: skip
_CELL = {
    "_material": pl.String,
    "_grade": pl.String,
    "_thickness": pl.Float64,
    "_size": pl.Float64,
    "_cell": pl.Float64,
}


def _columns(**asked: tuple[Values, Any]) -> tuple[pl.DataFrame, bool]:
    """The arguments as one frame, and whether all of them were scalars."""
    single = {n: not isinstance(v, pl.Series | np.ndarray | list | tuple) for n, (v, _) in asked.items()}
    lengths = {len(v) for n, (v, _) in asked.items() if not single[n]}  # type: ignore[arg-type]
    if len(lengths) > 1:
        raise ValueError(f"columns of different lengths: {sorted(lengths)}")
    rows = lengths.pop() if lengths else 1
    columns = []
    for name, (value, dtype) in asked.items():
        held: Any = [value] * rows if single[name] else value
        column = pl.Series(name, held, strict=False).cast(dtype)
        columns.append(column.fill_nan(None) if dtype == pl.Float64 else column)
    return pl.DataFrame(columns), all(single.values())


def _given(answer: pl.Series, scalar: bool) -> Any:
    return answer.item() if scalar else answer


# --- working load limit of one tiedown ---


def _cells(tables: Sequence[Mapping[str, Any]]) -> pl.DataFrame:
    """The tables of default limits as one row per cell."""
    cells = [
        (t["material"], t.get("grade"), t.get("thickness_in"), float(size), float(wll))
        for t in tables
        for size, wll in t["sizes"].items()
    ]
    return pl.DataFrame(cells, schema=_CELL, orient="row")


def _tabled(asked: pl.DataFrame, tables: Sequence[Mapping[str, Any]], unmarked: Mapping[str, Any]) -> pl.DataFrame:
    """For each distinct material, size, grade and thickness: the tabled limit and whether it rests on a default."""
    default = pl.DataFrame(
        [(m, (v or {}).get("grade"), True) for m, v in unmarked.items()],
        schema={"material": pl.String, "_default_grade": pl.String, "_has_default": pl.Boolean},
        orient="row",
    )
    size, thickness, c = pl.col("size_in"), pl.col("thickness_in"), pl.col
    asked = asked.unique(maintain_order=True).with_row_index("_ask").join(default, on="material", how="left")
    grade = pl.coalesce("grade", "_default_grade")
    fitting = asked.join(_cells(tables), left_on="material", right_on="_material").filter(
        c._grade.is_null() | (c._grade == grade), c._thickness.is_null() | thickness.is_not_null()
    )
    inside = fitting.filter(
        size <= c._size.max().over("_ask") + SIZE_ROUNDING_IN,
        c._thickness.is_null() | (thickness <= c._thickness.max().over("_ask") + THICKNESS_ROUNDING_IN),
        c._size <= size + SIZE_ROUNDING_IN,
        c._thickness.is_null() | (c._thickness <= thickness + THICKNESS_ROUNDING_IN),
    )
    best = inside.sort("_size", "_thickness", descending=True, nulls_last=True).unique("_ask", keep="first")
    by_default = c.grade.is_null() & c._has_default.is_not_null()
    return asked.join(best.select("_ask", "_cell"), on="_ask", how="left").select(
        "material", "size_in", "grade", "thickness_in", "_cell", _by_default=by_default
    )


def working_load_limits(
    lines: pl.DataFrame, *, tables: Sequence[Mapping[str, Any]], unmarked: Mapping[str, Any]
) -> pl.DataFrame:
    """Working load limit of the weakest part of each line of tiedowns, and where it comes from.

    `lines` has any of the columns `material`, `size_in` (in), `grade`, `thickness_in` (in), `marked_wll_lb`,
    `tensioner_wll_lb`, `anchor_wll_lb` (lb); it comes back, rows in order, with

    - `wll_lb` (lb, Float64): the maker's mark where there is one, which governs over the table whether higher or
      lower; else the table's limit for material, grade and size; then the least of that and of the limits of the
      tensioner and of the anchors, each where given (a blank one is taken to be no weaker);
    - `wll_basis`: "marked"; "table"; or "default" where no grade is marked and `unmarked` names the material.

    `tables` holds one mapping per column of the printed tables: `material`, `grade` (left out where the table knows
    none), `thickness_in` (strapping only) and `sizes`, from the size in inches to the limit in lb. `unmarked` gives
    for a material whose grade is not marked the `grade` to assume, or nothing where the table has no grades.
    Other keys of both (source, verified, note) are not looked at.

    Valid range: sizes from the least to the largest listed. Between two listed sizes the next smaller one holds
    (this is our choice, on the cautious side, as the law lists sizes only); the same for thickness. Below the least
    and above the largest, and for an unknown material, grade, size or strapping thickness: null. A limit of zero or
    less is no limit: null.

    Source: 49 CFR 393.108(a)-(f) and its tables.
    """
    missing = [pl.lit(None, dtype=t).alias(n) for n, t in _PARTS.items() if n not in lines.columns]
    parts = lines.with_columns(missing).select(pl.col(n).cast(t) for n, t in _PARTS.items())
    parts = parts.with_columns(pl.col(pl.Float64).fill_nan(None))
    asked = ["material", "size_in", "grade", "thickness_in"]
    table = _tabled(parts.select(asked), tables, unmarked)
    parts = parts.join(table, on=asked, how="left", nulls_equal=True, maintain_order="left")
    marked, cell = pl.col("marked_wll_lb"), pl.col("_cell")
    limit: pl.Expr = pl.coalesce(marked, cell)
    for part in ("tensioner_wll_lb", "anchor_wll_lb"):
        limit = pl.when(limit.is_not_null() & (pl.col(part) < limit)).then(pl.col(part)).otherwise(limit)
    unmarked_basis = pl.when(pl.col("_by_default")).then(pl.lit("default")).otherwise(pl.lit("table"))
    basis = pl.when(marked.is_not_null()).then(pl.lit("marked")).otherwise(unmarked_basis)
    found = parts.select(wll_lb=pl.when(limit > 0).then(limit), wll_basis=basis.cast(WLL_BASES)).with_columns(
        wll_basis=pl.when(pl.col("wll_lb").is_not_null()).then("wll_basis")
    )
    return lines.with_columns(found.get_columns())


def working_load_limit_lb(
    material: Values,
    size_in: Values,
    grade: Values = None,
    thickness_in: Values = None,
    *,
    tables: Sequence[Mapping[str, Any]],
    unmarked: Mapping[str, Any],
    marked_wll_lb: Values = None,
    tensioner_wll_lb: Values = None,
    anchor_wll_lb: Values = None,
) -> Any:
    """Working load limit of the weakest part of a tiedown, in lb: a float or None, or a Series for columns.

    Arguments, valid ranges, nulls and source (49 CFR 393.108) as in `working_load_limits`, which also tells the basis.
    """
    values = (material, size_in, grade, thickness_in, marked_wll_lb, tensioner_wll_lb, anchor_wll_lb)
    lines, scalar = _columns(**{n: (v, t) for (n, t), v in zip(_PARTS.items(), values, strict=True)})
    return _given(working_load_limits(lines, tables=tables, unmarked=unmarked)["wll_lb"], scalar)


# --- the tiedowns of a stack together ---


def _holds() -> pl.Expr:
    return pl.col("holds_stack")


def _lines(lines: pl.DataFrame) -> pl.DataFrame:
    return lines if "holds_stack" in lines.columns else lines.with_columns(holds_stack=pl.lit(True))


def _sum_or_null(name: str) -> pl.Expr:
    """The sum of a group; null as soon as one part is null."""
    return pl.when(pl.col(name).null_count() == 0).then(pl.col(name).sum()).alias(name)


def aggregate_wll_lb(
    lines: pl.DataFrame, *, routing_factors: Mapping[str, float], keys: Sequence[str] = _STACK
) -> pl.DataFrame:
    """Aggregate working load limit of the tiedowns of each stack, in lb, as an interval.

    `lines`: one row per line of like tiedowns with `keys`, `count`, `kind`, `wll_lb` (lb), `routing`, `defective`,
    and perhaps `holds_stack` (blank: it is not known whether the line holds this stack). Gives one row per group:
    `aggregate_wll_lb__lo`, `aggregate_wll_lb__hi`, the sum of count x limit x factor of its routing. Wrappers and
    defective tiedowns are kept out. `routing_factors` names every routing that occurs, else ValueError.

    Blanks: an unknown routing takes the least factor for lo and the greatest for hi; a line whose limit, count, kind
    or soundness is blank adds nothing to lo; a blank limit or count makes hi null (unknown) unless the line is
    surely kept out. Counts and limits are not negative.

    Source: 49 CFR 393.106(d)(1)-(3) (factors), 393.5 (aggregate working load limit).
    """
    unknown = set(lines["routing"].cast(pl.String).drop_nulls().unique()) - set(routing_factors)
    if unknown:
        raise ValueError(f"no factor for the routing {', '.join(sorted(unknown))}")
    count, wll, kind, defective = pl.col("count"), pl.col("wll_lb"), pl.col("kind").cast(pl.String), pl.col("defective")
    least, most = min(routing_factors.values(), default=0.0), max(routing_factors.values(), default=0.0)
    factor = (
        pl.col("routing").cast(pl.String).replace_strict(dict(routing_factors), default=None, return_dtype=pl.Float64)
    )
    counts = (kind == "tiedown") & defective.not_() & _holds() & (count * wll).is_not_null()
    kept_out = (kind == "wrapper") | defective | _holds().not_() | (count == 0)
    low = pl.when(counts).then(count * wll * factor.fill_null(least)).otherwise(0.0)
    high = pl.when(kept_out).then(0.0).otherwise(count * wll * factor.fill_null(most))
    parts = _lines(lines).with_columns(aggregate_wll_lb__lo=low, aggregate_wll_lb__hi=high)
    return parts.group_by(keys, maintain_order=True).agg(
        pl.col("aggregate_wll_lb__lo").sum(), _sum_or_null("aggregate_wll_lb__hi")
    )


def tiedown_counts(lines: pl.DataFrame, *, keys: Sequence[str] = _STACK) -> pl.DataFrame:
    """Number of tiedowns fastened to the vehicle and of wrappers, per group: `tiedown_count`, `wrapper_count`.

    `lines` as in `aggregate_wll_lb` (`count`, `kind`, perhaps `holds_stack`); defective ones count, their soundness
    is judged by itself. Null where a blank count, kind or hold could change the number; no lines, no row.

    Source: the counts of 49 CFR 393.116(d)-(f) and 393.110.
    """
    count, kind = pl.col("count").cast(pl.Int64), pl.col("kind").cast(pl.String)
    out = {
        f"{word}_count": pl.when((kind != word) | _holds().not_() | (count == 0))
        .then(pl.lit(0, dtype=pl.Int64))
        .when((kind == word) & _holds())
        .then(count)
        for word in ("tiedown", "wrapper")
    }
    return _lines(lines).with_columns(**out).group_by(keys, maintain_order=True).agg(_sum_or_null(n) for n in out)


def _candidates(lines: pl.DataFrame, word: str) -> pl.DataFrame:
    """Lines that are, or could be, of the kind; `_sure` where they are at least one piece of it on this stack."""
    count, kind = pl.col("count"), pl.col("kind").cast(pl.String)
    never = (kind != word) | _holds().not_() | (count == 0)
    sure = (kind == word) & _holds() & (count > 0)
    return _lines(lines).filter(never.fill_null(False).not_()).with_columns(_sure=sure.fill_null(False))


def _each_placed() -> pl.Expr:
    """Every candidate of the group is surely one piece with a known position."""
    placed = pl.col("_sure") & (pl.col("count") == 1) & pl.col("position_ft").is_not_null()
    return placed.fill_null(False).min()


def weakest_tiedown_wll_lb(lines: pl.DataFrame, *, keys: Sequence[str] = _STACK) -> pl.DataFrame:
    """Working load limit of the weakest tiedown of each group, in lb: `weakest_tiedown_wll_lb`.

    `lines` as in `aggregate_wll_lb`; wrappers are left out. Null where a blank limit, kind, count or hold leaves the
    least one open; a group of wrappers alone has no row.

    Source: 49 CFR 393.108(a) (the weakest part); minimum limits of a single tiedown are practice, not this section.
    """
    c = pl.col
    sure = c("_sure_wll").min()
    least = pl.when(c("wll_lb").null_count() == 0).then(c("wll_lb").min())
    answer = pl.when(least == sure).then(sure).alias("weakest_tiedown_wll_lb")
    candidates = _candidates(lines, "tiedown").with_columns(_sure_wll=pl.when("_sure").then("wll_lb"))
    return candidates.group_by(keys, maintain_order=True).agg(answer)


def wrapper_spacing_ft(lines: pl.DataFrame, *, keys: Sequence[str] = _STACK) -> pl.DataFrame:
    """Distance from the front to the rear wrapper of each group, in ft: `wrapper_spacing_ft`.

    `lines` with `keys`, `count`, `kind`, `position_ft` (ft behind the front of the stack), perhaps `holds_stack`.
    Null for fewer than two wrappers, and where a line that is or may be a wrapper has no position, or stands for
    several pieces: their places are then not known.

    Source: 49 CFR 393.116(f)(2).
    """
    position = pl.col("position_ft")
    spacing = pl.when(_each_placed() & (pl.len() >= 2)).then(position.max() - position.min())
    lined = _candidates(lines, "wrapper").group_by(keys, maintain_order=True)
    return lined.agg(spacing.alias("wrapper_spacing_ft"))


def tiedown_position_gap_share(
    lines: pl.DataFrame, *, targets: Sequence[float], length: str = "longest_log_ft", keys: Sequence[str] = _STACK
) -> pl.DataFrame:
    """Largest distance of the tiedowns from their target places, as a share of the length.

    `lines` with `keys`, `count`, `kind`, `position_ft` (ft) and the column named by `length` (ft, the same for a
    group, above zero). `targets` are shares of that length, such as one third and two thirds; the front tiedown
    belongs to the least. Gives `tiedown_position_gap_share` per group. Null unless the group has exactly as many
    tiedowns as there are targets, each in a line of its own with a position, and a length above zero.

    Source: 49 CFR 393.116(d)(3) (approximately one third and two thirds).
    """
    held = _candidates(lines, "tiedown").with_columns(
        _rank=pl.col("position_ft").rank("ordinal").over(keys).cast(pl.Int64)
    )
    places = pl.DataFrame({"_rank": range(1, len(targets) + 1), "_target": [float(t) for t in sorted(targets)]})
    held = held.join(places.cast({"_rank": pl.Int64}), on="_rank", how="left", maintain_order="left")
    share = pl.col("position_ft") / pl.when(pl.col(length) > 0).then(pl.col(length))
    held = held.with_columns(_gap=(share - pl.col("_target")).abs())
    settled = _each_placed() & (pl.len() == len(targets)) & (pl.col("_gap").null_count() == 0)
    answer = pl.when(settled).then(pl.col("_gap").max()).alias("tiedown_position_gap_share")
    return held.group_by(keys, maintain_order=True).agg(answer)


# --- stacks and single articles ---


def stack_weight_lb(stacks: pl.DataFrame) -> pl.DataFrame:
    """Weight of each stack, in lb, as an interval: the columns `stack_weight_lb__lo` and `stack_weight_lb__hi`.

    `stacks` with `weight_lb`, `stack_count` (stacks on the load), `net_weight_lb`, `gross_weight_lb` and
    `tare_weight_lb` (lb), one row per stack; rows stay in order. The weight given; else, for the only stack of a
    load, the net weight of the load (as printed, else gross less tare); else between nothing and the net weight.
    Null where neither is known, and for a weight of zero or less.

    Source: own definition, from the weight of the stack that 49 CFR 393.116(b)(4) speaks of.
    """
    c = pl.col
    net = pl.coalesce("net_weight_lb", c("gross_weight_lb").cast(pl.Float64) - c("tare_weight_lb")).cast(pl.Float64)
    net = pl.when(net > 0).then(net)
    given = c("weight_lb").cast(pl.Float64)
    only = pl.when(c("stack_count") == 1).then(net).when(net.is_not_null()).then(0.0)
    high = pl.coalesce(given, net)
    low = pl.coalesce(given, only)
    return stacks.select(
        stack_weight_lb__lo=pl.when(high > 0).then(low), stack_weight_lb__hi=pl.when(high > 0).then(high)
    )


def tiedowns_required_count(
    article_length_ft: Values,
    article_weight_lb: Values,
    blocked_front: Values,
    *,
    short_ft: float,
    light_lb: float,
    each_ft: float,
) -> Any:
    """Tiedowns that the general rule asks for on one article: an int or None, or a Series (Int64) for columns.

    `article_length_ft` in ft, above zero; `article_weight_lb` in lb, above zero; `blocked_front`: a headerboard,
    bulkhead or other secured cargo stops it in front. Blocked: one for every `each_ft` of length or part of it. Not
    blocked: one up to `short_ft` and `light_lb`, both included; two when heavier or up to `each_ft`; beyond that two
    and one more for every further `each_ft` or part of it.

    Null where a blank, or a length or weight out of range, leaves the count open; a blank weight does not matter
    for a long or a blocked article.

    Source: 49 CFR 393.110(b)-(c).
    """
    rows, scalar = _columns(
        length=(article_length_ft, pl.Float64),
        weight=(article_weight_lb, pl.Float64),
        blocked=(blocked_front, pl.Boolean),
    )
    length = pl.when((pl.col("length") > 0) & pl.col("length").is_finite()).then(pl.col("length"))
    weight = pl.when(pl.col("weight") > 0).then(pl.col("weight"))
    loose = (
        pl.when((length > short_ft) & (length <= each_ft))
        .then(2.0)
        .when(length > each_ft)
        .then(2 + ((length - each_ft) / each_ft).ceil())
        .when((length <= short_ft) & (weight > light_lb))
        .then(2.0)
        .when((length <= short_ft) & (weight <= light_lb))
        .then(1.0)
    )
    held = (length / each_ft).ceil()
    blocked = pl.col("blocked")
    answer = pl.when(blocked).then(held).when(blocked.not_()).then(loose).when(loose == held).then(held)
    return _given(rows.select(answer.cast(pl.Int64).alias("tiedowns_required_count")).to_series(), scalar)


def log_length_class(
    shortest_log_ft: Values, longest_log_ft: Values, shortwood_embedded: Values, *, shortwood_up_to_ft: float
) -> Any:
    """Whether a stack follows the rules of shortwood or of longwood: a word or None, or a Series (Enum) for columns.

    Lengths in ft, above zero, the shortest not above the longest. A log of `shortwood_up_to_ft` or
    less is shortwood. A stack that holds any shortwood is "shortwood", unless `shortwood_embedded`: the short
    logs lie embedded in a longwood load; that needs at least one long log. Null where blanks leave it open, and for
    lengths out of range.

    Source: 49 CFR 393.5 (shortwood, longwood); North American Cargo Securement Standard, driver's handbook, logs
    (mixed stacks).
    """
    rows, scalar = _columns(
        short=(shortest_log_ft, pl.Float64), long=(longest_log_ft, pl.Float64), within=(shortwood_embedded, pl.Boolean)
    )
    short, long, within = pl.col("short"), pl.col("long"), pl.col("within")
    wrong = (short <= 0) | (long <= 0) | (short > long)
    answer = (
        pl.when(wrong)
        .then(None)
        .when(long <= shortwood_up_to_ft)
        .then(pl.lit("shortwood"))
        .when(short > shortwood_up_to_ft)
        .then(pl.lit("longwood"))
        .when((long > shortwood_up_to_ft) & within)
        .then(pl.lit("longwood"))
        .when((short <= shortwood_up_to_ft) & within.not_())
        .then(pl.lit("shortwood"))
    )
    return _given(rows.select(answer.cast(LOG_CLASSES).alias("log_length_class")).to_series(), scalar)
