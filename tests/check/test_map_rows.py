"""The rows that maps give, table by table, and what of the record stands before them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
import shapely

from tests.check.mapped_jobs import CORNER, CREEK, FT, NOTCHED, STREAMS, creek_job, make_job, read, site
from tests.record.map_jobs import UTM, write_map

X1: list[Any] = [(shapely.Point(700, 0), {"name": "X1", "crossing_type": "bridge_mat"})]
ACROSS = shapely.LineString([(700, 450), (700, -300)])
ALONG = shapely.LineString([(100, 24), (300, 24)])
"""14 ft from the left bank (24 - 10), 200 ft long."""


def rows(folder: Path, table: str, key: str) -> dict[str, dict[str, Any]]:
    return {str(r[key]): r for r in read(folder).record.tables[table].to_dicts()}


def fixes(folder: Path, places: list[tuple[float, float]], times: list[str | None], name: str = "fixes.gpkg") -> str:
    """A layer of fixes of one track; gives its line of job.yaml."""
    shapes = [shapely.Point(CORNER[0] + x * FT, CORNER[1] + y * FT) for x, y in places]
    days = [None if t is None else "2026-07-08" for t in times]
    fields = {"track": ["1"] * len(places), "fixed_on": days, "fixed_at": times}
    write_map(folder / name, shapes, fields, crs=UTM)
    return f"  - {{file: {name}, holds: fixes, position_uncertainty_ft: 6}}"


def test_a_track_near_the_bank_is_disturbed_ground(tmp_path: Path) -> None:
    found = rows(
        creek_job(tmp_path / "J", tracks=[(ALONG, {"name": "9"})], crossings=X1), "disturbances", "disturbance"
    )
    track = found["track 9 at Creek left"]
    assert track["distance_from_bank_ft"] == pytest.approx(14, abs=0.1)
    assert track["along_ft"] == pytest.approx(100, abs=0.2)
    assert (track["distance_uncertainty_ft"], track["kind"], track["made_by"]) == (
        10.0,
        "machine_tracks",
        "this_harvest",
    )
    # 14 ft is more than the doubt of 10: it does not lie in the channel.
    assert (track["in_channel"], track["crossing"], track["reason_inside_zone"]) == (False, None, "none")
    assert list(found) == ["track 9 at Creek left"]


def test_a_trail_over_a_crossing_belongs_to_it_and_leaves_no_other_row(tmp_path: Path) -> None:
    found = rows(
        creek_job(tmp_path / "J", trails=[(ACROSS, {"name": "T1"})], crossings=X1), "disturbances", "disturbance"
    )
    assert sorted(found) == ["T1 over X1 at Creek left", "T1 over X1 at Creek right"]
    row = found["T1 over X1 at Creek left"]
    assert (row["crossing"], row["reason_inside_zone"], row["in_channel"]) == ("X1", "crossing", None)
    assert row["distance_from_bank_ft"] == 0.0


def test_a_way_through_the_water_away_from_crossings_lies_in_the_channel(tmp_path: Path) -> None:
    ford = shapely.LineString([(300, 200), (300, -200)])
    found = rows(creek_job(tmp_path / "J", tracks=[(ford, {"name": "9"})], crossings=X1), "disturbances", "disturbance")
    assert (found["track 9 at Creek left"]["in_channel"], found["track 9 at Creek left"]["reason_inside_zone"]) == (
        True,
        "none",
    )


def test_a_way_over_a_crossing_is_still_judged_where_it_runs_along_the_water(tmp_path: Path) -> None:
    # Over X1, then back along the left bank at 14 ft from x = 400 to 100.
    way = shapely.LineString([(700, -200), (700, 200), (400, 200), (400, 24), (100, 24)])
    found = rows(creek_job(tmp_path / "J", tracks=[(way, {"name": "9"})], crossings=X1), "disturbances", "disturbance")
    assert found["track 9 over X1 at Creek left"]["crossing"] == "X1"
    rest = found["track 9 at Creek left"]
    assert (rest["crossing"], rest["reason_inside_zone"]) == (None, "none")
    assert rest["distance_from_bank_ft"] == pytest.approx(14, abs=0.1)


def test_a_second_ford_beside_a_crossing_is_not_the_crossing(tmp_path: Path) -> None:
    # The machine turns and goes back through the water 100 ft downstream of X1.
    way = shapely.LineString([(700, 200), (700, -60), (800, -60), (800, 200)])
    found = rows(creek_job(tmp_path / "J", tracks=[(way, {"name": "9"})], crossings=X1), "disturbances", "disturbance")
    assert found["track 9 at Creek left"]["in_channel"] is True and found["track 9 at Creek left"]["crossing"] is None


def test_without_mapped_crossings_the_reason_stays_blank(tmp_path: Path) -> None:
    found = rows(creek_job(tmp_path / "J", trails=[(ACROSS, {"name": "T1"})]), "disturbances", "disturbance")
    assert found["T1 at Creek left"]["reason_inside_zone"] is None


def test_distances_from_a_stream_of_unknown_width_are_at_most_so_long(tmp_path: Path) -> None:
    decks = [(shapely.Point(500, 80), {"name": "D1"})]
    folder = creek_job(tmp_path / "J", tables={}, tracks=[(ALONG, {"name": "9"})], decks=decks)
    track = rows(folder, "disturbances", "disturbance")["track 9 at Creek left"]
    assert track["distance_from_bank_ft"] == pytest.approx(24, abs=0.1)
    assert (track["measured_from"], track["in_channel"]) == ("low_water_mark", None)
    assert rows(folder, "decks", "deck")["D1"]["measured_from"] == "low_water_mark"


def test_fixes_are_drawn_where_the_machine_was_followed(tmp_path: Path) -> None:
    # Steps of 10 s and 100 ft: 6.8 mph. After 300 s without a fix, and after a jump of 2,000 ft in 10 s, a new line.
    places = [(100.0, 24.0), (200.0, 24.0), (300.0, 90.0), (400.0, 90.0), (2400.0, 90.0), (2500.0, 90.0)]
    times: list[str | None] = ["12:00:00", "12:00:10", "12:05:10", "12:05:20", "12:05:30", "12:05:40"]
    folder = tmp_path / "J"
    folder.mkdir()
    said = fixes(folder, places, times)
    found = site(read(creek_job(folder, extra=[said]))).disturbed
    assert found.rows["name"].to_list() == ["1"]
    # Three lines of 100 ft: the ways between are not drawn.
    assert shapely.get_num_geometries(found.shapes[0]) == 3
    assert shapely.length(found.shapes[0]) / FT == pytest.approx(300, abs=0.1)
    row = rows(folder, "disturbances", "disturbance")["track 1 at Creek left"]
    assert row["distance_from_bank_ft"] == pytest.approx(14, abs=0.1)
    assert row["distance_uncertainty_ft"] == 11.0  # 5 of the stream, 6 of the fixes


def test_the_nearest_of_several_lines_of_a_track_counts(tmp_path: Path) -> None:
    places = [(100.0, 120.0), (200.0, 120.0), (300.0, 30.0), (400.0, 30.0)]
    folder = tmp_path / "J"
    folder.mkdir()
    said = fixes(folder, places, ["12:00:00", "12:00:10", "12:30:00", "12:30:10"])
    found = rows(creek_job(folder, extra=[said]), "disturbances", "disturbance")
    assert found["track 1 at Creek left"]["distance_from_bank_ft"] == pytest.approx(20, abs=0.1)


@pytest.mark.parametrize("times", [["12:00:00", "12:30:00"], ["12:00:00", "12:00:10"]])
def test_fixes_without_a_line_stay_as_points(tmp_path: Path, times: list[str | None]) -> None:
    # A gap of half an hour, and a machine that stood still.
    places = [(200.0, 24.0), (200.0, 24.0)] if times[1] == "12:00:10" else [(200.0, 24.0), (260.0, 24.0)]
    folder = tmp_path / "J"
    folder.mkdir()
    said = fixes(folder, places, times)
    found = rows(creek_job(folder, extra=[said]), "disturbances", "disturbance")
    assert found["track 1 at Creek left"]["distance_from_bank_ft"] == pytest.approx(14, abs=0.1)


def test_tracks_of_one_number_in_two_files_are_two(tmp_path: Path) -> None:
    folder = tmp_path / "J"
    folder.mkdir()
    one = fixes(folder, [(100.0, 50.0), (150.0, 50.0)], ["12:00:00", "12:00:10"], "a.gpkg")
    two = fixes(folder, [(800.0, 50.0), (850.0, 50.0)], ["12:00:05", "12:00:15"], "b.gpkg")
    found = site(read(creek_job(folder, extra=[one, two]))).disturbed
    assert found.rows["name"].to_list() == ["1", "1#2"]
    assert (shapely.length(found.shapes) / FT).tolist() == pytest.approx([50, 50], abs=0.1)


def test_containers_have_their_distance_from_the_nearest_bank(tmp_path: Path) -> None:
    # 95 ft north of the line is 85 ft from the bank at 10 ft; 60 ft south is 50 ft from the other.
    tanks = [
        (shapely.Point(300, 95), {"name": "F1", "contents": "diesel"}),
        (shapely.Point(300, -60), {"name": "F2", "contents": "used_oil"}),
    ]
    maps = {"streams": [(CREEK, {"name": "Creek"})], "units": [(NOTCHED, {"name": "U1"})], "tanks": tanks}
    found = rows(make_job(tmp_path / "J", maps, {"streams": STREAMS}), "tanks", "tank")
    assert {n: (t["bank"], t["contents"]) for n, t in found.items()} == {
        "F1": ("Creek left", "diesel"), "F2": ("Creek right", "used_oil"),
    }  # fmt: skip
    assert [found[n]["distance_from_bank_ft"] for n in ("F1", "F2")] == pytest.approx([85, 50], abs=0.1)
    assert {(t["measured_along"], t["measured_from"]) for t in found.values()} == {("horizontal", "bank_as_required")}


def test_decks_have_their_distance_area_and_skidding(tmp_path: Path) -> None:
    # Deck of 100 x 87.12 ft = 0.2 acres, its south edge at y = 200: 190 ft from the bank; a trail of 600 ft starts at
    # its middle (x = 450, y = 243.56).
    deck = shapely.box(400, 200, 500, 287.12)
    trail = shapely.LineString([(450, 243.56), (450, 443.56), (850, 443.56)])
    folder = creek_job(tmp_path / "J", decks=[(deck, {"name": "D1"})], trails=[(trail, {"name": "T1"})])
    found = rows(folder, "decks", "deck")["D1"]
    assert (found["bank"], found["measured_from"]) == ("Creek left", "bank_as_required")
    assert found["distance_from_bank_ft"] == pytest.approx(190, abs=0.2)
    assert found["area_acres"] == pytest.approx(0.2, abs=0.001)
    assert found["longest_skid_ft"] == pytest.approx(600, abs=1)


def test_roads_and_trails_have_their_length_and_keep_apart(tmp_path: Path) -> None:
    roads = [(shapely.LineString([(0, 300), (300, 700)]), {"name": "1"})]
    trails = [(shapely.LineString([(0, 300), (120, 300)]), {"name": "1"})]
    found = rows(creek_job(tmp_path / "J", roads=roads, trails=trails), "segments", "segment")
    # 3-4-5: 500 ft.
    assert (found["1"]["kind"], found["1"]["length_ft"]) == ("haul_road", pytest.approx(500, abs=0.1))
    assert (found["1#2"]["kind"], found["1#2"]["length_ft"]) == ("skid_trail", pytest.approx(120, abs=0.1))


def test_a_crossing_goes_over_the_stream_beside_it_only(tmp_path: Path) -> None:
    far: list[Any] = [*X1, (shapely.Point(500, 300), {"name": "X2", "crossing_type": None})]
    found = rows(creek_job(tmp_path / "J", crossings=far), "crossings", "crossing")
    assert (found["X1"]["stream"], found["X2"]["stream"]) == ("Creek", None)


def test_what_a_table_says_stands_and_blanks_are_filled(tmp_path: Path) -> None:
    tables = {
        "streams": STREAMS,
        "banks": "bank,stream,side,harvested,length_ft\nB1,Creek,left,no,\nB9,Creek,right,,\n",
        "decks": "deck,bank,distance_from_bank_ft,area_acres\nD1,B1,150,\nD2,B1,,0.7\nD3,B9,,\n",
        "segments": "segment,kind,length_ft\nT1,firelane,\n",
    }
    decks = [(shapely.box(400 + 50 * n, 200, 420 + 50 * n, 220), {"name": f"D{n}"}) for n in (1, 2, 3)]
    trails = [(shapely.LineString([(0, 300), (120, 300)]), {"name": "T1"})]
    folder = creek_job(tmp_path / "J", tables=tables, decks=decks, trails=trails)
    bank = rows(folder, "banks", "bank")["B1"]
    assert (bank["harvested"], bank["harvested_on"], bank["length_ft"]) == (False, None, pytest.approx(999.9, abs=0.2))
    found = rows(folder, "decks", "deck")
    # A taped distance gets neither the uncertainty nor the start of the map; 20 x 20 ft = 0.009 acres.
    assert (found["D1"]["distance_from_bank_ft"], found["D1"]["distance_uncertainty_ft"]) == (150, None)
    assert (found["D1"]["measured_from"], found["D1"]["area_acres"]) == (None, pytest.approx(0.009, abs=0.001))
    assert (found["D2"]["distance_from_bank_ft"], found["D2"]["area_acres"]) == (pytest.approx(190, abs=0.2), 0.7)
    # The deck is said to lie beside another bank: the distance to this one is not its distance.
    assert (found["D3"]["bank"], found["D3"]["distance_from_bank_ft"]) == ("B9", None)
    segment = rows(folder, "segments", "segment")["T1"]
    assert (segment["kind"], segment["length_ft"]) == ("firelane", pytest.approx(120, abs=0.1))


def test_a_bank_read_on_the_ground_keeps_its_stations(tmp_path: Path) -> None:
    tables = {
        "streams": STREAMS,
        "banks": "bank,stream,side,harvested\nB1,Creek,left,yes\n",
        "stations": "bank,station,along_ft,zone_width_ft,width_uncertainty_ft,method\n"
        "B1,1,125,62,1,tape\nB1,2,475,40,1,tape\n",
    }
    mapped = read(creek_job(tmp_path / "J", tables=tables))
    own = mapped.record.tables["stations"].filter(pl.col("bank") == "B1")
    assert own["station"].to_list() == [1, 2] and own["zone_width_ft"].to_list() == [62, 40]
    # 62 against 60 is inside 1 + 10; 40 against 25 is 15 apart, more than 11.
    note = next(n for n in mapped.record.notes if n.startswith("Bank B1"))
    assert "of 2 that the map shows too they differ by more than both may be off at 1, by 15 ft at most" in note
    # The bank keeps the method of its own readings: blank here.
    bank = mapped.record.tables["banks"].filter(pl.col("bank") == "B1")
    assert bank["method"].to_list() == [None]


def test_an_unknown_uncertainty_on_the_map_is_no_agreement(tmp_path: Path) -> None:
    tables = {
        "streams": STREAMS,
        "banks": "bank,stream,side,harvested\nB1,Creek,left,yes\n",
        "stations": "bank,station,along_ft,zone_width_ft\nB1,1,125,62\n",
    }
    mapped = read(creek_job(tmp_path / "J", tables=tables, doubt_ft={"streams": 5}))
    note = next(n for n in mapped.record.notes if n.startswith("Bank B1"))
    assert "cannot be held against it" in note and "agree" not in note


def test_two_jobs_of_which_one_has_maps(tmp_path: Path) -> None:
    plain = tmp_path / "P"
    plain.mkdir()
    text = (creek_job(tmp_path / "M") / "job.yaml").read_text(encoding="utf-8")
    head = text.split("tables:")[0].replace("job: M", "job: P")
    (plain / "streams.csv").write_text(STREAMS, encoding="utf-8")
    (plain / "job.yaml").write_text(head + "tables:\n  streams: streams.csv\n", encoding="utf-8")
    mapped = read(plain, tmp_path / "M")
    assert list(mapped.sites) == ["M"]
    tables = mapped.record.tables
    assert set(tables["stations"]["job"]) == {"M"} and sorted(set(tables["streams"]["job"])) == ["M", "P"]
    assert tables["streams"].filter(pl.col("job") == "P").height == 1
    assert all(n.startswith("M: ") for n in mapped.record.notes if "Zone widths on the map" in n)


def test_a_job_with_maps_and_no_tables(tmp_path: Path) -> None:
    maps: dict[str, Any] = {
        "streams": [(CREEK, {"name": "Creek", "width_ft": 20.0})],
        "units": [(NOTCHED, {"name": "U1"})],
    }
    tables = read(make_job(tmp_path / "J", maps)).record.tables
    assert tables["streams"]["width_ft"].to_list() == [20.0]
    assert sorted(tables["banks"]["bank"]) == ["Creek head", "Creek left", "Creek right"]
    assert np.isclose(tables["stations"]["zone_width_ft"].min(), 25, atol=0.15)


def test_without_maps_the_record_stays_as_it_is(tmp_path: Path) -> None:
    folder = creek_job(tmp_path / "J")
    text = (folder / "job.yaml").read_text(encoding="utf-8").split("maps:")[0]
    (folder / "job.yaml").write_text(text, encoding="utf-8")
    mapped = read(folder)
    assert not mapped.sites and mapped.record.tables["stations"].is_empty()


def test_a_road_and_a_trail_of_one_name_are_both_listed(tmp_path: Path) -> None:
    roads = [(shapely.LineString([(0, 60), (300, 60)]), {"name": "1"})]
    trails = [(shapely.LineString([(500, 50), (800, 50)]), {"name": "1"})]
    found = rows(creek_job(tmp_path / "J", roads=roads, trails=trails), "disturbances", "disturbance")
    assert {k: (v["kind"], round(v["distance_from_bank_ft"])) for k, v in found.items()} == {
        "1 at Creek left": ("skid_trail", 40),
        "1#2 at Creek left": ("road", 50),
    }
