"""Zones along the water: widths, what stretch a station stands for, how much of a bank falls short, what was left.

Distances are ft, slopes percent (rise over run, 45 degrees is 100). Where a blank leaves an answer open it comes as two
columns, `<name>__lo` and `<name>__hi`: the least and the greatest that the blanks allow; a null end has no bound.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal

import numpy as np
import polars as pl
from numpy.typing import NDArray

from auditor.measures.student import student_quantile

Along = Literal["horizontal", "ground"]
_OUTWARD: Final = {
    "low_water_mark": 0,
    "edge_of_water": 1,
    "edge_of_channel": 2,
    "mean_high_water": 2,
    "bank": 3,
    "top_of_bank": 4,
}
"""The places a width may start from, from the water outward; the two of equal rank are not told apart."""
_AS_REQUIRED: Final = "bank_as_required"
_EDGES: Final = ("edge_of_channel", "mean_high_water", "bank", "top_of_bank")
"""What `bank_as_required` may mean; for a law that starts in the water it is a bank."""
_TREE: Final = math.pi / 576
"""Square feet of a stem's cross-section for a diameter of 1 in: pi / (4 x 144)."""
_SQFT_PER_ACRE: Final = 43_560.0
_BANK: Final = ("job", "bank")
_TOUCH_FT: Final = 1e-6
_DECIMALS: Final = 6

_Numbers = NDArray[np.float64]


def slope_pct(rise_ft: pl.Expr, run_ft: pl.Expr) -> pl.Expr:
    """Slope in percent from rise and level run, both ft, without sign.

    Null where either is null or the run is not more than 0.

    Source: by definition, 100 x rise / run; SC Forestry Commission BMP manual (average percent slope perpendicular
    to the stream).
    """
    return pl.when(run_ft > 0).then(100 * (rise_ft / run_ft).abs())


def horizontal_width_ft(ground_ft: pl.Expr, slope_pct: pl.Expr) -> pl.Expr:
    """Level width in ft of a width taped along the ground (ft) on a slope (percent, 0 or more).

    Null where either is null.

    Source: arithmetic, the right triangle: ground / sqrt(1 + (slope / 100)^2).
    """
    return ground_ft / _steepness(slope_pct)


def ground_width_ft(horizontal_ft: pl.Expr, slope_pct: pl.Expr) -> pl.Expr:
    """Width along the ground in ft of a level width (ft) on a slope (percent, 0 or more).

    Null where either is null.

    Source: arithmetic, the right triangle: level x sqrt(1 + (slope / 100)^2).
    """
    return horizontal_ft * _steepness(slope_pct)


def defined_width_ft(
    rows: pl.DataFrame, width: str, *, along: Along, start: str, at_least: str | None = None
) -> pl.DataFrame:
    """A width or distance from the water, in ft, as a law defines it: `<width>__lo` and `<width>__hi`, a row each.

    Parameters: `rows` has the column `width` (ft, 0 or more), `slope_pct` (percent), `measured_along` ("horizontal" or
    "ground") and `measured_from`; `low_water_to_bank_ft` (ft, level) is used where there is such a column. `along` and
    `start` say how the law measures; places to start from, outward: low_water_mark, edge_of_water, edge_of_channel and
    mean_high_water, bank, top_of_bank. `at_least` names a yes-or-no column: where it is true the reading stopped before
    the edge and there is no upper bound; blank or false, the reading is the width.

    Blanks: no slope: the ground is never shorter than the level width, so one end stays. No `measured_along`: between
    both readings. Measured from farther out than the law's start: the width is at least the reading; from farther in:
    at most; a level offset from low water to bank makes it exact between these two. `measured_from` blank, or the two
    starts of equal rank: both null. `measured_from` may also be bank_as_required: the edge of the bank that the law means,
    so that the reading is the width; for a law that starts in the water, a bank. Raises ValueError for an unknown `along` or `start`.

    Source: arithmetic, the right triangle; O.C.G.A. trout addendum and 4 TAC 215.13(2) measure level from the bank,
    Kentucky's FOR-69 along the ground, La. R.S. 56:1854 (Stat.) from low water.
    """
    if start not in _OUTWARD:
        raise ValueError(f'"{start}" is no place to measure from; known are {", ".join(_OUTWARD)}')
    low, high = _converted(pl.col(width).cast(pl.Float64), along)
    place = pl.col("measured_from").cast(pl.String)
    rank = place.replace_strict({**_OUTWARD, _AS_REQUIRED: _OUTWARD["bank"]}, default=None, return_dtype=pl.Int64)
    offset = _offset(rows, place, start)
    moved = offset.is_not_null() & (along == "horizontal")
    same = (place == start) | ((place == _AS_REQUIRED) & (start in _EDGES))
    farther, nearer = rank > _OUTWARD[start], rank < _OUTWARD[start]
    open_above = pl.col(at_least).fill_null(False) if at_least else pl.lit(False)
    return rows.select(
        pl.when(same).then(low).when(moved).then(_floor(low + offset)).when(farther).then(low).alias(f"{width}__lo"),
        pl.when(open_above)
        .then(None)
        .when(same)
        .then(high)
        .when(moved)
        .then(_floor(high + offset))
        .when(nearer)
        .then(high)
        .alias(f"{width}__hi"),
    )


def width_deficit_ft(width_ft: pl.Expr, required_ft: pl.Expr) -> pl.Expr:
    """How much a width falls short of the required one, both ft; 0 where it does not.

    Null where either is null.

    Source: by definition, required less width.
    """
    return pl.when(width_ft >= required_ft).then(0.0).when(width_ft < required_ft).then(required_ft - width_ft)


def station_lengths_ft(stations: pl.DataFrame, banks: pl.DataFrame) -> pl.DataFrame:
    """What stretch of its bank each station stands for: `from_ft`, `to_ft`, `station_length_ft`, ft, in row order.

    A station stands for the stretch that its record says, whole (both ends); else for the bank half way to its
    neighbours, the first from 0, the last to the end of the bank.

    Parameters: `stations` has `job`, `bank`, `along_ft`, `stretch_from_ft`, `stretch_to_ft` (ft from the upstream end, 0
    or more); `banks` has `job`, `bank`, `length_ft`, one row a bank.

    Null, unless the record says the stretch: the last station where the length of the bank is blank; every station of a
    bank where one has a blank `along_ft` or lies beyond the end.

    Source: common practice of line sampling; the stretches add up to the bank by definition.
    """
    keys = list(_BANK)
    rows = (
        stations.select(*keys, "along_ft", "stretch_from_ft", "stretch_to_ft")
        .with_row_index("_row")
        .join(banks.select(*keys, "length_ft"), on=keys, how="left", maintain_order="left")
        .sort(*keys, "along_ft", "_row", nulls_last=True)
    )
    at, end = pl.col("along_ft"), pl.col("length_ft")
    before, after = at.shift(1).over(keys), at.shift(-1).over(keys)
    broken = (at.is_null() | (at > end).fill_null(False)).any().over(keys)
    first, last = pl.int_range(pl.len()).over(keys) == 0, pl.int_range(pl.len()).reverse().over(keys) == 0
    told = pl.col("stretch_from_ft").is_not_null() & pl.col("stretch_to_ft").is_not_null()
    start = pl.when(~broken).then(pl.when(first).then(0.0).otherwise((before + at) / 2))
    stop = pl.when(~broken).then(pl.when(last).then(end).otherwise((at + after) / 2))
    rows = rows.with_columns(
        from_ft=pl.when(told).then("stretch_from_ft").otherwise(start),
        to_ft=pl.when(told).then("stretch_to_ft").otherwise(stop),
    )
    return rows.sort("_row").select("from_ft", "to_ft", station_length_ft=pl.col("to_ft") - pl.col("from_ft"))


def failing_extent(pieces: pl.DataFrame, by: Sequence[str], *, window_ft: float | None = None) -> pl.DataFrame:
    """How much of a bank or road fails, by group: shares in percent and lengths in ft, one row a group in their order.

    Gives `by`, `judged_length_ft` and, each as `__lo` and `__hi`, `failing_length_ft`, `failing_share_pct` (of the
    judged length), `longest_failing_ft` (one failing piece after another without a gap) and `worst_window_ft` (most
    failing length inside any stretch of `window_ft` ft; null without one).

    Parameters: `pieces` has the columns `by`, `from_ft`, `to_ft` (ft along the group, not overlapping) and `fails`
    (True, False, or null where it is open). Pieces to which the rule does not apply are left out by the caller.
    `window_ft` is more than 0.

    Low counts what certainly fails, high also what is open. All null where a piece of the group has a blank or
    reversed end, or two pieces overlap. Raises ValueError for a window that is not more than 0.

    Source: 15A NCAC 04B .0125(c) (Code: share of the length, and length in any 1,000 ft); arithmetic.
    """
    if window_ft is not None and not window_ft > 0:
        raise ValueError(f"a window is more than 0 ft, found {window_ft}")
    groups = pieces.select(by).unique(maintain_order=True).with_row_index("_group")
    rows = (
        pieces.select(*by, pl.col("from_ft", "to_ft").cast(pl.Float64), "fails")
        .join(groups, on=list(by), how="left", nulls_equal=True, maintain_order="left")
        .sort("_group", "from_ft", maintain_order=True)
    )
    overlaps = pl.col("from_ft") < pl.col("to_ft").shift(1).over("_group") - _TOUCH_FT
    wrong = pl.col("from_ft").is_null() | pl.col("to_ft").is_null() | (pl.col("to_ft") < pl.col("from_ft"))
    bad = rows.group_by("_group").agg((wrong | overlaps.fill_null(False)).any().alias("_bad"))
    good = rows.join(bad.filter(~pl.col("_bad")), on="_group", how="semi", maintain_order="left")
    total = good.group_by("_group").agg((pl.col("to_ft") - pl.col("from_ft")).sum().alias("judged_length_ft"))
    found = groups.join(total, on="_group", how="left", maintain_order="left")
    for end, fails in (("lo", pl.col("fails").fill_null(False)), ("hi", pl.col("fails").fill_null(True))):
        extent = _extent(good.with_columns(_fails=fails), window_ft)
        renamed = extent.rename({c: f"{c}__{end}" for c in extent.columns if c != "_group"})
        found = found.join(renamed, on="_group", how="left", maintain_order="left")
        share = 100 * pl.col(f"failing_length_ft__{end}") / pl.col("judged_length_ft")
        found = found.with_columns(
            pl.when(pl.col("judged_length_ft") > 0).then(share).alias(f"failing_share_pct__{end}")
        )
    names = ("failing_length_ft", "failing_share_pct", "longest_failing_ft", "worst_window_ft")
    return found.select(*by, "judged_length_ft", *(f"{n}__{e}" for n in names for e in ("lo", "hi")))


def weighted_mean(
    rows: pl.DataFrame, value: str, by: Sequence[str], *, least: float | None = None, most: float | None = None
) -> pl.DataFrame:
    """Mean of a value weighted by length, by group, in the value's own unit: `by`, `<value>__lo`, `<value>__hi`.

    Parameters: `rows` has the columns `by`, `value` (such as a share in percent) and `station_length_ft` (ft). `least`
    and `most` bound what a blank value may be (0 and 100 for a percent); None leaves that end null.

    Null where a length is blank or all lengths are 0.

    Source: arithmetic, the weighted mean.
    """
    length = pl.col("station_length_ft")
    whole = (length.null_count() == 0) & (length.sum() > 0)

    def mean(bound: float | None) -> pl.Expr:
        filled = pl.col(value).cast(pl.Float64).fill_null(bound) if bound is not None else pl.col(value)
        return pl.when(whole & (filled.null_count() == 0)).then((filled * length).sum() / length.sum())

    return rows.group_by(by, maintain_order=True).agg(
        mean(least).alias(f"{value}__lo"), mean(most).alias(f"{value}__hi")
    )


def strip_overlap_ft(from_a: pl.Expr, to_a: pl.Expr, from_b: pl.Expr, to_b: pl.Expr) -> pl.Expr:
    """Length in ft that two strips have in common; 0 where they do not overlap. Ends are ft, from at most to.

    Null where an end is null.

    Source: arithmetic, the lesser of the far ends less the greater of the near ends.
    """
    near = pl.when(from_a >= from_b).then(from_a).when(from_b > from_a).then(from_b)
    far = pl.when(to_a <= to_b).then(to_a).when(to_b < to_a).then(to_b)
    return pl.when(far >= near).then(far - near).when(far < near).then(0.0)


def strip_distance_ft(from_a: pl.Expr, to_a: pl.Expr, from_b: pl.Expr, to_b: pl.Expr) -> pl.Expr:
    """Distance in ft between two strips; 0 where they touch or overlap. Ends are ft, from at most to.

    Null where an end is null.

    Source: arithmetic, the greater of the near ends less the lesser of the far ends.
    """
    near = pl.when(from_a >= from_b).then(from_a).when(from_b > from_a).then(from_b)
    far = pl.when(to_a <= to_b).then(to_a).when(to_b < to_a).then(to_b)
    return pl.when(near >= far).then(near - far).when(near < far).then(0.0)


def inside_width_ft(places: pl.DataFrame, stations: pl.DataFrame) -> pl.DataFrame:
    """How far inside a zone as kept places lie, ft: `inside_zone_ft__lo` and `__hi`, in row order; negative outside.

    That is the width of the zone there less the distance of the place, both widened by their doubts.

    Parameters: `places` has `job`, `bank`, `along_ft` (ft along the bank; blank: anywhere along it), `length_ft` (ft, 0 or
    more; blank: a point), `distance_from_bank_ft__lo` and `__hi` (ft) and `distance_doubt_ft` (ft, 0 or more). `stations`
    has `job`, `bank`, `from_ft` and `to_ft` (the stretch a reading stands for, ft; blank: anywhere), `zone_width_ft__lo`
    and `__hi` (ft) and `width_doubt_ft` (ft, 0 or more). Widths and distances start alike.

    From the least to the greatest width of the stretches that the place touches. Null where none is read there; a blank
    bound or doubt of one of them leaves that end null, and both where it is the place's own doubt.

    Source: arithmetic; 02 NCAC 60C .0201(c) keeps roads, trails and decks outside the zone.
    """
    start = pl.col("along_ft").cast(pl.Float64)
    rows = places.select(
        "job", "bank", start.alias("_start"), (start + pl.col("length_ft").fill_null(0.0)).alias("_end"),
        "distance_from_bank_ft__lo", "distance_from_bank_ft__hi", "distance_doubt_ft",
    ).with_row_index("_row")  # fmt: skip
    doubt = pl.col("width_doubt_ft")
    widths = stations.select(
        "job", "bank", "from_ft", "to_ft",
        (pl.col("zone_width_ft__lo") - doubt).alias("_least"), (pl.col("zone_width_ft__hi") + doubt).alias("_most"),
    )  # fmt: skip
    touches = (pl.col("from_ft") <= pl.col("_end")) & (pl.col("to_ft") >= pl.col("_start"))
    met = rows.join(widths, on=["job", "bank"]).filter(touches.fill_null(True))
    least, most = pl.col("_least"), pl.col("_most")
    there = met.group_by("_row").agg(
        pl.when(least.null_count() == 0).then(least.min()).alias("_least"),
        pl.when(most.null_count() == 0).then(most.max()).alias("_most"),
    )
    rows = rows.join(there, on="_row", how="left", maintain_order="left")
    own = pl.col("distance_doubt_ft")
    return rows.select(
        (pl.col("_least") - pl.col("distance_from_bank_ft__hi") - own).alias("inside_zone_ft__lo"),
        (pl.col("_most") - pl.col("distance_from_bank_ft__lo") + own).alias("inside_zone_ft__hi"),
    )


def plot_density(plots: pl.DataFrame, tallies: pl.DataFrame, key: str = "plot") -> pl.DataFrame:
    """Basal area and trees an acre of each plot: `basal_area_ft2_per_ac`, `trees_per_ac`, in row order.

    Prism: basal area = factor x trees in; each tree stands for factor / (0.005454 d^2) trees an acre. Fixed plot:
    basal area = sum of 0.005454 d^2 / area; trees / area. 0.005454 is pi / 576 to four digits; the exact value is used.

    Parameters: `plots` has `job`, `key`, `kind` ("prism" or "fixed"), `baf_ft2_per_ac`, `plot_radius_ft` (ft),
    `plot_area_acres` (acres; stands before the radius), `tree_count`; `tallies` has `job`, `key`, `dbh_in` (in),
    `tree_count`, one row for like trees.

    What needs diameters is null unless the tallies of the plot have no blank and add up to `tree_count`; a plot with
    `tree_count` 0 needs none. Null too where factor, area or count is blank. `slope_corrected` is not applied.

    Source: Grosenbaugh 1952, point sampling, common practice in forest inventory; service forester's handbook, tables
    of basal area and plots an acre; by definition pi d^2 / (4 x 144).
    """
    count, dbh = pl.col("tree_count"), pl.col("dbh_in")
    section = _TREE * dbh**2
    blank = (count.null_count() > 0) | (pl.when(count != 0).then(dbh.is_null()).fill_null(False)).any()
    sums = tallies.filter(pl.col(key).is_not_null()).group_by("job", key).agg(
        pl.when(~blank).then(count.sum()).alias("_tallied"),
        (count * section).sum().alias("_sections"),
        (count / section).sum().alias("_per_factor"),
    )  # fmt: skip
    rows = plots.select(
        "job", key, pl.col("kind").cast(pl.String), "baf_ft2_per_ac", "plot_radius_ft", "plot_area_acres", "tree_count"
    )
    rows = rows.join(sums, on=["job", key], how="left", maintain_order="left")
    area = _plot_acres()
    whole = pl.col("_tallied") == count
    sections = pl.when(count == 0).then(0.0).when(whole).then(pl.col("_sections"))
    per_factor = pl.when(count == 0).then(0.0).when(whole).then(pl.col("_per_factor"))
    prism, fixed = pl.col("kind") == "prism", pl.col("kind") == "fixed"
    factor = pl.col("baf_ft2_per_ac")
    return rows.select(
        basal_area_ft2_per_ac=pl.when(prism).then(factor * count).when(fixed).then(sections / area),
        trees_per_ac=pl.when(prism).then(factor * per_factor).when(fixed).then(count / area),
    )


def plot_count_per_ac(plots: pl.DataFrame, count: str) -> pl.Series:
    """What was counted on each fixed plot, an acre, in row order: the column `count` over the plot's area.

    Parameters: `plots` has `kind` ("prism" or "fixed"), `plot_area_acres` (acres; stands before the radius),
    `plot_radius_ft` (ft) and `count` (a count, 0 or more).

    Null where area or count is blank, and on a prism plot: how much land one of its trees stands for goes with the
    diameter.

    Source: arithmetic, count / area.
    """
    fixed = pl.col("kind").cast(pl.String) == "fixed"
    return plots.select(pl.when(fixed).then(pl.col(count) / _plot_acres()).alias(count)).to_series()


def sample_mean(plots: pl.DataFrame, value: str, by: Sequence[str], *, confidence: float) -> pl.DataFrame:
    """Mean of a plot value with its standard error and confidence limits, by group, in the value's own unit.

    Gives `by`, `plot_count` (a count), `mean`, `standard_error` (s / sqrt(n)), `low` and `high` (mean -+ Student's t
    for n - 1 degrees of freedom x standard error; plots taken as a simple random sample of a large area).

    Parameters: `plots` has the columns `by` and `value`, such as basal area in ft2 an acre; `confidence` lies between
    0 and 1, ends excluded, and is two-sided. Raises ValueError outside.

    All but the count are null where a plot of the group has a blank value: what the other plots say is not the mean of
    the sample. Standard error and limits are null below two plots.

    Source: Student 1908, Biometrika 6, 1-25, doi:10.1093/biomet/6.1.1; mean and standard error by definition.
    """
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence lies between 0 and 1, found {confidence}")
    number = pl.col(value).cast(pl.Float64)
    found = plots.group_by(by, maintain_order=True).agg(
        pl.len().cast(pl.Int64).alias("plot_count"),
        pl.when(number.null_count() == 0).then(number.mean()).alias("mean"),
        pl.when((number.null_count() == 0) & (pl.len() > 1))
        .then(number.std() / pl.len().sqrt())
        .alias("standard_error"),
    )
    freedom = np.maximum(found["plot_count"].to_numpy().astype(float) - 1, 1.0)
    half = pl.Series("t", student_quantile((1 - confidence) / 2, freedom)) * found["standard_error"]
    return found.with_columns(low=found["mean"] - half, high=found["mean"] + half)


def trees_left_pct(before: pl.Expr, left: pl.Expr) -> pl.Expr:
    """Share in percent of the trees that stood before and are left; both whole numbers, 0 or more.

    Null where either is null, none stood before, or more are left than stood.

    Source: by definition, 100 x left / before.
    """
    return pl.when((before > 0) & (left <= before)).then(100 * left / before)


def canopy_cover_pct(filled: pl.Expr, read: pl.Expr) -> pl.Expr:
    """Crown cover in percent from densiometer squares or dots under crowns, of all that were read; whole numbers.

    Null where either is null, none was read, or more are filled than read.

    Source: southern pine silvopasture module 4, common practice: squares filled / 24 for one reading, or
    100 - 4.17 x empty squares.
    """
    return pl.when((read > 0) & (filled <= read)).then(100 * filled / read)


def signs_found(signs: pl.Series, listed: pl.Series, wanted: Sequence[str]) -> pl.DataFrame:
    """How many of the wanted field signs were seen, a count without unit: `sign_count__lo`, `sign_count__hi`, a row each.

    Parameters: `signs` are lists of words; `listed` says whether every sign was looked for. Low counts those seen. High
    is the same where the list is whole, else all that were wanted. A blank list that is whole holds none.

    Source: common practice, the field-sign tests of state handbooks (Texas: 5 or more for perennial streams).
    """
    frame = pl.DataFrame({"signs": signs, "whole": listed.cast(pl.Boolean)})
    seen = pl.col("signs").list.unique().list.set_intersection(list(wanted)).list.len().cast(pl.Int64).fill_null(0)
    return frame.select(
        sign_count__lo=seen, sign_count__hi=pl.when(pl.col("whole")).then(seen).otherwise(len(set(wanted)))
    )


def _plot_acres() -> pl.Expr:
    """Area of a fixed plot: as recorded, else of its circle."""
    circle = math.pi * pl.col("plot_radius_ft") ** 2 / _SQFT_PER_ACRE
    return pl.when(pl.col("plot_area_acres").is_not_null()).then(pl.col("plot_area_acres")).otherwise(circle)


def _steepness(slope_pct: pl.Expr) -> pl.Expr:
    """Ground length of one level foot."""
    return (1 + (slope_pct / 100) ** 2).sqrt()


def _converted(width: pl.Expr, along: Along) -> tuple[pl.Expr, pl.Expr]:
    """Least and greatest width along the line the law measures, leaving aside where it starts."""
    read = pl.col("measured_along").cast(pl.String)
    level, ground = read == "horizontal", read == "ground"
    known = width.is_not_null()
    steepness = _steepness(pl.col("slope_pct"))
    if along == "horizontal":
        sloped: pl.Expr = width / steepness
        low = pl.when(level).then(width).when(known & sloped.is_null()).then(0.0).otherwise(sloped)
        high = pl.when(ground & sloped.is_not_null()).then(sloped).otherwise(width)
        return low, high
    if along == "ground":
        sloped = width * steepness
        low = pl.when(level & sloped.is_not_null()).then(sloped).otherwise(width)
        return low, pl.when(ground).then(width).otherwise(sloped)
    raise ValueError(f'along is "{along}"; it must be "horizontal" or "ground"')


def _offset(rows: pl.DataFrame, place: pl.Expr, start: str) -> pl.Expr:
    """What is added to a level width to start it elsewhere; null where that is not recorded."""
    if "low_water_to_bank_ft" not in rows.columns:
        return pl.lit(None, dtype=pl.Float64)
    offset = pl.col("low_water_to_bank_ft").cast(pl.Float64)
    if start == "low_water_mark":
        return pl.when(place == "bank").then(offset)
    if start == "bank":
        return pl.when(place == "low_water_mark").then(-offset)
    return pl.lit(None, dtype=pl.Float64)


def _floor(width: pl.Expr) -> pl.Expr:
    return pl.when(width < 0).then(0.0).otherwise(width)


def _extent(rows: pl.DataFrame, window_ft: float | None) -> pl.DataFrame:
    """By `_group`: failing length, longest failing run, worst window; `rows` sorted, whole and told fail or not."""
    length = pl.col("to_ft") - pl.col("from_ft")
    touches = (pl.col("from_ft") - pl.col("to_ft").shift(1) <= _TOUCH_FT) & pl.col("_fails").shift(1)
    run = rows.with_columns(_run=(~(pl.col("_fails") & touches.over("_group").fill_null(False))).cum_sum())
    runs = run.group_by("_group", "_run").agg((length * pl.col("_fails")).sum().alias("_length"))
    found = runs.group_by("_group").agg(
        pl.col("_length").sum().round(_DECIMALS).alias("failing_length_ft"),
        pl.col("_length").max().round(_DECIMALS).alias("longest_failing_ft"),
    )
    if window_ft is None:
        return found.with_columns(worst_window_ft=pl.lit(None, dtype=pl.Float64))
    return found.join(_worst_window(rows, window_ft), on="_group", how="left")


def _worst_window(rows: pl.DataFrame, window_ft: float) -> pl.DataFrame:
    """The worst window begins with a failing piece or ends with one: only those are tried, all groups at once."""
    if rows.height == 0:
        return rows.select("_group", worst_window_ft=pl.lit(None, dtype=pl.Float64))
    group = rows["_group"].to_numpy()
    start, stop = rows["from_ft"].to_numpy(), rows["to_ft"].to_numpy()
    fails = rows["_fails"].to_numpy()
    # Groups are laid out one behind the other, more than a window apart.
    reach = rows.group_by("_group", maintain_order=True).agg(
        pl.col("from_ft").min().alias("a"), pl.col("to_ft").max().alias("b")
    )
    span = (reach["b"] - reach["a"]).to_numpy() + 2 * window_ft
    shift = np.concatenate([[0.0], np.cumsum(span)[:-1]]) - reach["a"].to_numpy() + window_ft
    place = shift[np.searchsorted(reach["_group"].to_numpy(), group)]
    a, b = start + place, stop + place
    corners = np.column_stack([a, b]).ravel()
    after = np.cumsum(np.where(fails, b - a, 0.0))
    filled = np.column_stack([after - np.where(fails, b - a, 0.0), after]).ravel()

    def inside(begin: _Numbers) -> _Numbers:
        ends = np.interp(begin + window_ft, corners, filled) - np.interp(begin, corners, filled)
        return np.asarray(np.where(fails, ends, 0.0))

    worst = np.maximum(inside(a), inside(b - window_ft))
    return (
        pl.DataFrame({"_group": rows["_group"], "_worst": worst})
        .group_by("_group")
        .agg(pl.col("_worst").max().round(_DECIMALS).alias("worst_window_ft"))
    )
