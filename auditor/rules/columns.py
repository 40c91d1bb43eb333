"""Which columns of a view its rules and their limits read."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from auditor.rules.models import Limit, Rule, RuleFile, Shape
from auditor.rules.trees import GROUPS
from auditor.vocabulary import VIEWS


def columns_read(rules: Iterable[tuple[RuleFile, Rule]]) -> set[str]:
    """Every column that the rules, their exceptions and the limits they use read; papers are not among them."""
    found: set[str] = set()
    for file, rule in rules:
        trees = [rule.where, rule.when, rule.must, *(e.where for e in rule.unless)]
        for tree in trees:
            found |= set(tree_columns(tree))
        names = {n for tree in trees for n in tree_limits(tree)}
        for name in all_limits(file, names):
            found |= _limit_columns(file.limits[name])
        fields = VIEWS[rule.examines].fields
        found |= {f.whole_by for f in fields if f.name in found and f.whole_by is not None}
        if rule.decision == "guarded":
            found |= {f.uncertainty for f in fields if f.name in found and f.uncertainty is not None}
    return found


def all_limits(file: RuleFile, names: Iterable[str]) -> set[str]:
    """The limits named and every limit these are built on."""
    found: set[str] = set()
    waiting = list(names)
    while waiting:
        name = waiting.pop()
        if name in found or name not in file.limits:
            continue
        found.add(name)
        for entry in entries(file.limits[name]):
            waiting += [*shape_limits(entry), *tree_limits(getattr(entry, "where", None))]
    return found


def entries(limit: Limit) -> Sequence[Any]:
    """Versions, allowances and caps of a limit."""
    return (*limit.versions, *limit.allowances, *limit.caps)


def tree_columns(tree: Mapping[str, Any] | None) -> Iterator[str]:
    """Columns a tree tests or compares with."""
    for key, body in (tree or {}).items():
        if key in GROUPS:
            for branch in body["of"] if isinstance(body, Mapping) else body:
                yield from tree_columns(branch)
            continue
        yield key
        if isinstance(body, Mapping):
            yield from (str(a["field"]) for a in body.values() if isinstance(a, Mapping) and "field" in a)


def tree_limits(tree: object) -> Iterator[str]:
    """Names of the limits a tree compares with."""
    if isinstance(tree, Mapping):
        name = tree.get("limit")
        if isinstance(name, str):
            yield name
        for body in tree.values():
            yield from tree_limits(body)
    elif isinstance(tree, list):
        for body in tree:
            yield from tree_limits(body)


def shape_limits(shape: Shape) -> Iterator[str]:
    """Names of the limits a shape is built on."""
    yield from (n for n in (shape.limit, shape.than) if n is not None and n not in ("base", "limit"))
    yield from (p.of for p in shape.sum_of or [])
    for inner in (*(shape.lesser_of or []), *(shape.greater_of or [])):
        yield from shape_limits(inner)


def shape_columns(shape: Shape) -> list[str]:
    """Columns a shape reads outside its table."""
    found = [shape.field] if shape.field is not None else []
    if shape.measure is not None:
        found += list(shape.measure.of.values())
    found += [p.times for p in shape.sum_of or [] if isinstance(p.times, str)]
    found += [s for s in (shape.points.at if shape.points else None, shape.linear.per if shape.linear else None) if s]
    for inner in (*(shape.lesser_of or []), *(shape.greater_of or [])):
        found += shape_columns(inner)
    return found


def _limit_columns(limit: Limit) -> set[str]:
    found: set[str] = set()
    for entry in entries(limit):
        found |= set(shape_columns(entry)) | set(tree_columns(getattr(entry, "where", None)))
        for row in _table_rows(entry):
            found |= set(tree_columns(row))
    return found


def _table_rows(shape: Shape) -> Iterator[Mapping[str, Any]]:
    if shape.table is not None:
        yield from (r.when for r in shape.table.rows)
    for inner in (*(shape.lesser_of or []), *(shape.greater_of or [])):
        yield from _table_rows(inner)
