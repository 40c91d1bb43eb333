"""Which fields of the record the rules of some places ask for, worked out from the rule files themselves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final

from auditor.record.form import Asked
from auditor.rules.columns import all_limits, columns_read, tree_limits
from auditor.rules.models import Needs, Rule, RuleFile
from auditor.rules.reading import Rulebook
from auditor.vocabulary import STATES, TABLES, TOPIC_GROUPS, TOPICS, VIEWS, nearest
from auditor.vocabulary.problems import Problem, UnusableInput

FEDERAL = "US"

_BANK_DAY, _CROSSING_DAY = ("banks.harvested_on",), ("crossings.removed_on", "crossings.visited_on")
_SEGMENT_DAY = ("segments.walked_on", "segments.closed_on")
ROWS: Final[Mapping[str, tuple[str, ...]]] = {
    **dict.fromkeys(("stations", "banks", "bank_outcomes", "stumps"), _BANK_DAY),
    "strips": (*_BANK_DAY, "banks.harvested"),
    **dict.fromkeys(("crossings", "approaches", "pipes"), _CROSSING_DAY),
    **dict.fromkeys(("segments", "drain_gaps", "drains"), _SEGMENT_DAY),
    "disturbances": ("disturbances.made_on",),
    "ruts": ("ruts.made_on",),
    "water_readings": ("water_readings.read_on",),
    "decks": ("decks.closed_on",),
    "seedings": ("seedings.sown_on",),
    "tanks": ("tanks.placed_on",),
    "spills": ("spills.learned_on",),
    "notices": ("notices.given_on",),
    "stand_units": ("stands.cut_on",),
    "observations": ("observations.observed_on",),
}
"""View of the site -> what its rows need: the days of which the first recorded one says whose rules hold (else the end
of the job does), and for strips whether trees were cut there at all."""

_PLOT = ("plot_radius_ft", "plot_area_acres", "baf_ft2_per_ac", "slope_corrected", "borderline_checked", "least_dbh_in")
BESIDE: Final[Mapping[str, tuple[str, ...]]] = {
    "job.operation_end": ("job.harvest_completed_on",),
    "job.special_areas": ("job.special_areas_checked",),
    "streams.field_signs": ("streams.field_signs_listed",),
    **{
        f"stations.{width}": ("stations.along_ft", "stations.slope_pct", "banks.slope_pct", "banks.method", "banks.length_ft")
        for width in ("primary_width_ft", "uncut_width_ft", "undisturbed_width_ft", "nearest_sediment_ft")
    },
    "stations.zone_width_ft": (
        "stations.along_ft", "stations.slope_pct", "stations.wider_than_read", "banks.slope_pct", "banks.method",
        "banks.length_ft",
    ),
    "stations.measured_from": ("stations.low_water_to_bank_ft",),
    "stations.slope_pct": ("stations.along_ft", "banks.length_ft"),
    "stations.canopy_pct": ("stations.along_ft", "banks.length_ft"),
    "stations.bare_soil_pct": ("stations.along_ft", "banks.length_ft"),
    "stations.ground_cover_pct": ("stations.along_ft", "banks.length_ft"),
    **{f"{table}.tree_count": tuple(f"{table}.{name}" for name in _PLOT) for table in ("plots", "stand_plots")},
    "plots.canopy_pct": ("plots.densiometer_filled_count",),
    "plots.densiometer_filled_count": ("plots.densiometer_read_count",),
    "plots.canopy_before_pct": ("plots.canopy_pct",),
    "plots.basal_area_before_ft2_per_ac": ("plots.tree_count", "tallies.dbh_in"),
    "stand_plots.seed_tree_count": tuple(f"stand_plots.{name}" for name in _PLOT[:3]),
    "stand_plots.seedling_count": tuple(f"stand_plots.{name}" for name in _PLOT[:3]),
    "stand_plots.tallest_stump_in": ("stand_plots.stump_count",),
    "stumps.distance_from_bank_ft": ("banks.slope_pct", "banks.method"),
    "stumps.stump": ("stumps.stump_count",),
    "disturbances.distance_from_bank_ft": (
        "disturbances.slope_pct", "disturbances.along_ft", "banks.slope_pct", "banks.method",
    ),
    "decks.distance_from_bank_ft": ("decks.slope_to_water_pct", "banks.slope_pct", "banks.method"),
    "tanks.distance_from_bank_ft": ("banks.slope_pct", "banks.method"),
    "banks.last_zone_cut_on": ("banks.harvested_on",),
    "streams.classified_on": ("banks.harvested_on",),
    "crossings.in_place": ("crossings.visited_on",),
    "crossings.angle_deg": ("crossings.angle_from",),
    "approaches.angle_deg": ("approaches.angle_from",),
    "drains.angle_deg": ("drains.angle_from",),
    "pitches.grade_pct": ("pitches.from_ft", "pitches.to_ft", "segments.length_ft"),
    "ruts.mean_depth_in": ("ruts.along_ft", "ruts.length_ft", "ruts.deepest_in", "ruts.depth_uncertainty_in"),
    "segments.from_deck_ft": ("segments.deck",),
    "tanks.capacity_gal": ("tanks.site",),
    "tanks.containment_gal": ("tanks.bund", "tanks.site"),
    "spills.learned_on": ("spills.learned_at",),
    "spills.reported_on": ("spills.reported_at",),
    "notices.given_on": ("notices.given_at", "notices.event_on", "notices.event_at"),
    "observations.answer": (
        "observations.place_kind", "observations.place", "observations.significant_risk", "observations.reason",
        "observations.role", "observations.observer", "observations.photo",
    ),
}  # fmt: skip
"""Field of the site -> what its reading is worth little without, by the views and measures that read it."""


def fields_asked(rulebook: Rulebook, places: Sequence[str], topics: Sequence[str]) -> dict[str, dict[str, Asked]]:
    """Table -> field -> the rules that read it, over the rules of the places, the federal ones, and the topics.

    `topics` may hold names of groups ("haul"). Tables and fields come in the order of the vocabulary; a table or field
    that no rule reads is left out. What only ties rows together (keys, references) is not among them.
    Raises UnusableInput for a place without rule files, for an unknown topic, and where no rule on the topics holds there.
    """
    wanted = _topics(topics)
    _check_places(rulebook, places)
    asking: dict[str, dict[str, bool]] = {}
    for file in rulebook.files:
        if file.place not in (FEDERAL, *places) or file.topic not in wanted:
            continue
        for rule in file.rules:
            key = f"{file.id}/{rule.id}"
            for fact in _facts(file, rule, places):
                asking.setdefault(fact, {})[key] = rule.evidence == "demanded by law"
    found: dict[str, dict[str, Asked]] = {}
    for table in TABLES.values():
        for field in table.fields:
            rules = asking.get(f"{table.name}.{field.name}")
            if rules:
                by_law = tuple(key for key, demanded in rules.items() if demanded)
                found.setdefault(table.name, {})[field.name] = Asked(tuple(rules), by_law)
    if not found:
        named, there = " ".join(topics), " ".join(places)
        todo = "`auditor rules list` shows the rules of each place."
        raise UnusableInput(
            [Problem("", "", "topic", f"no rule on {named} for {there}", "a topic with rules there", todo)]
        )
    return found


def _topics(words: Sequence[str]) -> set[str]:
    known = list(dict.fromkeys((*TOPIC_GROUPS, *TOPICS)))
    problems = []
    for word in words:
        if word not in known:
            like = nearest(word, known)
            todo = f"Did you mean {like[0]}?" if like else "Name one of these."
            problems.append(Problem("", "", "topic", f'"{word}"', f"one of {', '.join(known)}", todo))
    if problems:
        raise UnusableInput(problems)
    return {topic for word in words for topic in TOPIC_GROUPS.get(word, (word,))}


def _check_places(rulebook: Rulebook, places: Sequence[str]) -> None:
    problems = []
    for place in places:
        if place == FEDERAL:
            todo = "Federal rules hold in every state; name the state."
            problems.append(Problem("", "", "place", f'"{place}"', "a state such as US-GA", todo))
        elif place not in STATES:
            like = nearest(place, STATES, 1)
            todo = f"Did you mean {like[0]}?" if like else "Name the state with its country."
            problems.append(Problem("", "", "place", f'"{place}"', "a state such as US-GA", todo))
        elif place not in rulebook.places():
            todo = "`auditor rules list` shows the places that have some."
            problems.append(Problem("", "", "place", f"no rule files for {place}", "a place with rule files", todo))
    if problems:
        raise UnusableInput(problems)


def _facts(file: RuleFile, rule: Rule, places: Sequence[str]) -> Iterator[str]:
    """The record fields a rule reads, each as "table.field", some of them more than once."""
    read = _read(file, rule)
    if VIEWS[rule.examines].subject != "loads":
        read = _with_companions((*read, *ROWS.get(rule.examines, ())))
    elif file.place != FEDERAL:
        # The rules of a state see the loads that have a stretch of road there.
        yield "legs.state"
    yield from read
    for needs in _papers(file, rule):
        if needs.state is None or needs.state in places:
            yield from ("documents.kind", "documents.valid_from", "documents.valid_until")
            if needs.state is not None:
                yield "documents.state"


def _read(file: RuleFile, rule: Rule) -> Iterator[str]:
    """What stands behind the columns that a rule reads, the day that dates it, and the keys of a site's rows."""
    view = VIEWS[rule.examines]
    columns = columns_read([(file, rule)])
    hauls = view.subject == "loads"
    for field in view.fields:
        keys = () if hauls else view.item
        if field.name in columns or field.name == view.dated_by or field.name in keys:
            yield from (*field.rests_on, *field.also_reads)
            if rule.decision == "guarded" and field.uncertainty is not None:
                doubt = view.field(field.uncertainty)
                yield from doubt.rests_on if doubt is not None else ()


def _with_companions(facts: Iterable[str]) -> Iterator[str]:
    """The facts with what has to stand beside them, and beside these."""
    found: dict[str, None] = {}
    waiting = list(facts)
    while waiting:
        fact = waiting.pop(0)
        if fact not in found:
            found[fact] = None
            waiting += BESIDE.get(fact, ())
    yield from found


def _papers(file: RuleFile, rule: Rule) -> Iterable[Needs]:
    """The papers that exceptions of the rule and allowances of its limits ask for."""
    trees = (rule.where, rule.when, rule.must, *(e.where for e in rule.unless))
    limits = all_limits(file, [name for tree in trees for name in tree_limits(tree)])
    asked = [e.needs for e in rule.unless] + [a.needs for n in sorted(limits) for a in file.limits[n].allowances]
    return (needs for needs in asked if needs is not None)
