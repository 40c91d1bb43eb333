"""The way in: job folders, or rows given directly, to one validated record."""

from __future__ import annotations

import datetime as dt
import functools
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Final

import polars as pl

from auditor.record.checks import check_tables
from auditor.record.form import FIRST_SHEET, LISTS_SHEET, without_examples
from auditor.record.job_file import JOB_FILE, JobFile, read_job_file, text_rows
from auditor.record.mapping import SourceSpec, heading_hint, key_column, map_sheet, spec_problems
from auditor.record.raw import EvidenceFile, Place, RawTable
from auditor.record.site_map import SiteMap
from auditor.record.sources import file_bytes, first_rows, read_csv
from auditor.record.tables import build_tables, with_provenance
from auditor.vocabulary import TABLES, nearest
from auditor.vocabulary.problems import Problem, UnusableInput

if TYPE_CHECKING:
    from auditor.record.workbook import Workbook

_CSV: Final = (".csv", ".tsv", ".txt")
_XLSX: Final = (".xlsx", ".xlsm")
_SCALARS: Final = (str, bool, int, float, Decimal, dt.date, dt.time, list, tuple, type(None))
_DECLARED: Final = {"job": pl.String, "table": pl.String, "from": pl.Date, "until": pl.Date}


@dataclass(frozen=True, slots=True)
class Record:
    """What the user brought, validated: one frame for each table of the vocabulary, and where it came from.

    `maps` holds the maps of each job that has any.
    """

    tables: dict[str, pl.DataFrame]
    evidence: tuple[EvidenceFile, ...]
    declared: pl.DataFrame
    criteria: dict[str, tuple[str, ...]]
    notes: tuple[str, ...]
    maps: dict[str, SiteMap] = field(default_factory=dict)


def read_jobs(folders: Sequence[Path]) -> Record:
    """Read and validate job folders as one record.

    Raises UnusableInput with every problem of every file, found in one pass.
    """
    return record_of([read_job_file(Path(folder)) for folder in folders])


def record_of(jobs: Sequence[JobFile]) -> Record:
    """Read and validate what these job files name, as one record. Raises UnusableInput as `read_jobs`."""
    problems = _repeated_codes(jobs)
    raws: list[RawTable] = []
    broken: set[tuple[str, str]] = set()
    notes: list[str] = []
    evidence: list[EvidenceFile] = []
    maps: dict[str, SiteMap] = {}
    for job in jobs:
        problems += job.problems
        if job.unread:
            continue
        opened = _Files(job)
        own = [*job.inline, *opened.read_all()]
        problems += opened.problems
        broken |= {(job.job, table) for table in opened.broken}
        raws += own
        notes += opened.notes if len(jobs) == 1 else [f"{job.job}: {note}" for note in opened.notes]
        evidence += opened.evidence(own)
        if job.maps:
            # The libraries for maps take half a second to load, so only a job with maps pays for them.
            from auditor.record.maps import read_maps

            read = read_maps(job)
            problems += read.problems
            evidence += read.evidence
            if read.site is not None:
                maps[job.job] = read.site
                said = read.site.notes
                notes += said if len(jobs) == 1 else [f"{job.job}: {note}" for note in said]
    labels = [label for job in jobs for label in (job.label, *_own_label(job), *_source_labels(job))]
    declared, wrong = _declared(jobs)
    problems += wrong
    criteria = {job.job: job.criteria for job in jobs}
    record = _validated(raws, broken, problems, notes, evidence, declared, criteria, labels, maps)
    return replace(record, maps=maps)


def record_from_rows(tables: Mapping[str, Sequence[Mapping[str, object]]], job: str = "JOB") -> Record:
    """Make a record of rows given as text or Python values, on the same way as files.

    A row may name its own `job`; the others belong to `job`. Raises UnusableInput.
    """
    raws: list[RawTable] = []
    problems: list[Problem] = []
    for name, rows in tables.items():
        if name not in TABLES:
            like = nearest(name, TABLES)
            todo = f"Did you mean {like[0]}?" if like else f"Known are {', '.join(TABLES)}."
            problems.append(Problem("rows", "", name, f'the table "{name}"', "a table of the record", todo))
            continue
        by_job: dict[str, list[tuple[int, dict[str, str | None]]]] = {}
        for number, row in enumerate(rows, 1):
            text = {key: _text(value) for key, value in row.items()}
            problems += [
                Problem(name, f"row {number}", key, f"a {type(value).__name__}", "a single value", "Write one value.")
                for key, value in row.items()
                if not isinstance(value, _SCALARS)
            ]
            code = text.get("job") or job
            if name == "job":
                text["job"] = code
            else:
                text.pop("job", None)
            by_job.setdefault(code, []).append((number, text))
        for code, own in by_job.items():
            place = Place(code, name, name)
            raw, wrong = text_rows(name, place, [r for _, r in own], [n for n, _ in own])
            raws.append(raw)
            problems += wrong
    declared = pl.DataFrame(schema=_DECLARED)
    codes = sorted({raw.place.job for raw in raws})
    return _validated(raws, set(), problems, [], [], declared, dict.fromkeys(codes, ()), list(tables))


def _validated(
    raws: list[RawTable],
    broken: set[tuple[str, str]],
    problems: list[Problem],
    notes: list[str],
    evidence: list[EvidenceFile],
    declared: pl.DataFrame,
    criteria: dict[str, tuple[str, ...]],
    labels: list[str],
    maps: Mapping[str, SiteMap] | None = None,
) -> Record:
    frames, wrong, said = build_tables(raws)
    problems = [*problems, *wrong, *check_tables(frames, raws, broken, maps)]
    if problems:
        order = {label: i for i, label in enumerate(dict.fromkeys([*labels, *(r.place.label for r in raws)]))}
        raise UnusableInput(sorted(problems, key=lambda p: order.get(p.file, -1)))
    tables = {name: with_provenance(frame, raws) for name, frame in frames.items()}
    return Record(tables, tuple(evidence), declared, criteria, tuple(dict.fromkeys([*notes, *said])))


def _repeated_codes(jobs: Sequence[JobFile]) -> list[Problem]:
    first: dict[str, JobFile] = {}
    problems = []
    for job in jobs:
        if job.unread:
            continue
        other = first.setdefault(job.job, job)
        if other is not job:
            found = f'the code "{job.job}", which {other.label} has as well'
            todo = "Give each job a code of its own, and name each folder once."
            problems.append(Problem(job.label, "", "job", found, "a code that no other job has", todo))
            job.unread = True
    return problems


class _Files:
    """The files of one job, each opened once."""

    def __init__(self, job: JobFile) -> None:
        self.problems: list[Problem] = []
        self.notes: list[str] = []
        self.broken: set[str] = set()
        self._job = job
        self._data: dict[str, bytes] = {JOB_FILE: job.data}
        self._books: dict[str, Workbook] = {}
        self._seen: set[tuple[str, str, str | None]] = set()

    def read_all(self) -> list[RawTable]:
        """Every source of the job as a text table; what cannot be read is a problem."""
        raws = []
        for spec, where in [*self._own_sheets(), *self._job.sources]:
            try:
                problems = spec_problems(spec, where)
                if problems:
                    raise UnusableInput(problems)
                raws.append(self._read(spec, where))
            except UnusableInput as error:
                self.problems += error.problems
                self.broken.add(spec.table)
        return raws

    def _own_sheets(self) -> list[tuple[SourceSpec, Place]]:
        """The sheets of the workbook that job.yaml names; each is the table of its name."""
        if self._job.workbook is None:
            return []
        file, where = self._job.workbook
        try:
            book = self._open(file, where)
        except UnusableInput as error:
            self.problems += error.problems
            self.broken |= set(TABLES)
            return []
        found = []
        for sheet in book.sheet_names:
            if sheet in TABLES and sheet != "job":
                found.append((SourceSpec(sheet, file, sheet, own=True), where))
            elif sheet not in (FIRST_SHEET, LISTS_SHEET):
                self.problems.append(_unknown_sheet(sheet, book))
                # Any table without a sheet may be the one that was renamed.
                self.broken |= set(TABLES) - set(book.sheet_names)
        return found

    def evidence(self, raws: Sequence[RawTable]) -> list[EvidenceFile]:
        """What was read, job.yaml first and then in the order of use."""
        found = []
        for path, data in self._data.items():
            own = [raw for raw in raws if raw.place.file == path]
            names = {raw.table for raw in own}
            tables = tuple(name for name in TABLES if name in names)
            rows = sum(raw.frame.height for raw in own)
            digest = hashlib.sha256(data).hexdigest()
            found.append(EvidenceFile(self._job.job, path, digest, len(data), tables, rows))
        return found

    def _read(self, spec: SourceSpec, where: Place) -> RawTable:
        data, label = self._bytes(spec.file, where), self._job.path_label(spec.file)
        suffix = _suffix(spec.file)
        place = Place(self._job.job, label, spec.file)
        if suffix in _XLSX:
            book = self._open(spec.file, where)
            name = book.choose(spec.sheet)
            if spec.sheet is None and len(book.sheet_names) > 1:
                self.notes.append(
                    f"{spec.table}: sheet {name} read, the first of {len(book.sheet_names)} in {spec.file}"
                )
            place = Place(self._job.job, label, spec.file, name, mapped=not spec.own)
            self._once(spec, place, where)
            if spec.own and book.blank(name):
                return RawTable(spec.table, place, pl.DataFrame(schema={"_row": pl.UInt32}), {})
            read = functools.partial(book.read, name, place, spec.heading_row, spec.date_form)
        elif suffix in _CSV:
            if spec.sheet is not None:
                raise where.refuse(None, "sheet", f'the sheet "{spec.sheet}" of a CSV file', "no sheet", "Take it out.")
            self._once(spec, place, where)
            read = functools.partial(read_csv, data, place, spec.heading_row, spec.encoding)
        else:
            todo = "Save the table as CSV or XLSX."
            raise where.refuse(None, "file", f'"{spec.file}"', "a file that ends in .csv or .xlsx", todo)
        try:
            sheet = read()
            if spec.own:
                sheet, wrong = without_examples(sheet, TABLES[spec.table], place)
                self.problems += wrong
                if wrong:
                    # Others may refer to a row that was left out.
                    self.broken.add(spec.table)
            raw, problems = map_sheet(sheet, spec, place)
        except UnusableInput:
            self._hint(spec, place, data)
            raise
        self.problems += problems
        if key_column(TABLES[spec.table]) in raw.absent:
            self.broken.add(spec.table)
        self.notes += spec.notes(place)
        if spec.encoding:
            self.notes.append(f"{spec.table}: {spec.file} read as {spec.encoding}")
        return raw

    def _bytes(self, file: str, where: Place) -> bytes:
        if file not in self._data:
            self._data[file] = file_bytes(self._job.folder, file, where)
        return self._data[file]

    def _open(self, file: str, where: Place) -> Workbook:
        """The workbook of that name, opened once."""
        if _suffix(file) not in _XLSX:
            todo = "Name a workbook with one sheet for each table, or list the file under tables."
            raise where.refuse(None, "workbook", f'"{file}"', "a file that ends in .xlsx", todo)
        if file not in self._books:
            # What unpacks workbooks is not wanted by a job of CSV files.
            from auditor.record.workbook import Workbook

            data = self._bytes(file, where)
            self._books[file] = Workbook(data, Place(self._job.job, self._job.path_label(file), file))
        return self._books[file]

    def _once(self, spec: SourceSpec, place: Place, where: Place) -> None:
        """The same rows twice in one table would count every load twice."""
        use = (spec.table, spec.file, place.sheet)
        if use in self._seen:
            found = f"{spec.file} a second time in {spec.table}"
            raise where.refuse(None, "file", found, "each source once", "Take one of the two out.")
        self._seen.add(use)

    def _hint(self, spec: SourceSpec, place: Place, data: bytes) -> None:
        """When not one heading is known, say which row looks like the headings instead."""
        if place.sheet is None:
            rows = first_rows(data, place, spec.encoding)
        else:
            rows = self._books[spec.file].first_rows(place.sheet)
        row = heading_hint(rows, spec)
        if row is not None:
            problem = place.problem(
                spec.heading_row,
                "",
                "no known heading",
                "the heading row",
                f"Row {row} looks like it: write heading_row: {row}.",
            )
            raise UnusableInput([problem])


def _own_label(job: JobFile) -> list[str]:
    return [job.path_label(job.workbook[0])] if job.workbook is not None else []


def _source_labels(job: JobFile) -> list[str]:
    files = [*(spec.file for spec, _ in job.sources), *(spec.file for spec, _ in job.maps)]
    return [job.path_label(file) for file in files]


def _suffix(file: str) -> str:
    return f".{file.rsplit('.', 1)[-1].lower()}"


def _unknown_sheet(sheet: str, book: Workbook) -> Problem:
    found, expected = f'the sheet "{sheet}"', "a sheet named like a table of the record"
    if sheet == "job":
        return book.place.problem(None, "", found, expected, "Move what it says to job.yaml and delete the sheet.")
    like = nearest(sheet.lower().replace(" ", "_"), [t for t in TABLES if t not in (*book.sheet_names, "job")], 1)
    todo = f'Name it "{like[0]}" again if it was that' if like else "Delete the sheet"
    return book.place.problem(None, "", found, expected, f"{todo}, or keep it in a file of its own.")


def _declared(jobs: Sequence[JobFile]) -> tuple[pl.DataFrame, list[Problem]]:
    rows: list[tuple[str, str, dt.date, dt.date]] = []
    problems = []
    for job in jobs:
        if job.unread:
            continue
        for said, line in job.declared:
            days: list[dt.date] = []
            for end in ("from", "until"):
                try:
                    days.append(dt.datetime.strptime(said[end].strip(), "%Y-%m-%d").date())
                except ValueError:
                    words = (f'"{said[end]}"', "a date such as 2026-03-02", "Write year-month-day.")
                    problems.append(Problem(job.label, f"line {line}", f"declared_complete.{end}", *words))
            if len(days) == 2 and days[1] < days[0]:
                words = (f"{days[1]}, before from {days[0]}", "a day not before from", "Correct one of the two.")
                problems.append(Problem(job.label, f"line {line}", "declared_complete.until", *words))
            elif len(days) == 2:
                rows.append((job.job, said["table"], days[0], days[1]))
    return pl.DataFrame(rows, schema=_DECLARED, orient="row"), problems


def _text(value: object) -> str | None:
    """A Python value as the text a user would have written."""
    match value:
        case None | str():
            return value
        case bool():
            return "yes" if value else "no"
        case float():
            finite = value - value == 0
            return format(Decimal(repr(value)), "f") if finite else str(value)
        case dt.datetime():
            return value.isoformat(" ", "seconds")
        case dt.date() | dt.time():
            return value.isoformat()
        case list() | tuple():
            return ";".join(_text(part) or "" for part in value)
        case _:
            return str(value)
