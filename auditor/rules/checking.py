"""The rule checker: words against the vocabulary, limits without use, dates, sources, tables, siblings, examples."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from auditor.rules.columns import all_limits, shape_columns, shape_limits, tree_limits
from auditor.rules.limits import RAISES
from auditor.rules.models import Allowance, Cap, Limit, Rule, RuleFile, Shape, Version
from auditor.rules.reading import Rulebook
from auditor.rules.table_checks import check_table
from auditor.rules.trees import GROUPS, NUMERIC_OPS, OPS
from auditor.vocabulary import DOCUMENT_KINDS, MEASURES, STATES, TOPICS, VIEWS, Field, View, nearest
from auditor.vocabulary.intervals import parse_interval
from auditor.vocabulary.problems import Problem

PLACEHOLDERS = ("margin", "unit", "limit", "value", "tons")
PLAIN_COUNTS = (0, 1)
NUMERIC = frozenset({"number", "whole"})


def rules_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a rule file."""
    schema = RuleFile.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def check_files(rulebook: Rulebook, with_examples: bool = True) -> list[Problem]:
    """Every static problem of the rule files, file by file; `with_examples`: a rule without examples is one."""
    return [problem for file in rulebook.files for problem in _FileCheck(file, with_examples).run()]


def sibling_rules(rulebook: Rulebook) -> list[str]:
    """Rules that differ only in the class they are scoped to; a row whose class is blank gets an answer from neither."""
    return [note for file in rulebook.files for note in _siblings(file)]


class _FileCheck:
    """One pass over one file."""

    def __init__(self, file: RuleFile, with_examples: bool) -> None:
        self.file, self.with_examples = file, with_examples
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
        self._second_stage(where, rule, view)
        for part in (rule.where, rule.when, rule.must):
            if part is not None:
                self._tree(where, part, view, in_limit=False)
        for exception in rule.unless:
            if exception.where is not None:
                self._tree(f"{where}, unless {exception.id}", exception.where, view, in_limit=False)
            if exception.needs is not None:
                self._document(f"{where}, unless {exception.id}", exception.needs.document, exception.needs.state)
            if exception.where is None and exception.needs is None:
                self._say(
                    f"{where}, unless {exception.id}", "no condition", "where or needs: else it would always hold"
                )
            if exception.source is not None:
                self._source(f"{where}, unless {exception.id}", exception.source)
        for name in sorted(_reached(rule.must)):
            limit = self.file.limits.get(name)
            if limit is not None and any(a.form in (*RAISES, "enforcement tolerance") for a in limit.allowances):
                self._say(
                    where, f"an allowance on {name}, which must be reached", "allowances on limits not to be passed"
                )
        for text in (rule.action, rule.caution):
            self._text(where, text)
        if self.with_examples and not rule.examples:
            self._say(where, "no examples", "worked examples on both sides of each limit")
        elif self.with_examples and not {"conformity"} <= {e.expect for e in rule.examples}:
            self._say(where, "no example that conforms", "examples on both sides")

    def _second_stage(self, where: str, rule: Rule, view: View) -> None:
        """A view of outcomes needs the rule that it is made of, and that rule judges stretches of a length."""
        of = rule.outcomes_of
        if (of is not None) != view.second_stage:
            self._say(where, f"examines {view.name}", "outcomes_of with a view of outcomes, and only there")
        if of is None:
            return
        first = next((r for r in self.file.rules if r.id == of.rule), None)
        columns = {f.name for f in VIEWS[first.examines].fields} if first is not None else set()
        if first is None or first.outcomes_of is not None or not {"from_ft", "to_ft"} <= columns:
            self._say(where, f"outcomes of {of.rule}", "a rule of this file on stretches along a bank, no second stage")
        window = self.file.limits.get(of.window_ft) if of.window_ft is not None else None
        if of.window_ft is not None and (window is None or [v.value is None for v in window.versions] != [False]):
            self._say(where, f"window_ft: {of.window_ft}", "a limit of this file that is one plain number")

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
        self._forms(where, name, limit)
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

    def _forms(self, where: str, name: str, limit: Limit) -> None:
        """What fits together in a limit: words, ids, what a percentage is of, and no limit that rests on itself."""
        named: list[Allowance | Cap] = [*limit.allowances, *limit.caps]
        ids = [e.id for e in named]
        for twice in sorted({i for i in ids if ids.count(i) > 1}):
            self._say(where, f'the id "{twice}" twice', "an id used once in the limit")
        for entry in (*limit.versions, *named):
            tolerance = isinstance(entry, Allowance) and entry.form == "enforcement tolerance"
            allowed = {"base", "limit"} if tolerance else {"base"} if entry in named else set()
            for than in sorted({t for t in _thans(entry) if t in ("base", "limit")} - allowed):
                self._say(where, f"than: {than}", "than: base in allowances and caps, than: limit in tolerances only")
            if any(s.words is not None for s in _inner(entry)):
                self._say(where, "words inside another shape", "words as a version of their own")
        words = [e.words is not None for e in (*limit.versions, *named)]
        if any(words) and not (all(words) and not named):
            self._say(where, "words and numbers in one limit, or an allowance for words", "versions that are all words")
        below = {
            n for e in (*limit.versions, *named) for n in (*shape_limits(e), *tree_limits(getattr(e, "where", None)))
        }
        if name in all_limits(self.file, below):
            self._say(where, "a limit that rests on itself", "limits without a circle")

    def _shape(self, where: str, shape: Shape, views: Iterable[View]) -> None:
        for name in (shape.limit, shape.than):
            if name is not None and name not in (*self.file.limits, "base", "limit"):
                self._say(where, f'limit "{name}"', "a limit of this file", nearest(name, self.file.limits))
        for said in shape.said or []:
            self._source(where, said.source)
        for part in shape.sum_of or []:
            if part.of not in self.file.limits:
                self._say(where, f'limit "{part.of}"', "a limit of this file", nearest(part.of, self.file.limits))
        if shape.measure is not None:
            self._measure(where, shape)
        for view in views:
            for column in shape_columns(shape):
                self._column(where, column, view)
            if shape.table is not None:
                before = len(self.problems)
                for row in shape.table.rows:
                    self._tree(where, row.when, view, in_limit=True)
                for message in check_table(shape.table, view) if len(self.problems) == before else []:
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
                for branch in body["of"] if isinstance(body, Mapping) else body:
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
            self._other(where, field, op, against, view)
            return
        message = wrong_operand(field, op, against)
        if message:
            self._say(where, f"{field.name}: {{{op}: {against!r}}}"[:70], message)
            return
        if field.kind in NUMERIC and op != "recorded" and not in_limit and against not in PLAIN_COUNTS:
            self._say(where, f"the figure {against}", "figures of law only under limits")
        if op in ("equals", "one_of", "none_of", "includes"):
            self._classes(where, field, against if isinstance(against, list) else [against])

    def _classes(self, where: str, field: Field, words: Sequence[Any]) -> None:
        for word in words:
            if field.classes and word not in field.classes:
                self._say(where, f'"{word}"', f"a class of {field.name}", nearest(str(word), field.classes))

    def _other(self, where: str, field: Field, op: str, against: Mapping[str, Any], view: View) -> None:
        """A comparison with a limit of the file or with another column."""
        if set(against) == {"field"}:
            other = self._column(where, str(against["field"]), view)
            if other is not None and not (op in NUMERIC_OPS and {field.kind, other.kind} <= NUMERIC):
                self._say(where, f"{op} between {field.name} and {other.name}", "a comparison of two numbers")
            return
        name = against.get("limit")
        if set(against) != {"limit"} or name not in self.file.limits:
            known = nearest(str(name), self.file.limits) if name is not None else []
            self._say(
                where, f"{dict(against)!r}"[:60], "{limit: ...} with a limit of this file, or {field: ...}", known
            )
            return
        words = self.file.limits[name].versions[0].words
        if words is not None and op in ("one_of", "none_of") and field.kind in ("text", "class"):
            self._classes(where, field, words)
        elif words is not None or op not in NUMERIC_OPS or field.kind not in NUMERIC:
            kind = "words" if words is not None else "a number"
            self._say(
                where, f"{field.name}: {op} with {name}, which is {kind}", "a limit that fits the column and the test"
            )

    def _used_limits(self) -> set[str]:
        used: set[str] = set()
        for rule in self.file.rules:
            for part in (rule.where, rule.when, rule.must, *(e.where for e in rule.unless)):
                used |= set(tree_limits(part))
            if rule.outcomes_of is not None and rule.outcomes_of.window_ft is not None:
                used.add(rule.outcomes_of.window_ft)
        return all_limits(self.file, used)

    def _views_using(self, name: str) -> list[View]:
        """Views of the rules that use a limit, directly or through other limits."""
        found: dict[str, View] = {}
        for rule in self.file.rules:
            parts = (rule.where, rule.when, rule.must, *(e.where for e in rule.unless))
            used = all_limits(self.file, {n for p in parts for n in tree_limits(p)})
            if rule.examines in VIEWS and name in used:
                found[rule.examines] = VIEWS[rule.examines]
        return list(found.values())


def wrong_operand(field: Field, op: str, against: Any) -> str:
    """What a test of this column with a plain value needs instead; empty when it is well."""
    if op == "recorded":
        return "" if isinstance(against, bool) else "recorded: true or recorded: false"
    if field.kind == "yes_no":
        return "" if op == "equals" and isinstance(against, bool) else "true or false"
    if (op == "includes") != (field.kind == "classes"):
        return "includes, for a list of classes, and only for one"
    if op == "includes":
        return "" if isinstance(against, (str, list)) and against else "a class or a list of classes"
    if field.kind not in (*NUMERIC, "text", "class"):
        return "recorded: true or recorded: false, the one test there is for such a column"
    if op in ("one_of", "none_of"):
        return "" if isinstance(against, list) and against else "a list"
    if field.kind in NUMERIC:
        if isinstance(against, str) and op in ("equals", "within"):
            return wrong_interval(against)
        number = isinstance(against, (int, float)) and not isinstance(against, bool) and op != "within"
        return "" if number else "a number, an interval or a limit"
    return "" if op == "equals" and isinstance(against, str) else "a word, one_of or none_of"


def wrong_interval(text: str) -> str:
    """What is wrong with the text of an interval; empty when it is well."""
    try:
        parse_interval(text)
    except ValueError as error:
        return f"an interval: {error}"
    return ""


def _siblings(file: RuleFile) -> Iterator[str]:
    by_must: dict[tuple[str, str], list[Rule]] = {}
    for rule in file.rules:
        by_must.setdefault((rule.examines, ", ".join(sorted(_tested(rule.must)))), []).append(rule)
    for (examines, tested), rules in by_must.items():
        for first, second in itertools.combinations(rules, 2):
            split = _split_column(first.where or {}, second.where or {}, VIEWS.get(examines))
            if split is not None and first.must != second.must:
                yield f"{file.id}: {first.id} and {second.id} test {tested} and split on {split}"


def _reached(tree: object) -> Iterator[str]:
    """Limits that a requirement asks a value to reach, not to stay under."""
    if isinstance(tree, list):
        for branch in tree:
            yield from _reached(branch)
    elif isinstance(tree, Mapping):
        for key, body in tree.items():
            if key in ("at_least", "more_than") and isinstance(body, Mapping) and isinstance(body.get("limit"), str):
                yield body["limit"]
            elif key != "none_of":
                yield from _reached(body)


def _inner(shape: Shape) -> Iterator[Shape]:
    """The shapes inside a shape, at any depth."""
    for inner in (*(shape.lesser_of or []), *(shape.greater_of or [])):
        yield inner
        yield from _inner(inner)


def _thans(shape: Shape) -> Iterator[str]:
    yield from (s.than for s in (shape, *_inner(shape)) if s.than is not None)


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
