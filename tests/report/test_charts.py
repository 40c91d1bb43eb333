"""The chart of load weights: where its marks stand and what they look like."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from datetime import date
from itertools import pairwise

import pytest

from auditor.report.charts import HEIGHT, NARROW, WIDTH, Level, levels, weights_chart
from auditor.report.model import WeightPoint
from tests.report.sample_report import GROSS, PERMIT, limits, weight_points

SVG = "{http://www.w3.org/2000/svg}"
LETTER = 4.6
"""A narrow mean width of a letter at the size used, in units of the drawing."""


def _point(ticket: str, gross: float | None, limit: float | None, state: str, day: int = 2) -> WeightPoint:
    return WeightPoint.model_validate(
        {"ticket": ticket, "on": date(2026, 3, day), "gross_lb": gross, "limit_lb": limit, "limit_key": None,
         "where": "", "state": state}
    )  # fmt: skip


def _texts(root: ET.Element) -> list[tuple[float, float, float, str]]:
    """Left, right and height of every text."""
    found = []
    for node in root.iter(f"{SVG}text"):
        words = node.text or ""
        x, width = float(node.attrib["x"]), len(words) * LETTER
        left = {"start": x, "end": x - width, "middle": x - width / 2}[node.attrib["text-anchor"]]
        found.append((left, left + width, float(node.attrib["y"]), words))
    return found


def _height_of(root: ET.Element, pounds: float) -> float:
    """Where a weight stands by the printed scale alone: straight between two of its numbers."""
    scale = {w: y for left, _, y, w in _texts(root) if left < 64 and w.replace(",", "").isdigit()}
    (low, y_low), (high, y_high) = sorted((float(w.replace(",", "")), y) for w, y in scale.items())[:2]
    return y_low + (pounds - low) / (high - low) * (y_high - y_low) - 3.3  # numbers sit 3.3 under their line


def test_marks_stand_at_their_weights() -> None:
    root = ET.fromstring(
        weights_chart([_point("1", 83000, 84000, "inside"), _point("2", 87500, 84000, "over"),
                       _point("3", 79120, 80000, "inside by allowance")])
    )  # fmt: skip
    discs = [float(c.attrib["cy"]) for c in root.iter(f"{SVG}circle") if float(c.attrib["cy"]) > 30]
    assert discs == pytest.approx([_height_of(root, 83000), _height_of(root, 79120)], abs=0.1)
    diamonds = [p for p in root.iter(f"{SVG}polygon") if float(p.attrib["points"].split(",")[1].split()[0]) > 30]
    heights = [float(corner.split(",")[1]) for corner in diamonds[0].attrib["points"].split()]
    assert (min(heights) + max(heights)) / 2 == pytest.approx(_height_of(root, 87500), abs=0.1)


def test_each_load_has_the_limit_that_held_for_it() -> None:
    root = ET.fromstring(
        weights_chart([_point("1", 70000, 80000, "inside"), _point("2", 70000, 80000, "inside"),
                       _point("3", 70000, 88000, "inside"), _point("4", 70000, None, "not shown")])
    )  # fmt: skip
    ticks = [n for n in root.iter(f"{SVG}line") if n.attrib["stroke-width"] == "1.1" and float(n.attrib["y1"]) > 30]
    flat = [n for n in ticks if n.attrib["y1"] == n.attrib["y2"]]
    spans = [(float(n.attrib["y1"]), float(n.attrib["x2"]) - float(n.attrib["x1"])) for n in flat]
    assert [y for y, _ in spans] == pytest.approx([_height_of(root, 80000), _height_of(root, 88000)], abs=0.1)
    # Two loads share the first line, one has the second.
    assert spans[0][1] == pytest.approx(2 * spans[1][1], abs=0.1)


def test_every_state_has_a_shape_and_a_colour_of_its_own() -> None:
    states = ["inside", "inside by allowance", "over, tolerated", "over"]
    looks = set()
    for state in states:
        root = ET.fromstring(weights_chart([_point("1", 81000, 80000, state)]))
        node = next(n for n in root.iter() if n.tag in (f"{SVG}circle", f"{SVG}polygon"))
        corners = len(node.attrib.get("points", "").split())
        looks.add((node.tag, corners, node.attrib["fill"] == "#fff"))
    assert len(looks) == len(states), "shapes must differ without their colours"


def test_a_load_without_weight_is_shown_and_counted() -> None:
    root = ET.fromstring(weights_chart([_point("1", 81000, 84000, "inside"), _point("2", None, 84000, "not shown")]))
    words = [w for *_, w in _texts(root)]
    assert "not weighed" in words
    assert "not shown (1)" in words


@pytest.mark.parametrize("width", [WIDTH, NARROW])
@pytest.mark.parametrize("count", [1, 2, 7, 40, 150])
def test_labels_stay_on_the_paper_and_do_not_overlap(count: int, width: float) -> None:
    root = ET.fromstring(weights_chart(weight_points()[:count], width))
    assert root.attrib["viewBox"] == f"0 0 {width:g} {HEIGHT:g}"
    texts = _texts(root)
    assert all(left >= 0 and right <= width and 5 < y < HEIGHT for left, right, y, _ in texts), texts
    for place, (left, right, y, words) in enumerate(texts):
        for left_2, right_2, y_2, words_2 in texts[place + 1 :]:
            assert abs(y - y_2) > 8 or right <= left_2 or right_2 <= left, f"{words} over {words_2}"


def test_the_named_loads_are_those_furthest_over() -> None:
    points = [_point(f"{n}", 80000 + 500 * n, 80000, "over") for n in (1, 9)] + [
        _point(f"w{n:02d}", 79000, 80000, "inside", day=3) for n in range(40)
    ]
    assert any(w == "9: +4,500 lb" for *_, w in _texts(ET.fromstring(weights_chart(points))))


def test_order_of_the_rows_does_not_matter() -> None:
    points = weight_points()
    assert weights_chart(points) == weights_chart(points[::-1])


def test_tickets_are_escaped() -> None:
    root = ET.fromstring(weights_chart([_point("<b>&\x00", 81000, 80000, "over")]))
    assert any(w.startswith("<b>&\N{REPLACEMENT CHARACTER}:") for *_, w in _texts(root))


def test_nothing_known_gives_no_picture() -> None:
    assert weights_chart([]) == ""
    assert weights_chart([_point("1", None, None, "not shown")]) == ""


def test_one_weight_alone_still_has_a_scale() -> None:
    root = ET.fromstring(weights_chart([_point("1", 80000, 80000, "inside")]))
    assert len({y for left, _, y, w in _texts(root) if left < 64 and w.replace(",", "").isdigit()}) >= 2


def test_the_legend_of_every_state_stands_on_one_line() -> None:
    words = [(y, w) for _, _, y, w in _texts(ET.fromstring(weights_chart(weight_points()))) if y < 30]
    assert [w.partition(" (")[0] for _, w in words] == [
        "inside", "inside by allowance", "over, tolerated", "over", "not shown", "limit of each load",
    ]  # fmt: skip
    assert len({y for y, _ in words}) == 1


def test_a_season_of_loads_is_drawn_whole_and_its_days_do_not_run_together() -> None:
    base = weight_points()
    many = [
        p.model_copy(update={"ticket": f"{year}-{p.ticket}", "on": p.on.replace(year=2026 + year)})
        for year in range(20) for p in base if p.on is not None
    ]  # fmt: skip
    root = ET.fromstring(weights_chart(many))
    # Twenty years of 150 loads; the marks of the legend stand above 30.
    marks = [n for n in root.iter() if n.tag in (f"{SVG}circle", f"{SVG}polygon")]
    drawn = sum(p.gross_lb is not None for p in many)
    legend = len({p.state for p in many} - {"not shown"})
    assert len(marks) == drawn + legend
    ticks = [float(n.attrib["x1"]) for n in root.iter(f"{SVG}line") if float(n.attrib["y1"]) == HEIGHT - 46
             and n.attrib["x1"] == n.attrib["x2"]]  # fmt: skip
    assert 5 < len(ticks) < 30 and min(b - a for a, b in pairwise(ticks)) > 10


def test_the_limits_drawn_are_named_the_commonest_first() -> None:
    points = [
        _point("1", 70000, 84000, "inside").model_copy(update={"limit_key": GROSS}),
        _point("2", 70000, 88000, "inside").model_copy(update={"limit_key": PERMIT}),
        _point("3", 70000, 88000, "inside").model_copy(update={"limit_key": PERMIT}),
        _point("4", 70000, 60000, "inside").model_copy(update={"limit_key": "us-xx/weight/left/out"}),
        _point("5", 70000, None, "not shown"),
    ]
    assert levels(points, limits()) == [
        Level(88000, "Harvest permit (XX)", 2),
        Level(60000, "us-xx/weight/left/out", 1),
        Level(84000, "gross weight on state routes (XX)", 1),
    ]
