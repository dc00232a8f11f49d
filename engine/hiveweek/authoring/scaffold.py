"""New rule files to begin from: a topic or an overlay with one example that passes, and its cases."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from hiveweek import content
from hiveweek.authoring.cases import Runner
from hiveweek.climate import load_profile, profile_ids
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.rules.reader import Library, read_library
from hiveweek.shapes import FOLDER as SCHEMAS
from hiveweek.shapes.names import NAME, RULE_ID
from hiveweek.vocabulary.model import Vocabulary

TEMPLATES = Path(__file__).resolve().parent / "templates"
CLIMATE, DATE = "cool_maritime", "2027-09-06"  # of the example cases; any climate with a winter would do
EXAMPLE_LIMIT, EXAMPLE_RULE = (
    "limit.swarm.look_days",
    "swarm.look-due",
)  # what the example overlay moves, and the rule that shows it


@dataclass(frozen=True)
class Made:
    """A file to write: its path and text."""

    path: Path
    text: str


@lru_cache(maxsize=1)
def templates():
    """Return the Jinja environment of the shipped templates; a name that is missing is an error."""
    import jinja2

    return jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def topic_files(rule_id: str, folder: Path | None, words: Vocabulary) -> list[Made]:
    """Return a new topic file with one example rule, and its cases.

    Parameters
    ----------
    rule_id : str
        ``topic.name`` of the rule.
    folder : Path, optional
        Where the topic file goes; the shipped ``rulesets/base`` by default.

    Raises
    ------
    InputProblems
        For an id that is no id, is used, or was retired; for a topic or file that is there already.
    """
    if not re.match(RULE_ID, rule_id):
        raise InputProblems(
            [_word("bad-name", f"'{rule_id}' is no rule id; write topic.name with small letters, digits and -")]
        )
    topic = rule_id.partition(".")[0]
    base = folder or content.root() / "rulesets" / "base"
    library = _library(base, words)
    problems = _used(rule_id, library)
    if topic in library.topics:
        problems.append(
            _word(
                "duplicate-id",
                f"topic '{topic}' stands in {library.topics[topic].document.name}; add the rule there "
                f"(--print shows one to copy)",
            )
        )
    return _checked([base / f"{topic}.yaml", base / f"{topic}.cases.yaml"], problems, topic_texts(rule_id, base))


def topic_texts(rule_id: str, base: Path) -> list[str]:
    """Return the texts of a topic file with one example rule, and of its cases."""
    given = {
        "topic": rule_id.partition(".")[0],
        "rule": rule_id,
        "climate": CLIMATE,
        "date": DATE,
        "schemas": _schemas(base),
    }
    return [templates().get_template(name).render(given) for name in ("rule.yaml.j2", "rule.cases.yaml.j2")]


def overlay_files(profile: str, name: str, folder: Path | None, words: Vocabulary) -> list[Made]:
    """Return a new overlay of an author for one climate, and its cases.

    Parameters
    ----------
    profile : str
        Climate profile it holds for.
    name : str
        Name of the overlay and of its file.
    folder : Path, optional
        Where the files go; the current folder by default.

    Raises
    ------
    InputProblems
        For a name that is none or is used, an unknown profile, or files that are there already.
    """
    folder = folder or Path()
    known = profile_ids()
    problems = []
    if profile not in known:
        problems.append(_word("unknown-profile", f"'{profile}' is no profile{nearest(profile, known)}"))
    if not re.match(NAME, name):
        problems.append(_word("bad-name", f"'{name}' is no name: small letters, digits, - and _"))
    if problems:
        raise InputProblems(problems)
    library = read_library(words)
    problems = _used(f"{name}.guard-in-time", library)
    if name in library.topics or name in {overlay.name for overlay in library.overlays}:
        problems.append(_word("duplicate-id", f"'{name}' is the name of a shipped topic or overlay; take another"))
    limit = Runner(words).ruleset(load_profile(profile)).limits[EXAMPLE_LIMIT]
    was = int(limit.value) if limit.value == int(limit.value) else limit.value
    source = "common-practice" if limit.source == ("common-practice",) else "[" + ", ".join(limit.source) + "]"
    given = {
        "profile": profile,
        "name": name,
        "limit": limit,
        "was": was,
        "value": was + 2,
        "source": source,
        "rule": EXAMPLE_RULE,
        "date": DATE,
        "schemas": _schemas(folder),
    }
    texts = [templates().get_template(file).render(given) for file in ("overlay.yaml.j2", "overlay.cases.yaml.j2")]
    return _checked([folder / f"{name}.yaml", folder / f"{name}.cases.yaml"], problems, texts)


def write(made: list[Made]) -> None:
    """Write files; none is ever overwritten.

    Raises
    ------
    InputProblems
        Where a file cannot be written.
    """
    for item in made:
        try:
            item.path.parent.mkdir(parents=True, exist_ok=True)
            with open(item.path, "x", encoding="utf-8") as file:
                file.write(item.text)
        except OSError as error:
            raise InputProblems(
                [Problem(content.shown(item.path), 1, 1, "no-file", f"cannot be written: {error.strerror}")]
            ) from None


def _library(base: Path, words: Vocabulary) -> Library:
    """The rules that stand in the folder's own rulesets, where it is the base of one; else the shipped ones."""
    return read_library(words, base.parent if base.name == "base" and base.is_dir() else None)


def _used(rule_id: str, library: Library) -> list[Problem]:
    if rule_id in library.retired:
        return [_word("retired-id", f"'{rule_id}' is retired and never used again: {library.retired[rule_id]}")]
    raws = {**library.rules, **{raw.id: raw for overlay in library.overlays for raw in overlay.rules.values()}}
    return [_word("duplicate-id", f"'{rule_id}' stands at {raws[rule_id].place}")] if rule_id in raws else []


def _checked(paths: list[Path], problems: list[Problem], texts: list[str]) -> list[Made]:
    problems = problems or [
        Problem(content.shown(path), 1, 1, "file-exists", "this file is there already and stays as it is")
        for path in paths
        if path.exists()
    ]
    if problems:
        raise InputProblems(problems)
    return [Made(path, text) for path, text in zip(paths, texts, strict=True)]


def _schemas(folder: Path) -> str:
    return Path(os.path.relpath(SCHEMAS, folder.resolve())).as_posix()


def _word(code: str, message: str) -> Problem:
    return Problem("", 0, 0, code, message)
