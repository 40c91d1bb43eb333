import math

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.measures.weight import bridge_limit_lb, weigh_runs

COUNTS = st.integers(2, 13)
SPANS = st.integers(1, 15_000).map(lambda hundredths: hundredths / 100)
WAYS = st.fixed_dictionaries(
    {"span_rounding": st.sampled_from(["nearest", "up", "exact"]), "ties": st.sampled_from(["down", "up"])}
)


@given(COUNTS, SPANS, SPANS, WAYS)
def test_a_longer_span_never_lowers_the_limit(n, a, b, ways):
    assert bridge_limit_lb(n, min(a, b), **ways) <= bridge_limit_lb(n, max(a, b), **ways)


def test_beyond_24_ft_a_third_axle_lowers_the_formula():
    assert bridge_limit_lb([2, 3], 24).tolist() == [54_000, 54_000]  # 500 (48 + 60), 500 (36 + 72)
    assert bridge_limit_lb([2, 3], 30).tolist() == [60_000, 58_500]  # 500 (60 + 60), 500 (45 + 72)


@given(COUNTS, SPANS, WAYS)
def test_an_axle_more_on_the_same_span_never_lowers_the_limit(n, span, ways):
    # One axle more gains 12 - L / (N (N - 1)) steps of 500 lb: on a span beyond 12 N (N - 1) ft (24 ft on 2 axles)
    # the formula itself gives less. The foot taken off is what rounding may add to the span.
    if span <= 12 * n * (n - 1) - 1:
        assert bridge_limit_lb(n, span, **ways) <= bridge_limit_lb(n + 1, span, **ways)


@given(st.lists(st.tuples(COUNTS, SPANS), min_size=1, max_size=20), WAYS)
def test_scalars_and_arrays_agree(runs, ways):
    counts, spans = zip(*runs, strict=True)
    together = bridge_limit_lb(np.array(counts), np.array(spans), **ways)
    assert together.tolist() == [bridge_limit_lb(n, ft, **ways) for n, ft in runs]


def test_a_scalar_gives_a_float_and_arrays_broadcast():
    assert isinstance(bridge_limit_lb(5, 51), float)
    grid = bridge_limit_lb(np.array([[2], [3]]), np.array([10, 20, 30]))
    # 500 (2 L + 60) and 500 (1.5 L + 72)
    assert grid.tolist() == [[40_000, 50_000, 60_000], [43_500, 51_000, 58_500]]


def test_polars_columns_with_blanks():
    found = bridge_limit_lb(pl.Series([5, None, 5]), pl.Series([51.0, 51.0, None]))
    assert found[0] == 80_000
    assert np.isnan(found[1:]).all()


@pytest.mark.parametrize(
    ("n", "span"), [(None, 20), (5, None), (math.nan, 20), (5, math.nan), (1, 20), (0, 20), (5, 0), (5, -3), (2.5, 20), (5, math.inf)]
)  # fmt: skip
def test_no_answer_outside_the_range(n, span):
    assert math.isnan(bridge_limit_lb(n, span, cells={5: {0: 1, 20: 2}, 1: {20: 3}}))


@pytest.mark.parametrize(
    ("span", "rounding", "feet"),
    [
        (12.000000001, "up", 12), (12.01, "up", 13), (12.0, "up", 12), (11.999999999, "up", 12),
        (12.49, "nearest", 12), (12.5, "nearest", 13), (12.4999999999, "nearest", 13),
        (20.3 - 8.3, "up", 12),  # 12.000000000000002 in binary fractions
    ],
)  # fmt: skip
def test_rounding_of_the_span_is_free_of_binary_noise(span, rounding, feet):
    # On 2 axles W = 1000 L + 30,000 shows the feet used.
    assert bridge_limit_lb(2, span, span_rounding=rounding) == 1000 * feet + 30_000


def test_exact_span():
    # 500 (12.6 x 2 + 24 + 36) = 42,600, nearest 500: 42,500
    assert bridge_limit_lb(2, 12.6, span_rounding="exact") == 42_500
    assert bridge_limit_lb(2, 12.75, span_rounding="exact", ties="down") == 42_500  # 42,750
    assert bridge_limit_lb(2, 12.75, span_rounding="exact", ties="up") == 43_000


def test_cells_override_only_where_they_are_printed():
    cells = {"5": {"38": 72_000}}
    assert bridge_limit_lb(5, [37, 37.5, 38.4, 38.5], cells=cells).tolist() == [71_000, 72_000, 72_000, 72_500]
    assert bridge_limit_lb([4, 6, 13], 38, cells=cells).tolist() == bridge_limit_lb([4, 6, 13], 38).tolist()
    assert bridge_limit_lb(5, 38.01, span_rounding="exact", cells=cells) == 72_000  # 71,756: formula, not the cell
    assert bridge_limit_lb(5, 38.0, span_rounding="exact", cells=cells) == 72_000


def test_a_span_that_the_law_adds_to_comes_before_the_rounding():
    # Miss. Code 63-5-34, 12 ft: 39 ft as 51 ft, 500 (51 x 5/4 + 60 + 36) = 79,875, to 80,000; 29.5 ft as 41.5, so 42 ft, 74,250.
    assert bridge_limit_lb(5, 39, span_added_ft=12) == 80_000
    assert bridge_limit_lb(5, 29.5, span_added_ft=12) == 74_000
    assert bridge_limit_lb(5, 29.4, span_added_ft=12) == bridge_limit_lb(5, 41) == 73_500  # 73,625
    assert np.isnan(bridge_limit_lb(5, None, span_added_ft=12))


@pytest.mark.parametrize("wrong", [{"span_rounding": "down"}, {"ties": "even"}])
def test_an_unknown_way_of_rounding_is_refused(wrong):
    with pytest.raises(ValueError, match="must be"):
        bridge_limit_lb(5, 51, **wrong)


def _weigh(readings, runs):
    read = pl.DataFrame(
        [("J", "1", a, b, w) for a, b, w in readings],
        schema={"job": pl.String, "load": pl.String, "first_axle": pl.Int64, "last_axle": pl.Int64, "weight_lb": pl.Int64},
        orient="row",
    )  # fmt: skip
    asked = pl.DataFrame(
        [("J", "1", a, b) for a, b in runs],
        schema={"job": pl.String, "load": pl.String, "first_axle": pl.Int64, "last_axle": pl.Int64},
        orient="row",
    )
    return weigh_runs(asked, read).select("weight_lb__lo", "weight_lb__hi").rows()


PLATFORM = [(1, 1, 11_000), (2, 3, 33_000), (4, 5, 35_000)]


@pytest.mark.parametrize(
    ("run", "bounds"),
    [
        ((1, 5), (79_000, 79_000)),  # tiled: 11,000 + 33,000 + 35,000
        ((2, 5), (68_000, 68_000)),
        ((1, 3), (44_000, 44_000)),
        ((2, 2), (0, 33_000)),  # half of a reading
        ((1, 2), (11_000, 44_000)),
        ((2, 4), (33_000, 68_000)),
        ((3, 4), (0, 68_000)),
        ((4, 6), (35_000, None)),  # axle 6 was on no scale
        ((6, 7), (0, None)),
        ((None, 3), (None, None)),
    ],
)
def test_a_run_weighs_between_the_readings_inside_and_those_that_touch(run, bounds):
    assert _weigh(PLATFORM, [run]) == [bounds]


def test_overlapping_readings_are_not_added_up():
    twice = [*PLATFORM, (3, 3, 16_000), (1, 3, 44_000)]
    # inside 1-3: either 1-3 alone (44,000) or 1 + 2-3 (44,000), never both
    assert _weigh(twice, [(1, 3), (3, 3), (2, 2)]) == [(44_000, 44_000), (16_000, 16_000), (0, 33_000)]


def test_overlapping_readings_that_contradict_give_the_interval_between_them():
    # 2-3 together 33,000; apart 17,000 + 16,400 = 33,400
    assert _weigh([(2, 3, 33_000), (2, 2, 17_000), (3, 3, 16_400)], [(2, 3)]) == [(33_000, 33_400)]


def test_a_reading_of_the_same_axles_twice():
    assert _weigh([(1, 1, 11_000), (1, 1, 11_060)], [(1, 1)]) == [(11_000, 11_060)]


def test_unusable_readings_are_left_out():
    assert _weigh([(1, 1, None), (3, 2, 5_000), (2, 2, 9_000)], [(1, 2), (2, 2)]) == [(9_000, None), (9_000, 9_000)]


def test_loads_do_not_mix_and_rows_keep_their_order():
    read = pl.DataFrame(
        {"job": ["A", "B", "A"], "load": ["1", "1", "2"], "first_axle": [1] * 3, "last_axle": [2] * 3, "weight_lb": [10, 20, 30]}
    )  # fmt: skip
    runs = pl.DataFrame(
        {"job": ["A", "B", "A", "C"], "load": ["2", "1", "1", "1"], "first_axle": [1] * 4, "last_axle": [2] * 4, "x": list("abcd")}
    )  # fmt: skip
    found = weigh_runs(runs, read)
    assert found["x"].to_list() == list("abcd")
    assert found["weight_lb__lo"].to_list() == [30, 20, 10, 0]
    assert found["weight_lb__hi"].to_list() == [30, 20, 10, None]


def test_no_readings_and_no_runs():
    assert _weigh([], [(1, 2)]) == [(0, None)]
    assert _weigh(PLATFORM, []) == []


@given(st.data())
def test_the_true_weight_lies_between_the_bounds(data):
    n = data.draw(st.integers(1, 7))
    axles = data.draw(st.lists(st.integers(0, 30_000), min_size=n, max_size=n))
    ends = st.tuples(st.integers(1, n), st.integers(1, n)).map(lambda ab: (min(ab), max(ab)))
    readings = [(a, b, sum(axles[a - 1 : b])) for a, b in data.draw(st.lists(ends, max_size=6))]
    runs = [(a, b) for a in range(1, n + 1) for b in range(a, n + 1)]
    for (a, b), (low, high) in zip(runs, _weigh(readings, runs), strict=True):
        true = sum(axles[a - 1 : b])
        read = {k for f, g, _ in readings for k in range(f, g + 1)}
        assert low <= true
        assert (high is None) == (not set(range(a, b + 1)) <= read)
        assert high is None or true <= high
    each = [(k + 1, k + 1, w) for k, w in enumerate(axles)]
    assert _weigh([*readings, *each], runs) == [(sum(axles[a - 1 : b]),) * 2 for a, b in runs]


@given(st.lists(st.integers(1, 40_000), min_size=1, max_size=6), st.data())
def test_a_mirrored_vehicle_weighs_the_same(weights, data):
    n = len(weights)
    single = [(k + 1, k + 1, w) for k, w in enumerate(weights) if data.draw(st.booleans())]
    runs = [(a, b) for a in range(1, n + 1) for b in range(a, n + 1)]
    turned = _weigh([(n + 1 - b, n + 1 - a, w) for a, b, w in single], [(n + 1 - b, n + 1 - a) for a, b in runs])
    assert turned == _weigh(single, runs)
