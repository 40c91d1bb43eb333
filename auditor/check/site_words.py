"""What a place of the harvest site is and where, in a few words made of its row: "left side of BLACKGUM, perennial, 600 ft"."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from auditor.vocabulary.quantities import day_text, quantity_text

Row = Mapping[str, Any]

_SIDES = {"left": "left side of {}", "right": "right side of {}", "head": "head of {}", "all_round": "all round {}"}


def where_of(table: str, row: Row, streams: Mapping[str, Row]) -> str:
    """The words for one row of a table that reports count by; what is blank is left out. `streams`: name -> its row."""
    known = streams.get(str(row.get("stream")), {})
    return ", ".join(said for said in _SAID[table](row, known) if said)


def spoken(word: object) -> str:
    """A class as it is said: "skid trail"; empty where it is blank."""
    return "" if word is None else str(word).replace("_", " ")


def _much(value: float | None, unit: str) -> str:
    return "" if value is None else quantity_text(value, unit)


def _with(text: str, value: object) -> str:
    """The text with what is known in it; empty where that is blank."""
    said = spoken(value) if not isinstance(value, float) else _much(value, "ft")
    return text.format(said) if said else ""


def _named(text: str, name: object) -> str:
    """The text with a name of the record in it, as it stands there."""
    return "" if name is None else text.format(name)


def _stream(row: Row, _: Row) -> list[str]:
    kind = spoken(row["kind"]) or "water"
    return [f"{spoken(row['stream_class'])} {kind}".strip(), _with("{} wide", row["width_ft"])]


def _bank(row: Row, stream: Row) -> list[str]:
    side = _SIDES.get(str(row["side"]), "beside {}")
    return [side.format(row["stream"]), spoken(stream.get("stream_class")), _much(row["length_ft"], "ft")]


def _crossing(row: Row, stream: Row) -> list[str]:
    return [f"{spoken(row['crossing_type'])} on {row['stream']}", spoken(stream.get("stream_class"))]


def _disturbance(row: Row, _: Row) -> list[str]:
    return [spoken(row["kind"]), _named("by {}", row["bank"]), _with("at {}", row["along_ft"])]


def _segment(row: Row, _: Row) -> list[str]:
    return [spoken(row["kind"]), _much(row["length_ft"], "ft")]


def _rut(row: Row, _: Row) -> list[str]:
    on = _named("on {}", row["segment"]) or _named("by {}", row["bank"])
    return [_with("{} long", row["length_ft"]), on, _with("at {}", row["along_ft"])]


def _deck(row: Row, _: Row) -> list[str]:
    return ["log deck", _named("nearest to {}", row["bank"]), _much(row["area_acres"], "acre")]


def _seeding(row: Row, _: Row) -> list[str]:
    at = next((row[k] for k in ("segment", "deck", "crossing") if row[k] is not None), None)
    return [spoken(row["species"]), _named("on {}", at)]


def _tank(row: Row, _: Row) -> list[str]:
    return [spoken(row["contents"]), _much(row["capacity_gal"], "gal"), _named("nearest to {}", row["bank"])]


def _spill(row: Row, _: Row) -> list[str]:
    on = row["occurred_on"]
    return [spoken(row["substance"]), _much(row["volume_gal"], "gal"), "" if on is None else day_text(on)]


def _notice(row: Row, _: Row) -> list[str]:
    return [spoken(row["kind"]), _with("given to {}", row["given_to"])]


def _stand(row: Row, _: Row) -> list[str]:
    return [spoken(row["treatment"]), _much(row["area_acres"], "acre")]


def _observation(row: Row, _: Row) -> list[str]:
    return [spoken(row["question"]), _named(spoken(row["place_kind"]) + " {}", row["place"])]


_SAID: Mapping[str, Callable[[Row, Row], list[str]]] = {
    "job": lambda row, stream: ["the job as a whole"],
    "streams": _stream, "banks": _bank, "disturbances": _disturbance, "crossings": _crossing, "segments": _segment,
    "ruts": _rut, "decks": _deck, "seedings": _seeding, "tanks": _tank, "spills": _spill, "notices": _notice,
    "stands": _stand, "observations": _observation,
}  # fmt: skip
