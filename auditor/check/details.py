"""What there is to say of the rows that break a rule: value, limit, which entry spoke, how far off, what is tolerated."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
import polars as pl
from numpy.typing import NDArray

from auditor.check.evaluate import Judged
from auditor.check.spread import Spread
from auditor.check.truths import FALSE, TRUE, Truths, full_columns
from auditor.check.views.base import PLACE
from auditor.rules import kleene
from auditor.rules.compiled import Code, CompiledRule
from auditor.rules.limits import Arm, Ladder
from auditor.rules.models import Cap
from auditor.rules.nodes import Node, Test, every_node
from auditor.vocabulary import VIEWS

CONTEXT = (
    "job", "subject", "truck", "trailer", "destination", "state", "leg", "road_class", "road_name", "first_axle",
    "last_axle", "stack", "tiedown", "tiedown_basis", "weakest_tiedown_wll_lb", "stream", "side", "station", "along_ft",
    "strip_from_ft", "strip_to_ft", "stump", "pipe", "drain", "drain_group", "from_ft", "to_ft", "notice_kind", "question",
    "place_kind", "place", "missing_contents", "_file", "_sheet", "_row", PLACE,
)  # fmt: skip
_UPPER = ("at_most", "less_than")
_LOWER = ("at_least", "more_than")


Rows = NDArray[np.intp]
Numbers = NDArray[np.float64]

_OPPOSITE = {
    "at_least": "less_than", "less_than": "at_least", "at_most": "more_than", "more_than": "at_most",
    "one_of": "none_of", "none_of": "one_of", "includes": "excludes", "excludes": "includes",
}  # fmt: skip
_HOLDS = -1.0


def breaches(judged: Judged) -> list[pl.DataFrame]:
    """One frame for each rule that some row breaks: context, then what `_spoken` adds."""
    found = []
    spread, dated_by = judged.spread, VIEWS[judged.view].dated_by
    for index, rule in enumerate(judged.rules):
        rows = np.flatnonzero(judged.codes[str(index)].to_numpy() == Code.NONCONFORMITY)
        if len(rows) == 0:
            continue
        if spread is None:
            found.append(describe(judged.frame[rows], rule))
        elif judged.by_set:
            found.append(spread.for_each_load(describe(judged.frame[rows], rule), dated_by))
        else:
            described = describe(_of_loads(spread, rule, rows), rule)
            places = spread.alike.own[PLACE].gather(described[PLACE])
            found.append(described.with_columns(places))
    return found


def _of_loads(spread: Spread, rule: CompiledRule, rows: Rows) -> pl.DataFrame:
    """Rows of single loads with all columns that there is to say of them."""
    return spread.rows(_said_of(rule), pl.Series(rows))


@lru_cache(maxsize=2_000)
def _said_of(rule: CompiledRule) -> frozenset[str]:
    """Columns that `describe` reads for a rule."""
    nodes = [node for part in rule.parts() for node in every_node(part)]
    said = [e for part in (_spoken(test, rule) for _, test in _leaves(rule.must, negated=False)) for e in part.values()]
    said += [e for node in nodes for e in (node.truth, *((node.test.low, node.test.high) if node.test else ()))]
    read = {name for e in said for name in e.meta.root_names()}
    return frozenset({*read, *CONTEXT, VIEWS[rule.rule.examines].dated_by, "subject"})


def describe(frame: pl.DataFrame, rule: CompiledRule) -> pl.DataFrame:
    """Context columns of the rows with `on`, their day, and rule, column, op, measured, limit, margin, arm, tolerated, tolerated_limit, would."""
    tests = [test for _, test in _leaves(rule.must, negated=False)]
    context = [pl.col(c) for c in CONTEXT if c in frame.columns]
    context += [pl.col(VIEWS[rule.rule.examines].dated_by).alias("on"), pl.lit(rule.key).alias("rule")]
    speaks = _speaking(frame, rule.must, tests)
    parts: list[pl.DataFrame] = []
    rows: list[Rows] = []
    for index in np.unique(speaks):
        spoken = (expression.alias(name) for name, expression in _spoken(tests[index], rule).items())
        rows.append(np.flatnonzero(speaks == index))
        parts.append(frame[rows[-1]].select(*context, *spoken))
    return parts[0] if len(parts) == 1 else pl.concat(parts)[np.argsort(np.concatenate(rows))]


def _leaves(node: Node, negated: bool) -> Iterator[tuple[Node, Test]]:
    """Every comparison as it must hold: under a none_of the opposite is asked for."""
    if node.test is not None:
        op = _OPPOSITE.get(node.test.op, node.test.op) if negated else node.test.op
        yield node, replace(node.test, op=op)
    for kid in node.kids:
        if kid.form != "limit":
            yield from _leaves(kid, negated is not (node.form == "none_of"))


def _speaking(frame: pl.DataFrame, must: Node, tests: Sequence[Test]) -> Rows:
    """Which of the comparisons of a requirement speaks for each row that breaks it."""
    if len(tests) == 1:
        return np.zeros(frame.height, dtype=np.intp)
    shares = full_columns(frame, {at: _excess_share(test) for at, test in enumerate(tests)})
    _, index = _worst_or_nearest(must, Truths(frame, [must]), shares, negated=False, first=0)
    return np.where(index < len(tests), index, 0)


def _worst_or_nearest(
    node: Node, truths: Truths, shares: Mapping[int, Numbers], negated: bool, first: int
) -> tuple[Numbers, Rows]:
    """How far off a condition is, -1 where it holds, and which of its comparisons says so, the first having number `first`.

    Of what must all hold, the part that fails worst; of alternatives, the failing one that is nearest.
    """
    truth = truths.of(node)
    failing = truth == (TRUE if negated else FALSE)
    index = np.full(len(truth), first)
    if node.test is not None:
        return np.where(failing, shares[first], _HOLDS), index
    below = negated is not (node.form == "none_of")
    nearest = node.form == "at_least_n_of" or (node.form == "all_of" if negated else node.form == "any_of")
    best = np.full(len(truth), np.nan)
    for kid in node.kids:
        score, at = _worst_or_nearest(kid, truths, shares, below, first)
        first += sum(1 for _ in _leaves(kid, below))
        nearer = score < best if nearest else score > best
        better = (score > _HOLDS) & (np.isnan(best) | nearer)
        best, index = np.where(better, score, best), np.where(better, at, index)
    return np.where(failing, np.where(np.isnan(best), 1.0, best), _HOLDS), index


def _excess_share(test: Test) -> pl.Expr:
    if test.limit_low is None or test.limit_high is None:
        return pl.lit(1.0)
    return (margin(test) / _at_least_one(_bound(test))).fill_null(1.0).cast(pl.Float64)


def _at_least_one(bound: pl.Expr) -> pl.Expr:
    return pl.when(bound.abs() > 1).then(bound.abs()).otherwise(1.0)


def _bound(test: Test) -> pl.Expr:
    """The end of the limit that a failing value has certainly passed."""
    bound = test.limit_low if test.op in _LOWER else test.limit_high
    return bound if bound is not None else pl.lit(None, dtype=pl.Float64)


def _reading(test: Test) -> pl.Expr:
    """The end of the value that is nearest to the limit, as it was read: without what a guarded decision adds for doubt."""
    if test.doubt is None:
        return test.high if test.op in _LOWER else test.low
    return test.high - test.doubt if test.op in _LOWER else test.low + test.doubt


def margin(test: Test) -> pl.Expr:
    """How far a failing value lies off its limit, never less than nothing."""
    if test.op == "equals" and test.limit_low is not None and test.limit_high is not None:
        return kleene.greatest_candidate([test.low - test.limit_high, test.limit_low - test.high])
    return _bound(test) - _reading(test) if test.op in _LOWER else _reading(test) - _bound(test)


def _spoken(test: Test, rule: CompiledRule) -> dict[str, pl.Expr]:
    number = pl.lit(None, dtype=pl.Float64)
    words = pl.lit(None, dtype=pl.String)
    out = {
        "column": pl.lit(test.column),
        "op": pl.lit(test.op),
        "measured": number,
        "found": words,
        "limit": number,
        "margin": number,
        "limit_name": pl.lit(test.limit, dtype=pl.String),
        "arm": words,
        "tolerated": pl.lit(None, dtype=pl.Boolean),
        "tolerated_limit": number,
        "would": words,
    }
    if test.limit_low is None:
        out["found"] = test.low.cast(pl.String)
        return out
    out |= {
        "measured": _reading(test).cast(pl.Float64).round(6),
        "limit": _bound(test).cast(pl.Float64),
        "margin": margin(test).cast(pl.Float64).round(6),
    }
    if test.limit is not None:
        ladder = rule.ladders[test.limit]
        out["arm"] = speaking_arm(ladder, _bound(test))
        if test.op in _UPPER:
            out["would"] = _permit_that_would(ladder, _reading(test))
        if ladder.tolerances and test.op in _UPPER:
            low, high = pl.col(ladder.tolerated_low), pl.col(ladder.tolerated_high)
            value = _reading(test)
            out["tolerated"] = pl.when(value <= low).then(True).when(value > high).then(False)
            out["tolerated_limit"] = pl.when(high > _bound(test)).then(high)
    return out


def speaking_arm(ladder: Ladder, bound: pl.Expr) -> pl.Expr:
    """Key of the entry whose value is the limit; of several, the last in the order base, raises, caps."""
    spoken = pl.lit(None, dtype=pl.String)
    for arm in ladder.arms:
        open_ = kleene.possible(_holds(arm)) & kleene.certain((arm.low == bound) | (arm.high == bound))
        spoken = pl.when(open_).then(pl.lit(arm.key)).otherwise(spoken)
    return spoken


def _holds(arm: Arm) -> pl.Expr:
    return kleene.all_of([k.truth for k in arm.condition.kids if k.form != "limit"])


def _permit_that_would(ladder: Ladder, value: pl.Expr) -> pl.Expr:
    """Key of a permit not held whose other conditions hold and which would allow the value."""
    would = pl.lit(None, dtype=pl.String)
    uncapped = [kleene.certain(~_holds(a)) | kleene.certain(value <= a.low) for a in ladder.arms if _is_cap(a)]
    for arm in ladder.arms:
        needs = getattr(arm.entry, "needs", None)
        if needs is None:
            continue
        others = [k.truth for k in arm.condition.kids if k.form != "limit" and not _is_paper(k)]
        fits = kleene.all_of([kleene.certain(kleene.all_of(others)), kleene.certain(value <= arm.low), *uncapped])
        fits = fits & ~kleene.certain(_holds(arm))
        would = pl.when(fits).then(pl.lit(arm.key)).otherwise(would)
    return would


def _is_cap(arm: Arm) -> bool:
    return isinstance(arm.entry, Cap)


def _is_paper(node: Node) -> bool:
    return any(c.startswith("holds:") for c in node.blanks)


def allowances_used(judged: Judged) -> list[pl.DataFrame]:
    """Rows that conform only because an entry raised the limit: job, subject, rule, limit_name, arm, measured."""
    asked: list[tuple[int, Test, pl.Expr, pl.Expr]] = []
    for index, rule in enumerate(judged.rules):
        for node in rule.must.tests():
            test = node.test
            if test is None or test.limit is None or test.op not in _UPPER or test.limit_low is None:
                continue
            ladder = rule.ladders[test.limit]
            if len(ladder.arms) > 1:
                base = pl.col(f"{ladder.column}:base:low")
                above = kleene.certain(test.high > base) & kleene.certain(node.truth)
                asked.append((index, test, test.limit_low, above))
    by_row = judged.spread is None or judged.by_set
    raised = full_columns(judged.frame, {at: above for at, (*_, above) in enumerate(asked)}) if by_row else {}
    found: list[pl.DataFrame] = []
    for at, (index, test, limit, above) in enumerate(asked):
        rows = np.flatnonzero(judged.codes[str(index)].to_numpy() == Code.CONFORMITY)
        if judged.spread is None or judged.by_set:
            rows = rows[raised[at][rows]]
        else:
            of_loads = judged.spread.rows(above.meta.root_names(), pl.Series(rows))
            rows = rows[full_columns(of_loads, {at: above})[at]]
        if len(rows):
            found.append(_raised(judged, judged.rules[index], rows, test, limit))
    return found


def _raised(judged: Judged, rule: CompiledRule, rows: Rows, test: Test, limit: pl.Expr) -> pl.DataFrame:
    """These rows, which conform by an entry that raised the limit of a comparison, with that entry."""
    spread, ladder = judged.spread, rule.ladders[test.limit or ""]
    whole = spread is None or judged.by_set
    part = judged.frame[rows] if spread is None or whole else _of_loads(spread, rule, rows)
    names = [
        pl.lit(rule.key).alias("rule"),
        pl.lit(test.limit).alias("limit_name"),
        speaking_arm(ladder, limit).alias("arm"),
        test.high.cast(pl.Float64).alias("measured"),
    ]
    if spread is not None and judged.by_set:
        told = part.select("job", "subject", *names, PLACE)
        part = spread.for_each_load(told, VIEWS[judged.view].dated_by)
        return part.select("job", "subject", "rule", "limit_name", "arm", "measured")
    return part.select("job", "subject", *names)
