"""The views of whole loads, of their stacks and of their tiedowns.

`definitions` come from the rule files. Here are read:

- `working_load_limits`: `tables`, `unmarked` (shapes in `auditor.measures.securement.working_load_limits`; each
  entry also carries `source` and `verified`) and `routing_factors`, routing to factor;
- `log_length`: `shortwood_up_to_ft`;
- `tiedown_positions`: `targets`, shares of the length;
- `ticket`: `contents`, names or lists of alternatives.

What a missing definition would settle is null.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

import polars as pl

from auditor.check.views.base import PROVENANCE, load_rows
from auditor.measures import papers, securement, tickets, transit
from auditor.vocabulary import VIEWS

_LOAD = ["job", "load"]
_STACK = ["job", "load", "stack"]
_NOT_JUDGED = ["note", "_file", "_sheet", "_row"]


WEIGHTS = ("gross_weight_lb", "tare_weight_lb", "net_weight_lb")


def _narrowed(rows: pl.DataFrame, view: str, columns: Collection[str] | None) -> pl.DataFrame:
    """The rows without what nobody asked for; of stacks what their weight rests on stays."""
    wanted = {f.name for f in VIEWS[view].fields if columns is None or f.name in columns}
    ends = {f"{name}__{end}" for name in wanted for end in ("lo", "hi")}
    needed = {*WEIGHTS, "stack_count", "_weight_lb"} if view == "stacks" else set()
    kept = {"job", "load", *needed, *wanted, *ends, *PROVENANCE}
    return rows.select(c for c in rows.columns if c in kept)


def _base(
    tables: Mapping[str, pl.DataFrame], place: str, columns: Collection[str] | None, *needed: str
) -> pl.DataFrame:
    """Loads with their mates, narrowed to what is asked for and what the view itself needs."""
    return load_rows(tables, place, None if columns is None else {*columns, *needed})


def own_or_usual(rows: pl.DataFrame, loads: pl.DataFrame, basis: str) -> pl.DataFrame:
    """The rows of a table that hold for each load, with `job` and `load`; `basis` tells whose they are.

    A load with any rows of its own has only those; any other takes the usual rows of its truck.
    """
    rows = rows.drop(_NOT_JUDGED)
    loads = loads.select("job", "load", "truck").with_row_index("_order")
    own = loads.join(rows.drop("truck"), on=_LOAD, how="inner", maintain_order="left_right")
    rest = loads if own.is_empty() else loads.join(own, on=_LOAD, how="anti", maintain_order="left")
    usual = rest.join(
        rows.filter(pl.col("load").is_null()).drop("load"),
        on=["job", "truck"],
        how="inner",
        maintain_order="left_right",
    )
    basis_type = pl.Enum(["this_load", "usual"])
    both = [own.with_columns(pl.lit("this_load", dtype=basis_type).alias(basis))]
    both.append(usual.with_columns(pl.lit("usual", dtype=basis_type).alias(basis)).select(both[0].columns))
    rows = pl.concat(both) if not own.is_empty() else both[1]
    return rows.sort("_order", maintain_order=True).drop("_order", "truck")


TICKET_CHECKS = frozenset(
    {
        "ticket_gap_lb", "axle_sum_gap_lb", "same_ticket_count", "implied_speed_mph", "tare_drift_lb",
        "days_outside_operation",
    }
)  # fmt: skip


def ticket_checks(tables: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
    """The scale ticket of each load against itself and the others.

    All loads are looked at, wherever they went: the load before may have gone to another state.
    """
    vehicle = ("job", "truck", "trailer")
    rows = (
        tables["loads"]
        .join(transit.trip_miles(tables["legs"]), on=["job", "destination"], how="left", maintain_order="left")
        .join(
            tables["job"].select("job", "operation_start", "operation_end"), on="job", how="left", maintain_order="left"
        )
    )
    gross, tare, net = (pl.col(f"{w}_weight_lb").cast(pl.Float64) for w in ("gross", "tare", "net"))
    return rows.select(
        *_LOAD,
        tickets.ticket_gap_lb(gross, tare, net).alias("ticket_gap_lb"),
        tickets.axle_sum_gap_lb(rows, tables["axle_weights"], tables["axles"]),
        tickets.same_ticket_count(rows),
        tickets.implied_speed_mph(rows),
        tickets.tare_drift_lb(tare, *vehicle).alias("tare_drift_lb"),
        tickets.days_outside_operation(pl.col("load_date"), pl.col("operation_start"), pl.col("operation_end")).alias(
            "days_outside_operation"
        ),
    )


def _ticket_columns(tables: Mapping[str, pl.DataFrame], definitions: Mapping[str, Any]) -> pl.DataFrame:
    """What became of the ticket of each load; one given to the landowner may or may not have reached the seller."""
    given_out = tables["tickets"].unique(_LOAD, keep="first", maintain_order=True)
    to = pl.col("given_to").cast(pl.String)
    given = pl.when(to == "seller").then(True).when(to == "other").then(False)
    contents = definitions.get("ticket", {}).get("contents")
    if contents is None:
        blank = {"ticket_missing_count": pl.Int64(), "missing_contents": pl.String()}
        missing = [pl.lit(None, dtype=dtype).alias(name) for name, dtype in blank.items()]
    else:
        of = (papers.ticket_missing_count, papers.missing_contents)
        missing = [pl.lit(measure(given_out["contents"], contents)) for measure in of]
    return given_out.select(*_LOAD, "given_on", given.alias("ticket_given"), *missing, pl.lit(True).alias("_listed"))


def _told_not_given(tables: Mapping[str, pl.DataFrame], rows: pl.DataFrame) -> pl.DataFrame:
    """`ticket_given` is False where the list of tickets is declared complete for the day of the load and has none."""
    if "declared" not in tables:
        return rows
    periods = tables["declared"].filter(pl.col("table") == "tickets")
    days = rows.select(*_LOAD, "load_date").join(periods, on="job", how="inner")
    covered = days.filter(pl.col("load_date").is_between("from", "until")).select(_LOAD).unique()
    rows = rows.join(covered.with_columns(_complete=True), on=_LOAD, how="left", maintain_order="left")
    absent = pl.col("_complete").is_not_null() & pl.col("_listed").is_null()
    return rows.with_columns(pl.when(absent).then(False).otherwise(pl.col("ticket_given")).alias("ticket_given"))


def loads(
    tables: Mapping[str, pl.DataFrame],
    place: str,
    definitions: Mapping[str, Any],
    columns: Collection[str] | None = None,
) -> pl.DataFrame:
    """Each load with its ticket, vehicle, size, marking and the checks made on the way.

    `columns` names the columns wanted; None gives all.
    """
    base = _base(tables, place, columns, "load_date")
    job = tables["job"].select(
        "job", pl.col("state").alias("job_state"),
        "sold_by_load", "harvest_completed_on", "operation_start", "operation_end",
    )  # fmt: skip
    marked = own_or_usual(tables["markings"], base, "marking_basis").drop("marking_basis")
    miles = transit.trip_miles(tables["legs"])
    rows = (
        base.join(job, on="job", how="left", maintain_order="left")
        .join(marked.unique(_LOAD, keep="first"), on=_LOAD, how="left", maintain_order="left")
        .join(miles, on=["job", "destination"], how="left", maintain_order="left")
        .join(_ticket_columns(tables, definitions), on=_LOAD, how="left", maintain_order="left")
    )
    rows = _told_not_given(tables, rows)
    if columns is None or not TICKET_CHECKS.isdisjoint(columns):
        rows = rows.join(ticket_checks(tables), on=_LOAD, how="left", maintain_order="left")
    looks = transit.checks_on_the_way(tables["load_checks"], rows.select(*_LOAD, "trip_miles"))
    rows = rows.join(looks, on=_LOAD, how="left", maintain_order="left")
    given_on = pl.col("given_on")
    rows = rows.with_columns(
        ticket_days_after_removal=(given_on - pl.col("load_date")).dt.total_days(),
        ticket_days_after_harvest=(given_on - pl.col("harvest_completed_on")).dt.total_days(),
    )
    return _narrowed(rows, "loads", columns)


def _wll_tables(definitions: Mapping[str, Any]) -> dict[str, Any]:
    law = definitions.get("working_load_limits", {})
    return {"tables": law.get("tables", ()), "unmarked": law.get("unmarked", {})}


def _rated_lines(
    tables: Mapping[str, pl.DataFrame], base: pl.DataFrame, definitions: Mapping[str, Any]
) -> pl.DataFrame:
    """The lines of tiedowns that hold for each load, with their working load limits."""
    lines = own_or_usual(tables["tiedowns"], base, "tiedown_basis")
    limit = securement.working_load_limit_lb(
        lines["material"],
        lines["size_in"],
        lines["grade"],
        lines["thickness_in"],
        marked_wll_lb=lines["marked_wll_lb"],
        tensioner_wll_lb=lines["tensioner_wll_lb"],
        anchor_wll_lb=lines["anchor_wll_lb"],
        **_wll_tables(definitions),
    )
    return lines.with_columns(limit.alias("wll_lb"))


def _alike(tables: Mapping[str, pl.DataFrame], base: pl.DataFrame) -> pl.DataFrame:
    """Each load with `_like`, the first load that the same rows of stacks and tiedowns hold for.

    Usual rows hold for many loads; what they come to is worked out once.
    """
    loads = base.select("job", "load", "truck")
    for table in ("stacks", "tiedowns"):
        own = tables[table].select(_LOAD).unique().with_columns(pl.col("load").alias(f"_{table}"))
        loads = loads.join(own, on=_LOAD, how="left", maintain_order="left")
    first = pl.col("load").first().over("job", "truck", "_stacks", "_tiedowns")
    return loads.select(*_LOAD, "truck", first.alias("_like"))


def _stack_rows(tables: Mapping[str, pl.DataFrame], loads: pl.DataFrame) -> pl.DataFrame:
    """Each stack of each load; a load without any has one row of blanks, so that the lack can be told."""
    stacks = own_or_usual(tables["stacks"], loads, "stack_basis")
    count = pl.len().over(_LOAD).cast(pl.Int64).alias("stack_count")
    stacks = stacks.sort("stack", maintain_order=True).with_columns(count)
    return loads.select(_LOAD).join(stacks, on=_LOAD, how="left", maintain_order="left_right")


def _lines_on_stacks(stacks: pl.DataFrame, lines: pl.DataFrame) -> pl.DataFrame:
    """Each line of tiedowns beside each stack it holds or may hold (`holds_stack` blank).

    A line without a stack number holds the only stack; with several stacks, or none listed, nobody knows which.
    """
    pairs = stacks.select(*_STACK, "stack_count", "longest_log_ft").join(
        lines.rename({"stack": "_named"}), on=_LOAD, how="inner", maintain_order="left_right"
    )
    named, stack = pl.col("_named"), pl.col("stack")
    holds = pl.when(named.is_not_null()).then(named == stack).when(pl.col("stack_count") == 1).then(True)
    pairs = pairs.with_columns(holds_stack=holds)
    return pairs.filter(pl.col("holds_stack").fill_null(True))


def _held(pairs: pl.DataFrame, definitions: Mapping[str, Any]) -> list[pl.DataFrame]:
    """The measures of the tiedowns of each stack, one frame per measure."""
    factors = definitions.get("working_load_limits", {}).get("routing_factors")
    targets = definitions.get("tiedown_positions", {}).get("targets")
    none = pairs.select(_STACK).head(0)
    blank = pl.lit(None, dtype=pl.Float64)
    return [
        securement.tiedown_counts(pairs),
        securement.weakest_tiedown_wll_lb(pairs),
        securement.wrapper_spacing_ft(pairs),
        securement.aggregate_wll_lb(pairs, routing_factors=factors)
        if factors
        else none.with_columns(aggregate_wll_lb__lo=blank, aggregate_wll_lb__hi=blank),
        securement.tiedown_position_gap_share(pairs, targets=targets)
        if targets
        else none.with_columns(tiedown_position_gap_share=blank),
    ]


def _held_stacks(
    tables: Mapping[str, pl.DataFrame], loads: pl.DataFrame, definitions: Mapping[str, Any]
) -> pl.DataFrame:
    """The stacks of these loads with their class of length and all that their tiedowns come to."""
    rows = _stack_rows(tables, loads)
    lines = _rated_lines(tables, loads, definitions)
    for measured in _held(_lines_on_stacks(rows, lines), definitions):
        rows = rows.join(measured, on=_STACK, how="left", nulls_equal=True, maintain_order="left")
    whose = lines.select(*_LOAD, "tiedown_basis").unique(maintain_order=True)
    rows = rows.join(whose, on=_LOAD, how="left", maintain_order="left")
    limit = definitions.get("log_length", {}).get("shortwood_up_to_ft")
    short, long, within = (rows[n] for n in ("shortest_log_ft", "longest_log_ft", "shortwood_embedded"))
    length_class = (
        pl.Series([None] * len(rows), dtype=securement.LOG_CLASSES)
        if limit is None
        else securement.log_length_class(short, long, within, shortwood_up_to_ft=limit)
    )
    return rows.with_columns(length_class.alias("log_length_class"))


def stacks(
    tables: Mapping[str, pl.DataFrame],
    place: str,
    definitions: Mapping[str, Any],
    columns: Collection[str] | None = None,
) -> pl.DataFrame:
    """Each stack of each load with the tiedowns that hold it.

    A load without stacks has one row of blanks. Where no line of tiedowns is listed for a stack, its count and its
    limits are null: no row is no evidence. `columns` names the columns wanted; None gives all.
    """
    base = _base(tables, place, columns, *WEIGHTS)
    alike = _alike(tables, base)
    held = _held_stacks(tables, alike.filter(pl.col("load") == pl.col("_like")), definitions)
    rows = (
        base.drop("longest_log_ft", strict=False)
        .join(alike.drop("truck"), on=_LOAD, how="left", maintain_order="left")
        .join(held.rename({"load": "_like"}), on=["job", "_like"], how="left", maintain_order="left_right")
    )
    return _narrowed(rows.rename({"weight_lb": "_weight_lb"}), "stacks", columns)


def with_stack_weights(rows: pl.DataFrame) -> pl.DataFrame:
    """Rows of stacks with the weight of each, as an interval; the weights of the load are columns of the rows."""
    return rows.with_columns(securement.stack_weight_lb(rows.rename({"_weight_lb": "weight_lb"})).get_columns())


def tiedowns(
    tables: Mapping[str, pl.DataFrame],
    place: str,
    definitions: Mapping[str, Any],
    columns: Collection[str] | None = None,
) -> pl.DataFrame:
    """Each line of tiedowns or wrappers on each load, with the working load limit of its weakest part.

    `columns` names the columns wanted; None gives all.
    """
    base = _base(tables, place, columns)
    lines = own_or_usual(tables["tiedowns"], base, "tiedown_basis")
    lines = securement.working_load_limits(lines, **_wll_tables(definitions))
    rows = base.join(lines, on=_LOAD, how="inner", maintain_order="left_right")
    return _narrowed(rows, "tiedowns", columns)
