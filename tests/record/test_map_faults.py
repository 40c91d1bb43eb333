"""Maps with mistakes: each is refused with one clear message, or mended with a note."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import numpy as np
import pytest
import shapely

from auditor.record import read_jobs
from auditor.vocabulary.problems import UnusableInput
from tests.record.map_jobs import (
    UTM,
    BuildMaps,
    ComplainMaps,
    box,
    line,
    moved,
    notes,
    shapes,
    site,
    write_map,
)

BOWTIE = shapely.Polygon([(-79.100, 35.900), (-79.098, 35.902), (-79.098, 35.900), (-79.100, 35.902)])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The job folder that `map_complaints` reads, to put files into first."""
    made = tmp_path / "creek"
    made.mkdir()
    return made


def geojson(path: Path, *geometries: object, **properties: object) -> None:
    features = [{"type": "Feature", "properties": properties, "geometry": g} for g in geometries]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8")


# What job.yaml says.


@pytest.mark.parametrize(
    ("entry", "message"),
    [
        ("{file: u.gpkg}", "creek/job.yaml, line 4, maps[1]: found no holds; expected the key holds. Add holds: with its value."),
        ("{holds: units}", "creek/job.yaml, line 4, maps[1]: found no file; expected the key file. Add file: with its value."),
        ("{file: u.gpkg, holds: unit}", 'creek/job.yaml, line 4, maps[1].holds: found "unit"; expected a known name. Did you mean units?'),
        ("{file: u.gpkg, holds: units, colums: {}}", 'creek/job.yaml, line 4, maps[1]: found the key "colums"; expected a known key. Did you mean columns?'),
        ("{file: u.gpkg, holds: units, columns: {nam: ID}}", 'creek/job.yaml, line 4, maps[1].columns: found "nam"; expected a known name. Did you mean name?'),
        ("{file: e.tif, holds: elevation, units: yd}", 'creek/job.yaml, line 4, maps[1].units: found "yd"; expected a known name. Known are m, ft, us-ft.'),
        ("{file: e.tif, holds: elevation, layer: x}", 'creek/job.yaml, line 4, maps[1]: found the key "layer"; expected a known key. Known are file, holds, units, crs.'),
        (
            "{file: s.gpkg, holds: streams, columns: {width_ft: {attribute: W, unit: acre}}}",
            'creek/job.yaml, line 4, width_ft: found the unit "acre"; expected one of ft, in, yd, mile, m, cm, mm, km. Name one of these.',
        ),
        (
            "{file: s.gpkg, holds: streams, values: {P: perenial}}",
            'creek/job.yaml, line 4, values: found "perenial" for "P"; expected a class of streams. Did you mean perennial?',
        ),
        (
            "{file: f.gpkg, holds: fixes, columns: {time: T, fixed_on: D}}",
            "creek/job.yaml, line 4, columns: found time and fixed_on; expected the time of a fix once. Keep time, or fixed_on and fixed_at.",
        ),
        (
            "{file: s.gpkg, holds: streams, columns: {name: A, kind: A}}",
            'creek/job.yaml, line 4, columns: found the attribute "A" for 2 fields; expected each attribute once. Keep one.',
        ),
    ],
)  # fmt: skip
def test_entries_that_do_not_fit(map_complaints: ComplainMaps, entry: str, message: str) -> None:
    assert map_complaints(entry) == [message]


def test_the_uncertainty_must_be_a_number(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "u.gpkg", [box()], {"name": ["A"]})
    assert map_complaints("{file: u.gpkg, holds: units, position_uncertainty_ft: about 10}") == [
        'creek/job.yaml, line 4, position_uncertainty_ft: found "about 10"; expected a number of feet from 0 to 5,000. Correct the value.'
    ]


# Files and layers.


def test_files_that_are_missing_or_of_another_kind(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "units.gpkg", [box()], {"name": ["A"]})
    (folder / "a.geojson").write_text("<OGRVRTDataSource></OGRVRTDataSource>", encoding="utf-8")
    (folder / "b.gpkg").write_bytes(b"SQLite format 3\0" + b"x" * 500)
    (folder / "c.zip").write_bytes(b"PK\x03\x04 torn")
    (folder / "d.kml").write_text('<!DOCTYPE k [<!ENTITY a "b">]><kml ></kml>', encoding="utf-8")
    entries = [
        f"{{file: {f}, holds: units}}"
        for f in ("unit.gpkg", "x.dwg", "../u.gpkg", "a.geojson", "b.gpkg", "c.zip", "d.kml")
    ]
    assert map_complaints(*entries) == [
        'creek/job.yaml, line 4, file: found "unit.gpkg"; expected a file that exists. Did you mean units.gpkg?',
        'creek/job.yaml, line 5, file: found "x.dwg"; expected a file that ends in .gpkg, .shp, .zip (a zipped shapefile), .geojson, .kml, .kmz or .gpx. Export the layer as GeoPackage (.gpkg).',
        'creek/job.yaml, line 6, file: found "../u.gpkg"; expected a path inside the job folder. Put the file into the job folder and name it from there, with "/" between folders.',
        "creek/a.geojson: found something else inside; expected GeoJSON, as its name says. Export the file again.",
        "creek/b.gpkg: found a file that cannot be read (file is not a database); expected a complete map file. Export the file again.",
        "creek/c.zip: found an archive that cannot be unpacked; expected a zipped shapefile that can be unpacked. Pack it again.",
        "creek/d.kml: found entity declarations; expected plain KML. Export the file again without them.",
    ]  # fmt: skip


def test_a_shapefile_without_all_its_parts(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "u.shp", [box()], {"name": ["A"]})
    (folder / "u.shx").unlink()
    assert map_complaints("{file: u.shp, holds: units}") == [
        "creek/u.shp: found no u.shx; expected all parts of the shapefile. Copy the missing part as well."
    ]


def test_an_archive_without_a_shapefile(folder: Path, map_complaints: ComplainMaps) -> None:
    with zipfile.ZipFile(folder / "u.zip", "w") as archive:
        archive.writestr("readme.txt", "no map")
    assert map_complaints("{file: u.zip, holds: units}") == [
        "creek/u.zip: found no .shp inside; expected a zipped shapefile. Pack the shapefile with all its parts."
    ]


def test_an_archive_that_unpacks_to_too_much(
    folder: Path, map_complaints: ComplainMaps, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("auditor.record.map_files.MOST_UNPACKED_BYTES", 99)
    with zipfile.ZipFile(folder / "u.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("u.shp", b"0" * 100)
    assert map_complaints("{file: u.zip, holds: units}") == [
        "creek/u.zip: found more than 2 GB inside; expected a zipped shapefile that can be unpacked. Export less, or a GeoPackage."
    ]


def test_a_damaged_file_is_not_read_in_part(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "u.shp", [box(-79.1 - i / 100) for i in range(20)], {"name": [str(i) for i in range(20)]})
    whole = (folder / "u.shp").read_bytes()
    (folder / "u.shp").write_bytes(whole[: len(whole) // 2])
    found = map_complaints("{file: u.shp, holds: units}")
    assert found
    assert all("creek/u.shp" in message for message in found)


def test_layers_that_are_unknown_unnamed_or_empty(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "all.gpkg", [box()], {"name": ["A"]}, layer="cut_units")
    write_map(folder / "all.gpkg", [line()], {"name": ["C"]}, layer="creeks", append=True)
    write_map(folder / "all.gpkg", [], {"name": []}, layer="later", append=True)
    entries = [
        "{file: all.gpkg, layer: cut_unit, holds: units}",
        "{file: all.gpkg, holds: units}",
        "{file: all.gpkg, layer: later, holds: units}",
    ]
    assert map_complaints(*entries) == [
        'creek/job.yaml, line 4, layer: found no layer "cut_unit" in all.gpkg; expected a layer of the file. Did you mean cut_units?',
        'creek/job.yaml, line 5, layer: found 2 layers in all.gpkg: "cut_units", "creeks"; expected the layer that holds units. Name it under layer.',
        "creek/job.yaml, line 6, layer: found no features in later; expected a layer with features. Check the export, or take the map out.",
    ]  # fmt: skip


def test_a_kml_with_several_folders(folder: Path, map_complaints: ComplainMaps) -> None:
    mark = "<Placemark><name>A</name><Point><coordinates>-79.1,35.9</coordinates></Point></Placemark>"
    inside = "".join(f"<Folder><name>{name}</name>{mark}</Folder>" for name in ("Decks", "Piles"))
    text = f'<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>{inside}</Document></kml>'
    (folder / "site.kml").write_text(text, encoding="utf-8")
    assert map_complaints("{file: site.kml, holds: decks}") == [
        'creek/job.yaml, line 4, layer: found 2 folders in site.kml: "Decks", "Piles"; expected the folder that holds decks. Name it under layer.'
    ]


def test_one_layer_cannot_be_the_same_thing_twice(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "u.gpkg", [box()], {"name": ["A"]})
    assert map_complaints(*["{file: u.gpkg, holds: units}"] * 2) == [
        "creek/job.yaml, line 5, file: found u.gpkg a second time in units; expected each layer once. Take one of the two out."
    ]


def test_attributes_that_are_not_there_or_not_of_their_field(folder: Path, map_complaints: ComplainMaps) -> None:
    fields = {"NAME": ["A", "B"], "class": ["perennial", "wet"], "w": ["12", "wide"], "FCODE": ["46006", "4"]}
    write_map(folder / "s.gpkg", [line()] * 2, fields)
    assert map_complaints(
        "{file: s.gpkg, holds: tracks, columns: {name: NAM}}",
        "{file: s.gpkg, holds: streams, columns: {stream_class: class, width_ft: w, feature_code: FCODE}}",
    ) == [
        'creek/job.yaml, line 4, columns.name: found no attribute "NAM"; expected an attribute of the layer. Did you mean NAME?',
        'creek/s.gpkg, layer s, feature 2, stream_class: found "wet"; expected one of perennial, intermittent, ephemeral. Translate your word under values: of the source.',
        'creek/s.gpkg, layer s, feature 2, feature_code: found "4"; expected 10,000 to 99,999. Correct the value.',
        'creek/s.gpkg, layer s, feature 2, width_ft: found "wide"; expected a number in ft. Correct the value, or leave it blank if it is not known.',
    ]  # fmt: skip


def test_times_that_are_none(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "f.gpkg", [shapely.Point(-79.1, 35.9)] * 2, {"time": ["2026-03-02T10:00:00", "ten o'clock"]})
    assert map_complaints("{file: f.gpkg, holds: fixes}") == [
        'creek/f.gpkg, layer f, feature 2, time: found "ten o\'clock"; expected a time such as 2026-03-02T14:30:00Z. Export the time as ISO 8601 text.'
    ]


def test_times_of_two_clocks(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(
        folder / "f.gpkg", [shapely.Point(-79.1, 35.9)] * 2, {"time": ["2026-03-02T10:00:00", "2026-03-02T10:00Z"]}
    )
    assert map_complaints("{file: f.gpkg, holds: fixes}") == [
        "creek/f.gpkg, layer f, time: found 1 times with a zone and 1 without; expected one clock for all times. Export all times with their zone."
    ]


# Shapes.


def test_shapes_that_are_missing_empty_or_of_another_kind(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "u.gpkg", [box(), None, shapely.Polygon(), line()], {"name": list("ABCD")})
    assert map_complaints("{file: u.gpkg, holds: units}") == [
        "creek/u.gpkg, layer u, feature 2, geometry: found no shape; expected a feature with a shape. Draw it, or delete the feature.",
        "creek/u.gpkg, layer u, feature 3, geometry: found no shape; expected a feature with a shape. Draw it, or delete the feature.",
        "creek/u.gpkg, layer u, feature 4, geometry: found a line; expected a polygon in units. Export closed lines as polygons.",
    ]


def test_points_where_lines_belong(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "s.gpkg", [shapely.Point(-79.1, 35.9)] * 25, {"name": [str(i) for i in range(25)]})
    found = map_complaints("{file: s.gpkg, holds: streams}")
    assert found[0] == (
        "creek/s.gpkg, layer s, feature 1, geometry: found a point; expected a line in streams. Check which layer this is and what it holds."
    )
    assert found[5] == (
        "creek/s.gpkg, layer s, 20 more features (the last is feature 25), geometry: found the same problem; "
        "expected a line in streams. Mend them like the rows named before."
    )
    assert len(found) == 6


def test_a_line_of_one_point(folder: Path, map_complaints: ComplainMaps) -> None:
    geojson(folder / "s.geojson", {"type": "LineString", "coordinates": [[-79.1, 35.9]]})
    assert map_complaints("{file: s.geojson, holds: streams}") == [
        "creek/s.geojson, feature 1, geometry: found a shape that cannot be read; expected a complete shape. Draw it again."
    ]


def test_a_polygon_without_area(folder: Path, map_complaints: ComplainMaps) -> None:
    flat = shapely.Polygon([(-79.1, 35.9), (-79.0, 35.9), (-79.1, 35.9)])
    write_map(folder / "u.gpkg", [box(), flat], {"name": ["A", "B"]})
    assert map_complaints("{file: u.gpkg, holds: units}") == [
        "creek/u.gpkg, layer u, feature 2, geometry: found a polygon without any area; expected a polygon. Draw its outline again, or delete it."
    ]


def test_a_ring_left_open_is_closed(maps: BuildMaps) -> None:
    folder = maps("{file: u.geojson, holds: units}")
    ring = [[-79.1, 35.9], [-79.099, 35.9], [-79.099, 35.901], [-79.1, 35.901]]
    geojson(
        folder / "u.geojson",
        {"type": "Polygon", "coordinates": [ring]},
        {"type": "Polygon", "coordinates": [[*ring, ring[0]]]},
    )
    opened, closed = shapes(site(folder).layers["units"])
    assert opened.equals(closed)
    assert notes(folder, "not closed") == [
        "units: 1 ring of u.geojson not closed; closed by a straight line (feature 1)"
    ]


def test_a_polygon_that_crosses_itself_is_mended(maps: BuildMaps) -> None:
    folder = maps("{file: u.gpkg, holds: units}")
    write_map(folder / "u.gpkg", [box(), BOWTIE], {"name": ["A", "B"]})
    units = site(folder).layers["units"]
    mended = shapes(units)
    assert shapely.is_valid(mended).all()
    assert units["name"].to_list() == ["A", "B", "B#2"]
    # Each half of the bow tie is a triangle of base 0.002 and height 0.001 degree, the box 0.001 by 0.001.
    assert shapely.area(mended)[1:] == pytest.approx(shapely.area(mended)[0], rel=0.001)
    # Two boxes of 111 m by 90 m are 4.95 acres (see the geodesic area in the tests of formats).
    assert notes(folder, "crosses itself") == [
        "units: outline of feature 2 of u.gpkg crosses itself; mended, area 0.00 acres before, 4.95 acres after"
    ]


def test_heights_are_left_out(maps: BuildMaps) -> None:
    folder = maps("{file: s.gpkg, holds: streams}")
    tall = shapely.LineString([(-79.1, 35.9, 120), (-79.099, 35.901, 121)])
    write_map(folder / "s.gpkg", [tall], {"name": ["A"]})
    assert not shapely.has_z(shapes(site(folder).layers["streams"])).any()
    assert notes(folder, "heights") == ["streams: heights of 1 feature of s.gpkg left out"]


def test_features_drawn_twice_are_kept_and_named(maps: BuildMaps) -> None:
    folder = maps("{file: u.gpkg, holds: units}")
    write_map(folder / "u.gpkg", [box(), box(), box(-79.2)], {"name": ["A", "B", "C"]})
    assert site(folder).layers["units"].height == 3
    assert notes(folder, "twice") == ["units: 1 features are the same as one before; kept, so they count twice"]


def test_a_line_of_no_length_is_kept_and_named(maps: BuildMaps) -> None:
    folder = maps("{file: t.gpkg, holds: tracks}")
    write_map(folder / "t.gpkg", [line((-79.1, 35.9), (-79.1, 35.9)), line()], {"name": ["A", "B"]})
    assert site(folder).layers["tracks"].height == 2
    assert notes(folder, "no length") == ["tracks: 1 line of t.gpkg of no length; kept"]


# Places.


@pytest.mark.parametrize(
    ("shape", "found", "todo"),
    [
        (box(35.9, -79.1), "longitude 35.9, latitude -79.1, which lie in the United States the other way round; expected a place in the United States",
         "Longitude and latitude are swapped: export the file with longitude first."),
        (box(0, 0), "longitude 0, latitude 0, in the sea off Africa; expected a place in the United States",
         "A position was not known and written as zero: give the feature its true place, or delete it."),
        (box(79.1, 35.9), "longitude 79.1, latitude 35.9; expected a place in the United States",
         "Longitudes west of Greenwich are negative: write the minus sign."),
        (box(676_000, 3_975_000, 100, 100), "the coordinates 676000, 3.975e+06 in a file said to be in degrees; expected degrees of longitude and latitude",
         "Export it again with its true projection."),
        (box(10, 50), "the coordinates 10, 50, outside the United States; expected a place in the United States",
         "Check the projection and the unit of the coordinates."),
        (box(1e300, 5, 1e299, 1), "the coordinates 1e+300, 5 in a file said to be in degrees; expected degrees of longitude and latitude",
         "Export it again with its true projection."),
    ],
)  # fmt: skip
def test_degrees_in_the_wrong_place(
    folder: Path, map_complaints: ComplainMaps, shape: object, found: str, todo: str
) -> None:
    write_map(folder / "u.gpkg", [box(), shape], {"name": ["A", "B"]})
    assert map_complaints("{file: u.gpkg, holds: units}") == [
        f"creek/u.gpkg, layer u, feature 2, geometry: found {found}. {todo}"
    ]


@pytest.mark.parametrize(
    ("shape", "found", "todo"),
    [
        (box(), "the coordinates -79.1, 35.9, which look like degrees; expected coordinates of the projection that the file names",
         "Export it again with its true projection, longitude and latitude (EPSG:4326)."),
        (box(1e12, 1e12, 5, 5), "the coordinates 1e+12, 1e+12, beyond the projection that the file names; expected a place in the United States",
         "Check the projection and the unit of the coordinates."),
    ],
)  # fmt: skip
def test_projected_coordinates_in_the_wrong_place(
    folder: Path, map_complaints: ComplainMaps, shape: object, found: str, todo: str
) -> None:
    write_map(folder / "u.gpkg", [shape], {"name": ["A"]}, crs=UTM)
    assert map_complaints("{file: u.gpkg, holds: units}") == [
        f"creek/u.gpkg, layer u, feature 1, geometry: found {found}. {todo}"
    ]


def test_a_track_with_one_corner_at_zero(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "t.gpkg", [line(), line((-79.1, 35.9), (0, 0), (-79.1, 35.901))], {"name": ["A", "B"]})
    assert map_complaints("{file: t.gpkg, holds: tracks}") == [
        "creek/t.gpkg, layer t, feature 2, geometry: found a corner at longitude 0, latitude 0, in the sea off Africa; "
        "expected a place in the United States. Delete the corner; its position was not known."
    ]


def test_a_file_without_a_projection(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "u.shp", [moved(box(), UTM)], {"name": ["A"]}, crs=None)
    write_map(folder / "v.shp", [moved(box(), UTM)], {"name": ["A"]}, crs=UTM)
    assert map_complaints(
        "{file: u.shp, holds: units}", "{file: u.shp, holds: piles, crs: EPSG:1}", "{file: v.shp, holds: units, crs: EPSG:4326}"
    ) == [
        "creek/job.yaml, line 4, crs: found no projection in u.shp; expected a file that names its projection. "
        "Write crs: with its code, such as EPSG:26917, or export the file again with its projection.",
        'creek/job.yaml, line 5, crs: found "EPSG:1"; expected a code such as EPSG:26917. Correct the code.',
        'creek/job.yaml, line 6, crs: found "EPSG:4326", while v.shp says NAD83 / UTM zone 17N (EPSG:26917); '
        "expected no crs for a file that names its own. Take the line out.",
    ]  # fmt: skip


@pytest.mark.parametrize(("km", "fits"), [(95, True), (105, False)])
def test_maps_far_from_each_other(maps: BuildMaps, map_complaints: ComplainMaps, km: float, fits: bool) -> None:
    folder = maps("{file: u.gpkg, holds: units}")
    # One degree of latitude is 110.96 km at 36 degrees.
    write_map(folder / "u.gpkg", [box(), box(), box(-79.1, 35.9 + km / 110.96)], {"name": ["A", "B", "C"]})
    if fits:
        assert site(folder).layers["units"].height == 3
    else:
        (found,) = map_complaints("{file: u.gpkg, holds: units}")
        assert "km from the middle of the maps; expected maps of one job within 100 km. Check its place" in found


def test_a_stray_feature_is_named(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "u.gpkg", [box(), box(-79.2), box(-90.0)], {"name": ["A", "B", "C"]})
    (found,) = map_complaints("{file: u.gpkg, holds: units}")
    # 10.8 degrees of a parallel of 90.3 km at 35.9 N is 975 km; the great circle is a little shorter.
    assert found.startswith("creek/u.gpkg, layer u, feature 3, geometry: found 97")


def test_problems_of_maps_and_tables_come_in_one_pass(folder: Path, map_complaints: ComplainMaps) -> None:
    write_map(folder / "u.gpkg", [box(0, 0)], {"name": ["A"]})
    found = map_complaints(
        "{file: u.gpkg, holds: units}", "{file: none.gpkg, holds: streams}", "{file: u.gpkg, holds: streams}"
    )
    assert [text.split(":")[0] for text in found] == [
        "creek/job.yaml, line 5, file", "creek/u.gpkg, layer u, feature 1, geometry", "creek/u.gpkg, layer u, feature 1, geometry",
    ]  # fmt: skip


# Fixes.


def test_order_gaps_and_jumps_of_fixes_are_told(maps: BuildMaps) -> None:
    folder = maps("{file: f.gpkg, holds: fixes}")
    clock = ["10:00:00", "10:00:10", "10:00:05", "10:45:10", "10:45:11", None]
    # The last step but one goes 0.01 degree of latitude, 1.1 km, in one second.
    north = [0, 0.0001, 0.00005, 0.0002, 0.0102, 0]
    points = [shapely.Point(-79.1, 35.9 + d) for d in north]
    times = [None if c is None else f"2026-03-02T{c}Z" for c in clock]
    write_map(folder / "f.gpkg", points, {"track": ["M1"] * 6, "time": times})
    assert site(folder).layers["fixes"].height == 6
    said = [note for note in read_jobs([folder]).notes if note.startswith("fixes: ")]
    assert said[-4:] == [
        "fixes: 1 of 6 without a time; kept",
        "fixes: 1 of 6 earlier than the fix above on their track; kept",
        "fixes: 1 jumps that would need more than 60 miles an hour; kept",
        # 10:00:10 to 10:45:10.
        "fixes: longest gap between fixes 45.0 minutes, up to 2026-03-02 10:45:10, track M1",
    ]


def test_fixes_of_two_machines_make_no_jump(maps: BuildMaps) -> None:
    folder = maps("{file: f.gpkg, holds: fixes}")
    points = [shapely.Point(-79.1 + 0.01 * (i % 2), 35.9) for i in range(6)]
    times = [f"2026-03-02T10:00:0{i}Z" for i in range(6)]
    write_map(folder / "f.gpkg", points, {"track": np.array([1, 2] * 3), "time": times})
    assert notes(folder, "jumps") == []
    write_map(folder / "f.gpkg", points, {"track": np.array([1] * 6), "time": times})
    assert notes(folder, "jumps") == ["fixes: 5 jumps that would need more than 60 miles an hour; kept"]


@pytest.mark.parametrize("file", ["u.gpkg", "u.shp", "u.geojson", "u.kml", "u.zip"])
@pytest.mark.parametrize("seed", range(6))
def test_a_damaged_file_is_refused_or_read_but_breaks_nothing(maps: BuildMaps, file: str, seed: int) -> None:
    folder = maps(f"{{file: {file}, holds: units}}")
    path = write_map(folder / file.replace("zip", "shp"), [box(), BOWTIE], {"name": ["A", "B"]})
    if file == "u.zip":
        with zipfile.ZipFile(folder / file, "w", zipfile.ZIP_DEFLATED) as archive:
            for part in sorted(folder.glob("u.*")):
                if part.name != file:
                    archive.write(part, part.name)
        path = folder / file
    damage = np.random.default_rng(seed)
    data = bytearray(path.read_bytes())
    for spot in damage.integers(0, len(data), 12):
        data[spot] = damage.integers(0, 256)
    path.write_bytes(bytes(data[: -int(damage.integers(1, 40))]))
    try:
        units = site(folder).layers["units"]
    except UnusableInput as refused:
        assert all(p.found and p.expected and p.todo for p in refused.problems)
    else:
        assert shapely.is_valid(shapes(units)).all()
        assert set(units["_row"]) == {1, 2}
