"""Plain text on a terminal: as wide as it is, 80 columns elsewhere, no boxes, colour only where a person looks at it."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Sequence
from itertools import zip_longest

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from hiveweek.texts.parts import Phrase
from hiveweek.texts.speaker import METRIC, Speaker

WIDTH = 80
NARROWEST, WIDEST = 40, 110


class _Console(Console):
    def on_broken_pipe(self) -> None:
        """Leave it to the command, which knows the right code; the library would end the process."""
        raise BrokenPipeError


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
    width : int, optional
        Columns; of standard output as wide as it is, of all else 80.
    """

    def __init__(self, file=None, speaker: Speaker = METRIC, terminal: bool | None = None, width: int | None = None):
        width = width or (columns() if file is None else WIDTH)
        self.console = _Console(
            file=file, width=width, highlight=False, soft_wrap=True, force_terminal=terminal or None
        )
        self.speaker, self.width = speaker, width

    def line(self, text: Phrase | str = "", style: str = "") -> None:
        """Print one line as it is."""
        self.console.print(Text(self.speaker.say(text), style=style))

    def say(self, text: Phrase | str, indent: int = 0, hang: int = 0, style: str = "") -> None:
        """Print a paragraph, wrapped; later lines hang deeper."""
        for line in wrapped(self.speaker.say(text), self.width - 1, indent, hang):
            self.console.print(Text(line, style=style))

    def row(self, cells: Sequence[tuple[Phrase | str, int]], styles: Sequence[str] = (), gap: int = 2) -> None:
        """Print cells side by side, each wrapped in its width; words longer than their cell are broken.

        Parameters
        ----------
        cells : sequence of (text, width)
        styles : sequence of str
            Of each cell; plain where there are fewer.
        gap : int
            Columns between two cells.
        """
        columns = [wrapped(self.speaker.say(text), width, breaks=True) or [""] for text, width in cells]
        told = [*styles, *[""] * len(cells)][: len(cells)]
        for parts in zip_longest(*columns, fillvalue=""):
            line = Text()
            for (_, width), part, style in zip(cells, parts, told, strict=True):
                line.append(part, style=style)
                line.append(" " * (width - cell_len(part) + gap))
            line.rstrip()
            self.console.print(line)


def wrapped(text: str, width: int, indent: int = 0, hang: int = 0, *, breaks: bool = False) -> list[str]:
    """Return a text in lines of at most a width; later lines hang deeper; one word that is longer goes beyond, unless it ``breaks``."""
    return textwrap.wrap(
        " ".join(text.split()),
        max(width, 1),
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + hang),
        break_long_words=breaks,
        break_on_hyphens=False,
    )


def columns() -> int:
    """Return how wide a page on standard output is: as the terminal, within what is well read; 80 columns where it is none."""
    if not sys.stdout.isatty():
        return WIDTH
    return min(max(shutil.get_terminal_size((WIDTH, 24)).columns, NARROWEST), WIDEST)
