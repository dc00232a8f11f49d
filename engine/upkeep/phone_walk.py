"""The walk of the manual through the served page, and its pictures: ``python -m upkeep.phone_walk --write`` (needs a Chromium).

A test walks the same way, so that what the manual shows is what the page does.
"""

from __future__ import annotations

import argparse
import dataclasses
import datetime as dt
import io
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

from hiveweek import content, facts, vocabulary
from hiveweek.facts.scenario import record_of
from hiveweek.record import Hive, Placement
from hiveweek.record.entries import new_id
from hiveweek.record.store import open_store

DAY = "2026-08-10"
HIVE = "Hazel"
SIZE = {"width": 390, "height": 780}
COLOURS = 48
PICTURES = ("sheet", "card", "note", "away", "kept", "done", "visits", "practice", "marked")
LESSON, ANSWER = "drips-on-the-cluster", "dry-the-lid"


def demo(place: Path) -> None:
    """Make a record of the demo apiary."""
    words = vocabulary.load()
    scenario = facts.read_scenario(content.root() / "scenarios" / "demo.yaml", words=words)
    record, yard, hives = record_of(scenario, words)
    climate = scenario.climate if isinstance(scenario.climate, str) else None
    apiary = dataclasses.replace(record.apiaries[yard], id=new_id(), climate=climate)
    came, now = scenario.date - dt.timedelta(days=800), dt.datetime.now(dt.UTC)
    with open_store(place) as store:
        store.add_apiary(apiary)
        ids: dict[str | None, str | None] = {None: None}
        for hive in hives:
            ids[hive] = new_id()
            store.add_hive(Hive(str(ids[hive]), record.hives[hive].name, (Placement(apiary.id, came),)))
        store.add(
            [
                dataclasses.replace(
                    entry,
                    id=new_id(),
                    apiary=apiary.id,
                    hive=ids[entry.hive],
                    sequence=0,
                    note=new_id(),
                    recorded_at=now,
                )
                for entry in record.entries
            ]
        )


def walk(page: Page, hive: str, take: Callable[[str], None]) -> None:
    """Go the way that the manual tells: the evening before, at the hive, out of reach, back at home, practice in winter.

    Parameters
    ----------
    page : Page
        A browser's, at the sheet.
    hive : str
        The hive that is looked through; one whose card has a job.
    take : callable
        Called with the name of each picture when it is in sight.
    """
    page.goto("/")
    row = page.locator("ol.rows a", has=page.locator("b", has_text=re.compile(f"^{re.escape(hive)}$")))
    row.wait_for()
    take("sheet")
    row.click()
    page.get_by_role("heading", name=hive).wait_for()
    take("card")
    page.get_by_role("link", name="Note something").click()
    form = page.locator("form[action='/note']")
    steps = form.locator(".step:visible")
    steps.first.get_by_role("button").last.click()
    take("note")
    page.context.set_offline(True)
    form.get_by_role("button", name="Keep", exact=True).click()
    page.get_by_text("Out of reach").wait_for()
    page.locator("#waiting").scroll_into_view_if_needed()
    take("away")
    page.context.set_offline(False)
    page.evaluate("() => window.dispatchEvent(new Event('online'))")
    page.locator("#waiting").wait_for(state="hidden")
    page.locator("#text").fill("7 seams, eggs seen")
    page.get_by_role("button", name="Read it back to me").click()
    page.get_by_role("button", name="Keep it", exact=True).click()
    page.get_by_text("Kept:").wait_for()
    take("kept")
    act = page.locator("details.act", has=page.locator("form[action='/done']")).first
    act.locator("summary").click()
    act.scroll_into_view_if_needed()
    take("done")
    page.goto("/visits")
    page.locator("body:not(:has(.fresh)) h1").wait_for()  # while that is there the page fetches itself anew
    take("visits")
    page.goto(f"/practice/{LESSON}")
    page.get_by_role("heading").first.wait_for()
    take("practice")
    page.locator("#job1").select_option(ANSWER)
    page.locator("label", has_text="fairly sure").click()
    page.get_by_role("button", name="See the answer").click()
    page.wait_for_url("**/practice/*/*")
    jobs = page.get_by_role("heading", name="Your jobs")
    jobs.evaluate("one => window.scrollBy(0, one.getBoundingClientRect().top - 90)")  # clear of the bar at the top
    take("marked")


def small(picture: bytes) -> bytes:
    """Return a picture in few colours, for a manual."""
    out = io.BytesIO()
    with Image.open(io.BytesIO(picture)) as found:
        found.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


def main() -> int:
    """Write the pictures of the manual anew."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", required=True)
    parser.parse_args()
    folder = Path(__file__).parents[2] / "docs" / "pictures"
    folder.mkdir(exist_ok=True)
    browser = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if browser is None:
        raise SystemExit("no Chromium on this machine")
    with tempfile.TemporaryDirectory() as scratch:
        place = Path(scratch) / "record.sqlite"
        demo(place)
        words = ["serve", "--record", str(place), "--port", "0", "--date", DAY, "--offline"]
        served = subprocess.Popen(
            [sys.executable, "-m", "hiveweek.cli.main", *words],
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        try:
            assert served.stdout is not None
            url = re.findall(r"http://[\d.:]+", served.stdout.readline())[0]
            with sync_playwright() as driver:
                chromium = driver.chromium.launch(executable_path=browser, args=["--no-sandbox"])
                context = chromium.new_context(base_url=url, viewport=SIZE, has_touch=True)  # type: ignore[arg-type]
                page = context.new_page()
                page.set_default_timeout(120_000)
                walk(page, HIVE, lambda name: _write(folder / f"phone-{name}.png", page.screenshot()))
                chromium.close()
        finally:
            served.terminate()
            served.wait(20)
    return 0


def _write(path: Path, picture: bytes) -> None:
    path.write_bytes(small(picture))
    print(path.name)


if __name__ == "__main__":
    raise SystemExit(main())
