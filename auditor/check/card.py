"""The load card: what each combination may gross to each destination on a day, leg by leg, and which leg governs.

Trial loads are judged by the rules as they stand; the heaviest below which nothing is stopped or left open is the
answer, and what stops the next pound is the reason. Limits that hang on the gross weight itself need no special care.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import polars as pl

from auditor.check.card_axles import axle_limits
from auditor.check.card_tiedowns import tiedowns_needed
from auditor.check.card_trials import OPEN, heaviest_lb, judged_trials
from auditor.check.card_words import NOTHING, Because, because, facts
from auditor.record import Record
from auditor.report.card_model import Card, CardFact, CardLeg, CardPaper, CardWay, Standing
from auditor.rules.compiled import Code
from auditor.rules.reading import Rulebook
from auditor.vocabulary import VIEWS

CAUTIONS = (
    "Gross weight alone: each axle and axle group must also be within its own limit; shift or scale where in doubt.",
    "Tiedowns are counted for one stack that holds the whole payload, no large logs above the bunks.",
    "Posted roads and bridges, permit terms and the enforcing agency govern over this card.",
    "The card says what the records and rule files show for its day. It never calls a load safe or legal.",
)
_TRACT = ("grown_state", "origin_has_scale")
"""Facts of a load that hold for the tract and not for the day; taken over where all loads of the job agree."""
_COMBINATION = ["job", "truck", "trailer"]
_HAUL = ["product", "origin_kind"]


def load_cards(record: Record, rulebook: Rulebook, on: date) -> list[Card]:
    """One card for each combination that hauled, in the order of job and truck."""
    ways = usual_ways(record.tables)
    if not ways.height:
        return []
    trials, rows = judged_trials(record.tables, ways, rulebook, on)
    book = _Book(record, rulebook, on)
    tried = {key[0]: part["gross_weight_lb"].to_list() for key, part in trials.partition_by("way", as_dict=True).items()}
    spoken = {key[0]: part for key, part in rows.partition_by("way", as_dict=True).items()}
    found = {w["way"]: book.way(w, spoken.get(w["way"], rows.clear()), tried[w["way"]]) for w in ways.to_dicts()}
    weighed = ways.with_columns(gross_weight_lb=pl.Series([_axle_trial(found[w]) for w in ways["way"]], dtype=pl.Int64))
    weighed = weighed.with_columns(load=pl.col("way").cast(pl.String))
    for way, limits in axle_limits(record.tables, weighed, rulebook, on).items():
        found[way].axle_limits = limits
    cards = [
        book.card(key, [found[w] for w in part["way"]])
        for key, part in ways.partition_by(_COMBINATION, as_dict=True, maintain_order=True).items()
    ]
    return sorted(cards, key=lambda c: (c.job, c.truck, c.trailer))


def _axle_trial(way: CardWay) -> int:
    gross = way.gross_lb if way.gross_lb is not None else way.could_gross_lb
    return int(gross) if gross is not None else heaviest_lb()


def usual_ways(tables: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
    """For each combination that hauled, each destination of its job and each haul (product and origin), a `way`.

    The hauls are those of the combination to the destination; where it never went there, those of the whole job; where
    nobody did, one whose product is blank. Destinations it went to most come first. A tractor whose trailer nobody
    named is no combination.
    """
    loads = tables["loads"]
    straight = tables["trucks"].filter(pl.col("kind").cast(pl.String) == "straight_truck").select("job", "truck")
    named = pl.col("trailer").is_not_null()
    combinations = pl.concat(
        [loads.filter(named), loads.filter(~named).join(straight, on=["job", "truck"], how="semi")]
    ).select(_COMBINATION).unique()  # fmt: skip
    there = combinations.join(tables["destinations"].select("job", "destination").with_row_index("place"), on="job")
    key = [*_COMBINATION, "destination"]
    own, anyones = _hauls(loads, key), _hauls(loads, ["job", "destination"])
    first = there.join(own, on=key, nulls_equal=True)
    rest = there.join(own, on=key, how="anti", nulls_equal=True)
    rest = rest.join(anyones, on=["job", "destination"], how="left").with_columns(loads=pl.lit(0, dtype=pl.UInt32))
    ways = pl.concat([first, rest.select(first.columns)])
    ways = ways.with_columns(went=pl.col("loads").max().over(key))
    tract = loads.group_by("job").agg(_agreed(n) for n in _TRACT)
    order = ["job", "truck", "trailer", "went", "place", "loads", *_HAUL]
    falling = [n in ("went", "loads") for n in order]
    ways = ways.sort(order, descending=falling).drop("place", "went", "loads").with_row_index("way")
    return ways.join(tract, on="job", how="left", maintain_order="left")


def _hauls(loads: pl.DataFrame, key: list[str]) -> pl.DataFrame:
    """Products and origins hauled, with their loads; one of unknown product only where none is known."""
    hauls = loads.group_by(*key, *_HAUL).agg(pl.len().alias("loads"))
    known = hauls.filter(pl.col("product").is_not_null())
    return pl.concat([known, hauls.join(known, on=key, how="anti", nulls_equal=True)])


def _agreed(name: str) -> pl.Expr:
    """The one value that the loads give; null where they give none or several."""
    given = pl.col(name).drop_nulls().unique()
    return pl.when(given.len() == 1).then(given.first()).alias(name)


@dataclass(frozen=True, slots=True)
class _Reach:
    """How heavy trials may be: the heaviest below `stopped_at`, the lightest that is stopped (None: none is)."""

    gross: int | None
    stopped_at: int | None


def _reach(rows: pl.DataFrame, tried: Sequence[int], stopping: Sequence[int]) -> _Reach:
    stopped = rows.filter(pl.col("code").is_in(list(stopping)))["gross"].to_list()
    if not stopped:
        return _Reach(None, None)
    least = min(stopped)
    return _Reach(max((g for g in tried if g < least), default=None), least)


_SHOWN = (*OPEN, int(Code.NONCONFORMITY))
_CERTAIN = (int(Code.NONCONFORMITY),)


class _Book:
    """What the cards of a record are made from."""

    def __init__(self, record: Record, rulebook: Rulebook, on: date) -> None:
        self.record, self.rulebook, self.on = record, rulebook, on
        self.legs = {
            key: part.sort("leg").to_dicts()
            for key, part in record.tables["legs"].partition_by("job", "destination", as_dict=True).items()
        }
        self.weighed = {f.place for f in rulebook.files if f.topic == "weight"}
        tares = record.tables["loads"].group_by(_COMBINATION).agg(pl.col("tare_weight_lb").median().round())
        self.tares = {(j, t, r): tare for j, t, r, tare in tares.iter_rows()}

    def way(self, way: Mapping[str, Any], rows: pl.DataFrame, tried: Sequence[int]) -> CardWay:
        """One way: what it may gross and could gross, and what stops it leg by leg."""
        shown, could = _reach(rows, tried, _SHOWN), _reach(rows, tried, _CERTAIN)
        legs, left_open = self._legs(way, rows, tried)
        open_rows = rows.filter(pl.col("code").is_in(list(OPEN)))
        if could.stopped_at is not None:
            open_rows = open_rows.filter(pl.col("gross") < could.stopped_at)
        if shown.stopped_at is not None:
            open_rows = open_rows.filter(pl.col("gross") == shown.stopped_at)
        lacking = facts(f for row in open_rows["open"].drop_nulls() for f in row)
        if not self.legs.get((way["job"], way["destination"])):
            lacking = [CardFact(fact="legs", meaning="the roads to this destination, leg by leg")]
        left_open += self._inconclusive(open_rows)
        roads = bool(self.legs.get((way["job"], way["destination"]))) and not left_open_by_place(left_open)
        standing: Standing = "not shown"
        if roads and shown.stopped_at is None:
            standing = "no limit"
        elif roads and shown.gross is not None:
            standing = "shown"
        gross = shown.gross if standing == "shown" else None
        for leg in legs:
            leg.governs = gross is not None and leg.gross_limit_lb == gross
        tare = self.tares.get((way["job"], way["truck"], way["trailer"]))
        return CardWay(
            destination=way["destination"],
            products=[] if way["product"] is None else [_words(way["product"])],
            origin=_words(way["origin_kind"]),
            standing=standing,
            gross_lb=gross,
            payload_lb=gross - tare if gross is not None and tare is not None else None,
            could_gross_lb=could.gross if roads and standing != "no limit" and could.gross != gross else None,
            open_facts=lacking,
            left_open=left_open,
            legs=legs,
            axle_limits=[],
        )
