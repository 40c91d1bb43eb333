"""Intervals in ISO 80000-2 notation, such as "(40, 96]": a round bracket leaves the end out, a square one takes it in."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

_FORM = re.compile(r"^\s*([\[(])\s*([^,\s]+)\s*,\s*([^,\s]+)\s*([\])])\s*$")


@dataclass(frozen=True, slots=True)
class Interval:
    """A range of numbers; `takes_low` and `takes_high` say whether its ends belong to it."""

    low: float
    high: float
    takes_low: bool
    takes_high: bool

    def holds(self, value: float) -> bool:
        """Whether `value` lies inside."""
        above = value >= self.low if self.takes_low else value > self.low
        below = value <= self.high if self.takes_high else value < self.high
        return above and below

    def __str__(self) -> str:
        return f"{'[' if self.takes_low else '('}{_text(self.low)}, {_text(self.high)}{']' if self.takes_high else ')'}"


def _text(value: float) -> str:
    return "-inf" if value == -math.inf else "inf" if value == math.inf else f"{value:g}"


def parse_interval(text: str) -> Interval:
    """Read an interval; raises ValueError with what is wrong with it.

    >>> parse_interval("(40, 96]").holds(40)
    False
    """
    form = _FORM.match(text)
    if form is None:
        raise ValueError(f'"{text}" is not an interval such as "[20, 40)"')
    try:
        low, high = float(form[2]), float(form[3])
    except ValueError:
        raise ValueError(f'the ends of "{text}" are not numbers') from None
    if math.isnan(low) or math.isnan(high) or low > high:
        raise ValueError(f'the ends of "{text}" are not in order')
    if low == high and (form[1], form[4]) != ("[", "]"):
        raise ValueError(f'"{text}" holds nothing')
    return Interval(low, high, form[1] == "[", form[4] == "]")
