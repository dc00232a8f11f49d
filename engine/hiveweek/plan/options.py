"""The treatments that can be used this week, by active ingredient."""

from __future__ import annotations

from hiveweek.plan.safety import Safety
from hiveweek.plan.words import Filler, plain

TREATING = "treat-mites"


def options(inference, safety: Safety, filler: Filler, hive: int, action: str = TREATING) -> list[dict]:
    """Return what each active ingredient may do at a hive this week.

    Parameters
    ----------
    inference : Inference
        With an outcome for each bar of each option.
    hive : int
        Row of the hive.

    Returns
    -------
    list of dict
        One for each active, by name: ``active``, ``allowed`` (True where a form of it can be used, False where every form
        is barred, None where something not known decides), ``because`` (form by form).
    """
    by_active: dict[str, list[tuple]] = {}
    for option in sorted(inference.ruleset.options.values(), key=lambda o: (o.active, o.form, o.id)):
        allowed, why = _one(inference, safety, filler, option, hive, action)
        by_active.setdefault(option.active, []).append((option, allowed, why))
    result = []
    for active, forms in by_active.items():
        states = [allowed for _, allowed, _ in forms]
        allowed = True if True in states else (None if None in states else False)
        texts = [f"{plain(option.form)}: {why}" if len(forms) > 1 else why for option, _, why in forms]
        result.append({"active": active, "allowed": allowed, "because": " ".join(texts)})
    return result


def _one(inference, safety, filler, option, hive, action):
    """Return (allowed, because) of one option."""
    where = {None: hive}
    unknown = []
    listed = _listed(inference.ruleset.jurisdiction, option.active)
    if listed:
        return False, listed
    for (_, because, _), outcome in zip(option.bars, inference.options[option.id], strict=True):
        point = int(outcome.point[hive])
        if point == 1:
            return False, _sentence("Not now: " + filler.fill(because, where)[0])
        if point == -1:
            unknown.append(filler.fill(because, where)[0])
    for prohibition in safety.of_option(action, option.active):
        point, _, _ = inference.prohibits(prohibition.id, hive)
        because = filler.fill(prohibition.because, where)[0]
        if point == 1:
            return False, _sentence("Not now: " + because)
        if point == -1 and prohibition.if_unknown != "pass":
            unknown.append(because)
    if unknown:
        return None, _sentence("Not decided, because something is not known: " + unknown[0])
    text = filler.fill(option.because, where)[0] or "Nothing known here bars it."
    if option.length:
        text = f"{_sentence(text)} Course: {option.length}"
    return True, _sentence(text)


def _listed(jurisdiction: dict | None, active: str) -> str | None:
    """Return why the place's list keeps an active out; None where it is listed or no list is known."""
    registered = (jurisdiction or {}).get("registered_actives")
    if not isinstance(registered, list) or not registered:
        return None
    names = {str(item.get("active") if isinstance(item, dict) else item) for item in registered}
    family = {active, active.split("_")[0]}
    if names & family:
        return None
    name = jurisdiction.get("name", "this place")
    return f"Not on the list seen for {name}; check the current rule there."


def _sentence(text: str) -> str:
    text = " ".join(text.split())
    return text if text.endswith((".", "?")) else text + "."
