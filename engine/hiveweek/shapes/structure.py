"""What does not fit a JSON Schema, in plain words at its place.

Four annotations of a schema choose the words (validators and editors pass over what they do not know):

- ``noun``: what the words of an enum or the keys of a mapping are (``fact``); the code is then ``unknown-fact``;
- ``code``: the code of whatever is wrong with the value;
- ``errorMessage``: what to write instead (``a date like 2026-02-10``); editors show it too;
- ``unit``: unit of a number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from hiveweek.problems import Problem, nearest
from hiveweek.shapes.marked_yaml import Document

MOST_LISTED = 25  # longer lists of allowed words are left to the nearest
MOST_NAMED = 40  # longer lists of names of one kind are not told where none is near
_TYPES = {
    "object": "a mapping",
    "array": "a list",
    "string": "a text",
    "integer": "a whole number",
    "number": "a number",
    "boolean": "true or false",
}
_COUNTS = {  # at least or at most so many of what
    "minItems": ("least", "entry", "entries"),
    "maxItems": ("most", "entry", "entries"),
    "minProperties": ("least", "key", "keys"),
    "maxProperties": ("most", "key", "keys"),
    "minLength": ("least", "letter", "letters"),
    "maxLength": ("most", "letter", "letters"),
}
_WITH_UNIT = re.compile(r"\s*[-+]?\d+(?:[.,]\d+)?\s*[A-Za-z%°/]+[\w%°/ ]*$")
_CURLY = "\u201c\u201d\u201e\u2018\u2019\u201a\u00ab\u00bb"
_COMMA = re.compile(r"\s*[-+]?\d+,\d+\s*$")


def listed(value) -> list:
    """Return a list as it is and anything else as an empty one (what is wrong with it has been told)."""
    return value if isinstance(value, list) else []


def texts(value) -> tuple[str, ...]:
    """Return the texts of a list; nothing where it is no list."""
    return tuple(item for item in listed(value) if isinstance(item, str))


@dataclass(frozen=True)
class Misfit:
    """One thing that does not fit, or (without a code) a scalar that fits as the text it was written as.

    Attributes
    ----------
    path : tuple
        Where it stands.
    code, message : str
        What is wrong, in words.
    key : bool
        The key is wrong, not its value.
    out : bool
        It must not be read on.
    """

    path: tuple
    code: str
    message: str
    key: bool = False
    out: bool = True

    def problem(self, document: Document) -> Problem:
        """Return it as a problem at its place."""
        return document.problem(self.path, self.code, self.message, key=self.key)

    def take_out(self, document: Document) -> None:
        """Take it out of the data; None stays in its place in a list."""
        if self.out:
            _replace(document, self.path, None, drop=True)


def misfits(document: Document, validator) -> list[Misfit]:
    """Return what does not fit, in the order it was found.

    Parameters
    ----------
    document : Document
        Its data are changed only where a scalar fits as the text it was written as.
    validator : jsonschema validator
        For its kind of file.
    """
    found: list[Misfit] = []
    for error in list(validator.iter_errors(_as_json(document.data))):
        path = tuple(error.absolute_path)
        if _fits_as_written(document, validator, error, path):
            _replace(document, path, document.raw(path))
        else:
            found += _told(document, error, path)
    return list(dict.fromkeys(found))


def _as_json(value):
    """Dates are texts to JSON Schema."""
    if isinstance(value, dict):
        return {key: _as_json(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_as_json(inner) for inner in value]
    return value.isoformat() if hasattr(value, "isoformat") else value


def _replace(document: Document, path: tuple, value, drop: bool = False) -> None:
    if not path:
        document.data = value
        return
    inside = document.data
    for step in path[:-1]:
        try:
            inside = inside[step]
        except (KeyError, IndexError, TypeError):
            return  # what held it has been taken out
    if isinstance(inside, dict) and drop:
        inside.pop(path[-1], None)
    elif inside is not None:
        inside[path[-1]] = value


def _fits_as_written(document: Document, validator, error, path: tuple) -> bool:
    if error.instance is None or isinstance(error.instance, (str, dict, list)) or not isinstance(error.schema, dict):
        return False
    written = document.raw(path)
    return written is not None and validator.evolve(schema=error.schema).is_valid(written)


def _told(document: Document, error, path: tuple) -> list[Misfit]:
    """Return the words for one error of the validator."""
    schema = error.schema if isinstance(error.schema, dict) else {}
    kind, wanted, value = error.validator, error.validator_value, error.instance
    if kind in ("anyOf", "oneOf") and all(set(form) == {"required"} for form in wanted):
        if not isinstance(value, dict):
            return []  # that it is no mapping is told by itself
        keys = " or ".join(" with ".join(f"'{key}'" for key in form["required"]) for form in wanted)
        return [Misfit(path, "missing-key", f"{_named(path)} needs {keys}, one of them", key=bool(path), out=False)]
    if kind in ("anyOf", "oneOf"):
        return _nearest_branch(document, error, path)
    if kind == "additionalProperties":
        return [_unknown_key(schema, path, key) for key in value if key not in schema.get("properties", {})]
    if kind == "required":
        return [_missing(schema, path, key) for key in wanted if key not in value]
    if kind == "dependentRequired":
        return [
            _missing(schema, path, key)
            for word, keys in wanted.items()
            if word in value
            for key in keys
            if key not in value
        ]
    named = _named(path)
    if "propertyNames" in error.absolute_schema_path:
        return [_bad_name(schema, path, value)]
    if kind is None or kind == "not":
        said = schema.get("errorMessage", f"{named} has no place here")
        return [Misfit(path, schema.get("code", "wrong-type"), said, key=True)]
    if kind in _COUNTS:
        bound, one, many = _COUNTS[kind]
        said = f"{named} has at {bound} {'one ' + one if wanted == 1 else f'{wanted} {many}'}; here are {len(value)}"
        return [Misfit(path, schema.get("code", "out-of-range"), said, out=False)]
    if kind == "uniqueItems":
        double = next(item for index, item in enumerate(value) if item in value[:index])
        return [Misfit(path, "duplicate-id", f"'{double}' stands twice in {named}", out=False)]
    if kind in ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum"):
        return [Misfit(path, schema.get("code", "out-of-range"), f"{named} {_range(schema)}; {value:g} is outside")]
    return [_wrong_value(document, schema, kind, path, value)]


def _wrong_value(document: Document, schema: dict, kind: str, path: tuple, value) -> Misfit:
    written = document.raw(path)
    named = _named(path)
    if isinstance(value, (dict, list)):
        what = "a mapping" if isinstance(value, dict) else "a list"
        return Misfit(path, schema.get("code", "wrong-type"), f"{named} is {_allowed(schema)}, not {what}")
    shown = _short(value if written is None else written)
    if kind == "enum" and schema.get("noun"):
        words = _words(schema)
        close = nearest(shown, words) or (f"; there are {', '.join(words)}" if len(words) <= MOST_NAMED else "")
        return Misfit(path, _code_of(schema), f"'{shown}' is no {schema['noun']}{close}")
    empty = value is None and written in (None, "")
    said = f"{named} is {_allowed(schema)}; " + ("it is empty" if empty else f"'{shown}' is not")
    if kind == "enum":
        said += nearest(shown, _words(schema)) + curly_hint(shown)
        return Misfit(path, schema.get("code", "unknown-value"), said)
    if kind == "pattern":
        return Misfit(path, schema.get("code", "bad-name"), said + curly_hint(shown))
    if "number" in _types(schema) or "integer" in _types(schema):
        said += number_hint(shown)
    return Misfit(path, schema.get("code", "wrong-type"), said)


def number_hint(shown: str) -> str:
    """Return how to write what somebody meant as a number; empty where that cannot be told."""
    bare = shown.strip(_CURLY + " ")
    if _COMMA.match(bare):
        return f"; write {bare.replace(',', '.')}"
    if bare != shown.strip():
        return f"; write {bare}, without curly quotes"
    return "; write the number alone" if _WITH_UNIT.match(bare) else ""


def curly_hint(shown: str) -> str:
    """Return a word on curly quotes, which YAML takes for letters; empty where there are none."""
    return "; curly quotes are letters here: write straight ones, or none" if set(_CURLY) & set(shown) else ""


def _unknown_key(schema: dict, path: tuple, key: str) -> Misfit:
    known = list(schema.get("properties", {}))
    if schema.get("noun"):
        code, said = _code_of(schema), f"'{key}' is no {schema['noun']}"
        said += f"; {schema['errorMessage']}" if "errorMessage" in schema else ""
        return Misfit((*path, key), code, said + nearest(key, known), key=True)
    said = f"'{key}' is not known here"
    if key.isdigit():
        return Misfit((*path, key), "unknown-key", said + "; a comma ends a value here: write 1.5, not 1,5", key=True)
    said += f"; allowed: {', '.join(known)}" if known and len(known) <= MOST_LISTED else ""
    return Misfit((*path, key), "unknown-key", said + nearest(key, known), key=True)


def _missing(schema: dict, path: tuple, key: str) -> Misfit:
    wanted = schema.get("properties", {}).get(key)
    wanted = wanted if isinstance(wanted, dict) else {}
    said = f"{_named(path)} lacks '{key}'"
    hint = wanted.get("description") or schema.get("errorMessage")
    if hint:
        said += f": {hint.rstrip('.')}"
    words = [word for part in [wanted, *wanted.get("anyOf", ())] for word in _words(part)]
    if words and len(words) <= MOST_LISTED:
        said += f" ({', '.join(words)})"
    return Misfit(path, "missing-key", said, key=bool(path), out=False)


def _bad_name(schema: dict, path: tuple, name) -> Misfit:
    if "enum" in schema:
        code, said = _code_of(schema), f"'{name}' is no {schema['noun']}{nearest(name, _words(schema))}"
        return Misfit((*path, name), code, said, key=True)
    said = schema.get("errorMessage", "small letters, digits, - and _")
    return Misfit((*path, name), schema.get("code", "bad-name"), f"'{name}' is no name: {said}", key=True)


def _nearest_branch(document: Document, error, path: tuple) -> list[Misfit]:
    """Return the words of the branch that the value comes nearest to."""
    branches: dict[int, list] = {}
    for inner in error.context:
        branches.setdefault(inner.schema_path[0], []).append(inner)
    fitting = {
        index: errors
        for index, errors in branches.items()
        if not any(inner.validator == "type" and not inner.path for inner in errors)
        and (
            isinstance(error.instance, str) or not any(e.validator in ("enum", "const") and not e.path for e in errors)
        )
    }
    schemas = error.schema[error.validator]
    if not fitting:
        schema = error.schema if "errorMessage" in error.schema else {**error.schema, "anyOf": schemas}
        return [_wrong_value(document, schema, "type", path, error.instance)]
    if isinstance(error.instance, dict):
        known = {key: None for index in fitting for key in schemas[index].get("properties", {})}
        strange = [key for key in error.instance if key not in known]
        if strange:
            union = {**{k: v for k, v in error.schema.items() if k in ("noun", "errorMessage")}, "properties": known}
            return [_unknown_key(union, path, key) for key in strange]
    best = min(fitting.values(), key=_distance)
    return [misfit for inner in best for misfit in _told(document, inner, tuple(inner.absolute_path))]


def _distance(errors: list) -> tuple[int, int]:
    """The nearest branch is wrong deepest inside and in the fewest places."""
    return -max(len(inner.path) for inner in errors), len(errors)


def _named(path: tuple) -> str:
    if not path:
        return "the file"
    if isinstance(path[-1], int):
        return f"entry {path[-1] + 1}" + (f" of '{path[-2]}'" if len(path) > 1 else "")
    return f"'{path[-1]}'"


def _types(schema: dict) -> list[str]:
    kinds = schema.get("type", [])
    return [kind for kind in ([kinds] if isinstance(kinds, str) else kinds) if kind != "null"]


def _words(schema: dict) -> list[str]:
    return [_word(value) for value in schema.get("enum", ()) if value is not None]


def _word(value) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _allowed(schema: dict) -> str:
    """Return what a schema takes, in words."""
    if "errorMessage" in schema:
        return schema["errorMessage"]
    if "enum" in schema:
        words = _words(schema)
        return (
            "one of " + ", ".join(words)
            if len(words) <= MOST_LISTED
            else f"one of {len(words)} {schema.get('noun', 'word')}s"
        )
    if "const" in schema:
        return f"'{_word(schema['const'])}'"
    for key in () if "type" in schema else ("anyOf", "oneOf"):
        if key in schema:
            return ", or ".join(dict.fromkeys(_allowed(part) for part in schema[key] if part != {"type": "null"}))
    kinds = _types(schema)
    said = " or ".join(_TYPES[kind] for kind in kinds) or "something else"
    if schema.get("unit") and kinds:
        said += f" ({schema['unit']})"
    if "pattern" in schema:
        said += f" of the form {schema['pattern']}"
    return said


def _range(schema: dict) -> str:
    unit = f" {schema['unit']}" if schema.get("unit") else ""
    low, high = schema.get("minimum"), schema.get("maximum")
    if low is not None and high is not None:
        return f"lies between {low:g} and {high:g}{unit}"
    for key, word in (
        ("minimum", "at least"),
        ("maximum", "at most"),
        ("exclusiveMinimum", "over"),
        ("exclusiveMaximum", "under"),
    ):
        if key in schema:
            return f"is {word} {schema[key]:g}{unit}"
    raise ValueError(schema)


def _code_of(schema: dict) -> str:
    return f"unknown-{schema['noun'].split()[0]}"


def _short(text: object) -> str:
    text = " ".join(str(text).split())
    return text if len(text) <= 40 else text[:37] + "..."
