"""Names that only all rules together can tell to be right: findings, limits and rules in other files, what actions use or move."""

from __future__ import annotations

from pathlib import Path

from hiveweek import shapes
from hiveweek.authoring.areas import read_areas
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.rules.model import RuleSet
from hiveweek.rules.reader import Library
from hiveweek.shapes.structure import listed, texts

BY_FINDING = ("waits_for", "waits_day", "holds_open", "troubles")


def problems_of(folder: Path, library: Library, rulesets: dict[str, RuleSet]) -> list[Problem]:
    """Return the names that mean nothing under the rules of a library.

    Parameters
    ----------
    folder : Path
        The rulesets folder.
    library : Library
        Everything read from it.
    rulesets : dict of str to RuleSet
        What each climate makes of it, by profile.
    """
    problems = [*_ranking(folder / "ranking.yaml", library), *_tags(library), *_kinds(folder, library)]
    try:
        read_areas(folder / "vocabulary" / "areas.yaml", library.vocabulary, rulesets)
    except InputProblems as error:
        problems += error.problems
    return problems


def _tags(library: Library) -> list[Problem]:
    """Prohibitions of whatever uses or moves something: some action does."""
    problems = []
    for key in ("uses", "moves"):
        known = {tag for action in library.vocabulary.actions.values() for tag in getattr(action, key)}
        for document in library.safety:
            for row, body in enumerate(listed(document.data.get("prohibitions"))):
                for index, target in enumerate(listed((body or {}).get("never"))):
                    tag = target.get(key) if isinstance(target, dict) else None
                    if tag is not None and tag not in known:
                        said = f"no action {key} '{tag}'{nearest(tag, known)}"
                        problems.append(
                            document.problem(("prohibitions", row, "never", index, key), "unknown-value", said)
                        )
    return problems


def _kinds(folder: Path, library: Library) -> list[Problem]:
    """Kinds of hive in which a job is different: values of their fact."""
    path, facts = folder / "vocabulary" / "actions.yaml", library.vocabulary.facts
    if not path.exists():
        return []
    document = shapes.read(path, "actions")
    rows = listed(document.data.get("in_hive")) if isinstance(document.data, dict) else []
    problems = []
    for row, body in enumerate(rows):
        where = (body or {}).get("where")
        for name, kinds in (where if isinstance(where, dict) else {}).items():
            known = facts[name].values if name in facts else ()
            problems += [
                document.problem(
                    ("in_hive", row, "where", name, index),
                    "unknown-value",
                    f"{name} is not '{kind}'{nearest(kind, known)}",
                )
                for index, kind in enumerate(texts(kinds))
                if known and kind not in known
            ]
    return problems


def _ranking(path: Path, library: Library) -> list[Problem]:
    """Findings and limits that the ranking names."""
    if not path.exists():
        return []
    document = shapes.read(path, "ranking")
    data = document.data if isinstance(document.data, dict) else {}
    named: list[tuple[tuple, str, bool]] = [
        ((part, name), name, True) for part in BY_FINDING for name in _mapping(data, part)
    ]
    named += [
        (("looks_not_where", look, index), name, False)
        for look, names in _mapping(data, "looks_not_where").items()
        for index, name in enumerate(texts(names))
    ]
    problems = [
        document.problem(
            at, "unknown-finding", f"no rule gives 'finding.{name}'{nearest(name, library.findings)}", key=key
        )
        for at, name, key in named
        if name not in library.findings
    ]
    problems += [
        document.problem(("waits_day", guard), "unknown-limit", f"'{name}' is no limit{nearest(name, library.limits)}")
        for guard, name in _mapping(data, "waits_day").items()
        if name is not None and name not in library.limits
    ]
    return problems


def _mapping(data: dict, part: str) -> dict:
    found = data.get(part)
    return found if isinstance(found, dict) else {}
