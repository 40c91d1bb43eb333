"""The report as a PDF: templates and style sheet of this package, its own fonts, nothing from outside."""

from __future__ import annotations

import contextlib
import functools
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit
from urllib.request import url2pathname

from auditor.report import wording as say
from auditor.report.atomic import write_whole
from auditor.report.charts import weights_chart
from auditor.report.json_text import check_digest
from auditor.report.model import JobReport, Report
from auditor.vocabulary.problems import Problem, UnusableInput

if TYPE_CHECKING:
    from jinja2 import Environment

_HERE = Path(__file__).resolve().parent
_OPEN_FOLDERS = (_HERE / "fonts", _HERE / "styles")
_STYLE = _HERE / "styles" / "report.css"
_NO_DAY = "1970-01-01"
"""Stands for the day of making where no audit date is given: the clock has no say in a report."""


def write_pdf(report: Report, path: Path) -> None:
    """Write the report as a PDF, whole or not at all."""
    write_whole(path, pdf_bytes(report))


def pdf_bytes(report: Report) -> bytes:
    """The PDF; the same bytes for the same report on one installation."""
    weasyprint = _weasyprint()
    from weasyprint.text.fonts import FontConfiguration  # type: ignore[import-untyped]

    fonts = FontConfiguration()
    fetcher = _fetcher()
    style = weasyprint.CSS(filename=str(_STYLE), font_config=fonts, url_fetcher=fetcher)
    page = weasyprint.HTML(string=report_html(report), base_url=_STYLE.as_uri(), url_fetcher=fetcher)
    with _no_clock():
        content: bytes = page.write_pdf(stylesheets=[style], font_config=fonts)
    return content


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
    # A digest that is not that of the content must not lend its authority to the page.
    whole = bool(report.digest) and check_digest(report)
    return (
        _environment()
        .get_template("report.html")
        .render(
            report=report,
            made_on=report.audit_date.isoformat() if report.audit_date else _NO_DAY,
            sealed=whole,
            seal=say.digest_short(report.digest if whole else ""),
            jobs=[_job_context(job) for job in report.jobs],
        )
    )


def inside_package(url: str) -> Path:
    """The file of this package that a URL names; ValueError for everything else."""
    parts = urlsplit(url)
    path = Path(url2pathname(parts.path)).resolve()
    if parts.scheme != "file" or parts.netloc or not any(path.is_relative_to(f) for f in _OPEN_FOLDERS):
        raise ValueError(f"a report uses nothing from outside its package: {url}")
    return path


def _job_context(job: JobReport) -> dict[str, Any]:
    """What the templates need beside the job itself: its chart and the numbers of its limits."""
    from markupsafe import Markup

    return {
        "report": job,
        "chart": Markup(weights_chart(job.weights)),
        "limit_numbers": {limit.key: f"L{place}" for place, limit in enumerate(job.limits, start=1)},
    }


def _weasyprint() -> Any:
    try:
        import weasyprint  # type: ignore[import-untyped]
    except (ImportError, OSError) as error:
        raise UnusableInput(
            [
                Problem(
                    "PDF report", "", "", str(error).splitlines()[0], "WeasyPrint with the Pango and HarfBuzz libraries",
                    "Install them, or write the report as .json or .txt.",
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


@functools.cache
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    def printed(value: Any) -> Any:
        """What an expression puts on the page: texts of the record without characters that disturb it."""
        if isinstance(value, str) and not isinstance(value, Markup):
            return say.clean(value)
        return value

    made = Environment(
        loader=FileSystemLoader(_HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=printed,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["say"] = say
    return made
