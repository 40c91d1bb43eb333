"""What a practitioner confirmed or corrected, laid over the rule files in memory; the files stay as they are."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from pydantic import BaseModel, ValidationError

from auditor.rules.models import (
    SHAPES,
    Allowance,
    Cap,
    Cited,
    Confirmation,
    ConfirmedBy,
    Definition,
    Exception_,
    Rule,
    RuleFile,
    Shape,
    Source,
    Version,
)
from auditor.rules.statements import Statement, statements
from auditor.vocabulary import nearest
from auditor.vocabulary.problems import Problem
from auditor.vocabulary.quantities import day_text

KNOWN = {"read": "text read", "secondary": "second-hand", "memory": "from memory", "confirmed": "confirmed"}


@dataclass(frozen=True, slots=True)
class Found:
    """A confirmation and where it stands: the overlay file and the line."""

    confirmation: Confirmation
    shown: str
    where: str

    def problem(self, field: str, found: str, expected: str, todo: str) -> Problem:
        """What is wrong with it."""
        return Problem(self.shown, self.where, field, found, expected, todo)


class _RefusedError(ValueError):
    """Why a confirmation cannot be taken: field, what was found, what was expected, what to do."""


def confirm(
    files: Mapping[str, RuleFile],
    found: Sequence[Found],
    elsewhere: Callable[[str], bool],
    problems: list[Problem],
) -> dict[str, RuleFile]:
    """The rule files with every confirmation laid over them; what cannot be taken is added to `problems`.

    `elsewhere` says of an address outside the files whether it belongs to a file that was not read; such a confirmation
    waits until it is.
    """
    if not found:
        return dict(files)
    known = {file.id: {s.address: s for s in statements(file)} for file in files.values()}
    taken: dict[str, dict[str, list[Found]]] = {}
    for one in found:
        address = _canonical(one.confirmation.of)
        owners = [i for i in files if address.startswith(f"{i}/")]
        if not owners:
            if not elsewhere(address):
                problems.append(_unknown(one, address, [a for of_file in known.values() for a in of_file]))
            continue
        owner = max(owners, key=len)
        statement = _find(known[owner], address)
        if statement is None:
            problems.append(_unknown(one, address, list(known[owner])))
        else:
            taken.setdefault(owner, {}).setdefault(statement.address, []).append(one)
    confirmed = dict(files)
    for id_, by_address in taken.items():
        confirmed[id_] = _laid_over(files[id_], known[id_], by_address, problems)
    return confirmed


def files_named(files: Iterable[str], confirmations: Iterable[Confirmation]) -> list[str]:
    """The rule files, by id, that some confirmation speaks of, sorted."""
    named = {_canonical(c.of) for c in confirmations}
    return sorted({i for i in files for address in named if address.startswith(f"{i}/")})


def _canonical(of: str) -> str:
    """The address as statements have it; a report writes base:2023-07-01."""
    return of.strip().replace("/base:", "/base@")


def _find(known: Mapping[str, Statement], address: str) -> Statement | None:
    found = known.get(address)
    if found is None and "@" in address:
        # The day is the beginning of the one version there is.
        alone = known.get(address.rpartition("@")[0])
        if alone is not None and str(alone.from_) == address.rpartition("@")[2]:
            return alone
    return found


def _unknown(one: Found, address: str, known: Collection[str]) -> Problem:
    versions = [k for k in known if k.startswith(f"{address}@")]
    near = versions or nearest(address, known)
    todo = f"Did you mean {' or '.join(near)}?" if near else "See `auditor rules doubts` for the names."
    found = f"{address}, of which there are several versions" if versions else f'"{one.confirmation.of}"'
    return one.problem("of", found, "the name of one value of the rule files", todo)


def _laid_over(
    file: RuleFile, known: Mapping[str, Statement], by_address: Mapping[str, Sequence[Found]], problems: list[Problem]
) -> RuleFile:
    """One file with its confirmations."""
    revised: list[tuple[tuple[str | int, ...], list[Any]]] = []
    sources: dict[str, Source] = {}
    for address, ones in by_address.items():
        statement = known[address]
        entry = _at(file, statement.path)
        made: list[tuple[Found, list[Any]]] = []
        for one in sorted(ones, key=lambda o: (o.confirmation.on, o.confirmation.by)):
            try:
                made.append((one, _Revision(file, statement, entry, one.confirmation, sources).entries()))
            except _RefusedError as refusal:
                problems.append(one.problem(*refusal.args))
        for one, entries in made[1:]:
            if _said(entries) != _said(made[0][1]):
                first = made[0][0]
                problems.append(
                    one.problem(
                        "value",
                        f"another value for {address} than on {first.where} of {first.shown}",
                        "confirmations that agree",
                        "Look the value up again and keep one of them.",
                    )
                )
        if made:
            revised.append((statement.path, made[-1][1]))
    for path, entries in sorted(revised, key=lambda r: _outer_first_back_to_front(r[0])):
        file = _put(file, path, entries)
    return file.model_copy(update={"sources": {**file.sources, **sources}}) if sources else file


def _outer_first_back_to_front(path: Sequence[str | int]) -> tuple[int, int]:
    """An outer part is put in before what lies inside it, and the last of a list first, so that no path goes astray."""
    return len(path), -path[-1] if isinstance(path[-1], int) else 0


def _said(entries: Sequence[Any]) -> list[Any]:
    """What the entries say, without who says it."""
    apart = {"checked", "note", "confirmed_by", "source", "at", "verified"}
    return [
        e.model_dump(exclude=apart) if isinstance(e, BaseModel) else {k: v for k, v in e.items() if k not in apart}
        for e in entries
    ]


def _at(node: Any, path: Sequence[str | int]) -> Any:
    for step in path:
        node = getattr(node, str(step)) if isinstance(node, BaseModel) else node[step]
    return node


def _put(node: Any, path: Sequence[str | int], entries: Sequence[Any]) -> Any:
    """The node with what lies at the end of the path replaced; a list may take several entries for one."""
    step, rest = path[0], path[1:]
    if isinstance(node, list) and not rest:
        return [*node[: int(step)], *entries, *node[int(step) + 1 :]]
    new = _put(_at(node, [step]), rest, entries) if rest else entries[0]
    if isinstance(node, BaseModel):
        return node.model_copy(update={str(step): new})
    if isinstance(node, list):
        return [new if i == step else kept for i, kept in enumerate(node)]
    return {**node, step: new}


@dataclass(frozen=True, slots=True)
class _Revision:
    """One statement under one confirmation."""

    file: RuleFile
    statement: Statement
    entry: Any
    confirmation: Confirmation
    sources: dict[str, Source]

    def entries(self) -> list[Any]:
        """What stands in the place of the entry: itself confirmed, corrected, or as it was and then corrected."""
        given = self.confirmation.value
        if given is None:
            if getattr(self.entry, "said", None) is not None:
                raise _RefusedError(
                    "value", "none", "the right one of the values that the sources give", "Write value: too."
                )
            if self.confirmation.from_ is not None:
                raise _RefusedError(
                    "from", "a day", "a day only with a corrected value", "Write value: too, or take it out."
                )
            return [self._confirmed({})]
        if isinstance(self.entry, Rule | Exception_):
            todo = "Take it out; where the requirement differs, write a rule of your own in the overlay."
            raise _RefusedError("value", f"{given!r}", "no value, for this is a text", todo)
        changes = self._shape(given) if isinstance(self.entry, Shape) else self._definition(given)
        if not changes:
            return [self._confirmed({})]
        self._later_than_read()
        return self._corrected(changes)

    def _shape(self, given: Any) -> dict[str, Any]:
        """The fields that change with a corrected value; none where it is the value there was."""
        entry = self.entry
        if isinstance(given, bool | str):
            raise _RefusedError(
                "value", f"{given!r}", "a number, a list of words or a shape of a limit", "Write it so."
            )
        if isinstance(given, float) and entry.kind not in ("value", "percent_more", "said"):
            todo = f"Write the whole of it, as in the rule file: {{{entry.kind}: ...}}."
            raise _RefusedError("value", f"{given:g}", f"what can stand for {entry.kind.replace('_', ' ')}", todo)
        if isinstance(given, float) and entry.kind == "percent_more":
            body: dict[str, Any] = {"percent_more": given, "than": entry.than}
        else:
            body = (
                {"value": given} if isinstance(given, float) else given if isinstance(given, dict) else {"words": given}
            )
        try:
            shape = Shape.model_validate(body)
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            where = ".".join(["value", *(str(p) for p in first["loc"])])
            raise _RefusedError(where, f"{given!r}"[:60], str(first["msg"]), "See `auditor schema rules`.") from None
        new = {name: getattr(shape, name) for name in (*SHAPES, "than")}
        return {} if all(getattr(entry, name) == value for name, value in new.items()) else new

    def _definition(self, given: Any) -> dict[str, Any]:
        if not isinstance(given, dict):
            raise _RefusedError(
                "value", f"{given!r}"[:60], "the names of what differs, each with its value", "Write it so."
            )
        if self.confirmation.from_ is not None:
            raise _RefusedError("from", "a day", "no day, for a definition has no versions", "Take it out.")
        old: dict[str, Any] = (self.entry.model_extra or {}) if isinstance(self.entry, Definition) else self.entry
        merged = _merged(old, given, "value")
        return {k: merged[k] for k in given if merged[k] != old[k]}

    def _later_than_read(self) -> None:
        """A text that was read gives way to a later instrument alone."""
        if self.statement.verified != "read":
            return
        year = getattr(self.entry, "text_read_of", None)
        seen = date(year, 12, 31) if year is not None else self.statement.checked
        dated = self.confirmation.dated
        if dated is None or seen is None or dated <= seen:
            when = (
                f" after {day_text(seen)}, the text that was read" if seen is not None else " later than the text read"
            )
            found = f"an instrument dated {day_text(dated)}" if dated is not None else "no date of the instrument"
            todo = "Give the day of the later instrument as dated:, or look at the value again."
            raise _RefusedError("dated", found, f"an instrument dated{when}", todo)

    def _corrected(self, changes: Mapping[str, Any]) -> list[Any]:
        """The entry with the corrected value, after the entry as it was where the new value holds from a later day."""
        new = self._confirmed(changes)
        if not isinstance(self.entry, Version):
            return [new]
        read = self.statement.verified == "read"
        start = self.confirmation.from_ or (self.confirmation.dated if read else None)
        begins, ends = self.entry.from_, self.entry.until
        if start is None or start == begins:
            return [new]
        if (begins is not None and start < begins) or (ends is not None and start > ends):
            held = f"a day on which this value holds, {_span(begins, ends)}"
            raise _RefusedError("from", day_text(start), held, "Name the version that holds on that day.")
        old = self.entry.model_copy(update={"until": start - timedelta(days=1)})
        update: dict[str, Any] = {"from_": start}
        if isinstance(self.entry, Allowance | Cap):
            update["id"] = f"{self.entry.id}-from-{start}"
        return [old, new.model_copy(update=update)]

    def _confirmed(self, changes: Mapping[str, Any]) -> Any:
        told, statement = self.confirmation, self.statement
        instrument = self.file.sources[statement.source].instrument
        was = None
        if changes:
            where = f"{instrument} {statement.at or ''}".strip()
            was = f"{statement.now} ({KNOWN[statement.verified]}, {where})"
        by = ConfirmedBy(
            by=told.by,
            role=told.role,
            on=told.on,
            instrument=told.instrument or instrument,
            edition=told.edition,
            page=str(told.page) if told.page is not None else None,
            note=told.note,
            was=was,
        )
        update: dict[str, Any] = {**changes, "verified": "confirmed", "confirmed_by": by}
        if not isinstance(self.entry, Exception_):
            update["checked"] = max(told.on, statement.checked or told.on)
        if changes:
            update |= self._own_source(by)
        if isinstance(self.entry, dict):
            return {**self.entry, **update}
        return self.entry.model_copy(update=update)

    def _own_source(self, by: ConfirmedBy) -> dict[str, Any]:
        key = f"confirmed {self.statement.address}"
        self.sources[key] = Source(instrument=by.instrument, seen=f"{by.edition}, looked up by {by.by}", note=by.note)
        notes = [f"{by.note.rstrip('.')}." if by.note else "", f"In place of {by.was}.", self.statement.note or ""]
        at = self.statement.at if self.confirmation.instrument is None else None
        return {"source": key, "at": at, "note": " ".join(n for n in notes if n)}


def _merged(old: Any, given: Any, where: str) -> Any:
    """The old values with those given in their places; nothing new may come in and no kind may change."""
    if isinstance(old, Mapping) and isinstance(given, Mapping):
        for name in given:
            if name not in old:
                near = nearest(str(name), [str(k) for k in old])
                todo = f"Did you mean {' or '.join(near)}?" if near else "Take it out."
                raise _RefusedError(f"{where}.{name}", f'"{name}"', "a name that the definition has", todo)
            if name in Cited.model_fields or _has_own_source(old[name]):
                todo = "Confirm the part by its own name; `auditor rules doubts` lists it."
                raise _RefusedError(f"{where}.{name}", f'"{name}"', "a value without a source of its own", todo)
        return {**old, **{k: _merged(old[k], v, f"{where}.{k}") for k, v in given.items()}}
    numbers = all(isinstance(v, int | float) and not isinstance(v, bool) for v in (old, given))
    if not numbers and type(old) is not type(given):
        raise _RefusedError(where, f"{given!r}"[:60], f"a value like {old!r}"[:60], "Write it like the old one.")
    return given


def _has_own_source(value: Any) -> bool:
    parts = value.values() if isinstance(value, Mapping) else value if isinstance(value, list) else ()
    return (isinstance(value, Mapping) and "verified" in value) or any(_has_own_source(p) for p in parts)


def _span(begins: date | None, ends: date | None) -> str:
    parts = [f"from {day_text(begins)}" if begins else "", f"until {day_text(ends)}" if ends else ""]
    return " ".join(p for p in parts if p)
