"""Which gross limit held for each load: the lowest over its way."""

from __future__ import annotations

import polars as pl

from auditor.check.details import speaking_arm
from auditor.check.evaluate import Judged
from auditor.rules import kleene
from auditor.rules.compiled import Code, CompiledRule
from auditor.rules.limits import NO_CEILING, NO_FLOOR
from auditor.rules.models import Rule
from auditor.rules.nodes import Node

GROSS = "gross_weight_lb"


def governing_limits(judged: Judged) -> list[pl.DataFrame]:
    """For each rule that holds the gross weight against a limit, the rows it applies to.

    Columns: job, load, load_date, gross_weight_lb, limit, rule, limit_name, arm, state, road_class,
    road_name, code. The limit is null where it is not one number. Besides, `limit_low` and `limit_high` bound the most
    that the rule as a whole lets the load weigh, `tolerated_low` and `tolerated_high` the same with enforcement
    tolerances; infinite where nothing is asked or nothing is known.
    """
    found = []
    for index, rule in enumerate(judged.rules):
        codes = judged.codes[str(index)]
        applies = codes != int(Code.NOT_APPLICABLE)
        bounds = _bounds(rule)
        for node in rule.must.tests():
            test = node.test
            if test is None or test.column != GROSS or test.op != "at_most" or test.limit_high is None:
                continue
            exact = pl.when(test.limit_low == test.limit_high).then(test.limit_high).cast(pl.Float64)
            arm = pl.lit(None, dtype=pl.String)
            if test.limit is not None:
                arm = speaking_arm(rule.ladders[test.limit], test.limit_high)
            part = judged.frame.with_columns(codes.alias("code")).filter(applies)
            found.append(
                part.select(
                    "job",
                    "load",
                    "load_date",
                    pl.col(GROSS).cast(pl.Float64),
                    exact.alias("limit"),
                    pl.lit(rule.key).alias("rule"),
                    pl.lit(test.limit, dtype=pl.String).alias("limit_name"),
                    arm.alias("arm"),
                    *(_text(part, name) for name in ("state", "road_class", "road_name")),
                    "code",
                    *bounds,
                )
            )
    return found


def holds_gross(rule: Rule) -> bool:
    """Whether the rule holds the gross weight against a limit."""

    def found(body: object) -> bool:
        if isinstance(body, dict):
            test = body.get(GROSS)
            return (isinstance(test, dict) and "at_most" in test) or any(found(b) for b in body.values())
        return isinstance(body, list) and any(found(b) for b in body)

    return found(rule.must)


def _text(frame: pl.DataFrame, name: str) -> pl.Expr:
    """A column as text; null in a view without roads."""
    return pl.col(name).cast(pl.String) if name in frame.columns else pl.lit(None, dtype=pl.String).alias(name)


def _bounds(rule: CompiledRule) -> list[pl.Expr]:
    scope = [n.truth for n in (rule.where, rule.when) if n is not None]
    excepted = [~rule.unless.truth] if rule.unless is not None else []
    applies = kleene.certain(kleene.all_of([*scope, *excepted]))
    found = []
    for name, tolerated in (("limit", False), ("tolerated", True)):
        low, high = _most(rule.must, rule, tolerated)
        # A rule that may not apply may as well set no limit.
        high = pl.when(applies).then(high).otherwise(NO_CEILING)
        found += [low.cast(pl.Float64).alias(f"{name}_low"), high.cast(pl.Float64).alias(f"{name}_high")]
    return found


def _most(node: Node, rule: CompiledRule, tolerated: bool) -> tuple[pl.Expr, pl.Expr]:
    """The greatest gross weight with which a condition holds, as bounds; infinite where the weight does not matter."""
    test = node.test
    if test is not None and test.column == GROSS and test.op == "at_most" and test.limit_high is not None:
        low, high = test.limit_low, test.limit_high
        ladder = rule.ladders[test.limit] if test.limit is not None else None
        if tolerated and ladder is not None and ladder.tolerances:
            low, high = pl.col(ladder.tolerated_low), pl.col(ladder.tolerated_high)
        return (low if low is not None else pl.lit(None)).fill_null(NO_FLOOR), high.fill_null(NO_CEILING)
    if node.form in ("all_of", "any_of") and any(t.test is not None and t.test.column == GROSS for t in node.tests()):
        kids = [_most(k, rule, tolerated) for k in node.kids if k.form != "limit"]
        pick = kleene.least_of_all if node.form == "all_of" else kleene.greatest_of_all
        return pick([low for low, _ in kids]), pick([high for _, high in kids])
    holds, fails = kleene.certain(node.truth), kleene.certain(~node.truth)
    return (
        pl.when(holds).then(NO_CEILING).otherwise(NO_FLOOR),
        pl.when(fails).then(NO_FLOOR).otherwise(NO_CEILING),
    )
