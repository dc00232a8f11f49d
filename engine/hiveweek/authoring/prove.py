"""Proofs over all inputs: what no test by example can find.

Every obligation is put to the solver over the declared ranges of all facts, unknown included, within the constraints of
the vocabulary and the calendars of the profiles, before the run-time filter of prohibitions: each rule must be right by
itself. An answer comes with a concrete hive; a question the solver could not settle is said.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Collection, Iterable
from pathlib import Path

import z3

from hiveweek import content
from hiveweek.authoring import twins
from hiveweek.authoring.areas import Area, read_areas, read_exceptions
from hiveweek.authoring.cases import Runner
from hiveweek.authoring.elsewhere import Elsewhere
from hiveweek.authoring.idle_limits import IdleLimits
from hiveweek.authoring.logic import Effective, Logic, days_of
from hiveweek.authoring.proof_report import KINDS, Finding, Report
from hiveweek.climate import load_profile, profile_ids
from hiveweek.language.terms import refs
from hiveweek.problems import InputProblems
from hiveweek.rules.forbidden import concerns, withholds
from hiveweek.rules.model import RuleSet


class Prover:
    """Puts every obligation of the given profiles to the solver.

    Parameters
    ----------
    runner : Runner
        Gives effective rulesets and answers witnesses.
    profiles : list of str, optional
        All shipped ones by default.
    concerned : set of str, optional
        Only what is about one of these rules, prohibitions and limits is asked; everything by default.
    """

    def __init__(self, runner: Runner, profiles: Iterable[str] | None = None, concerned: Collection[str] | None = None):
        self.concerned = concerned
        self.runner = runner
        self.words = runner.words
        wanted = list(profiles) if profiles is not None else profile_ids()
        self.rulesets: dict[str, RuleSet] = {name: runner.ruleset(load_profile(name)) for name in wanted}
        # The days of a climate are those that overlays leave: a moved season number moves them.
        self.profiles = {
            name: load_profile(name).with_numbers(ruleset.numbers) for name, ruleset in self.rulesets.items()
        }
        self.logic = Logic(self.words, days_of(self.words, self.profiles.values()))
        self.effective: dict[str, Effective] = {
            name: self.logic.effective(name, ruleset) for name, ruleset in self.rulesets.items()
        }
        self.areas = self._areas()
        self.report = Report(profiles=wanted)
        self.elsewhere = Elsewhere(self)
        self.limits = IdleLimits(self)

    def asked(self, *names: str) -> bool:
        """Whether something about any of these rules, prohibitions or limits is asked."""
        return self.concerned is None or any(name in self.concerned for name in names)

    def prepare(self) -> None:
        """Put all that holds of every input to the solver; no condition may be added afterwards."""
        self.limits.prepare()
        self.logic.close()

    def _areas(self) -> list[tuple[Area, dict]]:
        folder = (self.runner.folder or content.root() / "rulesets") / "vocabulary"
        areas = read_areas(folder / "areas.yaml", self.words, self.rulesets)
        result = []
        for area in areas:
            truths = {}
            for name, ruleset in self.rulesets.items():
                findings = {**self.effective[name].findings}
                truths[name] = self.logic.condition(area.when, ruleset.limits, findings)
            result.append((area, truths))
        return result

    # --- the run ---
    def run(
        self,
        exceptions: dict[str, tuple[str, dt.date]] | None = None,
        today: dt.date | None = None,
        tell: Callable[[str], None] = lambda text: None,
    ) -> Report:
        """Put all obligations and return the report."""
        start = time.monotonic()
        self.prepare()
        tell(f"{len(self.profiles)} profiles, {len(self.logic.classes)} kinds of day")
        for step in (self._never, self._unsafe, self._clashes, self._masked, self._area, self.limits.find):
            step()
        twins.find(self)
        self.report.findings.sort(key=lambda f: (f.kind, f.key))
        whole = set(profile_ids()) <= self.rulesets.keys()
        self.report.excuse(exceptions or {}, today or dt.date.today(), whole)
        self.report.seconds = time.monotonic() - start
        return self.report

    def _groups(self, make: Callable[[str, Effective], dict]) -> dict:
        """Gather the same obligation of several profiles: {(key, solver terms): (profiles, extra)}."""
        groups: dict = {}
        for name, effective in self.effective.items():
            for key, (terms, extra) in make(name, effective).items():
                identity = (key, tuple(t.get_id() for t in terms))
                groups.setdefault(identity, (terms, extra, []))[2].append(name)
        return groups

    def ask(self, kind: str, terms, profiles: list[str], counts: int = 1, logic: Logic | None = None) -> bool | None:
        """Put an obligation to the solver over some profiles: can it be met; None where the solver does not settle it."""
        logic = logic or self.logic
        self.report.obligations[kind] = self.report.obligations.get(kind, 0) + counts
        places = [z3.Or([logic.profiles[name] for name in profiles])] if len(profiles) < len(self.profiles) else []
        return logic.satisfiable(*terms, *places)

    def add(self, kind, key, text, profiles, place="", witness=None, check=None) -> None:
        """Take a finding into the report, with the witness tried; one known already gets the profiles added."""
        known = next((f for f in self.report.findings if f.key == key), None)
        if known is not None:
            known.profiles = sorted({*known.profiles, *profiles})
            return
        finding = Finding(kind, key, text, profiles, place, witness)
        if witness is not None and check is not None:
            finding.reproduced = self._reproduce(witness, check)
        self.report.findings.append(finding)

    def unsettled(self, kind, key, profiles, place="") -> None:
        """Take into the report what the solver did not settle."""
        self.add("open", f"open:{key}", f"{key}: the solver did not settle it ({KINDS[kind]}?)", profiles, place)

    def interest(self, ruleset: RuleSet, *conditions) -> set[str]:
        """Facts that conditions read, through findings."""
        facts: set[str] = set()
        seen: set[str] = set()
        stack = list(conditions)
        while stack:
            for ref in refs(stack.pop()):
                if not ref.is_finding:
                    facts.add(ref.name)
                elif ref.name not in seen:
                    seen.add(ref.name)
                    stack += [rule.when for rule in ruleset.giving(ref.finding)]
        for _ in range(2):
            for constraint in self.words.constraints:
                names = {ref.name for ref in refs(constraint["holds"])}
                if names & facts:
                    facts |= names
        return facts

    def fires(self, rule_id: str) -> bool:
        """Whether a rule is not proven never to fire in these profiles; False where it is in none of them."""
        return any(
            self.logic.satisfiable(effective.rules[rule_id].holds, self.logic.profiles[name]) is not False
            for name, effective in self.effective.items()
            if rule_id in effective.rules
        )

    # --- obligations ---
    def _never(self) -> None:
        dead: dict[str, list] = {}
        for (rule_id, _), (terms, rule, profiles) in self._groups(
            lambda n, e: {
                r.id: ([e.rules[r.id].holds], r)
                for r in e.ruleset.rules.values()
                if r.id in e.rules and self.asked(r.id)
            }
        ).items():
            if rule.finding:
                continue
            answer = self.ask("never", terms, profiles)
            if answer is None:
                self.unsettled("never", rule_id, profiles, str(rule.place))
            else:
                dead.setdefault(rule_id, []).append((answer, profiles, rule, terms))
        for rule_id, answers in sorted(dead.items()):
            # A rule may be out of place in some climates; it is dead where it can fire in none of those it is for.
            if not any(alive for alive, *_ in answers):
                if self.elsewhere.rule_out_of_place(rule_id, answers[0][2].layer):
                    continue
                profiles = sorted({p for _, found, *_ in answers for p in found})
                self.add("never", f"never:{rule_id}", f"{rule_id} can never fire", profiles, str(answers[0][2].place))
        for (rule_id, _), (terms, rule, profiles) in self._groups(
            lambda n, e: {r.id: ([z3.Not(e.rules[r.id].holds)], r) for r in e.ruleset.advising() if self.asked(r.id)}
        ).items():
            answer = self.ask("always", terms, profiles)
            if answer is False:
                self.add("always", f"always:{rule_id}", f"{rule_id} always fires", profiles, str(rule.place))
            elif answer is None:
                self.unsettled("always", rule_id, profiles, str(rule.place))

    def _living(self, *actions: str) -> list:
        """The colony is not known to be dead, where one of the actions is for living colonies only."""
        if all(self.words.actions[action].dead_ok for action in actions):
            return []
        known, alive = self.logic.fact("colony.alive", "")
        return [z3.Not(z3.And(known, z3.Not(alive)))]

    def _pairwise(self, kind: str, make) -> list[tuple]:
        """Ask of each rule whether it can hold together with any of the others at once; only where it can, of each by itself.

        ``make(effective)`` gives ``{rule id: (rule, [(other id, other, [terms of the other])])}``. Returned are the (key, rule, other,
        profiles, terms) that can hold together.
        """
        groups: dict = {}
        for name, effective in self.effective.items():
            for rule_id, (rule, others) in make(effective).items():
                terms = effective.rules[rule_id].holds
                identity = (
                    rule_id,
                    terms.get_id(),
                    tuple((key, tuple(t.get_id() for t in each)) for key, _, each in others),
                )
                groups.setdefault(identity, (rule, terms, others, []))[3].append(name)
        found = []
        for rule, holds, others, profiles in groups.values():
            if not others:
                continue
            together = self.ask(kind, [holds, z3.Or([z3.And(each) for _, _, each in others])], profiles, len(others))
            if together is False:
                continue
            for key, other, each in others:
                answer = self.ask(kind, [holds, *each], profiles, 0)
                if answer is None:
                    self.unsettled(kind, f"{rule.id}:{key}", profiles, str(rule.place))
                elif answer:
                    witness = self.logic.witness(self.interest(self.rulesets[profiles[0]], rule.when, other.when))
                    found.append((f"{rule.id}:{key}", rule, other, profiles, witness))
        return found

    def _unsafe(self) -> None:
        def make(effective):
            return {
                rule.id: (
                    rule,
                    [
                        (p.id, p, [*effective.forbids(p, rule.advise), *self._living(rule.advise)])
                        for p in effective.ruleset.prohibitions.values()
                        if self.asked(rule.id, p.id)
                        and withholds(p)
                        and concerns(p, self.words.actions[rule.advise], bool(rule.roles))
                    ],
                )
                for rule in effective.ruleset.advising()
            }

        for key, rule, prohibition, profiles, witness in self._pairwise("unsafe", make):
            self.add(
                "unsafe",
                f"unsafe:{key}",
                f"{rule.id} advises {rule.advise} where {prohibition.id} forbids it ({prohibition.place})",
                profiles,
                str(rule.place),
                witness,
                [rule.id],
            )

    def _clashes(self) -> None:
        def make(effective):
            advising = effective.ruleset.advising()
            return {
                one.id: (
                    one,
                    [
                        (other.id, other, [effective.rules[other.id].holds, *self._living(one.advise, other.advise)])
                        for other in advising[i + 1 :]
                        if self.asked(one.id, other.id)
                        and other.advise in self.words.actions[one.advise].clashes
                        and not (one.roles and other.roles)
                    ],
                )
                for i, one in enumerate(advising)
            }

        for key, one, other, profiles, witness in self._pairwise("clash", make):
            self.add(
                "clash",
                f"clash:{key}",
                f"{one.id} ({one.advise}) and {other.id} ({other.advise}) can fire for one hive at once; "
                f"see also {other.place}",
                profiles,
                str(one.place),
                witness,
                [one.id, other.id],
            )

    def _masked(self) -> None:
        def make(name, effective):
            found = {}
            advising = effective.ruleset.advising()
            for one in advising:
                for other in advising:
                    if (
                        one.id == other.id
                        or one.advise != other.advise
                        or one.roles
                        or other.roles
                        or one.band < other.band
                        or not self.asked(one.id, other.id)
                    ):
                        continue
                    if (
                        other.stakes.gain_pts < one.stakes.gain_pts
                        or one.stakes.gain_fact
                        or other.stakes.gain_fact
                        or one.by != other.by
                    ):
                        continue
                    found[f"{one.id}:{other.id}"] = (
                        [effective.rules[one.id].holds, z3.Not(effective.rules[other.id].holds)],
                        (one, other),
                    )
            return found

        for (key, _), (terms, (one, other), profiles) in self._groups(make).items():
            answer = self.ask("masked", terms, profiles)
            if answer is False and self.ask("masked", terms[:1], profiles, 0):
                self.add(
                    "masked",
                    f"masked:{key}",
                    f"wherever {one.id} fires, {other.id} says the same with as many points ({other.place})",
                    profiles,
                    str(one.place),
                )
            elif answer is None:
                self.unsettled("masked", key, profiles, str(one.place))

    def _area(self) -> None:
        for area, truths in self.areas:
            groups: dict = {}
            for name, effective in self.effective.items():
                fires = [effective.rules[r].holds for r in area.one_of if r in effective.rules]
                terms = [truths[name].holds, *fires]
                groups.setdefault(tuple(t.get_id() for t in terms), (terms, []))[1].append(name)
            for terms, profiles in groups.values():
                where, fires = terms[0], terms[1:]
                interest = set()
                for r in area.one_of:
                    if r in self.rulesets[profiles[0]].rules:
                        interest |= self.interest(self.rulesets[profiles[0]], self.rulesets[profiles[0]].rules[r].when)
                interest |= self.interest(self.rulesets[profiles[0]], area.when)
                if not area.at_most:
                    answer = self.ask("gap", [where, *[z3.Not(f) for f in fires]], profiles)
                    if answer:
                        self.add(
                            "gap",
                            f"gap:{area.id}",
                            f"{area.id}: none of {', '.join(area.one_of)} fires",
                            profiles,
                            area.place,
                            self.logic.witness(interest),
                            [],
                        )
                    elif answer is None:
                        self.unsettled("gap", area.id, profiles, area.place)
                if len(fires) > 1:
                    answer = self.ask("overlap", [where, z3.AtLeast(*fires, 2)], profiles)
                    if answer:
                        self.add(
                            "overlap",
                            f"overlap:{area.id}",
                            f"{area.id}: more than one of {', '.join(area.one_of)} fires",
                            profiles,
                            area.place,
                            self.logic.witness(interest),
                            [],
                        )
                    elif answer is None:
                        self.unsettled("overlap", area.id, profiles, area.place)

    # --- witnesses ---
    def _reproduce(self, witness: dict, rules: list[str]) -> bool | None:
        """Put a witness through the weekly answer and see whether the rules fire there too."""
        if not rules:
            return None
        try:
            from hiveweek.authoring.witness import scenario_of_witness

            found = self.runner.answer(scenario_of_witness(witness, self.words))
        except InputProblems:
            return False
        return all(found.inference.rules[rule].holds(0) for rule in rules)


def prove(
    profiles: Iterable[str] | None = None,
    extra: Iterable[Path | str] = (),
    folder: Path | None = None,
    runner: Runner | None = None,
    exceptions_file: Path | None = None,
    tell: Callable[[str], None] = lambda text: None,
    today: dt.date | None = None,
) -> Report:
    """Prove the rulesets of profiles.

    Parameters
    ----------
    profiles : iterable of str, optional
        All shipped profiles by default.
    extra : iterable of Path
        Overlays of an author.
    folder : Path, optional
        Another rulesets folder.

    Returns
    -------
    Report

    Raises
    ------
    InputProblems
        Where the rule files themselves have mistakes.
    """
    runner = runner or Runner(folder=folder, extra=extra)
    return Prover(runner, profiles).run(*known_exceptions(folder, exceptions_file, today), tell)


def known_exceptions(
    folder: Path | None, exceptions_file: Path | None, today: dt.date | None
) -> tuple[dict[str, tuple[str, dt.date]], dt.date | None]:
    """Return the known exceptions, and the day on which they are asked for."""
    base = folder or content.root() / "rulesets"
    return read_exceptions(exceptions_file or base / "vocabulary" / "proof_exceptions.yaml"), today
