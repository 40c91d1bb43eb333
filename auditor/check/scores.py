"""How far the practices of a job were carried out, by the judgements made on the ground, beside what its state published.

The score of one job rests on a few dozen judgements on one site. It is context beside published rates and never a
pass mark: no rule, no finding and no exit status looks at it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from auditor.check.site_words import spoken
from auditor.measures.monitoring import (
    implementation,
    implementation_margin_pct,
    significant_risk,
    sites_to_sample,
)
from auditor.report.model import PracticeScore
from auditor.rules.models import Definition, RuleFile
from auditor.rules.reading import Rulebook
from auditor.vocabulary.ground import CATEGORIES

RATES = "implementation_rates"
"""Name of the definition that holds the rates a state published: `rates`, each with year, category and pct."""
ALL = "all"
SURVEY_MARGIN_PCT = 5.0
"""The error, in points, that the southern framework plans its surveys for."""


@dataclass(frozen=True, slots=True)
class PublishedRate:
    """The latest rate that a state published in one category, in percent, and when and where."""

    pct: float
    told: str


def scores_of(observations: pl.DataFrame | None, rulebook: Rulebook, place: str) -> list[PracticeScore]:
    """The scores of one job by category in the framework's order, then all of them pooled; nothing without categories."""
    if observations is None:
        return []
    asked = observations.filter(pl.col("category").is_not_null())
    if not asked.height:
        return []
    published = published_rates(rulebook, place)
    by_category = {str(row["category"]): row for row in _counted(asked, ["category"])}
    (pooled,) = _counted(asked, [])
    found = [_score(c, by_category[c], published.get(c)) for c in CATEGORIES if c in by_category]
    return [*found, _score(ALL, pooled, published.get(ALL))]


def _counted(answers: pl.DataFrame, by: Sequence[str]) -> list[dict[str, Any]]:
    shares, risks = implementation(answers, by), significant_risk(answers, by)
    if not by:
        return pl.concat([shares, risks], how="horizontal").to_dicts()
    # A category in which nothing applies has no row of risks.
    joined = shares.join(risks, on=by, how="left", maintain_order="left", nulls_equal=True, validate="1:1")
    return joined.with_columns(pl.col("risk_count__lo", "risk_count__hi").fill_null(0)).to_dicts()


def _score(category: str, row: Mapping[str, Any], rate: PublishedRate | None) -> PracticeScore:
    low = row["implementation_pct__lo"]
    count = row["yes_count"] + row["no_count"] + row["open_count"]
    usual = rate is not None and 0 < rate.pct < 100
    return PracticeScore(
        category=spoken(category),
        yes_count=row["yes_count"],
        no_count=row["no_count"],
        open_count=row["open_count"],
        not_applicable_count=row["not_applicable_count"],
        low_pct=_rounded(low),
        high_pct=_rounded(row["implementation_pct__hi"]),
        margin_pct=_margin(low, count),
        risk_count_low=row["risk_count__lo"],
        risk_count_high=row["risk_count__hi"],
        published_pct=rate.pct if rate is not None else None,
        published=rate.told if rate is not None else "",
        survey_site_count=sites_to_sample(rate.pct, SURVEY_MARGIN_PCT) if rate is not None and usual else None,
    )


def _margin(low_pct: float | None, count: int) -> float | None:
    """The margin of error; None at 0 and 100 percent, where the formula gives 0 and so says nothing."""
    if low_pct is None or not 0 < round(low_pct, 6) < 100:
        return None
    margin = float(implementation_margin_pct(low_pct, count))
    return None if math.isnan(margin) else _rounded(margin)


def _rounded(value: float | None) -> float | None:
    """To a hundredth of a point, so that 100 x 3 / 3 is 100 on every machine."""
    return None if value is None else round(value, 2)


def published_rates(rulebook: Rulebook, place: str) -> dict[str, PublishedRate]:
    """The latest rate of each category, and of all, that the rule files of a place hold.

    An entry of `rates` may have its own `source` and `verified` where it does not come from that of the definition.
    """
    latest: dict[str, tuple[int, PublishedRate]] = {}
    for file in rulebook.of(place):
        definition = file.definitions.get(RATES)
        for rate in (definition.model_extra or {}).get("rates", []) if definition is not None else []:
            category, year = str(rate["category"]), int(rate["year"])
            if definition is not None and year >= latest.get(category, (0, None))[0]:
                latest[category] = (year, PublishedRate(float(rate["pct"]), _told(rate, definition, file)))
    return {category: rate for category, (_, rate) in latest.items()}


def _told(rate: Mapping[str, Any], definition: Definition, file: RuleFile) -> str:
    """Year, instrument, how it is known, and what is to be minded: "2015, trade magazine of 2017 (second-hand)"."""
    source = file.sources[str(rate.get("source", definition.source))]
    marks = {"secondary": " (second-hand)", "memory": " (unconfirmed)"}
    text = f"{rate['year']}, {source.instrument}{marks.get(str(rate.get('verified', definition.verified)), '')}"
    return f"{text}; {rate['note']}" if rate.get("note") else text
