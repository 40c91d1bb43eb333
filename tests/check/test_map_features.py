"""The map of a report: zones and intrusions against areas worked by hand, and how they belong to findings."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import shapely

from auditor.audit import check
from auditor.check.map_features import report_map
from auditor.report.model import MapFeature, SiteMap
from auditor.rules.reading import read_rules
from tests.check.mapped_jobs import CREEK, FT, NOTCHED, STREAMS, creek_job, make_job, read
from tests.check.test_map_rows import ACROSS, X1

ACRE = 43_560.0
BUFFER = STREAMS.replace("width_ft\n", "width_ft,mapped_on,maps_checked,watershed\n").replace(
    ",20\n", ",20,usgs_map,yes,Jordan\n"
)
"""North Carolina's riparian buffer: zone 1 is 30 ft wide."""


def drawn(folder: Path, required: dict[str, float]) -> SiteMap:
    """The map of a job with a width required along banks, in ft, without any rule."""
    mapped = read(folder)
    (job,) = mapped.sites
    stations = mapped.record.tables["stations"]
    wide = pl.DataFrame({"bank": list(required), "required_ft": list(required.values())})
    widths = stations.join(wide, on="bank").select("job", "bank", "station", pl.col("required_ft").cast(pl.Float64))
    found = report_map(mapped.record.maps[job], mapped.sites[job], widths, [])
    assert found is not None
    return found


def of(found: SiteMap, layer: str) -> list[MapFeature]:
    return [f for f in found.features if f.layer == layer]


def area_ft2(feature: MapFeature) -> float:
    outer, *holes = feature.parts
    return float(shapely.Polygon(outer, holes).area) / FT**2


def number(feature: MapFeature, unit: str) -> float:
    """The number before a unit in the detail of a feature."""
    return float(feature.detail.split(unit)[0].split(",")[-1].split()[-1].replace(",", ""))


def test_zone_and_intrusion_have_the_areas_worked_by_hand(tmp_path: Path) -> None:
    found = drawn(creek_job(tmp_path / "J"), {"Creek left": 50, "Creek right": 50})
    zones = {f.name: f for f in of(found, "required zone")}
    # 999.9 ft x 50 ft a side = 1.148 acres.
    for bank in ("Creek left", "Creek right"):
        assert area_ft2(zones[bank]) == pytest.approx(999.9 * 50, rel=0.01)
        assert zones[bank].detail == "1.15 acres"
    # The notch reaches to 25 ft of the bank over 200 ft: 200 x (50 - 25) = 5,000 square feet, 0.115 acres.
    (cut,) = of(found, "intrusion")
    assert area_ft2(cut) == pytest.approx(5000, rel=0.01)
    assert cut.name == "cut U1 in the zone of Creek left"
    assert (number(cut, " ft deep"), number(cut, " ft along")) == (25, 200)
    assert number(cut, " acres") == pytest.approx(5000 / ACRE, abs=0.001)


def test_the_zone_goes_round_the_head_of_a_stream(tmp_path: Path) -> None:
    found = drawn(creek_job(tmp_path / "J"), {"Creek head": 50})
    (zone,) = of(found, "required zone")
    # Half a ring of 10 to 60 ft: pi / 2 x (60^2 - 10^2) = 5,498 square feet.
    assert area_ft2(zone) == pytest.approx(math.pi / 2 * (60**2 - 10**2), rel=0.02)


@pytest.mark.parametrize(("required", "layer"), [(34.0, "possible intrusion"), (36.0, "intrusion")])
def test_an_intrusion_inside_the_doubt_is_a_possible_one(tmp_path: Path, required: float, layer: str) -> None:
    # The notch stops 25 ft from the bank; places are good to 5 + 5 = 10 ft: 9 ft deep may be none, 11 ft is one.
    found = drawn(creek_job(tmp_path / "J"), {"Creek left": required})
    assert [f.layer for f in found.features if "intrusion" in f.layer] == [layer]


def test_with_an_unknown_uncertainty_an_intrusion_is_only_possible(tmp_path: Path) -> None:
    found = drawn(creek_job(tmp_path / "J", doubt_ft={"streams": 5}), {"Creek left": 50})
    assert [f.layer for f in found.features if "intrusion" in f.layer] == ["possible intrusion"]


def test_a_crossing_is_no_intrusion_and_the_way_along_the_water_is(tmp_path: Path) -> None:
    along = shapely.LineString([(100, 24), (300, 24)])
    folder = creek_job(
        tmp_path / "J", shapely.box(0, 200, 1000, 500), trails=[(ACROSS, {"name": "T1"})], tracks=[(along, {"name": "9"})], crossings=X1
    )  # fmt: skip
    (found,) = of(drawn(folder, {"Creek left": 50, "Creek right": 50}), "intrusion")
    assert found.name == "machine tracks 9 in the zone of Creek left"
    # 50 - (24 - 10) = 36 ft deep, 200 ft long.
    assert found.detail == "36 ft deep, 200 ft of way, 200 ft along the bank"


def test_wider_requirements_never_shrink_an_intrusion(tmp_path: Path) -> None:
    folder = creek_job(tmp_path / "J")
    areas = []
    for required in (10.0, 25.0, 26.0, 40.0, 60.0, 61.0, 100.0, 200.0):
        found = drawn(folder, {"Creek left": required, "Creek right": required})
        areas.append(sum(area_ft2(f) for f in found.features if "intrusion" in f.layer))
    assert areas == sorted(areas) and areas[0] == areas[1] == 0
    # 200 ft of zone: 1,000 x (200 - 60) less nothing, and the notch of 200 x 35; the unit is 0.1 ft longer than the zone.
    assert areas[-1] == pytest.approx(999.9 * 140 + 200 * 35, rel=0.01)


def test_a_bank_read_on_the_ground_has_its_zone_on_the_map(tmp_path: Path) -> None:
    tables = {
        "streams": BUFFER,
        "banks": "bank,stream,side,harvested,harvested_on\nB1,Creek,left,yes,2026-07-30\n",
        "stations": "bank,station,along_ft,zone_width_ft,width_uncertainty_ft,measured_from,measured_along\n"
        "B1,7,125,62,1,bank_as_required,horizontal\n",
    }
    mapped = read(creek_job(tmp_path / "J", tables=tables))
    report = check(mapped.record, read_rules(["US", "US-NC"]))
    site = report.jobs[0].map
    assert site is not None
    (zone,) = [f for f in of(site, "required zone") if f.name == "B1"]
    # 30 ft along the whole bank, from one station of its own.
    assert area_ft2(zone) == pytest.approx(999.9 * 30, rel=0.01)


def test_features_bear_the_numbers_of_their_findings(tmp_path: Path) -> None:
    # 20 ft from the bank, 10 under the 30 asked, beyond the doubt of 4.
    unit = shapely.union(NOTCHED, shapely.box(400, 20, 600, 100))
    job = creek_job(tmp_path / "J", unit, {"streams": BUFFER}, doubt_ft=2)
    mapped = read(job)
    report = check(mapped.record, read_rules(["US", "US-NC"]))
    (job_report,) = report.jobs
    (finding,) = [f for f in job_report.findings if f.rule == "us-nc/streamside/buffer-zone-1"]
    assert {i.subject for i in finding.items} == {"Creek left"}
    assert job_report.map is not None
    (cut,) = of(job_report.map, "intrusion")
    assert cut.finding == finding.number
    # 200 x (30 - 10) square feet, for the cut comes to 20 - 10 = 10 ft of the bank.
    assert area_ft2(cut) == pytest.approx(200 * 20, rel=0.01)


def test_a_missing_uncertainty_is_named_as_missing_evidence(tmp_path: Path) -> None:
    unit = shapely.box(0, 44, 1000, 500)
    mapped = read(creek_job(tmp_path / "J", unit, {"streams": BUFFER}, doubt_ft={"streams": 5}))
    (job,) = check(mapped.record, read_rules(["US", "US-NC"])).jobs
    assert not any(f.rule == "us-nc/streamside/buffer-zone-1" for f in job.findings)
    missing = [m for m in job.missing if "width_uncertainty_ft" in str(m.model_dump())]
    assert missing, "the blank plus or minus of the widths is named"


def test_a_narrow_zone_on_a_stream_of_unknown_width_is_shown_and_a_wide_one_is_not(tmp_path: Path) -> None:
    streams = BUFFER.replace(",20,", ",,")
    outcome = {}
    for name, y in (("narrow", 25), ("wide", 200)):
        mapped = read(creek_job(tmp_path / name, shapely.box(0, y, 1000, 500), {"streams": streams}, doubt_ft=1))
        (job,) = check(mapped.record, read_rules(["US", "US-NC"])).jobs
        rule = "us-nc/streamside/buffer-zone-1"
        outcome[name] = (
            {i.subject for f in job.findings if f.rule == rule for i in f.items},
            rule in str([q.model_dump() for q in job.open_questions]) + str([m.model_dump() for m in job.missing]),
        )
    # 25 ft from the drawn line is less than 30 from any bank; 200 ft may be less than 30 from the bank of a wide river.
    assert outcome["narrow"][0] == {"Creek left", "Creek head"} or outcome["narrow"][0] == {"Creek left"}
    assert outcome["wide"][0] == set() and outcome["wide"][1]


def test_a_water_body_does_not_widen_the_map(tmp_path: Path) -> None:
    lake = [(shapely.box(5000, 0, 90_000, 90_000), {"name": "Lake"})]
    found = drawn(creek_job(tmp_path / "J", water_bodies=lake), {"Creek left": 50})
    # The unit is 1,000 ft wide, the margin 60 m on both sides.
    assert found.width_m == pytest.approx(1000 * FT + 120, abs=25)


def test_streams_alone_make_no_map(tmp_path: Path) -> None:
    mapped = read(make_job(tmp_path / "J", {"streams": [(CREEK, {"name": "Creek"})]}))
    assert report_map(mapped.record.maps["J"], mapped.sites["J"], None, []) is None
    (job,) = check(mapped.record, read_rules(["US", "US-NC"])).jobs
    assert job.map is None


def test_the_class_of_a_stream_is_that_of_the_record(tmp_path: Path) -> None:
    maps: dict[str, Any] = {
        "streams": [(CREEK, {"name": "Creek", "stream_class": "ephemeral"})],
        "units": [(NOTCHED, {"name": "U1"})],
    }
    found = drawn(make_job(tmp_path / "J", maps, {"streams": STREAMS}), {"Creek left": 30})
    assert [f.layer for f in found.features if f.name == "Creek"] == ["perennial stream"]
