"""What `auditor check` loads: a job of loads waits for nothing that it has no use for."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

import auditor
from tests.house.tree import ROOT

SLOW = (
    "cryptography", "jinja2", "matplotlib", "openpyxl", "pandas", "pyarrow", "pyogrio", "pyproj",
    "python_calamine", "rasterio", "rustworkx", "scipy", "shapely", "weasyprint",
)  # fmt: skip
OF_OTHER_COMMANDS = (
    "auditor.check.card", "auditor.check.explain", "auditor.check.season_figures",
    "auditor.record.maps", "auditor.record.template", "auditor.report.card_text", "auditor.report.pages",
    "auditor.report.season_text", "auditor.rules.checking", "auditor.rules.doubts",
)  # fmt: skip
RUN = """
import sys
from auditor.cli import main
status = main(sys.argv[1:])
print("\\n" + " ".join(sys.modules))
sys.exit(status)
"""


def loaded_by(*arguments: str) -> set[str]:
    """The modules in memory at the end of a command that ran to its end."""
    done = subprocess.run(
        [sys.executable, "-c", RUN, *arguments], cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode in (0, 1, 3), done.stderr
    return set(done.stdout.splitlines()[-1].split())


def test_a_haul_of_csv_files_is_judged_without_what_other_jobs_and_commands_need() -> None:
    loaded = loaded_by("check", "sample_jobs/piedmont_final_cut")
    assert {"polars", "auditor.check.tally", "auditor.report.terminal"} <= loaded
    assert sorted(loaded & {*SLOW, *OF_OTHER_COMMANDS}) == []


def test_the_look_at_loaded_modules_finds_one_that_is_loaded() -> None:
    assert "python_calamine" in loaded_by("check", "sample_jobs/ridge_thinning")


@pytest.mark.parametrize("name", auditor.__all__)
def test_every_name_of_the_library_is_there(name: str) -> None:
    assert getattr(auditor, name) is not None


def test_a_name_loaded_on_demand_is_the_one_of_its_module_and_is_public() -> None:
    for module, names in auditor._ON_DEMAND.items():
        for name in names:
            assert name in auditor.__all__
            assert getattr(auditor, name) is getattr(sys.modules[module], name)


def test_a_name_that_is_not_there_is_refused() -> None:
    with pytest.raises(AttributeError, match="no_such_name"):
        auditor.no_such_name  # noqa: B018
