"""Notes taken by the served page: tapped, in words, done, put off, with a photo; once, or asked about."""

import datetime as dt
import io
import re
import uuid

import pytest
import serve_kit
from PIL import Image

from hiveweek.cli.main import main
from hiveweek.record.store import open_store

DAY = dt.date.fromisoformat(serve_kit.DAY)
SCRIPT = {"accept": "application/json"}


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return serve_kit.record(tmp_path_factory.mktemp("noted") / "record.sqlite", ("Ash", "Birch", "Cherry"))


@pytest.fixture(scope="module")
def page(place):
    with serve_kit.served(place) as (url, _, _), serve_kit.Browser(url) as browser:
        browser.until("/", "most pressing first")
        yield browser


def noted(place, note):
    """The entries of a note that stand."""
    with open_store(place) as store:
        gone = store.withdrawn()
        return [store.entry(key) for key in store.of_note(note) if key not in gone]


def form(page, hive, action, number=0):
    return page.forms(page.hive(hive), action)[number]


def test_what_is_tapped_is_kept_and_taken_back(page, place):
    sent = {**form(page, "Ash", "/note"), "f:colony.frames_of_bees": "6.5", "f:colony.eggs": "true"}
    assert all(value == "" for name, value in sent.items() if name[:2] == "f:" and name[2:] not in _TAPPED)
    answer = page.fill("/note", sent)
    assert answer.status_code == 200 and "Kept:" in answer.text and "frames of bees: 6.5" in answer.text
    (entry,) = noted(place, sent["note"])
    assert dict(entry.facts) == {"colony.frames_of_bees": 6.5, "colony.eggs": True}
    assert (entry.source, entry.date) == ("page", DAY)
    again = page.fill("/undo", {"token": sent["token"], "note": sent["note"]})
    assert "Taken back." in again.text and noted(place, sent["note"]) == []


_TAPPED = {"colony.frames_of_bees", "colony.eggs"}


def test_the_last_value_is_beside_and_never_chosen(page):
    sent = form(page, "Ash", "/note")
    assert {value for name, value in sent.items() if name.startswith("f:")} == {""}
    assert "last 7 frames, 1 May" in page.get(page.hive("Ash")).text


def test_a_note_sent_twice_is_kept_once_and_other_words_under_its_id_are_refused(page, place):
    sent = {**form(page, "Ash", "/note"), "f:colony.eggs": "false", "at": f"{DAY}T10:15:00"}
    states = [page.fill("/note", sent, **SCRIPT).json()["state"] for _ in range(3)]
    assert states == ["kept", "known", "known"] and len(noted(place, sent["note"])) == 1
    other = page.fill("/note", {**sent, "f:colony.eggs": "true"}, **SCRIPT)
    assert (other.status_code, other.json()["state"]) == (409, "other")
    (entry,) = noted(place, sent["note"])
    assert dict(entry.facts) == {"colony.eggs": False} and entry.time == dt.time(10, 15)


def test_a_note_in_words_is_read_back_before_it_is_kept(page, place):
    sent = {**form(page, "Birch", "/read"), "text": "eggs seen, 2 QC"}
    read = page.fill("/read", sent)
    assert "understood: eggs seen" in read.text and noted(place, sent["note"]) == []
    assert page.fill("/words", sent, **SCRIPT).json()["state"] == "asked"  # what may be two things is not kept unasked
    asked = [name for name in _names(read.text) if name.startswith("a:")]
    assert asked
    kept = page.fill("/words", {**sent, **dict.fromkeys(asked, "none")})
    assert "Kept:" in kept.text
    entries = noted(place, sent["note"])
    assert any(dict(entry.facts) == {"colony.eggs": True} for entry in entries)
    assert any("2 QC" in entry.text for entry in entries if entry.kind == "remark")


def _names(text):
    return sorted({part.split('"')[0] for part in text.split('name="')[1:]})


def test_one_note_for_several_hives(page, place):
    (sheet,) = set(re.findall(r"/a/[\w-]+", page.get("/").text))
    sent = {**page.forms(sheet, "/read")[0], "text": "all hefted, Ash light, rest heavy"}
    assert page.fill("/words", sent).status_code == 200
    with open_store(place) as store:
        said = {store.hive(e.hive).name: e.facts.get("food.heft") for e in noted(place, sent["note"]) if e.facts}
    assert said == {"Ash": "light", "Birch": "heavy", "Cherry": "heavy"}


def test_a_job_done_asks_for_what_the_record_needs_and_about_a_second_time(page, place):
    hive = page.hive("Cherry")
    base = {**form(page, "Cherry", "/note"), "action": "feed-thin-syrup"}
    base = {name: value for name, value in base.items() if name[:2] != "f:"}
    missing = page.fill("/done", base)
    assert missing.status_code == 422 and "litres" in missing.text
    assert page.fill("/done", {**base, "d:litres": "2"}).status_code == 200
    second = {**base, "note": str(uuid.uuid4()), "d:litres": "2"}
    asked = page.fill("/done", second)
    assert asked.status_code == 422 and "Was it done twice?" in asked.text and noted(place, second["note"]) == []
    assert page.fill("/done", {**second, "sure": "1"}).url.path == hive
    assert [dict(entry.details) for entry in noted(place, second["note"])] == [{"litres": 2}]


def test_a_job_is_put_off_or_does_not_fit(page, place):
    for action in ("/later", "/skip"):
        sent = {**page.forms(page.hive("Birch"), action)[0], "reason": "stands under the lime"}
        first = page.fill(action, sent, **SCRIPT)
        assert first.json()["state"] == "kept", first.text
        assert page.fill(action, sent, **SCRIPT).json()["state"] == "known"
        (entry,) = noted(place, sent["note"])
        assert entry.rule and entry.details["band"] == 1
        page.fill("/undo", {"token": sent["token"], "note": sent["note"]})


def test_of_a_hive_that_ended_or_moved_it_is_asked(page, place):
    assert main(["apiary", "new", "Hill", "--climate", "boreal", "--record", str(place)]) == 0
    for name in ("Elm", "Fir"):
        assert main(["hive", "add", name, "--apiary", "Mill Lane", "--date", "2026-05-01", "--record", str(place)]) == 0
    with open_store(place) as store:
        ids = {hive.name: hive.id for hive in store.hives()}
        mill = next(apiary.id for apiary in store.apiaries() if apiary.name == "Mill Lane")
    assert main(["hive", "end", "Elm", "--date", "2026-05-09", "--record", str(place)]) == 0
    assert main(["hive", "move", "Fir", "--to", "Hill", "--date", "2026-05-09", "--record", str(place)]) == 0
    token = page.forms(f"/h/{ids['Ash']}", "/note")[0]["token"]
    for name, words in (("Elm", "ended on 2026-05-09"), ("Fir", "stands at Hill now")):
        sent = {"token": token, "note": str(uuid.uuid4()), "hive": ids[name], "apiary": mill, "f:colony.eggs": "true"}
        asked = page.fill("/note", sent, **SCRIPT)
        assert asked.json()["state"] == "asked" and words in asked.json()["why"][0]
        assert noted(place, sent["note"]) == []
        assert page.fill("/note", {**sent, "sure": "1"}, **SCRIPT).json()["state"] == "kept"
        assert len(noted(place, sent["note"])) == 1


def test_a_day_before_a_hive_came_is_asked_about_and_kept_when_it_is_meant(page, place):
    sent = {**form(page, "Ash", "/read"), "text": "on 20 April eggs seen"}
    asked = page.fill("/words", sent)
    assert asked.status_code == 422 and "Ash came on 2026-05-01" in asked.text and "--sure" not in asked.text
    assert noted(place, sent["note"]) == []
    assert "Kept:" in page.fill("/words", {**sent, "sure": "1"}).text
    assert [entry.date for entry in noted(place, sent["note"])] == [dt.date(2026, 4, 20)]


def test_a_photo_that_is_asked_about_waits_and_leaves_nothing_behind(page, place):
    with open_store(place) as store:
        hive = next(hive for hive in store.hives() if hive.name == "Elm")
    assert hive.ended
    shot = io.BytesIO()
    Image.new("RGB", (20, 30), "brown").save(shot, "JPEG")
    base = form(page, "Ash", "/photo")
    sent = {**base, "hive": hive.id, "apiary": hive.placements[0].apiary}
    origin = {"origin": str(page.base_url).rstrip("/")}
    asked = page.post("/photo", data=sent, files={"photo": ("x.jpg", shot.getvalue())}, headers=origin)
    folder = place.parent / f"{place.name}.page" / "photos"
    assert asked.status_code == 422 and "ended on" in asked.text and not list(folder.glob("*.jpg"))
    fields = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', asked.text[asked.text.index('action="/photo"') :]))
    for forged in ("../../keys.json", "0" * 32 + ".jpg"):
        assert page.fill("/photo", {**fields, "file": forged}).status_code == 422
    assert page.fill("/photo", fields).status_code == 200
    (entry,) = noted(place, sent["note"])
    assert [path.name for path in folder.glob("*.jpg")] == list(entry.files)


def test_what_all_hives_share_is_written_once(page, place):
    sent = {**form(page, "Ash", "/read"), "hive": "", "f:keeper.helper": "true"}
    assert page.fill("/note", sent, **SCRIPT).json()["state"] == "kept"
    (entry,) = noted(place, sent["note"])
    assert entry.hive is None and dict(entry.facts) == {"keeper.helper": True}


def test_another_hive_is_named_by_its_name(page, place):
    with open_store(place) as store:
        (birch,) = store.hives_named("Birch")
    base = {name: value for name, value in form(page, "Cherry", "/note").items() if name[:2] != "f:"}
    kept = page.fill("/done", {**base, "action": "give-brood-frame", "d:partner": "Birch"})
    shown = kept.text[kept.text.index("Kept:") : kept.text.index("</section>", kept.text.index("Kept:"))]
    assert "Birch" in shown and birch.id not in shown
    page.fill("/undo", {"token": base["token"], "note": base["note"]})


def test_what_was_noted_to_bring_comes_back(page, place):
    sent = {**form(page, "Ash", "/read"), "text": "next time bring nuc box"}
    assert "Kept:" in page.fill("/words", sent).text
    sheet = f"/a/{sent['apiary']}"
    for path in (sheet, f"{sheet}/print", "/visits"):
        page.until(path, "nuc box")
    page.fill("/undo", {"token": sent["token"], "note": sent["note"]})


def test_a_photo_is_made_anew_without_its_place(page, place):
    exif = Image.Exif()
    exif[0x8825] = {1: "N", 2: (50.0, 6.0, 30.0), 3: "E", 4: (10.0, 0.0, 0.0)}  # the position, as phones write it
    exif[0x0110] = "some phone"
    shot = io.BytesIO()
    Image.new("RGB", (40, 30), "orange").save(shot, "JPEG", exif=exif)
    assert b"some phone" in shot.getvalue()
    sent = {**form(page, "Ash", "/photo"), "text": "brood"}
    origin = {"origin": str(page.base_url).rstrip("/")}
    answer = page.post("/photo", data=sent, files={"photo": ("../../x.jpg", shot.getvalue())}, headers=origin)
    assert answer.status_code == 200 and "<img" in answer.text
    (entry,) = noted(place, sent["note"])
    kept = page.get(f"/photo/{entry.files[0]}")
    assert kept.headers["content-type"] == "image/jpeg" and b"some phone" not in kept.content
    with Image.open(io.BytesIO(kept.content)) as picture:
        assert not picture.getexif() and picture.size == (40, 30)
    bad = page.post("/photo", data=form(page, "Ash", "/photo"), files={"photo": ("x.jpg", b"no photo")}, headers=origin)
    assert bad.status_code == 422
    assert main(["record", "forget", "--everyone", "--yes", "--record", str(place)]) == 0
    assert page.get(f"/photo/{entry.files[0]}").status_code == 404


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_forms_of_other_sites_are_refused(page, place, headers):
    sent = {**form(page, "Ash", "/note"), "f:colony.eggs": "true"}
    assert page.post("/note", data=sent, headers=headers).status_code == 403
    assert noted(place, sent["note"]) == []


@pytest.mark.parametrize("token", ["", "forged", "ImFiYyI.AAAAAAAAAAAAAAAAAAAAAAAAAAA"])
def test_forged_tokens_are_refused(page, place, token):
    sent = {**form(page, "Ash", "/note"), "f:colony.eggs": "true", "token": token}
    assert page.fill("/note", sent).status_code == 403 and noted(place, sent["note"]) == []


NASTY = "<script>alert(1)</script><img src=x onerror=alert(1)> \x1b[31m \u202e \"'&"


def test_texts_of_others_are_shown_as_text(page, place):
    sent = {**form(page, "Ash", "/read"), "text": NASTY}
    for answer in (page.fill("/read", sent), page.fill("/words", sent), page.get(page.hive("Ash"))):
        assert "<script>alert" not in answer.text and "<img src=x" not in answer.text and "\x1b" not in answer.text
    assert any("alert(1)" in entry.text for entry in noted(place, sent["note"]))
    for name in ("hive", "apiary", "action", "note", "at", "f:colony.eggs", "f:<b>"):
        answer = page.fill("/note", {**form(page, "Ash", "/note"), name: NASTY})
        assert answer.status_code in (404, 422) and "<script>alert" not in answer.text and "\x1b" not in answer.text
