"""How long machines were inside the required zones, from the times of their fixes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

import numpy as np
import polars as pl
import shapely

from auditor.check.map_ground import (
    FASTEST_MPH,
    GAP_S,
    Features,
    Followed,
    Shapes,
    features,
    fixes_in_order,
    greatest,
    steps_between,
)
from auditor.check.map_rows import APPROACH_FT
from auditor.check.map_zones import Intrusion, Zones
from auditor.check.mapped_site import TOUCH_FT, MappedSite
from auditor.measures.fixes import zone_passes
from auditor.measures.reaches import FOOT_M
from auditor.record import SiteMap
from auditor.report.model import TimeInside
from auditor.vocabulary.quantities import number_text

_PLACE: Final = ["_file", "_sheet", "_row"]
_DECIMALS: Final = 3
_LISTED: Final = 5
_TIMES: Final = {
    "first_in": "first_s",
    "last_out": "last_s",
    "sure_first_in": "sure_first_s",
    "sure_last_out": "sure_last_s",
}
_SLIT_M: Final = TOUCH_FT * FOOT_M
_EPOCH: Final = datetime(1970, 1, 1)


@dataclass(frozen=True, slots=True)
class _Track:
    """A track of fixes: names on the map, crossings it leads over, how far off it may be, whose clock it has, its shapes."""

    names: tuple[str, ...]
    crossings: tuple[str, ...]
    error_ft: float | None
    in_utc: bool
    shapes: Shapes


@dataclass(frozen=True, slots=True)
class _Grounds:
    """The ground of the zone of each bank: all that a position may belong to, and what it belongs to for certain."""

    banks: tuple[str, ...]
    outer: Shapes
    inner: Shapes


def times_inside(
    site: SiteMap, mapped: MappedSite, zones: Zones, inside: Sequence[Intrusion]
) -> tuple[list[TimeInside], list[str]]:
    """For each machine track and each bank in whose required zone it was, or may have been, how long; and what was assumed.

    A track whose time there is not known has an entry without minutes. `inside` is what `intruding` found. What belongs
    to a crossing is left out, as it is there.
    """
    rows = fixes_in_order(site)
    found: list[TimeInside] = []
    notes: list[str] = []
    if zones.shapes and rows.height:
        tracks, followed = _tracks(mapped, rows), steps_between(rows)
        told = _told(site, mapped, zones, rows, followed, tracks)
        found = [_entry(tracks[number], bank, sums, inside) for number, bank, sums in told]
        notes = list(_notes(found, rows, followed, tracks))
    known = {(name, time.bank) for time in found for name in time.shown_as}
    drawn = {(i.name, i.bank): i for i in inside if i.track and (i.name, i.bank) not in known}
    found += [TimeInside(track=i.track, bank=i.bank, finding=i.finding, shown_as=[i.name]) for i in drawn.values()]
    return sorted(found, key=lambda t: (t.bank, t.first_in is None, t.first_in or _EPOCH, t.track)), notes


def _tracks(mapped: MappedSite, rows: pl.DataFrame) -> dict[int, _Track]:
    """What is known of each track of fixes, by its number; a track is known by the place of its first fix."""
    first = rows.group_by("number", maintain_order=True).agg(
        pl.col(*_PLACE).first(),
        _utc=pl.col("fixed_in_utc").fill_null(False).filter(pl.col("at").is_not_null()).all(),  # nulls: filled
    )
    drawn = (
        mapped.disturbed.rows.with_row_index("_at")
        .filter(pl.col("layer") == "tracks")
        .join(first, on=_PLACE, how="inner", nulls_equal=True, maintain_order="left")
    )
    stream = greatest(mapped.streams["position_uncertainty_ft"])
    found = {}
    for (number,), part in drawn.group_by("number", maintain_order=True):
        own = greatest(part["position_uncertainty_ft"])
        error = None if own is None or stream is None else own + stream
        names, crossings = (tuple(part[c].drop_nulls().unique(maintain_order=True)) for c in ("name", "crossing"))
        shapes = mapped.disturbed.shapes[part["_at"].to_numpy()]
        found[int(str(number))] = _Track(names, crossings, error, part["_utc"].item(0), shapes)
    return found


def _told(
    site: SiteMap,
    mapped: MappedSite,
    zones: Zones,
    rows: pl.DataFrame,
    followed: Followed,
    tracks: Mapping[int, _Track],
) -> Iterator[tuple[int, str, dict[str, Any]]]:
    """Number of a track, bank, and the sums of its stays there; tracks known as well go together."""
    alike: dict[tuple[float | None, tuple[str, ...]], list[int]] = {}
    for number, track in tracks.items():
        alike.setdefault((track.error_ft, track.crossings), []).append(number)
    points = shapely.points(followed.xy)
    for (error, crossings), own in alike.items():
        kept = rows["number"].is_in(own).to_numpy()
        ground = _grounds(mapped, zones, error or 0.0, np.concatenate([tracks[n].shapes for n in own]))
        ground = _apart_from(ground, features(site, ["crossings"]), crossings)
        number = rows["number"].to_numpy()[kept]
        # Where nobody knows how far off places may be, nothing is certain.
        sure = ground.inner if error is not None else np.full(len(ground.inner), shapely.Polygon(), dtype=object)
        xy, time = followed.xy[kept], followed.time_s[kept]
        stays = zone_passes(
            xy[:, 0], xy[:, 1], time, number, followed.steps.filter(pl.Series(kept)), ground.outer, sure
        )
        untimed = _untimed(points[kept & np.isnan(followed.time_s)], number[np.isnan(time)], ground.outer)
        for row in (
            _sums(stays).join(untimed, on=["track", "zone"], how="full", coalesce=True).sort("track", "zone").to_dicts()
        ):
            yield row["track"], ground.banks[row["zone"]], row


def _sums(stays: pl.DataFrame) -> pl.DataFrame:
    """The stays of each track in each zone together. Stays that a gap inside joins may have been one."""
    chain = (~pl.col("joined")).cast(pl.Int64).cum_sum().over("track", "zone")
    return stays.with_columns(_chain=chain).group_by("track", "zone", maintain_order=True).agg(
        pl.col("first_s", "sure_first_s").min(), pl.col("last_s", "sure_last_s").max(),
        pl.col("inside_s", "sure_s", "gap_s", "gap_count").sum(),  # nulls: none in them
        passes=pl.len(), sure_passes=pl.col("_chain").filter("is_sure").n_unique(),
    )  # fmt: skip


def _untimed(points: Shapes, number: np.ndarray[Any, np.dtype[np.int64]], grounds: Shapes) -> pl.DataFrame:
    """How many fixes without a time each track has in each zone."""
    zone, at = shapely.STRtree(points).query(grounds, predicate="covers")
    pairs = pl.DataFrame(
        {"track": number[at], "zone": zone.astype(np.int64)}, schema={"track": pl.Int64, "zone": pl.Int64}
    )
    return pairs.group_by("track", "zone").agg(untimed=pl.len())


def _grounds(mapped: MappedSite, zones: Zones, error_ft: float, tracks: Shapes) -> _Grounds:
    """The zones that the tracks come near, wider and narrower by the error.

    Toward the channel a zone is neither: who is so near the water is not outside. Ground in the zones of two banks stays
    with the one that has it on the map.
    """
    error = error_ft * FOOT_M
    by_bank: dict[str, list[Any]] = {}
    for (bank, _), shape in zones.shapes.items():
        by_bank.setdefault(bank, []).append(shape)
    every: Shapes = np.array([shapely.union_all(s) for s in by_bank.values()], dtype=object)
    tree = shapely.STRtree(every)
    met = np.unique(tree.query(tracks, predicate="dwithin", distance=error)[1])
    outer, inner = every[met], every[met]
    if error and len(met):
        # Whatever lies so near bears on what is certain there.
        near = np.unique(tree.query(every[met], predicate="dwithin", distance=2 * (error + _SLIT_M))[1])
        inner = _solid(shapely.intersection(inner, _whole_ground(mapped, every[near], error)))
        for n, one in enumerate(met):
            others = shapely.union_all(every[near[near != one]])
            outer[n] = shapely.difference(shapely.buffer(every[one], error), others)
    banks = tuple(np.array(list(by_bank), dtype=object)[met])
    return _Grounds(banks, _solid(outer), inner)


def _solid(shapes: Shapes) -> Shapes:
    """Shapes without the lines and points in which they only touch."""
    found: Shapes = shapely.buffer(shapes, 0)
    return found


def _whole_ground(mapped: MappedSite, shapes: Shapes, error: float) -> Any:
    """The ground on which a position is inside some zone or the channel for certain, in metres."""
    width = mapped.streams["width_ft"].cast(pl.Float64).fill_null(0.0).to_numpy() * FOOT_M / 2
    zone = shapely.union_all(shapes)
    by = shapely.dwithin(mapped.lines, zone, width + _SLIT_M)
    channels = shapely.buffer(mapped.lines[by], width[by])
    pools = mapped.water[shapely.dwithin(mapped.water, zone, _SLIT_M)]
    # Edges drawn a little apart leave slits, which are no edge of a zone.
    closed = shapely.buffer(shapely.union_all(np.concatenate([[zone], channels, pools])), _SLIT_M)
    return shapely.buffer(closed, -_SLIT_M - error)


def _apart_from(ground: _Grounds, crossings: Features, names: Sequence[str]) -> _Grounds:
    """The ground without the approaches of some crossings; zones of which nothing is left are gone."""
    of = np.isin(crossings.rows["name"].to_numpy(), names) if names else np.zeros(len(crossings), dtype=bool)
    discs = shapely.union_all(shapely.buffer(crossings.shapes[of], APPROACH_FT * FOOT_M, quad_segs=32))
    outer, inner = (_solid(shapely.difference(shapes, discs)) for shapes in (ground.outer, ground.inner))
    left = ~shapely.is_empty(outer)
    return _Grounds(tuple(np.array(ground.banks, dtype=object)[left]), outer[left], inner[left])


def _entry(track: _Track, bank: str, told: Mapping[str, Any], inside: Sequence[Intrusion]) -> TimeInside:
    shown = [i for i in inside if i.bank == bank and i.track in track.names]
    found = TimeInside(
        track=track.names[0],
        bank=bank,
        finding=next((i.finding for i in shown if i.finding is not None), None),
        shown_as=list(dict.fromkeys(i.name for i in shown)),
        untimed_fix_count=told["untimed"] or 0,
        in_universal_time=track.in_utc,
    )
    if told["passes"] is None:
        return found
    most, sure = _minutes(told["inside_s"]), _minutes(told["sure_s"])
    minutes: dict[str, Any] = {"minutes_drawn": most}
    if track.error_ft is not None:
        minutes = {"minutes_low": sure, "minutes_high": most, "passes_low": told["sure_passes"]}
    when = {name: _when(told[key]) for name, key in _TIMES.items()}
    gaps = {"gap_count": told["gap_count"], "gap_minutes": _minutes(told["gap_s"])}
    return found.model_copy(update={**minutes, **when, **gaps, "passes_high": told["passes"]})


def _minutes(seconds: float) -> float:
    return round(seconds / 60, _DECIMALS)


def _when(seconds: float | None) -> datetime | None:
    return None if seconds is None else _EPOCH + timedelta(seconds=round(seconds))


def _notes(
    found: Sequence[TimeInside], rows: pl.DataFrame, followed: Followed, tracks: Mapping[int, _Track]
) -> Iterator[str]:
    """How the minutes were reckoned, and where in a track nobody knows where the machine was."""
    timed = [t for t in found if t.first_in is not None]
    if timed:
        yield (
            f"Between two fixes at most {GAP_S:g} s apart a machine is taken to have gone straight at an even pace; time in "
            f"longer gaps, and in steps faster than {FASTEST_MPH:g} miles an hour, is not counted."
        )
    errors = sorted({track.error_ft for track in tracks.values() if track.error_ft})
    if timed and errors:
        most = number_text(errors[-1])
        far = f"{most} ft" if len(errors) == 1 else f"{number_text(errors[0])} to {most} ft, by track"
        yield (
            f"The lesser number is the time deeper inside the zone than fixes and stream together may be off ({far}); the "
            "greater has all that may have been inside, from first in to last out."
        )
    if timed and any(track.crossings for track in tracks.values()):
        yield f"Time on the way over a crossing, within {APPROACH_FT:g} ft of it, is not counted."
    gaps = rows.select("number").with_columns(followed.steps["gap"], followed.steps["step_s"]).filter("gap")
    sums = gaps.group_by("number", maintain_order=True).agg(pl.len(), pl.col("step_s").sum())  # nulls: a gap has a time
    said = [
        f"{count:,} of track {tracks[n].names[0]}, {_span(s)} in all" for n, count, s in sums.iter_rows() if n in tracks
    ]
    if said:
        more = f" and {len(said) - _LISTED} more" if len(said) > _LISTED else ""
        listed = "; ".join(said[:_LISTED])
        yield f"Longer gaps in the fixes, in which the record does not show where the machine was: {listed}{more}."


def _span(seconds: float) -> str:
    if seconds < 2 * 3600:
        return f"{number_text(round(seconds / 60, 1))} minutes"
    return f"{number_text(round(seconds / 3600, 1))} hours"
