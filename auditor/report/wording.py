"""The words of the report: numbers, dates, counts, names of states of knowledge. Each thing is worded here alone."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from auditor.report.model import (
    AllowanceUsed,
    Conclusion,
    Coverage,
    Finding,
    Item,
    JobReport,
    Limit,
    MissingFact,
    PartName,
    Report,
    StaleLimit,
)
from auditor.vocabulary.quantities import MONTHS, day_text, rounded, unit_word

LB_PER_TON = 2000
NOTHING = "\N{EN DASH}"
REPORT_TITLE = "Harvest audit"
SEE_MORE = "see the PDF or JSON"

STATEMENT = (
    "This report says what the records show, measured against the rules listed in it.",
    "It is not legal advice and does not replace licensed practice.",
    "It never calls a load, a vehicle or a practice safe or legal. What no record shows, it does not know.",
    "Local codes, the terms of permits and the enforcing agency govern; where they differ from this report, they prevail.",
)
"""What a report is and is not; printed in every one."""

_BOUNDARIES = {"at_most": "at most", "less_than": "less than", "at_least": "at least", "more_than": "more than"}
_VERIFIED = {"read": "text read", "secondary": "second-hand", "memory": "unconfirmed", "confirmed": "confirmed"}
_BEYOND = {"at most": "over", "less than": "over", "at least": "short", "more than": "short"}
_STATUS = {
    "nothing judged": "Nothing was judged",
    "nothing found": "No nonconformity found in these records",
    "departures": "No nonconformity found in these records; departures from practice are listed",
    "nonconformities": "The records show nonconformities",
    "evidence missing": "No nonconformity found, but evidence is missing",
}
_WEIGHT_STATES = {
    "inside": "inside",
    "inside by allowance": "inside by allowance",
    "over, tolerated": "over, tolerated",
    "over": "over",
    "not shown": "not shown",
}
_LOOKED_BACK_FROM = {
    "last load": "the last load",
    "operation end": "the end of the operation",
    "audit": "the day of the audit",
}
_STATES = {
    "AL": "Alabama", "AK": "Alaska", "AZ": "Arizona", "AR": "Arkansas", "CA": "California", "CO": "Colorado",
    "CT": "Connecticut", "DE": "Delaware", "FL": "Florida", "GA": "Georgia", "HI": "Hawaii", "ID": "Idaho",
    "IL": "Illinois", "IN": "Indiana", "IA": "Iowa", "KS": "Kansas", "KY": "Kentucky", "LA": "Louisiana",
    "ME": "Maine", "MD": "Maryland", "MA": "Massachusetts", "MI": "Michigan", "MN": "Minnesota",
    "MS": "Mississippi", "MO": "Missouri", "MT": "Montana", "NE": "Nebraska", "NV": "Nevada",
    "NH": "New Hampshire", "NJ": "New Jersey", "NM": "New Mexico", "NY": "New York", "NC": "North Carolina",
    "ND": "North Dakota", "OH": "Ohio", "OK": "Oklahoma", "OR": "Oregon", "PA": "Pennsylvania",
    "RI": "Rhode Island", "SC": "South Carolina", "SD": "South Dakota", "TN": "Tennessee", "TX": "Texas",
    "UT": "Utah", "VT": "Vermont", "VA": "Virginia", "WA": "Washington", "WV": "West Virginia",
    "WI": "Wisconsin", "WY": "Wyoming",
}  # fmt: skip
_STEPS = ((1_000_000_000, "GB"), (1_000_000, "MB"), (1_000, "kB"))


def clean(text: str) -> str:
    """The text on one line, without control and direction characters that could disturb a screen or a page."""
    kept = (" " if c.isspace() else "\N{REPLACEMENT CHARACTER}" if _disturbs(c) else c for c in text)
    return " ".join("".join(kept).split())


def _disturbs(letter: str) -> bool:
    """Whether a character is none that can be shown: control, direction, half of a pair, or no character at all."""
    code = ord(letter)
    return unicodedata.category(letter) in ("Cc", "Cf", "Cs") or code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF


def number(value: float | None) -> str:
    """A number with thousands separators and three decimals at most.

    >>> number(84320.0), number(13.5), number(1 / 6)
    ('84,320', '13.5', '0.167')
    """
    if value is None:
        return NOTHING
    if not math.isfinite(value):
        raise ValueError(f"a report holds finite numbers only, found {value}")
    shown = Decimal(repr(value)).quantize(Decimal("0.001"), ROUND_HALF_UP)
    if shown == 0 and value != 0:
        return f"{value:.2g}"
    text = f"{shown:,f}"
    return text.rstrip("0").rstrip(".")


def quantity(value: float | None, unit: str | None) -> str:
    """A number with its unit: "84,320 lb", "1 mile", "42"."""
    if value is None:
        return NOTHING
    return f"{number(value)} {unit_word(value, unit)}".rstrip()


def measured(value: float | None, unit: str | None, up: bool | None = None) -> str:
    """A number with its unit as the pages show it, no finer than tapes and scales do; `up` says to which side to round.

    >>> measured(8983.333, "lb"), measured(13.83, "ft"), measured(2.5, "lb"), measured(25.7655, "ft")
    ('8,983 lb', '13.83 ft', '2.5 lb', '25.8 ft')
    """
    return quantity(None if value is None else rounded(value, unit, up), unit)


def _is_above(item: Item) -> bool | None:
    """Whether an item lies above its limit; None where there are no two numbers."""
    return None if item.measured is None or item.limit is None else item.measured > item.limit


def found(item: Item) -> str:
    """What was measured, rounded away from the limit, so that it never reads as keeping it."""
    return measured(item.measured, item.unit, _is_above(item))


def bound(item: Item) -> str:
    """The figure of the limit, rounded away from what was measured."""
    above = _is_above(item)
    return measured(item.limit, item.unit, None if above is None else not above)


def allowed(item: Item) -> str:
    """The limit with its boundary word: "at least 40 ft"."""
    return NOTHING if item.limit is None else f"{item.boundary} {bound(item)}".strip()


def off(item: Item) -> str:
    """How far off an item is, rounded up: never nothing, and who mends so much is inside."""
    return measured(None if item.margin is None else abs(item.margin), item.unit, up=True)


def short_tons(pounds: float | None, places: int = 1) -> str:
    """Pounds in short tons of 2,000 lb.

    >>> short_tons(4320), short_tons(4320, places=2), short_tons(40, places=2)
    ('2.2 tons', '2.16 tons', '0.02 tons')
    """
    if pounds is None:
        return NOTHING
    tons = (Decimal(repr(pounds)) / LB_PER_TON).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    return f"{tons:,f} tons"


def day(on: date | None) -> str:
    """A day: "4 May 2026"."""
    return NOTHING if on is None else day_text(on)


def short_day(on: date | None, with_year: bool = True) -> str:
    """A day for narrow columns: "4 Mar 2026" or "4 Mar"."""
    if on is None:
        return NOTHING
    return f"{on.day} {MONTHS[on.month - 1][:3]}" + (f" {on.year}" if with_year else "")


def span(first: date | None, last: date | None) -> str:
    """A stretch of days, both ends included; an open end is said."""
    if first is None and last is None:
        return NOTHING
    if first == last:
        return day(first)
    if first is None:
        return f"until {day(last)}"
    return f"from {day(first)}" if last is None else f"{day(first)} to {day(last)}"


def count(how_many: int, one: str, many: str | None = None) -> str:
    """A count with its noun.

    >>> count(1, "load"), count(1200, "load"), count(0, "entry", "entries")
    ('1 load', '1,200 loads', '0 entries')
    """
    return f"{how_many:,} {one if how_many == 1 else many or one + 's'}"


def file_size(size_bytes: int) -> str:
    """The size of a file: "812 bytes", "14.2 kB"."""
    for step, name in _STEPS:
        if size_bytes >= step:
            return f"{(Decimal(size_bytes) / step).quantize(Decimal('0.1'), ROUND_HALF_UP):,f} {name}"
    return count(size_bytes, "byte")


def boundary(operator: str) -> str:
    """The word for a comparison: "at_most" gives "at most"; empty for one that has no number."""
    return _BOUNDARIES.get(operator, "")


def verified(mark: str) -> str:
    """How well a limit is known: text read, second-hand, unconfirmed or confirmed."""
    return _VERIFIED[mark]


def known(limit: Limit) -> str:
    """How well a limit is known; where a practitioner confirmed it, by whom, when and in which edition."""
    return f"confirmed by {limit.confirmed_by}" if limit.confirmed_by else verified(limit.verified)


def status(word: str) -> str:
    """The conclusion's heading."""
    return _STATUS[word]


def weight_state(state: str) -> str:
    """How a load's gross weight stands to its limit."""
    return _WEIGHT_STATES[state]


def listed(words: Iterable[str], most: int, more: str = SEE_MORE) -> str:
    """The first words of a list, and how many were left out.

    >>> listed(["A", "B", "C"], 2)
    'A, B and 1 more, see the PDF or JSON'
    """
    given = list(words)
    shown = ", ".join(given[:most])
    left = len(given) - most
    return shown if left <= 0 else f"{shown} and {left:,} more" + (f", {more}" if more else "")


def digest_short(digest: str) -> str:
    """The first 16 hex digits of a digest in groups of four, or that the report carries none."""
    if not digest:
        return "draft, not sealed"
    return " ".join(digest[i : i + 4] for i in range(0, 16, 4))


def marks(finding: Finding) -> list[str]:
    """What a reader must know of the standing of a finding beside its grade."""
    said: list[str] = []
    if finding.kind != "nonconformity":
        said.append(finding.kind)
    if not finding.confirmed:
        said.append("limit unconfirmed")
    elif finding.second_hand:
        said.append("limit second-hand")
    if finding.tolerated_count:
        inside = "all" if finding.tolerated_count == finding.subject_count else f"{finding.tolerated_count:,}"
        said.append(f"{inside} inside an enforcement tolerance")
    return said


def place_name(place: str) -> str:
    """A place in words: "Georgia" for US-GA; empty for the whole country; else the code itself.

    >>> place_name("us-ga"), place_name("US"), place_name("US-XX")
    ('Georgia', '', 'XX')
    """
    country, _, part = place.upper().partition("-")
    return _STATES.get(part, part) if part or country == "US" else country


def titled(title: str, place: str) -> str:
    """A title with its place, where that is not the whole country; a rule's name is good enough for its place."""
    where = place_name(place.split("/")[0])
    return f"{title} ({where})" if where and f"({where})" not in title else title


def named(finding: Finding) -> str:
    """The name of a finding wherever it is named: "Gross weight off the Interstate (Georgia)"."""
    return titled(finding.title, finding.place)


def figure(finding: Finding) -> str:
    """How far off the worst item is, in a few words: "up to 5,770 lb short"; the loads where there is no number."""
    worst = worst_item(finding)
    if worst is None or worst.margin is None:
        return count(finding.subject_count, finding.subject)
    most = "up to " if finding.subject_count > 1 else ""
    return f"{most}{off(worst)} {beyond(worst)}"


def beyond(item: Item) -> str:
    """To which side an item is off: "over", "short"; of things that a paper has to show: "missing"."""
    return "missing" if item.unit == "things" else _BEYOND.get(item.boundary, "off")


def how_many(finding: Finding) -> str:
    """How many of the loads that were judged: "12 of 148 loads"."""
    return f"{finding.subject_count:,} of {count(finding.judged_count, finding.subject)}"


def extent(finding: Finding) -> str:
    """How many loads and how far off at most: "3 of 25 loads, up to 11,840 lb over"."""
    worst = worst_item(finding)
    return how_many(finding) + ("" if worst is None or worst.margin is None else f", {figure(finding)}")


def worst_item(finding: Finding) -> Item | None:
    """The item furthest off, the first of equals; the first item where none has a margin."""
    measured = [item for item in finding.items if item.margin is not None]
    if measured:
        return max(measured, key=lambda item: abs(item.margin or 0.0))
    return finding.items[0] if finding.items else None


def to_mend(finding: Finding) -> str:
    """What would bring the worst item inside; the general action where the items do not say."""
    worst = worst_item(finding)
    return worst.to_mend if worst is not None and worst.to_mend else finding.action


def limit_name(limit: Limit) -> str:
    """The name of an allowance or cap; for the limit itself, what it means."""
    return limit.title or limit.means


def by_how_much(value: float | None, unit: str | None, up: bool | None = None) -> str:
    """A quantity, with tons where it is in pounds: "4,320 lb (2.2 tons)"."""
    shown = measured(value, unit, up)
    return f"{shown} ({short_tons(value, 1 if abs(value) >= 100 else 2)})" if unit == "lb" and value else shown


def limits_of(finding: Finding, limits: Iterable[Limit]) -> list[Limit]:
    """The limits that spoke in a finding, in the order of its items; the rule's own text where no item names one."""
    known = {limit.key: limit for limit in limits}
    keys = dict.fromkeys(item.limit_key for item in finding.items if item.limit_key is not None)
    return [known[key] for key in keys if key in known] or [known[k] for k in (finding.rule,) if k in known]


def cited(limit: Limit) -> str:
    """The source of a limit in short: instrument, paragraph, how it is known."""
    where = f"{limit.instrument}, {limit.at}" if limit.at else limit.instrument
    return f"{where} ({known(limit)})"


def missing_count(fact: MissingFact) -> str:
    """For how many loads a fact is blank."""
    if fact.subject_count == fact.job_subject_count:
        every = (
            f"the only {fact.subject}" if fact.subject_count == 1 else f"all {count(fact.subject_count, fact.subject)}"
        )
        return f"blank for {every}"
    return f"blank for {fact.subject_count:,} of {count(fact.job_subject_count, fact.subject)}"


def ranked(facts: Iterable[MissingFact]) -> list[MissingFact]:
    """Missing facts in the order of their weight: what the law demands, what rules need, what advice alone asks for."""
    return sorted(facts, key=lambda fact: (not fact.demanded_by_law, fact.advice_only))


def asked_by(fact: MissingFact) -> str:
    """Who asks for a missing fact, where that raises or lowers its weight."""
    if fact.demanded_by_law:
        return "the law demands this record"
    return "asked for by voluntary practice alone" if fact.advice_only else ""


def missing_in_short(job: JobReport, report: Report) -> str:
    """How much evidence a job lacks: "3 facts, 1 demanded by law"."""
    if not job.missing:
        return none_of("missing", report, "none")
    law = sum(fact.demanded_by_law for fact in job.missing)
    return count(len(job.missing), "fact") + (f", {law:,} demanded by law" if law else "")


@dataclass(frozen=True, slots=True)
class CoverageGroup:
    """The rules of one place and topic: those that applied to a load, and the titles of those that applied to none."""

    id: str
    name: str
    rules: list[Coverage]
    idle: list[str]


def coverage_groups(rules: Iterable[Coverage]) -> list[CoverageGroup]:
    """Rules by place and topic, in the order in which these come first."""
    found: dict[str, CoverageGroup] = {}
    for rule in rules:
        key = f"{rule.place}/{rule.topic}".lower()
        where = place_name(rule.place) or "United States"
        group = found.setdefault(key, CoverageGroup(key, f"{where}: {rule.topic}", [], []))
        applied = (
            rule.conformity, rule.nonconformity, rule.not_evidenced, rule.inconclusive, rule.not_verifiable,
        )  # fmt: skip
        if any(applied):
            group.rules.append(rule)
        else:
            group.idle.append(rule.title)
    return list(found.values())


def rules_met(rules: Iterable[Coverage], most: int = 4) -> str:
    """How many rules were held against some load, how many applied to none, and which met no row of the record."""
    given = list(rules)
    idle = [r.rule for r in given if not _judged_loads(r) and not r.not_applicable]
    judged = sum(1 for r in given if _judged_loads(r))
    text = (
        f"Of {count(len(given), 'rule')} {judged:,} {'was' if judged == 1 else 'were'} held against something in the record, "
        f"{len(given) - judged - len(idle):,} applied to none"
    )
    rows = (
        f"Rows: {sum(r.rows_judged for r in given):,} judged, {sum(r.rows_not_evidenced for r in given):,} not evidenced, "
        f"{sum(r.rows_open for r in given):,} open, {sum(r.rows_not_applicable for r in given):,} not applicable."
    )
    if not idle:
        return f"{text}; every one met some row of the record. {rows}"
    return f"{text}, and {len(idle):,} met no row of the record: {listed(idle, most, '')}. {rows}"


def _judged_loads(rule: Coverage) -> int:
    return rule.conformity + rule.nonconformity + rule.not_evidenced + rule.inconclusive + rule.not_verifiable


def stale_heading(job: JobReport, report: Report) -> str:
    """What the list of limits not looked at for long is about; empty where it was not asked for."""
    if report.stale_after_months is None:
        return ""
    time = count(report.stale_after_months, "month")
    back = job.looked_back_from(report.audit_date)
    if back is None:
        has_loads = job.conclusion.count_of("load").count > 0
        why = "no load has a day" if has_loads else "the time runs back from the last load, and the job has none"
        return f"Not known which limits had not been looked at for longer than {time}: {why}"
    told = "Limits not looked at" if job.stale else "No limit that spoke had gone without a look"
    return f"{told} for longer than {time} before {_LOOKED_BACK_FROM[back[0]]}, {day(back[1])}"


def stale(limit: StaleLimit) -> str:
    """A limit that was not looked at for long, and the day of the last look."""
    looked = f"last looked at on {day(limit.checked)}" if limit.checked is not None else "no day of a look is known"
    return f"{titled(limit.name, limit.limit_key)} ({limit.limit_key}): {looked}"


def cautions(report: Report) -> list[str]:
    """What a report is and is not, and its cautions, nothing twice."""
    return [*(s for s in STATEMENT if s not in report.cautions), *report.cautions]


def edition(report: Report) -> list[str]:
    """What a reader must know before reading: draft, names as codes, parts left out. Empty for a plain report."""
    said = ["Draft: not for use outside the office that made it"] if report.draft else []
    if report.names == "codes":
        said.append("Names are replaced by codes")
    return [*said, f"Left out: {', '.join(report.left_out)}"] if report.left_out else said


def none_of(part: PartName, report: Report, none: str) -> str:
    """Why a section is empty: its part was left out, or there was nothing to list."""
    return "Left out of this report." if part in report.left_out else none


def heading(report: Report) -> str:
    """What the report is about, in one line."""
    if len(report.jobs) == 1:
        return f"{REPORT_TITLE}: {clean(report.jobs[0].job)}"
    return f"{REPORT_TITLE}: {count(len(report.jobs), 'job')}"


def sources(finding: Finding, limits: Iterable[Limit], most: int = 2) -> str:
    """Where the limits of a finding come from, in short; its standing and rule where none is known."""
    said = list(dict.fromkeys(cited(limit) for limit in limits_of(finding, limits)))
    if not said:
        return f"{finding.standing}, rule {finding.rule}"
    left = len(said) - most
    return "; ".join(said[:most]) + (f"; and {left:,} more" if left > 0 else "")


def grade(finding: Finding) -> str:
    """The word before a finding: MAJOR, minor, or what it is when it is no nonconformity."""
    if finding.kind == "nonconformity":
        return "MAJOR" if finding.grade == "major" else "minor"
    return "practice" if finding.kind == "departure from practice" else "advice"


def allowance(used: AllowanceUsed) -> str:
    """Which loads an allowance brought inside, and how high they went."""
    top = f", highest {by_how_much(used.highest, used.unit)}" if used.highest is not None else ""
    return f"{titled(used.title, used.rule)} ({used.form}): {count(used.subject_count, used.subject)}{top}"


def tally(told: Conclusion) -> list[tuple[int, str]]:
    """The numbers of a conclusion that a reader wants first, each with its words."""
    return [
        *_subjects_in_all(told),
        (sum(c.with_nonconformity - c.only_tolerated for c in told.counts), "past a limit or rule"),
        (sum(c.only_tolerated for c in told.counts), "past it, but tolerated"),
        (sum(c.not_evidenced for c in told.counts), "cannot be fully shown"),
        (told.major_count, "major finding" if told.major_count == 1 else "major findings"),
        (told.minor_count, "minor finding" if told.minor_count == 1 else "minor findings"),
    ]


def _subjects_in_all(told: Conclusion) -> list[tuple[int, str]]:
    """What the record holds: "148 loads in all", or without loads "36 places and papers of the site"."""
    loads = told.count_of("load").count
    rest = sum(c.count for c in told.counts) - loads
    found = [(loads, "load in all" if loads == 1 else "loads in all")] if loads or not rest else []
    return [*found, (rest, "place of the site" if rest == 1 else "places and papers of the site")] if rest else found


def tolerance(item: Item) -> str:
    """Whether an item lies inside an enforcement tolerance, and up to where that goes."""
    up_to = f"the tolerance of {measured(item.tolerated_limit, item.unit)}"
    if item.tolerated is None:
        return f"not known whether {up_to} holds"
    return f"inside {up_to}" if item.tolerated else f"beyond {up_to}"


def has_numbers(finding: Finding) -> bool:
    """Whether any item of a finding was measured, limited or off by a number."""
    return any(n is not None for item in finding.items for n in (item.measured, item.limit, item.margin))


def held(job: JobReport) -> str:
    """The heading of what a record holds."""
    return "Loads" if job.conclusion.count_of("load").count or not job.conclusion.counts else "Site"


def item_heads(finding: Finding) -> tuple[str, str]:
    """The headings of the first two columns of a finding's items."""
    if finding.subject == "load":
        return "Ticket", "Part of the load, vehicle"
    return finding.subject.capitalize(), "Where"


def loads_in_all(report: Report) -> str:
    """How many loads the jobs of a report have together."""
    return count(sum(job.conclusion.count_of("load").count for job in report.jobs), "load")


def past_limits(told: Conclusion) -> int:
    """How many loads, banks ... of a job lie past a limit or rule."""
    return sum(c.with_nonconformity for c in told.counts)


def loads_and_days(job: JobReport) -> str:
    """What a job's record holds: its loads from when to when, else the parts of its harvest site."""
    told = job.conclusion
    site = [count(c.count, c.subject) for c in told.counts if c.subject not in ("load", "job")]
    if site and not told.count_of("load").count:
        return ", ".join(site)
    loads = count(told.count_of("load").count, "load")
    known = job.first_load is not None or job.last_load is not None
    return f"{loads}, {span(job.first_load, job.last_load)}" if known else loads
