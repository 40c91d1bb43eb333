"""Numbers and units in words: one load, two loads; 48 flashes "per minute" and not "1/min"."""

from __future__ import annotations

import math
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

BARE: Final = frozenset({"", "share", "count", "words"})
"""Units that are not said."""
SPOKEN: Final = {
    "1/min": ("per minute", "per minute"), "mile": ("mile", "miles"), "mile/h": ("mile an hour", "miles an hour"),
    "acre": ("acre", "acres"), "degree": ("degree", "degrees"), "degree F": ("degree F", "degrees F"),
    "year": ("year", "years"), "ft2/acre": ("square foot an acre", "square feet an acre"),
    "lb/acre": ("lb an acre", "lb an acre"), "trees/acre": ("tree an acre", "trees an acre"),
    "ft2": ("square foot", "square feet"), "in2": ("square inch", "square inches"),
    "yd3": ("cubic yard", "cubic yards"), "ft3/s": ("cubic foot a second", "cubic feet a second"),
}  # fmt: skip
"""Unit -> how it is said beside one, and beside another number."""

MONTHS: Final = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def day_text(on: date) -> str:
    """A day.

    >>> day_text(date(2026, 5, 4))
    '4 May 2026'
    """
    return f"{on.day} {MONTHS[on.month - 1]} {on.year}"


def number_text(value: float) -> str:
    """A number with thousands separators and three decimals at most.

    >>> number_text(84320.0), number_text(13.5), number_text(1 / 6)
    ('84,320', '13.5', '0.167')
    """
    if not math.isfinite(value):
        raise ValueError(f"only finite numbers have words, found {value}")
    text = f"{Decimal(repr(float(value))).quantize(Decimal('0.001'), ROUND_HALF_UP):,f}"
    text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def unit_word(value: float, unit: str | None) -> str:
    """The unit as it is said beside a value: "flag" beside 1, "flags" beside 2; empty for a bare number."""
    if unit is None or unit in BARE:
        return ""
    one, many = SPOKEN.get(unit, (unit.removesuffix("s"), unit))
    return one if abs(value) == 1 else many


def quantity_text(value: float, unit: str | None) -> str:
    """A number with its unit.

    >>> quantity_text(84320, "lb"), quantity_text(1, "flags"), quantity_text(48, "1/min"), quantity_text(63, "mile")
    ('84,320 lb', '1 flag', '48 per minute', '63 miles')
    """
    return f"{number_text(value)} {unit_word(value, unit)}".rstrip()


def count_text(count: int, one: str, many: str | None = None) -> str:
    """A count of things.

    >>> count_text(1, "load"), count_text(3, "load"), count_text(1200, "load")
    ('1 load', '3 loads', '1,200 loads')
    """
    return f"{count:,} {one if count == 1 else many or one + 's'}"
