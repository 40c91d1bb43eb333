"""From maps to rows of the record: streams, banks, stations, plots, disturbed ground, crossings, decks, roads and trails.

What a table already says of a thing stands; a map only adds things that no table names, and figures that are blank. A
bank whose widths were read on the ground keeps those, and the map is compared with them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import polars as pl

from auditor.record import Record
from auditor.record.checks import lost_references
from auditor.vocabulary import TABLES
from auditor.vocabulary.maps import TABLE_LAYERS

if TYPE_CHECKING:
    from auditor.check.mapped_site import MappedSite

NEAR_FT: Final = 150.0
"""How far from a bank disturbed ground is listed from a map."""
AT_CROSSING_FT: Final = 50.0
"""How near a crossing a way may meet the stream and still belong to it; our choice."""
_DISTANCE: Final = (
    "distance_from_bank_ft",
    ("distance_uncertainty_ft", "measured_along", "measured_from", "along_ft", "in_channel", "reason_inside_zone"),
)
TOGETHER: Final[Mapping[str, tuple[str, tuple[str, ...]]]] = {
    "banks": ("harvested", ("harvested_on",)),
    "decks": _DISTANCE,
    "disturbances": _DISTANCE,
    "plots": ("distance_from_bank_ft", ("distance_uncertainty_ft", "along_ft")),
}
"""Table -> a figure, and what of a row only goes with it."""
_LISTED: Final = 5
APPROACH_FT: Final = 165.0
"""How far from a crossing a way is its approach; our choice, so that one straight to it leaves no part beside the bank."""


@dataclass(frozen=True, slots=True)
class Mapped:
    """A record with the rows that its maps give, and the mapped site of each job that has one."""

    record: Record
    sites: Mapping[str, MappedSite]


def with_map_rows(record: Record) -> Mapped:
    """The record with the rows of its maps added, and the geometry they came from. Without maps it stays as it is."""
    if not record.maps:
        return Mapped(record, {})
    # The libraries for geometry take time to load, so only a job with maps pays for them.
    from auditor.check.map_plots import plot_rows
    from auditor.check.map_tables import compared, named_stations, site_tables
    from auditor.check.mapped_site import mapped_site

    tables, notes, sites = dict(record.tables), list(record.notes), {}
    for job, site in record.maps.items():
        own = {name: frame.filter(pl.col("job") == job) for name, frame in tables.items()}
        found = mapped_site(site, own["streams"])
        stations, beyond = named_stations(found, own["banks"], own["stations"])
        found = replace(found, stations=stations, beyond=beyond)
        notes += [_named(job, note, record) for note in (*found.notes, *compared(found, own["stations"]))]
        plots, said = plot_rows(job, site, found, own["plots"])
        notes += [_named(job, note, record) for note in said]
        rows = {**site_tables(job, site, found, own), **({"plots": plots} if plots.height else {})}
        for name, frame in rows.items():
            tables[name] = merged(name, tables[name], frame)
        sites[job] = found
        own = {name: frame.filter(pl.col("job") == job) for name, frame in tables.items()}
        notes += [_named(job, note, record) for note in _unmet(own)]
    return Mapped(replace(record, tables=tables, notes=tuple(notes)), sites)


def _unmet(own: Mapping[str, pl.DataFrame]) -> Iterator[str]:
    """What is to be said of rows of one job that name what its map holds but what became no row, such as a far plot."""
    for (table, name), rows in lost_references(own, {}).items():
        field = TABLES[table].field(name)
        if field is not None and field.refers_to in (*TABLE_LAYERS, "banks"):
            names = rows[name].unique(maintain_order=True).to_list()
            shown = ", ".join(names[:_LISTED]) + (f" and {len(names) - _LISTED} more" if len(names) > _LISTED else "")
            yield (
                f"Rows of {table} name what the map shows but what is not judged, so that they count for nothing there: "
                f"{name} {shown}."
            )


def _named(job: str, note: str, record: Record) -> str:
    return note if record.tables["job"].height == 1 else f"{job}: {note}"


def merged(name: str, table: pl.DataFrame, rows: pl.DataFrame) -> pl.DataFrame:
    """A table with rows of a map: new keys are added, blanks of known keys are filled, what is said stands.

    What only goes with a figure (`TOGETHER`) is filled where the figure is, or is the same, so that a taped distance never
    gets the uncertainty of a map, and only where the bank is the same.
    """
    key = ["job", *TABLES[name].key]
    given = [c for c in rows.columns if c in table.schema]
    rows = rows.select(pl.col(c).cast(table.schema[c]) for c in given)
    fill = [c for c in given if c not in key and not c.startswith("_")]
    told = rows.select(*key, *(pl.col(c).alias(f"map:{c}") for c in fill)).unique(
        key, keep="first", maintain_order=True
    )
    known = table.join(told, on=key, how="left", maintain_order="left")
    lead, others = TOGETHER.get(name, ("", ()))
    open_ = pl.lit(True)
    if lead in fill:
        open_ = pl.col(lead).is_null() | (pl.col(lead) == pl.col(f"map:{lead}")).fill_null(False)
        if "bank" in fill:
            open_ &= pl.col("bank").is_null() | (pl.col("bank") == pl.col("map:bank")).fill_null(False)
    known = known.with_columns(
        pl.when(open_ if c in (lead, *others) else pl.lit(True)).then(pl.coalesce(c, f"map:{c}")).otherwise(c).alias(c)
        for c in fill
    ).select(table.columns)
    new = rows.join(table.select(key), on=key, how="anti", maintain_order="left")
    return pl.concat([known, new], how="diagonal").select(table.columns)
