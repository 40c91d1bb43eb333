"""Judging a record place by place and view by view, and gathering what the findings are made of."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
import polars as pl
from numpy.typing import NDArray

from auditor.check.details import allowances_used, breaches
from auditor.check.evaluate import Judged, Places, judge_view, load_codes
from auditor.check.findings import worst_rows
from auditor.check.governing import governing_limits
from auditor.check.load_marks import LoadMarks, Thing
from auditor.check.plans import Plans
from auditor.check.views import build_view
from auditor.check.views.base import EVERYWHERE, PLACE, ready_at
from auditor.check.views.legs import Scope
from auditor.record import Record
from auditor.rules.compiled import Code
from auditor.rules.reading import Rulebook
from auditor.vocabulary import VIEWS

LOADS_AT_ONCE = 100_000
WEIGHTS_SHOWN_UP_TO = 5_000

_CODES = max(Code) + 1
_OPEN = (Code.INCONCLUSIVE, Code.NOT_VERIFIABLE)

Counts = dict[str, NDArray[np.int64]]


@dataclass(slots=True)
class Tally:
    """What judging gave, as frames that all begin with `job`.

    `counts`: job, rule, code, count of loads. `rows`: the same with the count of rows. `worst` and `cases`: see
    `findings.worst_rows`. `gaps`: the loads for which something was not evidenced, each with the rules and the blank
    facts. `open`: the loads with rows that stay open though no fact is blank, each with the rules and the names of
    their codes. `allowances`: job, load, rule, limit_name, arm, measured. `weights`: see `governing_limits`.
    """

    counts: list[pl.DataFrame] = field(default_factory=list)
    rows: list[pl.DataFrame] = field(default_factory=list)
    worst: list[pl.DataFrame] = field(default_factory=list)
    cases: list[pl.DataFrame] = field(default_factory=list)
    gaps: LoadMarks = field(default_factory=LoadMarks)
    open: LoadMarks = field(default_factory=LoadMarks)
    allowances: list[pl.DataFrame] = field(default_factory=list)
    weights: list[pl.DataFrame] = field(default_factory=list)


def tally(record: Record, rulebook: Rulebook) -> Tally:
    """Judge every load of the record, some jobs at a time so that memory stays bounded."""
    result = Tally()
    with_weights = record.tables["loads"].height <= WEIGHTS_SHOWN_UP_TO
    plans = Plans(rulebook)
    for tables in chunks(record):
        part = _Part(tables["loads"])
        for judged in judge_tables(tables, rulebook, narrow=True, plans=plans):
            part.gather(judged)
            result.allowances += allowances_used(judged)
            if with_weights and judged.view == "load_legs":
                result.weights += governing_limits(judged)
        part.finish(result, rulebook)
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
    tables: Mapping[str, pl.DataFrame],
    rulebook: Rulebook,
    views: Collection[str] = tuple(VIEWS),
    narrow: bool = False,
    plans: Plans | None = None,
) -> Iterator[Judged]:
    """The views of every place judged by the rules of that place; `views` narrows them.

    With `narrow`, rows on legs that lie outside the scope of every rule are only counted. `plans` are those of the
    rulebook, for a caller that judges several sets of tables.
    """
    plans = plans or Plans(rulebook)
    whole = ready_at(tables, EVERYWHERE)
    for place in places_of(tables):
        here = ready_at(whole, place)
        for plan in plans.of(place):
            if plan.view in views:
                scope = Scope(plan.scope) if narrow and plan.scope is not None else None
                frame = build_view(plan.view, here, place, plan.definitions, plan.papers, plan.columns, scope)
                outside = scope.outside if scope is not None else None
                yield from judge_view(plan.view, frame, plan.rules, plan.days, outside, plan.compiled)


class _Part:
    """Some whole jobs: what judging their views gives, load by load."""

    def __init__(self, loads: pl.DataFrame) -> None:
        self.loads = loads.select("job", "load")
        jobs = loads.select("job").unique(maintain_order=True).with_row_index("place")
        self.jobs = jobs["job"]
        numbered = self.loads.join(jobs, on="job", how="left", maintain_order="left")
        self.job_place = numbered["place"].cast(pl.Int64).to_numpy()
        self.counts: Counts = {}
        self.rows: Counts = {}
        self.breaches: list[pl.DataFrame] = []
        self.gaps: list[tuple[Thing, Places]] = []
        self.open: list[tuple[Thing, Places]] = []

    def gather(self, judged: Judged) -> None:
        """Take over what one view of one edition shows."""
        places = judged.frame[PLACE].to_numpy()
        self._count(judged, places)
        self.breaches += breaches(judged)
        for index, rule in enumerate(judged.rules):
            codes = judged.codes[str(index)].to_numpy()
            for code in _OPEN:
                rows = codes == code
                if rows.any():  # nulls: codes have none
                    self.open.append(((rule.key, code.name), places[rows]))
        for column in judged.blanks.columns:
            of, _, name = column.partition(":")
            rule = judged.rules[int(of)]
            blank = judged.blanks[column].to_numpy()
            if rule.rule.evidence != "act without record" and blank.any():  # nulls: blanks have none
                self.gaps.append(((rule.key, record_fact(judged.view, name)), places[blank]))

    def _count(self, judged: Judged, places: Places) -> None:
        """Loads by job and worst outcome, and rows by job and outcome; what was left out is outside every scope."""
        size = len(self.jobs) * _CODES
        worst = load_codes(judged)
        loads = worst[PLACE].to_numpy()
        loads_outside, rows_outside = np.zeros(size, dtype=np.int64), np.zeros(size, dtype=np.int64)
        if judged.outside is not None:
            left_out, many = (judged.outside[name].to_numpy() for name in (PLACE, "rows"))
            kept = np.zeros(self.loads.height, dtype=bool)
            kept[loads] = True
            jobs = self.job_place[left_out] * _CODES
            loads_outside += np.bincount(jobs[~kept[left_out]], minlength=size)
            np.add.at(rows_outside, jobs, many)
        job_of_load, job_of_row = self.job_place[loads] * _CODES, self.job_place[places] * _CODES
        for index, rule in enumerate(judged.rules):
            codes = judged.codes[str(index)].to_numpy()
            _add(
                self.counts,
                rule.key,
                loads_outside + np.bincount(job_of_load + worst[rule.key].to_numpy(), minlength=size),
            )
            _add(self.rows, rule.key, rows_outside + np.bincount(job_of_row + codes, minlength=size))

    def finish(self, result: Tally, rulebook: Rulebook) -> None:
        """Add what was gathered to the tally of the whole record."""
        if self.counts:
            result.counts.append(self._counted(self.counts))
            result.rows.append(self._counted(self.rows))
        if self.breaches:
            worst, cases = worst_rows(self.breaches, rulebook)
            result.worst.append(worst)
            result.cases.append(cases)
        result.gaps.add(self.loads, self.gaps)
        result.open.add(self.loads, self.open)

    def _counted(self, counts: Counts) -> pl.DataFrame:
        """Every outcome that came up under a rule in a job, and how often."""
        numbers = np.stack(list(counts.values()))
        rule, met = np.nonzero(numbers)
        return pl.DataFrame(
            {
                "job": self.jobs[met // _CODES],
                "rule": pl.Series(list(counts), dtype=pl.String)[rule],
                "code": pl.Series(met % _CODES, dtype=pl.UInt8),
                "count": pl.Series(numbers[rule, met], dtype=pl.UInt32),
            }
        )


def _add(counts: Counts, key: str, counted: NDArray[np.int64]) -> None:
    counts[key] = counts[key] + counted if key in counts else counted


def record_fact(view: str, column: str) -> str:
    """The fields of the record to ask for when a view column is blank, such as "tiedowns.count, tiedowns.kind"."""
    if column.startswith("holds:"):
        return "documents.valid_from, documents.valid_until"
    found = VIEWS[view].field(column)
    return ", ".join(found.rests_on) if found is not None and found.rests_on else f"{view}.{column}"
