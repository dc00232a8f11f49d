"""The climate room: normals to daily weather to a season calendar, and the weather of one week."""

from hiveweek.callable_room import make_callable
from hiveweek.climate.daily import DailyClimate
from hiveweek.climate.profiles import Profile, load_profile, profile_ids, profile_json, read_profile
from hiveweek.climate.season import SeasonCalendar

__all__ = [
    "DailyClimate",
    "Profile",
    "SeasonCalendar",
    "load_profile",
    "profile_ids",
    "profile_json",
    "read_profile",
]

make_callable(__name__)
