"""The load card: what each combination may gross to each destination on a day, leg by leg, and which leg governs.

Trial loads are judged by the rules as they stand; the heaviest below which nothing is stopped or left open is the
answer, and what stops the next pound is the reason. Limits that hang on the gross weight itself need no special care.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import cache
from typing import Any

import polars as pl

from auditor.check.blame import Blame
from auditor.check.card_axles import axle_limits
from auditor.check.card_tiedowns import tiedowns_needed
from auditor.check.card_trials import heaviest_lb, judged_trials, trial_tables
from auditor.check.card_ways import Trials, way_of
from auditor.record import Record
from auditor.report.card_model import Card, CardPaper, CardWay
from auditor.rules.reading import Rulebook

CAUTIONS = (
    "Gross weight alone: each axle and axle group must also be within its own limit; shift or scale where in doubt.",
    "Tiedowns are counted for one stack that holds the whole payload, with no large logs above the bunks.",
    "Posted roads and bridges, permit terms and the enforcing agency govern over this card.",
    "The card says what the records and rule files show for its day. It never calls a load safe or legal.",
)
_COMBINATION = ["job", "truck", "trailer"]
_HAUL = ["product", "origin_kind"]
_TRACT = ("grown_state", "origin_has_scale")
"""What a load tells of its tract; taken over where all loads of the job agree."""

Combination = tuple[str, str, str | None]


def combination_cards(record: Record, rulebook: Rulebook, on: date, truck: str | None = None) -> list[Card]:
    """One card for each combination that hauled, in the order of job and truck; `truck` asks for one truck alone."""
    ways = usual_ways(record.tables)
    if truck is not None:
        ways = ways.filter(pl.col("truck") == truck)
    if not ways.height:
        return []
    trials, rows = judged_trials(record.tables, ways, rulebook, on)
    tried = {
        key[0]: part["gross_weight_lb"].to_list() for key, part in trials.partition_by("way", as_dict=True).items()
    }
    judged = {key[0]: part for key, part in rows.partition_by("way", as_dict=True).items()}
    legs = record.tables["legs"].sort("leg").partition_by("job", "destination", as_dict=True)
    tares = usual_tares(record.tables["loads"])
    trial = trial_tables(record.tables, _as_loads(ways), on)
    found: dict[int, CardWay] = {}
    for way in ways.to_dicts():
        roads = legs.get((way["job"], way["destination"]), record.tables["legs"].clear()).to_dicts()
        tare = tares[way["job"], way["truck"], way["trailer"]]
        trials_of_way = Trials(judged.get(way["way"], rows.clear()), tried[way["way"]], _facts_of(trial, way))
        found[way["way"]] = way_of(way, roads, trials_of_way, tare, rulebook)
    _add_axle_limits(record, rulebook, on, ways, found)
    cards = []
    for key, part in ways.partition_by(_COMBINATION, as_dict=True, maintain_order=True).items():
        combination = (str(key[0]), str(key[1]), None if key[2] is None else str(key[2]))
        own = _merged([found[way] for way in part["way"]])
        cards.append(_card(record, rulebook, on, combination, tares[combination], own))
    return sorted(cards, key=lambda c: (c.job, c.truck, c.trailer))


def _as_loads(ways: pl.DataFrame) -> pl.DataFrame:
    """A load for each way, under the number of the way, whose weight is not blank."""
    return ways.with_columns(load=pl.col("way").cast(pl.String), gross_weight_lb=pl.lit(heaviest_lb()))


def _facts_of(trial: Mapping[str, pl.DataFrame], way: Mapping[str, Any]) -> Callable[[str], str]:
    """What narrows a fact to the fields that may be to blame on a way; `trial` has a load for each way."""
    own = cache(lambda table: trial[table].filter(pl.col("job") == way["job"]))
    blame = Blame(own)
    return cache(lambda fact: blame.narrowed(fact, "loads", [str(way["way"])]))


def usual_ways(tables: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
    """For each combination that hauled, each destination of its job and each haul (product and origin), a `way`.

    The hauls are those of the combination to the destination; where it never went there, those of the whole job; where
    nobody did, one whose product is blank. Destinations it went to most come first. A tractor whose trailer nobody
    named is no combination.
    """
    loads = tables["loads"]
    straight = tables["trucks"].filter(pl.col("kind").cast(pl.String) == "straight_truck").select("job", "truck")
    named = pl.col("trailer").is_not_null()
    hauled = pl.concat([loads.filter(named), loads.filter(~named).join(straight, on=["job", "truck"], how="semi")])
    places = tables["destinations"].select("job", "destination").with_row_index("place")
    there = hauled.select(_COMBINATION).unique().join(places, on="job")
    key = [*_COMBINATION, "destination"]
    own, anyones = _hauls(loads, key), _hauls(loads, ["job", "destination"])
    first = there.join(own, on=key, nulls_equal=True)
    rest = there.join(own, on=key, how="anti", nulls_equal=True)
    rest = rest.join(anyones, on=["job", "destination"], how="left").with_columns(loads=pl.lit(0, dtype=pl.UInt32))
    ways = pl.concat([first, rest.select(first.columns)]).with_columns(went=pl.col("loads").max().over(key))
    order = ["job", "truck", "trailer", "went", "place", "loads", *_HAUL]
    ways = ways.sort(order, descending=[n in ("went", "loads") for n in order])
    tract = loads.group_by("job").agg(_agreed(n) for n in _TRACT)
    ways = ways.drop("went", "place", "loads").with_row_index("way")
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


def usual_tares(loads: pl.DataFrame) -> dict[Combination, float | None]:
    """The median tare of each combination in whole pounds; None where no load has one."""
    tares = loads.group_by(_COMBINATION).agg(pl.col("tare_weight_lb").median().round())
    return {(job, truck, trailer): tare for job, truck, trailer, tare in tares.iter_rows()}


def _add_axle_limits(
    record: Record, rulebook: Rulebook, on: date, ways: pl.DataFrame, found: Mapping[int, CardWay]
) -> None:
    """Axle limits at the gross that each way may have, could have, or else at the heaviest."""

    def gross(way: CardWay) -> int:
        given = way.gross_lb if way.gross_lb is not None else way.could_gross_lb
        return heaviest_lb() if given is None else int(given)

    weights = pl.Series("gross_weight_lb", [gross(found[w]) for w in ways["way"]], dtype=pl.Int64)
    weighed = ways.with_columns(weights, load=pl.col("way").cast(pl.String))
    for way, limits in axle_limits(record.tables, weighed, rulebook, on).items():
        found[way].axle_limits = limits


def _merged(ways: Sequence[CardWay]) -> list[CardWay]:
    """Ways to one destination that differ in nothing but the product, as one."""
    found: dict[str, CardWay] = {}
    for way in ways:
        same = found.setdefault(way.model_copy(update={"products": []}).model_dump_json(), way)
        if same is not way:
            same.products = [*same.products, *(p for p in way.products if p not in same.products)]
    return list(found.values())


def _card(
    record: Record, rulebook: Rulebook, on: date, combination: Combination, tare: float | None, ways: list[CardWay]
) -> Card:
    job, truck, trailer = combination
    heaviest = max((w.gross_lb for w in ways if w.gross_lb is not None), default=None)
    payload = heaviest - tare if heaviest is not None and tare is not None else None
    axles = record.tables["axles"].filter(
        pl.col("job") == job, pl.col("truck") == truck, pl.col("trailer").eq_missing(trailer)
    )
    about = record.tables["job"].filter(pl.col("job") == job).row(0, named=True)
    return Card(
        job=job,
        title=about["title"] or job,
        truck=truck,
        trailer=trailer or "",
        on=on,
        axle_count=axles.height or None,
        usual_tare_lb=tare,
        papers=_papers(record.tables["documents"], job, truck, on),
        ways=ways,
        tiedowns=tiedowns_needed(record, rulebook, on, combination, payload),
        cautions=list(CAUTIONS),
    )


def _papers(documents: pl.DataFrame, job: str, truck: str, on: date) -> list[CardPaper]:
    """Papers that cover the truck on the day, and those whose dates leave it open."""
    begun, running = pl.col("valid_from") <= on, pl.col("valid_until") >= on
    own = documents.filter(pl.col("job") == job, pl.col("truck").is_null() | (pl.col("truck") == truck))
    held = own.with_columns(valid=begun & running).filter(pl.col("valid").ne_missing(False))
    return [
        CardPaper(
            document=row["document"],
            kind=str(row["kind"]).replace("_", " "),
            state=str(row["state"] or "").removeprefix("US-"),
            valid_until=row["valid_until"],
            valid=row["valid"],
            carried=row["carried"],
        )
        for row in held.sort("document").to_dicts()
    ]
