"""The building blocks of the vocabulary: fields, tables, views and measures, as plain data."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

Kind = Literal["text", "class", "classes", "number", "whole", "yes_no", "date", "time"]
"""How a field is written and read.

`text` free words or a key; `class` one word of a closed list; `classes` several, separated by ";" or ",";
`number` a quantity; `whole` a count; `yes_no`; `date` a calendar day; `time` a clock time of the day (HH:MM).
"""


@dataclass(frozen=True, slots=True)
class Field:
    """One column of a table or view.

    `low` and `high` bound what is plausible, both ends included; a value outside is refused when read.
    `refers_to` names the table whose key the value must be. `rests_on` (views only) names the record
    fields to ask for when the value is blank, `also_reads` those that change it and may well be blank. `interval`
    marks a view column that comes as two columns, `<name>__lo` and `<name>__hi`; `uncertainty` names the column that
    holds its plus-or-minus. `whole_by` names the yes-or-no column that says whether a list of classes is whole, so that a
    class not listed does not hold; without one a list that is filled is whole. `defined_by` names the definition of the
    rule files that says what the value is.
    """

    name: str
    kind: Kind
    meaning: str
    unit: str | None = None
    required: bool = False
    low: float | None = None
    high: float | None = None
    classes: tuple[str, ...] = ()
    refers_to: str | None = None
    rests_on: tuple[str, ...] = ()
    also_reads: tuple[str, ...] = ()
    interval: bool = False
    uncertainty: str | None = None
    whole_by: str | None = None
    defined_by: str | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """One table of the record: what a row is, what makes it unique, which fields it may have.

    `one_of` names fields of which exactly one must be filled in each row.
    """

    name: str
    row: str
    key: tuple[str, ...]
    fields: tuple[Field, ...]
    one_of: tuple[str, ...] = ()

    def field(self, name: str) -> Field | None:
        """The field of that name, or None."""
        return next((f for f in self.fields if f.name == name), None)


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A derived table that rules may examine: rows of the record with what belongs to them and what is computed.

    `item` names the columns that identify one row for a reader; `noun` is the word for one row; `dated_by` is the
    column whose day decides which law held. `subject` is the table whose rows are counted: several rows of a view may
    belong to one load, one bank or one crossing, and its worst row is what becomes of it. `second_stage` marks a view
    that is made of the outcomes of another rule. `defined_by` names the definition that says what its rows are.
    """

    name: str
    noun: str
    meaning: str
    item: tuple[str, ...]
    fields: tuple[Field, ...]
    dated_by: str = "load_date"
    subject: str = "loads"
    second_stage: bool = False
    defined_by: str | None = None

    def field(self, name: str) -> Field | None:
        """The field of that name, or None."""
        return next((f for f in self.fields if f.name == name), None)


@dataclass(frozen=True, slots=True)
class Measure:
    """A computation that a rule file may name as a limit: its inputs are columns of the examined view."""

    name: str
    topic: str
    meaning: str
    unit: str
    inputs: tuple[str, ...]
    parameters: tuple[str, ...] = ()


def borrow(table: Table, *names: str, prefix: str = "") -> tuple[Field, ...]:
    """Fields of a record table as columns of a view; blank ones are asked for at their table."""
    fields = {f.name: f for f in table.fields}
    return tuple(
        replace(fields[n], name=prefix + n, required=False, refers_to=None, rests_on=(f"{table.name}.{n}",))
        for n in names
    )
