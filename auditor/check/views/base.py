"""Loads with their truck, trailer and destination: what every view of loads starts from."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Mapping
from typing import Any, NamedTuple, TypeVar

import polars as pl

from auditor.vocabulary import SITE_TABLES, TABLES

EVERYWHERE = "US"
"""The place of federal law: every load, every leg."""

PLACE = "_place"
"""Column of every view: the place of the load among the loads of the tables, from 0."""

PROVENANCE = ("_file", "_sheet", "_row", PLACE)

_MATES = (
    ("trucks", "truck", {"kind": "truck_kind"}),
    ("trailers", "trailer", {"kind": "trailer_kind", "length_ft": "trailer_length_ft"}),
    ("destinations", "destination", {"state": "destination_state", "kind": "destination_kind"}),
)
_VEHICLE = pl.Enum(["single_unit", "combination"])


class Late(NamedTuple):
    """An interval that also rests on the weights of each load: its field, the columns it needs, and what adds it to rows."""

    field: str
    reads: Collection[str]
    add: Callable[[pl.DataFrame], pl.DataFrame]


class Ready(dict[str, pl.DataFrame]):
    """The tables of a record with what several views start from, each made when it is first asked for.

    Of `few` loads, views are made whole and then narrowed to each place.
    """

    def __init__(self, tables: Mapping[str, pl.DataFrame], few: bool = False) -> None:
        super().__init__(tables)
        self.few = few
        self._made: dict[Hashable, Any] = {}

    def once(self, key: Hashable, make: Callable[[], Any]) -> Any:
        """What `make` gives, made for the first who asks under this key."""
        if key not in self._made:
            self._made[key] = make()
        return self._made[key]


T = TypeVar("T")


def once(tables: Mapping[str, pl.DataFrame], key: Hashable, make: Callable[[], T]) -> T:
    """What `make` gives; where the tables are ready for several views, made for the first of them alone."""
    return tables.once(key, make) if isinstance(tables, Ready) else make()


def load_rows(tables: Mapping[str, pl.DataFrame], place: str, columns: Collection[str] | None = None) -> pl.DataFrame:
    """The loads of a record, in their order, joined with what truck, trailer and destination tell of them.

    `place` is "US" for all loads; for a state only loads whose destination has a leg there. `columns` narrows the
    result to those names (keys and provenance are always kept); None gives all. A load without its truck, trailer
    or destination in the record keeps its row, with blanks.
    """
    loads = once(tables, ("loads", place), lambda: _loads_at(tables, place))
    if columns is not None:
        wanted = {"job", "load", "truck", "trailer", "destination", *columns, *PROVENANCE}
        loads = loads[[c for c in loads.columns if c in wanted]]
    return loads


def _loads_at(tables: Mapping[str, pl.DataFrame], place: str) -> pl.DataFrame:
    if place != EVERYWHERE:
        there = tables["legs"].filter(pl.col("state") == place)
        return load_rows(tables, EVERYWHERE).join(there, on=["job", "destination"], how="semi", maintain_order="left")
    loads = tables["loads"].with_row_index(PLACE).drop("note", strict=False)
    for table, key, renamed in _MATES:
        loads = _with_mate(loads, tables[table], table, key, renamed)
    return loads.with_columns(_vehicle_type().alias("vehicle_type"))


def site_jobs(tables: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
    """The jobs with rows of the harvest site, each once; only these are held against the rules of a site."""
    return pl.concat([tables[name].select("job") for name in SITE_TABLES]).unique(maintain_order=True)


def _with_mate(
    loads: pl.DataFrame,
    mates: pl.DataFrame,
    table: str,
    key: str,
    renamed: Mapping[str, str],
) -> pl.DataFrame:
    names = {f.name: renamed.get(f.name, f.name) for f in TABLES[table].fields if f.name not in {key, "note"}}
    kept = [pl.col(old).alias(new) for old, new in names.items()]
    return loads.join(
        mates.select("job", key, *kept), on=["job", key], how="left", maintain_order="left", validate="m:1"
    )


def _vehicle_type() -> pl.Expr:
    """A named trailer makes a combination; a tractor without one has a trailer that nobody named."""
    return (
        pl.when(pl.col("trailer").is_not_null())
        .then(pl.lit("combination"))
        .when(pl.col("truck_kind").cast(pl.String) == "straight_truck")
        .then(pl.lit("single_unit"))
        .cast(_VEHICLE)
    )
