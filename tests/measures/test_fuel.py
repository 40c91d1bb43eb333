"""Capacity that the spill-plan test counts."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest

from auditor.measures.fuel import bund_volumes_gal, oil_capacity_gal

TANK = {
    "job": pl.String, "capacity_gal": pl.Float64, "motive": pl.Boolean, "buried": pl.Boolean,
    "permanently_closed": pl.Boolean,
}  # fmt: skip


def capacity(*tanks: tuple[Any, ...], buried: bool = False, motive: bool = False) -> tuple[Any, ...]:
    rows = pl.DataFrame([("J", *t) for t in tanks], schema=TANK, orient="row")
    return oil_capacity_gal(rows, ["job"], least_gal=55, buried=buried, motive=motive).row(0)[1:]


def test_what_counts() -> None:
    tanks = [
        (1000, False, False, False), (54.9, False, False, False), (55, False, False, False), (300, True, False, False),
        (500, False, False, True), (9000, False, True, False),
    ]  # fmt: skip
    assert capacity(*tanks) == (1055, 1055)
    assert capacity(*tanks, buried=True) == (9000, 9000)
    assert capacity(*tanks, motive=True) == (1355, 1355)


@pytest.mark.parametrize(
    ("doubtful", "expected"),
    [
        ((400, None, False, False), (1000, 1400)),
        ((400, False, None, False), (1000, 1400)),
        ((400, False, False, None), (1000, 1400)),
        ((None, False, False, False), (1000, None)),
        ((None, True, False, False), (1000, 1000)),  # a machine's own tank, whatever its size
        ((50, None, None, None), (1000, 1000)),  # too small, whatever it is
    ],
)
def test_doubtful_containers(doubtful: Any, expected: Any) -> None:
    assert capacity((1000, False, False, False), doubtful) == expected


BUND = {
    "job": pl.String, "site": pl.String, "tank": pl.String, "bund": pl.String, "capacity_gal": pl.Float64,
    "containment_gal": pl.Float64,
}  # fmt: skip


def bunds(*tanks: tuple[Any, ...]) -> list[tuple[Any, ...]]:
    return bund_volumes_gal(pl.DataFrame(tanks, schema=BUND, orient="row")).rows()


def test_a_container_alone_in_its_bund() -> None:
    assert bunds(("J", None, "F1", None, 500, 600), ("J", None, "F2", None, 1000, None)) == [
        (600, 600, 500, 500), (None, None, 1000, 1000),
    ]  # fmt: skip


def test_containers_that_share_a_bund() -> None:
    # The volume stands beside one of them; the largest decides. Another job and another place have their own.
    tanks = [
        ("J", "yard", "F1", "B", 500, 1100), ("J", "yard", "F2", "B", 1000, None), ("J", "shop", "F3", "B", 9000, 70),
        ("K", "yard", "F1", "B", 8000, None),
    ]  # fmt: skip
    assert bunds(*tanks) == [(1100, 1100, 1000, 1000), (1100, 1100, 1000, 1000), (70, 70, 9000, 9000), (None, None, 8000, 8000)]  # fmt: skip


def test_what_is_not_certain_of_a_shared_bund() -> None:
    tanks = [("J", None, "F1", "B", 500, 1100), ("J", None, "F2", "B", None, 1000)]
    assert bunds(*tanks) == 2 * [(1000, 1100, 500, None)]
