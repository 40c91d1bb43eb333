"""Quantiles of Student's t and of the beta distribution against closed forms and printed tables."""

from __future__ import annotations

import math

import numpy as np
import pytest

from auditor.measures.student import beta_quantile, student_quantile


@pytest.mark.parametrize("tail", [0.4, 0.1, 0.025, 0.001])
def test_one_and_two_degrees_of_freedom_have_closed_forms(tail: float) -> None:
    # one: the Cauchy distribution, t = tan(pi (1/2 - tail)); two: t = (1 - 2 tail) / sqrt(2 tail (1 - tail))
    one, two = student_quantile(tail, np.array([1.0, 2.0]))
    assert one == pytest.approx(math.tan(math.pi * (0.5 - tail)), rel=1e-9)
    assert two == pytest.approx((1 - 2 * tail) / math.sqrt(2 * tail * (1 - tail)), rel=1e-9)


def test_printed_values() -> None:
    # Printed t tables, upper tail 0.025, for 4, 9, 30 and 120 degrees of freedom.
    found = student_quantile(0.025, np.array([4.0, 9.0, 30.0, 120.0]))
    assert found == pytest.approx([2.776, 2.262, 2.042, 1.980], abs=0.0006)


@pytest.mark.parametrize("tail", [0.0, 0.5, -0.1, 1.0, math.nan])
def test_a_tail_out_of_range_is_refused(tail: float) -> None:
    with pytest.raises(ValueError, match="upper tail"):
        student_quantile(tail, np.array([4.0]))


@pytest.mark.parametrize("share", [0.001, 0.3, 0.5, 0.95])
def test_the_beta_distribution_where_it_is_a_power(share: float) -> None:
    # a = 3, b = 1: the share below x is x^3; a = 1, b = 4: it is 1 - (1 - x)^4
    found = beta_quantile(np.array([share, share]), np.array([3.0, 1.0]), np.array([1.0, 4.0]))
    assert found == pytest.approx([share ** (1 / 3), 1 - (1 - share) ** 0.25], rel=1e-9)
