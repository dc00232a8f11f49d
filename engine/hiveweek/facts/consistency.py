"""Holds what a file says of one hive on one day against what can be together."""

from __future__ import annotations

import numpy as np

from hiveweek.facts.constraints import broken, facts_of
from hiveweek.facts.implied import contradictions
from hiveweek.problems import Problem
from hiveweek.shapes.marked_yaml import Document
from hiveweek.vocabulary.model import Vocabulary


def check_sets(vocabulary: Vocabulary, document: Document, sets: list[tuple[dict, dict, str]]) -> list[Problem]:
    """Check sets of facts of one day.

    Parameters
    ----------
    sets : list of (facts, places, hive id)
        Plain values, where each is written, and whose they are. All sets are looked at together, a row each.

    Returns
    -------
    list of Problem
        One for each broken constraint or contradicted implication, at the last of its facts in the file. A constraint
        that says the same as a contradicted implication is left out.
    """
    n = len(sets)
    columns: dict[str, np.ndarray] = {}
    for row, (facts, _, _) in enumerate(sets):
        for name, value in facts.items():
            if value is None:
                continue
            if name not in columns:
                columns[name] = np.full(n, np.nan)
            columns[name][row] = vocabulary.facts[name].encode(value)
    blank = np.full(n, np.nan)

    def column(fact: str) -> np.ndarray:
        return columns.get(fact, blank)

    problems, told = [], set()
    for row in range(n):
        facts, places, hive = sets[row]
        mites, bees = facts.get("mites.sample_mites"), facts.get("mites.sample_bees")
        if mites is not None and bees is not None and mites > bees:
            problems.append(
                document.problem(
                    places["mites.sample_mites"],
                    "cannot-be",
                    f"{hive}: mites.sample_mites is {mites} of {bees} bees; are the two numbers swapped",
                )
            )
    for implication, fact, rows in contradictions(vocabulary, column):
        for row in rows:
            facts, places, hive = sets[row]
            premises = [f for f in facts_of(implication["when"]) if f in places]
            told.add((row, frozenset([*premises, fact])))
            said = ", ".join(f"{f} is {_word(facts[f])}" for f in premises)
            meant = _word(vocabulary.facts[fact].decode(implication["then"][fact]))
            problems.append(
                document.problem(
                    places.get(fact, ()),
                    "cannot-be",
                    f"{hive}: {fact} is {_word(facts[fact])}, but {said}, which "
                    f"means {fact} is {meant}: {implication['note']}",
                )
            )
    for constraint, rows in broken(vocabulary, column):
        for row in rows:
            facts, places, hive = sets[row]
            named = [f for f in facts_of(constraint["holds"]) if f in places] or [
                f for f in ("hive.frames", "hive.supers") if f in places
            ]
            if not named or (row, frozenset(named)) in told:
                continue
            last = max(named, key=lambda f: document.place(places[f]))
            said = ", ".join(f"{f} is {_word(facts[f])}" for f in named)
            problems.append(document.problem(places[last], "cannot-be", f"{hive}: {said}: {constraint['note']}"))
    return problems


def _word(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:g}" if isinstance(value, float) else str(value)
