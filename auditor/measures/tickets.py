"""Scale tickets against themselves, against the axle readings and against each other."""

from __future__ import annotations

import polars as pl

_LEAST_TARES = 3
"""With two tares the usual one lies half way between them and both look wrong."""


def ticket_gap_lb(gross: pl.Expr, tare: pl.Expr, net: pl.Expr) -> pl.Expr:
    """Gross less tare less net without sign, lb; 0 where the ticket adds up.

    Parameters: weights in lb, 0 or more, one row per load. Null where any of the three is null.

    Source: by definition, net is gross less tare.
    """
    return (gross - tare - net).abs()


def axle_sum_gap_lb(loads: pl.DataFrame, readings: pl.DataFrame, axles: pl.DataFrame) -> pl.Series:
    """Gross less the sum of the axle readings without sign, lb, for each row of `loads`.

    Parameters: `loads` has `job`, `load`, `truck`, `trailer`, `gross_weight_lb`; `readings` has `job`, `load`,
    `first_axle`, `last_axle`, `weight_lb`; `axles` has `job`, `truck`, `trailer`, `axle`, one row per axle.

    Null where the gross is blank, where a reading has a blank, or where the readings are not known to hold every
    axle just once: a gap, an overlap, no reading, or no list of the axles to tell which is the last.

    Source: by definition, the gross of a vehicle is the sum of its axle loads; level ground is presumed.
    """
    vehicle = ["job", "truck", "trailer"]
    sums = (
        readings.sort("job", "load", "first_axle")
        .with_columns(
            pl.col("last_axle").shift(1, fill_value=0).over("job", "load").alias("_before"),
        )
        .group_by("job", "load")
        .agg(
            pl.col("weight_lb").sum().alias("_sum"),
            pl.col("last_axle").max().alias("_read_to"),
            (
                pl.any_horizontal(pl.col("first_axle", "last_axle", "weight_lb").is_null())
                | (pl.col("first_axle") != pl.col("_before") + 1).fill_null(True)
                | (pl.col("last_axle") < pl.col("first_axle")).fill_null(True)
            )
            .any()
            .alias("_broken"),
        )
        .filter(~pl.col("_broken"))
    )
    counts = axles.group_by(vehicle).agg(pl.col("axle").max().alias("_last"))
    return (
        loads.select("load", *vehicle, "gross_weight_lb")
        .join(sums, on=["job", "load"], how="left", maintain_order="left")
        .join(counts, on=vehicle, how="left", nulls_equal=True, maintain_order="left")
        .select(
            pl.when(pl.col("_read_to") == pl.col("_last"))
            .then((pl.col("gross_weight_lb") - pl.col("_sum")).abs())
            .cast(pl.Float64)
            .alias("axle_sum_gap_lb")
        )
        .to_series()
    )


def tare_drift_lb(tare: pl.Expr, *vehicle: str) -> pl.Expr:
    """Tare against the median tare of the same truck and trailer without sign, lb.

    Parameters: `tare` in lb, one row per load; `vehicle` names the columns that identify the combination (`job`,
    `truck`, `trailer`; a null trailer is one of its own, the straight truck).

    Null where the tare is null or the combination has fewer than 3 tares.

    Source: common practice, a median is not moved by single wrong tickets.
    """
    usual = pl.when(tare.count() >= _LEAST_TARES).then(tare.median())
    return (tare - usual.over(*vehicle)).abs()


def same_ticket_count(loads: pl.DataFrame) -> pl.Series:
    """How many loads of the job carry this row's ticket number at this row's destination, itself included.

    Parameters: `loads` has `job`, `destination`, `ticket_number`. Null where destination or number is null.

    Source: common practice, a mill gives a number once; O.C.G.A. Code 12-6-23 asks for one ticket for each load.
    """
    known = pl.col("destination").is_not_null() & pl.col("ticket_number").is_not_null()
    alike = pl.len().cast(pl.Int64).over("job", "destination", "ticket_number")
    return loads.select(pl.when(known).then(alike).alias("same_ticket_count")).to_series()


def implied_speed_mph(loads: pl.DataFrame) -> pl.Series:
    """Speed the truck needed between the weighing of its load before and the weighing of this one, mile/h.

    Between two weighings the truck drives back to the woods and out again: the trip miles of the load before plus
    those of this load, over the hours between. Time spent loading is not taken off, so the true speed was higher.

    Parameters: `loads` has `job`, `truck`, `load_date`, `scaled_at` (local time, to the minute), `trip_miles`
    (woods to mill, mile, 0 or more), one row per load. Rows of the same minute keep their order.

    Zero minutes between two weighings: infinity. Null for the first load of a truck; where date, time or miles of
    this load or the one before are null; and where a blank leaves open which load came before: on any day of the
    truck with a blank time (and for its next load), and for every load of a truck with a blank date.

    Source: by definition, speed is distance over time.
    """
    truck = ("job", "truck")
    before = pl.col("_at").shift(1).over(truck), pl.col("trip_miles").shift(1).over(truck)
    hours = (pl.col("_at") - before[0]).dt.total_seconds() / 3600
    miles = pl.col("trip_miles") + before[1]
    return (
        loads.select("job", "truck", "load_date", "scaled_at", "trip_miles")
        .with_row_index("_place")
        .with_columns(
            pl.col("load_date").is_null().any().over(truck).alias("_no_date"),
            pl.col("scaled_at").is_null().any().over(*truck, "load_date").alias("_no_time"),
        )
        .with_columns(
            pl.when(~pl.col("_no_date") & ~pl.col("_no_time") & pl.col("truck").is_not_null())
            .then(pl.col("load_date").dt.combine(pl.col("scaled_at")))
            .alias("_at")
        )
        .sort(*truck, "load_date", "scaled_at", "_place", nulls_last=True)
        .select(
            "_place",
            pl.when(hours.is_null() | miles.is_null())
            .then(None)
            .when(hours == 0)
            .then(float("inf"))
            .otherwise(miles / hours)
            .alias("implied_speed_mph"),
        )
        .sort("_place")["implied_speed_mph"]
    )


def days_outside_operation(load_date: pl.Expr, start: pl.Expr, end: pl.Expr) -> pl.Expr:
    """Days by which a load lies before the first or after the last day of the operation; 0 inside, ends included.

    Parameters: dates. Null where the load's date is null, and where a blank first or last day leaves it open; a load
    before a known first day is outside whatever the last day, and the reverse.

    Source: by definition, a difference of calendar days.
    """
    early = (start - load_date).dt.total_days()
    late = (load_date - end).dt.total_days()
    return (
        pl.when(early > 0)
        .then(early)
        .when(late > 0)
        .then(late)
        .when(early.is_not_null() & late.is_not_null())
        .then(0)
        .cast(pl.Int64)
    )
