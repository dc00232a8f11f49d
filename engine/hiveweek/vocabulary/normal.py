"""The declared normal colony, ``normal_colony.yaml``: what stands on it, what a look finds of it, and what each action does to it."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from hiveweek import content
from hiveweek.problems import InputProblems
from hiveweek.shapes import marked_yaml
from hiveweek.vocabulary.definitions import definitions, shape_of
from hiveweek.vocabulary.effects import read_effects
from hiveweek.vocabulary.model import Vocabulary


@dataclass(frozen=True)
class Normal:
    """The declared normal colony and what each action does to it.

    Attributes
    ----------
    parts : dict
        Blocks of ``normal_colony.yaml`` as plain values, only to be read.
    effects : dict of str to dict
        Action to what the walk changes, one for every action of the vocabulary.
    """

    parts: dict
    effects: dict[str, dict]


def load(words: Vocabulary, folder: Path | None = None) -> Normal:
    """Read ``normal_colony.yaml`` and ``effects.yaml``; the shipped ones once.

    Parameters
    ----------
    folder : Path, optional
        A rulesets folder; the shipped one by default, also where that folder has no such files.

    Raises
    ------
    InputProblems
        Unknown facts, actions, keys or values; an action without an entry. All of them, with their places.
    """
    return _shipped(words) if folder is None else _read(words, folder)


@lru_cache(maxsize=8)
def _shipped(words: Vocabulary) -> Normal:
    return _read(words, None)


def _read(words: Vocabulary, folder: Path | None) -> Normal:
    base = content.root() / "rulesets"
    path = (folder or base) / "vocabulary" / "normal_colony.yaml"
    colony = shape_of("normal_colony", words).read(
        path if path.exists() else base / "vocabulary" / "normal_colony.yaml"
    )
    problems = colony.problems
    own = None if folder is None else folder / "vocabulary" / "effects.yaml"
    if own is not None and own.exists():
        document = marked_yaml.read(own, content.shown(own))
        words = dataclasses.replace(words, details={}, effects={})
        read_effects(document, words, definitions(words))
        problems = problems + document.problems
    if problems:
        raise InputProblems(problems)
    return Normal(colony.data, {name: effect.walk for name, effect in words.effects.items()})
