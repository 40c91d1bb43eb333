"""Florida's harvest-site figures against the manual pages and the county code named beside them, typed here again."""

from __future__ import annotations

import pytest

from tests.published.site_rows import files_of, marks, outcomes, sides

FILES = files_of("US-FL", "streamside", "crossings", "trails", "fuel", "residual_stand")
CONFORMS, DEPARTS, BREACHES, OPEN = "conformity", "departure from practice", "nonconformity", "inconclusive"
OUT = "not applicable"
FLOOR = [DEPARTS, CONFORMS, CONFORMS]
CEILING = [CONFORMS, CONFORMS, DEPARTS]
WETLAND = {"wetland": True, "treatment": "clearcut"}


def test_range_of_the_primary_zone():
    # Manual of 2008, remembered with high confidence: 35 to 200 ft, 35 the smallest.
    row = {"stream_class": "perennial", "designations": [], "designations_checked": True, "width_doubt_ft": 0}
    rows = [{**row, "zone_width_ft": w} for w in (34, 35, 199, 200)]
    assert outcomes(FILES["streamside"], "primary-zone", rows) == [DEPARTS, OPEN, OPEN, CONFORMS]


@pytest.mark.parametrize("designation", ["outstanding_water", "outstanding_national_resource_water", "class_1_water"])
def test_primary_zone_of_outstanding_and_class_one_waters(designation):
    # The same: 200 ft for outstanding Florida waters, outstanding national resource waters, Class I waters.
    row = {"stream_class": "perennial", "designations": [designation], "width_doubt_ft": 0}
    assert outcomes(FILES["streamside"], "primary-zone", sides("zone_width_ft", 200, **row)) == FLOOR


def test_public_land_leaves_the_primary_zone_uncut():
    # Manual, public-lands page (p. 16): no cut except for ecological restoration or wildlife habitat.
    row = {"stream_class": "perennial", "wildlife_goal": False}
    rows = [
        {**row, "land_owner_class": "state", "zone_harvest": "none"},
        {**row, "land_owner_class": "federal", "zone_harvest": "single_tree_selection"},
        {**row, "land_owner_class": "local_public", "zone_harvest": "thinning", "wildlife_goal": True},
        {**row, "land_owner_class": "corporate", "zone_harvest": "clearcut"},
    ]
    assert outcomes(FILES["streamside"], "public-zone-uncut", rows) == [CONFORMS, DEPARTS, OUT, OUT]


def test_levy_county_keeps_sixty_six_feet_along_estuary_rivers():
    # Levy County code 50-187: 66 ft; single-tree or group selection only; roads only at bridge or culvert crossings; no
    # mechanical site preparation.
    file, place = FILES["streamside"], {"county": "Levy", "stream_kind": "tidal_water"}
    widths = sides("zone_width_ft", 66, width_doubt_ft=0, **place)
    assert outcomes(file, "levy-zone", widths) == [BREACHES, CONFORMS, CONFORMS]
    cuts = [{**place, "zone_harvest": h} for h in ("single_tree_selection", "group_selection", "seed_tree", "clearcut")]
    assert outcomes(file, "levy-cutting", cuts) == [CONFORMS, CONFORMS, BREACHES, BREACHES]
    ground = [
        {
            **place,
            "disturbance_kind": kind,
            "at_crossing": crossing,
            "distance_from_bank_ft": 65,
            "distance_doubt_ft": 0,
        }
        for kind, crossing in (("road", True), ("road", False), ("site_preparation", False), ("site_preparation", True))
    ]
    assert outcomes(file, "levy-ground", ground) == [OUT, BREACHES, BREACHES, BREACHES]
    elsewhere = {**place, "county": "Citrus", "zone_width_ft": 10, "width_doubt_ft": 0}
    assert outcomes(file, "levy-zone", [elsewhere]) == [OUT]


def test_pipes():
    # Manual p. 81: single pipe at most 90 in; above that several, spaced half a pipe diameter apart.
    culvert = {"crossing_type": "culvert", "pipe_count": 2}
    assert outcomes(FILES["crossings"], "largest-pipe", sides("diameter_in", 90, **culvert)) == CEILING
    assert outcomes(FILES["crossings"], "pipe-gap", sides("pipe_gap_share", 0.5, 0.01, **culvert)) == FLOOR


def test_wetland_clearcuts():
    # Manual, wetlands page (p. 19): at most 160 acres; 200 ft between them, 100 ft inside one 160-acre unit.
    file = FILES["residual_stand"]
    assert outcomes(file, "clearcut-area", sides("area_acres", 160, **WETLAND)) == CEILING
    apart = [{**WETLAND, "separation_ft": ft} for ft in (99, 100, 199, 200)]
    assert outcomes(file, "clearcut-separation", apart) == [DEPARTS, OPEN, OPEN, CONFORMS]


def test_small_isolated_wetlands():
    # The same page: 20 % of the number stay uncut, in a unit with five or more wetlands each under 2 acres.
    file, unit = FILES["residual_stand"], {"wetland_count": 5, "largest_wetland_acres": 1.9}
    assert outcomes(file, "wetlands-uncut", sides("uncut_wetland_pct", 20, **unit)) == FLOOR
    rows = [{**unit, "uncut_wetland_pct": 0, **one} for one in ({"wetland_count": 4}, {"largest_wetland_acres": 2})]
    assert outcomes(file, "wetlands-uncut", rows) == [OUT, OUT]


def test_standing():
    # The manual is adopted by rule and voluntary for the presumption; the county code binds.
    held = {r.id: r.standing for f in FILES.values() for r in f.rules}
    assert {i for i, s in held.items() if s == "regulation"} == {"levy-zone", "levy-cutting", "levy-ground"}
    assert {s for i, s in held.items() if not i.startswith("levy")} == {"voluntary practice"}


def test_no_mark_is_promoted():
    # Pages 16, 19 and 81 of the manual and the county code were read; the range of the primary zone is remembered.
    assert marks(FILES["streamside"]) == {
        "limit primary_zone_ft": "memory", "limit levy_zone_ft": "read", "limit levy_county": "read",
        "rule primary-zone": "memory", "rule public-zone-uncut": "read", "rule levy-zone": "read",
        "rule levy-cutting": "read", "rule levy-ground": "read", "rule notice-of-intent": "read",
    }  # fmt: skip
    for topic in ("crossings", "trails", "residual_stand"):
        assert set(marks(FILES[topic]).values()) == {"read"}
    assert set(FILES["crossings"].limits) == {"largest_pipe_in", "pipe_gap_least"}
    assert set(FILES["residual_stand"].limits) == {
        "largest_clearcut_acres", "separation_least_ft", "uncut_share_pct", "wetland_number", "small_wetland_acres",
    }  # fmt: skip
    assert FILES["fuel"].rules == []


def test_weak_memories_are_no_limits():
    # 35 / 50 / 75 ft by width of stream, 0 to 300 ft for the secondary zone.
    assert {n.what for n in FILES["streamside"].not_found} >= {
        "width of the primary zone by width of stream",
        "width of the secondary zone by class of site sensitivity",
    }
