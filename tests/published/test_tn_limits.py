"""Tennessee's figures in the rule files against the instruments named beside them, typed here again."""

from datetime import date

import pytest

from auditor.rules.models import Limit, Shape
from auditor.rules.reading import read_rules
from auditor.vocabulary import TOPIC_GROUPS

FILES = {f.id: f for f in read_rules(["US-TN"]).files if f.place == "US-TN" and f.topic in TOPIC_GROUPS["haul"]}

WEIGHTS = ("gross_limit_lb", "single_axle_limit_lb", "tandem_limit_lb", "axle_sum_limit_lb")
# (file, limit, arm, shape, figure): an arm is "base" or an allowance.
FIGURES = [
    # T.C.A. 55-7-203(b)(1): 20,000 lb on an axle. (b)(2): 34,000 on a tandem. (b)(3): 80,000 gross.
    ("weight", "single_axle_limit_lb", "base", "value", 20_000),
    ("weight", "tandem_limit_lb", "base", "value", 34_000),
    ("weight", "gross_limit_lb", "base", "value", 80_000),
    # 55-7-203(b)(7), in a paraphrase: ten percent of the true gross or axle weight for loggers.
    *(("weight", limit, "margin-10", "percent_more", 10) for limit in WEIGHTS),
    # 55-7-202: 13 ft 6 in. 55-7-201(f): 75 ft with logs. 55-7-201(b): single unit 45 ft.
    ("size", "height_limit_ft", "base", "value", 13 + 6 / 12),
    ("size", "log_length_ft", "base", "value", 75),
    ("size", "single_unit_length_ft", "base", "value", 45),
    # House Bill 616 of 2023: four feet or more; at least two flags.
    ("size", "projecting_load_ft", "base", "value", 4),
    ("size", "flags_needed", "base", "value", 2),
    # 55-9-405 as amended in 2010, press of July 2010: seen from 500 ft.
    ("size", "lamp_seen_ft", "base", "value", 500),
]
NO_SINGLE_FIGURE = {("weight", "axle_sum_limit_lb", "base"), ("size", "width_limit_in", "base")}


def arms(limit: Limit) -> dict[str, Shape]:
    """The one version of a limit, its allowances and its caps."""
    (version,) = limit.versions
    return {"base": version} | {entry.id: entry for entry in (*limit.allowances, *limit.caps)}


@pytest.mark.parametrize(("file", "limit", "arm", "shape", "figure"), FIGURES)
def test_figure_of_the_instrument(file, limit, arm, shape, figure):
    entry = arms(FILES[f"us-tn/{file}"].limits[limit])[arm]
    assert entry.kind == shape
    assert getattr(entry, shape) == pytest.approx(figure)


def test_no_figure_of_the_files_is_left_out():
    typed = {(file, limit, arm) for file, limit, arm, _, _ in FIGURES} | NO_SINGLE_FIGURE
    held = {
        (file.topic, name, arm) for file in FILES.values() for name, limit in file.limits.items() for arm in arms(limit)
    }
    assert held == typed


def test_width_is_8_ft_or_8_ft_6_in():
    # 55-7-202, data file: 8 ft, and 8 ft 6 in on the Interstate and other federal-aid highways.
    (version,) = FILES["us-tn/size"].limits["width_limit_in"].versions
    assert [r.value for r in version.table.rows] == [8 * 12, 8.5 * 12]


@pytest.mark.parametrize("limit", WEIGHTS)
def test_the_margin_is_a_tolerance_for_logs_known_second_hand(limit):
    (margin,) = FILES["us-tn/weight"].limits[limit].allowances
    assert (margin.form, margin.than, margin.verified) == ("enforcement tolerance", "base", "secondary")
    assert margin.where == {"product": {"one_of": ["sawlogs", "pulpwood", "tree_length", "poles"]}}


def test_the_lamp_of_2010_ends_the_day_before_the_act_of_2023():
    # Press of July 2010: in force 1 July 2010. House Bill 616: in force 1 October 2023.
    rules = {r.id: r for r in FILES["us-tn/size"].rules}
    assert (rules["night-lamp"].from_, rules["night-lamp"].until) == (date(2010, 7, 1), date(2023, 9, 30))
    assert (rules["log-marking"].from_, rules["log-marking"].until) == (date(2023, 10, 1), None)
    # By night only until then, by day and by night since.
    assert rules["night-lamp"].when["dark"] is True
    assert "dark" not in rules["log-marking"].when


def test_what_a_tandem_is():
    # 55-7-203(b)(2): more than 40 in and not more than 96 in.
    assert FILES["us-tn/weight"].definitions["axle_groups"].model_extra["tandem_spread_in"] == "(40, 96]"
