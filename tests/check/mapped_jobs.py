"""Small invented jobs with maps in a UTM projection, drawn in feet from a corner: x along the stream, y to its left."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import shapely

from auditor.check.map_rows import Mapped, with_map_rows
from auditor.check.mapped_site import MappedSite
from auditor.record import read_jobs
from tests.record.map_jobs import UTM, write_map

FT = 0.3048
CORNER = (680_000.0, 3_985_000.0)
"""Where UTM zone 17 is true to scale within 0.00001, so that lengths drawn are lengths found."""
Drawn = Sequence[tuple[Any, Mapping[str, object]]]

CREEK = shapely.LineString([(0, 0), (999.9, 0)])
"""Runs east, a hair less than 1,000 ft, so that 20 stations stand along it; 20 ft wide unless a job says otherwise, so that its banks lie at y = 10 and y = -10."""
NOTCHED = shapely.union(shapely.box(0, 70, 1000, 500), shapely.box(400, 35, 600, 100))
"""A cutting unit 70 - 10 = 60 ft from the left bank, with a notch of 200 ft length to 35 - 10 = 25 ft."""
STREAMS = "stream,kind,stream_class,width_ft\nCreek,stream,perennial,20\n"


def placed(shape: Any, turn: float = 0.0, mirror: bool = False) -> Any:
    """A shape in feet as one in UTM metres, turned against the clock by degrees, mirrored at the stream first."""
    angle = np.deg2rad(turn)
    spin = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    flip = np.array([1.0, -1.0 if mirror else 1.0])
    return shapely.transform(shape, lambda xy: (xy * flip) @ spin * FT + np.array(CORNER))


def make_job(
    folder: Path,
    maps: Mapping[str, Drawn],
    tables: Mapping[str, str] | None = None,
    *,
    doubt_ft: Mapping[str, float | None] | float | None = 5,
    turn: float = 0.0,
    mirror: bool = False,
    extra: Sequence[str] = (),
) -> Path:
    """Write a job with a GeoPackage of layers, CSV tables and `extra` lines under `maps`; gives its folder."""
    folder.mkdir(parents=True, exist_ok=True)
    lines = [
        f"job: {folder.name}", "title: invented", "state: US-NC", "county: Orange", "region: piedmont",
        "operation_start: 2026-06-01", "operation_end: 2026-08-28", "harvest_completed_on: 2026-08-28",
        "audit_date: 2026-09-15", "contractor: C-1", "harvest_type: clearcut", "land_use_after: forest",
        "special_areas: riparian_buffer_watershed",
    ]  # fmt: skip
    if tables:
        lines.append("tables:")
        for name, text in tables.items():
            (folder / f"{name}.csv").write_text(text, encoding="utf-8")
            lines.append(f"  {name}: {name}.csv")
    lines.append("maps:")
    for layer, drawn in maps.items():
        names = list(dict.fromkeys(k for _, said in drawn for k in said))
        fields = {name: [said.get(name) for _, said in drawn] for name in names}
        shapes = [placed(shape, turn, mirror) for shape, _ in drawn]
        write_map(folder / f"{layer}.gpkg", shapes, fields, crs=UTM)
        doubt = doubt_ft.get(layer) if isinstance(doubt_ft, Mapping) else doubt_ft
        told = "" if doubt is None else f", position_uncertainty_ft: {doubt:g}"
        lines.append(f"  - {{file: {layer}.gpkg, holds: {layer}{told}}}")
    (folder / "job.yaml").write_text("\n".join([*lines, *extra]) + "\n", encoding="utf-8")
    return folder


def read(*folders: Path) -> Mapped:
    """The jobs read, with the rows of their maps."""
    return with_map_rows(read_jobs(list(folders)))


def site(mapped: Mapped) -> MappedSite:
    (found,) = mapped.sites.values()
    return found


def creek_job(folder: Path, unit: Any = NOTCHED, tables: Mapping[str, str] | None = None, **more: Any) -> Path:
    """The straight creek with a cutting unit on its left, and whatever other layers."""
    layers = {
        k: more.pop(k)
        for k in ("water_bodies", "tracks", "trails", "roads", "crossings", "decks", "cut_edge")
        if k in more
    }
    maps = {"streams": [(CREEK, {"name": "Creek"})], **layers}
    if unit is not None:
        maps["units"] = [(unit, {"name": "U1", "cut_on": "2026-07-30"})]
    return make_job(folder, maps, {"streams": STREAMS} if tables is None else tables, **more)


def widths(stations: pl.DataFrame, bank: str) -> list[float]:
    return stations.filter(pl.col("bank") == bank).sort("along_ft")["zone_width_ft"].to_list()
