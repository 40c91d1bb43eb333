"""How each view of a place is built and judged, worked out once for many jobs."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any

from auditor.check.details import CONTEXT
from auditor.check.evaluate import rules_of_views
from auditor.rules.columns import columns_read
from auditor.rules.compiled import CompiledSet, common_scope, papers_asked
from auditor.rules.models import Needs, Rule, RuleFile
from auditor.rules.nodes import Node
from auditor.rules.reading import Rulebook
from auditor.vocabulary import VIEWS


@dataclass(frozen=True)
class Plan:
    """A view of a place and the rules that examine it. `compiled` fills up as editions are met.

    `outcomes_of` holds, for a view of the second stage, the rule whose outcomes it is made of and the length of its window
    in ft; `watched` the rules of this view that such a view looks at.
    """

    view: str
    rules: Sequence[tuple[RuleFile, Rule]]
    columns: Collection[str]
    definitions: Mapping[str, Mapping[str, Any]]
    papers: Sequence[Needs]
    days: Sequence[date]
    outcomes_of: tuple[str, float | None] | None = None
    watched: frozenset[str] = frozenset()
    compiled: dict[date | None, CompiledSet] = field(default_factory=dict)

    @cached_property
    def scope(self) -> Node | None:
        """The scope that some of the rules have, on whatever day; None where one has none."""
        return common_scope(self.view, self.rules)


class Plans:
    """The plans of each place of a rulebook, made when first asked for."""

    def __init__(self, rulebook: Rulebook) -> None:
        self._rulebook = rulebook
        self._made: dict[str, list[Plan]] = {}

    def of(self, place: str) -> list[Plan]:
        """A plan for each view that the rules of the place examine."""
        if place not in self._made:
            book = self._rulebook
            definitions, days = book.definitions(place), book.days_of_change(place)
            together: list[tuple[str, list[tuple[RuleFile, Rule]], tuple[str, float | None] | None]] = []
            for view, rules in rules_of_views(book.of(place)).items():
                first = [(file, rule) for file, rule in rules if rule.outcomes_of is None]
                if first:
                    together.append((view, first, None))
                # Each rule of the second stage looks at outcomes of its own.
                together += [(view, [(f, r)], _looked_at(f, r)) for f, r in rules if r.outcomes_of is not None]
            together.sort(key=lambda plan: plan[2] is not None)
            watched = frozenset(outcomes[0] for *_, outcomes in together if outcomes is not None)
            self._made[place] = [
                Plan(
                    view=view,
                    rules=rules,
                    columns=columns_read(rules) | {*CONTEXT, *VIEWS[view].item, VIEWS[view].dated_by},
                    definitions=definitions,
                    papers=papers_asked(rules),
                    days=days,
                    outcomes_of=outcomes,
                    watched=watched,
                )
                for view, rules, outcomes in together
            ]
        return self._made[place]


def _looked_at(file: RuleFile, rule: Rule) -> tuple[str, float | None]:
    """The rule whose outcomes a rule of the second stage judges, and the length of its window in ft."""
    of = rule.outcomes_of
    if of is None:
        raise ValueError(f"{rule.id} is no rule of the second stage")
    window = file.limits[of.window_ft].versions[-1].value if of.window_ft is not None else None
    return f"{file.id}/{of.rule}", window
