"""The limits a report cites: each entry of a rule file that spoke, with its source."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditor.report.model import Limit
from auditor.rules.columns import tree_columns
from auditor.rules.limits import base_key
from auditor.rules.models import Allowance, Cap, Definition, Rule, RuleFile, Shape, Version
from auditor.rules.models import Limit as RuleLimit
from auditor.rules.reading import Rulebook
from auditor.rules.statements import weakest
from auditor.vocabulary import VIEWS


def limit_key(rule: str, limit_name: str | None, arm: str | None) -> str:
    """Key of a limit entry; a requirement without a named limit goes by its rule."""
    if limit_name is None:
        return rule
    return f"{rule.rpartition('/')[0]}/{limit_name}/{arm or 'base'}"


def entry(rulebook: Rulebook, rule_key: str, limit_name: str | None, arm: str | None) -> Version | Rule:
    """The entry of the rule file that spoke; the rule itself where no named limit did."""
    found = rulebook.find(rule_key)
    if found is None:
        raise KeyError(rule_key)
    file, rule = found
    if limit_name is None:
        return rule
    limit = file.limits[limit_name]
    named: Iterable[Allowance | Cap] = (*limit.allowances, *limit.caps)
    versions = (v for v in limit.versions if base_key(v) == arm)
    return next((e for e in named if e.id == arm), next(versions, limit.versions[-1]))


def mark(rulebook: Rulebook, rule_key: str, limit_name: str | None, arm: str | None) -> str:
    """How well a requirement is known: the weakest of the rule, the entry that spoke, and what these are built on."""
    spoke = entry(rulebook, rule_key, limit_name, arm)
    file, rule = rulebook.get(rule_key)
    defined = (said.verified for _, said in definitions_used(rulebook, rule_key).values())
    if limit_name is None or isinstance(spoke, Rule):
        return weakest(spoke.verified, *defined)
    built_on = _marks(file, spoke, spoke, file.limits[limit_name], {limit_name})
    return weakest(rule.verified, spoke.verified, *defined, *built_on)


def definitions_used(rulebook: Rulebook, rule_key: str) -> dict[str, tuple[RuleFile, Definition]]:
    """The definitions by which the columns that a rule itself tests are made, each with its file."""
    file, rule = rulebook.get(rule_key)
    view, held = VIEWS[rule.examines], rulebook.definitions_of(file.place)
    tested = (view.field(c) for tree in (rule.where, rule.when, rule.must) for c in tree_columns(tree))
    names = {view.defined_by, *(field.defined_by for field in tested if field is not None)}
    return {name: held[name] for name in sorted(n for n in names if n is not None) if name in held}


def _marks(file: RuleFile, shape: Shape, entry: Version, own: RuleLimit, seen: set[str]) -> Iterator[str]:
    """Marks of what a shape is built on: sources that disagree, the version it adds to, other limits."""
    yield from (s.verified for s in shape.said or [])
    if shape.than in ("base", "limit"):
        yield from (v.verified for v in own.versions if _overlap(v, entry))
    for name in (shape.limit, shape.than, *(p.of for p in shape.sum_of or [])):
        if name in file.limits and name not in seen:
            below = file.limits[name]
            for version in below.versions:
                if _overlap(version, entry):
                    yield version.verified
                    yield from _marks(file, version, entry, below, {*seen, name})
    for inner in (*(shape.lesser_of or []), *(shape.greater_of or [])):
        yield from _marks(file, inner, entry, own, seen)


def _overlap(one: Version, other: Version) -> bool:
    """Whether there is a day on which both hold."""
    begins = [d for d in (one.from_, other.from_) if d is not None]
    ends = [d for d in (one.until, other.until) if d is not None]
    return not begins or not ends or max(begins) <= min(ends)


def cite(rulebook: Rulebook, rule_key: str, limit_name: str | None, arm: str | None) -> Limit:
    """A limit entry as the report cites it."""
    found = rulebook.find(rule_key)
    if found is None:
        raise KeyError(rule_key)
    file, rule = found
    spoke = entry(rulebook, rule_key, limit_name, arm)
    if limit_name is None or isinstance(spoke, Rule):
        return _cited(file, rule, limit_key(rule_key, None, None), rule.title, None, "requirement")
    limit = file.limits[limit_name]
    form = spoke.form if isinstance(spoke, Allowance) else "cap" if isinstance(spoke, Cap) else "limit"
    key = limit_key(rule_key, limit_name, arm)
    cited = _cited(file, spoke, key, limit.means, limit.unit, form)
    cited.value = spoke.value
    cited.title = spoke.title if isinstance(spoke, (Allowance, Cap)) else None
    return cited


def cite_definitions(rulebook: Rulebook, rule_key: str) -> Iterator[Limit]:
    """The definitions that a rule rests on and whose text was not read, as the report cites them."""
    for name, (file, said) in definitions_used(rulebook, rule_key).items():
        if said.verified != "read":
            means = f"what counts as {name.replace('_', ' ')}"
            yield _cited(file, said, f"{file.id}/definition/{name}", means, None, "definition")


def _cited(
    file: RuleFile, spoke: Version | Rule | Definition, key: str, means: str, unit: str | None, form: str
) -> Limit:
    source = file.sources[spoke.source]
    return Limit(
        key=key,
        means=means,
        value=None,
        unit=unit,
        form=form,
        title=None,
        instrument=source.instrument,
        at=spoke.at,
        seen=source.seen,
        verified=spoke.verified,
        checked=spoke.checked,
        in_force_from=getattr(spoke, "from_", None),
        in_force_until=getattr(spoke, "until", None),
        note=spoke.note,
        confirmed_by=spoke.confirmed_by.text() if spoke.confirmed_by is not None else None,
    )


def unit_of(file: RuleFile, limit_name: str | None) -> str | None:
    """Unit of a named limit of a file."""
    limit: RuleLimit | None = file.limits.get(limit_name) if limit_name is not None else None
    return limit.unit if limit is not None else None
