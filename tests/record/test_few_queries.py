"""Reading a record asks the data frame library little: queries on small tables cost far more than their rows do."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest

from auditor.record import read_jobs
from tests.house.tree import ROOT

JOBS = [
    path.parent for path in sorted((ROOT / "sample_jobs").glob("*/job.yaml")) if "maps:" not in path.read_text("utf-8")
]


@pytest.fixture
def queries(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """One entry for each query run while the test lasts; those of `collect_all` run as one."""
    run: list[str] = []
    # `collect` runs what is lazy, and the methods of a frame run through `_collect_eager` where polars has it.
    for name in ("collect", "_collect_eager"):
        if (ask := getattr(pl.LazyFrame, name, None)) is not None:

            def counted(
                self: pl.LazyFrame, *args: object, ask: object = ask, name: str = name, **more: object
            ) -> object:
                run.append(name)
                return ask(self, *args, **more)  # type: ignore[operator]

            monkeypatch.setattr(pl.LazyFrame, name, counted)
    yield run


def test_the_count_sees_lazy_and_eager_queries(queries: list[str]) -> None:
    frame = pl.DataFrame({"a": [1]})
    frame.select(pl.col("a") + 1)
    frame.lazy().select(pl.col("a") + 1).collect()
    assert len(queries) >= 2


@pytest.mark.parametrize("folder", JOBS, ids=lambda folder: folder.name)
def test_a_record_takes_a_handful_of_queries_for_each_source(folder: Path, queries: list[str]) -> None:
    record = read_jobs([folder])
    sources = sum(len(file.tables) for file in record.evidence)
    assert sources > 10
    # One for reading a file and one or two for checking its table; a column has none of its own.
    assert len(queries) <= 3 * sources + 10, len(queries)
