"""Zone widths, failing lengths, plots."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.measures import streamside
from auditor.measures.streamside import (
    defined_width_ft,
    failing_extent,
    inside_width_ft,
    plot_count_per_ac,
    plot_density,
    sample_mean,
    signs_found,
    station_lengths_ft,
    weighted_mean,
)

READING = {
    "w": pl.Float64, "slope_pct": pl.Float64, "measured_along": pl.String, "measured_from": pl.String,
    "low_water_to_bank_ft": pl.Float64, "wider": pl.Boolean,
}  # fmt: skip


def one(expression: pl.Expr, **columns: float | None) -> Any:
    frame = pl.DataFrame({n: pl.Series([v], dtype=pl.Float64) for n, v in columns.items()})
    return frame.select(expression.alias("x")).item()


def width(
    w: float | None, slope: float | None, measured: str | None, start: str | None = "bank", offset: float | None = None,
    wider: bool | None = None, *, along: Any = "horizontal", law: str = "bank",
) -> tuple[float | None, float | None]:  # fmt: skip
    rows = pl.DataFrame([(w, slope, measured, start, offset, wider)], schema=READING, orient="row")
    low, high = defined_width_ft(rows, "w", along=along, start=law, at_least="wider").row(0)
    return low if low is None else round(low, 6), high if high is None else round(high, 6)


def test_slope_from_rise_and_run() -> None:
    slope = streamside.slope_pct(pl.col("rise"), pl.col("run"))
    assert one(slope, rise=-6.0, run=40.0) == 15  # 6 / 40
    assert one(slope, rise=6.0, run=0.0) is None
    assert one(slope, rise=None, run=40.0) is None


def test_level_and_ground_on_a_slope_of_75_percent() -> None:
    # 3-4-5 triangle: 50 ft along the ground are 40 ft level and 30 ft of rise.
    assert one(streamside.horizontal_width_ft(pl.col("w"), pl.col("s")), w=50.0, s=75.0) == 40
    assert one(streamside.ground_width_ft(pl.col("w"), pl.col("s")), w=40.0, s=75.0) == 50
    assert one(streamside.horizontal_width_ft(pl.col("w"), pl.col("s")), w=50.0, s=None) is None


@pytest.mark.parametrize(
    ("reading", "along", "expected"),
    [
        ((50.0, 75.0, "ground"), "horizontal", (40, 40)),
        ((50.0, 75.0, "horizontal"), "horizontal", (50, 50)),
        ((50.0, None, "horizontal"), "horizontal", (50, 50)),
        ((50.0, None, "ground"), "horizontal", (0, 50)),  # never more level than along the ground
        ((50.0, 75.0, None), "horizontal", (40, 50)),  # one of the two
        ((50.0, None, None), "horizontal", (0, 50)),
        ((40.0, 75.0, "horizontal"), "ground", (50, 50)),
        ((40.0, 75.0, "ground"), "ground", (40, 40)),
        ((40.0, None, "horizontal"), "ground", (40, None)),  # never less along the ground than level
        ((40.0, 75.0, None), "ground", (40, 50)),
        ((40.0, None, None), "ground", (40, None)),
        ((None, 75.0, "ground"), "horizontal", (None, None)),
        ((None, None, "ground"), "horizontal", (None, None)),
    ],
)
def test_how_the_law_measures(reading: Any, along: str, expected: Any) -> None:
    assert width(*reading, along=along) == expected


@pytest.mark.parametrize(
    ("start", "offset", "law", "expected"),
    [
        ("top_of_bank", None, "bank", (60, None)),  # begun farther out: at least so wide
        ("edge_of_water", None, "bank", (None, 60)),  # begun nearer the water: at most
        ("low_water_mark", 8.0, "bank", (52, 52)),  # 60 - 8
        ("bank", 8.0, "low_water_mark", (68, 68)),  # 60 + 8
        ("bank", None, "low_water_mark", (60, None)),
        ("edge_of_channel", None, "mean_high_water", (None, None)),  # not told apart
        (None, 8.0, "bank", (None, None)),
        ("low_water_mark", 70.0, "bank", (0, 0)),  # the reading ended on the water's side of the bank
    ],
)
def test_where_the_law_starts(start: str | None, offset: float | None, law: str, expected: Any) -> None:
    assert width(60.0, 0.0, "horizontal", start, offset, law=law) == expected


def test_a_reading_that_stopped_has_no_upper_end() -> None:
    assert width(60.0, 0.0, "horizontal", wider=True) == (60, None)
    assert width(60.0, 0.0, "horizontal", wider=False) == (60, 60)
    assert width(60.0, 0.0, "horizontal", wider=None) == (60, 60)


def test_unknown_words_are_refused() -> None:
    with pytest.raises(ValueError, match="no place to measure from"):
        width(1.0, 1.0, "ground", law="middle")
    with pytest.raises(ValueError, match="along is"):
        width(1.0, 1.0, "ground", along="up")


@pytest.mark.parametrize(("w", "expected"), [(49.0, 1), (50.0, 0), (51.0, 0), (None, None)])
def test_deficit(w: float | None, expected: float | None) -> None:
    assert one(streamside.width_deficit_ft(pl.col("w"), pl.col("r")), w=w, r=50.0) == expected


def lengths(
    along: list[float | None], length: float | None, told: dict[int, tuple[float | None, float | None]] | None = None
) -> list[tuple[Any, ...]]:
    """`told` has the stretch that the record says of some stations."""
    ends = [(told or {}).get(n, (None, None)) for n in range(len(along))]
    stations = pl.DataFrame(
        {
            "job": "J",
            "bank": "B",
            "along_ft": pl.Series(along, dtype=pl.Float64),
            "stretch_from_ft": pl.Series([low for low, _ in ends], dtype=pl.Float64),
            "stretch_to_ft": pl.Series([high for _, high in ends], dtype=pl.Float64),
        }
    )
    banks = pl.DataFrame({"job": ["J"], "bank": ["B"], "length_ft": pl.Series([length], dtype=pl.Float64)})
    return station_lengths_ft(stations, banks).rows()


def test_stations_stand_for_half_way_to_their_neighbours() -> None:
    # In the order given: 300 between 100 and 350: (200, 325); 100: (0, 200); 350: (325, 400)
    assert lengths([300, 100, 350], 400) == [(200, 325, 125), (0, 200, 200), (325, 400, 75)]
    assert lengths([300], 400) == [(0, 400, 400)]


def test_open_lengths() -> None:
    assert lengths([100, 300], None) == [(0, 200, 200), (200, None, None)]
    assert lengths([100, None], 400) == [(None, None, None)] * 2
    assert lengths([100, 401], 400) == [(None, None, None)] * 2
    assert lengths([100, 400], 400) == [(0, 250, 250), (250, 400, 150)]


def test_a_stretch_that_the_record_says_stands() -> None:
    # Two stations far apart on a bank of which 100 ft were looked at: neither takes the 4,900 ft between them.
    apart = {0: (25.0, 75.0), 1: (4975.0, 5025.0)}
    assert lengths([50, 5000], 100, apart) == [(25, 75, 50), (4975, 5025, 50)]
    # Without a place along the bank the stretch is still known; half a stretch is none.
    assert lengths([None, 5000], 100, apart) == [(25, 75, 50), (4975, 5025, 50)]
    assert lengths([100, 300], 400, {0: (50.0, None)}) == [(0, 200, 200), (200, 400, 200)]


@settings(deadline=None)
@given(st.lists(st.floats(0, 1000), min_size=1, max_size=12))
def test_stretches_add_up_to_the_bank(along: list[float]) -> None:
    found = lengths([*along], 1000)
    assert sum(length for _, _, length in found) == pytest.approx(1000)
    assert all(a <= at <= b for (a, b, _), at in zip(found, along, strict=True))


PIECES = {"bank": pl.String, "from_ft": pl.Float64, "to_ft": pl.Float64, "fails": pl.Boolean}


def extent(*pieces: tuple[Any, ...], window: float | None = 1000.0) -> dict[str, Any]:
    rows = pl.DataFrame([("B", *p) for p in pieces], schema=PIECES, orient="row")
    return failing_extent(rows, ["bank"], window_ft=window).row(0, named=True)


def test_failing_share_run_and_window() -> None:
    # Fails: 0 to 60, 100 to 150 with 150 to 180, 1040 to 1100. Of 2,000 ft: 60 + 50 + 30 + 60 = 200, 10 percent.
    # Longest run 100 to 180. Worst 1,000 ft: from 100 to 1,100: 50 + 30 + 60 = 140 (from 0 to 1,000: 140 too).
    found = extent(
        (0, 60, True), (60, 100, False), (100, 150, True), (150, 180, True), (180, 1040, False), (1040, 1100, True),
        (1100, 2000, False),
    )  # fmt: skip
    assert found["judged_length_ft"] == 2000
    assert found["failing_length_ft__lo"] == found["failing_length_ft__hi"] == 200
    assert found["failing_share_pct__lo"] == found["failing_share_pct__hi"] == 10
    assert found["longest_failing_ft__lo"] == found["longest_failing_ft__hi"] == 80
    assert found["worst_window_ft__lo"] == found["worst_window_ft__hi"] == 140


def test_a_window_may_begin_or_end_inside_a_piece() -> None:
    # 100 ft of each piece fall into a window of 300 ft that ends with the second: 300 - (500 - 400) ... 150 to 450
    found = extent((0, 200, True), (200, 400, False), (400, 500, True), window=300)
    # ends with the piece 400 to 500: window 200 to 500 holds 100; begins with 0: 0 to 300 holds 200
    assert found["worst_window_ft__lo"] == 200
    found = extent((0, 200, True), (200, 250, False), (250, 500, True), window=300)
    # begins at 250: 250 ft; ends at 500: 200 to 500 holds 250; begins at 0: 200 + 50 = 250
    assert found["worst_window_ft__lo"] == 250


def test_open_pieces_widen_the_answer() -> None:
    found = extent((0, 100, True), (100, 150, None), (150, 1000, False))
    assert (found["failing_length_ft__lo"], found["failing_length_ft__hi"]) == (100, 150)
    assert (found["failing_share_pct__lo"], found["failing_share_pct__hi"]) == (10, 15)
    assert (found["longest_failing_ft__lo"], found["longest_failing_ft__hi"]) == (100, 150)
    assert (found["worst_window_ft__lo"], found["worst_window_ft__hi"]) == (100, 150)


@pytest.mark.parametrize("bad", [(100, None, False), (None, 200, False), (200, 100, True), (50, 200, False)])
def test_blank_reversed_or_overlapping_pieces_give_no_answer(bad: Any) -> None:
    found = extent((0, 100, True), bad)
    assert {found[n] for n in found if n != "bank"} == {None}


def test_no_window_and_a_wrong_one() -> None:
    assert extent((0, 100, True), window=None)["worst_window_ft__hi"] is None
    with pytest.raises(ValueError, match="more than 0"):
        extent((0, 100, True), window=0)


def test_banks_stay_apart() -> None:
    rows = pl.DataFrame(
        [("B2", 0, 100, True), ("B1", 0, 300, False), (None, 0, 50, None), ("B2", 100, 150, True)],
        schema=PIECES, orient="row",
    )  # fmt: skip
    found = failing_extent(rows, ["bank"], window_ft=120)
    assert found["bank"].to_list() == ["B2", "B1", None]
    assert found["failing_length_ft__lo"].to_list() == [150, 0, 0]
    assert found["failing_length_ft__hi"].to_list() == [150, 0, 50]
    assert found["worst_window_ft__hi"].to_list() == [120, 0, 50]


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(1, 9), st.booleans()), min_size=1, max_size=8), st.integers(1, 40))
def test_the_worst_window_against_every_whole_foot(steps: list[tuple[int, bool]], window: int) -> None:
    at, pieces, feet = 0, [], []
    for length, fails in steps:
        pieces.append((at, at + length, fails))
        feet += [fails] * length
        at += length
    # Ends are whole feet and so is the window: the worst one begins on a whole foot.
    worst = max(sum(feet[i : i + window]) for i in range(len(feet)))
    found = extent(*pieces, window=window)
    assert found["worst_window_ft__lo"] == worst
    assert found["failing_length_ft__lo"] == sum(feet)


def test_weighted_mean() -> None:
    rows = pl.DataFrame(
        {"bank": ["A", "A", "B", "B", "C"], "bare_soil_pct": [10.0, 40.0, 10.0, None, 5.0],
         "station_length_ft": [300.0, 100.0, 300.0, 100.0, None]},
    )  # fmt: skip
    found = weighted_mean(rows, "bare_soil_pct", ["bank"], least=0, most=100)
    # A: (3,000 + 4,000) / 400 = 17.5. B: 3,000 / 400 to (3,000 + 10,000) / 400. C: no length.
    assert found.rows() == [("A", 17.5, 17.5), ("B", 7.5, 32.5), ("C", None, None)]
    assert weighted_mean(rows, "bare_soil_pct", ["bank"]).row(1) == ("B", None, None)


@pytest.mark.parametrize(
    ("b", "overlap", "distance"), [((10, 30), 10, 0), ((20, 30), 0, 0), ((25, 30), 0, 5), ((None, 30), None, None)]
)
def test_strips(b: Any, overlap: float | None, distance: float | None) -> None:
    ends = [pl.col(c) for c in "abcd"]
    values = dict(zip("abcd", (0.0, 20.0, *b), strict=True))
    assert one(streamside.strip_overlap_ft(*ends), **values) == overlap
    assert one(streamside.strip_distance_ft(*ends), **values) == distance
    turned = dict(zip("abcd", (*b, 0.0, 20.0), strict=True))
    assert one(streamside.strip_distance_ft(*ends), **turned) == distance


PLOT = {
    "job": pl.String, "plot": pl.String, "kind": pl.String, "baf_ft2_per_ac": pl.Float64, "plot_radius_ft": pl.Float64,
    "plot_area_acres": pl.Float64, "tree_count": pl.Int64,
}  # fmt: skip
TALLY = {"job": pl.String, "plot": pl.String, "dbh_in": pl.Float64, "tree_count": pl.Int64}


def density(plot: tuple[Any, ...], *tallies: tuple[float | None, int | None]) -> tuple[float | None, float | None]:
    plots = pl.DataFrame([("J", "1", *plot)], schema=PLOT, orient="row")
    lines = pl.DataFrame([("J", "1", *t) for t in tallies], schema=TALLY, orient="row")
    return plot_density(plots, lines).row(0)


def test_a_prism_plot() -> None:
    # 6 trees at a factor of 10. A stem of 12 in has pi / 4 = 0.7854 ft2: 6 x 10 / 0.7854 = 76.394 trees an acre.
    assert density(("prism", 10, None, None, 6), (12, 6)) == (60, pytest.approx(76.394, abs=0.001))
    assert density(("prism", 10, None, None, 6)) == (60, None)
    assert density(("prism", 10, None, None, 6), (12, 5)) == (60, None)  # one tree has no diameter
    assert density(("prism", 10, None, None, 6), (12, 5), (None, 1)) == (60, None)
    assert density(("prism", 10, None, None, 0)) == (0, 0)
    assert density(("prism", None, None, None, 6), (12, 6)) == (None, None)
    assert density(("prism", 10, None, None, None), (12, 6)) == (None, None)


def test_a_fixed_plot() -> None:
    # A tenth of an acre, 8 stems of 12 in: 80 trees and 80 x pi / 4 = 62.832 ft2 an acre.
    assert density(("fixed", None, None, 0.1, 8), (12, 8)) == (pytest.approx(62.832, abs=0.001), 80)
    # A circle of 26.33 ft is a twentieth of an acre: pi x 26.33^2 / 43,560 = 0.05
    assert density(("fixed", None, 26.33, None, 4), (12, 4))[1] == pytest.approx(80, abs=0.02)
    assert density(("fixed", None, None, 0.1, 8), (12, 7)) == (None, 80)
    assert density(("fixed", None, None, None, 8), (12, 8)) == (None, None)
    assert density(("fixed", None, None, 0.1, 0)) == (0, 0)


def test_mean_with_limits() -> None:
    plots = pl.DataFrame(
        {"bank": ["A"] * 5 + ["B"] * 2 + ["C"], "ba": [40.0, 50.0, 60.0, 50.0, 50.0, 30.0, None, 20.0]},
    )  # fmt: skip
    found = sample_mean(plots, "ba", ["bank"], confidence=0.95)
    # A: s^2 = 200 / 4, s / sqrt(5) = 3.16228; t for 4 and 95 percent is 2.776 (printed tables): 8.779
    a = found.row(0, named=True)
    assert (a["plot_count"], a["mean"]) == (5, 50)
    assert a["standard_error"] == pytest.approx(3.16228, abs=1e-5)
    assert (a["low"], a["high"]) == (pytest.approx(41.221, abs=0.002), pytest.approx(58.779, abs=0.002))
    assert found.rows()[1:] == [("B", 2, None, None, None, None), ("C", 1, 20, None, None, None)]
    with pytest.raises(ValueError, match="confidence"):
        sample_mean(plots, "ba", ["bank"], confidence=1)


def test_shares_of_trees_and_crowns() -> None:
    left = streamside.trees_left_pct(pl.col("before"), pl.col("left"))
    assert one(left, before=12.0, left=6.0) == 50
    assert [one(left, before=b, left=x) for b, x in ((0.0, 0.0), (None, 3.0), (5.0, 6.0))] == [None] * 3
    canopy = streamside.canopy_cover_pct(pl.col("filled"), pl.col("read"))
    assert one(canopy, filled=18.0, read=24.0) == 75
    assert [one(canopy, filled=f, read=r) for f, r in ((3.0, 0.0), (25.0, 24.0), (None, 24.0))] == [None] * 3


def test_field_signs() -> None:
    signs = pl.Series([["a", "b", "x"], ["a", "b", "x"], [], None, None], dtype=pl.List(pl.String))
    listed = pl.Series([True, None, True, True, None])
    assert signs_found(signs, listed, ["a", "b", "c"]).rows() == [(2, 2), (2, 3), (0, 0), (0, 0), (0, 3)]


def test_what_was_counted_an_acre() -> None:
    # 2 on a tenth of an acre are 20; on a circle of 37.236 ft likewise: pi x 37.236^2 / 43,560 = 0.1
    rows = [("fixed", None, 0.1, 2), ("fixed", 37.236, None, 2), ("fixed", 37.236, 0.2, 2), ("prism", None, None, 2),
            ("fixed", None, None, 2), ("fixed", None, 0.1, None), ("fixed", None, 0.1, 0)]  # fmt: skip
    schema = {"kind": pl.String, "plot_radius_ft": pl.Float64, "plot_area_acres": pl.Float64, "n": pl.Int64}
    found = plot_count_per_ac(pl.DataFrame(rows, schema=schema, orient="row"), "n")
    assert found.round(2).to_list() == [20, 20, 10, None, None, None, 0]


PLACE = {
    "job": pl.String, "bank": pl.String, "along_ft": pl.Float64, "length_ft": pl.Float64,
    "distance_from_bank_ft__lo": pl.Float64, "distance_from_bank_ft__hi": pl.Float64, "distance_doubt_ft": pl.Float64,
}  # fmt: skip
STRETCH = {
    "job": pl.String, "bank": pl.String, "from_ft": pl.Float64, "to_ft": pl.Float64, "zone_width_ft__lo": pl.Float64,
    "zone_width_ft__hi": pl.Float64, "width_doubt_ft": pl.Float64,
}  # fmt: skip
STRETCHES = [("J", "b", 0, 100, 60, 60, 0), ("J", "b", 100, 200, 40, 45, 1), ("J", "c", 0, 100, 10, None, 0)]


def inside(*place: Any, readings: Any = STRETCHES) -> tuple[Any, ...]:
    places = pl.DataFrame([("J", *place)], schema=PLACE, orient="row")
    return inside_width_ft(places, pl.DataFrame(readings, schema=STRETCH, orient="row")).row(0)


@pytest.mark.parametrize(
    ("place", "expected"),
    [
        (("b", 10, 20, 50, 50, 0), (10, 10)),  # 60 - 50
        (("b", 10, 20, 60, 60, 0), (0, 0)),
        (("b", 10, None, 61, 61, 0), (-1, -1)),
        (("b", 150, 10, 30, 35, 2), (2, 18)),  # 40 - 1 - 35 - 2 and 45 + 1 - 30 + 2
        (("b", 90, 20, 30, 30, 0), (9, 30)),  # both readings: 40 - 1 - 30 and 60 - 30
        (("b", 100, None, 30, 30, 0), (9, 30)),  # where two stretches meet
        (("b", None, 20, 30, 30, 0), (9, 30)),  # anywhere along the bank
        (("b", 300, 10, 30, 30, 0), (None, None)),  # nothing read there
        (("b", 10, 20, 50, 50, None), (None, None)),
        (("b", 10, 20, 50, None, 0), (None, 10)),
        (("c", 10, 20, 5, 5, 0), (5, None)),  # the reading stopped before the edge
        (("d", 10, 20, 5, 5, 0), (None, None)),
        ((None, 10, 20, 5, 5, 0), (None, None)),
    ],
)
def test_how_far_inside_a_zone_as_kept(place: Any, expected: Any) -> None:
    assert inside(*place) == expected


def test_a_reading_without_a_width_or_a_doubt_leaves_the_ends_open() -> None:
    place = ("b", 10, 20, 50, 50, 0)
    assert inside(*place, readings=[*STRETCHES, ("J", "b", 0, 50, None, None, 0)]) == (None, None)
    assert inside(*place, readings=[("J", "b", 0, 50, 60, 60, None)]) == (None, None)
    assert inside(*place, readings=[("K", "b", 0, 50, 60, 60, 0)]) == (None, None)
    assert inside(*place, readings=[("J", "b", None, None, 60, 60, 0)]) == (10, 10)
