"""The layers that the maps of a job may hold: what one feature is, its shape, and what may be said of it.

`name` is the key of the table of the same thing (`streams.stream`, `stands.stand`, `crossings.crossing` ...), by which a
feature and a row are known as one. A name seen before in the same layer gets "#2", "#3".
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from auditor.vocabulary.ground import LIQUIDS, SEGMENT_KINDS
from auditor.vocabulary.model import Field
from auditor.vocabulary.waterside import CROSSING_TYPES, PLOTS, STREAM_CLASSES, STREAM_KINDS

Shape = Literal["point", "line", "polygon"]
"""The shape of one part of a feature; features of several parts are taken apart when read."""


@dataclass(frozen=True, slots=True)
class MapLayer:
    """One kind of map layer: what a feature is, the shapes it may have, and its fields."""

    name: str
    feature: str
    shapes: tuple[Shape, ...]
    fields: tuple[Field, ...]

    def field(self, name: str) -> Field | None:
        """The field of that name, or None."""
        return next((f for f in self.fields if f.name == name), None)


@dataclass(frozen=True, slots=True)
class FeatureCode:
    """What a feature code of the U.S. National Hydrography Dataset says of a water.

    `inside_water_body` is yes for a line drawn through the middle of a water body: its banks are those of the body.
    """

    meaning: str
    kind: str | None = None
    stream_class: str | None = None
    inside_water_body: bool | None = None


NAME = Field("name", "text", "name or number, as in the table of the same thing")
UNCERTAINTY = Field(
    "position_uncertainty_ft", "number", "how far the drawn place may be from the true one", "ft", low=0, high=5000
)
_CODE = Field(
    "feature_code", "whole", "feature code (FCODE) of the U.S. National Hydrography Dataset", low=10_000, high=99_999
)
_KIND = Field("kind", "class", "what kind of water it is", classes=STREAM_KINDS)
_CLASS = Field(
    "stream_class", "class", "how long it flows or holds water, by the definition used", classes=STREAM_CLASSES
)


_DRAWN_PLOT = ("plot", "bank", "along_ft", "distance_from_bank_ft", "distance_uncertainty_ft", "note")
"""What of a plot comes from where it is drawn, and what is not judged."""


def _layer(name: str, feature: str, shapes: tuple[Shape, ...], *fields: Field) -> MapLayer:
    return MapLayer(name, feature, shapes, (NAME, UNCERTAINTY, *fields))


_ALL = (
    _layer(
        "units", "one cutting unit", ("polygon",),
        Field("cut_on", "date", "last day of cutting"),
    ),
    _layer(
        "streams", "one reach of a stream, drawn as a line", ("line",),
        _CLASS, _KIND, _CODE,
        Field("inside_water_body", "yes_no", "drawn through the middle of a water body, whose banks are the ones that count"),
        Field("width_ft", "number", "bank to bank, the average of the reach", "ft", low=0, high=20_000),
    ),
    _layer("water_bodies", "one lake, pond, wetland or wide river, drawn by its shore", ("polygon",), _CLASS, _KIND, _CODE),
    _layer(
        "tracks", "one track of a machine", ("line",),
        Field("machine", "text", "which machine"),
        Field("driven_on", "date", "day it was driven"),
    ),
    _layer(
        "fixes", "one position of a machine with its time", ("point",),
        Field("track", "text", "machine or track it belongs to"),
        Field("fixed_on", "date", "day of the fix"),
        Field("fixed_at", "time", "time of day of the fix"),
        Field("fixed_in_utc", "yes_no", "day and time are in universal time; blank: in the clock of whoever recorded them"),
    ),
    _layer(
        "cut_edge", "one stretch of the edge of the cut, as walked", ("line",),
        Field("walked_on", "date", "day it was walked"),
    ),
    _layer("decks", "one deck or landing", ("point", "polygon")),
    _layer("piles", "one pile of slash", ("point", "polygon")),
    _layer(
        "roads", "one stretch of road", ("line",),
        Field("kind", "class", "what it is", classes=SEGMENT_KINDS),
    ),
    _layer(
        "trails", "one skid trail or firelane", ("line",),
        Field("kind", "class", "what it is", classes=SEGMENT_KINDS),
    ),
    _layer(
        "crossings", "one place where a road or trail crosses a channel", ("point",),
        Field("stream", "text", "the water it crosses"),
        Field("crossing_type", "class", "how it is built", classes=CROSSING_TYPES),
    ),
    _layer(
        "plots", "one sample plot inside a zone beside water, by its centre", ("point",),
        *(replace(field, required=False) for field in PLOTS.fields if field.name not in _DRAWN_PLOT),
    ),
    _layer(
        "receptors", "one place to be spared smoke or noise, such as a house or a school", ("point",),
        Field("kind", "text", "what it is"),
    ),
    _layer(
        "tanks", "one container for oil or fuel", ("point",),
        Field("contents", "class", "what it is for", classes=LIQUIDS),
    ),
)  # fmt: skip

LAYERS: dict[str, MapLayer] = {layer.name: layer for layer in _ALL}
TABLE_LAYERS: dict[str, tuple[str, ...]] = {
    "streams": ("streams", "water_bodies"), "plots": ("plots",), "crossings": ("crossings",), "decks": ("decks",),
    "segments": ("roads", "trails"), "stands": ("units",), "tanks": ("tanks",),
}  # fmt: skip
"""Table -> the layers whose features become rows of it."""
BANK_SIDES = ("left", "right", "head", "shore")
"""A mapped bank is called by its stream and one of these, such as "Mill Creek left"."""
ELEVATION = "elevation"
"""The word in job.yaml for a raster of heights, beside the names of the layers."""
HEIGHT_UNITS = ("m", "ft", "us-ft")

FEATURE_CODES: dict[int, FeatureCode] = {
    33400: FeatureCode("connector, a line that only joins others"),
    39001: FeatureCode("lake or pond, intermittent", "lake_or_pond", "intermittent"),
    39004: FeatureCode("lake or pond, perennial", "lake_or_pond", "perennial"),
    39009: FeatureCode("lake or pond, perennial", "lake_or_pond", "perennial"),
    46000: FeatureCode("stream or river, class not said", "stream", None, False),
    46003: FeatureCode("intermittent stream", "stream", "intermittent", False),
    46006: FeatureCode("perennial stream", "stream", "perennial", False),
    46007: FeatureCode("ephemeral stream", "stream", "ephemeral", False),
    55800: FeatureCode("artificial path, a centreline through a water body", None, None, True),
}
FEATURE_TYPES: dict[int, FeatureCode] = {
    336: FeatureCode("canal or ditch", "ditch_or_canal", None, False),
    390: FeatureCode("lake or pond", "lake_or_pond"),
    436: FeatureCode("reservoir", "reservoir"),
    460: FeatureCode("stream or river", "stream", None, False),
    466: FeatureCode("swamp or marsh", "wetland"),
}
"""By the first three digits, for codes that are not listed one by one."""
