"""From the attributes of a map layer to the typed fields of the vocabulary."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import polars as pl

from auditor.record.convert import convert, dtype
from auditor.record.faults import column_problems, folded
from auditor.record.map_source import TIME, MapSpec, fields_of
from auditor.record.raw import Place, RawTable, quoted
from auditor.record.units import factor_text
from auditor.vocabulary import nearest
from auditor.vocabulary.maps import FEATURE_CODES, FEATURE_TYPES, FeatureCode, MapLayer
from auditor.vocabulary.model import Field
from auditor.vocabulary.problems import Problem

Column = npt.NDArray[Any]
ROW: Final = "_row"
_ISO_TIME: Final = r"^(?<day>\d{4}[-/]\d{2}[-/]\d{2})[T ](?<clock>\d{2}:\d{2}(?::\d{2}(?:\.\d{1,9})?)?)\s*(?<zone>Z|[+-]\d{2}(?::?\d{2})?)?$"


@dataclass(slots=True)
class Attributes:
    """The typed fields of the features of one layer, in their order, and what was said of them."""

    frame: pl.DataFrame
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def mapped_attributes(
    layer: MapLayer, spec: MapSpec, present: tuple[str, ...], where: Place, gpx: bool
) -> tuple[dict[str, str], list[Problem]]:
    """Which attribute of the file gives which of our fields, and the ones named in vain.

    An attribute called like a field is that field, and "Name" in any case is the name, unless job.yaml says otherwise.
    """
    problems = []
    chosen: dict[str, str] = {}
    for name, (attribute, _) in spec.columns.items():
        if attribute in present:
            chosen[name] = attribute
        elif attribute:
            like = nearest(attribute, present)
            todo = f"Did you mean {like[0]}?" if like else f"The attributes are {quoted(present, 20)}."
            found = f'no attribute "{attribute}"'
            problems.append(where.problem(None, f"columns.{name}", found, "an attribute of the layer", todo))
    used = set(chosen.values())
    own = [name for name in fields_of(layer) if name not in spec.columns and name in present and name not in used]
    chosen |= {name: name for name in own}
    if TIME in chosen and TIME not in spec.columns and {"fixed_on", "fixed_at"} & chosen.keys():
        del chosen[TIME]
    named = [a for a in present if a.lower() == "name"]
    if "name" not in chosen and "name" not in spec.columns and len(named) == 1 and named[0] not in used:
        chosen["name"] = named[0]
    if gpx and layer.name == "fixes" and "track" not in chosen and "track_fid" in present:
        chosen["track"] = "track_fid"
    return chosen, problems


def read_attributes(
    layer: MapLayer, spec: MapSpec, chosen: dict[str, str], columns: dict[str, Column], count: int, place: Place
) -> Attributes:
    """Type the attributes of all features of a layer; blank stays blank."""
    rows = pl.Series(ROW, np.arange(1, count + 1, dtype=np.uint32))
    result = Attributes(rows.to_frame())
    typed: dict[str, pl.Series] = {}
    for known in layer.fields:
        if known.name in chosen:
            texts = _texts(columns[chosen[known.name]], known.name, place, result)
            typed[known.name] = _typed(texts, known, layer, spec, rows, place, result)
    if TIME in chosen:
        typed |= _times(_texts(columns[chosen[TIME]], TIME, place, result), rows, place, result)
    _fill_uncertainty(layer, spec, typed, count, place, result)
    _say_mapping(layer, spec, chosen, place, result)
    result.frame = pl.DataFrame(
        [
            typed[f.name].alias(f.name) if f.name in typed else pl.Series(f.name, [None] * count, dtype=dtype(f))
            for f in layer.fields
        ]
        + [rows]
    )
    if layer.field("feature_code") is not None:
        result.frame = _by_feature_code(layer, result.frame, place, result.notes)
    return result


def _typed(
    texts: pl.Series, known: Field, layer: MapLayer, spec: MapSpec, rows: pl.Series, place: Place, result: Attributes
) -> pl.Series:
    how = spec.column(layer, known.name)
    converted = convert(texts, known, how)
    if converted.fault.is_not_null().any():
        faulty = pl.DataFrame([rows, texts.alias("text"), converted.fault.alias("fault")])
        faulty = faulty.filter(pl.col("fault").is_not_null())
        raw = RawTable(layer.name, place, faulty, {})
        result.problems += column_problems(raw, known, how, faulty)
    return converted.values


def _texts(values: Column, name: str, place: Place, result: Attributes) -> pl.Series:
    """An attribute as text, as its owner would write it."""
    if values.dtype.kind == "f":
        return _numbers_as_text(values)
    if values.dtype.kind != "O":
        return pl.Series(values).cast(pl.String)
    try:
        return pl.Series(values.tolist(), dtype=pl.String, strict=True)
    except (TypeError, pl.exceptions.PolarsError):
        todo = "Export it as text or number, or leave it out."
        result.problems.append(place.problem(None, name, "an attribute of lists or pictures", "text or numbers", todo))
        return pl.Series([None] * len(values), dtype=pl.String)


def _numbers_as_text(values: Column) -> pl.Series:
    numbers = pl.Series(values.astype(np.float64)).fill_nan(None)
    distinct = numbers.unique().drop_nulls()
    words = [format(Decimal(repr(v)).normalize(), "f") if np.isfinite(v) else str(v) for v in distinct.to_list()]
    return numbers.replace_strict(distinct, pl.Series(words, dtype=pl.String), default=None, return_dtype=pl.String)


def _times(texts: pl.Series, rows: pl.Series, place: Place, result: Attributes) -> dict[str, pl.Series]:
    """Day and time of one text. A zone in the text turns it into universal time; without one its clock is unknown."""
    parts = pl.col("text").str.strip_chars().str.extract_groups(_ISO_TIME)
    frame = texts.alias("text").to_frame().select("text", p=parts).unnest("p")
    clock = pl.col("clock").str.replace(r"^(\d{2}:\d{2})$", "$1:00")
    stamp = pl.concat_str(pl.col("day").str.replace_all("/", "-"), pl.lit("T"), clock)
    zone = pl.col("zone").str.replace(":", "")
    hours = zone.str.slice(1, 2).cast(pl.Int64, strict=False).fill_null(0)
    minutes = zone.str.slice(3, 2).cast(pl.Int64, strict=False).fill_null(0)
    east = pl.when(zone.str.starts_with("-")).then(-1).otherwise(1)
    offset = pl.duration(minutes=east * (60 * hours + minutes))
    when = stamp.str.to_datetime("%Y-%m-%dT%H:%M:%S%.f", time_unit="us", strict=False)
    frame = frame.with_columns(when=pl.when(zone.is_null()).then(when).otherwise(when - offset))
    blank = pl.col("text").is_null() | (pl.col("text").str.strip_chars() == "")
    wrong = frame.with_columns(rows).filter(~blank & pl.col("when").is_null())
    if wrong.height:
        shown = [f'"{text}"' for text in wrong["text"].head(20).to_list()]
        todo = "Export the time as ISO 8601 text."
        words = [(text, "a time such as 2026-03-02T14:30:00Z", todo) for text in shown]
        result.problems += folded(place, TIME, wrong[ROW], words)
    zoned = frame["zone"].len() - frame["zone"].null_count()
    bare = frame["when"].len() - frame["when"].null_count() - zoned
    if zoned and bare:
        found = f"{zoned:,} times with a zone and {bare:,} without"
        todo = "Export all times with their zone."
        result.problems.append(place.problem(None, TIME, found, "one clock for all times", todo))
    result.notes += [f"fixes: {zoned:,} times of {place.file} read as universal time, by their zone"] if zoned else []
    if bare:
        result.notes.append(f"fixes: {bare:,} times of {place.file} name no zone; taken as their recorder's clock")
    return {
        "fixed_on": frame["when"].dt.date(),
        "fixed_at": frame["when"].dt.time(),
        "fixed_in_utc": frame.select(pl.when(pl.col("zone").is_not_null()).then(True)).to_series(),
    }


def _fill_uncertainty(
    layer: MapLayer, spec: MapSpec, typed: dict[str, pl.Series], count: int, place: Place, result: Attributes
) -> None:
    """The uncertainty stated for the whole map stands where a feature names none."""
    if spec.uncertainty_ft is None:
        return
    name = "position_uncertainty_ft"
    known = layer.field(name)
    assert known is not None
    # What is wrong with the number itself was said with the line of job.yaml.
    stated = convert(pl.Series([spec.uncertainty_ft]), known, spec.column(layer, ""))
    value = stated.values.item()
    own = typed.get(name, pl.Series([None] * count, dtype=pl.Float64))
    typed[name] = own.fill_null(value)
    result.notes.append(f"{layer.name}: places of {place.file} taken as within {value:g} ft, as job.yaml says")


def uncertainty_problems(layer: MapLayer, spec: MapSpec, where: Place) -> list[Problem]:
    """What is wrong with the uncertainty stated in job.yaml."""
    known = layer.field("position_uncertainty_ft")
    if spec.uncertainty_ft is None or known is None:
        return []
    texts = pl.Series([spec.uncertainty_ft])
    fault = convert(texts, known, spec.column(layer, "")).fault
    if fault.is_null().all():
        return []
    found = f'"{spec.uncertainty_ft}"'
    return [where.problem(None, known.name, found, "a number of feet from 0 to 5,000", "Correct the value.")]


def _say_mapping(layer: MapLayer, spec: MapSpec, chosen: dict[str, str], place: Place, result: Attributes) -> None:
    for name, attribute in chosen.items():
        unit = spec.columns[name][1] if name in spec.columns else None
        known = layer.field(name)
        if unit is not None and known is not None and known.unit is not None and unit != known.unit:
            words = f"{unit} read as {factor_text(unit, known.unit)} in {place.file}"
            result.notes.append(f"{layer.name}.{name}: {words}")
        elif name not in spec.columns and attribute != name:
            result.notes.append(f"{layer.name}.{name}: read from the attribute {attribute} of {place.file}")
    pairs = ", ".join(f'"{word}" as {ours or "blank"}' for word, ours in spec.values.items())
    if pairs:
        result.notes.append(f"{layer.name}: read {pairs} in {place.file}")


def _by_feature_code(layer: MapLayer, frame: pl.DataFrame, place: Place, notes: list[str]) -> pl.DataFrame:
    """Fill kind and class where they are blank and the feature code says them; say what it does not say."""
    counts = frame["feature_code"].drop_nulls().value_counts().sort("feature_code").rows()
    meant = {code: _meaning(code) for code, _ in counts}
    for name in ("kind", "stream_class", "inside_water_body"):
        known = layer.field(name)
        if known is not None and meant:
            said = {code: getattr(meaning, name) for code, meaning in meant.items()}
            from_code = pl.col("feature_code").replace_strict(said, default=None, return_dtype=dtype(known))
            frame = frame.with_columns(pl.coalesce(name, from_code).alias(name))
    for code, count in counts:
        meaning = meant[code]
        if meaning.stream_class is None:
            words = meaning.meaning or "a code not known here"
            notes.append(f"{layer.name}: {count:,} of {place.file} with code {code} ({words}), which names no class")
    unclassed = frame["stream_class"].null_count()
    if unclassed:
        notes.append(f"{layer.name}: {unclassed:,} of {frame.height:,} features of {place.file} without a class")
    return frame


def _meaning(code: int) -> FeatureCode:
    return FEATURE_CODES.get(code) or FEATURE_TYPES.get(code // 100) or FeatureCode("")
