"""Makes a new job folder: all of its files or none."""

from __future__ import annotations

import secrets
import shutil
from collections.abc import Mapping
from pathlib import Path

from auditor.vocabulary.problems import Problem, UnusableInput, system_reason


def make_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write the files into a folder that is new or empty; the last file takes its name last.

    They are written beside it first, so that a failure leaves nothing behind. Raises UnusableInput for a folder that
    holds anything, and where nothing can be written.
    """
    target = folder.resolve()
    if target.exists() and not target.is_dir():
        raise _refused(folder, "a file of that name", "a new or empty folder", "Name another folder.")
    staged = target.with_name(f".{secrets.token_hex(8)}.part")
    try:
        if target.is_dir() and next(target.iterdir(), None) is not None:
            raise _refused(folder, "a folder that is not empty", "a new or empty folder", "Name another folder.")
        target.parent.mkdir(parents=True, exist_ok=True)
        staged.mkdir()
        for name, content in files.items():
            (staged / name).write_bytes(content)
        if target.is_dir():
            _move_into(staged, target, list(files))
        else:
            staged.rename(target)
    except OSError as error:
        found = system_reason(error)
        raise _refused(folder, found, "a folder that can be written", "Free it or name another.") from error
    finally:
        shutil.rmtree(staged, ignore_errors=True)


def _move_into(staged: Path, target: Path, names: list[str]) -> None:
    moved: list[Path] = []
    try:
        for name in names:
            (staged / name).rename(target / name)
            moved.append(target / name)
    except OSError:
        for path in moved:
            path.unlink(missing_ok=True)
        raise


def _refused(folder: Path, found: str, expected: str, todo: str) -> UnusableInput:
    return UnusableInput([Problem(str(folder), "", "", found, expected, todo)])
