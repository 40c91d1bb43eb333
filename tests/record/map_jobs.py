"""Invented jobs with maps: vector files and rasters made on the spot, and what the reader makes of them."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pyogrio.raw
import pyproj
import rasterio
import shapely
from rasterio.transform import Affine

from auditor.record import SiteMap, read_jobs

DEGREES = "EPSG:4326"
UTM = "EPSG:26917"
STATE_PLANE_FT = "EPSG:2264"
"""North Carolina, US survey feet."""
M2_PER_ACRE = 4046.8564224
"""43,560 ft2 of 0.3048 m."""

BuildMaps = Callable[..., Path]
ComplainMaps = Callable[..., list[str]]


def box(west: float = -79.10, south: float = 35.90, width: float = 0.001, height: float = 0.001) -> Any:
    """A rectangle in degrees, inside the United States unless told otherwise."""
    return shapely.box(west, south, west + width, south + height)


def line(*points: tuple[float, float]) -> Any:
    return shapely.LineString(points or [(-79.10, 35.90), (-79.099, 35.901)])


def write_map(
    path: Path,
    shapes: Sequence[Any],
    fields: Mapping[str, Sequence[object]] | None = None,
    crs: str | None = DEGREES,
    layer: str | None = None,
    append: bool = False,
) -> Path:
    """Write shapes (or WKB, or None) and attributes in the format that the name of the file tells."""
    wkb = np.array([s if s is None or isinstance(s, bytes) else shapely.to_wkb(s) for s in shapes], dtype=object)
    kinds = {shapely.from_wkb(b).geom_type for b in wkb if b is not None and shapely.from_wkb(b, on_invalid="ignore")}
    # A format for one kind of shape alone needs to be told it; KML and GPX take what comes.
    kind = kinds.pop() if len(kinds) == 1 else "Unknown"
    columns = [
        np.asarray(values) if not _words(values) else np.array(values, dtype=object)
        for values in (fields or {}).values()
    ]
    options = {} if path.suffix != ".gpx" else {"FORCE_GPX_TRACK": "YES"}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        pyogrio.raw.write(
        path, wkb, columns, list(fields or {}), layer=layer, geometry_type=kind, crs=crs, append=append,
        driver="KML" if path.suffix == ".kml" else None, **options,
        )  # fmt: skip
    return path


def _words(values: Sequence[object]) -> bool:
    return any(v is None or isinstance(v, str) for v in values)


def moved(shape: Any, crs: str, source: str = DEGREES) -> Any:
    """A shape in another projection."""
    transformer = pyproj.Transformer.from_crs(source, crs, always_xy=True)
    return shapely.transform(shape, lambda xy: np.stack(transformer.transform(xy[:, 0], xy[:, 1]), axis=1))


def write_heights(
    path: Path,
    values: np.ndarray[Any, Any],
    corner: tuple[float, float],
    cell: float,
    crs: str | None = UTM,
    nodata: float | None = None,
    unit: str | None = "m",
    bands: int = 1,
) -> Path:
    """Write a raster whose upper left corner is at `corner`."""
    height, width = values.shape
    with rasterio.open(
        path, "w", driver="GTiff", height=height, width=width, count=bands, dtype=values.dtype, crs=crs, nodata=nodata,
        transform=Affine(cell, 0, corner[0], 0, -cell, corner[1]),
    ) as raster:  # fmt: skip
        for band in range(1, bands + 1):
            raster.write(values, band)
        if unit is not None:
            raster.units = [unit] * bands
    return path


def site(folder: Path) -> SiteMap:
    """The maps of the one job in a folder."""
    (found,) = read_jobs([folder]).maps.values()
    return found


def shapes(frame: pl.DataFrame) -> Any:
    """The geometries of a layer."""
    return shapely.from_wkb(np.array(frame["geometry"].to_list(), dtype=object))


def notes(folder: Path, about: str) -> list[str]:
    """The notes of the maps in a folder that hold a text."""
    return [note for note in site(folder).notes if about in note]
