"""Georgia's harvest-site figures against the code and the agency's page named beside them, typed here again."""

from __future__ import annotations

import pytest

from tests.published.site_rows import files_of, marks, outcomes, rule_of, sides

FILES = files_of("US-GA", "streamside", "crossings", "trails", "fuel")
FILE = FILES["streamside"]
CONFORMS, DEPARTS, BREACHES, OPEN = "conformity", "departure from practice", "nonconformity", "inconclusive"
FLOOR = [DEPARTS, CONFORMS, CONFORMS]

# Best management practices for forestry (2009), table of zone widths, remembered with high confidence: slope, perennial,
# intermittent, ft each side.
WIDTHS = [(19, 40, 20), (21, 70, 35), (40, 70, 35), (41, 100, 50)]


@pytest.mark.parametrize(("slope", "perennial", "intermittent"), WIDTHS)
def test_zone_widths_by_slope(slope, perennial, intermittent):
    for stream_class, figure in (("perennial", perennial), ("intermittent", intermittent)):
        row = {"stream_class": stream_class, "station_slope_pct": slope, "trout_waters": "none", "width_doubt_ft": 0}
        assert outcomes(FILE, "zone-width", sides("zone_width_ft", figure, **row)) == FLOOR


@pytest.mark.parametrize("slope", [20, 20.5])
def test_slopes_in_no_class_stay_open_between_their_neighbours(slope):
    # Classes: slight < 20 (whether 20 itself is in it: not confirmed), moderate 21 to 40.
    row = {"stream_class": "perennial", "station_slope_pct": slope, "width_doubt_ft": 0}
    rows = [{**row, "zone_width_ft": w} for w in (39, 40, 69, 70)]
    assert outcomes(FILE, "zone-width", rows) == [DEPARTS, OPEN, OPEN, CONFORMS]


@pytest.mark.parametrize("standing", ["primary", "secondary", "tributary_of_trout_waters"])
def test_trout_streams_and_their_tributaries(standing):
    # Forestry agency's page on the trout-stream addendum (manual p. 11): 100 ft, any slope.
    for slope in (2, 60):
        row = {"trout_waters": standing, "station_slope_pct": slope, "width_doubt_ft": 0}
        assert outcomes(FILE, "trout-zone", sides("zone_width_ft", 100, **row)) == FLOOR


def test_widths_are_level_and_start_at_the_bank():
    # The same page: horizontally, outward from the stream bank.
    held = FILE.definitions["zone_width"]
    assert (held.model_extra["along"], held.model_extra["start"], held.verified) == ("horizontal", "bank", "read")


@pytest.mark.parametrize(("stream_class", "figure"), [("perennial", 50), ("intermittent", 25)])
def test_what_is_left_standing(stream_class, figure):
    # Manual of 2009, remembered with high confidence: 50 square feet an acre or 50 percent canopy; intermittent 25 or 25.
    sure = {"stream_class": stream_class, "basal_area_uncertainty_ft2_per_ac": 0, "canopy_uncertainty_pct": 0}
    short = figure - 5
    by_area = sides("basal_area_ft2_per_ac", figure, canopy_pct=short, **sure)
    by_crowns = sides("canopy_pct", figure, basal_area_ft2_per_ac=short, **sure)
    assert outcomes(FILE, "trees-left", by_area) == outcomes(FILE, "trees-left", by_crowns) == FLOOR


@pytest.mark.parametrize(
    ("rule", "kind", "column"),
    [("start-notice", "harvest_start", "hours_after_entry"), ("end-notice", "harvest_end", "hours_after_end")],
)
def test_notices_within_twenty_four_hours(rule, kind, column):
    # O.C.G.A. 12-6-24(a): 24 hours after entering, and within 24 hours after completion, where an ordinance asks for it.
    row = {"notice_kind": kind, "local_notice_ordinance": True}
    assert outcomes(FILE, rule, sides(column, 24, **row)) == [CONFORMS, CONFORMS, BREACHES]
    assert outcomes(FILE, rule, [{**row, "local_notice_ordinance": False, column: 100}]) == ["not applicable"]


def test_a_change_is_told_within_three_business_days():
    # O.C.G.A. 12-6-24(b)(1).
    row = {"notice_kind": "change", "local_notice_ordinance": True}
    rows = sides("working_days_after_event", 3, 1, **row)
    assert outcomes(FILE, "change-notice-in-time", rows) == [CONFORMS, CONFORMS, BREACHES]


def test_what_the_notice_states():
    # O.C.G.A. 12-6-24(b)(1): map with entry points; sale type; owner's name, address, daytime phone; harvester's name,
    # business address, business and night or emergency phone.
    assert FILE.definitions["notice"].model_extra["contents"] == [
        "tract_map", "entry_points", "sale_type", "owner_name", "owner_address", "owner_phone", "operator_name",
        "operator_address", "operator_phone", "emergency_phone",
    ]  # fmt: skip


def test_how_the_notice_is_given():
    # O.C.G.A. 12-6-24(b)(1): by person, fax, e-mail or mail until the state's website is mandatory.
    rows = [
        {"notice_kind": "harvest_start", "local_notice_ordinance": True, "method": method}
        for method in ("in_person", "fax", "email", "letter", "voice_mail")
    ]
    assert outcomes(FILE, "notice-way", rows) == [CONFORMS] * 4 + [BREACHES]


@pytest.mark.parametrize(("waters", "rise"), [("primary", 0), ("secondary", 2)])
def test_trout_waters_may_not_warm(waters, rise):
    # Ga. R. 391-3-6-.03(15)(a)(i), compilation of 2014: no rise in primary trout waters, at most 2 F in secondary ones.
    row = {"position": "below", "trout_waters": waters, "rise_uncertainty_f": 0}
    assert outcomes(FILE, f"{waters}-trout-temperature", sides("water_rise_f", rise, **row)) == [
        CONFORMS, CONFORMS, BREACHES,
    ]  # fmt: skip


@pytest.mark.parametrize(("waters", "buffer"), [("none", 25), ("designated", 50), ("secondary", 50)])
def test_three_years_without_other_work_after_the_buffer_was_disturbed(waters, buffer):
    # O.C.G.A. 12-7-6(b)(15): 25 ft, trout waters 50 ft; 12-7-17(6): 3 years on the whole property.
    row = {
        "disturbance_kind": "skid_trail", "made_by": "this_harvest", "at_crossing": False, "distance_doubt_ft": 0,
        "other_activity_on": "2026-04-01", "trout_waters": waters,
    }  # fmt: skip
    rows = sides("distance_from_bank_ft", buffer, other_activity_years=1, **row)
    assert outcomes(FILE, "no-other-activity", rows) == [BREACHES, "not applicable", "not applicable"]
    rows = sides("other_activity_years", 3, distance_from_bank_ft=buffer - 1, **row)
    assert outcomes(FILE, "no-other-activity", rows) == [BREACHES, CONFORMS, CONFORMS]


def test_a_rise_above_five_degrees_was_named_as_prosecutable():
    # Newspaper report of 1999 on the release of the manual: above 5 F.
    row = {"position": "below", "rise_uncertainty_f": 0}
    assert outcomes(FILE, "stream-temperature", sides("water_rise_f", 5, **row)) == [CONFORMS, CONFORMS, BREACHES]


def test_practices_are_voluntary_and_notices_are_law():
    standing = {r.id: r.standing for r in FILE.rules}
    notices = {"start-notice", "end-notice", "start-notice-given", "end-notice-given", "notice-contents", "notice-way"}
    notices |= {"change-notice-in-time"}
    # Harm to water can be prosecuted; the standard of trout waters is the agency's rule.
    assert {i for i, s in standing.items() if s == "statute"} == notices | {"stream-temperature", "no-other-activity"}
    assert {i for i, s in standing.items() if s == "regulation"} == {
        "primary-trout-temperature", "secondary-trout-temperature",
    }  # fmt: skip
    assert {i for i, s in standing.items() if s == "voluntary practice"} == {"trout-zone", "zone-width", "trees-left"}


def test_no_mark_is_promoted():
    # Read: the agency's page on trout streams and the code. Remembered: the width table and the residual trees.
    assert marks(FILE) == {
        "limit trout_zone_ft": "read", "limit zone_width_limit_ft": "memory", "limit basal_area_left": "memory",
        "limit canopy_left_pct": "memory", "limit start_notice_hours": "read", "limit end_notice_hours": "read",
        "rule trout-zone": "read", "rule zone-width": "memory", "rule trees-left": "memory", "rule start-notice": "read",
        "rule end-notice": "read", "rule start-notice-given": "read", "rule end-notice-given": "read",
        "rule notice-contents": "read", "rule notice-way": "read", "limit change_working_days": "read",
        "rule change-notice-in-time": "read", "limit primary_rise_f": "read", "limit secondary_rise_f": "read",
        "rule primary-trout-temperature": "read", "rule secondary-trout-temperature": "read",
        "limit law_buffer_ft": "read", "limit other_activity_years": "read", "rule no-other-activity": "read",
        # A newspaper of 1999.
        "limit rise_f": "secondary", "rule stream-temperature": "secondary",
    }  # fmt: skip
    assert rule_of(FILE, "zone-width").grade == rule_of(FILE, "trees-left").grade == "minor"


@pytest.mark.parametrize("topic", ["crossings", "trails", "fuel"])
def test_what_is_only_remembered_without_certainty_is_no_limit(topic):
    assert (FILES[topic].limits, FILES[topic].rules) == ({}, [])
    assert FILES[topic].not_found
