"""Judging typed rows by a rule of a shipped file, for checks of its figures against a printed table."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from auditor.check.examples import judged_examples, outcome_words
from auditor.rules.models import Example, Rule, RuleFile
from auditor.rules.reading import Rulebook, read_rules

DAY = date(2026, 5, 4)


def files_of(place: str, *topics: str) -> dict[str, RuleFile]:
    """The rule files of a place on these topics, by topic."""
    return {f.topic: f for f in read_rules([place]).files if f.place == place and f.topic in topics}


def rule_of(file: RuleFile, rule_id: str) -> Rule:
    """The one rule of that id."""
    (rule,) = [r for r in file.rules if r.id == rule_id]
    return rule


def outcomes(file: RuleFile, rule_id: str, rows: Sequence[dict[str, Any]]) -> list[str]:
    """What the rule makes of each row; the examples of its file are left aside."""
    typed = [Example(situation="typed", on=DAY, row=row, expect="conformity") for row in rows]
    rule = rule_of(file, rule_id).model_copy(update={"examples": typed})
    alone = file.model_copy(update={"rules": [rule]})
    ((_, _, parts),) = judged_examples(Rulebook((alone,)), alone)
    (judged,) = parts
    order = judged.frame["subject"].cast(int).to_list()
    by_row = dict(zip(order, judged.codes["0"].to_list(), strict=True))
    return [outcome_words(by_row[i], rule) for i in range(len(rows))]


def sides(column: str, figure: float, step: float = 0.5, **rest: Any) -> list[dict[str, Any]]:
    """Rows just under, at and just over a figure."""
    return [{**rest, column: value} for value in (figure - step, figure, figure + step)]


def marks(file: RuleFile) -> dict[str, str]:
    """How well each limit and rule of a file is known, as the file says."""
    limits = {f"limit {name}": {v.verified for v in limit.versions} for name, limit in file.limits.items()}
    found = {name: one.pop() for name, one in limits.items() if len(one) == 1}
    assert found.keys() == limits.keys()
    return found | {f"rule {r.id}": r.verified for r in file.rules}
