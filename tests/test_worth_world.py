"""The simulated world of the worth of the advice: same seed, same world; published figures come out or are explained."""

import dataclasses

import numpy as np
import pytest

from hiveweek.numbers import shipped
from hiveweek.worth.figures import figures, held
from hiveweek.worth.keepers import calendars
from hiveweek.worth.place import drawn
from hiveweek.worth.runs import Play

SEEDS = 100


def play(climate, weeks=52, **more):
    return Play(climate, shipped(), None, calendars(), seeds=SEEDS, weeks=weeks, **more)


@pytest.fixture(scope="module")
def beside():
    """Every published figure with what the world gives."""
    return {one.figure["id"]: one for one in held(play)}


@pytest.mark.parametrize("name", [figure["id"] for figure in figures()])
def test_a_published_figure_comes_out_or_is_explained(beside, name):
    one = beside[name]
    assert np.isfinite(one.value)
    assert one.inside or one.figure.get("explained"), (
        f"{one.value:.4g} lies outside {one.figure['low']} to {one.figure['high']}"
    )


def test_most_figures_held_apart_come_out(beside):
    apart = [one for one in beside.values() if not one.figure.get("fitted")]
    assert len(apart) >= 25 and sum(one.inside for one in apart) > len(apart) / 2


def test_same_seed_same_world_and_numbers_inside_their_bands():
    one, two, other = play("boreal"), play("boreal"), play("boreal", seed=2)
    assert (one.years.mean == two.years.mean).all() and not (one.years.mean == other.years.mean).all()
    for name, row in shipped().under("world").items():
        _, group, last = name.split(".")
        values = getattr(getattr(one.p, group), last)
        assert (values >= row.low).all() and (values <= row.high).all()
    kept = drawn(shipped(), SEEDS, 1, {"mites.growth": 0.03})
    assert (kept.mites.growth == 0.03).all() and (kept.bees.gone == one.p.bees.gone).all()


def test_what_a_keeper_does_changes_no_chance_of_others():
    alone, beside = (
        play("alpine_valley").run(("calendar",)),
        play("alpine_valley").run(("nothing", "calendar", "untreated")),
    )
    for name, weeks in alone.weeks.items():
        assert np.allclose(weeks[:, 0], beside.weeks[name][:, 1])


def test_each_danger_costs_colonies_in_a_cold_place():
    dangers = ("untreated", "unfed", "vent shut", "far too large", "queen lost")
    course = dataclasses.replace(play("cool_continental"), seeds=400).run(("calendar", *dangers))
    kept = course.survived[0]
    for danger in dangers:
        spoiled = course.survived[course.line(danger)]
        # the same seeds twice: colonies that only the danger ends, less those that only it saves, beside their chance spread
        worse, better = (kept & ~spoiled).sum(), (spoiled & ~kept).sum()
        assert worse - better > 2 * np.sqrt(worse + better), danger
