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
)
