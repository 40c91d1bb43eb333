"""Kentucky's figures in the rule files against the Revised Statutes, typed here again from the sections named beside them."""

import pytest

from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

FILES = {f.id: f for f in read_rules(["US-KY"]).files if f.place == "US-KY" and f.topic in TOPIC_GROUPS["haul"]}

AXLES = ("single_axle_limit_lb", "tandem_limit_lb", "tridem_limit_lb")
FIGURES = [
    # KRS 189.222(1)(c): single 20,000, tandem 34,000, tridem 48,000 lb; tridem from 42 in to less than 120 in.
    ("weight", "single_axle_limit_lb", "base", "value", 20_000),
    ("weight", "tandem_limit_lb", "base", "value", 34_000),
    ("weight", "tridem_limit_lb", "base", "value", 48_000),
    ("weight", "tridem_axles", "base", "value", 3),
    ("weight", "tridem_from_in", "base", "value", 42),
    ("weight", "tridem_below_in", "base", "value", 120),
    # 189.222(1)(d): 5 percent on axles. (6): 10 percent on axle or gross. (3)(a): 10 percent on gross. (2)(c): 80,000 lb.
    *(("weight", limit, "tolerance-5", "percent_more", 5) for limit in (*AXLES, "axle_sum_limit_lb")),
    *(("weight", limit, "commercial-10", "percent_more", 10) for limit in (*AXLES, "gross_limit_lb")),
    ("weight", "gross_limit_lb", "exclusive-10", "percent_more", 10),
    ("weight", "gross_limit_lb", "primary-forest-80000", "value", 80_000),
    # 186.050(9): 50 air miles.
    ("weight", "forest_class_radius_miles", "base", "value", 50),
    # 189.222(1)(b): semitrailer 53 ft. 189.221(2)-(4): 30 ft; 36,000 lb.
    ("size", "semitrailer_length_ft", "base", "value", 53),
    ("size", "undesignated_combination_length_ft", "base", "value", 30),
    ("size", "undesignated_gross_lb", "base", "value", 36_000),
    # 189.060(3): more than 4 ft; two flags by day, two lights by night.
    ("size", "projecting_load_ft", "base", "value", 4),
    ("size", "marks_needed", "base", "value", 2),
]
TABLES = {
    # 189.221(4): 36,000 lb; Cabinet's map: A 44,000, AA 62,000, AAA 80,000. The first two rows are undesignated roads.
    ("weight", "gross_limit_lb"): [36_000, 36_000, 44_000, 62_000, 80_000],
    # 189.221(1): 96 in, 11 ft 6 in. 189.222(1)(a), (f), (9)(a): 102 in, 13 ft 6 in. Designated state routes: 96 or 102.
    ("size", "width_limit_in"): [96, 96, 102, 96, 102],
    ("size", "height_limit_ft"): [11.5, 11.5, 13.5, 13.5],
    # 189.221(2)-(3): 26.5 ft. 189.222(1)(b): 45 ft.
    ("size", "single_truck_length_ft"): [26.5, 26.5, 45, 45],
}
OTHERS = {("weight", "axle_sum_limit_lb", "base"), ("weight", "gross_limit_lb", "ten-percent-on-lighter-roads")}


def arms(limit: Limit) -> dict[str, Shape]:
    """The one version of a limit, its allowances and its caps."""
    (version,) = limit.versions
    return {"base": version} | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


@pytest.mark.parametrize(("file", "limit", "arm", "shape", "figure"), FIGURES)
def test_figure_of_the_statute(file, limit, arm, shape, figure):
    entry = arms(FILES[f"us-ky/{file}"].limits[limit])[arm]
    assert entry.kind == shape
    assert getattr(entry, shape) == pytest.approx(figure)


@pytest.mark.parametrize(("place", "values"), TABLES.items())
def test_rows_of_the_tables(place, values):
    (version,) = FILES[f"us-ky/{place[0]}"].limits[place[1]].versions
    assert [r.value for r in version.table.rows] == values


def test_no_figure_of_the_files_is_left_out():
    typed = {(file, limit, arm) for file, limit, arm, _, _ in FIGURES} | {(*t, "base") for t in TABLES} | OTHERS
    held = {
        (file.topic, name, arm) for file in FILES.values() for name, limit in file.limits.items() for arm in arms(limit)
    }
    assert held == typed


@pytest.mark.parametrize("limit", AXLES)
def test_five_and_ten_percent_both_run_on_the_printed_figure(limit):
    # 189.222(1)(d) and (6): alternatives, so a tandem reaches 35,700 or 37,400 and never both together.
    held = {a.id: a for a in FILES["us-ky/weight"].limits[limit].allowances}
    assert {a.than for a in held.values()} == {"base"}
    assert held["tolerance-5"].form == "enforcement tolerance"
    assert held["commercial-10"].form == "raised limit"


@pytest.mark.parametrize("allowance", ["exclusive-10", "commercial-10"])
def test_ten_percent_on_gross_is_for_roads_of_the_highest_class(allowance):
    # 80,000 x 1.10 = 88,000 on class AAA; whether it lifts (2)(c) on lower classes is not clear.
    held = {a.id: a for a in FILES["us-ky/weight"].limits["gross_limit_lb"].allowances}
    assert held[allowance].where["designated_gross_lb"] == {"at_least": 80_000}
    assert sorted(s.value for s in held["ten-percent-on-lighter-roads"].said) == [80_000, 80_000 * 110 / 100]


@pytest.mark.parametrize("rule", ["single-axle", "tandem", "tridem", "axle-sum"])
def test_farm_and_forest_registration_have_no_axle_limits(rule):
    # 189.222(5): exclusively farm or primary forestry products, and registered under 186.050(4) or (9).
    (exemption,) = {r.id: r for r in FILES["us-ky/weight"].rules}[rule].unless
    assert exemption.where["hauls_forest_products_only"] is True
    farm, forest = exemption.where["any_of"]
    assert farm == {"registration_class": "farm"}
    assert forest["registration_class"] == "forest_haul"
    assert forest["haul_radius_miles"] == {"at_most": {"limit": "forest_class_radius_miles"}}


def test_what_a_tandem_is():
    # 189.222(1)(c): 42 in or more and less than 96 in; axles less than 42 in apart are one.
    assert FILES["us-ky/weight"].definitions["axle_groups"].model_extra["tandem_spread_in"] == "[42, 96)"
