"""Looks at the load on the way: how many, how early, and the longest stretch without one."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

_LOAD = ("job", "load")


def _steps(looks: pl.DataFrame, at: str) -> pl.DataFrame:
    """Per load: the longest step from zero through the sorted readings, and the last reading; null if one is blank."""
    before = pl.when(pl.col("_trip") == pl.col("_trip").shift(1)).then(pl.col(at).shift(1)).otherwise(0.0)
    stepped = looks.select("_trip", at).sort("_trip", at, nulls_last=True).with_columns(_step=pl.col(at) - before)
    known = pl.col(at).null_count() == 0
    return stepped.group_by("_trip").agg(
        pl.when(known).then(pl.col("_step").max()).alias("_step"), pl.when(known).then(pl.col(at).max()).alias("_last")
    )


def trip_miles(legs: pl.DataFrame, *, keys: Sequence[str] = ("job", "destination")) -> pl.DataFrame:
    """Length of the whole way to each destination, in miles: `keys` and `trip_miles`.

    `legs`: one row per stretch of road with `keys` and `miles` (0 or more). Null where the length of one stretch is
    blank; a destination without stretches has no row.

    Source: sum of the stretches, by definition.
    """
    whole = pl.when(pl.col("miles").null_count() == 0).then(pl.col("miles").sum())
    return legs.group_by(keys, maintain_order=True).agg(whole.alias("trip_miles"))


def checks_on_the_way(load_checks: pl.DataFrame, trips: pl.DataFrame, *, keys: Sequence[str] = _LOAD) -> pl.DataFrame:
    """What the record shows of the looks at each load and its tiedowns.

    `load_checks`: one row per look with `keys`, `miles_from_start` (mile, 0 or more) and `hours_from_start` (h of
    driving, 0 or more). `trips`: one row per load with `keys` and `trip_miles` (mile). Gives `keys`, in the order
    of `trips`, and

    - `check_count`: looks recorded, the one at the start too;
    - `first_check_miles`: mile of the first look after mile 0; null if there is none;
    - `check_gap_miles`: longest stretch without a look, from the start through all looks to the end of the trip
      (a look beyond the end of the trip closes it);
    - `check_gap_h`: longest driving time without a look, from the start to the last look (the length of the trip
      in hours is not in the record);
    - `checked_before_driving`: one look was at mile 0.

    A load without rows: all null, for no row is no evidence. A load with rows is taken to have all its looks listed.
    A look at 0 h is at mile 0, and the other way round. Otherwise a blank mile or hour makes null what it could
    change; a blank trip length makes `check_gap_miles` null.

    Source: 49 CFR 392.9(b)(1)-(3).
    """
    miles, hours, c = pl.col("miles_from_start"), pl.col("hours_from_start"), pl.col
    trips = trips.select(*keys, "trip_miles").with_row_index("_trip")
    looks = load_checks.join(trips, on=keys, how="inner").select(
        "_trip",
        miles_from_start=pl.when(miles.is_null() & (hours == 0)).then(0.0).otherwise(miles),
        hours_from_start=pl.when(hours.is_null() & (miles == 0)).then(0.0).otherwise(hours),
    )
    counted = (
        looks.with_columns(_under_way=pl.when(miles > 0).then(miles), _at_start=(miles == 0).cast(pl.Int8))
        .group_by("_trip")
        .agg(
            pl.len().cast(pl.Int64).alias("check_count"),
            c("_under_way").min(),
            c("_at_start").max(),
            miles.null_count().alias("_blank"),
        )
    )
    rows = trips.join(counted, on="_trip", how="left", maintain_order="left")
    rows = rows.join(_steps(looks, "miles_from_start"), on="_trip", how="left", maintain_order="left")
    rows = rows.join(_steps(looks, "hours_from_start"), on="_trip", how="left", maintain_order="left", suffix="_h")
    to_end = c("trip_miles") - c("_last")
    return rows.select(
        *keys,
        "check_count",
        first_check_miles=pl.when(c("_blank") == 0).then("_under_way"),
        check_gap_miles=pl.when(to_end.is_null()).then(None).when(to_end > c("_step")).then(to_end).otherwise("_step"),
        check_gap_h="_step_h",
        checked_before_driving=pl.when(c("_at_start") == 1).then(True).when(c("_blank") == 0).then(False),
    )
