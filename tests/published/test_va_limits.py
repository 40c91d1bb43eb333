"""Virginia's figures in the rule files against the Code of Virginia, typed here again from the sections named beside them."""

from datetime import date

import pytest

from auditor.measures.weight import bridge_limit_lb
from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

FILES = {f.id: f for f in read_rules(["US-VA"]).files if f.place == "US-VA" and f.topic in TOPIC_GROUPS["haul"]}
WEIGHT = FILES["us-va/weight"].limits
DATED = ("flag_size_in", "flags_needed", "flag_colours", "night_light_seen_ft")

# (file, limit, arm, shape, figure)
FIGURES = [
    # Va. Code 46.2-1124: 20,000. 46.2-1125: 34,000. 46.2-1122: 96 in. 46.2-1126: the table ends at 80,000.
    ("weight", "statute_single_axle_lb", "base", "value", 20_000),
    ("weight", "statute_tandem_lb", "base", "value", 34_000),
    ("weight", "axle_group_from_in", "base", "value", 96),
    ("weight", "table_top_lb", "base", "value", 80_000),
    # Two gaps of a tandem, 2 x 96 in: our choice.
    ("weight", "tri_axle_spread_in", "base", "value", 192),
    # 46.2-1128 and 46.2-1129: five percent each, never above 84,000.
    ("weight", "permit_gross_top_lb", "base", "value", 84_000),
    *(("weight", f"{name}_limit_lb", "overload-permit", "percent_more", 5) for name in ("single_axle", "tandem")),
    *(("weight", f"extended_{name}_lb", "base", "percent_more", 5) for name in ("single_axle", "tandem")),
    *(
        ("weight", f"extended_{name}_lb", "overload-permit-too", "percent_more", 10)
        for name in ("single_axle", "tandem")
    ),
    # 46.2-1148.1(B): 24,000 single, 40,000 tandem, 50,000 tri-axle, 90,000 on five axles.
    ("weight", "single_axle_limit_lb", "forest-products-permit", "value", 24_000),
    ("weight", "tandem_limit_lb", "forest-products-permit", "value", 40_000),
    ("weight", "axle_group_limit_lb", "forest-products-permit-tri-axle", "value", 50_000),
    ("weight", "forest_permit_five_axles_lb", "base", "value", 90_000),
    # Which limit stands behind which: names only.
    ("weight", "gross_limit_lb", "base", "limit", "table_top_lb"),
    ("weight", "gross_limit_lb", "forest-products-permit", "limit", "forest_permit_gross_lb"),
    ("weight", "gross_limit_lb", "forest-products-permit-48-ft", "limit", "forest_permit_five_axles_lb"),
    ("weight", "axle_group_limit_lb", "base", "limit", "statute_group_lb"),
    ("weight", "axle_group_limit_lb", "virginia-grown-extension", "limit", "extended_group_lb"),
    ("weight", "axle_group_limit_lb", "forest-products-permit", "limit", "forest_permit_gross_lb"),
    ("weight", "axle_group_limit_lb", "forest-products-permit-48-ft", "limit", "forest_permit_five_axles_lb"),
    *(("weight", f"{name}_limit_lb", "base", "limit", f"statute_{name}_lb") for name in ("single_axle", "tandem")),
    *(
        ("weight", f"{name}_limit_lb", "virginia-grown-extension", "limit", f"extended_{name}_lb")
        for name in ("single_axle", "tandem")
    ),
    # 46.2-1105(A)(4): 102 in. 46.2-1110: 13 ft 6 in. 46.2-1120: 3 ft in front. 46.2-1112: 53 ft, 41 ft.
    ("size", "width_limit_in", "base", "value", 102),
    ("size", "height_limit_ft", "base", "value", 13 + 6 / 12),
    ("size", "front_overhang_limit_ft", "base", "value", 3),
    ("size", "long_semitrailer_ft", "base", "value", 53),
    ("size", "kingpin_limit_ft", "base", "value", 41),
    # 46.2-1121: more than 4 ft behind, more than 4 in at a side since 1 July 2023; 12 in before, 18 in since; 500 ft.
    ("size", "projecting_load_ft", "base", "value", 4),
    ("size", "projecting_side_in", "base from 2023-07-01", "value", 4),
    ("size", "flag_size_in", "base until 2023-06-30", "value", 12),
    ("size", "flag_size_in", "base from 2023-07-01", "value", 18),
    ("size", "flags_needed", "base until 2023-06-30", "value", 1),
    ("size", "flag_colours", "base until 2023-06-30", "words", ["red"]),
    ("size", "flag_colours", "base from 2023-07-01", "words", ["red", "fluorescent_orange"]),
    ("size", "night_light_seen_ft", "base until 2023-06-30", "value", 500),
    ("size", "night_light_seen_ft", "base from 2023-07-01", "value", 500),
]
TABLES = [
    # 46.2-1148.1(B): two axles 40,000, three 60,000, four 70,000.
    ("weight", "forest_permit_gross_lb", "base", [({"axle_count": "[1, 2]"}, 40_000), ({"axle_count": 3}, 60_000), ({"axle_count": {"at_least": 4}}, 70_000)]),
    # 46.2-1112: 40 ft and 65 ft; no tolerance above 12 in.
    ("size", "length_limit_ft", "base", [({"vehicle_type": "single_unit"}, 40), ({"vehicle_type": "combination"}, 65)]),
    ("size", "length_limit_ft", "tolerance-12-in", [({"vehicle_type": "single_unit"}, 40 + 12 / 12), ({"vehicle_type": "combination"}, 65 + 12 / 12)]),
    # 46.2-1121(B): one flag up to 2 ft of width, else two.
    ("size", "flags_needed", "base from 2023-07-01", [({"projecting_width_ft": "[0, 2]"}, 1), ({"projecting_width_ft": {"more_than": 2}}, 2)]),
]  # fmt: skip
CAPPED = [
    # 46.2-1128 and 46.2-1129: the percentage, but never above 84,000 gross.
    ("weight", "gross_limit_lb", "overload-permit", 5),
    ("weight", "gross_limit_lb", "virginia-grown-extension", 5),
    ("weight", "axle_group_limit_lb", "overload-permit", 5),
    ("weight", "extended_group_lb", "base", 5),
    ("weight", "extended_group_lb", "overload-permit-too", 10),
]
OTHER = {("weight", "axle_sum_limit_lb", "base"), ("weight", "statute_group_lb", "base")}


def arms(limit: Limit) -> dict[str, Shape]:
    """The versions of a limit, named by their days if there are any, its allowances and its caps."""
    found: dict[str, Shape] = {}
    for version in limit.versions:
        days = [f"{word} {day}" for word, day in (("from", version.from_), ("until", version.until)) if day]
        found[" ".join(["base", *days])] = version
    return found | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


def arm(file: str, limit: str, name: str) -> Shape:
    return arms(FILES[f"us-va/{file}"].limits[limit])[name]


@pytest.mark.parametrize(("file", "limit", "name", "shape", "figure"), FIGURES)
def test_figure_of_the_code(file, limit, name, shape, figure):
    entry = arm(file, limit, name)
    assert entry.kind == shape
    assert getattr(entry, shape) == (pytest.approx(figure) if isinstance(figure, float) else figure)


@pytest.mark.parametrize(("file", "limit", "name", "rows"), TABLES)
def test_rows_of_the_tables(file, limit, name, rows):
    assert [(r.when, r.value) for r in arm(file, limit, name).table.rows] == rows


@pytest.mark.parametrize(("file", "limit", "name", "percent"), CAPPED)
def test_the_percentages_stop_at_84_000(file, limit, name, percent):
    more, top = arm(file, limit, name).lesser_of
    assert (more.percent_more, top.limit) == (percent, "permit_gross_top_lb")


def test_no_figure_of_the_files_is_left_out():
    typed = {entry[:3] for entry in (*FIGURES, *TABLES, *CAPPED)} | OTHER
    held = {(file.topic, n, a) for file in FILES.values() for n, limit in file.limits.items() for a in arms(limit)}
    assert held == typed


@pytest.mark.parametrize(
    ("axles", "span_ft", "lb"),
    # Va. Code 46.2-1126: cells that other states print otherwise, usual cells, and parts of a foot that go up.
    [
        (2, 8, 34_000), (3, 7.2, 34_000), (3, 13, 45_000), (3, 12.1, 45_000), (5, 38, 72_000), (2, 9, 39_000),
        (3, 20, 51_000), (4, 36, 66_000), (4, 23.01, 58_000), (5, 28, 65_500), (5, 51, 80_000), (6, 43, 80_000),
        (7, 34, 80_000),
    ],
)  # fmt: skip
def test_cells_of_the_spacing_table(axles, span_ft, lb):
    measure, top = arm("weight", "statute_group_lb", "base").lesser_of
    assert top.limit == "table_top_lb"
    assert bridge_limit_lb(axles, span_ft, **measure.measure.parameters) == lb


@pytest.mark.parametrize(
    ("single", "tandem", "percent"),
    # 20,000 x 1.05 and 34,000 x 1.05; both permits: 22,000 and 37,400.
    [(21_000, 35_700, 5), (22_000, 37_400, 10)],
)
def test_axles_under_the_permits(single, tandem, percent):
    for name, limit in (("single_axle", single), ("tandem", tandem)):
        assert arm("weight", f"statute_{name}_lb", "base").value * (100 + percent) / 100 == limit


def test_each_permit_needs_its_own_paper_of_virginia():
    papers = {
        "overload-permit": "overload_permit",  # 46.2-1128
        "overload-permit-too": "overload_permit",
        "virginia-grown-extension": "weight_extension_permit",  # 46.2-1129
        "forest-products-permit": "forest_products_permit",  # 46.2-1148.1
        "forest-products-permit-48-ft": "forest_products_permit",
        "forest-products-permit-tri-axle": "forest_products_permit",
    }
    held = {(a.id, a.needs.document, a.needs.state, a.form) for limit in WEIGHT.values() for a in limit.allowances}
    assert held == {(name, paper, "US-VA", "permit") for name, paper in papers.items()}


def test_conditions_of_the_permits():
    # 46.2-1129: Virginia-grown, from where cut to where first processed. 46.2-1148.1: not only Virginia-grown; 48 ft.
    grown = arm("weight", "tandem_limit_lb", "virginia-grown-extension").where
    assert (grown["grown_state"], grown["origin_kind"], grown["destination_kind"]) == (
        "US-VA",
        "forest",
        "first_processing",
    )
    five = arm("weight", "gross_limit_lb", "forest-products-permit-48-ft").where
    assert "grown_state" not in five
    assert five["axle_count"] == {"equals": 5}
    assert five["outer_span_ft"] == {"at_least": 48}


def test_the_flag_law_changed_on_1_july_2023():
    # 2022, c. 50.
    for name in DATED:
        before, after = FILES["us-va/size"].limits[name].versions
        assert (before.until, after.from_) == (date(2023, 6, 30), date(2023, 7, 1))
    (side,) = [r for r in FILES["us-va/size"].rules if r.id == "side-flag"]
    assert side.from_ == date(2023, 7, 1)


def test_what_a_tandem_is():
    # 46.2-1122: more than 40 in and not more than 96 in.
    held = FILES["us-va/weight"].definitions["axle_groups"].model_extra
    assert held == {"tandem_spread_in": "(40, 96]", "steer_axle_in_tandem": True, "lift_axles_count": True}
