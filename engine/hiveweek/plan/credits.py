"""What rules would gain from a look, and by when it is wanted for them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field


@dataclass
class Credit:
    """What one rule would gain from a look."""

    rule: str
    action: str
    gain: float
    urgency: float
    certainty: float
    by: dt.date | None
    facts: tuple
    lost: bool = False

    @property
    def points(self) -> float:
        """What it is worth: the gain by urgency and chance."""
        return self.gain * self.urgency * self.certainty

    @property
    def unlock(self) -> dict:
        """What the look could decide, as plain data."""
        return {"rule": self.rule, "action": self.action, "points": round(self.points, 2)}


@dataclass
class Bag:
    """The credits of one look at one hive."""

    credits: list[Credit] = field(default_factory=list)

    @property
    def best(self) -> Credit:
        """The one that is worth most."""
        return max(self.credits, key=lambda c: (c.points, c.rule))

    def unlocks(self) -> list[dict]:
        """Return what the look could decide, the most worth first."""
        return by_worth([credit.unlock for credit in self.credits])


def by_worth(unlocks: Iterable[dict]) -> list[dict]:
    """Return what looks could decide, the most worth first."""
    return sorted(unlocks, key=lambda one: (-one["points"], one["rule"]))


def wanted_by(credits: Iterable[Credit], floor: float) -> dt.date | None:
    """Return the earliest day of those credits that are worth a look by themselves; None where none has a day."""
    return min((one.by for one in credits if one.by is not None and one.points >= floor), default=None)
