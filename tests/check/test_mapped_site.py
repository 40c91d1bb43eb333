"""Stations on small invented maps, read the whole way from files; every width worked by hand from the drawing."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
import shapely

from auditor.check.map_zones import zones_of
from tests.check.mapped_jobs import CORNER, CREEK, FT, NOTCHED, creek_job, make_job, read, site, widths
from tests.record.map_jobs import UTM, write_heights

# Stations stand at 25, 75 ... 975 ft. Before the notch (400 to 600) the corner of the notch is nearest at 375 and 625:
# sqrt(25^2 + 25^2); at 325 it is sqrt(75^2 + 25^2) = 79, farther than 60.
CORNER_FT = math.hypot(25, 25)
EXPECTED = [60.0] * 7 + [CORNER_FT] + [25.0] * 4 + [CORNER_FT] + [60.0] * 7
TOLERANCE_FT = 0.15


def stations(folder: Path) -> pl.DataFrame:
    return read(folder).record.tables["stations"]


def test_a_notch_is_read_station_by_station(tmp_path: Path) -> None:
    found = stations(creek_job(tmp_path / "J"))
    left = found.filter(pl.col("bank") == "Creek left").sort("along_ft")
    assert left["zone_width_ft"].to_list() == pytest.approx(EXPECTED, abs=TOLERANCE_FT)
    assert left["along_ft"].to_list() == pytest.approx([25 + 50 * n for n in range(20)], abs=TOLERANCE_FT)
    assert left["station"].to_list() == list(range(1, 21))
    # 5 ft of the stream and 5 ft of the unit.
    assert set(left["width_uncertainty_ft"]) == {10.0}
    assert set(left["wider_than_read"]) == {False}
    assert set(left["measured_from"]) == {"bank_as_required"} and set(left["measured_to"]) == {"edge_of_cut"}
    right = found.filter(pl.col("bank") == "Creek right")
    assert right.height == 20 and set(right["wider_than_read"]) == {True} and set(right["zone_width_ft"]) == {330.0}
    assert right["measured_to"].null_count() == 20


def test_banks_lie_looking_downstream_and_have_their_length(tmp_path: Path) -> None:
    banks = read(creek_job(tmp_path / "J")).record.tables["banks"]
    rows = {r["bank"]: r for r in banks.to_dicts()}
    assert (rows["Creek left"]["harvested"], rows["Creek right"]["harvested"]) == (True, False)
    assert str(rows["Creek left"]["harvested_on"]) == "2026-07-30" and rows["Creek right"]["harvested_on"] is None
    assert rows["Creek left"]["length_ft"] == pytest.approx(999.9, abs=0.2)
    # Half circle of radius 10 + 50 ft above the source: pi x 60.
    assert rows["Creek head"]["length_ft"] == pytest.approx(math.pi * 60, abs=0.2)


def test_no_station_stands_beyond_the_end_of_its_bank(tmp_path: Path) -> None:
    # A tributary from the left takes stations away; the lengths must still reach to the last station.
    maps: dict[str, Any] = {
        "streams": [
            (CREEK, {"name": "Creek", "width_ft": 20.0}),
            (shapely.LineString([(500, 400), (500, 0)]), {"name": "Run", "width_ft": 4.0}),
        ],
        "units": [(shapely.box(0, 70, 1000, 120), {"name": "U1"})],
    }
    tables = read(make_job(tmp_path / "J", maps)).record.tables
    ends = tables["stations"].group_by("bank").agg(pl.col("along_ft").max()).join(tables["banks"], on="bank")
    assert ends.filter(pl.col("along_ft") > pl.col("length_ft")).is_empty()


@pytest.mark.parametrize("mirror", [False, True])
@pytest.mark.parametrize("turn", [0.0, 37.0, 90.0, 201.5])
def test_turned_and_mirrored_sites_have_the_same_widths(tmp_path: Path, turn: float, mirror: bool) -> None:
    found = stations(creek_job(tmp_path / "J", turn=turn, mirror=mirror))
    cut, other = ("Creek right", "Creek left") if mirror else ("Creek left", "Creek right")
    assert widths(found, cut) == pytest.approx(EXPECTED, abs=TOLERANCE_FT)
    assert set(widths(found, other)) == {330.0}


def test_slopes_come_from_the_heights(tmp_path: Path) -> None:
    # z = 0.12 x north in metres: 12 percent on both sides; cells of 5 m.
    north = CORNER[1] + 250 - 5 * (np.arange(100) + 0.5)
    values = np.repeat(0.12 * (north - CORNER[1])[:, None] + 100, 120, axis=1).astype("float32")
    extra = ["  - {file: heights.tif, holds: elevation, units: m}"]
    folder = creek_job(tmp_path / "J", extra=extra)
    write_heights(folder / "heights.tif", values, (CORNER[0] - 100, CORNER[1] + 250), 5.0, crs=UTM)
    found = stations(folder).filter(pl.col("bank") != "Creek head")
    assert found["slope_pct"].to_list() == pytest.approx([12.0] * 40, abs=0.15)


def test_heights_that_end_before_the_site_leave_the_slope_blank(tmp_path: Path) -> None:
    # The raster covers x = 0 to 100 m, 328 ft; stations beyond have no slope, never 0.
    values = np.repeat(np.linspace(120, 80, 100)[:, None], 20, axis=1).astype("float32")
    folder = creek_job(tmp_path / "J", extra=["  - {file: heights.tif, holds: elevation, units: m}"])
    write_heights(folder / "heights.tif", values, (CORNER[0], CORNER[1] + 250), 5.0, crs=UTM)
    found = stations(folder).filter(pl.col("bank") == "Creek left")
    assert found.filter(pl.col("along_ft") > 330)["slope_pct"].null_count() == 13
    assert found.filter(pl.col("along_ft").is_between(20, 300))["slope_pct"].null_count() == 0


def test_a_stream_of_unknown_width_is_read_from_its_line(tmp_path: Path) -> None:
    mapped = read(creek_job(tmp_path / "J", tables={}))
    found = mapped.record.tables["stations"]
    # 10 ft more than from a bank 10 ft off the line: at most so wide.
    assert widths(found, "Creek left")[0] == pytest.approx(70, abs=TOLERANCE_FT)
    assert set(found["measured_from"]) == {"low_water_mark"}
    assert any("width of Creek is not known" in note for note in mapped.record.notes)


def test_banks_of_a_stream_in_a_water_body_are_its_shores(tmp_path: Path) -> None:
    pond = [(shapely.box(-20, -40, 1020, 30), {"name": "Pond"})]
    found = stations(creek_job(tmp_path / "J", tables={}, water_bodies=pond))
    # Shore at y = 30: 70 - 30 = 40, at the notch 35 - 30 = 5; known though the width of the line is not.
    left = widths(found, "Creek left")
    assert (left[0], left[9]) == pytest.approx((40, 5), abs=TOLERANCE_FT)
    assert set(found["measured_from"]) == {"bank_as_required"}
    assert found.filter(pl.col("bank") == "Creek head").is_empty()


def test_ground_between_two_streams_is_judged_once(tmp_path: Path) -> None:
    # Above the creek from x = 500 to 900 the ground beyond the run belongs to the run.
    run = shapely.LineString([(900, 300), (500, 0)])
    maps: dict[str, Any] = {
        "streams": [(CREEK, {"name": "Creek", "width_ft": 20.0}), (run, {"name": "Run", "width_ft": 4.0})],
        "units": [(shapely.box(0, 150, 400, 400), {"name": "U1"})],
    }
    mapped = site(read(make_job(tmp_path / "J", maps)))
    found = mapped.stations
    ends = found.select(
        "reach",
        x=pl.col("bank_x_m") + pl.col("normal_east") * pl.col("zone_width_ft") * FT,
        y=pl.col("bank_y_m") + pl.col("normal_north") * pl.col("zone_width_ft") * FT,
    )
    ways = shapely.linestrings(
        np.stack([found.select("bank_x_m", "bank_y_m").to_numpy(), ends.select("x", "y").to_numpy()], axis=1)
    )
    for reach, line in enumerate(mapped.lines):
        others = (found["reach"] != reach).to_numpy()
        assert not shapely.intersects(ways[others], line).any()
    # Transects at x = 725 to 875, 330 ft long as no cut is near them, meet the run and are left out; where the cut
    # lies nearer than the run, or no run lies above, all stations stay.
    left = found.filter(pl.col("bank") == "Creek left")["along_ft"]
    assert not left.is_between(720, 880).any() and left.filter(left < 450).len() == 9


def test_pieces_of_one_stream_are_one_reach(tmp_path: Path) -> None:
    pieces = [
        (shapely.LineString([(0, 0), (430, 0)]), {"name": "Creek"}),
        (shapely.LineString([(430, 0), (999.9, 0)]), {"name": "Creek"}),
    ]
    units: Any = [(NOTCHED, {"name": "U1"})]
    tables = {"streams": "stream,kind,stream_class,width_ft\nCreek,stream,perennial,20\n"}
    mapped = read(make_job(tmp_path / "J", {"streams": pieces, "units": units}, tables))
    assert mapped.record.tables["streams"]["stream"].to_list() == ["Creek"]
    assert widths(mapped.record.tables["stations"], "Creek left") == pytest.approx(EXPECTED, abs=TOLERANCE_FT)


def test_the_table_of_streams_stands_before_the_map(tmp_path: Path) -> None:
    maps: dict[str, Any] = {
        "streams": [(CREEK, {"name": "Creek", "width_ft": 60.0, "stream_class": "ephemeral"})],
        "units": [(NOTCHED, {"name": "U1"})],
    }
    found = read(make_job(tmp_path / "J", maps, {"streams": "stream,stream_class,width_ft\nCreek,perennial,20\n"}))
    assert widths(found.record.tables["stations"], "Creek left") == pytest.approx(EXPECTED, abs=TOLERANCE_FT)
    assert site(found).streams["stream_class"].to_list() == ["perennial"]


def test_a_walked_edge_counts_instead_of_the_unit(tmp_path: Path) -> None:
    edge = [(shapely.LineString([(0, 90), (1000, 90)]), {"name": "walk"})]
    found = read(creek_job(tmp_path / "J", cut_edge=edge)).record.tables
    # 90 - 10 = 80 throughout, though the unit is drawn with a notch.
    assert widths(found["stations"], "Creek left") == pytest.approx([80.0] * 20, abs=TOLERANCE_FT)
    assert set(found["stations"]["method"]) == {"gps"}


def test_a_unit_over_the_stream_leaves_no_zone(tmp_path: Path) -> None:
    found = stations(creek_job(tmp_path / "J", shapely.box(0, -100, 1000, 100)))
    assert widths(found, "Creek left") == [0.0] * 20 and widths(found, "Creek right") == [0.0] * 20


def test_streams_far_from_every_unit_are_left_out_with_a_note(tmp_path: Path) -> None:
    # 10 + 330 ft is the farthest looked; the unit lies 400 ft off the line.
    mapped = read(creek_job(tmp_path / "J", shapely.box(0, 400, 1000, 900)))
    assert mapped.record.tables["banks"].is_empty() and mapped.record.tables["stations"].is_empty()
    said = [n for n in mapped.record.notes if "Not near the harvest" in n or "No mapped stream" in n]
    assert len(said) == 2 and said[0].endswith("farther than 330 ft from it, and not judged: 1 mapped stream (Creek).")
    assert site(mapped).not_near.rows["name"].to_list() == ["Creek"]


def test_units_without_streams_are_told(tmp_path: Path) -> None:
    decks: Any = [(shapely.Point(500, 200), {"name": "D1"})]
    job = make_job(tmp_path / "J", {"units": [(NOTCHED, {"name": "U1"})], "decks": decks})
    mapped = read(job)
    assert sum("No mapped stream within 330 ft" in note for note in mapped.record.notes) == 1
    deck = mapped.record.tables["decks"].to_dicts()[0]
    assert (deck["distance_from_bank_ft"], deck["measured_from"], deck["bank"]) == (None, None, None)
    # 1,000 x 430 ft and 200 x 35 ft: 437,000 / 43,560 = 10.03 acres.
    assert mapped.record.tables["stands"]["area_acres"].to_list() == pytest.approx([10.03], abs=0.01)


def test_a_missing_uncertainty_stays_missing(tmp_path: Path) -> None:
    found = stations(creek_job(tmp_path / "J", doubt_ft={"streams": 5, "units": None}))
    assert found["width_uncertainty_ft"].null_count() == found.height > 0


def test_a_pond_without_a_stream_is_measured_from_its_shore(tmp_path: Path) -> None:
    ponds = [(shapely.box(300, 520, 600, 700), {"name": "Pond"}), (shapely.box(0, 5000, 50, 5050), {"name": "Far"})]
    mapped = read(creek_job(tmp_path / "J", water_bodies=ponds))
    tables = mapped.record.tables
    bank = tables["banks"].filter(pl.col("stream") == "Pond").to_dicts()
    # Round the pond 2 x (300 + 180) = 960 ft; the unit ends at y = 500, 20 ft from its lower shore.
    assert [(b["bank"], b["side"], b["length_ft"], b["harvested"]) for b in bank] == [
        ("Pond shore", "all_round", 960, True)
    ]
    found = tables["stations"].filter(pl.col("bank") == "Pond shore")
    read_ft = np.array(widths(found, "Pond shore"))
    assert len(read_ft) == 20 and read_ft.min() == pytest.approx(20, abs=TOLERANCE_FT)
    # 300 of 960 ft lie along the unit: 6 of 20 stations, give or take one at the corners; the far shore sees no cut.
    assert 5 <= (abs(read_ft - 20) < TOLERANCE_FT).sum() <= 7 and (read_ft == 330).sum() >= 5
    assert set(found["measured_from"]) == {"bank_as_required"}
    assert tables["streams"].filter(pl.col("stream") == "Pond")["width_ft"].to_list() == [None]
    assert "Far" not in tables["streams"]["stream"].to_list()
    # Zone of 30 ft around: 960 x 30 and four quarter circles, 28,800 + 2,827 = 31,627 square feet, 0.726 acres.
    widths_asked = found.select("bank", "station", required_ft=pl.lit(30.0))
    zone = zones_of(site(mapped), widths_asked)
    assert zone.acres["Pond shore"] == pytest.approx(0.726, rel=0.005)
