"""The commands on rule files: list, show, check, and the checklist of values to look up."""

from __future__ import annotations

import argparse
import shutil
import textwrap
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

import auditor

NOTHING_FOUND, UNUSABLE = 0, 2


def add_rules(commands: Any) -> None:
    """The command `rules` with its actions."""
    rules = commands.add_parser("rules", help="list, show or check rule files, or list the values to look up")
    actions = rules.add_subparsers(dest="action", required=True, metavar="ACTION")
    for action, what in (
        ("list", "list rules by file"),
        ("show", "show rules with limits, sources and conditions"),
        ("check", "check rule files with their worked examples"),
    ):
        parser = actions.add_parser(action, help=what)
        parser.add_argument("names", nargs="*", metavar="NAME", help="place, file or rule, such as us-ga/weight")
        _add_overlay(parser)
        parser.set_defaults(run=_check if action == "check" else _list)
        if action == "check":
            parser.add_argument(
                "--coverage", action="store_true", help="note limits and boundaries that no worked example touches"
            )
    doubts = actions.add_parser(
        "doubts",
        help="checklist of values known from memory or second-hand, or not looked at for long",
        epilog="Whoever has looked writes what was found into an overlay folder: a YAML file with confirmations:, a list of "
        "{of, by, role, on, edition} and, where they apply, {page, instrument, dated, from, value, note}.",
    )
    doubts.add_argument("places", nargs="*", metavar="PLACE", help="US, or a state such as US-SC; default: all")
    doubts.add_argument("--topics", nargs="+", action="extend", default=[], metavar="TOPIC", help="default: all")
    doubts.add_argument(
        "--older-than", type=months, metavar="MONTHS", help="add what was last looked at longer before --as-of"
    )
    doubts.add_argument("--as-of", type=_day, metavar="DATE", help="the day that --older-than counts from")
    doubts.add_argument(
        "--write", nargs="+", action="extend", default=[], type=Path, metavar="FILE", help="write it: .csv or .txt"
    )
    _add_overlay(doubts)
    doubts.set_defaults(run=_doubts)


def add_stale(check: argparse.ArgumentParser) -> None:
    """The option of `check` that asks for limits not looked at for long."""
    check.add_argument(
        "--stale-after",
        type=months,
        metavar="MONTHS",
        help="list the limits that no one had looked at for longer than this before the last load of a job; without loads "
        "before the end of the operation, or else the audit date",
    )


def _add_overlay(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--overlay", nargs="+", action="extend", default=[], metavar="FOLDER", help="more rule files and confirmations"
    )


def months(text: str) -> int:
    """A whole number of months, none or more."""
    if not text.isascii() or not text.isdigit() or len(text) > 4:
        raise argparse.ArgumentTypeError(f'"{text}" is not a number of months such as 12')
    return int(text)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not a day such as 2026-05-31') from None


def rulebook_with(overlays: Sequence[str]) -> auditor.Rulebook:
    """All rule files with the overlays over them. Raises UnusableInput for a faulty overlay, as `check` does."""
    rulebook = auditor.read_rules(overlays=[Path(o) for o in overlays])
    problems = auditor.overlay_problems(rulebook) if overlays else []
    if problems:
        raise auditor.UnusableInput(problems)
    return rulebook


def put(text: str, first: str = "", further: int | None = None) -> None:
    """Print a text no wider than the terminal, the lines after the first as far in, or `further` columns."""
    before = " " * (len(first) if further is None else further)
    columns = max(shutil.get_terminal_size().columns, len(before) + 20)
    text = " ".join(text.split())
    lines = textwrap.wrap(
        text, columns, initial_indent=first, subsequent_indent=before, break_long_words=False, break_on_hyphens=False
    )
    print("\n".join(lines) if lines else first.rstrip())


def _list(options: argparse.Namespace) -> int:
    rulebook = rulebook_with(options.overlay)
    print("\n".join(auditor.rule_lines(rulebook, options.names, whole=options.action == "show")))
    return NOTHING_FOUND


def _check(options: argparse.Namespace) -> int:
    places = [n.split("/")[0].upper() for n in options.names] or None
    rulebook = auditor.read_rules(places, overlays=[Path(o) for o in options.overlay])
    try:
        list(auditor.rule_lines(rulebook, options.names, whole=False))  # refuses names that nothing goes by
    except auditor.UnusableInput:
        # Told again with all rule files, the message knows every place; what it names stays unknown.
        whole = auditor.read_rules(overlays=[Path(o) for o in options.overlay])
        list(auditor.rule_lines(whole, options.names, whole=False))
        raise
    problems, notes = auditor.check_rules(rulebook)
    for problem in problems:
        print(problem)
    for note in notes:
        print(f"Note: {note}")
    if options.coverage and not problems:
        for line in auditor.example_coverage(rulebook, options.names):
            print(line)
    examples = sum(len(r.examples) for f in rulebook.files for r in f.rules)
    rules = sum(len(f.rules) for f in rulebook.files)
    print(f"{len(rulebook.files)} files, {rules} rules, {examples} examples, {len(problems)} problems")
    return UNUSABLE if problems else NOTHING_FOUND


def _doubts(options: argparse.Namespace) -> int:
    rulebook = rulebook_with(options.overlay)
    found = auditor.doubts(rulebook, options.places, options.topics, options.older_than, options.as_of)
    for target in options.write:
        auditor.write_doubts(found, target)
    if options.write:
        print(auditor.doubts_summary(found))
        for target in options.write:
            print(f"Written: {target}")
    else:
        for line in auditor.doubt_lines(found, shutil.get_terminal_size().columns):
            print(line)
    return NOTHING_FOUND
