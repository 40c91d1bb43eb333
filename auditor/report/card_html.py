"""Load cards as one HTML page for a phone: styles inside, no script, nothing from a network."""

from __future__ import annotations

from pathlib import Path

from markupsafe import Markup

from auditor.report import card_wording as card_say
from auditor.report.card_model import LoadCards
from auditor.report.html import packed
from auditor.report.pages import environment

_STYLES = Path(__file__).resolve().parent / "styles"


def cards_screen(cards: LoadCards) -> bytes:
    """The page as UTF-8; the same bytes for the same cards."""
    sheets = (_STYLES / name for name in ("screen.css", "card_screen.css"))
    style = Markup("".join(sheet.read_text(encoding="utf-8") for sheet in sheets))
    return packed(environment().get_template("card_screen.html").render(cards=cards, card_say=card_say, style=style))
