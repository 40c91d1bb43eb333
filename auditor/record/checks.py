"""What rows of a record must be to one another: unique keys, references that lead somewhere, sums that can be."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Final

import polars as pl

from auditor.record.faults import Words, folded
from auditor.record.raw import RawTable
from auditor.record.site_map import SiteMap
from auditor.record.tables import ROW, SOURCE
from auditor.vocabulary import TABLES, nearest
from auditor.vocabulary.maps import BANK_SIDES, TABLE_LAYERS
from auditor.vocabulary.model import Field, Table
from auditor.vocabulary.problems import Problem

Broken = Collection[tuple[str, str]]
"""Job and table of sources that could not be read: nothing is said about what they might have held."""

# Table, the field that must not be the greater one, and the field that must not be the smaller one.
_IN_ORDER: Final = (
    ("job", "operation_start", "operation_end"),
    ("documents", "valid_from", "valid_until"),
    ("loads", "tare_weight_lb", "gross_weight_lb"),
    ("axle_weights", "first_axle", "last_axle"),
    ("stacks", "shortest_log_ft", "longest_log_ft"),
    ("stations", "stretch_from_ft", "stretch_to_ft"),
    ("plots", "strip_from_ft", "strip_to_ft"),
    ("plots", "overstory_left_count", "overstory_before_count"),
    ("plots", "densiometer_filled_count", "densiometer_read_count"),
    ("crossings", "installed_on", "removed_on"),
    ("pitches", "from_ft", "to_ft"),
    ("ruts", "mean_depth_in", "deepest_in"),
    ("stands", "least_basal_area_ft2_per_ac", "most_basal_area_ft2_per_ac"),
    ("stands", "least_trees_per_ac", "most_trees_per_ac"),
    ("stands", "uncut_wetland_count", "wetland_count"),
    ("stand_plots", "damaged_tree_count", "tree_count"),
)
_MOST_SUGGESTIONS: Final = 200
_BARE: Final = ("destinations", "")


def check_tables(
    frames: dict[str, pl.DataFrame],
    raws: Sequence[RawTable],
    broken: Broken,
    maps: Mapping[str, SiteMap] | None = None,
) -> list[Problem]:
    """Every problem between rows and tables, of all jobs in one pass. A row may name what only the map of its job holds."""
    problems: list[Problem] = []
    suggest = _Suggestions()
    lost = lost_references(frames, drawn_names(maps or {}))
    for table in TABLES.values():
        frame = frames[table.name]
        if frame.height == 0:
            continue
        problems += _one_of(table, frame, raws)
        problems += _keys(table, frame, raws)
        for field in table.fields:
            if (rows := lost.get((table.name, field.name))) is not None:
                problems += _references(field, rows, frames[field.refers_to or ""], raws, broken, suggest)
    for name, low, high in _IN_ORDER:
        problems += _in_order(frames[name], low, high, raws)
    problems += _axle_positions(frames["axles"], raws)
    problems += _legs(lost.get(_BARE), raws, broken)
    return problems


def drawn_names(maps: Mapping[str, SiteMap]) -> dict[str, pl.DataFrame]:
    """Table -> `job` and `name` of what the maps hold for it; a name told apart by "#2" also without it.

    Of the banks of a water every side is among them, whether or not the map will make it.
    """
    plain = pl.col("name").str.replace(r"#\d+$", "")
    found: dict[str, pl.DataFrame] = {}
    for table, layers in TABLE_LAYERS.items() if maps else ():
        names = pl.concat([site.layers[layer].select("job", "name") for site in maps.values() for layer in layers])
        found[table] = pl.concat([names, names.with_columns(plain)]).drop_nulls("name").unique()
    if maps:
        sides = pl.DataFrame({"_side": BANK_SIDES})
        banks = found["streams"].join(sides, how="cross")
        found["banks"] = banks.select("job", pl.format("{} {}", "name", "_side").alias("name"))
    return found


def lost_references(
    frames: Mapping[str, pl.DataFrame], drawn: Mapping[str, pl.DataFrame]
) -> dict[tuple[str, str], pl.DataFrame]:
    """Rows by table and field whose reference leads nowhere within the job; only where there are any.

    `drawn` are the names of `drawn_names`, which count as keys. Under `("destinations", "")` the destinations without
    legs. All are looked for together: one query each would cost more.
    """
    asked: dict[tuple[str, str], pl.LazyFrame] = {}
    for table in TABLES.values():
        frame = frames[table.name]
        for field in table.fields:
            if field.refers_to and frame.height and frame[field.name].null_count() < frame.height:
                asked[table.name, field.name] = _without(
                    frame, field.name, frames[field.refers_to], TABLES[field.refers_to].key[0],
                    drawn.get(field.refers_to),
                )  # fmt: skip
    if frames["destinations"].height:
        asked[_BARE] = _without(frames["destinations"], "destination", frames["legs"], "destination")
    found = zip(asked, pl.collect_all(list(asked.values()), engine="in-memory"), strict=True)
    return {key: rows for key, rows in found if rows.height}


def _without(
    frame: pl.DataFrame, name: str, target: pl.DataFrame, key: str, drawn: pl.DataFrame | None = None
) -> pl.LazyFrame:
    """The rows whose value, if any, is not among the keys of the same job."""
    present = frame.lazy().filter(pl.col(name).is_not_null())
    keys = target.lazy().select("job", pl.col(key).alias(name))
    if drawn is not None:
        keys = pl.concat([keys, drawn.lazy().select("job", pl.col("name").alias(name))])
    return present.join(keys, on=["job", name], how="anti", maintain_order="left")


def _say(
    wrong: pl.DataFrame, name: str, raws: Sequence[RawTable], words: Callable[[dict[str, object]], Words]
) -> list[Problem]:
    """Problems for offending rows; `words` is called for the first rows of each source only."""
    problems: list[Problem] = []
    if wrong.height == 0:
        return problems
    for (source,), rows in wrong.group_by(SOURCE, maintain_order=True):
        said = [words(row) for row in rows.head(20).iter_rows(named=True)]
        problems += folded(raws[int(str(source))].place, name, rows[ROW], said)
    return problems


def _one_of(table: Table, frame: pl.DataFrame, raws: Sequence[RawTable]) -> list[Problem]:
    if not table.one_of:
        return []
    name = " or ".join(table.one_of)
    silent = [i for i, raw in enumerate(raws) if name in raw.absent]
    count = pl.sum_horizontal([pl.col(f).is_not_null().cast(pl.Int8) for f in table.one_of])
    filled = frame.select(_filled=count).to_series()
    if not (filled != 1).any():
        return []
    wrong = frame.with_columns(filled).filter((pl.col("_filled") != 1) & ~pl.col(SOURCE).is_in(silent))

    def words(row: dict[str, object]) -> Words:
        if row["_filled"] == 0:
            return "neither", f"exactly one of {' and '.join(table.one_of)}", "Fill in one of the two."
        return "both", f"exactly one of {' and '.join(table.one_of)}", "Leave one of the two blank."

    none, both = wrong.filter(pl.col("_filled") == 0), wrong.filter(pl.col("_filled") > 1)
    return _say(none, name, raws, words) + _say(both, name, raws, words)


def _keys(table: Table, frame: pl.DataFrame, raws: Sequence[RawTable]) -> list[Problem]:
    """Rows whose key was there before in the same job. Jobs themselves are compared where they are read."""
    if table.name == "job":
        return []
    key = ["job", *table.key]
    twice = frame[key].is_duplicated()
    if not twice.any():
        return []
    needed = [name for name in table.key if (field := table.field(name)) is not None and field.required]
    repeated = frame.filter(twice)
    for name in needed:
        repeated = repeated.filter(pl.col(name).is_not_null())
    if repeated.height == 0:
        return []
    first = [pl.col(SOURCE).first().over(key).alias("_first_source"), pl.col(ROW).first().over(key).alias("_first_row")]
    nth = pl.int_range(pl.len()).over(key)
    again = repeated.with_columns(*first, nth.alias("_nth")).filter(pl.col("_nth") > 0)

    def words(row: dict[str, object]) -> Words:
        place = raws[int(str(row["_first_source"]))].place
        same = place.label == raws[int(str(row[SOURCE]))].place.label
        at = place.at(int(str(row["_first_row"]))) + ("" if same else f" of {place.file}")
        shown = ", ".join(f"{name} {row[name]}" for name in table.key if row[name] is not None)
        return f"{shown} again, first in {at}", "each key once in a job", "Correct one of the two, or take it out."

    return _say(again, "", raws, words)


class _Suggestions:
    """Nearest keys, for the first few problems only: looking for them is slow."""

    def __init__(self) -> None:
        self._left = _MOST_SUGGESTIONS

    def near(self, value: str, target: pl.DataFrame, key: str, job: str) -> str | None:
        """The key of that job most like the value."""
        if self._left == 0:
            return None
        self._left -= 1
        known = target.filter(pl.col("job") == job)[key].drop_nulls().head(2000).to_list()
        like = nearest(value, known, 1)
        return like[0] if like else None


def _references(
    field: Field,
    lost: pl.DataFrame,
    target: pl.DataFrame,
    raws: Sequence[RawTable],
    broken: Broken,
    suggest: _Suggestions,
) -> list[Problem]:
    """Values of `lost` rows, which are no key of the table they refer to."""
    name = field.refers_to or ""
    key = TABLES[name].key[0]
    unread = [job for job, table in broken if table == name]
    lost = lost.filter(~pl.col("job").is_in(unread))

    def words(row: dict[str, object]) -> Words:
        value, job = str(row[field.name]), str(row["job"])
        like = suggest.near(value, target, key, job)
        todo = f"Did you mean {like}?" if like else f"Add it to {name}, or correct it here."
        return f'"{value}"', f"a {key} of the table {name}", todo

    return _say(lost, field.name, raws, words)


def _in_order(frame: pl.DataFrame, low: str, high: str, raws: Sequence[RawTable]) -> list[Problem]:
    below = frame[high] < frame[low]
    if not below.any():
        return []
    wrong = frame.filter(below)

    def words(row: dict[str, object]) -> Words:
        return f"{_shown(row[high])}, below {low} {_shown(row[low])}", f"at least {low}", "Correct one of the two."

    return _say(wrong, high, raws, words)


def _shown(value: object) -> str:
    return f"{value:,}" if isinstance(value, int | float) else str(value)


def _axle_positions(axles: pl.DataFrame, raws: Sequence[RawTable]) -> list[Problem]:
    """Axles of one combination that do not lie farther back than the one before."""
    if axles.height == 0:
        return []
    unit = ["job", "truck", "trailer"]
    known = axles.filter(pl.col("position_ft").is_not_null() & pl.col("axle").is_not_null())
    known = known.sort([*unit, "axle"], maintain_order=True, nulls_last=True)
    before = [pl.col(name).shift(1).over(unit).alias(f"_{name}") for name in ("position_ft", "axle")]
    wrong = known.with_columns(before).filter(
        (pl.col("position_ft") <= pl.col("_position_ft")) & (pl.col("axle") > pl.col("_axle"))
    )

    def words(row: dict[str, object]) -> Words:
        found = f"{row['position_ft']:g} ft for axle {row['axle']}"
        expected = f"more than the {row['_position_ft']:g} ft of axle {row['_axle']}"
        return found, expected, "Measure every position from the steer axle, and number axles from the front."

    return _say(wrong.sort(SOURCE, ROW), "position_ft", raws, words)


def _legs(bare: pl.DataFrame | None, raws: Sequence[RawTable], broken: Broken) -> list[Problem]:
    if bare is None:
        return []
    bare = bare.filter(~pl.col("job").is_in([job for job, table in broken if table == "legs"]))

    def words(row: dict[str, object]) -> Words:
        found = f"no leg to {row['destination']}"
        return found, "at least one row of legs for each destination", "Say in legs which roads lead there."

    return _say(bare, "destination", raws, words)
