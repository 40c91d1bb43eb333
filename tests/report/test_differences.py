"""What differs between two reports on a harvest site: each place of a finding, each rule on the walk, each judgement."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from auditor.report.differences import differences
from auditor.report.model import JobReport, Report
from tests.report.sample_report import one_job
from tests.report.sample_site import WIDTH, site_report

SITE = site_report()


def told(change: Callable[[JobReport], object], report: Report = SITE) -> set[tuple[str, str, str, str]]:
    new = report.model_copy(deep=True)
    change(new.jobs[0])
    return {(d.part, d.change, d.name, d.field) for d in differences(report, new)}


def test_equal_reports_do_not_differ() -> None:
    assert told(lambda job: None) == set()


def test_each_place_of_a_bank_under_a_finding_is_known_by_where_it_lies() -> None:
    # AL-right stands three times under the first finding; the one at station 5 is mended.
    def mended(job: JobReport) -> None:
        del job.findings[0].items[2]

    assert told(mended) == {("findings", "vanishes", f"{WIDTH}, bank AL-right station 5, right side, of ALDER", "")}

    def narrower(job: JobReport) -> None:
        job.findings[0].items[3].measured = 12.0

    assert told(narrower) == {
        ("findings", "changes", f"{WIDTH}, bank AL-right station 1, right side, of ALDER", "figure")
    }


def test_a_load_is_known_by_its_ticket_alone_whichever_part_of_it_is_worst() -> None:
    report = one_job()
    finding = report.jobs[0].findings[0]

    def elsewhere(job: JobReport) -> None:
        job.findings[0].items[0].what = "axles 4-5"

    name = f"{finding.rule}, load {finding.items[0].subject}"
    assert told(elsewhere, report) == {("findings", "changes", name, "what")}


def changed_outcome(job: JobReport) -> None:
    job.walk[0].outcomes[1].outcome = "not evidenced"


def lost_rule(job: JobReport) -> None:
    del job.walk[0].outcomes[2]


def lost_stop(job: JobReport) -> None:
    del job.walk[3]


def spoken_of(job: JobReport) -> None:
    job.walk[0].judgements[1] = "O3"


def answered(job: JobReport) -> None:
    job.judgements[3].answer = "yes"


def scored(job: JobReport) -> None:
    job.scores[-1].yes_count = 6


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (changed_outcome, ("outcomes", "changes", "streamside bank AL-right: us-xx/streamside/ground-cover", "outcome")),
        (lost_rule, ("outcomes", "vanishes", "streamside bank AL-right: us-xx/streamside/trees-left", "")),
        (lost_stop, ("walk", "vanishes", "streamside bank FE-right", "")),
        (spoken_of, ("judgements", "changes", "streamside bank AL-right: number 2", "")),
        (answered, ("judgements", "changes", "O4", "answer")),
        (scored, ("scores", "changes", "all", "yes_count")),
    ],
)  # fmt: skip
def test_the_lists_of_a_site_are_told_by_their_names(
    change: Callable[[JobReport], object], expected: tuple[str, str, str, str]
) -> None:
    assert told(change) == {expected}


def test_a_map_that_is_gone_is_one_difference() -> None:
    def without(job: JobReport) -> None:
        job.map = None

    assert {(part, field) for part, _, _, field in told(without)} == {("job", "map")}
