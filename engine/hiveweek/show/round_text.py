"""A keeper's round on a terminal: what to do on which day, where, in which order, with what."""

from __future__ import annotations

from itertools import pairwise

from hiveweek.plan.stops import Day, Round, Stop, Task, Visit
from hiveweek.show import cards
from hiveweek.show.sheet import thing
from hiveweek.show.text import Page
from hiveweek.texts.parts import Capital, Phrase, Quantity, Text, listed, message
from hiveweek.vocabulary.model import Vocabulary

MOST_LEFT = 8  # stops named that find no room


def show(page: Page, found: Round, vocabulary: Vocabulary) -> None:
    """Print a round: from home, day by day, what finds no room, what is fed in all."""
    page.say(message("round.head"), style="bold")
    if not (found.days or found.home):
        page.say(message("round.nothing"), 2)
    for line in home(found, vocabulary):
        page.say(line, 2, 2)
    for day in found.days:
        page.say(day_title(day), 2, 2, style="bold")
        for visit in day.visits:
            if len(day.visits) > 1 or len(apiaries(found)) > 1:
                page.say(visit_title(visit), 4, 2, style="bold")
            width = max(len(stop.hive) for stop in visit.stops)
            for number, stop in enumerate(visit.stops, 1):
                cells = (f"{number:>2}", 2), (stop.hive, min(width, 16)), (stop_words(stop, vocabulary), 0)
                left = page.width - 1 - 4 - sum(2 + size for _, size in cells[:2]) - 2
                page.row([("", 2), *cells[:2], (cells[2][0], left)], ("", "", "bold"))
            page.say(take(visit, vocabulary), 4, 2)
    for line in (*rest(found, vocabulary), *unknown_way(found), *totals(found, vocabulary)):
        page.say(line, 2, 2)
    page.line()


def apiaries(found: Round) -> set[str]:
    """Return the names of the apiaries of a round."""
    return {visit.apiary for day in found.days for visit in day.visits}


def home(found: Round, vocabulary: Vocabulary) -> list[Phrase]:
    """Return what is done from home, a line a job, with its hives."""
    jobs: dict[str, list[tuple[str, Task]]] = {}
    for _, hive, task in found.home:
        jobs.setdefault(task.action, []).append((hive, task))
    return [
        message("round.home", label=cards.name(vocabulary, action), hives=listed([hive for hive, _ in same], "comma"))
        for action, same in jobs.items()
    ]


def day_title(day: Day) -> Phrase:
    """Return the day, whether it is known to be fit, and how long it takes."""
    long = minutes(day.minutes)
    if day.way:
        long = message("round.with-way", minutes=long, way=minutes(day.way))
    words = {"day": Capital(cards.day(day.date)), "minutes": long}
    if day.fit is None and day.now:
        return message("round.day-now", **words)
    if day.fit is None:
        if day.by is not None and day.by > day.date:
            return message("round.day-or-by", by=cards.day(day.by, day.date), **words)
        return message("round.day-or", **words)
    return message("round.day" if day.fit else "round.day-unfit", **words)


def visit_title(visit: Visit) -> Phrase:
    """Return the apiary, how long it takes there, and the way to it where it is known."""
    said = message("round.visit", name=visit.apiary or message("week.your-hives"), minutes=minutes(visit.minutes))
    return message("round.visit-after", visit=said, way=minutes(visit.way)) if visit.way else said


def unknown_way(found: Round) -> list[Phrase]:
    """Return between which apiaries of a day the way is not known."""
    pairs = [pair for day in found.days for pair in pairwise(day.visits) if pair[1].way is None]
    apart = list(dict.fromkeys(visit.apiary for pair in pairs for visit in pair))
    return [message("round.way-unknown", apiaries=listed(apart))] if apart else []


def minutes(number: int) -> Phrase:
    """Return a time as hours and minutes."""
    hours, left = divmod(number, 60)
    if not hours:
        return Quantity(left, "minutes")
    said = [Quantity(hours, "hours"), *([Quantity(left, "minutes")] if left else [])]
    return listed(said, "space")


def stop_words(stop: Stop, vocabulary: Vocabulary) -> Phrase:
    """Return the jobs of a stop in order; those of one opening together; what is cleaned afterwards."""
    opening = [task for task in stop.tasks if task.opens != "nothing"]
    said: list[Phrase] = []
    for task in stop.tasks:
        if len(opening) < 2 or task not in opening:
            said.append(_task(task, vocabulary))
        elif task is opening[0]:
            inside = listed([_task(one, vocabulary) for one in opening], "comma")
            said.append(message("round.one-opening", jobs=inside))
    words: Phrase = listed(said, "semicolon")
    return Text((words, message("round.clean"))) if stop.clean else words


def _task(task: Task, vocabulary: Vocabulary) -> Phrase:
    label = cards.name(vocabulary, task.action)
    if task.yard:
        return message("round.yard", label=label)
    if task.amount is None:
        return label
    return message("sheet.job", label=label, amount=Quantity(round(task.amount[0], 1), task.amount[1]))


def take(visit: Visit, vocabulary: Vocabulary) -> Phrase:
    """Return what to take on a visit, counted things first."""
    things = [thing(item, vocabulary) for item in visit.kit]
    return message("visit.take", kit=kit_words(things))


def kit_words(things) -> Phrase:
    """Return pieces of kit in a row, each with its count behind it."""
    return listed(
        [message("sheet.thing", label=one.label, count=one.count) if one.count else one.label for one in things],
        "semicolon",
    )


def rest(found: Round, vocabulary: Vocabulary) -> list[Phrase]:
    """Return what no day of the week has room for, most pressing first."""
    if not found.left:
        return []
    stops = [stop for _, stop in found.left]
    names = listed([stop.hive for stop in stops[:MOST_LEFT]], "comma")
    more = len(stops) - MOST_LEFT
    hives = message("round.and-more", hives=names, n=more) if more > 0 else names
    return [message("round.left", hives=hives, minutes=minutes(round(sum(stop.minutes for stop in stops))))]


def totals(found: Round, vocabulary: Vocabulary) -> list[Phrase]:
    """Return what is fed in all and the sugar in it."""
    if not found.totals:
        return []
    fed = [
        message("sheet.job", label=cards.name(vocabulary, action), amount=Quantity(amount, unit))
        for action, amount, unit in found.totals
    ]
    return [message("round.totals", fed=listed(fed, "comma"), sugar=Quantity(found.sugar_kg, "kg"))]
