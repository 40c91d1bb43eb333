"""The README says what the program does: its commands run, its example output is what is printed."""

from __future__ import annotations

import re
from collections.abc import Collection
from pathlib import Path

import pytest

from auditor.cli import NONCONFORMITIES, main
from auditor.report import card_writing, writing
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_two_commands_stand_there() -> None:
    assert "sh sample_jobs/run.sh" in README
    assert "sh tests/run.sh" in README


def test_the_output_shown_is_what_is_printed(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("COLUMNS", "80")
    block = re.search(r"\$ auditor check sample_jobs/ridge_thinning\n(.*?)\n  \.\.\.\n```", README, re.DOTALL)
    assert block is not None
    assert main(["check", "sample_jobs/ridge_thinning"]) == NONCONFORMITIES
    assert capsys.readouterr().out.startswith(block[1])


def test_every_command_shown_is_known(capsys: pytest.CaptureFixture[str]) -> None:
    named = set(re.findall(r"`?auditor ([a-z]+)", README)) - {"is", "checks"}
    with pytest.raises(SystemExit):
        main(["--help"])
    known = capsys.readouterr().out
    assert named
    assert {c for c in named if c not in known} == set()


@pytest.mark.parametrize(("row", "group"), [("hauling", "haul"), ("harvest sites", "ground")])
def test_the_states_shown_are_those_with_rules(row: str, group: str) -> None:
    shown = re.search(rf"^\| {row} \| (.*) \|$", README, re.MULTILINE)
    assert shown is not None
    places = {f.place for f in read_rules().files if f.topic in TOPIC_GROUPS[group] and f.rules} - {"US"}
    assert shown[1].split(", ") == sorted(place.removeprefix("US-") for place in places)


@pytest.mark.parametrize(("command", "writers"), [("check JOB...", writing._FORMS), ("card JOB", card_writing._FORMS)])
def test_the_forms_shown_are_those_that_can_be_written(command: str, writers: Collection[str]) -> None:
    row = re.search(rf"^\| `auditor {re.escape(command)}` \| (.*) \|$", README, re.MULTILINE)
    assert row is not None
    assert set(re.findall(r"`(\.\w+)`", row[1])) == set(writers)


def test_the_topics_shown_are_the_topics() -> None:
    for group, topics in TOPIC_GROUPS.items():
        assert f"`{group}`\n({', '.join(topics)})" in README or f"`{group}` ({', '.join(topics)})" in README


def test_the_jobs_named_are_there() -> None:
    named = set(re.findall(r"sample_jobs/(\w+)(?=[`/ \n])", README)) - {"run", "report_page"}
    assert named
    assert all((ROOT / "sample_jobs" / name / "job.yaml").is_file() for name in named)


def test_the_picture_is_there() -> None:
    assert all((ROOT / p).is_file() for p in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README))
