"""The two sides of a comparison: a git revision, a rulesets folder, or the rules at hand with some limits moved."""

from __future__ import annotations

import dataclasses
import io
import math
import re
import subprocess
import tarfile
from collections.abc import Iterable
from pathlib import Path

from hiveweek import content, vocabulary
from hiveweek.authoring.cases import Runner
from hiveweek.climate import load_profile, profile_ids
from hiveweek.plan import ranking
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.rules.model import RuleSet
from hiveweek.vocabulary.loader import read_vocabulary

_SETTING = re.compile(r"(?P<name>limit\.[a-z0-9_-]+\.[a-z0-9_-]+)=(?P<value>.*)$")


def settings(texts: Iterable[str], runner: Runner) -> dict[str, float]:
    """Read ``limit.topic.name=VALUE`` words.

    Raises
    ------
    InputProblems
        For a word of another form, a limit that no profile has (with the nearest), a value that is no number.
    """
    known: set[str] = set()
    for name in profile_ids():
        known |= set(runner.ruleset(load_profile(name)).limits)
    found: dict[str, float] = {}
    problems = []
    for text in texts:
        match = _SETTING.match(text)
        if match is None:
            problems.append(_word("command-line", f"'{text}': write --set limit.topic.name=VALUE"))
            continue
        name = match.group("name")
        if name not in known:
            problems.append(_word("unknown-limit", f"'{name}' is no limit{nearest(name, known)}"))
        try:
            value = float(match.group("value"))
            if not math.isfinite(value):
                raise ValueError
        except ValueError:
            problems.append(_word("wrong-type", f"'{match.group('value')}' is no number for {name}"))
            continue
        if name in found:
            problems.append(_word("duplicate-key", f"'{name}' is set twice"))
        found[name] = value
    if problems:
        raise InputProblems(problems)
    return found


def with_limits(runner: Runner, moved: dict[str, float]) -> Runner:
    """Return a runner over the same files with some limits moved."""

    def change(ruleset: RuleSet) -> RuleSet:
        rows = [
            dataclasses.replace(row, value=moved[name], origin="set by hand")
            for name, row in ruleset.numbers.rows.items()
            if name in moved
        ]
        return dataclasses.replace(ruleset, numbers=ruleset.numbers.moved(rows))

    return runner.changed(change)


def cautions(runner: Runner, moved: dict[str, float]) -> list[str]:
    """Return what a reader should know of the values tried: outside a published band, or loosening a safety limit."""
    lines = []
    profile = load_profile(profile_ids()[0])
    limits = runner.ruleset(profile).limits
    for name, value in moved.items():
        limit = limits.get(name)
        if limit is None:
            continue
        if limit.band and not limit.band[0] <= value <= limit.band[1]:
            lines.append(f"{name}: {value:g} lies outside the published band {limit.band[0]:g} to {limit.band[1]:g}")
        if (limit.tighter == "up" and value < limit.value) or (limit.tighter == "down" and value > limit.value):
            lines.append(f"{name}: {value:g} loosens a safety limit; no overlay may do that outside its band")
    return lines


def side(name: str, into: Path) -> Runner:
    """Return a runner over a rulesets folder or the rules of a git revision.

    Parameters
    ----------
    name : str
        A folder (``rulesets``, or one that holds it), else a revision of the repository that the shipped rules stand in.
    into : Path
        Folder to unpack a revision into.

    Raises
    ------
    InputProblems
        For a name that is neither (with the nearest branch or tag); with the problems of its vocabulary.
    """
    path = Path(name)
    folder = next((p for p in (path, path / "rulesets") if (p / "base").is_dir()), None)
    if folder is None:
        folder = _unpacked(name, into)
    words = read_vocabulary(folder / "vocabulary") if (folder / "vocabulary" / "facts").is_dir() else vocabulary.load()
    shipped = vocabulary.load()
    runner = Runner(shipped if words == shipped else words, folder)
    if (folder / "ranking.yaml").exists():
        runner.ranking = ranking.load(runner.words, folder / "ranking.yaml")
    return runner


def _repository() -> Path:
    """Where revisions are looked for."""
    return content.root()


def _git(*words: str) -> subprocess.CompletedProcess:
    return subprocess.run(["git", "-C", str(_repository()), *words], capture_output=True, check=False)


def _unpacked(name: str, into: Path) -> Path:
    try:
        there = _git("rev-parse", "--show-toplevel").returncode == 0
    except OSError:
        there = False
    if not there:
        raise InputProblems(
            [_word("no-revision", f"'{name}' is no rulesets folder, and the rules at hand stand in no git repository")]
        )
    known = _git("for-each-ref", "--format=%(refname:short)").stdout.decode().split()
    if (
        name.startswith("-")
        or _git("rev-parse", "--verify", "--quiet", "--end-of-options", f"{name}^{{commit}}").returncode
    ):
        raise InputProblems(
            [
                _word(
                    "no-revision",
                    f"'{name}' is no rulesets folder and no git revision{nearest(name, [*known, 'HEAD'])}",
                )
            ]
        )
    packed = _git("archive", "--format=tar", name, "rulesets")
    if packed.returncode:
        raise InputProblems([_word("no-revision", f"revision '{name}' holds no rulesets")])
    target = into / re.sub(r"[^A-Za-z0-9._-]", "_", name)
    with tarfile.open(fileobj=io.BytesIO(packed.stdout)) as archive:
        archive.extractall(target, filter="data")
    return target / "rulesets"


def _word(code: str, message: str) -> Problem:
    return Problem("", 0, 0, code, message)
