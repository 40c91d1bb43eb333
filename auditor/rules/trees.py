"""From the trees of a rule file to three-valued expressions."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

import polars as pl

from auditor.rules import kleene
from auditor.rules.nodes import Form, Node, Test
from auditor.vocabulary import View
from auditor.vocabulary.intervals import parse_interval

NUMERIC_OPS = ("at_least", "more_than", "at_most", "less_than", "equals")
OPS = (*NUMERIC_OPS, "one_of", "none_of", "within", "includes", "recorded")
GROUPS = ("all_of", "any_of", "none_of", "at_least_n_of")
_SIMPLE: dict[str, Form] = {"all_of": "all_of", "any_of": "any_of", "none_of": "none_of"}


def combined(form: Form, truths: Sequence[pl.Expr], n: int = 0) -> pl.Expr:
    """What the truths of its parts make of a group of that form."""
    if form == "at_least_n_of":
        return kleene.at_least_n_of(n, truths)
    if form == "all_of":
        return kleene.all_of(truths)
    return ~kleene.any_of(truths) if form == "none_of" else kleene.any_of(truths)


class LimitColumns:
    """A limit made ready: its columns, and the node that says what keeps it unknown.

    A limit of words has `words`: one list for each version that may be in force, none when no version is.
    """

    def __init__(self, low: pl.Expr, high: pl.Expr, node: Node, words: Sequence[Sequence[str]] | None = None) -> None:
        self.low, self.high, self.node, self.words = low, high, node, words


class TreeCompiler:
    """Compiles the trees of one view. `limit` finds a named limit; `guarded` widens values by their uncertainty."""

    def __init__(self, view: View, limit: Callable[[str], LimitColumns], guarded: bool = False) -> None:
        self.view, self.limit, self.guarded = view, limit, guarded

    def tree(self, tree: Mapping[str, Any]) -> Node:
        """Compile a whole tree; several entries must all hold."""
        kids = [self._entry(key, body) for key, body in tree.items()]
        flat = [k for kid in kids for k in (kid if isinstance(kid, list) else [kid])]
        return flat[0] if len(flat) == 1 else self._group("all_of", flat)

    def _entry(self, key: str, body: Any) -> Node | list[Node]:
        if key == "at_least_n_of":
            kids = [self.tree(t) for t in body["of"]]
            return self._group("at_least_n_of", kids, int(body["n"]))
        form = _SIMPLE.get(key)
        if form is not None:
            return self._group(form, [self.tree(t) for t in body])
        if isinstance(body, Mapping):
            return [self._test(key, op, against) for op, against in body.items()]
        if isinstance(body, str) and body[:1] in "[(" and self._numeric(key):
            return self._test(key, "within", body)
        return self._test(key, "equals", body)

    def _group(self, form: Form, kids: list[Node], n: int = 0) -> Node:
        return Node(form, combined(form, [k.truth for k in kids], n), {}, tuple(kids), n=n)

    def _numeric(self, column: str) -> bool:
        field = self.view.field(column)
        return field is not None and field.kind in ("number", "whole")

    def value(self, column: str) -> tuple[pl.Expr, pl.Expr, pl.Expr]:
        """A column as an interval (low, high), and whether it is blank."""
        return _value(self.view, self.guarded, column)

    def _doubt(self, column: str) -> pl.Expr | None:
        field = self.view.field(column)
        return pl.col(field.uncertainty) if self.guarded and field is not None and field.uncertainty else None

    def _test(self, column: str, op: str, against: Any) -> Node:
        if not isinstance(against, Mapping):
            return _plain(self.view, self.guarded, column, op, tuple(against) if isinstance(against, list) else against)
        low, high, _ = self.value(column)
        return self._against_limit(column, op, against, low, high, _blanks(self.view, self.guarded, column))

    def _against_limit(
        self, column: str, op: str, against: Mapping[str, Any], low: pl.Expr, high: pl.Expr, blanks: dict[str, pl.Expr]
    ) -> Node:
        if "field" in against:
            other = str(against["field"])
            other_low, other_high, other_blank = self.value(other)
            truth = kleene.compare(op, low, high, other_low, other_high)
            test = Test(column, op, low, high, other_low, other_high, against=dict(against), doubt=self._doubt(column))
            return Node("test", truth, {**blanks, other: other_blank}, test=test)
        name = str(against["limit"])
        limit = self.limit(name)
        if limit.words is not None:
            member = _member(low, limit.words)
            truth = member if op == "one_of" else ~member
            shown = sorted({w for version in limit.words for w in version})
            return Node("test", truth, blanks, (limit.node,), Test(column, op, low, high, limit=name, against=shown))
        truth = kleene.compare(op, low, high, limit.low, limit.high)
        test = Test(column, op, low, high, limit.low, limit.high, limit=name, doubt=self._doubt(column))
        return Node("test", truth, blanks, (limit.node,), test=test)


@lru_cache(maxsize=10_000)
def _value(view: View, guarded: bool, column: str) -> tuple[pl.Expr, pl.Expr, pl.Expr]:
    field = view.field(column)
    doubt = pl.col(field.uncertainty) if guarded and field is not None and field.uncertainty else None
    if field is not None and field.interval:
        low, high = pl.col(f"{column}__lo"), pl.col(f"{column}__hi")
        blank = low.is_null() | high.is_null() | kleene.certain(low < high)
    else:
        low = high = pl.col(column)
        blank = low.is_null()
    return (low, high, blank) if doubt is None else (low - doubt, high + doubt, blank)


@lru_cache(maxsize=10_000)
def _blank(column: str) -> pl.Expr:
    return pl.col(column).is_null()


def _blanks(view: View, guarded: bool, column: str) -> dict[str, pl.Expr]:
    """What keeps a comparison of a column open: its own blank and, where a decision is guarded, that of its uncertainty."""
    field = view.field(column)
    doubt = field.uncertainty if guarded and field is not None else None
    return {column: _value(view, guarded, column)[2]} | ({doubt: _blank(doubt)} if doubt else {})


@lru_cache(maxsize=10_000, typed=True)
def _plain(view: View, guarded: bool, column: str, op: str, against: Any) -> Node:
    """The comparison of a column with words or a number that stand in the rule; many rules have the same."""
    low, high, blank = _value(view, guarded, column)
    words = list(against) if isinstance(against, tuple) else against
    if op == "recorded":
        return Node("test", ~blank if against else blank, {}, test=Test(column, op, low, high, against=words))
    if op == "includes":
        return _includes(view, column, [against] if isinstance(against, str) else words)
    test = Test(column, op, low, high, against=words)
    field = view.field(column)
    if op in ("one_of", "none_of"):
        member = low.is_in(words)
        truth = member if op == "one_of" else ~member
    elif op == "within":
        truth = _within(low, high, against)
    elif isinstance(against, bool):
        truth = low if against else ~low
    elif field is not None and field.kind in ("number", "whole"):
        bound = pl.lit(float(against))
        truth = kleene.compare(op, low, high, bound, bound)
        test = replace(test, limit_low=bound, limit_high=bound)
    else:
        truth = low == pl.lit(against)
    return Node("test", truth, _blanks(view, guarded, column), test=test)


def _includes(view: View, column: str, words: list[str]) -> Node:
    """Whether a list of classes holds one of the words; one not listed does not hold where the list is whole."""
    field, listed = view.field(column), pl.col(column)
    seen = kleene.certain(kleene.any_of([listed.list.contains(word) for word in words]))
    absent, blanks = listed.is_not_null(), {column: listed.is_null()}
    if field is not None and field.whole_by:
        absent = kleene.certain(pl.col(field.whole_by))
        blanks[field.whole_by] = ~absent
    truth = pl.when(seen).then(kleene.TRUE).when(absent).then(kleene.FALSE)
    shown = listed.list.join("; ")
    return Node("test", truth, blanks, test=Test(column, "includes", shown, shown, against=words))


def _member(value: pl.Expr, versions: Sequence[Sequence[str]]) -> pl.Expr:
    """Whether a word is in every list that may be in force (true), in none (false), or in some (unknown)."""
    if not versions:
        return kleene.UNKNOWN
    members = [value.is_in(list(v)) for v in versions]
    return pl.when(kleene.all_of(members)).then(kleene.TRUE).when(~kleene.any_of(members)).then(kleene.FALSE)


def _within(low: pl.Expr, high: pl.Expr, text: str) -> pl.Expr:
    interval = parse_interval(text)
    bottom, top = pl.lit(interval.low), pl.lit(interval.high)
    above = kleene.compare("at_least" if interval.takes_low else "more_than", low, high, bottom, bottom)
    below = kleene.compare("at_most" if interval.takes_high else "less_than", low, high, top, top)
    return above & below
