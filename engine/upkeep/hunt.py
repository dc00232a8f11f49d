"""A long search for rulesets on which the two inference channels differ.

    python -m upkeep.hunt --rulesets 5000 [--seed 1]

Each batch of rulesets runs in a process of its own, because the second channel's library never gives the memory of a
ruleset back. A batch whose process dies or hangs is run again ruleset by ruleset, so that the culprit is named.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import time
from dataclasses import dataclass, field
from multiprocessing.context import ForkContext, SpawnContext

from hiveweek.inference import channel, rete
from hiveweek.inference.columnar import infer
from hiveweek.inference.network import compile_network
from upkeep.specimens import specimen

BATCH = 25
DEADLINE_S = 120.0


@dataclass
class Catch:
    """What a hunt found.

    Attributes
    ----------
    tried : int
        Rulesets compared.
    compared : int
        Outcomes (a rule, finding, prohibition or bar at one hive) compared.
    left_out : int
        Rules and findings that the second channel cannot carry.
    findings : list of (int, str)
        Seed and words: each difference, death or hang.
    """

    tried: int = 0
    compared: int = 0
    left_out: int = 0
    findings: list = field(default_factory=list)


def compare_one(seed: int) -> tuple[int, int, list[str]]:
    """Compare the channels on the ruleset of one seed, in this process.

    Returns
    -------
    tuple of (int, int, list of str)
        Outcomes compared, rules left out, differences in words.
    """
    ruleset, table = specimen(seed)
    inference = infer(ruleset, table)
    network = compile_network(ruleset)
    answer = rete.run(network, table)
    compared = (len(network.tops) + len(network.pairs)) * len(table)
    return compared, len(network.cannot), [str(d) for d in channel.compare(inference, answer)]


def _batch(pipe, seeds) -> None:
    found = []
    for seed in seeds:
        try:
            found.append((seed, *compare_one(seed)))
        except Exception as error:  # an error of either channel is a finding too
            found.append((seed, 0, 0, [f"{type(error).__name__}: {error}"]))
    pipe.send(found)
    pipe.close()


def _run(seeds, deadline: float):
    """Run seeds in a fresh process; return its findings, or words on how it ended without any."""
    context: ForkContext | SpawnContext
    if "fork" in multiprocessing.get_all_start_methods():
        context = multiprocessing.get_context("fork")
    else:
        context = multiprocessing.get_context("spawn")
    near, far = context.Pipe(duplex=False)
    process = context.Process(target=_batch, args=(far, list(seeds)), daemon=True)
    process.start()
    far.close()
    try:
        if not near.poll(deadline):
            return f"no answer within {deadline:g} s"
        return near.recv()
    except EOFError:
        process.join(5.0)
        return f"its process ended with code {process.exitcode}"
    finally:
        process.join(0.2)
        if process.is_alive():
            process.kill()
            process.join(5.0)
        near.close()


def hunt(rulesets: int, seed: int = 1, deadline: float = DEADLINE_S, say=None) -> Catch:
    """Compare the channels on many random rulesets.

    Parameters
    ----------
    rulesets : int
        How many; seeds ``seed`` to ``seed + rulesets - 1``.
    deadline : float
        Seconds for one batch.
    say : callable, optional
        Called with a line of progress now and then.

    Returns
    -------
    Catch
    """
    catch = Catch()
    for first in range(seed, seed + rulesets, BATCH):
        seeds = range(first, min(first + BATCH, seed + rulesets))
        found = _run(seeds, deadline)
        if isinstance(found, str):
            found = []
            for one in seeds:
                alone = _run([one], deadline)
                found += [(one, 0, 0, [alone])] if isinstance(alone, str) else alone
        for one, compared, left_out, words in found:
            catch.tried += 1
            catch.compared += compared
            catch.left_out += left_out
            catch.findings += [(one, text) for text in words]
        if say and (first - seed) // BATCH % 20 == 19:
            say(f"{catch.tried} rulesets, {len(catch.findings)} findings")
    return catch


def main(words=None) -> int:
    """Hunt from the command line: 0 nothing found, 1 something found, 2 the second channel cannot run here."""
    parser = argparse.ArgumentParser(prog="python -m upkeep.hunt", description=__doc__.splitlines()[0])
    parser.add_argument("--rulesets", type=int, default=1000, help="how many random rulesets")
    parser.add_argument("--seed", type=int, default=1, help="seed of the first; the others follow")
    args = parser.parse_args(words)
    if not rete.available():
        print("the second channel needs Python below 3.13 and the durable-rules library", file=sys.stderr)
        return 2
    begun = time.perf_counter()
    catch = hunt(args.rulesets, args.seed, say=print)
    for seed, text in catch.findings:
        print(f"seed {seed}: {text}", file=sys.stderr)
    print(
        f"{catch.tried} rulesets, {catch.compared} outcomes compared, {catch.left_out} rules the second channel does not carry, "
        f"{len(catch.findings)} findings, {time.perf_counter() - begun:.0f} s"
    )
    return 1 if catch.findings else 0


if __name__ == "__main__":
    sys.exit(main())
