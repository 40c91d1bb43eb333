"""Many jobs, each with a report of its own: read and judged some at a time, so that memory does not grow with their number."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from auditor.audit import check_each, overlay_problems
from auditor.record.job_file import read_job_file
from auditor.record.read import record_of
from auditor.report.model import Report
from auditor.rules.reading import Rulebook, read_rules
from auditor.vocabulary.problems import Problem, UnusableInput

JOBS_AT_ONCE = 100
BYTES_AT_ONCE = 20_000_000
"""Either ends a batch; more at once would be a little faster and take more memory."""


@dataclass(frozen=True, slots=True)
class JobAudited:
    """The report on one job folder, or the problems for which it has none."""

    folder: Path
    report: Report | None
    problems: tuple[Problem, ...] = ()


def audit_each(
    folders: Iterable[str | os.PathLike[str]],
    audit_date: date | None = None,
    overlays: Sequence[str | os.PathLike[str]] = (),
    stale_after_months: int | None = None,
) -> Iterator[JobAudited]:
    """Read and judge job folders, and give for each, in order, the report that `audit` would make of it alone.

    A folder that cannot be used has problems in place of a report and keeps no other from being judged. A job whose code an
    earlier folder has is such a one. Raises UnusableInput where the rule files cannot be used.
    """
    rulebook = read_rules(overlays=[Path(o) for o in overlays], examples=False)
    problems = overlay_problems(rulebook) if overlays else []
    if problems:
        raise UnusableInput(problems)
    seen: dict[str, Path] = {}
    for batch in _batches(Path(f) for f in folders):
        yield from _judged(batch, seen, rulebook, audit_date, stale_after_months)


def _batches(folders: Iterable[Path]) -> Iterator[list[Path]]:
    batch: list[Path] = []
    size = 0
    for folder in folders:
        own = _bytes_in(folder)
        if batch and (len(batch) == JOBS_AT_ONCE or size + own > BYTES_AT_ONCE):
            yield batch
            batch, size = [], 0
        batch.append(folder)
        size += own
    if batch:
        yield batch


def _bytes_in(folder: Path) -> int:
    """How large the files of a folder are; what cannot be looked at counts for nothing here and is told of on reading."""
    try:
        return sum(entry.stat().st_size for entry in os.scandir(folder) if entry.is_file())
    except OSError:
        return 0


def _judged(
    folders: Sequence[Path], seen: dict[str, Path], rulebook: Rulebook, audit_date: date | None, stale: int | None
) -> Iterator[JobAudited]:
    """The folders judged together; where one of them cannot be read, each half by itself, until it stands alone."""
    jobs = [read_job_file(folder) for folder in folders]
    try:
        for job in jobs:
            if not job.unread and job.job in seen:
                found = f'the code "{job.job}", which {seen[job.job].as_posix()} has as well'
                todo = "Give each job a code of its own, and name each folder once."
                raise UnusableInput([Problem(job.label, "", "job", found, "a code that no other job has", todo)])
        record = record_of(jobs)
    except UnusableInput as error:
        if len(folders) == 1:
            yield JobAudited(folders[0], None, error.problems)
            return
        middle = len(folders) // 2
        yield from _judged(folders[:middle], seen, rulebook, audit_date, stale)
        yield from _judged(folders[middle:], seen, rulebook, audit_date, stale)
        return
    seen |= {job.job: job.folder for job in jobs}
    for job, report in zip(jobs, check_each(record, rulebook, audit_date, stale), strict=True):
        yield JobAudited(job.folder, report)
