"""The harvest site place by place: order, words, worst outcomes, findings and judgements of each place."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from auditor.audit import check
from auditor.check.site_words import where_of
from auditor.record import record_from_rows
from auditor.rules.reading import Rulebook
from auditor.vocabulary import SUBJECTS, TABLES
from tests.check.haul import a_record, job_report, load
from tests.check.small_site import FILES, SITE, WIDTH, a_file, a_rule, a_site


def test_the_site_is_walked_topic_by_topic_whatever_the_order_of_the_rule_files() -> None:
    stops = [(s.topic, s.subject, s.name) for s in a_site().walk]
    # b4 has no reading and T1 is no haul road: no rule applied to either, so neither is a stop.
    assert stops == [
        ("streamside", "bank", "b1"), ("streamside", "bank", "b2"), ("streamside", "bank", "b3"),
        ("crossings", "crossing", "X1"), ("trails", "road or trail segment", "R1"),
    ]  # fmt: skip


def test_the_rows_of_a_table_keep_their_order_and_tables_have_theirs() -> None:
    kind = a_rule("kind", "streams", {"stream_kind": {"equals": "stream"}})
    banks = [dict(b) for b in reversed(SITE["banks"])]
    made = a_site(files=[a_file("streamside", WIDTH, kind)], banks=banks)
    assert [s.name for s in made.walk] == ["Otter", "Run", "b3", "b2", "b1"]


def test_a_place_has_its_worst_row_under_a_rule_and_the_finding_it_stands_in() -> None:
    made = a_site()
    # b1 40 of 40 ft; b2 55 and 39 ft; b3 blank; the crossing's rule is a regulation, the others are voluntary.
    found = {s.name: [(o.outcome, o.finding) for o in s.outcomes] for s in made.walk}
    numbers = {f.rule: f.number for f in made.findings}
    assert found == {
        "b1": [("conformity", None)],
        "b2": [("departure from practice", numbers["us-sc/streamside/zone-width"])],
        "b3": [("not evidenced", None)],
        "X1": [("nonconformity", numbers["us-sc/crossings/flow-free"])],
        "R1": [("departure from practice", numbers["us-sc/trails/across-slope"])],
    }
    assert made.walk[1].outcomes[0].standing == "voluntary practice"


@pytest.mark.parametrize("adopted", ["streamside", "us-sc/streamside/zone-width"])
def test_an_adopted_practice_is_a_criterion_on_the_walk_as_in_the_findings(adopted: str) -> None:
    made = a_site(adopted=[adopted])
    assert [s.outcomes[0].outcome for s in made.walk if s.name in ("b2", "R1")] == [
        "nonconformity", "departure from practice",
    ]  # fmt: skip
    assert {f.rule: f.kind for f in made.findings}["us-sc/streamside/zone-width"] == "nonconformity"


def test_rules_that_do_not_apply_are_left_out_and_the_others_keep_the_order_of_the_file() -> None:
    left = a_rule("z-left", "banks", {"length_ft": {"recorded": True}}, where={"side": {"one_of": ["left", "right"]}})
    made = a_site(files=[a_file("streamside", left, WIDTH)])
    rules = {s.name: [o.rule.rpartition("/")[2] for o in s.outcomes] for s in made.walk}
    # The side of b2 is blank, so whether the rule applies is open; b4 is a head and has no reading.
    assert rules == {"b1": ["z-left", "zone-width"], "b2": ["z-left", "zone-width"], "b3": ["z-left", "zone-width"]}
    head = a_rule("head", "banks", {"length_ft": {"recorded": True}}, where={"side": {"equals": "head"}})
    made = a_site(files=[a_file("streamside", head, WIDTH)])
    rules = {s.name: [o.rule.rpartition("/")[2] for o in s.outcomes] for s in made.walk}
    assert rules == {"b1": ["zone-width"], "b2": ["head", "zone-width"], "b3": ["zone-width"], "b4": ["head"]}


def test_judgements_stand_at_their_place_those_of_a_station_or_plot_at_their_bank() -> None:
    plots = [{"plot": "P 7", "bank": "b2", "kind": "prism", "baf_ft2_per_ac": 10, "tree_count": 5}]
    asked = [
        {"question": "shade_kept", "place_kind": "bank", "place": "b2"},
        {"question": "shade_kept", "place_kind": "station", "place": "b2 2"},
        {"question": "shade_kept", "place_kind": "plot", "place": "P 7"},
        {"question": "shade_kept", "place_kind": "station", "place": "b2 3"},
        {"question": "decks_fewest", "place_kind": "job"},
        {"question": "flow_unchanged_by_ruts", "place_kind": "crossing", "place": "X1"},
    ]
    made = a_site(asked, plots=plots)
    assert {s.name: s.judgements for s in made.walk if s.judgements} == {"b2": ["O1", "O2", "O3"], "X1": ["O6"]}


def test_a_haul_has_no_walk() -> None:
    assert job_report(a_record([load("A1", gross_weight_lb=90_000)])).walk == []


def test_jobs_with_places_of_the_same_name_are_kept_apart() -> None:
    wide = [{**dict(s), "zone_width_ft": 60} for s in SITE["stations"]]
    parts = [{**SITE}, {**SITE, "job": [{**SITE["job"][0], "job": "B"}], "stations": wide}]
    rows: dict[str, list[dict[str, Any]]] = {}
    for name, part in zip("AB", parts, strict=True):
        for table, own in part.items():
            rows.setdefault(table, []).extend({**row, "job": name} for row in own)
    a, b = check(record_from_rows(rows), Rulebook(FILES)).jobs
    assert [s.outcomes[0].outcome for s in a.walk][:3] == ["conformity", "departure from practice", "not evidenced"]
    assert [s.outcomes[0].outcome for s in b.walk][:3] == ["conformity", "conformity", "conformity"]


@pytest.mark.parametrize(
    ("table", "row", "expected"),
    [
        ("banks", {"stream": "Otter", "side": "left", "length_ft": 600.0}, "left side of Otter, perennial, 600 ft"),
        ("banks", {"stream": "Run", "side": "head"}, "head of Run"),
        ("banks", {"stream": "Run", "side": "all_round"}, "all round Run"),
        ("banks", {"stream": "Run"}, "beside Run"),
        ("crossings", {"stream": "Otter", "crossing_type": "culvert"}, "culvert on Otter, perennial"),
        ("segments", {"kind": "skid_trail", "length_ft": 620.0}, "skid trail, 620 ft"),
        ("segments", {"kind": "haul_road"}, "haul road"),
        ("streams", {"kind": "stream", "stream_class": "perennial", "width_ft": 8.0}, "perennial stream, 8 ft wide"),
        ("streams", {}, "water"),
        ("disturbances", {"kind": "skid_trail", "bank": "b_1", "along_ft": 0.0}, "skid trail, by b_1, at 0 ft"),
        ("ruts", {"length_ft": 120.0, "segment": "T3", "along_ft": 420.0}, "120 ft long, on T3, at 420 ft"),
        ("ruts", {"bank": "b1"}, "by b1"),
        ("decks", {"bank": "b1", "area_acres": 1.0}, "log deck, nearest to b1, 1 acre"),
        ("seedings", {"species": "grain_rye", "deck": "DK1"}, "grain rye, on DK1"),
        ("tanks", {"contents": "diesel", "capacity_gal": 500.0}, "diesel, 500 gal"),
        ("spills", {"volume_gal": 5.0, "occurred_on": date(2026, 5, 4)}, "5 gal, 4 May 2026"),
        ("notices", {"kind": "harvest_start", "given_to": "county"}, "harvest start, given to county"),
        ("stands", {"treatment": "clearcut", "area_acres": 62.5}, "clearcut, 62.5 acres"),
        ("observations", {"question": "shade_kept", "place_kind": "bank", "place": "b1"}, "shade kept, bank b1"),
        ("observations", {"question": "decks_fewest"}, "decks fewest"),
        ("job", {}, "the job as a whole"),
    ],
)  # fmt: skip
def test_what_a_place_is_and_where_is_said_without_its_blanks(table: str, row: dict[str, Any], expected: str) -> None:
    whole = {f.name: None for f in TABLES[table].fields} | row
    assert where_of(table, whole, {"Otter": {"stream_class": "perennial"}}) == expected


@pytest.mark.parametrize("table", [t for t in SUBJECTS if t != "loads"])
def test_every_table_that_is_counted_has_words_even_for_a_blank_row(table: str) -> None:
    blank = {f.name: f"the {f.name}" if f.required else None for f in TABLES[table].fields}
    assert "None" not in where_of(table, blank, {})
