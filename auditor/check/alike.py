"""Loads that the rules of some views can tell apart only by figures of their own: each set of them is judged once.

A harvest hauls with a few trucks to a few mills. What the law asks of a load there is the same for all loads of a truck to
a mill in one edition of the law; only weights and sizes are a load's own.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import reduce
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from auditor.check.views.base import PLACE
from auditor.vocabulary import TABLES

Tables = Mapping[str, pl.DataFrame]
Numbers = NDArray[np.int64]

FEWEST_LOADS = 2_000
"""Below so many loads there is no time to be won."""
LARGEST_SHARE = 0.5
"""Sets that are more than this share of the loads are not worth the work."""

_WAY = ("job", "truck", "trailer", "destination")
_KINDS = ("class", "classes", "yes_no")
_LISTED_BY_LOAD = {
    "load_legs": ("axle_weights",),
    "axle_groups": ("axle_weights",),
    "axle_runs": ("axle_weights",),
    "loads": ("tickets", "load_checks", "markings"),
    "stacks": ("stacks", "tiedowns"),
    "tiedowns": ("stacks", "tiedowns"),
}
"""Tables with rows of single loads that a view reads."""

_TOGETHER = (("load_legs", "axle_groups", "axle_runs"), ("loads",), ("stacks", "tiedowns"))
"""Views for which the sets are the same."""


@dataclass(frozen=True, slots=True, eq=False)
class Alike:
    """Sets of like loads, numbered from 0.

    `loads`: the table of loads with one row for each set and without the columns that are each load's own; `load_date` and
    the name are those of one of them. `own`: a row for every load with its own columns and its place among all loads, set
    by set. `starts`: where each set begins in `own`, and the end.
    """

    loads: pl.DataFrame
    own: pl.DataFrame
    starts: Numbers

    @property
    def sizes(self) -> Numbers:
        """How many loads each set has."""
        return np.diff(self.starts)

    @property
    def places(self) -> NDArray[np.uint32]:
        """Place of each row of `own` among all loads."""
        return self.own[PLACE].to_numpy()

    def members(self, sets: NDArray[Any]) -> tuple[Numbers, Numbers]:
        """For each number of a set given, one after the other, its loads: which of the given it belongs to, and its row in `own`."""
        many = self.sizes[sets]
        given = np.repeat(np.arange(len(sets)), many)
        within = np.arange(len(given)) - np.repeat(np.cumsum(many) - many, many)
        return given, within + self.starts[sets][given]


def alike_loads(
    tables: Tables, columns_read: Mapping[str, Collection[str]], days_of_change: Sequence[date]
) -> dict[str, Alike]:
    """The loads of the tables in sets, for each view whose rules read these columns and for which it pays.

    `days_of_change` are the days on which some law of the record changes: a set never spans one, nor a day on which a
    paper begins or ends.
    """
    loads = tables["loads"]
    if loads.height < FEWEST_LOADS:
        return {}
    ways = loads.lazy().select(*_WAY).unique().with_row_index("_way").collect()
    way = loads.select(_WAY).join(ways, on=_WAY, how="left", nulls_equal=True, maintain_order="left")["_way"]
    found: dict[str, Alike] = {}
    for views in _TOGETHER:
        columns = {c for view in views for c in columns_read.get(view, ())}
        alike = _sets(loads.with_columns(way), tables, views, columns, days_of_change)
        if alike is not None:
            found |= dict.fromkeys(views, alike)
    return found


def _sets(
    loads: pl.DataFrame,
    tables: Tables,
    views: Iterable[str],
    columns: Collection[str],
    days_of_change: Sequence[date],
) -> Alike | None:
    """Sets for views whose rules read these columns; `loads` has `_way`, a number for each vehicle and destination of a job."""
    classed = _classed(loads, columns)
    day = pl.col("load_date")
    editions = [(day >= changed).cast(pl.UInt16) for changed in days_of_change]
    edition = reduce(lambda a, b: a + b, editions) if editions else day.is_null().cast(pl.UInt16)
    keys = loads.select("_way", *classed, edition.alias("_edition"), day.is_null().alias("_undated"))
    keys = keys.with_columns(_paper_period(tables), _place_if_listed(tables, views))
    sets = keys.with_row_index(PLACE).group_by(keys.columns, maintain_order=True).agg(PLACE)
    if sets.height > LARGEST_SHARE * loads.height:
        return None
    members = sets[PLACE].explode()
    sizes = sets[PLACE].list.len().to_numpy()
    starts = np.concatenate([np.zeros(1, dtype=np.int64), np.cumsum(sizes, dtype=np.int64)])
    shared = {*_WAY, *classed}
    own = loads.drop("_way", *(shared - {"job"})).with_row_index(PLACE)[members]
    kept = [c for c in loads.columns if c in {*shared, "load", "load_date", "_file", "_sheet", "_row"}]
    return Alike(loads.select(kept)[members.gather(starts[:-1])], own, starts)


def _paper_period(tables: Tables) -> pl.Series:
    """For each load how many papers and declared periods of its job had begun or ended by its day; null where undated."""
    papers, declared = tables["documents"], tables.get("declared")
    edges = [
        papers.select("job", edge="valid_from"),
        papers.select("job", edge=pl.col("valid_until").dt.offset_by("1d")),
    ]
    if declared is not None:
        edges += [declared.select("job", edge="from"), declared.select("job", edge=pl.col("until").dt.offset_by("1d"))]
    known = pl.concat(edges).drop_nulls().unique().sort("edge")
    loads = tables["loads"].select("job", "load_date")
    if known.is_empty():
        return pl.Series("_period", [0], dtype=pl.UInt32).new_from_index(0, loads.height)
    known = known.with_columns(_period=pl.int_range(1, pl.len() + 1, dtype=pl.UInt32).over("job"))
    days = loads.with_row_index(PLACE).drop_nulls("load_date").sort("load_date")
    found = days.join_asof(known, left_on="load_date", right_on="edge", by="job", check_sortedness=False)
    begun = found.select(PLACE, pl.col("_period").fill_null(0))
    places = loads.with_row_index(PLACE).select(PLACE)
    return places.join(begun, on=PLACE, how="left", maintain_order="left")["_period"]


def _classed(loads: pl.DataFrame, columns: Collection[str]) -> list[str]:
    """Columns of loads that are read and tell sets apart: those of classes, and those that are the same for all loads."""
    read = [f for f in TABLES["loads"].fields if f.name in columns and f.name not in (*_WAY, "load", "load_date")]
    named = [f.name for f in read if f.kind in _KINDS]
    others = [f.name for f in read if f.kind not in _KINDS]
    differs = {c: pl.col(c).first().ne_missing(pl.col(c)) for c in others}
    differing = loads.select(d.any().alias(c) for c, d in differs.items())  # nulls: ne_missing has none
    return [*named, *(c for c in others if not differing[c][0])]


def _place_if_listed(tables: Tables, views: Iterable[str]) -> pl.Series:
    """The place of each load that has rows of its own in a table that the views read; null for the others."""
    listed = sorted({name for view in views for name in _LISTED_BY_LOAD[view]})
    named = pl.concat([tables[name].select("job", "load") for name in listed]).drop_nulls().unique()
    loads = tables["loads"].select("job", "load")
    if named.is_empty():
        return pl.Series("_listed", [None], dtype=pl.UInt32).new_from_index(0, loads.height)
    places = loads.with_row_index("_listed").join(named, on=["job", "load"], how="semi").with_columns(place="_listed")
    rows = loads.select(pl.int_range(pl.len(), dtype=pl.UInt32).alias("place"))
    return rows.join(places.select("place", "_listed"), on="place", how="left", maintain_order="left")["_listed"]
