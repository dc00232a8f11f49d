"""Writes what a reader is given as a file."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write(path: Path | str, content: str | bytes) -> None:
    """Write a file whole or not at all; text as UTF-8.

    Raises
    ------
    OSError
        Where the folder is missing or cannot be written, or the disk is full.
    """
    path = Path(path)
    handle, name = tempfile.mkstemp(dir=path.parent or Path("."), prefix=path.name, suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content if isinstance(content, bytes) else content.encode())
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        os.unlink(name)
        raise
