"""Charts: what was noted, today with its range, the weeks ahead, the limit; the same figures as the facts."""

import datetime as dt
import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from scipy.stats import beta

from hiveweek.facts.reading import read_scenario
from hiveweek.plan.answer import answer
from hiveweek.show import charts, trends
from hiveweek.texts.speaker import METRIC

YARD = """
scenario: one hive with a history
climate: cool_continental
date: 2026-07-20
apiary: {name: Mill Lane, site: {site.mites: established}}
hives:
  - id: Ash
    facts: {hive.size: single, hive.frames: 10, hive.frame: deep, hive.supers: 0, colony.frames_of_bees: 9, colony.frames_of_brood: 6,
            food.stores_kg: 6, food.nectar: none, mites.sample_mites: 9, mites.sample_bees: 300, mites.method: wash, mites.in_hive: none}
    observed:
      - {date: 2026-05-10, food.stores_kg: 11}
      - {date: 2026-06-01, mites.sample_mites: 3, mites.sample_bees: 300, mites.method: wash}
  - id: Elm
    facts: {colony.alive: true}
"""


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    path = tmp_path_factory.mktemp("charts") / "yard.yaml"
    path.write_text(YARD, encoding="utf-8")
    return answer(read_scenario(path), offline=True, second_channel=False, since=False)


def test_a_trend_holds_what_was_noted_and_what_is_ahead(found):
    stores, mites = trends.trends(found)["Ash"]
    assert [(level.date, level.value) for level in stores.past] == [(dt.date(2026, 5, 10), 11), (found.date, 6)]
    use = found.inference.table.column("food.use_kg_week").value[0]
    assert stores.ahead[2].value == pytest.approx(6 - 2 * use)
    for trend in (stores, mites):
        assert trend.ahead[0].value == pytest.approx(trend.now.value)
        for level in (trend.now, *trend.ahead, *trend.past):
            assert 0 <= level.low <= level.value <= level.high
    at = found.inference.table.column("mites.per_100_at_winter_bees")
    assert mites.ahead[-1].value == pytest.approx(at.value[0])
    # the exact interval of 3 mites in 300 bees (Clopper and Pearson 1934), its lower end
    assert mites.past[0].low == pytest.approx(100 * beta.ppf(0.025, 3, 298), rel=1e-6)
    assert stores.limit == pytest.approx(found.inference.table.column("food.need_kg").value[0])


def test_what_is_not_known_is_not_drawn(found):
    assert trends.trends(found)["Elm"] == ()


def test_the_season_runs_on_without_a_gap(found):
    phases = trends.season(found)
    assert phases[0].first <= found.date <= phases[-1].last
    assert all(b.first - a.last == dt.timedelta(days=1) and a.name != b.name for a, b in pairwise(phases))
    assert METRIC.say(charts.season_words(phases, found.date)).startswith("Season: ")


def test_a_chart_is_well_formed_says_its_figures_and_stays_in_its_frame(found):
    for trend in trends.trends(found)["Ash"]:
        text = charts.chart(trend, found.date)
        root = ElementTree.fromstring(text)
        assert root.get("role") == "img" and root.get("aria-label") == METRIC.say(charts.words(trend))
        numbers = [float(n) for n in re.findall(r'\b(?:x|y|x1|x2|y1|y2|cx|cy)="([-\d.]+)"', text)]
        assert numbers and min(numbers) >= 0 and max(numbers) <= charts.WIDTH
        kinds = re.findall(r'class="(\w+)"', text)
        assert {"band", "line", "limit", "now", "seen"} <= set(kinds)
        assert "#" not in text and "rgb" not in text
    text = charts.season_strip(trends.season(found), found.date)
    ElementTree.fromstring(text)
    assert text.count("<rect") == len(trends.season(found))
