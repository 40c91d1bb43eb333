"""From the limits of a rule file to columns: the lawful interval, the tolerated one, and which entry spoke.

A limit is known as [low, high]. Where one version is in force and every condition is known, low equals high.
A blank class, a paper with blank dates, a date that is missing or sources that disagree leave several candidates,
and the interval spans them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import polars as pl

from auditor.rules import kleene
from auditor.rules.models import Allowance, Cap, Dated, Limit, Needs, Version
from auditor.rules.nodes import Node, Step
from auditor.rules.shapes import ShapeCompiler
from auditor.rules.trees import LimitColumns, TreeCompiler
from auditor.vocabulary import View

RAISES = ("raised limit", "permit")
BASE = "base"
NO_FLOOR, NO_CEILING = float("-inf"), float("inf")


@dataclass(frozen=True, slots=True)
class Arm:
    """One entry that can set the limit: the base, an allowance or a cap; its condition and its value."""

    key: str
    entry: Version
    condition: Node
    low: pl.Expr
    high: pl.Expr


@dataclass(frozen=True, slots=True)
class Ladder:
    """A compiled limit: where its columns are, and its arms for the question who spoke."""

    name: str
    column: str
    limit: Limit
    columns: LimitColumns
    arms: tuple[Arm, ...]
    tolerances: tuple[Arm, ...]

    @property
    def low(self) -> str:
        """Column of the least the limit can be."""
        return f"{self.column}:low"

    @property
    def high(self) -> str:
        """Column of the most the limit can be."""
        return f"{self.column}:high"

    @property
    def tolerated_low(self) -> str:
        """Column of the least the tolerated limit can be; there only where the limit has tolerances."""
        return f"{self.column}:tolerated_low"

    @property
    def tolerated_high(self) -> str:
        """Column of the most the tolerated limit can be."""
        return f"{self.column}:tolerated_high"


class LimitCompiler:
    """Compiles the limits that the rules of one view use, on one day (None: the day is not known)."""

    def __init__(self, view: View, limits: Mapping[str, Limit], day: date | None, prefix: str = "") -> None:
        self.view, self.limits, self.day, self.prefix = view, limits, day, prefix
        self.steps: list[Step] = []
        self.ladders: dict[str, Ladder] = {}
        self.trees = TreeCompiler(view, self.columns)
        self.shapes = ShapeCompiler(self.trees, self.ladder, self.steps, prefix)

    def columns(self, name: str) -> LimitColumns:
        """The limit of that name as columns."""
        return self.ladder(name).columns

    def ladder(self, name: str) -> Ladder:
        """Compile a limit once; its columns are then among the steps."""
        if name not in self.ladders:
            self.ladders[name] = self._build(name, self.limits[name])
        return self.ladders[name]

    def in_force(self, entries: Sequence[Dated]) -> list[Dated]:
        """Entries that hold on the day; every one when the day is not known."""
        return [e for e in entries if self.day is None or e.in_force(self.day)]

    def _build(self, name: str, limit: Limit) -> Ladder:
        column = f"limit:{self.prefix}/{name}"
        versions = [v for v in self.in_force(limit.versions) if isinstance(v, Version)]
        if limit.versions[0].words is not None:
            return self._words(name, column, limit, versions)
        bases = [self._arm(base_key(v), v, None, None, None) for v in versions]
        # an unknown base can be anything: null would let a raised limit pass for the whole
        base_low = kleene.least_candidate([b.low.fill_null(NO_FLOOR) for b in bases] or [pl.lit(NO_FLOOR)])
        base_high = kleene.greatest_candidate([b.high.fill_null(NO_CEILING) for b in bases] or [pl.lit(NO_CEILING)])
        base = self._keep(f"{column}:base", base_low, base_high)
        allowances = [a for a in self.in_force(limit.allowances) if isinstance(a, Allowance)]
        raises = [self._arm(a.id, a, a.where, a.needs, base) for a in allowances if a.form in RAISES]
        low, high = base
        for arm in raises:
            low, high = _raise(low, high, arm)
        caps = [self._arm(c.id, c, c.where, None, base) for c in self.in_force(limit.caps) if isinstance(c, Cap)]
        for arm in caps:
            low, high = _cap(low, high, arm)
        lawful = self._keep(column, low, high)
        tolerances = [
            self._arm(a.id, a, a.where, a.needs, base, lawful) for a in allowances if a.form == "enforcement tolerance"
        ]
        tol_low, tol_high = lawful
        for arm in tolerances:
            tol_low, tol_high = _raise(tol_low, tol_high, arm)
        if tolerances:
            self._keep(f"{column}:tolerated", tol_low, tol_high, sep="_")
        arms = (*bases, *raises, *caps)
        node = Node("limit", kleene.known(lawful[0] == lawful[1]), {}, tuple(a.condition for a in arms))
        return Ladder(name, column, limit, LimitColumns(*lawful, node), arms, tuple(tolerances))

    def _words(self, name: str, column: str, limit: Limit, versions: Sequence[Version]) -> Ladder:
        node = Node("limit", kleene.TRUE if len(versions) == 1 else kleene.UNKNOWN, {})
        if self.day is None and len(limit.versions) > 1:
            node = self._day_unknown()
        arms = tuple(Arm(base_key(v), v, node, pl.lit(None), pl.lit(None)) for v in versions)
        words = [list(v.words or ()) for v in versions]
        return Ladder(name, column, limit, LimitColumns(pl.lit(None), pl.lit(None), node, words), arms, ())

    def _keep(self, name: str, low: pl.Expr, high: pl.Expr, sep: str = ":") -> tuple[pl.Expr, pl.Expr]:
        for end, expression in (("low", low), ("high", high)):
            self.steps.append(Step(f"{name}{sep}{end}", expression.cast(pl.Float64)))
        return pl.col(f"{name}{sep}low"), pl.col(f"{name}{sep}high")

    def _arm(
        self,
        key: str,
        entry: Version,
        where: Mapping[str, object] | None,
        needs: Needs | None,
        base: tuple[pl.Expr, pl.Expr] | None,
        lawful: tuple[pl.Expr, pl.Expr] | None = None,
    ) -> Arm:
        low, high, shape_node = self.shapes.shape(entry, base, lawful)
        conditions = [self.trees.tree(where)] if where else []
        if needs is not None:
            conditions.append(paper_node(needs))
        if self.day is None and (entry.from_ or entry.until):
            conditions.append(self._day_unknown())
        truth = kleene.all_of([c.truth for c in conditions])
        kids = (*conditions, *([shape_node] if shape_node is not None else []))
        return Arm(key, entry, Node("all_of", _known(truth, low, high), {}, kids), low, high)

    def _day_unknown(self) -> Node:
        return Node("test", kleene.UNKNOWN, {self.view.dated_by: kleene.TRUE})


def base_key(version: Version) -> str:
    """Key of a version of a limit: "base", and from when where it has a beginning."""
    return BASE if version.from_ is None else f"{BASE}:{version.from_.isoformat()}"


def _known(truth: pl.Expr, low: pl.Expr, high: pl.Expr) -> pl.Expr:
    """The condition, turned unknown where it may hold but the value it would give is not one number."""
    exact = kleene.certain(low == high)
    return pl.when(kleene.possible(truth) & ~exact).then(kleene.UNKNOWN).otherwise(truth)


def _raise(low: pl.Expr, high: pl.Expr, arm: Arm) -> tuple[pl.Expr, pl.Expr]:
    truth = kleene.all_of([k.truth for k in arm.condition.kids if k.form != "limit"])
    value_low = pl.when(kleene.certain(truth)).then(arm.low)
    value_high = pl.when(kleene.possible(truth)).then(arm.high.fill_null(NO_CEILING))
    return kleene.greatest_candidate([low, value_low]), kleene.greatest_candidate([high, value_high])


def _cap(low: pl.Expr, high: pl.Expr, arm: Arm) -> tuple[pl.Expr, pl.Expr]:
    truth = kleene.all_of([k.truth for k in arm.condition.kids if k.form != "limit"])
    value_low = pl.when(kleene.possible(truth)).then(arm.low.fill_null(NO_FLOOR))
    value_high = pl.when(kleene.certain(truth)).then(arm.high)
    return kleene.least_candidate([low, value_low]), kleene.least_candidate([high, value_high])


def paper_node(needs: Needs) -> Node:
    """Whether the paper is held and valid on the day; without one in the record the answer is no."""
    column = paper_column(needs)
    return Node("test", pl.col(column), {column: pl.col(column).is_null()})


def paper_column(needs: Needs) -> str:
    """Column that says whether the paper is held; its name carries the kind and, where asked for, the state."""
    return f"holds:{needs.document}" + (f":{needs.state}" if needs.state else "")
