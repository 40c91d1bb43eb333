"""Builds invented job folders and reads back what the reader says of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.record.jobs import LEGS, TRUCKS, Build, Complain, messages, save_workbook
from tests.record.map_jobs import BuildMaps, ComplainMaps


@pytest.fixture
def build(tmp_path: Path) -> Build:
    """A job folder with one mill, two trucks and the tables given; values are CSV text, bytes or workbook rows."""

    def make(tables: str = "", top: str = "", name: str = "pine", code: str = "PINE-14", **files: object) -> Path:
        folder = tmp_path / name
        folder.mkdir()
        text = f"job: {code}\nstate: US-GA\n{top}tables:\n  trucks: trucks.csv{LEGS}{tables}"
        (folder / "job.yaml").write_text(text, encoding="utf-8")
        (folder / "trucks.csv").write_text(TRUCKS, encoding="utf-8")
        for stem, content in files.items():
            if isinstance(content, str):
                (folder / f"{stem}.csv").write_text(content, encoding="utf-8")
            elif isinstance(content, bytes):
                (folder / f"{stem}.csv").write_bytes(content)
            elif isinstance(content, list):
                save_workbook(folder / f"{stem}.xlsx", {"Tickets": content})
        return folder

    return make


@pytest.fixture
def complaints(tmp_path: Path, build: Build) -> Complain:
    """The messages for a job that cannot be used, with paths from the job folder's parent."""

    def collect(*args: str, **files: object) -> list[str]:
        return messages(tmp_path, [build(*args, **files)])

    return collect


@pytest.fixture
def maps(tmp_path: Path) -> BuildMaps:
    """A job folder with the given entries of `maps`; the map files are written by the test."""

    def make(*entries: str, name: str = "creek") -> Path:
        folder = tmp_path / name
        folder.mkdir(exist_ok=True)
        listed = "".join(f"  - {entry}\n" for entry in entries)
        (folder / "job.yaml").write_text(f"job: CREEK\nstate: US-NC\nmaps:\n{listed}", encoding="utf-8")
        return folder

    return make


@pytest.fixture
def map_complaints(tmp_path: Path, maps: BuildMaps) -> ComplainMaps:
    """The messages for maps that cannot be used, with paths from the job folder's parent."""

    def collect(*entries: str) -> list[str]:
        return messages(tmp_path, [maps(*entries)])

    return collect
