"""Writing a report to a file, in the form its extension names."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from auditor.report.atomic import write_whole
from auditor.report.json_text import report_json
from auditor.report.model import Report
from auditor.report.terminal import report_text
from auditor.vocabulary.problems import Problem, UnusableInput, system_reason

TEXT_COLUMNS = 100


def write_report(report: Report, path: Path) -> None:
    """Write the report in the form that the extension of `path` names; whole or not at all.

    .pdf and .html are pages for reading, .json is the whole report for programs, .xlsx a workbook, .csv the loads under
    each finding, .txt what the terminal shows; .geojson and .gpkg hold the map with the required zones and what lies in them.

    Raises UnusableInput where the extension is unknown, the folder is missing or the file cannot be written.
    """
    make = _FORMS.get(path.suffix.lower())
    if make is None:
        raise _unusable(
            path, path.suffix or "no extension", f"one of {', '.join(_FORMS)}", "Name the report with one of these."
        )
    if not path.parent.is_dir():
        raise _unusable(path, "no folder of that name", f"the folder {path.parent}", "Make it or name another.")
    if make is _csv and "findings" in report.left_out:
        # A file without rows would read as a report without findings.
        raise _unusable(
            path, "a report whose findings were left out", "the findings, all that a CSV holds", "Leave it."
        )
    if make in (_geojson, _gpkg) and not any(job.map for job in report.jobs):
        raise _unusable(path, "a report without a map", "maps in a job folder, and the map part left in", "Leave it.")
    content = make(report)
    try:
        write_whole(path, content)
    except OSError as error:
        found = system_reason(error)
        raise _unusable(path, found, "a file that can be written", "Free it or name another.") from error


def _unusable(path: Path, found: str, expected: str, todo: str) -> UnusableInput:
    return UnusableInput([Problem(str(path), "", "", found, expected, todo)])


def _pdf(report: Report) -> bytes:
    # The PDF libraries are slow to load, and only a PDF needs them.
    from auditor.report.pdf import pdf_bytes

    return pdf_bytes(report)


def _html(report: Report) -> bytes:
    from auditor.report.html import html_bytes

    return html_bytes(report)


def _csv(report: Report) -> bytes:
    from auditor.report.spreadsheet import csv_bytes

    return csv_bytes(report)


def _xlsx(report: Report) -> bytes:
    from auditor.report.spreadsheet import xlsx_bytes

    return xlsx_bytes(report)


def _geojson(report: Report) -> bytes:
    from auditor.report.geodata import geojson_bytes

    return geojson_bytes(report)


def _gpkg(report: Report) -> bytes:
    from auditor.report.geodata import gpkg_bytes

    return gpkg_bytes(report)


def _text(report: Report) -> bytes:
    return report_text(report, TEXT_COLUMNS).encode("utf-8")


_FORMS: dict[str, Callable[[Report], bytes]] = {
    ".pdf": _pdf, ".html": _html, ".json": report_json, ".xlsx": _xlsx, ".csv": _csv, ".txt": _text,
    ".geojson": _geojson, ".gpkg": _gpkg,
}  # fmt: skip
