"""Reads what makes a scenario one to practise on."""

from __future__ import annotations

from hiveweek.facts.scenario import Lesson, Scenario
from hiveweek.problems import nearest
from hiveweek.shapes.structure import texts


def read_lesson(reader, path: tuple, value: dict, scenario: Scenario) -> Lesson:
    """Read the ``lesson`` block of a case whose shape has been checked.

    Parameters
    ----------
    reader : reader of the file
        Takes the problems: a hive or a source that is not there, a find that no look tells or that is known already.
    scenario : Scenario
        With its hives.
    """
    words, hives = reader.words, {hive.id: hive for hive in scenario.hives}
    asked = str(value.get("hive") or next(iter(hives), ""))
    named: dict[tuple, str] = {(key, name): name for key in ("found", "then") for name in value.get(key) or {}}
    named[("hive",)] = asked
    for place, name in named.items():
        if hives and name not in hives:
            reader.complain(
                (*path, *place), "unknown-hive", f"'{name}' is no hive of this scenario{nearest(name, hives)}"
            )
    read = tuple(texts(value.get("read") or ()))
    for number, source in enumerate(read):
        if source not in words.sources:
            said = f"'{source}' is no key of sources.yaml{nearest(source, words.sources)}"
            reader.complain((*path, "read", number), "unknown-source", said)
    told = {fact for action in words.actions.values() for fact in action.observes}
    found = {}
    for name, facts in (value.get("found") or {}).items():
        found[name], places = reader.facts((*path, "found", name), facts, scenario.date)
        here = hives[name].facts if name in hives else {}
        for fact, at in places.items():
            if fact not in told:
                reader.complain(at, "no-look", f"no look tells {fact}, so nobody could find it")
            elif fact in here:
                reader.complain(at, "two-values", f"{fact} of {name} stands under facts already, so it is no find")
        reader.sets.append(({**here, **found[name]}, places, name))
    then = value.get("then") or {}
    return Lesson(
        value.get("id") or "",
        value.get("topic") or "",
        value.get("story") or "",
        asked,
        found,
        {name: reader.expect((*path, "then", name), block) for name, block in then.items()},
        value.get("debrief") or "",
        read,
        dict(value.get("against") or {}),
        dict(value.get("aside") or {}),
    )
