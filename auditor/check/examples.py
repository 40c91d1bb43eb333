"""Running the worked examples of rule files: every example is a row of the view its rule examines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import polars as pl

from auditor.check.details import allowances_used, describe
from auditor.check.evaluate import Judged, judge_view
from auditor.rules.compiled import Code, papers_needed
from auditor.rules.limits import paper_column
from auditor.rules.models import VOLUNTARY, Example, Rule, RuleFile
from auditor.rules.reading import Rulebook
from auditor.vocabulary import VIEWS, Field
from auditor.vocabulary.problems import Problem

_DTYPES: dict[str, Any] = {
    "text": pl.String,
    "number": pl.Float64,
    "whole": pl.Int64,
    "yes_no": pl.Boolean,
    "date": pl.Date,
    "time": pl.Time,
    "classes": pl.List(pl.String),
}


def dtype_of(field: Field) -> Any:
    """Polars type of a field."""
    return pl.Enum(field.classes) if field.kind == "class" else _DTYPES[field.kind]


def outcome_words(code: int, rule: Rule) -> str:
    """Name of an outcome; a breach of a voluntary practice is a departure from it."""
    if code == Code.NONCONFORMITY and rule.standing in VOLUNTARY:
        return "departure from practice"
    return Code(code).name.replace("_", " ").lower()


def example_frame(view_name: str, examples: Sequence[Example], papers: Iterable[str]) -> pl.DataFrame:
    """The examples as rows of the view; what an example does not name is blank."""
    view = VIEWS[view_name]
    columns: dict[str, pl.Series] = {
        "job": pl.Series(["example"] * len(examples), dtype=pl.String),
        "subject": pl.Series([str(i) for i in range(len(examples))], dtype=pl.String),
    }
    for field in view.fields:
        values = [e.row.get(field.name) for e in examples]
        if field.interval:
            for end, place in (("lo", 0), ("hi", 1)):
                ends = [v[place] if isinstance(v, list) else v for v in values]
                columns[f"{field.name}__{end}"] = pl.Series(ends, dtype=pl.Float64, strict=False)
        elif field.name not in columns:
            columns[field.name] = pl.Series(values, dtype=dtype_of(field), strict=False)
    for paper in papers:
        columns[paper] = pl.Series([e.row.get(paper) for e in examples], dtype=pl.Boolean)
    columns[view.dated_by] = pl.Series([e.on for e in examples], dtype=pl.Date)
    return pl.DataFrame(columns)


def run_examples(rulebook: Rulebook) -> list[Problem]:
    """Every example that does not come out as its file says, and every one that names an unknown column."""
    problems: list[Problem] = []
    for file in rulebook.files:
        papers = [paper_column(n) for n in papers_needed([file])]
        for view, owners, judged in judged_examples(rulebook, file):
            known = _known_columns(view, papers)
            unknown = [_unknown_columns(file, r, e, known) for r, e in owners]
            problems += [p for found in unknown for p in found]
            problems += [p for j in judged for p in _compare(file, owners, j)]
            problems += _out_of_force(file, owners, judged)
    return problems


def judged_examples(
    rulebook: Rulebook, file: RuleFile
) -> Iterator[tuple[str, list[tuple[Rule, Example]], list[Judged]]]:
    """The examples of a file by view, each with its rule, and what judging them gave, edition by edition.

    Column `subject` of the judged rows is the place of the row's example in the list.
    """
    days = rulebook.days_of_change(file.place)
    papers = [paper_column(n) for n in papers_needed([file])]
    by_view: dict[str, list[Rule]] = {}
    for rule in file.rules:
        if rule.examines in VIEWS and rule.examples:
            by_view.setdefault(rule.examines, []).append(rule)
    for view, rules in by_view.items():
        owners = [(rule, example) for rule in rules for example in rule.examples]
        frame = example_frame(view, [e for _, e in owners], papers)
        yield view, owners, list(judge_view(view, frame, [(file, r) for r in rules], days))


def _out_of_force(file: RuleFile, owners: Sequence[tuple[Rule, Example]], judged: Sequence[Judged]) -> list[Problem]:
    """Examples on a day on which their rule does not hold; nothing but "not applicable" may be expected of them."""
    held = {(number, r.rule.id) for j in judged for r in j.rules for number in j.frame["subject"]}
    return [
        _wrong(file, rule, example, "no rule in force that day", example.expect)
        for number, (rule, example) in enumerate(owners)
        if (str(number), rule.id) not in held and example.expect != "not applicable"
    ]


def _known_columns(view: str, papers: Sequence[str]) -> set[str]:
    return {f.name for f in VIEWS[view].fields} | set(papers)


def _unknown_columns(file: RuleFile, rule: Rule, example: Example, known: set[str]) -> list[Problem]:
    return [
        Problem(
            file.id, f"rule {rule.id}", "examples", f'column "{name}"', f"a column of {rule.examines}", "Rename it."
        )
        for name in example.row
        if name not in known
    ]


def _compare(file: RuleFile, owners: Sequence[tuple[Rule, Example]], judged: Judged) -> list[Problem]:
    problems = []
    place = {r.rule.id: i for i, r in enumerate(judged.rules)}
    gaps = {g["rule"][0]: g for g in judged.gaps}
    used = {(u["rule"], u["subject"]): u["arm"] for part in allowances_used(judged) for u in part.to_dicts()}
    for position, number in enumerate(judged.frame["subject"].to_list()):
        rule, example = owners[int(number)]
        if rule.id not in place:
            continue
        index = place[rule.id]
        got = outcome_words(judged.codes[str(index)][position], rule)
        if got != example.expect:
            problems.append(_wrong(file, rule, example, got, example.expect))
            continue
        key = judged.rules[index].key
        detail: Mapping[str, Any] = {}
        if got in ("nonconformity", "departure from practice"):
            detail = describe(judged.frame[position], judged.rules[index]).to_dicts()[0]
        elif (key, number) in used:
            detail = {"arm": used[key, number]}
        problems += _compare_detail(file, rule, example, detail)
        if example.missing is not None:
            gap = gaps[key].filter(pl.col("subject") == number)
            blamed = sorted(c.removeprefix("blank:") for c in gap.columns if c.startswith("blank:") and gap[c][0])
            if blamed != sorted(example.missing):
                problems.append(_wrong(file, rule, example, f"missing {blamed}", f"missing {sorted(example.missing)}"))
    return problems


def _compare_detail(file: RuleFile, rule: Rule, example: Example, detail: Mapping[str, Any]) -> list[Problem]:
    expected = {"limit": example.limit, "arm": example.by, "tolerated": example.tolerated}
    return [
        _wrong(file, rule, example, f"{name} {detail[name]}", f"{name} {wanted}")
        for name, wanted in expected.items()
        if wanted is not None and name in detail and detail[name] != wanted
    ]


def _wrong(file: RuleFile, rule: Rule, example: Example, got: str, wanted: str) -> Problem:
    return Problem(
        file.id, f"rule {rule.id}", f'example "{example.situation}"', got, wanted, "Mend the rule or the example."
    )
