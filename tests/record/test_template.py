"""The workbook to fill in: headings that map back, drop-downs of the vocabulary's words, an example that is none."""

from __future__ import annotations

import datetime as dt
import io
import re
from pathlib import Path

import openpyxl
import pytest
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from auditor.record import read_jobs, record_from_rows
from auditor.record.examples import EXAMPLES
from auditor.record.form import FIRST_SHEET, LISTS_SHEET, MARK, MARK_HEADING, Asked, fields_by_heading, heading
from auditor.record.mapping import known_fields
from auditor.record.template import ALWAYS_SAID, job_file_text, note, sheet_columns, words_of, workbook_bytes
from auditor.vocabulary import TABLES
from auditor.vocabulary.model import Field, Table
from auditor.vocabulary.yaml_text import load_yaml_text
from tests.record.workbooks import columns

SHEETS = [t for t in TABLES if t != "job"]
ASKED = {
    "job": {"sold_by_load": Asked(("a/t/1",), ("a/t/1",))},
    "loads": {"gross_weight_lb": Asked(("a/w/1", "a/w/2", "a/w/3", "a/w/4")), "product": Asked(("a/w/1",), ("a/w/1",))},
    "axles": {"position_ft": Asked(("a/w/2",))},
}


@pytest.fixture(scope="module")
def whole() -> openpyxl.Workbook:
    """The workbook with every field."""
    return openpyxl.load_workbook(io.BytesIO(workbook_bytes({}, "pine", all_fields=True)))


def rule_of(sheet: Worksheet, field: Field) -> DataValidation | None:
    """What the first free cell under the field's heading accepts."""
    cell = f"{get_column_letter(columns(sheet)[heading(field)])}3"
    found = [rule for rule in sheet.data_validations.dataValidation if cell in rule.sqref]
    assert len(found) <= 1
    return found[0] if found else None


@pytest.mark.parametrize("table", TABLES.values(), ids=str)
def test_every_heading_maps_back(table: Table) -> None:
    back = fields_by_heading(table)
    assert len(back) == len(table.fields)
    for field in table.fields:
        assert back[heading(field)] == field.name
        # A heading in words that is another field's name would be read as that field.
        assert heading(field) in (field.name, *(set(back) - {f.name for f in table.fields}))
    assert MARK_HEADING not in {*back, *back.values()}


@pytest.mark.parametrize(
    ("table", "name", "shown"),
    [
        ("loads", "gross_weight_lb", "gross weight (lb)"),
        ("loads", "load_width_in", "load width (in)"),
        ("destinations", "haul_radius_miles", "haul radius (miles)"),
        ("legs", "miles", "miles"),
        ("load_checks", "hours_from_start", "hours from start"),
        ("stacks", "lower_overhang_share", "lower overhang (share)"),
        ("markings", "flag_count", "flag count"),
        ("loads", "ticket_number", "ticket number"),
        ("banks", "slope_pct", "slope (percent)"),
        ("crossings", "angle_deg", "angle (degree)"),
        ("stands", "least_basal_area_ft2_per_ac", "least basal area (ft2/acre)"),
        ("stands", "most_trees_per_ac", "most trees (trees/acre)"),
        ("seedings", "bulk_rate_lb_per_ac", "bulk rate (lb/acre)"),
        ("water_readings", "water_temperature_f", "water temperature (degree F)"),
        ("decks", "area_acres", "area (acres)"),
    ],
)
def test_headings(table: str, name: str, shown: str) -> None:
    field = TABLES[table].field(name)
    assert field is not None
    assert heading(field) == shown


def test_the_sheets_in_the_order_of_filling(whole: openpyxl.Workbook) -> None:
    first = ["trucks", "trailers", "axles", "destinations", "legs", "documents", "loads"]
    names = whole.sheetnames
    assert names[0] == FIRST_SHEET
    assert names[1:8] == first
    assert names[-1] == LISTS_SHEET
    assert sorted(names[1:-1]) == sorted(SHEETS)
    assert whole[LISTS_SHEET].sheet_state == "hidden"


def test_no_unit_of_a_quantity_is_left_out_of_its_heading() -> None:
    """Counts say in words what they count, and miles and hours stand in their names."""
    plain = ("miles", "count", "rear", "side", "min", "start")
    missing = [
        f"{t.name}.{f.name}"
        for t in TABLES.values()
        for f in t.fields
        if f.unit and f"({f.unit}" not in heading(f) and f.name.rsplit("_", 1)[-1] not in plain
    ]
    assert missing == []


def test_the_sheets_of_a_site_lead_from_the_water_to_the_judgements(whole: openpyxl.Workbook) -> None:
    order = ["streams", "banks", "stations", "plots", "stumps", "disturbances", "crossings", "approaches", "pipes",
             "segments", "pitches", "drains", "ruts", "decks", "tanks", "notices", "stands", "stand_plots", "observations"]  # fmt: skip
    assert [n for n in whole.sheetnames if n in order] == order
    site = sheet_columns({t: {TABLES[t].key[0]: Asked(("a/s/1",))} for t in (*order, "documents")})
    # Without loads the papers, which need no place in the order, come last.
    assert list(site) == [*order, "documents"]
    text = openpyxl.load_workbook(io.BytesIO(workbook_bytes({"banks": {"bank": Asked(("a/s/1",))}}, "mill")))[
        FIRST_SHEET
    ]
    assert text["B2"].value == (
        "Fill the sheets from left to right: for the site first the streams and their banks, then what was measured on them."
    )


def test_of_references_that_exclude_each_other_only_those_with_a_sheet_are_asked_for() -> None:
    asked = {"plots": {"tree_count": Asked(("a/s/1",))}, "tallies": {"dbh_in": Asked(("a/s/1",))}}
    tallies = sheet_columns(asked)["tallies"]
    assert [(c.field.name, c.must) for c in tallies] == [
        ("plot", True), ("line", True), ("dbh_in", False), ("tree_count", True),
    ]  # fmt: skip
    assert "either" not in note(tallies[0])
    both = sheet_columns({**asked, "stand_plots": {"tree_count": Asked(("a/s/1",))}})["tallies"]
    assert [c.either for c in both][:2] == [("plot", "stand_plot")] * 2


@pytest.mark.parametrize("name", SHEETS)
def test_every_field_has_a_column_and_only_once(whole: openpyxl.Workbook, name: str) -> None:
    shown = [cell.value for cell in whole[name][1]]
    assert shown[0] == MARK_HEADING
    back = fields_by_heading(TABLES[name])
    assert sorted(back[text] for text in shown[1:]) == sorted(known_fields(TABLES[name]))


@pytest.mark.parametrize("name", SHEETS)
def test_every_drop_down_offers_the_words_of_the_vocabulary(whole: openpyxl.Workbook, name: str) -> None:
    lists = whole[LISTS_SHEET]
    for field in (f for f in TABLES[name].fields if f.name in known_fields(TABLES[name])):
        rule = rule_of(whole[name], field)
        expected = ("yes", "no") if field.kind == "yes_no" else field.classes if field.kind == "class" else ()
        if not expected:
            assert rule is None or LISTS_SHEET not in str(rule.formula1)
            continue
        assert rule is not None
        assert (rule.type, rule.errorStyle, rule.showErrorMessage) == ("list", "stop", True)
        # showDropDown hides the arrow, whatever its name says.
        assert not rule.showDropDown
        place = re.fullmatch(rf"{LISTS_SHEET}!(\$[A-Z]+\$\d+:\$[A-Z]+\$\d+)", rule.formula1)
        assert place is not None
        assert tuple(cell[0].value for cell in lists[place[1].replace("$", "")]) == expected


@pytest.mark.parametrize("name", SHEETS)
def test_references_are_chosen_from_the_sheet_they_lead_to(whole: openpyxl.Workbook, name: str) -> None:
    keys = {
        "loads": "ticket number", "trucks": "truck", "trailers": "trailer", "destinations": "destination",
        "streams": "stream", "banks": "bank", "plots": "plot", "stand_plots": "stand plot", "stands": "stand",
        "crossings": "crossing", "segments": "segment", "decks": "deck",
    }  # fmt: skip
    for field in (f for f in TABLES[name].fields if f.refers_to):
        rule = rule_of(whole[name], field)
        assert rule is not None
        # A truck may be named before its row is written.
        assert (rule.type, rule.errorStyle) == ("list", "warning")
        place = re.match(r"OFFSET\((\w+)!\$([A-Z]+)\$1,", rule.formula1)
        assert place is not None
        assert place[1] == field.refers_to
        assert whole[place[1]][f"{place[2]}1"].value == keys[place[1]]


@pytest.mark.parametrize("name", SHEETS)
def test_numbers_are_bounded_as_in_the_vocabulary(whole: openpyxl.Workbook, name: str) -> None:
    for field in (f for f in TABLES[name].fields if f.kind in ("whole", "number")):
        rule = rule_of(whole[name], field)
        assert rule is not None
        assert rule.type == ("whole" if field.kind == "whole" else "decimal")
        assert (float(rule.formula1), float(rule.formula2)) == (field.low, field.high)
        assert len(rule.error) <= 255


@pytest.mark.parametrize(
    ("name", "expected"),
    [("load_date", "yyyy-mm-dd"), ("scaled_at", "hh:mm"), ("gross_weight_lb", "#,##0"), ("ticket_number", "@"),
     ("overall_length_ft", "General"), ("product", "@")],
)  # fmt: skip
def test_cells_are_formatted_by_kind(whole: openpyxl.Workbook, name: str, expected: str) -> None:
    sheet = whole["loads"]
    field = TABLES["loads"].field(name)
    assert field is not None
    cell = sheet.cell(2, columns(sheet)[heading(field)])
    assert cell.number_format == sheet.column_dimensions[cell.column_letter].number_format == expected


@pytest.mark.parametrize("name", SHEETS)
def test_the_heading_row_stays_in_sight(whole: openpyxl.Workbook, name: str) -> None:
    assert whole[name].freeze_panes == "C2"


@pytest.mark.parametrize("name", SHEETS)
def test_the_second_row_is_the_example_and_the_last(whole: openpyxl.Workbook, name: str) -> None:
    sheet = whole[name]
    assert sheet["A2"].value == MARK
    assert sheet.max_row == 2
    shown = {h for h, column in columns(sheet).items() if sheet.cell(2, column).value is not None}
    fields = {f.name: heading(f) for f in TABLES[name].fields}
    assert shown == {MARK_HEADING, *(fields[n] for n in EXAMPLES[name])}


def test_example_cells_are_what_a_spreadsheet_would_hold(whole: openpyxl.Workbook) -> None:
    sheet = whole["loads"]
    at = columns(sheet)
    names = ["ticket number", "load date", "scaled at", "gross weight (lb)", "overall length (ft)", "dark"]
    assert [sheet.cell(2, at[name]).value for name in names] == [
        "EX-1001", dt.datetime(2026, 3, 2), dt.time(9, 15), 79460, 67.5, "no",
    ]  # fmt: skip


def test_the_example_rows_are_a_record_that_can_be_read() -> None:
    assert set(EXAMPLES) == set(SHEETS)
    record = record_from_rows({"job": [{"job": "EX", "state": "US-GA"}]} | {t: [row] for t, row in EXAMPLES.items()})
    assert {t: record.tables[t].height for t in SHEETS} == dict.fromkeys(SHEETS, 1)


def test_a_sheet_holds_what_is_asked_for_and_what_ties_it_to_others() -> None:
    shown = {t: [c.field.name for c in found] for t, found in sheet_columns(ASKED).items()}
    assert shown == {
        "trucks": ["truck", "kind"],
        "axles": ["truck", "trailer", "axle", "position_ft"],
        "destinations": ["destination"],
        "loads": ["ticket_number", "truck", "destination", "product", "gross_weight_lb"],
    }


def test_a_reference_that_may_be_blank_comes_with_the_sheet_it_leads_to() -> None:
    with_trailers = {**ASKED, "trailers": {"kind": Asked(("a/s/1",))}}
    assert "trailer" in [c.field.name for c in sheet_columns(with_trailers)["loads"]]


def test_other_fields_lie_folded_at_the_right() -> None:
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes(ASKED, "pine", all_fields=True)))
    sheet = book["loads"]
    main = [c.field.name for c in sheet_columns(ASKED, all_fields=True)["loads"] if not c.extra]
    assert main == ["ticket_number", "truck", "trailer", "destination", "product", "gross_weight_lb"]
    folded = [sheet.column_dimensions[cell.column_letter].hidden for cell in sheet[1]]
    assert folded == [False] * (1 + len(main)) + [True] * (len(known_fields(TABLES["loads"])) - len(main))


@pytest.mark.parametrize(
    ("table", "name", "expected"),
    [
        ("loads", "gross_weight_lb", "Loaded weight.\nWhole number, 1 to 250,000 lb.\nAsked for by a/w/1, a/w/2, a/w/3 and 1 more.\n"
         "Usual evidence; the law does not name it.\nName in other files: gross_weight_lb"),
        ("loads", "product", "What was hauled.\nOne of sawlogs, pulpwood, tree_length, poles, processed_logs, chips, biomass, firewood, "
         "other.\nAsked for by a/w/1.\nThe law demands this evidence.\nName in other files: product"),
        ("loads", "truck", 'Unit number.\nAs on the sheet "trucks", under "truck".\nMust be filled in every row.\n'
         "Ties the rows of the sheets together.\nName in other files: truck"),
    ],
)  # fmt: skip
def test_notes_on_headings(table: str, name: str, expected: str) -> None:
    column = next(c for c in sheet_columns(ASKED)[table] if c.field.name == name)
    assert note(column) == expected
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes(ASKED, "pine")))
    assert book[table].cell(1, columns(book[table])[heading(column.field)]).comment.text == expected


def test_a_field_that_excludes_another_says_so() -> None:
    found = sheet_columns({"stacks": {"packed": Asked(("a/s/1",))}})["stacks"]
    said = [c.field.name for c in found if "either load or truck, not both" in note(c)]
    assert said == ["load", "truck"]


def test_the_first_sheet_lists_the_others(whole: openpyxl.Workbook) -> None:
    text = [cell.value for row in whole[FIRST_SHEET] for cell in row]
    assert set(SHEETS) <= set(text)
    assert "Fill in job.yaml too, save both files, and run: auditor check pine" in text


@pytest.mark.parametrize("code", ["RIDGE-7", "a: b", "#7", "7", 'the "old" tract', "Süd", "- x"])
def test_the_job_file_reads_back(code: str) -> None:
    text = job_file_text(code, "US-SC", {**ASKED["job"], "harvest_type": Asked(("a/s/1",))}, "record.xlsx")
    job, _ = load_yaml_text(text.encode("utf-8"), "job.yaml")
    assert isinstance(job, dict)
    assert {k: v for k, v in job.items() if v} == {"job": code, "state": "US-SC", "workbook": "record.xlsx"}
    # What no rule reads and no job needs is not asked for.
    assert set(job) == {*ALWAYS_SAID, "sold_by_load", "harvest_type", "workbook"}
    assert "what kind of harvest; one of clearcut, " in text
    by_law = [line.split(":")[0] for line in text.splitlines() if "the law demands this evidence" in line]
    assert by_law == ["sold_by_load"]


def test_words_of_a_list_field_cannot_be_chosen_singly() -> None:
    field = TABLES["tickets"].field("contents")
    assert field is not None
    assert words_of(field) == ()


def test_csv_headings_may_be_in_words(tmp_path: Path) -> None:
    folder = tmp_path / "pine"
    folder.mkdir()
    (folder / "job.yaml").write_text("job: P\nstate: US-GA\ntables:\n  trucks: trucks.csv\n", encoding="utf-8")
    (folder / "trucks.csv").write_text("truck,kind,registered gross (lb)\nT1,tractor,80000\n", encoding="utf-8")
    assert read_jobs([folder]).tables["trucks"]["registered_gross_lb"].to_list() == [80000]
