"""The page of a week in a real browser: phone and desk, dark and light, by keys, on paper; read by an accessibility checker."""

import io
import json
import re

import browser_kit
import pypdf
import pytest
from axe_playwright_python.sync_playwright import Axe

from hiveweek.cli.main import main

OVER = "() => document.documentElement.scrollWidth - window.innerWidth"
OPEN = "() => document.querySelectorAll('details').forEach(one => one.open = true)"
SMALL = """least => [...document.querySelectorAll('a, summary, label, button')].filter(one => one.checkVisibility())
  .map(one => [one.outerHTML.slice(0, 80), one.getBoundingClientRect()])
  .filter(([html, box]) => box.width < least || box.height < least).map(([html, box]) => `${html} ${box.width}x${box.height}`)"""
RULES = ("color-contrast", "heading-order", "label", "list", "region", "duplicate-id", "document-title", "svg-img-alt")


@pytest.fixture(scope="module")
def week(tmp_path_factory):
    """The page of the demo, and what its JSON says."""
    out = tmp_path_factory.mktemp("page") / "week.html"
    assert main(["week", "--offline", "--page", str(out)]) == 0
    return out


@pytest.fixture(scope="module")
def chromium():
    with browser_kit.browser() as found:
        yield found


@pytest.fixture(scope="module")
def asked(week):
    said = io.StringIO()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.stdout", said)
        assert main(["week", "--offline", "--json"]) == 0
    return json.loads(said.getvalue())["apiaries"][0]


def opened(chromium, week, width=390, scheme="light", **more):
    page = chromium.new_page(viewport={"width": width, "height": 844}, color_scheme=scheme, **more)
    requests = []
    page.on("request", lambda request: requests.append(request.url))
    page.goto(week.as_uri())
    assert requests == [week.as_uri()]
    return page


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_nothing_overflows_and_every_target_can_be_met_with_a_thumb(chromium, week, width):
    page = opened(chromium, week, width)
    assert page.evaluate(OVER) <= 0 and page.evaluate(SMALL, 44) == []
    page.evaluate(OPEN)
    assert page.evaluate(OVER) <= 0 and page.evaluate(SMALL, 44) == []
    page.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_an_accessibility_checker_finds_nothing(chromium, week, scheme):
    page = opened(chromium, week, 390, scheme)
    page.evaluate(OPEN)
    found = Axe().run(page).response
    assert [(one["id"], one["nodes"][0]["html"]) for one in found["violations"]] == []
    assert {"color-contrast", "label", "svg-img-alt"} <= {one["id"] for one in found["passes"]}
    page.close()


def test_the_sheet_comes_first_and_a_card_unfolds_where_its_link_leads(chromium, week):
    page = opened(chromium, week, java_script_enabled=False)
    first = page.locator("ol.sheet a").first
    hive = first.inner_text()
    assert page.locator("ol.sheet").bounding_box()["y"] < 844
    assert page.locator("details.card .inside").first.is_visible() is False
    first.focus()
    page.keyboard.press("Enter")
    card = page.locator(first.get_attribute("href"))
    card.wait_for(state="visible")
    assert f"Hive {hive}" in page.locator("details.card[open] h2").inner_text()
    page.close()


def test_by_keys_alone_every_box_link_and_card_is_reached(chromium, week):
    page = opened(chromium, week, 1280)
    wanted = page.locator("ol.sheet input, ol.sheet a, details.card > summary").count()
    seen = set()
    for _ in range(wanted + 4):
        page.keyboard.press("Tab")
        seen.add(page.evaluate("() => document.activeElement.outerHTML"))
    assert len([one for one in seen if re.match(r"<(input|a|summary)", one)]) >= wanted
    page.close()


def test_every_advice_is_on_sheet_or_card(chromium, week, asked):
    page = opened(chromium, week)
    page.evaluate(OPEN)
    cards = page.locator("details.card").all_inner_texts()
    yard = page.locator("section").all_inner_texts()
    from hiveweek import vocabulary

    labels = {name: action.label for name, action in vocabulary.load().actions.items()}
    for hive in asked["hives"]:
        (card,) = [text for text in cards if text.startswith(f"Hive {hive['id']}")]
        for advice in hive["advice"]:
            assert labels[advice["action"]].lower() in (card + yard[0]).lower(), advice["action"]
    page.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_on_paper_no_sheet_is_empty_and_no_short_card_is_cut(chromium, week, paper):
    page = opened(chromium, week, 800)
    short = page.locator("details.card.short h2").all_text_contents()
    printed = pypdf.PdfReader(io.BytesIO(page.pdf(format=paper)))
    page.close()
    pages = [one.extract_text() for one in printed.pages]
    assert all(len(text.split()) > 20 for text in pages) and len(pages) <= 8
    assert len(short) >= 5
    for head in short:
        (number,) = [k for k, text in enumerate(pages) if re.search(rf"^{re.escape(head)}$", text, re.MULTILINE)]
        assert "Room to write" in pages[number][pages[number].index(head) :], head
