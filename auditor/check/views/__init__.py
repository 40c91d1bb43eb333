"""The views that rules examine, built from the tables of a record for one place."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from functools import partial
from typing import Any

import polars as pl

from auditor.check.views import legs, loads
from auditor.check.views.base import EVERYWHERE, PLACE, PROVENANCE, Late, Ready, load_rows, once, site_jobs
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

_LAW = {
    "load_legs": ("axle_groups",), "axle_groups": ("axle_groups",), "axle_runs": ("axle_groups",), "loads": ("ticket",),
    "stacks": ("working_load_limits", "tiedown_positions", "log_length"), "tiedowns": ("working_load_limits",),
}  # fmt: skip
"""By view of loads the definitions that it reads; it is given no others."""


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
    return frame[_in_order(name, frame.columns, columns)]


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
    if name in SITE_BUILDERS or (isinstance(tables, Ready) and tables.few):
        frame = _at(tables, name, place, _everywhere(name, tables, definitions))
    elif name in LEG_BUILDERS:
        frame = LEG_BUILDERS[name](tables, place, definitions, columns, scope)
    else:
        frame = LOAD_BUILDERS[name](tables, place, definitions, columns)
    if name not in SITE_BUILDERS:
        frame = frame.with_columns(subject=pl.col("load"))
    return with_papers(frame, name, tables, papers)


def _everywhere(name: str, tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """All rows and columns of a view, made once for all places whose law makes it in the same way."""
    own = {word: definitions[word] for word in _LAW.get(name, definitions) if word in definitions}

    def make() -> pl.DataFrame:
        if name in LEG_BUILDERS:
            return LEG_BUILDERS[name](tables, EVERYWHERE, own, None, None)
        if name in LOAD_BUILDERS:
            return LOAD_BUILDERS[name](tables, EVERYWHERE, own, None)
        return SITE_BUILDERS[name](tables, own).join(site_jobs(tables), on="job", how="semi", maintain_order="left")

    return once(tables, ("view", name, *((word, id(said)) for word, said in own.items())), make)


def _at(tables: Tables, name: str, place: str, frame: pl.DataFrame) -> pl.DataFrame:
    """The rows of a view that lie in a place."""
    if place == EVERYWHERE:
        return frame
    if name in LEG_BUILDERS:
        return frame.filter(frame["state"].cast(pl.String) == place)
    if name in LOAD_BUILDERS:
        return frame.filter(frame[PLACE].is_in(load_rows(tables, place)[PLACE].implode()))
    return frame.filter(frame["job_state"].cast(pl.String) == place)


def _in_order(view: str, has: Sequence[str], columns: Collection[str] | None) -> list[str]:
    """The columns of a frame that belong to a view: job, its fields as far as wanted, provenance, subject, papers."""
    names = ["job"]
    for field in VIEWS[view].fields:
        if columns is None or field.name in columns or field.name in ("load", "leg", "first_axle", "last_axle"):
            names += [f"{field.name}__lo", f"{field.name}__hi"] if field.interval else [field.name]
    names += [*PROVENANCE, "subject", *(c for c in has if c.startswith("holds:"))]
    there = set(has)
    return [n for n in names if n in there]


def with_papers(frame: pl.DataFrame, view: str, tables: Tables, papers: Sequence[Needs]) -> pl.DataFrame:
    """A view with a column for each kind of paper asked for."""
    return frame.with_columns(_paper(frame, view, tables, needs).alias(paper_column(needs)) for needs in papers)


def _paper(frame: pl.DataFrame, view: str, tables: Tables, needs: Needs) -> pl.Series:
    """Whether the paper is held on each row."""
    if VIEWS[view].subject != "loads":
        return _held(frame, VIEWS[view].dated_by, tables["documents"], needs)
    loads = load_rows(tables, EVERYWHERE)
    key = ("paper", needs.document, needs.state)
    held = once(tables, key, lambda: _held(loads, VIEWS[view].dated_by, tables["documents"], needs))
    return held.gather(frame[PLACE])


def _held(rows: pl.DataFrame, dated_by: str, documents: pl.DataFrame, needs: Needs) -> pl.Series:
    listed = documents["kind"].cast(pl.String) == needs.document
    if not listed.any():  # nulls: a paper of no kind is none of this
        return pl.Series([False], dtype=pl.Boolean).new_from_index(0, rows.height)
    truck = pl.col("truck") if "truck" in rows.columns else pl.lit(None, dtype=pl.String)
    keys = rows.select("job", truck.alias("truck"), date=dated_by)
    held = valid_on(documents, keys, kinds=[needs.document], state=needs.state).drop("kind")
    on = ["job", "truck", "date"]
    return keys.join(held, on=on, how="left", nulls_equal=True, maintain_order="left", validate="m:1")["valid"]
