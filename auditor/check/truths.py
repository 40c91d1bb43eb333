"""Truth of conditions on the rows of a frame: each comparison is made once, what they say together comes from whole columns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import reduce
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from auditor.rules import kleene
from auditor.rules.nodes import Node, every_node

FALSE, UNKNOWN, TRUE = 0, 1, 2
"""So ordered that the least of truths is what they say all together, and the greatest what one of them says."""

Truth = NDArray[np.uint8]
Flags = NDArray[np.bool_]
_GROUPS = ("all_of", "any_of", "none_of", "at_least_n_of")


class Truths:
    """The truth of some conditions, with all below them, on every row of a frame."""

    def __init__(self, frame: pl.DataFrame, conditions: Iterable[Node]) -> None:
        self._frame = frame
        self._known: dict[int, Truth] = {}
        self._look_at((leaf for condition in conditions for leaf in _leaves(condition)), {})

    def of(self, node: Node) -> Truth:
        """The truth of a condition, or of one below it."""
        if id(node) not in self._known:
            self._known[id(node)] = _together(node, [self.of(kid) for kid in node.kids], self._frame.height)
        return self._known[id(node)]

    def blamed(self, conditions: Mapping[int, Sequence[Node]]) -> dict[int, dict[str, Flags]]:
        """For each key, column -> whether its blank leaves some of the conditions open on a row."""
        every = [part for parts in conditions.values() for part in parts]
        # Where nothing below can be blank there is nothing to blame.
        nodes = {id(n): n for part in every for n in every_node(part) if any(below.blanks for below in every_node(n))}
        inside = (n for part in every for leaf in _leaves(part) for kid in leaf.kids for n in every_node(kid))
        blank = {id(b): kleene.certain(b) for node in nodes.values() for b in node.blanks.values()}
        blanks = self._look_at((node for node in inside if id(node) in nodes), blank)
        known: dict[int, dict[str, Flags]] = {}

        def blame(node: Node) -> dict[str, Flags]:
            if id(node) not in nodes:
                return {}
            if id(node) not in known:
                unknown = self.of(node) == UNKNOWN
                own = {name: unknown & blanks[id(b)] for name, b in node.blanks.items()}
                below = [{name: unknown & found for name, found in blame(kid).items()} for kid in node.kids]
                known[id(node)] = _joined([own, *below])
            return known[id(node)]

        return {key: _joined([blame(part) for part in parts]) for key, parts in conditions.items()}

    def _look_at(self, leaves: Iterable[Node], besides: Mapping[int, pl.Expr]) -> dict[int, NDArray[Any]]:
        """Work out the truth of conditions that are not made of the truths of others; gives what is asked for besides."""
        new = {id(leaf): leaf for leaf in leaves if id(leaf) not in self._known}
        coded = {key: (leaf.truth.cast(pl.UInt8) * TRUE).fill_null(UNKNOWN) for key, leaf in new.items()}
        found = full_columns(self._frame, {**coded, **besides})
        self._known |= {key: found[key] for key in coded}
        return {key: found[key] for key in besides}


def _leaves(node: Node) -> Iterator[Node]:
    """The comparisons of a condition; what keeps a limit unknown is no part of the truth above it."""
    if node.form in _GROUPS:
        for kid in node.kids:
            yield from _leaves(kid)
    else:
        yield node


def _together(node: Node, truths: Sequence[Truth], height: int) -> Truth:
    """What the truths of its parts make of a group."""
    if node.form == "at_least_n_of":
        # The n-th greatest is true if n are, and false if n can no longer be reached.
        nth: Truth = np.sort(np.stack(truths), axis=0)[-node.n]
        return nth
    if node.form == "all_of":
        every: Truth = reduce(np.minimum, truths) if truths else np.full(height, TRUE, dtype=np.uint8)
        return every
    held: Truth = reduce(np.maximum, truths) if truths else np.full(height, FALSE, dtype=np.uint8)
    return np.asarray(TRUE - held, dtype=np.uint8) if node.form == "none_of" else held


def full_columns(frame: pl.DataFrame, expressions: Mapping[int, pl.Expr]) -> dict[int, NDArray[Any]]:
    """Expressions that are never null as columns of the length of the frame, what they have in common computed once."""
    if not expressions:
        return {}
    named = [expression.alias(f"{key}") for key, expression in expressions.items()]
    # A column of the frame beside them makes constants as long as the frame. The engine for streams takes long to begin.
    made = frame.lazy().select(pl.col(frame.columns[0]).alias("beside"), *named).collect(engine="in-memory")
    return {key: made[f"{key}"].to_numpy() for key in expressions}


def _joined(parts: Sequence[Mapping[str, Flags]]) -> dict[str, Flags]:
    """Columns of the same name as one, true where one of them is."""
    found: dict[str, Flags] = {}
    for part in parts:
        for name, blank in part.items():
            found[name] = found[name] | blank if name in found else blank
    return found
