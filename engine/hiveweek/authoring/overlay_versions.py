"""A version of an overlay: a file or a folder as it lies there, or as a git revision holds it (``REV:PATH``)."""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from pathlib import Path

from hiveweek import content
from hiveweek.problems import InputProblems, Problem, nearest

CASES = ".cases.yaml"


@dataclass(frozen=True)
class Version:
    """One of the two that are held against each other.

    Attributes
    ----------
    name : str
        As the user named it.
    overlays, cases : tuple of Path
        Its files; those of a revision lie in a temporary folder.
    folder : Path or None
        That folder; None for files as they lie there.
    """

    name: str
    overlays: tuple[Path, ...]
    cases: tuple[Path, ...]
    folder: Path | None = None

    def told(self, text: str) -> str:
        """Return a text in which files of a revision are named as git names them."""
        if self.folder is None:
            return text
        rev, _, path = self.name.partition(":")
        inside = path if len(self.overlays) != 1 or not path.endswith(".yaml") else path.rpartition("/")[0]
        shown = f"{rev}:{inside}/" if inside else f"{rev}:"
        for place in (content.shown(self.folder), str(self.folder)):
            text = text.replace(f"{place}/", shown).replace(place, self.name)
        return text


def version(name: str, into: Path) -> Version:
    """Return a version of an overlay with the cases beside it.

    Parameters
    ----------
    name : str
        A file, a folder, or ``REV:PATH``: the path from the top of the repository at hand, or from here with ``./``.
    into : Path
        An empty folder, where the files of a revision are put.

    Raises
    ------
    InputProblems
        For a name that is neither, a revision that is not there (with the nearest branch or tag) or does not hold the path.
    """
    path = Path(name)
    if path.is_dir():
        found = sorted(path.glob("*.yaml"))
        overlays = tuple(p for p in found if not p.name.endswith(CASES))
        return Version(name, overlays or (path,), tuple(p for p in found if p.name.endswith(CASES)))
    if path.exists():
        return Version(name, (path,), tuple(p for p in [path.with_name(path.stem + CASES)] if p.exists()))
    rev, colon, inside = name.partition(":")
    if not colon:
        raise InputProblems([Problem(name, 1, 1, "no-file", "there is no such file or folder, and no REV:PATH of git")])
    _written(rev, inside, into)
    found = sorted(into.glob("*.yaml"))
    overlays = tuple(p for p in found if not p.name.endswith(CASES))
    return Version(name, overlays or (into,), tuple(p for p in found if p.name.endswith(CASES)), into)


def _git(*words: str) -> subprocess.CompletedProcess:
    return subprocess.run(["git", *words], capture_output=True, check=False)


def _written(rev: str, inside: str, into: Path) -> None:
    """Write the files of a revision into a folder; nothing else is touched."""

    def refuse(said: str) -> InputProblems:
        return InputProblems([Problem("", 0, 0, "no-revision", said)])

    try:
        there = _git("rev-parse", "--show-toplevel").returncode == 0
    except OSError:
        there = False
    if not there:
        raise refuse(f"'{rev}:{inside}' is no file, and this folder stands in no git repository")
    known = _git("for-each-ref", "--format=%(refname:short)").stdout.decode().split()
    if (
        not rev
        or rev.startswith("-")
        or _git("rev-parse", "--verify", "--quiet", "--end-of-options", f"{rev}^{{commit}}").returncode
    ):
        raise refuse(f"'{rev}' is no git revision{nearest(rev, [*known, 'HEAD'])}")
    top = inside.rstrip("/")
    kind = _git("cat-file", "-t", f"{rev}:{top}").stdout.decode().strip()
    if kind == "tree":
        names = _git("ls-tree", "--full-tree", "--name-only", f"{rev}:{top}").stdout.decode().splitlines()
        files = [f"{top}/{name}" if top else name for name in names if name.endswith((".yaml", ".yml"))]
    elif kind == "blob":
        files = [
            top,
            *([beside] if _git("cat-file", "-e", f"{rev}:{(beside := _beside(top))}").returncode == 0 else []),
        ]
    else:
        raise refuse(
            f"revision '{rev}' holds no '{inside}'; name it from the top of the repository, or from here with ./"
        )
    for file in files:
        target = into / re.sub(r"[^\w.-]", "_", file.rpartition("/")[2])
        target.write_bytes(_git("show", f"{rev}:{file}").stdout)


def _beside(file: str) -> str:
    return file.removesuffix(".yaml") + CASES
