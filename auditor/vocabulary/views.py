"""The views that rules examine: rows of the record joined with what belongs to them and what is computed."""

from __future__ import annotations

from auditor.vocabulary import haul
from auditor.vocabulary.model import Field, View, borrow

_LOADS = borrow(haul.LOADS, *[f.name for f in haul.LOADS.fields if f.name != "note"])
_MATES = (
    *borrow(haul.TRUCKS, "kind", prefix="truck_"),
    *borrow(
        haul.TRUCKS, "registered_gross_lb", "low_pressure_tires", "registration_class", "hauls_forest_products_only"
    ),
    *borrow(haul.TRUCKS, "rating_plate", "front_axle_rating_lb", "on_board_scale"),
    *borrow(haul.TRAILERS, "kind", "length_ft", prefix="trailer_"),
    *borrow(haul.TRAILERS, "kingpin_to_rear_axle_ft"),
    *borrow(haul.TRAILERS, "front_structure", "rear_structure", "has_bunks_and_stakes", "stakes_sound"),
    *borrow(haul.TRAILERS, "centre_divider", "anchored_against_uplift"),
    *borrow(haul.DESTINATIONS, "state", "kind", prefix="destination_"),
    *borrow(haul.DESTINATIONS, "haul_radius_miles"),
    Field(
        "vehicle_type",
        "class",
        "one unit, or a truck with a trailer",
        classes=("single_unit", "combination"),
        rests_on=("trucks.kind", "loads.trailer"),
    ),
)
_LEG = borrow(
    haul.LEGS, "leg", "state", "county", "road_class", "road_name", "miles", "designated_gross_lb", "nearest_route_out",
    "posted_road_gross_lb", "posted_bridge_gross_lb", "postings_checked", "pickup_or_delivery",
    "local_truck_route", "only_access", "light_traffic_road", "lane_width_ft", "national_network",
)  # fmt: skip
_LAYOUT = (
    Field(
        "axle_count",
        "whole",
        "axles that count under the law of the place",
        "axles",
        low=1,
        rests_on=("axles.axle", "axles.lift_axle"),
        defined_by="axle_groups",
    ),
    Field("outer_span_ft", "number", "first to last counted axle", "ft", rests_on=("axles.position_ft",)),
    Field(
        "single_axle_count",
        "whole",
        "axles that stand alone",
        "axles",
        rests_on=("axles.position_ft", "axles.lift_axle"),
        defined_by="axle_groups",
    ),
    Field(
        "tandem_count",
        "whole",
        "tandem groups",
        "groups",
        rests_on=("axles.position_ft", "axles.lift_axle"),
        defined_by="axle_groups",
    ),
)

LOAD_LEGS = View(
    "load_legs",
    "load on a stretch of road",
    "each load on each stretch of road it was driven over",
    ("ticket_number", "leg"),
    (*_LOADS, *_MATES, *_LEG, *_LAYOUT),
)

AXLE_GROUPS = View(
    "axle_groups",
    "axle or tandem of a load on a stretch of road",
    "each single axle and each tandem of a load, on each stretch of road; the law of the place says what a tandem is",
    ("ticket_number", "leg", "first_axle", "last_axle"),
    (
        *LOAD_LEGS.fields,
        Field("group_kind", "class", "single axle or tandem", classes=("single", "tandem"), rests_on=("axles.position_ft", "axles.lift_axle"), defined_by="axle_groups"),
        Field("first_axle", "whole", "number of its first axle"),
        Field("last_axle", "whole", "number of its last axle"),
        Field("spread_in", "number", "first to last axle of the group", "in", rests_on=("axles.position_ft",), defined_by="axle_groups"),
        Field("group_weight_lb", "number", "weight on the group", "lb", interval=True, rests_on=("axle_weights.weight_lb",)),
    ),
)  # fmt: skip

AXLE_RUNS = View(
    "axle_runs",
    "run of consecutive axles of a load on a stretch of road",
    "every run of two or more consecutive axles of a load, on each stretch of road",
    ("ticket_number", "leg", "first_axle", "last_axle"),
    (
        *LOAD_LEGS.fields,
        Field("first_axle", "whole", "number of its first axle"),
        Field("last_axle", "whole", "number of its last axle"),
        Field("run_axle_count", "whole", "axles in the run", "axles", low=2, rests_on=("axles.axle", "axles.lift_axle"), defined_by="axle_groups"),
        Field("run_span_ft", "number", "first to last axle of the run", "ft", rests_on=("axles.position_ft",)),
        Field("run_span_in", "number", "first to last axle of the run", "in", rests_on=("axles.position_ft",)),
        Field("two_tandems", "yes_no", "the run is two consecutive tandems and nothing else", rests_on=("axles.position_ft", "axles.lift_axle"), defined_by="axle_groups"),
        Field("run_weight_lb", "number", "weight on the run", "lb", interval=True, rests_on=("axle_weights.weight_lb",)),
    ),
)  # fmt: skip

_MARKINGS = borrow(haul.MARKINGS, *[f.name for f in haul.MARKINGS.fields if f.name not in {"load", "truck", "note"}])
_JOB = (
    *borrow(haul.JOB, "state", prefix="job_"),
    *borrow(haul.JOB, "sold_by_load", "harvest_completed_on", "operation_start", "operation_end"),
)

LOADS = View(
    "loads",
    "load",
    "each load with its ticket, its vehicle, its size, its marking and the checks made on the way",
    ("ticket_number",),
    (
        *_LOADS,
        *_MATES,
        *_MARKINGS,
        *_JOB,
        Field("ticket_gap_lb", "number", "printed gross less tare less net, without sign", "lb", rests_on=("loads.gross_weight_lb", "loads.tare_weight_lb", "loads.net_weight_lb")),
        Field("axle_sum_gap_lb", "number", "gross less the sum of the axle readings, without sign", "lb", rests_on=("axle_weights.weight_lb",)),
        Field("same_ticket_count", "whole", "loads that carry this ticket number at this destination", "loads"),
        Field("implied_speed_mph", "number", "speed the truck needed since its load before", "mile/h", rests_on=("loads.scaled_at", "legs.miles")),
        Field("tare_drift_lb", "number", "tare against the usual tare of this truck and trailer, without sign", "lb", rests_on=("loads.tare_weight_lb",)),
        Field("days_outside_operation", "whole", "days before the first or after the last day of the operation", "days", rests_on=("job.operation_start", "job.operation_end", "loads.load_date")),
        Field("ticket_given", "yes_no", "a ticket for this load went to the seller", rests_on=("tickets.load", "tickets.given_to")),
        Field("ticket_days_after_removal", "whole", "days from the load to its ticket", "days", rests_on=("tickets.given_on", "loads.load_date")),
        Field("ticket_days_after_harvest", "whole", "days from the end of the harvest to the ticket", "days", rests_on=("tickets.given_on", "job.harvest_completed_on")),
        Field("ticket_missing_count", "whole", "things the law asks of the ticket that it does not show", "things", rests_on=("tickets.contents",), defined_by="ticket"),
        Field("missing_contents", "text", "what the law asks of the ticket that it does not show, in words", rests_on=("tickets.contents",), defined_by="ticket"),
        Field("trip_miles", "number", "length of the whole trip", "mile", rests_on=("legs.miles",)),
        Field("check_count", "whole", "checks recorded on the way", "checks", rests_on=("load_checks.check",)),
        Field("first_check_miles", "number", "miles to the first check after the start", "mile", rests_on=("load_checks.miles_from_start",)),
        Field("check_gap_miles", "number", "longest stretch without a check", "mile", rests_on=("load_checks.miles_from_start",)),
        Field("check_gap_h", "number", "longest driving time without a check", "h", rests_on=("load_checks.hours_from_start",)),
        Field("checked_before_driving", "yes_no", "a check at mile 0", rests_on=("load_checks.miles_from_start",)),
    ),
)  # fmt: skip

_RATING = ("tiedowns.grade", "tiedowns.thickness_in", "tiedowns.tensioner_wll_lb", "tiedowns.anchor_wll_lb")

STACKS = View(
    "stacks",
    "stack of logs on a load",
    "each stack of each load with the tiedowns that hold it; where a load has none of its own, the truck's usual ones",
    ("ticket_number", "stack"),
    (
        *(f for f in _LOADS if f.name != "longest_log_ft"),
        *_MATES,
        *borrow(haul.STACKS, *[f.name for f in haul.STACKS.fields if f.name not in {"load", "truck", "note", "weight_lb"}]),
        Field("stack_basis", "class", "recorded for this load, or usual for the truck", classes=("this_load", "usual")),
        Field("tiedown_basis", "class", "recorded for this load, or usual for the truck", classes=("this_load", "usual")),
        Field("log_length_class", "class", "shortwood or longwood", classes=("shortwood", "longwood"), rests_on=("stacks.shortest_log_ft", "stacks.longest_log_ft"), also_reads=("stacks.shortwood_embedded",), defined_by="log_length"),
        Field("stack_count", "whole", "stacks on the load", "stacks", rests_on=("stacks.stack",)),
        Field("stack_weight_lb", "number", "weight of the stack; of several unweighed ones, between nothing and all", "lb", interval=True, rests_on=("stacks.weight_lb", "loads.net_weight_lb")),
        Field("tiedown_count", "whole", "tiedowns fastened to the vehicle", "tiedowns", rests_on=("tiedowns.count", "tiedowns.kind")),
        Field("wrapper_count", "whole", "wrappers round the whole load", "wrappers", rests_on=("tiedowns.count", "tiedowns.kind")),
        Field("aggregate_wll_lb", "number", "aggregate working load limit of the tiedowns", "lb", interval=True, rests_on=("tiedowns.count", "tiedowns.kind", "tiedowns.defective", "tiedowns.material", "tiedowns.size_in", "tiedowns.marked_wll_lb", "tiedowns.routing"), also_reads=_RATING, defined_by="working_load_limits"),
        Field("wrapper_spacing_ft", "number", "front to rear wrapper", "ft", rests_on=("tiedowns.position_ft",)),
        Field("tiedown_position_gap_share", "number", "largest distance of two tiedowns from one and two thirds of the length, as a share of it", "share", rests_on=("tiedowns.position_ft",), defined_by="tiedown_positions"),
        Field("weakest_tiedown_wll_lb", "number", "working load limit of the weakest tiedown", "lb", rests_on=("tiedowns.material", "tiedowns.size_in", "tiedowns.marked_wll_lb"), also_reads=_RATING, defined_by="working_load_limits"),
    ),
)  # fmt: skip

TIEDOWNS = View(
    "tiedowns",
    "kind of tiedown on a load",
    "each line of tiedowns or wrappers on each load; where a load has none of its own, the truck's usual ones",
    ("ticket_number", "stack", "tiedown"),
    (
        *_LOADS,
        *_MATES,
        *borrow(haul.TIEDOWNS, *[f.name for f in haul.TIEDOWNS.fields if f.name not in {"load", "truck", "note"}]),
        Field("tiedown_basis", "class", "recorded for this load, or usual for the truck", classes=("this_load", "usual")),
        Field("wll_lb", "number", "working load limit of the weakest part", "lb", rests_on=("tiedowns.material", "tiedowns.size_in", "tiedowns.marked_wll_lb"), also_reads=_RATING, defined_by="working_load_limits"),
        Field("wll_basis", "class", "where the working load limit comes from", classes=("marked", "table", "default")),
    ),
)  # fmt: skip

VIEWS = (LOAD_LEGS, AXLE_GROUPS, AXLE_RUNS, LOADS, STACKS, TIEDOWNS)
