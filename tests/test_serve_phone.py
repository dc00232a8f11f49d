"""The served page in a real browser, as on a phone: fingers, keys, no script, out of reach and back."""

import re
from pathlib import Path

import browser_kit
import pytest
import serve_kit
from axe_playwright_python.sync_playwright import Axe
from PIL import Image

from hiveweek import content
from hiveweek.record import Kind
from hiveweek.record.store import open_store
from upkeep import phone_walk

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
SHEET = "ol.rows a"
PATIENCE = 120_000  # ms: a machine that runs other tests beside is slow
TARGETS = """least => [...document.querySelectorAll('a, button, summary, select, textarea, input:not([type=hidden])')]
  .map(one => [one, one.matches('input[type=radio]') ? one.closest('label') : one])
  .filter(([one, box]) => one.checkVisibility() && !one.closest('.skip') && !one.matches('.skip'))
  .map(([one, box]) => [one.outerHTML.slice(0, 90), box.getBoundingClientRect()])
  .filter(([html, box]) => box.width < least || box.height < least).map(([html, box]) => `${html} ${box.width}x${box.height}`)"""
WAITING = "() => JSON.parse(localStorage['hiveweek.queue'] || '[]').length"
SUBMIT = """frames => {
    const form = document.querySelector("form[action='/note']");
    form.querySelector("[name='f:colony.frames_of_bees']").value = frames;
    form.requestSubmit();
}"""
OVER = "() => document.documentElement.scrollWidth - window.innerWidth"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return serve_kit.record(
        tmp_path_factory.mktemp("phone") / "record.sqlite", ("Ash", "A-hive-with-a-very-long-name-in-one-word")
    )


@pytest.fixture(scope="module")
def served(place):
    with serve_kit.served(place) as (url, _, _), serve_kit.Browser(url) as page:
        page.until("/", "most pressing first")
        page.hive("Ash")
        yield page


@pytest.fixture(scope="module")
def chromium():
    with browser_kit.browser() as found:
        yield found


@pytest.fixture
def phone(chromium, served):
    yield from _page(chromium, served)


@pytest.fixture
def without_worker(chromium, served):
    """A phone whose requests are answered by the test: a worker that begins meanwhile would take them out of its hands."""
    yield from _page(chromium, served, service_workers="block")


def _page(chromium, served, **more):
    context = chromium.new_context(base_url=str(served.base_url).rstrip("/"), **PHONE, **more)
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    said = []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda line: said.append(line.text) if "Content Security" in line.text else None)
    yield page
    context.close()
    assert said == []


def live(place):
    with open_store(place) as store:
        gone = store.withdrawn()
        return [entry for entry in store.everything().entries if entry.id not in gone and entry.source == "page"]


@pytest.mark.parametrize("width", [320, 390])
def test_nothing_overflows_and_every_target_is_large_enough(phone, served, width):
    phone.set_viewport_size({"width": width, "height": 700})
    sheet = served.get("/").url.path
    lesson = "/practice/black-mould-dry-lid?look=full-inspection"
    for path in (sheet, served.hive("Ash"), f"{sheet}/print", "/visits", "/h/none", "/practice", lesson):
        phone.goto(path)
        phone.evaluate("() => document.querySelectorAll('details').forEach(one => one.open = true)")
        assert phone.evaluate(OVER) <= 0, path
        assert phone.evaluate(TARGETS, 44) == [], path
        assert phone.evaluate(TARGETS, 2000)  # it finds what is too small


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_an_accessibility_checker_finds_nothing(chromium, served, scheme):
    context = chromium.new_context(
        base_url=str(served.base_url).rstrip("/"), color_scheme=scheme, bypass_csp=True, **PHONE
    )
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    others = [served.get("/").url.path, "/visits", "/practice/black-mould-dry-lid?look=full-inspection"]
    pages = [served.hive("Ash"), *(others if scheme == "light" else [])]
    for path in pages:
        page.goto(path)
        page.evaluate("() => document.querySelectorAll('details').forEach(one => one.open = true)")
        found = Axe().run(page).response
        assert [(one["id"], one["nodes"][0]["html"]) for one in found["violations"]] == [], path
        assert "svg" in page.content() or path.startswith(("/visits", "/practice"))
        assert {"color-contrast", "document-title"} <= {one["id"] for one in found["passes"]}
    context.close()


def test_seams_are_tapped_and_kept(phone, served, place):
    before = len(live(place))
    phone.goto(served.hive("Ash"))
    field = phone.locator("[name='f:colony.frames_of_bees']").first
    phone.evaluate("() => document.querySelectorAll('details.more').forEach(one => one.open = true)")
    plus = field.locator("xpath=following-sibling::button")
    assert field.input_value() == ""
    plus.tap()
    assert field.input_value() == "7"  # the last value, and only when it is asked for
    plus.tap()
    phone.get_by_role("button", name="Keep", exact=True).tap()
    phone.get_by_text("Kept:").wait_for()
    (entry,) = live(place)[before:]
    assert dict(entry.facts) == {"colony.frames_of_bees": 7.5} and entry.time is not None


def test_thirty_notes_out_of_reach_are_sent_once_and_in_order(phone, served, place):
    before = {entry.id for entry in live(place)}
    phone.goto(served.hive("Ash"))
    phone.context.set_offline(True)
    for number in range(30):
        phone.evaluate(
            """number => {
              const form = document.querySelector("form[action='/note']");
              form.querySelector("[name='f:colony.frames_of_bees']").value = number / 2;
              form.requestSubmit();
            }""",
            number,
        )
        phone.wait_for_function("n => JSON.parse(localStorage['hiveweek.queue'] || '[]').length === n", arg=number + 1)
    assert "Out of reach" in phone.locator("#waiting").inner_text()
    assert {entry.id for entry in live(place)} == before
    # One of them arrives, but its answer is lost on the way back; the phone sends it again.
    lost = []

    def lose(route):
        if not lost:
            lost.append(route.fetch().status)
            route.abort()
        else:
            route.continue_()

    with phone.expect_event("requestfailed", lambda request: bool(lost)):
        phone.route("**/note", lose)  # before it is in reach, for the page sends as soon as it is
        phone.context.set_offline(False)
        phone.evaluate("() => window.dispatchEvent(new Event('online'))")
    # Else the page tries again by itself, a while later.
    phone.evaluate("() => window.dispatchEvent(new Event('online'))")
    phone.wait_for_function("() => JSON.parse(localStorage['hiveweek.queue'] || '[]').length === 0")
    assert lost == [200]
    came = [entry for entry in live(place) if entry.id not in before]
    assert [entry.facts["colony.frames_of_bees"] for entry in came] == [number / 2 for number in range(30)]
    assert len({entry.note for entry in came}) == 30


def test_what_is_noted_while_another_note_is_being_sent_is_a_note_of_its_own(without_worker, served, place):
    """The first answer is slow: the second note is neither dropped nor wiped, and a second tap makes no third."""
    before = {entry.id for entry in live(place)}
    without_worker.goto(served.hive("Ash"))
    held = []
    without_worker.route("**/note", lambda route: route.continue_() if held else held.append(route))
    submit = """frames => {
        const form = document.querySelector("form[action='/note']");
        form.querySelector("[name='f:colony.frames_of_bees']").value = frames;
        form.requestSubmit();
        form.requestSubmit();
    }"""
    without_worker.evaluate(submit, "3")
    without_worker.wait_for_function("() => JSON.parse(localStorage['hiveweek.queue'] || '[]').length === 1")
    without_worker.evaluate(submit, "4")
    without_worker.wait_for_function("() => JSON.parse(localStorage['hiveweek.queue'] || '[]').length === 2")
    for _ in range(500):  # the browser tells of the request a little after the page has sent it
        if held:
            break
        without_worker.wait_for_timeout(10)
    held[0].continue_()
    without_worker.get_by_text("Kept:").wait_for()
    assert [e.facts["colony.frames_of_bees"] for e in live(place) if e.id not in before] == [3, 4]


def test_what_another_page_answers_takes_no_note_away(without_worker, served, place):
    """The page of a hotel's network answers everything, and well; the note stays until the record has it."""
    before = {entry.id for entry in live(place)}
    without_worker.goto(served.hive("Ash"))
    without_worker.route(
        "**/note", lambda route: route.fulfill(status=200, content_type="text/html", body="Welcome, sign in")
    )
    without_worker.evaluate(SUBMIT, "5")
    without_worker.wait_for_function("() => document.getElementById('waiting').innerText.includes('Out of reach')")
    assert without_worker.evaluate(WAITING) == 1 and {entry.id for entry in live(place)} == before
    without_worker.unroute("**/note")
    without_worker.evaluate("() => window.dispatchEvent(new Event('online'))")
    without_worker.wait_for_function(f"() => ({WAITING})() === 0")
    assert [e.facts["colony.frames_of_bees"] for e in live(place) if e.id not in before] == [5]


PICTURE = Path(content.root()) / "docs" / "pictures" / "phone-card.png"
STORED = """() => new Promise(done => {
    const opening = indexedDB.open("hiveweek", 1);
    opening.onsuccess = () => {
        const asked = opening.result.transaction("photos").objectStore("photos").count();
        asked.onsuccess = () => { opening.result.close(); done(asked.result); };
    };
})"""


def choose_photo(phone, served, text):
    phone.goto(served.hive("Ash"))
    phone.context.set_offline(True)
    phone.locator("#photo").set_input_files(PICTURE)
    phone.locator("#photo-text").fill(text)
    phone.get_by_role("button", name="Keep the photo").tap()


def test_a_photo_out_of_reach_waits_on_the_phone_and_is_sent_by_the_page_that_comes_next(phone, served, place):
    before = {entry.id for entry in live(place)}
    choose_photo(phone, served, "wax moth?")
    phone.wait_for_function(
        "() => document.getElementById('waiting').innerText.includes('A photo: What it shows wax moth?')"
    )
    assert phone.evaluate(STORED) == 1 and "Out of reach" in phone.locator("#waiting").inner_text()
    phone.context.set_offline(False)
    phone.goto("/visits")
    phone.wait_for_function(f"() => ({WAITING})() === 0")
    (entry,) = [entry for entry in live(place) if entry.id not in before]
    assert entry.text == "wax moth?" and len(entry.files) == 1
    phone.wait_for_function(f"() => ({STORED})().then(kept => kept === 0)")  # put away after it has left the list


def test_a_photo_that_the_phone_has_lost_is_said_and_its_words_are_there(phone, served, place):
    before = {entry.id for entry in live(place)}
    choose_photo(phone, served, "chalky larvae")
    phone.wait_for_function(f"() => ({WAITING})() === 1")
    phone.evaluate("() => new Promise(done => (indexedDB.deleteDatabase('hiveweek').onsuccess = done))")
    phone.context.set_offline(False)
    phone.evaluate("() => window.dispatchEvent(new Event('online'))")
    phone.get_by_text("The photo is not on this phone any more").wait_for()
    assert {entry.id for entry in live(place)} == before
    phone.get_by_role("button", name="Keep it all the same").tap()
    phone.wait_for_function(f"() => ({WAITING})() === 0")
    (entry,) = [entry for entry in live(place) if entry.id not in before]
    assert "chalky larvae" in entry.text and not entry.files


def test_a_photo_that_the_phone_cannot_keep_is_said_and_its_words_are_kept(phone, served, place):
    before = {entry.id for entry in live(place)}
    phone.goto(served.hive("Ash"))  # a store that is there, and takes nothing
    phone.evaluate(
        "() => new Promise(done => (indexedDB.open('hiveweek', 1).onsuccess = e => done(e.target.result.close())))"
    )
    choose_photo(phone, served, "wax moth?")
    phone.get_by_text("The photo was not kept").wait_for()
    assert phone.evaluate("() => document.getElementById('photo').files.length") == 1 and phone.evaluate(WAITING) == 1
    phone.context.set_offline(False)
    phone.evaluate("() => window.dispatchEvent(new Event('online'))")
    phone.wait_for_function(f"() => ({WAITING})() === 0")
    (entry,) = [entry for entry in live(place) if entry.id not in before]
    assert "wax moth" in entry.text and not entry.files


def test_words_out_of_reach_are_kept_and_what_is_open_is_asked(phone, served, place):
    before = {entry.id for entry in live(place)}
    phone.goto(served.hive("Ash"))
    phone.context.set_offline(True)
    phone.locator("#text").fill("eggs seen, 2 QC")
    phone.get_by_role("button", name="Read it back to me").tap()
    phone.wait_for_function("() => document.getElementById('waiting').innerText.includes('Out of reach')")
    phone.context.set_offline(False)
    phone.evaluate("() => window.dispatchEvent(new Event('online'))")
    phone.get_by_role("button", name="Look at it").tap()
    phone.get_by_text("Which is meant").wait_for()
    assert {entry.id for entry in live(place)} == before
    phone.get_by_text("2 charged and left").first.tap()
    phone.get_by_role("button", name="Keep it", exact=True).tap()
    phone.get_by_text("Kept:").wait_for()
    facts = {name for entry in live(place) if entry.id not in before for name in entry.facts}
    assert {"colony.eggs", "colony.queen_cells"} <= facts
    assert phone.evaluate("() => JSON.parse(localStorage['hiveweek.queue'] || '[]')") == []


def test_a_page_seen_before_is_there_again_out_of_reach(phone, served):
    phone.goto(served.hive("Ash"))
    phone.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    phone.reload()
    phone.context.set_offline(True)
    phone.reload()
    assert phone.locator("h1").inner_text() == "Ash at Mill Lane"
    phone.context.set_offline(False)


def test_the_walk_of_the_manual(phone, served):
    seen = {}
    phone_walk.walk(phone, "Ash", lambda name: seen.update({name: phone.locator("body").inner_text()}))
    assert tuple(seen) == phone_walk.PICTURES
    assert "frames of bees" in seen["away"] and "Out of reach" in seen["away"] and "Kept:" in seen["kept"]
    docs = content.root() / "docs"
    named = re.findall(r"pictures/(phone-\w+\.png)", (docs / "yard.md").read_text(encoding="utf-8"))
    assert sorted(named) == sorted(f"phone-{name}.png" for name in phone_walk.PICTURES)
    for name in named:
        with Image.open(docs / "pictures" / name) as picture:
            assert picture.size == tuple(phone_walk.SIZE.values())


def test_by_keys_alone(chromium, served, place):
    before = {entry.id for entry in live(place)}
    context = chromium.new_context(base_url=str(served.base_url).rstrip("/"))
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    page.goto(served.hive("Ash"))
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.className") == "skip"
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("() => document.activeElement.id") == "text":
            break
    page.keyboard.type("7 seams")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_text("What was understood").wait_for()
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("() => document.activeElement.textContent") == "Keep it":
            break
    page.keyboard.press("Enter")
    page.get_by_text("Kept:").wait_for()
    context.close()
    assert [dict(e.facts) for e in live(place) if e.id not in before] == [{"colony.frames_of_bees": 7}]


def test_without_script(chromium, served, place):
    before = {entry.id for entry in live(place)}
    context = chromium.new_context(base_url=str(served.base_url).rstrip("/"), java_script_enabled=False, **PHONE)
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    page.goto("/")
    page.locator(SHEET, has_text="Ash").tap()
    assert page.locator(".step button:visible").count() == 0
    page.locator("#text").fill("gave 2 litres of 2:1")
    page.get_by_role("button", name="Read it back to me").tap()
    page.get_by_role("button", name="Keep it", exact=True).tap()
    page.get_by_text("Kept:").wait_for()
    (entry,) = [entry for entry in live(place) if entry.id not in before]
    assert entry.kind is Kind.DONE and entry.action == "feed-thick-syrup" and entry.details["litres"] == 2
    page.get_by_role("button", name=re.compile("Take it back")).first.tap()
    page.get_by_text("Taken back.").wait_for()
    context.close()
    assert {entry.id for entry in live(place)} == before
