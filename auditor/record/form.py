"""The project's own workbook, as the writer makes it and the reader takes it.

One sheet for each table, named like the table. The first row holds the headings: a field in plain words with its unit,
or its name. The column "example row" holds the word "example" in the row that only shows how to fill the sheet.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import polars as pl

from auditor.record.examples import EXAMPLES
from auditor.record.raw import Place, Sheet
from auditor.vocabulary.model import Field, Table
from auditor.vocabulary.problems import Problem

FIRST_SHEET: Final = "read me first"
LISTS_SHEET: Final = "lists"
MARK_HEADING: Final = "example row"
MARK: Final = "example"
MOST_SAID: Final = 20


@dataclass(frozen=True, slots=True)
class Asked:
    """Which rules ask for a field; `by_law` names those of them whose evidence the law demands."""

    rules: tuple[str, ...] = ()
    by_law: tuple[str, ...] = ()


_UNIT_ENDINGS: Final[Mapping[str, str]] = {
    "percent": "pct", "degree": "deg", "degree F": "f", "ft2": "sqft", "in2": "sqin", "yd3": "cuyd", "ft3/s": "cfs",
    "ft2/acre": "ft2_per_ac", "lb/acre": "lb_per_ac", "trees/acre": "per_ac",
}  # fmt: skip
"""Unit -> how names end that carry it, where that is not the unit itself."""


def heading(field: Field) -> str:
    """The field in plain words with its unit: "gross weight (lb)" for gross_weight_lb, "slope (percent)" for slope_pct."""
    unit = field.unit
    if unit is None:
        return _words(field.name)
    for ending, shown in ((unit, unit), (f"{unit}s", f"{unit}s"), (_UNIT_ENDINGS.get(unit), unit)):
        if ending and field.name.endswith(f"_{ending}"):
            return f"{_words(field.name.removesuffix(f'_{ending}'))} ({shown})"
    return _words(field.name)


def fields_by_heading(table: Table) -> dict[str, str]:
    """Heading -> field name, for every field of the table."""
    return {heading(f): f.name for f in table.fields}


def typed(field: Field, text: str) -> object:
    """The text as the cell value a spreadsheet would hold; None for a blank."""
    if not text:
        return None
    match field.kind:
        case "whole":
            return int(text)
        case "number":
            return float(text)
        case "date":
            return dt.date.fromisoformat(text)
        case "time":
            return dt.time.fromisoformat(text)
        case _:
            return text


def _words(name: str) -> str:
    return name.replace("_", " ")


def without_examples(sheet: Sheet, table: Table, place: Place) -> tuple[Sheet, list[Problem]]:
    """The sheet without its example row.

    A marked row whose cells were changed, and an example row without its mark, are problems: the one may be a row of
    the user's own, the other is none.
    """
    # Every job asks for headings; only a sheet of a workbook comes here.
    from auditor.record.workbook import cell_text

    fields = fields_by_heading(table)
    names = [fields.get(h, h) for h in sheet.headings]
    said = EXAMPLES.get(table.name, {})
    shown = {f.name: cell_text(typed(f, said[f.name])) for f in table.fields if f.name in said}
    cells = [(str(i), shown.get(n, "")) for i, n in enumerate(names) if table.field(n) is not None]
    same = pl.all_horizontal([pl.lit(True), *(pl.col(i) == text for i, text in cells)])
    empty = pl.all_horizontal([pl.lit(True), *(pl.col(i) == "" for i, _ in cells)])
    kept = pl.all_horizontal([pl.lit(True), *(pl.col(i).is_in(["", text]) for i, text in cells)])
    at = sheet.headings.index(MARK_HEADING) if MARK_HEADING in sheet.headings else None
    mark = pl.lit("") if at is None else pl.col(str(at)).str.to_lowercase()
    judged = sheet.body.select(
        pl.when(mark == MARK)
        .then(pl.when(kept).then(pl.lit("drop")).otherwise(pl.lit("changed")))
        .when(mark != "")
        .then(pl.lit("other"))
        .when(same & ~empty & pl.lit(bool(shown)))
        .then(pl.lit("unmarked"))
        .otherwise(pl.lit("keep"))
        .alias("_verdict")
    ).to_series()
    if sheet.body.height == 0:
        judged = pl.Series(dtype=pl.String)
    problems = _said(sheet, judged, place)
    headings, body = list(sheet.headings), sheet.body
    if at is not None:
        # The column stays, blank, so that the others keep their numbers.
        headings[at] = ""
        body = body.with_columns(pl.lit("").alias(str(at)))
    own = judged.is_in(["keep", "other"])
    return Sheet(headings, body.filter(own), sheet.rows.filter(own), sheet.merged, sheet.sheet), problems


_VERDICTS: Final[Mapping[str, tuple[str, str, str]]] = {
    "changed": (
        "a row marked as the example with other values in it",
        "the example as it was, or a row of your own without the mark",
        f'Take the word "{MARK}" out of the first column if the row is yours, or delete the row.',
    ),
    "unmarked": (
        f'the example row without the word "{MARK}" beside it',
        "rows of your own",
        "Delete the row.",
    ),
    "other": (
        f'a text other than "{MARK}"',
        f'"{MARK}" or a blank',
        "Clear the cell; the first column only marks the example.",
    ),
}


def _said(sheet: Sheet, judged: pl.Series, place: Place) -> list[Problem]:
    problems = []
    for verdict, words in _VERDICTS.items():
        rows = sheet.rows.filter(judged == verdict)
        problems += [place.problem(row, MARK_HEADING, *words) for row in rows.head(MOST_SAID).to_list()]
        if rows.len() > MOST_SAID:
            found = f"the same in {rows.len() - MOST_SAID:,} more rows"
            problems.append(place.problem(int(rows[-1]), MARK_HEADING, found, *words[1:]))
    return problems
