"""Sample plots of a map as rows of the table of plots: their bank, and how far from it they lie."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

import numpy as np
import polars as pl
import shapely

from auditor.check.map_ground import features, greatest
from auditor.check.map_tables import near_banks
from auditor.check.map_zones import Zones
from auditor.check.mapped_site import MappedSite
from auditor.measures.reaches import FOOT_M
from auditor.record import SiteMap
from auditor.vocabulary import TABLES
from auditor.vocabulary.maps import LAYERS, NAME, UNCERTAINTY
from auditor.vocabulary.quantities import number_text

PLOT_FT: Final = 200.0
"""How far from a plot its bank is looked for: no shipped rule file asks for a wider zone."""
_PLACE: Final = ("_file", "_sheet", "_row")
_SAID: Final = tuple(f.name for f in LAYERS["plots"].fields if f not in (NAME, UNCERTAINTY))
_DECIMALS: Final = 1
_LISTED: Final = 5


def plot_rows(job: str, site: SiteMap, found: MappedSite, own: pl.DataFrame) -> tuple[pl.DataFrame, list[str]]:
    """A row of plots for each mapped one whose bank is known, and what is to be said of them; `own` are those of the record.

    A plot belongs to its nearest bank, if no other may be nearer. Its distance counts where the place of the bank is known.
    """
    if site.layers["plots"].is_empty():
        return pl.DataFrame(), []
    near = _nearest(site, found)
    held = near.filter(pl.col("bank").is_not_null() & ~pl.col("doubtful"))
    sure = pl.col("certain").fill_null(False)
    layer = site.layers["plots"].select(pl.col("name").alias("plot"), *_SAID, *_PLACE)
    rows = held.join(layer, on="plot", how="left", maintain_order="left").with_columns(
        pl.lit(job).alias("job"), _kind().alias("kind"), pl.col("along_ft").round(_DECIMALS),
        distance_from_bank_ft=pl.when(sure).then(pl.col("nearest_ft").round(_DECIMALS)),
        distance_uncertainty_ft=pl.when(sure).then("doubt_ft"),
    )  # fmt: skip
    columns = ("job", "plot", "bank", "along_ft", "distance_from_bank_ft", "distance_uncertainty_ft", *_SAID, *_PLACE)
    rows = rows.select(*columns)
    return rows, [*_left_out(near, own), *_counted(rows, own), *_told_otherwise(rows, own)]


def _kind() -> pl.Expr:
    """What kind of plot it is, said or shown by the one figure that only such a plot has."""
    prism = pl.col("baf_ft2_per_ac").is_not_null()
    fixed = pl.col("plot_radius_ft").is_not_null() | pl.col("plot_area_acres").is_not_null()
    shown = pl.when(prism & ~fixed).then(pl.lit("prism")).when(fixed & ~prism).then(pl.lit("fixed"))
    return pl.coalesce(pl.col("kind").cast(pl.String), shown)


def _nearest(site: SiteMap, found: MappedSite) -> pl.DataFrame:
    """Each plot with its nearest bank (null: none near), whether another may be nearer (null: not known), and which."""
    plots = features(site, ["plots"])
    names = plots.rows.select(plot="name").with_row_index("geometry").cast({"geometry": pl.Int64})
    columns = {
        "geometry": pl.Int64, "reach": pl.UInt32, "side": pl.String, "bank": pl.String, "nearest_ft": pl.Float64,
        "doubt_ft": pl.Float64, "from_ft": pl.Float64, "certain": pl.Boolean,
    }  # fmt: skip
    near = pl.DataFrame(schema=columns)
    if len(found.lines):
        near = near_banks(found, found.stations, plots, PLOT_FT).select(*columns).cast({"side": pl.String})
    near = near.sort("geometry", "nearest_ft", nulls_last=True, maintain_order=True)
    first = near.unique(["geometry", "bank"], keep="first", maintain_order=True)
    best = first.unique("geometry", keep="first", maintain_order=True)
    lines = shapely.distance(plots.shapes[best["geometry"].to_numpy()], found.lines[best["reach"].to_numpy()]) / FOOT_M
    best = best.with_columns(_line_ft=pl.Series(lines, dtype=pl.Float64))
    others = first.join(
        best.select("geometry", _own="bank", _own_ft="nearest_ft", _own_doubt="doubt_ft"), on="geometry"
    )
    others = others.filter(pl.col("bank") != pl.col("_own"))
    nearer = pl.col("nearest_ft") - pl.col("doubt_ft") <= pl.col("_own_ft") + pl.col("_own_doubt")
    others = others.with_columns(_nearer=nearer).filter(pl.col("_nearer").fill_null(True))
    rivals = others.group_by("geometry", maintain_order=True).agg(rival=pl.col("bank").first())
    rows = names.join(best, on="geometry", how="left", maintain_order="left")
    rows = rows.join(rivals, on="geometry", how="left", maintain_order="left")
    # So near the line of its stream it may stand on the other side.
    across = (pl.col("_line_ft") <= pl.col("doubt_ft")) & pl.col("side").is_in(["left", "right"])
    open_ = pl.col("rival").is_not_null() | across
    return rows.select(
        "plot", "bank", "nearest_ft", "doubt_ft", "certain", "rival", along_ft="from_ft",
        doubtful=pl.when(pl.col("doubt_ft").is_not_null()).then(open_).otherwise(pl.lit(True)),
    )  # fmt: skip


def _left_out(near: pl.DataFrame, own: pl.DataFrame) -> Iterator[str]:
    """Plots without a row of the map; what the table says of one stands."""
    told = own.filter(pl.col("bank").is_not_null())["plot"].to_list()
    rest = near.filter(~pl.col("plot").is_in(told))
    far = rest.filter(pl.col("bank").is_null())["plot"].to_list()
    if far:
        yield f"Mapped plots farther than {PLOT_FT:g} ft from any bank near the harvest, not judged: {_listed(far)}."
    blank = rest.filter(pl.col("bank").is_not_null() & pl.col("doubt_ft").is_null())["plot"].to_list()
    if blank:
        yield (
            "Mapped plots of which nobody knows how far their place, or that of the water, may be off, not judged: "
            f"{_listed(blank)}."
        )
    doubt = rest.filter(pl.col("doubtful") & pl.col("doubt_ft").is_not_null())
    either = [
        f"{plot} ({bank} or {rival or 'the other side'})"
        for plot, bank, rival in doubt.select("plot", "bank", "rival").rows()
    ]
    if either:
        yield f"Mapped plots that may belong to either of two banks, not judged: {_listed(either)}."


def _counted(rows: pl.DataFrame, own: pl.DataFrame) -> Iterator[str]:
    """The plots that the map adds, and how far from their bank they stand."""
    new = rows.join(own, on="plot", how="anti", maintain_order="left")
    far = pl.col("distance_from_bank_ft")
    sums = new.group_by("bank", maintain_order=True).agg(pl.len(), far.min().alias("low"), far.max().alias("high"))
    said = [f"{bank} {count}{_span(low, high)}" for bank, count, low, high in sums.iter_rows()]
    if said:
        yield f"Mapped plots by their nearest bank: {_listed(said, '; ')}."
    blank = new.filter(far.is_null())["plot"].to_list()
    if blank:
        yield (
            "The width of the stream is not known, so that these mapped plots have no distance from the bank: "
            f"{_listed(blank)}."
        )


def _span(low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return ""
    return f", {number_text(low) if low == high else f'{number_text(low)} to {number_text(high)}'} ft from it"


def _told_otherwise(rows: pl.DataFrame, own: pl.DataFrame) -> Iterator[str]:
    """Where table and map differ on one plot, and where a plot is drawn outside the strip it is said to stand for."""
    both = own.join(rows, on="plot", how="inner", suffix=":map", maintain_order="left")
    for name in ("bank", *_SAID):
        kind = TABLES["plots"].field(name)
        unit = f" {kind.unit}" if kind is not None and kind.unit else ""
        apart = both.filter(pl.col(name).cast(pl.String) != pl.col(f"{name}:map").cast(pl.String))
        if kind is not None and kind.kind in ("number", "whole"):
            apart = both.filter(pl.col(name) != pl.col(f"{name}:map"))
        for plot, table, drawn in apart.select("plot", name, f"{name}:map").iter_rows():
            yield f"Plot {plot}: the table says {name} {_shown(table)}{unit}, the map {_shown(drawn)}{unit}; the table stands."
    strip = ("strip_from_ft", "strip_to_ft")
    told = rows.join(own.select("plot", *(pl.col(c).alias(f"{c}:own") for c in strip)), on="plot", how="left")
    told = told.with_columns(pl.coalesce(f"{c}:own", c).alias(c) for c in strip)
    low, high = (pl.col("distance_from_bank_ft") + sign * pl.col("distance_uncertainty_ft") for sign in (-1, 1))
    off = told.filter((low > pl.col("strip_to_ft")) | (high < pl.col("strip_from_ft")))
    for row in off.sort("plot").to_dicts():
        yield (
            f"Plot {row['plot']} stands for the strip from {_shown(row['strip_from_ft'])} to {_shown(row['strip_to_ft'])} ft "
            f"and is drawn {_shown(row['distance_from_bank_ft'])} ft from the bank; the strip stands."
        )


def plots_outside(site: SiteMap, mapped: MappedSite, zones: Zones) -> list[str]:
    """What is to be said of plots near the water that are drawn outside every required zone, beyond all doubt."""
    plots, stream = features(site, ["plots"]), greatest(mapped.streams["position_uncertainty_ft"])
    if not len(plots) or not zones.shapes or stream is None:
        return []
    error = plots.rows["position_uncertainty_ft"].cast(pl.Float64).fill_null(np.nan).to_numpy() + stream
    shapes = np.array(list(zones.shapes.values()), dtype=object)
    at, apart = shapely.STRtree(shapes).query_nearest(plots.shapes, return_distance=True, all_matches=False)
    out = (apart / FOOT_M > error[at[0]]) & (apart / FOOT_M <= PLOT_FT)
    names = plots.rows["name"].gather(np.sort(at[0][out])).to_list()
    if not names:
        return []
    return [
        f"Sample plots drawn outside every required zone: {_listed(names)}. Where the rules name no strips they count with the "
        "other plots of their bank."
    ]


def _shown(value: Any) -> str:
    return (
        number_text(value) if isinstance(value, int | float) and not isinstance(value, bool) else str(value or "blank")
    )


def _listed(names: Sequence[str], between: str = ", ") -> str:
    shown = between.join(names[:_LISTED])
    return shown if len(names) <= _LISTED else f"{shown} and {len(names) - _LISTED} more"
