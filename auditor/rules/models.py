"""What a rule file may say, as pydantic models; the published JSON Schema is made from them."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, WithJsonSchema, model_validator
from pydantic.json_schema import SkipJsonSchema

from auditor.vocabulary.quantities import day_text


def _only_in_overlays(given: Any) -> Any:
    """What only the confirmations of an overlay bring about is refused in the text of a rule file."""
    if given == "confirmed" or isinstance(given, (BaseModel, dict)):
        raise ValueError("read, secondary or memory; who has looked says so under confirmations in an overlay folder")
    return given


MARKS = ("read", "secondary", "memory")
"""How well a statement of a rule file is known, the best first; `confirmed` comes from a confirmation alone."""
Verified = Annotated[
    Literal["read", "secondary", "memory", "confirmed"],
    AfterValidator(_only_in_overlays),
    WithJsonSchema({"enum": list(MARKS), "type": "string"}),
]
Standing = Literal[
    "statute", "regulation", "permit condition", "mandatory practice", "voluntary practice", "guidance",
    "common practice",
]  # fmt: skip
Duty = Literal["logger", "carrier", "driver", "burner", "landowner", "buyer"]
Evidence = Literal["demanded by law", "usual", "act without record", "observation"]
Form = Literal["raised limit", "permit", "enforcement tolerance", "court defence", "penalty relief"]
Outcome = Literal[
    "conformity", "nonconformity", "departure from practice", "not applicable", "not evidenced", "inconclusive",
    "not verifiable",
]  # fmt: skip
VOLUNTARY: frozenset[str] = frozenset({"voluntary practice", "guidance", "common practice"})

_TREE_SCHEMA: dict[str, Any] = {
    "type": "object",
    "description": "column: test, all of which must hold; or all_of, any_of, none_of, at_least_n_of",
    "minProperties": 1,
}


def _well_formed(tree: dict[str, Any]) -> dict[str, Any]:
    """Refuse a condition whose groups are no lists of conditions; what its words mean is checked elsewhere."""
    if not tree:
        raise ValueError("columns with their tests, or a group of conditions")
    for key, body in tree.items():
        branches = body
        if key == "at_least_n_of":
            whole = (
                isinstance(body, dict) and set(body) == {"n", "of"} and isinstance(body["n"], int) and body["n"] >= 1
            )
            branches = body["of"] if whole else None
        elif key not in ("all_of", "any_of", "none_of"):
            continue
        if not isinstance(branches, list) or not branches or not all(isinstance(b, dict) for b in branches):
            raise ValueError(f"{'{n: 2, of: [...]}' if key == 'at_least_n_of' else 'a list'} of conditions after {key}")
        for branch in branches:
            _well_formed(branch)
    return tree


Tree = Annotated[dict[str, Any], AfterValidator(_well_formed), Field(json_schema_extra=_TREE_SCHEMA)]


class Strict(BaseModel):
    """Refuses words it does not know."""

    # With the validator of a file those of all its parts are built; one more for each part would be time for nothing.
    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True, allow_inf_nan=False, defer_build=True)


class Source(Strict):
    """An instrument, and in what form it was seen."""

    instrument: str
    seen: str
    note: str | None = None


class ConfirmedBy(Strict):
    """Who looked a statement up, when and in which edition; `was` holds in words what a corrected value replaced."""

    by: str
    role: str
    on: date
    instrument: str
    edition: str
    page: str | None = None
    note: str | None = None
    was: str | None = None

    def text(self) -> str:
        """Who, when and where in one line: "FR-0412 (forester) on 4 May 2026, edition of 2025, page 114"."""
        page = f", page {self.page}" if self.page else ""
        return f"{self.by} ({self.role}) on {day_text(self.on)}, {self.edition}{page}"


Confirmed = Annotated[SkipJsonSchema[ConfirmedBy | None], AfterValidator(_only_in_overlays)]


class Cited(Strict):
    """Where a statement comes from and how well it is known. `source` is a key of the file's `sources`.

    `confirmed_by` is never written in a rule file; a confirmation of an overlay sets it.
    """

    source: str
    at: str | None = None
    verified: Verified
    checked: date | None = None
    note: str | None = None
    confirmed_by: Confirmed = None


class TableRow(Strict):
    """One row of a printed table: the conditions, and the value where they hold."""

    when: Tree
    value: float


class DecisionTable(Strict):
    """A table over classes and intervals; every row that is not excluded stays a candidate."""

    rows: list[TableRow] = Field(min_length=1)


class Points(Strict):
    """Values at single points of a column; between them the stated way, outside them unknown."""

    at: str
    values: dict[float, float] = Field(min_length=2)
    between: Literal["lower", "higher", "interpolate"]
    between_is: Literal["law", "our choice"]


class Linear(Strict):
    """base + times x column, held between at_least and at_most."""

    base: float
    times: float
    per: str
    at_least: float | None = None
    at_most: float | None = None


class Computed(Strict):
    """A measure of the vocabulary: which columns are its inputs, and the parameters the law gives it."""

    name: str
    of: dict[str, str]
    parameters: dict[str, Any] = Field(default_factory=dict, alias="with")


class Part(Strict):
    """One part of a sum: a number or column times a limit."""

    times: float | str
    of: str


class Said(Strict):
    """One of several values that sources give for the same thing."""

    value: float
    source: str
    verified: Verified


SHAPES = (
    "value", "words", "table", "points", "linear", "field", "measure", "lesser_of", "greater_of", "sum_of",
    "percent_more", "limit", "said",
)  # fmt: skip


class Shape(Strict):
    """How a limit is given: exactly one of the shapes. `than` goes with percent_more: "base", "limit" or a limit's name."""

    value: float | None = None
    words: list[str] | None = None
    table: DecisionTable | None = None
    points: Points | None = None
    linear: Linear | None = None
    field: str | None = None
    measure: Computed | None = None
    lesser_of: list[Shape] | None = None
    greater_of: list[Shape] | None = None
    sum_of: list[Part] | None = None
    percent_more: float | None = None
    than: str | None = None
    limit: str | None = None
    said: list[Said] | None = None

    @model_validator(mode="after")
    def _one_shape(self) -> Shape:
        given = [s for s in SHAPES if getattr(self, s) is not None]
        if len(given) != 1:
            raise ValueError(f"exactly one of {', '.join(SHAPES)} is needed, found {', '.join(given) or 'none'}")
        if (self.percent_more is None) != (self.than is None):
            raise ValueError("percent_more and than go together")
        return self

    @property
    def kind(self) -> str:
        """Which shape it is."""
        return next(s for s in SHAPES if getattr(self, s) is not None)


class Dated(Strict):
    """In force from one day until another, both included; an open end is left out."""

    from_: date | None = Field(default=None, alias="from")
    until: date | None = None
    text_read_of: int | None = None

    def in_force(self, day: date) -> bool:
        """Whether it holds on that day."""
        return (self.from_ is None or self.from_ <= day) and (self.until is None or day <= self.until)


class Version(Shape, Dated, Cited):
    """One dated version of a limit."""


class Needs(Strict):
    """The paper that whoever invokes an allowance or exception must show, valid on the day."""

    document: str
    state: str | None = None


class Allowance(Version):
    """What changes a limit for some: its legal form decides what becomes of a load inside it."""

    id: str
    title: str
    form: Form
    where: Tree | None = None
    needs: Needs | None = None


class Cap(Version):
    """A lower limit that overrides every allowance."""

    id: str
    title: str
    where: Tree | None = None


class Limit(Strict):
    """A named limit: its dated versions, what raises it, what tolerates an excess, what caps it."""

    means: str
    unit: str
    versions: list[Version] = Field(min_length=1)
    allowances: list[Allowance] = []
    caps: list[Cap] = []


class Exception_(Strict):  # noqa: N801 - the builtin has the name
    """An exception or exemption: its conditions and the paper it needs."""

    id: str
    title: str
    where: Tree | None = None
    needs: Needs | None = None
    source: str | None = None
    verified: Verified | None = None
    confirmed_by: Confirmed = None


class Example(Strict):
    """A situation worked by hand: columns of the examined view, and what must come out."""

    situation: str
    on: date | None = None
    row: dict[str, Any]
    expect: Outcome
    limit: float | None = None
    by: str | None = None
    tolerated: bool | None = None
    missing: list[str] | None = None


class OutcomesOf(Strict):
    """The rule of the same file whose outcomes a second-stage view is made of; `window_ft` names a limit of the file."""

    rule: str
    window_ft: str | None = None


class Rule(Dated, Cited):
    """One requirement."""

    id: str
    title: str
    examines: str
    outcomes_of: OutcomesOf | None = None
    where: Tree | None = None
    when: Tree | None = None
    unless: list[Exception_] = []
    must: Tree
    duty_of: Duty
    standing: Standing
    grade: Literal["major", "minor"]
    evidence: Evidence
    decision: Literal["simple", "guarded"] = "simple"
    action: str
    caution: str
    examples: list[Example] = []


class NotFound(Strict):
    """A number that was looked for and not found, or that no law gives."""

    what: str
    result: Literal["not found", "none in law"]
    note: str | None = None


class Definition(Cited):
    """A definition or table handed to the views and measures of a place."""

    model_config = ConfigDict(extra="allow", frozen=True, allow_inf_nan=False)


class RuleFile(Strict):
    """One file: the rules of one topic in one place."""

    id: str
    place: str
    topic: str
    title: str
    notes: list[str] = []
    sources: dict[str, Source]
    definitions: dict[str, Definition] = {}
    limits: dict[str, Limit] = {}
    rules: list[Rule]
    not_found: list[NotFound] = []


class Confirmation(Strict):
    """What a practitioner found on looking a statement up: `of` is its address, `value` only what had to be corrected.

    `dated` is the day of the instrument seen and `from` the day from which a corrected value holds.
    """

    of: str = Field(min_length=1)
    by: str = Field(min_length=1, description="code or name of who looked")
    role: str = Field(min_length=1)
    on: date
    instrument: str | None = Field(default=None, description="the instrument seen; left out: the one of the rule file")
    edition: str = Field(min_length=1)
    page: str | int | None = None
    dated: date | None = None
    from_: date | None = Field(default=None, alias="from")
    value: bool | float | str | list[Any] | dict[str, Any] | None = None
    note: str | None = None


class ConfirmationFile(Strict):
    """A file of an overlay that confirms or corrects statements of rule files."""

    confirmations: list[Confirmation] = Field(min_length=1)
