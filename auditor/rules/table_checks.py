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
    return all(isinstance(v, (str, bool, int, float, Mapping)) for v in when.values()) and not {
        "all_of", "any_of", "none_of", "at_least_n_of",
    } & set(when)  # fmt: skip


def _cells(column: str, table: DecisionTable, view: View) -> list[Any]:
    field = view.field(column)
    if field is not None and field.kind == "yes_no":
        return [True, False]
    if field is not None and field.classes:
        return list(field.classes)
    ends = sorted({e for row in table.rows if column in row.when for e in _ends(row.when[column])})
    low = field.low if field is not None and field.low is not None else 0.0
    points = sorted({e for e in ends if math.isfinite(e) and e >= low} | {float(low)})
    whole = field is not None and field.kind == "whole"
    between = [] if whole else [(a + b) / 2 for a, b in itertools.pairwise(points)]
    return [*points, *between, points[-1] + 1]


def _ends(test: Any) -> list[float]:
    if isinstance(test, str):
        interval = parse_interval(test)
        return [interval.low, interval.high]
    if isinstance(test, Mapping):
        return [float(v) for v in test.values() if isinstance(v, (int, float))]
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
    compare = {"at_least": ge, "more_than": gt, "at_most": le, "less_than": lt, "equals": eq}[op]
    return bool(compare(value, against))
