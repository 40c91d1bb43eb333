"""Views of loads on the road: each load on each leg, its axle groups and its runs of axles.

Grouping is worked out once per combination and weighed once per load; legs come last, so that a million loads stay
small. `columns` narrows a view to the columns somebody asks for.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import polars as pl

from auditor.check.views.base import EVERYWHERE, PLACE, PROVENANCE, T, load_rows, once
from auditor.measures import axles as grouping
from auditor.measures.weight import weigh_runs
from auditor.rules import kleene
from auditor.rules.nodes import Node
from auditor.vocabulary import VIEWS

Tables = Mapping[str, pl.DataFrame]
Definitions = Mapping[str, Mapping[str, Any]]


@dataclass(slots=True)
class Scope:
    """Where some rule may apply. Building a view fills `outside`: how many rows of each load were left out.

    `outside` has the place of the load, the load's date and `rows`.
    """

    node: Node
    outside: pl.DataFrame | None = None


class Parts(NamedTuple):
    """What a load is weighed by: with axle readings the rows of `read` for its combination, else those of `unread`."""

    read: pl.DataFrame
    unread: pl.DataFrame


_READ = ("_read_lo", "_read_hi", "_whole")
_COMBINATION = list(grouping.COMBINATION)
_LOAD = ["job", "load"]


def load_legs(
    tables: Tables,
    place: str,
    definitions: Definitions,
    columns: Collection[str] | None = None,
    scope: Scope | None = None,
) -> pl.DataFrame:
    """Each load on each leg of its way in `place` ("US": every leg), with the layout of its axles.

    `definitions["axle_groups"]` holds `tandem_spread_in`, `steer_axle_in_tandem` and `lift_axles_count`. For "US" a
    load whose destination has no legs in the record keeps one row with a blank leg; in a state it has no row, since
    nothing says that it came there. `columns` names the columns wanted; None gives all. Rows certainly outside `scope`
    are left out.
    """
    law = definitions["axle_groups"]
    layout = _once_for(tables, "layout", definitions, lambda: grouping.axle_layout(tables["axles"], **law))
    legs = tables["legs"] if place == EVERYWHERE else tables["legs"].filter(pl.col("state") == place)
    view = [f.name for f in VIEWS["load_legs"].fields]
    leg_columns = [c for c in view if c in legs.columns and c not in tables["loads"].columns]
    if columns is not None:
        columns = {*columns, "gross_weight_lb"}
        leg_columns = [c for c in leg_columns if c in columns or c == "leg"]
        layout = layout[[c for c in layout.columns if c in {*_COMBINATION, *columns}]]
    loads = load_rows(tables, place, columns)
    legs = legs.sort("leg", maintain_order=True).select("job", "destination", *leg_columns)
    loads, legs = _narrowed(loads, legs, scope)
    rows = (
        loads.join(
            legs,
            on=["job", "destination"],
            how="left" if place == EVERYWHERE else "inner",
            maintain_order="left_right",
        )
        .join(layout, on=_COMBINATION, how="left", nulls_equal=True, maintain_order="left", validate="m:1")
    )  # fmt: skip
    return rows.select("job", *(c for c in view if c in rows.columns), *PROVENANCE)


def _narrowed(loads: pl.DataFrame, legs: pl.DataFrame, scope: Scope | None) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The legs that may lie in the scope, as far as their columns can tell, and the loads with no others.

    How many legs of each load were left out is noted in the scope.
    """
    truth = _told_by(scope.node, set(legs.columns)) if scope is not None else None
    if scope is None or truth is None:
        return loads, legs
    way = ["job", "destination"]
    inside = legs.select("job", kleene.possible(truth).alias("inside"))["inside"]
    left_out = legs.filter(~inside).group_by(way).agg(pl.len().alias("rows"))
    kept = legs.filter(inside)
    counted = loads.join(left_out, on=way, how="left", maintain_order="left")["rows"]
    scope.outside = loads.select(PLACE, VIEWS["load_legs"].dated_by, counted).filter(counted.is_not_null())
    without = left_out.join(kept, on=way, how="anti")
    return loads.join(without, on=way, how="anti", maintain_order="left"), kept


def _told_by(node: Node, columns: set[str]) -> pl.Expr | None:
    """The truth of a condition, never false where it may hold; None where these columns tell nothing."""
    if set(node.truth.meta.root_names()) <= columns:
        return node.truth
    told = [_told_by(kid, columns) for kid in node.kids]
    known = [t for t in told if t is not None]
    if node.form == "all_of" and known:
        return kleene.all_of(known)
    return kleene.any_of(known) if node.form == "any_of" and known and len(known) == len(told) else None


def axle_groups(
    tables: Tables,
    place: str,
    definitions: Definitions,
    columns: Collection[str] | None = None,
    scope: Scope | None = None,
) -> pl.DataFrame:
    """Each single axle and tandem of each load on each leg in `place`, with its weight as an interval.

    A load with axle readings has one row per group. One without has one row per kind of group its combination has,
    axle numbers blank: such a group weighs between nothing and the whole load. Where the grouping is not known, kind
    and spread are blank and the weight likewise has no lower bound. Arguments as for `load_legs`.
    """
    parts = _once_for(tables, "groups", definitions, lambda: _groups(tables["axles"], definitions["axle_groups"]))
    return _on_legs("axle_groups", tables, load_legs(tables, place, definitions, columns, scope), columns, scope, parts)


def axle_runs(
    tables: Tables,
    place: str,
    definitions: Definitions,
    columns: Collection[str] | None = None,
    scope: Scope | None = None,
) -> pl.DataFrame:
    """Each run of two or more consecutive axles of each load on each leg in `place`, with its weight as an interval.

    A load with axle readings has one row per run. One without has a row for the whole run, which weighs what the load
    weighs, and one for all the runs inside it, axle numbers blank: it has the fewest axles and the shortest span
    among them, on which a bridge formula allows least, and weighs between nothing and the whole load. A load whose
    axles are not in the record has one row with blanks. Arguments as for `load_legs`.
    """
    parts = _once_for(tables, "runs", definitions, lambda: _runs(tables["axles"], definitions["axle_groups"]))
    return _on_legs("axle_runs", tables, load_legs(tables, place, definitions, columns, scope), columns, scope, parts)


def with_weights(rows: pl.DataFrame, field: str) -> pl.DataFrame:
    """Rows of axles with their weight, as the columns `field__lo` and `field__hi`.

    Where the readings leave its bounds open it weighs between nothing and the gross of the load, or as much as the load
    if it is the whole run. `rows` has what `_on_legs` gives and the gross weight.
    """
    low, high, gross = pl.col("_read_lo"), pl.col("_read_hi"), pl.col("gross_weight_lb").cast(pl.Float64)
    unread = high.is_null()
    return rows.with_columns(
        pl.when(unread & pl.col("_whole") & gross.is_not_null()).then(gross).otherwise(low.fill_null(0.0)).alias(f"{field}__lo"),
        pl.when(unread).then(gross).otherwise(high).alias(f"{field}__hi"),
    )  # fmt: skip


def _once_for(tables: Tables, what: str, definitions: Definitions, make: Callable[[], T]) -> T:
    """What rests on the axles of a record alone, made once for all places that group them in the same way."""
    return once(tables, (what, *definitions["axle_groups"].items()), make)


def _groups(axles: pl.DataFrame, law: Mapping[str, Any]) -> Parts:
    """Groups of axles and, for loads without readings, the kinds of groups of their combination."""
    groups = grouping.axle_groups(axles, **law).with_columns(_whole=pl.lit(False))
    return Parts(groups, groups[[*_COMBINATION, "group_kind", "_whole"]].unique(maintain_order=True))


def _runs(axles: pl.DataFrame, law: Mapping[str, Any]) -> Parts:
    """Runs of axles and, for loads without readings, the whole run and one for all inside it."""
    runs = grouping.axle_runs(axles, **law)
    last = axles.group_by(_COMBINATION).agg(pl.col("axle").max().alias("_last"))
    runs = runs.join(last, on=_COMBINATION, how="left", nulls_equal=True, maintain_order="left")
    whole = (pl.col("first_axle") == 1) & (pl.col("last_axle") == pl.col("_last"))
    runs = runs.with_columns(_whole=whole).drop("_last")
    return Parts(runs, _outer_and_inner(runs))


def _on(loads: pl.DataFrame, legs: pl.DataFrame) -> pl.DataFrame:
    """The loads that have a row among the legs."""
    return loads.filter(pl.col(PLACE).is_in(legs[PLACE].unique().implode()))


def _rows_each(loads: pl.DataFrame, parts: pl.DataFrame) -> pl.DataFrame:
    """How many rows each load has on each of its legs: its parts, or one row of blanks."""
    many = parts.group_by(_COMBINATION).agg(pl.len().alias("items"))
    return loads.join(many, on=_COMBINATION, how="left", nulls_equal=True).select(PLACE, pl.col("items").fill_null(1))


def _times(outside: pl.DataFrame, *items: pl.DataFrame) -> pl.DataFrame:
    """Legs left out as rows left out."""
    rows = outside.join(pl.concat(items), on=PLACE, how="left", maintain_order="left", validate="m:1")
    return rows.with_columns(pl.col("rows") * pl.col("items")).drop("items")


def _split(tables: Tables, parts: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Loads that have both axle readings and parts to weigh, and the others."""
    loads = load_rows(tables, EVERYWHERE)[[*_LOAD, "truck", "trailer", PLACE]]
    weighed = loads.join(tables["axle_weights"], on=_LOAD, how="semi", maintain_order="left").join(
        parts, on=_COMBINATION, how="semi", nulls_equal=True, maintain_order="left"
    )
    return weighed, loads.join(weighed, on=PLACE, how="anti", maintain_order="left")


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


def _on_legs(
    view: str, tables: Tables, legs: pl.DataFrame, columns: Collection[str] | None, scope: Scope | None, parts: Parts
) -> pl.DataFrame:
    """Put the parts of each load on each of its legs, in the columns of the view and those that `with_weights` reads."""
    loads, others = once(tables, ("split", view, id(parts)), lambda: _split(tables, parts.read))
    if scope is not None and scope.outside is not None:
        scope.outside = _times(scope.outside, _rows_each(loads, parts.read), _rows_each(others, parts.unread))
        items = _weighed(tables, _on(loads, legs), _on(others, legs), parts)
    else:
        items = once(tables, ("weighed", view, id(parts)), lambda: _weighed(tables, loads, others, parts))
    kept, names = [PLACE, *_READ], ["job"]
    for field in VIEWS[view].fields:
        if field.name in legs.columns:
            names.append(field.name)
        elif field.name in items.columns and (columns is None or field.name in {*columns, "first_axle", "last_axle"}):
            kept.append(field.name)
    rows = legs.join(items[kept], on=PLACE, how="left", maintain_order="left_right")
    return rows[[*names, *kept[1:], *PROVENANCE]]


def _weighed(tables: Tables, loads: pl.DataFrame, others: pl.DataFrame, parts: Parts) -> pl.DataFrame:
    """The parts of each load by the place of the load, with the bounds that readings give for their weight."""
    read = loads.join(parts.read, on=_COMBINATION, nulls_equal=True, maintain_order="left_right")
    read = weigh_runs(read, tables["axle_weights"]).rename(
        {f"weight_lb__{end}": f"_read_{end}" for end in ("lo", "hi")}
    )
    if "group_kind" in read.columns:
        # A group somewhere among undecided axles may hold only the lightest of them.
        low = pl.when(pl.col("group_kind").is_not_null()).then(pl.col("_read_lo")).otherwise(0.0)
        read = read.with_columns(low.alias("_read_lo"))
    rest = others.join(parts.unread, on=_COMBINATION, how="left", nulls_equal=True, maintain_order="left_right")
    # A row that stands for several has no axle numbers of its own, and no readings.
    return pl.concat([read, rest], how="diagonal").drop(*_LOAD, "truck", "trailer")
