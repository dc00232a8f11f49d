"""A walk through the year: what a normal healthy colony is advised in each week of a climate.

Each week everything is seen afresh and the advice of the week before has been followed, so what a reader finds here is what
the rules say when nothing is wrong.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from hiveweek.authoring.cases import Runner
from hiveweek.authoring.normal import WEEK, Colony
from hiveweek.authoring.wording import plain
from hiveweek.climate import Profile, load_profile
from hiveweek.facts.scenario import Scenario
from hiveweek.plan.answer import Answer
from hiveweek.problems import InputProblems, Problem
from hiveweek.vocabulary.normal import Normal, load

YEAR = 2027  # a common year; the calendar of a place repeats
WEEKS = 52


@dataclass
class Said:
    """One advice of a week: action, the rule that gave it, points and what else ranks it."""

    action: str
    rule: str
    points: float
    band: int
    by: dt.date | None
    amount: str | None
    because: str
    origin: str


@dataclass
class Week:
    """One week of the walk.

    Attributes
    ----------
    season : dict
        Season facts of its first day, plain values.
    withheld : list of (str, str)
        Action and kind of what the plan held back.
    looks : list of str
        Looks named besides the advice.
    """

    date: dt.date
    phase: str
    advice: list[Said]
    withheld: list[tuple[str, str]]
    looks: list[str]
    nothing_due: str | None
    season: dict = field(default_factory=dict)

    @property
    def actions(self) -> list[str]:
        """Actions in rank order."""
        return [said.action for said in self.advice]


@dataclass
class Year:
    """The weeks of one climate."""

    profile: str
    start: dt.date
    weeks: list[Week]


def month_day(text: str) -> dt.date:
    """Return the day of the walk's year that ``MM-DD`` names.

    Raises
    ------
    InputProblems
        For a text that is no such day.
    """
    if re.fullmatch(r"\d{2}-\d{2}", text):
        try:
            return dt.date.fromisoformat(f"{YEAR}-{text}")
        except ValueError:
            pass
    raise InputProblems([Problem("", 0, 0, "bad-date", f"--start needs a month and day like 04-15, not '{text}'")])


def midwinter(profile: Profile) -> dt.date:
    """Return the day on which a year's walk begins: 1 January north of the equator, 1 July south of it."""
    return dt.date(YEAR, 1 if profile.lat >= 0 else 7, 1)


def own_facts(scenario: Scenario) -> dict:
    """Return what a user's scenario of one hive says of it, to stand in place of the normal colony's facts.

    Raises
    ------
    InputProblems
        Where the scenario holds more or fewer hives than one.
    """
    if len(scenario.hives) != 1:
        line, col = scenario.place
        raise InputProblems(
            [
                Problem(
                    scenario.file,
                    line,
                    col,
                    "one-hive",
                    f"a walk follows one hive; this file holds {len(scenario.hives)}",
                )
            ]
        )
    hive = scenario.hives[0]
    facts = dict(scenario.apiary.site)
    for _, seen in [*scenario.apiary.observed, *hive.observed]:
        facts.update(seen)
    facts.update(hive.facts)
    return {name: value for name, value in facts.items() if value is not None}


def walk(
    profile_id: str,
    runner: Runner,
    *,
    start: dt.date | None = None,
    given: dict | None = None,
    weeks: int = WEEKS,
    step: int = 1,
    normal: Normal | None = None,
    overlays: list[Path] | None = None,
    jurisdiction: str | None = None,
    tap: Callable[[Scenario, Answer], None] | None = None,
) -> Year:
    """Return the year of a normal colony in a climate.

    Parameters
    ----------
    profile_id : str
        Climate profile.
    runner : Runner
        Answers the weeks; its rulesets are shared between walks.
    start : date, optional
        First day; the middle of the local winter by default.
    given : dict, optional
        Facts of a user's hive (``own_facts``). Equipment is where the walk starts, what was seen holds all year.
    weeks : int
        Length of the walk.
    step : int
        Answer every so many weeks only (for a quick look); time passes all the same.
    tap : callable, optional
        Given each week's question and answer.
    normal : Normal, optional
        Read from the runner's rulesets folder by default.

    Returns
    -------
    Year
    """
    normal = normal or load(runner.words, runner.folder)
    profile = load_profile(profile_id)
    profile = profile.with_numbers(runner.ruleset(profile, jurisdiction, overlays or ()).numbers)
    # From the middle of the winter on a hive stands as the advice of the autumn before left it; a user's own stands as he says.
    lead = int(normal.parts["lead_in_weeks"]) if start is None and not given else 0
    lead -= lead % step
    start = start or midwinter(profile)
    day = start - dt.timedelta(days=WEEK * lead)
    colony = Colony(normal, runner.words, profile, day, given or {})
    found: list[Week] = []
    for number in range(-lead, weeks):
        if number % step == 0:
            scenario, answer = _ask(colony, runner, day, overlays, jurisdiction)
            if tap is not None and number >= 0:
                tap(scenario, answer)
            plan = answer.plan.hives[0]
            if number >= 0:
                found.append(_week(day, answer.plan.phase, plan, colony.season))
            colony.follow(plan.advice, day)
        day += dt.timedelta(days=WEEK)
        colony.pass_week(day)
    return Year(profile_id, start, found)


def _ask(colony: Colony, runner: Runner, day: dt.date, overlays, jurisdiction):
    """Answer a week; the first one once more, with the stores that belong to its need."""
    for _ in range(2):
        scenario = colony.scenario(day)
        scenario.rulesets, scenario.jurisdiction = list(overlays or ()), jurisdiction
        # Each week is seen afresh, so no day gone by would tell.
        answer = runner.answer(scenario, since=False, given=[colony.answered()])
        table = answer.inference.table
        models = (float(table.column(name).value[0]) for name in ("food.need_kg", "colony.bees", "food.use_kg_week"))
        if not colony.learn(*models):
            break
    return scenario, answer


def _week(day: dt.date, phase: str, plan, season: dict) -> Week:
    advice = [
        Said(a.action, a.rule, a.points, a.band, a.by, str(a.amount or ""), str(a.because), a.origin)
        for a in plan.advice
    ]
    return Week(
        day,
        phase,
        advice,
        [(w.action, w.kind) for w in plan.withheld],
        [look.action for look in plan.look_first],
        str(plan.nothing_due["because"]) if plan.nothing_due else None,
        dict(season),
    )


# --- shown
def as_json(year: Year) -> dict:
    """Return a walk as plain data."""
    return {
        "profile": year.profile,
        "start": year.start.isoformat(),
        "weeks": [
            {
                "week": number,
                "date": week.date.isoformat(),
                "phase": week.phase,
                "advice": [
                    {
                        "action": s.action,
                        "rule": s.rule,
                        "points": s.points,
                        "band": s.band,
                        "by": s.by.isoformat() if s.by else None,
                        "amount": s.amount,
                        "because": s.because,
                        "origin": s.origin,
                    }
                    for s in week.advice
                ],
                "withheld": [{"action": action, "kind": kind} for action, kind in week.withheld],
                "looks": week.looks,
                "nothing_due": week.nothing_due,
            }
            for number, week in enumerate(year.weeks, 1)
        ],
    }


def as_lines(year: Year) -> list[str]:
    """Return a walk as the lines of a table: week, day, phase, advice with points, what was withheld."""
    lines = [
        f"{year.profile}: a normal colony from {year.start:%d %B}",
        f"{'':2}  {'day':<6}  {'phase':<14}  {'held':>4}  advice (points)",
    ]
    for number, week in enumerate(year.weeks, 1):
        said = [_words(s) for s in week.advice] or [f"nothing due: {week.nothing_due}"]
        head = f"{number:2}  {week.date:%d %b}  {plain(week.phase):<14}  {len(week.withheld) or '':>4}  "
        lines.append(head + said[0])
        lines += [" " * len(head) + text for text in said[1:]]
    return lines


def _words(said: Said) -> str:
    """``feed-candy 12.3 food.candy-now, 2.5 kg``: law and people stand without points."""
    worth = "first" if said.band == 0 else f"{said.points:g}"
    amount = f", {said.amount}" if said.amount else ""
    by = f", by {said.by:%d %b}" if said.by else ""
    return f"{said.action} ({worth}) {said.rule}{amount}{by}"
