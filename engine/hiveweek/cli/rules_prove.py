"""``hiveweek rules prove``."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.rules import existing, say
from hiveweek.texts.parts import Phrase, listed, message
from hiveweek.texts.speaker import says

if TYPE_CHECKING:  # the solver and the runs are loaded when they are asked for
    from hiveweek.authoring.proof_report import Report


def register(parts: argparse._SubParsersAction) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "prove",
        help=says("cli.rules.prove.help"),
        description=says("cli.rules.prove.description"),
    )
    parser.add_argument("paths", nargs="*", metavar="PATH", help=says("cli.rules.prove.paths"))
    parser.add_argument("--profile", action="append", metavar="ID", help=says("cli.rules.prove.profile"))
    parser.add_argument("--with-base", action="store_true", help=says("cli.rules.prove.with-base"))
    parser.add_argument("--exceptions", metavar="YAML", help=says("cli.rules.prove.exceptions"))
    parser.add_argument("--witness", metavar="FOLDER", help=says("cli.rules.prove.witness"))
    parser.add_argument("--json", action="store_true", help=says("cli.rules.prove.json"))
    add_quiet(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prove; exit code 1 with findings that no exception excuses."""
    from pathlib import Path

    from hiveweek.climate import profile_ids
    from hiveweek.problems import InputProblems, Problem, nearest

    try:
        from hiveweek.authoring import prove, prove_own
    except ModuleNotFoundError as error:
        if error.name != "z3":
            raise
        raise InputProblems(
            [Problem("", 0, 0, "no-solver", "proofs need the package z3-solver: pip install 'hiveweek[prove]'")]
        ) from None
    known = profile_ids()
    wrong = [name for name in args.profile or () if name not in known]
    if wrong:
        raise InputProblems(
            [Problem("", 0, 0, "unknown-profile", f"'{name}' is no profile{nearest(name, known)}") for name in wrong]
        )
    exceptions = existing([args.exceptions])[0] if args.exceptions else None
    with Working(quiet=args.quiet) as working:
        paths = existing(args.paths)
        if paths and not args.with_base:
            report = prove_own.prove_own(paths, args.profile, exceptions, working.tell)
        else:
            report = prove.prove(args.profile, paths, exceptions_file=exceptions, tell=working.tell)
    if args.witness:
        from hiveweek import vocabulary
        from hiveweek.authoring.witness import as_yaml

        folder, words = Path(args.witness), vocabulary.load()
        folder.mkdir(parents=True, exist_ok=True)
        for finding in report.findings:
            if finding.witness:
                name = finding.key.replace(":", "_").replace(".", "-") + ".yaml"
                (folder / name).write_text(as_yaml(finding.witness, finding.key, words), encoding="utf-8")
    if args.json:
        say(json.dumps(_json(report), indent=2, default=str))
    else:
        _text(report)
    return 1 if report.open or report.stale else 0


def _text(report: Report) -> None:
    for finding in report.findings:
        where = f"{finding.place}: " if finding.place else ""
        few: Phrase = listed(finding.profiles[:3], "comma")
        if len(finding.profiles) > 3:
            few = message("cli.rules.prove.and-more", profiles=few, n=len(finding.profiles) - 3)
        say(f"{where}{finding.kind} {finding.text}")
        id = "cli.rules.prove.excused" if finding.excused else "cli.rules.prove.finding"
        say(says(id, key=finding.key, profiles=few, why=finding.excused))
        if finding.entry:
            say(says("cli.rules.prove.entry", entry=finding.entry))
        if finding.witness and not finding.excused:
            witness = finding.witness
            facts = _facts(witness["facts"]) or message("cli.rules.prove.nothing")
            date = str(witness["date"])
            say(says("cli.rules.prove.witness-hive", profile=witness["profile"], date=date, facts=facts))
            if witness["partner"]:
                say(says("cli.rules.prove.partner", facts=_facts(witness["partner"])))
            if witness["elsewhere"]:
                say(says("cli.rules.prove.elsewhere", facts=listed(witness["elsewhere"], "comma")))
            if finding.reproduced is not None:
                say(says("cli.rules.prove.shown" if finding.reproduced else "cli.rules.prove.not-shown"))
    for key in report.stale:
        say(says("cli.rules.prove.stale", key=key))
    count = sum(report.obligations.values())
    found = {"open": len(report.open), "known": len(report.findings) - len(report.open), "stale": len(report.stale)}
    parts = _facts(dict(sorted(report.obligations.items())))
    searched = {"n": count, "kinds": parts, "profiles": len(report.profiles), "seconds": f"{report.seconds:.0f}"}
    say(says("cli.rules.prove.sum", **searched, **found))
    if report.of_base:
        say(says("cli.rules.prove.of-base", n=report.of_base))


def _facts(facts: dict) -> Phrase:
    return listed([f"{name} {value}" for name, value in facts.items()], "comma")


def _json(report: Report) -> dict:
    return {
        "obligations": report.obligations,
        "seconds": round(report.seconds, 1),
        "profiles": report.profiles,
        "stale": report.stale,
        "of_base": report.of_base,
        "findings": [
            {
                "kind": f.kind,
                "key": f.key,
                "text": f.text,
                "place": f.place,
                "entry": f.entry,
                "profiles": f.profiles,
                "excused": f.excused,
                "reproduced": f.reproduced,
                "witness": f.witness,
            }
            for f in report.findings
        ],
    }
