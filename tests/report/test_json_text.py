"""The canonical JSON of a report, its schema and its digest."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import jsonschema
import pytest

from auditor.report.json_text import check_digest, report_json, report_schema, sealed
from auditor.report.model import Report
from tests.report.sample_report import many_jobs, one_job


def _errors(content: Any) -> list[str]:
    checker = jsonschema.Draft202012Validator(
        report_schema(), format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )
    return [error.message for error in checker.iter_errors(content)]


def test_the_schema_is_one_of_2020_12() -> None:
    schema = report_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["title"] == "harvest audit report 1"
    assert "$id" not in schema


@pytest.mark.parametrize("made", [one_job, many_jobs])
def test_reports_keep_the_schema(made: Any) -> None:
    assert _errors(json.loads(report_json(made()))) == []


def test_the_schema_refuses_what_a_report_does_not_hold() -> None:
    content = json.loads(report_json(one_job()))
    for change in ({"surprise": 1}, {"audit_date": "May 4"}, {"jobs": None}):
        assert _errors(content | change), change
    assert _errors({key: value for key, value in content.items() if key != "digest"})


def test_the_form_is_canonical() -> None:
    content = report_json(one_job())
    text = content.decode("utf-8")
    assert text.endswith("}\n") and not text.endswith("\n\n")
    assert '\n  "audit_date": "2026-05-04",\n  "cautions": [\n' in text  # sorted, two spaces
    assert '"limit_lb": 80000,' in text  # a float in the model, whole on the ticket
    assert '"limit": 75.5,' in text
    assert text == json.dumps(json.loads(text), sort_keys=True, ensure_ascii=False, indent=2) + "\n"


def test_reading_it_back_gives_the_same_report() -> None:
    report = one_job()
    again = Report.model_validate_json(report_json(report))
    assert again == report
    assert check_digest(again)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_numbers_that_are_not_finite_are_refused_with_their_place(value: float) -> None:
    report = one_job()
    report.jobs[0].weights[3].gross_lb = value
    with pytest.raises(ValueError, match=r"report\.jobs\[0\]\.weights\[3\]\.gross_lb"):
        report_json(report)


def test_negative_zero_is_zero() -> None:
    report = one_job()
    report.jobs[0].weights[0].gross_lb = -0.0
    assert b'"gross_lb": 0,' in report_json(report)


def test_the_digest_is_that_of_the_json_with_an_empty_digest() -> None:
    report = one_job()
    content = json.loads(report_json(report)) | {"digest": ""}
    by_hand = json.dumps(content, sort_keys=True, ensure_ascii=False, indent=2) + "\n"
    assert report.digest == hashlib.sha256(by_hand.encode("utf-8")).hexdigest()
    assert sealed(report) == report


def test_any_change_breaks_the_seal() -> None:
    report = one_job()
    report.jobs[0].findings[0].items[0].measured = 84000.0
    assert not check_digest(report)
    assert check_digest(sealed(report))
