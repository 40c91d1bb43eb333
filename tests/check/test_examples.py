"""Worked examples of rule files: each is run, and each part of its expectation can fail."""

from __future__ import annotations

from typing import Any

import pytest

from auditor.check.examples import example_frame, outcome_words, run_examples
from auditor.rules.compiled import Code
from auditor.rules.models import Example, RuleFile
from auditor.rules.reading import Rulebook
from tests.rules.small import CITED, LIMIT, a_file, a_limit, a_rule, an_allowance

TEN = an_allowance("ten", percent_more=10, than="base", where={"product": "chips"})
FIFTEEN = an_allowance("fifteen", form="enforcement tolerance", percent_more=15, than="base")


def example(**parts: Any) -> dict[str, Any]:
    return {"situation": "a load", "on": "2026-05-04", "row": {"gross_weight_lb": 81_000, "product": "sawlogs"},
            "expect": "nonconformity", **parts}  # fmt: skip


def wrong(*examples: dict[str, Any], file: RuleFile | None = None, **rule: Any) -> list[str]:
    limit = a_limit(allowances=[TEN, FIFTEEN])
    made = file or a_file(a_rule(examples=list(examples), **rule), **{LIMIT: limit})
    return [str(p) for p in run_examples(Rulebook((made,)))]


def test_examples_that_come_out_are_silent() -> None:
    chips = {"gross_weight_lb": 85_000, "product": "chips"}
    assert wrong(
        example(limit=80_000, by="base", tolerated=True),
        example(row={"gross_weight_lb": 80_000}, expect="conformity"),
        example(row=chips, expect="conformity", by="ten"),
        example(row={"gross_weight_lb": 85_000}, expect="not evidenced", missing=["product"]),
    ) == []  # fmt: skip


@pytest.mark.parametrize(
    ("parts", "message"),
    [
        ({"expect": "conformity"}, 'us-ga/weight, rule gross, example "a load": found nonconformity; expected conformity. Mend'),
        ({"limit": 88_000}, "found limit 80000.0; expected limit 88000.0."),
        ({"by": "ten"}, "found arm base; expected arm ten."),
        ({"tolerated": False}, "found tolerated True; expected tolerated False."),
        ({"row": {"gross_weight_lb": 85_000, "product": "chips"}, "expect": "conformity", "by": "fifteen"},
         "found arm ten; expected arm fifteen."),
        ({"row": {"gross_weight_lb": 85_000}, "expect": "not evidenced", "missing": ["county"]},
         "found missing ['product']; expected missing ['county']."),
        ({"row": {"gros_weight_lb": 81_000}, "expect": "not evidenced"}, 'found column "gros_weight_lb"; expected a column of load_legs.'),
    ],
)  # fmt: skip
def test_each_part_of_an_expectation_can_fail(parts: dict[str, Any], message: str) -> None:
    found = wrong(example(**parts))
    assert any(message in m for m in found), found


def test_an_example_on_a_day_without_the_rule_is_told() -> None:
    found = wrong(example(on="2020-01-01"), example(), **{"from": "2023-07-01"})
    assert len(found) == 1
    assert "found no rule in force that day; expected nonconformity" in found[0]
    assert wrong(example(on="2020-01-01", expect="not applicable"), example(), **{"from": "2023-07-01"}) == []


def test_each_example_is_held_against_its_own_rule() -> None:
    light = a_rule(id="light", must={"gross_weight_lb": {"at_most": {"limit": "light_lb"}}},
                   examples=[example(row={"gross_weight_lb": 61_000}, limit=60_000)])  # fmt: skip
    heavy = a_rule(examples=[example(row={"gross_weight_lb": 61_000}, expect="conformity")])
    file = a_file([light, heavy], **{LIMIT: a_limit(), "light_lb": a_limit(60_000)})
    assert wrong(file=file) == []


def test_examples_follow_the_version_of_their_day() -> None:
    versions = [{"value": 80_000, "until": "2025-06-30", **CITED}, {"value": 84_000, "from": "2025-07-01", **CITED}]
    examples = [example(on="2025-06-30", limit=80_000), example(on="2025-07-01", expect="conformity")]
    assert wrong(file=a_file(a_rule(examples=examples), **{LIMIT: a_limit() | {"versions": versions}})) == []


def test_a_frame_of_examples_is_blank_where_nothing_is_said() -> None:
    rows = [
        Example.model_validate(example(row=r))
        for r in ({"group_weight_lb": 34_000}, {"group_weight_lb": [0, 80_000]}, {})
    ]
    frame = example_frame("axle_groups", rows, ["holds:overweight_permit"])
    assert frame["group_weight_lb__lo"].to_list() == [34_000, 0, None]
    assert frame["group_weight_lb__hi"].to_list() == [34_000, 80_000, None]
    assert frame["product"].to_list() == [None] * 3
    assert frame["holds:overweight_permit"].to_list() == [None] * 3
    assert frame["subject"].to_list() == ["0", "1", "2"]


def test_outcomes_in_words() -> None:
    law, practice = a_file().rules[0], a_file(a_rule(standing="guidance")).rules[0]
    assert [outcome_words(int(c), law) for c in Code] == [
        "not applicable", "conformity", "not verifiable", "inconclusive", "not evidenced", "nonconformity"
    ]  # fmt: skip
    assert outcome_words(int(Code.NONCONFORMITY), practice) == "departure from practice"
