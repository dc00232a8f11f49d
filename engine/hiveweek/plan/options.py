"""The treatments that can be used this week, by active ingredient."""

from __future__ import annotations

from hiveweek.language.truth import Truth
from hiveweek.plan.deciding import KNOWN, Deciding
from hiveweek.plan.safety import Safety
from hiveweek.plan.words import Filler, plain
from hiveweek.rules.forbidden import Follows, follows


def options(inference, safety: Safety, filler: Filler, hive: int, action: str) -> list[dict]:
    """Return what each active ingredient may do at a hive this week.

    Parameters
    ----------
    inference : Inference
        With an outcome for each bar of each option.
    hive : int
        Row of the hive.
    action : str
        The action they are options of.

    Returns
    -------
    list of dict
        One for each active, by name: ``active``, ``allowed`` (True where a form of it can be used, False where every form
        is barred, None where something not known decides), ``because`` (form by form, with course, honey and what protects
        the keeper), ``forms`` (the same in pieces, for screens: ``form``, ``allowed``, ``because``, ``course``, ``honey``,
        ``care``; the last three only where the form is not barred).
    """
    by_active: dict[str, list[dict]] = {}
    for option in sorted(inference.ruleset.options.values(), key=lambda o: (o.active, o.form, o.id)):
        allowed, why = _one(inference, safety, filler, option, hive, action)
        form = {"form": plain(option.form), "allowed": allowed, "because": why, "course": "", "honey": "", "care": ""}
        if allowed is not False:
            form |= {
                "course": option.length,
                "honey": option.withdrawal,
                "care": filler.fill(option.safety, {None: hive})[0],
            }
        by_active.setdefault(option.active, []).append(form)
    result = []
    for active, forms in by_active.items():
        states = [form["allowed"] for form in forms]
        allowed = True if True in states else (None if None in states else False)
        texts = [f"{form['form']}: {_whole(form)}" if len(forms) > 1 else _whole(form) for form in forms]
        result.append({"active": active, "allowed": allowed, "because": " ".join(texts), "forms": forms})
    return result


def _whole(form: dict) -> str:
    """One form in a few sentences."""
    said = [form["because"]]
    for words, key in (("Course", "course"), ("Honey", "honey"), ("Wear and mind", "care")):
        if form[key]:
            said.append(_sentence(f"{words}: {form[key]}"))
    return " ".join(said)


def _one(inference, safety, filler, option, hive, action):
    """Return (allowed, because) of one option."""
    where = {None: hive}
    listed = _listed(inference.ruleset.jurisdiction, option.active)
    if listed:
        return False, listed
    open_conditions = []
    for (condition, because, _), outcome in zip(option.bars, inference.options[option.id], strict=True):
        point = outcome.at(hive)[0]
        if point == Truth.TRUE:
            return False, _sentence("Not now: " + filler.fill(because, where)[0])
        if point == Truth.UNDECIDED:
            open_conditions.append(condition)
    for prohibition in safety.of_option(action, option.active):
        point, _, _ = inference.prohibits(prohibition.id, hive)
        answer = follows(prohibition, point, point)
        if answer is Follows.HOLDS:
            return False, _sentence("Not now: " + filler.fill(prohibition.because, where)[0])
        if answer is not Follows.NOTHING:
            open_conditions.append(prohibition.when)
    if open_conditions:
        labels = missing(safety.deciding, open_conditions, hive)
        return None, _sentence(
            "Not known here, and it decides: " + (", ".join(labels) or "see the label of the product")
        )
    return True, _sentence(filler.fill(option.because, where)[0] or "Nothing known here bars it")


def missing(deciding: Deciding, conditions: list, hive: int) -> list[str]:
    """Return the names of the facts whose absence keeps conditions from being known false, at most four."""
    labels: dict[str, None] = {}
    facts = deciding.table.vocabulary.facts
    for condition in conditions:
        for openings in deciding.condition(condition, {None: hive}, (), False, KNOWN)[:1]:
            for opening in sorted(openings, key=lambda o: o.key):
                labels |= {facts[fact].label or fact: None for _, fact in opening.facts}
    return list(labels)[:4]


def _listed(jurisdiction: dict | None, active: str) -> str | None:
    """Return why the place's list keeps an active out; None where it is listed or no list is known.

    Names are compared whole: a list with oxalic acid for dribble and vapour says nothing of strips.
    """
    registered = (jurisdiction or {}).get("registered_actives")
    if not isinstance(registered, list) or not registered:
        return None
    if active in {str(item.get("active") if isinstance(item, dict) else item) for item in registered}:
        return None
    name = jurisdiction.get("name", "this place")
    return f"Not on the list seen for {name}; check the current rule there."


def _sentence(text: str) -> str:
    text = " ".join(text.split())
    return text if text.endswith((".", "?")) else text + "."
