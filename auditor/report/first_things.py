"""The few things to do first, in the parts that every renderer lays out in its own way."""

from __future__ import annotations

from dataclasses import dataclass

from auditor.report import wording as say
from auditor.report.model import Finding, FixFirst, JobReport


@dataclass(frozen=True, slots=True)
class FirstThing:
    """One thing to do first. `figure` is short: how far off at most, for how many loads or places a record is blank, or where a risk was seen."""

    title: str
    action: str
    figure: str
    loads: str
    worst: str
    about: str
    finding: Finding | None

    @property
    def number(self) -> int | None:
        """The number of its finding; null for a judgement and for evidence that is missing."""
        return None if self.finding is None else self.finding.number


def first_things(job: JobReport) -> list[FirstThing]:
    """What to do first, with the figures of the findings behind it."""
    by_number = {finding.number: finding for finding in job.findings}
    return [_thing(fix, by_number.get(fix.finding)) for fix in job.fix_first]


def _thing(fix: FixFirst, finding: Finding | None) -> FirstThing:
    if finding is None:
        other = f"judgement {fix.judgement}" if fix.judgement else "missing evidence"
        about = f"finding {fix.finding}" if fix.finding else other
        return FirstThing(fix.text, "", fix.how_much, "", "", about, None)
    worst = say.worst_item(finding)
    numbered = worst is not None and worst.margin is not None
    return FirstThing(
        title=say.named(finding),
        action=fix.text.removeprefix(f"{finding.title}: "),
        figure=say.figure(finding) if numbered else say.how_many(finding),
        loads=say.how_many(finding) if numbered else "",
        worst=finding.worst,
        about=f"finding {finding.number}",
        finding=finding,
    )
