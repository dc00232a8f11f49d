"""``hiveweek apiary``: the places where hives stand."""

from __future__ import annotations

import argparse
import dataclasses
import datetime as dt
import zoneinfo
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from hiveweek import vocabulary
from hiveweek.cli.record_place import (
    add_place,
    day_given,
    find_apiary,
    good_name,
    open_record,
    place_of,
    print_json,
    problem,
    today,
)
from hiveweek.climate import load_profile
from hiveweek.facts.reading import shipped
from hiveweek.problems import InputProblems, Problem, nearest, not_among
from hiveweek.record import Apiary, Entry, Kind
from hiveweek.record.entries import new_id
from hiveweek.record.plain_form import apiary_out, hive_out
from hiveweek.record.record import last_values
from hiveweek.record.store import Store
from hiveweek.record.values import UNKNOWN_AGAIN, assignments, check, number_of
from hiveweek.show.echo import typed as shown
from hiveweek.texts.speaker import says

SETTINGS = ("name", "climate", "jurisdiction", "timezone", "at", "elev_m", "region", "note")


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    apiary = subparsers.add_parser("apiary", help=says("cli.main.apiary"), description=says("cli.main.apiary"))
    commands = apiary.add_subparsers(dest="apiary_command", metavar="COMMAND", required=True)

    new = commands.add_parser("new", help=says("cli.apiary.new"), description=says("cli.apiary.new"))
    new.add_argument("name", metavar="NAME")
    new.add_argument("--climate", metavar="PROFILE", help=says("cli.apiary.climate"))
    new.add_argument("--at", metavar="LAT,LON", help=says("cli.apiary.at"))
    new.add_argument("--jurisdiction", metavar="NAME", help=says("cli.apiary.jurisdiction"))
    new.add_argument("--region", metavar="PATH", action="append", default=[], help=says("cli.apiary.region"))
    new.add_argument("--timezone", metavar="ZONE", help=says("cli.apiary.timezone"))
    new.set_defaults(run=run_new)

    listing = commands.add_parser("list", help=says("cli.apiary.list"), description=says("cli.apiary.list"))
    listing.set_defaults(run=run_list)

    show = commands.add_parser("show", help=says("cli.apiary.show"), description=says("cli.apiary.show"))
    show.add_argument("name", metavar="NAME", nargs="?")
    show.set_defaults(run=run_show)

    change = commands.add_parser("set", help=says("cli.apiary.set"), description=says("cli.apiary.set-long"))
    change.add_argument("name", metavar="NAME")
    change.add_argument("values", metavar="KEY=VALUE", nargs="*")
    change.mixed = True
    change.add_argument("--event", metavar="EVENT=MM-DD..MM-DD", help=says("cli.apiary.event"))
    change.add_argument("--because", metavar="TEXT", help=says("cli.apiary.because"))
    change.add_argument("--date", metavar="YYYY-MM-DD", help=says("cli.record.date"))
    change.add_argument("--by", metavar="WHO", default="", help=says("cli.record.by"))
    change.set_defaults(run=run_set)
    for parser in (new, listing, show, change):
        add_place(parser)


def _place(text: str, word: str = "--at") -> tuple[float, float]:
    try:
        lat, lon = (number_of(part) for part in text.split(","))
    except ValueError:
        raise problem("bad-place", f"{word} needs LAT,LON in degrees, such as 51.5,-1.2, not '{text}'") from None
    if not (-90 <= lat <= 90 and -180 <= lon <= 180):
        raise problem("bad-place", f"{word} {text}: degrees north lie between -90 and 90, east between -180 and 180")
    return lat, lon


def _checked(apiary: Apiary) -> Apiary:
    """Return an apiary whose climate, law, rules and time zone can be used."""
    problems: list[Problem] = []
    try:
        if apiary.climate is not None:
            profile = load_profile(apiary.climate).at_latitude(apiary.lat)
            profile.with_overrides({e: dict(moved) for e, moved in apiary.overrides.items()})
    except InputProblems as error:
        problems += error.problems
    if apiary.jurisdiction is not None:
        problems += not_among("jurisdiction", apiary.jurisdiction, shipped("rulesets/jurisdictions"))
    for path in apiary.rulesets:
        if not Path(path).exists():
            problems.append(Problem("", 0, 0, "no-file", f"'{path}' is not there"))
    zones = zoneinfo.available_timezones()
    if apiary.timezone is not None and apiary.timezone not in zones:
        problems.append(
            Problem("", 0, 0, "unknown-timezone", f"no time zone '{apiary.timezone}'{nearest(apiary.timezone, zones)}")
        )
    if problems:
        raise InputProblems(problems)
    return apiary


def run_new(args: argparse.Namespace) -> int:
    """Add an apiary; the first one begins the record."""
    name = good_name(args.name)
    lat, lon = _place(args.at) if args.at else (None, None)
    if args.climate is None and lat is None:
        raise problem("no-climate", "say --climate PROFILE ('hiveweek climate list' names them) or --at LAT,LON")
    regions = tuple(str(Path(path).resolve()) for path in args.region)
    climate = args.climate
    if climate is not None and climate.endswith((".yaml", ".yml")):
        climate = str(Path(climate).resolve())
    apiary = _checked(
        Apiary(new_id(), name, climate, lat, lon, None, args.jurisdiction, regions, args.timezone or None)
    )
    with open_record(args, make=True) as store:
        if climate is None and lat is not None and lon is not None:
            apiary = dataclasses.replace(apiary, climate=_own_climate(args, apiary.id, lat, lon))
        store.add_apiary(apiary)
    if args.json:
        print_json(_out(apiary, 0))
    else:
        print(says("cli.apiary.added", name=apiary.name, climate=apiary.climate))
        print(says("cli.apiary.next", name=apiary.name))
    return 0


def _own_climate(args: argparse.Namespace, key: str, lat: float, lon: float) -> str:
    """Build a profile from the weather stations near a place, and keep it beside the record."""
    from hiveweek.cli.climate import check_profile, stations_profile, write_whole
    from hiveweek.shapes import comment

    place = place_of(args)
    if "://" in place:
        raise problem("no-climate", "on a server say --climate PROFILE too; 'hiveweek climate build' makes a profile")
    text = stations_profile(lat, lon, None, f"place_{key[:8]}", offline=False)
    check_profile(text)
    folder = Path(place).resolve().parent / "climates"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    path = folder / f"place_{key[:8]}.yaml"
    write_whole(path, comment("profile", folder) + text)
    return str(path)


def _out(apiary: Apiary, hives: int) -> dict[str, Any]:
    return {**apiary_out(apiary), "hives": hives}


def _count(store: Store, apiary: Apiary) -> int:
    day = today(apiary)
    return sum(hive.apiary_on(day) == apiary.id for hive in store.hives(apiary.id))


def run_list(args: argparse.Namespace) -> int:
    """Name the apiaries."""
    with open_record(args) as store:
        found = [(apiary, _count(store, apiary)) for apiary in store.apiaries()]
    if args.json:
        print_json([_out(apiary, hives) for apiary, hives in found])
    else:
        for apiary, hives in found:
            print(says("cli.apiary.line", name=apiary.name, climate=apiary.climate or "", n=hives))
    return 0


def run_show(args: argparse.Namespace) -> int:
    """Show one apiary: settings, what is set there, its hives."""
    with open_record(args) as store:
        apiary = find_apiary(store, args.name)
        day = today(apiary)
        record = store.record([apiary.id], day)
        hives = record.hives_at(apiary.id, day)
        site = last_values(e for e in record.live() if e.hive is None and e.kind is Kind.SET)
    if args.json:
        facts = {fact: {"value": value, "since": since} for fact, (value, since) in sorted(site.items())}
        print_json({**_out(apiary, len(hives)), "set": facts, "hives": [hive_out(hive) for hive in hives]})
        return 0
    print(says("cli.apiary.line", name=apiary.name, climate=apiary.climate or "", n=len(hives)))
    for key, value in apiary_out(apiary).items():
        if key not in ("id", "name", "climate"):
            print(f"  {key} = {value}")
    for fact, (value, since) in sorted(site.items()):
        print("  " + says("cli.record.set-since", fact=fact, value=shown(value), day=since.isoformat()))
    for hive in hives:
        print(f"  {hive.name}")
    return 0


def run_set(args: argparse.Namespace) -> int:
    """Change an apiary's settings, and set facts of the place."""
    given = {key.strip(): value.strip() for key, _, value in (item.partition("=") for item in args.values)}
    settings = {key: value for key, value in given.items() if "." not in key}
    unknown = [key for key in settings if key not in SETTINGS]
    if unknown or any("=" not in item for item in args.values):
        bad = (unknown or [item for item in args.values if "=" not in item])[0]
        raise problem(
            "unknown-setting",
            f"'{bad}' is nothing to set; settings are {', '.join(SETTINGS)}, facts are written GROUP.NAME=VALUE"
            f"{nearest(bad, SETTINGS)}",
        )
    words = vocabulary.load()
    facts = assignments(words, [item for item in args.values if "." in item.partition("=")[0]])
    hive_facts = [fact for fact in facts if not words.facts[fact].shared]
    if hive_facts:
        raise problem(
            "fact-of-hive", f"{', '.join(hive_facts)}: of a hive, not of a place; 'hiveweek hive set' sets it"
        )
    if not given and not args.event:
        raise problem("nothing-to-set", f"name what to set: {', '.join(SETTINGS)}, a fact of the place, or --event")
    with open_record(args) as store:
        apiary = find_apiary(store, args.name)
        revision = store.revision(apiary.id)
        changed = _checked(_moved(_changed(apiary, settings), args.event, args.because))
        day = day_given(args.date) or today(changed)
        entry = Entry(
            new_id(),
            Kind.SET,
            apiary.id,
            None,
            day,
            facts=facts,
            text=" ".join(args.values),
            who=args.by,
            note=new_id(),
            recorded_at=dt.datetime.now(dt.UTC),
        )
        check([entry], (), words, today(changed))
        with store.writing():
            if changed != apiary:
                store.change_apiary(changed, revision)
            if facts:
                store.add([entry])
    if args.json:
        print_json({**apiary_out(changed), "set": dict(facts)})
    else:
        print(says("cli.apiary.changed", name=changed.name))
    return 0


def _changed(apiary: Apiary, settings: Mapping[str, str]) -> Apiary:
    changes: dict[str, Any] = {}
    for key, text in settings.items():
        value = None if text in ("", UNKNOWN_AGAIN) else text
        if key == "name":
            changes["name"] = good_name(text)
        elif key == "note":
            changes["note"] = value or ""
        elif key == "at":
            changes["lat"], changes["lon"] = _place(value, "at") if value else (None, None)
        elif key == "elev_m":
            changes["elev_m"] = _metres(value)
        elif key == "region":
            changes["rulesets"] = tuple(str(Path(path).resolve()) for path in (value or "").split(",") if path)
        else:
            if key == "climate" and value is None:
                raise problem("no-climate", "an apiary keeps a climate; 'hiveweek climate list' names them")
            if key == "climate" and value is not None and value.endswith((".yaml", ".yml")):
                value = str(Path(value).resolve())
            changes[key] = value
    return dataclasses.replace(apiary, **changes)


def _metres(text: str | None) -> float | None:
    try:
        found = None if text is None else number_of(text)
    except ValueError:
        raise problem("bad-value", f"elev_m needs metres above the sea, not '{text}'") from None
    if found is not None and not -430 <= found <= 9000:
        raise problem("bad-value", f"elev_m lies between -430 and 9000 metres, not {found:g}")
    return found


def _moved(apiary: Apiary, event: str | None, because: str | None) -> Apiary:
    """Return an apiary with one season event moved; EVENT=~ takes the move back."""
    if event is None:
        return apiary
    name, equals, span = event.partition("=")
    overrides = {key: dict(moved) for key, moved in apiary.overrides.items()}
    if span == UNKNOWN_AGAIN:
        overrides.pop(name, None)
    else:
        first, _, last = span.partition("..")
        if not equals or not because:
            raise problem("bad-event", "--event needs EVENT=MM-DD..MM-DD and --because TEXT")
        overrides[name] = {"from": first, "to": last or first, "note": because}
    return dataclasses.replace(apiary, overrides=overrides)


def names_of(apiaries: Sequence[Apiary]) -> dict[str, str]:
    """Return names by id."""
    return {apiary.id: apiary.name for apiary in apiaries}
