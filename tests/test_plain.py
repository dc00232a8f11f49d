"""What goes through plain JSON comes back equal; what is not of its declared type is refused, whatever it is."""

from __future__ import annotations

import dataclasses
import datetime as dt
import enum
import json
import math
from collections.abc import Mapping
from typing import Literal, TypedDict

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hiveweek.plain import Codec, Unfit
from hiveweek.rules.model import RuleSet
from hiveweek.vocabulary.model import Vocabulary


class Colour(enum.IntEnum):
    RED = 1
    BLUE = 2


class Tag(TypedDict):
    name: str
    weight: float | None


@dataclasses.dataclass(frozen=True)
class Leaf:
    number: float
    text: str | None = None


@dataclasses.dataclass(frozen=True)
class Branch:
    parts: tuple[Node, ...] = ()
    day: dt.date | None = None


Node = Leaf | Branch


@dataclasses.dataclass
class Everything:
    node: Node
    flag: bool
    count: int
    either: str | bool
    pair: tuple[int, str]
    curve: tuple[tuple[float, float], ...]
    names: frozenset[str]
    rows: dict[str, Leaf]
    view: Mapping[str, list[int]]
    plain: dict
    anything: object
    colour: Colour
    word: Literal["up", "down"] | None
    tags: list[Tag]
    mixed: float | Leaf | Branch | None


texts = st.text(max_size=5)
floats = st.floats(allow_nan=False)
leaves = st.builds(Leaf, floats | st.integers(), st.none() | texts)
nodes = st.recursive(
    leaves,
    lambda inner: st.builds(Branch, st.lists(inner, max_size=3).map(tuple), st.none() | st.dates()),
    max_leaves=6,
)
yaml_values = st.recursive(
    st.none() | st.booleans() | st.integers() | floats | texts | st.dates(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
    max_leaves=6,
)
tags = st.fixed_dictionaries({"name": texts, "weight": st.none() | floats})
everything = st.builds(
    Everything,
    node=nodes,
    flag=st.booleans(),
    count=st.integers(),
    either=texts | st.booleans(),
    pair=st.tuples(st.integers(), texts),
    curve=st.lists(st.tuples(floats, floats), max_size=3).map(tuple),
    names=st.frozensets(texts, max_size=3),
    rows=st.dictionaries(texts, leaves, max_size=3),
    view=st.dictionaries(texts, st.lists(st.integers(), max_size=2), max_size=2),
    plain=st.dictionaries(texts, yaml_values, max_size=3),
    anything=yaml_values,
    colour=st.sampled_from(Colour),
    word=st.sampled_from(["up", "down", None]),
    tags=st.lists(tags, max_size=2),
    mixed=st.none() | floats | nodes,
)
CODEC = Codec(Everything)


def same(one, other):
    """Equal, and of one type all the way down (1 is not 1.0, nor True)."""
    if type(one) is not type(other):
        return False
    if dataclasses.is_dataclass(one):
        return all(same(getattr(one, f.name), getattr(other, f.name)) for f in dataclasses.fields(one))
    if isinstance(one, dict):
        return list(one) == list(other) and all(same(one[key], other[key]) for key in one)
    if isinstance(one, (list, tuple)):
        return len(one) == len(other) and all(map(same, one, other))
    return one == other


@settings(max_examples=200, deadline=None)
@given(everything)
def test_what_is_written_is_read(thing):
    text = CODEC.text(thing)
    assert same(CODEC.read(text), thing)
    assert CODEC.text(CODEC.read(text)) == text


@settings(max_examples=100, deadline=None)
@given(st.floats(allow_nan=False))
def test_numbers_come_back_to_the_last_bit(number):
    (back,) = Codec(list[float]).read(Codec(list[float]).text([number]))
    assert back == number and math.copysign(1, back) == math.copysign(1, number)


@settings(max_examples=300, deadline=None)
@given(everything, st.data())
def test_a_value_of_another_type_is_refused_or_read_as_declared(thing, data):
    """One place of the JSON is replaced; what is still read is of the declared types, so it can be written again."""
    tree = json.loads(CODEC.text(thing))
    at = data.draw(st.integers(0, len(tree) - 1))
    tree[at] = data.draw(
        st.recursive(st.none() | st.booleans() | st.integers() | floats | texts, lambda i: st.lists(i, max_size=3))
    )
    try:
        read = CODEC.read(json.dumps(tree))
    except Unfit:
        return
    assert same(CODEC.read(CODEC.text(read)), read)


@settings(max_examples=300, deadline=None)
@given(
    st.binary(max_size=60)
    | st.recursive(st.none() | st.integers() | texts, st.lists).map(lambda v: json.dumps(v).encode())
)
def test_no_bytes_make_it_stumble(raw):
    for codec in (CODEC, Codec(RuleSet), Codec(Vocabulary)):
        with pytest.raises(Unfit):
            codec.read(raw)


@pytest.mark.parametrize("raw", ["[" * 100_000, '{"a":' * 100_000, "9" * 5000, "[1e999999999]" * 2, "", "\ud800"])
def test_texts_that_are_too_much_are_refused(raw):
    with pytest.raises(Unfit):
        CODEC.read(raw)


@pytest.mark.parametrize(
    ("kind", "wrong"),
    [
        (list[int], [1.0]),
        (list[int], [True]),
        (list[float], ["1"]),
        (list[float], (1.0,)),
        (str, 1),
        (str | None, 1),
        (dict[str, int], {1: 1}),
        (dict, {"a": (1, 2)}),
        (dict, {"a": Leaf(1.0)}),
        (list, {"a": 1}),
        (tuple[int, str], (1, "a", "b")),
        (tuple[int, ...], ["a"]),
        (frozenset[str], {"a"}),
        (Leaf, Branch()),
        (Node, 1.0),
        (Node, Colour.RED),
        (Colour, 1),
        (Literal["a"], "b"),
        (dt.date, dt.datetime(2026, 2, 10)),
        (Tag, {"weight": 1.0}),
        (Tag, {"name": "a", "weight": 1.0, "more": 1}),
        (list[str], ["\ud800", 1]),
    ],
)
def test_what_does_not_fit_is_not_written(kind, wrong):
    with pytest.raises(Unfit):
        Codec(kind).text(wrong)


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (Leaf, "[1.0]"),
        (Leaf, "[1.0,null,null]"),
        (Leaf, '{"number":1.0,"text":null}'),
        (Leaf, "[true,null]"),
        (Node, '["Twig",[1.0,null]]'),
        (Node, '["Everything",[]]'),
        (Node, '[["Leaf"],[1.0,null]]'),
        (Node, "[1.0,null]"),
        (Colour, "[3]"),
        (Colour, "1"),
        (dt.date, '["2026-02-31"]'),
        (dt.date, "[20260210]"),
        (dict, '["list",[]]'),
        (dict, '["date","2026-02-10"]'),
        (list, '["tuple",[1]]'),
        (list, "[1]"),
        (list, "{}"),
        (dict[str, int], "[]"),
        (Literal["a"], '"b"'),
        (Literal["a"], "[]"),
        (tuple[int, str], "[1]"),
        (str, "[]"),
        (Tag, '{"name":"a","weight":1,"more":1}'),
        (Tag, '["name"]'),
    ],
)
def test_what_does_not_fit_is_not_read(kind, text):
    with pytest.raises(Unfit):
        Codec(kind).read(text)


@dataclasses.dataclass
class Vague:
    parts: tuple = ()


@pytest.mark.parametrize(
    "kind", [Vague, complex, dict[int, str], bytes, list[int] | list[str], tuple, type, None | bytes]
)
def test_a_type_that_says_too_little_is_a_mistake_of_the_programmer(kind):
    with pytest.raises(TypeError):
        Codec(kind)


def test_the_shape_names_every_field():
    """Another order of fields is another shape: a text by place would be read wrongly."""
    turned = dataclasses.make_dataclass("Leaf", [("text", str), ("number", float)])
    assert Codec(turned).shape == "Leaf(text,number)" and Codec(Leaf).shape == "Leaf(number,text)"
    assert "Compare(" in Codec(RuleSet).shape and "Leaf(number,text)" in CODEC.shape
