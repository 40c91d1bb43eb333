"""Speed and memory of the haul rules against a hand-written peer, each in its own process, on demand.

    python -m tests.benchmarks.bench_haul [LOADS ...]        default 1000 10000 100000 1000000

Federal, Georgia and South Carolina rules on jobs of 333 loads with about 2.5 legs a load. The common practice on scale
tickets is left out on both sides: the peer does not know it. Measured is what judging gives: counts, gaps, and the rows that
break a rule with value, limit and margin; the words of a report are made of them afterwards, on neither side. Prints the
median of three runs and the ratio.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

from auditor import Rulebook, read_rules
from auditor.check.tally import tally, weights_shown
from tests.benchmarks.big_record import big_record
from tests.benchmarks.peer import peer

STATES = ("US-GA", "US-SC")
LOADS_PER_JOB = 333
SIZES = (1_000, 10_000, 100_000, 1_000_000)
RUNS = 3
ROOT = Path(__file__).resolve().parents[2]


def rules_measured() -> Rulebook:
    """The rules that both sides hold the record against."""
    rulebook = read_rules(list(STATES))
    return replace(rulebook, files=tuple(f for f in rulebook.files if f.id != "us/tickets"))


def run_once(side: str, loads: int) -> None:
    """Judge a record on one side and print seconds and peak memory in MB."""
    record = big_record(loads, max(1, loads // LOADS_PER_JOB), STATES)
    rulebook = rules_measured()
    start = time.perf_counter()
    if side == "engine":
        tally(record, rulebook, weights_shown(loads))
    else:
        peer(record)
    seconds = time.perf_counter() - start
    print(seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)


def measured(side: str, loads: int) -> tuple[float, int]:
    """Seconds and peak memory of one run in a process of its own."""
    command = [sys.executable, "-m", "tests.benchmarks.bench_haul", "--once", side, str(loads)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    seconds, peak = done.stdout.split()
    return float(seconds), int(peak)


def main(sizes: list[int]) -> None:
    """Measure both sides in turn for every size."""
    print(f"{'loads':>9} {'engine s':>9} {'peer s':>8} {'ratio':>6} {'engine MB':>10} {'peer MB':>8}")
    for loads in sizes:
        pairs = [(measured("engine", loads), measured("peer", loads)) for _ in range(RUNS)]
        engine = statistics.median(e[0] for e, _ in pairs)
        hand = statistics.median(p[0] for _, p in pairs)
        ratio = statistics.median(e[0] / p[0] for e, p in pairs)
        peaks = max(e[1] for e, _ in pairs), max(p[1] for _, p in pairs)
        print(f"{loads:>9,} {engine:>9.2f} {hand:>8.2f} {ratio:>6.2f} {peaks[0]:>10,} {peaks[1]:>8,}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--once"]:
        run_once(sys.argv[2], int(sys.argv[3]))
    else:
        main([int(a) for a in sys.argv[1:]] or list(SIZES))
