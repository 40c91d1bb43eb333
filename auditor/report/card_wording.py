"""The words of a load card, for the terminal and for paper alike."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import ROUND_FLOOR, Decimal

from auditor.report import wording as say
from auditor.report.card_model import Card, CardAxleLimit, CardFact, CardLeg, CardPaper, CardWay, Verified

TITLE = "Load card"
_MARKS: dict[Verified, str] = {"read": "", "secondary": "second-hand", "memory": "LIMIT UNCONFIRMED"}


def combination(card: Card) -> str:
    """Truck and trailer: "T11 with L21"."""
    return f"{card.truck} with {card.trailer}" if card.trailer else card.truck


def vehicle(card: Card) -> str:
    """Axles and usual tare."""
    axles = "axles not recorded" if card.axle_count is None else say.count(card.axle_count, "axle")
    tare = "usual tare not recorded" if card.usual_tare_lb is None else f"usual tare {weight(card.usual_tare_lb)}"
    return f"{axles}; {tare}"


def pounds(value: float | None) -> str:
    """Whole pounds: "88,000 lb"."""
    return say.measured(value, "lb")


def tons(value: float | None) -> str:
    """Short tons to a hundredth, as a scale ticket has them; never more than the pounds say.

    >>> tons(72450), tons(88000)
    ('36.22 tons', '44.00 tons')
    """
    if value is None:
        return say.NOTHING
    return f"{(Decimal(repr(value)) / say.LB_PER_TON).quantize(Decimal('0.01'), ROUND_FLOOR):,f} tons"


def weight(value: float | None) -> str:
    """Pounds and tons: "88,000 lb (44.00 tons)"."""
    return f"{pounds(value)} ({tons(value)})"


def load(way: CardWay) -> str:
    """What is hauled: "tree length, pulpwood, from the forest"."""
    what = ", ".join(way.products) or "product not recorded"
    return f"{what}, from the {way.origin}" if way.origin else what


def gross(way: CardWay) -> str:
    """The large figure."""
    if way.standing == "shown":
        return pounds(way.gross_lb)
    return "NO LIMIT FOUND" if way.standing == "no limit" else "NOT SHOWN"


def mark(verified: Verified) -> str:
    """How a limit is known, where that must be said: second-hand or unconfirmed."""
    return _MARKS[verified]


def doubt(way: CardWay) -> str:
    """The mark beside the figure where a limit that governs is unconfirmed; else empty."""
    return mark("memory") if any(leg.governs and leg.verified == "memory" for leg in way.legs) else ""


def governs(way: CardWay) -> list[str]:
    """What sets the gross, each limit once with its roads; for a way without a figure, why it has none."""
    if way.standing == "no limit":
        return ["No rule of the rule files limits the gross weight on this way."]
    if way.standing == "not shown":
        return ["The records do not show what this combination may gross."]
    return [_stretch(legs, with_limit=False) for legs in _together(leg for leg in way.legs if leg.governs)]


def others(way: CardWay) -> list[str]:
    """The other roads, each limit once, the lowest first; those that are not shown before all."""
    rest = _together(leg for leg in way.legs if not leg.governs)
    rest.sort(key=lambda legs: (legs[0].because == _NO_LIMIT, legs[0].gross_limit_lb or 0.0))
    return [_stretch(legs, with_limit=True) for legs in rest]


_NO_LIMIT = "no gross limit in the rule files"


def _together(legs: Iterable[CardLeg]) -> list[list[CardLeg]]:
    found: dict[tuple[object, ...], list[CardLeg]] = {}
    for leg in legs:
        found.setdefault((leg.state, leg.gross_limit_lb, leg.because, leg.verified), []).append(leg)
    return list(found.values())


def _stretch(legs: list[CardLeg], with_limit: bool) -> str:
    first = legs[0]
    roads = ", ".join(dict.fromkeys(leg.road for leg in legs))
    said = f"{roads} ({first.state})"
    if with_limit and first.gross_limit_lb is not None:
        said += f" {pounds(first.gross_limit_lb)}"
    elif with_limit and first.because != _NO_LIMIT:
        return f"{said} not shown"
    noted = mark(first.verified)
    return f"{said}: {first.because}" + (f", {noted}" if noted else "")


def could(way: CardWay) -> str:
    """What it could be up to, and the facts to fill in; empty where nothing is open."""
    asked = facts(way.open_facts)
    if not asked:
        return ""
    where = _open_roads(way)
    on = f" for {where}" if where else ""
    if way.could_gross_lb is None:
        return f"To be shown, the record must say{on}: {asked}"
    return f"Up to {weight(way.could_gross_lb)} if the record shows it. Missing{on}: {asked}"


def facts(open_facts: Iterable[CardFact]) -> str:
    """Blank facts in words, each with its field."""
    return "; ".join(f"{fact.meaning} [{fact.fact}]" for fact in open_facts)


def _open_roads(way: CardWay) -> str:
    """The roads on which the missing facts stand in the way."""
    missing = {fact.fact for fact in way.open_facts if fact.fact.startswith("legs.")}
    stopped = [
        f"leg {leg.leg}, {leg.road}"
        for leg in way.legs
        if leg.leg is not None and missing & {f.fact for f in leg.open_facts}
    ]
    return "; ".join(stopped)


def axles(way: CardWay) -> str:
    """What each kind of axle may carry: "steer axle 20,000 lb; tandem (2-3, 4-5) 34,000 lb"."""
    return "; ".join(axle_lines(way))


def axle_lines(way: CardWay) -> list[str]:
    """The same one by one."""
    return [_axle(limit) for limit in way.axle_limits]


def _axle(limit: CardAxleLimit) -> str:
    which = limit.kind if limit.kind == "steer axle" else f"{limit.kind} ({limit.axles})"
    if limit.limit_lb is None:
        return f"{which} not shown"
    return f"{which} {pounds(limit.limit_lb)}" + (f" ({mark('memory')})" if limit.verified == "memory" else "")


def axle_places(way: CardWay) -> str:
    """Where the axle limits of a way come from, each once."""
    known = [limit for limit in way.axle_limits if limit.limit_lb is not None]
    said = (", ".join(w for w in (f"{x.because} on {x.road} ({x.state})", mark(x.verified)) if w) for x in known)
    return "; ".join(dict.fromkeys(said))


def no_tiedowns(card: Card) -> str:
    """Why a card counts no tiedowns."""
    if not any(way.payload_lb is not None for way in card.ways):
        return "Not counted: no payload is shown that they would have to hold."
    return "Not counted: the record does not say which tiedowns the truck usually carries."


def tiedown_kind(card: Card) -> str:
    """The usual kind of tiedown with its working load limit and how many are on board."""
    first = card.tiedowns[0]
    each = "" if first.working_load_limit_lb is None else f", {pounds(first.working_load_limit_lb)} each"
    held = "number on board not recorded" if first.on_board is None else f"{first.on_board} on board"
    return f"{first.usual_kind}{each}; {held}"


def tiedown_rows(card: Card) -> list[tuple[str, str, str]]:
    """How many are needed, for which load forms, and what is to be said beside it; equal answers as one."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in card.tiedowns:
        needed = "not shown" if one.needed is None else "none" if one.needed == 0 else str(one.needed)
        asked = facts(one.open_facts)
        note = "; ".join(w for w in (one.note, f"missing: {asked}" if asked else "") if w)
        found.setdefault((needed, note), []).append(one.load_form)
    return [(needed, "; ".join(forms), note) for (needed, note), forms in found.items()]


def paper(held: CardPaper) -> str:
    """A paper with its state, its last day, and whether it is in the vehicle."""
    name = " ".join(w for w in (held.state, held.kind, held.document) if w)
    until = f"until {say.short_day(held.valid_until)}" if held.valid_until is not None else "last day not recorded"
    dates = until if held.valid else f"dates do not show that it holds, {until}"
    carried = {True: "carried", False: "NOT in the vehicle", None: "not recorded whether carried"}[held.carried]
    return f"{name}: {dates}; {carried}"


def sources(card: Card) -> list[str]:
    """Where the limits come from, each instrument once."""
    return sorted({leg.source for way in card.ways for leg in way.legs if leg.source})
