"""The record tables of what lies along the water: streams, banks, zone widths, plots, stumps, disturbed ground, crossings."""

from __future__ import annotations

from auditor.vocabulary.haul import STATES
from auditor.vocabulary.model import Field, Table

METHODS = ("tape", "pace", "laser", "gps", "map", "lidar", "estimate")
ALONG = ("horizontal", "ground")
STARTS = (
    "bank", "top_of_bank", "edge_of_channel", "edge_of_water", "low_water_mark", "mean_high_water", "bank_as_required",
)  # fmt: skip
"""`bank_as_required`: the edge of the bank that the rules of the place mean."""
ROLES = (
    "forester", "registered_forester", "agency_forester", "agency_staff", "logger", "master_logger", "landowner",
    "biologist", "auditor", "other",
)  # fmt: skip
STREAM_KINDS = (
    "stream", "braided_stream", "river", "drain", "ditch_or_canal", "lake_or_pond", "reservoir", "slough_or_oxbow",
    "wetland", "tidal_water", "tidal_wetland", "tidal_tributary", "sinkhole", "spring_head", "other",
)  # fmt: skip
STREAM_CLASSES = ("perennial", "intermittent", "ephemeral")
TROUT_WATERS = (
    "none", "designated", "primary", "secondary", "tributary_of_trout_waters", "cold_water_habitat",
)  # fmt: skip
FIELD_SIGNS = (
    "defined_channel", "no_defined_channel", "sinuous_channel", "straight_channel", "pools_in_drought",
    "pools_when_wet_only", "no_pools", "soil_and_debris_moved", "leaf_litter_moves", "leaf_litter_stays",
    "grey_soil_red_specks", "brown_soil_grey_inclusions", "unchanged_soil", "wetland_plants", "upland_plants",
    "flowing_water", "aquatic_animals", "water_table_at_bed",
)  # fmt: skip
MAPS = ("usgs_map", "soil_survey_map", "agency_map", "trout_list")
DESIGNATIONS = (
    "scenic_river", "wild_river", "wild_and_scenic_river", "outstanding_water", "outstanding_national_resource_water",
    "class_1_water", "public_water_supply", "public_waterway", "protected_river_corridor", "bay_preservation_area",
    "critical_area", "riparian_buffer_rules", "special_state_concern_wetland", "shellfish_area", "spawning_area",
    "specially_designated",
)  # fmt: skip
ZONE_HARVESTS = (
    "none", "single_tree_selection", "group_selection", "thinning", "seed_tree", "clearcut", "salvage", "personal_use",
)  # fmt: skip
ZONE_ENDS = (
    "edge_of_cut", "road", "skid_trail", "deck", "firelane", "other_disturbance", "marked_line", "tract_boundary",
    "field_edge", "ridge",
)  # fmt: skip
CANOPY_METHODS = ("densiometer", "sighting_tube", "photo", "aerial_image", "lidar", "eye")
SEEN = (
    "nothing", "cut_stumps", "machine_tracks", "ruts", "bare_soil", "gully", "debris_in_channel", "sediment_in_zone",
    "sediment_in_water", "bank_damage", "trash", "oil", "windthrow", "road", "skid_trail", "deck", "marked_line",
)  # fmt: skip
SPECIES_GROUPS = (
    "loblolly_pine", "white_pine", "other_pine", "other_softwood", "hardwood", "cypress", "other_wetland_species",
)  # fmt: skip
CUT_REASONS = (
    "harvest", "hazard_tree", "dead_or_infested", "crossing", "felled_by_accident", "personal_use", "unknown",
)  # fmt: skip
DISTURBANCES = (
    "road", "skid_trail", "firelane", "deck", "mill_site", "machine_tracks", "rut", "bare_soil", "gully", "sediment",
    "site_preparation", "borrow_pit", "debris", "slash_pile", "trash", "fuel_or_oil", "fertiliser", "pesticide", "burn",
    "bank_damage",
)  # fmt: skip
INSIDE_REASONS = ("crossing", "property_line", "land_feature", "existing_road", "no_other_place", "none", "other")
MADE_BY = ("this_harvest", "earlier_use", "nature", "others")
CROSSING_TYPES = (
    "bridge", "bridge_mat", "dragline_mat", "culvert", "ford", "pole_ford", "log_or_brush_fill", "dirt_fill",
    "open_channel",
)  # fmt: skip
FILLS = ("none", "soil", "clean_rock", "logs_lengthwise", "brush", "mixed", "other")
REGIONS = ("lower_coastal_plain", "upper_coastal_plain", "piedmont", "mountains")
SOIL_TEXTURES = ("light", "medium", "heavy")
SURFACES = ("native_soil", "gravel_or_stone", "mats", "slash", "grass", "paved")
COVERS = ("none", "natural_cover", "seed", "straw_or_mulch", "seed_and_mulch", "pine_slash", "hardwood_slash", "stone")

_NOTE = Field("note", "text", "anything worth keeping; not judged")
_STREAM = Field("stream", "text", "name or number of the water", required=True, refers_to="streams")
_BANK = Field("bank", "text", "the bank it belongs to", required=True, refers_to="banks")
_ALONG_FT = Field("along_ft", "number", "distance along the bank from its upstream end", "ft", low=0, high=100_000)
_ALONG = Field(
    "measured_along", "class", "how the distance was measured: level, or along the slope of the ground", classes=ALONG
)
_FROM = Field("measured_from", "class", "where on the water's side the distance starts", classes=STARTS)
_METHOD = Field("method", "class", "how the distances were measured", classes=METHODS)
_CANOPY = (
    Field("canopy_pct", "number", "crown cover over the place", "percent", low=0, high=100),
    Field("canopy_method", "class", "how the crown cover was found", classes=CANOPY_METHODS),
)
PLOT_FIELDS = (
    Field("kind", "class", "counted with a prism or angle gauge, or inside a fixed circle or strip", classes=("prism", "fixed"), required=True),
    Field("baf_ft2_per_ac", "number", "prism: basal area factor", "ft2/acre", low=1, high=100),
    Field("plot_radius_ft", "number", "fixed circle: its radius, level", "ft", low=1, high=500),
    Field("plot_area_acres", "number", "fixed plot of another shape: its area", "acre", low=0.0001, high=100),
    Field("slope_corrected", "yes_no", "the count allows for the slope of the ground, or the ground is level"),
    Field("borderline_checked", "yes_no", "doubtful trees were checked by their distance"),
    Field("least_dbh_in", "number", "smallest tree that was counted", "in", low=0, high=60),
    Field("tree_count", "whole", "live trees counted: the trees 'in' of a prism, all of a fixed plot; 0 where there are none", "trees", low=0, high=10_000),
)  # fmt: skip
"""What every sample plot needs before basal area and trees an acre can be computed from it."""

STREAMS = Table(
    "streams",
    "one stream or other water body on or beside the tract",
    ("stream",),
    (
        Field("stream", "text", "name or number of the water", required=True),
        Field("kind", "class", "what kind of water it is", classes=STREAM_KINDS),
        Field("stream_class", "class", "how long the water flows, by the definition used", classes=STREAM_CLASSES),
        Field("class_under", "class", "state whose definition was used", classes=STATES),
        Field("classified_by", "class", "who classified the water", classes=ROLES),
        Field("classified_on", "date", "day the water was classified"),
        Field("flow_share_pct", "number", "part of an ordinary year with flow", "percent", low=0, high=100),
        Field("field_signs", "classes", "signs of its class that were seen", classes=FIELD_SIGNS, whole_by="field_signs_listed"),
        Field("field_signs_listed", "yes_no", "every sign was looked for, so that one not listed was not there"),
        Field("identification_points", "number", "score on the state's stream identification form", "points", low=0, high=100),
        Field("width_ft", "number", "width of the water from bank to bank, the average of the reach", "ft", low=0, high=20_000),
        Field("channel_slope_pct", "number", "fall of the channel along the water", "percent", low=0, high=100),
        Field("drainage_area_acres", "number", "land that drains to the water where it leaves the tract", "acre", low=0, high=10_000_000),
        Field("mean_flow_cfs", "number", "mean annual flow of the water", "ft3/s", low=0, high=1_000_000),
        Field("man_made", "yes_no", "the water was dug by people"),
        Field("once_natural", "yes_no", "the water was a natural stream before it was dredged or straightened"),
        Field("in_wetland", "yes_no", "the water runs or lies in a wetland"),
        Field("trout_waters", "class", "the water's standing as trout water", classes=TROUT_WATERS),
        Field("mapped_on", "classes", "official maps or lists that show the water", classes=MAPS, whole_by="maps_checked"),
        Field("maps_checked", "yes_no", "every map was looked at, so that one not listed does not show it"),
        Field("designations", "classes", "protected or named standing that the water has", classes=DESIGNATIONS, whole_by="designations_checked"),
        Field("designations_checked", "yes_no", "every designation was looked up, so that one not listed does not hold"),
        Field("runoff_degrades", "yes_no", "runoff from its land was found to harm it, or to add much to such harm"),
        Field("watershed", "text", "river basin or watershed as the rules name it"),
        Field("wetland_acres", "number", "wetland, lake or pond: its area", "acre", low=0, high=1_000_000),
        Field("us_waters", "yes_no", "the water counts as water of the United States"),
        Field("navigable", "yes_no", "the water counts as navigable"),
        _NOTE,
    ),
)  # fmt: skip

BANKS = Table(
    "banks",
    "one side of one reach of a water, of one slope and treatment",
    ("bank",),
    (
        Field("bank", "text", "short name, such as B1-left", required=True),
        _STREAM,
        Field("side", "class", "side of the water, looking downstream; head is the land above the source", classes=("left", "right", "head", "all_round")),
        Field("harvested", "yes_no", "trees were cut beside this side"),
        Field("harvested_on", "date", "last day of cutting beside this side"),
        Field("length_ft", "number", "length of the reach along the bank", "ft", low=1, high=100_000),
        Field("slope_pct", "number", "slope of the land toward the water, averaged", "percent", low=0, high=200, uncertainty="slope_uncertainty_pct"),
        Field("slope_uncertainty_pct", "number", "plus or minus of the slope", "percent", low=0, high=100),
        Field("slope_method", "class", "how the slope was found", classes=("clinometer", "rise_and_run", "map", "lidar", "estimate")),
        Field("soil_erodibility", "class", "soil letter of the state's list, A stable to C highly erodible", classes=("A", "B", "C")),
        Field("site_sensitivity", "class", "site sensitivity class: soil letter and slope number", classes=tuple(a + n for a in "ABC" for n in "123456")),
        Field("zone_harvest", "class", "how trees were cut inside the zone", classes=ZONE_HARVESTS),
        Field("last_zone_cut_on", "date", "last cutting inside the zone before this harvest"),
        Field("planted", "yes_no", "the zone is a planted stand"),
        Field("zone_new", "yes_no", "the zone is newly established"),
        Field("stand_age_years", "number", "average age of the trees in the zone", "year", low=0, high=500),
        Field("wildlife_goal", "yes_no", "the zone is kept for wildlife too"),
        Field("water_supply_near", "yes_no", "a public water intake is near enough to matter"),
        Field("edge_self_evident", "yes_no", "the edge of the zone shows without marks"),
        Field("marking_gap_ft", "number", "greatest distance between marks along the edge of the zone", "ft", low=0, high=10_000),
        Field("stumps_listed", "yes_no", "every stump in the zone is listed, so that none listed means none there"),
        Field("disturbances_listed", "yes_no", "all disturbed ground near this bank is listed, so that none listed means none there"),
        Field("looked_to_ft", "number", "how far from the bank disturbed ground was looked for", "ft", low=0, high=2000),
        Field("walked_on", "date", "day this bank was walked"),
        Field("walked_by", "class", "who walked this bank", classes=ROLES),
        _METHOD,
        _NOTE,
    ),
)  # fmt: skip

STATIONS = Table(
    "stations",
    "one reading of the zone's width across one bank",
    ("bank", "station"),
    (
        _BANK,
        Field("station", "whole", "number of the reading along the bank, 1 first", required=True, low=1, high=100_000),
        _ALONG_FT,
        Field("stretch_from_ft", "number", "where the stretch it stands for begins, from the upstream end; blank: half way to the reading before", "ft", low=0, high=100_000),
        Field("stretch_to_ft", "number", "where that stretch ends; blank: half way to the reading after", "ft", low=0, high=100_000),
        Field("zone_width_ft", "number", "width of the zone as kept", "ft", low=0, high=5000, uncertainty="width_uncertainty_ft"),
        Field("width_uncertainty_ft", "number", "plus or minus of the widths of this station", "ft", low=0, high=500),
        Field("primary_width_ft", "number", "width of the inner zone where an inner and an outer one are kept", "ft", low=0, high=5000, uncertainty="width_uncertainty_ft"),
        Field("wider_than_read", "yes_no", "the reading stopped before the edge: the zone is at least so wide"),
        _ALONG,
        _FROM,
        Field("measured_to", "class", "what ends the zone at the reading", classes=ZONE_ENDS),
        Field("low_water_to_bank_ft", "number", "level distance from the ordinary low-water mark to the bank", "ft", low=0, high=1000),
        Field("uncut_width_ft", "number", "width from the same start to the first stump", "ft", low=0, high=5000, uncertainty="width_uncertainty_ft"),
        Field("undisturbed_width_ft", "number", "width from the same start to the first disturbed ground", "ft", low=0, high=5000, uncertainty="width_uncertainty_ft"),
        Field("nearest_sediment_ft", "number", "from the same start to the nearest visible sediment of this harvest", "ft", low=0, high=5000),
        Field("slope_pct", "number", "slope of the ground along the reading", "percent", low=0, high=200),
        *_CANOPY,
        Field("ground_cover_pct", "number", "soil under plants, litter or slash", "percent", low=0, high=100),
        Field("bare_soil_pct", "number", "mineral soil laid bare inside the zone", "percent", low=0, high=100),
        Field("seen", "classes", "what was seen across the zone; nothing, where it was looked for", classes=SEEN),
        Field("read_on", "date", "day of the reading"),
        _METHOD,
        _NOTE,
    ),
)  # fmt: skip

PLOTS = Table(
    "plots",
    "one sample plot inside a zone",
    ("plot",),
    (
        Field("plot", "text", "number of the plot", required=True),
        _BANK,
        _ALONG_FT,
        Field("strip_from_ft", "number", "inner edge of the strip it stands for, from the bank; 0 at the bank", "ft", low=0, high=1000),
        Field("strip_to_ft", "number", "outer edge of the strip it stands for, from the bank", "ft", low=1, high=1000),
        Field("distance_from_bank_ft", "number", "centre of the plot to the bank, level; tells the strip where that is blank", "ft", low=0, high=1000, uncertainty="distance_uncertainty_ft"),
        Field("distance_uncertainty_ft", "number", "plus or minus of the distance", "ft", low=0, high=500),
        *PLOT_FIELDS,
        *_CANOPY,
        Field("canopy_before_pct", "number", "crown cover before the harvest", "percent", low=0, high=100),
        Field("densiometer_filled_count", "whole", "densiometer squares or dots under crowns, summed over its readings", "squares", low=0, high=2000),
        Field("densiometer_read_count", "whole", "densiometer squares or dots read in all", "squares", low=1, high=2000),
        Field("basal_area_before_ft2_per_ac", "number", "basal area before the harvest", "ft2/acre", low=0, high=1000),
        Field("overstory_before_count", "whole", "overstory trees of the plot before the harvest, stumps with those left", "trees", low=0, high=10_000),
        Field("overstory_left_count", "whole", "overstory trees of the plot left", "trees", low=0, high=10_000),
        Field("overstory_least_dbh_in", "number", "smallest tree counted as overstory", "in", low=0, high=60),
        Field("understory", "class", "what became of the understory", classes=("kept", "partly_kept", "gone")),
        Field("ground_cover_pct", "number", "soil under plants, litter or slash", "percent", low=0, high=100),
        Field("bare_soil_pct", "number", "mineral soil laid bare", "percent", low=0, high=100),
        Field("taken_on", "date", "day the plot was taken"),
        _NOTE,
    ),
)  # fmt: skip

TALLIES = Table(
    "tallies",
    "like trees of one plot",
    ("plot", "stand_plot", "line"),
    (
        Field("plot", "text", "plot inside a zone", refers_to="plots"),
        Field("stand_plot", "text", "plot in the residual stand", refers_to="stand_plots"),
        Field("line", "whole", "number of the line, 1 first", required=True, low=1, high=10_000),
        Field("species_group", "class", "kind of tree", classes=SPECIES_GROUPS),
        Field("dbh_in", "number", "diameter 4.5 ft above the ground, or the middle of its class", "in", low=0.1, high=120),
        Field("tree_count", "whole", "trees alike", "trees", required=True, low=0, high=10_000),
        _NOTE,
    ),
    one_of=("plot", "stand_plot"),
)  # fmt: skip

STUMPS = Table(
    "stumps",
    "one stump inside a zone, or several alike",
    ("bank", "stump"),
    (
        _BANK,
        Field("stump", "whole", "the stump's number along the bank, 1 first", required=True, low=1, high=100_000),
        Field("stump_count", "whole", "how many stumps are alike; blank: one", "stumps", low=1, high=10_000),
        _ALONG_FT,
        Field("distance_from_bank_ft", "number", "nearest edge of the stump to the bank", "ft", low=0, high=1000, uncertainty="distance_uncertainty_ft"),
        Field("distance_uncertainty_ft", "number", "plus or minus of the distance", "ft", low=0, high=500),
        _ALONG,
        _FROM,
        Field("stump_diameter_in", "number", "diameter of the stump", "in", low=0.5, high=150),
        Field("dbh_in", "number", "diameter the tree had 4.5 ft above the ground", "in", low=0.1, high=120),
        Field("species_group", "class", "kind of tree", classes=SPECIES_GROUPS),
        Field("roots_in_bank", "yes_no", "the stump's main roots show in the bank"),
        Field("cut_reason", "class", "why the tree was cut", classes=CUT_REASONS),
        Field("cut_on", "date", "day the tree was cut"),
        _NOTE,
    ),
)  # fmt: skip

DISTURBANCES_TABLE = Table(
    "disturbances",
    "one stretch of disturbed ground, debris, fuel or chemicals in or near a zone or a channel",
    ("disturbance",),
    (
        Field("disturbance", "text", "short name or number", required=True),
        Field("kind", "class", "kind of disturbance", classes=DISTURBANCES, required=True),
        _BANK,
        Field("crossing", "text", "the crossing it leads to or belongs to", refers_to="crossings"),
        Field("segment", "text", "the road, trail or firelane it is part of", refers_to="segments"),
        Field("distance_from_bank_ft", "number", "nearest edge of the disturbed ground to the bank; 0 in the channel", "ft", low=0, high=2000, uncertainty="distance_uncertainty_ft"),
        Field("distance_uncertainty_ft", "number", "plus or minus of the distance", "ft", low=0, high=500),
        _ALONG,
        _FROM,
        Field("along_ft", "number", "where the disturbance begins, along the bank from its upstream end", "ft", low=0, high=100_000),
        Field("length_ft", "number", "length of the disturbance along the bank", "ft", low=0, high=100_000),
        Field("area_acres", "number", "area of the disturbance", "acre", low=0, high=10_000),
        Field("slope_pct", "number", "slope of the land between the disturbance and the water", "percent", low=0, high=200),
        Field("in_channel", "yes_no", "the disturbance lies in the channel"),
        Field("impedes_flow", "yes_no", "the disturbance holds back or turns the flow"),
        Field("reaches_water", "yes_no", "soil, oil or chemicals from it visibly reach the water"),
        Field("controls_working", "yes_no", "erosion and sediment controls stand and work"),
        Field("thickest_piece_in", "number", "debris: diameter of the thickest piece", "in", low=0, high=100),
        Field("distance_from_trees_ft", "number", "slash pile: its edge to the nearest tree to be left", "ft", low=0, high=1000),
        Field("reason_inside_zone", "class", "why the disturbance lies inside the zone", classes=INSIDE_REASONS),
        Field("reason", "text", "the reason in words"),
        Field("made_by", "class", "who or what made the disturbance", classes=MADE_BY),
        Field("made_on", "date", "day the disturbance was made or seen first"),
        Field("cover_on", "date", "day the disturbance was stabilised with cover"),
        Field("removed_on", "date", "day the disturbance was taken out or put right"),
        _NOTE,
    ),
)  # fmt: skip

CROSSINGS = Table(
    "crossings",
    "one place where a road or trail crosses a channel",
    ("crossing",),
    (
        Field("crossing", "text", "short name or number", required=True),
        _STREAM,
        Field("segment", "text", "the road or trail that crosses", refers_to="segments"),
        Field("crossing_type", "class", "how the crossing is built", classes=CROSSING_TYPES, required=True),
        Field("temporary", "yes_no", "the crossing is meant to come out when the job ends"),
        Field("existing", "yes_no", "the crossing stood before this harvest"),
        Field("first_disturbed_on", "date", "first day on which ground at the crossing was disturbed"),
        Field("installed_on", "date", "day the crossing was ready for use"),
        Field("removed_on", "date", "day the crossing was taken out"),
        Field("in_place", "yes_no", "the crossing was still there on the day of the visit"),
        Field("visited_on", "date", "day the crossing was visited"),
        Field("cover", "class", "what covers the banks and approaches of the crossing", classes=COVERS),
        Field("cover_on", "date", "day the banks and approaches of the crossing had ground cover"),
        Field("angle_deg", "number", "angle of the road to the stream", "degree", low=0, high=180, uncertainty="angle_uncertainty_deg"),
        Field("angle_uncertainty_deg", "number", "plus or minus of the angle", "degree", low=0, high=90),
        Field("angle_from", "class", "0 degrees lie along the stream, or square across it", classes=("stream_line", "square")),
        Field("drainage_area_acres", "number", "land that drains to the crossing", "acre", low=0, high=1_000_000),
        Field("region", "class", "flood region of the state's culvert table", classes=REGIONS),
        Field("soil_texture", "class", "soil class of the state's culvert chart", classes=SOIL_TEXTURES),
        Field("land_slope_pct", "number", "slope of the land that drains to the crossing", "percent", low=0, high=200),
        Field("runoff_share", "number", "Talbot's coefficient C of the land that drains to the crossing", "share", low=0, high=1),
        Field("top_width_ft", "number", "width of the channel at mean high water, averaged", "ft", low=0, high=1000),
        Field("bottom_width_ft", "number", "width of the channel bottom, averaged", "ft", low=0, high=1000),
        Field("channel_depth_ft", "number", "depth of the channel at mean high water, averaged", "ft", low=0, high=100),
        Field("bankfull_width_ft", "number", "width of the channel when full", "ft", low=0, high=1000),
        Field("span_ft", "number", "clear opening of a bridge", "ft", low=0, high=1000),
        Field("fill", "class", "what the fill is made of", classes=FILLS),
        Field("fill_stabilised", "yes_no", "the fill is held by stone, plants or the like"),
        Field("fill_removed", "yes_no", "a temporary fill or structure is out wholly"),
        Field("channel_restored", "yes_no", "banks and bed have their former grade and shape"),
        Field("straight_reach", "yes_no", "the crossing lies on a straight reach"),
        Field("banks_low_stable", "yes_no", "the banks at the crossing are low and stable"),
        Field("firm_bottom", "yes_no", "the bottom at the crossing is solid, or covered with stone or poles"),
        Field("flow_free", "yes_no", "water passes without being held back"),
        Field("aquatic_life_passes", "yes_no", "fish and other water animals can pass"),
        Field("other_way_considered", "yes_no", "another way round was looked at first"),
        _NOTE,
    ),
)  # fmt: skip

APPROACHES = Table(
    "approaches",
    "the road or trail on one side of a crossing",
    ("crossing", "side"),
    (
        Field("crossing", "text", "the crossing", required=True, refers_to="crossings"),
        Field("side", "class", "which side of the crossing, looking downstream", classes=("left", "right"), required=True),
        Field("length_ft", "number", "length of the approach, from the bank to where the road no longer drains to the water", "ft", low=0, high=10_000),
        Field("grade_pct", "number", "grade of the approach away from the water; negative falls away", "percent", low=-100, high=100),
        Field("angle_deg", "number", "angle of the approach to the stream", "degree", low=0, high=180),
        Field("angle_from", "class", "0 degrees lie along the stream, or square across it", classes=("stream_line", "square")),
        Field("surface", "class", "what the approach is surfaced with", classes=SURFACES),
        Field("surfaced_ft", "number", "length of the approach surfaced from the bank", "ft", low=0, high=10_000),
        Field("cover", "class", "what covers the approach's banks and bare soil", classes=COVERS),
        Field("cover_on", "date", "day the approach had ground cover"),
        Field("drained_before_water", "yes_no", "a dip, bar or ditch turns water off before the stream"),
        Field("nearest_drain_ft", "number", "from the bank to the nearest drain", "ft", low=0, high=10_000),
        Field("rutted", "yes_no", "ruts in the approach"),
        _NOTE,
    ),
)  # fmt: skip

PIPES = Table(
    "pipes",
    "like pipes of one crossing",
    ("crossing", "pipe"),
    (
        Field("crossing", "text", "the crossing", required=True, refers_to="crossings"),
        Field("pipe", "whole", "number of the line, 1 first", required=True, low=1, high=99),
        Field("pipe_count", "whole", "how many pipes are alike", "pipes", low=0, high=50),
        Field("diameter_in", "number", "inside diameter of the pipe", "in", low=1, high=300),
        Field("length_ft", "number", "length of a pipe", "ft", low=1, high=500),
        Field("cover_ft", "number", "fill over the top of the pipe, the least", "ft", low=0, high=100),
        Field("fill_width_ft", "number", "width of the fill along the pipe, toe to toe", "ft", low=1, high=500),
        Field("beyond_fill_ft", "number", "reach of the pipe beyond the fill, the shorter end; negative ends inside", "ft", low=-100, high=100),
        Field("between_pipes_ft", "number", "clear space between neighbouring pipes, the least", "ft", low=0, high=50),
        Field("grade_pct", "number", "fall of the pipe", "percent", low=-20, high=50),
        Field("pipe_open", "yes_no", "the pipe was free of debris when looked at"),
        Field("looked_at_on", "date", "day the pipe was looked at last"),
        _NOTE,
    ),
)  # fmt: skip

WATER_READINGS = Table(
    "water_readings",
    "one reading in the water",
    ("stream", "reading"),
    (
        _STREAM,
        Field("reading", "whole", "number of the reading, 1 first", required=True, low=1, high=10_000),
        Field("position", "class", "where the water was read, seen from the harvest", classes=("above", "beside", "below")),
        Field("read_on", "date", "day of the reading"),
        Field("read_at", "time", "time of day of the reading"),
        Field("water_temperature_f", "number", "temperature of the water", "degree F", low=20, high=120, uncertainty="temperature_uncertainty_f"),
        Field("temperature_uncertainty_f", "number", "plus or minus of the temperature", "degree F", low=0, high=20),
        _NOTE,
    ),
)  # fmt: skip

TABLES = (
    STREAMS, BANKS, STATIONS, PLOTS, TALLIES, STUMPS, DISTURBANCES_TABLE, CROSSINGS, APPROACHES, PIPES, WATER_READINGS,
)  # fmt: skip
