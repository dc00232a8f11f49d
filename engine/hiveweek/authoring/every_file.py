"""Every file of a rulesets folder, held against the schema of its kind: also those that no rule is read from."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from hiveweek import content, vocabulary
from hiveweek.authoring.areas import read_exceptions
from hiveweek.plan import ranking
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.rules.reader import wrong_endings
from hiveweek.shapes import FOLDER
from hiveweek.vocabulary import Vocabulary, normal
from hiveweek.vocabulary.definitions import shape_of

BY_FOLDER = {
    "base": "ruleset",
    "facts": "facts",
    "jurisdictions": "jurisdiction",
    "numbers": "numbers",
    "overlays": "overlay",
    "situations": "cases",
}


def kind_of(path: Path) -> str | None:
    """Return the kind of a content file by its name or its folder, else by the schema that its first line names.

    Returns
    -------
    str or None
        Name of a schema; None where neither tells.
    """
    if path.name.endswith(".cases.yaml"):
        return "cases"
    for name in (path.stem, BY_FOLDER.get(path.parent.name)):
        if name and (FOLDER / f"{name}.schema.json").is_file():
            return name
    with path.open(encoding="utf-8", errors="replace") as file:
        named = file.readline().rpartition("/")[2].strip().removesuffix(".schema.json")
    return named if named and (FOLDER / f"{named}.schema.json").is_file() else None


def vocabulary_of(folder: Path, problems: list[Problem]) -> Vocabulary:
    """Return the words of a rulesets folder, the shipped ones where it has none; its mistakes are added to the problems."""
    words = folder / "vocabulary"
    if not (words / "facts").is_dir() or folder.resolve() == (content.root() / "rulesets").resolve():
        return vocabulary.load()
    try:
        return vocabulary.read_vocabulary(words)
    except InputProblems as error:
        problems += error.problems
        return vocabulary.load()  # the other files are read all the same


def problems_of(folder: Path, words: Vocabulary) -> list[Problem]:
    """Return what is wrong with the files of a rulesets folder, by the schema of each kind.

    Parameters
    ----------
    folder : Path
        Holds ``base/``, ``vocabulary/`` and so on.
    words : Vocabulary
        What the files may name.

    Returns
    -------
    list of Problem
        Also a file of no known kind (``unknown-kind``), and one whose name ends in ``.yml``, which nothing reads (``wrong-ending``).
    """
    problems = wrong_endings(folder.rglob("*.yml"))
    for path in sorted(folder.rglob("*.yaml")):
        kind = kind_of(path)
        if kind is None:
            kinds = [*BY_FOLDER, *(found.name.removesuffix(".schema.json") for found in FOLDER.glob("*.json"))]
            said = f"no kind of file is known by this name or in this folder{nearest(path.stem, kinds)}"
            problems.append(Problem(content.shown(path), 1, 1, "unknown-kind", said))
        else:
            problems += shape_of(kind, words).read(path).problems
    ranks, colony, exceptions = (
        folder / name for name in ("ranking.yaml", "vocabulary/normal_colony.yaml", "vocabulary/proof_exceptions.yaml")
    )
    problems += _refused(ranks, lambda: ranking.load(words, ranks))
    problems += _refused(colony, lambda: normal.load(words, folder))
    problems += _refused(exceptions, lambda: read_exceptions(exceptions))
    return problems


def cases_beside(paths: Iterable[Path], words: Vocabulary) -> list[Problem]:
    """Return what is wrong with the shape of the case files among some paths and in their folders."""
    files = {found for path in paths for found in (path.rglob("*.cases.yaml") if path.is_dir() else [path])}
    return [
        problem
        for path in sorted(files)
        if path.name.endswith(".cases.yaml")
        for problem in shape_of("cases", words).read(path).problems
    ]


def _refused(path: Path, read: Callable[[], object]) -> list[Problem]:
    """Return what a reader refuses a file for; nothing where there is no such file."""
    if not path.exists():
        return []
    try:
        read()
    except InputProblems as error:
        return list(error.problems)
    return []
