"""The measures that a rule file may name as a limit."""

from __future__ import annotations

from auditor.vocabulary.model import Measure

MEASURES = (
    Measure(
        "bridge_limit_lb",
        "weight",
        "what the bridge formula allows on a run of axles",
        "lb",
        inputs=("axle_count", "span_ft"),
        parameters=("span_rounding", "cells", "ties", "span_added_ft"),
    ),
    Measure(
        "tiedowns_required_count",
        "securement",
        "tiedowns that the general securement rules ask for",
        "tiedowns",
        inputs=("article_length_ft", "article_weight_lb", "blocked_front"),
        parameters=("short_ft", "light_lb", "each_ft"),
    ),
    Measure(
        "cross_drain_spacing_ft",
        "trails",
        "distance between drains that the formula of grade allows",
        "ft",
        inputs=("grade_pct",),
        parameters=("over_grade_ft", "plus_ft", "grade_rounding"),
    ),
    Measure(
        "talbot_opening_sqft",
        "crossings",
        "waterway opening that Talbot's formula asks for",
        "ft2",
        inputs=("drainage_area_acres", "runoff_share"),
        parameters=("rain_in_per_h",),
    ),
)
