"""What the pages on a harvest site need beside the report: the walk by topic, stationing tables, scores, the map."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from auditor.report import site_wording as site_say
from auditor.report.charts import NARROW, WIDTH
from auditor.report.model import Finding, Item, JobReport, Judgement, WalkOutcome, WalkStop
from auditor.report.site_map_svg import MapMark, map_marks, site_map

_JUDGEMENT = "judgement"
"""The word for a judgement that rules were held against, as a stop of the walk."""


@dataclass(frozen=True, slots=True)
class WalkRow:
    """A computed outcome and the judgement beside it; one of the two may be missing."""

    outcome: WalkOutcome | None
    judgement: Judgement | None


@dataclass(frozen=True, slots=True)
class WalkPlace:
    """A place: rows with a finding or a judgement one by one, the other outcomes together by their word."""

    stop: WalkStop
    rows: list[WalkRow]
    others: list[tuple[str, list[str]]]

    @property
    def has_finding(self) -> bool:
        """Whether something here stands in a finding."""
        return any(row.outcome is not None and row.outcome.finding is not None for row in self.rows)


@dataclass(frozen=True, slots=True)
class WalkTopic:
    """The places of one topic in walking order."""

    topic: str
    places: list[WalkPlace]

    @property
    def judgements(self) -> list[Judgement]:
        """The judgements made at these places, each once."""
        found = [row.judgement for place in self.places for row in place.rows if row.judgement is not None]
        return [told for n, told in enumerate(found) if told not in found[:n]]

    @property
    def told(self) -> str:
        """How the topic fared, in one line."""
        off = sum(place.has_finding for place in self.places)
        judged = self.judgements
        return site_say.walked(len(self.places), off, len(judged), sum(j.agrees is False for j in judged))


@dataclass(frozen=True, slots=True)
class StationRow:
    """One stretch or place along a bank, road or trail that is off a limit."""

    finding: Finding
    item: Item


@dataclass(frozen=True, slots=True)
class StationTable:
    """Where one bank, road or trail is off, from its upstream or upper end."""

    subject: str
    name: str
    where: str
    rows: list[StationRow]


@dataclass(frozen=True, slots=True)
class SitePage:
    """What the pages on a site show."""

    is_site: bool
    topics: list[WalkTopic]
    elsewhere: list[Judgement]
    """Judgements on the whole job or on places that the walk does not name."""
    stations: list[StationTable]
    risks: list[Judgement]
    map: Any
    narrow_map: Any
    marks: list[MapMark]
    map_notes: list[str]
    """What was assumed about the maps, without what the notes on reading say already."""


def site_page(job: JobReport, narrow: bool) -> SitePage:
    """The site part of a job; `narrow` adds a map for a phone."""
    from markupsafe import Markup

    topics, elsewhere = walk_topics(job)
    return SitePage(
        is_site=bool(site_say.places(job.conclusion) or job.walk or job.judgements or job.map),
        topics=topics,
        elsewhere=elsewhere,
        stations=station_tables(job),
        risks=site_say.named_risks(job.judgements),
        map=Markup(site_map(job.map, WIDTH)) if job.map else "",
        narrow_map=Markup(site_map(job.map, NARROW)) if job.map and narrow else "",
        marks=map_marks(job.map) if job.map else [],
        map_notes=[note for note in job.map.notes if note not in job.notes] if job.map else [],
    )


def walk_topics(job: JobReport) -> tuple[list[WalkTopic], list[Judgement]]:
    """The walk by topic, each judgement at one place, and the judgements that belong to none of the places.

    A rule that was held against a judgement itself stands beside it, at its place where that is in the same topic. Else
    a judgement stands where its rule was held against the place, or at the first place that names it; the job as a
    whole is such a place only where the rule was held against it.
    """
    pairs: dict[int, list[WalkRow]] = {}
    elsewhere: list[Judgement] = []
    merged: set[int] = set()
    for told in job.judgements:
        stops = [n for n, stop in enumerate(job.walk) if told.name in stop.judgements and stop.subject != _JUDGEMENT]
        own = [n for n, stop in enumerate(job.walk) if stop.subject == _JUDGEMENT and stop.name == told.name]
        for n in own:
            at = next((m for m in stops if job.walk[m].topic == job.walk[n].topic and job.walk[m].subject != "job"), n)
            pairs.setdefault(at, []).extend(WalkRow(outcome, told) for outcome in job.walk[n].outcomes)
            merged.add(n)
        held = [n for n in stops if told.rule and told.rule in {o.rule for o in job.walk[n].outcomes}]
        fitting = held or [n for n in stops if job.walk[n].subject != "job"]
        if held or (fitting and not own):
            pairs.setdefault(fitting[0], []).append(WalkRow(None, told))
        elif not own:
            elsewhere.append(told)
    topics: dict[str, WalkTopic] = {}
    for number, stop in enumerate(job.walk):
        if number in merged and number not in pairs:
            continue
        topic = topics.setdefault(stop.topic, WalkTopic(stop.topic, []))
        topic.places.append(_place(stop, pairs.get(number, []), number in merged))
    return list(topics.values()), elsewhere


def _place(stop: WalkStop, judged: Sequence[WalkRow], is_judgement: bool) -> WalkPlace:
    """A stop with its rows, those with a finding first; the outcomes of a judgement itself come with `judged`."""
    paired = [row for row in judged if row.outcome is not None]
    left = [row.judgement for row in judged if row.outcome is None and row.judgement is not None]
    rows: list[WalkRow] = []
    others: dict[str, list[str]] = {}
    for outcome in () if is_judgement else stop.outcomes:
        beside = [told for told in left if told.rule == outcome.rule]
        left = [told for told in left if told.rule != outcome.rule]
        if beside or outcome.finding is not None:
            rows += [WalkRow(outcome, told) for told in beside] or [WalkRow(outcome, None)]
        else:
            others.setdefault(outcome.outcome, []).append(outcome.title)
    rows = sorted([*rows, *paired], key=lambda row: row.outcome is None or row.outcome.finding is None)
    return WalkPlace(stop, [*rows, *(WalkRow(None, told) for told in left)], list(others.items()))


def station_tables(job: JobReport) -> list[StationTable]:
    """Every item that has a station, by bank, road or trail in walking order, from the upstream or upper end."""
    tables: dict[tuple[str, str], StationTable] = {}
    order, where = _walk_order(job.walk)
    for finding in job.findings:
        for item in finding.items:
            if item.from_ft is None:
                continue
            key = _key(finding.subject, item, order)
            table = tables.setdefault(key, StationTable(key[0], key[1], where.get(key) or item.what, []))
            table.rows.append(StationRow(finding, item))
    for table in tables.values():
        table.rows.sort(key=lambda row: (row.item.from_ft, row.item.to_ft or row.item.from_ft, row.finding.number))
    last = len(order)
    return sorted(tables.values(), key=lambda t: order.get((t.subject, t.name), last))


def _key(subject: str, item: Item, order: dict[tuple[str, str], int]) -> tuple[str, str]:
    """The kind and name of the place that an item lies on."""
    if (subject, item.subject) in order:
        return subject, item.subject
    return next(((kind, name) for kind, name in order if name == item.subject), (subject, item.subject))


def _walk_order(walk: Iterable[WalkStop]) -> tuple[dict[tuple[str, str], int], dict[tuple[str, str], str]]:
    order: dict[tuple[str, str], int] = {}
    where: dict[tuple[str, str], str] = {}
    for stop in walk:
        key = (stop.subject, stop.name)
        order.setdefault(key, len(order))
        where.setdefault(key, stop.where)
    return order, where
