"""Load cards as a PDF: one page for each combination, more only where it has many destinations."""

from __future__ import annotations

from pathlib import Path

from auditor.report import card_wording as card_say
from auditor.report.card_model import LoadCards
from auditor.report.pages import environment
from auditor.report.pdf import laid_out

_STYLE = Path(__file__).resolve().parent / "styles" / "card.css"


def cards_pdf(cards: LoadCards) -> bytes:
    """The PDF; the same bytes for the same cards on one installation."""
    return laid_out(cards_html(cards), _STYLE)


def cards_html(cards: LoadCards) -> str:
    """The page that becomes the PDF."""
    return environment().get_template("card.html").render(cards=cards, card_say=card_say)
