"""Small invented hauls, and the report on them under small rule files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from auditor.audit import check
from auditor.record import Record, record_from_rows
from auditor.report.model import Finding, JobReport, Report
from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook

Rows = Sequence[Mapping[str, Any]]


def load(ticket: str, **fields: Any) -> dict[str, Any]:
    return {
        "ticket_number": ticket, "truck": "T1", "trailer": "L1", "destination": "MILL", "load_date": "2026-05-04", **fields
    }  # fmt: skip


def loads(*weights: int | None) -> list[dict[str, Any]]:
    """Loads A1, A2 ... with these gross weights."""
    return [load(f"A{i}", gross_weight_lb=w) for i, w in enumerate(weights, 1)]


def a_record(
    loads: Rows,
    legs: Rows = ({"leg": 1, "road_class": "state_route", "road_name": "Route 14"},),
    job: str = "JOB",
    **tables: Rows,
) -> Record:
    """A job in Georgia: one truck and trailer, one mill, the legs and loads given."""
    return record_from_rows(rows_of(loads, legs, job, **tables))


def rows_of(loads: Rows, legs: Rows, job: str, **tables: Rows) -> dict[str, Rows]:
    own = {"job": job}
    made: dict[str, Rows] = {
        "job": [{**own, "state": "US-GA"}],
        "trucks": [{"truck": "T1", "kind": "tractor"}],
        "trailers": [{"trailer": "L1", "kind": "frame"}],
        "destinations": [{"destination": "MILL", "state": "US-GA"}],
        "legs": [{"destination": "MILL", "state": "US-GA", **leg} for leg in legs],
        "loads": loads,
        **tables,
    }
    return {name: [{**own, **row} for row in rows] for name, rows in made.items()}


def together(*parts: Mapping[str, Rows]) -> Record:
    """Several jobs as one record."""
    names = dict.fromkeys(name for part in parts for name in part)
    return record_from_rows({name: [row for part in parts for row in part.get(name, ())] for name in names})


def report(record: Record, *files: RuleFile) -> Report:
    return check(record, Rulebook(files))


def job_report(record: Record, *files: RuleFile) -> JobReport:
    (job,) = report(record, *files).jobs
    return job


def finding(record: Record, *files: RuleFile) -> Finding:
    (found,) = job_report(record, *files).findings
    return found
