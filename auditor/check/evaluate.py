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
from auditor.check.views.base import PLACE
from auditor.rules import kleene
from auditor.rules.compiled import Code, CompiledRule, CompiledSet, compile_rules
from auditor.rules.models import Rule, RuleFile
from auditor.rules.nodes import Node, Step, columns_of, every_node
from auditor.rules.trees import combined
from auditor.vocabulary import VIEWS

Places = NDArray[np.int64]


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
    truths = _columns(spread.frame, {str(k): node.truth for k, node in enumerate(shared)})
    unknown = {k: [node] for k, node in enumerate(shared) if truths[str(k)].null_count()}
    blamed = _blamed(spread.frame, unknown)
    leaves: dict[int, Node] = {}
    added: list[pl.Series] = []
    for k, node in enumerate(shared):
        name = f"shared:{k}"
        added.append(truths[str(k)].alias(name))
        blanks = {c: b.alias(f"{name}:{c}") for c, b in blamed.get(k, {}).items() if b.any()}  # nulls: blanks have none
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
        part = frame if inside.all(ignore_nulls=False) else frame.filter(inside.fill_null(False))  # nulls: not ignored
        if part.height:
            yield start, part
    undated = frame.filter(dates.is_null())
    if undated.height:
        yield None, undated


def judge_rows(
    view: str, frame: pl.DataFrame, rules: tuple[CompiledRule, ...], outside: pl.DataFrame | None = None
) -> Judged:
    """Outcome of every row under every rule, and for what is open the facts to blame."""
    raw = _columns(frame, {str(i): r.code for i, r in enumerate(rules)})
    still_open = {i: raw[str(i)] == int(Code.NOT_EVIDENCED) for i in range(len(rules))}
    still_open = {i: rows for i, rows in still_open.items() if rows.any()}  # nulls: codes have none
    blamed = _blamed(frame, {i: rules[i].parts() for i in still_open})
    blanks = pl.DataFrame(
        [
            (blank & still_open[i]).alias(f"{i}:{name}")
            for i, found in blamed.items()
            for name, blank in sorted(found.items())
        ]
    )
    settled = [
        _settled(raw[str(i)], still_open[i], list(blamed[i].values()), rule) if i in still_open else raw[str(i)]
        for i, rule in enumerate(rules)
    ]
    return Judged(view, frame, rules, pl.DataFrame(settled), blanks, outside)


def _settled(codes: pl.Series, still_open: pl.Series, blanks: Sequence[pl.Series], rule: CompiledRule) -> pl.Series:
    """The outcome of open rows: a fact is missing where some blank is to blame, else nothing more can be known."""
    without_blank = still_open
    for blank in blanks:
        without_blank = without_blank & ~blank
    codes = codes.set(without_blank, int(Code.INCONCLUSIVE))
    if rule.rule.evidence == "act without record":
        codes = codes.set(still_open & ~without_blank, int(Code.NOT_VERIFIABLE))
    return codes


def _blamed(frame: pl.DataFrame, conditions: Mapping[int, Sequence[Node]]) -> dict[int, dict[str, pl.Series]]:
    """For each key, column -> whether its blank leaves some of the conditions open on a row.

    The truth of every node is computed once; what the nodes say together is then a matter of whole columns.
    """
    nodes: dict[int, Node] = {}
    for parts in conditions.values():
        for part in parts:
            # Where nothing below can be blank there is nothing to blame.
            nodes |= {id(node): node for node in every_node(part) if any(n.blanks for n in every_node(node))}
    wanted = {f"{key}": node.truth.is_null() for key, node in nodes.items()}
    wanted |= {
        f"{key}:{name}": kleene.certain(blank) for key, node in nodes.items() for name, blank in node.blanks.items()
    }
    columns = _columns(frame, wanted)
    known: dict[int, dict[str, pl.Series]] = {}

    def blame(node: Node) -> dict[str, pl.Series]:
        if id(node) not in nodes:
            return {}
        if id(node) not in known:
            unknown = columns[f"{id(node)}"]
            known[id(node)] = _joined(
                [{name: unknown & columns[f"{id(node)}:{name}"] for name in node.blanks}]
                + [{name: unknown & blank for name, blank in blame(kid).items()} for kid in node.kids]
            )
        return known[id(node)]

    return {key: _joined([blame(part) for part in parts]) for key, parts in conditions.items()}


def _joined(parts: Sequence[Mapping[str, pl.Series]]) -> dict[str, pl.Series]:
    """Columns of the same name as one, true where one of them is."""
    found: dict[str, pl.Series] = {}
    for part in parts:
        for name, blank in part.items():
            found[name] = found[name] | blank if name in found else blank
    return found


def _columns(frame: pl.DataFrame, expressions: Mapping[str, pl.Expr]) -> pl.DataFrame:
    """The expressions as full columns, what they have in common computed once."""
    named = [expression.alias(name) for name, expression in expressions.items()]
    # A column of the frame beside them makes constants as long as the frame.
    return frame.lazy().select(pl.col(frame.columns[0]).alias("beside"), *named).collect().drop("beside")


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
