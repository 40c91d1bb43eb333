"""West Virginia's figures in the rule files against the agency's page and the Code, typed here again."""

from datetime import date

import pytest

from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

FILES = {f.id: f for f in read_rules(["US-WV"]).files if f.place == "US-WV" and f.topic in TOPIC_GROUPS["haul"]}
LOCAL = {"one_of": ["county_road", "city_street"]}

# (file, limit, arm, shape, figure)
FIGURES = [
    # Division of Highways, legal size and weight limits: axle 20,000; tandem on local service routes 34,000.
    ("weight", "single_axle_limit_lb", "base", "value", 20_000),
    ("weight", "tandem_limit_lb", "base", "value", 34_000),
    # W. Va. Code 17C-17-11d: ten percent.
    ("weight", "designated_gross_lb", "tolerance-10", "percent_more", 10),
    ("weight", "designated_gross_lb", "designated-higher", "field", "designated_gross_lb"),
    ("weight", "designated_gross_lb", "designated-lower", "field", "designated_gross_lb"),
    # Division of Highways: 13 ft 6 in. Permit services: 60 ft, 48 ft.
    ("size", "height_limit_ft", "base", "value", 13 + 6 / 12),
    ("size", "combination_length_ft", "base", "value", 60),
    ("size", "semitrailer_length_ft", "base", "value", 48),
    # 17C-15-14, from memory: 4 ft or more, flag of 12 in.
    ("size", "projecting_load_ft", "base", "value", 4),
    ("size", "flag_size_in", "base", "value", 12),
]
TABLES = [
    # Division of Highways: US and WV routes 80,000, local service routes 65,000.
    ("weight", "designated_gross_lb", "base", [({"road_class": {"one_of": ["us_route", "state_route"]}}, 80_000), ({"road_class": {"none_of": ["us_route", "state_route"]}}, 65_000)]),
    # Trucks of three, four, five axles: 60,000, 70,000, 73,000; of two, 2 x 20,000.
    ("weight", "truck_gross_lb", "base", [({"axle_count": "[1, 2]"}, 2 * 20_000), ({"axle_count": 3}, 60_000), ({"axle_count": 4}, 70_000), ({"axle_count": {"at_least": 5}}, 73_000)]),
    # 8 ft 6 in; 8 ft on local routes with lanes below 10 ft.
    ("size", "width_limit_in", "base", [({"road_class": {"none_of": LOCAL["one_of"]}}, 8 * 12 + 6), ({"road_class": LOCAL, "lane_width_ft": {"at_least": 10}}, 8 * 12 + 6), ({"road_class": LOCAL, "lane_width_ft": {"less_than": 10}}, 8 * 12)]),
]  # fmt: skip
OPEN = [
    # Permit services: 3 ft in front and 6 ft behind, one of them the other way round. 53 ft on conditions, else 48 ft.
    ("size", "front_overhang_limit_ft", "base", [3, 6]),
    ("size", "rear_overhang_limit_ft", "base", [6, 3]),
    ("size", "semitrailer_length_ft", "national-network", [48, 53]),
]
OTHER = {("weight", "axle_sum_limit_lb", "base"), ("weight", "local_axle_sum_limit_lb", "base")}


def arms(limit: Limit) -> dict[str, Shape]:
    """The one version of a limit, its allowances and its caps."""
    (version,) = limit.versions
    return {"base": version} | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


def arm(file: str, limit: str, name: str) -> Shape:
    return arms(FILES[f"us-wv/{file}"].limits[limit])[name]


@pytest.mark.parametrize(("file", "limit", "name", "shape", "figure"), FIGURES)
def test_figure_of_the_law(file, limit, name, shape, figure):
    entry = arm(file, limit, name)
    assert entry.kind == shape
    assert getattr(entry, shape) == figure


@pytest.mark.parametrize(("file", "limit", "name", "rows"), TABLES)
def test_rows_of_the_tables(file, limit, name, rows):
    assert [(r.when, r.value) for r in arm(file, limit, name).table.rows] == rows


@pytest.mark.parametrize(("file", "limit", "name", "figures"), OPEN)
def test_where_sources_disagree_nothing_is_decided(file, limit, name, figures):
    assert [s.value for s in arm(file, limit, name).said] == figures


def test_no_figure_of_the_files_is_left_out():
    typed = {entry[:3] for entry in (*FIGURES, *TABLES, *OPEN)} | OTHER
    held = {(file.topic, n, a) for file in FILES.values() for n, limit in file.limits.items() for a in arms(limit)}
    assert held == typed


def test_the_tolerance_is_on_the_gross_of_the_road_and_on_nothing_else():
    # 17C-17-11d: since 1 July 2004; axle weights and rules on the vehicle stay.
    held = [
        (n, a.id, a.from_)
        for n, limit in FILES["us-wv/weight"].limits.items()
        for a in limit.allowances
        if a.form == "enforcement tolerance"
    ]
    assert held == [("designated_gross_lb", "tolerance-10", date(2004, 7, 1))]
    assert arm("weight", "designated_gross_lb", "tolerance-10").than == "limit"


def test_a_road_designated_for_less_is_below_its_class():
    # Classes of 17C-17-11d: 65,000, 73,500, 80,000.
    first, second = arm("weight", "designated_gross_lb", "designated-lower").where["any_of"]
    assert (first["designated_gross_lb"], second["designated_gross_lb"]) == (
        {"less_than": 80_000},
        {"less_than": 65_000},
    )


def test_rules_from_memory_are_marked_so():
    marked = {r.id for file in FILES.values() for r in file.rules if r.verified == "memory"}
    assert marked == {"day-flag", "night-lamp"}


def test_the_trigger_for_marking_takes_in_its_end():
    # Wording that many states share, from memory: four feet or more.
    rules = {r.id: r for r in FILES["us-wv/size"].rules}
    for rule in ("day-flag", "night-lamp"):
        assert rules[rule].when["rear_overhang_ft"] == {"at_least": {"limit": "projecting_load_ft"}}
