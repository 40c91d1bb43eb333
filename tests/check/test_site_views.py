"""The views of the harvest site as frames: their columns, their order, and that no row answers for another."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from auditor.check.views.site import SITE_BUILDERS, bank_outcomes
from auditor.check.views.site_base import rows_of
from auditor.vocabulary import TABLES, VIEWS, Field, site_views
from tests.check.site_record import DEFINITIONS, tables_of

PROVENANCE = {"_file": pl.String(), "_sheet": pl.String(), "_row": pl.UInt32(), "_place": pl.UInt32()}
TYPES: dict[str, pl.DataType] = {
    "text": pl.String(), "classes": pl.List(pl.String), "number": pl.Float64(), "whole": pl.Int64(),
    "yes_no": pl.Boolean(), "date": pl.Date(), "time": pl.Time(),
}  # fmt: skip
PIECES = {"job": pl.String, "subject": pl.String, "from_ft": pl.Float64, "to_ft": pl.Float64, "fails": pl.Boolean}

every_view = pytest.mark.parametrize("view", SITE_BUILDERS)
both_ways = pytest.mark.parametrize("definitions", [{}, DEFINITIONS], ids=["undefined", "defined"])


def _types(field: Field) -> dict[str, pl.DataType]:
    if field.interval:
        return {f"{field.name}__lo": pl.Float64(), f"{field.name}__hi": pl.Float64()}
    return {field.name: pl.Enum(field.classes) if field.kind == "class" else TYPES[field.kind]}


def _schema(view: str) -> dict[str, pl.DataType]:
    columns: dict[str, pl.DataType] = {"job": pl.String(), "subject": pl.String()}
    for field in VIEWS[view].fields:
        columns |= _types(field)
    return columns | PROVENANCE


def _shown(frame: pl.DataFrame, view: str) -> pl.DataFrame:
    """The rows in an order of their own, without where they stood in the file."""
    keys = ["job", "subject", *(c for c in VIEWS[view].item if c != "job")]
    return frame.drop("_row", "_place").sort(keys, maintain_order=True)


def _build(view: str, tables: Mapping[str, pl.DataFrame], definitions: Mapping[str, Any] = DEFINITIONS) -> pl.DataFrame:
    return SITE_BUILDERS[view](tables, definitions)


def test_every_view_of_the_first_stage_has_a_builder() -> None:
    assert list(SITE_BUILDERS) == [v.name for v in site_views.VIEWS if not v.second_stage]


@every_view
@both_ways
@pytest.mark.parametrize("jobs", ["AB", "E", ""], ids=["two jobs", "a job alone", "no job"])
def test_a_view_has_the_columns_of_the_vocabulary(view: str, definitions: Mapping[str, Any], jobs: str) -> None:
    assert dict(_build(view, tables_of(*jobs), definitions).schema) == _schema(view)


@pytest.mark.parametrize("rows", [[], [("A", "left", 0.0, 400.0, True)]])
def test_what_fails_of_a_bank_has_the_columns_of_the_vocabulary(rows: list[tuple[object, ...]]) -> None:
    found = bank_outcomes(tables_of("A", "B"), DEFINITIONS, pl.DataFrame(rows, schema=PIECES, orient="row"), None)
    assert dict(found.schema) == _schema("bank_outcomes")
    assert found.height == len(rows)


@every_view
def test_the_rich_record_reaches_every_view(view: str) -> None:
    assert _build(view, tables_of("A", "B")).height > 0


@every_view
@both_ways
def test_rows_are_kept_together_by_their_subject(view: str, definitions: Mapping[str, Any]) -> None:
    tables = tables_of("A", "B")
    found = _build(view, tables, definitions)
    assert found["_place"].null_count() == 0
    assert found["_place"].is_sorted()
    table = VIEWS[view].subject
    subjects = tables[table].select("job", pl.col(TABLES[table].key[0]).alias("subject")).with_row_index("_place")
    named = found.join(subjects, on="_place", how="left", maintain_order="left")
    assert named["subject"].equals(named["subject_right"])
    assert named["job"].equals(named["job_right"])


@every_view
def test_the_items_of_a_view_name_one_row(view: str) -> None:
    found = _build(view, tables_of("A", "B"))
    assert found.select("job", *(c for c in VIEWS[view].item if c != "job")).is_duplicated().sum() == 0


@every_view
@both_ways
@pytest.mark.parametrize("job", ["A", "B"])
def test_a_job_among_others_is_as_a_job_alone(view: str, definitions: Mapping[str, Any], job: str) -> None:
    alone = _build(view, tables_of(job), definitions)
    among = _build(view, tables_of("A", "B"), definitions).filter(pl.col("job") == job)
    assert_frame_equal(_shown(among, view), _shown(alone, view), check_exact=False, rel_tol=1e-12)


@every_view
@both_ways
def test_the_order_of_the_rows_tells_nothing(view: str, definitions: Mapping[str, Any]) -> None:
    tables = tables_of("A", "B")
    turned = {name: frame.reverse() for name, frame in tables.items()}
    assert_frame_equal(
        _shown(_build(view, turned, definitions), view), _shown(_build(view, tables, definitions), view),
        check_exact=False, rel_tol=1e-12,
    )  # fmt: skip


def test_a_bank_measured_from_its_other_end_is_the_same_bank() -> None:
    tables = tables_of("A", "B")
    lengths = tables["banks"].select("job", "bank", pl.col("length_ft").alias("_whole"))
    turned = tables["stations"].join(lengths, on=["job", "bank"], how="left", maintain_order="left")
    turned = turned.with_columns(along_ft=pl.col("_whole") - pl.col("along_ft")).drop("_whole")
    assert_frame_equal(_build("banks", {**tables, "stations": turned}), _build("banks", tables))


def test_a_trail_walked_from_its_other_end_has_the_same_gaps() -> None:
    tables = tables_of("A")
    whole = 1000.0
    drains = tables["drains"].with_columns(along_ft=whole - pl.col("along_ft"))
    pitches = tables["pitches"].with_columns(from_ft=whole - pl.col("to_ft"), to_ft=whole - pl.col("from_ft"))
    turned = _build("drain_gaps", {**tables, "drains": drains, "pitches": pitches})
    turned = turned.with_columns(from_ft=whole - pl.col("to_ft"), to_ft=whole - pl.col("from_ft"))

    def gaps(frame: pl.DataFrame) -> list[tuple[object, ...]]:
        values = ("gap_ft__lo", "gap_ft__hi", "gap_uncertainty_ft", "gap_grade_pct__lo", "gap_grade_pct__hi")
        own = frame.filter(pl.col("segment") == "T1").cast({"drain_group": pl.String})
        return own.sort("drain_group", "from_ft").select("drain_group", "from_ft", "to_ft", *values).rows()

    assert gaps(turned) == gaps(_build("drain_gaps", tables))


def test_the_law_of_the_act_holds_else_that_of_the_last_day_of_the_job() -> None:
    tables = tables_of("A", "B")

    def days(view: str) -> list[str]:
        return [str(day) for day in _build(view, tables)["judged_on"]]

    # left was cut on 20 March; right and head have no day; B names only the end of its harvest
    assert days("banks") == ["2024-03-20", "2024-03-29", "2024-03-29", "2023-06-30"]
    assert days("streams") == ["2024-03-29", "2024-03-29", "2023-06-30"]
    # X1 was taken out on the 28th, X2 visited on the 27th, X3 neither
    assert days("crossings") == ["2024-03-28", "2024-03-27", "2024-03-29", "2023-06-30"]
    # T1 was walked on the 28th, T2 closed on the 25th
    assert days("segments") == ["2024-03-28", "2024-03-25", "2024-03-29", "2023-06-30"]
    assert days("disturbances") == ["2024-03-08", "2024-03-29", "2024-03-29"]


def test_a_job_without_any_day_is_judged_on_none() -> None:
    assert _build("jobs", tables_of("E"))["judged_on"].to_list() == [None]


def test_a_row_whose_owner_is_not_there_stays() -> None:
    tables = tables_of("A")
    tables["banks"] = tables["banks"].filter(pl.col("bank") != "left")
    found = _build("stations", tables)
    assert found.height == tables["stations"].height
    lost = found.filter(pl.col("_place").is_null())
    assert lost["subject"].unique().to_list() == ["left"]
    # the job still tells the state, and the end of the operation the day
    assert lost["job_state"].unique().to_list() == ["US-SC"]
    assert lost["judged_on"].cast(pl.String).unique().to_list() == ["2024-03-29"]
    assert rows_of(tables, "stations", "banks")["_place"].to_list() == [0, 1, 1, None, None, None]
