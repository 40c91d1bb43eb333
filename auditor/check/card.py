"""The load card: what each combination may gross to each destination on a day, leg by leg, and which leg governs.

Trial loads of every gross weight at which some limit of the way lies are judged by the rules as they stand; the
heaviest that every rule lets through is the answer. Limits that hang on the gross weight itself need no special care.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import polars as pl

from auditor.check.card_tiedowns import tiedowns_needed
from auditor.check.details import speaking_arm
from auditor.check.evaluate import Judged
from auditor.check.limits_used import cite
from auditor.check.tally import judge_tables, record_fact
from auditor.measures.papers import valid_on
from auditor.record import Record
from auditor.report.card_model import Card, CardLeg, CardWay
from auditor.rules.compiled import Code
from auditor.rules.reading import Rulebook
from auditor.vocabulary import DOCUMENT_KINDS

WHOLE_WEIGHT = {"load_legs": "gross_weight_lb", "axle_runs": "run_weight_lb"}
CAUTIONS = (
    "Gross weight alone: each axle and axle group must also be within its own limit; shift or scale where in doubt.",
    "Posted roads and bridges, permit terms and the enforcing agency govern over this card.",
)
_KEYS = ["job", "truck", "trailer", "destination"]


def load_cards(record: Record, rulebook: Rulebook, on: date) -> list[Card]:
    """One card for each combination that hauled, in the order of job and truck."""
    ways = usual_ways(*(record.tables[n] for n in ("loads", "destinations", "trucks")))
    if not ways.height:
        return []
    probe = _trial_tables(record.tables, ways.with_columns(gross_weight_lb=pl.lit(None, dtype=pl.Int64)), on)
    limits = _limit_rows(probe, rulebook)
    trials = _trials(ways, limits)
    judged = _limit_rows(_trial_tables(record.tables, trials, on), rulebook)
    cards = []
    for (job, truck, trailer), part in ways.partition_by("job", "truck", "trailer", as_dict=True).items():
        own = _Combination(record, rulebook, on, str(job), str(truck), None if trailer is None else str(trailer))
        cards.append(own.card(part, trials, judged))
    return sorted(cards, key=lambda c: (c.job, c.truck, c.trailer))


def usual_ways(loads: pl.DataFrame, destinations: pl.DataFrame, trucks: pl.DataFrame) -> pl.DataFrame:
    """For each combination that hauled and each destination of its job, the usual product and origin, with a `way` key.

    A tractor whose trailer nobody named is no combination.
    """
    usual = loads.group_by("job", "destination", maintain_order=True).agg(
        pl.col("product").drop_nulls().mode(maintain_order=True).first(),
        pl.col("origin_kind").drop_nulls().mode(maintain_order=True).first(),
    )
    combinations = loads.select("job", "truck", "trailer").unique().sort("job", "truck", "trailer")
    straight = trucks.filter(pl.col("kind").cast(pl.String) == "straight_truck")
    named = pl.col("trailer").is_not_null()
    alone = combinations.filter(~named).join(straight.select("job", "truck"), on=["job", "truck"], how="semi")
    combinations = pl.concat([combinations.filter(named), alone]).sort("job", "truck", "trailer")
    ways = combinations.join(destinations.select("job", "destination"), on="job", maintain_order="left_right")
    return ways.join(usual, on=["job", "destination"], how="left", maintain_order="left").with_row_index("way")


def _trial_tables(tables: Mapping[str, pl.DataFrame], trials: pl.DataFrame, on: date) -> dict[str, pl.DataFrame]:
    """The record with trial loads in place of its own, keyed `way/gross`."""
    given = trials.with_columns(
        load=pl.format("{}/{}", "way", pl.col("gross_weight_lb").cast(pl.String).fill_null("")), load_date=pl.lit(on)
    )
    loads = tables["loads"]
    columns = [
        pl.col(n).cast(t) if n in given.columns else pl.lit(None, dtype=t).alias(n) for n, t in loads.schema.items()
    ]
    trial = given.select(columns).with_columns(ticket_number=pl.col("load"))
    emptied = {n: tables[n].clear() for n in ("axle_weights", "load_checks", "tickets")}
    return {**tables, **emptied, "loads": trial}


def _limit_rows(tables: Mapping[str, pl.DataFrame], rulebook: Rulebook) -> pl.DataFrame:
    """Every row in which a rule holds the weight of the whole load against a limit.

    Columns: load, leg, road_name, road_class, state, rule, limit_name, arm, low, high, code, open (facts that are blank).
    """
    found = [r for judged in judge_tables(tables, rulebook, tuple(WHOLE_WEIGHT)) for r in _of(judged)]
    return pl.concat(found)


def _of(judged: Judged) -> list[pl.DataFrame]:
    found = []
    gaps = {g["rule"][0]: g for g in judged.gaps}
    whole = pl.lit(True) if judged.view == "load_legs" else pl.col("first_axle") == 1
    for index, rule in enumerate(judged.rules):
        for node in rule.must.tests():
            test = node.test
            if test is None or test.limit_low is None or test.limit_high is None:
                continue
            if test.column != WHOLE_WEIGHT[judged.view]:
                continue
            arm = pl.lit(None, dtype=pl.String)
            if test.limit is not None:
                arm = speaking_arm(rule.ladders[test.limit], test.limit_high)
            rows = judged.frame.select(
                "load", pl.col("leg").cast(pl.Int64), "road_name", pl.col("road_class", "state").cast(pl.String),
                pl.lit(rule.key).alias("rule"), pl.lit(test.limit, dtype=pl.String).alias("limit_name"),
                arm.alias("arm"), test.limit_low.cast(pl.Float64).alias("low"),
                test.limit_high.cast(pl.Float64).alias("high"), judged.codes[str(index)].alias("code"),
                whole.fill_null(False).alias("whole"),
            )  # fmt: skip
            rows = rows.filter("whole", pl.col("code") != int(Code.NOT_APPLICABLE)).drop("whole")
            blank = _blank_facts(gaps.get(rule.key), judged.view, WHOLE_WEIGHT[judged.view])
            found.append(rows.join(blank, on="load", how="left", maintain_order="left"))
    return found


def _blank_facts(gap: pl.DataFrame | None, view: str, weight: str) -> pl.DataFrame:
    """Record facts, besides the weight itself, that leave the rule open, by load."""
    empty = pl.DataFrame(schema={"load": pl.String, "open": pl.List(pl.String)})
    if gap is None:
        return empty
    names = [c for c in gap.columns if c.startswith("blank:") and c != f"blank:{weight}"]
    if not names:
        return empty
    facts = [pl.when(pl.col(c)).then(pl.lit(record_fact(view, c.removeprefix("blank:")))) for c in names]
    listed = gap.select("load", pl.concat_list(facts).list.drop_nulls().alias("open"))
    return listed.group_by("load", maintain_order=True).agg(pl.col("open").explode().drop_nulls().unique().sort())


def _trials(ways: pl.DataFrame, limits: pl.DataFrame) -> pl.DataFrame:
    """Each way with every whole-pound gross at which one of its limits lies."""
    at = pl.concat([limits.select("load", pl.col(end).alias("gross")) for end in ("low", "high")])
    at = at.filter(pl.col("gross").is_finite() & (pl.col("gross") > 0)).select(
        pl.col("load").str.split("/").list.first().cast(pl.UInt32).alias("way"),
        pl.col("gross").floor().cast(pl.Int64).alias("gross_weight_lb"),
    )
    return ways.join(at.unique(maintain_order=True), on="way", maintain_order="left").sort("way", "gross_weight_lb")


class _Combination:
    """The card of one truck and trailer."""

    def __init__(self, record: Record, rulebook: Rulebook, on: date, job: str, truck: str, trailer: str | None) -> None:
        self.record, self.rulebook, self.on = record, rulebook, on
        self.job, self.truck, self.trailer = job, truck, trailer
        loads = record.tables["loads"].filter(
            pl.col("job") == job, pl.col("truck") == truck, pl.col("trailer").eq_missing(trailer)
        )
        tare = loads["tare_weight_lb"].median()
        self.tare = float(tare) if isinstance(tare, (int, float)) else None

    def card(self, ways: pl.DataFrame, trials: pl.DataFrame, judged: pl.DataFrame) -> Card:
        own = [self._way(way, trials, judged) for way in ways.to_dicts()]
        heaviest = max((w.gross_lb for w in own if w.gross_lb is not None), default=None)
        payload = heaviest - self.tare if heaviest is not None and self.tare is not None else None
        axles = self.record.tables["axles"].filter(
            pl.col("job") == self.job, pl.col("truck") == self.truck, pl.col("trailer").eq_missing(self.trailer)
        )
        job = self.record.tables["job"].filter(pl.col("job") == self.job).row(0, named=True)
        combination = (self.job, self.truck, self.trailer)
        return Card(
            job=self.job,
            title=job["title"] or self.job,
            truck=self.truck,
            trailer=self.trailer or "",
            on=self.on,
            axle_count=axles.height or None,
            usual_tare_lb=self.tare,
            papers=self._papers(),
            ways=own,
            tiedowns=tiedowns_needed(self.record, self.rulebook, self.on, combination, payload),
            cautions=list(CAUTIONS),
        )

    def _papers(self) -> list[str]:
        keys = pl.DataFrame({"job": [self.job], "truck": [self.truck], "date": [self.on]})
        held = valid_on(self.record.tables["documents"], keys, kinds=DOCUMENT_KINDS)
        return [str(k).replace("_", " ") for k in held.filter(pl.col("valid").eq_missing(True))["kind"]]

    def _way(self, way: Mapping[str, Any], trials: pl.DataFrame, judged: pl.DataFrame) -> CardWay:
        tried = trials.filter(pl.col("way") == way["way"])["gross_weight_lb"].to_list()
        rows = judged.filter(pl.col("load").str.starts_with(f"{way['way']}/")).with_columns(
            pl.col("load").str.split("/").list.last().cast(pl.Int64).alias("gross")
        )
        gross = _heaviest(rows, tried, (int(Code.CONFORMITY),))
        legs = _legs(rows, tried, self.rulebook)
        could = _heaviest(rows, tried, (int(Code.CONFORMITY), int(Code.NOT_EVIDENCED), int(Code.INCONCLUSIVE)))
        for leg in legs:
            leg.governs = gross is not None and leg.gross_limit_lb == gross
        return CardWay(
            destination=way["destination"],
            product=str(way["product"] or "").replace("_", " "),
            gross_lb=gross,
            payload_lb=gross - self.tare if gross is not None and self.tare is not None else None,
            next_gross_lb=could if could != gross else None,
            legs=legs,
        )


def _heaviest(rows: pl.DataFrame, tried: Sequence[int], passing: Sequence[int]) -> float | None:
    """The heaviest trial that no row stops; one that is lighter may fail where a rule holds only in a range."""
    stopped = set(rows.filter(~pl.col("code").is_in(list(passing)))["gross"].to_list())
    return max((float(g) for g in tried if g not in stopped), default=None)


def _legs(rows: pl.DataFrame, tried: Sequence[int], rulebook: Rulebook) -> list[CardLeg]:
    found = []
    for (number,), part in sorted(rows.partition_by("leg", as_dict=True).items(), key=lambda p: p[0][0] or 0):
        first = part.row(0, named=True)
        gross = _heaviest(part, tried, (int(Code.CONFORMITY),))
        spoke = _speaking(part, gross)
        because, confirmed = _because(spoke, rulebook)
        facts = sorted({f for row in part["open"].drop_nulls() for f in row})
        found.append(
            CardLeg(
                leg=int(str(number)),
                road=first["road_name"] or str(first["road_class"] or "road").replace("_", " "),
                state=str(first["state"]).removeprefix("US-"),
                gross_limit_lb=gross,
                because=because,
                confirmed=confirmed,
                governs=False,
                open_facts=facts,
            )
        )
    return found


def _speaking(rows: pl.DataFrame, gross: float | None) -> dict[str, Any] | None:
    """The row whose limit is the gross; where none was let through, the lowest limit."""
    known = rows.filter(pl.col("high").is_finite())
    if gross is not None:
        known = known.filter(pl.col("gross") == int(gross), pl.col("low").floor() == gross)
    return known.sort("high", "rule").row(0, named=True) if known.height else None


def _because(spoke: Mapping[str, Any] | None, rulebook: Rulebook) -> tuple[str, bool]:
    if spoke is None:
        return "no limit is shown", True
    limit = cite(rulebook, spoke["rule"], spoke["limit_name"], spoke["arm"])
    if spoke["low"] != spoke["high"]:
        return f"the least it can be while facts are blank ({limit.instrument})", limit.verified != "memory"
    named = limit.title or rulebook.get(spoke["rule"])[1].title
    return f"{named} ({limit.instrument}{f' {limit.at}' if limit.at else ''})", limit.verified != "memory"
