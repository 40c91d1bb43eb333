"""The map of a report as GeoJSON and GeoPackage: form, places against the source, and what may not leave."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pyogrio
import pyproj
import pytest
import shapely

from auditor.audit import audit
from auditor.report.geodata import geojson_bytes, gpkg_bytes
from auditor.report.model import MapFeature, Report
from auditor.report.privacy import edition
from auditor.report.writing import write_report
from auditor.vocabulary.problems import UnusableInput
from tests.house.tree import ROOT

SAMPLE = ROOT / "sample_jobs" / "newhope_map"
PLACE: dict[str, Any] = {
    "type": "array", "minItems": 2, "maxItems": 2,
    "prefixItems": [{"type": "number", "minimum": -180, "maximum": 180}, {"type": "number", "minimum": -90, "maximum": 90}],
}  # fmt: skip
SCHEMA: dict[str, Any] = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "type": "object",
    "additionalProperties": False,
    "required": ["type", "features"],
    "properties": {
        "type": {"const": "FeatureCollection"},
        "features": {
            "type": "array",
            "minItems": 1,
            "items": {
                "type": "object",
                "additionalProperties": False,
                "required": ["type", "geometry", "properties"],
                "properties": {
                    "type": {"const": "Feature"},
                    "geometry": {
                        "oneOf": [
                            {"properties": {"type": {"const": "Point"}, "coordinates": PLACE}},
                            {"properties": {"type": {"const": "LineString"}, "coordinates": {"type": "array", "minItems": 2, "items": PLACE}}},
                            {"properties": {"type": {"const": "Polygon"}, "coordinates": {"type": "array", "minItems": 1, "items": {"type": "array", "minItems": 4, "items": PLACE}}}},
                        ]
                    },
                    "properties": {
                        "type": "object",
                        "required": ["job", "layer", "name", "finding", "detail"],
                        "properties": {"finding": {"type": ["integer", "null"]}},
                    },
                },
            },
        },
    },
}  # fmt: skip
"""RFC 7946, as far as this program writes it: no other coordinate system, no third coordinate, no multi-part shape."""


@pytest.fixture(scope="module")
def report() -> Report:
    return audit([SAMPLE])


@pytest.fixture(scope="module")
def collection(report: Report) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(geojson_bytes(report))
    return found


def features_of(report: Report) -> list[MapFeature]:
    (job,) = report.jobs
    assert job.map is not None
    return job.map.features


def signed_area(ring: list[list[float]]) -> float:
    """Above 0 where the ring runs against the clock: the shoelace formula."""
    x, y = np.array(ring).T
    return float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) / 2)


def test_geojson_has_the_form_of_rfc_7946(collection: dict[str, Any]) -> None:
    jsonschema.Draft202012Validator(SCHEMA).validate(collection)


def test_rings_are_closed_and_turn_as_rfc_7946_says(collection: dict[str, Any]) -> None:
    shapes = [f["geometry"]["coordinates"] for f in collection["features"] if f["geometry"]["type"] == "Polygon"]
    assert shapes
    for outer, *holes in shapes:
        assert all(ring[0] == ring[-1] for ring in (outer, *holes))
        assert signed_area(outer) > 0 and all(signed_area(hole) < 0 for hole in holes)


@pytest.mark.parametrize("turned", [False, True])
def test_rings_are_turned_whichever_way_they_were_drawn(report: Report, turned: bool) -> None:
    outer = [(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0), (0.0, 0.0)]
    hole = [(40.0, 40.0), (60.0, 40.0), (60.0, 60.0), (40.0, 60.0), (40.0, 40.0)]
    rings = [ring[::-1] if turned else ring for ring in (outer, hole)]
    feature = MapFeature(layer="cutting unit", name="U", kind="polygon", parts=rings)
    (job,) = report.jobs
    assert job.map is not None
    site = job.map.model_copy(update={"features": [feature]})
    one = report.model_copy(update={"jobs": [job.model_copy(update={"map": site})]})
    (found,) = json.loads(geojson_bytes(one))["features"]
    first, second = found["geometry"]["coordinates"]
    assert signed_area(first) > 0 > signed_area(second)


def test_longitude_comes_first(collection: dict[str, Any]) -> None:
    points = [f["geometry"]["coordinates"] for f in collection["features"] if f["geometry"]["type"] == "Point"]
    # Orange County, North Carolina: about 79 degrees west, 36 north.
    assert points and all(-79.3 < lon < -78.9 and 35.8 < lat < 36.3 for lon, lat in points)


def test_geojson_holds_every_feature_with_its_finding(report: Report, collection: dict[str, Any]) -> None:
    told = [
        (f["properties"]["layer"], f["properties"]["name"], f["properties"]["finding"]) for f in collection["features"]
    ]
    assert told == [(f.layer, f.name, f.finding) for f in features_of(report)]
    assert {f["properties"]["job"] for f in collection["features"]} == {"FERRY-5"}


def in_metres(shape: Any) -> Any:
    """Longitude and latitude as metres of UTM zone 17, a projection that the report does not use."""
    move = pyproj.Transformer.from_crs(4326, 32617, always_xy=True)
    return shapely.transform(shape, lambda xy: np.stack(move.transform(xy[:, 0], xy[:, 1]), axis=1))


@pytest.mark.parametrize(
    ("source", "label", "layer"),
    [
        ("flowlines", "label", "perennial stream"), ("cut_units", "unit", "cutting unit"), ("trails", "trail", "trail"),
        ("roads", "road", "road"), ("decks", "deck", "deck"), ("crossings", "crossing", "crossing"),
    ],
)  # fmt: skip
def test_places_are_those_of_the_source(collection: dict[str, Any], source: str, label: str, layer: str) -> None:
    meta, _, wkb, columns = pyogrio.raw.read(SAMPLE / "site.gpkg", layer=source)
    drawn = dict(zip(columns[list(meta["fields"]).index(label)], in_metres(shapely.from_wkb(wkb)), strict=True))
    found = [f for f in collection["features"] if f["properties"]["layer"] == layer]
    assert found
    held = 0
    for feature in found:
        told = in_metres(shapely.geometry.shape(feature["geometry"]))
        edge = drawn[feature["properties"]["name"]]
        edge = edge.exterior if edge.geom_type == "Polygon" else edge
        # Streams are cut off at the edge of the map, so only what is told is held against the source.
        corners = shapely.points(shapely.get_coordinates(told))
        inner = corners if layer != "perennial stream" else corners[1:-1]
        held += len(inner)
        assert shapely.distance(inner, edge).max(initial=0.0) < 0.2
    assert held > 0


def test_the_geopackage_holds_the_same(report: Report, tmp_path: Path) -> None:
    path = tmp_path / "map.gpkg"
    path.write_bytes(gpkg_bytes(report))
    found = []
    for layer, _ in pyogrio.list_layers(path):
        meta, _, wkb, columns = pyogrio.raw.read(path, layer=layer)
        assert meta["crs"] == "EPSG:4326"
        rows = dict(zip(meta["fields"], columns, strict=True))
        for n, shape in enumerate(shapely.from_wkb(wkb)):
            number = rows["finding"][n]
            finding = None if number is None or np.isnan(number) else int(number)
            found.append(
                (
                    layer,
                    rows["job"][n],
                    rows["name"][n],
                    finding,
                    rows["detail"][n] or "",
                    shapely.to_wkt(shapely.normalize(shape), rounding_precision=7),
                )
            )
    expected = [
        (
            f["properties"]["layer"].replace(" ", "_"), f["properties"]["job"], f["properties"]["name"], f["properties"]["finding"],
            f["properties"]["detail"], shapely.to_wkt(shapely.normalize(shapely.geometry.shape(f["geometry"])), rounding_precision=7),
        )
        for f in json.loads(geojson_bytes(report))["features"]
    ]  # fmt: skip

    def bare(row: tuple[Any, ...]) -> tuple[str, ...]:
        # A layer with lines and polygons has one table for each.
        layer = str(row[0])
        for ending in ("_polygons", "_lines", "_points"):
            layer = layer.removesuffix(ending)
        return (layer, *(str(v) for v in row[1:]))

    assert sorted(map(bare, found)) == sorted(map(bare, expected))


def test_both_come_out_byte_for_byte_the_same_again(report: Report) -> None:
    again = audit([SAMPLE])
    assert geojson_bytes(report) == geojson_bytes(again)
    assert gpkg_bytes(report) == gpkg_bytes(again)


@pytest.mark.parametrize("name", ["map.geojson", "map.gpkg"])
def test_a_report_without_a_map_is_refused(report: Report, tmp_path: Path, name: str) -> None:
    (job,) = report.jobs
    bare = report.model_copy(update={"jobs": [job.model_copy(update={"map": None})]})
    with pytest.raises(UnusableInput) as error:
        write_report(bare, tmp_path / name)
    (problem,) = error.value.problems
    assert problem.found == "a report without a map" and "maps in a job folder" in problem.expected
    assert not (tmp_path / name).exists()


@pytest.mark.parametrize("name", ["map.geojson", "map.gpkg"])
def test_with_codes_for_names_no_map_leaves(report: Report, tmp_path: Path, name: str) -> None:
    coded = edition(report, names="codes")
    assert all(job.map is None for job in coded.jobs)
    assert "Ferry Branch" not in coded.model_dump_json(exclude={"rules"})
    with pytest.raises(UnusableInput, match="a report without a map"):
        write_report(coded, tmp_path / name)
