"""Every statement of a rule file that has a source: limits, allowances, caps, rule texts, exceptions, definitions."""

from __future__ import annotations

import calendar
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from auditor.rules.models import MARKS, Allowance, Cap, Cited, Exception_, Limit, Needs, Rule, RuleFile, Version
from auditor.rules.shape_words import tree_text, value_text

ORDER = ("confirmed", *MARKS)
"""Marks of how well something is known, the best first."""
_CITATION = frozenset(Cited.model_fields)


@dataclass(frozen=True, slots=True)
class Statement:
    """One statement and where it stands.

    `address` names it: us-sc/weight/gross_limit_lb/base, with @ and a day where a limit has several versions;
    us/securement/rule/wrapper-spacing; us/securement/definition/working_load_limits/tables/chain-70.
    `path` leads to it inside the file, `now` is what it says in words.
    """

    address: str
    path: tuple[str | int, ...]
    kind: str
    means: str
    now: str
    source: str
    at: str | None
    verified: str
    checked: date | None
    note: str | None
    from_: date | None = None
    until: date | None = None


def weakest(*marks: str) -> str:
    """The weaker of marks of how well something is known: memory, then secondary, then read and confirmed."""
    return max(marks, key=ORDER.index)


def looked_at_long_ago(checked: date | None, months: int, day: date) -> bool:
    """Whether someone last looked longer than so many months before the day, or on no known day.

    Months are those of the calendar: one before 31 March is 28 or 29 February.

    >>> looked_at_long_ago(date(2026, 2, 27), 1, date(2026, 3, 31)), looked_at_long_ago(date(2026, 2, 28), 1, date(2026, 3, 31))
    (True, False)
    """
    if checked is None:
        return True
    count = day.year * 12 + day.month - 1 - months
    year, month = divmod(count, 12)
    if year < 1:
        return False
    last = calendar.monthrange(year, month + 1)[1]
    return checked < date(year, month + 1, min(day.day, last))


def statements(file: RuleFile) -> Iterator[Statement]:
    """Every statement of the file, definitions first, then limits, then rules."""
    for name, definition in file.definitions.items():
        yield from _of_definition(file, name, definition)
    for name, limit in file.limits.items():
        yield from _of_limit(file, name, limit)
    for place, rule in enumerate(file.rules):
        address = f"{file.id}/rule/{rule.id}"
        yield _cited(rule, address, ("rules", place), "requirement", rule.title, _rule_text(rule))
        for at, exception in enumerate(rule.unless):
            if exception.verified is not None:
                yield Statement(
                    f"{address}/unless/{exception.id}",
                    ("rules", place, "unless", at),
                    "exception",
                    f"{exception.title}: exception to {rule.title}",
                    _conditions(exception),
                    exception.source or rule.source,
                    None if exception.source else rule.at,
                    exception.verified,
                    rule.checked,
                    None,
                )


def version_name(limit: Limit, version: Version) -> str:
    """The last part of the address of a version: base, base@2023-07-01, or base@until-2023-06-30 for an open beginning."""
    if len(limit.versions) == 1:
        return "base"
    return f"base@{version.from_}" if version.from_ is not None else f"base@until-{version.until}"


def _of_limit(file: RuleFile, name: str, limit: Limit) -> Iterator[Statement]:
    for place, version in enumerate(limit.versions):
        address = f"{file.id}/{name}/{version_name(limit, version)}"
        yield _value(version, address, ("limits", name, "versions", place), "limit", limit.means, limit.unit)
    for place, allowance in enumerate(limit.allowances):
        path = ("limits", name, "allowances", place)
        yield _named(file, name, limit, allowance, path, allowance.form)
    for place, cap in enumerate(limit.caps):
        yield _named(file, name, limit, cap, ("limits", name, "caps", place), "cap")


def _rule_text(rule: Rule) -> str:
    parts = (("where", rule.where), ("when", rule.when), ("must", rule.must))
    return "; ".join(f"{word} {tree_text(tree)}" for word, tree in parts if tree)


def _conditions(entry: Allowance | Cap | Exception_) -> str:
    """The conditions of an entry and the paper that it needs, in words."""
    needs: Needs | None = getattr(entry, "needs", None)
    parts = [f"where {tree_text(entry.where)}"] if entry.where else []
    if needs is not None:
        parts.append(f"needs {needs.document.replace('_', ' ')}" + (f" of {needs.state}" if needs.state else ""))
    return "; ".join(parts)


def _named(
    file: RuleFile, name: str, limit: Limit, entry: Allowance | Cap, path: tuple[str | int, ...], kind: str
) -> Statement:
    return _value(entry, f"{file.id}/{name}/{entry.id}", path, kind, f"{entry.title}: {limit.means}", limit.unit)


def _value(entry: Version, address: str, path: tuple[str | int, ...], kind: str, means: str, unit: str) -> Statement:
    mark = weakest(entry.verified, *(s.verified for s in entry.said or []))
    conditions = _conditions(entry) if isinstance(entry, Allowance | Cap) else ""
    now = "; ".join(w for w in (value_text(entry, unit), conditions) if w)
    return _cited(entry, address, path, kind, means, now, mark)


def _cited(
    entry: Cited, address: str, path: tuple[str | int, ...], kind: str, means: str, now: str, mark: str | None = None
) -> Statement:
    return Statement(
        address,
        path,
        kind,
        means,
        now,
        entry.source,
        entry.at,
        mark or entry.verified,
        entry.checked,
        entry.note,
        getattr(entry, "from_", None),
        getattr(entry, "until", None),
    )


def _of_definition(file: RuleFile, name: str, definition: Cited) -> Iterator[Statement]:
    address = f"{file.id}/definition/{name}"
    told = definition.model_extra or {}
    inner = list(_inside(told, address, ("definitions", name), name, definition))
    own = {k: v for k, v in told.items() if not any(s.path[2] == k for s in inner)}
    yield _cited(definition, address, ("definitions", name), "definition", f"definition: {_words(name)}", _told(own))
    yield from inner


def _inside(body: Any, address: str, path: tuple[str | int, ...], name: str, definition: Cited) -> Iterator[Statement]:
    """Parts of a definition that have a source of their own."""
    seen: dict[str, int] = {}
    for key, part in body.items() if isinstance(body, Mapping) else enumerate(body):
        if not isinstance(part, Mapping | list):
            continue
        label = str(key) if isinstance(body, Mapping) else _label(part)
        seen[label] = seen.get(label, 0) + 1
        label = label if seen[label] == 1 else f"{label}-{seen[label]}"
        here = (*path, key)
        if isinstance(part, Mapping) and "verified" in part and "source" in part:
            told = {k: v for k, v in part.items() if k not in _CITATION}
            yield Statement(
                f"{address}/{label}",
                here,
                "definition",
                f"definition: {_words(name)}, {_words(label)}",
                _told(told),
                str(part["source"]),
                part.get("at"),
                str(part["verified"]),
                part.get("checked") or definition.checked,
                part.get("note"),
            )
        else:
            yield from _inside(part, f"{address}/{label}", here, name, definition)


def _label(part: Any) -> str:
    """The name of an entry of a list: its plain words, such as chain-70."""
    if not isinstance(part, Mapping):
        return "entry"
    plain = [str(v) for k, v in part.items() if k not in _CITATION and not isinstance(v, Mapping | list)]
    return "-".join(plain) or "entry"


def _told(values: Mapping[str, Any]) -> str:
    return "; ".join(f"{_words(k)} {_shown(v)}" for k, v in values.items()) or "see its parts"


def _shown(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{k}: {_shown(v)}" for k, v in value.items())
    if isinstance(value, list):
        return ", ".join(_shown(v) for v in value)
    return {True: "yes", False: "no"}.get(value, str(value)) if isinstance(value, bool) else str(value)


def _words(name: str) -> str:
    return name.replace("_", " ")
