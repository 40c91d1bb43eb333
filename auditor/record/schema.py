"""JSON Schema of job.yaml and of the rows of every table, derived from the vocabulary, and its errors in words."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from typing import Any, Final

from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

from auditor.record.map_source import map_definitions, maps_schema
from auditor.record.mapping import known_fields
from auditor.record.units import UNITS
from auditor.vocabulary import TABLES, nearest
from auditor.vocabulary.model import Field, Table
from auditor.vocabulary.problems import Problem
from auditor.vocabulary.yaml_text import Lines

Schema = dict[str, Any]
_ISO_DATE: Final[Schema] = {"type": "string", "format": "date"}
_SCALAR: Final[Schema] = {"type": ["string", "number", "boolean"]}
_WHOLE: Final[Schema] = {
    "anyOf": [{"type": "integer", "minimum": 1}, {"type": "string", "pattern": "^[1-9][0-9]{0,6}$"}]
}
_DECLARED: Final[Schema] = {
    "type": "object",
    "properties": {"table": {"enum": [t for t in TABLES if t != "job"]}, "from": _ISO_DATE, "until": _ISO_DATE},
    "required": ["table", "from", "until"],
    "additionalProperties": False,
}


def record_schema() -> Schema:
    """The JSON Schema (2020-12) of job.yaml; the rows of each table are under $defs, as `row_<table>`."""
    return _schema(rows_too=True)


def structure_problems(job: object, file: str, lines: Lines) -> list[Problem]:
    """What is wrong with the structure of a job.yaml whose scalars are all text; values of rows are judged later."""
    words = (p for error in _validator().iter_errors(job) for p in _in_words(error, file, lines))
    return list(dict.fromkeys(words))


@functools.cache
def _validator() -> Draft202012Validator:
    return Draft202012Validator(_schema(rows_too=False))


def _schema(rows_too: bool) -> Schema:
    job = TABLES["job"]
    scalar = {f.name: _field_schema(f) if rows_too else {"type": "string"} for f in job.fields}
    tables = [t for t in TABLES.values() if t.name != "job"]
    definitions: Schema = map_definitions(text_only=not rows_too)
    for table in tables:
        definitions[f"row_{table.name}"] = _row_schema(table) if rows_too else _loose_row(table)
        definitions[f"source_{table.name}"] = _source_schema(table)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A job of a timber harvest (job.yaml)",
        "description": "Who, where and when, and which files hold which table of the record.",
        "type": "object",
        "properties": {
            **scalar,
            "workbook": {
                "description": "A workbook with one sheet for each table, as `auditor start` writes it.",
                "type": "string",
                "minLength": 1,
            },
            "tables": {
                "type": "object",
                "properties": {t.name: _sources_schema(t) for t in tables},
                "additionalProperties": False,
            },
            "maps": maps_schema(),
            "declared_complete": {
                "description": "Tables that hold every row of a period, so that an absent row proves something.",
                "type": "array",
                "items": _DECLARED,
            },
            "criteria": {
                "description": "Voluntary practices accepted as audit criteria: rule ids or topics.",
                "type": "array",
                "items": {"type": "string", "minLength": 1},
            },
        },
        "required": [f.name for f in job.fields if f.required],
        "additionalProperties": False,
        "$defs": definitions,
    }


def _sources_schema(table: Table) -> Schema:
    source = {"$ref": f"#/$defs/source_{table.name}"}
    return {
        "description": f"Where the rows are kept: {table.row}.",
        "type": ["string", "object", "array"],
        "if": {"type": "array"},
        "then": {"items": {"type": ["string", "object"], "if": {"type": "object"}, "then": source}},
        "else": {"if": {"type": "object"}, "then": source},
    }


def _source_schema(table: Table) -> Schema:
    fields = {"enum": known_fields(table)}
    mapped = {
        "type": "object",
        "properties": {"field": fields, "unit": {"enum": list(UNITS)}},
        "required": ["field"],
        "additionalProperties": False,
    }
    file: Schema = {
        "properties": {
            "file": {"type": "string", "description": "path inside the job folder, with /"},
            "sheet": {"type": "string", "description": "sheet of a workbook; the first without it"},
            "heading_row": {**_WHOLE, "description": "row that holds the headings, 1 without it"},
            "columns": {
                "description": "the user's heading: our field, or field and unit",
                "type": "object",
                "additionalProperties": {
                    "type": ["string", "object"], "if": {"type": "object"}, "then": mapped, "else": fields,
                },
            },
            "values": {
                "description": "for each field the user's words and ours",
                "type": "object",
                "propertyNames": fields,
                "additionalProperties": {"type": "object", "additionalProperties": _SCALAR},
            },
            "fixed": {
                "description": "one value for all rows",
                "type": "object",
                "propertyNames": fields,
                "additionalProperties": _SCALAR,
            },
            "ignore": {"type": "array", "items": {"type": "string"}, "description": "headings left out"},
            "date_form": {"type": "string", "description": "such as %m/%d/%Y; ISO dates without it"},
            "encoding": {"type": "string", "description": "of a CSV file that is not UTF-8, such as cp1252"},
        },
        "required": ["file"],
        "additionalProperties": False,
    }  # fmt: skip
    rows: Schema = {
        "properties": {"rows": {"type": "array", "items": {"$ref": f"#/$defs/row_{table.name}"}}},
        "additionalProperties": False,
    }
    return {"type": "object", "if": {"required": ["rows"]}, "then": rows, "else": file}


def _loose_row(table: Table) -> Schema:
    """Names only: the values of rows are judged column by column, with the words of their fields."""
    names = known_fields(table)
    value = {"type": ["string", "array"], "items": {"type": "string"}}
    return {"type": "object", "properties": dict.fromkeys(names, value), "additionalProperties": False}


def _row_schema(table: Table) -> Schema:
    fields = [f for f in table.fields if f.name in known_fields(table)]
    schema: Schema = {
        "description": table.row,
        "type": "object",
        "properties": {f.name: _field_schema(f) for f in fields},
        "required": [f.name for f in fields if f.required],
        "additionalProperties": False,
    }
    if table.one_of:
        schema["oneOf"] = [{"required": [name]} for name in table.one_of]
    return schema


def _field_schema(field: Field) -> Schema:
    """The form of a value as we would write it; the reader accepts more (see the guide)."""
    words: Schema = {"description": field.meaning + (f" ({field.unit})" if field.unit else "")}
    if field.kind in ("number", "whole"):
        bounds = {"minimum": field.low, "maximum": field.high}
        kind = "integer" if field.kind == "whole" else "number"
        return {**words, "type": kind, **{k: v for k, v in bounds.items() if v is not None}}
    forms: dict[str, Schema] = {
        "text": _SCALAR,
        "class": {"enum": list(field.classes)},
        "classes": {"type": "array", "items": {"enum": list(field.classes)}},
        "yes_no": {"enum": ["yes", "no", True, False]},
        "date": _ISO_DATE,
        "time": {"type": "string", "pattern": "^([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?$"},
    }
    return {**words, **forms[field.kind]}


_KINDS: Final = {"object": "a mapping (key: value)", "array": "a list", "string": "a single value"}


def _in_words(error: ValidationError, file: str, lines: Lines) -> Iterator[Problem]:
    """One schema error as problems for people: place, found, expected, what to do."""
    path = tuple(error.absolute_path)
    name = str(path[-1]) if path and isinstance(path[-1], str) else ""
    where = f"line {lines.at(*path)}"
    rule: Any = error.validator_value
    match error.validator:
        case "additionalProperties":
            schema: Any = error.schema
            found_keys: Any = error.instance
            known = list(schema.get("properties", {}))
            for key in found_keys:
                if key not in known:
                    at = f"line {lines.at(*path, key)}"
                    yield Problem(file, at, _dotted(path), f'the key "{key}"', "a known key", _hint(key, known))
        case "required":
            present: Any = error.instance
            for key in rule:
                if key not in present:
                    yield Problem(
                        file, where, _dotted(path), f"no {key}", f"the key {key}", f"Add {key}: with its value."
                    )
        case "enum":
            known = [str(word) for word in rule]
            wrong = str(error.instance)
            yield Problem(file, where, _dotted(path), f'"{wrong}"', "a known name", _hint(wrong, known))
        case "type":
            kinds = [rule] if isinstance(rule, str) else list(rule)
            expected = " or ".join(_KINDS[k] for k in kinds if k in _KINDS)
            yield Problem(
                file,
                where,
                _dotted(path),
                _shown(error.instance),
                expected,
                "Check the indentation and the colons here.",
            )
        case _:
            expected = "a whole number from 1" if name == "heading_row" else "a value that is not blank"
            yield Problem(file, where, _dotted(path), f'"{error.instance}"', expected, "Correct the value.")


def _shown(value: object) -> str:
    return "a list" if isinstance(value, list) else "a mapping" if isinstance(value, dict) else f'"{value}"'


def _dotted(path: tuple[str | int, ...]) -> str:
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def _hint(word: str, known: list[str]) -> str:
    like = nearest(word, known)
    if like:
        # There are three kinds of ton: a unit is never suggested alone.
        return f"Did you mean {' or '.join(like if known == list(UNITS) else like[:1])}?"
    return f"Known are {', '.join(known)}." if len(known) <= 30 else "See the schema of the record for the known names."
