"""Fuel and oil on the site: the capacity that the spill-plan test counts, and what a bund has to hold."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl


def oil_capacity_gal(
    tanks: pl.DataFrame, by: Sequence[str], *, least_gal: float, buried: bool, motive: bool = False
) -> pl.DataFrame:
    """Capacity in gal of the containers that count, by group: `by`, `oil_capacity_gal__lo`, `oil_capacity_gal__hi`.

    Capacity, not content, counts. Permanently closed containers never do.

    Parameters: `tanks` has the columns `by`, `capacity_gal` (gal, 0 or more), `motive`, `buried` and
    `permanently_closed` (yes or no). A container counts from `least_gal` on, that size included. `buried`: only wholly
    buried ones are summed, or (false) only the others. `motive`: whether a machine's own tanks count.

    A container that may or may not count is in high only. High is null where one that may count has no capacity.

    Source: 40 CFR 112.1(d)(2)(ii) and (d)(5); 71 FR 77266 (motive power).
    """
    size = pl.col("capacity_gal").cast(pl.Float64)
    under = pl.col("buried") if buried else ~pl.col("buried")
    own = pl.lit(True) if motive else ~pl.col("motive")
    counts = (size >= least_gal) & ~pl.col("permanently_closed") & under & own
    may = counts.fill_null(True)
    return tanks.group_by(by, maintain_order=True).agg(
        size.filter(counts.fill_null(False)).sum().alias("oil_capacity_gal__lo"),
        pl.when(size.filter(may).null_count() == 0).then(size.filter(may).sum()).alias("oil_capacity_gal__hi"),
    )


def bund_volumes_gal(tanks: pl.DataFrame) -> pl.DataFrame:
    """What the bund of each container can hold and the largest container in it, gal, in row order.

    Gives `bund_gal__lo`, `bund_gal__hi`, `largest_in_bund_gal__lo` and `largest_in_bund_gal__hi`.

    Parameters: `tanks` has `job`, `site`, `tank`, `bund` (a name; blank: it shares none), `capacity_gal` and
    `containment_gal` (gal, 0 or more), one row a container. Containers of one job, site and bund share it.

    The volume of a shared bund may stand beside one of its containers alone; where several differ, from the least to the
    greatest. A container without a capacity leaves high of the largest null.

    Source: 40 CFR 112.8(c)(2): the capacity of the largest single container.
    """
    alone = pl.when(pl.col("bund").is_null()).then(pl.col("tank"))
    shared = ["job", "site", "bund", alone]
    size, holds = pl.col("capacity_gal").cast(pl.Float64), pl.col("containment_gal").cast(pl.Float64)
    greatest = size.max().over(shared)
    return tanks.select(
        holds.min().over(shared).alias("bund_gal__lo"),
        holds.max().over(shared).alias("bund_gal__hi"),
        greatest.alias("largest_in_bund_gal__lo"),
        pl.when(size.is_null().sum().over(shared) == 0).then(greatest).alias("largest_in_bund_gal__hi"),
    )
