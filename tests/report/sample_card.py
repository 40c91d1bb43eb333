"""Load cards made by hand: one with every kind of way, and one as full as a page should hold."""

from __future__ import annotations

from datetime import date
from typing import Any

from auditor.report.card_model import (
    CARD_SCHEMA_NAME,
    Card,
    CardAxleLimit,
    CardFact,
    CardLeg,
    CardPaper,
    CardTiedowns,
    CardWay,
    LoadCards,
)

DAY = date(2026, 6, 12)
POSTED = CardFact(fact="legs.postings_checked", meaning="someone looked for posted roads and bridges on this leg")
FORMS = ("long logs lengthwise", "short logs lengthwise", "short logs crosswise")


def leg(number: int | None = 1, **fields: Any) -> CardLeg:
    base: dict[str, Any] = {
        "leg": number, "road": "State route 9", "state": "GA", "gross_limit_lb": 88_000.0, "source": "Code 1, (a)",
        "because": "Ten percent variance", "verified": "read", "governs": False, "open_facts": [],
    }  # fmt: skip
    return CardLeg(**(base | fields))


def way(destination: str = "CUTLER", **fields: Any) -> CardWay:
    base: dict[str, Any] = {
        "destination": destination, "products": ["sawlogs", "tree length"], "origin": "forest", "standing": "shown",
        "gross_lb": 72_450.0, "payload_lb": 44_170.0, "could_gross_lb": None, "open_facts": [], "left_open": [],
        "legs": [
            leg(2, gross_limit_lb=72_450.0, governs=True),
            leg(3, gross_limit_lb=72_450.0, governs=True, road="US 901"),
            leg(4, gross_limit_lb=80_000.0, road="Interstate", because="Gross weight on the Interstate"),
        ],
        "axle_limits": [
            CardAxleLimit(kind="steer axle", axles="1", limit_lb=20_000.0, because="Single axle", road="Interstate", state="GA", verified="read"),
            CardAxleLimit(kind="tandem", axles="2-3, 4-5", limit_lb=34_000.0, because="Tandem", road="Interstate", state="GA", verified="memory"),
        ],
    }  # fmt: skip
    return CardWay(**(base | fields))


def not_shown(destination: str = "BACK GATE") -> CardWay:
    return way(
        destination, standing="not shown", gross_lb=None, payload_lb=None, could_gross_lb=60_000.0, open_facts=[POSTED],
        legs=[leg(4, gross_limit_lb=None, because="Posted bridges", open_facts=[POSTED])], axle_limits=[],
    )  # fmt: skip


def tiedowns(needed: int | None = 3, note: str = "1 more than the usual set") -> list[CardTiedowns]:
    return [
        CardTiedowns(
            load_form=form, needed=needed, usual_kind="5/16-inch chain grade 70", working_load_limit_lb=4700.0,
            on_board=2, note=note, open_facts=[],
        )
        for form in FORMS
    ]  # fmt: skip


def card(*ways: CardWay, **fields: Any) -> Card:
    base: dict[str, Any] = {
        "job": "RIDGE-7", "title": "Ridge tract", "truck": "T11", "trailer": "L21", "on": DAY, "axle_count": 5,
        "usual_tare_lb": 28_280.0,
        "papers": [
            CardPaper(document="OL-5", kind="overlength permit", state="SC", valid_until=date(2027, 5, 3), valid=True, carried=False),
            CardPaper(document="INS-1", kind="insurance certificate", state="", valid_until=None, valid=None, carried=None),
        ],
        "ways": list(ways), "tiedowns": tiedowns(), "cautions": ["Axles have limits of their own."],
    }  # fmt: skip
    return Card(**(base | fields))


def cards(*given: Card) -> LoadCards:
    return LoadCards(schema_name=CARD_SCHEMA_NAME, engine_version="0", on=DAY, cards=list(given), rules=[])
