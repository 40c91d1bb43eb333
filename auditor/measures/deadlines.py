"""How long after an event something was done: in days, working days, hours and years; the day of the year."""

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


def days_after(done_on: pl.Expr, since: pl.Expr) -> pl.Expr:
    """Calendar days from one day to another, the first not counted; negative before it.

    Parameters: dates. Null where either is null.

    Source: by definition, a difference of calendar days.
    """
    return (done_on - since).dt.total_days()


def days_or_so_far(done: pl.Expr, so_far: pl.Expr, undone: pl.Expr) -> dict[str, pl.Expr]:
    """Days until something was done, or so far without it: expressions `lo` and `hi`.

    Parameters: `done` days from an event until it was done; `so_far` days from the event until it was looked at (days,
    0 or more; negative is no answer); `undone` (yes or no) it was not done yet when looked at.

    Done: both ends alike. Not done when looked at: at least so far, since it may have been done later that day, and no
    upper end. Else both null: a blank day is no evidence.

    Source: by definition.
    """
    low = pl.when(done.is_not_null()).then(done).when(undone & (so_far >= 0)).then(so_far)
    return {"lo": low, "hi": done}


def years_after(done_on: pl.Expr, since: pl.Expr) -> pl.Expr:
    """Years from one day to another: whole ones by anniversary, the rest as a share of the year it lies in.

    So 15 years are full on the fifteenth anniversary, leap years or not; 29 February has its anniversary on the 28th.

    Parameters: dates, the second not before the first. Null where either is null or the order is the reverse.

    Source: by definition of a calendar year.
    """
    whole = done_on.dt.year() - since.dt.year()
    early = since.dt.offset_by(pl.format("{}y", whole)) > done_on
    years = pl.when(early).then(whole - 1).otherwise(whole)
    last, following = (since.dt.offset_by(pl.format("{}y", years + k)) for k in (0, 1))
    part = (done_on - last).dt.total_days() / (following - last).dt.total_days()
    return pl.when(done_on >= since).then(years + part)


def day_of_common_year(day: pl.Expr) -> pl.Expr:
    """Number of a day in its year as if no year had a 29 February, 1 to 365; that day itself is 59, as the 28th.

    Parameters: dates; days. Null where the date is null.

    Source: by definition; sowing seasons run from one day and month to another (common practice).
    """
    return day.dt.ordinal_day().cast(pl.Int64) - (day.dt.is_leap_year() & (day.dt.ordinal_day() >= 60)).cast(pl.Int64)


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
