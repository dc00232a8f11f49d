"""Advice held against the prohibitions: what is withheld, what stands in for it, and what must come first."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace

from hiveweek.plan.advise import Adviser, lifted_first
from hiveweek.plan.deciding import Deciding
from hiveweek.plan.looks import Ask
from hiveweek.plan.model import Advice, HivePlan, Withheld
from hiveweek.plan.options import missing, options
from hiveweek.plan.ranking import Ranking
from hiveweek.plan.safety import Safety, ordered, tighten
from hiveweek.plan.waiting import Waiting, Waits
from hiveweek.plan.words import Filler
from hiveweek.rules.model import Prohibition
from hiveweek.texts.parts import Phrase, Sentence, Word, listed, message
from hiveweek.texts.reading import plain


class Allowing:
    """Decides what of the advice of a hive may stand.

    Parameters
    ----------
    inference : Inference
    ranking : Ranking
    deciding, safety, filler, adviser
        Of the same inference.
    alive : sequence of (bool or None)
        Whether the colony of each hive lives.
    aside : callable
        Takes a row, its plan and an advice; notes and tells whether the keeper has put it away.
    today : date
    usual_from : callable, optional
        As `Waits` takes it.

    Attributes
    ----------
    waiting : dict of int to list of Waiting
        The jobs of each row that wait, once it has been decided.
    """

    def __init__(
        self,
        inference,
        ranking: Ranking,
        deciding: Deciding,
        safety: Safety,
        filler: Filler,
        adviser: Adviser,
        alive: Sequence[bool | None],
        aside: Callable[[int, HivePlan, Advice], bool],
        today: dt.date,
        usual_from: Callable[[float], dt.date | None] = lambda high: None,
    ):
        self.inference, self.ranking, self.deciding, self.safety = inference, ranking, deciding, safety
        self.filler, self.alive, self.aside, self.today = filler, alive, aside, today
        self.actions = inference.table.vocabulary.actions
        self.waits = Waits(inference, ranking, deciding, adviser, filler, usual_from)
        self.waiting: dict[int, list[Waiting]] = {}

    def of_hive(self, row: int, hive: HivePlan, advised: list[Advice], asks: list[Ask]) -> list[Advice]:
        """Hold every advice against the prohibitions; add what must come first and what stands in."""
        kept: list[Advice] = []
        wanting: list[tuple[Advice, list]] = []
        firsts: list[tuple[Advice, Prohibition, Phrase]] = []
        for advice in advised:
            if self._needless(advice.action, hive):
                hive.withheld.append(
                    Withheld(
                        advice.action,
                        advice.rule,
                        "prohibition",
                        message("plan.suspect"),
                    )
                )
                continue
            verdict = self.safety.verdict(advice.action, row, advice.partner_row)
            if verdict.stops:
                prohibition, because = verdict.stops[0]
                hive.withheld.append(Withheld(advice.action, advice.rule, "prohibition", because))
                wanting.append((advice, [p for p, _ in verdict.stops]))
                continue
            if verdict.asks:
                prohibition, because, _ = verdict.asks[0]
                names = missing(self.deciding, [prohibition.when], row) if not prohibition.roles else []
                text: Phrase = (
                    message("plan.held-facts", facts=listed(names, "comma"))
                    if names
                    else message("plan.held-because", because=because)
                )
                if names and prohibition.check:
                    text = listed([text, Sentence(plain(prohibition.check))], "space")
                hive.withheld.append(Withheld(advice.action, advice.rule, "prohibition", text))
                asks.append(Ask(advice, [s for _, _, sets in verdict.asks[:1] for s in sets]))
                wanting.append((advice, [p for p, _, _ in verdict.asks]))
                continue
            self._dress(advice, verdict)
            if self.actions[advice.action].treats:
                advice.options = options(self.inference, self.safety, self.filler, row, advice.action)
                if advice.options and all(o["allowed"] is False for o in advice.options):
                    self._no_option(row, hive, advice, kept, advised)
                    continue
            firsts += [(advice, prohibition, because) for prohibition, because in verdict.firsts]
            kept.append(advice)
        wanting += self._wait(row, hive, kept)
        for advice, prohibition, because in firsts:
            self._first(row, advice, prohibition, because, kept)
        for advice, prohibitions in wanting:
            self._instead(row, hive, advice, prohibitions, kept)
        return sorted(kept, key=lambda a: a.key(hive.id))

    def _needless(self, action: str, hive: HivePlan) -> bool:
        """Whether a look would open a suspect hive without serving the suspicion."""
        return (
            hive.suspect
            and action in self.ranking.looks
            and self.actions[action].opens != "nothing"
            and action not in self.ranking.looks_at_suspicion
        )

    def _wait(self, row: int, hive: HivePlan, kept: list[Advice]) -> list[tuple]:
        """Note the jobs that a guard alone holds up; return those that leave something to do meanwhile, with what forbids them."""
        told = {a.action for a in kept} | {w.action for w in hive.withheld}
        wanting = []
        self.waiting[row] = []
        for waiting in self.waits.of_hive(row, self.alive[row]):
            advice = waiting.advice
            same_need = advice.action in self.ranking.feeds and told & self.ranking.feeds
            better = any(self.clash(advice.action, a.action) and a.points >= advice.points for a in kept)
            if advice.action in told or same_need or better or self._needless(advice.action, hive):
                continue
            told.add(advice.action)
            if self.aside(row, hive, advice):
                continue
            self.waiting[row].append(waiting)
            because = message("plan.due-waits", because=Sentence(advice.because), waits=waiting.because)
            hive.withheld.append(Withheld(advice.action, advice.rule, "prohibition", because, waits=True))
            answers = [self.ranking.holds_open[g] for g in waiting.guards if g in self.ranking.holds_open]
            help_ = next((one for one in kept if one.action == self.ranking.helps_by), None)
            if help_ is not None and any(help_.action in actions for actions in answers):
                self._for_others(help_, advice.last_day)
            if answers and not any({a.action for a in kept} & actions for actions in answers):
                wanting.append((advice, [p for p, _ in self.safety.verdict(advice.action, row).stops]))
        return wanting

    def _dress(self, advice: Advice, verdict) -> None:
        bounds = dict(advice.only_on or {})
        tighten(bounds, verdict.only_on)
        advice.only_on = ordered(bounds)
        advice.checks = list(dict.fromkeys([*advice.checks, *(Sentence(c) for c in verdict.checks)]))
        if verdict.spared:
            advice.rain_too = True
            advice.safety = listed([plain(verdict.spared), advice.safety], "space")

    def _no_option(self, row, hive, advice, kept, advised) -> None:
        said = [message("labelled", label=Word(o["active"]), words=o["because"]) for o in advice.options]
        because = message("plan.no-option", options=listed(said, "space"))
        hive.withheld.append(Withheld(advice.action, advice.rule, "prohibition", because))
        planning = next((a.id for a in self.actions.values() if a.plans == advice.action), None)
        if planning is not None and not any(a.action == planning for a in advised):
            plan = self._substitute(
                advice,
                planning,
                advice.rule,
                message("plan.plan-treatment", because=advice.because),
            )
            plan.options = advice.options
            if not self.aside(row, hive, plan):
                kept.append(plan)

    def _substitute(self, advice: Advice, action: str, rule: str, because: Phrase) -> Advice:
        stand_in = replace(
            advice,
            action=action,
            rule=rule,
            because=because,
            safety=plain(self.actions[action].safety),
            amount=None,
            also=[],
            options=[],
            facts=[],
            unlocks=[],
            checks=[],
            due_since=None,
            due_before=None,
            partner=None,
            partner_row=None,
            only_on=None,
            origin="instead",
            order=1,
        )
        return stand_in

    def _instead(self, row: int, hive: HivePlan, advice: Advice, prohibitions, kept: list[Advice]) -> None:
        """Make sure that a withheld job leaves something to do."""
        if advice.gain_pts < self.ranking.weights.instead_floor_pts and advice.band:
            return
        for prohibition in prohibitions:
            there = [one for one in kept if one.action in prohibition.instead]
            for one in there:
                if one.action == self.ranking.helps_by:
                    self._for_others(one, advice.last_day)
            if there:
                return
        for prohibition in prohibitions:
            for action in prohibition.instead:
                if action in self.ranking.feeds and advice.action not in self.ranking.feeds:
                    continue
                if self.alive[row] is False and not self.actions[action].dead_ok:
                    continue
                verdict = self.safety.verdict(action, row)
                if action == advice.action or not verdict.open:
                    continue
                if any(
                    self.clash(action, a.action) for a in kept
                ):  # what stands in never stands against a job of its own
                    continue
                label = plain(self.actions[advice.action].label)
                text = self.filler.fill(prohibition.because, self._where(prohibition, row, advice))[0]
                stand_in = self._substitute(
                    advice, action, prohibition.id, message("plan.instead", label=label, because=Sentence(text))
                )
                stand_in.sources = list(prohibition.source)
                self._dress(stand_in, verdict)
                if not self.aside(row, hive, stand_in):
                    kept.append(stand_in)
                return

    def _for_others(self, help_: Advice, day: dt.date | None) -> None:
        """Let help be there by the day of what it is wanted for besides."""
        help_.hurry(day, self.today)
        help_.worth(help_.gain_pts, self.ranking.urgency(self.today, help_.last_day), help_.certainty)

    @staticmethod
    def _where(prohibition, row, advice) -> dict:
        if not prohibition.roles:
            return {None: row}
        return {
            prohibition.roles[0]: row,
            prohibition.roles[1]: advice.partner_row if advice.partner_row is not None else row,
        }

    def _first(self, row: int, advice: Advice, prohibition, because: Phrase, kept: list[Advice]) -> None:
        """Put an act before an advice: one that is advised anyway moves up, else the last named is added."""
        there = next((a for name in prohibition.first for a in kept if a.action == name), None)
        if there is None:
            action = prohibition.first[-1]
            verdict = self.safety.verdict(action, row)
            if not verdict.open:
                advice.checks.append(Sentence(because))
                return
            reason = lifted_first(Sentence(because), advice, self.today)
            there = self._substitute(advice, action, prohibition.id, reason)
            there.sources, there.origin = list(prohibition.source), "first"
            self._dress(there, verdict)
            kept.append(there)
        if advice.due_by is not None:
            there.due_with(advice, self.today)
            there.worth(there.gain_pts, self.ranking.urgency(self.today, there.last_day), there.certainty)
        if (there.band, -there.points) > (advice.band, -advice.points):
            there.band = advice.band
            there.worth(advice.gain_pts, self.ranking.urgency(self.today, there.last_day), advice.certainty)
        there.order = min(there.order, advice.order - 1)

    def clash(self, one: str, other: str) -> bool:
        """Whether two actions must not stand in one list."""
        if other in self.actions[one].clashes or one in self.actions[other].clashes:
            return True
        apart = self.ranking.not_together
        return other in apart.get(one, ()) or one in apart.get(other, ())
