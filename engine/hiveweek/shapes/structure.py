"""Structure errors of content files, from JSON Schema, as placed problems in plain words."""

from __future__ import annotations

from hiveweek.problems import Problem, nearest
from hiveweek.shapes.marked_yaml import Document


def listed(value) -> list:
    """Return a list as it is and anything else as an empty one (what is wrong with it has been told by ``check``)."""
    return value if isinstance(value, list) else []


def texts(value) -> tuple[str, ...]:
    """Return the texts of a list; nothing where it is no list."""
    return tuple(item for item in listed(value) if isinstance(item, str))


_TYPES = {
    "object": "a mapping",
    "array": "a list",
    "string": "a text",
    "integer": "a whole number",
    "number": "a number",
    "boolean": "true or false",
    "null": "nothing",
}


def check(document: Document, validator) -> list[Problem]:
    """Return the structure problems of a document.

    Parameters
    ----------
    validator : jsonschema validator
        For its kind of file.
    """
    if document.data is None:
        return []
    problems: list[Problem] = []
    data = _as_json(document.data)
    for error in validator.iter_errors(data):
        problems.extend(_words(document, error))
    return problems


def _as_json(value):
    """Dates are texts to JSON Schema."""
    if isinstance(value, dict):
        return {key: _as_json(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_as_json(inner) for inner in value]
    return value.isoformat() if hasattr(value, "isoformat") else value


def _words(document: Document, error) -> list[Problem]:
    path = tuple(error.absolute_path)
    kind = error.validator
    if kind == "oneOf" and all(set(form) == {"required"} for form in error.validator_value):
        if not isinstance(error.instance, dict):
            return []  # that it is no mapping is told by itself
        names = " or ".join(f"'{name}'" for form in error.validator_value for name in form["required"])
        return [document.problem(path, "missing-key", f"{_named(path)} needs {names}, one of them")]
    if kind in ("anyOf", "oneOf") and error.context:
        deepest = max(error.context, key=lambda e: (len(e.absolute_path), -_order(e)))
        if len(deepest.absolute_path) > len(error.absolute_path):
            return _words(document, deepest)
        allowed = "; ".join(dict.fromkeys(_allowed(sub) for sub in error.context))
        return [document.problem(path, "wrong-type", f"{_named(path)} must be {allowed}")]
    if kind == "additionalProperties" and isinstance(error.instance, dict) and error.validator_value is False:
        known = sorted(error.schema.get("properties", {}))
        extra = [key for key in error.instance if key not in known]
        return [
            document.problem(
                path + (key,),
                "unknown-key",
                f"'{key}' is not known here; allowed: {', '.join(known)}{nearest(key, known)}",
                key=True,
            )
            for key in extra
        ]
    if kind == "required":
        missing = [key for key in error.validator_value if key not in error.instance]
        return [document.problem(path, "missing-key", f"{_named(path)} lacks '{key}'") for key in missing]
    if kind == "propertyNames" or "propertyNames" in error.absolute_schema_path:
        return [
            document.problem(
                path + (error.instance,) if isinstance(error.instance, str) else path,
                "bad-name",
                f"'{error.instance}' is no name: small letters, digits, - and _",
                key=True,
            )
        ]
    if kind == "pattern":
        return [
            document.problem(
                path, "bad-name", f"{_named(path)} '{error.instance}' is not of the form {error.validator_value}"
            )
        ]
    if kind == "enum":
        words = [str(v) for v in error.validator_value]
        return [
            document.problem(
                path,
                "unknown-value",
                f"{_named(path)} is one of {', '.join(words)}; '{error.instance}' is not"
                f"{nearest(error.instance, words)}",
            )
        ]
    return [
        document.problem(
            path,
            "wrong-type" if kind in ("type", "const") else "out-of-range",
            f"{_named(path)} must be {_allowed(error)}",
        )
    ]


def _order(error) -> int:
    return list(error.absolute_schema_path)[-2] if isinstance(list(error.absolute_schema_path)[-2], int) else 0


def _named(path: tuple) -> str:
    words = [str(p) if isinstance(p, str) else f"[{p + 1}]" for p in path[-2:]]
    return "'" + " ".join(words) + "'" if words else "the file"


def _allowed(error) -> str:
    value = error.validator_value
    if error.validator == "type":
        kinds = [value] if isinstance(value, str) else value
        return " or ".join(_TYPES.get(kind, kind) for kind in kinds)
    if error.validator == "enum":
        return "one of " + ", ".join(str(v) for v in value)
    if error.validator == "const":
        return repr(value)
    return {
        "minItems": f"a list of at least {value}",
        "maxItems": f"a list of at most {value}",
        "minLength": f"at least {value} letters long",
        "minimum": f"at least {value}",
        "maximum": f"at most {value}",
        "minProperties": f"a mapping with at least {value} key",
        "maxProperties": f"a mapping with at most {value} key",
    }.get(error.validator, error.message)
