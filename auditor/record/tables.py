"""From text columns of many sources to one typed frame for each table of the vocabulary."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from auditor.record.convert import convert_all, dtype
from auditor.record.faults import column_problems, folded
from auditor.record.mapping import MADE_ON_READING
from auditor.record.raw import ColumnSpec, RawTable
from auditor.vocabulary import TABLES
from auditor.vocabulary.model import Field, Table
from auditor.vocabulary.problems import Problem

SOURCE, ROW = "_source", "_row"


def build_tables(raws: Sequence[RawTable]) -> tuple[dict[str, pl.DataFrame], list[Problem], list[str]]:
    """Type every column of every source: one frame for each table, the problems, and what was assumed.

    The frames still have the column `_source`, the position of the row's source in `raws`. Sources read in the
    same way are converted together, so three thousand small jobs cost little more than one large one.
    """
    frames, problems, notes = {}, [], []
    for table in TABLES.values():
        groups: dict[tuple[tuple[str, ColumnSpec], ...], list[int]] = {}
        for index, raw in enumerate(raws):
            if raw.table == table.name:
                groups.setdefault(tuple(sorted(raw.specs.items(), key=lambda item: item[0])), []).append(index)
        typed = []
        for members in groups.values():
            frame, wrong, said = _convert_group(table, raws, members)
            typed.append(frame)
            problems += wrong
            notes += said
        whole = pl.concat(typed) if typed else _finish(table, pl.DataFrame(schema=_plain_schema()), {})
        if len(typed) > 1:
            whole = whole.sort(SOURCE, maintain_order=True)
        frames[table.name] = _with_job(whole, raws)
    frames["loads"], said = _load_keys(frames["loads"], raws)
    return frames, problems, notes + said


def with_provenance(frame: pl.DataFrame, raws: Sequence[RawTable]) -> pl.DataFrame:
    """Replace `_source` by the columns `_file` and `_sheet`."""
    files = pl.Series("_file", [raw.place.file for raw in raws], dtype=pl.String)
    sheets = pl.Series("_sheet", [raw.place.sheet for raw in raws], dtype=pl.String)
    source = frame[SOURCE]
    return frame.with_columns(_file=files.gather(source), _sheet=sheets.gather(source)).select(
        pl.exclude(SOURCE, "_file", "_sheet", ROW), "_file", "_sheet", ROW
    )


def _plain_schema() -> dict[str, type[pl.DataType]]:
    return {ROW: pl.UInt32, SOURCE: pl.UInt32}


def _with_job(frame: pl.DataFrame, raws: Sequence[RawTable]) -> pl.DataFrame:
    jobs = pl.Series("job", [raw.place.job for raw in raws], dtype=pl.String)
    return frame.select(jobs.gather(frame[SOURCE]), pl.exclude("job"))


def _finish(table: Table, frame: pl.DataFrame, typed: dict[str, pl.Series]) -> pl.DataFrame:
    columns = [
        typed[f.name].alias(f.name) if f.name in typed else pl.lit(None, dtype=dtype(f)).alias(f.name)
        for f in table.fields
    ]
    return frame.select(*columns, ROW, SOURCE)


def _convert_group(
    table: Table, raws: Sequence[RawTable], members: list[int]
) -> tuple[pl.DataFrame, list[Problem], list[str]]:
    """Convert the rows of sources that are read in the same way."""
    names = list(raws[members[0]].specs)
    heights = [raws[i].frame.height for i in members]
    frame = pl.concat([raws[i].frame.select(*names, ROW) for i in members])
    sources = pl.Series(SOURCE, members, dtype=pl.UInt32)
    frame = frame.with_columns(sources.gather(_repeated(heights)))
    typed: dict[str, pl.Series] = {}
    problems: list[Problem] = []
    notes: list[str] = []
    specs = raws[members[0]].specs
    asked = [(frame[field.name], field, specs[field.name]) for field in table.fields if field.name in specs]
    for (_, field, spec), result in zip(asked, convert_all(asked), strict=True):
        typed[field.name] = result.values
        faulty, unfilled = result.fault.is_not_null().any(), field.required and result.blank.any()
        if faulty or unfilled:
            where = frame.select(SOURCE, ROW, text=pl.col(field.name), fault=result.fault, blank=result.blank)
            problems += _faults(raws, field, spec, where) if faulty else []
            problems += _blanks(raws, field, where) if unfilled else []
        if result.time_dropped:
            times = f"{result.time_dropped:,} dates came with a time of day, which was left out"
            notes.append(f"{table.name}.{field.name}: {times}")
    return _finish(table, frame, typed), problems, notes


def _repeated(heights: list[int]) -> pl.Series:
    index = pl.DataFrame({"i": range(len(heights)), "n": heights}, schema={"i": pl.UInt32, "n": pl.UInt32})
    return index.select(pl.col("i").repeat_by("n")).filter(pl.col("i").list.len() > 0).explode("i").to_series()


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


def _load_keys(loads: pl.DataFrame, raws: Sequence[RawTable]) -> tuple[pl.DataFrame, list[str]]:
    """Make the key of each load: its ticket number, with "#2", "#3" for one seen before in the job."""
    key = MADE_ON_READING["loads"]
    ticket = pl.col("ticket_number")
    repeated = pl.struct("job", ticket).is_duplicated() & ticket.is_not_null()
    loads = loads.with_columns(_repeated=repeated)
    if not loads["_repeated"].any():
        return loads.drop("_repeated").with_columns(ticket.alias(key)), []
    nth = pl.int_range(1, pl.len() + 1).over("job", "ticket_number")
    twice = loads.filter("_repeated").group_by("job", maintain_order=True).agg(ticket.n_unique().alias("n"))
    marked = pl.when(pl.col("_repeated") & (nth > 1)).then(pl.format("{}#{}", ticket, nth)).otherwise(ticket)
    loads = loads.with_columns(marked.alias(key)).drop("_repeated")
    return loads, [
        f'loads.load: {n:,} ticket numbers occur more than once in job {job}; told apart by "#2", "#3"'
        for job, n in twice.iter_rows()
    ]


__all__ = ["ROW", "SOURCE", "build_tables", "with_provenance"]
