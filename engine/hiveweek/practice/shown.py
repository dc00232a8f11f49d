"""What a hidden colony shows to a look, with its errors, and what a job does to it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping

import numpy as np

from hiveweek.colony import heat, strength
from hiveweek.plan.model import Advice
from hiveweek.practice.outcome import said_of
from hiveweek.practice.world import Colony, World
from hiveweek.record.entries import Plain
from hiveweek.vocabulary.model import Vocabulary
from hiveweek.vocabulary.normal import Normal


class Shown:
    """Looks at the colonies of a world, and acts on them.

    Parameters
    ----------
    world : World
    words : Vocabulary
    normal : Normal
        What a look finds of all that is not played (that nothing is wrong), how ripe honey is, and how mites are sampled.
    """

    def __init__(self, world: World, words: Vocabulary, normal: Normal):
        self.world, self.words, self.normal = world, words, normal
        self.healthy = {
            name: value for name, value in normal.parts["seen"].items() if words.facts[name].scope != "apiary"
        }

    # --- looks
    def facts(
        self, hive: str, observes: Iterable[str], day: dt.date, known: Mapping[str, Plain], draw: np.random.Generator
    ) -> dict[str, Plain]:
        """Return what a look finds of the facts that it observes."""
        colony = self.world.colonies[hive]
        wanted = set(observes)
        if colony.ended:
            return {"colony.alive": False} if "colony.alive" in wanted else {}
        told = self._told(colony, day, known, draw)
        found = {fact: value for fact, value in self.healthy.items() if fact in wanted and fact not in told}
        found |= {fact: say() for fact, say in told.items() if fact in wanted}
        if "mites.method" in wanted:
            found["mites.method"] = self.normal.parts["mites"]["method"]
        return found

    def _told(
        self, colony: Colony, day: dt.date, known: Mapping[str, Plain], draw: np.random.Generator
    ) -> dict[str, Callable[[], Plain]]:
        n, p = self.world.played, self.world.truth
        frames, supers = self._room(known)
        laying = colony.lays_from is not None and colony.lays_from <= day
        eggs = laying and colony.cells > 0 and draw.random() > n.look_misses
        cells = colony.cells_since is not None and draw.random() > n.look_misses
        seams = colony.bees / self.world.frame_bees * max(0.0, draw.normal(1, p.bees.seam_count_sd))
        full = 2 * p.bees.comb_side_deep_dm2 * p.bees.worker_cells_per_dm2 * p.bees.brood_fill
        bees = int(self.normal.parts["mites"]["sample_bees"])
        rate = min(1.0, colony.per_100 / 100 * (p.mites.adult_share_full if colony.cells > 0 else 1.0))
        factor = p.mites.drop_factor_full if colony.cells > 0 else p.mites.drop_factor_none
        kilos = colony.stores_kg * max(0.0, draw.normal(1, n.stores_sd))
        season = self.world.season(day)
        window = "flow" if season["season.flow"] else "dearth" if season["season.dearth"] else ""
        ripe = self.normal.parts["supers"]
        when = "in_flow" if window == "flow" else "after"
        filled = colony.honey_kg / n.super_kg * p.hive.super_frames if supers else 0.0
        above: dict[str, Callable[[], Plain]] = {
            "colony.super_frames_of_bees": lambda: round(
                max(0.0, min(supers * p.hive.super_frames, seams - frames)), 0
            ),
            "harvest.super_frames_full": lambda: round(filled, 0),
            "harvest.capped_pct": lambda: ripe[f"capped_pct_{when}"],
            "harvest.moisture_pct": lambda: ripe[f"moisture_pct_{when}"],
        }
        return {
            **(above if supers else {}),
            "colony.alive": lambda: True,
            "colony.frames_of_bees": lambda: round(min(frames, seams), 0),
            "colony.frames_of_brood": lambda: round(min(frames, colony.cells / full), 0),
            "colony.eggs": lambda: bool(eggs),
            "colony.queen": lambda: "seen" if laying and draw.random() < n.queen_seen else "not_seen",
            "colony.queen_cells": lambda: "charged" if cells else "none",
            "colony.brood_pattern": lambda: (
                "none" if colony.cells < n.broodless_cells else "patchy" if colony.foul else "solid"
            ),
            "colony.robbed": lambda: colony.robbed,
            "food.stores_kg": lambda: round(kilos, 0),
            "food.heft": lambda: self._heft(kilos, known),
            "food.nectar": lambda: "strong" if window == "flow" else "none" if window == "dearth" else "some",
            "food.reaches_cluster": lambda: colony.stores_kg > 0,
            "health.ropy_larvae": lambda: colony.foul and colony.cells > 0,
            "health.sunken_caps": lambda: colony.foul and colony.cells > 0,
            "health.off_colour_larvae": lambda: False,
            "mites.sample_bees": lambda: bees,
            "mites.sample_mites": lambda: int(draw.binomial(bees, rate)),
            "mites.drop_per_day": lambda: int(draw.poisson(colony.mites / factor)),
        }

    def _room(self, known: Mapping[str, Plain]) -> tuple[float, float]:
        """Frames and supers of a hive."""
        frames, supers = known.get("hive.frames", self.world.truth.heat.box_frames), known.get("hive.supers", 0)
        return float(frames), float(supers)  # type: ignore[arg-type]

    def _heft(self, kilos: float, known: Mapping[str, Plain]) -> str:
        """The word of a hand that lifts: the one whose usual stores are the nearest."""
        size = strength.SIZES.index(str(known.get("hive.size", "single")))
        usual = strength.stores_from_heft(range(len(strength.HEFTS)), size, p=self.world.truth).value
        return strength.HEFTS[int(np.argmin(np.abs(usual - kilos)))]

    def standing(self, known: Mapping[str, Plain]) -> dict[str, float | bool]:
        """Return what the world has to know of how a hive stands."""
        insulation, size = str(known.get("hive.insulation")), str(known.get("hive.size", "single"))
        p, (frames, supers) = self.world.truth, self._room(known)
        loss = heat.hive_w_per_k(
            strength.BOXES[size],
            float(known.get("hive.walls") == "polystyrene"),
            float("roof" in insulation),
            float("wrap" in insulation),
            float(known.get("hive.floor") == "mesh"),
            {"small": p.heat.vent_small_share, "large": 1.0}.get(str(known.get("hive.top_vent")), 0.0),
            area_share=p.heat.nuc_area_share if size == "nuc" else 1.0,
            p=p,
        )
        return {
            "frames": frames,
            "supers": supers,
            "w_per_k": float(loss),
            "narrow": known.get("hive.entrance") == "reduced",
        }

    # --- jobs
    def details(self, advice: Advice) -> dict[str, str] | None:
        """Return what is said with a job that is done as the answer says it; None where the answer does not tell all of it."""
        found = said_of(self.words, advice)
        return None if found is None else {name: str(value) for name, value in found.items()}

    def act(self, hive: str, action: str, details: Mapping[str, Plain], day: dt.date) -> float:
        """Let a job act on its colony; return the honey that was taken, in kg.

        Food goes in, a treatment acts over its days, a swarm is forestalled by a split or by room, two colonies become one. What
        the models do not know changes nothing.
        """
        colony, effect = self.world.colonies[hive], self.words.effects[action]
        if colony.ended:
            return 0.0
        n, p = self.world.played, self.world.truth
        for name, number in effect.sugar.items():
            said = details.get(name)
            if isinstance(said, int | float):
                colony.stores_kg += float(said) * float(getattr(p.food, number)) * p.food.stores_per_sugar
        if effect.treats:
            self._treat(colony, str(details.get("active") or effect.treats), day)
        if effect.act == "splitting":
            colony.bees, colony.cells = colony.bees / 2, colony.cells / 2
            colony.mites, colony.stores_kg = colony.mites / 2, colony.stores_kg / 2
            colony.cells_since = None
        elif effect.act == "requeening":
            colony.lays_from = day + dt.timedelta(days=int(n.queen_days))
        elif effect.act == "uniting":
            self._unite(hive, str(details.get("partner") or ""))
        elif effect.act == "treatment_end":
            colony.course = None
        if effect.act == "harvest" or "hive.supers" in effect.told:
            taken, colony.honey_kg = colony.honey_kg, 0.0
            return taken
        return 0.0

    def _treat(self, colony: Colony, active: str, day: dt.date) -> None:
        n, mites = self.world.played, self.world.truth.mites
        last = self.words.facts["mites.last_active"]
        one_day = active in last.values and last.encode(active) in last.codes("one_day")
        broodless = one_day and colony.cells < n.broodless_cells
        name = f"left_{active}_broodless" if broodless and f"left_{active}_broodless" in mites else f"left_{active}"
        left = float(getattr(mites, name)) if name in mites else float(mites.left_unknown)
        days = 1 if one_day else int(n.course_days)
        colony.course = (day, day + dt.timedelta(days=days - 1), left ** (1 / days))

    def _unite(self, hive: str, partner: str) -> None:
        other = self.world.colonies.get(partner)
        colony = self.world.colonies[hive]
        if other is None or other.ended or other is colony:
            return
        other.bees += colony.bees
        other.cells += colony.cells
        other.mites += colony.mites
        other.stores_kg += colony.stores_kg
        colony.ended = "united"
        colony.bees = colony.cells = colony.mites = colony.stores_kg = 0.0
