"""Working days and hours between events."""

from __future__ import annotations

from datetime import date, time
from typing import Any

import polars as pl
import pytest

from auditor.measures.deadlines import hours_after, working_days_after


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
