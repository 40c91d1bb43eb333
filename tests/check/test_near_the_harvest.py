"""Stations stand only near the harvest, and what is judged there is the same as with stations all along every stream."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
import shapely
from polars.testing import assert_frame_equal

from auditor.audit import check
from auditor.check import mapped_site
from auditor.check.map_features import WIDTHS
from auditor.check.map_rows import Mapped, with_map_rows
from auditor.measures.intrusions import stretches_near
from auditor.measures.streamside import station_lengths_ft
from auditor.record import read_jobs
from auditor.report.model import JobReport
from auditor.rules.models import Limit
from auditor.rules.reading import read_rules
from tests.check.mapped_jobs import FT, STREAMS, make_job, read, site, widths
from tests.house.tree import ROOT

SAMPLE = ROOT / "sample_jobs" / "newhope_map"
LONG = shapely.LineString([(0, 0), (9999, 0)])
"""Two miles of creek, 20 ft wide: 200 stretches of a hair less than 50 ft."""
TWO_UNITS = [
    (shapely.box(1000, 24, 1500, 500), {"name": "U1", "cut_on": "2026-07-30"}),
    (shapely.box(7000, 90, 7500, 500), {"name": "U2", "cut_on": "2026-07-30"}),
]
BUFFER = STREAMS.replace("width_ft\n", "width_ft,mapped_on,maps_checked,watershed\n").replace(
    ",20\n", ",20,usgs_map,yes,Jordan\n"
)


def everywhere(*args: Any) -> Any:
    """No station is taken for a far one."""
    return np.ones(args[1].height, dtype=bool)


def long_creek(folder: Path, tables: dict[str, str] | None = None, **layers: Any) -> Path:
    maps = {"streams": [(LONG, {"name": "Creek"})], "units": TWO_UNITS, **layers}
    return make_job(folder, maps, tables or {"streams": BUFFER})


def numbers(value: Any) -> Iterator[tuple[str, float]]:
    """Every number of a limit as written that can be a width, with its key."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if key in ("value", "base", "cap", "to") and isinstance(inner, int | float):
                yield key, float(inner)
            if key not in ("when", "at"):
                yield from numbers(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from numbers(inner)


def limits_of_widths(tree: Any) -> Iterator[str]:
    """The limits that a width has to reach, by name."""
    if isinstance(tree, dict):
        for key, inner in tree.items():
            if key in WIDTHS and isinstance(inner, dict):
                limit = inner.get("at_least")
                assert limit is None or set(limit) == {"limit"}, (
                    f"{key} is held against {limit}, whose size is not known"
                )
                yield from [limit["limit"]] if limit else []
            yield from limits_of_widths(inner)
    elif isinstance(tree, list | tuple):
        for inner in tree:
            yield from limits_of_widths(inner)


def test_no_rule_file_asks_for_a_zone_as_wide_as_is_looked() -> None:
    found = {}
    for file in read_rules().files:
        for rule in file.rules:
            must = (
                rule.must.model_dump(mode="json", by_alias=True, exclude_none=True)
                if not isinstance(rule.must, dict)
                else rule.must
            )
            for name in limits_of_widths(must):
                limit: Limit = file.limits[name]
                found[file.id, name] = max(n for _, n in numbers(limit.model_dump(mode="json", exclude_none=True)))
    assert len(found) >= 10, "the widths are found in the rule files"
    # Florida, along outstanding and Class I waters.
    assert max(found.values()) == found["us-fl/streamside", "primary_zone_ft"] == 200
    assert max(found.values()) + mapped_site.TOUCH_FT < mapped_site.LOOKED_FT


def test_stations_stand_within_reach_of_the_units_only(tmp_path: Path) -> None:
    mapped = read(long_creek(tmp_path / "J"))
    found = mapped.record.tables["stations"]
    left = found.filter(pl.col("bank") == "Creek left").sort("along_ft")
    at = left["along_ft"].to_numpy()
    # 10 + 330 = 340 ft from the line, U1 24 ft and U2 90 ft off: sqrt(340^2 - 24^2) = 339.2 and sqrt(340^2 - 90^2) =
    # 327.9 ft beside their ends; stretches that reach so far count whole.
    for west, east, beside in ((1000, 1500, 339.2), (7000, 7500, 327.9)):
        own = at[(at > west - 1000) & (at < east + 1000)]
        assert west - beside - 25 - 0.1 <= own[0] <= west - beside + 25
        assert east + beside - 25 <= own[-1] <= east + beside + 25 + 0.1
    assert not ((at > 2000) & (at < 6500)).any()
    (bank,) = mapped.record.tables["banks"].filter(pl.col("bank") == "Creek left").to_dicts()
    assert bank["length_ft"] == pytest.approx(len(at) * 9999 / 200, abs=0.5)
    assert bank["harvested"] is True


def test_what_is_left_out_is_said_once(tmp_path: Path) -> None:
    far = shapely.LineString([(0, 5000), (500, 5000)])
    streams = [(LONG, {"name": "Creek"}), (far, {"name": "Far Branch"})]
    notes = read(long_creek(tmp_path / "J", streams=streams)).record.notes
    assert [n for n in notes if "Far Branch" in n] == [
        "Not near the harvest, farther than 330 ft from it, and not judged: 1 mapped stream (Far Branch)."
    ]
    # 200 stretches of which 24 lie near each unit: 500 + 2 x 339.2 = 1,178 ft and 500 + 2 x 327.9 = 1,156 ft.
    (said,) = [n for n in notes if n.startswith("Stations stand where")]
    assert said.endswith("not judged: 7,549 ft of Creek.") or said.endswith("not judged: 7,599 ft of Creek.")


def test_a_stretch_between_two_units_is_given_to_no_station(tmp_path: Path) -> None:
    tables = read(long_creek(tmp_path / "J")).record.tables
    found = tables["stations"].select("bank").hstack(station_lengths_ft(tables["stations"], tables["banks"]))
    left = found.filter(pl.col("bank") == "Creek left")
    # 9,999 / 200 ft each, give or take the rounding of both ends to a tenth.
    assert left["station_length_ft"].to_list() == pytest.approx([9999 / 200] * left.height, abs=0.11)


def test_a_far_deck_still_finds_its_nearest_bank(tmp_path: Path) -> None:
    decks = [(shapely.Point(4000, 1010), {"name": "D1"})]
    trail = [(shapely.LineString([(1200, 400), (4000, 1010)]), {"name": "T1"})]
    (deck,) = read(long_creek(tmp_path / "J", decks=decks, trails=trail)).record.tables["decks"].to_dicts()
    # Straight above the creek, 1,010 - 10 ft, where no station stands for miles.
    assert deck["bank"] == "Creek left" and deck["distance_from_bank_ft"] == pytest.approx(1000, abs=0.2)


def test_the_map_is_held_against_a_tape_wherever_it_was_read(tmp_path: Path) -> None:
    tables = {
        "streams": BUFFER,
        "banks": "bank,stream,side,harvested,harvested_on,length_ft\nB1,Creek,left,yes,2026-07-30,5000\n",
        "stations": "bank,station,along_ft,zone_width_ft,width_uncertainty_ft,measured_from,measured_along\n"
        "B1,1,1225,20,1,bank_as_required,horizontal\nB1,2,4225,150,1,bank_as_required,horizontal\n",
    }
    mapped = read(long_creek(tmp_path / "J", tables))
    # At 4,225 ft a tape found the edge of a cut 150 ft off, and the map has none within 330 ft: 180 ft apart.
    (said,) = [n for n in mapped.record.notes if n.startswith("Bank B1")]
    assert "of 2 that the map shows too they differ" in said and "by 180 ft at most" in said
    tables_read = mapped.record.tables
    assert tables_read["stations"].filter(pl.col("bank") == "B1").height == 2
    assert tables_read["banks"].filter(pl.col("bank") == "B1")["length_ft"].to_list() == [5000]


def outcome(job: JobReport) -> dict[str, Any]:
    """What was judged, without the counts of rows and the lengths of banks."""
    assert job.map is not None
    return {
        "intrusions": [(f.layer, f.name, f.detail, f.finding) for f in job.map.features if "intrusion" in f.layer],
        "findings": [f.model_dump() for f in job.findings],
        "missing": job.missing,
        "open": job.open_questions,
        "conclusion": job.conclusion,
        "walk": {(w.name, o.rule): o.outcome for w in job.walk for o in w.outcomes},
    }


@pytest.fixture(params=["sample", "two units"])
def pair(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Mapped, Mapped]:
    """A job with stations near the harvest, and with stations everywhere."""
    folder = SAMPLE if request.param == "sample" else long_creek(tmp_path / "J")
    clipped = with_map_rows(read_jobs([folder]))
    monkeypatch.setattr(mapped_site, "stretches_near", everywhere)
    return clipped, with_map_rows(read_jobs([folder]))


def test_readings_are_those_of_a_site_with_stations_everywhere(pair: tuple[Mapped, Mapped]) -> None:
    clipped, whole = pair
    assert site(clipped).stations.height < 0.8 * site(whole).stations.height
    drop = ["number", "near"]
    on = ["reach", "side", "station"]
    there = site(whole).stations.join(site(clipped).stations.select(on), on=on, how="semi", maintain_order="left")
    assert_frame_equal(site(clipped).stations.drop(drop), there.drop(drop), rel_tol=0, abs_tol=1e-9)
    # Where none stand any more, nothing was found: no cut and no disturbed ground as far as was looked.
    gone = site(whole).stations.join(site(clipped).stations.select(on), on=on, how="anti")
    # A bank of which nothing is near, such as the head of the long creek, is none.
    gone = gone.filter(pl.col("bank").is_in(site(clipped).stations["bank"].unique().to_list()))
    assert set(gone["zone_width_ft"]) == {330.0} and set(gone["wider_than_read"]) == {True}
    assert set(gone["undisturbed_width_ft"].drop_nulls()) <= {330.0}
    assert_frame_equal(
        site(clipped).beyond.select("zone_width_ft", "undisturbed_width_ft", "wider_than_read"),
        gone.sort(on).select("zone_width_ft", "undisturbed_width_ft", "wider_than_read"),
        check_row_order=False,
    )


def test_rows_beside_the_stations_are_the_same(pair: tuple[Mapped, Mapped]) -> None:
    clipped, whole = (m.record.tables for m in pair)
    for name in ("streams", "disturbances", "decks", "tanks", "crossings", "segments", "stands"):
        assert_frame_equal(clipped[name], whole[name])
    banks = whole["banks"].filter(pl.col("bank") != "Creek head")
    assert_frame_equal(clipped["banks"].drop("length_ft"), banks.drop("length_ft"))


def test_findings_and_intrusions_are_the_same(pair: tuple[Mapped, Mapped]) -> None:
    book = read_rules(["US", "US-NC"])
    clipped, whole = (outcome(check(mapped.record, book).jobs[0]) for mapped in pair)
    assert clipped["intrusions"] and clipped["findings"]
    judged, anywhere = clipped.pop("walk"), whole.pop("walk")
    for part in clipped:
        assert clipped[part] == whole[part], part
    # A rule on zones that end at something else than the cut has nothing to say of a bank with the cut all along it; with
    # stations far off, where no cut is near, it had. The head of the long creek is beside no harvest.
    gone = {k: v for k, v in anywhere.items() if k not in judged and "head" not in k[0]}
    assert gone in ({}, {("FB-left", "us-nc/streamside/buffer-width"): "conformity"})
    assert all(anywhere[k] == v for k, v in judged.items())


def test_a_shape_at_the_reach_of_a_zone_makes_its_stretch_near() -> None:
    # Bank 10 ft off the line, 50 ft of zone: 60 ft from the line is near, a hair more is not; ends count straight.
    lines = np.array([shapely.LineString([(0, 0), (30, 0)])])
    rows = pl.DataFrame(
        {"reach": [0, 0], "side": ["left", "right"], "from_ft": [0.0, 0.0], "to_ft": [50.0, 50.0], "bank_ft": [10.0, None],
         "x_m": [7.0, 7.0], "y_m": [0.0, 0.0]},
    )  # fmt: skip
    for above, near in ((59.9, [True, False]), (60.1, [False, False]), (49.9, [True, True])):
        shape = np.array([shapely.Point(7, above * FT)])
        assert stretches_near(lines, rows, shape, 50.0).tolist() == near
    assert not stretches_near(lines, rows, np.empty(0, dtype=object), 50.0).any()


def test_widths_of_the_long_creek_are_read_as_drawn(tmp_path: Path) -> None:
    found = read(long_creek(tmp_path / "J")).record.tables["stations"]
    # 24 - 10 = 14 ft along U1, 90 - 10 = 80 ft along U2.
    assert {round(w) for w in widths(found, "Creek left")} >= {14, 80, 330}
