"""Exact limits of a share and Student's t against printed values."""

from __future__ import annotations

import math

import polars as pl
import pytest

from auditor.measures.season import exact_share_limits, overload_margins

SHARES = [
    # Newcombe 1998, Statistics in Medicine 17, 857-872, table I, method 5: four decimals
    (81, 263, 0.95, 0.2527, 0.3676, 4),
    (15, 148, 0.95, 0.0578, 0.1617, 4),
    (0, 20, 0.95, 0.0000, 0.1684, 4),
    (1, 29, 0.95, 0.0009, 0.1776, 4),
    # Conover 1999, Practical Nonparametric Statistics, table of exact limits, as quoted for 5 of 25
    (5, 25, 0.95, 0.068, 0.407, 3),
    # beta quantiles of scipy.stats, as published with a program for these limits
    (8, 10, 0.99, 0.35180, 0.98915, 5),
    (8, 10, 0.95, 0.44390, 0.97479, 5),
    (8, 10, 0.90, 0.49310, 0.96323, 5),
    # from memory, found in many textbooks
    (0, 10, 0.95, 0.0000, 0.3085, 4),
    (10, 100, 0.95, 0.0490, 0.1762, 4),
]


@pytest.mark.parametrize(("over", "loads", "confidence", "low", "high", "places"), SHARES)
def test_exact_limits(over: int, loads: int, confidence: float, low: float, high: float, places: int) -> None:
    (found,) = exact_share_limits(pl.Series([over]), pl.Series([loads]), confidence).rows()
    assert found == pytest.approx((low, high), abs=0.51 * 10**-places)


# From memory, as every printed table of Student's t has them: freedom, upper tail, t.
T = [
    (1, 0.05, 6.314), (2, 0.05, 2.920), (5, 0.05, 2.015), (10, 0.05, 1.812), (30, 0.05, 1.697), (120, 0.05, 1.658),
    (1, 0.025, 12.706), (10, 0.025, 2.228), (4, 0.01, 3.747), (20, 0.01, 2.528), (10, 0.1, 1.372), (60, 0.1, 1.296),
]  # fmt: skip


@pytest.mark.parametrize(("freedom", "tail", "t"), T)
def test_the_normal_margin_is_students_t_times_the_scatter(freedom: int, tail: float, t: float) -> None:
    weights = [80_000, *range(81_000, 81_000 + 100 * freedom, 100)]
    rows = pl.DataFrame({"g": ["A"] * len(weights), "gross_weight_lb": weights, "limit": [88_000.0] * len(weights)})
    (found,) = overload_margins(rows, ["g"], "limit", tail, 2).to_dicts()
    mean = sum(weights) / len(weights)
    sd = math.sqrt(sum((w - mean) ** 2 for w in weights) / freedom)
    assert found["normal_margin_lb"] / sd == pytest.approx(t, abs=0.00051)
