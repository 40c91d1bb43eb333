"""How much warmer the water is below a harvest than above it."""

from __future__ import annotations

from datetime import date, time
from typing import Any

import polars as pl
import pytest

from auditor.measures.water import temperature_rises_f

DAY = date(2026, 7, 14)
SCHEMA = {
    "job": pl.String, "stream": pl.String, "position": pl.String, "read_on": pl.Date, "read_at": pl.Time,
    "water_temperature_f": pl.Float64, "temperature_uncertainty_f": pl.Float64,
}  # fmt: skip
ABOVE = ("J", "S", "above", DAY, time(12, 0), 66.0, 0.5)
BELOW = ("J", "S", "below", DAY, time(12, 30), 69.0, 0.25)


def rises(*readings: tuple[Any, ...], within_h: float = 1.0) -> list[tuple[Any, ...]]:
    frame = pl.DataFrame(readings, schema=SCHEMA, orient="row")
    return temperature_rises_f(frame, within_h=within_h).rows()


def changed(reading: tuple[Any, ...], **fields: Any) -> tuple[Any, ...]:
    return tuple({**dict(zip(SCHEMA, reading, strict=True)), **fields}.values())


def test_the_rise_is_the_difference_and_the_doubts_add() -> None:
    # 69 - 66 = 3; 0.25 + 0.5 = 0.75; half an hour
    assert rises(ABOVE, BELOW) == [(None, None, None), (3.0, 0.75, 0.5)]
    assert rises(BELOW, changed(ABOVE, position="above"), changed(BELOW, position="beside", water_temperature_f=65.0)) == [
        (3.0, 0.75, 0.5), (None, None, None), (-1.0, 0.75, 0.5),
    ]  # fmt: skip


@pytest.mark.parametrize(("at", "found"), [(time(13, 0), True), (time(13, 1), False), (time(11, 0), True), (time(10, 59), False)])  # fmt: skip
def test_only_a_reading_of_about_the_same_time_is_held_against_it(at: time, found: bool) -> None:
    assert (rises(ABOVE, changed(BELOW, read_at=at))[1][0] is not None) is found


def test_the_nearest_in_time_counts_and_of_two_the_earlier() -> None:
    later = changed(ABOVE, read_at=time(12, 40), water_temperature_f=68.0)
    assert rises(ABOVE, later, BELOW)[2][0] == 1.0  # 10 minutes against 30
    as_near = changed(ABOVE, read_at=time(13, 0), water_temperature_f=60.0)
    assert rises(as_near, ABOVE, BELOW)[2][0] == 3.0


@pytest.mark.parametrize(
    "other",
    [
        {"job": "K"}, {"stream": "T"}, {"read_on": date(2026, 7, 15)}, {"read_at": None}, {"water_temperature_f": None},
        {"position": "beside"}, {"position": None}, {"read_on": None},
    ],
)  # fmt: skip
def test_what_is_no_reading_above(other: dict[str, Any]) -> None:
    assert rises(changed(ABOVE, **other), BELOW)[1] == (None, None, None)


def test_a_blank_doubt_leaves_that_of_the_rise_blank() -> None:
    assert rises(changed(ABOVE, temperature_uncertainty_f=None), BELOW)[1] == (3.0, None, 0.5)
    assert rises() == []
