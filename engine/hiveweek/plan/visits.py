"""The week's jobs gathered into visits, with what to take along."""

from __future__ import annotations

import datetime as dt

from hiveweek.plan.model import HivePlan

OUTSIDE, OPENING, OFFICE = "outside", "opening", "at_home"


def visits(
    hives: list[HivePlan],
    vocabulary,
    today: dt.date,
    best_day: dt.date | None,
    *,
    hungry=None,
    left_at_home=frozenset(),
) -> list[dict]:
    """Return the visits of the week.

    Parameters
    ----------
    hives : list of HivePlan
        With their kept advice.
    vocabulary : Vocabulary
        For what is opened, minutes and kit.
    today, best_day : date
        Day of the answer; best day for opening, None where not known.
    hungry : callable, optional
        ``(action, row) -> bool``: feeding from above that does not wait for a fit day.
    left_at_home : set of str
        Kit that is not taken along, such as the smoker under a fire ban.

    Returns
    -------
    list of dict
        At most three: what is done from home, what is done outside the hives (any day; a dead hive is shut and a starving one
        fed from above then too), what opens hives (the best day).
        Each: ``what``, ``day``, ``hives`` (``hive``, ``actions``; suspected hives last), ``minutes``, ``kit``.
    """
    rows = {hive.id: row for row, hive in enumerate(hives)}
    sorted_hives = sorted(hives, key=lambda h: h.suspect)

    def kind_of(hive: HivePlan, action: str) -> str:
        body = vocabulary.actions[action]
        if body.any_day or (hungry is not None and hungry(action, rows[hive.id])):
            return OUTSIDE
        if body.at_home:
            return OFFICE
        return OUTSIDE if body.opens == "nothing" else OPENING

    def done(hive: HivePlan) -> list:
        return [advice for advice in hive.advice if not vocabulary.actions[advice.action].leaves_closed]

    outside = [a for h in hives for a in done(h) if kind_of(h, a.action) == OUTSIDE]
    urgent = any(
        a.band == 0
        or (a.by is not None and a.by <= today)
        or vocabulary.actions[a.action].any_day
        or vocabulary.actions[a.action].opens != "nothing"
        for a in outside
    )
    days = {OFFICE: today, OUTSIDE: today if urgent or best_day is None else best_day, OPENING: best_day}
    result = []
    yard_done: set[str] = set()
    for kind in (OFFICE, OUTSIDE, OPENING):
        stops: list[dict] = []
        kit: set[str] = set()
        minutes = 0.0
        for hive in sorted_hives:
            actions = []
            for advice in done(hive):
                body = vocabulary.actions[advice.action]
                if kind_of(hive, advice.action) != kind:
                    continue
                if body.scope == "apiary":
                    if advice.action in yard_done:
                        continue
                    yard_done.add(advice.action)
                actions.append(advice.action)
                kit.update(item for item in body.kit if item not in left_at_home)
                minutes += body.minutes
            if actions:
                stops.append({"hive": hive.id, "actions": actions})
        if stops:
            result.append(
                {"what": kind, "day": days[kind], "hives": stops, "minutes": round(minutes), "kit": sorted(kit)}
            )
    return result
