"""Speed and memory of a harvest site with up to ten thousand reaches, each side in its own process, on demand.

    python -m tests.benchmarks.bench_site [fixes|reaches] [NUMBER ...]

`fixes`, default 100000 1000000: position fixes against ten thousand reaches. The peer is the bare kernel: shapely's search
for the nearest line of each fix and the distance to it. The engine finds the nearest bank, what lies inside zones of
different widths, steps, jumps and passes. Prints the median of three runs.

`reaches`, default 1000 10000: an invented map of `big_map.py` from layers to required zones and intrusions. The engine
sets a station at most every 50 ft on both banks, reads the widths of zone and undisturbed ground there, draws the required
zone of each bank apart from the others, and finds what lies inside, how deep, how much and how far along. The peer is the
bare kernel (`peer_map.py`): buffers of the same widths without the channels, what the map has inside them, and the nearest
cut and disturbed ground of as many places along the banks. One run.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from auditor.measures.fixes import fix_extent, fix_steps, zone_passes
from auditor.measures.reaches import FOOT_M
from tests.benchmarks.big_map import big_map
from tests.benchmarks.peer_map import map_engine, map_kernel

REACHES = 10_000
VERTICES = 41
PIECE_M = 20.0
TRACKS = 1_000
EXTENT_M = 100_000.0
"""Side of the square that the reaches lie in: about 0.8 km of stream a square kilometre."""
SIZES = {"fixes": (100_000, 1_000_000), "reaches": (1_000, 10_000)}
RUNS = {"fixes": 3, "reaches": 1}
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
    x, y = xy[:, 0], xy[:, 1]
    fix_extent(x, y, lines, 5.0, width, uncertainty_ft=15.0, search_ft=1000.0)
    steps = fix_steps(x, y, seconds, track, longest_gap_s=60.0, fastest_mph=30.0)
    outer, inner = (shapely.buffer(lines, (5.0 + width + far) * FOOT_M) for far in (15.0, -15.0))
    zone_passes(x, y, seconds, track, steps, outer, inner)


def run_once(what: str, side: str, size: int) -> None:
    """Work through the site on one side and print seconds and peak memory in MB."""
    run: Callable[[], object]
    if what == "fixes":
        lines, xy = site(size)
        run = partial(engine if side == "engine" else kernel, lines, xy)
    else:
        run = partial(map_engine if side == "engine" else map_kernel, big_map(size))
    start = time.perf_counter()
    run()
    print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)


def measured(what: str, side: str, size: int) -> tuple[float, int]:
    """Seconds and peak memory of one run in a process of its own."""
    command = [sys.executable, "-m", "tests.benchmarks.bench_site", "--once", what, side, str(size)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    seconds, peak = done.stdout.split()
    return float(seconds), int(peak)


def main(what: str, sizes: list[int]) -> None:
    """Measure both sides in turn for every size."""
    print(f"{what:>9} {'engine s':>9} {'kernel s':>9} {'ratio':>6} {'engine MB':>10} {'kernel MB':>10}")
    for size in sizes:
        pairs = [(measured(what, "engine", size), measured(what, "kernel", size)) for _ in range(RUNS[what])]
        ours = statistics.median(e[0] for e, _ in pairs)
        bare = statistics.median(k[0] for _, k in pairs)
        ratio = statistics.median(e[0] / k[0] for e, k in pairs)
        peaks = max(e[1] for e, _ in pairs), max(k[1] for _, k in pairs)
        print(f"{size:>9,} {ours:>9.2f} {bare:>9.2f} {ratio:>6.2f} {peaks[0]:>10,} {peaks[1]:>10,}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--once"]:
        run_once(sys.argv[2], sys.argv[3], int(sys.argv[4]))
    else:
        kinds = sys.argv[1:2] if sys.argv[1:2] and sys.argv[1] in SIZES else list(SIZES)
        numbers = [int(a) for a in sys.argv[1:] if a not in SIZES]
        for kind in kinds:
            main(kind, numbers or list(SIZES[kind]))
