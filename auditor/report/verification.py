"""The result of verifying a report, and its words on a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from auditor.report import wording as say
from auditor.report.differences import Difference

Status = Literal["stands", "differs", "cannot be run again", "signature good"]

MOST_IN_A_GROUP = 12
_GROUPS = ("evidence", "jobs", "findings", "limits", "missing", "weights", "rules")
_HEADINGS = {"evidence": "Evidence files", "missing": "Evidence missing", "rules": "Rule texts"}
_FOLLOW = {
    "number",
    "worst",
    "summary",
    "subject_count",
    "tolerated_count",
    "judged_count",
    "action",
    "caution",
    "to_mend",
}
"""Fields of a finding that follow from its figures; not listed beside a changed figure of the same finding."""
_VERDICTS = {
    "stands": "stands. Run again on these records, with the rules it holds, it comes out the same.",
    "differs": "does not stand.",
    "cannot be run again": "cannot be verified by running it again: its rule texts were left out.",
    "signature good": "is the file that was signed. It was not run again.",
}


@dataclass(frozen=True, slots=True)
class Verification:
    """What came out. `faults` are sentences, `facts` a label and a sentence each, both in the order of the checks."""

    status: Status
    report: str
    faults: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    differences: tuple[Difference, ...]


def verification_lines(found: Verification, columns: int = 80) -> list[str]:
    """The result in lines of at most `columns` columns: verdict, faults, what was looked at, every kind of difference."""
    lines = _wrapped(f"The report {found.report} {_VERDICTS[found.status]}", columns, "")
    for fault in found.faults:
        lines += _wrapped(fault, columns, "  ! ")
    lines.append("")
    for label, text in found.facts:
        lines += _wrapped(text, columns, f"{label:<11}")
    for name, group in _grouped(found.differences):
        lines += ["", f"{_HEADINGS.get(name, name.replace('_', ' ').capitalize())}:"]
        said = list(dict.fromkeys(_sentence(d) for d in group))
        for text in said[:MOST_IN_A_GROUP]:
            lines += _wrapped(text, columns, "  - ")
        if len(said) > MOST_IN_A_GROUP:
            lines.append(f"  and {len(said) - MOST_IN_A_GROUP:,} more")
    return lines


def _wrapped(text: str, columns: int, first: str) -> list[str]:
    rest = " " * len(first)
    return textwrap.wrap(say.clean(text), columns, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)


def _grouped(found: Sequence[Difference]) -> Iterator[tuple[str, list[Difference]]]:
    """The differences by part, the telling ones first; what follows from a changed figure only where no figure did."""
    told = {(d.job, d.name.partition(", load ")[0]) for d in found if d.part == "findings" and _is_figure(d)}
    groups: dict[str, list[Difference]] = {}
    for one in found:
        rule = one.name.partition(", load ")[0]
        if not (one.part == "findings" and one.field in _FOLLOW and (one.job, rule) in told):
            groups.setdefault(one.part, []).append(one)
    for name in sorted(groups, key=lambda n: (_GROUPS.index(n) if n in _GROUPS else len(_GROUPS), n)):
        yield name, sorted(groups[name], key=lambda d: not _is_figure(d))


def _is_figure(one: Difference) -> bool:
    return one.change != "changes" or one.field == "figure"


def _sentence(one: Difference) -> str:
    where = ", ".join(w for w in (one.job, one.name) if w)
    if one.part == "evidence":
        words = {"appears": "added", "vanishes": "missing", "changes": "changed"}
        return f"{where}: {words[one.change]}"
    if one.part == "jobs" and one.change != "changes":
        words = {"appears": "not in the report", "vanishes": "its folder was not given"}
        return f"{one.job}: {words[one.change]}"
    if one.change == "appears":
        return f"{where}: appears; not in the report{', now ' + one.new if one.new else ''}"
    if one.change == "vanishes":
        return f"{where}: vanishes; the report says {one.old or 'it'}, now it is not there"
    what = "" if one.field in ("", "figure") else f"{', ' if where else ''}{one.field.replace('_', ' ')}"
    if not (one.old or one.new):
        return f"{where}{what}: changed"
    return f"{where}{what}: the report says {one.old or 'nothing'}; now {one.new or 'nothing'}"
