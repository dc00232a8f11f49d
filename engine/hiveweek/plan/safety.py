"""What the prohibitions say of one action at one hive.

A prohibition that is known to hold stops the action, or asks for another act first, or closes some days. What the
weather of the week leaves open becomes a condition on the day (``only_on``); any other doubt is asked, checked or passed,
as the prohibition says.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field

from hiveweek.language.leaves import number_of
from hiveweek.language.terms import All, Any, Compare, Flag, LimitRef, Not, NotTrue, Ref, leaves
from hiveweek.language.truth import Truth
from hiveweek.plan.deciding import HOLDS, KNOWN, Deciding, Opening
from hiveweek.plan.words import Filler
from hiveweek.rules.forbidden import Follows, aims_at, follows, names_option, spared_where, withholds
from hiveweek.rules.model import Prohibition, as_date
from hiveweek.texts.parts import message

WEEK = 7
ONLY_ON_KEYS = (
    "high_c_min",
    "high_c_max",
    "mean_c_min",
    "mean_c_max",
    "low_c_min",
    "low_c_max",
    "wind_kmh_min",
    "wind_kmh_max",
    "dry",
)


@dataclass
class Verdict:
    """What all prohibitions together say.

    Attributes
    ----------
    stops : list of (Prohibition, Phrase)
        Known to hold, with the because.
    asks : list of (Prohibition, Phrase, list of frozenset of Opening)
        Not known; withheld until a look decides.
    checks : list of Phrase
        First steps to print.
    firsts : list of (Prohibition, Phrase)
        Another act comes before it.
    only_on : dict
        Bounds on the day.
    unlikely : bool
        The week's weather as it stands forbids it, and only its doubt leaves it open.
    spared : str
        What to say where a prohibition leaves it alone; empty where none does.
    """

    stops: list = field(default_factory=list)
    asks: list = field(default_factory=list)
    checks: list = field(default_factory=list)
    firsts: list = field(default_factory=list)
    only_on: dict = field(default_factory=dict)
    unlikely: bool = False
    spared: str = ""

    @property
    def open(self) -> bool:
        """Whether nothing stops it or withholds it."""
        return not self.stops and not self.asks


class Safety:
    """Answers what the prohibitions say, once for each (action, hive, partner).

    Parameters
    ----------
    inference : Inference
    deciding : Deciding
    filler : Filler
    """

    def __init__(self, inference, deciding: Deciding, filler: Filler):
        self.inference, self.deciding, self.filler = inference, deciding, filler
        self.vocabulary = inference.table.vocabulary
        self._by_action: dict[str, list[Prohibition]] = {}
        self._verdicts: dict[tuple, Verdict] = {}

    def aimed_at(self, action: str) -> list[Prohibition]:
        """Prohibitions that name an action, itself or by a tag."""
        found = self._by_action.get(action)
        if found is None:
            body = self.vocabulary.actions[action]
            found = [p for p in self.inference.ruleset.prohibitions.values() if aims_at(p, body)]
            self._by_action[action] = found
        return found

    def of_option(self, action: str, active: str) -> list[Prohibition]:
        """Prohibitions that name one option of an action."""
        return [p for p in self.inference.ruleset.prohibitions.values() if names_option(p, action, active)]

    def verdict(self, action: str, hive: int, partner: int | None = None) -> Verdict:
        """Return what the prohibitions say of an action at a hive (with its partner, where two hives are concerned)."""
        key = (action, hive, partner)
        found = self._verdicts.get(key)
        if found is None:
            found = self._verdicts[key] = Verdict()
            for prohibition in self.aimed_at(action):
                if self._spares(prohibition, action, hive):
                    found.spared = prohibition.spares_say
                else:
                    self.judge(prohibition, hive, partner, found)
        return found

    def spared(self, action: str, hive: int) -> bool:
        """Whether some prohibition leaves an action at a hive alone, such as feeding a starving one in rain."""
        return any(
            self._spares(prohibition, action, hive) for prohibition in self.inference.ruleset.prohibitions.values()
        )

    def _spares(self, prohibition: Prohibition, action: str, hive: int) -> bool:
        where = spared_where(prohibition, action)
        return where is not None and self.inference.holds(where, hive)[0] is Truth.TRUE

    def judge(self, prohibition: Prohibition, hive: int, partner: int | None, verdict: Verdict) -> None:
        """Add what one prohibition says to a verdict."""
        point, firm, _ = self.inference.prohibits(prohibition.id, hive, partner)
        if point == firm == Truth.FALSE:
            return
        where = {prohibition.roles[0]: hive, prohibition.roles[1]: partner} if prohibition.roles else {None: hive}
        because = self.filler.fill(prohibition.because, where)[0]
        check = self.filler.fill(prohibition.check, where)[0] if prohibition.check else because
        bounds = None if firm == Truth.TRUE else self._escape(prohibition, where)
        if bounds is not None:
            # What the intervals leave open, the weather of a day settles.
            tighten(verdict.only_on, bounds)
            verdict.unlikely |= point == Truth.TRUE
            return
        answer = follows(prohibition, point, firm)
        if answer is Follows.HOLDS:
            self._holds(prohibition, where, because, verdict)
        elif answer is Follows.CHECK:
            verdict.checks.append(check)
        elif answer is Follows.ASK:
            sets = self.deciding.condition(prohibition.when, where, prohibition.roles, False, KNOWN)
            verdict.asks.append((prohibition, because, sets))

    def _holds(self, prohibition, where, because, verdict) -> None:
        if withholds(prohibition):
            verdict.stops.append((prohibition, because))
        elif prohibition.effect == "first":
            verdict.firsts.append((prohibition, because))
        else:
            bounds: dict = {}
            self._bounds(prohibition.when, where, prohibition.roles, False, bounds)
            tighten(verdict.only_on, bounds)
            verdict.unlikely |= bool(bounds)
            if not bounds and self._ends_this_week(prohibition, where):
                verdict.checks.append(message("plan.ended-yet", because=because))
            elif not bounds:
                verdict.stops.append((prohibition, because))

    def _ends_this_week(self, prohibition, where) -> bool:
        """Whether what closes the day is known to end within the week (a fact with a date fact that ends it)."""
        for leaf in leaves(prohibition.when):
            end = "" if leaf.left.is_finding else self.vocabulary.facts[leaf.left.name].until
            if end:
                number = self.deciding.table.column(end).value[next(iter(where.values()))]
                if not math.isnan(number) and as_date(number) < self.filler.today + dt.timedelta(days=WEEK):
                    return True
        return False

    def _escape(self, prohibition, where) -> dict | None:
        """Bounds on the day that keep a prohibition from holding, where the weather alone can do so.

        Where something else would settle it too (is there a fire ban?) and a check is wanted, the check is better.
        """
        sets = self.deciding.condition(prohibition.when, where, prohibition.roles, False, HOLDS)
        found = [bounds_of(openings, self) for openings in sets if openings]
        if prohibition.if_unknown != "ask" and None in found:
            return None
        return next((bounds for bounds in found if bounds is not None), None)

    def _bounds(self, condition, where, roles, wanted, bounds) -> None:
        """Gather the bounds under which the weather parts that now hold would not."""
        if isinstance(condition, (Not, NotTrue)):
            self._bounds(condition.part, where, roles, not wanted, bounds)
        elif isinstance(condition, (All, Any)):
            for part in condition.parts:
                self._bounds(part, where, roles, wanted, bounds)
        else:
            against = self.deciding.cell(condition, where, roles)[0] == Truth.of(not wanted)
            bound = self.bound(Opening(condition, wanted, ())) if against else None
            if bound:
                tighten(bounds, bound)

    def bound(self, opening: Opening) -> dict | None:
        """Return the bound on a day that makes a comparison come out as wanted; None where no day can."""
        leaf, name = opening.leaf, opening.leaf.left.name
        word = "" if leaf.left.is_finding else self.vocabulary.facts[name].day
        if word in ("dry", "wet"):
            wanted = opening.wanted
            if isinstance(leaf, Compare):
                if isinstance(leaf.right, (LimitRef, Ref)):
                    return None
                wanted = wanted == ((leaf.op == "==") == (leaf.right > 0.5))
            elif not isinstance(leaf, Flag):
                return None
            return {"dry": True} if wanted == (word == "dry") else None
        if not word or not isinstance(leaf, Compare) or isinstance(leaf.right, Ref):
            return None
        number = number_of(leaf.right, self.inference.ruleset.limits)
        upper = (leaf.op in ("<", "<=")) == opening.wanted
        if leaf.op in ("==", "!="):
            return None
        return {f"{word}_{'max' if upper else 'min'}": number}

    def _needed(self, ref: Ref) -> bool:
        return not ref.is_finding and self.vocabulary.facts[ref.name].needed_to_open

    def rule_bounds(self, rule, hive: int) -> dict:
        """Bounds on the day that the job of a rule needs, where the week's weather leaves them open.

        They are what its guards keep away (too cold, too wet) and, for a job that opens the hive, the floor of warmth, calm
        and dryness that its condition names. Other weather in the condition is why the job is due, not when it can be done.
        """
        placed = self.deciding.place(rule, hive)
        if placed is None:
            return {}
        bounds: dict = {}
        opens = self.vocabulary.actions[rule.advise].opens != "nothing"
        for part in rule.when.parts if isinstance(rule.when, All) else (rule.when,):
            guard = isinstance(part, NotTrue)
            for openings in self.deciding.condition(part, *placed, True, HOLDS)[:1]:
                for opening in sorted(openings, key=lambda o: o.key):
                    if opens and (guard or self._needed(opening.leaf.left)):
                        bound = self.bound(opening)
                        if bound and (guard or not any(key.endswith("c_max") for key in bound)):
                            tighten(bounds, bound)
        return bounds


def bounds_of(openings: frozenset, safety: Safety) -> dict | None:
    """Return the bounds of a set of openings where every one of them is weather, else None."""
    bounds: dict = {}
    for opening in sorted(openings, key=lambda o: o.key):
        bound = safety.bound(opening)
        if bound is None:
            return None
        tighten(bounds, bound)
    return bounds


def tighten(bounds: dict, more: dict) -> None:
    """Add bounds, keeping the stricter of two."""
    for key, number in more.items():
        if key not in bounds:
            bounds[key] = number
        elif key.endswith("_min"):
            bounds[key] = max(bounds[key], number)
        elif key.endswith("_max"):
            bounds[key] = min(bounds[key], number)


def ordered(bounds: dict) -> dict | None:
    """Return bounds in their fixed order, None where there are none."""
    if not bounds:
        return None
    return {key: bounds[key] for key in ONLY_ON_KEYS if key in bounds}
