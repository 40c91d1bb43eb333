"""From loads and their limits to season figures: shares over the limit, spread, target gross, room left."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Literal

import polars as pl

from auditor.check.limits_used import cite, mark
from auditor.check.season import BLANK, NONE, OPEN, SeasonLoads
from auditor.measures.season import exact_share_limits, overload_margins, room_lb, weight_spread
from auditor.report.season_model import (
    SEASON_GROUPS,
    Apart,
    GroupFigures,
    GroupName,
    LimitFigures,
    Margin,
    Room,
    SetApart,
    Share,
    Spread,
    Target,
)
from auditor.rules.reading import Rulebook
from auditor.vocabulary.quantities import count_text

CONFIDENCE = 0.95
LEAST_LOADS = 10
"""Fewer loads say too little about a scatter; the count is this project's choice."""
LB_PER_SHORT_TON = 2000
SAMPLES = 5
ALL = "all"

_KEY = ["by", "value"]
_OVER = {"over_limit": "limit_lb", "over_tolerated": "tolerated_lb"}
_ENTRY = ["rule", "limit_name", "arm", "limit_lb"]


def limit_figures(found: SeasonLoads, rulebook: Rulebook) -> list[LimitFigures]:
    """Each limit that was the lowest of the way for some load, by the count of its loads."""
    rows = _held(found.loads)
    tolerated = pl.col("tolerated_lb")
    one = (tolerated.n_unique() == 1) & (tolerated.null_count() == 0)
    groups = (
        rows.group_by(_ENTRY)
        .agg(pl.len().alias("loads"), pl.when(one).then(tolerated.first()).alias("tolerated_lb"), *_overs())
        .sort(pl.col("loads"), *_ENTRY, descending=[True, *[False] * 4], nulls_last=True)
    )
    shares = _shares(groups)
    return [
        LimitFigures(
            limit=cite(rulebook, row["rule"], row["limit_name"], row["arm"]),
            limit_lb=row["limit_lb"],
            tolerated_lb=row["tolerated_lb"],
            over_limit=shares["over_limit"][place],
            over_tolerated=shares["over_tolerated"][place],
            note=_note(mark(rulebook, row["rule"], row["limit_name"], row["arm"])),
        )
        for place, row in enumerate(groups.to_dicts())
    ]


def _note(verified: str) -> Literal["", "limit unconfirmed", "limit second-hand"]:
    if verified == "memory":
        return "limit unconfirmed"
    return "limit second-hand" if verified == "secondary" else ""


def set_apart(found: SeasonLoads) -> list[SetApart]:
    """The loads that no share counts, by reason."""
    gross = pl.col("gross_weight_lb")
    result = []
    reasons: tuple[Apart, ...] = (BLANK, OPEN, NONE)
    for reason in reasons:
        rows = found.loads.filter(pl.col("apart") == reason)
        if not rows.height:
            continue
        is_open = reason == OPEN
        causes = found.open.join(rows, on=["job", "load"], how="semi").group_by("rule").len().sort("rule")
        result.append(
            SetApart(
                reason=reason,
                load_count=rows.height,
                over_any_way=rows.filter(gross > pl.col("limit_high")).height if is_open else 0,
                inside_any_way=rows.filter(gross <= pl.col("limit_low")).height if is_open else 0,
                left_open_by=[_cause(rule, n) for rule, n in causes.iter_rows()] if is_open else [],
                sample_tickets=rows.sort("job", "load_date", "load", nulls_last=True)["load"].head(SAMPLES).to_list(),
            )
        )
    return result


def _cause(rule: str, loads: int) -> str:
    name = f"rule {rule}" if "/" in rule else f"no rule on gross weight for {rule}"
    return f"{name} ({count_text(loads, 'load')})"


def group_figures(found: SeasonLoads, rulebook: Rulebook, share: float, by: Sequence[GroupName]) -> list[GroupFigures]:
    """Figures of all loads, then of each truck, driver, product and destination, as `by` asks."""
    rows = _grouped(_marked(found.loads, rulebook), by)
    held = _held(rows)
    counts = rows.group_by(_KEY).agg(pl.len().alias("all_loads"))
    doubtful = pl.col("unconfirmed").sum()  # nulls: it has none
    shares = held.group_by(_KEY).agg(pl.len().alias("loads"), doubtful.alias("unconfirmed"), *_overs())
    margins = overload_margins(held, _KEY, "limit_lb", share, LEAST_LOADS).with_columns(
        *(pl.col(f"{name}_margin_lb").ceil().cast(pl.Int64).alias(name) for name in ("observed", "normal")),
    )
    margins = margins.with_columns(
        pl.when(pl.col("observed").is_null() | (pl.col("normal") > pl.col("observed")))
        .then(pl.col("normal"))
        .otherwise(pl.col("observed"))
        .alias("used")
    )
    table = (
        counts.join(shares, on=_KEY, how="left", nulls_equal=True)
        .join(weight_spread(rows, _KEY).rename({"loads": "weighed"}), on=_KEY, how="left", nulls_equal=True)
        .join(margins.drop("freedom"), on=_KEY, how="left", nulls_equal=True)
        .join(_room(held, margins), on=_KEY, how="left", nulls_equal=True)
        .with_columns(pl.col("loads", "over_limit", "over_tolerated", "tolerated_loads", "unconfirmed").fill_null(0))
        .with_columns(pl.col("by").replace_strict([ALL, *SEASON_GROUPS], range(len(SEASON_GROUPS) + 1)).alias("order"))
        .sort("order", "value", nulls_last=True)
    )
    all_shares, targets = _shares(table), _targets(held, margins)
    return [
        _figures(
            row, {name: all_shares[name][place] for name in _OVER}, targets.get((row["by"], row["value"]), []), share
        )
        for place, row in enumerate(table.to_dicts())
    ]


def _held(rows: pl.DataFrame) -> pl.DataFrame:
    """The loads with a weight and a limit that is one number."""
    return rows.filter(pl.col("apart").is_null())


def _marked(loads: pl.DataFrame, rulebook: Rulebook) -> pl.DataFrame:
    entries = loads.filter(pl.col("rule").is_not_null()).select("rule", "limit_name", "arm").unique()
    weak = [mark(rulebook, *entry) == "memory" for entry in entries.iter_rows()]
    marks = entries.with_columns(pl.Series("unconfirmed", weak, dtype=pl.Boolean))
    joined = loads.join(marks, on=["rule", "limit_name", "arm"], how="left", nulls_equal=True, maintain_order="left")
    # Only loads without a limit are left: they rest on none that could be confirmed.
    return joined.with_columns(pl.col("unconfirmed").fill_null(False))


def _grouped(loads: pl.DataFrame, by: Sequence[GroupName]) -> pl.DataFrame:
    """The loads once for all together and once for each way to group, with columns `by` and `value`.

    A unit, a driver or a destination is known by name within a contractor only; with several, theirs is added.
    """
    owner = pl.coalesce("contractor", pl.format("job {}", "job"))
    several = loads.select(owner.n_unique()).item() > 1
    parts = [loads.with_columns(by=pl.lit(ALL), value=pl.lit(None, dtype=pl.String))]
    for name in by:
        own = several and name != "product"
        value = pl.format("{} ({})", name, owner) if own else pl.col(name)
        parts.append(loads.with_columns(by=pl.lit(name), value=value))
    return pl.concat(parts)


def _overs() -> list[pl.Expr]:
    """How many loads are over, and how many have a tolerated limit that is one number."""
    found = [pl.col("tolerated_lb").count().alias("tolerated_loads")]
    for name, bound in _OVER.items():
        over = pl.col("gross_weight_lb") > pl.col(bound)
        found.append(over.sum().alias(name))  # nulls: no such limit; `tolerated_loads` leaves them out too
    return found


def _shares(groups: pl.DataFrame) -> dict[str, list[Share]]:
    found = {}
    for name, of in (("over_limit", "loads"), ("over_tolerated", "tolerated_loads")):
        limits = exact_share_limits(groups[name], groups[of], CONFIDENCE)
        rows = zip(groups[name], groups[of], limits["share_low"], limits["share_high"], strict=True)
        found[name] = [
            Share(
                over_count=over,
                load_count=loads,
                share=round(over / loads, 6) if loads else None,
                low=None if low is None else round(low, 6),
                high=None if high is None else round(high, 6),
            )
            for over, loads, low, high in rows
        ]
    return found


def _target(name: str) -> pl.Expr:
    """Limit less margin, in whole pounds, down."""
    return (pl.col("limit_lb") - pl.col(name)).floor().cast(pl.Int64)


def _targets(held: pl.DataFrame, margins: pl.DataFrame) -> dict[tuple[str, str | None], list[Target]]:
    gross = pl.col("gross_weight_lb")
    over = (gross > pl.col("limit_lb")).sum()  # nulls: held loads have both
    rows = (
        held.group_by(*_KEY, "limit_lb")
        .agg(pl.len().alias("loads"), over.alias("over"), gross.mean().alias("mean"))
        .join(margins, on=_KEY, how="left", nulls_equal=True)
        .with_columns(_target(name).alias(f"{name}_target") for name in ("observed", "normal", "used"))
        .sort(*_KEY, "loads", "limit_lb", descending=[False, False, True, True], nulls_last=True)
    )
    found: dict[tuple[str, str | None], list[Target]] = {}
    for row in rows.to_dicts():
        found.setdefault((row["by"], row["value"]), []).append(
            Target(
                limit_lb=row["limit_lb"],
                load_count=row["loads"],
                over_count=row["over"],
                mean_lb=_whole(row["mean"]) or 0,
                observed_lb=row["observed_target"],
                normal_lb=row["normal_target"],
                used_lb=row["used_target"],
            )
        )
    return found


def _room(held: pl.DataFrame, margins: pl.DataFrame) -> pl.DataFrame:
    gross = pl.col("gross_weight_lb")
    rows = held.join(margins.select(*_KEY, "used"), on=_KEY, how="left", nulls_equal=True)
    rows = rows.with_columns(_target("used").alias("target"))
    under_limit = room_lb(gross, pl.col("limit_lb")).floor().cast(pl.Int64)
    under_target = room_lb(gross, pl.col("target"))
    told = pl.col("target").count() > 0
    return rows.group_by(_KEY).agg(
        under_limit.count().alias("inside"),
        under_limit.sum().alias("under_limit"),  # nulls: overloads, which leave no room
        pl.when(told).then((under_target > 0).sum()).alias("below_target"),  # nulls: loads over the target
        pl.when(told).then(under_target.sum()).alias("under_target"),  # nulls: loads over the target
    )


def _figures(row: Mapping[str, Any], shares: Mapping[str, Share], targets: list[Target], share: float) -> GroupFigures:
    quantiles = ("mean_lb", "sd_lb", "least_lb", "q05_lb", "q25_lb", "median_lb", "q75_lb", "q95_lb", "greatest_lb")
    scatter_loads = row["scatter_loads"] or 0
    return GroupFigures(
        by=row["by"],
        value=row["value"],
        load_count=row["all_loads"],
        few_loads=shares["over_limit"].load_count < LEAST_LOADS,
        unconfirmed_count=row["unconfirmed"],
        over_limit=shares["over_limit"],
        over_tolerated=shares["over_tolerated"],
        gross=Spread(load_count=row["weighed"], **{name: _whole(row[name]) for name in quantiles}),
        margin=Margin(
            scatter_load_count=scatter_loads,
            scatter_sd_lb=_whole(row["scatter_sd_lb"]),
            observed_lb=row["observed"],
            normal_lb=row["normal"],
            used_lb=row["used"],
            observed_is_furthest=row["observed_is_furthest"] is True,
            why_not=_why_not(scatter_loads, row["observed"], share),
        ),
        targets=targets,
        room=_room_of(row),
    )


def _room_of(row: Mapping[str, Any]) -> Room:
    limit, target = row["under_limit"] or 0, row["under_target"]
    return Room(
        inside_count=row["inside"] or 0,
        under_limit_lb=limit,
        under_limit_short_tons=round(limit / LB_PER_SHORT_TON, 2),
        below_target_count=row["below_target"],
        under_target_lb=target,
        under_target_short_tons=None if target is None else round(target / LB_PER_SHORT_TON, 2),
    )


def _why_not(loads: int, observed: int | None, share: float) -> str:
    if loads < LEAST_LOADS:
        return f"{count_text(loads, 'load')} with a known limit that another load shares; a margin takes {LEAST_LOADS}"
    if observed is None:
        needed = math.ceil(1 / share - 1e-9) - 1
        return f"from the scatter as it was it takes {needed:,} loads for {share * 100:g} percent, there are {loads:,}"
    return ""


def _whole(value: float | None) -> int | None:
    """Rounded to whole pounds, halves up."""
    return None if value is None else math.floor(value + 0.5)
