"""What the rows that belong to one thing say together: counts of listed things, sums, shares, the worst and the least.

A blank among the rows leaves what it could change open.
"""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl


def listed_count(
    owners: pl.DataFrame, things: pl.DataFrame, by: Sequence[str], *, listed: str, each: str | None = None
) -> pl.DataFrame:
    """How many things each owner has, a count without unit: `count__lo`, `count__hi`, a row for each owner in order.

    Parameters: `owners` has the columns `by`, which name one owner, and the yes-or-no column `listed`: every thing of
    it is listed. `things` has the columns `by` and, if one row stands for several alike, the column `each` (how many, 1
    or more; blank: one).

    Low counts what is listed; high is the same where the list is whole, else null.

    Source: by definition; a table without rows is no evidence of none.
    """
    number = pl.lit(1, dtype=pl.Int64) if each is None else pl.col(each).fill_null(1)
    counts = things.select(*by, number.alias("_n")).group_by(by).agg(pl.col("_n").sum().alias("_count"))
    count = pl.col("_count").fill_null(0).cast(pl.Int64)
    return (
        owners.select(*by, listed)
        .join(counts, on=list(by), how="left", nulls_equal=True, maintain_order="left")
        .select(count__lo=count, count__hi=pl.when(pl.col(listed)).then(count))
    )


def whole_sum(value: pl.Expr) -> pl.Expr:
    """Sum over the rows of a group, in the value's own unit (counts, acres ...); an aggregate.

    Null where one of them is null, and where there are none.

    Source: arithmetic.
    """
    return pl.when((value.null_count() == 0) & (value.len() > 0)).then(value.sum())


def whole_greatest(value: pl.Expr) -> pl.Expr:
    """Greatest value of the rows of a group, in its own unit (ft, in ...); an aggregate.

    Null where one of them is null, and where there are none.

    Source: by definition.
    """
    return pl.when(value.null_count() == 0).then(value.max())


def worst_word(value: pl.Expr, order: Sequence[str]) -> pl.Expr:
    """The worst word of the rows of a group; an aggregate of words without unit.

    Parameters: `value` holds words of `order`, which runs from the best to the worst. The worst of all decides whatever
    is blank; else null where one is blank or unknown, and where there are none.

    Source: by definition.
    """
    places = {word: place for place, word in enumerate(order)}
    rank = value.cast(pl.String).replace_strict(places, default=None, return_dtype=pl.Int64)
    found = pl.when((rank.max() == len(order) - 1) | (rank.null_count() == 0)).then(rank.max())
    back = {place: word for word, place in places.items()}
    return found.replace_strict(back, default=None, return_dtype=pl.String)


def share_pct(part: pl.Expr, whole: pl.Expr) -> pl.Expr:
    """A part of a whole in percent, both 0 or more and in one unit; over 100 where the part is the greater.

    Null where either is null or the whole is not more than 0.

    Source: by definition, 100 x part / whole.
    """
    return pl.when(whole > 0).then(100 * part / whole)


def least_of_ranges(rows: pl.DataFrame, value: str, by: Sequence[str]) -> pl.DataFrame:
    """Least of values known as ranges, by group, in their own unit (ft ...): `by`, `<value>__lo`, `<value>__hi`.

    Parameters: `rows` has the columns `by`, `<value>__lo` and `<value>__hi`; a null end has no bound.

    Low is the least low end, null where one is null; high the least high end that is known: no value can lift it.

    Source: arithmetic of intervals.
    """
    low, high = pl.col(f"{value}__lo"), pl.col(f"{value}__hi")
    return rows.group_by(by, maintain_order=True).agg(
        pl.when(low.null_count() == 0).then(low.min()).alias(low.meta.output_name()), high.min()
    )


def harvested_sides(banks: pl.DataFrame) -> pl.DataFrame:
    """Beside how many sides of each water trees were cut, a count: `job`, `stream`, `harvested_sides`.

    Parameters: `banks` has `job`, `stream`, `side` (a word) and `harvested` (yes or no); several reaches of one side
    are one side.

    Null where a blank could change the count: a reach with a blank `harvested` of a side that is not counted yet, or a
    reach that was or may have been cut without its side.

    Source: by definition.
    """
    cut, side = pl.col("harvested"), pl.col("side").cast(pl.String)
    sure = side.filter(cut.fill_null(False)).drop_nulls().n_unique().cast(pl.Int64)
    may = side.filter(cut.fill_null(True))
    settled = (may.null_count() == 0) & (may.n_unique() == sure)
    return banks.group_by("job", "stream", maintain_order=True).agg(
        pl.when(settled).then(sure).alias("harvested_sides")
    )
