"""The files of photos: written with the entries that name them, or not at all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from hiveweek.record.photos import path_of
from hiveweek.serve.secrets_kept import private


@contextmanager
def kept(folder: Path, files: Mapping[str, bytes]) -> Iterator[None]:
    """Write photos by their names before their entries are written; where that fails, take away those that are new."""
    made = []
    try:
        for name, photo in files.items():
            path = path_of(folder, name)
            if path is not None and not path.exists():
                private(path, photo)
                made.append(path)
        yield
    except BaseException:
        for path in made:
            path.unlink(missing_ok=True)
        raise
