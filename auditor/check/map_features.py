"""The map of a report: what was drawn, the zones that the rules require along it, and what lies inside them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final, Literal

import polars as pl

from auditor.check.evaluate import Judged
from auditor.report.model import Finding, MapFeature
from auditor.report.model import SiteMap as ReportMap
from auditor.rules import kleene
from auditor.rules.compiled import Code
from auditor.rules.limits import NO_FLOOR

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from auditor.check.map_ground import Features
    from auditor.check.mapped_site import MappedSite
    from auditor.record import SiteMap

    Shapes = NDArray[np.object_]

WIDTHS: Final = ("zone_width_ft", "primary_width_ft", "uncut_width_ft", "undisturbed_width_ft")
DRAWN: Final = {
    "units": "cutting unit", "cut_edge": "edge of the cut", "water_bodies": "water body", "roads": "road",
    "trails": "trail", "decks": "deck", "piles": "slash pile", "crossings": "crossing", "plots": "sample plot", "tanks": "tank",
}  # fmt: skip
"""Layer -> what its features are called on the map."""
MARGIN_M: Final = 60.0
SMOOTH_M: Final = 0.1
"""How far a drawn line may be moved to save points; far below what a map's places are good for."""


def required_widths(judged: Judged) -> list[pl.DataFrame]:
    """For each rule that asks for a width at a station: job, bank, station, `required_ft`, the rule and the outcome."""
    found = []
    for index, rule in enumerate(judged.rules):
        codes = judged.codes[str(index)].alias("code")
        scope = kleene.certain(kleene.all_of([n.truth for n in (rule.where, rule.when) if n is not None]))
        for node in rule.must.tests():
            test = node.test
            if test is None or test.column not in WIDTHS or test.op != "at_least" or test.limit_low is None:
                continue
            part = judged.frame.with_columns(codes, test.limit_low.cast(pl.Float64).alias("required_ft"))
            part = part.filter((pl.col("code") != int(Code.NOT_APPLICABLE)) & scope & (pl.col("required_ft") > 0))
            part = part.filter(pl.col("required_ft") > NO_FLOOR)
            found.append(part.select("job", "bank", "station", "required_ft", pl.lit(rule.key).alias("rule"), "code"))
    return found


def report_map(
    site: SiteMap, mapped: MappedSite, widths: pl.DataFrame | None, findings: Sequence[Finding]
) -> ReportMap | None:
    """The map of one job; `widths` are the frames of `required_widths` for it, together. None where nothing is drawn."""
    import numpy as np
    import shapely

    from auditor.check.map_ground import features
    from auditor.check.map_plots import plots_outside
    from auditor.check.map_times import times_inside
    from auditor.check.map_zones import intruding, zones_of

    layers = [n for n in DRAWN if site.layers[n].height]
    drawn = {name: features(site, [name]) for name in layers}
    zones = zones_of(mapped, widths)
    inside = list(intruding(mapped, zones, _numbers(findings)))
    # Waters reach far beyond the site and are drawn only as far as the rest.
    ground = [f.shapes for name, f in drawn.items() if name != "water_bodies"]
    whole = np.concatenate([*ground, mapped.disturbed.shapes, np.array(list(zones.shapes.values()), dtype=object)])
    if not len(whole):
        return None
    box = shapely.box(*_bounds(whole))
    box = shapely.buffer(box, MARGIN_M, join_style="mitre")
    west, south, east, north = shapely.bounds(box)
    origin = (float(west), float(south))
    found = [f for name, some in drawn.items() for f in _drawn(DRAWN[name], some, box, origin)]
    found += _streams(mapped, box, origin)
    found += _drawn("machine track", _tracks(mapped), box, origin)
    for (bank, _), shape in zones.shapes.items():
        found += _parts("required zone", bank, shape, box, origin, detail=f"{zones.acres[bank]:.2f} acres")
    for one in inside:
        found += _parts(one.layer, one.name, one.shape, box, origin, finding=one.finding, detail=one.detail)
    times, time_notes = times_inside(site, mapped, zones, inside)
    degrees = _degrees(site.crs, origin)
    return ReportMap(
        width_m=round(float(east - west), 1), height_m=round(float(north - south), 1), projection=site.crs,
        west_deg=degrees[0], south_deg=degrees[1], features=found, notes=[*site.notes, *mapped.notes, *plots_outside(site, mapped, zones)],
        times=times, time_notes=time_notes,
    )  # fmt: skip


def _numbers(findings: Sequence[Finding]) -> Mapping[tuple[str, str], int]:
    """Number of the gravest finding of each bank and each disturbed place."""
    found: dict[tuple[str, str], int] = {}
    for finding in findings:
        for item in finding.items:
            found.setdefault((finding.subject, item.subject), finding.number)
    return found


def _bounds(shapes: Shapes) -> tuple[float, float, float, float]:
    import shapely

    west, south, east, north = shapely.total_bounds(shapes)
    return float(west), float(south), float(east), float(north)


def _degrees(crs: str, origin: tuple[float, float]) -> tuple[float, float]:
    import pyproj

    lon, lat = pyproj.Transformer.from_crs(crs, 4326, always_xy=True).transform(*origin)
    return round(float(lon), 7), round(float(lat), 7)


def _tracks(mapped: MappedSite) -> Features:
    from auditor.check.map_ground import Features

    tracks = mapped.disturbed.rows["layer"] == "tracks"
    return Features(mapped.disturbed.shapes[tracks.to_numpy()], mapped.disturbed.rows.filter(tracks))


def _drawn(called: str, some: Features, box: object, origin: tuple[float, float]) -> Iterator[MapFeature]:
    for name, shape in zip(some.rows["name"], some.shapes, strict=True):
        yield from _parts(called, str(name or ""), shape, box, origin)


def _streams(mapped: MappedSite, box: object, origin: tuple[float, float]) -> list[MapFeature]:
    found: list[MapFeature] = []
    drawn = (mapped.streams, mapped.lines), (mapped.not_near.rows, mapped.not_near.shapes)
    for name, stream_class, line in (
        one for rows, lines in drawn for one in zip(rows["name"], rows["stream_class"], lines, strict=True)
    ):
        found += _parts(f"{stream_class or 'unclassified'} stream", str(name), line, box, origin)
    return found


def _parts(
    layer: str,
    name: str,
    shape: object,
    box: object,
    origin: tuple[float, float],
    finding: int | None = None,
    detail: str = "",
) -> Iterator[MapFeature]:
    """A feature for every part of a shape inside the box, in metres from the origin."""
    import shapely

    kinds: dict[int, Literal["point", "line", "polygon"]] = {0: "point", 1: "line", 3: "polygon"}
    kept = shapely.intersection(shape, box)
    for part in shapely.get_parts([kept]):
        kind = kinds.get(int(shapely.get_type_id(part)))
        if kind is None or shapely.is_empty(part):
            continue
        smooth = part if kind == "point" else shapely.simplify(part, SMOOTH_M)
        rings = [smooth.exterior, *smooth.interiors] if kind == "polygon" else [smooth]
        lines = [
            [(round(float(x) - origin[0], 1), round(float(y) - origin[1], 1)) for x, y in shapely.get_coordinates(ring)]
            for ring in rings
        ]
        yield MapFeature(layer=layer, name=name, kind=kind, parts=lines, finding=finding, detail=detail)
