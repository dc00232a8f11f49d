"""The yard: what concerns all hives, what comes first, the visits, and the weather of the week."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

from hiveweek.plan import visits as visiting
from hiveweek.plan.advise import tidy
from hiveweek.plan.model import HivePlan, WeekPlan
from hiveweek.plan.order import lifted
from hiveweek.plan.ranking import Ranking
from hiveweek.plan.safety import Safety
from hiveweek.plan.setting import Setting
from hiveweek.plan.ways import Site
from hiveweek.texts.parts import named


class Yard:
    """Makes the plans of the hives into one of the yard.

    Parameters
    ----------
    inference : Inference
    setting : Setting
    ranking : Ranking
    safety : Safety
    """

    def __init__(self, inference, setting: Setting, ranking: Ranking, safety: Safety):
        self.inference, self.setting, self.ranking, self.safety = inference, setting, ranking, safety
        self.table = inference.table
        self.vocabulary = self.table.vocabulary
        self.actions = self.vocabulary.actions
        self.today = setting.today

    def facts(self, row: int, hive: HivePlan) -> None:
        """List every fact of a hive, and those that are not known."""
        for fact_id in sorted(self.vocabulary.facts):
            fact = self.vocabulary.facts[fact_id]
            column = self.table.column(fact_id)
            known = tidy(fact, column.value[row])
            if known is None:
                hive.unknown.append(fact_id)
                continue
            number = fact.kind in ("number", "integer", "date")
            hive.facts[fact_id] = {
                "value": known,
                "low": tidy(fact, column.low[row]) if number else None,
                "high": tidy(fact, column.high[row]) if number else None,
                "unit": fact.unit,
                "origin": column.origin[row] if column.origin else None,
            }

    def plan(self, hives: list[HivePlan]) -> WeekPlan:
        """Return the plan of the week from those of the hives."""
        weather = self.setting.weather
        best_day = getattr(weather, "best_day", None)
        phase = self.table.plain(0, "season.phase") if hives else None
        fit_days = self._good_days()
        plan = WeekPlan(
            self.today,
            self.setting.climate,
            phase,
            weather=self._weather(fit_days),
            name=self.setting.name,
            rulesets=list(self.inference.ruleset.versions),
            channels=dict(self.setting.channels),
            hives=hives,
            best_day=best_day,
            screen=self.ranking.numbers.branch("plan.screen"),
            numbers=self.ranking.numbers,
            fit_days=fit_days,
            site=Site(self.setting.at, self._from_home()),
            looks=frozenset(self.ranking.looks),
        )
        yard: dict[str, list] = {}
        single = []
        for hive in hives:
            for advice in hive.advice:
                if self.actions[advice.action].scope == "apiary":
                    yard.setdefault(advice.action, []).append((hive.id, advice))
                elif not self.actions[advice.action].leaves_closed:
                    single.append((advice.key(hive.id), hive.id, advice))
        for action in sorted(yard):
            suspect = {hive.id for hive in hives if hive.suspect}
            same = sorted(yard[action], key=lambda pair: (pair[0] not in suspect, pair[1].key(pair[0])))
            best = same[0][1]
            # A danger to all hives counts for each of them; law and people have no sum.
            points = round(sum(a.points for _, a in same), 2) if best.band else best.points
            total = replace(best, points=points, because=named(best.because, same[0][0]))
            # Since when, and by when: as at the hive where it is due the longest.
            longest = min((a for _, a in same), key=lambda a: a.due_since or a.due_before or dt.date.max)
            total.due_since, total.due_before = longest.due_since, longest.due_before
            days = [a.due_by for _, a in same if a.due_by is not None]
            total.due(min(days, default=None), self.today)
            if longest.due_before is not None and longest.due_by is None:
                total.due_by, total.by = None, longest.by
            for _, one in same:
                total.hurry(one.by if one.hurried else None, self.today)
            plan.yard.append((total, [hive_id for hive_id, _ in yard[action]]))
        plan.yard.sort(key=lambda pair: pair[0].key(pair[1][0]))
        whole = sorted(
            _as_listed(single) + [(advice.key(ids[0]), ids[0], advice) for advice, ids in plan.yard],
            key=lambda item: item[0],
        )
        at = {(hive_id, advice.action): item for item in whole for _, hive_id, advice in [item]}
        most = int(self.ranking.weights.first_shown)
        plan.first = [
            {"hive": hive_id, "action": a.action, "points": a.points}
            for _, hive_id, a in lifted(whole, lambda item: _before(item, at))[:most]
        ]
        left = {
            item
            for fact, items in self.vocabulary.left_at_home.items()
            for item in items
            if bool((self.table.column(fact).value > 0.5).any())
        }
        plan.visits = visiting.visits(
            hives, self.vocabulary, self.today, best_day, hungry=self.safety.spared, left_at_home=left
        )
        plan.notes = list(self.setting.notes)
        plan.bring = list(self.setting.bring)
        plan.kit = sorted({item for visit in plan.visits for item in visit["kit"]})
        return plan

    def _weather(self, fit_days: tuple[dt.date, ...] | None) -> dict:
        weather = self.setting.weather
        result: dict = {"basis": getattr(weather, "basis", None), "best_day": getattr(weather, "best_day", None)}
        for name in (
            "high_c",
            "low_c",
            "mean_c",
            "open_high_c",
            "open_wind_kmh",
            "open_dry",
            "dry_days",
            "rain_all_week",
            "flight_days",
        ):
            fact = self.vocabulary.facts.get("weather." + name)
            if fact is None or not len(self.table):
                continue
            column = self.table.column(fact.id)
            value, low, high = tidy(fact, column.value[0]), tidy(fact, column.low[0]), tidy(fact, column.high[0])
            result[name] = value if value is None or low == high else {"value": value, "low": low, "high": high}
        high = self.table.column("weather.high_c")
        if len(self.table) and high.origin and high.origin[0] == "set":
            result["given"] = True
        result["last_good_day"] = max(fit_days or (), default=None)
        result["notes"] = list(weather.notes) if weather is not None else []
        if weather is not None and weather.attribution:
            result["attribution"] = weather.attribution
        return result

    def _from_home(self) -> float | None:
        """Minutes from the keeper's home; None where he has not said."""
        if "site.minutes_from_home" not in self.vocabulary.facts or not len(self.table):
            return None
        minutes = self.table.column("site.minutes_from_home").value[0]
        return None if math.isnan(minutes) else float(minutes)

    def _good_days(self) -> tuple[dt.date, ...] | None:
        """The days of the week that are known to be dry and warm enough for opening; None where nothing is known of any day."""
        days = getattr(self.setting.weather, "days", ()) or ()
        if getattr(self.setting.weather, "best_day", None) is None and all(math.isnan(day.precip) for day in days):
            return None
        floor, wet_mm = self.ranking.weights.leave_closed_below_c, self.ranking.numbers.weather.days.wet_day_mm
        return tuple(
            sorted(
                day.date
                for day in days
                if not math.isnan(day.tmax) and day.tmax >= floor and not math.isnan(day.precip) and day.precip < wet_mm
            )
        )


def _as_listed(single: list[tuple]) -> list[tuple]:
    """The jobs of single hives with keys under which each hive's jobs stand in the order of its own list.

    Of the keys of a hive its first job takes the first: what a hive's list puts first is never behind another job of it.
    """
    keys: dict[str, list] = {}
    for key, hive_id, _ in single:
        keys.setdefault(hive_id, []).append(key)
    ordered = {hive_id: iter(sorted(some)) for hive_id, some in keys.items()}
    return [(next(ordered[hive_id]), hive_id, advice) for _, hive_id, advice in single]


def _before(item: tuple, at: dict[tuple, tuple]) -> list[tuple]:
    """What must come before a job of the yard's list, where it stands there itself."""
    _, hive_id, advice = item
    found = at.get((hive_id, advice.follows.action)) if advice.follows else None
    return [found] if found is not None else []
