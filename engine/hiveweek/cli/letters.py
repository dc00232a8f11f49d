"""Letters that a terminal cannot write, written with those it can."""

from __future__ import annotations

import codecs
import sys
import unicodedata

# what the texts use beyond ASCII and no decomposition gives
_PLAIN = {
    "°": "deg",
    "–": "-",
    "—": "-",
    "−": "-",
    "’": "'",
    "‘": "'",
    "“": '"',
    "”": '"',
    "×": "x",
    "·": "-",
    "•": "*",
    "≤": "<=",
    "≥": ">=",
    "→": "->",
    "ß": "ss",
    "æ": "ae",
    "ø": "o",
    "Ø": "O",
    "Æ": "AE",
}


def _plainly(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    made = ""
    for letter in error.object[error.start : error.end]:
        bare = "".join(c for c in unicodedata.normalize("NFKD", letter) if c.isascii())
        made += _PLAIN.get(letter) or bare or "?"
    return made, error.end


def settle() -> None:
    """Let the terminal's streams write every text, whatever letters they know; UTF-8 is left as it is."""
    codecs.register_error("plainly", _plainly)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure") and (stream.encoding or "").lower().replace("-", "") != "utf8":
            stream.reconfigure(errors="plainly")
