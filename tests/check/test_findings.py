"""Findings: what is grouped, counted and worded, and what an unconfirmed limit or a voluntary practice may not do."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from auditor.cli import exit_status
from auditor.report.model import Finding
from auditor.rules.models import RuleFile
from tests.check.haul import a_record, finding, job_report, load, loads, report
from tests.rules.small import CITED, LIMIT, a_cap, a_file, a_limit, a_rule, an_allowance

MEMORY = {"source": "s", "verified": "memory"}
SECOND = {"source": "s", "verified": "secondary"}
FIFTEEN = an_allowance("fifteen", form="enforcement tolerance", percent_more=15, than="base")
LEGS = (
    {"leg": 1, "road_class": "county_road", "road_name": "Mill Road"},
    {"leg": 2, "road_class": "state_route", "road_name": "Route 14"},
    {"leg": 3, "road_class": "us_route"},
)


def gross(limit: dict[str, Any], **rule: Any) -> RuleFile:
    return a_file(a_rule(**rule), **{LIMIT: limit})


def on_loads(must: dict[str, Any], **limits: Any) -> RuleFile:
    return a_file(a_rule(examines="loads", must=must), **limits)


def test_equal_shortcomings_are_one_finding_with_the_worst_first() -> None:
    found = finding(a_record(loads(81_000, 79_000, 83_500, 80_000)), a_file())
    assert [(i.subject, i.margin) for i in found.items] == [("A3", 3_500), ("A1", 1_000)]
    assert (found.subject_count, found.judged_count, found.number, found.kind, found.grade) == (
        2,
        4,
        1,
        "nonconformity",
        "major",
    )
    assert found.worst == "ticket A3: on Route 14 (GA), 83,500 lb, at most 80,000 lb"
    assert found.summary == "2 loads of 4 judged; off by 3,500 lb at most"


def test_a_load_counts_once_however_many_legs_it_is_over_on() -> None:
    caps = [a_cap(value=56_000, where={"road_class": "county_road"})]
    found = finding(a_record(loads(81_000), LEGS), gross(a_limit(caps=caps)))
    (item,) = found.items
    # over by 25,000 on the county road, by 1,000 on either of the others
    assert (item.margin, item.what, item.also_on) == (25_000, "on Mill Road (GA)", 2)
    assert (found.subject_count, found.judged_count) == (1, 1)
    assert item.limit_key == "us-ga/weight/weight_limit_lb/cap"


def test_a_ticket_number_used_twice_is_two_loads() -> None:
    rows = [load("A1", gross_weight_lb=81_000), load("A1", gross_weight_lb=82_000, load_date="2026-05-05")]
    found = finding(a_record(rows), a_file())
    assert [i.subject for i in found.items] == ["A1#2", "A1"]
    assert (found.subject_count, found.judged_count) == (2, 2)


def test_a_tolerated_row_does_not_hide_one_that_is_not() -> None:
    # state route: 75,000 over 70,000 by 5,000, tolerated to 80,500; county road: over its cap of 74,000 by 1,000 only
    allowances = [FIFTEEN | {"where": {"road_class": "state_route"}}]
    limit = a_limit(
        70_000, allowances=[an_allowance("county", value=74_000, where={"road_class": "county_road"}), *allowances]
    )
    found = finding(a_record(loads(75_000), LEGS[:2]), gross(limit))
    (item,) = found.items
    assert (item.what, item.tolerated, found.tolerated_count, item.also_on) == ("on Mill Road (GA)", False, 0, 1)


def test_tolerated_loads_are_counted_and_come_last() -> None:
    # 80,000 x 1.15 = 92,000
    found = finding(a_record(loads(91_000, 92_001, 85_000)), gross(a_limit(allowances=[FIFTEEN])))
    assert [(i.subject, i.tolerated) for i in found.items] == [("A2", False), ("A1", True), ("A3", True)]
    assert (found.tolerated_count, found.grade) == (2, "major")
    assert (
        found.summary == "3 loads of 3 judged; off by 12,001 lb at most; 2 of them lie inside an enforcement tolerance"
    )


def test_a_finding_that_is_wholly_tolerated_is_minor() -> None:
    found = finding(a_record(loads(91_000)), gross(a_limit(allowances=[FIFTEEN])))
    assert (found.tolerated_count, found.grade) == (1, "minor")
    assert found.summary.endswith("; it lies inside an enforcement tolerance")


def test_the_gravest_finding_comes_first() -> None:
    rules = [
        a_rule(id="minor", grade="minor"),
        a_rule(id="practice", standing="voluntary practice"),
        a_rule(id="few", where={"unitized": True}),
        a_rule(id="many"),
    ]
    rows = [load("A1", gross_weight_lb=81_000, unitized="yes"), load("A2", gross_weight_lb=81_000, unitized="no")]
    found = job_report(a_record(rows), a_file(rules)).findings
    assert [(f.number, f.rule.rpartition("/")[2]) for f in found] == [
        (1, "many"),
        (2, "few"),
        (3, "minor"),
        (4, "practice"),
    ]


@pytest.mark.parametrize(
    ("weight", "limit", "expected"),
    [
        (81_000, a_limit(), "1,000 lb off (about 0.5 short tons)"),
        (80_001, a_limit(80_000.5), "1 lb off"),  # half a pound is rounded up to one
        (90_000, a_limit(allowances=[an_allowance("p", form="permit", value=95_000, needs={"document": "overweight_permit"})]),
         "10,000 lb off (about 5 short tons); or show the paper: the allowance p"),
    ],
)  # fmt: skip
def test_what_would_mend_a_weight(weight: int, limit: dict[str, Any], expected: str) -> None:
    (item,) = finding(a_record(loads(weight)), gross(limit)).items
    assert item.to_mend == expected


MARKING = {"flag_count": {"at_least": {"limit": "flags"}}}
FLAGS = {"means": "flags", "unit": "flags", "versions": [{"value": 2, **CITED}]}


@pytest.mark.parametrize(
    ("flags", "worst", "mend"),
    [(1, "1 flag, at least 2 flags", "1 flag more"), (0, "0 flags, at least 2 flags", "2 flags more")],
)
def test_counts_are_worded_for_one_and_many(flags: int, worst: str, mend: str) -> None:
    found = finding(
        a_record([load("A1")], markings=[{"load": "A1", "flag_count": flags}]), on_loads(MARKING, flags=FLAGS)
    )
    assert (found.worst, found.items[0].to_mend) == (f"ticket A1: {worst}", mend)
    assert found.summary == f"1 load of 1 judged; off by {mend.removesuffix(' more')} at most"


def test_a_limit_that_must_not_be_reached_says_less_than() -> None:
    length = {"means": "length", "unit": "ft", "versions": [{"value": 60, **CITED}]}
    file = on_loads({"overall_length_ft": {"less_than": {"limit": "length_ft"}}}, length_ft=length)
    (item,) = finding(a_record([load("A1", overall_length_ft=60)]), file).items
    assert (item.margin, item.boundary, item.to_mend) == (0, "less than", "less than 60 ft")


@pytest.mark.parametrize(("lamps", "mend"), [(3, "1 lamp less"), (1, "1 lamp more")])
def test_an_exact_count_is_mended_from_either_side(lamps: int, mend: str) -> None:
    limit = {"means": "lamps", "unit": "lamps", "versions": [{"value": 2, **CITED}]}
    record = a_record([load("A1")], markings=[{"load": "A1", "lamp_count": lamps}])
    (item,) = finding(record, on_loads({"lamp_count": {"equals": {"limit": "lamps"}}}, lamps=limit)).items
    assert (item.boundary, item.to_mend) == ("exactly", mend)


def test_weak_tiedowns_are_counted_in_those_on_board() -> None:
    # two straps of 2,000 lb hold 4,000; 10,000 asked: 6,000 short, which is 3 more of them
    wll = {"means": "strength", "unit": "lb", "versions": [{"value": 10_000, **CITED}]}
    rule = a_rule(examines="stacks", must={"aggregate_wll_lb": {"at_least": {"limit": "wll_lb"}}})
    file = a_file(rule, wll_lb=wll)
    routing = {"tables": [], "unmarked": {}, "routing_factors": {"over_to_other_side": 1.0}, **CITED}
    file = RuleFile.model_validate(
        file.model_dump(by_alias=True, exclude_unset=True) | {"definitions": {"working_load_limits": routing}}
    )
    straps = {"load": "A1", "stack": 1, "tiedown": 1, "count": 2, "kind": "tiedown", "marked_wll_lb": 2_000,
              "tensioner_wll_lb": 5_000, "anchor_wll_lb": 5_000, "routing": "over_to_other_side", "defective": "no"}  # fmt: skip
    record = a_record([load("A1", net_weight_lb=50_000)], stacks=[{"load": "A1", "stack": 1}], tiedowns=[straps])
    (item,) = finding(record, file).items
    assert (item.measured, item.to_mend) == (4_000, "3 more of the tiedowns on board (2,000 lb each), or stronger ones")
    assert item.what == "stack 1"


def test_a_requirement_without_a_number_shows_what_was_found() -> None:
    found = finding(a_record([load("A1", slippery="yes")]), on_loads({"slippery": False}, **{LIMIT: a_limit()}))
    (item,) = found.items
    assert (item.measured, item.limit, item.margin, item.unit, item.boundary, item.to_mend) == (
        None,
        None,
        None,
        None,
        "",
        "",
    )
    assert found.worst == "ticket A1: slippery: yes"
    assert item.limit_key == "us-ga/weight/gross"


def test_placeholders_are_filled_with_the_worst_case() -> None:
    file = a_file(
        a_rule(action="Take {margin} {unit} ({tons} tons) off: {value} of {limit}.", caution="Mind {limit} {unit}.")
    )
    found = finding(a_record(loads(81_000, 83_000)), file)
    assert found.action == "Take 3,000 lb (1.5 tons) off: 83,000 of 80,000."
    assert found.caution == "Mind 80,000 lb."


def test_the_evidence_of_an_item_names_its_row_and_vehicle() -> None:
    (item,) = finding(a_record(loads(79_000, 81_000)), a_file()).items
    assert (item.source, item.vehicle, item.destination) == ("loads, row 2", "T1 + L1", "MILL")


def test_a_finding_keeps_its_identity_from_run_to_run() -> None:
    first = finding(a_record(loads(81_000)), a_file())
    grown = finding(a_record(loads(83_000, 81_000, 79_000)), a_file())
    other = finding(a_record(loads(81_000), job="OTHER"), a_file())
    assert first.id == grown.id != other.id
    assert len(first.id) == 12


def marks(file: RuleFile, *weights: int) -> list[Finding]:
    return job_report(a_record(loads(*weights)), file).findings


@pytest.mark.parametrize(
    "file",
    [
        gross(a_limit() | {"versions": [{"value": 80_000, **MEMORY}]}),
        gross(a_limit(), **MEMORY),
        gross(a_limit({"limit": "other_lb"}) | {}, **CITED).model_copy(
            update={"limits": gross(a_limit({"limit": "other_lb"})).limits | {"other_lb": gross(a_limit() | {"versions": [{"value": 80_000, **MEMORY}]}).limits[LIMIT]}}
        ),
    ],
    ids=["the limit", "the rule", "the limit it rests on"],
)  # fmt: skip
def test_what_is_known_from_memory_is_unconfirmed_minor_and_outside_the_conclusion(file: RuleFile) -> None:
    made = report(a_record(loads(90_000)), file)
    (found,) = made.jobs[0].findings
    assert (found.confirmed, found.grade, found.second_hand) == (False, "minor", False)
    conclusion = made.jobs[0].conclusion
    assert (conclusion.status, conclusion.unconfirmed_count, conclusion.count_of("load").with_nonconformity) == (
        "nothing found",
        1,
        0,
    )
    assert exit_status(made) == 0


def test_a_percentage_of_a_version_known_from_memory_is_unconfirmed() -> None:
    limit = a_limit(allowances=[an_allowance(percent_more=5, than="base")]) | {
        "versions": [{"value": 80_000, **MEMORY}]
    }
    (found,) = marks(gross(limit), 90_000)
    assert not found.confirmed


def test_only_the_version_of_its_time_weakens_a_percentage() -> None:
    versions = [{"value": 70_000, "until": "2020-12-31", **MEMORY}, {"value": 80_000, "from": "2021-01-01", **CITED}]
    more = an_allowance(percent_more=5, than="base") | {"from": "2021-01-01"}
    (found,) = marks(gross(a_limit(allowances=[more]) | {"versions": versions}), 90_000)
    assert found.confirmed


def test_an_unconfirmed_row_does_not_hide_a_confirmed_one_of_the_same_load() -> None:
    # the county road's cap of 56,000 is known from memory only; the 80,000 of the other roads was read
    cap = a_cap(value=56_000, where={"road_class": "county_road"}) | MEMORY
    made = job_report(a_record(loads(81_000), LEGS), gross(a_limit(caps=[cap])))
    assert [(f.confirmed, f.subject_count, f.items[0].margin, f.grade) for f in made.findings] == [
        (True, 1, 1_000, "major"), (False, 1, 25_000, "minor")
    ]  # fmt: skip
    assert made.conclusion.status == "nonconformities"
    assert len({f.id for f in made.findings}) == 2


def test_what_was_read_at_second_hand_judges_and_says_so() -> None:
    (found,) = marks(gross(a_limit() | {"versions": [{"value": 80_000, **SECOND}]}), 90_000)
    assert (found.confirmed, found.second_hand, found.grade) == (True, True, "major")


def test_a_voluntary_practice_is_a_departure_unless_the_job_adopts_it() -> None:
    file = a_file(a_rule(standing="voluntary practice"))
    record = a_record(loads(90_000))
    made = job_report(record, file)
    assert (made.findings[0].kind, made.conclusion.status, made.conclusion.departure_count) == (
        "departure from practice",
        "departures",
        1,
    )
    for criterion in ("us-ga/weight/gross", "weight"):
        adopted = job_report(replace(record, criteria={"JOB": (criterion,)}), file)
        assert (adopted.findings[0].kind, adopted.conclusion.status) == ("nonconformity", "nonconformities")
