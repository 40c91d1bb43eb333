"""Load cards on paper."""

from __future__ import annotations

import io

from pypdf import PdfReader

from auditor.report.card_pdf import cards_html, cards_pdf
from tests.report.sample_card import card, cards, not_shown, way

FULL = card(*(way(f"MILL {n}") for n in range(5)), not_shown())


def pages(content: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(content)).pages]


def test_six_destinations_stand_on_one_letter_page_and_each_card_begins_a_page() -> None:
    content = cards_pdf(cards(FULL, card(way(), truck="T17", trailer="")))
    first, second = pages(content)
    assert "T11 with L21" in first and "MILL 4" in first and "BACK GATE" in first
    assert "Sources: Code 1, (a)." in first
    assert second.startswith("T17")
    box = PdfReader(io.BytesIO(content)).pages[0].mediabox
    assert (float(box.width), float(box.height)) == (612, 792)  # 8.5 by 11 inches of 72 points


def test_more_destinations_flow_over() -> None:
    assert len(pages(cards_pdf(cards(card(*(way(f"MILL {n}") for n in range(14))))))) == 2


def test_figures_marks_and_missing_facts_are_on_the_page() -> None:
    (text,) = pages(cards_pdf(cards(FULL)))
    for words in ("72,450 lb", "36.22 tons", "44,170 lb", "NOT SHOWN", "LIMIT UNCONFIRMED", "legs.postings_checked"):
        assert words in text


def test_the_same_cards_give_the_same_bytes() -> None:
    assert cards_pdf(cards(FULL)) == cards_pdf(cards(FULL))


def test_names_of_the_record_cannot_write_into_the_page() -> None:
    html = cards_html(cards(card(way("<script>x</script>\u202e"))))
    assert "<script>" not in html
    assert "\u202e" not in html
