"""Load cards on a phone: all inside one file, readable at arm's length, escaped."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from auditor.report import card_wording as card_say
from auditor.report.card_html import cards_screen
from tests.report.sample_card import card, cards, not_shown, tiedowns, way
from tests.report.sample_report import LONG_WORD
from tests.report.screens import CHROMIUM, TAP_PX, Page, measured

FULL = cards(
    card(way(), way(f"MILL {LONG_WORD}", payload_lb=None), not_shown(), tiedowns=tiedowns()),
    card(truck="T17", trailer="", tiedowns=tiedowns(None)),
)
CONTENT = cards_screen(FULL).decode("utf-8")


def test_every_tag_is_closed_and_every_card_has_a_link_to_it() -> None:
    page = Page(CONTENT)
    assert page.wrong == [] and page.open == []
    assert [attrs["href"] for tag, attrs in page.tags if tag == "a"] == ["#card-1", "#card-2"]
    assert [attrs["id"] for tag, attrs in page.tags if tag == "article"] == ["card-1", "card-2"]
    alone = Page(cards_screen(cards(card(way()))).decode("utf-8"))
    assert [tag for tag, _ in alone.tags if tag == "a"] == [], "one card needs no list of cards"


def test_nothing_is_fetched_and_nothing_runs() -> None:
    page = Page(CONTENT)
    assert not {tag for tag, _ in page.tags} & {"script", "link", "img", "iframe", "object", "embed", "base", "form"}
    assert not [a for _, attrs in page.tags for a in attrs if a in ("src", "srcset", "data") or a.startswith("on")]
    assert not re.search(r"url\(|@import|javascript:|//[a-z]", CONTENT)
    policy = [attrs["content"] for tag, attrs in page.tags if tag == "meta" and "http-equiv" in attrs]
    assert policy == ["default-src 'none'; style-src 'unsafe-inline'"]


def test_what_a_driver_needs_can_be_read() -> None:
    text = Page(CONTENT).text
    # 72,450 lb = 36.225 tons, never more than the pounds say; 44,170 lb = 22.085 tons.
    for words in ("Gross at most 72,450 lb 36.22 tons", "Payload 44,170 lb 22.08 tons", "Payload not shown: no tare",
                  "Gross NOT SHOWN", "Up to 60,000 lb (30.00 tons)", "steer axle 20,000 lb", "legs.postings_checked",
                  "The record names no destination."):  # fmt: skip
        assert words in text
    for made in FULL.cards:
        assert card_say.combination(made) in text and card_say.tiedown_kind(made) in text
        assert all(f"{needed} {forms}" in text for needed, forms, _ in card_say.tiedown_rows(made))
        assert all(words in text for words in (*made.cautions, *card_say.sources(made)))
        assert all(card_say.paper(held) in text for held in made.papers)


def test_names_of_the_record_cannot_write_into_the_page() -> None:
    content = cards_screen(cards(card(way("<script>x</script>\u202e")))).decode("utf-8")
    assert "<script>" not in content and "\u202e" not in content
    assert "<script>x</script>" in Page(content).text


@pytest.mark.slow
@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here to lay the page out")
@pytest.mark.parametrize("width", [360, 1200])
def test_the_page_fits_a_phone_and_a_desk(width: int, tmp_path: Path) -> None:
    found = measured(CONTENT, width, tmp_path)
    assert found["scroll"] == found["inside"] == width and found["wide"] == []
    assert found["taps"] > 3 and (width > 360 or found["least"] >= TAP_PX)
    assert found["letter"] >= 12
