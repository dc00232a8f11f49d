"""Marks for what a learner would do.

The jobs are marked as a ranked list against the answer's: the cumulated gain of the learner's list, each place counting less than
the one before it, over that of the answer's own first jobs (nDCG; Järvelin & Kekäläinen 2002), less what picking at random from the
list would earn (correction for guessing; Diamond & Evans 1973). A first job as good as the answer's earns most of that by itself;
what is forbidden here loses the marks of the jobs. How sure the learner was is marked by a proper rule (Brier 1950): nobody gains by
saying another chance than they believe in. Looks cost what opening costs, and minutes beyond those at hand. All weights stand under
``plan.practice``.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations

from hiveweek.plan.model import Advice
from hiveweek.practice.sitting import Sitting
from hiveweek.texts.parts import Phrase


@dataclass(frozen=True)
class Choice:
    """One job of the learner.

    Attributes
    ----------
    place : int
        Its place in the answer, from 1; 0 where the answer does not have it.
    gain : float
        What it is worth, in colonies of a hundred; 0 where nothing asks for it.
    advice : Advice or None
        Of the answer.
    harm : Phrase or None
        Why it must not be done.
    trap : bool
        The author names it as what must not be done here.
    as_good : bool
        It is worth as much as what stands first in the answer.
    besides : bool
        Other jobs of the learner stand beside it.
    """

    action: str
    place: int
    gain: float
    advice: Advice | None = None
    harm: Phrase | None = None
    trap: bool = False
    as_good: bool = False
    besides: bool = False

    @property
    def harmful(self) -> bool:
        """Whether it loses the marks of the jobs."""
        return self.harm is not None or self.trap


@dataclass(frozen=True)
class Marks:
    """What a sitting earned, of 100.

    Attributes
    ----------
    total : float
    jobs, sure : float
        Parts of it, before looks are taken off.
    looks : float
        Taken off for looks that cost the bees, and for minutes.
    best_jobs, best_sure : float
        The most that each part gives.
    sound : bool
        The first job is worth doing first.
    choices : tuple of Choice
        In the learner's order.
    """

    total: float
    jobs: float
    sure: float
    looks: float
    best_jobs: float
    best_sure: float
    sound: bool
    choices: tuple[Choice, ...]


def mark(sitting: Sitting, jobs: Sequence[str], chance: float, seed: int = 0) -> Marks:
    """Mark a learner's jobs.

    Parameters
    ----------
    sitting : Sitting
        With the looks that were made.
    jobs : sequence of str
        Actions in the order of doing, at most ``plan.practice.most_jobs``; none stands for leaving the hive closed.
    chance : float
        How sure the learner is that the first job is sound, 0 to 1.
    seed : int
        Of the list of jobs offered, by which guessing is reckoned.
    """
    numbers = sitting.numbers
    closed = next((name for name, body in sitting.words.actions.items() if body.leaves_closed), None)
    wanted = list(dict.fromkeys(jobs)) or ([closed] if closed else [])
    gains, best = worth(sitting)
    most = int(numbers.most_jobs)
    listed = sitting.offered(seed)
    harmful = {name for name in {*wanted, *listed} if _choice(sitting, name, gains, best).harmful}
    choices = tuple(
        dataclasses.replace(_choice(sitting, name, gains, best), besides=len(wanted) > 1) for name in wanted[:most]
    )
    earned = _earned([c.action for c in choices], gains, best, harmful)
    every = [_earned(order, gains, best, harmful) for order in permutations(listed, min(most, len(listed)))]
    guessed = sum(every) / len(every)
    share = max(0.0, (earned - guessed) / (1 - guessed)) if guessed < 1 else earned
    first = choices[0] if choices else None
    if first and first.as_good and not any(one.harmful for one in choices):
        share = max(share, numbers.first_share)
    sound = bool(first and not first.harmful and first.gain >= numbers.sound_share * best[0])
    spent = sum(look.cost_pts for look in sitting.looked) * numbers.marks_per_pt
    spent += max(0.0, sitting.minutes - numbers.free_minutes) * numbers.marks_per_minute
    of_jobs = numbers.jobs_marks * share
    of_sure = numbers.sure_marks * (1 - (chance - sound) ** 2)
    return Marks(
        round(max(0.0, of_jobs - spent) + of_sure, 1),
        round(of_jobs, 1),
        round(of_sure, 1),
        round(spent, 1),
        numbers.jobs_marks,
        numbers.sure_marks,
        sound,
        choices,
    )


def worth(sitting: Sitting) -> tuple[dict[str, float], list[float]]:
    """Return what each sound job is worth, and the worth of the answer's first jobs in their order, which never grows.

    A job that stands before others is worth at least what they are, since the order of the answer holds more than points; what law
    and people ask counts as much as anything can. What the author takes for the first job, or wants in the answer, is what the
    scenario is about, and worth as much as what stands first. Jobs after the first of less than ``least_pts`` earn that, and are not
    missed. Leaving the hive closed is worth what lifting frames would cost where no job of the answer opens the hive; in place of a
    job from outside no more than ``sound_share`` of it.
    """
    numbers, words = sitting.numbers, sitting.words
    gains: dict[str, float] = {}
    after = 0.0
    slight = set()
    for advice in reversed(sitting.plan.advice):
        if advice.band and advice.points < numbers.least_pts:
            slight.add(advice.action)
        after = max(after, numbers.law_pts if advice.band == 0 else max(advice.points, numbers.least_pts))
        gains[advice.action] = after
    told = list(reversed(gains))
    first = told[: int(numbers.most_jobs)]
    best = [gains[name] for k, name in enumerate(first) if not k or name not in slight]
    for look in sitting.plan.look_first:
        gains.setdefault(look.action, max(0.0, look.points))
    expect = sitting.expect
    alike = [expect.get("top", ()), *expect.get("includes_any", ()), *([name] for name in expect.get("includes", ()))]
    for group in alike:
        if any(name in told for name in group):
            gains.update(dict.fromkeys(group, best[0]))
    if not any(words.actions[name].opens != "nothing" for name in told):
        least = max(numbers.least_pts, sitting.opening_cost("frames"))
        for name, body in words.actions.items():
            if body.leaves_closed and told[:1] == [name]:
                gains[name] = best[0]
            elif body.leaves_closed:
                gains[name] = min([least, *(numbers.sound_share * one for one in best[:1])])
                best = best or [gains[name]]
    return gains, best


def _earned(jobs: Sequence[str], gains: Mapping[str, float], best: Sequence[float], harmful: set[str]) -> float:
    """Return the gain of a list over that of the best one, 0 to 1; 0 with anything harmful in it."""
    if harmful.intersection(jobs):
        return 0.0
    ideal = sum(gain / math.log2(k + 2) for k, gain in enumerate(best))
    return min(1.0, sum(gains.get(name, 0.0) / math.log2(k + 2) for k, name in enumerate(jobs)) / ideal)


def _choice(sitting: Sitting, action: str, gains: Mapping[str, float], best: Sequence[float]) -> Choice:
    told = {advice.action: (k, advice) for k, advice in enumerate(sitting.plan.advice, 1)}
    place, advice = told.get(action, (0, None))
    gain = gains.get(action, 0.0)
    as_good = gain >= max(best, default=math.inf)
    if advice is not None:
        return Choice(action, place, gain, advice, as_good=as_good)
    trap = action in sitting.expect.get("excludes", ())
    return Choice(action, 0, gain, None, sitting.stops(action), trap, as_good)
