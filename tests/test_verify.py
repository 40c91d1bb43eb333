"""Whether a report stands: nothing changed, and every single thing that can be changed, found and said by name."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from auditor import cli
from auditor.report.differences import Difference, differences
from auditor.report.json_text import canonical_json, digest_of_json
from auditor.report.model import Report
from auditor.report.verification import Verification, verification_lines
from auditor.rules.reading import read_rules, rulebook_from_texts
from auditor.verify import verify
from auditor.vocabulary.problems import UnusableInput

JOB = """\
job: PINE-14
title: Sandy Fork tract
state: US-GA
audit_date: 2026-06-01
contractor: Blue Heron Logging
tables:
  trucks: {rows: [{truck: T7, kind: tractor}]}
  trailers: {rows: [{trailer: L3, kind: frame}]}
  destinations: {rows: [{destination: Otter Mill, state: US-GA}]}
  legs:
    rows:
      - {destination: Otter Mill, leg: 1, state: US-GA, road_class: interstate, road_name: Interstate 99}
  loads: loads.csv
"""
# 80,000 lb on the Interstate, 23 U.S.C. 127(a)(2): load 5001 is 85,000 - 80,000 = 5,000 lb over, 5002 is inside.
LOADS = """\
ticket_number,load_date,truck,trailer,driver,destination,gross_weight_lb
5001,2026-05-04,T7,L3,D. Marsh,Otter Mill,85000
5002,2026-05-05,T7,L3,D. Marsh,Otter Mill,79000
"""
FIGURE = "us/weight/gross, load 5001"
SECRET = b"heron at the ford"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "pine"
    folder.mkdir()
    (folder / "job.yaml").write_text(JOB, encoding="utf-8")
    (folder / "loads.csv").write_text(LOADS, encoding="utf-8")
    return folder


@pytest.fixture
def written(tmp_path: Path, job: Path) -> Callable[..., Path]:
    def write(*options: str) -> Path:
        target = tmp_path / "report.json"
        assert cli.main(["check", str(job), "--write", str(target), *options]) == cli.NONCONFORMITIES
        return target

    return write


def alter(report: Path, change: Callable[[dict[str, Any]], None], reseal: bool = False) -> None:
    """Change a report's JSON by hand; `reseal` forges the digest as well."""
    content = json.loads(report.read_bytes())
    change(content)
    if reseal:
        content["digest"] = digest_of_json(content)
    report.write_bytes(canonical_json(content))


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), encoding="utf-8")


def said(found: Verification, part: str) -> set[tuple[str, str, str, str, str]]:
    return {(d.change, d.name, d.field, d.old, d.new) for d in found.differences if d.part == part}


def facts(found: Verification) -> dict[str, str]:
    return dict(found.facts)


OVERLAY = """\
id: us-ga/mill-gate
place: US-GA
topic: weight
title: Terms of an invented mill
sources: {terms: {instrument: Gate terms of 2026, seen: the sheet at the gate}}
limits:
  gate_gross_lb:
    means: gross weight that the mill takes in
    unit: lb
    versions: [{value: 78000, source: terms, verified: read}]
rules:
  - id: gate
    title: Gross weight at the gate
    examines: loads
    must: {gross_weight_lb: {at_most: {limit: gate_gross_lb}}}
    duty_of: carrier
    standing: permit condition
    grade: minor
    evidence: usual
    source: terms
    verified: read
    action: Load lighter.
    caution: The mill may turn a truck away.
"""


def test_a_report_keeps_the_overlay_it_was_judged_by(written: Callable[..., Path], job: Path, tmp_path: Path) -> None:
    overlay = tmp_path / "mill"
    overlay.mkdir()
    (overlay / "gate.yaml").write_text(OVERLAY, encoding="utf-8")
    report = written("--overlay", str(overlay), "--stale-after", "1")
    (overlay / "gate.yaml").unlink()
    # 78,000 lb at the gate: 79,000 is over, although it is inside the limit of the Interstate.
    assert "us-ga/mill-gate/gate" in {f["rule"] for f in json.loads(report.read_bytes())["jobs"][0]["findings"]}
    found = verify(report, [job])
    assert (found.status, found.faults) == ("stands", ())
    assert facts(found)["Rules"].endswith("not the same as installed here: us-ga/mill-gate")


def test_an_untouched_report_stands(written: Callable[..., Path], job: Path) -> None:
    found = verify(written(), [job])
    assert (found.status, found.faults, found.differences) == ("stands", (), ())
    assert facts(found)["Digest"] == "right"
    assert facts(found)["Evidence"] == "2 files; all as they were"


def test_a_report_laid_out_anew_stands_and_says_so(written: Callable[..., Path], job: Path) -> None:
    report = written()
    report.write_text(json.dumps(json.loads(report.read_bytes())), encoding="utf-8")
    found = verify(report, [job])
    assert found.status == "stands"
    assert "laid out anew" in facts(found)["Digest"]


def test_one_changed_byte_of_evidence_that_changes_no_value(written: Callable[..., Path], job: Path) -> None:
    report = written()
    edit(job / "loads.csv", "79000\n", "79000 \n")
    found = verify(report, [job])
    assert found.status == "differs"
    assert {(d.part, d.name) for d in found.differences} == {("evidence", "loads.csv")}


def test_a_changed_weight_is_told_by_rule_and_load_with_both_figures(written: Callable[..., Path], job: Path) -> None:
    report = written()
    edit(job / "loads.csv", "85000", "85200")
    found = verify(report, [job])
    figures = ("85,000 lb, at most 80,000 lb", "85,200 lb, at most 80,000 lb")
    assert ("changes", FIGURE, "figure", *figures) in said(found, "findings")
    text = " ".join(" ".join(verification_lines(found)).split())
    assert f"{FIGURE}: the report says {figures[0]}; now {figures[1]}" in text
    assert "PINE-14, loads.csv: changed" in text


def test_findings_that_vanish_and_appear(written: Callable[..., Path], job: Path) -> None:
    report = written()
    # At the limit load 5001 conforms; one pound over it 5002 does not.
    edit(job / "loads.csv", "85000", "80000")
    edit(job / "loads.csv", "79000", "80001")
    found = verify(report, [job])
    assert ("vanishes", FIGURE, "", "85,000 lb, at most 80,000 lb", "") in said(found, "findings")
    other = "us/weight/gross, load 5002"
    assert ("appears", other, "", "", "80,001 lb, at most 80,000 lb") in said(found, "findings")


def test_a_missing_file_is_named(written: Callable[..., Path], job: Path) -> None:
    report = written()
    (job / "loads.csv").unlink()
    found = verify(report, [job])
    assert found.status == "differs"
    assert {(d.change, d.name) for d in found.differences} == {("vanishes", "loads.csv")}
    assert found.faults[0].startswith("The record can no longer be read")
    assert "PINE-14, loads.csv: missing" in "\n".join(verification_lines(found))


def test_an_added_file_is_named(written: Callable[..., Path], job: Path) -> None:
    report = written()
    (job / "more.csv").write_text(LOADS.replace("5001", "6001").replace("5002", "6002"), encoding="utf-8")
    edit(job / "job.yaml", "loads: loads.csv", "loads: [loads.csv, more.csv]")
    found = verify(report, [job])
    assert ("appears", "more.csv") in {(d.change, d.name) for d in found.differences if d.part == "evidence"}
    # 85,000 - 80,000 again, on the load of the new file.
    appears = ("appears", "us/weight/gross, load 6001", "", "", "85,000 lb, at most 80,000 lb")
    assert appears in said(found, "findings")


@pytest.mark.parametrize("reseal", [False, True])
def test_a_figure_changed_in_the_report(written: Callable[..., Path], job: Path, reseal: bool) -> None:
    report = written()

    def soften(content: dict[str, Any]) -> None:
        content["jobs"][0]["findings"][0]["items"][0]["measured"] = 80200

    alter(report, soften, reseal)
    found = verify(report, [job])
    assert found.status == "differs"
    # Without a forged digest the seal breaks; with one, running it again still tells.
    assert bool(found.faults) is not reseal
    figures = ("80,200 lb, at most 80,000 lb", "85,000 lb, at most 80,000 lb")
    assert said(found, "findings") == {("changes", FIGURE, "figure", *figures)}


def test_a_limit_changed_in_the_report(written: Callable[..., Path], job: Path) -> None:
    report = written()

    def raise_it(content: dict[str, Any]) -> None:
        (limit,) = (x for x in content["jobs"][0]["limits"] if x["value"] == 80000)
        limit["value"] = 90000

    alter(report, raise_it, reseal=True)
    (one,) = verify(report, [job]).differences
    assert (one.part, one.field, one.old, one.new) == ("limits", "value", "90,000", "80,000")


def test_entries_doubled_or_put_in_another_order_are_seen(written: Callable[..., Path], job: Path) -> None:
    report = written()
    alter(report, lambda c: c["jobs"][0]["evidence"].append(c["jobs"][0]["evidence"][0]), reseal=True)
    assert verify(report, [job]).status == "differs"
    report = written()
    alter(report, lambda c: c["jobs"][0]["weights"].reverse(), reseal=True)
    assert said(verify(report, [job]), "weights") == {("changes", "order of the entries", "", "", "")}


def test_every_word_of_a_report_is_compared(written: Callable[..., Path], job: Path) -> None:
    """Each text and number of the job's first entries, changed alone under a forged digest, is found."""
    original = written().read_bytes()
    told = json.loads(original)["jobs"][0]
    places = [(n,) for n, v in told.items() if isinstance(v, str) and n != "job"]
    for name in ("conclusion", "findings", "missing", "coverage", "weights", "limits", "evidence"):
        entry = told[name] if name == "conclusion" else told[name][0]
        path = (name,) if name == "conclusion" else (name, 0)
        places += [(*path, n) for n, v in entry.items() if isinstance(v, str | int)]
    missed, tried = [], 0
    for place in places:
        content = json.loads(original)
        holder = content["jobs"][0]
        for step in place[:-1]:
            holder = holder[step]
        if not _changed(holder, place[-1]):
            continue
        tried += 1
        if not _differences(content, original):
            missed.append(place)
    assert missed == []
    assert tried > 60


CLOSED = {"status", "kind", "grade", "verified", "on", "checked", "state"}
"""Words of closed lists and days, which no other word or text can replace."""


def _changed(holder: Any, name: Any) -> bool:
    """Change a value so that it still fits the model; False where that is not done."""
    value = holder[name]
    if name in CLOSED or name.startswith(("first_", "last_", "operation_", "in_force_")):
        return False
    holder[name] = not value if isinstance(value, bool) else value + 1 if isinstance(value, int) else value + "x"
    return True


def _differences(content: dict[str, Any], original: bytes) -> list[Difference]:
    old, new = (Report.model_validate_json(c) for c in (canonical_json(content), original))
    return [d for d in differences(old, new) if d.name != "order of the entries"]


def test_a_changed_rule_text_is_named_and_not_run(written: Callable[..., Path], job: Path) -> None:
    report = written()

    def raise_limit(content: dict[str, Any]) -> None:
        (rule,) = (r for r in content["rules"] if r["id"] == "us/weight")
        assert "80000" in rule["text"]
        rule["text"] = rule["text"].replace("80000", "90000")

    alter(report, raise_limit, reseal=True)
    found = verify(report, [job])
    assert found.status == "differs"
    assert [f.split(",")[0] for f in found.faults] == ["Rule text us/weight"]
    assert "not run again" in facts(found)["Rules"]


def test_a_rule_text_that_stands_twice_is_not_run(written: Callable[..., Path], job: Path) -> None:
    report = written()
    alter(report, lambda c: c["rules"].append(c["rules"][0]), reseal=True)
    found = verify(report, [job])
    assert "two texts of one id" in found.faults[0]


def test_a_rule_text_forged_with_its_digest_shows_in_the_result_and_beside_the_installed(
    written: Callable[..., Path], job: Path
) -> None:
    report = written()

    def forge(content: dict[str, Any]) -> None:
        (rule,) = (r for r in content["rules"] if r["id"] == "us/weight")
        rule["text"] += "\n# a remark\n"
        rule["sha256"] = hashlib.sha256(rule["text"].encode()).hexdigest()

    alter(report, forge, reseal=True)
    found = verify(report, [job])
    # A remark changes no judgement: the report stands by its own rules, and says that they are not the installed ones.
    assert found.status == "stands"
    assert facts(found)["Rules"].endswith("not the same as installed here: us/weight")


def test_a_report_of_another_engine_says_whether_the_result_is_the_same(
    written: Callable[..., Path], job: Path
) -> None:
    report = written()
    alter(report, lambda c: c.update(engine_version="0.0.9"), reseal=True)
    found = verify(report, [job])
    assert found.status == "stands"
    assert facts(found)["Engine"].startswith("version 0.0.9 then, ")
    assert facts(found)["Engine"].endswith("the result is the same")


def test_a_broken_digest_alone(written: Callable[..., Path], job: Path) -> None:
    report = written()
    alter(report, lambda c: c.update(digest="0" * 64))
    found = verify(report, [job])
    assert found.status == "differs"
    assert found.differences == ()
    assert found.faults == ("The digest is broken: the file was altered after it was written.",)


def test_an_altered_file_that_is_no_report_any_more(written: Callable[..., Path], job: Path) -> None:
    report = written()
    alter(report, lambda c: c["jobs"][0].update(state=None))
    found = verify(report, [job])
    assert found.status == "differs"
    assert "jobs.0.state" in found.faults[1]


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"{", "cannot be read"),
        (b'{"digest": "a", "digest": "b"}', "a key stands twice"),
        (b"[]", "something else"),
        (b'{"digest": NaN}', "cannot be read"),
        (b"\xff", "cannot be read"),
        (b'{"digest": "\\ud800"}', "cannot be read"),
        (b"[" * 100_000, "cannot be read"),
    ],
)
def test_what_is_no_report_is_refused(tmp_path: Path, job: Path, content: bytes, expected: str) -> None:
    report = tmp_path / "report.json"
    report.write_bytes(content)
    with pytest.raises(UnusableInput, match=expected):
        verify(report, [job])


def test_without_a_job_the_message_says_that_none_was_named(
    written: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    report = written()
    capsys.readouterr()
    assert cli.main(["verify", str(report)]) == cli.UNUSABLE
    told = capsys.readouterr().err.splitlines()[0]
    named = "found no job folder named; expected one or more after the report."
    assert told == f"{report}: {named} Name the folders that the report was made from."
    assert cli.main(["verify", str(report), "nowhere"]) == cli.UNUSABLE
    assert "nowhere: found no such folder; expected a job folder." in capsys.readouterr().err


def test_a_report_that_is_not_there_is_said_in_one_sentence(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["verify", str(tmp_path / "no.json"), str(job)]) == cli.UNUSABLE
    assert f"{tmp_path / 'no.json'}: found no such file or directory; expected a report" in capsys.readouterr().err


def test_a_job_that_was_not_given(written: Callable[..., Path], job: Path, tmp_path: Path) -> None:
    report = written()
    other = tmp_path / "oak"
    job.rename(other)
    edit(other / "job.yaml", "job: PINE-14", "job: OAK-2")
    found = verify(report, [other])
    jobs = {(d.job, d.change) for d in found.differences if d.part == "jobs"}
    assert jobs == {("PINE-14", "vanishes"), ("OAK-2", "appears")}


def test_folders_in_another_order_make_no_difference(job: Path, tmp_path: Path) -> None:
    other = tmp_path / "oak"
    other.mkdir()
    (other / "job.yaml").write_text(JOB.replace("PINE-14", "OAK-2"), encoding="utf-8")
    (other / "loads.csv").write_text(LOADS, encoding="utf-8")
    report = tmp_path / "two.json"
    cli.main(["check", str(job), str(other), "--audit-date", "2026-06-02", "--write", str(report)])
    assert verify(report, [job, other]).status == "stands"
    assert verify(report, [other, job]).status == "stands"
    alter(report, lambda c: c["jobs"].reverse(), reseal=True)
    # Which order was the first no one can know any more; the digest of either is right.
    assert verify(report, [job, other]).status == "stands"
    alter(report, lambda c: c["jobs"].append(c["jobs"][0]), reseal=True)
    assert verify(report, [job, other]).status == "differs"


def test_drafts_codes_and_parts_are_made_again(written: Callable[..., Path], job: Path, tmp_path: Path) -> None:
    key = tmp_path / "secret"
    key.write_bytes(SECRET + b"\n")
    report = written("--draft", "--names", "codes", "--names-key", str(key), "--parts", "findings", "evidence", "rules")
    found = verify(report, [job], SECRET)
    assert found.status == "stands"
    assert "draft" in facts(found)["Draft"]
    with pytest.raises(UnusableInput, match="Give its file with --names-key"):
        verify(report, [job])
    with pytest.raises(UnusableInput, match="another secret"):
        verify(report, [job], SECRET + b"!")
    (job / "loads.csv").unlink()
    found = verify(report, [job], SECRET)
    assert [(d.change, d.name[:5], d.name[-4:]) for d in found.differences] == [("vanishes", "file-", ".csv")]


def test_without_its_rule_texts_a_report_cannot_be_run_again(written: Callable[..., Path], job: Path) -> None:
    report = written("--parts", "findings", "evidence")
    found = verify(report, [job])
    assert found.status == "cannot be run again"
    assert "cannot be run again" in facts(found)["Rules"]
    assert cli.main(["verify", str(report), str(job)]) == 2
    edit(job / "loads.csv", "79000\n", "79000 \n")
    found = verify(report, [job])
    assert (found.status, [d.name for d in found.differences]) == ("differs", ["loads.csv"])


def test_without_its_list_of_evidence_the_rest_is_run_again(written: Callable[..., Path], job: Path) -> None:
    report = written("--parts", "findings", "rules")
    found = verify(report, [job])
    assert found.status == "stands"
    assert "not compared" in facts(found)["Evidence"]


def test_the_command_says_it_in_80_columns(
    written: Callable[..., Path], job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report = written()
    capsys.readouterr()
    assert cli.main(["verify", str(report), str(job)]) == 0
    assert "stands" in capsys.readouterr().out
    edit(job / "loads.csv", "85000", "85200")
    assert cli.main(["verify", str(report), str(job)]) == 1
    shown = capsys.readouterr().out
    assert "does not stand" in " ".join(shown.split())  # the path before it may fill the line
    assert max(map(len, shown.splitlines())) <= max(80, len(str(report)))
    assert cli.main(["verify", str(report), str(job / "nowhere")]) == 2
    assert cli.main(["verify", str(report)]) == 2


def test_kept_texts_make_the_rulebook_they_came_from() -> None:
    shipped = read_rules(["US-GA"])
    assert rulebook_from_texts(shipped.texts, shipped.digests) == shipped
    name = "us/weight"
    with pytest.raises(UnusableInput, match=name):
        rulebook_from_texts({name: shipped.texts[name]}, {})
    with pytest.raises(UnusableInput, match="of another id"):
        rulebook_from_texts({"us/size": shipped.texts[name]}, {"us/size": shipped.digests[name]})
