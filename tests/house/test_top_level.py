"""What lies at the top of the repository, and words that have no place in it."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from tests.house.tree import ROOT

TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "auditor", "rulesets", "tests", "sample_jobs"}
LEFTOVERS = {"build", "dist"}
"""What builds leave behind and git ignores; looked at only where git cannot say."""

# One letter in brackets, so that this list does not find itself.
FORBIDDEN = {
    "unfinished work": r"\b(TOD[O]|FIXM[E]|XX[X]|HAC[K])\b",
    "a path of one machine": r"(?<![\w.<$}])/(wor[k]|hom[e]|User[s])/",
    "a package registry's host": r"pyp[i]\.org|python[h]osted|npmj[s]\.|deb\.debia[n]\.org|crate[s]\.io",
    "how the code came about": r"(?i)\bproto[t]ype|\bshare[d]/|\b(this|previous|last|next) sessio[n]\b|\bissue #?[0-9]+\b",
    "a writing tool": r"(?i)\b(cl[a]ude|ch[a]tgpt|cop[i]lot|language mode[l]|a[i]-generated)\b",
}


def files() -> list[Path]:
    """The repository's files: as git knows them in a checkout, else everything that is not hidden or a leftover."""
    listed = None
    if (ROOT / ".git").exists():
        # A checkout may belong to another user than the one who runs the tests.
        command = [
            "git",
            "-c",
            f"safe.directory={ROOT}",
            "ls-files",
            "-z",
            "--cached",
            "--others",
            "--exclude-standard",
        ]
        listed = subprocess.run(command, cwd=ROOT, capture_output=True, check=False)
    if listed is not None and listed.returncode == 0:
        found = [Path(name) for name in listed.stdout.decode().split("\0") if name]
    else:
        found = [p.relative_to(ROOT) for p in ROOT.rglob("*") if p.is_file()]
        found = [p for p in found if not p.parts[0].startswith(".") and not _is_leftover(p)]
    found = [p for p in found if (ROOT / p).is_file()]
    assert found, "no file found"
    return sorted(found)


def _is_leftover(path: Path) -> bool:
    built = path.parts[0] in LEFTOVERS or path.parts[0].endswith(".egg-info") or "__pycache__" in path.parts
    return built or path.match("sample_jobs/*/report.*")


def complaints(text: str) -> list[tuple[int, str]]:
    """Line and kind of each forbidden word."""
    return [
        (number, kind)
        for number, line in enumerate(text.splitlines(), start=1)
        for kind, form in FORBIDDEN.items()
        if re.search(form, line)
    ]


def test_the_top_holds_nothing_else() -> None:
    tops = {p.parts[0] for p in files()}
    assert {t for t in tops if t not in TOP and not t.startswith(".")} == set()


def test_the_top_is_complete() -> None:
    assert {t for t in TOP if not (ROOT / t).exists()} == set()


def test_no_forbidden_word() -> None:
    wrong = []
    for path in files():
        data = (ROOT / path).read_bytes()
        if b"\0" in data:
            continue  # fonts, workbooks, pictures
        wrong += [f"{path}:{number}: {kind}" for number, kind in complaints(data.decode("utf-8", errors="replace"))]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("x = 1  # TO" + "DO later", [(1, "unfinished work")]),
        ("\nsee /wo" + "rk/main", [(2, "a path of one machine")]),
        ("the proto" + "type did", [(1, "how the code came about")]),
        ("pip install -i py" + "pi.org", [(1, "a package registry's host")]),
        ("written by Cl" + "aude", [(1, "a writing tool")]),
        ("the 2023 regular session; work/day; shared axle; the issue of a permit", []),
        ("a permit issued in 2024; method", []),
    ],
)
def test_forbidden_words_are_seen(text: str, expected: list[tuple[int, str]]) -> None:
    assert complaints(text) == expected
