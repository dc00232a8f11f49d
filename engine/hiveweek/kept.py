"""What takes long to read is kept between runs, under a key made of everything it was read from.

The key covers the content of the files and of the code that reads them, so an edit is seen at once and nothing stale is
ever used. What is kept is plain JSON, read by its declared type (``plain``): nothing in a file is ever run. A file is used
only whole, only for the name, key and type it was written for, and only where it and its folder are this user's own and nobody
else may write there. Whatever else lies there, or goes wrong, costs the time to read again and nothing more, and is written
over. ``HIVEWEEK_NO_CACHE=1`` switches it off; ``HIVEWEEK_CACHE`` names another folder.

The folder is the platform's (platformdirs). No cache library: those at hand unpickle what they find, or keep a database that
every run would have to open; a file a thing, put in place whole, needs neither locks nor a server.
"""

from __future__ import annotations

import hashlib
import os
import stat
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from hiveweek import __version__
from hiveweek.plain import Codec

MOST = 60  # files kept in the folder, newest first
MOST_BYTES = 32 * 1024 * 1024  # of one file; the largest so far is about one megabyte
STRAY_S = 3600.0  # after this time a file half written belongs to nobody any more
_HEAD = b"hiveweek kept 2\n"
_OTHERS_WRITE = stat.S_IWGRP | stat.S_IWOTH

T = TypeVar("T")
_CODECS: dict[object, Codec] = {}


def folder() -> Path | None:
    """Return the folder where things are kept, None where nothing is to be kept."""
    if os.environ.get("HIVEWEEK_NO_CACHE"):
        return None
    given = os.environ.get("HIVEWEEK_CACHE")
    if given:
        return Path(given)
    from platformdirs import user_cache_path

    return user_cache_path("hiveweek")


def key_of(words: Iterable, files: Iterable[Path]) -> str:
    """Return the key of what comes from some words and the content of some files.

    Parameters
    ----------
    words : iterable
        Everything besides the files that decides the result; their ``repr`` counts.
    files : iterable of Path
        Names and bytes count; a file that is not there counts as such.
    """
    digest = hashlib.sha256(repr((__version__, sys.version_info, *words)).encode())
    for path in files:
        try:
            content = path.read_bytes()
        except OSError:
            content = None
        digest.update(repr((str(path), content is None, len(content or b""))).encode())
        digest.update(content or b"")
    return digest.hexdigest()


def code(*rooms: str) -> list[Path]:
    """Return the source files of some rooms of this package and of its root modules, and the schemas they read by."""
    own = Path(__file__).resolve().parent
    return (
        sorted(own.glob("*.py"))
        + sorted(own.glob("schemas/*.json"))
        + [path for room in rooms for path in sorted((own / room).rglob("*.py"))]
    )


def kept(name: str, key: str, kind: type[T], make: Callable[[], T]) -> T:
    """Return what is kept under a key, or make it and keep it.

    Parameters
    ----------
    name : str
        What it is, for the file's name.
    key : str
        From ``key_of``.
    kind : type
        What it is declared to be, as ``plain.Codec`` takes it.
    make : callable
        Makes it where it is not kept; what it raises is not kept.

    Returns
    -------
    object
        Equal to what ``make`` gives.
    """
    codec = _CODECS.get(kind) or _CODECS.setdefault(kind, Codec(kind))
    label = f"{name} {key} {codec.shape}"
    path = None
    with suppress(Exception):  # no folder, unreadable, damaged, not ours, of another type: read again
        place = folder()
        if place is not None:
            path = place / f"{name}-{key[:40]}.kept"
            return codec.read(read_file(path, label))
    made = make()
    if path is not None:
        with suppress(Exception):  # a folder that takes nothing, a thing that does not fit: the next run reads again
            write_file(path, label, codec.text(made))
    return made


# --- whose it is ---
def _own(found: os.stat_result, path: Path) -> bool:
    """Whether a file or folder is this user's, and nobody else may write there."""
    if os.name == "posix" and found.st_mode & _OTHERS_WRITE:
        return False
    if hasattr(os, "getuid"):
        return found.st_uid == os.getuid()
    # Where the owner cannot be asked: below the user's home, which the system keeps from other users.
    return path.resolve().is_relative_to(Path.home().resolve())


def _require(holds: bool, path: Path) -> None:
    if not holds:
        raise PermissionError(f"{path} is not used: not a plain file or folder of this user alone")


# --- files ---
def _digest(label: str, body: bytes) -> bytes:
    """Return the digest of a body under the name, key and type it belongs to, so that no file stands in for another."""
    return hashlib.sha256(label.encode() + b"\n" + body).hexdigest().encode() + b"\n"


def read_file(path: Path, label: str) -> bytes:
    """Return what ``write_file`` put into a file, and nothing else that may lie there.

    Parameters
    ----------
    label : str
        What it was written for; another label finds nothing.

    Raises
    ------
    OSError
        Where it is not there, or not to be trusted.
    ValueError
        Where it is not whole, or was written for something else.
    """
    _require(_own(path.parent.stat(), path.parent), path.parent)
    _require(stat.S_ISREG(path.lstat().st_mode), path)  # opening a pipe would wait, opening a device might do something
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(path, flags), "rb") as file:
        found = os.fstat(file.fileno())
        _require(stat.S_ISREG(found.st_mode) and found.st_size <= MOST_BYTES and _own(found, path), path)
        whole = file.read(MOST_BYTES + 1)
    start = len(_HEAD) + hashlib.sha256().digest_size * 2 + 1
    body = whole[start:]
    if whole[:start] != _HEAD + _digest(label, body):
        raise ValueError(f"{path} is damaged, or was written for something else")
    return body


def own_folder(place: Path) -> None:
    """Make a folder for this user alone where it is missing, and those it lies in.

    Raises
    ------
    OSError
        Where it cannot be made, is another's, or others may write there.
    """
    for each in (*reversed(place.parents), place):
        each.mkdir(mode=0o700, exist_ok=True)
    _require(_own(place.stat(), place), place)


def write_file(path: Path, label: str, text: str) -> None:
    """Put a file in place whole, for this user alone; who writes the same at the same time does no harm.

    Raises
    ------
    OSError
        Where the folder takes nothing or is not to be trusted; nothing half written stays.
    """
    place = path.parent
    own_folder(place)
    _tidy(place)
    body = text.encode()
    handle, part = tempfile.mkstemp(suffix=".part", dir=place)  # for this user alone, under a name nobody can foresee
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(_HEAD + _digest(label, body) + body)
        os.replace(part, path)
    except BaseException:
        with suppress(OSError):
            os.unlink(part)
        raise


def _tidy(place: Path) -> None:
    """Take away the oldest files, and what writers that were ended left half written."""
    ages = []
    for path in place.iterdir():
        with suppress(OSError):  # another has taken it away
            ages.append((path.lstat().st_mtime, path))
    ages.sort(reverse=True)
    old = [path for _, path in ages if path.suffix == ".kept"][MOST:]
    stray = [path for when, path in ages if path.suffix == ".part" and when < time.time() - STRAY_S]
    for path in old + stray:
        with suppress(OSError):
            path.unlink()
