"""The treatments that can be used this week, by active ingredient."""

from __future__ import annotations

from hiveweek.language.terms import refs
from hiveweek.language.truth import Truth
from hiveweek.plan.deciding import KNOWN, Deciding
from hiveweek.plan.safety import Safety
from hiveweek.plan.words import Filler
from hiveweek.rules.forbidden import Follows, follows
from hiveweek.texts.parts import Message, Phrase, Sentence, Word, listed, message
from hiveweek.texts.reading import plain


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
        the keeper), ``forms`` (the same in pieces, for screens: ``form``, ``allowed``, ``because``, ``reason`` (what stands
        behind "not now" or "not known"), ``course``, ``honey``, ``care``; the last three only where the form is not
        barred, else None).
    """
    by_active: dict[str, list[dict]] = {}
    for option in sorted(inference.ruleset.options.values(), key=lambda o: (o.active, o.form, o.id)):
        allowed, because, reason = _one(inference, safety, filler, option, hive, action)
        form = {"form": Word(option.form), "allowed": allowed, "because": Sentence(because), "reason": reason}
        barred = allowed is False
        form |= {
            "course": None if barred else plain(option.length),
            "honey": None if barred else plain(option.withdrawal),
            "care": None if barred else filler.fill(option.safety, {None: hive})[0],
        }
        by_active.setdefault(option.active, []).append(form)
    result = []
    for active, forms in by_active.items():
        states = [form["allowed"] for form in forms]
        allowed = True if True in states else (None if None in states else False)
        texts = [
            message("labelled", label=form["form"], words=_whole(form)) if len(forms) > 1 else _whole(form)
            for form in forms
        ]
        result.append({"active": active, "allowed": allowed, "because": listed(texts, "space"), "forms": forms})
    return result


def _whole(form: dict) -> Phrase:
    """One form in a few sentences."""
    return listed([form["because"], *details(form)], "space")


def details(form: dict) -> list[Phrase]:
    """Return the course of a form, what its honey may be used for, and what protects the keeper, a sentence each."""
    return [Sentence(message(f"option.{key}", words=form[key])) for key in ("course", "honey", "care") if form[key]]


def _one(inference, safety, filler, option, hive, action) -> tuple[bool | None, Phrase, Phrase]:
    """Return (allowed, because, the reason alone) of one option."""
    where = {None: hive}
    unlisted = _unlisted(inference.ruleset.jurisdiction, option.active, option.form)
    if unlisted is not None:
        return False, unlisted, unlisted
    open_conditions, checks = [], []
    for (condition, because, _), outcome in zip(option.bars, inference.options[option.id], strict=True):
        point = outcome.at(hive)[0]
        if point == Truth.TRUE:
            return _barred(filler.fill(because, where)[0])
        if point == Truth.UNDECIDED:
            open_conditions.append(condition)
    for prohibition in safety.of_option(action, option.active):
        point, firm, _ = inference.prohibits(prohibition.id, hive)
        # Weather in doubt is settled by the day; what has to be looked up is not.
        wants_check = prohibition.if_unknown == "check"
        answer = follows(prohibition, point, firm if wants_check else point)
        if answer is Follows.HOLDS:
            return _barred(filler.fill(prohibition.because, where)[0])
        if answer is Follows.CHECK and wants_check:
            checks.append(filler.fill(prohibition.check, where)[0])
        elif answer is not Follows.NOTHING:
            open_conditions.append(prohibition.when)
    if open_conditions or checks:
        labels = [*checks, *missing(safety.deciding, open_conditions, hive)] or [message("option.see-label")]
        names = listed(labels, "comma")
        return None, message("option.not-known", facts=names), message("option.depends", facts=names)
    because = filler.fill(option.because, where)[0] or message("option.nothing-bars")
    return True, because, because


def _barred(reason: Phrase) -> tuple[bool, Phrase, Phrase]:
    return False, message("option.not-now", because=reason), reason


def missing(deciding: Deciding, conditions: list, hive: int) -> list[Phrase]:
    """Return the names of the facts whose absence keeps conditions from being known false, at most four."""
    labels: dict[Phrase, None] = {}
    facts = deciding.table.vocabulary.facts
    for condition in conditions:
        for openings in deciding.condition(condition, {None: hive}, (), False, KNOWN)[:1]:
            for opening in sorted(openings, key=lambda o: o.key):
                labels |= {plain(facts[fact].label or fact): None for _, fact in opening.facts}
        if not labels:  # what decides was seen once and has grown old: ask for the first of it again
            old = [ref.name for ref in _read(deciding, condition) if deciding.open(ref.name, hive, KNOWN)]
            labels |= {plain(facts[fact].label or fact): None for fact in old[:1]}
    return list(labels)[:4]


def _read(deciding: Deciding, condition) -> list:
    """The facts that a condition reads, those of the rules that give its findings too."""
    found = []
    for ref in refs(condition):
        given = (one for rule in deciding.giving(ref.finding) for one in refs(rule.when)) if ref.is_finding else (ref,)
        found += [one for one in given if not one.is_finding]
    return found


def _unlisted(jurisdiction: dict | None, active: str, form: str) -> Message | None:
    """Return why the place's list keeps a form of an active out; None where it is listed or no list is known.

    Names are compared whole: a list with oxalic acid for dribble and vapour says nothing of strips. An active listed without
    forms is listed in all.
    """
    place = jurisdiction or {}
    registered = place.get("registered_actives")
    if not isinstance(registered, list) or not registered:
        return None
    rows = [item if isinstance(item, dict) else {"active": item} for item in registered]
    for row in rows:
        if str(row.get("active")) == active and form in (row.get("forms") or [form]):
            return None
    return message("option.not-listed", place=place.get("name") or message("option.this-place"))
