"""Which of the fields that a blank column rests on may be to blame: those that are filled in all rows are not."""

from __future__ import annotations

from collections.abc import Callable, Collection

import polars as pl

from auditor.vocabulary import TABLES, subject_key

Rows = tuple[pl.DataFrame, bool]
"""Rows of a table that belong to some subjects, and whether each of these has one; where one has none its fields are blank."""

_LISTED = "_listed"
"""The end of the names of fields that say whether a list is whole."""
_OWN_OR_USUAL = ("stacks", "tiedowns", "markings")


class Blame:
    """Narrows facts of one job. `tables` gives the rows of the job in the table of that name."""

    def __init__(self, tables: Callable[[str], pl.DataFrame]) -> None:
        self._tables = tables

    def narrowed(self, fact: str, subject_table: str, subjects: Collection[str]) -> str:
        """The fields of a fact that are blank somewhere, or a list that is not whole, in the rows of these subjects of a table.

        If none is, those blank somewhere in the job; if none is there either, all of them: the blank comes from elsewhere.
        """
        fields = fact.split(", ")
        if len(fields) == 1:
            return fact
        own = self._own(subject_table, subjects)
        of_subjects = {t: self._related(own, subject_table, t) or self._whole(t) for t in _tables_of(fields)}
        of_job = {t: self._whole(t) for t in of_subjects}
        kept = next((k for rows in (of_subjects, of_job) if (k := [f for f in fields if _is_blank(f, rows)])), fields)
        return ", ".join(kept)

    def _own(self, table: str, subjects: Collection[str]) -> pl.DataFrame:
        rows, key = self._tables(table), subject_key(table)
        if len(subjects) >= rows.height:
            return rows
        named = pl.DataFrame({key: list(subjects)}, schema={key: pl.String})
        return rows.join(named, on=key, how="semi", maintain_order="left")

    def _whole(self, table: str) -> Rows:
        rows = self._tables(table)
        return rows, rows.height > 0

    def _related(self, rows: pl.DataFrame, table: str, target: str) -> Rows | None:
        """The rows of another table that belong to these; None where the vocabulary does not lead from one to the other."""
        if target == table:
            return rows, rows.height > 0
        if "job" in (table, target) or self._tables(target).is_empty():
            return self._whole(target)
        if target in _OWN_OR_USUAL and table == "loads":
            return _own_or_usual(self._tables(target), rows)
        columns = _link(table, target)
        if columns:
            return _joined(rows, self._tables(target), *columns)
        return self._by_way_of(rows, table, target)

    def _by_way_of(self, rows: pl.DataFrame, table: str, target: str) -> Rows | None:
        """The same over one table between: from a container over its bank to the stream, from a bank over its plots to their trees."""
        for between in TABLES:
            up = _refers(table, between) and _refers(between, target)
            down = _refers(between, table) and _refers(target, between)
            if up or down:
                near, all_near = _joined(rows, self._tables(between), *_link(table, between))
                far, all_far = _joined(near, self._tables(target), *_link(between, target))
                return far, all_near and all_far
        return None


def _tables_of(fields: Collection[str]) -> list[str]:
    return list(dict.fromkeys(f.partition(".")[0] for f in fields))


def _is_blank(field: str, rows: dict[str, Rows]) -> bool:
    table, _, name = field.partition(".")
    found, each = rows[table]
    blank = found[name].is_null()
    if name.endswith(_LISTED):
        # A list that is said not to be whole leaves as much open as one of which nothing is said.
        blank = blank | found[name].eq_missing(False)
    return not each or blank.any()  # nulls: is_null and eq_missing have none


def _refers(table: str, to: str) -> str | None:
    """The field of a table that names a row of another."""
    return next((f.name for f in TABLES[table].fields if f.refers_to == to), None)


def _link(table: str, target: str) -> list[tuple[str, str]]:
    """The pairs of columns, of the table and of the target, that bring their rows together; none where nothing does."""
    child, parent = _refers(target, table), _refers(table, target)
    if child is not None:
        return [(subject_key(table), child)]
    if parent is not None:
        return [(parent, subject_key(target))]
    own = {f.name: f.refers_to for f in TABLES[table].fields if f.refers_to is not None}
    fields = {f.name: f.refers_to for f in TABLES[target].fields}
    return [(k, k) for k in TABLES[target].key if k in own and own[k] == fields[k]]


def _own_or_usual(target: pl.DataFrame, loads: pl.DataFrame) -> Rows:
    """The rows of these loads, and for those that have none the usual rows of their trucks."""
    own = target["load"].is_in(loads["load"].implode())
    trucks = loads["truck"].filter(~loads["load"].is_in(target["load"].implode()))
    usual = target["load"].is_null() & target["truck"].is_in(trucks.implode())
    each = trucks.is_in(target["truck"].filter(usual).implode())
    return target.filter(own.fill_null(False) | usual.fill_null(False)), each.all(ignore_nulls=False) is True


def _joined(rows: pl.DataFrame, target: pl.DataFrame, *columns: tuple[str, str]) -> Rows:
    left, right = [a for a, _ in columns], [b for _, b in columns]
    keys = rows.select(left).unique()
    found = target.join(keys, left_on=right, right_on=left, how="semi", nulls_equal=True)
    missed = keys.join(target, left_on=left, right_on=right, how="anti", nulls_equal=True)
    return found, missed.is_empty() and rows.height > 0
