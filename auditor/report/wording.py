"""The words of the report: numbers, dates, counts, names of states of knowledge. Each thing is worded here alone."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from auditor.report.model import AllowanceUsed, Conclusion, Finding, Item, JobReport, Limit, MissingFact, Report

LB_PER_TON = 2000
NOTHING = "\N{EN DASH}"
REPORT_TITLE = "Harvest haul audit"
SEE_MORE = "see the PDF or JSON"

STATEMENT = (
    "This report says what the records show, measured against the rules listed in it. It is not legal advice.",
    "It never calls a load, a vehicle or a practice safe or legal. What no record shows, it does not know.",
    "Local codes, the terms of permits and the enforcing agency govern; where they differ from this report, they prevail.",
)
"""What a report is and is not; printed in every one."""

_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
_BOUNDARIES = {"at_most": "at most", "less_than": "less than", "at_least": "at least", "more_than": "more than"}
_VERIFIED = {"read": "text read", "secondary": "second-hand", "memory": "unconfirmed"}
_COUNTED_UNITS = {"mile": "miles", "hour": "hours", "h": "h", "day": "days", "ton": "tons"}
_BARE_UNITS = {"count", "share"}
_STATUS = {
    "nothing found": "No nonconformity found in these records",
    "nonconformities": "The records show nonconformities",
    "evidence missing": "No nonconformity found, but evidence is missing",
}
_WEIGHT_STATES = {
    "inside": "inside the limit",
    "inside by allowance": "inside by an allowance",
    "over, tolerated": "over the limit, tolerated",
    "over": "over the limit",
    "not shown": "not shown: no weight or no limit",
}
_STEPS = ((1_000_000_000, "GB"), (1_000_000, "MB"), (1_000, "kB"))


def clean(text: str) -> str:
    """The text on one line, without control and direction characters that could disturb a screen or a page."""
    kept = (
        " " if c.isspace() else "\N{REPLACEMENT CHARACTER}" if unicodedata.category(c) in ("Cc", "Cf", "Cs") else c
        for c in text
    )
    return " ".join("".join(kept).split())


def number(value: float | None) -> str:
    """A number with thousands separators and three decimals at most.

    >>> number(84320.0), number(13.5), number(1 / 6)
    ('84,320', '13.5', '0.167')
    """
    if value is None:
        return NOTHING
    if not math.isfinite(value):
        raise ValueError(f"a report holds finite numbers only, found {value}")
    rounded = Decimal(repr(value)).quantize(Decimal("0.001"), ROUND_HALF_UP)
    if rounded == 0 and value != 0:
        return f"{value:.2g}"
    text = f"{rounded:,f}"
    return text.rstrip("0").rstrip(".")


def quantity(value: float | None, unit: str | None) -> str:
    """A number with its unit: "84,320 lb", "1 mile", "42"."""
    shown = number(value)
    if value is None or unit is None or unit in _BARE_UNITS:
        return shown
    return f"{shown} {unit if abs(value) == 1 else _COUNTED_UNITS.get(unit, unit)}"


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
    return NOTHING if on is None else f"{on.day} {_MONTHS[on.month - 1]} {on.year}"


def short_day(on: date | None, with_year: bool = True) -> str:
    """A day for narrow columns: "4 Mar 2026" or "4 Mar"."""
    if on is None:
        return NOTHING
    return f"{on.day} {_MONTHS[on.month - 1][:3]}" + (f" {on.year}" if with_year else "")


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
    """How well a limit is known: text read, second-hand or unconfirmed."""
    return _VERIFIED[mark]


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
        inside = "all" if finding.tolerated_count == finding.load_count else f"{finding.tolerated_count:,}"
        said.append(f"{inside} inside an enforcement tolerance")
    return said


def how_many(finding: Finding) -> str:
    """How many of the loads that were judged: "12 of 148 loads"."""
    return f"{finding.load_count:,} of {count(finding.judged_count, 'load')}"


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


def by_how_much(value: float | None, unit: str | None) -> str:
    """A quantity, with tons where it is in pounds: "4,320 lb (2.2 tons)"."""
    shown = quantity(value, unit)
    return f"{shown} ({short_tons(value, 1 if abs(value) >= 100 else 2)})" if unit == "lb" and value else shown


def limits_of(finding: Finding, limits: Iterable[Limit]) -> list[Limit]:
    """The limits that spoke in a finding, in the order of its items; the rule's own text where no item names one."""
    known = {limit.key: limit for limit in limits}
    keys = dict.fromkeys(item.limit_key for item in finding.items if item.limit_key is not None)
    return [known[key] for key in keys if key in known] or [known[k] for k in (finding.rule,) if k in known]


def cited(limit: Limit) -> str:
    """The source of a limit in short: instrument, paragraph, how it is known."""
    where = f"{limit.instrument}, {limit.at}" if limit.at else limit.instrument
    return f"{where} ({verified(limit.verified)})"


def missing_count(fact: MissingFact) -> str:
    """For how many loads a fact is blank."""
    if fact.load_count == fact.job_load_count:
        every = "the only load" if fact.load_count == 1 else f"all {count(fact.load_count, 'load')}"
        return f"blank for {every}"
    return f"blank for {fact.load_count:,} of {count(fact.job_load_count, 'load')}"


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
    return f"{used.title} ({used.form}): {count(used.load_count, 'load')}{top}"


def tally(told: Conclusion) -> list[tuple[int, str]]:
    """The numbers of a conclusion, each with its words."""
    return [
        (told.load_count, "loads in the record" if told.load_count != 1 else "load in the record"),
        (told.loads_conforming, "with nothing found or open"),
        (told.loads_with_nonconformity, "with a nonconformity"),
        (told.loads_only_tolerated, "with findings inside a tolerance only"),
        (told.loads_not_evidenced, "not evidenced"),
        (told.major_count, "major"),
        (told.minor_count, "minor"),
        (told.departure_count, "departure from practice" if told.departure_count == 1 else "departures from practice"),
        (told.unconfirmed_count, "with limit unconfirmed"),
    ]


def tolerance(item: Item) -> str:
    """Whether an item lies inside an enforcement tolerance, and up to where that goes."""
    up_to = f"the tolerance of {quantity(item.tolerated_limit, item.unit)}"
    if item.tolerated is None:
        return f"not known whether {up_to} holds"
    return f"inside {up_to}" if item.tolerated else f"beyond {up_to}"


def has_numbers(finding: Finding) -> bool:
    """Whether any item of a finding was measured, limited or off by a number."""
    return any(n is not None for item in finding.items for n in (item.measured, item.limit, item.margin))


def loads_and_days(job: JobReport) -> str:
    """How many loads a job's record holds, and from when to when."""
    loads = count(job.conclusion.load_count, "load")
    known = job.first_load is not None or job.last_load is not None
    return f"{loads}, {span(job.first_load, job.last_load)}" if known else loads
