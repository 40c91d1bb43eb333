"""What a load card holds: for each truck and destination, what the combination may gross on a day, leg by leg."""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import Field

from auditor.report.model import Part


class CardLeg(Part):
    """One stretch of road and the lowest gross limit the records show for this combination on it."""

    leg: int
    road: str
    state: str
    gross_limit_lb: float | None = Field(description="null where no limit is shown")
    because: str = Field(description="the requirement or allowance that sets it, with its source")
    confirmed: bool = Field(description="false where the limit is known from memory only")
    governs: bool = Field(description="the lowest of the way")
    open_facts: list[str] = Field(description="facts that are blank and could change it")


class CardTiedowns(Part):
    """How many tiedowns of the usual kind one form of load needs at the gross the card gives."""

    load_form: str
    needed: int | None = Field(description="null where the records do not settle it")
    usual_kind: str
    working_load_limit_lb: float | None
    on_board: int | None = Field(description="of this kind in the truck's usual set")
    note: str


class CardWay(Part):
    """One destination from one truck's point of view."""

    destination: str
    product: str
    gross_lb: float | None = Field(description="most the combination may gross on every leg; null where not shown")
    payload_lb: float | None = Field(description="gross less the usual tare")
    next_gross_lb: float | None = Field(description="what it could be if the open facts were shown")
    legs: list[CardLeg]


class Card(Part):
    """One page for one combination."""

    job: str
    title: str
    truck: str
    trailer: str
    on: date
    axle_count: int | None
    usual_tare_lb: float | None
    papers: list[str] = Field(description="papers held and valid on the day")
    ways: list[CardWay]
    tiedowns: list[CardTiedowns]
    cautions: list[str]
    kind: Literal["load card"] = "load card"
