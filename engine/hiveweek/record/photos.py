"""Photos of a record: files beside it, each named by what it shows, so that one sent twice is kept once."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from pathlib import Path

_NAME = re.compile(r"[0-9a-f]{32}\.jpg")


def folder_of(place: str) -> Path:
    """Return the folder that belongs to a record: beside its file, or in the user's own data for a server's."""
    if "://" not in place:
        return Path(f"{place}.page")
    import platformdirs

    return Path(platformdirs.user_data_dir("hiveweek", appauthor=False)) / "page"


def name_of(photo: bytes) -> str:
    """Return the name under which a photo is kept."""
    return f"{hashlib.sha256(photo).hexdigest()[:32]}.jpg"


def path_of(folder: Path, name: str) -> Path | None:
    """Return where the photo of a name lies; None for what is no name of a photo."""
    return folder / "photos" / name if _NAME.fullmatch(name) else None


def remove(folder: Path, names: Iterable[str]) -> None:
    """Delete photos, for good."""
    for name in names:
        path = path_of(folder, name)
        if path is not None:
            path.unlink(missing_ok=True)
