"""Reports written to files: by extension, whole or not at all."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from auditor.report.atomic import write_whole
from auditor.report.json_text import report_json
from auditor.report.model import Report
from auditor.report.writing import write_report
from auditor.vocabulary.problems import UnusableInput
from tests.report.sample_report import one_job

ROOT = Path(__file__).resolve().parents[2]
ONE = one_job()


def test_the_extension_chooses_the_form(tmp_path: Path) -> None:
    write_report(ONE, tmp_path / "report.json")
    write_report(ONE, tmp_path / "REPORT.TXT")
    write_report(ONE, tmp_path / "report.pdf")
    assert (tmp_path / "report.json").read_bytes() == report_json(ONE)
    text = (tmp_path / "REPORT.TXT").read_text(encoding="utf-8")
    assert text.startswith("Harvest audit: PINE-07\n") and "\x1b" not in text
    assert 80 < max(map(len, text.splitlines())) <= 100
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF-")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["REPORT.TXT", "report.json", "report.pdf"]


@pytest.mark.parametrize("name", ["report.docx", "report", "report.pdf.bak"])
def test_an_unknown_extension_is_one_problem_that_lists_the_known(tmp_path: Path, name: str) -> None:
    with pytest.raises(UnusableInput) as caught:
        write_report(ONE, tmp_path / name)
    (problem,) = caught.value.problems
    assert problem.expected == "one of .pdf, .html, .json, .xlsx, .csv, .txt, .geojson, .gpkg"
    assert name in problem.file
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_one_problem_and_is_not_made(tmp_path: Path) -> None:
    with pytest.raises(UnusableInput) as caught:
        write_report(ONE, tmp_path / "nowhere" / "report.json")
    (problem,) = caught.value.problems
    assert str(tmp_path / "nowhere") in problem.expected
    assert list(tmp_path.iterdir()) == []


def test_a_folder_of_that_name_is_a_problem_too(tmp_path: Path) -> None:
    (tmp_path / "report.json").mkdir()
    with pytest.raises(UnusableInput):
        write_report(ONE, tmp_path / "report.json")
    assert [p.name for p in tmp_path.iterdir()] == ["report.json"]


@pytest.mark.parametrize("failing", ["fsync", "replace"])
def test_a_failure_leaves_the_old_file_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str) -> None:
    path = tmp_path / "report.json"
    path.write_bytes(b"old")

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(*((os, "fsync") if failing == "fsync" else (Path, "replace")), full)
    with pytest.raises(UnusableInput, match="no space left on device"):
        write_report(ONE, path)
    assert path.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["report.json"]


def test_a_report_that_cannot_be_made_leaves_the_old_file_whole(tmp_path: Path) -> None:
    path = tmp_path / "report.json"
    path.write_bytes(b"old")
    broken: Report = ONE.model_copy(deep=True)
    broken.jobs[0].weights[0].gross_lb = float("nan")
    with pytest.raises(ValueError, match="finite"):
        write_report(broken, path)
    assert path.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["report.json"]


def test_a_link_is_followed_and_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real.json").write_bytes(b"old")
    (tmp_path / "link.json").symlink_to("real.json")
    write_whole(tmp_path / "link.json", b"new")
    assert (tmp_path / "link.json").is_symlink()
    assert (tmp_path / "real.json").read_bytes() == b"new"


def test_the_file_has_the_ordinary_permissions(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write_whole(tmp_path / "report.txt", b"x")
    finally:
        os.umask(before)
    assert (tmp_path / "report.txt").stat().st_mode & 0o777 == 0o640  # 666 without 027


def test_pdf_libraries_are_loaded_only_for_a_pdf(tmp_path: Path) -> None:
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from auditor.report.writing import write_report\n"
        "from tests.report.sample_report import one_job\n"
        "slow = {'weasyprint', 'jinja2'}\n"
        "write_report(one_job(), Path(sys.argv[1]))\n"
        "print(sorted(slow & set(sys.modules)))\n"
    )
    loaded = [
        subprocess.run(
            [sys.executable, "-c", code, str(tmp_path / name)], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout.strip()
        for name in ("report.txt", "report.json", "report.pdf")
    ]
    assert loaded == ["[]", "[]", "['jinja2', 'weasyprint']"]
