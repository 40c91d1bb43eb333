"""How many tiedowns of the usual kind each form of load needs: trial loads with none, one, two ... judged by the rules.

What the form does not say of the stack (how it is packed, what its outside logs touch) is as in the truck's usual one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from fractions import Fraction
from typing import Any

import polars as pl

from auditor.check.blame import Blame
from auditor.check.card_trials import narrowed, open_facts
from auditor.check.card_words import facts, words
from auditor.check.evaluate import Judged
from auditor.check.tally import judge_tables
from auditor.record import Record
from auditor.report.card_model import CardFact, CardTiedowns
from auditor.rules.compiled import Code
from auditor.rules.reading import Rulebook

COUNTS = range(17)
"""Numbers of tiedowns that are tried."""
COUNTED = frozenset({"tiedown_count", "aggregate_wll_lb"})
_PLAIN = {"blocked_front": False, "blocked_rear": False, "side_by_side": False}
FORMS: dict[str, dict[str, Any]] = {
    "long logs lengthwise": {**_PLAIN, "orientation": "lengthwise", "shortest_log_ft": 20.0, "longest_log_ft": 45.0},
    "short logs lengthwise": {**_PLAIN, "orientation": "lengthwise", "shortest_log_ft": 12.0, "longest_log_ft": 16.0},
    "short logs lengthwise, blocked in front and behind": {
        **_PLAIN, "orientation": "lengthwise", "shortest_log_ft": 8.0, "longest_log_ft": 9.0,
        "blocked_front": True, "blocked_rear": True, "tiedown_midway": True,
    },
    "short logs crosswise": {**_PLAIN, "orientation": "crosswise", "shortest_log_ft": 8.0, "longest_log_ft": 8.0},
}  # fmt: skip
"""Load forms with lengths that are plainly of their class; each is one stack that holds the whole payload."""
_OF_THE_STACK = ("weight_lb", "shortwood_embedded")
"""Facts of the usual stack that a form does not take over."""

PASSING = (int(Code.NOT_APPLICABLE), int(Code.CONFORMITY))
_ANSWER: dict[str, Any] = {"load": pl.String, "code": pl.UInt8, "open": pl.List(pl.String)}

Combination = tuple[str, str, str | None]


def tiedowns_needed(
    record: Record, rulebook: Rulebook, on: date, combination: Combination, payload_lb: float | None
) -> list[CardTiedowns]:
    """For each form of load the fewest tiedowns of the truck's usual kind that leave no binding rule broken or open.

    Every set of states that a way of the job leads through is tried, so that the law of each state on the way counts. Empty where the record says
    nothing of the truck's usual tiedowns or the payload is not known.
    """
    usual = _of_truck(record.tables["tiedowns"], combination).filter(
        pl.col("kind").cast(pl.String).eq_missing("tiedown")
    )
    if not usual.height or payload_lb is None:
        return []
    line = usual.sort("stack", "tiedown").row(0, named=True)
    trials = _trials(record, on, combination, payload_lb, line)
    judged = list(judge_tables(trials, narrowed(rulebook, {"stacks": COUNTED}), ("stacks",)))
    answers = pl.concat([pl.DataFrame(schema=_ANSWER), *(r for j in judged for r in _counted_rows(j))])
    limits = {x for j in judged for x in j.frame["weakest_tiedown_wll_lb"].drop_nulls()}
    on_board = _on_board(usual, line)
    blame = Blame(lambda table: trials[table].filter(pl.col("job") == combination[0]))
    found = []
    for form in FORMS:
        own = answers.filter(pl.col("load").str.starts_with(f"{form}/"))
        needed, least = _fewest(own, PASSING), _fewest(own, (*PASSING, int(Code.INCONCLUSIVE)))
        found.append(
            CardTiedowns(
                load_form=form,
                needed=needed,
                usual_kind=_kind(line),
                working_load_limit_lb=min(limits, default=None),
                on_board=on_board,
                note=_note(needed, least, on_board),
                open_facts=_open_facts(own, blame) if needed is None else [],
            )
        )
    return found


def _open_facts(answers: pl.DataFrame, blame: Blame) -> list[CardFact]:
    """The blank facts that leave some trial open, each with no more fields than may be to blame."""
    lacking = answers.explode("open").drop_nulls("open").group_by("open").agg(pl.col("load").unique())
    return facts(blame.narrowed(fact, "loads", loads) for fact, loads in lacking.iter_rows())


def _of_truck(rows: pl.DataFrame, combination: Combination) -> pl.DataFrame:
    """The usual rows of the truck in a table of stacks or tiedowns."""
    job, truck, _ = combination
    return rows.filter(pl.col("job") == job, pl.col("truck") == truck, pl.col("load").is_null())


def _on_board(usual: pl.DataFrame, line: Mapping[str, Any]) -> int | None:
    """Tiedowns of the same kind over all usual stacks; None where one of the counts is blank."""
    same = usual.filter(pl.col(n).eq_missing(line[n]) for n in ("material", "size_in", "grade"))
    counts = same["count"].to_list()
    return None if None in counts else sum(counts)


def _trials(
    record: Record, on: date, combination: Combination, payload_lb: float, line: Mapping[str, Any]
) -> dict[str, pl.DataFrame]:
    job, truck, trailer = combination
    tables = record.tables
    stack = next(iter(_of_truck(tables["stacks"], combination).sort("stack").to_dicts()), {})
    usual = {k: v for k, v in stack.items() if k not in ("truck", "load", *_OF_THE_STACK)}
    plain = {"bunk_count": 2, "large_logs_above_bunks": False, "one_or_two_large_logs": False}
    shape = plain | {k: v for k, v in usual.items() if v is not None}
    places = _destinations(tables, job)
    keys = [(f"{form}/{place}/{n}", form, place, n) for form in FORMS for place in places for n in COUNTS]
    loads = [
        {
            "job": job, "load": key, "ticket_number": key, "load_date": on, "truck": truck, "trailer": trailer,
            "destination": place, "product": "sawlogs", "unitized": False, "processed_log_count": 0,
            "slippery": False, "net_weight_lb": round(payload_lb),
        }
        for key, _, place, _ in keys
    ]  # fmt: skip
    stacks = [{**shape, "job": job, "load": key, "stack": 1, **FORMS[form]} for key, form, _, _ in keys]
    kept = {k: v for k, v in line.items() if k not in ("load", "truck")}
    tiedowns = [{**kept, "load": key, "stack": 1, "count": n} for key, _, _, n in keys]
    made = {"loads": loads, "stacks": stacks, "tiedowns": tiedowns}
    return {**tables, **{name: pl.DataFrame(rows, schema=tables[name].schema) for name, rows in made.items()}}


def _destinations(tables: Mapping[str, pl.DataFrame], job: str) -> list[str]:
    """A destination of the job for each set of states that a way leads through."""
    own = tables["destinations"].filter(pl.col("job") == job).select("job", "destination")
    legs = tables["legs"].select("job", "destination", pl.col("state").cast(pl.String))
    states = own.join(legs, on=["job", "destination"], how="left", maintain_order="left")
    sets = states.group_by("destination", maintain_order=True).agg(pl.col("state").unique().sort())
    return sets.unique("state", keep="first", maintain_order=True)["destination"].to_list()


def _counted_rows(judged: Judged) -> list[pl.DataFrame]:
    """Outcomes of each rule."""
    return [
        judged.frame.select("load", judged.codes[str(i)].alias("code"), open_facts(judged, i)).select(*_ANSWER)
        for i in range(len(judged.rules))
    ]


def _fewest(answers: pl.DataFrame, passing: Sequence[int]) -> int | None:
    """The fewest tiedowns from which on nothing is broken or open, whatever the destination; None where none do."""
    stopped = (
        answers.filter(~pl.col("code").is_in(list(passing)))["load"].str.split("/").list.last().cast(pl.Int64).to_list()
    )
    if not answers.height:
        return None
    least = max(stopped, default=-1) + 1
    return least if least in COUNTS else None


def _kind(line: Mapping[str, Any]) -> str:
    if line["material"] is None:
        return "kind not recorded"
    size = f"{_inches(line['size_in'])}-inch " if line["size_in"] is not None else ""
    grade = f" grade {line['grade']}" if line["grade"] is not None and line["material"] == "chain" else ""
    return f"{size}{words(line['material'])}{grade}"


def _inches(size_in: float) -> str:
    """A size as it is spoken of: 5/16, 3/8, 4; a decimal where it is no whole number of 32nds.

    >>> _inches(0.3125), _inches(4.0), _inches(1.5), _inches(0.28)
    ('5/16', '4', '1 1/2', '0.28')
    """
    exact = Fraction(size_in)
    if exact.denominator > 32:
        return f"{size_in:g}"
    whole, rest = divmod(exact, 1)
    return " ".join(w for w in (str(whole) if whole or not rest else "", str(rest) if rest else "") if w)


def _note(needed: int | None, least: int | None, on_board: int | None) -> str:
    """`least`: the fewest where a text that gives no single figure is read the lower way."""
    said = [] if needed is not None else ["not settled by the records"]
    if needed is not None and on_board is not None and on_board < needed:
        said.append(f"{needed - on_board} more than the usual set")
    if least is not None and least != needed:
        said.append(f"{least} where the text, which gives no single figure, is read the lower way")
    return "; ".join(said)
