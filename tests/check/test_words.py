"""Words for many rows at once: figures no finer than what measures them, exact figures beside them."""

from __future__ import annotations

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.check import words
from auditor.report import wording as say
from auditor.rules.models import RuleFile
from auditor.vocabulary.quantities import ONE_DECIMAL, rounded
from tests.check.haul import a_record, finding, load
from tests.check.small_site import WIDTH, a_file, a_site
from tests.rules import small

ROW = {"value": pl.Float64, "unit": pl.String, "up": pl.Boolean}


@given(
    st.floats(-90_000, 90_000, allow_nan=False).map(lambda v: round(v, 6)),
    st.sampled_from([*ONE_DECIMAL, "share", "acre", None]),
    st.booleans(),
)
def test_columns_are_rounded_as_single_figures_are(value: float, unit: str | None, up: bool) -> None:
    frame = pl.DataFrame([[value], [unit], [up]], schema=ROW)
    (found,) = frame.select(words.rounded(pl.col("value"), pl.col("unit"), pl.col("up"))).to_series()
    assert found == pytest.approx(rounded(value, unit, up), abs=1e-9)


def test_a_tape_down_a_slope_is_told_to_the_tenth_of_a_foot() -> None:
    # 33 ft along a slope of 12 percent are 33 / sqrt(1 + 0.12^2) = 32.764943 ft level; 40 ft are asked for: 7.235057 short
    station = {"bank": "b1", "station": 1, "along_ft": 0, "zone_width_ft": 33, "measured_along": "ground", "slope_pct": 12,
               "measured_from": "bank", "width_uncertainty_ft": 0}  # fmt: skip
    rule = WIDTH | {"action": "Leave {margin} {unit} more than {value}; {limit} are asked for."}
    (found,) = a_site(files=(a_file("streamside", rule),), stations=[station]).findings
    (item,) = found.items
    assert (item.measured, item.limit, item.margin) == (pytest.approx(32.764943), 40, pytest.approx(7.235057))
    assert item.to_mend == "7.3 ft more"
    assert found.worst.endswith("32.7 ft, at least 40 ft")
    assert found.summary.endswith("off by 7.3 ft at most")
    assert found.action == "Leave 7.3 ft more than 32.7; 40 are asked for."
    assert (say.found(item), say.allowed(item), say.off(item)) == ("32.7 ft", "at least 40 ft", "7.3 ft")
    assert say.figure(found) == "7.3 ft short"


@pytest.mark.parametrize(
    ("height", "shown", "off"),
    [
        (13.5001, "13.6 ft", "0.1 ft"),  # just over reads as over
        (13.51, "13.51 ft", "0.01 ft"),
        (13.8333333, "13.84 ft", "0.34 ft"),  # four inches over
    ],
)
def test_an_excess_never_reads_as_keeping_the_limit(height: float, shown: str, off: str) -> None:
    rule = small.a_rule(examines="loads", must={"load_height_ft": {"at_most": {"limit": "height_ft"}}})
    file = small.a_file(rule, height_ft=small.a_limit(13.5) | {"unit": "ft"})
    found = finding(a_record([load("A1", load_height_ft=height)]), file)
    assert found.worst == f"ticket A1: {shown}, at most 13.5 ft"
    assert found.items[0].to_mend == f"{off} less"
    assert found.items[0].margin == pytest.approx(height - 13.5)
    assert (say.found(found.items[0]), say.off(found.items[0])) == (shown, off)


ASKED = ["ticket_number", "species", ["gross_tare_net", "volume"]]


def test_a_ticket_that_lacks_something_is_told_what_to_add() -> None:
    rule = small.a_rule(examines="loads", must={"ticket_missing_count": {"at_most": 0}})
    body = small.a_file(rule).model_dump(by_alias=True, exclude_unset=True)
    file = RuleFile.model_validate(body | {"definitions": {"ticket": {"contents": ASKED, **small.CITED}}})
    contents = {
        "A1": "species",
        "A2": "ticket_number; volume",
        "A3": "ticket_number; species; gross_tare_net",
        "A4": None,
    }
    record = a_record([load(t) for t in contents], tickets=[{"load": t, "contents": c} for t, c in contents.items()])
    found = finding(record, file)
    assert {i.subject: (i.to_mend, i.margin) for i in found.items} == {
        "A1": ("Add to the ticket: ticket number; gross, tare and net weight or volume", 2),
        "A2": ("Add to the ticket: species", 1),
    }
    assert found.worst == "ticket A1: lacks ticket number; gross, tare and net weight or volume"
    assert say.figure(found) == "up to 2 things missing"


def test_a_notice_that_lacks_something_is_told_what_to_add() -> None:
    rule = {"id": "contents", "title": "Contents", "examines": "notices", "must": {"notice_missing_count": 0},
            "duty_of": "logger", "standing": "regulation", "grade": "minor", "evidence": "usual", "action": "Add it.",
            "caution": "Ask.", **small.CITED}  # fmt: skip
    said = {"notice": {"contents": ["location", ["start_date", "duration"]], **small.CITED}}
    notices = [{"notice": "N1", "kind": "harvest_start", "contents": "location"}]
    (found,) = a_site(files=(a_file("streamside", rule, definitions=said),), notices=notices).findings
    assert [i.to_mend for i in found.items] == ["Add to the notice: start date or duration"]
    assert found.worst == "notice N1: harvest start, lacks start date or duration"
