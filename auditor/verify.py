"""Whether a report still stands: its digest, its signature, its rules and evidence, and the same run once more."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from auditor.audit import check, engine_version
from auditor.record import read_jobs
from auditor.record.job_file import JOB_FILE, JobFile, read_job_file
from auditor.record.raw import Place
from auditor.record.sources import file_bytes
from auditor.report import wording as say
from auditor.report.atomic import write_whole
from auditor.report.differences import Difference, differences
from auditor.report.json_text import canonical_json, digest_of_json
from auditor.report.model import JobReport, Report
from auditor.report.privacy import PARTS, NamesKey, coded_path, coder, edition, names_key
from auditor.report.verification import Status, Verification
from auditor.rules.reading import Rulebook, read_rules, rulebook_from_texts
from auditor.signing import sign, signature_holds
from auditor.vocabulary.problems import Problem, UnusableInput, system_reason


@dataclass(slots=True)
class _Findings:
    """What has been found so far."""

    faults: list[str] = field(default_factory=list)
    facts: list[tuple[str, str]] = field(default_factory=list)
    differences: list[Difference] = field(default_factory=list)

    def result(self, path: Path, otherwise: Status) -> Verification:
        status: Status = "differs" if self.faults or self.differences else otherwise
        return Verification(status, str(path), tuple(self.faults), tuple(self.facts), tuple(self.differences))


def verify(
    report: Path,
    folders: Sequence[Path],
    secret: bytes | None = None,
    signature: Path | None = None,
    public_key: Path | None = None,
    signature_only: bool = False,
) -> Verification:
    """Check a report's digest and signature, and run it again on the job folders with the rules that it holds.

    `secret` is what the codes for names were made with. `signature` is REPORT.sig beside the report unless given; it
    is checked where there is a public key. Raises UnusableInput where nothing can be said.
    """
    data = _content(report)
    found = _Findings()
    told = _sealed_report(data, report, found)
    _check_signature(data, report, signature, public_key, signature_only, found)
    if signature_only:
        return found.result(report, "signature good")
    if told is None:
        return found.result(report, "cannot be run again")
    todo = "Name the folders that the report was made from."
    if not folders:
        raise _refused(report, "no job folder named", "one or more after the report", todo)
    missing = [f for f in folders if not f.is_dir()]
    if missing:
        raise UnusableInput(Problem(str(f), "", "", "no such folder", "a job folder", todo) for f in missing)
    rulebook = _kept_rules(told, found)
    key = _key(told, secret, report)
    if rulebook is None:
        if "evidence" not in told.left_out:
            found.differences += _evidence(told, [read_job_file(f) for f in folders], key)
        _say_evidence(told, found)
        return found.result(report, "cannot be run again")
    _run_again(told, rulebook, folders, secret, key, found)
    return found.result(report, "stands")


def sign_report(report: Path, private_key: Path, ask: Callable[[], bytes]) -> tuple[Path, str]:
    """Sign a report whose digest is right; gives the signature's file, REPORT.sig, and the key's fingerprint.

    `ask` gives the passphrase, if the key has one. Raises UnusableInput.
    """
    data = _content(report)
    found = _Findings()
    if _sealed_report(data, report, found) is None or found.faults:
        raise _refused(report, "; ".join(found.faults), "a report as it was written", "Write the report anew.")
    signed, fingerprint = sign(data, private_key, ask)
    target = _beside(report)
    try:
        write_whole(target, signed)
    except OSError as error:
        found_instead = system_reason(error)
        raise _refused(target, found_instead, "a file that can be written", "Free it.") from error
    return target, fingerprint


def _beside(report: Path) -> Path:
    return report.with_name(f"{report.name}.sig")


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise _refused(path, system_reason(error), "a report that can be read", "Check the name.") from error


def _refused(path: Path, found: str, expected: str, todo: str) -> UnusableInput:
    return UnusableInput([Problem(str(path), "", "", found, expected, todo)])


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) != len(pairs):
        raise ValueError("a key stands twice")
    return made


def _sealed_report(data: bytes, path: Path, found: _Findings) -> Report | None:
    """The report in the bytes, its digest looked at; None where an altered file is no report any more."""
    todo = "Use the JSON file that `auditor check --write` wrote."
    try:
        content = json.loads(data.decode("utf-8"), object_pairs_hook=_once)
        digest, laid_out = (
            (digest_of_json(content), canonical_json(content)) if isinstance(content, dict) else ("", b"")
        )
    except (ValueError, RecursionError) as error:
        raise _refused(path, f"text that cannot be read ({error})", "a report as JSON", todo) from None
    if not isinstance(content, dict) or "digest" not in content:
        raise _refused(path, "something else", "a report as JSON with its digest", todo)
    right = content["digest"] == digest
    if not right:
        found.faults.append("The digest is broken: the file was altered after it was written.")
    told = "right" if laid_out == data else "right; the file was laid out anew, its content is the same"
    found.facts.append(("Digest", told if right else "broken"))
    try:
        report = Report.model_validate_json(data)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(p) for p in first["loc"])
        if right:
            todo = "Use the version of the program that wrote it."
            raise _refused(path, f"{where}: {first['msg']}", "a report of this version", todo) from None
        found.faults.append(f"It no longer has the form of a report: {where}: {first['msg']}.")
        return None
    found.facts += [("Draft", "this report is marked as a draft")] if report.draft else []
    return report


def _check_signature(
    data: bytes, report: Path, signature: Path | None, public_key: Path | None, needed: bool, found: _Findings
) -> None:
    if public_key is None:
        if needed or signature is not None:
            raise _refused(report, "no public key", "the signer's key", "Give it with --public-key.")
        there = "a signature lies beside the report; give --public-key to check it" if _beside(report).exists() else ""
        found.facts.append(("Signature", f"not checked; {there or 'a digest does not tell who wrote the report'}"))
        return
    good, fingerprint = signature_holds(data, signature or _beside(report), public_key)
    if not good:
        found.faults.append("The signature is not that of this file by this key: another file or another key.")
    found.facts.append(("Signature", f"{'good' if good else 'wrong'}; key with the SHA-256 {fingerprint}"))


def _rule_problems(rulebook: Rulebook) -> list[Problem]:
    # The rule checker is not wanted where a report holds the rules that are installed.
    from auditor.rules.checking import check_files

    return check_files(rulebook, with_examples=False)


def _kept_rules(report: Report, found: _Findings) -> Rulebook | None:
    """The rules that the report holds, or None with the reason said."""
    if "rules" in report.left_out:
        found.facts.append(("Rules", "their texts were left out, so the report cannot be run again"))
        return None
    digests = {r.id: r.sha256 for r in report.rules}
    try:
        rulebook = rulebook_from_texts({r.id: r.text for r in report.rules}, digests)
        if len(digests) < len(report.rules):
            raise _refused(Path("rules"), "two texts of one id", "each rule file once", "Use the first file.")
        told, same = _beside_installed(rulebook)
        problems = [] if same else _rule_problems(rulebook)
    except UnusableInput as error:
        problems, told = list(error.problems), ""
    if problems:
        found.faults += [f"Rule text {p}" for p in problems]
        found.facts.append(("Rules", "altered or unusable, so the report was not run again"))
        return None
    found.facts.append(("Rules", f"{say.count(len(digests), 'text')} of the report, SHA-256 right; {told}"))
    return rulebook


def _beside_installed(kept: Rulebook) -> tuple[str, bool]:
    """How the kept rules stand to the installed ones; a difference is no fault, since law and rule files change."""
    try:
        installed = read_rules(kept.places()).digests
    except UnusableInput:
        return "those installed here cannot be read", False
    other = [i for i, digest in kept.digests.items() if installed.get(i) != digest]
    if not other:
        return "the same are installed here", True
    return f"not the same as installed here: {', '.join(other)}", False


def _key(report: Report, secret: bytes | None, path: Path) -> NamesKey | None:
    if report.names == "as recorded":
        return None
    key = names_key((j.job for j in report.jobs), secret if report.names_key else None)
    if key.check != report.names_key:
        found = "codes made with a secret" if secret is None else "codes made with another secret"
        raise _refused(path, found, "the secret of the codes", "Give its file with --names-key.")
    return key


def _run_again(
    report: Report,
    rulebook: Rulebook,
    folders: Sequence[Path],
    secret: bytes | None,
    key: NamesKey | None,
    found: _Findings,
) -> None:
    try:
        record = read_jobs(folders)
    except UnusableInput as error:
        if "evidence" not in report.left_out:
            found.differences += _evidence(report, [read_job_file(f) for f in folders], key)
        if not found.differences:
            raise
        found.faults += [f"The record can no longer be read: {p}" for p in error.problems[:3]]
        _say_evidence(report, found)
        return
    fresh = check(record, rulebook, report.audit_date, report.stale_after_months)
    place = {job.job: at for at, job in enumerate(report.jobs)}
    fresh.jobs.sort(key=lambda job: place.get(job.job, len(place)))
    parts = [p for p in PARTS if p not in report.left_out]
    shown = edition(fresh, report.draft, report.names, parts, secret if report.names_key else None)
    found.differences += differences(report, shown)
    _say_evidence(report, found)
    _say_engine(report, found)


def _say_evidence(report: Report, found: _Findings) -> None:
    if "evidence" in report.left_out:
        found.facts.append(("Evidence", "the report does not list its files; they were not compared"))
        return
    files = say.count(sum(len(job.evidence) for job in report.jobs), "file")
    others = {(d.job, d.name) for d in found.differences if d.part == "evidence"}
    told = f"{len(others):,} changed, missing or added" if others else "all as they were"
    found.facts.append(("Evidence", f"{files}; {told}"))


def _say_engine(report: Report, found: _Findings) -> None:
    here = engine_version()
    if here == report.engine_version:
        found.facts.append(("Engine", f"version {here}, the same"))
        return
    result = "the result differs" if found.differences else "the result is the same"
    found.facts.append(("Engine", f"version {report.engine_version} then, {here} now; {result}"))


def _evidence(report: Report, jobs: Sequence[JobFile], key: NamesKey | None) -> list[Difference]:
    """Files that changed, are gone or are new, found without reading the record."""
    found = []
    for told, job in _matched(report.jobs, jobs):
        paths: dict[str, Place] = {JOB_FILE: Place(job.job, job.label, JOB_FILE)}
        paths |= dict([job.workbook] if job.workbook is not None else [])
        paths |= {spec.file: where for spec, where in job.sources}
        code = coder(key, paths) if key is not None else None
        here = {coded_path(p, code) if code is not None else p: _digest(job.folder, p, w) for p, w in paths.items()}
        then = {e.path: e.sha256 for e in told.evidence}
        for path in dict.fromkeys([*then, *here]):
            now = here.get(path, "")
            if path not in then:
                found.append(Difference(told.job, "evidence", "appears", path))
            elif not now:
                found.append(Difference(told.job, "evidence", "vanishes", path))
            elif now != then[path]:
                found.append(Difference(told.job, "evidence", "changes", path, "sha256", then[path], now))
    return found


def _matched(told: Sequence[JobReport], jobs: Sequence[JobFile]) -> Iterable[tuple[JobReport, JobFile]]:
    """Each job of the report with its folder; a last one left on both sides belongs together, its code unreadable."""
    by_code = {job.job: job for job in jobs}
    pairs = [(t, by_code[t.job]) for t in told if t.job in by_code]
    left = [t for t in told if t.job not in by_code]
    over = [j for j in jobs if j.job not in {t.job for t in told}]
    return [*pairs, (left[0], over[0])] if len(left) == len(over) == 1 else pairs


def _digest(folder: Path, path: str, where: Place) -> str:
    """SHA-256 of a file of the job; empty where there is none."""
    try:
        return hashlib.sha256(file_bytes(folder, path, where)).hexdigest()
    except UnusableInput:
        return ""
