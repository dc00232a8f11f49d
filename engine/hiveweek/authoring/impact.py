"""What a change of rules does: which advice differs for cases, scenarios, the walks through the year and random yards.

Facts are built once and asked under both rulesets. Most questions are settled by the few rules that the change concerns;
only where one of those answers otherwise are both plans made and held against each other.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from hiveweek import facts
from hiveweek.authoring import year as year_room
from hiveweek.authoring.cases import Runner
from hiveweek.authoring.difference import Difference, Screen, compare
from hiveweek.authoring.judging import judge
from hiveweek.authoring.yards import random_yard
from hiveweek.climate import load_profile, profile_ids
from hiveweek.climate import weather as weather_room
from hiveweek.climate.profiles import Profile
from hiveweek.facts.scenario import Scenario
from hiveweek.inference.columnar import infer
from hiveweek.plan.answer import profile_of
from hiveweek.plan.setting import Setting
from hiveweek.plan.week import make
from hiveweek.problems import InputProblems
from hiveweek.vocabulary.normal import Normal
from hiveweek.vocabulary.normal import load as load_normal

WORDS = {
    "comes": "is advised now",
    "goes": "is advised no more",
    "points": "has other points",
    "rank": "stands elsewhere in the list",
    "words": "says it otherwise",
    "reasons": "has other reasons besides",
    "options": "other treatments are allowed",
}
FEW_PROFILES, WEEKS_APART = 3, 4  # every week is walked for few profiles, every fourth for more
YARD = 6  # hives in a random yard
TELL_EACH = 100  # yards
TEXTS = ("says", "amount", "by", "caution")
WORDS_BESIDE = 4  # shown before and after what differs


@dataclass
class Change:
    """One advice that differs at one hive of one question."""

    kind: str
    rule: str
    action: str
    profile: str
    group: str
    where: str
    hive: str
    text: str


@dataclass
class Report:
    """What a change does.

    Attributes
    ----------
    differences : list of str
        What differs in the rule files themselves.
    asked, differ : dict of str to int
        Questions put and answers that differ, by group: case, year, sample.
    broken, mended : list of str
        Cases that hold no longer, and that hold only now.
    skipped : list of str
        Questions that only one side can read.
    """

    differences: list[str] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    asked: dict[str, int] = field(default_factory=lambda: {"case": 0, "year": 0, "sample": 0})
    differ: dict[str, int] = field(default_factory=lambda: {"case": 0, "year": 0, "sample": 0})
    broken: list[str] = field(default_factory=list)
    mended: list[str] = field(default_factory=list)
    skipped: list[str] = field(default_factory=list)
    profiles: list[str] = field(default_factory=list)
    seed: int = 1
    weeks_apart: int = 1


class Impact:
    """Asks two sides the same questions.

    Parameters
    ----------
    before, after : Runner
    profiles : iterable of str, optional
        Only these; all by default.
    tell : callable, optional
        Given a line now and then.
    """

    def __init__(
        self,
        before: Runner,
        after: Runner,
        profiles: Iterable[str] | None = None,
        tell: Callable[[str], None] = lambda text: None,
    ):
        self.before, self.after, self.tell = before, after, tell
        self.chosen = list(profiles) if profiles is not None else profile_ids()
        self.all_chosen = profiles is None
        self.one_table = before.words == after.words
        self.report = Report(profiles=self.chosen)
        self._screens: dict[tuple, tuple[Screen | None, Profile]] = {}
        self._seen: set[str] = set()
        self._normal: Normal | None = None

    # --- the two sides
    def screen(
        self, profile: Profile, jurisdiction: str | None = None, overlays: Iterable[Path | str] = ()
    ) -> Screen | None:
        """Return the screen of a profile's two rulesets; None where they answer alike."""
        key = (
            id(profile) if profile.id not in self.chosen else profile.id,
            jurisdiction,
            tuple(str(p) for p in overlays),
        )
        if key not in self._screens:
            difference = compare(*(side.ruleset(profile, jurisdiction, overlays) for side in (self.before, self.after)))
            self._note(difference)
            # The profile is kept with its screen, so that its id() names no other one.
            self._screens[key] = (Screen(difference) if difference.any or not self.one_table else None, profile)
        return self._screens[key][0]

    def _note(self, difference: Difference) -> None:
        for text in difference.changes:
            if text not in self._seen:
                self._seen.add(text)
                self.report.differences.append(text)

    def run(self, scenarios: Iterable[Scenario], sample: int, seed: int) -> Report:
        """Ask everything.

        Parameters
        ----------
        scenarios : iterable of Scenario
            Cases and scenarios.
        sample : int
            Random hives for each profile; 0 for none.
        seed : int
            Seed of the random hives.
        """
        self.report.seed = seed
        self.cases(scenarios)
        self.years()
        self.samples(sample, seed)
        self.report.changes.sort(key=lambda c: (c.rule, c.profile, c.kind, c.group, c.where, c.hive))
        return self.report

    # --- questions
    def cases(self, scenarios: Iterable[Scenario]) -> None:
        """Ask the cases and scenarios."""
        for scenario in scenarios:
            if not self.all_chosen and scenario.climate not in self.chosen:
                continue
            profile = profile_of(scenario)
            self.report.asked["case"] += 1
            screen = self.screen(profile, scenario.jurisdiction, scenario.rulesets)
            if screen is None:
                continue
            where = f"{scenario.file}:{scenario.place[0]}:{scenario.place[1]}"
            if self._one_table(screen) and not screen.differs(self._built(scenario, profile, self.before).table):
                continue
            pair = self._both(scenario, where)
            if pair is None:
                continue
            before, after = pair
            self._hold("case", profile.id, where, before.plan, after.plan)
            old, new = (judge(scenario, found.plan, found.inference) for found in (before, after))
            if new and not old:
                self.report.broken += [f"{where}: {f.hive + ': ' if f.hive else ''}{f.text}" for f in new]
            elif old and not new:
                self.report.mended.append(f"{where}: {scenario.title}")

    def _one_table(self, screen: Screen | None) -> bool:
        """Whether both sides read the same facts: they know the same, and no number moved that facts are worked out with."""
        return self.one_table and not (screen is not None and screen.difference.facts)

    def _built(self, scenario: Scenario, profile: Profile, side: Runner):
        ruleset = side.ruleset(profile, scenario.jurisdiction, scenario.rulesets)
        numbers = ruleset.numbers
        profile = profile.with_numbers(numbers)
        weather = weather_room.week(
            profile, scenario.date, coords=scenario.apiary.coords, offline=True, numbers=numbers
        )
        return facts.build(scenario, scenario.date, profile, weather, side.words, numbers=numbers, law=ruleset.law)

    def _both(self, scenario: Scenario, where: str):
        try:
            return self.before.answer(scenario), self.after.answer(scenario)
        except (InputProblems, KeyError, ValueError) as error:
            if self.one_table:
                raise
            self.report.skipped.append(f"{where}: only one side can answer it ({type(error).__name__})")
            return None

    def years(self) -> None:
        """Walk the year of every profile whose rules differ, and ask each week's hive under both."""
        concerned = [name for name in self.chosen if self.screen(load_profile(name)) is not None]
        self.report.weeks_apart = 1 if len(concerned) <= FEW_PROFILES else WEEKS_APART
        for name in concerned:
            self.tell(f"year of {name}")
            profile = load_profile(name)
            screen = self.screen(profile)

            def tap(scenario, found, screen=screen, name=name, profile=profile):
                self.report.asked["year"] += 1
                if self._one_table(screen) and not screen.differs(found.inference.table):
                    return
                if self._one_table(screen):
                    other = self._plan(self.after, profile, found.inference.table, found.date, found.weather)
                else:
                    pair = self._both(scenario, f"{name} {found.date}")
                    if pair is None:
                        return
                    other = pair[1].plan
                self._hold("year", name, f"week of {found.date:%m-%d}", found.plan, other)

            year_room.walk(name, self.before, step=self.report.weeks_apart, tap=tap)

    def samples(self, number: int, seed: int) -> None:
        """Ask random yards of every profile whose rules differ, each on a day of its own."""
        if not self.one_table:
            self.report.skipped.append("random hives: the two sides know different facts")
            return
        rng = np.random.default_rng(seed)
        for name in self.chosen:
            for k in range(-(-number // YARD)):
                self.yard(name, k + 1, min(YARD, number - k * YARD), rng)

    def yards(self, number: int, seed: int) -> None:
        """Ask so many random yards in all, in turn of the profiles whose rules differ; none where no profile's do."""
        rng = np.random.default_rng(seed)
        concerned = [name for name in self.chosen if self.screen(load_profile(name)) is not None]
        for k in range(number if concerned else 0):
            if k and k % TELL_EACH == 0:
                self.tell(f"{k} of {number} yards")
            self.yard(concerned[k % len(concerned)], k + 1, YARD, rng)

    def yard(self, name: str, number: int, size: int, rng: np.random.Generator) -> None:
        """Ask one random yard of a profile; nothing where its rules answer alike."""
        profile = load_profile(name)
        screen = self.screen(profile)
        if screen is None:
            return
        if self._normal is None:
            self._normal = load_normal(self.before.words)
        date = dt.date(year_room.YEAR, 1, 1) + dt.timedelta(days=int(rng.integers(365)))
        yard = random_yard(self._normal, self.before.words, profile, date, size, rng)
        built = self._built(yard, profile, self.before)
        self.report.asked["sample"] += size
        if self._one_table(screen) and not screen.differs(built.table):
            return
        other = built if self._one_table(screen) else self._built(yard, profile, self.after)
        plans = [
            self._plan(side, profile, its.table, date, its.weather)
            for side, its in ((self.before, built), (self.after, other))
        ]
        self._hold("sample", name, f"yard {number} on {date:%m-%d}", *plans)

    def _plan(self, side: Runner, profile, table, date: dt.date, weather):
        ruleset = side.ruleset(profile)
        setting = Setting(date, profile.id, profile.with_numbers(ruleset.numbers).calendar, weather)
        return make(infer(ruleset, table), setting, side.ranking.under(ruleset.numbers))

    # --- what differs
    def _hold(self, group: str, profile: str, where: str, before, after) -> None:
        changes = [
            change
            for old, new in zip(before.hives, after.hives, strict=True)
            for change in _changes(old, new, group, profile, where)
        ]
        if changes:
            self.report.differ[group] += 1
            self.report.changes += changes


def _changes(old, new, group: str, profile: str, where: str) -> list[Change]:
    """The advice of one hive that differs between two plans."""

    def change(kind, advice, text):
        return Change(kind, advice.rule, advice.action, profile, group, where, new.id, text)

    found = []
    olds, news = ({advice.action: advice for advice in hive.advice} for hive in (old, new))
    for action, advice in news.items():
        if action not in olds:
            found.append(change("comes", advice, f"comes at rank {advice.rank} with {advice.points:g} points"))
            continue
        was = olds[action]
        if was.points != advice.points or was.rule != advice.rule:
            by = f" (by {was.rule} before)" if was.rule != advice.rule else ""
            found.append(
                change(
                    "points",
                    advice,
                    f"{was.points:g} -> {advice.points:g} points, rank {was.rank} -> {advice.rank}{by}",
                )
            )
        elif was.rank != advice.rank:
            found.append(change("rank", advice, f"rank {was.rank} -> {advice.rank}"))
        elif _texts(was) != _texts(advice):
            found += [change("words", advice, text) for text in _said(was, advice)]
        else:
            found += [change("reasons", advice, text) for text in _reasons(was, advice)]
        if [(o["active"], o["allowed"]) for o in was.options] != [(o["active"], o["allowed"]) for o in advice.options]:
            allowed = ", ".join(o["active"] for o in advice.options if o["allowed"]) or "none"
            found.append(change("options", advice, f"allowed now: {allowed}"))
    for action, advice in olds.items():
        if action not in news:
            held = next((w for w in new.withheld if w.action == action), None)
            found.append(
                change(
                    "goes",
                    advice,
                    f"went from rank {advice.rank} with {advice.points:g} points"
                    + (f"; withheld ({held.kind})" if held else ""),
                )
            )
    return found


def _reasons(old, new) -> list[str]:
    """Other rules that advise the same, where they are not the same ones."""
    before, after = ({reason["rule"] for reason in advice.also} for advice in (old, new))
    return [
        f"{word} {rule}"
        for word, rules in (("also by", after - before), ("no more by", before - after))
        for rule in sorted(rules)
    ]


def _said(old, new) -> list[str]:
    """What a keeper reads otherwise, with both texts."""
    pairs = zip(TEXTS, _texts(old), _texts(new), strict=True)
    return [f"{part}: {both_texts(was, now)}" for part, was, now in pairs if was != now]


def _texts(advice) -> tuple[str, ...]:
    """What a keeper reads of an advice: numbers that are rounded alike read alike."""
    return tuple("" if it is None else str(it) for it in (advice.because, advice.amount, advice.by, advice.safety))


def both_texts(old: str, new: str) -> str:
    """Return two texts as ``"old" -> "new"``, without most of what they begin and end with alike."""
    before, after = old.split(), new.split()
    most = min(len(before), len(after))
    head = next((k for k in range(most) if before[k] != after[k]), most)
    tail = next((k for k in range(most - head) if before[-1 - k] != after[-1 - k]), most - head)
    start, end = max(head - WORDS_BESIDE, 0), max(tail - WORDS_BESIDE, 0)

    def cut(words: list[str]) -> str:
        said = " ".join(words[start : len(words) - end])
        return '"' + ("... " if start else "") + said + (" ..." if end else "") + '"'

    return (
        f"{cut(before)} -> {cut(after)}"
        if old and new
        else f"{cut(before) if old else 'nothing'} -> {cut(after) if new else 'nothing'}"
    )
