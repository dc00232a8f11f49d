"""Things of declared types as plain JSON, and back; reading builds what the types declare and runs nothing else.

The declared type decides both ways: a dataclass by its fields, in their order; a union of several by the name of the one at
hand; lists, tuples, sets, mappings with text keys and typed mappings (which hold all their keys) by what they hold; dates and
members of enums by their value. A bare ``dict`` or ``list`` (and ``object`` inside one) holds the plain values of a YAML
file. Whatever does not fit its type is refused, in writing and in reading, so that what is read equals what was written.

Why not a library: of those compared on the shipped rules, the one that fills dataclasses in C (msgspec) takes no union of
several of them, which a condition is; the one in Python (cattrs) costs as much for its import alone as all the reading costs
here, and turns what does not fit into what does.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import enum
import gc
import json
import types
import typing
from collections.abc import Callable, Mapping

_SCALARS: dict[type, frozenset[type]] = {
    str: frozenset({str}),
    int: frozenset({int}),
    float: frozenset({float, int}),
    bool: frozenset({bool}),
    type(None): frozenset({type(None)}),
}
_PLAIN = frozenset(_SCALARS)
_UNIONS = (typing.Union, types.UnionType)


class Unfit(ValueError):
    """A value that is not of its declared type."""


def _refuse(thing):
    raise Unfit(f"a {type(thing).__name__} where none is declared")


@dataclasses.dataclass
class _Way:
    """How values of one type are written and read: ``scalars`` stand in JSON as they are, ``types`` are converted."""

    scalars: frozenset[type] = frozenset()
    types: tuple[type, ...] = ()
    encode: Callable = _refuse
    decode: Callable = _refuse


class Codec:
    """Writes and reads things of one type.

    Parameters
    ----------
    kind : type
        A dataclass, or any of what the module's head names.

    Attributes
    ----------
    shape : str
        The dataclasses inside it with their fields: texts of another shape mean something else.

    Raises
    ------
    TypeError
        For a type, or one inside it, that it does not carry.
    """

    def __init__(self, kind):
        self._ways: dict = {}
        self._fields: list[str] = []
        self._way = self._of(kind)
        self.shape = " ".join(self._fields)

    def text(self, thing) -> str:
        """Return a thing as JSON.

        Raises
        ------
        Unfit
            Where a value is not of its declared type.
        """
        try:
            return json.dumps(_encode(self._way, thing), separators=(",", ":"))
        except Unfit:
            raise
        except (ValueError, TypeError, RecursionError) as error:
            raise Unfit(f"{type(error).__name__}: {error}") from error

    def read(self, text: str | bytes):
        """Return the thing that a JSON text holds.

        Raises
        ------
        Unfit
            Where something in it is not of its declared type, or the text is no JSON.
        """
        collecting = gc.isenabled()
        gc.disable()  # nothing made here is garbage yet; looking for some takes a fifth of the time
        try:
            return _decode(self._way, json.loads(text))
        except Unfit:
            raise
        except (ValueError, TypeError, OverflowError, RecursionError) as error:
            raise Unfit(f"{type(error).__name__}: {error}") from error
        finally:
            if collecting:
                gc.enable()

    # --- types ---
    def _of(self, kind) -> _Way:
        kind = type(None) if kind is None else kind
        if kind not in self._ways:
            way = self._ways[kind] = _Way()  # there before it is filled: conditions hold conditions
            self._fill(way, kind)
        return self._ways[kind]

    def _fill(self, way: _Way, kind) -> None:
        origin, inner = typing.get_origin(kind), typing.get_args(kind)
        if kind in _SCALARS:
            way.scalars = _SCALARS[kind]
        elif kind in (object, typing.Any):
            way.scalars, way.types = _PLAIN, (dict, list, dt.date)
            way.encode, way.decode = _plain, _from_plain
        elif kind in (dict, list):
            way.types, way.encode, way.decode = (kind,), _plain, lambda raw: _checked((kind,), _from_plain(raw))
        elif origin is typing.Literal:
            way.types = tuple({type(value) for value in inner})
            way.encode = way.decode = lambda raw: _checked(way.types, inner[inner.index(raw)])
        elif origin in _UNIONS:
            self._union(way, [self._of(part) for part in inner])
        elif dataclasses.is_dataclass(kind):
            self._dataclass(way, kind)
        elif typing.is_typeddict(kind):
            self._typed_mapping(way, kind)
        elif origin in (dict, Mapping) and inner[0] is str:
            self._mapping(way, self._of(inner[1]))
        elif origin in (list, set, frozenset) or (origin is tuple and len(inner) == 2 and inner[1] is ...):
            self._row(way, origin, self._of(inner[0]))
        elif origin is tuple and inner:
            self._tuple(way, [self._of(part) for part in inner])
        elif kind is dt.date:
            way.types, way.encode = (kind,), lambda day: [day.isoformat()]
            way.decode = lambda raw: dt.date.fromisoformat(_list(raw, 1)[0])
        elif isinstance(kind, type) and issubclass(kind, enum.Enum):
            way.types, way.encode = (kind,), lambda member: [member.value]
            way.decode = lambda raw: kind(_list(raw, 1)[0])
        else:
            raise TypeError(f"{kind} says too little, or is of a kind that is not carried")

    def _dataclass(self, way: _Way, kind) -> None:
        way.types = (kind,)
        hints = typing.get_type_hints(kind)
        fields = [(field.name, self._of(hints[field.name])) for field in dataclasses.fields(kind)]
        ways, count = [of for _, of in fields], len(fields)
        self._fields.append(f"{kind.__name__}({','.join(name for name, _ in fields)})")

        def encode(thing):
            return [_encode(of, getattr(thing, name)) for name, of in fields]

        def decode(raw):
            # The loop that all reading time goes into: lists, and scalars, which most fields are, are looked at in place.
            if type(raw) is not list or len(raw) != count:
                raise Unfit(f"no {kind.__name__}")
            return kind(*[v if type(v) in of.scalars else of.decode(v) for of, v in zip(ways, raw, strict=True)])

        way.encode, way.decode = encode, decode

    def _typed_mapping(self, way: _Way, kind) -> None:
        way.types = (dict,)
        ways = {name: self._of(part) for name, part in typing.get_type_hints(kind).items()}

        def check(thing):
            if type(thing) is not dict or thing.keys() != ways.keys():
                raise Unfit(f"no {kind.__name__}")
            return thing

        way.encode = lambda thing: {name: _encode(ways[name], value) for name, value in check(thing).items()}
        way.decode = lambda raw: {name: _decode(ways[name], value) for name, value in check(raw).items()}

    def _mapping(self, way: _Way, of: _Way) -> None:
        def check(thing):
            if type(thing) is not dict or not all(type(name) is str for name in thing):
                raise Unfit("no mapping with text keys")
            return thing

        way.types = (dict,)
        way.encode = lambda thing: {name: _encode(of, value) for name, value in check(thing).items()}
        way.decode = lambda raw: {name: _decode(of, value) for name, value in check(raw).items()}

    def _row(self, way: _Way, origin, of: _Way) -> None:
        way.types = (origin,)

        def encode(thing):
            return [_encode(of, value) for value in (sorted(thing) if origin in (set, frozenset) else thing)]

        way.encode = encode
        way.decode = lambda raw: origin([_decode(of, value) for value in _list(raw)])

    def _tuple(self, way: _Way, ways: list) -> None:
        way.types = (tuple,)

        def each(convert, values):
            return [convert(of, value) for of, value in zip(ways, values, strict=True)]

        way.encode = lambda thing: each(_encode, thing)
        way.decode = lambda raw: tuple(each(_decode, _list(raw, len(ways))))

    def _union(self, way: _Way, parts: list) -> None:
        way.scalars = frozenset().union(*(part.scalars for part in parts))
        others = [part for part in parts if part.types]
        way.types = tuple(kind for part in others for kind in part.types)
        if len(others) == 1:
            (other,) = others
            way.encode, way.decode = lambda thing: _encode(other, thing), lambda raw: _decode(other, raw)
        elif others:
            named = {part.types[0].__name__: part for part in others}
            if len(named) < len(others) or len(way.types) > len(others):
                raise TypeError(f"members of a union cannot be told apart: {', '.join(t.__name__ for t in way.types)}")

            def encode(thing):
                name = type(thing).__name__
                return [name, named[name].encode(thing)]

            def decode(raw):
                if type(raw) is not list or len(raw) != 2 or raw[0] not in named:
                    raise Unfit(f"none of {', '.join(named)}")
                return named[raw[0]].decode(raw[1])

            way.encode, way.decode = encode, decode


def _encode(way: _Way, thing):
    if type(thing) in way.scalars:
        return thing
    return way.encode(thing) if type(thing) in way.types else _refuse(thing)


def _decode(way: _Way, raw):
    return raw if type(raw) in way.scalars else way.decode(raw)


def _list(raw, length: int | None = None) -> list:
    if type(raw) is not list or (length is not None and len(raw) != length):
        raise Unfit("no list, or one of another length")
    return raw


def _checked(kinds: tuple, thing):
    return thing if type(thing) in kinds else _refuse(thing)


# --- the plain values of a YAML file: lists and dates are told apart by what stands first ---
def _plain(thing):
    kind = type(thing)
    if kind in _PLAIN:
        return thing
    if kind is list:
        return ["list", [_plain(value) for value in thing]]
    if kind is dt.date:
        return ["date", thing.isoformat()]
    if kind is dict and all(type(name) is str for name in thing):
        return {name: _plain(value) for name, value in thing.items()}
    raise Unfit(f"a {kind.__name__} among plain values")


def _from_plain(raw):
    kind = type(raw)
    if kind in _PLAIN:
        return raw
    if kind is dict:
        return {name: _from_plain(value) for name, value in raw.items()}
    name, inner = _list(raw, 2)
    if name == "list":
        return [_from_plain(value) for value in _list(inner)]
    if name == "date":
        return dt.date.fromisoformat(inner)
    raise Unfit(f"{name!r} is no plain value")
