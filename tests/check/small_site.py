"""A small invented harvest site in South Carolina, and small rule files on it, for the forester's part of a report."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from auditor.audit import check
from auditor.record import record_from_rows
from auditor.report.model import JobReport
from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook

Rows = Sequence[Mapping[str, Any]]
CITED = {"source": "s", "verified": "read"}
LEVEL = {"measured_along": "horizontal", "measured_from": "bank", "width_uncertainty_ft": 0}

SITE: dict[str, Rows] = {
    "job": [{"job": "A", "state": "US-SC", "operation_end": "2026-03-29"}],
    "streams": [{"stream": "Otter", "kind": "stream", "stream_class": "perennial"}, {"stream": "Run"}],
    "banks": [
        {"bank": "b1", "stream": "Otter", "side": "left", "length_ft": 600},
        {"bank": "b2", "stream": "Run"},
        {"bank": "b3", "stream": "Otter", "side": "right", "length_ft": 400.5},
        {"bank": "b4", "stream": "Run", "side": "head"},
    ],
    # At least 40 ft are asked for: b1 is at it, b2 one foot short at its second station, b3 blank, b4 without a reading.
    "stations": [
        {"bank": "b1", "station": 1, "along_ft": 0, "zone_width_ft": 40, **LEVEL},
        {"bank": "b2", "station": 1, "along_ft": 0, "zone_width_ft": 55, **LEVEL},
        {"bank": "b2", "station": 2, "along_ft": 50, "zone_width_ft": 39, **LEVEL},
        {"bank": "b3", "station": 1, "along_ft": 0, **LEVEL},
    ],
    "crossings": [{"crossing": "X1", "stream": "Otter", "crossing_type": "log_or_brush_fill", "flow_free": False}],
    "segments": [
        {"segment": "T1", "kind": "skid_trail", "length_ft": 620},
        {"segment": "R1", "kind": "haul_road", "straight_up_slope": True},
    ],
}  # fmt: skip


def a_rule(id: str, examines: str, must: dict[str, Any], **parts: Any) -> dict[str, Any]:
    return {
        "id": id, "title": id.replace("-", " ").capitalize(), "examines": examines, "must": must, "duty_of": "logger",
        "standing": "voluntary practice", "grade": "minor", "evidence": "observation", "action": "Mend it.",
        "caution": "Ask the agency.", **CITED, **parts,
    }  # fmt: skip


def a_file(topic: str, *rules: Mapping[str, Any], **parts: Any) -> RuleFile:
    limits = {"zone_ft": {"means": "width", "unit": "ft", "versions": [{"value": 40, **CITED}]}}
    return RuleFile.model_validate(
        {
            "id": f"us-sc/{topic}", "place": "US-SC", "topic": topic, "title": topic,
            "sources": {"s": {"instrument": "Manual", "seen": "in a test"}},
            "limits": limits if topic == "streamside" else {}, "rules": list(rules), **parts,
        }
    )  # fmt: skip


WIDTH = a_rule("zone-width", "stations", {"zone_width_ft": {"at_least": {"limit": "zone_ft"}}})
FLOW = a_rule("flow-free", "crossings", {"flow_free": {"equals": True}}, standing="regulation")
SLOPE = a_rule(
    "across-slope",
    "segments",
    {"straight_up_slope": {"equals": False}},
    where={"segment_kind": {"equals": "haul_road"}},
)
FILES = (a_file("trails", SLOPE), a_file("crossings", FLOW), a_file("streamside", WIDTH))
"""In another order than that of the walk."""


def a_site(
    observations: Rows = (), files: Sequence[RuleFile] = FILES, adopted: Sequence[str] = (), **tables: Rows
) -> JobReport:
    """The report on the small site with these judgements; `tables` replaces some of its tables."""
    numbered = [{"observation": f"O{n}", **row} for n, row in enumerate(observations, 1)]
    record = record_from_rows({**SITE, "observations": numbered, **tables}, job="A")
    record.criteria["A"] = tuple(adopted)
    (job,) = check(record, Rulebook(tuple(files))).jobs
    return job
