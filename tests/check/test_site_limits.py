"""Limits of the harvest site that a measure computes."""

from __future__ import annotations

import polars as pl

from auditor.check.steps import COMPUTATIONS
from auditor.vocabulary import MEASURES


def test_every_measure_that_a_limit_may_name_is_computed() -> None:
    assert set(COMPUTATIONS) == set(MEASURES)


def test_spacing_of_cross_drains() -> None:
    # 400 / 10 + 100
    grades = {"grade_pct": pl.Series([10.0, None, 0.0])}
    found = COMPUTATIONS["cross_drain_spacing_ft"](grades, {"over_grade_ft": 400, "plus_ft": 100})
    assert found.to_list() == [140, None, None]


def test_talbots_opening() -> None:
    # 0.5 x 16^0.75 = 4
    columns = {"drainage_area_acres": pl.Series([16, 16, None]), "runoff_share": pl.Series([0.5, None, 0.5])}
    assert COMPUTATIONS["talbot_opening_sqft"](columns, {}).to_list() == [4, None, None]
