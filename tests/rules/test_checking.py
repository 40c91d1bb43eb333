"""The rule checker: each check fires on a fault planted for it, and names the nearest word where there is one."""

from __future__ import annotations

from typing import Any

import pytest

from auditor.rules.checking import check_files, rules_schema, sibling_rules
from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook
from tests.rules.small import CITED, LIMIT, a_cap, a_file, a_limit, a_rule, an_allowance

EXAMPLE = {"situation": "inside", "on": "2026-05-04", "row": {"gross_weight_lb": 70_000}, "expect": "conformity"}
AT_MOST = {"at_most": {"limit": LIMIT}}


def said(file: RuleFile) -> list[str]:
    return [str(p) for p in check_files(Rulebook((file,)))]


def rule(**parts: Any) -> dict[str, Any]:
    return a_rule(**{"examples": [EXAMPLE], **parts})


def of_rule(**parts: Any) -> list[str]:
    """What the checker says of a file with one rule, apart from limits the rule leaves without use."""
    return [m for m in said(a_file(rule(**parts))) if "no use of it" not in m]


def of_limit(limit: dict[str, Any], **others: Any) -> list[str]:
    return said(a_file(rule(), **{LIMIT: limit, **others}))


def test_a_sound_file_has_no_problem() -> None:
    assert said(a_file(rule())) == []


@pytest.mark.parametrize(
    ("parts", "message"),
    [
        ({"examines": "load_leg"}, 'us-ga/weight, rule gross: found examines "load_leg"; expected a view. Did you mean load_legs'),
        ({"source": "t"}, 'us-ga/weight, rule gross: found source "t"; expected a key of sources. Mend the file.'),
        ({"where": {"produkt": "chips"}}, 'found column "produkt"; expected a column of load_legs. Did you mean product'),
        ({"where": {"product": "chip"}}, 'found "chip"; expected a class of product. Did you mean chips'),
        ({"where": {"product": {"one_of": ["chips", "log"]}}}, 'found "log"; expected a class of product.'),
        ({"when": {"axle_count": {"atleast": {"limit": LIMIT}}}}, 'found "atleast"; expected one of at_least, more_than'),
        ({"when": {"axle_count": {"atleast": {"limit": LIMIT}}}}, "Did you mean at_least"),
        ({"must": {"gross_weight_lb": {"at_most": {"limit": "weight_limit"}}}}, "Did you mean weight_limit_lb?"),
        ({"must": {"gross_weight_lb": {"at_most": {"field": "registered_gros_lb"}}}}, "Did you mean registered_gross_lb"),
        ({"must": {"gross_weight_lb": {"at_most": 80_000}}}, "found the figure 80000; expected figures of law only under limits"),
        ({"must": {"haul_radius_miles": "[0, 100)"}}, "found the figure [0, 100); expected figures of law only under limits"),
        ({"must": {"product": {"at_most": "chips"}}}, "expected a word, one_of or none_of"),
        ({"must": {"unitized": "yes"}}, "expected true or false"),
        ({"must": {"unitized": {"one_of": [True]}}}, "expected true or false"),
        ({"must": {"product": True}}, "expected a word, one_of or none_of"),
        ({"must": {"axle_count": {"recorded": "yes"}}}, "expected recorded: true or recorded: false"),
        ({"must": {"load_date": "2026-05-04"}}, "expected recorded: true or recorded: false, the one test"),
        ({"must": {"axle_count": {"one_of": 5}}}, "expected a list"),
        ({"must": {"product": {"equals": {"field": "destination_kind"}}}}, "expected a comparison of two numbers"),
        ({"must": {"gross_weight_lb": {"at_most": {"limt": LIMIT}}}}, "expected {limit: ...} with a limit of this file"),
        ({"must": {"product": {"one_of": {"limit": LIMIT}}}}, "product: one_of with weight_limit_lb, which is a number"),
        ({"unless": [{"id": "e", "title": "e"}]}, "unless e: found no condition; expected where or needs"),
        ({"unless": [{"id": "e", "title": "e", "where": {"unitzed": True}}]}, "Did you mean unitized"),
        ({"unless": [{"id": "e", "title": "e", "where": {"dark": True}, "source": "t"}]}, 'unless e: found source "t"'),
        ({"unless": [{"id": "e", "title": "e", "needs": {"document": "overwight_permit"}}]}, "Did you mean overweight_permit"),
        ({"unless": [{"id": "e", "title": "e", "needs": {"document": "overweight_permit", "state": "GA"}}]}, 'found state "GA"'),
        ({"action": "Take 500 lb off."}, "expected a text without figures or unknown placeholders"),
        ({"action": "Take {pounds} off."}, "expected a text without figures or unknown placeholders"),
        ({"caution": " "}, "found an empty text"),
        ({"from": "2026-01-02", "until": "2026-01-01"}, "found until 2026-01-01 before from 2026-01-02"),
        ({"examples": []}, "found no examples"),
        ({"examples": [EXAMPLE | {"expect": "nonconformity"}]}, "found no example that conforms"),
    ],
)  # fmt: skip
def test_faults_of_a_rule(parts: dict[str, Any], message: str) -> None:
    found = of_rule(**parts)
    assert any(message in m for m in found), found


def test_placeholders_and_plain_counts_are_no_faults() -> None:
    text = "Take {margin} {unit} ({tons} tons) off: {value} against {limit}."
    assert of_rule(action=text, when={"axle_count": {"more_than": 1}}) == []


@pytest.mark.parametrize(
    ("limit", "message"),
    [
        (a_limit(allowances=[an_allowance(value=1, where={"product": "chip"})]), "Did you mean chips"),
        (a_limit(allowances=[an_allowance(value=1, needs={"document": "permit"})]), 'found document "permit"'),
        (a_limit(allowances=[an_allowance(percent_more=5, than="gross_lb")]), 'found limit "gross_lb"'),
        (a_limit(allowances=[an_allowance(percent_more=5, than="limit")]), "found than: limit; expected than: base in allowances"),
        (a_limit({"percent_more": 5, "than": "base"}), "found than: base; expected"),
        (a_limit(allowances=[an_allowance(value=1), an_allowance(value=2)]), 'found the id "more" twice'),
        (a_limit(allowances=[an_allowance(value=1)], caps=[a_cap("more", value=2)]), 'found the id "more" twice'),
        (a_limit({"limit": LIMIT}), "found a limit that rests on itself"),
        (a_limit({"sum_of": [{"times": "axle_cout", "of": LIMIT}]}), 'found column "axle_cout"'),
        (a_limit({"sum_of": [{"times": 2, "of": "axle_lb"}]}), 'found limit "axle_lb"'),
        (a_limit({"field": "posted_gross_lb"}), "Did you mean posted_road_gross_lb"),
        (a_limit({"points": {"at": "span_ft", "values": {1: 2, 3: 4}, "between": "lower", "between_is": "law"}}), "Did you mean outer_span_ft"),
        (a_limit({"linear": {"base": 0, "times": 1, "per": "span_ft"}}), 'found column "span_ft"'),
        (a_limit({"lesser_of": [{"value": 1}, {"words": ["a"]}]}), "found words inside another shape"),
        (a_limit({"words": ["a"]}, allowances=[an_allowance(value=1)]), "found words and numbers in one limit"),
        (a_limit({"said": [{"value": 1, "source": "t", "verified": "read"}]}), 'found source "t"'),
        (a_limit({"measure": {"name": "bridge_limit", "of": {}}}), "Did you mean bridge_limit_lb"),
        (a_limit({"measure": {"name": "bridge_limit_lb", "of": {"axle_count": "axle_count"}}}), "expected the inputs axle_count, span_ft"),
        (a_limit({"measure": {"name": "bridge_limit_lb", "of": {"axle_count": "axle_count", "span_ft": "outer_span_ft"}, "with": {"round": "up"}}}),
         'found parameter "round"'),
        (a_limit() | {"versions": [{"value": 1, **CITED}, {"value": 2, **CITED}]}, "found versions that overlap on None"),
        (a_limit() | {"versions": [{"value": 1, "until": "2025-06-30", **CITED}, {"value": 2, "from": "2025-06-30", **CITED}]}, "overlap on 2025-06-30"),
        (a_limit() | {"versions": [{"value": 1, "until": "2025-06-30", **CITED}, {"value": 2, "from": "2025-07-02", **CITED}]},
         "found no version between 2025-06-30 and 2025-07-02"),
        (a_limit({"table": {"rows": [{"when": {"produckt": "chips"}, "value": 1}]}}), "Did you mean product"),
    ],
)  # fmt: skip
def test_faults_of_a_limit(limit: dict[str, Any], message: str) -> None:
    found = of_limit(limit)
    assert any(message in m for m in found), found


def test_versions_that_meet_are_no_fault() -> None:
    versions = [{"value": 1, "until": "2025-06-30", **CITED}, {"value": 2, "from": "2025-07-01", **CITED}]
    assert of_limit(a_limit() | {"versions": versions}) == []


def test_an_allowance_cannot_stand_on_a_limit_that_must_be_reached() -> None:
    file = a_file(
        rule(must={"gross_weight_lb": {"at_least": {"limit": LIMIT}}}),
        **{LIMIT: a_limit(allowances=[an_allowance(value=1)])},
    )
    assert any("an allowance on weight_limit_lb, which must be reached" in m for m in said(file))


def test_a_limit_nobody_uses_is_named_and_one_used_through_another_is_not() -> None:
    assert any("limit spare_lb: found no use of it" in m for m in of_limit(a_limit(), spare_lb=a_limit()))
    assert of_limit(a_limit({"limit": "spare_lb"}), spare_lb=a_limit()) == []
    # two limits that only use each other are used by nobody
    circle = {"a_lb": a_limit({"limit": "b_lb"}), "b_lb": a_limit({"limit": "a_lb"})}
    assert sum("no use of it" in m for m in of_limit(a_limit(), **circle)) == 2


def table(*rows: tuple[dict[str, Any], float]) -> list[str]:
    return of_limit(a_limit({"table": {"rows": [{"when": w, "value": v} for w, v in rows]}}))


def test_gaps_and_overlaps_of_a_table_over_all_its_columns() -> None:
    whole = [({"haul_radius_miles": "[0, 100]"}, 1), ({"haul_radius_miles": "(100, inf)"}, 2)]
    assert table(*whole) == []
    assert any("no row for haul_radius_miles 100" in m for m in table(({"haul_radius_miles": "[0, 100)"}, 1), whole[1]))
    assert any(
        "rows that differ for haul_radius_miles 100" in m
        for m in table(whole[0], ({"haul_radius_miles": "[100, inf)"}, 2))
    )
    assert table(whole[0], ({"haul_radius_miles": "[100, inf)"}, 1)) == []  # rows that agree may overlap
    two = [
        ({"haul_radius_miles": "[0, 100]", "unitized": True}, 1),
        ({"haul_radius_miles": "(100, inf)", "unitized": True}, 2),
        ({"haul_radius_miles": "(100, inf)", "unitized": False}, 3),
    ]
    assert any("no row for haul_radius_miles 0.0, unitized False" in m for m in table(*two))
    assert table(*two, ({"haul_radius_miles": "[0, 100]", "unitized": False}, 4)) == []


def test_gaps_of_a_table_over_classes_words_and_counts() -> None:
    chips, others = {"product": "chips"}, {"product": {"none_of": ["chips"]}}
    assert table((chips, 1), (others, 2)) == []
    assert any("no row for product sawlogs" in m for m in table((chips, 1)))
    assert any("no row for county another word" in m for m in table(({"county": "Henry"}, 1)))
    assert table(({"county": "Henry"}, 1), ({"county": {"none_of": ["Henry"]}}, 2)) == []
    # counts are whole: nothing lies between 4 and 5, but 3 and 4 lie between 2 and 5
    assert table(({"axle_count": "[0, 4]"}, 1), ({"axle_count": {"at_least": 5}}, 2)) == []
    assert any(
        "no row for axle_count 3" in m
        for m in table(({"axle_count": "[0, 2]"}, 1), ({"axle_count": {"at_least": 5}}, 2))
    )


def test_words_of_a_list_are_held_against_the_classes_of_the_column() -> None:
    file = a_file(rule(must={"product": {"one_of": {"limit": "wood"}}}), wood=a_limit({"words": ["chips", "log"]}))
    assert any('found "log"; expected a class of product' in m for m in said(file))


def test_faults_of_the_file_itself() -> None:
    sound = a_file(rule()).model_dump(by_alias=True, exclude_unset=True)
    faults = {
        "place": ("US-GG", "Did you mean US-GA"),
        "topic": ("wieght", "Did you mean weight"),
        "id": ("weight", "expected place/topic"),
        "rules": ([*sound["rules"], *sound["rules"]], "found the id twice"),
        "definitions": ({"d": {"source": "t", "verified": "read"}}, 'definitions.d: found source "t"'),
    }
    for name, (value, message) in faults.items():
        found = said(RuleFile.model_validate(sound | {name: value}))
        assert any(message in m for m in found), (name, found)


def test_examples_are_asked_for_only_where_they_are_wanted() -> None:
    file = a_file(a_rule())
    assert said(file)
    assert check_files(Rulebook((file,)), with_examples=False) == []


def test_rules_split_on_a_class_are_noted() -> None:
    pair = [rule(id=i, where={"product": p}, must={"gross_weight_lb": {"at_most": {"limit": n}}})
            for i, p, n in (("a", "chips", "a_lb"), ("b", "sawlogs", "b_lb"))]  # fmt: skip
    file = a_file(pair, a_lb=a_limit(), b_lb=a_limit())
    assert sibling_rules(Rulebook((file,))) == ["us-ga/weight: a and b test gross_weight_lb and split on product"]
    assert sibling_rules(Rulebook((a_file(pair[:1], a_lb=a_limit()),))) == []


def test_the_schema_names_what_a_file_holds() -> None:
    schema = rules_schema()
    assert {"id", "place", "topic", "sources", "rules"} <= set(schema["required"])
    assert schema["$defs"]["Version"]["properties"].keys() >= {"value", "from", "until", "source"}
