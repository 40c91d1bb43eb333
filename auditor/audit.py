"""The whole way: from a record and rule files to a sealed report."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from auditor.check.assemble import job_reports
from auditor.check.map_rows import Mapped, with_map_rows
from auditor.check.scopes import topics_needed, used_files
from auditor.check.stale import stale_limits
from auditor.check.tally import parts_by_job, places_of, record_places, tally, weights_shown
from auditor.record import Record, read_jobs
from auditor.record.job_file import JOB_FILE
from auditor.report.json_text import sealed
from auditor.report.model import SCHEMA_NAME, JobReport, Report, RuleFileUsed
from auditor.report.season_model import SEASON_GROUPS, SEASON_SCHEMA, GroupName, Season
from auditor.report.wording import STATEMENT
from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook, read_rules
from auditor.vocabulary import SITE_TABLES, TOPIC_GROUPS
from auditor.vocabulary.problems import Problem, UnusableInput

if TYPE_CHECKING:
    from auditor.report.card_model import LoadCards
    from auditor.rules.doubts import Doubt

# What only one command needs is imported where it is needed: `audit` alone is to start quickly.

WORKBOOK = "record.xlsx"
LOAD_CAUTION = (
    "Work on and around loaded log trucks can kill. Follow the employer's safety rules and the trailer maker's "
    "instructions before a load, a binder or a stake is touched."
)
SITE_CAUTION = (
    "Work in and near water, on unstable ground and around felled, leaning or hung-up timber can kill, and mending can do "
    "more harm than leaving. Ask the forestry agency, the local codes and a licensed forester or engineer before ground, "
    "bank or channel is touched, and before a structure in a stream is taken out."
)
LIMIT_CAUTION = (
    "Limits change. Each limit shows its source and the day someone last looked at it; look again before relying on it."
)
SEASON_CAUTIONS = (
    "Gross weight alone: an axle, a group of axles or the bridge formula can reach its limit before the gross does, and a "
    "full trailer can leave no room at all. Run auditor check for those.",
    "Each load is held against the lowest gross limit of its way, as the weight on its ticket stands; what the scale may "
    "be off is not taken away. A tolerated limit is where enforcement begins, not one to load to.",
    "Shares and targets look back. They presume that loads to come stray as these did, each on its own; other wood, "
    "weather, loaders or scales change that, and with few loads little can be told.",
    "A target keeps overloads under the chosen share in the long run; it keeps no single load under its limit.",
    "Local codes, the terms of permits and the enforcing agency govern. These figures say what the records show, held "
    "against the rule files of their places; they are no legal advice.",
)


def engine_version() -> str:
    """Version of the installed program."""
    try:
        return version("harvest-haul-auditor")
    except PackageNotFoundError:
        return "not installed"


def check(
    record: Record, rulebook: Rulebook, audit_date: date | None = None, stale_after_months: int | None = None
) -> Report:
    """Judge every job of the record and report. `audit_date` is kept in the report; the clock is never asked.

    The date falls back to the job's own `audit_date` when the record holds a single job. With `stale_after_months` each
    job also lists the limits that no one had looked at for longer than that before its last load; in a job without loads
    before the end of the operation, or else the audit date.
    """
    mapped = with_map_rows(record)
    jobs = _jobs(mapped, rulebook, weights_shown(record.tables["loads"].height))
    return _report(mapped.record, rulebook, audit_date, stale_after_months, jobs)


def check_each(
    record: Record, rulebook: Rulebook, audit_date: date | None = None, stale_after_months: int | None = None
) -> Iterator[Report]:
    """Judge the jobs of the record together, and give for each the report that `check` would make of it alone."""
    mapped = with_map_rows(record)
    parts = parts_by_job(mapped.record)
    shown = any(weights_shown(part.tables["loads"].height) for part in parts.values())
    for job in _jobs(mapped, rulebook, shown):
        yield _report(parts[job.job], rulebook, audit_date, stale_after_months, [job])


def _jobs(mapped: Mapped, rulebook: Rulebook, with_weights: bool) -> list[JobReport]:
    record = mapped.record
    book = replace(rulebook, files=tuple(used_files(record, rulebook, places_of(record.tables))))
    return job_reports(record, book, tally(record, book, with_weights), mapped.sites)


def _report(
    record: Record, rulebook: Rulebook, audit_date: date | None, stale_after_months: int | None, jobs: list[JobReport]
) -> Report:
    """The sealed report on the jobs of the record, with the rule files that they were held against."""
    if audit_date is None and record.tables["job"].height == 1:
        audit_date = record.tables["job"]["audit_date"][0]
    if stale_after_months is not None:
        for job in jobs:
            back = job.looked_back_from(audit_date)
            job.stale = stale_limits(job.limits, back[1] if back is not None else None, stale_after_months)
    report = Report(
        schema_name=SCHEMA_NAME,
        engine_version=engine_version(),
        audit_date=audit_date,
        jobs=jobs,
        rules=_rules_used(used_files(record, rulebook, places_of(record.tables)), rulebook),
        cautions=_cautions(record),
        stale_after_months=stale_after_months,
        digest="",
    )
    return sealed(report)


def _rules_used(used: Sequence[RuleFile], rulebook: Rulebook) -> list[RuleFileUsed]:
    rules = [
        RuleFileUsed(
            id=f.id,
            title=f.title,
            place=f.place,
            topic=f.topic,
            sha256=rulebook.digests.get(f.id, ""),
            text=rulebook.texts.get(f.id, ""),
        )
        for f in used
    ]
    return rules + [
        RuleFileUsed(
            id=id_,
            title="Confirmations of values by practitioners",
            place="",
            topic="",
            sha256=rulebook.digests[id_],
            text=rulebook.texts[id_],
        )
        for id_, named in rulebook.confirmations.items()
        if {f.id for f in used} & {*named}
    ]


def _cautions(record: Record) -> list[str]:
    """What every report says of itself, and the dangers of what its record holds."""
    tables = record.tables
    loads = [LOAD_CAUTION] if tables["loads"].height else []
    site = [SITE_CAUTION] if any(tables[name].height for name in SITE_TABLES) else []
    return [*STATEMENT, *loads, *site, LIMIT_CAUTION]


def audit(
    folders: Sequence[str | os.PathLike[str]],
    audit_date: date | None = None,
    overlays: Sequence[str | os.PathLike[str]] = (),
    stale_after_months: int | None = None,
) -> Report:
    """Read job folders and the rule files of their places, judge, and report.

    `stale_after_months`: see `check`. Raises UnusableInput with every problem found when the record or the rules cannot
    be used.
    """
    record = read_jobs([Path(f) for f in folders])
    rulebook = read_rules(record_places(record), [Path(o) for o in overlays], topics_needed(record), examples=False)
    problems = overlay_problems(rulebook) if overlays else []
    if problems:
        raise UnusableInput(problems)
    return check(record, rulebook, audit_date, stale_after_months)


def overlay_problems(rulebook: Rulebook) -> list[Problem]:
    """What the rule checker finds wrong with rule files that lie over the shipped ones."""
    from auditor.rules.checking import check_files

    return check_files(rulebook, with_examples=False)


def start(
    folder: str | os.PathLike[str], places: Sequence[str], topics: Sequence[str] = ("haul",), all_fields: bool = False
) -> Path:
    """Make a job folder with a workbook and a job.yaml that ask for what the rules of the places read.

    The first place is written down as the state in which the timber is cut. `all_fields` adds the fields that no rule
    asks for. Gives the folder. Raises UnusableInput for unknown places and topics, and for a folder that is not empty.
    """
    # The library that writes workbooks is slow to load, and nothing else here needs it.
    from auditor.check.asked import fields_asked
    from auditor.record.new_folder import make_folder
    from auditor.record.template import job_file_text, workbook_bytes

    path = Path(folder)
    named = [place.upper() for place in places]
    asked = fields_asked(read_rules(named), named, topics)
    code = path.resolve().name
    job = job_file_text(code, named[0], asked.get("job", {}), WORKBOOK)
    make_folder(path, {WORKBOOK: workbook_bytes(asked, code, all_fields), JOB_FILE: job.encode("utf-8")})
    return path


def season(
    folders: Sequence[str | os.PathLike[str]],
    share_percent: float = 5,
    by: Sequence[GroupName] = SEASON_GROUPS,
    overlays: Sequence[str | os.PathLike[str]] = (),
) -> Season:
    """Season figures of job folders: overloads, spread of gross weights, target gross and room left.

    `share_percent` is the share of overloads that the targets are worked out for. Raises UnusableInput with every
    problem found when the record or the rules cannot be used, and for a share that is not between 0 and 50.
    """
    from auditor.check.season import season_loads
    from auditor.check.season_figures import CONFIDENCE, LEAST_LOADS, group_figures, limit_figures, set_apart

    if not 0 < share_percent < 50:
        found = f"{share_percent:g} percent"
        raise UnusableInput([Problem("share", "", "", found, "more than 0 and less than 50", "Choose one between.")])
    record = read_jobs([Path(f) for f in folders])
    rulebook = read_rules(places_of(record.tables), [Path(o) for o in overlays], TOPIC_GROUPS["haul"], examples=False)
    problems = overlay_problems(rulebook) if overlays else []
    if problems:
        raise UnusableInput(problems)
    found_loads = season_loads(record, rulebook)
    days = record.tables["loads"]["load_date"]
    jobs = record.tables["job"]
    first, last = days.min(), days.max()
    return Season(
        schema_name=SEASON_SCHEMA,
        engine_version=engine_version(),
        jobs=jobs["job"].to_list(),
        contractors=jobs["contractor"].drop_nulls().unique().sort().to_list(),
        first_load=first if isinstance(first, date) else None,
        last_load=last if isinstance(last, date) else None,
        load_count=found_loads.loads.height,
        share_percent=share_percent,
        confidence_percent=CONFIDENCE * 100,
        least_loads=LEAST_LOADS,
        grouped_by=list(by),
        rule_files={i: rulebook.digests.get(i, "") for i in (*(f.id for f in rulebook.files), *rulebook.confirmations)},
        limits=limit_figures(found_loads, rulebook),
        set_apart=set_apart(found_loads),
        figures=group_figures(found_loads, rulebook, round(share_percent / 100, 9), by),
        cautions=list(SEASON_CAUTIONS),
    )


def check_rules(rulebook: Rulebook) -> tuple[list[Problem], list[str]]:
    """What is wrong with rule files beyond their schema (words, dates, sources, tables, worked examples), and notes.

    The examples run only when all else is well. Notes name sibling rules, which are a warning and no fault.
    """
    from auditor.check.examples import run_examples
    from auditor.rules.checking import check_files, sibling_rules

    problems = check_files(rulebook)
    if problems:
        return problems, []
    return run_examples(rulebook), sibling_rules(rulebook)


def example_coverage(rulebook: Rulebook, names: Sequence[str] = ()) -> list[str]:
    """Which limits and boundaries no worked example touches, as notes, with totals per file; all files without names."""
    from auditor.check.example_coverage import coverage_lines

    return list(coverage_lines(rulebook, names))


def write_doubts(found: Sequence[Doubt], path: str | os.PathLike[str]) -> None:
    """Write a checklist of values to look up as .csv or .txt, with room for the answers.

    Raises UnusableInput where the file cannot be written.
    """
    from auditor.report.plain_files import write_lines_or_table
    from auditor.rules.doubts import HEADINGS, doubt_lines, doubt_rows

    write_lines_or_table(Path(path), doubt_lines(found), HEADINGS, doubt_rows(found))


def load_cards(
    folder: str | os.PathLike[str],
    on: date | None = None,
    truck: str | None = None,
    overlays: Sequence[str | os.PathLike[str]] = (),
) -> LoadCards:
    """Load cards of a job for one day: what each truck and trailer may gross to each destination, and its tiedowns.

    The day falls back to the job's own `audit_date`; the clock is never asked. `truck` asks for the cards of one truck.
    Raises UnusableInput where record or rules cannot be used, no day is given, or there is no such truck or load.
    """
    from auditor.check.card import combination_cards
    from auditor.report.card_model import CARD_SCHEMA_NAME, CardRuleFile, LoadCards

    record = read_jobs([Path(folder)])
    rulebook = read_rules(places_of(record.tables), [Path(o) for o in overlays], TOPIC_GROUPS["haul"], examples=False)
    problems = overlay_problems(rulebook) if overlays else []
    day = on if on is not None else record.tables["job"]["audit_date"][0]
    file = str(Path(folder) / JOB_FILE)
    if day is None:
        todo = "Name the day with --on, or fill audit_date."
        problems.append(Problem(file, "", "audit_date", "blank", "the day of the card, as 2026-05-31", todo))
    units = record.tables["loads"]["truck"].unique().sort().to_list()
    if truck is not None and truck not in units:
        expected = f"one of {', '.join(units)}" if units else "a truck that hauled"
        problems.append(Problem(file, "", "truck", truck, expected, "Name a truck that has loads in the record."))
    if problems or not isinstance(day, date):
        raise UnusableInput(problems)
    cards = combination_cards(record, rulebook, day, truck)
    if not cards:
        found, expected = "no load of a known combination", "a load with its trailer, or of a straight truck"
        raise UnusableInput([Problem(file, "", "loads", found, expected, "Fill trailer in loads, or kind in trucks.")])
    return LoadCards(
        schema_name=CARD_SCHEMA_NAME,
        engine_version=engine_version(),
        on=day,
        cards=cards,
        rules=[
            CardRuleFile(id=i, sha256=rulebook.digests.get(i, ""))
            for i in (*(f.id for f in rulebook.files), *rulebook.confirmations)
        ],
    )


def schema(of: Literal["record", "rules", "report", "season", "card"]) -> dict[str, Any]:
    """The published JSON Schema of the record, of rule files, of reports, of season figures or of load cards."""
    if of == "record":
        from auditor.record import record_schema

        return record_schema()
    if of == "rules":
        from auditor.rules.checking import rules_schema

        return rules_schema()
    if of == "card":
        from auditor.report.card_writing import card_schema

        return card_schema()
    if of == "season":
        from auditor.report.season_model import season_schema

        return season_schema()
    from auditor.report.json_text import report_schema

    return report_schema()
