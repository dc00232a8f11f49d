"""What the served page keeps beside the record: the secret that signs sessions, and the pass phrases as slow hashes."""

from __future__ import annotations

import json
import os
import secrets
import tempfile
from pathlib import Path
from typing import Any

FILE = "keys.json"


def _read(folder: Path) -> dict[str, Any]:
    try:
        found = json.loads((folder / FILE).read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}
    return found if isinstance(found, dict) else {}


def _write(folder: Path, said: dict[str, Any]) -> None:
    private(folder / FILE, json.dumps(said, indent=1).encode())


def private(path: Path, data: bytes) -> None:
    """Write a file whole or not at all, for nobody else to read."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=path.name, suffix=".part")  # made for its owner alone
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.replace(name, path)
    except BaseException:
        os.unlink(name)
        raise


def secret(folder: Path) -> str:
    """Return the secret that signs sessions; made where there is none."""
    said = _read(folder)
    if not said.get("secret"):
        said["secret"] = secrets.token_urlsafe(48)
        _write(folder, said)
    return str(said["secret"])


def phrases(folder: Path) -> dict[str, str]:
    """Return the hashes of pass phrases by role."""
    return dict(_read(folder).get("phrases", {}))


def keep_phrase(folder: Path, role: str, hashed: str) -> None:
    """Keep the hash of a role's pass phrase."""
    said = _read(folder)
    said.setdefault("phrases", {})[role] = hashed
    _write(folder, said)
