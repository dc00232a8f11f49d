"""The plan of a week: from what the rules say to what a keeper should do, hive by hive."""

from __future__ import annotations

import datetime as dt
import math

from hiveweek.facts.courses import following, running_at
from hiveweek.facts.inside import lies_in
from hiveweek.plan import ranking as ranking_file
from hiveweek.plan.advise import Adviser
from hiveweek.plan.allowing import Allowing
from hiveweek.plan.deciding import Deciding
from hiveweek.plan.looks import Ask, Looks
from hiveweek.plan.missed import Missed
from hiveweek.plan.model import Advice, HivePlan, Look, WeekPlan, Withheld
from hiveweek.plan.noted import NotedValues
from hiveweek.plan.order import Order
from hiveweek.plan.put_away import Answers
from hiveweek.plan.quiet import Quiet
from hiveweek.plan.ranking import Ranking
from hiveweek.plan.safety import Safety
from hiveweek.plan.setting import Setting
from hiveweek.plan.since import Due, Since
from hiveweek.plan.troubled import Troubled
from hiveweek.plan.words import Filler
from hiveweek.plan.yard import Yard
from hiveweek.rules.model import Rule
from hiveweek.texts.parts import Chance, Day, Phrase, Sentence, listed, message
from hiveweek.texts.reading import plain


def make(inference, setting: Setting, ranking: Ranking | None = None) -> WeekPlan:
    """Return the plan of a week.

    Parameters
    ----------
    inference : Inference
        Rules, findings, prohibitions and options evaluated over the fact table of one apiary.
    setting : Setting
        Day, calendar, weather, names.
    ranking : Ranking, optional
        The shipped one by default.

    Returns
    -------
    WeekPlan
        The same input gives the same plan. An empty apiary gives a plan without hives.
    """
    planner = _Planner(inference, setting, ranking or ranking_file.load(inference.table.vocabulary))
    plan = planner.plan()
    # Its parts ask it back, in a circle: once that is open, all they hold is freed at once, and not by the collector.
    vars(planner).clear()
    return plan


class _Planner:
    def __init__(self, inference, setting: Setting, ranking: Ranking):
        self.inference, self.setting, self.ranking = inference, setting, ranking
        self.table = inference.table
        self.vocabulary = self.table.vocabulary
        self.actions = self.vocabulary.actions
        self.today = setting.today
        self.filler = Filler(self.table, inference.ruleset.limits, setting.today)
        self.deciding = Deciding(inference, setting.history, int(ranking.weights.grown_old_days), setting.past)
        self.safety = Safety(inference, self.deciding, self.filler)
        self.adviser = Adviser(
            inference,
            ranking,
            self.deciding,
            self.safety,
            self.filler,
            setting.today,
            setting.calendar,
            setting.unverified,
        )
        self.answers = Answers(
            setting.answered, self.vocabulary, ranking.numbers.branch("plan"), setting.today, self._acts_on_troubles
        )
        self.order = Order(inference, setting.today)
        self.noted = NotedValues(inference, self.filler, setting.history, setting.today, ranking.numbers.branch("plan"))
        self.quiet = Quiet(inference, ranking, self.adviser, setting.calendar)
        self.alive = [self._yes(row, "colony.alive") for row in range(len(self.table))]
        self.allowing = Allowing(
            inference,
            ranking,
            self.deciding,
            self.safety,
            self.filler,
            self.adviser,
            self.alive,
            self._aside,
            setting.today,
            setting.usual_from,
        )
        self.missed = Missed(inference, ranking, self.adviser, self.alive)
        self.troubled = Troubled(inference, ranking, self.safety, self.allowing, self.deciding, setting.today)
        self.yard = Yard(inference, setting, ranking, self.safety)

    def _yes(self, row: int, fact: str) -> bool | None:
        number = self._number(row, fact)
        return None if number is None else number > 0.5

    def _number(self, row: int, fact: str) -> float | None:
        if fact not in self.vocabulary.facts:
            return None
        number = self.table.column(fact).value[row]
        return None if math.isnan(number) else float(number)

    # --- the whole ----------------------------------------------------------------------------------------------
    def plan(self) -> WeekPlan:
        rows = range(len(self.table))
        hives = [HivePlan(self.table.hives[row], alive=self.alive[row]) for row in rows]
        asks: list[list[Ask]] = [[] for _ in rows]
        for row, hive in zip(rows, hives, strict=True):
            course = None if hive.alive is False else running_at(self.table, row, self.today)
            hive.courses = [] if course is None else [course]
            hive.after = [] if hive.alive is False else following(self.table, row, self.today)
            hive.lies_in = lies_in(self.table, row, self.today)
            ago = self._number(row, "log.days_since_checked")
            hive.last_look = None if ago is None else self.today - dt.timedelta(days=int(ago))
            hive.serious = self._acts_on_troubles(row)
            hive.suspect = any(self.inference.finds(name, row) for name in self.ranking.suspicions)
        away = [self.answers.looks(row, self.ranking.looks) for row in rows]
        for hive, found in zip(hives, away, strict=True):
            hive.put_away += [one for one in found if not one.done]
        looks = Looks(
            self.inference,
            self.ranking,
            self.deciding,
            self.safety,
            self.adviser,
            self.alive,
            [h.suspect for h in hives],
            [{one.action for one in found} for found in away],
            [{one.action for one in found if one.done} for found in away],
        )
        fired = [self._fired(row) for row in rows]
        over = [self.missed.over(row) for row in rows]
        dues, ended = self._since(fired, over)
        for row, hive in zip(rows, hives, strict=True):
            advised = self._advised(row, fired[row], dues[row])
            advised = self.missed.of_hive(row, hive, advised, over[row], ended[row])
            advised = self._standing(row, hive, advised)
            hive.advice = self.allowing.of_hive(row, hive, advised, asks[row])
            hive.advice = self._walk(hive.id, hive.advice, hive)
        for row, hive in zip(rows, hives, strict=True):
            looks.advised(row, hive.advice)
        for row, hive in zip(rows, hives, strict=True):
            looks.gather(row, hive.advice, asks[row])
        for row, hive in zip(rows, hives, strict=True):
            self._add_looks(row, hive, looks)
            named_here = {advice.action for advice in hive.advice}
            hive.put_away = [one for one in hive.put_away if one.action not in named_here]
            jobs, answers = self.troubled.of_hive(row, hive, looks)
            hive.advice = self.troubled.headed(self.order.of_hive(row, jobs), answers)
        lent = self.quiet.lent(hives)
        for row, hive in zip(rows, hives, strict=True):
            self.quiet.close(row, hive, self.allowing.waiting[row], lent)
            for rank, advice in enumerate(hive.advice, 1):
                advice.rank = rank
                self._in_this_hive(row, advice)
            hive.noted = self.noted.of_hive(row, hive)
            if not hive.advice:
                hive.nothing_due = self.quiet.nothing_due(row, hive, lent)
            if self.setting.with_facts:
                self.yard.facts(row, hive)
        return self.yard.plan(hives)

    # --- one hive -----------------------------------------------------------------------------------------------
    def _fired(self, row: int) -> list[Rule]:
        """The rules that advise something here."""
        return [
            rule
            for rule in self.inference.ruleset.advising()
            if self.inference.rules[rule.id].holds(row)
            and not (self.alive[row] is False and not self.actions[str(rule.advise)].dead_ok)
        ]

    def _since(
        self, fired: list[list[Rule]], over: list[set[str]]
    ) -> tuple[list[dict[str, Due]], list[dict[str, dt.date]]]:
        """Since when what the rules advise is due, and what was due a short while ago and is over, by action, for each hive."""
        if self.setting.past is None:
            return [{} for _ in fired], [{} for _ in fired]
        since = Since(
            self.inference,
            self.setting.past,
            self.adviser.deadlines,
            self.ranking.waits_for,
            self.setting.answered,
            self._in_place_of,
            int(self.ranking.numbers.plan.since.weeks),
            self.ranking.waits_by,
            self.order.follow,
        )
        advised = [{str(rule.advise) for rule in rules} for rules in fired]
        said_days = int(self.ranking.numbers.plan.late.said_days)
        missed = [late - actions for late, actions in zip(over, advised, strict=True)]
        return since.find(advised), since.ended(missed, said_days)

    def _in_place_of(self, action: str) -> list[str]:
        """What is done in place of an action once it is too late."""
        late = self.inference.ruleset.late.get(action)
        return [late.instead] if late is not None and late.instead else []

    def _advised(self, row: int, rules: list[Rule], dues: dict[str, Due]) -> list[Advice]:
        """One advice an action: the highest stands, the others' reasons go under ``also``; the earliest of their days holds."""
        by_action: dict[str, list[Advice]] = {}
        for rule in rules:
            advice = self.adviser.make(rule, row)
            if advice.action in dues:
                dated = advice.by is not None
                advice.due(dues[advice.action].by_rule.get(rule.id), self.today)
                if advice.by is None and dated and dues[advice.action].before is not None:
                    advice.by = self.today  # its day went by before the farthest that was asked
                self._weigh(advice)
            by_action.setdefault(advice.action, []).append(advice)
        kept = []
        for same in by_action.values():
            same.sort(key=lambda a: a.key(self.table.hives[row]))
            best = same[0]
            best.also = [{"rule": a.rule, "because": a.because} for a in same[1:]]
            due = dues.get(best.action)
            days = [a.due_by for a in same] if due is None else [due.by]
            passed = due is not None and due.before is not None and any(a.by is not None for a in same)
            best.due(min((day for day in days if day is not None), default=None), self.today)
            if due is not None:
                best.due_since, best.due_before = due.since, due.before
                if passed and due.by is None:
                    best.by = self.today
            self._weigh(best)
            kept.append(best)
        return sorted(kept, key=lambda a: a.key(self.table.hives[row]))

    def _weigh(self, advice: Advice) -> None:
        """Weigh an advice by its deadline."""
        advice.worth(advice.gain_pts, self.ranking.urgency(self.today, advice.last_day), advice.certainty)

    def _in_this_hive(self, row: int, advice: Advice) -> None:
        """Say first what is different about a job in a hive of this kind."""
        for fact, kinds in self.actions[advice.action].in_hive.items():
            said = kinds.get(str(self.table.plain(row, fact)))
            if said is not None:
                advice.safety = listed([plain(said), advice.safety], "space")

    def _acts_on_troubles(self, row: int) -> frozenset[str]:
        """The actions that answer the serious troubles of a hive."""
        return self.troubled.acts(row, self.alive[row])

    def _standing(self, row: int, hive: HivePlan, advised: list[Advice]) -> list[Advice]:
        """What the keeper has not put away."""
        return [advice for advice in advised if not self._aside(row, hive, advice)]

    def _aside(self, row: int, hive: HivePlan, advice: Advice) -> bool:
        """Note an advice that is put away, once; whether it is."""
        found = self.answers.to(row, advice)
        if found is not None:
            hive.put_away = [*(one for one in hive.put_away if one.action != found.action), found]
        return found is not None

    def _walk(self, hive_id: str, advice: list[Advice], hive: HivePlan) -> list[Advice]:
        """Walk down in rank; what clashes with something kept is withheld."""
        kept: list[Advice] = []
        for one in advice:
            other = next((k for k in kept if self.allowing.clash(one.action, k.action)), None)
            if other is None:
                kept.append(one)
            else:
                label = plain(self.actions[other.action].label)
                because = message("plan.clash", label=label, because=one.because)
                hive.withheld.append(Withheld(one.action, one.rule, "clash", because))
        for job in [one for one in kept if one.action in self.ranking.needless_beside]:
            for one in [k for k in kept if k.action in self.ranking.needless_beside[job.action]]:
                kept.remove(one)
                job.hurry(one.by, self.today)  # what takes its place is due by then
                because = message("plan.needless", label=plain(self.actions[job.action].label), because=one.because)
                hive.withheld.append(Withheld(one.action, one.rule, "clash", because))
        return kept

    def _add_looks(self, row: int, hive: HivePlan, looks: Looks) -> None:
        """The best look joins the list; the others stand under ``look_first``."""
        found = looks.of_hive(row, hive.advice)
        floor = self.ranking.weights.look_floor_pts
        best = next(
            (
                k
                for k in found
                if k.points >= floor and not any(self.allowing.clash(k.action, a.action) for a in hive.advice)
            ),
            None,
        )
        hive.look_first = [k for k in found if k is not best]
        hive.withheld += looks.waiting(row, hive.beside.union(one.action for one in hive.advice))
        there = {one.action for one in hive.advice}
        more = [] if best is None else [self._look_advice(best, there, looks.observing.sampled_on(best.facts, row))]
        hive.advice = sorted([*hive.advice, *more], key=lambda a: a.key(hive.id))

    def _look_advice(self, look: Look, there: set[str], sampled_on: dt.date | None) -> Advice:
        advice = Advice(
            look.action,
            look.unlocks[0]["rule"],
            points=look.points,
            gain_pts=look.gain_pts,
            urgency=look.urgency,
            certainty=look.certainty,
            by=look.by and max(look.by, self.today),
            due_by=look.by,
            because=self._look_because(look, there, sampled_on),
            safety=plain(self.actions[look.action].safety),
            facts=look.facts,
            unlocks=look.unlocks,
            only_on=look.only_on,
            origin="look",
        )
        rule = self.inference.ruleset.rules.get(advice.rule)
        if rule is not None:
            advice.sources, advice.grade = list(rule.source), rule.evidence
        advice.checks = [Sentence(c) for c in look.checks]
        return advice

    def _look_because(self, look: Look, there: set[str], sampled_on: dt.date | None) -> Phrase:
        labels = [plain(self.vocabulary.facts[f].label or f) for f in look.facts]
        more = [message("more-of-them", n=len(labels) - 3)] if len(labels) > 3 else []
        could = list(dict.fromkeys(plain(self.actions[u["action"]].label) for u in look.unlocks))[:2]
        said: dict[str, Phrase] = {"actions": listed(could, "or"), "chance": Chance(look.certainty)}
        if all(u["action"] in there for u in look.unlocks):  # what is advised anyway can only be due earlier
            return message("plan.look-sooner", facts=listed(labels[:3] + more), **said)
        if sampled_on is not None:
            return message("plan.look-again", day=Day(sampled_on, self.today), **said)
        return message("plan.look", facts=listed(labels[:3] + more), **said)
