"""The commands: thin words over the library surface."""

from __future__ import annotations

import argparse
import json
import shlex
import sys
from collections.abc import Collection, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from rich.console import Console

import auditor
from auditor import Report, UnusableInput, cli_each
from auditor.cli_rules import add_rules, add_stale, put, rulebook_with
from auditor.cli_tools import add_tools
from auditor.cli_trust import add_check_options, add_commands, edition_of

NOTHING_FOUND, NONCONFORMITIES, UNUSABLE, EVIDENCE_MISSING = 0, 1, 2, 3


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and give its exit status."""
    options = _parser().parse_args(arguments)
    try:
        status: int = options.run(options)
    except UnusableInput as error:
        for problem in error.problems:
            print(problem, file=sys.stderr)
        count = len(error.problems)
        ending = "not every report was written" if "judged" in options else "nothing was judged or written"
        print(f"{count} problem{'' if count == 1 else 's'}; {ending}.", file=sys.stderr)
        return UNUSABLE
    except BrokenPipeError:
        sys.stderr.close()
        return NOTHING_FOUND
    return status


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="auditor", description="Hold the records of a timber harvest against dated, sourced rules."
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    start = commands.add_parser("start", help="make a job folder with a workbook and a job.yaml to fill in")
    start.add_argument("folder", metavar="FOLDER", help="a new or empty folder; its name becomes the job's code")
    start.add_argument(
        "--place", nargs="+", action="extend", required=True, metavar="PLACE",
        help="states with rules that hold for the job, such as US-GA; first the one where the timber is cut",
    )  # fmt: skip
    start.add_argument(
        "--topics", nargs="+", default=["haul"], metavar="TOPIC",
        help="haul (weight, securement, size, tickets; the default), ground (streamside, crossings, trails, fuel, "
        "residual_stand), both, or single topics",
    )  # fmt: skip
    start.add_argument("--all-fields", action="store_true", help="add the fields that no rule asks for, folded away")
    start.set_defaults(run=_start)
    check = commands.add_parser(
        "check",
        help="judge one or more job folders and report",
        epilog="Exit status: 0 nothing found, 1 nonconformities, 2 record or rules unusable, "
        "3 no nonconformity but evidence demanded by law is missing, or nothing could be judged.",
    )
    check.add_argument("jobs", nargs="+", metavar="JOB", help="job folder with its job.yaml")
    check.add_argument("--audit-date", type=_day, metavar="DATE", help="day of the audit, as 2026-05-31")
    check.add_argument("--overlay", nargs="+", action="extend", default=[], metavar="FOLDER", help="more rule files")
    check.add_argument(
        "--write",
        nargs="+",
        action="extend",
        default=[],
        metavar="FILE",
        help="write the report: .pdf, .html, .json, .xlsx, .csv, .txt; with maps also .geojson or .gpkg; with {job} in "
        "each name, as in reports/{job}.json, every job gets a report of its own",
    )
    check.add_argument("--format", choices=("text", "json"), default="text", help="form on standard output")
    add_stale(check)
    add_check_options(check)
    check.set_defaults(run=_check)
    add_commands(commands)
    explain = commands.add_parser("explain", help="show one judgement step by step")
    explain.add_argument("job", metavar="JOB", help="job folder")
    explain.add_argument("rule", metavar="RULE", help="rule as place/topic/rule, such as us-ga/weight/gross")
    explain.add_argument(
        "item",
        nargs="?",
        metavar="ITEM",
        help="ticket number, or name of a bank, crossing ...; left out: the gravest row",
    )
    explain.add_argument("--overlay", nargs="+", action="extend", default=[], metavar="FOLDER", help="more rule files")
    explain.set_defaults(run=_explain)
    add_rules(commands)
    _add_season(commands)
    add_tools(commands)
    schema = commands.add_parser("schema", help="print a published JSON Schema")
    schema.add_argument("of", choices=("record", "rules", "report", "season", "card"))
    schema.set_defaults(run=_schema)
    return parser


def _add_season(commands: Any) -> None:
    season = commands.add_parser(
        "season",
        help="figures over all loads: overloads, spread of gross weights, target gross, room left",
        epilog="Exit status: 0 figures made, 2 record or rules unusable.",
    )
    season.add_argument("jobs", nargs="+", metavar="JOB", help="job folder with its job.yaml")
    season.add_argument(
        "--share", type=_number, default=5.0, metavar="PERCENT", help="share of overloads to aim at; default: 5"
    )
    season.add_argument(
        "--by",
        nargs="+",
        choices=auditor.SEASON_GROUPS,
        default=list(auditor.SEASON_GROUPS),
        metavar="GROUP",
        help=f"{', '.join(auditor.SEASON_GROUPS)}; default: all",
    )
    season.add_argument("--overlay", nargs="+", action="extend", default=[], metavar="FOLDER", help="more rule files")
    season.add_argument("--format", choices=("text", "json"), default="text", help="form on standard output")
    season.add_argument(
        "--write", nargs="+", action="extend", default=[], metavar="FILE", help="write the figures: .csv or .json"
    )
    season.set_defaults(run=_season)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not a day such as 2026-05-31') from None


def _start(options: argparse.Namespace) -> int:
    folder = auditor.start(options.folder, options.place, options.topics, options.all_fields)
    print(f"Made {folder}, with job.yaml and record.xlsx to fill in.")
    put("Open record.xlsx: its first sheet says how to fill it, and every heading says what is asked for and why.")
    print(f"Then run: auditor check {shlex.quote(str(folder))}")
    return NOTHING_FOUND


def _check(options: argparse.Namespace) -> int:
    if cli_each.asked(options.write):
        return _status(cli_each.check_each(options))
    whole = auditor.audit(options.jobs, options.audit_date, options.overlay, options.stale_after)
    report = edition_of(whole, options)
    options.judged = True
    for target in options.write:
        auditor.write_report(report, Path(target))
    try:
        if options.format == "json":
            sys.stdout.buffer.write(auditor.report_json(report))
        else:
            auditor.print_report(report, Console())
            for target in options.write:
                print(f"Written: {target}")
        sys.stdout.flush()
    except BrokenPipeError:  # whoever reads has read enough; the status still says what was found
        sys.stderr.close()
    return exit_status(report)


def exit_status(report: Report) -> int:
    """Exit status for a report; findings with unconfirmed limits and departures from practice do not count."""
    return _status({job.conclusion.status for job in report.jobs})


def _status(states: Collection[str]) -> int:
    if "nonconformities" in states:
        return NONCONFORMITIES
    return NOTHING_FOUND if {"evidence missing", "nothing judged"}.isdisjoint(states) else EVIDENCE_MISSING


def _explain(options: argparse.Namespace) -> int:
    record = auditor.read_jobs([Path(options.job)])
    rulebook = rulebook_with(options.overlay)
    marks = {True: "yes", False: "no ", None: "?  "}
    for found in auditor.explain(record, rulebook, options.rule, options.item):
        put(f"{found.rule}: {found.item}: {found.outcome}", further=2)
        for line in found.lines:
            first = f"  {marks[line.holds]} {'  ' * line.depth}"
            put(line.text, first, further=len(first) + 2)
    return NOTHING_FOUND


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not a number such as 5') from None


def _season(options: argparse.Namespace) -> int:
    figures = auditor.season(options.jobs, options.share, list(dict.fromkeys(options.by)), options.overlay)
    for target in options.write:
        auditor.write_season(figures, Path(target))
    if options.format == "json":
        sys.stdout.buffer.write(auditor.season_json(figures))
    else:
        auditor.print_season(figures, Console())
        for target in options.write:
            print(f"Written: {target}")
    return NOTHING_FOUND


def _schema(options: argparse.Namespace) -> int:
    print(json.dumps(auditor.schema(options.of), indent=2, sort_keys=True))
    return NOTHING_FOUND
