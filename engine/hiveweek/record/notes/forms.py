"""The phrase to note each fact with, kept between runs so that a screen that names facts need not read the whole table."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from hiveweek import content, vocabulary
from hiveweek.kept import code, kept, key_of

MOST_SHOWN = 3  # of the facts of one look; the rest is told by ``hiveweek facts``


@lru_cache(maxsize=1)
def forms() -> dict[str, str]:
    """Return fact to the words it is noted with ("5 seams", "eggs seen"); empty words for what is worked out."""
    folder = content.root() / "rulesets" / "vocabulary"
    files = [folder / "phrases.yaml", folder / "effects.yaml", folder / "actions.yaml"]
    key = key_of(("forms",), [*files, *sorted((folder / "facts").glob("*.yaml")), *code("vocabulary", "record")])
    return kept("forms", key, dict[str, str], _made)


def _made() -> dict[str, str]:
    from hiveweek.record.notes.phrase import phrase_for  # the whole grammar, only where nothing is kept

    return {fact: phrase_for(fact) for fact in vocabulary.load().facts}


def note_as(facts: Sequence[str], most: int = MOST_SHOWN) -> str:
    """Return how the facts of a look are noted, a few of them: "5 seams, heavy"; empty where none can be noted.

    Phrases come before ``fact=value``, which is shown only where there is no phrase.
    """
    found = list(dict.fromkeys(phrase for fact in facts if (phrase := forms().get(fact, ""))))
    return ", ".join(([phrase for phrase in found if "=" not in phrase] or found)[:most])
