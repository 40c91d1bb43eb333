"""Reads a sheet of an XLSX workbook as text, and makes visible what a plain reading would pass over.

An error cell (#REF!) and a formula whose value was never stored would both be read as blank; their text is put back
from the sheet's XML, so that the conversion refuses them by name.
"""

from __future__ import annotations

import datetime as dt
import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from decimal import Decimal
from typing import Final
from xml.etree import ElementTree

import polars as pl
from python_calamine import CalamineError, CalamineWorkbook

from auditor.record.raw import Place, Sheet
from auditor.record.sources import STRIPPED, trim
from auditor.vocabulary import nearest
from auditor.vocabulary.problems import Problem, UnusableInput

MOST_CELLS: Final = 60_000_000
MOST_UNPACKED_BYTES: Final = 2_000_000_000
_CELL: Final = re.compile(rb'\br="([A-Z]{1,3})([0-9]{1,7})"')
_HIDDEN: Final = re.compile(rb'\bt="e"|<(?:\w+:)?f[ />]')

# What the unpacking, the XML and the workbook reader raise for damaged or encrypted files.
_UNREADABLE: Final = (
    CalamineError, ElementTree.ParseError, EOFError, LookupError, OSError, RuntimeError, ValueError, struct.error,
    zipfile.BadZipFile, zlib.error,
)  # fmt: skip

Grid = list[list[object]]
_Merged = list[tuple[tuple[int, int], tuple[int, int]]]


class Workbook:
    """An open XLSX workbook. Raises UnusableInput when it cannot be read as one."""

    def __init__(self, data: bytes, place: Place) -> None:
        self.place = place
        todo = "Save the workbook again as .xlsx, without a password."
        try:
            self._zip = zipfile.ZipFile(io.BytesIO(data))
            if sum(entry.file_size for entry in self._zip.infolist()) > MOST_UNPACKED_BYTES:
                raise place.refuse(None, "", "more than 2 GB when unpacked", "a smaller workbook", "Split it.")
            self._book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        except _UNREADABLE:
            raise place.refuse(None, "", "a file that cannot be read as a workbook", "an XLSX workbook", todo) from None
        self.sheet_names: tuple[str, ...] = tuple(self._book.sheet_names)
        self._grids: dict[str, tuple[Grid, _Merged]] = {}

    def choose(self, sheet: str | None) -> str:
        """The sheet of that name; without a name the first."""
        if sheet is None and self.sheet_names:
            return self.sheet_names[0]
        if sheet in self.sheet_names:
            return str(sheet)
        like = nearest(sheet or "", self.sheet_names)
        todo = f'Did you mean "{like[0]}"?' if like else f"It has: {', '.join(self.sheet_names)}."
        raise self.place.refuse(None, "sheet", f'"{sheet}"', "a sheet of this workbook", todo)

    def read(self, sheet: str, place: Place, heading_row: int = 1, date_form: str | None = None) -> Sheet:
        """The sheet below its heading row as text; date cells are written in `date_form` (ISO without one).

        Raises UnusableInput for cells merged over several rows or columns of data.
        """
        grid, merged = self._grid(sheet)
        if heading_row > len(grid):
            found, todo = f"a sheet of {len(grid)} rows", "Check the sheet and heading_row."
            raise place.refuse(heading_row, "", found, "the heading row", todo)
        index = heading_row - 1
        headings = [cell_text(cell) for cell in grid[index]]
        over: set[int] = set()
        problems = []
        for (top, left), (bottom, right) in merged:
            if top <= index <= bottom:
                headings[left : left + 1] = [cell_text(grid[top][left])]
                over.update(range(left, right + 1) if right > left else ())
            elif index < top < len(grid) and left < len(grid[top]) and cell_text(grid[top][left]).strip():
                problems.append(_merged_problem(place, top, bottom, left, right))
        if problems:
            raise UnusableInput(problems)
        columns = list(zip(*grid[index + 1 :], strict=False)) or [()] * len(headings)
        frame = pl.DataFrame(
            {str(i): [cell_text(cell, date_form) for cell in column] for i, column in enumerate(columns)},
            schema={str(i): pl.String for i in range(len(columns))},
        )
        rows = pl.Series("_row", list(range(heading_row + 1, len(grid) + 1)), dtype=pl.UInt32)
        return trim(headings, frame.select(STRIPPED), rows, frozenset(over))

    def blank(self, sheet: str) -> bool:
        """Whether no cell of the sheet holds anything."""
        return all(cell in ("", None) for row in self._grid(sheet)[0] for cell in row)

    def first_rows(self, sheet: str, most: int = 20) -> list[list[str]]:
        """The first rows of the sheet, to look for the headings where they were not expected."""
        return [[cell_text(cell).strip() for cell in row] for row in self._grid(sheet)[0][:most]]

    def _grid(self, sheet: str) -> tuple[Grid, _Merged]:
        if sheet not in self._grids:
            self._grids[sheet] = self._load(sheet)
        return self._grids[sheet]

    def _load(self, sheet: str) -> tuple[Grid, _Merged]:
        unreadable = self.place.refuse(
            None, "", f'the sheet "{sheet}", which cannot be read', "a readable sheet", "Save the workbook again."
        )
        try:
            xml = self._sheet_xml(sheet)
            if xml is not None and _cells(xml) > MOST_CELLS:
                found = f'a cell far outside the data of sheet "{sheet}"'
                todo = "Delete the empty rows and columns behind the data."
                raise self.place.refuse(None, "", found, "a sheet of at most 60 million cells", todo)
            read = self._book.get_sheet_by_name(sheet)
            grid: Grid = [list(line) for line in read.to_python(skip_empty_area=False)]
            merged: _Merged = list(read.merged_cell_ranges or [])
            if xml is not None and _HIDDEN.search(xml):
                _put(grid, list(_hidden(xml)))
        except _UNREADABLE:
            raise unreadable from None
        return grid, merged

    def _sheet_xml(self, sheet: str) -> bytes | None:
        """The XML of the sheet, found through the workbook's list of sheets; None for a sheet without cells."""
        book = ElementTree.fromstring(self._zip.read("xl/workbook.xml"))
        key = next(
            (
                value
                for node in book.iter()
                if _local(node.tag) == "sheet" and node.get("name") == sheet
                for name, value in node.attrib.items()
                if _local(name) == "id"
            ),
            None,
        )
        relations = ElementTree.fromstring(self._zip.read("xl/_rels/workbook.xml.rels"))
        target = next((node.get("Target", "") for node in relations if node.get("Id") == key), None)
        if target is None:
            return None
        return self._zip.read(target.lstrip("/") if target.startswith("/") else f"xl/{target}")


def cell_text(cell: object, date_form: str | None = None) -> str:
    """A cell as text: whole numbers without a point, yes/no as true/false, dates in `date_form` or ISO."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() else format(Decimal(repr(cell)), "f")
    if isinstance(cell, dt.datetime | dt.date) and date_form:
        return cell.strftime(date_form)
    if isinstance(cell, dt.datetime):
        midnight = cell.time() == dt.time()
        return cell.date().isoformat() if midnight else cell.isoformat(" ", "seconds")
    if isinstance(cell, dt.date):
        return cell.isoformat()
    if isinstance(cell, dt.time):
        return cell.isoformat("seconds")
    return "" if cell is None else str(cell)


def _merged_problem(place: Place, top: int, bottom: int, left: int, right: int) -> Problem:
    rows = f"rows {top + 1} to {bottom + 1}" if bottom > top else f"row {top + 1}"
    columns = f"columns {_letters(left)} to {_letters(right)}" if right > left else f"column {_letters(left)}"
    where = f"sheet {place.sheet}, {rows}" if place.sheet else rows
    todo = "Split the cell and write the value into each row it is meant for."
    return Problem(place.label, where, columns, "a cell merged over several", "one value in one cell", todo)


def _letters(column: int) -> str:
    text, column = "", column + 1
    while column:
        column, rest = divmod(column - 1, 26)
        text = chr(65 + rest) + text
    return text


def _column(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number - 1


def _cells(xml: bytes) -> int:
    """How many cells the rectangle from A1 to the last cell has."""
    last_row, columns = 0, set()
    for match in _CELL.finditer(xml):
        columns.add(match[1])
        last_row = max(last_row, int(match[2]))
    return last_row * (max((_column(c.decode()) for c in columns), default=0) + 1)


def _hidden(xml: bytes) -> Iterator[tuple[int, int, str]]:
    """Row, column and text of error cells and of formulas without a stored value."""
    for _, node in ElementTree.iterparse(io.BytesIO(xml)):
        if _local(node.tag) != "c":
            continue
        parts = {_local(child.tag): child.text for child in node}
        error = node.get("t") == "e"
        if error or ("f" in parts and not parts.get("v") and node.get("t") != "str"):
            place = re.fullmatch(r"([A-Z]+)([0-9]+)", node.get("r", ""))
            if place is not None:
                text = (parts.get("v") or "#ERROR!") if error else f"={parts['f'] or ''}"
                yield int(place[2]) - 1, _column(place[1]), text
        node.clear()


def _put(grid: Grid, cells: list[tuple[int, int, str]]) -> None:
    """Write cells into the grid, which grows where they lie outside the cells with values."""
    height = max([len(grid), *(row + 1 for row, _, _ in cells)])
    width = max([len(grid[0]) if grid else 0, *(column + 1 for _, column, _ in cells)])
    grid.extend([] for _ in range(height - len(grid)))
    for line in grid:
        line.extend([""] * (width - len(line)))
    for row, column, text in cells:
        grid[row][column] = text


def _local(tag: str) -> str:
    return tag.rsplit("}", 1)[-1]
