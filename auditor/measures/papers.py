"""Papers: whether one was valid on a day, what it allowed, and what a ticket does not show."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import polars as pl

from auditor.vocabulary.haul import CONTENT_WORDS

_KEY = ("job", "truck", "date")


def _greatest(name: str) -> pl.Expr:
    """The greatest figure of the valid papers; null while a paper that is or may be valid could change it."""
    figure, holds = pl.col(name).cast(pl.Float64), pl.col("_holds")
    sure = figure.filter(holds.fill_null(False)).max()
    possible = figure.filter(holds.fill_null(True))
    return pl.when((possible.null_count() == 0) & (possible.max() == sure)).then(sure).alias(name)


def valid_on(
    documents: pl.DataFrame, keys: pl.DataFrame, *, kinds: Sequence[str], state: str | None = None
) -> pl.DataFrame:
    """Whether a paper of each kind was valid for each truck on each day, and the most it allowed.

    `documents`: papers with `job`, `kind`, `state`, `truck` (blank: every truck of the job), `valid_from` and
    `valid_until` (dates, both included), `gross_limit_lb` (lb), `length_limit_ft` (ft). `keys`: `job`, `truck`,
    `date`; repeats are dropped, so that the work grows with truck-days and not with loads. `state`: only papers
    that this state issued. Gives one row per distinct key and kind, keys in their order, with

    - `valid`: True where a paper holds on the day; null where none does but one is listed whose blank dates or
      state (or the blank truck or date of the key) could make it hold; False where there is none;
    - `gross_limit_lb`, `length_limit_ft`: the greatest of the papers that hold; null where none holds, where one of
      them states no figure, or where a paper that may hold would raise it.

    Source: own definition; who relies on a permit must show it valid on the day of the haul (for example 23 U.S.C.
    127 and the state permit statutes).
    """
    asked = keys.select(_KEY).unique(maintain_order=True)
    asked = asked.join(pl.DataFrame({"kind": list(kinds)}, schema={"kind": pl.String}), how="cross")
    asked = asked.with_row_index("_ask")
    listed = documents.with_columns(pl.col("kind", "state").cast(pl.String)).filter(pl.col("kind").is_in(list(kinds)))
    c = pl.col
    holds = (c("truck_right").is_null() | (c("truck_right") == c("truck"))) & (c("valid_from") <= c("date"))
    holds = holds & (c("date") <= c("valid_until"))
    if state is not None:
        holds = holds & (c("state") == state)
    pairs = asked.join(listed, on=["job", "kind"], suffix="_right").with_columns(_holds=holds)
    found = pairs.group_by("_ask").agg(
        c("_holds").any(ignore_nulls=False).alias("valid"), _greatest("gross_limit_lb"), _greatest("length_limit_ft")
    )
    answer = asked.join(found.with_columns(_listed=True), on="_ask", how="left", maintain_order="left")
    valid = pl.when(c("_listed").is_null()).then(False).otherwise(c("valid"))
    return answer.with_columns(valid=valid).drop("_ask", "_listed")


def ticket_missing_count(contents: pl.Series, required: Sequence[str | Sequence[str]]) -> pl.Series:
    """How many of the things the law asks of a ticket it does not show: a Series of Int64.

    `contents`: one list of names per ticket, what it shows. `required`: names; a list inside stands for one thing
    of which any one of its names suffices (weights, or a volume). Null where the contents are blank; an empty list
    shows nothing, so everything is missing.

    Source: the contents of wood load tickets in state law, for example S.C. Code 48-23-97(A)(1)-(11).
    """
    missing = pl.lit(0, dtype=pl.Int64)
    for thing in required:
        missing = missing + _is_missing(thing).cast(pl.Int64)
    return _of_shown(contents, missing, "ticket_missing_count")


def missing_contents(contents: pl.Series, required: Sequence[str | Sequence[str]]) -> pl.Series:
    """Which of the things the law asks of a ticket or notice it does not show: a Series of String, as words without unit.

    `contents` and `required` as for `ticket_missing_count`. Gives their names in the order of `required` with "; " between
    them, alternatives as "volume or load number"; empty where nothing is missing. Null where the contents are blank.

    Source: the contents of wood load tickets in state law, for example S.C. Code 48-23-97(A)(1)-(11).
    """
    lacking = [pl.when(_is_missing(thing)).then(pl.lit(_said(thing))) for thing in required]
    words = pl.concat_str(lacking, separator="; ", ignore_nulls=True) if lacking else pl.lit("")
    return _of_shown(contents, words, "missing_contents")


def _names(thing: str | Sequence[str]) -> list[str]:
    return [thing] if isinstance(thing, str) else list(thing)


def _said(thing: str | Sequence[str]) -> str:
    return " or ".join(CONTENT_WORDS.get(name, name.replace("_", " ")) for name in _names(thing))


def _is_missing(thing: str | Sequence[str]) -> pl.Expr:
    """Whether none of the names of a thing is in the column `shown`."""
    short = pl.lit(True)
    for name in _names(thing):
        short = short & pl.col("shown").list.contains(name, nulls_equal=False).not_()
    return short


def _of_shown(contents: pl.Series, value: pl.Expr, name: str) -> pl.Series:
    """A value made of the column `shown` where the contents are known."""
    shown: Any = contents.cast(pl.List(pl.String)).alias("shown")
    known = pl.when(pl.col("shown").is_not_null()).then(value).alias(name)
    return pl.DataFrame([shown]).select(known).to_series()
