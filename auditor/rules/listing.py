"""Rule files in words for the terminal: a list, or a rule with its limits, sources and examples."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from auditor.rules.models import Allowance, Cap, Rule, RuleFile, Version
from auditor.rules.reading import Rulebook
from auditor.vocabulary import nearest
from auditor.vocabulary.problems import Problem, UnusableInput


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
            yield f"    {word}: {tree}"
    for exception in rule.unless:
        needs = f"; needs {exception.needs.document}" if exception.needs else ""
        yield f"    unless {exception.title}: {exception.where or ''}{needs}"
    for name in sorted(set(_limits(rule.must)) | set(_limits(rule.where)) | set(_limits(rule.when))):
        limit = file.limits[name]
        yield f"    limit {name}: {limit.means}"
        for version in limit.versions:
            yield f"      {_value(version, limit.unit)}; {_cited(file, version)}"
        entries: tuple[Allowance | Cap, ...] = (*limit.allowances, *limit.caps)
        for entry in entries:
            form = entry.form if isinstance(entry, Allowance) else "cap"
            yield f"      {form}, {entry.title}: {_value(entry, limit.unit)}; {_cited(file, entry)}"
            if entry.where:
                yield f"        where {entry.where}"
    yield f"    action: {rule.action}"
    yield f"    examples: {len(rule.examples)}"


def _value(version: Version, unit: str) -> str:
    kind = version.kind
    value: Any = getattr(version, kind)
    if kind == "percent_more":
        return f"{value:g} percent more than {version.than}"
    if kind == "value":
        return f"{value:,g} {unit}"
    return f"{kind} {value}"


def _cited(file: RuleFile, entry: Version | Rule) -> str:
    source = file.sources[entry.source]
    dates = [f"from {entry.from_}" if entry.from_ else "", f"until {entry.until}" if entry.until else ""]
    parts = [f"{source.instrument} {entry.at or ''}".strip(), *dates, entry.verified]
    return ", ".join(p for p in parts if p)


def _limits(tree: object) -> Iterator[str]:
    if isinstance(tree, dict):
        if isinstance(tree.get("limit"), str):
            yield tree["limit"]
        for body in tree.values():
            yield from _limits(body)
    elif isinstance(tree, list):
        for body in tree:
            yield from _limits(body)
