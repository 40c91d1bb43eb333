"""The command `card`: what a driver may load today."""

from __future__ import annotations

import argparse
import sys
from datetime import date
from pathlib import Path
from typing import Any

from rich.console import Console

import auditor

MADE = 0


def add_tools(commands: Any) -> None:
    """The command `card`."""
    card = commands.add_parser(
        "card",
        help="load cards: what each combination may gross to each destination, and how many tiedowns",
        epilog="Exit status: 0 cards made, 2 record or rules unusable.",
    )
    card.add_argument("job", metavar="JOB", help="job folder with its job.yaml")
    card.add_argument("--on", type=_day, metavar="DATE", help="day of the card; default: the job's audit_date")
    card.add_argument("--truck", metavar="UNIT", help="the cards of this truck alone")
    card.add_argument("--overlay", nargs="+", action="extend", default=[], metavar="FOLDER", help="more rule files")
    card.add_argument(
        "--write",
        nargs="+",
        action="extend",
        default=[],
        metavar="FILE",
        help="write the cards: .pdf, .html, .txt or .json",
    )
    card.add_argument("--format", choices=("text", "json"), default="text", help="form on standard output")
    card.set_defaults(run=_card)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not a day such as 2026-05-31') from None


def _card(options: argparse.Namespace) -> int:
    cards = auditor.load_cards(options.job, options.on, options.truck, options.overlay)
    for target in options.write:
        auditor.write_cards(cards, Path(target))
    try:
        if options.format == "json":
            sys.stdout.buffer.write(auditor.cards_json(cards))
        else:
            auditor.print_cards(cards, Console())
            for target in options.write:
                print(f"Written: {target}")
        sys.stdout.flush()
    except BrokenPipeError:  # whoever reads has read enough
        sys.stderr.close()
    return MADE
