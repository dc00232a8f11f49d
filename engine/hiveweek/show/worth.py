"""The worth of the advice on a terminal: a table a climate."""

from __future__ import annotations

from collections.abc import Mapping

from hiveweek.show.text import Page
from hiveweek.texts.parts import Capital, Word, listed, message

MORE = ("hours", "openings", "treatments")
HEADS = ("keeper", "survival", "honey", "hours", "openings", "treatments")
WIDTHS = (20, 18, 20, 8, 9, 10)
BESIDE = ("few", "all", "known")


def percent(found: list[float]) -> str:
    """Return a share and its interval in a hundred."""
    return f"{100 * found[0]:.1f} ({100 * found[1]:.1f}-{100 * found[2]:.1f})"


def points(found: list[float]) -> str:
    """Return a difference of shares and its interval in a hundred, with its sign."""
    return f"{100 * found[0]:+.1f} ({100 * found[1]:+.1f} to {100 * found[2]:+.1f})"


def number(found: list[float]) -> str:
    """Return a mean and its interval."""
    return f"{found[0]:.1f} ({found[1]:.1f}-{found[2]:.1f})"


def show(page: Page, result: Mapping) -> None:
    """Print what was found in each climate."""
    for climate, found in result["climates"].items():
        head = "worth.head-nearest" if found["nearest"] else "worth.head"
        page.say(
            message(head, climate=Word(climate), seeds=result["seeds"], region=found["calendar"]),
            style="bold",
        )
        page.row([(message(f"worth.{name}"), width) for name, width in zip(HEADS, WIDTHS, strict=True)])
        for name, one in found["keepers"].items():
            cells = [percent(one["survival"]), number(one["honey_kg"]), *(f"{one[key][0]:.1f}" for key in MORE)]
            page.row(list(zip([message(f"worth.{name}"), *cells], WIDTHS, strict=True)))
        for name in BESIDE:
            for other, less in found["beside"][name].items():
                mine, theirs = message(f"worth.{name}"), message(f"worth.{other}")
                label = Capital(message("worth.beside", mine=mine, theirs=theirs))
                page.row([(label, 42), (points(less["survival"]), 30)])
        kinds = [message("worth.kind", kind=Word(k), value=points(v["survival"])) for k, v in found["kinds"].items()]
        page.say(message("worth.kinds", kinds=listed(kinds, "comma")))
        costs = [message("worth.kind", kind=Word(k), value=points(v["less"])) for k, v in found["dangers"].items()]
        page.say(message("worth.dangers", dangers=listed(costs, "comma")))
        page.line()
    if "figures" in result:
        apart = [one for one in result["figures"] if not one.get("fitted")]
        page.say(message("worth.figures", inside=sum(one["inside"] for one in apart), apart=len(apart)))
    page.say(message("worth.true"), style="dim")
