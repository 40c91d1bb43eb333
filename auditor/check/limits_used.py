"""The limits a report cites: each entry of a rule file that spoke, with its source."""

from __future__ import annotations

from collections.abc import Iterable

from auditor.report.model import Limit
from auditor.rules.models import Allowance, Cap, Rule, RuleFile, Version
from auditor.rules.models import Limit as RuleLimit
from auditor.rules.reading import Rulebook

_FORMS = {"base": "limit"}


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
    return next((e for e in named if e.id == arm), limit.versions[-1])


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


def _cited(file: RuleFile, spoke: Version | Rule, key: str, means: str, unit: str | None, form: str) -> Limit:
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
        in_force_from=spoke.from_,
        in_force_until=spoke.until,
        note=spoke.note,
    )


def weakest(*marks: str) -> str:
    """The weaker of verification marks: memory, then secondary, then read."""
    return max(marks, key=("read", "secondary", "memory").index)


def unit_of(file: RuleFile, limit_name: str | None) -> str | None:
    """Unit of a named limit of a file."""
    limit: RuleLimit | None = file.limits.get(limit_name) if limit_name is not None else None
    return limit.unit if limit is not None else None
