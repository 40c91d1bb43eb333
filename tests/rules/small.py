"""Small rule files made in a test, and what the engine says of rows held against them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import polars as pl

from auditor.check.details import describe
from auditor.check.evaluate import Judged, judge_view
from auditor.check.examples import example_frame, outcome_words
from auditor.rules.compiled import Code, papers_needed
from auditor.rules.limits import paper_column
from auditor.rules.models import Example, RuleFile
from auditor.rules.reading import Rulebook

DAY = date(2026, 5, 4)
CITED = {"source": "s", "verified": "read"}
LIMIT = "weight_limit_lb"
AXLE_GROUPS = {"tandem_spread_in": "(40, 96]", "steer_axle_in_tandem": False, "lift_axles_count": False}
Row = Mapping[str, Any]


def a_limit(value: Any = 80_000, **parts: Any) -> dict[str, Any]:
    """A limit: one version with a number, or the shapes given."""
    shape = value if isinstance(value, dict) else {"value": value}
    return {"means": "weight", "unit": "lb", "versions": [{**shape, **CITED}], **parts}


def an_allowance(id: str = "more", form: str = "raised limit", **parts: Any) -> dict[str, Any]:
    return {"id": id, "title": f"the allowance {id}", "form": form, **CITED, **parts}


def a_cap(id: str = "cap", **parts: Any) -> dict[str, Any]:
    return {"id": id, "title": f"the cap {id}", **CITED, **parts}


def a_rule(**parts: Any) -> dict[str, Any]:
    return {
        "id": "gross", "title": "Gross weight", "examines": "load_legs",
        "must": {"gross_weight_lb": {"at_most": {"limit": LIMIT}}}, "duty_of": "carrier", "standing": "statute",
        "grade": "major", "evidence": "usual", "action": "Load less.", "caution": "Local codes govern.", **CITED, **parts,
    }  # fmt: skip


def a_file(rule: Mapping[str, Any] | Sequence[Mapping[str, Any]] | None = None, **limits: Any) -> RuleFile:
    """A file of Georgia with the rules and limits given; without them one gross limit of 80,000 lb."""
    rules = [rule] if isinstance(rule, Mapping) else list(rule) if rule is not None else [a_rule()]
    return RuleFile.model_validate(
        {
            "id": "us-ga/weight", "place": "US-GA", "topic": "weight", "title": "Weight",
            "sources": {"s": {"instrument": "Act", "seen": "in a test"}},
            "definitions": {"axle_groups": {**AXLE_GROUPS, **CITED}},
            "limits": limits or {LIMIT: a_limit()}, "rules": rules,
        }
    )  # fmt: skip


def judge(file: RuleFile, *rows: Row) -> list[Judged]:
    """The rows of the view that the first rule examines, judged; a row's day is its "on", 4 May 2026 without one."""
    view = file.rules[0].examines
    examples = [
        Example(situation="", on=r.get("on", DAY), row={k: v for k, v in r.items() if k != "on"}, expect="conformity")
        for r in rows
    ]
    frame = example_frame(view, examples, [paper_column(n) for n in papers_needed([file])])
    days = Rulebook((file,)).days_of_change(file.place)
    return list(judge_view(view, frame, [(file, r) for r in file.rules], days))


def _by_row(judged: Sequence[Judged], values: Sequence[Sequence[Any]]) -> list[Any]:
    found = {
        int(number): v
        for j, vs in zip(judged, values, strict=True)
        for number, v in zip(j.frame["subject"], vs, strict=True)
    }
    return [found[i] for i in sorted(found)]


def outcomes(file: RuleFile, *rows: Row, rule: int = 0) -> list[str]:
    """Outcome of each row under one rule, in words."""
    judged = judge(file, *rows)
    words = [[outcome_words(c, file.rules[rule]) for c in j.codes[str(rule)]] for j in judged]
    return _by_row(judged, words)


def bounds(file: RuleFile, *rows: Row, limit: str = LIMIT, part: str = ":") -> list[tuple[float, float]]:
    """Least and most the limit can be on each row; part ":tolerated_" asks for the tolerated one."""
    judged = judge(file, *rows)
    name = f"limit:{file.id}/{limit}{part}"
    pairs = [list(zip(j.frame[f"{name}low"], j.frame[f"{name}high"], strict=True)) for j in judged]
    return _by_row(judged, pairs)


def blamed(file: RuleFile, row: Row) -> list[str]:
    """The columns whose blanks leave the first rule open on a row."""
    return sorted(
        c.removeprefix("blank:")
        for j in judge(file, row)
        for gap in j.gaps
        for c in gap.columns
        if c.startswith("blank:") and gap[c].to_list() == [True]
    )


def detail(file: RuleFile, row: Row) -> dict[str, Any]:
    """What there is to say of a row that breaks the first rule."""
    (judged,) = judge(file, row)
    assert judged.codes["0"].to_list() == [int(Code.NONCONFORMITY)]
    return describe(judged.frame, judged.rules[0]).to_dicts()[0]


def truths(expressions: Mapping[str, pl.Expr], frame: pl.DataFrame) -> list[tuple[Any, ...]]:
    """Rows of the expressions over a frame."""
    return frame.select(e.alias(n) for n, e in expressions.items()).rows()
