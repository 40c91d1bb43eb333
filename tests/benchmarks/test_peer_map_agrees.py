"""The bare kernel of the map benchmark works on the same ground as the engine, else it would be no yardstick."""

from __future__ import annotations

import pytest
import shapely

from tests.benchmarks.big_map import FOOT_M, big_map
from tests.benchmarks.peer_map import map_engine, map_kernel


def test_the_kernel_finds_the_ground_that_the_engine_finds() -> None:
    site = big_map(30)
    zones, inside = map_engine(site)
    acres, acres_inside = map_kernel(site)
    # The kernel draws half circles round both ends of a reach, where the engine has a head or square ends.
    assert sum(zones.acres.values()) == pytest.approx(acres, rel=0.05)
    acre = 43_560 * FOOT_M**2
    assert sum(shapely.area(one.shape) for one in inside) / acre == pytest.approx(acres_inside, rel=0.05)
    assert {one.name.split()[0] for one in inside} == {"cut", "machine", "deck"}
