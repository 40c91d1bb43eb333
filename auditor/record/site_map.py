"""What the maps of a job become: layers in one local projection, and the heights of the ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from auditor.record.convert import dtype
from auditor.vocabulary.maps import LAYERS, MapLayer

Floats = npt.NDArray[np.float64]
EDGE_TOLERANCE: Final = 1e-6
"""Part of a cell by which a point may lie outside the outermost cell centres through rounding alone."""


@dataclass(frozen=True, slots=True, eq=False)
class Elevation:
    """A raster of heights, asked in local coordinates.

    `values` holds rows from the top of the raster in its own vertical unit, NaN in a hole. `affine` (a, b, c, d, e, f)
    takes column and row of a cell's corner to x = a col + b row + c, y = d col + e row + f in `crs`, the projection of
    the raster; `local_crs` is that of the points asked. `cell_m` is the longer side of a cell, `metres_per_unit` the
    size of the vertical unit. `nodata` is the value of a hole in the file, None where it names none.
    """

    file: str
    values: Floats
    affine: tuple[float, float, float, float, float, float]
    crs: str
    local_crs: str
    cell_m: float
    metres_per_unit: float
    nodata: float | None = None

    def heights(self, x_m: npt.ArrayLike, y_m: npt.ArrayLike) -> Floats:
        """Heights in metres at local coordinates in metres, bilinear between the four nearest cell centres.

        The result has the shape of the arguments together. NaN outside the outermost cell centres, where one of the
        four cells is a hole, and for coordinates that are not finite.
        """
        x, y = np.broadcast_arrays(np.asarray(x_m, dtype=np.float64), np.asarray(y_m, dtype=np.float64))
        # Loading the library for projections takes time that jobs without maps need not spend.
        from auditor.record.map_projection import local_to

        placed = local_to(self.local_crs, self.crs)(np.stack([x.ravel(), y.ravel()], axis=1))
        a, b, c, d, e, f = self.affine
        size = a * e - b * d
        dx, dy = placed[:, 0] - c, placed[:, 1] - f
        # Beyond the projection the coordinates are infinite, which makes NaN here and in the result.
        with np.errstate(invalid="ignore"):
            col, row = (e * dx - b * dy) / size - 0.5, (a * dy - d * dx) / size - 0.5
        left, part_x = _cell(col, self.values.shape[1])
        top, part_y = _cell(row, self.values.shape[0])
        v = self.values
        upper = v[top, left] * (1 - part_x) + v[top, left + 1] * part_x
        lower = v[top + 1, left] * (1 - part_x) + v[top + 1, left + 1] * part_x
        found: Floats = (upper * (1 - part_y) + lower * part_y) * self.metres_per_unit
        return found.reshape(x.shape)

    def slope_pct(
        self, x_m: npt.ArrayLike, y_m: npt.ArrayLike, dx: npt.ArrayLike, dy: npt.ArrayLike, run_m: npt.ArrayLike
    ) -> Floats:
        """Slope in percent from each point over a level run in the direction (dx, dy); positive where it rises.

        `dx` (east) and `dy` (north) need no length of their own. NaN where a height at either end is unknown, where the
        direction is zero, and for a run that is not above zero.
        """
        x, y, east, north, run = (np.asarray(v, dtype=np.float64) for v in (x_m, y_m, dx, dy, run_m))
        with np.errstate(divide="ignore", invalid="ignore"):
            step = np.where(run > 0, run, np.nan) / np.hypot(east, north)
            rise = self.heights(x + east * step, y + north * step) - self.heights(x, y)
            slope: Floats = 100 * rise / run
        return slope


@dataclass(frozen=True, slots=True, eq=False)
class SiteMap:
    """The maps of one job.

    `layers` has a frame for every layer of the vocabulary, empty where no map holds it. Columns: `job`, the fields of
    the layer, `geometry` (WKB, two dimensions, one part, in `crs`: x east and y north in metres), then `_file`,
    `_sheet` (layer in the file) and `_row` (number of the feature in it, from 1). `notes` says what was assumed and mended.
    """

    layers: dict[str, pl.DataFrame]
    crs: str
    elevation: Elevation | None
    notes: tuple[str, ...]


def layer_schema(layer: MapLayer) -> dict[str, pl.DataType]:
    """Columns and types of the frame of a layer."""
    return {
        "job": pl.String(),
        **{f.name: dtype(f) for f in layer.fields},
        "geometry": pl.Binary(),
        "_file": pl.String(),
        "_sheet": pl.String(),
        "_row": pl.UInt32(),
    }


def empty_layers() -> dict[str, pl.DataFrame]:
    """A frame without rows for every layer."""
    return {name: pl.DataFrame(schema=layer_schema(layer)) for name, layer in LAYERS.items()}


def _cell(position: Floats, count: int) -> tuple[npt.NDArray[np.intp], Floats]:
    """The cell before each position and the part of the way to the next; NaN outside."""
    near = (position >= -EDGE_TOLERANCE) & (position <= count - 1 + EDGE_TOLERANCE)
    inside = np.clip(np.where(near, position, 0.0), 0.0, count - 1)
    first = np.minimum(inside.astype(np.intp), count - 2)
    return first, np.where(near, inside - first, np.nan)
