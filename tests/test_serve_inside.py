"""The served page by itself, without sockets: where the record is busy, where something breaks, and notes of another day."""

import asyncio
import datetime as dt
import sqlite3
import uuid
from concurrent.futures import Future

import httpx
import pytest
import serve_kit

from hiveweek import vocabulary
from hiveweek.plan.asked import asked_at
from hiveweek.record import Answer
from hiveweek.record.store import StoreFault, open_store, sqlite
from hiveweek.serve import answers, pages
from hiveweek.serve.app import application
from hiveweek.serve.desk import Desk
from hiveweek.serve.settings import Settings
from hiveweek.serve.views import detail_fields

DAY = dt.date.fromisoformat(serve_kit.DAY)
URL = "http://page:1"
SCRIPT = {"accept": "application/json"}


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return serve_kit.record(tmp_path_factory.mktemp("inside") / "record.sqlite", ("Ash",))


@pytest.fixture(scope="module")
def hive(place):
    with open_store(place) as store:
        return store.hives()[0]


@pytest.fixture
def desk(place):
    made = Desk(Settings(str(place), place.parent, ("page:1",), offline=True), "secret")
    yield made
    made.answers.close()


@pytest.fixture
def today(monkeypatch):
    """It is the day after at every apiary; no answer has been worked out yet."""
    now = dt.datetime.combine(DAY + dt.timedelta(days=1), dt.time(9))
    monkeypatch.setattr(Settings, "now", lambda self, apiary=None: now)
    monkeypatch.setattr(answers.Answers, "ask", lambda *given, **more: (None, False))


class Inside:
    """Asks the application itself."""

    def __init__(self, desk):
        reached = httpx.ASGITransport(application(desk), raise_app_exceptions=False)
        self.client = httpx.AsyncClient(transport=reached, base_url=URL, headers={"origin": URL}, follow_redirects=True)

    def get(self, path, **more):
        return asyncio.run(self.client.get(path, **more))

    def post(self, path, **more):
        return asyncio.run(self.client.post(path, **more))


def note(client, hive, **more):
    token = client.get(f"/h/{hive.id}").text.split('data-token="')[1].split('"')[0]
    return {"token": token, "note": str(uuid.uuid4()), "hive": hive.id, **more}


def test_a_busy_record_is_no_fault_of_the_note_and_is_said_with_all_headers(desk, place, hive, today, monkeypatch):
    client = Inside(desk)
    sent = note(client, hive, **{"f:colony.eggs": "true"})
    monkeypatch.setattr(sqlite, "BUSY_MS", 10)
    other = sqlite3.connect(place, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    told = [client.post("/note", data=sent), client.post("/note", data=sent, headers=SCRIPT)]
    other.close()
    assert [one.status_code for one in told] == [503, 503]
    assert "another program is writing" in told[0].text and told[1].json()["state"] == ""  # a phone keeps it
    assert client.post("/note", data=sent, headers=SCRIPT).json()["state"] == "kept"


def test_what_cannot_be_opened_and_what_breaks_is_answered_with_all_headers(desk, monkeypatch):
    def fault(*_):
        raise StoreFault("record", "record-busy", "another program is writing")

    def broken(visit):
        raise RuntimeError("a fault of the program")

    monkeypatch.setattr(pages, "home", broken)
    client = Inside(desk)
    told = [client.get("/")]
    monkeypatch.setattr("hiveweek.serve.app.open_store", fault)
    told.append(client.get("/visits"))
    assert [one.status_code for one in told] == [500, 503]
    assert all("default-src 'none'" in one.headers["content-security-policy"] for one in told)


def test_that_a_record_was_busy_is_not_kept_as_its_answer(desk, monkeypatch):
    tried = []

    def opened(place):
        tried.append(place)
        raise StoreFault(str(place), *(("record-busy", "x") if len(tried) == 1 else ("not-a-record", "y")))

    def submitted(job, *given):
        done = Future()
        done.set_result(job(*given))
        return done

    monkeypatch.setattr(answers, "open_store", opened)
    monkeypatch.setattr(answers, "BUSY_SECONDS", 0.0)
    monkeypatch.setattr(answers, "key_of", lambda store, apiary, day: (day, ((apiary, 1),)))
    monkeypatch.setattr(desk.answers._aside, "submit", submitted)
    assert [desk.answers.ask(None, "mill", DAY) for _ in range(2)] == [(None, False)] * 2
    assert len(tried) == 2  # asked again, though the record has not changed


def test_a_page_with_forms_is_never_loaded_anew_by_itself(desk, hive, today):
    text = Inside(desk).get(f"/h/{hive.id}").text
    assert 'action="/note"' in text and 'class="fresh"' in text and "http-equiv" not in text


def test_a_job_put_off_yesterday_out_of_reach_is_kept_today(desk, place, hive, today):
    client, words = Inside(desk), vocabulary.load()
    with open_store(place) as store:
        asked = asked_at(store, [hive], DAY, words, offline=True)[hive.id]
    action, one = next((a, one) for a, one in asked.items() if one.may_put_off(Answer.LATER, DAY))
    assert not one.may_put_off(Answer.LATER, DAY, DAY)  # until that day itself is no time at all
    sent = note(client, hive, action=action, at=f"{DAY}T18:00:00", who="Ann")
    told = client.post("/later", data=sent, headers=SCRIPT)
    assert told.json()["state"] == "kept", told.text
    with open_store(place) as store:
        (entry,) = map(store.entry, store.of_note(sent["note"]))
    assert (entry.date, entry.action, entry.rule, entry.who) == (DAY, action, one.rule, "Ann")
    assert ": put off</" in client.get(f"/h/{hive.id}?kept={sent['note']}").text.replace("\n", "")


def test_every_advice_of_the_answer_is_on_its_card_to_be_noted_as_done(desk, place, hive, monkeypatch):
    settings = Settings(str(place), place.parent, ("page:1",), day=DAY, offline=True)
    with open_store(place) as store:
        (apiary,) = store.apiaries()
        key = answers.key_of(store, apiary.id, DAY)
    found = answers._work(settings, apiary.id, DAY, key)
    monkeypatch.setattr(answers.Answers, "ask", lambda *given, **more: (found, True))
    text = Inside(desk).get(f"/h/{hive.id}").text.replace("&#39;", "'").lower()
    words, (week,) = vocabulary.load(), found.plan.hives
    assert len(week.advice) > 2
    for advice in week.advice:
        assert words.actions[advice.action].label.lower() in text
        assert f'name="action" value="{advice.action}"' in text or words.actions[advice.action].leaves_closed


def test_every_detail_of_a_treatment_can_be_said():
    words = vocabulary.load()
    at_hand, folded = detail_fields("treat-mites", words, [])
    effect = words.effects["treat-mites"]
    assert [one.name for one in (*at_hand, *folded)] == [*effect.asks, *effect.takes]
    assert {"batch", "supplier", "prescription", "withdrawal"} <= {one.name for one in folded}
    assert all(one.needed for one in at_hand if one.name in effect.asks)
