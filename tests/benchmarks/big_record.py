"""Large invented records for the benchmarks, made as frames at once."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np
import polars as pl

from auditor.record import Record
from auditor.vocabulary import TABLES, Field

FIRST_DAY = date(2022, 1, 3)
DAYS = 1500
TRUCKS_PER_JOB = 5
DESTINATIONS_PER_JOB = 3
_DTYPES: dict[str, Any] = {
    "text": pl.String, "number": pl.Float64, "whole": pl.Int64, "yes_no": pl.Boolean, "date": pl.Date, "time": pl.Time,
    "classes": pl.List(pl.String),
}  # fmt: skip


def _dtype(field: Field) -> Any:
    return pl.Enum(field.classes) if field.kind == "class" else _DTYPES[field.kind]


def _table(name: str, job: pl.Series, columns: dict[str, Any]) -> pl.DataFrame:
    height = len(job)
    data: dict[str, pl.Series] = {"job": job}
    for field in TABLES[name].fields:
        if field.name == "job":
            continue
        values = columns.get(field.name)
        if values is None:
            data[field.name] = pl.Series([None], dtype=_dtype(field)).new_from_index(0, height)
        else:
            data[field.name] = pl.Series(values).cast(_dtype(field))
    data["_file"] = pl.Series([f"{name}.csv"], dtype=pl.String).new_from_index(0, height)
    data["_sheet"] = pl.Series([None], dtype=pl.String).new_from_index(0, height)
    data["_row"] = pl.int_range(2, height + 2, eager=True).cast(pl.UInt32)
    return pl.DataFrame(data)


def _codes(prefix: str, numbers: np.ndarray) -> pl.Series:
    return pl.Series(numbers).cast(pl.String).str.replace("^", prefix)


def big_record(load_count: int, job_count: int, states: tuple[str, ...], weighed_share: float = 0.05) -> Record:
    """A record of `load_count` loads in `job_count` jobs, about 2.5 legs a load in the states named.

    A share of the loads has readings of steer, drive and trailer axles. Everything is drawn from one fixed seed.
    """
    rng = np.random.default_rng(20261125)
    n, j = load_count, job_count
    job_of_load = np.sort(rng.integers(0, j, n))
    job_names = _codes("J", np.arange(j))
    tables: dict[str, pl.DataFrame] = {}
    home = rng.integers(0, len(states), j)
    tables["job"] = _table(
        "job", job_names, {"state": [states[h] for h in home], "sold_by_load": np.ones(j, bool), "operation_start": pl.Series([FIRST_DAY] * j)}
    )  # fmt: skip
    truck_job = np.repeat(np.arange(j), TRUCKS_PER_JOB)
    truck = _codes("T", np.tile(np.arange(TRUCKS_PER_JOB), j))
    trailer = _codes("L", np.tile(np.arange(TRUCKS_PER_JOB), j))
    tables["trucks"] = _table("trucks", job_names.gather(truck_job), {"truck": truck, "kind": ["tractor"] * len(truck)})
    tables["trailers"] = _table(
        "trailers", job_names.gather(truck_job), {"trailer": trailer, "kind": ["frame"] * len(truck), "has_bunks_and_stakes": np.ones(len(truck), bool)}
    )  # fmt: skip
    m = len(truck)
    positions = np.array([0.0, 12.0, 16.5, 45.0, 49.2])
    tables["axles"] = _table(
        "axles",
        job_names.gather(np.repeat(truck_job, 5)),
        {
            "truck": truck.gather(np.repeat(np.arange(m), 5)), "trailer": trailer.gather(np.repeat(np.arange(m), 5)),
            "axle": np.tile(np.arange(1, 6), m), "position_ft": np.tile(positions, m), "lift_axle": np.zeros(5 * m, bool),
        },
    )  # fmt: skip
    d = DESTINATIONS_PER_JOB * j
    destination_job = np.repeat(np.arange(j), DESTINATIONS_PER_JOB)
    destination = _codes("M", np.tile(np.arange(DESTINATIONS_PER_JOB), j))
    radius = pl.Series(np.where(rng.random(d) < 0.1, np.nan, rng.uniform(5, 170, d).round(1))).fill_nan(None)
    tables["destinations"] = _table(
        "destinations", job_names.gather(destination_job), {"destination": destination, "kind": ["first_processing"] * d, "haul_radius_miles": radius}
    )  # fmt: skip
    legs_of = rng.integers(1, 5, d)
    total = int(legs_of.sum())
    of = np.repeat(np.arange(d), legs_of)
    leg = np.concatenate([np.arange(1, k + 1) for k in legs_of])
    neighbour = (home[destination_job[of]] + (rng.random(total) < 0.15)) % len(states)
    tables["legs"] = _table(
        "legs",
        job_names.gather(destination_job[of]),
        {
            "destination": destination.gather(of), "leg": leg, "state": [states[s] for s in neighbour],
            "road_class": rng.choice(["interstate", "us_route", "state_route", "county_road"], total, p=[0.1, 0.3, 0.4, 0.2]),
            "miles": rng.uniform(2, 40, total).round(1), "postings_checked": rng.random(total) < 0.9,
            "posted_bridge_gross_lb": pl.Series(np.where(rng.random(total) < 0.95, np.nan, rng.choice([40000, 56000, 73280], total))).fill_nan(None),
            "pickup_or_delivery": rng.random(total) < 0.5,
        },
    )  # fmt: skip
    t_of_load = rng.integers(0, TRUCKS_PER_JOB, n)
    gross = pl.Series(np.where(rng.random(n) < 0.02, np.nan, rng.normal(79_500, 3_500, n).round(-1))).fill_nan(None)
    tare = pl.Series(rng.normal(27_000, 500, n).round(-1))
    days = (job_of_load * 7919) % (DAYS - 60) + rng.integers(0, 60, n)
    ticket = _codes("", np.arange(n))
    tables["loads"] = _table(
        "loads",
        job_names.gather(job_of_load),
        {
            "load": ticket, "ticket_number": ticket, "load_date": pl.Series([FIRST_DAY]).new_from_index(0, n) + pl.Series(days).cast(pl.Int64) * timedelta(days=1),
            "truck": _codes("T", t_of_load), "trailer": _codes("L", t_of_load), "destination": _codes("M", rng.integers(0, DESTINATIONS_PER_JOB, n)),
            "product": rng.choice(["sawlogs", "pulpwood", "chips"], n, p=[0.6, 0.35, 0.05]), "origin_kind": ["forest"] * n,
            "gross_weight_lb": gross, "tare_weight_lb": tare, "net_weight_lb": gross - tare, "scale_kind": ["mill_platform"] * n,
            "unitized": np.zeros(n, bool), "load_height_ft": rng.normal(12.8, 0.3, n).round(1), "rear_overhang_ft": rng.uniform(0, 6, n).round(1),
        },
    )  # fmt: skip
    weighed = np.flatnonzero(rng.random(n) < weighed_share)
    third = np.repeat(weighed, 3)
    tables["axle_weights"] = _table(
        "axle_weights",
        job_names.gather(job_of_load[third]),
        {
            "load": ticket.gather(third), "first_axle": np.tile([1, 2, 4], len(weighed)), "last_axle": np.tile([1, 3, 5], len(weighed)),
            "weight_lb": (np.nan_to_num(gross.to_numpy(), nan=79_000.0)[third] * np.tile([0.14, 0.43, 0.43], len(weighed))).round(-1),
        },
    )  # fmt: skip
    usual = job_names.gather(truck_job)
    tables["stacks"] = _table(
        "stacks", usual, {"truck": truck, "stack": np.ones(m, int), "orientation": ["lengthwise"] * m, "shortest_log_ft": np.full(m, 20.0), "longest_log_ft": np.full(m, 40.0), "bunk_count": np.full(m, 2)}
    )  # fmt: skip
    tables["tiedowns"] = _table(
        "tiedowns", usual,
        {"truck": truck, "tiedown": np.ones(m, int), "count": rng.integers(1, 4, m), "kind": ["tiedown"] * m, "material": ["chain"] * m, "size_in": np.full(m, 0.375),
         "grade": ["70"] * m, "routing": ["over_to_other_side"] * m, "defective": np.zeros(m, bool), "tightenable": np.ones(m, bool)},
    )  # fmt: skip
    for name in TABLES:
        if name not in tables:
            tables[name] = _table(name, pl.Series([], dtype=pl.String), {f.name: [] for f in TABLES[name].fields})
    declared = pl.DataFrame(schema={"job": pl.String, "table": pl.String, "from": pl.Date, "until": pl.Date})
    return Record(tables=tables, evidence=(), declared=declared, criteria={}, notes=())
