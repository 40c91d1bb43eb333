"""Trial loads: what the gross rules say at every weight where their answer can change.

Trials stand just under, at and just over each limit and each weight at which a rule or an allowance begins or ends to
hold. Judging them may bring up further such weights, for limits may hang on the gross weight itself; so it goes on
until none is new.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from datetime import date
from typing import Any

import polars as pl

from auditor.check.details import speaking_arm
from auditor.check.evaluate import Judged
from auditor.check.tally import judge_tables, record_fact
from auditor.rules.columns import tree_columns
from auditor.rules.compiled import Code, CompiledRule
from auditor.rules.models import VOLUNTARY, Rule
from auditor.rules.nodes import Node, Test
from auditor.rules.reading import Rulebook
from auditor.vocabulary import TABLES
from auditor.vocabulary.intervals import parse_interval

WEIGHTS = {"load_legs": "gross_weight_lb", "loads": "gross_weight_lb", "axle_runs": "run_weight_lb"}
"""The views in which the weight of a whole load is held against a limit, and the column that holds it."""
OPEN = (int(Code.NOT_VERIFIABLE), int(Code.INCONCLUSIVE), int(Code.NOT_EVIDENCED))
ROUNDS = 12
LIGHTEST_LB = 1

_ROW: dict[str, Any] = {
    "load": pl.String, "leg": pl.Int64, "state": pl.String, "rule": pl.String, "limit_name": pl.String,
    "arm": pl.String, "high": pl.Float64, "code": pl.UInt8, "open": pl.List(pl.String),
}  # fmt: skip
_POINT: dict[str, Any] = {"load": pl.String, "at": pl.Float64}


def heaviest_lb() -> int:
    """The heaviest gross weight that a record can hold."""
    field = TABLES["loads"].field("gross_weight_lb")
    if field is None or field.high is None:
        raise LookupError("the vocabulary gives loads.gross_weight_lb no upper bound")
    return int(field.high)


def narrowed(rulebook: Rulebook, columns: Mapping[str, Collection[str]]) -> Rulebook:
    """The rulebook with none but the binding rules of these views that hold one of the columns against something."""

    def asked(rule: Rule) -> bool:
        wanted = columns.get(rule.examines, ())
        return rule.standing not in VOLUNTARY and not set(wanted).isdisjoint(tree_columns(rule.must))

    files = (f.model_copy(update={"rules": [r for r in f.rules if asked(r)]}) for f in rulebook.files)
    return replace(rulebook, files=tuple(files))


def trial_tables(tables: Mapping[str, pl.DataFrame], trials: pl.DataFrame, on: date) -> dict[str, pl.DataFrame]:
    """The record with trial loads in place of its own; what a trial does not say is blank."""
    given = trials.with_columns(load_date=pl.lit(on), ticket_number=pl.col("load"))
    columns = [
        pl.col(n).cast(t) if n in given.columns else pl.lit(None, dtype=t).alias(n)
        for n, t in tables["loads"].schema.items()
    ]
    emptied = {n: tables[n].clear() for n in ("axle_weights", "load_checks", "tickets")}
    return {**tables, **emptied, "loads": given.select(columns)}


def judged_trials(
    tables: Mapping[str, pl.DataFrame], ways: pl.DataFrame, rulebook: Rulebook, on: date
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Every way tried at every weight that matters.

    `ways` has `way` and columns of `loads`. Gives the trials (`load`, `way`, `gross_weight_lb`) and the rows in which
    a gross rule applies to one: `way`, `gross`, `leg` (null: the whole way), `state`, `rule`, `limit_name`, `arm`,
    `high` (the most the limit can be), `code`, `open` (record facts that are blank and leave it open).
    """
    asked = narrowed(rulebook, {view: (column,) for view, column in WEIGHTS.items()})
    ends = pl.DataFrame({"gross_weight_lb": [LIGHTEST_LB, heaviest_lb()]}, schema={"gross_weight_lb": pl.Int64})
    new = _keyed(ways.select("way").join(ends, how="cross"))
    trials, rows = new, []
    for _ in range(ROUNDS):
        found, points = _judge(trial_tables(tables, new.join(ways, on="way"), on), asked)
        rows.append(found)
        around = points.join(new.select("load", "way"), on="load").select(
            "way", gross_weight_lb=pl.concat_list([pl.col("at").floor().cast(pl.Int64) + step for step in (-1, 0, 1)])
        )
        around = around.explode("gross_weight_lb").filter(pl.col("gross_weight_lb").is_between(1, heaviest_lb()))
        new = _keyed(around.unique().join(trials, on=["way", "gross_weight_lb"], how="anti"))
        if not new.height:
            break
        trials = pl.concat([trials, new])
    keys = trials.select("load", "way", pl.col("gross_weight_lb").alias("gross"))
    return trials, pl.concat(rows).join(keys, on="load").drop("load")


def _keyed(trials: pl.DataFrame) -> pl.DataFrame:
    sorted_ = trials.sort("way", "gross_weight_lb")
    return sorted_.select(pl.format("{}/{}", "way", "gross_weight_lb").alias("load"), "way", "gross_weight_lb")


def _judge(tables: Mapping[str, pl.DataFrame], rulebook: Rulebook) -> tuple[pl.DataFrame, pl.DataFrame]:
    rows, points = [pl.DataFrame(schema=_ROW)], [pl.DataFrame(schema=_POINT)]
    for judged in judge_tables(tables, rulebook, tuple(WEIGHTS)):
        weight = WEIGHTS[judged.view]
        whole = judged.frame.select(_whole(judged.view).alias("whole")).to_series()
        for index, rule in enumerate(judged.rules):
            rows += limit_rows(judged, index, weight, whole)
            points += _points(judged.frame.filter(whole), rule, weight)
    return pl.concat(rows), pl.concat(points).unique(maintain_order=True)


def _whole(view: str) -> pl.Expr:
    """The rows about the whole load: of the runs of axles the first, or one without axles because none are known."""
    if view != "axle_runs":
        return pl.lit(True)
    front = pl.col("first_axle").eq_missing(1)
    return front | ~front.max().over("load", "leg")


def limit_rows(judged: Judged, index: int, weight: str, among: pl.Series) -> Iterator[pl.DataFrame]:
    """The rows of one rule that apply, once for each of its comparisons of the weight with a limit."""
    rule, codes = judged.rules[index], judged.codes[str(index)]
    frame = judged.frame.with_columns(open_facts(judged, index))
    extra = [pl.col(n) for n in ("group_kind", "first_axle", "last_axle") if judged.view == "axle_groups"]
    own = judged.view == "loads"
    for node in rule.must.tests():
        test = node.test
        if test is None or test.limit_high is None or test.limit_low is None or test.column != weight:
            continue
        arm = pl.lit(None, dtype=pl.String)
        if test.limit is not None:
            # a weight that breaks the limit has passed the most it can be; one left open, the least
            bound = pl.when(codes == int(Code.NONCONFORMITY)).then(test.limit_high).otherwise(test.limit_low)
            arm = speaking_arm(rule.ladders[test.limit], bound)
        yield frame.select(
            "load",
            (pl.lit(None) if own else pl.col("leg")).cast(pl.Int64).alias("leg"),
            (pl.lit(rule.file.place) if own else pl.col("state")).cast(pl.String).alias("state"),
            pl.lit(rule.key).alias("rule"),
            pl.lit(test.limit, dtype=pl.String).alias("limit_name"),
            arm.alias("arm"),
            test.limit_high.cast(pl.Float64).alias("high"),
            codes.alias("code"),
            "open",
            *([*extra, test.limit_low.cast(pl.Float64).alias("low")] if extra else []),
        ).filter(among & (codes != int(Code.NOT_APPLICABLE)))


def open_facts(judged: Judged, index: int) -> pl.Series:
    """For each row the record facts that are blank and leave the rule open."""
    codes, key = judged.codes[str(index)], judged.rules[index].key
    gap = next((g for g in judged.gaps if g["rule"][0] == key), None)
    none = pl.Series("open", [None], dtype=pl.List(pl.String)).new_from_index(0, judged.frame.height)
    if gap is None:
        return none
    facts = [
        pl.when(pl.col(c)).then(pl.lit(record_fact(judged.view, c.removeprefix("blank:"))))
        for c in gap.columns
        if c.startswith("blank:")
    ]
    if not facts:
        return none
    listed = gap.select(pl.concat_list(facts).list.drop_nulls().alias("open"))
    # the gaps of a rule are its open rows, in their order
    places = pl.DataFrame({"place": codes.is_in(OPEN).arg_true()})
    rows = pl.DataFrame({"place": range(judged.frame.height)}, schema={"place": pl.UInt32})
    placed = pl.concat([places.cast(pl.UInt32), listed], how="horizontal")
    return rows.join(placed, on="place", how="left", maintain_order="left")["open"].rename("open")


def _points(frame: pl.DataFrame, rule: CompiledRule, weight: str) -> Iterator[pl.DataFrame]:
    """The weights at which a rule, its exceptions, its limit or an allowance of that limit may change its answer."""
    parts = [p for p in (rule.where, rule.when, rule.unless, rule.must) if p is not None]
    for test in (t for part in parts for t in _every_test(part)):
        if test.column not in (weight, "gross_weight_lb"):
            continue
        for end in _ends(test):
            at = frame.select("load", end.cast(pl.Float64).alias("at"))
            yield at.filter(pl.col("at").is_finite()).unique()


def _every_test(node: Node) -> Iterator[Test]:
    """Comparisons below a node, also those that decide what its limits are."""
    if node.test is not None:
        yield node.test
    for kid in node.kids:
        yield from _every_test(kid)


def _ends(test: Test) -> list[pl.Expr]:
    if test.op == "within":
        interval = parse_interval(str(test.against))
        return [pl.lit(interval.low), pl.lit(interval.high)]
    return [end for end in (test.limit_low, test.limit_high) if end is not None]
