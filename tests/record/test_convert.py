from __future__ import annotations

import datetime as dt
from decimal import ROUND_HALF_EVEN, Decimal

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.record import convert as converting
from auditor.record.convert import convert, convert_all, dtype
from auditor.record.raw import PLAIN, ColumnSpec
from auditor.vocabulary import TABLES
from auditor.vocabulary.model import Field


def field(name: str, table: str = "loads") -> Field:
    found = TABLES[table].field(name)
    assert found is not None
    return found


def one(text: str | None, of: Field, spec: ColumnSpec = PLAIN) -> object:
    """The value of one text; "! fault" where it is refused."""
    result = convert(pl.Series([text], dtype=pl.String), of, spec)
    assert result.values.dtype == dtype(of)
    fault = result.fault[0]
    return result.values[0] if fault is None else f"! {fault}"


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("84320", 84320), ("84,320", 84320), ("84 320", 84320), ("84\u00a0320", 84320), (" 84320 ", 84320),
        ("84320 lb", 84320), ("84,320LBS", 84320), ("84320.0", 84320), ("+84320", 84320),
        ("1", 1), ("250000", 250_000), ("0", "! range"), ("250001", "! range"), ("-5", "! range"),
        ("1.234,5", "! ambiguous"), ("84,32", "! ambiguous"), ("84,3200", "! ambiguous"),
        ("NaN", "! number"), ("inf", "! number"), ("-Infinity", "! number"), ("8.43E+04", "! number"),
        ("heavy", "! number"), ("84320 kg", "! number"), (".", "! number"), ("84320.5", "! fraction"),
        ("9" * 30, "! too_large"), ("#REF!", "! spreadsheet_error"), ("=A1+1", "! spreadsheet_error"),
    ],
)  # fmt: skip
def test_whole_numbers(text: str, value: object) -> None:
    assert one(text, field("gross_weight_lb")) == value


@pytest.mark.parametrize("text", ["", " ", "-", "\u2013", "n/a", "N/A", "NA", "na", None])
@pytest.mark.parametrize("name", ["gross_weight_lb", "driver", "product", "dark", "load_date", "scaled_at"])
def test_blank_is_blank_and_never_a_value(text: str | None, name: str) -> None:
    result = convert(pl.Series([text], dtype=pl.String), field(name), PLAIN)
    assert (result.values[0], result.blank[0], result.fault[0]) == (None, True, None)


@pytest.mark.parametrize(
    ("text", "value"), [("65.5", 65.5), ("65'", 65.0), ("65 feet", 65.0), ("65,5", "! ambiguous"), ("0.5", "! range")]
)
def test_numbers(text: str, value: object) -> None:
    assert one(text, field("overall_length_ft")) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("42.1", 84200),  # 42.1 x 2000
        ("42.16025", 84320),  # 84320.5, half to even
        ("42.16075", 84322),  # 84321.5, half to even
        ("42.1 tons", 84200),
        ("42.1 t", "! number"),  # the sign of another ton
        ("126", "! range"),  # 252,000 lb
    ],
)
def test_short_tons(text: str, value: object) -> None:
    assert one(text, field("gross_weight_lb"), ColumnSpec(unit="short_ton")) == value


def test_metres_that_are_exact_feet_give_exact_feet() -> None:
    # 13.5 ft x 0.3048 m/ft = 4.1148 m
    assert one("4.1148", field("load_height_ft"), ColumnSpec(unit="m")) == 13.5


@given(st.decimals(min_value="0.5", max_value="100", places=5))
def test_tons_agree_with_decimal_arithmetic(tons: Decimal) -> None:
    pounds = int((tons * 2000).to_integral_value(ROUND_HALF_EVEN))
    assert one(str(tons), field("gross_weight_lb"), ColumnSpec(unit="short_ton")) == pounds


@given(st.integers(1, 250_000))
def test_pounds_written_as_kilograms_come_back(pounds: int) -> None:
    kilograms = str(Decimal(pounds) * Decimal("0.45359237"))
    assert one(kilograms, field("gross_weight_lb"), ColumnSpec(unit="kg")) == pounds


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("2026-03-02", dt.date(2026, 3, 2)),
        ("2024-02-29", dt.date(2024, 2, 29)),
        ("2026-02-29", "! impossible_date"),
        ("03/02/26", "! short_year"),
        ("3/2/2026", "! date"),
        ("2026-3-2", "! date"),
        ("1899-12-31", "! year"),
        ("soon", "! date"),
    ],
)
def test_iso_dates(text: str, value: object) -> None:
    assert one(text, field("load_date")) == value


def test_the_time_of_a_dated_stamp_is_left_out_and_counted() -> None:
    result = convert(pl.Series(["2026-03-02 14:30:00", "2026-03-02 14:30:00", "2026-03-03"]), field("load_date"), PLAIN)
    assert result.values.to_list() == [dt.date(2026, 3, 2), dt.date(2026, 3, 2), dt.date(2026, 3, 3)]
    assert result.time_dropped == 2


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("3/2/2026", dt.date(2026, 3, 2)),
        ("03/02/26", "! short_year"),
        ("2/30/2026", "! date"),
        ("2026-03-02", "! date"),
    ],
)
def test_dates_of_a_form(text: str, value: object) -> None:
    assert one(text, field("load_date"), ColumnSpec(date_form="%m/%d/%Y")) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12:30", dt.time(12, 30)), ("7:05 PM", dt.time(19, 5)), ("12:00 am", dt.time(0, 0)),
        ("12:00 p.m.", dt.time(12, 0)), ("07:05:09", dt.time(7, 5, 9)), ("23:59", dt.time(23, 59)),
        ("24:00", "! impossible_time"), ("13:00 pm", "! impossible_time"), ("0:60", "! impossible_time"),
        ("noon", "! time"), ("1230", "! time"),
    ],
)  # fmt: skip
def test_times(text: str, value: object) -> None:
    assert one(text, field("scaled_at")) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [("yes", True), ("Y", True), ("TRUE", True), ("no", False), ("n", False), ("false", False),
     ("x", "! yes_no"), ("1", "! yes_no"), ("0", "! yes_no")],
)  # fmt: skip
def test_yes_no(text: str, value: object) -> None:
    assert one(text, field("dark")) == value


def test_classes() -> None:
    assert one("Tree-Length", field("product")) == "tree_length"
    assert one("tree length", field("product")) == "tree_length"
    assert one("us-ga", field("state", "job")) == "US-GA"
    assert one("logs", field("product")) == "! class"
    words = ColumnSpec(words=(("PST", "sawlogs"), ("None", "")))
    assert [one(t, field("product"), words) for t in ("pst", "pulpwood", "none")] == ["sawlogs", "pulpwood", None]


def test_several_classes() -> None:
    contents = field("contents", "tickets")
    assert one("Species; ticket number,species", contents) is not None
    result = convert(pl.Series(["Species; ticket number,species", "species;foo", ";"]), contents, PLAIN)
    assert result.values.to_list() == [["species", "ticket_number"], None, None]
    assert result.fault.to_list() == [None, "class", "class"]


def test_text_keeps_leading_zeros() -> None:
    assert one(" 00123 ", field("ticket_number")) == "00123"


@given(
    st.lists(st.text(max_size=12) | st.none(), max_size=8), st.sampled_from([f.name for f in TABLES["loads"].fields])
)
def test_any_text_is_a_value_blank_or_refused(texts: list[str | None], name: str) -> None:
    result = convert(pl.Series(texts, dtype=pl.String), field(name), PLAIN)
    for value, blank, fault in zip(result.values, result.blank, result.fault, strict=True):
        assert [value is not None, blank, fault is not None].count(True) == 1


COLUMNS = [
    ("loads", "driver", PLAIN), ("loads", "gross_weight_lb", PLAIN), ("axle_weights", "weight_lb", PLAIN),
    ("loads", "gross_weight_lb", ColumnSpec(unit="short_ton")), ("loads", "product", PLAIN), ("trucks", "kind", PLAIN),
    ("loads", "product", ColumnSpec(words=(("PST", "sawlogs"), ("None", "")))), ("job", "state", PLAIN),
    ("legs", "state", PLAIN), ("tickets", "contents", PLAIN), ("loads", "dark", PLAIN), ("loads", "load_date", PLAIN),
    ("loads", "load_date", ColumnSpec(date_form="%m/%d/%Y")), ("loads", "scaled_at", PLAIN),
    ("loads", "load_height_ft", PLAIN), ("axles", "position_ft", PLAIN),
]  # fmt: skip
TEXTS = st.sampled_from(
    [None, "", "n/a", "#REF!", "=A1", "84,320", "84,32", "12.5", "0", "-5", "9" * 30, "yes", "No", "perhaps", "tractor", "PST",
     "none", "sawlogs", "us-ga", "species; driver", "2026-03-02", "2026-03-02 10:00", "3/2/2026", "2026-02-30", "12:30",
     "13:61", "20 ft", " x "]
)  # fmt: skip
CELLS = st.lists(TEXTS, min_size=3, max_size=3)


def told(texts: list[str | None], column: int) -> tuple[list[object], list[object], list[object], int]:
    return shown(convert(pl.Series(texts, dtype=pl.String), *asked_of(column)))


def asked_of(column: int) -> tuple[Field, ColumnSpec]:
    table, name, spec = COLUMNS[column]
    return field(name, table), spec


def shown(result: converting.Converted) -> tuple[list[object], list[object], list[object], int]:
    return result.values.to_list(), result.blank.to_list(), result.fault.to_list(), result.time_dropped


@given(st.lists(CELLS, min_size=len(COLUMNS), max_size=len(COLUMNS)))
def test_columns_typed_together_are_typed_as_each_alone(cells: list[list[str | None]]) -> None:
    asked = [(pl.Series(texts, dtype=pl.String), *asked_of(i)) for i, texts in enumerate(cells)]
    together = convert_all(asked)
    assert [shown(result) for result in together] == [told(texts, i) for i, texts in enumerate(cells)]
    assert [result.values.dtype for result in together] == [dtype(of) for _, of, _ in asked]
    assert [result.faulty for result in together] == [any(result.fault.is_not_null()) for result in together]


@given(st.lists(TEXTS, min_size=1, max_size=6), st.integers(0, len(COLUMNS) - 1))
def test_a_long_column_is_typed_as_a_short_one(cells: list[str | None], column: int) -> None:
    # Each text occurs often, so that the long way, by distinct texts, has something to spread.
    times = converting.LONG // len(cells) + 1
    values, blank, fault, dropped = told(cells, column)
    assert told(cells * times, column) == (values * times, blank * times, fault * times, dropped * times)
