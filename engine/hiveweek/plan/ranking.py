"""The weights by which jobs are put in order, read from ``rulesets/ranking.yaml``."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from hiveweek import content
from hiveweek.language.conditions import Scope, parse_node
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.shapes import marked_yaml
from hiveweek.vocabulary.events import EVENTS
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
SECTIONS = (
    "ranking",
    "weights",
    "opening_costs",
    "frames_cost_more",
    "looks",
    "not_looked_for",
    "samples",
    "looks_in_season",
    "chances",
    "next_due",
    "feeds",
    "waits_for",
    "holds_open",
    "looks_at_suspicion",
    "troubles",
    "leave_closed_in",
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
    document = marked_yaml.read(path, content.shown(path))
    problems = list(document.problems)
    data = document.data if isinstance(document.data, dict) else {}
    if not data and not problems:
        problems.append(document.problem((), "empty", "the ranking file holds nothing"))
    if problems:
        raise InputProblems(problems)
    for key in data:
        if key not in SECTIONS:
            problems.append(
                document.problem((key,), "unknown-key", f"'{key}' is no section{nearest(key, SECTIONS)}", key=True)
            )
    ranking = Ranking(
        weights=_weights(document, data.get("weights"), problems),
        costs=_costs(document, data.get("opening_costs"), data.get("frames_cost_more") or {}, problems),
        frames_cost_more={
            name: parse_node(document, ("frames_cost_more", name), Scope(vocabulary), problems)
            for name in data.get("frames_cost_more") or {}
        },
        looks=_actions(document, "looks", data, vocabulary, problems),
        not_looked_for=_actions(document, "not_looked_for", data, vocabulary, problems),
        samples=_names(document, "samples", data, vocabulary.facts, "fact", problems),
        in_season=_in_season(document, data.get("looks_in_season") or {}, vocabulary, problems),
        chances=_chances(document, data.get("chances"), vocabulary, problems),
        comparison=_comparison(document, data.get("chances"), vocabulary, problems),
        next_due=_next_due(document, data.get("next_due") or {}, problems),
        feeds=_actions(document, "feeds", data, vocabulary, problems),
        waits_for=_waits(document, data.get("waits_for") or {}, problems),
        holds_open=_holds_open(document, data, vocabulary, problems),
        looks_at_suspicion=_actions(document, "looks_at_suspicion", data, vocabulary, problems),
        troubles=_troubles(document, data.get("troubles"), problems),
        suspicions=frozenset(
            str(finding)
            for finding, entry in (data.get("troubles") or {}).items()
            if isinstance(entry, dict) and entry.get("suspicion") is True
        ),
        leave_closed_in=_condition(document, "leave_closed_in", data, vocabulary, problems),
    )
    if problems:
        raise InputProblems(problems)
    return ranking


def _number(value) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _weights(document, data, problems: list[Problem]) -> dict[str, float]:
    weights = {}
    data = data if isinstance(data, dict) else {}
    for name in data:
        if name not in WEIGHTS:
            problems.append(
                document.problem(
                    ("weights", name), "unknown-key", f"'{name}' is no weight{nearest(name, WEIGHTS)}", key=True
                )
            )
    for name in WEIGHTS:
        entry = data.get(name)
        if not isinstance(entry, dict) or not _number(entry.get("value")):
            problems.append(
                document.problem(("weights", name), "missing-weight", f"'{name}' needs {{value, unit, source}}")
            )
        elif not entry.get("source"):
            problems.append(document.problem(("weights", name), "no-source", f"'{name}' needs a source"))
        else:
            weights[name] = float(entry["value"])
    return weights


def _costs(document, data, more, problems) -> dict:
    data = data if isinstance(data, dict) else {}
    costs: dict = {}
    for opens in ("lid", "frames"):
        rows = data.get(opens)
        good = (
            isinstance(rows, list)
            and rows
            and all(isinstance(r, dict) and _number(r.get("from_c")) and _number(r.get("pts")) for r in rows)
        )
        if not good:
            problems.append(
                document.problem(("opening_costs", opens), "wrong-type", f"'{opens}' needs a list of {{from_c, pts}}")
            )
            continue
        costs[opens] = sorted(((float(r["from_c"]), float(r["pts"])) for r in rows), reverse=True)
    unknown = data.get("weather_unknown")
    if isinstance(unknown, dict) and all(_number(unknown.get(k)) for k in ("lid", "frames")):
        costs["weather_unknown"] = {k: float(unknown[k]) for k in ("lid", "frames")}
    else:
        problems.append(
            document.problem(("opening_costs", "weather_unknown"), "wrong-type", "needs numbers for lid and frames")
        )
    for name in more:
        if _number(data.get(name)):
            costs[name] = float(data[name])
        else:
            problems.append(
                document.problem(("opening_costs", name), "wrong-type", f"'{name}' needs a number of points")
            )
    return costs


def _in_season(document, data, vocabulary, problems) -> dict:
    result = {}
    for action, entry in data.items():
        path = ("looks_in_season", action)
        if action not in vocabulary.actions:
            problems.append(
                document.problem(
                    path, "unknown-action", f"'{action}' is no action{nearest(action, vocabulary.actions)}", key=True
                )
            )
            continue
        fact = vocabulary.facts.get(entry.get("fact")) if isinstance(entry, dict) else None
        values = entry.get("values") if isinstance(entry, dict) else None
        if fact is None or not isinstance(values, list):
            problems.append(document.problem(path, "unknown-fact", "needs {fact, values} of the season"))
            continue
        for i, value in enumerate(values):
            try:
                fact.encode(value)
            except ValueError as error:
                problems.append(document.problem((*path, "values", i), "unknown-value", f"{fact.id} {error}"))
        result[action] = (fact.id, tuple(values))
    return result


def _chances(document, data, vocabulary, problems) -> dict:
    result = {}
    facts = data.get("facts") if isinstance(data, dict) else None
    for fact_id, words in (facts or {}).items():
        path = ("chances", "facts", fact_id)
        fact = vocabulary.facts.get(fact_id)
        if fact is None:
            problems.append(
                document.problem(
                    path, "unknown-fact", f"'{fact_id}' is no fact{nearest(fact_id, vocabulary.facts)}", key=True
                )
            )
            continue
        allowed = ("true", "false") if fact.kind == "yes_no" else fact.values
        shares = {}
        for word, share in (words or {}).items():
            if word not in allowed:
                problems.append(
                    document.problem(
                        (*path, word),
                        "unknown-value",
                        f"{fact_id} is one of {', '.join(allowed)}; '{word}' is not{nearest(word, allowed)}",
                        key=True,
                    )
                )
            elif not _number(share) or not 0 <= share <= 1:
                problems.append(document.problem((*path, word), "out-of-range", "a chance lies between 0 and 1"))
            else:
                shares[word] = float(share)
        rest = [word for word in allowed if word not in shares]
        left = 1.0 - sum(shares.values())
        if left < -1e-9 or (not rest and abs(left) > 1e-9):
            problems.append(document.problem(path, "out-of-range", f"the chances of {fact_id} do not sum to 1"))
        for word in rest:
            shares[word] = left / len(rest)
        result[fact_id] = shares
    return result


def _comparison(document, data, vocabulary, problems) -> dict:
    result = {}
    for fact_id, share in ((data.get("comparison") if isinstance(data, dict) else None) or {}).items():
        path = ("chances", "comparison", fact_id)
        if fact_id not in vocabulary.facts:
            problems.append(
                document.problem(
                    path, "unknown-fact", f"'{fact_id}' is no fact{nearest(fact_id, vocabulary.facts)}", key=True
                )
            )
        elif not _number(share) or not 0 <= share <= 1:
            problems.append(document.problem(path, "out-of-range", "a chance lies between 0 and 1"))
        else:
            result[fact_id] = float(share)
    return result


def _next_due(document, data, problems) -> dict:
    result = {}
    for event, words in data.items():
        if event not in EVENTS:
            problems.append(
                document.problem(
                    ("next_due", event), "unknown-event", f"'{event}' is no event{nearest(event, EVENTS)}", key=True
                )
            )
        elif not isinstance(words, str) or not words:
            problems.append(document.problem(("next_due", event), "wrong-type", "needs words"))
        else:
            result[event] = words
    return result


def _waits(document, data, problems) -> dict:
    result = {}
    for finding, words in data.items() if isinstance(data, dict) else ():
        if isinstance(words, str) and words:
            result[str(finding)] = words
        else:
            problems.append(
                document.problem(("waits_for", finding), "wrong-type", "needs words: what has to happen first")
            )
    return result


def _holds_open(document, data, vocabulary, problems) -> dict:
    result = {}
    guards = data.get("waits_for") or {}
    for finding, actions in (data.get("holds_open") or {}).items():
        path = ("holds_open", finding)
        if finding not in guards:
            problems.append(
                document.problem(
                    path, "unknown-guard", f"'{finding}' is not under waits_for{nearest(finding, guards)}", key=True
                )
            )
        for i, action in enumerate(actions or ()):
            if action not in vocabulary.actions:
                problems.append(
                    document.problem(
                        (*path, i), "unknown-action", f"'{action}' is no action{nearest(action, vocabulary.actions)}"
                    )
                )
        result[str(finding)] = frozenset(str(action) for action in actions or ())
    return result


def _troubles(document, data, problems) -> dict:
    result = {}
    for finding, entry in data.items() if isinstance(data, dict) else ():
        path = ("troubles", finding)
        if not isinstance(entry, dict) or not isinstance(entry.get("say"), str):
            problems.append(
                document.problem(path, "wrong-type", "needs {say: words}, and suspicion: true where it is one")
            )
            continue
        for key in entry:
            if key not in ("say", "suspicion"):
                problems.append(
                    document.problem((*path, key), "unknown-key", f"'{key}' is neither say nor suspicion", key=True)
                )
        result[str(finding)] = entry["say"]
    return result


def _condition(document, name, data, vocabulary, problems):
    return parse_node(document, (name,), Scope(vocabulary), problems) if data.get(name) is not None else None


def _actions(document, name, data, vocabulary, problems) -> frozenset:
    return _names(document, name, data, vocabulary.actions, "action", problems)


def _names(document, name, data, known, what, problems) -> frozenset:
    items = data.get(name) or []
    if not isinstance(items, list):
        problems.append(document.problem((name,), "wrong-type", f"'{name}' needs a list of {what}s"))
        return frozenset()
    for i, item in enumerate(items):
        if item not in known:
            problems.append(
                document.problem((name, i), f"unknown-{what}", f"'{item}' is no {what}{nearest(item, known)}")
            )
    return frozenset(str(item) for item in items)
