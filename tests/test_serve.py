"""The served page: what it shows, and what it refuses, asked over real sockets."""

import asyncio
import re
import socket
import uuid
from pathlib import Path

import pytest
import serve_kit
from icalendar import Calendar
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from hiveweek import vocabulary
from hiveweek.cli.main import main
from hiveweek.practice import lessons
from hiveweek.practice.marking import mark
from hiveweek.practice.sitting import Sitting
from hiveweek.record.store import open_store
from hiveweek.serve import guard
from hiveweek.serve.settings import Settings
from hiveweek.show.practice import unexplained

SPACE = "http://www.w3.org/2000/svg"  # names a language; nothing is asked there


LESSON = "black-mould-dry-lid"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return serve_kit.record(tmp_path_factory.mktemp("served") / "record.sqlite")


@pytest.fixture(scope="module")
def page(place):
    with serve_kit.served(place) as (url, _, said), serve_kit.Browser(url) as browser:
        assert "http://127.0.0.1:" in said
        yield browser


def test_the_sheet_names_every_hive_and_leads_to_its_card(page):
    sheet = page.until("/", "most pressing first")
    assert [sheet.text.count(f"<b>{hive}</b>") for hive in ("Ash", "Birch")] == [1, 1]
    card = page.get(page.hive("Ash"))
    assert card.status_code == 200 and "This week" in card.text and "What was noted" in card.text
    assert page.get(f"{sheet.url.path}/print").text.count('class="card"') == 2


def test_visits_and_the_calendar_name_the_hives(page):
    page.until("/", "most pressing first")
    assert "Ash" in page.get("/visits").text
    answer = page.get("/hiveweek.ics")
    events = Calendar.from_ical(answer.content).walk("VEVENT")
    assert answer.headers["content-type"].startswith("text/calendar") and any("Ash" in e["summary"] for e in events)


def test_an_answer_is_worked_out_once(page):
    page.until("/", "most pressing first")
    first = page.get("/")
    assert first.elapsed.total_seconds() < 1  # worked out anew it takes seconds
    assert "worked out" not in first.text


def test_a_page_asks_nothing_of_anybody_else(page):
    for path in ("/", page.hive("Ash"), "/static/page.css", "/static/page.js"):
        answer = page.get(path)
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        assert "unsafe" not in answer.headers["content-security-policy"]
        assert "http:" not in answer.text.replace("http-equiv", "").replace(SPACE, "") and "https:" not in answer.text
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert "style=" not in answer.text and "<script>" not in answer.text


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "localhost:1", "127.0.0.1.evil.example"])
def test_foreign_hosts_are_refused(page, host):
    assert page.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e/settings.py",
        "/a/../../etc/passwd",
        "/h/nobody",
        "/a/%00",
    ],
)
def test_paths_lead_nowhere_else(page, path):
    with socket.create_connection((page.base_url.host, page.base_url.port)) as raw:
        host = f"{page.base_url.host}:{page.base_url.port}"
        raw.sendall(f"GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n".encode())
        answer = b"".join(iter(lambda: raw.recv(65536), b""))
    assert answer.split()[1] == b"404", answer


def test_what_is_no_request_of_a_page_is_refused(page):
    assert page.request("PUT", "/").status_code == 405
    assert page.post("/").status_code in (403, 405)


def test_without_its_packages_it_says_how_to_get_them(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("hiveweek.cli.serve.find_spec", lambda name: None if name == "segno" else name)
    assert main(["serve", "--record", str(tmp_path / "record.sqlite")]) == 2
    assert "pip install 'hiveweek[serve]'" in capsys.readouterr().err


def test_without_a_record_it_says_so(tmp_path, capsys):
    assert main(["serve", "--record", str(tmp_path / "none.sqlite")]) == 2
    assert "no-record" in capsys.readouterr().err


def test_clients_that_never_come_to_the_point_are_let_go(monkeypatch):
    """The guard by itself, with a short patience: a body that stops half way, and one that is larger than it said."""
    settings = Settings("none", Path("none"), ("page:1",))

    async def app(scope, receive, send):
        async def reads(request):
            return PlainTextResponse(str(len(await request.body())))

        await Starlette(routes=[Route("/note", reads, methods=["POST"])], exception_handlers={HTTPException: refused})(
            scope, receive, send
        )

    def refused(request, error):
        return PlainTextResponse(error.detail, error.status_code)

    def ask(*pieces, wait=False, **headers):
        said = {"host": "page:1", "origin": "http://page:1", **headers}
        scope = {"type": "http", "method": "POST", "path": "/note", "query_string": b"", "http_version": "1.1"}
        scope["headers"] = [(name.encode(), value.encode()) for name, value in said.items()]
        left, got = list(pieces), []

        async def receive():
            if not left and wait:
                await asyncio.sleep(5)
            return {"type": "http.request", "body": left.pop(0), "more_body": bool(left) or wait}

        async def send(message):
            got.append(message)

        async def run():
            await guard.Guard(app, settings)(scope, receive, send)

        asyncio.run(run())
        return got[0]["status"], dict(got[0]["headers"]).get(b"connection")

    monkeypatch.setattr(guard, "MOST_SECONDS", 0.1)
    assert ask(b"12", b"34") == (200, None)
    assert ask(b"12", wait=True) == (408, b"close")
    assert ask(*[b"x" * 40_000] * 3) == (413, b"close")
    assert ask(b"", **{"content-length": "50000000"}) == (413, b"close")
    assert ask(b"12", b"34", origin="http://page:2") == (
        403,
        None,
    )  # a small body is taken in, so that the answer can be read
    assert ask(b"", host="page:2")[0] == 421 and ask(b"", origin="http://page:2")[0] == 403


# --- practice: by whoever may read, without script
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
    told = [str(one) for one in unexplained(sitting)]
    assert told and all(one in marked.text for one in told)
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
