"""Numbers, dates, counts and marks as the report words them."""

from __future__ import annotations

from datetime import date

import pytest

from auditor.report import wording as say
from auditor.report.model import Item, Report
from tests.report.sample_report import (
    GROSS,
    LONG_WORD,
    PERMIT,
    conclusion,
    coverage,
    findings,
    limits,
    missing,
    one_job,
)


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (84320.0, "lb", "84,320 lb"),
        (13.5, "ft", "13.5 ft"),
        (1.0, "mile", "1 mile"),
        (100.0, "mile", "100 miles"),
        (0.0, "lb", "0 lb"),
        (1 / 6, "share", "0.167"),  # 0.16666...
        (2.0005, "in", "2.001 in"),  # half goes up
        (0.0002, "share", "0.0002"),  # never shown as nothing
        (-20.0, "lb", "-20 lb"),
        (4.0, "count", "4"),
        (None, "lb", say.NOTHING),
    ],
)
def test_quantities(value: float | None, unit: str, expected: str) -> None:
    assert say.quantity(value, unit) == expected


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_number_that_is_not_finite_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        say.number(value)


@pytest.mark.parametrize(
    ("pounds", "places", "expected"),
    [
        (4320, 1, "2.2 tons"),  # 4,320 / 2,000 = 2.16
        (84320, 2, "42.16 tons"),
        (4500, 1, "2.3 tons"),  # 2.25, half goes up
        (20, 2, "0.01 tons"),
    ],
)
def test_short_tons(pounds: float, places: int, expected: str) -> None:
    assert say.short_tons(pounds, places) == expected


def test_by_how_much_shows_tons_only_for_pounds() -> None:
    assert say.by_how_much(4320, "lb") == "4,320 lb (2.2 tons)"
    assert say.by_how_much(20, "lb") == "20 lb (0.01 tons)"
    assert say.by_how_much(2.5, "ft") == "2.5 ft"


def test_days_and_spans() -> None:
    first, last = date(2026, 5, 4), date(2026, 12, 31)
    assert say.day(first) == "4 May 2026"
    assert say.short_day(last) == "31 Dec 2026"
    assert say.span(first, last) == "4 May 2026 to 31 December 2026"
    assert say.span(first, first) == "4 May 2026"
    assert say.span(first, None) == "from 4 May 2026"
    assert say.span(None, last) == "until 31 December 2026"
    assert say.span(None, None) == say.NOTHING


@pytest.mark.parametrize(
    ("operator", "expected"),
    [("at_most", "at most"), ("less_than", "less than"), ("at_least", "at least"), ("more_than", "more than"),
     ("one_of", "")],
)  # fmt: skip
def test_boundary_words_come_from_the_operator(operator: str, expected: str) -> None:
    assert say.boundary(operator) == expected


def test_counts_and_sizes() -> None:
    assert [say.count(n, "load") for n in (0, 1, 2, 12000)] == ["0 loads", "1 load", "2 loads", "12,000 loads"]
    assert say.file_size(999) == "999 bytes"
    assert say.file_size(14_250) == "14.3 kB"  # 14.25, half goes up
    assert say.file_size(3_000_000) == "3.0 MB"


def test_lists_are_cut_with_the_number_left_out() -> None:
    assert say.listed("ABC", 3) == "A, B, C"
    assert say.listed([str(n) for n in range(17)], 5) == "0, 1, 2, 3, 4 and 12 more, see the PDF or JSON"


def test_control_and_direction_characters_do_not_reach_the_reader() -> None:
    assert say.clean("a\x1b[31mb\u202ec\n d\te") == "a\N{REPLACEMENT CHARACTER}[31mb\N{REPLACEMENT CHARACTER}c d e"
    assert say.clean(LONG_WORD) == LONG_WORD


def test_marks_tell_how_well_a_limit_is_known() -> None:
    made = findings()
    assert say.marks(made[0]) == ["16 inside an enforcement tolerance"]
    assert say.marks(made[4]) == ["limit unconfirmed"]
    assert say.marks(made[5]) == ["limit second-hand"]
    assert say.marks(made[6]) == ["departure from practice"]
    assert [say.grade(made[n]) for n in (0, 4, 6, 7)] == ["MAJOR", "minor", "practice", "advice"]


def test_the_worst_item_is_the_one_furthest_off_wherever_it_stands() -> None:
    made = findings()[4]
    # The last of 14 items: 420 + 13 x 100 = 1,720 lb over.
    worst = say.worst_item(made)
    assert worst is not None and worst.margin == 1720
    assert say.to_mend(made) == "move wood forward"


def test_the_action_stands_in_where_no_item_says_what_mends_it() -> None:
    made = findings()[3]
    assert say.to_mend(made) == made.action


def test_sources_follow_the_items_and_say_how_many_more() -> None:
    gross, held = findings()[0], limits()
    assert say.sources(gross, held) == "Code of Example 40-6-26, (c)(1) (text read)"
    keys = [GROSS, PERMIT, "us/weight/interstate_gross/base"]
    mixed = gross.model_copy(
        update={"items": [i.model_copy(update={"limit_key": k}) for i, k in zip(gross.items, keys, strict=False)]}
    )
    assert say.sources(mixed, held).endswith("Code of Example 40-6-27, (a) (second-hand); and 1 more")
    assert say.sources(findings()[3], held) == "statute, rule us-xx/weight/rule-4"


def test_missing_facts_say_all_or_how_many() -> None:
    some, every, one = missing()
    assert say.missing_count(some) == "blank for 112 of 150 loads"
    assert say.missing_count(every) == "blank for all 150 loads"
    assert say.missing_count(one.model_copy(update={"job_subject_count": 1})) == "blank for the only load"


def test_a_tolerance_that_is_not_known_is_not_claimed() -> None:
    item: Item = findings()[0].items[0]
    words = {t: say.tolerance(item.model_copy(update={"tolerated": t})) for t in (True, False, None)}
    assert words[True] == "inside the tolerance of 86,520 lb"
    assert words[False] == "beyond the tolerance of 86,520 lb"
    assert words[None].startswith("not known whether")


def test_a_report_without_digest_is_a_draft() -> None:
    assert say.digest_short("") == "draft, not sealed"
    assert say.digest_short("0123456789abcdef" * 4) == "0123 4567 89ab cdef"


def test_titles_say_their_place_unless_it_is_the_whole_country() -> None:
    made = findings()
    assert say.named(made[0]) == "Gross weight on state routes (XX)"
    assert say.named(made[1]) == "Number of tiedowns on each stack"
    assert say.titled("Gross weight", "us-ga/weight/gross") == "Gross weight (Georgia)"
    assert say.titled("Gross weight (Georgia)", "US-GA") == "Gross weight (Georgia)"
    assert [say.place_name(p) for p in ("US", "us-sc", "US-XX", "CA")] == ["", "South Carolina", "XX", "CA"]


def test_the_figure_of_a_finding_is_that_of_its_worst_item() -> None:
    made = findings()
    # 84,020 + 29 x 160 - 84,000 = 4,660; 1/6 - 1/8 = 1/24 = 0.0416...
    assert [say.figure(made[n]) for n in (0, 1, 2)] == ["up to 4,660 lb over", "6 loads", "0.042 short"]
    assert say.extent(made[0]) == "30 of 150 loads, up to 4,660 lb over"
    assert say.extent(made[1]) == "6 of 150 loads"
    unbounded = made[2].model_copy(update={"items": [made[2].items[0].model_copy(update={"boundary": ""})]})
    assert say.figure(unbounded) == "0.042 off"


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [(8983.5, "lb", "8,984 lb"), (99.5, "lb", "99.5 lb"), (-5183.333, "lb", "-5,183 lb"), (8983.334, "ft", "8,983.3 ft"),
     (1.0, "flags", "1 flag"), (0.0, "flags", "0 flags"), (None, "lb", say.NOTHING)],
)  # fmt: skip
def test_pages_show_whole_pounds(value: float | None, unit: str, expected: str) -> None:
    assert say.measured(value, unit) == expected


def test_the_tally_counts_each_load_past_a_limit_once() -> None:
    # 38 loads with a nonconformity, 16 of them tolerated only: 22 and 16.
    assert say.tally(conclusion()) == [
        (150, "loads in all"), (22, "past a limit or rule"), (16, "past it, but tolerated"),
        (112, "cannot be fully shown"), (4, "major findings"), (1, "minor finding"),
    ]  # fmt: skip


def test_missing_facts_rank_law_first_and_advice_last() -> None:
    some, every, one = missing()
    advice = some.model_copy(update={"advice_only": True})
    assert say.ranked([advice, some, every, one]) == [every, one, some, advice]
    assert [say.asked_by(f) for f in (every, some, advice)] == [
        "the law demands this record", "", "asked for by voluntary practice alone",
    ]  # fmt: skip


def test_cautions_hold_the_statement_once() -> None:
    report: Report = one_job()
    assert say.cautions(report) == [*say.STATEMENT, *report.cautions]
    own = report.model_copy(update={"cautions": ["Draft.", *say.STATEMENT, "Weigh again."]})
    assert say.cautions(own) == ["Draft.", *say.STATEMENT, "Weigh again."]


def test_an_empty_section_says_whether_it_was_left_out() -> None:
    report = one_job()
    assert say.none_of("findings", report, "None.") == "None."
    left = report.model_copy(update={"left_out": ["findings"]})
    assert say.none_of("findings", left, "None.") == "Left out of this report."
    assert say.edition(report) == []
    assert say.edition(left.model_copy(update={"draft": True, "names": "codes"})) == [
        "Draft: not for use outside the office that made it", "Names are replaced by codes", "Left out: findings",
    ]  # fmt: skip


def test_rules_that_applied_to_no_load_are_named_apart() -> None:
    rules = coverage()[:2]
    counts = dict.fromkeys(("conformity", "nonconformity", "not_evidenced", "inconclusive", "not_verifiable"), 0)
    groups = say.coverage_groups([rules[0], rules[1].model_copy(update=counts), coverage()[6]])
    assert [(g.id, g.name) for g in groups] == [("us-xx/weight", "XX: weight"), ("us-xx/securement", "XX: securement")]
    assert groups[0].rules == [rules[0]] and groups[0].idle == [rules[1].title]


def test_what_is_no_character_does_not_reach_the_reader() -> None:
    assert say.clean("a\uffffb\ufdd0") == "a\N{REPLACEMENT CHARACTER}b\N{REPLACEMENT CHARACTER}"
