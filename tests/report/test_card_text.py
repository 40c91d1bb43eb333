"""Load cards on a terminal."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from auditor.report.card_text import cards_text, print_cards
from tests.report.sample_card import card, cards, leg, not_shown, tiedowns, way

UNCONFIRMED = way("MEMORY", legs=[leg(1, gross_limit_lb=72_450.0, governs=True, verified="memory")])
NO_LIMIT = way("YARD", standing="no limit", gross_lb=None, payload_lb=None, legs=[], axle_limits=[])
ALL = cards(
    card(way(), not_shown(), UNCONFIRMED, NO_LIMIT),
    card(truck="T17", trailer="", axle_count=None, tiedowns=[], papers=[]),
)


def printed(width: int = 80, colours: bool = False) -> str:
    buffer = io.StringIO()
    print_cards(
        ALL, Console(file=buffer, width=width, force_terminal=colours, color_system="standard" if colours else None)
    )
    return buffer.getvalue()


def test_the_figures_in_pounds_and_tons() -> None:
    text = cards_text(ALL, 80)
    # 72,450 / 2,000 = 36.225: a limit is never rounded up. 44,170 / 2,000 = 22.085.
    assert "72,450 lb = 36.22 tons, payload 44,170 lb (22.08 tons)" in text
    assert "LOAD CARD: T11 with L21, for 12 June 2026" in text
    assert "5 axles; usual tare 28,280 lb (14.14 tons)" in text


def test_what_governs_is_named_once_with_its_roads_and_the_others_below() -> None:
    text = cards_text(ALL, 100)
    assert "  governs   State route 9, US 901 (GA): Ten percent variance\n" in text
    assert "  others    Interstate (GA) 80,000 lb: Gross weight on the Interstate\n" in text
    assert "  axles     steer axle 20,000 lb; tandem (2-3, 4-5) 34,000 lb (LIMIT UNCONFIRMED)\n" in text


def test_where_no_figure_is_shown_the_facts_are_named() -> None:
    text = " ".join(cards_text(ALL, 80).split())
    assert "GROSS NOT SHOWN" in text
    assert (
        "Up to 60,000 lb (30.00 tons) if the record shows it. Missing for leg 4, State route 9: someone looked" in text
    )
    assert "[legs.postings_checked]" in text


def test_an_unconfirmed_limit_and_a_way_without_limit() -> None:
    text = cards_text(ALL, 80)
    assert text.count("            LIMIT UNCONFIRMED\n") == 1
    assert "NO LIMIT FOUND" in text


def test_tiedowns_and_papers() -> None:
    text = cards_text(ALL, 100)
    assert "TIEDOWNS: 5/16-inch chain grade 70, 4,700 lb each; 2 on board" in text
    assert (
        "  3         long logs lengthwise; short logs lengthwise; short logs crosswise\n            1 more than" in text
    )
    assert "SC overlength permit OL-5: until 3 May 2027; NOT in the vehicle" in text
    assert "insurance certificate INS-1: dates do not show that it holds, last day not recorded; not\n" in text
    assert "none on record for this truck and day" in text
    assert "not shown" in cards_text(cards(card(tiedowns=tiedowns(None, "not settled by the records"))), 80)


def test_why_no_tiedowns_are_counted() -> None:
    no_payload = cards_text(cards(card(not_shown(), tiedowns=[])), 100)
    assert "TIEDOWNS\n  - Not counted: no payload is shown that they would have to hold.\n" in no_payload
    no_set = cards_text(cards(card(way(), tiedowns=[])), 100)
    assert "  - Not counted: the record does not say which tiedowns the truck usually carries.\n" in no_set


@pytest.mark.parametrize("width", [40, 80, 200])
def test_no_line_is_wider_than_the_page(width: int) -> None:
    assert max(len(line) for line in printed(width).splitlines()) <= min(width, 100)


def test_a_pipe_gets_plain_lines_and_a_terminal_bold_ones() -> None:
    assert "\x1b" not in printed()
    assert "\x1b[1m" in printed(colours=True)


def test_nothing_is_called_safe_or_legal() -> None:
    words = cards_text(ALL, 80).lower().split()
    assert not {"safe", "legal", "legally"} & {w.strip(".,;") for w in words}
