"""The plan of a week: from what the rules say to what a keeper should do, hive by hive."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from hiveweek.climate.weather import WeekWeather
from hiveweek.facts.courses import running_at
from hiveweek.plan import ranking as ranking_file
from hiveweek.plan import visits as visiting
from hiveweek.plan.advise import Adviser, tidy
from hiveweek.plan.deciding import Deciding
from hiveweek.plan.looks import Ask, Looks
from hiveweek.plan.model import Advice, HivePlan, Look, WeekPlan, Withheld
from hiveweek.plan.options import missing, options
from hiveweek.plan.put_away import Answers
from hiveweek.plan.quiet import Quiet
from hiveweek.plan.ranking import Ranking
from hiveweek.plan.safety import Safety, ordered, tighten
from hiveweek.plan.waiting import Waiting, Waits
from hiveweek.plan.words import Filler
from hiveweek.record.answered import Given
from hiveweek.rules.model import Prohibition
from hiveweek.texts.parts import Chance, Phrase, Sentence, Word, listed, message, named
from hiveweek.texts.reading import plain


@dataclass
class Setting:
    """What the plan needs besides the inference.

    Attributes
    ----------
    today : date
        The day of the answer.
    climate : str or None
        Profile id, as shown.
    calendar : object or None
        ``event_date(id, near) -> date or None``.
    weather : object or None
        The week's weather: ``basis``, ``best_day``, ``facts``, ``notes``, ``attribution``.
    name : str
        The apiary's name.
    unverified : set of (rule id, hive id)
        Where the second channel differs.
    channels : dict
        What each channel did.
    with_facts : bool
        Carry every fact of every hive.
    notes : tuple of Phrase
        What was left out of the input, and why; shown as it is.
    answered : sequence of mapping
        What the keeper answered to advice, by action, a mapping a hive; empty where nothing was.
    """

    today: dt.date
    climate: str | None = None
    calendar: object = None
    weather: WeekWeather | None = None
    name: str = ""
    unverified: frozenset = frozenset()
    channels: dict = field(default_factory=lambda: {"columnar": "answered", "rete": "not asked"})
    with_facts: bool = False
    notes: tuple = ()
    answered: Sequence[Mapping[str, Given]] = ()


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
    return _Planner(inference, setting, ranking or ranking_file.load(inference.table.vocabulary)).plan()


class _Planner:
    def __init__(self, inference, setting: Setting, ranking: Ranking):
        self.inference, self.setting, self.ranking = inference, setting, ranking
        self.table = inference.table
        self.vocabulary = self.table.vocabulary
        self.actions = self.vocabulary.actions
        self.today = setting.today
        self.filler = Filler(self.table, inference.ruleset.limits, setting.today)
        self.deciding = Deciding(inference)
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
        self.waits = Waits(inference, ranking, self.deciding, self.adviser, self.filler)
        self.answers = Answers(setting.answered, self.vocabulary, ranking.numbers.branch("plan"), setting.today)
        self.quiet = Quiet(inference, ranking, self.adviser, setting.calendar)
        self.waiting: dict[int, list[Waiting]] = {}
        self.alive = [self._yes(row, "colony.alive") for row in range(len(self.table))]

    def _yes(self, row: int, fact: str) -> bool | None:
        number = self._number(row, fact)
        return None if number is None else number > 0.5

    def _number(self, row: int, fact: str) -> float | None:
        if fact not in self.vocabulary.facts:
            return None
        number = self.table.column(fact).value[row]
        return None if math.isnan(number) else float(number)

    def _word(self, row: int, fact: str):
        return self.table.plain(row, fact) if fact in self.vocabulary.facts else None

    # --- the whole ----------------------------------------------------------------------------------------------
    def plan(self) -> WeekPlan:
        rows = range(len(self.table))
        hives = [HivePlan(self.table.hives[row], alive=self.alive[row]) for row in rows]
        asks: list[list[Ask]] = [[] for _ in rows]
        for row, hive in zip(rows, hives, strict=True):
            course = running_at(self.table, row, self.today)
            hive.courses = [] if course is None else [course]
            findings = self.inference.findings
            hive.suspect = any(findings[f].holds(row) for f in self.ranking.suspicions if f in findings)
        looks = Looks(
            self.inference,
            self.ranking,
            self.deciding,
            self.safety,
            self.adviser,
            self.alive,
            [h.suspect for h in hives],
            [self._looks_away(row, hive) for row, hive in zip(rows, hives, strict=True)],
        )
        rules = self.inference.ruleset.advising()
        for row, hive in zip(rows, hives, strict=True):
            hive.advice = self._allowed(row, hive, self._standing(row, hive, self._advised(row, rules)), asks[row])
            hive.advice = self._walk(hive.id, hive.advice, hive)
        for row, hive in zip(rows, hives, strict=True):
            looks.gather(row, hive.advice, asks[row])
        for row, hive in zip(rows, hives, strict=True):
            self._add_looks(row, hive, looks)
            named_here = {advice.action for advice in hive.advice}
            hive.put_away = [one for one in hive.put_away if one.action not in named_here]
            self.quiet.close(row, hive, self.waiting[row])
            for rank, advice in enumerate(hive.advice, 1):
                advice.rank = rank
            if not hive.advice:
                hive.nothing_due = self.quiet.nothing_due(row, hive)
            if self.setting.with_facts:
                self._list_facts(row, hive)
        return self._yard(hives)

    # --- one hive -----------------------------------------------------------------------------------------------
    def _advised(self, row: int, rules) -> list[Advice]:
        """The rules that fire, one advice an action: the highest stands, the others' reasons go under ``also``."""
        by_action: dict[str, list[Advice]] = {}
        for rule in rules:
            if not self.inference.rules[rule.id].holds(row):
                continue
            if self.alive[row] is False and not self.actions[rule.advise].dead_ok:
                continue
            by_action.setdefault(rule.advise, []).append(self.adviser.make(rule, row))
        kept = []
        for same in by_action.values():
            same.sort(key=lambda a: a.key(self.table.hives[row]))
            best = same[0]
            best.also = [{"rule": a.rule, "because": a.because} for a in same[1:]]
            best.due_by = min((a.by for a in same if a.by is not None), default=None)
            kept.append(best)
        return sorted(kept, key=lambda a: a.key(self.table.hives[row]))

    def _standing(self, row: int, hive: HivePlan, advised: list[Advice]) -> list[Advice]:
        """What the keeper has not put away."""
        return [advice for advice in advised if not self._aside(row, hive, advice)]

    def _looks_away(self, row: int, hive: HivePlan) -> set[str]:
        """The looks that are put away here; those that were answered as such are noted."""
        found = self.answers.looks(row, self.ranking.looks)
        hive.put_away += [one for one in found if not one.done]
        return {one.action for one in found}

    def _aside(self, row: int, hive: HivePlan, advice: Advice) -> bool:
        """Note an advice that is put away, once; whether it is."""
        found = self.answers.to(row, advice)
        if found is not None:
            hive.put_away = [*(one for one in hive.put_away if one.action != found.action), found]
        return found is not None

    def _allowed(self, row: int, hive: HivePlan, advised: list[Advice], asks: list[Ask]) -> list[Advice]:
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
        for advice, prohibitions in wanting:
            self._instead(row, hive, advice, prohibitions, kept)
        for advice, prohibition, because in firsts:
            self._first(row, advice, prohibition, because, kept)
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
            better = any(self._clash(advice.action, a.action) and a.points >= advice.points for a in kept)
            if advice.action in told or same_need or better:
                continue
            told.add(advice.action)
            if self._aside(row, hive, advice):
                continue
            self.waiting[row].append(waiting)
            because = message("plan.due-waits", because=Sentence(advice.because), waits=waiting.because)
            hive.withheld.append(Withheld(advice.action, advice.rule, "prohibition", because, waits=True))
            answers = [self.ranking.holds_open[g] for g in waiting.guards if g in self.ranking.holds_open]
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
            if not self._aside(row, hive, plan):
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
        have = {a.action for a in kept}
        for prohibition in prohibitions:
            if have & set(prohibition.instead):
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
                label = plain(self.actions[advice.action].label)
                text = self.filler.fill(prohibition.because, self._where(prohibition, row, advice))[0]
                stand_in = self._substitute(
                    advice, action, prohibition.id, message("plan.instead", label=label, because=Sentence(text))
                )
                stand_in.sources = list(prohibition.source)
                self._dress(stand_in, verdict)
                if not self._aside(row, hive, stand_in):
                    kept.append(stand_in)
                return

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
            there = self._substitute(advice, action, prohibition.id, Sentence(because))
            there.sources, there.origin = list(prohibition.source), "first"
            self._dress(there, verdict)
            kept.append(there)
        if advice.by is not None and (there.by is None or there.by > advice.by):
            there.by = advice.by  # what comes first is not due later than what it comes before
            there.worth(there.gain_pts, self.ranking.urgency(self.today, there.by), there.certainty)
        if (there.band, -there.points) > (advice.band, -advice.points):
            there.band = advice.band
            there.worth(advice.gain_pts, self.ranking.urgency(self.today, there.by), advice.certainty)
        there.order = min(there.order, advice.order - 1)

    def _clash(self, one: str, other: str) -> bool:
        return other in self.actions[one].clashes or one in self.actions[other].clashes

    def _walk(self, hive_id: str, advice: list[Advice], hive: HivePlan) -> list[Advice]:
        """Walk down in rank; what clashes with something kept is withheld."""
        kept: list[Advice] = []
        for one in advice:
            other = next((k for k in kept if self._clash(one.action, k.action)), None)
            if other is None:
                kept.append(one)
            else:
                label = plain(self.actions[other.action].label)
                because = message("plan.clash", label=label, because=one.because)
                hive.withheld.append(Withheld(one.action, one.rule, "clash", because))
        return kept

    def _add_looks(self, row: int, hive: HivePlan, looks: Looks) -> None:
        """The best look joins the list; the others stand under ``look_first``."""
        found = looks.of_hive(row, hive.advice)
        floor = self.ranking.weights.look_floor_pts
        best = next(
            (k for k in found if k.points >= floor and not any(self._clash(k.action, a.action) for a in hive.advice)),
            None,
        )
        hive.look_first = [k for k in found if k is not best]
        if best is not None:
            hive.advice = sorted([*hive.advice, self._look_advice(best)], key=lambda a: a.key(hive.id))

    def _look_advice(self, look: Look) -> Advice:
        advice = Advice(
            look.action,
            look.unlocks[0]["rule"],
            points=look.points,
            gain_pts=look.gain_pts,
            urgency=look.urgency,
            certainty=look.certainty,
            by=look.by,
            due_by=look.by,
            because=self._look_because(look),
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

    def _look_because(self, look) -> Phrase:
        labels = [plain(self.vocabulary.facts[f].label or f) for f in look.facts]
        more = [message("more-of-them", n=len(labels) - 3)] if len(labels) > 3 else []
        could = list(dict.fromkeys(plain(self.actions[u["action"]].label) for u in look.unlocks))[:2]
        return message(
            "plan.look", facts=listed(labels[:3] + more), actions=listed(could, "or"), chance=Chance(look.certainty)
        )

    def _list_facts(self, row: int, hive: HivePlan) -> None:
        for fact_id in sorted(self.vocabulary.facts):
            fact = self.vocabulary.facts[fact_id]
            column = self.table.column(fact_id)
            known = tidy(fact, column.value[row])
            if known is None:
                hive.unknown.append(fact_id)
                continue
            number = fact.kind in ("number", "integer", "date")
            hive.facts[fact_id] = {
                "value": known,
                "low": tidy(fact, column.low[row]) if number else None,
                "high": tidy(fact, column.high[row]) if number else None,
                "unit": fact.unit,
                "origin": column.origin[row] if column.origin else None,
            }

    # --- the yard -----------------------------------------------------------------------------------------------
    def _yard(self, hives: list[HivePlan]) -> WeekPlan:
        weather = self.setting.weather
        best_day = getattr(weather, "best_day", None)
        phase = self._word(0, "season.phase") if hives else None
        plan = WeekPlan(
            self.today,
            self.setting.climate,
            phase,
            weather=self._weather(),
            name=self.setting.name,
            rulesets=list(self.inference.ruleset.versions),
            channels=dict(self.setting.channels),
            hives=hives,
            best_day=best_day,
            screen=self.ranking.numbers.branch("plan.screen"),
        )
        yard: dict[str, list] = {}
        single = []
        for hive in hives:
            for advice in hive.advice:
                if self.actions[advice.action].scope == "apiary":
                    yard.setdefault(advice.action, []).append((hive.id, advice))
                elif not self.actions[advice.action].leaves_closed:
                    single.append((advice.key(hive.id), hive.id, advice))
        for action in sorted(yard):
            suspect = {hive.id for hive in hives if hive.suspect}
            same = sorted(yard[action], key=lambda pair: (pair[0] not in suspect, pair[1].key(pair[0])))
            best = same[0][1]
            # A danger to all hives counts for each of them; law and people have no sum.
            points = round(sum(a.points for _, a in same), 2) if best.band else best.points
            total = replace(best, points=points, because=named(best.because, same[0][0]))
            plan.yard.append((total, [hive_id for hive_id, _ in yard[action]]))
        plan.yard.sort(key=lambda pair: pair[0].key(pair[1][0]))
        whole = single + [(advice.key(ids[0]), ids[0], advice) for advice, ids in plan.yard]
        most = int(self.ranking.weights.first_shown)
        plan.first = [
            {"hive": hive_id, "action": a.action, "points": a.points}
            for _, hive_id, a in sorted(whole, key=lambda item: item[0])[:most]
        ]
        left = {
            item
            for fact, items in self.vocabulary.left_at_home.items()
            for item in items
            if any(self._yes(row, fact) for row in range(len(hives)))
        }
        plan.visits = visiting.visits(
            hives, self.vocabulary, self.today, best_day, hungry=self.safety.spared, left_at_home=left
        )
        plan.notes = list(self.setting.notes)
        plan.kit = sorted({item for visit in plan.visits for item in visit["kit"]})
        return plan

    def _weather(self) -> dict:
        weather = self.setting.weather
        result: dict = {"basis": getattr(weather, "basis", None), "best_day": getattr(weather, "best_day", None)}
        for name in (
            "high_c",
            "low_c",
            "mean_c",
            "open_high_c",
            "open_wind_kmh",
            "open_dry",
            "dry_days",
            "rain_all_week",
            "flight_days",
        ):
            fact = self.vocabulary.facts.get("weather." + name)
            if fact is None or not len(self.table):
                continue
            column = self.table.column(fact.id)
            value, low, high = tidy(fact, column.value[0]), tidy(fact, column.low[0]), tidy(fact, column.high[0])
            result[name] = value if value is None or low == high else {"value": value, "low": low, "high": high}
        high = self.table.column("weather.high_c")
        if len(self.table) and high.origin and high.origin[0] == "set":
            result["given"] = True
        result["last_good_day"] = self._last_good_day()
        result["notes"] = list(weather.notes) if weather is not None else []
        if weather is not None and weather.attribution:
            result["attribution"] = weather.attribution
        return result

    def _last_good_day(self) -> dt.date | None:
        """The last day of the week that is known to be dry and warm enough for opening; None where none is known."""
        floor, wet_mm = self.ranking.weights.leave_closed_below_c, self.ranking.numbers.weather.days.wet_day_mm
        good = [
            d.date
            for d in getattr(self.setting.weather, "days", ()) or ()
            if not math.isnan(d.tmax) and d.tmax >= floor and not math.isnan(d.precip) and d.precip < wet_mm
        ]
        return max(good, default=None)
