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


class _Maker:
    """Draws the tables of one big record from one fixed seed."""

    def __init__(self, load_count: int, job_count: int, states: tuple[str, ...]) -> None:
        self.rng = np.random.default_rng(20261125)
        self.loads, self.jobs, self.states = load_count, job_count, states
        self.names = _codes("J", np.arange(job_count))
        self.home = self.rng.integers(0, len(states), job_count)
        self.job_of_load = np.sort(self.rng.integers(0, job_count, load_count))
        self.truck_job = np.repeat(np.arange(job_count), TRUCKS_PER_JOB)
        self.truck = _codes("T", np.tile(np.arange(TRUCKS_PER_JOB), job_count))
        self.trailer = _codes("L", np.tile(np.arange(TRUCKS_PER_JOB), job_count))

    def job(self) -> pl.DataFrame:
        start = pl.Series([FIRST_DAY] * self.jobs)
        state = [self.states[h] for h in self.home]
        columns = {"state": state, "sold_by_load": np.ones(self.jobs, bool), "operation_start": start}
        return _table("job", self.names, columns)

    def vehicles(self) -> dict[str, pl.DataFrame]:
        owner, many = self.names.gather(self.truck_job), len(self.truck)
        five = np.repeat(np.arange(many), 5)
        axles = {
            "truck": self.truck.gather(five),
            "trailer": self.trailer.gather(five),
            "axle": np.tile(np.arange(1, 6), many),
            "position_ft": np.tile(np.array([0.0, 12.0, 16.5, 45.0, 49.2]), many),
            "lift_axle": np.zeros(5 * many, bool),
        }
        trailers = {"trailer": self.trailer, "kind": ["frame"] * many, "has_bunks_and_stakes": np.ones(many, bool)}
        return {
            "trucks": _table("trucks", owner, {"truck": self.truck, "kind": ["tractor"] * many}),
            "trailers": _table("trailers", owner, trailers),
            "axles": _table("axles", self.names.gather(self.truck_job[five]), axles),
        }

    def roads(self) -> dict[str, pl.DataFrame]:
        rng, many = self.rng, DESTINATIONS_PER_JOB * self.jobs
        job = np.repeat(np.arange(self.jobs), DESTINATIONS_PER_JOB)
        name = _codes("M", np.tile(np.arange(DESTINATIONS_PER_JOB), self.jobs))
        radius = _some(rng, rng.uniform(5, 170, many).round(1), blank=0.1)
        columns = {"destination": name, "kind": ["first_processing"] * many, "haul_radius_miles": radius}
        legs_of = rng.integers(1, 5, many)
        of, total = np.repeat(np.arange(many), legs_of), int(legs_of.sum())
        state = (self.home[job[of]] + (rng.random(total) < 0.15)) % len(self.states)
        road = ["interstate", "us_route", "state_route", "county_road"]
        legs = {
            "destination": name.gather(of),
            "leg": np.concatenate([np.arange(1, k + 1) for k in legs_of]),
            "state": [self.states[s] for s in state],
            "road_class": rng.choice(road, total, p=[0.1, 0.3, 0.4, 0.2]),
            "miles": rng.uniform(2, 40, total).round(1),
            "postings_checked": rng.random(total) < 0.9,
            "posted_bridge_gross_lb": _some(rng, rng.choice([40000.0, 56000.0, 73280.0], total), blank=0.95),
            "pickup_or_delivery": rng.random(total) < 0.5,
        }
        return {
            "destinations": _table("destinations", self.names.gather(job), columns),
            "legs": _table("legs", self.names.gather(job[of]), legs),
        }

    def tickets(self, weighed_share: float) -> dict[str, pl.DataFrame]:
        rng, n = self.rng, self.loads
        of_truck, owner = rng.integers(0, TRUCKS_PER_JOB, n), self.names.gather(self.job_of_load)
        gross = _some(rng, rng.normal(79_500, 3_500, n).round(-1), blank=0.02)
        tare = pl.Series(rng.normal(27_000, 500, n).round(-1))
        days = pl.Series((self.job_of_load * 7919) % (DAYS - 60) + rng.integers(0, 60, n)).cast(pl.Int64)
        ticket = _codes("", np.arange(n))
        loads = {
            "load": ticket, "ticket_number": ticket,
            "load_date": pl.Series([FIRST_DAY]).new_from_index(0, n) + days * timedelta(days=1),
            "truck": _codes("T", of_truck), "trailer": _codes("L", of_truck),
            "destination": _codes("M", rng.integers(0, DESTINATIONS_PER_JOB, n)),
            "product": rng.choice(["sawlogs", "pulpwood", "chips"], n, p=[0.6, 0.35, 0.05]),
            "origin_kind": ["forest"] * n, "gross_weight_lb": gross, "tare_weight_lb": tare,
            "net_weight_lb": gross - tare, "scale_kind": ["mill_platform"] * n, "unitized": np.zeros(n, bool),
            "load_height_ft": rng.normal(12.8, 0.3, n).round(1), "rear_overhang_ft": rng.uniform(0, 6, n).round(1),
        }  # fmt: skip
        third = np.repeat(np.flatnonzero(rng.random(n) < weighed_share), 3)
        many = len(third) // 3
        share = np.tile([0.14, 0.43, 0.43], many)
        weights = {
            "load": ticket.gather(third), "first_axle": np.tile([1, 2, 4], many), "last_axle": np.tile([1, 3, 5], many),
            "weight_lb": (gross.fill_null(79_000).to_numpy()[third] * share).round(-1),
        }  # fmt: skip
        return {
            "loads": _table("loads", owner, loads),
            "axle_weights": _table("axle_weights", owner.gather(third), weights),
        }

    def securement(self) -> dict[str, pl.DataFrame]:
        owner, many = self.names.gather(self.truck_job), len(self.truck)
        stacks = {
            "truck": self.truck, "stack": np.ones(many, int), "orientation": ["lengthwise"] * many,
            "shortest_log_ft": np.full(many, 20.0), "longest_log_ft": np.full(many, 40.0),
            "bunk_count": np.full(many, 2),
        }  # fmt: skip
        lines = {
            "truck": self.truck, "tiedown": np.ones(many, int), "count": self.rng.integers(1, 4, many),
            "kind": ["tiedown"] * many, "material": ["chain"] * many, "size_in": np.full(many, 0.375),
            "grade": ["70"] * many, "routing": ["over_to_other_side"] * many, "defective": np.zeros(many, bool),
            "tightenable": np.ones(many, bool),
        }  # fmt: skip
        return {"stacks": _table("stacks", owner, stacks), "tiedowns": _table("tiedowns", owner, lines)}


def _some(rng: np.random.Generator, values: np.ndarray, blank: float) -> pl.Series:
    """The values, a share of them blank."""
    return pl.Series(np.where(rng.random(len(values)) < blank, np.nan, values)).fill_nan(None)


def big_record(load_count: int, job_count: int, states: tuple[str, ...], weighed_share: float = 0.05) -> Record:
    """A record of `load_count` loads in `job_count` jobs, about 2.5 legs a load in the states named.

    A share of the loads has readings of steer, drive and trailer axles.
    """
    made = _Maker(load_count, job_count, states)
    tables = {"job": made.job(), **made.vehicles(), **made.roads(), **made.tickets(weighed_share), **made.securement()}
    for name, table in TABLES.items():
        if name not in tables:
            tables[name] = _table(name, pl.Series([], dtype=pl.String), {f.name: [] for f in table.fields})
    declared = pl.DataFrame(schema={"job": pl.String, "table": pl.String, "from": pl.Date, "until": pl.Date})
    return Record(tables=tables, evidence=(), declared=declared, criteria={}, notes=())
