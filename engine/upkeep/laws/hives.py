"""Random hives and hives with a trouble set on purpose, in yards of any climate, on any day of the year."""

from __future__ import annotations

import copy
import datetime as dt
from dataclasses import dataclass, field

import numpy as np

from hiveweek import content
from hiveweek.authoring import normal
from hiveweek.climate import Profile, load_profile, profile_ids
from hiveweek.facts.constraints import broken, facts_of
from hiveweek.facts.implied import contradictions
from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from hiveweek.shapes import marked_yaml
from hiveweek.vocabulary.model import Fact, Vocabulary
from hiveweek.vocabulary.normal import load as load_normal

YEAR = dt.date(2026, 1, 1)
YARD = 30  # hives of a large yard: the fixed cost of an answer is that of about fifteen more hives
# What one hive has here becomes the whole yard's: in a large yard only the first hive may have it.
CATCHING = (
    *(
        f"health.{sign}"
        for sign in (
            "ropy_larvae",
            "sunken_caps",
            "off_colour_larvae",
            "foul_smell",
            "lab_result",
            "suspect_pest",
            "tropilaelaps",
        )
    ),
    *(
        "health.chalk_mummies",
        "health.sac_larvae",
        "health.small_hive_beetle",
        "health.beetle_slime",
        "colony.robbed",
        "colony.alive",
        "colony.death_cause",
        "site.movement_ban",
    ),
)
STYLES = {"usual": (0.08, 0.12), "sparse": (0.08, 0.75), "wild": (0.45, 0.2)}  # share otherwise, share not known
# Set by the history of a hive alone, so that what stands now and what was done agree.
OF_HISTORY = {"mites.in_hive", "mites.form", "mites.last_active", "mites.treated_on", "mites.last_dose_on"}
NUMBER_SPREAD = 0.6  # of the logarithm: most numbers lie between half and twice the usual one


@dataclass(frozen=True)
class Show:
    """What a keeper notes where a trouble stands."""

    trouble: str
    facts: dict
    days_ago: int = 0

    @property
    def catching(self) -> bool:
        """Whether one hive's trouble of this kind concerns the whole yard."""
        return any(name.startswith(CATCHING) for name in self.facts)


@dataclass
class Yard:
    """A question, and which troubles were set at each of its hives.

    Attributes
    ----------
    aims : list of tuple of str
        Trouble ids, a tuple a hive; that they were set does not say that they stand on that day.
    """

    scenario: Scenario
    aims: list[tuple[str, ...]] = field(default_factory=list)

    def with_hives(self, hives: list[ScenarioHive]) -> Yard:
        """Return the same yard with other hives in the same places."""
        scenario = copy.copy(self.scenario)
        scenario.hives = hives
        return Yard(scenario, self.aims)


def shows() -> list[Show]:
    """Return what the shipped list of troubles says of how they are noted."""
    path = content.root() / "rulesets" / "vocabulary" / "troubles.yaml"
    data = marked_yaml.read(path, content.shown(path)).data
    return [
        Show(name, show["facts"], show.get("days_ago", 0))
        for name, body in data["troubles"].items()
        for show in body["shows"]
    ]


class Hives:
    """Makes yards.

    Parameters
    ----------
    words : Vocabulary
    rng : numpy Generator
        The same state gives the same yards.
    climates : list of str, optional
        Profile ids to draw from; all shipped ones by default.
    """

    def __init__(self, words: Vocabulary, rng: np.random.Generator, climates: list[str] | None = None):
        self.words, self.rng = words, rng
        self.normal = load_normal(words)
        self.shows = shows()
        self.climates = climates or profile_ids()
        self.jurisdictions = sorted(
            path.stem
            for path in (content.root() / "rulesets" / "jurisdictions").glob("*.yaml")
            if not path.name.endswith(".cases.yaml")
        )

    # --- draws
    def _chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def _one(self, items):
        return items[int(self.rng.integers(len(items)))]

    def _ago(self, low: int, high: int) -> dt.timedelta:
        return dt.timedelta(days=int(self.rng.integers(low, high)))

    # --- yards
    def yards(self, hives: int):
        """Yield yards with about so many hives together: most in large yards, some alone or two or three together."""
        left = hives
        while left > 0:
            size = min(left, YARD if self._chance(0.45) else int(self.rng.integers(1, 4)))
            yield self.yard(size)
            left -= size

    def yard(self, hives: int, climate: str | None = None, date: dt.date | None = None) -> Yard:
        """Return a yard.

        Parameters
        ----------
        hives : int
            At least 1. In a yard of up to three any of them may have what concerns the whole yard.
        climate : str, optional
            Profile id; drawn by default.
        date : date, optional
            Drawn by default.
        """
        climate = climate or self._one(self.climates)
        date = date or YEAR + self._ago(0, 365)
        profile = load_profile(climate)
        usual = self._usual(profile, date)
        rows, aims = [], []
        for number in range(hives):
            catching = number == 0 and (hives <= 3 or self._chance(0.2))
            hive, aim = self._hive(f"H{number + 1}", date, usual, catching or (hives <= 3 and self._chance(0.3)))
            rows.append(hive)
            aims.append(aim)
        site = self._weather(profile, date)
        law = self._one(self.jurisdictions) if self._chance(0.25) else None
        scenario = Scenario(f"a random yard on {date}", climate, date, rows, Apiary("random", site), jurisdiction=law)
        return Yard(scenario, aims)

    def _usual(self, profile: Profile, date: dt.date) -> dict:
        colony = normal.Colony(self.normal, self.words, profile, date)
        found = {**colony.yard, **colony.now, **colony.seen()}
        return {
            name: v
            for name, v in found.items()
            if v is not None and name not in OF_HISTORY and self.words.facts[name].comes_from != "computed"
        }

    def _weather(self, profile: Profile, date: dt.date) -> dict:
        """Set the week's temperatures in some yards: as warm or as cold as a week there may be."""
        if not self._chance(0.3):
            return {}
        month = float(profile.monthly["tmax"][date.month - 1]) if "tmax" in profile.monthly else 12.0
        best = round(month + float(self.rng.normal(0.0, 5.0)), 1)
        high = round(best + abs(float(self.rng.normal(0.0, 1.5))), 1)
        low = round(best - 8.0 - abs(float(self.rng.normal(0.0, 3.0))), 1)
        held = {"weather.open_high_c": best, "weather.high_c": high, "weather.low_c": low}
        facts = self.words.facts
        return {
            name: min(max(value, facts[name].low or -50.0), facts[name].high or 50.0) for name, value in held.items()
        }

    # --- a hive
    def _hive(self, name: str, date: dt.date, usual: dict, catching: bool) -> tuple[ScenarioHive, tuple[str, ...]]:
        style = self._one(("usual", "usual", "sparse", "wild"))
        otherwise, unknown = STYLES[style]
        facts = {}
        for fact, value in {**dict.fromkeys(self._noted(), None), **usual}.items():
            draw = self.rng.random()
            if fact.startswith(CATCHING):
                draw = 1.0 if value is not None else 0.5
            if draw < (otherwise if value is not None else otherwise / 4):
                drawn = self._other(self.words.facts[fact], value)
                if drawn is not None:
                    facts[fact] = drawn
            elif value is not None and draw > unknown:
                facts[fact] = value
        if self._chance(0.9):
            facts["food.stores_kg"] = round(float(np.exp(self.rng.normal(2.3, 0.7))), 1)
            facts.pop("food.heft", None)
        hive = ScenarioHive(name, {}, self._history(date))
        aims = self._aim(hive, facts, date, catching) if self._chance(0.75) else ()
        kept = set(hive.facts)
        merged = {**facts, **hive.facts}
        self._fit(merged, kept)
        hive.facts = merged
        if self._chance(0.25):
            back = self._ago(1, 25)
            hive.facts, hive.facts_on = _earlier(hive.facts, back), date - back
            hive.observed = [(day - back, _earlier(seen, back)) for day, seen in hive.observed]
        return hive, aims

    def _noted(self) -> list[str]:
        """Facts that a keeper may note at a hive."""
        return [
            fact.id
            for fact in self.words.facts.values()
            if fact.comes_from in ("observed", "equipment", "site")
            and fact.kind != "date"
            and not fact.until
            and fact.id not in OF_HISTORY
        ]

    def _other(self, fact: Fact, usual):
        if fact.kind == "yes_no":
            return not usual if usual is not None else self._chance(0.5)
        if fact.kind == "one_of":
            return self._one(fact.values)
        if fact.kind in ("number", "integer") and fact.low is not None and fact.high is not None:
            middle = float(usual) if usual else fact.low + 0.05 * (fact.high - fact.low)
            drawn = min(max(middle * float(np.exp(self.rng.normal(0.0, NUMBER_SPREAD))), fact.low), fact.high)
            return round(drawn) if fact.kind == "integer" else round(drawn, 1)
        return None

    def _history(self, date: dt.date) -> list:
        """An earlier look, a course or a treatment that lies behind, in some hives."""
        found = []
        if self._chance(0.6):
            seen = {"colony.queen": "seen", "colony.eggs": True, "colony.queen_cells": "none", "food.heft": "middling"}
            kept = {name: value for name, value in seen.items() if self._chance(0.7)}
            found.append((date - self._ago(3, 60), kept or {"food.heft": "middling"}))
        if self._chance(0.15):
            active = self._one(("amitraz", "formic", "thymol", "oxalic_strip", "pyrethroid"))
            begun = date - self._ago(1, 90)
            found.append((begun, {"mites.in_hive": active}))
            if self._chance(0.5):
                found.append((begun + (date - begun) / 2, {"mites.in_hive": "none"}))
        elif self._chance(0.1):
            day = date - self._ago(5, 120)
            found.append((day, {"mites.treated_on": day, "mites.last_active": "oxalic", "mites.form": "dribble"}))
        return sorted(found, key=lambda item: item[0])

    def _aim(self, hive: ScenarioHive, facts: dict, date: dt.date, catching: bool) -> tuple[str, ...]:
        """Set one trouble or two; what was noted some days ago joins the history, and nothing newer speaks against it."""
        pool = [show for show in self.shows if catching or not show.catching]
        chosen = [self._one(pool) for _ in range(2 if self._chance(0.4) else 1)]
        for show in chosen:
            told = {name: self._told(name, value, date) for name, value in show.facts.items() if value is not None}
            for name in show.facts:
                facts.pop(name, None)
                hive.observed = [(day, {k: v for k, v in seen.items() if k != name}) for day, seen in hive.observed]
            if show.days_ago:
                told = {name: value for name, value in told.items() if name not in hive.facts}
                ago = date - dt.timedelta(days=show.days_ago)
                if show.trouble == "unseen":
                    facts.clear()
                    hive.observed = []
                hive.observed = [*hive.observed, (ago, told)]
            else:
                hive.facts.update(told)
            if told.get("colony.alive") is False:
                gone = [name for name in facts if self.words.facts[name].comes_from == "observed"]
                for name in gone:
                    del facts[name]
        hive.observed = sorted(((d, seen) for d, seen in hive.observed if seen), key=lambda item: item[0])
        return tuple(show.trouble for show in chosen)

    def _told(self, name: str, value, date: dt.date):
        value = self._one(value) if isinstance(value, list) else value
        return date - dt.timedelta(days=value) if self.words.facts[name].kind == "date" else value

    def _fit(self, facts: dict, kept: set[str]) -> None:
        """Leave out what cannot stand beside the rest; what was set on purpose stays as long as anything else can go."""

        def column(name: str) -> np.ndarray:
            return np.array([self.words.facts[name].encode(facts.get(name))])

        for attempt in range(6):
            wrong = [name for constraint, _ in broken(self.words, column) for name in facts_of(constraint["holds"])]
            for implication, name, _ in contradictions(self.words, column):
                wrong += [name] if name not in kept else facts_of(implication["when"])
            if (facts.get("mites.sample_mites") or 0) > (facts.get("mites.sample_bees") or np.inf):
                wrong.append("mites.sample_mites")
            if not wrong:
                return
            for name in wrong:
                if name not in kept or attempt > 2:
                    facts.pop(name, None)


def _earlier(facts: dict, back: dt.timedelta) -> dict:
    """The same facts as they were noted some days before."""
    return {name: value - back if isinstance(value, dt.date) else value for name, value in facts.items()}
