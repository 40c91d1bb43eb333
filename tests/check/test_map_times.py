"""Minutes of machines inside required zones, from the fixes of a job folder to the map of its report, worked by hand.

The creek runs along y = 0 with its banks at y = 10 and -10. A zone of 50 ft on the left ends at y = 60; the stream is good
to 5 ft and the fixes to 6, so that a machine is inside for certain below y = 49 and may be inside up to y = 71.
"""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from auditor.audit import check
from auditor.check.map_times import times_inside
from auditor.check.map_zones import zones_of
from auditor.record import read_jobs
from auditor.report.geodata import geojson_bytes
from auditor.report.model import SiteMap, TimeInside
from auditor.report.terminal import report_text
from auditor.rules.reading import read_rules
from tests.check.mapped_jobs import STREAMS, creek_job, placed, read
from tests.check.test_map_features import BUFFER, drawn
from tests.check.test_map_rows import X1, fixes
from tests.record.map_jobs import UTM, moved

FAR = shapely.box(0, 300, 1000, 500)
"""A cutting unit that leaves the zone alone."""
Fix = tuple[float, float, float | None]
"""Place in ft and seconds after noon."""


def clock(seconds: float) -> datetime:
    return datetime(2026, 7, 8, 12, int(seconds) // 60, int(seconds) % 60)


def straight(
    start: tuple[float, float], end: tuple[float, float], begin: float, took: float, every: float
) -> list[Fix]:
    """Fixes along a straight line at an even pace."""
    part = np.arange(0, took + 1e-9, every) / took
    return [(start[0] + p * (end[0] - start[0]), start[1] + p * (end[1] - start[1]), begin + p * took) for p in part]


def with_fixes(folder: Path, places: list[Fix], **more: Any) -> Path:
    folder.mkdir()
    times = [None if s is None else f"12:{int(s) // 60:02d}:{int(s) % 60:02d}" for _, _, s in places]
    said = fixes(folder, [(x, y) for x, y, _ in places], times)
    return creek_job(folder, more.pop("unit", FAR), extra=[said, *more.pop("extra", [])], **more)


def site_of(tmp_path: Path, places: list[Fix], required: dict[str, float] | None = None, **more: Any) -> SiteMap:
    return drawn(with_fixes(tmp_path / "J", places, **more), required or {"Creek left": 50})


def only(site: SiteMap) -> TimeInside:
    (time,) = site.times
    return time


IN_AND_OUT = [
    *straight((500, 121), (500, 21), 0, 20, 4),
    (500.0, 21.0, 80.0),
    *straight((500, 21), (500, 121), 84, 20, 4),
]
"""Down from y = 121 to 21 at 5 ft/s, 64 s there, and up again: at y = 71 after 10 s, at 49 after 14.4 s, at 21 after 20 s;
up from 84 s, at 49 after 5.6 s more (89.6 s), at 71 after 10 s more (94 s)."""


def test_minutes_passes_and_hours_are_those_worked_by_hand(tmp_path: Path) -> None:
    site = site_of(tmp_path, IN_AND_OUT)
    time = only(site)
    # Certain from 14.4 to 89.6 s: 75.2 s; possible from 10 to 94 s: 84 s.
    assert (time.track, time.bank, time.finding) == ("1", "Creek left", None)
    assert time.minutes_low == pytest.approx(75.2 / 60, abs=0.01)
    assert time.minutes_high == pytest.approx(84 / 60, abs=0.01)
    assert (time.passes_low, time.passes_high, time.gap_count) == (1, 1, 0)
    assert (time.first_in, time.last_out) == (clock(10), clock(94))
    assert (time.sure_first_in, time.sure_last_out) == (clock(14), clock(90))
    assert time.in_universal_time is False
    assert time.shown_as == ["machine tracks 1 in the zone of Creek left"]


@pytest.mark.parametrize(
    ("y", "low", "high"),
    [(48.5, 1, 1), (49.5, 0, 1), (60.5, 0, 1), (70.5, 0, 1), (71.5, None, None), (12, 1, 1), (5, 0, 1)],
)
def test_along_the_edges_of_the_zone(tmp_path: Path, y: float, low: float | None, high: float | None) -> None:
    # At y = 12 the machine is 2 ft from the bank, and no less inside for it; at y = 5 it may be in the channel.
    site = site_of(tmp_path, straight((300, y), (420, y), 0, 60, 20))
    found = [(t.minutes_low, t.minutes_high) for t in site.times]
    assert found == ([] if high is None else [(pytest.approx(low, abs=0.01), pytest.approx(high, abs=0.01))])
    if y == 70.5:
        # What lies beyond the edge by less than the error shows on no feature of the map.
        assert only(site).shown_as == []


def test_a_pass_that_may_be_none(tmp_path: Path) -> None:
    # Twice down to y = 55, which is less than 11 ft inside, and once to y = 30.
    down = [(500.0, 121.0), (500.0, 55.0), (500.0, 121.0), (500.0, 55.0), (500.0, 121.0), (500.0, 30.0), (500.0, 121.0)]
    time = only(site_of(tmp_path, [(x, y, 20.0 * n) for n, (x, y) in enumerate(down)]))
    assert (time.passes_low, time.passes_high) == (1, 3)


def test_gaps_that_begin_or_end_inside_are_told_and_not_counted(tmp_path: Path) -> None:
    # 20 s inside, then 180 s without a fix, 30 s inside, and 300 s until a fix far outside.
    places: list[Fix] = [(100, 30, 0), (140, 30, 20), (160, 30, 200), (220, 30, 230), (220, 400, 530)]
    site = site_of(tmp_path, places)
    time = only(site)
    assert (time.minutes_low, time.minutes_high) == (
        pytest.approx(50 / 60, abs=0.001),
        pytest.approx(50 / 60, abs=0.001),
    )
    assert (time.gap_count, time.gap_minutes) == (2, pytest.approx(480 / 60))
    # It may have stayed inside all through the first gap.
    assert (time.passes_low, time.passes_high) == (1, 2)
    assert (time.first_in, time.last_out) == (clock(0), clock(230))
    assert "2 of track 1, 8 minutes in all" in site.time_notes[-1]


def test_a_step_as_long_as_the_longest_is_followed(tmp_path: Path) -> None:
    time = only(site_of(tmp_path, [(100, 30, 0), (200, 30, 120)]))
    assert (time.minutes_low, time.gap_count) == (pytest.approx(2), 0)


def test_fixes_without_a_time_give_no_minutes_and_are_told(tmp_path: Path) -> None:
    places: list[Fix] = [(100, 30, 0), (140, 30, 60), (300, 30, None), (400, 300, None)]
    time = only(site_of(tmp_path, places))
    assert (time.minutes_low, time.untimed_fix_count) == (pytest.approx(1), 1)


def test_a_track_of_which_no_fix_has_a_time(tmp_path: Path) -> None:
    site = site_of(tmp_path, [(300, 30, None), (320, 30, None)])
    time = only(site)
    assert (time.minutes_low, time.minutes_high, time.first_in, time.untimed_fix_count) == (None, None, None, 2)
    assert time.shown_as and site.time_notes == []


def test_a_drawn_track_has_no_minutes_and_is_told(tmp_path: Path) -> None:
    way = shapely.LineString([(100, 24), (300, 24)])
    found = drawn(creek_job(tmp_path / "J", FAR, tracks=[(way, {"name": "9"})]), {"Creek left": 50})
    assert [(t.track, t.bank, t.first_in, t.untimed_fix_count) for t in found.times] == [("9", "Creek left", None, 0)]


def test_time_on_the_way_over_a_crossing_is_not_counted(tmp_path: Path) -> None:
    # Over the crossing at x = 700 straight through both zones, then at y = 30 from x = 500 to 400 in 20 s.
    over = straight((700, 121), (700, -121), 0, 60, 10)
    along: list[Fix] = [(500, 121, 1000), (500, 100, 1004), (500, 30, 1018), (400, 30, 1038), (400, 121, 1058)]
    site = site_of(tmp_path, over + along, {"Creek left": 50, "Creek right": 50}, crossings=X1)
    time = only(site)
    # 70 ft in 14 s are 5 ft/s: from y = 71 to 30 8.2 s, 20 s along, and 91 ft in 20 s: 41 ft up to y = 71 in 9.01 s.
    assert time.bank == "Creek left"
    assert time.minutes_high == pytest.approx((8.2 + 20 + 9.01) / 60, abs=0.01)
    assert any("crossing" in note for note in site.time_notes)


def test_a_ford_away_from_crossings_counts_on_both_banks(tmp_path: Path) -> None:
    # 2 ft/s from y = 120 to -120. A zone of 50 ft on both sides: from y = 60 to 10, 25 s, and as long on the right.
    site = site_of(tmp_path, straight((300, 120), (300, -120), 0, 120, 10), {"Creek left": 50, "Creek right": 50})
    assert [t.bank for t in site.times] == ["Creek left", "Creek right"]
    for time in site.times:
        # Certain from 49 to 10 ft, possible from 71 ft to 11 ft beyond the bank, less the other zone, which begins 20 ft off.
        assert time.minutes_low == pytest.approx(39 / 2 / 60, abs=0.01)
        assert time.minutes_high == pytest.approx((71 - 10 + 11) / 2 / 60, abs=0.01)


def test_the_zone_of_the_other_bank_is_not_possible_ground_of_this_one(tmp_path: Path) -> None:
    # A stream of 6 ft: zones from y = 3 to 53 and from -3 on. 2 ft/s from y = 64, which is 11 ft outside, to y = -3.
    tables = {"streams": STREAMS.replace(",20\n", ",6\n")}
    way = straight((300, 120), (300, -120), 0, 120, 10)
    site = site_of(tmp_path, way, {"Creek left": 50, "Creek right": 50}, tables=tables)
    assert [t.minutes_high for t in site.times] == [pytest.approx(67 / 2 / 60, abs=0.01)] * 2


def test_where_the_error_is_not_known_minutes_are_as_drawn(tmp_path: Path) -> None:
    folder = with_fixes(tmp_path / "J", IN_AND_OUT)
    said = (folder / "job.yaml").read_text(encoding="utf-8").replace(", position_uncertainty_ft: 6", "")
    (folder / "job.yaml").write_text(said, encoding="utf-8")
    time = only(drawn(folder, {"Creek left": 50}))
    # At y = 60 after 12.2 s and again after 84 + 7.8 = 91.8 s: 79.6 s.
    assert time.minutes_drawn == pytest.approx(79.6 / 60, abs=0.01)
    assert (time.minutes_low, time.minutes_high, time.passes_low, time.passes_high) == (None, None, None, 1)


def test_two_tracks_at_once_are_told_apart(tmp_path: Path) -> None:
    folder = tmp_path / "J"
    folder.mkdir()
    one = fixes(folder, [(100.0, 30.0), (140.0, 30.0)], ["12:00:00", "12:01:00"], "a.gpkg")
    two = fixes(folder, [(800.0, 30.0), (850.0, 30.0)], ["12:00:30", "12:02:00"], "b.gpkg")
    site = drawn(creek_job(folder, FAR, extra=[one, two]), {"Creek left": 50})
    assert [(t.track, t.minutes_low) for t in site.times] == [("1", pytest.approx(1)), ("1#2", pytest.approx(1.5))]


def test_without_a_required_zone_nothing_is_told(tmp_path: Path) -> None:
    mapped = read(with_fixes(tmp_path / "J", IN_AND_OUT))
    (job,) = mapped.sites
    site = mapped.sites[job]
    assert times_inside(mapped.record.maps[job], site, zones_of(site, None), []) == ([], [])


def gpx(places: list[Fix]) -> str:
    """A GPX file with the times in universal time."""
    points = [moved(placed(shapely.Point(x, y)), "EPSG:4326", UTM) for x, y, _ in places]
    rows = [
        f'<trkpt lat="{p.y:.8f}" lon="{p.x:.8f}"><time>2026-07-08T12:{int(s or 0) // 60:02d}:{int(s or 0) % 60:02d}Z</time></trkpt>'
        for p, (_, _, s) in zip(points, places, strict=True)
    ]
    head = '<?xml version="1.0"?><gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1">'
    return f"{head}<trk><name>Skidder</name><trkseg>{''.join(rows)}</trkseg></trk></gpx>"


def test_from_a_gpx_file_to_the_printed_words(tmp_path: Path) -> None:
    # North Carolina's zone 1 of 30 ft ends at y = 40: certain below y = 29, possible below y = 51.
    # Along y = 24 from x = 300 to 700 in 240 s (a fix every 40 s), 10 minutes without a fix, and out at y = 400.
    folder = tmp_path / "J"
    folder.mkdir()
    places = [*straight((300, 24), (700, 24), 0, 240, 40), (700.0, 400.0, 840.0)]
    (folder / "day.gpx").write_text(gpx(places), encoding="utf-8")
    extra = ["  - {file: day.gpx, holds: fixes, position_uncertainty_ft: 6}"]
    folder = creek_job(
        folder, FAR, {"streams": BUFFER}, extra=extra, crossings=[(shapely.Point(50, 0), {"name": "X1"})]
    )
    report = check(read_jobs([folder]), read_rules(["US", "US-NC"]))
    text = " ".join(report_text(report, 80).split())
    assert (
        "track 0, zone of Creek left: 4 min in 1 pass; 8 Jul 2026, 12:00:00 to 12:04:00 universal time; 1 gap in its "
        "fixes of 10 min begins or ends inside, not counted; finding " in text
    )
    (told,) = [
        f["properties"]
        for f in json.loads(geojson_bytes(report))["features"]
        if f["properties"]["layer"] == "intrusion" and "track" in f["properties"]
    ]
    assert (told["minutes_low"], told["minutes_high"], told["passes_high"]) == (4, 4, 1)
    assert (told["first_in"], told["last_out"], told["clock"]) == (
        "2026-07-08T12:00:00", "2026-07-08T12:04:00", "universal time",
    )  # fmt: skip
