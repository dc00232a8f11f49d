"""``hiveweek week --why NAME``: why a rule, a prohibition or an action is said at a hive, or not."""

from __future__ import annotations

import io
import sys
from collections.abc import Sequence
from dataclasses import dataclass

from hiveweek.plan.answer import Answer
from hiveweek.plan.model import Advice, HivePlan
from hiveweek.plan.why import explain
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.show import cards
from hiveweek.show import why as as_why
from hiveweek.show.text import Page
from hiveweek.texts.parts import Capital, listed, message
from hiveweek.texts.speaker import Speaker, says
from hiveweek.vocabulary.model import Vocabulary

HOLDS = ("holds", "holds-in-doubt")


@dataclass(frozen=True)
class Told:
    """What is told of one hive.

    Attributes
    ----------
    apiary, hive : str
    fires : bool
        The rule holds there, or the action is advised or waits.
    text : str
    """

    apiary: str
    hive: str
    fires: bool
    text: str


class Asked:
    """Explains a name at the hives of apiaries.

    Parameters
    ----------
    name : str
        Of a rule, a prohibition or an action.
    words : Vocabulary
    speaker : Speaker
    width : int
        Of the page.
    titled : bool
        Name the apiary of each hive.
    """

    def __init__(self, name: str, words: Vocabulary, speaker: Speaker, width: int, *, titled: bool):
        self.name, self.words, self.speaker, self.width, self.titled = name, words, speaker, width, titled

    def told(self, found: Answer) -> list[Told]:
        """Return what is told of each hive of an answer.

        Raises
        ------
        InputProblems
            For a name that is neither a rule, nor a prohibition, nor an action here, with the nearest one.
        """
        ruleset = found.inference.ruleset
        rules = [*ruleset.rules, *ruleset.prohibitions]
        if self.name not in rules and self.name not in self.words.actions:
            gone = next((d for d in ruleset.disabled if d.get("rule") == self.name), None)
            if gone is not None:
                said = says("cli.week.switched-off", reason=str(gone.get("reason")))
            else:
                said = nearest(self.name, sorted([*rules, *self.words.actions]))
            problem = says("cli.week.unknown-rule", rule=self.name, said=said)
            raise InputProblems([Problem("", 0, 0, "unknown-rule", problem)])
        plans = {hive.id: hive for hive in found.plan.hives}
        made = []
        for row, hive in enumerate(found.inference.table.hives):
            out = io.StringIO()
            page = Page(out, self.speaker, terminal=sys.stdout.isatty(), width=self.width)
            if self.titled:
                page.line(found.plan.name, style="bold")
            fires = (
                self._action(page, found, plans[hive], row) if self.name not in rules else self._rule(page, found, row)
            )
            made.append(Told(found.plan.name, hive, fires, out.getvalue()))
        return made

    def _rule(self, page: Page, found: Answer, row: int, name: str | None = None) -> bool:
        why = explain(found.inference, name or self.name, row, found.date)
        as_why.show(page, why, self.words)
        return why.answer in HOLDS

    def _action(self, page: Page, found: Answer, hive: HivePlan, row: int) -> bool:
        label = cards.name(self.words, self.name)
        advised = [advice for advice in hive.advice if advice.action == self.name]
        held = [one for one in hive.withheld if one.action == self.name]
        if not advised and not held:
            rules = [rule.id for rule in found.inference.ruleset.rules.values() if rule.advise == self.name]
            said = {"label": Capital(label), "hive": hive.id, "rules": listed(sorted(rules), "comma")}
            page.say(message("why.not-advised" if rules else "why.never-advised", **said), hang=2)
            page.line()
            return False
        names: list[str] = []
        for advice in advised:
            self._points(page, found, hive, advice)
            names += [advice.rule, *(other["rule"] for other in advice.also)]
        for one in held:
            page.say(cards.held(self.words, one), hang=2, style="bold")
            names.append(one.rule)
        page.line()
        known = {*found.inference.ruleset.rules, *found.inference.ruleset.prohibitions}
        for name in dict.fromkeys(names):
            if name in known:
                self._rule(page, found, row, name)
        return True

    def _points(self, page: Page, found: Answer, hive: HivePlan, advice: Advice) -> None:
        """Say how an advice stands in its list and what its points mean."""
        job = cards.job(self.words, advice, found.plan)
        page.say(message("labelled", label=message("hive.head", hive=hive.id), words=job), hang=2, style="bold")
        page.say(message("why.law") if advice.band == 0 else cards.points(advice), 2, 2)
        if advice.band:
            page.say(message("points.are"), 2, 2)


def chosen(told: Sequence[Told], only: str | None) -> list[Told]:
    """Return what is shown: the hive that was named, or the one at which the name holds; where it holds nowhere all of them.

    Raises
    ------
    InputProblems
        Where it holds at several hives, none was named, and there is nobody to ask on a terminal.
    """
    if only is not None:
        return [one for one in told if one.hive == only]
    firing = [one for one in told if one.fires]
    if len(firing) < 2:
        return firing or list(told)
    same = len({one.apiary for one in firing}) > 1
    names = {(f"{one.apiary}/{one.hive}" if same else one.hive): one for one in firing}
    if sys.stdin.isatty() and sys.stdout.isatty():
        said = input(says("cli.week.ask-hive", hives=", ".join(names))).strip()
        if said in names:
            return [names[said]]
        problem = says("cli.week.not-there", said=said, near=nearest(said, names))
    else:
        problem = says("cli.week.which-hive", hives=", ".join(names))
    raise InputProblems([Problem("", 0, 0, "which-hive", problem)])
