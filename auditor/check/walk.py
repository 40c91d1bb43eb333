"""The harvest site place by place, in the order in which one walks it: every rule's outcome at every bank, crossing, trail ..."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import polars as pl

from auditor.check.evaluate import Judged, subject_codes
from auditor.check.examples import outcome_words
from auditor.check.missing import is_binding
from auditor.check.site_words import where_of
from auditor.check.views.base import PLACE
from auditor.report.model import Finding, Judgement, WalkOutcome, WalkStop
from auditor.rules.compiled import Code
from auditor.rules.reading import Rulebook
from auditor.vocabulary import SUBJECTS, TOPIC_GROUPS, VIEWS, subject_key

Rows = Mapping[str, pl.DataFrame]

PLACE_TABLES = {
    "stream": "streams", "bank": "banks", "crossing": "crossings", "segment": "segments", "deck": "decks",
    "stand": "stands", "tank": "tanks", "spill": "spills",
}  # fmt: skip
"""Kind of place that a judgement may name -> table whose rows have those names."""


def site_outcomes(judged: Judged) -> pl.DataFrame | None:
    """Worst outcome of each place of a site under each rule: job, subject, its place, rule, code, table; None for loads."""
    table = VIEWS[judged.view].subject
    if table == "loads":
        return None
    wide = subject_codes(judged)
    long = wide.unpivot(index=["job", "subject", PLACE], variable_name="rule", value_name="code")
    return long.with_columns(table=pl.lit(table))


def worst_outcomes(pieces: Sequence[pl.DataFrame]) -> pl.DataFrame | None:
    """The pieces of several views and editions as one, with one row per job, table, subject and rule."""
    if not pieces:
        return None
    keys = ["job", "table", "subject", "rule"]
    # Codes and places have no nulls.
    worst = pl.concat(pieces).group_by(keys).agg(pl.col("code").max(), pl.col(PLACE).min())
    return worst.sort(*keys)


def said(code: int, rulebook: Rulebook, key: str, adopted: Sequence[str]) -> str:
    """Name of an outcome: a breach of a voluntary practice is a departure, unless the job takes it as a criterion."""
    if code == Code.NONCONFORMITY and is_binding(rulebook, key, adopted):
        return "nonconformity"
    return outcome_words(code, rulebook.get(key)[1])


def walk_of(
    outcomes: pl.DataFrame | None,
    rows: Rows,
    rulebook: Rulebook,
    adopted: Sequence[str],
    findings: Sequence[Finding],
    judgements: Sequence[Judgement],
) -> list[WalkStop]:
    """The stops of one job: topic by topic, in each the tables in their order and the rows as recorded.

    `outcomes`: see `worst_outcomes`, of this job; `rows`: the tables of this job by name.
    """
    if outcomes is None:
        return []
    numbers = _finding_numbers(findings)
    spoken_of = _judgements_by_place(judgements, rows)
    order = {f"{f.id}/{r.id}": n for n, (f, r) in enumerate((f, r) for f in rulebook.files for r in f.rules)}
    where = _where(rows)
    held: dict[tuple[int, int, int, str, str], list[tuple[str, int]]] = {}
    topics, tables = TOPIC_GROUPS["ground"], list(SUBJECTS)
    applied = outcomes.filter(pl.col("code") != int(Code.NOT_APPLICABLE))
    for table, subject, key, code, place in applied.select("table", "subject", "rule", "code", PLACE).iter_rows():
        topic = rulebook.get(key)[0].topic
        stop = (topics.index(topic), tables.index(table), place, table, subject)
        held.setdefault(stop, []).append((key, code))
    return [
        WalkStop(
            topic=topics[topic],
            subject=SUBJECTS[table],
            name=name,
            where=where.get((table, name), ""),
            outcomes=[
                WalkOutcome(
                    rule=key,
                    title=rulebook.get(key)[1].title,
                    standing=rulebook.get(key)[1].standing,
                    outcome=said(code, rulebook, key, adopted),
                    finding=numbers.get((key, name)),
                )
                for key, code in sorted(found, key=lambda pair: order[pair[0]])
            ],
            judgements=spoken_of.get((table, name), []),
        )
        for (topic, _, _, table, name), found in sorted(held.items())
    ]


def _finding_numbers(findings: Sequence[Finding]) -> dict[tuple[str, str], int]:
    """Rule and name of a place -> number of the finding it stands in, the gravest where there are two."""
    found: dict[tuple[str, str], int] = {}
    for finding in findings:
        for item in finding.items:
            found.setdefault((finding.rule, item.subject), finding.number)
    return found


def _judgements_by_place(judgements: Sequence[Judgement], rows: Rows) -> dict[tuple[str, str], list[str]]:
    """Table and name -> judgements that speak of that place."""
    found: dict[tuple[str, str], list[str]] = {}
    for judgement in judgements:
        place = place_of(judgement.place_kind, judgement.place, rows)
        if place is not None:
            found.setdefault(place, []).append(judgement.name)
    return found


def place_of(kind: str, name: str, rows: Rows) -> tuple[str, str] | None:
    """Table and name of the place that a judgement is on; of a station or plot its bank. None where there is none.

    A station is called by its bank and number, a plot by its own name or likewise. No kind and no name is the job.
    """
    if kind == "job" or (not kind and not name):
        return "job", str(rows["job"]["job"][0])
    if kind in ("station", "plot"):
        bank = _bank_of(kind, name, rows)
        return None if bank is None else ("banks", bank)
    table = PLACE_TABLES.get(kind)
    held = table is not None and table in rows and name in rows[table][subject_key(table)]
    return (table, name) if table is not None and held else None


def _bank_of(kind: str, name: str, rows: Rows) -> str | None:
    table = f"{kind}s"
    if table not in rows:
        return None
    bank, _, number = name.rpartition(" ")
    for own, called in rows[table].select("bank", kind).iter_rows():
        if (str(own), str(called)) == (bank, number) or (kind == "plot" and called == name):
            return str(own)
    return None


def _where(rows: Rows) -> dict[tuple[str, str], str]:
    """Table and name -> what the place is and where."""
    streams = {str(r["stream"]): r for r in rows["streams"].iter_rows(named=True)} if "streams" in rows else {}
    return {
        (table, str(row[subject_key(table)])): where_of(table, row, streams)
        for table in SUBJECTS
        if table != "loads" and table in rows
        for row in rows[table].iter_rows(named=True)
    }
