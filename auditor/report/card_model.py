"""What a load card holds: for each truck and destination, what the combination may gross on a day, leg by leg."""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import Field

from auditor.report.model import Part

CARD_SCHEMA_NAME: Literal["load card 1"] = "load card 1"

Standing = Literal["shown", "not shown", "no limit"]
Verified = Literal["read", "secondary", "memory"]


class CardFact(Part):
    """A fact that is blank, and what it means in words."""

    fact: str = Field(description="table.field of the record; several where any of them would help")
    meaning: str


class CardLeg(Part):
    """One stretch of road and the lowest gross limit that the records show for this combination on it."""

    leg: int | None = Field(description="null: it holds for the whole way, wherever the truck is")
    road: str
    state: str
    gross_limit_lb: float | None = Field(description="null where no limit is shown")
    because: str = Field(description="the requirement, allowance or posting that stops the next heavier load")
    source: str = Field(description="instrument and paragraph; empty where nothing stops it")
    verified: Verified = Field(description="how well it is known; memory: limit unconfirmed")
    governs: bool = Field(description="the lowest of the way")
    open_facts: list[CardFact] = Field(description="blank facts that leave open whether more is allowed")


class CardAxleLimit(Part):
    """What one kind of axle may carry, the least over every leg of the way."""

    kind: Literal["steer axle", "single axle", "tandem"]
    axles: str = Field(description="their numbers from the front: 2-3, 4-5")
    limit_lb: float | None = Field(description="null where the records do not show it")
    because: str
    road: str = Field(description="road of the way on which it is least, the first of equals")
    state: str
    verified: Verified


class CardTiedowns(Part):
    """How many tiedowns of the usual kind one form of load needs at the heaviest payload of the card."""

    load_form: str
    needed: int | None = Field(description="null where the records do not settle it")
    usual_kind: str
    working_load_limit_lb: float | None = Field(description="of one; null where it is not known")
    on_board: int | None = Field(description="in the truck's usual set; null where the record does not say")
    note: str
    open_facts: list[CardFact] = Field(description="blank facts that keep the number open")


class CardPaper(Part):
    """A paper that covers the truck and is valid on the day, or whose dates are blank."""

    document: str
    kind: str
    state: str
    valid_until: date | None
    valid: bool | None = Field(description="null where its dates do not say")
    carried: bool | None = Field(description="in the vehicle")


class CardWay(Part):
    """One destination from one truck's point of view, for products whose limits are the same."""

    destination: str
    products: list[str] = Field(description="empty where the record names none for this destination")
    origin: str = Field(description="where the haul begins: forest, yard, mill; empty where not recorded")
    standing: Standing = Field(description="no limit: no rule stops any weight on this way")
    gross_lb: float | None = Field(description="most the combination may gross on every leg; null unless shown")
    payload_lb: float | None = Field(description="gross less the usual tare")
    could_gross_lb: float | None = Field(description="up to what it could be if the open facts were shown")
    open_facts: list[CardFact] = Field(description="blank facts between the gross and what it could be")
    left_open: list[str] = Field(description="what no fact of the record can settle, such as a state without rules")
    legs: list[CardLeg]
    axle_limits: list[CardAxleLimit]


class Card(Part):
    """One page for one combination."""

    job: str
    title: str
    truck: str
    trailer: str = Field(description="empty for a straight truck")
    on: date
    axle_count: int | None
    usual_tare_lb: float | None = Field(description="median of the tares of this combination, whole pounds")
    papers: list[CardPaper]
    ways: list[CardWay]
    tiedowns: list[CardTiedowns]
    cautions: list[str]


class CardRuleFile(Part):
    """A rule file that was asked."""

    id: str
    sha256: str


class LoadCards(Part):
    """The cards of a job on a day."""

    schema_name: Literal["load card 1"]
    engine_version: str
    on: date
    cards: list[Card]
    rules: list[CardRuleFile]
