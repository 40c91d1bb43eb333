"""What the views along the water say of an invented record; the sums stand beside the numbers."""

from __future__ import annotations

import polars as pl
import pytest

from auditor.check.views.site import SITE_BUILDERS, bank_outcomes
from tests.check.site_record import DEFINITIONS, both, rows, tables_of


def test_a_width_is_turned_into_what_the_law_measures() -> None:
    # left 2: 50 ft along 75 percent, 50 / sqrt(1 + 0.75^2) = 50 / 1.25 = 40 level
    # left 3: from the top of the bank, farther out, so at least 35
    # right: slope and way of measuring blank, anything up to 45
    # head 1: not read; head 2: at least 80, the reading stopped there
    assert rows("stations", "bank", "station", *both("zone_width_ft")) == [
        ("left", 1, 60, 60), ("left", 2, 40, 40), ("left", 3, 35, None), ("right", 1, 0, 45), ("head", 1, None, None),
        ("head", 2, 80, None),
    ]  # fmt: skip


def test_the_place_says_how_a_width_is_measured() -> None:
    along = {"zone_width": {"along": "ground", "start": "bank"}}
    # left 1: 60 level on the bank's 30 percent, 60 x sqrt(1.09) = 62.641839; left 2 as taped
    assert rows("stations", *both("zone_width_ft"), definitions=along)[:2] == [(62.641839, 62.641839), (50, 50)]
    # without a definition: level, from the bank
    assert rows("stations", *both("zone_width_ft"), definitions={})[:2] == [(60, 60), (40, 40)]


def test_sediment_is_measured_from_the_same_start() -> None:
    assert rows("stations", *both("nearest_sediment_ft"))[:2] == [(12, 12), (None, None)]


def test_a_plain_reading_has_no_doubt_and_one_by_gps_an_unknown_one() -> None:
    # left 1 recorded, left 2 and 3 by the bank's tape, right by the bank's GPS, head without a method
    assert [r[0] for r in rows("stations", "width_doubt_ft")] == [2, 0, 0, None, 0, 0]
    assert rows("stumps", "bank", "distance_doubt_ft") == [("left", 0), ("left", 0), ("right", None)]


@pytest.mark.parametrize(
    ("method", "doubt"),
    [
        ("tape", 0),
        ("pace", 0),
        ("laser", 0),
        (None, 0),
        ("gps", None),
        ("map", None),
        ("lidar", None),
        ("estimate", None),
    ],
)
def test_every_method_of_reading_has_its_doubt(method: str | None, doubt: float | None) -> None:
    tables = tables_of("B")
    for table in ("stations", "banks"):
        other = pl.lit(method).cast(tables["stations"].schema["method"])
        read = SITE_BUILDERS["stations"]({**tables, table: tables[table].with_columns(method=other)}, {})
        assert read["width_doubt_ft"].to_list() == [doubt], table


def test_a_station_stands_for_the_bank_half_way_to_its_neighbours() -> None:
    # 0, 200 and 400 of 400 ft: ends at 100 and 300; a single station stands for the whole bank
    assert rows("stations", "from_ft", "to_ft", "station_length_ft")[:4] == [
        (0, 100, 100), (100, 300, 200), (300, 400, 100), (0, 100, 100),
    ]  # fmt: skip
    # without a place and a length nothing is known of it
    assert rows("stations", "from_ft", "to_ft", "station_length_ft", job="B") == [(None, None, None)]


def test_slope_is_that_of_the_reading_else_of_the_bank() -> None:
    assert [r[0] for r in rows("stations", "station_slope_pct")] == [30, 75, 30, None, 10, 20]
    # head: 50 ft at 10 percent and 50 ft at 20 percent; right: no slope anywhere
    assert rows("banks", "bank", *both("bank_slope_pct")) == [("left", 30, 30), ("right", None, None), ("head", 15, 15)]


def test_what_stations_say_of_a_bank() -> None:
    names = (*both("least_width_ft"), *both("mean_width_ft"), "station_count", "longest_stretch_ft")
    # left: least between 35 and 40; mean at least (60 x 100 + 40 x 200 + 35 x 100) / 400 = 43.75, no upper end
    # head: one not read: at least (0 x 50 + 80 x 50) / 100 = 40
    assert rows("banks", *names) == [
        (35, 40, 43.75, None, 3, 200),
        (0, 45, 0, 45, 1, 100),
        (None, None, 40, None, 2, 50),
    ]
    assert rows("banks", *names, job="B") == [(45, 45, None, None, 1, None)]


def test_a_cover_that_was_not_read_may_be_anything() -> None:
    # left: 80 over 100 ft, 60 over 200 ft, blank over 100 ft: (8000 + 12000 + 0 or 10000) / 400
    assert rows("banks", *both("canopy_pct"), *both("bare_soil_pct"))[0] == (50, 75, 0, 100)


def test_only_a_list_that_is_whole_shows_that_there_is_no_more() -> None:
    # left: 3 stumps and 1, all listed; D1 and D3, not known to be all
    names = (*both("zone_stump_count"), *both("disturbance_count"))
    assert rows("banks", *names) == [(4, 4, 2, None), (1, None, 1, None), (0, None, 0, 0)]


def test_sides_and_years_between_cuttings() -> None:
    # right may have been cut too, so the sides of S are open; the pond's only bank was not cut
    # left: 2009-03-20 to 2024-03-20, the fifteenth anniversary
    assert rows("banks", "harvested_sides", "zone_cut_interval_years") == [(None, 15), (None, None), (0, None)]
    assert rows("banks", "harvested_sides", job="B") == [(1,)]


def test_field_signs_and_age_of_the_classification() -> None:
    # two of the three wanted were seen, and all were looked for; 1 January to 29 March 2024: 30 + 29 + 29 = 88 days
    names = ("stream", *both("sign_count"), "days_since_classified")
    assert rows("streams", *names) == [("S", 2, 2, 88), ("pond", 0, 3, None)]
    assert rows("streams", *names, definitions={})[0] == ("S", None, None, 88)
    # beside left the cutting ended on 20 March
    assert rows("banks", "days_since_classified") == [(79,), (88,), (None,)]


def test_plots_of_one_strip_together() -> None:
    names = ("basal_area_ft2_per_ac", "basal_area_uncertainty_ft2_per_ac", "canopy_pct", "canopy_uncertainty_pct")
    found = rows("strips", "bank", "strip_from_ft", "strip_to_ft", "plot_count", *names)
    # 10 x 5 = 50 and 10 x 7 = 70: mean 60, s = 14.142136, s / sqrt(2) = 10, t(0.975; 1) = 12.706205
    # crown cover 50 and 72 of 96 = 75: mean 62.5, standard error 12.5, x 12.706205 = 158.827559
    assert found[0][:4] == ("left", 0, 25, 2)
    assert found[0][4:] == pytest.approx((60, 127.06205, 62.5, 158.827559), abs=1e-4)
    # a single plot has no plus or minus; the plot's strip from 30 to 40 lies inside 25 to 50
    assert found[1] == ("left", 25, 50, 1, 40, None, None, None)
    # right may have been cut, and has no plot; head was not cut
    assert found[2:] == [("right", 0, 25, 0, *4 * [None]), ("right", 25, 50, 0, *4 * [None])]


def test_what_is_left_of_what_was() -> None:
    names = (
        "overstory_kept_pct",
        "basal_area_kept_pct",
        "canopy_kept_pct",
        "understory",
        "bare_soil_pct",
        "least_dbh_counted_in",
    )
    # 9 of 20 trees; 120 of 200 ft2 an acre; 125 of 160 percent; the worst understory; (3 + 5) / 2; the greater of 4 and 5
    assert rows("strips", *names)[:2] == [(45, 60, 78.125, "gone", 4, 5), 6 * (None,)]


def test_without_a_definition_the_strips_are_those_of_the_plots() -> None:
    found = rows("strips", "bank", "strip_from_ft", "strip_to_ft", "plot_count", definitions={})
    assert found == [("left", 0, 20, 2), ("left", 30, 40, 1), ("right", None, None, 0)]
    assert rows("strips", "bank", "strip_from_ft", "plot_count", job="B", definitions={}) == [("left", None, 0)]


def test_a_plot_that_no_strip_holds_keeps_its_own() -> None:
    narrow = {"strips": {"edges_ft": [0, 15, 50]}}
    # 0 to 20 lies in neither 0 to 15 nor 15 to 50
    found = rows("strips", "bank", "strip_from_ft", "strip_to_ft", "plot_count", definitions=narrow)
    assert found[:3] == [("left", 0, 15, 0), ("left", 0, 20, 2), ("left", 15, 50, 1)]


def test_trees_an_acre_need_diameters() -> None:
    assert rows("strips", "trees_per_ac", "uncertainty_trees_per_ac")[0] == (None, None)


def test_disturbed_ground() -> None:
    names = ("land_slope_pct", *both("distance_from_bank_ft"), "disturbance_length_ft", "length_ft")
    # D1: 50 ft along its own 75 percent = 40 level; D2: not known from where; D3: the bank's slope, no distance
    assert rows("disturbances", "disturbance", *names) == [
        ("D1", 75, 40, 40, 25, 400), ("D2", None, None, None, None, 100), ("D3", 30, None, None, None, 400),
    ]  # fmt: skip


def test_what_belongs_to_a_crossing_and_how_long_it_lay_open() -> None:
    # Friday 8 March to Tuesday 12 March is two working days; the 11th is free: one. 8 to 18 March: 10 days
    names = ("disturbance_kind", "at_crossing", "days_open", "working_days_to_cover")
    assert rows("disturbances", *names) == [
        ("skid_trail", True, 10, 1), ("slash_pile", False, None, None), ("bare_soil", None, None, None),
    ]  # fmt: skip
    assert rows("disturbances", "working_days_to_cover", definitions={})[0] == (2,)


def test_stumps() -> None:
    # measured from where is blank: open
    assert rows("stumps", "bank", "stump", "stump_count", *both("distance_from_bank_ft")) == [
        ("left", 1, 3, 10, 10), ("left", 2, None, None, None), ("right", 1, None, None, None),
    ]  # fmt: skip


def test_how_much_of_a_bank_fails_a_rule_on_its_stations() -> None:
    pieces = pl.DataFrame(
        [
            ("A", "left", 0.0, 100.0, False), ("A", "left", 100.0, 300.0, True), ("A", "left", 300.0, 400.0, None),
            ("B", "left", None, None, True),
        ],
        schema={"job": pl.String, "subject": pl.String, "from_ft": pl.Float64, "to_ft": pl.Float64, "fails": pl.Boolean},
        orient="row",
    )  # fmt: skip
    found = bank_outcomes(tables_of("A", "B"), DEFINITIONS, pieces, 250.0)
    names = ("judged_length_ft", *both("failing_length_ft"), *both("failing_share_pct"))
    # 200 surely, 300 at most, of 400 ft; in any 250 ft: 200 surely, 250 at most
    assert found.select("job", "subject", *names).rows() == [
        ("A", "left", 400, 200, 300, 50, 75), ("B", "left", *5 * [None]),
    ]  # fmt: skip
    assert found.select(*both("longest_failing_ft"), *both("worst_window_ft")).row(0) == (200, 300, 200, 250)
    assert found.select("stream_class", "job_state", "_place").rows() == [("perennial", "US-SC", 0), (None, "US-GA", 3)]


def test_readings_in_the_water_against_the_one_above() -> None:
    # 63 - 60 = 3, doubts 0.5 + 0.5; the third was taken an hour and a minute after the one above
    names = ("subject", "reading", "water_rise_f", "rise_uncertainty_f", "hours_apart", "judged_on", "stream_class")
    assert rows("water_readings", *names) == [
        ("S", 1, None, None, None, "2024-03-20", "perennial"), ("S", 2, 3, 1, 0.5, "2024-03-20", "perennial"),
        ("S", 3, None, None, None, "2024-03-20", "perennial"), ("pond", 1, None, None, None, "2024-03-29", None),
    ]  # fmt: skip


def test_how_far_inside_the_zone_as_kept_disturbed_ground_lies() -> None:
    # D1: 50 ft along 75 percent is 40 level; anywhere along left, whose zone is 60 less 2, 40 or at least 35 ft wide:
    # at least 35 - 40 = -5; D2: by GPS without an error; D3: no distance
    assert rows("disturbances", "disturbance", *both("inside_zone_ft")) == [
        ("D1", -5, None), ("D2", None, None), ("D3", None, None),
    ]  # fmt: skip
    tables = dict(tables_of("A"))
    along = pl.when(pl.col("disturbance") == "D1").then(0.0)
    tables["disturbances"] = tables["disturbances"].with_columns(along_ft=along, length_ft=pl.lit(50.0))
    found = SITE_BUILDERS["disturbances"](tables, DEFINITIONS).select(both("inside_zone_ft"))
    # from 0 to 50 ft only the first reading counts: 60 and 2 either way, less 40
    assert found.row(0) == (18, 22)


@pytest.mark.parametrize(("day", "years"), [((2027, 3, 28), 3), ((2024, 3, 28), 0), ((2024, 3, 1), None), (None, None)])
def test_years_from_the_harvest_to_other_work_on_the_land(day: tuple[int, int, int] | None, years: int | None) -> None:
    # The harvest of A was complete on 28 March 2024.
    tables = dict(tables_of("A"))
    tables["job"] = tables["job"].with_columns(
        other_activity_on=pl.lit(None, dtype=pl.Date) if day is None else pl.date(*day)
    )
    found = SITE_BUILDERS["disturbances"](tables, DEFINITIONS)
    assert found["other_activity_years"].to_list() == 3 * [years]
