"""Ruleset files read into a library: every topic, overlay, jurisdiction, prohibition and option, with places.

Reading gathers every problem of every file. What the library holds is not yet merged: ``layering`` does that for one
climate profile at a time.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from hiveweek import content, shapes
from hiveweek.language.conditions import Scope
from hiveweek.numbers import Number, Numbers
from hiveweek.numbers.reader import read_for, read_group
from hiveweek.problems import Place, Problem
from hiveweek.shapes import marked_yaml, structure
from hiveweek.shapes.marked_yaml import Document
from hiveweek.vocabulary.definitions import shape_of
from hiveweek.vocabulary.model import Vocabulary

T = TypeVar("T")


@dataclass
class Piece:
    """One written value and where it stands."""

    document: Document
    path: tuple
    value: Any  # as written: its reader checks the kind

    @property
    def place(self) -> Place:
        """Its place in its file."""
        return Place(self.document.name, *self.document.place(self.path))


@dataclass
class RawRule:
    """A rule as written, field by field, so that an overlay can replace a field and keep both places."""

    id: str
    topic: str
    pieces: dict[str, Piece]
    place: Place
    layer: str = "base"
    edits: list[dict] = field(default_factory=list)


@dataclass
class Topic:
    """A base file."""

    name: str
    version: int
    climates: object
    document: Document
    rules: list[str] = field(default_factory=list)
    limits: list[str] = field(default_factory=list)


@dataclass
class Overlay:
    """A file that changes others."""

    name: str
    layer: str
    wanted: tuple[str, ...]
    version: int
    document: Document
    rules: dict[str, RawRule] = field(default_factory=dict)
    limits: dict[str, Number] = field(default_factory=dict)

    @property
    def origin(self) -> str:
        """What moved a number or changed a rule, in words."""
        return f"jurisdiction {self.name}" if self.layer == "jurisdiction" else f"{self.layer} overlay {self.name}"


@dataclass
class Library:
    """Everything read, before any merging."""

    vocabulary: Vocabulary
    topics: dict[str, Topic] = field(default_factory=dict)
    rules: dict[str, RawRule] = field(default_factory=dict)
    limits: dict[str, Number] = field(default_factory=dict)
    numbers: Numbers = field(default_factory=Numbers)
    overlays: list[Overlay] = field(default_factory=list)
    jurisdictions: dict[str, Document] = field(default_factory=dict)
    safety: list[Document] = field(default_factory=list)
    treatments: list[Document] = field(default_factory=list)
    order: list[Document] = field(default_factory=list)
    troubles: Document | None = None
    late: Document | None = None
    findings: set[str] = field(default_factory=set)
    retired: dict[str, str] = field(default_factory=dict)
    files: dict[str, str] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    parsed: dict[tuple, tuple[Any, list[Problem]]] = field(default_factory=dict, repr=False)

    def once(self, key: tuple, parse: Callable[[list[Problem]], T], problems: list[Problem]) -> T:
        """Return what is parsed the same for every climate, and say its problems each time.

        Parameters
        ----------
        key : tuple
            What is parsed.
        parse : callable
            Parses it; takes the list in which its problems are gathered.
        problems : list of Problem
            Where what is wrong is gathered.
        """
        if key not in self.parsed:
            own: list[Problem] = []
            self.parsed[key] = parse(own), own
        found, own = self.parsed[key]
        problems += own
        return found

    def scope(self, roles: tuple[str, ...] = ()) -> Scope:
        """Return what a condition may name."""
        limits = dict(self.limits)
        for overlay in self.overlays:
            limits.update(overlay.limits)
        return Scope(self.vocabulary, limits, self.findings, roles)


def _rulesets(folder: Path | None) -> Path:
    return Path(folder) if folder else content.root() / "rulesets"


def case_files(folder: Path | None = None) -> list[Path]:
    """Return the case files that stand beside the rule files."""
    return sorted(_rulesets(folder).rglob("*.cases.yaml"))


def read_library(vocabulary: Vocabulary, folder: Path | None = None, extra: Iterable[Path | str] = ()) -> Library:
    """Read every ruleset file of a folder and the extra overlays a user names.

    Parameters
    ----------
    vocabulary : Vocabulary
        Facts, actions and sources the files may name.
    folder : Path, optional
        A ``rulesets`` folder; the shipped one by default.
    extra : iterable of Path
        Overlay files (or folders of them) of an author or an apiary.

    Returns
    -------
    Library
        Its ``problems`` hold everything found; nothing is raised here.
    """
    base = _rulesets(folder)
    library = Library(vocabulary)
    library.numbers = read_for(base, library.problems, vocabulary.sources)
    for path in sorted((base / "base").glob("*.yaml")):
        if path.name.endswith(".cases.yaml"):
            continue
        kind = "treatments" if path.stem == "treatments" else "ruleset"
        document = _open(library, path, kind)
        if document.data is None:
            continue
        if kind == "treatments":
            library.treatments.append(document)
            _limits(library, document, "treatments", ("limits",), library.limits, "base")
        else:
            _topic(library, document, path)
    safety = base / "safety.yaml"
    if safety.exists():
        document = _open(library, safety, "safety")
        if document.data is not None:
            library.safety.append(document)
            _limits(library, document, "safety", ("limits",), library.limits, "base")
    order = base / "vocabulary" / "order.yaml"
    if order.exists():
        document = _open(library, order, "order")
        if document.data is not None:
            library.order.append(document)
    late = base / "vocabulary" / "late.yaml"
    if late.exists():
        document = _open(library, late, "late")
        if document.data is not None:
            library.late = document
    troubles = base / "vocabulary" / "troubles.yaml"
    if troubles.exists():
        document = _open(library, troubles, "troubles")
        if document.data is not None:
            library.troubles = document
            _limits(library, document, "troubles", ("limits",), library.limits, "base")
    for path in sorted((base / "overlays").glob("*.yaml")):
        if not path.name.endswith(".cases.yaml"):
            _overlay(library, _open(library, path, "overlay"))
    for path in sorted((base / "jurisdictions").glob("*.yaml")):
        if not path.name.endswith(".cases.yaml"):
            _jurisdiction(library, _open(library, path, "jurisdiction"), path)
    for path in _named(library, extra):
        _overlay(library, _open(library, path, "overlay"), outside=True)
    retired = base / "vocabulary" / "retired.yaml"
    if retired.exists():
        document = shapes.read(retired, "retired")
        library.problems += document.problems
        for item in structure.listed((document.data or {}).get("retired")):
            if item and "id" in item:
                library.retired[item["id"]] = item.get("reason", "")
    for rule in [*library.rules.values(), *(raw for overlay in library.overlays for raw in overlay.rules.values())]:
        if rule.id in library.retired:
            piece = rule.pieces["id"]
            library.problems.append(
                piece.document.problem(
                    piece.path, "retired-id", f"'{rule.id}' is retired and never used again: {library.retired[rule.id]}"
                )
            )
    return library


def wrong_endings(paths: Iterable[Path]) -> list[Problem]:
    """Return a problem for each of some files whose name ends as no content file does."""
    said = "files of content end in .yaml; this one is not read"
    return [Problem(content.shown(path), 1, 1, "wrong-ending", said) for path in sorted(paths)]


def _named(library: Library, extra: Iterable[Path | str]) -> list[Path]:
    paths: list[Path] = []
    for item in extra:
        path = Path(item)
        if path.is_dir():
            library.problems += wrong_endings(path.glob("*.yml"))
            found = sorted(path.glob("*.yaml"))
            if not found:
                said = "there is no .yaml file in this folder"
                library.problems.append(Problem(content.shown(path), 0, 0, "no-file", said))
            paths += [p for p in found if not p.name.endswith(".cases.yaml")]
        else:
            paths.append(path)
    # One file named twice (by a scenario and on the command line) is one overlay, not two that disagree.
    return list({os.path.realpath(path): path for path in paths}.values())


def _open(library: Library, path: Path, kind: str) -> Document:
    name = content.shown(path)
    document = marked_yaml.read(path, name)
    library.problems += document.problems
    library.problems += shape_of(kind, library.vocabulary).check(document)
    library.files[name] = document.digest[:12]
    return document


def _topic(library: Library, document: Document, path: Path) -> None:
    data = document.data
    name = data.get("ruleset", path.stem)
    if name != path.stem:
        library.problems.append(
            document.problem(("ruleset",), "bad-name", f"'{name}' must be the file's name, {path.stem}")
        )
    if name in library.topics:
        other = library.topics[name].document
        library.problems.append(
            document.problem(("ruleset",), "duplicate-id", f"topic '{name}' stands in {other.name} too")
        )
    topic = library.topics[name] = Topic(name, data.get("version", 0), data.get("climates", "all"), document)
    topic.limits = _limits(library, document, name, ("limits",), library.limits, "base")
    topic.rules = _rules(library, document, ("rules",), name, library.rules, "base")


def _limits(
    library: Library, document: Document, topic: str, path: tuple, into: dict[str, Number], origin
) -> list[str]:
    """Read the limits of a file into a mapping; return their names."""
    found = read_group(
        document, path, f"limit.{topic}", library.problems, sources=library.vocabulary.sources, origin=origin
    )
    for name, row in found.items():
        if name in into:
            here, words = row.place, f"'{name}' stands at {into[name].place} too"
            library.problems.append(Problem(here.file, here.line, here.col, "duplicate-id", words))
        else:
            into[name] = row
    return list(found)


def _rules(library, document, path, topic, into, layer) -> list[str]:
    data = document.data
    for step in path:
        data = data.get(step, {})
    ids = []
    for index, body in enumerate(data):
        if not body or "id" not in body:
            continue
        rule_id = body["id"]
        here = path + (index,)
        if rule_id in into:
            library.problems.append(
                document.problem(here + ("id",), "duplicate-id", f"'{rule_id}' stands at {into[rule_id].place} too")
            )
            continue
        if layer == "base" and rule_id.partition(".")[0] != topic:
            library.problems.append(
                document.problem(here + ("id",), "bad-name", f"'{rule_id}' must begin with '{topic}.'")
            )
        pieces = {key: Piece(document, here + (key,), value) for key, value in body.items()}
        into[rule_id] = RawRule(rule_id, topic, pieces, Place(document.name, *document.place(here + ("id",))), layer)
        ids.append(rule_id)
        if "finding" in body:
            library.findings.add(body["finding"])
    return ids


def _overlay(library: Library, document: Document, outside: bool = False) -> None:
    data = document.data
    if data is None or "overlay" not in data:
        return
    layer = data.get("layer", "author")
    if outside and layer in ("profile", "jurisdiction"):
        library.problems.append(
            document.problem(
                ("layer",), "unknown-value", f"an overlay named by a user is of layer author or apiary, not {layer}"
            )
        )
    overlay = Overlay(data["overlay"], layer, structure.texts(data.get("for")), data.get("version", 0), document)
    overlay.limits = {}
    _limits(library, document, data["overlay"], ("add", "limits"), overlay.limits, f"{layer} overlay {overlay.name}")
    _rules(library, document, ("add", "rules"), overlay.name, overlay.rules, f"{layer} overlay {overlay.name}")
    for rule_id, raw in overlay.rules.items():
        if rule_id in library.rules:
            library.problems.append(
                Problem(
                    raw.place.file,
                    raw.place.line,
                    raw.place.col,
                    "duplicate-id",
                    f"'{rule_id}' stands at {library.rules[rule_id].place} too; to change it use override",
                )
            )
    library.overlays.append(overlay)


def _jurisdiction(library: Library, document: Document, path: Path) -> None:
    data = document.data
    if data is None or "jurisdiction" not in data:
        return
    name = data["jurisdiction"]
    if name != path.stem:
        library.problems.append(
            document.problem(("jurisdiction",), "bad-name", f"'{name}' must be the file's name, {path.stem}")
        )
    library.jurisdictions[name] = document
    overlay = Overlay(name, "jurisdiction", (name,), data.get("version", 1), document)
    _limits(library, document, name, ("add", "limits"), overlay.limits, f"jurisdiction {name}")
    _rules(library, document, ("add", "rules"), name, overlay.rules, f"jurisdiction {name}")
    library.overlays.append(overlay)
