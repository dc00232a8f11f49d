"""Reads ``rulesets/vocabulary/``: facts, actions, kit, sources, implications, constraints, acts, effects.

Every problem of every file is gathered before anything is refused.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property, lru_cache
from itertools import product
from pathlib import Path
from typing import Any

from hiveweek import content
from hiveweek.kept import code, kept, key_of
from hiveweek.language.conditions import Scope, parse_node
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.shapes import Shape, marked_yaml
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import listed, texts
from hiveweek.vocabulary.courses import course_of, left_of, step_of
from hiveweek.vocabulary.definitions import definitions, names
from hiveweek.vocabulary.effects import read_effects
from hiveweek.vocabulary.model import Action, Fact, Source, Turn, Vocabulary
from hiveweek.vocabulary.noted import read_noted
from hiveweek.vocabulary.reasons import read_reasons

KINDS = ("number", "integer", "yes_no", "one_of", "date", "text")
ORIGINS = ("observed", "equipment", "site", "computed")
OPENS = ("nothing", "lid", "frames")
SCOPES = ("hive", "apiary")
FACT_SCOPES = ("hive", "apiary", "calendar", "counted")
DAY = ("", "high_c", "mean_c", "low_c", "wind_kmh", "dry", "wet")  # what of a day weather can bound
DRY_HOURS = ("first", "between", "last")
AFTER = ("carried", "stands", "becomes", "fades")
ACT_SIGNS = ("turns", "recorded", "falls", "changes", "on", "event", "seen")
FLAGS = ("dead_ok", "at_home", "any_day", "treats", "leaves_closed", "lasts", "tells")
FILES = (
    "kit",
    "sources",
    "acts",
    "actions",
    "effects",
    "implies",
    "constraints",
    "courses",
    "noted",
    "sheet",
)  # in the order they are read


@lru_cache(maxsize=1)
def load() -> Vocabulary:
    """Return the shipped vocabulary, read once for the life of the process and kept between runs.

    Raises
    ------
    InputProblems
        With every problem of every vocabulary file.
    """
    folder = content.root() / "rulesets" / "vocabulary"
    key = key_of(
        ("vocabulary", content.shown(folder)),
        sorted(folder.rglob("*.yaml")) + code("vocabulary", "language", "numbers", "shapes", "texts"),
    )
    return kept("vocabulary", key, Vocabulary, lambda: read_vocabulary(folder))


def read_vocabulary(folder: Path | str) -> Vocabulary:
    """Read a folder of vocabulary files.

    Parameters
    ----------
    folder : path
        Holds ``facts/*.yaml``, ``actions.yaml``, ``kit.yaml`` and, where there are any, ``sources.yaml``,
        ``implies.yaml``, ``constraints.yaml``, ``acts.yaml`` and ``effects.yaml``.

    Returns
    -------
    Vocabulary
        Clashes made symmetric; conditions of implications and constraints parsed.

    Raises
    ------
    InputProblems
        Duplicate ids, unknown keys, unknown references, wrong types, empty ranges: all of them, with their places.
    """
    folder = Path(folder)
    facts = [_parsed(path) for path in sorted((folder / "facts").glob("*.yaml"))]
    if not facts:
        raise InputProblems(
            [Problem(content.shown(folder), 0, 0, "no-file", "there is no facts/*.yaml in this folder")]
        )
    files = {kind: _parsed(path) for kind in FILES if (path := folder / f"{kind}.yaml").exists()}
    reader = _Reader(facts, files)
    for document in facts:
        reader.facts(document)
    for kind, document in files.items():
        getattr(reader, kind)(document)
    reader.ends()
    problems = [problem for document in (*facts, *files.values()) for problem in document.problems]
    if problems:
        raise InputProblems(problems)
    return reader.vocabulary


def _parsed(path: Path) -> Document:
    return marked_yaml.read(path, content.shown(path))


def _block(document: Document, name: str, kind: type = dict) -> Any:
    """Return the one block of a file; an empty one where there is none."""
    found = document.data.get(name) if isinstance(document.data, dict) else None
    return found if isinstance(found, kind) else kind()


class _Reader:
    """Makes the words of documents; what is wrong with them is added to the documents' problems."""

    def __init__(self, facts: list[Document], files: dict[str, Document]):
        self.vocabulary = Vocabulary()
        self.names = names(
            fact=[name for document in facts for name in _block(document, "facts")],
            **{
                kind: list(_block(files[file], file)) if file in files else []
                for kind, file in (("action", "actions"), ("kit", "kit"), ("act", "acts"))
            },
        )
        self.places: dict[str, tuple[Document, tuple]] = {}
        self.shapes: dict[str, Shape] = {}

    @cached_property
    def definitions(self) -> dict[str, dict]:
        """The definitions of all facts; to be asked for after the facts have been read."""
        return definitions(self.vocabulary)

    def check(self, document: Document, kind: str, known: dict[str, dict]) -> None:
        """Hold a document against the shape of its kind."""
        document.problems += self.shapes.setdefault(kind, Shape(kind, known)).check(document)

    def facts(self, document: Document) -> None:
        """Read one file of facts; its name is the group all its ids begin with, its ``scope`` holds where a fact has none."""
        self.check(document, "facts", self.names)
        group = Path(document.name).stem
        scope = _block(document, "scope", str) or "hive"
        for name, body in _block(document, "facts").items():
            path = ("facts", name)
            if name in self.vocabulary.facts:
                first, where = self.places[name]
                line, _ = first.key_place(where)
                _complain(
                    document, path, "duplicate-id", f"'{name}' is defined twice; first at {first.name}:{line}", key=True
                )
                continue
            if name.partition(".")[0] != group or name.count(".") != 1:
                _complain(document, path, "wrong-id", f"'{name}' must be '{group}.' and one name", key=True)
            self.places[name] = (document, path)
            fact = self.vocabulary.facts[name] = _fact(name, body, scope)
            if fact.low is not None and fact.high is not None and fact.low >= fact.high:
                _complain(document, path, "no-range", f"'{name}' is a number: it needs 'low' under 'high'", key=True)
            if any(word not in fact.allowed for word in fact.stands):
                _complain(
                    document, (*path, "stands"), "unknown-value", f"'stands' must be a list of values of '{name}'"
                )
            for index, turn in enumerate(fact.becomes):
                for word in {turn.value, turn.to} - {None, *fact.allowed}:
                    said = f"'{word}' is no value of '{name}'{nearest(str(word), fact.values)}"
                    _complain(document, (*path, "becomes", index), "unknown-value", said)
            for label, together in fact.groups.items():
                for word in set(together) - set(fact.values):
                    said = f"'{word}' is no value of '{name}'{nearest(word, fact.values)}"
                    _complain(document, (*path, "groups", label), "unknown-value", said)

    def ends(self) -> None:
        """Check what ends a value that stands and what others turn into, after all words have been read."""
        facts, acts = self.vocabulary.facts, self.vocabulary.acts
        for fact in facts.values():
            document, path = self.places[fact.id]
            for index, end in enumerate(fact.ended_by):
                name, _, word = end.partition(" = ")
                ok = end in ("look", *acts) or (name in facts and (bool(word) or facts[name].kind == "date"))
                if ok and word:
                    ok = word in {str(value).lower() for value in facts[name].allowed}
                if not ok:
                    said = f"'{end}' is neither 'look' nor an act, a date fact or 'FACT = VALUE'{nearest(end, [*acts, *facts])}"
                    _complain(document, (*path, "ended_by", index), "unknown-end", said)
            for index, turn in enumerate(fact.becomes):
                for other, value in turn.then.items():
                    try:
                        facts[other].encode(value)
                    except (KeyError, ValueError) as wrong:
                        _complain(document, (*path, "becomes", index, "then"), "unknown-value", f"{other}: {wrong}")
            of, values = fact.days_of
            for other in set(values) - set(facts[of].allowed) if of in facts else ():
                said = f"'{other}' is no value of '{of}'{nearest(str(other), facts[of].values)}"
                _complain(document, (*path, "days_of", "is"), "unknown-value", said)
            actives = facts["mites.last_active"].values if fact.counts_active else ()
            if fact.counts_active and fact.counts_active not in actives:
                said = (
                    f"'{fact.counts_active}' is no value of 'mites.last_active'{nearest(fact.counts_active, actives)}"
                )
                _complain(document, (*path, "counts_active"), "unknown-value", said)
            turns = {turn.value: turn.to for turn in fact.becomes}
            for word in turns:
                chain = [word]
                while chain[-1] in turns and len(chain) <= len(turns):
                    chain.append(turns[chain[-1]])  # type: ignore[arg-type]
                if len(chain) > len(turns) and chain[-1] in turns:
                    _complain(document, (*path, "becomes"), "circle", f"'{word}' turns into itself: {', '.join(chain)}")
                    break

    def kit(self, document: Document) -> None:
        """Read the kit list, what of it is counted or measured, and what is left at home while a fact holds."""
        self.check(document, "kit", self.names)
        self.vocabulary.kit.update(_block(document, "kit"))
        self.vocabulary.kit_usual = texts(_block(document, "usual", list))
        self.vocabulary.kit_each = texts(_block(document, "each", list))
        self.vocabulary.kit_measured.update(_block(document, "measured"))
        for name, items in _block(document, "left_at_home").items():
            self.vocabulary.left_at_home[name] = texts(items)
            if self.vocabulary.facts[name].kind != "yes_no":
                _complain(document, ("left_at_home", name), "wrong-type", f"'{name}' is not yes or no", key=True)

    def sources(self, document: Document) -> None:
        """Read the list of sources, an id a line."""
        self.check(document, "sources", self.names)
        for name, body in (document.data or {}).items():
            self.vocabulary.sources[name] = Source(name, *(body.get(k, "") for k in ("cite", "where", "note")))

    def actions(self, document: Document) -> None:
        """Read the actions; a clash named once holds both ways."""
        self.check(document, "actions", self.names)
        rows = _block(document, "actions")
        clashes: dict[str, set[str]] = {name: set() for name in rows}
        for name, body in rows.items():
            for other in texts(body.get("clashes")):
                if other == name:
                    _complain(document, ("actions", name, "clashes"), "wrong-id", f"'{name}' cannot clash with itself")
                elif other in clashes:
                    clashes[name].add(other)
                    clashes[other].add(name)
        elsewhere: dict[str, dict[str, dict[str, str]]] = {name: {} for name in rows}
        for row in _block(document, "in_hive", list):
            for name, (fact, kinds) in product(texts((row or {}).get("actions")), (row.get("where") or {}).items()):
                said = elsewhere.setdefault(name, {}).setdefault(fact, {})
                said.update((kind, f"{said.get(kind, '')} {row.get('say', '')}".strip()) for kind in texts(kinds))
        for name, body in rows.items():
            self.vocabulary.actions[name] = Action(
                id=name,
                label=body.get("label", ""),
                opens=body.get("opens", "nothing"),
                clashes=frozenset(clashes[name]),
                minutes=float(body.get("minutes", Action.minutes)),
                scope=body.get("scope", "hive"),
                dry_hour=body.get("dry_hour", "between"),
                plans=body.get("plans", ""),
                safety=body.get("safety", ""),
                note=body.get("note", ""),
                does=body.get("does", ""),
                in_hive=elsewhere[name],
                observes=texts(body.get("observes")),
                uses=texts(body.get("uses")),
                moves=texts(body.get("moves")),
                kit=texts(body.get("kit")),
                **{key: bool(body.get(key, False)) for key in FLAGS},
            )

    def acts(self, document: Document) -> None:
        """Read the acts that make older observations worthless."""
        self.check(document, "acts", self.names)
        for name, body in _block(document, "acts").items():
            signs = listed(body.get("signs"))
            for index, sign in enumerate(signs):
                self.sign(document, ("acts", name, "signs", index), sign or {})
            self.vocabulary.acts[name] = {
                "id": name,
                "label": body.get("label", ""),
                "same_day": body.get("same_day", "counts"),
                "signs": signs,
            }

    def sign(self, document: Document, path: tuple, sign: dict) -> None:
        """Check that the words of a sign are values of its fact."""
        kind = next((key for key in ACT_SIGNS if key in sign), "")
        fact = self.vocabulary.facts.get(sign.get(kind, ""))
        if fact is None:
            return
        allowed = fact.allowed
        for word in listed(sign.get("to")):
            if word not in allowed:
                said = (
                    f"{fact.id} is one of {', '.join(map(str, allowed))}; '{word}' is not{nearest(word, fact.values)}"
                )
                _complain(document, (*path, "to"), "unknown-value", said)
        if kind == "on" and fact.kind != "date":
            _complain(document, (*path, "on"), "wrong-type", f"{fact.id} is no date")

    def effects(self, document: Document) -> None:
        """Read what doing an action does, and the details that may be said of it."""
        read_effects(document, self.vocabulary, self.definitions)

    def implies(self, document: Document) -> None:
        """Read what observations tell without being said."""
        for path, body in self.statements(document, "implies"):
            when = parse_node(document, (*path, "when"), Scope(self.vocabulary), document.problems, body.get("when"))
            then = {name: self.vocabulary.facts[name].encode(value) for name, value in body.get("then", {}).items()}
            self.vocabulary.implies.append(
                {"id": str(body.get("id")), "when": when, "then": then, "note": body.get("note") or ""}
            )

    def constraints(self, document: Document) -> None:
        """Read what cannot be together."""
        for path, body in self.statements(document, "constraints"):
            holds = parse_node(document, (*path, "holds"), Scope(self.vocabulary), document.problems, body.get("holds"))
            self.vocabulary.constraints.append(
                {"id": str(body.get("id")), "holds": holds, "note": body.get("note", "")}
            )

    def courses(self, document: Document) -> None:
        """Read the courses of mite treatment; an active has one usual form, and a form stands in one course of it."""
        self.check(document, "courses", self.definitions)
        seen: dict[tuple[str, str], str] = {}
        steps = ("doses", "move", "out", "eggs", "count", "honey")
        for name, body in _block(document, "courses").items():
            course = self.vocabulary.courses[name] = course_of(name, body)
            for key in [*course.forms, *(["usual"] if course.usual else [])]:
                other = seen.setdefault((course.active, key), name)
                if other != name:
                    said = f"'{key}' of {course.active} stands in '{other}' already"
                    _complain(document, ("courses", name), "duplicate-id", said, key=True)
            if not course.one_day and course.out is None:
                _complain(document, ("courses", name), "missing-key", f"when does '{name}' come out", key=True)
            for key in steps:
                found = body.get(key)
                for row in found if isinstance(found, list) else [found]:
                    if row and row.get("from", 0) > row.get("to", 0):
                        said = "a step begins on or before the day it ends"
                        _complain(document, ("courses", name, key), "no-range", said)
        for name, body in _block(document, "left").items():
            left = self.vocabulary.left[name] = left_of(name, body)
            fact = self.vocabulary.facts.get(left.fact)
            if fact is not None and fact.kind != "date":
                _complain(document, ("left", name, "fact"), "wrong-type", f"{left.fact} is no date")
            if left.next.first > left.next.last:
                _complain(document, ("left", name, "next"), "no-range", "a step begins on or before the day it ends")
        usual = _block(document, "not_known").get("count")
        if usual:
            self.vocabulary.count_again = step_of(usual)

    def noted(self, document: Document) -> None:
        """Read what is said of noted values where nothing else answers them."""
        self.check(document, "noted", self.definitions)
        read_noted(document, self.vocabulary)

    def sheet(self, document: Document) -> None:
        """Read the reasons in a few words."""
        self.check(document, "sheet", self.definitions)
        read_reasons(document, self.vocabulary)

    def statements(self, document: Document, kind: str) -> Iterator[tuple[tuple, dict]]:
        """Yield each entry of a list of statements with its path; an id stands once."""
        self.check(document, kind, self.definitions)
        seen: set[str] = set()
        for index, body in enumerate(_block(document, kind, list)):
            if not body or not {"when", "holds"} & body.keys():
                continue
            name = body.get("id")
            if name in seen:
                _complain(document, (kind, index, "id"), "duplicate-id", f"'{name}' is defined twice")
            seen.add(name)
            yield (kind, index), body


def _complain(document: Document, path: tuple, code: str, message: str, key: bool = False) -> None:
    document.problems.append(document.problem(path, code, message, key=key))


def _days_of(body: dict | None) -> tuple[str, tuple[str | bool, ...]]:
    return ("", ()) if not body else (body.get("fact", ""), tuple(listed(body.get("is"))))


def _part_of(body: dict | None) -> tuple[str, str]:
    return ("", "") if not body else (body.get("fact", ""), body.get("rest", ""))


def _fact(name: str, body: dict, scope: str) -> Fact:
    low, high = (None if body.get(key) is None else float(body[key]) for key in ("low", "high"))
    return Fact(
        id=name,
        kind=body.get("kind", "text"),
        comes_from=body.get("comes_from", "observed"),
        unit=body.get("unit"),
        values=texts(body.get("values")),
        low=low,
        high=high,
        keeps=body.get("keeps"),
        label=body.get("label", ""),
        how=body.get("how", ""),
        note=body.get("note", ""),
        voided_by=texts(body.get("voided_by")),
        observed_by=tuple(texts(names) for names in listed(body.get("observed_by"))),
        after=body.get("after", ""),
        stands=tuple(listed(body.get("stands"))),
        ended_by=texts(body.get("ended_by")),
        becomes=tuple(
            Turn(row["value"], row["after_days"], row.get("to"), row.get("then") or {})
            for row in listed(body.get("becomes"))
            if row and {"value", "after_days"} <= row.keys()
        ),
        days_since=texts(body.get("days_since")),
        days_of=_days_of(body.get("days_of")),
        counts_active=body.get("counts_active", ""),
        part_of=_part_of(body.get("part_of")),
        ahead=body.get("ahead", False),
        scope=body.get("scope", scope),
        day=body.get("day", ""),
        needed_to_open=body.get("needed_to_open", False),
        until=body.get("until", ""),
        groups={group: texts(words) for group, words in body.get("groups", {}).items()},
    )
