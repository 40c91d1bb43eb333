"""Looks at the load on the way."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest

from auditor.measures.transit import checks_on_the_way, trip_miles

LOOKS = {"job": pl.String, "load": pl.String, "miles_from_start": pl.Float64, "hours_from_start": pl.Float64}


def on_the_way(*looks: tuple[float | None, float | None], trip: float | None = 200.0) -> dict[str, Any]:
    rows = pl.DataFrame([("J1", "1", m, h) for m, h in looks], schema=LOOKS, orient="row")
    trips = pl.DataFrame({"job": ["J1"], "load": ["1"], "trip_miles": pl.Series([trip], dtype=pl.Float64)})
    return checks_on_the_way(rows, trips).row(0, named=True)


def test_a_whole_trip() -> None:
    # Stretches: 0 to 45, 45 to 150 (105), 150 to 200 (50); 0 to 1 h, 1 to 3.5 h (2.5)
    found = on_the_way((0, 0), (150, 3.5), (45, 1))
    assert found == {
        "job": "J1", "load": "1", "check_count": 3, "first_check_miles": 45, "check_gap_miles": 105, "check_gap_h": 2.5,
        "checked_before_driving": True,
    }  # fmt: skip


def test_no_rows_are_no_evidence() -> None:
    found = on_the_way()
    assert [found[n] for n in found if n not in ("job", "load")] == [None] * 5


@pytest.mark.parametrize(
    ("looks", "gap"),
    [
        (((80.0, 2.0),), 120),  # to the end: 200 - 80
        (((120.0, 2.0),), 120),  # from the start
        (((205.0, 4.0),), 205),  # beyond the end: it closes the trip
    ],
)
def test_the_stretches_to_the_first_and_after_the_last_look_count(looks: Any, gap: float) -> None:
    assert on_the_way(*looks)["check_gap_miles"] == gap


def test_only_a_look_at_the_start() -> None:
    found = on_the_way((0, None))
    assert found["first_check_miles"] is None
    assert found["check_gap_miles"] == 200
    assert found["check_gap_h"] == 0
    assert found["checked_before_driving"] is True


def test_looks_but_none_at_the_start() -> None:
    assert on_the_way((45, 1))["checked_before_driving"] is False


def test_a_blank_mile_leaves_open_what_it_could_change() -> None:
    found = on_the_way((45, 1), (None, 2))
    assert found["check_count"] == 2
    assert found["first_check_miles"] is None
    assert found["check_gap_miles"] is None
    assert found["check_gap_h"] == 1
    assert found["checked_before_driving"] is None
    assert on_the_way((0, 0), (None, 2))["checked_before_driving"] is True


def test_a_blank_hour_leaves_the_hours_open() -> None:
    assert on_the_way((45, None))["check_gap_h"] is None
    found = on_the_way((45, 1), (90, None))
    assert (found["check_gap_h"], found["check_gap_miles"]) == (None, 110)  # 200 - 90


def test_zero_hours_are_mile_zero() -> None:
    assert on_the_way((None, 0))["checked_before_driving"] is True


def test_an_unknown_trip_leaves_the_stretch_in_miles_open() -> None:
    found = on_the_way((45, 1), trip=None)
    assert found["check_gap_miles"] is None
    assert found["first_check_miles"] == 45


def test_loads_are_kept_apart_and_in_order() -> None:
    rows = pl.DataFrame([("J1", "2", 30.0, 1.0), ("J2", "1", 60.0, 1.0)], schema=LOOKS, orient="row")
    trips = pl.DataFrame({"job": ["J2", "J1", "J1"], "load": ["1", "1", "2"], "trip_miles": [90.0, 90.0, 90.0]})
    found = checks_on_the_way(rows, trips)
    assert found["first_check_miles"].to_list() == [60, None, 30]
    assert found["check_count"].to_list() == [1, None, 1]


def test_the_whole_way_is_the_sum_of_its_stretches() -> None:
    legs = pl.DataFrame({"job": ["J1"] * 4, "destination": ["A", "A", "B", "B"], "miles": [3.5, 40.0, 12.0, None]})
    assert trip_miles(legs).rows() == [("J1", "A", 43.5), ("J1", "B", None)]  # 3.5 + 40
