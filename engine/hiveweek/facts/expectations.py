"""Reads what a scenario expects of the answer."""

from __future__ import annotations

from hiveweek.facts.scenario import EXPECT_LISTS, EXPECT_RULES
from hiveweek.problems import nearest

HIVE_KEYS = EXPECT_LISTS + ("includes_any", "treatments", "looks_first", "phase", "note") + EXPECT_RULES
YARD_KEYS = ("includes", "excludes", "includes_any", "note")


def read_expect(reader, path: tuple, value, *, hive: bool) -> dict:
    """Read an ``expect`` block.

    Parameters
    ----------
    reader : reader of the file
        Gives the vocabulary and takes the problems.
    path : tuple
        Where the block stands.
    hive : bool
        True at a hive, False at the apiary.

    Returns
    -------
    dict
        Only known names; empty where there is no block.
    """
    if value is None:
        return {}
    keys = HIVE_KEYS if hive else YARD_KEYS
    value = reader.mapping(path, value, keys, "expect")
    if value is None:
        return {}
    words = reader.words
    found = {}
    for key in EXPECT_LISTS:
        if key in value:
            found[key] = _names(reader, path + (key,), value[key], words.actions, "action")
    if "includes_any" in value:
        where = path + ("includes_any",)
        groups = value["includes_any"]
        if not isinstance(groups, list):
            reader.complain(where, "wrong-type", "'includes_any' must be a list of lists of actions")
        else:
            found["includes_any"] = [
                _names(reader, where + (i,), group, words.actions, "action") for i, group in enumerate(groups)
            ]
    if "looks_first" in value:
        found["looks_first"] = _names(reader, path + ("looks_first",), value["looks_first"], words.facts, "fact")
    if "treatments" in value:
        where = path + ("treatments",)
        block = reader.mapping(where, value["treatments"], ("allowed", "barred"), "treatments") or {}
        actives = [word for word in words.facts["mites.last_active"].values if word != "none"]
        found["treatments"] = {
            k: _names(reader, where + (k,), block[k], actives, "active ingredient")
            for k in ("allowed", "barred")
            if k in block
        }
    if "phase" in value:
        phases = value["phase"] if isinstance(value["phase"], list) else [value["phase"]]
        known = words.facts["season.phase"].values
        where = path + ("phase",)
        for phase in phases:
            if phase not in known:
                reader.complain(where, "unknown-phase", f"'{phase}' is no phase{nearest(phase, known)}")
        found["phase"] = [phase for phase in phases if phase in known]
    for key in EXPECT_RULES:
        if key in value:
            rules = value[key]
            if not isinstance(rules, list) or not all(isinstance(rule, str) for rule in rules):
                reader.complain(path + (key,), "wrong-type", f"'{key}' must be a list of rule ids")
            else:
                found[key] = list(rules)
    return found


def _names(reader, path, value, known, what) -> list[str]:
    """Return a list of known names; a lone name counts as a list of one."""
    one = isinstance(value, str)
    if one:
        value = [value]
    if not isinstance(value, list):
        reader.complain(path, "wrong-type", f"'{path[-1]}' must be a list")
        return []
    found = []
    for index, name in enumerate(value):
        where = path if one else path + (index,)
        if not isinstance(name, str):
            reader.complain(where, "wrong-type", f"'{path[-1]}' must be a list of names")
        elif name not in known:
            reader.complain(where, f"unknown-{what.split()[0]}", f"'{name}' is no {what}{nearest(name, known)}")
        else:
            found.append(name)
    return found
