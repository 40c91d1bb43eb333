"""Florida's figures in the rule files against the Florida Statutes, typed here again from the sections named beside them."""

import pytest

from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

FILES = {f.id: f for f in read_rules(["US-FL"]).files if f.place == "US-FL" and f.topic in TOPIC_GROUPS["haul"]}

# Fla. Stat. 316.535(3): feet between first and last axle, to the nearest foot, and pounds.
SPACING = [
    (8, 40_000), (9, 44_140), (10, 44_980), (11, 45_810), (12, 46_640), (13, 47_480), (14, 48_310), (15, 49_150),
    (16, 49_980), (17, 50_810), (18, 51_640), (19, 52_480), (20, 53_310), (21, 54_140), (22, 54_980), (23, 55_810),
    (24, 56_640), (25, 57_470), (26, 58_310), (27, 59_140), (28, 59_970), (29, 60_810), (30, 61_640), (31, 62_470),
    (32, 63_310), (33, 64_140), (34, 64_970), (35, 65_800), (36, 66_610),
]  # fmt: skip
# (file, limit, arm, shape, figure)
FIGURES = [
    # 316.535(5): 80,000 lb including all tolerances.
    ("weight", "gross_limit_lb", "base", "value", 80_000),
    # 316.535(1)-(2): single axle 20,000 lb. Federal report of 2015: 22,000 and 44,000 with the ten percent.
    ("weight", "single_axle_limit_lb", "base", "value", 22_000 / 1.1),
    ("weight", "tandem_limit_lb", "base", "value", 44_000 / 1.1),
    *(
        ("weight", f"{limit}_lb", "scale-tolerance-10", "percent_more", 10)
        for limit in ("single_axle_limit", "tandem_limit", "axle_sum_limit")
    ),
    # 316.515(1): 102 in. (2): 13 ft 6 in. (3)(a)-(b): 48 ft. (7)(d): 75 ft.
    ("size", "width_limit_in", "base", "value", 102),
    ("size", "height_limit_ft", "base", "value", 13 + 6 / 12),
    ("size", "semitrailer_length_ft", "base", "value", 48),
    ("size", "tree_length_limit_ft", "base", "value", 75),
    # Summary of a law firm: 3 ft.
    ("size", "front_overhang_limit_ft", "base", "value", 3),
    # 316.228(2): more than 4 ft; 60 flashes; 500 ft. (1): 4 ft or more; two red lamps; flag of 18 in since ch. 2015-163.
    ("size", "projecting_log_ft", "base", "value", 4),
    ("size", "projecting_load_ft", "base", "value", 4),
    ("size", "lamp_flashes", "base", "value", 60),
    ("size", "lamp_seen_ft", "base", "value", 500),
    ("size", "night_lamps", "base", "value", 2),
    ("size", "flag_size_in", "base", "value", 18),
]
# Tables, sums, the formula, and values between which nothing is decided: tested by themselves below.
OTHER = {
    ("weight", "axle_sum_limit_lb", "base"),
    ("weight", "outer_span_limit_lb", "base"),
    ("weight", "outer_span_limit_lb", "spacing-table"),
    ("weight", "outer_span_limit_lb", "scale-tolerance-10"),
    ("size", "truck_length_ft", "base"),
    ("size", "semitrailer_length_ft", "longer-semitrailer"),
}


def arms(limit: Limit) -> dict[str, Shape]:
    """The one version of a limit, its allowances and its caps."""
    (version,) = limit.versions
    return {"base": version} | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


def arm(file: str, limit: str, name: str) -> Shape:
    return arms(FILES[f"us-fl/{file}"].limits[limit])[name]


@pytest.mark.parametrize(("file", "limit", "name", "shape", "figure"), FIGURES)
def test_figure_of_the_statute(file, limit, name, shape, figure):
    entry = arm(file, limit, name)
    assert entry.kind == shape
    assert getattr(entry, shape) == pytest.approx(figure)


def test_no_figure_of_the_files_is_left_out():
    typed = {(file, limit, name) for file, limit, name, _, _ in FIGURES} | OTHER
    held = {(file.topic, n, a) for file in FILES.values() for n, limit in file.limits.items() for a in arms(limit)}
    assert held == typed


def test_spacing_table():
    rows = [
        (r.when["outer_span_ft"], r.value) for r in arm("weight", "outer_span_limit_lb", "spacing-table").table.rows
    ]
    # The printed row of each foot holds from half a foot below it to half a foot above it.
    first = [("[0, 8.5)", 40_000)]
    middle = [(f"[{feet - 0.5}, {feet + 0.5})", lb) for feet, lb in SPACING[1:-1]]
    assert rows == [*first, *middle, ({"at_least": 35.5}, 66_610)]
    assert arm("weight", "outer_span_limit_lb", "spacing-table").where == {"outer_span_ft": {"less_than": 36.5}}


def test_the_formula_is_for_the_whole_vehicle_to_the_nearest_foot():
    # 316.535(5): external axles, number of axles on the vehicle. (3): nearest foot.
    measure = arm("weight", "outer_span_limit_lb", "base").measure
    assert measure.of == {"axle_count": "axle_count", "span_ft": "outer_span_ft"}
    assert measure.parameters == {"span_rounding": "nearest", "ties": "down"}


def test_no_tolerance_above_the_gross_limit():
    # 316.535(5): 80,000 including all enforcement tolerances; so the ten percent on the span ends there.
    assert FILES["us-fl/weight"].limits["gross_limit_lb"].allowances == []
    ten, gross = arm("weight", "outer_span_limit_lb", "scale-tolerance-10").lesser_of
    assert (ten.percent_more, ten.than, gross.limit) == (10, "limit", "gross_limit_lb")


def test_length_of_trucks_and_of_longer_semitrailers():
    # 316.515(3)(a): straight truck 40 ft, truck and trailer 68 ft. (3)(b): 57 ft with a kingpin distance of 41 ft.
    rows = arm("size", "truck_length_ft", "base").table.rows
    assert [(r.when, r.value) for r in rows] == [
        ({"vehicle_type": "single_unit"}, 40),
        ({"vehicle_type": "combination"}, 68),
    ]
    longer = arm("size", "semitrailer_length_ft", "longer-semitrailer")
    assert longer.where == {"kingpin_to_rear_axle_ft": {"at_most": 41}}
    assert [s.value for s in longer.said] == [48, 57]


def test_logs_are_marked_above_4_ft_and_other_loads_in_the_dark_from_4_ft():
    # 316.228(2): more than four feet. 316.228(1): lamps from four feet, flags above.
    rules = {r.id: r.when for r in FILES["us-fl/size"].rules}
    assert rules["log-lamp"] == rules["log-flag"] == {"rear_overhang_ft": {"more_than": {"limit": "projecting_log_ft"}}}
    assert rules["load-flag"] == {"rear_overhang_ft": {"more_than": {"limit": "projecting_load_ft"}}}
    assert rules["night-lamps"] == {"rear_overhang_ft": {"at_least": {"limit": "projecting_load_ft"}}, "dark": True}
