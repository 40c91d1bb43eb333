"""Facts that were not recorded, rolled up per fact and job, and the judgements that stay open though nothing is blank."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from auditor.report.model import MissingFact, OpenQuestion
from auditor.rules.compiled import Code
from auditor.rules.models import VOLUNTARY
from auditor.rules.reading import Rulebook
from auditor.vocabulary import TABLES, VIEWS

SAMPLES = 5


def missing_facts(
    gaps: pl.DataFrame | None, rulebook: Rulebook, load_count: int, adopted: Sequence[str] = ()
) -> list[MissingFact]:
    """Each blank fact of one job: those the law demands first, those only advice asks for last, then by loads.

    `adopted` holds the voluntary rules or topics that the job takes as criteria.
    """
    if gaps is None:
        return []
    grouped = gaps.group_by("fact").agg(
        pl.col("load").n_unique().alias("loads"),
        pl.col("rule").unique().sort().alias("rules"),
        pl.col("load").unique().sort().head(SAMPLES).alias("tickets"),
    )
    found = []
    for row in grouped.sort("fact").to_dicts():
        demanded = [r for r in row["rules"] if _demanded(rulebook, r)]
        found.append(
            MissingFact(
                fact=row["fact"],
                meaning=meaning_of(row["fact"]),
                load_count=row["loads"],
                job_load_count=load_count,
                rules=row["rules"],
                demanded_by_law=bool(demanded),
                advice_only=not any(is_binding(rulebook, r, adopted) for r in row["rules"]),
                sample_tickets=row["tickets"],
                todo=_todo(row["fact"]),
            )
        )
    found.sort(key=lambda m: (not m.demanded_by_law, m.advice_only, -m.load_count, m.fact))
    return found


def _demanded(rulebook: Rulebook, key: str) -> bool:
    """Whether the law demands the record; a rule known from memory only is not taken at its word."""
    pair = rulebook.find(key)
    return pair is not None and pair[1].evidence == "demanded by law" and pair[1].verified != "memory"


def is_binding(rulebook: Rulebook, key: str, adopted: Sequence[str] = ()) -> bool:
    """Whether a rule is more than advice: law, or a voluntary practice that the job took as a criterion."""
    pair = rulebook.find(key)
    return pair is not None and (pair[1].standing not in VOLUNTARY or key in adopted or pair[0].topic in adopted)


def binding_gaps(gaps: pl.DataFrame | None, rulebook: Rulebook, adopted: Sequence[str] = ()) -> pl.DataFrame | None:
    """The gaps that leave a binding rule open."""
    if gaps is None:
        return None
    keys = [k for k in gaps["rule"].unique() if is_binding(rulebook, k, adopted)]
    return gaps.filter(pl.col("rule").is_in(keys))


def meaning_of(fact: str) -> str:
    """What the fields of a fact mean, in the vocabulary's words."""
    meanings = []
    for part in fact.split(", "):
        table_name, _, field_name = part.partition(".")
        holder = TABLES.get(table_name) or VIEWS.get(table_name)
        field = holder.field(field_name) if holder is not None else None
        if field is not None and field.meaning not in meanings:
            meanings.append(field.meaning)
    return "; ".join(meanings)


def _todo(fact: str) -> str:
    tables = sorted({p.partition(".")[0] for p in fact.split(", ")})
    fields = sorted({p.partition(".")[2] for p in fact.split(", ")})
    return f"Fill {', '.join(fields)} in the table {' or '.join(tables)}."


def open_questions(rows: pl.DataFrame | None, rulebook: Rulebook) -> list[OpenQuestion]:
    """Inconclusive judgements and acts that leave no record, by rule."""
    if rows is None:
        return []
    grouped = rows.group_by("rule", "code").agg(
        pl.col("load").n_unique().alias("loads"),
        pl.col("load").unique().sort().head(SAMPLES).alias("tickets"),
    )
    found = []
    for row in grouped.sort("rule", "code").to_dicts():
        pair = rulebook.find(row["rule"])
        if pair is None:
            continue
        verifiable = row["code"] == Code.INCONCLUSIVE
        reason = (
            "The value or the limit is known only within a range, and both answers lie inside it."
            if verifiable
            else "The act leaves no record that must be kept; nothing in the files shows it."
        )
        found.append(
            OpenQuestion(
                kind="inconclusive" if verifiable else "not verifiable",
                rule=row["rule"],
                title=pair[1].title,
                reason=reason,
                load_count=row["loads"],
                sample_tickets=row["tickets"],
            )
        )
    return found
