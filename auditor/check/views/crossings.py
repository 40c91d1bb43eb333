"""The views of stream crossings: each crossing, its approaches, its pipes.

A crossing is judged by the rules of the day it was removed, else of the day it was visited: then it was as recorded. The
day it was built may lie long before the job.
"""

from __future__ import annotations

import polars as pl

from auditor.check.views.site_base import (
    Definitions,
    Tables,
    finished,
    holidays,
    joined,
    own_rows,
    rows_of,
    with_job,
    with_stream,
)
from auditor.measures.crossings import (
    angle_to_line_deg,
    approach_length_ft,
    channel_opening_sqft,
    cover_required_ft,
    days_in_place,
    pipe_beyond_fill_ft,
    pipe_gap_share,
    pipe_openings,
)
from auditor.measures.deadlines import days_or_so_far, working_days_after
from auditor.measures.rollups import whole_greatest

_JUDGED = ("removed_on", "visited_on")
_OF_CROSSING = (
    "stream", "crossing_type", "temporary", "existing", "first_disturbed_on", "removed_on", "visited_on",
)  # fmt: skip
_BARE = "none"
_STREAM_LINE = "stream_line"


def crossings(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each crossing with its stream and its pipes together; the land that drains to it is its own, not the stream's."""
    area = "drainage_area_acres"
    rows = with_job(own_rows(tables, "crossings").rename({area: "_area"}), tables)
    rows = with_stream(rows, tables, definitions).drop(area).rename({"_area": area})
    rows = joined(rows, pipe_openings(tables["pipes"]), "crossing")
    rows = joined(rows, _largest_pipes(tables), "crossing")
    stood = days_in_place(*(pl.col(c) for c in ("installed_on", "removed_on", "in_place", "visited_on")))
    rows = rows.with_columns(
        *(stood[end].alias(f"days_in_place__{end}") for end in ("lo", "hi")),
        *_to_cover(definitions),
        crossing_angle_deg=angle_to_line_deg(pl.col("angle_deg"), pl.col("angle_from"), _STREAM_LINE),
        channel_opening_sqft=channel_opening_sqft(
            pl.col("top_width_ft"), pl.col("bottom_width_ft"), pl.col("channel_depth_ft")
        ),
    )
    return finished("crossings", rows, *_JUDGED)


def approaches(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """The road on either side of each crossing, with the crossing and its stream."""
    rows = _at_crossing("approaches", tables, definitions)
    length = approach_length_ft(pl.col("length_ft"), pl.col("nearest_drain_ft"), pl.col("drained_before_water"))
    rows = rows.with_columns(
        *(length[end].alias(f"approach_length_ft__{end}") for end in ("lo", "hi")),
        *_to_cover(definitions),
        approach_angle_deg=angle_to_line_deg(pl.col("angle_deg"), pl.col("angle_from"), _STREAM_LINE),
    )
    return finished("approaches", rows, *_JUDGED)


def pipes(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each line of like pipes, with its crossing and its stream."""
    rows = joined(_at_crossing("pipes", tables, definitions), _largest_pipes(tables), "crossing")
    diameter = pl.col("diameter_in")
    beyond = pipe_beyond_fill_ft(pl.col("beyond_fill_ft"), pl.col("length_ft"), pl.col("fill_width_ft"))
    rows = rows.with_columns(
        *(beyond[end].alias(f"beyond_fill_ft__{end}") for end in ("lo", "hi")),
        half_diameter_ft=cover_required_ft(diameter, least_ft=0, diameter_share=0.5),
        pipe_gap_share=pipe_gap_share(pl.col("between_pipes_ft"), diameter),
    )
    return finished("pipes", rows, *_JUDGED)


def _largest_pipes(tables: Tables) -> pl.DataFrame:
    """The diameter of the largest pipe of each crossing that has any."""
    largest = whole_greatest(pl.col("diameter_in")).alias("largest_pipe_in")
    return tables["pipes"].group_by("job", "crossing").agg(largest)


def _at_crossing(table: str, tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """The rows of a table with their crossing, its stream and their job."""
    own = tables["crossings"].select("job", "crossing", *_OF_CROSSING)
    rows = with_job(joined(rows_of(tables, table, "crossings"), own, "crossing"), tables)
    return with_stream(rows, tables, definitions)


def _to_cover(definitions: Definitions) -> list[pl.Expr]:
    """Both ends of the working days from the first disturbance at the crossing to the cover of the row."""

    def working(day: str) -> pl.Expr:
        return working_days_after(pl.col(day), pl.col("first_disturbed_on"), holidays=holidays(definitions))

    bare = pl.col("cover").cast(pl.String) == _BARE
    span = days_or_so_far(working("cover_on"), working("visited_on"), bare)
    return [span[end].alias(f"working_days_to_cover__{end}") for end in ("lo", "hi")]
