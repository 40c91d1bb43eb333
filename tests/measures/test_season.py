"""Season measures: the arithmetic by hand, and what must hold whatever the weights."""

from __future__ import annotations

import math
from fractions import Fraction

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.measures.season import exact_share_limits, overload_margins, room_lb, weight_spread

WEIGHTS = st.lists(st.integers(20_000, 120_000), min_size=1, max_size=60)


def frame(weights: list[int | None], group: str | None = "A", limit: float | None = 80_000.0) -> pl.DataFrame:
    columns = {"group": [group] * len(weights), "gross_weight_lb": weights, "limit": [limit] * len(weights)}
    return pl.DataFrame(columns, schema={"group": pl.String, "gross_weight_lb": pl.Int64, "limit": pl.Float64})


def limits(over: int | None, loads: int | None, confidence: float = 0.95) -> tuple[float, float]:
    counts = (pl.Series([over], dtype=pl.Int64), pl.Series([loads], dtype=pl.Int64))
    (row,) = exact_share_limits(*counts, confidence).rows()
    return row


def margins(rows: pl.DataFrame, share: float = 0.05, least: int = 10) -> dict[str, float | int | bool | None]:
    (row,) = overload_margins(rows, ["group"], "limit", share, least).to_dicts()
    return row


def test_the_limits_of_no_overload_and_of_overloads_only_have_a_closed_form() -> None:
    # No overload in n: (1 - p)^n = 0.025 at the upper limit.
    for n in (1, 10, 365):
        assert limits(0, n) == pytest.approx((0, 1 - 0.025 ** (1 / n)), abs=1e-12)
        assert limits(n, n) == pytest.approx((0.025 ** (1 / n), 1), abs=1e-12)


def test_no_loads_or_a_blank_count_have_no_limits() -> None:
    assert limits(0, 0) == limits(None, 5) == limits(0, None) == (None, None)
    empty = pl.Series([], dtype=pl.Int64)
    assert exact_share_limits(empty, empty, 0.95).height == 0


@pytest.mark.parametrize(("over", "loads", "confidence"), [(3, 2, 0.95), (-1, 5, 0.95), (1, 2, 1.0), (1, 2, 0.0)])
def test_what_is_out_of_range_is_refused(over: int, loads: int, confidence: float) -> None:
    with pytest.raises(ValueError, match=r"confidence|count"):
        limits(over, loads, confidence)


@settings(deadline=None)
@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_holds_the_share_and_widens_with_confidence(counts: tuple[int, int]) -> None:
    over, loads = counts
    low, high = limits(over, loads)
    wider_low, wider_high = limits(over, loads, 0.99)
    assert 0 <= wider_low <= low <= over / loads <= high <= wider_high <= 1
    # Loads inside are loads over, seen from the other side.
    assert limits(loads - over, loads) == pytest.approx((1 - high, 1 - low), abs=1e-12)


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_at_each_limit_the_binomial_tail_is_half_of_what_the_confidence_leaves(counts: tuple[int, int]) -> None:
    over, loads = counts
    low, high = (Fraction(limit) for limit in limits(over, loads))

    def chance(p: Fraction, of: range) -> float:
        """Sum of binomial probabilities in exact fractions."""
        return float(sum((math.comb(loads, k) * p**k * (1 - p) ** (loads - k) for k in of), Fraction(0)))

    if over:
        assert chance(low, range(over, loads + 1)) == pytest.approx(0.025, rel=1e-9)
    if over < loads:
        assert chance(high, range(over + 1)) == pytest.approx(0.025, rel=1e-9)


def test_the_spread_of_seven_loads_by_hand() -> None:
    rows = frame([80_000, 84_000, 79_000, 81_000, 82_000, 78_000, 76_000, None])
    (spread,) = weight_spread(rows, ["group"]).to_dicts()
    # Mean 560,000 / 7. Squares about it: 0 + 16 + 1 + 1 + 4 + 4 + 16 = 42 million; 42 / 6 = 7 million.
    assert (spread["loads"], spread["mean_lb"]) == (7, 80_000)
    assert spread["sd_lb"] == pytest.approx(math.sqrt(7_000_000))
    # Ranks of 8: the 2nd, 4th and 6th of 76, 78, 79, 80, 81, 82, 84 thousand.
    assert (spread["q25_lb"], spread["median_lb"], spread["q75_lb"]) == (78_000, 80_000, 82_000)
    assert (spread["least_lb"], spread["greatest_lb"]) == (76_000, 84_000)
    assert (spread["q05_lb"], spread["q95_lb"]) == (None, None)  # rank 0.4 and 7.6 of 1 to 7


@pytest.mark.parametrize(("count", "known"), [(2, None), (3, 1.0), (18, None), (19, 1.0)])
def test_a_quantile_is_told_from_the_load_count_that_reaches_it(count: int, known: float | None) -> None:
    name = "q25_lb" if count < 10 else "q05_lb"  # quartile: rank (n + 1) / 4 is 1 at n = 3; 5th percentile at n = 19
    (spread,) = weight_spread(frame(list(range(1, count + 1))), ["group"]).to_dicts()
    assert spread[name] == known


def test_a_quantile_between_two_loads_lies_straight_between_them() -> None:
    (spread,) = weight_spread(frame([70_000, 80_000, 81_000, 85_000]), ["group"]).to_dicts()
    assert spread["q25_lb"] == 72_500  # rank 1.25: 70,000 + 0.25 x 10,000
    assert spread["q75_lb"] == 84_000  # rank 3.75: 81,000 + 0.75 x 4,000


def test_one_load_has_no_spread_and_blank_weights_none_at_all() -> None:
    one, none = (weight_spread(frame(w), ["group"]).to_dicts()[0] for w in ([80_000], [None, None]))
    assert (one["loads"], one["mean_lb"], one["sd_lb"], one["median_lb"]) == (1, 80_000, None, 80_000)
    assert (none["loads"], none["mean_lb"], none["sd_lb"], none["median_lb"]) == (0, None, None, None)


def test_a_blank_group_is_a_group_of_its_own() -> None:
    rows = pl.concat([frame([1, 2]), frame([3, 5], group=None)])
    assert weight_spread(rows, ["group"]).select("group", "mean_lb").rows() == [("A", 1.5), (None, 4.0)]
    assert overload_margins(rows, ["group"], "limit", 0.05, 2)["scatter_loads"].to_list() == [2, 2]


@settings(deadline=None)
@given(WEIGHTS, st.integers(2, 9))
def test_scaling_the_weights_scales_the_spread(weights: list[int], times: int) -> None:
    (one,), (scaled,) = (weight_spread(frame([w * n for w in weights]), ["group"]).to_dicts() for n in (1, times))
    for name, value in one.items():
        if name.endswith("_lb"):
            assert scaled[name] == (None if value is None else pytest.approx(value * times, rel=1e-9, abs=1e-6))


@settings(deadline=None)
@given(WEIGHTS)
def test_quantiles_stand_in_order_inside_the_range(weights: list[int]) -> None:
    (spread,) = weight_spread(frame(weights), ["group"]).to_dicts()
    names = ("least_lb", "q05_lb", "q25_lb", "median_lb", "q75_lb", "q95_lb", "greatest_lb")
    known = [spread[n] for n in names if spread[n] is not None]
    assert known == sorted(known)


def test_the_margin_of_twenty_loads_by_hand() -> None:
    """Ten loads at 79,000 and ten at 81,000 lb: mean 80,000, squares 20 million, 20 / 19 million below the root."""
    found = margins(frame([79_000] * 10 + [81_000] * 10))
    sd = math.sqrt(20e6 / 19)
    assert (found["scatter_loads"], found["freedom"]) == (20, 19)
    assert found["scatter_sd_lb"] == pytest.approx(sd)
    # Rank of 21 x 0.95 = 19.95, rounded up: the 20th, 1,000 lb over the mean, stretched by the root of 20 / 19.
    assert found["observed_margin_lb"] == pytest.approx(1_000 * math.sqrt(20 / 19))
    assert found["observed_is_furthest"] is True
    assert found["normal_margin_lb"] == pytest.approx(1.729 * sd, rel=3e-4)  # t for 19 and 5 percent, printed as 1.729


def test_scatter_is_taken_about_the_mean_under_each_limit() -> None:
    """Two limits 10,000 lb apart, each loaded 1,000 lb up and down: the gap between them is no scatter."""
    low, high = frame([69_000, 71_000] * 5, limit=73_280.0), frame([79_000, 81_000] * 5)
    found = margins(pl.concat([low, high]))
    assert (found["scatter_loads"], found["freedom"]) == (20, 18)  # 20 loads less 2 means
    assert found["scatter_sd_lb"] == pytest.approx(math.sqrt(20e6 / 18))
    assert found["observed_margin_lb"] == pytest.approx(1_000 * math.sqrt(10 / 9))


def test_a_load_alone_under_its_limit_tells_nothing_of_scatter() -> None:
    rows = pl.concat([frame([79_000] * 10 + [81_000] * 10), frame([50_000], limit=60_000.0)])
    assert margins(rows)["scatter_loads"] == 20
    assert overload_margins(frame([50_000]), ["group"], "limit", 0.05, 1).height == 0


@pytest.mark.parametrize(("count", "observed", "normal"), [(9, False, False), (10, False, True), (18, False, True), (19, True, True)])  # fmt: skip
def test_too_few_loads_give_no_margin(count: int, observed: bool, normal: bool) -> None:
    """The least load count given is 10; the observed margin for 5 percent takes 1 / 0.05 - 1 = 19 loads."""
    found = margins(frame([80_000 + 10 * k for k in range(count)]))
    assert (found["observed_margin_lb"] is not None) is observed
    assert (found["normal_margin_lb"] is not None) is normal


@pytest.mark.parametrize(("share", "count", "rank"), [(0.05, 39, 38), (0.07, 99, 93), (0.007, 999, 993), (0.1, 9, 9)])
def test_whole_ranks_are_not_missed(share: float, count: int, rank: int) -> None:
    """(n + 1)(1 - share) is whole: 40 x 0.95, 100 x 0.93, 1,000 x 0.993, 10 x 0.9."""
    weights = [100 * k for k in range(1, count + 1)]
    found = margins(frame(weights), share, 2)
    stretch = math.sqrt(count / (count - 1))
    assert found["observed_margin_lb"] == pytest.approx((100 * rank - sum(weights) / count) * stretch)


def test_rows_without_weight_or_limit_do_not_count() -> None:
    rows = pl.concat([frame([79_000] * 10 + [81_000] * 10), frame([None, None]), frame([1, 2, 3], limit=None)])
    assert margins(rows) == margins(frame([79_000] * 10 + [81_000] * 10))


@pytest.mark.parametrize("share", [0.0, 0.5, -0.1, 5.0])
def test_a_share_out_of_range_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="share"):
        margins(frame([1, 2]), share)


@settings(deadline=None)
@given(st.lists(st.integers(20_000, 120_000), min_size=20, max_size=80), st.integers(-5_000, 5_000))
def test_the_margin_keeps_overloads_under_the_share_and_ignores_where_the_mean_lies(
    weights: list[int], shift: int
) -> None:
    found = margins(frame(weights))
    moved = margins(frame([w + shift for w in weights]))
    assert moved["observed_margin_lb"] == pytest.approx(found["observed_margin_lb"], abs=1e-6)
    assert moved["normal_margin_lb"] == pytest.approx(found["normal_margin_lb"], abs=1e-6)
    # Loaded to the margin under a limit, these same loads run over it no more often than the share.
    mean = sum(weights) / len(weights)
    over = sum(w - mean > found["observed_margin_lb"] + 1e-6 for w in weights)
    assert over <= 0.05 * (len(weights) + 1)
    assert margins(frame(weights), 0.2)["observed_margin_lb"] <= found["observed_margin_lb"]


def test_room_under_a_bound_at_under_and_over_it() -> None:
    rows = pl.DataFrame({"w": [80_000, 79_999, 80_001, None, 1], "b": [80_000, 80_000, 80_000, 80_000, None]})
    assert rows.select(room_lb(pl.col("w"), pl.col("b"))).to_series().to_list() == [0, 1, None, None, None]
