"""Practice on the served page: by whoever may read, without script; kept under their name."""

import re
import uuid

import pytest
import serve_kit

from hiveweek import vocabulary
from hiveweek.practice import lessons
from hiveweek.practice.marking import mark
from hiveweek.practice.sitting import Sitting
from hiveweek.record.store import open_store

LESSON = "black-mould-dry-lid"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return serve_kit.record(tmp_path_factory.mktemp("practised") / "record.sqlite", ())


@pytest.fixture(scope="module")
def page(place):
    with serve_kit.served(place) as (url, _, _), serve_kit.Browser(url) as browser:
        yield browser


@pytest.fixture(scope="module")
def sitting():
    """The same scenario as the terminal asks it, after the same look."""
    words = vocabulary.load()
    made = Sitting(lessons.by_id(lessons.load(words), LESSON), words)
    made.look("heft-hive")
    return made


def practised(place):
    with open_store(place) as store:
        return store.practised()


def test_every_scenario_is_named_and_the_next_one_is_at_hand(page):
    text = page.get("/practice").text
    found = set(re.findall(r'href="/practice/([\w-]+)"', text))
    assert found == {lessons.lesson_of(one).id for one in lessons.load(vocabulary.load())}
    assert "How you stand" in text and 'class="button"' in text


def test_a_scenario_is_looked_at_marked_and_kept_once(page, place, sitting):
    asked = page.get(f"/practice/{LESSON}", params={"look": "heft-hive"})
    assert sitting.lesson.story.split(".")[0] in asked.text and 'value="heft-hive"' in asked.text
    assert 'name="look" value="lid-check"' in asked.text and '<button name="look" value="heft-hive"' not in asked.text
    assert all(f'<option value="{job}">' in asked.text for job in sitting.offered())
    (sent,) = page.forms(f"/practice/{LESSON}?look=heft-hive", f"/practice/{LESSON}")
    wanted = [one.action for one in sitting.plan.advice][:1] or ["leave-closed"]
    sent = {**sent, "look": ["heft-hive"], "job": wanted, "sure": "very"}
    for _ in range(2):  # sent twice it is one sitting
        marked = page.fill(f"/practice/{LESSON}", sent)
        assert marked.status_code == 200 and marked.url.path == f"/practice/{LESSON}/{sent['note']}"
    (kept,) = practised(place)
    marks = mark(sitting, wanted, kept.chance)
    assert (kept.marks, kept.jobs, kept.looks, kept.who) == (marks.total, tuple(wanted), ("heft-hive",), "")
    assert f"{round(marks.total)} of 100" in marked.text and "The answer" in marked.text and "To read" in marked.text
    assert "last" in page.get("/practice").text


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"sure": ""}, "how sure"),
        ({"words": "shoe the horse"}, "no job known"),
        ({"job": ["feed-candy", "heft-hive"], "words": "heft hive; lid check, full inspection"}, "at most 3"),
        ({"job": ["<b>"]}, "no job known"),
        ({"look": ["feed-candy"]}, "cannot be asked for"),
        ({"note": "x"}, "load the page again"),
    ],
)
def test_what_cannot_be_marked_is_told_and_not_kept(page, place, more, code):
    before = practised(place)
    (sent,) = page.forms(f"/practice/{LESSON}", f"/practice/{LESSON}")
    told = page.fill(f"/practice/{LESSON}", {**sent, "job": [], "sure": "guess", **more})
    assert told.status_code == 422 and code in told.text and "<b>" not in told.text
    assert practised(place) == before


def test_what_is_not_there_is_said(page):
    for path in ("/practice/no-such", f"/practice/{LESSON}/{uuid.uuid4()}"):
        assert page.get(path).status_code == 404
    assert page.get(f"/practice/{LESSON}?look=feed-candy").status_code == 422
