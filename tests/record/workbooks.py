"""Fills workbooks as their owners do: rows typed under the headings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

from auditor.record.form import heading
from auditor.vocabulary import TABLES


def columns(sheet: Worksheet) -> dict[str, int]:
    """Heading -> number of its column."""
    return {cell.value: cell.column for cell in sheet[1]}


def fill(path: Path, rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> None:
    """Write rows (field -> cell value) below what the sheets hold."""
    book = openpyxl.load_workbook(path)
    for table, own in rows.items():
        sheet = book[table]
        at = columns(sheet)
        for number, row in enumerate(own, sheet.max_row + 1):
            for name, value in row.items():
                field = TABLES[table].field(name)
                assert field is not None
                sheet.cell(number, at[heading(field)], value)
    book.save(path)
