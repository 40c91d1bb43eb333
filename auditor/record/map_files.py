"""Opens the map files of a job: known formats alone, all parts of a shapefile, the right layer."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pyogrio
import pyogrio.raw

from auditor.record.map_source import MapSpec
from auditor.record.raw import Place, quoted
from auditor.record.sources import file_bytes
from auditor.vocabulary import nearest
from auditor.vocabulary.maps import LAYERS
from auditor.vocabulary.problems import UnusableInput

Column = npt.NDArray[Any]
MOST_UNPACKED_BYTES: Final = 2_000_000_000
_SHAPE_NEEDED: Final = (".shp", ".shx", ".dbf")
_SHAPE_PARTS: Final = (*_SHAPE_NEEDED, ".prj", ".cpg")
_FAULTS: Final = (RuntimeError, ValueError, OSError, UnicodeError)
_TEMPORARY: Final = "pyogrio_"


def _xml(word: bytes) -> Callable[[bytes], bool]:
    return lambda data: re.search(rb"<([\w]+:)?" + word + rb"[\s>]", data[:4000]) is not None


_FORMATS: Final[dict[str, tuple[str, Callable[[bytes], bool]]]] = {
    ".gpkg": ("a GeoPackage", lambda data: data.startswith(b"SQLite format 3\0")),
    ".shp": ("a shapefile", lambda data: data.startswith(b"\x00\x00\x27\x0a")),
    ".geojson": ("GeoJSON", lambda data: data[:1000].lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{")),
    ".json": ("GeoJSON", lambda data: data[:1000].lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{")),
    ".kml": ("KML", _xml(b"kml")),
    ".gpx": ("GPX", _xml(b"gpx")),
}
"""The content is looked at as well, so that a file of another kind under a known name is never opened."""
_PACKED: Final = {".zip": "a zipped shapefile", ".kmz": "KMZ"}
_EXPECTED: Final = "a file that ends in .gpkg, .shp, .zip (a zipped shapefile), .geojson, .kml, .kmz or .gpx"


@dataclass(frozen=True, slots=True)
class MapLayerFile:
    """One layer of an opened file. `name` is None where the format names none; `shape` may be "Unknown"."""

    name: str | None
    called: str
    data: bytes
    shape: str
    count: int
    attributes: tuple[str, ...]
    crs: str | None


@dataclass(frozen=True, slots=True)
class MapFile:
    """An opened map file: its layers that hold features, and the bytes of every part by path."""

    file: str
    suffix: str
    layers: tuple[MapLayerFile, ...]
    empty: tuple[str, ...]
    parts: Mapping[str, bytes]


def open_map(folder: Path, file: str, where: Place, place: Place) -> MapFile:
    """Open a vector file of the job folder. Raises UnusableInput for what is missing, unknown or unreadable."""
    suffix = PurePosixPath(file).suffix.lower()
    if suffix not in _FORMATS and suffix not in _PACKED:
        todo = "Export the layer as GeoPackage (.gpkg)."
        raise where.refuse(None, "file", f'"{file}"', _EXPECTED, todo)
    data = file_bytes(folder, file, where)
    parts = {file: data}
    if suffix == ".shp":
        _check_content(data, suffix, place)
        parts |= _neighbours(folder, file, where)
        sets = {PurePosixPath(file).stem: {PurePosixPath(p).suffix.lower(): d for p, d in parts.items()}}
        found = _shapefiles(sets, place)
    elif suffix == ".zip":
        found = _shapefiles(_unpacked_shapefiles(data, place), place)
    elif suffix == ".kmz":
        found = _layers(_unpacked_kml(data, place), ".kml", file, place)
    else:
        _check_content(data, suffix, place)
        found = _layers(data, suffix, file, place)
    filled = tuple(layer for layer in found if layer.count)
    return MapFile(file, suffix, filled, tuple(layer.called for layer in found if not layer.count), parts)


def choose_layer(opened: MapFile, spec: MapSpec, where: Place) -> MapLayerFile:
    """The layer that job.yaml names, or the only one. Raises UnusableInput."""
    names = {layer.called: layer for layer in opened.layers}
    if spec.layer in names:
        return names[spec.layer]
    word = "folder" if opened.suffix in (".kml", ".kmz") else "layer"
    if spec.layer in opened.empty or not names:
        found = f"no features in {spec.layer or opened.file}"
        raise where.refuse(None, "layer", found, f"a {word} with features", "Check the export, or take the map out.")
    if spec.layer is not None:
        like = nearest(spec.layer, names)
        todo = f"Did you mean {like[0]}?" if like else f"The {word}s are {quoted(list(names), 20)}."
        raise where.refuse(None, "layer", f'no {word} "{spec.layer}" in {opened.file}', f"a {word} of the file", todo)
    fitting = _of_gpx(opened, spec) if opened.suffix == ".gpx" else list(opened.layers)
    if len(fitting) == 1:
        return fitting[0]
    found = f"{len(names)} {word}s in {opened.file}: {quoted(list(names), 20)}"
    raise where.refuse(None, "layer", found, f"the {word} that holds {spec.holds}", "Name it under layer.")


def read_features(
    layer: MapLayerFile, attributes: list[str], place: Place
) -> tuple[Column, dict[str, Column], list[str]]:
    """Geometries as WKB, the attributes asked for, and what the library for the format had to say.

    Raises UnusableInput.
    """
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        try:
            meta, _, shapes, columns = pyogrio.raw.read(
                layer.data, layer=layer.name, columns=attributes, datetime_as_string=True
            )
        except _FAULTS as error:
            raise _unreadable(place, error) from None
    if shapes is None:
        shapes = np.full(layer.count, None, dtype=object)
    if len(shapes) != layer.count:
        found = f"{len(shapes):,} features that can be read of {layer.count:,}"
        raise place.refuse(None, "", found, "every feature of the layer", "Export the file again; it seems damaged.")
    said = [_clean(str(w.message), place) for w in caught if not _harmless(str(w.message))]
    return shapes, dict(zip(meta["fields"].tolist(), columns, strict=True)), list(dict.fromkeys(said))


def _of_gpx(opened: MapFile, spec: MapSpec) -> list[MapLayerFile]:
    """A GPX file always has the same five layers; what the map holds says which is meant."""
    shapes = LAYERS[spec.holds].shapes
    wanted = {"track_points"} if spec.holds == "fixes" else {"waypoints"} if "point" in shapes else {"tracks", "routes"}
    return [layer for layer in opened.layers if layer.called in wanted]


def _check_content(data: bytes, suffix: str, place: Place) -> None:
    words, fits = _FORMATS[suffix]
    if not fits(data):
        raise place.refuse(None, "", "something else inside", f"{words}, as its name says", "Export the file again.")
    if suffix in (".kml", ".gpx") and b"<!ENTITY" in data:
        raise place.refuse(None, "", "entity declarations", f"plain {words}", "Export the file again without them.")


def _neighbours(folder: Path, file: str, where: Place) -> dict[str, bytes]:
    """The other parts of a shapefile, which lie beside it under the same name."""
    pure = PurePosixPath(file)
    beside = {p.suffix.lower(): p.name for p in sorted((folder / file).parent.glob("*")) if p.stem == pure.stem}
    found = {}
    for suffix in _SHAPE_PARTS[1:]:
        if suffix in beside:
            path = pure.with_name(beside[suffix]).as_posix()
            found[path] = file_bytes(folder, path, where)
    return found


def _unpacked(data: bytes, place: Place) -> dict[str, bytes]:
    """The files of a zip archive, without folders."""
    expected, todo = f"{_PACKED[PurePosixPath(place.file).suffix.lower()]} that can be unpacked", "Pack it again."
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            listed = [i for i in archive.infolist() if not i.is_dir() and not i.filename.startswith("__MACOSX")]
            if sum(i.file_size for i in listed) > MOST_UNPACKED_BYTES:
                raise place.refuse(None, "", "more than 2 GB inside", expected, "Export less, or a GeoPackage.")
            return {i.filename: archive.read(i) for i in listed}
    except (zipfile.BadZipFile, zlib.error, RuntimeError, EOFError, OSError, ValueError):
        raise place.refuse(None, "", "an archive that cannot be unpacked", expected, todo) from None


def _unpacked_shapefiles(data: bytes, place: Place) -> dict[str, dict[str, bytes]]:
    sets: dict[str, dict[str, bytes]] = {}
    for path, content in _unpacked(data, place).items():
        pure = PurePosixPath(path)
        if pure.suffix.lower() in _SHAPE_PARTS:
            parts = sets.setdefault(pure.stem, {})
            if pure.suffix.lower() in parts:
                found = f"{pure.name} twice in different folders"
                raise place.refuse(None, "", found, "each part once", "Pack the shapefile alone.")
            parts[pure.suffix.lower()] = content
    found_sets = {stem: parts for stem, parts in sets.items() if ".shp" in parts}
    if not found_sets:
        raise place.refuse(None, "", "no .shp inside", "a zipped shapefile", "Pack the shapefile with all its parts.")
    return found_sets


def _unpacked_kml(data: bytes, place: Place) -> bytes:
    inside = {path: content for path, content in _unpacked(data, place).items() if path.lower().endswith(".kml")}
    if not inside:
        raise place.refuse(None, "", "no .kml inside", "KMZ", "Export the file again.")
    main = inside.get("doc.kml") or next(iter(inside.values()))
    _check_content(main, ".kml", place)
    return main


def _shapefiles(sets: dict[str, dict[str, bytes]], place: Place) -> list[MapLayerFile]:
    """Each shapefile as a layer of its name; its parts are packed, so that they are read together from memory."""
    found = []
    for stem, parts in sets.items():
        lacking = [suffix for suffix in _SHAPE_NEEDED if suffix not in parts]
        if lacking:
            words = " and ".join(stem + suffix for suffix in lacking)
            raise place.refuse(None, "", f"no {words}", "all parts of the shapefile", "Copy the missing part as well.")
        _check_content(parts[".shp"], ".shp", place)
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
            for suffix, content in parts.items():
                archive.writestr(zipfile.ZipInfo(f"part{suffix}"), content)
        data = packed.getvalue()
        inside = _layers(data, ".shp", stem, place)
        if not inside:
            todo = "Export the file again."
            raise place.refuse(None, "", "a shapefile without a layer of shapes", "a complete shapefile", todo)
        layer = inside[0]
        found.append(MapLayerFile("part", stem, data, layer.shape, layer.count, layer.attributes, layer.crs))
    return found


def _layers(data: bytes, suffix: str, file: str, place: Place) -> list[MapLayerFile]:
    found = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            for name, shape in pyogrio.list_layers(data).tolist():
                if shape is None:
                    continue
                # GeoJSON has one layer without a name; the library calls it after its own temporary file.
                nameless = suffix in (".geojson", ".json") and name.startswith(_TEMPORARY)
                called = PurePosixPath(file).stem if nameless else name
                shown = None if nameless else name
                info = pyogrio.read_info(data, layer=shown, force_feature_count=True)
                fields = tuple(str(f) for f in info["fields"])
                found.append(MapLayerFile(shown, called, data, shape, info["features"], fields, info["crs"]))
        except _FAULTS as error:
            raise _unreadable(place, error) from None
    return found


def _unreadable(place: Place, error: Exception) -> UnusableInput:
    reason = _clean(str(error).split(";")[0], place).rstrip(".")
    if isinstance(error, UnicodeError):
        reason = "its text is not UTF-8"
    elif len(reason) > 100:
        reason = f"{reason[:97]}..."
    found = f"a file that cannot be read ({reason})"
    return place.refuse(None, "", found, "a complete map file", "Export the file again.")


def _clean(text: str, place: Place) -> str:
    """Temporary names change from run to run, so they give way to the name of the file."""
    return re.sub(r"'?(/vsizip/)?(/?/vsimem/)?pyogrio_[\w./]*'?", place.file, text)


def _harmless(text: str) -> bool:
    # Unclosed rings are looked for, and told, one by one.
    return "non conformant file extension" in text or "Non closed ring" in text
