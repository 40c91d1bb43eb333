"""Judgements made on the ground, as recorded, each beside the computed outcome of the rule that it names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl

from auditor.check import words
from auditor.check.site_words import spoken
from auditor.check.walk import PLACE_TABLES, Rows, place_of, said
from auditor.report.model import Judgement
from auditor.rules.reading import Rulebook
from auditor.vocabulary import nearest, subject_key

_FAILS = ("nonconformity", "departure from practice")


def judgements_of(
    rows: Rows, outcomes: pl.DataFrame | None, rulebook: Rulebook, adopted: Sequence[str]
) -> list[Judgement]:
    """The judgements of one job in the order of its record. What is computed stands beside them and replaces nothing.

    `rows`: the tables of this job by name; `outcomes`: see `walk.worst_outcomes`, of this job.
    """
    if "observations" not in rows:
        return []
    codes = _codes(outcomes)
    observations = rows["observations"].with_columns(words.evidence().alias("source"))
    found = []
    for row in observations.iter_rows(named=True):
        code = _computed(row, codes, rows)
        computed = "" if code is None else said(code, rulebook, row["rule"], adopted)
        found.append(_judgement(row, computed))
    return found


def unknown_names(judgements: Sequence[Judgement], rows: Rows, rulebook: Rulebook) -> list[str]:
    """A sentence for each rule that no file in use holds and each place that the record lacks, where a judgement names one."""
    found = []
    for judgement in judgements:
        if judgement.rule and rulebook.find(judgement.rule) is None:
            text = f'Judgement {judgement.name} names the rule "{judgement.rule}", which no rule file in use holds'
            found.append(text + _nearest(judgement.rule, rulebook.keys()))
        if judgement.place and place_of(judgement.place_kind, judgement.place, rows) is None:
            table = PLACE_TABLES.get(judgement.place_kind, "banks")
            names = rows[table][subject_key(table)].to_list() if table in rows else []
            text = f'Judgement {judgement.name} is on {judgement.place_kind or "a place"} "{judgement.place}"'
            found.append(
                f"{text}, which is no place of the record that rules are held against{_nearest(judgement.place, names)}"
            )
    return found


def _nearest(word: str, known: Sequence[str]) -> str:
    near = nearest(word, known, count=1)
    return f"; the nearest is {near[0]}." if near else "."


def contradicting(judgements: Sequence[Judgement]) -> list[Judgement]:
    """The judgements that say otherwise than what is computed."""
    return [j for j in judgements if j.agrees is False]


def significant_risks(judgements: Sequence[Judgement]) -> list[Judgement]:
    """The judgements that saw a significant risk to water, without practices that do not apply."""
    return [j for j in judgements if j.significant_risk is True and j.answer != "not applicable"]


Codes = Mapping[tuple[str, str], Mapping[str, int]]
"""Rule and table -> name of a place -> worst outcome there."""


def _codes(outcomes: pl.DataFrame | None) -> Codes:
    found: dict[tuple[str, str], dict[str, int]] = {}
    if outcomes is not None:
        for rule, table, subject, code in outcomes.select("rule", "table", "subject", "code").iter_rows():
            found.setdefault((rule, table), {})[subject] = code
    return found


def _computed(row: Mapping[str, Any], codes: Codes, rows: Rows) -> int | None:
    """The worst outcome of the rule a judgement names at its place; None where it was not held against that place."""
    if row["rule"] is None:
        return None
    place = place_of(str(row["place_kind"] or ""), row["place"] or "", rows)
    if place is None:
        return None
    if place[0] == "job":
        # A rule on judgements is left out: a judgement would be held against itself.
        found = [p for (rule, table), p in codes.items() if rule == row["rule"] and table != "observations"]
        return max((code for places in found for code in places.values()), default=None)
    return codes.get((row["rule"], place[0]), {}).get(place[1])


def _judgement(row: Mapping[str, Any], computed: str) -> Judgement:
    answer = spoken(row["answer"])
    return Judgement(
        name=row["observation"],
        question=spoken(row["question"]),
        practice=row["practice"] or "",
        category=spoken(row["category"]),
        rule=row["rule"] or "",
        place_kind=spoken(row["place_kind"]),
        place=row["place"] or "",
        answer=answer,
        significant_risk=row["significant_risk"],
        reason=row["reason"] or "",
        role=spoken(row["role"]),
        observer=row["observer"] or "",
        licence=row["licence"] or "",
        observed_on=row["observed_on"],
        photo=row["photo"] or "",
        photo_latitude_deg=row["photo_latitude_deg"],
        photo_longitude_deg=row["photo_longitude_deg"],
        photo_on=row["photo_on"],
        computed=computed,
        agrees=_agrees(answer, computed),
        source=row["source"],
    )


def _agrees(answer: str, computed: str) -> bool | None:
    """Whether answer and outcome say the same; None where one of them leaves it open."""
    if answer not in ("yes", "no") or computed not in ("conformity", *_FAILS):
        return None
    return (answer == "yes") == (computed == "conformity")
