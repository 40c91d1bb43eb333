"""CSV and XLSX: which columns there are, what stands in them, and that no cell is a formula."""

from __future__ import annotations

import csv
import datetime as dt
import io
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from auditor.report import wording as say
from auditor.report.model import Report
from auditor.report.privacy import as_draft, with_parts
from auditor.report.sheets import COLUMNS, SHEETS, defused
from auditor.report.spreadsheet import csv_bytes, xlsx_bytes
from auditor.report.writing import write_report
from auditor.vocabulary.problems import UnusableInput
from tests.report.sample_report import many_jobs, one_job
from tests.report.sample_site import site_report

ROOT = Path(__file__).resolve().parents[2]
ONE, MANY, SITE = one_job(), many_jobs(), site_report()

ITEM_COLUMNS = [
    "job",
    "finding_id",
    "number",
    "kind",
    "grade",
    "title",
    "place",
    "topic",
    "rule",
    "standing",
    "duty_of",
    "confirmed",
    "second_hand",
    "subject",
    "subject_count",
    "tolerated_count",
    "judged_count",
    "name",
    "date",
    "part",
    "vehicle",
    "destination",
    "measured",
    "boundary",
    "limit",
    "unit",
    "margin",
    "tolerated",
    "tolerated_limit",
    "limit_key",
    "to_mend",
    "further_rows",
    "source",
    "action",
    "caution",
    "draft",
    "names",
]
"""Names that others build on: they stay, and new ones come behind."""
SHEET_NAMES = [
    "conclusion", "findings", "items", "walk", "judgements", "scores", "missing evidence", "coverage", "limits",
    "evidence files", "columns",
]  # fmt: skip


def _csv(report: Report) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(csv_bytes(report).decode("utf-8-sig"), newline="")))


def _rows(report: Report, name: str) -> list[dict[str, object]]:
    sheet = load_workbook(io.BytesIO(xlsx_bytes(report)))[name]
    head, *rows = sheet.iter_rows(values_only=True)
    return [dict(zip(map(str, head), row, strict=True)) for row in rows]


def test_the_names_of_the_csv_columns_stay() -> None:
    head = csv_bytes(ONE).decode("utf-8-sig").split("\r\n")[0].split(",")
    assert head[: len(ITEM_COLUMNS)] == ITEM_COLUMNS


def test_the_csv_has_a_row_for_each_load_under_each_finding() -> None:
    rows = _csv(MANY)
    expected = [(j.job, f.id, i.subject) for j in MANY.jobs for f in j.findings for i in f.items]
    assert [(row["job"], row["finding_id"], row["name"]) for row in rows] == expected
    # The worst of the gross weights: 84,020 + 29 x 160 = 88,660 lb against 84,000 lb.
    first = rows[0]
    assert [first[n] for n in ("measured", "boundary", "limit", "unit", "margin")] == [
        "88660", "at most", "84000", "lb", "4660",
    ]  # fmt: skip
    assert [first[n] for n in ("date", "tolerated", "confirmed", "draft")] == ["2026-03-31", "no", "yes", "no"]


def test_what_is_not_known_is_blank_and_not_no() -> None:
    by_rule = {row["rule"]: row for row in _csv(ONE)}
    bare = by_rule["us-xx/weight/rule-4"]
    assert [bare[n] for n in ("measured", "limit", "unit", "margin", "tolerated", "limit_key")] == [""] * 6


def test_a_finding_without_items_keeps_its_row() -> None:
    report = ONE.model_copy(deep=True)
    report.jobs[0].findings[3].items = []
    rows = [row for row in _csv(report) if row["number"] == "4"]
    assert len(rows) == 1 and rows[0]["title"] == "Permit shown for the overweight load" and rows[0]["name"] == ""


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "  =1", "\N{FULLWIDTH EQUALS SIGN}1"]
)
def test_cells_that_begin_like_formulas_are_defused_in_both(text: str) -> None:
    report = ONE.model_copy(deep=True)
    report.jobs[0].job = report.jobs[0].findings[0].items[0].subject = text
    first = _csv(report)[0]
    assert first["name"].startswith("'") and first["job"].startswith("'")
    assert _rows(report, "items")[0]["name"] == first["name"]


@settings(deadline=None, max_examples=40)
@given(st.text(max_size=60))
def test_no_text_of_a_record_becomes_a_formula_or_breaks_a_row(words: str) -> None:
    report = ONE.model_copy(deep=True)
    job = report.jobs[0]
    job.findings[0].items[0].subject = job.findings[0].items[0].source = words
    rows = _csv(report)
    assert len(rows) == sum(len(f.items) for f in job.findings)
    assert not rows[0]["name"].startswith(("=", "+", "-", "@", "\t", "\r"))
    sheet = load_workbook(io.BytesIO(xlsx_bytes(report)))["items"]
    assert {c.data_type for row in sheet.iter_rows() for c in row} <= {"s", "n", "d"}


def test_numbers_below_nothing_stay_numbers() -> None:
    report = ONE.model_copy(deep=True)
    report.jobs[0].findings[0].items[0].measured = -2.0
    assert _csv(report)[0]["measured"] == "-2"
    assert _rows(report, "items")[0]["measured"] == -2
    assert defused("-2") == "'-2", "a ticket of that text is no number"


def test_the_workbook_has_its_sheets_and_rows() -> None:
    book = load_workbook(io.BytesIO(xlsx_bytes(MANY)))
    assert book.sheetnames == SHEET_NAMES
    jobs = MANY.jobs
    counts = {
        "conclusion": len(jobs), "findings": sum(len(j.findings) for j in jobs),
        "items": sum(len(f.items) for j in jobs for f in j.findings), "walk": 0, "judgements": 0, "scores": 0,
        "missing evidence": sum(len(j.missing) for j in jobs), "coverage": sum(len(j.coverage) for j in jobs),
        "limits": sum(len(j.limits) for j in jobs), "evidence files": sum(len(j.evidence) for j in jobs),
        "columns": sum(len(s.columns) for s in SHEETS),
    }  # fmt: skip
    assert {sheet.title: sheet.max_row - 1 for sheet in book} == counts
    for sheet in book:
        assert isinstance(sheet, Worksheet) and sheet.freeze_panes == "B2"


def test_cells_have_the_kind_of_their_value() -> None:
    first = _rows(ONE, "items")[0]
    assert first["measured"] == 88660 and first["name"] == "10318" and first["tolerated"] == "no"
    assert first["date"] == dt.datetime(2026, 3, 31)
    share = next(row for row in _rows(ONE, "limits") if row["unit"] == "share")
    assert share["value"] == pytest.approx(1 / 6)


def test_the_conclusion_says_what_kind_of_report_it_is() -> None:
    (row,) = _rows(as_draft(with_parts(ONE, ["findings", "weights"])), "conclusion")
    assert row["draft"] == "yes" and row["names"] == "as recorded"
    assert str(row["left_out"]).startswith("missing, open questions")
    assert all(sentence in str(row["cautions"]) for sentence in say.STATEMENT)


def test_facts_that_advice_alone_asks_for_come_last() -> None:
    report = ONE.model_copy(deep=True)
    report.jobs[0].missing[0].advice_only = True
    rows = _rows(report, "missing evidence")
    assert [row["demanded_by_law"] for row in rows] == ["yes", "yes", "no"]
    assert rows[-1]["advice_only"] == "yes" and rows[-1]["fact"] == "axle_weights.weight_lb"


def test_every_column_is_explained_and_named_once_in_its_sheet() -> None:
    for sheet in (*SHEETS, COLUMNS):
        names = [column.name for column in sheet.columns]
        assert len(names) == len(set(names)), sheet.name
        assert all(re.fullmatch(r"[a-z][a-z0-9_]*", name) for name in names)
    told = _rows(ONE, "columns")
    assert [(r["sheet"], r["column"]) for r in told] == [(s.name, c.name) for s in SHEETS for c in s.columns]
    assert all(len(str(r["meaning"])) > 3 for r in told)


def test_the_walk_has_a_row_for_each_rule_at_each_place() -> None:
    job = SITE.jobs[0]
    rows = _rows(SITE, "walk")
    expected = [(s.name, o.rule, o.outcome, o.finding) for s in job.walk for o in s.outcomes]
    assert [(r["name"], r["rule"], r["outcome"], r["finding"]) for r in rows] == expected
    assert (rows[0]["topic"], rows[0]["judgements"]) == ("streamside", "O1, O2")


def test_judgements_and_scores_are_whole_and_keep_their_blanks() -> None:
    first, *_, last = _rows(SITE, "judgements")
    assert len(_rows(SITE, "judgements")) == 11
    assert (first["answer"], first["agrees"], first["significant_risk"], first["photo_latitude_deg"]) == (
        "no",
        "yes",
        "yes",
        34.8161,
    )
    assert (last["agrees"], last["photo_latitude_deg"], last["observer"]) == (None, None, None)
    scores = {r["category"]: r for r in _rows(SITE, "scores")}
    assert (scores["all"]["low_pct"], scores["all"]["high_pct"], scores["all"]["published_pct"]) == (50, 60, 94.1)
    assert scores["chemical_application"]["low_pct"] is None


def test_the_csv_says_where_along_its_bank_or_trail_an_item_lies() -> None:
    (row,) = (r for r in _csv(SITE) if r["part"] == "station 5, right side, of ALDER")
    assert (row["name"], row["from_ft"], row["to_ft"]) == ("AL-right", "400", "480.5")
    assert {r["from_ft"] for r in _csv(ONE)} == {""}


def test_a_csv_without_findings_is_refused_where_they_were_left_out(tmp_path: Path) -> None:
    with pytest.raises(UnusableInput, match="findings were left out"):
        write_report(with_parts(ONE, ["missing"]), tmp_path / "report.csv")
    assert list(tmp_path.iterdir()) == []


def test_the_clock_leaves_no_trace(monkeypatch: pytest.MonkeyPatch) -> None:
    before = xlsx_bytes(ONE)
    monkeypatch.setattr("time.time", lambda: 2_000_000_000.0)
    monkeypatch.setattr("time.localtime", lambda *_: (2033, 5, 18, 3, 33, 20, 2, 138, 0))
    assert xlsx_bytes(ONE) == before
    with zipfile.ZipFile(io.BytesIO(before)) as archive:
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        core = archive.read("docProps/core.xml").decode()
    assert re.findall(r"dcterms:\w+ [^>]*>([^<]*)", core) == ["2026-05-04T00:00:00Z"] * 2


def test_two_processes_with_other_hash_seeds_give_the_same_bytes() -> None:
    code = (
        "import hashlib\n"
        "from auditor.report.spreadsheet import csv_bytes, xlsx_bytes\n"
        "from tests.report.sample_report import one_job\n"
        "print(*(hashlib.sha256(make(one_job())).hexdigest() for make in (csv_bytes, xlsx_bytes)))\n"
    )
    outputs = {
        subprocess.run(
            [sys.executable, "-c", code], cwd=ROOT, env=os.environ | {"PYTHONHASHSEED": seed, "TZ": zone},
            capture_output=True, text=True, check=True,
        ).stdout
        for seed, zone in (("1", "UTC"), ("4242", "Pacific/Auckland"))
    }  # fmt: skip
    assert len(outputs) == 1
