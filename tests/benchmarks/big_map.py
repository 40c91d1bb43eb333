"""An invented map of many reaches, all of them beside cutting units, with tracks and decks, made of arrays alone."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
import shapely
from numpy.typing import NDArray

from auditor.record import SiteMap
from auditor.record.site_map import empty_layers

FOOT_M = 0.3048
LENGTH_FT = 3000.0
PIECES = 24
CELL_M = 1500.0
"""Side of the square that three reaches lie in, two of which flow into the third."""
CLASSES = ("perennial", "intermittent", "ephemeral")
WIDTH_FT = {"perennial": 16.0, "intermittent": 6.0, "ephemeral": 2.0}
ZONE_FT = {"perennial": 50.0, "intermittent": 35.0, "ephemeral": 25.0}
"""What the benchmark asks for by class; no law."""
Shapes = NDArray[np.object_]


def reach_lines(count: int) -> Shapes:
    """Reaches of 3,000 ft with 24 bends, in threes: the first two end where the third begins."""
    rng = np.random.default_rng(17)
    steps = LENGTH_FT * FOOT_M / PIECES
    start = np.array([2.6, 0.5, 1.57])[np.arange(count) % 3, None] + np.pi
    course = np.where(np.arange(count)[:, None] % 3 == 2, -1.57, start)
    course = course + 0.5 * np.sin(np.linspace(0, 9, PIECES)) + rng.normal(0, 0.25, (count, PIECES))
    moves = steps * np.stack([np.cos(course), np.sin(course)], axis=-1)
    xy = np.concatenate([np.zeros((count, 1, 2)), moves.cumsum(axis=1)], axis=1)
    meets = np.arange(count) % 3 != 2
    xy[meets] -= xy[meets, -1:]
    row = np.ceil(np.sqrt(count / 3)).astype(int)
    cell = np.stack(np.divmod(np.arange(count) // 3, row), axis=1)
    found: Shapes = shapely.linestrings(xy + cell[:, None] * CELL_M)
    return found


def classes_of(count: int) -> list[str]:
    """The class of each reach."""
    return [CLASSES[n % 7 % 3] for n in range(count)]


def big_map(count: int) -> SiteMap:
    """The map: a unit on each side of each reach, a machine track along every second, a deck beside every fourth."""
    rng = np.random.default_rng(5)
    lines, kinds = reach_lines(count), classes_of(count)
    half = np.array([WIDTH_FT[c] / 2 for c in kinds])
    kept = (half + rng.choice([20.0, 30.0, 40.0, 60.0], count)) * FOOT_M
    middle = shapely.transform(lines, lambda xy: xy)
    bands = shapely.difference(
        shapely.buffer(middle, 90.0, cap_style="flat", quad_segs=4),
        shapely.buffer(middle, kept, cap_style="flat", quad_segs=4),
    )
    units = shapely.get_parts(bands)
    tracks = shapely.offset_curve(lines[::2], kept[::2] * rng.uniform(0.7, 1.5, len(lines[::2])), quad_segs=2)
    tracks = tracks[(shapely.get_type_id(tracks) == 1) & ~shapely.is_empty(tracks)]
    beside = shapely.line_interpolate_point(lines[::4], 300.0)
    decks = shapely.buffer(shapely.transform(beside, lambda xy: xy + 25.0), 15.0, quad_segs=2)
    layers = empty_layers()
    streams = {"stream_class": kinds, "kind": ["stream"] * count, "width_ft": [WIDTH_FT[c] for c in kinds]}
    for name, shapes, said in (
        ("streams", lines, streams),
        ("units", units, {}),
        ("tracks", tracks, {}),
        ("decks", decks, {}),
    ):
        layers[name] = _layer(layers[name], name, shapes, said)
    return SiteMap(layers, "local", None, ())


def _layer(empty: pl.DataFrame, name: str, shapes: Shapes, said: dict[str, Any]) -> pl.DataFrame:
    rows = pl.DataFrame(
        {
            "job": ["B"] * len(shapes),
            "name": [f"{name} {n}" for n in range(len(shapes))],
            "position_uncertainty_ft": [5.0] * len(shapes),
            "geometry": shapely.to_wkb(shapes).tolist(),
            "_file": ["invented"] * len(shapes),
            "_row": np.arange(1, len(shapes) + 1),
            **said,
        }
    )
    columns = (
        rows[c].cast(t) if c in rows.columns else pl.lit(None, dtype=t).alias(c) for c, t in empty.schema.items()
    )
    return rows.select(columns)
