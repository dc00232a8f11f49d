"""Ranking, prohibitions and looks a second time: plain Python from the design, slow, sharing no code with the plan.

Truths come from :mod:`reference_meaning`. What would decide a condition is found by trying every way to settle what is
open; each fact may therefore stand in one comparison only.
"""

from __future__ import annotations

import datetime as dt
import itertools
import math
from statistics import NormalDist
from types import SimpleNamespace

from reference_looks import Looking
from reference_meaning import HOLDS, Reference, both, either, opposite

from hiveweek.language.terms import All, Any, Compare, Flag, LimitRef, Member, Not, NotTrue, Ref

OPENS = {"nothing": 0, "lid": 1, "frames": 2}
BOUNDS = ("high_c", "mean_c", "low_c", "wind_kmh")


def leaves(condition, wanted=True):
    """Return [(leaf, whether it must hold for the condition to come out as wanted)] in the order they stand."""
    if isinstance(condition, (All, Any)):
        return [pair for part in condition.parts for pair in leaves(part, wanted)]
    if isinstance(condition, (Not, NotTrue)):
        return leaves(condition.part, not wanted)
    return [(condition, wanted)]


class Plan(Looking):
    """What the rules of a small ruleset come to at each hive of a table.

    Parameters
    ----------
    weights : the ranking file, read as plain numbers.
    """

    def __init__(self, ruleset, table, today, weights, calendar=None):
        self.ruleset, self.table, self.today, self.calendar = ruleset, table, today, calendar
        self.weights, self.words = weights, table.vocabulary
        self.meaning = Reference(ruleset, table)

    # --- truths ---------------------------------------------------------------------------------------------------
    def truths(self, condition, hive):
        """(on values, on intervals) of a condition at one hive."""
        return tuple(self.meaning.truth(condition, {None: hive}, firm) for firm in (False, True))

    def number(self, right):
        return self.ruleset.limits[right.name].value if isinstance(right, LimitRef) else right

    def chance_within(self, leaf, hive):
        """Chance that a comparison of a number with a limit holds: a normal of its own on each side of the value."""
        low, value, high = self.meaning.cell(leaf.left.name, hive)
        limit = self.number(leaf.right)
        spread = (high - value if limit > value else value - low) / NormalDist().inv_cdf(0.975)
        if limit == value:
            below = 0.5  # half of the curve lies on each side
        else:
            below = NormalDist(value, spread).cdf(limit) if spread > 0 else float(limit > value)
        return {"<": below, "<=": below, ">": 1 - below, ">=": 1 - below, "==": 0.0, "!=": 1.0}[leaf.op]

    def likely(self, condition, hive):
        """Chance that a condition holds, each fact on its own: products for all, their complements for any."""
        if isinstance(condition, All):
            return math.prod(self.likely(part, hive) for part in condition.parts)
        if isinstance(condition, Any):
            return 1 - math.prod(1 - self.likely(part, hive) for part in condition.parts)
        point, firm = self.truths(condition, hive)
        if point == firm or point is None:
            return float(point is True)
        if isinstance(condition, Not):
            return 1 - self.likely(condition.part, hive)
        return self.chance_within(condition, hive)

    # --- points and order -----------------------------------------------------------------------------------------
    def deadline(self, rule, hive):
        """A lead time that would have begun before, and an event that is over, give today."""
        if rule.by is None:
            return None
        if rule.by.base == "today":
            start = self.today
        elif rule.by.base == "event":
            start = self.calendar.event_date(rule.by.name, self.today) if self.calendar else None
        else:
            cell = self.meaning.cell(rule.by.name, hive)
            start = None if cell is None else dt.date.fromordinal(int(cell[1]))
        if start is None:
            return None
        last = start + dt.timedelta(days=rule.by.days)
        return last if rule.by.base == "fact" and not rule.by.days else max(last, self.today)

    def urgency(self, by):
        """Full in the first week, then half each fortnight, never under a quarter; a quarter without a deadline."""
        w = self.weights.weights
        if by is None:
            return w.urgency_floor
        late = (by - self.today).days - w.urgency_grace_days
        return max(w.urgency_floor, 1.0 if late <= 0 else 2 ** (-late / w.urgency_half_days))

    def gain(self, rule, hive):
        """Crop counts a tenth; what a fact of this hive says replaces the constant. Return (points, from a fact)."""
        cell = self.meaning.cell(rule.stakes.gain_fact, hive) if rule.stakes.gain_fact else None
        points = rule.stakes.gain_pts if cell is None else cell[1]
        return points * (self.weights.weights.crop if rule.stakes.loses == "crop" else 1.0), cell is not None

    def worth(self, rule, hive):
        point, firm = self.truths(rule.when, hive)
        gain, of_fact = self.gain(rule, hive)
        sure = 1.0 if firm == point or of_fact else self.likely(rule.when, hive)
        found = SimpleNamespace(
            rule=rule.id, action=rule.advise, band=rule.band, gain=round(gain, 2), certainty=round(sure, 3)
        )
        return self.by(found, self.deadline(rule, hive))

    def by(self, one, due):
        """Set the deadline, and the points that follow from it."""
        one.due, one.by, one.urgency = due, due and max(due, self.today), round(self.urgency(due), 3)
        one.points = round(one.gain * one.urgency * one.certainty, 2)
        return one

    def before(self, hive):
        """How advice is ordered: law and people, points, deadline, rule id, hive id."""
        return lambda a: (a.band, -a.points, a.by or dt.date.max, a.rule, self.table.hives[hive])

    def advised(self, hive):
        """One advice an action, the best by itself, with the others of that action beside it and the earliest of their days; best first."""
        firing = [
            self.worth(rule, hive)
            for rule in self.ruleset.rules.values()
            if rule.advise and self.meaning.rules[(rule.id, hive, False)] is True
        ]
        firing.sort(key=self.before(hive))
        best: dict = {}
        for one in firing:
            if one.action in best:
                best[one.action].also.append(one.rule)
                best[one.action].days.append(one.due)
            else:
                one.also, one.days = [], [one.due]
                best[one.action] = one
        for one in best.values():
            self.by(one, min((day for day in one.days if day is not None), default=None))
        return sorted(best.values(), key=self.before(hive))

    def clash(self, one, other):
        actions, apart = self.words.actions, self.weights.not_together
        both = ((one, other), (other, one))
        return any(b in actions[a].clashes or b in apart.get(a, ()) for a, b in both)

    def ranked(self, hive):
        """(kept in order, [(action, kind)] withheld): first the prohibitions, then clashes from the top down."""
        kept, stopped, clashed = [], [], []
        for one in self.advised(hive):
            verdict = self.verdict(one.action, hive)
            if verdict.stops or verdict.asks:
                stopped.append((one.action, "prohibition"))
            elif any(self.clash(one.action, other.action) for other in kept):
                clashed.append((one.action, "clash"))
            else:
                kept.append(one)
        for job in [one for one in kept if one.action in self.weights.needless_beside]:
            for one in [k for k in kept if k.action in self.weights.needless_beside[job.action]]:
                kept.remove(one)
                clashed.append((one.action, "clash"))
                job.by = min((day for day in (job.by, one.by) if day is not None), default=None)
        return sorted(kept, key=self.before(hive)), stopped + clashed  # a day taken over counts where points tie

    # --- what would decide a condition ------------------------------------------------------------------------------
    def deciding_sets(self, condition, hive, wanted, reading):
        """All smallest {(leaf, way)} sets after which a condition is as wanted whatever else is open.

        Readings: ``known`` takes values as they are; ``holds`` leaves open what intervals leave open; ``fails`` does so
        only for comparisons that are not as wanted on their values.
        """
        state, ways = {}, leaves(condition, wanted)
        for leaf, way in ways:
            point, firm = self.truths(leaf, hive)
            doubtful = firm is None and point is not None
            if reading == "holds" or (reading == "fails" and point is not way):
                state[id(leaf)] = None if doubtful else point
            else:
                state[id(leaf)] = point
        open_leaves = [leaf for leaf, _ in ways if state[id(leaf)] is None]
        found: list[frozenset] = []
        for size in range(len(open_leaves) + 1):
            for chosen in itertools.combinations(range(len(open_leaves)), size):
                for values in itertools.product((True, False), repeat=size):
                    settled = dict(state)
                    settled.update((id(open_leaves[i]), v) for i, v in zip(chosen, values, strict=True))
                    set_ = frozenset((i, v) for i, v in zip(chosen, values, strict=True))
                    if any(other <= set_ for other in found):
                        continue
                    if self._settled(condition, settled) is wanted:
                        found.append(set_)
        sets = [[(open_leaves[i], v) for i, v in sorted(one)] for one in found]
        return sorted(sets, key=lambda s: (len(s), sorted(self._key(leaf, way, hive) for leaf, way in s)))

    def _settled(self, condition, truths):
        if isinstance(condition, All):
            result = True
            for part in condition.parts:
                result = both(result, self._settled(part, truths))
            return result
        if isinstance(condition, Any):
            result = False
            for part in condition.parts:
                result = either(result, self._settled(part, truths))
            return result
        if isinstance(condition, Not):
            return opposite(self._settled(condition.part, truths))
        return truths[id(condition)]

    # --- prohibitions -----------------------------------------------------------------------------------------------
    def aims(self, prohibition, action):
        body = self.words.actions[action]
        for target in prohibition.never:
            hit = {
                "action": target.name == action,
                "uses": target.name in body.uses,
                "moves": target.name in body.moves,
                "opens": body.opens == target.name or (target.name == "any" and body.opens in ("lid", "frames")),
            }
            if hit.get(target.kind) and action not in prohibition.excepted:
                return True
        return False

    def verdict(self, action, hive):
        """What all prohibitions say: ids under stops, asks, checks and firsts; bounds on the day; unlikely; spared."""
        said = SimpleNamespace(stops=[], asks=[], checks=[], firsts=[], only_on={}, unlikely=False, spared="")
        for prohibition in self.ruleset.prohibitions.values():
            if not self.aims(prohibition, action):
                continue
            if action in prohibition.spares and self.truths(prohibition.spares_where, hive)[0] is True:
                said.spared = prohibition.spares_say
                continue
            self._judge(prohibition, hive, said)
        said.only_on = dict(sorted(said.only_on.items()))
        return said

    def _judge(self, prohibition, hive, said):
        point, firm = self.truths(prohibition.when, hive)
        if firm is False and point is False:
            return
        if not (point is True and firm is True):
            # In doubt or not known. Where the weather of the day alone can keep it away, the job waits for such a day; but
            # where a reading would settle it too, a check or a pass is better than a wait.
            sets = [s for s in self.deciding_sets(prohibition.when, hive, False, "holds") if s]
            days = [self._days(s) for s in sets]
            if (prohibition.if_unknown == "ask" or None not in days) and any(d is not None for d in days):
                self._keep(said, next(d for d in days if d is not None))
                said.unlikely = said.unlikely or point is True
                return
            if point is not True:
                if prohibition.if_unknown == "ask" and prohibition.effect == "stop" and point is None:
                    said.asks.append(prohibition.id)
                elif prohibition.if_unknown != "pass":
                    said.checks.append(prohibition.id)
                return
        if prohibition.effect == "stop":
            said.stops.append(prohibition.id)
        elif prohibition.effect == "first":
            said.firsts.append(prohibition.id)
        else:
            against = [
                self.bound(leaf, way)
                for leaf, way in leaves(prohibition.when, False)
                if self.truths(leaf, hive)[0] is (not way)
            ]
            days = [bound for bound in against if bound]
            if days:
                for bound in days:
                    self._keep(said, bound)
                said.unlikely = True
            elif any(self._ends_soon(leaf, hive) for leaf, _ in leaves(prohibition.when)):
                said.checks.append(f"has this ended? {prohibition.id}")
            else:
                said.stops.append(prohibition.id)

    def _ends_soon(self, leaf, hive):
        """A ban that is known to end before the seventh day from today leaves days of this week."""
        fact = self.words.facts[leaf.left.name]
        cell = self.meaning.cell(fact.until, hive) if fact.until else None
        return cell is not None and int(cell[1]) - self.today.toordinal() < 7

    def _key(self, leaf, way, hive):
        return ((hive, leaf.left.name), getattr(leaf, "text", ""), way)

    def bound(self, leaf, way):
        """The days on which a comparison comes out this way: {bound: number}, or None where no day is meant."""
        word = self.words.facts[leaf.left.name].day
        if not word:
            return None
        if word in ("dry", "wet"):
            value = way
            if isinstance(leaf, Compare):
                value = next(v for v in (True, False) if HOLDS[leaf.op](float(v), leaf.right) is way)
            return {"dry": True} if value is (word == "dry") else None
        if not isinstance(leaf, Compare) or leaf.op in ("==", "!=") or isinstance(leaf.right, Ref):
            return None
        below = leaf.op.startswith("<") is way
        return {f"{word}_max" if below else f"{word}_min": self.number(leaf.right)}

    def _days(self, openings):
        days: SimpleNamespace = SimpleNamespace(only_on={})
        for leaf, way in openings:
            bound = self.bound(leaf, way)
            if bound is None:
                return None
            self._keep(days, bound)
        return days.only_on

    @staticmethod
    def _keep(said, bounds):
        for name, number in bounds.items():
            have = said.only_on.get(name, number)
            said.only_on[name] = max(have, number) if name.endswith("_min") else min(have, number)

    # --- looks ------------------------------------------------------------------------------------------------------
    def share(self, leaf, way, hive):
        """How often a look would find this: the shares of the ranking file, or the interval; None where neither says."""
        fact = self.words.facts[leaf.left.name]
        if fact.kind in ("number", "integer"):
            if self.meaning.cell(fact.id, hive) is not None:
                chance = self.chance_within(leaf, hive)
                return chance if way else 1 - chance
            return self.weights.comparison.get(fact.id)
        shares = self.weights.chances.get(fact.id)
        if shares is None:
            return None
        total = 0.0
        for word, part in shares.items():
            code = float(word == "true") if fact.kind == "yes_no" else float(fact.values.index(word))
            if isinstance(leaf, Flag):
                true = code == 1
            elif isinstance(leaf, Member):
                true = (code in leaf.values) != leaf.negated
            else:
                true = HOLDS[leaf.op](code, leaf.right)
            total += part if true is way else 0.0
        return total

    def chance(self, openings, declared, hive):
        """The shares multiplied; the rule's own chance stands for all that none names, and caps what it calls rare."""
        shares = [self.share(leaf, way, hive) for leaf, way in openings]
        product = math.prod(s for s in shares if s is not None)
        if None in shares:
            return product * declared
        return min(product, declared) if declared < 0.5 else product
