"""How well a requirement is known: no better than the definitions by which its columns are made."""

from __future__ import annotations

from typing import Any

import pytest

from auditor.check import views
from auditor.check.limits_used import cite_definitions, definitions_used, mark
from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook, read_rules
from auditor.vocabulary import VIEWS
from tests.check.haul import a_record, job_report, loads
from tests.rules.small import AXLE_GROUPS, CITED, LIMIT, a_file, a_rule

GROUPED = a_rule(id="many", where={"tandem_count": {"at_least": 0}})
GROSS = a_rule()
AXLES = [{"truck": "T1", "trailer": "L1", "axle": n, "position_ft": p, "lift_axle": "no"}
         for n, p in enumerate((0, 12, 16, 40, 44), 1)]  # fmt: skip


def known_as(verified: str, **parts: Any) -> RuleFile:
    """A file whose definition of axle groups is so well known."""
    file = a_file([GROSS, GROUPED])
    told = {**AXLE_GROUPS, **CITED, "verified": verified, **parts}
    return RuleFile.model_validate(
        {**file.model_dump(by_alias=True, exclude_unset=True), "definitions": {"axle_groups": told}}
    )


@pytest.mark.parametrize(
    ("definition", "expected"), [("read", "read"), ("secondary", "secondary"), ("memory", "memory")]
)
def test_a_rule_is_known_no_better_than_what_its_columns_mean(definition: str, expected: str) -> None:
    book = Rulebook((known_as(definition),))
    assert mark(book, "us-ga/weight/many", LIMIT, "base") == expected
    assert mark(book, "us-ga/weight/gross", LIMIT, "base") == "read"


def test_the_definition_of_the_place_is_asked_before_that_of_the_country() -> None:
    ga = known_as("memory")
    us = ga.model_copy(update={"id": "us/weight", "place": "US", "definitions": a_file().definitions})
    book = Rulebook((us, ga))
    assert {rule: definitions_used(book, f"{rule}/many")["axle_groups"][0].id for rule in ("us/weight", "us-ga/weight")} == {
        "us/weight": "us/weight", "us-ga/weight": "us-ga/weight",
    }  # fmt: skip
    # A place without one of its own has that of the country.
    bare = ga.model_copy(update={"definitions": {}})
    assert definitions_used(Rulebook((us, bare)), "us-ga/weight/many")["axle_groups"][0].id == "us/weight"


def test_a_finding_on_tandems_known_from_memory_is_unconfirmed_and_cites_the_definition() -> None:
    found = job_report(a_record(loads(81_000), axles=AXLES), known_as("memory", at="p. 3"))
    assert {f.rule: (f.confirmed, f.grade) for f in found.findings} == {
        "us-ga/weight/gross": (True, "major"), "us-ga/weight/many": (False, "minor"),
    }  # fmt: skip
    (cited,) = [limit for limit in found.limits if limit.form == "definition"]
    assert (cited.key, cited.means, cited.verified, cited.at) == (
        "us-ga/weight/definition/axle_groups", "what counts as axle groups", "memory", "p. 3",
    )  # fmt: skip


def test_a_definition_that_was_read_is_not_cited() -> None:
    book = Rulebook((known_as("read"),))
    assert list(cite_definitions(book, "us-ga/weight/many")) == []


def test_every_definition_named_in_the_vocabulary_is_one_of_the_shipped_files_or_has_a_default() -> None:
    shipped = {name for file in read_rules(examples=False).files for name in file.definitions}
    named = {f.defined_by for view in VIEWS.values() for f in view.fields} | {
        view.defined_by for view in VIEWS.values()
    }
    # What is steep is defined by no shipped file: the rules give their limits on the grade itself.
    assert named - {None, "steep"} <= shipped


def test_what_a_view_is_given_to_read_is_what_its_fields_name() -> None:
    for view, law in views._LAW.items():
        named = {f.defined_by for f in VIEWS[view].fields} - {None}
        assert named <= set(law), view
