"""Days of a forecast beside what is usual: too far off, and a unit or a place is wrong."""

from __future__ import annotations

import math

import numpy as np

from hiveweek.climate.forecast import Day
from hiveweek.climate.profiles import Profile
from hiveweek.numbers import Branch
from hiveweek.problems import InputProblems, Problem
from hiveweek.texts.parts import DIFFERENCE, Phrase, Quantity, message


def far_from_usual(days: list[Day], profile: Profile, name: str, numbers: Branch) -> list[Phrase]:
    """Tell days that lie farther from usual than weather mostly does.

    Parameters
    ----------
    days : list of Day
        Of the week asked about and the three days before it; days without a low or a high are passed over.
    profile : Profile
    name : str
        The file as people named it.
    numbers : Branch
        ``weather.*``: ``spread.odd_sd``, ``spread.wrong_sd`` and ``spread.wrong_least_c``, against the mean over the days.

    Returns
    -------
    list of Phrase
        At most one; none where the climate does not say what is usual.

    Raises
    ------
    InputProblems
        Where they lie so far off that the file cannot be meant, as where it is in degF.
    """
    told = [day for day in days if not (math.isnan(day.tmin) or math.isnan(day.tmax))]
    if not told:
        return []
    usual = [profile.daily.days(day.date, 1) for day in told]
    mean, sd = (np.array([float(one[key][0]) for one in usual]) for key in ("tmean", "sd"))
    off = np.array([(day.tmin + day.tmax) / 2 for day in told]) - mean
    if not (np.isfinite(off).all() and np.isfinite(sd).all()):
        return []
    far, spreads = float(off.mean()), float((off / np.maximum(sd, 0.1)).mean())
    warm = "warmer" if far > 0 else "colder"
    if abs(spreads) > numbers.spread.wrong_sd and abs(far) > numbers.spread.wrong_least_c:
        text = f"its days are {abs(far):.0f} degC {warm} than usual here ({mean.mean():.0f} degC), more than weather can be"
        hint = (
            "; temperatures are wanted in degC: are these in degF?" if far > 0 else "; is it of this place and season?"
        )
        raise InputProblems([Problem(name, told[0].line, 1, "far-from-usual", text + hint)])
    if abs(spreads) > numbers.spread.odd_sd:
        return [message(f"note.forecast-{warm}", far=Quantity(abs(far), "degC", kind=DIFFERENCE))]
    return []
