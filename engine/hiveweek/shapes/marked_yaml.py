"""YAML read into plain Python values, with the place of every key and value.

PyYAML does the parsing (its C scanner where the build has one); this module walks the event stream with its own stack,
so that nesting never exhausts Python's, duplicate keys are seen, and each value keeps its line, column and spelling.
Anchors and aliases are refused: content is read by people, who should not have to chase references.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import math
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from hiveweek.files import read_bytes, text_of
from hiveweek.problems import InputProblems, Problem

MAX_DEPTH = 40
MAX_BYTES = 20_000_000

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_INT = re.compile(r"[-+]?(0|[1-9][0-9]*)$")
_FLOAT = re.compile(r"[-+]?([0-9]+\.[0-9]*|\.[0-9]+|[0-9]+)([eE][-+]?[0-9]+)?$")
_DATE = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})$")
_TRUE = {"true", "True", "TRUE", "yes", "Yes", "YES"}
_FALSE = {"false", "False", "FALSE", "no", "No", "NO"}
_NULL = {"", "~", "null", "Null", "NULL"}


@dataclass
class Document:
    """A parsed YAML document.

    Attributes
    ----------
    name : str
        The file as shown to people.
    data : object
        Plain values: dict, list, str, int, float, bool, None, date.
    problems : list of Problem
        Syntax errors, duplicate keys, anchors, impossible dates.
    digest : str
        SHA-256 of the file; empty where there is none or it could not be read.
    """

    name: str
    data: Any = None  # what a file holds is for its reader to check
    problems: list[Problem] = field(default_factory=list)
    digest: str = ""
    _places: dict = field(default_factory=dict)
    _keys: dict = field(default_factory=dict)
    _raw: dict = field(default_factory=dict)

    def place(self, path: Iterable = ()) -> tuple[int, int]:
        """Return the one-based (line, column) of the value at a path, or of its nearest known parent."""
        path = tuple(path)
        while path and path not in self._places:
            path = path[:-1]
        return self._places.get(path, (1, 1))

    def key_place(self, path: Iterable) -> tuple[int, int]:
        """Return the place of the key that ends a path, or of the value where there is no such key."""
        path = tuple(path)
        return self._keys.get(path) or self.place(path)

    def raw(self, path: Iterable) -> str | None:
        """Return a scalar as it was written (``NO``, ``012``), or None where the path holds no scalar."""
        return self._raw.get(tuple(path))

    def problem(self, path: Iterable, code: str, message: str, *, key: bool = False) -> Problem:
        """Return a Problem placed at the value (or key) of a path."""
        line, col = self.key_place(path) if key else self.place(path)
        return Problem(self.name, line, col, code, message)


def read(path: Path | str, name: str | None = None, *, most: int | None = None) -> Document:
    """Read a file of up to ``most`` bytes; whatever is wrong with it stands in the document's ``problems``."""
    shown = name or str(path)
    try:
        raw = read_bytes(path, MAX_BYTES if most is None else most, shown)
    except InputProblems as error:
        return Document(shown, problems=error.problems)
    digest = hashlib.sha256(raw).hexdigest()
    try:
        text = text_of(raw, shown)
    except InputProblems as error:
        return Document(shown, None, error.problems, digest)
    document = parse(text, shown)
    document.digest = digest
    return document


def parse(text: str, name: str = "<text>") -> Document:
    """Parse one YAML document from text."""
    document = Document(name)
    try:
        _build(text, document)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line, col = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        said = _one_line(error.problem or "cannot be read as YAML")
        lines = text.splitlines()[line - 1 : line]
        if lines and lines[0][: col + 1].lstrip(" ").startswith("\t"):
            said = "a tab stands here; YAML is indented with spaces"
        document.problems.append(Problem(name, line, col, "not-yaml", said))
        document.data = None
    except yaml.YAMLError as error:
        document.problems.append(Problem(name, 1, 1, "not-yaml", _one_line(str(error))))
        document.data = None
    return document


def _one_line(text: str) -> str:
    return " ".join(str(text).split())


class _Frame:
    """One open mapping or list while the events are walked."""

    __slots__ = ("key", "path", "place", "value", "waiting")

    def __init__(self, value: dict | list, path: tuple, place: object):
        self.value = value
        self.path = path
        self.place = place
        self.key: str | None = None
        self.waiting = False  # a key has been read and its value has not


def _build(text: str, document: Document) -> None:
    stack: list[_Frame] = []
    documents = 0
    skip = 0  # depth inside a value that is being dropped (too deep)

    def complain(mark, code, message):
        document.problems.append(Problem(document.name, mark.line + 1, mark.column + 1, code, message))

    def next_path(frame):
        return frame.path + ((frame.key,) if isinstance(frame.value, dict) else (len(frame.value),))

    def add(value, mark):
        if not stack:
            document.data = value
            return
        frame = stack[-1]
        if isinstance(frame.value, list):
            frame.value.append(value)
        else:
            frame.value[frame.key] = value
            frame.waiting = False

    for event in yaml.parse(text, Loader=_LOADER):
        mark = event.start_mark
        assert mark is not None  # only events made by hand have none
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                complain(mark, "not-yaml", "a second document starts here; one file holds one")
                return
            continue
        if skip:
            if isinstance(event, (yaml.MappingStartEvent, yaml.SequenceStartEvent)):
                skip += 1
            elif isinstance(event, (yaml.MappingEndEvent, yaml.SequenceEndEvent)):
                skip -= 1
            continue
        if getattr(event, "anchor", None) is not None:
            complain(mark, "anchor", "anchors and aliases (& and *) are not used here; write the value out")
            if isinstance(event, yaml.AliasEvent):
                if stack and isinstance(stack[-1].value, dict) and not stack[-1].waiting:
                    stack[-1].key, stack[-1].waiting = f"*{event.anchor}", True
                else:
                    add(None, mark)
                continue
        if isinstance(event, (yaml.MappingStartEvent, yaml.SequenceStartEvent)):
            if stack and isinstance(stack[-1].value, dict) and not stack[-1].waiting:
                complain(mark, "not-yaml", "a key must be a plain word, not a list or a mapping")
                stack[-1].key, stack[-1].waiting = f"?{mark.line}:{mark.column}", True
                skip = 1
                continue
            path = next_path(stack[-1]) if stack else ()
            if len(stack) >= MAX_DEPTH:
                complain(mark, "too-deep", f"nested more than {MAX_DEPTH} levels deep")
                add(None, mark)
                skip = 1
                continue
            document._places[path] = (mark.line + 1, mark.column + 1)
            value: dict | list = {} if isinstance(event, yaml.MappingStartEvent) else []
            add(value, mark)
            stack.append(_Frame(value, path, mark))
        elif isinstance(event, (yaml.MappingEndEvent, yaml.SequenceEndEvent)):
            stack.pop()
        elif isinstance(event, yaml.ScalarEvent):
            frame = stack[-1] if stack else None
            if frame is not None and isinstance(frame.value, dict) and not frame.waiting:
                key = event.value
                path = frame.path + (key,)
                if key in frame.value:
                    first = document._keys[path]
                    complain(mark, "duplicate-key", f"'{key}' stands twice; first at line {first[0]}")
                else:
                    document._keys[path] = (mark.line + 1, mark.column + 1)
                frame.key, frame.waiting = key, True
                continue
            path = next_path(frame) if frame else ()
            document._places[path] = (mark.line + 1, mark.column + 1)
            document._raw[path] = event.value
            add(_scalar(event, mark, complain), mark)
    if documents == 0 or (document.data is None and not document.problems):
        document.problems.append(Problem(document.name, 1, 1, "empty-file", "the file is empty"))


def _scalar(event, mark, complain):
    text = event.value
    if event.style in ("'", '"', "|", ">"):
        return text
    if text in _NULL:
        return None
    if text in _TRUE:
        return True
    if text in _FALSE:
        return False
    if _INT.match(text):
        return int(text) if len(text) < 19 else float(text)
    if _FLOAT.match(text):
        number = float(text)
        if not math.isfinite(number):
            complain(mark, "not-finite", f"'{text}' is too large a number")
            return None
        return number
    if text.lower() in (".nan", ".inf", "-.inf", "+.inf"):
        complain(mark, "not-finite", f"'{text}' is not a number that can be measured")
        return None
    found = _DATE.match(text)
    if found:
        try:
            return dt.date(*(int(part) for part in found.groups()))
        except ValueError:
            complain(mark, "no-such-date", f"'{text}' is no date in the calendar")
            return None
    return text
