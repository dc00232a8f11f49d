"""Numbers by their full names, three parts each: ``model.food.candy_days``, ``limit.mites_deciding.spring``."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from hiveweek.problems import Place

Curve = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Number:
    """A number, or a curve, that somebody could argue about.

    Attributes
    ----------
    name : str
        Its full name, ``ROOT.GROUP.NAME``.
    value : float
        The number; of a curve the height of its first corner.
    unit : str or None
        None for a bare count.
    source : tuple of str
        Keys of ``vocabulary/sources.yaml``, or ``common-practice`` or ``judgement``.
    status : str
        How the figure was come by, a word of the schema.
    tighter : str or None
        ``up`` or ``down`` for safety limits: the only way an overlay may move it.
    band : (float, float) or None
        What sources or judgement leave open.
    origin : str
        The layer and file that gave the value, in words; ``base`` as shipped.
    curve : tuple of (x, y)
        Corners with x rising; empty for a plain number.
    constant : bool
        A constant of nature (or true by definition): nothing moves it.
    outside_band : str
        Why the value may lie outside its band; empty where it does not.
    """

    name: str
    value: float
    unit: str | None = None
    source: tuple[str, ...] = ()
    status: str = ""
    note: str = ""
    tighter: str | None = None
    band: tuple[float, float] | None = None
    origin: str = "base"
    place: Place = field(default_factory=Place, compare=False)
    curve: Curve = ()
    constant: bool = False
    outside_band: str = ""

    @property
    def low(self) -> float:
        """The low end of the band; the value itself where there is no band or the value lies under it."""
        return min(self.band[0], self.value) if self.band else self.value

    @property
    def high(self) -> float:
        """The high end of the band; the value itself where there is no band or the value lies over it."""
        return max(self.band[1], self.value) if self.band else self.value

    def at(self, x: ArrayLike) -> np.ndarray:
        """Return the curve at x by straight lines between its corners; beyond the ends the end value; NaN stays NaN."""
        xs, ys = np.array(self.curve, dtype=float).T
        x = np.asarray(x, dtype=float)
        return np.where(np.isnan(x), np.nan, np.interp(x, xs, ys))

    def step(self, x: float) -> float:
        """Return the height of the last corner at or left of x; left of the first corner its height."""
        return next((y for corner, y in reversed(self.curve) if corner <= x), self.curve[0][1])


class Branch:
    """A part of the tree: ``branch.name`` is a value (or a lower branch), ``branch["name"]`` the whole row."""

    def __init__(self, name: str, rows: Mapping[str, Number], below: Mapping[str, Branch]):
        self._name, self._rows = name, dict(rows)
        # Plain attributes, since models read them in loops over days.
        self.__dict__.update(below)
        self.__dict__.update({last: row.value for last, row in rows.items()})

    def __getattr__(self, name: str) -> Any:
        raise AttributeError(f"no number or group called '{name}' under '{self.__dict__.get('_name')}'")

    def __getitem__(self, name: str) -> Number:
        return self._rows[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._rows)

    def __contains__(self, name: object) -> bool:
        return name in self._rows


@dataclass(frozen=True)
class Numbers:
    """Every number by its full name. Nothing changes a store; ``moved`` returns another."""

    rows: dict[str, Number] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Number:
        return self.rows[name]

    def __contains__(self, name: object) -> bool:
        return name in self.rows

    def __iter__(self) -> Iterator[str]:
        return iter(self.rows)

    def __len__(self) -> int:
        return len(self.rows)

    def get(self, name: str) -> Number | None:
        """Return a row, None where no number has that name."""
        return self.rows.get(name)

    def moved(self, rows: Iterable[Number]) -> Numbers:
        """Return a store in which these rows stand in place of those of their names, or beside them."""
        return Numbers({**self.rows, **{row.name: row for row in rows}})

    def under(self, root: str) -> dict[str, Number]:
        """Return the rows whose names begin with a root such as ``season``."""
        return {name: row for name, row in self.rows.items() if name.startswith(root + ".")}

    def same(self, other: Numbers, root: str) -> bool:
        """Tell whether two stores give the same values under a root."""
        if self is other:
            return True
        mine, theirs = (
            [(name, row.value, row.curve, row.band) for name, row in sorted(store.under(root).items())]
            for store in (self, other)
        )
        return mine == theirs

    def branch(self, name: str) -> Branch:
        """Return a part of the tree: a root such as ``limit``, or a group such as ``limit.mites_deciding``.

        Raises
        ------
        KeyError
            Where no number stands under it.
        """
        return self._branches[name]

    @cached_property
    def _branches(self) -> dict[str, Branch]:
        groups: dict[str, dict[str, Number]] = {}
        for name, row in self.rows.items():
            group, _, last = name.rpartition(".")
            groups.setdefault(group, {})[last] = row
        branches = {group: Branch(group, rows, {}) for group, rows in groups.items()}
        roots: dict[str, dict[str, Branch]] = {}
        for group, branch in branches.items():
            root, _, last = group.partition(".")
            roots.setdefault(root, {})[last] = branch
        return {**branches, **{root: Branch(root, {}, below) for root, below in roots.items()}}

    @property
    def model(self) -> Branch:
        """Numbers of the colony models."""
        return self._branches["model"]

    @property
    def season(self) -> Branch:
        """Numbers behind the season calendar."""
        return self._branches["season"]

    @property
    def weather(self) -> Branch:
        """Numbers by which a week of weather is read."""
        return self._branches["weather"]

    @property
    def plan(self) -> Branch:
        """Numbers that put the week's jobs in order."""
        return self._branches["plan"]

    def __getstate__(self) -> dict:
        return {"rows": dict(self.rows)}

    def __setstate__(self, state: dict) -> None:
        object.__setattr__(self, "rows", state["rows"])
