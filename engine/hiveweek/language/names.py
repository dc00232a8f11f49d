"""What the language asks of the facts that conditions name; the vocabulary and the fact table give it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np


class NamedFact(Protocol):
    """A fact as the grammar needs to know it; see ``vocabulary.model.Fact`` for what the parts mean."""

    id: str
    kind: str
    unit: str | None
    values: tuple[str, ...]
    low: float | None
    high: float | None

    @property
    def ordered(self) -> bool:
        """Whether < and > make sense for it."""

    @property
    def shared(self) -> bool:
        """Whether it is the same for every hive of a yard."""

    def encode(self, value) -> float:
        """Return the number that stands for a plain value."""


class NamedFacts(Protocol):
    """All facts that a condition may name, by id."""

    facts: Mapping[str, NamedFact]


class Column(Protocol):
    """One fact over all hives: values with their lower and upper bounds, NaN where unknown."""

    value: np.ndarray
    low: np.ndarray
    high: np.ndarray


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
