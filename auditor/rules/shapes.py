"""The closed set of shapes a limit may have, each compiled to an interval and the node that keeps it unknown."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from typing import Protocol

import polars as pl

from auditor.rules import kleene
from auditor.rules.models import Computed, Linear, Part, Points, Shape, TableRow
from auditor.rules.nodes import Node, Step
from auditor.rules.trees import LimitColumns, TreeCompiler

Bounds = tuple[pl.Expr, pl.Expr, Node | None]
Pair = tuple[pl.Expr, pl.Expr]


class HasColumns(Protocol):
    """A compiled limit."""

    @property
    def columns(self) -> LimitColumns:
        """Its columns."""
        ...


class ShapeCompiler:
    """Compiles shapes; measures become steps, because they are computed outside the expressions."""

    def __init__(
        self, trees: TreeCompiler, ladder: Callable[[str], HasColumns], steps: list[Step], prefix: str
    ) -> None:
        self.trees, self.ladder, self.steps, self.prefix = trees, ladder, steps, prefix

    def shape(self, shape: Shape, base: Pair | None, lawful: Pair | None) -> Bounds:
        """The interval of a shape, and the node whose blanks keep it open (None for a plain number)."""
        if shape.value is not None:
            number = pl.lit(float(shape.value))
            return number, number, None
        if shape.said is not None:
            values = [s.value for s in shape.said]
            return pl.lit(min(values)), pl.lit(max(values)), None
        if shape.field is not None:
            low, high, blank = self.trees.value(shape.field)
            return low, high, Node("limit", kleene.known(~blank), {shape.field: blank})
        if shape.measure is not None:
            return self._measure(shape.measure)
        if shape.limit is not None:
            columns = self.ladder(shape.limit).columns
            return columns.low, columns.high, columns.node
        if shape.table is not None:
            return self._table(shape.table.rows)
        if shape.points is not None:
            return self._points(shape.points)
        if shape.linear is not None:
            return self._linear(shape.linear)
        if shape.sum_of is not None:
            return self._sum(shape.sum_of)
        if shape.percent_more is not None:
            return self._percent(shape.percent_more, str(shape.than), base, lawful)
        parts = [self.shape(s, base, lawful) for s in shape.lesser_of or shape.greater_of or []]
        join = kleene.least_of_all if shape.lesser_of else kleene.greatest_of_all
        return join([p[0] for p in parts]), join([p[1] for p in parts]), _open([p[2] for p in parts])

    def _measure(self, computed: Computed) -> Bounds:
        name = f"measure:{self.prefix}/{len(self.steps)}:{computed.name}"
        self.steps.append(Step(name, measure=computed))
        blanks = {column: self.trees.value(column)[2] for column in computed.of.values()}
        return pl.col(name), pl.col(name), Node("limit", kleene.known(pl.col(name).is_not_null()), blanks)

    def _table(self, rows: Sequence[TableRow]) -> Bounds:
        nodes = [self.trees.tree(r.when) for r in rows]
        held = [
            pl.when(kleene.possible(n.truth)).then(pl.lit(float(r.value))) for n, r in zip(nodes, rows, strict=True)
        ]
        low, high = kleene.least_candidate(held), kleene.greatest_candidate(held)
        return low, high, Node("limit", kleene.known(low == high), {}, tuple(nodes))

    def _points(self, points: Points) -> Bounds:
        column, _, blank = self.trees.value(points.at)
        xs = sorted(points.values)
        value = pl.lit(None, dtype=pl.Float64)
        for left, right in itertools.pairwise(xs):
            a, b = points.values[left], points.values[right]
            between = {
                "lower": pl.lit(min(a, b)),
                "higher": pl.lit(max(a, b)),
                "interpolate": a + (column - left) * ((b - a) / (right - left)),
            }[points.between]
            value = pl.when((column > left) & (column < right)).then(between).otherwise(value)
        for x in xs:
            value = pl.when(column == x).then(pl.lit(float(points.values[x]))).otherwise(value)
        value = pl.when(blank).then(None).otherwise(value)
        return value, value, Node("limit", kleene.known(value.is_not_null()), {points.at: blank})

    def _linear(self, linear: Linear) -> Bounds:
        low, high, blank = self.trees.value(linear.per)
        ends = [linear.base + linear.times * low, linear.base + linear.times * high]
        if linear.times < 0:
            ends.reverse()
        if linear.at_least is not None or linear.at_most is not None:
            ends = [e.clip(linear.at_least, linear.at_most) for e in ends]
        return ends[0], ends[1], Node("limit", kleene.known(~blank), {linear.per: blank})

    def _sum(self, parts: Sequence[Part]) -> Bounds:
        lows, highs, nodes = [], [], []
        for part in parts:
            columns = self.ladder(part.of).columns
            nodes.append(columns.node)
            if isinstance(part.times, str):
                column, _, blank = self.trees.value(part.times)
                times = pl.when(blank).then(None).otherwise(column)
                nodes.append(Node("limit", kleene.known(~blank), {part.times: blank}))
            else:
                times = pl.lit(part.times)
            lows.append(times * columns.low)
            highs.append(times * columns.high)
        return kleene.total(lows), kleene.total(highs), _open(nodes)

    def _percent(self, percent: float, than: str, base: Pair | None, lawful: Pair | None) -> Bounds:
        node: Node | None = None
        if than == "base" and base is not None:
            low, high = base
        elif than == "limit" and lawful is not None:
            low, high = lawful
        else:
            columns = self.ladder(than).columns
            low, high, node = columns.low, columns.high, columns.node
        return low * (100 + percent) / 100, high * (100 + percent) / 100, node


def _open(nodes: Sequence[Node | None]) -> Node | None:
    kept = [n for n in nodes if n is not None]
    return Node("limit", kleene.all_of([n.truth for n in kept]), {}, tuple(kept)) if kept else None
