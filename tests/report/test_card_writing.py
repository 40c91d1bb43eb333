"""Load cards in files: canonical JSON with its schema, and the form the extension names."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from auditor.report.card_html import cards_screen
from auditor.report.card_model import LoadCards
from auditor.report.card_text import cards_text
from auditor.report.card_writing import card_schema, cards_json, write_cards
from auditor.vocabulary.problems import UnusableInput
from tests.report.sample_card import card, cards, not_shown, way

SAMPLE = cards(card(way(), not_shown()))


def test_json_comes_back_the_same_and_has_one_form() -> None:
    content = cards_json(SAMPLE)
    assert LoadCards.model_validate_json(content) == SAMPLE
    assert list(json.loads(content)) == sorted(json.loads(content))
    assert b'"gross_lb": 72450,' in content  # whole numbers without a decimal point


def test_the_schema_names_every_part() -> None:
    schema = card_schema()
    assert schema["title"] == "load card 1"
    assert {"Card", "CardWay", "CardLeg", "CardAxleLimit", "CardTiedowns", "CardFact"} <= set(schema["$defs"])
    assert set(schema["required"]) == set(json.loads(cards_json(SAMPLE)))


def test_the_extension_names_the_form(tmp_path: Path) -> None:
    for name in ("card.pdf", "card.TXT", "card.json", "card.html"):
        write_cards(SAMPLE, tmp_path / name)
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "card.TXT").read_text(encoding="utf-8") == cards_text(SAMPLE, 80)
    assert (tmp_path / "card.json").read_bytes() == cards_json(SAMPLE)
    assert (tmp_path / "card.html").read_bytes() == cards_screen(SAMPLE)


@pytest.mark.parametrize(
    ("name", "found"), [("card.doc", ".doc"), ("card", "no extension"), ("no/card.pdf", "no folder")]
)
def test_other_names_are_refused(tmp_path: Path, name: str, found: str) -> None:
    with pytest.raises(UnusableInput) as caught:
        write_cards(SAMPLE, tmp_path / name)
    assert found in str(caught.value.problems[0])
    assert list(tmp_path.iterdir()) == []
