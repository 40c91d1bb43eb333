"""Roads, trails and decks: spacing of drains, ruts, steep stretches, skidding, seed.

Distances are ft, grades percent without sign. `<name>__lo` and `<name>__hi` are the least and the greatest that the
blanks allow; a null end has no bound.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, Literal

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray

from auditor.measures.crossings import _at_points
from auditor.measures.streamside import failing_extent, strip_overlap_ft
from auditor.vocabulary.intervals import Interval, parse_interval

GradeRounding = Literal["nearest", "up", "exact"]
UPPER_END, LOWER_END = "upper_end", "lower_end"
"""What bounds the first and the last gap of a segment."""

_SEGMENT: Final = ["job", "segment"]
_NOISE: Final = 1e-9
_TOUCH_FT: Final = 1e-6
_COVERED_FT: Final = 0.01

_Numbers = NDArray[np.float64]


def drain_gaps(segments: pl.DataFrame, drains: pl.DataFrame, *, kinds: Sequence[str]) -> pl.DataFrame:
    """The stretches of each segment without a drain, from its upper end through all drains to its lower end, ft.

    Gives `job`, `segment`, `gap` (number from the upper end), `from_ft`, `to_ft`, `from_kind`, `to_kind` (a kind of
    drain, "upper_end" or "lower_end") and `gap_ft__lo`, `gap_ft__hi`; n drains make n + 1 gaps.

    Parameters: `segments` has `job`, `segment`, `length_ft` (ft), `drains_listed` (yes or no), one row a segment;
    `drains` has `job`, `segment`, `kind`, `along_ft` (ft from the upper end). Only drains of `kinds` count.

    Where the list of drains is not known to be whole, or a drain has no place, another may lie inside any gap: low is 0.
    The last gap is null where the length is blank; every gap of a segment with a drain beyond its end is null.

    Source: by definition; SC Forestry Commission BMP manual, forest roads, table 3 (distances between structures).
    """
    counted = drains.filter(pl.col("kind").cast(pl.String).is_in(list(kinds)))
    placeless = counted.filter(pl.col("along_ft").is_null()).select(*_SEGMENT).unique().with_columns(_placeless=True)
    points = counted.filter(pl.col("along_ft").is_not_null()).select(
        *_SEGMENT, pl.col("along_ft").cast(pl.Float64).alias("to_ft"), pl.col("kind").cast(pl.String).alias("to_kind")
    )
    whole = segments.select(*_SEGMENT, "drains_listed", pl.col("length_ft").cast(pl.Float64)).with_row_index("_order")
    ends = whole.select(*_SEGMENT, pl.col("length_ft").alias("to_ft"), pl.lit(LOWER_END).alias("to_kind"))
    rows = (
        pl.concat([points, ends])
        .join(whole, on=_SEGMENT, how="inner")
        .join(placeless, on=_SEGMENT, how="left")
        .with_columns(_last=pl.col("to_kind") == LOWER_END)
        .sort("_order", "_last", "to_ft", "to_kind")
    )
    beyond = (pl.col("to_ft") > pl.col("length_ft")).fill_null(False).any().over("_order")
    rows = rows.with_columns(
        gap=pl.int_range(1, pl.len() + 1).over("_order"),
        from_ft=pl.col("to_ft").shift(1, fill_value=0.0).over("_order"),
        from_kind=pl.col("to_kind").shift(1, fill_value=UPPER_END).over("_order"),
    )
    length = pl.when(~beyond).then(pl.col("to_ft") - pl.col("from_ft"))
    sure = pl.col("drains_listed").fill_null(False) & pl.col("_placeless").is_null()
    return rows.select(
        *_SEGMENT, "gap", "from_ft", "to_ft", "from_kind", "to_kind",
        pl.when(length.is_null()).then(None).when(sure).then(length).otherwise(0.0).alias("gap_ft__lo"),
        length.alias("gap_ft__hi"),
    )  # fmt: skip


def other_drains_inside(
    gaps: pl.DataFrame, segments: pl.DataFrame, drains: pl.DataFrame, *, kinds: Sequence[str]
) -> pl.DataFrame:
    """Drains of other kinds inside each stretch, a count: `other_drain_count__lo`, `other_drain_count__hi`, in row order.

    Parameters: `gaps` as `drain_gaps` gives them for `kinds`; `segments` and `drains` as there. A drain at the very end
    of a stretch does not lie inside it.

    Low counts those with a place inside; high is the same where the list of drains is whole and each of them has its
    place, else null. Both null where an end of the stretch is not known.

    Source: by definition; a drain of any kind turns water off.
    """
    others = drains.filter(~pl.col("kind").cast(pl.String).is_in(list(kinds)))
    places = others.drop_nulls("along_ft").select(*_SEGMENT, pl.col("along_ft").cast(pl.Float64).alias("_at"))
    open_ = others.filter(pl.col("along_ft").is_null()).select(*_SEGMENT).unique().with_columns(_open=True)
    rows = gaps.select(*_SEGMENT, "from_ft", "to_ft").with_row_index("_row")
    inside = rows.join(places, on=_SEGMENT).filter(
        (pl.col("_at") > pl.col("from_ft")) & (pl.col("_at") < pl.col("to_ft"))
    )
    counts = inside.group_by("_row").agg(pl.len().cast(pl.Int64).alias("_count"))
    listed = segments.select(*_SEGMENT, "drains_listed")
    for other, keys in ((counts, ["_row"]), (open_, _SEGMENT), (listed, _SEGMENT)):
        rows = rows.join(other, on=keys, how="left", maintain_order="left")
    count = pl.when(pl.col("to_ft") >= pl.col("from_ft")).then(pl.col("_count").fill_null(0))
    whole = pl.col("drains_listed").fill_null(False) & pl.col("_open").is_null()
    return rows.select(count.alias("other_drain_count__lo"), pl.when(whole).then(count).alias("other_drain_count__hi"))


def gap_uncertainty_ft(gaps: pl.DataFrame, drains: pl.DataFrame) -> pl.Series:
    """Plus or minus of the length of gaps, ft, in row order: that of the drain at either end, added.

    Parameters: `gaps` as `drain_gaps` gives them; `drains` has `job`, `segment`, `kind`, `along_ft` (ft) and
    `along_uncertainty_ft` (ft, 0 or more). An end of the segment adds nothing, nor does a blank; of like drains at one
    place the greatest counts.

    Source: arithmetic of bounds: the doubts of both ends may point the same way, so they add.
    """
    places = drains.group_by(
        *_SEGMENT, pl.col("kind").cast(pl.String).alias("_kind"), pl.col("along_ft").cast(pl.Float64).alias("_at")
    ).agg(pl.col("along_uncertainty_ft").cast(pl.Float64).max().alias("_doubt"))
    found = gaps.select(*_SEGMENT, "from_ft", "from_kind", "to_ft", "to_kind")
    for end in ("from", "to"):
        found = found.join(
            places.rename({"_doubt": f"_{end}"}), how="left", maintain_order="left",
            left_on=[*_SEGMENT, f"{end}_kind", f"{end}_ft"], right_on=[*_SEGMENT, "_kind", "_at"],
        )  # fmt: skip
    both = pl.col("_from").fill_null(0.0) + pl.col("_to").fill_null(0.0)
    return found.select(both.alias("gap_uncertainty_ft")).to_series()


def local_grade_pct(points: pl.DataFrame, pitches: pl.DataFrame) -> pl.Series:
    """Grade at points of segments, percent, in row order: of the pitch a point lies in, where two meet the steeper.

    Parameters: `points` has `job`, `segment`, `along_ft` (ft); `pitches` has `job`, `segment`, `from_ft`, `to_ft` (ft),
    `grade_pct` (percent without sign).

    Null where the point lies in no pitch, has no place, or a pitch it lies in has no grade.

    Source: by definition.
    """
    rows = points.select(*_SEGMENT, "along_ft").with_row_index("_row")
    grade = pl.col("grade_pct")
    found = (
        rows.join(pitches.select(*_SEGMENT, "from_ft", "to_ft", "grade_pct"), on=_SEGMENT, how="inner")
        .filter(pl.col("along_ft").is_between(pl.col("from_ft"), pl.col("to_ft")))
        .group_by("_row")
        .agg(pl.when(grade.null_count() == 0).then(grade.max()).alias("local_grade_pct"))
    )
    return rows.join(found, on="_row", how="left", maintain_order="left")["local_grade_pct"]


def stretch_grades(stretches: pl.DataFrame, pitches: pl.DataFrame) -> pl.DataFrame:
    """Grade of stretches of segments, percent: `mean_grade_pct`, `steepest_grade_pct__lo` and `__hi`, in row order.

    Parameters: `stretches` has `job`, `segment`, `from_ft`, `to_ft`; `pitches` has `job`, `segment`, `from_ft`,
    `to_ft`, `grade_pct` (ft and percent, not overlapping).

    The mean is weighted by length. Where the pitches do not cover the stretch, or one has no grade, the mean and the
    greatest grade are null and low is the steepest that is known there. A stretch without length has the grade of the
    pitch it lies in only through its neighbours: null.

    Source: arithmetic, the weighted mean.
    """
    rows = stretches.select(*_SEGMENT, "from_ft", "to_ft").with_row_index("_row")
    pairs = rows.join(pitches, on=_SEGMENT, how="inner", suffix="_pitch").with_columns(
        _length=strip_overlap_ft(pl.col("from_ft"), pl.col("to_ft"), pl.col("from_ft_pitch"), pl.col("to_ft_pitch"))
    )
    grade = pl.col("grade_pct")
    found = pairs.filter(pl.col("_length") > 0).group_by("_row").agg(
        pl.when(grade.null_count() == 0).then((grade * pl.col("_length")).sum() / pl.col("_length").sum()).alias("_mean"),
        grade.max().alias("_steepest"),
        grade.null_count().alias("_blank"),
        pl.col("_length").sum().alias("_covered"),
    )  # fmt: skip
    stretch = pl.col("to_ft") - pl.col("from_ft")
    covered = (stretch > 0) & ((stretch - pl.col("_covered")).abs() <= _COVERED_FT)
    return rows.join(found, on="_row", how="left", maintain_order="left").select(
        mean_grade_pct=pl.when(covered).then("_mean"),
        steepest_grade_pct__lo="_steepest",
        steepest_grade_pct__hi=pl.when(covered & (pl.col("_blank") == 0)).then("_steepest"),
    )


def cross_drain_spacing_ft(
    grade_pct: ArrayLike, *, over_grade_ft: float, plus_ft: float, grade_rounding: GradeRounding = "exact"
) -> _Numbers:
    """Greatest distance between drains by the formula over_grade_ft / S + plus_ft, ft; S is the grade in percent.

    Parameters: `grade_pct` more than 0, of any shape; `grade_rounding` makes a whole number of it first: "nearest"
    (a half goes up), "up" or "exact" (no rounding). Usual is 400 / S + 100, for dips and cross drains, not for water bars.

    NaN where the grade is NaN, not more than 0, or rounds to 0.

    Source: Texas A&M Forest Service, culverts, March 2013 (400 / S + 100, S a whole number), common practice.
    """
    grade = np.asarray(grade_pct, dtype=float)
    if grade_rounding == "nearest":
        grade = np.floor(grade + 0.5)
    elif grade_rounding == "up":
        grade = np.ceil(grade)
    elif grade_rounding != "exact":
        raise ValueError(f'grade_rounding is "{grade_rounding}"; it must be "nearest", "up" or "exact"')
    usable = grade > 0
    return np.where(usable, over_grade_ft / np.where(usable, grade, 1.0) + plus_ft, np.nan)


def spacing_limit_ft(grade_pct: pl.Series, spacing: Mapping[str, Any]) -> pl.DataFrame:
    """Greatest distance between drains that a table or formula allows, ft: `spacing_limit_ft__lo`, `__hi`, a row each.

    Parameters: `grade_pct` in percent, 0 or more. `spacing` has exactly one of
    - `points`: grade -> ft, with `between` beside it ("lower", "higher" or "interpolate", which point's value holds);
    - `classes`: a list of {grade_pct: interval such as "[2, 5]", spacing_ft: ft, or [least, most] where a range is
      printed}. In an overlap every class stays possible; in a gap between two classes both neighbours do;
    - `formula`: the parameters of `cross_drain_spacing_ft`.

    Null where the grade is null or lies outside the points or classes. Raises ValueError for another shape.

    Source: common practice, such as SC Forestry Commission BMP manual, table 3 (points), and the classes of Texas and
    North Carolina; the table is a parameter.
    """
    given = [shape for shape in ("points", "classes", "formula") if shape in spacing]
    if len(given) != 1:
        raise ValueError(f"exactly one of points, classes and formula is needed, found {', '.join(given) or 'none'}")
    grade = grade_pct.cast(pl.Float64).fill_null(np.nan).to_numpy()
    if given == ["classes"]:
        low, high = _by_classes(grade, spacing["classes"])
    elif given == ["points"]:
        low = high = _at_points(grade, spacing["points"], spacing["between"])
    else:
        low = high = cross_drain_spacing_ft(grade, **spacing["formula"])
    return pl.DataFrame({"spacing_limit_ft__lo": low, "spacing_limit_ft__hi": high}).fill_nan(None)


def missing_drains(gaps: pl.DataFrame) -> pl.DataFrame:
    """How many drains a gap lacks, a count: `missing_drain_count__lo`, `__hi`, in row order.

    A gap of length g with greatest spacing s needs ceil(g / s) - 1 drains.

    Parameters: `gaps` has `gap_ft__lo`, `gap_ft__hi`, `spacing_limit_ft__lo`, `spacing_limit_ft__hi` (ft, the limits
    more than 0). Low takes the least gap with the greatest spacing, high the greatest gap with the least spacing; null
    where one of the two is.

    Source: arithmetic.
    """

    def count(gap: str, limit: str) -> pl.Expr:
        steps = (pl.col(gap) / pl.col(limit) - _NOISE).ceil().cast(pl.Int64) - 1
        return pl.when(pl.col(limit) > 0).then(pl.when(steps > 0).then(steps).when(steps <= 0).then(0))

    return gaps.select(
        count("gap_ft__lo", "spacing_limit_ft__hi").alias("missing_drain_count__lo"),
        count("gap_ft__hi", "spacing_limit_ft__lo").alias("missing_drain_count__hi"),
    )


def drain_places(gaps: pl.DataFrame, count: str) -> pl.DataFrame:
    """Where to put the drains that gaps lack, evenly spread: `job`, `segment`, `gap`, `place`, `along_ft` (ft).

    Parameters: `gaps` has `job`, `segment`, `gap`, `from_ft`, `to_ft` and the column `count` (how many, 0 or more).
    Gaps with a blank, or that lack none, have no row.

    Source: arithmetic: n drains cut a gap into n + 1 equal parts.
    """
    n = pl.col(count)
    placed = gaps.filter((n > 0) & pl.col("from_ft").is_not_null() & pl.col("to_ft").is_not_null())
    placed = placed.with_columns(place=pl.int_ranges(1, n + 1)).explode("place")
    part = (pl.col("to_ft") - pl.col("from_ft")) / (n + 1)
    return placed.select(*_SEGMENT, "gap", "place", along_ft=pl.col("from_ft") + pl.col("place") * part)


def rut_extent(ruts: pl.DataFrame, segments: pl.DataFrame, *, over_depth_in: float) -> pl.DataFrame:
    """Ruts deeper on average than a depth, by segment: lengths in ft and share in percent, one row a segment.

    Gives `job`, `segment` and, each as `__lo` and `__hi`, `rutted_length_ft`, `rutted_share_pct` (of the segment's
    length) and `longest_rut_ft`; ruts that touch or overlap are one.

    Parameters: `ruts` has `job`, `segment`, `along_ft`, `length_ft` (ft), `mean_depth_in` (in); those off any segment
    are left out. `segments` has `job`, `segment`, `length_ft` (ft), `ruts_listed` (yes or no). `over_depth_in`: a rut of
    exactly this depth does not count.

    Blanks: a rut without depth counts in high only; one without place can touch any other; one without length has no
    upper end. Where the list is not known to be whole, high is the whole segment.

    Source: by definition; Texas Forest Service, January 2003 (deeper than 6 in over more than 50 ft), common practice.
    """
    rows = segments.select(*_SEGMENT, "ruts_listed", pl.col("length_ft").cast(pl.Float64).alias("_whole"))
    deep = (pl.col("mean_depth_in") > over_depth_in).alias("_deep")
    here = ruts.filter(pl.col("segment").is_not_null()).select(*_SEGMENT, "along_ft", "length_ft", deep)
    for side, may in (("low", False), ("high", True)):
        found = _union(here.filter(pl.col("_deep").fill_null(may)))
        found = found.rename({c: f"{c}_{side}" for c in found.columns if c not in _SEGMENT})
        rows = rows.join(found, on=_SEGMENT, how="left", maintain_order="left")
    listed = pl.col("ruts_listed").fill_null(False)

    def zero(name: str) -> pl.Expr:
        return pl.col(name).fill_null(0.0)

    def most(own: str) -> pl.Expr:
        bound = pl.when(listed & ~pl.col("_open_high").fill_null(False)).then(zero(f"{own}_high") + zero("_loose_high"))
        return pl.when(bound.is_null() | (bound > pl.col("_whole"))).then(pl.col("_whole")).otherwise(bound)

    def least(own: str) -> pl.Expr:
        joined, widest = zero(f"{own}_low"), zero("_widest_low")
        return pl.when(joined >= widest).then(joined).otherwise(widest)

    share = 100 / pl.when(pl.col("_whole") > 0).then(pl.col("_whole"))
    return rows.select(
        *_SEGMENT,
        least("_total").alias("rutted_length_ft__lo"), most("_total").alias("rutted_length_ft__hi"),
        (least("_total") * share).alias("rutted_share_pct__lo"), (most("_total") * share).alias("rutted_share_pct__hi"),
        least("_longest").alias("longest_rut_ft__lo"), most("_longest").alias("longest_rut_ft__hi"),
    )  # fmt: skip


def steep_extent(
    segments: pl.DataFrame, pitches: pl.DataFrame, *, over_pct: float, at_it_too: bool = False
) -> pl.DataFrame:
    """How much of each segment is steeper than a grade: lengths in ft and share in percent, one row a segment.

    Gives `job`, `segment` and, each as `__lo` and `__hi`, `steep_length_ft`, `steep_share_pct`, `longest_steep_ft`.

    Parameters: `segments` has `job`, `segment`, `length_ft` (ft), `steepest_grade_pct` (percent); `pitches` has `job`,
    `segment`, `from_ft`, `to_ft`, `grade_pct`. With `at_it_too` a pitch of exactly `over_pct` is steep.

    What no pitch covers is open, unless the steepest grade of the segment says that none of it is steep. All null
    where the length is blank or pitches overlap.

    Source: by definition; Maryland's standard erosion and sediment control plan, section I (20 percent for less than
    200 ft), Reg. practice.
    """

    def steep(grade: pl.Expr) -> pl.Expr:
        return grade >= over_pct if at_it_too else grade > over_pct

    none_steep = pl.when(~steep(pl.col("steepest_grade_pct"))).then(False)
    rows = segments.select(*_SEGMENT, pl.col("length_ft").cast(pl.Float64), none_steep.alias("_rest"))
    known = pitches.select(
        *_SEGMENT, pl.col("from_ft", "to_ft").cast(pl.Float64), steep(pl.col("grade_pct")).alias("fails")
    )
    known = known.join(rows, on=_SEGMENT, how="inner")
    before = pl.col("to_ft").shift(1, fill_value=0.0).over(_SEGMENT)
    ordered = known.sort(*_SEGMENT, "from_ft", maintain_order=True, nulls_last=True)
    holes = ordered.select(
        *_SEGMENT, before.alias("from_ft"), pl.col("from_ft").alias("to_ft"), pl.col("_rest").alias("fails")
    )
    last = known.group_by(_SEGMENT).agg(pl.col("to_ft").max().alias("_end"))
    tails = rows.join(last, on=_SEGMENT, how="left", maintain_order="left").select(
        *_SEGMENT, pl.col("_end").fill_null(0.0).alias("from_ft"), pl.col("length_ft").alias("to_ft"), pl.col("_rest").alias("fails"),
    )  # fmt: skip
    fillers = pl.concat([holes, tails]).filter((pl.col("to_ft") - pl.col("from_ft") > _TOUCH_FT).fill_null(True))
    pieces = pl.concat([known.select(*_SEGMENT, "from_ft", "to_ft", "fails"), fillers])
    found = failing_extent(pieces, _SEGMENT)
    renamed = {
        "failing_length_ft": "steep_length_ft",
        "failing_share_pct": "steep_share_pct",
        "longest_failing_ft": "longest_steep_ft",
    }
    return rows.select(*_SEGMENT).join(
        found.select(
            *_SEGMENT, *(pl.col(f"{old}__{e}").alias(f"{new}__{e}") for old, new in renamed.items() for e in ("lo", "hi"))
        ),
        on=_SEGMENT, how="left", maintain_order="left",
    )  # fmt: skip


def beyond_zone_ft(distance_from_bank_ft: pl.Expr, zone_width_ft: pl.Expr) -> pl.Expr:
    """How far a deck or tank lies outside a zone of a given width, ft; negative inside it.

    Parameters: both ft, measured alike from the same start. With the width that the practice asks for it is the distance
    from the edge of the least zone, whatever wider zone was left. Null where either is null.

    Source: Texas Forest Service, June 2002 (the landing distance may be counted from the edge of the least zone),
    common practice.
    """
    return distance_from_bank_ft - zone_width_ft


def skidding_distances(trails: pl.DataFrame) -> pl.DataFrame:
    """Longest and mean skidding distance of each deck along its trails, ft: one row a deck.

    Gives `job`, `deck`, `longest_skid_ft__lo` and `__hi` and `mean_skid_ft` (mean way of all points of the trails).

    Parameters: `trails` has `job`, `deck`, `from_deck_ft` (way from the deck to the nearer end) and `length_ft`, ft;
    those without a deck are left out. A blank leaves high and the mean null.

    Source: by definition: from_deck + length at the far end, from_deck + length / 2 on average.
    """
    near, length = pl.col("from_deck_ft"), pl.col("length_ft")
    far = near + length
    whole = far.null_count() == 0
    return trails.filter(pl.col("deck").is_not_null()).group_by("job", "deck", maintain_order=True).agg(
        far.max().alias("longest_skid_ft__lo"),
        pl.when(whole).then(far.max()).alias("longest_skid_ft__hi"),
        pl.when(whole).then(((near + length / 2) * length).sum() / length.sum()).alias("mean_skid_ft"),
    )  # fmt: skip


def pls_rate_lb_per_ac(bulk_rate: pl.Expr, purity_pct: pl.Expr, germination_pct: pl.Expr) -> pl.Expr:
    """Pure live seed sown, lb an acre, from the bulk rate (lb an acre), purity and germination (percent, 0 to 100).

    Null where one is null.

    Source: by definition, bulk x purity x germination; Kentucky FOR-69, BMP 2, states its rates so.
    """
    return bulk_rate * purity_pct / 100 * germination_pct / 100


def _by_classes(grade: _Numbers, classes: Sequence[Mapping[str, Any]]) -> tuple[_Numbers, _Numbers]:
    """Least and greatest spacing of the classes that hold a grade; in a gap, of its two neighbours."""
    spans: list[Interval] = [parse_interval(row["grade_pct"]) for row in classes]
    pairs = [
        row["spacing_ft"] if isinstance(row["spacing_ft"], Sequence) else [row["spacing_ft"]] * 2 for row in classes
    ]
    least, most = np.array([float(p[0]) for p in pairs]), np.array([float(p[1]) for p in pairs])
    at = grade[:, None]
    above = np.column_stack([grade >= s.low if s.takes_low else grade > s.low for s in spans])
    below = np.column_stack([grade <= s.high if s.takes_high else grade < s.high for s in spans])
    holds = above & below
    lows, highs = np.array([s.low for s in spans]), np.array([s.high for s in spans])
    none = ~holds.any(axis=1, keepdims=True)
    # Nearest class that ends below the grade, and nearest that begins above it; without both it is outside the table.
    under, over = above & ~below, below & ~above
    inside = under.any(axis=1, keepdims=True) & over.any(axis=1, keepdims=True)
    down = np.where(under, at - highs, np.inf)
    up = np.where(over, lows - at, np.inf)
    neighbour = (under & (down == down.min(axis=1, keepdims=True))) | (over & (up == up.min(axis=1, keepdims=True)))
    candidates = holds | (none & inside & neighbour)
    any_ = candidates.any(axis=1)
    low = np.where(candidates, least, np.inf).min(axis=1)
    high = np.where(candidates, most, -np.inf).max(axis=1)
    return np.where(any_, low, np.nan), np.where(any_, high, np.nan)


def _union(ruts: pl.DataFrame) -> pl.DataFrame:
    """By segment: length of the union of placed ruts, its longest run, and of the others their sum and the longest.

    `_open` marks a segment with a rut of unknown length.
    """
    end = pl.col("along_ft") + pl.col("length_ft")
    placed = ruts.filter(end.is_not_null()).with_columns(_end=end).sort(*_SEGMENT, "along_ft", "_end")
    reach = pl.col("_end").cum_max().shift(1).over(_SEGMENT)
    placed = placed.with_columns(_run=(pl.col("along_ft") > reach + _TOUCH_FT).fill_null(True).cum_sum())
    runs = placed.group_by(*_SEGMENT, "_run").agg((pl.col("_end").max() - pl.col("along_ft").min()).alias("_run_ft"))
    joined = runs.group_by(_SEGMENT).agg(
        pl.col("_run_ft").sum().alias("_total"), pl.col("_run_ft").max().alias("_longest")
    )
    loose = pl.when(end.is_null()).then(pl.col("length_ft"))
    others = ruts.group_by(_SEGMENT).agg(
        pl.col("length_ft").is_null().any().alias("_open"), loose.sum().alias("_loose"), loose.max().alias("_widest")
    )
    return others.join(joined, on=_SEGMENT, how="left").select(
        *_SEGMENT, "_total", "_longest", "_open", "_loose", "_widest"
    )
