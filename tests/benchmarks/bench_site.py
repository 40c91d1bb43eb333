"""Speed and memory of a million position fixes against ten thousand reaches, each side in its own process, on demand.

    python -m tests.benchmarks.bench_site [FIXES ...]        default 100000 1000000

The peer is the bare kernel: shapely's search for the nearest line of each fix and the distance to it. The engine finds
the nearest bank, what lies inside zones of different widths, steps, jumps and passes. Prints the median of three runs.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from auditor.measures.fixes import fix_extent, fix_steps, zone_passes

REACHES = 10_000
VERTICES = 41
PIECE_M = 20.0
TRACKS = 1_000
EXTENT_M = 100_000.0
"""Side of the square that the reaches lie in: about 0.8 km of stream a square kilometre."""
SIZES = (100_000, 1_000_000)
RUNS = 3
ROOT = Path(__file__).resolve().parents[2]


def site(fixes: int) -> tuple[NDArray[np.object_], NDArray[np.float64]]:
    """Winding reaches of 800 m, and tracks that wander about the middle of some of them, a fix every second or so."""
    rng = np.random.default_rng(17)
    course = rng.uniform(0, 2 * np.pi, (REACHES, 1)) + rng.normal(0, 0.3, (REACHES, VERTICES)).cumsum(axis=1)
    steps = PIECE_M * np.stack([np.cos(course), np.sin(course)], axis=-1)
    vertices = rng.uniform(0, EXTENT_M, (REACHES, 1, 2)) + steps.cumsum(axis=1)
    middles = vertices[rng.integers(0, REACHES, TRACKS), VERTICES // 2]
    wander = rng.normal(0, 1.5, (TRACKS, fixes // TRACKS, 2)).cumsum(axis=1)
    return shapely.linestrings(vertices), (middles[:, None] + wander).reshape(-1, 2)


def kernel(lines: NDArray[np.object_], xy: NDArray[np.float64]) -> None:
    """The nearest line of each fix and the distance to it, and nothing else."""
    points = shapely.points(xy)
    at, nearest = shapely.STRtree(lines).query_nearest(points, all_matches=False)
    shapely.distance(points[at], lines[nearest])


def engine(lines: NDArray[np.object_], xy: NDArray[np.float64]) -> None:
    """Fixes inside the zones, and their passes."""
    width = np.where(np.arange(REACHES) % 3 == 0, 100.0, 40.0)
    track = np.repeat(np.arange(TRACKS), len(xy) // TRACKS)
    seconds = np.tile(np.arange(len(xy) // TRACKS, dtype=float), TRACKS)
    found = fix_extent(xy[:, 0], xy[:, 1], lines, 5.0, width, uncertainty_ft=15.0, search_ft=1000.0)
    steps = fix_steps(xy[:, 0], xy[:, 1], seconds, track, longest_gap_s=60.0, fastest_mph=30.0)
    zone_passes(found, steps, track, seconds)


def run_once(side: str, fixes: int) -> None:
    """Work through the site on one side and print seconds and peak memory in MB."""
    lines, xy = site(fixes)
    start = time.perf_counter()
    (engine if side == "engine" else kernel)(lines, xy)
    print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)


def measured(side: str, fixes: int) -> tuple[float, int]:
    """Seconds and peak memory of one run in a process of its own."""
    command = [sys.executable, "-m", "tests.benchmarks.bench_site", "--once", side, str(fixes)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    seconds, peak = done.stdout.split()
    return float(seconds), int(peak)


def main(sizes: list[int]) -> None:
    """Measure both sides in turn for every size."""
    print(f"{'fixes':>9} {'engine s':>9} {'kernel s':>9} {'ratio':>6} {'engine MB':>10} {'kernel MB':>10}")
    for fixes in sizes:
        pairs = [(measured("engine", fixes), measured("kernel", fixes)) for _ in range(RUNS)]
        ours = statistics.median(e[0] for e, _ in pairs)
        bare = statistics.median(k[0] for _, k in pairs)
        ratio = statistics.median(e[0] / k[0] for e, k in pairs)
        peaks = max(e[1] for e, _ in pairs), max(k[1] for _, k in pairs)
        print(f"{fixes:>9,} {ours:>9.2f} {bare:>9.2f} {ratio:>6.2f} {peaks[0]:>10,} {peaks[1]:>10,}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--once"]:
        run_once(sys.argv[2], int(sys.argv[3]))
    else:
        main([int(a) for a in sys.argv[1:]] or list(SIZES))
