"""The quick look at a job.yaml agrees with the library that names its faults."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from auditor.record.schema import _job_schema
from auditor.record.schema_match import fits

SCHEMA = _job_schema()
WHOLE = Draft202012Validator(SCHEMA)

Value = str | list["Value"] | dict[str, "Value"]
WORDS = st.sampled_from(
    [
        "",
        "A",
        "US-GA",
        "loads",
        "loads.csv",
        "first",
        "0",
        "3",
        "lb",
        "product",
        "streams",
        "elevation",
        "2026-03-02",
        "note",
    ]
)
KEYS = st.sampled_from(
    ["job", "state", "tables", "maps", "criteria", "workbook", "declared_complete", "loads", "stacks", "rows", "file", "sheet",
     "heading_row", "columns", "values", "fixed", "ignore", "field", "unit", "holds", "attribute", "table", "from", "until",
     "ticket_number", "truck", "product", "units", "position_uncertainty_ft", "stray"]
)  # fmt: skip
VALUES: st.SearchStrategy[Value] = st.recursive(
    WORDS, lambda inner: st.lists(inner, max_size=2) | st.dictionaries(KEYS, inner, max_size=4), max_leaves=8
)
SOUND: dict[str, Value] = {
    "job": "A",
    "state": "US-GA",
    "tables": {
        "trucks": "trucks.csv",
        "loads": [
            {"file": "a.xlsx", "sheet": "May", "heading_row": "3", "columns": {"T": "truck", "W": {"field": "note", "unit": "lb"}},
             "values": {"product": {"PST": "sawlogs"}}, "fixed": {"truck": "T1"}, "ignore": ["x"]},
            "b.csv",
        ],
        "stacks": {"rows": [{"truck": "T1", "stack": "1"}]},
    },
    "maps": [{"file": "s.gpkg", "holds": "streams", "values": {"1": "perennial"}}, {"file": "e.tif", "holds": "elevation"}],
    "declared_complete": [{"table": "loads", "from": "2026-03-02", "until": "2026-03-31"}],
    "criteria": ["us-ga/streamside"],
}  # fmt: skip


def places(value: Value, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Every path inside a value."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(found for key, part in inner for found in places(part, (*path, key)))]


def replaced(value: Value, path: tuple[str | int, ...], new: Value) -> Value:
    """The value with what lies at the path replaced."""
    if not path:
        return new
    if isinstance(value, dict):
        return {k: replaced(v, path[1:], new) if k == path[0] else v for k, v in value.items()}
    return [replaced(v, path[1:], new) if i == path[0] else v for i, v in enumerate(value)]


def test_a_sound_job_file_fits() -> None:
    assert WHOLE.is_valid(SOUND)
    assert fits(SOUND, SCHEMA, SCHEMA["$defs"])


@pytest.mark.parametrize("path", places(SOUND), ids=str)
@pytest.mark.parametrize("new", ["", "stray", [], ["x"], {}, {"stray": "x"}, {"file": "x.csv"}, "0"], ids=str)
def test_every_part_replaced(path: tuple[str | int, ...], new: Value) -> None:
    changed = replaced(SOUND, path, new)
    assert fits(changed, SCHEMA, SCHEMA["$defs"]) is WHOLE.is_valid(changed)


@given(st.sampled_from(places(SOUND)), VALUES)
def test_any_part_replaced_by_anything(path: tuple[str | int, ...], new: Value) -> None:
    changed = replaced(SOUND, path, new)
    assert fits(changed, SCHEMA, SCHEMA["$defs"]) is WHOLE.is_valid(changed)


def test_a_keyword_that_is_not_known_is_not_passed_over() -> None:
    with pytest.raises(KeyError, match="uniqueItems"):
        fits([], {"uniqueItems": True}, {})
