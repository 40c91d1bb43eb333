"""Pipes, angles and days of crossings."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

import numpy as np
import polars as pl
import pytest

from auditor.measures import crossings
from auditor.measures.crossings import pipe_openings, table_diameter_in, talbot_opening_sqft


def one(expression: pl.Expr, **columns: Any) -> Any:
    kinds = {n: pl.String if isinstance(v, str) else pl.Float64 for n, v in columns.items()}
    return (
        pl.DataFrame({n: pl.Series([v], dtype=kinds[n]) for n, v in columns.items()})
        .select(expression.alias("x"))
        .item()
    )


def both(ends: dict[str, pl.Expr], frame: pl.DataFrame) -> tuple[Any, ...]:
    return frame.select(**ends).row(0)


def test_area_and_diameter_are_inverse() -> None:
    # A pipe of 24 in is a circle of 1 ft radius: pi ft2
    assert one(crossings.pipe_area_sqft(pl.col("d")), d=24.0) == pytest.approx(math.pi)
    assert one(crossings.opening_diameter_in(pl.col("a")), a=math.pi) == pytest.approx(24)
    assert one(crossings.pipe_area_sqft(pl.col("d")), d=None) is None


def openings(*pipes: tuple[int | None, float | None]) -> dict[str, Any]:
    rows = pl.DataFrame(
        [("J", "X", *p) for p in pipes],
        schema={"job": pl.String, "crossing": pl.String, "pipe_count": pl.Int64, "diameter_in": pl.Float64}, orient="row",
    )  # fmt: skip
    return pipe_openings(rows).row(0, named=True)


def test_pipes_add_up() -> None:
    found = openings((4, 24.0))
    assert found["pipe_opening_sqft__lo"] == found["pipe_opening_sqft__hi"] == pytest.approx(4 * math.pi)
    # Four times the area is twice the diameter; four times the flow is 24 x 4^(3/8) = 40.36 in
    assert found["equal_area_in__hi"] == pytest.approx(48)
    assert found["equal_flow_in__hi"] == pytest.approx(24 * 4**0.375)
    assert openings((1, 36.0))["equal_flow_in__lo"] == pytest.approx(36)


@pytest.mark.parametrize("blank", [(None, 24.0), (1, None)])
def test_a_pipe_not_measured_leaves_no_upper_end(blank: Any) -> None:
    found = openings((1, 24.0), blank)
    assert found["pipe_opening_sqft__lo"] == pytest.approx(math.pi)
    assert found["pipe_opening_sqft__hi"] is None
    assert found["equal_flow_in__hi"] is None


def test_talbot() -> None:
    # 16^0.75 = 8; 10,000^0.75 = 1,000
    assert talbot_opening_sqft([16.0, 10_000.0], 0.5).tolist() == [4, 500]
    assert talbot_opening_sqft(16.0, 1.0, rain_in_per_h=2.5) == 5  # 8 x 2.5 / 4
    assert np.isnan(talbot_opening_sqft([-1.0, 16.0, 16.0, np.nan], [1.0, 1.1, np.nan, 1.0])).all()
    with pytest.raises(ValueError, match="rain"):
        talbot_opening_sqft(16.0, 1.0, rain_in_per_h=0)


TABLES = {"low": {10: 12, 50: 18, 100: 24}, "high": {10: 30, 50: 48, 100: 54}}


def sizes(acres: float | None, region: str | None, between: Any = "higher") -> tuple[Any, ...]:
    regions = pl.Series([region], dtype=pl.String)
    return table_diameter_in(pl.Series([acres], dtype=pl.Float64), TABLES, regions, between=between).row(0)


@pytest.mark.parametrize(
    ("acres", "region", "between", "expected"),
    [
        (50.0, "low", "higher", (18, 18)),
        (50.1, "low", "higher", (24, 24)),
        (49.9, "low", "higher", (18, 18)),
        (49.9, "low", "lower", (12, 12)),
        (75.0, "low", "interpolate", (21, 21)),  # half way between 18 and 24
        (50.0, None, "higher", (18, 48)),  # any of the regions
        (9.9, "low", "higher", (None, None)),
        (100.1, "low", "higher", (None, None)),
        (None, "low", "higher", (None, None)),
        (50.0, "elsewhere", "higher", (None, None)),
    ],
)
def test_a_culvert_table(acres: Any, region: Any, between: str, expected: Any) -> None:
    assert sizes(acres, region, between) == expected


def test_wrong_tables_are_refused() -> None:
    with pytest.raises(ValueError, match="between"):
        sizes(50.0, "low", "nearest")
    with pytest.raises(ValueError, match="table"):
        table_diameter_in(pl.Series([1.0]), {}, pl.Series(["x"]), between="higher")


@pytest.mark.parametrize(("d", "cover"), [(18.0, 1), (24.0, 1), (30.0, 1.25), (None, None)])
def test_cover(d: float | None, cover: float | None) -> None:
    # half of 30 in is 15 in
    assert one(crossings.cover_required_ft(pl.col("d"), least_ft=1, diameter_share=0.5), d=d) == cover


@pytest.mark.parametrize(
    ("angle", "start", "expected"),
    [(90, "line", 90), (60, "line", 60), (120, "line", 60), (0, "square", 90), (30, "square", 60), (150, "square", 60),
     (181, "line", None), (-1, "square", None), (60, "other", None), (None, "line", None), (60, None, None)],
)  # fmt: skip
def test_angles(angle: float | None, start: str | None, expected: float | None) -> None:
    frame = pl.DataFrame({"a": pl.Series([angle], dtype=pl.Float64), "f": pl.Series([start], dtype=pl.String)})
    assert frame.select(crossings.angle_to_line_deg(pl.col("a"), pl.col("f"), "line")).item() == expected


@pytest.mark.parametrize(
    ("installed", "removed", "there", "expected"),
    [
        (date(2026, 3, 1), date(2026, 3, 31), None, (30, 30)),
        (date(2026, 3, 1), None, True, (61, None)),  # 30 days of March, 30 of April and 1 May
        (date(2026, 3, 1), None, None, (None, None)),
        (date(2026, 3, 1), None, False, (None, None)),
        (None, date(2026, 3, 31), False, (None, None)),
        (date(2026, 4, 1), date(2026, 3, 31), False, (None, None)),
    ],
)
def test_days_in_place(installed: Any, removed: Any, there: Any, expected: Any) -> None:
    frame = pl.DataFrame(
        {"i": [installed], "r": [removed], "p": [there], "o": [date(2026, 5, 1)]},
        schema={"i": pl.Date, "r": pl.Date, "p": pl.Boolean, "o": pl.Date},
    )
    assert both(crossings.days_in_place(*[pl.col(c) for c in "irpo"]), frame) == expected


@pytest.mark.parametrize(
    ("length", "drain", "drained", "expected"),
    [
        (80.0, 50.0, True, (50, 50)),
        (80.0, 90.0, True, (80, 80)),
        (80.0, 50.0, False, (80, 80)),
        (80.0, 50.0, None, (50, 80)),
        (80.0, None, True, (0, 80)),
        (None, 50.0, True, (0, 50)),
        (None, 50.0, False, (0, None)),
        (None, None, None, (0, None)),
    ],
)
def test_approaches(length: Any, drain: Any, drained: Any, expected: Any) -> None:
    frame = pl.DataFrame(
        {"l": [length], "n": [drain], "d": [drained]}, schema={"l": pl.Float64, "n": pl.Float64, "d": pl.Boolean}
    )
    assert both(crossings.approach_length_ft(*[pl.col(c) for c in "lnd"]), frame) == expected


def test_cross_section_rule_is_twice_the_channel() -> None:
    # (8 + 4) x 2 = 24; the trapezoid itself has 12
    opening = crossings.channel_opening_sqft(pl.col("t"), pl.col("b"), pl.col("d"))
    assert one(opening, t=8.0, b=4.0, d=2.0) == 24
    assert one(opening, t=8.0, b=None, d=2.0) is None


@pytest.mark.parametrize(
    ("beyond", "length", "fill", "expected"),
    [
        (1.0, None, None, (1, 1)),
        (None, 20.0, 16.0, (None, 2)),
        (None, 20.0, None, (None, None)),
        (-0.5, 20.0, 16.0, (-0.5, -0.5)),
    ],
)
def test_pipe_ends(beyond: Any, length: Any, fill: Any, expected: Any) -> None:
    frame = pl.DataFrame({"b": [beyond], "l": [length], "f": [fill]}, schema=dict.fromkeys("blf", pl.Float64))
    assert both(crossings.pipe_beyond_fill_ft(*[pl.col(c) for c in "blf"]), frame) == expected


@pytest.mark.parametrize(
    ("gap_ft", "diameter_in", "share"),
    [(1.0, 24.0, 0.5), (0.0, 24.0, 0.0), (3.0, 18.0, 2.0), (None, 24.0, None), (1.0, None, None), (1.0, 0.0, None)],
)
def test_space_between_pipes(gap_ft: float | None, diameter_in: float | None, share: float | None) -> None:
    # 1 ft is half of 24 in; 36 in is twice 18 in
    assert one(crossings.pipe_gap_share(pl.col("g"), pl.col("d")), g=gap_ft, d=diameter_in) == share
