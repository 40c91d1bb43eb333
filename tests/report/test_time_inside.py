"""Minutes of machines inside required zones, in the words of every form of a report."""

from __future__ import annotations

import html
import io
import json
import re
from datetime import datetime
from pathlib import Path

import pyogrio.raw
import pytest
from pypdf import PdfReader

from auditor.report import site_wording as site_say
from auditor.report.geodata import geojson_bytes, gpkg_bytes
from auditor.report.html import html_bytes
from auditor.report.model import TimeInside
from auditor.report.pdf import pdf_bytes
from auditor.report.privacy import PARTS, with_parts
from auditor.report.terminal import report_text
from tests.report.sample_map import times
from tests.report.sample_site import site_report

SITE = site_report()
DEEP, MOMENT, GAPS, BARE = times()


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (3.04, 6.96, "3 to 7 min"),  # outward to tenths
        (3.0, 7.0, "3 to 7 min"),
        (0.0, 0.42, "0 to 0.5 min"),
        (0.0, 0.0, "0 min"),
        (4.0, 4.0, "4 min"),
        (4.01, 4.09, "4 to 4.1 min"),
        (4.04, 4.04, "4.1 min"),
        (61.24, 75.0, "61.2 to 75 min"),
    ],
)
def test_minutes_run_from_the_certain_to_the_possible(low: float, high: float, words: str) -> None:
    assert site_say.minutes_inside(TimeInside(track="1", bank="B", minutes_low=low, minutes_high=high)) == words


def test_minutes_as_drawn_and_unknown_ones() -> None:
    drawn = TimeInside(
        track="1",
        bank="B",
        minutes_drawn=2.26,
        passes_high=1,
        first_in=datetime(2026, 6, 9),
        last_out=datetime(2026, 6, 9),
    )
    assert site_say.time_inside(drawn) == (
        "2.3 min as drawn in 1 pass; 9 Jun 2026, 00:00:00; how far its positions may be off is not known"
    )
    assert site_say.time_inside(BARE) == "minutes not known; drawn without times"
    untimed = BARE.model_copy(update={"untimed_fix_count": 3})
    assert site_say.time_inside(untimed) == "minutes not known; 3 fixes inside have no time"


def test_hours_are_those_of_the_record_and_name_the_zone_of_time_only_where_it_does() -> None:
    assert site_say.when_inside(DEEP) == "9 Jun 2026, 13:05:12 to 14:20:07 universal time"
    assert site_say.when_inside(MOMENT) == "9 Jun 2026, 23:59:50 to 10 Jun 2026, 00:00:15"


def test_what_is_not_known_is_said() -> None:
    assert site_say.not_known_inside(DEEP) == ""
    assert site_say.not_known_inside(GAPS) == (
        "2 gaps in its fixes of 11.3 min begin or end inside, not counted; 1 fix inside has no time"
    )


@pytest.mark.parametrize(("low", "high", "words"), [(1, 2, "1 to 2 passes"), (0, 1, "0 to 1 pass"), (2, 2, "2 passes")])
def test_passes(low: int, high: int, words: str) -> None:
    assert site_say.passes_inside(TimeInside(track="1", bank="B", passes_low=low, passes_high=high)) == words


def test_the_terminal_prints_a_line_for_each() -> None:
    text = flat(report_text(SITE, 80))
    assert site_say.TIME_INSIDE.upper() in text
    assert (
        "- track skidder 3, zone of AL-left: between 3 and 7 min in 1 to 2 passes; 9 Jun 2026, 13:05:12 to 14:20:07 "
        "universal time; finding 5" in text
    )
    assert "- track forwarder, zone of FE-right: minutes not known; drawn without times" in text
    assert "Time in gaps of the fixes is not counted." in text


@pytest.mark.parametrize("form", ["pdf", "screen"])
def test_the_pages_print_each(form: str) -> None:
    if form == "pdf":
        text = flat(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf_bytes(SITE))).pages))
    else:
        page = re.sub(r"<style>.*?</style>|<[^>]*>", " ", html_bytes(SITE).decode("utf-8"), flags=re.DOTALL)
        text = flat(html.unescape(page))
    assert site_say.TIME_INSIDE in text
    for time in times():
        minutes = site_say.minutes_inside(time)
        for words in (time.track, minutes.replace(" to ", " and ") if form == "screen" else minutes):
            assert words in text
    assert "universal time" in text and "2 gaps in its fixes" in text
    assert "Time in gaps of the fixes is not counted." in text


def test_no_minutes_are_told_where_the_map_is_left_out() -> None:
    bare = with_parts(SITE, [part for part in PARTS if part != "map"])
    assert site_say.TIME_INSIDE.upper() not in report_text(bare, 80)


def test_geodata_carry_the_time_on_the_features_that_show_it(tmp_path: Path) -> None:
    site = SITE.model_copy(deep=True)
    assert site.jobs[0].map is not None
    site.jobs[0].map.projection = "EPSG:32617"
    features = json.loads(geojson_bytes(site))["features"]
    (told,) = [f["properties"] for f in features if "track" in f["properties"]]
    assert (told["minutes_low"], told["minutes_high"], told["passes_low"], told["passes_high"]) == (3.04, 6.96, 1, 2)
    assert (told["first_in"], told["last_out"]) == ("2026-06-09T13:05:12", "2026-06-09T14:20:07")
    assert (told["clock"], told["gap_count"]) == ("universal time", 0)
    path = tmp_path / "map.gpkg"
    path.write_bytes(gpkg_bytes(site))
    meta, _, _, columns = pyogrio.raw.read(path, layer="intrusion_lines")
    row = {name: values[-1] for name, values in zip(meta["fields"], columns, strict=True)}
    assert (row["name"], row["minutes_low"], row["minutes_high"]) == ("skidder 3", 3.04, 6.96)
    assert (row["first_in"], row["clock"]) == ("2026-06-09T13:05:12", "universal time")
