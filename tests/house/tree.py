"""The project's own source files, as the house tests read them."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "auditor"
TESTS = ROOT / "tests"


def modules(*folders: Path) -> list[Path]:
    """Every Python file under the folders, sorted; at least one, so that no test passes on an empty list."""
    found = sorted(p for folder in folders for p in folder.rglob("*.py") if "__pycache__" not in p.parts)
    assert found, f"no Python file under {[str(f) for f in folders]}"
    return found


def parse(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def place(path: Path, node: ast.AST | None = None) -> str:
    """Where something is, as a reader would look it up: auditor/check/x.py:12."""
    return f"{path.relative_to(ROOT)}:{getattr(node, 'lineno', 1)}"


def public_functions(tree: ast.Module) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    """The functions of a module that others may call: at its top level and named without an underscore."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and not node.name.startswith("_"):
            yield node


def measure_functions() -> dict[str, list[Path]]:
    """Each public function of auditor/measures by name, with the modules that define it."""
    found: dict[str, list[Path]] = {}
    for path in modules(PACKAGE / "measures"):
        for node in public_functions(parse(path)):
            found.setdefault(node.name, []).append(path)
    return found
