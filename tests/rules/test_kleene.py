"""Three-valued truth, against the tables of Kleene's strong logic written out by hand."""

from __future__ import annotations

import itertools

import polars as pl
import pytest

from auditor.rules import kleene

T, F, U = True, False, None
PAIRS = list(itertools.product([T, F, U], repeat=2))
AND = [T, F, U, F, F, F, U, F, U]
OR = [T, T, T, T, F, U, T, U, U]


def over(pairs: list[tuple[bool | None, bool | None]], expression: pl.Expr) -> list[bool | None]:
    frame = pl.DataFrame(
        {"a": [p[0] for p in pairs], "b": [p[1] for p in pairs]}, schema={"a": pl.Boolean, "b": pl.Boolean}
    )
    return frame.select(x=expression)["x"].to_list()


def test_all_of_and_any_of_two() -> None:
    assert over(PAIRS, kleene.all_of([pl.col("a"), pl.col("b")])) == AND
    assert over(PAIRS, kleene.any_of([pl.col("a"), pl.col("b")])) == OR


def test_nothing_to_hold_holds_and_no_alternative_fails() -> None:
    assert over([(T, T)], pl.col("a") & kleene.all_of([])) == [T]
    assert over([(T, T)], pl.col("a") & kleene.any_of([])) == [F]


@pytest.mark.parametrize(
    ("three", "n", "expected"),
    [
        ([T, T, U], 2, T),  # two already hold
        ([T, U, F], 2, U),  # the unknown one decides
        ([T, F, F], 2, F),  # one at most
        ([U, U, F], 2, U),
        ([U, F, F], 2, F),  # one at most, even if the unknown one holds
        ([F, F, F], 1, F),
        ([U, U, U], 3, U),
    ],
)
def test_at_least_n_of(three: list[bool | None], n: int, expected: bool | None) -> None:
    frame = pl.DataFrame({str(i): [v] for i, v in enumerate(three)}, schema={str(i): pl.Boolean for i in range(3)})
    found = frame.select(x=kleene.at_least_n_of(n, [pl.col(str(i)) for i in range(3)]))["x"].to_list()
    assert found == [expected]


def test_certain_possible_and_known() -> None:
    rows = [(T, U), (F, U), (U, U)]
    assert over(rows, kleene.certain(pl.col("a"))) == [T, F, F]
    assert over(rows, kleene.possible(pl.col("a"))) == [T, F, T]
    assert over(rows, kleene.known(pl.col("a"))) == [T, U, U]


NUMBERS = pl.DataFrame({"a": [1.0, 1.0, None], "b": [2.0, None, None]}, schema={"a": pl.Float64, "b": pl.Float64})


def numbers(expression: pl.Expr) -> list[float | None]:
    return NUMBERS.select(x=expression)["x"].to_list()


def test_candidates_leave_out_the_excluded_and_all_needs_everything() -> None:
    both = [pl.col("a"), pl.col("b")]
    assert numbers(kleene.least_candidate(both)) == [1, 1, None]
    assert numbers(kleene.greatest_candidate(both)) == [2, 1, None]
    assert numbers(kleene.least_of_all(both)) == [1, None, None]
    assert numbers(kleene.greatest_of_all(both)) == [2, None, None]
    assert numbers(kleene.total(both)) == [3, None, None]


@pytest.mark.parametrize(
    ("op", "value", "limit", "expected"),
    [
        ("at_most", (80, 80), (80, 80), T),
        ("at_most", (81, 81), (80, 80), F),
        ("at_most", (79, 81), (80, 80), U),
        ("at_most", (79, 79), (78, 80), U),
        ("at_most", (78, 78), (78, 80), T),
        ("at_most", (81, 90), (70, 80), F),
        ("less_than", (80, 80), (80, 80), F),
        ("less_than", (79, 79), (80, 80), T),
        ("less_than", (79, 80), (80, 80), U),
        ("at_least", (80, 80), (80, 80), T),
        ("at_least", (79, 79), (80, 80), F),
        ("at_least", (79, 80), (80, 80), U),
        ("more_than", (80, 80), (80, 80), F),
        ("more_than", (81, 81), (80, 80), T),
        ("more_than", (81, 81), (80, 82), U),
        ("equals", (80, 80), (80, 80), T),
        ("equals", (79, 79), (80, 80), F),
        ("equals", (79, 81), (80, 80), U),
        ("at_most", (None, None), (80, 80), U),
        ("at_least", (80, 80), (None, None), U),
        ("at_most", (None, 70), (80, None), T),  # 70 at most and a limit of 80 at least: the open ends do not matter
    ],
)  # fmt: skip
def test_compare_holds_only_where_every_value_and_limit_agree(
    op: str, value: tuple[int | None, int | None], limit: tuple[int | None, int | None], expected: bool | None
) -> None:
    names = ("low", "high", "limit_low", "limit_high")
    frame = pl.DataFrame(
        {n: [v] for n, v in zip(names, (*value, *limit), strict=True)}, schema=dict.fromkeys(names, pl.Int64)
    )
    found = frame.select(x=kleene.compare(op, *(pl.col(n) for n in names)))["x"].to_list()
    assert found == [expected]
