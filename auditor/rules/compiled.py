"""One rule made ready for a view on one day: truth of its parts, and the outcome they give."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import IntEnum
from functools import cached_property

from auditor.rules import kleene
from auditor.rules.columns import all_limits, columns_read, tree_limits
from auditor.rules.limits import Ladder, LimitCompiler, paper_node
from auditor.rules.models import Exception_, Limit, Needs, Rule, RuleFile
from auditor.rules.nodes import Node, Step
from auditor.rules.trees import TreeCompiler
from auditor.vocabulary import VIEWS


class Code(IntEnum):
    """Outcome of one row under one rule, ordered so that the greatest is the worst."""

    NOT_APPLICABLE = 0
    CONFORMITY = 1
    NOT_VERIFIABLE = 2
    INCONCLUSIVE = 3
    NOT_EVIDENCED = 4
    NONCONFORMITY = 5


@dataclass(frozen=True, eq=False)
class CompiledRule:
    """A rule of a file on one day. `parts` are scope, trigger, exceptions and requirement, where the rule has them."""

    file: RuleFile
    rule: Rule
    where: Node | None
    when: Node | None
    unless: Node | None
    must: Node
    ladders: Mapping[str, Ladder]

    @cached_property
    def reads(self) -> frozenset[str]:
        """Fields of the view that the rule and its limits read."""
        return frozenset(columns_read([(self.file, self.rule)]))

    @property
    def key(self) -> str:
        """Name of the rule across files."""
        return f"{self.file.id}/{self.rule.id}"

    def parts(self) -> list[Node]:
        """Scope, trigger, exceptions and requirement, as far as the rule has them."""
        return [part for part in (self.where, self.when, self.unless, self.must) if part is not None]

    def columns(self) -> set[str]:
        """Every column the rule reads."""
        return set().union(*(part.columns() for part in self.parts()))


@dataclass(frozen=True, slots=True)
class CompiledSet:
    """The rules of one view on one day, with the columns to add first."""

    steps: tuple[Step, ...]
    rules: tuple[CompiledRule, ...]


def compile_rules(view_name: str, rules: Iterable[tuple[RuleFile, Rule]], day: date | None) -> CompiledSet:
    """Compile the rules of one view that are in force on `day`; None compiles for rows whose day is blank."""
    view = VIEWS[view_name]
    by_file: dict[str, LimitCompiler] = {}
    steps: list[Step] = []
    compiled: list[CompiledRule] = []
    for file, rule in rules:
        if day is not None and not rule.in_force(day):
            continue
        limits = by_file.get(file.id)
        if limits is None:
            limits = by_file[file.id] = LimitCompiler(view, file.limits, day, prefix=file.id)
        compiled.append(_compile(file, rule, limits, day))
    for limits in by_file.values():
        steps.extend(limits.steps)
    return CompiledSet(tuple(steps), tuple(compiled))


def _compile(file: RuleFile, rule: Rule, limits: LimitCompiler, day: date | None) -> CompiledRule:
    trees = TreeCompiler(limits.view, limits.columns, guarded=rule.decision == "guarded")
    where = trees.tree(rule.where) if rule.where else None
    if day is None and (rule.from_ or rule.until):
        undated = Node("test", kleene.UNKNOWN, {limits.view.dated_by: kleene.TRUE})
        kids = (undated, where) if where is not None else (undated,)
        where = Node("all_of", kleene.all_of([k.truth for k in kids]), {}, kids)
    when = trees.tree(rule.when) if rule.when else None
    exceptions = [_exception(trees, e) for e in rule.unless]
    unless = Node("any_of", kleene.any_of([e.truth for e in exceptions]), {}, tuple(exceptions)) if exceptions else None
    return CompiledRule(file, rule, where, when, unless, trees.tree(rule.must), limits.ladders)


def _exception(trees: TreeCompiler, exception: Exception_) -> Node:
    parts = [trees.tree(exception.where)] if exception.where else []
    if exception.needs is not None:
        parts.append(paper_node(exception.needs))
    return Node("all_of", kleene.all_of([p.truth for p in parts]), {}, tuple(parts))


def common_scope(view_name: str, rules: Iterable[tuple[RuleFile, Rule]]) -> Node | None:
    """The scope that some rule of a view has, on whatever day; None where a rule has none."""
    view = VIEWS[view_name]
    scopes: dict[str, Node] = {}
    for file, rule in rules:
        if rule.where is None:
            return None
        limits = LimitCompiler(view, file.limits, None, prefix=file.id)
        node = TreeCompiler(view, limits.columns, guarded=rule.decision == "guarded").tree(rule.where)
        scopes.setdefault(repr(rule.where), node)
    kids = tuple(scopes.values())
    return Node("any_of", kleene.any_of([k.truth for k in kids]), {}, kids)


def papers_asked(rules: Iterable[tuple[RuleFile, Rule]]) -> list[Needs]:
    """Every kind of paper that the rules, or the limits they use, ask for, each once."""
    found: dict[tuple[str, str | None], Needs] = {}
    for file, rule in rules:
        trees = (rule.where, rule.when, rule.must, *(e.where for e in rule.unless))
        limits = all_limits(file, [name for tree in trees for name in tree_limits(tree)])
        allowances = [a.needs for name in sorted(limits) for a in file.limits[name].allowances]
        for needs in (*(e.needs for e in rule.unless), *allowances):
            if needs is not None:
                found.setdefault((needs.document, needs.state), needs)
    return list(found.values())


def papers_needed(files: Iterable[RuleFile]) -> list[Needs]:
    """Every kind of paper that some allowance or exception of the files asks for, each once, in order."""
    found: dict[tuple[str, str | None], Needs] = {}
    for file in files:
        entries: Sequence[Needs | None] = [
            *(a.needs for limit in _limits(file) for a in limit.allowances),
            *(e.needs for rule in file.rules for e in rule.unless),
        ]
        for needs in entries:
            if needs is not None:
                found.setdefault((needs.document, needs.state), needs)
    return list(found.values())


def _limits(file: RuleFile) -> Iterable[Limit]:
    return file.limits.values()
