"""Three-valued truth over polars columns: true, false, unknown (null). The only home of polars' raw any/all/min/max.

polars' own aggregates turn a null into a pass (`.all()` over null is true, sums skip null). These do not:
what is unknown stays unknown unless the known parts already decide.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

import polars as pl

UNKNOWN = pl.lit(None, dtype=pl.Boolean)
TRUE, FALSE = pl.lit(True), pl.lit(False)
"""Made once: a rule file is thousands of expressions."""


def all_of(truths: Sequence[pl.Expr]) -> pl.Expr:
    """False if one is false, else unknown if one is unknown, else true."""
    return reduce(lambda a, b: a & b, truths) if truths else TRUE


def any_of(truths: Sequence[pl.Expr]) -> pl.Expr:
    """True if one is true, else unknown if one is unknown, else false."""
    return reduce(lambda a, b: a | b, truths) if truths else FALSE


def at_least_n_of(n: int, truths: Sequence[pl.Expr]) -> pl.Expr:
    """True if n are certainly true, false if n can no longer be reached, else unknown."""
    sure = pl.sum_horizontal([certain(t).cast(pl.Int32) for t in truths])
    open_ = pl.sum_horizontal([possible(t).cast(pl.Int32) for t in truths])
    return pl.when(sure >= n).then(TRUE).when(open_ < n).then(FALSE).otherwise(UNKNOWN)


def certain(truth: pl.Expr) -> pl.Expr:
    """Whether it is known to hold."""
    return truth.eq_missing(TRUE)


def possible(truth: pl.Expr) -> pl.Expr:
    """Whether it is not known to fail."""
    return truth.ne_missing(FALSE)


def known(condition: pl.Expr) -> pl.Expr:
    """True where the condition holds, else unknown: the truth of a value that is there or not."""
    return pl.when(condition).then(TRUE).otherwise(UNKNOWN)


def least_candidate(values: Sequence[pl.Expr]) -> pl.Expr:
    """Least of the candidates; one that is excluded is null and does not count; null when all are excluded."""
    return pl.min_horizontal(list(values))


def greatest_candidate(values: Sequence[pl.Expr]) -> pl.Expr:
    """Greatest of the candidates; one that is excluded is null and does not count; null when all are excluded."""
    return pl.max_horizontal(list(values))


def least_of_all(values: Sequence[pl.Expr]) -> pl.Expr:
    """Least of all values, unknown as soon as one is unknown."""
    return pl.when(all_of([v.is_not_null() for v in values])).then(pl.min_horizontal(list(values)))


def greatest_of_all(values: Sequence[pl.Expr]) -> pl.Expr:
    """Greatest of all values, unknown as soon as one is unknown."""
    return pl.when(all_of([v.is_not_null() for v in values])).then(pl.max_horizontal(list(values)))


def total(values: Sequence[pl.Expr]) -> pl.Expr:
    """Sum, unknown as soon as one part is unknown."""
    return reduce(lambda a, b: a + b, values)


def compare(op: str, low: pl.Expr, high: pl.Expr, limit_low: pl.Expr, limit_high: pl.Expr) -> pl.Expr:
    """Compare a value known to lie in [low, high] with a limit known to lie in [limit_low, limit_high].

    True where it holds for every value and limit inside, false where it fails for every one, else unknown.
    """
    if op == "at_least":
        yes, no = low >= limit_high, high < limit_low
    elif op == "more_than":
        yes, no = low > limit_high, high <= limit_low
    elif op == "at_most":
        yes, no = high <= limit_low, low > limit_high
    elif op == "less_than":
        yes, no = high < limit_low, low >= limit_high
    elif op == "equals":
        yes, no = (low >= limit_high) & (high <= limit_low), (low > limit_high) | (high < limit_low)
    else:
        raise ValueError(f"{op} is no comparison")
    return pl.when(yes).then(TRUE).when(no).then(FALSE).otherwise(UNKNOWN)
