"""Limits and conditions of rule files in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from auditor.rules.models import Linear, Shape
from auditor.rules.trees import GROUPS
from auditor.vocabulary.quantities import number_text, quantity_text


def value_text(shape: Shape, unit: str) -> str:
    """What a shape says, in words: "36,000 lb", "10 percent more than base", the rows of a table."""
    if shape.value is not None:
        return quantity_text(shape.value, unit)
    if shape.words is not None:
        return ", ".join(shape.words)
    if shape.percent_more is not None:
        return f"{number_text(shape.percent_more)} percent more than {shape.than}"
    if shape.said is not None:
        values = " or ".join(quantity_text(s.value, unit) for s in shape.said)
        return f"{values}, for the sources disagree"
    if shape.table is not None:
        return "; ".join(f"{quantity_text(r.value, unit)} where {tree_text(r.when)}" for r in shape.table.rows)
    if shape.points is not None:
        at = ", ".join(f"{number_text(x)}: {number_text(y)}" for x, y in sorted(shape.points.values.items()))
        return f"by {shape.points.at}, {at}; {shape.points.between} between ({shape.points.between_is})"
    if shape.linear is not None:
        return _line(shape.linear, unit)
    if shape.measure is not None:
        given = [f"{k}: {v}" for k, v in (*shape.measure.of.items(), *shape.measure.parameters.items())]
        return f"{shape.measure.name} of {', '.join(given)}"
    if shape.sum_of is not None:
        return " + ".join(f"{p.times} x {p.of}" for p in shape.sum_of)
    if shape.lesser_of is not None or shape.greater_of is not None:
        word = "lesser" if shape.lesser_of is not None else "greater"
        return f"the {word} of ({'; '.join(value_text(s, unit) for s in shape.lesser_of or shape.greater_of or [])})"
    return str(shape.field or shape.limit)


def _line(linear: Linear, unit: str) -> str:
    text = f"{number_text(linear.times)} x {linear.per}"
    if linear.base:
        text = f"{quantity_text(linear.base, unit)} + {text}"
    ends = [("at least", linear.at_least), ("at most", linear.at_most)]
    return ", ".join([text, *(f"{word} {quantity_text(end, unit)}" for word, end in ends if end is not None)])


def tree_text(tree: Mapping[str, Any]) -> str:
    """A condition in words: "product is one of sawlogs, chips; haul_radius_miles at most 100"."""
    return "; ".join(_entry_text(key, body) for key, body in tree.items())


def _branch_text(tree: Mapping[str, Any]) -> str:
    text = " and ".join(_entry_text(key, body) for key, body in tree.items())
    return f"({text})" if len(tree) > 1 else text


def _entry_text(key: str, body: Any) -> str:
    if key == "at_least_n_of":
        return f"at least {body['n']} of ({' or '.join(_branch_text(t) for t in body['of'])})"
    if key in GROUPS:
        join = " and " if key == "all_of" else " or "
        inside = join.join(_branch_text(t) for t in body)
        return f"none of ({inside})" if key == "none_of" else f"({inside})"
    tests = body if isinstance(body, Mapping) else {"equals": body}
    return " and ".join(f"{key} {_test_text(op, against)}" for op, against in tests.items())


def _test_text(op: str, against: Any) -> str:
    if op == "recorded":
        return "is recorded" if against else "is left blank"
    if isinstance(against, Mapping):
        against = against.get("limit") or against.get("field")
    elif isinstance(against, list):
        against = ", ".join(str(word) for word in against)
    elif isinstance(against, bool):
        against = "yes" if against else "no"
    interval = isinstance(against, str) and against[:1] in ("[", "(")
    words = {"equals": "in" if interval else "is", "one_of": "is one of", "none_of": "is none of", "within": "in"}
    return f"{words.get(op, op.replace('_', ' '))} {against}"
