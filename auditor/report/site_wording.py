"""The words of the pages on a harvest site: outcomes, stations, judgements on the ground, scores."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal

from auditor.report import wording as say
from auditor.report.model import Conclusion, Finding, Item, Judgement, PracticeScore, Report, SiteMap, TimeInside

STATIONS = "Stations run from the upstream end of a bank and from the upper end of a road or trail: 3+50 is 350 ft along the tape."
HOW_SCORED = (
    "Percent is 100 x yes / (yes + no + open), by the judgements made on the ground; not applicable does not count, and a "
    "range runs from every open answer as no to every open answer as yes. The margin is a margin of error, in points. The "
    "score of one job is context beside the state's published rate and no pass mark."
)
TWO_VIEWS = (
    "Computed is what the rules make of the records; on the ground is what a person judged there. Both stand as they "
    "are; neither replaces the other."
)
TIME_INSIDE = "Minutes of machines inside required zones"
NOT_JUDGED = "not judged on the ground"
NOT_COMPUTED = "nothing computed beside it"

_SHAPES = {
    "conformity": "\N{CHECK MARK}",
    "nonconformity": "\N{BALLOT X}",
    "departure from practice": "\N{BLACK DIAMOND}",
    "opportunity for improvement": "\N{WHITE UP-POINTING TRIANGLE}",
    "not evidenced": "?",
    "inconclusive": "\N{ALMOST EQUAL TO}",
    "not verifiable": "\N{WHITE CIRCLE}",
}
_TOPICS = {
    "streamside": "Streamside zones",
    "trails": "Roads and trails",
    "crossings": "Stream crossings",
    "decks": "Decks and landings",
    "fuel": "Fuel and oil",
    "residual_stand": "Residual stand",
    "ground": "Bare ground and ruts",
}


def plain(word: str) -> str:
    """A class of the record as words: "stream_crossings" gives "stream crossings"."""
    return say.clean(word.replace("_", " "))


def headed(word: str) -> str:
    """The same with a capital first letter."""
    return (words := plain(word))[:1].upper() + words[1:]


def outcome(word: str) -> str:
    """An outcome with a shape of its own before its word."""
    shape = _SHAPES.get(word, "\N{MIDDLE DOT}")
    return f"{shape} {plain(word)}"


def topic(word: str) -> str:
    """The heading of a topic of the walk."""
    return _TOPICS.get(word) or headed(word)


def station(feet: float) -> str:
    """A place along a tape in hundreds of feet, to the foot.

    >>> station(350), station(99.96), station(1240.5)
    ('3+50', '1+00', '12+41')
    """
    whole = int(Decimal(repr(feet)).quantize(Decimal(1), ROUND_HALF_UP))
    hundreds, rest = divmod(abs(whole), 100)
    return f"{'-' if whole < 0 else ''}{hundreds}+{rest:02d}"


def stations(item: Item) -> str:
    """Where an item begins and ends, as stations."""
    if item.from_ft is None:
        return say.NOTHING if item.to_ft is None else f"to {station(item.to_ft)}"
    return station(item.from_ft) if item.to_ft is None else f"{station(item.from_ft)} to {station(item.to_ft)}"


def feet(item: Item) -> str:
    """The same in whole feet."""
    begin, end = (
        None if f is None else float(Decimal(repr(f)).quantize(Decimal(1), ROUND_HALF_UP))
        for f in (item.from_ft, item.to_ft)
    )
    if begin is None:
        return say.NOTHING if end is None else f"to {say.quantity(end, 'ft')}"
    return f"at {say.quantity(begin, 'ft')}" if end is None else f"{say.number(begin)} to {say.quantity(end, 'ft')}"


def required(item: Item) -> str:
    """What is required of an item: "at least 40 ft"."""
    return say.allowed(item)


def short_by(item: Item) -> str:
    """How far off an item is and to which side: "6 ft short", "110 ft over"."""
    if item.margin is None:
        return say.NOTHING
    return f"{say.off(item)} {say.beyond(item)}"


def to_do(item: Item, finding: Finding) -> str:
    """What to do at an item; the general action where it does not say."""
    return item.to_mend or finding.action


def answer(told: Judgement) -> str:
    """The question of a judgement and its answer: "Shade kept? no"."""
    return f"{headed(told.question) or 'Judgement'}? {plain(told.answer) or 'no answer'}"


def observed(told: Judgement) -> str:
    """Who judged, by role and code, and on which day."""
    who = " ".join(word for word in (plain(told.role), told.observer) if word) or "observer not named"
    licence = f", licence {told.licence}" if told.licence else ""
    day = say.day(told.observed_on) if told.observed_on is not None else "day not recorded"
    return f"{who}{licence}, {day}"


def photo(told: Judgement) -> str:
    """The photograph of a judgement with its place and day; empty where there is none."""
    if not told.photo:
        return ""
    where = position(told.photo_latitude_deg, told.photo_longitude_deg)
    day = f", {say.day(told.photo_on)}" if told.photo_on is not None else ""
    return f"photo {told.photo}{' at ' + where if where else ', position not recorded'}{day}"


def position(latitude_deg: float | None, longitude_deg: float | None) -> str:
    """A place on the globe to five decimals of a degree; empty where one of the two is not known.

    >>> position(34.8161, -83.1161)
    '34.81610 N, 83.11610 W'
    """
    if latitude_deg is None or longitude_deg is None:
        return ""
    north = f"{abs(latitude_deg):.5f} {'N' if latitude_deg >= 0 else 'S'}"
    return f"{north}, {abs(longitude_deg):.5f} {'E' if longitude_deg >= 0 else 'W'}"


def judged_place(told: Judgement) -> str:
    """What a judgement is about: "Bank AL-right", or the whole job."""
    if not told.place:
        return "Whole job"
    kind = headed(told.place_kind)
    return f"{kind} {told.place}" if kind else told.place


def comparison(told: Judgement) -> str:
    """Whether a judgement and the computed outcome say the same; empty where one of them says nothing."""
    if told.agrees is None:
        return ""
    return "= ground and records agree" if told.agrees else "\N{NOT EQUAL TO} ground and records disagree"


def risk(told: Judgement) -> str:
    """Whether a judgement names a significant risk to water; empty where it says there is none."""
    if told.significant_risk is None:
        return "significant risk: not said"
    return "\N{BLACK SQUARE} significant risk to water" if told.significant_risk else ""


def percent(value: float | None) -> str:
    """A share in percent with one decimal at most."""
    if value is None:
        return say.NOTHING
    return f"{say.number(float(Decimal(repr(value)).quantize(Decimal('0.1'), ROUND_HALF_UP)))} %"


def points(value: float | None) -> str:
    """A margin of error in points."""
    return say.NOTHING if value is None else f"\N{PLUS-MINUS SIGN} {percent(value).removesuffix(' %')}"


def percent_range(score: PracticeScore) -> str:
    """The percent of a category, as a range where answers are open."""
    low, high = percent(score.low_pct), percent(score.high_pct)
    return low if low == high else f"{low.removesuffix(' %')} to {high}"


def risk_count(score: PracticeScore) -> str:
    """The significant risks of a category, as a range where answers are open."""
    low, high = score.risk_count_low, score.risk_count_high
    return say.number(low) if low == high else f"{low:,} to {high:,}"


def survey(score: PracticeScore) -> str:
    """How many sites a survey visits to find the published rate; empty where that is not known."""
    if score.survey_site_count is None:
        return ""
    return f"a survey finds this rate within 5 points by {say.count(score.survey_site_count, 'site')}"


def category(score: PracticeScore) -> str:
    """The name of a category of practices."""
    return "All, pooled" if score.category == "all" else headed(score.category)


def walked(places: int, with_finding: int, judged: int, differing: int) -> str:
    """How a topic of the walk fared, in one line."""
    text = f"{say.count(places, 'place')}, {with_finding or 'none'} with a finding"
    if judged:
        text += f"; {say.count(judged, 'judgement')} on the ground, {differing or 'none'} at odds with the records"
    return text


def mapped(site: SiteMap) -> str:
    """The grid of a map and where its corner lies on the globe."""
    where = position(site.south_deg, site.west_deg)
    return f"Grid: {site.projection}. South-west corner at {where} (WGS 84)."


def minutes_inside(time: TimeInside) -> str:
    """How long a track was inside a zone, from what is certain to what is possible: "3.1 to 4.2 min"."""
    if time.minutes_drawn is not None:
        return f"{_tenths(time.minutes_drawn, ROUND_HALF_UP)} min as drawn"
    if time.minutes_low is None or time.minutes_high is None:
        return "not known"
    # Outward, so that the range printed holds the range found.
    low, high = _tenths(time.minutes_low, ROUND_FLOOR), _tenths(time.minutes_high, ROUND_CEILING)
    return f"{high} min" if time.minutes_low == time.minutes_high or low == high else f"{low} to {high} min"


def _tenths(minutes: float, rounding: str) -> str:
    return say.number(float(Decimal(repr(minutes)).quantize(Decimal("0.1"), rounding)))


def passes_inside(time: TimeInside) -> str:
    """In how many stays: "2 passes", "0 to 1 pass"."""
    if time.passes_high is None:
        return say.NOTHING
    many = say.count(time.passes_high, "pass", "passes")
    return many if time.passes_low in (None, time.passes_high) else f"{time.passes_low} to {many}"


def when_inside(time: TimeInside) -> str:
    """First in and last out by the clock of the record, at the widest: "8 Jul 2026, 13:05:12 to 13:07:36 universal time"."""
    if time.first_in is None or time.last_out is None:
        return say.NOTHING
    first, last = _clock(time.first_in), f"{time.last_out:%H:%M:%S}"
    if time.last_out.date() != time.first_in.date():
        last = _clock(time.last_out)
    found = first if time.first_in == time.last_out else f"{first} to {last}"
    return f"{found} universal time" if time.in_universal_time else found


def _clock(at: datetime) -> str:
    return f"{say.short_day(at.date())}, {at:%H:%M:%S}"


def not_known_inside(time: TimeInside) -> str:
    """What the record does not show of the time of a track in a zone; empty where it shows all."""
    found = []
    if time.minutes_drawn is not None:
        found.append("how far its positions may be off is not known")
    if time.gap_count:
        gaps, begin = say.count(time.gap_count, "gap"), "begins or ends" if time.gap_count == 1 else "begin or end"
        found.append(
            f"{gaps} in its fixes of {_tenths(time.gap_minutes, ROUND_HALF_UP)} min {begin} inside, not counted"
        )
    if time.untimed_fix_count:
        have = "has" if time.untimed_fix_count == 1 else "have"
        found.append(f"{say.count(time.untimed_fix_count, 'fix', 'fixes')} inside {have} no time")
    if time.first_in is None and not time.untimed_fix_count:
        found.append("drawn without times")
    return "; ".join(found)


def time_inside(time: TimeInside) -> str:
    """The same in one line, without track and bank: "between 3.1 and 4.2 min in 1 pass; 8 Jul 2026, 13:05:12 to ..."."""
    if time.first_in is None:
        return f"minutes not known; {not_known_inside(time)}"
    minutes = minutes_inside(time)
    said = f"between {minutes.replace(' to ', ' and ')}" if " to " in minutes else minutes
    parts = (f"{said} in {passes_inside(time)}", when_inside(time), not_known_inside(time))
    return "; ".join(part for part in parts if part)


def places(told: Conclusion) -> int:
    """How many banks, crossings ... of a site a job holds."""
    return sum(c.count for c in told.counts if c.subject not in ("load", "job"))


def held(told: Conclusion) -> str:
    """What a job holds, in short: "148 loads", "19 places", or both."""
    loads, sites = told.count_of("load").count, places(told)
    parts = [say.count(loads, "load")] if loads or not sites else []
    return ", ".join([*parts, *([say.count(sites, "place")] if sites else [])])


def held_in_all(report: Report) -> str:
    """What the jobs of a report hold together."""
    sites = sum(places(job.conclusion) for job in report.jobs)
    loads = sum(job.conclusion.count_of("load").count for job in report.jobs)
    parts = [say.loads_in_all(report)] if loads or not sites else []
    return ", ".join([*parts, *([say.count(sites, "place") + " of harvest sites"] if sites else [])])


def named_risks(judgements: Iterable[Judgement]) -> list[Judgement]:
    """The judgements that name a significant risk to water."""
    return [told for told in judgements if told.significant_risk]
