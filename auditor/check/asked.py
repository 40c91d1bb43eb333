"""Which fields of the record the rules of some places ask for, worked out from the rule files themselves."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from auditor.record.form import Asked
from auditor.rules.columns import all_limits, columns_read, tree_limits
from auditor.rules.models import Needs, Rule, RuleFile
from auditor.rules.reading import Rulebook
from auditor.vocabulary import STATES, TABLES, TOPIC_GROUPS, TOPICS, VIEWS, nearest
from auditor.vocabulary.problems import Problem, UnusableInput

FEDERAL = "US"


def fields_asked(rulebook: Rulebook, places: Sequence[str], topics: Sequence[str]) -> dict[str, dict[str, Asked]]:
    """Table -> field -> the rules that read it, over the rules of the places, the federal ones, and the topics.

    `topics` may hold names of groups ("haul"). Tables and fields come in the order of the vocabulary; a table or field
    that no rule reads is left out. What only ties rows together (keys, references) is not among them.
    Raises UnusableInput for a place without rule files and for an unknown topic.
    """
    wanted = _topics(topics)
    _check_places(rulebook, places)
    asking: dict[str, dict[str, bool]] = {}
    for file in rulebook.files:
        if file.place not in (FEDERAL, *places) or file.topic not in wanted:
            continue
        for rule in file.rules:
            key = f"{file.id}/{rule.id}"
            for fact in _facts(file, rule, places):
                asking.setdefault(fact, {})[key] = rule.evidence == "demanded by law"
    found: dict[str, dict[str, Asked]] = {}
    for table in TABLES.values():
        for field in table.fields:
            rules = asking.get(f"{table.name}.{field.name}")
            if rules:
                by_law = tuple(key for key, demanded in rules.items() if demanded)
                found.setdefault(table.name, {})[field.name] = Asked(tuple(rules), by_law)
    return found


def _topics(words: Sequence[str]) -> set[str]:
    known = list(dict.fromkeys((*TOPIC_GROUPS, *TOPICS)))
    problems = []
    for word in words:
        if word not in known:
            like = nearest(word, known)
            todo = f"Did you mean {like[0]}?" if like else "Name one of these."
            problems.append(Problem("", "", "topic", f'"{word}"', f"one of {', '.join(known)}", todo))
    if problems:
        raise UnusableInput(problems)
    return {topic for word in words for topic in TOPIC_GROUPS.get(word, (word,))}


def _check_places(rulebook: Rulebook, places: Sequence[str]) -> None:
    problems = []
    for place in places:
        if place == FEDERAL:
            todo = "Federal rules hold in every state; name the state."
            problems.append(Problem("", "", "place", f'"{place}"', "a state such as US-GA", todo))
        elif place not in STATES:
            like = nearest(place, STATES, 1)
            todo = f"Did you mean {like[0]}?" if like else "Name the state with its country."
            problems.append(Problem("", "", "place", f'"{place}"', "a state such as US-GA", todo))
        elif place not in rulebook.places():
            todo = "`auditor rules list` shows the places that have some."
            problems.append(Problem("", "", "place", f"no rule files for {place}", "a place with rule files", todo))
    if problems:
        raise UnusableInput(problems)


def _facts(file: RuleFile, rule: Rule, places: Sequence[str]) -> Iterable[str]:
    """The record fields a rule reads, each as "table.field", some of them more than once."""
    view = VIEWS[rule.examines]
    columns = columns_read([(file, rule)])
    for field in view.fields:
        if field.name in columns or field.name == view.dated_by:
            yield from (*field.rests_on, *field.also_reads)
            if rule.decision == "guarded" and field.uncertainty is not None:
                doubt = view.field(field.uncertainty)
                yield from doubt.rests_on if doubt is not None else ()
    if file.place != FEDERAL:
        # The rules of a state see the loads that have a stretch of road there.
        yield "legs.state"
    for needs in _papers(file, rule):
        if needs.state is None or needs.state in places:
            yield from ("documents.kind", "documents.valid_from", "documents.valid_until")
            if needs.state is not None:
                yield "documents.state"


def _papers(file: RuleFile, rule: Rule) -> Iterable[Needs]:
    """The papers that exceptions of the rule and allowances of its limits ask for."""
    trees = (rule.where, rule.when, rule.must, *(e.where for e in rule.unless))
    limits = all_limits(file, [name for tree in trees for name in tree_limits(tree)])
    asked = [e.needs for e in rule.unless] + [a.needs for n in sorted(limits) for a in file.limits[n].allowances]
    return (needs for needs in asked if needs is not None)
