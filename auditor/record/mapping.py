"""From a sheet with the user's headings to the text columns of a table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import polars as pl

from auditor.record.form import fields_by_heading
from auditor.record.raw import ColumnSpec, Place, RawTable, Sheet, quoted
from auditor.record.units import factor_text, units_like
from auditor.vocabulary import TABLES, nearest
from auditor.vocabulary.model import Table
from auditor.vocabulary.problems import Problem, UnusableInput

MADE_ON_READING: Final = {"loads": "load"}


@dataclass(frozen=True, slots=True)
class SourceSpec:
    """What job.yaml says of one source of a table; `own` marks a sheet of the project's own workbook."""

    table: str
    file: str = ""
    sheet: str | None = None
    heading_row: int = 1
    columns: Mapping[str, tuple[str, str | None]] = field(default_factory=dict)
    values: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    fixed: Mapping[str, str] = field(default_factory=dict)
    ignore: tuple[str, ...] = ()
    date_form: str | None = None
    encoding: str | None = None
    own: bool = False

    def column(self, name: str, unit: str | None) -> ColumnSpec:
        """How a field of this source is to be read."""
        known = TABLES[self.table].field(name)
        dates = self.date_form if known is not None and known.kind == "date" else None
        return ColumnSpec(unit, dates, tuple(self.values.get(name, {}).items()))

    def notes(self, place: Place) -> list[str]:
        """What is converted or assumed, one sentence each."""
        table = TABLES[self.table]
        said = []
        for name, unit in self.columns.values():
            known = table.field(name)
            if unit is not None and known is not None and known.unit is not None and unit != known.unit:
                rounded = ", rounded to whole numbers" if known.kind == "whole" else ""
                words = f"{unit} read as {factor_text(unit, known.unit)} in {place.file}{rounded}"
                said.append(f"{self.table}.{name}: {words}")
        said += [f'{self.table}.{n}: "{v}" for every row of {place.file}' for n, v in self.fixed.items()]
        for name, words_of in self.values.items():
            pairs = ", ".join(f'"{word}" as {ours or "blank"}' for word, ours in words_of.items())
            said.append(f"{self.table}.{name}: read {pairs} in {place.file}")
        if self.date_form:
            said.append(f"{self.table}: dates read as {self.date_form} in {place.file}")
        if self.ignore:
            said.append(f"{self.table}: {quoted(self.ignore, 50)} left out of {place.file}")
        return said


def key_column(table: Table) -> str:
    """The field that others refer to, or the one it is made from."""
    return "ticket_number" if table.key[0] == MADE_ON_READING.get(table.name) else table.key[0]


def known_fields(table: Table) -> list[str]:
    """The fields a source may fill in: all but the one made on reading."""
    return [f.name for f in table.fields if f.name != MADE_ON_READING.get(table.name)]


def map_sheet(sheet: Sheet, spec: SourceSpec, place: Place) -> tuple[RawTable, list[Problem]]:
    """Give the columns of a sheet the names of our fields. A heading may be a field's name or its heading in words.

    The problems are those of the headings; the table still holds every column that could be told.
    Raises UnusableInput when not one heading can be told.
    """
    table = TABLES[spec.table]
    known = known_fields(table)
    in_words = fields_by_heading(table)
    problems = _heading_problems(sheet, spec, place)
    meant: set[str] = set()
    positions: dict[str, int] = {}
    for index, heading in enumerate(sheet.headings):
        if heading:
            positions.setdefault(heading, index)
    columns = {" ".join(h.split()): target for h, target in spec.columns.items()}
    chosen: dict[str, tuple[int, str | None]] = {}
    ignored = {" ".join(h.split()) for h in spec.ignore}
    for heading, index in positions.items():
        if heading in ignored and heading not in columns:
            continue
        name, unit = columns.get(heading, (in_words.get(heading, heading), None))
        if name not in known:
            problem, field_meant = _unknown(place, spec, heading, table, known)
            problems.append(problem)
            meant.add(field_meant)
        elif name in chosen or name in spec.fixed:
            found = f'"{heading}" for a field that has a value already'
            problems.append(place.problem(spec.heading_row, name, found, "one source for each field", "Keep one."))
        else:
            chosen[name] = (index, unit)
    for heading in columns:
        if heading not in positions:
            like = nearest(heading, positions)
            todo = f'Did you mean "{like[0]}"?' if like else f"The headings are: {quoted(list(positions))}."
            found = f'no heading "{heading}"'
            problems.append(place.problem(spec.heading_row, "", found, "the headings named under columns", todo))
    if not chosen and positions:
        raise UnusableInput(problems)
    absent = _absent(table, {*chosen, *spec.fixed})
    for missing in (name for name in absent if name not in meant):
        todo = "Add the column, map it under columns, or give it once under fixed."
        if spec.own:
            todo = f'Put the column "{_shown(table, missing)}" back.'
        problems.append(place.problem(spec.heading_row, missing, "no such column", "a required field", todo))
    columns_of = sheet.body.get_columns()
    frame = pl.DataFrame(
        [columns_of[index].alias(name) for name, (index, _) in chosen.items()]
        + [
            pl.Series(name, [said], dtype=pl.String).new_from_index(0, sheet.rows.len())
            for name, said in spec.fixed.items()
        ]
        + [sheet.rows.alias("_row")]
    )
    specs = {name: spec.column(name, unit) for name, (_, unit) in chosen.items()}
    specs |= {name: spec.column(name, None) for name in spec.fixed}
    return RawTable(table.name, place, frame, specs, frozenset(absent)), problems


def _absent(table: Table, present: set[str]) -> list[str]:
    lacking = [f.name for f in table.fields if f.required and f.name not in present]
    if table.one_of and not present.intersection(table.one_of):
        lacking.append(" or ".join(table.one_of))
    return lacking


def _heading_problems(sheet: Sheet, spec: SourceSpec, place: Place) -> list[Problem]:
    problems = []
    row = spec.heading_row
    for heading, count in Counter(h for h in sheet.headings if h).items():
        if count > 1:
            found, todo = f'the heading "{heading}" {count} times', "Give every column a heading of its own."
            problems.append(place.problem(row, "", found, "each heading once", todo))
    for index, heading in enumerate(sheet.headings):
        if heading or not (sheet.body.to_series(index) != "").any():
            continue
        if index in sheet.merged:
            found, todo = "a heading cell merged over several columns", "Split it and name each column."
        else:
            found, todo = "a column of data without a heading", "Write a heading above it."
        problems.append(place.problem(row, f"column {index + 1}", found, "a heading over each column", todo))
    return problems


def _unknown(place: Place, spec: SourceSpec, heading: str, table: Table, known: list[str]) -> tuple[Problem, str]:
    """The problem of an unknown heading, and the field it most likely means (blank for none)."""
    found, expected = f'the heading "{heading}"', f"a field of {table.name}"
    if heading == MADE_ON_READING.get(table.name):
        todo = "Leave it out; it is made from the ticket number."
        return place.problem(spec.heading_row, heading, found, expected, todo), ""
    like = nearest(heading.lower().replace(" ", "_"), known, 1)
    if spec.own:
        hint = f'Write "{_shown(table, like[0])}" again if it was that' if like else "Write the heading it had"
        todo = f"{hint}, or take the column out."
    else:
        hint = f"Did you mean {like[0]}? If so, map it" if like else "Map it"
        todo = f"{hint} under columns, or name it under ignore."
    return place.problem(spec.heading_row, "", found, expected, todo), like[0] if like else ""


def _shown(table: Table, name: str) -> str:
    """A field as the headings of the workbook show it; other text as it is."""
    return next((words for words, field in fields_by_heading(table).items() if field == name), name)


def heading_hint(rows: Sequence[Sequence[str]], spec: SourceSpec) -> int | None:
    """The row that looks most like the headings when the one named does not; None when none does."""
    table = TABLES[spec.table]
    words = {" ".join(h.split()) for h in spec.columns} | set(known_fields(table)) | set(fields_by_heading(table))
    hits = [sum(" ".join(cell.split()) in words for cell in row) for row in rows]
    best = max(hits, default=0)
    if best == 0 or any(hits[spec.heading_row - 1 : spec.heading_row]):
        return None
    return hits.index(best) + 1


def spec_problems(spec: SourceSpec, where: Place) -> list[Problem]:
    """What is wrong with the description itself: units that do not fit, dates without a full year."""
    table = TABLES[spec.table]
    problems = []
    for heading, (name, unit) in spec.columns.items():
        known = table.field(name)
        if unit is None or known is None or unit in units_like(known.unit):
            continue
        units = units_like(known.unit)
        if not units:
            expected, todo = f"no unit, because {name} has none", "Take the unit out."
        else:
            like = nearest(unit, units)
            expected = f"one of {', '.join(units)}"
            todo = f"Did you mean {like[0]}?" if like else "Name one of these units."
        problems.append(where.problem(None, heading, f'the unit "{unit}"', expected, todo))
    targets = Counter(name for name, _ in spec.columns.values())
    problems += [
        where.problem(None, name, f"{count} headings for one field", "one heading for each field", "Keep one.")
        for name, count in targets.items()
        if count > 1
    ]
    form = spec.date_form
    if form is not None:
        parts = {form[i + 1 : i + 2] for i, c in enumerate(form) if c == "%"}
        if "y" in parts:
            todo = "Export the dates with four-digit years and write %Y."
            problems.append(where.problem(None, "date_form", f'"{form}"', "years of four digits", todo))
        elif not ({"Y", "d"} <= parts and parts & {"m", "b", "B"}) or parts - set("YmdbBHIMSp"):
            todo = "Use %Y, %m, %d, %b, %B and for a time of day %H, %I, %M, %S, %p."
            problems.append(where.problem(None, "date_form", f'"{form}"', "a form such as %m/%d/%Y", todo))
    return problems
