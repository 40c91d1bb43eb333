"""Speed and memory of many job folders with a report for each, every number of jobs in a process of its own, on demand.

    python -m tests.benchmarks.bench_jobs [JOBS ...]        default 30 300 3000

Job folders with 333 loads each, made of the invented record of `big_record.py` and written as CSV beforehand, go the whole
way: `auditor check FOLDER ... --write OUT/{job}.json`. Prints seconds, loads a second, the peak of memory, and how much the
reports hold. Memory must not grow with the number of jobs, and time no faster than it. Nearly every load of that record
breaks some rule, so the reports are far longer than those of real jobs.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import polars as pl
import yaml

from tests.benchmarks.bench_haul import LOADS_PER_JOB, ROOT, STATES
from tests.benchmarks.big_record import big_record

SIZES = (30, 300, 3_000)
_RUN = """
import resource, sys
from auditor.cli import main
status = main(sys.argv[1:])
print(status, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024, file=sys.stderr)
"""


def write_folders(jobs: int, where: Path) -> list[Path]:
    """Write that many jobs as folders with a job.yaml and a CSV file for each table."""
    record = big_record(jobs * LOADS_PER_JOB, jobs, STATES)
    folders = [where / job for job in record.tables["job"]["job"]]
    tables: dict[str, list[str]] = {job.name: [] for job in folders}
    for folder in folders:
        folder.mkdir()
    for name, table in record.tables.items():
        if name == "job":
            continue
        for (job,), rows in table.partition_by("job", as_dict=True).items():
            own = rows.drop("job", "_file", "_sheet", "_row")
            own = own.select(c.name for c in own if c.null_count() < len(c))
            if name == "loads":
                own = own.drop("load")
            own.with_columns(pl.col(pl.Boolean).cast(pl.String).replace({"true": "yes", "false": "no"})).write_csv(
                where / str(job) / f"{name}.csv"
            )
            tables[str(job)].append(name)
    for folder in folders:
        said = {"job": folder.name, "state": STATES[0], "tables": {t: f"{t}.csv" for t in tables[folder.name]}}
        (folder / "job.yaml").write_text(yaml.safe_dump(said), encoding="utf-8")
    return folders


def main(sizes: list[int]) -> None:
    """Measure every number of jobs."""
    print(f"{'jobs':>6} {'loads':>10} {'seconds':>8} {'loads/s':>8} {'peak MB':>8} {'reports MB':>11}")
    for jobs in sizes:
        with tempfile.TemporaryDirectory() as folder:
            made, out = Path(folder, "jobs"), Path(folder, "out")
            made.mkdir()
            out.mkdir()
            folders = write_folders(jobs, made)
            command = [sys.executable, "-c", _RUN, "check", *map(str, folders), "--write", f"{out}/{{job}}.json"]
            start = time.perf_counter()
            done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
            seconds = time.perf_counter() - start
            peak = int(done.stderr.split()[-1])
            size = sum(file.stat().st_size for file in out.iterdir()) / 1e6
            loads = jobs * LOADS_PER_JOB
            print(f"{jobs:>6,} {loads:>10,} {seconds:>8.1f} {loads / seconds:>8,.0f} {peak:>8,} {size:>11,.0f}")


if __name__ == "__main__":
    main([int(a) for a in sys.argv[1:]] or list(SIZES))
