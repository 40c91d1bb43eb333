"""North Carolina's figures in the rule files against the General Statutes, typed here again from the sections named."""

import csv
from datetime import date
from pathlib import Path

import pytest

from auditor.measures.weight import bridge_limit_lb
from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

FILES = {f.id: f for f in read_rules(["US-NC"]).files if f.place == "US-NC" and f.topic in TOPIC_GROUPS["haul"]}
LONG = {"axle_count": {"at_least": 5}, "vehicle_type": "combination", "outer_span_ft": {"at_least": 51}}

# (file, limit, arm, shape, figure)
FIGURES = [
    # N.C.G.S. 20-118(b)(3): the table ends at 80,000. Page on 20-118(c)(12): forest products 90,000.
    ("weight", "gross_limit_lb", "base", "value", 80_000),
    ("weight", "table_top_lb", "base", "value", 80_000),
    ("weight", "forest_gross_lb", "base", "value", 90_000),
    ("weight", "gross_limit_lb", "forest-products-90000", "limit", "forest_gross_lb"),
    # 20-118(b)(1): 20,000. (b)(2): 38,000. (a)(7): 96 in.
    ("weight", "single_axle_limit_lb", "base", "value", 20_000),
    ("weight", "tandem_limit_lb", "base", "value", 38_000),
    ("weight", "axle_group_from_in", "base", "value", 96),
    # 20-118(b)(3), row "more than 8": two axles 38,000, three 42,000.
    ("weight", "table_cell_lb", "two-axles-under-9-ft", "value", 38_000),
    ("weight", "table_cell_lb", "three-axles-under-9-ft", "value", 42_000),
    # 19A NCAC 04A .0106: 13,000.
    ("weight", "light_traffic_axle_lb", "base", "value", 13_000),
    # 20-116(a): 102 in. 20-117, by a summary: more than 4 ft.
    ("size", "width_limit_in", "base", "value", 102),
    ("size", "projecting_load_ft", "base", "value", 4),
    # 20-116(c), copies through S.L. 2024-56: 14 ft.
    ("size", "height_limit_ft", "base from 2025-01-01", "value", 14),
    # 14-135.1(b): within 30 days of the completion of the harvest.
    ("tickets", "ticket_days", "base", "value", 30),
]
# What is said of a figure that was not read: from the read figure to the remembered one nothing is decided.
OPEN = [
    # 20-118(c)(12), remembered: 22,000 and 42,000; with 51 ft 26,000 and 44,000; two axles 27,000.
    ("weight", "single_axle_limit_lb", "forest-products-axle", [20_000, 22_000]),
    ("weight", "single_axle_limit_lb", "forest-products-axle-51-ft", [20_000, 26_000]),
    ("weight", "single_axle_limit_lb", "forest-products-two-axles", [20_000, 27_000]),
    ("weight", "tandem_limit_lb", "forest-products-axle", [38_000, 42_000]),
    ("weight", "tandem_limit_lb", "forest-products-axle-51-ft", [38_000, 44_000]),
    # 20-118(b)(3), pointer at 36 to 38 ft; 68,000 in federal law.
    ("weight", "axle_group_limit_lb", "two-tandems-36-to-38-ft", [66_000, 68_000]),
    # Inner groups of a forest-product load, up to its gross.
    ("weight", "axle_group_limit_lb", "forest-products-90000", [38_000, 90_000]),
    # 20-116(c): 13 ft 6 in before, 14 ft after, day not known.
    ("size", "height_limit_ft", "base until 2024-12-31", [13 + 6 / 12, 14]),
]
OTHER = {
    ("weight", "axle_sum_limit_lb", "base"),
    ("weight", "table_cell_lb", "base"),
    ("weight", "axle_group_limit_lb", "base"),
    ("weight", "axle_group_limit_lb", "scale-tolerance-10"),
}


def arms(limit: Limit) -> dict[str, Shape]:
    """The versions of a limit, named by their days if there are several, its allowances and its caps."""
    found: dict[str, Shape] = {}
    for version in limit.versions:
        days = [f"{word} {day}" for word, day in (("from", version.from_), ("until", version.until)) if day]
        found[" ".join(["base", *days])] = version
    return found | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


def arm(file: str, limit: str, name: str) -> Shape:
    return arms(FILES[f"us-nc/{file}"].limits[limit])[name]


@pytest.mark.parametrize(("file", "limit", "name", "shape", "figure"), FIGURES)
def test_figure_of_the_statute(file, limit, name, shape, figure):
    entry = arm(file, limit, name)
    assert entry.kind == shape
    assert getattr(entry, shape) == pytest.approx(figure)


@pytest.mark.parametrize(("file", "limit", "name", "figures"), OPEN)
def test_what_was_not_read_stays_open(file, limit, name, figures):
    assert [s.value for s in arm(file, limit, name).said] == figures


def test_no_figure_of_the_files_is_left_out():
    typed = {entry[:3] for entry in (*FIGURES, *OPEN)} | OTHER
    held = {(file.topic, n, a) for file in FILES.values() for n, limit in file.limits.items() for a in arms(limit)}
    assert held == typed


def test_every_printed_cell_at_whole_feet():
    """N.C.G.S. 20-118(b)(3), all 143 cells from 9 ft on, with the parameters of the rule file."""
    with Path(__file__).with_name("nc_20-118_b_3.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["feet"].isdigit()]
    cells = [(int(n), int(row["feet"]), int(row[n])) for row in rows for n in "234567" if row[n]]
    assert len(cells) == 143
    measure = arm("weight", "table_cell_lb", "base").measure
    found = bridge_limit_lb([n for n, _, _ in cells], [feet for _, feet, _ in cells], **measure.parameters)
    assert found.tolist() == [lb for _, _, lb in cells]


def test_the_row_for_more_than_8_ft_ends_below_9_ft():
    for n, name in ((2, "two-axles-under-9-ft"), (3, "three-axles-under-9-ft")):
        assert arm("weight", "table_cell_lb", name).where == {"run_axle_count": {"equals": n}, "run_span_ft": "(8, 9)"}


def test_the_tolerance_is_on_the_table_and_ends_with_it():
    # 20-118(h): ten percent, not above (b)(1), (b)(2) and 80,000; single axles and tandems have none.
    ten, top = arm("weight", "axle_group_limit_lb", "scale-tolerance-10").lesser_of
    assert (ten.percent_more, ten.than, top.limit) == (10, "base", "table_top_lb")
    forms = {
        a.form
        for name in ("single_axle_limit_lb", "tandem_limit_lb", "gross_limit_lb")
        for a in FILES["us-nc/weight"].limits[name].allowances
    }
    assert forms == {"raised limit"}


@pytest.mark.parametrize("limit", ["single_axle_limit_lb", "tandem_limit_lb"])
def test_conditions_remembered_for_long_combinations(limit):
    where = dict(arm("weight", limit, "forest-products-axle-51-ft").where)
    where.pop("any_of")
    assert where == LONG


def test_the_height_is_certain_from_the_year_after_the_copy():
    # Copies through S.L. 2024-56 have 14 ft; when 13 ft 6 in ended is not known.
    before, after = FILES["us-nc/size"].limits["height_limit_ft"].versions
    assert (before.until, after.from_) == (date(2024, 12, 31), date(2025, 1, 1))


def test_what_a_tandem_is():
    # 20-118(a)(7): more than 40 in and not more than 96 in.
    held = FILES["us-nc/weight"].definitions["axle_groups"].model_extra
    assert held == {"tandem_spread_in": "(40, 96]", "steer_axle_in_tandem": True, "lift_axles_count": True}


def test_what_a_ticket_shows():
    # 14-135.1(b)(1)-(4): name of the grower or seller, county, amount, day of delivery.
    held = FILES["us-nc/tickets"].definitions["ticket"].model_extra["contents"]
    assert held == ["seller_name", "county_and_state", ["gross_tare_net", "volume"], "date_received"]
