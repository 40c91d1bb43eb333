"""Alabama's figures in the rule files against the instruments named beside them, typed here again."""

import pytest

from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS
from auditor.vocabulary.intervals import parse_interval

FILES = {f.id: f for f in read_rules(["US-AL"]).files if f.place == "US-AL" and f.topic in TOPIC_GROUPS["haul"]}

WEIGHTS = ("gross_limit_lb", "single_axle_limit_lb", "tandem_limit_lb", "axle_sum_limit_lb")
FIGURES = [
    # Ala. Code 32-9-20 (data file on the text of 2025): 20,000 lb on a single axle; one tenth is added.
    ("weight", "single_axle_limit_lb", "base", "value", 20_000),
    *(("weight", limit, "tolerance-10", "percent_more", 10) for limit in WEIGHTS),
    # 32-9-20(a): 102 in, 13 1/2 ft, 40 ft, 57 ft.
    ("size", "width_limit_in", "base", "value", 102),
    ("size", "height_limit_ft", "base", "value", 13.5),
    ("size", "single_vehicle_length_ft", "base", "value", 40),
    ("size", "semitrailer_length_ft", "base", "value", 57),
    # Ala. Admin. Code 450-3-1-.02: 5 ft at either end.
    ("size", "overhang_each_ft", "base", "value", 5),
]
NO_SINGLE_FIGURE = {
    ("weight", "gross_limit_lb", "base"),
    ("weight", "tandem_limit_lb", "base"),
    ("weight", "axle_sum_limit_lb", "base"),
    ("size", "rear_overhang_in_all_ft", "base"),
    ("size", "overhang_one_end_ft", "base"),
    ("size", "rear_overhang_agreed_ft", "base"),
}
# Computed gross weight table of 32-9-20, rows as printed: feet -> axles -> lb. 44 stands for 44 ft and over.
TABLE = {
    8: {2: 36_000, 3: 42_000, 4: 42_000},
    9: {2: 38_000, 3: 42_500, 4: 42_500},
    10: {2: 40_000, 3: 43_500, 4: 43_500},
    11: {3: 44_000, 4: 44_000},
    12: {3: 45_000, 4: 50_000, 5: 50_000},
    13: {3: 45_500, 4: 50_500, 5: 50_500},
    14: {3: 46_500, 4: 51_500, 5: 51_500},
    15: {3: 47_000, 4: 52_000, 5: 52_000},
    16: {3: 48_000, 4: 52_500, 5: 58_000, 6: 58_000},
    17: {3: 48_500, 4: 53_500, 5: 58_500, 6: 58_500},
    18: {3: 49_500, 4: 54_000, 5: 59_000, 6: 59_000},
    19: {3: 50_000, 4: 54_500, 5: 60_000, 6: 60_000},
    20: {3: 51_000, 4: 55_500, 5: 60_500, 6: 66_000},
    21: {3: 51_500, 4: 56_000, 5: 61_000, 6: 66_500},
    22: {3: 52_500, 4: 56_500, 5: 61_500, 6: 67_000},
    23: {3: 53_000, 4: 57_500, 5: 62_500, 6: 68_000},
    24: {3: 54_000, 4: 58_000, 5: 63_000, 6: 68_500},
    25: {3: 54_500, 4: 58_500, 5: 63_500, 6: 69_000},
    26: {3: 56_000, 4: 59_500, 5: 64_000, 6: 69_500},
    27: {3: 57_000, 4: 60_000, 5: 65_000, 6: 70_000},
    28: {3: 59_000, 4: 60_500, 5: 65_500, 6: 71_000},
    29: {3: 60_000, 4: 61_500, 5: 66_000, 6: 71_500},
    44: {4: 75_000, 5: 80_000, 6: 84_000},
}


def arms(limit: Limit) -> dict[str, Shape]:
    """The one version of a limit, its allowances and its caps."""
    (version,) = limit.versions
    return {"base": version} | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


def gross_values(axles: int, feet: float) -> set[float]:
    """Values of the rows that take in that vehicle."""
    (version,) = FILES["us-al/weight"].limits["gross_limit_lb"].versions
    found = set()
    for row in version.table.rows:
        count, span = row.when["all_of"]
        spread = span["outer_span_ft"]
        inside = parse_interval(spread).holds(feet) if isinstance(spread, str) else feet > spread["more_than"]
        if count["axle_count"] == axles and inside:
            found.add(row.value)
    return found


@pytest.mark.parametrize(("file", "limit", "arm", "shape", "figure"), FIGURES)
def test_figure_of_the_instrument(file, limit, arm, shape, figure):
    entry = arms(FILES[f"us-al/{file}"].limits[limit])[arm]
    assert entry.kind == shape
    assert getattr(entry, shape) == pytest.approx(figure)


def test_no_figure_of_the_files_is_left_out():
    typed = {(file, limit, arm) for file, limit, arm, _, _ in FIGURES} | NO_SINGLE_FIGURE
    held = {
        (file.topic, name, arm) for file in FILES.values() for name, limit in file.limits.items() for arm in arms(limit)
    }
    assert held == typed


@pytest.mark.parametrize(
    ("feet", "axles", "pounds"), [(ft, n, lb) for ft, row in TABLE.items() for n, lb in row.items()]
)
def test_row_of_the_printed_table(feet, axles, pounds):
    assert gross_values(axles, feet) == {pounds}


@pytest.mark.parametrize(
    ("axles", "feet", "values"),
    [
        (5, 25.5, {63_500, 64_000}),  # rows 25 ft and 26 ft
        (5, 38, {66_000, 80_000}),  # rows 29 ft and 44 ft
        (4, 43.9, {61_500, 75_000}),
        (3, 35, set()),  # no row known
        (7, 60, set()),
        (5, 11, set()),  # no cell printed
    ],
)
def test_between_known_rows_both_stand_and_elsewhere_none(axles, feet, values):
    assert gross_values(axles, feet) == values


def test_sources_disagree_on_the_tandem():
    # Department and press of 2025: 34,000. Trade press of 2022, and the cell of the table for two axles up to 8 ft: 36,000.
    (version,) = FILES["us-al/weight"].limits["tandem_limit_lb"].versions
    assert sorted(s.value for s in version.said) == [34_000, 36_000]


@pytest.mark.parametrize("limit", WEIGHTS)
def test_the_tenth_is_a_tolerance_for_every_cargo(limit):
    (tenth,) = FILES["us-al/weight"].limits[limit].allowances
    assert (tenth.form, tenth.than, tenth.where, tenth.needs) == ("enforcement tolerance", "base", None, None)


def test_overhang_of_both_ends_together():
    # 32-9-20 (text of 2025): 5 ft in all, so what the front takes is gone at the rear.
    (version,) = FILES["us-al/size"].limits["rear_overhang_in_all_ft"].versions
    assert (version.linear.base, version.linear.times, version.linear.per) == (5, -1, "front_overhang_ft")
