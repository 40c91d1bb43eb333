from __future__ import annotations

import pytest

from auditor.record import record_from_rows
from auditor.vocabulary.problems import UnusableInput
from tests.record.jobs import HEADINGS, Complain

LOADS = "  loads: loads.csv\n"
ONCE = "expected each key once in a job. Correct one of the two, or take it out."
EACH = "Measure every position from the steer axle, and number axles from the front."


@pytest.mark.parametrize(
    ("table", "rows", "message"),
    [
        ("loads", f"{HEADINGS}\n1,T11,Mill A\n", 'row 2, truck: found "T11"; expected a truck of the table trucks. Did you mean T1?'),
        ("loads", f"{HEADINGS}\n1,T1,Yard\n", 'row 2, destination: found "Yard"; expected a destination of the table destinations. Add it to destinations, or correct it here.'),
        ("loads", f"{HEADINGS},gross_weight_lb,tare_weight_lb\n1,T1,Mill A,30000,30001\n", "row 2, gross_weight_lb: found 30,000, below tare_weight_lb 30,001; expected at least tare_weight_lb. Correct one of the two."),
        ("documents", "document,kind,valid_from,valid_until\nP,other,2026-03-02,2026-03-01\n", "row 2, valid_until: found 2026-03-01, below valid_from 2026-03-02; expected at least valid_from. Correct one of the two."),
        ("axles", "truck,axle,position_ft\nT1,2,12\nT1,1,0\nT1,3,12\n", f"row 4, position_ft: found 12 ft for axle 3; expected more than the 12 ft of axle 2. {EACH}"),
        ("axles", "truck,axle\nT1,2\nT2,2\nT1,2\n", f"row 4: found truck T1, axle 2 again, first in row 2; {ONCE}"),
        ("stacks", "load,truck,stack\n,,1\n,T1,1\n", "row 2, load or truck: found neither; expected exactly one of load and truck. Fill in one of the two."),
        ("stacks", "stack\n1\n2\n", "row 1, load or truck: found no such column; expected a required field. Add the column, map it under columns, or give it once under fixed."),
        ("markings", "truck\nT1\nT1\n", f"row 3: found truck T1 again, first in row 2; {ONCE}"),
    ],
)  # fmt: skip
def test_rows_against_one_another(complaints: Complain, table: str, rows: str, message: str) -> None:
    assert complaints(f"  {table}: {table}.csv\n", **{table: rows}) == [f"pine/{table}.csv, {message}"]


def test_both_of_one_of(complaints: Complain) -> None:
    found = complaints(
        LOADS + "  stacks: stacks.csv\n", loads=f"{HEADINGS}\n1,T1,Mill A\n", stacks="load,truck,stack\n1,T1,1\n"
    )
    assert found == [
        "pine/stacks.csv, row 2, load or truck: found both; expected exactly one of load and truck. Leave one of the two blank."
    ]


BASE = {
    "trucks": [{"truck": "T1", "kind": "tractor"}],
    "destinations": [{"destination": "Mill A"}],
    "legs": [{"destination": "Mill A", "leg": 1, "state": "US-GA"}],
    "loads": [{"ticket_number": "1", "truck": "T1", "destination": "Mill A"}],
}


def rows_refused(**tables: list[dict[str, object]]) -> list[str]:
    with pytest.raises(UnusableInput) as caught:
        record_from_rows({**BASE, **tables})
    return [str(p) for p in caught.value.problems]


def test_first_axle_may_equal_the_last_but_not_pass_it() -> None:
    reading = {"load": "1", "first_axle": 2, "last_axle": 2, "weight_lb": 9000}
    assert record_from_rows({**BASE, "axle_weights": [reading]}).tables["axle_weights"].height == 1
    assert rows_refused(axle_weights=[{**reading, "first_axle": 3}]) == [
        "axle_weights, row 1, last_axle: found 2, below first_axle 3; expected at least first_axle. Correct one of the two."
    ]


def test_legs_are_numbered_once_and_no_destination_is_without() -> None:
    leg = BASE["legs"][0]
    assert rows_refused(legs=[leg, leg]) == [
        f"legs, row 2: found destination Mill A, leg 1 again, first in row 1; {ONCE}"
    ]
    assert rows_refused(destinations=[*BASE["destinations"], {"destination": "Mill B"}]) == [
        "destinations, row 2, destination: found no leg to Mill B; expected at least one row of legs for each destination. "
        "Say in legs which roads lead there."
    ]


def test_references_stay_within_the_job() -> None:
    other = [{**row, "job": "B"} for row in BASE["loads"]]
    assert rows_refused(loads=[*BASE["loads"], *other]) == [
        'loads, row 2, truck: found "T1"; expected a truck of the table trucks. Add it to trucks, or correct it here.',
        'loads, row 2, destination: found "Mill A"; expected a destination of the table destinations. Add it to destinations, or correct it here.',
    ]  # fmt: skip


def test_equal_tare_and_gross_and_unknown_ones_are_left_alone() -> None:
    loads = [{**BASE["loads"][0], "gross_weight_lb": 30000, "tare_weight_lb": t} for t in (30000, None)]
    assert record_from_rows({**BASE, "loads": loads}).tables["loads"].height == 2


def test_a_file_that_cannot_be_read_brings_no_false_references(complaints: Complain) -> None:
    found = complaints(LOADS + "  load_checks: {rows: [{load: 1, check: 1}]}\n", loads=f"{HEADINGS}\n1,T1\n")
    assert [m.split(":")[0] for m in found] == ["pine/loads.csv, row 2"]


def test_a_ticket_that_looks_like_a_made_key_is_refused() -> None:
    loads = [{**BASE["loads"][0], "ticket_number": n} for n in ("1", "1", "1#2")]
    assert rows_refused(loads=loads) == [f"loads, row 3: found load 1#2 again, first in row 2; {ONCE}"]
