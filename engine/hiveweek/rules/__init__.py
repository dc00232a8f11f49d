"""The rules: reading, layering, and what is forbidden."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from hiveweek.callable_room import make_callable
from hiveweek.climate.profiles import Profile
from hiveweek.problems import InputProblems, Problem, not_among
from hiveweek.rules.layering import effective, numbers_of
from hiveweek.rules.model import RuleSet
from hiveweek.rules.reader import Library, read_library

__all__ = [
    "Library",
    "RuleSet",
    "effective",
    "effective_in",
    "library",
    "load",
    "numbers_of",
    "read_library",
    "traits_of",
]

make_callable(__name__)


def library(vocabulary, folder: Path | None = None, extra: Iterable[Path | str] = ()) -> Library:
    """Read all rule files; see ``reader.read_library``."""
    return read_library(vocabulary, folder, extra)


def traits_of(profile: Profile) -> dict:
    """Return the climate facts of a profile as plain values, without their intervals."""
    return {fact: value[0] if isinstance(value, tuple) else value for fact, value in profile.traits().items()}


def effective_in(
    library: Library, profile: Profile, jurisdiction: str | None = None, problems: list[Problem] | None = None
) -> RuleSet:
    """Return the merged ruleset for a climate, whose traits are worked out with the numbers as the layers left them.

    Parameters and errors as in ``layering.effective``.
    """
    problems = [] if problems is None else problems
    numbers = numbers_of(library, profile.id, jurisdiction, problems)
    traits = traits_of(profile.with_numbers(numbers))
    return effective(library, profile.id, traits, jurisdiction, problems, numbers)


def load(
    profile: str | Profile,
    traits: dict | None = None,
    *,
    jurisdiction: str | None = None,
    extra: Iterable[Path | str] = (),
    vocabulary=None,
    folder: Path | None = None,
) -> RuleSet:
    """Return the effective ruleset of a profile.

    Parameters
    ----------
    profile : Profile or str
        The climate; or its id, where its traits are given.
    traits : dict, optional
        ``climate.*`` facts as plain values, whatever the numbers.
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
    if jurisdiction is not None:
        problems += not_among("jurisdiction", jurisdiction, found.jurisdictions)
    if isinstance(profile, Profile):
        ruleset = effective_in(found, profile, jurisdiction, problems)
    else:
        ruleset = effective(found, profile, traits or {}, jurisdiction, problems)
    if problems:
        raise InputProblems(problems)
    return ruleset
