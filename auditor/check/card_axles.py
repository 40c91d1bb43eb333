"""What the axles of a combination may carry on a way: trial loads put on one scale, so that every group is judged."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Literal

import polars as pl

from auditor.check.card_trials import limit_rows, narrowed, trial_tables
from auditor.check.card_words import because, road_name
from auditor.check.tally import judge_tables
from auditor.report.card_model import CardAxleLimit
from auditor.rules.reading import Rulebook

VIEW, WEIGHT = "axle_groups", "group_weight_lb"


def axle_limits(
    tables: Mapping[str, pl.DataFrame], loads: pl.DataFrame, rulebook: Rulebook, on: date
) -> dict[int, list[CardAxleLimit]]:
    """For each way the least that each axle and tandem may carry on any of its legs, from the front.

    `loads` has one trial for each way, with `way`, `load` and columns of `loads`. A way whose axles are not in the
    record has no entry.
    """
    ends = tables["axles"].group_by("job", "truck", "trailer").agg(
        pl.col("axle").min().alias("first_axle"), pl.col("axle").max().alias("last_axle")
    )  # fmt: skip
    scaled = loads.join(ends, on=["job", "truck", "trailer"], how="inner", nulls_equal=True)
    if not scaled.height:
        return {}
    trial = trial_tables(tables, scaled, on)
    schema = tables["axle_weights"].schema
    reading = scaled.with_columns(weight_lb=pl.col("gross_weight_lb"))
    trial["axle_weights"] = reading.select(
        pl.col(n).cast(t) if n in reading.columns else pl.lit(None, dtype=t).alias(n) for n, t in schema.items()
    )
    found: list[pl.DataFrame] = []
    for judged in judge_tables(trial, narrowed(rulebook, {VIEW: (WEIGHT,)}), (VIEW,)):
        everywhere = pl.Series("among", [True]).new_from_index(0, judged.frame.height)
        for index in range(len(judged.rules)):
            found += limit_rows(judged, index, WEIGHT, everywhere)
    if not found:
        return {}
    roads = tables["legs"].select(
        "job", "destination", pl.col("leg").cast(pl.Int64), pl.col("road_class").cast(pl.String), "road_name"
    )
    ways_of = scaled.select("load", "way", "job", "destination")
    rows = pl.concat(found).with_columns(pl.col("group_kind").cast(pl.String)).join(ways_of, on="load")
    rows = rows.join(roads, on=["job", "destination", "leg"], how="left")
    named = rows.filter(pl.col("group_kind").is_not_null(), pl.col("first_axle").is_not_null())
    ways = named.partition_by("way", as_dict=True)
    return {int(str(way)): _least(part, rulebook) for (way,), part in ways.items()}


def _least(rows: pl.DataFrame, rulebook: Rulebook) -> list[CardAxleLimit]:
    group = ["group_kind", "first_axle", "last_axle"]
    order = [*group, "low", "leg", "rule"]
    least = rows.sort(order, nulls_last=False).unique(group, keep="first", maintain_order=True)
    found: list[CardAxleLimit] = []
    kind: Literal["steer axle", "single axle", "tandem"]
    for row in least.sort("first_axle", "last_axle").to_dicts():
        limit = row["low"] if row["low"] is not None and row["low"] > 0 else None
        said = because(rulebook, row["rule"], row["limit_name"], row["arm"])
        first, last = row["first_axle"], row["last_axle"]
        kind = "tandem" if row["group_kind"] == "tandem" else "steer axle" if first == 1 else "single axle"
        axles = f"{first}" if first == last else f"{first}-{last}"
        state = str(row["state"]).removeprefix("US-")
        road = road_name(row)
        one = CardAxleLimit(
            kind=kind, axles=axles, limit_lb=limit, because=said.name, road=road, state=state, verified=said.verified
        )
        same = next((x for x in found if x.model_copy(update={"axles": axles}) == one), None)
        if same is None:
            found.append(one)
        else:
            same.axles = f"{same.axles}, {axles}"
    return found
