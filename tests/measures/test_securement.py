"""Measures of securement. The tables here are small and invented, unless a line says otherwise."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.measures import securement as s

TABLES = [
    {"material": "chain", "grade": "30", "sizes": {"0.25": 1300, "0.375": 2650}},
    {"material": "chain", "grade": "70", "sizes": {"0.25": 3150, "0.3125": 4700, "0.375": 6600}},
    {"material": "webbing", "sizes": {"2": 2000, "4": 4000}},
    {"material": "steel_strapping", "thickness_in": 0.031, "sizes": {"1.25": 1190}},
    {"material": "steel_strapping", "thickness_in": 0.044, "sizes": {"1.25": 1690, "2": 2650}},
]
UNMARKED = {"chain": {"grade": "30"}, "wire_rope": {}}
FACTORS = {"over_to_other_side": 1.0, "same_side": 0.5, "vehicle_to_article": 0.5}


def wll(*args: Any, **kwargs: Any) -> Any:
    return s.working_load_limit_lb(*args, tables=TABLES, unmarked=UNMARKED, **kwargs)


def line(**values: Any) -> dict[str, Any]:
    base = {
        "job": "J1", "load": "1", "stack": 1, "count": 1, "kind": "tiedown", "wll_lb": 4000.0,
        "routing": "over_to_other_side", "defective": False, "position_ft": None, "longest_log_ft": None,
        "holds_stack": True,
    }  # fmt: skip
    return base | values


SCHEMA = {
    "job": pl.String, "load": pl.String, "stack": pl.Int64, "count": pl.Int64, "kind": pl.String,
    "wll_lb": pl.Float64, "routing": pl.String, "defective": pl.Boolean, "position_ft": pl.Float64,
    "longest_log_ft": pl.Float64, "holds_stack": pl.Boolean,
}  # fmt: skip


def frame(*lines: dict[str, Any]) -> pl.DataFrame:
    return pl.DataFrame(list(lines), schema=SCHEMA)


def aggregate(*lines: dict[str, Any]) -> tuple[Any, ...]:
    return s.aggregate_wll_lb(frame(*lines), routing_factors=FACTORS).row(0)[3:]


class TestWorkingLoadLimit:
    def test_table_value(self) -> None:
        assert wll("chain", 0.375, "70") == 6600

    def test_a_mark_governs_over_the_table_lower_or_higher(self) -> None:
        assert wll("chain", 0.375, "70", marked_wll_lb=6000) == 6000
        assert wll("chain", 0.375, "70", marked_wll_lb=7000) == 7000

    def test_a_mark_is_enough_for_an_unknown_material(self) -> None:
        assert wll(None, None, marked_wll_lb=5400) == 5400

    def test_the_weakest_part_rules(self) -> None:
        assert wll("chain", 0.375, "70", tensioner_wll_lb=5400) == 5400
        assert wll("chain", 0.375, "70", tensioner_wll_lb=5400, anchor_wll_lb=5000) == 5000
        assert wll("chain", 0.375, "70", tensioner_wll_lb=9200) == 6600
        assert wll("chain", 0.375, "70", marked_wll_lb=7000, anchor_wll_lb=6999) == 6999

    def test_parts_without_the_tiedown_itself_say_nothing(self) -> None:
        assert wll("chain", None, "70", tensioner_wll_lb=5400) is None

    @pytest.mark.parametrize(
        ("size_in", "expected"),
        [
            (0.24, None),  # below the least listed size
            (0.25, 3150),
            (0.30, 3150),  # between sizes: the next smaller one
            (0.31, 4700),  # 5/16 in written with two decimals
            (0.374, 6600),
            (0.375, 6600),
            (0.38, 6600),
            (0.39, None),  # above the largest listed size
            (None, None),
            (float("nan"), None),
        ],
    )
    def test_sizes(self, size_in: float | None, expected: int | None) -> None:
        assert wll("chain", size_in, "70") == expected

    def test_a_size_that_a_grade_does_not_list_takes_the_smaller_one_of_that_grade(self) -> None:
        assert wll("chain", 0.3125, "30") == 1300

    def test_unknown_material_or_grade(self) -> None:
        assert wll("manila_rope", 0.375) is None
        assert wll("chain", 0.375, "43") is None
        assert wll(None, 0.375, "70") is None

    def test_strapping_needs_its_thickness(self) -> None:
        assert wll("steel_strapping", 1.25, None, None) is None
        assert wll("steel_strapping", 1.25, None, 0.031) == 1190
        assert wll("steel_strapping", 2, None, 0.044) == 2650
        assert wll("steel_strapping", 2, None, 0.031) == 1190  # no such cell: the next smaller width of that thickness
        assert wll("steel_strapping", 1.25, None, 0.040) == 1190
        assert wll("steel_strapping", 1.25, None, 0.030) is None
        assert wll("steel_strapping", 1.25, None, 0.046) is None

    def test_limits_of_zero_are_no_limits(self) -> None:
        assert wll("chain", 0.375, "70", marked_wll_lb=0) is None
        assert wll("chain", 0.375, "70", anchor_wll_lb=0) is None

    def test_columns_and_scalars_together(self) -> None:
        found = wll(pl.Series(["chain", "webbing", None]), [0.25, 4.0, 2.0], grade=["70", None, None])
        assert found.to_list() == [3150, 4000, None]

    def test_columns_of_different_lengths_are_refused(self) -> None:
        with pytest.raises(ValueError, match="different lengths"):
            wll(["chain", "chain"], [0.25])

    def test_basis(self) -> None:
        lines = pl.DataFrame(
            {
                "material": ["chain", "chain", "chain", "webbing", "chain"],
                "size_in": [0.25, 0.25, 0.25, 2.0, None],
                "grade": ["70", "70", None, None, None],
                "marked_wll_lb": [3200, None, None, None, None],
            }
        )
        found = s.working_load_limits(lines, tables=TABLES, unmarked=UNMARKED)
        assert found["wll_lb"].to_list() == [3200, 3150, 1300, 2000, None]
        assert found["wll_basis"].to_list() == ["marked", "table", "default", "table", None]
        assert found.columns == [*lines.columns, "wll_lb", "wll_basis"]

    def test_a_material_that_is_itself_the_default(self) -> None:
        lines = pl.DataFrame({"material": ["wire_rope"], "size_in": [0.5]})
        tables = [{"material": "wire_rope", "sizes": {"0.5": 5300}}, {"material": "wire_rope", "sizes": {"1": 20900}}]
        found = s.working_load_limits(lines, tables=tables, unmarked=UNMARKED)
        assert found.select("wll_lb", "wll_basis").row(0) == (5300, "default")

    def test_without_tables_only_marks_speak(self) -> None:
        lines = pl.DataFrame({"material": ["chain", "chain"], "marked_wll_lb": [3000, None]})
        found = s.working_load_limits(lines, tables=[], unmarked={})
        assert found["wll_lb"].to_list() == [3000, None]

    @given(
        marked=st.none() | st.integers(1, 20_000),
        size=st.sampled_from([None, 0.2, 0.25, 0.34, 0.375]),
        part=st.integers(1, 20_000),
        weaker=st.integers(0, 19_999),
        which=st.sampled_from(["tensioner_wll_lb", "anchor_wll_lb"]),
    )
    def test_a_weaker_part_never_raises_the_limit(
        self, marked: int | None, size: float | None, part: int, weaker: int, which: str
    ) -> None:
        weak = max(1, min(part, weaker))
        before = wll("chain", size, "70", marked_wll_lb=marked, **{which: part})
        after = wll("chain", size, "70", marked_wll_lb=marked, **{which: weak})
        assert (before is None) == (after is None)
        assert before is None or after <= before


class TestAggregate:
    def test_sum_of_count_limit_and_factor(self) -> None:
        # 2 x 4,000 x 1 + 1 x 3,000 x 1/2 + 1 x 1,000 x 1/2 = 10,000
        lines = [
            line(count=2),
            line(wll_lb=3000.0, routing="same_side"),
            line(wll_lb=1000.0, routing="vehicle_to_article"),
        ]
        assert aggregate(*lines) == (10_000, 10_000)

    def test_wrappers_and_defective_tiedowns_are_kept_out(self) -> None:
        assert aggregate(line(), line(kind="wrapper"), line(defective=True)) == (4000, 4000)
        assert aggregate(line(), line(kind="wrapper", wll_lb=None), line(defective=True, count=None)) == (4000, 4000)

    def test_blank_routing_lies_between_the_least_and_the_greatest_factor(self) -> None:
        assert aggregate(line(routing=None)) == (2000, 4000)

    @pytest.mark.parametrize("blank", ["wll_lb", "count"])
    def test_blank_limit_or_count_leaves_the_upper_end_open(self, blank: str) -> None:
        assert aggregate(line(), line(**{blank: None})) == (4000, None)

    @pytest.mark.parametrize("blank", ["kind", "defective", "holds_stack"])
    def test_a_line_that_may_not_count_adds_to_the_upper_end_only(self, blank: str) -> None:
        assert aggregate(line(), line(**{blank: None})) == (4000, 8000)

    def test_a_count_of_zero_adds_nothing_whatever_else_is_blank(self) -> None:
        assert aggregate(line(), line(count=0, wll_lb=None, kind=None)) == (4000, 4000)

    def test_stacks_loads_and_jobs_are_kept_apart(self) -> None:
        lines = frame(line(), line(stack=2, count=3), line(load="2"), line(job="J2", count=2))
        found = s.aggregate_wll_lb(lines, routing_factors=FACTORS)
        assert found["aggregate_wll_lb__lo"].to_list() == [4000, 12_000, 4000, 8000]

    def test_a_routing_without_a_factor_is_refused(self) -> None:
        with pytest.raises(ValueError, match="same_side"):
            s.aggregate_wll_lb(frame(line(routing="same_side")), routing_factors={"over_to_other_side": 1.0})

    def test_no_lines_no_rows(self) -> None:
        assert len(s.aggregate_wll_lb(frame(), routing_factors=FACTORS)) == 0


LINES = st.lists(
    st.builds(
        line,
        count=st.none() | st.integers(0, 6),
        kind=st.sampled_from([None, "tiedown", "wrapper"]),
        wll_lb=st.none() | st.integers(1, 20_000).map(float),
        routing=st.sampled_from([None, *FACTORS]),
        defective=st.sampled_from([None, True, False]),
    ),
    min_size=1,
    max_size=6,
)


class TestAggregateProperties:
    @given(lines=LINES, count=st.integers(1, 4), more=st.integers(1, 20_000), routing=st.sampled_from(list(FACTORS)))
    def test_one_more_sound_tiedown_never_lowers_it(
        self, lines: list[dict[str, Any]], count: int, more: int, routing: str
    ) -> None:
        low, high = aggregate(*lines)
        low_after, high_after = aggregate(*lines, line(count=count, wll_lb=float(more), routing=routing))
        assert low_after >= low
        assert (high is None) == (high_after is None)
        assert high is None or high_after >= high

    @given(lines=LINES, data=st.data())
    def test_the_order_of_the_lines_changes_nothing(self, lines: list[dict[str, Any]], data: st.DataObject) -> None:
        assert aggregate(*data.draw(st.permutations(lines))) == aggregate(*lines)

    @given(lines=LINES, data=st.data())
    def test_every_way_of_filling_the_blanks_lies_inside(
        self, lines: list[dict[str, Any]], data: st.DataObject
    ) -> None:
        choices = {
            "count": st.integers(0, 6), "kind": st.sampled_from(["tiedown", "wrapper"]), "defective": st.booleans(),
            "wll_lb": st.integers(1, 20_000).map(float), "routing": st.sampled_from(list(FACTORS)),
        }  # fmt: skip
        filled = [x | {n: data.draw(c) for n, c in choices.items() if x[n] is None} for x in lines]
        # The sum by hand, line by line.
        world = sum(
            x["count"] * x["wll_lb"] * FACTORS[x["routing"]]
            for x in filled
            if x["kind"] == "tiedown" and not x["defective"]
        )
        low, high = aggregate(*lines)
        assert low <= world
        assert high is None or world <= high


class TestCounts:
    def counts(self, *lines: dict[str, Any]) -> tuple[Any, ...]:
        return s.tiedown_counts(frame(*lines)).row(0)[3:]

    def test_tiedowns_and_wrappers(self) -> None:
        assert self.counts(line(count=2), line(count=3, kind="wrapper"), line(defective=True)) == (3, 3)

    def test_a_blank_kind_leaves_both_open(self) -> None:
        assert self.counts(line(), line(kind=None)) == (None, None)
        assert self.counts(line(), line(kind=None, count=0)) == (1, 0)

    def test_a_blank_count_leaves_its_own_kind_open(self) -> None:
        assert self.counts(line(count=None), line(count=2, kind="wrapper")) == (None, 2)

    def test_a_line_that_may_hold_another_stack_leaves_its_kind_open(self) -> None:
        assert self.counts(line(), line(holds_stack=None)) == (None, 0)


class TestWeakest:
    def weakest(self, *lines: dict[str, Any]) -> Any:
        found = s.weakest_tiedown_wll_lb(frame(*lines))
        return found["weakest_tiedown_wll_lb"].to_list()

    def test_least_of_the_tiedowns_without_wrappers(self) -> None:
        assert self.weakest(line(), line(wll_lb=3000.0), line(wll_lb=100.0, kind="wrapper")) == [3000]

    def test_a_blank_limit_leaves_it_open(self) -> None:
        assert self.weakest(line(), line(wll_lb=None)) == [None]
        assert self.weakest(line(), line(wll_lb=None, count=0)) == [4000]

    def test_a_line_of_unknown_kind_matters_only_when_weaker(self) -> None:
        assert self.weakest(line(), line(kind=None, wll_lb=5000.0)) == [4000]
        assert self.weakest(line(), line(kind=None, wll_lb=3000.0)) == [None]

    def test_wrappers_alone_have_no_weakest_tiedown(self) -> None:
        assert self.weakest(line(kind="wrapper")) == []


class TestPositions:
    def spacing(self, *positions: float | None, **values: Any) -> Any:
        lines = [line(kind="wrapper", position_ft=p) | values for p in positions]
        return s.wrapper_spacing_ft(frame(*lines))["wrapper_spacing_ft"].item()

    def test_front_to_rear_wrapper(self) -> None:
        assert self.spacing(16.0, 4.0, 10.0) == 12  # 16 - 4

    def test_spacing_needs_two_placed_wrappers(self) -> None:
        assert self.spacing(4.0) is None
        assert self.spacing(4.0, None) is None
        assert self.spacing(4.0, 16.0, count=2) is None
        assert self.spacing(4.0, 16.0, kind=None) is None

    def gap(self, *positions: float | None, length: float | None = 30.0, **values: Any) -> Any:
        lines = [line(position_ft=p, longest_log_ft=length) | values for p in positions]
        found = s.tiedown_position_gap_share(frame(*lines), targets=[1 / 3, 2 / 3])
        return found["tiedown_position_gap_share"].item()

    def test_gap_to_one_third_and_two_thirds(self) -> None:
        assert self.gap(10.0, 20.0) == pytest.approx(0)
        assert self.gap(20.0, 10.0) == pytest.approx(0)
        # 7/30 is 3/30 from 10/30; 21/30 is 1/30 from 20/30
        assert self.gap(7.0, 21.0) == pytest.approx(0.1)
        assert self.gap(0.0, 30.0) == pytest.approx(1 / 3)

    def test_gap_needs_two_placed_tiedowns_and_a_length(self) -> None:
        assert self.gap(10.0) is None
        assert self.gap(10.0, 15.0, 20.0) is None
        assert self.gap(10.0, None) is None
        assert self.gap(10.0, 20.0, length=None) is None
        assert self.gap(10.0, 20.0, length=0.0) is None
        assert self.gap(10.0, 20.0, count=2) is None
        assert self.gap(10.0, 20.0, kind=None) is None

    def test_wrappers_do_not_disturb_the_gap(self) -> None:
        lines = frame(
            line(position_ft=10.0, longest_log_ft=30.0),
            line(kind="wrapper", position_ft=1.0, longest_log_ft=30.0),
            line(position_ft=20.0, longest_log_ft=30.0),
        )
        found = s.tiedown_position_gap_share(lines, targets=[1 / 3, 2 / 3])
        assert found["tiedown_position_gap_share"].item() == pytest.approx(0)


class TestStackWeight:
    def weight(self, weight: Any, count: Any, net: Any, gross: Any = None, tare: Any = None) -> tuple[Any, ...]:
        row = {
            "weight_lb": weight, "stack_count": count, "net_weight_lb": net,
            "gross_weight_lb": gross, "tare_weight_lb": tare,
        }  # fmt: skip
        return s.stack_weight_lb(pl.DataFrame([row], schema=dict.fromkeys(row, pl.Int64))).row(0)

    def test_given_weight_first(self) -> None:
        assert self.weight(20_000, 2, 50_000) == (20_000, 20_000)

    def test_the_only_stack_is_the_whole_load(self) -> None:
        assert self.weight(None, 1, 50_000, 84_000, 30_000) == (50_000, 50_000)
        assert self.weight(None, 1, None, 84_000, 30_000) == (54_000, 54_000)  # 84,000 - 30,000

    def test_one_of_several_is_between_nothing_and_all(self) -> None:
        assert self.weight(None, 2, 50_000) == (0, 50_000)
        assert self.weight(None, None, 50_000) == (0, 50_000)

    def test_unknown(self) -> None:
        assert self.weight(None, 1, None, 84_000, None) == (None, None)
        assert self.weight(None, 2, None) == (None, None)
        assert self.weight(None, 1, None, 30_000, 30_000) == (None, None)


class TestRequiredCount:
    """49 CFR 393.110(b)-(c) with the figures of the law: 5 ft, 1,100 lb, each 10 ft."""

    def required(self, length: Any, weight: Any, blocked: Any) -> Any:
        return s.tiedowns_required_count(length, weight, blocked, short_ft=5, light_lb=1100, each_ft=10)

    @pytest.mark.parametrize(
        ("length", "weight", "loose", "blocked"),
        [
            (4.9, 1100, 1, 1),
            (5.0, 1100, 1, 1),
            (5.0, 1101, 2, 1),
            (5.1, 500, 2, 1),
            (10.0, 9000, 2, 1),
            (10.1, 9000, 3, 2),  # 2 + a part of ten feet
            (20.0, 9000, 3, 2),
            (20.1, 9000, 4, 3),
            (40.0, 9000, 5, 4),
        ],
    )
    def test_counts(self, length: float, weight: float, loose: int, blocked: int) -> None:
        assert self.required(length, weight, False) == loose
        assert self.required(length, weight, True) == blocked

    def test_blanks_that_cannot_matter(self) -> None:
        assert self.required(8.0, None, False) == 2
        assert self.required(4.0, None, True) == 1
        assert self.required(4.0, 500, None) == 1

    def test_blanks_that_matter(self) -> None:
        assert self.required(None, 500, False) is None
        assert self.required(4.0, None, False) is None
        assert self.required(8.0, 500, None) is None
        assert self.required(4.0, 2000, None) is None

    def test_out_of_range(self) -> None:
        assert self.required(0.0, 500, False) is None
        assert self.required(float("nan"), 500, True) is None
        assert self.required(4.0, -1, False) is None

    def test_columns(self) -> None:
        found = self.required(pl.Series([4.0, 30.0]), pl.Series([500, None]), pl.Series([False, False]))
        assert found.to_list() == [1, 4]
        assert found.dtype == pl.Int64


class TestLogLengthClass:
    """Up to 16 ft is shortwood, 16 ft included."""

    @pytest.mark.parametrize(
        ("shortest", "longest", "embedded", "expected"),
        [
            (8.0, 16.0, False, "shortwood"),
            (8.0, 16.0, None, "shortwood"),
            (16.0, 16.0, None, "shortwood"),
            (16.1, 40.0, None, "longwood"),
            (16.0, 40.0, False, "shortwood"),
            (16.0, 40.0, True, "longwood"),
            (16.0, 40.0, None, None),
            (8.0, 15.9, True, "shortwood"),  # nothing long to lie embedded in
            (None, 16.0, None, "shortwood"),
            (None, 16.1, None, None),
            (None, 40.0, True, "longwood"),
            (None, 40.0, False, None),
            (17.0, None, None, "longwood"),
            (8.0, None, False, "shortwood"),
            (8.0, None, True, None),
            (8.0, None, None, None),
            (None, None, True, None),
            (20.0, 10.0, False, None),  # the shortest above the longest
            (0.0, 10.0, False, None),
        ],
    )
    def test_classes(self, shortest: Any, longest: Any, embedded: Any, expected: str | None) -> None:
        assert s.log_length_class(shortest, longest, embedded, shortwood_up_to_ft=16) == expected

    @given(
        short=st.none() | st.integers(1, 40),
        long=st.none() | st.integers(1, 40),
        within=st.none() | st.booleans(),
        data=st.data(),
    )
    def test_an_answer_with_blanks_holds_in_every_world(
        self, short: int | None, long: int | None, within: bool | None, data: st.DataObject
    ) -> None:
        answer = s.log_length_class(short, long, within, shortwood_up_to_ft=16)
        low = short if short is not None else data.draw(st.integers(1, long or 40))
        high = long if long is not None else data.draw(st.integers(low, 80))
        inside = within if within is not None else data.draw(st.booleans())
        if answer is not None and low <= high:
            assert s.log_length_class(low, high, inside, shortwood_up_to_ft=16) == answer
