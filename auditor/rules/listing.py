"""Rule files in words for the terminal: a list, or a rule with its limits, sources and examples."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from auditor.rules.columns import tree_limits
from auditor.rules.models import Allowance, Cap, Linear, Rule, RuleFile, Shape, Version
from auditor.rules.reading import Rulebook
from auditor.rules.trees import GROUPS
from auditor.vocabulary import nearest
from auditor.vocabulary.problems import Problem, UnusableInput
from auditor.vocabulary.quantities import number_text, quantity_text


def rule_lines(rulebook: Rulebook, names: Sequence[str], whole: bool) -> Iterator[str]:
    """Lines about the files or rules that begin with one of `names` (all without names); `whole` shows everything.

    Raises UnusableInput for a name that nothing begins with.
    """
    keys = rulebook.keys()
    for name in names:
        if not any(_under(k, name) for k in keys):
            known = sorted({*keys, *(f.id for f in rulebook.files)})
            near = nearest(name, known)
            todo = f"Did you mean {' or '.join(near)}?" if near else "See `auditor rules list`."
            raise UnusableInput([Problem("rules", "", "", f'"{name}"', "a place, file or rule", todo)])
    for file in rulebook.files:
        shown = [r for r in file.rules if not names or any(_under(f"{file.id}/{r.id}", n) for n in names)]
        if shown:
            yield f"{file.id}: {file.title}"
            for rule in shown:
                yield from _whole(file, rule) if whole else [f"  {file.id}/{rule.id}: {rule.title}"]


def _under(key: str, name: str) -> bool:
    return key == name or key.startswith(name.rstrip("/") + "/")


def _whole(file: RuleFile, rule: Rule) -> Iterator[str]:
    yield ""
    yield f"  {file.id}/{rule.id}: {rule.title}"
    yield f"    {rule.standing}, {rule.grade}, duty of the {rule.duty_of}; evidence: {rule.evidence}; {rule.decision}"
    yield f"    {_cited(file, rule)}"
    yield f"    examines {rule.examines}"
    for word, tree in (("where", rule.where), ("when", rule.when), ("must", rule.must)):
        if tree is not None:
            yield f"    {word}: {tree_text(tree)}"
    for exception in rule.unless:
        parts = [tree_text(exception.where)] if exception.where else []
        parts += [f"needs {exception.needs.document}"] if exception.needs else []
        yield f"    unless {exception.title}: {'; '.join(parts)}"
    trees = (rule.must, rule.where, rule.when, *(e.where for e in rule.unless))
    for name in sorted({n for tree in trees for n in tree_limits(tree)}):
        limit = file.limits[name]
        yield f"    limit {name}: {limit.means}"
        for version in limit.versions:
            yield f"      {_value(version, limit.unit)}; {_cited(file, version)}"
        entries: tuple[Allowance | Cap, ...] = (*limit.allowances, *limit.caps)
        for entry in entries:
            form = entry.form if isinstance(entry, Allowance) else "cap"
            yield f"      {form}, {entry.title}: {_value(entry, limit.unit)}; {_cited(file, entry)}"
            if entry.where:
                yield f"        where {tree_text(entry.where)}"
    yield f"    action: {rule.action}"
    yield f"    examples: {len(rule.examples)}"


def _value(shape: Shape, unit: str) -> str:
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
        return f"the {word} of ({'; '.join(_value(s, unit) for s in shape.lesser_of or shape.greater_of or [])})"
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


def _cited(file: RuleFile, entry: Version | Rule) -> str:
    source = file.sources[entry.source]
    dates = [f"from {entry.from_}" if entry.from_ else "", f"until {entry.until}" if entry.until else ""]
    parts = [f"{source.instrument} {entry.at or ''}".strip(), *dates, entry.verified]
    return ", ".join(p for p in parts if p)
