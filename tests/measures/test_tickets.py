import datetime as dt
import math

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.measures.tickets import (
    axle_sum_gap_lb,
    days_outside_operation,
    implied_speed_mph,
    same_ticket_count,
    tare_drift_lb,
    ticket_gap_lb,
)


@pytest.mark.parametrize(
    ("gross", "tare", "net", "gap"),
    [
        (79_840, 28_120, 51_720, 0),
        (79_840, 28_120, 51_700, 20),  # 79,840 - 28,120 = 51,720
        (79_840, 28_120, 51_740, 20),
        (None, 28_120, 51_720, None), (79_840, None, 51_720, None), (79_840, 28_120, None, None),
    ],
)  # fmt: skip
def test_ticket_gap(gross, tare, net, gap):
    frame = pl.DataFrame({"g": [gross], "t": [tare], "n": [net]}, schema=dict.fromkeys("gtn", pl.Int64))
    assert frame.select(ticket_gap_lb(pl.col("g"), pl.col("t"), pl.col("n"))).item() == gap


def _axle_sum_gap(readings, gross=79_000, axles=5, trailer="R1"):
    loads = pl.DataFrame(
        {"job": ["J"], "load": ["1"], "truck": ["T1"], "trailer": [trailer], "gross_weight_lb": [gross]},
        schema_overrides={"trailer": pl.String, "gross_weight_lb": pl.Int64},
    )
    read = pl.DataFrame(
        [("J", "1", *r) for r in readings],
        schema={"job": pl.String, "load": pl.String, "first_axle": pl.Int64, "last_axle": pl.Int64, "weight_lb": pl.Int64},
        orient="row",
    )  # fmt: skip
    layout = pl.DataFrame(
        [("J", "T1", trailer, k + 1) for k in range(axles)],
        schema={"job": pl.String, "truck": pl.String, "trailer": pl.String, "axle": pl.Int64},
        orient="row",
    )
    return axle_sum_gap_lb(loads, read, layout).to_list()


@pytest.mark.parametrize(
    ("readings", "gap"),
    [
        ([(1, 1, 11_000), (2, 3, 33_000), (4, 5, 35_000)], 0),  # 79,000
        ([(4, 5, 35_000), (1, 1, 11_000), (2, 3, 33_400)], 400),  # in any order; 79,400
        ([(1, 3, 43_500), (4, 5, 35_000)], 500),  # 78,500
        ([(1, 1, 11_000), (2, 3, 33_000)], None),  # axles 4 and 5 not weighed
        ([(2, 3, 33_000), (4, 5, 35_000)], None),  # steer axle not weighed
        ([(1, 1, 11_000), (3, 5, 60_000)], None),  # gap at axle 2
        ([(1, 3, 44_000), (3, 5, 50_000)], None),  # axle 3 twice
        ([(1, 1, 11_000), (2, 3, None), (4, 5, 35_000)], None),
        ([(1, 1, 11_000), (2, None, 33_000), (4, 5, 35_000)], None),
        ([(1, 1, 11_000), (2, 3, 33_000), (4, 6, 35_000)], None),  # a sixth axle that the list does not have
        ([], None),
    ],
)
def test_axle_sum_gap_needs_every_axle_once(readings, gap):
    assert _axle_sum_gap(readings) == [gap]


def test_axle_sum_gap_of_a_straight_truck_and_with_blanks():
    assert _axle_sum_gap([(1, 1, 14_000), (2, 3, 33_000)], gross=47_200, axles=3, trailer=None) == [200]
    assert _axle_sum_gap([(1, 1, 14_000), (2, 3, 33_000)], gross=None, axles=3) == [None]
    assert _axle_sum_gap([(1, 1, 14_000)], axles=0) == [None]  # nothing tells which axle is the last


def _drift(tares, trailers=None):
    frame = pl.DataFrame(
        {"job": "J", "truck": "T1", "trailer": trailers or [None] * len(tares), "tare": tares},
        schema_overrides={"trailer": pl.String, "tare": pl.Int64},
    )
    return frame.select(tare_drift_lb(pl.col("tare"), "job", "truck", "trailer")).to_series().to_list()


def test_tare_drift_against_the_median():
    assert _drift([28_000, 28_200, 30_000]) == [200, 0, 1_800]  # median 28,200
    assert _drift([28_000, 28_100, 28_300, 29_000]) == [200, 100, 100, 800]  # median 28,200


def test_tare_drift_needs_three_tares_of_the_same_combination():
    assert _drift([28_000, 28_200]) == [None, None]
    assert _drift([28_000, 28_200, None]) == [None, None, None]
    assert _drift([28_000, None, 28_200, 28_600]) == [200, None, 0, 400]
    # trailer R1 has three, the straight truck two
    assert _drift([1_000, 1_010, 1_030, 500, 600], ["R1", "R1", "R1", None, None]) == [10, 0, 20, None, None]


def test_same_ticket_count_is_per_job_and_destination():
    loads = pl.DataFrame(
        {
            "job": ["J", "J", "J", "K", "J", "J"],
            "destination": ["mill", "mill", "yard", "mill", None, None],
            "ticket_number": ["7", "7", "7", "7", "7", "7"],
        }
    )
    assert same_ticket_count(loads).to_list() == [2, 2, 1, 1, None, None]


def _day(day):
    return None if day is None else dt.date(2024, 5, day)


def _clock(text):
    return None if text is None else dt.time.fromisoformat(text)


def _speeds(rows):
    """Rows of truck, day of May, time, trip miles."""
    frame = pl.DataFrame(
        [("J", truck, _day(day), _clock(at), miles) for truck, day, at, miles in rows],
        schema={"job": pl.String, "truck": pl.String, "load_date": pl.Date, "scaled_at": pl.Time, "trip_miles": pl.Float64},
        orient="row",
    )  # fmt: skip
    return implied_speed_mph(frame).to_list()


def test_implied_speed_counts_the_way_back_and_the_way_out():
    # 40 miles back and 40 out in 2 h; 40 back and 35 out in 1.5 h
    assert _speeds([("T1", 6, "08:00", 40), ("T1", 6, "10:00", 40), ("T1", 6, "11:30", 35)]) == [None, 40.0, 50.0]


def test_implied_speed_goes_by_time_not_by_row_and_keeps_the_row_order():
    assert _speeds([("T1", 6, "10:00", 40), ("T2", 6, "09:00", 10), ("T1", 6, "08:00", 40)]) == [40.0, None, None]


def test_implied_speed_over_midnight():
    assert _speeds([("T1", 6, "23:00", 30), ("T1", 7, "01:00", 30)]) == [None, 30.0]  # 60 miles in 2 h


def test_two_loads_in_the_same_minute_need_infinite_speed():
    assert _speeds([("T1", 6, "08:00", 40), ("T1", 6, "08:00", 40)]) == [None, math.inf]
    assert _speeds([("T1", 6, "08:00", 0), ("T1", 6, "08:00", 0)]) == [None, math.inf]
    assert _speeds([("T1", 6, "08:00", None), ("T1", 6, "08:00", 40)]) == [None, None]


def test_a_blank_leaves_the_speed_open():
    assert _speeds([("T1", 6, "08:00", 40), ("T1", 6, "10:00", None), ("T1", 6, "12:00", 40)]) == [None] * 3
    # a load of unknown time may lie between any two of its day; the day after the next is known again
    week = [("T1", 6, "08:00", 40), ("T1", 6, "10:00", 40), ("T1", 6, None, 40), ("T1", 7, "08:00", 40), ("T1", 7, "10:00", 40)]  # fmt: skip
    assert _speeds(week) == [None, None, None, None, 40.0]
    # a load of unknown day may lie anywhere
    assert _speeds([("T1", 6, "08:00", 40), ("T1", 6, "10:00", 40), ("T1", None, "09:00", 40)]) == [None] * 3
    assert _speeds([("T1", None, "09:00", 40), ("T2", 6, "08:00", 40), ("T2", 6, "10:00", 40)]) == [None, None, 40.0]
    assert _speeds([(None, 6, "08:00", 40), (None, 6, "10:00", 40)]) == [None, None]


@given(st.lists(st.tuples(st.sampled_from(["T1", "T2"]), st.integers(0, 1439)), max_size=12), st.randoms())
def test_shuffling_the_rows_shuffles_the_speeds(rows, random):
    rows = sorted({(truck, 6, f"{m // 60:02}:{m % 60:02}", 20.0) for truck, m in rows})
    order = list(range(len(rows)))
    random.shuffle(order)
    plain = _speeds(rows)
    assert _speeds([rows[i] for i in order]) == [plain[i] for i in order]


@pytest.mark.parametrize(
    ("day", "start", "end", "days"),
    [
        (6, 6, 20, 0), (20, 6, 20, 0), (13, 6, 20, 0), (5, 6, 20, 1), (21, 6, 20, 1), (25, 6, 20, 5),
        (None, 6, 20, None), (13, None, 20, None), (13, 6, None, None), (13, None, None, None),
        (4, 6, None, 2), (23, None, 20, 3),  # outside whatever the blank is
    ],
)  # fmt: skip
def test_days_outside_operation(day, start, end, days):
    frame = pl.DataFrame({"d": [_day(day)], "s": [_day(start)], "e": [_day(end)]}, schema=dict.fromkeys("dse", pl.Date))
    assert frame.select(days_outside_operation(pl.col("d"), pl.col("s"), pl.col("e"))).item() == days
