"""Walks through days without a new note, and what must hold along them: laws D (days hold), E (trouble stands) and J (doing ends it)."""

from __future__ import annotations

import copy
import dataclasses
import datetime as dt
import itertools
from collections.abc import Callable, Iterator, Sequence

from hiveweek.authoring import normal
from hiveweek.facts.build import history_of
from hiveweek.facts.past import Past
from hiveweek.facts.scenario import ScenarioHive
from hiveweek.language.terms import refs
from hiveweek.language.truth import Truth
from hiveweek.plan.answer import profile_of
from hiveweek.plan.deciding import Deciding
from hiveweek.record import Entry, Kind
from hiveweek.record.entries import Plain
from hiveweek.record.history import History
from hiveweek.rules.forbidden import aims_at, withholds
from hiveweek.rules.model import Trouble
from hiveweek.rules.resting import spoken_of
from hiveweek.vocabulary.model import Action
from upkeep.laws.bench import Answered, Bench, Break, Told
from upkeep.laws.hives import Yard

DAYS = (0, 1, 2, 3, 7, 8, 14, 21, 28, 29, 42, 60)
WEATHER = "weather."


def walk(bench: Bench, yard: Yard, days: Sequence[int] = DAYS) -> list[Answered]:
    """Return the answers of a yard so many days after its own, with nothing noted in between.

    The weather of the week that the yard gives is left out: it is that of one week. All days share what is worked out of the past.
    The last walk is kept: two laws ask for the same.
    """
    if bench.walked is not None and bench.walked[0] is yard and bench.walked[1] == tuple(days):
        return bench.walked[2]
    answers = _walked(bench, _without_weather(yard), days)
    bench.walked = (yard, tuple(days), answers)
    return answers


def _walked(bench: Bench, yard: Yard, days: Sequence[int]) -> list[Answered]:
    scenario = yard.scenario
    ruleset = bench.ruleset(yard)
    profile = profile_of(scenario).with_numbers(ruleset.numbers)
    last = scenario.date + dt.timedelta(days=max(days))
    past = Past(scenario, profile, bench.words, history_of(scenario, last, bench.words, ruleset.numbers), ruleset.law)
    return [bench.answer(yard, scenario.date + dt.timedelta(days=day), past) for day in days]


def _without_weather(yard: Yard) -> Yard:
    site = yard.scenario.apiary.site
    if not any(name.startswith(WEATHER) for name in site):
        return yard
    scenario = copy.copy(yard.scenario)
    kept = {name: value for name, value in site.items() if not name.startswith(WEATHER)}
    scenario.apiary = dataclasses.replace(scenario.apiary, site=kept)
    return Yard(scenario, yard.aims)


# --- D ----------------------------------------------------------------------------------------------------------------
def days_hold(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield where a deadline lies before the day of the answer, moves later with nothing noted, or comes after the harm."""
    answers = walk(bench, yard)
    for row in range(len(yard.scenario.hives)):
        for here in answers:
            for action, advice in here.told[row].advice.items():
                for kind, text in _of_day(here, here.told[row], advice):
                    yield Break("D", f"{kind} {action}", f"{here.date}: {text}", yard, row)
        for before, after in itertools.pairwise(answers):
            for action, advice in before.told[row].advice.items():
                again = after.told[row].advice.get(action)
                if again is not None:
                    # A wait of which a reason is over ends with the others: what else is waited for has its own day. So has a
                    # look of which a reason is known to be over; not one of which a note has only grown old.
                    over = _rules(advice) - _rules(again)
                    ended = bool(over) and action == bench.ranking.waits_by
                    ended |= action in bench.ranking.looks and any(_is_over(after, rule, row) for rule in over)
                    for kind, text in _of_pair(before.date, after.date, advice, again, ended):
                        yield Break("D", f"{kind} {action}", f"{before.date} to {after.date}: {text}", yard, row)


def _is_over(after: Answered, rule: str, row: int) -> bool:
    """Whether what is known ends a rule."""
    outcome = after.inference.rules.get(rule)
    return outcome is not None and not after.ruleset.rules[rule].roles and outcome.at(row)[0] is Truth.FALSE


def _rules(advice: dict) -> set[str]:
    return {advice["rule"], *(one["rule"] for one in advice["also"])}


def _of_day(here: Answered, told: Told, advice: dict) -> Iterator[tuple[str, str]]:
    today = here.date.isoformat()
    if advice["by"] is not None and advice["by"] < today:
        yield "by is past", f"by {advice['by']}"
    if advice["due_since"] is not None and advice["due_since"] > today:
        yield "due since a day to come", f"due since {advice['due_since']}"
    if advice["due_by"] is None or advice["due_since"] is None:
        return
    for harm in harms(here, told, advice):
        if advice["due_by"] > harm.isoformat():
            yield "after the harm", f"due by {advice['due_by']}, the harm is on {harm}"


def harms(here: Answered, told: Told, advice: dict) -> Iterator[dt.date]:
    """Yield the days after which an act no longer prevents what it is for; a day before it came up stands for that day."""
    since = dt.date.fromisoformat(advice["due_since"])
    action = advice["action"]
    empty = told.fact("food.empty_on")
    if action.startswith("feed-") and action != "feed-pollen-substitute" and empty is not None:
        yield max(since, dt.date.fromisoformat(empty) - dt.timedelta(days=7)) + dt.timedelta(days=DRIFT)
    out = told.fact("course.out_by")
    if action == "remove-treatment" and out is not None:
        yield max(since, dt.date.fromisoformat(out))
    event = PREVENTS_BEFORE.get(action)
    if event is not None:
        profile = profile_of(here.yard.scenario).with_numbers(here.ruleset.numbers)
        day = profile.calendar.event_date(event, since)
        if day is not None and day >= since:
            yield day


PREVENTS_BEFORE = {"treat-mites": "winter_bee_rearing", "feed-thick-syrup": "stop_syrup_by"}
DRIFT = 4  # days by which the end of food moves as a colony's use is worked out anew each day


def _of_pair(before: dt.date, after: dt.date, advice: dict, again: dict, wait_ended: bool) -> Iterator[tuple[str, str]]:
    since, then = advice["due_since"], again["due_since"]
    if (since is None and advice["due_before"] is None) or (then is None and again["due_before"] is None):
        return  # a look, which has no day of its own
    if then is not None and then > before.isoformat():
        if (after - before).days == 1:
            yield "since moves", f"due since {since}, then since {then}"
        return
    if then is not None and then != since:
        yield "since moves", f"due since {since}, then since {then}"
    lost = again["due_by"] is None and then is not None  # farther back than is asked, its day may be too
    if advice["due_by"] is None or wait_ended:
        return
    if lost or (again["due_by"] is not None and again["due_by"] > advice["due_by"]):
        yield "due_by moves", f"due by {advice['due_by']} ({advice['rule']}), then {again['due_by']} ({again['rule']})"


# --- E ----------------------------------------------------------------------------------------------------------------
def trouble_stands(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield where a trouble, or an act, vanishes because a note grew old."""
    answers = walk(bench, yard)
    for row in range(len(yard.scenario.hives)):
        for before, after in itertools.pairwise(answers):
            for kind, text in (*_troubles(bench, before, after, row), *_acts(bench, before, after, row)):
                yield Break("E", kind, f"{before.date} to {after.date}: {text}", yard, row)


def _troubles(bench: Bench, before: Answered, after: Answered, row: int) -> Iterator[tuple[str, str]]:
    here, then = before.told[row], after.told[row]
    named, helped = _named(then), _helped(bench, then)
    standing = {trouble.id for trouble in then.troubles}
    for trouble in here.troubles:
        good = {*trouble.acts, *trouble.looks}
        if not good & _named(here) or good & named or f"plan.trouble-{trouble.id}" in helped:
            continue
        if trouble.id not in standing and after.inference.holds(trouble.when, row)[0] is Truth.FALSE:
            continue  # something known has ended it
        faded = _to_look_for(bench, _faded(bench, _facts_of(trouble), here, then))
        if trouble.id not in standing and (
            _is_looked_for(bench, faded, named) or (faded and _waits_for_help(bench, after, row, faded, named))
        ):
            continue
        if trouble.id in standing:
            yield (
                f"silent {trouble.id}",
                f"{trouble.label} stands, and the list is {', '.join(then.actions) or 'nothing due'}",
            )
        elif faded:
            yield f"faded {trouble.id}", f"{', '.join(sorted(faded))} grew old; the list is {', '.join(then.actions)}"


def _helped(bench: Bench, told: Told) -> set[str]:
    """The troubles for which a keeper who may not open this hive alone is told to find help, as rules."""
    help_ = [advice for advice in told.hive["advice"] if advice["action"] == bench.ranking.helps_by]
    return {rule for advice in help_ for rule in (advice["rule"], *(one["rule"] for one in advice["also"]))}


def _acts(bench: Bench, before: Answered, after: Answered, row: int) -> Iterator[tuple[str, str]]:
    facts, here, then = bench.words.facts, before.told[row], after.told[row]
    named = _named(then)
    deciding = Deciding(after.inference, _history(bench, after), int(bench.ranking.weights.grown_old_days))
    rules = after.ruleset.rules
    for action, rule_id, seen in (*_due(here), *_held_back(before, row)):
        if action in named:
            continue
        if any(_apart(bench, action, other) for other in then.actions):
            continue  # what is advised by now makes it needless or forbids it: no list holds both
        if action in _decided_by_looks(after, row):
            continue
        faded = _to_look_for(bench, _faded(bench, seen & facts.keys(), here, then))
        rule = rules.get(rule_id)
        told_then = rule is not None and faded <= deciding.grown_old(row).keys()
        if rule is not None and told_then and not deciding.fired_then(rule, row):
            continue  # it would have ended had nothing grown old
        # What is counted over the yard is seen at the hive it comes from: the look for it stands in that hive's list.
        of_yard = {name for name in faded if facts[name].scope == "counted"}
        if of_yard and any(_is_looked_for(bench, of_yard, _named(told)) for told in after.told):
            faded -= of_yard
        if faded and not _is_looked_for(bench, faded, named) and not _waits_for_help(bench, after, row, faded, named):
            yield (
                f"gone {action}",
                f"{', '.join(sorted(faded))} grew old and nothing asks for it; the list is {', '.join(then.actions)}",
            )


def _due(told: Told) -> Iterator[tuple[str, str, set[str]]]:
    """The acts that are due, each with its rule and what it rests on."""
    for action, advice in told.advice.items():
        if advice["due_since"] is not None or advice["due_before"] is not None:
            yield action, advice["rule"], {item["fact"] for item in advice["evidence"]}


def _held_back(answered: Answered, row: int) -> Iterator[tuple[str, str, set[str]]]:
    """The acts that rules ask for and that are withheld, each with its rule and what it rests on."""
    for action, item in answered.told[row].withheld.items():
        rule = answered.ruleset.rules.get(item["rule"])
        if rule is not None and answered.inference.rules[rule.id].holds(row):
            yield action, rule.id, set(spoken_of(answered.ruleset, rule))


def _apart(bench: Bench, one: str, other: str) -> bool:
    """Whether no list holds both acts."""
    actions, apart, needless = bench.words.actions, bench.ranking.not_together, bench.ranking.needless_beside
    pairs = ((one, other), (other, one))
    return any(b in (*actions[a].clashes, *apart.get(a, ()), *needless.get(a, ())) for a, b in pairs)


def _decided_by_looks(answered: Answered, row: int) -> set[str]:
    """The acts of which a look that is named says that it would decide them, in whichever way it tells what is missing."""
    hive = answered.plan.hives[row]
    told = [one.unlocks for one in hive.advice] + [one.unlocks for one in hive.look_first]
    return {unlock["action"] for unlocks in told for unlock in unlocks}


def _history(bench: Bench, answered: Answered) -> History:
    return history_of(answered.yard.scenario, answered.date, bench.words, answered.ruleset.numbers)


def _named(told: Told) -> set[str]:
    """Everything that an answer names: jobs, looks, what is withheld and what was put away."""
    lists = ("advice", "look_first", "withheld", "put_away")
    return {item["action"] for name in lists for item in told.hive[name]}


def _facts_of(trouble: Trouble) -> set[str]:
    return {ref.name for ref in refs(trouble.when) if not ref.is_finding}


def _faded(bench: Bench, names: set[str], here: Told, then: Told) -> set[str]:
    """Those no longer known; not what has turned into another by the clock, such as a cell into a virgin."""
    gone = {name for name in names if here.fact(name) is not None and then.fact(name) is None}
    return {name for name in gone if not _has_turned(bench, name, here, then)}


def _has_turned(bench: Bench, name: str, here: Told, then: Told) -> bool:
    turns = [turn for turn in bench.words.facts[name].becomes if turn.value == here.fact(name)]
    return any(then.fact(other) == value for turn in turns for other, value in turn.then.items())


def _is_looked_for(bench: Bench, faded: set[str], named: set[str]) -> bool:
    """Whether something that is named tells a fact that grew old, or what it is worked out from."""
    return bool(_told_by(bench, faded) & {name for action in named for name in bench.words.actions[action].observes})


def _told_by(bench: Bench, names: set[str]) -> set[str]:
    """Facts with those they are worked out from."""
    return names | {name for fact in names for way in bench.words.facts[fact].observed_by for name in way}


def _waits_for_help(bench: Bench, after: Answered, row: int, faded: set[str], named: set[str]) -> bool:
    """Whether no look that tells what grew old may be made here, and the keeper is told to find help."""
    ranking, wanted = bench.ranking, _told_by(bench, faded)
    looks = [bench.words.actions[look] for look in ranking.looks if wanted & set(bench.words.actions[look].observes)]
    return ranking.helps_by in named and all(_is_barred(after, look, row) for look in looks)


def _is_barred(after: Answered, action: Action, row: int) -> bool:
    aimed = [p for p in after.ruleset.prohibitions.values() if not p.roles and withholds(p) and aims_at(p, action)]
    return any(after.inference.prohibits(one.id, row)[0] is Truth.TRUE for one in aimed)


def _to_look_for(bench: Bench, names: set[str]) -> set[str]:
    """Those that some look tells."""
    told = {name for action in bench.ranking.looks for name in bench.words.actions[action].observes}
    return {name for name in names if _told_by(bench, {name}) & told}


# --- J ----------------------------------------------------------------------------------------------------------------
def doing_ends_it(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Do one job of each hive on the first day; yield where it is asked again though nothing of its trouble is new.

    Which one goes by the place of the hive: of one alone the first, of the next ones the second, the third and so on.
    """
    (first,) = walk(bench, yard, (0,))
    hives, jobs = [], []
    for row, hive in enumerate(yard.scenario.hives):
        doable = [advice for advice in first.told[row].hive["advice"] if _can_be_done(bench, advice)]
        chosen = (only[row] if only else None) or (doable[row % len(doable)] if doable else None)
        jobs.append(chosen)
        hives.append(hive if chosen is None else _done(bench, yard, hive, chosen))
    done = yard.with_hives(hives)
    for after in walk(bench, done, (1, 3, 8, 15, 30)):
        for row, job in enumerate(jobs):
            again = None if job is None else after.told[row].advice.get(job["action"])
            if job is None or again is None or job["rule"] not in _rules(again):
                continue
            days = (after.date - first.date).days
            quiet = bench.words.effects[job["action"]].quiet_for
            if days < quiet:
                kind = "asked in its quiet days"
            elif _same(bench, job, again):
                kind = "asked for the same reason"
            else:
                continue
            yield Break("J", f"{kind} {job['action']}", f"day {days} ({again['rule']})", yard, row, variant=job)


def _can_be_done(bench: Bench, advice: dict) -> bool:
    """Whether it is a job of one hive that ends."""
    return advice["due_since"] is not None and advice["with"] is None and advice["action"] not in _lasting(bench)


def _lasting(bench: Bench) -> set[str]:
    """What is asked as long as its reason stands: to wait, to leave as it is, to find help for a job."""
    lasting = {action.id for action in bench.words.actions.values() if action.lasts}
    return {bench.ranking.waits_by, bench.ranking.helps_by} | lasting


def _done(bench: Bench, yard: Yard, hive: ScenarioHive, advice: dict) -> ScenarioHive:
    made, day = copy.copy(hive), yard.scenario.date
    effect = bench.words.effects[advice["action"]]
    # A count is noted with what was counted; else it is the look that is asked again, not the job.
    counted = (
        set(effect.told.values()) if set(effect.told) & set(bench.words.actions[advice["action"]].observes) else set()
    )
    details = {name: _detail(bench, name) for name in (*effect.asks, *sorted(counted - set(effect.asks)))}
    if "partner" in details:
        return hive
    entry = Entry("", Kind.DONE, "", None, day, action=advice["action"], details=details)
    made.entries = [*hive.entries, *_found_well(bench, yard, advice["action"]), entry]
    return made


def _found_well(bench: Bench, yard: Yard, action: str) -> list[Entry]:
    """What a look tells: that all is as it should be with what can be seen; nothing of a job that is no look."""
    if action not in bench.ranking.looks:
        return []
    day, words = yard.scenario.date, bench.words
    healthy = normal.Colony(bench.normal, words, profile_of(yard.scenario), day)
    if words.actions[action].opens == "frames":
        healthy.below_the_lid = set()  # whoever lifts frames sees what stands on them, in any week
    limits = bench.ruleset(yard).limits
    room_c = (
        limits["limit.indoor.room_cold_c"].value + limits["limit.indoor.room_warm_c"].value
    ) / 2  # in order by the rules
    # The usual colony stands outside, and is neither light nor heavy where its kilograms are not felt for.
    usual = {"food.heft": "middling", **healthy.now, **healthy.seen(), "room.temp_c": room_c}
    told = {
        name: usual[name]
        for name in words.actions[action].observes
        if usual.get(name) is not None and words.facts[name].comes_from == "observed"
    }
    return [Entry("", Kind.SEEN, "", None, day, facts=told)]


SAMPLE_BEES = 300  # of a wash; two mites among them, or two a day on the tray, are few


def _detail(bench: Bench, name: str) -> Plain:
    detail = bench.words.details[name]
    if detail.kind in ("number", "integer"):
        return SAMPLE_BEES if detail.of == "mites.sample_bees" else 2
    words = (*detail.values, *(bench.words.facts[detail.of].values if detail.of else ()))
    return next((word for word in words if word not in ("none", "unknown")), "so")


def _same(bench: Bench, job: dict, again: dict) -> bool:
    """Whether an act rests on the same values as before, but for those that only count days."""
    then = {item["fact"]: item["value"] for item in job["evidence"]}
    now = {item["fact"]: item["value"] for item in again["evidence"]}
    facts = bench.words.facts
    seen = [name for name in now if name in facts and facts[name].comes_from in ("observed", "equipment")]
    return bool(seen) and all(
        now[name] == then.get(name) for name in now if name in facts and facts[name].scope != "calendar"
    )


@dataclasses.dataclass(frozen=True)
class Walked:
    """A law that is held along days."""

    LAW: str
    breaks: Callable[..., Iterator[Break]]


LAWS = (Walked("D", days_hold), Walked("E", trouble_stands), Walked("J", doing_ends_it))
