"""Implementation of practices."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
import pytest

from auditor.measures.monitoring import (
    implementation,
    implementation_margin_pct,
    significant_risk,
    sites_to_sample,
)

ANSWER = {"category": pl.String, "answer": pl.String, "significant_risk": pl.Boolean}


def rows(*answers: tuple[Any, ...]) -> pl.DataFrame:
    return pl.DataFrame(answers, schema=ANSWER, orient="row")


MIXED = rows(
    *[("roads", "yes", False)] * 9, ("roads", "no", True), ("roads", "not_applicable", None),
    ("zones", "yes", False), ("zones", "no", False),
    ("chemicals", "not_applicable", None),
)  # fmt: skip


def test_by_category() -> None:
    # roads 9 / 10, zones 1 / 2; chemicals do not apply
    found = implementation(MIXED, ["category"])
    assert found.rows() == [
        ("roads", 9, 1, 0, 1, 90, 90), ("zones", 1, 1, 0, 0, 50, 50), ("chemicals", 0, 0, 0, 1, None, None),
    ]  # fmt: skip


def test_pooled_is_no_mean_of_means() -> None:
    # 10 / 12 = 83.33, not (90 + 50) / 2 = 70
    found = implementation(MIXED, []).row(0, named=True)
    assert found["implementation_pct__lo"] == found["implementation_pct__hi"] == pytest.approx(83.333, abs=0.001)


def test_open_answers_widen_the_share() -> None:
    found = implementation(
        rows(("r", "yes", None), ("r", "no", None), ("r", None, None), ("r", "could_not_tell", None)), []
    )
    # 1 of 4 to 3 of 4
    assert found.row(0)[2:] == (2, 0, 25, 75)


def test_risks() -> None:
    assert significant_risk(MIXED, ["category"]).rows() == [("roads", 1, 1, 10, 10), ("zones", 0, 0, 0, 0)]
    assert significant_risk(rows(("r", "no", None), ("r", "yes", False)), []).row(0) == (0, 1, 0, 50)
    assert significant_risk(rows(("r", "not_applicable", True)), []).row(0) == (0, 0, None, None)


def test_margin() -> None:
    # sqrt(4 x 90 x 10 / 144) = 5
    assert implementation_margin_pct(90.0, 144) == 5
    assert implementation_margin_pct([100.0, 0.0], 10).tolist() == [0, 0]
    assert np.isnan(implementation_margin_pct([101.0, np.nan, 50.0], [10, 10, 0])).all()


@pytest.mark.parametrize("wrong", [(0, 5), (100, 5), (50, 0)])
def test_samples_out_of_range(wrong: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="lies between"):
        sites_to_sample(*wrong)


def test_a_small_population_needs_fewer() -> None:
    # 4 x 90 x 10 / 25 = 144; of 144: 144 / (1 + 143 / 144) = 72.25
    assert sites_to_sample(90, 5) == 144
    assert sites_to_sample(90, 5, population=144) == 73
    with pytest.raises(ValueError, match="population"):
        sites_to_sample(90, 5, population=0)
