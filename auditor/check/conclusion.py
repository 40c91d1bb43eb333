"""What the records of a job show, in numbers and a few sentences, and what to do first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from auditor.check.judgements import contradicting, significant_risks
from auditor.check.missing import Subject
from auditor.report.model import Conclusion, Finding, FixFirst, Judgement, MissingFact, SubjectCounts
from auditor.vocabulary import SUBJECTS
from auditor.vocabulary.quantities import count_text

FIRST = 5
_NAMES = 8


def conclude(
    findings: Sequence[Finding],
    missing: Sequence[MissingFact],
    counts: Mapping[str, int],
    without: set[Subject],
    unclear: set[Subject],
    judged_count: int,
    judgements: Sequence[Judgement] = (),
) -> Conclusion:
    """The conclusion of one job. Findings whose limit is unconfirmed and departures from practice stay outside it.

    `counts` says how many loads, banks, crossings ... of the job were looked at, by table; `without` holds those that lack
    evidence and `unclear` those that stay open. `judged_count` says how often a requirement came out as kept or broken; where
    that is never, nothing was judged, and nobody may read that nothing was found. `judgements` made on the ground change no
    number; what they contradict and the risks that they saw are said in sentences of their own.
    """
    counted = [f for f in findings if f.kind == "nonconformity" and f.confirmed]
    demanded = [m for m in missing if m.demanded_by_law]
    departures = sum(1 for f in findings if f.kind == "departure from practice")
    status: Literal["nothing judged", "nothing found", "departures", "nonconformities", "evidence missing"]
    status = "nothing found"
    if not judged_count:
        status = "nothing judged"
    elif counted:
        status = "nonconformities"
    elif demanded:
        status = "evidence missing"
    elif departures:
        status = "departures"
    conclusion = Conclusion(
        status=status,
        sentences=[],
        counts=[_counts(table, count, findings, without, unclear) for table, count in counts.items() if count],
        major_count=sum(1 for f in counted if f.grade == "major"),
        minor_count=sum(1 for f in counted if f.grade == "minor"),
        departure_count=departures,
        unconfirmed_count=sum(1 for f in findings if not f.confirmed and f.kind == "nonconformity"),
    )
    conclusion.sentences = [*_sentences(conclusion, missing), *_on_the_ground(judgements)]
    return conclusion


def _counts(
    table: str, count: int, findings: Sequence[Finding], without: set[Subject], unclear: set[Subject]
) -> SubjectCounts:
    """What became of the rows of one table."""
    noun = SUBJECTS[table]
    own = [f for f in findings if f.subject == noun]
    counted = [f for f in own if f.kind == "nonconformity" and f.confirmed]
    hard = {i.subject for f in counted for i in f.items if not i.tolerated}
    soft = {i.subject for f in counted for i in f.items} - hard
    lacking = {name for of, name in without if of == table}
    open_ = {name for of, name in unclear if of == table}
    return SubjectCounts(
        subject=noun,
        count=count,
        conforming=count - len({i.subject for f in own for i in f.items} | lacking | open_),
        with_nonconformity=len(hard) + len(soft),
        only_tolerated=len(soft),
        not_evidenced=len(lacking),
    )


def _sentences(c: Conclusion, missing: Sequence[MissingFact]) -> list[str]:
    if not c.counts:
        return ["The record holds neither loads nor anything of a harvest site; nothing was judged."]
    found = []
    outside = [s for s in c.counts if s.with_nonconformity]
    if outside:
        text = ", ".join(f"{count_text(s.with_nonconformity, s.subject)} of {s.count:,}" for s in outside)
        tolerated = sum(s.only_tolerated for s in outside)
        text = f"The records show {text} outside a requirement"
        if tolerated:
            text += f", {tolerated:,} of them by no more than an enforcement tolerance"
        minor = count_text(c.minor_count, "minor finding")
        found.append(f"{text}: {c.major_count:,} major and {minor}.")
    else:
        found.append(_none_outside(c))
    lacking = [s for s in c.counts if s.not_evidenced]
    if lacking:
        text = ", ".join(count_text(s.not_evidenced, s.subject) for s in lacking)
        found.append(f"For {text} at least one requirement could not be shown, because facts are missing.")
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


def _none_outside(c: Conclusion) -> str:
    """That nothing was found outside a requirement, or that nothing was judged; a job is not counted beside its parts."""
    parts = [s for s in c.counts if s.subject != "job"]
    all_of = ", ".join(count_text(s.count, s.subject) for s in parts) or "the job as a whole"
    if c.status == "nothing judged":
        return f"No requirement came out as kept or broken; facts are missing or none applied: {all_of}."
    if len(parts) > 1:
        return f"Of what the records hold nothing was found outside a requirement: {all_of}."
    none = f"no {parts[0].subject}" if parts else "nothing"
    return f"In the records of {all_of} {none} was found outside a requirement."


def _on_the_ground(judgements: Sequence[Judgement]) -> list[str]:
    """What the judgements made on the ground add to the conclusion."""
    found = []
    against = contradicting(judgements)
    if against:
        one = len(against) == 1
        count = count_text(len(against), "judgement")
        found.append(
            f"{count} made on the ground {'contradicts' if one else 'contradict'} what is computed: {_named(against)}. "
            f"Both stand; look again at {'that place' if one else 'those places'}."
        )
    risks = significant_risks(judgements)
    if risks:
        count = count_text(len(risks), "significant risk")
        found.append(f"{count} to water {'was' if len(risks) == 1 else 'were'} judged on the ground: {_named(risks)}.")
    return found


def _named(judgements: Sequence[Judgement]) -> str:
    names = [j.name for j in judgements]
    left = len(names) - _NAMES
    return ", ".join(names[:_NAMES]) + (f" and {left:,} more" if left > 0 else "")


def fix_first(
    findings: Sequence[Finding], missing: Sequence[MissingFact], judgements: Sequence[Judgement] = ()
) -> list[FixFirst]:
    """The few things to do first: significant risks seen on the ground, grave findings, missing evidence the law demands."""
    nonconformities = any(f.kind == "nonconformity" and f.confirmed for f in findings)
    kinds = ("nonconformity",) if nonconformities else ("nonconformity", "departure from practice")
    found = [_risk(j) for j in significant_risks(judgements) if j.answer == "no"]
    found += [
        FixFirst(
            finding=f.number, text=f"{f.title}: {f.action}".rstrip("."), how_much=f"{f.summary}. Worst: {f.worst}."
        )
        for f in findings
        if f.kind in kinds and f.confirmed and f.tolerated_count < f.subject_count
    ]
    found = found[: FIRST - 1]
    for fact in missing:
        if len(found) < FIRST and (fact.demanded_by_law or not found):
            text = f"Evidence: {fact.meaning}. {fact.todo}".rstrip(".")
            how = f"blank for {fact.subject_count:,} of {count_text(fact.job_subject_count, fact.subject)}"
            found.append(FixFirst(finding=0, text=text, how_much=how))
            break
    return found


def _risk(judgement: Judgement) -> FixFirst:
    """A practice that was not carried out, with a significant risk to water: its question, its reason, its place."""
    reason = f": {judgement.reason}" if judgement.reason else ""
    place = f"{judgement.place_kind} {judgement.place}".strip() if judgement.place else "the job as a whole"
    return FixFirst(
        finding=0,
        text=f"Significant risk to water. {judgement.question.capitalize()}, answered no{reason}",
        how_much=place,
        judgement=judgement.name,
    )
