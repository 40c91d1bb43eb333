"""The views that rules examine, built from the tables of a record for one place."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from functools import partial
from typing import Any

import polars as pl

from auditor.check.views import legs, loads
from auditor.check.views.base import EVERYWHERE, PROVENANCE, Late, site_jobs
from auditor.check.views.site import SITE_BUILDERS
from auditor.measures.papers import valid_on
from auditor.rules.limits import paper_column
from auditor.rules.models import Needs
from auditor.vocabulary import VIEWS

Tables = Mapping[str, pl.DataFrame]
Definitions = Mapping[str, Mapping[str, Any]]

LEG_BUILDERS: dict[
    str, Callable[[Tables, str, Definitions, Collection[str] | None, legs.Scope | None], pl.DataFrame]
] = {
    "load_legs": legs.load_legs,
    "axle_groups": legs.axle_groups,
    "axle_runs": legs.axle_runs,
}
LOAD_BUILDERS: dict[str, Callable[[Tables, str, Definitions, Collection[str] | None], pl.DataFrame]] = {
    "loads": loads.loads,
    "stacks": loads.stacks,
    "tiedowns": loads.tiedowns,
}


_READ = ("_read_lo", "_read_hi", "_whole", "gross_weight_lb")
LATE = {
    "axle_groups": Late("group_weight_lb", _READ, partial(legs.with_weights, field="group_weight_lb")),
    "axle_runs": Late("run_weight_lb", _READ, partial(legs.with_weights, field="run_weight_lb")),
    "stacks": Late("stack_weight_lb", ("_weight_lb", "stack_count", *loads.WEIGHTS), loads.with_stack_weights),
}
"""By view what is added last, when its rows are those of single loads."""


def build_view(
    name: str,
    tables: Tables,
    place: str,
    definitions: Definitions,
    papers: Sequence[Needs],
    columns: Collection[str] | None = None,
    scope: legs.Scope | None = None,
) -> pl.DataFrame:
    """The view of that name for the rows that lie in `place`, with a column for each kind of paper asked for.

    `place` "US" takes every row. The paper columns are true, false or, for a paper with blank dates, null. `columns`
    names the columns wanted (an interval by its plain name); None gives all. Rows on legs are left out where they are
    certainly outside `scope`. Column `subject` names what a row belongs to.
    """
    frame = begin_view(name, tables, place, definitions, papers, columns, scope)
    if name in SITE_BUILDERS:
        return frame
    late = LATE.get(name)
    if late is not None and (columns is None or late.field in columns):
        frame = late.add(frame)
    return frame.select(_in_order(name, frame.columns, columns))


def begin_view(
    name: str,
    tables: Tables,
    place: str,
    definitions: Definitions,
    papers: Sequence[Needs],
    columns: Collection[str] | None = None,
    scope: legs.Scope | None = None,
) -> pl.DataFrame:
    """As `build_view`, without the columns of `LATE`, and with those that they rest on."""
    if name in SITE_BUILDERS:
        frame = SITE_BUILDERS[name](tables, definitions).join(
            site_jobs(tables), on="job", how="semi", maintain_order="left"
        )
        if place != EVERYWHERE:
            frame = frame.filter(pl.col("job_state").cast(pl.String) == place)
    elif name in LEG_BUILDERS:
        frame = LEG_BUILDERS[name](tables, place, definitions, columns, scope).with_columns(subject=pl.col("load"))
    else:
        frame = LOAD_BUILDERS[name](tables, place, definitions, columns).with_columns(subject=pl.col("load"))
    return with_papers(frame, name, tables["documents"], papers)


def _in_order(view: str, has: Sequence[str], columns: Collection[str] | None) -> list[str]:
    """The columns of a frame that belong to a view: job, its fields as far as wanted, provenance, subject, papers."""
    names = ["job"]
    for field in VIEWS[view].fields:
        if columns is None or field.name in columns or field.name in ("load", "leg", "first_axle", "last_axle"):
            names += [f"{field.name}__lo", f"{field.name}__hi"] if field.interval else [field.name]
    names += [*PROVENANCE, "subject", *(c for c in has if c.startswith("holds:"))]
    there = set(has)
    return [n for n in names if n in there]


def with_papers(frame: pl.DataFrame, view: str, documents: pl.DataFrame, papers: Sequence[Needs]) -> pl.DataFrame:
    """A view with a column for each kind of paper asked for."""
    dated_by = VIEWS[view].dated_by
    for needs in papers:
        frame = _with_paper(frame, dated_by, documents, needs)
    return frame


def _with_paper(frame: pl.DataFrame, dated_by: str, documents: pl.DataFrame, needs: Needs) -> pl.DataFrame:
    if documents.filter(pl.col("kind").cast(pl.String) == needs.document).is_empty():
        return frame.with_columns(pl.Series(paper_column(needs), [False]).new_from_index(0, frame.height))
    truck = pl.col("truck") if "truck" in frame.columns else pl.lit(None, dtype=pl.String)
    keys = frame.select("job", truck.alias("truck"), date=dated_by)
    held = valid_on(documents, keys, kinds=[needs.document], state=needs.state)
    held = held.select("job", "truck", "date", pl.col("valid").alias(paper_column(needs)))
    on = ["job", "truck", "date"]
    keys = keys.join(held, on=on, how="left", nulls_equal=True, maintain_order="left", validate="m:1")
    return frame.with_columns(keys[paper_column(needs)])
