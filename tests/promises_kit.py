"""The week command run as users run it, with the shipped rule files read once for all tests."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

import yaml

from hiveweek import rules, vocabulary
from hiveweek.cli.main import main
from hiveweek.inference import rete

# Keys of the answer as JSON, in their order.
WEEK = ["date", "climate", "phase", "weather", "rulesets", "channels", "hives", "apiary"]
HIVE = [
    "id",
    "advice",
    "look_first",
    "withheld",
    "nothing_due",
    "courses",
    "lies_in",
    "put_away",
    "noted",
    "last_look",
    "after",
]
ADVICE = [
    "rank",
    "band",
    "action",
    "with",
    "rule",
    "points",
    "points_from",
    "amount",
    "by",
    "due_by",
    "overdue",
    "due_since",
    "due_before",
    "follows",
    "because",
    "safety",
    "sources",
    "evidence",
    "limits",
    "also",
    "only_on",
    "unverified",
    "facts",
    "options",
]
NESTED = {
    "points_from": ["gain_pts", "urgency", "certainty"],
    "evidence": ["fact", "value", "low", "high", "origin"],
    "limits": ["limit", "value", "from"],
    "options": ["active", "allowed", "because"],
}
LOOK = ["action", "facts", "how", "note_as", "points", "unlocks"]
UNLOCK = ["rule", "action", "points"]
WITHHELD = ["action", "rule", "kind", "because"]
FACT = ["value", "low", "high", "unit", "origin"]
APIARY = ["name", "first", "advice", "visits", "kit", "bring", "best_day", "days", "left", "fed", "sugar_kg"]
SINGLE = "hive.size: single, hive.frames: 10, hive.frame: deep"
_load = rules.load


class _Plain(yaml.SafeDumper):
    """Writes every value out: the files take no anchors."""

    def ignore_aliases(self, data):
        return True


@lru_cache(maxsize=1)
def words():
    return vocabulary.load()


_MERGED: dict[tuple, object] = {}


def quick(monkeypatch) -> None:
    """Merge the shipped rules of a climate once; leave out the second channel, as where its library does not load."""

    def load(profile, traits=None, *, jurisdiction=None, extra=(), vocabulary=None, folder=None):
        if folder is not None or list(extra):
            return _load(profile, traits, jurisdiction=jurisdiction, extra=extra, vocabulary=vocabulary, folder=folder)
        named = profile if isinstance(profile, str) else profile.id
        known = rules.traits_of(profile) if traits is None else traits
        key = (named, tuple(sorted(known.items())), jurisdiction)
        if key not in _MERGED:
            _MERGED[key] = _load(profile, traits, jurisdiction=jurisdiction, vocabulary=words())
        return _MERGED[key]

    monkeypatch.setenv("HIVEWEEK_NO_CACHE", "1")
    monkeypatch.setattr("hiveweek.rules.store.load", load)
    monkeypatch.setattr(rete, "available", lambda: False)


def week(capsys, *arguments) -> tuple[int, str, str]:
    """Run ``hiveweek week ... --offline``; return exit code, standard output, standard error."""
    capsys.readouterr()
    try:
        code = main(["week", *map(str, arguments), "--offline"])
    except SystemExit as stop:
        code = stop.code
    said = capsys.readouterr()
    return code, said.out, said.err


def answer(capsys, *arguments) -> dict:
    """Run the command with ``--json`` and return what it says; it must end well."""
    code, out, err = week(capsys, *arguments, "--json")
    assert code == 0 and err == "", err
    return json.loads(out)


def scenario(
    folder: Path,
    climate: str,
    date: str,
    hives: dict,
    *,
    site: dict | None = None,
    observed: dict | None = None,
    name: str = "yard.yaml",
    **more,
) -> Path:
    """Write a scenario file: hive id -> facts as seen on the date, and hive id -> dated looks."""
    body = {"scenario": "a test of the week", "climate": climate, "date": date, **more}
    if site:
        body["apiary"] = {"name": "Test yard", "site": site}
    body["hives"] = [
        {"id": key, "facts": facts, **({"observed": observed[key]} if key in (observed or {}) else {})}
        for key, facts in hives.items()
    ]
    path = folder / name
    path.write_text(yaml.dump(body, Dumper=_Plain, sort_keys=False, allow_unicode=True), encoding="utf-8")
    return path


def facts(text: str) -> dict:
    """Return facts written as ``id: value, id: value``."""
    return yaml.safe_load("{" + text + "}")


def hive_of(data: dict, name: str) -> dict:
    return next(hive for hive in data["hives"] if hive["id"] == name)


def actions(hive: dict) -> list[str]:
    return [advice["action"] for advice in hive["advice"]]


def looked_at(hive: dict) -> set[str]:
    """Facts that some look of the week's answer observes."""
    return {fact for item in [*hive["advice"], *hive["look_first"]] for fact in item["facts"]}


def two_light(tmp_path):
    """Return a file of two hives whose ids YAML would take for something else."""
    known = facts(
        f"{SINGLE}, colony.frames_of_bees: 5, food.stores_kg: 2, food.feed_on: none, weather.high_c: 2, weather.open_high_c: 2, "
        "weather.low_c: -14"
    )
    path = scenario(tmp_path, "long_snow_cover", "2026-03-10", {"A": known, "B": {**known, "food.stores_kg": 30}})
    path.write_text(path.read_text().replace("id: A", "id: NO").replace("id: B", "id: 012"))
    return path
