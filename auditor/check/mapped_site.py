"""A mapped harvest site made ready for judging: reaches, the stations along their banks, and what lies near them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl
import shapely
from numpy.typing import NDArray

from auditor.check.map_ground import (
    Features,
    Shapes,
    divided,
    features,
    fix_tracks,
    greatest,
    shapes_of,
    together,
    told_apart,
)
from auditor.measures import reaches
from auditor.measures.intrusions import stretches_near
from auditor.measures.reaches import FOOT_M
from auditor.record import SiteMap

EVERY_FT: Final = 50.0
"""How far apart stations stand on a map at most; our choice, closer than a tape-and-pace walk."""
LOOKED_FT: Final = 330.0
"""How far from the bank a cut is looked for, and from what of the harvest on stations are set along a bank.

The widest zone that a shipped rule file asks for is 200 ft (a test reads them all). The rest is room for ends of streams
drawn `TOUCH_FT` apart, and for rules of an overlay: one wider than this stays open, as no station shows so wide a zone.
"""
_READ: Final = {
    "zone_width_ft": pl.Float64, "wider_than_read": pl.Boolean, "undisturbed_width_ft": pl.Float64, "slope_pct": pl.Float64,
}  # fmt: skip
HEAD_FT: Final = 50.0
"""Radius of the half circle above a source on which its stations stand."""
TOUCH_FT: Final = 3.0
"""How far apart ends of lines that belong together may have been drawn."""
SLOPE_RUN_FT: Final = 100.0
"""How far from the bank the slope beside the stream is averaged."""
DISTURBING: Final = {
    "tracks": "machine_tracks", "trails": "skid_trail", "roads": "road", "decks": "deck", "piles": "slash_pile",
}  # fmt: skip
"""Layer -> what kind of disturbed ground its features are."""
ALSO_NEAR: Final = ("crossings", "plots", "tanks")
"""Layers whose places keep the stations near them, beside the units, the cut and disturbed ground."""


@dataclass(frozen=True, slots=True)
class MappedSite:
    """The waters near the harvest of one job: streams by their line, other water bodies by their shore. `stations` are
    those of `measures.reaches`, one row each, with `stream`, `doubt_ft` (of a width read there, null: not known), `certain`
    (whether the place of the bank is known), `told_side` (the side as a record has it, all_round of a shore), `near`
    (whether their stretch lies near the harvest) and what was read there. `beyond` are those that are not near, where
    only a deck or a container looks for its bank; `not_near` are the streams that lie wholly farther. The rows of
    `disturbed` name the `crossing` to which a piece belongs.
    """

    lines: Shapes
    streams: pl.DataFrame
    stations: pl.DataFrame
    beyond: pl.DataFrame
    not_near: Features
    water: Shapes
    cut: Features
    disturbed: Features
    walked: bool
    notes: tuple[str, ...]


def mapped_site(site: SiteMap, told: pl.DataFrame) -> MappedSite:
    """The site of one job; `told` is the table of its streams, whose widths and classes stand before those of the map."""
    edge = features(site, ["cut_edge"])
    walked = len(edge) > 0
    cut = edge if walked else features(site, ["units"])
    ground = told_apart(together([features(site, DISTURBING), fix_tracks(site)]))
    harvest = together([cut, ground])
    streams, lines, heads, not_near = _near_streams(site, harvest, told)
    disturbed = divided(ground, features(site, ["crossings"]), lines)
    water = shapes_of(site.layers["water_bodies"]["geometry"])
    ponds = _ponds(water, lines, harvest)
    shores = _shores(water[ponds])
    streams = pl.concat([streams, _pond_rows(site, ponds)], how="diagonal_relaxed")
    lines, heads = np.concatenate([lines, shores]), np.concatenate([heads, np.zeros(len(shores), dtype=bool)])
    whole = together([harvest, features(site, ["units", *ALSO_NEAR] if walked else ALSO_NEAR)])
    every = _stations(site, lines, heads, streams, water[~ponds], cut, disturbed, whole)
    stations, beyond = every.filter("near"), every.filter(~pl.col("near"))
    notes = _notes(streams, beyond, not_near, len(cut) > 0, walked)
    return MappedSite(lines, streams, stations, beyond, not_near, water, cut, disturbed, walked, tuple(notes))


def _notes(streams: pl.DataFrame, beyond: pl.DataFrame, not_near: Features, cut: bool, walked: bool) -> Iterator[str]:
    """What was left out and assumed."""
    if len(not_near):
        names = not_near.rows["name"].to_list()
        what = "1 mapped stream" if len(names) == 1 else f"{len(names)} mapped streams"
        yield (
            f"Not near the harvest, farther than {LOOKED_FT:g} ft from it, and not judged: {what} ({_listed(names)})."
        )
    length = (pl.col("to_ft") - pl.col("from_ft")).sum()  # nulls: drawn ends are known
    far = beyond.group_by("stream", "side", maintain_order=True).agg(length)
    far = far.group_by("stream", maintain_order=True).agg(pl.col("to_ft").max())
    if far.height:
        said = [f"{ft:,.0f} ft of {name}" for name, ft in far.iter_rows()]
        yield (
            f"Stations stand where a stream is within {LOOKED_FT:g} ft of the harvest; farther off, and not judged: "
            f"{_listed(said)}."
        )
    if streams.is_empty():
        yield f"No mapped stream within {LOOKED_FT:g} ft of the harvest: no zone beside water was measured on the map."
        return
    unknown = streams.filter(pl.col("width_ft").is_null())["name"].to_list()
    if unknown:
        yield (
            f"The width of {_listed(unknown)} is not known: distances run from the drawn line, so a zone there can be shown "
            "too narrow and never wide enough."
        )
    if len(unknown) < streams.height:
        yield "Half the width of a stream to either side of its drawn line is taken for the bank that the rules mean."
    if not cut:
        yield "No cutting unit and no edge of the cut is mapped: no width of a zone was read from the map."
        return
    what = "the walked edge of the cut" if walked else "the outline of the cutting units"
    yield f"Zone widths on the map run from the bank to {what}, every {EVERY_FT:g} ft or closer."


def _ponds(water: Shapes, lines: Shapes, near: Features) -> NDArray[np.bool_]:
    """Which water bodies lie near the harvest and have no stream through them, so that their own shore is the bank."""
    close = np.zeros(len(water), dtype=bool)
    if len(near):
        close[shapely.STRtree(near.shapes).query(water, predicate="dwithin", distance=LOOKED_FT * FOOT_M)[0]] = True
    close[shapely.STRtree(lines).query(water, predicate="intersects")[0]] = False
    return close


def _shores(water: Shapes) -> Shapes:
    """The outer shore of each water body as a line with the land on its left, from the middle of a straight piece on.

    A zone goes round the bends of a line but not round its ends, so that the line must not end in a corner.
    """
    rings = shapely.get_exterior_ring(shapely.orient_polygons(water, exterior_cw=True))
    found: Shapes = np.empty(len(water), dtype=object)
    for place, ring in enumerate(rings):  # water bodies near a harvest are few
        xy = shapely.get_coordinates(ring)
        middle = (xy[:1] + xy[1:2]) / 2
        found[place] = shapely.linestrings(np.concatenate([middle, xy[1:], middle]))
    return found


def _pond_rows(site: SiteMap, ponds: NDArray[np.bool_]) -> pl.DataFrame:
    """What the map says of the water bodies; a shore has no width, and its bank is where it is drawn."""
    rows = site.layers["water_bodies"].filter(pl.Series(ponds)).drop("geometry")
    kinds = (pl.col("stream_class").cast(pl.String), pl.lit(0.0).alias("width_ft"), pl.lit(True).alias("shore"))
    return rows.with_columns(kinds)


def _listed(names: Sequence[str]) -> str:
    shown = ", ".join(names[:5])
    return shown if len(names) <= 5 else f"{shown} and {len(names) - 5} more"


def _joined(site: SiteMap, told: pl.DataFrame) -> tuple[pl.DataFrame, Shapes]:
    """The streams of the map with what the record tells of them; pieces of one stream that follow each other are one.

    Pieces of one name were told apart by "#2", "#3" on reading; a name that the record knows stays one of its own.
    """
    rows = site.layers["streams"]
    known = told.select(
        base="stream", _class=pl.col("stream_class").cast(pl.String), _width=pl.col("width_ft").cast(pl.Float64)
    ).unique("base", keep="first")
    short = pl.col("name").str.replace(r"#\d+$", "")
    own = pl.col("name").is_in(known["base"].to_list()) | ~short.is_in(rows["name"].to_list())
    rows = rows.with_columns(
        base=pl.when(own).then("name").otherwise(short), stream_class=pl.col("stream_class").cast(pl.String)
    )
    rows = rows.join(known, on="base", how="left", maintain_order="left").with_columns(
        stream_class=pl.coalesce("_class", "stream_class"), width_ft=pl.coalesce("_width", "width_ft")
    )
    said = ["base", "kind", "stream_class", "width_ft", "position_uncertainty_ft"]
    lines, keys = reaches.merge_reaches(shapes_of(rows["geometry"]), rows.select(said).rows())
    first = {key: n for n, key in reversed(list(enumerate(rows.select(said).rows())))}
    rows = rows.drop("geometry", "_class", "_width")[[first[key] for key in keys]]
    nth = pl.int_range(1, pl.len() + 1).over("base")
    named = rows.with_columns(name=pl.when(nth > 1).then(pl.format("{}#{}", "base", nth)).otherwise("base"))
    return named.drop("base"), lines


def _near_streams(
    site: SiteMap, near: Features, told: pl.DataFrame
) -> tuple[pl.DataFrame, Shapes, NDArray[np.bool_], Features]:
    """The streams that come near the harvest, which of them begin at a source, and the others."""
    rows, lines = _joined(site, told)
    close = np.zeros(len(lines), dtype=bool)
    if len(near) and len(lines):
        close[shapely.STRtree(near.shapes).query(lines, predicate="dwithin", distance=LOOKED_FT * FOOT_M)[0]] = True
    water = shapes_of(site.layers["water_bodies"]["geometry"])
    # A stream may begin in one that is left out.
    heads = reaches.stream_heads(lines, touch_ft=TOUCH_FT, water=water)
    others = Features(lines[~close], rows.filter(pl.Series(~close)))
    return rows.filter(pl.Series(close)), lines[close], heads[close], others


def _stations(
    site: SiteMap,
    lines: Shapes,
    heads: NDArray[np.bool_],
    streams: pl.DataFrame,
    water: Shapes,
    cut: Features,
    disturbed: Features,
    harvest: Features,
) -> pl.DataFrame:
    width = streams["width_ft"].cast(pl.Float64).fill_null(0.0).to_numpy()
    shore = streams["shore"].fill_null(False).alias("shore")
    along = reaches.stations(lines, width, EVERY_FT, water=water)
    along = along.filter(~(shore.gather(along["reach"]) & (along["side"] == "right")))
    around = reaches.head_stations(lines, heads, width, HEAD_FT, EVERY_FT)
    frame = pl.concat([along, around.select(along.columns)], how="vertical_relaxed")
    named = streams.select(
        shore,
        stream=pl.col("name"),
        certain=pl.col("width_ft").is_not_null(),
        stream_doubt_ft="position_uncertainty_ft",
    ).with_row_index("reach")
    frame = frame.with_columns(pl.col("reach").cast(pl.UInt32)).join(
        named, on="reach", how="left", maintain_order="left"
    )
    told_side = pl.when("shore").then(pl.lit("all_round")).otherwise("side")
    frame = frame.with_columns(certain=pl.col("certain") | pl.col("in_water"), told_side=told_side)
    near = stretches_near(lines, frame, harvest.shapes, LOOKED_FT)
    frame = frame.with_columns(near=pl.Series(near, dtype=pl.Boolean))
    read = pl.concat([_read(site, frame.filter("near"), lines, cut, disturbed), _too_far(frame, cut, disturbed)])
    frame = frame.sort("near", descending=True, maintain_order=True).hstack(read)
    other = reaches.nearer_other(frame, lines, frame["zone_width_ft"].fill_null(0.0).to_numpy())
    doubt = frame["stream_doubt_ft"] + pl.Series([greatest(cut.rows["position_uncertainty_ft"])], dtype=pl.Float64)
    return frame.with_columns(doubt.alias("doubt_ft")).filter(~other.fill_null(False))


def _read(site: SiteMap, frame: pl.DataFrame, lines: Shapes, cut: Features, disturbed: Features) -> pl.DataFrame:
    """What is read at each station: widths of the zone and of undisturbed ground, and the slope."""
    found = pl.DataFrame({name: [None] * frame.height for name in _READ}, schema=_READ)
    if len(cut):
        widths = reaches.zone_width_ft(frame, cut.shapes, LOOKED_FT, lines=lines, transects=False)
        found = found.with_columns(widths["zone_width_ft"], widths["wider_than_read"])
    if len(disturbed):
        bare = reaches.zone_width_ft(frame, disturbed.shapes, LOOKED_FT, lines=lines, transects=False)
        found = found.with_columns(bare["zone_width_ft"].alias("undisturbed_width_ft"))
    if site.elevation is not None:
        step = max(site.elevation.cell_m / FOOT_M, 1.0)
        slope = reaches.transect_slope_pct(frame, site.elevation.heights, SLOPE_RUN_FT, sample_ft=step)
        found = found.with_columns(pl.Series("slope_pct", slope).fill_nan(None))
    return found


def _too_far(frame: pl.DataFrame, cut: Features, disturbed: Features) -> pl.DataFrame:
    """What a reading would find at the stations that are not near: nothing as far as is looked, where the bank is known."""
    known = pl.col("bank_ft").is_not_null()
    looked = pl.when(known).then(pl.lit(LOOKED_FT))
    blank = pl.lit(None, dtype=pl.Float64)
    return frame.filter(~pl.col("near")).select(
        zone_width_ft=looked if len(cut) else blank,
        wider_than_read=pl.when(known & pl.lit(len(cut) > 0)).then(pl.lit(True)),
        undisturbed_width_ft=looked if len(disturbed) else blank,
        slope_pct=blank,
    )
