"""Projections: from those of the files to longitude and latitude, and to one local projection in metres.

The datums of North America and of satellite positioning differ by up to about 2 m; they are treated as equal, and a note
says so. Older datums are shifted, and the accuracy of the shift is told.
"""

from __future__ import annotations

import functools
import re
import warnings
from collections.abc import Callable
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pyproj
import pyproj.aoi
import pyproj.transformer

from auditor.record.raw import Place

Floats = npt.NDArray[np.float64]
Points = Callable[[Floats], Floats]
"""Takes and gives coordinates as an array of two columns, x and y."""

DEGREES: Final = "EPSG:4326"
_MODERN: Final = re.compile(
    r"nad_?83|north[ _]american[ _](datum[ _]?(of )?)?1983|wgs[ _]?(19)?84|world[ _]geodetic[ _]system[ _]1984"
    r"|international terrestrial reference frame|north american terrestrial reference frame",
    re.IGNORECASE,
)


def named_crs(text: str, flat: bool = True) -> pyproj.CRS:
    """A projection by its code or description, without the vertical part. Raises pyproj's CRSError."""
    crs = pyproj.CRS.from_user_input(text)
    if crs.is_bound and crs.source_crs is not None:
        crs = crs.source_crs
    return crs.to_2d() if flat and (crs.is_compound or len(crs.axis_info) > 2) else crs


def chosen_crs(own: str | None, stated: str | None, place: Place, where: Place) -> pyproj.CRS:
    """The projection of a file: its own, or the one job.yaml states where it has none. Raises UnusableInput."""
    if own is None and stated is None:
        found, expected = f"no projection in {place.file}", "a file that names its projection"
        todo = "Write crs: with its code, such as EPSG:26917, or export the file again with its projection."
        raise where.refuse(None, "crs", found, expected, todo)
    try:
        theirs = named_crs(stated) if stated is not None else None
    except pyproj.exceptions.CRSError:
        raise where.refuse(None, "crs", f'"{stated}"', "a code such as EPSG:26917", "Correct the code.") from None
    try:
        crs = named_crs(own) if own is not None else theirs
    except pyproj.exceptions.CRSError:
        crs = None
    if crs is None or not (crs.is_geographic or crs.is_projected):
        found = "a projection that is not known on the earth"
        todo = "Export it again in longitude and latitude (EPSG:4326)."
        raise place.refuse(None, "crs", found, "a projection of the earth", todo)
    same = theirs is None or crs.equals(theirs, ignore_axis_order=True) or crs_words(crs) == crs_words(theirs)
    if own is not None and not same:
        found = f'"{stated}", while {place.file} says {crs_words(crs)}'
        raise where.refuse(None, "crs", found, "no crs for a file that names its own", "Take the line out.")
    return crs


def crs_words(crs: pyproj.CRS) -> str:
    """Name and code of a projection."""
    authority = crs.to_authority(min_confidence=90)
    return f"{crs.name} ({':'.join(authority)})" if authority else crs.name


def is_modern(crs: pyproj.CRS) -> bool:
    """Whether its datum is one of those treated as equal to WGS 84."""
    base = crs.geodetic_crs
    return base is not None and base.datum is not None and _MODERN.search(f"{base.datum.name} {base.name}") is not None


def to_degrees(crs: pyproj.CRS, bounds: Floats, place: Place) -> tuple[Points, float]:
    """From a projection to longitude and latitude on WGS 84, and the accuracy of the shift of datum in metres.

    `bounds` (least x and y, greatest x and y, in the projection) tell which of several shifts fits the place. The
    accuracy is 0 for datums treated as equal. Raises UnusableInput for a datum with no known shift.
    """
    plain = _points(pyproj.Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True))
    if is_modern(crs):
        return plain, 0.0
    (west, south), (east, north) = plain(bounds.reshape(2, 2))
    on_earth = -180 <= west <= east <= 180 and -90 <= south <= north <= 90
    area: Any = pyproj.aoi.AreaOfInterest(west, south, east, north) if on_earth else None
    with warnings.catch_warnings():
        # Of a finer shift whose grid is not installed; the accuracy of the one used is told instead.
        warnings.simplefilter("ignore")
        shift = pyproj.transformer.TransformerGroup(crs, DEGREES, always_xy=True, area_of_interest=area)
    known = [t for t in shift.transformers if t.accuracy >= 0]
    if not known:
        todo = "Export it again in longitude and latitude on WGS 84 (EPSG:4326)."
        raise place.refuse(None, "crs", f"{crs_words(crs)}, with no known shift to WGS 84", "a usual datum", todo)
    return _points(known[0]), float(known[0].accuracy)


def local_projection(lon: float, lat: float) -> str:
    """Transverse Mercator centred on the data, in metres.

    Its scale error is about x^2 / (2 R^2): 0.003 percent at 50 km from the centre.
    """
    return f"+proj=tmerc +lat_0={lat:.5f} +lon_0={lon:.5f} +k=1 +x_0=0 +y_0=0 +datum=WGS84 +units=m +no_defs"


def degrees_to_local(local_crs: str) -> Points:
    """From longitude and latitude to the local projection."""
    return _points(pyproj.Transformer.from_crs(DEGREES, local_crs, always_xy=True))


@functools.lru_cache(maxsize=32)
def local_to(local_crs: str, target: str) -> Points:
    """From the local projection to another, with datums treated as equal in the same way as on reading."""
    crs = named_crs(target)
    down = _points(pyproj.Transformer.from_crs(local_crs, DEGREES, always_xy=True))
    start = crs.geodetic_crs if is_modern(crs) else DEGREES
    up = _points(pyproj.Transformer.from_crs(start, crs, always_xy=True))
    return lambda points: up(down(points))


def _points(transformer: Any) -> Points:
    def move(points: Floats) -> Floats:
        x, y = transformer.transform(points[:, 0], points[:, 1])
        return np.stack([np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)], axis=1)

    return move
