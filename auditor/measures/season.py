"""Season figures of gross weights: shares with exact limits, spread, scatter about the own mean, room under a limit.

The binomial limits and Student's t both come from one quantile, that of the beta distribution (see `student`).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import polars as pl

from auditor.measures.student import beta_quantile, student_quantile

QUANTILES = (("q05_lb", 0.05), ("q25_lb", 0.25), ("median_lb", 0.5), ("q75_lb", 0.75), ("q95_lb", 0.95))


def exact_share_limits(over: pl.Series, loads: pl.Series, confidence: float) -> pl.DataFrame:
    """Exact two-sided confidence limits of a share, without unit: columns `share_low` and `share_high`, one row a pair.

    Parameters: `over` and `loads` are counts, 0 <= over <= loads; `confidence` lies between 0 and 1, ends excluded.
    Each tail gets half of what the confidence leaves. The interval covers the true share at least as often as the
    confidence says, given that every load runs over with the same chance and independently of the others.

    Null where a count is null or there are no loads. Raises ValueError for counts or a confidence out of range.

    Source: Clopper and Pearson 1934, Biometrika 26, 404-413, doi:10.1093/biomet/26.4.404, by the beta quantile.
    """
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence lies between 0 and 1, found {confidence}")
    pairs = pl.DataFrame({"k": over.cast(pl.Int64), "n": loads.cast(pl.Int64)}).with_row_index("_place")
    known = pairs.drop_nulls().filter(pl.col("n") != 0)
    k, n = known["k"].to_numpy().astype(float), known["n"].to_numpy().astype(float)
    if pairs.filter((pl.col("k") < 0) | (pl.col("n") < 0) | (pl.col("k") > pl.col("n"))).height:
        raise ValueError("a count over is neither negative nor greater than the count of loads")
    tail = np.full(len(k), (1 - confidence) / 2)
    low = np.where(k == 0, 0.0, beta_quantile(tail, np.maximum(k, 1), n - k + 1))
    # The upper limit is the lower limit of the complement, so that both ends are equally exact near 0 and 1.
    high = np.where(k == n, 1.0, 1 - beta_quantile(tail, np.maximum(n - k, 1), k + 1))
    found = known.select("_place").with_columns(pl.Series("share_low", low), pl.Series("share_high", high))
    return pairs.select("_place").join(found, on="_place", how="left", maintain_order="left").drop("_place")


def weight_spread(rows: pl.DataFrame, by: Sequence[str]) -> pl.DataFrame:
    """Spread of gross weights, lb, by group: `by`, loads, mean_lb, sd_lb, least_lb, quantiles, greatest_lb.

    Parameters: `rows` has `gross_weight_lb` (whole lb) and the columns `by`; a null group is a group of its own.

    Blank weights do not count. `sd_lb` (n - 1 below the line) is null below two loads. A quantile q lies at rank
    q (n + 1), straight between two neighbours; null where the rank falls outside 1 to n: what lies beyond the
    weights seen is not made up. So the 5th and 95th percentile take 19 loads, a quartile 3.

    Source: Hyndman and Fan 1996, The American Statistician 50, 361-365, definition 6,
    doi:10.1080/00031305.1996.10473566; mean and standard deviation by definition.
    """
    weight = pl.col("gross_weight_lb").drop_nulls()
    freedom = weight.len().cast(pl.Int64) - 1
    quantiles = [_quantile(weight, q).alias(name) for name, q in QUANTILES]
    return rows.group_by(by, maintain_order=True).agg(
        weight.len().cast(pl.Int64).alias("loads"),
        weight.mean().alias("mean_lb"),
        pl.when(freedom > 0).then((_squares(weight) / freedom).sqrt()).alias("sd_lb"),
        weight.min().alias("least_lb"),
        *quantiles,
        weight.max().alias("greatest_lb"),
    )


def overload_margins(rows: pl.DataFrame, by: Sequence[str], cell: str, share: float, least_loads: int) -> pl.DataFrame:
    """How far under a limit the mean must lie so that a `share` of loads runs over, lb, by group: two answers.

    Gives `by`, scatter_loads (loads in cells of two and more), freedom (these less the cells), scatter_sd_lb (pooled),
    observed_margin_lb, normal_margin_lb, and observed_is_furthest where the one load that strayed furthest decides.

    observed: of n loads' scatter about their own mean the one at rank (n + 1)(1 - share), rounded up. The next load
    strays further with a chance of at most `share`, whatever the shape of the scatter (but for the mean being
    estimated, which a stretch by the square root of n / (n - 1) in each cell makes up for). Null where that rank is beyond
    n: it takes 1 / share - 1 loads (19 for 5 percent).
    normal: pooled standard deviation times Student's t for `freedom` and `share`; exact where the scatter is normal.

    Parameters: `rows` has `gross_weight_lb` (whole lb), `cell` and the columns `by`; a cell is taken within its group.
    `share` lies between 0 and 0.5, ends excluded. Both are null with fewer than `least_loads` loads. Rows with a blank
    weight or a blank cell do not count. Raises ValueError for a share out of range.

    Source: Wilks 1941, Annals of Mathematical Statistics 12, 91-96, doi:10.1214/aoms/1177731788 (order statistic);
    Student 1908, Biometrika 6, 1-25, doi:10.1093/biomet/6.1.1 (t).
    """
    if not 0 < share < 0.5:
        raise ValueError(f"a share of overloads lies between 0 and 0.5, found {share}")
    known = rows.filter(pl.col("gross_weight_lb").is_not_null() & pl.col(cell).is_not_null())
    pooled = _pooled(known, by, cell, share)
    t = pl.Series("t", student_quantile(share, pooled["freedom"].to_numpy().astype(float)), dtype=pl.Float64)
    ordered = (
        known.with_columns(_scatter_lb(pl.col("gross_weight_lb"), [*by, cell]).alias("scatter"))
        .drop_nulls("scatter")
        .group_by(by, maintain_order=True)
        .agg(pl.col("scatter").sort().alias("ordered"))
    )
    answers = {
        "observed_margin_lb": pl.col("ordered").list.get(pl.col("rank") - 1, null_on_oob=True),
        "normal_margin_lb": pl.col("t") * pl.col("scatter_sd_lb"),
        "observed_is_furthest": pl.col("rank") == pl.col("scatter_loads"),
    }
    enough = pl.col("scatter_loads") >= least_loads
    return (
        pooled.with_columns(t)
        .join(ordered, on=list(by), how="left", nulls_equal=True, maintain_order="left")
        .select(
            *(*by, "scatter_loads", "freedom", "scatter_sd_lb"),
            *(pl.when(enough).then(answer).alias(name) for name, answer in answers.items()),
        )
    )


def room_lb(weight: pl.Expr, bound: pl.Expr) -> pl.Expr:
    """How far a load lies under a bound, lb; 0 on it.

    Parameters: weights in lb, one row per load. Null where the load is over the bound or either is null: an overload
    takes nothing off the room that other loads left.

    Source: by definition, bound less weight.
    """
    return pl.when(weight <= bound).then(bound - weight)


def _pooled(known: pl.DataFrame, by: Sequence[str], cell: str, share: float) -> pl.DataFrame:
    """By group: loads, degrees of freedom and standard deviation within cells, and the rank of the observed margin."""
    # A share given as 0.05 means one twentieth; as a binary fraction it would miss whole ranks.
    kept = 1 - Fraction(share).limit_denominator(1_000_000)
    cells = known.group_by(*by, cell, maintain_order=True).agg(
        pl.len().cast(pl.Int64).alias("n"), _squares(pl.col("gross_weight_lb")).alias("squares")
    )
    return (
        cells.filter(pl.col("n") > 1)
        .sort(*by, cell)
        .group_by(by, maintain_order=True)
        .agg(
            pl.col("n").sum().alias("scatter_loads"), (pl.col("n") - 1).sum().alias("freedom"), pl.col("squares").sum()
        )
        .with_columns(
            (pl.col("squares") / pl.col("freedom")).sqrt().alias("scatter_sd_lb"),
            # (n + 1) kept, rounded up, in whole numbers
            (-((-(pl.col("scatter_loads") + 1) * kept.numerator) // kept.denominator)).alias("rank"),
        )
    )


def _scatter_lb(weight: pl.Expr, cell: Sequence[str]) -> pl.Expr:
    """Weight less the mean of its cell, stretched by the square root of n / (n - 1); null where alone in its cell.

    The stretch makes up for the mean that the load itself helped to set, so that the scatter of small cells is not
    understated.
    """
    n = weight.count().cast(pl.Int64).over(cell)
    return pl.when(n > 1).then((weight - weight.mean().over(cell)) * (n / (n - 1)).sqrt())


def _squares(weight: pl.Expr) -> pl.Expr:
    """Sum of squares about the mean. Whole pounds about a whole number: the sums are exact in any order."""
    centred = weight - weight.mean().round(0).cast(pl.Int64)
    return (centred * centred).sum() - centred.sum().cast(pl.Float64) ** 2 / weight.len()


def _quantile(weight: pl.Expr, q: float) -> pl.Expr:
    count = weight.len().cast(pl.Int64)
    # Hundredths keep the rank whole where it is: 0.95 times 20 is 19.
    hundredths = round(q * 100) * (count + 1)
    below, part = hundredths // 100, (hundredths % 100) / 100
    ordered = weight.sort().cast(pl.Float64)
    low = ordered.get(pl.when(below >= 1).then(below - 1).otherwise(0), null_on_oob=True)
    high = ordered.get(below, null_on_oob=True)
    value = pl.when(part == 0).then(low).otherwise(low + part * (high - low))
    return pl.when((below >= 1) & (below <= count)).then(value)
