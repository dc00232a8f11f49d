"""The rules: reading, layering, and what is forbidden."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from hiveweek.callable_room import make_callable
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.rules.layering import effective
from hiveweek.rules.model import RuleSet
from hiveweek.rules.reader import Library, read_library

__all__ = ["Library", "RuleSet", "effective", "library", "load", "read_library"]

make_callable(__name__)


def library(vocabulary, folder: Path | None = None, extra: Iterable[Path | str] = ()) -> Library:
    """Read all rule files; see ``reader.read_library``."""
    return read_library(vocabulary, folder, extra)


def load(
    profile: str,
    traits: dict,
    *,
    jurisdiction: str | None = None,
    extra: Iterable[Path | str] = (),
    vocabulary=None,
    folder: Path | None = None,
) -> RuleSet:
    """Return the effective ruleset of a profile.

    Parameters
    ----------
    profile : str
        Profile id.
    traits : dict
        ``climate.*`` facts of the profile as plain values.
    jurisdiction : str, optional
        Jurisdiction id.
    extra : iterable of Path, optional
        Overlays of an author or an apiary.
    folder : Path, optional
        Another rulesets folder than the shipped one.

    Raises
    ------
    InputProblems
        With every problem of every file.
    """
    if vocabulary is None:
        from hiveweek.vocabulary import load as load_vocabulary

        vocabulary = load_vocabulary()
    found = read_library(vocabulary, folder, extra)
    problems: list[Problem] = list(found.problems)
    if jurisdiction is not None and jurisdiction not in found.jurisdictions:
        problems.append(
            Problem(
                "",
                0,
                0,
                "unknown-jurisdiction",
                f"'{jurisdiction}' is no jurisdiction; there are "
                f"{', '.join(sorted(found.jurisdictions)) or 'none'}{nearest(jurisdiction, found.jurisdictions)}",
            )
        )
    ruleset = effective(found, profile, traits, jurisdiction, problems)
    if problems:
        raise InputProblems(problems)
    return ruleset
