"""Harvest-site figures of Alabama, Mississippi, Tennessee, Arkansas and Oklahoma, typed here from what was printed.

Each row names its text beside it and is judged by the rule files.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from auditor.rules.models import RuleFile
from auditor.rules.reading import read_rules
from auditor.rules.statements import statements
from tests.rules.small import outcomes

SITE = ("streamside", "crossings", "trails", "fuel", "residual_stand")
STATES = ("US-AL", "US-MS", "US-TN", "US-AR", "US-OK")
FILES = {f.id: f for f in read_rules(list(STATES)).files if f.place in STATES and f.topic in SITE}
YES, NO, BREACH = "conformity", "departure from practice", "nonconformity"
OUT, BLANK, OPEN = "not applicable", "not evidenced", "inconclusive"
PERENNIAL: dict[str, Any] = {"stream_kind": "stream", "stream_class": "perennial"}
INTERMITTENT: dict[str, Any] = {"stream_kind": "stream", "stream_class": "intermittent"}
EPHEMERAL: dict[str, Any] = {"stream_kind": "stream", "stream_class": "ephemeral"}
DEBRIS: dict[str, Any] = {"disturbance_kind": "debris", "in_channel": True, "made_by": "this_harvest"}


def alone(name: str) -> RuleFile:
    """The file of a rule named us-xx/topic/rule, with that rule alone."""
    file_id, _, rule = name.rpartition("/")
    file = FILES[file_id]
    (one,) = [r for r in file.rules if r.id == rule]
    return file.model_copy(update={"rules": [one]})


def verdict(name: str, **row: Any) -> str:
    """What becomes of one row under one rule."""
    (found,) = outcomes(alone(name), row)
    return found


@pytest.mark.parametrize(
    ("water", "width", "expected"),
    [
        # Alabama, state wildlife agency's page and university slides on the manual: 35 ft on each side of rivers, creeks,
        # ponds and intermittent streams.
        (PERENNIAL, 35, YES), (PERENNIAL, 34.9, NO), (INTERMITTENT, 34.9, NO), ({"stream_kind": "river"}, 34.9, NO),
        ({"stream_kind": "lake_or_pond"}, 35, YES), (EPHEMERAL, 0, OUT),
    ],
)  # fmt: skip
def test_alabama_zone_width(water: dict[str, Any], width: float, expected: str) -> None:
    assert verdict("us-al/streamside/zone-width", zone_width_ft=width, width_doubt_ft=0, **water) == expected


@pytest.mark.parametrize(
    ("rule", "row", "expected"),
    [
        # University slides: 50 ft where wildlife is a goal, perennial streams.
        ("wildlife-width", {"wildlife_goal": True, "zone_width_ft": 50, "width_doubt_ft": 0}, YES),
        ("wildlife-width", {"wildlife_goal": True, "zone_width_ft": 49.9, "width_doubt_ft": 0}, NO),
        ("wildlife-width", {"zone_width_ft": 35, "width_doubt_ft": 0}, OUT),
        # University slides: half of the crown cover within 35 ft of the bank.
        ("zone-canopy", {"strip_from_ft": 0, "canopy_pct": 50, "canopy_uncertainty_pct": 0}, YES),
        ("zone-canopy", {"strip_from_ft": 0, "canopy_pct": 49.9, "canopy_uncertainty_pct": 0}, NO),
        ("zone-canopy", {"strip_from_ft": 35, "canopy_pct": 0, "canopy_uncertainty_pct": 0}, OUT),
        # University slides: no ground disturbance closer than 35 ft.
        ("disturbed-ground", {"disturbance_kind": "rut", "distance_from_bank_ft": 35, "distance_doubt_ft": 0, "at_crossing": False}, YES),
        ("disturbed-ground", {"disturbance_kind": "rut", "distance_from_bank_ft": 34.9, "distance_doubt_ft": 0, "at_crossing": False}, NO),
    ],
)  # fmt: skip
def test_alabama_perennial_streams(rule: str, row: dict[str, Any], expected: str) -> None:
    assert verdict(f"us-al/streamside/{rule}", **PERENNIAL, **row) == expected


@pytest.mark.parametrize(("diameter_in", "cover"), [(12, 1), (24, 1), (36, 36 / 12 / 2), (48, 48 / 12 / 2)])
def test_alabama_soil_over_a_culvert(diameter_in: float, cover: float) -> None:
    # State extension page, note to its first figure: 1 ft, or half the diameter, whichever is larger.
    found = [
        verdict("us-al/crossings/pipe-cover", half_diameter_ft=diameter_in / 24, cover_ft=c)
        for c in (cover - 0.05, cover, cover + 0.05)
    ]
    assert found == [NO, YES, YES]


@pytest.mark.parametrize(
    ("rule", "row", "expected"),
    [
        # State forestry programme's page: over 6 in, left in a running stream, materially impeding the flow.
        ("logs-in-stream", DEBRIS | {"thickest_piece_in": 6, "impedes_flow": True}, OUT),
        ("logs-in-stream", DEBRIS | {"thickest_piece_in": 6.1, "impedes_flow": True}, BREACH),
        ("logs-in-stream", DEBRIS | {"thickest_piece_in": 12, "impedes_flow": False}, OUT),
        ("logs-in-stream", DEBRIS | {"thickest_piece_in": 12, "impedes_flow": True, "removed_on": date(2026, 5, 4)}, YES),
        # Miss. Code 97-15-39: streams not less than 150 ft wide.
        ("wide-stream", DEBRIS | {"stream_width_ft": 149.9}, OUT),
        ("wide-stream", DEBRIS | {"stream_width_ft": 150}, BREACH),
        # Miss. Code 51-1-4: mean annual flow of at least 100 cubic feet per second; normal fording stays free.
        ("public-waterway-bed", {"disturbance_kind": "machine_tracks", "in_channel": True, "at_crossing": False, "designations": [], "designations_checked": True, "mean_flow_cfs": 100}, BREACH),
        ("public-waterway-bed", {"disturbance_kind": "machine_tracks", "in_channel": True, "at_crossing": False, "designations": [], "designations_checked": True, "mean_flow_cfs": 99.9}, OUT),
        ("public-waterway-bed", {"disturbance_kind": "machine_tracks", "in_channel": True, "at_crossing": True, "mean_flow_cfs": 500}, OUT),
    ],
)  # fmt: skip
def test_mississippi_streams(rule: str, row: dict[str, Any], expected: str) -> None:
    assert verdict(f"us-ms/streamside/{rule}", **row) == expected


@pytest.mark.parametrize(("grade", "expected"), [(9.9, OUT), (10, OUT), (10.1, NO)])
def test_mississippi_roads_straight_up_the_slope(grade: float, expected: str) -> None:
    # State extension page: to be avoided on grades of more than 10 percent.
    row = {"segment_kind": "haul_road", "mean_grade_pct": grade, "straight_up_slope": True}
    assert verdict("us-ms/trails/straight-up-slope", **row) == expected


@pytest.mark.parametrize(
    ("days", "day", "expected"),
    [
        # Tenn. Comp. R. & Regs. 0400-40-12-.03, effective 17 December 2013: at least 10 days before starting.
        (10, date(2026, 5, 4), YES), (9, date(2026, 5, 4), BREACH), (9, date(2013, 12, 17), BREACH),
    ],
)  # fmt: skip
def test_tennessee_notice_after_a_violation(days: int, day: date, expected: str) -> None:
    row = {"notice_kind": "after_past_violation", "method": "letter", "notice_missing_count": 0}
    row["given_to"] = "state_environmental_agency"
    assert verdict("us-tn/streamside/past-violation-notice", on=day, days_before_start=days, **row) == expected


@pytest.mark.parametrize(
    ("years", "told", "expected"),
    [
        # The same rule: to both commissioners, where a violation was found within two years before the start.
        (2, ["state_agriculture_agency", "state_environmental_agency"], YES),
        (2, ["state_agriculture_agency"], BREACH), (0, ["state_environmental_agency"], BREACH), (2.01, [], OUT),
    ],
)  # fmt: skip
def test_tennessee_notice_to_both_commissioners(years: float, told: list[str], expected: str) -> None:
    row = {"notice_kind": "after_past_violation", "violation_found_on": "2025-01-06", "told_whole": True}
    rule = "us-tn/streamside/past-violation-told"
    assert verdict(rule, violation_to_start_years=years, told=told, **row) == expected


def test_tennessee_notice_is_not_asked_for_before_its_rule() -> None:
    # The rule is effective 17 December 2013.
    file = alone("us-tn/streamside/past-violation-notice")
    assert (
        outcomes(file, {"on": date(2013, 12, 16), "notice_kind": "after_past_violation", "days_before_start": 9}) == []
    )


def test_tennessee_notice_states_eight_things() -> None:
    # 0400-40-12-.03: names and addresses of owner and operator; location, acreage; start and duration.
    (stated,) = (FILES["us-tn/streamside"].definitions["notice"].model_extra or {}).values()
    assert set(stated) == {
        "owner_name", "owner_address", "operator_name", "operator_address", "location", "acreage", "start_date", "duration",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "row", "expected"),
    [
        # Tenn. Comp. R. & Regs. 0080-07-03-.02(1)(a)4: straightest reach, flow, aquatic life; approaches that climb, gravel,
        # drained; fords with low banks and solid bottom, poles out; culverts stabilised, temporary ones out, kept open.
        ("place", {"straight_reach": True, "flow_free": True, "aquatic_life_passes": True}, YES),
        ("place", {"straight_reach": True, "flow_free": False, "aquatic_life_passes": True}, NO),
        ("approach-grade", {"grade_pct": 0.1, "surface": "gravel_or_stone"}, YES),
        ("approach-grade", {"grade_pct": 0, "surface": "gravel_or_stone"}, NO),
        ("approach-grade", {"grade_pct": 5, "surface": "native_soil"}, NO),
        ("approach-drainage", {"drained_before_water": False}, NO),
        ("ford", {"crossing_type": "ford", "banks_low_stable": True, "firm_bottom": False}, NO),
        ("poles-removed", {"crossing_type": "pole_ford", "fill_removed": False}, NO),
        ("temporary-culvert", {"crossing_type": "culvert", "temporary": True, "fill_removed": False}, NO),
        ("culvert-fill", {"crossing_type": "culvert", "fill_stabilised": False}, NO),
        ("culvert-open", {"pipe_open": False}, NO),
    ],
)  # fmt: skip
def test_tennessee_crossings(rule: str, row: dict[str, Any], expected: str) -> None:
    assert verdict(f"us-tn/crossings/{rule}", **row) == expected


def test_tennessee_practices_are_not_compulsory() -> None:
    # 0080-07-03-.01: no law makes the practices compulsory. 0400-40-12-.03 binds.
    for file in FILES.values():
        if file.place == "US-TN":
            for rule in file.rules:
                assert rule.standing == ("regulation" if rule.source == "rule-0400-40-12-03" else "voluntary practice")


def test_oklahoma_outstanding_waters() -> None:
    # OAC 252:740-13-6(c): practices should be used in watersheds of outstanding resource waters.
    row: dict[str, Any] = {"question": "practice_applied", "answer": "no"}
    rule = "us-ok/streamside/outstanding-waters"
    assert verdict(rule, special_areas=["outstanding_resource_watershed"], **row) == NO
    assert verdict(rule, special_areas=[], special_areas_checked=True, **row) == OUT


def test_oklahoma_conservation_plan() -> None:
    # OAC 252:740-13-6(c): plans are required where runoff is found to cause or add significantly to degradation.
    row: dict[str, Any] = {"special_areas": ["outstanding_resource_watershed"], "runoff_degrades": True}
    rule = "us-ok/streamside/conservation-plan"
    assert verdict(rule, **row, **{"holds:conservation_plan": False}) == BREACH
    assert verdict(rule, **row, **{"holds:conservation_plan": True}) == OUT
    assert verdict(rule, **{**row, "runoff_degrades": False, "holds:conservation_plan": False}) == YES


MARKS_SEEN = {
    # Restatements of Alabama's and Mississippi's manuals and statutes are second-hand; the named texts were read.
    "us-al/wildlife-page": "secondary", "us-al/teaching-slides": "secondary", "us-al/commission-page": "secondary",
    "us-al/extension-page": "secondary", "us-ms/code-97-15": "secondary", "us-ms/code-97-15-39": "read",
    "us-ms/news-51-1-4": "secondary", "us-ms/bill-51-1-4": "read", "us-ms/landowner-page": "secondary",
    "us-ms/extension-page": "read", "us-tn/rule-0080-07-03": "read", "us-tn/rule-0400-40-12-03": "read",
    "us-ok/oac-252-740-13-6": "read",
    # Rates of implementation: the states' reports were read, the latest of Arkansas stands in a magazine.
    "us-ar/implementation-report": "read", "us-ar/agriculture-magazine": "secondary", "us-ms/implementation-survey": "read",
}  # fmt: skip


def test_no_mark_is_promoted() -> None:
    found = {(f"{file.place.lower()}/{s.source}", s.verified) for file in FILES.values() for s in statements(file)}
    assert found == set(MARKS_SEEN.items())


def test_what_is_known_from_memory_alone_is_no_limit() -> None:
    # From memory: widths of Mississippi, Tennessee, Arkansas and Oklahoma, and what is left standing in them.
    assert {f"{file.id}/{name}" for file in FILES.values() for name in file.limits} == {
        "us-al/streamside/zone_width_ft", "us-al/streamside/wildlife_width_ft", "us-al/streamside/canopy_pct",
        "us-al/crossings/pipe_cover_ft", "us-ms/streamside/piece_in", "us-ms/streamside/wide_stream_ft",
        "us-ms/streamside/public_waterway_cfs", "us-ms/trails/straight_grade_pct", "us-tn/streamside/notice_days",
            "us-tn/streamside/violation_years",
    }  # fmt: skip
    for place in ("us-ms", "us-tn", "us-ar", "us-ok"):
        assert any(
            "width" in entry.what and "memory" in str(entry.note) for entry in FILES[f"{place}/streamside"].not_found
        )
    assert not FILES["us-ar/streamside"].rules
