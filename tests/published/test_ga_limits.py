"""Georgia's figures in the rule files against the Official Code, typed here again from the statutes named beside them."""

from datetime import date

import pytest

from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

FILES = {f.id: f for f in read_rules(["US-GA"]).files if f.place == "US-GA" and f.topic in TOPIC_GROUPS["haul"]}

# (file, limit, arm, shape, figure): an arm is "base", a row of a table, an allowance or a cap.
FIGURES = [
    # O.C.G.A. 32-6-26(c)(1)(A): 80,000 lb, and not above the single-axle maximum times the axles: 2 x 20,340, 3 x 20,340.
    ("weight", "gross_limit_lb", "base: 1 to 2 axles", "value", 40_680),
    ("weight", "gross_limit_lb", "base: 3 axles", "value", 61_020),
    # (c)(1)(C): four axles 70,000 lb.
    ("weight", "gross_limit_lb", "base: 4 axles", "value", 70_000),
    ("weight", "gross_limit_lb", "base: 5 axles or more", "value", 80_000),
    # (g)(1)(A): forest products, 23,000 single, 46,000 tandem, 80,000 gross.
    ("weight", "forest_gross_lb", "base", "value", 80_000),
    ("weight", "forest_single_axle_lb", "base", "value", 23_000),
    ("weight", "forest_tandem_lb", "base", "value", 46_000),
    ("weight", "gross_limit_lb", "forest-allowance", "limit", "forest_gross_lb"),
    ("weight", "single_axle_limit_lb", "forest-allowance", "limit", "forest_single_axle_lb"),
    ("weight", "tandem_limit_lb", "forest-allowance", "limit", "forest_tandem_lb"),
    # (g)(2): 5 percent on single axle, tandem and gross. (g)(5), House Bill 189 of 2023: 10 percent.
    *(
        ("weight", f"{limit}_lb", f"forest-variance-{percent}", "percent_more", percent)
        for limit in ("gross_limit", "single_axle_limit", "tandem_limit")
        for percent in (5, 10)
    ),
    # (f): county road 56,000 lb.
    ("weight", "gross_limit_lb", "county-road", "value", 56_000),
    # (b)(2): 18,000 lb and 13 percent, 18,000 x 1.13 = 20,340.
    ("weight", "single_axle_limit_lb", "base", "value", 20_340),
    # (c)(1)(A): tandem 40,680 lb.
    ("weight", "tandem_limit_lb", "base", "value", 40_680),
    # (c)(1)(B): bridge formula between 73,280 and 80,000 lb.
    ("weight", "bridge_formula_from_lb", "base", "value", 73_280),
    ("weight", "bridge_formula_to_lb", "base", "value", 80_000),
    # O.C.G.A. 32-6-23: 102 in. 32-6-22: 13 ft 6 in. 32-6-24(b)(1)(B): 53 ft. (b)(2)(C): 100 ft.
    ("size", "width_limit_in", "base", "value", 102),
    ("size", "height_limit_ft", "base", "value", 13 + 6 / 12),
    ("size", "semitrailer_length_ft", "base", "value", 53),
    ("size", "combination_length_ft", "base", "value", 100),
    # O.C.G.A. 40-8-27(b.1): more than 4 ft; 60 flashes a minute; 500 ft.
    ("size", "projecting_load_ft", "base", "value", 4),
    ("size", "lamp_flashes", "base", "value", 60),
    ("size", "lamp_seen_ft", "base", "value", 500),
    # O.C.G.A. 40-8-27(a): flags of 18 in; one up to 2 ft of width, else two.
    ("size", "flag_size_in", "base", "value", 18),
    ("size", "flags_needed", "base: up to 2 ft", "value", 1),
    ("size", "flags_needed", "base: wider than 2 ft", "value", 2),
    # O.C.G.A. 32-6-26(g)(4): lights clearly visible at 300 ft.
    ("size", "night_lights_ft", "base", "value", 300),
    # O.C.G.A. 12-6-23: ticket within 20 days of removal.
    ("tickets", "ticket_days", "base", "value", 20),
]

ROWS = {
    "gross_limit_lb": ["1 to 2 axles", "3 axles", "4 axles", "5 axles or more"],
    "flags_needed": ["up to 2 ft", "wider than 2 ft"],
}
CONDITIONS = {
    "gross_limit_lb": [{"axle_count": "[1, 2]"}, {"axle_count": 3}, {"axle_count": 4}, {"axle_count": {"at_least": 5}}],
    "flags_needed": [{"projecting_width_ft": "[0, 2]"}, {"projecting_width_ft": {"more_than": 2}}],
}
COMPUTED = {("weight", "axle_sum_limit_lb"), ("weight", "outer_bridge_limit_lb"), ("weight", "metro_counties")}


def arms(name: str, limit: Limit) -> dict[str, Shape]:
    """Every figure of a limit that has one version: base or rows of its table, allowances, caps."""
    (version,) = limit.versions
    found: dict[str, Shape] = {"base": version}
    if version.table is not None:
        found = {f"base: {w}": Shape(value=r.value) for w, r in zip(ROWS[name], version.table.rows, strict=True)}
    return found | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


@pytest.mark.parametrize(("file", "limit", "arm", "shape", "figure"), FIGURES)
def test_figure_of_the_statute(file, limit, arm, shape, figure):
    entry = arms(limit, FILES[f"us-ga/{file}"].limits[limit])[arm]
    assert entry.kind == shape
    assert getattr(entry, shape) == pytest.approx(figure)


def test_no_figure_of_the_files_is_left_out():
    typed = {(file, limit, arm) for file, limit, arm, _, _ in FIGURES}
    held = {
        (file.topic, name, arm)
        for file in FILES.values()
        for name, limit in file.limits.items()
        if (file.topic, name) not in COMPUTED
        for arm in arms(name, limit)
    }
    assert held == typed


@pytest.mark.parametrize("limit", CONDITIONS)
def test_rows_of_the_tables_hold_where_the_statute_says(limit):
    file = FILES["us-ga/weight" if limit == "gross_limit_lb" else "us-ga/size"]
    (version,) = file.limits[limit].versions
    assert [r.when for r in version.table.rows] == CONDITIONS[limit]


@pytest.mark.parametrize("limit", ["gross", "single_axle", "tandem"])
def test_variances_run_on_the_forest_figure_with_their_radius_and_day(limit):
    held = {a.id: a for a in FILES["us-ga/weight"].limits[f"{limit}_limit_lb"].allowances}
    five, ten = held["forest-variance-5"], held["forest-variance-10"]
    # O.C.G.A. 32-6-26(g)(2): within 100 miles; (g)(5): within 150 miles.
    assert five.where["haul_radius_miles"] == {"at_most": 100}
    assert ten.where["haul_radius_miles"] == {"at_most": 150}
    assert five.than == ten.than == f"forest_{limit}_lb"
    # House Bill 189 was signed, and took effect, on 5 May 2023; House Bill 164 of 2025 took its end away.
    assert (five.from_, five.until) == (None, None)
    assert (ten.from_, ten.until) == (date(2023, 5, 5), None)


def test_the_county_list_is_marked_as_known_from_memory():
    # Press reports of House Bill 189: 13 counties, Henry among them. The other names are from memory.
    (version,) = FILES["us-ga/weight"].limits["metro_counties"].versions
    assert len(set(version.words)) == 13
    assert "Henry" in version.words
    assert version.verified == "memory"


def test_what_a_tandem_is():
    # O.C.G.A. 32-6-26(a)(5): more than 40 in and not more than 216 in, without the steer axle. (a)(2), (c)(3): no lift axle.
    held = FILES["us-ga/weight"].definitions["axle_groups"].model_extra
    assert held == {"tandem_spread_in": "(40, 216]", "steer_axle_in_tandem": False, "lift_axles_count": False}


def test_what_a_ticket_shows():
    # O.C.G.A. 12-6-23, in the order of the text; a dealer only if there is one.
    held = FILES["us-ga/tickets"].definitions["ticket"].model_extra["contents"]
    assert held == [
        "ticket_number", "receiver_name", "receiver_address", "date_received", "tract", "county_and_state", "producer",
        "species", ["gross_tare_net", "volume"], "deductions", "scaler_name",
    ]  # fmt: skip
