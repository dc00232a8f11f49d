"""How far a long piece of work has come: one line on the error stream, on a terminal only, gone when the work is done.

The library that draws it is loaded when there is something to draw: most commands are done before.
"""

from __future__ import annotations

import argparse
import sys
import threading
import time
from collections.abc import Iterable, Iterator
from types import TracebackType
from typing import TYPE_CHECKING, TypeVar

from hiveweek.texts.speaker import says

if TYPE_CHECKING:
    from rich.progress import Progress

AFTER_S = 1.0
Part = TypeVar("Part")


def add_quiet(parser: argparse.ArgumentParser) -> None:
    """Add ``--quiet`` to a command that may take longer than a second."""
    parser.add_argument("--quiet", action="store_true", help=says("cli.quiet"))


class Working:
    """A line that appears when a piece of work takes longer than a second.

    Parameters
    ----------
    total : int, optional
        Of how many parts; without it the line tells the time that has gone by.
    quiet : bool
        Never show it.
    alone : bool
        The work stays in this process: the line moves by itself. Where the process forks it moves only with `step`, for a
        thread beside a fork may leave a lock behind.
    what : str, optional
        What is being done.
    """

    def __init__(self, total: int | None = None, *, quiet: bool = False, alone: bool = True, what: str = ""):
        self.total, self.done, self.what = total, 0, what or says("cli.working")
        self.shown: Progress | None = None
        self.timer: threading.Timer | None = None
        self.wanted = not quiet and sys.stderr.isatty()
        self.alone, self.began = alone, time.monotonic()
        self.lock = threading.Lock()

    def __enter__(self) -> Working:
        if self.wanted and self.alone:
            self.timer = threading.Timer(AFTER_S, self._show)
            self.timer.daemon = True
            self.timer.start()
        return self

    def step(self) -> None:
        """Say that one part more is done."""
        self._moved(1)

    def tell(self, what: str) -> None:
        """Say what is being done now."""
        self.what = what
        self._moved(0)

    def each(self, parts: Iterable[Part]) -> Iterator[Part]:
        """Yield parts of the work, each done when the next is asked for."""
        for part in parts:
            yield part
            self.step()

    def _moved(self, parts: int) -> None:
        with self.lock:
            self.done += parts
            if self.shown is not None:
                self.shown.update(self.task, completed=self.done, description=self.what, refresh=True)
        if self.wanted and not self.alone and time.monotonic() - self.began >= AFTER_S:
            self._show()

    def _show(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

        with self.lock:
            if self.shown is None and self.wanted:
                known = [BarColumn(), MofNCompleteColumn()] if (self.total or 0) > 1 else [TimeElapsedColumn()]
                parts = [SpinnerColumn(), TextColumn("{task.description}", markup=False), *known]
                console = Console(stderr=True)
                # What the command prints meanwhile goes where it would without this line.
                self.shown = Progress(
                    *parts, console=console, transient=True, auto_refresh=self.alone, redirect_stdout=False
                )
                self.task = self.shown.add_task(self.what, total=self.total, completed=self.done)
                self.shown.start()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.timer is not None:
            self.timer.cancel()
        with self.lock:
            self.wanted = False
            if self.shown is not None:
                self.shown.stop()
