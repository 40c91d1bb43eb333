"""From views and rules to outcomes: partition by place and edition, add limit columns, compare, settle the unknowns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

import polars as pl

from auditor.check.steps import add_columns
from auditor.rules import kleene
from auditor.rules.compiled import Code, CompiledRule, compile_rules
from auditor.rules.models import Rule, RuleFile
from auditor.vocabulary import VIEWS


@dataclass(frozen=True, slots=True)
class Judged:
    """Rows of one view under one edition. `codes` has one column per rule, named by its place in `rules`."""

    view: str
    frame: pl.DataFrame
    rules: tuple[CompiledRule, ...]
    codes: pl.DataFrame
    gaps: tuple[pl.DataFrame, ...]


def judge_view(
    view: str, frame: pl.DataFrame, rules: Sequence[tuple[RuleFile, Rule]], days_of_change: Sequence[date]
) -> Iterator[Judged]:
    """Judge every row of a view, edition by edition; rows whose day is blank are judged against every edition at once."""
    for day, part in editions(frame, VIEWS[view].dated_by, days_of_change):
        compiled = compile_rules(view, rules, day)
        if compiled.rules and part.height:
            yield judge_rows(view, add_columns(part, compiled.steps), compiled.rules)


def editions(
    frame: pl.DataFrame, dated_by: str, days_of_change: Sequence[date]
) -> Iterator[tuple[date | None, pl.DataFrame]]:
    """Split a view where the law changes; each part comes with a day on which its edition held (None: day blank)."""
    dates = frame[dated_by]
    starts = [date.min, *days_of_change]
    for start, end in zip(starts, [*days_of_change, None], strict=True):
        inside = dates >= start
        if end is not None:
            inside &= dates < end
        part = frame.filter(inside.fill_null(False))
        if part.height:
            yield start, part
    undated = frame.filter(dates.is_null())
    if undated.height:
        yield None, undated


def judge_rows(view: str, frame: pl.DataFrame, rules: tuple[CompiledRule, ...]) -> Judged:
    """Outcome of every row under every rule, and for what is open the facts to blame."""
    raw = frame.lazy().select(r.code().alias(str(i)) for i, r in enumerate(rules)).collect()
    settled: list[pl.Series] = []
    gaps: list[pl.DataFrame] = []
    for index, rule in enumerate(rules):
        codes = raw[str(index)]
        open_rows = (codes == int(Code.NOT_EVIDENCED)).arg_true()
        if len(open_rows):
            gap = _settle(frame[open_rows], rule)
            codes = codes.scatter(open_rows, gap["code"])
            gaps.append(gap)
        settled.append(codes)
    return Judged(view, frame, rules, pl.DataFrame(settled), tuple(gaps))


def _settle(frame: pl.DataFrame, rule: CompiledRule) -> pl.DataFrame:
    """For open rows: the code, and one column `blank:<column>` for each fact that may be to blame."""
    blames = rule.blame()
    blank_columns = [expression.alias(f"blank:{column}") for column, expression in sorted(blames.items())]
    out = frame.select("job", "load", "ticket_number", pl.lit(rule.key).alias("rule"), *blank_columns)
    some = kleene.any_of([kleene.certain(pl.col(f"blank:{c}")) for c in sorted(blames)])
    missing = Code.NOT_VERIFIABLE if rule.rule.evidence == "act without record" else Code.NOT_EVIDENCED
    code = pl.when(some).then(pl.lit(int(missing), pl.UInt8)).otherwise(pl.lit(int(Code.INCONCLUSIVE), pl.UInt8))
    return out.with_columns(code.alias("code"))


def load_codes(judged: Judged) -> pl.DataFrame:
    """Worst outcome of each load under each rule: job, load, then one column per rule named by its key."""
    named = judged.codes.rename({str(i): r.key for i, r in enumerate(judged.rules)})
    keys = [r.key for r in judged.rules]
    rows = pl.concat([judged.frame.select("job", "load"), named], how="horizontal")
    return rows.group_by("job", "load", maintain_order=True).agg(pl.col(k).max() for k in keys)


def rules_of_views(files: Iterable[RuleFile]) -> dict[str, list[tuple[RuleFile, Rule]]]:
    """Rules by the view they examine, in the order of the files."""
    found: dict[str, list[tuple[RuleFile, Rule]]] = {}
    for file in files:
        for rule in file.rules:
            found.setdefault(rule.examines, []).append((file, rule))
    return found
