"""Who may import whom: the rooms of the house and the arrows between them."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from tests.house.tree import PACKAGE, ROOT, modules, place

ROOMS = ("vocabulary", "record", "rules", "measures", "check", "report")
MODULES = ("audit", "each", "verify", "signing", "cli_each", "cli_rules", "cli_tools", "cli_trust")
"""Modules beside the rooms that stand for rooms of their own."""
MODELS = "models"
"""The modules of `report` that only say what a report, a card ... holds: data that `check` fills."""
SURFACE = "auditor"
"""The name `auditor` itself: the public library surface in auditor/__init__.py."""

MAY_IMPORT: dict[str, frozenset[str]] = {
    "vocabulary": frozenset(),
    "record": frozenset({"vocabulary"}),
    "rules": frozenset({"vocabulary"}),
    "measures": frozenset({"vocabulary"}),
    "check": frozenset({"vocabulary", "record", "rules", "measures", MODELS}),
    "report": frozenset({"vocabulary", MODELS}),
    MODELS: frozenset({"vocabulary"}),
    "audit": frozenset({*ROOMS, MODELS}),
    "each": frozenset({*ROOMS, MODELS, "audit"}),
    "signing": frozenset({"vocabulary"}),
    "verify": frozenset({*ROOMS, MODELS, "audit", "signing"}),
    SURFACE: frozenset({*ROOMS, MODELS, "audit", "each", "signing", "verify"}),
    "cli_trust": frozenset({SURFACE, "vocabulary"}),
    "cli_each": frozenset({SURFACE, "vocabulary", "cli_trust"}),
    "cli_rules": frozenset({SURFACE, "vocabulary"}),
    "cli_tools": frozenset({SURFACE, "vocabulary"}),
    "cli": frozenset({SURFACE, "vocabulary", "cli_each", "cli_rules", "cli_tools", "cli_trust"}),
    "__main__": frozenset({SURFACE, "vocabulary", "cli"}),
}


def room_of(path: Path) -> str:
    """The room a module of the package lives in."""
    first, *rest = path.relative_to(PACKAGE).parts
    if first == "report" and rest[-1].removesuffix(".py").endswith("model"):
        return MODELS
    return SURFACE if first == "__init__.py" else first.removesuffix(".py")


def targets(node: ast.AST, package: str) -> list[str]:
    """The dotted names a statement imports; `package` is the package of its module, for relative imports."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom):
        base = node.module or ""
        if node.level:
            above = package.split(".")[: len(package.split(".")) - node.level + 1]
            base = ".".join([*above, *([base] if base else [])])
        # `from auditor import report` reaches the room report, not a name of the surface.
        return [f"{base}.{alias.name}" for alias in node.names] if base == "auditor" else [base]
    if isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
        called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if called in {"import_module", "__import__"}:
            return [str(node.args[0].value)]
    return []


def reached(dotted: str) -> str | None:
    """The room that a dotted name lies in; None for names that are not the project's."""
    parts = dotted.split(".")
    if parts[0] != "auditor":
        return None
    if parts[1:2] == ["report"] and parts[2:] and parts[2].endswith("model"):
        return MODELS
    return parts[1] if len(parts) > 1 and parts[1] in {*ROOMS, *MODULES, "cli", "__main__"} else SURFACE


def forbidden(source: str, room: str, package: str) -> list[tuple[ast.AST, str]]:
    """The imports of a module in `room` that reach where it may not."""
    allowed = MAY_IMPORT[room] | {room}
    return [
        (node, target)
        for node in ast.walk(ast.parse(source))
        for dotted in targets(node, package)
        if (target := reached(dotted)) is not None and target not in allowed
    ]


def test_no_forbidden_arrow() -> None:
    wrong = []
    for path in modules(PACKAGE):
        package = ".".join(path.relative_to(ROOT).parts[:-1])
        room = room_of(path)
        assert room in MAY_IMPORT, f"{place(path)}: a new room; say in MAY_IMPORT what it may import"
        wrong += [
            f"{place(path, node)}: {room} imports {target}"
            for node, target in forbidden(path.read_text(encoding="utf-8"), room, package)
        ]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    ("source", "room", "package", "expected"),
    [
        ("import auditor.check.views", "measures", "auditor.measures", ["check"]),
        ("from auditor.record import reader", "rules", "auditor.rules", ["record"]),
        ("from auditor import report", "check", "auditor.check", ["report"]),
        ("from auditor import check_job", "check", "auditor.check", [SURFACE]),
        ("import auditor", "record", "auditor.record", [SURFACE]),
        ("from ..report import model", "check", "auditor.check", ["report"]),
        ("from auditor.report.model import Item", "check", "auditor.check", []),
        ("from auditor.report.model import Item", "rules", "auditor.rules", [MODELS]),
        ("from ...report import model", "check", "auditor.check.views", ["report"]),
        ("from .. import report", "check", "auditor.check", ["report"]),
        ("def f():\n    import auditor.rules", "measures", "auditor.measures", ["rules"]),
        ("if TYPE_CHECKING:\n    from auditor.check import x", "report", "auditor.report", ["check"]),
        ("importlib.import_module('auditor.check')", "report", "auditor.report", ["check"]),
        ("from auditor.check import x", "cli", "auditor", ["check"]),
        ("from auditor.verify import x", "cli", "auditor", ["verify"]),
        ("from auditor.audit import x", "check", "auditor.check", ["audit"]),
        ("from auditor.vocabulary import TABLES\nfrom .weight import y", "measures", "auditor.measures", []),
        ("from . import tree\nfrom ..measures import weight", "check", "auditor.check", []),
        ("from auditor import check_job\nimport auditor", "cli", "auditor", []),
        ("import polars as pl\nimport auditorium", "vocabulary", "auditor.vocabulary", []),
    ],
)
def test_the_walk_sees_every_way_to_import(source: str, room: str, package: str, expected: list[str]) -> None:
    assert [target for _, target in forbidden(source, room, package)] == expected


def test_the_guide_shows_the_same_table() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    shown = {
        cells[1].strip(): frozenset(re.findall(r"`([a-z_]+)`", cells[3]))
        for line in guide.splitlines()
        if line.startswith("| `auditor/") and len(cells := line.split("|")) == 5
    }
    paths = {SURFACE: "`auditor/__init__.py`"} | {room: f"`auditor/{room}/`" for room in ROOMS}
    paths[MODELS] = "`auditor/report/*model.py`"
    paths |= {module: f"`auditor/{module}.py`" for module in (*MODULES, "cli", "__main__")}
    assert shown == {paths[room]: allowed for room, allowed in MAY_IMPORT.items()}
