"""What the views of crossings, roads, decks and stands say of an invented record; the sums stand beside the numbers."""

from __future__ import annotations

from datetime import date
from typing import Any

import polars as pl
import pytest

from auditor.check.views.site import SITE_BUILDERS
from tests.check.site_record import DEFINITIONS, both, rows, tables_of

STEEP = (*both("steep_length_ft"), *both("steep_share_pct"), *both("longest_steep_ft"))
RUTTED = (*both("rutted_length_ft"), *both("rutted_share_pct"), *both("longest_rut_ft"))


def test_the_pipes_of_a_crossing_together() -> None:
    names = (*both("pipe_opening_sqft"), *both("equal_area_in"), *both("equal_flow_in"), "largest_pipe_in")
    found = rows("crossings", *names)
    # two of 24 and one of 48 in: (2 x 576 + 2304) pi / 576 = 6 pi = 18.849556; sqrt(3456) = 58.787754;
    # (2 x 24^(8/3) + 48^(8/3))^(3/8) = 24 (2 + 2^(8/3))^(3/8) = 24 x 8.349604^0.375 = 53.1907
    assert found[0] == pytest.approx((18.849556, 18.849556, 58.787754, 58.787754, 53.1907, 53.1907, 48), abs=1e-4)
    assert found[1:] == 2 * [7 * (None,)]


def test_a_pipe_without_a_diameter_leaves_the_opening_open() -> None:
    tables = tables_of("A")
    blank = pl.when(pl.col("pipe") == 2).then(None).otherwise(pl.col("diameter_in"))
    found = SITE_BUILDERS["crossings"]({**tables, "pipes": tables["pipes"].with_columns(diameter_in=blank)}, {})
    # two of 24 in: 2 pi = 6.283185
    assert found.select(pl.col(both("pipe_opening_sqft")).round(6), "largest_pipe_in").row(0) == (6.283185, None, None)


def test_a_crossing() -> None:
    # 20 degrees off square is 70 from the stream line
    # 8 to 28 March is 20 days; X2 stood at least from the 11th to the 27th
    # Friday 8 to Friday 22 March: 10 working days less the free 11th; (6 + 4) x 2 ft2; its own 40 acres, not the stream's
    names = (
        "crossing_angle_deg",
        *both("days_in_place"),
        *both("working_days_to_cover"),
        "channel_opening_sqft",
        "drainage_area_acres",
    )
    assert rows("crossings", "crossing", *names) == [
        ("X1", 70, 20, 20, 9, 9, 20, 40), ("X2", None, 16, *5 * [None]), ("X3", *7 * [None]),
    ]  # fmt: skip


def test_approaches() -> None:
    # right: drained 40 ft off, cover on Friday 15 March, four working days after the 8th without the 11th
    # left: not known whether drained: up to its 80 ft; 100 degrees is 80 from the other side
    names = (
        "approach_angle_deg",
        *both("approach_length_ft"),
        *both("working_days_to_cover"),
        "crossing_type",
        "stream_class",
    )
    assert rows("approaches", "side", *names) == [
        ("right", None, 40, 40, 4, 4, "culvert", "perennial"), ("left", 80, 0, 80, None, None, "culvert", "perennial"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("table", "names", "expected"),
    [
        # X1 disturbed Friday 8 March, looked at on Tuesday the 26th: 12 working days less the free 11th; its own day of
        # cover is blanked; X2 has no day of disturbance
        ("crossings", ("working_days_to_cover",), [(11, None), (None, None), (None, None)]),
        ("approaches", ("working_days_to_cover",), [(11, None), (11, None)]),
    ],
)
def test_bare_when_looked_at_is_at_least_so_many_days(
    table: str, names: tuple[str, ...], expected: list[tuple[int | None, ...]]
) -> None:
    tables = dict(tables_of("A"))
    tables["crossings"] = tables["crossings"].with_columns(visited_on=pl.date(2024, 3, 26))
    bare = pl.lit("none").cast(tables[table].schema["cover"])
    tables[table] = tables[table].with_columns(bare.alias("cover"), cover_on=pl.lit(None, dtype=pl.Date))
    found = SITE_BUILDERS[table](tables, DEFINITIONS)
    assert found.select(pl.col([c for n in names for c in both(n)])).rows() == expected


CLOSED, GRADED = both("working_days_closed_to_cover"), both("days_graded_to_cover")


def test_days_from_closing_and_from_grading_to_cover() -> None:
    # T1 closed Tuesday 26 March, covered Friday the 29th: 3 working days; no day of grading is known
    assert rows("segments", "segment", *CLOSED, *GRADED)[:2] == [("T1", 3, 3, None, None), ("T2", *4 * [None])]
    # K1 closed on the 26th, covered on Tuesday 2 April: 5 working days
    assert rows("decks", "deck", *CLOSED)[0] == ("K1", 5, 5)


@pytest.mark.parametrize("table", ["segments", "decks"])
@pytest.mark.parametrize(
    ("cover", "cover_on", "seen_on", "closed", "graded"),
    [
        # closed Tuesday 26 March, graded on the 20th; Tuesday 2 April is 5 working days and 13 days later
        ("stone", (2024, 4, 2), None, (5, 5), (13, 13)),
        ("none", None, (2024, 4, 2), (5, None), (13, None)),
        ("stone", (2024, 4, 2), (2024, 3, 28), (5, 5), (13, 13)),
        ("stone", None, (2024, 4, 2), (None, None), (None, None)),  # covered, nobody knows when
        (None, None, (2024, 4, 2), (None, None), (None, None)),
        ("none", None, None, (None, None), (None, None)),
        ("none", None, (2024, 3, 15), (None, None), (None, None)),  # looked at before
    ],
)
def test_cover_after_closing(table: str, cover: Any, cover_on: Any, seen_on: Any, closed: Any, graded: Any) -> None:
    def day(value: Any) -> pl.Expr:
        return pl.lit(None, dtype=pl.Date) if value is None else pl.date(*value)

    tables = dict(tables_of("A"))
    seen = {"segments": "walked_on", "decks": "visited_on"}[table]
    tables[table] = tables[table].head(1).with_columns(
        pl.lit(cover).cast(tables[table].schema["cover"]).alias("cover"), day(seen_on).alias(seen),
        closed_on=day((2024, 3, 26)), graded_on=day((2024, 3, 20)), cover_on=day(cover_on),
    )  # fmt: skip
    assert SITE_BUILDERS[table](tables, DEFINITIONS).select(pl.col([*CLOSED, *GRADED])).row(0) == (*closed, *graded)


def test_days_from_the_first_storm_to_the_look_at_a_bar() -> None:
    # storm on 2 April; looked at on the 5th, on the 1st, and not at all
    tables = dict(tables_of("A"))
    tables["segments"] = tables["segments"].with_columns(first_storm_on=pl.date(2024, 4, 2))
    looked = pl.Series([date(2024, 4, 5), date(2024, 4, 1), None, None], dtype=pl.Date)
    tables["drains"] = tables["drains"].with_columns(checked_after_storm_on=looked)
    found = SITE_BUILDERS["drains"](tables, DEFINITIONS)
    assert found["days_storm_to_check"].to_list() == [3, -1, None, None]


def test_pipes() -> None:
    # 24 in: at most (30 - 26) / 2 = 2 ft beyond the fill; 1 ft apart is half of 2 ft
    assert rows("pipes", "pipe", *both("beyond_fill_ft"), "half_diameter_ft", "pipe_gap_share", "largest_pipe_in") == [
        (1, None, 2, 1, 0.5, 48), (2, 1, 1, 2, None, 48),
    ]  # fmt: skip


def test_grades_by_pitches_else_as_recorded() -> None:
    # T1: (600 x 10 + 400 x 20) / 1000 = 14, steepest 20; T2: pitched for 100 of 400 ft, steepest at least 12;
    # R1: no pitches, as recorded
    assert rows("segments", "segment", "mean_grade_pct", *both("steepest_grade_pct")) == [
        ("T1", 14, 20, 20), ("T2", None, 12, None), ("R1", 5, 11, 11),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("recorded", "steepest"), [(15.0, (15, 15)), (12.0, (12, 12)), (9.0, (12, 12)), (None, (12, None))]
)
def test_a_pitch_steeper_than_the_recorded_steepest_speaks_against_it(
    recorded: float | None, steepest: tuple[float | None, ...]
) -> None:
    tables = tables_of("A")
    segments = tables["segments"].with_columns(steepest_grade_pct=pl.lit(recorded, dtype=pl.Float64))
    found = SITE_BUILDERS["segments"]({**tables, "segments": segments}, {}).filter(pl.col("segment") == "T2")
    assert found.select(both("steepest_grade_pct")).row(0) == steepest


def test_steep_stretches_and_ruts_as_the_place_defines_them() -> None:
    # T1: 400 of 1,000 ft over 15 percent; T2: 300 of 400 ft open; R1: no length
    assert rows("segments", *STEEP) == [(400, 400, 40, 40, 400, 400), (0, 300, 0, 75, 0, 300), 6 * (None,)]
    # T1: one rut of 50 ft and 8 in, all listed; T2: not known to be listed
    assert rows("segments", *RUTTED)[:2] == [(50, 50, 5, 5, 50, 50), (0, 400, 0, 100, 0, 400)]


def test_a_grade_of_just_the_limit_is_steep_where_the_place_says_so() -> None:
    assert rows("segments", *STEEP, definitions={"steep": {"over_pct": 20}})[0][:2] == (0, 0)
    assert rows("segments", *STEEP, definitions={"steep": {"over_pct": 20, "at_it_too": True}})[0][:2] == (400, 400)


def test_without_a_definition_nothing_is_steep_and_nothing_a_rut() -> None:
    assert rows("segments", *STEEP, *RUTTED, definitions={}) == 3 * [12 * (None,)]


def test_drains_and_cover_of_a_segment() -> None:
    # 26 to 29 March: 3 days; Friday 8 to Friday 29 March: 15 working days less the 11th
    assert rows("segments", *both("drain_count"), "days_to_cover", "working_days_to_cover") == [
        (3, 3, 3, 14), (0, None, None, None), (1, None, None, None),
    ]  # fmt: skip
    assert rows("segments", *both("drain_count"), job="B") == [(0, 0)]


def test_stretches_between_the_drains_that_count_together() -> None:
    found = rows(
        "drain_gaps", "segment", "drain_group", "gap", "from_ft", "to_ft", *both("gap_ft"), "gap_uncertainty_ft"
    )
    assert found[:5] == [
        ("T1", "bars", 1, 0, 300, 300, 300, 5),  # 0 at the upper end and 5
        ("T1", "bars", 2, 300, 600, 300, 300, 15),  # 5 + 10
        ("T1", "bars", 3, 600, 800, 200, 200, 10),  # the bar at 800 has none recorded
        ("T1", "bars", 4, 800, 1000, 200, 200, 0),
        ("T1", "dips", 1, 0, 1000, 1000, 1000, 0),
    ]
    # T2: no drain listed, and the list is not known to be whole; R1: a dip without a place, and no length
    assert found[5:7] == [("T2", "bars", 1, 0, 400, 0, 400, 0), ("T2", "dips", 1, 0, 400, 0, 400, 0)]
    assert found[7:] == [("R1", group, 1, 0, None, None, None, 0) for group in ("bars", "dips")]


def test_what_a_stretch_begins_and_ends_at_and_what_else_lies_in_it() -> None:
    found = rows("drain_gaps", "segment", "drain_group", "from_kind", "to_kind", *both("other_drain_count"))
    assert found[:5] == [
        ("T1", "bars", "upper_end", "water_bar", 0, 0), ("T1", "bars", "water_bar", "turnout", 0, 0),
        ("T1", "bars", "turnout", "water_bar", 0, 0), ("T1", "bars", "water_bar", "lower_end", 0, 0),
        # two bars and a turnout between the ends of the trail
        ("T1", "dips", "upper_end", "lower_end", 3, 3),
    ]  # fmt: skip
    assert found[5][4:] == (0, None)  # T2: the list is not known to be whole


def test_the_grade_of_a_stretch() -> None:
    found = rows("drain_gaps", "segment", "drain_group", *both("gap_grade_pct"))
    # T1: 0 to 600 at 10, the rest at 20; as a whole mean 14, steepest 20; T2: neither; R1: as recorded
    assert found[:5] == [
        ("T1", "bars", 10, 10), ("T1", "bars", 10, 10), ("T1", "bars", 20, 20), ("T1", "bars", 20, 20), ("T1", "dips", 14, 20),
    ]  # fmt: skip
    assert found[5] == ("T2", "bars", None, None)
    assert found[7] == ("R1", "bars", 5, 5)


def test_without_a_definition_all_drains_count_together() -> None:
    found = rows("drain_gaps", "drain_group", "gap", definitions={})
    assert found == [*(("all", gap) for gap in (1, 2, 3, 4)), ("all", 1), ("all", 1)]


def test_drains() -> None:
    # 40 off square is 50 from the centre line; at 600 ft the pitches of 10 and 20 percent meet; R1 has no pitch
    assert rows("drains", "segment", "drain", "drain_kind", "drain_angle_deg", "local_grade_pct", "segment_kind") == [
        ("T1", 1, "water_bar", 40, 10, "skid_trail"), ("T1", 2, "turnout", 50, 20, "skid_trail"),
        ("T1", 3, "water_bar", None, 20, "skid_trail"), ("R1", 1, "broad_based_dip", None, 5, "haul_road"),
    ]  # fmt: skip


def test_a_rut_off_any_road() -> None:
    assert rows("ruts", "rut", "segment_kind", "bank") == [("U1", "skid_trail", None), ("U2", None, "left")]


def test_decks() -> None:
    # K1: 125 ft along 75 percent to the water = 100 level, not over its own 4 percent; trails of 1,000 and 400 ft, the
    # second without its way to the deck: at least 200 + 1,000; 900 as recorded is less. 0.5 of 25 acres. 26 March to 2 April
    # K2: from where and how its 300 ft were measured is blank; no trail leads to it: as recorded
    names = (
        *both("distance_from_bank_ft"),
        *both("longest_skid_ft"),
        "mean_skid_ft",
        "deck_share_pct",
        "days_to_cover",
    )
    assert rows("decks", "deck", *names, "deck_slope_pct", "stream_class") == [
        ("K1", 100, 100, 1200, 1200, None, 2, 7, 4, "perennial"), ("K2", None, None, 700, 700, None, None, None, None, None),
    ]  # fmt: skip


def test_skidding_distance_where_every_trail_is_known() -> None:
    tables = tables_of("A")
    segments = tables["segments"].with_columns(pl.col("from_deck_ft").fill_null(100.0))
    found = SITE_BUILDERS["decks"]({**tables, "segments": segments}, DEFINITIONS)
    # far ends 200 + 1,000 and 100 + 400; mean (700 x 1,000 + 300 x 400) / 1,400 = 585.714286
    names = (*both("longest_skid_ft"), "mean_skid_ft")
    assert found.select(names).row(0) == pytest.approx((1200, 1200, 585.714286), abs=1e-6)


def test_seedings() -> None:
    # 20 x 0.9 x 0.8 = 14.4; as recorded before that; 1 March 2024 is day 31 + 28 + 1 of a common year
    assert rows("seedings", "seeding", "pls_rate_lb_per_ac", "sown_month", "sown_day_of_year") == [
        ("G1", 14.4, 3, 60), ("G2", 12, None, None),
    ]  # fmt: skip


def test_cutting_units() -> None:
    names = (
        "plot_count",
        "damaged_pct",
        "tallest_stump_in",
        "seed_trees_per_ac",
        "seedlings_per_ac",
        "uncut_wetland_pct",
    )
    # 1 of 20 trees; plot b has no stump; 10 and 0 an acre; one plot without its seedlings; 3 of 4
    assert rows("stand_units", "stand", *names) == [("U1", 2, 5, 7, 5, None, 75), ("U2", 0, *5 * [None])]


def test_densities_of_cutting_units() -> None:
    names = ("trees_per_ac", "uncertainty_trees_per_ac", "basal_area_ft2_per_ac", "basal_area_uncertainty_ft2_per_ac")
    # 60 and 140 trees an acre: mean 100, s / sqrt(2) = 40, x t(0.975; 1) = 12.706205 -> 508.248190
    # each of 12 in has pi / 4 ft2: x 100 = 78.539816 and x 508.248190 = 399.177
    found = rows("stand_units", *names)
    assert found[0] == pytest.approx((100, 508.24819, 78.539816, 399.177194), abs=1e-3)
    assert found[1] == 4 * (None,)


def test_years_that_seed_trees_stayed() -> None:
    # U1 was cut on 27 March 2024, its seed trees on 27 March 2027; of U2 no day is known.
    tables = dict(tables_of("A"))
    tables["stands"] = tables["stands"].with_columns(seed_trees_cut_on=pl.date(2027, 3, 27))
    assert SITE_BUILDERS["stand_units"](tables, DEFINITIONS)["seed_trees_left_years"].to_list() == [3, None]
