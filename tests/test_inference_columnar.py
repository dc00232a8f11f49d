"""The columnar evaluator against the plain meaning, on random rulesets, and its two-hive rules by hand."""

import dataclasses

import numpy as np
import pytest
from plan_kit import Book
from reference_meaning import CODE, Reference
from test_inference_channels import assert_like_the_reference

from hiveweek.inference.columnar import infer
from hiveweek.language.truth import Truth
from upkeep.specimens import specimen


@pytest.mark.parametrize("block", range(4))
def test_every_outcome_is_that_of_the_plain_meaning(block):
    for seed in range(50 * block, 50 * block + 50):
        ruleset, table = specimen(seed)
        assert_like_the_reference(ruleset, table)
        inference, plain = infer(ruleset, table), Reference(ruleset, table)
        for prohibition in ruleset.prohibitions.values():
            for hive in range(len(table)):
                where = dict.fromkeys(prohibition.roles or (None,), hive)
                point, firm = (CODE[plain.truth(prohibition.when, where, f)] for f in (False, True))
                assert inference.holds(prohibition.when, hive, hive, prohibition.roles)[:2] == (point, firm)
                if prohibition.roles:
                    assert inference.prohibits(prohibition.id, hive) == (Truth.FALSE, Truth.FALSE, 0.0)


def pairs(prefer=None, **hives):
    book = Book()
    book.rule(
        "u.unite",
        ["weak.colony.frames_of_bees < 4", "strong.colony.frames_of_bees > 6"],
        "unite-colonies",
        roles=("weak", "strong"),
        at="weak",
        prefer=book.condition(f"{prefer[0]} < 1", ("weak", "strong")).left if prefer else None,
    )
    if prefer:
        book.rules["u.unite"] = dataclasses.replace(
            book.rules["u.unite"], prefer=(book.rules["u.unite"].prefer, prefer[1])
        )
    cells = {name: {"colony.frames_of_bees": value} if value is not None else {} for name, value in hives.items()}
    return book.infer(cells)


def test_partners_are_given_once_best_first():
    inference = pairs(("strong.colony.frames_of_bees", "desc"), A=2.0, B=9.0, C=3.0, D=12.0)
    assert inference.partners["u.unite"] == [3, None, 1, None]
    assert inference.rules["u.unite"].point.tolist() == [1, -1, 1, -1]
    other = pairs(("strong.colony.frames_of_bees", "asc"), A=2.0, B=9.0, C=3.0, D=12.0)
    assert other.partners["u.unite"] == [1, None, 3, None]
    short = pairs(None, A=2.0, B=9.0, C=3.0)
    assert short.partners["u.unite"] == [1, None, None] and short.rules["u.unite"].point.tolist() == [1, -1, -1]
    assert short.pairs["u.unite"] == {"point": {(0, 1), (2, 1)}, "firm": {(0, 1), (2, 1)}}
    nobody = pairs(None, A=5.0, B=5.0)
    assert nobody.partners["u.unite"] == [None, None] and nobody.rules["u.unite"].chance.tolist() == [0, 0]
    assert pairs(None).partners["u.unite"] == []


def test_a_partner_in_doubt_or_unknown_is_kept_for_the_look():
    doubt = pairs(None, A=2.0, B=(7.0, 5.0, 9.0))
    point, firm, chance = doubt.rules["u.unite"].at(0)
    assert (point, firm) == (Truth.TRUE, Truth.UNDECIDED) and 0.5 < chance < 1
    assert doubt.pairs["u.unite"] == {"point": {(0, 1)}, "firm": set()}
    fails = pairs(None, A=2.0, B=(5.0, 4.0, 8.0))
    assert fails.rules["u.unite"].at(0)[:2] == (Truth.FALSE, Truth.UNDECIDED)
    assert fails.partners["u.unite"] == [1, None]
    open_ = pairs(None, A=2.0, B=None)
    assert open_.rules["u.unite"].at(0) == (Truth.UNDECIDED, Truth.UNDECIDED, 0.0)
    # B may be weak itself, and A is too weak to take it
    assert open_.partners["u.unite"] == [1, None]
    # one strong hive serves several that do not know yet
    several = pairs(("strong.colony.frames_of_bees", "desc"), A=None, B=None, C=9.0)
    assert several.partners["u.unite"][:2] == [2, 2]


def test_a_finding_of_the_yard_reaches_every_hive():
    book = Book()
    book.rule("a.rob", "food.days_left < 9", finding="robbing", reach="apiary")
    book.rule("b.own", "colony.robbed", finding="robbing")

    def found(**hives):
        outcome = book.infer({k: {"food.days_left": v} if v else {} for k, v in hives.items()}).findings["robbing"]
        return outcome.point.tolist(), outcome.firm.tolist(), np.round(outcome.chance, 3).tolist()

    assert found(A=3.0, B=30.0, C=None) == ([1, 1, 1], [1, 1, 1], [1, 1, 1])
    point, firm, chance = found(A=(8.0, 6.0, 12.0), B=30.0)
    assert point == [1, 1] and firm == [0, 0] and chance[0] == chance[1] and 0.5 < chance[0] < 1
    assert found(A=30.0, B=None) == ([0, 0], [0, 0], [0, 0])
    both = Book()
    both.rule("a.one", "food.days_left < 9", finding="weak")
    both.rule("b.two", "food.stores_kg < 5", finding="weak")
    outcome = both.infer({"A": {"food.days_left": (8.0, 6.0, 12.0), "food.stores_kg": (4.0, 2.0, 8.0)}}).findings[
        "weak"
    ]
    one = both.infer({"A": {"food.days_left": (8.0, 6.0, 12.0), "food.stores_kg": 9.0}}).findings["weak"].chance[0]
    two = both.infer({"A": {"food.days_left": 30.0, "food.stores_kg": (4.0, 2.0, 8.0)}}).findings["weak"].chance[0]
    assert outcome.chance[0] == pytest.approx(1 - (1 - one) * (1 - two))
