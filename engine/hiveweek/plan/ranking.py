"""How jobs are put in order: lists from ``rulesets/ranking.yaml``, weights and costs from the store of numbers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

from hiveweek import content
from hiveweek.language.conditions import Scope, parse_node
from hiveweek.numbers import Branch, Numbers, shipped
from hiveweek.problems import InputProblems, nearest
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import texts
from hiveweek.vocabulary.definitions import shape_of
from hiveweek.vocabulary.model import Vocabulary


@dataclass(frozen=True)
class Ranking:
    """How the week's jobs are put in order.

    Attributes
    ----------
    numbers : Numbers
        Weights and opening costs stand under ``plan``.
    frames_cost_more : dict of str to condition
        Number of ``plan.opening_costs`` that frames cost at least -> when it holds.
    looks, not_looked_for : frozenset of str
        Actions that serve as a look; actions for whose sake nobody looks.
    samples : frozenset of str
        Facts of which a fresh observation adds to the last.
    in_season : dict of str to (str, tuple)
        Looking action -> the season fact and the plain values with which it makes sense.
    not_where : dict of str to tuple of str
        Looking action -> findings of which none is known to hold where it is asked for.
    chances : dict of str to dict of str to float
        Fact -> word -> how often a look would find it.
    comparison : dict of str to float
        Fact -> chance that an undecided comparison on it comes true.
    next_due : dict of str to str
        Season event -> what it means for the keeper, in words.
    feeds : frozenset of str
        Actions that bring food.
    needless_beside : dict of str to frozenset of str
        Action -> those that it makes needless at the same hive.
    waits_for : dict of str to str
        Guard finding that only puts a job off -> what has to happen first, in words.
    waits_day : dict of str to str
        Guard that waits for milder days -> the limit that the high of the best day has to reach.
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
    out_of_weather : condition or None
        Where a hive stands in a room, so that the warmth outside says nothing of it.
    not_together : dict of str to frozenset of str
        Action -> actions that it makes needless in the same week, and that make it so.
    waits_by : str
        The action that is advised where nothing can be done about a trouble this week.
    helps_by : str
        The action that is advised to a keeper who may not open a hive alone.
    """

    numbers: Numbers = field(default_factory=shipped)
    frames_cost_more: dict = field(default_factory=dict)
    looks: frozenset = frozenset()
    not_looked_for: frozenset = frozenset()
    samples: frozenset = frozenset()
    in_season: dict = field(default_factory=dict)
    not_where: dict = field(default_factory=dict)
    chances: dict = field(default_factory=dict)
    comparison: dict = field(default_factory=dict)
    next_due: dict = field(default_factory=dict)
    feeds: frozenset = frozenset()
    needless_beside: dict = field(default_factory=dict)
    waits_for: dict = field(default_factory=dict)
    waits_day: dict = field(default_factory=dict)
    holds_open: dict = field(default_factory=dict)
    looks_at_suspicion: frozenset = frozenset()
    troubles: dict = field(default_factory=dict)
    suspicions: frozenset = frozenset()
    leave_closed_in: object = None
    out_of_weather: object = None
    not_together: dict = field(default_factory=dict)
    waits_by: str = ""
    helps_by: str = ""

    @property
    def weights(self) -> Branch:
        """How points are weighed, ``plan.weights``."""
        return self.numbers.branch("plan.weights")

    @property
    def costs(self) -> Branch:
        """What opening costs, ``plan.opening_costs``."""
        return self.numbers.branch("plan.opening_costs")

    def under(self, numbers: Numbers) -> Ranking:
        """Return the same with other numbers, as overlays have moved them."""
        return replace(self, numbers=numbers)

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
        floor = self.weights.urgency_floor
        if by is None:
            return floor
        days = (by - today).days
        weight = 0.5 ** ((days - self.weights.urgency_grace_days) / self.weights.urgency_half_days)
        return max(floor, min(1.0, weight))

    def gain(self, loses: str, points: float) -> float:
        """Return points on the colony scale: what loses only crop is weighed."""
        return points * self.weights.crop if loses == "crop" else points

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
            cost = self.costs[f"{opens}_in_unknown_weather_pts"].value
        else:
            cost = self.costs[opens].step(high_c)
        if opens == "frames":
            cost = max([cost, *(self.costs[name].value for name in more)])
        return cost


def load(vocabulary: Vocabulary, path: Path | None = None, numbers: Numbers | None = None) -> Ranking:
    """Read and check the ranking file.

    Parameters
    ----------
    vocabulary : Vocabulary
        Facts and actions the file may name.
    path : Path, optional
        Another file than the shipped one.
    numbers : Numbers, optional
        The shipped ones by default.

    Raises
    ------
    InputProblems
        With every problem of the file: unknown facts, costs, words, actions or events, chances outside 0 to 1.
    """
    numbers = numbers or shipped()
    path = path or content.root() / "rulesets" / "ranking.yaml"
    document = shape_of("ranking", vocabulary).read(path)
    problems = document.problems
    data = document.data or {}
    scope = Scope(vocabulary)

    def condition(key: str) -> object:
        return None if key not in data else parse_node(document, (key,), scope, problems, data[key])

    ranking = Ranking(
        numbers=numbers,
        frames_cost_more=_cost_more(
            document, data.get("frames_cost_more", {}), numbers.branch("plan.opening_costs"), scope
        ),
        looks=frozenset(texts(data.get("looks"))),
        not_looked_for=frozenset(texts(data.get("not_looked_for"))),
        samples=frozenset(texts(data.get("samples"))),
        not_where={look: texts(names) for look, names in data.get("looks_not_where", {}).items()},
        in_season=_in_season(document, data.get("looks_in_season", {}), vocabulary),
        chances=_chances(document, data.get("chances", {}).get("facts", {}), vocabulary),
        comparison={name: float(share) for name, share in data.get("chances", {}).get("comparison", {}).items()},
        next_due=dict(data.get("next_due", {})),
        feeds=frozenset(texts(data.get("feeds"))),
        needless_beside={job: frozenset(texts(others)) for job, others in data.get("needless_beside", {}).items()},
        waits_for=dict(data.get("waits_for", {})),
        waits_day=dict(_guarded(document, data, "waits_day")),
        holds_open=_holds_open(document, data),
        not_together={job: frozenset(texts(others)) for job, others in data.get("not_together", {}).items()},
        waits_by=data.get("waits_by", ""),
        helps_by=data.get("helps_by", ""),
        looks_at_suspicion=frozenset(texts(data.get("looks_at_suspicion"))),
        troubles={finding: entry.get("say", "") for finding, entry in data.get("troubles", {}).items()},
        suspicions=frozenset(f for f, entry in data.get("troubles", {}).items() if entry.get("suspicion")),
        leave_closed_in=condition("leave_closed_in"),
        out_of_weather=condition("out_of_weather"),
    )
    if problems:
        raise InputProblems(problems)
    return ranking


def _cost_more(document: Document, data: dict, costs: Branch, scope: Scope) -> dict:
    found = {}
    for name, when in data.items():
        if name not in costs:
            said = f"'{name}' is no number under plan.opening_costs{nearest(name, costs)}"
            document.problems.append(document.problem(("frames_cost_more", name), "unknown-cost", said, key=True))
        found[name] = parse_node(document, ("frames_cost_more", name), scope, document.problems, when)
    return found


def _in_season(document: Document, data: dict, vocabulary: Vocabulary) -> dict:
    result = {}
    for action, entry in data.items():
        if not {"fact", "values"} <= set(entry):  # the shape's problem, told already
            continue
        fact, values = vocabulary.facts[entry["fact"]], entry["values"]
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


def _guarded(document: Document, data: dict, block: str) -> dict:
    """Return a block that says more of some guards; each must be among those that put a job off."""
    guards = data.get("waits_for", {})
    for finding in data.get(block, {}):
        if finding not in guards:
            said = f"'{finding}' is not under waits_for{nearest(finding, guards)}"
            document.problems.append(document.problem((block, finding), "unknown-guard", said, key=True))
    return data.get(block, {})


def _holds_open(document: Document, data: dict) -> dict:
    return {guard: frozenset(texts(actions)) for guard, actions in _guarded(document, data, "holds_open").items()}
