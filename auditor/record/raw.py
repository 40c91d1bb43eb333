"""What the readers hand on: tables of text with the place each row came from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import polars as pl

from auditor.vocabulary.problems import Problem, UnusableInput


@dataclass(frozen=True, slots=True)
class EvidenceFile:
    """One file that was read: its path inside the job folder, its digest, and what it gave."""

    job: str
    path: str
    sha256: str
    size_bytes: int
    tables: tuple[str, ...]
    row_count: int


@dataclass(frozen=True, slots=True)
class ColumnSpec:
    """How the text of one field is to be read: the unit it was written in and the user's words for our values."""

    unit: str | None = None
    date_form: str | None = None
    words: tuple[tuple[str, str], ...] = ()


PLAIN = ColumnSpec()


@dataclass(frozen=True, slots=True)
class Place:
    """Where rows come from. `label` is the file as messages name it, `file` the path inside the job folder.

    `word` is what its owner calls a row ("row" or "line"); `row` is the row meant when none is named; `line_of` gives a
    better place for one field of a row. `mapped` tells whether job.yaml may translate its headings, words and units.
    `sheet_word` is what the owner calls a part of the file ("sheet" or "layer").
    """

    job: str
    label: str
    file: str
    sheet: str | None = None
    word: str = "row"
    row: int | None = None
    line_of: Callable[[int, str], int] | None = field(default=None, compare=False)
    mapped: bool = True
    sheet_word: str = "sheet"

    def at(self, row: int | None, name: str = "") -> str:
        """The place in words, such as "sheet Tickets, row 9"."""
        parts = [f"{self.sheet_word} {self.sheet}"] if self.sheet else []
        row = self.row if row is None else row
        if row is not None:
            number = self.line_of(row, name) if self.line_of else row
            parts.append(f"{self.word} {number:,}")
        return ", ".join(parts)

    def problem(self, row: int | None, name: str, found: str, expected: str, todo: str) -> Problem:
        """A problem at this place."""
        return Problem(self.label, self.at(row, name), name, found, expected, todo)

    def refuse(self, row: int | None, name: str, found: str, expected: str, todo: str) -> UnusableInput:
        """The exception for one problem at this place."""
        return UnusableInput([self.problem(row, name, found, expected, todo)])


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table as it stands in a file: headings by column and the rows below, all as text.

    `body` has the columns "0", "1" ... and `rows` the number of each row as its owner sees it.
    `merged` names the columns (by position) whose heading is a cell merged over several columns.
    """

    headings: list[str]
    body: pl.DataFrame
    rows: pl.Series
    merged: frozenset[int] = frozenset()
    sheet: str | None = None


@dataclass(frozen=True, slots=True)
class RawTable:
    """Rows of one table from one source: a text column for each field that the source has.

    `frame` has a text column for every field named in `specs`, and `_row`. `absent` names required fields the
    source lacks: they were reported once and are not reported again for every row.
    """

    table: str
    place: Place
    frame: pl.DataFrame
    specs: dict[str, ColumnSpec]
    absent: frozenset[str] = frozenset()


def quoted(words: list[str] | tuple[str, ...], most: int = 8) -> str:
    """Words for a message: "a", "b" and 3 more."""
    shown = ", ".join(f'"{w}"' for w in words[:most])
    return shown if len(words) <= most else f"{shown} and {len(words) - most} more"
