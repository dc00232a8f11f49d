"""A process beside this one that works out one job after another, and can be ended at any moment."""

from __future__ import annotations

import atexit
import multiprocessing
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import suppress
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from queue import Empty, SimpleQueue
from typing import Any

from hiveweek.inference.orphan import end_with_parent


class Gone(Exception):
    """The process that works out the answers has ended before it had one, or was closed."""


class Aside:
    """Works out jobs in a process of its own, in their order; where it was ended from outside, the next job starts another.

    To end it waits for nothing but the process itself. A pool of the standard library waits until its pipes are closed, and what
    the process has started in turn holds them open for as long as it lives.
    """

    def __init__(self) -> None:
        self._jobs: SimpleQueue[tuple[Future[Any], Callable[..., Any], tuple]] = SimpleQueue()
        self._lock = threading.Lock()
        self._process: SpawnProcess | None = None
        self._pipe: Connection | None = None
        self._closed = False
        atexit.register(self.close)
        # A process ends with the thread that started it: this one stays.
        threading.Thread(target=self._run, daemon=True).start()

    def submit(self, job: Callable[..., Any], *given: Any) -> Future[Any]:
        """Have a job worked out.

        Parameters
        ----------
        job : callable
            Of a module, so that the process finds it too.
        *given
            What it takes; plain data.

        Returns
        -------
        Future
            Its answer, or what it raised; ``Gone`` where the process ended first. Cancelled where this was closed before.
        """
        future: Future[Any] = Future()
        self._jobs.put((future, job, given))
        if self._closed:
            self._cancel()
        return future

    def close(self) -> None:
        """End the process; what waits is cancelled. Once is enough, twice does no harm."""
        atexit.unregister(self.close)
        with self._lock:
            self._closed = True
            process = self._process
        if process is not None:
            process.kill()
            process.join()
        self._cancel()

    def _cancel(self) -> None:
        with suppress(Empty):
            while True:
                self._jobs.get_nowait()[0].cancel()

    def _run(self) -> None:
        while True:
            future, job, given = self._jobs.get()
            if not future.set_running_or_notify_cancel():
                continue
            try:
                found, error = self._asked(job, given)
            except Exception as wrong:
                found, error = None, wrong
            if error is None:
                future.set_result(found)
            else:
                future.set_exception(error)

    def _asked(self, job: Callable[..., Any], given: tuple) -> tuple[Any, Exception | None]:
        pipe = self._started()
        try:
            pipe.send((job, given))
            return pipe.recv()
        except (EOFError, OSError) as error:
            self._pipe = None
            raise Gone from error

    def _started(self) -> Connection:
        with self._lock:
            if self._closed:
                raise Gone
            if self._pipe is None or self._process is None or not self._process.is_alive():
                if self._process is not None:
                    self._process.kill()
                context = multiprocessing.get_context("spawn")
                near, far = context.Pipe()
                self._process = context.Process(target=_work, args=(far,))
                self._process.start()
                far.close()  # so that its end is seen here
                self._pipe = near
            return self._pipe


def _work(pipe: Connection) -> None:
    end_with_parent()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # who stops the page stops its parent, which ends this one
    while True:
        try:
            job, given = pipe.recv()
        except EOFError:
            return
        try:
            answer: tuple[Any, Exception | None] = (job(*given), None)
        except Exception as error:
            answer = (
                None,
                RuntimeError(f"{type(error).__name__}: {error}"),
            )  # the error itself may not come through whole
        pipe.send(answer)
