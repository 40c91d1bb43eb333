"""The vocabulary agrees with itself and with the measures."""

from __future__ import annotations

import ast
import re
from itertools import combinations

import pytest

from auditor.vocabulary import MEASURES, TABLES, TOPICS, VIEWS, ground, haul, measures, site_views, views
from tests.house.tree import measure_functions, parse, public_functions

SNAKE = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")

SUFFIXES: dict[str, str] = {
    "lb": "lb",
    "ft": "ft",
    "in": "in",
    "mile": "miles",
    "mile/h": "mph",
    "h": "h",
    "flashes a minute": "per_min",
    "share": "share",
    "percent": "pct",
    "degree": "deg",
    "degree F": "f",
    "year": "years",
    "acre": "acres",
    "ft2": "sqft",
    "in2": "sqin",
    "yd3": "cuyd",
    "gal": "gal",
    "ft3/s": "cfs",
    "ft2/acre": "ft2_per_ac",
    "lb/acre": "lb_per_ac",
    "trees/acre": "trees_per_ac",
    "seedlings/acre": "seedlings_per_ac",
}
"""Unit -> how a quantity's name ends. Things counted (axles, tiedowns, days ...) are in COUNTED."""

COUNTED = frozenset(
    {"axles", "bunks", "checks", "contacts", "days", "drains", "flags", "groups", "lamps", "loads", "logs", "notices", "pipes", "places", "plots",
     "points", "readings", "reflectors", "sides", "signs",
     "seedlings", "squares", "stacks", "stumps", "things", "tiedowns", "trees", "wetlands", "wrappers"}
)  # fmt: skip
SPELLED_OUT = {"mile": "miles", "h": "hours"}
"""Units that may stand inside a name as a whole word: miles_from_start."""

OWNERS = [*TABLES.values(), *VIEWS.values()]
FIELDS = {f"{o.name}.{f.name}": f for o in OWNERS for f in o.fields}


def names_its_unit(name: str, unit: str | None) -> bool:
    """Whether a quantity's name says what it is counted or measured in."""
    words = name.split("_")
    if unit in COUNTED:
        return words[-1] == "count" or unit in words
    if unit not in SUFFIXES:
        return False
    return f"_{name}".endswith(f"_{SUFFIXES[unit]}") or SPELLED_OUT.get(unit, "-") in words


def duplicates(words: list[str]) -> list[str]:
    return sorted({w for w in words if words.count(w) > 1})


def test_names_are_unique() -> None:
    assert not duplicates([t.name for t in (*haul.TABLES, *ground.TABLES)])
    assert not duplicates([v.name for v in (*views.VIEWS, *site_views.VIEWS)])
    assert not duplicates([m.name for m in measures.MEASURES])
    assert not duplicates(list(TOPICS))
    for owner in OWNERS:
        assert not duplicates([f.name for f in owner.fields]), owner.name
        for f in owner.fields:
            assert not duplicates(list(f.classes)), f"{owner.name}.{f.name}"


def test_names_are_snake_case() -> None:
    names = [*TABLES, *VIEWS, *MEASURES, *TOPICS, *(f.name for o in OWNERS for f in o.fields)]
    assert [n for n in names if not SNAKE.fullmatch(n)] == []


def test_quantities_name_their_unit() -> None:
    """Every number is a quantity; a whole number is one where it has a unit, else it is a place in an order."""
    assert [where for where, f in FIELDS.items() if f.kind == "number" and f.unit is None] == []
    assert [where for where, f in FIELDS.items() if f.unit and f.kind not in {"number", "whole"}] == []
    wrong = [f"{where} is in {f.unit}" for where, f in FIELDS.items() if f.unit and not names_its_unit(f.name, f.unit)]
    assert not wrong, "\n".join(wrong)


def test_measures_name_their_unit() -> None:
    assert [m.name for m in MEASURES.values() if not names_its_unit(m.name, m.unit)] == []


@pytest.mark.parametrize(
    ("name", "unit", "expected"),
    [
        ("gross_weight_lb", "lb", True),
        ("gross_weight", "lb", False),
        ("gross_weight_lb", "ft", False),
        ("margin", "in", False),
        ("miles", "mile", True),
        ("miles_from_start", "mile", True),
        ("axle_count", "axles", True),
        ("red_lamps_rear", "lamps", True),
        ("rear", "lamps", False),
        ("speed_kmh", "km/h", False),
        ("slope_pct", "percent", True),
        ("slope", "percent", False),
        ("least_trees_per_ac", "trees/acre", True),
        ("tree_count", "trees/acre", False),
    ],
)
def test_a_name_without_its_unit_is_seen(name: str, unit: str, expected: bool) -> None:
    assert names_its_unit(name, unit) is expected


def test_class_fields_and_only_they_list_classes() -> None:
    assert [w for w, f in FIELDS.items() if bool(f.classes) != (f.kind in {"class", "classes"})] == []


def test_fields_say_what_they_mean() -> None:
    assert [w for w, f in FIELDS.items() if not f.meaning.strip()] == []


def test_bounds_are_in_order_and_of_numbers() -> None:
    bounded = {w: f for w, f in FIELDS.items() if f.low is not None or f.high is not None}
    assert bounded
    assert [w for w, f in bounded.items() if f.kind not in {"number", "whole"}] == []
    both = {w: (f.low, f.high) for w, f in bounded.items() if f.low is not None and f.high is not None}
    assert [w for w, (low, high) in both.items() if low >= high] == []


def test_one_name_has_one_unit() -> None:
    """The same name in two places is the same quantity."""
    units: dict[str, set[str | None]] = {}
    for owner in OWNERS:
        for f in owner.fields:
            units.setdefault(f.name, set()).add(f.unit)
    assert {n: u for n, u in units.items() if len(u) > 1} == {}


def test_keys_and_alternatives_are_fields() -> None:
    for table in TABLES.values():
        for name in (*table.key, *table.one_of):
            assert table.field(name), f"{table.name}.{name}"
    for view in VIEWS.values():
        for name in view.item:
            assert view.field(name), f"{view.name}.{name}"


def test_references_exist() -> None:
    for table in TABLES.values():
        for f in table.fields:
            if f.refers_to is not None:
                target = TABLES.get(f.refers_to)
                assert target is not None, f"{table.name}.{f.name} refers to {f.refers_to}"
                assert len(target.key) == 1, f"{f.refers_to} has no single key to refer to"


def test_uncertainties_are_columns_beside_their_value() -> None:
    for owner in OWNERS:
        for f in owner.fields:
            if f.uncertainty is not None:
                other = owner.field(f.uncertainty)
                assert other is not None, f"{owner.name}.{f.name}"
                assert other.unit == f.unit


def test_what_a_view_rests_on_exists() -> None:
    wrong = []
    for view in VIEWS.values():
        for f in view.fields:
            for source in f.rests_on:
                table, _, name = source.partition(".")
                if table not in TABLES or TABLES[table].field(name) is None:
                    wrong.append(f"{view.name}.{f.name} rests on {source}")
    assert not wrong, "\n".join(wrong)


def test_record_fields_rest_on_nothing() -> None:
    assert [f"{t.name}.{f.name}" for t in TABLES.values() for f in t.fields if f.rests_on or f.interval] == []


def test_every_measure_has_a_topic() -> None:
    assert [m.name for m in MEASURES.values() if m.topic not in TOPICS] == []


def test_every_measure_is_a_public_function_of_its_topic() -> None:
    functions = measure_functions()
    for measure in MEASURES.values():
        assert [p.stem for p in functions.get(measure.name, [])] == [measure.topic], measure.name


def test_every_measure_takes_what_the_vocabulary_says() -> None:
    functions = measure_functions()
    for measure in MEASURES.values():
        assert measure.name in functions, measure.name
        node = next(n for n in public_functions(parse(functions[measure.name][0])) if n.name == measure.name)
        assert takes(node) == {*measure.inputs, *measure.parameters}, measure.name


def takes(node: ast.FunctionDef | ast.AsyncFunctionDef) -> set[str]:
    return {a.arg for a in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)}


def test_views_of_one_name_with_a_table_share_its_columns() -> None:
    """A word means the same in a table and in a view that carries it: same kind, same classes."""
    for owner, other in combinations(OWNERS, 2):
        if owner.name != other.name:
            continue
        for f in owner.fields:
            twin = other.field(f.name)
            if twin is not None:
                assert (twin.kind, twin.classes) == (f.kind, f.classes), f"{owner.name}.{f.name}"
