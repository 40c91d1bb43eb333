"""`auditor check` where the files to write carry {job} in their names: a report of its own for each of many jobs."""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import auditor
from auditor import Problem, Report, UnusableInput
from auditor.cli_trust import edition_of
from auditor.vocabulary.quantities import count_text

JOB = "{job}"
_FILE_NAME = re.compile(r"[\w-][\w. -]*")
_SHOWN = {
    "nonconformities": "with nonconformities",
    "evidence missing": "with evidence missing that the law demands",
    "departures": "with departures from practice",
    "nothing found": "with nothing found",
    "nothing judged": "with nothing judged",
}


def asked(targets: Sequence[str]) -> bool:
    """Whether each job is to have files of its own. Raises UnusableInput where only some of the names carry {job}."""
    with_job = [target for target in targets if JOB in target]
    if with_job and len(with_job) < len(targets):
        found = f'"{next(t for t in targets if JOB not in t)}" beside "{with_job[0]}"'
        todo = f"Write {JOB} into each name, or into none for one report on all jobs."
        raise UnusableInput([Problem("--write", "", "", found, f"{JOB} in every name or in none", todo)])
    return bool(with_job)


def check_each(options: argparse.Namespace) -> set[str]:
    """Judge every job, write its files and print a line on it. Gives the conclusions met.

    Raises UnusableInput at the end, with the problems of all the jobs that were not judged or not written.
    """
    problems: list[Problem] = []
    met: Counter[str] = Counter()
    for done in auditor.audit_each(options.jobs, options.audit_date, options.overlay, options.stale_after):
        options.judged = True
        problems += done.problems
        if done.report is None:
            continue
        report = edition_of(done.report, options)
        try:
            written = _write(report, options.write)
        except UnusableInput as error:
            problems += error.problems
            continue
        met[report.jobs[0].conclusion.status] += 1
        print(_told(report, written, as_json=options.format == "json"), flush=True)
    if options.format == "text":
        found = [f"{met[status]:,} {words}" for status, words in _SHOWN.items() if met[status]]
        print(f"{sum(met.values()):,} of {len(options.jobs):,} jobs done: {', '.join(found) or 'none'}.")  # nulls: ints
    if problems:
        sys.stdout.flush()
        raise UnusableInput(problems)
    return set(met)


def _write(report: Report, targets: Sequence[str]) -> list[str]:
    """Write the report on one job under each name."""
    job = report.jobs[0].job
    if _FILE_NAME.fullmatch(job) is None:
        todo = "Give the job a code of letters, digits, dots, dashes and spaces."
        raise UnusableInput([Problem("job.yaml", "", "job", f'"{job}"', "a code that can name a file", todo)])
    written = [target.replace(JOB, job) for target in targets]
    for target in written:
        auditor.write_report(report, Path(target))
    return written


def _told(report: Report, written: Sequence[str], as_json: bool) -> str:
    """One line on the report of a job."""
    job = report.jobs[0]
    told = job.conclusion
    if as_json:
        counts = {"major": told.major_count, "minor": told.minor_count, "departures": told.departure_count}
        counts["unconfirmed"] = told.unconfirmed_count
        line = {"job": job.job, "conclusion": told.status, **counts, "digest": report.digest, "files": list(written)}
        return json.dumps(line, ensure_ascii=False)
    numbers = {"major": told.major_count, "minor": told.minor_count}
    counted = [f"{number} {word}" for word, number in numbers.items() if number]
    counted += [count_text(told.departure_count, "departure")] if told.departure_count else []
    counted += [f"{told.unconfirmed_count} with unconfirmed limits"] if told.unconfirmed_count else []
    return f"{job.job}: {'; '.join([told.status, *([', '.join(counted)] if counted else [])])}"
