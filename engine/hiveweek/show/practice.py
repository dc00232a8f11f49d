"""Practice on a terminal: the question, what looks find, the marks beside the answer; the list and how a learner stands."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping, Sequence

from hiveweek.facts.scenario import Scenario
from hiveweek.plan.model import Advice
from hiveweek.practice.lessons import lesson_of
from hiveweek.practice.marking import Choice, Marks, does_nothing
from hiveweek.practice.outcome import Changed, ahead
from hiveweek.practice.sitting import Looked, Sitting
from hiveweek.practice.spacing import Topic
from hiveweek.record.practised import Practised
from hiveweek.show import cards, practice_words
from hiveweek.show.text import Page
from hiveweek.texts.parts import Capital, Day, Phrase, Quantity, Sentence, Text, Word, listed, message
from hiveweek.texts.reading import plain
from hiveweek.vocabulary.model import Fact, Vocabulary

WEATHER = ("weather.high_c", "weather.open_high_c", "weather.low_c")  # what answers of all kinds go by
WHOLE_FROM = 1  # colonies of a hundred; nobody knows tenths of so many
TOLD = 4  # facts that are named of a look


def question(page: Page, sitting: Sitting) -> None:
    """Print the story and what is known."""
    scenario, words = sitting.scenario, sitting.words
    page.say(title(scenario), style="bold")
    page.say(place(scenario), style="dim")
    page.line()
    page.say(sitting.lesson.story)
    several = len(scenario.hives) > 1
    if several:
        page.say(message("practice.asked-hive", hive=sitting.lesson.hive))
    page.line()
    page.say(message("practice.known"), style="bold")
    for line in known(scenario.apiary.site, words):
        page.say(line, indent=2, hang=2)
    for hive in scenario.hives:
        if several:
            page.say(message("practice.hive", hive=hive.id), indent=2)
        for line in known(hive.facts, words):
            page.say(line, indent=4 if several else 2, hang=2)
    for line in usual_weather(sitting):
        page.say(line, indent=2, hang=2)
    page.line()


def title(scenario: Scenario) -> Phrase:
    """Return the title of a scenario as a headline."""
    return Capital(Text((scenario.title,)))


def place(scenario: Scenario) -> Phrase:
    """Return where and when a scenario plays."""
    climate = Word(str(scenario.climate))
    return message("practice.climate-of", name=scenario.apiary.name, climate=climate, day=cards.day(scenario.date))


def known(facts: Mapping[str, object], words: Vocabulary) -> list[Phrase]:
    """Return facts in words, those of a group in a line."""
    groups: dict[str, list[Phrase]] = {}
    for name, value in facts.items():
        fact = words.facts[name]
        groups.setdefault(fact.group, []).append(told(fact.id, value, words))
    return [
        message("labelled", label=Capital(Word(group)), words=listed(said, "semicolon"))
        for group, said in groups.items()
    ]


def weather(sitting: Sitting) -> dict[str, float]:
    """Return what the answer reckons with of the week's weather and nobody noted."""
    (hive,) = (one for one in sitting.scenario.hives if one.id == sitting.lesson.hive)
    table = sitting.answer.inference.table
    found = {name: float(table.column(name).value[sitting.row]) for name in WEATHER if name not in hive.facts}
    return {name: round(value) for name, value in found.items() if not math.isnan(value)}


def usual_weather(sitting: Sitting) -> list[Phrase]:
    """Return the week's weather in words where it was not noted: as it usually is there; nothing where it was."""
    said = [told(name, value, sitting.words) for name, value in weather(sitting).items()]
    return [message("practice.usual-weather", words=listed(said, "semicolon"))] if said else []


def told(name: str, value: object, words: Vocabulary) -> Phrase:
    """Return a fact with its value in words."""
    fact = words.facts[name]
    said = Day(value) if isinstance(value, dt.date) else cards.shown_value(fact, value)
    return message("labelled", label=plain(fact.label or name), words=said)


def looks(page: Page, sitting: Sitting) -> None:
    """Print the looks that can be asked for, and how to get on."""
    page.say(message("practice.help"), style="dim")
    page.line()
    page.say(message("practice.looks"), style="bold")
    page.say(message("page.practise-look"), indent=2)
    for number, action in enumerate(sitting.looks(), 1):
        minutes = Quantity(sitting.words.actions[action].minutes, "minutes")
        line = message("practice.look", n=number, look=cards.name(sitting.words, action), minutes=minutes)
        page.say(line, indent=2, hang=2)


def meant(page: Page, text: str, sitting: Sitting) -> bool:
    """Print what a word of the trade means, and how what is known under that name or with that value is seen.

    Returns
    -------
    bool
        Whether there was anything.
    """
    meaning = practice_words.word(text)
    if meaning is not None:
        page.say(meaning, indent=2, hang=2)
    (hive,) = (one for one in sitting.scenario.hives if one.id == sitting.lesson.hive)
    known_here = {**sitting.scenario.apiary.site, **hive.facts}
    facts = [(sitting.words.facts[name], value) for name, value in known_here.items()]
    for fact in (fact for fact, value in facts if fact.how and _asked(text, fact, value)):
        page.say(message("labelled", label=plain(fact.label), words=Sentence(plain(fact.how))), indent=2, hang=2)
        meaning = plain(fact.how)
    return meaning is not None


def _asked(text: str, fact: Fact, value: object) -> bool:
    """Whether a text is the name of a fact, or its value in words."""
    said = text.casefold()
    return said == fact.label.casefold() or (isinstance(value, str) and said == str(Word(value)).casefold())


def nearly_meant(page: Page, text: str) -> None:
    """Print what the words of a text mean that are told, or that none is."""
    found = practice_words.within(text)
    for line in found or [message("practice.no-word", word=Text((text,)))]:
        page.say(line, indent=2, hang=2)


def explained(page: Page, action: str, words: Vocabulary) -> None:
    """Print what a look or job is: its minutes, how far it opens the hive, and how it is done with care."""
    body = words.actions[action]
    minutes = Quantity(body.minutes, "minutes")
    opens = message(f"practice.opens-{body.opens}")
    label = cards.label(words, action)
    how = listed([*_what(action, words), Sentence(plain(body.safety))], "space")
    line = message("practice.explained", job=label, minutes=minutes, opens=opens, how=how)
    page.say(line, indent=2, hang=2)


def _what(action: str, words: Vocabulary) -> list[Phrase]:
    """Return what a job does, or what a look tells; empty where its name says it."""
    body = words.actions[action]
    if body.does:
        return [Sentence(plain(body.does))]
    facts = [plain(words.facts[name].label) for name in body.observes[:TOLD] if words.facts[name].label]
    return [Sentence(Capital(message("practice.tells", facts=listed(facts, "comma"))))] if facts else []


def looked(page: Page, look: Looked, words: Vocabulary) -> None:
    """Print what a look found, and what it cost."""
    found, *costs = look_lines(look, words)
    page.say(found, indent=2, hang=2)
    for line in costs:
        page.say(line, indent=4)


def look_lines(look: Looked, words: Vocabulary) -> list[Phrase]:
    """Return what a look found, then what it cost."""
    said = [told(name, value, words) for name, value in look.found.items()]
    found = listed(said, "semicolon") if said else message("practice.nothing-new")
    minutes = Quantity(look.minutes, "minutes")
    lines: list[Phrase] = [
        message("practice.looked", look=cards.label(words, look.action), minutes=minutes, found=found)
    ]
    if look.forbidden is not None:
        lines.append(message("practice.forbidden", because=Sentence(look.forbidden)))
    if look.cost_pts:
        lines.append(message("practice.cost", points=_colonies(look.cost_pts)))
    return lines


def jobs(page: Page, offered: Sequence[str], words: Vocabulary) -> None:
    """Print the jobs to choose from."""
    page.say(message("practice.jobs"), style="bold")
    for number, action in enumerate(offered, 1):
        page.say(message("practice.answer-job", rank=number, job=cards.name(words, action)), indent=2, hang=2)


def marks(page: Page, sitting: Sitting, found: Marks, chance: float | None) -> None:
    """Print the marks, each job of the learner, the answer beside it, and what to remember."""
    words = sitting.words
    page.line()
    page.say(total(found), style="bold")
    page.say(sure(found, chance))
    page.line()
    page.say(message("practice.your-jobs"), style="bold")
    for place, choice in enumerate(found.choices, 1):
        job = cards.name(words, choice.action)
        page.say(message("practice.choice", place=place, job=job, verdict=verdict(choice, words)), indent=2, hang=3)
        later = seen_ahead(sitting, choice)
        if later is not None:
            page.say(later, indent=5)
    page.line()
    page.say(message("practice.answer"), style="bold")
    for rank, advice in enumerate(sitting.plan.advice, 1):
        page.say(message("practice.answer-job", rank=rank, job=advised(advice, words)), indent=2, hang=3)
        for line in reasons(advice):
            page.say(line, indent=5)
    if not sitting.plan.advice:
        page.say(message("practice.answer-closed"), indent=2)
    page.line()
    page.say(message("practice.debrief"), style="bold")
    page.say(sitting.lesson.debrief, indent=2)
    told_words = unexplained(sitting)
    if told_words:
        page.say(message("practice.words"), style="bold")
    for line in told_words:
        page.say(line, indent=2, hang=2)
    page.say(message("practice.read"), style="bold")
    for key in sitting.lesson.read:
        page.say(message("practice.read-line", key=key, cite=words.sources[key].cite), indent=2, hang=2)
    page.say(message("week.label-wins"), style="dim")


def unexplained(sitting: Sitting) -> list[Phrase]:
    """Return what words of the answer mean that neither the story nor what is to be remembered holds."""
    said = [str(part) for one in sitting.plan.advice for part in (advised(one, sitting.words), one.because)]
    return practice_words.words_in(said, (sitting.lesson.story, sitting.lesson.debrief))


def total(found: Marks) -> Phrase:
    """Return what a sitting earned, in its parts."""
    return message(
        "practice.marks",
        total=_number(found.total),
        jobs=_number(found.jobs),
        best_jobs=_number(found.best_jobs),
        sure=_number(found.sure),
        best_sure=_number(found.best_sure),
        looks=_number(found.looks),
    )


def sure(found: Marks, chance: float | None) -> Phrase:
    """Return how sure the learner was, and whether with reason."""
    said = "sound" if found.sound else "unsound"
    if chance is None:
        return message(f"practice.unsaid-{said}")
    return message(f"practice.sure-{said}", chance=round(chance * 100))


def seen_ahead(sitting: Sitting, choice: Choice) -> Phrase | None:
    """Return what a job of the learner would have changed some weeks on; None where no model tells."""
    if choice.advice is None:
        return None
    day, changes = ahead(sitting, choice.advice)
    if not changes:
        return None
    told_ = listed([_changed(one, sitting.words) for one in changes], "semicolon")
    said = "practice.ahead-food" if any(_eaten(one.fact, sitting.words) for one in changes) else "practice.ahead"
    return message(said, day=Day(day, sitting.answer.date), changes=told_)


def _eaten(fact: str, words: Vocabulary) -> bool:
    """Whether a fact is about food, which flowers add to."""
    return words.facts[fact].group == "food"


def _number(value: float) -> Quantity:
    return Quantity(round(value), decimals=0)


def verdict(choice: Choice, words: Vocabulary) -> Phrase:
    """Return what is said of a learner's job."""
    if choice.why:
        return message("practice.against", why=plain(choice.why))
    if choice.harm is not None:
        return message("practice.harm", because=Sentence(choice.harm))
    if choice.trap:
        return message("practice.trap")
    idle = does_nothing(words.actions[choice.action])
    if idle and choice.place != 1 and not (choice.place and choice.gain):
        return _left(choice, words)
    if choice.advice is None:
        if choice.gain:
            fair = "practice.sound-too" if choice.earns else "practice.small"
            return message("practice.as-good" if choice.as_good else fair)
        if choice.aside:
            return message("practice.aside", why=Sentence(choice.aside))
        return message("practice.none")
    worth = _worth(choice.advice)
    if choice.place == 1:
        return message("practice.sound", worth=worth)
    said = "practice.as-good-place" if choice.as_good else "practice.not-now"
    return message(said, place=choice.place, worth=worth, because=Sentence(choice.advice.because))


def _left(choice: Choice, words: Vocabulary) -> Phrase:
    """Return what comes of letting the hive be where the answer does not begin with that."""
    if choice.besides and not choice.as_good:
        return message("practice.idle-besides")
    if choice.as_good or choice.first is None:
        return message("practice.idle-right")
    job = advised(choice.first, words)
    if choice.gain:
        return message("practice.idle-waits", job=job)
    return message("practice.idle-undone", job=job, because=Sentence(choice.first.because))


def _worth(advice: Advice) -> Phrase:
    if advice.band == 0:
        return message("practice.first-of-all")
    if advice.loses == "crop":
        return message("practice.crop")
    # A look is worth what it may lead to, as likely as that is.
    gain = advice.gain_pts * (advice.certainty if advice.origin == "look" else 1)
    if round(gain, 1) == 0:
        return message("practice.worth-nothing")
    return message("practice.worth", points=_colonies(gain))


def _colonies(points: float) -> Quantity:
    return Quantity(points, decimals=0 if points >= WHOLE_FROM else 1)


def advised(advice: Advice, words: Vocabulary) -> Phrase:
    """Return a job of the answer, with its amount."""
    job = cards.name(words, advice.action)
    return message("rest.amount", label=job, amount=advice.amount) if advice.amount else job


def reasons(advice: Advice) -> list[Phrase]:
    """Return why a job stands in the answer and, of a treatment, what may be used now and what may not."""
    lines: list[Phrase] = [Sentence(advice.because)]
    fits = [Word(option["active"]) for option in advice.options if option["allowed"]]
    barred = cards.barred([option for option in advice.options if option["allowed"] is False])
    if fits:
        lines.append(message("practice.treats", actives=listed(fits, "comma")))
    if barred:
        lines.append(message("practice.treats-not", barred=listed(barred, "semicolon")))
    return lines


def _changed(one: Changed, words: Vocabulary) -> Phrase:
    fact = words.facts[one.fact]
    named = set(re.findall(r"\w+", fact.unit or "")) <= set(re.findall(r"\w+", fact.label))  # the label has the unit
    both = {"done": one.done, "without": one.without}
    shown = {key: cards.shown_value(fact, value, bare=named) for key, value in both.items()}
    return message("practice.change", fact=plain(fact.label), **shown)


def scenarios(page: Page, found: Sequence[Scenario], practised: Sequence[Practised]) -> None:
    """Print the scenarios, each with what was earned."""
    for one in found:
        page.say(message("practice.list-line", id=lesson_of(one).id, title=one.title), hang=2)
        page.say(about(one, practised), indent=4, style="dim")


def about(one: Scenario, practised: Sequence[Practised]) -> Phrase:
    """Return what a scenario is about, and what was earned in it."""
    lesson = lesson_of(one)
    said = message("practice.list-about", topic=lesson.topic, climate=Word(str(one.climate)), day=Day(one.date))
    met = [sitting for sitting in practised if sitting.lesson == lesson.id]
    return message("practice.list-done", about=said, n=len(met), marks=_number(met[-1].marks)) if met else said


def progress(page: Page, stands: Mapping[str, Topic], sizes: Mapping[str, int], least: float) -> None:
    """Print how a learner stands in each topic; a mean only where enough was practised."""
    for line in progress_lines(stands, sizes, least):
        page.say(line)


def progress_lines(stands: Mapping[str, Topic], sizes: Mapping[str, int], least: float) -> list[Phrase]:
    """Return how a learner stands in each topic, a line each."""
    lines: list[Phrase] = []
    for topic, one in stands.items():
        told_ = {"topic": Capital(Word(topic.replace("-", "_"))), "n": one.met, "of": sizes[topic]}
        if one.mean is not None and one.practised >= least:
            lines.append(message("practice.topic-mean", **told_, marks=_number(one.mean)))
        else:
            lines.append(message("practice.topic", **told_, least=_number(least)))
    return lines
