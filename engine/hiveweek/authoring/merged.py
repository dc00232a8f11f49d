"""The effective ruleset of a climate as one list: each limit, rule and field with the layer and the line it comes from."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from hiveweek.authoring.wording import curve_with_unit, gives, number_with_unit
from hiveweek.climate import load_profile
from hiveweek.numbers import Number
from hiveweek.problems import InputProblems, not_among
from hiveweek.rules import effective_in
from hiveweek.rules.reader import Library, read_library
from hiveweek.vocabulary.model import Vocabulary


def merged(
    profile_id: str,
    words: Vocabulary,
    *,
    jurisdiction: str | None = None,
    extra: Iterable[Path | str] = (),
    folder: Path | None = None,
) -> dict:
    """Return the effective ruleset of a profile as plain data, every value with its origin.

    Parameters
    ----------
    profile_id : str
        Climate profile.
    jurisdiction : str, optional
        Jurisdiction whose layer takes part.
    extra : iterable of Path
        Overlays of an author or an apiary.
    folder : Path, optional
        Another rulesets folder than the shipped one.

    Returns
    -------
    dict
        profile, jurisdiction, files, limits, numbers (all others), rules, disabled, elsewhere (topics bound to other climates), prohibitions,
        options. A number that a layer moved carries ``was``, what it was in the base; a rule carries its ``edits``.

    Raises
    ------
    InputProblems
        With every problem of the rule files; for a jurisdiction that is not known.
    """
    library = read_library(words, folder, extra)
    problems = list(library.problems)
    if jurisdiction is not None:
        problems += not_among("jurisdiction", jurisdiction, library.jurisdictions)
    ruleset = effective_in(library, load_profile(profile_id), jurisdiction, problems)
    if problems:
        raise InputProblems(problems)
    return {
        "profile": profile_id,
        "jurisdiction": jurisdiction,
        "files": ruleset.versions,
        "limits": [{"limit": row.name, **_number(row, library)} for row in ruleset.limits.values()],
        "numbers": [
            {"number": row.name, **_number(row, library)}
            for row in ruleset.numbers.rows.values()
            if row.name not in ruleset.limits
        ],
        "rules": [_rule(rule) for rule in ruleset.rules.values()],
        "disabled": [
            {**entry, "place": str(library.rules[entry["rule"]].place)}
            if entry["rule"] in library.rules
            else dict(entry)
            for entry in ruleset.disabled
        ],
        "elsewhere": [topic for topic in library.topics if topic not in {v["name"] for v in ruleset.versions}],
        "prohibitions": [
            {
                "prohibition": p.id,
                "effect": p.effect,
                "if_unknown": p.if_unknown,
                "from": "safety",
                "place": str(p.place),
            }
            for p in ruleset.prohibitions.values()
        ],
        "options": [
            {"option": o.id, "active": o.active, "form": o.form, "from": "base", "place": str(o.place)}
            for o in ruleset.options.values()
        ],
    }


def _number(row: Number, library: Library) -> dict:
    found: dict[str, Any] = {
        "value": row.value,
        **({"curve": [list(corner) for corner in row.curve]} if row.curve else {}),
        "unit": row.unit,
        "from": row.origin,
        "place": str(row.place),
        "source": list(row.source),
        "status": row.status,
        "note": row.note,
    }
    base = library.limits.get(row.name) or library.numbers.get(row.name)
    if base is not None and (base.value, base.curve) != (row.value, row.curve):
        found["was"] = {"value": base.value, "place": str(base.place)}
        if base.curve:
            found["was"]["curve"] = [list(corner) for corner in base.curve]
    return found


def _shown(row: dict, unit: str | None) -> str:
    return curve_with_unit(row["curve"], unit) if "curve" in row else number_with_unit(row["value"], unit)


def _rule(rule) -> dict:
    edits = [dict(edit) for edit in rule.edits]
    edited = {edit["field"] for edit in edits}
    return {
        "rule": rule.id,
        "gives": gives(rule),
        "from": rule.layer if not edited else "base",
        "place": str(rule.place),
        "edits": edits,
    }


def as_lines(found: dict) -> list[str]:
    """Return the merged ruleset as lines to read."""
    where = found["profile"] + (f" in {found['jurisdiction']}" if found["jurisdiction"] else "")
    lines = [f"effective rules for {where}", "", "files"]
    lines += [f"  {v['name']} version {v['version']} ({v['hash']})" for v in found["files"]]
    for kind in ("limit", "number"):
        lines += ["", f"{kind}s"]
        for row in found[f"{kind}s"]:
            lines.append(f"  {row[kind]} = {_shown(row, row['unit'])}  [{row['from']}, {row['place']}]")
            if "was" in row:
                lines.append(f"    was {_shown(row['was'], row['unit'])} at {row['was']['place']}: {row['note']}")
    lines += ["", "rules"]
    for row in found["rules"]:
        lines.append(f"  {row['rule']} -> {row['gives']}  [{row['from']}, {row['place']}]")
        lines += [
            f"    {edit['field']} from {edit['layer']}, {edit['place']}: {edit['reason']}" for edit in row["edits"]
        ]
    lines += ["", "prohibitions"]
    lines += [f"  {row['prohibition']}: {row['effect']}  [{row['place']}]" for row in found["prohibitions"]]
    lines += ["", "treatment options"]
    lines += [f"  {row['option']}: {row['active']}, {row['form']}  [{row['place']}]" for row in found["options"]]
    if found["disabled"]:
        lines += ["", "switched off here"]
        lines += [f"  {row['rule']} by {row['layer']}: {row['reason']}" for row in found["disabled"]]
    if found["elsewhere"]:
        lines += ["", "topics of other climates: " + ", ".join(found["elsewhere"])]
    moved, others = (sum("was" in row for row in found[kind]) for kind in ("limits", "numbers"))
    edited = sum(bool(row["edits"]) for row in found["rules"])
    added = sum(row["from"] != "base" for row in found["rules"])
    whole = (
        f"{len(found['rules'])} rules ({added} added by a layer, {edited} edited, {len(found['disabled'])} switched off), "
        f"{len(found['limits'])} limits ({moved} moved), {len(found['numbers'])} other numbers ({others} moved), "
        f"{len(found['prohibitions'])} prohibitions, {len(found['options'])} options"
    )
    lines += ["", whole]
    return lines
