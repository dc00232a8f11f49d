"""The answer to --why on a terminal."""

from __future__ import annotations

from hiveweek.plan.why import Step, Why
from hiveweek.show.text import Page
from hiveweek.texts.parts import Sentence, Text, listed, message
from hiveweek.texts.reading import plain

MARK = {"holds": "+", "does-not-hold": "-", "not-known": "?", "holds-in-doubt": "~", "does-not-hold-in-doubt": "~"}


def show(page: Page, why: Why, vocabulary) -> None:
    """Print why a rule holds or not at a hive."""
    action = vocabulary.actions.get(why.gives)
    gives = message("why.gives", gives=why.gives)
    if why.kind == "prohibition":
        gives = message("why.prohibition", effect=why.gives)
    elif action:
        gives = message("why.advises", label=plain(action.label), action=why.gives)
    answer = message(f"why.{why.answer}")
    page.say(message("why.head", rule=why.rule, hive=why.hive, answer=answer), style="bold")
    page.say(message("why.about", gives=gives, layer=why.layer, place=why.place), indent=2, hang=2)
    if why.partner:
        page.say(message("why.partner", hive=why.partner), indent=2)
    if why.steps is not None:
        _step(page, why.steps, 2)
    if why.because:
        key = "because" if why.answer == "holds" else "why.because-if"
        page.say(message(key, because=Sentence(why.because)), indent=2, hang=2)
    if why.sources:
        page.say(message("why.sources", sources=listed(why.sources, "comma")), indent=2, hang=2)
    page.say(message("why.marks"), indent=2, style="dim")
    page.line()


def _step(page: Page, step: Step, indent: int) -> None:
    mark = MARK.get(step.answer, " ")
    values = Text(("   [", listed(step.values, "semicolon"), "]")) if step.values else ""
    page.say(Text((mark, " ", step.text, values)), indent=min(indent, 24), hang=4)
    for part in step.parts:
        _step(page, part, indent + 2)
