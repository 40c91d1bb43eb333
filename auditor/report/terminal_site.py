"""The forester's part of a report on a terminal: the walk in one line, minutes inside zones, judgements, implementation."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from auditor.report import site_wording as site_say
from auditor.report import wording as say
from auditor.report.model import JobReport, Judgement, PartName, PracticeScore, Report, SiteMap

if TYPE_CHECKING:
    from auditor.report.terminal import Page

ENTRIES = 8
_SCORE_LINE = "  {:<27}{:>4}{:>4}{:>5}{:>5}  {:<15}{}"
_SCORE_COLUMNS = 80
_HEADS = ("yes", "no", "open", "n/a")
_ANSWERS = ("yes", "no", "not applicable", "could not tell", "")
_STRONG = "bold"


def site_sections(page: Page, job: JobReport, report: Report) -> None:
    """The sections on the harvest site; a section without anything to say is left out, unless its part was taken out."""
    if _begun(page, "The site place by place", "walk", bool(job.walk), report):
        page.put(f"{walked(job)}; {say.SEE_MORE}", "  ")
    if job.map is not None and job.map.times:
        page.heading(site_say.TIME_INSIDE)
        _times(page, job.map)
    if _begun(page, "Judgements on the ground", "judgements", bool(job.judgements), report):
        _judgements(page, job.judgements)
    if _begun(page, "Implementation", "scores", bool(job.scores), report):
        _scores(page, job.scores)


def _begun(page: Page, heading: str, part: PartName, there: bool, report: Report) -> bool:
    """Put the heading, and where the part was taken out why nothing follows; whether something is to follow."""
    if there or part in report.left_out:
        page.heading(heading)
    if not there and part in report.left_out:
        page.put(say.none_of(part, report, ""), "  ")
    return there


def walked(job: JobReport) -> str:
    """How many stops the walk has, and how many of them stand in a finding."""
    found = sum(any(o.finding is not None for o in stop.outcomes) for stop in job.walk)
    return f"{say.count(len(job.walk), 'place')} of the site, {found or 'none'} with a finding"


def _times(page: Page, site: SiteMap) -> None:
    for time in site.times[:ENTRIES]:
        finding = "" if time.finding is None else f"; finding {time.finding}"
        page.put(f"track {time.track}, zone of {time.bank}: {site_say.time_inside(time)}{finding}", "  - ")
    page.cut(len(site.times) - ENTRIES, "track in a zone", "more tracks in a zone")
    for note in site.time_notes:
        page.put(note, "  ")


def _judgements(page: Page, judgements: Sequence[Judgement]) -> None:
    page.put(f"{answers(judgements)}.", "  ")
    page.put(f"{beside_computed(judgements)}.", "  ")
    against = [told for told in judgements if told.agrees is False]
    risks = [told for told in site_say.named_risks(judgements) if site_say.plain(told.answer) != "not applicable"]
    for told in against[:ENTRIES]:
        page.put(f"{judged(told)}. Computed: {told.computed} ({told.rule})", "  differs  ", _STRONG)
    page.cut(len(against) - ENTRIES, "judgement that differs", "more judgements that differ")
    for told in risks[:ENTRIES]:
        page.put(judged(told), "  risk     ", _STRONG)
    page.cut(len(risks) - ENTRIES, "significant risk")


def answers(judgements: Sequence[Judgement]) -> str:
    """How many judgements there are and how they came out: "23 judgements: 15 yes, 6 no, 2 not applicable"."""
    given = [site_say.plain(told.answer) for told in judgements]
    told = ", ".join(f"{given.count(a):,} {a or 'blank'}" for a in _ANSWERS if a in given)
    return f"{say.count(len(given), 'judgement')}: {told}"


def beside_computed(judgements: Sequence[Judgement]) -> str:
    """How they stand to what is computed: "3 beside a computed outcome: 2 agree, 1 differs"."""
    beside = [told for told in judgements if told.computed]
    if not beside:
        them = "It names no rule" if len(judgements) == 1 else "None of them names a rule"
        return f"{them} that was held against its place"
    same, other = (sum(told.agrees is word for told in beside) for word in (True, False))
    parts = [
        f"{same:,} {'agrees' if same == 1 else 'agree'}" if same else "",
        f"{other:,} {'differs' if other == 1 else 'differ'}" if other else "",
        f"{len(beside) - same - other:,} open" if same + other < len(beside) else "",
    ]
    return f"{len(beside):,} beside a computed outcome: {', '.join(p for p in parts if p)}"


def judged(told: Judgement) -> str:
    """A judgement in one line: "O16, Bank BG-right: Sediment confined to zone? no; fan of sediment to the water"."""
    reason = f"; {told.reason}" if told.reason else ""
    return f"{told.name}, {site_say.judged_place(told)}: {site_say.answer(told)}{reason}"


def _scores(page: Page, scores: Sequence[PracticeScore]) -> None:
    counts = [(s.yes_count, s.no_count, s.open_count, s.not_applicable_count) for s in scores]
    # A narrow page or a long number: give up the columns, never the words.
    roomy = page.columns >= _SCORE_COLUMNS and max(max(row) for row in counts) < 1000
    if roomy:
        page.lines.append((_SCORE_LINE.format("", *_HEADS, "percent", "published"), _STRONG))
    for score, row in zip(scores, counts, strict=True):
        name, share, rate = site_say.category(score), site_say.percent_range(score), published(score)
        if roomy:
            page.lines.append((_SCORE_LINE.format(name, *row, share, rate).rstrip(), ""))
        else:
            told = ", ".join(f"{n:,} {word}" for n, word in zip(row, _HEADS, strict=True))
            page.put(f"{name}: {told}; {share}; published {rate}", "  ")
    for sentence in (*sources(scores), site_say.HOW_SCORED):
        page.put(sentence, "  ")


def published(score: PracticeScore) -> str:
    """The published rate with its year, which its source begins with: "93 % (2013)"; a dash where none is known."""
    year = score.published.partition(",")[0]
    rate = site_say.percent(score.published_pct)
    return f"{rate} ({year})" if score.published_pct is not None and year.isdecimal() and len(year) == 4 else rate


def sources(scores: Sequence[PracticeScore]) -> list[str]:
    """Where published rates come from, and how many sites a survey visits to find the rate of all, each source once."""
    said = dict.fromkeys(score.published for score in scores if score.published_pct is not None)
    found = [f"Published: {source}." for source in said if source]
    sites = next((s.survey_site_count for s in scores if s.category == "all"), None)
    survey = "To find the published rate of all within 5 points a survey visits"
    return [*found, f"{survey} {say.count(sites, 'site')}; this is one."] if sites else found
