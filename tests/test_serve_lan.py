"""The page for phones of a network: who may come in, over what, and what each may do."""

import datetime as dt
import io
import ssl
import sys
import uuid

import pytest
import serve_kit
from argon2 import PasswordHasher
from cryptography import x509

from hiveweek.cli.main import main
from hiveweek.record import photos
from hiveweek.record.store import open_store
from hiveweek.serve import phrases, secrets_kept, tls
from hiveweek.serve.phrases import Tries
from hiveweek.serve.sessions import Role

LAN = ("--lan", "--address", "127.0.0.1")
PHRASES = {"keeper": "nine frames of quiet bees", "helper": "carry the smoker for me", "reader": "only to look at it"}
CHEAP = PasswordHasher(time_cost=1, memory_cost=1024, parallelism=1)  # a hash tells its own costs
SCRIPT = {"accept": "application/json"}


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    place = serve_kit.record(tmp_path_factory.mktemp("lan") / "record.sqlite", ("Ash",))
    for role, phrase in PHRASES.items():
        set_phrase(place, role, phrase)
    return place


def set_phrase(place, role, phrase):
    secrets_kept.keep_phrase(photos.folder_of(str(place)), role, CHEAP.hash(phrase))


@pytest.fixture(scope="module")
def served(place):
    with serve_kit.served(place, *LAN) as (url, _, said):
        yield url, said


@pytest.fixture
def visitor(served, place):
    trusted = ssl.create_default_context(cafile=str(place) + ".page/certificate.pem")
    with serve_kit.Browser(served[0], verify=trusted) as browser:
        yield browser


def enter(browser, role, who=""):
    answer = browser.fill("/enter", {"phrase": PHRASES[role], "who": who, "to": "/"})
    assert answer.status_code == 200, answer.text
    browser.until("/", "most pressing first")
    return browser


def note(browser, hive, **more):
    (sent,) = browser.forms(hive, "/note") or [{"token": "", "hive": hive.rpartition("/")[2], "apiary": ""}]
    return {**sent, "note": str(uuid.uuid4()), "f:colony.eggs": "true", **more}


def test_it_is_served_over_tls_with_a_fingerprint_and_a_code_without_the_phrase(served, place):
    url, said = served
    assert url.startswith("https://127.0.0.1:")
    certificate = place.parent / "record.sqlite.page" / "certificate.pem"
    assert tls.fingerprint(certificate) in said.replace("\n", "")
    assert "█" in said or "▄" in said
    assert not any(phrase in said for phrase in PHRASES.values())
    for name in ("keys.json", "key.pem", "certificate.pem"):
        assert (certificate.parent / name).stat().st_mode & 0o077 == 0
    assert not any(phrase in (certificate.parent / "keys.json").read_text() for phrase in PHRASES.values())


def test_nobody_reads_anything_without_a_phrase(visitor, place):
    with open_store(place) as store:
        hive, apiary = store.hives()[0].id, store.apiaries()[0].id
    for path in ("/", f"/a/{apiary}", f"/h/{hive}", f"/a/{apiary}/print", "/photo/" + "0" * 32 + ".jpg"):
        answer = visitor.get(path)
        assert answer.url.path == "/enter" and "Ash" not in answer.text
    assert visitor.get("/alive", headers=SCRIPT).status_code == 401
    sent = {"note": str(uuid.uuid4()), "hive": hive, "f:colony.eggs": "true"}
    answer = visitor.fill("/note", sent, **SCRIPT)
    assert (answer.status_code, answer.json()["state"]) == (401, "enter")  # the phone keeps it until somebody signs in


def test_each_does_what_is_theirs(visitor, place):
    with open_store(place) as store:
        hive = f"/h/{store.hives()[0].id}"
    page = enter(visitor, "reader").get(hive).text
    assert "This week" in page and 'action="/note"' not in page
    token = page.split('data-token="')[1].split('"')[0]
    for path in ("/note", "/words", "/done", "/later", "/undo", "/photo"):
        assert visitor.fill(path, note(visitor, hive, token=token)).status_code == 403
    visitor.cookies.clear()
    enter(visitor, "helper", "Ben")
    page = visitor.get(hive).text
    assert 'action="/note"' in page and 'action="/later"' not in page
    sent = note(visitor, hive)
    assert visitor.fill("/note", sent, **SCRIPT).json()["state"] == "kept"
    assert visitor.fill("/later", {**sent, "action": "heft-hive"}).status_code == 403
    with open_store(place) as store:
        assert {store.entry(key).who for key in store.of_note(sent["note"])} == {"Ben"}
    visitor.cookies.clear()
    enter(visitor, "keeper", "Ann")
    assert 'action="/later"' in visitor.get(hive).text
    mine = note(visitor, hive)
    assert visitor.fill("/note", mine, **SCRIPT).json()["state"] == "kept"
    visitor.cookies.clear()
    enter(visitor, "helper", "Ben")
    token = note(visitor, hive)["token"]
    assert "only the keeper" in visitor.fill("/undo", {"token": token, "note": mine["note"]}).text
    # A name is only said, so that another may say it too: what was noted before this session is the keeper's to take back.
    assert "only the keeper" in visitor.fill("/undo", {"token": token, "note": sent["note"]}).text
    own = note(visitor, hive)
    shown = visitor.fill("/note", own).text
    assert shown.count(f'name="note" value="{own["note"]}"') and f'name="note" value="{mine["note"]}"' not in shown
    assert "Taken back." in visitor.fill("/undo", {"token": token, "note": own["note"]}).text


def test_a_reader_may_practise_and_it_is_theirs(visitor, place):
    enter(visitor, "reader", "Cleo")
    path = "/practice/black-mould-dry-lid"
    (sent,) = visitor.forms(path, path)
    assert "of 100" in visitor.fill(path, {**sent, "job": [], "sure": "guess"}).text
    sat = f"{path}/{sent['note']}"
    assert visitor.get(sat).status_code == 200 and "sittings: 1" in visitor.get("/practice").text
    visitor.cookies.clear()
    enter(visitor, "helper", "Ben")
    assert visitor.get(sat).status_code == 404 and "sittings: 1" not in visitor.get("/practice").text
    with open_store(place) as store:
        assert [one.who for one in store.practised()] == ["Cleo"]
    assert main(["record", "forget", "--by", "cleo", "--yes", "--record", str(place)]) == 0
    with open_store(place) as store:
        assert store.practised() == []


def test_cookies_are_for_this_page_alone_and_forged_ones_are_nobody(visitor, place):
    answer = visitor.post(
        "/enter", data={"phrase": PHRASES["reader"]}, headers={"origin": str(visitor.base_url)}, follow_redirects=False
    )
    cookie = answer.headers["set-cookie"].lower()
    assert cookie.startswith("__host-") and all(
        w in cookie for w in ("secure", "httponly", "samesite=strict", "path=/")
    )
    name, value = next(iter(visitor.cookies.items()))
    visitor.cookies.clear()
    for forged in (value[:-3] + "abc", value.partition(".")[0], "eyJyb2xlIjozfQ.x.y"):
        answer = visitor.get("/", headers={"cookie": f"{name}={forged}"})
        assert answer.url.path == "/enter"


@pytest.mark.parametrize("to", ["//evil.example", "https://evil.example", "/\\evil.example", "javascript:alert(1)"])
def test_nobody_is_led_elsewhere_after_signing_in(visitor, to):
    answer = visitor.get("/enter", params={"to": to})
    assert 'name="to" value="/"' in answer.text


def test_a_session_ends_with_its_phrase(tmp_path):
    place = serve_kit.record(tmp_path / "record.sqlite", ())
    set_phrase(place, "keeper", PHRASES["keeper"])
    with serve_kit.served(place, *LAN, "--plain-http") as (url, _, said), serve_kit.Browser(url) as browser:
        assert url.startswith("http://") and "Without TLS" in said
        assert browser.fill("/enter", {"phrase": PHRASES["keeper"]}).url.path != "/enter"
        set_phrase(place, "keeper", "another one by now")
        assert browser.get("/").url.path == "/enter"
        for _ in range(4):
            assert browser.fill("/enter", {"phrase": PHRASES["keeper"]}).status_code == 403
        # after a few wrong guesses even the right one has to wait
        answers = [browser.fill("/enter", {"phrase": "another one by now"}).status_code for _ in range(3)]
        assert answers[-1] == 200 or 429 in answers
        for _ in range(6):
            last = browser.fill("/enter", {"phrase": "wrong wrong wrong"})
        assert last.status_code == 429 and int(last.headers["retry-after"]) > 0


def test_without_a_phrase_it_is_not_served_to_others(tmp_path, capsys, monkeypatch):
    place = serve_kit.record(tmp_path / "record.sqlite", ())
    assert main(["serve", "--lan", "--address", "127.0.0.1", "--port", "0", "--record", str(place)]) == 2
    assert "no-phrase" in capsys.readouterr().err
    for phrase, code in (("bees", 2), (PHRASES["keeper"], 0)):
        monkeypatch.setattr(sys, "stdin", io.StringIO(phrase + "\n"))
        assert main(["serve", "--set-phrase", "keeper", "--record", str(place)]) == code
        said = capsys.readouterr()
        assert ("short-phrase" in said.err) == bool(code) and phrase not in said.out + said.err
    assert list(secrets_kept.phrases(photos.folder_of(str(place)))) == ["keeper"]
    for words in (["--address", "127.0.0.1"], ["--lan", "--certificate", "x.pem"], ["--lan", "--address", "hive"]):
        assert main(["serve", "--port", "0", "--record", str(place), *words]) == 2
    assert capsys.readouterr().err.count("\n") == 3


def test_guesses_wait_longer_and_longer():
    clock = [0.0]
    tries = Tries(lambda: clock[0])
    made = 0
    while clock[0] < 24 * 3600:  # a day and a night of guessing as fast as may be
        if tries.wait("10.0.0.9") > 0:
            clock[0] += tries.wait("10.0.0.9")
        tries.wrong("10.0.0.9")
        made += 1
    assert made < 110
    tries.right("10.0.0.9")
    assert tries.wait("10.0.0.9") == 0 or made >= Tries.FREE_IN_ALL


def test_many_addresses_guess_no_more_than_some():
    tries = Tries(lambda: 0.0)
    let = 0
    for number in range(2000):
        if tries.wait(f"10.0.{number // 250}.{number % 250}") == 0:
            let += 1
            tries.wrong(f"10.0.{number // 250}.{number % 250}")
    assert let == Tries.FREE_IN_ALL


def test_a_phrase_is_known_by_its_role_and_blanks_do_not_matter():
    known = {"keeper": phrases.hashed("nine frames of bees"), "reader": phrases.hashed("only to look at it")}
    assert phrases.role_of("  nine  frames of bees ", known) is Role.KEEPER
    assert phrases.role_of("only to look at it", known) is Role.READER
    assert phrases.role_of("nine frames of wasps", known) is None
    assert phrases.role_of("x" * 10_000, known) is None
    assert known["keeper"].startswith("$argon2id$")


def test_our_certificate_is_made_anew_in_time_and_for_other_names(tmp_path):
    now = dt.datetime(2026, 5, 10, tzinfo=dt.UTC)
    first = tls.own(tmp_path, ["127.0.0.1", "localhost"], now)[0].read_bytes()
    assert tls.own(tmp_path, ["localhost"], now + dt.timedelta(days=300))[0].read_bytes() == first
    later = tls.own(tmp_path, ["localhost"], now + dt.timedelta(days=370))[0].read_bytes()
    assert later != first
    other = tls.own(tmp_path, ["192.168.1.20"], now + dt.timedelta(days=370))[0].read_bytes()
    found = x509.load_pem_x509_certificate(other)
    assert (found.not_valid_after_utc - found.not_valid_before_utc).days <= 398
