"""Reading rule files: strict YAML, clear refusals in one pass, overlays that only add."""

from __future__ import annotations

import hashlib
from datetime import date
from pathlib import Path

import pytest

from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook, parse_rule_file, read_rules, rulebook_from_texts, shipped_rulesets
from auditor.vocabulary.problems import Problem, UnusableInput

TEXT = """id: acme/weight
place: US-GA
topic: weight
title: What the landowner asks
sources: {s: {instrument: Contract, seen: own paper}}
limits:
  gross_limit_lb:
    means: gross weight
    unit: lb
    versions: [{value: 78000, source: s, verified: read}]
rules:
  - id: gross
    title: Gross weight on the landowner's roads
    examines: load_legs
    where: {road_class: private}
    must: {gross_weight_lb: {at_most: {limit: gross_limit_lb}}}
    duty_of: carrier
    standing: common practice
    grade: minor
    evidence: usual
    source: s
    verified: read
    action: Load less.
    caution: The contract governs.
"""


def parsed(text: str | bytes) -> RuleFile:
    problems: list[Problem] = []
    file = parse_rule_file(text.encode() if isinstance(text, str) else text, "x.yaml", problems)
    assert not problems, "\n".join(map(str, problems))
    assert file is not None
    return file


def refused(text: str | bytes) -> list[str]:
    problems: list[Problem] = []
    assert parse_rule_file(text.encode() if isinstance(text, str) else text, "x.yaml", problems) is None
    return [str(p) for p in problems]


def overlay(folder: Path, text: str = TEXT, name: str = "weight.yaml") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / name).write_text(text, encoding="utf-8")
    return folder


def test_a_plain_file_is_read() -> None:
    file = parsed(TEXT)
    assert (file.id, file.rules[0].id, file.limits["gross_limit_lb"].versions[0].value) == (
        "acme/weight",
        "gross",
        78_000,
    )


def test_words_that_other_yaml_turns_into_something_else_stay_words() -> None:
    words = "[no, on, yes, 12:30, 0123, 1_000, ~x]"
    text = TEXT.replace("value: 78000", f"words: {words}")
    assert parsed(text).limits["gross_limit_lb"].versions[0].words == [
        "no",
        "on",
        "yes",
        "12:30",
        "0123",
        "1_000",
        "~x",
    ]


def test_days_are_days_and_quoted_figures_of_a_text_stay_text() -> None:
    text = TEXT.replace("value: 78000", 'value: 78000, from: 2025-07-01, checked: 2026-11-25, at: "32"')
    version = parsed(text).limits["gross_limit_lb"].versions[0]
    assert (version.from_, version.checked, version.at) == (date(2025, 7, 1), date(2026, 11, 25), "32")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (TEXT + "title: again\n", "x.yaml, line 25, title: found the key a second time (first on line 4)"),
        (TEXT.replace("title: What", "title: &t What"), "x.yaml, line 4: found the anchor &t"),
        (TEXT.replace("topic: weight", "topic: *t"), "x.yaml, line 3: found the alias *t"),
        (TEXT.replace("topic: weight", "topic: !!str weight"), "x.yaml, line 3: found the tag"),
        (TEXT.replace("topic: weight", "<<: {topic: weight}"), "x.yaml, line 3: found the merge key <<"),
        (TEXT.replace("topic: weight", "? [a, b]\n: weight"), "x.yaml, line 3: found a list or mapping as a key"),
        (TEXT + "---\nid: b\n", "x.yaml, line 25: found a second document (---)"),
        (TEXT.replace("topic: weight", "topic: [weight"), "x.yaml, line "),
        (TEXT.encode().replace(b"What", b"Wh\xe4t"), "x.yaml, line 4: found bytes that are not UTF-8"),
        ("[" * 50 + "]" * 50, "x.yaml, line 1: found more than 40 levels of nesting"),
        (
            TEXT.replace("value: 78000", "value: 78000, from: 2025-02-30"),
            'x.yaml, line 10: found "2025-02-30"; expected',
        ),
    ],
)
def test_what_strict_yaml_refuses(text: str | bytes, message: str) -> None:
    assert any(m.startswith(message) for m in refused(text)), refused(text)


def test_a_byte_order_mark_is_no_fault() -> None:
    assert parsed(b"\xef\xbb\xbf" + TEXT.encode()).id == "acme/weight"


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("title: What", "tittle: What",
         'x.yaml, line 4, tittle: found the field "tittle"; expected only fields that rule files have here. Did you mean title'),
        ("title: What", "tittle: What", 'x.yaml, line 1, title: found nothing; expected the field "title". See'),
        ("grade: minor", "grade: small", "x.yaml, line 19, rules.0.grade: found 'small'; expected 'major' or 'minor'. See"),
        ("value: 78000", "value: 78000, words: [a]",
         "x.yaml, line 10, limits.gross_limit_lb.versions.0: found "),
        ("value: 78000", "percent_more: 5", "x.yaml, line 10, limits.gross_limit_lb.versions.0: found "),
        ("value: 78000", "value: nan", "x.yaml, line 10, limits.gross_limit_lb.versions.0.value: found 'nan'; expected a finite number"),
        ("value: 78000", "value: inf", "x.yaml, line 10, limits.gross_limit_lb.versions.0.value: found 'inf'; expected a finite number"),
        ("value: 78000", 'value: "78,000"', "x.yaml, line 10, limits.gross_limit_lb.versions.0.value: found '78,000'; expected a valid number"),
    ],
)  # fmt: skip
def test_what_the_models_refuse_is_said_with_line_and_field(old: str, new: str, message: str) -> None:
    found = refused(TEXT.replace(old, new, 1))
    assert any(m.startswith(message) for m in found), found


@pytest.mark.parametrize(
    ("must", "expected"),
    [
        ("{any_of: {dark: true}}", "a list of conditions after any_of"),
        ("{all_of: []}", "a list of conditions after all_of"),
        ("{all_of: [dark]}", "a list of conditions after all_of"),
        ("{none_of: [{any_of: dark}]}", "a list of conditions after any_of"),
        ("{at_least_n_of: [{dark: true}]}", "{n: 2, of: [...]} of conditions after at_least_n_of"),
        ("{at_least_n_of: {n: 0, of: [{dark: true}]}}", "{n: 2, of: [...]} of conditions after at_least_n_of"),
        ("{at_least_n_of: {n: two, of: [{dark: true}]}}", "{n: 2, of: [...]} of conditions after at_least_n_of"),
        ("{}", "columns with their tests, or a group of conditions"),
        ("[dark]", "a valid dictionary"),
    ],
)
def test_conditions_that_are_no_trees_are_refused(must: str, expected: str) -> None:
    (message,) = refused(TEXT.replace("must: {gross_weight_lb: {at_most: {limit: gross_limit_lb}}}", f"must: {must}"))
    assert message.startswith("x.yaml, line 16, rules.0.must: found ")
    assert f"; expected {expected}. See" in message


def test_two_shapes_and_a_percentage_without_its_whole_are_named() -> None:
    assert "found value, words" in refused(TEXT.replace("value: 78000", "value: 78000, words: [a]"))[0]
    assert "percent_more and than go together" in refused(TEXT.replace("value: 78000", "percent_more: 5"))[0]


def test_every_problem_of_every_file_in_one_pass(tmp_path: Path) -> None:
    overlay(tmp_path / "a", TEXT.replace("grade: minor", "grade: small").replace("unit: lb", "unti: lb"), "one.yaml")
    overlay(tmp_path / "a", "id: [", "two.yaml")
    with pytest.raises(UnusableInput) as caught:
        read_rules(["US-GA"], [tmp_path / "a", tmp_path / "nowhere"])
    files = [p.file for p in caught.value.problems]
    assert files.count("a/one.yaml") == 3  # the grade, the unknown "unti", the missing "unit"
    assert files.count("a/two.yaml") == 1
    assert str(tmp_path / "nowhere") in files


def test_an_overlay_adds_its_rules_beside_the_shipped_ones(tmp_path: Path) -> None:
    rulebook = read_rules(["US-GA"], [overlay(tmp_path / "acme")])
    plain = read_rules(["US-GA"])
    assert set(rulebook.keys()) - set(plain.keys()) == {"acme/weight/gross"}
    assert [f for f in rulebook.files if f.id != "acme/weight"] == list(plain.files)
    assert rulebook.digests["acme/weight"] == hashlib.sha256(TEXT.encode()).hexdigest()


def test_an_overlay_may_not_take_the_id_of_a_file(tmp_path: Path) -> None:
    with pytest.raises(UnusableInput) as caught:
        read_rules(["US-GA"], [overlay(tmp_path / "acme", TEXT.replace("acme/weight", "us-ga/weight"))])
    assert [(p.field, p.found) for p in caught.value.problems] == [("id", "us-ga/weight")]


def test_an_overlay_may_not_replace_a_definition_of_the_place(tmp_path: Path) -> None:
    text = TEXT.replace(
        "limits:", "definitions:\n  axle_groups: {tandem_spread_in: x, source: s, verified: read}\nlimits:", 1
    )
    with pytest.raises(UnusableInput) as caught:
        read_rules(["US-GA"], [overlay(tmp_path / "acme", text)])
    assert [(p.field, p.found) for p in caught.value.problems] == [
        ("definitions.axle_groups", "a second axle_groups for US-GA")
    ]


def test_only_the_places_asked_for_and_the_federal_files_are_read() -> None:
    assert read_rules(["US-SC"]).places() == ["US", "US-SC"]
    assert set(read_rules().places()) >= {"US", "US-GA", "US-SC"}
    assert shipped_rulesets().is_dir()


def test_definitions_of_a_place_replace_the_federal_ones() -> None:
    rulebook = read_rules(["US-GA", "US-SC"])
    federal, georgia = rulebook.definitions("US"), rulebook.definitions("US-GA")
    assert set(federal) <= set(georgia)
    assert georgia["axle_groups"] != federal["axle_groups"]


def test_a_rule_is_found_by_its_whole_name_only() -> None:
    rulebook = Rulebook((parsed(TEXT),))
    pair = rulebook.find("acme/weight/gross")
    assert pair is not None and pair[1].id == "gross"
    assert rulebook.find("acme/weight") is None
    assert rulebook.find("gross") is None


def test_days_of_change_are_the_first_day_and_the_day_after_the_last() -> None:
    text = TEXT.replace("{value: 78000, source: s, verified: read}", (
        "{value: 78000, until: 2025-06-30, source: s, verified: read}, "
        "{value: 79000, from: 2025-07-01, until: 2026-12-31, source: s, verified: read}"
    ))  # fmt: skip
    assert Rulebook((parsed(text),)).days_of_change("US-GA") == [date(2025, 7, 1), date(2027, 1, 1)]


def test_texts_kept_by_a_report_are_read_again_only_if_unaltered() -> None:
    digest = hashlib.sha256(TEXT.encode()).hexdigest()
    assert rulebook_from_texts({"acme/weight": TEXT}, {"acme/weight": digest}).keys() == ["acme/weight/gross"]
    with pytest.raises(UnusableInput):
        rulebook_from_texts({"acme/weight": TEXT + " "}, {"acme/weight": digest})
