"""One judgement step by step: every part of a rule on one row, with values, limits and what is blank."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from auditor.check.details import describe
from auditor.check.evaluate import Judged
from auditor.check.limits_used import unit_of
from auditor.check.map_rows import with_map_rows
from auditor.check.tally import judge_tables, tables_of
from auditor.check.walk import said
from auditor.record import Record
from auditor.rules import kleene
from auditor.rules.compiled import Code, CompiledRule
from auditor.rules.limits import Arm, Ladder
from auditor.rules.models import Cap, Version
from auditor.rules.nodes import Node
from auditor.rules.reading import Rulebook
from auditor.vocabulary import SUBJECTS, VIEWS, nearest, subject_key
from auditor.vocabulary.problems import Problem, UnusableInput
from auditor.vocabulary.quantities import number_text, quantity_text

_WORDS = {
    "at_least": "at least", "more_than": "more than", "at_most": "at most", "less_than": "less than",
    "equals": "is", "one_of": "is one of", "none_of": "is none of", "includes": "includes one of", "within": "lies in",
}  # fmt: skip
_NAMES = {"ticket_number": "ticket", "notice_kind": "notice", "drain_group": "drains", "strip_from_ft": "strip"}
_RULES = "`auditor rules list` names the rules."
_GROUPS = {"all_of": "all of", "any_of": "any of", "none_of": "none of", "at_least_n_of": "at least {n} of"}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of an explanation: how deep it stands, whether it holds (None: unknown), and what it says."""

    depth: int
    holds: bool | None
    text: str


@dataclass(frozen=True, slots=True)
class Explanation:
    """The judgement of one row: what it is, how it came out, and the steps."""

    rule: str
    item: str
    outcome: str
    lines: tuple[Line, ...]


def explain(record: Record, rulebook: Rulebook, rule_key: str, item: str | None = None) -> list[Explanation]:
    """Every row of the rule that belongs to the load, bank or crossing `item` (None: the first row judged), step by step.

    Raises UnusableInput when the rule is not known or no row belongs to the item.
    """
    if rulebook.find(rule_key) is None:
        raise _unknown("rule", rule_key, "a rule as place/topic/rule", rulebook.keys(), _RULES)
    record = with_map_rows(record).record
    found: list[tuple[int, Explanation]] = []
    for judged in judge_tables(tables_of(record), rulebook):
        for index, rule in enumerate(judged.rules):
            if rule.key == rule_key:
                found += _rows(judged, index, rule, item, (rulebook, record.criteria))
    if not found and item is not None:
        subject = VIEWS[rulebook.get(rule_key)[1].examines].subject
        name = "ticket number" if subject == "loads" else "name"
        expected = f"the {name} of a {SUBJECTS[subject]} that {rule_key} was held against"
        known = set(record.tables[subject][subject_key(subject)].to_list()) - {item, None}
        raise _unknown(SUBJECTS[subject], item, expected, known, f"Leave out the {name} to see the gravest row.")
    if not found:
        todo = "The report of `auditor check` tells which rules met a row."
        raise _unknown("rule", rule_key, "a rule that some row of the record met", (), todo)
    if item is None:
        found = [max(found, key=lambda pair: pair[0])]
    return [explanation for _, explanation in found]


def _unknown(field: str, found: str, expected: str, known: Iterable[str], otherwise: str) -> UnusableInput:
    """A name that nothing goes by: the nearest known ones, or what to do otherwise."""
    near = nearest(found, sorted(known))
    todo = f"Did you mean {' or '.join(near)}?" if near else otherwise
    return UnusableInput([Problem("", "", field, f'"{found}"', expected, todo)])


def _rows(
    judged: Judged,
    index: int,
    rule: CompiledRule,
    item: str | None,
    under: tuple[Rulebook, Mapping[str, Sequence[str]]],
) -> Iterator[tuple[int, Explanation]]:
    """The rows of a rule with their codes; `under` holds the rules and the practices that each job takes as criteria."""
    wanted = pl.lit(True) if item is None else pl.col("subject") == item
    rows = judged.frame.with_columns(judged.codes[str(index)].alias("code")).filter(wanted)
    if item is None:
        rows = rows.sort("code", descending=True, maintain_order=True).head(1)
    for position in range(rows.height):
        row = rows[position]
        code = int(row["code"][0])
        lines = tuple(_lines(row, rule, Code(code), under[0]))
        outcome = said(code, under[0], rule.key, under[1].get(str(row["job"][0]), ()))
        yield code, Explanation(rule.key, _named(row, judged.view), outcome, lines)


def _named(row: pl.DataFrame, view: str) -> str:
    """The row as its owner would name it: "ticket 5004, leg 1, axles 2 to 3", "bank b2, strip 0 to 40 ft"."""
    values = {column: row[column][0] for column in VIEWS[view].item}
    said = []
    for column, value in values.items():
        if value is None or column in ("last_axle", "strip_to_ft"):
            continue
        name = _NAMES.get(column, column.replace("_", " "))
        if column == "first_axle":
            said.append(_from_to("axle", "axles", value, values["last_axle"]))
        elif column == "strip_from_ft":
            said.append(f"{_from_to('strip from', 'strip', value, values['strip_to_ft'])} ft")
        else:
            said.append(f"{name} {str(value).replace('_', ' ') if column == 'notice_kind' else value}")
    return ", ".join(said)


def _from_to(one: str, many: str, first: float, last: float | None) -> str:
    if last is None or last == first:
        return f"{one} {number_text(first)}"
    return f"{many} {number_text(first)} to {number_text(last)}"


def _off(detail: Mapping[str, Any], rule: CompiledRule, rulebook: Rulebook) -> str:
    """How far off a row is, in the unit of its limit."""
    field = VIEWS[rule.rule.examines].field(detail["column"])
    unit = unit_of(rulebook.get(rule.key)[0], detail["limit_name"]) or (field.unit if field is not None else None)
    return f"off by {quantity_text(detail['margin'], unit)}"


def _lines(row: pl.DataFrame, rule: CompiledRule, code: Code, rulebook: Rulebook) -> Iterator[Line]:
    for title, part in (
        ("scope", rule.where),
        ("trigger", rule.when),
        ("exception", rule.unless),
        ("requirement", rule.must),
    ):
        if part is not None:
            yield Line(0, _truth(row, part.truth), title)
            yield from _node(row, part, 1)
    for name in dict.fromkeys(n.test.limit for n in rule.must.tests() if n.test is not None and n.test.limit):
        yield from _ladder(row, rule.ladders[name])
    if code == Code.NONCONFORMITY:
        detail = describe(row, rule).to_dicts()[0]
        if detail["margin"] is not None:
            yield Line(0, False, _off(detail, rule, rulebook))


def _truth(row: pl.DataFrame, truth: pl.Expr) -> bool | None:
    value = row.select(truth.alias("truth"))["truth"][0]
    return None if value is None else bool(value)


def _node(row: pl.DataFrame, node: Node, depth: int) -> Iterator[Line]:
    holds = _truth(row, node.truth)
    if node.test is not None:
        yield Line(depth, holds, _test(row, node))
        return
    if node.blanks:
        yield Line(depth, holds, ", ".join(_plain(c) for c in node.blanks))
    elif node.form in _GROUPS:
        yield Line(depth, holds, _GROUPS[node.form].format(n=node.n))
    for kid in node.kids:
        if kid.form != "limit":
            yield from _node(row, kid, depth + 1)


def _plain(column: str) -> str:
    if column.startswith("holds:"):
        return "a valid " + column.split(":")[1].replace("_", " ") + " is held on the day"
    return column


def _test(row: pl.DataFrame, node: Node) -> str:
    test = node.test
    assert test is not None
    low, high = (row.select(e.alias("v"))["v"][0] for e in (test.low, test.high))
    shown = _value(low) if low == high else f"between {_value(low)} and {_value(high)}"
    if test.op == "recorded":
        return f"{test.column} = {shown}, {'is recorded' if test.against else 'is left blank'}"
    text = f"{test.column} = {shown}, {_WORDS[test.op]} "
    if test.limit_low is None or test.limit_high is None:
        return text + (", ".join(test.against) if isinstance(test.against, list) else _value(test.against))
    ends = [row.select(e.alias("v"))["v"][0] for e in (test.limit_low, test.limit_high)]
    limit = _value(ends[0]) if ends[0] == ends[1] else f"between {_value(ends[0])} and {_value(ends[1])}"
    return text + limit + (f" ({test.limit})" if test.limit else "")


def _ladder(row: pl.DataFrame, ladder: Ladder) -> Iterator[Line]:
    columns = ladder.columns
    known = bool(_truth(row, columns.node.truth))
    shown = "" if columns.words is not None else f" = {_range(row, columns.low, columns.high, ladder.limit.unit)}"
    yield Line(0, True if known else None, f"limit {ladder.name}{shown}: {ladder.limit.means}")
    for arm in (*ladder.arms, *ladder.tolerances):
        yield from _arm(row, arm, ladder)


def _arm(row: pl.DataFrame, arm: Arm, ladder: Ladder) -> Iterator[Line]:
    conditions = [k for k in arm.condition.kids if k.form != "limit"]
    holds = _truth(row, kleene.all_of([k.truth for k in conditions])) if conditions else True
    source = f"{arm.entry.source} {arm.entry.at or ''}".strip()
    title = getattr(arm.entry, "title", None) or arm.key
    form = getattr(arm.entry, "form", "cap" if isinstance(arm.entry, Cap) else "limit")
    words = arm.entry.words
    value = ", ".join(words) if words is not None else _range(row, arm.low, arm.high, ladder.limit.unit)
    yield Line(1, holds, f"{title} ({form}): {value}; {source}, {_known(arm.entry)}")
    for condition in conditions:
        yield from _node(row, condition, 2)


def _range(row: pl.DataFrame, low: pl.Expr, high: pl.Expr, unit: str) -> str:
    """A limit on one row: one number, a range, or not known."""
    ends = [row.select(e.alias("v"))["v"][0] for e in (low, high)]
    finite = [quantity_text(e, unit) if e is not None and math.isfinite(e) else None for e in ends]
    if finite[0] is not None and finite[0] == finite[1]:
        return finite[0]
    if finite == [None, None]:
        return "not known"
    return f"between {finite[0] or 'an unknown least'} and {finite[1] or 'an unknown most'}"


def _value(value: Any) -> str:
    if value is None:
        return "blank"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return number_text(value) if isinstance(value, (int, float)) and math.isfinite(value) else str(value)


def _known(entry: Version) -> str:
    return f"confirmed by {entry.confirmed_by.text()}" if entry.confirmed_by is not None else entry.verified
