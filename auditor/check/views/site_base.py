"""What the views of the harvest site start from: rows with their subject, and what job, stream and bank tell of them.

Joins are left joins: a row whose bank or stream is not named keeps its place, with blanks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import polars as pl

from auditor.check.views.base import PLACE, PROVENANCE
from auditor.measures.deadlines import days_after
from auditor.measures.streamside import defined_width_ft, signs_found, station_lengths_ft, weighted_mean
from auditor.vocabulary import TABLES, VIEWS, Field

Tables = Mapping[str, pl.DataFrame]
Definitions = Mapping[str, Mapping[str, Any]]

LAST_DAY = "_last_day"
"""The last day of a job: of the operation, else of the harvest."""

BANK_SLOPE, BANK_METHOD = "_bank_slope_pct", "_bank_method"
"""The slope of a bank as recorded, and how the bank was measured."""

_TYPES: Mapping[str, pl.DataType] = {
    "text": pl.String(), "classes": pl.List(pl.String), "number": pl.Float64(), "whole": pl.Int64(),
    "yes_no": pl.Boolean(), "date": pl.Date(), "time": pl.Time(),
}  # fmt: skip
_JOB_NAMES = {"state": "job_state", "region": "job_region"} | {
    name: name
    for name in (
        "county", "harvest_type", "land_owner_class", "land_use_after", "special_areas", "special_areas_checked",
        "operation_start", "operation_end", "exemption_lost",
    )
}  # fmt: skip
_OF_NOTICES = ("notices_given", "notices_whole")
_STREAM_NAMES = {
    f.name: f"stream_{f.name}" if f.name in ("kind", "in_wetland", "width_ft") else f.name
    for f in TABLES["streams"].fields
    if f.name not in ("stream", "note")
}
_BANK_OWN = ("slope_pct", "method", "note")
_PLAIN_METHODS = ("tape", "pace", "laser")
_DEFAULT_WIDTH = {"along": "horizontal", "start": "bank"}


def own_rows(tables: Tables, table: str) -> pl.DataFrame:
    """The rows of a table whose rows a view counts, each with its subject and its place."""
    key = TABLES[table].key[0]
    return tables[table].drop("note").with_row_index(PLACE).with_columns(subject=pl.col(key))


def rows_of(tables: Tables, table: str, owners: str) -> pl.DataFrame:
    """The rows of a table that belong to those of another, such as stations to banks, kept together by owner."""
    key = TABLES[owners].key[0]
    places = tables[owners].select("job", key).with_row_index(PLACE)
    rows = joined(tables[table].drop("note"), places, key)
    return rows.with_columns(subject=pl.col(key)).sort(PLACE, maintain_order=True, nulls_last=True)


def joined(rows: pl.DataFrame, others: pl.DataFrame, *keys: str) -> pl.DataFrame:
    """The rows in their order with the columns of the one row of `others` of the same job and `keys`."""
    on = ["job", *keys]
    return rows.join(others, on=on, how="left", maintain_order="left", validate="m:1")


def with_job(rows: pl.DataFrame, tables: Tables) -> pl.DataFrame:
    """The rows with what their job tells: where it lies, what was cut, its notices, and its last day as `_last_day`."""
    last = pl.coalesce("operation_end", "harvest_completed_on").alias(LAST_DAY)
    names = [pl.col(old).alias(new) for old, new in _JOB_NAMES.items()]
    jobs = joined(tables["job"].select("job", last, *names), listed_words(tables, "notices", "kind", "job"))
    jobs = jobs.join(declared_whole(tables, "notices"), on="job", how="left", maintain_order="left", validate="m:1")
    none = pl.when("_whole").then(pl.lit([], dtype=pl.List(pl.String)))
    jobs = jobs.with_columns(notices_given=pl.coalesce("_words", none), notices_whole=pl.col("_whole").fill_null(False))
    return joined(rows, jobs.drop("_words", "_whole", "_blank"))


def declared_whole(tables: Tables, table: str) -> pl.DataFrame:
    """The jobs whose list of that table is declared complete: `job` and `_whole`, which is true."""
    return tables["declared"].filter(pl.col("table") == table).select("job").unique().with_columns(_whole=True)


def listed_words(tables: Tables, table: str, field: str, *by: str) -> pl.DataFrame:
    """The different words of a field, sorted, by the columns `by`: `_words`, and whether one is blank: `_blank`."""
    word = pl.col(field).cast(pl.String)
    return (
        tables[table]
        .group_by(by, maintain_order=True)
        .agg(
            word.drop_nulls().unique().sort().alias("_words"),
            word.is_null().any().alias("_blank"),  # nulls: is_null is never null
        )
    )


def with_stream(
    rows: pl.DataFrame, tables: Tables, definitions: Definitions, *, cut_on: pl.Expr | None = None
) -> pl.DataFrame:
    """The rows, which have `stream` and `_last_day`, with what their stream tells.

    `cut_on` is the day of the cutting beside it, where one is known; else the last day of the job counts.
    `definitions["field_signs"]["wanted"]` lists the field signs that the place counts; without it their number is
    blank.
    """
    streams = tables["streams"]
    wanted = definitions.get("field_signs", {}).get("wanted")
    columns = streams.select("job", "stream", *(pl.col(old).alias(new) for old, new in _STREAM_NAMES.items()))
    if wanted is not None:
        signs = signs_found(streams["field_signs"], streams["field_signs_listed"], wanted)
        columns = columns.hstack(signs)
    day = pl.col(LAST_DAY) if cut_on is None else pl.coalesce(cut_on, LAST_DAY)
    return joined(rows, columns, "stream").with_columns(days_since_classified=days_after(day, pl.col("classified_on")))


def bank_columns(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Every bank once with its stream and its job: the columns that the streamside views share, and `_last_day`."""
    banks = tables["banks"]
    names = [f.name for f in TABLES["banks"].fields if f.name not in _BANK_OWN]
    stations = tables["stations"].select("job", "bank", "along_ft", "stretch_from_ft", "stretch_to_ft", "slope_pct")
    lengths = station_lengths_ft(stations, banks)
    slopes = weighted_mean(stations.hstack(lengths), "slope_pct", ["job", "bank"])
    rows = banks.select(
        "job", *names, pl.col("slope_pct").alias(BANK_SLOPE), pl.col("method").cast(pl.String).alias(BANK_METHOD)
    )
    rows = joined(rows, slopes, "bank").with_columns(
        pl.coalesce(BANK_SLOPE, f"slope_pct__{end}").alias(f"bank_slope_pct__{end}") for end in ("lo", "hi")
    )
    rows = with_job(rows.drop("slope_pct__lo", "slope_pct__hi"), tables)
    return with_stream(rows, tables, definitions, cut_on=pl.col("harvested_on"))


def with_bank(rows: pl.DataFrame, tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """The rows, which have `bank`, with what their bank, its stream and their job tell.

    The job is looked up apart, so that a row without a bank knows its state.
    """
    banks = bank_columns(tables, definitions).drop(LAST_DAY, *_JOB_NAMES.values(), *_OF_NOTICES)
    return with_job(joined(rows, banks, "bank"), tables)


def near_water(rows: pl.DataFrame, tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """The rows, which have `bank`, the one nearest to them, with its stream and their job, but not its own columns."""
    banks = tables["banks"].select(
        "job", "bank", "stream", pl.col("harvested_on").alias("_cut_on"),
        pl.col("slope_pct").alias(BANK_SLOPE), pl.col("method").cast(pl.String).alias(BANK_METHOD),
    )  # fmt: skip
    rows = with_job(joined(rows, banks, "bank"), tables)
    return with_stream(rows, tables, definitions, cut_on=pl.col("_cut_on"))


def with_widths(
    rows: pl.DataFrame,
    definitions: Definitions,
    names: Sequence[str],
    *,
    slope: pl.Expr,
    at_least: Mapping[str, str] | None = None,
) -> pl.DataFrame:
    """The rows with widths or distances as the place's definition `zone_width` measures them, as ranges.

    The rows have `measured_along` and `measured_from`; `slope` is the slope of the ground in percent. `at_least` names
    for a width the column that says that the reading stopped before the edge. Without a definition a width is level
    and starts at the bank.
    """
    how = {**_DEFAULT_WIDTH, **definitions.get("zone_width", {})}
    sloped = rows.with_columns(slope.alias("slope_pct"))
    found = [
        defined_width_ft(sloped, name, along=how["along"], start=how["start"], at_least=(at_least or {}).get(name))
        for name in names
    ]
    return pl.concat([rows.drop(names), *found], how="horizontal")


def doubt_ft(recorded: str, method: pl.Expr) -> pl.Expr:
    """Plus or minus of a reading in ft: as recorded; none for a plain reading without one; else unknown.

    A reading by tape, pace or laser is plain, and so is one whose method is blank.
    """
    plain = method.is_null() | method.is_in(_PLAIN_METHODS)
    return pl.when(pl.col(recorded).is_not_null()).then(pl.col(recorded)).when(plain).then(0.0)


def holidays(definitions: Definitions) -> list[date]:
    """The days without work that the place's definition `working_days` names, as dates or as YYYY-MM-DD."""
    days = definitions.get("working_days", {}).get("holidays", [])
    return [day if isinstance(day, date) else date.fromisoformat(day) for day in days]


def finished(view: str, rows: pl.DataFrame, *judged_on: str) -> pl.DataFrame:
    """The columns of a view, typed, in the order of their places.

    The rules of the first of the days `judged_on` that is recorded hold, else those of the job's last day. A column
    that a definition would have given is blank.
    """
    rows = rows.with_columns(judged_on=pl.coalesce(*judged_on, LAST_DAY)).sort(
        PLACE, maintain_order=True, nulls_last=True
    )
    columns = [c for field in VIEWS[view].fields for c in _columns(field, rows.columns)]
    return rows.select("job", "subject", *columns, *PROVENANCE)


def _columns(field: Field, found: Sequence[str]) -> list[pl.Expr]:
    if field.name == "job":
        return []
    names = [f"{field.name}__{end}" for end in ("lo", "hi")] if field.interval else [field.name]
    dtype = pl.Float64() if field.interval else pl.Enum(field.classes) if field.kind == "class" else _TYPES[field.kind]
    return [(pl.col(name) if name in found else pl.lit(None)).cast(dtype).alias(name) for name in names]
