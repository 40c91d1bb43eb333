"""Limits not looked at for long before the last load or, without loads, the end of the work: which, in what order, and when nothing can be said."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from auditor import cli
from auditor.audit import check
from auditor.check.stale import stale_limits
from auditor.record import record_from_rows
from auditor.report import wording as say
from auditor.report.model import JobReport, Limit, Report
from auditor.report.privacy import PARTS, edition
from auditor.report.terminal import report_text
from auditor.rules.reading import Rulebook
from auditor.verify import verify
from tests.check.haul import a_record, load
from tests.check.small_site import CITED, SITE, a_rule
from tests.check.small_site import a_file as a_site_file
from tests.report.sample_site import site_report
from tests.rules.small import LIMIT, a_file, a_limit

LAST = date(2026, 5, 4)


def a_cited_limit(key: str, checked: date | None, title: str | None = None) -> Limit:
    return Limit(
        key=key, means="gross weight", value=80_000, unit="lb", form="limit", title=title, instrument="Act", at=None,
        seen="in a test", verified="read", checked=checked, in_force_from=None, in_force_until=None,
    )  # fmt: skip


def test_limits_looked_at_too_long_before_the_last_load_are_named_the_oldest_first() -> None:
    limits = [
        # 6 months before 4 May 2026 is 4 November 2025: the day before is stale, the day itself is not.
        a_cited_limit("d", date(2025, 11, 3), "the permit"),
        a_cited_limit("c", date(2025, 11, 4)),
        a_cited_limit("b", date(2024, 1, 1)),
        a_cited_limit("a", None),
        a_cited_limit("e", date(2026, 11, 20)),
    ]
    found = stale_limits(limits, LAST, 6)
    assert [(s.limit_key, s.name, s.checked) for s in found] == [
        ("a", "gross weight", None),
        ("b", "gross weight", date(2024, 1, 1)),
        ("d", "the permit", date(2025, 11, 3)),
    ]


def test_without_a_day_of_the_last_load_nothing_is_said() -> None:
    assert stale_limits([a_cited_limit("b", date(2024, 1, 1))], None, 6) == []


def report(*, months: int | None, on: str | None = "2026-05-04", checked: date = date(2025, 1, 10)) -> Report:
    # 85,000 lb against 80,000 lb, so that the limit speaks
    file = a_file(**{LIMIT: a_limit({"value": 80_000, "checked": checked})})
    record = a_record([load("A1", gross_weight_lb=85_000, load_date=on)])
    return check(record, Rulebook((file,)), None, months)


def the_job(made: Report) -> JobReport:
    (job,) = made.jobs
    return job


@pytest.mark.parametrize(
    ("months", "keys"),
    [
        (None, []),
        # From 10 January 2025 to 4 May 2026 it is 15 months and 24 days.
        (15, ["us-ga/weight/weight_limit_lb/base"]),
        (16, []),
    ],
)
def test_a_job_lists_them_when_asked(months: int | None, keys: list[str]) -> None:
    made = report(months=months)
    assert [s.limit_key for s in the_job(made).stale] == keys
    assert made.stale_after_months == months


def test_the_words_name_the_time_the_day_and_the_limits() -> None:
    text = " ".join(report_text(report(months=15), 100).split())
    assert "Limits not looked at for longer than 15 months before the last load, 4 May 2026:" in text
    assert "weight (Georgia) (us-ga/weight/weight_limit_lb/base): last looked at on 10 January 2025" in text
    assert "LIMITS NOT LOOKED AT FOR LONG" not in report_text(report(months=None), 100)
    none = " ".join(report_text(report(months=16), 100).split())
    assert "No limit that spoke had gone without a look for longer than 16 months before the last load" in none


def test_loads_without_days_are_said_and_not_passed_over() -> None:
    made = report(months=15, on=None)
    assert the_job(made).stale == []
    assert "no load has a day" in say.stale_heading(the_job(made), made)
    assert "no load has a day." in " ".join(report_text(made, 100).split())


def test_a_job_without_loads_is_not_told_of_loads_without_days() -> None:
    site = site_report().model_copy(deep=True, update={"stale_after_months": 12, "audit_date": None})
    site.jobs[0].operation_end = None
    told = say.stale_heading(site.jobs[0], site)
    assert told.endswith(": the time runs back from the last load, and the job has none")
    assert "no load has a day" not in report_text(site, 100)


def site_report_of(
    *, ended: str | None, walked: str | None, months: int = 12, audit_date: date | None = None
) -> Report:
    # Bank b2 of the small site is one foot short, so that the limit of 40 ft speaks; it was looked at on 10 January 2025.
    entry = {"value": 40, **CITED, "checked": date(2025, 1, 10)}
    limits = {"zone_ft": {"means": "width", "unit": "ft", "versions": [entry]}}
    wide = a_rule("width", "stations", {"zone_width_ft": {"at_least": {"limit": "zone_ft"}}})
    rules = Rulebook((a_site_file("streamside", wide, limits=limits),))
    job = [{"job": "A", "state": "US-SC", "operation_end": ended, "audit_date": walked}]
    return check(record_from_rows({**SITE, "job": job}, job="A"), rules, audit_date, months)


# From 10 January 2025: to the end of the operation on 20 January 2026 it is 12 months and 10 days, to the audit on
# 20 March 2026 14 months and 10 days.
@pytest.mark.parametrize(
    ("ended", "walked", "months", "listed", "since"),
    [
        ("2026-01-20", "2026-03-20", 12, True, "before the end of the operation, 20 January 2026"),
        ("2026-01-20", "2026-03-20", 13, False, "before the end of the operation, 20 January 2026"),
        (None, "2026-03-20", 14, True, "before the day of the audit, 20 March 2026"),
        (None, "2026-03-20", 15, False, "before the day of the audit, 20 March 2026"),
        (None, None, 12, False, ": the time runs back from the last load, and the job has none"),
    ],
)
def test_a_site_without_loads_is_reckoned_from_the_end_of_its_operation_or_else_the_audit(
    ended: str | None, walked: str | None, months: int, listed: bool, since: str
) -> None:
    made = site_report_of(ended=ended, walked=walked, months=months)
    assert [s.limit_key for s in the_job(made).stale] == ["us-sc/streamside/zone_ft/base"] * listed
    assert say.stale_heading(the_job(made), made).endswith(since)


def test_the_day_of_the_audit_may_come_from_the_command() -> None:
    made = site_report_of(ended=None, walked=None, audit_date=date(2026, 3, 20))
    assert [s.limit_key for s in the_job(made).stale] == ["us-sc/streamside/zone_ft/base"]


def test_loads_without_days_take_no_other_day() -> None:
    made = report(months=15, on=None)
    assert the_job(made).model_copy(update={"operation_end": LAST}).looked_back_from(LAST) is None


def test_they_go_when_the_limits_are_left_out() -> None:
    shown = edition(report(months=15), parts=[p for p in PARTS if p != "limits"])
    assert the_job(shown).stale == []
    assert "LIMITS NOT LOOKED AT FOR LONG" not in report_text(shown, 100)


JOB = """\
job: PINE-14
state: US-GA
tables:
  trucks: {rows: [{truck: T7, kind: tractor}]}
  trailers: {rows: [{trailer: L3, kind: frame}]}
  destinations: {rows: [{destination: Otter Mill, state: US-GA}]}
  legs: {rows: [{destination: Otter Mill, leg: 1, state: US-GA, road_class: interstate}]}
  loads:
    rows: [{ticket_number: 1, load_date: 2029-05-04, truck: T7, trailer: L3, destination: Otter Mill, gross_weight_lb: 85000}]
"""


def test_the_command_asks_for_them_and_the_report_stands_when_run_again(tmp_path: Path) -> None:
    folder, target = tmp_path / "pine", tmp_path / "report.json"
    folder.mkdir()
    (folder / "job.yaml").write_text(JOB, encoding="utf-8")
    assert cli.main(["check", str(folder), "--stale-after", "24", "--write", str(target)]) == cli.NONCONFORMITIES
    told = json.loads(target.read_bytes())
    # Looked at on 20 November 2026, hauled on 4 May 2029: more than 24 months.
    assert "us/weight/gross_limit_lb/base" in [s["limit_key"] for s in told["jobs"][0]["stale"]]
    found = verify(target, [folder])
    assert (found.status, found.differences) == ("stands", ())


@pytest.mark.parametrize("text", ["-1", "1.5", "six", "\u0661"])
def test_a_time_that_is_no_number_of_months_is_refused(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        cli.main(["check", "job", "--stale-after", text])
    assert "argument --stale-after" in capsys.readouterr().err
