"""The week's jobs gathered into visits, with what to take along."""

from __future__ import annotations

import datetime as dt

from hiveweek.plan.model import HivePlan

OUTSIDE, OPENING, OFFICE = "outside", "opening", "at_home"
AT_HOME = frozenset({"report-notifiable", "report-poisoning", "update-records", "order-queen", "plan-mite-treatment",
                     "wait-and-recheck"})


def visits(hives: list[HivePlan], vocabulary, today: dt.date, best_day: dt.date | None) -> list[dict]:
    """Return the visits of the week.

    Parameters
    ----------
    hives : list of HivePlan
        With their kept advice.
    vocabulary : Vocabulary
        For what is opened, minutes and kit.
    today, best_day : date
        Day of the answer; best day for opening, None where not known.

    Returns
    -------
    list of dict
        At most three: what is done from home, what is done outside the hives (any day), what opens hives (the best day).
        Each: ``what``, ``day``, ``hives`` (``hive``, ``actions``; suspected hives last), ``minutes``, ``kit``.
    """
    sorted_hives = sorted(hives, key=lambda h: h.suspect)
    result = []
    urgent = any(a.band == 0 or (a.by is not None and a.by <= today) for h in hives for a in h.advice
                 if a.action != "leave-closed" and _kind(vocabulary, a.action) == OUTSIDE)
    days = {OFFICE: today, OUTSIDE: today if urgent or best_day is None else best_day, OPENING: best_day}
    yard_done: set[str] = set()
    for kind in (OFFICE, OUTSIDE, OPENING):
        stops, kit, minutes = [], set(), 0.0
        for hive in sorted_hives:
            actions = []
            for advice in hive.advice:
                body = vocabulary.actions[advice.action]
                if advice.action == "leave-closed" or _kind(vocabulary, advice.action) != kind:
                    continue
                if body.scope == "apiary":
                    if advice.action in yard_done:
                        continue
                    yard_done.add(advice.action)
                actions.append(advice.action)
                kit.update(body.kit)
                minutes += body.minutes
            if actions:
                stops.append({"hive": hive.id, "actions": actions})
        if stops:
            result.append({"what": kind, "day": days[kind], "hives": stops, "minutes": round(minutes), "kit": sorted(kit)})
    return result


def _kind(vocabulary, action: str) -> str:
    if action in AT_HOME:
        return OFFICE
    return OUTSIDE if vocabulary.actions[action].opens == "nothing" else OPENING
