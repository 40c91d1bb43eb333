"""Features of the maps of a site: shapes with what is said of them, tracks drawn from fixes, ways that lead to crossings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl
import shapely
from numpy.typing import NDArray

from auditor.check.map_rows import APPROACH_FT, AT_CROSSING_FT
from auditor.measures import fixes as fix_measures
from auditor.measures.reaches import FOOT_M
from auditor.record import SiteMap

Shapes = NDArray[np.object_]

GAP_S: Final = 120.0
FASTEST_MPH: Final = 25.0
"""A track of fixes is broken where no fix came for longer, or where it would have been faster than any forest machine."""
WAYS: Final = ("tracks", "trails", "roads")


@dataclass(frozen=True, slots=True)
class Features:
    """Features of some layers together: their shapes, and a frame of layer, name, uncertainty and where they stand."""

    shapes: Shapes
    rows: pl.DataFrame

    def __len__(self) -> int:
        return len(self.shapes)


def shapes_of(wkb: pl.Series) -> Shapes:
    """The geometries of a column of WKB."""
    return np.asarray(shapely.from_wkb(wkb.to_numpy()), dtype=object).reshape(len(wkb))


def features(site: SiteMap, layers: Iterable[str]) -> Features:
    """The features of the layers, in their order."""
    columns = ("name", "position_uncertainty_ft", "geometry", "_file", "_sheet", "_row")
    rows = pl.concat([site.layers[n].select(pl.lit(n).alias("layer"), *columns) for n in layers], how="vertical")
    return Features(shapes_of(rows["geometry"]), rows.drop("geometry"))


def together(parts: Sequence[Features]) -> Features:
    """Features one after the other."""
    return Features(np.concatenate([p.shapes for p in parts]), pl.concat([p.rows for p in parts], how="vertical"))


def told_apart(ground: Features) -> Features:
    """Disturbed ground with names of its own, told apart by "#2": a trail and a road may bear one name.

    Tracks are called so in the record and need no other name than that of a trail.
    """
    nth = pl.int_range(1, pl.len() + 1).over("name", pl.col("layer") == "tracks")
    name = pl.when(nth > 1).then(pl.format("{}#{}", "name", nth)).otherwise("name")
    return Features(ground.shapes, ground.rows.with_columns(name.alias("name")))


def greatest(doubts: pl.Series) -> float | None:
    """The greatest of some uncertainties; None where one is not known."""
    if doubts.null_count() or doubts.is_empty():
        return None
    value = doubts.cast(pl.Float64).max()
    return value if isinstance(value, float) else None


def fix_tracks(site: SiteMap) -> Features:
    """Fixes as tracks: those of one track and file in order of time, as lines broken where the machine was not followed.

    Fixes that no line leads to, such as those without a time, are kept as points of a feature of their own, for the
    machine was there too.
    """
    rows = fixes_in_order(site)
    if rows.is_empty():
        return Features(np.empty(0, dtype=object), features(site, ["tracks"]).rows.head(0))
    number = rows["number"].to_numpy()
    followed = steps_between(rows)
    # Without a time nothing is known of the step, so no line is drawn.
    broken = followed.steps.select((pl.col("gap") | pl.col("jump")).fill_null(True)).to_series().to_numpy()
    run = np.cumsum(broken | (np.diff(number, prepend=-1) != 0)) - 1
    xy = followed.xy
    moved = np.zeros(run[-1] + 1, dtype=bool)
    moved[run[1:][(np.diff(run) == 0) & np.diff(xy, axis=0).astype(bool) @ [True, True]]] = True
    drawn = moved[run]
    lines = shapely.linestrings(xy[drawn], indices=np.unique(run[drawn], return_inverse=True)[1])
    owner = number[drawn][np.flatnonzero(np.diff(run[drawn], prepend=-1))]
    tracks, points = np.unique(owner), np.unique(number[~drawn])
    lined: Shapes = shapely.multilinestrings(lines, indices=np.searchsorted(tracks, owner))
    dotted: Shapes = shapely.multipoints(shapely.points(xy[~drawn]), indices=np.searchsorted(points, number[~drawn]))
    said = _tracks_said(rows)
    order = np.concatenate([tracks, points]).astype(np.int64)
    return Features(np.concatenate([lined, dotted]), said[order])


def fixes_in_order(site: SiteMap) -> pl.DataFrame:
    """The fixes by track and time, with `at` (null: day or time is blank) and `number`, one for each track of a file."""
    at = pl.col("fixed_on").cast(pl.Datetime("us")) + pl.col("fixed_at").cast(pl.Duration("us"))
    rows = site.layers["fixes"].with_columns(at=at, track=pl.coalesce("track", "name", pl.lit("fixes")))
    rows = rows.sort("_file", "_sheet", "track", "at", "_row", maintain_order=True, nulls_last=True)
    # The numbers of tracks begin anew in every file, so a track is one of its file.
    return rows.with_columns(number=pl.struct("_file", "_sheet", "track").rle_id().cast(pl.Int64))


@dataclass(frozen=True, slots=True)
class Followed:
    """Where and when fixes were taken (metres, seconds, NaN where not known), and the step to each from the one before."""

    xy: NDArray[np.float64]
    time_s: NDArray[np.float64]
    steps: pl.DataFrame


def steps_between(rows: pl.DataFrame) -> Followed:
    """The steps between fixes of `fixes_in_order`."""
    xy = shapely.get_coordinates(shapes_of(rows["geometry"]))
    time = rows["at"].dt.epoch("ms").cast(pl.Float64).fill_null(np.nan).to_numpy() / 1000
    number = rows["number"].to_numpy()
    steps = fix_measures.fix_steps(xy[:, 0], xy[:, 1], time, number, longest_gap_s=GAP_S, fastest_mph=FASTEST_MPH)
    return Followed(xy, time, steps)


def _tracks_said(rows: pl.DataFrame) -> pl.DataFrame:
    """What is said of each track of fixes: its name, told apart by "#2", and the greatest uncertainty of its fixes."""
    doubt = pl.col("position_uncertainty_ft")
    said = rows.group_by("number", maintain_order=True).agg(
        pl.col("track", "_file", "_sheet", "_row").first(),
        pl.when(doubt.null_count() == 0).then(doubt.max()).alias("position_uncertainty_ft"),
    )
    nth = pl.int_range(1, pl.len() + 1).over("track")
    name = pl.when(nth > 1).then(pl.format("{}#{}", "track", nth)).otherwise("track")
    return said.select(
        pl.lit("tracks").alias("layer"), name.alias("name"), "position_uncertainty_ft", "_file", "_sheet", "_row"
    )


def divided(ground: Features, crossings: Features, lines: Shapes) -> Features:
    """Disturbed ground with the `crossing` that it belongs to: ways are divided at the ends of their approaches.

    A way belongs to a crossing within `APPROACH_FT` of it where it meets the drawn stream, or ends, within
    `AT_CROSSING_FT` of the crossing, and meets no stream elsewhere there but at other crossings. All else has no
    crossing, so that a way that leads over one is still judged where it runs along the water.
    """
    blank = ground.rows.with_columns(crossing=pl.lit(None, dtype=pl.String))
    if not len(crossings) or not len(ground):
        return Features(ground.shapes, blank)
    discs = shapely.buffer(crossings.shapes, APPROACH_FT * FOOT_M, quad_segs=32)
    ways = ground.rows["layer"].is_in(WAYS).to_numpy()
    disc, way = shapely.STRtree(ground.shapes).query(discs, predicate="intersects")
    disc, way = disc[ways[way]], way[ways[way]]
    near = shapely.intersection(ground.shapes[way], discs[disc])
    places = shapely.buffer(crossings.shapes, AT_CROSSING_FT * FOOT_M, quad_segs=32)
    met = shapely.intersection(near, shapely.union_all(lines))
    leads = shapely.intersects(met, places[disc]) | shapely.intersects(_ends(ground.shapes[way]), places[disc])
    belongs = leads & shapely.covers(shapely.union_all(places), met)
    disc, way, near = disc[belongs], way[belongs], near[belongs]
    rest = ground.shapes.copy()
    for one in np.unique(way):
        rest[one] = shapely.difference(rest[one], shapely.union_all(discs[disc[way == one]]))
    kept = np.flatnonzero(~shapely.is_empty(rest))
    over = blank[way].with_columns(crossing=crossings.rows["name"].gather(disc))
    return Features(np.concatenate([rest[kept], near]), pl.concat([blank[kept], over]))


def _ends(shapes: Shapes) -> Shapes:
    """The ends of lines; a point is its own."""
    lines = shapely.get_dimensions(shapes) == 1
    return np.where(lines, shapely.boundary(shapes), shapes)
