"""From nothing to a first report: `auditor start`, a workbook filled by hand, `auditor check`."""

from __future__ import annotations

import datetime as dt
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import openpyxl
import pytest

import auditor
from auditor.cli import EVIDENCE_MISSING, NONCONFORMITIES, NOTHING_FOUND, UNUSABLE, main
from auditor.record.form import fields_by_heading, heading
from auditor.record.mapping import known_fields
from auditor.vocabulary import TABLES
from tests.house.tree import ROOT
from tests.record.jobs import messages
from tests.record.workbooks import columns, fill

SAMPLE = ROOT / "sample_jobs" / "ridge_thinning"
FEW: dict[str, list[dict[str, Any]]] = {
    "trucks": [{"truck": "T1", "kind": "tractor"}],
    "trailers": [{"trailer": "L1", "kind": "frame"}],
    "destinations": [{"destination": "PINEHURST", "kind": "first_processing", "haul_radius_miles": 42}],
    "legs": [{"destination": "PINEHURST", "leg": 1, "state": "US-GA", "road_class": "state_route", "county": "Warren"}],
    "loads": [
        {
            "ticket_number": f"07{n:02}",
            "load_date": dt.date(2026, 3, 2 + n),
            "truck": "T1",
            "trailer": "L1",
            "destination": "PINEHURST",
            "product": "sawlogs",
            "origin_kind": "forest",
            # Nine loads of 79,000 lb and one of 90,000 lb: over 80,000 lb and ten percent of it.
            "gross_weight_lb": 90000 if n == 9 else 79000,
        }
        for n in range(10)
    ],
}


SITE: dict[str, list[dict[str, Any]]] = {
    "streams": [
        {"stream": "MILL", "kind": "stream", "stream_class": "perennial", "trout_waters": "none", "navigable": "no"}
    ],
    "banks": [
        {"bank": "M-left", "stream": "MILL", "harvested_on": dt.date(2026, 5, 8), "length_ft": 300, "slope_pct": 12}
    ],
    # South Carolina, figure 2 of the manual: 40 ft of primary zone, on 5 to 20 percent 40 ft of secondary zone behind it.
    "stations": [
        {"bank": "M-left", "station": n, "along_ft": along_ft, "zone_width_ft": width_ft, "method": "tape",
         "measured_along": "horizontal", "measured_from": "bank"}
        for n, along_ft, width_ft in ((1, 50, 84), (2, 150, 61), (3, 250, 33))
    ],
    # Table 3: water bars on 10 percent 80 ft apart; the gaps are 75, 75 and 100 ft.
    "segments": [
        {"segment": "T1", "kind": "skid_trail", "length_ft": 250, "grade_pct": 10, "drains_listed": "yes"}
    ],
    "drains": [
        {"segment": "T1", "drain": n, "kind": "water_bar", "along_ft": 75 * n, "outlet": "forest_floor"} for n in (1, 2)
    ],
    # Table 1, mountains, 50 acres, temporary: one pipe of 24 in.
    "crossings": [
        {"crossing": "X1", "stream": "MILL", "segment": "T1", "crossing_type": "culvert", "temporary": "yes",
         "removed_on": dt.date(2026, 5, 11), "drainage_area_acres": 50, "region": "mountains"}
    ],
    "pipes": [{"crossing": "X1", "pipe": 1, "pipe_count": 1, "diameter_in": 24}],
}  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A job started for Georgia, all topics of the haul, nothing filled in."""
    return auditor.start(tmp_path / "pine", ["US-GA"])


@pytest.fixture
def filled(folder: Path) -> Path:
    """The same with ten loads."""
    fill(folder / "record.xlsx", FEW)
    return folder


def edit(folder: Path, table: str, cell: str, value: object) -> None:
    """Type a value into a cell; "gross weight (lb)3" names one by its heading."""
    book = openpyxl.load_workbook(folder / "record.xlsx")
    sheet = book[table]
    name, row = cell[:-1], int(cell[-1])
    sheet.cell(row, columns(sheet)[name]).value = value
    book.save(folder / "record.xlsx")


def test_from_nothing_to_a_first_report(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    folder = tmp_path / "pine"
    assert main(["start", str(folder), "--place", "US-GA", "--place", "US-SC", "--topics", "haul"]) == NOTHING_FOUND
    assert capsys.readouterr().out.splitlines() == [
        f"Made {folder}, with job.yaml and record.xlsx to fill in.",
        "Open record.xlsx: its first sheet says how to fill it, and every heading says",
        "what is asked for and why.",
        f"Then run: auditor check {folder}",
    ]
    assert sorted(p.name for p in tmp_path.rglob("*")) == ["job.yaml", "pine", "record.xlsx"]
    fill(folder / "record.xlsx", FEW)
    assert main(["check", str(folder), "--audit-date", "2026-04-01"]) == NONCONFORMITIES
    shown = capsys.readouterr().out
    assert "10 loads, 2 March 2026 to 11 March 2026" in shown
    assert "0709" in shown


def test_a_forester_types_a_site_into_the_workbook(tmp_path: Path) -> None:
    folder = tmp_path / "mill"
    assert main(["start", str(folder), "--place", "US-SC", "--topics", "ground"]) == NOTHING_FOUND
    fill(folder / "record.xlsx", SITE)
    job = (folder / "job.yaml").read_text(encoding="utf-8")
    job = re.sub(r"(?m)^operation_end: ", "operation_end: 2026-05-12 ", job)
    (folder / "job.yaml").write_text(f"{job}criteria: [streamside]\n", encoding="utf-8")
    (report,) = auditor.audit([folder], dt.date(2026, 6, 1)).jobs
    found = {(f.rule, f.kind, i.subject, i.what.split(",")[0]) for f in report.findings for i in f.items}
    assert {row for row in found if row[0].startswith("us-sc/")} == {
        ("us-sc/streamside/zone-width", "nonconformity", "M-left", "station 3"),
        # The whole zone of 80 ft: stations 2 (61 ft) and 3 (33 ft).
        ("us-sc/streamside/whole-zone", "nonconformity", "M-left", "station 2"),
        ("us-sc/streamside/whole-zone", "nonconformity", "M-left", "station 3"),
        ("us-sc/trails/trail-drains", "departure from practice", "T1", "150 to 250 ft"),
    }
    shortfall = {f.rule: max(i.margin or 0 for i in f.items) for f in report.findings if f.items}
    # 40 - 33; 80 - 33; 100 - 80
    assert shortfall["us-sc/streamside/zone-width"] == pytest.approx(7)
    assert shortfall["us-sc/streamside/whole-zone"] == pytest.approx(47)
    assert shortfall["us-sc/trails/trail-drains"] == pytest.approx(20)
    assert main(["check", str(folder), "--audit-date", "2026-06-01"]) == NONCONFORMITIES


def test_the_job_file_of_a_site_asks_what_its_rules_read(tmp_path: Path) -> None:
    text = (auditor.start(tmp_path / "mill", ["US-NC"], ["ground"]) / "job.yaml").read_text(encoding="utf-8")
    said = {line.split(":")[0] for line in text.splitlines() if not line.startswith("#")}
    assert {"operation_end", "harvest_completed_on", "special_areas_checked", "spill_could_reach_water"} <= said
    # Only wood load tickets depend on how the timber was sold.
    assert "sold_by_load" not in said


def test_haul_and_ground_in_one_workbook(tmp_path: Path) -> None:
    folder = auditor.start(tmp_path / "both", ["US-SC", "US-GA"], ["haul", "ground"])
    names = openpyxl.load_workbook(folder / "record.xlsx").sheetnames
    order = [
        "trucks",
        "legs",
        "documents",
        "loads",
        "tickets",
        "streams",
        "banks",
        "stations",
        "crossings",
        "pipes",
        "segments",
        "drains",
    ]
    assert [n for n in names if n in order] == order
    fill(folder / "record.xlsx", {**FEW, **SITE})
    (report,) = auditor.audit([folder], dt.date(2026, 6, 1)).jobs
    assert {c.subject: c.count for c in report.conclusion.counts}.items() >= {
        "load": 10,
        "bank": 1,
        "crossing": 1,
    }.items()


@pytest.mark.parametrize("place", ["US-KY", "US-TX", "US-AR"])
def test_a_site_can_be_started_in_any_state(tmp_path: Path, place: str) -> None:
    """Kentucky and Texas have rules on sowing; in Arkansas the federal rules alone ask."""
    folder = auditor.start(tmp_path / "site", [place], ["ground"])
    names = set(openpyxl.load_workbook(folder / "record.xlsx").sheetnames)
    assert {"crossings", "tanks", "observations"} <= names
    assert not {"loads", "legs", "trucks"} & names
    assert ("seedings" in names) is (place in ("US-KY", "US-TX"))
    assert {t for t, f in auditor.read_jobs([folder]).tables.items() if f.height} == {"job"}


def test_a_topic_without_any_rule_makes_no_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["start", str(tmp_path / "pine"), "--place", "US-AR", "--topics", "streamside"]) == UNUSABLE
    assert "topic: found no rule on streamside for US-AR; expected a topic with rules there." in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_new_job_can_be_read_and_holds_nothing(folder: Path) -> None:
    record = auditor.read_jobs([folder])
    assert record.tables["job"].select("job", "state").rows() == [("pine", "US-GA")]
    assert {t for t, frame in record.tables.items() if frame.height} == {"job"}
    assert [file.path for file in record.evidence] == ["job.yaml", "record.xlsx"]
    assert main(["check", str(folder)]) in (NOTHING_FOUND, EVIDENCE_MISSING)


def test_the_example_row_is_no_load(filled: Path) -> None:
    tables = auditor.read_jobs([filled]).tables
    assert {t: f.height for t, f in tables.items() if f.height} == {t: len(r) for t, r in FEW.items()} | {"job": 1}
    assert tables["loads"]["_row"].to_list() == list(range(3, 13))
    assert tables["loads"]["_sheet"].unique().to_list() == ["loads"]


def test_the_example_row_may_be_deleted_or_moved_to_the_end(filled: Path) -> None:
    book = openpyxl.load_workbook(filled / "record.xlsx")
    book["trucks"].delete_rows(2)
    loads = book["loads"]
    for column in range(1, loads.max_column + 1):
        loads.cell(13, column, loads.cell(2, column).value)
    loads.delete_rows(2)
    book.save(filled / "record.xlsx")
    tables = auditor.read_jobs([filled]).tables
    assert tables["loads"]["load"].to_list() == [f"07{n:02}" for n in range(10)]
    assert tables["trucks"]["truck"].to_list() == ["T1"]


ONE = {
    "a sheet renamed": (
        "rename:tickets",
        'pine/record.xlsx: found the sheet "tickets 2026"; expected a sheet named like a table of the record. '
        'Name it "tickets" again if it was that, or keep it in a file of its own.',
    ),
    "the sheet that others refer to renamed": (
        "rename:loads",
        'pine/record.xlsx: found the sheet "loads 2026"; expected a sheet named like a table of the record. '
        'Name it "loads" again if it was that, or keep it in a file of its own.',
    ),
    "a heading changed": (
        ("loads", "gross weight (lb)1", "gross weight lbs"),
        'pine/record.xlsx, sheet loads, row 1: found the heading "gross weight lbs"; expected a field of loads. '
        'Write "gross weight (lb)" again if it was that, or take the column out.',
    ),
    "the heading of a key changed": (
        ("trucks", "truck1", "trucks"),
        'pine/record.xlsx, sheet trucks, row 1: found the heading "trucks"; expected a field of trucks. '
        'Write "truck" again if it was that, or take the column out.',
    ),
    "a formula that was never calculated": (
        ("loads", "gross weight (lb)3", "=79000+1"),
        'pine/record.xlsx, sheet loads, row 3, gross_weight_lb: found "=79000+1"; expected a value. '
        "Mend the formula in the spreadsheet, let it calculate, and save the file again.",
    ),
    "text in a number column": (
        ("loads", "gross weight (lb)3", "about 79000"),
        'pine/record.xlsx, sheet loads, row 3, gross_weight_lb: found "about 79000"; expected a whole number in lb. '
        "Correct the value, or leave it blank if it is not known.",
    ),
    "a number out of bounds": (
        ("loads", "gross weight (lb)3", 790000),
        'pine/record.xlsx, sheet loads, row 3, gross_weight_lb: found "790000"; expected 1 to 250,000 lb. '
        "Correct the value.",
    ),
    "a word that is not on the list": (
        ("trucks", "kind3", "traktor"),
        'pine/record.xlsx, sheet trucks, row 3, kind: found "traktor"; expected one of tractor, straight_truck. '
        "Did you mean tractor?",
    ),
    "neither yes nor no": (
        ("loads", "dark3", "maybe"),
        'pine/record.xlsx, sheet loads, row 3, dark: found "maybe"; expected yes or no. Write yes or no.',
    ),
    "a truck that is on no sheet": (
        ("loads", "truck3", "T7"),
        'pine/record.xlsx, sheet loads, row 3, truck: found "T7"; expected a truck of the table trucks. '
        "Did you mean T1?",
    ),
    "a row of one's own over the example": (
        ("loads", "ticket number2", "0699"),
        "pine/record.xlsx, sheet loads, row 2, example row: found a row marked as the example with other values in it; "
        "expected the example as it was, or a row of your own without the mark. "
        'Take the word "example" out of the first column if the row is yours, or delete the row.',
    ),
    "the mark taken off the example": (
        ("trucks", "example row2", None),
        'pine/record.xlsx, sheet trucks, row 2, example row: found the example row without the word "example" beside '
        "it; expected rows of your own. Delete the row.",
    ),
    "a remark in the first column": (
        ("trucks", "example row3", "new"),
        'pine/record.xlsx, sheet trucks, row 3, example row: found a text other than "example"; expected "example" or '
        "a blank. Clear the cell; the first column only marks the example.",
    ),
}


@pytest.mark.parametrize("name", ONE)
def test_one_mistake_gives_one_message(tmp_path: Path, filled: Path, name: str) -> None:
    mistake, message = ONE[name]
    if isinstance(mistake, str):
        book = openpyxl.load_workbook(filled / "record.xlsx")
        table = mistake.removeprefix("rename:")
        book[table].title = f"{table} 2026"
        # Formulas of the drop-downs do not matter for reading.
        book.save(filled / "record.xlsx")
    else:
        edit(filled, *mistake)
    assert messages(tmp_path, [filled]) == [message]


def test_a_sheet_for_the_job_is_sent_to_the_job_file(tmp_path: Path, filled: Path) -> None:
    book = openpyxl.load_workbook(filled / "record.xlsx")
    book.create_sheet("job")
    book.save(filled / "record.xlsx")
    assert messages(tmp_path, [filled]) == [
        'pine/record.xlsx: found the sheet "job"; expected a sheet named like a table of the record. '
        "Move what it says to job.yaml and delete the sheet."
    ]


def test_a_sheet_without_a_cell_is_an_empty_table(filled: Path) -> None:
    book = openpyxl.load_workbook(filled / "record.xlsx")
    book["tickets"].delete_rows(1, 5)
    book.save(filled / "record.xlsx")
    assert auditor.read_jobs([filled]).tables["tickets"].height == 0


@pytest.mark.parametrize(
    ("said", "message"),
    [
        ("workbook: record.csv", 'pine/job.yaml, line 2, workbook: found "record.csv"; expected a file that ends in '
         ".xlsx. Name a workbook with one sheet for each table, or list the file under tables."),
        ("workbook: records.xlsx", 'pine/job.yaml, line 2, file: found "records.xlsx"; expected a file that exists. '
         "Did you mean record.xlsx?"),
        ("workbook:", 'pine/job.yaml, line 2, workbook: found ""; expected a value that is not blank. Correct the value.'),
        ("workbook: record.xlsx\ntables:\n  loads: {file: record.xlsx, sheet: loads}",
         "pine/job.yaml, line 4, file: found record.xlsx a second time in loads; expected each source once. "
         "Take one of the two out."),
    ],
)  # fmt: skip
def test_the_workbook_key(tmp_path: Path, filled: Path, said: str, message: str) -> None:
    (filled / "job.yaml").write_text(f"job: pine\n{said}\nstate: US-GA\n", encoding="utf-8")
    assert messages(tmp_path, [filled]) == [message]


def test_further_tables_stand_beside_the_workbook(filled: Path) -> None:
    with (filled / "job.yaml").open("a", encoding="utf-8") as file:
        file.write("tables:\n  loads: mill_export.csv\n")
    (filled / "mill_export.csv").write_text("ticket_number,truck,destination\nM1,T1,PINEHURST\n", encoding="utf-8")
    loads = auditor.read_jobs([filled]).tables["loads"]
    assert loads["load"].to_list() == [*(f"07{n:02}" for n in range(10)), "M1"]
    assert loads["_file"].to_list() == ["record.xlsx"] * 10 + ["mill_export.csv"]


def test_a_workbook_gives_the_same_record_as_other_files(tmp_path: Path) -> None:
    """Every row of the sample job, typed into the workbook cell by cell."""
    wanted = auditor.read_jobs([SAMPLE]).tables
    folder = auditor.start(tmp_path / "again", ["US-GA", "US-SC"], all_fields=True)
    rows = {
        name: [_cells(name, row) for row in frame.iter_rows(named=True)]
        for name, frame in wanted.items()
        if name != "job"
    }
    fill(folder / "record.xlsx", rows)
    job = _cells("job", wanted["job"].row(0, named=True))
    said = "".join(f"{name}: {value}\n" for name, value in job.items())
    (folder / "job.yaml").write_text(f"{said}workbook: record.xlsx\n", encoding="utf-8")
    got = auditor.read_jobs([folder]).tables
    provenance = ["_file", "_sheet", "_row"]
    for name, frame in wanted.items():
        assert frame.drop(provenance).equals(got[name].drop(provenance)), name
    assert sum(frame.height for frame in wanted.values()) > 500


def _cells(table: str, row: dict[str, Any]) -> dict[str, Any]:
    cells = {}
    for name in known_fields(TABLES[table]):
        value = row[name]
        if isinstance(value, bool):
            value = "yes" if value else "no"
        if isinstance(value, list):
            value = "; ".join(value)
        if value is not None:
            cells[name] = value
    return cells


def test_what_the_report_misses_has_a_column_to_fill(filled: Path) -> None:
    report = auditor.check(auditor.read_jobs([filled]), auditor.read_rules(["US-GA"]), dt.date(2026, 4, 1))
    book = openpyxl.load_workbook(filled / "record.xlsx")
    shown = {f"job.{name}" for name in fields_by_heading(TABLES["job"]).values()}
    for name in set(book.sheetnames) & set(TABLES):
        shown |= {f"{name}.{fields_by_heading(TABLES[name])[h]}" for h in columns(book[name]) if h != "example row"}
    asked = {fact for missing in report.jobs[0].missing for fact in missing.fact.split(", ")}
    assert len(asked) > 20
    assert asked - shown == set()


def test_single_topics_and_all_fields(tmp_path: Path) -> None:
    few = openpyxl.load_workbook(auditor.start(tmp_path / "few", ["us-ga"], ["tickets"]) / "record.xlsx")
    assert few.sheetnames[1:-1] == ["trucks", "destinations", "legs", "loads", "axle_weights", "tickets"]
    many = openpyxl.load_workbook(auditor.start(tmp_path / "many", ["US-GA"], ["tickets"], True) / "record.xlsx")
    assert len(many.sheetnames) == len(TABLES) + 1
    driver = TABLES["loads"].field("driver")
    assert driver is not None
    assert heading(driver) in columns(many["loads"])
    assert heading(driver) not in columns(few["loads"])


def test_a_folder_that_holds_something_is_left_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "pine"
    folder.mkdir()
    (folder / "notes.txt").write_text("mine", encoding="utf-8")
    assert main(["start", str(folder), "--place", "US-GA"]) == UNUSABLE
    assert capsys.readouterr().err.splitlines()[0] == (
        f"{folder}: found a folder that is not empty; expected a new or empty folder. Name another folder."
    )
    assert [p.name for p in tmp_path.rglob("*")] == ["pine", "notes.txt"]
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(auditor.UnusableInput, match="found a file of that name; expected a new or empty folder"):
        auditor.start(tmp_path / "file", ["US-GA"])


def test_an_empty_folder_is_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "oak").mkdir()
    monkeypatch.chdir(tmp_path / "oak")
    auditor.start(".", ["US-GA"])
    assert sorted(p.name for p in Path().iterdir()) == ["job.yaml", "record.xlsx"]
    assert auditor.read_jobs([Path()]).tables["job"]["job"].to_list() == ["oak"]


@pytest.mark.parametrize("exists", [True, False])
def test_a_failure_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, exists: bool) -> None:
    if exists:
        (tmp_path / "pine").mkdir()
    rename = Path.rename

    def fails(self: Path, target: Path) -> Path:
        if target.name in ("job.yaml", "pine"):
            raise OSError(28, "No space left on device")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", fails)
    with pytest.raises(auditor.UnusableInput, match="no space left on device"):
        auditor.start(tmp_path / "pine", ["US-GA"])
    assert [p.name for p in tmp_path.rglob("*")] == (["pine"] if exists else [])


def test_unknown_places_and_topics_make_no_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["start", str(tmp_path / "pine"), "--place", "US-GX", "--topics", "haul"]) == UNUSABLE
    assert main(["start", str(tmp_path / "pine"), "--place", "US-GA", "--topics", "hual"]) == UNUSABLE
    assert "Did you mean haul?" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("soffice") is None, reason="no LibreOffice here")
def test_saved_by_another_spreadsheet_program_it_reads_the_same(tmp_path: Path, filled: Path) -> None:
    wanted = auditor.read_jobs([filled]).tables
    out = tmp_path / "out"
    command = ["soffice", f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}", "--headless"]
    command += ["--convert-to", "xlsx", "--outdir", str(out), str(filled / "record.xlsx")]
    subprocess.run(command, check=True, capture_output=True, timeout=180)
    before = openpyxl.load_workbook(filled / "record.xlsx")
    after = openpyxl.load_workbook(out / "record.xlsx")
    for name in set(before.sheetnames) & set(TABLES):
        kept = [
            {(r.type, r.formula1) for r in book[name].data_validations.dataValidation if r.type == "list"}
            for book in (before, after)
        ]
        assert kept[0] == kept[1], name
    (out / "record.xlsx").replace(filled / "record.xlsx")
    got = auditor.read_jobs([filled]).tables
    assert all(wanted[t].equals(got[t]) for t in wanted)
