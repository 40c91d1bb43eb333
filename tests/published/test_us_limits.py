"""The federal figures of the rule files against the texts they come from, typed a second time."""

from __future__ import annotations

from datetime import date

import pytest

from auditor.measures.securement import tiedowns_required_count
from auditor.measures.weight import bridge_limit_lb
from auditor.rules.models import Allowance, Cap, Limit, RuleFile, Version
from auditor.rules.reading import Rulebook, read_rules
from auditor.vocabulary import TOPIC_GROUPS

PRACTICE = "us/tickets"
"""Common practice on scale tickets: no law, no source."""

VALUES: list[tuple[str, str, float]] = [
    # 23 U.S.C. 127(a)(2): 20,000 lb on one axle, 34,000 lb on a tandem, 80,000 lb overall
    ("us/weight", "single_axle_limit_lb", 20_000),
    ("us/weight", "tandem_limit_lb", 34_000),
    ("us/weight", "gross_limit_lb", 80_000),
    # 23 U.S.C. 127(a)(2): two consecutive sets of tandem axles at 34,000 lb each
    ("us/weight", "two_tandem_limit_lb", 2 * 34_000),
    # 23 CFR 658.5: a tandem's axles are not more than 96 in apart
    ("us/weight", "tandem_spread_in", 96),
    # 49 CFR 393.116(a)(2): no more than four processed logs
    ("us/securement", "few_processed_logs", 4),
    # 49 CFR 393.116(e)(1)(iii), (e)(2)(ii): two wrappers
    ("us/securement", "lengthwise_wrapper_count", 2),
    # 49 CFR 393.116(d)(2): two tiedowns over one crosswise stack; (d)(3) tells where the two lie
    ("us/securement", "crosswise_tiedown_count", 2),
    ("us/securement", "crosswise_pair", 2),
    # 49 CFR 393.116(d)(1): a lower log not more than one third of its length past its support
    ("us/securement", "crosswise_overhang_share", 1 / 3),
    # 49 CFR 393.116(d)(4): vehicles longer than 10 m (33 ft)
    ("us/securement", "undivided_vehicle_ft", 33),
    # 49 CFR 393.116(d)(6)(ii)-(iii): raised 1 in (2.5 cm), within 4 in (10 cm), not over 8 ft (2.44 m)
    ("us/securement", "side_by_side_raise_in", 1),
    ("us/securement", "side_by_side_raise_place_in", 4),
    ("us/securement", "side_by_side_height_ft", 8),
    # 49 CFR 393.116(f)(1), (2), (4): two wrappers, 10 ft (3.04 m) apart, two more for large logs above the bunks
    ("us/securement", "pole_wrapper_count", 2),
    ("us/securement", "pole_wrapper_spacing_ft", 10),
    ("us/securement", "pole_extra_wrapper_count", 2),
    # 49 CFR 393.116(c)(2): two stakes, bunks, bolsters or standards
    ("us/securement", "outside_log_contact_count", 2),
    # 49 CFR 392.9(b)(2)-(3): first 50 miles, then every 150 miles or 3 hours
    ("us/securement", "first_check_miles", 50),
    ("us/securement", "later_check_miles", 150),
    ("us/securement", "later_check_h", 3),
    # Driver's handbook on cargo securement, chapter on logs: 4,000 lb, 6 in, 10 ft, two tiedowns
    ("us/securement", "handbook_wll_lb", 4_000),
    ("us/securement", "handbook_past_stake_in", 6),
    ("us/securement", "handbook_one_tiedown_ft", 10),
    ("us/securement", "handbook_outside_tiedown_count", 2),
    # 49 CFR 393.87(a): 4 ft behind, 4 in beside, flags 18 in square
    ("us/size", "rear_projection_ft", 4),
    ("us/size", "side_projection_in", 4),
    ("us/size", "flag_side_in", 18),
    # 49 CFR 393.11 table 1: two red lamps and two red reflectors at the rear, a red lamp on each of the two sides
    ("us/size", "rear_lamp_count", 2),
    ("us/size", "rear_reflector_count", 2),
    ("us/size", "side_lamp_count", 2),
]

ALLOWED: list[tuple[str, str, str, float]] = [
    # S.C. Code 56-5-4140(A)(1): 35,200 lb on a tandem; (A)(4): 47,500 and 50,500 lb on three axles at 15 and 19 ft
    ("us/weight", "tandem_limit_lb", "sc-tandem", 35_200),
    ("us/weight", "bridge_run_limit_lb", "sc-three-axles-15-ft", 47_500),
    ("us/weight", "bridge_run_limit_lb", "sc-three-axles-19-ft", 50_500),
    # O.C.G.A. 32-6-26(b)(2): 18,000 lb and 13 percent; (d): 40,680 lb on a tandem of a short vehicle
    ("us/weight", "single_axle_limit_lb", "ga-single", 18_000 * 1.13),
    ("us/weight", "tandem_limit_lb", "ga-short-vehicle", 40_680),
    # 23 U.S.C. 127(x): 88,000 lb
    ("us/weight", "gross_limit_lb", "ms-permit", 88_000),
    # 49 CFR 393.116(d)(6)(iv): one tiedown over each of two stacks
    ("us/securement", "crosswise_tiedown_count", "side-by-side", 1),
]

TABLES: list[tuple[str, str, list[tuple[dict[str, object], float]]]] = [
    # 49 CFR 393.116(e)(1)(i)-(ii), (e)(2)(i): two tiedowns; one for shortwood blocked at both ends
    (
        "us/securement",
        "lengthwise_tiedown_count",
        [
            ({"log_length_class": "longwood"}, 2),
            ({"log_length_class": "shortwood", "blocked_front": False}, 2),
            ({"log_length_class": "shortwood", "blocked_rear": False}, 2),
            ({"log_length_class": "shortwood", "blocked_front": True, "blocked_rear": True}, 1),
        ],
    ),
    # 49 CFR 393.116(e)(1): a bunk unit; (e)(2): two or more bunks
    (
        "us/securement",
        "lengthwise_bunk_count",
        [({"log_length_class": "longwood"}, 2), ({"log_length_class": "shortwood"}, 1)],
    ),
    # 49 CFR 393.87(b): one flag up to 2 ft wide, two above
    (
        "us/size",
        "rear_flag_count",
        [({"projecting_width_ft": "[0, 2]"}, 1), ({"projecting_width_ft": "(2, inf)"}, 2)],
    ),
]


@pytest.fixture(scope="module")
def rulebook() -> Rulebook:
    return read_rules(["US"], topics=TOPIC_GROUPS["haul"])


def file_of(rulebook: Rulebook, name: str) -> RuleFile:
    return next(f for f in rulebook.files if f.id == name)


def limit_of(rulebook: Rulebook, file: str, name: str) -> Limit:
    return file_of(rulebook, file).limits[name]


def only(limit: Limit) -> Version:
    (version,) = limit.versions
    return version


def entry_of(limit: Limit, name: str) -> Allowance | Cap:
    entries: list[Allowance | Cap] = [*limit.allowances, *limit.caps]
    return next(e for e in entries if e.id == name)


@pytest.mark.parametrize(("file", "name", "expected"), VALUES)
def test_values(rulebook: Rulebook, file: str, name: str, expected: float) -> None:
    assert only(limit_of(rulebook, file, name)).value == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("file", "name", "entry", "expected"), ALLOWED)
def test_allowances_and_caps(rulebook: Rulebook, file: str, name: str, entry: str, expected: float) -> None:
    assert entry_of(limit_of(rulebook, file, name), entry).value == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("file", "name", "expected"), TABLES)
def test_tables(rulebook: Rulebook, file: str, name: str, expected: list[tuple[dict[str, object], float]]) -> None:
    table = only(limit_of(rulebook, file, name)).table
    assert table is not None
    assert [(r.when, r.value) for r in table.rows] == expected


def test_every_figure_is_typed_here(rulebook: Rulebook) -> None:
    """No number, table or word list of the federal files may be added without a second typing."""
    elsewhere = {
        "aggregate_wll_lb", "half_of_weight_lb", "half_if_it_applies_lb", "general_tiedown_count", "bridge_run_limit_lb",
        "sum_of_axle_limits_lb", "pole_all_wrapper_count", "crosswise_position_gap_share", "log_products",
        "processed_products", "loose_products", "flag_colours", "states_under_own_law",
    }  # fmt: skip
    typed = {n for _, n, _ in VALUES} | {n for _, n, _, _ in ALLOWED} | {n for _, n, _ in TABLES} | elsewhere
    assert {n for f in rulebook.files if f.id != PRACTICE for n in f.limits} == typed
    practice = {n: only(x).value for f in rulebook.files if f.id == PRACTICE for n, x in f.limits.items()}
    # common practice, no source: our own bounds
    assert practice == {"ticket_gap_lb": 40, "axle_sum_gap_lb": 500, "needed_speed_mph": 70, "tare_drift_lb": 1000}


def test_shares_of_the_weight(rulebook: Rulebook) -> None:
    """49 CFR 393.116(b)(4): one sixth; 393.106(d): one half."""
    sixth, other = only(limit_of(rulebook, "us/securement", "aggregate_wll_lb")).greater_of or []
    assert sixth.linear is not None
    assert (sixth.linear.base, sixth.linear.per) == (0, "stack_weight_lb")
    assert sixth.linear.times * 48_000 == 8_000  # 48,000 / 6
    assert other.limit == "half_if_it_applies_lb"
    half = only(limit_of(rulebook, "us/securement", "half_of_weight_lb")).linear
    assert half is not None
    assert (half.base, half.times, half.per) == (0, 0.5, "stack_weight_lb")


@pytest.mark.parametrize("weight_lb", [1, 7, 100, 31_999, 48_000, 52_341, 79_999, 120_000])
def test_one_sixth_never_asks_for_more_than_one_sixth(rulebook: Rulebook, weight_lb: int) -> None:
    """The share is written as a decimal; it may not turn an exact sixth into a breach."""
    sixth = (only(limit_of(rulebook, "us/securement", "aggregate_wll_lb")).greater_of or [])[0].linear
    assert sixth is not None
    assert sixth.times * weight_lb <= weight_lb / 6
    assert sixth.times * weight_lb == pytest.approx(weight_lb / 6, rel=1e-12)


@pytest.mark.parametrize(
    ("axles", "span_ft", "expected_lb"),
    [
        # Va. Code 46.2-1126, cells of the printed table; 3 axles at 9 ft is a tie that goes down
        (2, 10, 40_000), (3, 9, 42_500), (3, 20, 51_000), (4, 12, 50_000), (4, 24, 58_000),
        (5, 16, 58_000), (5, 28, 65_500), (6, 20, 66_000), (6, 32, 73_000), (7, 24, 74_000),
        # 500 x (51 x 5/4 + 12 x 5 + 36) = 79,875, to the nearest 500
        (5, 51, 80_000),
        # 500 x (36 x 4/3 + 12 x 4 + 36) = 66,000
        (4, 36, 66_000),
    ],
)  # fmt: skip
def test_the_bridge_formula_as_the_file_asks_for_it(
    rulebook: Rulebook, axles: int, span_ft: float, expected_lb: float
) -> None:
    """23 U.S.C. 127(a)(2), with the parameters that the file hands over."""
    measure = only(limit_of(rulebook, "us/weight", "bridge_run_limit_lb")).measure
    assert measure is not None
    assert measure.of == {"axle_count": "run_axle_count", "span_ft": "run_span_ft"}
    assert bridge_limit_lb(axles, span_ft, **measure.parameters) == expected_lb


@pytest.mark.parametrize(
    ("length_ft", "weight_lb", "blocked", "expected"),
    [
        # 49 CFR 393.110(b): one up to 5 ft and 1,100 lb; two if heavier or up to 10 ft; one more for each further 10 ft
        (5, 1_100, False, 1), (5, 1_101, False, 2), (5.1, 500, False, 2), (10, 9_000, False, 2),
        (10.1, 9_000, False, 3), (20, 9_000, False, 3), (20.1, 9_000, False, 4),
        # 49 CFR 393.110(c): one for each 10 ft or part of it
        (10, 9_000, True, 1), (10.1, 9_000, True, 2), (40, 9_000, True, 4),
    ],
)  # fmt: skip
def test_the_general_count_as_the_file_asks_for_it(
    rulebook: Rulebook, length_ft: float, weight_lb: float, blocked: bool, expected: int
) -> None:
    measure = only(limit_of(rulebook, "us/securement", "general_tiedown_count")).measure
    assert measure is not None
    assert tiedowns_required_count(length_ft, weight_lb, blocked, **measure.parameters) == expected


def test_the_mississippi_permit(rulebook: Rulebook) -> None:
    """23 U.S.C. 127(x), signed 9 March 2024: 110 percent on any axle or group, for holders of the state's permit."""
    limits = file_of(rulebook, "us/weight").limits
    permits = [a for limit in limits.values() for a in limit.allowances if a.id.startswith("ms-permit")]
    assert len(permits) == 5
    for permit in permits:
        assert permit.form == "permit"
        assert permit.from_ == date(2024, 3, 9)
        assert permit.needs is not None
        assert (permit.needs.document, permit.needs.state) == ("overweight_permit", "US-MS")
        assert (permit.percent_more, permit.value) in [(10, None), (None, 88_000)]


def test_definitions(rulebook: Rulebook) -> None:
    """23 CFR 658.5 (tandem: over 40, not over 96 in); 49 CFR 393.5 (shortwood: to 16 ft); 393.116(d)(3) (thirds)."""
    found = rulebook.definitions("US")
    assert found["axle_groups"] == {
        "tandem_spread_in": "(40, 96]", "steer_axle_in_tandem": True, "lift_axles_count": True,
    }  # fmt: skip
    assert found["log_length"] == {"shortwood_up_to_ft": 16}
    assert found["tiedown_positions"]["targets"] == pytest.approx([1 / 3, 2 / 3])
    # 49 CFR 393.106(d)(1)-(3): half for a direct or same-side tiedown, the whole for one to the other side
    assert found["working_load_limits"]["routing_factors"] == {
        "over_to_other_side": 1.0, "same_side": 0.5, "vehicle_to_article": 0.5,
    }  # fmt: skip


def test_words(rulebook: Rulebook) -> None:
    """49 CFR 393.87(a): red or fluorescent orange; 23 U.S.C. 127(a)(11): Maine and Vermont."""
    colours = only(limit_of(rulebook, "us/size", "flag_colours"))
    assert colours.words == ["red", "fluorescent_orange"]
    states = only(limit_of(rulebook, "us/weight", "states_under_own_law"))
    assert states.words == ["US-ME", "US-VT"]


def test_what_is_from_memory_is_marked(rulebook: Rulebook) -> None:
    """Rows of 393.116(d)(5)-(6), (e)(1)(iii), (f), 393.112, 393.114 and 393.11 were not read by anyone."""
    unread = {
        "lengthwise_wrapper_count", "side_by_side_raise_in", "side_by_side_raise_place_in", "side_by_side_height_ft",
        "pole_wrapper_count", "pole_wrapper_spacing_ft", "pole_extra_wrapper_count", "pole_all_wrapper_count",
        "rear_lamp_count", "rear_reflector_count", "side_lamp_count",
    }  # fmt: skip
    read = [f for f in rulebook.files if f.id != PRACTICE]
    versions = {n: v for f in read for n, limit in f.limits.items() for v in limit.versions}
    assert {n for n, v in versions.items() if v.verified == "memory"} == unread
    rules = {r.id for f in read for r in f.rules if r.verified == "memory"}
    assert rules == {
        "crosswise-uplift", "side-by-side", "pole-trailer-tiedowns", "pole-trailer-wrapper-spacing",
        "pole-trailer-one-or-two-logs", "pole-trailer-large-logs-above", "front-structure", "tightenable",
        "rear-lamps-dark",
    }  # fmt: skip
