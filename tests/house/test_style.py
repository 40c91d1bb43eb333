"""Sizes, documentation and annotations that the house holds itself to."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator

import pytest

from tests.house.tree import PACKAGE, TESTS, modules, parse, place, public_functions

MODULE_LINES = 600
FUNCTION_LINES = 60

Function = ast.FunctionDef | ast.AsyncFunctionDef

# "in" alone is a preposition; as a unit it shows as "inches" or at the end of a name such as `spread_in`.
UNIT = re.compile(
    r"\b(lb|pounds?|ft|feet|foot|inch(es)?|miles?|mph|h|hours?|minutes?|days?|psi|degrees?|acres?|dBA|percent|shares?"
    r"|counts?|whole numbers?|[Hh]ow many|[Nn]umber of|Boolean|yes or no|no unit|without unit)\b|_(lb|ft|in|mph|h)\b"
)
REFERENCE = re.compile(
    r"\bC\.?F\.?R\b|U\.S\.C|\bCode\b|\bStat(ute)?s?\b|\bReg(s|ulations?)\b|§|\bISO\b|\bJCGM\b|\bASTM\b|\bNIST\b|\bNOAA\b"
    r"|\bISBN\b|\bdoi\b|\bcommon practice\b|\bfrom memory\b|\bby definition\b|\barithmetic\b",
    re.IGNORECASE,
)


def functions(tree: ast.AST) -> Iterator[Function]:
    return (n for n in ast.walk(tree) if isinstance(n, Function))


def line_count(node: Function) -> int:
    """Lines of a function from `def` to its end; decorators, as data, do not count."""
    return (node.end_lineno or node.lineno) - node.lineno + 1


def public(tree: ast.Module) -> Iterator[tuple[Function, bool]]:
    """The public functions of a module and the public methods of its public classes; True marks a method."""
    yield from ((node, False) for node in public_functions(tree))
    for owner in tree.body:
        if isinstance(owner, ast.ClassDef) and not owner.name.startswith("_"):
            yield from (
                (n, True)
                for n in owner.body
                if isinstance(n, Function) and (not n.name.startswith("_") or n.name.startswith("__"))
            )


def unannotated(node: Function, method: bool) -> list[str]:
    """The parameters of a function without a type, and "return" when its result has none."""
    static = any(isinstance(d, ast.Name) and d.id == "staticmethod" for d in node.decorator_list)
    named = [*node.args.posonlyargs, *node.args.args]
    named = named[1:] if method and not static else named
    extra = [a for a in (node.args.vararg, node.args.kwarg) if a is not None]
    bare = [a.arg for a in [*named, *node.args.kwonlyargs, *extra] if a.annotation is None]
    return bare + (["return"] if node.returns is None else [])


def undocumented_reasons(node: Function) -> list[str]:
    """What the docstring of a measure does not name."""
    text = ast.get_docstring(node) or ""
    return [what for what, form in (("a unit", UNIT), ("a reference", REFERENCE)) if not form.search(text)]


def test_modules_are_short() -> None:
    lengths = {p: len(p.read_text(encoding="utf-8").splitlines()) for p in modules(PACKAGE, TESTS)}
    long = [f"{place(p)}: {n} lines, at most {MODULE_LINES}" for p, n in lengths.items() if n > MODULE_LINES]
    assert not long, "\n".join(long)


def test_functions_are_short() -> None:
    long = [
        f"{place(path, node)}: {node.name} has {line_count(node)} lines, at most {FUNCTION_LINES}"
        for path in modules(PACKAGE, TESTS)
        for node in functions(parse(path))
        if line_count(node) > FUNCTION_LINES
    ]
    assert not long, "\n".join(long)


def test_public_functions_are_documented() -> None:
    bare = [
        f"{place(path, node)}: {node.name} has no docstring"
        for path in modules(PACKAGE)
        for node, _ in public(parse(path))
        if not node.name.startswith("__") and not ast.get_docstring(node)
    ]
    assert not bare, "\n".join(bare)


def test_public_functions_are_annotated() -> None:
    bare = [
        f"{place(path, node)}: {node.name} lacks the type of {', '.join(missing)}"
        for path in modules(PACKAGE)
        for node, method in public(parse(path))
        if (missing := unannotated(node, method))
    ]
    assert not bare, "\n".join(bare)


def test_modules_are_documented() -> None:
    bare = [place(path) for path in modules(PACKAGE) if not ast.get_docstring(parse(path))]
    assert not bare, "no docstring: " + ", ".join(bare)


def test_measures_name_unit_and_reference() -> None:
    poor = [
        f"{place(path, node)}: the docstring of {node.name} names no {' and no '.join(w.split()[1] for w in missing)}"
        for path in modules(PACKAGE / "measures")
        for node in public_functions(parse(path))
        if (missing := undocumented_reasons(node))
    ]
    assert not poor, "\n".join(poor)


def _first(source: str) -> Function:
    return next(functions(ast.parse(source)))


@pytest.mark.parametrize(
    ("source", "method", "expected"),
    [
        ("def f(a, *b, c=1, **d): ...", False, ["a", "c", "b", "d", "return"]),
        ("def f(a: int) -> None: ...", False, []),
        ("def f(self, a: int) -> None: ...", True, []),
        ("def f(self) -> None: ...", False, ["self"]),
        ("@staticmethod\ndef f(a) -> None: ...", True, ["a"]),
    ],
)
def test_missing_types_are_seen(source: str, method: bool, expected: list[str]) -> None:
    assert unannotated(_first(source), method) == expected


@pytest.mark.parametrize(
    ("docstring", "expected"),
    [
        ("Weight in lb. Source: 23 U.S.C. 127(a)(2).", []),
        ("The spread, in short.", ["a unit", "a reference"]),
        ("Number of tiedowns, a count; 49 CFR 393.110.", []),
        ("Distance in ft.", ["a reference"]),
        ("`spread_in` of a group; 23 CFR 658.5.", []),
        ("See O.C.G.A., the Code of Georgia.", ["a unit"]),
    ],
)
def test_poor_docstrings_are_seen(docstring: str, expected: list[str]) -> None:
    assert undocumented_reasons(_first(f'def f():\n    """{docstring}"""')) == expected


def test_length_counts_from_def_to_end() -> None:
    # One line of decorator does not count; def, two statements: 3 lines.
    assert line_count(_first("@x\ndef f():\n    a = 1\n    return a\n")) == 3
