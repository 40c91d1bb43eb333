"""What differs between two reports on the same job, entry by entry."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from auditor.report import wording as say
from auditor.report.model import Report

Entry = Mapping[str, Any]

_KEYS: Mapping[str, tuple[str, ...]] = {
    "jobs": ("job",),
    "findings": ("rule", "confirmed"),
    "items": ("subject",),
    "places": ("subject", "what"),
    "missing": ("fact", "subject"),
    "open_questions": ("kind", "rule"),
    "allowances": ("rule", "limit_key"),
    "weights": ("ticket",),
    "coverage": ("rule",),
    "walk": ("topic", "subject", "name"),
    "outcomes": ("rule",),
    "judgements": ("name",),
    "scores": ("category",),
    "limits": ("key",),
    "stale": ("limit_key",),
    "evidence": ("path",),
    "rules": ("id",),
}
"""What tells the entries of a list apart; entries of other lists go by their place. `places` are items of the site."""

_SEAL = {"digest", "engine_version"}
_FIGURE = ("measured", "limit", "unit", "boundary", "margin")


@dataclass(frozen=True, slots=True)
class Difference:
    """One difference. `part` is the list of the report it lies in, `name` the entry, `field` what of it changed."""

    job: str
    part: str
    change: Literal["appears", "vanishes", "changes"]
    name: str
    field: str = ""
    old: str = ""
    new: str = ""


def differences(old: Report, new: Report) -> list[Difference]:
    """Every difference in content, whatever its kind; the digest and the version of the engine are no content."""
    a, b = (r.model_dump(mode="json", exclude=_SEAL) for r in (old, new))
    jobs_a, jobs_b = a.pop("jobs"), b.pop("jobs")
    found = list(_fields("", "report", "", a, b))
    for key, was, now in _paired("jobs", jobs_a, jobs_b):
        if was is None or now is None:
            found.append(Difference(key, "jobs", _change(was), "job"))
        else:
            found += _fields(key, "job", "", was, now)
    return [*found, *_order("", "jobs", jobs_a, jobs_b)]


def _fields(job: str, part: str, name: str, old: Entry, new: Entry) -> Iterator[Difference]:
    """Differences of two entries, field by field; lists of entries are paired by their keys."""
    for field in old:
        was, now = old[field], new[field]
        if was == now:
            continue
        if field == "findings":
            yield from _findings(job, was, now)
        elif isinstance(was, dict) and isinstance(now, dict):
            yield from _fields(job, field, name, was, now)
        elif isinstance(was, list) and isinstance(now, list):
            yield from _lists(job, field, name if part == "walk" else "", was, now)
        else:
            yield Difference(job, part, "changes", name, field, _shown(was), _shown(now))


def _lists(job: str, part: str, of: str, old: Sequence[Any], new: Sequence[Any]) -> Iterator[Difference]:
    """Differences of two lists; `of` names the entry that they belong to, where it has to be said."""
    for own, was, now in _paired(part, old, new):
        key = f"{of}: {own}" if of else own
        if was is None or now is None:
            yield Difference(job, part, _change(was), key, "", _summed(part, was), _summed(part, now))
        elif isinstance(was, dict) and isinstance(now, dict):
            yield from _fields(job, part, key, was, now)
        elif was != now:
            yield Difference(job, part, "changes", key, "", _shown(was), _shown(now))
    yield from _order(job, part, old, new)


def _order(job: str, part: str, old: Sequence[Any], new: Sequence[Any]) -> Iterator[Difference]:
    """That the same entries stand in another order."""
    a, b = [k for k, _ in _keyed(part, old)], [k for k, _ in _keyed(part, new)]
    if a != b and sorted(a) == sorted(b):
        yield Difference(job, part, "changes", "order of the entries")


def _findings(job: str, old: Sequence[Entry], new: Sequence[Entry]) -> Iterator[Difference]:
    """Findings by rule and load or place; a whole finding that appears or vanishes does so one by one.

    A load stands once under a finding, a bank or trail once for every part of it that is off.
    """
    empty: Entry = {"items": []}
    for key, was, now in _paired("findings", old, new):
        a, b = was or empty, now or empty
        noun = (was or now or {}).get("subject", "load")
        kind = "items" if noun == "load" else "places"
        for subject, item, other in _paired(kind, a["items"], b["items"]):
            name = f"{key}, {noun} {subject}"
            if item is None or other is None:
                yield Difference(job, "findings", _change(item), name, "", _figure(item), _figure(other))
            else:
                yield from _items(job, name, item, other)
        if was is None or now is None:
            if not a["items"] and not b["items"]:
                yield Difference(job, "findings", _change(was), key)
            continue
        rest = [{k: v for k, v in entry.items() if k != "items"} for entry in (was, now)]
        yield from _fields(job, "findings", key, *rest)
        yield from (d for d in _order(job, kind, was["items"], now["items"]))
    yield from _order(job, "findings", old, new)


def _items(job: str, name: str, old: Entry, new: Entry) -> Iterator[Difference]:
    if any(old[f] != new[f] for f in _FIGURE):
        yield Difference(job, "findings", "changes", name, "figure", _figure(old), _figure(new))
    rest = [{k: v for k, v in entry.items() if k not in _FIGURE} for entry in (old, new)]
    yield from _fields(job, "findings", name, *rest)


def _paired(part: str, old: Sequence[Any], new: Sequence[Any]) -> Iterator[tuple[str, Any, Any]]:
    """Entries of two lists by their key, in the order of the first, then those only in the second."""
    a, b = dict(_keyed(part, old)), dict(_keyed(part, new))
    for key in dict.fromkeys([*a, *b]):
        yield key, a.get(key), b.get(key)


def _keyed(part: str, entries: Sequence[Any]) -> Iterator[tuple[str, Any]]:
    """Each entry with its key; a key that was there before gets its place added, so that no entry hides another."""
    seen: set[str] = set()
    names = _KEYS.get(part)
    for place, entry in enumerate(entries, start=1):
        key = f"number {place}" if names is None or isinstance(entry, str) else _name(names, entry)
        key = f"{key} (entry {place})" if key in seen else key
        seen.add(key)
        yield key, entry


def _name(names: Sequence[str], entry: Entry) -> str:
    words = [str(entry[n]) for n in names if not isinstance(entry[n], bool) and entry[n] != ""]
    return " ".join(words) + (" (limit unconfirmed)" if entry.get("confirmed") is False else "")


def _change(old: object) -> Literal["appears", "vanishes"]:
    return "appears" if old is None else "vanishes"


def _figure(item: Entry | None) -> str:
    """The figure of an item: "85,680 lb, at most 80,000 lb"."""
    if item is None:
        return ""
    if item["measured"] is None and item["limit"] is None:
        return "no number"
    unit = item["unit"]
    return f"{say.quantity(item['measured'], unit)}, {item['boundary']} {say.quantity(item['limit'], unit)}"


def _summed(part: str, entry: Any) -> str:
    """The figure of an entry that is there on one side only."""
    if entry is None:
        return ""
    if part == "limits":
        return say.quantity(entry["value"], entry["unit"])
    if part == "missing":
        return say.count(entry["subject_count"], entry["subject"])
    if part == "weights":
        return say.quantity(entry["gross_lb"], "lb")
    return "" if isinstance(entry, dict) else _shown(entry)


def _shown(value: object) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return say.number(value)
    text = say.clean(str(value))
    return text if len(text) <= 200 else text[:197] + "..."
