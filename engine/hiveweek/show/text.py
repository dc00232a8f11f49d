"""Plain text on a terminal: 80 columns, no boxes, colour only where a person looks at it."""

from __future__ import annotations

import textwrap

from rich.console import Console
from rich.text import Text

from hiveweek.texts.parts import Phrase
from hiveweek.texts.speaker import METRIC, Speaker

WIDTH = 80


class Page:
    """Collects lines and prints them.

    Parameters
    ----------
    file : text stream, optional
        Standard output by default. Where it is no terminal the text is plain.
    speaker : Speaker
        Says every phrase (metric, or with imperial figures beside).
    terminal : bool, optional
        Whether a person will look at it on a terminal, where that is not to be seen from the file.
    """

    def __init__(self, file=None, speaker: Speaker = METRIC, terminal: bool | None = None):
        self.console = Console(file=file, width=WIDTH, highlight=False, soft_wrap=True, force_terminal=terminal or None)
        self.speaker = speaker

    def line(self, text: Phrase | str = "", style: str = "") -> None:
        """Print one line as it is."""
        self.console.print(Text(self.speaker.say(text), style=style))

    def say(self, text: Phrase | str, indent: int = 0, hang: int = 0, style: str = "") -> None:
        """Print a paragraph, wrapped; later lines hang deeper."""
        for line in textwrap.wrap(
            " ".join(self.speaker.say(text).split()),
            WIDTH - 1,
            initial_indent=" " * indent,
            subsequent_indent=" " * (indent + hang),
            break_long_words=False,
            break_on_hyphens=False,
        ):
            self.console.print(Text(line, style=style))
