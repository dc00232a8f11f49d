"""What would decide an open condition: the smallest sets of comparisons that are unknown or in doubt.

Three readings of a comparison are used. ``known`` takes values as they are, so only missing facts are open. ``holds``
is for a condition that is true on its values: what the intervals leave open is open. ``fails`` is for one that is false
on its values: a comparison that is false but could be true within its interval is open, one that is true stays true.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from hiveweek.facts.constraints import facts_of
from hiveweek.facts.implied import imply
from hiveweek.facts.observed import Turned, grown_old, turned
from hiveweek.facts.past import Past
from hiveweek.facts.table import Column, FactTable
from hiveweek.inference.columnar import Inference, infer
from hiveweek.language.comparing import chance_of
from hiveweek.language.leaves import met, number_of, wanted_by
from hiveweek.language.terms import All, Any, Compare, Known, Leaf, Not, NotTrue, Ref
from hiveweek.language.truth import Outcome, Truth
from hiveweek.plan.last_reckoned import last_reckoned
from hiveweek.record.history import History
from hiveweek.rules.model import Rule
from hiveweek.rules.resting import needs_of, part_of
from hiveweek.vocabulary.model import Fact

_NONE_NEEDED: list[frozenset] = [frozenset()]
MOST = 32  # sets kept at each step, smallest first
KNOWN, HOLDS, FAILS = "known", "holds", "fails"


@dataclass(frozen=True)
class Opening:
    """One comparison that would have to come out a certain way.

    Attributes
    ----------
    leaf : Compare, Member or Flag
        The comparison.
    wanted : bool
        Whether it must hold or fail.
    facts : tuple of (int, str)
        The (hive row, fact id) pairs whose values are missing or in doubt.
    """

    leaf: Leaf
    wanted: bool
    facts: tuple

    @property
    def key(self) -> tuple:
        """What orders openings: facts, then words."""
        return (self.facts, getattr(self.leaf, "text", ""), self.wanted)


class Deciding:
    """Finds what would decide rules and conditions over one inference.

    Parameters
    ----------
    inference : Inference
        Facts, findings and rules already evaluated.
    history : History, optional
        When each value was noted: what was seen and is only too old to act on is likelier than what nobody ever saw.
    old_days : int
        So long after a note has grown old that holds.
    past : Past, optional
        The days gone by, for what was reckoned from notes and is not known any more.
    """

    def __init__(self, inference, history: History | None = None, old_days: int = 0, past: Past | None = None):
        self.inference, self.history, self.past = inference, history, past
        self.old_days = old_days
        self._old: list[dict[str, float]] | None = None
        self.table = inference.table
        self.limits = inference.ruleset.limits
        self._giving: dict[str, list[Rule]] = {}
        self._of_finding: dict[tuple[str, int, bool, str], list[frozenset]] = {}
        self._less: dict[tuple[str, str], Outcome] = {}
        self._reckoned: list[dict[str, float]] = [{} for _ in self.table.hives]

    # --- truths -------------------------------------------------------------------------------------------------
    def cell(self, condition, where: dict, roles: tuple) -> tuple[Truth, Truth]:
        """Return (point, firm) of a condition at a hive or pair."""
        hive, partner = (where[role] for role in roles) if roles else (where[None], None)
        return self.inference.holds(condition, hive, partner, roles)[:2]

    def state(self, condition, where, roles, wanted: bool, reading: str) -> Truth:
        """Return the truth of a condition under one of the three readings."""
        point, firm = self.cell(condition, where, roles)
        if reading == KNOWN or firm == point or (reading == FAILS and point == Truth.of(wanted)):
            return point
        return Truth.UNDECIDED

    # --- rules --------------------------------------------------------------------------------------------------
    def place(self, rule: Rule, hive: int) -> tuple[dict, tuple] | None:
        """Return (role -> hive row, roles) for a rule at a hive; None where a two-hive rule found no partner."""
        if not rule.roles:
            return {None: hive}, ()
        partners = self.inference.partners.get(rule.id)
        partner = partners[hive] if partners else None
        if partner is None:
            return None
        return {rule.at: hive, rule.partner: partner}, (rule.at, rule.partner)

    def rule(self, rule: Rule, hive: int, reading: str, wanted: bool = True) -> list[frozenset]:
        """Return the smallest sets of openings that would make a rule fire at a hive (see ``condition``)."""
        placed = self.place(rule, hive)
        if placed is None:
            return [] if wanted else [frozenset()]
        return self.condition(rule.when, *placed, wanted, reading)

    def condition(
        self, condition, where: dict, roles: tuple, wanted: bool, reading: str, seen=frozenset()
    ) -> list[frozenset]:
        """Return the smallest sets of openings that would make a condition true (or false).

        Parameters
        ----------
        where : dict
            Role -> hive row; the role is None for one hive.
        wanted : bool
            Truth to reach.
        reading : str
            ``known``, ``holds`` or ``fails``.

        Returns
        -------
        list of frozenset of Opening
            ``[frozenset()]`` where it is so already, ``[]`` where it cannot become so.
        """
        if isinstance(condition, Not):
            return self.condition(condition.part, where, roles, not wanted, reading, seen)
        if isinstance(condition, NotTrue):
            if wanted and reading == FAILS:
                return self._untold(condition.part, True, where, roles, seen)
            state = self.state(condition.part, where, roles, not wanted, reading)
            point = self.cell(condition.part, where, roles)[0]
            if wanted and (state == Truth.FALSE or point == Truth.UNDECIDED):
                return [frozenset()]
            return self.condition(condition.part, where, roles, not wanted, reading, seen)
        if isinstance(condition, (All, Any)):
            ways = (self.condition(part, where, roles, wanted, reading, seen) for part in condition.parts)
            if isinstance(condition, All) == wanted:
                return cross(ways)
            options = list(ways)
            return smallest([s for option in options for s in option])
        return self._leaf(condition, where, roles, wanted, reading, seen)

    def _leaf(self, leaf, where, roles, wanted, reading, seen):
        if isinstance(leaf, Known) and leaf.known == wanted:
            hive = where[leaf.left.role if roles else None]
            if leaf.left.name in self.grown_old(hive):  # it would be known again
                return [frozenset()]
        state = self.state(leaf, where, roles, wanted, reading)
        if state != Truth.UNDECIDED and not (wanted and self._was_given(leaf, where, roles)):
            return [frozenset()] if state == Truth.of(wanted) else []
        if isinstance(leaf, Known):
            return []
        hive = where[leaf.left.role if roles else None]
        if leaf.left.is_finding:
            name = leaf.left.finding
            if (name, hive, wanted) in seen:
                return []
            key = name, hive, wanted, reading
            if key not in self._of_finding:  # findings do not go round in a circle, so what led here does not matter
                ways = self._ways(*key, seen | {(name, hive, wanted)})
                self._of_finding[key] = smallest([s for way in ways for s in way]) if wanted else cross(ways)
            return self._of_finding[key]
        facts = [(hive, leaf.left.name)] if self.open(leaf.left.name, hive, reading) else []
        right = getattr(leaf, "right", None)
        if isinstance(right, Ref):
            other = where[right.role if roles else None]
            if self.open(right.name, other, reading):
                facts.append((other, right.name))
        return [frozenset([Opening(leaf, wanted, tuple(sorted(facts)))])] if facts else []

    def _ways(self, name: str, hive: int, wanted: bool, reading: str, seen) -> Iterator[list[frozenset]]:
        """Yield the sets that would make each rule for a finding fire (or fail)."""
        for rule in self.giving(name):
            placed = self.place(rule, hive)
            if placed is None:
                yield [] if wanted else [frozenset()]
            else:
                yield self.condition(rule.when, *placed, wanted, reading, seen)

    def _was_given(self, leaf, where, roles) -> bool:
        """Whether a leaf asks for a finding that is false, and rests on a note that only grew old: rules ask first whether it is known."""
        if not leaf.left.is_finding or self.cell(leaf, where, roles)[0] != Truth.FALSE:
            return False
        old = self.grown_old(where[leaf.left.role if roles else None])
        return bool(old) and not needs_of(self.inference.ruleset, self.giving(leaf.left.finding)).facts.isdisjoint(old)

    def _untold(self, condition, truth: bool, where, roles, seen) -> list[frozenset]:
        """Sets of openings after which a condition no longer has a truth; what is unknown does not have it already."""
        point, firm = self.cell(condition, where, roles)
        if point != Truth.of(truth):
            return [frozenset()]
        if firm == point:
            return []
        if isinstance(condition, Not):
            return self._untold(condition.part, not truth, where, roles, seen)
        if isinstance(condition, NotTrue):
            if truth:
                return self.condition(condition.part, where, roles, True, FAILS, seen)
            return self._untold(condition.part, True, where, roles, seen)
        if isinstance(condition, (All, Any)):
            options = [self._untold(part, truth, where, roles, seen) for part in condition.parts]
            return smallest([s for o in options for s in o]) if isinstance(condition, All) == truth else cross(options)
        if not condition.left.is_finding:
            return self._leaf(condition, where, roles, not truth, HOLDS, seen)
        name, hive = condition.left.finding, where[condition.left.role if roles else None]
        if (name, hive, truth) in seen:
            return []
        seen = seen | {(name, hive, truth)}
        placed = [(rule, self.place(rule, hive)) for rule in self.giving(name)]
        options = [self._untold(rule.when, truth, *place, seen) for rule, place in placed if place is not None]
        return cross(options) if truth else smallest([s for o in options for s in o])

    def giving(self, name: str) -> list[Rule]:
        """Rules that give a finding."""
        found = self._giving.get(name)
        if found is None:
            found = self._giving[name] = self.inference.ruleset.giving(name)
        return found

    def open(self, fact: str, hive: int, reading: str) -> bool:
        """Whether a fact is unknown, or (beyond the ``known`` reading) known only within an interval."""
        column = self.table.column(fact)
        value = column.value[hive]
        if math.isnan(value):
            return True
        return reading != KNOWN and bool(column.low[hive] < value or column.high[hive] > value)

    # --- chances ------------------------------------------------------------------------------------------------
    def chance(self, openings: frozenset, ranking, declared: float) -> float:
        """Return how likely a set of openings comes out as wanted.

        Parameters
        ----------
        openings : frozenset of Opening
            One set.
        ranking : Ranking
            Gives the shares of the words of a fact, and of comparisons on a number.
        declared : float
            The rule's own chance; 0.5 where the rule does not say. It stands for everything the ranking does not name.

        Returns
        -------
        float
            Between 0 and 1; a chance that the rule states under one half is never exceeded.
        """
        product, plain = 1.0, False
        for opening in sorted(openings, key=lambda o: o.key):
            one = self._share(opening, ranking)
            if one is None:
                plain = True
            else:
                product *= one
        if plain:
            return product * declared
        return min(product, declared) if declared < 0.5 else product

    def _share(self, opening: Opening, ranking) -> float | None:
        leaf = opening.leaf
        _, name = opening.facts[0]
        fact = self.table.vocabulary.facts[name]
        if isinstance(leaf, Compare) and fact.kind in ("number", "integer"):
            share = ranking.comparison.get(name)
            hive = opening.facts[0][0]
            column = self.table.column(name)
            if self._seen_once(opening):
                return max(share or 0.0, ranking.weights.grown_old_chance)
            if not math.isnan(column.value[hive]) and not isinstance(leaf.right, Ref):
                return self._within(leaf, opening.wanted, column, hive)
            return share
        shares = ranking.chances.get(name)
        if shares is None or isinstance(getattr(leaf, "right", None), Ref):
            return None
        total = 0.0
        for word, share in shares.items():
            plain = {"true": True, "false": False}.get(word, word) if fact.kind == "yes_no" else word
            if met(leaf, fact.encode(plain), wanted_by(leaf, self.limits)) == opening.wanted:
                total += share
        return max(total, ranking.weights.grown_old_chance) if self._seen_once(opening) else total

    def fired_then(self, rule: Rule, hive: int) -> bool:
        """Whether a rule would fire had no note grown old, or no carried food widened until it says nothing."""
        return self._then.rules[rule.id].holds(hive) or self._by_food(rule, hive)

    def _by_food(self, rule: Rule, hive: int) -> bool:
        """Whether a rule would fire by what the food was last reckoned at, with all other notes as they stand: they may have grown old before."""
        if not self.grown_old(hive) or not self._reckoned[hive]:
            return False
        return self._fed.rules[rule.id].holds(hive)

    @cached_property
    def _fed(self) -> Inference:
        return infer(self.inference.ruleset, self._with(self._reckoned))

    @cached_property
    def _then(self) -> Inference:
        return infer(self.inference.ruleset, self.last_seen)

    def lost_with(self, rule: Rule, hive: int) -> list[Opening]:
        """Return the facts, as openings, without whose notes, which only grew old, a rule of one hive would not have fired then; all where no single one decides."""
        then = self.grown_old(hive) if self._then.rules[rule.id].holds(hive) else self._reckoned[hive]
        old = sorted(needs_of(self.inference.ruleset, [rule]).facts & then.keys())
        if then is not self.grown_old(hive):
            return [Opening(Known(Ref(name)), True, ((hive, name),)) for name in old]
        decide = [name for name in old if not self._without(rule, name).holds(hive)] if len(old) > 1 else old
        return [Opening(Known(Ref(name)), True, ((hive, name),)) for name in decide or old]

    def _without(self, rule: Rule, name: str) -> Outcome:
        """What a rule would say of all hives had no note grown old but those of one fact."""
        if (rule.id, name) not in self._less:
            needs = needs_of(self.inference.ruleset, [rule])
            table = FactTable(self.table.vocabulary, self.table.hives)
            table.columns = {**self.last_seen.columns, name: self.table.column(name)}
            found = infer(part_of(self.inference.ruleset, [rule], needs.findings), table)
            self._less[rule.id, name] = found.rules[rule.id]
        return self._less[rule.id, name]

    def _seen_once(self, opening: Opening) -> bool:
        """Whether a comparison on what is not known came out as wanted at the last look, which is only too old."""
        (hive, name), *others = opening.facts
        last = None if others else self.grown_old(hive).get(name)
        if last is None or isinstance(getattr(opening.leaf, "right", None), Ref):
            return False
        return bool(met(opening.leaf, last, wanted_by(opening.leaf, self.limits))) == opening.wanted

    def grown_old(self, hive: int) -> dict[str, float]:
        """Return the facts of a hive that are not known only because their last note grew old, with what was noted."""
        if self.history is None:
            return {}
        if self._old is None:
            self._old = [{} for _ in self.table.hives]
            for name in self.history.facts():
                last = grown_old(self.history, self.table.vocabulary.facts[name], self.old_days)
                for row in np.flatnonzero(~np.isnan(last) & np.isnan(self.table.column(name).value)).tolist():
                    self._old[row][name] = float(last[row])
                for one in self._turned_long_ago(self.history, self.table.vocabulary.facts[name]):
                    self._old[one.hive][one.fact] = one.value
            if self.past is not None:
                reckoned = last_reckoned(self.table, self.past, self.history.until, self.old_days)
                self._reckoned = reckoned
                for old, then in zip(self._old, reckoned, strict=True):
                    old.update(then)
            if any(self._old):
                self._follow(self._old, self.history)
        return self._old[hive]

    def _follow(self, old: list[dict[str, float]], history: History) -> None:
        """Add what follows from values that have grown old, where it is not known in another way: it has grown old with them.

        As with notes that still count, what a later look tells goes before what an earlier one found.
        """
        blank = np.full(len(old), np.nan)
        columns, known, seen_on = {}, {}, {}
        for name in {fact for row in self.table.vocabulary.implies for fact in (*facts_of(row["when"]), *row["then"])}:
            last = np.array([facts.get(name, np.nan) for facts in old])
            now = self.table.column(name).value
            columns[name] = np.where(np.isnan(last), now, last)
            known[name] = np.isnan(last) & ~np.isnan(now)
            seen_on[name] = history.latest(name)[1]
        before = dict(columns)
        imply(self.table.vocabulary, columns, seen_on, {}, known, blank)
        for name, column in columns.items():
            for row in np.flatnonzero(~np.isnan(column) & (column != before[name])).tolist():
                old[row][name] = float(column[row])

    def _turned_long_ago(self, history: History, fact: Fact) -> Iterator[Turned]:
        """Yield what others had become by the clock because a fact was seen, where that too has grown old."""
        for one in turned(history, fact) if fact.becomes else ():
            keeps = self.table.vocabulary.facts[one.fact].keeps
            old = keeps is not None and keeps < history.until - one.day <= keeps + self.old_days
            unknown = math.isnan(self.table.column(one.fact).value[one.hive])
            if old and unknown and not history.seen_since(one.hive, one.fact, one.seen_on):
                yield one

    @cached_property
    def last_seen(self) -> FactTable:
        """The facts as they would stand had no note grown old."""
        return self._with([self.grown_old(row) for row in range(len(self.table))])

    def _with(self, old: list[dict[str, float]]) -> FactTable:
        """The facts of today with others beside them, of each hive."""
        table = FactTable(self.table.vocabulary, self.table.hives)
        table.columns = dict(self.table.columns)
        for name in sorted({name for facts in old for name in facts}):
            column = self.table.column(name)
            then = np.array([facts.get(name, np.nan) for facts in old])
            value, low, high = (np.where(np.isnan(then), p, then) for p in (column.value, column.low, column.high))
            table.columns[name] = Column(value, low, high)
        return table

    def _within(self, leaf, wanted, column, hive) -> float:
        number = number_of(leaf.right, self.limits)
        true = float(chance_of(leaf.op, (column.value[hive], column.low[hive], column.high[hive]), (number,) * 3))
        return true if wanted else 1.0 - true


def cross(options: Iterable[list[frozenset]]) -> list[frozenset]:
    """Every way to take one set from each option, smallest first; nothing where an option has none: those after it are not asked for."""
    result: list[frozenset] = [frozenset()]
    for option in options:
        if not option:
            return []
        if option == _NONE_NEEDED:
            continue
        result = smallest([a | b for a in result for b in option])
    return result


def smallest(sets: list[frozenset]) -> list[frozenset]:
    """Drop sets that contain another; keep at most ``MOST``, fewest openings first, in a fixed order."""
    kept: list[frozenset] = []
    for candidate in sorted(set(sets), key=lambda s: (len(s), sorted(o.key for o in s))):
        if not any(other <= candidate for other in kept):
            kept.append(candidate)
            if len(kept) >= MOST:
                break
    return kept
