"""The view of readings in the water."""

from __future__ import annotations

from typing import Final

import polars as pl

from auditor.check.views.site_base import Definitions, Tables, finished, rows_of, with_job, with_stream
from auditor.measures.water import temperature_rises_f

TOGETHER_H: Final = 1.0
"""How far apart in time two readings may be to be held against each other; our choice."""


def water_readings(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each reading in a water with its stream, and how much warmer it was than above the harvest about the same time."""
    own = rows_of(tables, "water_readings", "streams")
    rows = own.hstack(temperature_rises_f(own, within_h=TOGETHER_H))
    return finished("water_readings", with_stream(with_job(rows, tables), tables, definitions), "read_on")
