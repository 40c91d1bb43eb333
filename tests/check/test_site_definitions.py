"""The definitions of shipped site files are those that the views and the score read: another name would be read by nobody."""

from __future__ import annotations

import pytest

from auditor.check.tally import tables_of
from auditor.check.views import build_view
from auditor.record import record_from_rows
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

READ = {
    "zone_width": {"along", "start"}, "field_signs": {"wanted"}, "strips": {"edges_ft"},
    "steep": {"over_pct", "at_it_too"}, "ruts": {"over_depth_in"}, "drain_gaps": {"groups"},
    "spill_plan": {"least_gal"}, "notice": {"contents"}, "working_days": {"holidays"}, "implementation_rates": {"rates"},
}  # fmt: skip
BOOK = read_rules(topics=TOPIC_GROUPS["ground"])
DEFINED = [(f.id, name, d) for f in BOOK.files for name, d in f.definitions.items()]


@pytest.mark.parametrize(("file", "name", "definition"), DEFINED, ids=[f"{f}/{n}" for f, n, _ in DEFINED])
def test_every_definition_is_one_that_is_read(file: str, name: str, definition: object) -> None:
    assert set(getattr(definition, "model_extra", None) or {}) <= READ.get(name, set())


def test_the_field_signs_of_texas_are_counted_from_a_record() -> None:
    # Four of the signs of the definition, listed as all that were seen: four, fewer than the five of the handbook.
    wanted = BOOK.definitions("US-TX")["field_signs"]["wanted"]
    rows = {
        "job": [{"job": "J", "state": "US-TX"}],
        "streams": [{"stream": "A", "field_signs": "; ".join(wanted[:4]), "field_signs_listed": "yes"}],
    }
    tables = tables_of(record_from_rows(rows, "J"))
    frame = build_view("streams", tables, "US-TX", BOOK.definitions("US-TX"), ())
    assert frame.select("sign_count__lo", "sign_count__hi").rows() == [(4, 4)]
