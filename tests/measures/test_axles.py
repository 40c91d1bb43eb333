import itertools

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.measures.axles import axle_groups, axle_layout, axle_runs

FEDERAL = {"tandem_spread_in": "(40, 96]", "steer_axle_in_tandem": True, "lift_axles_count": True}
GEORGIA = {
    "tandem_spread_in": "(40, 216]",
    "steer_axle_in_tandem": False,
    "lift_axles_count": False,
}  # O.C.G.A. 32-6-26

# A tractor with a log trailer: steer, drive tandem 4 ft 4 in, trailer tandem 4 ft 1 in; 51 ft over all.
FIVE_AXLES = [0.0, 12.5, 16.83, 46.92, 51.0]


def _axles(positions, lifts=None, truck="T1", trailer="R1", numbers=None):
    return pl.DataFrame(
        {
            "job": "J",
            "truck": truck,
            "trailer": pl.Series([trailer] * len(positions), dtype=pl.String),
            "axle": pl.Series(numbers or range(1, len(positions) + 1), dtype=pl.Int64),
            "position_ft": pl.Series(positions, dtype=pl.Float64),
            "lift_axle": pl.Series(lifts or [False] * len(positions), dtype=pl.Boolean),
        }
    )


def _groups(axles, law=FEDERAL):
    return axle_groups(axles, **law).select("group_kind", "first_axle", "last_axle").rows()


def _runs(axles, law=FEDERAL):
    return {(r["first_axle"], r["last_axle"]): r for r in axle_runs(axles, **law).to_dicts()}


def test_five_axle_log_truck():
    assert _groups(_axles(FIVE_AXLES)) == [("single", 1, 1), ("tandem", 2, 3), ("tandem", 4, 5)]
    # 16.83 - 12.5 = 4.33 ft = 51.96 in; 51 - 46.92 = 4.08 ft = 48.96 in
    assert axle_groups(_axles(FIVE_AXLES), **FEDERAL)["spread_in"].to_list() == [0, 51.96, 48.96]
    assert axle_layout(_axles(FIVE_AXLES), **FEDERAL).row(0) == ("J", "T1", "R1", 5, 51.0, 1, 2)


def test_five_axles_make_ten_runs():
    runs = _runs(_axles(FIVE_AXLES))
    assert set(runs) == set(itertools.combinations(range(1, 6), 2))
    assert runs[2, 5]["run_axle_count"] == 4
    assert runs[2, 5]["run_span_ft"] == 38.5  # 51 - 12.5
    assert runs[2, 5]["run_span_in"] == 462
    assert [k for k, r in runs.items() if r["two_tandems"]] == [(2, 5)]


def test_three_axles_within_96_in_are_one_tandem():
    """FHWA questions and answers on 23 CFR 658.17."""
    assert _groups(_axles([0, 14, 18, 22])) == [("single", 1, 1), ("tandem", 2, 4)]
    # 22.01 - 14 = 96.12 in: no longer; then each pair is a tandem
    assert _groups(_axles([0, 14, 18, 22.01])) == [("single", 1, 1), ("tandem", 2, 3), ("tandem", 3, 4)]


def test_two_tandems_36_ft_from_first_to_last():
    """23 U.S.C. 127(a)(2): two consecutive sets of tandem axles."""
    runs = _runs(_axles([0, 12, 16, 44, 48]))
    assert runs[2, 5]["run_span_ft"] == 36.0
    assert runs[2, 5]["two_tandems"] is True
    assert runs[1, 5]["two_tandems"] is False


def test_a_spread_axle_is_no_tandem():
    runs = _runs(_axles([0, 12, 16, 40, 48.01]))
    assert not any(r["two_tandems"] for r in runs.values())
    assert axle_layout(_axles([0, 12, 16, 40, 48.01]), **FEDERAL)["tandem_count"].to_list() == [1]


@pytest.mark.parametrize(
    ("interval", "spread_ft", "kinds"),
    [
        # 23 CFR 658.5: over 40 in, not over 96 in; 3.33 ft = 39.96 in, 3.34 ft = 40.08 in, 8 ft = 96 in, 8.01 ft = 96.12 in
        ("(40, 96]", 3.33, ["single"]), ("(40, 96]", 3.34, ["tandem"]), ("(40, 96]", 8, ["tandem"]),
        ("(40, 96]", 8.01, ["single", "single"]),
        # KRS 189.222(1)(c): 42 in or more and less than 96 in; 3.5 ft = 42 in
        ("[42, 96)", 3.49, ["single"]), ("[42, 96)", 3.5, ["tandem"]), ("[42, 96)", 7.99, ["tandem"]),
        ("[42, 96)", 8, ["single", "single"]), ("(42, 96)", 3.5, ["single"]),
        # O.C.G.A. 32-6-26(a)(5): 18 ft = 216 in
        ("(40, 216]", 18, ["tandem"]), ("(40, 216]", 18.01, ["single", "single"]),
    ],
)  # fmt: skip
def test_ends_of_the_interval(interval, spread_ft, kinds):
    axles = _axles([0, 30, 30 + spread_ft])
    law = FEDERAL | {"tandem_spread_in": interval}
    assert [k for k, _, _ in _groups(axles, law)] == ["single", *kinds]


def test_binary_fractions_do_not_move_a_spread():
    # 20.3 - 12.3 is 8.000000000000002 in binary: 96 in
    assert _groups(_axles([0, 12.3, 20.3]))[1] == ("tandem", 2, 3)


def test_axles_close_together_are_one_single_axle():
    assert _groups(_axles([0, 20, 22])) == [("single", 1, 1), ("single", 2, 3)]
    assert axle_layout(_axles([0, 20, 22]), **FEDERAL).row(0)[3:] == (3, 22.0, 2, 0)


def test_a_wide_interval_and_the_steer_axle():
    """O.C.G.A. 32-6-26(a)(5): up to 216 in, never the steer axle; 12.5 ft = 150 in."""
    assert _groups(_axles(FIVE_AXLES), GEORGIA)[0] == ("single", 1, 1)
    assert _groups(_axles(FIVE_AXLES), GEORGIA | {"steer_axle_in_tandem": True})[0] == ("tandem", 1, 3)


def test_a_lift_axle_does_not_count():
    """O.C.G.A. 32-6-26(a)(2)."""
    axles = _axles([0, 14, 18.33, 22.67, 45, 49], [False, True, False, False, False, False])
    assert _groups(axles, GEORGIA) == [("single", 1, 1), ("tandem", 3, 4), ("tandem", 5, 6)]
    assert axle_layout(axles, **GEORGIA).row(0)[3:] == (5, 49.0, 1, 2)
    runs = _runs(axles, GEORGIA)
    assert len(runs) == 10
    assert runs[1, 3]["run_axle_count"] == 2  # axles 1 and 3; axle 2 stands between, not counted
    assert runs[3, 6]["two_tandems"] is True
    assert axle_layout(axles, **FEDERAL)["axle_count"].to_list() == [6]


def test_a_blank_lift_flag_leaves_only_its_neighbours_open():
    axles = _axles([0, 14, 18.33, 22.67, 45, 49], [False, None, False, False, False, False])
    assert _groups(axles, GEORGIA) == [("single", 1, 1), (None, 2, 4), ("tandem", 5, 6)]
    assert axle_layout(axles, **GEORGIA).row(0)[3:] == (None, 49.0, None, None)
    runs = _runs(axles, GEORGIA)
    assert runs[1, 3]["run_axle_count"] is None
    assert runs[3, 6]["run_axle_count"] == 4
    assert runs[3, 6]["two_tandems"] is None  # with axle 2 the first tandem would be 2-4
    # where lift axles count the flag does not matter
    assert axle_layout(axles, **GEORGIA | {"lift_axles_count": True})["axle_count"].to_list() == [6]


def test_a_blank_position_is_never_guessed():
    axles = _axles([0, 12.5, None, 46.92, 51])
    found = axle_groups(axles, **FEDERAL)
    assert found.select("group_kind", "first_axle", "last_axle", "spread_in").rows() == [
        ("single", 1, 1, 0),  # 150 in ahead of axle 2
        (None, 2, 5, None),  # axle 3 may stand with 2, alone, or with 4 and 5
    ]
    runs = _runs(axles)
    assert runs[2, 3]["run_span_ft"] is None
    assert runs[2, 5]["run_span_ft"] == 38.5
    assert runs[2, 5]["two_tandems"] is None
    assert axle_layout(axles, **FEDERAL).row(0)[3:] == (5, 51.0, None, None)


def test_a_blank_position_between_close_neighbours_changes_nothing():
    assert _groups(_axles([0, 20, None, 27])) == [("single", 1, 1), ("tandem", 2, 4)]  # 84 in over all


def test_a_number_left_out_is_an_axle_of_which_nothing_is_known():
    axles = _axles([0, 12.5, 46.92, 51], numbers=[1, 2, 4, 5])
    layout = axle_layout(axles, **FEDERAL).row(0)
    assert layout[3:] == (None, 51.0, None, None)
    assert _runs(axles)[1, 5]["run_axle_count"] is None


@pytest.mark.parametrize("positions", [[0, 16, 12], [0, 12, 12]])
def test_positions_that_do_not_increase_are_no_positions(positions):
    assert axle_layout(_axles(positions), **FEDERAL).row(0)[3:] == (3, None, None, None)


def test_straight_trucks_have_no_trailer_and_combinations_do_not_mix():
    axles = pl.concat(
        [_axles([0, 18, 22], trailer=None), _axles(FIVE_AXLES), _axles([0, 20], truck="T2", trailer=None)]
    )
    layout = axle_layout(axles, **FEDERAL)
    assert layout.select("truck", "trailer", "axle_count", "tandem_count").rows() == [
        ("T1", None, 3, 1), ("T1", "R1", 5, 2), ("T2", None, 2, 0),
    ]  # fmt: skip


def test_no_axles():
    empty = _axles([0]).clear()
    for frame in (axle_groups(empty, **FEDERAL), axle_runs(empty, **FEDERAL), axle_layout(empty, **FEDERAL)):
        assert frame.height == 0
    assert axle_runs(_axles([0]), **FEDERAL).height == 0


def test_an_interval_that_is_none_is_refused():
    with pytest.raises(ValueError, match="not an interval"):
        axle_groups(_axles([0]), **FEDERAL | {"tandem_spread_in": "40-96"})


GAPS = st.lists(st.integers(10, 260), min_size=0, max_size=6)
LAWS = st.fixed_dictionaries(
    {
        "tandem_spread_in": st.sampled_from(["(40, 96]", "[42, 96)", "(40, 216]"]),
        "steer_axle_in_tandem": st.booleans(),
        "lift_axles_count": st.booleans(),
    }
)


def _feet(gaps_in):
    """Positions at multiples of a quarter foot, so that inches are whole."""
    return [0.0, *(x / 4 for x in itertools.accumulate(max(g // 3, 1) for g in gaps_in))]


@given(GAPS, LAWS)
def test_a_mirrored_combination_has_mirrored_groups(gaps, law):
    law = law | {"steer_axle_in_tandem": True}
    positions = _feet(gaps)
    n = len(positions)
    mirrored = [positions[-1] - p for p in reversed(positions)]
    turned = [(kind, n + 1 - b, n + 1 - a) for kind, a, b in _groups(_axles(mirrored), law)]
    assert sorted(turned, key=lambda g: g[1:]) == _groups(_axles(positions), law)


def _plainly(positions, lifts, law):
    """Groups by the words of the definition, one combination with nothing blank."""
    low, high = (float(x) for x in law["tandem_spread_in"][1:-1].split(","))
    takes_low, takes_high = law["tandem_spread_in"][0] == "[", law["tandem_spread_in"][-1] == "]"
    counted = [k for k in range(len(positions)) if law["lift_axles_count"] or not lifts[k]]
    kinds = {}
    for x, a in enumerate(counted):
        for b in counted[x:]:
            spread = round((positions[b] - positions[a]) * 12, 6)
            above = spread >= low if takes_low else spread > low
            if a == b or not above:
                kinds[a, b] = "single"
            elif (spread <= high if takes_high else spread < high) and (law["steer_axle_in_tandem"] or a > 0):
                kinds[a, b] = "tandem"
    return {
        (kind, a + 1, b + 1)
        for (a, b), kind in kinds.items()
        if not any(c <= a and b <= d and (c, d) != (a, b) for c, d in kinds)
    }


def _two_tandems(groups, counted):
    tandems = [(a, b) for kind, a, b in groups if kind == "tandem"]
    return {
        (a, d) for a, b in tandems for c, d in tandems
        if b < c and not any(b < k < c for k in counted)
    }  # fmt: skip


@given(GAPS, LAWS, st.data())
@settings(max_examples=150, deadline=None)
def test_every_way_of_filling_the_blanks(gaps, law, data):
    """What is stated holds in every possible world, and every group of every world is stated or left open."""
    positions = _feet(gaps)
    n = len(positions)
    lifts = [False, *data.draw(st.lists(st.booleans(), min_size=n - 1, max_size=n - 1))]
    no_position = data.draw(st.sets(st.integers(0, n - 1), max_size=2))
    no_flag = data.draw(st.sets(st.integers(0, n - 1), max_size=2))
    axles = _axles(
        [None if k in no_position else p for k, p in enumerate(positions)],
        [None if k in no_flag else x for k, x in enumerate(lifts)],
    )
    found = _groups(axles, law)
    stated = {g for g in found if g[0] is not None}
    stretches = [(a, b) for kind, a, b in found if kind is None]
    runs = _runs(axles, law)
    layout = axle_layout(axles, **law).row(0, named=True)
    for world, flags in _worlds(positions, lifts, no_position, no_flag):
        true = _plainly(world, flags, law)
        counted = [k + 1 for k in range(n) if law["lift_axles_count"] or not flags[k]]
        assert stated <= true
        for _, a, b in true - stated:
            assert any(c <= a and b <= d for c, d in stretches)
        assert layout["axle_count"] in (None, len(counted))
        assert layout["tandem_count"] in (None, sum(kind == "tandem" for kind, _, _ in true))
        assert layout["outer_span_ft"] in (
            None,
            round(world[counted[-1] - 1] - world[counted[0] - 1], 6) if counted else None,
        )
        pairs = _two_tandems(true, counted)
        for a, b in itertools.combinations(counted, 2):
            run = runs[a, b]
            assert run["run_axle_count"] in (None, sum(a <= k <= b for k in counted))
            assert run["run_span_ft"] in (None, round(world[b - 1] - world[a - 1], 6))
            assert run["two_tandems"] in (None, (a, b) in pairs)
    if not no_position and not no_flag:
        assert not stretches


def _worlds(positions, lifts, no_position, no_flag):
    """The recorded world and some others that agree with what is not blank."""
    flag_ways = itertools.product(*[(False, True) if k in no_flag else (x,) for k, x in enumerate(lifts)])
    shifts = itertools.product(
        *[(0.0, -0.9, 0.9, -0.5, 0.5) if k in no_position else (0.0,) for k in range(len(lifts))]
    )
    for flags, shift in itertools.product(list(flag_ways), list(shifts)):
        world = list(positions)
        for k, share in enumerate(shift):
            if share:
                below = world[k - 1] if k else world[k] - 30
                above = positions[k + 1] if k + 1 < len(world) else world[k] + 30
                world[k] = round(world[k] + share * ((above - world[k]) if share > 0 else (world[k] - below)), 2)
        if all(a < b for a, b in itertools.pairwise(world)):
            yield world, flags
