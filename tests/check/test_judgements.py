"""Judgements made on the ground: kept as recorded, beside what is computed, told where both contradict."""

from __future__ import annotations

from datetime import date

import pytest

from auditor.check.conclusion import FIRST
from auditor.report.model import JobReport, Judgement
from tests.check.small_site import FILES, WIDTH, a_file, a_rule, a_site

WIDTH_RULE, FLOW_RULE = "us-sc/streamside/zone-width", "us-sc/crossings/flow-free"


def one(**row: object) -> Judgement:
    (found,) = a_site([{"question": "shade_kept", **row}]).judgements
    return found


def test_a_judgement_is_kept_as_recorded_with_words_for_classes() -> None:
    found = one(
        question="zone_trees_evenly_spread", practice="3.2 b", category="streamside_management_zones", place_kind="bank",
        place="b1", answer="could_not_tell", significant_risk=False, reason="leaves_down", role="registered_forester",
        observer="F-07", licence="RF-1", observed_on="2026-03-30", photo="IMG_1.jpg", photo_latitude_deg=34.8,
        photo_longitude_deg=-83.1, photo_on="2026-03-30",
    )  # fmt: skip
    assert found == Judgement(
        name="O1", question="zone trees evenly spread", practice="3.2 b", category="streamside management zones", rule="",
        place_kind="bank", place="b1", answer="could not tell", significant_risk=False, reason="leaves_down",
        role="registered forester", observer="F-07", licence="RF-1", observed_on=date(2026, 3, 30), photo="IMG_1.jpg",
        photo_latitude_deg=34.8, photo_longitude_deg=-83.1, photo_on=date(2026, 3, 30), computed="", agrees=None,
        source="observations, row 1",
    )  # fmt: skip


def test_blanks_stay_blank() -> None:
    found = one()
    assert (found.answer, found.significant_risk, found.place, found.observed_on, found.agrees) == (
        "",
        None,
        "",
        None,
        None,
    )


@pytest.mark.parametrize(
    ("answer", "bank", "computed", "agrees"),
    [
        # b1 conforms, b2 departs, b3 is not evidenced; b4 was not held against the rule.
        ("yes", "b1", "conformity", True),
        ("no", "b1", "conformity", False),
        ("yes", "b2", "departure from practice", False),
        ("no", "b2", "departure from practice", True),
        ("yes", "b3", "not evidenced", None),
        ("no", "b3", "not evidenced", None),
        ("could_not_tell", "b2", "departure from practice", None),
        ("not_applicable", "b2", "departure from practice", None),
        (None, "b1", "conformity", None),
        ("yes", "b4", "", None),
    ],
)  # fmt: skip
def test_it_agrees_or_contradicts_only_where_both_say_something(
    answer: str | None, bank: str, computed: str, agrees: bool | None
) -> None:
    found = one(place_kind="bank", place=bank, answer=answer, rule=WIDTH_RULE)
    assert (found.computed, found.agrees) == (computed, agrees)


def test_a_breach_of_an_adopted_practice_is_called_what_the_finding_calls_it() -> None:
    row = {"question": "shade_kept", "place_kind": "bank", "place": "b2", "answer": "yes", "rule": WIDTH_RULE}
    (found,) = a_site([row], adopted=["streamside"]).judgements
    assert (found.computed, found.agrees) == ("nonconformity", False)


@pytest.mark.parametrize(
    ("kind", "place", "rule", "computed"),
    [
        ("crossing", "X1", FLOW_RULE, "nonconformity"),
        ("crossing", "X1", WIDTH_RULE, ""),  # a rule on banks was not held against a crossing
        ("segment", "R1", "us-sc/trails/across-slope", "departure from practice"),
        ("segment", "T1", "us-sc/trails/across-slope", "not applicable"),
        ("station", "b2 1", WIDTH_RULE, "departure from practice"),  # the worst of its bank
        ("station", "b1 1", WIDTH_RULE, "conformity"),
        ("job", None, WIDTH_RULE, "departure from practice"),  # the worst of all banks
        ("job", None, FLOW_RULE, "nonconformity"),
        (None, None, FLOW_RULE, "nonconformity"),
        ("bank", None, WIDTH_RULE, ""),
        ("other", "b1", WIDTH_RULE, ""),
        (None, "b1", WIDTH_RULE, ""),
        ("bank", "b1", None, ""),
    ],
)  # fmt: skip
def test_what_is_computed_is_that_of_its_rule_at_its_place(
    kind: str | None, place: str | None, rule: str | None, computed: str
) -> None:
    assert one(place_kind=kind, place=place, rule=rule, answer="yes").computed == computed


def test_a_rule_on_judgements_is_never_the_computed_side_of_one() -> None:
    kept = a_rule("shade", "observations", {"answer": {"equals": "yes"}})
    row = {"question": "shade_kept", "place_kind": "job", "answer": "no", "rule": "us-sc/streamside/shade"}
    (found,) = a_site([row], files=[a_file("streamside", WIDTH, kept)]).judgements
    assert (found.computed, found.agrees) == ("", None)


def test_an_unknown_rule_or_place_is_said_with_the_nearest_name() -> None:
    made = a_site([
        {"question": "shade_kept", "rule": "us-sc/streamside/zone-widht"},
        {"question": "shade_kept", "rule": WIDTH_RULE, "place_kind": "bank", "place": "b22"},
        {"question": "shade_kept", "place_kind": "station", "place": "b2 9"},
        {"question": "shade_kept", "rule": WIDTH_RULE, "place_kind": "bank", "place": "b2"},
    ])  # fmt: skip
    assert [s for s in made.not_covered if s.startswith("Judgement")] == [
        'Judgement O1 names the rule "us-sc/streamside/zone-widht", which no rule file in use holds; the nearest is '
        "us-sc/streamside/zone-width.",
        'Judgement O2 is on bank "b22", which is no place of the record that rules are held against; the nearest is b2.',
        'Judgement O3 is on station "b2 9", which is no place of the record that rules are held against; the nearest is b2.',
    ]


def test_judgements_change_no_number_and_no_outcome() -> None:
    plain = a_site()
    judged = a_site(
        [{"question": "shade_kept", "place_kind": "bank", "place": "b2", "answer": "yes", "rule": WIDTH_RULE}]
    )
    assert judged.findings == plain.findings
    assert [s.outcomes for s in judged.walk] == [s.outcomes for s in plain.walk]
    assert judged.conclusion.major_count == plain.conclusion.major_count


def sentences(made: JobReport) -> list[str]:
    return [s for s in made.conclusion.sentences if "judged on the ground" in s or "made on the ground" in s]


def test_contradictions_and_risks_have_a_sentence_of_their_own_in_the_conclusion() -> None:
    bank = {"question": "shade_kept", "place_kind": "bank", "rule": WIDTH_RULE}
    assert sentences(a_site([{**bank, "place": "b1", "answer": "yes", "significant_risk": False}])) == []
    made = a_site([
        {**bank, "place": "b1", "answer": "no", "significant_risk": True},
        {**bank, "place": "b2", "answer": "yes"},
        {**bank, "place": "b2", "answer": "no", "significant_risk": None},
        {**bank, "place": "b2", "answer": "not_applicable", "significant_risk": True},
    ])  # fmt: skip
    assert sentences(made) == [
        "2 judgements made on the ground contradict what is computed: O1, O2. Both stand; look again at those places.",
        "1 significant risk to water was judged on the ground: O1.",
    ]
    one_of_each = a_site(
        [
            {**bank, "place": "b2", "answer": "yes", "significant_risk": True},
            {**bank, "place": "b3", "answer": "no", "significant_risk": True},
        ]
    )
    assert sentences(one_of_each) == [
        "1 judgement made on the ground contradicts what is computed: O1. Both stand; look again at that place.",
        "2 significant risks to water were judged on the ground: O1, O2.",
    ]


def test_long_lists_of_names_are_cut() -> None:
    made = a_site([{"question": "shade_kept", "answer": "no", "significant_risk": True}] * 9)
    assert sentences(made)[0].endswith("O1, O2, O3, O4, O5, O6, O7, O8 and 1 more.")


def test_a_significant_risk_comes_before_every_finding_in_what_to_fix_first() -> None:
    row = {"question": "temporary_fill_removed", "place_kind": "crossing", "place": "X1", "significant_risk": True}
    made = a_site([{**row, "answer": "yes"}, {**row, "answer": "no", "reason": "poles left"}])
    first, second = made.fix_first[:2]
    assert (first.finding, first.judgement, first.how_much) == (0, "O2", "crossing X1")
    assert first.text == "Significant risk to water. Temporary fill removed, answered no: poles left"
    assert (second.finding, second.judgement) == (1, "")


def test_many_risks_leave_no_more_than_the_usual_number_of_first_things() -> None:
    rows = [{"question": "shade_kept", "answer": "no", "significant_risk": True}] * 7
    made = a_site(rows, files=FILES)
    assert [f.judgement for f in made.fix_first] == ["O1", "O2", "O3", "O4"]
    assert len(made.fix_first) < FIRST
    assert made.fix_first[0].how_much == "the job as a whole"


def test_no_judgement_no_sentence() -> None:
    made = a_site()
    assert (made.judgements, made.scores, sentences(made)) == ([], [], [])
