"""A second, two-valued reading of rules, written apart from the engine: plain Python over one complete row."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from auditor.rules.models import Dated, Limit, Rule
from auditor.vocabulary import Field, View
from auditor.vocabulary.intervals import parse_interval

ROWS = View(
    "test_rows",
    "row",
    "a view for tests",
    ("ticket_number",),
    (
        Field("ticket_number", "text", "key"),
        Field("load_date", "date", "day"),
        Field("height_ft", "number", "a height", "ft"),
        Field("weight_lb", "number", "a weight known within a range", "lb", interval=True),
        Field("kind", "class", "a class", classes=("frame", "pole", "crib")),
        Field("wet", "yes_no", "a yes or no"),
    ),
)
PAPER = "holds:overweight_permit"
CHANGE = date(2023, 7, 1)
DOMAIN: dict[str, list[Any]] = {
    "height_ft": [0.0, 10.0, 13.5, 14.0, 20.0],
    "weight_lb": [100.0, 200.0, 210.0, 220.0, 300.0],
    "kind": ["frame", "pole", "crib"],
    "wet": [True, False],
    PAPER: [True, False],
    "load_date": [date(2023, 6, 30), CHANGE],
}
Row = Mapping[str, Any]


def worlds(row: Row) -> Iterator[dict[str, Any]]:
    """Every way to fill the blanks of a row; a range is filled with each value of the domain inside it."""
    choices: list[list[Any]] = []
    for name, domain in DOMAIN.items():
        value = row[name]
        if value is None:
            choices.append(domain)
        elif isinstance(value, tuple):
            choices.append([v for v in domain if value[0] <= v <= value[1]])
        else:
            choices.append([value])
    for filled in itertools.product(*choices):
        yield dict(zip(DOMAIN, filled, strict=True))


def outcome(rule: Rule, limits: Mapping[str, Limit], row: Row) -> str:
    """Outcome of a complete row: not applicable, conformity or nonconformity."""
    day = row["load_date"]
    if not rule.in_force(day):
        return "not applicable"
    for part in (rule.where, rule.when):
        if part is not None and not tree(part, limits, row):
            return "not applicable"
    for exception in rule.unless:
        shown = exception.needs is None or row[PAPER]
        if shown and (exception.where is None or tree(exception.where, limits, row)):
            return "not applicable"
    return "conformity" if tree(rule.must, limits, row) else "nonconformity"


def tree(body: Mapping[str, Any], limits: Mapping[str, Limit], row: Row) -> bool:
    """Truth of a tree on a complete row."""
    return all(_entry(k, v, limits, row) for k, v in body.items())


def _entry(key: str, body: Any, limits: Mapping[str, Limit], row: Row) -> bool:
    if key == "all_of":
        return all(tree(t, limits, row) for t in body)
    if key == "any_of":
        return any(tree(t, limits, row) for t in body)
    if key == "none_of":
        return not any(tree(t, limits, row) for t in body)
    if key == "at_least_n_of":
        return sum(tree(t, limits, row) for t in body["of"]) >= body["n"]
    if isinstance(body, Mapping):
        return all(_test(row[key], op, against, limits, row) for op, against in body.items())
    if isinstance(body, str) and body[:1] in "[(":
        return parse_interval(body).holds(row[key])
    return bool(row[key] == body)


def _test(value: Any, op: str, against: Any, limits: Mapping[str, Limit], row: Row) -> bool:
    if op == "one_of":
        return value in against
    if op == "none_of":
        return value not in against
    bound = limit_value(limits[against["limit"]], limits, row) if isinstance(against, Mapping) else against
    return {
        "at_least": value >= bound,
        "more_than": value > bound,
        "at_most": value <= bound,
        "less_than": value < bound,
    }[op]


def limit_value(limit: Limit, limits: Mapping[str, Limit], row: Row) -> float:
    """The lawful limit of a complete row: the version in force, raised by what is shown, capped by what applies."""
    day = row["load_date"]
    version = next(v for v in limit.versions if v.in_force(day))
    base = _shape(version, None, limits, row)
    value = base
    for allowance in limit.allowances:
        raises = allowance.form in ("raised limit", "permit") and (allowance.needs is None or row[PAPER])
        if raises and _applies(allowance, allowance.where, limits, row):
            value = max(value, _shape(allowance, base, limits, row))
    for cap in limit.caps:
        if _applies(cap, cap.where, limits, row):
            value = min(value, _shape(cap, base, limits, row))
    return value


def _applies(entry: Dated, where: Mapping[str, Any] | None, limits: Mapping[str, Limit], row: Row) -> bool:
    return entry.in_force(row["load_date"]) and (where is None or tree(where, limits, row))


def _shape(shape: Any, base: float | None, limits: Mapping[str, Limit], row: Row) -> float:
    if shape.value is not None:
        return float(shape.value)
    if shape.table is not None:
        return float(next(r.value for r in shape.table.rows if tree(r.when, limits, row)))
    if shape.linear is not None:
        raw = shape.linear.base + shape.linear.times * row[shape.linear.per]
        return float(min(raw, shape.linear.at_most)) if shape.linear.at_most is not None else float(raw)
    if shape.lesser_of is not None:
        return min(_shape(s, base, limits, row) for s in shape.lesser_of)
    assert shape.percent_more is not None and base is not None
    return base * (100 + shape.percent_more) / 100
