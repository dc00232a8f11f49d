"""How far a long piece of work has come: one line on the error stream, on a terminal only, gone when the work is done."""

from __future__ import annotations

import sys
import threading
import time
from types import TracebackType

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, SpinnerColumn, TextColumn

from hiveweek.texts.speaker import says

AFTER_S = 1.0


class Working:
    """A line that appears when a piece of work takes longer than a second.

    Parameters
    ----------
    total : int
        Of how many parts.
    quiet : bool
        Never show it.
    alone : bool
        The work stays in this process: the line moves by itself. Where the process forks it moves only with `step`, for a
        thread beside a fork may leave a lock behind.
    """

    def __init__(self, total: int, *, quiet: bool = False, alone: bool = True):
        self.total, self.done = total, 0
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
        with self.lock:
            self.done += 1
            if self.shown is not None:
                self.shown.update(self.task, completed=self.done, refresh=True)
        if self.wanted and not self.alone and time.monotonic() - self.began >= AFTER_S:
            self._show()

    def _show(self) -> None:
        with self.lock:
            if self.shown is None and self.wanted:
                parts = [SpinnerColumn(), TextColumn("{task.description}")]
                parts += [BarColumn(), MofNCompleteColumn()] if self.total > 1 else []
                console = Console(stderr=True)
                self.shown = Progress(*parts, console=console, transient=True, auto_refresh=self.alone)
                self.task = self.shown.add_task(says("cli.working"), total=self.total, completed=self.done)
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
