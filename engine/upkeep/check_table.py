"""The table of models against published figures: ``python -m upkeep.check_table`` writes ``docs/models.md``.

The published figures stand in ``docs/models.yaml``; each names one of the functions here and its inputs.
"""

from __future__ import annotations

import argparse
import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from hiveweek import content, shapes
from hiveweek.climate import moist_air
from hiveweek.colony import damp, food, heat, mites, population, strength, year
from hiveweek.colony.estimate import Estimate
from hiveweek.colony.feeding import feed_for
from hiveweek.colony.runway import runway
from hiveweek.numbers import shipped
from hiveweek.problems import InputProblems, nearest

DEEP = 8.8  # dm2, one side of a deep comb


@dataclass(frozen=True)
class Row:
    """One published figure and what the model gives.

    Attributes
    ----------
    low, high : float
        The published band, widened by its tolerance.
    given : str
        What the model was given.
    """

    what: str
    unit: str
    said: str
    model: float
    low: float
    high: float
    source: str
    status: str
    why: str
    given: str

    @property
    def inside(self) -> bool:
        """Whether the model lies in the published band."""
        return self.low <= self.model <= self.high


def _bare() -> float:
    return float(heat.hive_w_per_k(1.0, 0.0, 0.0, 0.0, 0.0))


@lru_cache(maxsize=64)
def _place(name: str, date: str):
    from hiveweek.climate import load_profile  # here only: the models themselves know no profiles

    profile = load_profile(name)
    usual = year.usual_year(profile.daily, profile.calendar)
    day = dt.date.fromisoformat(date)
    season = {key: year.plain(value) for key, value in profile.calendar.facts(day).items()}
    return usual, season, day, year.around(usual.days, day)[1]


def _bees(frames: float) -> float:
    return float(strength.bees([frames], [DEEP]).value[0])


def use_day(bees, cells, c):
    """kg a day."""
    return float(food.daily_use(float(bees), float(cells), float(c), _bare()))


def use_week(bees, cells, c):
    """kg in 7 days."""
    return 7 * use_day(bees, cells, c)


def use_month(bees, cells, c):
    """kg in 30 days."""
    return 30 * use_day(bees, cells, c)


def use_season(place, date, days, frames):
    """kg over some days of a usual year, nothing found outside."""
    ahead = _place(place, date)[3]
    p = shipped().model
    bees = np.array([_bees(frames)])
    cells = population.usual_cells(bees, ahead.laying[0])
    eaten = 0.0
    for day in range(int(days)):
        eaten += float(food.daily_use(bees, cells, ahead.outdoor_c[day], _bare())[0])
        bees, cells = population.step(bees, cells, ahead.laying[day], ahead.dying[day], p)
    return eaten


def use_winter_week(place, date, days, frames):
    """kg a week over some days of a usual year."""
    return use_season(place, date, days, frames) * 7 / days


def need(place, date, frames):
    """kg that 9 in 10 such colonies need from the date to reliable forage and three weeks on."""
    usual, season, day, ahead = _place(place, date)
    horizon = year.food_horizon(
        usual,
        day,
        np.array([season["season.weeks_to_forage"]]),
        np.array([season["season.weeks_to_winter"]]),
        np.array([float(season["season.dearth"])]),
    )
    nothing = Estimate(*(np.array([np.nan]) for _ in range(3)))
    assert horizon[0] is not None
    run = runway(np.array([_bees(frames)]), np.array([np.nan]), nothing, np.array([_bare()]), ahead, horizon[0])
    return float(run.need_kg.value[0])


def mesh_ratio(bees, cells, c):
    """Use over open mesh against use over a solid floor."""
    mesh = float(heat.hive_w_per_k(1.0, 0.0, 0.0, 0.0, 1.0))
    return float(food.daily_use(float(bees), float(cells), float(c), mesh)) / use_day(bees, cells, c)


def bees_in_march(place, date, bees, days):
    """Bees left after a winter."""
    ahead = _place(place, date)[3]
    return float(population.later_bees([float(bees)], [np.nan], [float(days)], ahead.laying, ahead.dying)[0])


MODELS: dict[str, Callable[..., float]] = {
    "use_day": use_day,
    "use_week": use_week,
    "use_month": use_month,
    "use_season": use_season,
    "use_winter_week": use_winter_week,
    "need": need,
    "mesh_ratio": mesh_ratio,
    "bees_in_march": bees_in_march,
    "resting": lambda grams: float(heat.least_w(grams / shipped().model.bees.bee_mass_g, shipped().model)),
    "bees_on_comb": lambda dm2: float(strength.bees([1.0], [dm2]).value[0]),
    "honey_on_comb": lambda dm2: float(strength.stores_from_frames([1.0], [dm2]).value[0]),
    "sugar_for": lambda kg: float(feed_for([0.0], [float(kg)], [0.0]).sugar_kg.value[0]),
    "water": lambda kg: float(damp.water_g_day(kg)) / 1000,
    "mass_over_loss": lambda kg: kg / _bare(),
    "dew": lambda c, rh: float(moist_air.dew_point_c(moist_air.saturation_hpa(c) * rh / 100)),
    "mite_rate": lambda mites, bees: float(_rate(mites, bees).value[0]),
    "mite_high": lambda mites, bees: float(_rate(mites, bees).high[0]),
    "back": lambda kill: -math.log1p(-kill) / shipped().model.mites.growth_per_day,
    "drop_total": lambda drop: float(mites.colony_mites_from_drop([float(drop)], [2.0]).value[0]),
}


def _rate(count, bees) -> Estimate:
    return mites.rate([count], [bees], 0)


def rows(path: Path | None = None) -> list[Row]:
    """Work out every row of the file.

    Raises
    ------
    InputProblems
        For a row without its keys, or one that names a model that is not there.
    """
    path = path or content.root() / "docs" / "models.yaml"
    document = shapes.read(path, "models")
    problems, out = document.problems, []
    if problems:
        raise InputProblems(problems)
    for i, row in enumerate(document.data["rows"]):
        if row["model"] not in MODELS:
            said = f"'{row['model']}' is no model{nearest(row['model'], MODELS)}"
            problems.append(document.problem(("rows", i, "model"), "unknown-model", said))
            continue
        low, high = row["published"]
        slack = row.get("tolerance", 0.0)
        said = row.get("said", f"{low:g}" if low == high else f"{low:g}-{high:g}")
        out.append(
            Row(
                row["what"],
                row["unit"],
                said,
                MODELS[row["model"]](**row["with"]),
                low * (1 - slack),
                high * (1 + slack),
                row["source"],
                row["status"],
                row.get("why", ""),
                ", ".join(f"{k} {v}" for k, v in row["with"].items()),
            )
        )
    if problems:
        raise InputProblems(problems)
    return out


def page(table: list[Row]) -> str:
    """Return the page as Markdown."""
    inside = sum(row.inside for row in table)
    lines = [
        "# The colony models against published figures",
        "",
        "Made by `python -m upkeep.check_table` from `docs/models.yaml`; edit that, not this.",
        "",
        (
            "What the numbers mean: *use* is honey eaten with nothing coming in. *Stores before winter* is what 9 in 10 such "
            "colonies need from the date to reliable forage and three weeks beyond, less what is usually found outside on warm "
            "days. Colonies of one strength differ by about a quarter, so a single hive can lie well off any of these. Sources "
            "are keys of `rulesets/vocabulary/sources.yaml`; every parameter stands with its unit, source and status in "
            "`rulesets/vocabulary/numbers/model.yaml`. Published targets seldom say how many bees they are for; the frames of "
            "bees (deep) that the model was given are a usual autumn strength of the region and stand in the table."
        ),
        "",
        (
            f"{inside} of {len(table)} rows lie inside the published band (widened by the tolerance of the row); the others "
            "are explained below."
        ),
        "",
        "| figure | published | model | unit | inside | given | source | status |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for r in table:
        number = f"{r.model:.0f}" if r.model >= 1000 else f"{r.model:.3g}"
        lines.append(
            f"| {r.what} | {r.said} | {number} | {r.unit} | {'yes' if r.inside else 'no'} | {r.given} | {r.source} "
            f"| {r.status} |"
        )
    lines += ["", "## Outside, and why we stay", ""]
    lines += [
        f"- **{r.what}** (published {r.said}, model {r.model:.3g} {r.unit}): {r.why}" for r in table if not r.inside
    ]
    lines += [
        "",
        "## What the models leave out",
        "",
        "- Winter bees are one mass: no age classes, no race; use above the temperature of least use rests on judgement.",
        "- Fed and found sugar enter at once; ripening takes days.",
        ("- Floors and entrances are single numbers; draught through a hive is not worked out."),
        "- Condensation is a sign, not an amount; it is good to about 1.5 K.",
        "- Mites carried in from other colonies come on top of every projection.",
        "- The published single-number factors from daily drop to mites differ tenfold; the models give the range.",
        "",
    ]
    return "\n".join(lines)


def main(argv: list[str] | None = None) -> int:
    """Write the page, or with ``--check`` tell whether it is up to date (exit code 1 if not)."""
    parser = argparse.ArgumentParser(prog="python -m upkeep.check_table", description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true", help="write nothing; fail where docs/models.md is stale")
    args = parser.parse_args(argv)
    text = page(rows())
    target = content.root() / "docs" / "models.md"
    if args.check:
        return 0 if target.is_file() and target.read_text(encoding="utf-8") == text else 1
    target.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
