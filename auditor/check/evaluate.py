"""From views and rules to outcomes: partition by place and edition, add limit columns, compare, settle the unknowns."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import polars as pl
from numpy.typing import NDArray

from auditor.check.spread import Spread
from auditor.check.steps import add_columns
from auditor.check.truths import FALSE, TRUE, UNKNOWN, Flags, Truths
from auditor.check.views.base import PLACE
from auditor.rules.compiled import Code, CompiledRule, CompiledSet, compile_rules
from auditor.rules.models import Rule, RuleFile
from auditor.rules.nodes import Node, Step, columns_of
from auditor.rules.trees import combined
from auditor.vocabulary import VIEWS

Places = NDArray[np.int64]
Codes = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Judged:
    """Rows of one view under one edition. `codes` has one column per rule, named by its place in `rules`.

    `blanks` has a column "place:column" for each fact that leaves a rule open: true on the open rows where its blank may
    be to blame. `outside` holds the loads of the edition whose rows were left out of the view, if any were. Column `subject`
    is the load, bank, crossing ... that a row belongs to.

    Where like loads were judged together, `spread` leads to the rows of single loads. With `by_set` the rows of `frame` are
    those of sets, and their places are numbers of sets; else they are rows of single loads with only the columns that
    the rules read, and their places are rows of `spread.alike.own`.
    """

    view: str
    frame: pl.DataFrame
    rules: tuple[CompiledRule, ...]
    codes: pl.DataFrame
    blanks: pl.DataFrame
    outside: pl.DataFrame | None
    spread: Spread | None = None
    by_set: bool = False

    @property
    def gaps(self) -> tuple[pl.DataFrame, ...]:
        """For each rule with open rows: job, subject, rule, `blank:<column>` for its facts, and code."""
        found = []
        for index, rule in enumerate(self.rules):
            blank = {c: c.partition(":")[2] for c in self.blanks.columns if c.startswith(f"{index}:")}
            codes = self.codes[str(index)]
            rows = self.frame.select("job", "subject", pl.lit(rule.key).alias("rule")).with_columns(
                *(self.blanks[c].alias(f"blank:{name}") for c, name in blank.items()), codes.alias("code")
            )
            rows = rows.filter(codes.is_in(_OPEN))
            if rows.height:
                found.append(rows)
        return tuple(found)


_OPEN = [int(Code.NOT_EVIDENCED), int(Code.INCONCLUSIVE), int(Code.NOT_VERIFIABLE)]


def judge_view(
    view: str,
    frame: pl.DataFrame,
    rules: Sequence[tuple[RuleFile, Rule]],
    days_of_change: Sequence[date],
    outside: pl.DataFrame | None = None,
    compiled: dict[date | None, CompiledSet] | None = None,
    spread: Callable[[pl.DataFrame, Sequence[Step]], Spread] | None = None,
) -> Iterator[Judged]:
    """Judge every row of a view, edition by edition; rows whose day is blank are judged against every edition at once.

    `outside` holds loads whose rows were left out of the view, being outside the scope of every rule. `compiled` keeps
    the compiled rules of each day for the next call with the same rules. With `spread` the rows are those of sets of like
    loads.
    """
    known = {} if compiled is None else compiled
    dated_by = VIEWS[view].dated_by
    parts = dict(editions(frame, dated_by, days_of_change))
    beside = {} if outside is None else dict(editions(outside, dated_by, days_of_change))
    for day in dict.fromkeys((*parts, *beside)):
        if day not in known:
            known[day] = compile_rules(view, rules, day)
        if not known[day].rules:
            continue
        part = parts.get(day, frame.head(0))
        if spread is None:
            part = add_columns(part, known[day].steps)
            yield judge_rows(view, part, known[day].rules, beside.get(day))
        else:
            yield from _judge_sets(view, spread(part, known[day].steps), known[day].rules, beside.get(day))


def _judge_sets(
    view: str, spread: Spread, rules: Sequence[CompiledRule], outside: pl.DataFrame | None
) -> Iterator[Judged]:
    """Rules that read nothing of a load's own judge sets of like loads; the others judge the rows of every load."""
    shared = tuple(r for r in rules if spread.shares(r.reads))
    if shared:
        yield replace(judge_rows(view, spread.frame, shared, outside), spread=spread, by_set=True)
    others = tuple(r for r in rules if not spread.shares(r.reads))
    if others:
        lifted = _lifted(spread, others)
        read = {name for rule in lifted for part in rule.parts() for name in columns_of(part)}
        rows = spread.rows(read)
        yield replace(judge_rows(view, rows, lifted, outside), rules=others, spread=spread)


def _lifted(spread: Spread, rules: Sequence[CompiledRule]) -> tuple[CompiledRule, ...]:
    """The rules with every condition that like loads share worked out for the sets, as columns added to these."""
    shared = list({id(n): n for rule in rules for part in rule.parts() for n in _shared_nodes(part, spread)}.values())
    truths = Truths(spread.frame, shared)
    blamed = truths.blamed({k: [node] for k, node in enumerate(shared) if UNKNOWN in truths.of(node)})
    leaves: dict[int, Node] = {}
    added: list[pl.Series] = []
    for k, node in enumerate(shared):
        name, truth = f"shared:{k}", truths.of(node)
        added.append(pl.Series(name, truth == TRUE).set(pl.Series(truth == UNKNOWN), None))
        blanks = {c: pl.Series(f"{name}:{c}", b) for c, b in blamed.get(k, {}).items() if True in b}
        added += blanks.values()
        leaves[id(node)] = Node("test", pl.col(name), {c: pl.col(b.name) for c, b in blanks.items()})
    spread.add(added)
    return tuple(
        replace(
            rule,
            where=rule.where and _with_leaves(rule.where, leaves),
            when=rule.when and _with_leaves(rule.when, leaves),
            unless=rule.unless and _with_leaves(rule.unless, leaves),
            must=_with_leaves(rule.must, leaves),
        )
        for rule in rules
    )


def _shared_nodes(node: Node, spread: Spread) -> Iterator[Node]:
    """The topmost nodes that read nothing of a load's own."""
    if spread.shares_node(node):
        yield node
    else:
        for kid in node.kids:
            yield from _shared_nodes(kid, spread)


def _with_leaves(node: Node, leaves: Mapping[int, Node], inside_limit: bool = False) -> Node:
    """The node with columns in place of what is worked out already; what keeps a limit unknown reads the limit itself."""
    if id(node) in leaves:
        return leaves[id(node)]
    within = inside_limit or node.form in ("limit", "test")
    kids = tuple(_with_leaves(kid, leaves, within) for kid in node.kids)
    truth = node.truth if within else combined(node.form, [k.truth for k in kids], node.n)
    return replace(node, truth=truth, kids=kids)


def editions(
    frame: pl.DataFrame, dated_by: str, days_of_change: Sequence[date]
) -> Iterator[tuple[date | None, pl.DataFrame]]:
    """Split a view where the law changes; each part comes with a day on which its edition held (None: day blank)."""
    dates = frame[dated_by]
    starts = [date.min, *days_of_change]
    for start, end in zip(starts, [*days_of_change, None], strict=True):
        inside = dates >= start
        if end is not None:
            inside &= dates < end
        if inside.any():  # nulls: rows without a day belong to no edition
            yield (
                start,
                frame if inside.all(ignore_nulls=False) else frame.filter(inside.fill_null(False)),
            )  # nulls: kept
    if dates.null_count():
        yield None, frame.filter(dates.is_null())


def judge_rows(
    view: str, frame: pl.DataFrame, rules: tuple[CompiledRule, ...], outside: pl.DataFrame | None = None
) -> Judged:
    """Outcome of every row under every rule, and for what is open the facts to blame."""
    truths = Truths(frame, [part for rule in rules for part in rule.parts()])
    codes = [_outcomes(rule, truths, frame.height) for rule in rules]
    open_ = {i: rows for i, own in enumerate(codes) if True in (rows := own == Code.NOT_EVIDENCED)}
    blamed = truths.blamed({i: rules[i].parts() for i in open_})
    blanks = {f"{i}:{name}": blank & open_[i] for i, found in blamed.items() for name, blank in sorted(found.items())}
    for i, rows in open_.items():
        _settle(codes[i], rows, blamed[i].values(), rules[i])
    settled = pl.DataFrame([pl.Series(str(i), own) for i, own in enumerate(codes)])
    return Judged(view, frame, rules, settled, pl.DataFrame([pl.Series(*b) for b in blanks.items()]), outside)


def _outcomes(rule: CompiledRule, truths: Truths, height: int) -> Codes:
    """Outcome code of each row; every unknown still counts as not evidenced."""
    must = truths.of(rule.must)
    fails, outside = must == FALSE, np.zeros(height, dtype=bool)
    for condition, ends in ((rule.where, FALSE), (rule.when, FALSE), (rule.unless, TRUE)):
        if condition is not None:
            truth = truths.of(condition)
            outside |= truth == ends
            fails &= truth == (TRUE - ends)
    codes = np.full(height, Code.NOT_EVIDENCED, dtype=np.uint8)
    codes[fails] = Code.NONCONFORMITY
    codes[must == TRUE] = Code.CONFORMITY
    codes[outside] = Code.NOT_APPLICABLE
    return codes


def _settle(codes: Codes, open_: Flags, blanks: Iterable[Flags], rule: CompiledRule) -> None:
    """The outcome of open rows: a fact is missing where some blank is to blame, else nothing more can be known."""
    blank = np.zeros(len(codes), dtype=bool)
    for found in blanks:
        blank |= found
    codes[open_ & ~blank] = Code.INCONCLUSIVE
    if rule.rule.evidence == "act without record":
        codes[open_ & blank] = Code.NOT_VERIFIABLE


def subject_codes(judged: Judged) -> pl.DataFrame:
    """Worst outcome of each subject under each rule: job, subject, its place, then a column per rule named by its key."""
    rows, worst = worst_by_place(judged)
    subjects = judged.frame.select("job", "subject", PLACE)[rows]
    return subjects.with_columns(pl.Series(r.key, codes) for r, codes in zip(judged.rules, worst, strict=True))


def worst_by_place(judged: Judged) -> tuple[NDArray[np.intp], list[NDArray[np.uint8]]]:
    """A row of each place that has any, in order of places, and for each rule the worst code of each."""
    places = judged.frame[PLACE].to_numpy().astype(np.int64)
    codes = [judged.codes[str(index)].to_numpy() for index in range(len(judged.rules))]
    steps = np.diff(places, prepend=-1)
    # Views keep the rows of a subject together, but nothing is lost where they do not.
    if (steps >= 0).all():  # nulls: none
        firsts = np.flatnonzero(steps)
        whole = len(firsts) == len(places)
        return firsts, codes if whole else [np.maximum.reduceat(c, firsts) if len(firsts) else c for c in codes]
    order = np.argsort(places, kind="stable")
    firsts = np.flatnonzero(np.diff(places[order], prepend=-1))
    return order[firsts], [np.maximum.reduceat(c[order], firsts) for c in codes]


def rules_of_views(files: Iterable[RuleFile]) -> dict[str, list[tuple[RuleFile, Rule]]]:
    """Rules by the view they examine, in the order of the files."""
    found: dict[str, list[tuple[RuleFile, Rule]]] = {}
    for file in files:
        for rule in file.rules:
            found.setdefault(rule.examines, []).append((file, rule))
    return found
