"""What an able engineer would write by hand for haul records of Georgia and South Carolina: the benchmarks' yardstick.

Every rule of the federal, Georgia and South Carolina files on weight, size, securement and tickets, as polars code for
records of the kind that `big_record` makes. Figures of law stand in the code. Columns that such a record leaves blank,
or knows throughout, are taken as such; `assumed` refuses any other record. Nothing is explained, and no cause of a gap
is named. It gives the counts per job, rule and outcome, and the rows that break a rule with value, limit and margin.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import polars as pl

from auditor.record import Record
from tests.benchmarks import peer_axles as axles
from tests.benchmarks import peer_rules as rules
from tests.benchmarks.peer_rules import Rule

Tables = Mapping[str, pl.DataFrame]
c = pl.col

_BLANK = {
    "loads": (
        "load_width_in", "overall_length_ft", "longest_log_ft", "front_overhang_ft", "side_overhang_in", "dark",
        "slippery", "extra_securement", "processed_log_count", "checked_at_public_road",
    ),
    "legs": ("county", "posted_road_gross_lb", "local_truck_route"),
    "trucks": ("low_pressure_tires",),
    "trailers": ("length_ft", "stakes_sound", "front_structure"),
    "stacks": (
        "load", "blocked_front", "packed", "top_logs_held", "least_centre_below_stake_in", "least_contact_count",
        "least_past_stake_in", "outside_log_tiedown_count", "weight_lb",
    ),
    "tiedowns": ("load", "stack", "marked_wll_lb", "tensioner_wll_lb", "anchor_wll_lb", "knotted", "edge_protected"),
}  # fmt: skip
_KNOWN = {
    "job": ("state", "sold_by_load"),
    "loads": (
        "load_date", "truck", "trailer", "destination", "product", "origin_kind", "load_height_ft", "rear_overhang_ft",
        "tare_weight_lb",
    ),
    "legs": ("destination", "miles", "postings_checked", "pickup_or_delivery"),
    "trailers": ("has_bunks_and_stakes",),
    "destinations": ("kind",),
    "axles": ("axle", "position_ft"),
    "axle_weights": ("first_axle", "last_axle", "weight_lb"),
    "stacks": ("truck", "bunk_count"),
    "tiedowns": ("truck", "count", "size_in", "routing", "tightenable"),
}  # fmt: skip
_ALWAYS = {
    "loads": ~c.unitized,
    "legs": c.state.is_in(["US-GA", "US-SC"]) & (c.road_class != "private"),
    "axles": ~c.lift_axle,
    "trailers": c.kind.is_in(["frame", "box_or_bin"]),
    "stacks": (c.orientation == "lengthwise") & (c.shortest_log_ft > 16),
    "tiedowns": (c.kind == "tiedown") & (c.material == "chain") & (c.grade == "70") & ~c.defective & (c("count") > 0),
}
_EMPTY = ("documents", "tickets", "load_checks", "markings")
_VARIANCE_10_FROM = date(2023, 5, 5)
_WLL_LB = {0.25: 3150.0, 0.3125: 4700.0, 0.375: 6600.0, 0.4375: 8750.0, 0.5: 11300.0, 0.625: 15800.0}
_ROUTING = {"over_to_other_side": 1.0, "same_side": 0.5, "vehicle_to_article": 0.5}


def assumed(tables: Tables) -> list[str]:
    """What this record has that the peer was not written for."""
    found = []
    for table, names in _BLANK.items():
        found += [f"{table}.{n} has values" for n in names if tables[table][n].null_count() < tables[table].height]
    for table, names in _KNOWN.items():
        found += [f"{table}.{n} has blanks" for n in names if tables[table][n].null_count()]
    for table, fits in _ALWAYS.items():
        if not tables[table].select(fits.fill_null(False).all()).item():
            found.append(f"{table} has rows of another kind")
    found += [f"{table} has rows" for table in _EMPTY if tables[table].height]
    trucks = tables["trucks"].height
    found += [f"{t} has not one row for each truck" for t in ("stacks", "tiedowns") if tables[t].height != trucks]
    return found + axles.assumed(tables["axles"], tables["axle_weights"])


@dataclass(slots=True)
class Result:
    """`counts`: frames of job, rule, code, loads. `breaches`: frames of job, load, rule, value, limit, margin."""

    counts: list[pl.DataFrame] = field(default_factory=list)
    breaches: list[pl.DataFrame] = field(default_factory=list)


def peer(record: Record) -> Result:
    """Judge the whole record."""
    tables = record.tables
    wrong = assumed(tables)
    if wrong:
        raise ValueError("; ".join(wrong))
    axle = tables["axles"].with_columns(c.axle.cast(pl.Int64))
    us_tandems = axles.tandems(axle, 96.0, 1)
    us_groups = axles.groups(axle, us_tandems)
    ga_groups = axles.groups(axle, axles.tandems(axle, 216.0, 2))
    runs = axles.runs(axle, us_tandems)
    loads = _loads(tables, axles.vehicles(axle, us_groups, ga_groups, runs))
    on_legs = _on_legs(loads, tables["legs"])
    readings = tables["axle_weights"]
    interstate = on_legs.filter(c.road_class == "interstate")
    result = Result()
    groups, run_weights = axles.weigh(loads, us_groups, readings), axles.weigh(loads, runs, readings)
    parts = [
        _judged(loads, interstate, rules.US_LEGS, result),
        _judged(loads, _legs_of(groups, interstate), rules.US_GROUPS, result),
        _judged(loads, _legs_of(run_weights, interstate), rules.US_RUNS, result),
    ]
    _count(loads, [*parts, _judged(loads, loads, rules.US_LOADS, result, one_each=True)], rules.US, result)
    for state, of_legs, of_groups, of_loads, constant, weighed in (
        ("US-GA", rules.GA_LEGS, rules.GA_GROUPS, rules.GA_LOADS, rules.GA, ga_groups),
        ("US-SC", rules.SC_LEGS, rules.SC_GROUPS, rules.SC_LOADS, rules.SC, None),
    ):
        there = on_legs.filter(c.state == state)
        here = loads.filter(c.i.is_in(there["i"].unique().implode()))
        inside = groups if weighed is None else axles.weigh(here, weighed, readings)
        parts = [
            _judged(loads, there, of_legs, result),
            _judged(loads, _legs_of(inside, there.filter(c.road_class != "interstate")), of_groups, result),
            _judged(loads, here, of_loads, result, one_each=True),
        ]
        _count(here, parts, constant, result)
    return result


def _loads(tables: Tables, vehicles: pl.DataFrame) -> pl.DataFrame:
    """One row per load with all that its job, vehicle, way and tiedowns tell; `i` numbers loads, `d` destinations."""
    lines = tables["tiedowns"].select(
        "job", "truck", "tightenable", tiedowns="count", wll_lb=c.size_in.replace_strict(_WLL_LB),
        routing=c.routing.cast(pl.String).replace_strict(_ROUTING, return_dtype=pl.Float64),
    )  # fmt: skip
    held = lines.with_columns(aggregate_lb=c.tiedowns * c.wll_lb * c.routing).join(
        tables["stacks"].select("job", "truck", "bunk_count"), on=["job", "truck"]
    )
    miles = tables["legs"].group_by("job", "destination").agg(trip_miles=c.miles.sum())
    ends = tables["destinations"].select("job", "destination", "haul_radius_miles", destination_kind="kind")
    ends = ends.with_row_index("d").join(miles, on=["job", "destination"], how="left", maintain_order="left")
    trailers = tables["trailers"].select("job", "trailer", "has_bunks_and_stakes", trailer_kind="kind")
    weighed = tables["axle_weights"].select("job", "load", weighed=True).unique()
    product = c("product").cast(pl.String)
    whole = (
        tables["loads"]
        .lazy()
        .with_row_index("i")
        .select(
            "i", "job", "load", "truck", "trailer", "destination", "load_height_ft", "rear_overhang_ft",
            c.gross_weight_lb.cast(pl.Float64), (c.gross_weight_lb - c.tare_weight_lb).cast(pl.Float64).alias("less_tare"),
            c.net_weight_lb.cast(pl.Float64), from_forest=c.origin_kind == "forest", late=c.load_date >= _VARIANCE_10_FROM,
            product=product, log=product.is_in(rules.LOGS), forest_product=product.is_in(rules.FOREST),
        )
        .join(tables["job"].lazy().select("job", "sold_by_load", job_state="state").with_row_index("j"), on="job", how="left", maintain_order="left")
        .join(trailers.lazy(), on=["job", "trailer"], how="left", maintain_order="left")
        .join(ends.lazy(), on=["job", "destination"], how="left", maintain_order="left")
        .join(held.lazy(), on=["job", "truck"], how="left", maintain_order="left")
        .join(vehicles.lazy(), on=axles.VEHICLE, how="left", maintain_order="left")
        .join(weighed.lazy(), on=["job", "load"], how="left", maintain_order="left")
        .with_columns(
            c.weighed.fill_null(False),
            net_lb=pl.coalesce("net_weight_lb", "less_tare"),
            from_woods=c.forest_product & c.from_forest & (c.destination_kind == "first_processing"),
        )
    )  # fmt: skip
    return whole.collect()


def _on_legs(loads: pl.DataFrame, legs: pl.DataFrame) -> pl.DataFrame:
    """Each load on each of its legs, with the weights and the layout that the rules of the road look at."""
    ways = loads.select("d", "job", "destination").unique("d")
    legs = legs.join(ways, on=["job", "destination"]).select(
        "d", "state", "road_class", "postings_checked", "posted_bridge_gross_lb", "pickup_or_delivery"
    )
    weights = loads.select(
        "i", "d", "gross_weight_lb", "load_height_ft", "rear_overhang_ft", "log", "trailer_kind", "from_woods", "late",
        "haul_radius_miles", "axle_count", "us_singles", "us_tandems", "ga_singles", "ga_tandems", "outer_span_ft",
        "whole_bridge_lb", "inner_bridge_lb", "weighed",
    )  # fmt: skip
    return weights.join(legs, on="d")


def _legs_of(parts: pl.DataFrame, legs: pl.DataFrame) -> pl.DataFrame:
    return parts.join(legs, on="i")


def _judged(
    loads: pl.DataFrame, rows: pl.DataFrame, of: Sequence[Rule], result: Result, one_each: bool = False
) -> pl.DataFrame:
    """The worst outcome of each load that has a row, under each rule; rows that break one are kept."""
    codes = rows.select("i", *(r.code.cast(pl.UInt8).alias(r.name) for r in of))
    for rule in of:
        broken = rows.filter(codes[rule.name] == rules.NONCONFORMITY)
        if broken.height:
            value, limit = (
                pl.lit(None, pl.Float64) if e is None else e.cast(pl.Float64) for e in (rule.value, rule.limit)
            )
            margin = limit - value if rule.at_least else value - limit
            named = broken.select("i", rule=pl.lit(rule.name), value=value, limit=limit, margin=margin)
            result.breaches.append(
                pl.concat([loads.select("job", "load")[named["i"]], named.drop("i")], how="horizontal")
            )
    return codes if one_each else codes.group_by("i").max()


def _count(loads: pl.DataFrame, parts: Sequence[pl.DataFrame], constant: Mapping[str, int], result: Result) -> None:
    """Loads per job, rule and outcome; a load without a row under a rule is outside its scope."""
    whole = loads.select("i", "job", "j")
    for part in parts:
        again = [n for n in part.columns if n != "i" and n in whole.columns]
        whole = whole.join(part, on="i", how="left", suffix=":again")
        whole = whole.with_columns(pl.max_horizontal(n, f"{n}:again") for n in again).drop(f"{n}:again" for n in again)
    for name in whole.columns[3:]:
        of = whole.group_by("j", c(name).fill_null(rules.NOT_APPLICABLE).alias("code")).agg(
            c.job.first(), loads=pl.len()
        )
        result.counts.append(of.select("job", rule=pl.lit(name), code="code", loads="loads"))
    every = loads.group_by("j").agg(c.job.first(), loads=pl.len())
    for name, outcome in constant.items():
        result.counts.append(every.select("job", rule=pl.lit(name), code=pl.lit(outcome, pl.UInt8), loads="loads"))
