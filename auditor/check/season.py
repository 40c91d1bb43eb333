"""What each load weighed and the lowest gross limit of its way: the loads that season figures are made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import polars as pl

from auditor.check.governing import governing_limits, holds_gross
from auditor.check.tally import chunks, judge_tables
from auditor.record import Record
from auditor.rules.limits import NO_CEILING, NO_FLOOR
from auditor.rules.reading import Rulebook

BLANK: Final = "gross weight blank"
OPEN: Final = "limit not one number"
NONE: Final = "no gross limit on the way"

_LOAD = ["job", "load"]
_BOUNDS = ("limit_low", "limit_high", "tolerated_low", "tolerated_high")
_UNLIMITED = dict.fromkeys(_BOUNDS, NO_CEILING)
_ROWS = {
    "job": pl.String, "load": pl.String, "rule": pl.String, "limit_name": pl.String, "arm": pl.String,
    **dict.fromkeys(_BOUNDS, pl.Float64),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class SeasonLoads:
    """The loads of a record, one row each, and why a limit is open.

    `loads`: job, contractor, load, load_date, truck, driver, product, destination, gross_weight_lb, limit_low,
    limit_high, limit_lb and tolerated_lb (null where not one number), rule, limit_name and arm of the limit that was
    lowest, `apart` (null, or why the load is counted apart). `open`: job, load and the rule or state that leaves the
    limit open.
    """

    loads: pl.DataFrame
    open: pl.DataFrame


def season_loads(record: Record, rulebook: Rulebook) -> SeasonLoads:
    """Every load of the record with the lowest gross limit of its way, some jobs at a time."""
    files = tuple(f.model_copy(update={"rules": [r for r in f.rules if holds_gross(r)]}) for f in rulebook.files)
    narrow = replace(rulebook, files=files)
    places = {f.place for f in files if f.rules}
    parts = [_part(tables, narrow, places) for tables in chunks(record)]
    if not parts:
        parts = [_joined(record.tables, _empty(), _uncovered(record.tables, places))]
    return SeasonLoads(pl.concat([p.loads for p in parts]), pl.concat([p.open for p in parts]))


def _part(tables: Mapping[str, pl.DataFrame], rulebook: Rulebook, places: set[str]) -> SeasonLoads:
    found = [frame for judged in judge_tables(tables, rulebook) for frame in governing_limits(judged)]
    rows = pl.concat([f.select(*_ROWS) for f in found]) if found else _empty()
    return _joined(tables, rows, _uncovered(tables, places))


def _empty() -> pl.DataFrame:
    return pl.DataFrame(schema=_ROWS)


def _uncovered(tables: Mapping[str, pl.DataFrame], places: set[str]) -> pl.DataFrame:
    """Loads whose way leads through a state without a rule on gross weight: job, load, rule (the state)."""
    state = pl.col("state").cast(pl.String)
    legs = tables["legs"].filter(state.is_not_null() & ~state.is_in(sorted(places)))
    legs = legs.select("job", "destination", state.alias("rule")).unique(maintain_order=True)
    return tables["loads"].select(*_LOAD, "destination").join(legs, on=["job", "destination"]).select(*_LOAD, "rule")


def _joined(tables: Mapping[str, pl.DataFrame], rows: pl.DataFrame, uncovered: pl.DataFrame) -> SeasonLoads:
    unknown = uncovered.with_columns(
        *(pl.lit(NO_FLOOR if name.endswith("low") else NO_CEILING).alias(name) for name in _BOUNDS),
        *(pl.lit(None, dtype=pl.String).alias(name) for name in ("limit_name", "arm")),
    )
    rows = pl.concat([rows, unknown.select(*_ROWS)])
    lowest = rows.group_by(_LOAD).agg(pl.col(name).min() for name in _BOUNDS)  # nulls: bounds have none
    known = lowest.select(*_LOAD, pl.col("limit_low").alias("_low"), pl.col("limit_high").alias("_high"))
    rows = rows.join(known, on=_LOAD, how="left", maintain_order="left")
    spoke = (
        rows.filter((pl.col("limit_low") == pl.col("_low")) & (pl.col("limit_high") == pl.col("_low")))
        .filter(pl.col("_low").is_finite())
        .sort(*_LOAD, "rule", "limit_name", "arm", nulls_last=True)
        .unique(_LOAD, keep="first", maintain_order=True)
        .select(*_LOAD, "rule", "limit_name", "arm")
    )
    opened = rows.filter((pl.col("limit_low") < pl.col("_high")) & (pl.col("_low") < pl.col("_high")))
    contractors = tables["job"].select("job", "contractor")
    loads = tables["loads"].select(
        *_LOAD, "load_date", "truck", "driver", pl.col("product").cast(pl.String), "destination",
        pl.col("gross_weight_lb").cast(pl.Int64),
    )  # fmt: skip
    loads = loads.join(contractors, on="job", how="left", maintain_order="left")
    loads = loads.join(lowest, on=_LOAD, how="left", maintain_order="left")
    # A load without a row: no rule on gross weight applies anywhere on its way.
    loads = loads.with_columns(pl.col(name).fill_null(value) for name, value in _UNLIMITED.items())
    loads = loads.join(spoke, on=_LOAD, how="left", maintain_order="left")
    return SeasonLoads(_settled(loads), opened.select(*_LOAD, "rule").unique().sort(*_LOAD, "rule"))


def _settled(loads: pl.DataFrame) -> pl.DataFrame:
    low, high = pl.col("limit_low"), pl.col("limit_high")
    soft = pl.col("tolerated_low")
    one = (low == high) & high.is_finite()
    return loads.with_columns(
        pl.when(one).then(high).alias("limit_lb"),
        pl.when((soft == pl.col("tolerated_high")) & soft.is_finite()).then(soft).alias("tolerated_lb"),
        pl.when(pl.col("gross_weight_lb").is_null())
        .then(pl.lit(BLANK))
        .when(low == NO_CEILING)
        .then(pl.lit(NONE))
        .when(~one)
        .then(pl.lit(OPEN))
        .alias("apart"),
    )
