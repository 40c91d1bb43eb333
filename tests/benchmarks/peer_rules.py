"""The peer's rules: outcome, value and limit of each as polars expressions over the frames that `peer` makes."""

from __future__ import annotations

from typing import NamedTuple

import polars as pl

from tests.benchmarks.peer_axles import bridge_lb

NOT_APPLICABLE, CONFORMITY, NOT_VERIFIABLE, NOT_EVIDENCED, NONCONFORMITY = 0, 1, 2, 4, 5
LOGS = ["sawlogs", "pulpwood", "tree_length", "poles"]
FOREST = [*LOGS, "chips", "biomass", "firewood"]
c = pl.col


class Rule(NamedTuple):
    """Outcome of each row; where there are numbers, the value and the limit that a breaking row is held against."""

    name: str
    code: pl.Expr
    value: pl.Expr | None = None
    limit: pl.Expr | None = None
    at_least: bool = False


def code(number: int) -> pl.Expr:
    """An outcome for every row."""
    return pl.lit(number, pl.UInt8)


def always(scope: pl.Expr, outcome: int) -> pl.Expr:
    """One outcome wherever the rule applies."""
    return pl.when(scope).then(code(outcome)).otherwise(code(NOT_APPLICABLE))


def settled(scope: pl.Expr, holds: pl.Expr) -> pl.Expr:
    """Conformity or nonconformity, of facts that are known throughout."""
    met = pl.when(holds).then(code(CONFORMITY)).otherwise(code(NONCONFORMITY))
    return pl.when(scope).then(met).otherwise(code(NOT_APPLICABLE))


def at_most(outside: pl.Expr, low: pl.Expr, high: pl.Expr, least: pl.Expr, most: pl.Expr) -> pl.Expr:
    """A value in [low, high] against a limit in [least, most]; a blank one is not evidenced."""
    judged = pl.when(high <= least).then(code(CONFORMITY)).when(low > most).then(code(NONCONFORMITY))
    return pl.when(outside).then(code(NOT_APPLICABLE)).otherwise(judged.otherwise(code(NOT_EVIDENCED)))


gross, zero = c.gross_weight_lb, pl.lit(0.0)
nowhere = pl.lit(False)
overhang, height = c.rear_overhang_ft, c.load_height_ft
in_georgia = c.state == "US-GA"
log = c("product").is_in([*LOGS, "processed_logs"]) & (c.trailer_kind != "box_or_bin")
"""Products and trailers that the section on logs applies to."""


def posted_bridge(name: str) -> Rule:
    """The posted weight, or a search that found none."""
    posted, looked = c.posted_bridge_gross_lb, c.postings_checked
    found = (
        pl.when(gross <= posted).then(code(CONFORMITY))
        .when(gross > posted).then(code(NONCONFORMITY))
        .when(posted.is_null() & looked).then(code(CONFORMITY))
        .otherwise(code(NOT_EVIDENCED))
    )  # fmt: skip
    return Rule(name, found, gross, posted)


def posted_road(name: str) -> Rule:
    """No road in the record is posted: the search is all there is."""
    return Rule(name, pl.when(c.postings_checked).then(code(CONFORMITY)).otherwise(code(NOT_EVIDENCED)))


# --- federal law; the rows on legs are those of interstates ---

us_single_most = pl.when(in_georgia).then(20340.0).otherwise(20000.0)
us_tandem_least = pl.when(in_georgia).then(34000.0).otherwise(35200.0)
# The length of the vehicle, which is blank, would settle it for a light one in Georgia.
us_tandem_most = pl.when(in_georgia & (gross >= 73280)).then(34000.0).when(in_georgia).then(40680.0).otherwise(35200.0)
us_sum_least = 20000.0 * c.us_singles + us_tandem_least * c.us_tandems
us_sum_most = us_single_most * c.us_singles + us_tandem_most * c.us_tandems
_unweighed_run = (
    pl.when(c.weighed).then(code(NOT_APPLICABLE))
    .when(gross > c.whole_bridge_lb).then(code(NONCONFORMITY))
    .when((gross <= c.whole_bridge_lb) & (gross <= c.inner_bridge_lb)).then(code(CONFORMITY))
    .otherwise(code(NOT_EVIDENCED))
)  # fmt: skip

US_LEGS = [
    Rule("us/weight/gross", at_most(nowhere, gross, gross, pl.lit(80000.0), pl.lit(80000.0)), gross, pl.lit(80000.0)),
    Rule(
        "us/weight/gross-against-axles", at_most(nowhere, gross, gross, us_sum_least, us_sum_most), gross, us_sum_most
    ),
    # Without readings a group weighs between nothing and the whole, and the shortest run bears least.
    Rule(
        "us/weight/single-axle", at_most(c.weighed | (c.us_singles == 0), zero, gross, pl.lit(20000.0), us_single_most)
    ),
    Rule("us/weight/tandem", at_most(c.weighed | (c.us_tandems == 0), zero, gross, us_tandem_least, us_tandem_most)),
    Rule("us/weight/bridge-formula", _unweighed_run, gross, c.whole_bridge_lb),
]
US_GROUPS = [
    Rule("us/weight/single-axle", at_most(c.kind != "single", c.low, c.high, pl.lit(20000.0), us_single_most), c.low, us_single_most),
    Rule("us/weight/tandem", at_most(c.kind != "tandem", c.low, c.high, us_tandem_least, us_tandem_most), c.low, us_tandem_most),
]  # fmt: skip
_three = (c.axle_count == 3) & ~in_georgia
run_limit = pl.max_horizontal(
    bridge_lb(c.axle_count, c.span_ft),
    pl.when(c.two_tandems & (c.span_ft >= 36)).then(68000.0),
    pl.when(_three & c.span_ft.is_between(14.5, 15.5, "left")).then(47500.0),
    pl.when(_three & c.span_ft.is_between(18.5, 19.5, "left")).then(50500.0),
)
US_RUNS = [
    Rule("us/weight/bridge-formula", at_most(c.spread_in <= 96, c.low, c.high, run_limit, run_limit), c.low, run_limit)
]
_wll_limit = c.net_lb / 6
_wll = (
    pl.when(~log).then(code(NOT_APPLICABLE))
    .when((c.net_lb > 0).not_() | c.net_lb.is_null()).then(code(NOT_EVIDENCED))
    .when(c.aggregate_lb >= _wll_limit).then(code(CONFORMITY))
    .otherwise(code(NONCONFORMITY))
)  # fmt: skip
_flagged = overhang > 4
US_LOADS = [
    Rule("us/securement/vehicle", settled(log, c.has_bunks_and_stakes)),
    Rule("us/securement/stakes-sound", always(c("product").is_in([*LOGS, "processed_logs"]), NOT_EVIDENCED)),
    Rule("us/securement/aggregate-wll", _wll, c.aggregate_lb, _wll_limit, at_least=True),
    Rule("us/securement/lengthwise-tiedowns", settled(log, c.tiedowns >= 2), c.tiedowns, pl.lit(2.0), at_least=True),
    Rule("us/securement/lengthwise-cradle", settled(log, c.bunk_count >= 2), c.bunk_count, pl.lit(2.0), at_least=True),
    Rule("us/securement/closed-body", settled(c("product").is_in(["firewood", "chips", "biomass"]), c.trailer_kind == "box_or_bin")),
    Rule("us/securement/tightenable", settled(pl.lit(True), c.tightenable)),
    Rule("us/securement/first-check", always(c.trip_miles > 50, NOT_VERIFIABLE)),
    Rule("us/securement/later-checks", always(c.trip_miles > 150, NOT_VERIFIABLE)),
    Rule("us/securement/practice-tiedown-strength", settled(log, c.wll_lb >= 4000), c.wll_lb, pl.lit(4000.0), at_least=True),
    *(
        Rule(f"us/securement/{name}", always(log, NOT_EVIDENCED))
        for name in (
            "packed", "outside-log-contacts", "stake-height", "top-logs", "slippery", "front-structure",
            "practice-check-at-public-road", "practice-reach-past-stakes", "practice-outside-longwood",
        )
    ),
    Rule("us/size/rear-flags", always(_flagged, NOT_EVIDENCED)),
    Rule("us/size/rear-lamps-dark", always(_flagged, NOT_EVIDENCED)),
]  # fmt: skip
US = {
    "us/securement/check-before-driving": NOT_VERIFIABLE,
    "us/securement/device-sound": CONFORMITY,
    "us/securement/no-knots": NOT_EVIDENCED,
    "us/securement/edge-protection": NOT_EVIDENCED,
    "us/size/side-flags": NOT_EVIDENCED,
    "us/size/flag-size-colour": NOT_EVIDENCED,
    # Nothing in such a record is bundled, crosswise, short or on a pole trailer.
    **dict.fromkeys(
        (
            f"us/securement/{name}"
            for name in (
                "general-aggregate-wll", "general-tiedown-count", "one-tiedown-midway", "practice-one-tiedown-length",
                "crosswise-tiedowns", "crosswise-positions", "crosswise-overhang", "crosswise-divider",
                "divider-tiedowns", "crosswise-uplift", "side-by-side", "pole-trailer-tiedowns",
                "pole-trailer-wrapper-spacing", "pole-trailer-one-or-two-logs", "pole-trailer-large-logs-above",
            )
        ),
        NOT_APPLICABLE,
    ),
}  # fmt: skip

# --- Georgia ---

interstate = c.road_class == "interstate"
county = c.road_class == "county_road"
allowed = c.from_woods & (
    c.road_class.is_in(["us_route", "state_route", "city_street"]) | (county & c.pickup_or_delivery)
)
near, far = c.haul_radius_miles <= 100, c.haul_radius_miles > 150


def raised(base: float | pl.Expr, forest: float) -> tuple[pl.Expr, pl.Expr]:
    """A Georgia limit with the allowance for forest products and its variances, as least and most it may be."""
    five, ten = forest * 105 / 100, forest * 110 / 100
    least = pl.when(allowed & near).then(five).when(allowed).then(forest).otherwise(base)
    most = (
        pl.when(allowed & c.late & (far.not_() | far.is_null())).then(ten)
        .when(allowed & (near | near.is_null())).then(five)
        .when(allowed).then(forest)
        .otherwise(base)
    )  # fmt: skip
    return least, most


_ga_base = (
    pl.when(c.axle_count <= 2).then(40680.0).when(c.axle_count == 3).then(61020.0)
    .when(c.axle_count == 4).then(70000.0).otherwise(80000.0)
)  # fmt: skip
ga_gross_least, ga_gross_most = raised(_ga_base, 80000.0)
# Whether a county road is a local truck route is blank.
ga_gross_least = (
    pl.when(county & ~c.pickup_or_delivery).then(pl.min_horizontal(ga_gross_least, 56000.0)).otherwise(ga_gross_least)
)
ga_single, ga_tandem = raised(20340.0, 23000.0), raised(40680.0, 46000.0)
ga_sum_least, ga_sum_most = (ga_single[end] * c.ga_singles + ga_tandem[end] * c.ga_tandems for end in (0, 1))
_outer = bridge_lb(c.axle_count, c.outer_span_ft)

GA_LEGS = [
    Rule("us-ga/size/height", settled(pl.lit(True), height <= 13.5), height, pl.lit(13.5)),
    Rule("us-ga/size/combination-length", always(~interstate, NOT_EVIDENCED)),
    Rule("us-ga/weight/gross", at_most(interstate, gross, gross, ga_gross_least, ga_gross_most), gross, ga_gross_most),
    Rule("us-ga/weight/axle-sum", at_most(interstate, gross, gross, ga_sum_least, ga_sum_most), gross, ga_sum_most),
    Rule("us-ga/weight/outer-bridge", at_most(interstate | allowed | (gross < 73280) | (gross > 80000), gross, gross, _outer, _outer), gross, _outer),
    Rule("us-ga/weight/single-axle", at_most(interstate | c.weighed | (c.ga_singles == 0), zero, gross, *ga_single)),
    Rule("us-ga/weight/tandem", at_most(interstate | c.weighed | (c.ga_tandems == 0), zero, gross, *ga_tandem)),
    posted_bridge("us-ga/weight/posted-bridge"),
    posted_road("us-ga/weight/posted-road"),
]  # fmt: skip
GA_GROUPS = [
    Rule("us-ga/weight/single-axle", at_most(c.kind != "single", c.low, c.high, *ga_single), c.low, ga_single[1]),
    Rule("us-ga/weight/tandem", at_most(c.kind != "tandem", c.low, c.high, *ga_tandem), c.low, ga_tandem[1]),
]
_ga_ticket = always((c.job_state == "US-GA") & c.sold_by_load & (c("product") != "firewood"), NOT_EVIDENCED)
GA_LOADS = [
    Rule("us-ga/size/log-lamp", always(c.log & (overhang > 4), NOT_EVIDENCED)),
    Rule("us-ga/size/day-flag", always(overhang > 4, NOT_EVIDENCED)),
    Rule("us-ga/size/night-red-lamp", always(~c.log & (overhang > 4), NOT_EVIDENCED)),
    Rule("us-ga/size/night-lights", always(c.from_woods, NOT_EVIDENCED)),
    Rule("us-ga/tickets/ticket-in-time", _ga_ticket),
    Rule("us-ga/tickets/ticket-contents", _ga_ticket),
]
GA = {"us-ga/size/width": NOT_EVIDENCED, "us-ga/size/semitrailer-length": NOT_EVIDENCED}

# --- South Carolina ---

_sc_gross = pl.when(c.axle_count <= 3).then(50000.0).when(c.axle_count == 4).then(65000.0).otherwise(73280.0)
_sc_sum = 20000.0 * c.us_singles + 36000.0 * c.us_tandems
_log_trailer = c.log & c.trailer_kind.is_in(["pole", "frame"])
_sc_rear = pl.when(_log_trailer).then(code(NOT_APPLICABLE)).otherwise(settled(pl.lit(True), overhang <= 6))
SC_LEGS = [
    Rule("us-sc/size/height", settled(pl.lit(True), height <= 13.5), height, pl.lit(13.5)),
    Rule("us-sc/size/rear-overhang", _sc_rear, overhang, pl.lit(6.0)),
    Rule("us-sc/size/front-overhang", always(~_log_trailer, NOT_EVIDENCED)),
    Rule("us-sc/weight/gross", at_most(interstate, gross, gross, _sc_gross, _sc_gross), gross, _sc_gross),
    Rule("us-sc/weight/axle-sum", at_most(interstate, gross, gross, _sc_sum, _sc_sum), gross, _sc_sum),
    Rule("us-sc/weight/single-axle", at_most(interstate | c.weighed | (c.us_singles == 0), zero, gross, pl.lit(20000.0), pl.lit(20000.0))),
    Rule("us-sc/weight/tandem", at_most(interstate | c.weighed | (c.us_tandems == 0), zero, gross, pl.lit(36000.0), pl.lit(36000.0))),
    posted_bridge("us-sc/weight/posted-bridge"),
    posted_road("us-sc/weight/posted-road"),
]  # fmt: skip
SC_GROUPS = [
    Rule("us-sc/weight/single-axle", at_most(c.kind != "single", c.low, c.high, pl.lit(20000.0), pl.lit(20000.0)), c.low, pl.lit(20000.0)),
    Rule("us-sc/weight/tandem", at_most(c.kind != "tandem", c.low, c.high, pl.lit(36000.0), pl.lit(36000.0)), c.low, pl.lit(36000.0)),
]  # fmt: skip
_sc_ticket = always((c.job_state == "US-SC") & c.sold_by_load & (c("product") != "firewood"), NOT_EVIDENCED)
SC_LOADS = [
    Rule("us-sc/size/log-lamp", always(c.log & (overhang >= 4), NOT_EVIDENCED)),
    Rule("us-sc/size/red-flag", always(overhang >= 4, NOT_EVIDENCED)),
    Rule("us-sc/securement/stakes-and-anchors", always(c.log & c.has_bunks_and_stakes, NOT_EVIDENCED)),
    Rule("us-sc/securement/tiedown-condition", always(c.log, CONFORMITY)),
    Rule("us-sc/tickets/ticket-in-time", _sc_ticket),
    Rule("us-sc/tickets/ticket-contents", _sc_ticket),
]
SC = {
    "us-sc/size/width": NOT_EVIDENCED,
    "us-sc/size/log-length": NOT_EVIDENCED,
    "us-sc/weight/high-pressure-tires": NOT_APPLICABLE,
}
