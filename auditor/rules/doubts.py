"""A checklist of what rule files say without anyone having read it, or having looked at it for long."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook
from auditor.rules.statements import Statement, looked_at_long_ago, statements
from auditor.vocabulary import TOPICS, nearest
from auditor.vocabulary.problems import Problem, UnusableInput
from auditor.vocabulary.quantities import count_text, day_text

DOUBTFUL = {"memory": "from memory", "secondary": "second-hand"}
ANSWER = ("confirmed or corrected value", "edition", "page", "by", "role", "on")
"""What whoever looks a value up writes down."""
HEADINGS = (
    "place", "topic", "of", "kind", "why", "instrument", "paragraph", "seen", "look for", "current value",
    "in force from", "in force until", "checked", "note", *ANSWER,
)  # fmt: skip
_COLUMNS, _FEWEST = 100, 60
_LABEL = 13


@dataclass(frozen=True, slots=True)
class Doubt:
    """A value that someone should look up, and why."""

    place: str
    topic: str
    statement: Statement
    instrument: str
    seen: str
    known: str
    """How it is known, where that is not by reading the text; else empty."""
    long_ago: bool
    """Whether no one has looked at it for longer than the chosen time."""

    @property
    def why(self) -> str:
        """Why it is on the list, in words."""
        checked = self.statement.checked
        looked = f"last looked at on {day_text(checked)}" if checked is not None else "no day known on which one looked"
        return "; ".join(w for w in (self.known, looked if self.long_ago else "") if w)


def doubts(
    rulebook: Rulebook,
    places: Sequence[str] = (),
    topics: Sequence[str] = (),
    older_than_months: int | None = None,
    as_of: date | None = None,
) -> list[Doubt]:
    """Every value known from memory or second-hand, by place and topic; all places and topics unless some are named.

    With `older_than_months` also every value last looked at longer than that before `as_of`; the clock is never asked.
    Raises UnusableInput for a place or topic without rule file, and for one of the two without the other.
    """
    problems = [*_unknown("place", places, rulebook.places()), *_unknown("topic", topics, TOPICS)]
    if (older_than_months is None) != (as_of is None):
        found, wanted = ("a time", "a day") if as_of is None else ("a day", "a time in months")
        problems.append(
            Problem("doubts", "", "", f"{found} alone", f"{wanted} too", "Give both --older-than and --as-of.")
        )
    elif older_than_months is not None and older_than_months < 0:
        problems.append(Problem("doubts", "", "", f"{older_than_months} months", "0 months or more", "Choose another."))
    if problems:
        raise UnusableInput(problems)
    wanted_places = {p.upper() for p in places} or {*rulebook.places()}
    files = [f for f in rulebook.files if f.place in wanted_places and (not topics or f.topic in topics)]
    files.sort(key=lambda f: (f.place, TOPICS.index(f.topic) if f.topic in TOPICS else len(TOPICS), f.id))
    return [d for file in files for d in _of_file(file, older_than_months, as_of)]


def _unknown(field: str, names: Sequence[str], known: Sequence[str]) -> Iterator[Problem]:
    lower = {k.lower() for k in known}
    for name in names:
        if name.lower() not in lower:
            near = nearest(name.upper() if field == "place" else name, known)
            todo = f"Did you mean {' or '.join(near)}?" if near else f"Name one of {', '.join(known)}."
            yield Problem("doubts", "", field, f'"{name}"', f"a {field} with rule files", todo)


def _of_file(file: RuleFile, months: int | None, as_of: date | None) -> Iterator[Doubt]:
    for statement in statements(file):
        known = DOUBTFUL.get(statement.verified, "")
        ago = months is not None and as_of is not None and looked_at_long_ago(statement.checked, months, as_of)
        if known or ago:
            source = file.sources.get(statement.source)
            instrument, seen = (source.instrument, source.seen) if source is not None else (statement.source, "")
            yield Doubt(file.place, file.topic, statement, instrument, seen, known, ago)


def doubt_rows(found: Sequence[Doubt]) -> Iterator[list[str]]:
    """The checklist as rows of text under `HEADINGS`, with room for the answers."""
    for doubt in found:
        s = doubt.statement
        days = [d.isoformat() if d is not None else "" for d in (s.from_, s.until, s.checked)]
        told = [doubt.place, doubt.topic, s.address, s.kind, doubt.why, doubt.instrument, s.at or "", doubt.seen]
        yield [*told, s.means, s.now, *days, s.note or "", *("" for _ in ANSWER)]


def doubt_lines(found: Sequence[Doubt], columns: int = _COLUMNS) -> Iterator[str]:
    """The checklist as lines of text, as wide as `columns` where words allow it, from 60 to 100."""
    columns = min(max(columns, _FEWEST), _COLUMNS)
    groups: dict[tuple[str, str], list[Doubt]] = {}
    for doubt in found:
        groups.setdefault((doubt.place, doubt.topic), []).append(doubt)
    for (place, topic), ones in groups.items():
        yield f"{place} {topic}: {count_text(len(ones), 'value')} to look up"
        yield ""
        for doubt in ones:
            yield from _entry(doubt, columns)
            yield ""
    yield from textwrap.wrap(doubts_summary(found), columns)


def doubts_summary(found: Sequence[Doubt]) -> str:
    """How many values are on the list, and why."""
    memory = sum(d.known == DOUBTFUL["memory"] for d in found)
    second = sum(d.known == DOUBTFUL["secondary"] for d in found)
    ago = sum(d.long_ago for d in found)
    parts = [f"{memory:,} from memory", f"{second:,} second-hand"]
    parts += [f"{ago:,} not looked at for longer than the chosen time"] if ago else []
    return f"{count_text(len(found), 'value')} to look up: {', '.join(parts)}."


def _entry(doubt: Doubt, columns: int) -> Iterator[str]:
    s = doubt.statement
    yield f"[ ] {s.address}"
    where = f"{doubt.instrument}, {s.at}" if s.at else doubt.instrument
    yield from _labelled("where", where, columns)
    yield from _labelled("look for", f"{s.means} ({s.kind})", columns)
    yield from _labelled("now", s.now, columns)
    known = "; ".join(w for w in (doubt.why, f"seen: {doubt.seen}") if w)
    yield from _labelled("known", known, columns)
    yield from _labelled("days", _days(s), columns)
    if s.note:
        yield from _labelled("note", s.note, columns)
    yield _to_fill(columns, found=32, edition=14, page=6)
    yield _to_fill(columns, by=20, role=20, on=14)


def _to_fill(columns: int, **widths: int) -> str:
    """A line with room for answers, as wide as they are or, where the page is too narrow, each as much narrower."""
    words = list(widths)
    said = 4 + _LABEL + sum(len(word) + 3 for word in words[1:])
    room = min(1.0, (columns - said) / sum(widths.values()))
    first, *rest = ("_" * int(width * room) for width in widths.values())
    return "  ".join([f"    {words[0]:<{_LABEL}}{first}", *(f"{w} {r}" for w, r in zip(words[1:], rest, strict=True))])


def _days(s: Statement) -> str:
    span: list[str] = []
    if s.from_ is not None:
        span.append(f"from {day_text(s.from_)}")
    if s.until is not None:
        span.append(f"until {day_text(s.until)}")
    looked = f"last looked at on {day_text(s.checked)}" if s.checked is not None else "no day of a look known"
    return "; ".join([*(["in force " + " ".join(span)] if span else []), looked])


def _labelled(label: str, text: str, columns: int) -> Iterator[str]:
    lines = textwrap.wrap(" ".join(text.split()), columns - 4 - _LABEL, break_long_words=False, break_on_hyphens=False)
    for place, line in enumerate(lines):
        yield f"    {label if place == 0 else '':<{_LABEL}}{line}"
