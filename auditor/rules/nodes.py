"""The compiled form of a condition: one tree that serves truth, blame and explanation alike."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import polars as pl

from auditor.rules.models import Computed

Form = Literal["test", "all_of", "any_of", "none_of", "at_least_n_of", "limit"]


@dataclass(frozen=True, slots=True)
class Test:
    """One comparison of a column: the value as an interval, and the limit or the words it is held against.

    `doubt` is the plus-or-minus by which a guarded decision has widened the interval on either side.
    """

    column: str
    op: str
    low: pl.Expr
    high: pl.Expr
    limit_low: pl.Expr | None = None
    limit_high: pl.Expr | None = None
    limit: str | None = None
    against: Any = None
    doubt: pl.Expr | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Node:
    """A condition. `blanks` maps each column read here to an expression that is true where it is blank."""

    form: Form
    truth: pl.Expr
    blanks: Mapping[str, pl.Expr]
    kids: tuple[Node, ...] = ()
    test: Test | None = None
    n: int = 0

    def tests(self) -> Iterator[Node]:
        """Every comparison below, in order."""
        if self.form == "test":
            yield self
        for kid in self.kids:
            if kid.form != "limit":
                yield from kid.tests()

    def columns(self) -> set[str]:
        """Every column read here or below."""
        found = set(self.blanks)
        for kid in self.kids:
            found |= kid.columns()
        return found


@lru_cache(maxsize=20_000)
def columns_of(node: Node) -> frozenset[str]:
    """Every column of a frame that the truths and blanks of the node and all below it are made of."""
    expressions = (e for n in every_node(node) for e in (n.truth, *n.blanks.values()))
    return frozenset(name for e in expressions for name in e.meta.root_names())


def every_node(node: Node) -> Iterator[Node]:
    """The node and all below it."""
    yield node
    for kid in node.kids:
        yield from every_node(kid)


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """A column to add before the comparisons: an expression, or a measure to call."""

    name: str
    expression: pl.Expr | None = None
    measure: Computed | None = None


@lru_cache(maxsize=20_000)
def step_reads(step: Step) -> frozenset[str]:
    """Columns that a step reads; an interval by its plain name and its ends."""
    if step.expression is not None:
        return frozenset(step.expression.meta.root_names())
    named = step.measure.of.values() if step.measure is not None else ()
    return frozenset(end for name in named for end in (name, f"{name}__lo", f"{name}__hi"))
