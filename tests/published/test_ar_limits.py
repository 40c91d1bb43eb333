"""Arkansas's figures in the rule files, typed here again from the code, permit rules and opinion named beside them."""

import pytest

from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

FILES = {f.id: f for f in read_rules(["US-AR"]).files if f.place == "US-AR" and f.topic in TOPIC_GROUPS["haul"]}

# (file, limit, arm, shape, figure)
FIGURES = [
    # Ark. Code 27-35-203(d), with the department's table of legal dimensions (2023): 80,000 lb.
    ("weight", "gross_limit_lb", "base", "value", 80_000),
    # 27-35-203, variance for unprocessed forest products on five axles: 85,000 lb, written in the statute.
    ("weight", "gross_limit_lb", "forest-85000", "value", 85_000),
    ("weight", "bridge_run_limit_lb", "forest-85000", "value", 85_000),
    # The tandem figure of that variance, from memory: 12,000 + 2 x 36,500 = 85,000; two tandems 2 x 36,500.
    ("weight", "tandem_limit_lb", "forest-36500", "value", 36_500),
    ("weight", "bridge_run_limit_lb", "forest-two-tandems", "value", 73_000),
    # 27-35-203(a): 20,000 lb. (b)(1): 34,000 lb, up to 96 in.
    ("weight", "single_axle_limit_lb", "base", "value", 20_000),
    ("weight", "tandem_limit_lb", "base", "value", 34_000),
    ("weight", "bridge_from_in", "base", "value", 96),
    # (c)(1): the lesser of the maker's rating and 20,000 lb; 12,000 lb without a plate. (c)(2): 24,000 lb.
    ("weight", "steer_axle_limit_lb", "base", "value", 20_000),
    ("weight", "steer_axle_limit_lb", "maker-rating", "field", "front_axle_rating_lb"),
    ("weight", "steer_axle_limit_lb", "no-plate", "value", 12_000),
    ("weight", "steer_group_limit_lb", "base", "value", 24_000),
    # 23 U.S.C. 127(a)(2): two consecutive tandems of 34,000 lb each.
    ("weight", "two_tandem_limit_lb", "base", "value", 2 * 34_000),
    ("weight", "bridge_run_limit_lb", "two-tandems", "limit", "two_tandem_limit_lb"),
    # 27-35-206, -207, -208: 102 in, 14 ft, 53 ft 6 in.
    ("size", "width_limit_in", "base", "value", 102),
    ("size", "height_limit_ft", "base", "value", 14),
    ("size", "semitrailer_length_ft", "base", "value", 53 + 6 / 12),
    # Permit rules of 2023, Rule 3.H.1.a: log trucks exempt up to 25 ft. Rule 3.G.3.e: 3 ft in front.
    ("size", "log_rear_overhang_ft", "base", "value", 25),
    ("size", "front_overhang_limit_ft", "base", "value", 3),
    # 27-37-204(a): four feet or more, red light seen from 500 ft. (c): red or fluorescent orange flag of 16 in.
    ("size", "projecting_load_ft", "base", "value", 4),
    ("size", "red_light_seen_ft", "base", "value", 500),
    ("size", "flag_size_in", "base", "value", 16),
]
# Figures between which sources or readings disagree.
SAID = {
    # 80,000 lb (reported practice of the Highway Police) and 85,000 lb (opinion of the Attorney General) out of a yard.
    ("weight", "gross_limit_lb", "logs-from-yard"): [80_000, 85_000],
    ("weight", "tandem_limit_lb", "logs-from-yard"): [34_000, 36_500],
    # Formula for five axles on 39 ft: 500 x (39 x 5/4 + 60 + 36) = 72,375, to the nearest 500: 72,500.
    ("weight", "bridge_run_limit_lb", "logs-from-yard"): [72_500, 85_000],
    # 70,000 lb is reported for three-axle units. Formula for three axles on 8 ft: 500 x (12 + 36 + 36) = 42,000.
    ("weight", "bridge_run_limit_lb", "three-axle-unit"): [42_000, 70_000],
    # One single axle and one tandem: 20,000 + 34,000.
    ("weight", "axle_sum_limit_lb", "three-axle-unit"): [54_000, 70_000],
}
COMPUTED = {("weight", "bridge_run_limit_lb", "base"), ("weight", "axle_sum_limit_lb", "base")}


def arms(limit: Limit) -> dict[str, Shape]:
    """The one version of a limit, its allowances and its caps."""
    (version,) = limit.versions
    return {"base": version} | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


@pytest.mark.parametrize(("file", "limit", "arm", "shape", "figure"), FIGURES)
def test_figure_of_the_statute(file, limit, arm, shape, figure):
    entry = arms(FILES[f"us-ar/{file}"].limits[limit])[arm]
    assert entry.kind == shape
    assert getattr(entry, shape) == (figure if isinstance(figure, str) else pytest.approx(figure))


@pytest.mark.parametrize(("key", "figures"), SAID.items())
def test_figures_on_which_nobody_agrees(key, figures):
    file, limit, arm = key
    said = arms(FILES[f"us-ar/{file}"].limits[limit])[arm].said
    assert [s.value for s in said] == figures


def test_no_figure_of_the_files_is_left_out():
    typed = {(file, limit, arm) for file, limit, arm, _, _ in FIGURES} | set(SAID) | COMPUTED
    held = {
        (file.topic, name, arm) for file in FILES.values() for name, limit in file.limits.items() for arm in arms(limit)
    }
    assert held == typed


def test_the_allowance_is_for_five_axles_from_the_woods_and_asks_for_no_paper():
    # 27-35-203, variance: five-axle combination, unprocessed; no permit. Opinion: chips out of a yard are not covered.
    held = {a.id: a for a in FILES["us-ar/weight"].limits["gross_limit_lb"].allowances}
    woods, yard = held["forest-85000"], held["logs-from-yard"]
    assert (woods.form, woods.needs) == ("raised limit", None)
    assert (woods.where["axle_count"], woods.where["origin_kind"]) == (5, "forest")
    assert "chips" in woods.where["product"]["one_of"]
    assert "chips" not in yard.where["product"]["one_of"]


def test_what_is_known_from_memory_is_marked_so():
    limits = FILES["us-ar/weight"].limits
    marks = {(name, key): entry.verified for name, limit in limits.items() for key, entry in arms(limit).items()}
    assert marks["tandem_limit_lb", "forest-36500"] == "memory"
    assert marks["bridge_run_limit_lb", "forest-two-tandems"] == "memory"
    assert marks["gross_limit_lb", "forest-85000"] == "secondary"
    assert marks["tandem_limit_lb", "base"] == "read"


def test_what_a_tandem_is():
    # 27-35-203(b)(1): more than 40 in and not more than 96 in. (c)(2) names the front axle with the axle behind it.
    held = FILES["us-ar/weight"].definitions["axle_groups"].model_extra
    assert (held["tandem_spread_in"], held["steer_axle_in_tandem"]) == ("(40, 96]", True)


def test_the_trigger_for_marking_takes_in_its_end():
    # 27-37-204(a): four feet or more.
    rules = {r.id: r for r in FILES["us-ar/size"].rules}
    for rule in ("flag", "red-light"):
        assert rules[rule].when["rear_overhang_ft"] == {"at_least": {"limit": "projecting_load_ft"}}
