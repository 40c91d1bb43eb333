"""Rule files in words: the list, and a rule shown whole."""

from __future__ import annotations

import pytest

from auditor.rules.listing import rule_lines
from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook
from auditor.rules.shape_words import tree_text
from auditor.vocabulary.problems import UnusableInput
from tests.rules.small import LIMIT, a_cap, a_file, a_limit, a_rule, an_allowance


def book(*files: RuleFile) -> Rulebook:
    return Rulebook(files or (a_file(),))


def test_the_list_names_files_and_rules() -> None:
    assert list(rule_lines(book(), [], whole=False)) == ["us-ga/weight: Weight", "  us-ga/weight/gross: Gross weight"]


@pytest.mark.parametrize("name", ["us-ga", "US-GA", "us-ga/", "us-ga/weight", "us-ga/weight/gross"])
def test_a_name_is_a_place_a_file_or_a_rule(name: str) -> None:
    assert len(list(rule_lines(book(), [name], whole=False))) == 2


@pytest.mark.parametrize("name", ["us-ga/weigh", "us-ga/weight/gros"])
def test_an_unknown_name_is_refused_with_the_nearest(name: str) -> None:
    with pytest.raises(UnusableInput, match="Did you mean us-ga/weight"):
        list(rule_lines(book(), [name], whole=False))


@pytest.mark.parametrize("name", ["us-g", "us-zz", "ZZ", "us-zz/"])
def test_an_unknown_place_is_answered_with_the_places_that_there_are(name: str) -> None:
    federal = a_file().model_copy(update={"id": "us/weight", "place": "US"})
    with pytest.raises(UnusableInput) as caught:
        list(rule_lines(book(a_file(), federal), [name], whole=False))
    assert [p.todo for p in caught.value.problems] == ["Places with rule files: us, us-ga."]


def test_a_rule_shown_whole_reads_as_text() -> None:
    limit = a_limit(
        allowances=[an_allowance(percent_more=5, than="base", where={"haul_radius_miles": {"at_most": 100}})],
        caps=[a_cap(value=56_000, where={"road_class": "county_road"})],
    )
    unless = [
        {
            "id": "e",
            "title": "held by a permit",
            "where": {"unitized": True},
            "needs": {"document": "overweight_permit"},
        }
    ]
    file = a_file(a_rule(where={"product": {"one_of": ["chips", "sawlogs"]}}, unless=unless), **{LIMIT: limit})
    lines = [line.strip() for line in rule_lines(book(file), [], whole=True)]
    for expected in (
        "where: product is one of chips, sawlogs",
        "must: gross_weight_lb at most weight_limit_lb",
        "unless held by a permit: unitized is yes; needs overweight_permit",
        "limit weight_limit_lb: weight",
        "80,000 lb; Act, read",
        "raised limit, the allowance more: 5 percent more than base; Act, read",
        "where haul_radius_miles at most 100",
        "cap, the cap cap: 56,000 lb; Act, read",
    ):
        assert expected in lines, lines


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ({"words": ["Henry", "Cobb"]}, "Henry, Cobb"),
        ({"table": {"rows": [{"when": {"axle_count": 3}, "value": 61_020}]}}, "61,020 lb where axle_count is 3"),
        ({"said": [{"value": 80_000, "source": "s", "verified": "read"}, {"value": 84_000, "source": "s", "verified": "read"}]},
         "80,000 lb or 84,000 lb, for the sources disagree"),
        ({"linear": {"base": 100, "times": 0.5, "per": "outer_span_ft", "at_most": 900}}, "100 lb + 0.5 x outer_span_ft, at most 900 lb"),
        ({"lesser_of": [{"value": 1}, {"field": "designated_gross_lb"}]}, "the lesser of (1 lb; designated_gross_lb)"),
        ({"sum_of": [{"times": "tandem_count", "of": LIMIT}]}, "tandem_count x weight_limit_lb"),
        ({"points": {"at": "outer_span_ft", "values": {10: 5, 20: 6}, "between": "lower", "between_is": "law"}},
         "by outer_span_ft, 10: 5, 20: 6; lower between (law)"),
    ],
)  # fmt: skip
def test_shapes_in_words(value: dict[str, object], expected: str) -> None:
    lines = [line.strip() for line in rule_lines(book(a_file(None, **{LIMIT: a_limit(value)})), [], whole=True)]
    assert f"{expected}; Act, read" in lines


def test_groups_in_words() -> None:
    tree = {"any_of": [{"dark": True}, {"axle_count": "[1, 4]", "product": "chips"}]}
    assert tree_text(tree) == "(dark is yes or (axle_count in [1, 4] and product is chips))"
    assert tree_text({"none_of": [{"county": {"recorded": False}}]}) == "none of (county is left blank)"
    two = {"at_least_n_of": {"n": 2, "of": [{"dark": True}, {"dark": False}]}}
    assert tree_text(two) == "at least 2 of (dark is yes or dark is no)"
