"""From text columns of many sources to one typed frame for each table of the vocabulary."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache

import numpy as np
import polars as pl

from auditor.record.convert import Converted, blank_column, convert_all
from auditor.record.faults import column_problems, folded
from auditor.record.mapping import MADE_ON_READING
from auditor.record.raw import ColumnSpec, RawTable
from auditor.vocabulary import TABLES
from auditor.vocabulary.model import Field, Table
from auditor.vocabulary.problems import Problem

SOURCE, ROW = "_source", "_row"


def build_tables(raws: Sequence[RawTable]) -> tuple[dict[str, pl.DataFrame], list[Problem], list[str]]:
    """Type every column of every source: one frame for each table, the problems, and what was assumed.

    The frames with rows still have the column `_source`, the position of the row's source in `raws`. Sources read in the
    same way are converted together, so three thousand small jobs cost little more than one large one.
    """
    groups: dict[tuple[str, tuple[tuple[str, ColumnSpec], ...]], list[int]] = {}
    for index, raw in enumerate(raws):
        specs = tuple(sorted(raw.specs.items(), key=lambda item: item[0]))
        groups.setdefault((raw.table, specs), []).append(index)
    alike: dict[str, list[_Group]] = {}
    for (name, _), members in groups.items():
        alike.setdefault(name, []).append(_Group(TABLES[name], raws, members))
    in_order = [group for name in TABLES for group in alike.get(name, [])]
    converted = iter(convert_all([column for group in in_order for column in group.asked]))
    problems: list[Problem] = []
    notes: list[str] = []
    typed: dict[str, list[pl.DataFrame]] = {}
    for group in in_order:
        frame, wrong, said = group.typed(raws, converted)
        typed.setdefault(group.table.name, []).append(frame)
        problems += wrong
        notes += said
    jobs = pl.Series("job", [raw.place.job for raw in raws], dtype=pl.String)
    frames = {name: _whole(name, typed.get(name, []), jobs) for name in TABLES}
    frames["loads"], said = _load_keys(frames["loads"])
    return frames, problems, notes + said


def with_provenance(frame: pl.DataFrame, raws: Sequence[RawTable]) -> pl.DataFrame:
    """Replace `_source` by the columns `_file` and `_sheet`; a table without rows has them already."""
    if frame.height == 0:
        return frame
    source = frame[SOURCE]
    files = pl.Series("_file", [raw.place.file for raw in raws], dtype=pl.String)[source]
    sheets = pl.Series("_sheet", [raw.place.sheet for raw in raws], dtype=pl.String)[source]
    return frame.drop(SOURCE, ROW).hstack([files, sheets, frame[ROW]])


@cache
def _empty(name: str) -> pl.DataFrame:
    """A table without rows, finished: most tables of most jobs."""
    text = pl.Series(dtype=pl.String)
    fields = [blank_column(f, 0) for f in TABLES[name].fields if f.name != "job"]
    rows = pl.Series(ROW, dtype=pl.UInt32)
    return pl.DataFrame([text.alias("job"), *fields, text.alias("_file"), text.alias("_sheet"), rows])


def _whole(name: str, typed: list[pl.DataFrame], jobs: pl.Series) -> pl.DataFrame:
    """The table of all its groups, in the order of the sources, with the job of each row."""
    if not any(frame.height for frame in typed):
        return _empty(name).clone()
    whole = pl.concat(typed).sort(SOURCE, maintain_order=True) if len(typed) > 1 else typed[0]
    return pl.DataFrame([jobs[whole[SOURCE]], *(column for column in whole.get_columns() if column.name != "job")])


class _Group:
    """The rows of sources of one table that are read in the same way."""

    def __init__(self, table: Table, raws: Sequence[RawTable], members: list[int]) -> None:
        first = raws[members[0]]
        names = [*first.specs, ROW]
        self.table = table
        self._texts = pl.concat([raws[i].frame[names] for i in members]) if len(members) > 1 else first.frame
        owners = np.repeat(members, [raws[i].frame.height for i in members])
        self._sources = pl.Series(SOURCE, owners.tolist(), dtype=pl.UInt32)
        self.asked = [(self._texts[f.name], f, first.specs[f.name]) for f in table.fields if f.name in first.specs]

    def typed(
        self, raws: Sequence[RawTable], converted: Iterator[Converted]
    ) -> tuple[pl.DataFrame, list[Problem], list[str]]:
        """The typed frame, taking one of `converted` for each column asked, with the problems and the notes."""
        problems: list[Problem] = []
        notes: list[str] = []
        values: dict[str, pl.Series] = {}
        for texts, field, spec in self.asked:
            result = next(converted)
            values[field.name] = result.values
            unfilled = field.required and result.blank.any()
            if result.faulty or unfilled:
                where = pl.DataFrame(
                    [
                        self._sources,
                        self._texts[ROW],
                        texts.alias("text"),
                        result.fault.alias("fault"),
                        result.blank.alias("blank"),
                    ]
                )
                problems += _faults(raws, field, spec, where) if result.faulty else []
                problems += _blanks(raws, field, where) if unfilled else []
            if result.time_dropped:
                times = f"{result.time_dropped:,} dates came with a time of day, which was left out"
                notes.append(f"{self.table.name}.{field.name}: {times}")
        return self._finished(values), problems, notes

    def _finished(self, values: dict[str, pl.Series]) -> pl.DataFrame:
        """One column for each field of the table, before the place of each row."""
        height = self._sources.len()
        columns = [
            values[f.name].alias(f.name) if f.name in values else blank_column(f, height) for f in self.table.fields
        ]
        return pl.DataFrame([*columns, self._texts[ROW], self._sources])


def _faults(raws: Sequence[RawTable], field: Field, spec: ColumnSpec, where: pl.DataFrame) -> list[Problem]:
    problems: list[Problem] = []
    faulty = where.filter(pl.col("fault").is_not_null())
    for (source,), rows in faulty.group_by(SOURCE, maintain_order=True):
        problems += column_problems(raws[_index(source)], field, spec, rows)
    return problems


def _blanks(raws: Sequence[RawTable], field: Field, where: pl.DataFrame) -> list[Problem]:
    problems: list[Problem] = []
    words = [("a blank", f"{field.meaning} (a required field)", "Fill it in.")]
    for (source,), rows in where.filter("blank").group_by(SOURCE, maintain_order=True):
        raw = raws[_index(source)]
        if field.name not in raw.absent:
            problems += folded(raw.place, field.name, rows[ROW], words)
    return problems


def _index(value: object) -> int:
    return int(str(value))


def _load_keys(loads: pl.DataFrame) -> tuple[pl.DataFrame, list[str]]:
    """Make the key of each load: its ticket number, with "#2", "#3" for one seen before in the job."""
    key = MADE_ON_READING["loads"]
    numbers = loads["ticket_number"]
    if loads.height == 0:
        return loads, []
    loads = loads.with_columns(numbers.alias(key))
    repeated = loads[["job", "ticket_number"]].is_duplicated() & numbers.is_not_null()
    if not repeated.any():
        return loads, []
    ticket = pl.col("ticket_number")
    nth = pl.int_range(1, pl.len() + 1).over("job", "ticket_number")
    twice = loads.filter(repeated).group_by("job", maintain_order=True).agg(ticket.n_unique().alias("n"))
    marked = pl.when(repeated & (nth > 1)).then(pl.format("{}#{}", ticket, nth)).otherwise(ticket)
    return loads.with_columns(marked.alias(key)), [
        f'loads.load: {n:,} ticket numbers occur more than once in job {job}; told apart by "#2", "#3"'
        for job, n in twice.iter_rows()
    ]


__all__ = ["ROW", "SOURCE", "build_tables", "with_provenance"]
