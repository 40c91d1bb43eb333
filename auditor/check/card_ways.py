"""One way of a load card: from judged trials to what the combination may gross, and what stops the next pound."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import polars as pl

from auditor.check.card_trials import OPEN, heaviest_lb
from auditor.check.card_words import NOTHING, Because, because, facts, road_name, words
from auditor.report.card_model import CardFact, CardLeg, CardWay, Standing
from auditor.rules.compiled import Code
from auditor.rules.reading import Rulebook

STOPPED = (*OPEN, int(Code.NONCONFORMITY))
SETTLED = tuple(c for c in STOPPED if c != int(Code.NOT_EVIDENCED))
"""Outcomes that no fact of the record would change: a limit that is broken, sources that give no single figure."""
NO_ROADS = CardFact(fact="legs", meaning="the roads to this destination, leg by leg")
NO_LIMIT = "no gross limit in the rule files"


@dataclass(frozen=True, slots=True)
class Trials:
    """The judged trials of a way, the weights that were tried, and what narrows a blank fact to what may be to blame."""

    rows: pl.DataFrame
    tried: Sequence[int]
    narrowed: Callable[[str], str]

    def some(self, rows: pl.DataFrame) -> Trials:
        """The same with some of the rows."""
        return replace(self, rows=rows)

    def reach(self, stopping: Sequence[int]) -> Reach:
        """How heavy trials may be before a row with one of the outcomes `stopping` applies to one."""
        return reach(self.rows, self.tried, stopping)

    def open_facts(self, could: Reach) -> list[CardFact]:
        """What is not evidenced at the most that it could be: the facts to show before it is."""
        at = could.gross if could.stopped_at is not None else heaviest_lb()
        rows = self.rows.filter(pl.col("gross").eq_missing(at), pl.col("code") == int(Code.NOT_EVIDENCED))
        return facts(self.narrowed(f) for row in rows["open"].drop_nulls() for f in row)


@dataclass(frozen=True, slots=True)
class Reach:
    """The heaviest trial below the lightest that is stopped; `stopped_at` None: none is, every weight may pass."""

    gross: int | None
    stopped_at: int | None


def reach(rows: pl.DataFrame, tried: Sequence[int], stopping: Sequence[int]) -> Reach:
    """How heavy trials may be before a row with one of the outcomes `stopping` applies to one."""
    stopped = rows.filter(pl.col("code").is_in(list(stopping)))["gross"].to_list()
    if not stopped:
        return Reach(None, None)
    least = min(stopped)
    return Reach(max((g for g in tried if g < least), default=None), least)


def way_of(
    way: Mapping[str, Any],
    roads: Sequence[Mapping[str, Any]],
    trials: Trials,
    tare: float | None,
    rulebook: Rulebook,
) -> CardWay:
    """The way to one destination. `roads` are its legs as recorded."""
    shown, could = trials.reach(STOPPED), trials.reach(SETTLED)
    without = _places_without_rules(roads, rulebook)
    standing: Standing = "not shown"
    if roads and not without and shown.stopped_at is None:
        standing = "no limit"
    elif roads and not without and shown.gross is not None:
        standing = "shown"
    gross = shown.gross if standing == "shown" else None
    legs = list(_legs(roads, trials, rulebook, without))
    for leg in legs:
        leg.governs = gross is not None and leg.gross_limit_lb == gross
    return CardWay(
        destination=way["destination"],
        products=[] if way["product"] is None else [words(way["product"])],
        origin=words(way["origin_kind"]),
        standing=standing,
        gross_lb=gross,
        payload_lb=gross - tare if gross is not None and tare is not None else None,
        could_gross_lb=could.gross if roads and could.gross != gross else None,
        open_facts=trials.open_facts(could) if roads else [NO_ROADS],
        left_open=[
            *(f"no weight rules for {place.removeprefix('US-')} in the rule files" for place in without),
            *_ranges(trials.rows, could, rulebook),
        ],
        legs=legs,
        axle_limits=[],
    )


def _places_without_rules(roads: Sequence[Mapping[str, Any]], rulebook: Rulebook) -> list[str]:
    """States in which a public road lies and whose weight rules nobody wrote; federal rules hold on the Interstate."""
    weighed = {f.place for f in rulebook.files if f.topic == "weight"}
    public = [r for r in roads if r["road_class"] not in ("private", "interstate")]
    return sorted({str(r["state"]) for r in public} - weighed)


def _ranges(rows: pl.DataFrame, could: Reach, rulebook: Rulebook) -> list[str]:
    """Rules whose sources leave a range just above what it could be."""
    above = rows.filter(pl.col("gross").eq_missing(could.stopped_at), pl.col("code") == int(Code.INCONCLUSIVE))
    keys = above["rule"].unique().sort()
    return [f"{rulebook.get(k)[1].title}: the sources give no single figure" for k in keys]


def _legs(
    roads: Sequence[Mapping[str, Any]],
    trials: Trials,
    rulebook: Rulebook,
    without: Sequence[str],
) -> Iterator[CardLeg]:
    rows = trials.rows
    parts = {key[0]: part for key, part in rows.partition_by("leg", as_dict=True).items()}
    for road in roads:
        if road["road_class"] == "private":
            continue
        unruled = road["state"] in without and road["road_class"] != "interstate"
        part = rows.clear() if unruled else parts.get(road["leg"], rows.clear())
        yield _leg(trials.some(part), rulebook, road["leg"], road_name(road), road["state"])
    # rules about the whole way; a record without legs has its roads blank and nothing to say of them
    whole = parts.get(None, rows.clear()) if roads else rows.clear()
    for (state,), part in sorted(whole.partition_by("state", as_dict=True).items(), key=lambda p: str(p[0])):
        yield _leg(trials.some(part), rulebook, None, "whole way", str(state))


def _leg(trials: Trials, rulebook: Rulebook, number: int | None, road: str, state: str) -> CardLeg:
    shown, could = trials.reach(STOPPED), trials.reach(SETTLED)
    said = _stops(trials.rows, shown, rulebook)
    return CardLeg(
        leg=number,
        road=road,
        state=state.removeprefix("US-"),
        gross_limit_lb=shown.gross,
        because=NO_LIMIT if shown.stopped_at is None else said.name,
        source=said.source,
        verified=said.verified,
        governs=False,
        open_facts=trials.open_facts(could),
    )


def _stops(rows: pl.DataFrame, shown: Reach, rulebook: Rulebook) -> Because:
    """What stops the next heavier trial: a limit it breaks, the lowest first; else a limit that is open."""
    if shown.stopped_at is None:
        return NOTHING
    stopping = rows.filter(pl.col("gross") == shown.stopped_at, pl.col("code").is_in(list(STOPPED)))
    lowest = stopping.with_columns(unnamed=pl.col("limit_name").is_null()).sort(
        ["code", "high", "unnamed", "rule"], descending=[True, False, False, False], nulls_last=True
    )
    row = lowest.row(0, named=True)
    return because(rulebook, row["rule"], row["limit_name"], row["arm"])
