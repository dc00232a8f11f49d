"""What takes long to read is kept between runs, under a key made of everything it was read from.

The key covers the content of the files and of the code that reads them, so an edit is seen at once and nothing stale is
ever used. What is kept carries a digest of itself and is used only whole. Whatever goes wrong (no folder, no space, a
damaged file, another's file) costs the time to read again and nothing else. ``HIVEWEEK_NO_CACHE=1`` switches it off;
``HIVEWEEK_CACHE`` names another folder.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import pickle
import sys
from collections.abc import Callable, Iterable
from pathlib import Path

from hiveweek import __version__

MOST = 60  # files kept in the folder, newest first
_DIGEST = 32


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
        + [path for room in rooms for path in sorted((own / room).glob("*.py"))]
    )


def kept(name: str, key: str, make: Callable[[], object]):
    """Return what is kept under a key, or make it and keep it.

    Parameters
    ----------
    name : str
        What it is, for the file's name.
    key : str
        From ``key_of``.
    make : callable
        Makes it where it is not kept; what it raises is not kept.
    """
    path = None
    try:
        place = folder()
        path = place / f"{name}-{key[:40]}.kept" if place is not None else None
        found = _read(path) if path is not None else None
    except Exception:  # unreadable, damaged, or of other code than its key says: read again
        found = None
    if found is not None:
        return found[0]
    made = make()
    if path is not None:
        # A folder that takes nothing, or a thing that cannot be written, costs only time.
        with contextlib.suppress(OSError, pickle.PicklingError, AttributeError, TypeError):
            _write(path, made)
    return made


def _read(path: Path) -> tuple | None:
    with path.open("rb") as file:
        # What lies there is run when it is read; only one's own files are trusted so far.
        if hasattr(os, "getuid") and os.fstat(file.fileno()).st_uid != os.getuid():
            return None
        whole = file.read()
    if hashlib.sha256(whole[_DIGEST:]).digest() != whole[:_DIGEST]:
        return None
    return (pickle.loads(whole[_DIGEST:]),)


def _write(path: Path, made) -> None:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    for old in sorted(path.parent.glob("*.kept"), key=lambda p: p.stat().st_mtime, reverse=True)[MOST:]:
        old.unlink(missing_ok=True)
    body = pickle.dumps(made, protocol=5)
    part = path.with_suffix(f".{os.getpid()}.part")
    part.write_bytes(hashlib.sha256(body).digest() + body)
    part.replace(path)
