"""The record tables of the haul: the job, its papers, the roads, the trucks, the loads and what holds them."""

from __future__ import annotations

from auditor.vocabulary.model import Field, Table

STATES = tuple(
    "US-" + s
    for s in [
        "AL",
        "AK",
        "AZ",
        "AR",
        "CA",
        "CO",
        "CT",
        "DE",
        "DC",
        "FL",
        "GA",
        "HI",
        "ID",
        "IL",
        "IN",
        "IA",
        "KS",
        "KY",
        "LA",
        "ME",
        "MD",
        "MA",
        "MI",
        "MN",
        "MS",
        "MO",
        "MT",
        "NE",
        "NV",
        "NH",
        "NJ",
        "NM",
        "NY",
        "NC",
        "ND",
        "OH",
        "OK",
        "OR",
        "PA",
        "RI",
        "SC",
        "SD",
        "TN",
        "TX",
        "UT",
        "VT",
        "VA",
        "WA",
        "WV",
        "WI",
        "WY",
    ]
)
ROAD_CLASSES = ("interstate", "us_route", "state_route", "county_road", "city_street", "private")
PRODUCTS = ("sawlogs", "pulpwood", "tree_length", "poles", "processed_logs", "chips", "biomass", "firewood", "other")
SCALE_KINDS = ("mill_platform", "certified_platform", "portable", "on_board", "in_woods", "estimate")
TRAILER_KINDS = ("frame", "pole", "crib_type", "flatbed_with_bunks", "rail", "pulpwood", "box_or_bin")
DOCUMENT_KINDS = (
    "overweight_permit",
    "overlength_permit",
    "oversize_permit",
    "harvest_permit",
    "route_notice",
    "timber_permit",
    "overload_permit",
    "weight_extension_permit",
    "forest_products_permit",
    "insurance_certificate",
    "management_plan",
    "buffer_management_plan",
    "sediment_control_plan",
    "water_quality_plan",
    "intent_to_implement",
    "practice_assessment",
    "wetland_delineation",
    "forestry_use_value",
    "agency_approval",
    "crossing_permit",
    "scenic_river_permit",
    "floodplain_permit",
    "conservation_plan",
    "spill_plan",
    "logger_card",
    "logging_licence",
    "water_liability_contract",
    "other",
)
HARVEST_TYPES = ("clearcut", "seed_tree", "shelterwood", "thinning", "selection", "salvage", "land_clearing")
OWNER_CLASSES = ("family", "corporate", "forest_industry", "local_public", "state", "federal")
REGIONS = ("lower_coastal_plain", "upper_coastal_plain", "piedmont", "mountains", "delta", "western_maryland", "other")
SPECIAL_AREAS = (
    "bay_preservation_area", "critical_area", "riparian_buffer_watershed", "goose_creek_watershed", "tidewater",
    "wild_river_corridor", "river_corridor", "public_water_supply_watershed", "outstanding_resource_watershed",
)  # fmt: skip
REGISTRATION_CLASSES = ("commercial", "farm", "forest_haul", "other")
MATERIALS = ("chain", "webbing", "wire_rope", "manila_rope", "synthetic_cordage", "steel_strapping")
GRADES = (
    "30", "43", "70", "80", "100",
    "polypropylene", "polyester", "nylon", "double_braided_nylon",
)  # fmt: skip
ROUTINGS = ("over_to_other_side", "same_side", "vehicle_to_article")
TICKET_CONTENTS = (
    "ticket_number", "receiver_name", "receiver_address", "date_received", "tract", "county_and_state", "dealer",
    "producer", "species", "product_type", "gross_tare_net", "volume", "deductions", "scaler_name", "seller_name",
    "loader_make_and_model", "load_number", "landowner", "loading_time", "destination", "loader_name", "driver_name",
)  # fmt: skip

CONTENT_WORDS = {"gross_tare_net": "gross, tare and net weight"}
"""Things that a paper shows whose name alone does not say it."""

_NOTE = Field("note", "text", "anything worth keeping; not judged")
_LOAD = Field("load", "text", "ticket number of the load", required=True, refers_to="loads")

JOB = Table(
    "job",
    "the harvest job",
    ("job",),
    (
        Field("job", "text", "short code of the job", required=True),
        Field("title", "text", "name of the job as people say it"),
        Field("state", "class", "state in which the timber is cut", classes=STATES, required=True),
        Field("county", "text", "county in which the timber is cut"),
        Field("operation_start", "date", "first day of the operation"),
        Field("operation_end", "date", "last day of the operation"),
        Field("audit_date", "date", "day as of which the record is judged"),
        Field("contractor", "text", "who answers for the harvest, by name or code"),
        Field("sold_by_load", "yes_no", "the timber is sold by weight, cord or board feet and not for one lump sum"),
        Field("harvest_completed_on", "date", "day on which the harvest was complete"),
        Field("entered_on", "date", "day on which machines or crew first came onto the tract"),
        Field("planned_end", "date", "day on which the operation was planned to be complete"),
        Field("reclaimed_on", "date", "day on which the whole site was closed out"),
        Field("harvest_type", "class", "what kind of harvest", classes=HARVEST_TYPES),
        Field("land_owner_class", "class", "who owns the land", classes=OWNER_CLASSES),
        Field("land_use_after", "class", "what the land is for afterwards", classes=("forest", "farm", "development", "mining", "other")),
        Field("other_activity_on", "date", "first disturbance of land there, after the harvest, for anything but forestry"),
        Field("exemption_lost", "yes_no", "the agency found that the work lost the exemption that forestry has from the sediment law"),
        Field("tract_acres", "number", "area of the tract", "acre", low=0, high=1_000_000),
        Field("harvested_acres", "number", "area cut", "acre", low=0, high=1_000_000),
        Field("disturbed_sqft", "number", "ground disturbed by roads, trails, decks and the like", "ft2", low=0, high=1_000_000_000),
        Field("moved_cuyd", "number", "earth moved", "yd3", low=0, high=10_000_000),
        Field("region", "class", "part of the state by its land forms", classes=REGIONS),
        Field("latitude_deg", "number", "middle of the tract, WGS 84", "degree", low=-90, high=90),
        Field("longitude_deg", "number", "middle of the tract, WGS 84, west negative", "degree", low=-180, high=180),
        Field("special_areas", "classes", "areas under rules of their own in which the tract lies", classes=SPECIAL_AREAS, whole_by="special_areas_checked"),
        Field("special_areas_checked", "yes_no", "every such area was looked up, so that the tract lies in none that is not listed"),
        Field("local_notice_ordinance", "yes_no", "the county or city has an ordinance that asks for notice of a harvest"),
        Field("violation_found_on", "date", "last day on which the operator was found in violation of the water rules"),
        Field("violations_checked", "yes_no", "the operator was looked up, so that a blank day of a violation means that none was found"),
        Field("bad_actor", "yes_no", "the operator is listed for penalties or repairs still open"),
        Field("temporary_master_logger", "yes_no", "the logger in charge holds a temporary designation"),
        Field("spill_could_reach_water", "yes_no", "by the lie of the land, dikes left aside, a spill could reach navigable water"),
        _NOTE,
    ),
)  # fmt: skip

DOCUMENTS = Table(
    "documents",
    "one paper held: a permit, certificate or licence",
    ("document",),
    (
        Field("document", "text", "number or short name of the paper", required=True),
        Field("kind", "class", "what kind of paper", classes=DOCUMENT_KINDS, required=True),
        Field("state", "class", "state that issued it", classes=STATES),
        Field("holder", "text", "whom the paper was issued to"),
        Field("truck", "text", "the truck it covers; blank: every truck of the job", refers_to="trucks"),
        Field("valid_from", "date", "first day of validity"),
        Field("valid_until", "date", "last day of validity"),
        Field("gross_limit_lb", "whole", "gross weight that the paper allows", "lb", low=1, high=250_000),
        Field("length_limit_ft", "number", "length that the paper allows", "ft", low=1, high=200),
        Field("carried", "yes_no", "the paper is carried in the vehicle"),
        _NOTE,
    ),
)

DESTINATIONS = Table(
    "destinations",
    "one mill or yard that receives loads",
    ("destination",),
    (
        Field("destination", "text", "short name of the mill or yard", required=True),
        Field("state", "class", "state of the mill or yard", classes=STATES),
        Field("kind", "class", "what happens to the wood there", classes=("first_processing", "holding_yard", "other")),
        Field(
            "haul_radius_miles",
            "number",
            "straight-line distance of the mill or yard from the tract",
            "mile",
            low=0,
            high=1000,
        ),
        _NOTE,
    ),
)

LEGS = Table(
    "legs",
    "one stretch of road on the way to a destination, under one law",
    ("destination", "leg"),
    (
        Field("destination", "text", "mill or yard", required=True, refers_to="destinations"),
        Field("leg", "whole", "order of travel, 1 first", required=True, low=1, high=99),
        Field("state", "class", "state the road lies in", classes=STATES, required=True),
        Field("county", "text", "county the road lies in"),
        Field("road_class", "class", "class of the road", classes=ROAD_CLASSES),
        Field("road_name", "text", "name or number of the road"),
        Field("miles", "number", "length of road driven", "mile", low=0, high=2000),
        Field("designated_gross_lb", "whole", "gross weight class of the road", "lb", low=1000, high=250_000),
        Field("nearest_route_out", "yes_no", "the road is on the nearest way from the woods to a road of full weight"),
        Field("posted_road_gross_lb", "whole", "posted weight limit of the road", "lb", low=1000, high=250_000),
        Field("posted_bridge_gross_lb", "whole", "lowest posted limit of the bridges", "lb", low=1000, high=250_000),
        Field("postings_checked", "yes_no", "someone looked for posted roads and bridges on this leg"),
        Field("pickup_or_delivery", "yes_no", "the truck loads or unloads on this road"),
        Field("local_truck_route", "yes_no", "the road is a designated local truck route built to Interstate standard"),
        Field(
            "only_access",
            "yes_no",
            "the road's posted bridge is the only public way to where the truck loads or unloads",
        ),
        Field("light_traffic_road", "yes_no", "the road is posted by the state as a light-traffic road"),
        Field("lane_width_ft", "number", "width of the road's narrowest lane", "ft", low=4, high=30),
        Field("national_network", "yes_no", "the road belongs to the National Network for large trucks"),
        _NOTE,
    ),
)

TRUCKS = Table(
    "trucks",
    "one truck or truck tractor",
    ("truck",),
    (
        Field("truck", "text", "unit number", required=True),
        Field("kind", "class", "kind of truck", classes=("tractor", "straight_truck"), required=True),
        Field("registered_gross_lb", "whole", "registered gross weight of the truck", "lb", low=1000, high=250_000),
        Field("low_pressure_tires", "yes_no", "all tires of the truck are inflated below 100 psi"),
        Field("rating_plate", "yes_no", "the truck carries the maker's plate with axle and gross ratings"),
        Field(
            "front_axle_rating_lb",
            "whole",
            "maker's rating of the front axle, as on the plate",
            "lb",
            low=500,
            high=60_000,
        ),
        Field("on_board_scale", "yes_no", "the truck has on-board scales"),
        Field("registration_class", "class", "how the truck is registered", classes=REGISTRATION_CLASSES),
        Field(
            "hauls_forest_products_only", "yes_no", "the truck is used for nothing but farm or primary forest products"
        ),
        _NOTE,
    ),
)

TRAILERS = Table(
    "trailers",
    "one trailer",
    ("trailer",),
    (
        Field("trailer", "text", "unit number", required=True),
        Field("kind", "class", "how the trailer is built", classes=TRAILER_KINDS),
        Field("length_ft", "number", "length of the trailer", "ft", low=1, high=120),
        Field(
            "kingpin_to_rear_axle_ft",
            "number",
            "the trailer's kingpin to its rear axle, or to the middle of its rear tandem",
            "ft",
            low=1,
            high=80,
        ),
        Field("front_structure", "yes_no", "the trailer has a front-end structure that restrains the logs"),
        Field("rear_structure", "yes_no", "the trailer has a rear-end structure that restrains the logs"),
        Field("has_bunks_and_stakes", "yes_no", "bunks, bolsters, stakes or standards that cradle the logs"),
        Field("stakes_sound", "yes_no", "stakes, bunks, pockets and anchor points looked at and found sound"),
        Field("centre_divider", "yes_no", "centre stakes or a divider making two about equal sections"),
        Field("anchored_against_uplift", "yes_no", "what tight tiedowns pull upward is anchored against it"),
        _NOTE,
    ),
)

AXLES = Table(
    "axles",
    "one axle of a combination as it runs on the road",
    ("truck", "trailer", "axle"),
    (
        Field("truck", "text", "unit number", required=True, refers_to="trucks"),
        Field("trailer", "text", "unit number; blank for a straight truck", refers_to="trailers"),
        Field("axle", "whole", "the axle's number from the front, the steer axle is 1", required=True, low=1, high=13),
        Field("position_ft", "number", "distance of the axle's centre behind the steer axle", "ft", low=0, high=150),
        Field("lift_axle", "yes_no", "the axle can be raised by the driver"),
        Field("rating_lb", "whole", "the maker's rating of the axle", "lb", low=500, high=60_000),
        _NOTE,
    ),
)

LOADS = Table(
    "loads",
    "one load, as its scale ticket shows it",
    ("load",),
    (
        Field("load", "text", "key of the load: the ticket number, with #2, #3 for a number seen before"),
        Field("ticket_number", "text", "number on the scale ticket", required=True),
        Field("load_date", "date", "day the load was weighed"),
        Field("scaled_at", "time", "time of day on the ticket"),
        Field("truck", "text", "unit number", required=True, refers_to="trucks"),
        Field("trailer", "text", "unit number; blank for a straight truck", refers_to="trailers"),
        Field("driver", "text", "driver, by code"),
        Field("destination", "text", "mill or yard", required=True, refers_to="destinations"),
        Field("product", "class", "what was hauled", classes=PRODUCTS),
        Field("origin_kind", "class", "where the haul began", classes=("forest", "yard", "mill")),
        Field("grown_state", "class", "state in which the wood grew", classes=STATES),
        Field(
            "gross_weight_lb",
            "whole",
            "loaded weight",
            "lb",
            low=1,
            high=250_000,
            uncertainty="scale_uncertainty_lb",
        ),
        Field("tare_weight_lb", "whole", "empty weight", "lb", low=1, high=120_000),
        Field("net_weight_lb", "whole", "weight of the wood as printed", "lb", low=1, high=200_000),
        Field("scale_kind", "class", "what weighed the load", classes=SCALE_KINDS),
        Field("origin_has_scale", "yes_no", "a scale for the whole vehicle stands where the haul began"),
        Field("scale_uncertainty_lb", "whole", "plus or minus of the scale's reading", "lb", low=0, high=20_000),
        Field("unitized", "yes_no", "the logs are banded into a unit"),
        Field("processed_log_count", "whole", "number of processed logs (poles, cabin parts)", "logs", low=0, high=500),
        Field("slippery", "yes_no", "wet, peeled or otherwise slippery wood"),
        Field("extra_securement", "yes_no", "extra tiedowns or devices for slippery wood"),
        Field("checked_at_public_road", "yes_no", "load and tiedowns looked at on entering the public road"),
        Field("overall_length_ft", "number", "vehicle and load together", "ft", low=1, high=250),
        Field("longest_log_ft", "number", "longest log on the load", "ft", low=1, high=150),
        Field("load_width_in", "number", "greatest width of the load", "in", low=1, high=300),
        Field("load_height_ft", "number", "greatest height of the load above the road", "ft", low=1, high=30),
        Field("rear_overhang_ft", "number", "load beyond the rear of the bed or body", "ft", low=0, high=80),
        Field("beyond_rear_axle_ft", "number", "load beyond the centre of the last axle", "ft", low=0, high=100),
        Field("cannot_be_shortened", "yes_no", "the pieces would be useless for their end use if cut shorter"),
        Field("front_overhang_ft", "number", "load beyond the front of the vehicle", "ft", low=0, high=30),
        Field(
            "side_overhang_in", "number", "load beyond the side of the vehicle, the larger side", "in", low=0, high=100
        ),
        Field("dark", "yes_no", "any part of the way driven when headlights are required"),
        _NOTE,
    ),
)

AXLE_WEIGHTS = Table(
    "axle_weights",
    "one reading of a scale over one axle or over several together",
    ("load", "first_axle"),
    (
        _LOAD,
        Field("first_axle", "whole", "number of the first axle on the scale", required=True, low=1, high=13),
        Field("last_axle", "whole", "number of the last axle on the scale", required=True, low=1, high=13),
        Field("weight_lb", "whole", "weight read for the axle or group", "lb", required=True, low=1, high=200_000),
        _NOTE,
    ),
)

_USUAL = (
    Field("load", "text", "ticket number, when it holds for that load alone", refers_to="loads"),
    Field("truck", "text", "unit number, when it is the usual way of that truck", refers_to="trucks"),
)

STACKS = Table(
    "stacks",
    "one stack of logs on a load, or the usual stack of a truck",
    ("load", "truck", "stack"),
    (
        *_USUAL,
        Field("stack", "whole", "the stack's number from the front", required=True, low=1, high=12),
        Field("orientation", "class", "how the logs of the stack lie", classes=("lengthwise", "crosswise")),
        Field("shortest_log_ft", "number", "shortest log of the stack", "ft", low=1, high=150),
        Field("longest_log_ft", "number", "longest log of the stack", "ft", low=1, high=150),
        Field("shortwood_embedded", "yes_no", "the short logs lie embedded among long ones"),
        Field("weight_lb", "whole", "weight of the stack", "lb", low=1, high=200_000),
        Field("bunk_count", "whole", "bunks or bolsters under the stack", "bunks", low=0, high=12),
        Field("blocked_front", "yes_no", "every log blocked in front by a structure or another stack"),
        Field("blocked_rear", "yes_no", "every log blocked behind by a structure or another stack"),
        Field("side_by_side", "yes_no", "the stack stands beside another crosswise stack"),
        Field("packed", "yes_no", "the stack is solidly packed, its bottom logs resting firmly"),
        Field("least_contact_count", "whole", "stakes or bunks touched by the outside log that touches fewest", "contacts", low=0, high=12),
        Field("end_log_stable", "yes_no", "an outside log end without a stake rests on others and reaches past the stake"),
        Field("least_centre_below_stake_in", "number", "highest outside log: its centre below the stake top, least of all stakes; negative is above", "in", low=-60, high=120),
        Field("top_logs_held", "yes_no", "every top log held by contact or a tiedown"),
        Field("lower_overhang_share", "number", "crosswise: largest share of a lower log beyond its support", "share", low=0, high=1),
        Field("height_above_deck_ft", "number", "height of the highest log above the deck", "ft", low=0, high=20),
        Field("close_beside", "yes_no", "side by side: no space to the stack beside it"),
        Field("outside_raise_in", "number", "side by side: how much the outside of the stack is raised", "in", low=0, high=24),
        Field("raise_from_end_in", "number", "side by side: from the raised place to the log ends or the vehicle side, the nearer", "in", low=0, high=60),
        Field("divider_tiedowns_hold", "yes_no", "over a divider: each tiedown holds the highest log on either side, is fastened below those logs and tight"),
        Field("tiedown_midway", "yes_no", "an only tiedown lies about midway between the stakes"),
        Field("outside_log_tiedown_count", "whole", "tiedowns over the outside log that lies under fewest", "tiedowns", low=0, high=40),
        Field("least_past_stake_in", "number", "least reach of an outside log beyond its last stake", "in", low=0, high=240),
        Field("large_logs_above_bunks", "yes_no", "pole trailer: large logs rise above the bunks"),
        Field("one_or_two_large_logs", "yes_no", "pole trailer: a load of one or two large logs"),
        Field("chocked", "yes_no", "chock blocks or equal hold the large logs"),
        _NOTE,
    ),
    one_of=("load", "truck"),
)  # fmt: skip

TIEDOWNS = Table(
    "tiedowns",
    "like tiedowns over one stack of a load, or the usual ones of a truck",
    ("load", "truck", "stack", "tiedown"),
    (
        *_USUAL,
        Field("stack", "whole", "stack they hold; blank: the only stack", low=1, high=12),
        Field("tiedown", "whole", "number of the line, 1 first", required=True, low=1, high=99),
        Field("count", "whole", "how many tiedowns are alike", "tiedowns", low=0, high=40),
        Field("kind", "class", "fastened to the vehicle, or wrapped round the load only", classes=("tiedown", "wrapper")),
        Field("material", "class", "what the tiedown is made of", classes=MATERIALS),
        Field("size_in", "number", "diameter of the tiedown, or width of webbing or strapping", "in", low=0.1, high=6),
        Field("thickness_in", "number", "thickness of steel strapping", "in", low=0.01, high=0.2),
        Field("grade", "class", "chain grade, or fibre of cordage; blank: not marked", classes=GRADES),
        Field("marked_wll_lb", "whole", "working load limit marked on the tiedown", "lb", low=1, high=60_000),
        Field("tensioner_wll_lb", "whole", "working load limit of the binder or ratchet", "lb", low=1, high=60_000),
        Field("anchor_wll_lb", "whole", "working load limit of the anchor points", "lb", low=1, high=60_000),
        Field("routing", "class", "from which anchor to which the tiedown runs", classes=ROUTINGS),
        Field("position_ft", "number", "distance of the tiedown behind the front of the stack", "ft", low=0, high=120),
        Field("defective", "yes_no", "the tiedown is cut, cracked, worn or otherwise weakened"),
        Field("knotted", "yes_no", "the tiedown has a knot"),
        Field("tightenable", "yes_no", "the driver can tighten the tiedown on the way"),
        Field("edge_protected", "yes_no", "the tiedown is protected where it could be cut"),
        _NOTE,
    ),
    one_of=("load", "truck"),
)  # fmt: skip

MARKINGS = Table(
    "markings",
    "flags and lamps on the projecting end of a load, or the usual ones of a truck",
    ("load", "truck"),
    (
        *_USUAL,
        Field("flag_count", "whole", "flags at the rear end", "flags", low=0, high=20),
        Field("flag_side_in", "number", "side of the smallest flag", "in", low=0, high=60),
        Field("flag_colour", "class", "colour of the flags", classes=("red", "fluorescent_orange", "other")),
        Field("projecting_width_ft", "number", "width of the projecting part", "ft", low=0, high=20),
        Field("lamp_kind", "class", "lamp at the projecting end", classes=("amber_strobe", "amber_led", "red", "none")),
        Field("lamp_count", "whole", "lamps at the projecting end", "lamps", low=0, high=20),
        Field("lamp_flashes_per_min", "number", "flashes of the lamp in a minute", "flashes a minute", low=0, high=600),
        Field("lamp_visible_ft", "number", "distance at which the lamp was plainly seen", "ft", low=0, high=5000),
        Field("lamp_working", "yes_no", "the lamp was working when looked at"),
        Field("lamp_failed_on_trip", "yes_no", "the lamp of the projecting end stopped working on this trip"),
        Field("red_lamps_rear", "whole", "red lamps at the rear end for the dark", "lamps", low=0, high=20),
        Field("red_reflectors_rear", "whole", "red reflectors at the rear end", "reflectors", low=0, high=20),
        Field("red_lamps_side", "whole", "red lamps near the rear end that show to the sides", "lamps", low=0, high=20),
        Field("side_flagged", "yes_no", "each side that projects carries a flag"),
        Field("lights_visible_ft", "number", "distance at which the lights at front and rear were seen, the shorter", "ft", low=0, high=5000),
        _NOTE,
    ),
    one_of=("load", "truck"),
)  # fmt: skip

LOAD_CHECKS = Table(
    "load_checks",
    "one look at the load and its tiedowns",
    ("load", "check"),
    (
        _LOAD,
        Field("check", "whole", "number of the check on this load, 1 first", required=True, low=1, high=99),
        Field("miles_from_start", "number", "miles driven since loading", "mile", low=0, high=2000),
        Field("hours_from_start", "number", "hours driven since loading", "h", low=0, high=100),
        Field("by", "text", "who looked at the load, by code"),
        _NOTE,
    ),
)

TICKETS = Table(
    "tickets",
    "one wood load ticket handed to the seller of the timber, or the line of a load in the loader's log",
    ("load",),
    (
        _LOAD,
        Field("given_on", "date", "day the ticket was given"),
        Field("given_to", "class", "who received the ticket", classes=("seller", "landowner", "other")),
        Field("contents", "classes", "what the ticket shows", classes=TICKET_CONTENTS),
        _NOTE,
    ),
)

TABLES = (
    JOB, DOCUMENTS, DESTINATIONS, LEGS, TRUCKS, TRAILERS, AXLES, LOADS, AXLE_WEIGHTS, STACKS, TIEDOWNS, MARKINGS,
    LOAD_CHECKS, TICKETS,
)  # fmt: skip
