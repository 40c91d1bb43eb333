"""West Virginia's harvest-site figures against the code, rule and pages named beside them, typed here again."""

from __future__ import annotations

import pytest

from tests.published.site_rows import files_of, marks, outcomes, rule_of, sides

FILES = files_of("US-WV", "streamside", "crossings", "trails", "fuel")
FILE = FILES["streamside"]
CONFORMS, BREACHES, OUT, UNSHOWN = "conformity", "nonconformity", "not applicable", "not evidenced"
NOTICE = {"notice_kind": "harvest_start", "given_to": "state_forestry_agency"}
CLEARED = {"harvest_type": "land_clearing", "land_use_after": "development"}


@pytest.mark.parametrize(("stream", "figure"), [("perennial", 100), ("intermittent", 100), ("ephemeral", 25)])
def test_zone_widths(stream, figure):
    # Practices of 2009 and 2014, recalled with high confidence: 100 ft; ephemeral 25 ft; each side.
    rows = sides("zone_width_ft", figure, stream_class=stream, width_doubt_ft=0)
    assert outcomes(FILE, "zone-width", rows) == [BREACHES, CONFORMS, CONFORMS]


def test_a_blank_class_speaks_where_all_rows_agree():
    rows = [{"zone_width_ft": w, "width_doubt_ft": 0} for w in (24, 60, 100)]
    assert outcomes(FILE, "zone-width", rows) == [BREACHES, UNSHOWN, CONFORMS]


def test_notice_within_3_days():
    # Agency reading of 2002: 3 days after logging begins.
    rows = sides("days_after_start", 3, 1, **NOTICE)
    assert outcomes(FILE, "notice-in-time", rows) == [CONFORMS, CONFORMS, BREACHES]
    assert outcomes(FILE, "notice-in-time", [{**NOTICE, **CLEARED, "days_after_start": 30}]) == [OUT]


def test_a_notice_is_owed():
    # 19-1B-6(a).
    rows = [{"notice_kind": "harvest_start", "notice_count": n} for n in (1, 0, [0, None])]
    assert outcomes(FILE, "notice-given", rows) == [CONFORMS, BREACHES, UNSHOWN]


def test_what_the_notice_states():
    # 19-1B-6 as printed in 2002 and 2004: place, begin and end, acreage, owner and harvester, number, promise.
    held = FILE.definitions["notice"].model_extra["contents"]
    assert held == [
        "location", "start_date", "end_date", "acreage", "owner_name", "owner_address", "operator_name",
        "operator_address", ["business_number", "licence_number"], "promise_of_practices",
    ]  # fmt: skip


def test_closed_out_within_7_days():
    # State forestry association, winter 2020-21: within 7 days of the planned completion date.
    rows = sides("days_reclaimed_after_plan", 7, 1)
    assert outcomes(FILE, "reclaimed", rows) == [CONFORMS, CONFORMS, BREACHES]


def test_told_that_it_takes_longer():
    # The same article: where the site cannot be closed out in time, the agency has to be told.
    late = {"days_reclaimed_after_plan": 8}
    told = [
        {**late, "notices_given": kinds, "notices_whole": True} for kinds in (["reclamation_delay"], ["harvest_end"])
    ]
    assert outcomes(FILE, "reclaimed", told) == [OUT, BREACHES]


def test_supervision_and_sign():
    # C.S.R. 22-3-2.4: physically present. Association article: operation posting.
    for rule, question in (("supervisor-present", "supervisor_present"), ("posted", "operation_posted")):
        rows = [{"question": question, "answer": a} for a in ("yes", "no")]
        assert outcomes(FILE, rule, rows) == [CONFORMS, BREACHES]
        assert rule_of(FILE, rule).evidence == "observation"


def test_no_mark_is_promoted():
    every = marks(FILE)
    assert {n for n, m in every.items() if m == "memory"} == {"limit zone_width_ft", "rule zone-width"}
    assert {n for n, m in every.items() if m == "secondary"} == {
        "limit notice_days", "limit reclaim_days", "rule notice-in-time", "rule reclaimed", "rule posted",
    }  # fmt: skip
    held = FILE.definitions["zone_width"]
    assert (held.model_extra["along"], held.verified) == ("ground", "memory")


def test_the_practices_bind():
    # 19-1B-7(g), as the booklet of 2001 cites it.
    assert rule_of(FILE, "zone-width").standing == "mandatory practice"


def test_what_is_known_from_memory_alone_is_no_limit():
    # Water bars, 15 and 20 percent grades: memory without a stated confidence.
    for topic in ("trails", "crossings", "fuel"):
        assert FILES[topic].rules == []
        assert FILES[topic].limits == {}
        assert FILES[topic].not_found


def test_no_figure_of_the_files_is_left_out():
    assert set(FILE.limits) == {"zone_width_ft", "notice_days", "reclaim_days"}
