from __future__ import annotations

import pytest

from auditor.record import read_jobs
from tests.record.jobs import HEADINGS, Build, Complain

FIELD = "expected a field of loads."


def test_a_mill_export_is_used_as_it_is(build: Build) -> None:
    source = """  loads:
    - file: mill.csv
      heading_row: 2
      columns:
        "Ticket #": ticket_number
        "Gross (tons)": {field: gross_weight_lb, unit: short_ton}
        Unit: truck
        Wood: product
        Day: load_date
      values: {product: {PST: sawlogs, "N.A.": ""}, truck: {"7": T1}}
      fixed: {destination: Mill A}
      ignore: [Remarks]
      date_form: "%m/%d/%Y"
    - loads.csv
"""
    mill = "Mill report\nTicket #;Gross (tons);Unit;Wood;Day;Remarks\n007;42.1;7;pst;3/2/2026;x\n008;40;T2;n.a.;3/3/2026;\n"
    record = read_jobs([build(source, mill=mill, loads=f"{HEADINGS}\n009,T1,Mill A\n")])
    loads = record.tables["loads"].select(
        "ticket_number", "gross_weight_lb", "truck", "product", "destination", "_file", "_row"
    )
    assert loads.rows() == [
        ("007", 84200, "T1", "sawlogs", "Mill A", "mill.csv", 3),  # 42.1 x 2000
        ("008", 80000, "T2", None, "Mill A", "mill.csv", 4),
        ("009", None, "T1", None, "Mill A", "loads.csv", 2),
    ]
    assert record.notes == (
        "loads.gross_weight_lb: short_ton read as 2,000 lb in mill.csv, rounded to whole numbers",
        'loads.destination: "Mill A" for every row of mill.csv',
        'loads.product: read "PST" as sawlogs, "N.A." as blank in mill.csv',
        'loads.truck: read "7" as T1 in mill.csv',
        "loads: dates read as %m/%d/%Y in mill.csv",
        'loads: "Remarks" left out of mill.csv',
    )


@pytest.mark.parametrize(
    ("headings", "message"),
    [
        (f"{HEADINGS},gros_weight_lb", f'row 1: found the heading "gros_weight_lb"; {FIELD} Did you mean gross_weight_lb? If so, map it under columns, or name it under ignore.'),
        (f"{HEADINGS},Zzz", f'row 1: found the heading "Zzz"; {FIELD} Map it under columns, or name it under ignore.'),
        (f"{HEADINGS},load", f'row 1, load: found the heading "load"; {FIELD} Leave it out; it is made from the ticket number.'),
        (f"{HEADINGS},truck", 'row 1: found the heading "truck" 2 times; expected each heading once. Give every column a heading of its own.'),
        (f"{HEADINGS},", "row 1, column 4: found a column of data without a heading; expected a heading over each column. Write a heading above it."),
        ("ticket_number,truck,note,driver", "row 1, destination: found no such column; expected a required field. Add the column, map it under columns, or give it once under fixed."),
    ],
)  # fmt: skip
def test_headings(complaints: Complain, headings: str, message: str) -> None:
    found = complaints("  loads: loads.csv\n", loads=f"{headings}\n1,T1,Mill A,T1\n")
    assert found == [f"pine/loads.csv, {message}"]


@pytest.mark.parametrize(
    ("source", "message"),
    [
        ("columns: {Gross: gross_weight_lb}", 'loads.csv, row 1: found no heading "Gross"; expected the headings named under columns. The headings are: "ticket_number", "truck", "destination".'),
        ("columns: {truk: truck}", 'loads.csv, row 1: found no heading "truk"; expected the headings named under columns. Did you mean "truck"?'),
        ("fixed: {truck: T1}", 'loads.csv, row 1, truck: found "truck" for a field that has a value already; expected one source for each field. Keep one.'),
        ("columns: {A: note, B: note}", "job.yaml, line 7, note: found 2 headings for one field; expected one heading for each field. Keep one."),
        ("columns: {A: {field: overall_length_ft, unit: kg}}", 'job.yaml, line 7, A: found the unit "kg"; expected one of ft, in, yd, mile, m, cm, mm, km. Did you mean km?'),
        ("columns: {A: {field: ticket_number, unit: kg}}", 'job.yaml, line 7, A: found the unit "kg"; expected no unit, because ticket_number has none. Take the unit out.'),
        ("columns: {A: {field: gross_weight_lb, unit: short_tn}}", 'job.yaml, line 7, tables.loads.columns.A.unit: found "short_tn"; expected a known name. Did you mean short_ton or long_ton?'),
        ('date_form: "%m/%d/%y"', 'job.yaml, line 7, date_form: found "%m/%d/%y"; expected years of four digits. Export the dates with four-digit years and write %Y.'),
        ('date_form: "month/day"', 'job.yaml, line 7, date_form: found "month/day"; expected a form such as %m/%d/%Y. Use %Y, %m, %d, %b, %B and for a time of day %H, %I, %M, %S, %p.'),
        ("encoding: latin-99", 'loads.csv: found the encoding "latin-99"; expected a known encoding. Write for example encoding: cp1252.'),
    ],
)  # fmt: skip
def test_descriptions_of_sources(complaints: Complain, source: str, message: str) -> None:
    found = complaints(f"  loads: {{file: loads.csv, {source}}}\n", loads=f"{HEADINGS}\n1,T1,Mill A\n")
    assert found == [f"pine/{message}"]
