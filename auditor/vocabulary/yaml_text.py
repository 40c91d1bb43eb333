"""Strict YAML in which every scalar is text, so that "12:30", "NO", "0123" and dates are no traps."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import yaml

from auditor.vocabulary.problems import Problem, UnusableInput

MOST_BYTES: Final = 2_000_000
MOST_DEPTH: Final = 40
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_VALUES: Any = (yaml.ScalarEvent, yaml.CollectionStartEvent)

Path = tuple[str | int, ...]


class Lines(dict[Path, int]):
    """Line number (from 1) of each path of keys and list positions, such as ("limits", 0, "value")."""

    def at(self, *path: str | int) -> int:
        """Line of the path, or of the nearest part above it that has one; 1 when none has."""
        while path and path not in self:
            path = path[:-1]
        return self.get(path, 1)


class _Open:
    """A mapping or list that is still being filled."""

    __slots__ = ("key", "key_refused", "path", "typed_key", "value")

    def __init__(self, value: dict[object, object] | list[object] | None, path: Path) -> None:
        self.value = value
        self.path = path
        self.key: str | None = None
        self.typed_key: object = None
        self.key_refused = False


def load_yaml_text(data: bytes, file: str, plain: Callable[[str], object] | None = None) -> tuple[object, Lines]:
    """Read one YAML document as dicts, lists and text; `file` is the name used in messages.

    Empty values are empty text, an empty document is an empty dict. `plain` makes the value of a text that stands
    without quotation marks, where not all is to be text, and raises ValueError with what was expected instead; an
    empty document is None then. Raises UnusableInput for text that is not
    UTF-8, more than 2 MB, more than one document, repeated keys, keys that are not plain words, aliases,
    anchors, merge keys, tags and nesting beyond 40 levels.
    """
    if len(data) > MOST_BYTES:
        raise UnusableInput(
            [_problem(file, 0, f"{len(data):,} bytes", "at most 2,000,000 bytes", "Move long tables to a CSV file.")]
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise UnusableInput(
            [_problem(file, line, "bytes that are not UTF-8", "text in UTF-8", "Save the file again as UTF-8.")]
        ) from None
    builder = _Builder(file, plain)
    try:
        for event in yaml.parse(text, Loader=_LOADER):
            builder.take(event)
            if builder.stopped:
                break
    except yaml.YAMLError as error:
        builder.problems.append(_syntax_problem(file, text, error))
    if builder.problems:
        raise UnusableInput(builder.problems)
    return ({} if builder.root is None and plain is None else builder.root), builder.lines


def _problem(file: str, line: int, found: str, expected: str, todo: str, field: str = "") -> Problem:
    return Problem(file, f"line {line}" if line else "", field, found, expected, todo)


def _syntax_problem(file: str, text: str, error: yaml.YAMLError) -> Problem:
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    if mark is not None:
        line, what = mark.line + 1, str(getattr(error, "problem", None) or "a mistake").removeprefix("found ")
    else:
        position = getattr(error, "position", 0) or 0
        line, what = text.count("\n", 0, position) + 1, "a control character"
    todo = "Check the indentation, the colons and the quotation marks around this line."
    return _problem(file, line, what, "readable YAML", todo)


def _line(event: Any) -> int:
    return int(event.start_mark.line) + 1


class _Builder:
    """Builds the value from the parser's events and keeps what is refused."""

    def __init__(self, file: str, plain: Callable[[str], object] | None) -> None:
        self.file = file
        self.plain = plain
        self.problems: list[Problem] = []
        self.lines = Lines()
        self.root: object = None
        self.stopped = False
        self._stack: list[_Open] = []
        self._documents = 0

    def take(self, event: Any) -> None:
        """Use one event of the parser."""
        if isinstance(event, _VALUES):
            self._node(event, event.start_mark.line + 1)
        elif isinstance(event, yaml.CollectionEndEvent):
            self._stack.pop()
        elif isinstance(event, yaml.DocumentStartEvent):
            self._documents += 1
            if self._documents > 1:
                found = "a second document (---)"
                self._refuse(_line(event), found, "one document in a file", "Put it in a file of its own.")
                self.stopped = True
        elif isinstance(event, yaml.AliasEvent):
            line = _line(event)
            self._refuse(line, f"the alias *{event.anchor}", "every value written out", "Write the value out here.")
            self._place("", line, "")

    def _node(self, event: Any, line: int) -> None:
        if event.anchor is not None:
            self._refuse(line, f"the anchor &{event.anchor}", "every value written out", "Take the anchor out.")
        if event.tag is not None:
            self._refuse(line, f"the tag {event.tag}", "values without tags", "Take the tag out.")
        if isinstance(event, yaml.ScalarEvent):
            self._place(event.value, line, self._typed(event, line))
            return
        value: dict[object, object] | list[object] = {} if isinstance(event, yaml.MappingStartEvent) else []
        path = self._place(value, line, value)
        if len(self._stack) >= MOST_DEPTH:
            self._refuse(line, "more than 40 levels of nesting", "a flat file", "Take the inner levels out.")
            self.stopped = True
        self._stack.append(_Open(value if path is not None else None, path or ()))

    def _typed(self, event: Any, line: int) -> object:
        """The value of a scalar; only a text without quotation marks may be other than text."""
        if self.plain is None or not event.implicit[0]:
            return event.value
        try:
            return self.plain(event.value)
        except ValueError as error:
            self._refuse(line, f'"{event.value}"', str(error), "Correct the value.")
            return None

    def _place(self, text: object, line: int, value: object) -> Path | None:
        """Put a value where it belongs and return its path; None where it was refused or was a key.

        `text` is what stands in the file for it.
        """
        if not self._stack:
            self.root = value
            self.lines[()] = line
            return ()
        top = self._stack[-1]
        if top.value is None:
            return None
        if isinstance(top.value, list):
            top.value.append(value)
            path = (*top.path, len(top.value) - 1)
            self.lines[path] = line
            return path
        if top.key is None:
            top.key, top.typed_key = self._key(text, top, line), value
            return None
        key, top.key = top.key, None
        if top.key_refused:
            return None
        top.value[top.typed_key] = value
        return (*top.path, key)

    def _key(self, value: object, top: _Open, line: int) -> str:
        before = len(self.problems)
        self._check_key(value, top, line)
        top.key_refused = len(self.problems) > before
        return value if isinstance(value, str) else ""

    def _check_key(self, value: object, top: _Open, line: int) -> None:
        if not isinstance(value, str):
            self._refuse(line, "a list or mapping as a key", "a word as a key", "Write a plain word before the colon.")
            return
        path = (*top.path, value)
        if value == "<<":
            self._refuse(line, "the merge key <<", "every value written out", "Write the values out here.")
        elif path in self.lines:
            first = self.lines[path]
            self.problems.append(
                _problem(self.file, line, f"the key a second time (first on line {first})", "each key once",
                         "Keep one of the two.", value)
            )  # fmt: skip
        self.lines.setdefault(path, line)

    def _refuse(self, line: int, found: str, expected: str, todo: str) -> None:
        self.problems.append(_problem(self.file, line, found, expected, todo))
