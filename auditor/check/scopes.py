"""What of a job is judged and by which rule files: its loads on their roads, its harvest site in its state."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date

import polars as pl

from auditor.record import Record
from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook
from auditor.vocabulary import SITE_TABLES, SUBJECTS, TOPIC_GROUPS, VIEWS

FEDERAL = "US"


@dataclass(frozen=True, slots=True)
class JobScope:
    """The rule files that a job is held against, in order, and how much there is to judge.

    `counts`: table -> rows of each kind of subject that some rule of the files examines, the loads first. `left_out`
    says in sentences what was not looked at.
    """

    files: tuple[RuleFile, ...]
    counts: Mapping[str, int]
    first_load: date | None
    last_load: date | None
    left_out: tuple[str, ...]

    @property
    def load_count(self) -> int:
        """How many loads the job has."""
        return self.counts.get("loads", 0)


def topics_needed(record: Record) -> list[str]:
    """The topics that a record is judged by: hauling, harvest sites or both; hauling where it holds neither."""
    site = bool(record.maps) or any(record.tables[name].height for name in SITE_TABLES)
    haul = record.tables["loads"].height > 0 or not site
    return [*(TOPIC_GROUPS["haul"] if haul else ()), *(TOPIC_GROUPS["ground"] if site else ())]


def used_files(record: Record, rulebook: Rulebook, places: Collection[str]) -> list[RuleFile]:
    """The rule files of the places on the topics that the record is judged by."""
    topics = topics_needed(record)
    return [f for f in rulebook.files if f.place in places and f.topic in topics]


def job_scope(state: str, tables: Mapping[str, pl.DataFrame], rulebook: Rulebook) -> JobScope:
    """The scope of one job from its own rows; a table without rows may be left out of `tables`.

    Loads are held against the haul files of the states that their legs lie in, the harvest site against the site files
    of the job's state, both against the federal ones. A job with rows of a site and no loads is a site alone.
    """
    loads, legs = tables.get("loads"), tables.get("legs")
    site = any(name in tables and tables[name].height for name in SITE_TABLES)
    haul = not site or (loads is not None and loads.height > 0)
    roads = [] if legs is None else sorted(str(s) for s in legs["state"].cast(pl.String).drop_nulls().unique())
    places = dict.fromkeys([FEDERAL, *sorted({*roads, *([state] if site else [])})])
    files = [
        file
        for place in places
        for file in rulebook.of(place)
        if (haul and file.topic in TOPIC_GROUPS["haul"] and place in (FEDERAL, *roads))
        or (site and file.topic in TOPIC_GROUPS["ground"] and place in (FEDERAL, state))
    ]
    subjects = {VIEWS[rule.examines].subject for file in files for rule in file.rules}
    counts = {t: tables[t].height for t in SUBJECTS if t in subjects and t in tables and tables[t].height}
    if site and "job" in subjects:
        counts["job"] = 1
    elif "job" in counts:
        del counts["job"]
    days = loads["load_date"] if loads is not None else None
    return JobScope(
        files=tuple(files),
        counts=counts,
        first_load=_day(days.min()) if days is not None else None,
        last_load=_day(days.max()) if days is not None else None,
        left_out=tuple(_left_out(rulebook, roads if haul else [], state, haul, site)),
    )


def _left_out(rulebook: Rulebook, roads: list[str], state: str, haul: bool, site: bool) -> list[str]:
    known = {(f.place, group) for f in rulebook.files for group, topics in TOPIC_GROUPS.items() if f.topic in topics}
    found = [
        f"No rule file for {place}: its roads were judged by federal rules only."
        for place in roads
        if (place, "haul") not in known
    ]
    if site and (state, "ground") not in known:
        found.append(f"No rule file on harvest sites for {state}: the site was judged by federal rules only.")
    if not haul:
        found.append("The record holds no loads; the rules on hauling were not applied.")
    if not site:
        found.append("The record holds nothing of the harvest site; the rules on water and ground were not applied.")
    return found


def _day(value: object) -> date | None:
    return value if isinstance(value, date) else None
