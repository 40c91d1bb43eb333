"""Louisiana's harvest-site figures: rows typed here from the printed statements and judged by the rule files.

Printed statements: La. R.S. 56:1853 to 56:1854 (extract and the wildlife agency's page of prohibitions), a slide
presentation on scenic rivers, and web chapters of 2009 of the state's manual of forestry practices.
"""

from __future__ import annotations

from typing import Any

import pytest

from auditor.rules.models import RuleFile
from auditor.rules.reading import read_rules
from auditor.rules.statements import statements
from tests.rules.small import outcomes

SITE = ("streamside", "crossings", "trails", "fuel")
FILES = {f.topic: f for f in read_rules(["US-LA"]).files if f.place == "US-LA" and f.topic in SITE}
YES, NO, BREACH = "conformity", "departure from practice", "nonconformity"
OUT, BLANK, OPEN = "not applicable", "not evidenced", "inconclusive"
SCENIC: dict[str, Any] = {"designations": ["scenic_river"]}
OTHER: dict[str, Any] = {"designations": [], "designations_checked": True}
NO_PERMIT = {"holds:scenic_river_permit:US-LA": False}
PERMIT = {"holds:scenic_river_permit:US-LA": True}


def alone(name: str) -> RuleFile:
    """The file of a rule named topic/rule, with that rule alone."""
    topic, _, rule = name.partition("/")
    file = FILES[topic]
    (one,) = [r for r in file.rules if r.id == rule]
    return file.model_copy(update={"rules": [one]})


def verdict(name: str, **row: Any) -> str:
    """What becomes of one row under one rule."""
    (found,) = outcomes(alone(name), row)
    return found


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        # 56:1854: no cutting within 100 ft of the ordinary low-water mark, with exceptions.
        ({"uncut_width_ft": 100, "zone_harvest": "clearcut"}, YES),
        ({"uncut_width_ft": 99.9, "zone_harvest": "clearcut"}, BREACH),
        ({"uncut_width_ft": 0, "zone_harvest": "seed_tree"}, BREACH),
        # Exceptions: control of disease or insects (extract); selective harvest and own use (slides).
        ({"uncut_width_ft": 10, "zone_harvest": "salvage"}, OUT),
        ({"uncut_width_ft": 10, "zone_harvest": "single_tree_selection"}, OUT),
        ({"uncut_width_ft": 10, "zone_harvest": "personal_use"}, OUT),
        ({"uncut_width_ft": 10}, BLANK),
    ],
)
def test_cutting_beside_a_scenic_river(row: dict[str, Any], expected: str) -> None:
    assert verdict("streamside/scenic-river-uncut", width_doubt_ft=0, **SCENIC, **row) == expected
    assert verdict("streamside/scenic-river-uncut", width_doubt_ft=0, **OTHER, **row) in (OUT, YES)


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        # Slides: the office of forestry must be told of selective harvest within 100 ft of the low-water mark, of cutting
        # for insects or disease, and of cutting for the owner's own use.
        ({"uncut_width_ft": 99.9, "zone_harvest": "thinning", "notices_given": ["scenic_river_harvest"]}, YES),
        ({"uncut_width_ft": 99.9, "zone_harvest": "thinning", "notices_given": []}, BREACH),
        ({"uncut_width_ft": 99.9, "zone_harvest": "salvage", "notices_given": []}, BREACH),
        ({"uncut_width_ft": 99.9, "zone_harvest": "personal_use", "notices_given": []}, BREACH),
        ({"uncut_width_ft": 100, "zone_harvest": "thinning", "notices_given": []}, OUT),
        ({"uncut_width_ft": 10, "zone_harvest": "clearcut", "notices_given": []}, OUT),
    ],
)
def test_a_notice_is_owed_for_cutting_beside_a_scenic_river(row: dict[str, Any], expected: str) -> None:
    rule = "streamside/scenic-river-notice-owed"
    assert verdict(rule, width_doubt_ft=0, notices_whole=True, **SCENIC, **row) == expected
    assert verdict(rule, width_doubt_ft=0, notices_whole=True, **OTHER, **row) == OUT


def test_scenic_rivers_are_measured_from_the_low_water_mark() -> None:
    # 56:1854: ordinary low-water mark, which lies nearer the middle of the stream than the bank.
    assert (FILES["streamside"].definitions["zone_width"].model_extra or {})["start"] == "low_water_mark"


@pytest.mark.parametrize(("distance", "reason", "expected"), [
    (100, "harvest", YES), (99.9, "harvest", BREACH), (50, "dead_or_infested", OUT), (50, "personal_use", OUT),
])  # fmt: skip
def test_stumps_beside_a_scenic_river(distance: float, reason: str, expected: str) -> None:
    row = {"distance_from_bank_ft": distance, "distance_doubt_ft": 0, "cut_reason": reason, "zone_harvest": "clearcut"}
    assert verdict("streamside/scenic-river-stumps", **SCENIC, **row) == expected


@pytest.mark.parametrize(
    ("rule", "row", "expected"),
    [
        # 56:1853-1854, agency page: no commercial clearcut; no vehicles in the stream but by permit.
        ("scenic-river-clearcut", SCENIC | {"zone_harvest": "clearcut"}, BREACH),
        ("scenic-river-clearcut", OTHER | {"zone_harvest": "clearcut"}, OUT),
        ("scenic-river-vehicles", SCENIC | NO_PERMIT | {"disturbance_kind": "machine_tracks", "in_channel": True}, BREACH),
        ("scenic-river-vehicles", SCENIC | PERMIT | {"disturbance_kind": "machine_tracks", "in_channel": True}, OUT),
        # Slides: tops in the river; the office of forestry is told.
        ("scenic-river-tops", SCENIC | {"disturbance_kind": "debris", "made_by": "this_harvest", "in_channel": True}, BREACH),
        ("scenic-river-notice", {"notice_kind": "scenic_river_harvest", "given_to": "wildlife_agency"}, BREACH),
        ("scenic-river-notice", {"notice_kind": "dead_or_infested_trees", "given_to": "state_forestry_agency"}, YES),
        # Chapter on felling and skidding: tops out of the water, but not natural debris; no skidding in a dry channel.
        ("debris-in-water", {"disturbance_kind": "debris", "in_channel": True, "made_by": "this_harvest"}, NO),
        ("debris-in-water", {"disturbance_kind": "debris", "in_channel": True, "made_by": "nature"}, OUT),
        ("no-skidding-in-channel", {"disturbance_kind": "skid_trail", "in_channel": True, "at_crossing": False}, NO),
        # Chapter on zones: shade along ALL perennial streams.
        ("shade", {"question": "shade_kept", "answer": "no", "stream_class": "perennial"}, NO),
        ("shade", {"question": "shade_kept", "answer": "no", "stream_class": "intermittent"}, OUT),
    ],
)  # fmt: skip
def test_streamside(rule: str, row: dict[str, Any], expected: str) -> None:
    assert verdict(f"streamside/{rule}", **row) == expected


@pytest.mark.parametrize(
    ("rule", "row", "expected"),
    [
        # Slides: bridges over scenic rivers need the wildlife agency's permit.
        ("scenic-river-permit", SCENIC | NO_PERMIT | {"crossing_type": "bridge"}, BREACH),
        ("scenic-river-permit", SCENIC | PERMIT | {"crossing_type": "bridge"}, OUT),
        # Chapter on felling and skidding: no skidding through perennial streams; right angle, straight reach; fills out.
        ("perennial-crossing", {"stream_class": "perennial", "crossing_type": "open_channel"}, NO),
        ("angle", {"crossing_angle_deg": 90, "straight_reach": True}, YES),
        ("angle", {"crossing_angle_deg": 89, "straight_reach": True}, NO),
        ("temporary-removed", {"temporary": True, "fill_removed": True, "channel_restored": False}, NO),
    ],
)  # fmt: skip
def test_crossings(rule: str, row: dict[str, Any], expected: str) -> None:
    assert verdict(f"crossings/{rule}", **row) == expected


@pytest.mark.parametrize(("slope", "expected"), [(4.9, YES), (5, NO), (5.1, NO)])
def test_slope_of_a_log_set(slope: float, expected: str) -> None:
    # Chapter on landings, log decks and sets: slight slope, less than 5 percent.
    assert verdict("trails/deck-slope", deck_slope_pct=slope) == expected


@pytest.mark.parametrize(
    ("rule", "row", "expected"),
    [
        # The same chapter: not in zones, not reached through sensitive ground, firm and drained, reshaped and seeded.
        ("deck-outside-zone", {"distance_from_zone_ft": 0}, NO), ("deck-outside-zone", {"distance_from_zone_ft": 1}, YES),
        ("deck-skidding", {"skidded_through_sensitive": True}, NO), ("deck-ground", {"well_drained": False}, NO),
        ("deck-reshaped", {"reshaped": False}, NO), ("deck-cover", {"cover": "none"}, NO),
        ("skid-trails", {"question": "trails_across_slope", "answer": "no"}, NO),
    ],
)  # fmt: skip
def test_log_sets_and_trails(rule: str, row: dict[str, Any], expected: str) -> None:
    assert verdict(f"trails/{rule}", **row) == expected


MARKS_SEEN = {
    # Extract, agency page and chapters were read; the slides restate the programme.
    "scenic-act-extract": "read", "wildlife-page": "read", "zone-chapter": "read", "felling-chapter": "read",
    "deck-chapter": "read", "scenic-slides": "secondary",
}  # fmt: skip


@pytest.mark.parametrize("topic", ["streamside", "crossings", "trails"])
def test_no_mark_is_promoted(topic: str) -> None:
    found = list(statements(FILES[topic]))
    assert found
    assert {(s.source, s.verified) for s in found} <= set(MARKS_SEEN.items())


def test_only_the_scenic_rivers_bind() -> None:
    for file in FILES.values():
        for rule in file.rules:
            assert (rule.standing == "statute") == rule.id.startswith("scenic-river")


def test_what_is_known_from_memory_alone_is_no_limit() -> None:
    # From memory: 35 ft, 50 ft and 100 ft along streams that are not scenic rivers; 42 gal of oil.
    assert {f"{t}/{n}" for t, f in FILES.items() for n in f.limits} == {
        "streamside/scenic_zone_ft", "crossings/square_deg", "trails/deck_slope_pct",
    }  # fmt: skip
    assert not FILES["fuel"].rules
    told = " ".join(f"{entry.what} {entry.note}" for file in FILES.values() for entry in file.not_found)
    for figure in ("35 ft", "50 ft", "100 ft", "42 gal"):
        assert figure in told
