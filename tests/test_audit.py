"""The cautions of a report: those on loads where it has loads, those on a site where it has one."""

from __future__ import annotations

import pytest

from auditor.audit import LIMIT_CAUTION, LOAD_CAUTION, SITE_CAUTION, check
from auditor.record import record_from_rows
from auditor.report.wording import STATEMENT
from auditor.rules.reading import Rulebook
from tests.check.haul import load, rows_of, together
from tests.check.small_site import SITE

HAUL = rows_of([load("A1", gross_weight_lb=70_000)], ({"leg": 1, "road_class": "state_route"},), "B")
GROUND = {name: [{**row, "job": "A"} for row in rows] for name, rows in SITE.items()}
NEITHER = {"job": [{"job": "C", "state": "US-GA"}]}


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        ([HAUL], [LOAD_CAUTION]),
        ([GROUND], [SITE_CAUTION]),
        ([HAUL, GROUND], [LOAD_CAUTION, SITE_CAUTION]),
        ([NEITHER], []),
    ],
)  # fmt: skip
def test_a_report_warns_of_the_work_that_it_is_about(
    parts: list[dict[str, list[dict[str, object]]]], expected: list[str]
) -> None:
    record = together(*parts) if len(parts) > 1 else record_from_rows(parts[0])
    assert check(record, Rulebook(())).cautions == [*STATEMENT, *expected, LIMIT_CAUTION]


def test_the_caution_on_a_site_defers_to_those_who_may_say_more() -> None:
    for word in ("water", "unstable ground", "felled", "agency", "local codes", "licensed forester or engineer"):
        assert word in SITE_CAUTION
