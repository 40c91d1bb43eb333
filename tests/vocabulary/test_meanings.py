"""A meaning is read alone, in a list of what is missing: it names what it speaks of."""

from __future__ import annotations

import re

import pytest

from auditor.vocabulary import TABLES, VIEWS

PREDICATE = re.compile(
    r"(it|its|they|counts|lies|has|is|stands|carries|reaches|runs|belongs|passes|how it|what it|how many alike)\b"
)
ALONE = {"reading", "colour", "trees", "count", "number", "number from the front", "it", "length", "grade", "slope"}


def lacks_subject(meaning: str) -> bool:
    """Whether a meaning says something of a thing that it does not name."""
    return PREDICATE.match(meaning) is not None or meaning.partition(",")[0] in ALONE


# Meanings that stood in the vocabulary once, and beside each one that names its thing.
@pytest.mark.parametrize(
    ("poor", "good"),
    [
        ("reading", "weight read for the axle or group"),
        ("number from the front, the steer axle is 1", "the axle's number from the front, the steer axle is 1"),
        ("counts as navigable", "the water counts as navigable"),
        ("its length", "length of the rut"),
        ("how many alike", "how many pipes are alike"),
    ],
)
def test_the_look_at_meanings_tells_poor_from_good(poor: str, good: str) -> None:
    assert (lacks_subject(poor), lacks_subject(good)) == (True, False)


def test_every_meaning_names_what_it_speaks_of() -> None:
    poor = [
        f"{holder.name}.{field.name}: {field.meaning}"
        for holder in (*TABLES.values(), *VIEWS.values())
        for field in holder.fields
        if lacks_subject(field.meaning)
    ]
    assert poor == []


@pytest.mark.parametrize(
    ("table", "field", "meaning"),
    [
        ("axle_weights", "weight_lb", "weight read for the axle or group"),
        ("axles", "axle", "the axle's number from the front, the steer axle is 1"),
        ("streams", "navigable", "the water counts as navigable"),
    ],
)
def test_meanings_that_a_newcomer_stumbled_over(table: str, field: str, meaning: str) -> None:
    found = TABLES[table].field(field)
    assert found is not None and found.meaning == meaning
