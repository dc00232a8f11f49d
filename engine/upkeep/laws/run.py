"""Runs laws over many hives and counts."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from types import ModuleType

import numpy as np

from upkeep.laws import days, law_a, law_b, law_c, law_f, law_g, law_h, law_i, law_k, law_l, law_m, law_n
from upkeep.laws.bench import Bench, Break
from upkeep.laws.days import Walked
from upkeep.laws.hives import Hives
from upkeep.laws.witness import as_yaml, shrunk

LAWS: dict[str, ModuleType | Walked] = {
    law.LAW: law for law in (law_a, law_b, law_c, law_f, law_g, law_h, law_i, law_k, law_l, law_m, law_n, *days.LAWS)
}
# The aim, hives in a thousand that may break a law: none where an advice would be wrong or missing, few where words and order differ.
BOUNDS = {"C": 5.0, "H": 5.0, "K": 5.0, "L": 5.0, "M": 5.0}
# What has been reached where the aim is not: more than this is a step back. One day's laws from runs of 200 hives with several seeds:
# of 1,000 hives none broke F, G or I (a single one would be 1); A, B and N as bounds for runs of 400, in which one is 2.5 (A: 2 of 100
# with another seed, both in the order of two jobs); the laws along days as bounds for runs of 48, in which one is 21. Narrow these as
# larger runs allow.
REACHED = dict.fromkeys("FGI", 1.0) | dict.fromkeys("ABN", 2.5)
REACHED |= {"D": 25.0, "E": 25.0, "J": 25.0}


def aimed(law: str) -> float:
    """Return the hives in a thousand that may break a law by its aim."""
    return BOUNDS.get(law, 0.0)


def reached(law: str) -> float:
    """Return the hives in a thousand over which a law has gone a step back: its aim, or what was reached so far."""
    return max(aimed(law), REACHED.get(law, 0.0))


@dataclass
class Tally:
    """What a run found.

    Attributes
    ----------
    hives : int
        Hives answered.
    broken : dict of str to int
        Law -> hives at which it is broken at least once.
    kinds : Counter
        (law, kind) -> how often.
    found : dict
        (law, kind) -> the first break of the kind.
    """

    bench: Bench
    hives: int = 0
    broken: dict[str, int] = field(default_factory=dict)
    kinds: Counter = field(default_factory=Counter)
    found: dict[tuple[str, str], Break] = field(default_factory=dict)

    def per_1000(self, law: str) -> float:
        """Return the hives in a thousand that break a law."""
        return 1000.0 * self.broken[law] / max(1, self.hives)

    def over(self) -> list[str]:
        """Return the laws that are broken more often than was reached before."""
        return [law for law in self.broken if self.per_1000(law) > reached(law)]


def run(laws: list[str], hives: int, seed: int, bench: Bench | None = None) -> Tally:
    """Try laws on random and aimed hives.

    Parameters
    ----------
    laws : list of str
        Letters.
    hives : int
        How many.
    seed : int
        The same seed gives the same hives, whichever laws are tried.
    """
    tally = Tally(bench or Bench(), broken=dict.fromkeys(laws, 0))
    for yard in Hives(tally.bench.words, np.random.default_rng(seed)).yards(hives):
        tally.hives += len(yard.scenario.hives)
        for law in laws:
            rows = set()
            for one in LAWS[law].breaks(tally.bench, yard, None):
                rows.add(one.row)
                tally.kinds[law, one.kind] += 1
                tally.found.setdefault((law, one.kind), one)
            tally.broken[law] += len(rows)
    return tally


def report(tally: Tally, witnesses: int = 0) -> str:
    """Return the table of a run: breaks by law and kind, and witnesses of the commonest kinds."""
    lines = ["law  per 1,000     aim  reached"]
    for law in tally.broken:
        lines.append(f"{law:<4} {tally.per_1000(law):10.1f} {aimed(law):7.1f} {reached(law):8.1f}")
        common = [(n, kind) for (of, kind), n in tally.kinds.most_common() if of == law]
        lines += [f"         {n:6d}  {kind}" for n, kind in common[:25]]
        for _, kind in common[:witnesses]:
            small = shrunk(tally.bench, tally.found[law, kind], LAWS[law].breaks)
            lines += [f"--- {law}: {kind}", f"    {small.text}", as_yaml(small.yard.scenario)]
    return "\n".join(lines)
