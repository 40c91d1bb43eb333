"""Load cards: figures worked by hand from the limits in the rule files, and what stands where a figure cannot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from auditor.check.card import combination_cards, usual_ways
from auditor.check.card_trials import judged_trials, trial_tables
from auditor.check.tally import judge_tables, places_of
from auditor.record import Record, read_jobs
from auditor.report.card_model import Card, CardWay
from auditor.rules.compiled import Code
from auditor.rules.models import VOLUNTARY, RuleFile
from auditor.rules.reading import Rulebook, read_rules
from auditor.vocabulary.yaml_text import load_yaml_text
from tests.check.haul import a_record, load
from tests.house.tree import ROOT

DAY = date(2026, 6, 12)


def has_loads(job_file: Path) -> bool:
    """Whether a job.yaml names a table of loads; a site alone has none."""
    said, _ = load_yaml_text(job_file.read_bytes(), str(job_file))
    return isinstance(said, dict) and "loads" in said.get("tables", {})


SAMPLES = sorted(p.parent for p in (ROOT / "sample_jobs").glob("*/job.yaml") if has_loads(p))
Rows = Sequence[Mapping[str, Any]]

LONG = (0.0, 15.6, 20.0, 53.0, 57.2)
"""Five axles over 57 feet: steer axle and two tandems, far enough apart for every bridge formula at 80,000 lb."""
SHORT = (0.0, 13.4, 17.8, 41.0, 45.2)
STRAIGHT = (0.0, 17.5, 21.9)


def axles(positions: Sequence[float] = LONG, trailer: str | None = "L1") -> Rows:
    return [
        {"truck": "T1", "trailer": trailer, "axle": n, "position_ft": p, "lift_axle": False}
        for n, p in enumerate(positions, 1)
    ]


def leg(number: int = 1, road_class: str = "state_route", county: str = "Ware", **fields: Any) -> dict[str, Any]:
    return {"leg": number, "road_class": road_class, "county": county, "road_name": f"Road {number}",
            "postings_checked": True, "pickup_or_delivery": True, **fields}  # fmt: skip


def mill(**fields: Any) -> Rows:
    return [{"destination": "MILL", "state": "US-GA", "kind": "first_processing", "haul_radius_miles": 60, **fields}]


def logs(product: str = "sawlogs", ticket: str = "A1", **fields: Any) -> dict[str, Any]:
    return load(ticket, product=product, origin_kind="forest", tare_weight_lb=28_000, **fields)


def haul(legs: Rows, loads: Rows | None = None, **tables: Rows) -> Record:
    made: dict[str, Rows] = {"axles": axles(), "destinations": mill(), **tables}
    return a_record([logs()] if loads is None else loads, legs, **made)


def card(record: Record, rulebook: Rulebook | None = None, on: date = DAY) -> Card:
    (found,) = combination_cards(record, rulebook or read_rules(places_of(record.tables)), on)
    return found


def way(record: Record, rulebook: Rulebook | None = None, on: date = DAY) -> CardWay:
    (found,) = card(record, rulebook, on).ways
    return found


def test_georgia_forest_haul_outside_the_metro_counties() -> None:
    # O.C.G.A. 32-6-26(g): 80,000 lb and ten percent; payload 88,000 - 28,000.
    found = way(haul([leg()]))
    assert (found.standing, found.gross_lb, found.payload_lb) == ("shown", 88_000, 60_000)
    (only,) = found.legs
    assert only.governs and only.because.startswith("Ten percent variance") and only.verified == "secondary"
    assert found.could_gross_lb is None and found.open_facts == []


@pytest.mark.parametrize(
    ("county", "miles", "expected"),
    [
        ("Ware", 150, 88_000),
        ("Ware", 150.1, 80_000),
        ("Fulton", 100, 84_000),  # a metro county: 80,000 lb and five percent, within 100 miles
        ("Fulton", 100.1, 80_000),
    ],
)
def test_georgia_variance_ends_with_distance_and_county(county: str, miles: float, expected: int) -> None:
    assert way(haul([leg(county=county)], destinations=mill(haul_radius_miles=miles))).gross_lb == expected


def test_the_day_before_the_ten_percent_variance() -> None:
    assert way(haul([leg()]), on=date(2023, 5, 4)).gross_lb == 84_000
    assert way(haul([leg()]), on=date(2023, 5, 5)).gross_lb == 88_000


def test_the_lowest_leg_governs() -> None:
    # Georgia 88,000; Interstate 80,000 (23 U.S.C. 127(a)(2)); South Carolina, five axles, 73,280 (56-5-4140).
    found = way(haul([leg(1), leg(2, "interstate"), leg(3, state="US-SC")]))
    assert [x.gross_limit_lb for x in found.legs] == [88_000, 80_000, 73_280]
    assert found.gross_lb == 73_280
    assert [x.leg for x in found.legs if x.governs] == [3]


def test_a_short_combination_meets_the_bridge_formula_first() -> None:
    # 500 (45 x 5 / 4 + 12 x 5 + 36) = 76,125 for five axles over 45 ft; the printed table rounds to 76,000.
    found = way(haul([leg(1, "interstate")], axles=axles(SHORT)))
    assert found.gross_lb == 76_000
    assert found.legs[0].because == "Bridge formula on every run of axles"


def test_a_posted_bridge_governs() -> None:
    found = way(haul([leg(1), leg(2, posted_bridge_gross_lb=60_000)]))
    assert found.gross_lb == 60_000
    assert [(x.leg, x.because) for x in found.legs if x.governs] == [(2, "Posted bridges")]


def test_a_straight_truck_is_held_to_what_its_axles_may_carry() -> None:
    # 23,000 x 1.1 on the steer axle and 46,000 x 1.1 on the tandem: 25,300 + 50,600; below 80,000 x 1.1.
    record = haul(
        [leg()], [logs(trailer=None)], trucks=[{"truck": "T1", "kind": "straight_truck"}], axles=axles(STRAIGHT, None)
    )
    found = card(record)
    assert (found.trailer, found.axle_count, found.ways[0].gross_lb) == ("", 3, 75_900)
    assert found.ways[0].legs[0].because == "Gross weight against what the axles may carry together"


def test_a_tractor_whose_trailer_nobody_named_has_no_card() -> None:
    assert combination_cards(haul([leg()], [logs(trailer=None)]), read_rules(["US-GA"]), DAY) == []


def test_an_unchecked_leg_shows_no_figure_but_what_it_could_be() -> None:
    found = way(haul([leg(1, posted_bridge_gross_lb=60_000), leg(2, postings_checked=None)]))
    assert (found.standing, found.gross_lb, found.payload_lb, found.could_gross_lb) == ("not shown", None, None, 60_000)
    assert [f.fact for f in found.open_facts] == [
        "legs.posted_bridge_gross_lb", "legs.posted_road_gross_lb", "legs.postings_checked",
    ]  # fmt: skip
    assert [x.gross_limit_lb for x in found.legs] == [60_000, None]
    assert found.legs[0].open_facts == []
    assert not any(x.governs for x in found.legs)


def test_a_blank_distance_leaves_the_lower_figure_and_names_the_higher() -> None:
    found = way(haul([leg()], destinations=mill(haul_radius_miles=None)))
    assert (found.gross_lb, found.could_gross_lb) == (80_000, 88_000)
    assert [f.fact for f in found.open_facts] == ["destinations.haul_radius_miles"]
    assert found.open_facts[0].meaning


def test_private_roads_alone_have_no_limit() -> None:
    found = way(haul([leg(1, "private")]))
    assert (found.standing, found.gross_lb, found.legs, found.open_facts) == ("no limit", None, [], [])


def test_a_job_without_legs_shows_no_figure() -> None:
    record = haul([leg()])
    found = way(replace(record, tables={**record.tables, "legs": record.tables["legs"].clear()}))
    assert (found.standing, found.gross_lb, found.could_gross_lb) == ("not shown", None, None)
    assert [f.fact for f in found.open_facts] == ["legs"]


def test_axles_that_are_not_recorded_show_no_figure() -> None:
    # The axle count decides the South Carolina limit, so nothing is shown above the lowest row of its table.
    found = card(haul([leg(state="US-SC")], axles=[]))
    assert found.axle_count is None
    assert found.ways[0].standing == "not shown"
    assert any("axles.axle" in f.fact for f in found.ways[0].open_facts)
    assert found.ways[0].axle_limits == []


def test_a_state_without_rules_is_said_and_never_passes_for_allowed() -> None:
    found = way(haul([leg(1), leg(2, state="US-OH")]))
    assert (found.standing, found.gross_lb) == ("not shown", None)
    assert found.left_open == ["no weight rules for OH in the rule files"]
    assert [x.gross_limit_lb for x in found.legs] == [88_000, None]


def test_products_with_the_same_limits_share_a_way_and_others_stand_apart() -> None:
    # Processed logs are not among the products of the forest allowance: the general 80,000 lb holds for them.
    loads = [logs("sawlogs", "A1"), logs("sawlogs", "A2"), logs("pulpwood", "A3"), logs("processed_logs", "A4")]
    found = card(haul([leg()], loads)).ways
    assert [(w.products, w.gross_lb) for w in found] == [
        (["sawlogs", "pulpwood"], 88_000),
        (["processed logs"], 80_000),
    ]


def test_the_hauls_of_the_combination_come_before_those_of_the_job() -> None:
    record = haul(
        [leg(), leg(destination="YARD")],
        [logs(), logs("pulpwood", "B1", truck="T2", trailer="L2"), logs("poles", "B2", truck="T2", trailer="L2", destination="YARD")],
        destinations=[*mill(), *mill(destination="YARD")],
        trucks=[{"truck": "T1", "kind": "tractor"}, {"truck": "T2", "kind": "tractor"}],
        trailers=[{"trailer": "L1"}, {"trailer": "L2"}],
    )  # fmt: skip
    ways = usual_ways(record.tables).filter(pl.col("truck") == "T1")
    assert ways.select("destination", pl.col("product").cast(pl.String)).rows() == [
        ("MILL", "sawlogs"),
        ("YARD", "poles"),
    ]


def test_a_registered_weight_holds_for_the_whole_way() -> None:
    truck = {"truck": "T1", "kind": "tractor"}
    found = way(haul([leg(state="US-NC", light_traffic_road=False)], trucks=[{**truck, "registered_gross_lb": 70_000}]))
    assert found.gross_lb == 70_000
    assert [(x.leg, x.road, x.state) for x in found.legs if x.governs] == [(None, "whole way", "NC")]
    blank = way(haul([leg(state="US-NC", light_traffic_road=False)], trucks=[truck]))
    assert blank.standing == "not shown"
    assert [f.fact for f in blank.open_facts] == ["trucks.registered_gross_lb"]


def test_without_a_tare_there_is_no_payload_and_no_tiedown_count() -> None:
    found = card(haul([leg()], [{**logs(), "tare_weight_lb": None}]))
    assert (found.usual_tare_lb, found.ways[0].gross_lb, found.ways[0].payload_lb, found.tiedowns) == (
        None,
        88_000,
        None,
        [],
    )


def test_axle_limits_are_the_least_of_the_way() -> None:
    # Georgia 25,300 and 50,600 with the variance; the Interstate 20,000 and 34,000 (23 U.S.C. 127(a)(2)).
    state = way(haul([leg()])).axle_limits
    assert [(x.kind, x.axles, x.limit_lb) for x in state] == [
        ("steer axle", "1", 25_300),
        ("tandem", "2-3, 4-5", 50_600),
    ]
    both = way(haul([leg(1), leg(2, "interstate")])).axle_limits
    assert [(x.kind, x.limit_lb, x.road) for x in both] == [
        ("steer axle", 20_000, "Road 2"),
        ("tandem", 34_000, "Road 2"),
    ]


def test_papers_of_the_day() -> None:
    def paper(name: str, **fields: Any) -> dict[str, Any]:
        return {"document": name, "kind": "insurance_certificate", "state": "US-GA", "carried": True, **fields}

    papers = [
        paper("HELD", valid_from="2026-06-12", valid_until="2026-06-12"),
        paper("OVER", valid_from="2026-01-01", valid_until="2026-06-11"),
        paper("LATER", valid_from="2026-06-13", valid_until="2026-12-31"),
        paper("BLANK", valid_from="2026-01-01"),
        paper("OTHER", valid_from="2026-01-01", valid_until="2026-12-31", truck="T2"),
    ]
    trucks = [{"truck": "T1", "kind": "tractor"}, {"truck": "T2", "kind": "tractor"}]
    found = card(haul([leg()], documents=papers, trucks=trucks)).papers
    assert [(p.document, p.valid) for p in found] == [("BLANK", None), ("HELD", True)]


@pytest.mark.parametrize(
    ("size_in", "marked", "count", "expected", "note"),
    [
        # 60,000 lb of logs ask for a sixth, 10,000 lb, and for two tiedowns at least (49 CFR 393.116).
        (4.0, 5400, 3, 2, ""),  # 2 x 5,400 = 10,800
        (4.0, 5000, 2, 2, ""),  # 2 x 5,000 = 10,000, the very sixth
        (4.0, 4999, 2, 3, "1 more than the usual set"),  # 2 x 4,999 = 9,998
    ],
)
def test_tiedowns_of_the_usual_kind(size_in: float, marked: int, count: int, expected: int, note: str) -> None:
    usual = {
        "truck": "T1", "stack": 1, "tiedown": 1, "count": count, "kind": "tiedown", "material": "webbing",
        "size_in": size_in, "marked_wll_lb": marked, "tensioner_wll_lb": marked, "anchor_wll_lb": 8000,
        "routing": "over_to_other_side", "defective": False, "knotted": False, "tightenable": True, "edge_protected": True,
    }  # fmt: skip
    found = card(haul([leg()], tiedowns=[usual])).tiedowns
    assert {(t.needed, t.on_board, t.note, t.usual_kind) for t in found} == {(expected, count, note, "4-inch webbing")}
    assert {t.working_load_limit_lb for t in found} == {marked}


def test_a_pole_trailer_for_which_the_text_gives_no_single_figure() -> None:
    # The section is silent on pole trailers, so a sixth or half of the weight is asked: 60,000 / 6 = 10,000 takes two of 7,100 lb, half takes five.
    usual = {
        "truck": "T1", "stack": 1, "tiedown": 1, "count": 4, "kind": "tiedown", "material": "chain", "size_in": 0.375,
        "grade": "80", "marked_wll_lb": 7100, "tensioner_wll_lb": 9200, "anchor_wll_lb": 9500,
        "routing": "over_to_other_side", "defective": False, "knotted": False, "tightenable": True, "edge_protected": True,
    }  # fmt: skip
    found = card(haul([leg()], tiedowns=[usual], trailers=[{"trailer": "L1", "kind": "pole"}])).tiedowns
    assert {(t.needed, t.usual_kind) for t in found} == {(5, "3/8-inch chain grade 80")}
    assert found[0].note == (
        "1 more than the usual set; 2 where the text, which gives no single figure, is read the lower way"
    )


def rule_file(limit: dict[str, Any], *, when: dict[str, Any] | None = None, verified: str = "read") -> RuleFile:
    """A Georgia weight file with one gross rule."""
    cited = {"source": "code", "verified": verified}
    return RuleFile.model_validate(
        {
            "id": "us-ga/weight", "place": "US-GA", "topic": "weight", "title": "Weight",
            "sources": {"code": {"instrument": "The code", "seen": "whole"}},
            "definitions": {"axle_groups": {"tandem_spread_in": "(40, 96]", "steer_axle_in_tandem": False,
                                            "lift_axles_count": True, **cited}},
            "limits": {"gross": {"means": "gross weight", "unit": "lb", "versions": [{**limit, **cited}]}},
            "rules": [{
                "id": "gross", "title": "Gross", "examines": "load_legs", "when": when,
                "must": {"gross_weight_lb": {"at_most": {"limit": "gross"}}}, "duty_of": "carrier",
                "standing": "statute", "grade": "major", "evidence": "usual", "action": "Load less.",
                "caution": "Look.", **cited,
            }],
        }
    )  # fmt: skip


def test_a_limit_that_hangs_on_the_gross_itself() -> None:
    # Up to 70,000 lb the limit is 80,000; above, 66,000: so 70,000 passes and the next pound does not.
    table = {
        "table": {
            "rows": [
                {"when": {"gross_weight_lb": {"at_most": 70000}}, "value": 80000},
                {"when": {"gross_weight_lb": {"more_than": 70000}}, "value": 66000},
            ]
        }
    }
    found = way(haul([leg()]), Rulebook((rule_file(table),)))
    assert (found.gross_lb, found.legs[0].because) == (70_000, "Gross")


def test_a_rule_that_holds_only_in_a_range_of_weights() -> None:
    # It asks for 60,000 lb, but only from 70,000 to 80,000 lb: 69,999 is the most before it stops anything, and a
    # load that jumps the range is no advice to a driver.
    gate = {"gross_weight_lb": "[70000, 80000]"}
    found = way(haul([leg()]), Rulebook((rule_file({"value": 60000}, when=gate),)))
    assert (found.gross_lb, found.could_gross_lb) == (69_999, None)


def test_an_unconfirmed_limit_is_marked() -> None:
    found = way(haul([leg()]), Rulebook((rule_file({"value": 60000}, verified="memory"),)))
    assert (found.gross_lb, found.legs[0].verified) == (60_000, "memory")


def test_sources_that_disagree_leave_the_lower_figure() -> None:
    said = {"said": [{"value": v, "source": "code", "verified": "read"} for v in (60000, 64000)]}
    found = way(haul([leg()]), Rulebook((rule_file(said),)))
    assert (found.gross_lb, found.could_gross_lb, found.open_facts) == (60_000, None, [])
    assert found.left_open == ["Gross: the sources give no single figure"]


def test_the_sample_jobs_with_loads_are_the_ones_tried() -> None:
    jobs = [p.parent for p in (ROOT / "sample_jobs").glob("*/job.yaml")]
    hauls = sorted(p for p in jobs if read_jobs([p]).tables["loads"].height)
    assert hauls == SAMPLES
    assert hauls


@pytest.mark.parametrize("folder", SAMPLES, ids=lambda p: p.name)
@pytest.mark.parametrize("on", [date(2023, 9, 15), DAY])
def test_the_figure_conforms_and_one_pound_more_does_not(folder: Any, on: date) -> None:
    """Over every way of the sample jobs: the engine is run afresh on loads of exactly that weight and a pound more."""
    record = read_jobs([folder])
    rulebook = read_rules(places_of(record.tables))
    ways = usual_ways(record.tables)
    cards = combination_cards(record, rulebook, on)
    shown = {
        (c.truck, c.trailer or None, w.destination, p, w.origin): w.gross_lb
        for c in cards
        for w in c.ways
        for p in w.products or [""]
    }
    trials = []
    for one in ways.to_dicts():
        product = str(one["product"] or "").replace("_", " ")
        gross = shown[one["truck"], one["trailer"], one["destination"], product, one["origin_kind"] or ""]
        if gross is not None:
            trials += [{**one, "load": f"{one['way']} {more}", "gross_weight_lb": int(gross) + more} for more in (0, 1)]
    assert trials
    frame = pl.DataFrame(trials, schema={**ways.schema, "load": pl.String, "gross_weight_lb": pl.Int64})
    stopped = stopped_loads(trial_tables(record.tables, frame, on), rulebook)
    assert stopped == {t["load"] for t in trials if t["load"].endswith(" 1")}


def stopped_loads(tables: Mapping[str, pl.DataFrame], rulebook: Rulebook) -> set[str]:
    """Loads that some binding rule on the weight of the whole load does not find to conform."""
    found: set[str] = set()
    passing = [int(Code.NOT_APPLICABLE), int(Code.CONFORMITY)]
    for judged in judge_tables(tables, rulebook, ("load_legs", "loads", "axle_runs")):
        for index, rule in enumerate(judged.rules):
            column = "run_weight_lb" if judged.view == "axle_runs" else "gross_weight_lb"
            if rule.rule.standing in VOLUNTARY or column not in str(rule.rule.must):
                continue
            rows = judged.frame.select("load", *(["first_axle"] if judged.view == "axle_runs" else []))
            rows = rows.with_columns(judged.codes[str(index)].alias("code")).filter(~pl.col("code").is_in(passing))
            if judged.view == "axle_runs":
                rows = rows.filter(pl.col("first_axle") == 1)
            found |= set(rows["load"])
    return found


def test_trials_stand_around_every_limit() -> None:
    record = haul([leg()])
    ways = usual_ways(record.tables)
    trials, rows = judged_trials(record.tables, ways, read_rules(["US-GA"]), DAY)
    tried = set(trials["gross_weight_lb"])
    assert {87_999, 88_000, 88_001} <= tried
    assert set(rows["gross"]) <= tried


def test_cards_do_not_depend_on_the_order_of_the_loads() -> None:
    record = read_jobs([SAMPLES[0]])
    rulebook = read_rules(places_of(record.tables))
    turned = replace(record, tables={**record.tables, "loads": record.tables["loads"].reverse()})
    assert combination_cards(record, rulebook, DAY) == combination_cards(turned, rulebook, DAY)


def test_a_card_names_only_the_fields_that_may_be_to_blame() -> None:
    # Georgia's limit asks which axles make groups; that is open where nobody said whether one lifts
    unsaid = [{**row, "lift_axle": None} for row in axles()]
    for said in (way(haul([leg()], axles=unsaid)), *way(haul([leg()], axles=unsaid)).legs):
        assert [(f.fact, f.meaning) for f in said.open_facts] == [
            ("axles.lift_axle", "the axle can be raised by the driver")
        ]
    # without any axle the rows themselves are asked for
    assert [f.fact for f in way(haul([leg()], axles=[])).open_facts] == ["axles.position_ft, axles.lift_axle"]


def test_tiedowns_that_cannot_be_counted_name_only_what_is_blank() -> None:
    # filled are count, kind, material, size and routing; nobody said whether one is defective or what is marked on it
    usual = {
        "truck": "T1", "stack": 1, "tiedown": 1, "count": 4, "kind": "tiedown", "material": "chain", "size_in": 0.375,
        "routing": "over_to_other_side",
    }  # fmt: skip
    found = card(haul([leg()], tiedowns=[usual])).tiedowns
    assert {f.fact for form in found for f in form.open_facts} == {"tiedowns.defective, tiedowns.marked_wll_lb"}
