"""No measure without a use and a test of its own."""

from __future__ import annotations

import ast

import pytest

from auditor.vocabulary import MEASURES
from tests.house.tree import PACKAGE, TESTS, measure_functions, modules, parse

HOUSE = TESTS / "house"
WAITING = frozenset({"streamside", "crossings", "trails", "zones", "fixes", "network"})
"""Modules of measures that came before the views that use them; each goes from here when nothing in it is idle."""


def names_read(source: ast.AST) -> set[str]:
    """The names a module reads: variables and attributes; a bare import, a string or a comment is no use."""
    found: set[str] = set()
    for node in ast.walk(source):
        if isinstance(node, ast.Name):
            found.add(node.id)
        elif isinstance(node, ast.Attribute):
            found.add(node.attr)
    return found


def names_borrowed(source: ast.Module) -> set[str]:
    """The names that a module of measures takes from another one and reads."""
    taken = {
        alias.name
        for node in source.body
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("auditor.measures")
        for alias in node.names
    }
    return taken & names_read(source)


def idle_measures() -> list[tuple[str, str]]:
    """Each measure that nothing uses, with its module: no check, no limit, no measure of another module."""
    used = {*MEASURES}.union(*(names_read(parse(path)) for path in modules(PACKAGE / "check")))
    used = used.union(*(names_borrowed(parse(path)) for path in modules(PACKAGE / "measures")))
    return [(name, path.stem) for name, paths in measure_functions().items() if name not in used for path in paths]


def test_every_measure_is_used() -> None:
    waiting = [name for name, module in idle_measures() if module not in WAITING]
    assert waiting == [], "neither auditor/check nor the vocabulary nor another measure uses these"


def test_nothing_waits_without_need() -> None:
    assert sorted(WAITING - {module for _, module in idle_measures()}) == [], "all in use: take them out of WAITING"


def test_every_measure_is_tested_by_name() -> None:
    called: set[str] = set()
    for path in modules(TESTS):
        if HOUSE not in path.parents:
            called |= names_read(parse(path))
    assert [name for name in measure_functions() if name not in called] == [], "no test file calls these measures"


def test_every_measure_has_one_home() -> None:
    twice = {name: [p.name for p in paths] for name, paths in measure_functions().items() if len(paths) > 1}
    assert twice == {}


def test_there_are_measures() -> None:
    assert measure_functions(), "auditor/measures holds no public function"


@pytest.mark.parametrize(
    ("source", "word", "expected"),
    [
        ("weight.group_span_ft(x)", "group_span_ft", True),
        ("f = group_span_ft", "group_span_ft", True),
        ("# group_span_ft\n'group_span_ft'", "group_span_ft", False),
        ("from auditor.measures.weight import group_span_ft", "group_span_ft", False),
    ],
)
def test_a_mention_is_no_use(source: str, word: str, expected: bool) -> None:
    assert (word in names_read(ast.parse(source))) is expected


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("from auditor.measures.student import student_quantile\nx = student_quantile(1)", {"student_quantile"}),
        ("from auditor.measures.student import student_quantile", set()),
        ("student_quantile = 1\nx = student_quantile", set()),
    ],
)
def test_a_measure_borrows_what_it_imports_and_reads(source: str, expected: set[str]) -> None:
    assert names_borrowed(ast.parse(source)) == expected
