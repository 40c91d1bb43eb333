"""Reads job.yaml: what it says of the job, and where its tables and maps are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import polars as pl

from auditor.record.map_source import MapSpec, map_spec
from auditor.record.mapping import SourceSpec, known_fields
from auditor.record.raw import PLAIN, Place, RawTable
from auditor.record.schema import structure_problems
from auditor.record.sources import file_bytes
from auditor.vocabulary import TABLES, nearest
from auditor.vocabulary.problems import Problem, UnusableInput
from auditor.vocabulary.yaml_text import Lines, load_yaml_text

JOB_FILE: Final = "job.yaml"
_OTHER_KEYS: Final = ("workbook", "tables", "maps", "declared_complete", "criteria")


@dataclass(slots=True)
class JobFile:
    """A job.yaml as read: its own rows as text tables and the sources that are still to be opened."""

    job: str
    folder: Path
    label: str
    data: bytes = b""
    inline: list[RawTable] = field(default_factory=list)
    sources: list[tuple[SourceSpec, Place]] = field(default_factory=list)
    workbook: tuple[str, Place] | None = None
    maps: list[tuple[MapSpec, Place]] = field(default_factory=list)
    declared: list[tuple[dict[str, str], int]] = field(default_factory=list)
    criteria: tuple[str, ...] = ()
    problems: list[Problem] = field(default_factory=list)
    unread: bool = False

    def path_label(self, file: str) -> str:
        """A file of the job as messages name it."""
        return (self.folder / file).as_posix()


def read_job_file(folder: Path) -> JobFile:
    """Read the job.yaml of a folder. Problems are kept in the result, which then may lack what was refused."""
    label = (folder / JOB_FILE).as_posix()
    result = JobFile(folder.name, folder, label)
    here = Place(folder.name, label, JOB_FILE, word="line")
    try:
        if not folder.is_dir():
            raise UnusableInput(
                [Problem(folder.as_posix(), "", "", "no such folder", "a job folder", "Check the path.")]
            )
        if not (folder / JOB_FILE).is_file():
            todo = "Write a job.yaml that names the job, its state and its tables."
            raise UnusableInput(
                [Problem(folder.as_posix(), "", "", "no job.yaml", "a job folder with a job.yaml", todo)]
            )
        result.data = file_bytes(folder, JOB_FILE, here)
        job, lines = load_yaml_text(result.data, label)
    except UnusableInput as error:
        result.problems += error.problems
        result.unread = True
        return result
    result.problems += structure_problems(job, label, lines)
    if result.problems or not isinstance(job, dict):
        code = job.get("job") if isinstance(job, dict) else None
        result.job = code if isinstance(code, str) and code else folder.name
        result.unread = True
        return result
    _fill(result, job, lines)
    return result


def _fill(result: JobFile, job: dict[str, Any], lines: Lines) -> None:
    result.job = job["job"].strip()
    scalars = {name: value for name, value in job.items() if name not in _OTHER_KEYS}

    def line_of(row: int, name: str) -> int:
        return lines.at(name) if name else row

    place = Place(result.job, result.label, JOB_FILE, None, "line", line_of=line_of, mapped=False)
    result.inline.append(_text_table("job", place, [scalars], [lines.at("job")]))
    if "workbook" in job:
        where = Place(result.job, result.label, JOB_FILE, None, "line", lines.at("workbook"))
        result.workbook = (job["workbook"], where)
    for table, said in (job.get("tables") or {}).items():
        sources = said if isinstance(said, list) else [said]
        for index, source in enumerate(sources):
            path = ("tables", table, index) if isinstance(said, list) else ("tables", table)
            if isinstance(source, dict) and "rows" in source:
                _add_rows(result, table, source["rows"], (*path, "rows"), lines)
            else:
                where = Place(result.job, result.label, JOB_FILE, None, "line", lines.at(*path))
                result.sources.append((source_spec(table, source), where))
    for index, said in enumerate(job.get("maps") or []):
        where = Place(result.job, result.label, JOB_FILE, None, "line", lines.at("maps", index))
        result.maps.append((map_spec(said), where))
    for index, declared in enumerate(job.get("declared_complete") or []):
        result.declared.append((declared, lines.at("declared_complete", index)))
    result.criteria = tuple(job.get("criteria") or ())


def _add_rows(
    result: JobFile, table: str, rows: list[dict[str, Any]], path: tuple[str | int, ...], lines: Lines
) -> None:
    numbers = [lines.at(*path, i) for i in range(len(rows))]
    index_of = {line: i for i, line in enumerate(numbers)}

    def line_of(row: int, name: str) -> int:
        return lines.at(*path, index_of[row], name) if row in index_of else row

    place = Place(result.job, result.label, JOB_FILE, None, "line", line_of=line_of, mapped=False)
    result.inline.append(_text_table(table, place, rows, numbers))


def source_spec(table: str, said: str | dict[str, Any]) -> SourceSpec:
    """What job.yaml says of a source, its structure known to be right."""
    if isinstance(said, str):
        return SourceSpec(table, said)
    columns: dict[str, tuple[str, str | None]] = {}
    for heading, target in said.get("columns", {}).items():
        columns[heading] = (target, None) if isinstance(target, str) else (target["field"], target.get("unit"))
    return SourceSpec(
        table,
        said["file"],
        said.get("sheet") or None,
        int(said.get("heading_row", "1")),
        columns,
        said.get("values", {}),
        said.get("fixed", {}),
        tuple(said.get("ignore", ())),
        said.get("date_form") or None,
        said.get("encoding") or None,
    )


def _text_table(table: str, place: Place, rows: Sequence[Mapping[str, Any]], numbers: Sequence[int]) -> RawTable:
    """Rows of text as a table; a list of words is joined by ";"."""
    present = {name for row in rows for name in row}
    names = [f for f in ([*known_fields(TABLES[table])]) if f in present]
    columns = {n: [_joined(row.get(n)) for row in rows] for n in names}
    # A required field that no row has is missing in each row, so its column is there and blank.
    columns |= {f.name: [None] * len(rows) for f in TABLES[table].fields if f.required and f.name not in present}
    frame = pl.DataFrame(columns, schema=dict.fromkeys(columns, pl.String))
    frame = frame.with_columns(pl.Series("_row", numbers, dtype=pl.UInt32))
    return RawTable(table, place, frame, dict.fromkeys(columns, PLAIN))


def _joined(value: Any) -> str | None:
    return ";".join(value) if isinstance(value, list) else value


def text_rows(
    table: str, place: Place, rows: Sequence[Mapping[str, str | None]], numbers: Sequence[int]
) -> tuple[RawTable, list[Problem]]:
    """Rows given as text under our field names; unknown fields are problems."""
    known = known_fields(TABLES[table])
    problems = []
    for row, number in zip(rows, numbers, strict=True):
        for name in row:
            if name not in known:
                like = nearest(name, known)
                todo = f"Did you mean {like[0]}?" if like else f"See the fields of {table}."
                problems.append(place.problem(number, "", f'the field "{name}"', f"a field of {table}", todo))
    return _text_table(table, place, rows, numbers), problems
