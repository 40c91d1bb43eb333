"""Which loads season figures are made of: the lowest gross limit of the way, and what is counted apart."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest

from auditor.check.season import season_loads
from auditor.check.season_figures import group_figures, limit_figures, set_apart
from auditor.record import Record
from auditor.report.season_model import GroupFigures
from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook
from tests.check.haul import a_record, load, loads, rows_of, together
from tests.rules.small import CITED, LIMIT, a_file, a_limit, a_rule, an_allowance

STATE_ROUTE, COUNTY_ROAD = {"leg": 1, "road_class": "state_route"}, {"leg": 2, "road_class": "county_road"}
POSTED = a_rule(
    id="posted",
    must={
        "any_of": [
            {"gross_weight_lb": {"at_most": {"field": "posted_bridge_gross_lb"}}},
            {"all_of": [{"posted_bridge_gross_lb": {"recorded": False}}, {"postings_checked": True}]},
        ]
    },
)
TOLERANCE = a_limit(allowances=[an_allowance("ten", "enforcement tolerance", percent_more=10, than="base")])
BY_PRODUCT = a_limit(
    {
        "table": {
            "rows": [{"when": {"product": "poles"}, "value": 84_000}, {"when": {"product": "sawlogs"}, "value": 80_000}]
        }
    }
)


def gathered(record: Record, *files: RuleFile) -> pl.DataFrame:
    return season_loads(record, Rulebook(files or (a_file(),))).loads


def one(record: Record, *files: RuleFile) -> dict[str, Any]:
    (row,) = gathered(record, *files).to_dicts()
    return row


def figures(record: Record, *files: RuleFile, share: float = 0.05) -> list[GroupFigures]:
    rulebook = Rulebook(files or (a_file(),))
    return group_figures(season_loads(record, rulebook), rulebook, share, ("truck", "driver", "product", "destination"))


def two_roads(*weights: int, **second: Any) -> Record:
    return a_record(loads(*weights), [STATE_ROUTE, {**COUNTY_ROAD, **second}])


def test_the_lowest_limit_of_the_way_holds_and_is_named() -> None:
    low = a_rule(
        id="county", where={"road_class": "county_road"}, must={"gross_weight_lb": {"at_most": {"limit": "low_lb"}}}
    )
    file = a_file([a_rule(), low], **{LIMIT: a_limit(), "low_lb": a_limit(73_280)})
    row = one(two_roads(75_000), file)
    assert (row["limit_lb"], row["rule"], row["limit_name"], row["arm"]) == (
        73_280,
        "us-ga/weight/county",
        "low_lb",
        "base",
    )
    assert row["apart"] is None
    row = one(a_record(loads(75_000), [STATE_ROUTE]), file)
    assert (row["limit_lb"], row["rule"]) == (80_000, "us-ga/weight/gross")


def test_a_tolerance_raises_the_tolerated_limit_alone() -> None:
    row = one(two_roads(75_000), a_file(**{LIMIT: TOLERANCE}))
    assert (row["limit_lb"], row["tolerated_lb"]) == (80_000, 88_000)  # 80,000 x 110 / 100


def test_a_road_without_tolerance_caps_the_tolerated_limit() -> None:
    hard = a_rule(
        id="hard", where={"road_class": "county_road"}, must={"gross_weight_lb": {"at_most": {"limit": "hard_lb"}}}
    )
    file = a_file([a_rule(), hard], **{LIMIT: TOLERANCE, "hard_lb": a_limit(84_000)})
    row = one(two_roads(75_000), file)
    assert (row["limit_lb"], row["tolerated_lb"]) == (80_000, 84_000)


@pytest.mark.parametrize(
    ("road", "limit", "apart"),
    [
        ({"posted_bridge_gross_lb": 60_000}, 60_000, None),
        ({"postings_checked": True}, 80_000, None),  # looked for and not posted: only the gross limit is left
        ({"postings_checked": False}, None, "limit not one number"),
        ({}, None, "limit not one number"),
    ],
)
def test_a_posted_bridge_limits_where_it_is_recorded(
    road: dict[str, Any], limit: float | None, apart: str | None
) -> None:
    row = one(two_roads(75_000, **road), a_file([a_rule(), {**POSTED, "where": {"road_class": "county_road"}}]))
    assert (row["limit_lb"], row["apart"]) == (limit, apart)


def test_a_bridge_that_may_be_posted_leaves_the_limit_open_downwards() -> None:
    file = a_file([a_rule(), {**POSTED, "where": {"road_class": "county_road"}}])
    found = season_loads(two_roads(75_000, 85_000), Rulebook((file,)))
    assert found.open.rows() == [("JOB", "A1", "us-ga/weight/posted"), ("JOB", "A2", "us-ga/weight/posted")]
    (apart,) = set_apart(found)
    # 85,000 is over the 80,000 of the state route whatever the bridge; 75,000 may or may not be.
    assert (apart.load_count, apart.over_any_way, apart.inside_any_way) == (2, 1, 0)
    assert apart.left_open_by == ["rule us-ga/weight/posted (2 loads)"]
    assert apart.sample_tickets == ["A1", "A2"]


def test_a_blank_class_leaves_the_limit_between_its_rows() -> None:
    file = a_file(**{LIMIT: BY_PRODUCT})
    found = season_loads(a_record(loads(79_000, 82_000, 85_000), [STATE_ROUTE]), Rulebook((file,)))
    assert found.loads.select("limit_low", "limit_high").unique().rows() == [(80_000, 84_000)]
    (apart,) = set_apart(found)
    assert (apart.load_count, apart.over_any_way, apart.inside_any_way) == (3, 1, 1)
    known = one(a_record([load("A1", gross_weight_lb=79_000, product="poles")], [STATE_ROUTE]), file)
    assert (known["limit_lb"], known["apart"]) == (84_000, None)


def test_an_open_limit_above_a_lower_one_changes_nothing() -> None:
    low = a_rule(id="low", must={"gross_weight_lb": {"at_most": {"limit": "low_lb"}}})
    file = a_file([a_rule(), low], **{LIMIT: BY_PRODUCT, "low_lb": a_limit(73_280)})
    row = one(a_record(loads(75_000), [STATE_ROUTE]), file)
    assert (row["limit_lb"], row["rule"], row["apart"]) == (73_280, "us-ga/weight/low", None)


def test_a_rule_that_may_not_apply_may_set_no_limit() -> None:
    rule = a_rule(where={"unitized": True})
    row = one(a_record(loads(75_000), [STATE_ROUTE]), a_file(rule))
    assert (row["limit_low"], row["limit_high"], row["apart"]) == (80_000, float("inf"), "limit not one number")
    exempt = a_rule(unless=[{"id": "e", "title": "Exempt", "where": {"unitized": True}, **CITED}])
    assert one(a_record(loads(75_000), [STATE_ROUTE]), a_file(exempt))["limit_high"] == float("inf")
    bound = a_record([load("A1", gross_weight_lb=75_000, unitized=False)], [STATE_ROUTE])
    assert one(bound, a_file(rule))["apart"] == "no gross limit on the way"
    assert one(bound, a_file(exempt))["limit_lb"] == 80_000


def test_a_state_without_a_rule_on_gross_weight_leaves_the_limit_open() -> None:
    record = a_record(loads(75_000), [STATE_ROUTE, {**COUNTY_ROAD, "state": "US-SC"}])
    row = one(record)
    assert (row["limit_low"], row["limit_high"], row["apart"]) == (float("-inf"), 80_000, "limit not one number")
    (apart,) = set_apart(season_loads(record, Rulebook((a_file(),))))
    assert apart.left_open_by == ["no rule on gross weight for US-SC (1 load)"]


def test_a_blank_weight_is_said_before_anything_else() -> None:
    rows = gathered(a_record(loads(None, 75_000), [STATE_ROUTE]))
    assert rows["apart"].to_list() == ["gross weight blank", None]


def test_a_rule_on_the_whole_load_counts_too() -> None:
    rule = a_rule(
        id="registered", examines="loads", must={"gross_weight_lb": {"at_most": {"field": "registered_gross_lb"}}}
    )
    truck = {"truck": "T1", "kind": "tractor", "registered_gross_lb": 78_000}
    row = one(a_record(loads(75_000), [STATE_ROUTE], trucks=[truck]), a_file([a_rule(), rule]))
    assert (row["limit_lb"], row["rule"]) == (78_000, "us-ga/weight/registered")


def test_a_way_without_a_limit_is_counted_apart() -> None:
    public = a_file(a_rule(where={"road_class": {"none_of": ["private"]}}))
    record = a_record(loads(75_000), [{"leg": 1, "road_class": "private"}])
    assert gathered(record, public)["apart"].to_list() == ["no gross limit on the way"]
    (apart,) = set_apart(season_loads(record, Rulebook((public,))))
    assert (apart.load_count, apart.over_any_way, apart.left_open_by) == (1, 0, [])


def test_a_record_without_loads_has_figures_without_numbers() -> None:
    record = a_record([], [STATE_ROUTE])
    assert gathered(record).height == 0
    assert figures(record) == []


def test_shares_at_under_and_over_the_limit_and_the_tolerance() -> None:
    record = a_record(loads(79_999, 80_000, 80_001, 88_000, 88_001), [STATE_ROUTE])
    rulebook = Rulebook((a_file(**{LIMIT: TOLERANCE}),))
    (limit,) = limit_figures(season_loads(record, rulebook), rulebook)
    assert (limit.limit_lb, limit.tolerated_lb, limit.note) == (80_000, 88_000, "")
    assert (limit.over_limit.over_count, limit.over_limit.load_count, limit.over_limit.share) == (3, 5, 0.6)
    assert (limit.over_tolerated.over_count, limit.over_tolerated.load_count) == (1, 5)
    # Clopper-Pearson for 3 of 5 at 95 percent, 0.147 to 0.947, from memory
    assert (limit.over_limit.low, limit.over_limit.high) == pytest.approx((0.1466, 0.9473), abs=5e-5)


@pytest.mark.parametrize(
    ("verified", "note", "unconfirmed"),
    [("read", "", 0), ("secondary", "limit second-hand", 0), ("memory", "limit unconfirmed", 2)],
)
def test_a_limit_that_was_not_read_is_marked(verified: str, note: str, unconfirmed: int) -> None:
    limit = {"means": "weight", "unit": "lb", "versions": [{"value": 80_000, "source": "s", "verified": verified}]}
    record, rulebook = a_record(loads(75_000, 81_000), [STATE_ROUTE]), Rulebook((a_file(**{LIMIT: limit}),))
    found = season_loads(record, rulebook)
    (of_limit,) = limit_figures(found, rulebook)
    assert of_limit.note == note
    assert figures(record, *rulebook.files)[0].unconfirmed_count == unconfirmed


def test_ten_loads_by_hand() -> None:
    """Five at 78,000 and five at 80,000 lb under 80,000: mean 79,000, squares 10 million, sd the root of 10 / 9 million."""
    record = a_record(loads(*[78_000] * 5, *[80_000] * 5), [STATE_ROUTE])
    whole = figures(record)[0]
    assert (whole.by, whole.value, whole.load_count, whole.few_loads) == ("all", None, 10, False)
    assert (whole.gross.mean_lb, whole.gross.sd_lb, whole.margin.scatter_sd_lb) == (79_000, 1_054, 1_054)
    assert whole.margin.observed_lb is None
    assert whole.margin.why_not == "from the scatter as it was it takes 19 loads for 5 percent, there are 10"
    # t for 9 and 5 percent is 1.8331 (printed tables): 1.8331 x 1,054.09 = 1,932.3, up to 1,933
    assert (whole.margin.normal_lb, whole.margin.used_lb) == (1_933, 1_933)
    (target,) = whole.targets
    assert (target.limit_lb, target.load_count, target.over_count, target.mean_lb) == (80_000, 10, 0, 79_000)
    assert (target.observed_lb, target.normal_lb, target.used_lb) == (None, 78_067, 78_067)  # 80,000 - 1,933
    room = whole.room
    assert (room.inside_count, room.under_limit_lb, room.under_limit_short_tons) == (10, 10_000, 5.0)  # 5 x 2,000
    assert (room.below_target_count, room.under_target_lb) == (5, 335)  # 5 x (78,067 - 78,000)


def test_the_greater_margin_is_used() -> None:
    """Nineteen loads at 79,000 and one at 89,000: the one that strayed furthest decides."""
    whole = figures(a_record(loads(*[79_000] * 19, 89_000), [STATE_ROUTE]))[0]
    # Mean 79,500; 9,500 x root of 20 / 19 = 9,746.8, up to 9,747. Squares 19 x 0.25 + 90.25 = 95 million, sd the root of
    # 5 million, 2,236.1, times 1.7291 = 3,866.4, up to 3,867.
    assert (whole.margin.observed_lb, whole.margin.normal_lb, whole.margin.used_lb) == (9_747, 3_867, 9_747)
    assert whole.margin.observed_is_furthest


def test_few_loads_give_no_margin_target_or_room_under_it() -> None:
    whole = figures(a_record(loads(*[79_000] * 9), [STATE_ROUTE]))[0]
    assert whole.few_loads
    assert (whole.margin.observed_lb, whole.margin.normal_lb, whole.margin.used_lb) == (None, None, None)
    assert whole.margin.why_not == "9 loads with a known limit that another load shares; a margin takes 10"
    assert whole.targets[0].used_lb is None
    assert (whole.room.below_target_count, whole.room.under_target_lb, whole.room.under_target_short_tons) == (
        None,
        None,
        None,
    )
    assert whole.room.under_limit_lb == 9_000


def test_overloads_take_nothing_off_the_room_of_others() -> None:
    room = figures(a_record(loads(79_000, 90_000), [STATE_ROUTE]))[0].room
    assert (room.inside_count, room.under_limit_lb) == (1, 1_000)


def test_groups_stand_in_order_blanks_last() -> None:
    rows = [load("A1", gross_weight_lb=1_000, driver="D2"), load("A2", gross_weight_lb=2_000), load("A3", driver="D1")]
    found = [(f.by, f.value, f.load_count, f.gross.load_count) for f in figures(a_record(rows, [STATE_ROUTE]))]
    assert found == [
        ("all", None, 3, 2), ("truck", "T1", 3, 2), ("driver", "D1", 1, 0), ("driver", "D2", 1, 1),
        ("driver", None, 1, 1), ("product", None, 3, 2), ("destination", "MILL", 3, 2),
    ]  # fmt: skip


def test_loads_counted_apart_are_in_no_share() -> None:
    file = a_file(**{LIMIT: BY_PRODUCT})
    rows = [load("A1", gross_weight_lb=90_000, product="poles"), load("A2", gross_weight_lb=90_000), load("A3")]
    whole = figures(a_record(rows, [STATE_ROUTE]), file)[0]
    assert (whole.load_count, whole.gross.load_count) == (3, 2)
    assert (whole.over_limit.over_count, whole.over_limit.load_count) == (1, 1)
    none = figures(a_record([load("A3")], [STATE_ROUTE]), file)[0]
    assert (none.over_limit.share, none.over_limit.low, none.targets) == (None, None, [])


def test_a_unit_number_of_two_contractors_is_two_units() -> None:
    def job(name: str, contractor: str) -> dict[str, Any]:
        rows = rows_of([load("A1", gross_weight_lb=75_000)], [STATE_ROUTE], name)
        return {**rows, "job": [{"job": name, "state": "US-GA", "contractor": contractor}]}

    def trucks(record: Record) -> list[tuple[str | None, int]]:
        return [(f.value, f.load_count) for f in figures(record) if f.by == "truck"]

    assert trucks(together(job("J1", "C1"), job("J2", "C1"))) == [("T1", 2)]
    assert trucks(together(job("J1", "C1"), job("J2", "C2"))) == [("T1 (C1)", 1), ("T1 (C2)", 1)]
    assert trucks(together(job("J1", "C1"), job("J2", ""))) == [("T1 (C1)", 1), ("T1 (job J2)", 1)]
