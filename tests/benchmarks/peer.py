"""What an able engineer would write by hand for haul records of Georgia and South Carolina: the benchmarks' yardstick.

Every rule of the federal, Georgia and South Carolina files on weight, size, securement and tickets, as polars code for
records of the kind that `big_record` makes: figures of law stand in the code, columns that such a record leaves blank
or knows throughout are taken as such (`assumed` refuses any other record), nothing is explained and no cause of a gap
is named. It gives the counts per job, rule and outcome, and the rows that break a rule with value, limit and margin.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import polars as pl

from auditor.record import Record
from tests.benchmarks import peer_axles as axles

NOT_APPLICABLE, CONFORMITY, NOT_VERIFIABLE, NOT_EVIDENCED, NONCONFORMITY = 0, 1, 2, 4, 5
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
    "loads": ("load_date", "truck", "trailer", "destination", "product", "origin_kind", "unitized", "load_height_ft", "rear_overhang_ft", "tare_weight_lb"),
    "legs": ("destination", "state", "road_class", "miles", "postings_checked", "pickup_or_delivery"),
    "trailers": ("kind", "has_bunks_and_stakes"),
    "destinations": ("kind",),
    "axles": ("axle", "position_ft", "lift_axle"),
    "axle_weights": ("first_axle", "last_axle", "weight_lb"),
    "stacks": ("truck", "orientation", "shortest_log_ft", "bunk_count"),
    "tiedowns": ("truck", "count", "kind", "material", "size_in", "grade", "routing", "defective", "tightenable"),
}  # fmt: skip
_EMPTY = ("documents", "tickets", "load_checks", "markings")

LOGS = ["sawlogs", "pulpwood", "tree_length", "poles"]
FOREST = [*LOGS, "chips", "biomass", "firewood"]
CHAIN_70_WLL_LB = {0.25: 3150.0, 0.3125: 4700.0, 0.375: 6600.0, 0.4375: 8750.0, 0.5: 11300.0, 0.625: 15800.0}
ROUTING = {"over_to_other_side": 1.0, "same_side": 0.5, "vehicle_to_article": 0.5}


class Rule(NamedTuple):
    """Outcome of each row; for a requirement with numbers its value, its limit and how far the value lies off."""

    name: str
    code: pl.Expr
    value: pl.Expr | None = None
    limit: pl.Expr | None = None
    at_least: bool = False


@dataclass(frozen=True, slots=True)
class Result:
    """`counts`: job, rule, code, loads. `breaches`: job, load, rule, value, limit, margin, a row for each broken rule."""

    counts: pl.DataFrame
    breaches: pl.DataFrame


def assumed(tables: Tables) -> list[str]:
    """What this record has that the code below was not written for."""
    found = [f"{t}.{n} is not blank" for t, names in _BLANK.items() for n in names if tables[t][n].null_count() < tables[t].height]
    found += [f"{t}.{n} has blanks" for t, names in _KNOWN.items() for n in names if tables[t][n].null_count()]
    found += [f"{t} has rows" for t in _EMPTY if tables[t].height]
    found += [f"{t} has not one row for each truck" for t in ("stacks", "tiedowns") if tables[t].height != tables["trucks"].height]
    wrong = {
        "legs": (c.state.is_in(["US-GA", "US-SC"]) & (c.road_class != "private")),
        "axles": ~c.lift_axle,
        "stacks": (c.orientation == "lengthwise") & (c.shortest_log_ft > 16),
        "trailers": c.kind.is_in(["frame", "box_or_bin"]),
        "tiedowns": (c.kind == "tiedown") & (c.material == "chain") & (c.grade == "70") & ~c.defective & (c("count") > 0),
        "loads": ~c.unitized & (c["product"] != "processed_logs") if False else ~c.unitized,
    }  # fmt: skip
    found += [f"{t} has rows of another kind" for t, fits in wrong.items() if not tables[t].select(fits.all()).item()]
    return found + axles.assumed(tables["axles"], tables["axle_weights"])
