"""How each view of a place is built and judged, worked out once for many jobs."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from auditor.check.details import CONTEXT
from auditor.check.evaluate import rules_of_views
from auditor.rules.columns import columns_read
from auditor.rules.compiled import CompiledSet, common_scope, papers_asked
from auditor.rules.models import Needs, Rule, RuleFile
from auditor.rules.nodes import Node
from auditor.rules.reading import Rulebook


@dataclass(frozen=True, slots=True)
class Plan:
    """A view of a place and the rules that examine it. `compiled` fills up as editions are met."""

    view: str
    rules: Sequence[tuple[RuleFile, Rule]]
    columns: Collection[str]
    definitions: Mapping[str, Mapping[str, Any]]
    papers: Sequence[Needs]
    days: Sequence[date]
    scope: Node | None
    compiled: dict[date | None, CompiledSet] = field(default_factory=dict)


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
            self._made[place] = [
                Plan(
                    view=view,
                    rules=rules,
                    columns=columns_read(rules) | set(CONTEXT),
                    definitions=definitions,
                    papers=papers_asked(rules),
                    days=days,
                    scope=common_scope(view, rules),
                )
                for view, rules in rules_of_views(book.of(place)).items()
            ]
        return self._made[place]
