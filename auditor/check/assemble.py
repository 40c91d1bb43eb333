"""From what judging gathered to the reports on each job."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from typing import TYPE_CHECKING, Any, Literal

import polars as pl

from auditor.check.blame import Blame
from auditor.check.conclusion import conclude, fix_first
from auditor.check.findings import findings_of, in_words
from auditor.check.judgements import judgements_of, unknown_names
from auditor.check.limits_used import cite, cite_definitions, limit_key, unit_of
from auditor.check.map_features import report_map
from auditor.check.missing import (
    missing_facts,
    narrowed_gaps,
    open_questions,
    subjects_inconclusive,
    subjects_with_gaps,
)
from auditor.check.scopes import FEDERAL, JobScope, job_scope
from auditor.check.scores import scores_of
from auditor.check.subject_marks import Group, SubjectMarks
from auditor.check.tally import Tally, weights_shown
from auditor.check.walk import walk_of, worst_outcomes
from auditor.record import Record
from auditor.report.model import AllowanceUsed, Coverage, Evidence, JobReport, Limit, WeightPoint
from auditor.rules.compiled import Code
from auditor.rules.reading import Rulebook
from auditor.vocabulary import SITE_TABLES, SUBJECTS, VIEWS, WAITING_TABLES

if TYPE_CHECKING:
    from auditor.check.mapped_site import MappedSite

WeightState = Literal["inside", "inside by allowance", "over, tolerated", "over", "not shown"]


@dataclass(frozen=True, slots=True)
class Gathered:
    """A tally split by job: job -> frame, for each of its parts."""

    counts: Mapping[str, pl.DataFrame]
    rows: Mapping[str, pl.DataFrame]
    worst: Mapping[str, pl.DataFrame]
    cases: Mapping[str, pl.DataFrame]
    gaps: Mapping[str, list[Group]]
    open: Mapping[str, list[Group]]
    allowances: Mapping[str, pl.DataFrame]
    weights: Mapping[str, pl.DataFrame]
    outcomes: Mapping[str, pl.DataFrame]


def gather(tally: Tally) -> Gathered:
    """Split every part of a tally by job, the worst rows with their words."""
    worst: dict[str, pl.DataFrame] = {}
    cases: dict[str, pl.DataFrame] = {}
    for part in tally.worst:
        items, of_findings = in_words(part)
        worst |= _by_job(items)
        cases |= _by_job(of_findings)
    return Gathered(
        _by_job(_summed(tally.counts)),
        _by_job(_summed(tally.rows)),
        worst,
        cases,
        _groups(tally.gaps),
        _groups(tally.open),
        _by_job(_concat(tally.allowances)),
        _by_job(_concat(tally.weights)),
        _by_job(worst_outcomes(tally.outcomes)),
    )


def _summed(counts: Sequence[pl.DataFrame]) -> pl.DataFrame | None:
    whole = _concat(counts)
    if whole is None:
        return None
    return whole.group_by("job", "rule", "code").agg(pl.col("count").sum())  # nulls: counts have none


def _groups(marks: SubjectMarks) -> dict[str, list[Group]]:
    return {job: marks.groups(own) for job, own in _by_job(_concat(marks.subjects)).items()}


def _concat(frames: Sequence[pl.DataFrame]) -> pl.DataFrame | None:
    return pl.concat(frames, how="diagonal_relaxed") if frames else None


def _by_job(frame: pl.DataFrame | None) -> dict[str, pl.DataFrame]:
    if frame is None:
        return {}
    return {str(k[0]): v for k, v in frame.partition_by("job", as_dict=True, maintain_order=True).items()}


def _narrowed(gaps: Mapping[str, list[Group]], record: Record, rulebook: Rulebook) -> dict[str, list[Group]]:
    """The gaps of each job with facts that name only what may be to blame by its rows."""
    single = record.tables["job"].height == 1
    parts = cache(lambda table: _by_job(record.tables[table]))

    def rows(job: str, table: str) -> pl.DataFrame:
        whole = record.tables[table]
        return whole if single else parts(table).get(job, whole.clear())

    return {job: narrowed_gaps(own, rulebook, Blame(partial(rows, job))) for job, own in gaps.items()}


def job_reports(
    record: Record,
    rulebook: Rulebook,
    tally: Tally,
    sites: Mapping[str, MappedSite] | None = None,
) -> list[JobReport]:
    """One report for each job of the record, in the record's order.

    `sites` holds the mapped sites of the jobs that have one.
    """
    sites = sites or {}
    gathered = gather(tally)
    gathered = replace(gathered, gaps=_narrowed(gathered.gaps, record, rulebook))
    tables = {name: _by_job(record.tables[name]) for name in {"loads", "legs", *SUBJECTS, *SITE_TABLES}}
    evidence: dict[str, list[Evidence]] = {}
    for file in record.evidence:
        evidence.setdefault(file.job, []).append(
            Evidence(
                path=file.path,
                sha256=file.sha256,
                size_bytes=file.size_bytes,
                row_count=file.row_count,
                tables=list(file.tables),
            )
        )
    notes = _notes(record)
    reports = []
    for job in record.tables["job"].to_dicts():
        name = job["job"]
        own_rows = {t: rows[name] for t, rows in tables.items() if name in rows}
        scope = job_scope(str(job["state"]), own_rows, rulebook)
        own = (evidence.get(name, []), notes.get(name, []))
        reports.append(_job_report(job, own_rows, scope, record, rulebook, gathered, *own))
    waiting = _waiting(record, rulebook)
    widths = _by_job(_concat(tally.widths))
    for report in reports:
        if report.job in sites:
            mapped = sites[report.job]
            report.map = report_map(record.maps[report.job], mapped, widths.get(report.job), report.findings)
        report.not_covered += waiting.get(report.job, [])
    return reports


def _waiting(record: Record, rulebook: Rulebook) -> dict[str, list[str]]:
    """What each job's record holds that no rule of its place looks at yet, so that nobody takes silence for a pass."""
    looked = {(file.place, rule.examines) for file in rulebook.files for rule in file.rules}
    states = record.tables["job"].select("job", pl.col("state").cast(pl.String))
    found: dict[str, list[str]] = {}
    for table in WAITING_TABLES:
        held = states.join(record.tables[table].select("job"), on="job", how="semi").sort("job")
        for job, state in held.iter_rows():
            if looked.isdisjoint({(FEDERAL, table), (state, table)}):
                said = f"The rows of the table {table} are kept, but no rule looks at them yet."
                found.setdefault(job, []).append(said)
    return found


def _notes(record: Record) -> dict[str, list[str]]:
    """What was converted or assumed on reading, by job; with several jobs a note begins with the job it is about."""
    jobs = record.tables["job"]["job"].to_list()
    if len(jobs) == 1:
        return {jobs[0]: list(record.notes)}
    found: dict[str, list[str]] = {job: [] for job in jobs}
    for note in record.notes:
        head, _, text = note.partition(": ")
        named = note.rpartition(" in job ")[2].partition(";")[0]
        if head in found:
            found[head].append(text)
        else:
            for job in [named] if named in found else jobs:
                found[job].append(note)
    return found


def _job_report(
    job: Mapping[str, Any],
    rows: Mapping[str, pl.DataFrame],
    scope: JobScope,
    record: Record,
    rulebook: Rulebook,
    gathered: Gathered,
    evidence: list[Evidence],
    notes: list[str],
) -> JobReport:
    name = str(job["job"])
    coverage = _coverage(gathered.counts.get(name), gathered.rows.get(name), scope)
    judged = {c.rule: _judged(c) for c in coverage}
    worst = gathered.worst.get(name)
    adopted = record.criteria.get(name, ())
    findings = findings_of(worst, gathered.cases[name], rulebook, judged, adopted) if worst is not None else []
    gaps, still_open = gathered.gaps.get(name, []), gathered.open.get(name, [])
    missing = missing_facts(gaps, rulebook, scope.counts, adopted)
    questions = open_questions(still_open, rulebook)
    allowances = _allowances(gathered.allowances.get(name), rulebook)
    shown = gathered.weights.get(name) if weights_shown(scope.load_count) else None
    weights, chart_limits = _weights(shown, worst, rulebook)
    decided = sum(c.conformity + c.nonconformity for c in coverage)
    without = subjects_with_gaps(gaps, rulebook, adopted)
    unclear = subjects_inconclusive(still_open, rulebook)
    outcomes = gathered.outcomes.get(name)
    judgements = judgements_of(rows, outcomes, rulebook, adopted)
    not_covered = _not_covered(scope, bool(weights) or scope.load_count == 0)
    return JobReport(
        job=name,
        title=job["title"] or name,
        contractor=job["contractor"] or "",
        state=str(job["state"]),
        operation_start=job["operation_start"],
        operation_end=job["operation_end"],
        first_load=scope.first_load,
        last_load=scope.last_load,
        conclusion=conclude(findings, missing, scope.counts, without, unclear, decided, judgements),
        fix_first=fix_first(findings, missing, judgements),
        findings=findings,
        missing=missing,
        open_questions=questions,
        allowances=allowances,
        weights=weights,
        coverage=coverage,
        walk=walk_of(outcomes, rows, rulebook, adopted, findings, judgements),
        judgements=judgements,
        scores=scores_of(rows.get("observations"), rulebook, str(job["state"])),
        not_covered=[*not_covered, *unknown_names(judgements, rows, rulebook)],
        limits=_limits(worst, gathered.allowances.get(name), chart_limits, rulebook),
        evidence=evidence,
        notes=notes,
    )


def _judged(coverage: Coverage) -> int:
    return sum((
        coverage.conformity, coverage.nonconformity, coverage.not_evidenced, coverage.inconclusive,
        coverage.not_verifiable,
    ))  # fmt: skip


def _coverage(counts: pl.DataFrame | None, rows: pl.DataFrame | None, scope: JobScope) -> list[Coverage]:
    by_rule, rows_by_rule = _by_rule(counts), _by_rule(rows)
    found = []
    for file in scope.files:
        for rule in file.rules:
            key = f"{file.id}/{rule.id}"
            n = by_rule.get(key, {})
            codes = {c.name.lower(): n.get(int(c), 0) for c in Code}
            labels = {"rule": key, "title": rule.title, "place": file.place, "topic": file.topic}
            labels |= {"standing": rule.standing, "subject": SUBJECTS[VIEWS[rule.examines].subject]}
            found.append(Coverage.model_validate({**labels, **codes, **_rows_met(rows_by_rule.get(key, {}))}))
    return found


def _by_rule(counts: pl.DataFrame | None) -> dict[str, dict[int, int]]:
    found: dict[str, dict[int, int]] = {}
    for rule, code, count in counts.select("rule", "code", "count").iter_rows() if counts is not None else []:
        found.setdefault(rule, {})[code] = count
    return found


def _rows_met(by_code: Mapping[int, int]) -> dict[str, int]:
    """Rows of the view by what became of them under a rule."""
    of = {
        "rows_judged": (Code.CONFORMITY, Code.NONCONFORMITY),
        "rows_not_evidenced": (Code.NOT_EVIDENCED,),
        "rows_open": (Code.INCONCLUSIVE, Code.NOT_VERIFIABLE),
        "rows_not_applicable": (Code.NOT_APPLICABLE,),
    }
    return {name: sum(by_code.get(int(c), 0) for c in codes) for name, codes in of.items()}


def _allowances(used: pl.DataFrame | None, rulebook: Rulebook) -> list[AllowanceUsed]:
    if used is None:
        return []
    grouped = used.group_by("rule", "limit_name", "arm").agg(
        pl.col("subject").n_unique().alias("subjects"), pl.col("measured").max().alias("highest")
    )
    found = []
    for row in grouped.sort("rule", "limit_name", "arm").to_dicts():
        limit = cite(rulebook, row["rule"], row["limit_name"], row["arm"])
        pair = rulebook.find(row["rule"])
        if limit.title is None or pair is None:
            continue
        unit = unit_of(pair[0], row["limit_name"])
        found.append(
            AllowanceUsed(
                rule=row["rule"],
                limit_key=limit.key,
                title=limit.title,
                form=limit.form,
                subject=SUBJECTS[VIEWS[pair[1].examines].subject],
                subject_count=row["subjects"],
                highest=row["highest"],
                unit=unit,
            )
        )
    return found


def _weights(
    rows: pl.DataFrame | None, worst: pl.DataFrame | None, rulebook: Rulebook
) -> tuple[list[WeightPoint], list[tuple[str, str | None, str | None]]]:
    """One point per load with the lowest limit of its way, and the limits that so spoke."""
    if rows is None:
        return [], []
    still_open = pl.col("code").is_in([int(Code.NOT_EVIDENCED), int(Code.INCONCLUSIVE)])
    rows = rows.with_columns(some_open=still_open.max().over("load"))
    lowest = rows.sort("load", "limit", nulls_last=True, maintain_order=True)
    lowest = lowest.group_by("load", maintain_order=True).first()
    tolerated: dict[tuple[str, str], bool] = {}
    for load, rule, soft in worst.select("subject", "rule", "tolerated").iter_rows() if worst is not None else []:
        tolerated[load, rule] = tolerated.get((load, rule), True) and soft is True
    points, spoke = [], []
    for row in lowest.sort("load_date", "load", nulls_last=True, maintain_order=True).to_dicts():
        known = row["limit"] is not None
        where = row["road_name"] or str(row["road_class"] or "").replace("_", " ")
        key = limit_key(row["rule"], row["limit_name"], row["arm"])
        points.append(
            WeightPoint(
                ticket=row["load"],
                on=row["load_date"],
                gross_lb=row["gross_weight_lb"],
                limit_lb=row["limit"],
                limit_key=key if known else None,
                where=f"{where} ({str(row['state']).removeprefix('US-')})" if row["state"] is not None else where,
                state=_weight_state(row, tolerated.get((row["load"], row["rule"]), False), rulebook),
            )
        )
        if known:
            spoke.append((row["rule"], row["limit_name"], row["arm"]))
    return points, spoke


def _weight_state(row: Mapping[str, Any], soft: bool, rulebook: Rulebook) -> WeightState:
    """How a load stands to the lowest known limit; not shown while a limit elsewhere on its way is open."""
    gross, limit = row["gross_weight_lb"], row["limit"]
    if gross is None or limit is None:
        return "not shown"
    if gross > limit:
        return "over, tolerated" if soft else "over"
    if row["some_open"]:
        return "not shown"
    return "inside by allowance" if _is_raise(rulebook, row) else "inside"


def _is_raise(rulebook: Rulebook, row: Mapping[str, Any]) -> bool:
    return cite(rulebook, row["rule"], row["limit_name"], row["arm"]).form in ("raised limit", "permit")


def _limits(
    worst: pl.DataFrame | None,
    used: pl.DataFrame | None,
    chart: Sequence[tuple[str, str | None, str | None]],
    rulebook: Rulebook,
) -> list[Limit]:
    keys = set(chart)
    for frame in (worst, used):
        if frame is not None:
            keys |= set(frame.select("rule", "limit_name", "arm").unique().iter_rows())
    if worst is not None:
        keys |= set(_tolerances(worst, rulebook))
    cited = {limit.key: limit for limit in (cite(rulebook, *k) for k in keys)}
    cited |= {limit.key: limit for rule in {k[0] for k in keys} for limit in cite_definitions(rulebook, rule)}
    return [cited[k] for k in sorted(cited)]


def _tolerances(worst: pl.DataFrame, rulebook: Rulebook) -> list[tuple[str, str, str]]:
    found = []
    for rule, limit_name in (
        worst.filter(pl.col("tolerated_limit").is_not_null()).select("rule", "limit_name").unique().iter_rows()
    ):
        pair = rulebook.find(rule)
        if pair is not None:
            found += [
                (rule, limit_name, a.id)
                for a in pair[0].limits[limit_name].allowances
                if a.form == "enforcement tolerance"
            ]
    return found


def _not_covered(scope: JobScope, weights_shown: bool) -> list[str]:
    found = list(scope.left_out)
    for file in scope.files:
        found += [f"{file.place}: {n.what}: {n.result}." + (f" {n.note}" if n.note else "") for n in file.not_found]
    if not weights_shown:
        found.append("The weights of single loads are left out of a run with so many loads.")
    return found
