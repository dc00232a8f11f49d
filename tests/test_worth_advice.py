"""The advice of many simulated hives at once is that of the sheet; the command tells what is wrong with what it is asked."""

import datetime as dt
import json

import numpy as np
import pytest

from hiveweek import vocabulary
from hiveweek.cli.main import main
from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from hiveweek.numbers import shipped
from hiveweek.plan.answer import answer
from hiveweek.worth import keepers as keeping
from hiveweek.worth import tally
from hiveweek.worth.advice import Job
from hiveweek.worth.jobs import Jobs
from hiveweek.worth.looks import Seeing
from hiveweek.worth.runs import Play
from hiveweek.worth.world import Colonies

WORDS = vocabulary.load()
CLIMATE, SEEDS = "cool_continental", 4


@pytest.fixture(scope="module")
def played():
    play = Play(CLIMATE, shipped(), WORDS, keeping.calendars(), SEEDS, weeks=3)
    return play.run(("nothing", "calendar", "few", "all", "known", "all but weight"))


def test_keepers_spend_what_their_looks_and_jobs_take(played):
    minutes = played.spent["minutes"].mean(axis=1)
    nothing, _, few, every, _, but = minutes
    assert nothing == 0 and every > few and every > but > 0
    assert (played.spent["treatments"][0] == 0).all() and played.alive.shape == (4, 6, SEEDS)


def test_the_sheet_advises_the_same_jobs(monkeypatch):
    """Every job that many hives are given together the sheet gives each of them alone, and the other way round."""
    play = Play(CLIMATE, shipped(), WORDS, keeping.calendars(), SEEDS, weeks=1)
    world = Colonies(play.p, play.years, play.numbers, 1, 1)
    world.stores = np.array([0.6, 3.0, 8.0, 20.0])
    adviser = keeping.Adviser(play.profile, WORDS)
    keeper = keeping.AdvisedKeepers(keeping.calendars(), adviser, Jobs(world), 0, ("known",))
    given = {}
    monkeypatch.setattr(adviser, "jobs", lambda *asked: given.update(zip("nd", asked, strict=False), w=asked[2]) or {})
    keeper.week(play.years.start)
    monkeypatch.undo()
    jobs = adviser.jobs(given["n"], given["d"], given["w"])
    known = dict(given["n"].values)
    hives = []
    for row in range(SEEDS):
        facts = {name: WORDS.facts[name].decode(value[row]) for name, value in known.items()}
        weather = {name: round(float(value[row]), 1) for name, value in given["w"].items()}
        own = {name: value for name, value in facts.items() if value is not None and not WORDS.facts[name].shared}
        hives.append({**own, **weather})
    site = {name: WORDS.facts[name].decode(v[0]) for name, v in known.items() if WORDS.facts[name].shared}
    for row in range(SEEDS):
        scenario = Scenario("", CLIMATE, play.years.start, [ScenarioHive("A", hives[row])], Apiary("", site))
        plan = answer(scenario, offline=True, second_channel=False, words=WORDS, since=False).plan.hives[0]
        sheet = {one.action for one in plan.advice if one.action not in adviser.ranking.looks and one.origin == "rule"}
        mine = {action for action, job in jobs.items() if job.where[row]} - adviser.ranking.looks
        assert mine <= sheet | {one.action for one in plan.withheld} and sheet <= mine, (row, mine ^ sheet)


def test_intervals_stand_beside_worked_ones():
    # Wilson's interval of 8 in 10: 0.490 to 0.943 (Newcombe 1998, Stat. Med. 17:857, by the formula there)
    value, low, high = tally.share(np.array([True] * 8 + [False] * 2))
    assert value == 0.8 and abs(low - 0.490) < 0.001 and abs(high - 0.943) < 0.001
    assert tally.mean(np.ones(5)) == [1.0, 1.0, 1.0]
    value, low, high = tally.mean(np.arange(101.0))
    assert value == 50 and abs((high - low) / 2 - 1.96 * np.std(np.arange(101.0)) / 101**0.5) < 0.8


def test_every_climate_has_a_calendar_whose_days_are_days():
    data = keeping.calendars()
    from hiveweek.climate.profiles import profile_ids

    assert set(data["climates"]) == set(profile_ids())
    sources = WORDS.sources
    for calendar in data["calendars"].values():
        assert all(key in sources for key in calendar["source"])
        for task in calendar["tasks"]:
            for day in (task[key] for key in ("on", "from", "to") if key in task):
                dt.date.fromisoformat(f"2027-{day}")
    assert {one["calendar"] for one in data["climates"].values()} == set(data["calendars"])


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--seeds", "1"), "bad-number"),
        (("--climate", "boreall"), "unknown-profile"),
        (("--processes", "0"), "bad-number"),
        (("--out", "no/such/folder/r.json"), "cannot-write"),
    ],
)
def test_what_cannot_be_worked_out_is_told(capsys, words, code):
    assert main(["worth", *words]) == 2
    assert code in capsys.readouterr().err


def test_the_command_shows_and_writes_what_it_found(monkeypatch, capsys, tmp_path, played):
    found = {
        "calendar": "here",
        "nearest": True,
        **tally.compared(played),
        "kinds": tally.kinds(played),
        "dangers": {"unfed": {"survival": [0.5, 0.4, 0.6], "less": [-0.1, -0.2, 0.0]}},
    }
    del found["keepers"]["all but weight"]
    monkeypatch.setattr("hiveweek.worth.study.worked", lambda task, seeds, seed: found)
    out = tmp_path / "r.json"
    assert main(["worth", "--climate", "boreal", "--seeds", "4", "--processes", "1", "--out", str(out)]) == 0
    shown = capsys.readouterr().out
    assert "the nearest is that of here" in shown and "Advice, all known less calendar" in shown
    assert json.loads(out.read_text(encoding="utf-8"))["climates"]["boreal"]["nearest"] is True


def test_a_tray_tells_mites_that_fall_and_brood_that_hatches():
    play = Play(CLIMATE, shipped(), WORDS, keeping.calendars(), 200, weeks=1)
    world = Colonies(play.p, play.years, play.numbers, 1, 1)
    seeing = Seeing(world, WORDS, play.numbers.model, slice(0, world.rows), np.zeros(world.rows, dtype=bool))
    world.mites[:] = 1000
    rearing = seeing.facts()
    world.brood[:] = 0
    resting = seeing.facts()
    # a brood nest in full lets about one mite in thirty fall, one without brood one in four hundred
    assert rearing["mites.drop_per_day"].mean() > 3 * resting["mites.drop_per_day"].mean()
    assert 1000 / 500 < resting["mites.drop_per_day"].mean() < 1000 / 250
    assert rearing["colony.fresh_cappings_on_tray"].all() and not resting["colony.fresh_cappings_on_tray"].any()
    world.mites[:] = 0
    assert (seeing.facts()["mites.drop_per_day"] == 0).all()


def test_bees_that_the_brood_box_does_not_hold_sit_above():
    play = Play(CLIMATE, shipped(), WORDS, keeping.calendars(), 50, weeks=1)
    world = Colonies(play.p, play.years, play.numbers, 1, 1)
    world.hives.supers[:] = 1
    world.summer[:], world.winter[:] = 26000, 0
    seen = Seeing(world, WORDS, play.numbers.model, slice(0, world.rows), np.ones(world.rows, dtype=bool)).facts()
    assert (seen["colony.frames_of_bees"] <= 10).all()
    # what is over fills several frames of a super, which hold about nine hundred bees each
    assert (seen["colony.super_frames_of_bees"] >= 2).all() and seen["colony.super_frames_of_bees"].mean() > 4


def test_emptied_supers_go_back_before_a_flow_only():
    play = Play("boreal", shipped(), WORDS, keeping.calendars(), 2, weeks=1)
    world = Colonies(play.p, play.years, play.numbers, 1, 1)
    adviser = keeping.Adviser(play.profile, WORDS)
    keeper = keeping.AdvisedKeepers(keeping.calendars(), adviser, Jobs(world), 0, ("few",))
    every = np.ones(2, dtype=bool)
    job = Job(every, np.ones(2), np.full(2, np.nan), np.ones(2))
    for day, left in ((dt.date(2027, 6, 20), 2.0), (dt.date(2027, 8, 15), 0.0)):
        keeper.notes.on(day)
        keeper.supers_back = keeper.flow_ahead(day)
        keeper.notes.say("hive.supers", 2.0)
        world.hives.supers[:], world.honey[:], world.taken[:] = 2, 20, 0
        keeper.last["take-honey"][:] = keeping.NEVER
        keeper._do("take-honey", job, every)
        assert (world.hives.supers == left).all() and (keeper.notes.latest("hive.supers")[0] == left).all()
        assert (world.taken == 20).all() and (world.honey == 0).all()


def _keeper(climate, seeds, name):
    play = Play(climate, shipped(), WORDS, keeping.calendars(), seeds, weeks=4)
    world = Colonies(play.p, play.years, play.numbers, 1, 1)
    adviser = keeping.Adviser(play.profile, WORDS)
    return keeping.AdvisedKeepers(keeping.calendars(), adviser, Jobs(world), 0, (name,))


def test_who_looks_little_looks_for_cells_when_asked():
    """A week after the last look for cells the next is made where it is asked for; into the frames two weeks after."""
    keeper = _keeper("boreal", 2, "few")
    every = np.ones(2, dtype=bool)
    asked = {
        look: Job(every, np.ones(2), np.full(2, np.nan), np.ones(2))
        for look in ("swarm-inspection", "full-inspection", "count-mites")
    }
    keeper.found, keeper.plain = keeper.seeing.facts(), {}
    for week, made in ((0, asked.keys()), (1, {"swarm-inspection"}), (2, {"swarm-inspection", "full-inspection"})):
        keeper.world.day = 7 * week
        keeper.notes.on(dt.date(2027, 6, 1) + dt.timedelta(weeks=week))
        keeper._look_where_asked(asked, np.full(2, 20.0))
        assert {look for look in asked if (keeper.last[look] == week).all()} == set(made), week


def test_a_light_hive_with_cells_is_fed_and_divided_in_one_week(monkeypatch):
    """What waits for the feed comes some days after it; a hive that was not fed, or has no cells, waits on."""
    keeper = _keeper("boreal", 3, "few")
    cells = WORDS.facts["colony.queen_cells"]
    keeper.notes.on(dt.date(2027, 6, 9))
    keeper.notes.say("colony.queen_cells", np.array([cells.encode(word) for word in ("charged", "charged", "none")]))
    every, nan = np.ones(3, dtype=bool), np.full(3, np.nan)
    feed = Job(np.array([True, False, True]), np.ones(3), np.full(3, 2.0), np.ones(3))
    monkeypatch.setattr(
        keeper.adviser, "jobs", lambda *asked: {"split-colony": Job(every, np.ones(3), nan, np.ones(3))}
    )
    keeper._divide_the_fed(dt.date(2027, 6, 9), {})
    assert (keeper.last["split-colony"] == keeping.NEVER).all()
    stores = keeper.world.stores.copy()
    keeper._feed({"litres": "sugar_per_litre_thin"}, feed, feed.where)
    keeper._divide_the_fed(dt.date(2027, 6, 9), {})
    assert (keeper.last["split-colony"] == np.array([0, keeping.NEVER, keeping.NEVER])).all()
    assert keeper.world.stores[2] > stores[2] and keeper.world.stores[1] == stores[1]
