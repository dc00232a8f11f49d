"""Ids of the season's events: one list for the calendar, the rules and the command line."""

EVENTS = (
    "first_pollen",
    "end_of_cluster",
    "first_full_inspection",
    "spring_build_up_start",
    "swarm_season_start",
    "swarm_season_end",
    "main_flow_start",
    "main_flow_end",
    "second_flow_start",
    "second_flow_end",
    "summer_dearth",
    "late_summer_mite_treatment",
    "winter_bee_rearing",
    "stop_syrup_by",
    "mouse_guards_on",
    "winter_wrap_on",
    "broodless_start",
    "broodless_end",
    "unwrap",
)
