"""From text to typed columns: every distinct text of a column is judged once, then spread over the rows.

Nothing is guessed: a text that is not plainly a value of its field is refused, and a blank stays blank.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, partial
from typing import Final

import polars as pl

from auditor.record.raw import ColumnSpec
from auditor.record.units import factor, units_like, written_forms
from auditor.vocabulary.model import Field, Kind

BLANK: Final = ("", "-", "\u2013", "\u2014", "n/a", "na")
YES: Final = ("yes", "y", "true")
NO: Final = ("no", "n", "false")
FIRST_YEAR, LAST_YEAR = 1900, 2199
_ERROR: Final = r"^(#(REF|N/A|VALUE|DIV/0|NAME|NULL|NUM|SPILL|CALC|GETTING_DATA|ERROR).*|=.*)$"
_NUMBER: Final = r"^([+-]?(?:\d+|\d{1,3}(?:[, ]\d{3})+)?(?:\.\d+)?)"
_DIGIT: Final = r"\d"
_POINT_AND_COMMA: Final = r"^[+-]?(\d{1,3}(\.\d{3})+(,\d+)?|\d+,\d+)$"
_ISO_DATE: Final = r"^(\d{4}-\d{2}-\d{2})(?:[T ]\d{2}:\d{2}(?::\d{2})?)?$"
_SHORT_YEAR: Final = r"^\d{1,2}[-/.]\d{1,2}[-/.]\d{2}$"
_TIME: Final = r"^(?<h>\d{1,2}):(?<m>\d{2})(?::(?<s>\d{2}))?(?:\s*(?<half>[ap])\.?m\.?)?$"

DTYPES: Final[dict[str, pl.DataType]] = {
    "text": pl.String(),
    "classes": pl.List(pl.String),
    "number": pl.Float64(),
    "whole": pl.Int64(),
    "yes_no": pl.Boolean(),
    "date": pl.Date(),
    "time": pl.Time(),
}
_JUDGED: Final = ("value", "fault", "blank", "dropped")
Asked = tuple[pl.Series, Field, ColumnSpec]
"""A column of text, the field it is for, and how it is written."""
LONG: Final = 4096
"""From so many cells on, looking for the distinct texts costs less than judging each cell."""


def dtype(field: Field) -> pl.DataType:
    """The column type of a field in the record."""
    return _enum(field.classes) if field.kind == "class" else DTYPES[field.kind]


def blank_column(field: Field, height: int) -> pl.Series:
    """A column of the field in which nothing is filled."""
    return _blank_cell(field.kind, field.classes).new_from_index(0, height).alias(field.name)


@cache
def _blank_cell(kind: Kind, classes: tuple[str, ...]) -> pl.Series:
    return pl.Series([None], dtype=_enum(classes) if kind == "class" else DTYPES[kind])


@cache
def _enum(classes: tuple[str, ...]) -> pl.Enum:
    return pl.Enum(classes)


@dataclass(frozen=True, slots=True)
class Converted:
    """A typed column and what is wrong with it.

    `blank` marks rows without text; `fault` names what is wrong with a row, null where nothing is. `time_dropped`
    counts dates that came with a time of day.
    """

    values: pl.Series
    blank: pl.Series
    fault: pl.Series
    time_dropped: int = 0

    @property
    def faulty(self) -> bool:
        """Whether any row is refused."""
        return self.fault.null_count() < self.fault.len()


def convert(texts: pl.Series, field: Field, spec: ColumnSpec) -> Converted:
    """Type a column of text as its field asks. Blank gives null; so does a refused text, which `fault` names."""
    (found,) = convert_all([(texts, field, spec)])
    return found


def convert_all(asked: Sequence[Asked]) -> list[Converted]:
    """Type several columns together, as `convert` does each.

    Short columns that are judged alike are laid end to end and judged as one: many small queries cost more one by one.
    """
    groups: dict[object, list[int]] = {}
    for index, (texts, field, spec) in enumerate(asked):
        alone = index if texts.len() >= LONG else None
        groups.setdefault((alone, spec.words, _alike(field, spec)), []).append(index)
    plans = [_judged([asked[i] for i in members]) for members in groups.values()]
    found: dict[int, Converted] = {}
    for members, rows in zip(groups.values(), pl.collect_all(plans, engine="in-memory"), strict=True):
        start = 0
        for index in members:
            height = asked[index][0].len()
            own = rows if len(members) == 1 else rows.slice(start, height)
            start += height
            found[index] = _bounded(own, asked[index][1])
    return [found[index] for index in range(len(asked))]


def _alike(field: Field, spec: ColumnSpec) -> tuple[object, ...]:
    """What the judging of a column depends on, its bounds and the user's words apart."""
    match field.kind:
        case "class" if not _in_own_words(field.classes):
            return "class", field.classes
        case "classes":
            return "classes", field.classes
        case "number" | "whole":
            return field.kind, _converted(field, spec), _unit_forms(field, spec)
        case "date":
            return "date", spec.date_form
        case _:
            return (field.kind,)


def _judged(columns: Sequence[Asked]) -> pl.LazyFrame:
    """The value, the fault and the blank of every row of columns that are judged alike, end to end."""
    _, field, spec = columns[0]
    texts = pl.concat([texts.alias("raw") for texts, _, _ in columns]) if len(columns) > 1 else columns[0][0]
    cells = texts.alias("raw").to_frame().lazy()
    if texts.len() < LONG:
        return _judge(cells, field, spec).select(*_JUDGED)
    distinct = _judge(cells.select(pl.col("raw").unique().drop_nulls()), field, spec)
    spread = cells.join(distinct.select("raw", *_JUDGED), on="raw", how="left", maintain_order="left")
    # Cells without text have no partner.
    return spread.select("value", "fault", pl.col("blank").fill_null(True), pl.col("dropped").fill_null(False))


def _judge(cells: pl.LazyFrame, field: Field, spec: ColumnSpec) -> pl.LazyFrame:
    """What becomes of each text; `key` is the text as the judge of its kind sees it, null for a blank or an error."""
    key = pl.col("key")
    spaces = pl.col("raw").str.replace_all("[\u00a0\u202f\u2009]", " ")
    cells = cells.with_columns(key=spaces.str.strip_chars())
    if spec.words:
        words = {_folded(word): ours for word, ours in spec.words}
        folded = key.str.to_lowercase().str.replace_all(r"\s+", " ")
        cells = cells.with_columns(key=folded.replace_strict(words, default=key, return_dtype=pl.String))
    blank = key.is_null() | key.str.to_lowercase().is_in(list(BLANK))
    cells = cells.with_columns(blank=blank, error=key.str.contains(_ERROR).fill_null(False))
    cells = cells.with_columns(error=pl.col("error") & ~pl.col("blank"))
    cells = cells.with_columns(key=pl.when(~(pl.col("blank") | pl.col("error"))).then(key))
    judged = _JUDGES[field.kind](cells, field, spec)
    fault = pl.when("error").then(pl.lit("spreadsheet_error")).when(key.is_not_null()).then(pl.col("fault"))
    return judged.with_columns(
        pl.col("value").cast(pl.String if field.kind == "class" else dtype(field)),
        fault=fault.cast(pl.String),
        dropped=pl.col("dropped") & key.is_not_null(),
    )


def _bounded(rows: pl.DataFrame, field: Field) -> Converted:
    """The column of one field out of what was judged together: held against its own classes and bounds."""
    values, fault, wrong, name = rows["value"], rows["fault"], None, "range"
    if field.kind == "class":
        words, name = values, "class"
        values = words.cast(dtype(field), strict=False)
        if values.null_count() > words.null_count():
            wrong = values.is_null() & words.is_not_null()
    elif field.kind in ("number", "whole"):
        wrong = _outside(values, field)
    if wrong is not None:
        values = values.zip_with(~wrong, pl.Series([None], dtype=values.dtype).new_from_index(0, values.len()))
        fault = fault.zip_with(~wrong, pl.Series([name]).new_from_index(0, fault.len()))
    dropped = int(rows["dropped"].sum() or 0) if field.kind == "date" else 0
    return Converted(values, rows["blank"], fault, dropped)


def _outside(values: pl.Series, field: Field) -> pl.Series | None:
    """Which values lie outside the bounds of the field; None when none does."""
    least, greatest = values.min(), values.max()
    if not isinstance(least, int | float) or not isinstance(greatest, int | float):
        return None
    low = -math.inf if field.low is None else field.low
    high = math.inf if field.high is None else field.high
    if low <= least and greatest <= high:
        return None
    return ((values < low) | (values > high)).fill_null(False)


def _folded(word: str) -> str:
    return " ".join(word.lower().split())


def _judge_text(frame: pl.LazyFrame, field: Field, spec: ColumnSpec) -> pl.LazyFrame:
    return frame.with_columns(value=pl.col("key"), fault=None, dropped=False)


@cache
def _in_own_words(classes: tuple[str, ...]) -> bool:
    """Whether each class is written as `_class_key` writes texts: small, with underscores."""
    return all(word == word.lower().replace("-", "_") for word in classes)


def _class_key(text: pl.Expr) -> pl.Expr:
    return text.str.to_lowercase().str.replace_all(r"[\s_-]+", "_")


def _judge_class(frame: pl.LazyFrame, field: Field, spec: ColumnSpec) -> pl.LazyFrame:
    if _in_own_words(field.classes):
        # Fields with lists of their own are judged together: each holds the words against its list afterwards.
        return frame.with_columns(value=_class_key(pl.col("key")), fault=None, dropped=False)
    known = {word.lower().replace("-", "_"): word for word in field.classes}
    value = _class_key(pl.col("key")).replace_strict(known, default=None, return_dtype=pl.String)
    return frame.with_columns(value=value, dropped=False).with_columns(fault=_fault(pl.col("value").is_null(), "class"))


def _judge_classes(frame: pl.LazyFrame, field: Field, spec: ColumnSpec) -> pl.LazyFrame:
    known = {word.lower().replace("-", "_"): word for word in field.classes}
    parts = pl.col("key").str.replace_all(",", ";").str.split(";")
    each = parts.list.eval(
        _class_key(pl.element().str.strip_chars().filter(pl.element().str.strip_chars() != "")).replace_strict(
            known, default=None, return_dtype=pl.String
        )
    )
    unknown = each.list.eval(pl.element().is_null()).list.any() | (each.list.len() == 0)
    value = each.list.unique(maintain_order=True)
    return frame.with_columns(value=pl.when(~unknown).then(value), fault=_fault(unknown, "class"), dropped=False)


def _judge_yes_no(frame: pl.LazyFrame, field: Field, spec: ColumnSpec) -> pl.LazyFrame:
    low = pl.col("key").str.to_lowercase()
    value = pl.when(low.is_in(list(YES))).then(True).when(low.is_in(list(NO))).then(False)
    return frame.with_columns(value=value, dropped=False).with_columns(
        fault=_fault(pl.col("value").is_null(), "yes_no")
    )


def _judge_number(frame: pl.LazyFrame, field: Field, spec: ColumnSpec) -> pl.LazyFrame:
    tails = "|".join(_escaped(form) for form in _unit_forms(field, spec))
    form = _NUMBER + (rf"\s*(?i:{tails})?$" if tails else "$")
    plain = pl.col("key").str.extract(form, 1)
    plain = pl.when(plain.str.contains(_DIGIT)).then(plain.str.replace_all("[, ]", ""))
    frame = frame.with_columns(plain=plain)
    if (units := _converted(field, spec)) is not None:
        scaled = partial(_scaled, unit=units[0], field=field)
        value = pl.col("plain").map_batches(scaled, return_dtype=dtype(field))
        frame = frame.with_columns(value=value, fraction=False)
    elif field.kind == "whole":
        point = pl.col("plain").str.replace(r"\.0+$", "")
        fraction = point.str.contains(".", literal=True).fill_null(False)
        frame = frame.with_columns(value=point.cast(pl.Int64, strict=False), fraction=fraction)
    else:
        frame = frame.with_columns(value=pl.col("plain").cast(pl.Float64, strict=False), fraction=False)
    value = pl.col("value")
    number = pl.col("plain").is_not_null()
    fault = (
        pl.when(~number & pl.col("key").str.contains(_POINT_AND_COMMA))
        .then(pl.lit("ambiguous"))
        .when(~number)
        .then(pl.lit("number"))
        .when(pl.col("fraction"))
        .then(pl.lit("fraction"))
        .when(value.is_null() | value.cast(pl.Float64).is_infinite())
        .then(pl.lit("too_large"))
    )
    frame = frame.with_columns(fault=fault, dropped=False)
    return frame.with_columns(value=pl.when(pl.col("fault").is_null()).then(value))


def _unit_forms(field: Field, spec: ColumnSpec) -> tuple[str, ...]:
    """How the unit may stand behind a number."""
    unit = spec.unit or field.unit
    return written_forms(unit) if unit and units_like(unit) else ()


def _converted(field: Field, spec: ColumnSpec) -> tuple[str, str] | None:
    """The unit written and the unit of the field, where the one has to be converted into the other."""
    if spec.unit is None or field.unit is None or spec.unit == field.unit:
        return None
    return spec.unit, field.unit


def _scaled(plain: pl.Series, unit: str, field: Field) -> pl.Series:
    """Exact conversion of distinct decimal texts; whole fields are rounded half to even."""
    size = factor(unit, field.unit or "")
    exact = (None if text is None or len(text) > 40 else Fraction(text) * size for text in plain.to_list())
    if field.kind == "whole":
        rounded = (None if number is None else round(number) for number in exact)
        return pl.Series([n if n is None or abs(n) < 2**62 else None for n in rounded], dtype=pl.Int64)
    return pl.Series([None if number is None else float(number) for number in exact], dtype=pl.Float64)


def _judge_date(frame: pl.LazyFrame, field: Field, spec: ColumnSpec) -> pl.LazyFrame:
    key = pl.col("key")
    if spec.date_form:
        form = spec.date_form
        clock = any(part in form for part in ("%H", "%I"))
        value = key.str.to_datetime(form, strict=False).dt.date() if clock else key.str.to_date(form, strict=False)
        shaped, dropped = key.str.contains(_DIGIT), pl.lit(False)
    else:
        day = key.str.extract(_ISO_DATE, 1)
        value, shaped, dropped = day.str.to_date("%Y-%m-%d", strict=False), day.is_not_null(), key.str.len_chars() > 10
    frame = frame.with_columns(value=value, shaped=shaped, dropped=dropped)
    year = pl.col("value").dt.year()
    fault = (
        pl.when(year < 100)
        .then(pl.lit("short_year"))
        .when(pl.col("value").is_null() & key.str.contains(_SHORT_YEAR))
        .then(pl.lit("short_year"))
        .when(pl.col("value").is_null() & pl.col("shaped") & pl.lit(spec.date_form is None))
        .then(pl.lit("impossible_date"))
        .when(pl.col("value").is_null())
        .then(pl.lit("date"))
        .when(~year.is_between(FIRST_YEAR, LAST_YEAR))
        .then(pl.lit("year"))
    )
    frame = frame.with_columns(fault=fault)
    good = pl.col("fault").is_null()
    return frame.with_columns(value=pl.when(good).then(pl.col("value")), dropped=good & pl.col("dropped"))


def _judge_time(frame: pl.LazyFrame, field: Field, spec: ColumnSpec) -> pl.LazyFrame:
    parts = pl.col("key").str.to_lowercase().str.extract_groups(_TIME)
    frame = frame.with_columns(
        h=parts.struct.field("h").cast(pl.Int64, strict=False),
        m=parts.struct.field("m").cast(pl.Int64, strict=False),
        s=parts.struct.field("s").cast(pl.Int64, strict=False).fill_null(0),
        half=parts.struct.field("half"),
    )
    h, half = pl.col("h"), pl.col("half")
    hour = pl.when(half.is_null()).then(h).when(half == "a").then(h % 12).otherwise(h % 12 + 12)
    hour_known = pl.when(half.is_null()).then(h.is_between(0, 23)).otherwise(h.is_between(1, 12))
    possible = (hour_known & pl.col("m").is_between(0, 59) & pl.col("s").is_between(0, 59)).fill_null(False)
    value = pl.when(possible).then(pl.time(hour, pl.col("m"), pl.col("s")))
    fault = pl.when(h.is_null()).then(pl.lit("time")).when(~possible).then(pl.lit("impossible_time"))
    return frame.with_columns(value=value, fault=fault, dropped=False)


def _fault(wrong: pl.Expr, name: str) -> pl.Expr:
    return pl.when(wrong).then(pl.lit(name))


def _escaped(form: str) -> str:
    return "".join(f"\\{c}" if c in ".'\"%" and c != "%" else c for c in form).replace(" ", r"\s+")


_JUDGES: Final = {
    "text": _judge_text,
    "class": _judge_class,
    "classes": _judge_classes,
    "number": _judge_number,
    "whole": _judge_number,
    "yes_no": _judge_yes_no,
    "date": _judge_date,
    "time": _judge_time,
}
