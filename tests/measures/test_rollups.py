"""What rows say together, with blanks among them."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.measures.rollups import (
    harvested_sides,
    least_of_ranges,
    listed_count,
    share_pct,
    whole_greatest,
    whole_sum,
    worst_word,
)

Numbers = list[float | None]
ORDER = ("kept", "partly_kept", "gone")


def told(aggregate: Any, values: list[Any], dtype: Any) -> Any:
    return pl.DataFrame({"v": pl.Series(values, dtype=dtype)}).select(aggregate(pl.col("v"))).item()


def test_a_count_is_whole_only_where_the_list_is() -> None:
    owners = pl.DataFrame(
        {"job": ["J", "J", "J", "K"], "bank": ["a", "b", "c", "a"], "listed": [True, None, False, True]}
    )
    things = pl.DataFrame({"job": ["J", "J", "J"], "bank": ["a", "a", "b"], "n": [3, None, 2]})
    by = ["job", "bank"]
    # a: 3 alike and one; K's bank of the same name has none
    assert listed_count(owners, things, by, listed="listed", each="n").rows() == [(4, 4), (2, None), (0, None), (0, 0)]
    assert listed_count(owners, things, by, listed="listed").rows() == [(2, 2), (1, None), (0, None), (0, 0)]
    assert listed_count(owners.clear(), things, by, listed="listed").rows() == []


@pytest.mark.parametrize(
    ("values", "total", "greatest"), [([1.0, 3.0], 4, 3), ([1.0, None], None, None), ([], None, None), ([0.0], 0, 0)]
)
def test_sum_and_greatest_of_what_is_whole(values: Numbers, total: float | None, greatest: float | None) -> None:
    assert told(whole_sum, values, pl.Float64) == total
    assert told(whole_greatest, values, pl.Float64) == greatest


@pytest.mark.parametrize(
    ("words", "worst"),
    [
        (["kept", "kept"], "kept"), (["kept", "partly_kept"], "partly_kept"), (["gone", "kept"], "gone"),
        (["gone", None], "gone"), (["partly_kept", None], None), ([None], None), ([], None),
    ],
)  # fmt: skip
def test_the_worst_word_decides_whatever_is_blank(words: list[str | None], worst: str | None) -> None:
    assert told(lambda v: worst_word(v, ORDER), words, pl.String) == worst
    assert told(lambda v: worst_word(v, ORDER), words, pl.Enum(ORDER)) == worst


@pytest.mark.parametrize(
    ("part", "whole", "share"),
    [(1.0, 4.0, 25), (0.0, 4.0, 0), (5.0, 4.0, 125), (1.0, 0.0, None), (None, 4.0, None), (1.0, None, None)],
)
def test_share(part: float | None, whole: float | None, share: float | None) -> None:
    frame = pl.DataFrame({"p": [part], "w": [whole]}, schema={"p": pl.Float64, "w": pl.Float64})
    assert frame.select(share_pct(pl.col("p"), pl.col("w"))).item() == share


def test_least_of_ranges() -> None:
    rows = pl.DataFrame({
        "g": ["a", "a", "b", "b", "c"], "w__lo": [35.0, 40.0, 30.0, None, None], "w__hi": [None, 40.0, 50.0, 20.0, None],
    })  # fmt: skip
    # a: 35 and more, and 40: between 35 and 40; b: one may be anything up to 20
    assert least_of_ranges(rows, "w", ["g"]).rows() == [("a", 35, 40), ("b", None, 20), ("c", None, None)]


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9), st.integers(0, 9)), min_size=1))
def test_the_least_lies_in_its_range(parts: list[tuple[int, int, int]]) -> None:
    ordered = [sorted(p) for p in parts]
    rows = pl.DataFrame({"g": "x", "w__lo": [float(p[0]) for p in ordered], "w__hi": [float(p[2]) for p in ordered]})
    _, low, high = least_of_ranges(rows, "w", ["g"]).row(0)
    assert low <= min(p[1] for p in ordered) <= high


@pytest.mark.parametrize(
    ("banks", "sides"),
    [
        ([("left", True), ("right", True)], 2),
        ([("left", True), ("right", False)], 1),
        ([("left", False)], 0),
        ([("left", True), ("left", True)], 1),  # two reaches of one side
        ([("left", True), ("left", None)], 1),  # the other reach changes nothing
        ([("left", True), ("right", None)], None),
        ([(None, True)], None),
        ([(None, False), ("left", True)], 1),
    ],
)
def test_sides_that_were_cut(banks: list[tuple[str | None, bool | None]], sides: int | None) -> None:
    schema = {"job": pl.String, "stream": pl.String, "side": pl.String, "harvested": pl.Boolean}
    rows = pl.DataFrame([("J", "S", *bank) for bank in banks], schema=schema, orient="row")
    assert harvested_sides(rows).rows() == [("J", "S", sides)]
