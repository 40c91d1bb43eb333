"""Working days and hours between events."""

from __future__ import annotations

from datetime import date, time
from typing import Any

import polars as pl
import pytest

from auditor.measures.deadlines import (
    day_of_common_year,
    days_after,
    days_or_so_far,
    hours_after,
    working_days_after,
    years_after,
)


@pytest.mark.parametrize(
    ("done", "since", "expected"),
    [
        (date(2026, 3, 11), date(2026, 3, 6), 3),  # Friday to Wednesday: Monday, Tuesday, Wednesday
        (date(2026, 3, 6), date(2026, 3, 6), 0),
        (date(2026, 3, 8), date(2026, 3, 6), 0),  # a Sunday
        (date(2026, 3, 6), date(2026, 3, 11), -3),
        (date(2026, 5, 27), date(2026, 5, 22), 2),  # Monday 25 May is the holiday
        (None, date(2026, 3, 6), None),
        (date(2026, 3, 6), None, None),
    ],
)
def test_working_days(done: Any, since: Any, expected: Any) -> None:
    frame = pl.DataFrame({"d": [done], "s": [since]}, schema={"d": pl.Date, "s": pl.Date})
    assert frame.select(working_days_after(pl.col("d"), pl.col("s"), holidays=[date(2026, 5, 25)])).item() == expected


@pytest.mark.parametrize(
    ("done", "since", "expected"),
    [
        ((date(2026, 3, 7), time(9, 30)), (date(2026, 3, 6), time(9, 0)), (24.5, 24.5)),
        ((date(2026, 3, 6), time(8, 0)), (date(2026, 3, 6), time(9, 0)), (-1, -1)),
        ((date(2026, 3, 7), None), (date(2026, 3, 6), time(9, 0)), (15, 39)),  # midnight to midnight of the 7th
        ((date(2026, 3, 7), time(9, 0)), (date(2026, 3, 6), None), (9, 33)),
        ((date(2026, 3, 7), None), (date(2026, 3, 6), None), (0, 48)),
        ((None, time(9, 0)), (date(2026, 3, 6), time(9, 0)), (None, None)),
    ],
)
def test_hours(done: Any, since: Any, expected: Any) -> None:
    schema = {"d": pl.Date, "e": pl.Time, "s": pl.Date, "t": pl.Time}
    frame = pl.DataFrame([(*done, *since)], schema=schema, orient="row")
    assert frame.select(**hours_after(*[pl.col(c) for c in "dest"])).row(0) == expected


@pytest.mark.parametrize(
    ("done", "so_far", "undone", "expected"),
    [
        (12, 40, False, (12, 12)),
        (12, 5, True, (12, 12)),  # bare on day 5, covered on day 12
        (None, 40, True, (40, None)),
        (None, 0, True, (0, None)),
        (None, -1, True, (None, None)),  # looked at before the event
        (None, None, True, (None, None)),
        (None, 40, False, (None, None)),
        (None, 40, None, (None, None)),
        (-2, None, None, (-2, -2)),
    ],
)
def test_days_until_done_or_so_far_without(done: Any, so_far: Any, undone: Any, expected: Any) -> None:
    frame = pl.DataFrame([(done, so_far, undone)], schema={"d": pl.Int64, "s": pl.Int64, "u": pl.Boolean}, orient="row")
    assert frame.select(**days_or_so_far(pl.col("d"), pl.col("s"), pl.col("u"))).row(0) == expected


def _between(measure: Any, done: Any, since: Any) -> Any:
    frame = pl.DataFrame({"d": [done], "s": [since]}, schema={"d": pl.Date, "s": pl.Date})
    return frame.select(measure(pl.col("d"), pl.col("s"))).item()


@pytest.mark.parametrize(
    ("done", "since", "days"),
    [
        (date(2024, 3, 1), date(2024, 2, 28), 2),  # over 29 February
        (date(2023, 3, 1), date(2023, 2, 28), 1),
        (date(2024, 2, 28), date(2024, 3, 1), -2),
        (None, date(2024, 3, 1), None),
        (date(2024, 3, 1), None, None),
    ],
)
def test_calendar_days(done: Any, since: Any, days: Any) -> None:
    assert _between(days_after, done, since) == days


@pytest.mark.parametrize(
    ("done", "since", "years"),
    [
        (date(2024, 3, 20), date(2009, 3, 20), 15),
        (date(2024, 3, 19), date(2009, 3, 20), 14 + 365 / 366),  # the year to 20 March 2024 has a 29 February
        (date(2024, 3, 21), date(2009, 3, 20), 15 + 1 / 365),
        (date(2024, 7, 1), date(2024, 7, 1), 0),
        (date(2025, 2, 28), date(2024, 2, 29), 1),  # the 28th stands for the 29th
        (date(2028, 2, 29), date(2024, 2, 29), 4),
        (date(2009, 3, 19), date(2009, 3, 20), None),
        (None, date(2009, 3, 20), None),
        (date(2009, 3, 20), None, None),
    ],
)
def test_years(done: Any, since: Any, years: Any) -> None:
    assert _between(years_after, done, since) == (None if years is None else pytest.approx(years, abs=1e-12))


@pytest.mark.parametrize(
    ("day", "number"),
    [
        (date(2023, 1, 1), 1), (date(2024, 2, 28), 59), (date(2024, 2, 29), 59), (date(2024, 3, 1), 60),
        (date(2023, 3, 1), 60), (date(2023, 12, 31), 365), (date(2024, 12, 31), 365), (date(2000, 12, 31), 365),
        (date(1900, 3, 1), 60), (None, None),
    ],
)  # fmt: skip
def test_day_of_a_year_without_29_february(day: Any, number: Any) -> None:
    # 31 + 28 days to the end of February; 1900 was no leap year, 2000 was one
    assert pl.select(day_of_common_year(pl.lit(day, dtype=pl.Date))).item() == number
