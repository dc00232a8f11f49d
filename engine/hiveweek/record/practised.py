"""What a learner practised: a sitting with one scenario, and what it earned."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Practised:
    """One sitting.

    Attributes
    ----------
    id : str
        Its own, as those of entries.
    lesson : str
        Id of the scenario.
    at : datetime
        When, with its zone.
    marks : float
        Of 100.
    jobs : tuple of str
        What the learner chose, in order.
    looks : tuple of str
        Looks asked for, in order.
    chance : float
        How sure the learner was of the first job, 0 to 1.
    sound : bool
        Whether it was worth doing first.
    who : str
        The name of the learner on the served page; empty for the keeper's own.
    """

    id: str
    lesson: str
    at: dt.datetime
    marks: float
    jobs: tuple[str, ...] = field(default=())
    looks: tuple[str, ...] = field(default=())
    chance: float = 0.5
    sound: bool = False
    who: str = ""


def practised_out(one: Practised) -> dict[str, Any]:
    """Return a sitting as plain data."""
    return {
        "id": one.id,
        "lesson": one.lesson,
        "at": one.at.isoformat(),
        "marks": one.marks,
        "jobs": list(one.jobs),
        "looks": list(one.looks),
        "chance": one.chance,
        "sound": one.sound,
        **({"who": one.who} if one.who else {}),
    }


def practised_in(data: Mapping[str, Any]) -> Practised:
    """Return the sitting of plain data."""
    at = dt.datetime.fromisoformat(data["at"])
    told = {name: tuple(data.get(name) or ()) for name in ("jobs", "looks")}
    return Practised(**{**data, **told, "at": at if at.tzinfo else at.replace(tzinfo=dt.UTC)})


def row_of(one: Practised) -> dict[str, str]:
    """Return a sitting as a row of the store."""
    body = {key: value for key, value in practised_out(one).items() if key not in ("id", "lesson", "at")}
    # One zone in the store, so that its texts sort as the times do.
    at = one.at.astimezone(dt.UTC).isoformat()
    return {"id": one.id, "lesson": one.lesson, "at": at, "body": json.dumps(body, sort_keys=True)}


def practised_of(row: Mapping[str, Any]) -> Practised:
    """Return the sitting of a row of the store."""
    return practised_in({"id": row["id"], "lesson": row["lesson"], "at": row["at"], **json.loads(row["body"])})
