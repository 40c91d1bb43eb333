"""Papers valid on a day, and contents of tickets."""

from __future__ import annotations

import datetime as dt
from typing import Any

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.measures.papers import missing_contents, ticket_missing_count, valid_on
from auditor.vocabulary.haul import TICKET_CONTENTS

SCHEMA = {
    "job": pl.String, "kind": pl.String, "state": pl.String, "truck": pl.String, "valid_from": pl.Date,
    "valid_until": pl.Date, "gross_limit_lb": pl.Int64, "length_limit_ft": pl.Float64,
}  # fmt: skip
DAY = dt.date(2024, 3, 15)
BEFORE, AFTER = dt.date(2024, 3, 14), dt.date(2024, 3, 16)


def paper(**values: Any) -> dict[str, Any]:
    base = {
        "job": "J1", "kind": "harvest_permit", "state": "US-MS", "truck": "T1", "valid_from": dt.date(2024, 1, 1),
        "valid_until": dt.date(2024, 12, 31), "gross_limit_lb": 84_000, "length_limit_ft": None,
    }  # fmt: skip
    return base | values


def on_day(*papers: dict[str, Any], truck: str | None = "T1", date: Any = DAY, state: str | None = None) -> Any:
    documents = pl.DataFrame(list(papers), schema=SCHEMA)
    keys = pl.DataFrame(
        {"job": ["J1"], "truck": [truck], "date": [date]},
        schema={"job": pl.String, "truck": pl.String, "date": pl.Date},
    )
    return valid_on(documents, keys, kinds=["harvest_permit"], state=state).row(0, named=True)


def test_a_valid_paper_and_what_it_allows() -> None:
    found = on_day(paper(length_limit_ft=75.0))
    assert (found["valid"], found["gross_limit_lb"], found["length_limit_ft"]) == (True, 84_000, 75)


@pytest.mark.parametrize(
    ("first", "last", "expected"),
    [(DAY, DAY, True), (BEFORE, DAY, True), (DAY, AFTER, True), (BEFORE, BEFORE, False), (AFTER, AFTER, False)],
)
def test_both_days_are_included(first: dt.date, last: dt.date, expected: bool) -> None:
    assert on_day(paper(valid_from=first, valid_until=last))["valid"] is expected


def test_no_paper_of_that_kind() -> None:
    found = on_day()
    assert (found["valid"], found["gross_limit_lb"]) == (False, None)
    assert on_day(paper(kind="other"))["valid"] is False
    assert on_day(paper(job="J2"))["valid"] is False


def test_the_paper_of_another_truck_does_not_hold_one_without_a_truck_does() -> None:
    assert on_day(paper(truck="T2"))["valid"] is False
    assert on_day(paper(truck=None))["valid"] is True
    assert on_day(paper(), truck=None)["valid"] is None


def test_blank_dates_that_could_make_it_valid() -> None:
    assert on_day(paper(valid_until=None))["valid"] is None
    assert on_day(paper(valid_from=None))["valid"] is None
    assert on_day(paper(valid_from=AFTER, valid_until=None))["valid"] is False
    assert on_day(paper(valid_from=None, valid_until=BEFORE))["valid"] is False
    assert on_day(paper(valid_until=None), paper())["valid"] is True


def test_a_day_without_a_date() -> None:
    assert on_day(paper(), date=None)["valid"] is None
    assert on_day(date=None)["valid"] is False


def test_the_state_that_issued_it() -> None:
    assert on_day(paper(), state="US-MS")["valid"] is True
    assert on_day(paper(), state="US-GA")["valid"] is False
    assert on_day(paper(state=None), state="US-GA")["valid"] is None


def test_the_greatest_figure_of_the_valid_ones() -> None:
    assert on_day(paper(), paper(gross_limit_lb=88_000))["gross_limit_lb"] == 88_000
    assert on_day(paper(), paper(gross_limit_lb=88_000, valid_until=BEFORE))["gross_limit_lb"] == 84_000


def test_a_paper_that_could_raise_the_figure_leaves_it_open() -> None:
    assert on_day(paper(), paper(gross_limit_lb=88_000, valid_until=None))["gross_limit_lb"] is None
    assert on_day(paper(), paper(gross_limit_lb=80_000, valid_until=None))["gross_limit_lb"] == 84_000
    assert on_day(paper(), paper(gross_limit_lb=None))["gross_limit_lb"] is None


def test_one_row_for_each_truck_day_and_kind() -> None:
    keys = pl.DataFrame({"job": ["J1"] * 3, "truck": ["T2", "T1", "T1"], "date": [DAY] * 3})
    documents = pl.DataFrame([paper(), paper(kind="overweight_permit", truck="T2")], schema=SCHEMA)
    found = valid_on(documents, keys, kinds=["overweight_permit", "harvest_permit"])
    assert found.select("truck", "kind", "valid").rows() == [
        ("T2", "overweight_permit", True),
        ("T2", "harvest_permit", False),
        ("T1", "overweight_permit", False),
        ("T1", "harvest_permit", True),
    ]


DAYS = st.none() | st.dates(dt.date(2024, 3, 13), dt.date(2024, 3, 17))


@given(papers=st.lists(st.builds(paper, valid_from=DAYS, valid_until=DAYS), max_size=4), data=st.data())
def test_an_answer_with_blanks_holds_in_every_world(papers: list[dict[str, Any]], data: st.DataObject) -> None:
    answer = on_day(*papers)["valid"]
    known = st.dates(dt.date(2024, 3, 13), dt.date(2024, 3, 17))
    filled = [p | {n: data.draw(known) for n in ("valid_from", "valid_until") if p[n] is None} for p in papers]
    world = any(p["valid_from"] <= DAY <= p["valid_until"] for p in filled)
    assert answer in (None, world)
    assert on_day(*filled)["valid"] is world


def missing(contents: list[str] | None, required: list[Any]) -> Any:
    return ticket_missing_count(pl.Series([contents], dtype=pl.List(pl.String)), required).item()


def test_what_a_ticket_does_not_show() -> None:
    required = ["ticket_number", "species", ["gross_tare_net", "volume"]]
    assert missing(["ticket_number", "species", "volume", "tract"], required) == 0
    assert missing(["ticket_number", "gross_tare_net", "volume"], required) == 1
    assert missing(["species"], required) == 2
    assert missing([], required) == 3


def test_contents_that_are_not_recorded() -> None:
    assert missing(None, ["species"]) is None
    assert missing(["species"], []) == 0


def lacking(contents: list[str] | None, required: list[Any]) -> Any:
    return missing_contents(pl.Series([contents], dtype=pl.List(pl.String)), required).item()


def test_what_a_ticket_does_not_show_is_named_in_the_order_of_the_law() -> None:
    required = ["ticket_number", "county_and_state", ["gross_tare_net", "volume"]]
    assert lacking(["volume", "ticket_number", "county_and_state", "tract"], required) == ""
    assert lacking(["gross_tare_net", "ticket_number"], required) == "county and state"
    assert lacking(["tract"], required) == "ticket number; county and state; gross, tare and net weight or volume"
    assert lacking([], ["species"]) == "species"


def test_contents_that_are_not_recorded_lack_nothing_that_could_be_named() -> None:
    assert lacking(None, ["species"]) is None
    assert lacking(["species"], []) == ""
    assert missing_contents(pl.Series([], dtype=pl.List(pl.String)), ["species"]).len() == 0


NAMES = st.sampled_from(TICKET_CONTENTS)


@given(st.lists(st.none() | st.lists(NAMES), max_size=4), st.lists(NAMES | st.lists(NAMES, min_size=2, max_size=3)))
def test_as_many_are_named_as_are_counted(contents: list[list[str] | None], required: list[Any]) -> None:
    shown = pl.Series(contents, dtype=pl.List(pl.String))
    counted, named = ticket_missing_count(shown, required), missing_contents(shown, required)
    assert [None if n is None else len(n.split("; ")) if n else 0 for n in named] == counted.to_list()
