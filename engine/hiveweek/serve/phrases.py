"""Pass phrases: kept as slow hashes, and guesses limited."""

from __future__ import annotations

import hashlib
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from argon2 import PasswordHasher
from argon2.exceptions import Argon2Error, InvalidHashError

from hiveweek.problems import InputProblems, Problem
from hiveweek.serve.sessions import Role

LEAST_LETTERS, MOST_LETTERS = 12, 200
_HASHER = PasswordHasher()  # the library's own costs, which follow RFC 9106
_ONE_AT_A_TIME = threading.Semaphore(1)  # a hash takes 64 MB: many guesses at once must not take the machine


def hashed(phrase: str) -> str:
    """Return the hash of a new pass phrase.

    Raises
    ------
    InputProblems
        For one that is too short to keep anybody out.
    """
    plain = _plain(phrase)
    if not LEAST_LETTERS <= len(plain) <= MOST_LETTERS:
        raise InputProblems(
            [Problem("", 0, 0, "short-phrase", f"a pass phrase has {LEAST_LETTERS} to {MOST_LETTERS} letters")]
        )
    return _HASHER.hash(plain)


def role_of(phrase: str, known: Mapping[str, str]) -> Role | None:
    """Return whose pass phrase it is; None for nobody's."""
    plain = _plain(phrase)
    if len(plain) > MOST_LETTERS:
        return None
    found = None
    with _ONE_AT_A_TIME:
        for role in Role:
            if role.name.lower() in known and _is(known[role.name.lower()], plain):
                found = role
    return found


def _plain(phrase: str) -> str:
    return " ".join(phrase.split())


def _is(kept: str, plain: str) -> bool:
    try:
        return _HASHER.verify(kept, plain)
    except (Argon2Error, InvalidHashError):
        return False


def mark(kept: str) -> str:
    """Return a mark of a pass phrase's hash: another phrase has another one."""
    return hashlib.sha256(kept.encode()).hexdigest()[:16]


@dataclass
class _Tried:
    wrong: int = 0
    until: float = 0.0
    last: float = 0.0


class Tries:
    """Counts wrong guesses, by address and in all; each one above a few makes the next wait longer.

    Parameters
    ----------
    now : callable
        The clock, in seconds.
    """

    FREE, FIRST_WAIT, LONGEST_WAIT = 5, 30.0, 900.0  # wrong guesses that cost nothing; seconds
    FORGOTTEN = 3600.0  # seconds after the last wrong guess
    FREE_IN_ALL = 50
    MOST_ADDRESSES = 1000

    def __init__(self, now: Callable[[], float] = time.monotonic):
        self._now = now
        self._lock = threading.Lock()
        self._by: OrderedDict[str, _Tried] = OrderedDict()
        self._all = _Tried()

    def wait(self, address: str) -> float:
        """Return the seconds that an address has to wait before its next guess; 0 where it may guess."""
        now = self._now()
        with self._lock:
            mine = self._by.get(address, _Tried())
            return max(0.0, mine.until - now, self._all.until - now)

    def wrong(self, address: str) -> None:
        """Count a wrong guess."""
        now = self._now()
        with self._lock:
            mine = self._by.setdefault(address, _Tried())
            self._by.move_to_end(address)
            while len(self._by) > self.MOST_ADDRESSES:
                self._by.popitem(last=False)
            self._count(mine, now, self.FREE)
            self._count(self._all, now, self.FREE_IN_ALL)

    def right(self, address: str) -> None:
        """Forget the guesses of an address that knew the phrase; its last one was none."""
        with self._lock:
            self._by.pop(address, None)
            self._all.wrong = max(0, self._all.wrong - 1)
            if self._all.wrong < self.FREE_IN_ALL:
                self._all.until = 0.0

    def _count(self, tried: _Tried, now: float, free: int) -> None:
        if now - tried.last > self.FORGOTTEN:
            tried.wrong = 0
        tried.wrong, tried.last = tried.wrong + 1, now
        if tried.wrong >= free:
            tried.until = now + min(self.LONGEST_WAIT, self.FIRST_WAIT * 2 ** min(16, tried.wrong - free))
