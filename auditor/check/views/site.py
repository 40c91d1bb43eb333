"""The views of the harvest site by name. Each takes the tables of a record, all jobs at once, and a place's definitions."""

from __future__ import annotations

from collections.abc import Callable

import polars as pl

from auditor.check.views import banks, crossings, papers_and_fuel, strips, trails, water
from auditor.check.views.banks import bank_outcomes
from auditor.check.views.site_base import Definitions, Tables

SITE_BUILDERS: dict[str, Callable[[Tables, Definitions], pl.DataFrame]] = {
    "streams": banks.streams,
    "water_readings": water.water_readings,
    "stations": banks.stations,
    "banks": banks.banks,
    "strips": strips.strips,
    "stumps": banks.stumps,
    "disturbances": banks.disturbances,
    "crossings": crossings.crossings,
    "approaches": crossings.approaches,
    "pipes": crossings.pipes,
    "segments": trails.segments,
    "drain_gaps": trails.drain_gaps,
    "drains": trails.drains,
    "ruts": trails.ruts,
    "decks": trails.decks,
    "seedings": trails.seedings,
    "fuel_sites": papers_and_fuel.fuel_sites,
    "tanks": papers_and_fuel.tanks,
    "spills": papers_and_fuel.spills,
    "notices": papers_and_fuel.notices,
    "notice_duties": papers_and_fuel.notice_duties,
    "jobs": papers_and_fuel.jobs,
    "stand_units": strips.stand_units,
    "observations": papers_and_fuel.observations,
}
"""Every view of the site but `bank_outcomes`, which is made of the outcomes of another rule."""

__all__ = ["SITE_BUILDERS", "bank_outcomes"]
