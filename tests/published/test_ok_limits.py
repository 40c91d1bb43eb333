"""Oklahoma's figures in the rule files, typed here again from the statute and regulation named beside them."""

import pytest

from auditor.measures.weight import bridge_limit_lb
from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

FILES = {f.id: f for f in read_rules(["US-OK"]).files if f.place == "US-OK" and f.topic in TOPIC_GROUPS["haul"]}

# (file, limit, arm, shape, figure)
FIGURES = [
    # OAC 730:50-5-4(b): a permit above 90,000 lb on state highways other than Interstates.
    ("weight", "gross_limit_lb", "base", "value", 90_000),
    # 47 O.S. 14-109(A)(1): 20,000 lb. (B): 34,000 lb.
    ("weight", "single_axle_limit_lb", "base", "value", 20_000),
    ("weight", "tandem_limit_lb", "base", "value", 34_000),
    # 23 U.S.C. 127(a)(2): two consecutive tandems of 34,000 lb each. 23 CFR 658.5: 96 in.
    ("weight", "two_tandem_limit_lb", "base", "value", 2 * 34_000),
    ("weight", "bridge_run_limit_lb", "two-tandems", "limit", "two_tandem_limit_lb"),
    ("weight", "bridge_from_in", "base", "value", 96),
    # 47 O.S. 14-103(A): 102 in. (B)(1): 13 ft 6 in on county roads. Lengths 45 and 70 ft.
    ("size", "width_limit_in", "base", "value", 102),
    ("size", "height_limit_ft", "county-road", "value", 13 + 6 / 12),
    ("size", "truck_length_ft", "base", "value", 45),
    ("size", "combination_length_ft", "base", "value", 70),
]
SAID = {
    # 47 O.S. 14-103(B)(1): 14 ft on state highways; a page of the agency: 13 ft 6 in everywhere.
    ("size", "height_limit_ft", "base"): [14, 13.5],
    # 53 ft, or 59 ft 6 in on the designated network as another summary has it.
    ("size", "semitrailer_length_ft", "base"): [53, 59.5],
}
COMPUTED = {("weight", "bridge_run_limit_lb", "base"), ("weight", "axle_sum_limit_lb", "base")}


def arms(limit: Limit) -> dict[str, Shape]:
    """The one version of a limit, its allowances and its caps."""
    (version,) = limit.versions
    return {"base": version} | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


@pytest.mark.parametrize(("file", "limit", "arm", "shape", "figure"), FIGURES)
def test_figure_of_the_statute(file, limit, arm, shape, figure):
    entry = arms(FILES[f"us-ok/{file}"].limits[limit])[arm]
    assert entry.kind == shape
    assert getattr(entry, shape) == (figure if isinstance(figure, str) else pytest.approx(figure))


@pytest.mark.parametrize(("key", "figures"), SAID.items())
def test_figures_on_which_sources_disagree(key, figures):
    file, limit, arm = key
    said = arms(FILES[f"us-ok/{file}"].limits[limit])[arm].said
    assert [s.value for s in said] == figures


def test_no_figure_of_the_files_is_left_out():
    typed = {(file, limit, arm) for file, limit, arm, _, _ in FIGURES} | set(SAID) | COMPUTED
    held = {
        (file.topic, name, arm) for file in FILES.values() for name, limit in file.limits.items() for arm in arms(limit)
    }
    assert held == typed


def test_the_formula_binds_below_the_permit_weight():
    # 47 O.S. 14-109(A)(2): the federal formula on any road. Six axles on 58 ft: 500 x (58 x 6/5 + 72 + 36) = 88,800.
    (version,) = FILES["us-ok/weight"].limits["bridge_run_limit_lb"].versions
    parameters = version.measure.parameters
    assert bridge_limit_lb(6, 58, **parameters) == 89_000
    # Five axles on 51 ft: 500 x (51 x 5/4 + 60 + 36) = 79,875.
    assert bridge_limit_lb(5, 51, **parameters) == 80_000


def test_no_allowance_for_logs_is_in_force():
    # The yearly overload permit is known from memory only, so it stands among what was not found.
    file = FILES["us-ok/weight"]
    assert [a.id for limit in file.limits.values() for a in limit.allowances] == ["two-tandems"]
    assert any("overload permit" in entry.what for entry in file.not_found)
