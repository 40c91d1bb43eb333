"""Coverage counts loads and rows, and names the rules that met no row."""

from __future__ import annotations

from auditor.check.assemble import job_reports
from auditor.check.tally import tally
from auditor.report import wording as say
from auditor.report.model import Coverage
from auditor.report.terminal import report_text
from auditor.rules.reading import Rulebook
from tests.check.haul import a_record, job_report, load, report
from tests.rules.small import LIMIT, a_file, a_limit, a_rule

ROADS = {"road_class": {"none_of": ["private"]}}
FILE = a_file(
    [
        a_rule(where=ROADS),
        a_rule(id="later", **{"from": "2027-01-01"}),
        a_rule(id="boats", where={"product": "chips", "road_class": "interstate"}),
        a_rule(id="dry", must={"slippery": False}, evidence="act without record"),
    ],
    **{LIMIT: a_limit()},
)
LEGS = (
    {"leg": 1, "road_class": "private", "road_name": "Fern track"},
    {"leg": 2, "road_class": "state_route", "road_name": "Route 14"},
    {"leg": 3, "road_class": "county_road", "road_name": "Mill road"},
)
LOADS = [load("A1", gross_weight_lb=85_000), load("A2", gross_weight_lb=79_000), load("A3")]


def coverage() -> dict[str, Coverage]:
    return {c.rule.rpartition("/")[2]: c for c in job_report(a_record(LOADS, LEGS), FILE).coverage}


def rows(rule: Coverage) -> tuple[int, int, int, int]:
    return rule.rows_judged, rule.rows_not_evidenced, rule.rows_open, rule.rows_not_applicable


def test_rows_are_counted_beside_loads() -> None:
    gross = coverage()["gross"]
    # Three loads on three legs are nine rows: each load's private leg lies outside, and two loads of two legs are weighed.
    assert rows(gross) == (4, 2, 0, 3)
    assert (gross.conformity, gross.nonconformity, gross.not_evidenced, gross.not_applicable) == (1, 1, 1, 0)


def test_what_leaves_no_record_is_open() -> None:
    # Nobody wrote down whether the wood was slippery, on any of nine rows, and no record of it has to be kept.
    assert rows(coverage()["dry"]) == (0, 0, 9, 0)


def test_a_rule_that_applied_to_nothing_differs_from_one_that_met_no_row() -> None:
    # No leg is on an Interstate: nine rows outside. The other rule begins after the last load.
    assert rows(coverage()["boats"]) == (0, 0, 0, 9)
    assert rows(coverage()["later"]) == (0, 0, 0, 0)


def test_one_line_says_so() -> None:
    told = say.rules_met(coverage().values())
    assert told == (
        "Of 4 rules 2 were held against something in the record, 1 applied to none, and 1 met no row of the record: us-ga/weight/later. "
        "Rows: 4 judged, 2 not evidenced, 9 open, 12 not applicable."
    )
    assert told in " ".join(report_text(report(a_record(LOADS, LEGS), FILE), 100).split())


def test_the_line_of_rules_that_all_met_rows() -> None:
    made = job_report(a_record(LOADS, LEGS), a_file(a_rule()))
    assert say.rules_met(made.coverage) == (
        "Of 1 rule 1 was held against something in the record, 0 applied to none; every one met some row of the record. "
        "Rows: 6 judged, 3 not evidenced, 0 open, 0 not applicable."
    )


def test_rows_add_up_to_those_of_the_view() -> None:
    record = a_record(LOADS, LEGS)
    book = Rulebook((FILE,))
    (job,) = job_reports(record, book, tally(record, book))
    assert {sum(rows(c)) for c in job.coverage} == {0, 9}
