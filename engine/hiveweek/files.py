"""Files that somebody named, read whole and bounded: a device, a pipe or a loop of links is told in a line."""

from __future__ import annotations

import codecs
import os
import stat
from pathlib import Path

from hiveweek.problems import InputProblems, Problem


def opened(path: Path | str, name: str | None = None) -> int:
    """Open a plain file for reading and return its descriptor; the caller closes it.

    Parameters
    ----------
    path : path
    name : str, optional
        The file as people named it.

    Raises
    ------
    InputProblems
        Where it is not there, may not be read, or is a folder, a device, a pipe or a socket, which may never end.
    """
    shown = name or str(path)
    if not os.fspath(path) or "\0" in os.fspath(path):
        raise _no_file(shown, "there is no such file")
    # a pipe to which nobody writes would hold an ordinary open for ever
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
    try:
        file = os.open(path, flags)
    except FileNotFoundError:
        raise _no_file(shown, "there is no such file") from None
    except OSError as error:
        folder = os.path.isdir(path)  # of which some systems say that it may not be read
        raise _no_file(shown, _FOLDER if folder else f"cannot be read: {error.strerror}") from None
    kind = os.fstat(file).st_mode
    if not stat.S_ISREG(kind):
        os.close(file)
        raise _no_file(shown, _FOLDER if stat.S_ISDIR(kind) else "this is a device or a pipe, not a file")
    return file


def read_bytes(path: Path | str, most: int, name: str | None = None) -> bytes:
    """Return what a plain file of at most ``most`` bytes holds.

    Raises
    ------
    InputProblems
        As `opened`; for a longer file.
    """
    shown = name or str(path)
    with os.fdopen(opened(path, name), "rb") as file:
        try:
            found = file.read(most + 1)
        except OSError as error:
            raise _no_file(shown, f"cannot be read: {error.strerror}") from None
    if len(found) > most:
        raise InputProblems([Problem(shown, 1, 1, "too-large", f"larger than {most // 10**6} MB")])
    return found


def text_of(raw: bytes, shown: str) -> str:
    """Return what the bytes of a text file say.

    Parameters
    ----------
    raw : bytes
    shown : str
        The file as people named it.

    Raises
    ------
    InputProblems
        At the line that is not UTF-8; UTF-16, as some spreadsheets and editors write it, is named.
    """
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        wide = raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
        raise InputProblems(
            [Problem(shown, line, 1, "not-utf8", _WIDE if wide else "the file is not UTF-8 text")]
        ) from None
    if "\0" in text[:2]:  # plain letters in UTF-16 without its mark: every other byte is 0
        raise InputProblems([Problem(shown, 1, 1, "not-utf8", _WIDE)])
    return text


_FOLDER = "this is a folder, not a file"
_WIDE = "the file is UTF-16 text; save it as UTF-8"


def _no_file(shown: str, text: str) -> InputProblems:
    return InputProblems([Problem(shown, 1, 1, "no-file", text)])
