"""The weights by which jobs are put in order, read from ``rulesets/ranking.yaml``."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from hiveweek import content
from hiveweek.language.conditions import Scope, parse_node
from hiveweek.problems import InputProblems, nearest
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import listed, texts
from hiveweek.vocabulary.definitions import shape_of
from hiveweek.vocabulary.model import Vocabulary

WEIGHTS = (
    "crop",
    "urgency_floor",
    "urgency_grace_days",
    "urgency_half_days",
    "look_floor_pts",
    "look_list_floor_pts",
    "instead_floor_pts",
    "wait_floor_pts",
    "first_shown",
    "leave_closed_below_c",
)


@dataclass(frozen=True)
class Ranking:
    """The numbers of the ranking file.

    Attributes
    ----------
    weights : dict of str to float
        By name, see ``WEIGHTS``.
    costs : dict
        Opening costs: ``lid`` and ``frames`` as lists of (from degC, points), warmest first, and the single numbers.
    frames_cost_more : dict of str to condition
        Opening cost of frames -> when it holds.
    looks, not_looked_for : frozenset of str
        Actions that serve as a look; actions for whose sake nobody looks.
    samples : frozenset of str
        Facts of which a fresh observation adds to the last.
    in_season : dict of str to (str, tuple)
        Looking action -> the season fact and the plain values with which it makes sense.
    chances : dict of str to dict of str to float
        Fact -> word -> how often a look would find it.
    comparison : dict of str to float
        Fact -> chance that an undecided comparison on it comes true.
    next_due : dict of str to str
        Season event -> what it means for the keeper, in words.
    feeds : frozenset of str
        Actions that bring food.
    waits_for : dict of str to str
        Guard finding that only puts a job off -> what has to happen first, in words.
    holds_open : dict of str to frozenset of str
        Those of them under which a job that waits must not be answered with "leave it closed" -> actions that meet it.
    looks_at_suspicion : frozenset of str
        Looks for which a hive under suspicion may be opened.
    troubles : dict of str to str
        Finding that troubles a whole hive, the gravest first -> what is said of it.
    suspicions : frozenset of str
        Those of them that are a suspicion of disease.
    leave_closed_in : condition or None
        When "leave it closed" is said however warm the week is.
    """

    weights: dict[str, float]
    costs: dict = field(default_factory=dict)
    frames_cost_more: dict = field(default_factory=dict)
    looks: frozenset = frozenset()
    not_looked_for: frozenset = frozenset()
    samples: frozenset = frozenset()
    in_season: dict = field(default_factory=dict)
    chances: dict = field(default_factory=dict)
    comparison: dict = field(default_factory=dict)
    next_due: dict = field(default_factory=dict)
    feeds: frozenset = frozenset()
    waits_for: dict = field(default_factory=dict)
    holds_open: dict = field(default_factory=dict)
    looks_at_suspicion: frozenset = frozenset()
    troubles: dict = field(default_factory=dict)
    suspicions: frozenset = frozenset()
    leave_closed_in: object = None

    def urgency(self, today: dt.date, by: dt.date | None) -> float:
        """Return the weight of a deadline.

        Parameters
        ----------
        today, by : date
            The day of the answer and the last day to start; None = no deadline.

        Returns
        -------
        float
            ``max(floor, 0.5 ** ((days - grace) / half))``, at most 1; the floor without a deadline; 1 when it is past.
        """
        floor = self.weights["urgency_floor"]
        if by is None:
            return floor
        days = (by - today).days
        weight = 0.5 ** ((days - self.weights["urgency_grace_days"]) / self.weights["urgency_half_days"])
        return max(floor, min(1.0, weight))

    def gain(self, loses: str, points: float) -> float:
        """Return points on the colony scale: what loses only crop is weighed."""
        return points * self.weights["crop"] if loses == "crop" else points

    def opening_cost(self, opens: str, high_c: float | None, more: Iterable[str] = ()) -> float:
        """Return what opening costs in points.

        Parameters
        ----------
        opens : str
            nothing, lid or frames.
        high_c : float or None
            High of the best day of the week (degC); None where unknown.
        more : iterable of str
            Those of ``frames_cost_more`` that are known to hold.
        """
        if opens == "nothing":
            return 0.0
        if high_c is None:
            cost = self.costs["weather_unknown"][opens]
        else:
            cost = next((pts for floor, pts in self.costs[opens] if high_c >= floor), self.costs[opens][-1][1])
        if opens == "frames":
            cost = max([cost, *(self.costs[name] for name in more)])
        return cost


def load(vocabulary: Vocabulary, path: Path | None = None) -> Ranking:
    """Read and check the ranking file.

    Parameters
    ----------
    vocabulary : Vocabulary
        Facts and actions the file may name.
    path : Path, optional
        Another file than the shipped one.

    Raises
    ------
    InputProblems
        With every problem of the file: missing weights, unknown facts, words, actions or events, chances outside 0 to 1.
    """
    path = path or content.root() / "rulesets" / "ranking.yaml"
    document = shape_of("ranking", vocabulary).read(path)
    problems = document.problems
    data = document.data or {}
    scope = Scope(vocabulary)
    more = data.get("frames_cost_more", {})
    closed = data.get("leave_closed_in")
    ranking = Ranking(
        weights={name: float(row["value"]) for name, row in data.get("weights", {}).items() if "value" in row},
        costs=_costs(document, data.get("opening_costs", {}), more),
        frames_cost_more={
            name: parse_node(document, ("frames_cost_more", name), scope, problems, when) for name, when in more.items()
        },
        looks=frozenset(texts(data.get("looks"))),
        not_looked_for=frozenset(texts(data.get("not_looked_for"))),
        samples=frozenset(texts(data.get("samples"))),
        in_season=_in_season(document, data.get("looks_in_season", {}), vocabulary),
        chances=_chances(document, data.get("chances", {}).get("facts", {}), vocabulary),
        comparison={name: float(share) for name, share in data.get("chances", {}).get("comparison", {}).items()},
        next_due=dict(data.get("next_due", {})),
        feeds=frozenset(texts(data.get("feeds"))),
        waits_for=dict(data.get("waits_for", {})),
        holds_open=_holds_open(document, data),
        looks_at_suspicion=frozenset(texts(data.get("looks_at_suspicion"))),
        troubles={finding: entry.get("say", "") for finding, entry in data.get("troubles", {}).items()},
        suspicions=frozenset(f for f, entry in data.get("troubles", {}).items() if entry.get("suspicion")),
        leave_closed_in=None if closed is None else parse_node(document, ("leave_closed_in",), scope, problems, closed),
    )
    if problems:
        raise InputProblems(problems)
    return ranking


def _costs(document: Document, data: dict, more: Iterable[str]) -> dict:
    costs: dict = {name: float(value) for name, value in data.items() if isinstance(value, (int, float))}
    for opens in ("lid", "frames"):
        rows = [row for row in listed(data.get(opens)) if row]
        costs[opens] = sorted(((float(r.get("from_c", 0)), float(r.get("pts", 0))) for r in rows), reverse=True)
    costs["weather_unknown"] = {name: float(cost) for name, cost in data.get("weather_unknown", {}).items()}
    for name in more:
        if name not in costs:
            said = f"'{name}' is no opening cost{nearest(name, costs)}"
            document.problems.append(document.problem(("frames_cost_more", name), "unknown-cost", said, key=True))
    return costs


def _in_season(document: Document, data: dict, vocabulary: Vocabulary) -> dict:
    result = {}
    for action, entry in data.items():
        if "fact" not in entry:
            continue
        fact, values = vocabulary.facts[entry["fact"]], entry.get("values", [])
        for i, value in enumerate(values):
            try:
                fact.encode(value)
            except ValueError as error:
                path = ("looks_in_season", action, "values", i)
                document.problems.append(document.problem(path, "unknown-value", f"{fact.id} {error}"))
        result[action] = (fact.id, tuple(values))
    return result


def _chances(document: Document, data: dict, vocabulary: Vocabulary) -> dict:
    """Return the share of every word; those not named have equal parts of what is left."""
    result = {}
    for name, given in data.items():
        fact = vocabulary.facts[name]
        words = ("true", "false") if fact.kind == "yes_no" else fact.values
        shares = {word: float(share) for word, share in given.items()}
        rest = [word for word in words if word not in shares]
        left = 1.0 - sum(shares.values())
        if left < -1e-9 or (not rest and abs(left) > 1e-9):
            said = f"the chances of {name} do not sum to 1"
            document.problems.append(document.problem(("chances", "facts", name), "out-of-range", said))
        for word in rest:
            shares[word] = left / len(rest)
        result[name] = shares
    return result


def _holds_open(document: Document, data: dict) -> dict:
    guards = data.get("waits_for", {})
    for finding in data.get("holds_open", {}):
        if finding not in guards:
            said = f"'{finding}' is not under waits_for{nearest(finding, guards)}"
            document.problems.append(document.problem(("holds_open", finding), "unknown-guard", said, key=True))
    return {finding: frozenset(texts(actions)) for finding, actions in data.get("holds_open", {}).items()}
