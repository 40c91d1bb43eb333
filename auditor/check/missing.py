"""Facts that were not recorded, rolled up per fact and job, and the judgements that stay open though nothing is blank."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from auditor.check.load_marks import Group
from auditor.report.model import MissingFact, OpenQuestion
from auditor.rules.compiled import Code
from auditor.rules.models import VOLUNTARY
from auditor.rules.reading import Rulebook
from auditor.vocabulary import TABLES, VIEWS

SAMPLES = 5


def missing_facts(
    gaps: Sequence[Group], rulebook: Rulebook, load_count: int, adopted: Sequence[str] = ()
) -> list[MissingFact]:
    """Each blank fact of one job: those the law demands first, those only advice asks for last, then by loads.

    `gaps` holds the rules and facts that loads have in common. `adopted` holds the voluntary rules or topics that the
    job takes as criteria.
    """
    found = []
    for fact, rules, loads, tickets in _together(gaps, by=1):
        demanded = [r for r in rules if _demanded(rulebook, r)]
        found.append(
            MissingFact(
                fact=fact,
                meaning=meaning_of(fact),
                load_count=loads,
                job_load_count=load_count,
                rules=rules,
                demanded_by_law=bool(demanded),
                advice_only=not any(is_binding(rulebook, r, adopted) for r in rules),
                sample_tickets=tickets,
                todo=_todo(fact),
            )
        )
    found.sort(key=lambda m: (not m.demanded_by_law, m.advice_only, -m.load_count, m.fact))
    return found


def _together(groups: Sequence[Group], by: int) -> Iterator[tuple[str, list[str], int, list[str]]]:
    """For each name at place `by` of the things: the names beside it, how many loads, and the first of these; sorted."""
    beside: dict[str, set[str]] = {}
    held: dict[str, list[list[str]]] = {}
    for things, loads in groups:
        for name in {t[by] for t in things}:
            held.setdefault(name, []).append(loads)
        for thing in things:
            beside.setdefault(thing[by], set()).add(thing[1 - by])
    for name in sorted(held):
        first = sorted(load for loads in held[name] for load in loads[:SAMPLES])[:SAMPLES]
        yield name, sorted(beside[name]), sum(map(len, held[name])), first


def _demanded(rulebook: Rulebook, key: str) -> bool:
    """Whether the law demands the record; a rule known from memory only is not taken at its word."""
    pair = rulebook.find(key)
    return pair is not None and pair[1].evidence == "demanded by law" and pair[1].verified != "memory"


def is_binding(rulebook: Rulebook, key: str, adopted: Sequence[str] = ()) -> bool:
    """Whether a rule is more than advice: law, or a voluntary practice that the job took as a criterion."""
    pair = rulebook.find(key)
    return pair is not None and (pair[1].standing not in VOLUNTARY or key in adopted or pair[0].topic in adopted)


def loads_with_gaps(gaps: Sequence[Group], rulebook: Rulebook, adopted: Sequence[str] = ()) -> set[str]:
    """The loads for which a blank leaves a binding rule open."""
    rules = {rule for things, _ in gaps for rule, _ in things}
    binding = {r for r in rules if is_binding(rulebook, r, adopted)}
    return {load for things, loads in gaps if any(r in binding for r, _ in things) for load in loads}


def loads_inconclusive(still_open: Sequence[Group]) -> set[str]:
    """The loads with a judgement that stays open though no fact is blank."""
    name = Code.INCONCLUSIVE.name
    return {load for things, loads in still_open if any(code == name for _, code in things) for load in loads}


def meaning_of(fact: str) -> str:
    """What the fields of a fact mean, in the vocabulary's words."""
    meanings = []
    for part in fact.split(", "):
        table_name, _, field_name = part.partition(".")
        holder = TABLES.get(table_name) or VIEWS.get(table_name)
        field = holder.field(field_name) if holder is not None else None
        if field is not None and field.meaning not in meanings:
            meanings.append(field.meaning)
    return "; ".join(meanings)


def _todo(fact: str) -> str:
    tables = sorted({p.partition(".")[0] for p in fact.split(", ")})
    fields = sorted({p.partition(".")[2] for p in fact.split(", ")})
    return f"Fill {', '.join(fields)} in the table {' or '.join(tables)}."


def open_questions(still_open: Sequence[Group], rulebook: Rulebook) -> list[OpenQuestion]:
    """Inconclusive judgements and acts that leave no record, by rule."""
    found = []
    for code in (Code.NOT_VERIFIABLE, Code.INCONCLUSIVE):
        groups = [(tuple(t for t in things if t[1] == code.name), loads) for things, loads in still_open]
        inconclusive = code == Code.INCONCLUSIVE
        reason = (
            "The value or the limit is known only within a range, and both answers lie inside it."
            if inconclusive
            else "The act leaves no record that must be kept; nothing in the files shows it."
        )
        for key, _, loads, tickets in _together(groups, by=0):
            pair = rulebook.find(key)
            if pair is not None:
                found.append(
                    OpenQuestion(
                        kind="inconclusive" if inconclusive else "not verifiable",
                        rule=key,
                        title=pair[1].title,
                        reason=reason,
                        load_count=loads,
                        sample_tickets=tickets,
                    )
                )
    found.sort(key=lambda q: q.rule)
    return found
