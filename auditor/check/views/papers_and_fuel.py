"""The views of fuel, spills, notices, the job as a whole and judgements made on the ground."""

from __future__ import annotations

import polars as pl

from auditor.check.views.base import PLACE, PROVENANCE
from auditor.check.views.site_base import (
    BANK_METHOD,
    BANK_SLOPE,
    Definitions,
    Tables,
    declared_whole,
    doubt_ft,
    finished,
    holidays,
    joined,
    listed_words,
    near_water,
    own_rows,
    with_job,
    with_stream,
    with_widths,
)
from auditor.measures.deadlines import days_after, hours_after, working_days_after, years_after
from auditor.measures.fuel import bund_volumes_gal, oil_capacity_gal
from auditor.measures.papers import missing_contents, ticket_missing_count
from auditor.measures.rollups import listed_count
from auditor.vocabulary.ground import NOTICE_KINDS

_SITE = ["job", "site"]
_ENDS = ("lo", "hi")
_START, _END = "harvest_start", "harvest_end"
_OPEN = "could_not_tell"


def fuel_sites(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """The oil containers of each place of a job together; a job without any has no row.

    A blank `site` is the one place of the job. A container counts from the size on that the place's definition
    `spill_plan` gives as `least_gal`; without it the capacities are blank. Tanks that drive a machine never count.
    """
    tanks = tables["tanks"]
    rows = tanks.select(_SITE).unique(maintain_order=True).sort("site", maintain_order=True, nulls_last=True)
    for name, buried in (("oil_capacity_gal", False), ("buried_capacity_gal", True)):
        rows = _with_capacity(rows, tanks, definitions, name, buried=buried)
    return finished("fuel_sites", _of_job(rows, tables, "spill_could_reach_water"))


def tanks(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each container for oil or fuel with the water nearest to it, its bund, and the capacity of its place."""
    own = own_rows(tables, "tanks")
    rows = near_water(own.hstack(bund_volumes_gal(own)), tables, definitions)
    rows = with_widths(rows, definitions, ["distance_from_bank_ft"], slope=pl.col(BANK_SLOPE))
    rows = _with_capacity(rows, tables["tanks"], definitions, "site_capacity_gal", buried=False)
    rows = joined(rows, tables["job"].select("job", "spill_could_reach_water"))
    doubt = doubt_ft("distance_uncertainty_ft", pl.col(BANK_METHOD))
    return finished("tanks", rows.with_columns(distance_doubt_ft=doubt), "placed_on")


def _with_capacity(
    rows: pl.DataFrame, tanks: pl.DataFrame, definitions: Definitions, name: str, *, buried: bool
) -> pl.DataFrame:
    """The rows, which have `site`, with the capacity of that place as `name`, where the place's law says what counts."""
    least = definitions.get("spill_plan", {}).get("least_gal")
    if least is None:
        return rows
    found = oil_capacity_gal(tanks, _SITE, least_gal=least, buried=buried)
    found = found.rename({f"oil_capacity_gal__{end}": f"{name}__{end}" for end in _ENDS})
    return rows.join(found, on=_SITE, how="left", nulls_equal=True, maintain_order="left", validate="m:1")


def spills(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each spill or leak with the hours until it was reported."""
    rows = with_job(own_rows(tables, "spills"), tables)
    hours = hours_after(*(pl.col(c) for c in ("reported_on", "reported_at", "learned_on", "learned_at")))
    rows = rows.with_columns(hours[end].alias(f"hours_to_report__{end}") for end in _ENDS)
    return finished("spills", rows, "learned_on")


def notices(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each notice against the days of the operation.

    The clock time of a start or an end is that of the notice's own event, where that was on the same day; else any of the
    day. What a notice has to state the place's definition `notice` lists as `contents`; without it count and words are blank.
    """
    own = own_rows(tables, "notices").rename({"kind": "notice_kind"})
    job = tables["job"].select("job", "entered_on", "harvest_completed_on", "local_notice_ordinance", "planned_end")
    rows = joined(with_job(own, tables), job)
    given, given_at = pl.col("given_on"), pl.col("given_at")
    start, entered, end = (pl.col(c) for c in ("operation_start", "entered_on", "harvest_completed_on"))
    hours = {
        "hours_after_entry": hours_after(given, given_at, entered, _event_at(_START, entered)),
        "hours_before_start": hours_after(start, _event_at(_START, start), given, given_at),
        "hours_after_end": hours_after(given, given_at, end, _event_at(_END, end)),
    }
    rows = rows.with_columns(
        *(span[end_].alias(f"{name}__{end_}") for name, span in hours.items() for end_ in _ENDS),
        working_days_after_start=working_days_after(given, start, holidays=holidays(definitions)),
        days_after_start=days_after(given, start),
        days_before_start=days_after(start, given),
        days_after_event=days_after(given, pl.col("event_on")),
        working_days_after_event=working_days_after(given, pl.col("event_on"), holidays=holidays(definitions)),
    )
    asked = definitions.get("notice", {}).get("contents")
    if asked is not None:
        missing = missing_contents(rows["contents"], asked)
        rows = rows.with_columns(ticket_missing_count(rows["contents"], asked).alias("notice_missing_count"), missing)
    return finished("notices", rows, "given_on")


def notice_duties(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each job and each kind of notice: how many were given, and to whom. None is certain only where the list is whole."""
    kinds = pl.DataFrame({"notice_kind": NOTICE_KINDS})
    rows = tables["job"].select("job").join(kinds, how="cross", maintain_order="left_right")
    rows = joined(rows, declared_whole(tables, "notices"))
    given = tables["notices"].with_columns(notice_kind=pl.col("kind").cast(pl.String))
    counts = listed_count(rows, given, ["job", "notice_kind"], listed="_whole")
    rows = joined(rows, listed_words({"notices": given}, "notices", "given_to", "job", "notice_kind"), "notice_kind")
    none = pl.when("_whole").then(pl.lit([], dtype=pl.List(pl.String)))
    rows = rows.with_columns(
        *(counts[f"count__{end}"].alias(f"notice_count__{end}") for end in _ENDS),
        told=pl.coalesce("_words", none),
        told_whole=pl.col("_whole").fill_null(False) & ~pl.col("_blank").fill_null(False),
    )
    asked = (
        "local_notice_ordinance", "violation_found_on", "violations_checked", "bad_actor", "temporary_master_logger",
        "harvested_acres", "tract_acres",
    )  # fmt: skip
    found, start = pl.col("violation_found_on"), pl.col("operation_start")
    since = pl.coalesce(years_after(start, found), -years_after(found, start))
    return finished("notice_duties", _of_job(rows, tables, *asked).with_columns(violation_to_start_years=since))


def jobs(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each job as a whole."""
    rows = own_rows(tables, "job")
    shared = with_job(rows.select("job"), tables)
    rows = joined(rows.drop(c for c in rows.columns if c in shared.columns and c != "job"), shared)
    late = days_after(pl.col("reclaimed_on"), pl.col("planned_end"))
    return finished("jobs", rows.with_columns(days_reclaimed_after_plan=late))


def observations(tables: Tables, definitions: Definitions) -> pl.DataFrame:
    """Each judgement with the stream of the place it is about: of a bank, a stream or a crossing; else blank.

    Who could not tell gave no answer.
    """
    rows = with_job(own_rows(tables, "observations"), tables)
    kind, place = pl.col("place_kind").cast(pl.String), pl.col("place")
    banks = tables["banks"].select(
        "job", pl.col("bank").alias("place"), pl.col("stream").alias("_bank"), pl.col("harvested_on").alias("_cut_on")
    )
    crossings = tables["crossings"].select(
        "job", pl.col("crossing").alias("place"), pl.col("stream").alias("_crossing")
    )
    rows = joined(joined(rows, banks, "place"), crossings, "place")
    stream = pl.when(kind == "stream").then(place).when(kind == "bank").then("_bank")
    rows = rows.with_columns(stream=stream.when(kind == "crossing").then("_crossing"))
    rows = with_stream(rows, tables, definitions, cut_on=pl.when(kind == "bank").then("_cut_on"))
    told = pl.col("answer").cast(pl.String) != _OPEN
    return finished("observations", rows.with_columns(answer=pl.when(told).then("answer")), "observed_on")


def _of_job(rows: pl.DataFrame, tables: Tables, *names: str) -> pl.DataFrame:
    """Rows that stand for a part of a job, with provenance, place and the named columns of the job."""
    own = own_rows(tables, "job").select("job", "subject", *names, *PROVENANCE)
    return joined(with_job(rows, tables), own).sort(PLACE, maintain_order=True)


def _event_at(kind: str, day: pl.Expr) -> pl.Expr:
    """The clock time of what a notice of that kind tells of, if that was on `day`."""
    tells = (pl.col("notice_kind").cast(pl.String) == kind) & (pl.col("event_on") == day)
    return pl.when(tells).then(pl.col("event_at"))
