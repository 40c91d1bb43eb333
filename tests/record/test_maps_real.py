"""Real hydrography, and distances against independent geodesics."""

from __future__ import annotations

import itertools
import math
import shutil
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np
import polars as pl
import pyogrio.raw
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.record.map_jobs import DEGREES, STATE_PLANE_FT, UTM, BuildMaps, moved, shapes, site, write_map

SAMPLE = Path(__file__).parents[1] / "samples" / "new_hope_west.gpkg"
STREAMS = "{file: new_hope_west.gpkg, layer: flowlines, holds: streams, columns: {name: COMID, feature_code: FCODE}}"
LAKES = "{file: new_hope_west.gpkg, layer: waterbodies, holds: water_bodies, columns: {feature_code: FCODE}}"


@pytest.fixture
def creek(maps: BuildMaps) -> Path:
    folder = maps(STREAMS, LAKES)
    shutil.copy(SAMPLE, folder)
    return folder


def given_by_its_makers(name: str, layer: str = "flowlines") -> list[object]:
    """An attribute straight from the file, beside the reader under test."""
    meta, _, _, columns = pyogrio.raw.read(SAMPLE, layer=layer, columns=[name], read_geometry=False)
    assert meta["fields"].tolist() == [name]
    found: list[object] = columns[0].tolist()
    return found


ALBERS = "EPSG:5070"
"""Equal area projection of the conterminous United States, in which the makers of the data took their lengths."""


def test_lengths_are_those_its_makers_give(creek: Path) -> None:
    found = site(creek)
    streams = found.layers["streams"]
    km = np.array(given_by_its_makers("LENGTHKM"), dtype=float)
    rows = streams["_row"].to_numpy() - 1
    # In their own projection: every reach to the metre that they are rounded to.
    theirs = np.bincount(rows, weights=shapely.length(moved(shapes(streams), ALBERS, found.crs)))
    assert len(theirs) == len(km) == 147
    assert np.abs(theirs - 1000 * km).max() <= 0.501
    # That projection stretches one direction by up to 1 percent and shrinks the other; over all reaches it evens out.
    ours = np.bincount(rows, weights=shapely.length(shapes(streams)))
    assert ours.sum() / 1000 == pytest.approx(km.sum(), rel=0.001)


def test_lengths_are_geodesic(creek: Path) -> None:
    streams = site(creek).layers["streams"].head(20)
    _, _, wkb, _ = pyogrio.raw.read(SAMPLE, layer="flowlines", columns=[], max_features=20)
    drawn = shapely.get_parts(shapely.from_wkb(wkb))
    assert len(drawn) == streams.height
    for local, degrees in zip(shapely.length(shapes(streams)), drawn, strict=True):
        points = shapely.get_coordinates(degrees)
        true = sum(geodesic_m(*a, *b) for a, b in itertools.pairwise(points))
        assert local == pytest.approx(true, rel=0.0001)


def test_classes_follow_the_codes_of_the_file(creek: Path) -> None:
    streams = site(creek).layers["streams"].unique("_row")
    codes = Counter(given_by_its_makers("FCODE"))
    classes = dict(streams["stream_class"].value_counts().rows())
    assert classes == {
        "perennial": codes[46006], "intermittent": codes[46003], None: codes[55800] + codes[33400],
    }  # fmt: skip
    assert streams["inside_water_body"].sum() == codes[55800]


def test_lakes_of_the_file(creek: Path) -> None:
    lakes = site(creek).layers["water_bodies"].unique("_row")
    codes = Counter(given_by_its_makers("FCODE", "waterbodies"))
    assert lakes.filter(pl.col("kind") == "lake_or_pond").height == codes[39004] + codes[39009]
    assert lakes.filter(pl.col("kind") == "wetland").height == codes[46600]


def geodesic_m(lon: float, lat: float, lon2: float, lat2: float) -> float:
    """Length of the geodesic on WGS 84 by C. Karney's own library, which the reader does not use."""
    return float(Geodesic.WGS84.Inverse(lat, lon, lat2, lon2)["s12"])


def test_distances_between_streams_are_geodesic(creek: Path) -> None:
    found = site(creek)
    _, _, wkb, _ = pyogrio.raw.read(SAMPLE, layer="flowlines", columns=[])
    ends = np.array([shapely.get_coordinates(g)[0] for g in shapely.from_wkb(wkb)])
    streams = found.layers["streams"].unique("_row", keep="first", maintain_order=True)
    local = np.array([shapely.get_coordinates(g)[0] for g in shapes(streams)])
    for i in range(0, 147, 7):
        j = (i * 5 + 40) % 147
        true = geodesic_m(*ends[i], *ends[j])
        assert math.dist(local[i], local[j]) == pytest.approx(true, rel=0.0001)


COORDINATE = st.tuples(st.floats(-0.45, 0.45), st.floats(-0.4, 0.4))


def measured_m(points: list[tuple[float, float]], crs: str) -> float:
    """The distance between two points of a job whose map is in the projection given."""
    with tempfile.TemporaryDirectory() as base:
        folder = Path(base)
        (folder / "job.yaml").write_text(
            "job: A\nstate: US-NC\nmaps:\n  - {file: t.gpkg, holds: tanks}\n", encoding="utf-8"
        )
        write_map(folder / "t.gpkg", [moved(shapely.Point(p), crs) for p in points], {"name": ["A", "B"]}, crs=crs)
        first, second = shapes(site(folder).layers["tanks"])
    return float(shapely.distance(first, second))


@settings(max_examples=15, deadline=None)
@given(COORDINATE, COORDINATE, st.sampled_from([-79.1, -90.5, -84.0]))
def test_a_distance_is_the_same_from_any_projection_and_geodesic(
    one: tuple[float, float], two: tuple[float, float], lon: float
) -> None:
    points = [(lon + dx, 35.9 + dy) for dx, dy in (one, two)]
    true = geodesic_m(*points[0], *points[1])
    plain = measured_m(points, DEGREES)
    # 100 km are the widest site; 1 mm for the rounding of short distances.
    assert plain == pytest.approx(true, rel=0.001, abs=0.001)
    for crs in (UTM, STATE_PLANE_FT, "EPSG:4269"):
        assert measured_m(points, crs) == pytest.approx(plain, abs=0.005)
