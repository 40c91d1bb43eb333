"""Which limits and boundaries of law the worked examples of rule files touch, found by running them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import polars as pl

from auditor.check.examples import judged_examples
from auditor.rules import kleene
from auditor.rules.columns import tree_limits
from auditor.rules.compiled import Code, CompiledRule
from auditor.rules.limits import Arm, Ladder, base_key
from auditor.rules.models import Allowance, Cap, Limit, Rule, RuleFile, Shape, Version
from auditor.rules.nodes import Node, Test
from auditor.rules.reading import Rulebook
from auditor.rules.shape_words import tree_text
from auditor.rules.statements import version_name
from auditor.vocabulary import VIEWS
from auditor.vocabulary.quantities import number_text

SIDES = ("under", "at", "over")
NOTES_ONLY = ("court defence", "penalty relief")
"""Forms of allowance that change no outcome, so that no example can touch them."""
SCALE_STEP_LB = 20.0
LONG_FROM_FT = 20.0


@dataclass(frozen=True, slots=True)
class Leaf:
    """One value inside a limit entry: the entry's own, a row of its table, one of the values that sources give."""

    limit: str
    arm: str
    part: str
    address: str


@dataclass(slots=True)
class FileCoverage:
    """What the examples of one file touch.

    `entries`: every value; `boundaries`: the sides seen of every value that some column is held against.
    """

    file: str
    entries: dict[str, bool] = field(default_factory=dict)
    boundaries: dict[str, set[str]] = field(default_factory=dict)

    def untouched(self) -> list[str]:
        """Values that no example reaches."""
        return [a for a, touched in self.entries.items() if not touched]

    def missing(self) -> dict[str, list[str]]:
        """Boundaries that lack examples, with the sides that they lack."""
        lacking = {a: [s for s in SIDES if s not in seen] for a, seen in self.boundaries.items()}
        return {a: sides for a, sides in lacking.items() if sides}

    def lines(self) -> Iterator[str]:
        """Notes on what is not touched, and the totals."""
        for address in self.untouched():
            yield f"Note: {address}: no worked example"
        for address, sides in self.missing().items():
            if self.entries[address]:
                yield f"Note: {address}: no worked example {_where(sides)}"
        whole = len(self.boundaries) - len(self.missing())
        values = len(self.entries) - len(self.untouched())
        yield (
            f"{self.file}: {whole} of {len(self.boundaries)} boundaries touched, "
            f"{values} of {len(self.entries)} values reached"
        )


def _where(sides: Sequence[str]) -> str:
    words = {"under": "just under it", "at": "at it", "over": "just over it"}
    return " or ".join(words[s] for s in sides)


def example_coverage(rulebook: Rulebook) -> list[FileCoverage]:
    """Run the examples of every file that has limits and say what they touch, in the order of the files."""
    return [_FileRun(file).run(rulebook) for file in rulebook.files if file.limits]


def coverage_lines(rulebook: Rulebook, names: Sequence[str] = ()) -> Iterator[str]:
    """The coverage of the files that begin with one of the names (all without names) as notes, with totals per file."""
    for one in example_coverage(rulebook):
        if not names or any(one.file == n or one.file.startswith(f"{n.split('/')[0]}/") for n in names):
            yield from one.lines()


class _FileRun:
    """One file: its values, and what running its examples reaches."""

    def __init__(self, file: RuleFile) -> None:
        self.file = file
        self.found = FileCoverage(file.id)
        self.leaves: dict[tuple[str, str], list[tuple[Leaf, Any]]] = {}
        compared = _compared(file)
        for name, limit in file.limits.items():
            for arm, entry, last in _entries(limit):
                parts = list(_parts(entry))
                for part, value in parts:
                    address = f"{file.id}/{name}/{last}" + (f", {part}" if part else "")
                    self.leaves.setdefault((name, arm), []).append((Leaf(name, arm, part, address), value))
                    self.found.entries[address] = False
                    if name in compared and entry.words is None:
                        self.found.boundaries[address] = set()

    def run(self, rulebook: Rulebook) -> FileCoverage:
        """Everything that the examples reach."""
        for _, owners, parts in judged_examples(rulebook, self.file):
            for judged in parts:
                owner = [owners[int(number)][0].id for number in judged.frame["subject"]]
                for index, rule in enumerate(judged.rules):
                    rows = [i for i, id_ in enumerate(owner) if id_ == rule.rule.id]
                    if rows:
                        self._rule(rule, judged.frame[rows], judged.codes[str(index)].gather(rows).to_list())
        return self.found

    def _rule(self, rule: CompiledRule, frame: pl.DataFrame, codes: Sequence[int]) -> None:
        views = {name: _LadderView(ladder, frame) for name, ladder in rule.ladders.items()}
        applies = [code != int(Code.NOT_APPLICABLE) for code in codes]
        for part in (rule.where, rule.when, rule.unless, rule.must):
            tests = list(part.tests()) if part is not None else []
            for node in tests:
                if node.test is not None and node.test.limit is not None:
                    rows = [i for i, a in enumerate(applies) if a or part is not rule.must]
                    self._test(node, node.test, views, frame, rows, _unit(rule, node.test))

    def _test(
        self,
        node: Node,
        test: Test,
        views: Mapping[str, _LadderView],
        frame: pl.DataFrame,
        rows: Iterable[int],
        unit: str | None,
    ) -> None:
        values = frame.select(low=test.low, high=test.high, truth=node.truth)
        assert test.limit is not None
        for row in rows:
            low, high, truth = values.row(row)
            if truth is None and views[test.limit].ladder.columns.words is not None:
                continue
            exact = low if isinstance(low, int | float) and not isinstance(low, bool) and low == high else None
            for leaf, value in self._reached(test.limit, views, row):
                self.found.entries[leaf.address] = True
                sides = self.found.boundaries.get(leaf.address)
                if sides is not None and exact is not None and value is not None:
                    side = _side(float(exact), value, unit)
                    if side:
                        sides.add(side)

    def _reached(
        self, name: str, views: Mapping[str, _LadderView], row: int, below: frozenset[str] = frozenset()
    ) -> Iterator[tuple[Leaf, float | None]]:
        """Every value that the limit rests on in a row, each with the number that a column is then held against."""
        view = views[name]
        for arm, tolerance in view.spoken(row):
            ends = view.ends(row, tolerance)
            yield from self._of_arm(name, arm, view, ends, row)
            for nested in _conditions(arm):
                if nested in views and nested not in below:
                    yield from ((leaf, None) for leaf, _ in self._reached(nested, views, row, below | {name}))
            for nested, same in _built_on(arm.entry):
                if nested in views and nested not in below:
                    for leaf, value in self._reached(nested, views, row, below | {name}):
                        yield leaf, value if same and value in ends else None
            if arm.entry.than in ("base", "limit"):
                for below_it in view.bases() if arm.entry.than == "base" else view.ladder.arms:
                    if view.holds(below_it, row):
                        yield from ((leaf, None) for leaf, _ in self._of_arm(name, below_it, view, (), row))

    def _of_arm(
        self, name: str, arm: Arm, view: _LadderView, ends: Sequence[float], row: int
    ) -> Iterator[tuple[Leaf, float | None]]:
        """The values of an entry that give one of the ends of the limit; whatever holds where no end is asked for."""
        leaves = self.leaves.get((name, arm.key), [])
        for leaf, part in leaves:
            if isinstance(part, _Row):
                if view.row_holds(arm, part.place, row) and (not ends or part.value in ends):
                    yield leaf, part.value
            elif isinstance(part, _Said) or (isinstance(part, float) and len(leaves) > 1):
                value = part.value if isinstance(part, _Said) else part
                if not ends or value in ends:
                    yield leaf, value
            elif ends:
                yield from ((leaf, end) for end in ends)
            else:
                yield leaf, None


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of a table: its place among all rows of the entry, and its value."""

    place: int
    value: float


@dataclass(frozen=True, slots=True)
class _Said:
    value: float


class _LadderView:
    """A compiled limit on the rows of examples, looked at row by row."""

    def __init__(self, ladder: Ladder, frame: pl.DataFrame) -> None:
        self.ladder = ladder
        arms = (*ladder.arms, *ladder.tolerances)
        columns: list[pl.Expr] = []
        for i, arm in enumerate(arms):
            holds = kleene.certain(_own_condition(arm))
            columns += [holds.alias(f"holds:{i}"), arm.low.alias(f"low:{i}"), arm.high.alias(f"high:{i}")]
            for j, node in enumerate(_row_nodes(arm)):
                columns.append(kleene.certain(node.truth).alias(f"row:{i}:{j}"))
        self.places = {id(arm): i for i, arm in enumerate(arms)}
        ends = [ladder.low, ladder.high, ladder.tolerated_low, ladder.tolerated_high]
        known = frame.select(*(c for c in ends if c in frame.columns), *columns)
        self.known = {name: known[name].to_list() for name in known.columns}

    def _value(self, column: str, row: int) -> Any:
        return self.known[column][row]

    def holds(self, arm: Arm, row: int) -> bool:
        """Whether the conditions of the entry hold for certain."""
        return bool(self._value(f"holds:{self.places[id(arm)]}", row))

    def row_holds(self, arm: Arm, place: int, row: int) -> bool:
        """Whether a row of the entry's table holds for certain."""
        return bool(self._value(f"row:{self.places[id(arm)]}:{place}", row))

    def bases(self) -> list[Arm]:
        """The versions in force."""
        return [a for a in self.ladder.arms if not isinstance(a.entry, Allowance) and a.key.startswith("base")]

    def ends(self, row: int, tolerance: bool) -> tuple[float, ...]:
        """What the lawful limit, or the tolerated one, is or lies between."""
        return tuple(dict.fromkeys(e for e in self._ends(row, tolerance) if e is not None))

    def _ends(self, row: int, tolerance: bool) -> tuple[float | None, float | None]:
        ladder = self.ladder
        if ladder.columns.words is not None:
            return None, None
        names = (ladder.tolerated_low, ladder.tolerated_high) if tolerance else (ladder.low, ladder.high)
        return self._value(names[0], row), self._value(names[1], row)

    def spoken(self, row: int) -> Iterator[tuple[Arm, bool]]:
        """The entries that set the limit in a row, with True for the tolerance that set the tolerated one."""
        ladder = self.ladder
        if ladder.columns.words is not None:
            yield from ((a, False) for a in ladder.arms if len(ladder.arms) == 1)
            return
        for arms, tolerance in ((ladder.arms, False), (ladder.tolerances, True)):
            ends = self._ends(row, tolerance) if arms else (None, None)
            for arm in arms:
                i = self.places[id(arm)]
                own = (self._value(f"low:{i}", row), self._value(f"high:{i}", row))
                if not self.holds(arm, row) or None in own:
                    continue
                # Of values that disagree one alone may lie beyond the base.
                if own == ends or (arm.entry.said is not None and (own[0] == ends[0] or own[1] == ends[1])):
                    yield arm, tolerance


def _unit(rule: CompiledRule, test: Test) -> str | None:
    column = VIEWS[rule.rule.examines].field(test.column)
    return column.unit if column is not None else None


def _own_condition(arm: Arm) -> pl.Expr:
    return kleene.all_of([k.truth for k in arm.condition.kids if k.form != "limit"])


def _conditions(arm: Arm) -> list[str]:
    """Limits that the conditions of an entry compare with."""
    return sorted(set(tree_limits(getattr(arm.entry, "where", None))))


def _built_on(shape: Shape) -> Iterator[tuple[str, bool]]:
    """Limits that a shape is built on, with True where the shape may pass their number on as it is."""
    if shape.limit is not None:
        yield shape.limit, True
    if shape.than not in (None, "base", "limit"):
        yield str(shape.than), False
    yield from ((part.of, False) for part in shape.sum_of or [])
    for inner in (*(shape.lesser_of or []), *(shape.greater_of or [])):
        yield from _built_on(inner)


def _row_nodes(arm: Arm) -> list[Node]:
    """The conditions of the rows of an entry's tables, in the order in which `_parts` numbers them."""
    shape_nodes = [k for k in arm.condition.kids if k.form == "limit"]
    return list(_nodes(arm.entry, shape_nodes[0])) if shape_nodes else []


def _nodes(shape: Shape, node: Node) -> Iterator[Node]:
    if shape.table is not None:
        yield from node.kids
    kids = iter(node.kids)
    for inner in (*(shape.lesser_of or []), *(shape.greater_of or [])):
        # Plain numbers leave nothing open and have no node.
        if not _closed(inner):
            yield from _nodes(inner, next(kids))


def _closed(shape: Shape) -> bool:
    inner = (*(shape.lesser_of or []), *(shape.greater_of or []))
    if inner:
        return all(_closed(s) for s in inner)
    return shape.value is not None or shape.said is not None or shape.than in ("base", "limit")


def _parts(shape: Version) -> list[tuple[str, Any]]:
    """The values of an entry: a name for each where there are several, and what tells whether it spoke."""
    rows = iter(range(10_000))
    found = list(_flat(shape, rows))
    if len(found) == 1:
        return [("" if not isinstance(found[0][1], _Row) else found[0][0], found[0][1])]
    return found


def _flat(shape: Shape, rows: Iterator[int]) -> Iterator[tuple[str, Any]]:
    if shape.table is not None:
        for row in shape.table.rows:
            yield f"row {number_text(row.value)} where {tree_text(row.when)}", _Row(next(rows), row.value)
    elif shape.said is not None:
        for said in shape.said:
            yield f"{number_text(said.value)} by {said.source}", _Said(said.value)
    elif shape.lesser_of or shape.greater_of:
        others = 0
        for inner in (*(shape.lesser_of or []), *(shape.greater_of or [])):
            for name, value in _flat(inner, rows):
                if value is not None:
                    yield name, value
                else:
                    others += 1
        if others:
            yield "what is worked out", None
    else:
        yield (number_text(shape.value), shape.value) if shape.value is not None else ("", None)


def _entries(limit: Limit) -> Iterator[tuple[str, Version, str]]:
    """Key of the arm, the entry, and the last part of its address; notes that change no outcome are left out."""
    for version in limit.versions:
        yield base_key(version), version, version_name(limit, version)
    named: list[Allowance | Cap] = [*limit.allowances, *limit.caps]
    for entry in named:
        if not (isinstance(entry, Allowance) and entry.form in NOTES_ONLY):
            yield entry.id, entry, entry.id


def _compared(file: RuleFile) -> set[str]:
    """The limits that some column is held against, by themselves or as another limit's number."""
    waiting = [name for rule in file.rules for tree in _trees(rule) for name in tree_limits(tree)]
    found: set[str] = set()
    while waiting:
        name = waiting.pop()
        if name in file.limits and name not in found:
            found.add(name)
            for _, entry, _ in _entries(file.limits[name]):
                waiting += [n for n, same in _built_on(entry) if same]
    return found


def _trees(rule: Rule) -> list[Any]:
    return [rule.where, rule.when, rule.must, *(e.where for e in rule.unless)]


def _side(value: float, bound: float, unit: str | None) -> str:
    """Where a value lies to a boundary; empty where it is not just beside it."""
    off = round(value - bound, 6)
    if off == 0:
        return "at"
    if abs(off) > _near(bound, unit):
        return ""
    return "under" if off < 0 else "over"


def _near(bound: float, unit: str | None) -> float:
    """How far "just beside" goes: a step of a truck scale; a tenth of a foot, one foot of a long way; one of the rest."""
    if unit == "lb":
        return SCALE_STEP_LB
    return 0.1 if unit == "ft" and bound < LONG_FROM_FT else 1.0
