"""Rule files in words for the terminal: a list, or a rule with its limits, sources and examples."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from auditor.rules.columns import tree_limits
from auditor.rules.models import Allowance, Cap, Rule, RuleFile, Version
from auditor.rules.reading import Rulebook
from auditor.rules.shape_words import tree_text, value_text
from auditor.vocabulary import nearest
from auditor.vocabulary.problems import Problem, UnusableInput

_POSTAL = 2


def rule_lines(rulebook: Rulebook, names: Sequence[str], whole: bool) -> Iterator[str]:
    """Lines about the files or rules that begin with one of `names` (all without names); `whole` shows everything.

    Raises UnusableInput for a name that nothing begins with.
    """
    keys = rulebook.keys()
    for name in names:
        if not any(_under(k, name) for k in keys):
            raise UnusableInput([Problem("rules", "", "", f'"{name}"', "a place, file or rule", _todo(rulebook, name))])
    for file in rulebook.files:
        shown = [r for r in file.rules if not names or any(_under(f"{file.id}/{r.id}", n) for n in names)]
        if shown:
            yield f"{file.id}: {file.title}"
            for rule in shown:
                yield from _whole(file, rule) if whole else [f"  {file.id}/{rule.id}: {rule.title}"]


def _todo(rulebook: Rulebook, name: str) -> str:
    """What to name instead: of what looks like a place the places that there are, else the nearest file or rule."""
    place = name.rstrip("/").lower()
    if "/" not in place and (place.startswith("us") or len(place) == _POSTAL):
        return f"Places with rule files: {', '.join(p.lower() for p in rulebook.places())}."
    near = nearest(name, sorted({*rulebook.keys(), *(f.id for f in rulebook.files)}))
    return f"Did you mean {' or '.join(near)}?" if near else "See `auditor rules list`."


def _under(key: str, name: str) -> bool:
    name = name.rstrip("/").lower()
    return key.lower() == name or key.lower().startswith(name + "/")


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
            yield f"      {value_text(version, limit.unit)}; {_cited(file, version)}"
        entries: tuple[Allowance | Cap, ...] = (*limit.allowances, *limit.caps)
        for entry in entries:
            form = entry.form if isinstance(entry, Allowance) else "cap"
            yield f"      {form}, {entry.title}: {value_text(entry, limit.unit)}; {_cited(file, entry)}"
            if entry.where:
                yield f"        where {tree_text(entry.where)}"
    yield f"    action: {rule.action}"
    yield f"    examples: {len(rule.examples)}"


def _cited(file: RuleFile, entry: Version | Rule) -> str:
    source = file.sources[entry.source]
    dates = [f"from {entry.from_}" if entry.from_ else "", f"until {entry.until}" if entry.until else ""]
    known = f"confirmed by {entry.confirmed_by.text()}" if entry.confirmed_by is not None else entry.verified
    parts = [f"{source.instrument} {entry.at or ''}".strip(), *dates, known]
    return ", ".join(p for p in parts if p)
