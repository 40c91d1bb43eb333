"""Ways over a network of trails: shortest distances from decks to places and to the far ends of the trails.

Coordinates are local metres, distances ft (0.3048 m exactly).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import polars as pl
import rustworkx
import shapely
from numpy.typing import NDArray

from auditor.measures.reaches import _LINE, FOOT_M, _Numbers, _Shapes, _sound

Split = Literal["ends", "touches", "crossings"]
"""Where trails join: only end to end; also where an end meets another trail on its way; also where two cross."""

_NONE: Final = -1
_NOISE_M: Final = 1e-6
"""Rounding along a line may part what is one point by a little."""


@dataclass(frozen=True, slots=True)
class Network:
    """Trails as nodes and edges.

    `x_m`, `y_m` of each node; `start`, `end` (nodes), `length_ft` and `trail` (index of the line) of each edge; `place`,
    the node of each place that was put on the network (-1 where it was too far off), and `offset_ft`, its distance from
    the trail (NaN there).
    """

    x_m: _Numbers
    y_m: _Numbers
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    length_ft: _Numbers
    trail: NDArray[np.int64]
    place: NDArray[np.int64]
    offset_ft: _Numbers


def trail_network(
    lines: _Shapes, places: _Shapes | None = None, *, snap_ft: float, reach_ft: float = 0.0, split: Split
) -> Network:
    """The network of trails, with places such as decks put on the nearest trail.

    Parameters: `lines` (N,) trails; `places` (P,) points; `snap_ft`, 0 or more: ends, joints and places not farther
    apart, also through others between them, are one node; `reach_ft`, how far off a trail a place may lie; `split`
    "ends", "touches" or "crossings", as described at `Split`. A trail that crosses itself is not joined there.

    Places farther than `reach_ft` from every trail have node -1. Raises ValueError for a missing, empty or broken shape
    and an unknown `split`.

    Source: by definition, a planar network; lengths of edges are along the trail, gaps that were snapped count nothing.
    """
    if split not in ("ends", "touches", "crossings"):
        raise ValueError(f'split is "{split}"; it must be "ends", "touches" or "crossings"')
    trails = _sound(lines, "trail", only=_LINE)
    spots = np.empty(0, dtype=object) if places is None else _sound(places, "place", only=0)
    snap_m = snap_ft * FOOT_M + _NOISE_M
    tree, length = shapely.STRtree(trails), shapely.length(trails)
    every = np.arange(len(trails))
    on, along = [every, every], [np.zeros(len(trails)), length]
    if split != "ends":
        ends = np.concatenate([shapely.get_point(trails, 0), shapely.get_point(trails, -1)])
        end, trail = tree.query(ends, predicate="dwithin", distance=snap_m)
        other = end % max(len(trails), 1) != trail
        on.append(trail[other])
        along.append(shapely.line_locate_point(trails[trail[other]], ends[end[other]]))
    if split == "crossings":
        one, two = tree.query(trails, predicate="intersects")
        met = shapely.intersection(trails[one[one != two]], trails[two[one != two]])
        xy, pair = shapely.get_coordinates(met, return_index=True)
        on.append(one[one != two][pair])
        along.append(shapely.line_locate_point(trails[on[-1]], shapely.points(xy)))
    (spot, trail), off = tree.query_nearest(
        spots, max_distance=reach_ft * FOOT_M + _NOISE_M, return_distance=True, all_matches=False
    )
    on.append(trail)
    along.append(shapely.line_locate_point(trails[trail], spots[spot]))
    node_on, node_along = np.concatenate(on), np.concatenate(along)
    xy = shapely.get_coordinates(shapely.line_interpolate_point(trails[node_on], node_along))
    node, centre = _clustered(xy, snap_m)
    order = np.lexsort((node, node_along, node_on))
    start, end_ = node[order][:-1], node[order][1:]
    edge_ft = np.diff(node_along[order]) / FOOT_M
    # What snapping made of a piece within one node is no edge; a longer one is a loop.
    keep = (np.diff(node_on[order]) == 0) & ((start != end_) | (edge_ft > 2 * snap_m / FOOT_M))
    place, offset = np.full(len(spots), _NONE, dtype=np.int64), np.full(len(spots), np.nan)
    place[spot], offset[spot] = node[len(node) - len(spot) :], off / FOOT_M
    return Network(
        centre[:, 0], centre[:, 1], start[keep], end_[keep], edge_ft[keep], node_on[order][:-1][keep], place, offset
    )


def network_ways_ft(network: Network, sources: NDArray[np.int64]) -> _Numbers:
    """Shortest way from each source node to every node, ft: shape (sources, nodes).

    Parameters: `network`; `sources`, numbers of nodes, -1 for a place that lies on no trail.

    NaN where no way leads there, and throughout for a source of -1.

    Source: Dijkstra 1959, doi 10.1007/BF01386390.
    """
    graph = rustworkx.PyGraph(multigraph=True)
    graph.add_nodes_from(range(len(network.x_m)))
    graph.add_edges_from(
        list(zip(network.start.tolist(), network.end.tolist(), network.length_ft.tolist(), strict=True))
    )
    found = np.full((len(sources), len(network.x_m)), np.nan)
    # One search for each source: decks are few, and the library searches from one node at a time.
    for row, source in enumerate(np.asarray(sources, dtype=np.int64).tolist()):
        if source != _NONE:
            ways = rustworkx.dijkstra_shortest_path_lengths(graph, source, float)
            found[row, np.fromiter(ways.keys(), dtype=np.int64)] = np.fromiter(ways.values(), dtype=float)
            found[row, source] = 0.0
    return found


def place_ways_ft(network: Network, decks: NDArray[np.int64], points: NDArray[np.int64]) -> _Numbers:
    """Shortest way from each deck to each point, ft: shape (decks, points), with the straight way to the trail at both.

    Parameters: `network`; `decks` and `points`, indexes into the places that the network was made with.

    NaN where no way leads there or either lies on no trail.

    Source: by definition, along the trails; Dijkstra 1959, doi 10.1007/BF01386390.
    """
    ways = network_ways_ft(network, network.place[decks])
    node = network.place[points]
    found = np.where(node == _NONE, np.nan, ways[:, np.maximum(node, 0)])
    return found + network.offset_ft[decks][:, None] + network.offset_ft[points][None, :]


def far_ends(network: Network, decks: NDArray[np.int64]) -> pl.DataFrame:
    """How far the trails reach from each deck, ft: `longest_way_ft`, `mean_way_ft`, `reached_ft`, `unreached_ft`, a row each.

    `longest_way_ft` is the way to the farthest point of any trail that can be reached, often a far end; `mean_way_ft` the
    mean way of all points of those trails; `reached_ft` and `unreached_ft` their length and that of all others. The
    straight way from the deck to its trail is part of each way.

    Parameters: `network`; `decks`, indexes into the places that the network was made with.

    Null ways for a deck on no trail; its `reached_ft` is 0. The ways are null too where nothing is reached.

    Source: by definition. On an edge of length l whose ends lie a and b away the farthest point is (a + b + l) / 2 away;
    the mean is that of the lesser of a + s and b + l - s, arithmetic.
    """
    ways = network_ways_ft(network, network.place[decks])
    near, far, length = ways[:, network.start], ways[:, network.end], network.length_ft
    met = ~np.isnan(near) & (length > 0)
    # Up to `turn` from the start the way leads over the start, beyond it over the end.
    turn = (far - near + length) / 2
    sums = np.where(met, (near + turn / 2) * turn + (far + (length - turn) / 2) * (length - turn), 0.0).sum(axis=1)
    reached = np.where(met, length, 0.0).sum(axis=1)
    top = np.where(met, (near + far + length) / 2, -np.inf).max(axis=1, initial=-np.inf)
    offset, some = network.offset_ft[decks], reached > 0
    mean = sums / np.where(some, reached, 1.0)
    return pl.DataFrame(
        {
            "longest_way_ft": np.where(some, top + offset, np.nan),
            "mean_way_ft": np.where(some, mean + offset, np.nan),
            "reached_ft": reached,
            "unreached_ft": length.sum() - reached,
        }
    ).fill_nan(None)


def _clustered(xy: _Numbers, within_m: float) -> tuple[NDArray[np.int64], _Numbers]:
    """The node of each point and the middle of each node: points linked by steps of at most a distance are one node."""
    points = shapely.points(xy)
    one, two = shapely.STRtree(points).query(points, predicate="dwithin", distance=within_m)
    graph = rustworkx.PyGraph(multigraph=False)
    graph.add_nodes_from(range(len(xy)))
    graph.add_edges_from_no_data(list(zip(one[one < two].tolist(), two[one < two].tolist(), strict=True)))
    node = np.zeros(len(xy), dtype=np.int64)
    groups = sorted(sorted(group) for group in rustworkx.connected_components(graph))
    members = np.array([n for group in groups for n in group], dtype=np.int64)
    sizes = np.array([len(group) for group in groups], dtype=np.int64)
    node[members] = np.repeat(np.arange(len(groups)), sizes)
    centre = np.column_stack([np.bincount(node, xy[:, axis], len(groups)) for axis in (0, 1)]) / sizes[:, None]
    return node, centre
