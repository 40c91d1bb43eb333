"""Job folders to read: what every one has, and how refusals are collected."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from auditor.record import read_jobs
from auditor.vocabulary.problems import UnusableInput

TRUCKS = "truck,kind\nT1,tractor\nT2,tractor\n"
LEGS = """
  destinations: {rows: [{destination: Mill A, state: US-GA}]}
  legs: {rows: [{destination: Mill A, leg: 1, state: US-GA}]}
"""
HEADINGS = "ticket_number,truck,destination"

Build = Callable[..., Path]
Complain = Callable[..., list[str]]


def messages(base: Path, folders: list[Path]) -> list[str]:
    """Read folders that must be refused; the messages, with `base` taken off the paths."""
    with pytest.raises(UnusableInput) as caught:
        read_jobs(folders)
    return [str(p).replace(f"{base.as_posix()}/", "") for p in caught.value.problems]


def save_workbook(path: Path, sheets: dict[str, list[list[object]]]) -> None:
    """Write rows of cells as an XLSX workbook."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
