"""Checks the records of a timber harvest against dated, sourced rule files and reports what they show.

The library surface: read job folders (`read_jobs`) and rule files (`read_rules`), judge (`check`, or `audit` for the
whole way), look at one judgement (`explain`), check rule files (`check_rules`), write a report (`write_report`,
`print_report`), and the published schemas (`schema`).
"""

from __future__ import annotations

from auditor.audit import audit, check, check_rules, schema
from auditor.check.explain import Explanation, explain
from auditor.record import Record, read_jobs
from auditor.report.json_text import report_json
from auditor.report.model import Report
from auditor.report.terminal import print_report
from auditor.report.writing import write_report
from auditor.rules.listing import rule_lines
from auditor.rules.reading import Rulebook, read_rules
from auditor.vocabulary.problems import Problem, UnusableInput

__all__ = [
    "Explanation", "Problem", "Record", "Report", "Rulebook", "UnusableInput", "audit", "check", "check_rules",
    "explain", "print_report", "read_jobs", "read_rules", "report_json", "rule_lines", "schema", "write_report",
]  # fmt: skip
