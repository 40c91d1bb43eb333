"""Lines and tables of text as files, written whole or not at all."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path

from auditor.report.atomic import write_whole
from auditor.report.sheets import defused
from auditor.vocabulary.problems import Problem, UnusableInput, system_reason


def write_lines_or_table(
    path: Path, lines: Iterable[str], headings: Sequence[str], rows: Iterable[Sequence[str]]
) -> None:
    """Write the lines to a .txt, or the rows under their headings to a .csv, as the extension of `path` says.

    Raises UnusableInput where the extension is another, the folder is missing or the file cannot be written.
    """
    suffix = path.suffix.lower()
    if suffix not in (".csv", ".txt"):
        raise _unusable(path, path.suffix or "no extension", "one of .csv, .txt", "Name the file with one of these.")
    if not path.parent.is_dir():
        raise _unusable(path, "no folder of that name", f"the folder {path.parent}", "Make it or name another.")
    # Spreadsheet programs take a file without a byte order mark for another encoding.
    content, encoding = (_table(headings, rows), "utf-8-sig") if suffix == ".csv" else (_text(lines), "utf-8")
    try:
        write_whole(path, content.encode(encoding))
    except OSError as error:
        raise _unusable(path, system_reason(error), "a file that can be written", "Free it.") from error


def _text(lines: Iterable[str]) -> str:
    return "".join(f"{line}\n" for line in lines)


def _table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(headings)
    writer.writerows([defused(cell) for cell in row] for row in rows)
    return out.getvalue()


def _unusable(path: Path, found: str, expected: str, todo: str) -> UnusableInput:
    return UnusableInput([Problem(str(path), "", "", found, expected, todo)])
