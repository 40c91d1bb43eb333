"""An invented record of two harvest jobs, with the blanks that a forester's close-out has.

Both jobs name their water `S` and their bank `left`, so that rows of one never answer for the other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

import polars as pl

from auditor.check.views.site import SITE_BUILDERS
from auditor.record import record_from_rows

Rows = Sequence[Mapping[str, object]]

A: dict[str, Rows] = {
    "job": [{
        "job": "A", "state": "US-SC", "region": "piedmont", "county": "Union", "harvest_type": "thinning",
        "operation_start": "2024-03-04", "operation_end": "2024-03-29", "entered_on": "2024-03-01",
        "harvest_completed_on": "2024-03-28", "planned_end": "2024-03-25", "reclaimed_on": "2024-04-01",
        "local_notice_ordinance": True, "spill_could_reach_water": True, "harvested_acres": 60,
    }],
    "streams": [
        {"stream": "S", "kind": "stream", "stream_class": "perennial", "classified_on": "2024-01-01", "width_ft": 8,
         "field_signs": "sinuous_channel; flowing_water", "field_signs_listed": True, "drainage_area_acres": 300},
        {"stream": "pond", "kind": "lake_or_pond"},
    ],
    "banks": [
        {"bank": "left", "stream": "S", "side": "left", "harvested": True, "harvested_on": "2024-03-20", "length_ft": 400,
         "slope_pct": 30, "method": "tape", "stumps_listed": True, "last_zone_cut_on": "2009-03-20"},
        {"bank": "right", "stream": "S", "side": "right", "length_ft": 100, "method": "gps"},
        {"bank": "head", "stream": "pond", "side": "all_round", "harvested": False, "length_ft": 100, "disturbances_listed": True},
    ],
    "stations": [
        {"bank": "left", "station": 1, "along_ft": 0, "zone_width_ft": 60, "measured_along": "horizontal",
         "measured_from": "bank", "width_uncertainty_ft": 2, "canopy_pct": 80, "nearest_sediment_ft": 12},
        {"bank": "left", "station": 2, "along_ft": 200, "zone_width_ft": 50, "measured_along": "ground",
         "measured_from": "bank", "slope_pct": 75, "canopy_pct": 60},
        {"bank": "left", "station": 3, "along_ft": 400, "zone_width_ft": 35, "measured_along": "horizontal",
         "measured_from": "top_of_bank"},
        {"bank": "right", "station": 1, "along_ft": 20, "zone_width_ft": 45, "measured_from": "bank"},
        {"bank": "head", "station": 1, "along_ft": 0, "slope_pct": 10},
        {"bank": "head", "station": 2, "along_ft": 100, "slope_pct": 20, "zone_width_ft": 80, "wider_than_read": True,
         "measured_along": "horizontal", "measured_from": "bank"},
    ],
    "plots": [
        {"plot": "1", "bank": "left", "strip_from_ft": 0, "strip_to_ft": 20, "kind": "prism", "baf_ft2_per_ac": 10,
         "tree_count": 5, "canopy_pct": 50, "understory": "kept", "least_dbh_in": 4, "bare_soil_pct": 3,
         "overstory_before_count": 10, "overstory_left_count": 5, "basal_area_before_ft2_per_ac": 100, "canopy_before_pct": 80},
        {"plot": "2", "bank": "left", "strip_from_ft": 0, "strip_to_ft": 20, "kind": "prism", "baf_ft2_per_ac": 10,
         "tree_count": 7, "densiometer_filled_count": 72, "densiometer_read_count": 96, "understory": "gone",
         "least_dbh_in": 5, "bare_soil_pct": 5, "overstory_before_count": 10, "overstory_left_count": 4,
         "basal_area_before_ft2_per_ac": 100, "canopy_before_pct": 80},
        {"plot": "3", "bank": "left", "strip_from_ft": 30, "strip_to_ft": 40, "kind": "prism", "baf_ft2_per_ac": 10, "tree_count": 4},
    ],
    "stumps": [
        {"bank": "left", "stump": 1, "stump_count": 3, "distance_from_bank_ft": 10, "measured_along": "horizontal", "measured_from": "bank"},
        {"bank": "left", "stump": 2, "distance_from_bank_ft": 30},
        {"bank": "right", "stump": 1},
    ],
    "disturbances": [
        {"disturbance": "D1", "kind": "skid_trail", "bank": "left", "crossing": "X1", "distance_from_bank_ft": 50, "slope_pct": 75,
         "measured_along": "ground", "measured_from": "bank", "length_ft": 25, "made_on": "2024-03-08", "cover_on": "2024-03-12",
         "removed_on": "2024-03-18"},
        {"disturbance": "D2", "kind": "slash_pile", "bank": "right", "reason_inside_zone": "none", "distance_from_bank_ft": 5},
        {"disturbance": "D3", "kind": "bare_soil", "bank": "left"},
    ],
    "crossings": [
        {"crossing": "X1", "stream": "S", "crossing_type": "culvert", "drainage_area_acres": 40, "angle_deg": 20, "angle_from": "square",
         "first_disturbed_on": "2024-03-08", "installed_on": "2024-03-08", "removed_on": "2024-03-28", "cover_on": "2024-03-22",
         "top_width_ft": 6, "bottom_width_ft": 4, "channel_depth_ft": 2},
        {"crossing": "X2", "stream": "S", "crossing_type": "ford", "installed_on": "2024-03-11", "in_place": True, "visited_on": "2024-03-27"},
        {"crossing": "X3", "stream": "pond", "crossing_type": "bridge"},
    ],
    "approaches": [
        {"crossing": "X1", "side": "right", "length_ft": 120, "nearest_drain_ft": 40, "drained_before_water": True, "cover_on": "2024-03-15"},
        {"crossing": "X1", "side": "left", "length_ft": 80, "angle_deg": 100, "angle_from": "stream_line"},
    ],
    "pipes": [
        {"crossing": "X1", "pipe": 1, "pipe_count": 2, "diameter_in": 24, "length_ft": 30, "fill_width_ft": 26, "between_pipes_ft": 1},
        {"crossing": "X1", "pipe": 2, "pipe_count": 1, "diameter_in": 48, "beyond_fill_ft": 1},
    ],
    "water_readings": [
        {"stream": "S", "reading": 1, "position": "above", "read_on": "2024-03-20", "read_at": "14:00", "water_temperature_f": 60,
         "temperature_uncertainty_f": 0.5},
        {"stream": "S", "reading": 2, "position": "below", "read_on": "2024-03-20", "read_at": "14:30", "water_temperature_f": 63,
         "temperature_uncertainty_f": 0.5},
        {"stream": "S", "reading": 3, "position": "below", "read_on": "2024-03-20", "read_at": "15:01", "water_temperature_f": 64},
        {"stream": "pond", "reading": 1, "position": "beside", "water_temperature_f": 70},
    ],
    "segments": [
        {"segment": "T1", "kind": "skid_trail", "length_ft": 1000, "grade_pct": 9, "steepest_grade_pct": 18, "deck": "K1", "from_deck_ft": 200,
         "drains_listed": True, "ruts_listed": True, "closed_on": "2024-03-26", "walked_on": "2024-03-28", "first_disturbed_on": "2024-03-08",
         "cover_on": "2024-03-29"},
        {"segment": "T2", "kind": "skid_trail", "length_ft": 400, "deck": "K1", "closed_on": "2024-03-25"},
        {"segment": "R1", "kind": "haul_road", "grade_pct": 5, "steepest_grade_pct": 11},
    ],
    "pitches": [
        {"segment": "T1", "pitch": 1, "from_ft": 0, "to_ft": 600, "grade_pct": 10},
        {"segment": "T1", "pitch": 2, "from_ft": 600, "to_ft": 1000, "grade_pct": 20},
        {"segment": "T2", "pitch": 1, "from_ft": 0, "to_ft": 100, "grade_pct": 12},
    ],
    "drains": [
        {"segment": "T1", "drain": 1, "kind": "water_bar", "along_ft": 300, "along_uncertainty_ft": 5, "angle_deg": 40, "angle_from": "centre_line"},
        {"segment": "T1", "drain": 2, "kind": "turnout", "along_ft": 600, "along_uncertainty_ft": 10, "angle_deg": 40, "angle_from": "square"},
        {"segment": "T1", "drain": 3, "kind": "water_bar", "along_ft": 800},
        {"segment": "R1", "drain": 1, "kind": "broad_based_dip"},
    ],
    "ruts": [
        {"rut": "U1", "segment": "T1", "along_ft": 100, "length_ft": 50, "mean_depth_in": 8, "made_on": "2024-03-15"},
        {"rut": "U2", "length_ft": 20, "bank": "left"},
    ],
    "decks": [
        {"deck": "K1", "bank": "left", "distance_from_bank_ft": 125, "slope_to_water_pct": 75, "measured_along": "ground", "measured_from": "bank",
         "slope_pct": 4, "area_acres": 0.5, "served_acres": 25, "longest_skid_ft": 900, "closed_on": "2024-03-26", "cover_on": "2024-04-02"},
        {"deck": "K2", "distance_from_bank_ft": 300, "longest_skid_ft": 700},
    ],
    "seedings": [
        {"seeding": "G1", "segment": "T1", "sown_on": "2024-03-01", "bulk_rate_lb_per_ac": 20, "purity_pct": 90, "germination_pct": 80},
        {"seeding": "G2", "deck": "K1", "pls_rate_lb_per_ac": 12, "bulk_rate_lb_per_ac": 20},
    ],
    "tanks": [
        {"tank": "F1", "site": "yard", "capacity_gal": 500, "motive": False, "buried": False, "permanently_closed": False,
         "bank": "right", "distance_from_bank_ft": 200, "measured_along": "horizontal", "measured_from": "bank", "placed_on": "2024-03-05"},
        {"tank": "F2", "site": "yard", "capacity_gal": 100, "motive": False, "permanently_closed": False},
        {"tank": "F3", "capacity_gal": 300, "motive": True, "buried": False, "permanently_closed": False},
    ],
    "spills": [
        {"spill": "P1", "substance": "diesel", "learned_on": "2024-03-12", "learned_at": "08:00", "reported_on": "2024-03-13", "reported_at": "07:00"},
        {"spill": "P2", "learned_on": "2024-03-12", "reported_on": "2024-03-13", "reported_at": "07:00"},
    ],
    "notices": [
        {"notice": "N1", "kind": "harvest_start", "given_to": "county", "given_on": "2024-03-07", "given_at": "12:00", "event_on": "2024-03-04",
         "event_at": "06:00", "contents": "location; start_date"},
        {"notice": "N2", "kind": "harvest_end"},
        {"notice": "N3", "kind": "harvest_start", "given_on": "2024-03-01", "given_at": "18:00"},
    ],
    "stands": [
        {"stand": "U1", "treatment": "thinning", "area_acres": 60, "cut_on": "2024-03-27", "wetland_count": 4, "uncut_wetland_count": 3},
        {"stand": "U2"},
    ],
    "stand_plots": [
        {"stand_plot": "a", "stand": "U1", "kind": "fixed", "plot_area_acres": 0.1, "tree_count": 6, "damaged_tree_count": 1,
         "seed_tree_count": 1, "seedling_count": 40, "stump_count": 4, "tallest_stump_in": 7},
        {"stand_plot": "b", "stand": "U1", "kind": "fixed", "plot_area_acres": 0.1, "tree_count": 14, "damaged_tree_count": 0,
         "seed_tree_count": 0, "stump_count": 0},
    ],
    "tallies": [
        {"stand_plot": "a", "line": 1, "dbh_in": 12, "tree_count": 6},
        {"stand_plot": "b", "line": 1, "dbh_in": 12, "tree_count": 14},
    ],
    "observations": [
        {"observation": "O1", "question": "shade_kept", "place_kind": "bank", "place": "left", "answer": "yes", "observed_on": "2024-03-27"},
        {"observation": "O2", "question": "shade_kept", "place_kind": "stream", "place": "pond", "answer": "could_not_tell"},
        {"observation": "O3", "question": "flow_unchanged_by_ruts", "place_kind": "crossing", "place": "X1", "answer": "no"},
        {"observation": "O4", "question": "trash_removed", "place_kind": "deck", "place": "K1", "answer": "not_applicable"},
        {"observation": "O5", "question": "trash_removed"},
    ],
}  # fmt: skip

B: dict[str, Rows] = {
    "job": [{"job": "B", "state": "US-GA", "harvest_completed_on": "2023-06-30"}],
    "streams": [{"stream": "S"}],
    "banks": [{"bank": "left", "stream": "S", "side": "left", "harvested": True}],
    "stations": [{"bank": "left", "station": 1, "zone_width_ft": 45, "measured_along": "horizontal", "measured_from": "bank"}],
    "crossings": [{"crossing": "X1", "stream": "S", "crossing_type": "ford"}],
    "segments": [{"segment": "T1", "kind": "skid_trail", "length_ft": 100, "drains_listed": True}],
    "tanks": [{"tank": "F1", "capacity_gal": 1000, "motive": False, "buried": False, "permanently_closed": False}],
    "observations": [{"observation": "O1", "question": "shade_kept", "place_kind": "bank", "place": "left", "answer": "no"}],
}  # fmt: skip

DEFINITIONS: dict[str, dict[str, Any]] = {
    "zone_width": {"along": "horizontal", "start": "bank"},
    "field_signs": {"wanted": ["sinuous_channel", "pools_in_drought", "flowing_water"]},
    "strips": {"edges_ft": [0, 25, 50]},
    "steep": {"over_pct": 15},
    "ruts": {"over_depth_in": 6},
    "drain_gaps": {"groups": {"bars": ["water_bar", "turnout"], "dips": ["broad_based_dip"]}},
    "spill_plan": {"least_gal": 55},
    "notice": {"contents": ["location", "acreage", ["start_date", "duration"]]},
    "working_days": {"holidays": ["2024-03-11"]},
}
"""Every definition that a view of the site reads, with figures of no law."""


JOBS: dict[str, dict[str, Rows]] = {"A": A, "B": B, "E": {"job": [{"job": "E", "state": "US-TN"}]}}


def tables_of(*jobs: str) -> dict[str, pl.DataFrame]:
    """The tables of some jobs as one record; in job B the list of notices is declared whole."""
    return dict(_tables(jobs))


@cache
def _tables(jobs: tuple[str, ...]) -> dict[str, pl.DataFrame]:
    names = dict.fromkeys(name for job in jobs for name in JOBS[job])
    record = record_from_rows(
        {name: [{"job": job, **row} for job in jobs for row in JOBS[job].get(name, ())] for name in names}
    )
    whole = [("B", "notices")] if "B" in jobs else []
    return {
        **record.tables,
        "declared": pl.DataFrame(whole, schema={"job": pl.String, "table": pl.String}, orient="row"),
    }


def rows(
    view: str, *columns: str, job: str = "A", definitions: Mapping[str, Any] = DEFINITIONS
) -> list[tuple[Any, ...]]:
    """The columns of one job's rows, classes as words, numbers to six decimals."""
    found = SITE_BUILDERS[view](tables_of("A", "B"), definitions).filter(pl.col("job") == job).select(columns)
    found = found.with_columns(pl.col(pl.Enum, pl.Date).cast(pl.String), pl.col(pl.Float64).round(6))
    return found.rows()


def both(name: str) -> tuple[str, str]:
    return f"{name}__lo", f"{name}__hi"
