"""Load cards on a terminal or in a pipe: one after the other, the large figures first."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from rich.console import Console
from rich.text import Text

from auditor.report import card_wording as card_say
from auditor.report import wording as say
from auditor.report.card_model import Card, CardWay, LoadCards

WIDEST = 100
_PLAIN, _STRONG, _WARN = "", "bold", "bold red"

Line = tuple[str, str]
"""A line and the style it has where colours are shown."""


def print_cards(cards: LoadCards, console: Console) -> None:
    """Print the cards, at most 100 columns wide; plain lines where the console is a pipe or file."""
    for line, style in _lines(cards, min(console.width, WIDEST)):
        printable = line.encode(console.encoding, "replace").decode(console.encoding)
        console.print(Text(printable, style=style), soft_wrap=True)


def cards_text(cards: LoadCards, columns: int) -> str:
    """The same as plain text of at most `columns` columns."""
    return "".join(f"{line}\n" for line, _ in _lines(cards, columns))


def _lines(cards: LoadCards, columns: int) -> list[Line]:
    found: list[Line] = []
    for place, card in enumerate(cards.cards):
        found += [("", _PLAIN), ("=" * columns, _PLAIN)] if place else []
        found += _card(card, columns)
    return found


def _card(card: Card, columns: int) -> list[Line]:
    found = [
        *_put(
            f"{card_say.TITLE.upper()}: {card_say.combination(card)}, for {say.day(card.on)}", columns, style=_STRONG
        ),
        *_put(f"{card.job}: {card.title}" if card.title != card.job else card.job, columns),
        *_put(card_say.vehicle(card), columns),
    ]
    if not card.ways:
        found += [("", _PLAIN), *_put("The record names no destination.", columns)]
    for way in card.ways:
        found += [("", _PLAIN), *_way(way, columns)]
    found += [("", _PLAIN), *_tiedowns(card, columns), ("", _PLAIN)]
    found += _listed(
        "PAPERS", [card_say.paper(p) for p in card.papers] or ["none on record for this truck and day"], columns
    )
    found += [("", _PLAIN), *_listed("CAUTION", card.cautions, columns)]
    return found


def _way(way: CardWay, columns: int) -> list[Line]:
    found = _put(f"{way.destination}: {card_say.load(way)}", columns, style=_STRONG)
    style = _STRONG if way.standing == "shown" else _WARN
    figure = card_say.gross(way)
    if way.standing == "shown":
        payload = (
            "payload not shown: no tare" if way.payload_lb is None else f"payload {card_say.weight(way.payload_lb)}"
        )
        figure = f"{figure} = {card_say.tons(way.gross_lb)}, {payload}"
    found += _labelled("GROSS", figure, columns, style)
    found += _labelled("", card_say.doubt(way), columns, _WARN)
    for place, text in enumerate(card_say.governs(way)):
        label = "" if place or way.standing != "shown" else "governs"
        found += _labelled(label, text, columns)
    for text in way.left_open:
        found += _labelled("open", text, columns)
    found += _labelled("could be", card_say.could(way), columns)
    found += _labelled("axles", card_say.axles(way), columns)
    for place, text in enumerate(card_say.others(way)):
        found += _labelled("" if place else "others", text, columns)
    return found


def _tiedowns(card: Card, columns: int) -> list[Line]:
    if not card.tiedowns:
        return _listed("TIEDOWNS", [card_say.no_tiedowns(card)], columns)
    found = _put(f"TIEDOWNS: {card_say.tiedown_kind(card)}", columns, style=_STRONG)
    for needed, forms, note in card_say.tiedown_rows(card):
        found += _labelled(needed, forms, columns, _STRONG) + _labelled("", note, columns, _WARN)
    return found


def _labelled(label: str, text: str, columns: int, style: str = _PLAIN) -> list[Line]:
    return _put(text, columns, f"  {label:<9} ", style) if text else []


def _listed(heading: str, texts: Iterable[str], columns: int) -> list[Line]:
    found = _put(heading, columns, style=_STRONG)
    for text in texts:
        found += _put(text, columns, "  - ")
    return found


def _put(text: str, columns: int, first: str = "", style: str = _PLAIN) -> list[Line]:
    """A paragraph that begins after `first`; further lines stand as far in."""
    wrapped = textwrap.wrap(
        say.clean(text),
        max(columns, 20),
        initial_indent=first,
        subsequent_indent=" " * len(first),
        break_on_hyphens=False,
    )
    return [(line, style) for line in wrapped]
