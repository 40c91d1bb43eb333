"""The one vocabulary: every table, field, view and measure with unit and meaning, as data.

Readers, schemas, the rule checker, messages and the words of the report derive from it.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from auditor.vocabulary import ground, haul, measures, site_views, views
from auditor.vocabulary.maps import LAYERS, MapLayer
from auditor.vocabulary.model import Field, Kind, Measure, Table, View

TABLES: dict[str, Table] = {t.name: t for t in (*haul.TABLES, *ground.TABLES)}
VIEWS: dict[str, View] = {v.name: v for v in (*views.VIEWS, *site_views.VIEWS)}
MEASURES: dict[str, Measure] = {m.name: m for m in measures.MEASURES}
SUBJECTS = site_views.SUBJECTS
DOCUMENT_KINDS = haul.DOCUMENT_KINDS
STATES = haul.STATES
TOPICS = (
    "weight", "securement", "size", "tickets",
    "streamside", "crossings", "trails", "fuel", "residual_stand",
)  # fmt: skip
TOPIC_GROUPS = {
    "haul": ("weight", "securement", "size", "tickets"),
    "ground": ("streamside", "crossings", "trails", "fuel", "residual_stand"),
}
"""Names that stand for several topics."""
SITE_TABLES = tuple(t.name for t in ground.TABLES)
"""The tables about the harvest site; a job without any row in them is a haul alone."""
WAITING_TABLES = ("water_readings",)
"""Tables on which few places have rules, read by the view of the same name; a report says so where its place has none."""

__all__ = [
    "DOCUMENT_KINDS",
    "LAYERS",
    "MEASURES",
    "SITE_TABLES",
    "STATES",
    "SUBJECTS",
    "TABLES",
    "TOPICS",
    "TOPIC_GROUPS",
    "VIEWS",
    "WAITING_TABLES",
    "Field",
    "Kind",
    "MapLayer",
    "Measure",
    "Table",
    "View",
    "nearest",
    "subject_key",
]  # fmt: skip


def subject_key(table: str) -> str:
    """The column that names the rows of a table that a report counts: `load` for loads, `bank` for banks."""
    return "load" if table == "loads" else TABLES[table].key[0]


def nearest(word: str, known: Iterable[str], count: int = 3) -> list[str]:
    """The known words most like `word`, best first; empty when none is like it."""
    return difflib.get_close_matches(word, list(known), n=count, cutoff=0.5)
