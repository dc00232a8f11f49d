"""Proofs of overlays: only what they concern is asked, and only what they bring is told."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from hiveweek.authoring import own_findings
from hiveweek.authoring.cases import Runner
from hiveweek.authoring.difference import compare
from hiveweek.authoring.proof_report import Report
from hiveweek.authoring.prove import Prover, known_exceptions
from hiveweek.climate import load_profile, profile_ids
from hiveweek.language.terms import limit_names


def prove_own(
    paths: Iterable[Path],
    profiles: Iterable[str] | None = None,
    exceptions_file: Path | None = None,
    tell: Callable[[str], None] = lambda text: None,
    folder: Path | None = None,
) -> Report:
    """Prove overlays together with the base, and report only what they bring, each finding with its entry.

    Parameters
    ----------
    paths : iterable of Path
        Overlays of an author.
    profiles : iterable of str, optional
        Those that the overlays are for by default.

    Raises
    ------
    InputProblems
        Where the rule files themselves have mistakes.
    """
    runner = Runner(folder=folder, extra=paths)
    runner.ruleset(load_profile(profile_ids()[0]))  # mistakes are told before anything else is read
    mine = own_findings.own(paths, runner.words)
    wanted = list(profiles) if profiles is not None else own_findings.climates([mine])
    base = Runner(runner.words, folder)
    concerned = _concerned(base, runner, wanted)
    with_them = Prover(runner, wanted, concerned)
    report = with_them.run(*known_exceptions(folder, exceptions_file, None), tell)

    def of_base() -> set[str]:
        tell("the same without the overlays")
        return {finding.key for finding in Prover(base, wanted, concerned).run(tell=tell).findings}

    # A rule that is switched off stands in the base alone.
    rulesets = [*with_them.rulesets.values(), *(base.ruleset(load_profile(name)) for name in wanted)]
    own_findings.narrow(report, mine, rulesets, of_base)
    return report


def _concerned(base: Runner, runner: Runner, profiles: Iterable[str]) -> set[str] | None:
    """Return the rules, prohibitions and limits whose answers or words an overlay could change; None for all of them."""
    found: set[str] = set()
    for name in profiles:
        sides = [side.ruleset(load_profile(name)) for side in (base, runner)]
        difference = compare(*sides)
        if difference.facts:  # days and facts themselves could be others
            return None
        found |= difference.concerned | difference.prohibitions
        for ruleset in sides:
            for rule in difference.concerned & ruleset.rules.keys():
                found.update(limit_names(ruleset.rules[rule].when))
        before, after = (side.limits for side in sides)
        found |= {limit for limit in {*before, *after} if before.get(limit) != after.get(limit)}
    return found
