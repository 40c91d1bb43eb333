"""Implementation of practices as the southern states monitor it: shares by category and pooled, risks, sample size."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray

_Numbers = NDArray[np.float64]


def implementation(answers: pl.DataFrame, by: Sequence[str]) -> pl.DataFrame:
    """Implementation in percent by group, or pooled over all rows where `by` is empty.

    Gives `by`, `yes_count`, `no_count`, `open_count`, `not_applicable_count` (counts), `implementation_pct__lo` and
    `__hi`: 100 x yes / (yes + no). Pooled over practices it is all yes over all that apply, not the mean of the
    categories. Practices that do not apply leave the fraction.

    Parameters: `answers` has the columns `by` and `answer` ("yes", "no", "not_applicable", "could_not_tell"). A blank or
    "could_not_tell" is open: low takes it as no, high as yes (that it did not apply lies between). Null where nothing
    applies and nothing is open.

    Source: Southern Group of State Foresters' regional framework, 1997, revised 2002, as Georgia's reports follow it;
    the formula from memory.
    """
    word = pl.col("answer").cast(pl.String)
    yes, no = (word == "yes").sum().cast(pl.Int64), (word == "no").sum().cast(pl.Int64)
    out = (word == "not_applicable").sum().cast(pl.Int64)
    open_ = pl.len().cast(pl.Int64) - yes - no - out
    counts = [
        yes.alias("yes_count"), no.alias("no_count"), open_.alias("open_count"), out.alias("not_applicable_count"),
    ]  # fmt: skip
    found = answers.group_by(by, maintain_order=True).agg(counts) if by else answers.select(counts)
    asked = pl.col("yes_count") + pl.col("no_count") + pl.col("open_count")
    share = 100 / pl.when(asked > 0).then(asked)
    return found.with_columns(
        implementation_pct__lo=pl.col("yes_count") * share,
        implementation_pct__hi=(pl.col("yes_count") + pl.col("open_count")) * share,
    )


def significant_risk(answers: pl.DataFrame, by: Sequence[str]) -> pl.DataFrame:
    """Significant risks to water by group: `by`, `risk_count` and `risk_share_pct`, each `__lo` and `__hi`.

    The share is of the practices that apply, in percent. A "no" is not by itself a risk.

    Parameters: `answers` has the columns `by`, `answer` and `significant_risk` (yes or no); a blank counts in high only,
    and practices that do not apply are left out. Null share where none applies.

    Source: Texas Forest Service, December 2002, regional definition of significant risk, common practice of the states.
    """
    applies = answers.filter(pl.col("answer").cast(pl.String).ne_missing("not_applicable"))
    risk = pl.col("significant_risk")
    low, high = risk.fill_null(False).sum().cast(pl.Int64), risk.fill_null(True).sum().cast(pl.Int64)
    aggregates = [low.alias("risk_count__lo"), high.alias("risk_count__hi"), pl.len().alias("_n")]
    found = applies.group_by(by, maintain_order=True).agg(aggregates) if by else applies.select(aggregates)
    share = 100 / pl.when(pl.col("_n") > 0).then(pl.col("_n"))
    return found.with_columns(
        risk_share_pct__lo=pl.col("risk_count__lo") * share, risk_share_pct__hi=pl.col("risk_count__hi") * share
    ).drop("_n")


def implementation_margin_pct(implementation_pct: ArrayLike, count: ArrayLike, *, z_squared: float = 4.0) -> _Numbers:
    """Margin of error of an implementation share, percentage points: sqrt(z^2 p (100 - p) / n); arrays that broadcast.

    Parameters: `implementation_pct` p, 0 to 100; `count` n of sites or practices, 1 or more; `z_squared` 4 stands for
    1.96 squared, rounded as the framework does (95 percent). Practices on one site are not independent, so a margin over
    practices is too small: the framework's n counts sites. The margin is 0 at 0 and 100 percent, which says nothing.

    NaN out of range or for NaN.

    Source: the framework's sample-size formula n = 4 p (100 - p) / m^2 solved for m; from memory.
    """
    share, n = np.broadcast_arrays(np.asarray(implementation_pct, dtype=float), np.asarray(count, dtype=float))
    usable = (share >= 0) & (share <= 100) & (n >= 1)
    inner = np.where(usable, z_squared * share * (100 - share) / np.where(usable, n, 1), 0.0)
    return np.where(usable, np.sqrt(inner), np.nan)


def sites_to_sample(
    expected_pct: float, margin_pct: float, *, z_squared: float = 4.0, population: int | None = None
) -> int:
    """How many sites to visit, a count: n = z^2 p (100 - p) / m^2, rounded up; with `population` N, n / (1 + (n - 1) / N).

    Parameters: `expected_pct` p and `margin_pct` m in percentage points, 0 < p < 100 and m > 0; `population` 1 or more.
    Raises ValueError outside.

    Source: the southern framework (z^2 = 4, m = 5) and EPA 841-B-97-009, section 2.3 (finite correction); from memory.
    """
    if not 0 < expected_pct < 100 or not margin_pct > 0 or (population is not None and population < 1):
        raise ValueError("the expected share lies between 0 and 100, the margin and the population are more than 0")
    sites = z_squared * expected_pct * (100 - expected_pct) / margin_pct**2
    if population is not None:
        sites /= 1 + (sites - 1) / population
    return math.ceil(round(sites, 9))
