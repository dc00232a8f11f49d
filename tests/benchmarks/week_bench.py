"""What the week's answer costs: the whole command against loading its libraries, and each inference channel.

    python tests/benchmarks/week_bench.py [--runs 9] [--hives 100]

Ratios are of medians of runs that take turns, so that a busy machine slows both alike.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time

import numpy as np

from hiveweek import climate, rules, vocabulary
from hiveweek.inference import channel, rete
from hiveweek.inference.columnar import infer
from hiveweek.inference.network import compile_network
from hiveweek.rules import traits_of
from upkeep.sample import random_table

LIBRARIES = [sys.executable, "-c", "import yaml, jsonschema, rich, numpy"]
WEEK = [sys.executable, "-m", "hiveweek.cli.main", "week", "--offline"]


def run(command, environment) -> tuple[float, float]:
    """Return the wall and the processor time of a command, in seconds."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.perf_counter()
    subprocess.run(command, env=environment, stdout=subprocess.DEVNULL, check=True)
    wall = time.perf_counter() - begun
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def whole_process(runs: int) -> list[tuple[str, float, float]]:
    """Return (name, wall ratio, processor ratio) of the demo week, kept and not kept, against loading the libraries."""
    with tempfile.TemporaryDirectory() as folder:
        # As installed: modules compiled once, whatever this shell says.
        plain = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        plain["PYTHONPYCACHEPREFIX"] = f"{folder}/compiled"
        kept = plain | {"HIVEWEEK_CACHE": f"{folder}/kept"}
        none = plain | {"HIVEWEEK_NO_CACHE": "1"}
        cases = {
            "libraries alone": (LIBRARIES, kept),
            "week, read before": (WEEK, kept),
            "week, read anew": (WEEK, none),
        }
        for command, environment in cases.values():
            run(command, environment)
        found: dict[str, list] = {name: [] for name in cases}
        for _ in range(runs):
            for name, (command, environment) in cases.items():
                found[name].append(run(command, environment))
    wall, used = ({name: statistics.median(r[k] for r in got) for name, got in found.items()} for k in (0, 1))
    base = "libraries alone"
    print(f"libraries alone: {wall[base]:.2f} s wall, {used[base]:.2f} s processor")
    return [(name, wall[name] / wall[base], used[name] / used[base]) for name in cases]


def median_time(work, runs: int) -> float:
    """Return the median wall time of a piece of work."""
    times = []
    for _ in range(runs):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return statistics.median(times)


def channels(hives: int, runs: int) -> list[tuple[str, float]]:
    """Return (name, value) of both channels on the shipped rules and of what the isolation costs."""
    words = vocabulary.load()
    place = climate.load_profile("long_snow_cover")
    ruleset = rules.load(place.id, traits_of(place), vocabulary=words)
    table = random_table(words, hives, np.random.default_rng(1), one_yard=True)
    single = random_table(words, 8, np.random.default_rng(2), one_yard=True)
    inference = infer(ruleset, single)
    columnar = median_time(lambda: infer(ruleset, table), runs)
    rows = [("rules", float(len(ruleset.rules))), ("columnar, hives a second", hives / columnar)]
    if rete.available():
        network = compile_network(ruleset)
        # The library keeps what it is given; a process of its own for each run, as in use.
        apart = median_time(lambda: channel.Started.on(ruleset, table).raw(), runs)
        small = median_time(lambda: channel.Started.on(ruleset, single).finish(inference), runs)
        here = median_time(lambda: rete.run(network, single), 3)
        rows += [
            ("second channel, hives a second", hives / apart),
            ("second channel over columnar, times the time", apart / columnar),
            ("8 hives: own process over same process", small / here),
        ]
    return rows


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=9)
    parser.add_argument("--hives", type=int, default=100)
    args = parser.parse_args()
    print(f"\n{'demo week against its libraries':34}{'wall':>8}{'processor':>12}")
    for name, wall, used in whole_process(args.runs):
        print(f"{name:34}{wall:8.2f}{used:12.2f}")
    print()
    for name, value in channels(args.hives, max(3, args.runs // 2)):
        print(f"{name:44}{value:12.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
