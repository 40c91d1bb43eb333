"""Maps of a job: the formats, the layers, the attributes and the one local projection."""

from __future__ import annotations

import datetime as dt
import hashlib
import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np
import polars as pl
import pytest
import shapely
from geographiclib.geodesic import Geodesic

from auditor.record import read_jobs
from auditor.record.site_map import layer_schema
from auditor.vocabulary import LAYERS
from tests.record.map_jobs import M2_PER_ACRE, UTM, BuildMaps, box, line, moved, notes, shapes, site, write_map

FORMATS = ("units.gpkg", "units.shp", "units.geojson", "units.kml")


def zipped(path: Path, inside: str = "") -> Path:
    """The shapefile at `path` as a zip archive; the loose parts are taken away."""
    target = path.with_suffix(".zip")
    with zipfile.ZipFile(target, "w") as archive:
        for part in sorted(path.parent.glob(f"{path.stem}.*")):
            if part != target:
                archive.write(part, inside + part.name)
                part.unlink()
    return target


@pytest.mark.parametrize("file", FORMATS)
def test_a_unit_reads_the_same_from_every_format(maps: BuildMaps, file: str) -> None:
    folder = maps(f"{{file: {file}, holds: units}}")
    write_map(folder / file, [box()], {"name": ["Unit 1"]})
    units = site(folder).layers["units"]
    assert units.select("job", "name", "_file", "_row").row(0) == ("CREEK", "Unit 1", file, 1)
    assert units["_sheet"][0] == "units"
    ground = Geodesic.WGS84.Polygon()
    for lon, lat in box().exterior.coords[:-1]:
        ground.AddPoint(lat, lon)
    assert shapely.area(shapes(units))[0] == pytest.approx(abs(ground.Compute()[2]), rel=1e-4)


def test_a_zipped_shapefile_reads_as_one_file(maps: BuildMaps) -> None:
    folder = maps("{file: units.zip, holds: units}")
    path = zipped(write_map(folder / "units.shp", [moved(box(), UTM)], {"name": ["A"]}, crs=UTM), "export/")
    record = read_jobs([folder])
    assert record.maps["CREEK"].layers["units"]["name"].to_list() == ["A"]
    (entry,) = [e for e in record.evidence if e.path != "job.yaml"]
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    assert (entry.path, entry.sha256, entry.tables, entry.row_count) == ("units.zip", digest, ("units",), 1)


def test_a_kmz_is_unpacked(maps: BuildMaps) -> None:
    folder = maps("{file: units.kmz, holds: units}")
    kml = write_map(folder / "units.kml", [box()], {"name": ["A"]})
    with zipfile.ZipFile(folder / "units.kmz", "w") as archive:
        archive.write(kml, "doc.kml")
    assert site(folder).layers["units"]["name"].to_list() == ["A"]


def test_every_part_of_a_shapefile_is_evidence(maps: BuildMaps) -> None:
    folder = maps("{file: units.shp, holds: units}")
    write_map(folder / "units.shp", [box()], {"name": ["A"]})
    found = {e.path: (e.sha256, e.tables, e.row_count) for e in read_jobs([folder]).evidence if e.path != "job.yaml"}
    assert set(found) == {f"units.{part}" for part in ("shp", "shx", "dbf", "prj", "cpg")}
    for path, (digest, _, _) in found.items():
        assert digest == hashlib.sha256((folder / path).read_bytes()).hexdigest()
    assert found["units.shp"][1:] == (("units",), 1)
    assert found["units.dbf"][1:] == ((), 0)


GPX = """<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="35.9" lon="-79.1"><name>Tank 1</name></wpt>
<trk><name>Skidder</name><trkseg>
<trkpt lat="35.9" lon="-79.1"><ele>120</ele><time>2026-03-02T23:59:50Z</time></trkpt>
<trkpt lat="35.9001" lon="-79.1"><ele>121</ele><time>2026-03-03T00:00:05Z</time></trkpt>
</trkseg></trk></gpx>"""


def test_what_a_map_holds_chooses_the_layer_of_a_gpx_file(maps: BuildMaps) -> None:
    folder = maps("{file: day.gpx, holds: tracks}", "{file: day.gpx, holds: fixes}", "{file: day.gpx, holds: tanks}")
    (folder / "day.gpx").write_text(GPX, encoding="utf-8")
    layers = site(folder).layers
    assert layers["tracks"]["name"].to_list() == ["Skidder"]
    assert layers["tanks"]["name"].to_list() == ["Tank 1"]
    assert layers["fixes"].select("track", "fixed_on", "fixed_at", "fixed_in_utc").rows() == [
        ("0", dt.date(2026, 3, 2), dt.time(23, 59, 50), True),
        ("0", dt.date(2026, 3, 3), dt.time(0, 0, 5), True),
    ]
    (entry,) = [e for e in read_jobs([folder]).evidence if e.path == "day.gpx"]
    assert (entry.tables, entry.row_count) == (("tracks", "fixes", "tanks"), 4)  # 1 track, 2 fixes, 1 tank


def test_every_layer_is_there_with_its_columns_and_types(maps: BuildMaps) -> None:
    folder = maps("{file: s.gpkg, holds: streams}")
    write_map(folder / "s.gpkg", [line()], {"name": ["Creek"]})
    layers = site(folder).layers
    assert list(layers) == list(LAYERS)
    for name, layer in LAYERS.items():
        assert dict(layers[name].schema) == layer_schema(layer)
        assert layers[name].height == (1 if name == "streams" else 0)


def test_a_job_without_maps_has_none(maps: BuildMaps) -> None:
    folder = maps()
    (folder / "job.yaml").write_text("job: A\nstate: US-NC\n", encoding="utf-8")
    assert read_jobs([folder]).maps == {}


def test_attributes_are_mapped_with_their_words_and_units(maps: BuildMaps) -> None:
    folder = maps(
        "{file: s.gpkg, holds: streams, columns: {name: ID, stream_class: Flow, width_ft: {attribute: W_M, unit: m}}, "
        'values: {P: perennial, "?": ""}, position_uncertainty_ft: 12}'
    )
    fields = {"ID": ["1", "2", "3"], "Flow": ["P", "Intermittent", "?"], "W_M": [3.048, None, 6.096]}
    write_map(folder / "s.gpkg", [line()] * 3, {**fields, "W_M": np.array([3.048, np.nan, 6.096])})
    streams = site(folder).layers["streams"]
    assert streams["name"].to_list() == ["1", "2", "3"]
    assert streams["stream_class"].to_list() == ["perennial", "intermittent", None]
    assert streams["width_ft"].to_list() == [10.0, None, 20.0]  # 3.048 m = 10 ft
    assert streams["position_uncertainty_ft"].to_list() == [12.0] * 3
    assert notes(folder, '"P" as perennial') == ['streams: read "P" as perennial, "?" as blank in s.gpkg']
    assert notes(folder, "m read as") == ["streams.width_ft: m read as 3.2808399 ft (1 ft = 0.3048 m) in s.gpkg"]
    assert notes(folder, "without a class") == ["streams: 1 of 3 features of s.gpkg without a class"]


def test_an_attribute_called_like_a_field_is_that_field_unless_it_is_left_out(maps: BuildMaps) -> None:
    folder = maps("{file: s.gpkg, holds: streams}")
    write_map(folder / "s.gpkg", [line()], {"kind": ["river"], "position_uncertainty_ft": np.array([8.0])})
    assert site(folder).layers["streams"].select("kind", "position_uncertainty_ft").row(0) == ("river", 8.0)
    folder = maps('{file: s.gpkg, holds: streams, columns: {kind: ""}, position_uncertainty_ft: 20}')
    assert site(folder).layers["streams"].select("kind", "position_uncertainty_ft").row(0) == (None, 8.0)


def test_numbers_of_a_map_are_keys_as_their_owner_writes_them(maps: BuildMaps) -> None:
    folder = maps("{file: u.gpkg, holds: units, columns: {name: NO}}")
    write_map(folder / "u.gpkg", [box(), box(-79.2), box(-79.3)], {"NO": np.array([7.0, 7.5, np.nan])})
    assert site(folder).layers["units"]["name"].to_list() == ["7", "7.5", "u 3"]
    assert notes(folder, "without a name") == ["units: 1 features without a name; called by layer and number"]


def test_names_seen_before_and_parts_are_told_apart(maps: BuildMaps) -> None:
    folder = maps("{file: a.gpkg, holds: units}", "{file: b.gpkg, holds: units}")
    write_map(folder / "a.gpkg", [shapely.MultiPolygon([box(), box(-79.2)]), box(-79.3)], {"name": ["North", "South"]})
    write_map(folder / "b.gpkg", [box(-79.4)], {"name": ["North"]})
    units = site(folder).layers["units"]
    assert units.select("name", "_file", "_row").rows() == [
        ("North", "a.gpkg", 1), ("North#2", "a.gpkg", 1), ("South", "a.gpkg", 2), ("North#3", "b.gpkg", 1),
    ]  # fmt: skip
    assert shapely.get_type_id(shapes(units)).tolist() == [3] * 4
    assert notes(folder, "in several parts") == [
        'units: 1 feature of a.gpkg in several parts; taken apart as "#2", "#3"'
    ]
    assert notes(folder, "seen before") == ['units: 1 names seen before; told apart by "#2", "#3"']


def test_feature_codes_give_class_and_kind(maps: BuildMaps) -> None:
    folder = maps("{file: s.gpkg, holds: streams, columns: {feature_code: FCODE, stream_class: own}}")
    codes = [46006, 46003, 46007, 46000, 55800, 33400, 33601, 99999, 46006]
    own = [None] * 8 + ["ephemeral"]
    write_map(folder / "s.gpkg", [line()] * 9, {"FCODE": np.array(codes), "own": own})
    streams = site(folder).layers["streams"].select("stream_class", "kind", "inside_water_body").rows()
    assert streams == [
        ("perennial", "stream", False), ("intermittent", "stream", False), ("ephemeral", "stream", False),
        (None, "stream", False), (None, None, True), (None, None, None), (None, "ditch_or_canal", False),
        (None, None, None), ("ephemeral", "stream", False),
    ]  # fmt: skip
    assert notes(folder, "99999") == [
        "streams: 1 of s.gpkg with code 99999 (a code not known here), which names no class"
    ]
    assert notes(folder, "55800") == [
        "streams: 1 of s.gpkg with code 55800 (artificial path, a centreline through a water body), which names no class"
    ]


def test_lakes_by_feature_code(maps: BuildMaps) -> None:
    folder = maps("{file: w.gpkg, holds: water_bodies, columns: {feature_code: FCODE}}")
    write_map(folder / "w.gpkg", [box(-79.1), box(-79.2), box(-79.3)], {"FCODE": ["39004", "39009", "46600"]})
    assert site(folder).layers["water_bodies"].select("kind", "stream_class").rows() == [
        ("lake_or_pond", "perennial"), ("lake_or_pond", "perennial"), ("wetland", None),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "day", "clock", "utc"),
    [
        ("2026-03-02T14:30:00Z", dt.date(2026, 3, 2), dt.time(14, 30), True),
        ("2026-03-02 22:30:00-04:00", dt.date(2026, 3, 3), dt.time(2, 30), True),  # 22:30 + 4 h
        ("2026-03-02T01:30:00+0530", dt.date(2026, 3, 1), dt.time(20, 0), True),  # 01:30 - 5.5 h
        ("2026/03/02 14:30", dt.date(2026, 3, 2), dt.time(14, 30), None),
        ("2026-03-02T14:30:00.25", dt.date(2026, 3, 2), dt.time(14, 30, 0, 250_000), None),
        (None, None, None, None),
    ],
)
def test_times_of_fixes(
    maps: BuildMaps, text: str | None, day: dt.date | None, clock: dt.time | None, utc: bool | None
) -> None:
    folder = maps("{file: f.geojson, holds: fixes, columns: {time: when}}")
    shown = "null" if text is None else f'"{text}"'
    feature = (
        '{"type": "Feature", "properties": {"when": %s}, "geometry": {"type": "Point", "coordinates": [-79.1, 35.9]}}'
    )
    body = ", ".join(feature % words for words in (shown, shown, "null"))
    (folder / "f.geojson").write_text(f'{{"type": "FeatureCollection", "features": [{body}]}}', encoding="utf-8")
    fixes = site(folder).layers["fixes"]
    assert fixes.select("fixed_on", "fixed_at", "fixed_in_utc").row(0) == (day, clock, utc)
    assert fixes["_sheet"].to_list() == [None] * 3


def test_a_layer_is_named_where_a_file_has_several(maps: BuildMaps) -> None:
    folder = maps("{file: all.gpkg, layer: cut, holds: units}", "{file: all.gpkg, layer: water, holds: streams}")
    write_map(folder / "all.gpkg", [box()], {"name": ["A"]}, layer="cut")
    write_map(folder / "all.gpkg", [line()], {"name": ["C"]}, layer="water", append=True)
    layers = site(folder).layers
    assert (layers["units"]["_sheet"][0], layers["streams"]["_sheet"][0]) == ("cut", "water")


def test_maps_of_several_projections_lie_together(maps: BuildMaps) -> None:
    folder = maps(
        "{file: a.gpkg, holds: units}", "{file: b.shp, holds: units}", "{file: c.shp, holds: units, crs: EPSG:2264}"
    )
    write_map(folder / "a.gpkg", [box()], {"name": ["A"]})
    write_map(folder / "b.shp", [moved(box(), UTM)], {"name": ["B"]}, crs=UTM)
    write_map(folder / "c.shp", [moved(box(), "EPSG:2264")], {"name": ["C"]}, crs=None)
    units = shapes(site(folder).layers["units"])
    for other in units[1:]:
        assert shapely.hausdorff_distance(units[0], other) < 0.001
    assert notes(folder, "b.shp in") == ["units: b.shp in NAD83 / UTM zone 17N (EPSG:26917)"]


def test_stating_the_projection_that_a_file_names_does_no_harm(maps: BuildMaps) -> None:
    folder = maps("{file: c.shp, holds: units, crs: EPSG:2264}")
    write_map(folder / "c.shp", [moved(box(), "EPSG:2264")], {"name": ["C"]}, crs="EPSG:2264")
    assert site(folder).layers["units"]["name"].to_list() == ["C"]


def test_an_older_datum_is_shifted_and_widens_the_uncertainty(maps: BuildMaps) -> None:
    folder = maps("{file: a.gpkg, holds: units, position_uncertainty_ft: 10}")
    write_map(folder / "a.gpkg", [box()], {"name": ["A"]}, crs="EPSG:4267")
    (said,) = notes(folder, "older datum")
    metres = float(said.split("good to ")[1].split(" m")[0])
    assert metres >= 1
    width = site(folder).layers["units"]["position_uncertainty_ft"][0]
    assert width == pytest.approx(10 + metres / 0.3048)


def test_several_jobs_with_maps_keep_apart(maps: BuildMaps) -> None:
    one = maps("{file: s.gpkg, holds: streams}")
    write_map(one / "s.gpkg", [line()], {"name": ["C"]})
    two = maps("{file: s.gpkg, holds: streams}", name="hill")
    (two / "job.yaml").write_text((two / "job.yaml").read_text().replace("CREEK", "HILL"))
    write_map(two / "s.gpkg", [line((-90.0, 33.0), (-90.001, 33.0))], {"name": ["H"]})
    record = read_jobs([one, two])
    assert {job: m.layers["streams"]["job"].to_list() for job, m in record.maps.items()} == {
        "CREEK": ["CREEK"],
        "HILL": ["HILL"],
    }
    assert "HILL: streams: s.gpkg in WGS 84 (EPSG:4326)" in record.notes


def test_the_same_maps_give_the_same_bytes(maps: BuildMaps) -> None:
    folder = maps("{file: u.geojson, holds: units}")
    write_map(folder / "u.geojson", [box(), box(-79.2)], {"name": ["A", "B"]})
    first, second = site(folder), site(folder)
    assert first.notes == second.notes
    assert first.layers["units"].equals(second.layers["units"])


def test_a_large_layer_costs_no_call_for_each_feature(maps: BuildMaps) -> None:
    import cProfile
    import pstats

    folder = maps("{file: f.gpkg, holds: fixes, columns: {track: machine}}")
    calls = []
    for count in (200, 20_000):
        points = shapely.points(-79.1 + np.arange(count) * 1e-7, np.full(count, 35.9))
        write_map(folder / "f.gpkg", [shapely.to_wkb(p) for p in points], {"machine": np.arange(count) % 3})
        profile = cProfile.Profile()
        profile.runcall(read_jobs, [folder])
        calls.append(pstats.Stats(profile).total_calls)
        (folder / "f.gpkg").unlink()
    assert calls[1] < calls[0] + 2000


def test_the_library_starts_without_the_packages_for_maps() -> None:
    heavy = "shapely pyproj pyogrio rasterio"
    code = f"import sys, auditor, auditor.record; print([m for m in {heavy.split()} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_areas_of_units_in_acres(maps: BuildMaps) -> None:
    folder = maps("{file: u.gpkg, holds: units}")
    # A square of 660 ft is 10 acres: 660 x 660 / 43,560.
    side = 660 * 0.3048
    write_map(
        folder / "u.gpkg", [shapely.box(676_000, 3_975_000, 676_000 + side, 3_975_000 + side)], {"name": ["A"]}, crs=UTM
    )
    area = shapely.area(shapes(site(folder).layers["units"]))[0] / M2_PER_ACRE
    # The grid of UTM stretches lengths there by about 1 part in 25,000.
    assert area == pytest.approx(10, rel=0.001)
    assert isinstance(site(folder).layers["units"], pl.DataFrame)
