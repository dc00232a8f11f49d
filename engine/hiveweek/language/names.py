"""What the language asks of the facts that conditions name; the vocabulary and the fact table give it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np


class NamedFact(Protocol):
    """A fact as the grammar needs to know it; see ``vocabulary.model.Fact`` for what the parts mean."""

    @property
    def id(self) -> str:
        """Group and name."""

    @property
    def kind(self) -> str:
        """What its values are."""

    @property
    def unit(self) -> str | None:
        """Unit of a number."""

    @property
    def values(self) -> tuple[str, ...]:
        """The words it may be."""

    @property
    def low(self) -> float | None:
        """The least it may be."""

    @property
    def high(self) -> float | None:
        """The most it may be."""

    @property
    def ordered(self) -> bool:
        """Whether < and > make sense for it."""

    @property
    def shared(self) -> bool:
        """Whether it is the same for every hive of a yard."""

    @property
    def groups(self) -> Mapping[str, tuple[str, ...]]:
        """Words that belong together, by a name."""

    def codes(self, group: str) -> set[float]:
        """Return the encoded words of one of its groups."""

    def encode(self, value) -> float:
        """Return the number that stands for a plain value."""


class NamedFacts(Protocol):
    """All facts that a condition may name, by id."""

    @property
    def facts(self) -> Mapping[str, NamedFact]:
        """The facts by id."""


class Column(Protocol):
    """One fact over all hives: values with their lower and upper bounds, NaN where unknown."""

    @property
    def value(self) -> np.ndarray:
        """The value at each hive."""

    @property
    def low(self) -> np.ndarray:
        """Its lower bound."""

    @property
    def high(self) -> np.ndarray:
        """Its upper bound."""


class Columns(Protocol):
    """Gives the column of a fact."""

    def column(self, fact: str) -> Column:
        """Return a column by the fact's id."""


@dataclass(slots=True)
class ExactColumn:
    """Values without doubt: both bounds are the value."""

    value: np.ndarray
    low: np.ndarray
    high: np.ndarray


class ExactColumns:
    """Columns of values without doubt.

    Parameters
    ----------
    values : callable
        Fact id to an array of floats as encoded, NaN where unknown.
    """

    def __init__(self, values: Callable[[str], np.ndarray]):
        self._values = values

    def column(self, fact: str) -> Column:
        """Return a column by the fact's id."""
        values = self._values(fact)
        return ExactColumn(values, values, values)
