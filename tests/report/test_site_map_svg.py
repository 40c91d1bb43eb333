"""The map of a site: its numbers, its scale bar, what its patterns look like without colour, and that nothing is lost."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable

import pytest

from auditor.report.charts import NARROW, WIDTH
from auditor.report.map_geometry import Box, hatch, inside, round_length, thinned, ticks
from auditor.report.map_labels import place_numbers
from auditor.report.map_legend import LETTER
from auditor.report.map_looks import LOOKS, STREAMS, Look, drawn, look_of
from auditor.report.model import MapFeature, SiteMap
from auditor.report.site_map_svg import map_marks, site_map
from tests.report.sample_map import HEIGHT_M, WIDTH_M, mirrored, site_map_sample, turned
from tests.report.sample_site import site_job

SVG = "{http://www.w3.org/2000/svg}"
SITE = site_map_sample()
SHAPES = {
    "wide": SITE,
    "tall": turned(SITE),
    "very tall": turned(SITE, 12),
    "very wide": turned(turned(SITE, 12)),
}  # fmt: skip


def _root(site: SiteMap, width: float = WIDTH) -> ET.Element:
    return ET.fromstring(site_map(site, width))


def _view(root: ET.Element) -> tuple[float, float]:
    left, top, width, height = map(float, root.attrib["viewBox"].split())
    assert (left, top) == (0, 0)
    return width, height


def _pairs(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", path)]


def _points(nodes: Iterable[ET.Element]) -> list[tuple[float, float]]:
    """Every place that the nodes name, the corners of rectangles and the rims of circles with them."""
    found: list[tuple[float, float]] = []
    for node in nodes:
        a = {k: float(v) for k, v in node.attrib.items() if re.fullmatch(r"-?[\d.]+", v)}
        if node.tag == f"{SVG}path":
            found += _pairs(node.attrib["d"])
        elif node.tag == f"{SVG}line":
            found += [(a["x1"], a["y1"]), (a["x2"], a["y2"])]
        elif node.tag == f"{SVG}circle":
            found += [(a["cx"] - a["r"], a["cy"] - a["r"]), (a["cx"] + a["r"], a["cy"] + a["r"])]
        elif node.tag == f"{SVG}rect":
            found += [(a["x"], a["y"]), (a["x"] + a["width"], a["y"] + a["height"])]
    return found


def _groups(root: ET.Element, layer: str) -> list[ET.Element]:
    return [g for g in root.iter(f"{SVG}g") if g.attrib["data-layer"] == layer]


def _texts(root: ET.Element) -> list[tuple[Box, ET.Element]]:
    """Every text with a box that its letters fill."""
    found = []
    for node in root.iter(f"{SVG}text"):
        x, y, width = float(node.attrib["x"]), float(node.attrib["y"]), len(node.text or "") * LETTER * 0.9
        left = {"start": x, "end": x - width, "middle": x - width / 2}[node.attrib["text-anchor"]]
        found.append((Box(left, y - 7, left + width, y + 1), node))
    return found


def _numbers(root: ET.Element) -> list[ET.Element]:
    return [node for node in root.iter(f"{SVG}text") if "data-finding" in node.attrib]


def test_every_number_is_that_of_a_finding_and_every_marked_feature_has_one() -> None:
    numbers = _numbers(_root(SITE))
    known = {finding.number for finding in site_job().findings}
    assert {int(n.attrib["data-finding"]) for n in numbers} == {1, 2, 3, 5, 6} <= known
    # Three intrusions show finding 1.
    assert sorted(str(n.text) for n in numbers) == ["1a", "1b", "1c", "2", "3", "5", "6"]
    assert [(m.label, m.feature.name) for m in map_marks(SITE)][:3] == [
        ("1a", "AL-right 1"), ("1b", "AL-right 2"), ("1c", "AL-left 1"),
    ]  # fmt: skip


def test_letters_go_on_after_z() -> None:
    many = [f.model_copy(update={"finding": 4}) for f in SITE.features if f.layer == "deck"] * 10
    labels = [mark.label for mark in map_marks(SITE.model_copy(update={"features": many}))]
    assert labels[:2] == ["4a", "4b"] and labels[25:] == ["4z", "4aa", "4ab", "4ac", "4ad"]


@pytest.mark.parametrize("width", [WIDTH, NARROW])
@pytest.mark.parametrize("name", SHAPES)
def test_numbers_do_not_cover_each_other_or_what_they_show(name: str, width: float) -> None:
    root = _root(SHAPES[name], width)
    rects = [r for r in root.iter(f"{SVG}rect") if r.attrib.get("rx")]
    boxes = [Box(*(_points([r])[0]), *(_points([r])[1])) for r in rects]
    assert len(boxes) == 7
    for place, box in enumerate(boxes):
        assert not any(box.meets(other) for other in boxes[place + 1 :])
        marked = [c for c in root.iter(f"{SVG}circle") if c.attrib["r"] == "1.8"]
        assert not any(
            box.meets(Box(x, y, x, y)) for c in marked for x, y in [(float(c.attrib["cx"]), float(c.attrib["cy"]))]
        )


@pytest.mark.parametrize("width", [WIDTH, NARROW])
@pytest.mark.parametrize("name", SHAPES)
def test_the_scale_bars_have_the_length_they_state(name: str, width: float) -> None:
    site, root = SHAPES[name], _root(SHAPES[name], width)
    for unit, metres in (("ft", 0.3048), ("m", 1.0)):  # 1 ft = 0.3048 m by definition
        halves = [float(r.attrib["width"]) for r in root.iter(f"{SVG}rect") if r.attrib.get("data-scale") == unit]
        stated = [n.text for n in root.iter(f"{SVG}text") if re.fullmatch(rf"0 to [\d,.]+ {unit}", n.text or "")]
        assert len(halves) == 2 and len(stated) == 1
        number = float(str(stated[0]).split()[2].replace(",", ""))
        assert f"{number:e}"[0] in "125" and float(f"{number:.0e}") == number, "a round number"
        assert sum(halves) == pytest.approx(number * metres * _scale(root, site), rel=0.01)


def _scale(root: ET.Element, site: SiteMap) -> float:
    """Units of the paper to the metre, by the longer extent of the first unit."""
    unit = next(f for f in site.features if f.layer == "unit")
    paper = _pairs(_groups(root, "unit")[0][0].attrib["d"])
    ring = [xy for part in unit.parts for xy in part]
    span = max(max(x for x, _ in ring) - min(x for x, _ in ring), max(y for _, y in ring) - min(y for _, y in ring))
    drawn_span = max(
        max(x for x, _ in paper) - min(x for x, _ in paper), max(y for _, y in paper) - min(y for _, y in paper)
    )
    return drawn_span / span


def test_a_mirrored_site_gives_mirrored_places() -> None:
    one, other = _root(SITE), _root(mirrored(SITE))
    right = _points([next(one.iter(f"{SVG}rect"))])[1][0]
    for layer in ("unit", "stream", "cut edge", "road"):
        for a, b in zip(_groups(one, layer), _groups(other, layer), strict=True):
            there, back = _pairs(a[0].attrib["d"]), _pairs(b[0].attrib["d"])
            assert [x for x, _ in there] == pytest.approx([1 + right - x for x, _ in back], abs=0.11)
            assert [y for _, y in there] == pytest.approx([y for _, y in back], abs=0.11)


def test_north_is_up_and_east_is_right() -> None:
    corners = [("sw", 0.0, 0.0), ("ne", WIDTH_M, HEIGHT_M)]
    site = SITE.model_copy(update={"features": [_point("tank", name, x, y) for name, x, y in corners]})
    sw, ne = (_points(g)[0] for g in _groups(_root(site), "tank"))
    assert sw[0] < ne[0] and sw[1] > ne[1]


@pytest.mark.parametrize("width", [WIDTH, NARROW])
@pytest.mark.parametrize("name", SHAPES)
def test_nothing_lies_outside_the_picture(name: str, width: float) -> None:
    root = _root(SHAPES[name], width)
    wide, high = _view(root)
    assert wide == width and high < 1.7 * width + 160
    assert all(0 <= x <= wide and 0 <= y <= high for x, y in _points(root.iter()))
    assert all(Box(0, 0, wide, high).holds(box) for box, _ in _texts(root)), [n.text for _, n in _texts(root)]


@pytest.mark.parametrize("width", [WIDTH, NARROW])
@pytest.mark.parametrize("name", ["wide", "tall"])
def test_words_do_not_run_into_each_other(name: str, width: float) -> None:
    texts = _texts(_root(SHAPES[name], width))
    for place, (box, node) in enumerate(texts):
        assert not [other.text for b, other in texts[place + 1 :] if box.meets(b)], node.text


def test_a_picture_on_a_page_leaves_room_for_its_heading() -> None:
    # 680 units are 7.1 in; a page has 9.6 in between its margins, 920 units.
    assert all(_view(_root(site))[1] < 860 for site in SHAPES.values())


def _look(svg: str) -> tuple[object, ...]:
    """What is left of a drawing without its colours: tags, dashes, widths, whether filled, how many strokes."""
    root = ET.fromstring(f"<g>{svg}</g>")
    return tuple(
        (n.tag, n.attrib.get("stroke-dasharray"), n.attrib.get("stroke-linecap"), n.attrib.get("stroke-width"),
         n.attrib.get("fill", "none") == "none", len(_pairs(n.attrib.get("d", ""))), n.attrib.get("r"))
        for n in root
    )  # fmt: skip


def test_every_layer_differs_without_its_colour() -> None:
    lines = [
        *STREAMS.values(),
        *(LOOKS[k] for k in ("road", "trail", "track", "cut edge", "intrusion", "possible intrusion")),
    ]
    areas = [LOOKS[k] for k in ("unit", "water body", "required zone", "intrusion", "possible intrusion", "deck")]
    points = [look for look in LOOKS.values() if look.shape] + [LOOKS["intrusion"]]
    assert len({(look.dash, look.strokes, look.width > 2.5) for look in lines}) == len(lines)
    for kind, looks, part in (
        ("line", lines, [(0.0, 0.0), (60.0, 0.0)]), ("polygon", areas, [(0.0, 0.0), (30.0, 0.0), (30.0, 30.0), (0.0, 30.0)]),
        ("point", points, [(5.0, 5.0)]),
    ):  # fmt: skip
        seen = {_look(drawn(look, kind, [part])) for look in looks}  # type: ignore[arg-type]
        assert len(seen) == len(looks), kind


@pytest.mark.parametrize(
    ("detail", "dash"),
    [("perennial, 9 ft wide", ""), ("Intermittent", "8 3.5"), ("6 ft; ephemeral", "0.1 4.2"), ("not perennially wet", "9 3 1.5 3"), ("", "9 3 1.5 3")],
)  # fmt: skip
def test_the_class_of_a_stream_gives_its_pattern(detail: str, dash: str) -> None:
    feature = MapFeature(layer="streams", name="A", kind="line", parts=[[(0, 0), (9, 9)]], detail=detail)
    assert look_of(feature).dash == dash


def test_the_legend_names_what_is_drawn_and_nothing_else() -> None:
    words = {n.text for n in _root(SITE).iter(f"{SVG}text")}
    present = {look_of(f).words for f in SITE.features}
    every = {look.words for look in (*STREAMS.values(), *LOOKS.values())}
    assert words & every == present and len(present) == 17
    assert "smoke or noise receptor" in every - present


def _point(layer: str, name: str, x: float, y: float, **more: object) -> MapFeature:
    return MapFeature.model_validate({"layer": layer, "name": name, "kind": "point", "parts": [[(x, y)]], **more})


def test_a_layer_of_its_own_kind_is_drawn_and_named() -> None:
    site = SITE.model_copy(update={"features": [*SITE.features, _point("boundary_posts", "B7", 10, 10)]})
    root = _root(site)
    assert _groups(root, "boundary_posts") and "boundary post" in {n.text for n in root.iter(f"{SVG}text")}
    assert look_of(SITE.features[0]) == look_of(SITE.features[0].model_copy(update={"layer": "Units"}))


@pytest.mark.parametrize(
    ("layer", "words"),
    [("cutting unit", "cutting unit"), ("edge of the cut", "edge of the cut"), ("slash_piles", "slash pile"), ("water_bodies", "water body"),
     ("intermittent stream", "intermittent stream"), ("unclassified stream", "stream, class not recorded"), ("Sample plots", "sample plot"),
     ("machine track", "machine track"), ("possible intrusion", "possible intrusion"), ("tracks", "machine track")],
)  # fmt: skip
def test_a_layer_may_be_called_by_its_plural_or_by_what_its_features_are(layer: str, words: str) -> None:
    assert look_of(MapFeature(layer=layer, name="A", kind="line", parts=[[(0, 0), (9, 9)]])).words == words


@pytest.mark.parametrize(
    ("name", "shown"),
    [("Otter Run, below the mill", "Otter Run, below the mill"), ("Otter Run, below the old mill", "Otter Run, below the old\u2026")],
)  # fmt: skip
def test_a_long_name_says_that_it_is_cut(name: str, shown: str) -> None:
    # Room is for 26 letters: the first name has 25, the second 29.
    site = site_map_sample().model_copy(update={"features": [_point("deck", name, WIDTH_M / 2, HEIGHT_M / 2)]})
    assert shown in [node.text for _, node in _texts(_root(site))]


def test_texts_are_escaped() -> None:
    bad = '<script>"&\x00'
    features = [_point(bad, bad, 10, 10), _point("deck", bad, 90, 90, finding=1, detail=bad)]
    svg = site_map(SITE.model_copy(update={"features": features}), WIDTH)
    root = ET.fromstring(svg)
    assert "<script" not in svg and "\x00" not in svg
    assert any((n.text or "").startswith('<script>"&\N{REPLACEMENT CHARACTER}') for n in root.iter(f"{SVG}text"))


def test_the_same_site_gives_the_same_picture() -> None:
    assert site_map(site_map_sample(), WIDTH) == site_map(SITE, WIDTH)
    # Rounded places only: one decimal, three in the scale bar.
    assert not re.search(r"\d\.\d{4}", site_map(SITE, WIDTH))


def test_nothing_mapped_gives_no_picture() -> None:
    assert site_map(SITE.model_copy(update={"features": []}), WIDTH) == ""
    broken = MapFeature(layer="deck", name="D", kind="point", parts=[[(math.nan, 1.0)]])
    assert site_map(SITE.model_copy(update={"features": [broken]}), WIDTH) == ""
    assert map_marks(SITE.model_copy(update={"features": [broken.model_copy(update={"finding": 1})]})) == []


def test_a_site_of_one_point_or_beyond_its_frame_is_drawn() -> None:
    one = SiteMap(
        width_m=0, height_m=0, projection="", west_deg=0, south_deg=0, features=[_point("deck", "D", 0, 0)], notes=[]
    )
    assert len(_groups(_root(one), "deck")) == 1
    far = SITE.model_copy(update={"features": [*SITE.features, _point("deck", "far", -900, 5000)]})
    root = _root(far)
    wide, high = _view(root)
    assert all(0 <= x <= wide and 0 <= y <= high for x, y in _points(root.iter()))


def test_forty_numbers_in_one_spot_still_stand_apart() -> None:
    area = Box(0, 0, 330, 300)
    placed = place_numbers([(100 + n % 7, 100 + n // 7) for n in range(40)], [20.0] * 40, 13.0, area, [])
    boxes = [p.box for p in placed]
    assert all(area.holds(box) for box in boxes)
    assert not any(a.meets(b) for n, a in enumerate(boxes) for b in boxes[n + 1 :])


def test_hatching_stays_inside_a_polygon_and_out_of_its_hole() -> None:
    outer = [(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)]
    hole = [(40.0, 40.0), (60.0, 40.0), (60.0, 60.0), (40.0, 60.0)]
    lines = hatch([outer, hole], 5.0, math.pi / 4)
    # Area over spacing: (100 x 100 - 20 x 20) / 5 = 1,920 units of line.
    assert sum(math.dist(a, b) for a, b in lines) == pytest.approx(1920, rel=0.01)
    middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in lines]
    assert not [m for m in middles if 40.01 < m[0] < 59.99 and 40.01 < m[1] < 59.99]
    assert all(-1e-9 <= v <= 100 + 1e-9 for line in lines for point in line for v in point)


def test_the_place_of_a_number_lies_inside_a_bent_polygon() -> None:
    bent = [
        (0.0, 0.0),
        (90.0, 0.0),
        (90.0, 90.0),
        (70.0, 90.0),
        (70.0, 20.0),
        (0.0, 20.0),
    ]  # an L: its middle lies outside
    x, y = inside([bent])
    assert (0 < x < 90 and 0 < y < 20) or (70 < x < 90 and 0 < y < 90)


def test_lengths_lines_and_strokes() -> None:
    assert [round_length(v) for v in (730, 0.3, 20, 19.9)] == pytest.approx([500, 0.2, 20, 10])
    assert thinned([(0, 0), (0.1, 0), (5, 0), (5.1, 0)], 0.4) == [(0, 0), (5, 0), (5.1, 0)]
    # A line of 30 units with a stroke every 10: at 5, 15 and 25.
    assert [a[0] for a, _ in ticks([(0, 0), (30, 0)], 10, 2)] == pytest.approx([5, 15, 25])


def test_looks_without_a_dash_are_told_apart_by_more_than_width() -> None:
    plain = [name for name, look in LOOKS.items() if not look.dash and not look.shape]
    assert sorted(plain) == ["intrusion", "required zone", "road", "trail", "water body"]
    assert isinstance(LOOKS["road"], Look) and LOOKS["road"].strokes == "double" and LOOKS["trail"].strokes == "ticks"
