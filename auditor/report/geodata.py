"""The maps of a report as geodata in WGS 84: what was drawn, the zones the rules require, and what lies inside them."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from auditor.report.model import JobReport, MapFeature, Report, SiteMap

_CLOSED = {"point": "Point", "line": "LineString", "polygon": "Polygon"}
_EPOCH = "2000-01-01T00:00:00Z"
"""The day that a GeoPackage says it was changed on, so that equal reports make equal files."""


def geojson_bytes(report: Report) -> bytes:
    """Every feature of every map as one GeoJSON collection (RFC 7946: longitude and latitude, outer rings first).

    Properties: job, layer, name, finding (number or null), detail; of a machine inside a zone also those of `_times`.
    """
    features = [
        {
            "type": "Feature",
            "geometry": {"type": _CLOSED[feature.kind], "coordinates": _coordinates(feature, places)},
            "properties": _properties(job, feature),
        }
        for job, feature, places in _features(report)
    ]
    found = {"type": "FeatureCollection", "features": features}
    return (json.dumps(found, ensure_ascii=False, sort_keys=True, indent=1) + "\n").encode("utf-8")


def gpkg_bytes(report: Report) -> bytes:
    """The same as a GeoPackage with a layer for each kind of feature, such as required_zone and intrusion."""
    import numpy as np
    import pyogrio
    import shapely

    layers: dict[tuple[str, str], list[tuple[JobReport, MapFeature, list[list[tuple[float, float]]]]]] = {}
    for job, feature, places in _features(report):
        layers.setdefault((feature.layer, feature.kind), []).append((job, feature, places))
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": _EPOCH})
    try:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "map.gpkg"
            for (layer, kind), rows in layers.items():
                shapes = [
                    shapely.geometry.shape({"type": _CLOSED[kind], "coordinates": _coordinates(feature, places)})
                    for _, feature, places in rows
                ]
                told = [_properties(job, feature) for job, feature, _ in rows]
                names = list(dict.fromkeys(name for t in told for name in t if name != "layer"))
                several = len({k for (name, k) in layers if name == layer}) > 1
                pyogrio.raw.write(
                    path, shapely.to_wkb(np.array(shapes, dtype=object)),
                    [_values([t.get(n) for t in told]) for n in names], names,
                    layer=layer.replace(" ", "_") + (f"_{kind}s" if several else ""), driver="GPKG",
                    geometry_type=_CLOSED[kind], crs="EPSG:4326", append=path.exists(),
                )  # fmt: skip
            return path.read_bytes()
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def _values(values: list[Any]) -> Any:
    import numpy as np

    if all(v is None or isinstance(v, int | float) for v in values):
        return np.array([np.nan if v is None else float(v) for v in values])
    return np.array(values, dtype=object)


def _properties(job: JobReport, feature: MapFeature) -> dict[str, Any]:
    return {
        "job": job.job,
        "name": feature.name,
        "layer": feature.layer,
        "finding": feature.finding,
        "detail": feature.detail,
        **_times(job.map, feature),
    }


def _times(site: SiteMap | None, feature: MapFeature) -> dict[str, Any]:
    """The time of a machine track inside that zone, all its stays together, on each feature that shows one of them."""
    times = site.times if site is not None and feature.layer.endswith("intrusion") else []
    time = next((t for t in times if feature.name in t.shown_as), None)
    if time is None:
        return {}
    dates = {name: getattr(time, name) for name in ("first_in", "last_out", "sure_first_in", "sure_last_out")}
    return {
        "track": time.track,
        "minutes_low": time.minutes_low,
        "minutes_high": time.minutes_high,
        "minutes_drawn": time.minutes_drawn,
        "passes_low": time.passes_low,
        "passes_high": time.passes_high,
        **{name: None if at is None else at.isoformat() for name, at in dates.items()},
        "clock": "" if time.first_in is None else "universal time" if time.in_universal_time else "as recorded",
        "gap_count": time.gap_count,
        "gap_minutes": time.gap_minutes,
        "untimed_fix_count": time.untimed_fix_count,
    }


def _features(report: Report) -> Iterator[tuple[JobReport, MapFeature, list[list[tuple[float, float]]]]]:
    """Every feature with its job and its parts in degrees."""
    for job in report.jobs:
        if job.map is not None:
            to_degrees = _transformer(job.map)
            for feature in job.map.features:
                yield job, feature, [to_degrees(part) for part in feature.parts]


def _transformer(site: SiteMap) -> Any:
    import pyproj

    there = pyproj.Transformer.from_crs(4326, site.projection, always_xy=True)
    west, south = there.transform(site.west_deg, site.south_deg)
    back = pyproj.Transformer.from_crs(site.projection, 4326, always_xy=True)

    def degrees(part: list[tuple[float, float]]) -> list[tuple[float, float]]:
        x, y = back.transform([west + p[0] for p in part], [south + p[1] for p in part])
        return [(round(float(lon), 7), round(float(lat), 7)) for lon, lat in zip(x, y, strict=True)]

    return degrees


def _coordinates(feature: MapFeature, places: list[list[tuple[float, float]]]) -> Any:
    """Coordinates as GeoJSON has them: an outer ring runs against the clock, a hole with it."""
    if feature.kind == "point":
        return list(places[0][0])
    if feature.kind == "line":
        return [list(p) for p in places[0]]
    return [_turned(ring, against_clock=n == 0) for n, ring in enumerate(places)]


def _turned(ring: list[tuple[float, float]], against_clock: bool) -> list[list[float]]:
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1], strict=True))
    ordered = ring if (area > 0) == against_clock else ring[::-1]
    return [list(p) for p in ordered]
