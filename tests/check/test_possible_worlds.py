"""The engine against every possible world: a certain outcome must hold however the blanks are filled."""

from __future__ import annotations

import importlib.util
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from auditor.check.evaluate import judge_view
from auditor.rules.compiled import Code
from auditor.rules.models import Rule, RuleFile
from auditor.vocabulary import VIEWS

_spec = importlib.util.spec_from_file_location("worlds", Path(__file__).with_name("worlds.py"))
assert _spec is not None and _spec.loader is not None
w = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(w)

CITED = {"source": "s", "verified": "read"}


@pytest.fixture(autouse=True)
def test_view(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setitem(VIEWS, "test_rows", w.ROWS)
    yield


def leaves(with_limits: bool) -> st.SearchStrategy[dict[str, Any]]:
    plain = [
        st.builds(lambda v: {"kind": v}, st.sampled_from(["frame", "pole", "crib"])),
        st.builds(
            lambda v, op: {"kind": {op: v}},
            st.lists(st.sampled_from(["frame", "pole", "crib"]), min_size=1, max_size=2, unique=True),
            st.sampled_from(["one_of", "none_of"]),
        ),
        st.builds(lambda v: {"wet": v}, st.booleans()),
        st.builds(lambda v: {"height_ft": v}, st.sampled_from(["[0, 13.5)", "(10, 20]", "[13.5, inf)"])),
        st.builds(
            lambda op, v: {"height_ft": {op: v}},
            st.sampled_from(["at_least", "more_than", "at_most", "less_than"]),
            st.sampled_from([10, 13.5, 14]),
        ),
        st.builds(
            lambda op, v: {"weight_lb": {op: v}},
            st.sampled_from(["at_least", "at_most", "less_than"]),
            st.sampled_from([200, 210]),
        ),
    ]
    if with_limits:
        ops = st.sampled_from(["at_least", "more_than", "at_most", "less_than"])
        plain.append(st.builds(lambda op: {"weight_lb": {op: {"limit": "weight_limit_lb"}}}, ops))
        plain.append(st.builds(lambda op: {"weight_lb": {op: {"limit": "weight_limit_lb"}}}, ops))
        plain.append(st.builds(lambda op: {"height_ft": {op: {"limit": "height_limit_ft"}}}, ops))
    return st.one_of(plain)


def trees(with_limits: bool = True) -> st.SearchStrategy[dict[str, Any]]:
    def grow(kid: st.SearchStrategy[dict[str, Any]]) -> st.SearchStrategy[dict[str, Any]]:
        few = st.lists(kid, min_size=1, max_size=3)
        return st.one_of(
            st.builds(lambda k: {"all_of": k}, few),
            st.builds(lambda k: {"any_of": k}, few),
            st.builds(lambda k: {"none_of": k}, few),
            st.builds(lambda k: {"at_least_n_of": {"n": min(2, len(k)), "of": k}}, few),
        )

    return st.recursive(leaves(with_limits), grow, max_leaves=4)


TABLES = [
    {"rows": [{"when": {"kind": "frame"}, "value": 200}, {"when": {"kind": {"one_of": ["pole", "crib"]}}, "value": 210}]},
    {"rows": [{"when": {"height_ft": "[0, 13.5]"}, "value": 220}, {"when": {"height_ft": "(13.5, inf)", "wet": True}, "value": 200},
              {"when": {"height_ft": "(13.5, inf)", "wet": False}, "value": 210}]},
]  # fmt: skip
PLAIN = st.sampled_from(
    [
        {"value": 200},
        {"value": 210},
        {"table": TABLES[0]},
        {"table": TABLES[1]},
        {"linear": {"base": 100, "times": 10, "per": "height_ft", "at_most": 220}},
        {"lesser_of": [{"value": 210}, {"table": TABLES[0]}]},
    ]
)
RAISED = st.one_of(PLAIN, st.just({"percent_more": 5, "than": "base"}), st.just({"percent_more": 10, "than": "base"}))


@st.composite
def limits(draw: st.DrawFn) -> dict[str, Any]:
    versions: list[dict[str, Any]] = [{**draw(PLAIN), **CITED}]
    if draw(st.booleans()):
        versions[0]["until"] = "2023-06-30"
        versions.append({**draw(PLAIN), **CITED, "from": "2023-07-01"})
    allowances = []
    for number in range(draw(st.integers(0, 2))):
        entry: dict[str, Any] = {
            **draw(RAISED),
            **CITED,
            "id": f"a{number}",
            "title": "raise",
            "form": draw(st.sampled_from(["raised limit", "permit"])),
        }
        if draw(st.booleans()):
            entry["where"] = draw(trees(with_limits=False))
        if draw(st.booleans()):
            entry["needs"] = {"document": "overweight_permit"}
        if draw(st.booleans()):
            entry["from"] = "2023-07-01"
        allowances.append(entry)
    caps = []
    if draw(st.booleans()):
        caps.append(
            {
                "value": draw(st.sampled_from([100, 200])),
                **CITED,
                "id": "c",
                "title": "cap",
                "where": draw(trees(with_limits=False)),
            }
        )
    return {"means": "weight", "unit": "lb", "versions": versions, "allowances": allowances, "caps": caps}


MUST = st.one_of(st.just({"weight_lb": {"at_most": {"limit": "weight_limit_lb"}}}), trees())


@st.composite
def rules(draw: st.DrawFn) -> dict[str, Any]:
    rule: dict[str, Any] = {
        "id": "r", "title": "t", "examines": "test_rows", "must": draw(MUST), "duty_of": "carrier", "standing": "statute",
        "grade": "major", "evidence": "usual", "action": "a", "caution": "c", **CITED,
    }  # fmt: skip
    for part in ("where", "when"):
        if draw(st.booleans()):
            rule[part] = draw(trees())
    if draw(st.booleans()):
        exception: dict[str, Any] = {"id": "e", "title": "e", "where": draw(trees())}
        if draw(st.booleans()):
            exception["needs"] = {"document": "overweight_permit"}
        rule["unless"] = [exception]
    if draw(st.booleans()):
        rule["until" if draw(st.booleans()) else "from"] = "2023-07-01"
    return rule


RANGES = st.one_of(
    st.sampled_from(w.DOMAIN["weight_lb"]),
    st.just((100.0, 300.0)),
    st.sampled_from([(100.0, 200.0), (200.0, 210.0), (210.0, 300.0)]),
)
BLANK = st.none()
ROW = st.fixed_dictionaries(
    {
        "height_ft": BLANK | st.sampled_from(w.DOMAIN["height_ft"]),
        "weight_lb": RANGES,
        "kind": BLANK | st.sampled_from(w.DOMAIN["kind"]),
        "wet": BLANK | st.booleans(),
        w.PAPER: BLANK | st.booleans(),
        "load_date": BLANK | st.sampled_from(w.DOMAIN["load_date"]),
    }
)


def frame_of(rows: list[dict[str, Any]]) -> pl.DataFrame:
    keys = [str(i) for i in range(len(rows))]
    weights = [r["weight_lb"] if isinstance(r["weight_lb"], tuple) else (r["weight_lb"],) * 2 for r in rows]
    return pl.DataFrame(
        {
            "job": pl.Series(["j"] * len(rows), dtype=pl.String),
            "subject": pl.Series(keys, dtype=pl.String),
            "ticket_number": pl.Series(keys, dtype=pl.String),
            "load_date": pl.Series([r["load_date"] for r in rows], dtype=pl.Date),
            "height_ft": pl.Series([r["height_ft"] for r in rows], dtype=pl.Float64),
            "weight_lb__lo": pl.Series([lo for lo, _ in weights], dtype=pl.Float64),
            "weight_lb__hi": pl.Series([hi for _, hi in weights], dtype=pl.Float64),
            "kind": pl.Series([r["kind"] for r in rows], dtype=pl.Enum(["frame", "pole", "crib"])),
            "wet": pl.Series([r["wet"] for r in rows], dtype=pl.Boolean),
            w.PAPER: pl.Series([r[w.PAPER] for r in rows], dtype=pl.Boolean),
        }
    )


def judged_codes(file: RuleFile, rule: Rule, rows: list[dict[str, Any]]) -> tuple[dict[str, Code], pl.DataFrame | None]:
    """Engine outcome of each row by its key (rows whose day has no rule in force are not applicable), and the gaps."""
    codes = {str(i): Code.NOT_APPLICABLE for i in range(len(rows))}
    gaps = []
    for judged in judge_view("test_rows", frame_of(rows), [(file, rule)], [w.CHANGE, w.CHANGE.replace(day=2)]):
        for key, code in zip(judged.frame["subject"], judged.codes["0"], strict=True):
            codes[key] = Code(code)
        gaps += judged.gaps
    return codes, pl.concat(gaps, how="diagonal") if gaps else None


def file_of(rule: dict[str, Any], weight_limit: dict[str, Any]) -> RuleFile:
    height = {"means": "height", "unit": "ft", "versions": [{"value": 13.5, **CITED}]}
    return RuleFile.model_validate(
        {
            "id": "us/weight", "place": "US", "topic": "weight", "title": "t", "sources": {"s": {"instrument": "i", "seen": "s"}},
            "limits": {"weight_limit_lb": weight_limit, "height_limit_ft": height}, "rules": [rule],
        }
    )  # fmt: skip


@given(rules(), limits(), st.lists(ROW, min_size=1, max_size=12))
@settings(
    max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
def test_a_certain_outcome_holds_in_every_world(
    rule: dict[str, Any], weight_limit: dict[str, Any], rows: list[dict[str, Any]]
) -> None:
    file = file_of(rule, weight_limit)
    codes, gaps = judged_codes(file, file.rules[0], rows)
    for index, row in enumerate(rows):
        outcomes = {w.outcome(file.rules[0], file.limits, world) for world in w.worlds(row)}
        code = codes[str(index)]
        if code == Code.NONCONFORMITY:
            assert outcomes == {"nonconformity"}
        elif code == Code.CONFORMITY:
            assert "nonconformity" not in outcomes
        elif code == Code.NOT_APPLICABLE:
            assert outcomes == {"not applicable"}
        elif code == Code.NOT_EVIDENCED:
            assert gaps is not None
            blamed = {
                c.removeprefix("blank:")
                for c in gaps.columns
                if c.startswith("blank:") and gaps.filter(pl.col("subject") == str(index))[c].to_list() == [True]
            }
            blank = {n for n, v in row.items() if v is None or (isinstance(v, tuple) and v[0] < v[1])}
            assert blamed and blamed <= blank


COMPLETE = st.fixed_dictionaries({name: st.sampled_from(domain) for name, domain in w.DOMAIN.items()})


@given(rules(), limits(), st.lists(COMPLETE, min_size=1, max_size=12))
@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
def test_complete_rows_get_exactly_the_outcome_of_the_plain_reading(
    rule: dict[str, Any], weight_limit: dict[str, Any], rows: list[dict[str, Any]]
) -> None:
    file = file_of(rule, weight_limit)
    codes, _ = judged_codes(file, file.rules[0], rows)
    words = {Code.CONFORMITY: "conformity", Code.NONCONFORMITY: "nonconformity", Code.NOT_APPLICABLE: "not applicable"}
    for index, row in enumerate(rows):
        assert words[codes[str(index)]] == w.outcome(file.rules[0], file.limits, row)
