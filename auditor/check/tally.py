"""Judging a record place by place and view by view, and gathering what the findings are made of."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field

import polars as pl

from auditor.check.details import CONTEXT, allowances_used, breaches
from auditor.check.evaluate import Judged, judge_view, load_codes, rules_of_views
from auditor.check.governing import governing_limits
from auditor.check.views import build_view
from auditor.record import Record
from auditor.rules.columns import columns_read
from auditor.rules.compiled import Code, papers_needed
from auditor.rules.reading import Rulebook
from auditor.vocabulary import VIEWS

LOADS_AT_ONCE = 100_000
WEIGHTS_SHOWN_UP_TO = 5_000


@dataclass(slots=True)
class Tally:
    """What judging gave, as frames that all begin with `job`.

    `counts`: job, rule, code, count of loads. `rows`: the same with the count of rows. `breaches`: one row per row that breaks a
    rule (see `details.describe`). `gaps`: job, load, ticket_number, rule, fact for what was not evidenced. `open`: job,
    load, ticket_number, rule, code. `allowances`: job, load, rule, limit_name, arm, measured. `weights`: see
    `governing_limits`.
    """

    counts: list[pl.DataFrame] = field(default_factory=list)
    rows: list[pl.DataFrame] = field(default_factory=list)
    breaches: list[pl.DataFrame] = field(default_factory=list)
    gaps: list[pl.DataFrame] = field(default_factory=list)
    open: list[pl.DataFrame] = field(default_factory=list)
    allowances: list[pl.DataFrame] = field(default_factory=list)
    weights: list[pl.DataFrame] = field(default_factory=list)


def tally(record: Record, rulebook: Rulebook) -> Tally:
    """Judge every load of the record, some jobs at a time so that memory stays bounded."""
    result = Tally()
    with_weights = record.tables["loads"].height <= WEIGHTS_SHOWN_UP_TO
    for tables in chunks(record):
        for judged in judge_tables(tables, rulebook):
            _gather(judged, result)
            if with_weights and judged.view == "load_legs":
                result.weights += governing_limits(judged)
    return result


def chunks(record: Record) -> Iterator[Mapping[str, pl.DataFrame]]:
    """The tables of the record, whole jobs at a time."""
    sizes = record.tables["loads"].group_by("job", maintain_order=True).len()
    total = 0
    jobs: list[str] = []
    for job, size in sizes.iter_rows():
        if jobs and total + size > LOADS_AT_ONCE:
            yield _part(record, jobs)
            jobs, total = [], 0
        jobs.append(job)
        total += size
    if jobs:
        yield tables_of(record) if len(jobs) == sizes.height else _part(record, jobs)


def tables_of(record: Record) -> dict[str, pl.DataFrame]:
    """The tables of the record, and as `declared` the periods for which some of them are complete."""
    return {**record.tables, "declared": record.declared}


def _part(record: Record, jobs: list[str]) -> Mapping[str, pl.DataFrame]:
    wanted = pl.DataFrame({"job": jobs}, schema={"job": pl.String})
    return {n: t.join(wanted, on="job", how="semi", maintain_order="left") for n, t in tables_of(record).items()}


def places_of(tables: Mapping[str, pl.DataFrame]) -> list[str]:
    """The United States and every state that some leg lies in, sorted."""
    return ["US", *sorted(str(s) for s in tables["legs"]["state"].cast(pl.String).drop_nulls().unique())]


def judge_tables(
    tables: Mapping[str, pl.DataFrame], rulebook: Rulebook, views: Collection[str] = tuple(VIEWS)
) -> Iterator[Judged]:
    """The views of every place judged by the rules of that place; `views` narrows them."""
    for place in places_of(tables):
        files = rulebook.of(place)
        definitions = rulebook.definitions(place)
        days = rulebook.days_of_change(place)
        papers = papers_needed(files)
        for view, rules in rules_of_views(files).items():
            if view not in views:
                continue
            wanted = columns_read(rules) | set(CONTEXT)
            frame = build_view(view, tables, place, definitions, papers, wanted)
            yield from judge_view(view, frame, rules, days)


def _gather(judged: Judged, result: Tally) -> None:
    worst = load_codes(judged)
    keys = [r.key for r in judged.rules]
    for key in keys:
        result.counts.append(_counted(worst["job"], worst[key], key))
    for place, rule in enumerate(judged.rules):
        result.rows.append(_counted(judged.frame["job"], judged.codes[str(place)], rule.key))
    result.breaches += breaches(judged)
    for gap in judged.gaps:
        result.gaps += _facts(gap, judged.view)
        left = gap.filter(pl.col("code") != int(Code.NOT_EVIDENCED))
        if left.height:
            result.open.append(left.select("job", "load", "ticket_number", "rule", "code").unique())
    for part in allowances_used(judged):
        result.allowances.append(part)


def _counted(jobs: pl.Series, codes: pl.Series, rule: str) -> pl.DataFrame:
    """How often each outcome of a rule came up in each job."""
    counted = pl.DataFrame([jobs, codes.alias("code")]).group_by("job", "code").agg(pl.len().alias("count"))
    return counted.select("job", pl.lit(rule).alias("rule"), "code", "count")


def _facts(gap: pl.DataFrame, view: str) -> list[pl.DataFrame]:
    """One row per load and record fact that is blank and leaves the rule open."""
    found = []
    rows = gap.filter(pl.col("code") == int(Code.NOT_EVIDENCED))
    for name in [c for c in gap.columns if c.startswith("blank:")]:
        part = rows.filter(pl.col(name)).select("job", "load", "ticket_number", "rule").unique()
        if part.height:
            fact = record_fact(view, name.removeprefix("blank:"))
            found.append(part.with_columns(pl.lit(fact).alias("fact")))
    return found


def record_fact(view: str, column: str) -> str:
    """The fields of the record to ask for when a view column is blank, such as "tiedowns.count, tiedowns.kind"."""
    if column.startswith("holds:"):
        return "documents.valid_from, documents.valid_until"
    found = VIEWS[view].field(column)
    return ", ".join(found.rests_on) if found is not None and found.rests_on else f"{view}.{column}"
