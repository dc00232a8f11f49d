"""A normal healthy colony for a walk through the year: what stands on the hive, what a look finds, what following advice changes."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field

import numpy as np

from hiveweek.climate.profiles import Profile
from hiveweek.colony import mites as mite_model
from hiveweek.colony import population
from hiveweek.colony.estimate import Estimate
from hiveweek.colony.year import income_share, plain
from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from hiveweek.numbers import shipped
from hiveweek.record.answered import Given
from hiveweek.record.entries import Entry, Kind
from hiveweek.vocabulary.model import Vocabulary
from hiveweek.vocabulary.normal import Normal

HIVE = "N"
FORAGE_WINDOWS = ("cold", "flow", "dearth")
WEEK = 7


@dataclass
class Colony:
    """The normal colony on its way through a year.

    Parameters
    ----------
    normal : Normal
    words : Vocabulary
    profile : Profile
        The climate it lives in.
    start : date
        First day of the walk.
    given : dict of str to plain value
        Facts of a user's hive that replace the declared ones.
    """

    normal: Normal
    words: Vocabulary
    profile: Profile
    start: dt.date
    given: dict = field(default_factory=dict)

    def __post_init__(self):
        parts = self.normal.parts
        self.season = self._season(self.start)
        equipment = {**parts["equipment"], **(parts["equipment_in_the_cold"] if self.season["season.cold"] else {})}
        own = {k: v for k, v in self.given.items() if self._keeps(k)}
        self.now: dict = {**equipment, **{k: v for k, v in own.items() if not self._of_yard(k)}}
        self.yard: dict = {**parts["yard"], **{k: v for k, v in self.given.items() if self._of_yard(k)}}
        self.always = {k: v for k, v in self.given.items() if not self._keeps(k) and not self._of_yard(k)}
        self.history: list[tuple[dt.date, dict]] = [(self.start, dict(self.now))]
        self.stores_kg = float(parts["stores"]["least_kg"])
        self.need_kg = math.nan
        self.use_kg_week = 0.0
        self.bees = math.nan
        self.level = float(parts["mites"]["start_per_100"])
        self.honey_frames = 0.0
        since = "start_days_in_the_cold" if self.season["season.cold"] else "start_days"
        self.counters = {
            fact.id: int(parts["looked"][since])
            for fact in self.words.facts.values()
            if fact.group == "log" and fact.days_since and fact.days_since != ("observed",)
        }
        looks = {
            fact: {a.opens for a in self.words.actions.values() if fact in a.observes} for fact in self.words.facts
        }
        groups = parts["looked"]["with_frames_out"]
        self.below_the_lid = {
            fact for fact, opens in looks.items() if opens == {"frames"} and self.words.facts[fact].group in groups
        }
        self.opened = False
        self.done: dict[str, tuple[dt.date, dict]] = {}
        self._sample(self.start)

    def _keeps(self, fact: str) -> bool:
        return self.words.facts[fact].comes_from == "equipment"

    def _of_yard(self, fact: str) -> bool:
        return self.words.facts[fact].scope == "apiary"

    def _season(self, date: dt.date) -> dict:
        return {name: plain(value) for name, value in self.profile.calendar.facts(date).items()}

    def _sample(self, date: dt.date) -> None:
        """Count the mites in a sample of bees: as many as the level lets expect."""
        body = self.normal.parts["mites"]
        found = round(self.level * body["sample_bees"] / 100)
        self.history.append(
            (
                date,
                {"mites.sample_mites": found, "mites.sample_bees": body["sample_bees"], "mites.method": body["method"]},
            )
        )

    def _drop(self, date: dt.date) -> None:
        """Count the mites that fall in a day; without a known number of bees a sample is taken."""
        state = {"none": 0.0, "full": 2.0}.get(self.season["season.brood"], 1.0)
        of_one = float(mite_model.rate_from_drop(np.array([1.0]), np.array([state]), np.array([self.bees])).value[0])
        if math.isnan(of_one):
            self._sample(date)
        else:
            self.history.append((date, {"mites.drop_per_day": round(self.level / of_one, 1)}))

    # --- what a look finds
    def seen(self) -> dict:
        """Return everything that this week's looks find, as plain values."""
        parts = self.normal.parts
        season = self.season
        window = next((w for w in FORAGE_WINDOWS if season[f"season.{w}"]), "else")
        brood = dict(parts["by_brood"][season["season.brood"]])
        bees = float(parts["bees_frames"][season["season.phase"]])
        frames, supers = float(self.now["hive.frames"]), int(self.now["hive.supers"])
        below = min(bees, frames)
        brood["colony.frames_of_brood"] = min(brood["colony.frames_of_brood"], frames)
        facts = {
            **parts["seen"],
            **brood,
            **parts["by_forage"][window],
            "colony.frames_of_bees": below,
            **self._stores(frames),
            "colony.super_frames_of_bees": min(bees - below, supers * shipped().model.hive.super_frames),
            "harvest.super_frames_full": self.honey_frames,
        }
        if supers and self.honey_frames:
            honey = parts["supers"]
            when = "in_flow" if window == "flow" else "after"
            facts["harvest.capped_pct"] = honey[f"capped_pct_{when}"]
            facts["harvest.moisture_pct"] = honey[f"moisture_pct_{when}"]
        facts.update(self.counters)
        if not self._frames_lifted():
            facts = {name: value for name, value in facts.items() if name not in self.below_the_lid}
        facts.update(self.always)
        return facts

    def _frames_lifted(self) -> bool:
        """Whether this week's look reaches the brood: not in the cold, and after it not before the plan first asks."""
        body, phase = self.normal.parts["frames"], self.season["season.phase"]
        return phase not in body["shut"] and (phase not in body["shut_until_asked"] or self.opened)

    def _stores(self, frames: float) -> dict:
        body = self.normal.parts["stores"]
        kg = min(self.stores_kg, body["most_kg_a_frame"] * frames)
        need = 0.0 if math.isnan(self.need_kg) else self.need_kg
        words = {"heavy": body["heavy_from_share"], "middling": body["light_under_share"]}
        heft = next((word for word, share in words.items() if kg >= share * need), "light")
        return {"food.stores_kg": round(kg, 1), "food.heft": heft}

    def _fill(self, share: str) -> None:
        """Bring the stores up to a share of the need; they are not taken down to it."""
        if not math.isnan(self.need_kg):
            self.stores_kg = max(self.stores_kg, self.normal.parts["stores"]["share"][share] * self.need_kg)

    def scenario(self, date: dt.date) -> Scenario:
        """Return this week's question."""
        hive = ScenarioHive(HIVE, self.seen(), list(self.history))
        return Scenario(
            f"a normal colony on {date}", self.profile.id, date, [hive], Apiary("a usual yard", dict(self.yard))
        )

    def answered(self) -> dict[str, Given]:
        """Return what was done in the weeks before, by action: for a while it is not asked again, unless what it rests on has changed."""
        now = self.seen()
        return {
            action: Given(
                done=Entry("", Kind.DONE, "", None, day, action=action),
                seen={name for name, value in now.items() if then.get(name) != value},
            )
            for action, (day, then) in self.done.items()
        }

    # --- from week to week
    def follow(self, actions: list, date: dt.date) -> None:
        """Do what this week's plan says.

        Parameters
        ----------
        actions : list of Advice
            As advised, in rank order.
        date : date
            The day of the plan; the work is done on it.
        """
        looked: set[str] = set()
        found = self.seen()
        for advice in actions:
            self._do(advice, self.normal.effects[advice.action], date)
            self.done[advice.action] = (date, found)
            looked.update(self.words.actions[advice.action].observes)
            self.opened = self.opened or bool(self.below_the_lid & set(self.words.actions[advice.action].observes))
        for name in self.counters:
            if looked & set(self.words.facts[name].days_since):
                self.counters[name] = 0

    def _do(self, advice, effect: dict, date: dt.date) -> None:
        changes = dict(effect.get("set") or {})
        for fact, step in (effect.get("add") or {}).items():
            changes[fact] = max(0, self.now.get(fact, 0) + step)
        changes.update(dict.fromkeys(effect.get("today") or (), date))
        if effect.get("stores") == "after_harvest" and not math.isnan(self.need_kg):
            share = self.normal.parts["stores"]["share"]["after_harvest"]
            self.stores_kg = min(self.stores_kg, share * self.need_kg)
        elif effect.get("stores"):
            self._fill(effect["stores"])
        if effect.get("treat"):
            changes.update(self._treatment(advice, effect["treat"], date))
            self.level *= float(effect.get("mites", 1.0))
        if effect.get("count") == "sample":
            self._sample(date)
        elif effect.get("count") == "drop":
            self._drop(date)
        if changes.get("hive.supers") == 0:
            self.honey_frames = 0.0
        self.yard.update({k: v for k, v in changes.items() if self._of_yard(k)})
        self.always.update(
            {k: v for k, v in changes.items() if self.words.facts[k].comes_from == "observed" and not self._of_yard(k)}
        )
        own = {k: v for k, v in changes.items() if not self._of_yard(k) and k not in self.always}
        if own:
            self.now.update(own)
            self.history.append((date, own))

    @staticmethod
    def _treatment(advice, choices: list[dict], date: dt.date) -> dict:
        allowed = {option["active"] for option in advice.options if option["allowed"] is True}
        chosen = next((c for c in choices if c["active"] in allowed or not advice.options), None)
        if chosen is None:
            return {}
        if chosen.get("one_day"):
            return {"mites.treated_on": date, "mites.last_active": chosen["active"], "mites.form": chosen["form"]}
        return {"mites.in_hive": chosen["active"], "mites.form": chosen["form"]}

    def learn(self, need_kg: float, bees: float, use_kg_week: float) -> bool:
        """Take over what the models make of this colony; return whether its stores now come out otherwise.

        Parameters
        ----------
        need_kg : float
            Stores needed to the next forage [kg]; NaN keeps the last known one.
        bees : float
            Number of bees; NaN where not known.
        use_kg_week : float
            What it eats in a week [kg]; NaN keeps the last known one.
        """
        first = math.isnan(self.need_kg)
        self.bees = bees
        self.need_kg = self.need_kg if math.isnan(need_kg) else need_kg
        self.use_kg_week = self.use_kg_week if math.isnan(use_kg_week) else use_kg_week
        if not first or math.isnan(self.need_kg):
            return False
        self._fill("start")
        return True

    def _mean(self, date: dt.date) -> float:
        """The usual mean temperature of a day."""
        return float(self.profile.daily.tmean[min(date.timetuple().tm_yday, 365) - 1])

    def pass_week(self, date: dt.date) -> None:
        """Let a week go by; ``date`` is the first day of the new one."""
        parts = self.normal.parts
        found = income_share(self.season, self._mean(date))
        self.stores_kg = max(0.0, self.stores_kg - self.use_kg_week * (1.0 - found))
        if self.season["season.flow"]:
            self._fill("in_a_flow")
            room = shipped().model.hive.super_frames * self.now["hive.supers"]
            self.honey_frames = min(room, self.honey_frames + parts["supers"]["frames_filled_a_week"])
        brood = self.words.facts["season.brood"].encode(self.season["season.brood"])
        laying = float(np.minimum(population.brood_share(np.array([brood])), 1.0)[0])
        level = np.array(self.level)
        self.level = float(mite_model.grow(Estimate(level, level, level), WEEK * laying, WEEK * (1 - laying)).value)
        self.counters = {name: days + WEEK for name, days in self.counters.items()}
        self.season = self._season(date)
        if self.season["season.phase"] in self.normal.parts["frames"]["shut"]:
            self.opened = False
