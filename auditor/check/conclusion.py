"""What the records of a job show, in numbers and a few sentences, and what to do first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from auditor.report.model import Conclusion, Finding, FixFirst, MissingFact
from auditor.vocabulary.quantities import count_text

FIRST = 5


def conclude(
    findings: Sequence[Finding],
    missing: Sequence[MissingFact],
    load_count: int,
    without: set[str],
    unclear: set[str],
) -> Conclusion:
    """The conclusion of one job, with the loads that lack evidence and those that stay unclear. Findings whose limit is unconfirmed and departures from practice stay outside it."""
    counted = [f for f in findings if f.kind == "nonconformity" and f.confirmed]
    hard = {i.ticket for f in counted for i in f.items if not i.tolerated}
    soft = {i.ticket for f in counted for i in f.items} - hard
    clean = load_count - len({i.ticket for f in findings for i in f.items} | without | unclear)
    demanded = [m for m in missing if m.demanded_by_law]
    status: Literal["nothing found", "nonconformities", "evidence missing"] = "nothing found"
    if counted:
        status = "nonconformities"
    elif demanded or load_count == 0:
        status = "evidence missing"
    departures = sum(1 for f in findings if f.kind == "departure from practice")
    conclusion = Conclusion(
        status=status,
        sentences=[],
        load_count=load_count,
        loads_conforming=clean,
        loads_with_nonconformity=len(hard) + len(soft),
        loads_only_tolerated=len(soft),
        loads_not_evidenced=len(without),
        major_count=sum(1 for f in counted if f.grade == "major"),
        minor_count=sum(1 for f in counted if f.grade == "minor"),
        departure_count=departures,
        unconfirmed_count=sum(1 for f in findings if not f.confirmed and f.kind == "nonconformity"),
    )
    conclusion.sentences = _sentences(conclusion, missing)
    return conclusion


def _sentences(c: Conclusion, missing: Sequence[MissingFact]) -> list[str]:
    if c.load_count == 0:
        return ["The record holds no loads; nothing was judged."]
    found = []
    if c.loads_with_nonconformity:
        text = f"The records show {count_text(c.loads_with_nonconformity, 'load')} of {c.load_count:,} outside a requirement"
        if c.loads_only_tolerated:
            text += f", {c.loads_only_tolerated:,} of them by no more than an enforcement tolerance"
        minor = count_text(c.minor_count, "minor finding")
        found.append(f"{text}: {c.major_count:,} major and {minor}.")
    else:
        found.append(f"In the records of {count_text(c.load_count, 'load')} no load was found outside a requirement.")
    if c.loads_not_evidenced:
        found.append(
            f"For {count_text(c.loads_not_evidenced, 'load')} at least one requirement could not be shown, because facts are missing."
        )
    if any(m.demanded_by_law for m in missing):
        found.append("Some of what is missing is evidence that the law demands.")
    if c.departure_count:
        one = c.departure_count == 1
        departures = count_text(c.departure_count, "departure")
        found.append(f"{departures} from voluntary practice {'is' if one else 'are'} listed apart.")
    if c.unconfirmed_count:
        one = c.unconfirmed_count == 1
        rests = "rests on a limit" if one else "rest on limits"
        unconfirmed = count_text(c.unconfirmed_count, "finding")
        found.append(
            f"{unconfirmed} {rests} that no one has confirmed; {'it is' if one else 'they are'} counted apart."
        )
    return found


def fix_first(findings: Sequence[Finding], missing: Sequence[MissingFact]) -> list[FixFirst]:
    """The few things to do first: grave findings in their order, then the missing evidence that the law demands."""
    found = [
        FixFirst(
            finding=f.number, text=f"{f.title}: {f.action}".rstrip("."), how_much=f"{f.summary}. Worst: {f.worst}."
        )
        for f in findings
        if f.kind == "nonconformity" and f.confirmed and f.tolerated_count < f.load_count
    ][: FIRST - 1]
    for fact in missing:
        if len(found) < FIRST and (fact.demanded_by_law or not found):
            text = f"Evidence: {fact.meaning}. {fact.todo}".rstrip(".")
            how = f"blank for {fact.load_count:,} of {count_text(fact.job_load_count, 'load')}"
            found.append(FixFirst(finding=0, text=text, how_much=how))
            break
    return found
