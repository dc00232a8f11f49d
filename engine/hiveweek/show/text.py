"""Plain text on a terminal: 80 columns, no boxes, colour only where a person looks at it."""

from __future__ import annotations

import datetime as dt
import textwrap

from rich.console import Console
from rich.text import Text

from hiveweek.plan.words import date as say_date

WIDTH = 80
DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


class Page:
    """Collects lines and prints them.

    Parameters
    ----------
    file : text stream, optional
        Standard output by default. Where it is no terminal the text is plain.
    change : callable, optional
        Applied to every text (imperial figures).
    """

    def __init__(self, file=None, change=None):
        self.console = Console(file=file, width=WIDTH, highlight=False, soft_wrap=True)
        self.change = change or (lambda text: text)

    def line(self, text: str = "", style: str = "") -> None:
        """Print one line as it is."""
        self.console.print(Text(self.change(text), style=style))

    def say(self, text: str, indent: int = 0, hang: int = 0, style: str = "") -> None:
        """Print a paragraph, wrapped; later lines hang deeper."""
        for line in textwrap.wrap(
            self.change(" ".join(text.split())),
            WIDTH - 1,
            initial_indent=" " * indent,
            subsequent_indent=" " * (indent + hang),
            break_long_words=False,
            break_on_hyphens=False,
        ):
            self.console.print(Text(line, style=style))


def day(value: dt.date, today: dt.date | None = None) -> str:
    """Return a date with its weekday: ``Thursday 12 March``."""
    return f"{DAYS[value.weekday()]} {say_date(value, today)}"


def upper_first(text: str) -> str:
    """Return a text that starts with a capital."""
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """Return a text that ends in a full stop."""
    text = " ".join(text.split())
    return text if not text or text.endswith((".", "?", ":")) else text + "."


def joined(words: list[str]) -> str:
    """Return words as a list in a sentence."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1] if words else ""
