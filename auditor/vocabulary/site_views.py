"""The views that rules about the harvest site examine: banks, crossings, roads, decks, fuel, the stand, judgements.

Their place is the state of the job, and `judged_on` is the day whose law holds.
"""

from __future__ import annotations

from dataclasses import replace

from auditor.vocabulary import ground, haul, waterside
from auditor.vocabulary.model import Field, Table, View, borrow

DRAIN_GROUPS = ("all", "bars", "dips", "turnouts", "cross_drains")
"""Names for the kinds of drains that a place counts together."""

GAP_ENDS = (*ground.DRAIN_KINDS, "upper_end", "lower_end")
"""What a stretch without a drain may begin and end at."""

_SKIPPED = {"note"}
_JOB = (
    *borrow(haul.JOB, "state", "region", prefix="job_"),
    *borrow(
        haul.JOB, "county", "harvest_type", "land_owner_class", "land_use_after", "special_areas",
        "special_areas_checked", "operation_start", "operation_end", "exemption_lost",
    ),
    Field("notices_given", "classes", "what the notices of the job are about", classes=ground.NOTICE_KINDS, whole_by="notices_whole", rests_on=("notices.kind",)),
    Field("notices_whole", "yes_no", "the list of notices is declared complete, so that a kind not listed was not given", rests_on=("notices.kind",)),
)  # fmt: skip
_JUDGED_ON = Field(
    "judged_on", "date", "day whose rules are applied: of the act where it is recorded, else the last day of the operation",
    rests_on=("job.operation_end",),
)  # fmt: skip


def _all(table: Table, *but: str, prefix: str = "") -> tuple[Field, ...]:
    """Every field of a table but its note and those named."""
    return borrow(table, *(f.name for f in table.fields if f.name not in {*_SKIPPED, *but}), prefix=prefix)


def _ranged(fields: tuple[Field, ...], *names: str, doubt: Field) -> tuple[Field, ...]:
    """The fields, those named as ranges: what is blank beside them leaves them open. `doubt` holds their plus or minus."""
    whole = {rest for f in fields for rest in f.rests_on}

    def ranged(field: Field) -> Field:
        table = field.rests_on[0].partition(".")[0]
        also = (f"{table}.{name}" for name in ("measured_along", "measured_from", "slope_pct"))
        also_reads = tuple(a for a in also if a in whole)
        return replace(field, interval=True, also_reads=also_reads, uncertainty=doubt.name, defined_by="zone_width")

    return (*(ranged(f) if f.name in names else f for f in fields), doubt)


def _doubt(table: Table, kind: str) -> Field:
    meaning = (
        "plus or minus that decides: as recorded; none for a tape, pace or laser reading without one; else unknown"
    )
    own = tuple(f"{table.name}.{name}" for name in (f"{kind}_uncertainty_ft", "method") if table.field(name))
    return Field(f"{kind}_doubt_ft", "number", meaning, "ft", low=0, rests_on=own)


def _range(
    name: str, meaning: str, unit: str | None, *rests_on: str, kind: str = "number", by: str | None = None
) -> Field:
    """A field that comes as a range; `by` names the definition that says what it is."""
    whole = kind == "whole"
    return Field(name, "whole" if whole else "number", meaning, unit, interval=True, rests_on=rests_on, defined_by=by)


def _until_cover(name: str, meaning: str, since: str, table: str, looked: str) -> Field:
    """Days until the cover of a row; at least those until it was looked at where it had none then."""
    rests_on, also_reads = (since, f"{table}.cover_on"), (f"{table}.cover", looked)
    return Field(name, "whole", meaning, "days", interval=True, rests_on=rests_on, also_reads=also_reads)


_STREAM = (
    *borrow(waterside.STREAMS, "kind", "in_wetland", "width_ft", prefix="stream_"),
    *_all(waterside.STREAMS, "kind", "in_wetland", "width_ft", "stream"),
    _range("sign_count", "wanted field signs that were seen", "signs", "streams.field_signs", "streams.field_signs_listed", kind="whole", by="field_signs"),
    Field("days_since_classified", "whole", "days from the classification to the cutting", "days", rests_on=("streams.classified_on",)),
)  # fmt: skip
_BANK_FIELDS = _all(waterside.BANKS, "slope_pct", "slope_uncertainty_pct", "slope_method", "method")
_BANK = (
    *_BANK_FIELDS,
    Field("bank_slope_pct", "number", "slope of the land toward the water: of the bank, else the mean of its stations", "percent", interval=True, uncertainty="slope_uncertainty_pct", rests_on=("banks.slope_pct", "stations.slope_pct")),
    *borrow(waterside.BANKS, "slope_uncertainty_pct", "slope_method"),
    *_STREAM,
    *_JOB,
    _JUDGED_ON,
)  # fmt: skip
_WIDTHS = ("zone_width_ft", "primary_width_ft", "uncut_width_ft", "undisturbed_width_ft", "nearest_sediment_ft")

STREAMS = View(
    "streams", "stream", "each stream or other water on or beside the tract", ("stream",),
    (*borrow(waterside.STREAMS, "stream"), *_STREAM, *_JOB, _JUDGED_ON),
    "judged_on", "streams",
)  # fmt: skip

STATIONS = View(
    "stations",
    "width reading across a bank",
    "each reading of a zone's width, as the law of the place measures it, with its bank and its stream",
    ("bank", "station"),
    (
        *_BANK,
        *_ranged(_all(waterside.STATIONS, "bank", "slope_pct", "stretch_from_ft", "stretch_to_ft"), *_WIDTHS, doubt=_doubt(waterside.STATIONS, "width")),
        Field("station_slope_pct", "number", "slope beside the stream: of the reading, else of the bank", "percent", rests_on=("stations.slope_pct", "banks.slope_pct")),
        Field("from_ft", "number", "where the stretch it stands for begins, along the bank", "ft", rests_on=("stations.along_ft",)),
        Field("to_ft", "number", "where that stretch ends", "ft", rests_on=("stations.along_ft", "banks.length_ft")),
        Field("station_length_ft", "number", "length of that stretch", "ft", rests_on=("stations.along_ft", "banks.length_ft")),
    ),
    "judged_on", "banks",
)  # fmt: skip

BANKS = View(
    "banks",
    "side of a stream",
    "each side of each reach with its stream and what its stations say together",
    ("bank",),
    (
        *_BANK,
        Field("station_count", "whole", "width readings across it", "readings", rests_on=("stations.station",)),
        Field("longest_stretch_ft", "number", "longest stretch that one reading stands for", "ft", rests_on=("stations.along_ft", "banks.length_ft")),
        _range("least_width_ft", "least width of the zone", "ft", "stations.zone_width_ft"),
        _range("mean_width_ft", "mean width of the zone", "ft", "stations.zone_width_ft"),
        _range("canopy_pct", "crown cover, the mean along the bank", "percent", "stations.canopy_pct"),
        _range("bare_soil_pct", "mineral soil laid bare, the mean along the bank", "percent", "stations.bare_soil_pct"),
        _range("ground_cover_pct", "soil under plants, litter or slash, the mean along the bank", "percent", "stations.ground_cover_pct"),
        Field("harvested_sides", "whole", "sides of this stream beside which trees were cut", "sides", rests_on=("banks.harvested",)),
        Field("zone_cut_interval_years", "number", "from the cutting inside the zone before to this one", "year", rests_on=("banks.last_zone_cut_on", "banks.harvested_on")),
        _range("zone_stump_count", "stumps of this harvest inside the zone", "stumps", "stumps.stump", "banks.stumps_listed", kind="whole"),
        _range("disturbance_count", "pieces of disturbed ground near the bank", "places", "disturbances.disturbance", "banks.disturbances_listed", kind="whole"),
    ),
    "judged_on", "banks",
)  # fmt: skip

BANK_OUTCOMES = View(
    "bank_outcomes",
    "side of a stream as a whole",
    "how much of each bank falls short of a rule on its stations",
    ("bank",),
    (
        *_BANK,
        Field("judged_length_ft", "number", "length of bank that the readings stand for", "ft", rests_on=("stations.along_ft", "banks.length_ft")),
        _range("failing_length_ft", "length that falls short", "ft", "stations.zone_width_ft", "stations.along_ft"),
        _range("failing_share_pct", "part of the length that falls short", "percent", "stations.zone_width_ft", "stations.along_ft"),
        _range("longest_failing_ft", "longest stretch that falls short without a break", "ft", "stations.zone_width_ft", "stations.along_ft"),
        _range("worst_window_ft", "greatest length that falls short inside any stretch of the length the law names", "ft", "stations.zone_width_ft", "stations.along_ft"),
    ),
    "judged_on", "banks", second_stage=True,
)  # fmt: skip

STRIPS = View(
    "strips",
    "strip of a zone",
    "the sample plots of one strip along a bank, together",
    ("bank", "strip_from_ft", "strip_to_ft"),
    (
        *_BANK,
        *borrow(waterside.PLOTS, "strip_from_ft", "strip_to_ft"),
        Field("plot_count", "whole", "sample plots in the strip", "plots", rests_on=("plots.plot",)),
        Field("basal_area_ft2_per_ac", "number", "basal area left, mean of the plots", "ft2/acre", uncertainty="basal_area_uncertainty_ft2_per_ac", rests_on=("plots.tree_count", "plots.baf_ft2_per_ac", "tallies.dbh_in")),
        Field("basal_area_uncertainty_ft2_per_ac", "number", "plus or minus of that mean, 95 percent; blank for a single plot", "ft2/acre", rests_on=("plots.plot",)),
        Field("trees_per_ac", "number", "trees left, mean of the plots", "trees/acre", uncertainty="uncertainty_trees_per_ac", rests_on=("plots.tree_count", "tallies.dbh_in")),
        Field("uncertainty_trees_per_ac", "number", "plus or minus of that mean, 95 percent; blank for a single plot", "trees/acre", rests_on=("plots.plot",)),
        Field("canopy_pct", "number", "crown cover left, mean of the plots", "percent", uncertainty="canopy_uncertainty_pct", rests_on=("plots.canopy_pct", "plots.densiometer_filled_count")),
        Field("canopy_uncertainty_pct", "number", "plus or minus of that mean, 95 percent; blank for a single plot", "percent", rests_on=("plots.plot",)),
        Field("overstory_kept_pct", "number", "overstory trees left, of those before", "percent", rests_on=("plots.overstory_before_count", "plots.overstory_left_count")),
        Field("basal_area_kept_pct", "number", "basal area left, of that before", "percent", rests_on=("plots.basal_area_before_ft2_per_ac",)),
        Field("canopy_kept_pct", "number", "crown cover left, of that before", "percent", rests_on=("plots.canopy_before_pct",)),
        Field("understory", "class", "what became of the understory, the worst of the plots", classes=("kept", "partly_kept", "gone"), rests_on=("plots.understory",)),
        Field("bare_soil_pct", "number", "mineral soil laid bare, mean of the plots", "percent", rests_on=("plots.bare_soil_pct",)),
        Field("least_dbh_counted_in", "number", "smallest tree that every plot counted", "in", rests_on=("plots.least_dbh_in",)),
    ),
    "judged_on", "banks",
    defined_by="strips",
)  # fmt: skip

STUMPS = View(
    "stumps", "stump in a zone", "each stump inside a zone, with its bank and stream", ("bank", "stump"),
    (
        *_BANK,
        *_ranged(_all(waterside.STUMPS, "bank"), "distance_from_bank_ft", doubt=_doubt(waterside.STUMPS, "distance")),
    ),
    "judged_on", "banks",
)  # fmt: skip

DISTURBANCES = View(
    "disturbances",
    "piece of disturbed ground",
    "each piece of disturbed ground, debris, fuel or chemical near the water, with its bank and stream",
    ("disturbance",),
    (
        *_BANK,
        *_ranged(_all(waterside.DISTURBANCES_TABLE, "bank", "length_ft", "slope_pct"), "distance_from_bank_ft", doubt=_doubt(waterside.DISTURBANCES_TABLE, "distance")),
        *borrow(waterside.DISTURBANCES_TABLE, "length_ft", "kind", prefix="disturbance_"),
        Field("land_slope_pct", "number", "slope of the land between it and the water, else of the bank", "percent", rests_on=("disturbances.slope_pct", "banks.slope_pct")),
        _range("inside_zone_ft", "how far inside the zone as kept its nearest edge lies, both measured with their doubts; negative outside it", "ft", "disturbances.distance_from_bank_ft", "disturbances.along_ft", "disturbances.length_ft", "stations.zone_width_ft", "stations.along_ft"),
        Field("at_crossing", "yes_no", "the disturbance belongs to a crossing", rests_on=("disturbances.crossing", "disturbances.reason_inside_zone")),
        *borrow(haul.JOB, "other_activity_on"),
        Field("other_activity_years", "number", "years from the end of the harvest to the first other disturbance of the land", "year", rests_on=("job.other_activity_on", "job.harvest_completed_on", "job.operation_end")),
        Field("days_open", "whole", "days from its making to its removal", "days", rests_on=("disturbances.made_on", "disturbances.removed_on")),
        Field("working_days_to_cover", "whole", "working days from its making to its cover", "days", rests_on=("disturbances.made_on", "disturbances.cover_on")),
    ),
    "judged_on", "disturbances",
)  # fmt: skip

_CROSSING = (*_all(waterside.CROSSINGS, "stream"), *borrow(waterside.CROSSINGS, "stream"), *_STREAM, *_JOB, _JUDGED_ON)
CROSSINGS = View(
    "crossings",
    "stream crossing",
    "each crossing with its stream and its pipes together",
    ("crossing",),
    (
        *(f for f in _CROSSING if f.name != "drainage_area_acres"),
        *borrow(waterside.CROSSINGS, "drainage_area_acres"),
        Field("crossing_angle_deg", "number", "angle to the stream, 90 is square across", "degree", low=0, high=90, uncertainty="angle_uncertainty_deg", rests_on=("crossings.angle_deg", "crossings.angle_from")),
        _range("pipe_opening_sqft", "opening of all its pipes", "ft2", "pipes.pipe_count", "pipes.diameter_in"),
        _range("equal_area_in", "diameter of one pipe with that opening", "in", "pipes.pipe_count", "pipes.diameter_in"),
        _range("equal_flow_in", "diameter of one pipe that carries as much", "in", "pipes.pipe_count", "pipes.diameter_in"),
        Field("largest_pipe_in", "number", "diameter of its largest pipe", "in", rests_on=("pipes.diameter_in",)),
        _range("days_in_place", "days it stood", "days", "crossings.installed_on", "crossings.removed_on", "crossings.in_place"),
        _until_cover("working_days_to_cover", "working days from the first disturbance to ground cover", "crossings.first_disturbed_on", "crossings", "crossings.visited_on"),
        Field("channel_opening_sqft", "number", "opening by the cross-section rule of thumb", "ft2", rests_on=("crossings.top_width_ft", "crossings.bottom_width_ft", "crossings.channel_depth_ft")),
    ),
    "judged_on", "crossings",
)  # fmt: skip

_AT_CROSSING = (
    *borrow(waterside.CROSSINGS, "crossing", "stream", "crossing_type", "temporary", "existing", "first_disturbed_on", "removed_on"),
    *_STREAM, *_JOB, _JUDGED_ON,
)  # fmt: skip
APPROACHES = View(
    "approaches",
    "approach to a crossing",
    "the road on either side of each crossing",
    ("crossing", "side"),
    (
        *_AT_CROSSING,
        *_all(waterside.APPROACHES, "crossing", "angle_deg", "angle_from", "length_ft"),
        Field("approach_angle_deg", "number", "angle to the stream, 90 is square across", "degree", low=0, high=90, rests_on=("approaches.angle_deg", "approaches.angle_from")),
        _range("approach_length_ft", "length of road that drains to the crossing", "ft", "approaches.length_ft", "approaches.nearest_drain_ft", "approaches.drained_before_water"),
        _until_cover("working_days_to_cover", "working days from the first disturbance at the crossing to ground cover", "crossings.first_disturbed_on", "approaches", "crossings.visited_on"),
    ),
    "judged_on", "crossings",
)  # fmt: skip

PIPES = View(
    "pipes",
    "pipe of a crossing",
    "each line of like pipes with its crossing",
    ("crossing", "pipe"),
    (
        *_AT_CROSSING,
        *_all(waterside.PIPES, "crossing", "beyond_fill_ft"),
        _range("beyond_fill_ft", "reach of the pipe beyond the fill at its shorter end", "ft", "pipes.beyond_fill_ft", "pipes.length_ft", "pipes.fill_width_ft"),
        Field("largest_pipe_in", "number", "diameter of the largest pipe of the crossing", "in", rests_on=("pipes.diameter_in",)),
        Field("half_diameter_ft", "number", "half the diameter", "ft", rests_on=("pipes.diameter_in",)),
        Field("pipe_gap_share", "number", "clear space between neighbours as a share of the diameter", "share", rests_on=("pipes.between_pipes_ft", "pipes.diameter_in")),
    ),
    "judged_on", "crossings",
)  # fmt: skip

_SEGMENT = (*_all(ground.SEGMENTS, "kind"), *borrow(ground.SEGMENTS, "kind", prefix="segment_"), *_JOB, _JUDGED_ON)
SEGMENTS = View(
    "segments",
    "road, trail or firelane",
    "each road, skid trail or firelane with its grades, ruts and drains",
    ("segment",),
    (
        *(f for f in _SEGMENT if f.name != "steepest_grade_pct"),
        Field("mean_grade_pct", "number", "grade of the road or trail by its pitches, else as recorded", "percent", uncertainty="grade_uncertainty_pct", rests_on=("pitches.grade_pct", "segments.grade_pct")),
        _range("steepest_grade_pct", "steepest grade of the road or trail", "percent", "pitches.grade_pct", "segments.steepest_grade_pct"),
        _range("steep_length_ft", "length steeper than the place's definition `steep` says", "ft", "pitches.grade_pct", "segments.steepest_grade_pct", "segments.length_ft", by="steep"),
        _range("steep_share_pct", "part of its length that is steep", "percent", "pitches.grade_pct", "segments.steepest_grade_pct", "segments.length_ft"),
        _range("longest_steep_ft", "longest steep stretch", "ft", "pitches.grade_pct", "segments.steepest_grade_pct", "segments.length_ft"),
        _range("rutted_length_ft", "length with ruts deeper than the place's definition `ruts` says", "ft", "ruts.mean_depth_in", "ruts.length_ft", "segments.ruts_listed", by="ruts"),
        _range("rutted_share_pct", "part of its length with such ruts", "percent", "ruts.mean_depth_in", "ruts.length_ft", "segments.ruts_listed", by="ruts"),
        _range("longest_rut_ft", "longest of such ruts", "ft", "ruts.mean_depth_in", "ruts.length_ft", "segments.ruts_listed", by="ruts"),
        _range("drain_count", "structures that turn water off it", "drains", "drains.drain", "segments.drains_listed", kind="whole"),
        Field("days_to_cover", "whole", "days from the end of its use to its cover", "days", rests_on=("segments.closed_on", "segments.cover_on")),
        Field("working_days_to_cover", "whole", "working days from the first disturbance to its cover", "days", rests_on=("segments.first_disturbed_on", "segments.cover_on")),
        _until_cover("working_days_closed_to_cover", "working days from the end of its use to its cover", "segments.closed_on", "segments", "segments.walked_on"),
        _until_cover("days_graded_to_cover", "days from the end of its grading to its cover", "segments.graded_on", "segments", "segments.walked_on"),
    ),
    "judged_on", "segments",
)  # fmt: skip

DRAIN_GAPS = View(
    "drain_gaps",
    "stretch between drains",
    "each stretch of a road, trail or firelane without a drain of the kinds that count together, ends included",
    ("segment", "drain_group", "gap"),
    (
        *_SEGMENT,
        Field("drain_group", "class", "which kinds of drains are counted, as the place's definition `drain_gaps` says", classes=DRAIN_GROUPS),
        Field("gap", "whole", "number of the stretch from the upper end"),
        Field("from_ft", "number", "where it begins, from the upper end", "ft", rests_on=("drains.along_ft",)),
        Field("to_ft", "number", "where it ends", "ft", rests_on=("drains.along_ft", "segments.length_ft")),
        Field("from_kind", "class", "the drain it begins at, else the upper end", classes=GAP_ENDS, rests_on=("drains.kind",)),
        Field("to_kind", "class", "the drain it ends at, else the lower end", classes=GAP_ENDS, rests_on=("drains.kind",)),
        _range("other_drain_count", "drains of kinds that are not counted together, inside the stretch", "drains", "drains.along_ft", "segments.drains_listed", kind="whole"),
        Field("gap_ft", "number", "length of the stretch between drains", "ft", interval=True, uncertainty="gap_uncertainty_ft", rests_on=("drains.along_ft", "segments.length_ft", "segments.drains_listed")),
        Field("gap_uncertainty_ft", "number", "plus or minus of its length", "ft", rests_on=("drains.along_uncertainty_ft",)),
        _range("gap_grade_pct", "grade of the stretch between drains: between the mean and the steepest of its pitches, else that of the segment", "percent", "pitches.grade_pct", "segments.grade_pct"),
    ),
    "judged_on", "segments",
    defined_by="drain_gaps",
)  # fmt: skip

DRAINS = View(
    "drains",
    "drain on a road or trail",
    "each structure that turns water off a road, trail or firelane",
    ("segment", "drain"),
    (
        *_SEGMENT,
        *_all(ground.DRAINS, "segment", "kind", "angle_deg", "angle_from"),
        *borrow(ground.DRAINS, "kind", prefix="drain_"),
        Field("drain_angle_deg", "number", "angle to the centre line of the road, 90 is square across", "degree", low=0, high=90, uncertainty="angle_uncertainty_deg", rests_on=("drains.angle_deg", "drains.angle_from")),
        Field("local_grade_pct", "number", "grade of the pitch it lies in, else of the segment", "percent", rests_on=("pitches.grade_pct", "segments.grade_pct")),
        Field("days_storm_to_check", "whole", "days from the first large storm to the look at it afterwards; negative before it", "days", rests_on=("segments.first_storm_on", "drains.checked_after_storm_on")),
    ),
    "judged_on", "segments",
)  # fmt: skip

RUTS = View(
    "ruts", "rut", "each rut, on a road or trail or off any", ("rut",),
    (
        *_all(ground.RUTS, "bank"),
        *borrow(ground.RUTS, "bank"),
        *borrow(ground.SEGMENTS, "kind", "permanent", prefix="segment_"),
        *_JOB, _JUDGED_ON,
    ),
    "judged_on", "ruts",
)  # fmt: skip

_NEAR_WATER = (*borrow(waterside.BANKS, "stream"), *_STREAM, *_JOB, _JUDGED_ON)
DECKS = View(
    "decks",
    "log deck",
    "each log deck, landing, set or mill site with the water nearest to it",
    ("deck",),
    (
        *_ranged(_all(ground.DECKS, "slope_pct", "longest_skid_ft"), "distance_from_bank_ft", doubt=_doubt(ground.DECKS, "distance")),
        *borrow(ground.DECKS, "slope_pct", prefix="deck_"),
        *_NEAR_WATER,
        _range("longest_skid_ft", "longest skidding distance to it along its trails, else as recorded", "ft", "segments.from_deck_ft", "segments.length_ft", "decks.longest_skid_ft"),
        Field("mean_skid_ft", "number", "mean skidding distance to it along its trails", "ft", rests_on=("segments.from_deck_ft", "segments.length_ft")),
        Field("deck_share_pct", "number", "area of the deck, of the area whose wood came to it", "percent", rests_on=("decks.area_acres", "decks.served_acres")),
        Field("days_to_cover", "whole", "days from the last use to its cover", "days", rests_on=("decks.closed_on", "decks.cover_on")),
        _until_cover("working_days_closed_to_cover", "working days from the last use to its cover", "decks.closed_on", "decks", "decks.visited_on"),
        _until_cover("days_graded_to_cover", "days from the end of its grading to its cover", "decks.graded_on", "decks", "decks.visited_on"),
    ),
    "judged_on", "decks",
)  # fmt: skip

WATER_READINGS = View(
    "water_readings",
    "reading in the water",
    "each reading in a water, held against the one above the harvest about the same time",
    ("stream", "reading"),
    (
        *_all(waterside.WATER_READINGS),
        Field("water_rise_f", "number", "how much warmer the water is than above the harvest within the same hour; our choice of time", "degree F", uncertainty="rise_uncertainty_f", rests_on=("water_readings.water_temperature_f", "water_readings.read_on", "water_readings.read_at", "water_readings.position")),
        Field("rise_uncertainty_f", "number", "plus or minus of that rise: the doubts of both readings added", "degree F", rests_on=("water_readings.temperature_uncertainty_f",)),
        Field("hours_apart", "number", "time between the two readings", "h", rests_on=("water_readings.read_at",)),
        *_STREAM, *_JOB, _JUDGED_ON,
    ),
    "judged_on", "streams",
)  # fmt: skip

SEEDINGS = View(
    "seedings",
    "sowing",
    "each sowing of one seed on one place",
    ("seeding",),
    (
        *_all(ground.SEEDINGS, "pls_rate_lb_per_ac"),
        Field("pls_rate_lb_per_ac", "number", "pure live seed sown: as recorded, else by bag rate, purity and germination", "lb/acre", rests_on=("seedings.pls_rate_lb_per_ac", "seedings.bulk_rate_lb_per_ac", "seedings.purity_pct", "seedings.germination_pct")),
        Field("sown_month", "whole", "month of sowing, 1 to 12", None, rests_on=("seedings.sown_on",)),
        Field("sown_day_of_year", "whole", "day of the year of sowing, 1 is 1 January, of a year without 29 February", None, rests_on=("seedings.sown_on",)),
        *_JOB, _JUDGED_ON,
    ),
    "judged_on", "seedings",
)  # fmt: skip

FUEL_SITES = View(
    "fuel_sites",
    "fuel site",
    "the oil containers of each place of a job together",
    ("site",),
    (
        *borrow(ground.TANKS, "site"),
        _range("oil_capacity_gal", "capacity above ground that counts", "gal", "tanks.capacity_gal", "tanks.motive", "tanks.buried", "tanks.permanently_closed"),
        _range("buried_capacity_gal", "capacity wholly under ground that counts", "gal", "tanks.capacity_gal", "tanks.motive", "tanks.buried", "tanks.permanently_closed"),
        *borrow(haul.JOB, "spill_could_reach_water"),
        *_JOB, _JUDGED_ON,
    ),
    "judged_on", "job",
)  # fmt: skip

TANKS = View(
    "tanks", "container for oil", "each container for oil or fuel with the water nearest to it", ("tank",),
    (
        *_ranged(_all(ground.TANKS), "distance_from_bank_ft", doubt=_doubt(ground.TANKS, "distance")),
        _range("bund_gal", "what the bund or pan it stands in can hold", "gal", "tanks.containment_gal", "tanks.bund"),
        _range("largest_in_bund_gal", "capacity of the largest container that stands in that bund or pan", "gal", "tanks.capacity_gal", "tanks.bund"),
        _range("site_capacity_gal", "capacity above ground that counts, of all containers of its place", "gal", "tanks.capacity_gal", "tanks.motive", "tanks.buried", "tanks.permanently_closed", "tanks.site"),
        *borrow(haul.JOB, "spill_could_reach_water"),
        *_NEAR_WATER,
    ),
    "judged_on", "tanks",
)  # fmt: skip

SPILLS = View(
    "spills",
    "spill",
    "each spill or leak",
    ("spill",),
    (
        *_all(ground.SPILLS),
        _range("hours_to_report", "hours from noticing it to the first report", "h", "spills.learned_on", "spills.reported_on"),
        *_JOB, _JUDGED_ON,
    ),
    "judged_on", "spills",
)  # fmt: skip

NOTICES = View(
    "notices",
    "notice",
    "each notice given to one body, against the days of the operation",
    ("notice",),
    (
        *_all(ground.NOTICES, "kind"),
        *borrow(ground.NOTICES, "kind", prefix="notice_"),
        *borrow(haul.JOB, "entered_on", "harvest_completed_on", "local_notice_ordinance", "planned_end"),
        Field("working_days_after_start", "whole", "working days from the start of the operation to the notice", "days", rests_on=("notices.given_on", "job.operation_start")),
        Field("days_after_start", "whole", "days from the start of the operation to the notice; negative before it", "days", rests_on=("notices.given_on", "job.operation_start")),
        Field("days_before_start", "whole", "days from the notice to the start of the operation; negative after it", "days", rests_on=("notices.given_on", "job.operation_start")),
        _range("hours_after_entry", "hours from the first entry to the notice; negative before it", "h", "notices.given_on", "job.entered_on"),
        _range("hours_before_start", "hours from the notice to the start of the operation", "h", "notices.given_on", "job.operation_start"),
        _range("hours_after_end", "hours from the end of the harvest to the notice; negative before it", "h", "notices.given_on", "job.harvest_completed_on"),
        Field("days_after_event", "whole", "days from what it tells of to the notice; negative before it", "days", rests_on=("notices.given_on", "notices.event_on")),
        Field("working_days_after_event", "whole", "working days from what it tells of to the notice; negative before it", "days", rests_on=("notices.given_on", "notices.event_on")),
        Field("notice_missing_count", "whole", "things the place's definition `notice` asks of a notice that it does not state", "things", rests_on=("notices.contents",), defined_by="notice"),
        Field("missing_contents", "text", "what that definition asks of a notice that it does not state, in words", rests_on=("notices.contents",), defined_by="notice"),
        *_JOB, _JUDGED_ON,
    ),
    "judged_on", "notices",
)  # fmt: skip

NOTICE_DUTIES = View(
    "notice_duties",
    "kind of notice",
    "each kind of notice that a job may owe, whether or not one was given",
    ("notice_kind",),
    (
        Field("notice_kind", "class", "what the notice would be about", classes=ground.NOTICE_KINDS),
        _range("notice_count", "notices of that kind; none is certain only where the list of notices is declared complete", "notices", "notices.kind", kind="whole"),
        *borrow(
            haul.JOB, "local_notice_ordinance", "violation_found_on", "violations_checked", "bad_actor",
            "temporary_master_logger", "harvested_acres", "tract_acres",
        ),
        Field("told", "classes", "who received a notice of that kind", classes=ground.NOTICE_TO, whole_by="told_whole", rests_on=("notices.kind", "notices.given_to")),
        Field("told_whole", "yes_no", "the list of notices is declared complete and each of that kind says who received it", rests_on=("notices.kind", "notices.given_to")),
        Field("violation_to_start_years", "number", "years from the last finding of a violation to the start of the operation; negative where it came later", "year", rests_on=("job.violation_found_on", "job.operation_start")),
        *_JOB, _JUDGED_ON,
    ),
    "judged_on", "job",
)  # fmt: skip

JOBS = View(
    "jobs",
    "job",
    "the job as a whole",
    ("job",),
    (
        *_all(haul.JOB, "state", "region", "county", "harvest_type", "land_owner_class", "land_use_after", "special_areas", "special_areas_checked", "operation_start", "operation_end", "exemption_lost"),
        Field("days_reclaimed_after_plan", "whole", "days from the planned end to the closing out; negative before it", "days", rests_on=("job.planned_end", "job.reclaimed_on")),
        *_JOB, _JUDGED_ON,
    ),
    "judged_on", "job",
)  # fmt: skip

STAND_UNITS = View(
    "stand_units",
    "cutting unit",
    "each cutting unit with its plan and what its sample plots show",
    ("stand",),
    (
        *_all(ground.STANDS),
        Field("plot_count", "whole", "sample plots", "plots", rests_on=("stand_plots.stand_plot",)),
        Field("basal_area_ft2_per_ac", "number", "basal area left, mean of the plots", "ft2/acre", uncertainty="basal_area_uncertainty_ft2_per_ac", rests_on=("stand_plots.tree_count", "stand_plots.baf_ft2_per_ac", "tallies.dbh_in")),
        Field("basal_area_uncertainty_ft2_per_ac", "number", "plus or minus of that mean, 95 percent; blank for a single plot", "ft2/acre", rests_on=("stand_plots.stand_plot",)),
        Field("trees_per_ac", "number", "trees left, mean of the plots", "trees/acre", uncertainty="uncertainty_trees_per_ac", rests_on=("stand_plots.tree_count", "tallies.dbh_in")),
        Field("uncertainty_trees_per_ac", "number", "plus or minus of that mean, 95 percent; blank for a single plot", "trees/acre", rests_on=("stand_plots.stand_plot",)),
        Field("damaged_pct", "number", "trees left that are damaged as the plan counts it, of those counted", "percent", rests_on=("stand_plots.damaged_tree_count", "stand_plots.tree_count")),
        Field("tallest_stump_in", "number", "highest stump of the plots", "in", rests_on=("stand_plots.tallest_stump_in",)),
        Field("seed_trees_per_ac", "number", "seed trees left, mean of the plots", "trees/acre", rests_on=("stand_plots.seed_tree_count",)),
        Field("seed_trees_left_years", "number", "years from the cutting to that of its seed trees", "year", rests_on=("stands.cut_on", "stands.seed_trees_cut_on")),
        Field("seedlings_per_ac", "number", "seedlings, mean of the plots", "seedlings/acre", rests_on=("stand_plots.seedling_count",)),
        Field("uncut_wetland_pct", "number", "small wetlands left uncut, of all", "percent", rests_on=("stands.wetland_count", "stands.uncut_wetland_count")),
        *_JOB, _JUDGED_ON,
    ),
    "judged_on", "stands",
)  # fmt: skip

OBSERVATIONS = View(
    "observations",
    "judgement made on the ground",
    "each judgement with the stream of the place it is about",
    ("observation",),
    (*_all(ground.OBSERVATIONS), *_STREAM, *_JOB, _JUDGED_ON),
    "judged_on", "observations",
)  # fmt: skip

VIEWS = (
    STREAMS, WATER_READINGS, STATIONS, BANKS, BANK_OUTCOMES, STRIPS, STUMPS, DISTURBANCES, CROSSINGS, APPROACHES, PIPES, SEGMENTS,
    DRAIN_GAPS, DRAINS, RUTS, DECKS, SEEDINGS, FUEL_SITES, TANKS, SPILLS, NOTICES, NOTICE_DUTIES, JOBS, STAND_UNITS,
    OBSERVATIONS,
)  # fmt: skip

SUBJECTS = {
    "loads": "load", "job": "job", "streams": "stream", "banks": "bank", "disturbances": "disturbed place",
    "crossings": "crossing", "segments": "road or trail segment", "ruts": "rut", "decks": "deck", "seedings": "sowing",
    "tanks": "container", "spills": "spill", "notices": "notice", "stands": "cutting unit",
    "observations": "judgement",
}  # fmt: skip
"""The word for one row of each table whose rows a report counts."""
