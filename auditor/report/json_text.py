"""The report as canonical JSON, its published schema, and the digest that seals it."""

from __future__ import annotations

import hashlib
import math
from typing import Any

from pydantic import BaseModel
from pydantic_core import to_json

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
    return _written(model.model_dump(mode="json"), name)


def _written(content: dict[str, Any], name: str) -> bytes:
    try:
        canonical = _canonical(content)
    except ValueError:
        raise ValueError(f"{_not_finite(content, name)}; a report holds finite numbers only") from None
    return to_json(canonical, indent=2) + b"\n"


def _canonical(value: Any) -> Any:
    """The value with keys sorted and whole floats as integers. Raises ValueError for a number that is not finite."""
    if isinstance(value, dict):
        return {key: _canonical(value[key]) for key in sorted(value)}
    if isinstance(value, list):
        return [_canonical(inner) for inner in value]
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError
        return int(value) if value.is_integer() and abs(value) < _WHOLE_FLOATS_END else value
    return value


def _not_finite(value: Any, where: str) -> str | None:
    """Where the first number stands that is not finite, and what it is."""
    if isinstance(value, dict):
        inner = ((f"{where}.{key}", part) for key, part in value.items())
    elif isinstance(value, list):
        inner = ((f"{where}[{place}]", part) for place, part in enumerate(value))
    else:
        return f"{where} is {value}" if isinstance(value, float) and not math.isfinite(value) else None
    return next((found for at, part in inner if (found := _not_finite(part, at)) is not None), None)


def report_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of a report, made from its models."""
    schema = Report.model_json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": SCHEMA_NAME}


def digest_of(report: Report) -> str:
    """SHA-256 of the canonical JSON with the digest left empty."""
    return hashlib.sha256(report_json(report.model_copy(update={"digest": ""}))).hexdigest()


def canonical_json(content: dict[str, Any]) -> bytes:
    """JSON that was read from a report, in the one form of bytes. Raises ValueError for what no report holds."""
    return _written(content, "report")


def digest_of_json(content: dict[str, Any]) -> str:
    """The digest that a report's JSON should carry, made from the JSON alone, whatever version wrote it."""
    return hashlib.sha256(canonical_json(content | {"digest": ""})).hexdigest()


def sealed(report: Report) -> Report:
    """The same report with its digest filled in."""
    return report.model_copy(update={"digest": digest_of(report)})


def check_digest(report: Report) -> bool:
    """Whether the digest in the report is that of its content."""
    return report.digest == digest_of(report)
