"""Checks the records of a timber harvest against dated, sourced rule files and reports what they show.

The library surface: make a job folder to fill in (`start`), read job folders (`read_jobs`) and rule files
(`read_rules`), judge (`check`, or `audit` for the whole way; `audit_each` gives each of many jobs a report of its own), look at one judgement (`explain`), check rule files
(`check_rules`), write a report (`write_report`, `print_report`), and the published schemas (`schema`). A report can be
made ready to leave the office (`edition`), signed (`new_key`, `sign_report`) and verified (`verify`). `season` gives
figures over the gross weights of many loads (`print_season`, `season_json`, `write_season`), `load_cards` what each
combination may load on a day (`print_cards`, `cards_json`, `write_cards`). `doubts` lists the values that no one has
read (`doubt_lines`, `doubts_summary`, `write_doubts`), `example_coverage` what the worked examples do not touch.
"""

from __future__ import annotations

import gc
from importlib import import_module
from typing import TYPE_CHECKING, Any

# What modules make while they load stays; to look through it for garbage again and again takes a tenth of the time.
_collecting = gc.isenabled()
gc.disable()

from auditor.audit import (
    audit,
    check,
    check_rules,
    example_coverage,
    load_cards,
    overlay_problems,
    schema,
    season,
    start,
    write_doubts,
)  # fmt: skip
from auditor.record import Record, read_jobs
from auditor.report.json_text import report_json
from auditor.report.model import Report
from auditor.report.privacy import PARTS, edition
from auditor.report.season_model import SEASON_GROUPS, Season
from auditor.report.terminal import print_report
from auditor.report.writing import write_report
from auditor.rules.reading import Rulebook, read_rules
from auditor.verify import sign_report, verify
from auditor.vocabulary.problems import Problem, UnusableInput

if _collecting:
    gc.enable()

if TYPE_CHECKING:
    from auditor.check.explain import Explanation, explain
    from auditor.each import JobAudited, audit_each
    from auditor.report.card_model import LoadCards
    from auditor.report.card_text import print_cards
    from auditor.report.card_writing import cards_json, write_cards
    from auditor.report.season_text import print_season, season_json, write_season
    from auditor.report.verification import Verification, verification_lines
    from auditor.rules.doubts import Doubt, doubt_lines, doubts, doubts_summary
    from auditor.rules.listing import rule_lines
    from auditor.signing import new_key, public_path

__all__ = [
    "PARTS", "SEASON_GROUPS", "Doubt", "Explanation", "JobAudited", "LoadCards", "Problem", "Record", "Report", "Rulebook",
    "Season", "UnusableInput", "Verification", "audit", "audit_each", "cards_json", "check", "check_rules", "doubt_lines",
    "doubts", "doubts_summary", "edition", "example_coverage", "explain", "load_cards", "new_key", "overlay_problems",
    "print_cards", "print_report", "print_season", "public_path", "read_jobs", "read_rules", "report_json",
    "rule_lines", "schema", "season", "season_json", "sign_report", "start", "verification_lines", "verify",
    "write_cards", "write_doubts", "write_report", "write_season",
]  # fmt: skip

_ON_DEMAND = {
    "auditor.check.explain": ("Explanation", "explain"),
    "auditor.each": ("JobAudited", "audit_each"),
    "auditor.report.card_model": ("LoadCards",),
    "auditor.report.card_text": ("print_cards",),
    "auditor.report.card_writing": ("cards_json", "write_cards"),
    "auditor.report.season_text": ("print_season", "season_json", "write_season"),
    "auditor.report.verification": ("Verification", "verification_lines"),
    "auditor.rules.doubts": ("Doubt", "doubt_lines", "doubts", "doubts_summary"),
    "auditor.rules.listing": ("rule_lines",),
    "auditor.signing": ("new_key", "public_path"),
}
"""What `check` has no use for is loaded when it is first asked for, so that a small job is judged without delay."""


def __getattr__(name: str) -> Any:
    for module, names in _ON_DEMAND.items():
        if name in names:
            globals()[name] = found = getattr(import_module(module), name)
            return found
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
