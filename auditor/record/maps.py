"""Reads the maps of a job: every layer in one local projection in metres, with the place each feature came from."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import polars as pl
import shapely

from auditor.record import map_attributes, map_projection, map_repairs
from auditor.record.elevation import raster_middle, read_elevation
from auditor.record.job_file import JobFile
from auditor.record.map_files import MapFile, choose_layer, open_map, read_features
from auditor.record.map_source import MapSpec, map_problems
from auditor.record.raw import EvidenceFile, Place
from auditor.record.site_map import Elevation, SiteMap, empty_layers, layer_schema
from auditor.record.sources import file_bytes
from auditor.vocabulary.maps import ELEVATION, LAYERS, MapLayer
from auditor.vocabulary.problems import Problem, UnusableInput

Shapes = npt.NDArray[Any]
WIDEST_KM: Final = 100.0
"""Across a wider site distances in one local projection would lose their accuracy, and no job is so wide."""
_FT_PER_M: Final = 1 / 0.3048


@dataclass(slots=True)
class MapsRead:
    """The maps of a job; `site` is None where something was refused."""

    site: SiteMap | None
    problems: list[Problem]
    evidence: list[EvidenceFile]


@dataclass(frozen=True, slots=True)
class _Source:
    """One map as read: its attributes and its features as longitude and latitude."""

    layer: MapLayer
    place: Place
    frame: pl.DataFrame
    degrees: Shapes


@dataclass(slots=True)
class _Reading:
    """What is gathered while the maps of a job are read."""

    job: JobFile
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    sources: list[_Source] = field(default_factory=list)
    opened: dict[str, MapFile] = field(default_factory=dict)
    parts: dict[str, bytes] = field(default_factory=dict)
    used: dict[str, list[tuple[str, int]]] = field(default_factory=dict)


def read_maps(job: JobFile) -> MapsRead:
    """Read every map of a job, in the order of job.yaml; problems of all of them come in one pass."""
    reading = _Reading(job)
    seen: set[tuple[str, str, str | None]] = set()
    rasters: list[tuple[MapSpec, Place]] = []
    for spec, where in job.maps:
        try:
            problems = map_problems(spec, where)
            if problems:
                raise UnusableInput(problems)
            if spec.holds == ELEVATION:
                rasters.append((spec, where))
                continue
            _read_source(reading, spec, where, seen)
        except UnusableInput as error:
            reading.problems += error.problems
    site = _site(reading, rasters)
    return MapsRead(None if reading.problems else site, reading.problems, _evidence(reading))


def _read_source(reading: _Reading, spec: MapSpec, where: Place, seen: set[tuple[str, str, str | None]]) -> None:
    layer, job = LAYERS[spec.holds], reading.job
    place = Place(job.job, job.path_label(spec.file), spec.file, word="feature", sheet_word="layer")
    if spec.file not in reading.opened:
        reading.opened[spec.file] = open_map(job.folder, spec.file, where, place)
        reading.parts |= reading.opened[spec.file].parts
    opened = reading.opened[spec.file]
    found = choose_layer(opened, spec, where)
    place = replace(place, sheet=found.name and found.called)
    use = (spec.holds, spec.file, place.sheet)
    if use in seen:
        again = f"{spec.file} a second time in {spec.holds}"
        raise where.refuse(None, "file", again, "each layer once", "Take one of the two out.")
    seen.add(use)
    crs = map_projection.chosen_crs(found.crs, spec.crs, place, where)
    gpx = opened.suffix == ".gpx"
    chosen, problems = map_attributes.mapped_attributes(layer, spec, found.attributes, where, gpx)
    problems += map_attributes.uncertainty_problems(layer, spec, where)
    if problems:
        raise UnusableInput(problems)
    wkb, columns, said = read_features(found, sorted(set(chosen.values())), place)
    attributes = map_attributes.read_attributes(layer, spec, chosen, columns, found.count, place)
    shapes = map_repairs.decode(wkb, layer, place)
    problems = [*attributes.problems, *shapes.problems]
    accuracy_m = 0.0
    if not shapes.problems:
        move, accuracy_m = map_projection.to_degrees(crs, shapely.total_bounds(shapes.shapes), place)
        degrees = shapely.transform(shapes.shapes, move)
        problems += map_repairs.misplaced(shapes.shapes, degrees, crs.is_geographic, place)
        reading.sources += [] if problems else [_Source(layer, place, attributes.frame, degrees)]
    reading.problems += problems
    reading.used.setdefault(spec.file, []).append((spec.holds, found.count))
    reading.notes += [f"{spec.holds}: {spec.file}, {words}" for words in said]
    reading.notes.append(f"{spec.holds}: {spec.file} in {map_projection.crs_words(crs)}")
    reading.notes += [*attributes.notes, *shapes.notes]
    if accuracy_m:
        _widen(reading, attributes.frame, spec, accuracy_m, problems)


def _widen(reading: _Reading, frame: pl.DataFrame, spec: MapSpec, accuracy_m: float, problems: list[Problem]) -> None:
    """A shift from an older datum makes every place of the source that much less certain."""
    words = f"shifted from an older datum, good to {accuracy_m:g} m"
    reading.notes.append(f"{spec.holds}: {spec.file} {words}, which is added to its stated uncertainty")
    if not problems:
        wider = frame.with_columns(pl.col("position_uncertainty_ft") + accuracy_m * _FT_PER_M)
        reading.sources[-1] = replace(reading.sources[-1], frame=wider)


def _site(reading: _Reading, rasters: list[tuple[MapSpec, Place]]) -> SiteMap | None:
    """All layers in one local projection, and the heights."""
    if len(rasters) > 1:
        where = rasters[1][1]
        found, todo = "a second raster of heights", "Join the rasters into one file."
        reading.problems.append(where.problem(None, "holds", found, "one raster for a job", todo))
    middle = _middle(reading.sources)
    if middle is not None:
        wide = _too_wide(reading.sources, middle)
        reading.problems += wide
        if wide:
            return None
    try:
        crs, elevation, frames = _projected(reading, rasters, middle)
    except UnusableInput as error:
        reading.problems += error.problems
        return None
    if crs is None:
        return None
    notes = [
        f"maps: distances measured in a transverse Mercator projection centred on the site ({crs})",
        "maps: the datums NAD83 and WGS 84 treated as equal; they differ by up to about 2 m",
        *reading.notes,
    ]
    return SiteMap(frames, crs, elevation, tuple(dict.fromkeys(notes)))


def _projected(
    reading: _Reading, rasters: list[tuple[MapSpec, Place]], middle: tuple[float, float] | None
) -> tuple[str | None, Elevation | None, dict[str, pl.DataFrame]]:
    frames = empty_layers()
    heights = [(spec, where, _raster_bytes(reading, spec, where)) for spec, where in rasters[:1]]
    if middle is None:
        if reading.sources or not heights or reading.problems:
            return None, None, frames
        spec, where, data = heights[0]
        middle = raster_middle(data, spec, _raster_place(reading, spec), where)
    crs = map_projection.local_projection(*middle)
    box = [math.inf, math.inf, -math.inf, -math.inf]
    move = map_projection.degrees_to_local(crs)
    parts: dict[str, list[pl.DataFrame]] = {}
    for source in reading.sources:
        frame, bounds = _local_frame(reading, source, move)
        parts.setdefault(source.layer.name, []).append(frame)
        box = [*np.minimum(box[:2], bounds[:2]), *np.maximum(box[2:], bounds[2:])]
    for name, own in parts.items():
        frames[name] = _joined(reading, LAYERS[name], pl.concat(own))
    elevation = None
    for spec, where, data in heights:
        west, south, east, north = box
        place = _raster_place(reading, spec)
        elevation, said = read_elevation(data, spec, crs, (west, south, east, north), place, where)
        reading.notes += said
        reading.used.setdefault(spec.file, []).append((ELEVATION, 1))
    return crs, elevation, frames


def _local_frame(
    reading: _Reading, source: _Source, move: map_projection.Points
) -> tuple[pl.DataFrame, npt.NDArray[np.float64]]:
    """The rows of one source in the local projection, one part each, and the box round them."""
    local = shapely.transform(source.degrees, move)
    checked, owner = map_repairs.whole_polygons(local, source.layer, source.place)
    reading.problems += checked.problems
    reading.notes += checked.notes
    frame = source.frame
    if len(owner) != frame.height or (np.diff(owner) != 1).any():
        frame = frame[owner]
    if source.layer.name == "fixes":
        xy = shapely.get_coordinates(checked.shapes)
        reading.notes += map_repairs.fix_notes(frame, xy[:, 0], xy[:, 1])
    wkb = pl.Series("geometry", shapely.to_wkb(checked.shapes).tolist(), dtype=pl.Binary)
    place = source.place
    whole = frame.with_columns(
        wkb,
        job=pl.lit(place.job),
        _file=pl.lit(place.file, dtype=pl.String),
        _sheet=pl.lit(place.sheet, dtype=pl.String),
    )
    return whole.select(list(layer_schema(source.layer))), shapely.total_bounds(checked.shapes)


def _joined(reading: _Reading, layer: MapLayer, frame: pl.DataFrame) -> pl.DataFrame:
    """The rows of all sources of a layer with names of their own."""
    reading.notes += map_repairs.repeated_notes(layer, frame)
    if layer.name == "fixes":
        return frame
    unnamed = frame["name"].null_count()
    if unnamed:
        reading.notes.append(f"{layer.name}: {unnamed:,} features without a name; called by layer and number")
    called = pl.format("{} {}", pl.coalesce("_sheet", "_file"), "_row")
    frame = frame.with_columns(name=pl.coalesce("name", called))
    twice = frame.filter(pl.struct("name").is_duplicated())
    several = twice.select(pl.struct("name", "_file", "_sheet", "_row").n_unique()).item() - twice["name"].n_unique()
    if several > 0:
        reading.notes.append(f'{layer.name}: {several:,} names seen before; told apart by "#2", "#3"')
    nth = pl.int_range(1, pl.len() + 1).over("name")
    return frame.with_columns(name=pl.when(nth > 1).then(pl.format("{}#{}", "name", nth)).otherwise("name"))


def _middle(sources: Sequence[_Source]) -> tuple[float, float] | None:
    """Longitude and latitude of the middle of all maps: of their bounds, or, across a wide span, of most features."""
    if not sources:
        return None
    bounds = np.concatenate([shapely.bounds(s.degrees) for s in sources])
    low, high = bounds[:, :2].min(0), bounds[:, 2:].max(0)
    if (high - low).max() > 2:
        # One stray feature would pull the middle of the bounds away from the site.
        low = high = np.median((bounds[:, :2] + bounds[:, 2:]) / 2, axis=0)
    return float((low[0] + high[0]) / 2), float((low[1] + high[1]) / 2)


def _too_wide(sources: Sequence[_Source], middle: tuple[float, float]) -> list[Problem]:
    move = map_projection.degrees_to_local(map_projection.local_projection(*middle))
    bounds = np.array(
        [shapely.total_bounds(shapely.transform(shapely.box(*shapely.total_bounds(s.degrees)), move)) for s in sources]
    )
    span_km = (bounds[:, 2:].max(0) - bounds[:, :2].min(0)) / 1000
    if span_km.max() <= WIDEST_KM:
        return []
    farthest = [map_repairs.far_off(s.degrees, middle) for s in sources]
    worst = max(range(len(sources)), key=lambda i: farthest[i][1])
    row, km = farthest[worst]
    found = f"{km:,.0f} km from the middle of the maps"
    expected = f"maps of one job within {WIDEST_KM:g} km"
    todo = "Check its place and its projection, or make jobs of their own."
    return [sources[worst].place.problem(row + 1, "geometry", found, expected, todo)]


def _raster_place(reading: _Reading, spec: MapSpec) -> Place:
    return Place(reading.job.job, reading.job.path_label(spec.file), spec.file)


def _raster_bytes(reading: _Reading, spec: MapSpec, where: Place) -> bytes:
    data = file_bytes(reading.job.folder, spec.file, where)
    reading.parts[spec.file] = data
    return data


def _evidence(reading: _Reading) -> list[EvidenceFile]:
    """Every part of every map with its digest; the features stand with the file that job.yaml names."""
    found = []
    for path, data in reading.parts.items():
        used = reading.used.get(path, [])
        held = tuple(dict.fromkeys(name for name, _ in used))
        digest = hashlib.sha256(data).hexdigest()
        count = sum(n for _, n in used)
        found.append(EvidenceFile(reading.job.job, path, digest, len(data), held, count))
    return found
