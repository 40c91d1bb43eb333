"""Which loads many things hold for, in little space: a pattern of things for each load, and what each pattern holds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import polars as pl
from numpy.typing import NDArray

from auditor.check.evaluate import Places

Thing = tuple[str, str]
Group = tuple[tuple[Thing, ...], list[str]]
"""What some loads have in common, and those loads, sorted."""

_BITS = 64


@dataclass(slots=True)
class LoadMarks:
    """Things that hold for loads, such as a rule and a fact that it lacks.

    `loads`: frames of job, load, pattern, a row for each load that something holds for. `patterns`: pattern -> its things.
    """

    loads: list[pl.DataFrame] = field(default_factory=list)
    patterns: list[tuple[Thing, ...]] = field(default_factory=list)
    _numbers: dict[tuple[Thing, ...], int] = field(default_factory=dict)

    def add(self, loads: pl.DataFrame, marked: Iterable[tuple[Thing, Places]]) -> None:
        """Add loads (job, load); `marked` has the places of those rows that a thing holds for, a thing perhaps twice."""
        bits: dict[Thing, int] = {}
        words: list[NDArray[np.uint64]] = []
        for thing, places in marked:
            bit = bits.setdefault(thing, len(bits))
            if bit // _BITS == len(words):
                words.append(np.zeros(loads.height, dtype=np.uint64))
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
        found = loads.select("job", "load").with_columns(pattern)
        nothing = self._numbers.get(())
        self.loads.append(found if nothing is None else found.filter(pl.col("pattern") != nothing))

    def groups(self, loads: pl.DataFrame) -> list[Group]:
        """The loads of one job, together where the same things hold for them; `loads` are its rows of `loads`."""
        together = loads.group_by("pattern").agg(pl.col("load").sort()).sort("pattern")
        return [(self.patterns[pattern], keys) for pattern, keys in together.iter_rows()]

    def _number(self, row: tuple[int, ...], things: list[Thing]) -> int:
        held = tuple(sorted(t for bit, t in enumerate(things) if row[bit // _BITS] >> bit % _BITS & 1))
        if held not in self._numbers:
            self._numbers[held] = len(self.patterns)
            self.patterns.append(held)
        return self._numbers[held]
