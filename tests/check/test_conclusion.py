"""The conclusion: counts of loads, status, sentences, and what to do first."""

from __future__ import annotations

from auditor.check.conclusion import _none_outside
from auditor.cli import exit_status
from auditor.report import wording as say
from auditor.report.model import JobReport, SubjectCounts
from auditor.rules.models import RuleFile
from tests.check.haul import a_record, job_report, load, loads, report, rows_of, together
from tests.rules.small import CITED, LIMIT, a_file, a_limit, a_rule, an_allowance

FIFTEEN = an_allowance("fifteen", form="enforcement tolerance", percent_more=15, than="base")
TOLERANT = a_limit(allowances=[FIFTEEN])


def of(file: RuleFile, *weights: int | None) -> JobReport:
    return job_report(a_record(loads(*weights)), file)


def test_nothing_found() -> None:
    made = of(a_file(), 79_000, 80_000)
    c = made.conclusion
    assert (
        c.status,
        c.count_of("load").count,
        c.count_of("load").conforming,
        c.count_of("load").with_nonconformity,
    ) == ("nothing found", 2, 2, 0)
    assert c.sentences == ["In the records of 2 loads no load was found outside a requirement."]
    assert made.fix_first == []


def test_loads_are_counted_once_over_all_findings() -> None:
    rules = [a_rule(id="a"), a_rule(id="b", grade="minor", where={"unitized": True})]
    rows = [
        load("A1", gross_weight_lb=81_000, unitized="yes"), load("A2", gross_weight_lb=81_000, unitized="no"),
        load("A3", gross_weight_lb=70_000),
    ]  # fmt: skip
    c = job_report(a_record(rows), a_file(rules)).conclusion
    assert (c.count_of("load").with_nonconformity, c.major_count, c.minor_count, c.count_of("load").conforming) == (
        2,
        1,
        1,
        1,
    )
    assert c.sentences == ["The records show 2 loads of 3 outside a requirement: 1 major and 1 minor finding."]


def test_a_load_is_only_tolerated_if_every_finding_of_it_is() -> None:
    # 80,000 x 1.15 = 92,000: A1 is tolerated, A2 is not
    c = of(a_file(None, **{LIMIT: TOLERANT}), 90_000, 95_000).conclusion
    assert (c.count_of("load").with_nonconformity, c.count_of("load").only_tolerated) == (2, 1)
    assert ", 1 of them by no more than an enforcement tolerance: 1 major and 0 minor findings." in c.sentences[0]


def test_a_tolerated_load_is_still_a_nonconformity() -> None:
    made = of(a_file(None, **{LIMIT: TOLERANT}), 90_000)
    assert (made.conclusion.status, made.conclusion.minor_count) == ("nonconformities", 1)
    assert made.fix_first == []  # nothing that cannot wait


def test_missing_evidence_that_the_law_demands_has_a_status_of_its_own() -> None:
    for evidence, status in (("demanded by law", "evidence missing"), ("usual", "nothing found")):
        c = of(a_file(a_rule(evidence=evidence)), None, 70_000).conclusion
        assert (c.status, c.count_of("load").not_evidenced, c.count_of("load").conforming) == (status, 1, 1)
        assert ("Some of what is missing is evidence that the law demands." in c.sentences) == (
            status == "evidence missing"
        )


def test_an_inconclusive_load_does_not_count_as_conforming() -> None:
    said = a_limit({"said": [{"value": v, **CITED} for v in (80_000, 84_000)]})
    c = of(a_file(None, **{LIMIT: said}), 82_000, 79_000).conclusion
    assert (c.count_of("load").conforming, c.count_of("load").not_evidenced, c.status) == (1, 0, "nothing found")


def test_departures_and_unconfirmed_findings_are_worded_for_one_and_many() -> None:
    memory = {"verified": "memory"}
    one = [a_rule(standing="guidance"), a_rule(id="m") | memory]
    two = [*one, a_rule(id="g2", standing="guidance"), a_rule(id="m2") | memory]
    assert of(a_file(one), 90_000).conclusion.sentences[1:] == [
        "1 departure from voluntary practice is listed apart.",
        "1 finding rests on a limit that no one has confirmed; it is counted apart.",
    ]
    assert of(a_file(two), 90_000).conclusion.sentences[1:] == [
        "2 departures from voluntary practice are listed apart.",
        "2 findings rest on limits that no one has confirmed; they are counted apart.",
    ]


def test_where_no_requirement_came_out_nothing_was_judged_and_nothing_is_said_to_be_found() -> None:
    # One rule on private roads alone, while the load of `a_record` goes by a state route; one on a weight left blank.
    idle = of(a_file(a_rule(where={"road_class": "private"})), 79_000)
    blank = of(a_file(a_rule(evidence="demanded by law")), None)
    for made in (idle, blank):
        assert (made.conclusion.status, say.status(made.conclusion.status)) == ("nothing judged", "Nothing was judged")
        assert made.conclusion.sentences[0] == (
            "No requirement came out as kept or broken; facts are missing or none applied: 1 load."
        )
    assert blank.conclusion.sentences[1:] == [
        "For 1 load at least one requirement could not be shown, because facts are missing.",
        "Some of what is missing is evidence that the law demands.",
    ]
    assert of(a_file(a_rule(where={"road_class": "private"})), 81_000, 79_000).conclusion.status == "nothing judged"
    assert of(a_file(), 80_000).conclusion.status == "nothing found"


def test_several_kinds_are_counted_after_a_colon_and_without_the_job_itself() -> None:
    loads_of = SubjectCounts(
        subject="load", count=3, conforming=3, with_nonconformity=0, only_tolerated=0, not_evidenced=0
    )
    banks, job = (loads_of.model_copy(update={"subject": s, "count": n}) for s, n in (("bank", 2), ("job", 1)))
    for counts, sentence in (
        ([loads_of, banks, job], "Of what the records hold nothing was found outside a requirement: 3 loads, 2 banks."),
        ([banks, job], "In the records of 2 banks no bank was found outside a requirement."),
        ([job], "In the records of the job as a whole nothing was found outside a requirement."),
    ):
        told = of(a_file(), 80_000).conclusion.model_copy(update={"counts": counts})
        assert _none_outside(told) == sentence


def test_a_record_without_loads_says_that_nothing_was_judged() -> None:
    assert of(a_file()).conclusion.status == "nothing judged"
    assert of(a_file()).conclusion.sentences == [
        "The record holds neither loads nor anything of a harvest site; nothing was judged."
    ]


def test_fix_first_lists_four_findings_and_the_evidence_that_the_law_demands() -> None:
    rules = [a_rule(id=f"r{i}", title=f"Rule {i}") for i in range(6)]
    law = a_rule(id="law", examines="loads", must={"slippery": False}, evidence="demanded by law")
    made = job_report(a_record(loads(81_000)), a_file([*rules, law]))
    assert [f.finding for f in made.fix_first] == [1, 2, 3, 4, 0]
    first, last = made.fix_first[0], made.fix_first[-1]
    assert first.text == "Rule 0: Load less"
    assert first.how_much == (
        "1 load of 1 judged; off by 1,000 lb at most. Worst: ticket A1: on Route 14 (GA), 81,000 lb, at most 80,000 lb."
    )
    assert (last.text, last.how_much) == (
        "Evidence: wet, peeled or otherwise slippery wood. Fill slippery in the table loads", "blank for 1 of 1 load"
    )  # fmt: skip


def test_unconfirmed_findings_are_never_to_be_fixed_first_and_departures_only_where_nothing_is_graver() -> None:
    advice, memory = a_rule(standing="guidance"), a_rule(id="m") | {"verified": "memory"}
    assert [f.finding for f in of(a_file([advice, memory]), 90_000).fix_first] == [1]
    made = of(a_file([advice, a_rule(id="law")]), 90_000)
    assert [made.findings[f.finding - 1].rule for f in made.fix_first] == ["us-ga/weight/law"]


def test_the_exit_status_of_several_jobs_is_that_of_the_worst() -> None:
    law = a_file(a_rule(evidence="demanded by law"))
    fine, blank, heavy = (
        rows_of(loads(w), ({"leg": 1},), job) for job, w in (("A", 70_000), ("B", None), ("C", 90_000))
    )
    assert exit_status(report(together(fine), law)) == 0
    assert exit_status(report(together(fine, blank), law)) == 3
    assert exit_status(report(together(fine, blank, heavy), law)) == 1
