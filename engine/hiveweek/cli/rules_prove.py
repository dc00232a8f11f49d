"""``hiveweek rules prove``."""

from __future__ import annotations

import json
import sys

from hiveweek.cli.rules import existing, say


def register(parts) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "prove",
        help="prove over all inputs",
        description="Search all inputs for rules that never or always "
        "fire, advise what safety.yaml forbids or what clashes, say nothing new, and for gaps in declared areas.",
    )
    parser.add_argument(
        "paths", nargs="*", metavar="PATH", help="your overlays, proven together with the shipped rules"
    )
    parser.add_argument(
        "--profile", action="append", metavar="ID", help="only this profile (again for more); all without it"
    )
    parser.add_argument("--exceptions", metavar="YAML", help="known exceptions, instead of the shipped list")
    parser.add_argument("--witness", metavar="FOLDER", help="write each witness as a scenario file into this folder")
    parser.add_argument("--json", action="store_true", help="the report as JSON")
    parser.set_defaults(run=run)


def run(args) -> int:
    """Prove; exit code 1 with findings that no exception excuses."""
    from pathlib import Path

    from hiveweek.climate import profile_ids
    from hiveweek.problems import InputProblems, Problem, nearest

    try:
        from hiveweek.authoring import prove
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
    report = prove.prove(
        args.profile,
        existing(args.paths),
        exceptions_file=exceptions,
        tell=lambda text: print(text, file=sys.stderr) if not args.json else None,
    )
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


def _text(report) -> None:
    for finding in report.findings:
        where = f"{finding.place}: " if finding.place else ""
        few = ", ".join(finding.profiles[:3]) + (
            f" and {len(finding.profiles) - 3} more" if len(finding.profiles) > 3 else ""
        )
        say(f"{where}{finding.kind} {finding.text}")
        say(f"  {finding.key}; profiles: {few}" + (f"; known exception: {finding.excused}" if finding.excused else ""))
        if finding.witness and not finding.excused:
            said = ", ".join(f"{name} {value}" for name, value in finding.witness["facts"].items()) or "nothing known"
            say(f"  a hive in {finding.witness['profile']} on {finding.witness['date']}: {said}")
            if finding.witness["partner"]:
                say("  with a hive: " + ", ".join(f"{n} {v}" for n, v in finding.witness["partner"].items()))
            if finding.witness["elsewhere"]:
                say("  and elsewhere in the yard: " + ", ".join(finding.witness["elsewhere"]))
            if finding.reproduced is not None:
                say(
                    "  the weekly answer shows it"
                    if finding.reproduced
                    else "  the weekly answer does not show it as it stands (other facts follow from these)"
                )
    for key in report.stale:
        say(f"exception without a finding: {key}")
    count = sum(report.obligations.values())
    parts = ", ".join(f"{kind} {number}" for kind, number in sorted(report.obligations.items()))
    say(
        f"{count} obligations ({parts}) over {len(report.profiles)} profiles in {report.seconds:.0f} s: {len(report.open)} findings, "
        f"{len(report.findings) - len(report.open)} known exceptions, {len(report.stale)} exceptions without a finding"
    )


def _json(report) -> dict:
    return {
        "obligations": report.obligations,
        "seconds": round(report.seconds, 1),
        "profiles": report.profiles,
        "stale": report.stale,
        "findings": [
            {
                "kind": f.kind,
                "key": f.key,
                "text": f.text,
                "place": f.place,
                "profiles": f.profiles,
                "excused": f.excused,
                "reproduced": f.reproduced,
                "witness": f.witness,
            }
            for f in report.findings
        ],
    }
