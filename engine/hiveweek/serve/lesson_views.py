"""What the pages show of a scenario to practise on, as phrases; worked out in the process of the answers, beside the notes."""

from __future__ import annotations

import copy
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from hiveweek import vocabulary
from hiveweek.practice import jobs, lessons
from hiveweek.practice.marking import mark
from hiveweek.practice.sitting import Sitting
from hiveweek.problems import InputProblems, Problem
from hiveweek.show import cards
from hiveweek.show import practice as said
from hiveweek.texts.parts import Capital, Phrase, Quantity, message

MOST_KEPT = 32


@dataclass(frozen=True)
class Question:
    """A scenario before it is answered.

    Attributes
    ----------
    asked : Phrase or None
        Which hive it is about, where there are several.
    site : tuple of Phrase
    hives : tuple of (Phrase or None, tuple of Phrase)
        What is known of each hive, under its name where there are several.
    weather : tuple of Phrase
        What the week's weather usually is there, where it was not noted.
    looked : tuple of tuple of Phrase
        What each look found and cost.
    looks : tuple of (str, Phrase, Phrase)
        Action, words and minutes of those that can still be asked for.
    jobs : tuple of (str, Phrase)
        To choose from.
    most : int
        Jobs that may be chosen.
    """

    title: Phrase
    place: Phrase
    story: Phrase | str
    asked: Phrase | None
    site: tuple[Phrase, ...]
    hives: tuple[tuple[Phrase | None, tuple[Phrase, ...]], ...]
    weather: tuple[Phrase, ...]
    looked: tuple[tuple[Phrase, ...], ...]
    looks: tuple[tuple[str, Phrase, Phrase], ...]
    jobs: tuple[tuple[str, Phrase], ...]
    most: int


@dataclass(frozen=True)
class Marked:
    """A scenario with the learner's jobs, and the answer beside them.

    Attributes
    ----------
    marks : float
    jobs : tuple of str
        The learner's, as they were marked.
    sound : bool
    total, sure : Phrase
    choices : tuple of (Phrase, Phrase or None)
        Each job with what is said of it, and what it would have changed.
    answer : tuple of (Phrase, list of Phrase)
        Each job of the answer, and why.
    words : tuple of Phrase
        What words of the answer mean that nothing else explains.
    """

    marks: float
    jobs: tuple[str, ...]
    sound: bool
    title: Phrase
    place: Phrase
    total: Phrase
    sure: Phrase
    looked: tuple[tuple[Phrase, ...], ...]
    choices: tuple[tuple[Phrase, Phrase | None], ...]
    answer: tuple[tuple[Phrase, list[Phrase]], ...]
    debrief: Phrase | str
    words: tuple[Phrase, ...]
    read: tuple[Phrase, ...]


def question(lesson: str, looks: Iterable[str]) -> Question:
    """Return a scenario after some looks.

    Raises
    ------
    InputProblems
        For a scenario or a look that there is not.
    """
    sitting = _sat(lesson, tuple(looks))
    scenario, words = sitting.scenario, sitting.words
    several = len(scenario.hives) > 1
    made = [look.action for look in sitting.looked]
    return Question(
        said.title(scenario),
        said.place(scenario),
        sitting.lesson.story,
        message("practice.asked-hive", hive=sitting.lesson.hive) if several else None,
        tuple(said.known(scenario.apiary.site, words)),
        tuple(
            (message("practice.hive", hive=hive.id) if several else None, tuple(said.known(hive.facts, words)))
            for hive in scenario.hives
        ),
        tuple(said.usual_weather(sitting)),
        _looked(sitting),
        tuple(
            (look, cards.label(words, look), Quantity(words.actions[look].minutes, "minutes"))
            for look in sitting.looks()
            if look not in made
        ),
        tuple((job, cards.label(words, job)) for job in sitting.offered()),
        int(sitting.numbers.most_jobs),
    )


def marked(lesson: str, looks: Iterable[str], chosen: Iterable[str], text: str, chance: float) -> Marked:
    """Return a scenario with its marks.

    Parameters
    ----------
    lesson : str
    looks, chosen : iterable of str
        Looks made and jobs chosen, in their order.
    text : str
        More jobs, in words.
    chance : float
        How sure the learner was, 0 to 1.

    Raises
    ------
    InputProblems
        For what there is not, and for more jobs than may be chosen.
    """
    sitting = _sat(lesson, tuple(looks))
    words, offered = sitting.words, sitting.offered()
    wanted = list(dict.fromkeys([*chosen, *jobs.read(text, offered, words)]))
    unknown = [one for one in wanted if one not in words.actions]
    if unknown:
        raise InputProblems([Problem("", 0, 0, "unknown-job", "one of the jobs is no job known here")])
    most = int(sitting.numbers.most_jobs)
    if len(wanted) > most:
        raise InputProblems([Problem("", 0, 0, "too-many-jobs", f"at most {most} jobs; here are {len(wanted)}")])
    found = mark(sitting, wanted, chance)
    return Marked(
        found.total,
        tuple(choice.action for choice in found.choices),
        found.sound,
        said.title(sitting.scenario),
        said.place(sitting.scenario),
        said.total(found),
        said.sure(found, chance),
        _looked(sitting),
        tuple(
            (
                message("labelled", label=cards.label(words, choice.action), words=said.verdict(choice, words)),
                said.seen_ahead(sitting, choice),
            )
            for choice in found.choices
        ),
        tuple((Capital(said.advised(advice, words)), said.reasons(advice)) for advice in sitting.plan.advice),
        sitting.lesson.debrief,
        tuple(said.unexplained(sitting)),
        tuple(message("practice.read-line", key=key, cite=words.sources[key].cite) for key in sitting.lesson.read),
    )


def _looked(sitting: Sitting) -> tuple[tuple[Phrase, ...], ...]:
    return tuple(tuple(said.look_lines(look, sitting.words)) for look in sitting.looked)


@lru_cache(maxsize=MOST_KEPT)
def _sat(lesson: str, looks: tuple[str, ...]) -> Sitting:
    """Return a sitting after some looks; one look more is made where the others were."""
    words = vocabulary.load()
    if not looks:
        return Sitting(lessons.by_id(_scenarios(), lesson), words)
    before = _sat(lesson, looks[:-1])
    if looks[-1] not in before.looks():
        raise InputProblems([Problem("", 0, 0, "unknown-look", "that look cannot be asked for here")])
    sitting = copy.copy(before)
    sitting.looked = list(before.looked)
    sitting.look(looks[-1])
    return sitting


@lru_cache(maxsize=1)
def _scenarios() -> tuple:
    return tuple(lessons.load(vocabulary.load()))
