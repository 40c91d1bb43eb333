"""The bridge formula against the tables that statutes print."""

import csv
from pathlib import Path

import pytest

from auditor.measures.weight import bridge_limit_lb

# N.C.G.S. 20-118(b)(3): the weight table for groups of axles, in the words of its first column.
NC_TABLE = Path(__file__).with_name("nc_20-118_b_3.csv")


def _printed() -> list[tuple[str, int, int]]:
    with NC_TABLE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return [(row["feet"], int(n), int(row[n])) for row in rows for n in "234567" if row[n]]


NC_CELLS = [(int(feet), n, lb) for feet, n, lb in _printed() if feet.isdigit()]
# 38 ft on 5 axles comes to 71,750 lb, half way: the statute prints 72,000 there and takes the lower at every other half.
NC_UP = (38, 5)


def test_the_table_is_whole():
    # Counted in the statute: 143 cells at whole feet from 9 to 57.
    assert len(NC_CELLS) == 143
    assert {feet for feet, _, _ in NC_CELLS} == set(range(9, 58))


@pytest.mark.parametrize(("feet", "n", "lb"), NC_CELLS)
def test_north_carolina_cells_at_whole_feet(feet, n, lb):
    """N.C.G.S. 20-118(b)(3)."""
    ties = "up" if (feet, n) == NC_UP else "down"
    assert bridge_limit_lb(n, feet, ties=ties) == lb


def test_only_one_north_carolina_cell_takes_the_higher_half():
    differs = [(feet, n) for feet, n, lb in NC_CELLS if bridge_limit_lb(n, feet) != lb]
    assert differs == [NC_UP]
    assert bridge_limit_lb(5, 38) == 71_500  # 500 (38 x 5/4 + 60 + 36) = 71,750


def test_halves_in_the_north_carolina_table():
    # 23 of the 143 cells are half way between two steps; 22 of them are printed low.
    halves = [(feet, n) for feet, n, _ in NC_CELLS if bridge_limit_lb(n, feet) != bridge_limit_lb(n, feet, ties="up")]
    assert len(halves) == 23


@pytest.mark.parametrize("span_ft", [8.01, 8.3, 8.49])
def test_north_carolina_more_than_8_ft(span_ft):
    """N.C.G.S. 20-118(b)(3), row "more than 8": the formula at 8 ft."""
    printed = {n: lb for feet, n, lb in _printed() if feet.startswith("more than 8")}
    assert printed == {2: 38_000, 3: 42_000}
    assert bridge_limit_lb([2, 3], span_ft).tolist() == [38_000, 42_000]


def test_north_carolina_8_ft_or_less_is_the_state_s_tandem_limit_and_comes_by_cells():
    """N.C.G.S. 20-118(b)(3), rows "4 to 7" and "8 or less": 38,000 whatever the formula gives."""
    printed = {(feet, n): lb for feet, n, lb in _printed()}
    low = printed["4 to 7", 2], printed["8 or less", 2], printed["8 or less", 3]
    assert low == (38_000, 38_000, 38_000)
    cells = {2: dict.fromkeys(range(4, 9), 38_000), 3: {8: 38_000}}
    assert bridge_limit_lb(2, [4, 5, 6, 7, 8], cells=cells).tolist() == [38_000] * 5
    assert bridge_limit_lb(3, 8, cells=cells) == 38_000
    assert bridge_limit_lb(2, 4) == 34_000  # 500 (4 x 2 + 24 + 36)


def test_north_carolina_table_as_cells_gives_every_printed_value():
    cells: dict[str, dict[str, int]] = {}
    for feet, n, lb in NC_CELLS:
        cells.setdefault(str(n), {})[str(feet)] = lb
    found = bridge_limit_lb([n for _, n, _ in NC_CELLS], [feet for feet, _, _ in NC_CELLS], cells=cells)
    assert found.tolist() == [lb for _, _, lb in NC_CELLS]


# Va. Code 46.2-1126, table: ten cells, and the first cell of 80,000 lb for 5, 6 and 7 axles.
VIRGINIA = [
    (2, 10, 40_000), (3, 9, 42_500), (3, 20, 51_000), (4, 12, 50_000), (4, 24, 58_000), (5, 16, 58_000),
    (5, 28, 65_500), (6, 20, 66_000), (6, 32, 73_000), (7, 24, 74_000),
    (5, 51, 80_000), (6, 43, 80_000), (7, 34, 80_000),
]  # fmt: skip


@pytest.mark.parametrize(("n", "feet", "lb"), VIRGINIA)
def test_virginia_cells(n, feet, lb):
    """Va. Code 46.2-1126."""
    assert bridge_limit_lb(n, feet, span_rounding="up") == lb


def test_virginia_takes_any_fraction_of_a_foot_up():
    """Va. Code 46.2-1126: 23.01 ft is 24 ft, 58,000 lb on 4 axles."""
    assert bridge_limit_lb(4, 23.01, span_rounding="up") == 58_000
    assert bridge_limit_lb(4, 24.01, span_rounding="up") == 58_500  # 500 (25 x 4/3 + 48 + 36) = 58,666.7


def test_virginia_s_own_cells():
    """Va. Code 46.2-1126: 45,000 at 13 ft on 3 axles (formula 45,500), 72,000 at 38 ft on 5, 34,000 at 8 ft."""
    cells = {"2": {"8": 34000}, "3": {"8": 34000, "13": 45000}, "5": {"38": 72000}}
    found = bridge_limit_lb([2, 3, 3, 5, 3], [7.2, 8, 12.4, 37.5, 14], span_rounding="up", cells=cells)
    assert found.tolist() == [34_000, 34_000, 45_000, 72_000, 46_500]  # 14 ft, 3 axles: 500 (21 + 36 + 36)


# Miss. Code 63-5-33(1), Table III (to the nearest foot; halves down).
MISSISSIPPI = [
    (5, 36, 70_500), (5, 38, 71_500), (5, 40, 73_000), (5, 48, 78_000), (5, 51, 80_000), (6, 40, 78_000),
    (6, 43, 80_000), (4, 57, 80_000), (3, 13, 45_500),
]  # fmt: skip


@pytest.mark.parametrize(("n", "feet", "lb"), MISSISSIPPI)
def test_mississippi_cells(n, feet, lb):
    """Miss. Code 63-5-33(1), Table III."""
    assert bridge_limit_lb(n, feet) == lb


def test_pennsylvania_takes_halves_up():
    """67 Pa. Code 185.3: 3 axles at 9 ft, 500 (13.5 + 36 + 36) = 42,750; 38,000 and 42,000 are printed at 8 ft."""
    assert bridge_limit_lb(3, 9, ties="up") == 43_000
    assert bridge_limit_lb([2, 3], 8, ties="up").tolist() == [38_000, 42_000]


@pytest.mark.parametrize(("span_ft", "lb"), [(50.49, 79_000), (50.5, 80_000), (51.49, 80_000)])
def test_wisconsin_half_a_foot_goes_up(span_ft, lb):
    """Wis. Stat. 348.15(5m): 50 ft 6 in counts as 51 ft. N.C.G.S. 20-118(b)(3) prints 79,000 at 50 and 80,000 at 51."""
    assert bridge_limit_lb(5, span_ft) == lb


def test_two_tandems_at_36_ft_are_worth_less_by_the_formula():
    """23 U.S.C. 127(a)(2) allows 68,000 there; the formula reaches that at 39 ft only."""
    assert bridge_limit_lb(4, [36, 37, 38, 39]).tolist() == [66_000, 66_500, 67_500, 68_000]
