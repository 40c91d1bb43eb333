"""Judging a record place by place and view by view, and gathering what the findings are made of."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from auditor.check.alike import Alike, alike_loads
from auditor.check.details import allowances_used, breaches
from auditor.check.evaluate import Judged, Places, judge_view, worst_by_place
from auditor.check.findings import Worst, worst_rows
from auditor.check.governing import governing_limits
from auditor.check.map_features import required_widths
from auditor.check.plans import Plan, Plans
from auditor.check.spread import Spread
from auditor.check.subject_marks import SubjectMarks, Thing
from auditor.check.views import LATE, begin_view, build_view, site, with_papers
from auditor.check.views.base import PLACE, Ready, site_jobs
from auditor.check.views.legs import Scope
from auditor.check.views.loads import TICKET_CHECKS, ticket_checks
from auditor.check.walk import site_outcomes
from auditor.record import Record
from auditor.rules.compiled import Code
from auditor.rules.nodes import Step
from auditor.rules.reading import Rulebook
from auditor.vocabulary import SITE_TABLES, SUBJECTS, VIEWS, subject_key

ROWS_AT_ONCE = 175_000
FEW_LOADS = 2_000
"""Up to so many, views are made whole for all places; of more, with no columns and legs that no rule of the place asks for."""
PARTS_AT_ONCE = 2
"""However many cores there are: each part takes memory of its own, and polars spreads its work besides."""
SITE_VIEWS = frozenset({*site.SITE_BUILDERS, "bank_outcomes"})
WEIGHTS_SHOWN_UP_TO = 5_000

_CODES = max(Code) + 1
_OPEN = (Code.INCONCLUSIVE, Code.NOT_VERIFIABLE)

Numbers = NDArray[np.int64]
Counts = dict[str, Numbers]
_PIECES = {"job": pl.String, "subject": pl.String, "from_ft": pl.Float64, "to_ft": pl.Float64, "fails": pl.Boolean}


@dataclass(slots=True)
class Tally:
    """What judging gave, as frames that all begin with `job`.

    A subject is a load, a bank, a crossing ...: what the rows of a view belong to. `counts`: job, rule, code, count of
    subjects. `rows`: the same with the count of rows. `worst`: see `findings.worst_rows`. `gaps`: the
    subjects for which something was not evidenced, each with the rules and the blank facts. `open`: the subjects with
    rows that stay open though no fact is blank, each with the rules and the names of their codes. `allowances`: job,
    subject, rule, limit_name, arm, measured. `weights`: see `governing_limits`. `outcomes`: see `walk.site_outcomes`.
    `widths`: see `map_features.required_widths`; only for jobs with maps.
    """

    counts: list[pl.DataFrame] = field(default_factory=list)
    rows: list[pl.DataFrame] = field(default_factory=list)
    worst: list[Worst] = field(default_factory=list)
    gaps: SubjectMarks = field(default_factory=SubjectMarks)
    open: SubjectMarks = field(default_factory=SubjectMarks)
    allowances: list[pl.DataFrame] = field(default_factory=list)
    weights: list[pl.DataFrame] = field(default_factory=list)
    outcomes: list[pl.DataFrame] = field(default_factory=list)
    widths: list[pl.DataFrame] = field(default_factory=list)


def weights_shown(load_count: int) -> bool:
    """Whether the weights of single loads are shown in a report on so many."""
    return load_count <= WEIGHTS_SHOWN_UP_TO


def tally(record: Record, rulebook: Rulebook, with_weights: bool = False) -> Tally:
    """Judge every row of the record, some jobs at a time so that memory stays bounded.

    The `weights` of single loads are gathered only `with_weights`.
    """
    result = Tally()
    plans = Plans(rulebook)
    judge = partial(_judged_part, rulebook=rulebook, plans=plans, maps=bool(record.maps), with_weights=with_weights)
    for part in _side_by_side(judge, chunks(record)):
        part.finish(result)
    return result


def _side_by_side(
    work: Callable[[Mapping[str, pl.DataFrame]], _Part], items: Iterator[Mapping[str, pl.DataFrame]]
) -> Iterator[_Part]:
    """The results in the order of the items, a few of them worked on at a time."""
    workers = min(os.cpu_count() or 1, PARTS_AT_ONCE)
    with ThreadPoolExecutor(workers) as pool:
        running: deque[Future[_Part]] = deque()
        for item in items:
            if len(running) == workers:
                yield running.popleft().result()
            running.append(pool.submit(work, item))
        while running:
            yield running.popleft().result()


def _judged_part(
    tables: Mapping[str, pl.DataFrame], rulebook: Rulebook, plans: Plans, maps: bool, with_weights: bool
) -> _Part:
    """Some whole jobs, judged."""
    part = _Part(tables)
    # The weights of single loads are shown from rows that are whole.
    together = frozenset(VIEWS) - ({"load_legs"} if with_weights else set())
    for judged in judge_tables(tables, rulebook, narrow=True, together=together, plans=plans):
        part.gather(judged)
        part.allowances += allowances_used(judged)
        outcomes = site_outcomes(judged)
        part.outcomes += [] if outcomes is None else [outcomes]
        if maps and judged.view == "stations":
            part.widths += required_widths(judged)
        if with_weights and judged.view == "load_legs":
            part.weights += governing_limits(judged)
    part.pick(rulebook)
    return part


def chunks(record: Record) -> Iterator[Mapping[str, pl.DataFrame]]:
    """The tables of the record, whole jobs at a time."""
    rows = pl.concat([record.tables[name].select("job") for name in ("loads", *SITE_TABLES)])
    sizes = rows.group_by("job").len()
    sizes = record.tables["job"].select("job").join(sizes, on="job", how="left", maintain_order="left")
    sizes = sizes.with_columns(pl.col("len").fill_null(0))
    total = 0
    jobs: list[str] = []
    for job, size in sizes.iter_rows():
        if jobs and total + size > ROWS_AT_ONCE:
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


def parts_by_job(record: Record) -> dict[str, Record]:
    """For each job, in the record's order, a record of it alone; its notes and evidence stay with the whole."""
    rows = {
        name: {str(k[0]): v for k, v in frame.partition_by("job", as_dict=True, maintain_order=True).items()}
        for name, frame in record.tables.items()
    }
    empty = {name: frame.clear() for name, frame in record.tables.items()}
    return {
        job: replace(
            record,
            tables={name: rows[name].get(job, empty[name]) for name in rows},
            maps={job: record.maps[job]} if job in record.maps else {},
        )
        for job in record.tables["job"]["job"]
    }


def places_of(tables: Mapping[str, pl.DataFrame]) -> list[str]:
    """The United States, every state that some leg lies in, and that of every job with rows of the harvest site, sorted."""
    found = {str(s) for s in tables["legs"]["state"].cast(pl.String).drop_nulls().unique()}
    return ["US", *sorted(found | site_places(tables))]


def record_places(record: Record) -> list[str]:
    """The places whose rule files a record needs: as `places_of`, with the states of the jobs that have maps."""
    jobs = record.tables["job"].filter(pl.col("job").is_in(list(record.maps)))
    mapped = {str(s) for s in jobs["state"].cast(pl.String).drop_nulls()}
    return ["US", *sorted({*places_of(record.tables)[1:], *mapped})]


def site_places(tables: Mapping[str, pl.DataFrame]) -> set[str]:
    """The states of the jobs with rows of the harvest site."""
    jobs = tables["job"].join(site_jobs(tables), on="job", how="semi")
    return {str(s) for s in jobs["state"].cast(pl.String).drop_nulls().unique()}


def judge_tables(
    tables: Mapping[str, pl.DataFrame],
    rulebook: Rulebook,
    views: Collection[str] = tuple(VIEWS),
    narrow: bool = False,
    together: Collection[str] = (),
    plans: Plans | None = None,
) -> Iterator[Judged]:
    """The views of every place judged by the rules of that place; `views` narrows them.

    With `narrow`, rows on legs that lie outside the scope of every rule are only counted where there are many loads. In the views named by `together`
    like ones of many loads are judged together. `plans` are those of the rulebook, for a caller that judges several sets
    of tables.
    """
    plans = plans or Plans(rulebook)
    places = places_of(tables)
    # A record without anything of a harvest site need not build the views of one.
    wanted = set(views) if site_jobs(tables).height else set(views) - SITE_VIEWS
    sets = _alike(tables, plans, places, together)
    few = tables["loads"].height <= FEW_LOADS
    ready = {alike: Ready(_with_sets(tables, alike), few and alike is None) for alike in (None, *sets.values())}
    for place in places:
        first_stage: dict[str, list[pl.DataFrame]] = {}
        for plan in plans.of(place):
            if plan.view in wanted:
                scope = Scope(plan.scope) if narrow and not few and plan.scope is not None else None
                alike = sets.get(plan.view)
                frame = _view(plan, ready[alike], place, scope, first_stage, alike)
                outside = scope.outside if scope is not None else None
                spread = None if alike is None else partial(_spread, plan.view, tables, plan.columns, alike)
                for judged in judge_view(plan.view, frame, plan.rules, plan.days, outside, plan.compiled, spread):
                    _keep_outcomes(judged, plan.watched, first_stage)
                    yield judged


def _alike(
    tables: Mapping[str, pl.DataFrame], plans: Plans, places: Sequence[str], views: Collection[str]
) -> dict[str, Alike]:
    """The sets of like loads for those of the views for which it pays to judge sets."""
    if not views:
        return {}
    read: dict[str, set[str]] = {}
    days: set[date] = set()
    for plan in (plan for place in places for plan in plans.of(place)):
        if plan.view in views:
            read.setdefault(plan.view, set()).update(plan.columns)
        days.update(plan.days)
    sets = alike_loads(tables, read, sorted(days))
    return {view: alike for view, alike in sets.items() if view in views}


def _with_sets(tables: Mapping[str, pl.DataFrame], alike: Alike | None) -> Mapping[str, pl.DataFrame]:
    return tables if alike is None else {**tables, "loads": alike.loads}


def _spread(
    view: str,
    tables: Mapping[str, pl.DataFrame],
    columns: Collection[str],
    alike: Alike,
    frame: pl.DataFrame,
    steps: Sequence[Step],
) -> Spread:
    """The rows of sets with what leads to the rows of loads; what compares tickets is worked out load by load."""
    if view == "loads" and not TICKET_CHECKS.isdisjoint(columns):
        checks = ticket_checks(tables).drop("job", "load")
        alike = replace(alike, own=pl.concat([alike.own, checks[alike.own[PLACE]]], how="horizontal"))
    return Spread(frame, alike, LATE.get(view), steps)


def _view(
    plan: Plan,
    tables: Mapping[str, pl.DataFrame],
    place: str,
    scope: Scope | None,
    first_stage: Mapping[str, Sequence[pl.DataFrame]],
    alike: Alike | None,
) -> pl.DataFrame:
    """The view of a plan; one of the second stage is made of the outcomes that the rule it names gave before."""
    if alike is not None:
        # Loads that are judged together have no tickets of their own to compare.
        columns = set(plan.columns) - TICKET_CHECKS
        return begin_view(plan.view, tables, place, plan.definitions, plan.papers, columns, scope)
    if plan.outcomes_of is None:
        return build_view(plan.view, tables, place, plan.definitions, plan.papers, plan.columns, scope)
    key, window_ft = plan.outcomes_of
    found = first_stage.get(key)
    pieces = pl.concat(found) if found else pl.DataFrame(schema=_PIECES)
    frame = site.bank_outcomes(tables, plan.definitions, pieces, window_ft)
    return with_papers(frame, plan.view, tables, plan.papers)


def _keep_outcomes(judged: Judged, watched: Collection[str], kept: dict[str, list[pl.DataFrame]]) -> None:
    """Whether each row fails a rule that a second stage looks at; rows that it does not apply to are left out."""
    for index, rule in enumerate(judged.rules):
        if rule.key in watched:
            codes = pl.Series("code", judged.codes[str(index)])
            code = pl.col("code")
            fails = pl.when(code == int(Code.NONCONFORMITY)).then(True).when(code == int(Code.CONFORMITY)).then(False)
            rows = judged.frame.with_columns(codes).filter(pl.col("code") != int(Code.NOT_APPLICABLE))
            kept.setdefault(rule.key, []).append(
                rows.select("job", "subject", "from_ft", "to_ft", fails.alias("fails")).cast(_PIECES)  # type: ignore[arg-type]
            )


class _Part:
    """Some whole jobs: what judging their views gives, load by load, bank by bank."""

    def __init__(self, tables: Mapping[str, pl.DataFrame]) -> None:
        subjects = [tables[t].select("job", pl.col(subject_key(t)).alias("subject")) for t in SUBJECTS]
        starts = np.cumsum([0, *(s.height for s in subjects)])
        self.offsets = dict(zip(SUBJECTS, starts.tolist(), strict=False))
        self.subjects = pl.concat(subjects)
        jobs = self.subjects.select("job").unique(maintain_order=True).with_row_index("place")
        self.jobs = jobs["job"]
        numbered = self.subjects.join(jobs, on="job", how="left", maintain_order="left")
        self.job_place = numbered["place"].cast(pl.Int64).to_numpy()
        self.counts: Counts = {}
        self.rows: Counts = {}
        self.breaches: list[pl.DataFrame] = []
        self.worst: list[Worst] = []
        self.allowances: list[pl.DataFrame] = []
        self.outcomes: list[pl.DataFrame] = []
        self.widths: list[pl.DataFrame] = []
        self.weights: list[pl.DataFrame] = []
        self.gaps: list[tuple[Thing, Places]] = []
        self.open: list[tuple[Thing, Places]] = []

    def gather(self, judged: Judged) -> None:
        """Take over what one view of one edition shows."""
        places = _Places(judged, self.offsets[VIEWS[judged.view].subject])
        self._count(judged, places)
        self.breaches += breaches(judged)
        for index, rule in enumerate(judged.rules):
            codes = judged.codes[str(index)].to_numpy()
            for code in _OPEN:
                rows = codes == code
                if rows.any():  # nulls: codes have none
                    self.open.append(((rule.key, code.name), places.of(rows)))
        for column in judged.blanks.columns:
            of, _, name = column.partition(":")
            rule = judged.rules[int(of)]
            blank = judged.blanks[column].to_numpy()
            if rule.rule.evidence != "act without record" and blank.any():  # nulls: blanks have none
                self.gaps.append(((rule.key, record_fact(judged.view, name)), places.of(blank)))

    def _count(self, judged: Judged, places: _Places) -> None:
        """Subjects by job and worst outcome, and rows by job and outcome; what was left out is outside every scope."""
        size = len(self.jobs) * _CODES
        rows, worst = worst_by_place(judged)
        job_of_place = self.job_place[places.first] * _CODES
        at = places.at[rows]
        subjects_outside, rows_outside = np.zeros(size, dtype=np.int64), np.zeros(size, dtype=np.int64)
        if judged.outside is not None:
            left_out, many = places.left_out(judged.outside)
            jobs = job_of_place[left_out]
            rows_outside += _times_met(jobs, size, many if places.many is None else many * places.many[left_out])
            only = np.ones(len(job_of_place), dtype=bool)
            only[at] = False
            only = only[left_out]
            subjects_outside += _times_met(
                jobs[only], size, None if places.many is None else places.many[left_out[only]]
            )
        of_subject, of_row = job_of_place[at], job_of_place[places.at]
        many_of_subject, many_of_row = (
            (None, None) if places.many is None else (places.many[at], places.many[places.at])
        )
        for index, rule in enumerate(judged.rules):
            codes = judged.codes[str(index)].to_numpy()
            counted = _times_met(of_subject + worst[index], size, many_of_subject)
            _add(self.counts, rule.key, subjects_outside + counted)
            _add(self.rows, rule.key, rows_outside + _times_met(of_row + codes, size, many_of_row))

    def pick(self, rulebook: Rulebook) -> None:
        """Keep the worst of the rows that break a rule."""
        if self.breaches:
            self.worst = [worst_rows(self.breaches, rulebook)]
            self.breaches = []

    def finish(self, result: Tally) -> None:
        """Add what was gathered to the tally of the whole record."""
        if self.counts:
            result.counts.append(self._counted(self.counts))
            result.rows.append(self._counted(self.rows))
        result.worst += self.worst
        result.gaps.add(self.subjects, self.gaps)
        result.open.add(self.subjects, self.open)
        result.allowances += self.allowances
        result.outcomes += self.outcomes
        result.widths += self.widths
        result.weights += self.weights

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


class _Places:
    """Where the rows judged stand among all subjects of a part.

    `at`: the place of each row as judged, `first`: for each such place the first subject that it stands for, `many`: how
    many loads each place stands for, where it is a set of like loads.
    """

    def __init__(self, judged: Judged, offset: int) -> None:
        self.at: NDArray[np.uint32] = judged.frame[PLACE].to_numpy()
        self._spread, self._by_set = judged.spread, judged.by_set
        self.many: Numbers | None = None
        if judged.spread is None:
            seen = self.at if judged.outside is None else np.append(self.at, judged.outside[PLACE].to_numpy())
            self._subjects: Numbers = np.arange(int(seen.max(initial=0)) + 1) + offset
            self.first = self._subjects
        else:
            self._subjects = judged.spread.alike.places.astype(np.int64) + offset
            self.first = self._subjects
            if judged.by_set:
                self.many = judged.spread.alike.sizes
                self.first = self._subjects[judged.spread.alike.starts[:-1]]

    def of(self, rows: NDArray[np.bool_]) -> NDArray[np.int64]:
        """The subjects that these rows are about, each once or more."""
        if self.many is None:
            subjects: Numbers = self._subjects[self.at[rows]]
            return subjects
        met = np.zeros(len(self.many), dtype=bool)
        met[self.at[rows]] = True
        of_sets: Numbers = self._subjects[np.repeat(met, self.many)]
        return of_sets

    def left_out(self, outside: pl.DataFrame) -> tuple[Numbers, Numbers]:
        """The places whose rows were left out of the view, and how many rows of each."""
        places, rows = outside[PLACE].to_numpy().astype(np.int64), outside["rows"].to_numpy().astype(np.int64)
        if self._spread is None or self._by_set:
            return places, rows
        given, members = self._spread.alike.members(places)
        return members, rows[given]


def _times_met(keys: NDArray[Any], size: int, many: Numbers | None) -> Numbers:
    """How often each key comes up, weighed by how many each stands for."""
    return np.rint(np.bincount(keys, weights=many, minlength=size)).astype(np.int64)


def _add(counts: Counts, key: str, counted: NDArray[np.int64]) -> None:
    counts[key] = counts[key] + counted if key in counts else counted


def record_fact(view: str, column: str) -> str:
    """The fields of the record to ask for when a view column is blank, such as "tiedowns.count, tiedowns.kind"."""
    if column.startswith("holds:"):
        return "documents.valid_from, documents.valid_until"
    found = VIEWS[view].field(column)
    return ", ".join(found.rests_on) if found is not None and found.rests_on else f"{view}.{column}"
