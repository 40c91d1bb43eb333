"""Readings in the water: how much warmer it is beside and below a harvest than above it."""

from __future__ import annotations

import polars as pl

_STREAM_DAY = ["job", "stream", "read_on"]
_ABOVE, _BELOW = "above", ("beside", "below")


def temperature_rises_f(readings: pl.DataFrame, *, within_h: float) -> pl.DataFrame:
    """How much warmer the water is at each reading than at the one above the harvest, degrees F, in row order.

    Gives `water_rise_f` (negative: colder), `rise_uncertainty_f` (plus or minus of it, the doubts of both readings
    added) and `hours_apart` (h, 0 or more) between the two readings.

    Parameters: `readings` has `job`, `stream`, `position` ("above", "beside" or "below" the harvest), `read_on`,
    `read_at`, `water_temperature_f` (degrees F) and `temperature_uncertainty_f` (degrees F, 0 or more). A reading beside
    or below is held against the one above in the same water and on the same day that is nearest in time; of two as near
    the earlier. One farther off than `within_h` hours is none: water warms through the day.

    Null for readings above, and where day, time, temperature or a reading above is missing; the doubt is null where
    either is.

    Source: by definition, a difference of two temperatures; Ga. R. 391-3-6-.03(15) (Reg.) limits the rise.
    """
    rows = readings.select(
        *_STREAM_DAY, "position", "read_at", pl.col("water_temperature_f").alias("_f"),
        pl.col("temperature_uncertainty_f").alias("_doubt"),
    ).with_row_index("_row").with_columns(_at=pl.col("read_at").cast(pl.Duration("us")))  # fmt: skip
    place = pl.col("position").cast(pl.String)
    known = rows.drop_nulls(["stream", "read_on", "_at", "_f"])
    above = known.filter(place == _ABOVE).select(*_STREAM_DAY, _at_above="_at", _f_above="_f", _doubt_above="_doubt")
    apart = (pl.col("_at") - pl.col("_at_above")).dt.total_seconds().abs() / 3600
    pairs = (
        known.filter(place.is_in(_BELOW))
        .join(above, on=_STREAM_DAY)
        .with_columns(hours_apart=apart)
        .filter(pl.col("hours_apart") <= within_h)
        .sort("_row", "hours_apart", "_at_above", maintain_order=True)
        .unique("_row", keep="first", maintain_order=True)
        .select(
            "_row",
            "hours_apart",
            water_rise_f=pl.col("_f") - pl.col("_f_above"),
            rise_uncertainty_f=pl.col("_doubt") + pl.col("_doubt_above"),
        )
    )
    found = rows.select("_row").join(pairs, on="_row", how="left", maintain_order="left")
    return found.select("water_rise_f", "rise_uncertainty_f", "hours_apart")
