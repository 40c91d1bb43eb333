"""Judging a record place by place and view by view, and gathering what the findings are made of."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import polars as pl
from numpy.typing import NDArray

from auditor.check.details import allowances_used, breaches
from auditor.check.evaluate import Judged, Places, judge_view, subject_codes
from auditor.check.findings import worst_rows
from auditor.check.governing import governing_limits
from auditor.check.map_features import required_widths
from auditor.check.plans import Plan, Plans
from auditor.check.subject_marks import SubjectMarks, Thing
from auditor.check.views import build_view, site, with_papers
from auditor.check.views.base import EVERYWHERE, PLACE, ready_at, site_jobs
from auditor.check.views.legs import Scope
from auditor.check.walk import site_outcomes
from auditor.record import Record
from auditor.rules.compiled import Code
from auditor.rules.reading import Rulebook
from auditor.vocabulary import SITE_TABLES, SUBJECTS, VIEWS, subject_key

ROWS_AT_ONCE = 100_000
SITE_VIEWS = frozenset({*site.SITE_BUILDERS, "bank_outcomes"})
WEIGHTS_SHOWN_UP_TO = 5_000

_CODES = max(Code) + 1
_OPEN = (Code.INCONCLUSIVE, Code.NOT_VERIFIABLE)

Counts = dict[str, NDArray[np.int64]]
_PIECES = {"job": pl.String, "subject": pl.String, "from_ft": pl.Float64, "to_ft": pl.Float64, "fails": pl.Boolean}


@dataclass(slots=True)
class Tally:
    """What judging gave, as frames that all begin with `job`.

    A subject is a load, a bank, a crossing ...: what the rows of a view belong to. `counts`: job, rule, code, count of
    subjects. `rows`: the same with the count of rows. `worst` and `cases`: see `findings.worst_rows`. `gaps`: the
    subjects for which something was not evidenced, each with the rules and the blank facts. `open`: the subjects with
    rows that stay open though no fact is blank, each with the rules and the names of their codes. `allowances`: job,
    subject, rule, limit_name, arm, measured. `weights`: see `governing_limits`. `outcomes`: see `walk.site_outcomes`.
    `widths`: see `map_features.required_widths`; only for jobs with maps.
    """

    counts: list[pl.DataFrame] = field(default_factory=list)
    rows: list[pl.DataFrame] = field(default_factory=list)
    worst: list[pl.DataFrame] = field(default_factory=list)
    cases: list[pl.DataFrame] = field(default_factory=list)
    gaps: SubjectMarks = field(default_factory=SubjectMarks)
    open: SubjectMarks = field(default_factory=SubjectMarks)
    allowances: list[pl.DataFrame] = field(default_factory=list)
    weights: list[pl.DataFrame] = field(default_factory=list)
    outcomes: list[pl.DataFrame] = field(default_factory=list)
    widths: list[pl.DataFrame] = field(default_factory=list)


def tally(record: Record, rulebook: Rulebook) -> Tally:
    """Judge every row of the record, some jobs at a time so that memory stays bounded."""
    result = Tally()
    with_weights = record.tables["loads"].height <= WEIGHTS_SHOWN_UP_TO
    plans = Plans(rulebook)
    for tables in chunks(record):
        part = _Part(tables)
        for judged in judge_tables(tables, rulebook, narrow=True, plans=plans):
            part.gather(judged)
            result.allowances += allowances_used(judged)
            outcomes = site_outcomes(judged)
            result.outcomes += [] if outcomes is None else [outcomes]
            if record.maps and judged.view == "stations":
                result.widths += required_widths(judged)
            if with_weights and judged.view == "load_legs":
                result.weights += governing_limits(judged)
        part.finish(result, rulebook)
    return result


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
    plans: Plans | None = None,
) -> Iterator[Judged]:
    """The views of every place judged by the rules of that place; `views` narrows them.

    With `narrow`, rows on legs that lie outside the scope of every rule are only counted. `plans` are those of the
    rulebook, for a caller that judges several sets of tables.
    """
    plans = plans or Plans(rulebook)
    whole = ready_at(tables, EVERYWHERE)
    # A record without anything of a harvest site need not build the views of one.
    wanted = set(views) if site_jobs(tables).height else set(views) - SITE_VIEWS
    for place in places_of(tables):
        here = ready_at(whole, place)
        first_stage: dict[str, list[pl.DataFrame]] = {}
        for plan in plans.of(place):
            if plan.view in wanted:
                scope = Scope(plan.scope) if narrow and plan.scope is not None else None
                frame = _view(plan, here, place, scope, first_stage)
                outside = scope.outside if scope is not None else None
                for judged in judge_view(plan.view, frame, plan.rules, plan.days, outside, plan.compiled):
                    _keep_outcomes(judged, plan.watched, first_stage)
                    yield judged


def _view(
    plan: Plan,
    tables: Mapping[str, pl.DataFrame],
    place: str,
    scope: Scope | None,
    first_stage: Mapping[str, Sequence[pl.DataFrame]],
) -> pl.DataFrame:
    """The view of a plan; one of the second stage is made of the outcomes that the rule it names gave before."""
    if plan.outcomes_of is None:
        return build_view(plan.view, tables, place, plan.definitions, plan.papers, plan.columns, scope)
    key, window_ft = plan.outcomes_of
    found = first_stage.get(key)
    pieces = pl.concat(found) if found else pl.DataFrame(schema=_PIECES)
    frame = site.bank_outcomes(tables, plan.definitions, pieces, window_ft)
    return with_papers(frame, plan.view, tables["documents"], plan.papers)


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
        self.gaps: list[tuple[Thing, Places]] = []
        self.open: list[tuple[Thing, Places]] = []

    def gather(self, judged: Judged) -> None:
        """Take over what one view of one edition shows."""
        offset = self.offsets[VIEWS[judged.view].subject]
        places = judged.frame[PLACE].to_numpy() + np.uint32(offset)
        self._count(judged, places, offset)
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

    def _count(self, judged: Judged, places: Places, offset: int) -> None:
        """Subjects by job and worst outcome, and rows by job and outcome; what was left out is outside every scope."""
        size = len(self.jobs) * _CODES
        worst = subject_codes(judged)
        subjects = worst[PLACE].to_numpy() + np.uint32(offset)
        subjects_outside, rows_outside = np.zeros(size, dtype=np.int64), np.zeros(size, dtype=np.int64)
        if judged.outside is not None:
            left_out, many = judged.outside[PLACE].to_numpy() + np.uint32(offset), judged.outside["rows"].to_numpy()
            kept = np.zeros(self.subjects.height, dtype=bool)
            kept[subjects] = True
            jobs = self.job_place[left_out] * _CODES
            subjects_outside += np.bincount(jobs[~kept[left_out]], minlength=size)
            np.add.at(rows_outside, jobs, many)
        job_of_subject, job_of_row = self.job_place[subjects] * _CODES, self.job_place[places] * _CODES
        for index, rule in enumerate(judged.rules):
            codes = judged.codes[str(index)].to_numpy()
            _add(
                self.counts,
                rule.key,
                subjects_outside + np.bincount(job_of_subject + worst[rule.key].to_numpy(), minlength=size),
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
        result.gaps.add(self.subjects, self.gaps)
        result.open.add(self.subjects, self.open)

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
