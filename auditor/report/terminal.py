"""The report on a terminal or in a pipe: conclusion and what to fix first, then the rest in short."""

from __future__ import annotations

from dataclasses import dataclass, field

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from auditor.report import wording as say
from auditor.report.first_things import first_things
from auditor.report.model import Conclusion, Finding, JobReport, Report
from auditor.report.terminal_site import site_sections

MOST_JOBS_IN_FULL = 3
WIDEST = 100
_TICKETS = 5
_ENTRIES = 8
_PLAIN, _HEAD, _STRONG, _MAJOR = "", "bold underline", "bold", "bold red"
_JOB_LINE = "{:<24.24}{:>8}{:>7}{:>7}{:>11}  {}"


@dataclass
class Page:
    """Lines of text no wider than the page, each with the style it has where colours are shown."""

    columns: int
    lines: list[tuple[str, str]] = field(default_factory=list)

    def gap(self) -> None:
        """An empty line, never two."""
        if self.lines and self.lines[-1][0]:
            self.lines.append(("", _PLAIN))

    def heading(self, text: str) -> None:
        """The heading of a section."""
        self.gap()
        self.put(text.upper(), style=_HEAD)

    def put(self, text: str, first: str = "", style: str = _PLAIN) -> None:
        """A paragraph that begins after `first`; further lines stand as far in."""
        before = first
        for line in _wrapped(say.clean(text), self.columns - cell_len(first)):
            self.lines.append((before + line, style))
            before = " " * cell_len(first)

    def labelled(self, label: str, text: str) -> None:
        """A short label with its text beside it; nothing where there is no text."""
        if text:
            self.put(text, f"     {label:<9}")

    def cut(self, left: int, noun: str, many: str | None = None) -> None:
        """That `left` entries of a list were left out."""
        if left > 0:
            self.put(f"and {say.count(left, 'more ' + noun, many)}, {say.SEE_MORE}", "  ")


def _wrapped(text: str, width: int) -> list[str]:
    """The text in lines of at most `width` columns; words longer than a line are cut."""
    width = max(width, 2)
    lines, line = [], ""
    for word in text.split(" "):
        joined = f"{line} {word}" if line else word
        if cell_len(joined) <= width:
            line = joined
            continue
        lines += [line] if line else []
        while cell_len(word) > width:
            cut = _fitting(word, width)
            lines.append(word[:cut])
            word = word[cut:]
        line = word
    return [*lines, line] if line else lines


def _fitting(word: str, width: int) -> int:
    """How many letters of a word that is too long fit in `width` columns."""
    used = 0
    for place, letter in enumerate(word):
        used += cell_len(letter)
        if used > width:
            return place
    return len(word)


def print_report(report: Report, console: Console) -> None:
    """Print the report in short, at most 100 columns wide; plain lines where the console is a pipe or file."""
    for line, style in _lines(report, min(console.width, WIDEST)):
        printable = line.encode(console.encoding, "replace").decode(console.encoding)
        console.print(Text(printable, style=style), soft_wrap=True)


def report_text(report: Report, columns: int) -> str:
    """The same as plain text of at most `columns` columns."""
    return "".join(f"{line}\n" for line, _ in _lines(report, columns))


def _lines(report: Report, columns: int) -> list[tuple[str, str]]:
    page = Page(columns)
    for sentence in say.edition(report):
        page.put(f"{sentence}.", style=_MAJOR if report.draft else _STRONG)
    if len(report.jobs) > MOST_JOBS_IN_FULL:
        _many_jobs(page, report)
    else:
        for job in report.jobs:
            _job(page, job, report)
            page.gap()
    _closing(page, report)
    return page.lines


def _job(page: Page, job: JobReport, report: Report) -> None:
    page.gap()
    page.put(f"{say.REPORT_TITLE}: {job.job}", style=_STRONG)
    page.put(", ".join(w for w in (job.title, job.contractor, say.place_name(job.state) or job.state) if w))
    page.put(f"{say.loads_and_days(job)}; {_audited(report)}")
    _conclusion(page, job.conclusion)
    _fix_first(page, job)
    _findings(page, job, report)
    site_sections(page, job, report)
    _missing(page, job, report)
    _open_questions(page, job)
    _allowances(page, job)
    _coverage(page, job, report)
    _stale(page, job, report)
    _files(page, job, report)


def _audited(report: Report) -> str:
    return "no audit date given" if report.audit_date is None else f"audit date {say.day(report.audit_date)}"


def _conclusion(page: Page, conclusion: Conclusion) -> None:
    page.heading("Conclusion")
    page.put(say.status(conclusion.status) + ".", "  ", _STRONG)
    for sentence in conclusion.sentences:
        page.put(sentence, "  ")


def _fix_first(page: Page, job: JobReport) -> None:
    things = first_things(job)
    if not things:
        return
    page.heading("Fix first")
    for place, thing in enumerate(things, start=1):
        page.put(f"{thing.title} ({thing.about})", f"  {place}. ", _STRONG)
        if thing.action:
            page.put(thing.action, "     ")
        page.labelled("how far", ", ".join(w for w in (thing.figure, thing.loads) if w))


def _findings(page: Page, job: JobReport, report: Report) -> None:
    page.heading("Findings")
    if not job.findings:
        page.put(say.none_of("findings", report, "None."), "  ")
    for finding in job.findings:
        _finding(page, finding, job)


def _finding(page: Page, finding: Finding, job: JobReport) -> None:
    _finding_line(page, finding)
    page.labelled("worst", finding.worst)
    page.labelled("mend", say.to_mend(finding))
    names = list(dict.fromkeys(item.subject for item in finding.items))
    if len(names) > 1:
        page.labelled("tickets" if finding.subject == "load" else "places", say.listed(names, _TICKETS, ""))
    page.labelled("source", say.sources(finding, job.limits))


def _finding_line(page: Page, finding: Finding) -> None:
    """Number, grade, title and place; then how many, how far off, and marks."""
    style = _MAJOR if finding.grade == "major" and finding.confirmed else _STRONG
    page.put(say.named(finding), f"{finding.number:>3}  {say.grade(finding):<8} ", style)
    page.labelled("how far", "; ".join([say.extent(finding), *say.marks(finding)]))


def _missing(page: Page, job: JobReport, report: Report) -> None:
    if not job.missing:
        if "missing" in report.left_out:
            page.heading("Evidence missing")
            page.put(say.none_of("missing", report, ""), "  ")
        return
    page.heading("Evidence missing")
    facts = say.ranked(job.missing)
    for fact in facts[:_ENTRIES]:
        asked = f"; {say.asked_by(fact)}" if say.asked_by(fact) else ""
        todo = f". {fact.todo}" if fact.demanded_by_law else ""
        page.put(f"{fact.meaning} ({fact.fact}): {say.missing_count(fact)}{asked}{todo}", "  - ")
    page.cut(len(facts) - _ENTRIES, "fact")


def _open_questions(page: Page, job: JobReport) -> None:
    if not job.open_questions:
        return
    page.heading("Open questions")
    for question in job.open_questions[:_ENTRIES]:
        loads = say.count(question.subject_count, question.subject)
        title = say.titled(question.title, question.rule)
        page.put(f"{title}: {question.kind} for {loads}. {question.reason}", "  - ")
    page.cut(len(job.open_questions) - _ENTRIES, "question")


def _allowances(page: Page, job: JobReport) -> None:
    if not job.allowances:
        return
    page.heading("Allowances used")
    for used in job.allowances[:_ENTRIES]:
        page.put(say.allowance(used), "  - ")
    page.cut(len(job.allowances) - _ENTRIES, "allowance")


def _coverage(page: Page, job: JobReport, report: Report) -> None:
    if job.coverage or "coverage" in report.left_out:
        page.heading("Coverage")
        page.put(say.rules_met(job.coverage) if job.coverage else say.none_of("coverage", report, ""), "  ")


def _stale(page: Page, job: JobReport, report: Report) -> None:
    told = say.stale_heading(job, report)
    if not told or "limits" in report.left_out:
        return
    page.heading("Limits not looked at for long")
    page.put(f"{told}{':' if job.stale else '.'}", "  ")
    for limit in job.stale[:_ENTRIES]:
        page.put(say.stale(limit), "  - ")
    page.cut(len(job.stale) - _ENTRIES, "limit")


def _files(page: Page, job: JobReport, report: Report) -> None:
    page.heading("Files")
    if not job.evidence:
        page.put(say.none_of("evidence", report, "None."), "  ")
        return
    said = [say.count(len(job.evidence), "file"), say.count(sum(file.row_count for file in job.evidence), "row")]
    if job.notes:
        said.append(say.count(len(job.notes), "note") + " on reading")
    page.put(f"{', '.join(said)}; for these and SHA-256 {say.SEE_MORE}", "  ")


def _many_jobs(page: Page, report: Report) -> None:
    """One line for each job, then the findings of those that have some."""
    page.put(say.heading(report), style=_STRONG)
    page.put(f"{say.loads_in_all(report)}; {_audited(report)}")
    if "findings" in report.left_out:
        page.put(f"Findings: {say.none_of('findings', report, '')}")
    page.heading("Conclusions")
    head = _JOB_LINE.format("Job", "loads", "major", "minor", "not shown", "").rstrip()
    roomy = page.columns >= len(head) + 2 + max(len(job.conclusion.status) for job in report.jobs)
    if roomy:
        page.lines.append((head, _STRONG))
    for job in report.jobs:
        _job_line(page, job, roomy)
    for job in report.jobs:
        if job.findings:
            page.heading(f"Findings of {job.job}")
            for finding in job.findings:
                _finding_line(page, finding)
                page.labelled("worst", finding.worst)


def _job_line(page: Page, job: JobReport, roomy: bool) -> None:
    told, name = job.conclusion, say.clean(job.job)
    not_shown = sum(c.not_evidenced for c in told.counts)
    # A narrow page, wide letters or a long name: give up the columns, never the words.
    if roomy and len(name) < 24 and cell_len(name) == len(name):
        counts = (told.count_of("load").count, told.major_count, told.minor_count, not_shown)
        page.lines.append((_JOB_LINE.format(name, *(f"{n:,}" for n in counts), told.status), _PLAIN))
        return
    found = f"{told.major_count:,} major, {told.minor_count:,} minor, {not_shown:,} not shown"
    page.put(f"{name}: {say.loads_and_days(job)}, {found}; {told.status}")


def _closing(page: Page, report: Report) -> None:
    page.gap()
    places = {place for job in report.jobs for place in job.not_covered}
    if places:
        are = "is" if len(places) == 1 else "are"
        page.put(f"{say.count(len(places), 'matter')} {are} not covered by the rule files, {say.SEE_MORE}.")
    for sentence in say.cautions(report):
        page.put(sentence)
    page.put(f"Engine {report.engine_version}; digest {say.digest_short(report.digest)}")
