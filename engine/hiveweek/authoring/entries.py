"""The entries of overlays, and what differs between two versions of them, in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from hiveweek.authoring.impact import both_texts
from hiveweek.authoring.wording import number_with_unit
from hiveweek.numbers.moving import key_in
from hiveweek.numbers.reader import is_number
from hiveweek.shapes.structure import listed
from hiveweek.vocabulary.definitions import shape_of
from hiveweek.vocabulary.model import Vocabulary

HEAD = ("layer", "for", "version")
CONDITIONS = ("when", "unless")
LONG_TEXTS = ("because", "safety", "amount", "reason", "note", "value")


@dataclass(frozen=True)
class Entry:
    """One entry of an overlay.

    Attributes
    ----------
    overlay : str
        Name of the overlay.
    kind : str
        ``head``, ``number`` (moved), ``field`` (of a rule), ``off``, ``limit`` or ``rule`` (added).
    name : str
        What it is about; for a field the rule and the field.
    parts : dict
        As written.
    place : str
        ``file:line:col``.
    """

    overlay: str
    kind: str
    name: str
    parts: Mapping[str, Any] = field(hash=False)
    place: str = field(compare=False)

    @property
    def title(self) -> str:
        """What it is, in words."""
        what = {
            "head": f"overlay {self.name}",
            "number": f"moved number {self.name}",
            "field": f"changed rule {self.name}",
            "off": f"rule {self.name} switched off",
            "limit": f"limit {self.name}",
            "rule": f"rule {self.name}",
        }
        return what[self.kind]


@dataclass(frozen=True)
class Changed:
    """One entry that differs between two versions.

    Attributes
    ----------
    how : str
        ``added``, ``taken-away`` or ``changed``.
    entry : Entry
        As it is now; what is taken away, as it was.
    said : tuple of str
        What differs, a line each: ``value: 4 weeks -> 5 weeks``.
    """

    how: str
    entry: Entry
    said: tuple[str, ...]


def entries(files: Iterable[Path], words: Vocabulary) -> dict[tuple[str, str, str], Entry]:
    """Return the entries of some overlay files, whose problems have been told, by overlay, kind and name."""
    found: dict[tuple[str, str, str], Entry] = {}
    for path in files:
        document = shape_of("overlay", words).read(path)
        data = document.data
        if not isinstance(data, dict) or "overlay" not in data:
            continue
        own = str(data["overlay"])

        def take(kind: str, name: str, parts: Mapping[str, Any], at: tuple, own=own, document=document) -> None:
            line, col = document.place(at)
            found[own, kind, name] = Entry(own, kind, name, parts, f"{document.name}:{line}:{col}")

        take("head", own, {key: data[key] for key in HEAD if key in data}, ())
        for index, entry in enumerate(listed(data.get("override"))):
            key = key_in(entry)
            name = entry[key] if key else f"{entry.get('rule')} {entry.get('field')}"
            parts = {part: value for part, value in entry.items() if part not in ("limit", "number", "rule", "field")}
            take("number" if key else "field", str(name), parts, ("override", index))
        for index, entry in enumerate(listed(data.get("disable"))):
            take("off", str(entry.get("rule")), {k: v for k, v in entry.items() if k != "rule"}, ("disable", index))
        added = data.get("add") or {}
        for name, parts in (added.get("limits") or {}).items():
            take("limit", f"limit.{own}.{name}", parts, ("add", "limits", name))
        for index, body in enumerate(listed(added.get("rules"))):
            parts = {part: value for part, value in body.items() if part != "id"}
            take("rule", str(body.get("id")), parts, ("add", "rules", index))
    return found


def changes(old: Mapping[tuple, Entry], new: Mapping[tuple, Entry], units: Mapping[str, str | None]) -> list[Changed]:
    """Return what differs between the entries of two versions, in the order of the new one; what is taken away stands last.

    Parameters
    ----------
    old, new : mapping
        As `entries` gives them.
    units : mapping of str to str
        The unit of each number by its name.
    """
    found = []
    for key, entry in new.items():
        was = old.get(key)
        if was is None:
            said = tuple(f"{part}: {_plain(value, entry, part, units)}" for part, value in entry.parts.items())
            found.append(Changed("added", entry, said))
        elif was.parts != entry.parts:
            found.append(Changed("changed", entry, tuple(_differing(was, entry, units))))
    found += [
        Changed(
            "taken-away",
            entry,
            tuple(f"{part}: {_plain(value, entry, part, units)}" for part, value in entry.parts.items()),
        )
        for key, entry in old.items()
        if key not in new
    ]
    return found


def _differing(was: Entry, now: Entry, units: Mapping[str, str | None]) -> Iterable[str]:
    for part in dict.fromkeys([*was.parts, *now.parts]):
        old, new = was.parts.get(part), now.parts.get(part)
        if old == new:
            continue
        long = isinstance(old, str) and isinstance(new, str) and part in LONG_TEXTS
        if long or (part in CONDITIONS and old is not None and new is not None):
            yield f"{part}: {both_texts(condition(old), condition(new))}"
        else:
            before = _plain(old, was, part, units) if part in was.parts else "nothing"
            after = _plain(new, now, part, units) if part in now.parts else "nothing"
            yield f"{part}: {before} -> {after}"


def _plain(value: Any, entry: Entry, part: str, units: Mapping[str, str | None]) -> str:
    """Return a part of an entry as text: a number with its unit, a condition in one line."""
    if is_number(value) and entry.kind in ("number", "limit") and part in ("value", "was"):
        return number_with_unit(value, entry.parts.get("unit") or units.get(entry.name))
    return condition(value) if part in CONDITIONS or isinstance(value, (list, dict)) else f"{value}"


def condition(value: Any) -> str:
    """Return a condition, or any list or mapping as written, in one line: ``all of (a; b)``."""
    if isinstance(value, list):
        return "; ".join(condition(item) for item in value)
    if isinstance(value, dict):
        if len(value) == 1 and (key := next(iter(value))) in ("all", "any", "not"):
            return f"{key} of ({condition(value[key])})" if key != "not" else f"not ({condition(value[key])})"
        return ", ".join(f"{key} {condition(item)}" for key, item in value.items())
    return str(value).lower() if isinstance(value, bool) else f"{value:g}" if is_number(value) else str(value)
