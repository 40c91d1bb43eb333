"""The working load limits of the federal rule file, cell by cell against the tables of 49 CFR 393.108.

working_load_limits.csv is typed by hand from the printed tables, in fractions of an inch, with the kilograms that
the tables print first. The kilograms guard the typing: both figures of a cell are one limit.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import yaml

from auditor.measures.securement import working_load_limit_lb, working_load_limits

HERE = Path(__file__).parent
RULES = HERE.parents[1] / "rulesets" / "us" / "securement.yaml"


def inches(text: str) -> float:
    return float(sum(Fraction(part) for part in text.split()))


@pytest.fixture(scope="module")
def printed() -> pl.DataFrame:
    cells = pl.read_csv(HERE / "working_load_limits.csv", schema_overrides={"grade": pl.String, "size": pl.String})
    sizes = pl.Series("size_in", [inches(s) for s in cells["size"]])
    return cells.with_columns(sizes)


@pytest.fixture(scope="module")
def rules() -> dict[str, Any]:
    return yaml.safe_load(RULES.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def law(rules: dict[str, Any]) -> dict[str, Any]:
    return rules["definitions"]["working_load_limits"]


def test_both_units_of_each_printed_cell_agree(printed: pl.DataFrame) -> None:
    # 1 kg = 2.20462 lb; the tables round both figures, the light ropes by up to 5 %.
    far = printed.filter((pl.col("kg") * 2.20462 / pl.col("lb") - 1).abs() > 0.055)
    assert far.rows() == []
    # chain 5 grades x 6 sizes less two empty cells, webbing 4, wire rope 9, manila 6, cordage 4 x 6, strapping 8
    assert len(printed) == 28 + 4 + 9 + 6 + 24 + 8


def test_every_printed_cell_comes_out(printed: pl.DataFrame, law: dict[str, Any]) -> None:
    found = working_load_limits(printed, tables=law["tables"], unmarked=law["unmarked"])
    wrong = found.filter(pl.col("wll_lb").ne_missing(pl.col("lb").cast(pl.Float64)))
    assert wrong.rows() == []


def test_the_rule_file_holds_no_cell_that_is_not_printed(printed: pl.DataFrame, law: dict[str, Any]) -> None:
    held = sorted(
        (t["material"], t.get("grade") or "", float(size), t.get("thickness_in") or 0.0, wll)
        for t in law["tables"]
        for size, wll in t["sizes"].items()
    )
    columns = printed.select(
        "material", pl.col("grade").fill_null(""), "size_in", pl.col("thickness_in").fill_null(0), "lb"
    )
    assert held == sorted(columns.rows())


def test_every_table_says_where_it_comes_from(rules: dict[str, Any], law: dict[str, Any]) -> None:
    entries = [*law["tables"], *law["unmarked"].values(), law["routing_factors_from"]]
    assert all("393" in rules["sources"][e["source"]]["instrument"] for e in entries)
    assert all(e["at"].startswith("393.10") for e in entries)
    assert {e["verified"] for e in entries} <= {"read", "secondary", "memory"}
    from_memory = {t["material"] for t in law["tables"] if t["verified"] == "memory"}
    assert from_memory == {"synthetic_cordage", "steel_strapping", "wire_rope"}


@pytest.mark.parametrize(
    ("material", "size_in", "expected"),
    [
        ("chain", 0.375, 2650),  # 393.108(d): as grade 30 proof coil
        ("synthetic_cordage", 0.5, 625),  # 393.108(c): as polypropylene
        ("wire_rope", 0.5, 5300),  # 393.108(e)(2): as 6 x 37 fibre core
        ("manila_rope", 0.5, 315),  # 393.108(f): by its diameter
    ],
)
def test_what_is_not_marked_takes_the_default(
    law: dict[str, Any], material: str, size_in: float, expected: int
) -> None:
    found = working_load_limits(
        pl.DataFrame({"material": [material], "size_in": [size_in]}), tables=law["tables"], unmarked=law["unmarked"]
    )
    assert found.select("wll_lb", "wll_basis").row(0) == (expected, "default")


def test_grade_80_of_five_sixteenths_is_below_grade_70(law: dict[str, Any]) -> None:
    # As printed: 4,500 against 4,700.
    limits = working_load_limit_lb(
        ["chain", "chain"], 0.3125, ["80", "70"], tables=law["tables"], unmarked=law["unmarked"]
    )
    assert limits.to_list() == [4500, 4700]


def test_routing_factors(law: dict[str, Any]) -> None:
    # 393.106(d)(1), (2) one half; (3) in full
    assert law["routing_factors"] == {"over_to_other_side": 1.0, "same_side": 0.5, "vehicle_to_article": 0.5}
