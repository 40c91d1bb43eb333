"""The commands: exit statuses, messages, files written, and what goes to standard output."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

import auditor
from auditor.cli import main
from tests.house.tree import ROOT

JOB = """job: SMALL
state: US-GA
audit_date: 2026-06-01
sold_by_load: {sold}
tables:
  trucks: {{rows: [{{truck: T1, kind: tractor}}]}}
  trailers: {{rows: [{{trailer: L1, kind: frame}}]}}
  destinations: {{rows: [{{destination: Mill, state: US-GA, kind: other}}]}}
  legs: {{rows: [{{destination: Mill, leg: 1, state: US-GA, road_class: state_route, road_name: Route 14}}]}}
  axles:
    rows:
      - {{truck: T1, trailer: L1, axle: 1, position_ft: 0, lift_axle: no}}
      - {{truck: T1, trailer: L1, axle: 2, position_ft: 13, lift_axle: no}}
      - {{truck: T1, trailer: L1, axle: 3, position_ft: 17.5, lift_axle: no}}
      - {{truck: T1, trailer: L1, axle: 4, position_ft: 40, lift_axle: no}}
      - {{truck: T1, trailer: L1, axle: 5, position_ft: 44.5, lift_axle: no}}
  loads:
    rows:
      - {{ticket_number: A1, load_date: 2026-05-04, truck: T1, trailer: L1, destination: Mill, product: sawlogs, gross_weight_lb: {weight}}}
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return make(tmp_path / "job")


def make(folder: Path, weight: object = 70_000, sold: str = "no") -> Path:
    """One load of sawlogs on a Georgia state route; sold by load, Georgia asks for a ticket to the seller."""
    folder.mkdir(exist_ok=True)
    (folder / "job.yaml").write_text(JOB.format(weight=weight, sold=sold), encoding="utf-8")
    return folder


def run(*arguments: object) -> int:
    try:
        return main([str(a) for a in arguments])
    except SystemExit as stopped:  # argparse ends by itself on words it does not know
        return int(stopped.code or 0)


def test_0_nothing_found(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", job) == 0
    assert "SMALL" in capsys.readouterr().out


def test_1_nonconformities(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # 5 axles on a Georgia state route: 80,000 lb (O.C.G.A. 32-6-26(c)(1)); the mill is no first one, so no variance
    assert run("check", make(tmp_path / "job", weight=80_001)) == 1
    assert "80,001 lb, at most 80,000 lb" in capsys.readouterr().out


def test_2_an_unusable_record(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", make(tmp_path / "job", weight="much")) == 2
    caught = capsys.readouterr()
    assert caught.out == ""
    assert "gross_weight_lb" in caught.err and '"much"' in caught.err
    assert caught.err.endswith("1 problem; nothing was judged or written.\n")
    assert "Traceback" not in caught.err


def test_3_evidence_that_the_law_demands_is_missing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # O.C.G.A. 12-6-23: a wood load ticket for every load of timber sold by weight; none is listed here
    assert run("check", make(tmp_path / "job", sold="yes")) == 3
    assert "evidence" in capsys.readouterr().out.lower()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["check", "{tmp}/nowhere"], "nowhere"),
        (["check", "{job}", "--overlay", "{tmp}"], "no rule file"),
        (["check", "{job}", "--write", "{tmp}/report.docx"], ".docx"),
        (["check", "{job}", "--write", "{tmp}/none/report.json"], "no folder of that name"),
        (["explain", "{job}", "us-ga/weight/gros"], "Did you mean us-ga/weight/gross"),
        (["explain", "{job}", "us-ga/weight/gross", "A2"], "Did you mean A1?"),
        (["rules", "show", "us-ga/wieght"], "Did you mean us-ga/weight"),
        (
            ["rules", "check", "us-gg"],
            'found "us-gg"; expected a place, file or rule. Places with rule files: us, us-al,',
        ),
        (["rules", "list", "us-zz"], "Places with rule files: us, us-al,"),
    ],
)
def test_what_cannot_be_used_is_said_on_stderr(
    arguments: list[str], words: str, job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "empty").mkdir()
    places = {"job": job, "tmp": tmp_path / "empty" if "--overlay" in arguments else tmp_path}
    assert run(*(a.format(**places) for a in arguments)) == 2
    caught = capsys.readouterr()
    assert words in caught.err
    assert "Traceback" not in caught.err and "KeyError" not in caught.err


@pytest.mark.parametrize(
    "arguments", [["check"], ["audit", "x"], ["check", "x", "--audit-date", "tomorrow"], ["schema", "loads"]]
)
def test_unknown_words_of_a_command_are_2_as_well(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(*arguments) == 2
    assert "usage: auditor" in capsys.readouterr().err


@pytest.mark.parametrize(
    "arguments",
    [["check", "{job}"], ["season", "{job}"], ["card", "{job}", "--on", "2026-05-04"], ["rules", "list"],
     ["explain", "{job}", "us-ga/weight/gross"], ["rules", "show", "own/weight"], ["rules", "doubts", "us-ga"]],
)  # fmt: skip
def test_a_faulty_overlay_stops_every_command_with_its_faults(
    arguments: list[str], job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    overlay = tmp_path / "own"
    overlay.mkdir()
    rule = {
        "id": "r", "title": "t", "examines": "load_legs", "must": {"gross_weight_lb": {"at_most": {"limit": "none_lb"}}}, "duty_of": "carrier",
        "standing": "common practice", "grade": "minor", "evidence": "usual", "source": "s", "verified": "read",
        "action": "Act.", "caution": "Mind.",
    }  # fmt: skip
    body = {"id": "own/weight", "place": "US-GA", "topic": "weight", "title": "t",
            "sources": {"s": {"instrument": "i", "seen": "s"}}, "rules": [rule]}  # fmt: skip
    (overlay / "weight.yaml").write_text(json.dumps(body), encoding="utf-8")
    assert run(*(word.format(job=job) for word in arguments), "--overlay", overlay) == 2
    told = capsys.readouterr()
    assert "own/weight, rule r: found {'limit': 'none_lb'}; expected {limit: ...} with a limit of this file" in told.err
    assert told.out == "" and told.err.splitlines()[-1] == "1 problem; nothing was judged or written."


def test_one_run_writes_several_forms(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    targets = [tmp_path / f"report.{end}" for end in ("json", "txt", "pdf")]
    assert run("check", job, "--write", targets[0], targets[1], "--write", targets[2]) == 0
    told = [line for line in capsys.readouterr().out.splitlines() if line.startswith("Written: ")]
    assert told == [f"Written: {t}" for t in targets]
    assert json.loads(targets[0].read_bytes())["jobs"][0]["job"] == "SMALL"
    assert "SMALL" in targets[1].read_text(encoding="utf-8")
    assert targets[2].read_bytes().startswith(b"%PDF-")


def test_a_report_that_cannot_be_written_is_not_said_to_be_unjudged(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("check", job, "--write", tmp_path / "a.json", tmp_path / "none" / "b.json") == 2
    assert (tmp_path / "a.json").is_file()
    assert capsys.readouterr().err.endswith("1 problem; not every report was written.\n")


def test_json_on_standard_output_follows_the_published_schema(
    job: Path, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    assert run("schema", "report") == 0
    schema = json.loads(capsysbinary.readouterr().out)
    assert run("check", job, "--format", "json") == 0
    report = json.loads(capsysbinary.readouterr().out)
    jsonschema.Draft202012Validator(schema).validate(report)
    assert report["audit_date"] == "2026-06-01"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(schema).validate(report | {"more": 1})


def test_the_audit_date_of_the_command_goes_before_that_of_the_job(
    job: Path, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    assert run("check", job, "--format", "json", "--audit-date", "2026-07-01") == 0
    assert json.loads(capsysbinary.readouterr().out)["audit_date"] == "2026-07-01"


def test_explain_shows_the_steps(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("explain", job, "us-ga/weight/gross", "A1") == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "us-ga/weight/gross: ticket A1, leg 1: conformity"
    assert "  yes   gross_weight_lb = 70,000, at most 80,000 (gross_limit_lb)" in lines


def test_no_line_of_an_explanation_is_wider_than_the_terminal(
    job: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    told = {}
    for columns in (60, 400):
        monkeypatch.setenv("COLUMNS", str(columns))
        assert run("explain", job, "us-ga/weight/gross", "A1") == 0
        told[columns] = capsys.readouterr().out.splitlines()
    assert max(len(line) for line in told[400]) > 60 >= max(len(line) for line in told[60])
    assert " ".join(" ".join(told[60]).split()) == " ".join(" ".join(told[400]).split())
    # A line that is carried on begins deeper than the text above it.
    long = next(line for line in told[400] if "is one of sawlogs" in line)
    at = next(n for n, line in enumerate(told[60]) if "is one of sawlogs" in line)
    assert told[60][at + 1].startswith(" " * (long.index("product") + 2))


def test_rules_are_listed_shown_and_checked(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("rules", "list", "us-ga/weight") == 0
    listed = capsys.readouterr().out.splitlines()
    assert "  us-ga/weight/gross: Gross weight off the Interstate" in listed
    assert run("rules", "show", "us-ga/weight/gross") == 0
    assert "must: gross_weight_lb at most gross_limit_lb" in capsys.readouterr().out
    assert run("rules", "check", "us-ga") == 0
    assert capsys.readouterr().out.splitlines()[-1].endswith(", 0 problems")


def test_rules_check_is_2_for_faulty_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (ROOT / "rulesets" / "us-ga" / "tickets.yaml").read_text(encoding="utf-8")
    wrong = text.replace("id: us-ga/tickets", "id: own/tickets").replace(
        "expect: conformity", "expect: nonconformity", 1
    )
    assert wrong != text
    (tmp_path / "tickets.yaml").write_text(_without_definitions(wrong), encoding="utf-8")
    assert run("rules", "check", "us-ga", "--overlay", tmp_path) == 2
    assert "expected nonconformity" in capsys.readouterr().out


def _without_definitions(text: str) -> str:
    before, _, rest = text.partition("\ndefinitions:\n")
    return before + "\nlimits:\n" + rest.partition("\nlimits:\n")[2]


@pytest.mark.parametrize("of", ["record", "rules", "report"])
def test_the_schemas_are_schemas(of: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("schema", of) == 0
    schema = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_a_shipped_rule_file_follows_the_published_schema() -> None:
    from auditor.rules.reading import _plain
    from auditor.vocabulary.yaml_text import load_yaml_text

    schema = auditor.schema("rules")
    read, _ = load_yaml_text((ROOT / "rulesets" / "us-ga" / "weight.yaml").read_bytes(), "weight.yaml", _plain)
    body = json.loads(json.dumps(read, default=str))
    jsonschema.Draft202012Validator(schema).validate(body)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(schema).validate(body | {"limitz": {}})


def test_a_reader_who_leaves_early_gets_no_traceback(tmp_path: Path) -> None:
    heavy = make(tmp_path / "job", weight=90_000)
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [sys.executable, "-m", "auditor", "check", str(heavy)],
        cwd=ROOT,
        stdout=write,
        stderr=subprocess.PIPE,
        check=False,
    )
    os.close(write)
    assert done.returncode == 1  # the status still says what was found
    assert b"Traceback" not in done.stderr
