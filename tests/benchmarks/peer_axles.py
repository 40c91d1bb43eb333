"""Axles by hand for the benchmarks' peer: tandems, runs, readings and the bridge formula, for records without blanks."""

from __future__ import annotations

import polars as pl

VEHICLE = ["job", "truck", "trailer"]
CLOSE_IN = 40.0
c = pl.col


def assumed(axles: pl.DataFrame, readings: pl.DataFrame) -> list[str]:
    """What the axles and readings have that the code below was not written for."""
    ordered = axles.sort(*VEHICLE, "axle")
    step = c.position_ft.diff().over(VEHICLE) * 12
    usual = ordered.select(
        (c.axle == pl.int_range(1, pl.len() + 1).over(VEHICLE)).all()
        & (step.is_null() | (step > CLOSE_IN + 1e-6)).all()
    ).item()
    found = [] if usual else ["axles are not numbered from the front, or stand close together"]
    ordered = readings.sort("job", "load", "first_axle")
    expected = c.last_axle.shift(1, fill_value=0).over("job", "load") + 1
    if not ordered.select((c.first_axle == expected).all() & (c.first_axle <= c.last_axle).all()).item():
        found.append("axle readings leave gaps or overlap")
    return found


def tandems(axles: pl.DataFrame, most_in: float, first_axle: int) -> pl.DataFrame:
    """Longest runs of axles not over `most_in` apart, the steer axle only with `first_axle` 1: vehicle, first, last."""
    pairs = _pairs(axles).filter(c.spread_in <= most_in, c.first >= first_axle).select(*VEHICLE, "first", "last")
    wider = pairs.join(pairs, on=VEHICLE, suffix="_w").filter(
        (c.first_w <= c.first) & (c.last_w >= c.last) & ((c.first_w < c.first) | (c.last_w > c.last))
    )
    return pairs.join(wider, on=[*VEHICLE, "first", "last"], how="anti")


def groups(axles: pl.DataFrame, tandem: pl.DataFrame) -> pl.DataFrame:
    """Tandems and the axles in none of them: vehicle, kind, first, last."""
    one = axles.select(*VEHICLE, first="axle", last="axle")
    inside = one.join(tandem, on=VEHICLE, suffix="_t").filter(c.first.is_between(c.first_t, c.last_t))
    single = one.join(inside, on=[*VEHICLE, "first"], how="anti")
    return pl.concat([
        single.with_columns(kind=pl.lit("single")), tandem.with_columns(kind=pl.lit("tandem"))
    ])  # fmt: skip


def runs(axles: pl.DataFrame, tandem: pl.DataFrame) -> pl.DataFrame:
    """Every run of two or more axles: vehicle, first, last, axle_count, span_ft, two_tandems."""
    two = tandem.join(tandem, on=VEHICLE, suffix="_b").filter(c.first_b == c.last + 1)
    two = two.select(*VEHICLE, "first", last="last_b", two_tandems=pl.lit(True))
    found = _pairs(axles).join(two, on=[*VEHICLE, "first", "last"], how="left")
    return found.with_columns(c.two_tandems.fill_null(False), axle_count=c.last - c.first + 1)


def vehicles(axles: pl.DataFrame, us: pl.DataFrame, ga: pl.DataFrame, run: pl.DataFrame) -> pl.DataFrame:
    """One row per vehicle: axles, outer span, groups under federal (also South Carolina) and Georgia law, bridge limits."""
    whole = axles.group_by(VEHICLE).agg(
        axle_count=pl.len().cast(pl.Float64), outer_span_ft=(c.position_ft.max() - c.position_ft.min()).round(6)
    )
    for law, group in (("us", us), ("ga", ga)):
        counts = group.group_by(VEHICLE).agg(
            (c.kind == "single").sum().alias(f"{law}_singles"), (c.kind == "tandem").sum().alias(f"{law}_tandems")
        )
        whole = whole.join(counts, on=VEHICLE, how="left")
    inner = run.join(whole, on=VEHICLE).filter(c.last - c.first + 1 < c.axle_count_right).group_by(VEHICLE)
    inner = inner.agg(inner_axles=c.axle_count.min(), inner_span_ft=c.span_ft.min())
    bridge = bridge_lb(c.axle_count, c.outer_span_ft)
    return whole.join(inner, on=VEHICLE, how="left").with_columns(
        bridge.alias("whole_bridge_lb"), bridge_lb(c.inner_axles, c.inner_span_ft).alias("inner_bridge_lb")
    )


def bridge_lb(axles: pl.Expr, span_ft: pl.Expr) -> pl.Expr:
    """500 (L N / (N - 1) + 12 N + 36), span to the nearest foot, result to the nearest 500 lb with ties down."""
    feet = (span_ft.round(6) + 0.5).floor()
    return 500.0 * ((feet * axles / (axles - 1) + 12 * axles + 36).round(6) - 0.5).ceil()


def weigh(loads: pl.DataFrame, parts: pl.DataFrame, readings: pl.DataFrame) -> pl.DataFrame:
    """Each part of each weighed load with the weight inside it and touching it: i, the part's columns, low, high."""
    weighed = loads.select("i", "load", *VEHICLE).join(
        readings.select("job", "load", "first_axle", "last_axle", "weight_lb"), on=["job", "load"]
    )
    touching = weighed.join(parts, on=VEHICLE).filter((c.first_axle <= c.last) & (c.last_axle >= c.first))
    inside = (c.first_axle >= c.first) & (c.last_axle <= c.last)
    kept = [n for n in parts.columns if n not in VEHICLE]
    return touching.group_by("i", *kept).agg(
        low=pl.when(inside).then(c.weight_lb).otherwise(0.0).sum(), high=c.weight_lb.sum()
    )


def _pairs(axles: pl.DataFrame) -> pl.DataFrame:
    one = axles.select(*VEHICLE, "axle", "position_ft")
    both = one.join(one, on=VEHICLE, suffix="_2").filter(c.axle < c.axle_2)
    span = (c.position_ft_2 - c.position_ft).round(6)
    return both.select(*VEHICLE, first="axle", last="axle_2", span_ft=span, spread_in=(span * 12).round(6))
