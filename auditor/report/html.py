"""The report as one HTML page that needs nothing else: styles and pictures inside, no script, nothing from a network."""

from __future__ import annotations

from pathlib import Path

from markupsafe import Markup

from auditor.report.model import Report
from auditor.report.pages import context, environment

_STYLE = Path(__file__).resolve().parent / "styles" / "screen.css"


def html_bytes(report: Report) -> bytes:
    """The page as UTF-8; the same bytes for the same report."""
    # Jinja leaves a style sheet of ours as it is only where it is marked as markup.
    style = Markup(_STYLE.read_text(encoding="utf-8"))
    page = environment().get_template("screen.html").render(context(report, narrow=True), style=style)
    return packed(page)


def packed(page: str) -> bytes:
    """A page without indents and blank lines."""
    lines = (line.strip() for line in page.splitlines())
    return ("\n".join(line for line in lines if line) + "\n").encode("utf-8")
