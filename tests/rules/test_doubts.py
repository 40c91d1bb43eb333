"""The checklist of values that no one has read, or that no one has looked at for long."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterable
from datetime import date
from pathlib import Path

import pytest

from auditor import cli
from auditor.audit import write_doubts
from auditor.rules.doubts import ANSWER, HEADINGS, doubt_lines, doubt_rows, doubts, doubts_summary
from auditor.rules.reading import Rulebook, read_rules
from auditor.rules.statements import looked_at_long_ago, statements
from auditor.vocabulary.problems import UnusableInput
from tests.rules.small import LIMIT, a_cap, a_file, a_limit, a_rule, an_allowance

OLD, NEW = date(2024, 3, 1), date(2026, 3, 1)
AS_OF = date(2026, 5, 4)


def a_book() -> Rulebook:
    """One value of each kind: read in 2024, second-hand, from memory, read lately, read on a day no one wrote down."""
    limit = a_limit({"value": 80_000, "checked": OLD})
    limit["allowances"] = [
        an_allowance("woods", value=84_000, where={"product": {"one_of": ["sawlogs"]}}, needs={"document": "harvest_permit"},
                     verified="secondary", checked=OLD, at="(b)", note="=only by day"),
    ]  # fmt: skip
    limit["caps"] = [a_cap("county", value=56_000, where={"road_class": "county_road"}, verified="memory", checked=NEW)]
    return Rulebook((a_file(a_rule(checked=NEW), **{LIMIT: limit}),))


def addresses(book: Rulebook, **options: object) -> list[str]:
    return [d.statement.address for d in doubts(book, **options)]  # type: ignore[arg-type]


def test_what_was_not_read_is_listed_and_nothing_else() -> None:
    assert addresses(a_book()) == ["us-ga/weight/weight_limit_lb/woods", "us-ga/weight/weight_limit_lb/county"]


def test_with_a_time_what_was_last_looked_at_before_it_comes_too() -> None:
    found = doubts(a_book(), older_than_months=12, as_of=AS_OF)
    assert [(d.statement.address.split("/", 2)[2], d.known, d.long_ago) for d in found] == [
        # no day of a look is known
        ("definition/axle_groups", "", True),
        ("weight_limit_lb/base", "", True),
        ("weight_limit_lb/woods", "second-hand", True),
        ("weight_limit_lb/county", "from memory", False),
    ]
    assert [d.why for d in found] == [
        "no day known on which one looked",
        "last looked at on 1 March 2024",
        "second-hand; last looked at on 1 March 2024",
        "from memory",
    ]
    assert doubts_summary(found) == (
        "4 values to look up: 1 from memory, 1 second-hand, 3 not looked at for longer than the chosen time."
    )


@pytest.mark.parametrize(
    ("checked", "months", "day", "long_ago"),
    [
        # 12 months before 4 May 2026 is 4 May 2025: the day itself is not longer ago.
        (date(2025, 5, 3), 12, AS_OF, True),
        (date(2025, 5, 4), 12, AS_OF, False),
        (date(2025, 5, 5), 12, AS_OF, False),
        # One month before 31 March 2024 is 29 February 2024, a leap day.
        (date(2024, 2, 28), 1, date(2024, 3, 31), True),
        (date(2024, 2, 29), 1, date(2024, 3, 31), False),
        # Across a new year: three months before 15 January 2026 is 15 October 2025.
        (date(2025, 10, 14), 3, date(2026, 1, 15), True),
        (date(2025, 10, 15), 3, date(2026, 1, 15), False),
        (AS_OF, 0, AS_OF, False),
        (date(2026, 5, 3), 0, AS_OF, True),
        # A look after the day is no look long ago.
        (date(2027, 1, 1), 0, AS_OF, False),
        (None, 0, AS_OF, True),
        (None, 9_999, AS_OF, True),
        (date(1990, 1, 1), 9_999 * 12, AS_OF, False),
    ],
)
def test_long_ago_is_counted_in_calendar_months(checked: date | None, months: int, day: date, long_ago: bool) -> None:
    assert looked_at_long_ago(checked, months, day) is long_ago


def test_an_entry_says_where_to_look_for_what_and_has_room_for_the_answer() -> None:
    text = "\n".join(doubt_lines(doubts(a_book())))
    for part in (
        "US-GA weight: 2 values to look up",
        "[ ] us-ga/weight/weight_limit_lb/woods",
        "where        Act, (b)",
        "look for     the allowance woods: weight (raised limit)",
        "now          84,000 lb; where product is one of sawlogs; needs harvest permit",
        "known        second-hand; seen: in a test",
        "days         last looked at on 1 March 2024",
        "note         =only by day",
        "found        ____",
        "role ____",
    ):
        assert part in text, part
    assert max(map(len, text.splitlines())) <= 100


@pytest.mark.parametrize("columns", [40, 60, 79, 80, 85, 86, 100, 300])
def test_the_list_is_no_wider_than_the_page_and_says_the_same(columns: int) -> None:
    found = doubts(a_book())
    lines = list(doubt_lines(found, columns))
    assert max(map(len, lines)) <= min(max(columns, 60), 100)
    assert [line for line in lines if "____" in line] and all(line == line.rstrip() for line in lines)

    def words(text: Iterable[str]) -> list[str]:
        return [word for line in text for word in line.split() if not word.startswith("_")]

    assert [w.rstrip("_") for w in words(lines)] == [w.rstrip("_") for w in words(doubt_lines(found))]


def test_on_a_terminal_the_list_is_as_wide_as_that(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert cli.main(["rules", "doubts", "us-sc", "--topics", "weight"]) == 0
    assert 60 < max(map(len, capsys.readouterr().out.splitlines())) <= 80


def test_a_row_fits_the_headings_and_leaves_the_answers_blank() -> None:
    woods, county = (dict(zip(HEADINGS, row, strict=True)) for row in doubt_rows(doubts(a_book())))
    assert (woods["place"], woods["topic"], woods["kind"], woods["why"]) == (
        "US-GA",
        "weight",
        "raised limit",
        "second-hand",
    )
    assert (woods["instrument"], woods["paragraph"], woods["checked"], county["paragraph"]) == (
        "Act",
        "(b)",
        "2024-03-01",
        "",
    )
    assert {woods[name] for name in ANSWER} == {""}


def test_the_written_csv_opens_in_a_spreadsheet_without_formulas(tmp_path: Path) -> None:
    write_doubts(doubts(a_book()), tmp_path / "doubts.csv")
    data = (tmp_path / "doubts.csv").read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    rows = list(csv.DictReader(data.decode("utf-8-sig").splitlines()))
    assert [r["of"] for r in rows] == addresses(a_book())
    assert rows[0]["note"] == "'=only by day"


def test_the_written_text_is_what_the_terminal_shows(tmp_path: Path) -> None:
    write_doubts(doubts(a_book()), tmp_path / "doubts.txt")
    assert (tmp_path / "doubts.txt").read_text(encoding="utf-8").splitlines() == list(doubt_lines(doubts(a_book())))


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        ({"places": ["US-GE"]}, 'place: found "US-GE"; expected a place with rule files. Did you mean US-GA?'),
        ({"topics": ["wieght"]}, "Did you mean weight?"),
        ({"older_than_months": 3}, "found a time alone; expected a day too"),
        ({"as_of": AS_OF}, "found a day alone; expected a time in months too"),
        ({"older_than_months": -1, "as_of": AS_OF}, "expected 0 months or more"),
    ],
)
def test_what_makes_no_list_is_refused(options: dict[str, object], expected: str) -> None:
    with pytest.raises(UnusableInput) as refusal:
        doubts(a_book(), **options)  # type: ignore[arg-type]
    assert expected in str(refusal.value)


@pytest.mark.parametrize("name", ["doubts.pdf", "doubts", "no/such/folder.csv"])
def test_what_cannot_be_written_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(UnusableInput):
        write_doubts([], tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_the_command_writes_the_list_and_narrows_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "sc.csv"
    assert cli.main(["rules", "doubts", "us-sc", "--topics", "weight", "--write", str(target)]) == 0
    rows = list(csv.DictReader(target.read_text(encoding="utf-8-sig").splitlines()))
    assert rows
    assert {(r["place"], r["topic"]) for r in rows} == {("US-SC", "weight")}
    assert capsys.readouterr().out.splitlines()[-1] == f"Written: {target}"
    assert cli.main(["rules", "doubts", "us-sc", "--older-than", "6"]) == 2


def test_a_confirmed_value_leaves_the_list(tmp_path: Path) -> None:
    of = "us/securement/few_processed_logs/base"
    (tmp_path / "confirmed.yaml").write_text(
        f"confirmations: [{{of: {of}, by: PE-9, role: engineer, on: 2026-12-01, edition: eCFR of December 2026}}]\n",
        encoding="utf-8",
    )
    assert of in addresses(read_rules(["US"]))
    book = read_rules(["US"], [tmp_path])
    assert of not in addresses(book)
    (again,) = (d for d in doubts(book, older_than_months=6, as_of=date(2027, 6, 2)) if d.statement.address == of)
    assert again.why == "last looked at on 1 December 2026"


def _marks(node: object) -> Counter[str]:
    """Every mark in a rule file's data, wherever it stands."""
    found: Counter[str] = Counter()
    if isinstance(node, dict):
        if isinstance(node.get("verified"), str):
            found[node["verified"]] += 1
        for part in node.values():
            found += _marks(part)
    elif isinstance(node, list | tuple):
        for part in node:
            found += _marks(part)
    return found


def test_no_mark_of_any_shipped_file_is_passed_over() -> None:
    """Counted once more without the walk over statements: every mark, but for those inside values that disagree."""
    for file in read_rules().files:
        body = file.model_dump()
        told = Counter(s.verified for s in statements(file))
        said = [
            v for limit in file.limits.values() for v in (*limit.versions, *limit.allowances, *limit.caps) if v.said
        ]
        inside = sum(len(v.said or []) for v in said)
        assert sum(told.values()) == sum(_marks(body).values()) - inside, file.id


def test_every_address_of_the_shipped_files_is_used_once() -> None:
    known = Counter(s.address for file in read_rules().files for s in statements(file))
    assert known
    assert [a for a, times in known.items() if times > 1] == []
