"""The report as CSV and as an XLSX workbook: plain cells, no formulas, the same bytes for the same report."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import zipfile
from typing import Final

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from auditor.report.model import Report
from auditor.report.sheets import COLUMNS, ITEMS, SHEETS, Cell, Sheet

_OLDEST: Final = (1980, 1, 1, 0, 0, 0)
"""The earliest time a ZIP file can hold; stands for all times inside the workbook."""
_WIDEST: Final = 60
_HEAD: Final = Font("Calibri", bold=True, color="FFFFFF")
_FILL: Final = PatternFill("solid", fgColor="23402F")
_WRAP: Final = Alignment(wrap_text=True, vertical="top")
_TOP: Final = Alignment(vertical="top")


def csv_bytes(report: Report) -> bytes:
    """One row for each load under each finding, with the columns of the sheet `items`.

    UTF-8 with a byte order mark, because spreadsheet programs take a file without one for another encoding.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(column.name for column in ITEMS.columns)
    writer.writerows([_csv_text(cell) for cell in row] for row in ITEMS.cells(report))
    return out.getvalue().encode("utf-8-sig")


def _csv_text(cell: Cell) -> str:
    if cell is None:
        return ""
    return cell.isoformat() if isinstance(cell, dt.date) else str(cell)


def xlsx_bytes(report: Report) -> bytes:
    """The workbook: one sheet for each part of the report, and one that says what every column means."""
    book = Workbook(write_only=True)
    book.properties.creator = f"auditor {report.engine_version}"
    for sheet in (*SHEETS, COLUMNS):
        _fill(book.create_sheet(sheet.name), sheet, report)
    buffer = io.BytesIO()
    book.save(buffer)
    return _without_clock(buffer.getvalue(), report.audit_date)


def _fill(page: Worksheet, sheet: Sheet, report: Report) -> None:
    rows = list(sheet.cells(report))
    for place, column in enumerate(sheet.columns):
        longest = max((len(_csv_text(row[place])) for row in rows), default=0)
        width = min(max(len(column.name) + 2, longest + 2), _WIDEST if column.wide else _WIDEST // 2)
        page.column_dimensions[get_column_letter(place + 1)].width = width
    page.freeze_panes = "B2"
    page.auto_filter.ref = f"A1:{get_column_letter(len(sheet.columns))}{len(rows) + 1}"
    page.append([_head(page, column.name) for column in sheet.columns])
    for row in rows:
        page.append([_made(page, cell, sheet.columns[place].wide) for place, cell in enumerate(row)])


def _head(page: Worksheet, text: str) -> WriteOnlyCell:
    cell = WriteOnlyCell(page, text)
    cell.font, cell.fill, cell.alignment = _HEAD, _FILL, _WRAP
    return cell


def _made(page: Worksheet, value: Cell, wide: bool) -> WriteOnlyCell | None:
    if value is None:
        return None
    cell = WriteOnlyCell(page, value)
    if isinstance(value, str):
        # Texts that begin like a formula are defused already; said once more in the cell's own type.
        cell.data_type = "s"
    elif isinstance(value, dt.date):
        cell.number_format = "yyyy-mm-dd"
    elif abs(value) >= 1000:
        cell.number_format = "#,##0"
    cell.alignment = _WRAP if wide else _TOP
    return cell


def _without_clock(content: bytes, day: dt.date | None) -> bytes:
    """The same workbook with the day of the audit for every time in it, and none of the writing."""
    stamp = f"{(day or dt.date(*_OLDEST[:3])).isoformat()}T00:00:00Z".encode()
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(buffer, "w") as new:
        for entry in old.infolist():
            data = old.read(entry)
            if entry.filename == "docProps/core.xml":
                data = re.sub(rb"(<dcterms:(created|modified)[^>]*>)[^<]*", rb"\g<1>" + stamp, data)
            made = zipfile.ZipInfo(entry.filename, _OLDEST)
            made.compress_type, made.external_attr = zipfile.ZIP_DEFLATED, 0o600 << 16
            new.writestr(made, data)
    return buffer.getvalue()
