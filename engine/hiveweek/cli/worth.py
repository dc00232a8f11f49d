"""``hiveweek worth``: what following the advice is worth, in a simulated world of many years."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from hiveweek.cli.climate import write_whole
from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.record_place import print_json
from hiveweek.climate import load_profile
from hiveweek.climate.profiles import profile_ids
from hiveweek.plan.answers import usable_cores
from hiveweek.problems import InputProblems, Problem
from hiveweek.show import worth as as_text
from hiveweek.show.text import Page, columns
from hiveweek.texts.speaker import says
from hiveweek.worth.study import Study

DONE = 0
MOST_SEEDS = 5000


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("worth", help=says("cli.main.worth"), description=says("cli.worth.description"))
    parser.add_argument("--climate", metavar="PROFILE", action="append", help=says("cli.worth.climate"))
    parser.add_argument("--seeds", metavar="N", type=int, default=500, help=says("cli.worth.seeds"))
    parser.add_argument("--seed", metavar="N", type=int, default=1, help=says("cli.worth.seed"))
    parser.add_argument("--processes", metavar="N", type=int, help=says("cli.worth.processes"))
    parser.add_argument("--figures", action="store_true", help=says("cli.worth.figures"))
    parser.add_argument("--sensitivity", metavar="PROFILE", default="", help=says("cli.worth.sensitivity"))
    parser.add_argument("--out", metavar="FILE", help=says("cli.worth.out"))
    parser.add_argument("--json", action="store_true", help=says("cli.worth.json"))
    add_quiet(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Work it out, and show it."""
    for name, value, least, most in (
        ("seeds", args.seeds, 2, MOST_SEEDS),
        ("seed", args.seed, 0, 2**31),
        ("processes", 1 if args.processes is None else args.processes, 1, 64),
    ):
        if not least <= value <= most:
            words = says("cli.worth.number", name=name, least=least, most=most, value=value)
            raise InputProblems([Problem("", 0, 0, "bad-number", words)])
    climates = args.climate or profile_ids()
    for climate in (*climates, *([args.sensitivity] if args.sensitivity else ())):
        load_profile(climate)  # says what is wrong with its name, and which there are
    processes = args.processes or usable_cores()
    study = Study(climates, args.seeds, args.seed, args.figures, args.sensitivity, processes)
    out = Path(args.out) if args.out else None
    if out is not None and (out.is_dir() or not out.resolve().parent.is_dir()):
        raise InputProblems(
            [Problem("", 0, 0, "cannot-write", f"{args.out}: {says('cli.worth.no-place')}")]
        )  # before the long work
    with Working(study.parts, quiet=args.quiet, alone=False, what=says("worth.working")) as line:

        def done(part: str) -> None:
            line.tell(part)
            line.step()

        found = study.run(done, lambda result: _save(out, result))
    if args.json:
        print_json(found)
        return DONE
    as_text.show(Page(width=columns()), found)
    return DONE


def _save(out: Path | None, result: dict) -> None:
    if out is not None:
        write_whole(out, json.dumps(result, indent=1))
