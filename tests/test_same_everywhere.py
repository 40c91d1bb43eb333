"""The same record and rules give the same bytes, whatever the process, hash seed, threads or current directory."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house.tree import ROOT

SAMPLE = ROOT / "sample_jobs" / "ridge_thinning"
COMMAND = [sys.executable, "-m", "auditor", "check", str(SAMPLE), "--format", "json"]


def report_bytes(directory: Path, seed: str, threads: str) -> bytes:
    environment = os.environ | {"PYTHONHASHSEED": seed, "POLARS_MAX_THREADS": threads, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(COMMAND, cwd=directory, env=environment, capture_output=True, check=False)
    assert done.returncode == 1, done.stderr.decode()
    return done.stdout


@pytest.fixture(scope="module")
def first() -> bytes:
    return report_bytes(ROOT, "0", "2")


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "threads"), [("0", "2"), ("1", "1"), ("4711", "2")])
def test_the_report_is_the_same_bytes(seed: str, threads: str, first: bytes, tmp_path: Path) -> None:
    assert len(first) > 100_000  # the whole sample, not an empty report
    assert report_bytes(tmp_path, seed, threads) == first


@pytest.mark.slow
def test_another_record_gives_other_bytes(first: bytes, tmp_path: Path) -> None:
    done = subprocess.run(
        [*COMMAND, "--audit-date", "2026-12-31"], cwd=ROOT, capture_output=True, check=False
    )  # fmt: skip
    assert done.returncode == 1
    assert done.stdout != first
