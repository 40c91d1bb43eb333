"""Adding limit columns to a view: expressions as they are, measures through the functions that compute them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

import numpy as np
import polars as pl

from auditor.measures import crossings, securement, trails, weight
from auditor.rules.models import Computed
from auditor.rules.nodes import Step, step_reads

_AS_WRITTEN = pl.QueryOptFlags.none()
"""What is made is read: looking for what could be left out takes longer than making it. So does beginning a stream."""

Computation = Callable[[Mapping[str, pl.Series], Mapping[str, Any]], pl.Series]


def _bridge(columns: Mapping[str, pl.Series], parameters: Mapping[str, Any]) -> pl.Series:
    limit = weight.bridge_limit_lb(
        columns["axle_count"].cast(pl.Float64).to_numpy(), columns["span_ft"].to_numpy(), **parameters
    )
    return pl.Series(np.atleast_1d(limit)).fill_nan(None)


def _tiedowns_required(columns: Mapping[str, pl.Series], parameters: Mapping[str, Any]) -> pl.Series:
    required = securement.tiedowns_required_count(
        columns["article_length_ft"], columns["article_weight_lb"], columns["blocked_front"], **parameters
    )
    return pl.Series(required)


def _cross_drain_spacing(columns: Mapping[str, pl.Series], parameters: Mapping[str, Any]) -> pl.Series:
    grade = columns["grade_pct"].cast(pl.Float64).to_numpy()
    return pl.Series(trails.cross_drain_spacing_ft(grade, **parameters)).fill_nan(None)


def _talbot_opening(columns: Mapping[str, pl.Series], parameters: Mapping[str, Any]) -> pl.Series:
    area, share = (columns[n].cast(pl.Float64).to_numpy() for n in ("drainage_area_acres", "runoff_share"))
    return pl.Series(crossings.talbot_opening_sqft(area, share, **parameters)).fill_nan(None)


COMPUTATIONS: dict[str, Computation] = {
    "bridge_limit_lb": _bridge,
    "tiedowns_required_count": _tiedowns_required,
    "cross_drain_spacing_ft": _cross_drain_spacing,
    "talbot_opening_sqft": _talbot_opening,
}


def add_columns(frame: pl.DataFrame, steps: Iterable[Step]) -> pl.DataFrame:
    """The frame with every step's column, in order; a step may read the columns of those before it."""
    steps = list(steps)
    constants = {s.name: s.expression for s in steps if s.expression is not None and not step_reads(s)}
    frame = frame.with_columns(_constants([e.alias(name) for name, e in constants.items()], frame.height))
    levels: list[dict[str, pl.Expr]] = []
    for step in steps:
        if step.measure is not None:
            frame, levels = _with_levels(frame, levels), []
            frame = frame.with_columns(_measured(frame, step.measure).cast(pl.Float64).alias(step.name))
        elif step.expression is not None and step.name not in constants:
            if not levels or not step_reads(step).isdisjoint(levels[-1]):
                levels.append({})
            levels[-1][step.name] = step.expression.alias(step.name)
    return _with_levels(frame, levels)


def _with_levels(frame: pl.DataFrame, levels: list[dict[str, pl.Expr]]) -> pl.DataFrame:
    """The frame with the columns of each level; those of one level read no other of the same."""
    lazy = frame.lazy()
    for level in levels:
        lazy = lazy.with_columns(level.values())
    return lazy.collect(engine="in-memory", optimizations=_AS_WRITTEN) if levels else frame


def _constants(named: list[pl.Expr], height: int) -> list[pl.Series]:
    """Constants as full columns: polars 2.1 gives one row for a literal compared with a column it knows constant."""
    values = pl.select(named).cast(pl.Float64).get_columns() if named else []
    return [value.new_from_index(0, height) for value in values]


def _measured(frame: pl.DataFrame, measure: Computed) -> pl.Series:
    columns = {name: _column(frame, column) for name, column in measure.of.items()}
    return COMPUTATIONS[measure.name](columns, measure.parameters)


def _column(frame: pl.DataFrame, name: str) -> pl.Series:
    """A column; of an interval only where it is one number, for a measure takes no ranges."""
    if name in frame.columns:
        return frame[name]
    low, high = pl.col(f"{name}__lo"), pl.col(f"{name}__hi")
    return frame.select(pl.when(low == high).then(low).alias(name)).to_series()
