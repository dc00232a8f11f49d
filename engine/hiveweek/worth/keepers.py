"""Keepers: one who does nothing, one who follows a printed calendar, and those who follow the week's advice."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence

import numpy as np

from hiveweek import content
from hiveweek.colony.strength import BOXES
from hiveweek.numbers import Branch
from hiveweek.problems import InputProblems
from hiveweek.shapes import shape
from hiveweek.vocabulary import normal
from hiveweek.vocabulary.model import Action
from hiveweek.worth.advice import Adviser, Job
from hiveweek.worth.jobs import Jobs
from hiveweek.worth.looks import Seeing
from hiveweek.worth.notes import Notes
from hiveweek.worth.place import WEEK
from hiveweek.worth.world import QUEENLESS

BUT = "all but "
NEVER = -1000.0
NOTHING, CALENDAR, FEW, ALL, KNOWN = "nothing", "calendar", "few", "all", "known"


def calendars() -> dict:
    """Read the calendars of regions, and how often the advised look.

    Raises
    ------
    InputProblems
        With everything wrong with the file.
    """
    path = content.root() / "rulesets" / "vocabulary" / "calendars.yaml"
    document = shape("calendars").read(path)
    if document.problems:
        raise InputProblems(document.problems)
    return document.data


class CalendarKeeper:
    """Does on the days of a printed calendar what it says.

    Parameters
    ----------
    data : mapping
        As `calendars` reads it.
    climate : str
    jobs : Jobs
        Acts on the colonies of its world.
    lines : sequence of int
        The lines of the world that are kept so.
    """

    def __init__(self, data: Mapping, climate: str, jobs: Jobs, lines: Sequence[int]):
        self.data, self.world, self.jobs = data, jobs.world, jobs
        self.tasks = data["calendars"][data["climates"][climate]["calendar"]]["tasks"]
        self.here = np.isin(np.arange(jobs.world.rows) // jobs.world.seeds, lines)

    def week(self, day: dt.date) -> None:
        """Do what falls into the week from a day on."""
        days = [(day + dt.timedelta(days=k)).strftime("%m-%d") for k in range(WEEK)]
        for task in self.tasks:
            if any(self._falls(task, one) for one in days):
                self._do(task)

    @staticmethod
    def _falls(task: Mapping, day: str) -> bool:
        if "on" in task:
            return task["on"] == day
        first, last, now = (
            dt.date.fromisoformat(f"2027-{text}") for text in (task["from"], task["to"], day.replace("02-29", "02-28"))
        )
        return first <= now <= last and (now - first).days % task["every"] == 0

    def _do(self, task: Mapping) -> None:
        world, jobs, do = self.world, self.jobs, task["do"]
        where = self.here & world.alive
        jobs.spend(where, self.data["minutes"][do], self.data["opens"][do])
        if do == "feed":
            short = where & (world.stores < task["under_kg"])
            jobs.feed(short, (task["to_kg"] - world.stores) / world.p.food.sugar_kg)
        elif do == "treat":
            jobs.treat(where, task["with"], False)
        elif do == "oxalic":
            jobs.treat(where, "oxalic", True)
        elif do == "super":
            jobs.super_on(where)
        elif do == "harvest":
            jobs.supers_off(where)
        elif do == "take":
            jobs.take_honey(where)
        elif do == "swarm_look":
            draw = np.random.default_rng([world.seed, 400, world.day]).random(world.seeds)
            found = ~np.isnan(world.cells_since) & (world.tiled(draw) >= world.p.looks.cells_missed)
            jobs.split(where & found)
        elif do == "queen_look":
            jobs.give_queen(where & (world.lays_from > world.day + WEEK))
        elif do == "unite":
            jobs.join(where & (world.lays_from >= QUEENLESS))
        elif do in ("narrow", "widen"):
            world.hives.narrow = np.where(where, do == "narrow", world.hives.narrow)
        elif do == "guard":
            world.hives.guard |= where


class AdvisedKeepers:
    """Several who follow the advice, each with looks of their own, asked together.

    Parameters
    ----------
    data : mapping
        As `calendars` reads it.
    adviser : Adviser
    jobs : Jobs
        Acts on the colonies of its world.
    first : int
        The first of their lines in the world; the others follow it.
    keepers : sequence of str
        ``few``, ``all``, ``known``, or ``all but KIND``.
    """

    def __init__(
        self,
        data: Mapping,
        adviser: Adviser,
        jobs: Jobs,
        first: int,
        keepers: Sequence[str],
    ):
        world = jobs.world
        self.adviser, self.world, self.jobs, self.words = adviser, world, jobs, adviser.words
        self.rows = slice(first * world.seeds, (first + len(keepers)) * world.seeds)
        self.notes = Notes(self.words, len(keepers) * world.seeds)
        line = np.repeat(np.arange(len(keepers)), world.seeds)
        self.exact = line == (keepers.index(KNOWN) if KNOWN in keepers else -1)
        self.every = [self._every(data, name) for name in keepers]
        self.line, self.started, self.supers_back = line, False, False
        self.heft = next(a for a, action in self.words.actions.items() if [*action.observes] == ["food.heft"])
        self.usual = normal.load(self.words).parts
        self.model: Branch = adviser.rules.numbers.model
        self.seeing = Seeing(world, self.words, self.model, self.rows, self.exact)
        self.last: dict[str, np.ndarray] = defaultdict(lambda: np.full(len(line), NEVER))
        self.set_by_jobs = {name for effect in self.words.effects.values() for name in effect.set}
        self.nucleus, self.back = data["nucleus"], data["supers_back"]
        asked = [data["asked"].get(name, np.inf) for name in keepers]
        self.asked_every = np.array(asked, dtype=float)[line]
        self.asked_sooner = {
            look: np.array([weeks.get(name, np.inf) for name in keepers])[line]
            for look, weeks in data["asked_sooner"].items()
        }
        self.found: dict[str, np.ndarray] = {}
        self.plain: dict[str, float] = {}
        self.fed_now = np.zeros(len(line), dtype=bool)

    @staticmethod
    def _every(data: Mapping, keeper: str) -> dict[str, int]:
        if keeper == KNOWN:
            return {}
        if keeper in data["looks"]:
            return dict(data["looks"][keeper])
        left_out = data["kinds"][keeper.removeprefix(BUT)]
        return {look: weeks for look, weeks in data["looks"][ALL].items() if look not in left_out}

    def flow_ahead(self, day: dt.date) -> bool:
        """Tell whether the season's flow goes on for some weeks, or begins within some: then emptied supers go back."""
        season = self.adviser.profile.calendar.facts
        now = season(day)
        if now["season.flow"]:
            return bool(season(day + dt.timedelta(weeks=self.back["still_weeks"]))["season.flow"])
        return bool(now["season.weeks_to_flow"] <= self.back["ahead_weeks"])

    def week(self, day: dt.date) -> None:
        """Look, ask, and do what is advised."""
        self.notes.on(day)
        self.supers_back = self.flow_ahead(day)
        fed = self.notes.latest("food.feed_on")
        empty = self.words.facts["food.feed_on"].encode("none")
        self.notes.say("food.feed_on", empty, fed[1] < self.notes.until)  # who brings more sees that it is eaten
        if not self.started:
            self.started = True
            for name, value in {**self.usual["equipment"], **self.usual["yard"]}.items():
                if self.words.facts[name].comes_from in ("equipment", "site"):
                    self.notes.say(name, self.words.facts[name].encode(value))
        weather = self.world.years.week_weather(self.world.day // WEEK)
        weather = {name: self.world.tiled(value)[self.rows] for name, value in weather.items()}
        self._look(weather["weather.open_high_c"])
        alive = self.world.alive[self.rows]
        jobs = self.adviser.jobs(self.notes, day, weather)
        if self._look_where_asked(jobs, weather["weather.open_high_c"]):
            jobs = self.adviser.jobs(self.notes, day, weather)  # the sheet is read again with what the looks have found
        self.fed_now = np.zeros(len(self.line), dtype=bool)
        for action, job in jobs.items():
            if action not in self.adviser.ranking.looks:
                self._do(action, job, job.where & alive)
        self._divide_the_fed(day, weather)

    def _divide_the_fed(self, day: dt.date, weather: Mapping[str, np.ndarray]) -> None:
        """Divide hives with cells some days after their feed, within the week: a swarm does not wait for the next visit."""
        cells = self.words.facts["colony.queen_cells"]
        fed = self.fed_now & (self.notes.latest("colony.queen_cells")[0] == cells.encode("charged"))
        if fed.any():
            for action, job in self.adviser.jobs(self.notes, day, dict(weather)).items():
                if self.words.effects[action].act == "splitting" or action == self.nucleus:
                    self._do(action, job, job.where & self.world.alive[self.rows] & fed)

    # --- looks
    def _look_where_asked(self, jobs: Mapping[str, Job], high: np.ndarray) -> bool:
        """Make the looks that the rules ask for, where the last of the kind is old enough for the keeper; tell whether any was made."""
        warm = high >= self.world.p.looks.open_c[self.rows]
        looked = False
        for look in sorted(self.adviser.ranking.looks & jobs.keys()):
            every = np.fmin(self.asked_every, self.asked_sooner.get(look, np.inf))
            rows = jobs[look].where & self.world.alive[self.rows] & (self.world.day // WEEK - self.last[look] >= every)
            if self.words.actions[look].opens == "frames":
                rows &= warm
            self._made(look, rows)
            looked |= bool(rows.any())
        return looked

    def _made(self, look: str, rows: np.ndarray) -> None:
        """Count a look and note what it finds."""
        if rows.any():
            self.last[look] = np.where(rows, self.world.day // WEEK, self.last[look])
            self._spend(self.words.actions[look], rows)
            self._note(self.words.actions[look].observes, rows)

    def _look(self, high: np.ndarray) -> None:
        """Make the looks that are due, and note what they find."""
        week = self.world.day // WEEK
        self.found = self.seeing.facts()
        self.plain = {
            name: self.words.facts[name].encode(value)
            for name, value in self.usual["seen"].items()
            if name not in self.found and self.words.facts[name].scope != "apiary"
        }
        alive = self.world.alive[self.rows]
        warm = high >= self.world.p.looks.open_c[self.rows]
        due: dict[str, np.ndarray] = {}
        for number, every in enumerate(self.every):
            for look, weeks in every.items():
                rows = (self.line == number) & alive
                last = self.last[look]
                rows &= week - last >= weeks
                if self.words.actions[look].opens == "frames":
                    rows &= warm
                due[look] = due.get(look, np.zeros(len(rows), dtype=bool)) | rows
        for look, rows in due.items():
            self._made(look, rows)
        if self.exact.any():
            lifted = self.words.actions[self.heft].observes  # who knows the kilograms does not lift
            self._note([name for name in (*self.found, *self.plain) if name not in lifted], self.exact & alive)

    def _note(self, observes: Sequence[str], rows: np.ndarray) -> None:
        if "colony.queen_cells" in observes:
            swarm_day, told = self.found["colony.queen_event_on"], self.notes.latest("colony.queen_event_on")[0]
            new = rows & ~(swarm_day <= told)
            for name in ("colony.queen_event", "colony.queen_event_on"):
                self.notes.say(name, self.found[name], new)
            self.notes.act("swarming", new & ~np.isnan(swarm_day))
        for name in observes:
            if name.startswith("colony.queen_event"):
                continue
            if name in self.found:
                self.notes.say(name, self.found[name], rows)
            elif name in self.plain:
                # What a job has set stays as it was set.
                unset = np.isnan(self.notes.latest(name)[0]) if name in self.set_by_jobs else True
                self.notes.say(name, self.plain[name], rows & unset)

    def _spend(self, action: Action, rows: np.ndarray) -> None:
        self.jobs.spend(self._whole(rows), action.minutes, action.opens)

    def _whole(self, rows: np.ndarray) -> np.ndarray:
        """Return rows of these keepers as rows of the world."""
        whole = np.zeros(self.world.rows, dtype=bool)
        whole[self.rows] = rows
        return whole

    # --- jobs
    def _do(self, action: str, job: Job, rows: np.ndarray) -> None:
        """Do a job where it was not done just before, and note it."""
        effect, body = self.words.effects[action], self.words.actions[action]
        last = self.last[action]
        rows = rows & (self.world.day - last >= max(effect.quiet_for or 0, WEEK))
        if effect.sugar:
            rows = rows & ~self._heft_first(job, rows)
        if not rows.any():
            return
        self.last[action] = np.where(rows, self.world.day, last)
        self._spend(body, rows)
        whole, jobs, notes = self._whole(rows), self.jobs, self.notes
        if effect.sugar:
            self._feed(effect.sugar, job, rows)
        if effect.treats:
            self._treat(action, effect.treats, job, rows)
            notes.say("harvest.own_frames", 0.0, rows & (notes.latest("hive.supers")[0] > 0))  # marked as the bees' own
        if effect.act == "splitting":
            jobs.split(whole)
        elif action == self.nucleus:
            self._take_nucleus(rows)
        elif effect.act == "requeening":
            jobs.give_queen(whole)
        elif effect.act == "treatment_end":
            self.world.course_days = np.where(whole, 0, self.world.course_days)
        if "hive.supers" in effect.add:
            jobs.super_on(whole)
            notes.say("harvest.own_frames", 1.0, rows)
        elif effect.act == "harvest" and self.supers_back:
            jobs.take_honey(whole)
        elif "hive.supers" in effect.told:
            jobs.supers_off(whole)
        if effect.act:
            notes.act(effect.act, rows)
        for name in effect.voids:
            notes.unsay(name, rows)
        walked = effect.walk or {}
        changes = {**dict.fromkeys(effect.told), **effect.set, **(walked.get("set") or {})}
        if effect.act == "harvest" and self.supers_back:
            changes = {}  # what stood on the hive goes back
        for name, value in changes.items():
            if value is None:
                notes.unsay(name, rows)
            else:
                notes.say(name, self.words.facts[name].encode(value), rows)
                self._stand(name, value, whole)
        for name in {*effect.today, *(walked.get("today") or ())}:
            notes.say(name, float(notes.until), rows)
        for name, step in (walked.get("add") or effect.add).items():
            if isinstance(step, int | float):
                notes.say(name, np.maximum(notes.latest(name)[0] + step, 0), rows)

    def _heft_first(self, job: Job, rows: np.ndarray) -> np.ndarray:
        """Heft the hives of which it is in doubt whether they want food, unless that was just done; return those."""
        sure = self.adviser.ranking.numbers.plan.troubles.sure_chance
        lately = [self.notes.until - self.notes.latest(name)[1] <= WEEK for name in ("food.heft", "food.stores_kg")]
        doubtful = rows & (job.chance < sure) & ~np.logical_or(*lately)
        self._made(self.heft, doubtful)
        return doubtful

    def _stand(self, name: str, value: object, whole: np.ndarray) -> None:
        """Let the true hive stand as it was set."""
        hives = self.world.hives

        def put(field: str, to: float | bool) -> None:
            setattr(hives, field, np.where(whole, to, getattr(hives, field)))

        if name == "hive.entrance":
            put("narrow", value == "reduced")
        elif name == "hive.mouse_guard":
            put("guard", bool(value))
        elif name == "hive.top_vent":
            put("top_open", value != "none")
        elif name == "hive.insulation":
            put("top_warm", "roof" in str(value))
        elif name == "hive.frames":
            put("frames", float(value))  # type: ignore[arg-type]
            # The keeper leaves out the combs for which there is no room.
            holds = hives.frames * self.world.p.food.frame_kg * self.world.p.food.full_share
            self.world.stores = np.where(whole, np.minimum(self.world.stores, holds), self.world.stores)
        elif name == "hive.size":
            put("boxes", BOXES[str(value)])

    def _take_nucleus(self, rows: np.ndarray) -> None:
        """Move the old queen out where cells with larvae were noted: that is what the job says there."""
        facts, notes = self.words.facts, self.notes
        cells, event = facts["colony.queen_cells"], facts["colony.queen_event"]
        rows = rows & (notes.latest("colony.queen_cells")[0] == cells.encode("charged"))
        if rows.any():
            self.jobs.take_nucleus(self._whole(rows))
            notes.say("colony.queen_cells", cells.encode("none"), rows)
            notes.say("colony.queen_event", event.encode("split_made"), rows)
            notes.say("colony.queen_event_on", float(notes.until), rows)
            notes.act("splitting", rows)

    def _feed(self, sugar: Mapping[str, str], job: Job, rows: np.ndarray) -> None:
        (number,) = sugar.values()
        amount = np.where(np.isnan(job.amount), 1.0, job.amount) * float(getattr(self.model.food, number))
        given = np.zeros(self.world.rows)
        given[self.rows] = amount
        self.jobs.feed(self._whole(rows), given)
        self.fed_now |= rows
        self.notes.say("food.fed_kg", amount, rows)
        self.notes.act("food.fed_kg", rows)

    def _treat(self, action: str, treats: bool | str, job: Job, rows: np.ndarray) -> None:
        facts = self.words.facts
        last = facts["mites.last_active"]
        actives = np.full(len(rows), treats if isinstance(treats, str) else "", dtype=object)
        if job.active is not None:
            actives = job.active
        for active in sorted(set(actives[rows])):
            here = rows & (actives == active)
            one_day = last.encode(active) in last.codes("one_day")
            self.jobs.treat(self._whole(here), str(active), one_day)
            choices = self.words.effects[action].walk.get("treat") or ()
            form = next((one.get("form") for one in choices if one["active"] == active), None)
            if form is not None:
                self.notes.say("mites.form", facts["mites.form"].encode(form), here)
            if one_day:
                self.notes.say("mites.last_active", last.encode(active), here)
                self.notes.say("mites.treated_on", float(self.notes.until), here)
                self.notes.act("treatment_end", here)
            else:
                self.notes.say("mites.in_hive", facts["mites.in_hive"].encode(active), here)
