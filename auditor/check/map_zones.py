"""The required zones of a mapped site as ground, and what lies in them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import polars as pl
import shapely
from numpy.typing import NDArray

from auditor.check.map_ground import Features, Shapes, greatest
from auditor.check.mapped_site import DISTURBING, TOUCH_FT, MappedSite
from auditor.measures import intrusions as in_zone
from auditor.measures import zones as ground
from auditor.measures.reaches import FOOT_M, common_part
from auditor.vocabulary.quantities import number_text

HAIR_M: Final = 1e-5
"""What is thinner or shorter is the rounding of shapes, and no intrusion."""


@dataclass(frozen=True, slots=True)
class Zones:
    """The required zone of each bank (by bank and side), its acres, and the required width of each station in ft."""

    shapes: Mapping[tuple[str, str], Any]
    acres: Mapping[str, float]
    width_ft: np.ndarray[Any, np.dtype[np.float64]]


@dataclass(frozen=True, slots=True)
class Intrusion:
    """What of a shape lies inside a required zone, that of a bank; `track` names a machine track, and is empty otherwise."""

    layer: str
    name: str
    shape: Any
    finding: int | None
    detail: str
    bank: str
    track: str


def zones_of(mapped: MappedSite, widths: pl.DataFrame | None) -> Zones:
    """The zone that the widest requirement of each station asks for; a station without one asks for none.

    Along a bank that was read on the ground, at stations of its own, the widest requirement of the bank counts.
    """
    stations = mapped.stations
    if widths is None or widths.is_empty():
        return Zones({}, {}, np.zeros(stations.height))
    most = widths.group_by("bank", pl.col("station").alias("number")).agg(
        pl.col("required_ft").max()
    )  # nulls: none kept
    walked = stations.group_by("bank").agg(pl.col("number").is_not_null().sum().alias("_read"))  # nulls: none kept
    whole = widths.join(walked.filter(pl.col("_read") == 0), on="bank", how="semi")
    whole = whole.group_by("bank").agg(pl.col("required_ft").max().alias("_whole"))
    rows = stations.join(most, on=["bank", "number"], how="left", maintain_order="left")
    rows = rows.join(whole, on="bank", how="left", maintain_order="left")
    required = rows.select(pl.coalesce("required_ft", "_whole")).to_series()
    width = required.fill_null(0.0).to_numpy().astype(np.float64)
    some = required.is_not_null().to_numpy()
    rows = stations.filter(pl.Series(some))
    banks, shapes = ground.required_zones(mapped.lines, rows, width[some], touch_ft=TOUCH_FT, water=mapped.water)
    apart = ground.disjoint_zones(shapes)
    acres = ground.zone_area_acres(apart)
    names = rows.select("reach", "side", "bank").unique(maintain_order=True)
    keyed = banks.with_columns(pl.col("reach").cast(names.schema["reach"])).join(
        names, on=["reach", "side"], how="left", maintain_order="left"
    )
    found = {
        (b, s): shape for b, s, shape in zip(keyed["bank"], keyed["side"], apart, strict=True) if shape is not None
    }
    sizes = pl.DataFrame({"bank": keyed["bank"], "acres": acres}).filter(pl.col("acres").is_not_nan())
    sizes = sizes.group_by("bank").agg(pl.col("acres").sum())  # nulls: unknown areas are left out, as their zones are
    return Zones(found, dict(zip(sizes["bank"], sizes["acres"], strict=True)), width)


def intruding(mapped: MappedSite, zones: Zones, numbers: Mapping[tuple[str, str], int]) -> Iterator[Intrusion]:
    """Each part of the cut or of a track, trail, road, deck or pile inside the zone of a bank: depth, area and extent.

    The cut is what the widths were read to: cutting units, or the walked edge. One that lies in a zone by less than
    places may be off is a possible intrusion. What belongs to a crossing is none.
    """
    free = mapped.disturbed.rows["crossing"].is_null()
    whole = Features(
        np.concatenate([mapped.cut.shapes, mapped.disturbed.shapes[free.to_numpy()]]),
        pl.concat([mapped.cut.rows, mapped.disturbed.rows.filter(free).drop("crossing")]),
    )
    if not zones.shapes or not len(whole):
        return
    parts, which, banks = _parts_inside(whole.shapes, zones)
    if not len(parts):
        return
    of = whole.rows[which].with_columns(
        pl.Series("geometry", np.arange(len(parts)), dtype=pl.Int64), pl.Series("bank", [b for b, _ in banks]),
        pl.Series("side", [s for _, s in banks]),
    )  # fmt: skip
    of = of.with_columns(known_as=disturbance_name(pl.col("layer"), pl.col("name"), pl.col("bank"), pl.lit(None)))
    for row in _measured(mapped, zones, parts, of).to_dicts():
        layer = row["layer"]
        cut = layer not in DISTURBING
        what = "cut" if cut else DISTURBING[layer].replace("_", " ")
        finding = numbers.get(("bank", row["bank"]) if cut else ("disturbed place", row["known_as"]))
        name = f"{what} {row['name'] or ''} in the zone of {row['bank']}"
        kind = "intrusion" if row["inside"] else "possible intrusion"
        track = (row["name"] or "") if layer == "tracks" else ""
        yield Intrusion(kind, name, parts[row["geometry"]], finding, _detail(row), row["bank"], track)


def _parts_inside(shapes: Shapes, zones: Zones) -> tuple[Shapes, NDArray[np.int64], list[tuple[str, str]]]:
    """The parts of shapes inside zones, the shape of each, and its bank and side."""
    keys = list(zones.shapes)
    grounds = np.array(list(zones.shapes.values()), dtype=object)
    at, which = shapely.STRtree(shapes).query(grounds, predicate="intersects")
    # Zones were cut on a finer grid before, and edges that fell together there left hairs that are nowhere in the forest.
    parts, owner = shapely.get_parts(common_part(grounds[at], shapes[which], grid_m=HAIR_M), return_index=True)
    dimension = shapely.get_dimensions(parts)
    size = np.where(
        dimension == 2, shapely.area(parts) / np.maximum(shapely.length(parts), HAIR_M), shapely.length(parts)
    )
    solid = ~shapely.is_empty(parts) & (dimension == shapely.get_dimensions(shapes)[which][owner])
    solid &= (dimension == 0) | (size > HAIR_M)
    return parts[solid], which[owner][solid], [keys[k] for k in at[owner][solid]]


def _measured(mapped: MappedSite, zones: Zones, parts: Shapes, of: pl.DataFrame) -> pl.DataFrame:
    """Depth, area and extent of each part against the bank in whose zone it lies, in walking order."""
    stream = pl.Series([greatest(mapped.streams["position_uncertainty_ft"])], dtype=pl.Float64)
    error = of["position_uncertainty_ft"].cast(pl.Float64) + stream
    table = in_zone.intrusions(
        mapped.lines, mapped.stations, zones.width_ft, parts, error.fill_null(np.nan).to_numpy(),
        search_ft=0.0, touch_ft=TOUCH_FT, water=mapped.water, amounts=False,
    )  # fmt: skip
    # The parts are cut to their zones already.
    lines = shapely.get_dimensions(parts) == 1
    of = of.with_columns(
        area_acres=pl.Series(ground.zone_area_acres(parts)),
        track_ft=pl.Series(np.where(lines, shapely.length(parts) / FOOT_M, 0.0)),
    )
    table = table.drop("area_acres", "track_ft")
    names = mapped.stations.select("reach", "side", "bank").unique(maintain_order=True)
    table = table.with_columns(pl.col("reach").cast(names.schema["reach"]), pl.col("geometry").cast(pl.Int64))
    table = table.join(names, on=["reach", "side"], how="left", maintain_order="left")
    found = table.join(of, on=["geometry", "bank", "side"], how="inner", maintain_order="left")
    return found.filter(pl.col("depth_ft") > 0).sort("bank", "from_ft", "geometry", nulls_last=True)


def disturbance_name(layer: pl.Expr, name: pl.Expr, bank: pl.Expr, crossing: pl.Expr) -> pl.Expr:
    """What a drawn piece of disturbed ground beside a bank goes by in the record: "track 2 at FB-left".

    The part of a way that belongs to a crossing has its name too: "T1 over X1 at FB-left".
    """
    called = pl.when(layer == "tracks").then(pl.format("track {}", name.fill_null(""))).otherwise(name.fill_null(""))
    over = pl.when(crossing.is_not_null()).then(pl.format(" over {}", crossing)).otherwise(pl.lit(""))
    return pl.format("{}{} at {}", called, over, bank)


def _detail(row: Mapping[str, Any]) -> str:
    """Depth, area and length in words: "18 ft deep, 0.05 acres, 120 ft along the bank"."""
    said = [f"{number_text(round(row['depth_ft'], 0))} ft deep"]
    if row["area_acres"]:
        said.append(f"{number_text(round(row['area_acres'], 3))} acres")
    if row["track_ft"]:
        said.append(f"{number_text(round(row['track_ft'], 0))} ft of way")
    if row["length_ft"]:
        said.append(f"{number_text(round(row['length_ft'], 0))} ft along the bank")
    return ", ".join(said)
