"""What a prohibition forbids, and what follows from each truth it can have."""

import itertools

import pytest
from meaning_kit import F, T, U

from hiveweek.language.terms import Flag, Ref
from hiveweek.rules.forbidden import Follows, aims_at, concerns, follows, names_option, spared_where
from hiveweek.rules.model import Prohibition, Target
from hiveweek.vocabulary.model import Action

WHEN = Flag(Ref("b.y0"))
NOTHING, HOLDS, CHECK, ASK = Follows.NOTHING, Follows.HOLDS, Follows.CHECK, Follows.ASK
# (point, firm): what follows by what a stopping prohibition says of the unknown (ask, check, pass)
STOPS = {
    (T, T): (HOLDS, HOLDS, HOLDS),
    (T, U): (HOLDS, HOLDS, HOLDS),  # in doubt, but true on what is known
    (U, U): (ASK, CHECK, NOTHING),
    (F, U): (CHECK, CHECK, NOTHING),  # false on what is known: no reason to withhold
    (F, F): (NOTHING, NOTHING, NOTHING),
}


def prohibition(*targets, effect="stop", **more):
    return Prohibition("p", targets, WHEN, effect, **more)


@pytest.mark.parametrize(("truths", "said"), STOPS.items())
def test_what_follows_from_a_prohibition_that_stops(truths, said):
    assert tuple(follows(prohibition(if_unknown=way), *truths) for way in ("ask", "check", "pass")) == said


@pytest.mark.parametrize(("truths", "effect"), list(itertools.product(STOPS, ("first", "day"))))
def test_what_leaves_the_action_where_it_is_withholds_nothing_for_a_look(truths, effect):
    asked, checked, passed = (
        follows(prohibition(effect=effect, if_unknown=w), *truths) for w in ("ask", "check", "pass")
    )
    assert asked == checked == STOPS[truths][1] and passed == STOPS[truths][2]


HARVEST = Action("take-honey", "", opens="frames", uses=("smoke",), moves=("honey", "frames"))
WALK = Action("walk-by", "")


@pytest.mark.parametrize(
    ("target", "aimed"),
    [
        (Target("action", "take-honey"), True),
        (Target("action", "walk-by"), False),
        (Target("uses", "smoke"), True),
        (Target("uses", "honey"), False),
        (Target("moves", "frames"), True),
        (Target("moves", "smoke"), False),
        (Target("opens", "frames"), True),
        (Target("opens", "lid"), False),
        (Target("opens", "any"), True),
        (Target("option", "take-honey", "formic"), False),
    ],
)
def test_what_a_target_reaches(target, aimed):
    assert aims_at(prohibition(target), HARVEST) is aimed
    assert aims_at(prohibition(Target("action", "other"), target), HARVEST) is aimed
    assert not aims_at(prohibition(target, excepted=("take-honey",)), HARVEST)


def test_opening_anything_leaves_out_what_opens_nothing():
    assert not aims_at(prohibition(Target("opens", "any")), WALK)
    assert aims_at(prohibition(Target("opens", "nothing")), WALK)


def test_one_over_two_hives_concerns_only_advice_with_a_partner():
    over_two = prohibition(Target("action", "take-honey"), roles=("one", "other"))
    assert concerns(over_two, HARVEST, paired=True) and not concerns(over_two, HARVEST, paired=False)
    assert concerns(prohibition(Target("action", "take-honey")), HARVEST, paired=False)
    assert not concerns(over_two, WALK, paired=True)


def test_an_option_is_named_by_action_and_active():
    named = prohibition(Target("option", "treat-mites", "thymol"))
    assert names_option(named, "treat-mites", "thymol")
    assert not names_option(named, "treat-mites", "formic") and not names_option(named, "requeen", "thymol")
    assert not names_option(prohibition(Target("action", "treat-mites")), "treat-mites", "thymol")


def test_only_what_is_named_is_spared():
    sparing = prohibition(Target("opens", "any"), spares=("feed-candy",), spares_where=WHEN)
    assert spared_where(sparing, "feed-candy") is WHEN and spared_where(sparing, "take-honey") is None
