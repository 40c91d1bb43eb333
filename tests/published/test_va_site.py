"""Virginia's harvest-site figures against the code and the pages named beside them, typed here again."""

from __future__ import annotations

from tests.published.site_rows import files_of, marks, outcomes, rule_of, sides

FILES = files_of("US-VA", "streamside", "crossings", "trails", "fuel", "residual_stand")
FILE, STAND = FILES["streamside"], FILES["residual_stand"]
CONFORMS, DEPARTS, BREACHES, OUT = "conformity", "departure from practice", "nonconformity", "not applicable"
FLOOR = [BREACHES, CONFORMS, CONFORMS]
PLAIN = {"stream_class": "perennial", "special_areas": [], "special_areas_checked": True}
PLAIN |= {"designations": [], "designations_checked": True}
BAY = {"stream_class": "perennial", "special_areas": ["bay_preservation_area"]}
NOTICE = {"notice_kind": "harvest_start", "given_to": "state_forestry_agency"}
# Code of Va. 10.1-1163 to -1165: 10 acres, 25 percent, 8 trees, 400 seedlings.
CUT = {"area_acres": 40, "seed_tree_pine_pct": 60, "seedlings_per_ac": 0, "land_use_after": "forest", "holds:management_plan": False}  # fmt: skip


def test_zone_of_50_ft():
    # State forestry association, fall 2024: at least 50 ft, perennial and intermittent.
    for stream in ("perennial", "intermittent"):
        rows = sides("zone_width_ft", 50, **{**PLAIN, "stream_class": stream, "width_doubt_ft": 0})
        assert outcomes(FILE, "zone-width", rows) == [DEPARTS, CONFORMS, CONFORMS]
        assert outcomes(FILE, "zone-width-bay", rows) == [OUT] * 3


def test_the_practice_binds_in_a_bay_preservation_area():
    # Department of Conservation and Recreation, 2009.
    rows = sides("zone_width_ft", 50, **BAY, width_doubt_ft=0)
    assert outcomes(FILE, "zone-width-bay", rows) == FLOOR
    assert outcomes(FILE, "zone-width", rows) == [OUT] * 3


def test_half_is_left():
    # Field note of July 2018: 50 percent; of basal area or crown cover, recalled.
    rows = [{**PLAIN, "basal_area_kept_pct": ba, "canopy_kept_pct": c} for ba, c in ((50, 20), (20, 50), (49.5, 49.5))]
    assert outcomes(FILE, "zone-cover", rows) == [CONFORMS, CONFORMS, DEPARTS]
    bay = [{**BAY, "basal_area_kept_pct": 49.5, "canopy_kept_pct": 49.5}]
    assert outcomes(FILE, "zone-cover-bay", bay) == [BREACHES]


def test_notice_by_the_third_working_day_and_before_the_end():
    # Code of Va. 10.1-1181.2(H): prior to completion, not later than three working days after the commencement.
    rows = [{**NOTICE, "days_after_start": n, "working_days_after_start": n, "hours_after_end": -9} for n in (2, 3, 4)]
    assert outcomes(FILE, "notice-in-time", rows) == [CONFORMS, CONFORMS, BREACHES]
    late = {**NOTICE, "days_after_start": 1, "working_days_after_start": 1}
    rows = [{**late, "hours_after_end": h} for h in (-1, 0, 1)]
    assert outcomes(FILE, "notice-in-time", rows) == [CONFORMS, BREACHES, BREACHES]


def test_what_the_notice_states():
    # 10.1-1181.2(H): place, actual or anticipated date, name and contact of the owner or agent.
    held = FILE.definitions["notice"].model_extra["contents"]
    assert held == ["location", "start_date", "owner_name", ["owner_phone", "owner_address"]]
    rows = [{**NOTICE, "notice_missing_count": n} for n in (0, 1)]
    assert outcomes(FILE, "notice-contents", rows) == [CONFORMS, BREACHES]


def test_an_absent_notice_is_proven_by_a_whole_list_only():
    rows = [{"notice_kind": "harvest_start", "notice_count": n} for n in (1, 0, [0, None])]
    assert outcomes(FILE, "notice-given", rows) == [CONFORMS, BREACHES, "not evidenced"]


def test_sediment_is_judged_by_the_result():
    # 10.1-1181.1, -1181.2: pollution of state waters by sediment; no practice and no width are named.
    rows = [{"question": "water_free_of_sediment", "answer": a} for a in ("yes", "no")]
    assert outcomes(FILE, "water-free-of-sediment", rows) == [CONFORMS, BREACHES]
    held = rule_of(FILE, "water-free-of-sediment")
    assert (held.standing, held.evidence) == ("statute", "observation")


def test_eight_seed_trees_an_acre():
    assert outcomes(STAND, "seed-trees", sides("seed_trees_per_ac", 8, **CUT)) == FLOOR


def test_seed_trees_stay_three_years():
    # 10.1-1164, -1165: left for at least 3 years.
    cut = {**CUT, "seed_trees_cut_on": "2026-04-01"}
    assert outcomes(STAND, "seed-trees-stay", sides("seed_trees_left_years", 3, 0.1, **cut)) == FLOOR
    assert outcomes(STAND, "seed-trees-stay", [{**CUT, "seed_trees_left_years": None}]) == [OUT]


def test_the_account_number_on_a_notice():
    # Page of the state forest service: an account number is needed since 1 July 2009; the code asks for none.
    rows = [{**NOTICE, "contents": c} for c in (["location", "account_number"], ["location"])]
    assert outcomes(FILE, "notice-account", rows) == [CONFORMS, DEPARTS]
    assert str(rule_of(FILE, "notice-account").from_) == "2009-07-01"


def test_where_seed_trees_are_owed():
    none = {**CUT, "seed_trees_per_ac": 0}
    by_area = sides("area_acres", 10, **{k: v for k, v in none.items() if k != "area_acres"})
    by_share = sides("seed_tree_pine_pct", 25, **{k: v for k, v in none.items() if k != "seed_tree_pine_pct"})
    assert outcomes(STAND, "seed-trees", [*by_area, *by_share]) == [OUT, BREACHES, BREACHES] * 2
    by_seedlings = sides("seedlings_per_ac", 400, 1, **{k: v for k, v in none.items() if k != "seedlings_per_ac"})
    assert outcomes(STAND, "seed-trees", by_seedlings) == [BREACHES, OUT, OUT]
    others = [{**none, "land_use_after": use} for use in ("farm", "development", "forest")]
    assert outcomes(STAND, "seed-trees", others) == [OUT, OUT, BREACHES]
    assert outcomes(STAND, "seed-trees", [{**none, "holds:management_plan": True}]) == [OUT]


def test_no_mark_is_promoted():
    every = {name: mark for f in ("streamside", "residual_stand") for name, mark in marks(FILES[f]).items()}
    assert {n for n, m in every.items() if m == "memory"} == {"rule zone-cover", "rule zone-cover-bay"}
    assert {n for n, m in every.items() if m == "secondary"} == {
        "limit zone_width_ft", "rule zone-width", "rule zone-width-bay",
    }  # fmt: skip


def test_what_is_known_from_memory_alone_is_no_limit():
    # Spacing tables, skid-trail grade, 25 gal: memory without a stated confidence.
    for topic in ("trails", "crossings", "fuel"):
        assert FILES[topic].rules == []
        assert FILES[topic].limits == {}
        assert FILES[topic].not_found


def test_no_figure_of_the_files_is_left_out():
    assert {n for f in FILES.values() for n in f.limits} == {
        "zone_width_ft", "kept_pct", "notice_working_days", "cutting_acres", "pine_share_pct", "seed_trees_per_ac",
        "seedlings_per_ac", "seed_tree_years",
    }  # fmt: skip
