from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.record.units import UNITS, factor, factor_text, units_like


@pytest.mark.parametrize(
    ("unit", "into", "size"),
    [
        ("short_ton", "lb", Fraction(2000)),  # by definition
        ("long_ton", "lb", Fraction(2240)),  # by definition
        ("kg", "lb", 1 / Fraction("0.45359237")),  # international pound of 1959
        ("metric_ton", "lb", 1000 / Fraction("0.45359237")),
        ("m", "ft", 1 / Fraction("0.3048")),  # international foot of 1959
        ("cm", "in", 1 / Fraction("2.54")),
        ("yd", "ft", Fraction(3)),
        ("mile", "ft", Fraction(5280)),
        ("km", "mile", 1 / Fraction("1.609344")),  # 5280 x 0.3048 m
        ("min", "h", Fraction(1, 60)),
        ("percent", "share", Fraction(1, 100)),
    ],
)
def test_factors(unit: str, into: str, size: Fraction) -> None:
    assert factor(unit, into) == size


def test_units_of_other_quantities_do_not_convert() -> None:
    with pytest.raises(ValueError, match="kg cannot be converted to ft"):
        factor("kg", "ft")
    assert units_like("logs") == ()
    assert units_like(None) == ()


def test_factor_in_words() -> None:
    assert factor_text("short_ton", "lb") == "2,000 lb"
    assert factor_text("m", "ft") == "3.2808399 ft (1 ft = 0.3048 m)"
    assert factor_text("percent", "share") == "0.01 share"


@given(st.sampled_from(sorted(UNITS)), st.data())
def test_there_and_back_is_exact(unit: str, data: st.DataObject) -> None:
    other = data.draw(st.sampled_from(units_like(unit)))
    assert factor(unit, other) * factor(other, unit) == 1
