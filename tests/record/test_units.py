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
        ("acre", "ft2", Fraction(43_560)),  # by definition
        ("mile2", "acre", Fraction(640)),  # by definition
        ("barrel", "gal", Fraction(42)),  # by definition
        ("l", "gal", 1 / Fraction("3.785411784")),  # 231 x 2.54^3 / 1000 litres to the gallon
        ("m2/ha", "ft2/acre", Fraction("4.356")),  # 43,560 / 10,000
        ("kg/ha", "lb/acre", Fraction("0.40468564224") / Fraction("0.45359237")),  # acre in ha / pound in kg
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
