"""What job.yaml says of the maps of a job, its JSON Schema, and what is wrong with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from auditor.record.raw import ColumnSpec, Place
from auditor.record.units import UNITS, units_like
from auditor.vocabulary import nearest
from auditor.vocabulary.maps import ELEVATION, HEIGHT_UNITS, LAYERS, MapLayer
from auditor.vocabulary.problems import Problem

TIME: Final = "time"
"""Stands under `columns` of fixes for one attribute that holds day and time together."""
Schema = dict[str, Any]
_TEXT: Final[Schema] = {"type": "string"}


@dataclass(frozen=True, slots=True)
class MapSpec:
    """What job.yaml says of one map. `columns` gives for each of our fields their attribute and its unit."""

    holds: str
    file: str
    layer: str | None = None
    columns: Mapping[str, tuple[str, str | None]] = field(default_factory=dict)
    values: Mapping[str, str] = field(default_factory=dict)
    uncertainty_ft: str | None = None
    crs: str | None = None
    units: str | None = None

    def column(self, layer: MapLayer, name: str) -> ColumnSpec:
        """How the attribute for a field is to be read; only words that its list has are translated."""
        known = layer.field(name)
        words = known.classes if known is not None else ()
        unit = self.columns[name][1] if name in self.columns else None
        return ColumnSpec(unit, None, tuple((w, ours) for w, ours in self.values.items() if ours in (*words, "")))


def map_spec(said: dict[str, Any]) -> MapSpec:
    """What job.yaml says of one map, its structure known to be right."""
    columns: dict[str, tuple[str, str | None]] = {}
    for name, source in said.get("columns", {}).items():
        columns[name] = (source, None) if isinstance(source, str) else (source["attribute"], source.get("unit"))
    return MapSpec(
        said["holds"],
        said["file"],
        said.get("layer") or None,
        columns,
        said.get("values", {}),
        said.get("position_uncertainty_ft") or None,
        said.get("crs") or None,
        said.get("units") or None,
    )


def fields_of(layer: MapLayer) -> list[str]:
    """What may stand under `columns` for a layer."""
    made = {"fixed_in_utc"}
    return [f.name for f in layer.fields if f.name not in made] + ([TIME] if layer.name == "fixes" else [])


def map_problems(spec: MapSpec, where: Place) -> list[Problem]:
    """What is wrong with the description of a map before its file is opened."""
    if spec.holds == ELEVATION:
        return []
    layer = LAYERS[spec.holds]
    problems = []
    for name, (_, unit) in spec.columns.items():
        known = layer.field(name)
        units = units_like(known.unit) if known is not None else ()
        if unit is not None and unit not in units:
            expected = f"one of {', '.join(units)}" if units else f"no unit, because {name} has none"
            like = nearest(unit, units)
            todo = f"Did you mean {like[0]}?" if like else "Name one of these." if units else "Take the unit out."
            problems.append(where.problem(None, name, f'the unit "{unit}"', expected, todo))
    both = [n for n in ("fixed_on", "fixed_at") if n in spec.columns and TIME in spec.columns]
    if both:
        found = f"{TIME} and {' and '.join(both)}"
        todo = f"Keep {TIME}, or fixed_on and fixed_at."
        problems.append(where.problem(None, "columns", found, "the time of a fix once", todo))
    used = Counter(attribute for attribute, _ in spec.columns.values() if attribute)
    for attribute, count in used.items():
        if count > 1:
            found = f'the attribute "{attribute}" for {count} fields'
            problems.append(where.problem(None, "columns", found, "each attribute once", "Keep one."))
    classes = {word for f in layer.fields if f.kind == "class" for word in f.classes}
    for word, ours in spec.values.items():
        if ours and ours not in classes:
            like = nearest(ours, classes)
            expected = f"a class of {layer.name}" if classes else f"no values, because {layer.name} has no classes"
            todo = f"Did you mean {like[0]}?" if like else "Take the line out." if not classes else _known(classes)
            problems.append(where.problem(None, "values", f'"{ours}" for "{word}"', expected, todo))
    return problems


def maps_schema() -> Schema:
    """The schema of `maps` in job.yaml."""
    kinds = [*LAYERS, ELEVATION]
    return {
        "description": "Maps of the job: layers of features, and one raster of the height of the ground.",
        "type": "array",
        "items": {
            "type": "object",
            "properties": {"holds": {"enum": kinds}},
            "required": ["file", "holds"],
            "allOf": [
                {"if": {"properties": {"holds": {"const": k}}, "required": ["holds"]}, "then": _ref(k)} for k in kinds
            ],
        },
    }


def map_definitions(text_only: bool) -> Schema:
    """The schemas of a map of each kind, by their name under `$defs`; `text_only` for a file of nothing but text."""
    found = {f"map_{layer.name}": _layer_schema(layer, text_only) for layer in LAYERS.values()}
    found[f"map_{ELEVATION}"] = {
        "description": "a raster of the height of the ground, in cells of 10 m or finer",
        "properties": {
            "file": {**_TEXT, "description": "path inside the job folder, with /"},
            "holds": {"const": ELEVATION},
            "units": {"enum": list(HEIGHT_UNITS), "description": "vertical unit, where the file does not name it"},
            "crs": {**_TEXT, "description": "such as EPSG:26917, only where the file has none"},
        },
        "additionalProperties": False,
    }
    return found


def _ref(kind: str) -> Schema:
    return {"$ref": f"#/$defs/map_{kind}"}


def _layer_schema(layer: MapLayer, text_only: bool) -> Schema:
    number: Schema = _TEXT if text_only else {"type": "number", "minimum": 0, "maximum": 5000}
    attribute: Schema = {
        "type": "object",
        "properties": {"attribute": _TEXT, "unit": {"enum": list(UNITS)}},
        "required": ["attribute"],
        "additionalProperties": False,
    }
    return {
        "description": f"{layer.feature}; {' or '.join(layer.shapes)}",
        "properties": {
            "file": {**_TEXT, "description": "path inside the job folder, with /"},
            "holds": {"const": layer.name},
            "layer": {**_TEXT, "description": "layer of the file; needed where it has several"},
            "columns": {
                "description": "our field: the attribute of the file, or attribute and unit; blank leaves it out",
                "type": "object",
                "propertyNames": {"enum": fields_of(layer)},
                "additionalProperties": {
                    "type": ["string", "object"], "if": {"type": "object"}, "then": attribute,
                },
            },
            "values": {
                "description": "the words of the file: our classes",
                "type": "object",
                "additionalProperties": _TEXT if text_only else {"type": ["string", "number", "boolean"]},
            },
            "position_uncertainty_ft": {**number, "description": "of every feature that does not name its own"},
            "crs": {**_TEXT, "description": "such as EPSG:26917, only where the file has none"},
        },
        "additionalProperties": False,
    }  # fmt: skip


def _known(words: set[str]) -> str:
    listed = sorted(words)
    return f"Known are {', '.join(listed)}." if len(listed) <= 30 else "See the schema of the record."
