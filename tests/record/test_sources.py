from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.record import read_jobs
from auditor.record.raw import Place
from auditor.record.sources import read_csv
from auditor.vocabulary.problems import UnusableInput
from tests.record.jobs import HEADINGS, Build, Complain

LOADS = "  loads: loads.csv\n"
PLACE = Place("J", "loads.csv", "loads.csv")
INSIDE = (
    "expected a path inside the job folder. "
    'Put the file into the job folder and name it from there, with "/" between folders.'
)
RAGGED = "Put quotation marks round values that hold the separator, and fill up short rows with separators."


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_separators_line_ends_and_byte_order_mark(separator: str, ending: str, mark: bytes) -> None:
    text = ending.join(separator.join(row) for row in [("a", "b"), ("1", "x"), ("2", "\u00e9")])
    sheet = read_csv(mark + text.encode(), PLACE)
    assert (sheet.headings, sheet.body.rows()) == (["a", "b"], [("1", "x"), ("2", "\u00e9")])


def test_blank_rows_and_trailing_columns_are_dropped_and_row_numbers_kept() -> None:
    sheet = read_csv(b'a,b,,\n\n1,"x\ny",,\n,,,\n2,z,,\n\n,,,\n', PLACE)
    assert sheet.headings == ["a", "b"]
    assert sheet.body.rows() == [("1", "x\ny"), ("2", "z")]
    assert sheet.rows.to_list() == [3, 5]  # a spreadsheet counts the quoted line break as one row


def test_quoted_separators_and_marks() -> None:
    assert read_csv(b'a,b\n"x,y","say ""so"""\n', PLACE).body.rows() == [("x,y", 'say "so"')]


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (f"{HEADINGS}\n1,T1\n", f"row 2: found 2 values; expected 3 values, one under each heading. {RAGGED}"),
        (f"{HEADINGS}\n\n1,T1,Mill A,x\n", f"row 3: found 4 values; expected 3 values, one under each heading. {RAGGED}"),
        (f'{HEADINGS}\n1,T1,"Mill A\n', 'row 2: found a quotation mark that is not closed; expected quotation marks in pairs. Close the quotation mark; write one inside a value twice ("").'),
        (f'{HEADINGS}\n1,T1,6" x 8"\n', 'row 2: found a quotation mark in the middle of a value; expected quoted values. Put the whole value into quotation marks and write the mark inside twice ("").'),
        (f"{HEADINGS}\n1,T1,Andr\u00e9\n".encode("cp1252"), "row 2: found letters that are not UTF-8; expected text in UTF-8. Save it as CSV in UTF-8, or add encoding: cp1252 to this source if it comes from an older program."),
        ("", "row 1: found a file of 0 rows; expected the heading row. Check the file and heading_row."),
        (f"Mill report,,\n\n{HEADINGS}\n1,T1,Mill A\n", "row 1: found no known heading; expected the heading row. Row 3 looks like it: write heading_row: 3."),
        (f"Mill report\n{HEADINGS}\n1,T1,Mill A\n", "row 1: found no known heading; expected the heading row. Row 2 looks like it: write heading_row: 2."),
    ],
)  # fmt: skip
def test_refused_files(complaints: Complain, content: object, message: str) -> None:
    assert complaints(LOADS, loads=content) == [f"pine/loads.csv, {message}"]


def test_many_ragged_rows_are_summed_up(complaints: Complain) -> None:
    found = complaints(LOADS, loads=HEADINGS + "\n" + "1,T1\n" * 21)
    assert len(found) == 6
    assert found[5] == (
        "pine/loads.csv, 16 more rows (the last is row 22): found another number of values as well; "
        f"expected 3 values, one under each heading. {RAGGED}"
    )


def test_a_named_encoding_is_used(build: Build) -> None:
    content = f"{HEADINGS},note\n1,T1,Mill A,Andr\u00e9\n".encode("cp1252")
    record = read_jobs([build("  loads: {file: loads.csv, encoding: cp1252}\n", loads=content)])
    assert record.tables["loads"]["note"].to_list() == ["Andr\u00e9"]
    assert "loads: loads.csv read as cp1252" in record.notes


@pytest.mark.parametrize("path", ["../x.csv", "/etc/hosts", "a/../../x.csv", "C:/x.csv", "a\\b.csv"])
def test_paths_stay_inside(complaints: Complain, path: str) -> None:
    assert complaints(f"  loads: '{path}'\n") == [f'pine/job.yaml, line 7, file: found "{path}"; {INSIDE}']


def test_a_symlink_out_of_the_folder_is_refused(build: Build, tmp_path: Path) -> None:
    (tmp_path / "outside.csv").write_text(f"{HEADINGS}\n1,T1,Mill A\n")
    folder = build(LOADS)
    (folder / "loads.csv").symlink_to(tmp_path / "outside.csv")
    with pytest.raises(UnusableInput, match="expected a path inside the job folder"):
        read_jobs([folder])


def test_a_file_in_a_subfolder_is_read(build: Build) -> None:
    folder = build("  loads: mill/loads.csv\n")
    (folder / "mill").mkdir()
    (folder / "mill" / "loads.csv").write_text(f"{HEADINGS}\n1,T1,Mill A\n")
    assert read_jobs([folder]).tables["loads"]["_file"].to_list() == ["mill/loads.csv"]


@pytest.mark.parametrize(
    ("path", "message"),
    [
        ("truck.csv", 'found "truck.csv"; expected a file that exists. Did you mean trucks.csv?'),
        ("zzz", 'found "zzz"; expected a file that exists. Put the file there or take the line out.'),
        ("job.yaml", 'found "job.yaml"; expected a file that ends in .csv or .xlsx. Save the table as CSV or XLSX.'),
        (".", 'found "."; expected a file that exists. Put the file there or take the line out.'),
    ],
)
def test_missing_and_unknown_files(complaints: Complain, path: str, message: str) -> None:
    assert complaints(f"  loads: '{path}'\n") == [f"pine/job.yaml, line 7, file: {message}"]


@given(st.binary(max_size=80) | st.text(alphabet='ab,;"\n\r\t 1\u00e9', max_size=80).map(str.encode))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    try:
        sheet = read_csv(data, PLACE)
    except UnusableInput as error:
        assert error.problems
    else:
        assert sheet.body.height == sheet.rows.len()
