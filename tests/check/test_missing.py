"""Blank facts rolled up per fact and job, and the judgements that stay open though nothing is blank."""

from __future__ import annotations

from auditor.check.missing import meaning_of
from tests.check.haul import a_record, job_report, load, loads
from tests.rules.small import CITED, LIMIT, a_file, a_limit, a_rule, an_allowance


def test_a_fact_is_counted_once_per_load_over_all_its_rules() -> None:
    rules = [a_rule(id="a"), a_rule(id="b", evidence="demanded by law")]
    legs = ({"leg": 1}, {"leg": 2})
    (fact,) = job_report(a_record(loads(None, 70_000, None), legs), a_file(rules)).missing
    assert (fact.fact, fact.subject_count, fact.job_subject_count) == ("loads.gross_weight_lb", 2, 3)
    assert (fact.rules, fact.samples) == (["us-ga/weight/a", "us-ga/weight/b"], ["A1", "A3"])
    assert (fact.meaning, fact.todo) == ("loaded weight", "Fill gross_weight_lb in the table loads.")
    assert fact.demanded_by_law


def test_what_the_law_demands_comes_first_then_what_more_loads_lack() -> None:
    rules = [
        a_rule(id="usual"),
        a_rule(id="law", examines="loads", must={"slippery": False}, evidence="demanded by law"),
        a_rule(id="advice", examines="loads", must={"unitized": True}, standing="guidance"),
    ]
    rows = [load("A1", slippery="no"), load("A2")]
    found = job_report(a_record(rows), a_file(rules)).missing
    assert [(m.fact, m.subject_count, m.demanded_by_law) for m in found] == [
        ("loads.slippery", 1, True), ("loads.gross_weight_lb", 2, False), ("loads.unitized", 2, False)
    ]  # fmt: skip


def test_a_record_that_only_a_rule_from_memory_demands_is_not_taken_as_demanded() -> None:
    rule = a_rule(id="dry", examines="loads", must={"slippery": False}, evidence="demanded by law")
    made = job_report(a_record(loads(70_000)), a_file([a_rule(), rule | {"verified": "memory"}]))
    assert [m.demanded_by_law for m in made.missing] == [False]
    assert made.conclusion.status == "nothing found"


def test_no_more_than_five_tickets_are_sampled() -> None:
    (fact,) = job_report(a_record(loads(*[None] * 7)), a_file()).missing
    assert (fact.subject_count, fact.samples) == (7, ["A1", "A2", "A3", "A4", "A5"])


def test_a_blank_that_does_not_matter_is_not_missing() -> None:
    limit = a_limit(allowances=[an_allowance(value=88_000, where={"product": "chips"})])
    file = a_file(None, **{LIMIT: limit})
    # 80,000 holds with or without the product, 88,001 with neither; only 85,000 asks for it
    rows = [load(t, gross_weight_lb=w) for t, w in (("A1", 80_000), ("A2", 85_000), ("A3", 88_001))]
    (fact,) = job_report(a_record(rows), file).missing
    assert (fact.fact, fact.samples) == ("loads.product", ["A2"])


def test_a_paper_with_blank_dates_is_asked_for_by_its_dates() -> None:
    limit = a_limit(allowances=[an_allowance(form="permit", value=95_000, needs={"document": "overweight_permit"})])
    record = a_record(loads(90_000), documents=[{"document": "P-1", "kind": "overweight_permit"}])
    (fact,) = job_report(record, a_file(None, **{LIMIT: limit})).missing
    assert (fact.fact, fact.meaning) == (
        "documents.valid_from, documents.valid_until",
        "first day of validity; last day of validity",
    )
    assert fact.todo == "Fill valid_from, valid_until in the table documents."


def test_disagreeing_sources_are_an_open_question_and_no_missing_fact() -> None:
    said = a_limit({"said": [{"value": v, **CITED} for v in (80_000, 84_000)]})
    made = job_report(a_record(loads(82_000, 70_000)), a_file(None, **{LIMIT: said}))
    (question,) = made.open_questions
    assert (question.kind, question.rule, question.subject_count, question.samples) == (
        "inconclusive",
        "us-ga/weight/gross",
        1,
        ["A1"],
    )
    assert "known only within a range" in question.reason
    assert made.missing == []


def test_an_act_without_record_is_a_question_of_its_own() -> None:
    rule = a_rule(examines="loads", must={"checked_at_public_road": True}, evidence="act without record")
    made = job_report(a_record(loads(70_000)), a_file(rule))
    assert [(q.kind, q.subject_count) for q in made.open_questions] == [("not verifiable", 1)]
    assert "leaves no record" in made.open_questions[0].reason
    assert made.missing == []


def test_meanings_come_from_the_vocabulary() -> None:
    assert meaning_of("loads.gross_weight_lb") == "loaded weight"
    assert meaning_of("loads.nothing") == ""
