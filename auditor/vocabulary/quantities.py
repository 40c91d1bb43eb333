"""Numbers and units in words: one load, two loads; 48 flashes "per minute" and not "1/min"."""

from __future__ import annotations

import math
from datetime import date
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal
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

ONE_DECIMAL: Final = (
    "ft", "in", "lb", "mile", "mile/h", "miles an hour", "percent", "%", "points", "h", "hours", "days", "year", "years",
    "degree", "degrees", "degree F", "gal", "ft2", "in2", "ft2/acre", "lb/acre", "trees/acre", "seedlings/acre",
    "flashes a minute",
)  # fmt: skip
"""Units in which a computed figure is shown with one decimal: no tape, scale or clock of the field tells more."""
INCH_DOUBT: Final = Decimal("0.0005")
"""Feet are whole inches if they are so many inches off one at most."""
WHOLE_POUNDS_FROM: Final = 100
"""From so many pounds on no scale shows parts of a pound."""

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


def rounded(value: float, unit: str | None, up: bool | None = None) -> float:
    """A figure as it is shown: one decimal, of what is small in its unit three, whole pounds from 100 lb on.

    What has two decimals at most or, in feet, is a whole number of inches was recorded so and is not cut further. `up` says
    to which side to round, so that a figure beside a limit never reads as on the other side; None is to the nearest.

    >>> rounded(7.2345, "ft", up=True), rounded(25.7655, "ft", up=False), rounded(13.83, "ft"), rounded(8296.667, "lb")
    (7.3, 25.7, 13.83, 8297.0)
    """
    # Six decimals, so that the noise of computing pushes no figure over an edge.
    exact = Decimal(repr(float(value))).quantize(Decimal("0.000001"), ROUND_HALF_UP)
    if unit == "lb" and abs(exact) >= WHOLE_POUNDS_FROM:
        step = Decimal(1)
    elif exact == exact.quantize(Decimal("0.01")) or (
        unit == "ft" and abs(exact * 12 - round(exact * 12)) < INCH_DOUBT
    ):
        step = Decimal("0.01")
    else:
        step = Decimal("0.1") if unit in ONE_DECIMAL else Decimal("0.001")
    to = ROUND_HALF_UP if up is None else ROUND_CEILING if up else ROUND_FLOOR
    shown = float(exact.quantize(step, to))
    return value if shown == 0 and up is None else shown


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
