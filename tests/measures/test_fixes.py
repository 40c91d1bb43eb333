"""Position fixes against zones, worked by hand. Drawn in feet, given in metres."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.measures.fixes import fix_extent, fix_steps, zone_passes
from auditor.measures.reaches import FOOT_M
from tests.measures.test_reaches import EAST, Shapes, feet

NAN = float("nan")


def at(
    *places: tuple[float, float],
    lines: Shapes = EAST,
    bank: Any = 6.0,
    width: Any = 50.0,
    error: Any = 5.0,
    search: float = 500,
) -> pl.DataFrame:
    """What a few fixes, in feet, are found to be; by default 50 ft from the banks of a 12-ft stream."""
    xy = np.array(places, dtype=float).reshape(-1, 2) * FOOT_M
    return fix_extent(xy[:, 0], xy[:, 1], lines, bank, width, uncertainty_ft=error, search_ft=search)


def test_a_fix_inside_near_the_edge_and_outside() -> None:
    # The zone ends 56 ft from the line; to 5 ft: inside under 51, outside from 61 on.
    found = at((500, 30), (500, 51), (500, 60.9), (500, -61), (500, 3), (500, 400))
    assert found["distance_ft"].to_list() == pytest.approx([24, 45, 54.9, 55, 0, 394])
    assert found["depth_ft"].to_list() == pytest.approx([26, 5, -4.9, -5, 53, None])
    assert found["inside"].to_list() == [True, None, None, False, True, False]
    assert found["reach"].to_list() == [0] * 6
    assert found["zone"].to_list() == [0] * 5 + [None]


def test_a_fix_beyond_the_search_is_outside_all_zones() -> None:
    # 506 ft from the line and 507: the search ends at 506 from the line only if it is 506 ft.
    found = at((500, 499), (500, 501), (500, 5000))
    assert found["reach"].to_list() == [0, None, None]
    assert found["distance_ft"].to_list() == pytest.approx([493, None, None])
    assert found["inside"].to_list() == [False, False, False]
    # A search shorter than the zone does not hide the zone.
    assert at((500, 30), search=10).row(0) == (None, None, 0, pytest.approx(26), True)


def test_a_fix_without_coordinates_is_unknown() -> None:
    found = at((NAN, 30), (500, NAN), (500, 30))
    assert found[:2].null_count().row(0) == (2, 2, 2, 2, 2)
    assert found["inside"][2] is True


def test_a_fix_of_unknown_error_decides_nothing() -> None:
    assert at((500, 30), (500, 400), error=NAN)["inside"].to_list() == [None, None]
    assert at((500, 30), (500, 30), error=[NAN, 5.0])["inside"].to_list() == [None, True]


def test_the_nearest_stream_need_not_be_the_one_whose_zone_it_is() -> None:
    # A dry draw without zone at y = 0, a trout stream at y = 100 with 150 ft: at y = 20 the draw is nearer, 20 to 80 ft.
    lines = feet([(0, 0), (1000, 0)], [(0, 100), (1000, 100)])
    row = at((500, 20), lines=lines, bank=0.0, width=[0.0, 150.0]).row(0, named=True)
    assert row == {"reach": 0, "distance_ft": 20, "zone": 1, "depth_ft": pytest.approx(70), "inside": True}


def test_a_stream_of_unknown_zone_leaves_it_open() -> None:
    lines = feet([(0, 0), (1000, 0)], [(0, 100), (1000, 100)])
    width = [50.0, NAN]
    found = at((500, 20), (500, 80), (500, -300), (500, -700), lines=lines, bank=0.0, width=width)
    # Shown inside by the known one; open near the unknown one, and as far as it was looked for; beyond it, outside.
    assert found["inside"].to_list() == [True, None, None, False]
    assert found["depth_ft"].to_list() == [None] * 4


def test_no_streams_and_no_fixes() -> None:
    none = np.empty(0, dtype=object)
    assert at((1, 1), lines=none)["inside"].to_list() == [False]
    assert at(lines=EAST).height == 0


@given(
    st.lists(st.tuples(st.floats(-200, 1200), st.floats(-300, 300)), min_size=1, max_size=30),
    st.lists(st.floats(0, 150), min_size=3, max_size=3),
)
@settings(max_examples=60, deadline=None)
def test_depth_is_the_greatest_of_all_zones(spots: list[tuple[float, float]], widths: list[float]) -> None:
    lines = feet([(0, 0), (400, 80), (1000, 0)], [(0, 200), (900, 120)], [(300, -250), (400, 80)])
    found = at(*spots, lines=lines, bank=4.0, width=widths, error=0.0)
    points = shapely.points(np.array(spots) * FOOT_M)
    apart = shapely.distance(points[:, None], lines[None, :]) / FOOT_M
    deepest = (np.array(widths) + 4 - apart).max(axis=1).round(6)
    assert [bool(i) for i in found["inside"]] == (deepest > 0).tolist()
    near = found["depth_ft"].is_not_null().to_numpy()
    assert found["depth_ft"].to_numpy()[near] == pytest.approx(deepest[near], abs=2e-6)
    assert (deepest[~near] < 0).all()
    assert (found["distance_ft"].to_numpy() == pytest.approx(np.maximum(apart.min(axis=1) - 4, 0), abs=2e-6)) is True


def test_steps_gaps_and_jumps() -> None:
    # 88 ft/s is 60 mph. Track 1: 44 ft in 1 s (30 mph), 45 ft in 1 s (30.68 mph), 10 ft in 61 s, 10 ft in no time.
    x = np.array([0, 44, 89, 99, 109, 0, 0]) * FOOT_M
    steps = fix_steps(
        x, np.zeros(7), [0, 1, 2, 63, 63, 5, 5], [1, 1, 1, 1, 1, 2, 2], longest_gap_s=60, fastest_mph=30.0001
    )
    assert steps["step_s"].to_list() == [None, 1, 1, 61, 0, None, 0]
    assert steps["step_ft"].to_list() == pytest.approx([None, 44, 45, 10, 10, None, 0])
    assert steps["speed_mph"].to_list() == pytest.approx(
        [None, 30, 45 * 3600 / 5280, 10 / 61 * 3600 / 5280, None, None, None]
    )
    assert steps["gap"].to_list() == [None, False, False, True, False, None, False]
    # No move in no time is no jump: two records of one fix.
    assert steps["jump"].to_list() == [None, False, True, False, True, None, False]


@pytest.mark.parametrize(("took", "gap"), [(59.9, False), (60, False), (60.1, True)])
def test_the_longest_gap(took: float, gap: bool) -> None:
    steps = fix_steps([0, 0], [0, 0], [0, took], [1, 1], longest_gap_s=60, fastest_mph=30)
    assert steps["gap"].to_list() == [None, gap]


def test_times_that_run_back_are_refused() -> None:
    with pytest.raises(ValueError, match="fix 2 has a time before"):
        fix_steps([0, 0, 0], [0, 0, 0], [0, 9, 8], [1, 1, 1], longest_gap_s=60, fastest_mph=30)


def passes(y: list[float], time: list[float], track: list[int], **options: Any) -> pl.DataFrame:
    """Passes of fixes every foot along x, at the given y in ft."""
    spots = list(zip(range(len(y)), y, strict=True))
    xy = np.array(spots, dtype=float) * FOOT_M
    steps = fix_steps(xy[:, 0], xy[:, 1], time, track, longest_gap_s=60, fastest_mph=30)
    return zone_passes(at(*spots), steps, track, time, **options)


def test_passes_and_the_time_inside() -> None:
    y = [90.0, 30, 20, 90, 90, 40, 30, 30, 30]
    time = [0.0, 10, 20, 30, 40, 50, 60, 70, 150]
    track = [1, 1, 1, 1, 1, 1, 1, 2, 2]
    found = passes(y, time, track)
    # Track 1: fixes 1-2 (10 s; 50 - (20 - 6) = 36 ft deep) and 5-6 (10 s); track 2: fixes 7-8, 80 s apart: a gap.
    assert found["track"].to_list() == [1, 1, 2]
    assert found["pass"].to_list() == [1, 2, 3]
    assert found.select("first_fix", "last_fix", "fix_count").rows() == [(1, 2, 2), (5, 6, 2), (7, 8, 2)]
    assert found.select("first_s", "last_s").rows() == [(10, 20), (50, 60), (70, 150)]
    assert found["inside_s"].to_list() == [10, 10, 0]
    assert found["uncounted_count"].to_list() == [0, 0, 1]
    assert found["deepest_ft"].to_list() == pytest.approx([36, 26, 26])
    assert found["reach"].to_list() == [0, 0, 0]


def test_a_doubtful_fix_ends_a_pass_or_belongs_to_it() -> None:
    # 53 ft from the line: 3 ft deep, known to 5.
    y, time = [30.0, 53, 30], [0.0, 10, 20]
    assert passes(y, time, [1, 1, 1])["fix_count"].to_list() == [1, 1]
    assert passes(y, time, [1, 1, 1], doubtful=True).select("fix_count", "inside_s").rows() == [(3, 20)]


def test_a_jump_into_the_zone_is_counted_apart() -> None:
    # From 900 ft away in 1 s (614 mph), one more fix 1 s later, and an unknown time.
    found = passes([930.0, 30, 30, 30], [0.0, 1, 2, NAN], [1, 1, 1, 1])
    assert found.select("fix_count", "jump_count", "inside_s", "uncounted_count").rows() == [(3, 1, 1, 1)]
    assert found["last_s"].to_list() == [None]


def test_no_pass() -> None:
    assert passes([900.0, 900], [0.0, 1], [1, 1]).height == 0
