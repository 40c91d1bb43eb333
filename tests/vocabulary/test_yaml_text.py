from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.vocabulary.problems import UnusableInput
from auditor.vocabulary.yaml_text import Lines, load_yaml_text

SYNTAX = "expected readable YAML. Check the indentation, the colons and the quotation marks around this line."


def refusals(data: bytes) -> list[str]:
    with pytest.raises(UnusableInput) as caught:
        load_yaml_text(data, "job.yaml")
    return [str(p) for p in caught.value.problems]


def test_every_scalar_is_text() -> None:
    value, _ = load_yaml_text(
        b"at: 12:30\nstate: NO\nticket: 0123\nday: 2026-03-02\nn: 1e3\nb: true\nnone: ~\nblank:\n", "f"
    )
    assert value == {
        "at": "12:30", "state": "NO", "ticket": "0123", "day": "2026-03-02", "n": "1e3", "b": "true", "none": "~",
        "blank": "",
    }  # fmt: skip


def test_byte_order_mark_and_empty_document() -> None:
    assert load_yaml_text(b"\xef\xbb\xbfa: 1", "f")[0] == {"a": "1"}
    assert load_yaml_text(b"# nothing\n", "f")[0] == {}


def plain(text: str) -> object:
    if text == "bad":
        raise ValueError("something good")
    return len(text) if text.startswith("x") else text


def test_plain_texts_are_made_values_and_quoted_ones_are_not() -> None:
    value, lines = load_yaml_text(b"xx: [xxx, 'xxx']\na: xx\n", "f", plain)
    assert value == {2: [3, "xxx"], "a": 2}
    assert lines.at("xx", 1) == 1
    assert load_yaml_text(b"# nothing\n", "f", plain)[0] is None


def test_every_text_that_is_no_value_is_named_with_its_line() -> None:
    with pytest.raises(UnusableInput) as caught:
        load_yaml_text(b"a: bad\nb: [bad]\na: 1\n", "f", plain)
    assert [str(p) for p in caught.value.problems] == [
        'f, line 1: found "bad"; expected something good. Correct the value.',
        'f, line 2: found "bad"; expected something good. Correct the value.',
        "f, line 3, a: found the key a second time (first on line 1); expected each key once. Keep one of the two.",
    ]


def test_lines_follow_keys_and_positions() -> None:
    _, lines = load_yaml_text(b"a:\n  - x\n  - b: 1\n    c: 2\n\nd: 3\n", "f")
    assert [lines.at(*path) for path in [("a",), ("a", 0), ("a", 1), ("a", 1, "c"), ("d",)]] == [1, 2, 3, 4, 6]
    assert lines.at("a", 1, "no such key") == 3
    assert Lines().at("x") == 1


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"a: 1\nb: 2\na: 3\n", "line 3, a: found the key a second time (first on line 1); expected each key once. Keep one of the two."),
        (b"a: &x 1\n", "line 1: found the anchor &x; expected every value written out. Take the anchor out."),
        (b"a: 1\nb: *x\n", "line 2: found the alias *x; expected every value written out. Write the value out here."),
        (b"a:\n  <<: {b: 1}\n", "line 2: found the merge key <<; expected every value written out. Write the values out here."),
        (b"a: !secret 1\n", "line 1: found the tag !secret; expected values without tags. Take the tag out."),
        (b"a: !!python/name:os.system x\n", "line 1: found the tag tag:yaml.org,2002:python/name:os.system; expected values without tags. Take the tag out."),
        (b"a: 1\n---\nb: 1\n", "line 2: found a second document (---); expected one document in a file. Put it in a file of its own."),
        (b"a: 1\nb: \xff\n", "line 2: found bytes that are not UTF-8; expected text in UTF-8. Save the file again as UTF-8."),
        (b"? [a]\n: 1\n", "line 1: found a list or mapping as a key; expected a word as a key. Write a plain word before the colon."),
        (b"[" * 50, "line 1: found more than 40 levels of nesting; expected a flat file. Take the inner levels out."),
        (b"a: 1\nb: \x01\n", f"line 2: found a control character; {SYNTAX}"),
        (b"a:\n\tb: 1\n", f"line 2: found character that cannot start any token; {SYNTAX}"),
    ],
)  # fmt: skip
def test_refused(data: bytes, message: str) -> None:
    assert refusals(data) == [f"job.yaml, {message}"]


def test_too_large() -> None:
    assert refusals(b" " * 2_000_001) == [
        "job.yaml: found 2,000,001 bytes; expected at most 2,000,000 bytes. Move long tables to a CSV file."
    ]


def test_all_problems_in_one_pass_and_no_echo_of_a_repeated_key() -> None:
    found = refusals(b"a: {x: 1}\na: {x: 1, x: 2}\nb: &q 1\nc: *q\n")
    assert [m.split(";")[0] for m in found] == [
        "job.yaml, line 2, a: found the key a second time (first on line 1)",
        "job.yaml, line 3: found the anchor &q",
        "job.yaml, line 4: found the alias *q",
    ]


@given(st.binary(max_size=60) | st.text(alphabet="ab:-[]{}#&*!?|>'\"%@ \n\t<", max_size=60).map(str.encode))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    try:
        load_yaml_text(data, "f")
    except UnusableInput as error:
        assert error.problems


@given(
    st.dictionaries(
        st.from_regex(r"[a-z]{1,8}", fullmatch=True), st.from_regex(r"[A-Za-z0-9:./-]{1,8}", fullmatch=True), max_size=5
    )
)
def test_quoted_values_come_back_unchanged(wanted: dict[str, str]) -> None:
    text = "".join(f'{key}: "{value}"\n' for key, value in wanted.items())
    assert load_yaml_text(text.encode(), "f")[0] == wanted
