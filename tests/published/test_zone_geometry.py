"""Areas, distances and ways on the map against the ellipsoid: GeographicLib's geodesics, and pyproj's projection.

Sites are drawn in metres of a transverse Mercator projection about their middle, carried back to latitude and longitude
and measured on WGS 84. Within 0.1 percent: a projection about a site is true to scale far better than that, chords of
arcs lose at most 0.01 percent.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from pyproj import Geod, Transformer

from auditor.measures.intrusions import intrusions
from auditor.measures.network import place_ways_ft, trail_network
from auditor.measures.reaches import FOOT_M, head_stations, stations, zone_width_ft
from auditor.measures.zones import disjoint_zones, required_zones, zone_area_acres

GEOD = Geod(ellps="WGS84")
ACRE_M2 = 4046.8564224
"""NIST Handbook 44, appendix C: the acre of 43,560 square feet of 0.3048 m."""
SITES = [(31.5, -83.5), (35.6, -82.6), (32.0, -95.0), (38.0, -80.5)]
"""Latitude and longitude: south Georgia, western North Carolina, east Texas, West Virginia."""
COURSE = np.array([(-900, -300), (-500, -180), (-200, -260), (150, 40), (420, 60), (800, 390)], dtype=float)


def back(shape: shapely.Geometry, site: tuple[float, float]) -> shapely.Geometry:
    """A shape carried back to longitude and latitude."""
    lat, lon = site
    local = f"+proj=tmerc +lat_0={lat} +lon_0={lon} +k=1 +ellps=WGS84 +units=m"
    to_degrees = Transformer.from_crs(local, "EPSG:4326", always_xy=True)
    return shapely.transform(shape, lambda xy: np.column_stack(to_degrees.transform(xy[:, 0], xy[:, 1])))


@pytest.mark.parametrize("site", SITES)
def test_zone_areas_on_the_ellipsoid(site: tuple[float, float]) -> None:
    line = np.array([shapely.LineString(COURSE)])
    _, zones = required_zones(line, stations(line, 14, 100), 75, touch_ft=1)
    for zone, acres in zip(zones, zone_area_acres(zones), strict=True):
        area, _ = GEOD.geometry_area_perimeter(shapely.orient_polygons(back(zone, site)))
        assert acres == pytest.approx(abs(area) / ACRE_M2, rel=1e-3)


@pytest.mark.parametrize("site", SITES)
def test_zone_widths_on_the_ellipsoid(site: tuple[float, float]) -> None:
    # The distance from each bank point to the nearest point of the cut, as a geodesic.
    line = np.array([shapely.LineString(COURSE)])
    edge = np.array(
        [shapely.LineString(COURSE + np.array([(-20, 31), (5, 44), (-9, 25), (-30, 38), (3, 61), (-12, 33)]))]
    )
    rows = stations(line, 14, 200).filter(side="left")
    kept = zone_width_ft(rows, edge, 400, lines=line)
    assert not kept["wider_than_read"].any()
    for (x, y), feet in zip(rows.select("bank_x_m", "bank_y_m").rows(), kept["nearest_ft"], strict=True):
        (lon, lat), (lon2, lat2) = back(shapely.shortest_line(shapely.Point(x, y), edge[0]), site).coords
        assert feet * FOOT_M == pytest.approx(Geodesic.WGS84.Inverse(lat, lon, lat2, lon2)["s12"], rel=1e-3)


@pytest.mark.parametrize("site", SITES)
def test_intrusions_on_the_ellipsoid(site: tuple[float, float]) -> None:
    line = np.array([shapely.LineString(COURSE)])
    deck = np.array([shapely.Point(-340, -200).buffer(25)])
    found = intrusions(line, stations(line, 0, 100), 75, deck, 10, search_ft=50, touch_ft=1).filter(side="left")
    # By other means: the deck cut with GEOS's own buffer of the line, on the deck's side.
    inside = shapely.intersection(shapely.buffer(line[0], 75 * FOOT_M, cap_style="flat", quad_segs=64), deck[0])
    left = shapely.intersection(inside, shapely.Polygon([*COURSE, (800, 999), (-900, 999)]))
    area, _ = GEOD.geometry_area_perimeter(shapely.orient_polygons(back(left, site)))
    assert found["area_acres"][0] == pytest.approx(area / ACRE_M2, rel=1e-3)


@pytest.mark.parametrize("site", SITES)
def test_skidding_distances_on_the_ellipsoid(site: tuple[float, float]) -> None:
    trails = np.array([shapely.LineString(COURSE), shapely.LineString([(150, 40), (210, -330)])])
    ends = np.array([shapely.Point(COURSE[0]), shapely.Point(210, -330)])
    network = trail_network(trails, ends, snap_ft=1, reach_ft=1, split="touches")
    way = place_ways_ft(network, np.array([0]), np.array([1]))[0, 0] * FOOT_M
    lon, lat = np.array(back(shapely.LineString([*COURSE[:4], (210, -330)]), site).coords).T
    assert way == pytest.approx(GEOD.line_length(lon, lat), rel=1e-3)


def test_figures_of_textbook_geometry() -> None:
    # Around a source of a stream without width, and along it: a capsule cut in half: 2 r l + pi r^2 / 2. With
    # r = 100 ft and l = 1,000 ft: 200,000 + 5,000 pi = 215,708 square feet = 4.952 acres.
    line = np.array([shapely.LineString([(0, 0), (1000 * FOOT_M, 0)])])
    rows = [stations(line, 0, 100), head_stations(line, np.array([True]), 0, 100, 50)]
    zones = np.concatenate([required_zones(line, part, 100, touch_ft=1)[1] for part in rows])
    assert zone_area_acres(disjoint_zones(zones)).sum() == pytest.approx((200_000 + 5_000 * math.pi) / 43_560, rel=1e-4)
    # 50 ft on each side along 1 mile: 5,280 x 100 / 43,560 = 12.12 acres, the figure of forestry handbooks.
    mile = np.array([shapely.LineString([(0, 0), (1609.344, 0)])])
    assert zone_area_acres(required_zones(mile, stations(mile, 9, 250), 50, touch_ft=1)[1]).sum() == pytest.approx(
        12.1212, abs=1e-4
    )
