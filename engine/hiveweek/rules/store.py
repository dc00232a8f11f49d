"""The effective ruleset of a profile, kept between runs: reading, checking and merging all files takes far longer than using them."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from hiveweek import content
from hiveweek.climate.profiles import Profile
from hiveweek.kept import code, kept, key_of
from hiveweek.rules import load
from hiveweek.rules.model import RuleSet
from hiveweek.vocabulary.model import Vocabulary


def climate_words(profile: Profile) -> tuple:
    """Return all that a climate's traits rest on besides the numbers, as plain values."""
    return profile.id, profile.lat, sorted((name, values.tolist()) for name, values in profile.monthly.items())


def effective_rules(
    profile: str | Profile,
    traits: dict | None = None,
    *,
    jurisdiction: str | None = None,
    extra: Iterable[Path | str] = (),
    vocabulary: Vocabulary,
) -> RuleSet:
    """Return the effective ruleset of the shipped content, from what is kept where nothing it came from has changed.

    Parameters
    ----------
    profile, traits, jurisdiction, extra
        As in ``rules.load``.
    vocabulary : Vocabulary
        The shipped one.

    Raises
    ------
    InputProblems
        With every problem of every file.
    """
    overlays = [Path(item) for item in extra]
    base = content.root() / "rulesets"
    files = [path for path in sorted(base.rglob("*.yaml")) if not path.name.endswith(".cases.yaml")]
    for item in overlays:
        files += sorted(item.glob("*.yaml")) if item.is_dir() else [item]
    # The places in it are written as seen from here.
    words = (
        "rules",
        climate_words(profile) if isinstance(profile, Profile) else profile,
        sorted((traits or {}).items()),
        jurisdiction,
        content.shown(base),
        [content.shown(item) for item in overlays],
    )
    return kept(
        "rules",
        key_of(
            words, files + code("rules", "climate", "facts", "language", "numbers", "shapes", "texts", "vocabulary")
        ),
        RuleSet,
        lambda: load(profile, traits, jurisdiction=jurisdiction, extra=overlays, vocabulary=vocabulary),
    )
