"""Findings: equal shortcomings of one job together, with the worst case and what would bring each load inside."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import polars as pl

from auditor.check import words
from auditor.check.details import CONTEXT
from auditor.check.limits_used import limit_key, mark, unit_of
from auditor.check.views.base import PLACE
from auditor.report.model import Finding, Item
from auditor.rules import kleene
from auditor.rules.models import VOLUNTARY, Rule, RuleFile
from auditor.rules.reading import Rulebook
from auditor.vocabulary import SUBJECTS, VIEWS
from auditor.vocabulary.quantities import count_text

BOUNDARY = {
    "at_most": "at most",
    "less_than": "less than",
    "at_least": "at least",
    "more_than": "more than",
    "equals": "exactly",
}
_SPOKEN = ["rule", "column", "op", "limit_name", "arm", "would"]
_ITEM = [*Item.model_fields]
_KEPT = [*_ITEM, "job", "rule", "confirmed", "mark", "limit_name", "arm"]
_FINDING = ["job", "rule", "confirmed"]
_REMEDY = [
    "op",
    "column",
    "unit",
    "measured",
    "limit",
    "margin",
    "would_title",
    "weakest_tiedown_wll_lb",
    "missing_contents",
    "from_ft",
    "to_ft",
]
CALLED = {"loads": "ticket"}
"""The word before the name of a subject, where it is not its noun."""
_KINDS = ("nonconformity", "departure from practice", "opportunity for improvement")
_WHOLE = ("leg", "first_axle", "last_axle", "stack", "tiedown", "station", "stump", "pipe", "drain")
_NUMBERS = ("weakest_tiedown_wll_lb", "along_ft", "strip_from_ft", "strip_to_ft", "from_ft", "to_ft")
_DTYPES = {**dict.fromkeys(_WHOLE, pl.Int64()), **dict.fromkeys(_NUMBERS, pl.Float64())}
_WALK = ("leg", "first_axle", "last_axle", "stack", "tiedown", "station", "along_ft", "from_ft", "pipe", "drain")
"""What orders the rows of one subject as one meets them."""


@dataclass(frozen=True, slots=True)
class Worst:
    """The worst rows of some whole jobs; `kind` of a row leads into `kinds`: the comparison that spoke, and its names."""

    rows: pl.DataFrame
    kinds: pl.DataFrame


def worst_rows(breaches: Sequence[pl.DataFrame], rulebook: Rulebook) -> Worst:
    """One row per job, rule and load, its worst, with `also_on`: how many more of its rows break the rule.

    Of the harvest site every row that breaks a rule is kept (`each`), for each is a place to go to. Adds `mark`, how well
    the limit is known, and unit and names of what spoke. A load that breaks both confirmed limits and some known from memory
    only keeps a row for either, so that the unconfirmed cannot hide the confirmed; what is not tolerated comes first.
    """
    rows = pl.concat(breaches, how="diagonal_relaxed").with_columns(pl.col("rule").cast(pl.Enum(rulebook.keys())))
    kinds = _spoken(rows.select(_SPOKEN).unique(maintain_order=True), rulebook).with_row_index("kind")
    confirmed = kinds.select("kind", *_SPOKEN, "each", confirmed=pl.col("mark") != "memory")
    rows = rows.join(confirmed, on=_SPOKEN, how="left", nulls_equal=True, maintain_order="left", validate="m:1")
    rows = rows.drop(c for c in _SPOKEN if c != "rule").with_columns(_soft=pl.col("tolerated").eq_missing(True))
    keys = ["rule", PLACE, "confirmed"]
    order = [*keys, "_soft", "margin", *(c for c in _WALK if c in rows.columns)]
    down = [c in ("confirmed", "margin") for c in order]
    sort = {"descending": down, "nulls_last": True, "maintain_order": True}
    ordered = rows.select(pl.int_range(pl.len(), dtype=pl.UInt32).sort_by(order, **sort).alias("at"))["at"]  # type: ignore[arg-type]
    held = rows.select(*keys, "each")[ordered]
    # Of each load the first row in that order; rows of a site stand for themselves.
    new = [pl.col(c).ne_missing(pl.col(c).shift(1)) for c in keys]
    first = held.select(kleene.any_of([*new, pl.col("each")]))
    starts = first.to_series().arg_true()
    ends = starts.shift(-1, fill_value=len(ordered))
    return Worst(rows[ordered.gather(starts)].with_columns(also_on=ends - starts - 1), kinds)


def in_words(worst: Worst) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The items of all findings, those of loads from the worst on and those of a site in walking order, and their cases.

    A case is the worst of each job, rule and `confirmed`, with its figures as words.
    """
    kinds = worst.kinds.drop("rule", "each")
    rows = worst.rows.join(kinds, on="kind", how="left", maintain_order="left", validate="m:1")
    lacking = [c for c in CONTEXT if c not in rows.columns]
    rows = rows.with_columns(pl.lit(None, dtype=_DTYPES.get(c, pl.String())).alias(c) for c in lacking)
    order = ["job", "rule", "confirmed", "_soft", "margin", "on", "subject"]
    down = [c in ("confirmed", "margin") for c in order]
    rows = _in_words(rows.sort(order, descending=down, nulls_last=True, maintain_order=True))
    walked = rows.filter("each").sort("job", "rule", "confirmed", PLACE, *_WALK, nulls_last=True, maintain_order=True)
    return pl.concat([rows.filter(~pl.col("each")), walked]).select(_KEPT), _cases(rows)


def _spoken(kinds: pl.DataFrame, rulebook: Rulebook) -> pl.DataFrame:
    """Each kind of comparison that spoke, with how well its limit is known, its unit and its names."""
    found: dict[str, list[str | None]] = {"mark": [], "unit": [], "limit_key": [], "would_title": []}
    found |= {"called": []}
    each = []
    for key, column, _, limit_name, arm, would in kinds.iter_rows():
        pair = rulebook.find(key)
        if pair is None:
            raise KeyError(key)
        file, rule = pair
        field = VIEWS[rule.examines].field(column)
        found["mark"].append(mark(rulebook, key, limit_name, arm))
        found["unit"].append(unit_of(file, limit_name) or (field.unit if field is not None else None))
        subject = VIEWS[rule.examines].subject
        each.append(subject != "loads")
        found["called"].append(CALLED.get(subject, SUBJECTS[subject]))
        found["limit_key"].append(limit_key(key, limit_name, arm))
        allowances = file.limits[limit_name].allowances if would is not None else []
        found["would_title"].append(next((a.title for a in allowances if a.id == would), None))
    said = [pl.Series(name, values, dtype=pl.String) for name, values in found.items()]
    return kinds.with_columns(*said, pl.Series("each", each, dtype=pl.Boolean))


def _in_words(rows: pl.DataFrame) -> pl.DataFrame:
    """Add the columns of an item."""
    numbers = pl.col("measured").is_not_null() & pl.col("limit").is_not_null()
    boundary = pl.col("op").replace_strict(BOUNDARY, default="")
    rows = rows.with_columns(
        pl.when(numbers).then("unit").alias("unit"),
        pl.when(numbers).then("margin").alias("margin"),
        pl.when(numbers).then(boundary).otherwise(pl.lit("")).alias("boundary"),
        words.part_of_subject().alias("what"),
        words.joined([pl.col("truck"), pl.col("trailer")], " + ").alias("vehicle"),
        pl.col("destination").fill_null(""),
        words.evidence().alias("source"),
        pl.coalesce("from_ft", "along_ft").alias("from_ft"),
    )
    # Many loads are off by the same: their words are made once.
    remedies = rows.select(_REMEDY).unique().with_columns(words.remedy().alias("to_mend"))
    return rows.join(remedies, on=_REMEDY, how="left", nulls_equal=True, maintain_order="left", validate="m:1")


def _cases(rows: pl.DataFrame) -> pl.DataFrame:
    """The first row of each finding in one line, and its figures as words, for the placeholders of a rule's texts."""
    margin, unit = pl.col("margin"), pl.col("unit")
    most = margin.max().over(_FINDING)  # nulls: a requirement without numbers has none
    first = rows.with_columns(_most=most, _unit=unit.first().over(_FINDING)).unique(
        _FINDING, keep="first", maintain_order=True
    )
    figures = {
        "margin": words.number(words.off_by(margin, unit)),
        "limit": words.number(words.allowed()),
        "value": words.number(words.found()),
        "tons": (margin / words.POUNDS_PER_SHORT_TON).round(1).cast(pl.String),
        "unit": words.unit(words.off_by(margin, unit), unit),
        "most": words.quantity(words.off_by(pl.col("_most"), pl.col("_unit")), pl.col("_unit")),
    }
    texts = [text.fill_null("").alias(name) for name, text in figures.items()]
    cases = first.select(*_FINDING, words.worst_case().alias("worst"), *texts)
    return cases.join(_counted(rows), on=_FINDING, how="left", maintain_order="left", validate="1:1")


def _counted(rows: pl.DataFrame) -> pl.DataFrame:
    """For each finding its subjects, how many of them are tolerated altogether, and whether a limit is second-hand."""
    hard = ~pl.col("tolerated").eq_missing(True)
    second = pl.col("mark").eq_missing("secondary")
    rows = rows.select(*_FINDING, "subject", hard=hard, second=second)
    alike = rows.group_by(*_FINDING, "subject")
    of_subject = alike.agg(pl.col("hard", "second").any())  # nulls: eq_missing leaves none
    soft = (~pl.col("hard")).sum()  # nulls: eq_missing leaves none
    some = pl.col("second").any()  # nulls: eq_missing leaves none
    counted = of_subject.group_by(_FINDING)
    return counted.agg(subject_count=pl.len(), tolerated_count=soft, second_hand=some)


def findings_of(
    rows: pl.DataFrame, cases: pl.DataFrame, rulebook: Rulebook, judged: Mapping[str, int], adopted: Sequence[str]
) -> list[Finding]:
    """The findings of one job from its worst rows and cases, the gravest first. `judged`: rule -> subjects it applied to."""
    found: list[Finding] = []
    texts = {(case["rule"], case["confirmed"]): case for case in cases.iter_rows(named=True)}
    parts = rows.partition_by("rule", "confirmed", as_dict=True, maintain_order=True)
    for (key, confirmed), part in sorted(parts.items()):
        pair = rulebook.find(str(key))
        if pair is not None:
            case = texts[key, confirmed]
            found.append(_finding(*pair, part, case, bool(confirmed), judged.get(str(key), 0), adopted))
    found.sort(key=_gravity)
    for number, finding in enumerate(found, start=1):
        finding.number = number
    return found


def _gravity(finding: Finding) -> tuple[Any, ...]:
    return (
        not finding.confirmed,
        _KINDS.index(finding.kind),
        finding.grade != "major",
        finding.tolerated_count == finding.subject_count,
        -finding.subject_count,
        finding.rule,
    )


def _finding(
    file: RuleFile,
    rule: Rule,
    part: pl.DataFrame,
    case: Mapping[str, Any],
    confirmed: bool,
    judged: int,
    adopted: Sequence[str],
) -> Finding:
    key, noun = f"{file.id}/{rule.id}", SUBJECTS[VIEWS[rule.examines].subject]
    voluntary = rule.standing in VOLUNTARY and key not in adopted and file.topic not in adopted
    count, tolerated = case["subject_count"], case["tolerated_count"]
    grade: Literal["major", "minor"] = rule.grade if confirmed and tolerated < count else "minor"
    identity = f"{case['job']}|{key}|{'confirmed' if confirmed else 'unconfirmed'}"
    return Finding(
        id=hashlib.sha256(identity.encode()).hexdigest()[:12],
        number=0,
        kind="departure from practice" if voluntary else "nonconformity",
        grade=grade,
        confirmed=confirmed,
        second_hand=confirmed and case["second_hand"],
        rule=key,
        title=rule.title,
        place=file.place,
        topic=file.topic,
        standing=rule.standing,
        duty_of=rule.duty_of,
        subject=noun,
        subject_count=count,
        tolerated_count=tolerated,
        judged_count=judged,
        worst=case["worst"],
        summary=_summary(noun, count, judged, tolerated, case["most"]),
        action=_filled(rule.action, case),
        caution=_filled(rule.caution, case),
        items=[Item.model_construct(**row) for row in part.select(_ITEM).iter_rows(named=True)],
    )


def _summary(noun: str, count: int, judged: int, tolerated: int, most: str) -> str:
    text = f"{count_text(count, noun)} of {judged:,} judged"
    if most:
        text += f"; off by {most} at most"
    if tolerated:
        them = "it lies" if count == 1 else "1 of them lies" if tolerated == 1 else f"{tolerated:,} of them lie"
        text += f"; {them} inside an enforcement tolerance"
    return text


def _filled(text: str, texts: Mapping[str, Any]) -> str:
    for name in ("margin", "unit", "limit", "value", "tons"):
        text = text.replace("{" + name + "}", texts[name])
    return text
