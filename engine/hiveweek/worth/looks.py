"""What looks at hidden colonies find, with their errors, as facts of the vocabulary; many hives at once."""

from __future__ import annotations

import numpy as np

from hiveweek.numbers import Branch
from hiveweek.vocabulary import normal
from hiveweek.vocabulary.model import Vocabulary
from hiveweek.worth.world import QUEENLESS, Colonies

DRAWS = 8


class Seeing:
    """The facts of some lines of a world's colonies on a day.

    Parameters
    ----------
    world : Colonies
    words : Vocabulary
    model : Branch
        The advice's own ``model.*``: what frames, heft and supers mean in its words.
    rows : slice
        Of the world, whole lines.
    exact : ndarray of bool
        The rows of those at which nothing is missed and nothing errs.
    """

    def __init__(self, world: Colonies, words: Vocabulary, model: Branch, rows: slice, exact: np.ndarray):
        self.world, self.words, self.model, self.rows, self.exact = world, words, model, rows, exact
        self.usual = normal.load(words).parts

    def facts(self) -> dict[str, np.ndarray]:
        """Return what a look would find today of all that is played, coded, an array a fact."""
        w, p, m, at = self.world, self.world.p, self.model, self.rows
        draw = np.random.default_rng([w.seed, 300, w.day])
        n, uniform = draw.normal(size=(3, w.seeds)), draw.random((DRAWS, w.seeds))

        def noise(row: int, sd: np.ndarray) -> np.ndarray:
            return np.where(self.exact, 1.0, np.clip(1 + w.tiled(n[row])[at] * sd[at], 0.1, 3))

        def found(row: int, missed: np.ndarray) -> np.ndarray:
            return self.exact | (w.tiled(uniform[row])[at] >= missed[at])

        def code(fact: str, *cases: tuple[np.ndarray | bool, str | bool]) -> np.ndarray:
            out = np.full(len(self.exact), np.nan)
            for where, word in reversed(cases):
                out = np.where(where, self.words.facts[fact].encode(word), out)
            return out

        laying, hives = w.laying[at], w.hives
        flow, dearth, cold = (w.window(name)[at] for name in ("flow", "dearth", "cold"))
        cells, frames, supers = w.cells[at], hives.frames[at], hives.supers[at]
        eggs = laying & (w.brood[:3].sum(axis=0)[at] > p.looks.least_young[at]) & found(0, p.looks.eggs_missed)
        larvae = w.brood[3:9].sum(axis=0)[at] > p.looks.least_young[at]
        sealed = w.sealed[at] > p.looks.least_cells[at]
        swarms = ~np.isnan(w.cells_since[at]) & found(1, p.looks.cells_missed)
        full = 2 * m.bees.comb_side_deep_dm2 * m.bees.worker_cells_per_dm2 * m.bees.brood_fill
        seams = w.bees[at] / p.queens.frame_bees[at] * noise(0, p.looks.seam_sd)
        # The brood is covered; the other bees sit on the combs in use, above and below alike.
        filled = w.honey[at] / p.food.super_kg[at] * m.hive.super_frames
        above = np.where(supers > 0, np.minimum(supers * m.hive.super_frames, filled + p.looks.started_frames[at]), 0)
        nest = np.minimum(frames, cells / full)
        below = np.minimum(frames - nest, w.stores[at] / p.food.frame_kg[at])
        free = np.maximum(seams - nest, 0)
        # A frame of a super holds fewer bees than a deep one; what the brood box does not hold sits above as well.
        shallow = p.queens.super_bees[at] / m.hive.super_frames / p.queens.frame_bees[at]
        over = np.maximum(free * above * shallow / np.maximum(above * shallow + below, 1), seams - frames)
        upstairs = np.minimum(supers * m.hive.super_frames, np.maximum(over, 0) / shallow)
        kilos = w.stores[at] * noise(1, p.looks.stores_sd)
        lifted = w.stores[at] * noise(2, p.looks.heft_sd)
        size = np.where(hives.boxes[at] > 1, m.hive.heft_share_double, 1.0)
        light = (m.hive.heft_light_single_kg + m.hive.heft_middling_single_kg) / 2 * size
        heavy = (m.hive.heft_middling_single_kg + m.hive.heft_heavy_single_kg) / 2 * size
        rate = np.clip(w.per_100[at] / 100, 0, 1)
        sample = np.where(self.exact, p.looks.exact_bees[at], p.looks.sample_bees[at])
        washed = draw_binomial(draw, p.looks.sample_bees[at], rate * p.looks.wash_finds[at])
        drop, cappings = self._tray()
        brood = np.round(np.minimum(frames, cells / full) * 2) / 2
        on_supers = supers > 0
        queen_seen = laying & (self.exact | (w.tiled(uniform[2])[at] < p.looks.queen_seen[at]))
        # Empty cells and half the bees tell that a swarm has left, for some weeks.
        swarmed = w.day - w.swarmed_on[at] <= p.looks.swarm_tells[at]
        swarm_day = np.where(swarmed, w.years.start.toordinal() + w.swarmed_on[at], np.nan)
        ripe = self.usual["supers"]
        seen = {
            "colony.alive": np.ones(len(seams)),
            "colony.frames_of_bees": np.round(np.minimum(frames, seams - upstairs * shallow)),
            "colony.super_frames_of_bees": np.where(supers > 0, np.round(upstairs), np.nan),
            "colony.frames_of_brood": brood,
            "colony.eggs": eggs.astype(float),
            "colony.sealed_brood": np.where(cells > p.looks.least_cells[at], sealed.astype(float), np.nan),
            "colony.youngest_brood": code(
                "colony.youngest_brood", (eggs, "eggs"), (larvae, "young_larvae"), (sealed, "sealed"), (True, "none")
            ),
            "colony.brood_pattern": code(
                "colony.brood_pattern", (cells > p.looks.pattern_cells[at], "solid"), (True, "none")
            ),
            "colony.queen": code(
                "colony.queen",
                (queen_seen, "seen"),
                (self.exact & (w.lays_from[at] >= QUEENLESS), "queenless"),
                (self.exact & ~laying, "virgin"),
                (
                    ~laying
                    & (cells < p.looks.least_cells[at])
                    & (w.tiled(w.years.laying[w.day])[at] > p.looks.broody_laying[at]),
                    "queenless",
                ),  # as a keeper says
                (True, "not_seen"),
            ),
            "colony.queen_event": code("colony.queen_event", (swarmed, "swarmed")),
            "colony.queen_event_on": swarm_day,
            "colony.queen_cells": code("colony.queen_cells", (swarms, "charged"), (True, "none")),
            "colony.robbed": w.robbed[at].astype(float),
            "colony.pollen_in": (~cold & (cells > p.looks.pattern_cells[at])).astype(float),
            "colony.flight": code("colony.flight", (flow, "busy"), (True, "some")),
            "food.stores_kg": np.round(kilos),
            "food.heft": code("food.heft", (lifted < light, "light"), (lifted > heavy, "heavy"), (True, "middling")),
            "food.nectar": code("food.nectar", (flow, "strong"), (dearth | cold, "none"), (True, "some")),
            "mites.sample_bees": sample,
            "mites.sample_mites": np.where(self.exact, np.round(rate * p.looks.exact_bees[at]), washed),
            "mites.drop_per_day": drop,
            "colony.fresh_cappings_on_tray": cappings,
            "mites.method": code("mites.method", (True, self.usual["mites"]["method"])),
            "harvest.super_frames_full": np.where(on_supers, np.round(filled), np.nan),
            "harvest.capped_pct": np.where(
                on_supers, np.where(flow, ripe["capped_pct_in_flow"], ripe["capped_pct_after"]), np.nan
            ),
            "harvest.moisture_pct": np.where(
                on_supers, np.where(flow, ripe["moisture_pct_in_flow"], ripe["moisture_pct_after"]), np.nan
            ),
        }
        return {name: value for name, value in seen.items() if name in self.words.facts}

    def _tray(self) -> tuple[np.ndarray, np.ndarray]:
        """Return what a tray of some days shows: mites a day, and whether crumbs of cappings lie on it."""
        w, p, at = self.world, self.world.p, self.rows
        # Drawn apart, so that a tray leaves the draws of the other looks alone.
        draw = np.random.default_rng([w.seed, 310, w.day])
        spread = np.exp(w.tiled(draw.normal(size=w.seeds))[at] * p.looks.tray_sd[at])
        falls = w.mites[at] * w.falling[at]
        counted = draw.poisson(falls * spread * p.looks.tray_days[at]) / p.looks.tray_days[at]
        hatched = w.brood[-int(p.looks.tray_days[0]) :].sum(axis=0)[at] > p.looks.least_young[at]
        return np.round(np.where(self.exact, falls, counted), 1), hatched.astype(float)


def draw_binomial(draw: np.random.Generator, number: np.ndarray, rate: np.ndarray) -> np.ndarray:
    """Return a count of each row by its own chance, from the same uniform draws whatever the rates are."""
    from scipy.stats import binom

    return binom.ppf(draw.random(len(rate)), number, rate)
