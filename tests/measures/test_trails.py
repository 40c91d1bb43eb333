"""Drains, ruts, steep stretches, decks and seed."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.measures import trails
from auditor.measures.trails import (
    cross_drain_spacing_ft,
    drain_gaps,
    drain_places,
    gap_uncertainty_ft,
    local_grade_pct,
    missing_drains,
    other_drains_inside,
    rut_extent,
    skidding_distances,
    spacing_limit_ft,
    steep_extent,
    stretch_grades,
)

S = {"job": pl.String, "segment": pl.String}
BARS = ["water_bar", "turnout"]


def segments(length: float | None = 500.0, listed: bool | None = True, steepest: float | None = None) -> pl.DataFrame:
    return pl.DataFrame(
        [("J", "T", length, listed, listed, steepest)],
        schema={**S, "length_ft": pl.Float64, "drains_listed": pl.Boolean, "ruts_listed": pl.Boolean, "steepest_grade_pct": pl.Float64},
        orient="row",
    )  # fmt: skip


def drains(*rows: tuple[str, float | None]) -> pl.DataFrame:
    return pl.DataFrame(
        [("J", "T", *r) for r in rows], schema={**S, "kind": pl.String, "along_ft": pl.Float64}, orient="row"
    )


def gaps(*rows: tuple[str, float | None], **segment: Any) -> list[tuple[Any, ...]]:
    return drain_gaps(segments(**segment), drains(*rows), kinds=BARS).drop(*S).rows()


def test_gaps_with_both_ends() -> None:
    found = gaps(("turnout", 300.0), ("water_bar", 120.0), ("cross_drain", 200.0))
    assert found == [
        (1, 0, 120, "upper_end", "water_bar", 120, 120),
        (2, 120, 300, "water_bar", "turnout", 180, 180),
        (3, 300, 500, "turnout", "lower_end", 200, 200),
    ]


def test_no_drain_at_all() -> None:
    assert gaps() == [(1, 0, 500, "upper_end", "lower_end", 500, 500)]
    assert gaps(listed=None) == [(1, 0, 500, "upper_end", "lower_end", 0, 500)]


def test_a_list_that_may_be_short_leaves_the_least_open() -> None:
    assert [g[-2:] for g in gaps(("water_bar", 120.0), listed=False)] == [(0, 120), (0, 380)]
    assert [g[-2:] for g in gaps(("water_bar", 120.0), ("water_bar", None))] == [(0, 120), (0, 380)]


def test_blank_and_contradicting_lengths() -> None:
    assert [g[-2:] for g in gaps(("water_bar", 120.0), length=None)] == [(120, 120), (None, None)]
    assert [g[-2:] for g in gaps(("water_bar", 501.0))] == [(None, None)] * 2
    assert [g[-2:] for g in gaps(("water_bar", 500.0))] == [(500, 500), (0, 0)]


@settings(deadline=None)
@given(st.lists(st.integers(0, 500), max_size=10))
def test_gaps_add_up_to_the_segment(at: list[int]) -> None:
    found = gaps(*[("water_bar", float(a)) for a in at])
    assert len(found) == len(at) + 1
    assert sum(g[-1] for g in found) == 500


def pitches(*rows: tuple[float | None, float | None, float | None]) -> pl.DataFrame:
    schema = {**S, "from_ft": pl.Float64, "to_ft": pl.Float64, "grade_pct": pl.Float64}
    return pl.DataFrame([("J", "T", *r) for r in rows], schema=schema, orient="row")


@pytest.mark.parametrize(
    ("stretch", "expected"),
    [
        ((0, 100), (10, 10, 10)),
        ((50, 250), (13.75, 15, 15)),  # (50 x 10 + 150 x 15) / 200
        ((250, 350), (None, 15, None)),  # a part is not covered
        ((400, 450), (None, None, None)),
        ((100, 100), (None, None, None)),
    ],
)
def test_grades_of_stretches(stretch: tuple[float, float], expected: Any) -> None:
    rows = pl.DataFrame([("J", "T", *stretch)], schema={**S, "from_ft": pl.Float64, "to_ft": pl.Float64}, orient="row")
    assert stretch_grades(rows, pitches((0, 100, 10), (100, 300, 15))).row(0) == expected


def test_a_pitch_without_grade() -> None:
    rows = pl.DataFrame(
        [("J", "T", 0.0, 300.0)], schema={**S, "from_ft": pl.Float64, "to_ft": pl.Float64}, orient="row"
    )
    assert stretch_grades(rows, pitches((0, 100, 10), (100, 300, None))).row(0) == (None, 10, None)


def test_the_formula() -> None:
    # 400 / 10 + 100; 400 / 8 + 100; rounded 7.5 -> 8
    usual = {"over_grade_ft": 400.0, "plus_ft": 100.0}
    assert cross_drain_spacing_ft([10.0, 8.0], **usual).tolist() == [140, 150]
    assert cross_drain_spacing_ft(7.5, **usual, grade_rounding="nearest") == 150
    assert cross_drain_spacing_ft(7.1, **usual, grade_rounding="up") == 150
    assert np.isnan(cross_drain_spacing_ft([0.0, -2.0, np.nan], **usual)).all()
    assert np.isnan(cross_drain_spacing_ft(0.4, **usual, grade_rounding="nearest"))
    with pytest.raises(ValueError, match="grade_rounding"):
        cross_drain_spacing_ft(7.1, **usual, grade_rounding="down")  # type: ignore[arg-type]


POINTS = {"points": {2: 245, 5: 125, 10: 80}, "between": "higher"}
CLASSES = {"classes": [
    {"grade_pct": "[2, 4]", "spacing_ft": [200, 300]}, {"grade_pct": "[5, 7]", "spacing_ft": 160},
    {"grade_pct": "[7, 12)", "spacing_ft": 140},
]}  # fmt: skip


@pytest.mark.parametrize(
    ("grade", "spacing", "expected"),
    [
        (5.0, POINTS, (125, 125)),
        (5.1, POINTS, (80, 80)),
        (1.9, POINTS, (None, None)),
        (10.1, POINTS, (None, None)),
        (6.0, {**POINTS, "between": "lower"}, (125, 125)),
        (7.5, {**POINTS, "between": "interpolate"}, (102.5, 102.5)),  # half way between 125 and 80
        (3.0, CLASSES, (200, 300)),  # a printed range
        (4.5, CLASSES, (160, 300)),  # between two classes: either neighbour
        (7.0, CLASSES, (140, 160)),  # in two classes
        (6.0, CLASSES, (160, 160)),
        (12.0, CLASSES, (None, None)),
        (1.0, CLASSES, (None, None)),
        (None, CLASSES, (None, None)),
        (10.0, {"formula": {"over_grade_ft": 400, "plus_ft": 100}}, (140, 140)),
        (None, {"formula": {"over_grade_ft": 400, "plus_ft": 100}}, (None, None)),
    ],
)
def test_limits_of_spacing(grade: float | None, spacing: Any, expected: Any) -> None:
    assert spacing_limit_ft(pl.Series([grade], dtype=pl.Float64), spacing).row(0) == expected


def test_a_spacing_has_one_shape() -> None:
    with pytest.raises(ValueError, match="exactly one"):
        spacing_limit_ft(pl.Series([1.0]), {})


GAP = ("gap_ft__lo", "gap_ft__hi", "spacing_limit_ft__lo", "spacing_limit_ft__hi")


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ((80, 80, 80, 80), (0, 0)),
        ((81, 81, 80, 80), (1, 1)),
        ((160, 160, 80, 80), (1, 1)),
        ((161, 161, 80, 80), (2, 2)),
        ((0, 0, 80, 80), (0, 0)),
        ((0, 200, 80, 120), (0, 2)),  # ceil(200 / 80) - 1
        ((200, 200, None, 120), (1, None)),
        ((None, None, 80, 80), (None, None)),
    ],
)
def test_missing_drains(row: Any, expected: Any) -> None:
    frame = pl.DataFrame([row], schema=dict.fromkeys(GAP, pl.Float64), orient="row")
    assert missing_drains(frame).row(0) == expected


def test_places_of_missing_drains() -> None:
    rows = pl.DataFrame(
        [("J", "T", 1, 0.0, 100.0, 0), ("J", "T", 2, 100.0, 400.0, 2), ("J", "T", 3, 400.0, None, 1), ("J", "T", 4, 0.0, 9.0, None)],
        schema={**S, "gap": pl.Int64, "from_ft": pl.Float64, "to_ft": pl.Float64, "n": pl.Int64}, orient="row",
    )  # fmt: skip
    assert drain_places(rows, "n").rows() == [("J", "T", 2, 1, 200), ("J", "T", 2, 2, 300)]


RUT = {**S, "along_ft": pl.Float64, "length_ft": pl.Float64, "mean_depth_in": pl.Float64}


def rutted(*ruts: tuple[Any, ...], **segment: Any) -> dict[str, tuple[Any, Any]]:
    rows = pl.DataFrame([("J", "T", *r) for r in ruts], schema=RUT, orient="row")
    found = rut_extent(rows, segments(**segment), over_depth_in=6).row(0, named=True)
    return {
        n: (found[f"{n}__lo"], found[f"{n}__hi"]) for n in ("rutted_length_ft", "rutted_share_pct", "longest_rut_ft")
    }


def test_ruts_side_by_side_are_one() -> None:
    # 0 to 40 and 30 to 70 are one of 70 ft; 100 to 130; 200 to 300 is no deeper than 6 in. 100 of 500 ft.
    found = rutted((30.0, 40.0, 7.0), (0.0, 40.0, 8.0), (100.0, 30.0, 6.1), (200.0, 100.0, 6.0))
    assert found == {"rutted_length_ft": (100, 100), "rutted_share_pct": (20, 20), "longest_rut_ft": (70, 70)}


def test_no_rut() -> None:
    assert rutted() == {"rutted_length_ft": (0, 0), "rutted_share_pct": (0, 0), "longest_rut_ft": (0, 0)}
    assert rutted(listed=None)["longest_rut_ft"] == (0, 500)
    assert rutted(listed=None, length=None)["longest_rut_ft"] == (0, None)


@pytest.mark.parametrize(
    ("rut", "length", "longest"),
    [
        ((100.0, 30.0, None), (60, 90), (60, 60)),  # depth unknown, away from the other
        ((60.0, 30.0, None), (60, 90), (60, 90)),  # depth unknown, next to it
        ((None, 30.0, 7.0), (60, 90), (60, 90)),  # place unknown: it may lie in the other, or join it
        ((None, 80.0, 7.0), (80, 140), (80, 140)),
        ((100.0, None, 7.0), (60, 500), (60, 500)),  # length unknown
    ],
)
def test_open_ruts(rut: Any, length: Any, longest: Any) -> None:
    found = rutted((0.0, 60.0, 7.0), rut)
    assert (found["rutted_length_ft"], found["longest_rut_ft"]) == (length, longest)


def steep(*rows: Any, at_it_too: bool = False, **segment: Any) -> dict[str, tuple[Any, Any]]:
    found = steep_extent(segments(**segment), pitches(*rows), over_pct=15, at_it_too=at_it_too).row(0, named=True)
    return {
        n: (found[f"{n}__lo"], found[f"{n}__hi"]) for n in ("steep_length_ft", "steep_share_pct", "longest_steep_ft")
    }


def test_steep_stretches() -> None:
    rows = ((0, 100, 15), (100, 180, 18), (180, 250, 16), (250, 500, 8))
    assert steep(*rows) == {"steep_length_ft": (150, 150), "steep_share_pct": (30, 30), "longest_steep_ft": (150, 150)}
    assert steep(*rows, at_it_too=True)["steep_length_ft"] == (250, 250)


def test_what_no_pitch_covers_is_open() -> None:
    rows = ((0, 100, 18), (200, 300, 8))
    assert steep(*rows)["steep_length_ft"] == (100, 400)
    assert steep(*rows)["longest_steep_ft"] == (100, 200)
    assert steep()["steep_length_ft"] == (0, 500)
    assert steep((0, 500, None))["steep_length_ft"] == (0, 500)
    assert steep(steepest=15.0)["steep_length_ft"] == (0, 0)
    assert steep(steepest=16.0)["steep_length_ft"] == (0, 500)
    assert steep((0, 100, 18), length=None)["steep_length_ft"] == (None, None)


@pytest.mark.parametrize(("d", "expected"), [(99.0, 49), (100.0, 50), (40.0, -10), (None, None)])
def test_beyond_a_zone_of_50_ft(d: float | None, expected: float | None) -> None:
    frame = pl.DataFrame({"d": pl.Series([d], dtype=pl.Float64), "w": [50.0]})
    assert frame.select(trails.beyond_zone_ft(pl.col("d"), pl.col("w"))).item() == expected


def test_skidding() -> None:
    schema = {"job": pl.String, "deck": pl.String, "from_deck_ft": pl.Float64, "length_ft": pl.Float64}
    trails = pl.DataFrame(
        [("J", "A", 0, 600), ("J", "A", 200, 300), ("J", "B", 0, None), ("J", "B", 0, 50), ("J", None, 0, 9999)],
        schema=schema, orient="row",
    )  # fmt: skip
    # A: far ends 600 and 500; mean (300 x 600 + 350 x 300) / 900 = 316.67
    assert skidding_distances(trails).rows() == [
        ("J", "A", 600, 600, pytest.approx(316.6667, abs=0.001)), ("J", "B", 50, None, None),
    ]  # fmt: skip


def test_pure_live_seed() -> None:
    # 40 x 0.98 x 0.85 = 33.32
    frame = pl.DataFrame({"r": [40.0, 40.0], "p": [98.0, None], "g": [85.0, 85.0]})
    found = frame.select(trails.pls_rate_lb_per_ac(*[pl.col(c) for c in "rpg"])).to_series().to_list()
    assert found == [pytest.approx(33.32), None]


def test_uncertainty_of_a_gap() -> None:
    rows = [
        ("J", "T", "water_bar", 100.0, 5.0),
        ("J", "T", "turnout", 300.0, 10.0),
        ("J", "T", "turnout", 300.0, 2.0),
        ("J", "T", "water_bar", 400.0, None),
    ]
    schema = {**S, "kind": pl.String, "along_ft": pl.Float64, "along_uncertainty_ft": pl.Float64}
    drains = pl.DataFrame(rows, schema=schema, orient="row")
    gaps = drain_gaps(segments(), drains, kinds=BARS)
    # 0 and 5; 5 and the greater 10 of two turnouts at one place; these two; 10 and a blank; a blank and the end
    assert gap_uncertainty_ft(gaps, drains).to_list() == [5, 15, 20, 10, 0]
    other = drains.with_columns(job=pl.lit("K"))
    assert gap_uncertainty_ft(gaps, other).to_list() == [0, 0, 0, 0, 0]


@pytest.mark.parametrize(
    ("at", "grade"),
    [(0.0, 8.0), (99.0, 8.0), (100.0, 12.0), (101.0, 12.0), (200.0, None), (250.0, None), (401.0, None), (None, None)],
)
def test_grade_at_a_place(at: float | None, grade: float | None) -> None:
    # 8 percent to 100 ft, 12 to 200, not read to 300, nothing beyond; where two meet the steeper, if both are known
    rows = [
        ("J", "T", 0.0, 100.0, 8.0),
        ("J", "T", 100.0, 200.0, 12.0),
        ("J", "T", 200.0, 300.0, None),
        ("K", "T", 0.0, 500.0, 30.0),
    ]
    pitches = pl.DataFrame(
        rows, schema={**S, "from_ft": pl.Float64, "to_ft": pl.Float64, "grade_pct": pl.Float64}, orient="row"
    )
    points = pl.DataFrame([("J", "T", at)], schema={**S, "along_ft": pl.Float64}, orient="row")
    assert local_grade_pct(points, pitches).to_list() == [grade]


def others(*rows: tuple[str, float | None], **segment: Any) -> list[tuple[Any, ...]]:
    gaps = drain_gaps(segments(**segment), drains(*rows), kinds=BARS)
    return other_drains_inside(gaps, segments(**segment), drains(*rows), kinds=BARS).rows()


def test_drains_of_other_kinds_inside_a_stretch() -> None:
    # Bars at 100 and 300 of 500 ft; dips at 50, 200, 250 and, just at a bar, at 300.
    bars = [("water_bar", 100.0), ("turnout", 300.0)]
    dips = [("broad_based_dip", at) for at in (50.0, 200.0, 250.0, 300.0)]
    assert others(*bars, *dips) == [(1, 1), (2, 2), (0, 0)]
    assert others(*bars) == [(0, 0), (0, 0), (0, 0)]


@pytest.mark.parametrize("listed", [False, None])
def test_of_a_list_that_is_not_whole_only_the_least_is_known(listed: bool | None) -> None:
    found = others(("water_bar", 100.0), ("broad_based_dip", 50.0), listed=listed)
    assert found == [(1, None), (0, None)]


def test_another_drain_without_a_place_may_lie_in_any_stretch() -> None:
    assert others(("water_bar", 100.0), ("cross_drain", None)) == [(0, None), (0, None)]
    # A blank length leaves the last stretch open; without drains there is one stretch.
    assert others(("water_bar", 100.0), ("broad_based_dip", 200.0), length=None) == [(0, 0), (None, None)]
    assert others() == [(0, 0)]
