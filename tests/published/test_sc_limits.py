"""South Carolina's figures in the rule files against the Code of Laws, typed here again from the statutes named beside them."""

import pytest

from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

FILES = {f.id: f for f in read_rules(["US-SC"]).files if f.place == "US-SC" and f.topic in TOPIC_GROUPS["haul"]}

TOLERATED = ("gross_limit_lb", "single_axle_limit_lb", "tandem_limit_lb", "axle_sum_limit_lb")
GROSS = [
    # S.C. Code 56-5-4140(A)(1), the table before tolerances.
    ({"vehicle_type": "single_unit", "axle_count": "[1, 2]"}, 35_000),
    ({"vehicle_type": "single_unit", "axle_count": 3}, 46_000),
    ({"vehicle_type": "single_unit", "axle_count": 4}, 63_500),
    ({"vehicle_type": "single_unit", "axle_count": {"at_least": 5}}, 65_000),
    ({"vehicle_type": "combination", "axle_count": "[1, 3]"}, 50_000),
    ({"vehicle_type": "combination", "axle_count": 4}, 65_000),
    ({"vehicle_type": "combination", "axle_count": {"at_least": 5}}, 73_280),
]
# (file, limit, arm, shape, figure)
FIGURES = [
    # S.C. Code 56-5-4140(A)(1), last paragraph: 10 percent. (A)(2): 15 percent for unprocessed forest products.
    *(("weight", limit, f"tolerance-{p}", "percent_more", p) for limit in TOLERATED for p in (10, 15)),
    # 56-5-4130(A)(1), (B): 20,000 lb on tires below 100 psi, 16,000 on others.
    ("weight", "single_axle_limit_lb", "base", "value", 20_000),
    ("weight", "high_pressure_axle_lb", "base", "value", 16_000),
    # 56-5-4140(A)(1): tandem 36,000 lb.
    ("weight", "tandem_limit_lb", "base", "value", 36_000),
    # 56-5-4030(B): 102 in. 56-5-4060(A)(1): 13 ft 6 in. 56-5-4080: 3 ft in front, 6 ft behind.
    ("size", "width_limit_in", "base", "value", 102),
    ("size", "height_limit_ft", "base", "value", 13 + 6 / 12),
    ("size", "front_overhang_limit_ft", "base", "value", 3),
    ("size", "rear_overhang_limit_ft", "base", "value", 6),
    # 56-5-4090(D): longer than 80 ft needs a permit.
    ("size", "log_length_ft", "base", "value", 80),
    # 56-5-4630(A): 4 ft or more; 60 flashes a minute; 500 ft, for the strobe and for the red light in its place.
    ("size", "projecting_load_ft", "base", "value", 4),
    ("size", "lamp_flashes", "base", "value", 60),
    ("size", "lamp_seen_ft", "base", "value", 500),
    ("size", "red_light_seen_ft", "base", "value", 500),
    # 56-5-4630(B): red flag 12 by 12 in.
    ("size", "flag_size_in", "base", "value", 12),
    # 48-23-97(A): within 30 days after the harvest is complete.
    ("tickets", "ticket_days", "base", "value", 30),
]
# A table, and a sum of other limits.
NO_SINGLE_FIGURE = {("weight", "gross_limit_lb", "base"), ("weight", "axle_sum_limit_lb", "base")}


def arms(limit: Limit) -> dict[str, Shape]:
    """The one version of a limit, its allowances and its caps."""
    (version,) = limit.versions
    return {"base": version} | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


@pytest.mark.parametrize(("file", "limit", "arm", "shape", "figure"), FIGURES)
def test_figure_of_the_statute(file, limit, arm, shape, figure):
    entry = arms(FILES[f"us-sc/{file}"].limits[limit])[arm]
    assert entry.kind == shape
    assert getattr(entry, shape) == pytest.approx(figure)


def test_no_figure_of_the_files_is_left_out():
    typed = {(file, limit, arm) for file, limit, arm, _, _ in FIGURES} | NO_SINGLE_FIGURE
    held = {
        (file.topic, name, arm) for file in FILES.values() for name, limit in file.limits.items() for arm in arms(limit)
    }
    assert held == typed


def test_gross_weight_by_vehicle_and_axles():
    (version,) = FILES["us-sc/weight"].limits["gross_limit_lb"].versions
    assert [(r.when, r.value) for r in version.table.rows] == GROSS


@pytest.mark.parametrize("limit", TOLERATED)
def test_the_percentages_are_tolerances_on_the_printed_figure_and_never_added_up(limit):
    # 56-5-4140(A)(1)-(2): both stand on the limits of item (1); 73,280 x 1.15 = 84,272 for five axles.
    held = FILES["us-sc/weight"].limits[limit].allowances
    assert {(a.form, a.than) for a in held} == {("enforcement tolerance", "base")}


@pytest.mark.parametrize(
    ("axles", "tolerated"),
    # 50,000 x 1.15, 65,000 x 1.15, 73,280 x 1.15: weights of the fifteen percent on combinations.
    [(3, 57_500), (4, 74_750), (5, 84_272)],
)
def test_tolerated_gross_of_a_combination_with_logs(axles, tolerated):
    limit = FILES["us-sc/weight"].limits["gross_limit_lb"]
    (version,) = limit.versions
    rows = [r for r in version.table.rows if r.when["vehicle_type"] == "combination"]
    base = {3: rows[0], 4: rows[1], 5: rows[2]}[axles].value
    percent = next(a.percent_more for a in limit.allowances if a.id == "tolerance-15")
    assert base * (100 + percent) / 100 == tolerated


def test_what_a_tandem_is():
    # S.C. Code 56-5-4140(A)(1): 40 in or more and not more than 96 in.
    held = FILES["us-sc/weight"].definitions["axle_groups"].model_extra
    assert held["tandem_spread_in"] == "[40, 96]"


def test_the_trigger_for_marking_takes_in_its_end():
    # S.C. Code 56-5-4630(A): four feet or more.
    rules = {r.id: r for r in FILES["us-sc/size"].rules}
    for rule in ("log-lamp", "red-flag"):
        assert rules[rule].when == {"rear_overhang_ft": {"at_least": {"limit": "projecting_load_ft"}}}


def test_a_long_log_needs_the_permit_of_the_state():
    # S.C. Code 56-5-4090(D), 57-3-130.
    (rule,) = [r for r in FILES["us-sc/size"].rules if r.id == "log-length"]
    assert [(e.needs.document, e.needs.state) for e in rule.unless] == [("overlength_permit", "US-SC")]


def test_what_a_ticket_shows():
    # S.C. Code 48-23-97(A)(1)-(11), in that order; (6), a dealer, only if there is one.
    held = FILES["us-sc/tickets"].definitions["ticket"].model_extra["contents"]
    assert held == [
        "ticket_number", "receiver_name", "receiver_address", "date_received", "tract", "county_and_state", "producer",
        "species", "product_type", ["gross_tare_net", "volume"], "deductions",
    ]  # fmt: skip
