"""Facts that were not recorded, rolled up per fact and job, and the judgements that stay open though nothing is blank."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from auditor.check.blame import Blame
from auditor.check.subject_marks import Group, Thing
from auditor.report.model import MissingFact, OpenQuestion
from auditor.rules.compiled import Code
from auditor.rules.models import VOLUNTARY
from auditor.rules.reading import Rulebook
from auditor.vocabulary import SUBJECTS, TABLES, VIEWS

SAMPLES = 5


def missing_facts(
    gaps: Sequence[Group], rulebook: Rulebook, counts: Mapping[str, int], adopted: Sequence[str] = ()
) -> list[MissingFact]:
    """Each blank fact of one job: those the law demands first, those only advice asks for last, then by how often.

    `gaps` holds the rules and facts that subjects have in common, `counts` how many loads, banks ... the job has, by
    table. `adopted` holds the voluntary rules or topics that the job takes as criteria.
    """
    found = []
    for (fact, table), rules, count, first in _together(gaps, lambda thing: (thing[1], subject_of(rulebook, thing[0]))):
        demanded = [r for r in rules if _demanded(rulebook, r)]
        found.append(
            MissingFact(
                fact=fact,
                meaning=meaning_of(fact),
                subject=SUBJECTS[table],
                subject_count=count,
                job_subject_count=counts.get(table, count),
                rules=rules,
                demanded_by_law=bool(demanded),
                advice_only=not any(is_binding(rulebook, r, adopted) for r in rules),
                samples=first,
                todo=_todo(fact),
            )
        )
    found.sort(key=lambda m: (not m.demanded_by_law, m.advice_only, -m.subject_count, m.fact, m.subject))
    return found


def narrowed_gaps(gaps: Sequence[Group], rulebook: Rulebook, blame: Blame) -> list[Group]:
    """The same gaps with facts that name only the fields that may be to blame for the subjects that lack them."""
    tables = {rule: subject_of(rulebook, rule) for rule in {rule for things, _ in gaps for rule, _ in things}}
    lacking: dict[tuple[str, str], list[str]] = {}
    for things, subjects in gaps:
        for name in {(fact, tables[rule]) for rule, fact in things if ", " in fact}:
            lacking.setdefault(name, []).extend(subjects)
    named = {(fact, table): blame.narrowed(fact, table, subjects) for (fact, table), subjects in lacking.items()}
    found: list[Group] = []
    for things, subjects in gaps:
        said = ((rule, named.get((fact, tables[rule]), fact)) for rule, fact in things)
        found.append((tuple(dict.fromkeys(said)), subjects))
    return found


def subject_of(rulebook: Rulebook, key: str) -> str:
    """The table whose rows a rule's outcomes are counted by."""
    return VIEWS[rulebook.get(key)[1].examines].subject


def _together(
    groups: Sequence[Group], named: Callable[[Thing], tuple[str, str]]
) -> Iterator[tuple[tuple[str, str], list[str], int, list[str]]]:
    """For each name of things: the rules among them, how many subjects, and the first of these; sorted by name."""
    rules: dict[tuple[str, str], set[str]] = {}
    held: dict[tuple[str, str], list[list[str]]] = {}
    for things, subjects in groups:
        for name in {named(t) for t in things}:
            held.setdefault(name, []).append(subjects)
        for thing in things:
            rules.setdefault(named(thing), set()).add(thing[0])
    for name in sorted(held):
        first = sorted(subject for subjects in held[name] for subject in subjects[:SAMPLES])[:SAMPLES]
        yield name, sorted(rules[name]), sum(map(len, held[name])), first


def _demanded(rulebook: Rulebook, key: str) -> bool:
    """Whether the law demands the record; a rule known from memory only is not taken at its word."""
    pair = rulebook.find(key)
    return pair is not None and pair[1].evidence == "demanded by law" and pair[1].verified != "memory"


def is_binding(rulebook: Rulebook, key: str, adopted: Sequence[str] = ()) -> bool:
    """Whether a rule is more than advice: law, or a voluntary practice that the job took as a criterion."""
    pair = rulebook.find(key)
    return pair is not None and (pair[1].standing not in VOLUNTARY or key in adopted or pair[0].topic in adopted)


Subject = tuple[str, str]
"""The table and the name of a load, a bank, a crossing ..."""


def subjects_with_gaps(gaps: Sequence[Group], rulebook: Rulebook, adopted: Sequence[str] = ()) -> set[Subject]:
    """The subjects for which a blank leaves a binding rule open."""
    rules = {rule for things, _ in gaps for rule, _ in things}
    binding = {r for r in rules if is_binding(rulebook, r, adopted)}
    return {
        (subject_of(rulebook, things[0][0]), subject)
        for things, subjects in gaps
        if any(r in binding for r, _ in things)
        for subject in subjects
    }


def subjects_inconclusive(still_open: Sequence[Group], rulebook: Rulebook) -> set[Subject]:
    """The subjects with a judgement that stays open though no fact is blank."""
    name = Code.INCONCLUSIVE.name
    return {
        (subject_of(rulebook, things[0][0]), subject)
        for things, subjects in still_open
        if any(code == name for _, code in things)
        for subject in subjects
    }


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
        for (key, _), _, count, first in _together(groups, lambda thing: (thing[0], "")):
            pair = rulebook.find(key)
            if pair is not None:
                found.append(
                    OpenQuestion(
                        kind="inconclusive" if inconclusive else "not verifiable",
                        rule=key,
                        title=pair[1].title,
                        reason=reason,
                        subject=SUBJECTS[subject_of(rulebook, key)],
                        subject_count=count,
                        samples=first,
                    )
                )
    found.sort(key=lambda q: q.rule)
    return found
