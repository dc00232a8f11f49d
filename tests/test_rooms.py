"""Arrows go one way: a room of the package imports only from rooms that stand left of it."""

from __future__ import annotations

import ast
from pathlib import Path

import hiveweek

ROOT = Path(hiveweek.__file__).parent
ROOMS = [
    "problems",
    "files",
    "content",
    "plain",
    "kept",
    "callable_room",
    "texts",
    "shapes",
    "numbers",
    "language",
    "vocabulary",
    "climate",
    "colony",
    "record",
    "facts",
    "rules",
    "inference",
    "plan",
    "practice",
    "worth",
    "show",
    "serve",
    "authoring",
    "register",
    "interface",
    "cli",
]


def rooms_imported(path: Path) -> set[str]:
    """Rooms that a module imports from, at its head or inside a function."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module == "hiveweek":
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("hiveweek."):
            found.add(node.module.split(".")[1])
        elif isinstance(node, ast.Import):
            found |= {alias.name.split(".")[1] for alias in node.names if alias.name.startswith("hiveweek.")}
    return found


def test_no_arrow_points_to_the_right():
    wrong, seen = [], set()
    for path in sorted(ROOT.rglob("*.py")):
        room = path.relative_to(ROOT).parts[0].removesuffix(".py")
        if room == "__init__":  # it names the interface, and loads it only when it is asked for
            continue
        seen.add(room)
        assert room in ROOMS, f"{room}: a new room needs its place in the row"
        imported = rooms_imported(path) & set(ROOMS)
        wrong += [
            f"{path.relative_to(ROOT)} imports {other}" for other in imported if ROOMS.index(other) > ROOMS.index(room)
        ]
    assert not wrong
    assert {"shapes", "climate", "rules", "plan", "cli"} <= seen
