"""The views of worked ground: roads and trails, their drains and the stretches between, ruts, decks, sowings."""

from __future__ import annotations

import polars as pl

from auditor.check.views.base import PROVENANCE
from auditor.check.views.site_base import (
    BANK_METHOD,
    BANK_SLOPE,
    Definitions,
    Tables,
    doubt_ft,
    finished,
    holidays,
    joined,
    near_water,
    own_rows,
    rows_of,
    with_job,
    with_widths,
)
from auditor.measures import trails as measures
from auditor.measures.crossings import angle_to_line_deg
from auditor.measures.deadlines import day_of_common_year, days_after, days_or_so_far, working_days_after
from auditor.measures.rollups import listed_count, share_pct
from auditor.rules import kleene
from auditor.vocabulary.ground import DRAIN_KINDS

_SEGMENT = ["job", "segment"]
_ENDS = ("lo", "hi")
_BARE = "none"
_WALKED = ("walked_on", "closed_on")


def segments(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each road, skid trail or firelane with its grades, ruts and drains.

    What is steep and what is a rut the place's definitions `steep` (`over_pct`, `at_it_too`) and `ruts` (`over_depth_in`)
    say; without them the lengths are blank.
    """
    rows = _with_grades(_segments(tables), tables)
    steep = definitions.get("steep", {})
    if steep.get("over_pct") is not None:
        at_it_too = bool(steep.get("at_it_too", False))
        found = measures.steep_extent(
            tables["segments"], tables["pitches"], over_pct=steep["over_pct"], at_it_too=at_it_too
        )
        rows = joined(rows, found, "segment")
    depth = definitions.get("ruts", {}).get("over_depth_in")
    if depth is not None:
        rows = joined(rows, measures.rut_extent(tables["ruts"], tables["segments"], over_depth_in=depth), "segment")
    drains = listed_count(rows, tables["drains"], _SEGMENT, listed="drains_listed")
    cover = pl.col("cover_on")
    rows = rows.with_columns(
        *(drains[f"count__{end}"].alias(f"drain_count__{end}") for end in _ENDS),
        *_until_cover(definitions, "walked_on"),
        days_to_cover=days_after(cover, pl.col("closed_on")),
        working_days_to_cover=working_days_after(cover, pl.col("first_disturbed_on"), holidays=holidays(definitions)),
    )
    return finished("segments", rows, *_WALKED)


def drain_gaps(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each stretch of a segment without a drain of the kinds that count together, ends included.

    The place's definition `drain_gaps` names `groups` of kinds; a segment has its stretches once for each group. Without
    it all kinds count together.
    """
    groups = definitions.get("drain_gaps", {}).get("groups", {"all": DRAIN_KINDS})
    own, drains = tables["segments"], tables["drains"]
    parts = []
    for group, kinds in groups.items():
        gaps = measures.drain_gaps(own, drains, kinds=kinds)
        others = measures.other_drains_inside(gaps, own, drains, kinds=kinds)
        parts.append(gaps.hstack(others).with_columns(drain_group=pl.lit(group)))
    found = pl.concat(parts)
    grades = measures.stretch_grades(found, tables["pitches"])
    found = found.with_columns(
        measures.gap_uncertainty_ft(found, drains),
        grades["mean_grade_pct"].alias("_mean"),
        grades["steepest_grade_pct__hi"].alias("_steepest"),
    )
    rows = joined(found, _segments(tables), "segment").with_columns(
        gap_grade_pct__lo=pl.coalesce("_mean", "grade_pct"), gap_grade_pct__hi=pl.coalesce("_steepest", "grade_pct")
    )
    return finished("drain_gaps", rows, *_WALKED)


def drains(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each structure that turns water off a segment, with the segment and the grade at its place."""
    own = rows_of(tables, "drains", "segments").rename({"kind": "drain_kind"})
    grade = measures.local_grade_pct(own, tables["pitches"])
    rows = joined(own, _segments(tables).drop("subject", *PROVENANCE), "segment")
    rows = rows.with_columns(
        days_storm_to_check=days_after(pl.col("checked_after_storm_on"), pl.col("first_storm_on")),
        drain_angle_deg=angle_to_line_deg(pl.col("angle_deg"), pl.col("angle_from"), "centre_line"),
        local_grade_pct=pl.coalesce(grade, pl.col("grade_pct")),
    )
    return finished("drains", rows, *_WALKED)


def ruts(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each rut, on a road or trail or off any, with what its segment is."""
    of_segment = tables["segments"].select(
        *_SEGMENT, pl.col("kind").alias("segment_kind"), pl.col("permanent").alias("segment_permanent")
    )
    rows = joined(with_job(own_rows(tables, "ruts"), tables), of_segment, "segment")
    return finished("ruts", rows, "made_on")


def decks(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each deck with the water nearest to it; its skidding distance by the trails that lead to it, else as recorded.

    Its distance from the water is measured over the slope between both, not over that of its own ground.
    """
    renamed = {"slope_pct": "deck_slope_pct", "longest_skid_ft": "_skid"}
    rows = near_water(own_rows(tables, "decks").rename(renamed), tables, definitions)
    slope = pl.coalesce("slope_to_water_pct", BANK_SLOPE)
    rows = with_widths(rows, definitions, ["distance_from_bank_ft"], slope=slope)
    trails = tables["segments"].filter(pl.col("kind").cast(pl.String) == "skid_trail")
    rows = joined(rows, measures.skidding_distances(trails), "deck")
    low, high = _else_recorded("longest_skid_ft", pl.col("_skid"))
    rows = rows.with_columns(
        low,
        high,
        *_until_cover(definitions, "visited_on"),
        distance_doubt_ft=doubt_ft("distance_uncertainty_ft", pl.col(BANK_METHOD)),
        deck_share_pct=share_pct(pl.col("area_acres"), pl.col("served_acres")),
        days_to_cover=days_after(pl.col("cover_on"), pl.col("closed_on")),
    )
    return finished("decks", rows, "closed_on")


def seedings(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each sowing with its rate of pure live seed and its day of the year."""
    rows = with_job(own_rows(tables, "seedings"), tables)
    rate = measures.pls_rate_lb_per_ac(pl.col("bulk_rate_lb_per_ac"), pl.col("purity_pct"), pl.col("germination_pct"))
    rows = rows.with_columns(
        pls_rate_lb_per_ac=pl.coalesce(pl.col("pls_rate_lb_per_ac"), rate),
        sown_month=pl.col("sown_on").dt.month(),
        sown_day_of_year=day_of_common_year(pl.col("sown_on")),
    )
    return finished("seedings", rows, "sown_on")


def _until_cover(definitions: Definitions, looked_on: str) -> list[pl.Expr]:
    """Both ends of the days from closing and from grading to cover; bare on the day it was looked at: at least so long."""
    bare = pl.col("cover").cast(pl.String) == _BARE

    def working(day: str) -> pl.Expr:
        return working_days_after(pl.col(day), pl.col("closed_on"), holidays=holidays(definitions))

    def days(day: str) -> pl.Expr:
        return days_after(pl.col(day), pl.col("graded_on"))

    spans = {
        "working_days_closed_to_cover": days_or_so_far(working("cover_on"), working(looked_on), bare),
        "days_graded_to_cover": days_or_so_far(days("cover_on"), days(looked_on), bare),
    }
    return [span[end].alias(f"{name}__{end}") for name, span in spans.items() for end in _ENDS]


def _segments(tables: Tables) -> pl.DataFrame:
    return with_job(own_rows(tables, "segments").rename({"kind": "segment_kind"}), tables)


def _with_grades(rows: pl.DataFrame, tables: Tables) -> pl.DataFrame:
    """Mean and steepest grade of whole segments by their pitches, else as recorded."""
    whole = rows.select(*_SEGMENT, pl.lit(0.0).alias("from_ft"), pl.col("length_ft").alias("to_ft"))
    rows = rows.rename({"steepest_grade_pct": "_recorded"})
    rows = rows.hstack(measures.stretch_grades(whole, tables["pitches"]))
    low, high = _else_recorded("steepest_grade_pct", pl.col("_recorded"))
    return rows.with_columns(low, high, mean_grade_pct=pl.coalesce("mean_grade_pct", "grade_pct"))


def _else_recorded(name: str, recorded: pl.Expr) -> tuple[pl.Expr, pl.Expr]:
    """Both ends of a greatest value of parts: by the parts where all are known, else as recorded for the whole.

    A known part that is greater than what was recorded speaks against it.
    """
    low, high = pl.col(f"{name}__lo"), pl.col(f"{name}__hi")
    either = kleene.greatest_candidate([low, recorded])
    whole = pl.when(high.is_not_null()).then(high).when(recorded.is_not_null()).then(either)
    return pl.when(high.is_not_null()).then(low).otherwise(either).alias(f"{name}__lo"), whole.alias(f"{name}__hi")
