"""Load cards as canonical JSON with its published schema, and written to a file in the form its extension names."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from auditor.report.atomic import write_whole
from auditor.report.card_model import CARD_SCHEMA_NAME, LoadCards
from auditor.report.card_text import cards_text
from auditor.report.json_text import model_json
from auditor.vocabulary.problems import Problem, UnusableInput, system_reason

TEXT_COLUMNS = 80


def cards_json(cards: LoadCards) -> bytes:
    """The cards in the one form of bytes that reports have too."""
    return model_json(cards, "load cards")


def card_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of load cards, made from their models."""
    schema = LoadCards.model_json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": CARD_SCHEMA_NAME}


def write_cards(cards: LoadCards, path: Path) -> None:
    """Write the cards as PDF, HTML, plain text or JSON, as the extension of `path` says; whole or not at all.

    Raises UnusableInput where the extension is unknown, the folder is missing or the file cannot be written.
    """
    make = _FORMS.get(path.suffix.lower())
    if make is None:
        found = path.suffix or "no extension"
        raise _unusable(path, found, f"one of {', '.join(_FORMS)}", "Name the file with one of these.")
    if not path.parent.is_dir():
        raise _unusable(path, "no folder of that name", f"the folder {path.parent}", "Make it or name another.")
    content = make(cards)
    try:
        write_whole(path, content)
    except OSError as error:
        found = system_reason(error)
        raise _unusable(path, found, "a file that can be written", "Free it or name another.") from error


def _unusable(path: Path, found: str, expected: str, todo: str) -> UnusableInput:
    return UnusableInput([Problem(str(path), "", "", found, expected, todo)])


def _pdf(cards: LoadCards) -> bytes:
    # The PDF libraries are slow to load, and only a PDF needs them.
    from auditor.report.card_pdf import cards_pdf

    return cards_pdf(cards)


def _html(cards: LoadCards) -> bytes:
    # Templates are slow to load too.
    from auditor.report.card_html import cards_screen

    return cards_screen(cards)


def _text(cards: LoadCards) -> bytes:
    return cards_text(cards, TEXT_COLUMNS).encode("utf-8")


_FORMS: dict[str, Callable[[LoadCards], bytes]] = {
    ".pdf": _pdf, ".html": _html, ".txt": _text, ".json": cards_json,
}  # fmt: skip
