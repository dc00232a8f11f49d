"""Writes what a reader is given as a file."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write(path: Path | str, content: str | bytes) -> None:
    """Write a file whole or not at all; text as UTF-8. What is no file, such as a terminal or a pipe, is written into.

    Raises
    ------
    OSError
        Where the folder is missing or cannot be written, or the disk is full.
    """
    path, data = Path(os.path.realpath(path)), content if isinstance(content, bytes) else content.encode()
    if path.exists() and not path.is_file():
        path.write_bytes(data)
        return
    handle, name = tempfile.mkstemp(dir=path.parent or Path("."), prefix=path.name, suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(name, 0o666 & ~_mask())
        os.replace(name, path)
    except BaseException:
        os.unlink(name)
        raise


def _mask() -> int:
    """Return what the keeper takes from the rights of new files; the system tells it only where it is set."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
