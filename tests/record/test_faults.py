"""What a person reads when a value cannot be used: whole messages."""

from __future__ import annotations

import pytest

from tests.record.jobs import HEADINGS, Complain

LOADS = "  loads: loads.csv\n"
NOT_KNOWN = "Correct the value, or leave it blank if it is not known."
OR_UNIT = "Correct the value, or state the unit of the column."
MEND = "Mend the formula in the spreadsheet, let it calculate, and save the file again."
PRODUCTS = "one of sawlogs, pulpwood, tree_length, poles, processed_logs, chips, biomass, firewood, other"


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("gross_weight_lb", "heavy", f'found "heavy"; expected a whole number in lb. {NOT_KNOWN}'),
        ("gross_weight_lb", "NaN", f'found "NaN"; expected a whole number in lb. {NOT_KNOWN}'),
        ("gross_weight_lb", '"1.234,5"', 'found "1.234,5"; expected a number with a point before its decimals, such as 1234.5. Write it without commas, or with commas only between thousands.'),
        ("gross_weight_lb", "84320.5", 'found "84320.5"; expected a whole number. Correct the value.'),
        ("gross_weight_lb", "0", f'found "0"; expected 1 to 250,000 lb. {OR_UNIT}'),
        ("overall_length_ft", "long", f'found "long"; expected a number in ft. {NOT_KNOWN}'),
        ("gross_weight_lb", "#REF!", f'found "#REF!"; expected a value. {MEND}'),
        ("load_date", "03/02/26", 'found "03/02/26"; expected a year of four digits. Write the year in full.'),
        ("load_date", "2026-02-30", 'found "2026-02-30"; expected a day that exists. Correct the date.'),
        ("load_date", "soon", 'found "soon"; expected a date such as 2026-03-02. Write year-month-day, or state date_form for the source.'),
        ("load_date", "1492-10-12", 'found "1492-10-12"; expected a year from 1900 to 2199. Correct the date.'),
        ("scaled_at", "25:00", 'found "25:00"; expected a time that exists, 00:00 to 23:59. Correct the time.'),
        ("scaled_at", "noon", 'found "noon"; expected a time of day such as 14:30 or 2:30 PM. Correct the time.'),
        ("dark", "x", 'found "x"; expected yes or no. Write yes or no, or translate your word under values: of the source.'),
        ("product", "sawlog", f'found "sawlog"; expected {PRODUCTS}. Did you mean sawlogs? If not, translate your word under values: of the source.'),
        ("product", "zzz", f'found "zzz"; expected {PRODUCTS}. Translate your word under values: of the source.'),
        ("note", "x" * 70 + "!", None),
    ],
)  # fmt: skip
def test_messages(complaints: Complain, name: str, value: str, words: str | None) -> None:
    # Row 3 names a mill that is not there, so that a usable value leaves one known message.
    found = complaints(LOADS, loads=f"{HEADINGS},{name}\n1,T1,Mill A,{value}\n2,T1,Yard,\n")
    expected = "expected a destination of the table destinations. Add it to destinations, or correct it here."
    known = f'pine/loads.csv, row 3, destination: found "Yard"; {expected}'
    wanted = [] if words is None else [f"pine/loads.csv, row 2, {name}: {words}"]
    assert found == [*wanted, known]


def test_a_required_blank(complaints: Complain) -> None:
    assert complaints(LOADS, loads=f"{HEADINGS}\n1,-,Mill A\n") == [
        "pine/loads.csv, row 2, truck: found a blank; expected unit number (a required field). Fill it in."
    ]


def test_twenty_rows_are_shown_and_twenty_one_are_summed_up(complaints: Complain) -> None:
    def loads(count: int) -> str:
        return f"{HEADINGS},dark\n" + "".join(f"{i},T1,Mill A,x\n" for i in range(count))

    assert len(complaints(LOADS, loads=loads(20))) == 20
    found = complaints(LOADS, name="oak", loads=loads(1021))
    assert len(found) == 6
    assert found[4].startswith('oak/loads.csv, row 6, dark: found "x"; expected yes or no.')
    assert found[5] == (
        "oak/loads.csv, 1,016 more rows (the last is row 1,022), dark: found the same problem; expected yes or no. "
        "Mend them like the rows named before."
    )


def test_rows_typed_in_the_job_file_are_placed_by_line(complaints: Complain) -> None:
    rows = "  documents:\n    rows:\n      - document: P-1\n        kind: other\n        valid_from: soon\n      - {kind: permit}\n"
    assert complaints(rows) == [
        "pine/job.yaml, line 12, document: found a blank; expected number or short name of the paper (a required field). Fill it in.",
        'pine/job.yaml, line 12, kind: found "permit"; expected a word of the list of kind, such as overweight_permit. '
        "Did you mean timber_permit?",
        'pine/job.yaml, line 11, valid_from: found "soon"; expected a date such as 2026-03-02. Write year-month-day.',
    ]  # fmt: skip
