"""The map of an invented harvest site: two streams with four banks, a drain, units, trails, decks, numbered intrusions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from auditor.report.model import MapFeature, SiteMap, TimeInside

Points = Sequence[tuple[float, float]]
WIDTH_M, HEIGHT_M = 620.0, 410.0
ALDER: Points = [(0, 60), (70, 88), (150, 82), (230, 118), (320, 126), (400, 166), (500, 172), (620, 214)]
FERN: Points = [(262, 410), (278, 340), (262, 270), (300, 206), (320, 126)]
DRAIN: Points = [(560, 390), (520, 330), (528, 260), (500, 172)]


def _feature(
    layer: str, name: str, kind: str, *parts: Points, finding: int | None = None, detail: str = ""
) -> MapFeature:
    return MapFeature.model_validate(
        {"layer": layer, "name": name, "kind": kind, "parts": list(parts), "finding": finding, "detail": detail}
    )


def _strip(line: Points, up: float, across: float = 0.0) -> Points:
    """A band on one side of a line, closed."""
    return [*line, *((x + across, y + up) for x, y in reversed(line)), line[0]]


def _square(x: float, y: float, half: float) -> Points:
    return [
        (x - half, y - half),
        (x + half, y - half),
        (x + half, y + half),
        (x - half, y + half),
        (x - half, y - half),
    ]


def _areas() -> list[MapFeature]:
    return [
        _feature("unit", "Unit 1", "polygon", [(30, 96), (24, 330), (120, 392), (240, 386), (256, 270), (290, 206), (226, 134), (150, 100)],
                 [(110, 250), (150, 250), (150, 290), (110, 290)], detail="14.2 acres"),
        _feature("unit", "Unit 2", "polygon", [(300, 396), (520, 396), (600, 300), (596, 226), (500, 190), (400, 184), (336, 148), (318, 206), (282, 270)],
                 detail="17.8 acres"),
        _feature("unit", "Unit 3", "polygon", [(60, 14), (240, 22), (430, 60), (520, 140), (400, 148), (320, 106), (230, 100), (150, 64)],
                 detail="9.6 acres"),
        _feature("water body", "Heron pond", "polygon", [(548, 60), (582, 44), (606, 64), (598, 92), (562, 96)], detail="pond"),
        _feature("required zone", "AL-left", "polygon", _strip(ALDER, 14), detail="40 ft"),
        _feature("required zone", "AL-right", "polygon", _strip(ALDER, -14), detail="40 ft"),
        _feature("required zone", "FE-left", "polygon", _strip(FERN, 0, 13), detail="35 ft"),
        _feature("required zone", "FE-right", "polygon", _strip(FERN, 0, -13), detail="35 ft"),
    ]  # fmt: skip


def _waters() -> list[MapFeature]:
    return [
        _feature("stream", "ALDER", "line", ALDER[:4], ALDER[3:], detail="perennial, 9 ft wide"),
        _feature("stream", "FERN", "line", FERN, detail="intermittent"),
        _feature("stream", "drain E", "line", DRAIN, detail="ephemeral"),
        _feature("stream", "branch W", "line", [(0, 350), (60, 300), (70, 240)]),
    ]


def _ways() -> list[MapFeature]:
    return [
        _feature("road", "R1", "line", [(0, 200), (90, 206), (170, 180), (210, 108), (214, 40), (260, 0)], detail="haul road"),
        _feature("road", "R2", "line", [(460, 410), (450, 330), (470, 300)], detail="access road"),
        *(
            _feature("trail", f"T{n}", "line", line, detail="skid trail")
            for n, line in enumerate(
                [[(170, 180), (190, 260), (180, 370)], [(90, 206), (60, 260), (70, 340)], [(470, 300), (400, 240), (352, 190)],
                 [(470, 300), (560, 280), (584, 240)], [(214, 60), (320, 70), (410, 110)], [(470, 300), (360, 330), (310, 370)]], start=1
            )
        ),
        *(
            _feature("track", f"skidder {n}", "line", [(x, y), (x + 30, y + 24), (x + 52, y + 18), (x + 70, y + 44)])
            for n, (x, y) in enumerate([(380, 250), (130, 130), (420, 200), (300, 60)], start=1)
        ),
        _feature("cut edge", "walked 30 June", "line", [(40, 92), (90, 100), (150, 94), (190, 112), (232, 130), (290, 142)]),
    ]  # fmt: skip


def _marked() -> list[MapFeature]:
    return [
        _feature("deck", "DK1", "polygon", _square(466, 312, 9), detail="0.08 acres"),
        _feature("deck", "DK2", "point", [(150, 192)]),
        _feature("deck", "DK3", "point", [(200, 118)], finding=6, detail="28 ft from the stream"),
        _feature("crossing", "X1", "point", [(212, 110)], detail="culvert"),
        _feature("crossing", "X2", "point", [(352, 144)], finding=3, detail="dirt fill"),
        _feature("pile", "P1", "point", [(420, 340)]),
        _feature("tank", "F1", "point", [(488, 322)], detail="diesel"),
        *(_feature("plot", f"plot {n}", "point", [(80 + 90 * n, 330 - 8 * n)]) for n in range(3)),
        _feature("intrusion", "AL-right 1", "polygon", _square(250, 112, 6), finding=1, detail="0.04 acres, 24 ft deep"),
        _feature("intrusion", "AL-right 2", "polygon", [(268, 108), (300, 112), (296, 120), (270, 117)], finding=1, detail="0.06 acres, 18 ft deep"),
        _feature("intrusion", "AL-left 1", "polygon", [(404, 170), (440, 172), (436, 182), (410, 180)], finding=1, detail="0.07 acres, 31 ft deep"),
        _feature("intrusion", "FE-left 1", "polygon", _square(274, 300, 5), finding=2, detail="0.02 acres, 9 ft deep"),
        _feature("intrusion", "skidder 3", "line", [(446, 174), (466, 182), (486, 176)], finding=5, detail="66 ft driven inside the zone"),
    ]  # fmt: skip


def times() -> list[TimeInside]:
    """A machine inside for some minutes, one perhaps for a moment, one whose record has a gap and one without times."""
    return [
        TimeInside(
            track="skidder 3", bank="AL-left", finding=5, minutes_low=3.04, minutes_high=6.96, passes_low=1, passes_high=2,
            first_in=datetime(2026, 6, 9, 13, 5, 12), last_out=datetime(2026, 6, 9, 14, 20, 7), in_universal_time=True,
            sure_first_in=datetime(2026, 6, 9, 13, 6), sure_last_out=datetime(2026, 6, 9, 14, 19), shown_as=["skidder 3"],
        ),
        TimeInside(
            track="skidder 1", bank="FE-left", minutes_low=0.0, minutes_high=0.42, passes_low=0, passes_high=1,
            first_in=datetime(2026, 6, 9, 23, 59, 50), last_out=datetime(2026, 6, 10, 0, 0, 15),
        ),
        TimeInside(
            track="skidder 2", bank="FE-left", minutes_low=2.0, minutes_high=2.0, passes_low=1, passes_high=1, gap_count=2,
            gap_minutes=11.25, first_in=datetime(2026, 6, 10, 7), last_out=datetime(2026, 6, 10, 7, 2), untimed_fix_count=1,
        ),
        TimeInside(track="forwarder", bank="FE-right"),
    ]  # fmt: skip


def site_map_sample() -> SiteMap:
    """About forty features in a site wider than tall."""
    return SiteMap(
        width_m=WIDTH_M, height_m=HEIGHT_M, projection="transverse Mercator about 34.81 N, 83.10 W", west_deg=-83.1034,
        south_deg=34.8082, features=[*_areas(), *_waters(), *_ways(), *_marked()],
        notes=["Zones are measured from the mapped stream line, moved by half its width.",
               "1 stream has no class; it was held to the rules of every class."],
        times=times(), time_notes=["Time in gaps of the fixes is not counted."],
    )  # fmt: skip


def turned(site: SiteMap, stretch: float = 1.0) -> SiteMap:
    """The same site with east and north changed, `stretch` times as tall."""
    features = [
        f.model_copy(update={"parts": [[(y, x * stretch) for x, y in part] for part in f.parts]}) for f in site.features
    ]
    return site.model_copy(update={"width_m": site.height_m, "height_m": site.width_m * stretch, "features": features})


def mirrored(site: SiteMap) -> SiteMap:
    """The same site with east and west changed."""
    features = [
        f.model_copy(update={"parts": [[(site.width_m - x, y) for x, y in part] for part in f.parts]})
        for f in site.features
    ]
    return site.model_copy(update={"features": features})
