"""The one reader of content files: a file is held against the JSON Schema of its kind, the very file that editors get.

What a schema cannot say (references between files, one number under another, dates in order, ids given twice) is left to
the reader of the kind. What does not fit is told and taken out of the document's data, so that a reader may go on with the
rest, find what else is wrong, and never meets a value of another type than the schema has.
"""

from __future__ import annotations

import json
import os
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from hiveweek import content
from hiveweek.kept import code, kept, key_of
from hiveweek.problems import Problem
from hiveweek.shapes import marked_yaml, structure
from hiveweek.shapes.marked_yaml import Document

FOLDER = Path(__file__).resolve().parent.parent / "schemas"
EACH_RUN = ("profile", "ranking", "scenario")  # read by every command; that one fits is kept between runs
_HERE = "#/$defs/"


class _Unfit(Exception):
    """A document does not fit, or only with scalars taken as texts; never kept."""

    def __init__(self, misfits: list[structure.Misfit]):
        super().__init__()
        self.misfits = misfits


class Shape:
    """The shape of one kind of file.

    Parameters
    ----------
    kind : str
        Name of a file of ``schemas/``: ``facts``, ``scenario``, ``ruleset``...
    definitions : dict, optional
        Entries of ``$defs`` that replace those of the file: the words of the vocabulary at hand, so that a word is known
        as soon as it is written.
    """

    def __init__(self, kind: str, definitions: dict | None = None):
        self.kind = kind
        self.definitions = definitions or {}

    @cached_property
    def schema(self) -> dict:
        """The schema, its references replaced by what they name as far as they do not go round."""
        found = json.loads((FOLDER / f"{self.kind}.schema.json").read_text(encoding="utf-8"))
        return _without_references(found, {**found.get("$defs", {}), **self.definitions})

    @cached_property
    def validator(self):
        """The validator of the schema."""
        from jsonschema import Draft202012Validator

        return Draft202012Validator(self.schema)

    def part(self, key: str) -> Shape:
        """Return the shape of a mapping that holds nothing but one key of such a file."""
        found = Shape(f"{self.kind} {key}", self.definitions)
        inner = {"type": "object", "properties": {key: self.schema["properties"][key]}, "$defs": self.schema["$defs"]}
        found.__dict__["schema"] = inner
        return found

    def check(self, document: Document) -> list[Problem]:
        """Return what does not fit, and take it out of the document's data.

        A scalar that YAML takes for a number, a date or a yes (``012``, ``NO``) becomes a text, as it was written, where
        the schema asks for a text. In a list, None stands in the place of what does not fit.
        """
        if document.data is None:
            return []
        told = {(problem.line, problem.col) for problem in document.problems}
        found = self._misfits(document)
        for misfit in found:
            misfit.take_out(document)
        problems = [misfit.problem(document) for misfit in found]
        return [problem for problem in problems if (problem.line, problem.col) not in told]

    def _misfits(self, document: Document) -> list[structure.Misfit]:
        if self.kind not in EACH_RUN:
            return structure.misfits(document, self.validator)
        written = repr(document.data)

        def fits() -> bool:
            found = structure.misfits(document, self.validator)
            if found or repr(document.data) != written:
                raise _Unfit(found)
            return True

        try:
            kept("shape", key_of((self._digest, written), ()), bool, fits)
        except _Unfit as unfit:
            return unfit.misfits
        return []

    @cached_property
    def _digest(self) -> str:
        return key_of((self.kind, self.definitions), [FOLDER / f"{self.kind}.schema.json", *code("shapes")])

    def read(self, path: Path | str, name: str | None = None) -> Document:
        """Read a file; everything wrong with it stands in the document's ``problems``.

        Parameters
        ----------
        path : path
            A YAML file.
        name : str, optional
            The file as shown to people.
        """
        document = marked_yaml.read(path, name or content.shown(Path(path)))
        document.problems += self.check(document)
        return document


@cache
def shape(kind: str) -> Shape:
    """Return the shape of a kind of file as it ships."""
    return Shape(kind)


def read(path: Path | str, kind: str) -> Document:
    """Read a file of a kind; everything wrong with it stands in the document's ``problems``."""
    return shape(kind).read(path)


def comment(kind: str, folder: Path) -> str:
    """Return the line by which an editor finds the schema of a kind of file, for a file in a folder."""
    path = Path(os.path.relpath(FOLDER / f"{kind}.schema.json", Path(folder).resolve())).as_posix()
    return f"# yaml-language-server: $schema={path}\n"


def reached(schema: dict, definitions: dict) -> set[str]:
    """Return the names of the definitions that a schema refers to, however far."""
    found: set[str] = set()
    left: list[Any] = [schema]
    while left:
        node = left.pop()
        if isinstance(node, list):
            left += node
        elif isinstance(node, dict):
            left += node.values()
            name = str(node.get("$ref", "")).removeprefix(_HERE)
            if name and name not in found:
                found.add(name)
                left.append(definitions[name])
    return found


def _without_references(schema: dict, definitions: dict) -> dict:
    """Replace each ``$ref`` to a definition by what it names; one that goes round stays, with its definition."""
    made: dict[str, dict] = {}
    round_about: list[str] = []

    def resolved(node, within: tuple[str, ...]):
        if isinstance(node, list):
            return [resolved(item, within) for item in node]
        if not isinstance(node, dict):
            return node
        name = str(node.get("$ref", "")).removeprefix(_HERE)
        if not name:
            return {key: resolved(value, within) for key, value in node.items()}
        if name in within:
            round_about.append(name)
            return node
        if name not in made:
            made[name] = resolved(definitions[name], (*within, name))
        return {**made[name], **{key: value for key, value in node.items() if key != "$ref"}}

    found = resolved({key: value for key, value in schema.items() if key != "$defs"}, ())
    return {**found, "$defs": {name: made[name] for name in round_about}}
