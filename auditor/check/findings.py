"""Findings: equal shortcomings of one job together, with the worst case and what would bring each load inside."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping, Sequence
from typing import Any, Literal

import polars as pl

from auditor.check.limits_used import cite, limit_key, unit_of, weakest
from auditor.report.model import Finding, Item
from auditor.rules.models import VOLUNTARY, Rule, RuleFile
from auditor.rules.reading import Rulebook
from auditor.vocabulary import VIEWS

BOUNDARY = {
    "at_most": "at most",
    "less_than": "less than",
    "at_least": "at least",
    "more_than": "more than",
    "equals": "exactly",
}
POUNDS_PER_SHORT_TON = 2000


def worst_rows(breaches: Sequence[pl.DataFrame]) -> pl.DataFrame:
    """One row per job, rule and load, its worst, with `also_on`: how many more rows of the load break the rule."""
    rows = pl.concat(breaches, how="diagonal_relaxed")
    order = ["job", "rule", "load", "margin", "leg", "first_axle", "stack", "tiedown"]
    have = [c for c in order if c in rows.columns]
    down = [c == "margin" for c in have]
    rows = rows.sort(have, descending=down, nulls_last=True, maintain_order=True)
    keys = ["job", "rule", "load"]
    return rows.group_by(keys, maintain_order=True).agg(pl.all().first(), (pl.len() - 1).alias("also_on"))


def findings_of(
    rows: pl.DataFrame, rulebook: Rulebook, judged: Mapping[str, int], adopted: Sequence[str]
) -> list[Finding]:
    """The findings of one job from its worst rows, the gravest first. `judged`: rule -> loads it applied to."""
    found: list[Finding] = []
    for (key,), part in sorted(rows.partition_by("rule", as_dict=True, maintain_order=True).items()):
        pair = rulebook.find(str(key))
        if pair is None:
            continue
        file, rule = pair
        marked = [(r, _mark(rulebook, r, rule)) for r in part.to_dicts()]
        for confirmed in (True, False):
            group = [r for r, mark in marked if (mark != "memory") is confirmed]
            if group:
                second = confirmed and any(mark == "secondary" for _, mark in marked)
                found.append(_finding(file, rule, group, rulebook, confirmed, second, judged.get(str(key), 0), adopted))
    found.sort(key=_gravity)
    for number, finding in enumerate(found, start=1):
        finding.number = number
    return found


def _mark(rulebook: Rulebook, row: Mapping[str, Any], rule: Rule) -> str:
    spoke = cite(rulebook, row["rule"], row["limit_name"], row["arm"])
    return weakest(spoke.verified, rule.verified)


def _gravity(finding: Finding) -> tuple[Any, ...]:
    kinds = ("nonconformity", "departure from practice", "opportunity for improvement")
    only_tolerated = finding.tolerated_count == finding.load_count
    return (
        not finding.confirmed,
        kinds.index(finding.kind),
        finding.grade != "major",
        only_tolerated,
        -finding.load_count,
        finding.rule,
    )


def _finding(
    file: RuleFile,
    rule: Rule,
    rows: Sequence[Mapping[str, Any]],
    rulebook: Rulebook,
    confirmed: bool,
    second_hand: bool,
    judged: int,
    adopted: Sequence[str],
) -> Finding:
    key = f"{file.id}/{rule.id}"
    items = sorted((_item(file, rule, r, rulebook) for r in rows), key=_item_order)
    voluntary = rule.standing in VOLUNTARY and key not in adopted and file.topic not in adopted
    tolerated = sum(1 for i in items if i.tolerated)
    grade: Literal["major", "minor"] = rule.grade if confirmed and tolerated < len(items) else "minor"
    identity = f"{rows[0]['job']}|{key}|{'confirmed' if confirmed else 'unconfirmed'}"
    return Finding(
        id=hashlib.sha256(identity.encode()).hexdigest()[:12],
        number=0,
        kind="departure from practice" if voluntary else "nonconformity",
        grade=grade,
        confirmed=confirmed,
        second_hand=second_hand,
        rule=key,
        title=rule.title,
        place=file.place,
        topic=file.topic,
        standing=rule.standing,
        duty_of=rule.duty_of,
        load_count=len(items),
        tolerated_count=tolerated,
        judged_count=judged,
        worst=_worst(items[0]),
        summary=_summary(items, judged, tolerated),
        action=_filled(rule.action, items[0]),
        caution=_filled(rule.caution, items[0]),
        items=items,
    )


def _item_order(item: Item) -> tuple[Any, ...]:
    return (bool(item.tolerated), -(item.margin or 0.0), item.on is None, item.on, item.ticket)


def _item(file: RuleFile, rule: Rule, row: Mapping[str, Any], rulebook: Rulebook) -> Item:
    unit = unit_of(file, row["limit_name"]) or _field_unit(rule.examines, row["column"])
    key = f"{file.id}/{rule.id}"
    number = row["measured"] is not None and row["limit"] is not None
    return Item(
        ticket=row["load"],
        on=row["load_date"],
        what=_what(row),
        vehicle=" + ".join(str(v) for v in (row.get("truck"), row.get("trailer")) if v),
        destination=row.get("destination") or "",
        measured=row["measured"],
        limit=row["limit"],
        unit=unit if number else None,
        margin=row["margin"] if number else None,
        boundary=BOUNDARY.get(row["op"], "") if number else "",
        limit_key=limit_key(key, row["limit_name"], row["arm"]),
        tolerated=row["tolerated"],
        tolerated_limit=row["tolerated_limit"],
        to_mend=_to_mend(file, row, unit) if number else "",
        also_on=row["also_on"],
        source=_source(row),
    )


def _field_unit(view: str, column: str) -> str | None:
    field = VIEWS[view].field(column)
    return field.unit if field is not None else None


def _source(row: Mapping[str, Any]) -> str:
    parts = [row["_file"], f"sheet {row['_sheet']}" if row["_sheet"] else None]
    parts.append(f"row {row['_row']}" if row["_row"] is not None else None)
    return ", ".join(p for p in parts if p)


def _what(row: Mapping[str, Any]) -> str:
    parts = []
    if row.get("first_axle") is not None:
        one = row["first_axle"] == row["last_axle"]
        parts.append(f"axle {row['first_axle']}" if one else f"axles {row['first_axle']}-{row['last_axle']}")
    if row.get("stack") is not None:
        parts.append(f"stack {row['stack']}")
    if row.get("tiedown") is not None:
        parts.append(f"tiedown line {row['tiedown']}")
    if row.get("leg") is not None:
        road = row.get("road_name") or str(row.get("road_class") or "road").replace("_", " ")
        parts.append(f"on {road} ({str(row.get('state')).removeprefix('US-')})")
    return " ".join(parts)


def _to_mend(file: RuleFile, row: Mapping[str, Any], unit: str | None) -> str:
    margin = row["margin"]
    if row["op"] in ("at_most", "less_than"):
        text = _less(margin, unit)
        if row["would"]:
            allowance = next(a for a in file.limits[row["limit_name"]].allowances if a.id == row["would"])
            text += f"; or show the paper: {allowance.title}"
        return text
    weakest_wll = row.get("weakest_tiedown_wll_lb")
    if row["column"].endswith("aggregate_wll_lb") and weakest_wll:
        more = math.ceil(margin / weakest_wll)
        return f"{more} more of the tiedowns on board ({weakest_wll:,.0f} lb each), or stronger ones"
    return f"{_number(margin)} {unit or ''} more".replace("  ", " ")


def _less(margin: float, unit: str | None) -> str:
    if unit == "lb":
        return f"{_number(math.ceil(margin))} lb off (about {margin / POUNDS_PER_SHORT_TON:.1f} short tons)"
    return f"{_number(margin)} {unit or ''} less".replace("  ", " ")


def _number(value: float) -> str:
    return (
        f"{value:,.0f}" if float(value).is_integer() or abs(value) >= 100 else f"{value:,.2f}".rstrip("0").rstrip(".")
    )


def _worst(item: Item) -> str:
    where = f"{item.what}, " if item.what else ""
    head = f"ticket {item.ticket}: {where}"
    if item.measured is None or item.limit is None:
        return head.rstrip(", :")
    unit = f" {item.unit}" if item.unit else ""
    return f"{head}{_number(item.measured)}{unit}, {item.boundary} {_number(item.limit)}{unit}"


def _summary(items: Sequence[Item], judged: int, tolerated: int) -> str:
    loads = "1 load" if len(items) == 1 else f"{len(items)} loads"
    text = f"{loads} of {judged} judged"
    margins = [i.margin for i in items if i.margin is not None]
    if margins:
        unit = items[0].unit or ""
        text += f"; off by {_number(max(margins))} {unit} at most".replace("  ", " ")
    if tolerated:
        text += f"; {tolerated} of them inside an enforcement tolerance"
    return text


def _filled(text: str, item: Item) -> str:
    values = {
        "margin": _number(item.margin) if item.margin is not None else "the excess",
        "unit": item.unit or "",
        "limit": _number(item.limit) if item.limit is not None else "the limit",
        "value": _number(item.measured) if item.measured is not None else "the value",
        "tons": f"{(item.margin or 0) / POUNDS_PER_SHORT_TON:.1f}",
    }
    for name, value in values.items():
        text = text.replace("{" + name + "}", value)
    return text
