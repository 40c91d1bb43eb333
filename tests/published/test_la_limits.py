"""Louisiana's figures in the rule files, typed here again from the code, regulation and statements named beside them."""

from datetime import date

import pytest

from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

FILES = {f.id: f for f in read_rules(["US-LA"]).files if f.place == "US-LA" and f.topic in TOPIC_GROUPS["haul"]}

# (file, limit, arm, shape, figure)
FIGURES = [
    # LAC 73:I.503(A)(4): 80,000 lb. (A)(5): 88,000 lb off the Interstate with a tridum or quadrum.
    ("weight", "gross_limit_lb", "base", "value", 80_000),
    ("weight", "gross_limit_lb", "tridum-combination", "value", 88_000),
    # R.S. 32:387(C)(3), permit office January 2020: harvest season permit 86,600 lb; with on-board scales 88,000 lb.
    ("weight", "gross_limit_lb", "harvest-permit", "value", 86_600),
    ("weight", "gross_limit_lb", "timber-permit", "value", 88_000),
    # LAC 73:I.503(A)(6): not above the licensed gross.
    ("weight", "licensed_gross_lb", "base", "field", "registered_gross_lb"),
    # (A)(1): 20,000 and 34,000 lb. (A)(2)(a): variances of 2,000 and 3,000 lb.
    ("weight", "single_axle_limit_lb", "base", "value", 20_000),
    ("weight", "single_axle_limit_lb", "variance", "value", 20_000 + 2_000),
    ("weight", "tandem_limit_lb", "base", "value", 34_000),
    ("weight", "tandem_limit_lb", "variance", "value", 34_000 + 3_000),
    # R.S. 32:386(D): 37,000 lb with forest products in their natural state. LAC 73:I.503(A)(2)(b): 40,000 lb.
    ("weight", "tandem_limit_lb", "forest-tandem", "value", 37_000),
    ("weight", "tandem_limit_lb", "forest-variance", "value", 40_000),
    # House Bill 442 of 2020: no axle penalty up to a gross of 92,000 lb. It raises nothing: the gross itself stands here.
    ("weight", "single_axle_limit_lb", "no-axle-penalty", "field", "gross_weight_lb"),
    ("weight", "tandem_limit_lb", "no-axle-penalty", "field", "gross_weight_lb"),
    # By the words: three and four axles; one steer axle, one tandem and three more make six.
    ("weight", "tridum_axles", "base", "value", 3),
    ("weight", "quadrum_axles", "base", "value", 4),
    ("weight", "tridum_vehicle_axles", "base", "value", 1 + 2 + 3),
    # R.S. 32:380 to 32:382: 102 in, 13 ft 6 in, 59 ft 6 in, 45 ft; load of forest products 65 ft and 1 ft of tolerance.
    ("size", "width_limit_in", "base", "value", 102),
    ("size", "height_limit_ft", "base", "value", 13 + 6 / 12),
    ("size", "semitrailer_length_ft", "base", "value", 59 + 6 / 12),
    ("size", "single_vehicle_length_ft", "base", "value", 45),
    ("size", "log_length_ft", "base", "value", 65 + 1),
    # R.S. 32:382(B): rear 8 ft, poles and piling 15 ft, forest products in their natural state 20 ft; front 4 ft.
    ("size", "rear_overhang_limit_ft", "base", "value", 8),
    ("size", "rear_overhang_limit_ft", "poles", "value", 15),
    ("size", "rear_overhang_limit_ft", "forest-products", "value", 20),
    ("size", "front_overhang_limit_ft", "base", "value", 4),
    # LAC 73:I.309(E)(2): more than 4 ft. R.S. 32:382(A)(2)(a): flag not less than one foot square.
    ("size", "projecting_load_ft", "base", "value", 4),
    ("size", "flag_size_in", "base", "value", 12),
]
# LAC 73:I.503(A)(1), (A)(2)(a): tridum 42,000 and quadrum 50,000 lb; 45,000 and 53,000 lb with the variance.
# The spreads are a choice of this project: 12 and 18 ft.
TABLES = {
    ("weight", "tridum_limit_lb", "base"): [42_000, 50_000],
    ("weight", "tridum_limit_lb", "variance"): [42_000 + 3_000, 50_000 + 3_000],
    ("weight", "tridum_spread_in", "base"): [12 * 12, 18 * 12],
}
# Between the general figure and the permit nothing is decided: parish roads, and the year in which the permit began.
SAID = {
    ("weight", "gross_limit_lb", "harvest-permit-local"): [80_000, 86_600],
    ("weight", "gross_limit_lb", "timber-permit-local"): [80_000, 88_000],
    ("weight", "gross_limit_lb", "timber-permit-2019"): [80_000, 88_000],
}
COMPUTED = {("weight", "axle_sum_limit_lb", "base")}


def arms(limit: Limit) -> dict[str, Shape]:
    """The one version of a limit, its allowances and its caps."""
    (version,) = limit.versions
    return {"base": version} | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


@pytest.mark.parametrize(("file", "limit", "arm", "shape", "figure"), FIGURES)
def test_figure_of_the_statute(file, limit, arm, shape, figure):
    entry = arms(FILES[f"us-la/{file}"].limits[limit])[arm]
    assert entry.kind == shape
    assert getattr(entry, shape) == (figure if isinstance(figure, str) else pytest.approx(figure))


@pytest.mark.parametrize(("key", "figures"), TABLES.items())
def test_figures_for_three_and_for_four_axles(key, figures):
    file, limit, arm = key
    rows = arms(FILES[f"us-la/{file}"].limits[limit])[arm].table.rows
    assert [r.value for r in rows] == figures
    assert [r.when for r in rows] == [{"run_axle_count": "[2, 3]"}, {"run_axle_count": {"at_least": 4}}]


@pytest.mark.parametrize(("key", "figures"), SAID.items())
def test_figures_between_which_nothing_is_decided(key, figures):
    file, limit, arm = key
    said = arms(FILES[f"us-la/{file}"].limits[limit])[arm].said
    assert [s.value for s in said] == figures


def test_no_figure_of_the_files_is_left_out():
    typed = {(file, limit, arm) for file, limit, arm, _, _ in FIGURES} | set(TABLES) | set(SAID) | COMPUTED
    held = {
        (file.topic, name, arm) for file in FILES.values() for name, limit in file.limits.items() for arm in arms(limit)
    }
    assert held == typed


def test_each_allowance_has_the_legal_form_of_its_source():
    # R.S. 32:386(D) raises the tandem; 32:386(K) is a variance; House Bill 442 of 2020 takes away a penalty.
    limits = FILES["us-la/weight"].limits
    forms = {
        (name, a.id): a.form for name in ("tandem_limit_lb", "single_axle_limit_lb") for a in limits[name].allowances
    }
    assert forms == {
        ("tandem_limit_lb", "forest-tandem"): "raised limit",
        ("tandem_limit_lb", "variance"): "enforcement tolerance",
        ("tandem_limit_lb", "forest-variance"): "enforcement tolerance",
        ("tandem_limit_lb", "no-axle-penalty"): "penalty relief",
        ("single_axle_limit_lb", "variance"): "enforcement tolerance",
        ("single_axle_limit_lb", "no-axle-penalty"): "penalty relief",
    }
    # Trap of the variance and of the relief: neither raises the gross.
    assert {a.form for a in limits["gross_limit_lb"].allowances} == {"raised limit", "permit"}
    relief = [a for a in limits["tandem_limit_lb"].allowances if a.form == "penalty relief"]
    assert [a.where["gross_weight_lb"] for a in relief] == [{"at_most": 92_000}]


def test_permits_need_their_paper_and_the_newer_one_its_scales():
    held = {a.id: a for a in FILES["us-la/weight"].limits["gross_limit_lb"].allowances}
    assert held["tridum-combination"].needs is None
    for name, kind in (("harvest-permit", "harvest_permit"), ("timber-permit", "timber_permit")):
        assert (held[name].needs.document, held[name].needs.state) == (kind, "US-LA")
    # Act of 2019, whose day was not found: open through 2019, sure from 2020.
    assert held["timber-permit"].where["on_board_scale"] is True
    assert held["timber-permit"].from_ == date(2020, 1, 1)
    year = held["timber-permit-2019"]
    assert (year.from_, year.until) == (date(2019, 1, 1), date(2019, 12, 31))


def test_the_loaders_log_shows_the_nine_things_of_the_rule():
    # LAC 7:XXXIX.1501(B)(1)-(9), in that order.
    held = FILES["us-la/tickets"].definitions["ticket"].model_extra["contents"]
    assert held == [
        "loader_make_and_model", "load_number", "county_and_state", "landowner", "loading_time", "product_type",
        "destination", "loader_name", "driver_name",
    ]  # fmt: skip


def test_the_trigger_for_flags_leaves_out_its_end():
    # LAC 73:I.309(E)(2): more than 4 ft.
    rules = {r.id: r for r in FILES["us-la/size"].rules}
    assert rules["rear-flags"].when == {"rear_overhang_ft": {"more_than": {"limit": "projecting_load_ft"}}}
