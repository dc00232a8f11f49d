"""Where the shipped content lives: in a checkout beside the package, or inside the installed package."""

from __future__ import annotations

import os
from functools import lru_cache
from pathlib import Path


@lru_cache(maxsize=1)
def root() -> Path:
    """Return the folder that holds ``rulesets/``, ``climate_profiles/`` and ``scenarios/``.

    A checkout wins over an installed copy, so that an edit to a ruleset counts at once.

    Raises
    ------
    FileNotFoundError
        When neither place holds the content (a broken install).
    """
    here = Path(__file__).resolve().parent
    checkout = here.parents[1]
    for place in (checkout, here / "_content"):
        if (place / "rulesets" / "vocabulary").is_dir():
            return place
    raise FileNotFoundError(f"no rulesets beside {here}; install the package again")


def shown(path: Path) -> str:
    """Return a path as short as it can be said: relative to the content or the current folder where it lies inside."""
    path = Path(path)
    for base in (Path.cwd(), root()):
        try:
            return Path(os.path.realpath(path)).relative_to(base.resolve()).as_posix()  # a loop of links stays as it is
        except ValueError:
            continue
    return path.as_posix()
