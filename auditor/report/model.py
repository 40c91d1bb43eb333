"""What a report holds. The published JSON Schema is made from these models; every renderer reads nothing else."""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

SCHEMA_NAME: Literal["haul audit report 1"] = "haul audit report 1"

PartName = Literal[
    "findings", "missing", "open questions", "allowances", "weights", "coverage", "limits", "evidence", "notes", "rules"
]  # fmt: skip
"""The parts of a report that may be left out; the conclusion, what is not covered and the cautions always stay."""

FindingKind = Literal["nonconformity", "departure from practice", "opportunity for improvement"]


class Part(BaseModel):
    """Refuses words it does not know."""

    model_config = ConfigDict(extra="forbid")


class Limit(Part):
    """A limit that spoke, or the text of a requirement without a number, with where it comes from."""

    key: str = Field(description="rule file, limit and entry: us-ga/weight/gross_limit_lb/base")
    means: str
    value: float | None = Field(description="null where it differs from row to row or the requirement has no number")
    unit: str | None
    form: str = Field(description="limit, raised limit, permit, enforcement tolerance, cap, requirement")
    title: str | None = Field(description="name of the allowance or cap; null for the limit itself")
    instrument: str
    at: str | None = Field(description="paragraph of the instrument")
    seen: str = Field(description="in what form and edition the text was seen")
    verified: Literal["read", "secondary", "memory", "confirmed"]
    checked: date | None = Field(description="day someone last looked at the source")
    in_force_from: date | None
    in_force_until: date | None
    note: str | None = None
    confirmed_by: str | None = Field(
        default=None, description="who confirmed it, on which day, in which edition and on which page; null: no one"
    )


class Item(Part):
    """One load under one finding: its worst row."""

    ticket: str = Field(description="ticket number; #2, #3 follow a number that stood before in the same job")
    on: date | None
    what: str = Field(
        description="which part of the load: axles 2-3 on State route 14; stack 1; empty for the whole load"
    )
    vehicle: str = Field(description="truck and trailer")
    destination: str
    measured: float | None
    limit: float | None
    unit: str | None
    margin: float | None = Field(description="how far off, in the unit; null where the requirement has no number")
    boundary: str = Field(description="at most, less than, at least, more than, or empty")
    limit_key: str | None = Field(description="key of the limit that spoke")
    tolerated: bool | None = Field(description="inside an enforcement tolerance; null: no tolerance or not known")
    tolerated_limit: float | None
    to_mend: str = Field(description="what would bring it inside")
    also_on: int = Field(description="further rows of the same load off the same limit")
    source: str = Field(description="file, sheet and row of the evidence")


class Finding(Part):
    """Equal shortcomings together: one requirement, its count, its worst case, its items."""

    id: str = Field(description="the same in every run on the same job and rule")
    number: int = Field(description="place in this job's report, 1 first")
    kind: FindingKind
    grade: Literal["major", "minor"]
    confirmed: bool = Field(description="false where the limit is known from memory only: limit unconfirmed")
    second_hand: bool = Field(description="the limit was read in a document that reports it")
    rule: str = Field(description="place/topic/rule")
    title: str
    place: str
    topic: str
    standing: str
    duty_of: str
    load_count: int
    tolerated_count: int = Field(description="of these, inside an enforcement tolerance")
    judged_count: int = Field(description="loads that the rule applied to")
    worst: str = Field(description="the worst case in one line")
    summary: str = Field(description="the finding in one sentence: how many, over what, by how much at most")
    action: str
    caution: str
    items: list[Item]


class MissingFact(Part):
    """A fact that was not recorded, and what could therefore not be shown."""

    fact: str = Field(description="table.field of the record")
    meaning: str
    load_count: int = Field(description="loads for which it was needed and blank")
    job_load_count: int
    rules: list[str]
    demanded_by_law: bool
    advice_only: bool = Field(default=False, description="asked for by voluntary practice alone")
    sample_tickets: list[str]
    todo: str


class OpenQuestion(Part):
    """A judgement that stays open although nothing is blank, or an act that leaves no record."""

    kind: Literal["inconclusive", "not verifiable"]
    rule: str
    title: str
    reason: str
    load_count: int
    sample_tickets: list[str]


class AllowanceUsed(Part):
    """Loads that conform because an allowance raised the limit."""

    rule: str
    limit_key: str
    title: str
    form: str
    load_count: int
    highest: float | None
    unit: str | None


class StaleLimit(Part):
    """A limit that spoke and that no one had looked at for longer than the chosen time before the last load."""

    limit_key: str
    name: str = Field(description="what the limit is, or the name of the allowance or cap")
    checked: date | None = Field(description="day someone last looked at the source; null: no day is known")


class Coverage(Part):
    """How one rule fared, in loads and in rows of its view; a load counts once, with its worst row."""

    rule: str
    title: str
    place: str
    topic: str
    standing: str
    conformity: int
    nonconformity: int
    not_evidenced: int
    inconclusive: int
    not_verifiable: int
    not_applicable: int
    rows_judged: int = Field(default=0, description="rows held against the rule: conformity or nonconformity")
    rows_not_evidenced: int = Field(default=0, description="rows left open because a fact is blank")
    rows_open: int = Field(default=0, description="rows left open for another reason: inconclusive or not verifiable")
    rows_not_applicable: int = Field(default=0, description="rows outside the scope of the rule")


class WeightPoint(Part):
    """One load's gross weight and the lowest gross limit that held for it on its way."""

    ticket: str
    on: date | None
    gross_lb: float | None
    limit_lb: float | None
    limit_key: str | None
    where: str
    state: Literal["inside", "inside by allowance", "over, tolerated", "over", "not shown"]


class Evidence(Part):
    """A file of the record."""

    path: str
    sha256: str
    size_bytes: int
    row_count: int
    tables: list[str]


class FixFirst(Part):
    """One of the few things to do first."""

    finding: int = Field(description="number of the finding; 0 for missing evidence")
    text: str
    how_much: str


class Conclusion(Part):
    """What the records show, in numbers and one sentence each."""

    status: Literal["nothing found", "nonconformities", "evidence missing"]
    sentences: list[str]
    load_count: int
    loads_conforming: int = Field(description="loads without finding, missing or open point")
    loads_with_nonconformity: int
    loads_only_tolerated: int = Field(description="loads whose only findings lie inside an enforcement tolerance")
    loads_not_evidenced: int
    major_count: int
    minor_count: int
    departure_count: int
    unconfirmed_count: int = Field(description="findings whose limit is unconfirmed, outside the conclusion")


class JobReport(Part):
    """The report on one job."""

    job: str
    title: str
    contractor: str
    state: str
    operation_start: date | None
    operation_end: date | None
    first_load: date | None
    last_load: date | None
    conclusion: Conclusion
    fix_first: list[FixFirst]
    findings: list[Finding]
    missing: list[MissingFact]
    open_questions: list[OpenQuestion]
    allowances: list[AllowanceUsed]
    weights: list[WeightPoint]
    coverage: list[Coverage]
    not_covered: list[str] = Field(description="places and numbers the rule files do not hold")
    limits: list[Limit]
    evidence: list[Evidence]
    notes: list[str] = Field(description="what was converted or assumed on reading")
    stale: list[StaleLimit] = Field(
        default_factory=list, description="limits not looked at for longer than stale_after_months before the last load"
    )


class RuleFileUsed(Part):
    """A rule file, or a file of confirmations laid over them, as it stood in this run, so that the run can be repeated."""

    id: str
    title: str
    place: str
    topic: str
    sha256: str
    text: str


class Report(Part):
    """A whole report: one or more jobs, the rules, the cautions."""

    schema_name: Literal["haul audit report 1"]
    engine_version: str
    audit_date: date | None
    jobs: list[JobReport]
    rules: list[RuleFileUsed]
    cautions: list[str]
    draft: bool = Field(default=False, description="not for use outside the office that made it")
    names: Literal["as recorded", "codes"] = Field(
        default="as recorded",
        description="whether contractor, units, destinations, roads and files go by name or by code",
    )
    names_key: str = Field(
        default="", description="check value of the secret that the codes were made with; empty: the codes of the jobs"
    )
    left_out: list[PartName] = Field(default_factory=list, description="parts that this report does not hold")
    stale_after_months: int | None = Field(
        default=None, description="how long before the last load a limit may have been looked at; null: not asked"
    )
    digest: str = Field(description="SHA-256 of the report's canonical JSON with this field empty")
