"""How many tiedowns of the usual kind each form of load needs: trial loads with none, one, two ... judged by the rules."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import polars as pl

from auditor.check.evaluate import Judged
from auditor.check.tally import judge_tables
from auditor.record import Record
from auditor.report.card_model import CardTiedowns
from auditor.rules.compiled import Code
from auditor.rules.models import VOLUNTARY
from auditor.rules.reading import Rulebook

MOST_TRIED = 16
COUNTED = frozenset({"tiedown_count", "aggregate_wll_lb"})
FORMS: dict[str, dict[str, Any]] = {
    "long logs lengthwise": {"orientation": "lengthwise", "shortest_log_ft": 20.0, "longest_log_ft": 45.0},
    "short logs lengthwise": {"orientation": "lengthwise", "shortest_log_ft": 12.0, "longest_log_ft": 16.0},
    "short logs lengthwise, blocked in front and behind": {
        "orientation": "lengthwise", "shortest_log_ft": 8.0, "longest_log_ft": 9.0,
        "blocked_front": True, "blocked_rear": True, "tiedown_midway": True,
    },
    "short logs crosswise": {"orientation": "crosswise", "shortest_log_ft": 8.0, "longest_log_ft": 8.0},
}  # fmt: skip
"""Load forms with lengths that are plainly of their class; each is one stack that holds the whole payload."""

Combination = tuple[str, str, str | None]


def tiedowns_needed(
    record: Record, rulebook: Rulebook, on: date, combination: Combination, payload_lb: float | None
) -> list[CardTiedowns]:
    """For each form of load the fewest tiedowns of the truck's usual kind that leave no binding rule broken or open."""
    job, truck, _ = combination
    usual = record.tables["tiedowns"].filter(
        pl.col("job") == job, pl.col("truck") == truck, pl.col("kind").cast(pl.String).eq_missing("tiedown")
    )
    if not usual.height or payload_lb is None:
        return []
    line = usual.sort("tiedown").row(0, named=True)
    on_board = usual.filter(pl.col("tiedown") == line["tiedown"])["count"].to_list()[0]
    judged = list(judge_tables(_trials(record, on, combination, payload_lb, line), rulebook, ("stacks",)))
    rows = [r for j in judged for r in _counted_rows(j)]
    limits = {x for j in judged for x in j.frame["weakest_tiedown_wll_lb"].drop_nulls()}
    answers = pl.concat(rows) if rows else pl.DataFrame(schema={"load": pl.String, "code": pl.UInt8})
    return [
        CardTiedowns(
            load_form=form,
            needed=(needed := _fewest(answers, form)),
            usual_kind=_kind(line),
            working_load_limit_lb=min(limits, default=None),
            on_board=on_board,
            note=_note(needed, on_board),
        )
        for form in FORMS
    ]


def _trials(
    record: Record, on: date, combination: Combination, payload_lb: float, line: Mapping[str, Any]
) -> dict[str, pl.DataFrame]:
    job, truck, trailer = combination
    tables = record.tables
    destination = tables["legs"].filter(pl.col("job") == job)["destination"].to_list()[0]
    keys = [(form, n) for form in FORMS for n in range(MOST_TRIED + 1)]
    loads = [
        {
            "job": job, "load": f"{form}/{n}", "ticket_number": f"{form}/{n}", "load_date": on, "truck": truck,
            "trailer": trailer, "destination": destination, "product": "sawlogs", "unitized": False,
            "processed_log_count": 0, "slippery": False, "net_weight_lb": round(payload_lb),
        }
        for form, n in keys
    ]  # fmt: skip
    stacks = [{"job": job, "load": f"{form}/{n}", "stack": 1, "bunk_count": 2, **FORMS[form]} for form, n in keys]
    kept = {k: v for k, v in line.items() if k not in ("job", "load", "truck", "stack")}
    tiedowns = [{**kept, "job": job, "load": f"{form}/{n}", "count": n} for form, n in keys]
    made = {"loads": loads, "stacks": stacks, "tiedowns": tiedowns}
    return {**tables, **{name: pl.DataFrame(rows, schema=tables[name].schema) for name, rows in made.items()}}


def _counted_rows(judged: Judged) -> list[pl.DataFrame]:
    """Outcomes of the binding rules that count tiedowns or add up their limits."""
    found = []
    for index, rule in enumerate(judged.rules):
        tested = {n.test.column for n in rule.must.tests() if n.test is not None}
        if rule.rule.standing not in VOLUNTARY and not COUNTED.isdisjoint(tested):
            found.append(judged.frame.select("load", judged.codes[str(index)].alias("code")))
    return found


def _fewest(answers: pl.DataFrame, form: str) -> int | None:
    passing = [int(Code.NOT_APPLICABLE), int(Code.CONFORMITY)]
    stopped = set(answers.filter(~pl.col("code").is_in(passing))["load"])
    return next((n for n in range(MOST_TRIED + 1) if f"{form}/{n}" not in stopped), None)


def _kind(line: Mapping[str, Any]) -> str:
    size = f"{line['size_in']:g} in " if line["size_in"] is not None else ""
    grade = f" grade {line['grade']}" if line["grade"] is not None and line["material"] == "chain" else ""
    return f"{size}{str(line['material'] or 'tiedown').replace('_', ' ')}{grade}"


def _note(needed: int | None, on_board: int | None) -> str:
    if needed is None:
        return "not settled by the records"
    if on_board is not None and on_board < needed:
        return f"{needed - on_board} more than the usual set"
    return ""
