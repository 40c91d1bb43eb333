from __future__ import annotations

import json

import pytest
from jsonschema import Draft202012Validator

from auditor.record import record_schema
from auditor.vocabulary import LAYERS, TABLES
from tests.record.jobs import Complain

JOB = {"job": "A", "state": "US-GA"}
LOAD = {"ticket_number": "1", "truck": "T1", "destination": "Mill A"}


def test_the_schema_is_a_schema_and_is_plain_json() -> None:
    Draft202012Validator.check_schema(record_schema())
    assert json.loads(json.dumps(record_schema())) == record_schema()


def test_every_field_but_the_made_one_is_in_the_schema() -> None:
    definitions = record_schema()["$defs"]
    for table in TABLES.values():
        if table.name != "job":
            made = {"load"} if table.name == "loads" else set()
            assert set(definitions[f"row_{table.name}"]["properties"]) == {f.name for f in table.fields} - made


@pytest.mark.parametrize(
    ("tables", "fits"),
    [
        ({"loads": "loads.csv"}, True),
        ({"loads": {"rows": [{**LOAD, "gross_weight_lb": 250000}]}}, True),
        ({"loads": {"rows": [{**LOAD, "gross_weight_lb": 250001}]}}, False),
        ({"loads": {"rows": [{**LOAD, "product": "bolts"}]}}, False),
        ({"loads": {"rows": [{"truck": "T1"}]}}, False),
        ({"stacks": {"rows": [{"truck": "T1", "stack": 1}]}}, True),
        ({"stacks": {"rows": [{"truck": "T1", "load": "1", "stack": 1}]}}, False),
        ({"loads": {"file": "a.csv", "columns": {"X": {"field": "note", "unit": "lb"}}}}, True),
        ({"loads": {"file": "a.csv", "columns": {"X": "no_such_field"}}}, False),
    ],
)
def test_rows_and_sources(tables: dict[str, object], fits: bool) -> None:
    assert Draft202012Validator(record_schema()).is_valid({**JOB, "tables": tables}) is fits


@pytest.mark.parametrize(
    ("tables", "top", "message"),
    [
        ("", "stat: x\n", 'line 3: found the key "stat"; expected a known key. Did you mean state?'),
        ("", "county: [a]\n", "line 3, county: found a list; expected a single value. Check the indentation and the colons here."),
        ("  lods: x.csv\n", "", 'line 7, tables: found the key "lods"; expected a known key. Did you mean loads?'),
        ("  loads: {sheet: x}\n", "", "line 7, tables.loads: found no file; expected the key file. Add file: with its value."),
        ("  loads: {file: x.csv, heading_row: first}\n", "", 'line 7, tables.loads.heading_row: found "first"; expected a whole number from 1. Correct the value.'),
        ("  loads: {file: x.csv, heading_row: 0}\n", "", 'line 7, tables.loads.heading_row: found "0"; expected a whole number from 1. Correct the value.'),
        ("  loads: {file: x.csv, values: {prodct: {a: b}}}\n", "", 'line 7, tables.loads.values: found "prodct"; expected a known name. Did you mean product?'),
        ("  documents: {rows: [x]}\n", "", 'line 7, tables.documents.rows[1]: found "x"; expected a mapping (key: value). Check the indentation and the colons here.'),
        ("  documents: {rows: [{documnt: P}]}\n", "", 'line 7, tables.documents.rows[1]: found the key "documnt"; expected a known key. Did you mean document?'),
        ("", "declared_complete: [{table: loads, from: 2026-03-02}]\n", "line 3, declared_complete[1]: found no until; expected the key until. Add until: with its value."),
        ("", "declared_complete: [{table: loads, from: 2026-03-02, until: 2026-03-01}]\n", "line 3, declared_complete.until: found 2026-03-01, before from 2026-03-02; expected a day not before from. Correct one of the two."),
        ("", "declared_complete: [{table: loads, from: 3/2/2026, until: 2026-03-01}]\n", 'line 3, declared_complete.from: found "3/2/2026"; expected a date such as 2026-03-02. Write year-month-day.'),
        ("", 'criteria: [""]\n', 'line 3, criteria[1]: found ""; expected a value that is not blank. Correct the value.'),
    ],
)  # fmt: skip
def test_structure_in_words(complaints: Complain, tables: str, top: str, message: str) -> None:
    assert complaints(tables, top) == [f"pine/job.yaml, {message}"]


def test_every_field_of_a_map_is_in_the_schema() -> None:
    definitions = record_schema()["$defs"]
    for layer in LAYERS.values():
        made, more = {"fixed_in_utc"}, {"time"} if layer.name == "fixes" else set()
        fields = set(definitions[f"map_{layer.name}"]["properties"]["columns"]["propertyNames"]["enum"])
        assert fields == {f.name for f in layer.fields} - made | more


@pytest.mark.parametrize(
    ("entry", "fits"),
    [
        ({"file": "s.gpkg", "holds": "streams"}, True),
        ({"file": "s.gpkg", "holds": "streams", "columns": {"width_ft": {"attribute": "W", "unit": "m"}}}, True),
        ({"file": "s.gpkg", "holds": "streams", "columns": {"cut_on": "D"}}, False),
        ({"file": "s.gpkg", "holds": "streams", "position_uncertainty_ft": 12.5, "values": {1: "perennial"}}, True),
        ({"file": "s.gpkg", "holds": "streams", "position_uncertainty_ft": -1}, False),
        ({"file": "s.gpkg", "holds": "streams", "units": "m"}, False),
        ({"file": "e.tif", "holds": "elevation", "units": "us-ft"}, True),
        ({"file": "e.tif", "holds": "elevation", "units": "yd"}, False),
        ({"file": "e.tif", "holds": "rivers"}, False),
        ({"holds": "units"}, False),
    ],
)
def test_maps_in_the_schema(entry: dict[str, object], fits: bool) -> None:
    assert Draft202012Validator(record_schema()).is_valid({**JOB, "maps": [entry]}) is fits
