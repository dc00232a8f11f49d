"""The page on what the advice is worth: ``python -m upkeep.worth RESULT`` writes ``docs/worth.md``.

The result is what ``hiveweek worth --figures --sensitivity cool_continental --out RESULT`` worked out.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping
from pathlib import Path

from hiveweek import content
from hiveweek.numbers import shipped
from hiveweek.show.worth import BESIDE, number, percent, points
from hiveweek.worth.tally import not_below

PAGE = "worth.md"
CANNOT = Path(__file__).parent / "templates" / "worth.md"
SHOWN_NUMBERS = 15


def page(result: Mapping) -> str:
    """Return the page for a result."""
    parts = [
        "# What the advice is worth, in a simulated world",
        "",
        "Made by `python -m upkeep.worth` from a run of `hiveweek worth`; edit `engine/upkeep/templates/worth.md` for the words below the tables.",
        "",
        f"{result['seeds']} years of a colony a climate and keeper, from spring to spring, seed {result['seed']}"
        + (f"; {result['minutes']} minutes." if "minutes" in result else "; not finished."),
        "Intervals are of 95 %: Wilson's for shares, of the bootstrap for means and differences; differences are seed by seed.",
        "",
        *(line for part in PARTS if result["climates"] for line in part(result)),
        *_figures(result),
        *_sensitivity(result),
        CANNOT.read_text(encoding="utf-8").rstrip(),
        "",
    ]
    return "\n".join(parts)


def table(head: list[str], rows: list[list[str]]) -> list[str]:
    """Return a table of Markdown, and an empty line."""
    lines = [head, ["---"] * len(head), *rows]
    return [*("| " + " | ".join(line) + " |" for line in lines), ""]


def _survival(result: Mapping) -> list[str]:
    climates = result["climates"]
    keepers = list(next(iter(climates.values()))["keepers"])
    rows = [[name, *(percent(one["keepers"][k]["survival"]) for k in keepers)] for name, one in climates.items()]
    return ["## Alive at the next spring, in a hundred", "", *table(["climate", *keepers], rows)]


def _beside(result: Mapping) -> list[str]:
    rows = []
    for name, one in result["climates"].items():
        for keeper in BESIDE:
            less = one["beside"][keeper]
            below = [other for other in less if not not_below(one, keeper, other)]
            cells = [points(less[other]["survival"]) for other in less]
            rows.append([name, keeper, *cells, ", ".join(f"below {other}" for other in below) or "no"])
    head = ["climate", "keeper", "less nothing", "less the calendar", "surely below"]
    return ["## The advice beside nothing and beside the calendar, colonies in a hundred", "", *table(head, rows)]


def _work(result: Mapping) -> list[str]:
    rows = []
    for name, one in result["climates"].items():
        for keeper, found in one["keepers"].items():
            cells = [number(found[key]) for key in ("honey_kg", "hours", "openings", "treatments")]
            ends = ", ".join(f"{end} {count}" for end, count in found["ends"].items() if count and end != "alive")
            rows.append([name, keeper, *cells, ends])
    head = ["climate", "keeper", "honey, kg", "hours", "openings", "treatments", "how colonies ended"]
    return ["## Honey and work, a colony and year", "", *table(head, rows)]


def _kinds(result: Mapping) -> list[str]:
    climates = result["climates"]
    kinds = list(next(iter(climates.values()))["kinds"])
    rows = [
        [name, *(f"{points(one['kinds'][k]['survival'])}, {one['kinds'][k]['hours'][0]:+.1f} h" for k in kinds)]
        for name, one in climates.items()
    ]
    words = "All looks less all but that kind, on a fifth of the seeds: colonies in a hundred, and hours a year."
    return ["## What each kind of look is worth", "", words, "", *table(["climate", *kinds], rows)]


def _dangers(result: Mapping) -> list[str]:
    climates = result["climates"]
    dangers = list(next(iter(climates.values()))["dangers"])
    rows = [[name, *(points(one["dangers"][d]["less"]) for d in dangers)] for name, one in climates.items()]
    words = "Each beside the same calendar without it, colonies in a hundred."
    return ["## Planted dangers", "", words, "", *table(["climate", *dangers], rows)]


def _figures(result: Mapping) -> list[str]:
    figures = result.get("figures") or []
    if not figures:
        return []
    apart = [one for one in figures if not one.get("fitted")]
    inside = sum(one["inside"] for one in apart)
    rows = []
    for one in figures:
        state = "inside" if one["inside"] else "outside"
        state += ", fitted" if one.get("fitted") else ""
        interval = f"{one['low']:g} to {one['high']:g} ({one['within']})"
        rows.append([one["what"], one["climate"], interval, f"{one['value']:.3g}", state, ", ".join(one["source"])])
    why = [f"- **{one['what']}**, {one['climate']}: {one['explained']}" for one in figures if not one["inside"]]
    head = ["figure", "climate", "published", "world", "", "source"]
    words = f"{inside} of {len(apart)} figures held apart come out inside; the others are explained below the table."
    return ["## The world beside published figures", "", words, "", *table(head, rows), *why, ""]


def _sensitivity(result: Mapping) -> list[str]:
    found = result.get("sensitivity")
    if not found:
        return []
    numbers = shipped()
    rows = []
    for one in found["rows"][:SHOWN_NUMBERS]:
        row = numbers[f"world.{one['number']}"]
        change = [f"{100 * value:+.1f}" for value in one["change"]]
        untreated = [f"{100 * value:.0f}" for value in one["untreated"]]
        ends = [f"{end:g}" for end in one["ends"]]
        rows.append([one["number"], row.unit or "", *ends, *change, *untreated])
    asked = [
        [one["number"], *(f"{end:g}" for end in one["ends"]), *map(points, one["worth"])] for one in found["asked"]
    ]
    head = ["number", "unit", "low", "high", "at low", "at high", "untreated at low", "untreated at high"]
    return [
        "## What hangs on which number",
        "",
        f"In {found['climate']}, one number at a time at both ends of its band: how survival under the calendar changes, in a hundred, and "
        f"how many live untreated. The {SHOWN_NUMBERS} that move most.",
        "",
        *table(head, rows),
        "The advice with all looks less the calendar, colonies in a hundred, at the ends of those that move most:",
        "",
        *table(["number", "low", "high", "at low", "at high"], asked),
    ]


PARTS = (_survival, _beside, _work, _kinds, _dangers)


def main() -> None:
    """Write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("result", type=Path, help="JSON written by hiveweek worth --out")
    found = json.loads(parser.parse_args().result.read_text(encoding="utf-8"))
    path = content.root() / "docs" / PAGE
    path.write_text(page(found), encoding="utf-8")
    print(path)


if __name__ == "__main__":
    main()
