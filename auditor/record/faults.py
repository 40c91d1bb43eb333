"""Words for what is wrong with a value, and the summing up of one problem on many rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

import polars as pl

from auditor.record.raw import ColumnSpec, Place, RawTable
from auditor.record.units import written_forms
from auditor.vocabulary import nearest
from auditor.vocabulary.model import Field
from auditor.vocabulary.problems import Problem

MOST_ROWS: Final = 20
SHOWN_ROWS: Final = 5
Words = tuple[str, str, str]
"""Found, expected, what to do."""


def value_words(text: str, fault: str, field: Field, spec: ColumnSpec, mapped: bool = True) -> Words:
    """What to say of a text that is no value of its field; `mapped` tells whether job.yaml may translate it."""
    text = text.strip()
    shown = f'"{text if len(text) <= 60 else text[:57] + "..."}"'
    if fault == "class":
        return shown, *_class_words(text, field, mapped)
    expected, todo = _EXPECTED[fault](field, spec)
    if not mapped and fault in _MAY_BE_MAPPED:
        todo = todo.split(", or ")[0].rstrip(".") + "."
    return shown, expected, todo


def _class_words(text: str, field: Field, mapped: bool) -> tuple[str, str]:
    key = text.lower().replace(" ", "_").replace("-", "_")
    plain = {word.lower().replace("-", "_"): word for word in field.classes}
    like = nearest(key, plain)
    if len(field.classes) <= 14:
        expected = f"one of {', '.join(field.classes)}"
    else:
        expected = f"a word of the list of {field.name}, such as {field.classes[0]}"
    if field.kind == "classes":
        return expected.replace("one of", "some of", 1), 'Separate the words by ";".'
    if not mapped:
        return expected, f"Did you mean {plain[like[0]]}?" if like else "Write one of these words."
    hint = f"Did you mean {plain[like[0]]}? If not, translate" if like else "Translate"
    return expected, f"{hint} your word under values: of the source."


def _number_words(field: Field, spec: ColumnSpec) -> tuple[str, str]:
    unit = spec.unit or field.unit
    kind = "a whole number" if field.kind == "whole" and spec.unit is None else "a number"
    tail = f" in {unit}" if unit and unit != "share" else ""
    accepted = f' (also written with "{written_forms(unit)[0]}")' if unit and written_forms(unit)[0] != unit else ""
    return f"{kind}{tail}{accepted}", "Correct the value, or leave it blank if it is not known."


def _range_words(field: Field, spec: ColumnSpec) -> tuple[str, str]:
    low = "" if field.low is None else f"{field.low:,}"
    high = "" if field.high is None else f"{field.high:,}"
    span = f"{low} to {high}" if low and high else f"at least {low}" if low else f"at most {high}"
    unit = f" {field.unit}" if field.unit else ""
    todo = "Correct the value"
    return f"{span}{unit}", todo + (", or state the unit of the column." if unit else ".")


_MAY_BE_MAPPED: Final = ("range", "too_large", "yes_no", "date")
_Pair = Callable[[Field, ColumnSpec], tuple[str, str]]
_EXPECTED: Final[dict[str, _Pair]] = {
    "number": _number_words,
    "ambiguous": lambda f, s: (
        "a number with a point before its decimals, such as 1234.5",
        "Write it without commas, or with commas only between thousands.",
    ),
    "fraction": lambda f, s: ("a whole number", "Correct the value."),
    "too_large": _range_words,
    "range": _range_words,
    "yes_no": lambda f, s: ("yes or no", "Write yes or no, or translate your word under values: of the source."),
    "date": lambda f, s: (
        (f"a date of the form {s.date_form}", "Correct the date or date_form.")
        if s.date_form
        else ("a date such as 2026-03-02", "Write year-month-day, or state date_form for the source.")
    ),
    "short_year": lambda f, s: ("a year of four digits", "Write the year in full."),
    "impossible_date": lambda f, s: ("a day that exists", "Correct the date."),
    "year": lambda f, s: ("a year from 1900 to 2199", "Correct the date."),
    "time": lambda f, s: ("a time of day such as 14:30 or 2:30 PM", "Correct the time."),
    "impossible_time": lambda f, s: ("a time that exists, 00:00 to 23:59", "Correct the time."),
    "spreadsheet_error": lambda f, s: (
        "a value",
        "Mend the formula in the spreadsheet, let it calculate, and save the file again.",
    ),
}


def column_problems(raw: RawTable, field: Field, spec: ColumnSpec, faulty: pl.DataFrame) -> Iterator[Problem]:
    """Problems of one column of one source; `faulty` has the columns _row, text and fault."""
    for fault in faulty["fault"].unique(maintain_order=True):
        rows = faulty.filter(pl.col("fault") == fault)
        words = [
            value_words(text, fault, field, spec, raw.place.mapped) for text in rows["text"].head(MOST_ROWS).to_list()
        ]
        yield from folded(raw.place, field.name, rows["_row"], words)


def folded(place: Place, name: str, rows: pl.Series, words: list[Words]) -> Iterator[Problem]:
    """One problem for each row; beyond 20 rows the first 5, and one line for the rest.

    `words` holds the words of at least the first 20 rows, or one entry that serves for all.
    """
    count = rows.len()
    shown = count if count <= MOST_ROWS else SHOWN_ROWS
    for index, row in enumerate(rows.head(shown).to_list()):
        yield place.problem(row, name, *words[min(index, len(words) - 1)])
    if count > shown:
        expected = words[0][1]
        where = f"{place.at(None)}, " if place.sheet else ""
        last = f"the last is {place.word} {int(rows[-1]):,}"
        rest = f"{where}{count - shown:,} more {place.word}s ({last})"
        yield Problem(place.label, rest, name, "the same problem", expected, "Mend them like the rows named before.")
