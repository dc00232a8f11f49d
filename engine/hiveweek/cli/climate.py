"""hiveweek climate: list, show, build and compare climate profiles."""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.problems import InputProblems, Problem
from hiveweek.show.files import write
from hiveweek.texts.speaker import says


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add ``climate`` and its commands to the main parser; each sets ``run``, a function of the parsed words."""
    climate = subparsers.add_parser(
        "climate",
        help=says("cli.climate.help"),
        description=says("cli.climate.description"),
    )
    commands = climate.add_subparsers(dest="climate_command", metavar="COMMAND", required=True)

    listing = commands.add_parser(
        "list", help=says("cli.climate.list.help"), description=says("cli.climate.list.description")
    )
    listing.set_defaults(run=run_list)

    show = commands.add_parser(
        "show", help=says("cli.climate.show.help"), description=says("cli.climate.show.description")
    )
    show.add_argument("profile", metavar="PROFILE", help=says("cli.climate.show.profile"))
    show.add_argument("--json", action="store_true", help=says("cli.climate.show.json"))
    show.set_defaults(run=run_show)

    build = commands.add_parser(
        "build",
        help=says("cli.climate.build.help"),
        description=(says("cli.climate.build.description")),
    )
    build.add_argument("--lat", type=float, metavar="DEG", help=says("cli.climate.build.lat"))
    build.add_argument("--lon", type=float, metavar="DEG", help=says("cli.climate.build.lon"))
    build.add_argument("--elev", type=float, metavar="M", help=says("cli.climate.build.elev"))
    build.add_argument("--id", dest="profile_id", metavar="NAME", help=says("cli.climate.build.profile-id"))
    build.add_argument("--offline", action="store_true", help=says("cli.climate.build.offline"))
    build.add_argument("--normals", metavar="CSV", help=says("cli.climate.build.normals"))
    build.add_argument("--about", metavar="YAML", help=says("cli.climate.build.about"))
    build.add_argument("--out", metavar="FILE", help=says("cli.climate.build.out"))
    add_quiet(build)
    build.set_defaults(run=run_build)

    compare = commands.add_parser(
        "compare", help=says("cli.climate.compare.help"), description=says("cli.climate.compare.description")
    )
    compare.add_argument("first", metavar="A")
    compare.add_argument("second", metavar="B")
    compare.set_defaults(run=run_compare)


def _page():
    from hiveweek.show.text import Page

    return Page()


def run_list(words: argparse.Namespace) -> int:
    """Print the shipped profiles."""
    from hiveweek.climate import load_profile, profile_ids
    from hiveweek.show import climate as showing

    showing.show_list([load_profile(name) for name in profile_ids()], _page())
    return 0


def run_show(words: argparse.Namespace) -> int:
    """Print one profile's year, or its JSON."""
    from hiveweek.climate import load_profile, profile_json
    from hiveweek.show import climate as showing

    profile = load_profile(words.profile)
    if words.json:
        json.dump(profile_json(profile), sys.stdout, indent=2, ensure_ascii=False, allow_nan=False)
        print()
    else:
        showing.show_profile(profile, _page())
    return 0


def run_compare(words: argparse.Namespace) -> int:
    """Print two profiles side by side."""
    from hiveweek.climate import load_profile
    from hiveweek.show import climate as showing

    profiles, problems = [], []
    for name in (words.first, words.second):
        try:
            profiles.append(load_profile(name))
        except InputProblems as error:
            problems += error.problems
    if problems:
        raise InputProblems(problems)
    showing.show_comparison(profiles[0], profiles[1], _page())
    return 0


def run_build(words: argparse.Namespace) -> int:
    """Make a profile from stations or from a file, and write or print it; nothing is written unless all is well."""
    _check_build_words(words)
    if words.normals:
        from hiveweek.climate import normals

        text = normals.build_profile(words.normals, words.about)
    else:
        text = stations_profile(words.lat, words.lon, words.elev, words.profile_id, words.offline, words.quiet)
    check_profile(text)
    if words.out:
        from hiveweek.shapes import comment

        out = Path(words.out)
        write_whole(out, comment("profile", out.parent) + text)
        if not words.quiet:
            print(says("cli.climate.wrote", file=words.out), file=sys.stderr)
    else:
        sys.stdout.write(text)
    return 0


def _check_build_words(words: argparse.Namespace) -> None:
    place, files = (words.lat, words.lon), (words.normals, words.about)
    from_place = any(value is not None for value in place) or words.elev is not None or words.profile_id is not None
    from_files = any(files)
    if from_place == from_files:
        raise InputProblems([Problem("", 0, 0, "bad-words", "give either --lat and --lon, or --normals and --about")])
    for names, values, chosen in (
        (("--lat", "--lon"), place, from_place),
        (("--normals", "--about"), files, from_files),
    ):
        if chosen and any(value is None for value in values):
            missing = ", ".join(name for name, value in zip(names, values, strict=False) if value is None)
            raise InputProblems([Problem("", 0, 0, "bad-words", f"{missing} is missing")])
    if words.out:
        out = Path(words.out)
        if out.is_dir() or not out.resolve().parent.is_dir():
            id = "cli.climate.out-is-folder" if out.is_dir() else "cli.climate.out-no-folder"
            raise InputProblems([Problem("", 0, 0, "bad-out", says(id, out=words.out))])


def stations_profile(
    lat: float, lon: float, elev_m: float | None, name: str | None, offline: bool, quiet: bool = False
) -> str:
    """Return a profile as YAML, from the weather stations near a place."""
    from hiveweek.climate import normals, station_normals

    with Working(quiet=quiet, what=says("cli.climate.asking")):
        found = station_normals.normals(lat, lon, elev_m, name, offline)
    data = {"attribution": found.about["attribution"], "licence": found.about["licence"]}
    for line in () if quiet else (*found.used, says("cli.climate.data", **data)):
        print(line, file=sys.stderr)
    monthly, problems, warnings = normals.parse_csv(found.csv, "stations")
    if problems:
        raise InputProblems(problems)
    return normals.profile_yaml(monthly, found.about, warnings)


def check_profile(text: str) -> None:
    """Read the profile back and work out its calendar, so that a file that cannot be used is never left behind."""
    from hiveweek.climate import profile_json, read_profile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "profile.yaml"
        path.write_text(text, encoding="utf-8")
        profile_json(read_profile(path))


def write_whole(path: Path, text: str) -> None:
    """Write a text file in one step: it appears whole or not at all.

    Raises
    ------
    InputProblems
        Where the file cannot be written.
    """
    try:
        write(path, text)
    except OSError as error:
        raise InputProblems([Problem("", 0, 0, "cannot-write", f"{path}: {error.strerror}")]) from error
