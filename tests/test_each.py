"""Many jobs with a report for each: the same as alone, byte for byte, and no bad folder keeps another from being judged."""

from __future__ import annotations

import json
import shutil
from collections.abc import Sequence
from pathlib import Path

import pytest

from auditor import audit, audit_each, read_jobs, read_rules, report_json
from auditor import each as each_module
from auditor.audit import check, check_each
from auditor.check import alike as alike_module
from auditor.check import tally as tally_module
from auditor.cli import EVIDENCE_MISSING, NONCONFORMITIES, UNUSABLE, main
from auditor.record import Record
from auditor.rules.reading import Rulebook
from tests.check.haul import load, rows_of, together

SAMPLES = Path(__file__).resolve().parents[1] / "sample_jobs"
NAMES = ("piedmont_final_cut", "newhope_map", "ridge_thinning", "blackgum_closeout")
SMALL = "job: {code}\nstate: US-GA\noperation_start: 2026-03-02\n"


def a_folder(where: Path, name: str, text: str = "") -> Path:
    folder = where / name
    folder.mkdir()
    (folder / "job.yaml").write_text(text or SMALL.format(code=name), encoding="utf-8")
    return folder


def said(folders: Sequence[Path]) -> list[tuple[str, bool, list[str]]]:
    """Name, whether it has a report, and what was found wrong, folder by folder."""
    return [(d.folder.name, d.report is not None, [p.found for p in d.problems]) for d in audit_each(folders)]


@pytest.mark.slow
def test_every_report_is_the_one_of_the_job_alone() -> None:
    folders = [SAMPLES / name for name in NAMES]
    found = list(audit_each(folders))
    assert [done.folder for done in found] == folders
    for done in found:
        assert done.report is not None
        assert report_json(done.report) == report_json(audit([done.folder]))


def test_weights_are_left_out_of_large_jobs_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    # Three loads are shown, four are not; the jobs stand in one record of seven, where `check` shows none.
    monkeypatch.setattr(tally_module, "WEIGHTS_SHOWN_UP_TO", 3)
    few = rows_of([load(f"A{n}", gross_weight_lb=70_000 + n) for n in range(3)], (LEG,), "FEW")
    many = rows_of([load(f"A{n}", gross_weight_lb=90_000 + n) for n in range(4)], (LEG,), "MANY")
    record = together(few, many)
    a, b = check_each(record, rulebook())
    assert (len(a.jobs[0].weights), len(b.jobs[0].weights)) == (3, 0)
    assert [len(job.weights) for job in check(record, rulebook()).jobs] == [0, 0]
    # Rows are numbered through both jobs, so of the second all but the row numbers is compared.
    assert report_json(a) == report_json(check(together(few), rulebook()))
    (alone,) = check(together(many), rulebook()).jobs
    assert b.jobs[0].model_dump(exclude={"findings"}) == alone.model_dump(exclude={"findings"})


def test_like_loads_are_judged_together_and_their_weights_are_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(alike_module, "FEWEST_LOADS", 0)
    monkeypatch.setattr(alike_module, "LARGEST_SHARE", 1.0)
    rows = rows_of([load(f"A{n}", gross_weight_lb=79_000 + 500 * n) for n in range(6)], (LEG,), "J")
    (found,) = check_each(together(rows), rulebook())
    assert [w.gross_lb for w in found.jobs[0].weights] == [79_000 + 500 * n for n in range(6)]
    monkeypatch.setattr(alike_module, "FEWEST_LOADS", 10**9)
    assert report_json(found) == report_json(check(together(rows), rulebook()))


LEG = {"leg": 1, "road_class": "state_route", "road_name": "Route 14"}


def rulebook() -> Rulebook:
    return read_rules(["US-GA"], examples=False)


@pytest.mark.parametrize("at_once", [1, 2, 3, 100])
def test_a_bad_folder_is_told_of_and_the_others_are_judged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at_once: int
) -> None:
    monkeypatch.setattr(each_module, "JOBS_AT_ONCE", at_once)
    folders = [a_folder(tmp_path, name) for name in ("A", "B", "C", "D")]
    (folders[1] / "job.yaml").write_text("job: B\nstate: Georgia\n", encoding="utf-8")
    folders.append(tmp_path / "gone")
    folders.append(a_folder(tmp_path, "E", SMALL.format(code="A")))
    assert [(name, good) for name, good, _ in said(folders)] == [
        ("A", True), ("B", False), ("C", True), ("D", True), ("gone", False), ("E", False),
    ]  # fmt: skip
    problems = {name: wrong for name, _, wrong in said(folders)}
    assert problems["gone"] == ["no such folder"]
    assert problems["E"] == [f'the code "A", which {folders[0].as_posix()} has as well']
    assert len(problems["B"]) == 1


def test_a_batch_ends_with_its_jobs_or_its_bytes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[int] = []

    def counted(jobs: Sequence[object]) -> Record:
        read.append(len(jobs))
        return read_of(jobs)

    read_of = each_module.record_of
    monkeypatch.setattr(each_module, "record_of", counted)
    monkeypatch.setattr(each_module, "JOBS_AT_ONCE", 3)
    folders = [a_folder(tmp_path, name) for name in ("A", "B", "C", "D", "E")]
    size = sum(len((f / "job.yaml").read_bytes()) for f in folders[:2])
    assert [good for _, good, _ in said(folders)] == [True] * 5
    monkeypatch.setattr(each_module, "BYTES_AT_ONCE", size)
    assert [good for _, good, _ in said(folders)] == [True] * 5
    assert read == [3, 2, 2, 2, 1]


def test_each_job_writes_its_own_files_and_a_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    a, b = (a_folder(tmp_path, name) for name in ("A", "B"))
    jobs, names = [str(a), str(b)], [f"{tmp_path}/{{job}}.json", f"{tmp_path}/report of {{job}}.txt"]
    assert main(["check", *jobs, "--write", *names]) == EVIDENCE_MISSING
    told = capsys.readouterr().out
    assert told == "A: nothing judged\nB: nothing judged\n2 of 2 jobs done: 2 with nothing judged.\n"
    assert (tmp_path / "A.json").read_bytes() == report_json(audit([a]))
    assert "B" in (tmp_path / "report of B.txt").read_text(encoding="utf-8")


def test_the_lines_as_json_carry_the_seal_of_each_report(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = str(tmp_path / "{job}.json")
    status = main(["check", str(SAMPLES / NAMES[0]), "--write", target, "--format", "json"])
    line = json.loads(capsys.readouterr().out)
    written = json.loads((tmp_path / f"{line['job']}.json").read_text(encoding="utf-8"))
    assert status == NONCONFORMITIES
    assert line["digest"] == written["digest"]
    assert line["files"] == [str(tmp_path / f"{line['job']}.json")]
    assert line["major"] == written["jobs"][0]["conclusion"]["major_count"]


def test_one_name_for_all_jobs_beside_one_for_each_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    a = a_folder(tmp_path, "A")
    assert main(["check", str(a), "--write", f"{tmp_path}/all.pdf", f"{tmp_path}/{{job}}.json"]) == UNUSABLE
    assert "{job} in every name or in none" in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == ["A"]


def test_what_cannot_be_written_or_read_is_told_at_the_end(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    a, b, c = (a_folder(tmp_path, name) for name in ("A", "B", "C"))
    (b / "job.yaml").write_text(SMALL.format(code="up/../B"), encoding="utf-8")
    (tmp_path / "C.json").mkdir()
    missing = str(tmp_path / "no job")
    assert main(["check", str(a), str(b), str(c), missing, "--write", f"{tmp_path}/{{job}}.json"]) == UNUSABLE
    out, err = capsys.readouterr()
    assert out == "A: nothing judged\n1 of 4 jobs done: 1 with nothing judged.\n"
    assert 'found "up/../B"; expected a code that can name a file' in err
    assert "C.json: found is a directory" in err
    assert f"{missing}: found no such folder" in err
    assert "3 problems; not every report was written." in err


def test_a_report_of_many_can_be_verified_by_itself(tmp_path: Path) -> None:
    copy = tmp_path / NAMES[0]
    shutil.copytree(SAMPLES / NAMES[0], copy)
    other = a_folder(tmp_path, "OTHER")
    main(["check", str(other), str(copy), "--write", f"{tmp_path}/{{job}}.json"])
    (code,) = read_jobs([copy]).tables["job"]["job"]
    assert main(["verify", str(tmp_path / f"{code}.json"), str(copy)]) == 0
