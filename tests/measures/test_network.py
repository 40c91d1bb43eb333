"""Ways over trails, worked by hand and against networkx. Drawn in feet."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import networkx
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.measures.network import Network, far_ends, network_ways_ft, place_ways_ft, trail_network
from auditor.measures.reaches import FOOT_M
from tests.measures.test_reaches import Shapes, feet

NAN = float("nan")


def spots(*places: tuple[float, float]) -> Shapes:
    return np.array([shapely.Point(x * FOOT_M, y * FOOT_M) for x, y in places])


def made(lines: Shapes, *places: tuple[float, float], **options: Any) -> Network:
    options = {"snap_ft": 5.0, "reach_ft": 60.0, "split": "touches", **options}
    return trail_network(lines, spots(*places), **options)


# A main trail of 1,000 ft east, and a branch north from its middle that starts 3 ft off it.
TEE = feet([(0, 0), (1000, 0)], [(500, 3), (500, 403)])
CROSS = feet([(0, 0), (1000, 0)], [(500, -300), (500, 300)])


def way(network: Network, to: int = 1) -> float:
    """The way from the first place to another."""
    return float(place_ways_ft(network, np.array([0]), np.array([to]))[0, 0])


def test_a_branch_that_meets_a_trail_on_its_way() -> None:
    # 500 along the main trail, 400 up the branch; the gap of 3 ft was snapped and counts nothing.
    assert way(made(TEE, (0, 0), (500, 403))) == pytest.approx(900)
    # Joined end to end only, the branch is not reached.
    assert math.isnan(way(made(TEE, (0, 0), (500, 403), split="ends")))


@pytest.mark.parametrize(("snap", "joined"), [(2.9, False), (3, True), (3.1, True)])
def test_how_far_apart_ends_may_lie(snap: float, joined: bool) -> None:
    assert math.isnan(way(made(TEE, (0, 0), (500, 403), snap_ft=snap))) is not joined
    # End to end: a gap of 3 ft in one trail.
    gap = feet([(0, 0), (100, 0)], [(103, 0), (200, 0)])
    assert math.isnan(way(made(gap, (0, 0), (200, 0), snap_ft=snap, split="ends"))) is not joined


@pytest.mark.parametrize(("split", "feet_"), [("ends", NAN), ("touches", NAN), ("crossings", 800)])
def test_trails_that_cross_join_only_if_asked(split: str, feet_: float) -> None:
    # 500 to the crossing, 300 up.
    assert way(made(CROSS, (0, 0), (500, 300), split=split)) == pytest.approx(feet_, nan_ok=True)


def test_trails_that_run_over_each_other_join_along() -> None:
    # The second shares 300 to 700 with the first and leaves it northward: 700 + 100.
    lines = feet([(0, 0), (1000, 0)], [(300, 0), (700, 0), (700, 100)])
    assert way(made(lines, (0, 0), (700, 100), split="crossings")) == pytest.approx(800)


def test_a_deck_beside_its_trail() -> None:
    # 40 ft off at x = 200, the point 20 ft off at x = 900: 40 + 700 + 20; at 61 ft a place lies on no trail.
    assert way(made(TEE, (200, 40), (900, -20))) == pytest.approx(760)
    far = made(TEE, (200, 61), (900, 0), (200, 60))
    assert far.place[0] == -1
    assert math.isnan(way(far))
    assert math.isnan(place_ways_ft(far, np.array([1]), np.array([0]))[0, 0])
    assert place_ways_ft(far, np.array([1]), np.array([2]))[0, 0] == pytest.approx(760)


def test_the_shorter_way_round() -> None:
    # A square of 100 ft, one place in each of two opposite sides: 50 + 100 + 50 both ways; a third 10 ft from a corner.
    square = feet([(0, 0), (100, 0)], [(100, 0), (100, 100)], [(100, 100), (0, 100)], [(0, 100), (0, 0)])
    network = made(square, (50, 0), (50, 100), (90, 0))
    assert way(network) == pytest.approx(200)
    assert way(network, 2) == pytest.approx(40)
    assert way(network, 0) == 0


def test_far_ends_of_a_tee() -> None:
    found = far_ends(made(TEE, (0, 0), (500, 0), (5000, 0)), np.array([0, 1, 2]))
    # From the west end: 1,000 ft to the east end; the trails are 1,400 ft long. Mean way: 1,000 ft of main trail at 500
    # on average, 400 ft of branch at 700: (500,000 + 280,000) / 1,400. From the middle: 500 the farthest;
    # (1,000 x 250 + 400 x 200) / 1,400.
    assert found["longest_way_ft"].to_list() == pytest.approx([1000, 500, None])
    assert found["mean_way_ft"].to_list() == pytest.approx([780_000 / 1_400, 330_000 / 1_400, None])
    assert found["reached_ft"].to_list() == pytest.approx([1400, 1400, 0])
    assert found["unreached_ft"].to_list() == pytest.approx([0, 0, 1400], abs=1e-6)


def test_the_farthest_place_of_a_loop_is_half_way_round() -> None:
    # A loop of 400 ft in one trail, hung on the end of a trail of 100 ft: 100 + 200; mean (100 x 50 + 400 x 200) / 500.
    lines = feet([(0, 0), (100, 0)], [(100, 0), (200, 0), (200, 100), (100, 100), (100, 0)])
    found = far_ends(made(lines, (0, 0)), np.array([0]))
    assert found.select("longest_way_ft", "mean_way_ft", "reached_ft").row(0) == pytest.approx((300, 170, 500))
    # In two trails it is the same.
    halves = feet([(0, 0), (100, 0)], [(100, 0), (200, 0), (200, 100)], [(200, 100), (100, 100), (100, 0)])
    assert far_ends(made(halves, (0, 0)), np.array([0])).row(0) == pytest.approx((300, 170, 500, 0), abs=1e-6)


def test_a_trail_that_is_not_joined_is_unreached() -> None:
    lines = feet([(0, 0), (100, 0)], [(0, 500), (300, 500)])
    found = far_ends(made(lines, (0, 30)), np.array([0])).row(0, named=True)
    # The deck lies 30 ft beside its trail: every way begins with them.
    assert found == pytest.approx({"longest_way_ft": 130, "mean_way_ft": 80, "reached_ft": 100, "unreached_ft": 300})


def test_what_is_refused() -> None:
    with pytest.raises(ValueError, match='split is "everywhere"'):
        made(TEE, split="everywhere")
    with pytest.raises(ValueError, match="trail 0 has no sound shape"):
        made(np.array([None], dtype=object))
    with pytest.raises(ValueError, match="place 0 has no sound shape"):
        trail_network(TEE, np.array([shapely.Point()]), snap_ft=1, split="ends")


def test_no_trails() -> None:
    network = made(np.empty(0, dtype=object), (0, 0))
    assert network.place.tolist() == [-1]
    assert far_ends(network, np.array([0]))["longest_way_ft"].to_list() == [None]


grid = st.tuples(st.integers(0, 4), st.integers(0, 4))


@given(st.lists(st.tuples(grid, grid).filter(lambda e: e[0] != e[1]), min_size=1, max_size=18))
@settings(max_examples=60, deadline=None)
def test_ways_are_those_of_networkx(edges: list[tuple[tuple[int, int], tuple[int, int]]]) -> None:
    # Straight trails between points of a grid of 100 ft, joined end to end.
    lines = feet(*([(a[0] * 100.0, a[1] * 100.0), (b[0] * 100.0, b[1] * 100.0)] for a, b in edges))
    corners = sorted({corner for edge in edges for corner in edge})
    network = made(lines, *((x * 100.0, y * 100.0) for x, y in corners), snap_ft=1.0, reach_ft=1.0)
    peer = networkx.Graph()
    peer.add_nodes_from(corners)
    # Corners on the way of a trail join it there: the peer gets each trail as the chain of its corners.
    for a, b in edges:
        on = [c for c in corners if math.isclose(math.dist(a, c) + math.dist(c, b), math.dist(a, b), abs_tol=1e-9)]
        on.sort(key=lambda c, a=a: math.dist(a, c))  # type: ignore[misc]
        peer.add_edges_from((c, d, {"weight": 100 * math.dist(c, d)}) for c, d in pairwise(on))
    every = np.arange(len(corners))
    ways = place_ways_ft(network, every, every)
    for row, corner in enumerate(corners):
        known = networkx.single_source_dijkstra_path_length(peer, corner)
        expected = [known.get(other, NAN) for other in corners]
        assert ways[row].tolist() == pytest.approx(expected, nan_ok=True, abs=1e-6)
    assert network_ways_ft(network, network.place).shape == (len(corners), len(network.x_m))


@given(st.integers(0, 2**32 - 1), st.integers(2, 25), st.floats(0.05, 0.6))
@settings(max_examples=60, deadline=None)
def test_searches_of_random_networks(seed: int, nodes: int, density: float) -> None:
    # Any graph with any lengths, some of them doubled: the search alone.
    peer = networkx.gnp_random_graph(nodes, density, seed=seed)
    rng = np.random.default_rng(seed)
    pairs = np.array([*peer.edges, *list(peer.edges)[::3]], dtype=np.int64).reshape(-1, 2)
    length = rng.uniform(1, 1000, len(pairs))
    for (a, b), feet_ in zip(pairs.tolist(), length.tolist(), strict=True):
        peer[a][b]["weight"] = min(feet_, peer[a][b].get("weight", math.inf))
    none = np.empty(0)
    network = Network(
        np.zeros(nodes),
        np.zeros(nodes),
        pairs[:, 0],
        pairs[:, 1],
        length,
        np.arange(len(pairs)),
        none.astype(np.int64),
        none,
    )
    ways = network_ways_ft(network, np.array([0, nodes - 1, -1]))
    for row, source in enumerate((0, nodes - 1)):
        known = networkx.single_source_dijkstra_path_length(peer, source)
        assert ways[row].tolist() == pytest.approx([known.get(n, NAN) for n in range(nodes)], nan_ok=True)
    assert np.isnan(ways[2]).all()
