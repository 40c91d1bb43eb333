"""The built wheel carries everything the installed program reads."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.house.tree import PACKAGE, ROOT

pytestmark = pytest.mark.slow


def carried(folder: Path) -> set[str]:
    """The files under a folder that belong to the project, relative to the folder."""
    return {
        p.relative_to(folder).as_posix()
        for p in folder.rglob("*")
        if p.is_file() and "__pycache__" not in p.parts and not p.name.startswith(".")
    }


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(out)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    built = list(out.glob("*.whl"))
    assert len(built) == 1
    return built[0]


@pytest.fixture(scope="module")
def contents(wheel: Path) -> set[str]:
    with zipfile.ZipFile(wheel) as archive:
        return {name for name in archive.namelist() if not name.endswith("/")}


def test_rule_files_lie_inside_the_package(contents: set[str]) -> None:
    rule_files = carried(ROOT / "rulesets")
    assert any(name.endswith(".yaml") for name in rule_files)
    inside = {name.removeprefix("auditor/rulesets/") for name in contents if name.startswith("auditor/rulesets/")}
    assert inside == rule_files


def test_the_package_is_whole(contents: set[str]) -> None:
    """Modules, templates, styles, fonts and the typing marker alike."""
    assert {f"auditor/{name}" for name in carried(PACKAGE)} - contents == set()
    assert "auditor/py.typed" in contents


def test_nothing_else_is_installed(contents: set[str]) -> None:
    assert {name.split("/")[0] for name in contents if ".dist-info/" not in name} == {"auditor"}


def test_the_package_starts_from_the_wheel(wheel: Path, tmp_path: Path) -> None:
    """Imported from the unpacked wheel alone, away from the repository."""
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(tmp_path)
    # The first place on sys.path beats an editable install of the repository.
    code = f"import sys; sys.path.insert(0, {str(tmp_path)!r}); import auditor.cli; print(auditor.cli.__file__)"
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert Path(done.stdout.strip()) == tmp_path / "auditor" / "cli.py"
