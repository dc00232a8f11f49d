"""What a prohibition forbids: which actions, which of them it leaves alone, and what follows from its truth.

The one definition: the plan's filter asks it at each hive, the proofs ask it of every input at once.
"""

from __future__ import annotations

from enum import Enum

from hiveweek.language.truth import Truth
from hiveweek.rules.model import Prohibition, Target
from hiveweek.vocabulary.model import Action


class Follows(Enum):
    """What follows for an action from the truth of a prohibition that concerns it."""

    NOTHING = "nothing"
    HOLDS = "its effect comes about"
    CHECK = "the keeper checks first"
    ASK = "withheld until a look tells"


def aims_at(prohibition: Prohibition, action: Action) -> bool:
    """Whether a prohibition names an action, itself or by a tag, and does not except it."""
    return action.id not in prohibition.excepted and any(_hits(target, action) for target in prohibition.never)


def _hits(target: Target, action: Action) -> bool:
    if target.kind == "action":
        return target.name == action.id
    if target.kind == "uses":
        return target.name in action.uses
    if target.kind == "moves":
        return target.name in action.moves
    if target.kind == "opens":
        return action.opens == target.name or (target.name == "any" and action.opens != "nothing")
    return False


def names_option(prohibition: Prohibition, action: str, active: str) -> bool:
    """Whether a prohibition names one option (an active ingredient) of an action."""
    return Target("option", action, active) in prohibition.never


def concerns(prohibition: Prohibition, action: Action, paired: bool) -> bool:
    """Whether a prohibition can forbid an action; one over two hives only where the advice has a partner."""
    return aims_at(prohibition, action) and (paired or not prohibition.roles)


def withholds(prohibition: Prohibition) -> bool:
    """Whether the action goes where the prohibition holds; else it stays, after another act or on another day."""
    return prohibition.effect == "stop"


def spared_where(prohibition: Prohibition, action: str):
    """Return the condition under which, known to hold on the values, an action is left alone; None where there is none."""
    return prohibition.spares_where if action in prohibition.spares else None


def follows(prohibition: Prohibition, point: Truth, firm: Truth) -> Follows:
    """Return what follows from a prohibition's truth at a hive.

    Parameters
    ----------
    point, firm : Truth
        On values, and on intervals.

    Returns
    -------
    Follows
        True on values: its effect comes about, in doubt as well. Firmly false: nothing. Not known, or false in doubt: what the
        prohibition says under ``if_unknown``; only one that withholds, and is not known at all, is worth withholding for until
        a look.
    """
    if point == Truth.TRUE:
        return Follows.HOLDS
    if firm == Truth.FALSE or prohibition.if_unknown == "pass":
        return Follows.NOTHING
    if prohibition.if_unknown == "check" or not withholds(prohibition) or point == Truth.FALSE:
        return Follows.CHECK
    return Follows.ASK
