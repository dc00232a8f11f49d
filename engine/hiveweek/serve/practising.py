"""Practice on the page: a scenario, looks, jobs, and the marks beside the answer. Whoever may read may practise.

What was looked at stands in the address until the jobs are chosen, so that it works without script and nothing is kept of a sitting
that was left. A sitting is kept under the name of whoever is signed in.
"""

from __future__ import annotations

import datetime as dt

from starlette.responses import Response

from hiveweek.facts.scenario import Scenario
from hiveweek.numbers import Branch, shipped
from hiveweek.practice import lessons, spacing
from hiveweek.practice.lessons import lesson_of
from hiveweek.record.practised import Practised
from hiveweek.serve import lesson_views, noting
from hiveweek.serve.desk import Visit
from hiveweek.show import practice as said
from hiveweek.texts.parts import Capital, Day, Word, message

SURE = {"guess": "chance_guess", "fairly": "chance_fairly", "very": "chance_sure"}
MOST_LOOKS = 30


def overview(visit: Visit) -> Response:
    """Say how the learner stands, and name the scenarios."""
    found, practised, numbers = visit.desk.scenarios, _practised(visit), _numbers()
    stands = spacing.topics(found, practised)
    topics = {topic: [one for one in found if lesson_of(one).topic == topic] for topic in stands}
    sizes = {topic: len(each) for topic, each in topics.items()}
    return visit.show(
        "practice.html.j2",
        title=message("page.practise"),
        following=_following(visit, practised),
        progress=said.progress_lines(stands, sizes, numbers.topic_cases),
        topics=[
            (
                Capital(Word(topic.replace("-", "_"))),
                [(lesson_of(one).id, said.title(one), said.about(one, practised)) for one in each],
            )
            for topic, each in topics.items()
        ],
    )


def question(visit: Visit, lesson: str) -> Response:
    """Show a scenario, with what was looked at so far."""
    lessons.by_id(visit.desk.scenarios, lesson)
    looks = _looks(visit.query.getlist("look"))
    found = visit.desk.answers.work(lesson_views.question, lesson, looks)
    numbers = _numbers()
    return visit.show(
        "lesson.html.j2",
        title=found.title,
        lesson=lesson,
        looks=looks,
        question=found,
        sure=[(name, f"page.practise-{name}", round(100 * numbers[key].value)) for name, key in SURE.items()],
    )


def take(visit: Visit, lesson: str) -> Response:
    """Mark the jobs that were chosen, and keep the sitting; one that is sent again is known again."""
    lessons.by_id(visit.desk.scenarios, lesson)
    key, looks = noting.id_of(visit), _looks(visit.form.get("look", []))
    if visit.said("sure") not in SURE:
        raise noting.problem("no-chance", "say how sure you are of the first job")
    chance = float(_numbers()[SURE[visit.said("sure")]].value)
    chosen = [one for one in visit.form.get("job", []) if one]
    text = noting.short(visit.said("words"), noting.MOST_REASON)
    found = visit.desk.answers.work(lesson_views.marked, lesson, looks, chosen, text, chance)
    now = dt.datetime.now(dt.UTC)
    sat = Practised(key, lesson, now, found.marks, found.jobs, looks, chance, found.sound, visit.session.who)
    with visit.desk.writing:
        visit.store.add_practised([sat])
    return visit.go(f"/practice/{lesson}/{key}")


def marks(visit: Visit, lesson: str, key: str) -> Response:
    """Show a sitting of the learner's with its marks, as it was kept."""
    practised = _practised(visit)
    sat = next((one for one in practised if (one.id, one.lesson) == (key, lesson)), None)
    if sat is None:
        raise noting.problem("unknown-sitting", "that sitting is not in the record")
    lessons.by_id(visit.desk.scenarios, lesson)
    found = visit.desk.answers.work(lesson_views.marked, lesson, sat.looks, sat.jobs, "", sat.chance)
    due = Day(spacing.cards(practised, _numbers())[lesson].due.date())
    return visit.show("marked.html.j2", title=found.title, found=found, due=due, following=_following(visit, practised))


def _numbers() -> Branch:
    return shipped().branch("plan.practice")


def _practised(visit: Visit) -> list[Practised]:
    return [one for one in visit.store.practised() if one.who == visit.session.who]


def _following(visit: Visit, practised: list[Practised]) -> tuple[str, Scenario]:
    one = spacing.following(visit.desk.scenarios, practised, dt.datetime.now(dt.UTC), _numbers())
    return lesson_of(one).id, one


def _looks(said: list[str]) -> tuple[str, ...]:
    looks = tuple(dict.fromkeys(said))
    if len(looks) > MOST_LOOKS:
        raise noting.problem("too-many-looks", "those are more looks than there are")
    return looks
