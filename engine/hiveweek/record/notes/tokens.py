"""A note cut into sentences, parts and tokens; every token knows where it stands in what was typed."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

FRACTIONS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅓": "1/3", "⅔": "2/3"}
_TOKEN = re.compile(
    r"""(?P<space>\s+)
      | (?P<ratio>\d+(?:\.\d+)?:\d+(?:\.\d+)?)
      | (?P<odd>\d+(?:,\d+)+(?:\.\d+)?)               # 7,5 or 1,200: which of them is not known
      | (?P<fraction>[½¼¾⅓⅔])
      | (?P<number>\d+(?:\.\d+)?)
      | (?P<word>[^\W\d_]+(?:'[^\W\d_]+)*'?)
      | (?P<mark>!+|.)""",
    re.VERBOSE | re.DOTALL,
)
_BREAK = {",", ";"}
_END = {".", "!", "\n", ";"}
_DASHES = {"-", "\N{EN DASH}", "\N{EM DASH}"}
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


@dataclass(frozen=True, slots=True)
class Token:
    """One word, number or mark.

    Attributes
    ----------
    text : str
        In small letters, apostrophes straight.
    kind : str
        word, number, ratio, odd or mark; ``range`` for two numbers with a dash between.
    start, end : int
        Where it stands in the note.
    values : tuple of float
        Of a number its value, of a range both.
    """

    text: str
    kind: str
    start: int
    end: int
    values: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    """What stands between two commas.

    Attributes
    ----------
    tokens : tuple of Token
    sentence : int
        Number of its sentence.
    start, end : int
        Where it stands in the note.
    led : bool
        Whether a colon stands after it.
    """

    tokens: tuple[Token, ...]
    sentence: int
    start: int
    end: int
    led: bool = False

    @property
    def words(self) -> list[str]:
        """Its tokens as texts."""
        return [token.text for token in self.tokens]


def folded(text: str) -> str:
    """Return a text as it is compared, letter by letter: small, with straight apostrophes; its length stays."""
    made = []
    for letter in text:
        small = letter.casefold()
        small = small if len(small) == 1 else letter
        made.append("'" if small in "\N{RIGHT SINGLE QUOTATION MARK}\N{MODIFIER LETTER APOSTROPHE}`" else small)
    return "".join(made)


def tokens_of(text: str) -> list[Token]:
    """Return the tokens of a text, blanks left out but line ends kept; words joined by a hyphen are two tokens."""
    plain = folded(text)
    found: list[Token] = []
    for match in _TOKEN.finditer(plain):
        kind, said = str(match.lastgroup), match[0]
        if kind == "space":
            if "\n" in said:
                found.append(Token("\n", "mark", match.start(), match.end()))
            continue
        said = "!" if said[0] == "!" else said  # one or several end a sentence alike
        if kind == "fraction":
            top, _, bottom = FRACTIONS[said].partition("/")
            found.append(Token(said, "fraction", match.start(), match.end(), (int(top) / int(bottom),)))
        elif kind == "number":
            found.append(Token(said, kind, match.start(), match.end(), (float(said),)))
        else:
            found.append(Token(said, kind, match.start(), match.end()))
    return _joined(_without_hyphens(found))


def _without_hyphens(tokens: list[Token]) -> list[Token]:
    """Drop a hyphen before a word where words or numbers touch it; make a range of ``5-6``."""
    made: list[Token] = []
    index = 0
    while index < len(tokens):
        token = tokens[index]
        before = made[-1] if made else None
        after = tokens[index + 1] if index + 1 < len(tokens) else None
        tight = before is not None and after is not None and before.end == token.start and after.start == token.end
        if tight and token.text in _DASHES and before is not None and after is not None:
            if before.kind == "number" and after.kind == "number":
                made[-1] = Token(
                    before.text + token.text + after.text,
                    "range",
                    before.start,
                    after.end,
                    before.values + after.values,
                )
                index += 2
                continue
            if before.kind in ("word", "number") and after.kind == "word":
                index += 1
                continue
        made.append(token)
        index += 1
    return made


def _joined(tokens: list[Token]) -> list[Token]:
    """Make one number of ``2 1/2`` and ``2½``, and of ``1/2`` alone where it is a usual fraction."""
    made: list[Token] = []
    index = 0
    while index < len(tokens):
        token = tokens[index]
        rest = tokens[index + 1 : index + 3]
        if (
            token.kind == "number"
            and len(rest) == 2
            and rest[0].text == "/"
            and rest[1].kind == "number"
            and (token.text, rest[1].text) in {("1", "2"), ("1", "4"), ("3", "4"), ("1", "3")}
            and token.end == rest[0].start
            and rest[0].end == rest[1].start
        ):
            part = token.values[0] / rest[1].values[0]
            token = Token(f"{token.text}/{rest[1].text}", "fraction", token.start, rest[1].end, (part,))
            index += 2
        if token.kind == "fraction" and made and made[-1].kind == "number" and made[-1].values[0].is_integer():
            whole = made.pop()
            token = Token(
                f"{whole.text} {token.text}", "number", whole.start, token.end, (whole.values[0] + token.values[0],)
            )
        made.append(token)
        index += 1
    return made


def parts_of(text: str) -> list[Part]:
    """Return the parts of a note in their order.

    Commas, semicolons, dashes with blanks round them and ends of sentences part; a full stop or a question mark ends a sentence where
    nothing or a blank follows, a semicolon and a line end always do.
    """
    parts: list[Part] = []
    held: list[Token] = []
    sentence = 0

    def close(led: bool = False) -> None:
        if held:
            parts.append(Part(tuple(held), sentence, held[0].start, held[-1].end, led))
            held.clear()

    for token in tokens_of(text):
        loose_after = token.end >= len(text) or text[token.end].isspace()
        loose_before = token.start == 0 or text[token.start - 1].isspace()
        if token.text == "?" and loose_after and held:
            held.append(token)
            close()
            sentence += 1
        elif token.text in _END and (loose_after or token.text not in ".!"):
            close()
            sentence += 1
        elif token.text in _BREAK or (token.text in _DASHES and loose_after and loose_before):
            close()
        else:
            held.append(token)
    close()
    return parts


def composed(text: str) -> str:
    """Return a note in composed form (NFC) with control characters made blanks."""
    return "".join(
        " " if unicodedata.category(letter) == "Cc" and letter != "\n" else letter
        for letter in unicodedata.normalize("NFC", text)
    )
