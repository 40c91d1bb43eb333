"""What a card says of a limit and of a blank fact."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from auditor.check.limits_used import cite, mark
from auditor.check.missing import meaning_of
from auditor.report.card_model import CardFact, Verified
from auditor.rules.reading import Rulebook


@dataclass(frozen=True, slots=True)
class Because:
    """The name of a limit, allowance or requirement, where it stands, and how well it is known."""

    name: str
    source: str
    verified: Verified


NOTHING = Because("", "", "read")


def because(rulebook: Rulebook, rule: str, limit_name: str | None, arm: str | None) -> Because:
    """What to say of the entry that spoke; an allowance or cap goes by its own name, a limit by its rule's."""
    limit = cite(rulebook, rule, limit_name, arm)
    known = mark(rulebook, rule, limit_name, arm)
    name = limit.title or rulebook.get(rule)[1].title
    verified: Verified = "memory" if known == "memory" else "secondary" if known == "secondary" else "read"
    return Because(name, ", ".join(w for w in (limit.instrument, limit.at) if w), verified)


def facts(names: Iterable[str]) -> list[CardFact]:
    """Facts to fill in, each once, sorted."""
    return [CardFact(fact=n, meaning=meaning_of(n)) for n in sorted(set(names))]


def words(name: object) -> str:
    """A class of the record in words; empty where it is blank."""
    return "" if name is None else str(name).replace("_", " ")


def road_name(leg: Mapping[str, Any]) -> str:
    """A leg by the name of its road, else by its class."""
    return str(leg["road_name"] or words(leg["road_class"]) or "road of unknown class")
