"""The rows that the maps of one job give, table by table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

import numpy as np
import polars as pl
import shapely

from auditor.check.map_ground import Features, features
from auditor.check.map_rows import AT_CROSSING_FT, NEAR_FT
from auditor.check.map_zones import disturbance_name
from auditor.check.mapped_site import DISTURBING, EVERY_FT, TOUCH_FT, MappedSite
from auditor.measures import network
from auditor.measures.intrusions import intrusions, stretches_near
from auditor.measures.reaches import FOOT_M
from auditor.record import SiteMap

_PLACE = ("_file", "_sheet", "_row")
_DECIMALS = 1
DECK_FT: Final = 2000.0
"""How far from a deck or a container its bank is looked for."""


def named_stations(found: MappedSite, told: pl.DataFrame, own: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The stations with the `bank` each lies on, by the banks of the record, and its `number` along that bank; and those
    beyond, of banks that there are.

    Numbers count those beyond too. A station whose width could not be read has none, nor has one of a bank with stations of
    its `own`. One beyond counts as near where such a station stands beside it, since what was read there is held against the map.
    """
    rows = pl.concat([found.stations, found.beyond]).sort(pl.col("side") == "head", "reach", "side", "station")
    rows = rows.join(_banks(rows, told), on=["stream", "side"], how="left", maintain_order="left").with_row_index("_at")
    walked = pl.col("bank").is_in(own["bank"].drop_nulls().unique().to_list())
    read = pl.col("zone_width_ft").is_not_null() & ~walked
    rows = rows.with_columns(number=pl.when(read).then(read.cast(pl.Int64).cum_sum().over("bank")))
    taped = own.select("bank", _taped=pl.col("along_ft")).drop_nulls()
    beside = rows.filter(~pl.col("near")).join(taped, on="bank", how="inner")
    beside = beside.filter((pl.col("along_ft") - pl.col("_taped")).abs() <= EVERY_FT)
    near = pl.col("near") | pl.col("_at").is_in(beside["_at"].to_list())
    there = rows.filter(near)["bank"].unique().to_list() + told["bank"].to_list()
    return rows.filter(near).drop("_at"), rows.filter(~near & pl.col("bank").is_in(there)).drop("_at")


def site_tables(job: str, site: SiteMap, found: MappedSite, own: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Table -> rows of one job; the stations of `found` are named."""
    stations = found.stations
    rows = {
        "streams": _streams(found),
        "banks": _bank_rows(site, found, stations, own["banks"]),
        "stations": _station_rows(found, stations),
        "crossings": _crossing_rows(site, found),
        "segments": _segment_rows(site),
        "decks": _deck_rows(site, found),
        "tanks": _tank_rows(site, found),
        "stands": _stand_rows(site),
        "disturbances": _disturbance_rows(site, found),
    }
    return {name: _of(job, frame) for name, frame in rows.items() if frame.height}


def _of(job: str, frame: pl.DataFrame) -> pl.DataFrame:
    return frame.with_columns(pl.lit(job).alias("job"))


def _streams(found: MappedSite) -> pl.DataFrame:
    rows = found.streams.unique("name", keep="first", maintain_order=True)
    width = pl.when(~pl.col("shore").fill_null(False)).then("width_ft")
    return rows.select(pl.col("name").alias("stream"), "kind", "stream_class", width.alias("width_ft"), *_PLACE)


def _banks(stations: pl.DataFrame, told: pl.DataFrame) -> pl.DataFrame:
    """The name of each bank: that of the table where it has one, else made of the stream and the side."""
    sides = stations.select("stream", "side", "told_side").unique(maintain_order=True)
    told = told.select("stream", pl.col("side").cast(pl.String).alias("told_side"), _told=pl.col("bank"))
    told = told.unique(["stream", "told_side"], keep="first")
    shore = pl.col("told_side") == "all_round"
    made = pl.format("{} {}", "stream", pl.when(shore).then(pl.lit("shore")).otherwise("side"))
    sides = sides.join(told, on=["stream", "told_side"], how="left", maintain_order="left")
    return sides.select("stream", "side", pl.coalesce("_told", made).alias("bank"))


def _bank_rows(site: SiteMap, found: MappedSite, stations: pl.DataFrame, own: pl.DataFrame) -> pl.DataFrame:
    """A bank for each side of each reach near the harvest; trees were cut beside it where a cut was met.

    Its length is that of its stations, which are near the harvest. A bank of the record keeps its
    method, blank or not, for its stumps were measured by it; only where a map is uncertain by nobody knows how much, its
    method has to say that a blank uncertainty is not none.
    """
    place = found.streams.select(pl.col("name").alias("stream"), *_PLACE).unique("stream", keep="first")
    met = pl.col("wider_than_read").not_()
    days = site.layers["units"]["cut_on"]
    cut_on: Any = None if days.null_count() else days.max()
    rows = stations.group_by("bank", "stream", pl.col("told_side").alias("side"), maintain_order=True).agg(
        (met.sum() > 0).alias("_met"),  # nulls: unknown widths meet nothing
        met.is_not_null().sum().alias("_read"),  # nulls: is_not_null has none
        (pl.col("to_ft") - pl.col("from_ft")).sum().round(_DECIMALS).alias("length_ft"),  # nulls: drawn ends are known
    )
    rows = rows.with_columns(
        harvested=pl.when(pl.col("_met")).then(True).when(pl.col("_read") > 0).then(False),
        harvested_on=pl.when(pl.col("_met")).then(pl.lit(cut_on, dtype=pl.Date)),
        method=pl.when(~pl.col("bank").is_in(own["bank"].to_list()) | _vague(found)).then(
            pl.lit("gps" if found.walked else "map")
        ),
        looked_to_ft=pl.lit(NEAR_FT),
    )
    return rows.drop("_met", "_read").join(place, on="stream", how="left", maintain_order="left")


def _vague(found: MappedSite) -> bool:
    """Whether the uncertainty of any place on the map is not known."""
    frames = (found.streams, found.cut.rows, found.disturbed.rows)
    return any(frame["position_uncertainty_ft"].null_count() > 0 for frame in frames)


def _station_rows(found: MappedSite, stations: pl.DataFrame) -> pl.DataFrame:
    """A station each, numbered along its bank; a bank that was read on the ground has none from the map."""
    place = found.streams.select(pl.col("name").alias("stream"), *_PLACE).unique("stream", keep="first")
    rows = stations.filter(pl.col("number").is_not_null())
    rows = rows.join(place, on="stream", how="left", maintain_order="left")
    return rows.select(
        "bank",
        pl.col("number").alias("station"),
        pl.col("along_ft").round(_DECIMALS),
        # Stations may lie apart, and half way to the next one is then no bank that was looked at.
        pl.col("from_ft").round(_DECIMALS).alias("stretch_from_ft"),
        pl.col("to_ft").round(_DECIMALS).alias("stretch_to_ft"),
        pl.col("zone_width_ft", "undisturbed_width_ft").round(_DECIMALS),
        pl.col("doubt_ft").alias("width_uncertainty_ft"),
        "wider_than_read",
        pl.lit("horizontal").alias("measured_along"),
        _measured_from(),
        pl.when(~pl.col("wider_than_read")).then(pl.lit("edge_of_cut")).alias("measured_to"),
        pl.col("slope_pct").round(_DECIMALS),
        pl.lit("gps" if found.walked else "map").alias("method"),
        *_PLACE,
    )


def _measured_from() -> pl.Expr:
    """From where a distance runs: the drawn line lies farther in than any bank, so one from it is an upper bound."""
    start = pl.when("certain").then(pl.lit("bank_as_required")).otherwise(pl.lit("low_water_mark"))
    return start.alias("measured_from")


def near_banks(found: MappedSite, stations: pl.DataFrame, some: Features, search_ft: float) -> pl.DataFrame:
    """Each feature beside each bank within `search_ft`: distance, how far that may be off, and where along the bank.

    `geometry` is its place among the features, `certain` whether the place of the bank is known.
    """
    doubt = some.rows["position_uncertainty_ft"].cast(pl.Float64)
    near = intrusions(
        found.lines, stations, search_ft, some.shapes, doubt.fill_null(np.nan).to_numpy(),
        search_ft=0.0, touch_ft=TOUCH_FT, water=found.water, amounts=False,
    )  # fmt: skip
    near = near.with_columns(pl.col("reach").cast(pl.UInt32), pl.col("geometry").cast(pl.Int64))
    banks = stations.group_by("reach", "side", maintain_order=True).agg(
        pl.col("stream", "bank", "stream_doubt_ft").first(), certain=pl.col("certain").all(ignore_nulls=False)
    )
    banks = banks.with_columns(pl.col("reach").cast(pl.UInt32))
    told = some.rows.with_columns(geometry=pl.int_range(pl.len(), dtype=pl.Int64))
    near = near.join(banks, on=["reach", "side"], how="left", maintain_order="left")
    near = near.join(told, on="geometry", how="left", maintain_order="left")
    return near.with_columns(doubt_ft=pl.col("stream_doubt_ft") + pl.col("position_uncertainty_ft"))


def _disturbance_rows(site: SiteMap, found: MappedSite) -> pl.DataFrame:
    """Tracks, trails, roads, decks and piles near a bank; the parts of ways that belong to a crossing say so."""
    if not len(found.disturbed) or not len(found.lines):
        return pl.DataFrame()
    near = near_banks(found, found.stations, found.disturbed, NEAR_FT)
    lines = found.lines[near["reach"].to_numpy()]
    wet = pl.Series("wet", shapely.intersects(found.disturbed.shapes[near["geometry"].to_numpy()], lines))
    at_it, mapped = pl.col("crossing").is_not_null(), site.layers["crossings"].height > 0
    # Where the crossings are mapped, what belongs to none of them has no crossing for a reason.
    reason = pl.when(at_it).then(pl.lit("crossing")).when(pl.lit(mapped)).then(pl.lit("none"))
    # On a crossing it lies over the channel, and the map does not show how; near the bank places may be too far off.
    dry = pl.col("certain") & (pl.col("nearest_ft") > pl.col("doubt_ft"))
    tracks = pl.col("layer") == "tracks"
    return near.with_columns(wet).select(
        disturbance_name(pl.col("layer"), pl.col("name"), pl.col("bank"), pl.col("crossing")).alias("disturbance"),
        pl.col("layer").replace_strict(DISTURBING, default=None).alias("kind"),
        "bank", "crossing",
        pl.col("nearest_ft").round(_DECIMALS).alias("distance_from_bank_ft"),
        pl.col("doubt_ft").alias("distance_uncertainty_ft"),
        pl.lit("horizontal").alias("measured_along"),
        _measured_from(),
        pl.col("from_ft").round(_DECIMALS).alias("along_ft"),
        reason.alias("reason_inside_zone"),
        pl.when(dry).then(False).when(pl.col("wet") & ~at_it).then(True).alias("in_channel"),
        pl.when(tracks).then(pl.lit("this_harvest")).alias("made_by"),
        *_PLACE,
    )  # fmt: skip


def _crossing_rows(site: SiteMap, found: MappedSite) -> pl.DataFrame:
    """Crossings, each over the stream that the map says, else over the nearest one near enough."""
    rows = site.layers["crossings"]
    if rows.is_empty():
        return pl.DataFrame()
    points = features(site, ["crossings"]).shapes
    (crossing, line), _ = shapely.STRtree(found.lines).query_nearest(
        points, max_distance=AT_CROSSING_FT * FOOT_M, return_distance=True, all_matches=False
    )
    near = pl.DataFrame({"_at": crossing, "_near": found.streams["name"].gather(line)}).cast({"_at": pl.UInt32})
    rows = rows.with_row_index("_at").join(near, on="_at", how="left", maintain_order="left")
    return rows.select(
        pl.col("name").alias("crossing"), pl.coalesce("stream", "_near").alias("stream"), "crossing_type", *_PLACE
    )


def _segment_rows(site: SiteMap) -> pl.DataFrame:
    """Roads and trails with their drawn length; a kind that the map does not say is that of the layer."""
    found = []
    for layer, usual in (("roads", "haul_road"), ("trails", "skid_trail")):
        rows = site.layers[layer]
        length = pl.Series("length_ft", shapely.length(features(site, [layer]).shapes) / FOOT_M).round(_DECIMALS)
        kind = pl.coalesce(pl.col("kind").cast(pl.String), pl.lit(usual))
        found.append(
            rows.with_columns(length).select(pl.col("name").alias("segment"), kind.alias("kind"), "length_ft", *_PLACE)
        )
    rows = pl.concat(found)
    # A road and a trail may bear one name.
    nth = pl.int_range(1, pl.len() + 1).over("segment")
    return rows.with_columns(segment=pl.when(nth > 1).then(pl.format("{}#{}", "segment", nth)).otherwise("segment"))


def _deck_rows(site: SiteMap, found: MappedSite) -> pl.DataFrame:
    """Decks with the nearest bank, their area where they are drawn as one, and the longest way along the trails."""
    decks = features(site, ["decks"])
    if not len(decks):
        return pl.DataFrame()
    area = shapely.area(decks.shapes) / (43_560 * FOOT_M**2)
    rows = decks.rows.select(pl.col("name").alias("deck"), *_PLACE).with_columns(
        area_acres=pl.Series(np.where(area > 0, area, np.nan)).fill_nan(None).round(3),
        longest_skid_ft=_longest_skids(site, decks),
    )
    return rows.hstack(_nearest_banks(found, decks))


def _tank_rows(site: SiteMap, found: MappedSite) -> pl.DataFrame:
    """Containers for oil or fuel with the nearest bank."""
    tanks = features(site, ["tanks"])
    if not len(tanks):
        return pl.DataFrame()
    rows = tanks.rows.select(pl.col("name").alias("tank"), *_PLACE).with_columns(site.layers["tanks"]["contents"])
    return rows.hstack(_nearest_banks(found, tanks))


def _nearest_banks(found: MappedSite, some: Features) -> pl.DataFrame:
    """The nearest bank of each feature, and how far it lies from it; blank where none is near."""
    columns = {"bank": pl.String, "nearest_ft": pl.Float64, "doubt_ft": pl.Float64, "certain": pl.Boolean}
    near = pl.DataFrame(schema={"geometry": pl.Int64, **columns})
    if len(found.lines):
        beyond = found.beyond.filter(
            pl.Series(stretches_near(found.lines, found.beyond, some.shapes, DECK_FT), dtype=pl.Boolean)
        )
        stations = pl.concat([found.stations, beyond], how="diagonal")
        near = (
            near_banks(found, stations, some, DECK_FT).select("geometry", *columns).sort("nearest_ft", nulls_last=True)
        )
        near = near.unique("geometry", keep="first", maintain_order=True)
    every = pl.DataFrame({"geometry": np.arange(len(some), dtype=np.int64)})
    beside = pl.col("bank").is_not_null()
    return every.join(near, on="geometry", how="left", maintain_order="left").select(
        "bank",
        pl.col("nearest_ft").round(_DECIMALS).alias("distance_from_bank_ft"),
        pl.col("doubt_ft").alias("distance_uncertainty_ft"),
        pl.when(beside).then(pl.lit("horizontal")).alias("measured_along"),
        pl.when(beside).then(_measured_from()).alias("measured_from"),
    )


def _longest_skids(site: SiteMap, decks: Features) -> pl.Series:
    trails = features(site, ["trails"]).shapes
    blank = pl.Series([None] * len(decks), dtype=pl.Float64)
    if not len(trails):
        return blank
    places = shapely.centroid(decks.shapes)
    net = network.trail_network(trails, places, snap_ft=20.0, reach_ft=150.0, split="crossings")
    return network.far_ends(net, np.arange(len(decks)))["longest_way_ft"].fill_nan(None).round(0)


def _stand_rows(site: SiteMap) -> pl.DataFrame:
    units = features(site, ["units"])
    acres = pl.Series("area_acres", shapely.area(units.shapes) / (43_560 * FOOT_M**2)).round(2)
    rows = units.rows.with_columns(acres, site.layers["units"]["cut_on"])
    return rows.select(pl.col("name").alias("stand"), "area_acres", "cut_on", *_PLACE)


def compared(found: MappedSite, own: pl.DataFrame) -> Iterator[str]:
    """Where widths read on the ground and on the map of the same bank differ by more than both may be off."""
    banks = found.stations.filter(pl.col("zone_width_ft").is_not_null()).select(
        "bank", "along_ft", _mapped="zone_width_ft", _doubt="doubt_ft"
    ).sort("along_ft")  # fmt: skip
    read = own.filter(pl.col("along_ft").is_not_null() & pl.col("zone_width_ft").is_not_null()).sort("along_ft")
    pairs = read.select("bank", "station", "along_ft", "zone_width_ft", "width_uncertainty_ft").join_asof(
        banks, on="along_ft", by="bank", strategy="nearest", tolerance=EVERY_FT, check_sortedness=False
    )
    pairs = pairs.filter(pl.col("_mapped").is_not_null())
    # A reading without a plus or minus was taped; a map without one leaves open how well the two agree.
    either = pl.col("width_uncertainty_ft").fill_null(0.0) + pl.col("_doubt")
    pairs = pairs.with_columns(apart=(pl.col("zone_width_ft") - pl.col("_mapped")).abs()).with_columns(
        off=pl.col("apart") > either
    )
    for bank, part in pairs.group_by("bank", maintain_order=True):
        off, open_ = part.filter("off").height, part["off"].null_count()
        told = "agree within what both may be off"
        if open_:
            told = "cannot be held against it, as how far the map may be off is not known; they differ"
        elif off:
            told = f"differ by more than both may be off at {off}"
        worst: Any = part["apart"].max()
        yield (
            f"Bank {bank[0]}: widths read on the ground stand; of {part.height} that the map shows too they {told}, "
            f"by {worst:.0f} ft at most."
        )
