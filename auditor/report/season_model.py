"""What season figures hold. Their published JSON Schema is made from these models; every renderer reads nothing else."""

from __future__ import annotations

from datetime import date
from typing import Any, Literal, get_args

from pydantic import Field

from auditor.report.model import Limit, Part

SEASON_SCHEMA: Literal["season figures 1"] = "season figures 1"

GroupName = Literal["truck", "driver", "product", "destination"]
By = Literal["all", "truck", "driver", "product", "destination"]
SEASON_GROUPS: tuple[GroupName, ...] = get_args(GroupName)
"""What loads can be grouped by."""
Apart = Literal["gross weight blank", "limit not one number", "no gross limit on the way"]


class Share(Part):
    """Loads over a limit, as a share of those held against it, with an exact confidence interval."""

    over_count: int
    load_count: int
    share: float | None = Field(description="between 0 and 1; null without loads")
    low: float | None = Field(description="lower end of the Clopper-Pearson interval; null without loads")
    high: float | None = Field(description="upper end of the interval; null without loads")


class LimitFigures(Part):
    """A gross limit that was the lowest of the way for some loads, and how many went over it."""

    limit: Limit
    limit_lb: float
    tolerated_lb: float | None = Field(description="tolerated limit; null where it differs or is not one number")
    over_limit: Share
    over_tolerated: Share
    note: Literal["", "limit unconfirmed", "limit second-hand"] = Field(description="mark of a limit not read itself")


class SetApart(Part):
    """Loads that no share counts, and why."""

    reason: Apart
    load_count: int
    over_any_way: int = Field(description="of these, over the limit whatever it is within its bounds")
    inside_any_way: int = Field(description="of these, inside the limit whatever it is within its bounds")
    left_open_by: list[str] = Field(description="rules and states that leave the limit open, with their loads")
    sample_tickets: list[str]


class Spread(Part):
    """How the gross weights of some loads spread, in whole pounds; null where there are too few loads to tell."""

    load_count: int
    mean_lb: int | None
    sd_lb: int | None = Field(description="standard deviation")
    least_lb: int | None
    q05_lb: int | None = Field(description="5th percentile")
    q25_lb: int | None
    median_lb: int | None
    q75_lb: int | None
    q95_lb: int | None
    greatest_lb: int | None


class Margin(Part):
    """How far under its limit the mean of the loads must lie to keep overloads under the chosen share."""

    scatter_load_count: int = Field(description="loads that share a limit with at least one other of the group")
    scatter_sd_lb: int | None = Field(description="standard deviation about the mean of the loads under one limit")
    observed_lb: int | None = Field(description="from the scatter as it was; null where it cannot be told")
    normal_lb: int | None = Field(description="as if the scatter were normal; null where it cannot be told")
    used_lb: int | None = Field(description="the greater of the two; null where neither can be told")
    observed_is_furthest: bool = Field(description="the observed margin is that of the load that strayed furthest")
    why_not: str = Field(description="why an answer cannot be told; empty where both are")


class Target(Part):
    """The mean gross weight to aim at under one limit: the limit less the margin, and how he loaded."""

    limit_lb: float
    load_count: int
    over_count: int
    mean_lb: int
    observed_lb: int | None
    normal_lb: int | None
    used_lb: int | None = Field(description="the lower of the two; null where neither can be told")


class Room(Part):
    """Weight that would have fitted on: under the limit, and under the target gross."""

    inside_count: int = Field(description="loads not over their limit")
    under_limit_lb: int
    under_limit_short_tons: float
    below_target_count: int | None = Field(description="loads lighter than the target; null without a target")
    under_target_lb: int | None
    under_target_short_tons: float | None


class GroupFigures(Part):
    """The figures of all loads, or of those of one truck, driver, product or destination."""

    by: By
    value: str | None = Field(description="null: all loads, or not recorded")
    load_count: int
    few_loads: bool = Field(description="fewer loads with a weight and a known limit than a margin takes")
    unconfirmed_count: int = Field(description="loads whose limit no one has confirmed")
    over_limit: Share
    over_tolerated: Share
    gross: Spread
    margin: Margin
    targets: list[Target]
    room: Room


class Season(Part):
    """Season figures over one or more jobs."""

    schema_name: Literal["season figures 1"]
    engine_version: str
    jobs: list[str]
    contractors: list[str]
    first_load: date | None
    last_load: date | None
    load_count: int
    share_percent: float = Field(description="share of overloads that the targets are worked out for")
    confidence_percent: float
    least_loads: int = Field(description="loads below which no margin is given")
    grouped_by: list[GroupName]
    rule_files: dict[str, str] = Field(description="rule files of the places, each with the SHA-256 of its bytes")
    limits: list[LimitFigures]
    set_apart: list[SetApart]
    figures: list[GroupFigures] = Field(description="all loads first, then by group")
    cautions: list[str]


def season_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of season figures, made from their models."""
    schema = Season.model_json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": SEASON_SCHEMA}
