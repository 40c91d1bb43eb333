"""How long after an event something was done: in working days and in hours."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import polars as pl


def working_days_after(done_on: pl.Expr, since: pl.Expr, *, holidays: Sequence[date]) -> pl.Expr:
    """Working days from one day to another, the first not counted and the last counted; negative before it.

    Parameters: dates; working days are Monday to Friday without the `holidays`, which a place's law names.

    Null where either is null.

    Source: common practice of counting days (the first day is left out); Code of Va. 10.1-1181.2(H), 02 NCAC 60C .0203.
    """
    day, free = pl.duration(days=1), list(holidays)
    later = pl.business_day_count(since + day, done_on + day, holidays=free)
    earlier = pl.business_day_count(done_on + day, since + day, holidays=free)
    return pl.when(done_on >= since).then(later).when(done_on < since).then(-earlier)


def hours_after(done_on: pl.Expr, done_at: pl.Expr, since_on: pl.Expr, since_at: pl.Expr) -> dict[str, pl.Expr]:
    """Hours from one event to another: expressions `lo` and `hi`; negative where it was done before.

    Parameters: days and clock times of the day. A blank time may be any of its day, which widens the range by up to
    24 hours at either end. Null where a day is null. Summer time is not looked at: an event across the change of the
    clocks is off by one hour.

    Source: arithmetic; O.C.G.A. 12-6-24(a) (Code), 30 TAC 327.3 count in hours.
    """
    first = since_on.cast(pl.Datetime("us"))
    second = done_on.cast(pl.Datetime("us"))
    day, none = pl.duration(hours=24), pl.duration(hours=0)

    def clock(at: pl.Expr, blank: pl.Expr) -> pl.Expr:
        return pl.when(at.is_null()).then(blank).otherwise(at.cast(pl.Duration("us")))

    def hours(least: pl.Expr) -> pl.Expr:
        return least.dt.total_microseconds() / 3_600_000_000

    low = second + clock(done_at, none) - (first + clock(since_at, day))
    high = second + clock(done_at, day) - (first + clock(since_at, none))
    return {"lo": hours(low), "hi": hours(high)}
