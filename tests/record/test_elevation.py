"""Heights of the ground: sampling, slopes, holes, units, and rasters that cannot be used."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyproj
import pytest
import rasterio
import shapely
from hypothesis import given
from hypothesis import strategies as st
from rasterio.transform import Affine

from auditor.record import Elevation, read_jobs
from tests.record.map_jobs import UTM, BuildMaps, ComplainMaps, notes, shapes, site, write_heights, write_map
from tests.record.test_map_faults import folder

__all__ = ["folder"]

WEST, NORTH = 676_000.0, 3_976_000.0
"""Upper left corner of the rasters, UTM zone 17 north."""
LOCAL = "+proj=tmerc +lat_0=35.91 +lon_0=-79.05 +k=1 +x_0=0 +y_0=0 +datum=WGS84 +units=m +no_defs"


def plane(rows: int = 60, columns: int = 60, cell: float = 5.0) -> np.ndarray:
    """Heights in metres of 100 + 0.2 east + 0.1 south of the corner, at the middle of each cell."""
    south, east = np.mgrid[0:rows, 0:columns] * cell + cell / 2
    return 100 + 0.2 * east + 0.1 * south


def grid(values: np.ndarray, local_crs: str = UTM, cell: float = 1.0, **more: float) -> Elevation:
    """Heights asked in the projection of the raster itself, whose upper left corner is (0, 0)."""
    return Elevation("e.tif", values, (cell, 0, 0, 0, -cell, 0), UTM, local_crs, cell, more.get("metres", 1.0))


def place(east: float, south: float, local_crs: str) -> tuple[float, float]:
    """Local coordinates of a point so many metres of the grid from the corner of the rasters."""
    x, y = pyproj.Transformer.from_crs(UTM, local_crs, always_xy=True).transform(WEST + east, NORTH - south)
    return float(x), float(y)


def test_heights_of_a_plane_are_the_plane(maps: BuildMaps) -> None:
    folder = maps("{file: e.tif, holds: elevation}")
    write_heights(folder / "e.tif", plane(), (WEST, NORTH), 5.0)
    found = site(folder)
    assert found.elevation is not None
    x, y = np.array([place(e, s, found.crs) for e, s in [(2.5, 2.5), (101.3, 47.9), (297.5, 297.5)]]).T
    # 100 + 0.2 e + 0.1 s at each point.
    assert found.elevation.heights(x, y) == pytest.approx([100.75, 125.05, 189.25], abs=1e-3)
    assert found.elevation.cell_m == 5.0


def test_slope_along_a_direction(maps: BuildMaps) -> None:
    folder = maps("{file: e.tif, holds: elevation}")
    write_heights(folder / "e.tif", plane(), (WEST, NORTH), 5.0)
    found = site(folder)
    assert found.elevation is not None
    x, y = place(150, 150, found.crs)
    # East rises 20 percent, north falls 10 percent; south-east sqrt(1/2) (0.2 + 0.1) = 21.2 percent. Grid north lies a
    # little more than one degree from true north there, which turns 0.2 east by 0.1 tan(1.1 degrees), 0.2 percent.
    slopes = found.elevation.slope_pct([x] * 3, [y] * 3, [3, 0, 1], [0, 1, -1], 30.0)
    assert slopes == pytest.approx([20, -10, 21.2], abs=0.45)
    assert np.isnan(found.elevation.slope_pct(x, y, 0, 0, 30.0))
    assert np.isnan(found.elevation.slope_pct(x, y, 1, 0, 0))
    assert np.isnan(found.elevation.slope_pct(x, y, 1, 0, 1000))


def test_bilinear_between_four_cells() -> None:
    heights = grid(np.array([[10.0, 20.0], [30.0, 60.0]]))
    # Cell centres lie at (0.5, -0.5), (1.5, -0.5), (0.5, -1.5), (1.5, -1.5).
    x, y = [0.5, 1.5, 0.5, 1.5, 1.0, 0.75], [-0.5, -0.5, -1.5, -1.5, -1.0, -0.5]
    assert heights.heights(x, y) == pytest.approx([10, 20, 30, 60, (10 + 20 + 30 + 60) / 4, 12.5], abs=1e-6)
    assert heights.heights(1.0, -1.0).shape == ()


@pytest.mark.parametrize(
    ("x", "known"), [(0.5, True), (0.49, False), (2.5, True), (2.51, False), (np.nan, False), (np.inf, False)]
)
def test_no_height_outside_the_outermost_cell_centres(x: float, known: bool) -> None:
    heights = grid(np.arange(9.0).reshape(3, 3))
    assert np.isfinite(heights.heights(x, -1.0)) == known


def test_no_height_where_one_of_four_cells_is_a_hole() -> None:
    values = np.arange(16.0).reshape(4, 4)
    values[1, 1] = np.nan
    found = grid(values).heights([1.2, 1.2, 2.8, 3.2], [-1.2, -2.2, -2.8, -1.0])
    assert np.isnan(found).tolist() == [True, True, False, False]


def test_feet_are_turned_into_metres() -> None:
    assert grid(np.full((2, 2), 100.0), metres=0.3048).heights(1.0, -1.0) == pytest.approx(30.48)


@given(st.floats(0.6, 8.4), st.floats(0.6, 8.4), st.integers(0, 2**32 - 1))
def test_a_height_lies_between_those_of_its_cells(east: float, south: float, seed: int) -> None:
    values = np.random.default_rng(seed).uniform(50, 300, (9, 9))
    height = grid(values).heights(east, -south)
    left, top = int(east - 0.5), int(south - 0.5)
    near = values[top : top + 2, left : left + 2]
    assert near.min() - 1e-3 <= height <= near.max() + 1e-3


@pytest.mark.parametrize(
    ("unit", "stated", "metres"),
    [
        ("m", "", 1),
        ("ft", "", 0.3048),
        (None, ", units: us-ft", 1200 / 3937),
        ("US survey foot", ", units: us-ft", 1200 / 3937),
    ],
)
def test_the_vertical_unit_comes_from_the_raster_or_from_its_owner(
    maps: BuildMaps, unit: str | None, stated: str, metres: float
) -> None:
    folder = maps(f"{{file: e.tif, holds: elevation{stated}}}")
    write_heights(folder / "e.tif", plane(), (WEST, NORTH), 5.0, unit=unit)
    found = site(folder).elevation
    assert found is not None
    assert found.metres_per_unit == metres


def test_degrees_serve_where_their_cells_are_fine(maps: BuildMaps) -> None:
    folder = maps("{file: e.tif, holds: elevation}")
    # One ninth of an arc second, about 3.4 m; heights rise 1 m for each row from the north.
    cell = 1 / 32_400
    write_heights(folder / "e.tif", np.arange(100.0)[:, None] * np.ones((1, 100)), (-79.1, 35.9), cell, crs="EPSG:4269")
    found = site(folder)
    assert found.elevation is not None
    # 1/32,400 degree of a meridian of 110.96 km is 3.425 m.
    assert found.elevation.cell_m == pytest.approx(3.425, abs=0.002)
    move = pyproj.Transformer.from_crs("EPSG:4326", found.crs, always_xy=True)
    x, y = move.transform(-79.1 + 50 * cell, 35.9 - 20.5 * cell)
    assert found.elevation.heights(x, y) == pytest.approx(20, abs=1e-4)
    # North to south 1 m in 3.425 m is 29.2 percent.
    assert found.elevation.slope_pct(x, y, 0, -1, 30.0) == pytest.approx(29.2, abs=0.1)


def test_holes_declared_and_not_declared(maps: BuildMaps) -> None:
    folder = maps("{file: e.tif, holds: elevation}")
    values = plane()
    values[10, 10], values[20, 20] = -9999, -32_768
    write_heights(folder / "e.tif", values, (WEST, NORTH), 5.0, nodata=-9999)
    found = site(folder)
    assert found.elevation is not None
    assert np.isnan(found.elevation.values).sum() == 2
    assert found.elevation.nodata == -9999
    assert notes(folder, "impossible") == ["elevation: 1 cells of e.tif with impossible heights taken as holes"]


def test_whole_metres_are_told(maps: BuildMaps) -> None:
    folder = maps("{file: e.tif, holds: elevation}")
    write_heights(folder / "e.tif", plane().astype(np.int16), (WEST, NORTH), 5.0)
    assert notes(folder, "whole m") == [
        "elevation: heights of e.tif come in whole m; slopes over a short run are rough"
    ]


def test_only_the_cells_of_the_site_are_kept(maps: BuildMaps) -> None:
    folder = maps("{file: u.gpkg, holds: tanks}", "{file: e.tif, holds: elevation}")
    write_map(folder / "u.gpkg", [shapely.Point(WEST + 5000, NORTH - 5000)], {"name": ["T"]}, crs=UTM)
    write_heights(folder / "e.tif", plane(2000, 2000), (WEST, NORTH), 5.0)
    found = site(folder)
    assert found.elevation is not None
    # 300 m on either side are 120 cells of 5 m, and a few for the turn of the grid.
    assert all(120 <= n <= 135 for n in found.elevation.values.shape)
    point = shapes(found.layers["tanks"])[0]
    # 100 + 0.2 x 5000 + 0.1 x 5000.
    assert found.elevation.heights(point.x, point.y) == pytest.approx(1600, abs=1e-3)


def test_a_raster_is_evidence(maps: BuildMaps) -> None:
    folder = maps("{file: e.tif, holds: elevation}")
    write_heights(folder / "e.tif", plane(), (WEST, NORTH), 5.0)
    assert [(e.path, e.tables) for e in read_jobs([folder]).evidence][1:] == [("e.tif", ("elevation",))]


COARSE = "expected cells of 10 m (33 ft) or finer, since a zone is not much wider. Use a finer elevation model, or leave it out."


@pytest.mark.parametrize(
    ("options", "entry", "message"),
    [
        ({"cell": 30.0}, "", f"creek/e.tif: found cells of 30.0 m (98 ft); {COARSE}"),
        ({"cell": 10.6}, "", f"creek/e.tif: found cells of 10.6 m (35 ft); {COARSE}"),
        ({"unit": None}, "", "creek/job.yaml, line 4, units: found no vertical unit in e.tif; expected the unit of the heights. Write units: m, ft or us-ft for this map, after looking it up where the raster came from."),
        ({"unit": "ft"}, ", units: m", 'creek/job.yaml, line 4, units: found "m", while e.tif says ft; expected the unit that the raster names. Take the line out, or mend the file.'),
        ({"bands": 3}, "", "creek/e.tif: found 3 bands; expected one band with heights. Export the heights alone."),
        ({"crs": None}, "", "creek/e.tif, crs: found no projection; expected a raster that names its projection. Write crs: with its code, such as EPSG:26917, or export it again with its projection."),
    ],
)  # fmt: skip
def test_rasters_that_cannot_be_used(
    folder: Path, map_complaints: ComplainMaps, options: dict[str, float], entry: str, message: str
) -> None:
    write_heights(folder / "e.tif", plane(), (WEST, NORTH), **{"cell": 5.0, **options})
    assert map_complaints(f"{{file: e.tif, holds: elevation{entry}}}") == [message]


def test_one_third_of_an_arc_second_is_fine_enough(maps: BuildMaps) -> None:
    folder = maps("{file: e.tif, holds: elevation}")
    write_heights(folder / "e.tif", plane(), (-79.1, 35.9), 1 / 10_800, crs="EPSG:4269")
    found = site(folder).elevation
    assert found is not None
    assert found.cell_m == pytest.approx(10.27, abs=0.01)  # 110.96 km / 10,800


def test_a_raster_of_another_place_or_no_raster(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "u.gpkg", [shapely.Point(-79.1, 35.9)], {"name": ["T"]})
    write_heights(folder / "e.tif", plane(), (WEST + 50_000, NORTH), 5.0)
    (folder / "f.tif").write_bytes(b"no raster")
    assert map_complaints("{file: u.gpkg, holds: tanks}", "{file: e.tif, holds: elevation}") == [
        "creek/e.tif: found a raster that does not reach the other maps; expected heights of the site. Check its projection, or use the one of this place."
    ]
    assert map_complaints("{file: u.gpkg, holds: tanks}", "{file: f.tif, holds: elevation}") == [
        "creek/f.tif: found a file that cannot be read; expected a raster of heights. Export the heights as GeoTIFF."
    ]
    assert map_complaints("{file: e.tif, holds: elevation}", "{file: f.tif, holds: elevation}") == [
        "creek/job.yaml, line 5, holds: found a second raster of heights; expected one raster for a job. Join the rasters into one file."
    ]


def test_a_turned_raster(maps: BuildMaps) -> None:
    folder = maps("{file: e.tif, holds: elevation}")
    turned = Affine.translation(WEST, NORTH) @ Affine.rotation(-30) @ Affine.scale(5, -5)
    with rasterio.open(
        folder / "e.tif", "w", driver="GTiff", height=60, width=60, count=1, dtype="float64", crs=UTM, transform=turned
    ) as raster:
        raster.write(plane(), 1)
        raster.units = ["m"]
    found = site(folder)
    assert found.elevation is not None
    assert found.elevation.cell_m == 5.0
    # The corner of column 30 and row 20, 150 m and 100 m along axes turned 30 degrees clockwise.
    turn = np.radians(30)
    east, north = WEST + 150 * np.cos(turn) - 100 * np.sin(turn), NORTH - 150 * np.sin(turn) - 100 * np.cos(turn)
    x, y = pyproj.Transformer.from_crs(UTM, found.crs, always_xy=True).transform(east, north)
    # Column 30 and row 20 from the corner: 150 m along the rows and 100 m down, 100 + 30 + 10.
    assert found.elevation.heights(x, y) == pytest.approx(140, abs=1e-3)


def test_heights_asked_through_a_local_projection() -> None:
    heights = Elevation("e.tif", plane(), (5.0, 0, WEST, 0, -5.0, NORTH), UTM, LOCAL, 5.0, 1.0)
    x, y = place(120, 40, LOCAL)
    assert heights.heights(x, y) == pytest.approx(128, abs=1e-3)  # 100 + 0.2 x 120 + 0.1 x 40
