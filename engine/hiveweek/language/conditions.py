"""The small grammar of conditions: ``food.days_left < limit.food.candy_days``.

A condition is written as text; ``all``, ``any`` and ``not`` stand around texts as YAML. Parsing needs the vocabulary
(facts and their kinds), and where rules are read also the limits, the findings and the roles in scope.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, field

from hiveweek.language.names import NamedFact, NamedFacts
from hiveweek.language.terms import FINDING, OPERATORS, All, Any, Compare, Flag, Known, LimitRef, Member, Not, Ref
from hiveweek.numbers.store import Number
from hiveweek.problems import Place, Problem, nearest
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import curly_hint, number_hint

_TOKEN = re.compile(
    r"\s*(?:(?P<op><=|>=|==|!=|<|>)|(?P<mark>[\[\],])|(?P<number>[-+]?\d+(?:\.\d+)?(?![\w.-]))"
    r"|(?P<date>\d{4}-\d{2}-\d{2})|(?P<quoted>\"[^\"]*\"|'[^']*')|(?P<word>[A-Za-z_][\w.-]*))"
)
_SIGNS = {"\u2264": "<=", "\u2265": ">=", "\u2260": "!=", "=": "=="}  # as texts and spreadsheets write them


class Mistake(Exception):
    """A condition that cannot be read: where in the text, a code and words."""

    def __init__(self, at: int, code: str, message: str):
        self.at, self.code, self.message = at, code, message
        super().__init__(message)


@dataclass
class Scope:
    """What a condition may name.

    Attributes
    ----------
    limits : dict of str to Number
        By full name (``limit.food.candy_days``).
    findings : set of str
        Finding names without their prefix.
    roles : tuple of str
        Roles of a two-hive rule; empty for one hive.
    """

    vocabulary: NamedFacts
    limits: dict[str, Number] = field(default_factory=dict)
    findings: set[str] = field(default_factory=set)
    roles: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Token:
    kind: str
    text: str
    at: int


def _tokens(text: str) -> list[_Token]:
    tokens, at = [], 0
    while at < len(text):
        if text[at:].isspace():
            break
        found = _TOKEN.match(text, at)
        if not found:
            start = at + len(text[at:]) - len(text[at:].lstrip())
            hint = _sign_hint(text[start:])
            raise Mistake(start, "cannot-read", f"cannot read '{text[start : start + 12]}' in '{text}'{hint}")
        kind = found.lastgroup or ""
        tokens.append(_Token(kind, found.group(kind), found.start(kind)))
        at = found.end()
    return tokens


def _sign_hint(rest: str) -> str:
    """Return how to write a sign that people know from elsewhere; empty where it is none of these."""
    for sign, ours in _SIGNS.items():
        if rest.startswith(sign):
            return f"; write {ours}"
    return curly_hint(rest)


def parse_text(text: str, scope: Scope, place: Place | None = None):
    """Return the condition that a text states.

    Parameters
    ----------
    text : str
        ``fact OP value``, ``fact in [..]`` or ``in`` a group of its words, ``not in``, ``fact is known``, ``fact is unknown``, a bare yes/no fact,
        or ``finding.name``.

    Raises
    ------
    Mistake
        With the offset of the offending word, a code, what is allowed and the nearest name.
    """
    place = place or Place()
    tokens = _tokens(text)
    if not tokens:
        raise Mistake(0, "empty-condition", "an empty condition")
    if tokens[0].kind != "word":
        raise Mistake(tokens[0].at, "cannot-read", f"a condition starts with a fact, not '{tokens[0].text}'")
    left = _ref(tokens[0], scope)
    rest = tokens[1:]
    fact = None if left.is_finding else scope.vocabulary.facts[left.name]
    if not rest:
        if fact is not None and fact.kind != "yes_no":
            raise Mistake(
                tokens[0].at,
                "not-a-yes-no",
                f"{left.name} is {_article(fact)}; say what it must be, as in '{left.name} {_example(fact)}'",
            )
        return Flag(left, text, place)
    words = [t.text for t in rest]
    if words[:2] in (["is", "known"], ["is", "unknown"]) and len(rest) == 2:
        if fact is None:
            raise Mistake(rest[0].at, "not-for-findings", f"'{' '.join(words)}' is for facts; {left.name} is a finding")
        return Known(left, words[1] == "known", text, place)
    if fact is None:
        raise Mistake(
            rest[0].at, "not-for-findings", f"{left.name} is a finding: it holds or not, nothing may follow it"
        )
    if words[0] == "in" or words[:2] == ["not", "in"]:
        negated = words[0] == "not"
        return _member(left, fact, rest[2 if negated else 1 :], negated, text, place)
    if rest[0].kind != "op":
        raise Mistake(
            rest[0].at,
            "cannot-read",
            f"expected one of {' '.join(OPERATORS)}, 'in', 'not in', 'is known', "
            f"'is unknown' after {left}, not '{rest[0].text}'",
        )
    if len(rest) != 2:
        at = rest[2].at if len(rest) > 2 else rest[0].at
        hint = number_hint("".join(t.text for t in rest[1:]))
        said = f"'{rest[0].text}' takes one value: a number, a word, a limit or a fact{hint}"
        raise Mistake(at, "cannot-read", said)
    return _compare(left, fact, rest[0], rest[1], scope, text, place)


def _article(fact: NamedFact) -> str:
    return {"one_of": "one of " + ", ".join(fact.values), "text": "a text", "date": "a date"}.get(fact.kind, "a number")


def _example(fact: NamedFact) -> str:
    if fact.kind == "one_of":
        return f"== {fact.values[0]}"
    return "is known" if fact.kind in ("date", "text") else f"< {fact.high if fact.high is not None else 10:g}"


def _ref(token: _Token, scope: Scope) -> Ref:
    text = token.text
    head, _, tail = text.partition(".")
    role, facts = None, scope.vocabulary.facts
    if scope.roles:
        if head in scope.roles:
            role, text = head, tail
        elif text.startswith(FINDING) or (text in facts and not facts[text].shared):
            raise Mistake(
                token.at,
                "no-role",
                f"'{text}' needs a role in a two-hive rule: {' or '.join(scope.roles)}, as in "
                f"'{scope.roles[0]}.{text}'",
            )
        else:
            role = scope.roles[0]
    if text.startswith(FINDING):
        name = text[len(FINDING) :]
        if name not in scope.findings:
            raise Mistake(token.at, "unknown-finding", f"no rule gives 'finding.{name}'{nearest(name, scope.findings)}")
        return Ref(text, role)
    if text not in facts:
        raise Mistake(token.at, "unknown-fact", f"'{text}' is no fact{nearest(text, facts)}")
    return Ref(text, role)


def _literal(token: _Token, fact: NamedFact) -> float:
    text = token.text.strip("\"'") if token.kind == "quoted" else token.text
    if fact.kind in ("number", "integer"):
        if token.kind != "number":
            raise Mistake(token.at, "wrong-type", f"{fact.id} is a number ({fact.unit or 'count'}); '{text}' is not")
        value = float(text)
        if (fact.low is not None and value < fact.low) or (fact.high is not None and value > fact.high):
            raise Mistake(
                token.at, "out-of-range", f"{fact.id} lies in {fact.low:g} to {fact.high:g}; {text} is outside"
            )
        return value
    if fact.kind == "yes_no":
        if text not in ("true", "false", "yes", "no"):
            raise Mistake(token.at, "wrong-type", f"{fact.id} is true or false; '{text}' is not")
        return float(text in ("true", "yes"))
    if fact.kind == "one_of":
        if text not in fact.values:
            raise Mistake(
                token.at,
                "unknown-value",
                f"{fact.id} is one of {', '.join(fact.values)}; '{text}' is not{nearest(text, fact.values)}",
            )
        return fact.encode(text)
    if fact.kind == "date":
        try:
            return float(dt.date.fromisoformat(text).toordinal())
        except ValueError:
            raise Mistake(token.at, "no-such-date", f"{fact.id} needs a date like 2026-02-10, not '{text}'") from None
    return fact.encode(text)


def _member(left, fact, tokens, negated, text, place):
    if len(tokens) == 1 and tokens[0].text in fact.groups:
        return Member(left, tuple(sorted(fact.codes(tokens[0].text))), negated, text, place)
    if len(tokens) < 3 or tokens[0].text != "[" or tokens[-1].text != "]":
        at = tokens[0].at if tokens else len(text)
        groups = f", or one of its groups: {', '.join(fact.groups)}" if fact.groups else ""
        raise Mistake(at, "cannot-read", f"'in' needs a list, as in '{left} in [one, other]'{groups}")
    inner = tokens[1:-1]
    if fact.kind in ("number", "date", "yes_no"):
        raise Mistake(
            tokens[0].at, "wrong-type", f"'in' is for words and whole numbers; {left.name} is {_article(fact)}"
        )
    values = []
    for index, token in enumerate(inner):
        if index % 2:
            if token.text != ",":
                raise Mistake(token.at, "cannot-read", f"expected ',' between values, not '{token.text}'")
        else:
            values.append(_literal(token, fact))
    if len(inner) % 2 == 0:
        raise Mistake(tokens[-1].at, "cannot-read", "a value is missing before ']'")
    return Member(left, tuple(sorted(set(values))), negated, text, place)


def _compare(left, fact, op, right, scope, text, place):
    if op.text in ("<", "<=", ">", ">=") and not fact.ordered:
        raise Mistake(op.at, "no-order", f"{left.name} has no order; use == or in")
    if right.kind == "word" and right.text.startswith("limit."):
        limit = scope.limits.get(right.text)
        if limit is None:
            raise Mistake(right.at, "unknown-limit", f"'{right.text}' is no limit{nearest(right.text, scope.limits)}")
        if fact.kind not in ("number", "integer"):
            raise Mistake(right.at, "wrong-type", f"{left.name} is {_article(fact)}; a limit is a number")
        if (limit.unit or None) != (fact.unit or None):
            raise Mistake(
                right.at,
                "wrong-unit",
                f"{left.name} is in {fact.unit or 'no unit'}, {right.text} in {limit.unit or 'no unit'}",
            )
        return Compare(left, op.text, LimitRef(right.text), text, place)
    if right.kind == "word" and "." in right.text and fact.kind != "text":
        other = _ref(right, scope)
        if other.is_finding:
            raise Mistake(right.at, "not-for-findings", f"{other.name} is a finding and cannot be compared with")
        if other == left:
            raise Mistake(right.at, "wrong-type", f"{left} is compared with itself, which tells nothing")
        second = scope.vocabulary.facts[other.name]
        numbers = ("number", "integer")
        if second.kind != fact.kind and not (second.kind in numbers and fact.kind in numbers):
            raise Mistake(
                right.at, "wrong-type", f"{left.name} is {_article(fact)}, {other.name} is {_article(second)}"
            )
        if fact.kind == "one_of" and fact.values != second.values:
            raise Mistake(right.at, "wrong-type", f"{left.name} and {other.name} have different words")
        if (fact.unit or None) != (second.unit or None):
            raise Mistake(
                right.at,
                "wrong-unit",
                f"{left.name} is in {fact.unit or 'no unit'}, {other.name} in {second.unit or 'no unit'}",
            )
        return Compare(left, op.text, other, text, place)
    return Compare(left, op.text, _literal(right, fact), text, place)


def parse_node(document: Document, path: tuple, scope: Scope, problems: list[Problem], value=None):
    """Return the condition at a place of a YAML document; problems are appended with their place.

    Parameters
    ----------
    value : object, optional
        The plain value there, where the caller has it already.

    Returns
    -------
    condition or None
        None when nothing could be read (its problems say why).
    """
    if value is None:
        value = document.data
        for step in path:
            value = value[step]
    line, col = document.place(path)
    if isinstance(value, bool) or value is None:
        problems.append(document.problem(path, "cannot-read", "a condition is a text, a list, or all / any / not"))
        return None
    if isinstance(value, str):
        place = Place(document.name, line, col)
        try:
            return parse_text(value, scope, place)
        except Mistake as mistake:
            raw = document.raw(path) or ""
            shift = mistake.at if "\n" not in raw else 0
            problems.append(
                Problem(
                    document.name,
                    line,
                    col + shift,
                    mistake.code,
                    f"{mistake.message} (in '{value}')" if value not in mistake.message else mistake.message,
                )
            )
            return None
    if isinstance(value, list):
        if not value:
            problems.append(document.problem(path, "empty-condition", "an empty list of conditions"))
            return None
        parts = [
            parse_node(document, path + (i,), scope, problems, item)
            if item is not None
            else parse_node(document, path + (i,), scope, problems)
            for i, item in enumerate(value)
        ]
        return All(tuple(p for p in parts if p is not None)) if any(p is not None for p in parts) else None
    if isinstance(value, dict):
        if len(value) != 1 or next(iter(value)) not in ("all", "any", "not"):
            key = next((k for k in value if k not in ("all", "any", "not")), None)
            said = f"'{key}'" if key is not None else "several keys"
            problems.append(
                document.problem(
                    path + ((key,) if key else ()),
                    "cannot-read",
                    f"{said} where one of all, any, not is expected{nearest(key, ('all', 'any', 'not'))}",
                    key=key is not None,
                )
            )
            return None
        word, inner = next(iter(value.items()))
        if word == "not":
            part = parse_node(document, path + (word,), scope, problems, inner)
            return Not(part) if part is not None else None
        if not isinstance(inner, list) or not inner:
            problems.append(document.problem(path + (word,), "cannot-read", f"'{word}' needs a list of conditions"))
            return None
        parts = [parse_node(document, path + (word, i), scope, problems, item) for i, item in enumerate(inner)]
        read = tuple(p for p in parts if p is not None)
        if not read:
            return None
        return All(read) if word == "all" else Any(read)
    problems.append(
        document.problem(path, "cannot-read", f"a condition is a text, a list, or all / any / not, not {value!r}")
    )
    return None
