"""What a report holds. The published JSON Schema is made from these models; every renderer reads nothing else."""

from __future__ import annotations

from datetime import date, datetime
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

SCHEMA_NAME: Literal["harvest audit report 1"] = "harvest audit report 1"

PartName = Literal[
    "findings", "missing", "open questions", "allowances", "weights", "coverage", "limits", "evidence", "notes", "rules",
    "walk", "judgements", "scores", "map",
]  # fmt: skip
"""The parts of a report that may be left out; the conclusion, what is not covered and the cautions always stay."""

LookedBackFrom = Literal["last load", "operation end", "audit"]
FindingKind = Literal["nonconformity", "departure from practice", "opportunity for improvement"]


class Part(BaseModel):
    """Refuses words it does not know."""

    # A validator is built when its model is first used: most commands need a few of them.
    model_config = ConfigDict(extra="forbid", defer_build=True)


class Limit(Part):
    """A limit that spoke, or the text of a requirement without a number, with where it comes from."""

    key: str = Field(description="rule file, limit and entry: us-ga/weight/gross_limit_lb/base")
    means: str
    value: float | None = Field(description="null where it differs from row to row or the requirement has no number")
    unit: str | None
    form: str = Field(description="limit, raised limit, permit, enforcement tolerance, cap, requirement, definition")
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
    """One load, bank, crossing ... under one finding: its worst row."""

    subject: str = Field(
        description="name of what is judged; of a load its ticket number, with #2, #3 after one that stood before in the job"
    )
    on: date | None
    what: str = Field(
        description="which part of it: axles 2-3 on State route 14; stack 1; station 4 at 150 ft; empty for the whole"
    )
    vehicle: str = Field(description="truck and trailer; empty for what is no load")
    destination: str
    measured: float | None
    limit: float | None
    unit: str | None
    margin: float | None = Field(description="how far off, in the unit; null where the requirement has no number")
    boundary: str = Field(description="at most, less than, at least, more than, or empty")
    limit_key: str | None = Field(description="key of the limit that spoke")
    tolerated: bool | None = Field(description="inside an enforcement tolerance; null: no tolerance or not known")
    tolerated_limit: float | None
    from_ft: float | None = Field(
        default=None, description="where it begins along its bank, road or trail, from the upstream or upper end"
    )
    to_ft: float | None = Field(default=None, description="where it ends; null for a single place")
    to_mend: str = Field(description="what would bring it inside")
    also_on: int = Field(description="further rows of the same subject off the same limit")
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
    subject: str = Field(description="what is counted: load, bank, crossing ...")
    subject_count: int
    tolerated_count: int = Field(description="of these, inside an enforcement tolerance")
    judged_count: int = Field(description="loads, banks ... that the rule applied to")
    worst: str = Field(description="the worst case in one line")
    summary: str = Field(description="the finding in one sentence: how many, over what, by how much at most")
    action: str
    caution: str
    items: list[Item]


class MissingFact(Part):
    """A fact that was not recorded, and what could therefore not be shown."""

    fact: str = Field(description="table.field of the record")
    meaning: str
    subject: str = Field(description="what is counted: load, bank, crossing ...")
    subject_count: int = Field(description="loads, banks ... for which it was needed and blank")
    job_subject_count: int
    rules: list[str]
    demanded_by_law: bool
    advice_only: bool = Field(default=False, description="asked for by voluntary practice alone")
    samples: list[str] = Field(description="names of some of them")
    todo: str


class OpenQuestion(Part):
    """A judgement that stays open although nothing is blank, or an act that leaves no record."""

    kind: Literal["inconclusive", "not verifiable"]
    rule: str
    title: str
    reason: str
    subject: str
    subject_count: int
    samples: list[str]


class AllowanceUsed(Part):
    """Loads, banks ... that conform because an allowance changed the limit."""

    rule: str
    limit_key: str
    title: str
    form: str
    subject: str
    subject_count: int
    highest: float | None
    unit: str | None


class StaleLimit(Part):
    """A limit that spoke and that no one had looked at for longer than the chosen time before the last load."""

    limit_key: str
    name: str = Field(description="what the limit is, or the name of the allowance or cap")
    checked: date | None = Field(description="day someone last looked at the source; null: no day is known")


class Coverage(Part):
    """How one rule fared, in loads, banks ... and in rows of its view; each counts once, with its worst row."""

    rule: str
    title: str
    place: str
    topic: str
    standing: str
    subject: str = Field(default="load", description="what is counted: load, bank, crossing ...")
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


class WalkOutcome(Part):
    """What became of one place of the site under one rule: its worst row."""

    rule: str
    title: str
    standing: str
    outcome: str = Field(description="conformity, nonconformity, departure from practice, not evidenced ...")
    finding: int | None = Field(description="number of the finding it stands in")


class WalkStop(Part):
    """One place of the harvest site as one comes to it, with every rule of a topic that it was held against."""

    topic: str
    subject: str = Field(description="bank, crossing, road or trail segment ...")
    name: str
    where: str = Field(description="what it is and where: perennial BLACKGUM, left side, 600 ft")
    outcomes: list[WalkOutcome] = Field(description="without those that do not apply to it")
    judgements: list[str] = Field(description="judgements made on the ground that speak of it")


class Judgement(Part):
    """A judgement made on the ground, as recorded. It stands beside what is computed; neither replaces the other."""

    name: str = Field(description="its number or short name in the record")
    question: str
    practice: str
    category: str
    rule: str = Field(description="the rule whose computed outcome it stands beside; empty: none")
    place_kind: str
    place: str = Field(description="empty: the whole job")
    answer: str = Field(description="yes, no, not applicable, could not tell, or empty where it is blank")
    significant_risk: bool | None
    reason: str
    role: str
    observer: str
    licence: str
    observed_on: date | None
    photo: str
    photo_latitude_deg: float | None
    photo_longitude_deg: float | None
    photo_on: date | None
    computed: str = Field(description="worst computed outcome of that rule at that place; empty: none")
    agrees: bool | None = Field(description="whether both say the same; null where one of them says nothing")
    source: str = Field(description="file, sheet and row of the evidence")


class PracticeScore(Part):
    """How many of the practices that apply were carried out, in one category or in all, by the judgements."""

    category: str = Field(
        description="category of practices; all: pooled over every judgement with a category, no mean of categories"
    )
    yes_count: int
    no_count: int
    open_count: int = Field(description="answers that are blank or could not be told")
    not_applicable_count: int
    low_pct: float | None = Field(description="100 x yes / (yes + no + open); null where none applies")
    high_pct: float | None = Field(description="the same with the open ones as yes")
    margin_pct: float | None = Field(
        description="margin of error in points as the framework reckons it, of `low_pct`; null at 0 and 100, where it says nothing"
    )
    risk_count_low: int = Field(description="significant risks to water")
    risk_count_high: int = Field(description="the same with the open ones")
    published_pct: float | None = Field(
        description="latest published rate of the state in this category; null: none known"
    )
    published: str = Field(description="year and source of that rate; empty: none known")
    survey_site_count: int | None = Field(
        default=None, description="sites that a survey visits to find the published rate within 5 points"
    )


class MapFeature(Part):
    """One feature of the map of a site, in metres east and north of its south-west corner."""

    layer: str = Field(description="stream, unit, required zone, intrusion, deck, trail, crossing ...")
    name: str
    kind: Literal["point", "line", "polygon"]
    parts: list[list[tuple[float, float]]] = Field(description="lines, or rings of a polygon; a point is one of one")
    finding: int | None = Field(default=None, description="number of the finding that it shows")
    detail: str = Field(default="", description="class or size in words: perennial; 0.12 acres, 24 ft deep")


class TimeInside(Part):
    """How long one machine track was inside the required zone of one bank, all its stays there together.

    The lesser minutes are certain whatever the error of the positions, the greater hold all that may have been inside.
    Without minutes the time there is not known.
    """

    track: str
    bank: str
    finding: int | None = Field(default=None, description="number of the finding that it belongs to")
    minutes_low: float | None = None
    minutes_high: float | None = None
    minutes_drawn: float | None = Field(
        default=None, description="as drawn, in place of the two where how far positions may be off is not known"
    )
    passes_low: int | None = Field(default=None, description="stays that were inside for certain; null as the minutes")
    passes_high: int | None = Field(default=None, description="stays that may have been inside")
    first_in: datetime | None = Field(
        default=None, description="earliest it may have come in, by the clock of the record"
    )
    last_out: datetime | None = Field(default=None, description="latest it may have left")
    sure_first_in: datetime | None = Field(default=None, description="first time inside for certain")
    sure_last_out: datetime | None = Field(default=None, description="last time inside for certain")
    in_universal_time: bool = Field(
        default=False, description="the record says so; else the clock of whoever recorded it"
    )
    gap_count: int = Field(
        default=0, description="gaps in the fixes that begin or end inside, not counted in the minutes"
    )
    gap_minutes: float = 0.0
    untimed_fix_count: int = Field(default=0, description="fixes there without a time, which give no minutes")
    shown_as: list[str] = Field(
        default_factory=list, description="names of the features of the map that show it; none: within the error only"
    )


class SiteMap(Part):
    """The map of a site."""

    width_m: float
    height_m: float
    projection: str = Field(description="local projection of the coordinates")
    west_deg: float = Field(description="longitude of the south-west corner, WGS 84")
    south_deg: float
    features: list[MapFeature]
    notes: list[str] = Field(description="what was assumed about the maps")
    times: list[TimeInside] = Field(
        default_factory=list, description="machines inside required zones, by bank and time"
    )
    time_notes: list[str] = Field(
        default_factory=list, description="how those times were reckoned, and what is not known"
    )


class FixFirst(Part):
    """One of the few things to do first."""

    finding: int = Field(description="number of the finding; 0 for missing evidence and for a judgement")
    text: str
    how_much: str
    judgement: str = Field(default="", description="name of the judgement that saw a significant risk; empty: none")


class SubjectCounts(Part):
    """What became of the loads, banks, crossings ... of a job."""

    subject: str = Field(description="load, bank, crossing ...")
    count: int = Field(description="how many the record holds")
    conforming: int = Field(description="without finding, missing or open point")
    with_nonconformity: int
    only_tolerated: int = Field(description="those whose only findings lie inside an enforcement tolerance")
    not_evidenced: int


class Conclusion(Part):
    """What the records show, in numbers and one sentence each."""

    status: Literal["nothing judged", "nothing found", "departures", "nonconformities", "evidence missing"] = Field(
        description="nothing judged: no requirement came out as kept or broken"
    )
    sentences: list[str]
    counts: list[SubjectCounts] = Field(description="by what was judged, loads first")
    major_count: int
    minor_count: int
    departure_count: int
    unconfirmed_count: int = Field(description="findings whose limit is unconfirmed, outside the conclusion")

    def count_of(self, subject: str) -> SubjectCounts:
        """The numbers of one kind of subject; none of it where the record holds none."""
        none = SubjectCounts(
            subject=subject, count=0, conforming=0, with_nonconformity=0, only_tolerated=0, not_evidenced=0
        )
        return next((c for c in self.counts if c.subject == subject), none)


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
    walk: list[WalkStop] = Field(default_factory=list, description="the harvest site place by place, topic by topic")
    judgements: list[Judgement] = Field(default_factory=list, description="judgements made on the ground")
    scores: list[PracticeScore] = Field(default_factory=list, description="implementation of practices, all last")
    map: SiteMap | None = Field(default=None, description="the site as mapped; null where the record has no maps")
    not_covered: list[str] = Field(description="places and numbers the rule files do not hold")
    limits: list[Limit]
    evidence: list[Evidence]
    notes: list[str] = Field(description="what was converted or assumed on reading")
    stale: list[StaleLimit] = Field(
        default_factory=list,
        description="limits not looked at for longer than stale_after_months before the last load; in a job without loads, "
        "before operation_end or else the report's audit_date",
    )

    def looked_back_from(self, audit_date: date | None) -> tuple[LookedBackFrom, date] | None:
        """The day that the time of stale limits runs back from; loads without a day, or no day at all, give none."""
        if self.last_load is not None:
            return "last load", self.last_load
        if self.conclusion.count_of("load").count:
            return None
        if self.operation_end is not None:
            return "operation end", self.operation_end
        return ("audit", audit_date) if audit_date is not None else None


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

    schema_name: Literal["harvest audit report 1"]
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
        default=None,
        description="how long before the last load, or in a job without loads before the end of the operation or else the "
        "audit, a limit may have been looked at; null: not asked",
    )
    digest: str = Field(description="SHA-256 of the report's canonical JSON with this field empty")
