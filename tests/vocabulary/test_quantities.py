"""Figures as they are shown: no finer than what measures them, never on the wrong side of a limit."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.vocabulary.quantities import ONE_DECIMAL, rounded


@pytest.mark.parametrize(
    ("value", "unit", "down", "nearest", "up"),
    [
        (7.23506, "ft", 7.2, 7.2, 7.3),  # computed: one decimal
        (13.83, "ft", 13.83, 13.83, 13.83),  # two decimals were read off a tape
        (13 + 10 / 12, "ft", 13.83, 13.83, 13.84),  # ten inches over thirteen feet
        (13.8336, "ft", 13.8, 13.8, 13.9),  # 166.003 inches: no whole number of them
        (2 / 14 * 100, "percent", 14.2, 14.3, 14.3),  # 14.2857
        (8296.667, "lb", 8296, 8297, 8297),
        (100.0004, "lb", 100, 100, 101),
        (99.96, "lb", 99.96, 99.96, 99.96),
        (99.955, "lb", 99.9, 100, 100),
        (1 / 6, "share", 0.166, 0.167, 0.167),
        (0.0004, "share", 0, 0.0004, 0.001),  # to the nearest it is never shown as nothing
        (-2.345, "in", -2.4, -2.3, -2.3),
        (0.1 + 0.2, "ft", 0.3, 0.3, 0.3),  # 0.30000000000000004 is no thirty-one hundredths
        (3.0, None, 3, 3, 3),
    ],
)
def test_how_figures_are_rounded(value: float, unit: str | None, down: float, nearest: float, up: float) -> None:
    found = [rounded(value, unit, up=False), rounded(value, unit), rounded(value, unit, up=True)]
    assert found == [down, nearest, up]


@given(
    st.floats(0.001, 90_000, allow_nan=False),
    st.floats(0.001, 90_000, allow_nan=False),
    st.sampled_from([*ONE_DECIMAL, "share", "acre"]),
)
def test_who_is_past_a_limit_never_reads_as_keeping_it(found: float, limit: float, unit: str) -> None:
    off = round(abs(found - limit), 6)
    if off:
        above = found > limit
        shown, bound = rounded(found, unit, up=above), rounded(limit, unit, up=not above)
        assert (shown > bound) if above else (shown < bound)
        margin = rounded(off, unit, up=True)
        assert margin >= off > 0
        step = 1 if unit == "lb" else 0.1
        assert math.isclose(shown, found, abs_tol=step + 1e-6)
