"""Reads the raster of heights of a job."""

from __future__ import annotations

import math
import warnings
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pyproj
from rasterio.errors import RasterioError
from rasterio.io import MemoryFile
from rasterio.windows import Window

from auditor.record.map_projection import local_to
from auditor.record.map_source import MapSpec
from auditor.record.raw import Place
from auditor.record.site_map import Elevation

COARSEST_CELL_M: Final = 10.5
"""Heights of one third of an arc second, about 10.3 m, are the coarsest that tell the slope of a zone."""
LOWEST_M, HIGHEST_M = -500.0, 9000.0
MARGIN_M: Final = 300.0
MOST_CELLS: Final = 100_000_000
_METRES: Final = {"m": 1.0, "ft": 0.3048, "us-ft": 1200 / 3937}
_SPELLED: Final = {
    "m": "m", "metre": "m", "meter": "m", "metres": "m", "meters": "m",
    "ft": "ft", "foot": "ft", "feet": "ft", "international foot": "ft",
    "us-ft": "us-ft", "us survey foot": "us-ft", "us_survey_foot": "us-ft", "ftus": "us-ft",
}  # fmt: skip
Box = tuple[float, float, float, float]


def read_elevation(
    data: bytes, spec: MapSpec, local_crs: str, box: Box, place: Place, where: Place
) -> tuple[Elevation, list[str]]:
    """The heights within the box (local west, south, east, north in metres) and 300 m round it, and what was assumed.

    Raises UnusableInput for a raster that cannot be read, without projection or vertical unit, too coarse, or elsewhere.
    """
    try:
        # A raster without georeference gives a warning here; it is refused below.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with MemoryFile(data) as memory, memory.open() as raster:
                return _read(raster, spec, local_crs, box, place, where)
    except RasterioError:
        todo = "Export the heights as GeoTIFF."
        raise place.refuse(None, "", "a file that cannot be read", "a raster of heights", todo) from None


def raster_middle(data: bytes, spec: MapSpec, place: Place, where: Place) -> tuple[float, float]:
    """Longitude and latitude of the middle of a raster, for a job that has no other map. Raises UnusableInput."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with MemoryFile(data) as memory, memory.open() as raster:
                crs = _crs(raster, spec, place, where)
                to_degrees = pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
                lon, lat = to_degrees.transform(*(raster.transform * (raster.width / 2, raster.height / 2)))
    except RasterioError:
        todo = "Export the heights as GeoTIFF."
        raise place.refuse(None, "", "a file that cannot be read", "a raster of heights", todo) from None
    return float(lon), float(lat)


def _read(
    raster: Any, spec: MapSpec, local_crs: str, box: Box, place: Place, where: Place
) -> tuple[Elevation, list[str]]:
    if raster.count != 1:
        todo = "Export the heights alone."
        raise place.refuse(None, "", f"{raster.count} bands", "one band with heights", todo)
    crs = _crs(raster, spec, place, where)
    metres, unit = _vertical(raster, crs, spec, place, where)
    flat = crs.to_2d() if crs.is_compound else crs
    cell = _cell_m(raster, flat)
    if cell > COARSEST_CELL_M:
        found = f"cells of {cell:,.1f} m ({cell / 0.3048:,.0f} ft)"
        expected = "cells of 10 m (33 ft) or finer, since a zone is not much wider"
        raise place.refuse(None, "", found, expected, "Use a finer elevation model, or leave it out.")
    window = _window(raster, flat, local_crs, box, place)
    values, holes = _values(raster, window, metres)
    a, b, c, d, e, f = tuple(raster.window_transform(window))[:6]
    said = [
        f"elevation: {place.file}, cells of {cell:.2f} m, heights in {unit}, {flat.name}",
        *([f"elevation: {holes:,} cells of {place.file} with impossible heights taken as holes"] if holes else []),
    ]
    if np.issubdtype(np.dtype(raster.dtypes[0]), np.integer):
        said.append(f"elevation: heights of {place.file} come in whole {unit}; slopes over a short run are rough")
    grid = Elevation(
        place.file, values, (a, b, c, d, e, f), flat.to_wkt(), local_crs, round(cell, 6), metres, raster.nodata
    )
    return grid, said


def _crs(raster: Any, spec: MapSpec, place: Place, where: Place) -> pyproj.CRS:
    own = raster.crs
    if own is None and spec.crs is None:
        todo = "Write crs: with its code, such as EPSG:26917, or export it again with its projection."
        raise place.refuse(None, "crs", "no projection", "a raster that names its projection", todo)
    if own is not None:
        return pyproj.CRS.from_wkt(own.to_wkt())
    try:
        return pyproj.CRS.from_user_input(spec.crs)
    except pyproj.exceptions.CRSError:
        raise where.refuse(None, "crs", f'"{spec.crs}"', "a code such as EPSG:26917", "Correct the code.") from None


def _vertical(raster: Any, crs: pyproj.CRS, spec: MapSpec, place: Place, where: Place) -> tuple[float, str]:
    """Metres in one vertical unit, and its name."""
    said = [raster.units[0] or ""]
    if crs.is_compound or len(crs.axis_info) == 3:
        said += [axis.unit_name for axis in crs.axis_info[2:]]
    own = next((_SPELLED[word.lower()] for word in said if word.lower() in _SPELLED), None)
    if own is None and spec.units is None:
        todo = "Write units: m, ft or us-ft for this map, after looking it up where the raster came from."
        raise where.refuse(None, "units", f"no vertical unit in {place.file}", "the unit of the heights", todo)
    if own is not None and spec.units is not None and own != spec.units:
        found = f'"{spec.units}", while {place.file} says {own}'
        raise where.refuse(
            None, "units", found, "the unit that the raster names", "Take the line out, or mend the file."
        )
    unit = own or spec.units or ""
    return _METRES[unit], unit


def _cell_m(raster: Any, crs: pyproj.CRS) -> float:
    """The longer side of a cell in metres, at the middle of the raster."""
    t = raster.transform
    if not crs.is_geographic:
        factor = crs.axis_info[0].unit_conversion_factor
        return float(max(math.hypot(t.a, t.d), math.hypot(t.b, t.e)) * factor)
    lon, lat = t * (raster.width / 2, raster.height / 2)
    geod = pyproj.Geod(ellps="WGS84")
    across = geod.inv(lon, lat, lon + t.a, lat + t.d)[2]
    down = geod.inv(lon, lat, lon + t.b, lat + t.e)[2]
    return float(max(across, down))


def _window(raster: Any, crs: pyproj.CRS, local_crs: str, box: Box, place: Place) -> Window:
    """The cells that the maps of the job need; a raster of a whole county is not kept."""
    left, right, top, bottom = 0, raster.width, 0, raster.height
    if all(math.isfinite(v) for v in box):
        west, south, east, north = box[0] - MARGIN_M, box[1] - MARGIN_M, box[2] + MARGIN_M, box[3] + MARGIN_M
        xs, ys = np.linspace(west, east, 21), np.linspace(south, north, 21)
        edge_x = np.concatenate([xs, xs, np.full(21, west), np.full(21, east)])
        edge_y = np.concatenate([np.full(21, south), np.full(21, north), ys, ys])
        edge = local_to(local_crs, crs.to_wkt())(np.stack([edge_x, edge_y], axis=1))
        cols, rows = ~raster.transform * (edge[:, 0], edge[:, 1])
        left, right = max(0, math.floor(cols.min()) - 2), min(raster.width, math.ceil(cols.max()) + 2)
        top, bottom = max(0, math.floor(rows.min()) - 2), min(raster.height, math.ceil(rows.max()) + 2)
    width, height = right - left, bottom - top
    if width < 2 or height < 2:
        found, todo = (
            "a raster that does not reach the other maps",
            "Check its projection, or use the one of this place.",
        )
        raise place.refuse(None, "", found, "heights of the site", todo)
    if width * height > MOST_CELLS:
        found = f"{width * height:,} cells"
        raise place.refuse(None, "", found, "at most 100,000,000 cells", "Cut it to the site, or use wider cells.")
    return Window(left, top, width, height)


def _values(raster: Any, window: Window, metres: float) -> tuple[npt.NDArray[np.float64], int]:
    """Heights with NaN in holes, and how many holes no one declared."""
    band = raster.read(1, window=window, masked=True)
    values: npt.NDArray[np.float64] = np.ma.filled(band.astype(np.float64), np.nan)
    wild = (values * metres < LOWEST_M) | (values * metres > HIGHEST_M)
    values[wild | ~np.isfinite(values)] = np.nan
    return values, int(wild.sum())
