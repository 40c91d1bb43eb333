"""Which fields the rules of a place ask for: by hand from small rule files, and picked from the shipped ones."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl
import pytest

from auditor.check.asked import BESIDE, ROWS, fields_asked
from auditor.check.tally import judge_tables, tables_of
from auditor.record import read_jobs, record_from_rows
from auditor.record.examples import EXAMPLES
from auditor.record.form import Asked
from auditor.record.template import ALWAYS_SAID, sheet_columns
from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook, read_rules
from auditor.vocabulary import SITE_TABLES, TABLES, TOPIC_GROUPS, VIEWS
from auditor.vocabulary.problems import UnusableInput
from tests.check import site_record
from tests.house.tree import ROOT

CITED = {"source": "law", "verified": "read"}
RULE = {
    "title": "A rule", "examines": "loads", "duty_of": "carrier", "standing": "statute", "grade": "minor",
    "evidence": "usual", "action": "Act.", "caution": "Take care.", **CITED,
}  # fmt: skip
DAY = ("loads.load_date", "legs.state")
"""What every rule of a state reads: the day that decides the edition, and the road that decides the place."""


def book(rule: dict[str, Any], limits: dict[str, Any] | None = None, place: str = "US-GA") -> Rulebook:
    file = RuleFile.model_validate(
        {
            "id": f"{place.lower()}/size", "place": place, "topic": "size", "title": "A file",
            "sources": {"law": {"instrument": "An act", "seen": "text"}},
            "limits": limits or {}, "rules": [{"id": "r", **RULE, **rule}],
        }
    )  # fmt: skip
    return Rulebook((file,))


def facts(rulebook: Rulebook, places: tuple[str, ...] = ("US-GA",)) -> set[str]:
    return {f"{t}.{f}" for t, fields in fields_asked(rulebook, places, ["size"]).items() for f in fields}


def limit(**entry: Any) -> dict[str, Any]:
    return {"most": {"means": "a limit", "unit": "ft", "versions": [{**CITED, **entry}]}}


MOST = {"load_height_ft": {"at_most": {"limit": "most"}}}
ALLOWANCE = {"id": "a", "title": "An allowance", "form": "raised limit", "value": 14, **CITED}


@pytest.mark.parametrize(
    ("rule", "limits", "expected"),
    [
        ({"must": {"dark": False}}, {}, {"loads.dark"}),
        ({"where": {"slippery": True}, "when": {"unitized": True}, "must": {"dark": False}}, {},
         {"loads.dark", "loads.slippery", "loads.unitized"}),
        ({"must": {"any_of": [{"dark": False}, {"all_of": [{"flag_count": {"at_least": 1}}]}]}}, {},
         {"loads.dark", "markings.flag_count"}),
        ({"must": {"overall_length_ft": {"at_most": {"field": "trailer_length_ft"}}}}, {},
         {"loads.overall_length_ft", "trailers.length_ft"}),
        ({"must": MOST}, limit(table={"rows": [{"when": {"product": "poles"}, "value": 9}]}),
         {"loads.load_height_ft", "loads.product"}),
        ({"must": MOST}, limit(lesser_of=[{"value": 9}, {"linear": {"base": 1, "times": 1, "per": "load_width_in"}}]),
         {"loads.load_height_ft", "loads.load_width_in"}),
        ({"must": MOST}, {"most": {**limit(value=13)["most"], "allowances": [
            {**ALLOWANCE, "form": "enforcement tolerance", "where": {"origin_kind": "forest"}}]}},
         {"loads.load_height_ft", "loads.origin_kind"}),
        ({"must": MOST}, {**limit(percent_more=5, than="other"), "other": limit(field="trailer_length_ft")["most"]},
         {"loads.load_height_ft", "trailers.length_ft"}),
        ({"must": {"ticket_days_after_removal": {"at_most": 1}}}, {}, {"tickets.given_on"}),
        # A view column that rests on several fields, and one that a blank may change.
        ({"examines": "stacks", "must": {"log_length_class": "longwood"}}, {},
         {"stacks.shortest_log_ft", "stacks.longest_log_ft", "stacks.shortwood_embedded"}),
        ({"decision": "guarded", "must": {"gross_weight_lb": {"at_most": 1}}}, {},
         {"loads.gross_weight_lb", "loads.scale_uncertainty_lb"}),
        ({"must": {"gross_weight_lb": {"at_most": 1}}}, {}, {"loads.gross_weight_lb"}),
        ({"must": {"dark": False}, "unless": [{"id": "e", "title": "E", "where": {"product": "poles"},
          "needs": {"document": "oversize_permit"}}]}, {},
         {"loads.dark", "loads.product", "documents.kind", "documents.valid_from", "documents.valid_until"}),
        ({"must": MOST}, {"most": {**limit(value=13)["most"], "allowances": [
            {**ALLOWANCE, "form": "permit", "needs": {"document": "oversize_permit", "state": "US-GA"}}]}},
         {"loads.load_height_ft", "documents.kind", "documents.state", "documents.valid_from",
          "documents.valid_until"}),
        # A paper of a state nobody named.
        ({"must": MOST}, {"most": {**limit(value=13)["most"], "allowances": [
            {**ALLOWANCE, "form": "permit", "needs": {"document": "oversize_permit", "state": "US-SC"}}]}},
         {"loads.load_height_ft"}),
    ],
)  # fmt: skip
def test_every_way_a_rule_reads_a_field(rule: dict[str, Any], limits: dict[str, Any], expected: set[str]) -> None:
    assert facts(book(rule, limits)) == expected | set(DAY)


def test_federal_rules_ask_in_every_place_but_for_no_road_of_a_state() -> None:
    both = Rulebook((*book({"must": {"dark": False}}, place="US").files, *book({"must": {"slippery": False}}).files))
    asked = fields_asked(both, ["US-GA"], ["size"])
    assert asked == {
        "legs": {"state": Asked(("us-ga/size/r",))},
        "loads": {
            "load_date": Asked(("us/size/r", "us-ga/size/r")),
            "slippery": Asked(("us-ga/size/r",)),
            "dark": Asked(("us/size/r",)),
        },
    }


def test_rules_of_other_places_and_topics_ask_for_nothing() -> None:
    both = Rulebook((*book({"must": {"dark": False}}).files, *book({"must": {"slippery": False}}, place="US-SC").files))
    assert facts(both) == {"loads.dark", *DAY}
    with pytest.raises(UnusableInput, match="found no rule on weight for US-GA; expected a topic with rules there"):
        fields_asked(both, ["US-GA"], ["weight"])
    assert facts(both, ("US-GA", "US-SC")) == {"loads.dark", "loads.slippery", *DAY}


def test_what_the_law_demands_is_told_apart() -> None:
    by_law = book({"must": {"dark": False}, "evidence": "demanded by law"})
    assert fields_asked(by_law, ["US-GA"], ["size"])["loads"]["dark"] == Asked(("us-ga/size/r",), ("us-ga/size/r",))


def test_the_wood_load_tickets_of_georgia() -> None:
    # O.C.G.A. 12-6-23: ticket to the seller in time, with its contents, unless a lump-sum sale or firewood only.
    asked = fields_asked(read_rules(["US-GA"]), ["US-GA"], ["tickets"])
    # Common practice looks besides at weights that agree, times a truck can have kept and the days of the operation.
    assert {t: set(f) for t, f in asked.items()} == {
        "job": {"state", "sold_by_load", "operation_start", "operation_end"},
        "legs": {"state", "miles"},
        "loads": {"load_date", "product", "scaled_at", "gross_weight_lb", "tare_weight_lb", "net_weight_lb"},
        "axle_weights": {"weight_lb"},
        "tickets": {"load", "given_on", "given_to", "contents"},
    }
    assert asked["tickets"]["contents"].by_law == ("us-ga/tickets/ticket-contents",)


def test_the_forest_allowance_of_georgia_asks_for_the_haul() -> None:
    # O.C.G.A. 32-6-26(g): product, from the woods, to the first mill, within so many miles, outside some counties.
    asked = fields_asked(read_rules(["US-GA"]), ["US-GA"], ["weight"])
    assert {"product", "origin_kind", "gross_weight_lb"} <= set(asked["loads"])
    assert {"kind", "haul_radius_miles"} <= set(asked["destinations"])
    assert {"county", "road_class", "pickup_or_delivery", "posted_bridge_gross_lb"} <= set(asked["legs"])
    assert {"axle", "position_ft", "lift_axle"} == set(asked["axles"])
    assert not {"tiedowns", "stacks", "tickets", "markings"} & set(asked)


def test_the_grade_of_chain_is_asked_for_though_a_blank_one_is_no_gap() -> None:
    # 49 CFR 393.108: an unmarked chain is rated as grade 30, so a marked grade changes the working load limit.
    asked = fields_asked(read_rules(["US-GA"]), ["US-GA"], ["securement"])
    assert {"material", "size_in", "grade", "marked_wll_lb", "tensioner_wll_lb"} <= set(asked["tiedowns"])


def test_haul_is_its_four_topics() -> None:
    rules = read_rules(["US-GA"])
    four = ["weight", "securement", "size", "tickets"]
    assert fields_asked(rules, ["US-GA"], ["haul"]) == fields_asked(rules, ["US-GA"], four)


def test_what_cannot_be_asked_for_is_refused_in_one_message_each() -> None:
    rules = read_rules(["US-GA"])
    with pytest.raises(UnusableInput) as caught:
        fields_asked(rules, ["US-GA"], ["weigth", "noise"])
    known = (
        "one of haul, ground, weight, securement, size, tickets, streamside, crossings, trails, fuel, residual_stand"
    )
    assert [str(p) for p in caught.value.problems] == [
        f'topic: found "weigth"; expected {known}. Did you mean weight?',
        f'topic: found "noise"; expected {known}. Name one of these.',
    ]
    with pytest.raises(UnusableInput) as caught:
        fields_asked(rules, ["US-G", "US-WY", "US"], ["haul"])
    assert [str(p) for p in caught.value.problems] == [
        'place: found "US-G"; expected a state such as US-GA. Did you mean US-GA?',
        "place: found no rule files for US-WY; expected a place with rule files. "
        "`auditor rules list` shows the places that have some.",
        'place: found "US"; expected a state such as US-GA. Federal rules hold in every state; name the state.',
    ]


def test_what_a_column_also_reads_is_a_field_of_the_record() -> None:
    named = {fact for view in VIEWS.values() for field in view.fields for fact in field.also_reads}
    assert named
    known = {f"{t.name}.{f.name}" for t in TABLES.values() for f in t.fields}
    assert named <= known


FACTS = {f"{t.name}.{f.name}" for t in TABLES.values() for f in t.fields}
SITE_VIEWS = [name for name, view in VIEWS.items() if view.subject != "loads"]
SITE_PLACES = sorted(
    {f.place for f in read_rules().files if f.topic in TOPIC_GROUPS["ground"] and f.rules and f.place != "US"}
)
Tables = Mapping[str, pl.DataFrame]


def test_what_stands_beside_a_fact_is_a_field_of_the_record() -> None:
    assert {*BESIDE, *(f for many in (*BESIDE.values(), *ROWS.values()) for f in many)} <= FACTS
    assert set(ROWS) <= set(VIEWS)


def test_the_streamside_zone_of_south_carolina_asks_for_what_ties_and_converts_a_width() -> None:
    asked = {t: set(f) for t, f in fields_asked(read_rules(["US-SC"]), ["US-SC"], ["streamside"]).items()}
    # Class, kind and trout standing of the stream, slope, widths, and how they were measured.
    assert {"kind", "stream_class", "trout_waters"} <= asked["streams"]
    assert {"harvested_on", "slope_pct", "length_ft", "method"} <= asked["banks"]
    assert {"zone_width_ft", "primary_width_ft", "along_ft", "measured_along", "measured_from", "slope_pct"} <= asked[
        "stations"
    ]
    assert {"operation_end", "harvest_completed_on"} <= asked["job"]
    # A harvest site lies in the state of its job, whatever roads lead from it.
    assert not {"legs", "loads", "destinations"} & set(asked)


@pytest.mark.parametrize("place", SITE_PLACES)
def test_a_judgement_comes_with_its_risk_its_reason_who_judged_and_a_photograph(place: str) -> None:
    asked = fields_asked(read_rules([place]), [place], ["ground"])
    judged = {"question", "answer", "place_kind", "place", "significant_risk", "reason", "role", "observer", "photo"}
    assert judged <= set(asked["observations"])
    # No law of these places demands a photograph; none may be said to.
    assert asked["observations"]["photo"].by_law == ()


def test_a_state_with_rules_on_sites_alone_is_asked_for_like_any_other() -> None:
    file = RuleFile.model_validate(
        {
            "id": "us-wy/streamside", "place": "US-WY", "topic": "streamside", "title": "A file",
            "sources": {"law": {"instrument": "An act", "seen": "text"}}, "limits": {},
            "rules": [{"id": "r", **RULE, "examines": "banks", "must": {"harvested": False}}],
        }
    )  # fmt: skip
    assert {t: set(f) for t, f in fields_asked(Rulebook((file,)), ["US-WY"], ["ground"]).items()} == {
        "job": {"operation_end", "harvest_completed_on"},
        "banks": {"bank", "harvested", "harvested_on"},
    }


def _records() -> dict[str, Tables]:
    """Records of a site, full of things to read: the sample job, the examples of the workbook, two jobs of the tests."""
    named = {"EX": {t: [EXAMPLES[t]] for t in SITE_TABLES}, "A": dict(site_record.A), "B": dict(site_record.B)}
    rows = {
        job: {t: [{"job": job, **row} for row in own] for t, own in {"job": [{"state": "US-GA"}], **tables}.items()}
        for job, tables in named.items()
    }
    made = {job: tables_of(record_from_rows(tables)) for job, tables in rows.items()}
    return {**made, "sample": tables_of(read_jobs([ROOT / "sample_jobs" / "blackgum_closeout"]))}


def _outcomes(tables: Tables, rulebook: Rulebook) -> dict[str, list[tuple[Any, ...]]]:
    found: dict[str, list[tuple[Any, ...]]] = {}
    for judged in judge_tables(tables, rulebook, SITE_VIEWS):
        for index, rule in enumerate(judged.rules):
            rows = judged.frame.select("job", "subject", "_row").with_columns(
                pl.Series("code", judged.codes[str(index)])
            )
            found.setdefault(rule.key, []).extend(rows.rows())
    return found


def _as_the_workbook_has_it(tables: Tables, rulebook: Rulebook, place: str) -> dict[str, pl.DataFrame]:
    """The record without the tables and fields that no sheet asks for."""
    asked = fields_asked(rulebook, [place], ["ground"])
    shown = {t: {c.field.name for c in columns} for t, columns in sheet_columns(asked).items()}
    shown["job"] = {*ALWAYS_SAID, *asked.get("job", {})}
    kept = dict(tables)
    for name in (*SITE_TABLES, "job", "documents"):
        table = kept[name]
        hidden = [f.name for f in TABLES[name].fields if f.name not in shown.get(name, set())]
        blank = [pl.lit(None, dtype=table.schema[h]).alias(h) for h in hidden if h in table.columns]
        kept[name] = table.with_columns(blank) if name in shown else table.clear()
    return kept


@pytest.mark.parametrize("place", SITE_PLACES)
def test_what_the_workbook_does_not_ask_for_changes_no_outcome(place: str) -> None:
    rulebook = read_rules([place])
    compared = 0
    for tables in _records().values():
        here = {
            **tables,
            "job": tables["job"].with_columns(pl.lit(place).cast(tables["job"].schema["state"]).alias("state")),
        }
        full = _outcomes(here, rulebook)
        assert _outcomes(_as_the_workbook_has_it(here, rulebook, place), rulebook) == full
        compared += sum(len(rows) for rule, rows in full.items() if rule.startswith(place.lower()))
    assert compared
