"""Gaps and overlaps of a decision table over all its columns at once."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from operator import eq, ge, gt, le, lt
from typing import Any

from auditor.rules.models import DecisionTable
from auditor.vocabulary import View
from auditor.vocabulary.intervals import Interval, parse_interval

_LARGEST = 20_000


def check_table(table: DecisionTable, view: View) -> list[str]:
    """Say where no row answers and where two rows with different values do.

    Every column is cut at the ends of its intervals into points and open stretches, or into its classes; each cell
    of the grid must lie in exactly one row, or in rows that agree.
    """
    columns = sorted({c for row in table.rows for c in row.when})
    if any(not _simple(row.when) for row in table.rows):
        return []
    cuts = {c: _cells(c, table, view) for c in columns}
    if math.prod(len(v) for v in cuts.values()) > _LARGEST:
        return [f"more than {_LARGEST} cells"]
    found: list[str] = []
    for cell in itertools.product(*(cuts[c] for c in columns)):
        at = dict(zip(columns, cell, strict=True))
        values = {row.value for row in table.rows if all(_holds(row.when[c], at[c]) for c in row.when)}
        shown = ", ".join(f"{c} {v}" for c, v in at.items())
        if not values:
            found.append(f"no row for {shown}")
        elif len(values) > 1:
            found.append(f"rows that differ for {shown}")
    return found[:10]


def _simple(when: Mapping[str, Any]) -> bool:
    plain = all(isinstance(v, (str, bool, int, float)) or _plain(v) for v in when.values())
    return plain and not {"all_of", "any_of", "none_of", "at_least_n_of"} & set(when)


def _plain(test: Any) -> bool:
    """Whether a test compares with plain values, whose cells can be counted out."""
    return isinstance(test, Mapping) and all(
        op in ("one_of", "none_of", "within", "at_least", "more_than", "at_most", "less_than", "equals")
        and not isinstance(against, Mapping)
        for op, against in test.items()
    )


def _cells(column: str, table: DecisionTable, view: View) -> list[Any]:
    field = view.field(column)
    if field is not None and field.kind == "yes_no":
        return [True, False]
    if field is not None and field.classes:
        return list(field.classes)
    tests = [row.when[column] for row in table.rows if column in row.when]
    if field is not None and field.kind == "text":
        return [*sorted({word for test in tests for word in _words(test)}), "another word"]
    ends = {e for test in tests for e in _ends(test)}
    low = field.low if field is not None and field.low is not None else 0.0
    high = field.high if field is not None and field.high is not None else math.inf
    points = sorted({e for e in ends if math.isfinite(e) and low <= e <= high} | {float(low)})
    above = [] if points[-1] + 1 > high else [points[-1] + 1]
    if field is not None and field.kind == "whole":
        between = [a + 1 for a, b in itertools.pairwise(points) if a + 1 < b]
        return [*points, *between, *above]
    return [*points, *((a + b) / 2 for a, b in itertools.pairwise(points)), *above]


def _words(test: Any) -> list[str]:
    if isinstance(test, Mapping):
        return [w for against in test.values() for w in (against if isinstance(against, list) else [against])]
    return [str(test)]


def _ends(test: Any) -> list[float]:
    if isinstance(test, str):
        interval = parse_interval(test)
        return [interval.low, interval.high]
    if isinstance(test, Mapping):
        against = [v for value in test.values() for v in (value if isinstance(value, list) else [value])]
        return [end for v in against for end in (_ends(v) if isinstance(v, str) else [float(v)])]
    return [float(test)]


def _holds(test: Any, value: Any) -> bool:
    if isinstance(test, Mapping):
        return all(_op(op, against, value) for op, against in test.items())
    if isinstance(test, str) and not isinstance(value, str):
        interval: Interval = parse_interval(test)
        return interval.holds(float(value))
    return bool(test == value)


def _op(op: str, against: Any, value: Any) -> bool:
    if op == "one_of":
        return value in against
    if op == "none_of":
        return value not in against
    if op == "within":
        return parse_interval(against).holds(float(value))
    compare = {"at_least": ge, "more_than": gt, "at_most": le, "less_than": lt, "equals": eq}[op]
    return bool(compare(value, against))
