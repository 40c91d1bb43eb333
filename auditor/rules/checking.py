"""The rule checker: words against the vocabulary, limits without use, dates, sources, tables, siblings, examples."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from auditor.rules.models import Allowance, Cap, Limit, Rule, RuleFile, Shape, Version
from auditor.rules.reading import Rulebook
from auditor.rules.table_checks import check_table
from auditor.rules.trees import GROUPS, OPS
from auditor.vocabulary import DOCUMENT_KINDS, MEASURES, STATES, TOPICS, VIEWS, Field, View, nearest
from auditor.vocabulary.intervals import parse_interval
from auditor.vocabulary.problems import Problem

PLACEHOLDERS = ("margin", "unit", "limit", "value", "tons")
PLAIN_COUNTS = (0, 1)


def rules_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a rule file."""
    schema = RuleFile.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def check_files(rulebook: Rulebook) -> list[Problem]:
    """Every static problem of the rule files, file by file."""
    return [problem for file in rulebook.files for problem in _FileCheck(file).run()]


def sibling_rules(rulebook: Rulebook) -> list[str]:
    """Rules that differ only in the class they are scoped to; a row whose class is blank gets an answer from neither."""
    return [note for file in rulebook.files for note in _siblings(file)]


class _FileCheck:
    """One pass over one file."""

    def __init__(self, file: RuleFile) -> None:
        self.file = file
        self.problems: list[Problem] = []

    def run(self) -> list[Problem]:
        file = self.file
        if file.place != "US" and file.place not in STATES:
            self._say("place", file.place, "US or a state such as US-GA", nearest(file.place, STATES))
        if file.topic not in TOPICS:
            self._say("topic", file.topic, f"one of {', '.join(TOPICS)}", nearest(file.topic, TOPICS))
        if file.id != f"{file.place.lower()}/{file.topic}" and not file.id.count("/"):
            self._say("id", file.id, "place/topic")
        seen: set[str] = set()
        for rule in file.rules:
            if rule.id in seen:
                self._say(f"rule {rule.id}", "the id twice", "an id used once")
            seen.add(rule.id)
            self._rule(rule)
        used = self._used_limits()
        for name, limit in file.limits.items():
            self._limit(name, limit, name in used)
        for name, definition in file.definitions.items():
            self._source(f"definitions.{name}", definition.source)
        return self.problems

    def _say(
        self, where: str, found: str, expected: str, near: Sequence[str] = (), todo: str = "Mend the file."
    ) -> None:
        if near:
            todo = f"Did you mean {' or '.join(near)}?"
        self.problems.append(Problem(self.file.id, where, "", found, expected, todo))

    def _source(self, where: str, key: str) -> None:
        if key not in self.file.sources:
            self._say(where, f'source "{key}"', "a key of sources", nearest(key, self.file.sources))

    def _rule(self, rule: Rule) -> None:
        where = f"rule {rule.id}"
        self._source(where, rule.source)
        self._dates(where, [rule])
        view = VIEWS.get(rule.examines)
        if view is None:
            self._say(where, f'examines "{rule.examines}"', "a view", nearest(rule.examines, VIEWS))
            return
        for part in (rule.where, rule.when, rule.must):
            if part is not None:
                self._tree(where, part, view, in_limit=False)
        for exception in rule.unless:
            if exception.where is not None:
                self._tree(f"{where}, unless {exception.id}", exception.where, view, in_limit=False)
            if exception.needs is not None:
                self._document(f"{where}, unless {exception.id}", exception.needs.document, exception.needs.state)
        for text in (rule.action, rule.caution):
            self._text(where, text)
        if not rule.examples:
            self._say(where, "no examples", "worked examples on both sides of each limit")
        elif not {"conformity"} <= {e.expect for e in rule.examples}:
            self._say(where, "no example that conforms", "examples on both sides")

    def _text(self, where: str, text: str) -> None:
        if not text.strip():
            self._say(where, "an empty text", "an action and a caution")
        stripped = text
        for name in PLACEHOLDERS:
            stripped = stripped.replace("{" + name + "}", "")
        if "{" in stripped or any(c.isdigit() for c in stripped):
            self._say(where, f'"{text[:50]}"', "a text without figures or unknown placeholders")

    def _document(self, where: str, kind: str, state: str | None) -> None:
        if kind not in DOCUMENT_KINDS:
            self._say(where, f'document "{kind}"', "a kind of paper", nearest(kind, DOCUMENT_KINDS))
        if state is not None and state not in STATES:
            self._say(where, f'state "{state}"', "a state such as US-GA")

    def _dates(self, where: str, entries: Sequence[Rule | Version]) -> None:
        for entry in entries:
            if entry.from_ is not None and entry.until is not None and entry.until < entry.from_:
                self._say(where, f"until {entry.until} before from {entry.from_}", "dates in order")

    def _limit(self, name: str, limit: Limit, used: bool) -> None:
        where = f"limit {name}"
        if not used:
            self._say(where, "no use of it", "a rule or limit that uses it", todo="Use it or take it out.")
        entries: list[Version] = [*limit.versions, *limit.allowances, *limit.caps]
        self._dates(where, entries)
        self._versions(where, limit.versions)
        views = self._views_using(name)
        for entry in entries:
            self._source(where, entry.source)
            self._shape(where, entry, views)
            if isinstance(entry, (Allowance, Cap)):
                for view in views:
                    if entry.where is not None:
                        self._tree(f"{where}, {entry.id}", entry.where, view, in_limit=True)
            if isinstance(entry, Allowance) and entry.needs is not None:
                self._document(f"{where}, {entry.id}", entry.needs.document, entry.needs.state)

    def _versions(self, where: str, versions: Sequence[Version]) -> None:
        ordered = sorted(versions, key=lambda v: v.from_ or date.min)
        for earlier, later in itertools.pairwise(ordered):
            if earlier.until is None or later.from_ is None or later.from_ <= earlier.until:
                self._say(where, f"versions that overlap on {later.from_}", "one version in force on any day")
            elif later.from_ > earlier.until + timedelta(days=1):
                self._say(where, f"no version between {earlier.until} and {later.from_}", "versions without a gap")

    def _shape(self, where: str, shape: Shape, views: Iterable[View]) -> None:
        for name in (shape.limit, shape.than):
            if name is not None and name not in (*self.file.limits, "base", "limit"):
                self._say(where, f'limit "{name}"', "a limit of this file", nearest(name, self.file.limits))
        for part in shape.sum_of or []:
            if part.of not in self.file.limits:
                self._say(where, f'limit "{part.of}"', "a limit of this file", nearest(part.of, self.file.limits))
        if shape.measure is not None:
            self._measure(where, shape)
        for view in views:
            for column in _columns_of(shape):
                self._column(where, column, view)
            if shape.table is not None:
                for row in shape.table.rows:
                    self._tree(where, row.when, view, in_limit=True)
                for message in check_table(shape.table, view):
                    self._say(where, message, "a table whose rows meet without gap or overlap")
        for inner in (*(shape.lesser_of or []), *(shape.greater_of or [])):
            self._shape(where, inner, views)

    def _measure(self, where: str, shape: Shape) -> None:
        assert shape.measure is not None
        measure = MEASURES.get(shape.measure.name)
        if measure is None:
            self._say(where, f'measure "{shape.measure.name}"', "a measure", nearest(shape.measure.name, MEASURES))
            return
        if set(shape.measure.of) != set(measure.inputs):
            self._say(where, f"inputs {sorted(shape.measure.of)}", f"the inputs {', '.join(measure.inputs)}")
        for name in shape.measure.parameters:
            if name not in measure.parameters:
                self._say(where, f'parameter "{name}"', f"one of {', '.join(measure.parameters)}")

    def _column(self, where: str, name: str, view: View) -> Field | None:
        field = view.field(name)
        if field is None:
            names = [f.name for f in view.fields]
            self._say(where, f'column "{name}"', f"a column of {view.name}", nearest(name, names))
        return field

    def _tree(self, where: str, tree: Mapping[str, Any], view: View, in_limit: bool) -> None:
        for key, body in tree.items():
            if key in GROUPS:
                branches = body["of"] if isinstance(body, Mapping) else body
                for branch in branches:
                    self._tree(where, branch, view, in_limit)
                continue
            field = self._column(where, key, view)
            if field is None:
                continue
            tests = body if isinstance(body, Mapping) else {"equals": body}
            for op, against in tests.items():
                self._test(where, field, str(op), against, view, in_limit)

    def _test(self, where: str, field: Field, op: str, against: Any, view: View, in_limit: bool) -> None:
        if op not in OPS:
            self._say(where, f'"{op}"', f"one of {', '.join(OPS)}", nearest(op, OPS))
            return
        if isinstance(against, Mapping):
            name = against.get("limit")
            if name is not None and name not in self.file.limits:
                self._say(where, f'limit "{name}"', "a limit of this file", nearest(str(name), self.file.limits))
            if "field" in against:
                self._column(where, str(against["field"]), view)
            return
        numeric = field.kind in ("number", "whole")
        if isinstance(against, str) and numeric:
            try:
                parse_interval(against)
            except ValueError as error:
                self._say(where, str(error), "an interval")
        if numeric and op != "recorded" and not in_limit and against not in PLAIN_COUNTS:
            self._say(where, f"the figure {against}", "figures of law only under limits")
        if field.classes:
            words = against if isinstance(against, list) else [against] if isinstance(against, str) else []
            for word in words:
                if word not in field.classes:
                    self._say(where, f'"{word}"', f"a class of {field.name}", nearest(str(word), field.classes))

    def _used_limits(self) -> set[str]:
        used: set[str] = set()
        for rule in self.file.rules:
            for part in (rule.where, rule.when, rule.must, *(e.where for e in rule.unless)):
                used |= set(_limit_names(part))
        for limit in self.file.limits.values():
            for entry in (*limit.versions, *limit.allowances, *limit.caps):
                used |= set(_shape_limits(entry))
                used |= set(_limit_names(getattr(entry, "where", None)))
        return used

    def _views_using(self, name: str) -> list[View]:
        """Views of the rules that use a limit, directly or through other limits."""
        names = {name}
        grown = True
        while grown:
            more = {
                n
                for n, limit in self.file.limits.items()
                for e in (*limit.versions, *limit.allowances, *limit.caps)
                if not names.isdisjoint(_shape_limits(e))
                or not names.isdisjoint(_limit_names(getattr(e, "where", None)))
            }
            grown = not more <= names
            names |= more
        found: dict[str, View] = {}
        for rule in self.file.rules:
            parts = (rule.where, rule.when, rule.must, *(e.where for e in rule.unless))
            if rule.examines in VIEWS and any(not names.isdisjoint(_limit_names(p)) for p in parts):
                found[rule.examines] = VIEWS[rule.examines]
        return list(found.values())


def _siblings(file: RuleFile) -> Iterator[str]:
    by_must: dict[tuple[str, str], list[Rule]] = {}
    for rule in file.rules:
        by_must.setdefault((rule.examines, ", ".join(sorted(_tested(rule.must)))), []).append(rule)
    for (examines, tested), rules in by_must.items():
        for first, second in itertools.combinations(rules, 2):
            split = _split_column(first.where or {}, second.where or {}, VIEWS.get(examines))
            if split is not None and first.must != second.must:
                yield f"{file.id}: {first.id} and {second.id} test {tested} and split on {split}"


def _columns_of(shape: Shape) -> list[str]:
    found = [shape.field] if shape.field is not None else []
    if shape.measure is not None:
        found += list(shape.measure.of.values())
    found += [p.times for p in shape.sum_of or [] if isinstance(p.times, str)]
    found += [s for s in (shape.points.at if shape.points else None, shape.linear.per if shape.linear else None) if s]
    return found


def _limit_names(tree: object) -> Iterator[str]:
    if isinstance(tree, Mapping):
        name = tree.get("limit")
        if isinstance(name, str):
            yield name
        for body in tree.values():
            yield from _limit_names(body)
    elif isinstance(tree, list):
        for body in tree:
            yield from _limit_names(body)


def _shape_limits(shape: Shape) -> Iterator[str]:
    yield from (n for n in (shape.limit, shape.than) if n is not None)
    yield from (p.of for p in shape.sum_of or [])
    for inner in (*(shape.lesser_of or []), *(shape.greater_of or [])):
        yield from _shape_limits(inner)


def _tested(tree: Mapping[str, Any]) -> set[str]:
    found: set[str] = set()
    for key, body in tree.items():
        if key in GROUPS:
            for branch in body["of"] if isinstance(body, Mapping) else body:
                found |= _tested(branch)
        else:
            found.add(key)
    return found


def _split_column(first: Mapping[str, Any], second: Mapping[str, Any], view: View | None) -> str | None:
    """The single classed column on which two scopes that are otherwise alike differ by plain words."""
    differing = [k for k in {*first, *second} if first.get(k) != second.get(k)]
    if len(differing) != 1 or view is None:
        return None
    field = view.field(differing[0])
    words = (first.get(differing[0]), second.get(differing[0]))
    return differing[0] if field is not None and field.classes and all(isinstance(w, str) for w in words) else None
