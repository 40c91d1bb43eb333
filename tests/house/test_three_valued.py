"""Missing is not passing: the calls by which polars turns a blank into an answer stay in one helper module.

`.all()` over null is True, sums and horizontal minima skip null. kleene.py holds the three-valued forms; elsewhere in
auditor/rules and auditor/check a raw call needs the comment `# nulls: <reason>` on its line.
"""

from __future__ import annotations

import ast
import re

import pytest

from tests.house.tree import PACKAGE, modules, place

JUDGING = (PACKAGE / "rules", PACKAGE / "check")
HELPERS = [p for p in (room / "kleene.py" for room in JUDGING) if p.is_file()]
HORIZONTAL = frozenset(f"{name}_horizontal" for name in ("all", "any", "min", "max", "sum", "mean"))
BANNED = frozenset({"all", "any", "sum"}) | HORIZONTAL
MARKER = re.compile(r"#\s*nulls:\s*\S+")


def _keeps_null(call: ast.Call) -> bool:
    """Whether a call asks polars itself for Kleene logic."""
    return any(
        k.arg == "ignore_nulls" and isinstance(k.value, ast.Constant) and k.value.value is False for k in call.keywords
    )


def _selects_columns(call: ast.Call) -> bool:
    """`pl.all()` without arguments names every column; it joins nothing."""
    func = call.func
    return (
        isinstance(func, ast.Attribute)
        and func.attr == "all"
        and isinstance(func.value, ast.Name)
        and func.value.id == "pl"
        and not call.args
    )


def _marked(lines: list[str], first: int, last: int) -> bool:
    return any(MARKER.search(line) for line in lines[first - 1 : last])


def raw_calls(source: str) -> list[tuple[int, str]]:
    """Line and name of each banned call, and of each import that would hide one."""
    lines = source.splitlines()
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "polars":
            found += [(node.lineno, alias.name) for alias in node.names if alias.name in BANNED]
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in BANNED):
            continue
        # A chain begins lines above its last call; the name of that call is where `func` ends.
        line = node.func.end_lineno or node.lineno
        if (_keeps_null(node) and node.func.attr in {"all", "any"}) or _selects_columns(node):
            continue
        if not _marked(lines, line, node.end_lineno or line):
            found.append((line, node.func.attr))
    return sorted(found)


def test_no_raw_call_outside_the_helper() -> None:
    wrong = [
        f"{place(path).rsplit(':', 1)[0]}:{line}: {name}; use the forms of kleene.py, or say why nulls cannot pass"
        for path in modules(*JUDGING)
        if path not in HELPERS
        for line, name in raw_calls(path.read_text(encoding="utf-8"))
    ]
    assert not wrong, "\n".join(wrong)


def test_there_is_one_helper() -> None:
    assert len(HELPERS) == 1, "kleene.py is excused by name: one of it, in auditor/rules or auditor/check"


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("pl.col('a').all()", [(1, "all")]),
        ("frame.select(pl.any('a'))", [(1, "any")]),
        ("pl.col('a').any(ignore_nulls=True)", [(1, "any")]),
        ("pl.min_horizontal('a', 'b')", [(1, "min_horizontal")]),
        ("(pl.col('a')\n .sum()\n .over('b'))", [(2, "sum")]),
        ("pl.col('a').sum().all()", [(1, "all"), (1, "sum")]),
        ("from polars import all_horizontal", [(1, "all_horizontal")]),
        ("x.sum()  # nulls:", [(1, "sum")]),
        ("x.sum()  # nulls: counts are never null", []),
        ("x.sum(\n    axis=0,  # nulls: whole numbers\n)", []),
        ("pl.col('a').all(ignore_nulls=False)", []),
        ("frame.select(pl.all())", []),
        ("frame.select(pl.all().sum())", [(1, "sum")]),
        ("all(x for x in y) and sum(z)", []),
        ("kleene.every(x)", []),
    ],
)
def test_raw_calls_are_seen(source: str, expected: list[tuple[int, str]]) -> None:
    assert raw_calls(source) == expected
