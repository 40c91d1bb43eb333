"""The report as tables: which sheets there are, what their columns mean, and their rows. CSV and XLSX are made of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from auditor.report import wording as say
from auditor.report.model import (
    Finding,
    Item,
    JobReport,
    Judgement,
    Limit,
    PracticeScore,
    Report,
    WalkOutcome,
    WalkStop,
)

Cell = str | int | float | date | None
"""What a cell holds; None is a blank one. Yes and no are words."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its name, which stays the same from version to version, and what it means."""

    name: str
    meaning: str
    of: Callable[[Any], Cell | bool]
    wide: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table of the report."""

    name: str
    row: str
    columns: Sequence[Column]
    rows: Callable[[Report], Iterator[Any]]

    def cells(self, report: Report) -> Iterator[list[Cell]]:
        """The rows of a report, cell by cell."""
        for row in self.rows(report):
            yield [_cell(column.of(row)) for column in self.columns]


def _cell(value: Cell | bool) -> Cell:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return defused(say.clean(value)) or None
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value


_FORMULA_STARTS = (
    "=+-@\t\r\N{FULLWIDTH EQUALS SIGN}\N{FULLWIDTH PLUS SIGN}\N{FULLWIDTH HYPHEN-MINUS}\N{FULLWIDTH COMMERCIAL AT}"
)


def defused(text: str) -> str:
    """The text, with an apostrophe before it where a spreadsheet would take it for a formula.

    >>> defused("=1+1"), defused("T11 + L21"), defused("-20")
    ("'=1+1", 'T11 + L21', "'-20")
    """
    return f"'{text}" if text.startswith(tuple(_FORMULA_STARTS)) else text


@dataclass(frozen=True, slots=True)
class _ItemRow:
    report: Report
    job: JobReport
    finding: Finding
    item: Item | None


def _item(name: str) -> Callable[[_ItemRow], Any]:
    return lambda row: None if row.item is None else getattr(row.item, name)


def _finding(name: str) -> Callable[[_ItemRow], Any]:
    return lambda row: getattr(row.finding, name)


def _described(model: type[Finding] | type[Item], name: str, meaning: str) -> str:
    return meaning or model.model_fields[name].description or name.replace("_", " ")


def _finding_columns(named: Sequence[tuple[str, str]], prefix: str = "") -> list[Column]:
    return [
        Column(f"{prefix}{name}", _described(Finding, name, meaning), _finding(name), name in _WIDE)
        for name, meaning in named
    ]


_WIDE = {"title", "worst", "summary", "action", "caution", "to_mend", "part", "source", "meaning", "todo", "reason"}
_JOB = Column("job", "code of the job", lambda row: row.job.job)
_DRAFT = Column("draft", "yes: not for use outside the office that made it", lambda row: row.report.draft)
_NAMES = Column("names", "as recorded, or replaced by codes", lambda row: row.report.names)
_FINDING = (
    ("number", "place of the finding in the job's report, 1 first"),
    ("kind", "nonconformity, departure from practice or opportunity for improvement"),
    ("grade", "major or minor"),
    ("title", "name of the finding"),
    ("place", "jurisdiction of the rule"),
    ("topic", "topic of the rule"),
    ("rule", ""),
    ("standing", "statute, regulation, voluntary practice ..."),
    ("duty_of", "who has to mend it"),
    ("confirmed", "no: the limit is known from memory only"),
    ("second_hand", ""),
    ("subject", ""),
    ("subject_count", "loads, banks ... with this finding"),
    ("tolerated_count", ""),
    ("judged_count", ""),
)
_FINDING_TEXTS = (("worst", ""), ("summary", ""), ("action", "what to do"), ("caution", ""))
_ITEM = (
    ("name", "subject", ""),
    ("date", "on", "day of the load, as 2026-05-04"),
    ("part", "what", ""),
    ("vehicle", "vehicle", ""),
    ("destination", "destination", "where the load went"),
    ("measured", "measured", "what the record shows, in the unit"),
    ("boundary", "boundary", ""),
    ("limit", "limit", "the limit that held, in the unit"),
    ("unit", "unit", "unit of measured, limit, margin and tolerated_limit"),
    ("margin", "margin", ""),
    ("tolerated", "tolerated", ""),
    ("tolerated_limit", "tolerated_limit", "up to where the enforcement tolerance goes, in the unit"),
    ("limit_key", "limit_key", ""),
    ("to_mend", "to_mend", ""),
    ("further_rows", "also_on", ""),
    ("source", "source", ""),
)
_WHERE = (("from_ft", "from_ft", ""), ("to_ft", "to_ft", ""))
"""Columns that came later and so stand behind the others."""


def _item_rows(report: Report) -> Iterator[_ItemRow]:
    for job in report.jobs:
        for finding in job.findings:
            items: Sequence[Item | None] = finding.items or [None]
            yield from (_ItemRow(report, job, finding, item) for item in items)


def _finding_rows(report: Report) -> Iterator[_ItemRow]:
    return (_ItemRow(report, job, finding, None) for job in report.jobs for finding in job.findings)


ITEMS = Sheet(
    "items",
    "one load, bank or crossing under one finding",
    [
        _JOB,
        *_finding_columns([("id", "")], "finding_"),
        *_finding_columns(_FINDING),
        *(
            Column(name, _described(Item, attribute, meaning), _item(attribute), name in _WIDE)
            for name, attribute, meaning in _ITEM
        ),
        *_finding_columns(_FINDING_TEXTS[2:]),
        _DRAFT,
        _NAMES,
        *(Column(name, _described(Item, attribute, meaning), _item(attribute)) for name, attribute, meaning in _WHERE),
    ],
    _item_rows,
)
"""What a CSV holds too."""

FINDINGS = Sheet(
    "findings",
    "one finding",
    [_JOB, *_finding_columns([("id", "")], "finding_"), *_finding_columns((*_FINDING, *_FINDING_TEXTS))],
    _finding_rows,
)


@dataclass(frozen=True, slots=True)
class _Row:
    """A part of a job's report, or of the report, with what it belongs to."""

    job: JobReport
    report: Report
    part: Any = None


def _of(name: str) -> Callable[[_Row], Any]:
    return lambda row: getattr(row.part, name)


def _columns(named: Sequence[tuple[str, str]]) -> list[Column]:
    return [Column(name, meaning, _of(name), name in _WIDE) for name, meaning in named]


def _parts(name: str) -> Callable[[Report], Iterator[_Row]]:
    return lambda report: (_Row(job, report, part) for job in report.jobs for part in getattr(job, name))


def _counted(noun: str, attribute: str) -> Callable[[_Row], Any]:
    return lambda row: getattr(row.part.count_of(noun), attribute)


_COUNTED = [
    (noun, f"{noun}_{attribute}" if attribute == "count" else f"{noun}s_{attribute}", attribute, meaning)
    for noun in ("load", "bank", "crossing")
    for attribute, meaning in (
        ("count", " in the record"),
        ("conforming", " without finding, missing or open point"),
        ("with_nonconformity", " past a limit or rule, tolerated ones included"),
        ("only_tolerated", " whose only findings lie inside an enforcement tolerance"),
        ("not_evidenced", " for which at least one requirement cannot be shown"),
    )
]
"""What a conclusion counts of each kind of subject that has columns of its own."""


def _conclusions(report: Report) -> Iterator[_Row]:
    return (_Row(job, report, job.conclusion) for job in report.jobs)


CONCLUSION = Sheet(
    "conclusion",
    "one job",
    [
        _JOB,
        Column("title", "title of the job", lambda row: row.job.title, wide=True),
        Column("contractor", "who hauled or cut", lambda row: row.job.contractor),
        Column("state", "state in which the timber was cut", lambda row: row.job.state),
        Column("first_load", "day of the first load", lambda row: row.job.first_load),
        Column("last_load", "day of the last load", lambda row: row.job.last_load),
        *_columns([
            ("status", "nothing judged, nothing found, departures, nonconformities or evidence missing"),
        ]),
        *(
            Column(name, f"{noun}s{meaning}", _counted(noun, attribute))
            for noun, name, attribute, meaning in _COUNTED
        ),
        *_columns([
            ("major_count", "major findings"),
            ("minor_count", "minor findings"),
            ("departure_count", "departures from practice"),
            ("unconfirmed_count", "findings whose limit is unconfirmed, outside the conclusion"),
        ]),
        Column("sentences", "the conclusion in words", lambda row: " ".join(row.part.sentences), wide=True),
        Column("audit_date", "day of the audit", lambda row: row.report.audit_date),
        _DRAFT,
        _NAMES,
        Column("left_out", "parts that this report does not hold", lambda row: ", ".join(row.report.left_out)),
        Column("engine_version", "version of the program", lambda row: row.report.engine_version),
        Column("report_digest", "SHA-256 of the report's JSON form with its digest empty", lambda r: r.report.digest),
        Column("cautions", "what the report is and is not", lambda row: " ".join(say.cautions(row.report)), wide=True),
    ],
    _conclusions,
)  # fmt: skip


def _missing(report: Report) -> Iterator[_Row]:
    return (_Row(job, report, fact) for job in report.jobs for fact in say.ranked(job.missing))


MISSING = Sheet(
    "missing evidence",
    "one fact that was not recorded",
    [
        _JOB,
        *_columns([
            ("fact", "table.field of the record"),
            ("meaning", "what the field means"),
            ("subject", "what is counted: load, bank, crossing ..."),
            ("subject_count", "loads, banks ... for which it was needed and blank"),
            ("job_subject_count", "loads, banks ... of the job"),
            ("demanded_by_law", "yes: the law demands this record"),
            ("advice_only", "yes: asked for by voluntary practice alone"),
            ("todo", "what to do"),
        ]),
        Column("rules", "rules that it leaves open", lambda row: ", ".join(row.part.rules), wide=True),
        Column("samples", "some of the loads, banks ...", lambda row: ", ".join(row.part.samples)),
    ],
    _missing,
)  # fmt: skip

COVERAGE = Sheet(
    "coverage",
    "one rule",
    [
        _JOB,
        *_columns([
            ("rule", "place/topic/rule"),
            ("title", "name of the rule"),
            ("place", "jurisdiction"),
            ("topic", "topic"),
            ("standing", "statute, regulation, voluntary practice ..."),
            ("subject", "what is counted: load, bank, crossing ..."),
            ("conformity", "those that conform"),
            ("nonconformity", "those that do not, or that depart from practice"),
            ("not_evidenced", "those for which a fact is blank"),
            ("inconclusive", "those that stay open although nothing is blank"),
            ("not_verifiable", "those of which the act leaves no record"),
            ("not_applicable", "those to which the rule does not apply"),
        ]),
    ],
    _parts("coverage"),
)  # fmt: skip

LIMITS = Sheet(
    "limits",
    "one limit that spoke",
    [
        _JOB,
        *(
            Column(name, about.description or name.replace("_", " "), _of(name), name in {"means", "seen", "note"})
            for name, about in Limit.model_fields.items()
        ),
    ],
    _parts("limits"),
)

EVIDENCE = Sheet(
    "evidence files",
    "one file of the record",
    [
        _JOB,
        *_columns([
            ("path", "file, from the job folder"),
            ("row_count", "rows read"),
            ("size_bytes", "size in bytes"),
        ]),
        Column("tables", "tables read from it", lambda row: ", ".join(row.part.tables)),
        Column("sha256", "SHA-256 of the file", _of("sha256"), wide=True),
    ],
    _parts("evidence"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Stop:
    job: JobReport
    stop: WalkStop
    outcome: WalkOutcome


def _stops(report: Report) -> Iterator[_Stop]:
    return (_Stop(job, stop, outcome) for job in report.jobs for stop in job.walk for outcome in stop.outcomes)


def _at_stop(name: str) -> Callable[[_Stop], Any]:
    return lambda row: getattr(row.stop, name)


def _of_outcome(name: str) -> Callable[[_Stop], Any]:
    return lambda row: getattr(row.outcome, name)


WALK = Sheet(
    "walk",
    "what became of one place of the site under one rule",
    [
        _JOB,
        Column("topic", "topic of the rules", _at_stop("topic")),
        Column("subject", "bank, crossing, road or trail segment ...", _at_stop("subject")),
        Column("name", "its name in the record", _at_stop("name")),
        Column("where", "what it is and where", _at_stop("where"), wide=True),
        Column("rule", "place/topic/rule", _of_outcome("rule")),
        Column("title", "name of the rule", _of_outcome("title"), wide=True),
        Column("standing", "statute, regulation, voluntary practice ...", _of_outcome("standing")),
        Column(
            "outcome", "conformity, nonconformity, departure from practice, not evidenced ...", _of_outcome("outcome")
        ),
        Column("finding", "number of the finding it stands in", _of_outcome("finding")),
        Column("judgements", "judgements that speak of the place", lambda row: ", ".join(row.stop.judgements)),
    ],
    _stops,
)

JUDGEMENTS = Sheet(
    "judgements",
    "one judgement made on the ground",
    [
        _JOB,
        *(
            Column(
                name, about.description or name.replace("_", " "), _of(name), name in ("question", "reason", "source")
            )
            for name, about in Judgement.model_fields.items()
        ),
    ],
    _parts("judgements"),
)

SCORES = Sheet(
    "scores",
    "implementation of practices in one category, or in all",
    [
        _JOB,
        *(
            Column(name, about.description or name.replace("_", " "), _of(name), name == "published")
            for name, about in PracticeScore.model_fields.items()
        ),
    ],
    _parts("scores"),
)

SHEETS: tuple[Sheet, ...] = (
    CONCLUSION, FINDINGS, ITEMS, WALK, JUDGEMENTS, SCORES, MISSING, COVERAGE, LIMITS, EVIDENCE,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Meaning:
    sheet: Sheet
    column: Column = field(repr=False)


def _meanings(_: Report) -> Iterator[_Meaning]:
    return (_Meaning(sheet, column) for sheet in SHEETS for column in sheet.columns)


COLUMNS = Sheet(
    "columns",
    "one column of this workbook",
    [
        Column("sheet", "sheet of this workbook", lambda row: row.sheet.name),
        Column("one_row_is", "what a row of that sheet stands for", lambda row: row.sheet.row, wide=True),
        Column("column", "name of the column", lambda row: row.column.name),
        Column("meaning", "what it holds", lambda row: row.column.meaning, wide=True),
    ],
    _meanings,
)
"""Says what every column of the workbook means."""
