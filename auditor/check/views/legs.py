"""Views of loads on the road: each load on each leg, its axle groups and its runs of axles.

Grouping is worked out once per combination and weighed once per load; legs come last, so that a million loads stay
small. `columns` narrows a view to the columns somebody asks for.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

import polars as pl

from auditor.check.views.base import EVERYWHERE, PROVENANCE, load_rows
from auditor.measures import axles as grouping
from auditor.measures.weight import weigh_runs
from auditor.vocabulary import VIEWS

Tables = Mapping[str, pl.DataFrame]
Definitions = Mapping[str, Mapping[str, Any]]

_COMBINATION = list(grouping.COMBINATION)
_LOAD = ["job", "load"]


def load_legs(
    tables: Tables, place: str, definitions: Definitions, columns: Collection[str] | None = None
) -> pl.DataFrame:
    """Each load on each leg of its way in `place` ("US": every leg), with the layout of its axles.

    `definitions["axle_groups"]` holds `tandem_spread_in`, `steer_axle_in_tandem` and `lift_axles_count`. For "US" a
    load whose destination has no legs in the record keeps one row with a blank leg; in a state it has no row, since
    nothing says that it came there. `columns` names the columns wanted; None gives all.
    """
    layout = grouping.axle_layout(tables["axles"], **definitions["axle_groups"])
    legs = tables["legs"] if place == EVERYWHERE else tables["legs"].filter(pl.col("state") == place)
    view = [f.name for f in VIEWS["load_legs"].fields]
    leg_columns = [c for c in view if c in legs.columns and c not in tables["loads"].columns]
    if columns is not None:
        leg_columns = [c for c in leg_columns if c in columns or c == "leg"]
        layout = layout.select(c for c in layout.columns if c in {*_COMBINATION, *columns})
    rows = (
        load_rows(tables, place, columns)
        .join(
            legs.sort("leg", maintain_order=True).select("job", "destination", *leg_columns),
            on=["job", "destination"],
            how="left" if place == EVERYWHERE else "inner",
            maintain_order="left_right",
        )
        .join(layout, on=_COMBINATION, how="left", nulls_equal=True, maintain_order="left", validate="m:1")
    )
    return rows.select("job", *(c for c in view if c in rows.columns), *PROVENANCE)


def axle_groups(
    tables: Tables, place: str, definitions: Definitions, columns: Collection[str] | None = None
) -> pl.DataFrame:
    """Each single axle and tandem of each load on each leg in `place`, with its weight as an interval.

    A load with axle readings has one row per group. One without has one row per kind of group its combination has,
    axle numbers blank: such a group weighs between nothing and the whole load. Where the grouping is not known, kind
    and spread are blank and the weight likewise has no lower bound. Arguments as for `load_legs`.
    """
    groups = grouping.axle_groups(tables["axles"], **definitions["axle_groups"])
    kinds = groups.select(*_COMBINATION, "group_kind").unique(maintain_order=True)
    loads, unweighed = _split(tables, place, groups)
    weighed = loads.join(groups, on=_COMBINATION, nulls_equal=True, maintain_order="left_right")
    weighed = _bounded(weigh_runs(weighed, tables["axle_weights"]), exact_gross=pl.lit(False)).with_columns(
        # A group somewhere among undecided axles may hold only the lightest of them.
        pl.when(pl.col("group_kind").is_not_null()).then(pl.col("weight_lb__lo")).otherwise(0.0).alias("weight_lb__lo")
    )
    rest = unweighed.join(kinds, on=_COMBINATION, how="left", nulls_equal=True, maintain_order="left_right")
    rest = _bounded(rest, exact_gross=pl.lit(False))
    return _on_legs("axle_groups", tables, place, definitions, columns, [weighed, rest])


def axle_runs(
    tables: Tables, place: str, definitions: Definitions, columns: Collection[str] | None = None
) -> pl.DataFrame:
    """Each run of two or more consecutive axles of each load on each leg in `place`, with its weight as an interval.

    A load with axle readings has one row per run. One without has a row for the whole run, which weighs what the load
    weighs, and one for all the runs inside it, axle numbers blank: it has the fewest axles and the shortest span
    among them, on which a bridge formula allows least, and weighs between nothing and the whole load. A load whose
    axles are not in the record has one row with blanks. Arguments as for `load_legs`.
    """
    runs = grouping.axle_runs(tables["axles"], **definitions["axle_groups"])
    last = tables["axles"].group_by(_COMBINATION).agg(pl.col("axle").max().alias("_last"))
    runs = runs.join(last, on=_COMBINATION, how="left", nulls_equal=True, maintain_order="left")
    all_axles = (pl.col("first_axle") == 1) & (pl.col("last_axle") == pl.col("_last"))
    loads, unweighed = _split(tables, place, runs)
    weighed = loads.join(runs, on=_COMBINATION, nulls_equal=True, maintain_order="left_right")
    weighed = _bounded(weigh_runs(weighed, tables["axle_weights"]), exact_gross=all_axles)
    rest = unweighed.join(
        _outer_and_inner(runs), on=_COMBINATION, how="left", nulls_equal=True, maintain_order="left_right"
    )
    rest = _bounded(rest, exact_gross=all_axles)
    return _on_legs("axle_runs", tables, place, definitions, columns, [weighed, rest])


def _split(tables: Tables, place: str, parts: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Loads that have both axle readings and parts to weigh, and the others."""
    gross = pl.col("gross_weight_lb").cast(pl.Float64)
    loads = load_rows(tables, place, ["gross_weight_lb"]).select(*_LOAD, "truck", "trailer", gross)
    loads = loads.with_row_index("_place")
    weighed = loads.join(tables["axle_weights"], on=_LOAD, how="semi", maintain_order="left").join(
        parts, on=_COMBINATION, how="semi", nulls_equal=True, maintain_order="left"
    )
    return weighed, loads.join(weighed, on="_place", how="anti", maintain_order="left")


def _outer_and_inner(runs: pl.DataFrame) -> pl.DataFrame:
    """Per combination its whole run, and one row that stands for every shorter run."""
    first, last = pl.col("first_axle"), pl.col("last_axle")
    whole = (first == first.min().over(_COMBINATION)) & (last == last.max().over(_COMBINATION))
    two = pl.col("two_tandems")

    def least(name: str) -> pl.Expr:
        whole = ~pl.col(name).is_null().any()  # nulls: is_null has none
        return pl.when(whole).then(pl.col(name).min()).alias(name)

    inner = (
        runs.filter(~whole)
        .group_by(_COMBINATION, maintain_order=True)
        .agg(
            least("run_axle_count"), least("run_span_ft"), least("run_span_in"),
            # Some of the runs it stands for are two tandems, others not: then the answer is open.
            pl.when(~two.fill_null(True).any()).then(pl.lit(False)).alias("two_tandems"),  # nulls: filled
        )
    )  # fmt: skip
    return pl.concat([runs.filter(whole), inner], how="diagonal")


def _bounded(rows: pl.DataFrame, exact_gross: pl.Expr) -> pl.DataFrame:
    """Fill the bounds that readings leave open: between nothing and the load's gross, or the gross itself."""
    if "weight_lb__hi" not in rows.columns:
        blank = pl.lit(None, dtype=pl.Float64)
        rows = rows.with_columns(blank.alias("weight_lb__lo"), blank.alias("weight_lb__hi"))
    low, high, gross = pl.col("weight_lb__lo"), pl.col("weight_lb__hi"), pl.col("gross_weight_lb")
    unread = high.is_null()
    return rows.with_columns(
        pl.when(unread & exact_gross & gross.is_not_null()).then(gross).otherwise(low.fill_null(0.0)).alias("weight_lb__lo"),
        pl.when(unread).then(gross).otherwise(high).alias("weight_lb__hi"),
    )  # fmt: skip


def _on_legs(
    view: str,
    tables: Tables,
    place: str,
    definitions: Definitions,
    columns: Collection[str] | None,
    parts: list[pl.DataFrame],
) -> pl.DataFrame:
    """Put the rows of each load on each of its legs, in the columns of the view."""
    legs = load_legs(tables, place, definitions, columns)
    kept: list[pl.Expr] = []
    names: list[str] = []
    for field in VIEWS[view].fields:
        if columns is not None and field.name not in {*legs.columns, *columns, "first_axle", "last_axle"}:
            continue
        if field.interval:
            kept += [pl.col(f"weight_lb__{end}").alias(f"{field.name}__{end}") for end in ("lo", "hi")]
            names += [f"{field.name}__lo", f"{field.name}__hi"]
        else:
            names.append(field.name)
            if field.name not in legs.columns:
                kept.append(pl.col(field.name))
    items = pl.concat([p.select(*_LOAD, *kept) for p in _same_columns(parts)])
    rows = legs.join(items, on=_LOAD, how="left", maintain_order="left_right")
    return rows.select("job", *names, *PROVENANCE)


def _same_columns(parts: list[pl.DataFrame]) -> list[pl.DataFrame]:
    """Rows that stand for several groups have no axle numbers of their own; give every part every column."""
    types: dict[str, Any] = {}
    for part in parts:
        types |= part.schema
    return [
        p.with_columns(pl.lit(None, dtype=t).alias(n) for n, t in types.items() if n not in p.columns) for p in parts
    ]
