"""The report as canonical JSON, its published schema, and the digest that seals it."""

from __future__ import annotations

import hashlib
import json
import math
from typing import Any

from pydantic import BaseModel

from auditor.report.model import SCHEMA_NAME, Report

_WHOLE_FLOATS_END = 2**53
"""From here on a float no longer holds every whole number, and is written as it is."""


def report_json(report: Report) -> bytes:
    """The report in its one form of bytes: keys sorted, UTF-8, two spaces, whole numbers without a decimal point.

    Raises ValueError where a number is not finite: no such number belongs in a report.
    """
    return model_json(report, "report")


def model_json(model: BaseModel, name: str) -> bytes:
    """Any published model in that form; `name` stands for it in the message where a number is not finite."""
    text = json.dumps(_canonical(model.model_dump(mode="json"), name), **_FORM)
    return (text + "\n").encode("utf-8")


_FORM: dict[str, Any] = {"sort_keys": True, "ensure_ascii": False, "indent": 2, "allow_nan": False}


def _canonical(value: Any, where: str) -> Any:
    """The value with whole floats as integers; `where` names it in the message when it is not finite."""
    if isinstance(value, dict):
        return {key: _canonical(inner, f"{where}.{key}") for key, inner in value.items()}
    if isinstance(value, list):
        return [_canonical(inner, f"{where}[{place}]") for place, inner in enumerate(value)]
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"{where} is {value}; a report holds finite numbers only")
        return int(value) if value.is_integer() and abs(value) < _WHOLE_FLOATS_END else value
    return value


def report_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of a report, made from its models."""
    schema = Report.model_json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": SCHEMA_NAME}


def digest_of(report: Report) -> str:
    """SHA-256 of the canonical JSON with the digest left empty."""
    return hashlib.sha256(report_json(report.model_copy(update={"digest": ""}))).hexdigest()


def canonical_json(content: dict[str, Any]) -> bytes:
    """JSON that was read from a report, in the one form of bytes. Raises ValueError for what no report holds."""
    return (json.dumps(content, **_FORM) + "\n").encode("utf-8")


def digest_of_json(content: dict[str, Any]) -> str:
    """The digest that a report's JSON should carry, made from the JSON alone, whatever version wrote it."""
    return hashlib.sha256(canonical_json(content | {"digest": ""})).hexdigest()


def sealed(report: Report) -> Report:
    """The same report with its digest filled in."""
    return report.model_copy(update={"digest": digest_of(report)})


def check_digest(report: Report) -> bool:
    """Whether the digest in the report is that of its content."""
    return report.digest == digest_of(report)
