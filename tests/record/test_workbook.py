from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.record import read_jobs
from auditor.record.raw import Place
from auditor.record.workbook import Workbook, cell_text
from auditor.vocabulary.problems import UnusableInput
from tests.record.jobs import Build, messages, save_workbook

LOADS = "  loads: {file: loads.xlsx, sheet: Tickets, heading_row: 2}\n"
HEADINGS = ["ticket_number", "truck", "destination", "gross_weight_lb", "load_date", "scaled_at", "dark"]
ROW = [1042, "T1", "Mill A", 79000.0, dt.date(2026, 3, 2), dt.time(14, 30), True]


def test_cells_of_every_kind(build: Build) -> None:
    folder = build(
        LOADS,
        loads=[
            ["Mill report"],
            HEADINGS,
            ROW,
            [],
            [1043, "T2", "Mill A", "84,320", dt.datetime(2026, 3, 3), "7:05", False],
        ],
    )
    loads = read_jobs([folder]).tables["loads"]
    wanted = ["ticket_number", "gross_weight_lb", "load_date", "scaled_at", "dark", "_sheet", "_row"]
    assert loads.select(wanted).rows() == [
        ("1042", 79000, dt.date(2026, 3, 2), dt.time(14, 30), True, "Tickets", 3),
        ("1043", 84320, dt.date(2026, 3, 3), dt.time(7, 5), False, "Tickets", 5),
    ]


def test_date_cells_are_dates_whatever_the_form_of_typed_ones(build: Build) -> None:
    source = '  loads: {file: loads.xlsx, date_form: "%d.%m.%Y"}\n'
    rows = [
        ["ticket_number", "truck", "destination", "load_date"],
        ["1", "T1", "Mill A", dt.date(2026, 3, 2)],
        ["2", "T1", "Mill A", "4.3.2026"],
    ]
    loads = read_jobs([build(source, loads=rows)]).tables["loads"]
    assert loads["load_date"].to_list() == [dt.date(2026, 3, 2), dt.date(2026, 3, 4)]


@pytest.mark.parametrize(
    ("cell", "text"),
    [(12.0, "12"), (0.1, "0.1"), (1e-7, "0.0000001"), (1e16, "10000000000000000"), (True, "true"), (None, ""),
     (dt.datetime(2026, 3, 2, 14, 30), "2026-03-02 14:30:00"), (dt.datetime(2026, 3, 2), "2026-03-02")],
)  # fmt: skip
def test_cell_text(cell: object, text: str) -> None:
    assert cell_text(cell) == text


def edited(build: Build, **cells: object) -> Path:
    """A job whose workbook has cells replaced after it was filled."""
    folder = build(LOADS, loads=[["Mill report"], HEADINGS, ROW])
    book = openpyxl.load_workbook(folder / "loads.xlsx")
    for name, value in cells.items():
        book["Tickets"][name] = value
    book.save(folder / "loads.xlsx")
    return folder


@pytest.mark.parametrize(
    ("cell", "name", "shown"),
    [
        ("D3", "gross_weight_lb", "#REF!"),
        ("D3", "gross_weight_lb", "=D2+1"),
        ("A3", "ticket_number", "#N/A"),
        ("G4", "dark", "#DIV/0!"),
    ],
)
def test_error_cells_and_formulas_without_a_value_are_never_blank(
    build: Build, tmp_path: Path, cell: str, name: str, shown: str
) -> None:
    found = messages(tmp_path, [edited(build, **{cell: shown})])
    assert (
        f'pine/loads.xlsx, sheet Tickets, row {cell[1]}, {name}: found "{shown}"; expected a value. '
        "Mend the formula in the spreadsheet, let it calculate, and save the file again."
    ) in found


def test_merged_headings_and_merged_data(tmp_path: Path, build: Build) -> None:
    folder = edited(build, H2="note", I3="x")
    book = openpyxl.load_workbook(folder / "loads.xlsx")
    book["Tickets"].merge_cells("H2:I2")
    book.save(folder / "loads.xlsx")
    book["Tickets"]["I3"] = "x"
    assert messages(tmp_path, [folder]) == [
        "pine/loads.xlsx, sheet Tickets, row 2, column 9: found a heading cell merged over several columns; "
        "expected a heading over each column. Split it and name each column."
    ]
    book["Tickets"].merge_cells("B3:B4")
    book.save(folder / "loads.xlsx")
    assert messages(tmp_path, [folder])[0] == (
        "pine/loads.xlsx, sheet Tickets, rows 3 to 4, column B: found a cell merged over several; "
        "expected one value in one cell. Split the cell and write the value into each row it is meant for."
    )


def test_a_heading_merged_downwards_counts_in_both_rows(build: Build) -> None:
    folder = edited(build, A1="ticket_number", A2=None)
    book = openpyxl.load_workbook(folder / "loads.xlsx")
    book["Tickets"].merge_cells("A1:A2")
    book.save(folder / "loads.xlsx")
    assert read_jobs([folder]).tables["loads"]["ticket_number"].to_list() == ["1042"]


@pytest.mark.parametrize(
    ("source", "message"),
    [
        ("{file: loads.xlsx, sheet: Tickts}", 'pine/loads.xlsx, sheet: found "Tickts"; expected a sheet of this workbook. Did you mean "Tickets"?'),
        ("loads.xlsx", "pine/loads.xlsx, sheet Tickets, row 1: found no known heading; expected the heading row. Row 2 looks like it: write heading_row: 2."),
        ("{file: loads.xlsx, heading_row: 9}", "pine/loads.xlsx, sheet Tickets, row 9: found no known heading; expected the heading row. Row 2 looks like it: write heading_row: 2."),
        ("{file: loads.xlsx, sheet: Blank}", "pine/loads.xlsx, sheet Blank, row 1: found a sheet of 0 rows; expected the heading row. Check the sheet and heading_row."),
        ("{file: trucks.csv, sheet: A}", 'pine/job.yaml, line 7, sheet: found the sheet "A" of a CSV file; expected no sheet. Take it out.'),
    ],
)  # fmt: skip
def test_wrong_sheet_and_heading_row(build: Build, tmp_path: Path, source: str, message: str) -> None:
    folder = build(f"  loads: {source}\n")
    save_workbook(folder / "loads.xlsx", {"Tickets": [["Mill report"], HEADINGS, ROW], "Blank": []})
    assert messages(tmp_path, [folder]) == [message]


def test_a_file_that_is_no_workbook(build: Build, tmp_path: Path) -> None:
    folder = build("  loads: loads.xlsx\n")
    (folder / "loads.xlsx").write_bytes(b"PK\x03\x04 not a workbook")
    assert messages(tmp_path, [folder]) == [
        "pine/loads.xlsx: found a file that cannot be read as a workbook; expected an XLSX workbook. "
        "Save the workbook again as .xlsx, without a password."
    ]


def test_the_first_of_several_sheets_is_noted(build: Build) -> None:
    folder = build("  loads: loads.xlsx\n")
    save_workbook(folder / "loads.xlsx", {"Tickets": [HEADINGS, ROW], "Old": [["x"]]})
    assert "loads: sheet Tickets read, the first of 2 in loads.xlsx" in read_jobs([folder]).notes


def test_a_cell_far_outside_the_data_is_refused(build: Build, tmp_path: Path) -> None:
    folder = edited(build, XFD1048576="x")
    assert messages(tmp_path, [folder]) == [
        'pine/loads.xlsx: found a cell far outside the data of sheet "Tickets"; '
        "expected a sheet of at most 60 million cells. Delete the empty rows and columns behind the data."
    ]


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_damaged_workbooks_are_read_or_refused(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    path = tmp_path_factory.getbasetemp() / "whole.xlsx"
    if not path.exists():
        save_workbook(path, {"Tickets": [HEADINGS, ROW]})
    content = bytearray(path.read_bytes())
    for _ in range(data.draw(st.integers(1, 5))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    place = Place("J", "whole.xlsx", "whole.xlsx")
    try:
        book = Workbook(bytes(content), place)
        sheet = book.read(book.choose(None), place)
    except UnusableInput as error:
        assert error.problems
    else:
        assert sheet.body.height == sheet.rows.len()
