"""A step for continuous integration that checks overlays and runs their cases, with our commands alone."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path

import yaml


def step(name: str, overlays: Sequence[Path], cases: Sequence[Path]) -> str:
    """Return a step as YAML, in the form that several hosts of code read.

    Parameters
    ----------
    name : str
        What the step is called.
    overlays, cases : sequence of Path
        As seen from the top of the repository.
    """
    rules, files = ([shlex.quote(path.as_posix()) for path in given] for given in (overlays, cases))
    with_rules = [word for path in rules for word in ("--rules", path)]
    commands = [["check", *rules, *files], ["cases", *files, *with_rules]]
    if rules:
        commands.append(["coverage", *files, *with_rules])
    lines = ["pip install hiveweek", *(" ".join(["hiveweek", "rules", *words]) for words in commands)]
    return f"- name: {yaml.safe_dump(name, width=10_000).splitlines()[0]}\n  run: |\n" + "".join(
        f"    {line}\n" for line in lines
    )
