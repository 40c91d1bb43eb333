"""Implementation of practices by the judgements, with sums by hand, and the rates that the states published."""

from __future__ import annotations

import math
from typing import Any

import pytest

from auditor.check.scores import RATES, published_rates
from auditor.report.model import PracticeScore
from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook, read_rules
from auditor.vocabulary.ground import CATEGORIES
from tests.check.small_site import CITED, FILES, WIDTH, a_file, a_site


def judged(category: str | None, *answers: str | None, risks: tuple[bool | None, ...] = ()) -> list[dict[str, Any]]:
    given = (*risks, *[False] * (len(answers) - len(risks)))
    return [
        {"question": "practice_applied", "category": category, "answer": a, "significant_risk": r}
        for a, r in zip(answers, given, strict=True)
    ]


def scores(*rows: list[dict[str, Any]], files: tuple[RuleFile, ...] = FILES) -> dict[str, PracticeScore]:
    found = a_site([row for part in rows for row in part], files=files).scores
    assert len({s.category for s in found}) == len(found)
    return {s.category: s for s in found}


def test_yes_over_all_that_apply_by_category_and_pooled() -> None:
    found = scores(
        judged("firebreaks", "yes"),
        judged("harvesting", "yes", "yes", "yes", "no"),
        judged("stream_crossings", "no", "not_applicable", "no", "yes"),
    )
    # In the framework's order whatever that of the record, all last.
    assert list(found) == ["harvesting", "stream crossings", "firebreaks", "all"]
    # 3 of 4; 1 of 3, the one that does not apply left out; 1 of 1.
    assert [(s.low_pct, s.high_pct) for s in found.values()] == [(75, 75), (33.33, 33.33), (100, 100), (62.5, 62.5)]
    # Pooled 5 of 8 = 62.5 percent; the mean of the categories would be (75 + 33.33 + 100) / 3 = 69.4.
    pooled = found["all"]
    assert (pooled.yes_count, pooled.no_count, pooled.open_count, pooled.not_applicable_count) == (5, 3, 0, 1)


def test_open_answers_count_as_no_below_and_as_yes_above() -> None:
    found = scores(judged("harvesting", "yes", "no", "could_not_tell", None))["harvesting"]
    # 1 of 4 = 25 percent at least, 3 of 4 = 75 percent at most.
    assert (found.open_count, found.low_pct, found.high_pct) == (2, 25, 75)


def test_a_category_in_which_nothing_applies_has_no_share() -> None:
    found = scores(judged("harvesting", "not_applicable", risks=(True,)), judged("firebreaks", "yes"))
    none = found["harvesting"]
    assert (none.low_pct, none.high_pct, none.margin_pct, none.risk_count_low, none.risk_count_high) == (
        None,
        None,
        None,
        0,
        0,
    )
    assert found["all"].low_pct == 100


def test_judgements_without_a_category_are_no_part_of_the_score() -> None:
    found = scores(judged(None, "no", "no"), judged("harvesting", "yes"))
    assert (found["all"].no_count, found["all"].low_pct) == (0, 100)
    assert scores(judged(None, "no")) == {}


def test_risks_are_counted_and_a_blank_one_only_above() -> None:
    found = scores(
        judged("harvesting", "no", "no", "yes", risks=(True, None, False)), judged("firebreaks", "no", risks=(True,))
    )
    assert (found["harvesting"].risk_count_low, found["harvesting"].risk_count_high) == (1, 2)
    assert (found["all"].risk_count_low, found["all"].risk_count_high) == (2, 3)


def test_the_margin_is_that_of_the_framework_and_blank_where_it_says_nothing() -> None:
    # sqrt(4 x 75 x 25 / 4) = sqrt(1875) = 43.30 points
    assert (
        scores(judged("harvesting", "yes", "yes", "yes", "no"))["harvesting"].margin_pct
        == 43.3
        == round(math.sqrt(1875), 2)
    )
    assert scores(judged("harvesting", "yes", "yes"))["harvesting"].margin_pct is None
    assert scores(judged("harvesting", "no"))["harvesting"].margin_pct is None


def test_three_of_three_is_a_hundred() -> None:
    for n in (3, 7, 49):
        assert scores(judged("harvesting", *["yes"] * n))["all"].low_pct == 100


def rates(*entries: dict[str, Any], topic: str = "streamside", **parts: Any) -> RuleFile:
    sources = {"s": {"instrument": "Survey", "seen": "x"}, "m": {"instrument": "Magazine", "seen": "y"}}
    return a_file(topic, WIDTH, sources=sources, definitions={RATES: {"rates": list(entries), **CITED, **parts}})


def test_the_latest_published_rate_stands_beside_the_score() -> None:
    file = rates(
        {"year": 2013, "category": "all", "pct": 93}, {"year": 2001, "category": "all", "pct": 83},
        {"year": 2016, "category": "harvesting", "pct": 96.5, "source": "m", "verified": "secondary", "note": "few sites"},
    )  # fmt: skip
    found = scores(judged("harvesting", "yes"), judged("firebreaks", "no"), files=(file,))
    assert [(s.published_pct, s.published) for s in found.values()] == [
        (96.5, "2016, Magazine (second-hand); few sites"), (None, ""), (93, "2013, Survey"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("pct", "sites"),
    [
        # n = 4 p (100 - p) / 25, rounded up: 4 x 93 x 7 / 25 = 104.16; 4 x 90 x 10 / 25 = 144 at once.
        (93, 105),
        (90, 144),
        (100, None),
        (0, None),
    ],
)  # fmt: skip
def test_how_many_sites_a_survey_visits_for_that_rate(pct: float, sites: int | None) -> None:
    file = rates({"year": 2013, "category": "all", "pct": pct})
    assert scores(judged("harvesting", "yes"), files=(file,))["all"].survey_site_count == sites


def test_the_score_moves_no_finding_and_no_status() -> None:
    plain, bad = a_site(), a_site(judged("harvesting", "no", "no", "no"))
    assert (bad.findings, bad.conclusion.status) == (plain.findings, plain.conclusion.status)


PUBLISHED = {
    # Place -> category -> percent, year: as the agencies' reports and the trade press give them.
    "US-AR": {"all": (93, 2019), "streamside_management_zones": (89, 2019), "harvesting": (96, 2004)},
    "US-FL": {"all": (93, 1981)},
    "US-GA": {"all": (91.13, 2015)},
    "US-MS": {"all": (95, 2019)},
    "US-SC": {"all": (93, 2013)},
    "US-TX": {"all": (91.5, 2008)},
}
"""South Carolina: news release of its forestry commission, October 2013. Mississippi: report of August 2019. Georgia: forestry
magazine, fall 2017. East Texas: report of December 2008 (round 7). Arkansas: report of March 2005, magazine of 2019.
Florida: page of its agency on the survey of 1981."""


def test_the_rates_in_the_rule_files_are_those_published() -> None:
    book = read_rules()
    held = {f.place for f in book.files if RATES in f.definitions}
    assert held == set(PUBLISHED)
    for place, expected in PUBLISHED.items():
        found = {c: (r.pct, int(r.told[:4])) for c, r in published_rates(book, place).items()}
        assert found == expected, place


def test_every_published_rate_is_a_percentage_of_a_known_category_with_a_source_of_its_file() -> None:
    entries = [(f, f.definitions[RATES]) for f in read_rules().files if RATES in f.definitions]
    assert entries
    for file, definition in entries:
        for rate in (definition.model_extra or {})["rates"]:
            assert rate["category"] in ("all", *CATEGORIES), file.id
            assert 0 < rate["pct"] <= 100 and 1980 <= rate["year"] <= 2026, file.id
            assert rate.get("source", definition.source) in file.sources, file.id


def test_a_place_without_a_published_rate_has_none() -> None:
    assert published_rates(Rulebook(FILES), "US-SC") == {}
