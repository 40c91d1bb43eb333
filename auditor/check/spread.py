"""From the rows of sets of like loads to the rows of every load."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

import numpy as np
import polars as pl
from numpy.typing import NDArray

from auditor.check.alike import Alike
from auditor.check.steps import add_columns
from auditor.check.views.base import PLACE, Late
from auditor.rules.nodes import Node, Step, columns_of, step_reads

_OF_ONE = frozenset({"load", "load_date", "_file", "_sheet", "_row", PLACE})
"""Columns that a set shows of one of its loads."""


class Spread:
    """The rows of a view for sets of like loads in one edition, and what turns them into the rows of every load.

    `late` is what the view still lacks; `steps` are the columns that the rules of the edition need: those that like loads
    share are added here, the others to the rows of loads.
    """

    def __init__(self, frame: pl.DataFrame, alike: Alike, late: Late | None, steps: Sequence[Step]) -> None:
        self.alike = alike
        self._late = late
        self._own = {c for c in alike.own.columns if c in _OF_ONE or c not in frame.columns} | {"subject"}
        self._not_shared = set(self._own)
        if late is not None:
            self._not_shared |= {late.field, f"{late.field}__lo", f"{late.field}__hi"}
        shared: list[Step] = []
        self._steps: list[Step] = []
        for step in steps:
            own = not self._not_shared.isdisjoint(step_reads(step))
            (self._steps if own else shared).append(step)
            if own:
                self._not_shared.add(step.name)
        if not frame[PLACE].is_sorted():
            frame = frame.sort(PLACE, maintain_order=True)
        self.frame = add_columns(frame, shared)
        self._index: tuple[pl.Series, pl.Series] | None = None

    def shares(self, fields: Iterable[str]) -> bool:
        """Whether like loads have the same values of all these fields."""
        return self._not_shared.isdisjoint(fields)

    def shares_node(self, node: Node) -> bool:
        """Whether a condition, with all below it, reads only what like loads share."""
        return self._not_shared.isdisjoint(columns_of(node))

    def add(self, columns: Sequence[pl.Series]) -> None:
        """More columns of the rows of sets."""
        self.frame = self.frame.with_columns(columns)

    def rows(self, names: Collection[str], which: pl.Series | None = None) -> pl.DataFrame:
        """These columns of the rows of every load, or of some by number, beside their places, which are rows of `alike.own`.

        The rows of a load stand together, loads in the order of `alike.own`.
        """
        of_set, of_load = self._indices()
        if which is not None:
            of_set, of_load = of_set.gather(which), of_load.gather(which)
        wanted = self._with_needs(set(names))
        shared = [c for c in self.frame.columns if c in wanted and c not in self._own]
        own = [c for c in self.alike.own.columns if c in wanted and c in self._own and c != PLACE]
        parts = [of_load.alias(PLACE).to_frame()]
        # A selection of nothing has no rows that could be told apart.
        parts += [self.frame.select(shared)[of_set]] if shared else []
        parts += [self.alike.own.select(own)[of_load]] if own else []
        found = pl.concat(parts, how="horizontal")
        if "subject" in wanted:
            found = found.with_columns(self.alike.own["load"].gather(of_load).alias("subject"))
        if self._late is not None and not self._late_names().isdisjoint(wanted):
            found = self._late.add(found)
        steps = [s for s in self._steps if s.name in wanted]
        return add_columns(found, steps)

    def for_each_load(self, rows: pl.DataFrame, dated_by: str) -> pl.DataFrame:
        """Rows of sets (place: the set) once for each load of the set, with what is its own; its day also as `on`."""
        given, members = self.alike.members(rows[PLACE].to_numpy())
        own = self.alike.own[members]
        found = rows[given]
        mine = [own[c] for c in own.columns if c in found.columns]
        return found.with_columns(*mine, own["load"].alias("subject"), own[dated_by].alias("on"))

    def _late_names(self) -> set[str]:
        return {f"{self._late.field}__{end}" for end in ("lo", "hi")} if self._late is not None else set()

    def _with_needs(self, wanted: set[str]) -> set[str]:
        """The names with all that the columns made of rows are made of."""
        for step in reversed(self._steps):
            if step.name in wanted:
                wanted |= step_reads(step)
        if self._late is not None and not self._late_names().isdisjoint(wanted):
            wanted |= set(self._late.reads)
        return wanted

    def _indices(self) -> tuple[pl.Series, pl.Series]:
        """For each row of a load the row of its set, and the row of the load in `alike.own`."""
        if self._index is None:
            per_set = np.bincount(self.frame[PLACE].to_numpy(), minlength=len(self.alike.sizes))
            many = np.repeat(per_set, self.alike.sizes)
            first = np.repeat(np.cumsum(per_set) - per_set, self.alike.sizes)
            of_load = np.repeat(np.arange(len(many), dtype=np.uint32), many)
            shift: NDArray[np.int64] = first - (np.cumsum(many) - many)
            of_set = (np.arange(len(of_load)) + np.repeat(shift, many)).astype(np.uint32)
            self._index = pl.Series(of_set), pl.Series(of_load)
        return self._index
