"""What is inside a required zone, and what is only the rounding of shapes."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from auditor.check.map_zones import HAIR_M, Zones, _parts_inside

ZONE = Zones({("B1", "left"): shapely.box(0, 0, 100, 20)}, {"B1": 0.5}, np.zeros(0))


@pytest.mark.parametrize(("deep_m", "inside"), [(1e-7, 0), (HAIR_M / 2, 0), (1e-3, 1), (5.0, 1)])
def test_ground_thinner_than_the_rounding_is_no_intrusion(deep_m: float, inside: int) -> None:
    unit = np.array([shapely.box(10, 20 - deep_m, 60, 70)], dtype=object)
    parts, which, banks = _parts_inside(unit, ZONE)
    # 50 m along the zone, as deep as it reaches in; the grid is 1e-5 m, so 50 m by half of that either way.
    assert shapely.area(parts).sum() == pytest.approx(50 * deep_m * inside, abs=50 * HAIR_M)
    assert len(parts) == len(which) == len(banks) == inside


@pytest.mark.parametrize(("deep_m", "inside"), [(1e-7, 0), (0.5, 1)])
def test_a_track_that_ends_at_the_zone_is_not_inside(deep_m: float, inside: int) -> None:
    parts, _, _ = _parts_inside(np.array([shapely.LineString([(50, 90), (50, 20 - deep_m)])], dtype=object), ZONE)
    assert len(parts) == inside


def test_a_point_in_the_zone_is_inside_though_it_has_no_size() -> None:
    parts, _, _ = _parts_inside(np.array([shapely.Point(50, 10), shapely.Point(50, 30)], dtype=object), ZONE)
    assert shapely.equals(parts, [shapely.Point(50, 10)]).all() and len(parts) == 1
