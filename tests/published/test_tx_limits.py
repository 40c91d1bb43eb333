"""Texas's figures in the rule files, typed here again from the Transportation Code sections named beside them."""

from datetime import date

import pytest

from auditor.measures.weight import bridge_limit_lb
from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

FILES = {f.id: f for f in read_rules(["US-TX"]).files if f.place == "US-TX" and f.topic in TOPIC_GROUPS["haul"]}

# (file, limit, arm, shape, figure)
FIGURES = [
    # Transp. Code 621.101: 80,000 lb gross, 20,000 single, 34,000 tandem.
    ("weight", "gross_limit_lb", "base", "value", 80_000),
    ("weight", "single_axle_limit_lb", "base", "value", 20_000),
    ("weight", "tandem_limit_lb", "base", "value", 34_000),
    # 623.011(a)(1): 10 percent on axles. (a)(2): 5 percent on gross, used on every run of the formula.
    ("weight", "gross_limit_lb", "tolerance-permit", "percent_more", 5),
    ("weight", "single_axle_limit_lb", "tolerance-permit", "percent_more", 10),
    ("weight", "tandem_limit_lb", "tolerance-permit", "percent_more", 10),
    ("weight", "bridge_run_limit_lb", "tolerance-permit", "percent_more", 5),
    ("weight", "bridge_run_limit_lb", "tolerance-permit-two-tandems", "percent_more", 5),
    ("weight", "bridge_run_limit_lb", "tolerance-permit-raw-wood", "percent_more", 5),
    # 623.321(b), from memory: 84,000 lb gross, 44,000 lb on a tandem.
    ("weight", "gross_limit_lb", "timber-permit", "value", 84_000),
    ("weight", "bridge_run_limit_lb", "timber-permit", "value", 84_000),
    ("weight", "tandem_limit_lb", "timber-permit", "value", 44_000),
    # 621.508(a): authorised axle weight and 12 percent.
    ("weight", "single_axle_limit_lb", "raw-product-defence", "percent_more", 12),
    ("weight", "tandem_limit_lb", "raw-product-defence", "percent_more", 12),
    # 23 U.S.C. 127(a)(2): two consecutive tandems of 34,000 lb each. 23 CFR 658.5: 96 in.
    ("weight", "two_tandem_limit_lb", "base", "value", 2 * 34_000),
    ("weight", "bridge_run_limit_lb", "two-tandems", "limit", "two_tandem_limit_lb"),
    ("weight", "bridge_run_limit_lb", "raw-wood", "limit", "raw_wood_run_limit_lb"),
    ("weight", "bridge_from_in", "base", "value", 96),
    # 621.201: 102 in. 621.207: 14 ft. 621.206: 3 ft in front, 4 ft behind.
    ("size", "width_limit_in", "base", "value", 102),
    ("size", "height_limit_ft", "base", "value", 14),
    ("size", "front_overhang_limit_ft", "base", "value", 3),
    ("size", "rear_overhang_limit_ft", "base", "value", 4),
    # 622.041: 90 ft with the load; 125 miles, from memory.
    ("size", "timber_length_ft", "base", "value", 90),
    ("size", "timber_distance_miles", "base", "value", 125),
    # 622.062(b): flag not less than 12 in square.
    ("size", "marker_flag_in", "base", "value", 12),
    # 547.382(a): at least 4 ft; two lamps, two reflectors, two side lamps; 500 ft. (b): more than 4 ft; 12 in.
    ("size", "night_from_ft", "base", "value", 4),
    ("size", "night_lamps", "base", "value", 2),
    ("size", "night_lamp_seen_ft", "base", "value", 500),
    ("size", "day_above_ft", "base", "value", 4),
    ("size", "day_flag_in", "base", "value", 12),
]
COMPUTED = {
    ("weight", "bridge_run_limit_lb", "base"),
    ("weight", "raw_wood_run_limit_lb", "base"),
    ("weight", "axle_sum_limit_lb", "base"),
}


def arms(limit: Limit) -> dict[str, Shape]:
    """The one version of a limit, its allowances and its caps."""
    (version,) = limit.versions
    return {"base": version} | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


def weight_arms(limit: str) -> dict[str, Shape]:
    """Arms of a limit of the weight file."""
    return arms(FILES["us-tx/weight"].limits[limit])


@pytest.mark.parametrize(("file", "limit", "arm", "shape", "figure"), FIGURES)
def test_figure_of_the_statute(file, limit, arm, shape, figure):
    entry = arms(FILES[f"us-tx/{file}"].limits[limit])[arm]
    assert entry.kind == shape
    assert getattr(entry, shape) == (figure if isinstance(figure, str) else pytest.approx(figure))


def test_no_figure_of_the_files_is_left_out():
    typed = {(file, limit, arm) for file, limit, arm, _, _ in FIGURES} | COMPUTED
    held = {
        (file.topic, name, arm) for file in FILES.values() for name, limit in file.limits.items() for arm in arms(limit)
    }
    assert held == typed


@pytest.mark.parametrize("limit", ["single_axle_limit_lb", "tandem_limit_lb"])
def test_the_twelve_percent_is_a_defence_on_the_axle_limit_and_raises_nothing(limit):
    # 621.508(a): an affirmative defence; from the place of production to first marketing or first processing.
    defence = weight_arms(limit)["raw-product-defence"]
    assert (defence.form, defence.than, defence.needs) == ("court defence", "base", None)
    assert defence.where["origin_kind"] == "forest"


def test_no_defence_reaches_the_gross():
    # 621.508(a): single or tandem axle weight only.
    assert {a.form for a in FILES["us-tx/weight"].limits["gross_limit_lb"].allowances} == {"permit"}


def test_permits_need_their_paper():
    held = FILES["us-tx/weight"].limits["gross_limit_lb"].allowances
    papers = {a.id: (a.needs.document, a.needs.state) for a in held}
    assert papers == {
        "tolerance-permit": ("overweight_permit", "US-TX"),
        "timber-permit": ("timber_permit", "US-TX"),
    }
    # From memory: the first to the last axle at least 39 ft apart. The Interstate is left out (agency page).
    timber = next(a for a in held if a.id == "timber-permit")
    assert timber.where["outer_span_ft"] == {"at_least": 39}
    assert "interstate" not in timber.where["road_class"]["one_of"]
    assert timber.verified == "memory"


def test_raw_wood_is_counted_twelve_feet_longer():
    # 622.0435 (1997): up to 12 ft shorter between axles. Analysis of the bill: five axles need 51 ft for 80,000 lb.
    entry = weight_arms("raw_wood_run_limit_lb")["base"]
    computed, cap = entry.lesser_of
    assert computed.measure.parameters["span_added_ft"] == 12
    assert cap.value == 80_000
    # 39 + 12 = 51 ft: 500 x (51 x 5/4 + 60 + 36) = 79,875; 38 + 12 = 50 ft: 79,250, half way, to the lower step.
    assert bridge_limit_lb(5, 39, **computed.measure.parameters) == 80_000
    assert bridge_limit_lb(5, 38, **computed.measure.parameters) == 79_000
    assert weight_arms("bridge_run_limit_lb")["raw-wood"].from_ == date(1997, 9, 1)


def test_five_axles_with_a_permit_gross_84_000_lb():
    # Common practice, no source: with its permits a five-axle log combination grosses 84,000 lb at most (80,000 and
    # 5 percent) and carries about 57,000 lb (28.5 short tons) on about 27,000 lb of truck and trailer.
    gross = weight_arms("gross_limit_lb")
    most = gross["base"].value * (100 + gross["tolerance-permit"].percent_more) / 100
    assert most == gross["timber-permit"].value == 84_000
    assert most - 28.5 * 2_000 == 27_000


def test_roads_and_bridges_are_not_alike():
    rules = {r.id: r for r in FILES["us-tx/weight"].rules}
    # 623.0113(a)(2), (b): no posted bridge but the only access, and only under the 623.011 permit.
    (bridge,) = rules["posted-bridge"].unless
    assert (bridge.where, bridge.needs.document) == ({"only_access": True}, "overweight_permit")
    # 621.102(d): load-zoned roads under a 623.011 or a 623.321 permit.
    assert [e.needs.document for e in rules["posted-road"].unless] == ["overweight_permit", "timber_permit"]


def test_boundaries_of_lamps_and_flags_differ():
    # 547.382(a): extends at least 4 ft. (b): more than 4 ft.
    rules = {r.id: r for r in FILES["us-tx/size"].rules}
    assert rules["night-lamps"].when["rear_overhang_ft"] == {"at_least": {"limit": "night_from_ft"}}
    assert rules["day-flags"].when["rear_overhang_ft"] == {"more_than": {"limit": "day_above_ft"}}
