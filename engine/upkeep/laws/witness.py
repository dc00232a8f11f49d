"""A witness made as small as it will go, and written as a scenario."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator

import yaml

from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from upkeep.laws.bench import Bench, Break
from upkeep.laws.hives import Yard


def shrunk(bench: Bench, found: Break, breaks: Callable[..., Iterator[Break]]) -> Break:
    """Return a break of the same kind with as few hives and facts as it takes.

    Parameters
    ----------
    found : Break
    breaks : callable
        ``breaks(bench, yard, only)`` of its law.
    """
    best = found
    for smaller in _steps(best):
        again = _still(bench, smaller, breaks, best)
        if again is not None:
            best = again
    while True:
        for smaller in _drops(best):
            again = _still(bench, smaller, breaks, best)
            if again is not None:
                best = again
                break
        else:
            return best


def _still(bench: Bench, tried: tuple[Yard, int], breaks, best: Break) -> Break | None:
    yard, row = tried
    only: list = [None] * len(yard.scenario.hives)
    only[row] = best.variant
    try:
        return next((b for b in breaks(bench, yard, only) if b.row == row and b.kind == best.kind), None)
    except (ValueError, KeyError, IndexError):  # a smaller question that is none
        return None


def _yard(old: Yard, hives: list[ScenarioHive], site: dict | None = None, jurisdiction: str | None = "") -> Yard:
    scenario = copy.copy(old.scenario)
    scenario.hives = hives
    if site is not None:
        scenario.apiary = Apiary(scenario.apiary.name, site)
    if jurisdiction != "":
        scenario.jurisdiction = jurisdiction
    return Yard(scenario, [()] * len(hives))


def _steps(best: Break) -> Iterator[tuple[Yard, int]]:
    """The hive alone; with one other hive each."""
    hives = best.yard.scenario.hives
    if len(hives) == 1:
        return
    mine = hives[best.row]
    yield _yard(best.yard, [mine]), 0
    for number, other in enumerate(hives):
        if number != best.row:
            yield _yard(best.yard, [mine, other]), 0


def _drops(best: Break) -> Iterator[tuple[Yard, int]]:
    """The same without one thing: another hive, the place's law, something of the yard, a look, a fact."""
    scenario, hives, row = best.yard.scenario, best.yard.scenario.hives, best.row
    for number in range(len(hives)):
        if number != row:
            left = [hive for k, hive in enumerate(hives) if k != number]
            yield _yard(best.yard, left), row - (number < row)
    if scenario.jurisdiction:
        yield _yard(best.yard, hives, jurisdiction=None), row
    for name in scenario.apiary.site:
        yield _yard(best.yard, hives, {k: v for k, v in scenario.apiary.site.items() if k != name}), row
    for number, hive in enumerate(hives):
        for smaller in _smaller(hive):
            yield _yard(best.yard, [smaller if k == number else one for k, one in enumerate(hives)]), row


def _smaller(hive: ScenarioHive) -> Iterator[ScenarioHive]:
    if hive.facts_on is not None:
        yield ScenarioHive(hive.id, hive.facts, hive.observed)
    for k in range(len(hive.observed)):
        yield _hive(hive, hive.facts, hive.observed[:k] + hive.observed[k + 1 :])
    names = list(hive.facts)
    for half in (names[: len(names) // 2], names[len(names) // 2 :]) if len(names) > 3 else ():
        yield _hive(hive, {k: v for k, v in hive.facts.items() if k not in half}, hive.observed)
    for name in names:
        yield _hive(hive, {k: v for k, v in hive.facts.items() if k != name}, hive.observed)
    for k, (day, seen) in enumerate(hive.observed):
        for name in seen if len(seen) > 1 else ():
            less = (day, {a: b for a, b in seen.items() if a != name})
            yield _hive(hive, hive.facts, [*hive.observed[:k], less, *hive.observed[k + 1 :]])


def _hive(hive: ScenarioHive, facts: dict, observed: list) -> ScenarioHive:
    return ScenarioHive(hive.id, facts, observed, facts_on=hive.facts_on)


class _Plain(yaml.SafeDumper):
    """Writes every value out, also one that stands twice."""

    def ignore_aliases(self, data: object) -> bool:
        """Never an alias."""
        return True


def as_yaml(scenario: Scenario) -> str:
    """Return a scenario as the text of a file that ``hiveweek week`` answers."""
    data: dict = {"scenario": scenario.title, "climate": scenario.climate, "date": scenario.date}
    if scenario.jurisdiction:
        data["jurisdiction"] = scenario.jurisdiction
    if scenario.apiary.site:
        data["apiary"] = {"name": scenario.apiary.name, "site": dict(scenario.apiary.site)}
    data["hives"] = []
    for hive in scenario.hives:
        row: dict = {"id": hive.id, "facts": dict(hive.facts)}
        if hive.facts_on is not None:
            row["facts_on"] = hive.facts_on
        if hive.observed:
            row["observed"] = [{"date": day, **seen} for day, seen in hive.observed]
        data["hives"].append(row)
    return yaml.dump(data, Dumper=_Plain, sort_keys=False, default_flow_style=None, width=150, allow_unicode=True)
