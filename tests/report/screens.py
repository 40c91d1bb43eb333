"""Pages for screens as tests look at them: their tags and texts, and their measures in a browser."""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

VOID = {"meta", "br", "img", "link", "input", "hr"}
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
TAP_PX = 44
"""Least height of what a finger has to hit, as WCAG 2.2 success criterion 2.5.5 has it."""


class Page(HTMLParser):
    """Tags with their attributes, texts outside the style sheet, and tags left open or closed twice."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def handle_data(self, data: str) -> None:
        if "style" not in self.open[-1:]:
            self.texts.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.texts).split())


MEASURE = """<!DOCTYPE html><body><iframe id="page" style="width: {width}px; height: 3000px; border: 0" srcdoc="{page}"></iframe>
<script>
addEventListener("load", () => {{
  const inner = document.getElementById("page").contentDocument;
  inner.querySelectorAll("details").forEach(d => d.open = true);
  const root = inner.documentElement;
  const wide = [...inner.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > {width} + 0.5);
  const taps = [...inner.querySelectorAll("summary, a")].filter(e => e.offsetParent);
  document.body.textContent = "MEASURED" + JSON.stringify({{
    scroll: root.scrollWidth, inside: root.clientWidth, wide: wide.slice(0, 5).map(e => e.outerHTML.slice(0, 120)),
    taps: taps.length, least: Math.min(...taps.map(e => e.getBoundingClientRect().height)),
    letter: Math.min(...[...inner.querySelectorAll("p, td, li, summary, small, dd, text")].filter(e => e.getClientRects().length)
      .map(e => e.tagName === "text" ? e.getBoundingClientRect().height / 1.2 : parseFloat(getComputedStyle(e).fontSize))),
  }}) + "END";
}});
</script>"""


def measured(content: str, width: int, folder: Path) -> Any:
    """What a browser makes of a page `width` pixels wide: its width, what sticks out, the least tap and letter in pixels."""
    frame = folder / "frame.html"
    frame.write_text(MEASURE.format(width=width, page=html.escape(content)), encoding="utf-8")
    shown = subprocess.run(
        [str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--hide-scrollbars", "--disable-background-networking", "--disable-component-update", "--disable-sync",
         f"--user-data-dir={folder / 'profile'}", "--window-size=1400,1000", "--dump-dom", frame.as_uri()],
        capture_output=True, text=True, timeout=120, check=True,
    ).stdout  # fmt: skip
    found = re.search(r"MEASURED(.*)END", shown, re.DOTALL)
    assert found, shown[:500]
    return json.loads(html.unescape(found.group(1)))
