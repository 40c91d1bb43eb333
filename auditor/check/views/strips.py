"""The views of sample plots: strips of a zone along a bank, and cutting units."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import polars as pl

from auditor.check.views.base import PROVENANCE
from auditor.check.views.site_base import (
    Definitions,
    Tables,
    bank_columns,
    doubt_ft,
    finished,
    joined,
    own_rows,
    with_job,
)
from auditor.measures.deadlines import years_after
from auditor.measures.rollups import share_pct, whole_greatest, whole_sum, worst_word
from auditor.measures.streamside import (
    canopy_cover_pct,
    plot_count_per_ac,
    plot_density,
    sample_mean,
    trees_left_pct,
)
from auditor.rules import kleene

CONFIDENCE = 0.95
"""Of the plus or minus of a mean of plots."""

UNDERSTORY = ("kept", "partly_kept", "gone")
_STRIP = ["job", "bank", "strip_from_ft", "strip_to_ft"]
_STAND = ["job", "stand"]
_DENSITIES = {
    "basal_area_ft2_per_ac": "basal_area_uncertainty_ft2_per_ac",
    "trees_per_ac": "uncertainty_trees_per_ac",
}


def strips(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """The plots of each strip along each bank, together: what was left, and what is left of what was there.

    The place's definition `strips` may fix the strips by their edges in ft from the bank; each bank with a plot or with
    cutting has a row for each of them, and a plot belongs to the one that holds its own strip. A plot that none holds
    has a row by its own strip. A plot without a strip belongs to the one in which its distance from the bank lies for
    certain; one that may lie in two has none. Without a definition the strips are those of the plots, and a bank without plots beside
    which trees were or may have been cut has one row without a strip.
    """
    edges = definitions.get("strips", {}).get("edges_ft")
    plots = _strip_plots(tables, edges)
    strips = _strip_rows(tables, plots, edges)
    for part in _strip_parts(plots):
        strips = strips.join(part, on=_STRIP, how="left", nulls_equal=True, maintain_order="left", validate="m:1")
    strips = strips.with_columns(pl.col("plot_count").fill_null(0))
    rows = joined(strips, bank_columns(tables, definitions), "bank")
    rows = joined(rows, own_rows(tables, "banks").select("job", "bank", "subject", *PROVENANCE), "bank")
    return finished("strips", rows, "harvested_on")


def stand_units(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each cutting unit with its plan and what its sample plots show."""
    rows = with_job(own_rows(tables, "stands"), tables)
    plots = tables["stand_plots"]
    plots = plots.hstack(plot_density(plots, tables["tallies"], "stand_plot")).with_columns(
        plot_count_per_ac(plots, "seed_tree_count").alias("seed_trees_per_ac"),
        plot_count_per_ac(plots, "seedling_count").alias("seedlings_per_ac"),
    )
    # A plot on which no stump was found has no highest stump.
    stumps = pl.col("tallest_stump_in").filter(pl.col("stump_count").ne_missing(0))
    found = plots.group_by(_STAND, maintain_order=True).agg(
        pl.len().cast(pl.Int64).alias("plot_count"),
        share_pct(whole_sum(pl.col("damaged_tree_count")), whole_sum(pl.col("tree_count"))).alias("damaged_pct"),
        whole_greatest(stumps).alias("tallest_stump_in"),
    )
    rows = joined(rows, found, "stand")
    for value in ("seed_trees_per_ac", "seedlings_per_ac", *_DENSITIES):
        rows = joined(rows, _mean(plots, value, _STAND, _DENSITIES.get(value)), "stand")
    wetlands = share_pct(pl.col("uncut_wetland_count"), pl.col("wetland_count"))
    rows = rows.with_columns(
        pl.col("plot_count").fill_null(0),
        uncut_wetland_pct=wetlands,
        seed_trees_left_years=years_after(pl.col("seed_trees_cut_on"), pl.col("cut_on")),
    )
    return finished("stand_units", rows, "cut_on")


def _strip_plots(tables: Tables, edges: Sequence[float] | None) -> pl.DataFrame:
    """The plots of banks, each with its densities, its crown cover and the strip it is counted in."""
    plots = tables["plots"]
    squares = canopy_cover_pct(pl.col("densiometer_filled_count"), pl.col("densiometer_read_count"))
    plots = plots.hstack(plot_density(plots, tables["tallies"])).with_columns(
        canopy_pct=pl.coalesce(pl.col("canopy_pct"), squares)
    )
    if edges is None:
        return plots
    plots = _by_distance(plots, tables["banks"], edges)
    start, end = pl.col("strip_from_ft"), pl.col("strip_to_ft")
    inside = [(pl.when((start >= low) & (end <= high)), float(low), float(high)) for low, high in pairwise(edges)]
    inner = pl.coalesce(*(held.then(pl.lit(low)) for held, low, _ in inside), start)
    outer = pl.coalesce(*(held.then(pl.lit(high)) for held, _, high in inside), end)
    return plots.with_columns(strip_from_ft=inner, strip_to_ft=outer)


def _by_distance(plots: pl.DataFrame, banks: pl.DataFrame, edges: Sequence[float]) -> pl.DataFrame:
    """Plots with the range of their distance in place of a strip, where it lies between two edges or beyond the last."""
    method = banks.select("job", "bank", pl.col("method").cast(pl.String).alias("_method"))
    rows = plots.join(method, on=["job", "bank"], how="left", maintain_order="left", validate="m:1")
    distance, doubt = pl.col("distance_from_bank_ft"), doubt_ft("distance_uncertainty_ft", pl.col("_method"))
    low, high = (distance - doubt).clip(lower_bound=0.0), distance + doubt
    sure = low >= edges[-1]
    for inner, outer in pairwise(edges):
        sure |= (low >= inner) & (high <= outer)
    blank = pl.col("strip_from_ft").is_null() & pl.col("strip_to_ft").is_null()
    placed = blank & sure.fill_null(False)
    return rows.with_columns(
        strip_from_ft=pl.when(placed).then(low).otherwise("strip_from_ft"),
        strip_to_ft=pl.when(placed).then(high).otherwise("strip_to_ft"),
    ).drop("_method")


def _strip_rows(tables: Tables, plots: pl.DataFrame, edges: Sequence[float] | None) -> pl.DataFrame:
    """The strips to be told of, by bank and from the bank outward."""
    banks = tables["banks"].filter(kleene.possible(pl.col("harvested"))).select("job", "bank")
    own = plots.select(_STRIP)
    if edges is None:
        rest = banks.join(plots, on=["job", "bank"], how="anti")
        rest = rest.with_columns(pl.lit(None, dtype=pl.Float64).alias(name) for name in _STRIP[2:])
        rows = pl.concat([own, rest])
    else:
        fixed = pl.DataFrame({"strip_from_ft": edges[:-1], "strip_to_ft": edges[1:]}).cast(pl.Float64)
        every = pl.concat([banks, plots.select("job", "bank")]).unique(maintain_order=True)
        rows = pl.concat([every.join(fixed, how="cross"), own])
    return rows.unique(maintain_order=True).sort(_STRIP[2:], maintain_order=True, nulls_last=True)


def _strip_parts(plots: pl.DataFrame) -> list[pl.DataFrame]:
    """By strip, what its plots say together."""
    before, left = whole_sum(pl.col("overstory_before_count")), whole_sum(pl.col("overstory_left_count"))
    parts = plots.group_by(_STRIP, maintain_order=True).agg(
        pl.len().cast(pl.Int64).alias("plot_count"),
        trees_left_pct(before, left).alias("overstory_kept_pct"),
        _kept("basal_area_ft2_per_ac", "basal_area_before_ft2_per_ac").alias("basal_area_kept_pct"),
        _kept("canopy_pct", "canopy_before_pct").alias("canopy_kept_pct"),
        worst_word(pl.col("understory"), UNDERSTORY).alias("understory"),
        whole_greatest(pl.col("least_dbh_in")).alias("least_dbh_counted_in"),
    )
    doubts = {**_DENSITIES, "canopy_pct": "canopy_uncertainty_pct"}
    means = [_mean(plots, value, _STRIP, doubt) for value, doubt in doubts.items()]
    return [parts, *means, _mean(plots, "bare_soil_pct", _STRIP, None)]


def _kept(left: str, before: str) -> pl.Expr:
    """What is left of what the same plots had before, in percent."""
    return share_pct(whole_sum(pl.col(left)), whole_sum(pl.col(before)))


def _mean(plots: pl.DataFrame, value: str, by: Sequence[str], doubt: str | None) -> pl.DataFrame:
    """Mean of the plots and, under the name `doubt`, half the width of its confidence interval."""
    found = sample_mean(plots, value, by, confidence=CONFIDENCE)
    half = [] if doubt is None else [(pl.col("high") - pl.col("mean")).alias(doubt)]
    return found.select(*by, pl.col("mean").alias(value), *half)
