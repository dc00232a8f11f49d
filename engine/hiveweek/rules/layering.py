"""The effective ruleset of one climate profile: base, then profile overlay, jurisdiction, author's overlay, apiary's own.

An overlay names what it changes, gives a reason and the value it replaces. An unknown target, a value that has moved on,
or two overlays of one layer on one key are errors that show both places; there is no silent last word.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from functools import partial
from graphlib import CycleError, TopologicalSorter

import yaml

from hiveweek.language.terms import All, Any, Not, NotTrue, refs
from hiveweek.numbers import Numbers
from hiveweek.numbers.moving import key_in, moved
from hiveweek.numbers.reader import is_number
from hiveweek.problems import Place, Problem, nearest
from hiveweek.rules.late import parse_late
from hiveweek.rules.law import law_facts
from hiveweek.rules.locked import softened
from hiveweek.rules.model import Rule, RuleSet
from hiveweek.rules.order import parse_order
from hiveweek.rules.parsing import parse_options, parse_rule, parse_safety
from hiveweek.rules.reader import Library, Overlay, Piece, RawRule
from hiveweek.rules.troubles import parse_troubles
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import curly_hint, listed

LAYERS = ("profile", "jurisdiction", "author", "apiary")
MOST_NAMED = 3  # rules in a message


def numbers_of(
    library: Library, profile: str, jurisdiction: str | None = None, problems: list[Problem] | None = None
) -> Numbers:
    """Return every number as the layers leave it for a profile; the climate's traits may rest on them.

    Parameters
    ----------
    profile : str
        Profile id.
    jurisdiction : str, optional
        Jurisdiction id.
    problems : list of Problem, optional
        Where what is wrong is gathered.
    """
    problems = [] if problems is None else problems
    base = {**library.numbers.rows, **library.limits}
    rows = dict(base)
    sources = library.vocabulary.sources
    for layer in LAYERS:
        touched: dict[str, Place] = {}
        for overlay in _taking_part(library, layer, profile, jurisdiction):
            rows.update(overlay.limits)
            for index, entry in enumerate(listed(overlay.document.data.get("override"))):
                key = key_in(entry) if entry else None
                path = ("override", index)
                if key is None or (
                    entry[key] in rows and not _claim(touched, entry[key], overlay.document, path, problems)
                ):
                    continue
                row = moved(overlay.document, path, rows, base, overlay.origin, problems, sources)
                if row is not None:
                    rows[row.name] = row
    return Numbers(rows)


def effective(
    library: Library,
    profile: str,
    traits: dict,
    jurisdiction: str | None = None,
    problems: list[Problem] | None = None,
    numbers: Numbers | None = None,
) -> RuleSet:
    """Return the merged ruleset for a profile.

    Parameters
    ----------
    profile : str
        Profile id.
    traits : dict
        ``climate.*`` facts of the profile as plain values, for topics bound to a climate.
    jurisdiction : str, optional
        Jurisdiction id.
    problems : list of Problem, optional
        Where what is wrong is gathered.
    numbers : Numbers, optional
        What ``numbers_of`` gives for the same profile and jurisdiction, where it has been asked already.

    Returns
    -------
    RuleSet
        In id order; complete only where no problem was found.
    """
    problems = [] if problems is None else problems
    if numbers is None:
        numbers = numbers_of(library, profile, jurisdiction, problems)
    ruleset = RuleSet(profile=profile, numbers=numbers)
    raws = _base(library, profile, traits, ruleset, problems)
    if jurisdiction is not None:
        document = library.jurisdictions.get(jurisdiction)
        if document is not None:
            ruleset.jurisdiction = document.data
            ruleset.law = law_facts(document.data, library.vocabulary.facts)
    for layer in LAYERS:
        _apply_layer(library, _taking_part(library, layer, profile, jurisdiction), raws, ruleset, problems)
    for rule_id in sorted(raws):
        rule = _parsed(raws[rule_id], library, problems)
        if rule is not None:
            ruleset.rules[rule_id] = rule
    for document in library.safety:
        found = library.once(("safety", document.name), partial(parse_safety, document, library), problems)
        ruleset.prohibitions.update(sorted(found.items()))
        ruleset.versions.append(_version(library, document, "safety", document.data.get("version") or 1))
    for document in library.treatments:
        options = library.once(("treatments", document.name), partial(parse_options, document, library), problems)
        ruleset.options.update(sorted(options.items()))
        ruleset.versions.append(_version(library, document, "treatments", document.data.get("version") or 1))
    for document in library.order:
        ruleset.order = library.once(("order", document.name), partial(parse_order, document, library), problems)
        ruleset.versions.append(_version(library, document, "order", document.data.get("version") or 1))
    if library.troubles is not None:
        troubles = partial(parse_troubles, library.troubles, library)
        ruleset.troubles = dict(library.once(("troubles",), troubles, problems))
    if library.late is not None:
        ruleset.late = dict(library.once(("late",), partial(parse_late, library.late, library), problems))
        ruleset.versions.append(_version(library, library.late, "late", library.late.data.get("version") or 1))
    ruleset.layers = finding_layers(ruleset.rules.values(), problems)
    _dangling(ruleset, library)
    _share_leaves(ruleset)
    ruleset.versions.sort(key=lambda v: v["name"])
    return ruleset


def _parsed(raw: RawRule, library: Library, problems: list[Problem]) -> Rule | None:
    """Return a rule from its pieces; one that no overlay has touched is read once for all climates."""
    written = library.rules.get(raw.id)
    if written is None or raw.edits or raw.pieces != written.pieces:
        return parse_rule(raw, library, problems)
    return library.once(("rule", raw.id), partial(parse_rule, raw, library), problems)


def _version(library, document, name, version) -> dict:
    return {"name": name, "version": version, "hash": library.files.get(document.name, "")}


def _taking_part(library: Library, layer: str, profile: str, jurisdiction: str | None) -> list[Overlay]:
    """Return the overlays of a layer that hold for a profile and a place, by name."""

    def holds(overlay: Overlay) -> bool:
        if overlay.layer == "jurisdiction":
            return jurisdiction in overlay.wanted
        return not overlay.wanted or profile in overlay.wanted

    return sorted((o for o in library.overlays if o.layer == layer and holds(o)), key=lambda o: o.name)


def _base(library, profile, traits, ruleset, problems):
    raws: dict[str, RawRule] = {}
    for topic in library.topics.values():
        if not _in_climate(topic, profile, traits, library, problems, ruleset.limits):
            continue
        ruleset.versions.append(_version(library, topic.document, topic.name, topic.version))
        for rule_id in topic.rules:
            raw = library.rules[rule_id]
            raws[rule_id] = dataclasses.replace(raw, pieces=dict(raw.pieces), edits=list(raw.edits))
    return raws


def _in_climate(topic, profile, traits, library, problems, limits) -> bool:
    wanted = topic.climates
    if wanted in ("all", None):
        return True
    if isinstance(wanted, list):
        return profile in wanted
    conditions = listed(wanted.get("where")) if isinstance(wanted, dict) else []
    return all(
        _plain(topic, ("climates", "where", k), text, traits, library, problems, limits)
        for k, text in enumerate(conditions)
    )


def _plain(topic, path, text, traits, library, problems, limits) -> bool:
    from hiveweek.facts.table import FactTable
    from hiveweek.language.conditions import parse_node
    from hiveweek.language.meaning import View, evaluate

    node = parse_node(topic.document, path, library.scope(), problems, text)
    if node is None:
        return False
    table = FactTable(library.vocabulary, [""])
    for fact, value in traits.items():
        if fact in library.vocabulary.facts and value is not None:
            table.set(fact, library.vocabulary.facts[fact].encode(value))
    outside = [ref.name for ref in refs(node) if not ref.name.startswith("climate.")]
    if outside:
        problems.append(topic.document.problem(path, "unknown-fact", f"'{outside[0]}': only climate facts stand here"))
    return evaluate(node, View(table, {}, limits)).holds(0)


def _apply_layer(library: Library, overlays: Iterable[Overlay], raws, ruleset, problems) -> None:
    touched: dict[str, Place] = {}
    for overlay in overlays:
        origin = overlay.origin
        ruleset.versions.append(_version(library, overlay.document, overlay.name, overlay.version))
        ruleset.overlays.append({"name": overlay.name, "layer": overlay.layer, "file": overlay.document.name})
        for rule_id, raw in overlay.rules.items():
            raws[rule_id] = dataclasses.replace(raw, pieces=dict(raw.pieces), edits=list(raw.edits))
        problems.extend(softened(library, overlay))
        data = overlay.document.data
        for index, entry in enumerate(listed(data.get("override"))):
            if entry and key_in(entry) is None:
                _override(library, overlay, origin, ("override", index), entry, raws, touched, ruleset, problems)
        for index, entry in enumerate(listed(data.get("disable"))):
            if entry:
                _disable(library, overlay, origin, ("disable", index), entry, raws, touched, ruleset, problems)


def _claim(touched, key, document, path, problems) -> bool:
    place = Place(document.name, *document.place(path))
    if key in touched:
        problems.append(
            document.problem(path, "two-peers", f"'{key}' is changed twice in one layer: here and at {touched[key]}")
        )
        return False
    touched[key] = place
    return True


def _same(a, b) -> bool:
    return float(a) == float(b) if is_number(a) and is_number(b) else a == b


def _override(library, overlay, origin, path, entry, raws, touched, ruleset, problems) -> None:
    document = overlay.document
    rule_id, name = entry.get("rule"), entry.get("field")
    if rule_id is None or name is None or "value" not in entry:
        return  # what it lacks has been told
    if rule_id in touched:
        problems.append(
            document.problem(
                path, "two-peers", f"'{rule_id}' is changed here and switched off at {touched[rule_id]}, in one layer"
            )
        )
        return
    raw = raws.get(rule_id)
    if raw is None:
        off = next((d for d in ruleset.disabled if d["rule"] == rule_id), None)
        if off is not None:
            problems.append(
                document.problem(path + ("rule",), "unknown-target", f"'{rule_id}' is switched off by {off['layer']}")
            )
        elif rule_id not in library.rules:
            problems.append(_no_rule(library, document, path, rule_id))
        return
    if not _claim(touched, f"{rule_id} {name}", document, path, problems):
        return
    old = raw.pieces.get(name)
    if not _same(entry.get("was"), old.value if old else None):
        now = f"'{_text(old.value)}' at {old.place}" if old else "not there at all"
        said = f"'{name}' of '{rule_id}' is now {now}, not '{_text(entry.get('was'))}'; look at it again"
        problems.append(document.problem(path + ("was",), "stale-was", said))
        return
    raw.pieces[name] = Piece(document, path + ("value",), entry["value"])
    raw.layer = origin
    raw.edits.append(
        {"field": name, "layer": origin, "reason": str(entry.get("reason", "")), "place": str(raw.pieces[name].place)}
    )


def _text(value) -> str:
    """Return a value as one line of its YAML."""
    return (
        value if isinstance(value, str) else yaml.safe_dump(value, default_flow_style=True, width=10_000).split("\n")[0]
    )


def _no_rule(library: Library, document: Document, path: tuple, name: str) -> Problem:
    """Return what is wrong with a name that is no rule's: prohibitions can be neither switched off nor changed."""
    where = (*path, "rule")
    for safety in library.safety:
        ids = [row.get("id") for row in listed(safety.data.get("prohibitions")) if row]
        if name in ids:
            line, _ = safety.place(("prohibitions", ids.index(name)))
            said = f"'{name}' is a prohibition ({safety.name}:{line}): it cannot be switched off or changed; its limits can be tightened"
            return document.problem(where, "locked", said)
    return document.problem(where, "unknown-target", f"'{name}' is no rule{_what_else(library, name)}")


def _what_else(library: Library, name: str) -> str:
    """Return what a name is that somebody took for a rule's: none of these can be switched off; else the nearest rule."""
    bare = name.removeprefix("finding.")
    if name in library.limits or name in library.numbers.rows:
        return ", it is a number: move it under override; a number cannot be switched off"
    for what, key, word in (("a finding", bare, "finding"), ("an action", name, "advise")):
        rules = [raw.id for raw in library.rules.values() if (piece := raw.pieces.get(word)) and piece.value == key]
        if rules:
            few = ", ".join(sorted(rules)[:MOST_NAMED]) + (" and others" if len(rules) > MOST_NAMED else "")
            return f", it is {what} and cannot be switched off by itself; rules that give it: {few}"
    if any(row and row.get("id") == name for one in library.treatments for row in listed(one.data.get("options"))):
        return ", it is a treatment and cannot be switched off; the list of a place says which may be used there"
    if name in library.retired:
        return f": it is retired ({library.retired[name]})"
    return nearest(name, library.rules) + curly_hint(name)


def _disable(library, overlay, origin, path, entry, raws, touched, ruleset, problems) -> None:
    document = overlay.document
    rule_id = entry.get("rule", "")
    if rule_id not in raws and rule_id not in library.rules:
        problems.append(_no_rule(library, document, path, rule_id))
        return
    changed = next((key for key in touched if key.startswith(f"{rule_id} ")), None)
    if changed is not None:
        problems.append(
            document.problem(
                path, "two-peers", f"'{rule_id}' is switched off here and changed at {touched[changed]}, in one layer"
            )
        )
        return
    if _claim(touched, rule_id, document, path, problems) and rule_id in raws:
        ruleset.disabled.append({"rule": rule_id, "layer": origin, "reason": str(entry.get("reason", ""))})
        del raws[rule_id]


def finding_layers(rules: Iterable[Rule], problems: list[Problem]) -> list[list[str]]:
    """Return finding names by layer, each layer reading only earlier ones; a cycle is a problem that prints it."""
    reads: dict[str, set[str]] = {}
    places: dict[str, Place] = {}
    for rule in rules:
        if rule.finding:
            places.setdefault(rule.finding, rule.place)
            reads.setdefault(rule.finding, set()).update(r.finding for r in refs(rule.when) if r.is_finding)
    # Sorted throughout: the order, and the cycle that is found, must not hang on how sets lie in memory.
    sorter = TopologicalSorter({name: sorted(reads[name] & reads.keys()) for name in sorted(reads)})
    try:
        sorter.prepare()
    except CycleError as error:
        ring = error.args[1][:0:-1]  # each reads the next; the library's list is the other way round, first again last
        start = ring.index(min(ring))
        cycle = [*ring[start:], *ring[:start], ring[start]]
        place = places[cycle[0]]
        text = "findings that wait for each other: " + " -> ".join(cycle)
        problems.append(Problem(place.file, place.line, place.col, "cycle", text))
    layers: list[list[str]] = []
    while ready := sorter.get_ready():
        layers.append(sorted(ready))
        sorter.done(*ready)
    return layers


def _share_leaves(ruleset: RuleSet) -> None:
    """Let equal comparisons be one object, so that each is made once for all rules that state it."""
    known: dict = {}

    def shared(node):
        if isinstance(node, (All, Any)):
            return type(node)(tuple(shared(part) for part in node.parts))
        if isinstance(node, (Not, NotTrue)):
            return type(node)(shared(node.part))
        return known.setdefault(node, node)

    for rule_id, rule in ruleset.rules.items():
        ruleset.rules[rule_id] = dataclasses.replace(rule, when=shared(rule.when))
    for name, prohibition in ruleset.prohibitions.items():
        ruleset.prohibitions[name] = dataclasses.replace(
            prohibition,
            when=shared(prohibition.when),
            spares_where=shared(prohibition.spares_where) if prohibition.spares_where else None,
        )
    for name, option in ruleset.options.items():
        ruleset.options[name] = dataclasses.replace(
            option, bars=tuple((shared(bar[0]), *bar[1:]) for bar in option.bars)
        )


def _dangling(ruleset: RuleSet, library: Library) -> None:
    """A finding whose every rule is out of this climate never holds: that is meant, and decided false (no rule gives it)."""
    given = {rule.finding for rule in ruleset.rules.values() if rule.finding}
    missing = sorted(library.findings - given)
    if missing:
        ruleset.layers.insert(0, missing)
