"""The views along the water: streams, readings of a zone's width, banks, what fails of a bank, strips, stumps, disturbed ground.

Rules that hold on the last day of cutting beside a bank judge it; on disturbed ground those of the day it was made.
"""

from __future__ import annotations

import polars as pl

from auditor.check.views.base import PROVENANCE
from auditor.check.views.site_base import (
    BANK_METHOD,
    BANK_SLOPE,
    Definitions,
    Tables,
    bank_columns,
    doubt_ft,
    finished,
    holidays,
    joined,
    own_rows,
    rows_of,
    with_bank,
    with_job,
    with_stream,
    with_widths,
)
from auditor.measures.deadlines import days_after, working_days_after, years_after
from auditor.measures.rollups import harvested_sides, least_of_ranges, listed_count, whole_greatest
from auditor.measures.streamside import failing_extent, inside_width_ft, station_lengths_ft, weighted_mean

WIDTHS = ("zone_width_ft", "primary_width_ft", "uncut_width_ft", "undisturbed_width_ft", "nearest_sediment_ft")
_ENDS = ("lo", "hi")
_BANK = ["job", "bank"]


def streams(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each stream or other water with its job."""
    keys = own_rows(tables, "streams").select("job", "stream", "subject", *PROVENANCE)
    return finished("streams", with_stream(with_job(keys, tables), tables, definitions))


def stations(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each reading of a zone's width, as the law of the place measures it, with its bank and stream."""
    return finished("stations", _stations(tables, definitions), "harvested_on")


def banks(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each bank with its stream and what its stations, stumps and disturbed places say together."""
    rows = _with_provenance(bank_columns(tables, definitions), tables)
    read = _stations(tables, definitions)
    for part in (_widths(read), *_covers(read)):
        rows = joined(rows, part, "bank")
    rows = joined(rows, harvested_sides(tables["banks"]), "stream")
    stumps_found = listed_count(rows, tables["stumps"], _BANK, listed="stumps_listed", each="stump_count")
    ground = listed_count(rows, tables["disturbances"], _BANK, listed="disturbances_listed")
    rows = rows.with_columns(
        *(stumps_found[f"count__{end}"].alias(f"zone_stump_count__{end}") for end in _ENDS),
        *(ground[f"count__{end}"].alias(f"disturbance_count__{end}") for end in _ENDS),
        station_count=pl.col("station_count").fill_null(0),
        zone_cut_interval_years=years_after(pl.col("harvested_on"), pl.col("last_zone_cut_on")),
    )
    return finished("banks", rows, "harvested_on")


def bank_outcomes(
    tables: Tables, definitions: Definitions, pieces: pl.DataFrame, window_ft: float | None
) -> pl.DataFrame:
    """How much of each bank fails a rule on its stations: one row for each bank that has pieces.

    `pieces` has `job`, `subject` (the bank), `from_ft`, `to_ft` and `fails` (true, false or null); stations to which the
    rule does not apply are left out by the caller. `window_ft` is the stretch in which the law counts what fails.
    """
    extent = failing_extent(pieces.rename({"subject": "bank"}), _BANK, window_ft=window_ft)
    rows = _with_provenance(bank_columns(tables, definitions), tables)
    rows = rows.join(extent.select(_BANK), on=_BANK, how="semi", maintain_order="left")
    return finished("bank_outcomes", joined(rows, extent, "bank"), "harvested_on")


def stumps(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each stump inside a zone with its bank and stream, its distance as the law of the place measures it."""
    rows = with_bank(rows_of(tables, "stumps", "banks"), tables, definitions)
    rows = with_widths(rows, definitions, ["distance_from_bank_ft"], slope=pl.col(BANK_SLOPE))
    rows = rows.with_columns(distance_doubt_ft=doubt_ft("distance_uncertainty_ft", pl.col(BANK_METHOD)))
    return finished("stumps", rows, "harvested_on")


def disturbances(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each piece of disturbed ground, debris, fuel or chemical near the water, with its bank and stream.

    One whose crossing and reason are blank may belong to a crossing.
    """
    renamed = {"length_ft": "disturbance_length_ft", "slope_pct": "_slope_pct"}
    rows = with_bank(own_rows(tables, "disturbances").rename(renamed), tables, definitions)
    slope = pl.coalesce("_slope_pct", BANK_SLOPE)
    rows = with_widths(rows, definitions, ["distance_from_bank_ft"], slope=slope)
    by_crossing = pl.col("reason_inside_zone").cast(pl.String) == "crossing"
    made = pl.col("made_on")
    rows = rows.with_columns(
        pl.col("kind").alias("disturbance_kind"),
        distance_doubt_ft=doubt_ft("distance_uncertainty_ft", pl.col(BANK_METHOD)),
        land_slope_pct=slope,
        at_crossing=pl.when(pl.col("crossing").is_not_null()).then(True).otherwise(by_crossing),
        days_open=days_after(pl.col("removed_on"), made),
        working_days_to_cover=working_days_after(pl.col("cover_on"), made, holidays=holidays(definitions)),
    )
    places = rows.select(
        "job", "bank", "along_ft", pl.col("disturbance_length_ft").alias("length_ft"), "distance_doubt_ft",
        "distance_from_bank_ft__lo", "distance_from_bank_ft__hi",
    )  # fmt: skip
    ended = tables["job"].select(
        "job", "other_activity_on", pl.coalesce("harvest_completed_on", "operation_end").alias("_ended")
    )
    rows = joined(rows, ended).with_columns(
        other_activity_years=years_after(pl.col("other_activity_on"), pl.col("_ended"))
    )
    beside = tables["stations"].join(places, on=_BANK, how="semi", maintain_order="left")
    rows = rows.hstack(inside_width_ft(places, _stations({**tables, "stations": beside}, definitions)))
    return finished("disturbances", rows, "made_on")


def _with_provenance(rows: pl.DataFrame, tables: Tables) -> pl.DataFrame:
    """Banks in the order of the record, each as its own subject."""
    return joined(rows, own_rows(tables, "banks").select("job", "bank", "subject", *PROVENANCE), "bank")


def _stations(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Stations with their bank, their widths as ranges and the stretch each stands for."""
    own = rows_of(tables, "stations", "banks").rename({"slope_pct": "_slope_pct"})
    own = own.hstack(station_lengths_ft(own, tables["banks"]))
    rows = with_bank(own, tables, definitions)
    slope = pl.coalesce("_slope_pct", BANK_SLOPE)
    rows = with_widths(rows, definitions, WIDTHS, slope=slope, at_least={"zone_width_ft": "wider_than_read"})
    method = pl.coalesce(pl.col("method").cast(pl.String), BANK_METHOD)
    return rows.with_columns(station_slope_pct=slope, width_doubt_ft=doubt_ft("width_uncertainty_ft", method))


def _widths(read: pl.DataFrame) -> pl.DataFrame:
    """By bank: how many stations, the longest stretch of one, the least and the mean width."""
    least = least_of_ranges(read, "zone_width_ft", _BANK)
    counts = read.group_by(_BANK, maintain_order=True).agg(
        pl.len().cast(pl.Int64).alias("station_count"),
        whole_greatest(pl.col("station_length_ft")).alias("longest_stretch_ft"),
    )
    found = joined(counts, least.rename({f"zone_width_ft__{end}": f"least_width_ft__{end}" for end in _ENDS}), "bank")
    for end, bound in (("lo", 0.0), ("hi", None)):
        # A blank width is at least 0; it has no upper bound.
        mean = weighted_mean(read, f"zone_width_ft__{end}", _BANK, least=bound, most=bound)
        mean = mean.select(*_BANK, pl.col(f"zone_width_ft__{end}__{end}").alias(f"mean_width_ft__{end}"))
        found = joined(found, mean, "bank")
    return found


def _covers(read: pl.DataFrame) -> list[pl.DataFrame]:
    """By bank: crown cover, bare soil and ground cover, means along the bank."""
    return [
        weighted_mean(read, share, _BANK, least=0.0, most=100.0)
        for share in ("canopy_pct", "bare_soil_pct", "ground_cover_pct")
    ]
