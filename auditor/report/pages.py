"""What the PDF and the HTML page share: templates, numbered limits, and what each job needs beside itself."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from auditor.report import site_wording as site_say
from auditor.report import wording as say
from auditor.report.charts import NARROW, WIDTH, Level, levels, weights_chart
from auditor.report.first_things import first_things
from auditor.report.json_text import check_digest
from auditor.report.model import Finding, Item, JobReport, Limit, MissingFact, Report
from auditor.report.site_pages import SitePage, site_page

if TYPE_CHECKING:
    from jinja2 import Environment

TEMPLATES = Path(__file__).resolve().parent / "templates"
MOST_ITEMS = 40
"""Rows of one finding that are laid out; the others are only named."""
MOST_TICKETS = 300
MOST_LEVELS = 8
_NO_DAY = "1970-01-01"
"""Stands for the day of making where no audit date is given: the clock has no say in a report."""


@dataclass(frozen=True, slots=True)
class NumberedLimit:
    """A limit with the number that items refer to."""

    number: str
    limit: Limit


@dataclass(frozen=True, slots=True)
class Source:
    """An instrument in the form in which it was seen, and the limits that come from it."""

    instrument: str
    seen: str
    limits: list[NumberedLimit]


@dataclass(frozen=True, slots=True)
class JobPage:
    """A job with what its pages need beside it."""

    report: JobReport
    anchor: str
    chart: Any
    narrow_chart: Any
    levels: list[Level]
    limit_numbers: dict[str, str]
    sources: list[Source]
    missing: list[MissingFact]
    demanded: list[MissingFact]
    finding_names: dict[int, str]
    site: SitePage

    @property
    def worst(self) -> Finding | None:
        """The gravest finding: the first, because findings stand in the order of their gravity."""
        return self.report.findings[0] if self.report.findings else None


def context(report: Report, narrow: bool = False) -> dict[str, Any]:
    """What the templates are filled with. `narrow` adds charts for a phone."""
    # A digest that is not that of the content must not lend its authority to the page.
    whole = bool(report.digest) and check_digest(report)
    limits = _numbered(report.jobs)
    return {
        "report": report,
        "made_on": report.audit_date.isoformat() if report.audit_date else _NO_DAY,
        "sealed": whole,
        "seal": say.digest_short(report.digest if whole else ""),
        "jobs": [_job(job, place, limits, narrow) for place, job in enumerate(report.jobs, start=1)],
        "sources": _sources(limits),
        "not_covered": list(dict.fromkeys(place for job in report.jobs for place in job.not_covered)),
    }


def _numbered(jobs: Iterable[JobReport]) -> list[NumberedLimit]:
    """Every limit once, numbered through all jobs, those of one source together."""
    found: list[Limit] = []
    # Jobs at different dates can hold different editions under one key.
    seen: set[str] = set()
    for limit in (limit for job in jobs for limit in job.limits):
        whole = limit.model_dump_json()
        if whole not in seen:
            seen.add(whole)
            found.append(limit)
    order = {source: place for place, source in enumerate(dict.fromkeys((x.instrument, x.seen) for x in found))}
    found.sort(key=lambda limit: order[limit.instrument, limit.seen])
    return [NumberedLimit(f"L{place}", limit) for place, limit in enumerate(found, start=1)]


def _sources(limits: Iterable[NumberedLimit]) -> list[Source]:
    found: dict[tuple[str, str], Source] = {}
    for one in limits:
        key = (one.limit.instrument, one.limit.seen)
        found.setdefault(key, Source(*key, [])).limits.append(one)
    return list(found.values())


def _job(job: JobReport, place: int, limits: Sequence[NumberedLimit], narrow: bool) -> JobPage:
    from markupsafe import Markup

    own = {limit.model_dump_json() for limit in job.limits}
    used = [one for one in limits if one.limit.model_dump_json() in own]
    missing = say.ranked(job.missing)
    return JobPage(
        report=job,
        anchor=f"job-{place}",
        chart=Markup(weights_chart(job.weights, WIDTH)),
        narrow_chart=Markup(weights_chart(job.weights, NARROW)) if narrow else "",
        levels=levels(job.weights, job.limits),
        limit_numbers={one.limit.key: one.number for one in used},
        sources=_sources(used),
        missing=missing,
        demanded=[fact for fact in missing if fact.demanded_by_law],
        finding_names={finding.number: say.named(finding) for finding in job.findings},
        site=site_page(job, narrow),
    )


def shown_items(finding: Finding) -> list[Item]:
    """The items of a finding that are laid out, the worst first as the finding has them."""
    return finding.items[:MOST_ITEMS]


def other_names(finding: Finding) -> str:
    """The names of the items that are not laid out; empty where all are."""
    rest = list(dict.fromkeys(item.subject for item in finding.items[MOST_ITEMS:]))
    return say.listed(rest, MOST_TICKETS, "see the JSON, CSV or XLSX") if rest else ""


@functools.cache
def environment() -> Environment:
    """The templates, with `say` for words; texts of the record are escaped and lose what disturbs a page."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    def printed(value: Any) -> Any:
        if isinstance(value, str) and not isinstance(value, Markup):
            return say.clean(value)
        return value

    made = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=printed,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals |= {
        "say": say, "site_say": site_say, "shown_items": shown_items, "other_names": other_names, "MOST_LEVELS": MOST_LEVELS,
        "first_things": first_things,
    }  # fmt: skip
    return made
