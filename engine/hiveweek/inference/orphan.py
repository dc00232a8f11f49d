"""A child process that ends when its parent does, however the parent ends.

A parent that is killed cannot stop its children, and a child that lives on holds the output that it inherited open: whoever
reads that output waits for ever.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
from contextlib import suppress
from multiprocessing.connection import wait

_SET_DEATH_SIGNAL = 1  # PR_SET_PDEATHSIG, prctl(2)


def end_with_parent() -> None:
    """Make this process end with the one that started it; to be called first in a child of ``multiprocessing``.

    On Linux the kernel does it, even in the midst of a C function that hangs. Everywhere a thread waits for the end of the
    pipe whose other end only the parent holds; it gets its turn whenever Python runs, and sees a parent that went before.
    """
    if sys.platform == "linux":
        _ask_kernel()
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_watch, args=(parent.sentinel,), daemon=True).start()


def _ask_kernel() -> None:
    import ctypes

    with suppress(OSError, AttributeError):  # a C library without it: the thread remains
        ctypes.CDLL(None).prctl(_SET_DEATH_SIGNAL, signal.SIGKILL, 0, 0, 0)


def _watch(sentinel: int) -> None:
    wait([sentinel])
    os._exit(1)
