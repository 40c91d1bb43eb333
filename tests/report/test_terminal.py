"""What a person sees on a terminal or in a pipe."""

from __future__ import annotations

import io
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console

from auditor.report import wording as say
from auditor.report.model import FixFirst, Report
from auditor.report.privacy import PARTS, as_draft, with_parts
from auditor.report.terminal import print_report, report_text
from auditor.report.terminal_site import beside_computed
from tests.report.sample_report import LONG_WORD, many_jobs, one_job
from tests.report.sample_site import judgements, site_report

ONE, MANY, SITE = one_job(), many_jobs(), site_report()
ONE.jobs[0].contractor = LONG_WORD
ESCAPE = re.compile(r"\x1b\[[0-9;]*m")


def _printed(report: Report, width: int = 80, colour: bool = False) -> str:
    out = io.StringIO()
    print_report(
        report, Console(file=out, width=width, force_terminal=colour, color_system="standard" if colour else None)
    )
    return out.getvalue()


@pytest.mark.parametrize("width", [40, 80, 100])
@pytest.mark.parametrize("report", [ONE, MANY], ids=["one job", "many jobs"])
def test_no_line_is_wider_than_the_terminal(report: Report, width: int) -> None:
    text = _printed(report, width)
    assert max(cell_len(line) for line in text.splitlines()) <= width
    assert LONG_WORD[:20] in text


def test_wide_terminals_are_not_filled() -> None:
    assert max(map(len, _printed(ONE, 240).splitlines())) <= 100


def test_piped_text_is_plain() -> None:
    text = _printed(ONE)
    assert "\x1b" not in text
    assert not re.search("[\u2500-\u259f]", text), "box drawing"
    assert all(line == line.rstrip() for line in text.splitlines())
    assert "\n\n\n" not in text


def test_colour_changes_no_word() -> None:
    coloured = _printed(ONE, colour=True)
    assert "\x1b[" in coloured
    assert ESCAPE.sub("", coloured) == _printed(ONE)


def test_the_order_is_that_of_a_person_in_a_hurry() -> None:
    text = _printed(ONE)
    heads = ["CONCLUSION", "FIX FIRST", "FINDINGS", "EVIDENCE MISSING", "OPEN QUESTIONS", "ALLOWANCES USED", "FILES"]
    places = [text.index(f"\n{head}\n") for head in heads]
    assert places == sorted(places)


def test_every_finding_has_its_block() -> None:
    text = _flat(_printed(ONE))
    assert (
        "1 MAJOR Gross weight on state routes (XX) how far 30 of 150 loads, up to 4,660 lb over; "
        "16 inside an enforcement tolerance worst ticket 10318: 4,660 lb over 84,000 lb mend 4,660 lb less wood"
    ) in text
    assert "5 minor Tandem axle weight (XX) how far 14 of 38 loads, up to 1,720 lb over; limit unconfirmed" in text
    for finding in ONE.jobs[0].findings:
        assert f"{say.named(finding)} how far {finding.subject_count} of {finding.judged_count} loads" in text
        assert finding.worst in text


def test_long_lists_are_cut() -> None:
    # 30 tickets, 5 of them shown.
    assert "10318, 10315, 10312, 10309, 10306 and 25 more source" in _flat(_printed(ONE))


def test_what_to_do_and_how_far_off_have_lines_of_their_own() -> None:
    lines = [line.strip() for line in _printed(ONE).splitlines()]
    place = lines.index("1. Gross weight on state routes (XX) (finding 1)")
    assert lines[place + 1 : place + 3] == [
        "Load lighter for State route 14",
        "how far  up to 4,660 lb over, 30 of 150 loads",
    ]


def test_what_is_not_covered_is_counted_and_cautions_are_said_once() -> None:
    report = ONE.model_copy(deep=True)
    report.jobs[0].not_covered = [f"matter {n}" for n in range(26)]
    report.cautions = [*say.STATEMENT, "Weigh again."]
    text = _flat(_printed(report))
    assert "26 matters are not covered by the rule files, see the PDF or JSON." in text
    assert "matter 3" not in text
    for sentence in report.cautions:
        assert text.count(sentence) == 1


def test_a_draft_with_codes_and_parts_left_out_says_so_first() -> None:
    report = with_parts(as_draft(ONE.model_copy(update={"names": "codes"})), [p for p in PARTS if p != "findings"])
    lines = _printed(report).splitlines()
    assert lines[:3] == [
        "Draft: not for use outside the office that made it.", "Names are replaced by codes.", "Left out: findings.",
    ]  # fmt: skip
    text = _flat(_printed(report))
    assert "FINDINGS Left out of this report." in text and "FINDINGS None." not in text


def test_facts_that_advice_alone_asks_for_come_last_and_say_so() -> None:
    report = ONE.model_copy(deep=True)
    report.jobs[0].missing[0].advice_only = True
    text = _flat(_printed(report))
    law, advice = text.index("(loads.gross_weight_lb)"), text.index("(axle_weights.weight_lb)")
    assert law < advice
    assert text[advice:].startswith(
        "(axle_weights.weight_lb): blank for 112 of 150 loads; asked for by voluntary practice alone"
    )


def test_a_usual_job_fits_two_screens() -> None:
    assert len(_printed(one_job()).splitlines()) <= 2 * 54


def test_many_jobs_have_a_line_each_and_findings_only_where_there_are_some() -> None:
    text = _printed(MANY)
    for job in MANY.jobs:
        assert len(re.findall(rf"^{re.escape(job.job)}\b", text, re.MULTILINE)) == 1
        assert (f"FINDINGS OF {job.job}\n" in text) == bool(job.findings)


def test_a_console_that_cannot_show_a_letter_gets_a_mark_in_its_place() -> None:
    report = ONE.model_copy(deep=True)
    report.jobs[0].contractor = "Bergström Holz"
    raw = io.BytesIO()
    out = io.TextIOWrapper(raw, encoding="ascii", write_through=True)
    print_report(report, Console(file=out, width=80))
    assert b"Bergstr?m Holz" in raw.getvalue()


@settings(deadline=None)
@given(st.text(max_size=200), st.integers(min_value=20, max_value=100))
def test_no_text_of_a_record_breaks_the_page(words: str, width: int) -> None:
    report = ONE.model_copy(deep=True)
    job = report.jobs[0]
    job.job, job.contractor, job.evidence[0].path = words, words, words
    job.findings[0].title, job.findings[0].items[0].subject = words, words
    for text in (report_text(report, width), report_text(MANY, width)):
        lines = text.split("\n")
        assert max(cell_len(line) for line in lines) <= width
        assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e]", text)


@pytest.mark.parametrize("width", [40, 79, 80, 100])
def test_no_line_on_a_site_is_wider_than_the_terminal(width: int) -> None:
    assert max(cell_len(line) for line in _printed(SITE, width).splitlines()) <= width


def test_the_forester_s_part_stands_after_the_findings() -> None:
    text = _printed(SITE)
    heads = ["FINDINGS", "THE SITE PLACE BY PLACE", "JUDGEMENTS ON THE GROUND", "IMPLEMENTATION", "EVIDENCE MISSING"]
    places = [text.index(f"\n{head}\n") for head in heads]
    assert places == sorted(places)
    assert not any(head in _printed(ONE) for head in heads[1:4])


def test_the_walk_is_one_line_and_judgements_are_counted_with_those_that_differ_and_the_risks() -> None:
    text = _flat(_printed(SITE))
    # Of the 15 places of the sample 8 stand in a finding: two banks and FE-left, X2, R1, T1, T5 and DK3.
    assert "15 places of the site, 8 with a finding; see the PDF or JSON" in text
    # By hand from the sample: O3, O5, O7, O8, O10 yes; O1, O2, O6, O9 no; O4 could not tell; O11 not applicable.
    assert "11 judgements: 5 yes, 4 no, 1 not applicable, 1 could not tell." in text
    assert "7 beside a computed outcome: 2 agree, 4 differ, 1 open." in text
    assert "differs O3, Bank AL-left: Zone width kept? yes; paced, not taped. Computed: nonconformity" in text
    assert "risk O6, Crossing X2: Temporary fill removed? no; poles and brush still in the channel" in text
    assert text.count(" differs O") == 4 and text.count(" risk O") == 2


def test_implementation_is_a_table_where_it_fits_and_words_where_it_does_not() -> None:
    wide = _printed(SITE).splitlines()
    assert "  All, pooled                   5   4    1    1  50 to 60 %     94.1 % (2023)" in wide
    narrow = _flat(_printed(SITE, 60))
    assert "All, pooled: 5 yes, 4 no, 1 open, 1 n/a; 50 to 60 %; published 94.1 % (2023)" in narrow
    for text in (_flat(_printed(SITE)), narrow):
        assert text.count("Published: 2023, implementation report of the example state's forestry commission.") == 1
        assert "no pass mark" in text


def test_a_score_with_a_published_rate_says_how_many_sites_a_survey_visits() -> None:
    report = SITE.model_copy(deep=True)
    report.jobs[0].scores[-1].survey_site_count = 105
    assert "within 5 points a survey visits 105 sites; this is one." in _flat(_printed(report))


def test_parts_of_the_site_that_were_left_out_are_said() -> None:
    left_out = ("walk", "judgements", "scores")
    text = _flat(_printed(with_parts(SITE, [p for p in PARTS if p not in left_out])))
    for head in ("THE SITE PLACE BY PLACE", "JUDGEMENTS ON THE GROUND", "IMPLEMENTATION"):
        assert f"{head} Left out of this report." in text


def test_long_lists_of_judgements_are_cut() -> None:
    report = SITE.model_copy(deep=True)
    told = report.jobs[0].judgements[0].model_copy(update={"agrees": False})
    report.jobs[0].judgements = [told] * 10
    text = _flat(_printed(report))
    assert "and 2 more judgements that differ, see the PDF or JSON" in text
    assert "and 2 more significant risks, see the PDF or JSON" in text


def test_a_risk_to_fix_first_names_its_judgement() -> None:
    report = SITE.model_copy(deep=True)
    risk = FixFirst(
        finding=0, text="Significant risk to water. Shade kept, answered no", how_much="bank b2", judgement="O4"
    )
    report.jobs[0].fix_first = [risk, *report.jobs[0].fix_first]
    text = _flat(_printed(report))
    assert "1. Significant risk to water. Shade kept, answered no (judgement O4) how far bank b2" in text


def _flat(text: str) -> str:
    return " ".join(text.split())


def test_judgements_beside_nothing_computed_are_said_in_the_right_number() -> None:
    told = [judgement.model_copy(update={"computed": ""}) for judgement in judgements()]
    assert beside_computed(told[:1]) == "It names no rule that was held against its place"
    assert beside_computed(told[:2]) == "None of them names a rule that was held against its place"
