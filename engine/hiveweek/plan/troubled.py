"""Serious troubles and the list of a hive: each has its answer there, the one that kills sooner first.

The rules say what to do. Where none of them speaks to a trouble that is known to stand, the look that decides it is advised, and
where that cannot be done either, what has to wait is named with its reason.
"""

from __future__ import annotations

import datetime as dt

from hiveweek.language.meaning import View, evaluate
from hiveweek.language.truth import Outcome, Truth
from hiveweek.plan.allowing import Allowing
from hiveweek.plan.deciding import Deciding
from hiveweek.plan.model import Advice, HivePlan, Withheld
from hiveweek.plan.ranking import Ranking
from hiveweek.plan.safety import Safety, ordered
from hiveweek.rules.model import Rule, Trouble
from hiveweek.rules.resting import needed, spoken_of
from hiveweek.texts.parts import Capital, Sentence, message
from hiveweek.texts.reading import plain


class Troubled:
    """Sees to it that the serious troubles of a hive are answered where a keeper reads first.

    Parameters
    ----------
    inference : Inference
        Its ruleset has the troubles.
    ranking : Ranking
    safety : Safety
    allowing : Allowing
        Tells which acts clash.
    deciding : Deciding
        Tells what was noted and has grown old since.
    today : date
    """

    def __init__(
        self, inference, ranking: Ranking, safety: Safety, allowing: Allowing, deciding: Deciding, today: dt.date
    ):
        self.inference, self.ranking, self.safety, self.allowing = inference, ranking, safety, allowing
        self.deciding, self.today = deciding, today
        self._last_seen: View | None = None
        self._then: dict[str, Outcome] = {}
        self.numbers = ranking.numbers.branch("plan.troubles")
        self.actions = inference.table.vocabulary.actions
        self._known: dict[int, list[tuple[Trouble, float]]] = {}
        self._about: dict[str, frozenset[str]] = {}

    def standing(self, row: int, alive: bool | None) -> list[Trouble]:
        """Return the troubles that are known to stand at a hive, the one that kills soonest first."""
        return [trouble for trouble, chance in self._found(row, alive) if chance >= self.numbers.sure_chance]

    def acts(self, row: int, alive: bool | None) -> frozenset[str]:
        """Return the actions that answer a trouble that stands at a hive by all that was noted, though not for sure."""
        return frozenset(action for trouble, _ in self._found(row, alive) for action in trouble.acts)

    def _found(self, row: int, alive: bool | None) -> list[tuple[Trouble, float]]:
        """The troubles that stand by the figures as they are, with the chance that they do."""
        if row in self._known:
            return self._known[row]
        found = self._known[row] = []
        for trouble in self.inference.ruleset.troubles.values():
            point, _, chance = self.inference.holds(trouble.when, row)
            dead = alive is False and not any(self.actions[action].dead_ok for action in trouble.acts)
            if point == Truth.TRUE and not dead:
                found.append((trouble, chance))
        return found

    def grown_old(self, row: int, alive: bool | None) -> list[Trouble]:
        """Return the troubles that stood when the hive was last looked at, and are open only because those notes grew old."""
        if alive is False or not self.deciding.grown_old(row):
            return []
        if self._last_seen is None:
            self._last_seen = View(self.deciding.last_seen, {}, self.inference.ruleset.limits)
        found = []
        for trouble in self.inference.ruleset.troubles.values():
            if self.inference.holds(trouble.when, row)[0] != Truth.UNDECIDED:
                continue
            if trouble.id not in self._then:
                self._then[trouble.id] = evaluate(trouble.when, self._last_seen).over(len(self.inference.table))
            point, _, chance = self._then[trouble.id].at(row)
            if point == Truth.TRUE and chance >= self.numbers.sure_chance:
                found.append(trouble)
        return found

    def of_hive(self, row: int, hive: HivePlan, looks) -> tuple[list[Advice], list[Advice]]:
        """Return the list of a hive with an answer to each trouble, and the answers to the first of them.

        The answers that ``headed`` brings to the head of the list stand in it as soon as their trouble kills.

        Parameters
        ----------
        hive : HivePlan
            What is withheld without an answer joins ``withheld``.
        looks : Looks
            Tells which looks make sense and may be done.
        """
        advice = list(hive.advice)
        gone = {one.action for one in hive.put_away}
        steps: dict[int, int] = {}
        answers: list[Advice] = []
        for trouble in self.standing(row, hive.alive):
            if gone & {*trouble.acts, *trouble.looks}:
                continue
            answer = self._answer(trouble, row, hive, advice)
            if answer is None:
                answer = self._added(trouble, row, hive, advice, looks)
                if all(answer is not one for one in advice):
                    advice = sorted([*advice, answer], key=lambda one: one.key(hive.id))
            if answer.band and id(answer) not in steps and len(answers) < self.numbers.head_jobs:
                answers.append(answer)
                steps[id(answer)] = self._step(trouble)
        for trouble in self.grown_old(row, hive.alive):
            named = hive.beside.union(one.action for one in advice)
            if not named & {*trouble.acts, *trouble.looks} and self._answer(trouble, row, hive, advice) is None:
                look = self._added(trouble, row, hive, advice, looks, old=True)
                if all(look is not one for one in advice):
                    advice = sorted([*advice, look], key=lambda one: one.key(hive.id))
        places = sorted(n for n, one in enumerate(advice) if id(one) in steps)
        answers.sort(key=lambda one: (steps[id(one)], next(n for n, other in enumerate(advice) if other is one)))
        for at, one in zip(places, answers, strict=True):
            advice[at] = one
        return self._help_first(row, hive, advice, steps), answers

    def _help_first(self, row: int, hive: HivePlan, advice: list[Advice], steps: dict[int, int]) -> list[Advice]:
        """Return the list with the way to help before what is about a trouble that kills later and answers none that kills sooner."""
        help_ = next((one for one in advice if one.action == self.ranking.helps_by and id(one) in steps), None)
        if help_ is None:
            return advice
        later: set[str] = set()
        now: set[str] = set()
        for trouble in self.standing(row, hive.alive):
            about = later if self._step(trouble) > steps[id(help_)] else now
            about |= {*trouble.acts, *trouble.looks}
        rest = [one for one in advice if one is not help_]
        at = next((n for n, one in enumerate(rest) if one.band and one.action in later - now), len(rest))
        return [*rest[:at], help_, *rest[at:]] if at < advice.index(help_) else advice

    def headed(self, advice: list[Advice], answers: list[Advice]) -> list[Advice]:
        """Return a list with the answers among its first jobs, and what must come before them with them.

        Law and people (band 0) keep their place above all. Where the answers stand well already nothing moves; else other jobs
        make way, the last of them first; what is owed to neighbours does not.
        """
        law, rest = [one for one in advice if not one.band], [one for one in advice if one.band]
        mine = {id(one) for one in answers}
        last = max((n for n, one in enumerate(rest) if id(one) in mine), default=-1)
        if last < self.numbers.head_jobs:
            return [*law, *rest]
        for one in reversed(rest[: last + 1]):
            if id(one) in mine and one.follows is not None:
                mine |= {id(other) for other in rest if other.action == one.follows.action}
        mine |= {id(one) for one in rest[: last + 1] if one.loses == "neighbours"}
        room = max(0, int(self.numbers.head_jobs) - len(mine))
        others = [one for one in rest[: last + 1] if id(one) not in mine]
        down = {id(one) for one in others[room:]}
        head = [one for one in rest[: last + 1] if id(one) not in down]
        return [*law, *head, *others[room:], *rest[last + 1 :]]

    def _answer(self, trouble: Trouble, row: int, hive: HivePlan, advice: list[Advice]) -> Advice | None:
        """The job that answers a trouble: an act, or the way to help; else a look; else what stands in for an act that is withheld."""
        held = {item.action for item in hive.withheld} & set(trouble.acts)
        instead: set[str] = set()
        if held:
            instead = {action for actions in self.ranking.holds_open.values() for action in actions}
            for action in held:
                for prohibition in self.safety.aimed_at(action):
                    instead |= {*prohibition.instead, *prohibition.first}
        alone = self._alone(row)
        help_ = {self.ranking.helps_by} if alone else set()
        looks = {look for look in trouble.looks if not alone or self.actions[look].opens == "nothing"}
        if alone and all(self.actions[action].opens != "nothing" for action in trouble.acts):
            looks, instead = set(), set()  # what helps means opening it: the way to help comes before any look
        for good in (set(trouble.acts), help_, looks, instead):
            found = next((one for one in advice if one.action in good and self._is_about(one, trouble)), None)
            if found is not None:
                if good is help_:
                    because = message("plan.trouble-help", label=Capital(plain(trouble.label)))
                    found.also.append({"rule": f"plan.trouble-{trouble.id}", "because": because})
                    found.hurry(self._by(trouble), self.today)
                return found
        return None

    def _is_about(self, advice: Advice, trouble: Trouble) -> bool:
        """Whether a job that many rules give for many reasons, to wait, is given here for what the trouble is known by."""
        if advice.action != self.ranking.waits_by or advice.action not in trouble.acts:
            return True
        rules = self.inference.ruleset.rules
        mine = {ref.name for ref in needed(trouble.when)}
        return any(mine & self._facts(rules[rule]) for rule in advice.rules() if rule in rules)

    def _facts(self, rule: Rule) -> frozenset[str]:
        """The facts of the hive that a rule speaks of."""
        if rule.id not in self._about:
            facts = self.inference.table.vocabulary.facts
            named = spoken_of(self.inference.ruleset, rule)
            self._about[rule.id] = frozenset(n for n in named if facts[n].scope == "hive")
        return self._about[rule.id]

    def _alone(self, row: int) -> bool:
        """Whether a guard stands that only help lifts."""
        return any(
            self.ranking.helps_by in actions and self.inference.finds(name, row)
            for name, actions in self.ranking.holds_open.items()
        )

    def _added(
        self, trouble: Trouble, row: int, hive: HivePlan, advice: list[Advice], looks, *, old: bool = False
    ) -> Advice:
        """An answer where no rule gave one: help, a look, or to wait for the day on which one can be had."""
        there = {one.action for one in advice}
        label = Capital(plain(trouble.label))
        if self._alone(row) and all(self.actions[action].opens != "nothing" for action in trouble.acts):
            return self._advice(trouble, self.ranking.helps_by, message("plan.trouble-help", label=label), row)
        waiting = {item.action for item in hive.withheld}
        disease = self._disease_first(trouble, row, advice)
        if disease is not None:
            said = message("plan.trouble-disease", label=label)
            if trouble.acts[0] not in waiting:
                hive.withheld.append(
                    Withheld(trouble.acts[0], f"plan.trouble-{trouble.id}", "prohibition", said, waits=True)
                )
            disease.also.append({"rule": f"plan.trouble-{trouble.id}", "because": said})
            return disease
        for action in trouble.looks:
            if action in waiting:
                continue
            if looks.allowed(action, row) and not any(self.allowing.clash(action, other) for other in there):
                id_ = "plan.trouble-old" if old else "plan.trouble"
                because = message(id_, label=label, look=plain(self.actions[action].label))
                return self._advice(trouble, action, because, row)
        held = [*trouble.acts, *trouble.looks]
        stops = [verdict.stops[0][1] for verdict in (self.safety.verdict(a, row) for a in held) if verdict.stops]
        reason = Sentence(stops[0]) if stops else message("plan.trouble-no-way")
        if trouble.acts[0] not in waiting:
            said = message("plan.due-waits", because=Sentence(label), waits=reason)
            hive.withheld.append(
                Withheld(trouble.acts[0], f"plan.trouble-{trouble.id}", "prohibition", said, waits=True)
            )
        because = message("plan.trouble-waits", label=label, because=reason)
        waits = next((one for one in advice if one.action == self.ranking.waits_by), None)
        if waits is not None:
            waits.also.append({"rule": f"plan.trouble-{trouble.id}", "because": because})
            return waits
        return self._advice(trouble, self.ranking.waits_by, because, row)

    def _disease_first(self, trouble: Trouble, row: int, advice: list[Advice]) -> Advice | None:
        """Return what meets a suspicion at a hive that stops all work on a trouble; no look would lead to that work before."""
        works = [action for action in trouble.acts if self.actions[action].opens != "nothing"]
        if not works or not all(self.safety.verdict(action, row).stops for action in works):
            return None
        meets = {
            action
            for name in self.ranking.suspicions
            if self.inference.finds(name, row)
            for action in self.ranking.holds_open.get(name, ())
        }
        return next((one for one in advice if one.action in meets), None)

    def _advice(self, trouble: Trouble, action: str, because, row: int) -> Advice:
        by = self._by(trouble)
        found = Advice(
            action,
            f"plan.trouble-{trouble.id}",
            by=by,
            due_by=by,
            because=because,
            safety=plain(self.actions[action].safety),
            sources=list(trouble.source),
            facts=list(self.actions[action].observes),
            origin="trouble",
        )
        found.worth(self.numbers.look_pts, self.ranking.urgency(self.today, by), 1.0)
        found.only_on = ordered(self.safety.verdict(action, row).only_on)
        return found

    def _by(self, trouble: Trouble) -> dt.date:
        return self.today + dt.timedelta(days=int(min(trouble.kills_days, self.numbers.look_within_days)))

    def _step(self, trouble: Trouble) -> int:
        limits = (0, self.numbers.days_step, self.numbers.weeks_step, self.numbers.months_step)
        return sum(trouble.kills_days > limit for limit in limits)
