"""Reads ``rulesets/vocabulary/``: facts, actions, kit, sources, implications, constraints, acts.

Every problem of every file is gathered before anything is refused.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from hiveweek import content
from hiveweek.kept import code, kept, key_of
from hiveweek.language.conditions import Scope, parse_node
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.shapes import marked_yaml
from hiveweek.shapes.marked_yaml import Document
from hiveweek.vocabulary.model import Action, Fact, Source, Vocabulary

KINDS = ("number", "integer", "yes_no", "one_of", "date", "text")
ORIGINS = ("observed", "equipment", "site", "computed")
OPENS = ("nothing", "lid", "frames")
SCOPES = ("hive", "apiary")
FACT_SCOPES = ("hive", "apiary", "calendar", "counted")
DAY = ("", "high_c", "mean_c", "low_c", "wind_kmh", "dry", "wet")  # what of a day weather can bound
DRY_HOURS = ("first", "between", "last")
ACT_SIGNS = ("turns", "recorded", "falls", "on", "event", "seen")

FACT_KEYS = (
    "kind",
    "unit",
    "values",
    "low",
    "high",
    "comes_from",
    "keeps",
    "label",
    "how",
    "note",
    "voided_by",
    "observed_by",
    "stands",
    "days_since",
    "ahead",
    "scope",
    "day",
    "needed_to_open",
    "until",
    "groups",
)
ACTION_KEYS = (
    "label",
    "opens",
    "clashes",
    "observes",
    "uses",
    "moves",
    "minutes",
    "kit",
    "scope",
    "dead_ok",
    "at_home",
    "any_day",
    "dry_hour",
    "treats",
    "plans",
    "leaves_closed",
    "safety",
    "note",
)


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
        ("vocabulary", content.shown(folder)), sorted(folder.rglob("*.yaml")) + code("vocabulary", "language", "shapes")
    )
    return kept("vocabulary", key, lambda: read_vocabulary(folder))


def read_vocabulary(folder: Path | str) -> Vocabulary:
    """Read a folder of vocabulary files.

    Parameters
    ----------
    folder : path
        Holds ``facts/*.yaml``, ``actions.yaml``, ``kit.yaml`` and, where there are any, ``sources.yaml``,
        ``implies.yaml``, ``constraints.yaml`` and ``acts.yaml``.

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
    reader = _Reader()
    vocabulary = reader.vocabulary
    files = sorted((folder / "facts").glob("*.yaml"))
    if not files:
        raise InputProblems(
            [Problem(content.shown(folder), 0, 0, "no-file", "there is no facts/*.yaml in this folder")]
        )
    for path in files:
        reader.facts(_document(path, reader))
    if (folder / "kit.yaml").exists():
        reader.kit(_document(folder / "kit.yaml", reader))
    if (folder / "sources.yaml").exists():
        reader.sources(_document(folder / "sources.yaml", reader))
    for name, step in (
        ("acts", reader.acts),
        ("actions", reader.actions),
        ("implies", reader.implies),
        ("constraints", reader.constraints),
    ):
        path = folder / f"{name}.yaml"
        if path.exists():
            step(_document(path, reader))
    reader.references()
    if reader.problems:
        raise InputProblems(reader.problems)
    return vocabulary


def _document(path: Path, reader: _Reader) -> Document:
    document = marked_yaml.read(path, content.shown(path))
    reader.problems += document.problems
    return document


class _Reader:
    """Gathers the words and what is wrong with them."""

    def __init__(self):
        self.vocabulary = Vocabulary()
        self.problems: list[Problem] = []
        self.places: dict[tuple[str, str], tuple[Document, tuple]] = {}

    def complain(self, document, path, code, message, key=False):
        self.problems.append(document.problem(path, code, message, key=key))

    def section(self, document: Document, name: str, kind=dict, also: tuple[str, ...] = ()):
        """Return the one block of a file, after looking at its top keys; ``also`` names those beside it."""
        allowed = ("about", *also, name)
        data = document.data
        if data is None:
            return kind()
        if not isinstance(data, dict):
            self.complain(document, (), "wrong-type", f"the file must hold '{name}:'")
            return kind()
        for key in data:
            if key not in allowed:
                said = f"{', '.join(allowed[:-1])} and {name}"
                self.complain(
                    document,
                    (key,),
                    "unknown-key",
                    f"'{key}' where {said} are allowed{nearest(key, allowed)}",
                    key=True,
                )
        block = data.get(name)
        if not isinstance(block, kind):
            self.complain(
                document, (name,), "wrong-type", f"'{name}' must be a {'mapping' if kind is dict else 'list'}"
            )
            return kind()
        return block

    def mapping(self, document, path, value, allowed, needed=()):
        """Check that a value is a mapping with known keys; return it or None."""
        if not isinstance(value, dict):
            self.complain(document, path, "wrong-type", f"'{path[-1]}' must be a mapping")
            return None
        for key in value:
            if key not in allowed:
                self.complain(
                    document, path + (key,), "unknown-key", f"'{key}' is no key here{nearest(key, allowed)}", key=True
                )
        for key in needed:
            if value.get(key) in (None, ""):
                self.complain(document, path, "missing-key", f"'{path[-1]}' needs '{key}'", key=True)
        return value

    def words(self, document, path, value):
        """Return a list of words as a tuple."""
        if value is None:
            return ()
        if not isinstance(value, list) or not all(isinstance(w, str) for w in value):
            self.complain(document, path, "wrong-type", f"'{path[-1]}' must be a list of words")
            return ()
        return tuple(value)

    def word(self, document, path, value, allowed, default):
        """Return one of the allowed words."""
        if value is None:
            return default
        if value not in allowed:
            self.complain(
                document,
                path,
                "unknown-value",
                f"'{path[-1]}' is one of {', '.join(allowed)}, not '{value}'{nearest(value, allowed)}",
            )
            return default
        return value

    def text(self, document, path, value):
        """Return a text."""
        if value is None:
            return ""
        if not isinstance(value, str):
            raw = document.raw(path)
            if raw is None:
                self.complain(document, path, "wrong-type", f"'{path[-1]}' must be a text")
            return raw or ""
        return value

    def number(self, document, path, value):
        """Return a number or None."""
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.complain(document, path, "wrong-type", f"'{path[-1]}' must be a number")
            return None
        return float(value)

    def yes_no(self, document, path, value):
        """Return true or false; false where absent."""
        if value is not None and not isinstance(value, bool):
            self.complain(document, path, "wrong-type", f"'{path[-1]}' must be true or false")
        return value is True

    # --- files
    def facts(self, document: Document) -> None:
        """Read one file of facts; its name is the group all its ids begin with, its ``scope`` holds where a fact has none."""
        group = Path(document.name).stem
        rows = self.section(document, "facts", also=("scope",))
        given = document.data.get("scope") if isinstance(document.data, dict) else None
        usual = self.word(document, ("scope",), given, FACT_SCOPES, "hive")
        for name, body in rows.items():
            path = ("facts", name)
            if name in self.vocabulary.facts:
                first, where = self.places["fact", name]
                line, _ = first.key_place(where)
                self.complain(
                    document, path, "duplicate-id", f"'{name}' is defined twice; first at {first.name}:{line}", key=True
                )
                continue
            if name.partition(".")[0] != group or name.count(".") != 1:
                self.complain(document, path, "wrong-id", f"'{name}' must be '{group}.' and one name", key=True)
            value = self.mapping(document, path, body, FACT_KEYS, ("kind", "comes_from", "label", "how"))
            if value is not None:
                self.places["fact", name] = (document, path)
                self.vocabulary.facts[name] = self.fact(document, path, name, value, usual)

    def fact(self, document, path, name, value, scope) -> Fact:
        """Build one fact; ``scope`` is that of its file."""

        def at(key):
            return path + (key,)

        kind = self.word(document, at("kind"), value.get("kind"), KINDS, "text")
        origin = self.word(document, at("comes_from"), value.get("comes_from"), ORIGINS, "observed")
        values = self.words(document, at("values"), value.get("values"))
        low, high = (self.number(document, at(k), value.get(k)) for k in ("low", "high"))
        keeps = self.number(document, at("keeps"), value.get("keeps"))
        numeric = kind in ("number", "integer")
        if kind == "one_of" and len(values) < 2:
            self.complain(
                document, path, "missing-key", f"'{name}' is one of a list: name two or more 'values'", key=True
            )
        if kind != "one_of" and values:
            self.complain(document, at("values"), "wrong-type", f"'{name}' is a {kind}; only one_of takes values")
        if len(set(values)) != len(values):
            self.complain(document, at("values"), "duplicate-id", f"a value of '{name}' stands twice")
        if numeric and (low is None or high is None or low >= high):
            self.complain(document, path, "no-range", f"'{name}' is a number: it needs 'low' under 'high'", key=True)
        if not numeric and (low is not None or high is not None or value.get("unit")):
            self.complain(
                document, path, "wrong-type", f"'{name}' is a {kind}; only numbers take unit, low and high", key=True
            )
        if kind == "number" and not value.get("unit"):
            self.complain(document, path, "missing-key", f"'{name}' is a number: it needs a 'unit'", key=True)
        if origin == "observed" and keeps is None:
            self.complain(
                document, path, "missing-key", f"'{name}' is observed: say how many days it 'keeps'", key=True
            )
        if origin != "observed" and keeps is not None:
            self.complain(document, at("keeps"), "wrong-type", f"'{name}' comes from {origin}: it counts until changed")
        sets = value.get("observed_by") or []
        if not isinstance(sets, list) or not all(
            isinstance(s, list) and s and all(isinstance(w, str) for w in s) for s in sets
        ):
            self.complain(document, at("observed_by"), "wrong-type", "'observed_by' must be a list of lists of facts")
            sets = []
        stands = value.get("stands") or []
        allowed = (True, False) if kind == "yes_no" else values
        if not isinstance(stands, list) or any(word not in allowed for word in stands):
            self.complain(document, at("stands"), "unknown-value", f"'stands' must be a list of values of '{name}'")
            stands = []
        return Fact(
            id=name,
            kind=kind,
            comes_from=origin,
            unit=self.text(document, at("unit"), value.get("unit")) or None,
            values=values,
            low=low,
            high=high,
            keeps=None if keeps is None else int(keeps),
            label=self.text(document, at("label"), value.get("label")),
            how=self.text(document, at("how"), value.get("how")),
            note=self.text(document, at("note"), value.get("note")),
            voided_by=self.words(document, at("voided_by"), value.get("voided_by")),
            observed_by=tuple(tuple(s) for s in sets),
            stands=tuple(stands),
            days_since=self.words(document, at("days_since"), value.get("days_since")),
            ahead=self.yes_no(document, at("ahead"), value.get("ahead")),
            scope=self.word(document, at("scope"), value.get("scope"), FACT_SCOPES, scope),
            day=self.word(document, at("day"), value.get("day"), DAY, ""),
            needed_to_open=self.yes_no(document, at("needed_to_open"), value.get("needed_to_open")),
            until=self.text(document, at("until"), value.get("until")),
            groups=self.groups(document, at("groups"), value.get("groups"), values),
        )

    def groups(self, document, path, value, values) -> dict[str, tuple[str, ...]]:
        """Return words of a one_of that belong together, by the name of the group."""
        if value is not None and not isinstance(value, dict):
            self.complain(document, path, "wrong-type", "'groups' must be a mapping of lists of words")
        found = {}
        for name, given in value.items() if isinstance(value, dict) else ():
            found[name] = self.words(document, (*path, name), given)
            for word in found[name]:
                self.word(document, (*path, name), word, values, None)
        return found

    def kit(self, document: Document) -> None:
        """Read the kit list, and what of it is left at home while a fact holds."""
        for name, value in self.section(document, "kit", also=("left_at_home",)).items():
            self.vocabulary.kit[name] = self.text(document, ("kit", name), value)
        left = document.data.get("left_at_home") if isinstance(document.data, dict) else None
        for name, items in (left or {}).items():
            path = ("left_at_home", name)
            flags = [fact.id for fact in self.vocabulary.facts.values() if fact.kind == "yes_no"]
            self.known(document, path, [name], flags, "fact that is yes or no")
            self.vocabulary.left_at_home[name] = self.words(document, path, items)
            self.known(document, path, self.vocabulary.left_at_home[name], self.vocabulary.kit, "piece of kit")

    def sources(self, document: Document) -> None:
        """Read the list of sources, an id a line."""
        rows = document.data if isinstance(document.data, dict) else {}
        if not rows:
            self.complain(document, (), "wrong-type", "the file must hold a source an id")
        for name, body in rows.items():
            value = self.mapping(document, (name,), body, ("cite", "where", "note", "grade", "status"), ("cite",))
            if value is not None:
                texts = {k: self.text(document, (name, k), value.get(k)) for k in ("cite", "where", "note")}
                self.vocabulary.sources[name] = Source(id=name, **texts)

    def actions(self, document: Document) -> None:
        """Read the actions; a clash named once holds both ways."""
        clashes: dict[str, set[str]] = {}
        rows = {}
        for name, body in self.section(document, "actions").items():
            path = ("actions", name)
            value = self.mapping(document, path, body, ACTION_KEYS, ("label", "opens"))
            if value is None:
                continue
            self.places["action", name] = (document, path)
            lists = {
                k: self.words(document, path + (k,), value.get(k))
                for k in ("clashes", "observes", "uses", "moves", "kit")
            }
            minutes = self.number(document, path + ("minutes",), value.get("minutes"))
            clashes.setdefault(name, set()).update(lists.pop("clashes"))
            rows[name] = dict(
                id=name,
                label=self.text(document, path + ("label",), value.get("label")),
                opens=self.word(document, path + ("opens",), value.get("opens"), OPENS, "nothing"),
                minutes=5.0 if minutes is None else minutes,
                scope=self.word(document, path + ("scope",), value.get("scope"), SCOPES, "hive"),
                dead_ok=self.yes_no(document, path + ("dead_ok",), value.get("dead_ok")),
                dry_hour=self.word(document, path + ("dry_hour",), value.get("dry_hour"), DRY_HOURS, "between"),
                plans=self.text(document, path + ("plans",), value.get("plans")),
                **{
                    k: self.yes_no(document, path + (k,), value.get(k))
                    for k in ("at_home", "any_day", "treats", "leaves_closed")
                },
                safety=self.text(document, path + ("safety",), value.get("safety")),
                note=self.text(document, path + ("note",), value.get("note")),
                **lists,
            )
        for name in list(clashes):
            for other in list(clashes[name]):
                if other not in rows:
                    where = ("actions", name, "clashes")
                    self.complain(document, where, "unknown-action", f"'{other}' is no action{nearest(other, rows)}")
                elif other == name:
                    self.complain(
                        document, ("actions", name, "clashes"), "wrong-id", f"'{name}' cannot clash with itself"
                    )
                else:
                    clashes[other].add(name)
        for name, row in rows.items():
            self.vocabulary.actions[name] = Action(clashes=frozenset(clashes[name]) & rows.keys(), **row)

    def acts(self, document: Document) -> None:
        """Read the acts that make older observations worthless."""
        for name, body in self.section(document, "acts").items():
            path = ("acts", name)
            value = self.mapping(document, path, body, ("label", "same_day", "signs"), ("label", "signs"))
            if value is None:
                continue
            signs = value.get("signs")
            if not isinstance(signs, list) or not signs:
                self.complain(document, path + ("signs",), "wrong-type", "'signs' must be a list")
                signs = []
            kept = [s for i, s in enumerate(signs) if self.sign(document, path + ("signs", i), s)]
            same = self.word(document, path + ("same_day",), value.get("same_day"), ("voids", "counts"), "counts")
            self.vocabulary.acts[name] = {
                "id": name,
                "label": value.get("label") or "",
                "same_day": same,
                "signs": kept,
            }

    def sign(self, document, path, sign) -> bool:
        """Check one sign of an act."""
        if not isinstance(sign, dict) or sum(k in ACT_SIGNS for k in sign) != 1:
            self.complain(document, path, "wrong-type", f"a sign is one of {', '.join(ACT_SIGNS)} with its fact")
            return False
        kind = next(k for k in sign if k in ACT_SIGNS)
        allowed = {"turns": ("to",), "event": ("to", "day"), "seen": ("to",)}.get(kind, ())
        before = len(self.problems)
        for key, value in sign.items():
            if key != kind and key not in allowed:
                self.complain(
                    document,
                    path + (key,),
                    "unknown-key",
                    f"'{key}' is no key of '{kind}'{nearest(key, allowed)}",
                    key=True,
                )
            elif key in (kind, "day") and value not in self.vocabulary.facts:
                self.complain(
                    document,
                    path + (key,),
                    "unknown-fact",
                    f"'{value}' is no fact{nearest(value, self.vocabulary.facts)}",
                )
        for key in allowed:
            if key not in sign:
                self.complain(document, path, "missing-key", f"'{kind}' needs '{key}'")
        if len(self.problems) > before:
            return False
        fact = self.vocabulary.facts[sign[kind]]
        for word in sign.get("to", ()):
            if word not in ((True, False) if fact.kind == "yes_no" else fact.values):
                self.complain(
                    document,
                    path + ("to",),
                    "unknown-value",
                    f"{fact.id} is one of {', '.join(fact.values)}; '{word}' is not",
                )
        if kind == "on" and fact.kind != "date":
            self.complain(document, path + ("on",), "wrong-type", f"{fact.id} is no date")
        return len(self.problems) == before

    def implies(self, document: Document) -> None:
        """Read what observations tell without being said."""
        scope = Scope(self.vocabulary)
        for index, body in enumerate(self.section(document, "implies", list)):
            path = ("implies", index)
            row = self.mapping(document, path, body, ("id", "when", "then", "note"), ("id", "when", "then"))
            if row is None or row.get("when") is None:
                continue
            when = parse_node(document, path + ("when",), scope, self.problems)
            then = row.get("then")
            if not isinstance(then, dict):
                self.complain(document, path + ("then",), "wrong-type", "'then' must be a mapping of facts")
                continue
            encoded = {}
            for name, value in then.items():
                where = path + ("then", name)
                fact = self.vocabulary.facts.get(name)
                if fact is None:
                    self.complain(
                        document,
                        where,
                        "unknown-fact",
                        f"'{name}' is no fact{nearest(name, self.vocabulary.facts)}",
                        key=True,
                    )
                    continue
                try:
                    encoded[name] = fact.encode(document.raw(where) if fact.kind == "one_of" else value)
                except ValueError as error:
                    self.complain(document, where, "wrong-type", f"{name} {error}")
            self.vocabulary.implies.append(
                {"id": str(row.get("id")), "when": when, "then": encoded, "note": row.get("note") or ""}
            )

    def constraints(self, document: Document) -> None:
        """Read what cannot be together."""
        scope = Scope(self.vocabulary)
        for index, body in enumerate(self.section(document, "constraints", list)):
            path = ("constraints", index)
            row = self.mapping(document, path, body, ("id", "holds", "note"), ("id", "holds", "note"))
            if row is None or row.get("holds") is None:
                continue
            holds = parse_node(document, path + ("holds",), scope, self.problems)
            if holds is not None:
                self.vocabulary.constraints.append(
                    {"id": str(row.get("id")), "holds": holds, "note": row.get("note") or ""}
                )

    def references(self) -> None:
        """Check every name that one word uses of another."""
        words = self.vocabulary
        for (kind, name), (document, path) in self.places.items():
            if kind == "fact":
                fact = words.facts[name]
                for key, wanted, known in (
                    ("voided_by", fact.voided_by, words.acts),
                    ("observed_by", [f for s in fact.observed_by for f in s], words.facts),
                    ("days_since", [f for f in fact.days_since if f != "observed"], words.facts),
                    ("until", [fact.until] if fact.until else [], words.facts),
                ):
                    self.known(document, path + (key,), wanted, known, "act" if key == "voided_by" else "fact")
            else:
                action = words.actions[name]
                self.known(document, path + ("observes",), action.observes, words.facts, "fact")
                self.known(document, path + ("kit",), action.kit, words.kit, "piece of kit")
                self.known(document, path + ("plans",), [action.plans] if action.plans else [], words.actions, "action")
        for kind, rows in (("implication", words.implies), ("constraint", words.constraints)):
            seen = set()
            for row in rows:
                if row["id"] in seen:
                    self.problems.append(
                        Problem("", 0, 0, "duplicate-id", f"the {kind} '{row['id']}' is defined twice")
                    )
                seen.add(row["id"])

    def known(self, document, path, wanted, known, what):
        """Complain about each name that is not known."""
        for name in wanted:
            if name not in known:
                self.complain(
                    document, path, f"unknown-{what.split()[0]}", f"'{name}' is no {what}{nearest(name, known)}"
                )
