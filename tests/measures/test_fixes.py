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


BAND = shapely.box(-1000, 0, 1000, 50)
"""A zone 50 ft deep, drawn in feet; shapes of a test are put into metres by `passes`."""


def passes(
    places: list[tuple[float, float]],
    time: list[float],
    track: list[int] | None = None,
    zone: Any = BAND,
    error: float = 0.0,
    gap: float = 60.0,
) -> pl.DataFrame:
    """Stays of fixes in a zone whose edge is known to `error` ft; all in feet and seconds."""
    xy = np.array(places, dtype=float).reshape(-1, 2) * FOOT_M
    track = [1] * len(time) if track is None else track
    steps = fix_steps(xy[:, 0], xy[:, 1], time, track, longest_gap_s=gap, fastest_mph=30)
    ground = [shapely.buffer(zone, far, join_style="mitre") for far in (error, -error)]
    outer, inner = (shapely.transform(np.array([g], dtype=object), lambda at: at * FOOT_M) for g in ground)
    return zone_passes(xy[:, 0], xy[:, 1], time, track, steps, outer, inner)


def test_a_straight_track_at_an_even_pace_takes_depth_over_speed() -> None:
    # From y = 120 down to -80 at 5 ft/s, a fix every 8 s (40 ft: 120, 80, 40, 0, -40, -80). y = 50 after 14 s, 0 after 24 s.
    places = [(0.0, 120.0 - 40 * n) for n in range(6)]
    found = passes(places, [8.0 * n for n in range(6)])
    assert found.select("track", "zone", "pass").rows() == [(1, 0, 1)]
    assert found.row(0)[3:6] == pytest.approx((14, 24, 10))
    assert found["is_sure"].to_list() == [True]


def test_what_lies_nearer_the_edge_than_the_error_is_possible_only() -> None:
    # Known to 5 ft: certain from y = 45 (15 s) to 5 (23 s), possible from y = 55 (13 s) to -5 (25 s).
    row = passes([(0.0, 120.0 - 40 * n) for n in range(6)], [8.0 * n for n in range(6)], error=5).row(0, named=True)
    assert (row["first_s"], row["last_s"], row["inside_s"]) == pytest.approx((13, 25, 12))
    assert (row["sure_first_s"], row["sure_last_s"], row["sure_s"]) == pytest.approx((15, 23, 8))


def test_a_step_across_a_zone_without_a_fix_in_it_is_a_pass() -> None:
    # From y = 100 to -100 in 40 s: 5 ft/s, 50 ft in 10 s; the edge at y = 50 after 10 s.
    assert passes([(0, 100), (0, -100)], [0, 40]).row(0)[3:6] == pytest.approx((10, 20, 10))


@pytest.mark.parametrize(
    ("y", "seconds", "sure"), [(44.99, 20, 20), (45.01, 20, 0), (54.99, 20, 0), (55.01, None, None)]
)
def test_along_the_edge_on_either_side_of_the_error(y: float, seconds: float | None, sure: float | None) -> None:
    # Certain up to 5 ft inside the edge at 50 ft, possible up to 5 ft outside.
    found = passes([(0, y), (40, y), (80, y)], [0, 10, 20], error=5)
    assert found["inside_s"].to_list() == ([] if seconds is None else pytest.approx([seconds]))
    assert found["sure_s"].to_list() == ([] if sure is None else pytest.approx([sure]))
    assert found["is_sure"].to_list() == ([] if sure is None else [sure > 0])


def test_a_zone_of_two_arms_is_passed_twice_on_one_step() -> None:
    # Arms from y = 0 to 10 and from 30 to 50, crossed at 2 ft/s from y = 60: 5-15 s and 25-30 s.
    arms = shapely.union_all([shapely.box(-9, 0, 9, 10), shapely.box(-9, 30, 9, 50), shapely.box(5, 0, 9, 50)])
    found = passes([(0, 60), (0, -60)], [0, 60], zone=arms)
    assert found.select("first_s", "last_s").rows() == [pytest.approx((5, 15)), pytest.approx((25, 30))]
    assert found["joined"].to_list() == [False, False]


def test_a_gap_ends_a_pass_and_its_time_stands_apart() -> None:
    # In at y = 20 from 0 to 10 s, 90 s without a fix (more than 60), in again from 100 to 130 s, then 300 s to a fix outside.
    found = passes([(0, 20), (20, 20), (30, 20), (60, 20), (60, 500)], [0, 10, 100, 130, 430])
    assert found.select("first_s", "last_s", "inside_s").rows() == [(0, 10, 10), (100, 130, 30)]
    # The gap of 90 s lies between both and counts once, with the later; that of 300 s ends the second.
    assert found["gap_count"].to_list() == [0, 2]
    assert found["gap_s"].to_list() == [0, 390]
    assert found["joined"].to_list() == [False, True]


def test_a_gap_that_begins_inside_and_ends_outside_joins_nothing() -> None:
    found = passes([(0, 20), (20, 20), (20, 200), (20, 20), (0, 20)], [0, 10, 100, 136, 146])
    # Back from y = 200 to 20 in 36 s, 5 ft/s: at y = 50 after 30 s.
    assert found.select("first_s", "last_s").rows() == [(0, 10), (pytest.approx(130), pytest.approx(146))]
    assert found.select("gap_count", "gap_s").rows() == [(1, 90), (0, 0)]
    assert found["joined"].to_list() == [False, False]


@pytest.mark.parametrize(("wait", "inside", "gaps"), [(59.9, 59.9, 0), (60, 60, 0), (60.1, 0, 1)])
def test_the_longest_step_that_is_followed(wait: float, inside: float, gaps: int) -> None:
    found = passes([(0, 20), (0, 20)], [0, wait])
    assert found["inside_s"].sum() == pytest.approx(inside)
    assert found["gap_count"].sum() == gaps


def test_a_machine_that_stands_still_spends_its_time_where_it_stands() -> None:
    found = passes([(0, 20), (0, 20), (0, 20)], [0, 40, 100], error=5)
    assert found.select("inside_s", "sure_s").rows() == [(100, 100)]
    # 3 ft from the edge, known to 5.
    assert passes([(0, 47), (0, 47)], [0, 40], error=5).select("inside_s", "sure_s").rows() == [(40, 0)]


def test_a_lone_fix_is_a_pass_without_time() -> None:
    found = passes([(0, 400), (0, 20), (0, 400)], [0, 600, 1200])
    assert found.select("first_s", "last_s", "inside_s", "is_sure").rows() == [(600, 600, 0, True)]
    assert found.select("gap_count", "gap_s").rows() == [(2, 1200)]


def test_fixes_without_a_time_take_no_part() -> None:
    assert passes([(0, 20), (9, 20), (20, 20)], [0, 10, NAN])["inside_s"].to_list() == [10]
    assert passes([(0, 20)], [NAN]).height == 0
    assert passes([(0, NAN), (0, 20)], [0, 10])["inside_s"].to_list() == [0]


def test_a_jump_is_not_followed() -> None:
    # 400 ft in 1 s is 273 mph. What was driven after it counts.
    found = passes([(0, 420), (0, 20), (20, 20)], [0, 1, 11])
    assert found.select("inside_s", "gap_count", "gap_s").rows() == [(10, 1, 1)]


def test_a_fix_far_off_for_a_moment_is_no_sign_of_having_left() -> None:
    # 480 ft away and back in a second each: 327 mph. The machine may have stayed inside.
    found = passes([(0, 20), (9, 20), (9, 500), (9, 20), (20, 20)], [0, 10, 11, 12, 22])
    assert found.select("first_s", "last_s", "joined", "is_sure").rows() == [(0, 10, False, True), (12, 22, True, True)]


def test_a_fix_inside_for_a_moment_is_not_certain() -> None:
    found = passes([(0, 500), (9, 500), (9, 20), (9, 500), (20, 500)], [0, 10, 11, 12, 22])
    assert found.select("first_s", "inside_s", "is_sure").rows() == [(11, 0, False)]


def test_tracks_are_kept_apart() -> None:
    found = passes([(0, 20), (20, 20), (0, 30), (30, 30)], [0, 10, 5, 25], [4, 4, 9, 9])
    assert found.select("track", "pass", "inside_s", "joined").rows() == [(4, 1, 10, False), (9, 1, 20, False)]


def test_no_pass() -> None:
    found = passes([(0, 900), (10, 900)], [0, 10])
    assert found.height == 0 and "gap_s" in found.columns
    assert passes([], []).height == 0


@given(
    st.lists(st.tuples(st.floats(-300, 300), st.floats(-120, 170)), min_size=2, max_size=15),
    st.integers(0, 20),
)
@settings(max_examples=60, deadline=None)
def test_certain_time_is_never_more_than_possible_time(spots: list[tuple[float, float]], error: int) -> None:
    time = [30.0 * n for n in range(len(spots))]
    found = passes(spots, time, error=error)
    assert (found["sure_s"] <= found["inside_s"]).all()
    assert found["inside_s"].sum() <= time[-1] + 1e-6
    # As drawn lies between both.
    drawn = passes(spots, time)["inside_s"].sum()
    assert found["sure_s"].sum() - 1e-6 <= drawn <= found["inside_s"].sum() + 1e-6
