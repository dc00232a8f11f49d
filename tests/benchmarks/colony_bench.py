"""Time and memory of the colony models for many hives in one process.

python tests/benchmarks/colony_bench.py [--hives 1000000]
"""

from __future__ import annotations

import argparse
import datetime as dt
import resource
import time

import numpy as np

from hiveweek import climate
from hiveweek.colony import damp, feeding, food, heat, mites, points, population, runway, stores, strength, year
from hiveweek.colony.estimate import Estimate
from hiveweek.colony.runway import Horizon
from hiveweek.numbers import shipped


def main() -> int:
    """Run every model over the hives and print hives a second and the peak of memory."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--hives", type=int, default=1_000_000)
    n = parser.parse_args().hives
    random = np.random.default_rng(1)
    place = climate.load_profile("cool_continental")
    usual = year.usual_year(place.daily, place.calendar)
    past, ahead = year.around(usual.days, dt.date(2026, 2, 10))
    frames = random.uniform(2, 20, n)
    board = random.integers(0, 2, n).astype(float)
    kg = random.uniform(1, 25, n)
    age = random.integers(0, 60, n).astype(float)
    found = random.integers(0, 20, n).astype(float)
    brood = np.where(random.random(n) < 0.5, np.nan, random.uniform(0, 4_000, n))
    zero = np.zeros(n)
    total, kept = 0.0, {}

    def timed(name, work):
        nonlocal total
        begun = time.perf_counter()
        kept[name] = work()
        spent = time.perf_counter() - begun
        total += spent
        print(f"{name:34s} {spent:8.2f} s  {n / spent:14,.0f} hives/s")
        return kept[name]

    bees = timed("bees from frames", lambda: strength.bees(frames, 8.8)).value
    loss = timed("heat loss of the hive", lambda: heat.hive_w_per_k(1.0, zero, board, board, zero))
    timed("bees carried forward 60 days", lambda: population.carry_forward(bees, brood, age, past.laying, past.dying))
    now = timed(
        "stores carried forward 60 days",
        lambda: stores.carry_forward(Estimate(kg, kg, kg), age, bees, brood, loss, past),
    )
    run = timed("runway and need, up to a year", lambda: runway.runway(bees, brood, now, loss, ahead, Horizon(47)))
    timed("feed", lambda: feeding.feed_for(now.value, run.need_kg.value, run.use_check_kg))
    watts = heat.colony_heat_w(bees, zero, -2.0, loss)
    per_day = watts * 86_400 / (shipped().model.heat.honey_energy_mj_per_kg * 1e6)
    timed(
        "damp under the lid",
        lambda: damp.lid_margin_c(watts, per_day, loss, -2.0, 85.0, board, zero, zero, zero),
    )
    timed("what insulation saves", lambda: food.winter_saving(bees, loss, loss * 0.6, usual.days))
    timed("mite rate and interval", lambda: mites.rate(found, 300.0, zero))
    timed("chance over the limit", lambda: mites.chance_over(found, 300.0, 3.0, zero))
    timed(
        "points of treating",
        lambda: points.treating(lambda limit: mites.chance_over(found, np.full(n, 300.0), limit, zero), 1.0),
    )
    timed("more bees to sample", lambda: mites.more_bees(found, np.full(n, 300.0), 3.0))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{'all':34s} {total:8.2f} s  {n / total:14,.0f} hives/s; peak memory {peak:,.0f} MB")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
