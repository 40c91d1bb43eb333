"""The record tables of the harvest site: streamside, crossings, roads and trails, fuel, the residual stand, judgements.

A forester closes out a harvest by tape and pace; maps give the same tables by geometry. What one row is:

- `streams` one water, `banks` one side of a reach of even slope and treatment, `stations` one width across a bank;
- `plots` one sample plot of a strip inside a zone, `tallies` like trees of a plot, `stumps` like stumps in a zone;
- `disturbances` one piece of disturbed ground, debris or chemical near a bank or in a channel;
- `crossings` one crossing, `approaches` its road on either side, `pipes` like pipes, `water_readings` one reading;
- `segments` one road, trail or firelane between two junctions, `pitches` a stretch of even grade of it, `drains` one
  water bar, dip, turnout or pipe on it, `ruts` one rut on it or off it;
- `decks`, `seedings`, `tanks`, `spills`, `notices` one each; `stands` one cutting unit with its plan figures,
  `stand_plots` one sample plot of it;
- `observations` one judgement: question, place, answer, reason, who and on what ground. It stands beside what is
  computed and never replaces it; its `rule` names the computed outcome it speaks of.

A table without rows is no evidence. Where an empty list is to count, its owner says that the list is whole:
`banks.stumps_listed`, `banks.disturbances_listed`, `segments.drains_listed`, `segments.ruts_listed`, `pitches` that
cover the segment, `streams.field_signs_listed`. Measures answer with ranges (lo, hi) until then.

How views are built (names as rules will use them; each row keeps job, keys and provenance):

- `stations`: a station with its bank and stream; `zone_width_ft` becomes an interval, converted to the `along` and
  `start` that the place's definition `zone_width` names; `from_ft`, `to_ft` and `station_length_ft` say what stretch
  it stands for.
- `banks`: a bank with its stream; length-weighted slope, canopy and bare soil as intervals.
- `bank_outcomes` (second stage): first-stage outcomes of a rule on `stations`, rolled up by bank: failing share,
  failing length, longest run, worst length in any window. The required width is a limit of each station, so the share
  that fails it exists only after the first stage.
- `strips`: plots of one bank and strip: mean basal area with standard error and confidence limits, trees an acre,
  canopy, stems kept. Strips come from the place's definition `strips`, else from the plots themselves.
- `stumps`, `disturbances`: each row with its bank and stream, distances converted as for `stations`.
- `crossings`: a crossing with stream, angle to the stream line, pipe area, equivalent diameter, days in place;
  `approaches` and `pipes` each with their crossing.
- `segments`: ruts, steep length and grade share; `drain_gaps`: each stretch between two drains of the kinds that
  count, ends included, with its mean and steepest grade, and, once the spacing limit is known, the drains it lacks.
- `decks`, `seedings`, `tanks`, `sites` (spill capacity), `spills`, `notices` (working days and hours), `stand_units`.
- `practices`: observations as asked by implementation monitoring, and their roll-up by category and in all.
"""

from __future__ import annotations

from auditor.vocabulary import waterside
from auditor.vocabulary.model import Field, Table
from auditor.vocabulary.waterside import (
    ALONG,
    COVERS,
    INSIDE_REASONS,
    PLOT_FIELDS,
    ROLES,
    STARTS,
    SURFACES,
)  # fmt: skip

SEGMENT_KINDS = ("haul_road", "access_road", "skid_trail", "firelane")
DRAIN_KINDS = ("water_bar", "broad_based_dip", "rolling_dip", "turnout", "cross_drain")
OUTLETS = ("forest_floor", "spreader", "ditch", "road", "gully", "zone", "channel", "other")
SPECIES = (
    "winter_wheat", "grain_rye", "cereal_rye", "spring_oats", "foxtail_millet", "japanese_millet", "pearl_millet",
    "browntop_millet", "annual_ryegrass", "grass_mix", "grass_and_legume_mix", "legumes", "other",
)  # fmt: skip
LIQUIDS = (
    "diesel",
    "gasoline",
    "hydraulic_oil",
    "engine_oil",
    "used_oil",
    "bar_oil",
    "vegetable_oil",
    "crude_oil",
    "other",
)
SPILL_CONTACTS = (
    "national_response_center", "state_environmental_agency", "state_forestry_agency", "landowner", "other",
)  # fmt: skip
NOTICE_KINDS = (
    "harvest_start", "harvest_end", "change", "after_past_violation", "bad_actor", "temporary_master_logger",
    "scenic_river_harvest", "sediment_plan_start", "sediment_plan_filing", "reclamation_delay", "dead_or_infested_trees", "intent_to_implement",
    "other",
)  # fmt: skip
NOTICE_TO = (
    "state_forestry_agency", "state_environmental_agency", "state_agriculture_agency", "county", "city",
    "soil_conservation_district", "wild_rivers_program", "wildlife_agency", "other",
)  # fmt: skip
NOTICE_METHODS = ("in_person", "letter", "fax", "email", "telephone", "voice_mail", "website")
NOTICE_CONTENTS = (
    "tract_map", "entry_points", "location", "coordinates", "acreage", "start_date", "end_date", "duration", "sale_type",
    "owner_name", "owner_address", "owner_phone", "operator_name", "operator_address", "operator_phone",
    "emergency_phone", "business_number", "licence_number", "trained_person_number", "county", "promise_of_practices",
    "account_number",
)  # fmt: skip
CATEGORIES = (
    "harvesting", "forest_roads", "stream_crossings", "streamside_management_zones", "site_preparation", "firebreaks",
    "chemical_application",
)  # fmt: skip
PLACE_KINDS = (
    "job", "stream", "bank", "station", "plot", "crossing", "segment", "deck", "stand", "tank", "spill", "other",
)  # fmt: skip
ANSWERS = ("yes", "no", "not_applicable", "could_not_tell")
QUESTIONS = (
    # What happened to the water.
    "sediment_confined_to_zone", "water_free_of_sediment", "stream_free_of_debris", "water_free_of_chemicals",
    "shade_kept", "ground_cover_holds_soil", "flow_unchanged_by_ruts", "outlets_clear_of_water",
    # How the zone was treated.
    "zone_trees_evenly_spread", "zone_understory_little_disturbed", "zone_timber_undamaged", "bank_trees_kept",
    "felled_away_from_water", "trees_pulled_without_harm", "root_wads_left", "channel_free_of_machines",
    "channel_not_used_as_road", "no_other_place",
    # Roads, trails, decks.
    "roads_fewest", "trails_fewest", "crossings_fewest", "decks_fewest", "existing_roads_used", "trails_across_slope",
    "roads_drained", "soil_kept_off_public_road", "rutting_limited", "low_ground_pressure_used",
    "public_road_free_of_debris", "bare_areas_covered", "deck_reshaped", "trash_removed",
    # The baseline practices for forest roads in waters of the United States.
    "roads_away_from_water", "fill_passes_floods", "fill_stabilised", "machines_within_fill",
    "vegetation_least_disturbed", "aquatic_life_passes", "borrow_from_upland", "listed_species_unharmed",
    "breeding_and_spawning_areas_avoided", "water_intakes_avoided", "shellfish_areas_avoided",
    "wild_and_scenic_rivers_avoided", "fill_clean", "temporary_fill_removed",
    # Fuel, chemicals, people.
    "fuelled_in_set_place", "mixed_away_from_water", "water_only_in_water_tanks", "spills_cleaned",
    "operation_posted", "supervisor_present", "plan_on_site",
    "practice_applied",
)  # fmt: skip
"""Each is worded so that "yes" is what the practices ask for; `practice_applied` goes with `practice`."""

_NOTE = Field("note", "text", "anything worth keeping; not judged")
_SEGMENT = Field("segment", "text", "the road, trail or firelane", required=True, refers_to="segments")
_NEAR_BANK = Field("bank", "text", "the nearest bank", refers_to="banks")
_ALONG = Field(
    "measured_along", "class", "how the distance was measured: level, or along the slope of the ground", classes=ALONG
)
_FROM = Field("measured_from", "class", "where on the water's side the distance starts", classes=STARTS)
_DISTANCE = (
    _NEAR_BANK,
    Field("distance_from_bank_ft", "number", "nearest edge to that bank", "ft", low=0, high=20_000, uncertainty="distance_uncertainty_ft"),
    Field("distance_uncertainty_ft", "number", "plus or minus of the distances", "ft", low=0, high=500),
    _ALONG,
    _FROM,
)  # fmt: skip
_ALONG_FT = Field("along_ft", "number", "distance along the segment from its upper end", "ft", low=0, high=500_000)

SEGMENTS = Table(
    "segments",
    "one road, skid trail or firelane between two junctions",
    ("segment",),
    (
        Field("segment", "text", "short name or number", required=True),
        Field("kind", "class", "kind of road, trail or firelane", classes=SEGMENT_KINDS, required=True),
        Field("permanent", "yes_no", "the road or trail is kept open after the harvest"),
        Field("existing", "yes_no", "the road or trail was there before this harvest"),
        Field("length_ft", "number", "length of the road or trail", "ft", low=1, high=500_000),
        Field("grade_pct", "number", "average grade of the road or trail, without sign", "percent", low=0, high=200, uncertainty="grade_uncertainty_pct"),
        Field("grade_uncertainty_pct", "number", "plus or minus of the grades of the road or trail", "percent", low=0, high=50),
        Field("steepest_grade_pct", "number", "steepest grade of the road or trail, without sign", "percent", low=0, high=200),
        Field("width_ft", "number", "width of the tread", "ft", low=1, high=200),
        Field("cross_slope_pct", "number", "outslope or crown of the tread", "percent", low=0, high=50),
        Field("cut_or_fill_ft", "number", "greatest height of cut or fill", "ft", low=0, high=100),
        Field("bladed", "yes_no", "the road or trail is bladed to mineral soil"),
        Field("straight_up_slope", "yes_no", "the road or trail runs straight up or down the slope"),
        Field("soil_erodibility", "class", "soil letter of the state's list, A stable to C highly erodible", classes=("A", "B", "C")),
        Field("wet_or_erodible", "yes_no", "the road or trail is on wet or easily eroded ground"),
        Field("in_wetland", "yes_no", "the road or trail is in a wetland"),
        Field("surface", "class", "what the road or trail is surfaced with", classes=SURFACES),
        Field("used_wet", "yes_no", "the road or trail was used while the ground was wet"),
        Field("deck", "text", "skid trail: the deck it leads to", refers_to="decks"),
        Field("from_deck_ft", "number", "skid trail: way from the deck to its nearer end", "ft", low=0, high=50_000),
        Field("drains_listed", "yes_no", "every drain on the road or trail is listed"),
        Field("ruts_listed", "yes_no", "every rut on the road or trail is listed"),
        Field("first_disturbed_on", "date", "first day on which the ground of the road or trail was disturbed"),
        Field("graded_on", "date", "day on which its grading, or a phase of it, was complete"),
        Field("closed_on", "date", "day the regular use of the road or trail ended"),
        Field("cover", "class", "what covers the road or trail after closing", classes=COVERS),
        Field("cover_pct", "number", "part of the tread under that cover", "percent", low=0, high=100),
        Field("cover_depth_ft", "number", "depth of slash on the road or trail", "ft", low=0, high=20),
        Field("cover_on", "date", "day the road or trail had that cover"),
        Field("first_storm_on", "date", "day of the first large storm after the drains of the road or trail were built"),
        Field("walked_on", "date", "day the road or trail was walked"),
        _NOTE,
    ),
)  # fmt: skip

PITCHES = Table(
    "pitches",
    "one stretch of even grade of a road, trail or firelane",
    ("segment", "pitch"),
    (
        _SEGMENT,
        Field("pitch", "whole", "the pitch's number from the upper end, 1 first", required=True, low=1, high=10_000),
        Field("from_ft", "number", "where the pitch begins, from the upper end of the segment", "ft", low=0, high=500_000),
        Field("to_ft", "number", "where the pitch ends, from the upper end of the segment", "ft", low=0, high=500_000),
        Field("grade_pct", "number", "grade of the pitch, without sign", "percent", low=0, high=200, uncertainty="grade_uncertainty_pct"),
        Field("grade_uncertainty_pct", "number", "plus or minus of the grade", "percent", low=0, high=50),
        _NOTE,
    ),
)  # fmt: skip

DRAINS = Table(
    "drains",
    "one structure that turns water off a road, trail or firelane",
    ("segment", "drain"),
    (
        _SEGMENT,
        Field("drain", "whole", "the drain's number from the upper end, 1 first", required=True, low=1, high=10_000),
        Field("kind", "class", "kind of drain", classes=DRAIN_KINDS, required=True),
        _ALONG_FT,
        Field("along_uncertainty_ft", "number", "plus or minus of the drain's place", "ft", low=0, high=1000),
        Field("angle_deg", "number", "angle of the drain's line to the road", "degree", low=0, high=180, uncertainty="angle_uncertainty_deg"),
        Field("angle_uncertainty_deg", "number", "plus or minus of the angle", "degree", low=0, high=90),
        Field("angle_from", "class", "0 degrees lie along the centre line, or square across it", classes=("centre_line", "square")),
        Field("height_in", "number", "height of the drain, trench bottom to top of the berm", "in", low=0, high=120),
        Field("traffic_barrier", "yes_no", "water bar: meant to keep vehicles out as well"),
        Field("reverse_grade_pct", "number", "dip: grade against the fall of the road", "percent", low=0, high=50),
        Field("reverse_length_ft", "number", "dip: length of that reverse grade", "ft", low=0, high=500),
        Field("outslope_pct", "number", "dip: fall of its bottom to the side", "percent", low=0, high=50),
        Field("upper_end_tied_in", "yes_no", "the drain's upper end is tied into the bank"),
        Field("reaches_both_edges", "yes_no", "the drain reaches past both edges of the tread"),
        Field("outlet_drop_in", "number", "outlet below the upper end of the drain", "in", low=-60, high=240),
        Field("outlet_grade_pct", "number", "fall of the outlet ditch", "percent", low=-20, high=100),
        Field("outlet", "class", "where the drain's water goes", classes=OUTLETS),
        Field("outlet_to_water_ft", "number", "from the outlet to the nearest bank", "ft", low=0, high=20_000),
        Field("outlet_open", "yes_no", "the outlet of the drain is open"),
        Field("pipe_diameter_in", "number", "cross drain: inside diameter", "in", low=1, high=300),
        Field("pipe_grade_pct", "number", "cross drain: fall of the pipe", "percent", low=-20, high=50),
        Field("pipe_cover_ft", "number", "cross drain: fill over the pipe", "ft", low=0, high=50),
        Field("beyond_fill_ft", "number", "cross drain: reach beyond the fill, the shorter end; negative ends inside", "ft", low=-100, high=100),
        Field("working", "yes_no", "the drain works as it should"),
        Field("stabilised", "yes_no", "the drain is held by plants, mulch or stone"),
        Field("built_on", "date", "day the drain was built"),
        Field("checked_after_storm_on", "date", "day the drain was looked at after the first large storm"),
        _NOTE,
    ),
)  # fmt: skip

RUTS = Table(
    "ruts",
    "one rut, or one stretch of ruts side by side",
    ("rut",),
    (
        Field("rut", "text", "short name or number", required=True),
        Field("segment", "text", "the road or trail; blank: off any", refers_to="segments"),
        _ALONG_FT,
        Field("length_ft", "number", "length of the rut", "ft", low=0, high=50_000),
        Field("mean_depth_in", "number", "average depth of the rut", "in", low=0, high=120, uncertainty="depth_uncertainty_in"),
        Field("deepest_in", "number", "greatest depth of the rut", "in", low=0, high=120),
        Field("depth_uncertainty_in", "number", "plus or minus of the depths", "in", low=0, high=24),
        Field("in_wetland", "yes_no", "the rut lies in a wetland"),
        Field("changes_flow", "yes_no", "the rut holds back or turns natural flow"),
        *_DISTANCE,
        Field("made_on", "date", "day the rut was made or seen first"),
        Field("repaired_on", "date", "day the rut was smoothed out"),
        _NOTE,
    ),
)  # fmt: skip

DECKS = Table(
    "decks",
    "one log deck, landing, set or mill site",
    ("deck",),
    (
        Field("deck", "text", "short name or number", required=True),
        *_DISTANCE,
        Field("distance_from_zone_ft", "number", "nearest edge of the deck to the edge of the zone as kept; 0 inside it", "ft", low=0, high=20_000, uncertainty="distance_uncertainty_ft"),
        Field("reason_inside_zone", "class", "why the deck lies inside a zone", classes=INSIDE_REASONS),
        Field("controls_working", "yes_no", "erosion and sediment controls stand and work"),
        Field("slope_pct", "number", "slope of the deck's ground", "percent", low=0, high=100),
        Field("slope_to_water_pct", "number", "slope of the land between the deck and the water", "percent", low=0, high=200),
        Field("area_acres", "number", "area of the deck", "acre", low=0.001, high=100),
        Field("served_acres", "number", "area whose wood came to the deck", "acre", low=0, high=10_000),
        Field("well_drained", "yes_no", "the deck lies on firm, well-drained ground"),
        Field("skidded_through_sensitive", "yes_no", "skidding to the deck passed through a zone, wetland or other sensitive ground"),
        Field("longest_skid_ft", "number", "longest skidding distance to the deck", "ft", low=0, high=50_000),
        Field("skid_slope_pct", "number", "steepest ground that was skidded to the deck", "percent", low=0, high=200),
        Field("trash_removed", "yes_no", "trash of the deck was hauled to a legal place"),
        Field("reshaped", "yes_no", "disturbed ground of the deck was shaped again"),
        Field("opened_on", "date", "first day of the deck's use"),
        Field("graded_on", "date", "day on which its grading, or a phase of it, was complete"),
        Field("closed_on", "date", "last day of the deck's use"),
        Field("cover", "class", "what covers the deck after closing", classes=COVERS),
        Field("cover_on", "date", "day the deck had that cover"),
        Field("visited_on", "date", "day the deck was looked at"),
        _NOTE,
    ),
)  # fmt: skip

SEEDINGS = Table(
    "seedings",
    "one sowing of one seed on one place",
    ("seeding",),
    (
        Field("seeding", "text", "short name or number", required=True),
        Field("segment", "text", "road, trail or firelane that was sown", refers_to="segments"),
        Field("deck", "text", "deck that was sown", refers_to="decks"),
        Field("crossing", "text", "crossing that was sown", refers_to="crossings"),
        Field("species", "class", "species that were sown", classes=SPECIES),
        Field("sown_on", "date", "day of the sowing"),
        Field("area_acres", "number", "area sown", "acre", low=0.001, high=1000),
        Field("bulk_rate_lb_per_ac", "number", "seed sown as it comes from the bag", "lb/acre", low=0, high=1000),
        Field("purity_pct", "number", "purity on the tag", "percent", low=0, high=100),
        Field("germination_pct", "number", "germination on the tag", "percent", low=0, high=100),
        Field("pls_rate_lb_per_ac", "number", "pure live seed sown, where known as such", "lb/acre", low=0, high=1000),
        Field("permanent_mix_too", "yes_no", "sown together with a permanent mix"),
        Field("slope_pct", "number", "slope of the ground", "percent", low=0, high=200),
        Field("fertilised", "yes_no", "fertiliser was spread"),
        Field("inside_zone", "yes_no", "the place lies inside a zone"),
        Field("mulched", "yes_no", "mulch was spread"),
        _NOTE,
    ),
)  # fmt: skip

TANKS = Table(
    "tanks",
    "one container for oil or fuel on the site",
    ("tank",),
    (
        Field("tank", "text", "short name or number", required=True),
        Field("site", "text", "place where the container stands; blank: the one place of the job"),
        Field("capacity_gal", "number", "what the container can hold, full or empty", "gal", low=0, high=1_000_000),
        Field("contents", "class", "what the container is for", classes=LIQUIDS),
        Field("motive", "yes_no", "the container is a machine's own tank or on-board oil for driving it"),
        Field("mobile_refueler", "yes_no", "the container is a tank on a truck or trailer that fuels machines"),
        Field("buried", "yes_no", "the container lies wholly under ground"),
        Field("permanently_closed", "yes_no", "the container was emptied and closed for good"),
        Field("bund", "text", "short name of the bund or pan that the container shares with others; blank: it shares none"),
        Field("containment_gal", "number", "what the bund or pan of the container can hold", "gal", low=0, high=1_000_000),
        *_DISTANCE,
        Field("inside_zone", "yes_no", "the container stands inside a zone"),
        Field("leaking", "yes_no", "the container leaks or drips"),
        Field("placed_on", "date", "first day of the container on the site"),
        Field("removed_on", "date", "day the container left the site"),
        _NOTE,
    ),
)  # fmt: skip

SPILLS = Table(
    "spills",
    "one spill or leak of oil, fuel or chemicals",
    ("spill",),
    (
        Field("spill", "text", "short name or number", required=True),
        Field("substance", "class", "what was spilled", classes=LIQUIDS),
        Field("volume_gal", "number", "how much was spilled", "gal", low=0, high=1_000_000, uncertainty="volume_uncertainty_gal"),
        Field("volume_uncertainty_gal", "number", "plus or minus of the volume spilled", "gal", low=0, high=1_000_000),
        Field("to_water", "yes_no", "some of the spill reached water"),
        Field("sheen", "yes_no", "film, sheen or discoloured water was seen"),
        Field("sludge", "yes_no", "sludge or emulsion was seen under the surface or on the shore"),
        Field("distance_from_water_ft", "number", "nearest edge of the spill to surface water", "ft", low=0, high=100_000),
        Field("from_exempt_tank", "yes_no", "the spill came from a storage tank that the tank rules exempt"),
        Field("occurred_on", "date", "day the spill happened"),
        Field("occurred_at", "time", "time of day the spill happened"),
        Field("learned_on", "date", "day the spill was noticed"),
        Field("learned_at", "time", "time of day the spill was noticed"),
        Field("reported_on", "date", "day the spill was first reported"),
        Field("reported_at", "time", "time of day the spill was first reported"),
        Field("reported_to", "classes", "who was told of the spill", classes=SPILL_CONTACTS),
        Field("recorded", "yes_no", "the spill was written down with what was done"),
        Field("cleaned_up_on", "date", "day the spill was cleaned up"),
        _NOTE,
    ),
)  # fmt: skip

NOTICES = Table(
    "notices",
    "one notice given to one body",
    ("notice",),
    (
        Field("notice", "text", "number or short name of the notice", required=True),
        Field("kind", "class", "what the notice is about", classes=NOTICE_KINDS, required=True),
        Field("given_to", "class", "who received the notice", classes=NOTICE_TO),
        Field("method", "class", "how the notice was given", classes=NOTICE_METHODS),
        Field("given_on", "date", "day the notice was given"),
        Field("given_at", "time", "time of day the notice was given"),
        Field("event_on", "date", "day of what the notice tells of, such as a change; blank: the start or end of the operation"),
        Field("event_at", "time", "time of day of what the notice tells of"),
        Field("stated_end_on", "date", "planned day of completion that the notice gives"),
        Field("contents", "classes", "what the notice states", classes=NOTICE_CONTENTS),
        Field("answered_on", "date", "day of the answer to the notice"),
        Field("answer", "class", "the answer to the notice", classes=("received", "approved", "refused", "returned")),
        _NOTE,
    ),
)  # fmt: skip

STANDS = Table(
    "stands",
    "one cutting unit with what was planned for it",
    ("stand",),
    (
        Field("stand", "text", "short name or number", required=True),
        Field("treatment", "class", "how the stand was cut", classes=("clearcut", "seed_tree", "shelterwood", "thinning", "selection", "salvage")),
        Field("area_acres", "number", "area of the stand that was cut", "acre", low=0, high=100_000),
        Field("cut_on", "date", "last day of cutting in the stand"),
        Field("wetland", "yes_no", "the stand is a wetland"),
        Field("seed_trees_cut_on", "date", "first day on which seed trees that had been left there were cut"),
        Field("separation_ft", "number", "uncut or lightly cut ground to the next clearcut", "ft", low=0, high=50_000),
        Field("neighbour_height_ft", "number", "average height of the trees on that ground", "ft", low=0, high=300),
        Field("wetland_count", "whole", "small isolated wetlands in the unit", "wetlands", low=0, high=10_000),
        Field("uncut_wetland_count", "whole", "of these, left uncut", "wetlands", low=0, high=10_000),
        Field("largest_wetland_acres", "number", "largest of these", "acre", low=0, high=10_000),
        Field("seed_tree_pine_pct", "number", "loblolly and white pine among the live trees before cutting, least acre", "percent", low=0, high=100),
        Field("basal_area_before_ft2_per_ac", "number", "basal area of the stand before the harvest", "ft2/acre", low=0, high=1000),
        Field("least_basal_area_ft2_per_ac", "number", "plan: least basal area to be left", "ft2/acre", low=0, high=1000),
        Field("most_basal_area_ft2_per_ac", "number", "plan: most basal area to be left", "ft2/acre", low=0, high=1000),
        Field("least_trees_per_ac", "number", "plan: fewest trees to be left", "trees/acre", low=0, high=100_000),
        Field("most_trees_per_ac", "number", "plan: most trees to be left", "trees/acre", low=0, high=100_000),
        Field("most_damaged_pct", "number", "plan: greatest part of the trees left that may be damaged", "percent", low=0, high=100),
        Field("least_wound_sqin", "number", "plan: smallest wound that counts", "in2", low=0, high=5000),
        Field("highest_stump_in", "number", "plan: highest stump", "in", low=0, high=120),
        Field("trail_spacing_ft", "number", "centre to centre of the trails", "ft", low=0, high=2000),
        Field("planned_trail_spacing_ft", "number", "plan: centre to centre of the trails", "ft", low=0, high=2000),
        _NOTE,
    ),
)  # fmt: skip

STAND_PLOTS = Table(
    "stand_plots",
    "one sample plot in what was left of a cutting unit",
    ("stand_plot",),
    (
        Field("stand_plot", "text", "number of the plot", required=True),
        Field("stand", "text", "the cutting unit", required=True, refers_to="stands"),
        *PLOT_FIELDS,
        Field("damaged_tree_count", "whole", "of the trees counted, those damaged as the plan counts it", "trees", low=0, high=10_000),
        Field("crown_damaged_count", "whole", "of the trees counted, those with broken crowns", "trees", low=0, high=10_000),
        Field("root_damaged_count", "whole", "of the trees counted, those with torn or cut roots", "trees", low=0, high=10_000),
        Field("trail_distance_ft", "number", "plot centre to the centre line of the nearest trail", "ft", low=0, high=5000),
        Field("seed_tree_count", "whole", "cone-bearing pines large enough for seed trees", "trees", low=0, high=10_000),
        Field("seedling_count", "whole", "pine seedlings of 4 ft or taller", "seedlings", low=0, high=100_000),
        Field("stump_count", "whole", "stumps of this harvest measured", "stumps", low=0, high=10_000),
        Field("tallest_stump_in", "number", "highest of them, measured on the uphill side", "in", low=0, high=120),
        Field("mean_stump_in", "number", "their average height", "in", low=0, high=120),
        Field("taken_on", "date", "day the plot was taken"),
        _NOTE,
    ),
)  # fmt: skip

OBSERVATIONS = Table(
    "observations",
    "one judgement made on the ground",
    ("observation",),
    (
        Field("observation", "text", "number or short name of the judgement", required=True),
        Field("question", "class", "what was judged", classes=QUESTIONS, required=True),
        Field("practice", "text", "the practice of the state's list that was judged, by its number or heading"),
        Field("category", "class", "category of implementation monitoring", classes=CATEGORIES),
        Field("rule", "text", "id of the rule whose computed outcome this judgement stands beside"),
        Field("place_kind", "class", "what kind of place was judged", classes=PLACE_KINDS),
        Field("place", "text", "name of the place in that table; blank: the whole job"),
        Field("answer", "class", "the judgement", classes=ANSWERS),
        Field("significant_risk", "yes_no", "water quality is or will very likely be harmed in a way that can be mended"),
        Field("reason", "text", "why it was judged so"),
        Field("role", "class", "who judged", classes=ROLES),
        Field("observer", "text", "who judged, by code"),
        Field("licence", "text", "number of the observer's licence or registration"),
        Field("observed_on", "date", "day of the judgement"),
        Field("observed_at", "time", "time of day of the judgement"),
        Field("photo", "text", "file name of a photograph"),
        Field("photo_latitude_deg", "number", "where the photograph was taken, WGS 84", "degree", low=-90, high=90),
        Field("photo_longitude_deg", "number", "where the photograph was taken, WGS 84, west negative", "degree", low=-180, high=180),
        Field("photo_on", "date", "day the photograph was taken"),
        Field("photo_at", "time", "time of day the photograph was taken"),
        _NOTE,
    ),
)  # fmt: skip

TABLES = (
    *waterside.TABLES, SEGMENTS, PITCHES, DRAINS, RUTS, DECKS, SEEDINGS, TANKS, SPILLS, NOTICES, STANDS, STAND_PLOTS,
    OBSERVATIONS,
)  # fmt: skip
