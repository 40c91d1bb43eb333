"""Quantiles of the beta distribution and of Student's t, found by halving: no distribution library is needed."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

_HALVINGS = 64
_TINY = 1e-300
Numbers = NDArray[np.float64]


def student_quantile(upper_tail: float, freedom: Numbers) -> Numbers:
    """Student's t that is exceeded with the chance `upper_tail`, without unit, for each number of degrees of freedom.

    Parameters: `upper_tail` more than 0 and below 0.5; `freedom` an array of any length, each more than 0. NaN freedom
    gives NaN. Raises ValueError for a tail out of range.

    Source: Student 1908, Biometrika 6, 1-25, doi:10.1093/biomet/6.1.1; by the beta quantile, NIST DLMF 8.17.
    """
    if not 0 < upper_tail < 0.5:
        raise ValueError(f"an upper tail lies between 0 and 0.5, found {upper_tail}")
    x = beta_quantile(np.full(len(freedom), 2 * upper_tail), freedom / 2, np.full(len(freedom), 0.5))
    return np.asarray(np.sqrt(freedom * (1 - x) / x))


def beta_quantile(share: Numbers, a: Numbers, b: Numbers) -> Numbers:
    """Where the beta distribution with parameters `a`, `b` reaches `share`, without unit; arrays of equal length.

    Parameters: `share` 0 to 1, `a` and `b` more than 0. Nothing is checked, and NaN gives no answer worth having.

    Source: by definition, the inverse of the regularized incomplete beta function, NIST DLMF 8.17.4 and 8.17.22.
    """
    low, high = np.zeros(len(share)), np.ones(len(share))
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        below = _beta_share(middle, a, b) < share
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray((low + high) / 2)


def _beta_share(x: Numbers, a: Numbers, b: Numbers) -> Numbers:
    """The regularized incomplete beta function I_x(a, b), 0 < x < 1; NIST DLMF 8.17.4 and 8.17.22."""
    swap = x > (a + 1) / (a + b + 2)
    a, b, x = np.where(swap, b, a), np.where(swap, a, b), np.where(swap, 1 - x, x)
    gammas = [math.lgamma(p + q) - math.lgamma(p) - math.lgamma(q) for p, q in zip(a, b, strict=True)]
    with np.errstate(divide="ignore", under="ignore"):
        front = np.exp(np.array(gammas) + a * np.log(x) + b * np.log1p(-x)) / a
    share = front / _continued_fraction(x, a, b)
    return np.where(swap, 1 - share, share)


def _continued_fraction(x: Numbers, a: Numbers, b: Numbers) -> Numbers:
    """The denominator 1 + d1/(1 + d2/(1 + ...)) of DLMF 8.17.22, from the front by Lentz's method."""
    value = np.ones(len(x))
    c, d = np.ones(len(x)), np.zeros(len(x))
    # It converges in about the square root of the greater parameter.
    for step in range(1, 200 + 20 * math.isqrt(int(max(a.max(initial=1), b.max(initial=1))))):
        m = step // 2
        if step % 2:
            term = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        else:
            term = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        d = 1 + term * d
        d = 1 / np.where(np.abs(d) < _TINY, _TINY, d)
        c = 1 + term / c
        c = np.where(np.abs(c) < _TINY, _TINY, c)
        value = value * c * d
        if np.all(np.abs(c * d - 1) < 1e-15):
            break
    return value
