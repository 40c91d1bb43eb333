"""Which loads, banks or crossings many things hold for, in little space: a pattern of things for each, and what each pattern holds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import polars as pl
from numpy.typing import NDArray

from auditor.check.evaluate import Places

Thing = tuple[str, str]
Group = tuple[tuple[Thing, ...], list[str]]
"""What some subjects have in common, and those subjects, sorted."""

_BITS = 64


@dataclass(slots=True)
class SubjectMarks:
    """Things that hold for subjects, such as a rule and a fact that it lacks.

    `subjects`: frames of job, subject, pattern, a row for each subject that something holds for. `patterns`: pattern -> its things.
    """

    subjects: list[pl.DataFrame] = field(default_factory=list)
    patterns: list[tuple[Thing, ...]] = field(default_factory=list)
    _numbers: dict[tuple[Thing, ...], int] = field(default_factory=dict)

    def add(self, subjects: pl.DataFrame, marked: Iterable[tuple[Thing, Places]]) -> None:
        """Add subjects (job, subject); `marked` has the places of those rows that a thing holds for, a thing perhaps twice."""
        bits: dict[Thing, int] = {}
        words: list[NDArray[np.uint64]] = []
        for thing, places in marked:
            bit = bits.setdefault(thing, len(bits))
            if bit // _BITS == len(words):
                words.append(np.zeros(subjects.height, dtype=np.uint64))
            words[bit // _BITS][places] |= np.uint64(1 << bit % _BITS)
        if not words:
            return
        names = [f"word{i}" for i in range(len(words))]
        rows = pl.DataFrame(dict(zip(names, words, strict=True)))
        distinct = rows.unique(maintain_order=True)
        things = list(bits)
        numbers = [self._number(row, things) for row in distinct.iter_rows()]
        distinct = distinct.with_columns(pl.Series("pattern", numbers, dtype=pl.UInt32))
        pattern = rows.join(distinct, on=names, how="left", maintain_order="left")["pattern"]
        found = subjects.select("job", "subject").with_columns(pattern)
        nothing = self._numbers.get(())
        self.subjects.append(found if nothing is None else found.filter(pl.col("pattern") != nothing))

    def groups(self, subjects: pl.DataFrame) -> list[Group]:
        """The subjects of one job, together where the same things hold for them; `subjects` are its rows of `subjects`."""
        together = subjects.group_by("pattern").agg(pl.col("subject").sort()).sort("pattern")
        return [(self.patterns[pattern], keys) for pattern, keys in together.iter_rows()]

    def _number(self, row: tuple[int, ...], things: list[Thing]) -> int:
        held = tuple(sorted(t for bit, t in enumerate(things) if row[bit // _BITS] >> bit % _BITS & 1))
        if held not in self._numbers:
            self._numbers[held] = len(self.patterns)
            self.patterns.append(held)
        return self._numbers[held]
