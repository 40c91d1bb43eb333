"""A big map worked through by the engine, and by the bare kernel of the same geometry, written plainly with shapely."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import shapely

from auditor.check.map_tables import named_stations
from auditor.check.map_zones import Intrusion, Zones, intruding, zones_of
from auditor.check.mapped_site import EVERY_FT, LOOKED_FT, mapped_site
from auditor.record import SiteMap
from auditor.vocabulary import TABLES
from tests.benchmarks.big_map import FOOT_M, WIDTH_FT, ZONE_FT, Shapes


def map_engine(site: SiteMap) -> tuple[Zones, list[Intrusion]]:
    """The required zones by class, and what lies inside them, as a report would have them."""
    told, banks, own = (_empty(name) for name in ("streams", "banks", "stations"))
    mapped = mapped_site(site, told)
    stations, beyond = named_stations(mapped, banks, own)
    mapped = replace(mapped, stations=stations, beyond=beyond)
    kinds = mapped.streams.select(stream="name", required_ft=pl.col("stream_class").replace_strict(ZONE_FT))
    widths = stations.select("bank", "stream", station="number").join(kinds, on="stream", how="left")
    zones = zones_of(mapped, widths.drop_nulls("station"))
    return zones, list(intruding(mapped, zones, {}))


def map_kernel(site: SiteMap) -> tuple[float, float]:
    """Zones, what of the map lies in them, and the nearest cut and disturbed ground along the banks, and nothing else.

    Gives acres of zones and of what lies inside.
    """
    lines, units, tracks, decks = (_shapes(site, name) for name in ("streams", "units", "tracks", "decks"))
    kinds = site.layers["streams"]["stream_class"].cast(pl.String)
    half = np.array([WIDTH_FT[c] / 2 for c in kinds]) * FOOT_M
    wide = half + np.array([ZONE_FT[c] for c in kinds]) * FOOT_M
    whole, channel = (shapely.buffer(lines, r, quad_segs=64) for r in (wide, half))
    zones = shapely.difference(whole, channel)
    one, other = shapely.STRtree(whole).query(whole, predicate="intersects")
    later = other < one
    zones[one[later]] = shapely.difference(zones[one[later]], whole[other[later]])
    ground = np.concatenate([units, tracks, decks])
    at, which = shapely.STRtree(ground).query(zones, predicate="intersects")
    inside = shapely.intersection(zones[at], ground[which])
    shapely.distance(lines[at], inside)
    count = np.ceil(shapely.length(lines) / FOOT_M / EVERY_FT).astype(int)
    reach = np.repeat(np.arange(len(lines)), count)
    share = (np.arange(len(reach)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / count[reach]
    for side in (half, -half):
        edges = shapely.offset_curve(lines, side, quad_segs=4)
        places = shapely.line_interpolate_point(edges[reach], share, normalized=True)
        for looked in (units, np.concatenate([tracks, decks])):
            found, near = shapely.STRtree(looked).query_nearest(
                places, max_distance=LOOKED_FT * FOOT_M, all_matches=False
            )
            shapely.distance(places[found], looked[near])
    acre = 43_560 * FOOT_M**2
    return float(shapely.area(zones).sum() / acre), float(shapely.area(inside).sum() / acre)


def _shapes(site: SiteMap, layer: str) -> Shapes:
    found: Shapes = np.asarray(shapely.from_wkb(site.layers[layer]["geometry"].to_numpy()), dtype=object)
    return found


def _empty(table: str) -> pl.DataFrame:
    return pl.DataFrame(schema={f.name: pl.Float64 if f.kind == "number" else pl.String for f in TABLES[table].fields})
