"""The answer to --why on a terminal."""

from __future__ import annotations

from hiveweek.plan.why import Step, Why
from hiveweek.show.text import Page, sentence

MARK = {"holds": "+", "does not hold": "-", "not known": "?", "holds in doubt": "~", "does not hold, in doubt": "~"}


def show(page: Page, why: Why, vocabulary) -> None:
    """Print why a rule holds or not at a hive."""
    action = vocabulary.actions.get(why.gives)
    gives = f"advises: {action.label} ({why.gives})" if action else f"gives: {why.gives}"
    if why.kind == "prohibition":
        gives = f"a prohibition, effect: {why.gives}"
    page.say(f"{why.rule} at hive {why.hive}: {why.answer}", style="bold")
    page.say(f"{gives}; layer {why.layer}; written at {why.place}", indent=2, hang=2)
    if why.partner:
        page.say(f"together with hive {why.partner}", indent=2)
    if why.steps is not None:
        _step(page, why.steps, 2)
    if why.because:
        label = "Because, where it holds" if why.answer != "holds" else "Because"
        page.say(f"{label}: {sentence(why.because)}", indent=2, hang=2)
    if why.sources:
        page.say("Sources: " + ", ".join(why.sources), indent=2, hang=2)
    page.say("+ holds, - does not hold, ? not known, ~ in doubt", indent=2, style="dim")
    page.line()


def _step(page: Page, step: Step, indent: int) -> None:
    mark = MARK.get(step.answer, " ")
    values = f"   [{'; '.join(step.values)}]" if step.values else ""
    page.say(f"{mark} {step.text}{values}", indent=min(indent, 24), hang=4)
    for part in step.parts:
        _step(page, part, indent + 2)
