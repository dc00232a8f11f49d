"""Looks: what to find out this week, because an advice hangs on it.

For every rule that is undecided, or fails only within the doubt of its facts, the smallest sets of missing facts are
turned into looking actions; the least disturbing that can be done this week is taken. A look is worth what the best
advice it could bring is worth, times the chance that it comes out so, less what opening costs.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Container, Set
from dataclasses import dataclass

from hiveweek.language.bits import holding, surely_failing
from hiveweek.language.terms import Known, leaves
from hiveweek.language.truth import UNDECIDED, Truth
from hiveweek.plan.advise import Adviser
from hiveweek.plan.credits import Bag, Credit, by_worth, wanted_by
from hiveweek.plan.deciding import FAILS, HOLDS, KNOWN, Deciding
from hiveweek.plan.model import Advice, Look, Withheld
from hiveweek.plan.observing import Observing, choices
from hiveweek.plan.ranking import Ranking
from hiveweek.plan.safety import Safety, ordered
from hiveweek.rules.model import Rule
from hiveweek.rules.resting import needs_of
from hiveweek.texts.parts import Capital, Phrase, listed, message
from hiveweek.texts.reading import plain
from hiveweek.vocabulary.loader import OPENS

LEVEL = {opens: level for level, opens in enumerate(OPENS)}


@dataclass
class Ask:
    """An advice withheld until something is known."""

    advice: Advice
    sets: list


class Looks:
    """Finds the looks of an apiary.

    Parameters
    ----------
    inference : Inference
    ranking : Ranking
    deciding : Deciding
    safety : Safety
    adviser : Adviser
        For what a rule is worth.
    alive : list of (bool or None)
        Whether each colony lives; None where not known.
    suspect : list of bool
        Whether a suspicion of disease stands at a hive: it is then opened only for looks that serve the suspicion.
    put_away : list of set of str
        Looks that the keeper put away at each hive; another that tells the same is named in their place.
    done : list of set of str
        Looks that were noted as done at each hive a short while ago: what they tell is not looked for in another way.
    """

    def __init__(
        self,
        inference,
        ranking: Ranking,
        deciding: Deciding,
        safety: Safety,
        adviser: Adviser,
        alive: list,
        suspect: list | None = None,
        put_away: list[set[str]] | None = None,
        done: list[set[str]] | None = None,
    ):
        self.inference, self.ranking, self.deciding = inference, ranking, deciding
        self.suspect = suspect or [False] * len(alive)
        self.put_away = put_away or [set() for _ in alive]
        self.done = done or [set() for _ in alive]
        self.safety, self.adviser, self.alive = safety, adviser, alive
        self.table = inference.table
        self.vocabulary = self.table.vocabulary
        self.observing = Observing(self.table, ranking.samples, adviser.today)
        self.lookers: dict[str, list[str]] = {}
        for action in sorted(self.vocabulary.actions.values(), key=lambda a: (LEVEL[a.opens], a.minutes, a.id)):
            for fact in action.observes if action.id in ranking.looks else ():
                self.lookers.setdefault(fact, []).append(action.id)
        self._allowed: dict[tuple, bool] = {}
        self._bags: dict[tuple[int, str], Bag] = {}
        self._told: dict[int, frozenset] = {}
        self._tellers: dict[int, list[Advice]] = {}
        self.shut: dict[int, list[Rule]] = {}
        self._floor = ranking.weights.look_floor_pts
        self.rules = inference.ruleset.advising()
        outcomes = [inference.rules[rule.id] for rule in self.rules]
        # Those that fire bring no look, and those that surely fail only where they rest on what grew old.
        self._fires = [holding(outcome) for outcome in outcomes]
        self._fails = [surely_failing(outcome) for outcome in outcomes]
        asked = [rule.advise not in ranking.not_looked_for for rule in self.rules]
        # The rules that may bring a look somewhere where nothing has grown old, each with the hives at which it does not.
        self._open = [
            (place, fires | fails)
            for place, (fires, fails, wanted) in enumerate(zip(self._fires, self._fails, asked, strict=True))
            if wanted and fires | fails != inference.told.every
        ]
        self._reads: dict[int, frozenset[str]] = {}

    # --- gathering ----------------------------------------------------------------------------------------------
    def advised(self, hive: int, kept: list[Advice]) -> None:
        """Note what the looks that are advised at a hive tell; of all hives before anything is gathered, for two may look together."""
        self._tellers[hive] = [a for a in kept if a.action in self.ranking.looks]
        looks = self.done[hive].union(a.action for a in self._tellers[hive])
        self._told[hive] = frozenset(f for look in looks for f in self.vocabulary.actions[look].observes)

    def gather(self, hive: int, kept: list[Advice], asks: list[Ask]) -> None:
        """Gather what looks would bring at a hive, knowing what is already advised there.

        Parameters
        ----------
        kept : list of Advice
            Advice that stands. What it already decides needs no look.
        asks : list of Ask
            Advice withheld until a look.
        """
        have = {a.action: a.points for a in kept}
        days = {a.action: a.last_day or dt.date.max for a in kept}
        grown_old = self.deciding.grown_old(hive).keys()
        open_ = (place for place, settled in self._open if not settled >> hive & 1)
        for place in range(len(self.rules)) if grown_old else open_:
            rule = self.rules[place]
            if self._fires[place] >> hive & 1:
                continue
            not_for_it = rule.advise in self.ranking.not_looked_for
            old = not_for_it or bool(self._fails[place] >> hive & 1)
            # It was asked for when the hive was last looked at, and is not any more only because those notes grew old.
            lost = self._rests_on(place, grown_old) and self.deciding.fired_then(rule, hive)
            if old and not (lost if not_for_it else self._rests_on(place, grown_old)):
                continue  # nobody looks for its sake, but to see whether what asked for it is still so
            point = self.inference.rules[rule.id].point[hive]
            body = self.vocabulary.actions[rule.advise]
            # Help that is asked for one reason does not say whether there is a graver one, unless it is asked for as soon.
            advised = rule.advise in have and rule.advise != self.ranking.helps_by
            if advised or (self.alive[hive] is False and not body.dead_ok):
                continue
            gain, _ = self.adviser.gain(rule, hive)
            by = self.adviser.deadlines.first(rule, hive)
            if by is not None and days.get(rule.advise, dt.date.max) <= by:
                continue
            urgency = self.ranking.urgency(self.adviser.today, by)
            if any(points >= gain * urgency and self._clash(rule.advise, other) for other, points in have.items()):
                continue
            placed = self.deciding.place(rule, hive)
            if placed is None:
                continue
            partner = placed[0].get(rule.partner) if rule.partner else None
            stops = [prohibition for prohibition, _ in self.safety.verdict(rule.advise, hive, partner).stops]
            reading = KNOWN if old or point == UNDECIDED else FAILS
            sets = self.deciding.rule(rule, hive, reading)
            if stops:
                sets = [s for s in sets if all(self._lifted(prohibition, s, hive, partner) for prohibition in stops)]
            worth = (rule.id, str(rule.advise), gain, urgency, by)
            again = self._of_lost(sets, rule, hive) if lost else sets
            looked_for = self._credit(again or sets, *worth, rule.chance, lost=lost) and bool(again)
            if lost and not looked_for and not stops:
                looked_for = self._look_again(rule, hive, worth)
            if lost and not looked_for:
                self.shut.setdefault(hive, []).append(rule)
        for ask in asks:
            advice = ask.advice
            self._credit(
                ask.sets,
                advice.rule,
                advice.action,
                advice.gain_pts,
                advice.urgency,
                advice.by,
                None,
                advice.certainty,
            )

    def _rests_on(self, place: int, names: Set[str]) -> bool:
        """Whether a rule of one hive rests on some facts, itself or by a finding."""
        rule = self.rules[place]
        if not names or rule.roles:
            return False
        if place not in self._reads:
            self._reads[place] = needs_of(self.inference.ruleset, [rule]).facts
        return not self._reads[place].isdisjoint(names)

    def _of_lost(self, sets: list[frozenset], rule: Rule, hive: int) -> list[frozenset]:
        """The sets that tell a note that a rule was lost with; by the others it might be asked for, for a reason of its own."""
        lost = {name for opening in self.deciding.lost_with(rule, hive) for _, name in opening.facts} if sets else set()
        facts = self.vocabulary.facts
        return [
            openings
            for openings in sets
            for told in [{name for opening in openings for row, name in opening.facts if row == hive}]
            if not lost.isdisjoint(told.union(*(way for name in told for way in facts[name].observed_by)))
        ]

    def _look_again(self, rule: Rule, hive: int, worth: tuple[str, str, float, float, dt.date | None]) -> bool:
        """Credit a look for the notes that a rule was lost with, together or one of them; whether there is one."""
        openings = self.deciding.lost_with(rule, hive)
        even = self.ranking.weights.grown_old_chance
        together, one_of_them = [frozenset(openings)], [frozenset([opening]) for opening in openings]
        return any(self._credit(sets, *worth, even, even, lost=True) for sets in (together, one_of_them))

    def _lifted(self, prohibition, openings: frozenset, hive: int, partner: int | None) -> bool:
        """Whether a prohibition holds only because something is not known, or not well enough, that these openings would tell."""
        told = {fact for opening in openings for _, fact in opening.facts}
        if any(
            isinstance(leaf, Known) and not leaf.known and leaf.left.name in told for leaf in leaves(prohibition.when)
        ):
            return True
        where = {prohibition.roles[0]: hive, prohibition.roles[1]: partner} if prohibition.roles else {None: hive}
        lifts = self.deciding.condition(prohibition.when, where, prohibition.roles, False, HOLDS)
        return any(lift and {fact for opening in lift for _, fact in opening.facts} <= told for lift in lifts)

    def _clash(self, one: str, other: str) -> bool:
        actions = self.vocabulary.actions
        apart = self.ranking.not_together
        both = ((one, other), (other, one))
        return any(b in actions[a].clashes or b in apart.get(a, ()) for a, b in both)

    def _credit(self, sets, rule, action, gain, urgency, by, declared, certainty=None, *, lost=False) -> bool:
        """Credit the best look for a rule; whether there is one, or one that is advised anyway decides it.

        One for what was lost as notes grew old stays in sight, however little it is worth.
        """
        best = None
        for openings in sets:
            if not openings:
                continue
            plan = self._plan(openings)
            if plan is None:
                continue
            share = certainty if certainty is not None else self.deciding.chance(openings, self.ranking, declared)
            if not plan:  # a look that is advised anyway decides it, by the day of what is due first
                self._hurry(openings, Credit(rule, action, gain, urgency, share, by, ()))
                return True
            if not lost and action in self.ranking.looks and any(look != action for _, look in plan):
                continue  # nobody looks in order to learn whether to look
            level = max(LEVEL[self.vocabulary.actions[a].opens] for _, a in plan)
            hives = sorted((self.table.hives[row], look) for row, look in plan)
            key = (level, -round(share, 6), len(plan), hives)
            if best is None or key < best[0]:
                best = (key, plan, share)
        if best is None:
            return False
        _, plan, share = best
        for (row, look), facts in sorted(plan.items()):
            credit = Credit(rule, action, gain, urgency, share / len(plan), by, tuple(facts), lost)
            self._bags.setdefault((row, look), Bag()).credits.append(credit)
        return True

    def _hurry(self, openings: frozenset, credit: Credit) -> None:
        """Let the advised looks that tell some facts be made by the day of a credit; of several the one that is due first."""
        for row, fact in sorted({pair for opening in openings for pair in opening.facts}):
            wanted = {name for way in self.observing.ways(fact, row) for name in way}
            done = any(wanted & set(self.vocabulary.actions[look].observes) for look in self.done[row])
            tell = [a for a in self._tellers.get(row, ()) if wanted & set(self.vocabulary.actions[a.action].observes)]
            if tell and not done:
                self._hurried(min(tell, key=lambda a: (a.last_day or dt.date.max, a.action)), [credit])

    def _hurried(self, look: Advice, credits: list[Credit]) -> None:
        """Let a look that is advised be made by the earliest day of what it decides and what counts for more than the look itself."""
        look.hurry(wanted_by(credits, max(self._floor, look.points)), self.adviser.today)
        look.worth(look.gain_pts, self.ranking.urgency(self.adviser.today, look.last_day), look.certainty)

    # --- from facts to looking actions --------------------------------------------------------------------------
    def _plan(self, openings: frozenset) -> dict | None:
        """Return {(hive row, looking action): facts} that settles what the advised looks leave open; None where none can."""
        wanted: dict[int, list[list[frozenset]]] = {}
        for opening in sorted(openings, key=lambda o: o.key):
            for row, fact in opening.facts:
                ways = self.observing.ways(fact, row)
                if not ways:
                    return None
                told = self._told.get(row, frozenset())
                if not any(way <= told for way in ways):
                    wanted.setdefault(row, []).append([way - told for way in ways])
        plan: dict = {}
        for row, needs in wanted.items():
            best = None
            for facts in choices(needs):
                cover = self._cover(facts, row)
                if cover is None:
                    continue
                level = max(LEVEL[self.vocabulary.actions[a].opens] for a in cover)
                minutes = sum(self.vocabulary.actions[a].minutes for a in cover)
                key = (level, len(cover), len(facts), minutes, sorted(cover))
                if best is None or key < best[0]:
                    best = (key, cover)
            if best is None:
                return None
            for look, facts in best[1].items():
                plan[(row, look)] = facts
        return plan

    def _cover(self, facts: frozenset, row: int) -> dict | None:
        options = {}
        for fact in sorted(facts):
            allowed = [a for a in self.lookers.get(fact, ()) if self.allowed(a, row)]
            if not allowed:
                return None
            options[fact] = allowed
        floor = max(LEVEL[self.vocabulary.actions[a[0]].opens] for a in options.values())
        left, cover = sorted(facts), {}
        while left:
            counts: dict[str, list[str]] = {}
            for fact in left:
                for action in options[fact]:
                    if LEVEL[self.vocabulary.actions[action].opens] <= floor:
                        counts.setdefault(action, []).append(fact)
            action = min(
                counts,
                key=lambda a: (
                    -len(counts[a]),
                    LEVEL[self.vocabulary.actions[a].opens],
                    self.vocabulary.actions[a].minutes,
                    a,
                ),
            )
            cover[action] = counts[action]
            left = [fact for fact in left if fact not in counts[action]]
        return cover

    def allowed(self, action: str, row: int) -> bool:
        """Whether a look makes sense and may be done at a hive this week."""
        key = (action, row)
        found = self._allowed.get(key)
        if found is None:
            body = self.vocabulary.actions[action]
            found = (self.alive[row] is not False or body.dead_ok) and action not in self.put_away[row]
            if self.suspect[row] and body.opens != "nothing" and action not in self.ranking.looks_at_suspicion:
                found = False
            if found and any(self.inference.finds(name, row) for name in self.ranking.not_where.get(action, ())):
                found = False
            if found and action in self.ranking.in_season:
                fact_id, values = self.ranking.in_season[action]
                number = self.table.column(fact_id).value[row]
                fact = self.vocabulary.facts[fact_id]
                found = math.isnan(number) or number in [fact.encode(v) for v in values]
            if found:
                verdict = self.safety.verdict(action, row)
                found = verdict.open and not verdict.unlikely
            self._allowed[key] = found
        return found

    def waiting(self, row: int, named: Container[str]) -> list[Withheld]:
        """Return what was due by a note that grew old, and by which no look is to be had this week; of one action the first."""
        found: dict[str, Withheld] = {}
        for rule in self.shut.get(row, ()):
            action = str(rule.advise)
            if action not in named and action not in found:
                because = message("plan.old-waits", label=Capital(plain(self.vocabulary.actions[action].label)))
                found[action] = Withheld(action, rule.id, "prohibition", because, waits=True)
        return list(found.values())

    # --- the looks of a hive ------------------------------------------------------------------------------------
    def of_hive(self, row: int, kept: list[Advice]) -> list[Look]:
        """Return the looks of a hive, best first; what an advised look tells anyway is noted on it and left out."""
        advised = {a.action: a for a in kept}
        looks: list[Look] = []
        for (hive, action), bag in sorted(self._bags.items()):
            if hive != row:
                continue
            facts = list(dict.fromkeys(f for c in bag.credits for f in c.facts))
            teller = next(
                (
                    a
                    for a in kept
                    if self.vocabulary.actions[a.action].observes
                    and set(facts) <= set(self.vocabulary.actions[a.action].observes)
                ),
                None,
            ) or advised.get(action)
            if teller is not None:
                teller.facts = sorted(set(teller.facts) | set(facts))
                teller.unlocks += bag.unlocks()
                self._hurried(teller, bag.credits)
                continue
            looks.append(self._look(row, action, facts, bag))
        looks.sort(key=lambda k: (-k.points, LEVEL[self.vocabulary.actions[k.action].opens], k.action))
        merged = self._merge(looks)
        floor = self.ranking.weights.look_list_floor_pts
        lost = {
            credit.rule for (hive, _), bag in self._bags.items() if hive == row for credit in bag.credits if credit.lost
        }
        return [look for look in merged if look.points >= floor or any(u["rule"] in lost for u in look.unlocks)]

    def _look(self, row: int, action: str, facts: list[str], bag: Bag) -> Look:
        best = bag.best
        column = self.table.column
        high = column("weather.open_high_c").value[row]
        more = [
            name
            for name, condition in self.ranking.frames_cost_more.items()
            if self.inference.holds(condition, row)[0] is Truth.TRUE
        ]
        cost = self.ranking.opening_cost(
            self.vocabulary.actions[action].opens, None if math.isnan(high) else float(high), more
        )
        share = best.urgency * best.certainty
        net = best.gain - cost / share if share > 0 else 0.0
        verdict = self.safety.verdict(action, row)
        look = Look(
            action,
            sorted(facts),
            self._how(facts),
            0.0,
            bag.unlocks(),
            round(net, 2),
            round(best.urgency, 3),
            round(best.certainty, 3),
            min((day for day in (best.by, wanted_by(bag.credits, self._floor)) if day is not None), default=None),
            ordered(verdict.only_on),
            list(verdict.checks),
        )
        look.points = round(look.gain_pts * look.urgency * look.certainty, 2)
        return look

    def _how(self, facts: list[str]) -> Phrase:
        """Words on how to see the first three of the facts."""
        said = []
        for fact_id in sorted(facts)[:3]:
            fact = self.vocabulary.facts[fact_id]
            label = Capital(plain(fact.label or fact_id))
            how = {"how": plain(fact.how)} if fact.how else {}
            said.append(message("plan.look-how" if how else "plan.look-label", label=label, **how))
        return listed(said, "space")

    def _merge(self, looks: list[Look]) -> list[Look]:
        """Fold a look into a better one that opens no less and tells the same."""
        kept: list[Look] = []
        for look in looks:
            level = LEVEL[self.vocabulary.actions[look.action].opens]
            for better in kept:
                body = self.vocabulary.actions[better.action]
                if LEVEL[body.opens] >= level > 0 and set(look.facts) <= set(body.observes):
                    better.facts = sorted(set(better.facts) | set(look.facts))
                    better.unlocks = by_worth([*better.unlocks, *look.unlocks])
                    if look.by is not None and look.points >= self._floor:
                        better.by = min(look.by, better.by or look.by)
                    break
            else:
                kept.append(look)
        return kept
