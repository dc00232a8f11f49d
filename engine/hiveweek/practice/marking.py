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
from itertools import chain, permutations

from hiveweek.plan.model import Advice
from hiveweek.practice.sitting import Sitting
from hiveweek.texts.parts import Phrase
from hiveweek.vocabulary.model import Action, Vocabulary


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
    earns : bool
        It earns marks where it stands alone.
    first : Advice or None
        What the answer puts first, where this job does nothing.
    why : str
        What the author says against it.
    aside : str or Phrase
        Why it is not this week's job though it does no harm, by the author or by the answer, which holds it back.
    """

    action: str
    place: int
    gain: float
    advice: Advice | None = None
    harm: Phrase | None = None
    trap: bool = False
    as_good: bool = False
    besides: bool = False
    earns: bool = False
    first: Advice | None = None
    why: str = ""
    aside: str | Phrase = ""

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


def mark(sitting: Sitting, jobs: Sequence[str], chance: float | None, seed: int = 0) -> Marks:
    """Mark a learner's jobs.

    Parameters
    ----------
    sitting : Sitting
        With the looks that were made.
    jobs : sequence of str
        Actions in the order of doing, at most ``plan.practice.most_jobs``; none stands for leaving the hive closed.
    chance : float or None
        How sure the learner is that the first job is sound, 0 to 1; None where they do not say, which counts as ``chance_unsaid``.
    seed : int
        Of the list of jobs offered, by which guessing is reckoned.
    """
    numbers, actions = sitting.numbers, sitting.words.actions
    closed = next((name for name, body in actions.items() if body.leaves_closed), None)
    wanted = list(dict.fromkeys(jobs)) or ([closed] if closed else [])
    gains, best = worth(sitting)
    most = int(numbers.most_jobs)
    listed = sitting.offered(seed)
    judged = {name: _choice(sitting, name, gains, best) for name in {*wanted, *listed}}
    harmful = {name for name, choice in judged.items() if choice.harmful}
    # To leave a hive closed takes no place from a job beside it.
    adds_nothing = {name for name in judged if actions[name].leaves_closed and not judged[name].as_good}

    def earned(order: Sequence[str]) -> float:
        counted = [name for name in order if name not in adds_nothing] or order
        return _earned(counted, gains, best, harmful)

    every = [earned(order) for order in permutations(listed, min(most, len(listed)))]
    guessed = sum(every) / len(every)

    def share_of(order: Sequence[str]) -> float:
        got = earned(order)
        return max(0.0, (got - guessed) / (1 - guessed)) if guessed < 1 else got

    choices = tuple(
        dataclasses.replace(judged[name], besides=len(wanted) > 1, earns=share_of([name]) > 0) for name in wanted[:most]
    )
    share = share_of([c.action for c in choices])
    first = next((c for c in choices if c.action not in adds_nothing), next(iter(choices), None))
    if first and first.as_good and not any(one.harmful for one in choices):
        share = max(share, numbers.first_share)
    sound = bool(first and not first.harmful and first.gain >= numbers.sound_share * best[0])
    spent = sum(look.cost_pts for look in sitting.looked) * numbers.marks_per_pt
    spent += max(0.0, sitting.minutes - numbers.free_minutes) * numbers.marks_per_minute
    of_jobs = numbers.jobs_marks * share
    chance = numbers.chance_unsaid if chance is None else chance
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
    missed; nor is one that is part of a job before it. To do nothing is worth as much as the best where nothing is due; half of that (``sound_share``) where the answer's first
    job is itself to wait, since it sets no day; and nothing where it leaves a job undone.
    """
    numbers, words = sitting.numbers, sitting.words
    gains: dict[str, float] = {}
    after = 0.0
    slight = set()
    for place, advice in reversed(list(enumerate(sitting.plan.advice))):
        before = [one.action for one in sitting.plan.advice[:place]]
        if advice.band and (advice.points < numbers.least_pts or _is_part(words, advice.action, before)):
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
    due = [name for name in told if name not in slight]
    best = best or [numbers.least_pts]
    waits = bool(due) and does_nothing(words.actions[due[0]])
    for name, body in words.actions.items():
        if does_nothing(body) and name not in due and name not in chain.from_iterable(alike):
            gains[name] = 0.0 if due and not waits else best[0] * (numbers.sound_share if waits else 1)
    return gains, best


def does_nothing(action: Action) -> bool:
    """Whether an action is to let the hive be: it takes no minutes and opens nothing."""
    return not action.minutes and action.opens == "nothing"


def _is_part(words: Vocabulary, action: str, others: Sequence[str]) -> bool:
    """Whether a job does nothing that one of some others does not do too, as to narrow the entrance where robbing is stopped."""
    does = words.effects[action]
    alone = bool(does.set) and not (does.act or does.takes or does.told or does.add or does.today)
    return alone and any(does.set.items() <= words.effects[one].set.items() for one in others if one in words.effects)


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
    idle = does_nothing(sitting.words.actions[action])
    first = sitting.plan.advice[0] if idle and told else None
    if advice is not None:
        return Choice(action, place, gain, advice, as_good=as_good, first=first)
    trap = action in sitting.expect.get("excludes", ())
    why = sitting.lesson.against.get(action, "")
    held = next((one.because for one in sitting.plan.withheld if one.action == action), "")
    aside = sitting.lesson.aside.get(action, held)
    return Choice(action, 0, gain, None, sitting.stops(action), trap, as_good, first=first, why=why, aside=aside)
