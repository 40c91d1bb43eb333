"""One problem in what the user brought: where it is, what was found, what was expected, what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with an input file.

    `where` is a place inside the file as its owner would say it: "row 14", "sheet Loads, row 3", "line 7".
    """

    file: str
    where: str
    field: str
    found: str
    expected: str
    todo: str

    def __str__(self) -> str:
        place = ", ".join(p for p in (self.file, self.where, self.field) if p)
        found = f"found {self.found}; " if self.found else ""
        return f"{place}: {found}expected {self.expected}. {self.todo}"


class UnusableInput(Exception):  # noqa: N818 - it is no fault of the program
    """The record or the rules cannot be used; `problems` holds every one found in the pass."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(p) for p in self.problems))


def system_reason(error: OSError) -> str:
    """What the operating system says of a failure, as it goes into the middle of a sentence.

    >>> system_reason(FileNotFoundError(2, "No such file or directory")), system_reason(OSError("I/O"))
    ('no such file or directory', 'I/O')
    """
    told = error.strerror or str(error)
    return told[:1].lower() + told[1:] if told[1:2].islower() else told
