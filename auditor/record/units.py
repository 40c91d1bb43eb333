"""Units a user may write, each an exact number of the base unit of its quantity."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

_LB: Final = Fraction(1)
_FT: Final = Fraction(1)
_KG: Final = 1 / Fraction("0.45359237")
_M: Final = 1 / Fraction("0.3048")
_ACRE: Final = Fraction(43_560)
_HA: Final = 10_000 * _M**2

# Quantity -> unit -> size in pounds, feet, hours, or parts of one.
# International yard and pound agreement of 1959: 1 yd = 0.9144 m, 1 lb = 0.45359237 kg. 1 gal = 231 cubic inches.
_QUANTITIES: Final[dict[str, dict[str, Fraction]]] = {
    "mass": {
        "lb": _LB,
        "oz": Fraction(1, 16),
        "cwt": 100 * _LB,
        "short_ton": 2000 * _LB,
        "long_ton": 2240 * _LB,
        "kg": _KG,
        "metric_ton": 1000 * _KG,
    },
    "length": {
        "ft": _FT,
        "in": _FT / 12,
        "yd": 3 * _FT,
        "mile": 5280 * _FT,
        "m": _M,
        "cm": _M / 100,
        "mm": _M / 1000,
        "km": 1000 * _M,
    },
    "time": {"h": Fraction(1), "min": Fraction(1, 60), "s": Fraction(1, 3600)},
    "share": {"share": Fraction(1), "percent": Fraction(1, 100)},
    "rate": {"1/min": Fraction(1), "1/s": Fraction(60)},
    "area": {
        "ft2": Fraction(1),
        "in2": Fraction(1, 144),
        "acre": _ACRE,
        "mile2": Fraction(5280) ** 2,
        "m2": _M**2,
        "cm2": _M**2 / 10_000,
        "ha": _HA,
    },
    "volume": {
        "gal": Fraction(231, 1728),
        "barrel": 42 * Fraction(231, 1728),
        "l": _M**3 / 1000,
        "yd3": Fraction(27),
        "m3": _M**3,
    },
    "stems an area": {"trees/acre": 1 / _ACRE, "trees/ha": 1 / _HA},
    "basal area": {"ft2/acre": 1 / _ACRE, "m2/ha": _M**2 / _HA},
    "mass an area": {"lb/acre": 1 / _ACRE, "kg/ha": _KG / _HA},
}
UNITS: Final = {unit: quantity for quantity, units in _QUANTITIES.items() for unit in units}

_WRITTEN: Final = {
    "lb": ("lb", "lbs", "pound", "pounds"),
    "kg": ("kg", "kgs"),
    "short_ton": ("tons", "ton", "short tons", "short ton"),
    "metric_ton": ("t", "tonnes", "tonne", "metric tons"),
    "long_ton": ("long tons", "long ton"),
    "ft": ("ft", "feet", "foot", "'"),
    "in": ("in", "inch", "inches", '"'),
    "yd": ("yd", "yds", "yards"),
    "mile": ("mile", "miles", "mi"),
    "m": ("m",),
    "cm": ("cm",),
    "mm": ("mm",),
    "km": ("km",),
    "h": ("h", "hr", "hrs", "hour", "hours"),
    "min": ("min", "mins", "minutes"),
    "percent": ("%", "percent"),
    "acre": ("ac", "acre", "acres"),
    "ha": ("ha", "hectares", "hectare"),
    "ft2": ("ft2", "sq ft", "square feet"),
    "gal": ("gal", "gallon", "gallons"),
    "l": ("l", "litres", "liters"),
    "degree": ("deg", "degree", "degrees"),
}


def written_forms(unit: str) -> tuple[str, ...]:
    """How people write the unit behind a number; the unit's own name for one without usual forms."""
    return _WRITTEN.get(unit, (unit,))


def units_like(unit: str | None) -> tuple[str, ...]:
    """The units that measure the same quantity as `unit`; none for a count or an unknown unit."""
    quantity = UNITS.get(unit or "")
    return tuple(_QUANTITIES[quantity]) if quantity else ()


def factor(unit: str, into: str) -> Fraction:
    """Exact number of `into` in one `unit`; raises ValueError when they do not measure the same quantity."""
    if unit not in units_like(into):
        raise ValueError(f"{unit} cannot be converted to {into}")
    sizes = _QUANTITIES[UNITS[into]]
    return sizes[unit] / sizes[into]


def factor_text(unit: str, into: str) -> str:
    """The factor in words: "2,000 lb", or "2.20462262 lb (1 lb = 0.45359237 kg)" where the decimals never end."""
    size = factor(unit, into)
    if _ends(size):
        return f"{_decimal(size)} {into}"
    back = f" (1 {into} = {_decimal(1 / size)} {unit})" if _ends(1 / size) else ""
    return f"{float(size):.9g} {into}{back}"


def _ends(number: Fraction) -> bool:
    rest = number.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    return rest == 1


def _decimal(number: Fraction) -> str:
    if number.denominator == 1:
        return f"{number.numerator:,}"
    places = 0
    while (number * 10**places).denominator != 1:
        places += 1
    digits = str(abs((number * 10**places).numerator)).rjust(places + 1, "0")
    return f"{digits[:-places]}.{digits[-places:]}"
