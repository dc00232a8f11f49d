"""Means of thirty years for any place, from the stations near it, as normals for a climate profile."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

from hiveweek.climate import station
from hiveweek.climate.normals import MONTHS
from hiveweek.numbers import shipped
from hiveweek.problems import InputProblems, Problem
from hiveweek.texts.parts import listed, message
from hiveweek.texts.speaker import says

YEARS = (1991, 2020)
DAILY_YEARS = 10  # the last ten are enough for shares of days; thirty would be thirty downloads
ELEMENTS = {"tmin": "tmin_c", "tmax": "tmax_c", "temp": "tmean_c", "prcp": "precip_mm", "tsun": "sunshine_h"}
WORDS = {"tmin": "lows", "tmax": "highs", "temp": "means", "prcp": "rain", "tsun": "sunshine"}
EXTRAS = ("precip_days", "snow_days", "rh_pct", "wind_kmh", "sd_daily_c")
COLUMNS = (
    "month",
    "tmean_c",
    "tmin_c",
    "tmax_c",
    "precip_mm",
    "precip_days",
    "snow_days",
    "rh_pct",
    "sunshine_h",
    "wind_kmh",
    "sd_daily_c",
)
MONTH_DAYS = (31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


@dataclass
class Normals:
    """Normals of a place, ready for the profile builder.

    Attributes
    ----------
    csv : str
        A row a month, in the columns of a normals file; what no station tells is an absent column or an empty cell.
    about : dict
        id, station, lat, lon, elev_m, period, publisher, licence, attribution, kind, note.
    used : list of str
        What it rests on, a line each, for people: stations, distance, years, licences, gaps and how they were filled.
    """

    csv: str
    about: dict
    used: list = field(default_factory=list)


def normals(
    lat: float,
    lon: float,
    elev: float | None = None,
    profile_id: str | None = None,
    offline: bool = False,
    cache_dir: Path | None = None,
) -> Normals:
    """Return the means of 1991-2020 at a place, from the nearest stations that have them.

    Temperatures are brought to the height of the place with the declared lapse rate; rain is not. A month that the nearest
    usable station lacks comes from the next one, and `used` says so.

    Parameters
    ----------
    lat, lon : float
        Degrees north and east.
    elev : float, optional
        Metres above the sea; the station's own height where it is not given.
    profile_id : str, optional
        Id of the profile to be; made from the coordinates by default.
    offline : bool
        True uses only what was fetched before.

    Raises
    ------
    InputProblems
        For coordinates outside the Earth's, an id that is no id, no network, no station, or gaps no station can fill.
    """
    station.check_place(lat, lon, elev)
    profile_id = profile_id or _default_id(lat, lon)
    if not re.fullmatch(r"[a-z][a-z0-9_]{1,59}", profile_id):
        raise InputProblems(
            [
                Problem(
                    "", 0, 0, "bad-id", f"'{profile_id}' is no profile id: small letters, digits and _, a letter first"
                )
            ]
        )
    n = shipped().weather
    request = {
        "want": "normals",
        "lat": round(lat, 3),
        "lon": round(lon, 3),
        "elev": elev,
        "years": list(YEARS),
        "daily_years": DAILY_YEARS,
        "radius_km": n.stations.normals_radius_km,
        "height_km_per_100m": n.stations.height_km_per_100m,
        "wet_day_mm": n.days.wet_day_mm,
        "short_years": n.stations.short_years,
        "patience": 15,
    }
    reply, _ = station.ask(request, station.NORMALS_SECONDS, cache_dir, offline=offline)
    if reply["status"] != "ok":
        raise InputProblems([Problem("", 0, 0, reply["status"], _why_not(reply, n.stations.normals_radius_km))])
    return _assemble(reply, lat, lon, elev, profile_id)


def _why_not(reply: dict, radius: float) -> str:
    why = reply.get("why") or reply["status"]
    return says(f"no-normals.{why}", radius=f"{radius:g}", first=YEARS[0], last=YEARS[1])


def _default_id(lat: float, lon: float) -> str:
    def words(value, plus, minus):
        return f"{abs(value):.2f}".replace(".", "_") + (plus if value >= 0 else minus)

    return f"at_{words(lat, 'n', 's')}_{words(lon, 'e', 'w')}"


def _has(entry: dict, month: int, element: str, years: float) -> bool:
    value, count = entry["months"][str(month)][element]
    return value is not None and count >= years


def _usable(told: list, years: float) -> dict | None:
    """The first station with lows and highs of all twelve months over enough years."""
    for entry in told:
        if all(_has(entry, month, element, years) for month in range(1, 13) for element in ("tmin", "tmax")):
            return entry
    return None


def _assemble(reply: dict, lat: float, lon: float, elev: float | None, profile_id: str) -> Normals:
    n = shipped().weather
    told = reply["stations"]
    base = (
        _usable(told, n.stations.normals_years)
        or _usable(told, n.stations.short_years)
        or max(
            told, key=lambda entry: sum(_has(entry, month, "tmax", n.stations.short_years) for month in range(1, 13))
        )
    )
    order = [base] + [entry for entry in told if entry is not base]
    height = elev if elev is not None else base["station"]["elev"]
    if height is None:
        raise InputProblems(
            [Problem("", 0, 0, "no-height", f"the height of {base['station']['name']} is not known; give --elev")]
        )
    gaps: list[tuple[str, str, str]] = []
    used_years: list[float] = []
    users: dict[str, dict] = {}
    table: dict[tuple[int, str], float] = {}
    for element, column in ELEMENTS.items():
        for month in range(1, 13):
            # the nearest usable station as far as it tells, then the next with all the years, then with some
            choices = (
                [base]
                if _has(base, month, element, n.stations.short_years)
                else (
                    [e for e in order if _has(e, month, element, n.stations.normals_years)]
                    + [e for e in order if _has(e, month, element, n.stations.short_years)]
                )
            )
            entry = choices[0] if choices else None
            if entry is None:
                continue
            value, count = entry["months"][str(month)][element]
            if column.startswith("t") and entry["station"]["elev"] is not None:
                value += n.stations.lapse_c_per_km * (entry["station"]["elev"] - height) / 1000
            table[month, column] = value / 60 if element == "tsun" else value
            users.setdefault(entry["station"]["id"], entry)
            if element in ("tmin", "tmax", "prcp"):
                used_years.append(count)
            if entry is not base and element != "tsun":
                gaps.append((WORDS[element], MONTHS[month - 1], entry["station"]["name"]))
    missing = [
        f"{WORDS[element]} of {MONTHS[month - 1]}"
        for element in ("tmin", "tmax", "prcp")
        for month in range(1, 13)
        if (month, ELEMENTS[element]) not in table
    ]
    if missing:
        raise InputProblems(
            [
                Problem(
                    "",
                    0,
                    0,
                    "no-data",
                    f"no station near enough tells the {', '.join(missing[:6])}"
                    + (f" and {len(missing) - 6} more" if len(missing) > 6 else ""),
                )
            ]
        )
    middle = False
    for month in range(1, 13):
        low, high = table[month, "tmin_c"], table[month, "tmax_c"]
        if low > high:
            raise InputProblems(
                [
                    Problem(
                        "",
                        0,
                        0,
                        "low-above-high",
                        f"{MONTHS[month - 1]}: the stations' mean low {low:.1f} is above the high {high:.1f}",
                    )
                ]
            )
        if (month, "tmean_c") not in table or not low <= table[month, "tmean_c"] <= high:
            table[month, "tmean_c"], middle = (low + high) / 2, True
    _add_extras(reply.get("extras") or {}, table)
    used = _used(base, order, users, gaps, used_years, elev, height, middle, reply)
    owners = sorted(
        {part.strip() for entry in users.values() for part in entry.get("attribution", "").split(",") if part.strip()}
    )
    licences = sorted({licence for entry in users.values() for licence in entry.get("licences", [])})
    about = {
        "id": profile_id,
        "station": base["station"]["name"],
        "lat": lat,
        "lon": lon,
        "elev_m": round(height),
        "period": f"{YEARS[0]}-{YEARS[1]}",
        "publisher": "Meteostat, from the weather services' stations",
        "licence": ", ".join(licences) or "CC BY 4.0",
        "attribution": ", ".join(owners) or "Meteostat",
        "kind": "means of reports",
        "note": " ".join(used),
    }
    return Normals(_csv(table), about, used)


def _add_extras(extras: dict, table: dict) -> None:
    for month, row in (extras.get("months") or {}).items():
        for column in EXTRAS:
            value, years = row[column]
            if value is not None and years >= DAILY_YEARS / 2:
                days = MONTH_DAYS[int(month) - 1] if column in ("precip_days", "snow_days") else 1
                table[int(month), column] = value * days


def _csv(table: dict) -> str:
    columns = [
        column for column in COLUMNS if column == "month" or any((month, column) in table for month in range(1, 13))
    ]
    lines = [",".join(columns)]
    for month in range(1, 13):
        lines.append(
            ",".join(
                str(month) if column == "month" else (f"{table[month, column]:.1f}" if (month, column) in table else "")
                for column in columns
            )
        )
    return "\n".join(lines) + "\n"


def _used(
    base: dict,
    order: list[dict],
    users: dict[str, dict],
    gaps: list[tuple[str, str, str]],
    years: list[float],
    elev: float | None,
    height: float,
    middle: object,
    reply: dict,
) -> list[str]:
    lines = []
    for entry in order:
        if entry["station"]["id"] in users:
            place = entry["station"]
            tall = message("stations.no-height") if place["elev"] is None else f"{place['elev']:g} m"
            about = {"name": place["name"], "id": place["id"], "km": f"{place['distance_km']:g}"}
            lines.append(says("stations.station", **about, height=tall))
    short = min(years)
    behind = message("range", low=short, high=max(years)) if short < max(years) else short
    lines.append(says("stations.means", first=YEARS[0], last=YEARS[1], years=behind))
    if short < shipped().weather.stations.normals_years:
        lines.append(says("stations.few-years"))
    for word, source in dict.fromkeys((word, source) for word, _, source in gaps):
        months = [month for w, month, s in gaps if (w, s) == (word, source)]
        which = listed(months, "comma") if len(months) < 12 else message("stations.all-months")
        lines.append(says("stations.gap", what=word.capitalize(), months=which, source=source))
    if middle:
        lines.append(says("stations.middle"))
    if elev is None:
        lines.append(says("stations.no-height-given"))
    elif base["station"]["elev"] is None:
        lines.append(says("stations.as-measured"))
    elif abs(base["station"]["elev"] - height) >= 10:
        lapse = f"{shipped().weather.stations.lapse_c_per_km:g}"
        heights = {"low": f"{base['station']['elev']:g}", "high": f"{height:g}"}
        lines.append(says("stations.brought", **heights, lapse=lapse))
    extras = reply.get("extras") or {}
    if extras.get("months"):
        lines.append(says("stations.daily-values", first=str(extras["first"]), last=str(extras["last"])))
    else:
        lines.append(says("stations.no-daily-values"))
    if reply.get("trouble"):
        lines.append(says("stations.part-silent"))
    return lines
