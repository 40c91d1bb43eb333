"""The report as a PDF: templates and style sheet of this package, its own fonts, nothing from outside."""

from __future__ import annotations

import contextlib
import gc
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from urllib.request import url2pathname

from auditor.report.atomic import write_whole
from auditor.report.model import Report
from auditor.report.pages import context, environment
from auditor.vocabulary.problems import Problem, UnusableInput

_HERE = Path(__file__).resolve().parent
_OPEN_FOLDERS = (_HERE / "fonts", _HERE / "styles")
_STYLE = _HERE / "styles" / "report.css"


def write_pdf(report: Report, path: Path) -> None:
    """Write the report as a PDF, whole or not at all."""
    write_whole(path, pdf_bytes(report))


def pdf_bytes(report: Report) -> bytes:
    """The PDF; the same bytes for the same report on one installation."""
    return laid_out(report_html(report), _STYLE)


def laid_out(html: str, sheet: Path) -> bytes:
    """A page of this package's templates as a PDF; `sheet` is one of its style sheets."""
    weasyprint = _weasyprint()
    from weasyprint.text.fonts import FontConfiguration  # type: ignore[import-untyped]

    fetcher = _fetcher()
    with _no_clock(), _no_collector():
        fonts = FontConfiguration()
        style = weasyprint.CSS(filename=str(sheet), font_config=fonts, url_fetcher=fetcher)
        page = weasyprint.HTML(string=html, base_url=sheet.as_uri(), url_fetcher=fetcher)
        content: bytes = page.write_pdf(stylesheets=[style], font_config=fonts)
    return content


@contextlib.contextmanager
def _no_collector() -> Iterator[None]:
    """Without the search for garbage in rings: a layout makes many objects, lets go of few, and is short."""
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()


@contextlib.contextmanager
def _no_clock() -> Iterator[None]:
    """A fixed time for the font subsetter, which otherwise writes the time of day into every font."""
    name = "SOURCE_DATE_EPOCH"
    before = os.environ.get(name)
    os.environ[name] = "0"
    try:
        yield
    finally:
        if before is None:
            del os.environ[name]
        else:
            os.environ[name] = before


def report_html(report: Report) -> str:
    """The page that becomes the PDF."""
    return environment().get_template("report.html").render(context(report))


def inside_package(url: str) -> Path:
    """The file of this package that a URL names; ValueError for everything else."""
    parts = urlsplit(url)
    path = Path(url2pathname(parts.path)).resolve()
    if parts.scheme != "file" or parts.netloc or not any(path.is_relative_to(f) for f in _OPEN_FOLDERS):
        raise ValueError(f"a report uses nothing from outside its package: {url}")
    return path


def _weasyprint() -> Any:
    try:
        import weasyprint  # type: ignore[import-untyped]
    except (ImportError, OSError) as error:
        raise UnusableInput(
            [
                Problem(
                    "PDF report", "", "", str(error).splitlines()[0], "WeasyPrint with the Pango and HarfBuzz libraries",
                    "Install them, or write the report in another form, such as .html.",
                )
            ]
        ) from error  # fmt: skip
    return weasyprint


def _fetcher() -> Any:
    """Reads files of this package for WeasyPrint and refuses every other address."""
    from weasyprint.urls import URLFetcher, URLFetcherResponse  # type: ignore[import-untyped]

    class _PackageFiles(URLFetcher):  # type: ignore[misc]
        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            return URLFetcherResponse(url, inside_package(url).read_bytes())

    return _PackageFiles(fail_on_errors=True)
