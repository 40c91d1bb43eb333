"""The report as tables: which sheets there are, what their columns mean, and their rows. CSV and XLSX are made of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from auditor.report import wording as say
from auditor.report.model import Finding, Item, JobReport, Limit, Report

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
    ("load_count", "loads with this finding"),
    ("tolerated_count", ""),
    ("judged_count", ""),
)
_FINDING_TEXTS = (("worst", ""), ("summary", ""), ("action", "what to do"), ("caution", ""))
_ITEM = (
    ("ticket", "ticket", ""),
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


def _item_rows(report: Report) -> Iterator[_ItemRow]:
    for job in report.jobs:
        for finding in job.findings:
            items: Sequence[Item | None] = finding.items or [None]
            yield from (_ItemRow(report, job, finding, item) for item in items)


def _finding_rows(report: Report) -> Iterator[_ItemRow]:
    return (_ItemRow(report, job, finding, None) for job in report.jobs for finding in job.findings)


ITEMS = Sheet(
    "items",
    "one load under one finding",
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
            ("status", "nothing found, nonconformities or evidence missing"),
            ("load_count", "loads in the record"),
            ("loads_conforming", "loads without finding, missing or open point"),
            ("loads_with_nonconformity", "loads past a limit or rule, tolerated ones included"),
            ("loads_only_tolerated", "of these, loads whose only findings lie inside an enforcement tolerance"),
            ("loads_not_evidenced", "loads for which at least one requirement cannot be shown"),
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
            ("load_count", "loads for which it was needed and blank"),
            ("job_load_count", "loads of the job"),
            ("demanded_by_law", "yes: the law demands this record"),
            ("advice_only", "yes: asked for by voluntary practice alone"),
            ("todo", "what to do"),
        ]),
        Column("rules", "rules that it leaves open", lambda row: ", ".join(row.part.rules), wide=True),
        Column("sample_tickets", "some of the loads", lambda row: ", ".join(row.part.sample_tickets)),
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
            ("conformity", "loads that conform"),
            ("nonconformity", "loads that do not, or that depart from practice"),
            ("not_evidenced", "loads for which a fact is blank"),
            ("inconclusive", "loads that stay open although nothing is blank"),
            ("not_verifiable", "loads of which the act leaves no record"),
            ("not_applicable", "loads to which the rule does not apply"),
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

SHEETS: tuple[Sheet, ...] = (CONCLUSION, FINDINGS, ITEMS, MISSING, COVERAGE, LIMITS, EVIDENCE)


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
