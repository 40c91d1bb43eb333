"""Words for many rows at once: numbers, places on a load and remedies as polars expressions."""

from __future__ import annotations

import polars as pl

from auditor.vocabulary.quantities import BARE, INCH_DOUBT, ONE_DECIMAL, SPOKEN, WHOLE_POUNDS_FROM

POUNDS_PER_SHORT_TON = 2000
_PAPERS = {"ticket_missing_count": "ticket", "notice_missing_count": "notice"}
"""Counts of what a paper does not show, and the word for the paper."""


def number(value: pl.Expr) -> pl.Expr:
    """A number with thousands separators and three decimals at most: "84,320", "13.5", "-2", "0.167"."""
    thousandths = (value.abs() * 1000).round(0).cast(pl.Int64)
    whole, rest = thousandths // 1000, thousandths % 1000
    decimals = pl.format(".{}", rest.cast(pl.String).str.zfill(3)).str.strip_chars_end("0")
    sign = pl.when(value < 0).then(pl.lit("-")).otherwise(pl.lit(""))
    return pl.format("{}{}{}", sign, _thousands(whole), pl.when(rest == 0).then(pl.lit("")).otherwise(decimals))


def _thousands(whole: pl.Expr) -> pl.Expr:
    last = (whole % 1000).cast(pl.String).str.zfill(3)
    middle = (whole // 1000 % 1000).cast(pl.String)
    large = pl.format("{},{},{}", whole // 1_000_000, middle.str.zfill(3), last)
    medium = pl.format("{},{}", middle, last)
    return pl.when(whole >= 1_000_000).then(large).when(whole >= 1000).then(medium).otherwise(whole.cast(pl.String))


def unit(value: pl.Expr, unit: pl.Expr) -> pl.Expr:
    """The unit as it is said beside a value: "flag" beside 1, "flags" beside 2; null for a bare number."""
    one = unit.replace({u: said[0] for u, said in SPOKEN.items()}).str.strip_suffix("s")
    many = unit.replace({u: said[1] for u, said in SPOKEN.items()})
    return pl.when(~unit.is_in(list(BARE))).then(pl.when(value.abs() == 1).then(one).otherwise(many))


def rounded(value: pl.Expr, of: pl.Expr, up: pl.Expr) -> pl.Expr:
    """Figures as `auditor.vocabulary.quantities.rounded` shows them, with the side to round to."""
    hundredths, inches = (value * 100).round(4), value * 12
    recorded = (hundredths == hundredths.round(0)) | (
        (of == "ft") & ((inches - inches.round(0)).abs() < float(INCH_DOUBT))
    )
    pounds = (of == "lb") & (value.abs() >= WHOLE_POUNDS_FROM)
    scale = pl.when(pounds).then(1).when(recorded).then(100).when(of.is_in(list(ONE_DECIMAL))).then(10).otherwise(1000)
    # Six decimals, so that the noise of computing pushes no figure over an edge.
    steps = (value.round(6) * scale).round(4)
    return pl.when(up).then(steps.ceil()).otherwise(steps.floor()) / scale


def above_limit() -> pl.Expr:
    """Whether a row lies above its limit: what is found is then rounded up and the limit down, else the other way."""
    return pl.col("measured") > pl.col("limit")


def found() -> pl.Expr:
    """What was found on a row, rounded away from its limit."""
    return rounded(pl.col("measured"), pl.col("unit"), above_limit())


def allowed() -> pl.Expr:
    """The limit of a row, rounded away from what was found."""
    return rounded(pl.col("limit"), pl.col("unit"), ~above_limit())


def off_by(margin: pl.Expr, of: pl.Expr) -> pl.Expr:
    """How far off a row is, rounded up: who mends so much is inside."""
    return rounded(margin, of, pl.lit(True))


def quantity(value: pl.Expr, of: pl.Expr) -> pl.Expr:
    """A number with its unit: "84,320 lb", "1 flag"; bare where there is no unit."""
    return joined([number(value), unit(value, of)])


def joined(parts: list[pl.Expr], separator: str = " ") -> pl.Expr:
    """The parts that are not null, with a separator between them; empty when there is none."""
    return pl.concat_str(parts, separator=separator, ignore_nulls=True)


def part_of_subject() -> pl.Expr:
    """Which part of a load or place a row is: "axles 2-3 on State route 14 (GA)", "station 4 at 150 ft"; "" for the whole."""
    first, last = pl.col("first_axle"), pl.col("last_axle")
    axles = (
        pl.when(first == last)
        .then(pl.format("axle {}", first))
        .when(first.is_not_null())
        .then(pl.format("axles {}-{}", first, last))
    )
    road = pl.coalesce("road_name", pl.col("road_class").cast(pl.String).str.replace_all("_", " "), pl.lit("a road"))
    state = pl.col("state").cast(pl.String).str.strip_prefix("US-")
    leg = pl.when(pl.col("leg").is_not_null()).then(pl.format("on {} ({})", road, state))
    stack = pl.when(pl.col("stack").is_not_null()).then(pl.format("stack {}", "stack"))
    line = pl.when(pl.col("tiedown").is_not_null()).then(pl.format("tiedown line {}", "tiedown"))
    return joined([joined([axles, stack, line, leg], " ").replace("", None), *_part_of_site()], ", ")


def _part_of_site() -> list[pl.Expr]:
    """Where along a bank, a road or a crossing a row is."""

    def said(text: str, *columns: str) -> pl.Expr:
        known = pl.all_horizontal(pl.col(c).is_not_null() for c in columns)  # nulls: is_not_null has none
        return pl.when(known).then(pl.format(text, *(_place(c) for c in columns)))

    stretch = said("{} to {} ft", "from_ft", "to_ft")
    along = pl.when(stretch.is_null()).then(said("at {} ft", "along_ft"))
    return [
        said("station {}", "station"), said("strip {} to {} ft from the bank", "strip_from_ft", "strip_to_ft"),
        said("stump {}", "stump"), said("pipe {}", "pipe"), said("drain {}", "drain"),
        pl.when(pl.col("drain_group") != "all").then(said("{}", "drain_group")), along, stretch,
        said("{}", "notice_kind"), said("{}", "question"), said("{} {}", "place_kind", "place"),
        pl.when(pl.col("side").is_not_null()).then(pl.format("{} side", pl.col("side").cast(pl.String).str.replace_all("_", " "))),
        said("of {}", "stream"),
    ]  # fmt: skip


def _place(column: str) -> pl.Expr:
    if column.endswith("_ft"):
        return number(pl.col(column).round(0))
    return pl.col(column).cast(pl.String).str.replace_all("_", " ")


def evidence() -> pl.Expr:
    """Where a row stands in the record: "mill.xlsx, sheet Tickets, row 9"."""
    sheet = pl.when(pl.col("_sheet").is_not_null()).then(pl.format("sheet {}", "_sheet"))
    row = pl.when(pl.col("_row").is_not_null()).then(pl.format("row {}", "_row"))
    return joined([pl.col("_file"), sheet, row], ", ")


def remedy() -> pl.Expr:
    """What would bring a row inside: pounds and tons off, tiedowns to add, a paper to show; "" without a number."""
    margin, of, op = pl.col("margin"), pl.col("unit"), pl.col("op")
    limit = quantity(allowed(), of)
    much = quantity(off_by(margin, of), of)
    tons = (margin / POUNDS_PER_SHORT_TON).round(1)
    off = pl.format("{} lb off", number(margin.ceil()))
    pounds = pl.when(tons > 0).then(pl.format("{} (about {} short tons)", off, number(tons))).otherwise(off)
    less = pl.when(of == "lb").then(pounds).otherwise(pl.format("{} less", much))
    less = pl.when(margin == 0).then(pl.format("less than {}", limit)).otherwise(less)
    paper = pl.when(pl.col("would_title").is_not_null()).then(pl.format("; or show the paper: {}", "would_title"))
    weakest = pl.col("weakest_tiedown_wll_lb")
    count = (margin / weakest).ceil()
    add = pl.format("{} more of the tiedowns on board ({} lb each), or stronger ones", number(count), number(weakest))
    sums = pl.col("column").str.ends_with("aggregate_wll_lb") & (weakest > 0)
    more = pl.when(sums).then(add).otherwise(pl.format("{} more", much))
    more = pl.when(margin == 0).then(pl.format("more than {}", limit)).otherwise(more)
    more = pl.when(pl.col("column") == "gap_ft").then(_drains_lacking()).otherwise(more)
    less = pl.when(pl.col("column") == "gap_ft").then(_drains_lacking()).otherwise(less)
    above = op.is_in(["at_most", "less_than"]) | ((op == "equals") & (pl.col("measured") > pl.col("limit")))
    text = pl.when(above).then(pl.concat_str([less, paper.fill_null("")])).otherwise(more)
    text = pl.coalesce(_lacking("Add to the {}: {}", _paper(), pl.col("missing_contents")), text)
    return pl.when(margin.is_not_null()).then(text).otherwise(pl.lit(""))


def _paper() -> pl.Expr:
    """The paper whose contents were counted; null for another column."""
    return pl.col("column").replace_strict(_PAPERS, default=None, return_dtype=pl.String)


def _lacking(text: str, *parts: pl.Expr) -> pl.Expr:
    """A text on what a paper does not show; null where that is not what the row is about."""
    known = _paper().is_not_null() & (pl.col("missing_contents") != "")
    return pl.when(known).then(pl.format(text, *parts))


def _drains_lacking() -> pl.Expr:
    """How many drains a stretch lacks, and where they would stand evenly spread: "1 more drain, at 195 ft"."""
    count = (pl.col("measured") / pl.col("limit") - 1e-9).ceil().cast(pl.Int64) - 1
    step = (pl.col("to_ft") - pl.col("from_ft")) / (count + 1)
    places = pl.int_ranges(1, count + 1).cast(pl.List(pl.Float64)) * step + pl.col("from_ft")
    shown = places.list.eval(pl.element().round(0).cast(pl.Int64).cast(pl.String)).list.join(", ")
    return pl.format(
        "{} more {}, at {} ft", count, pl.when(count == 1).then(pl.lit("drain")).otherwise(pl.lit("drains")), shown
    )


def worst_case() -> pl.Expr:
    """A row in one line: "ticket 4711: axles 2-3 on State route 14 (GA), 36,400 lb, at most 34,000 lb"."""
    of = pl.col("unit")
    values = pl.format("{}, {} {}", quantity(found(), of), "boundary", quantity(allowed(), of))
    what = pl.when(pl.col("what") != "").then(pl.col("what"))
    word = pl.col("found").replace({"true": "yes", "false": "no"}).str.replace_all("_", " ")
    said = pl.format("{}: {}", pl.col("column").str.replace_all("_", " "), word)
    shown = pl.when(pl.col("margin").is_not_null()).then(values).otherwise(said)
    shown = pl.coalesce(_lacking("lacks {}", pl.col("missing_contents")), shown)
    rest = joined([what, shown], ", ")
    name = pl.format("{} {}", "called", "subject")
    return pl.when(rest == "").then(name).otherwise(pl.format("{}: {}", name, rest))
