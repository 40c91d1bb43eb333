import datetime as dt

import polars as pl
import pytest

from auditor.check.views import build_view
from auditor.check.views.base import load_rows
from auditor.vocabulary import TABLES, VIEWS

TYPES = {
    "text": pl.String, "number": pl.Float64, "whole": pl.Int64, "yes_no": pl.Boolean, "date": pl.Date, "time": pl.Time,
    "classes": pl.List(pl.String),
}  # fmt: skip
FEDERAL = {"axle_groups": {"tandem_spread_in": "(40, 96]", "steer_axle_in_tandem": True, "lift_axles_count": True}}


def load_legs(tables, place, definitions, columns=None):
    return build_view("load_legs", tables, place, definitions, (), columns).drop("subject")


def axle_groups(tables, place, definitions, columns=None):
    return build_view("axle_groups", tables, place, definitions, (), columns).drop("subject")


def axle_runs(tables, place, definitions, columns=None):
    return build_view("axle_runs", tables, place, definitions, (), columns).drop("subject")


def _table(name, rows=()):
    fields = TABLES[name].fields
    schema = {"job": pl.String}
    schema |= {f.name: pl.Enum(f.classes) if f.kind == "class" else TYPES[f.kind] for f in fields if f.name != "job"}
    schema |= {"_file": pl.String, "_sheet": pl.String, "_row": pl.UInt32}
    full = [{"job": "J", "_file": f"{name}.csv", "_row": k + 2, **row} for k, row in enumerate(rows)]
    return pl.DataFrame(full, schema=schema)


def _axle_rows(truck, trailer, positions):
    return [
        {"truck": truck, "trailer": trailer, "axle": k + 1, "position_ft": float(p)} for k, p in enumerate(positions)
    ]


@pytest.fixture
def tables():
    """Load 1 was weighed axle by axle, 2 on a platform; 3 has no list of axles, 4 is a straight truck's."""
    filled = {
        "destinations": [{"destination": "mill", "state": "US-SC", "kind": "first_processing"}, {"destination": "yard", "state": "US-GA"}],
        "legs": [
            {"destination": "mill", "leg": 2, "state": "US-SC", "road_class": "interstate", "miles": 30.0},
            {"destination": "mill", "leg": 1, "state": "US-GA", "road_class": "county_road", "miles": 4.0},
            {"destination": "yard", "leg": 1, "state": "US-GA", "road_class": "state_route", "miles": 9.0},
        ],
        "trucks": [{"truck": "T1", "kind": "tractor", "registered_gross_lb": 80_000}, {"truck": "T2", "kind": "straight_truck"}],
        "trailers": [{"trailer": "R1", "kind": "frame", "length_ft": 42.0}],
        "axles": [*_axle_rows("T1", "R1", [0, 12.5, 16.83, 46.92, 51]), *_axle_rows("T2", None, [0, 18, 22.25])],
        "loads": [
            {"load": "1", "ticket_number": "1", "truck": "T1", "trailer": "R1", "destination": "mill", "gross_weight_lb": 79_000, "load_date": dt.date(2024, 5, 6)},
            {"load": "2", "ticket_number": "2", "truck": "T1", "trailer": "R1", "destination": "mill", "gross_weight_lb": 78_500},
            {"load": "3", "ticket_number": "3", "truck": "T9", "trailer": "R9", "destination": "yard", "gross_weight_lb": 77_000},
            {"load": "4", "ticket_number": "4", "truck": "T2", "destination": "yard", "gross_weight_lb": 47_000},
        ],
        "axle_weights": [
            {"load": "1", "first_axle": 1, "last_axle": 1, "weight_lb": 11_000},
            {"load": "1", "first_axle": 2, "last_axle": 3, "weight_lb": 33_000},
            {"load": "1", "first_axle": 4, "last_axle": 5, "weight_lb": 35_000},
        ],
    }  # fmt: skip
    return {name: _table(name, filled.get(name, ())) for name in TABLES}


def _columns(view):
    ends = [[f"{f.name}__lo", f"{f.name}__hi"] if f.interval else [f.name] for f in VIEWS[view].fields]
    return ["job", *(c for pair in ends for c in pair), "_file", "_sheet", "_row", "_place"]


@pytest.mark.parametrize("make", [load_legs, axle_groups, axle_runs])
def test_a_view_has_the_columns_of_the_vocabulary(make, tables):
    assert make(tables, "US", FEDERAL).columns == _columns(make.__name__)


@pytest.mark.parametrize("make", [load_legs, axle_groups, axle_runs])
@pytest.mark.parametrize("place", ["US", "US-GA", "US-SC"])
def test_narrowing_changes_no_value(make, place, tables):
    some = ["gross_weight_lb", "trailer_kind", "vehicle_type", "road_class", "axle_count", "group_kind", "group_weight_lb", "run_span_ft", "run_weight_lb"]  # fmt: skip
    narrow = make(tables, place, FEDERAL, some)
    whole = make(tables, place, FEDERAL)
    assert narrow.columns == [c for c in whole.columns if c in narrow.columns]
    assert {"job", "load", "_row", "gross_weight_lb", "vehicle_type", "axle_count"} <= set(narrow.columns)
    assert "trailer_length_ft" not in narrow.columns
    assert narrow.equals(whole.select(narrow.columns))


def test_load_rows_bring_truck_trailer_and_destination(tables):
    rows = load_rows(tables, "US")
    assert rows["load"].to_list() == ["1", "2", "3", "4"]
    assert rows["vehicle_type"].to_list() == ["combination", "combination", "combination", "single_unit"]
    assert rows["truck_kind"].to_list() == ["tractor", "tractor", None, "straight_truck"]
    assert rows["trailer_length_ft"].to_list() == [42, 42, None, None]
    assert rows["destination_state"].to_list() == ["US-SC", "US-SC", "US-GA", "US-GA"]
    assert rows.select("_file", "_row").rows()[2] == ("loads.csv", 4)


def test_a_tractor_without_a_named_trailer_has_no_known_type(tables):
    tables["loads"] = tables["loads"].with_columns(trailer=pl.lit(None, dtype=pl.String))
    assert load_rows(tables, "US")["vehicle_type"].to_list() == [None, None, None, "single_unit"]


def test_a_state_sees_the_loads_that_come_through_it(tables):
    assert load_rows(tables, "US-SC")["load"].to_list() == ["1", "2"]
    assert load_rows(tables, "US-GA")["load"].to_list() == ["1", "2", "3", "4"]
    assert load_rows(tables, "US-TN").height == 0
    legs = load_legs(tables, "US-GA", FEDERAL)
    assert legs.select("load", "leg", "road_class").rows() == [
        ("1", 1, "county_road"), ("2", 1, "county_road"), ("3", 1, "state_route"), ("4", 1, "state_route"),
    ]  # fmt: skip


def test_load_legs_follow_the_loads_and_the_order_of_travel(tables):
    legs = load_legs(tables, "US", FEDERAL)
    assert legs.select("load", "leg").rows() == [("1", 1), ("1", 2), ("2", 1), ("2", 2), ("3", 1), ("4", 1)]
    layout = legs.select("axle_count", "outer_span_ft", "single_axle_count", "tandem_count").rows()
    assert layout[0] == (5, 51.0, 1, 2)
    assert layout[4] == (None, None, None, None)  # load 3: no list of axles
    assert layout[5] == (3, 22.25, 1, 1)  # load 4: 18 and 22.25 are 51 in apart


def test_a_load_without_legs_stays_under_federal_law_only(tables):
    tables["legs"] = tables["legs"].filter(pl.col("destination") == "mill")
    legs = load_legs(tables, "US", FEDERAL)
    assert legs.filter(pl.col("load") == "3").select("leg", "state").rows() == [(None, None)]
    assert load_legs(tables, "US-GA", FEDERAL)["load"].to_list() == ["1", "2"]


def _items(frame, load, *columns):
    return frame.filter((pl.col("load") == load) & (pl.col("leg") == 1)).select(columns).rows()


def test_axle_groups_of_a_load_with_readings(tables):
    groups = axle_groups(tables, "US", FEDERAL)
    found = _items(groups, "1", "group_kind", "first_axle", "last_axle", "group_weight_lb__lo", "group_weight_lb__hi")
    assert found == [
        ("single", 1, 1, 11_000, 11_000), ("tandem", 2, 3, 33_000, 33_000), ("tandem", 4, 5, 35_000, 35_000),
    ]  # fmt: skip
    assert groups.filter(pl.col("load") == "1").height == 6  # three groups on two legs


def test_axle_groups_of_a_load_without_readings_weigh_anything_up_to_the_whole(tables):
    groups = axle_groups(tables, "US", FEDERAL)
    columns = ("group_kind", "first_axle", "group_weight_lb__lo", "group_weight_lb__hi")
    assert _items(groups, "2", *columns) == [("single", None, 0, 78_500), ("tandem", None, 0, 78_500)]
    assert _items(groups, "4", *columns) == [("single", None, 0, 47_000), ("tandem", None, 0, 47_000)]
    assert _items(groups, "3", *columns) == [(None, None, 0, 77_000)]


def test_axle_runs(tables):
    runs = axle_runs(tables, "US", FEDERAL)
    columns = ("first_axle", "last_axle", "run_axle_count", "run_span_ft", "two_tandems", "run_weight_lb__lo", "run_weight_lb__hi")  # fmt: skip
    weighed = _items(runs, "1", *columns)
    assert len(weighed) == 10
    assert weighed[3] == (1, 5, 5, 51.0, False, 79_000, 79_000)
    assert (2, 5, 4, 38.5, True, 68_000, 68_000) in weighed  # 33,000 + 35,000
    assert (2, 4, 3, 34.42, False, 33_000, 68_000) in weighed  # axle 4 only as part of 4-5
    # without readings: the whole run weighs the gross; one row stands for the nine others. The shortest of them is
    # 4.08 ft on 2 axles; one of them is two tandems, so that is open.
    assert _items(runs, "2", *columns) == [
        (1, 5, 5, 51.0, False, 78_500, 78_500), (None, None, 2, 4.08, None, 0, 78_500),
    ]  # fmt: skip
    assert _items(runs, "4", *columns) == [
        (1, 3, 3, 22.25, False, 47_000, 47_000), (None, None, 2, 4.25, False, 0, 47_000),
    ]  # fmt: skip
    assert _items(runs, "3", *columns) == [(None, None, None, None, None, 0, 77_000)]


def test_readings_that_leave_out_an_axle_are_bounded_by_the_gross(tables):
    tables["axle_weights"] = tables["axle_weights"].filter(pl.col("first_axle") != 1)
    groups = _items(axle_groups(tables, "US", FEDERAL), "1", "first_axle", "group_weight_lb__lo", "group_weight_lb__hi")
    assert groups == [(1, 0, 79_000), (2, 33_000, 33_000), (4, 35_000, 35_000)]
    runs = _items(axle_runs(tables, "US", FEDERAL), "1", "first_axle", "last_axle", "run_weight_lb__lo", "run_weight_lb__hi")  # fmt: skip
    assert (1, 5, 79_000, 79_000) in runs  # all axles: the gross itself
    assert (1, 3, 33_000, 79_000) in runs


def test_an_open_grouping_has_no_lower_bound(tables):
    blank = pl.when(pl.col("axle") == 3).then(None).otherwise(pl.col("position_ft")).alias("position_ft")
    tables["axles"] = tables["axles"].with_columns(blank)
    found = _items(axle_groups(tables, "US", FEDERAL), "1", "group_kind", "first_axle", "last_axle", "group_weight_lb__lo", "group_weight_lb__hi")  # fmt: skip
    assert found == [("single", 1, 1, 11_000, 11_000), (None, 2, 5, 0, 68_000)]
    runs = _items(axle_runs(tables, "US", FEDERAL), "2", "first_axle", "run_axle_count", "run_span_ft", "run_weight_lb__lo")  # fmt: skip
    assert runs == [(1, 5, 51.0, 78_500), (None, 2, None, 0)]


def test_a_lift_axle_that_does_not_count_keeps_its_weight_out_of_the_whole_run(tables):
    lifted = (pl.col("axle") == 5).alias("lift_axle")
    tables["axles"] = tables["axles"].with_columns(lifted)
    law = {"axle_groups": FEDERAL["axle_groups"] | {"lift_axles_count": False}}
    runs = _items(
        axle_runs(tables, "US", law), "2", "last_axle", "run_axle_count", "run_weight_lb__lo", "run_weight_lb__hi"
    )
    assert runs == [(4, 4, 0, 78_500), (None, 2, 0, 78_500)]


def test_a_blank_gross_leaves_the_upper_bound_open(tables):
    tables["loads"] = tables["loads"].with_columns(gross_weight_lb=pl.lit(None, dtype=pl.Int64))
    assert _items(axle_groups(tables, "US", FEDERAL), "3", "group_weight_lb__lo", "group_weight_lb__hi") == [(0, None)]
    assert _items(axle_runs(tables, "US", FEDERAL), "2", "run_weight_lb__lo", "run_weight_lb__hi") == [(0, None)] * 2


@pytest.mark.parametrize("make", [load_legs, axle_groups, axle_runs])
@pytest.mark.parametrize("place", ["US", "US-GA", "US-SC", "US-TN"])
def test_no_load_on_a_leg_vanishes(make, place, tables):
    tables["axles"] = tables["axles"].filter(pl.col("truck") != "T1")
    expected = load_legs(tables, place, FEDERAL).select("load", "leg").rows()
    assert sorted(set(make(tables, place, FEDERAL).select("load", "leg").rows())) == sorted(expected)


@pytest.mark.parametrize("make", [load_legs, axle_groups, axle_runs])
def test_the_same_load_number_in_two_jobs(make, tables):
    one = make(tables, "US", FEDERAL)
    both = {name: pl.concat([t, t.with_columns(job=pl.lit("K"))]) for name, t in tables.items()}
    found = make(both, "US", FEDERAL)
    assert found.height == 2 * one.height
    assert found.filter(pl.col("job") == "J").equals(one)


@pytest.mark.parametrize("make", [load_legs, axle_groups, axle_runs])
def test_an_empty_record(make):
    empty = {name: _table(name) for name in TABLES}
    frame = make(empty, "US", FEDERAL)
    assert (frame.height, frame.columns) == (0, _columns(make.__name__))
