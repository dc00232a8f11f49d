"""Jobs missed: ``vocabulary/late.yaml``, read and checked for circles and for substitutes that nobody can give."""

from __future__ import annotations

from graphlib import CycleError, TopologicalSorter

from hiveweek.language.conditions import parse_node
from hiveweek.problems import Place, Problem
from hiveweek.rules.model import Deadline, Late
from hiveweek.rules.parsing import deadline_of, sources_of
from hiveweek.rules.reader import Library, Piece
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import listed


def parse_late(document: Document, library: Library, problems: list[Problem]) -> dict[str, Late]:
    """Return the entries of the file by action.

    Parameters
    ----------
    document : Document
        Its shape has been checked.
    problems : list of Problem
        Everything wrong is appended: conditions and days that cannot be read, unknown sources, a substitute that neither a rule
        of the base advises nor the entry gives, substitutes that lead back to where they began.
    """
    advised = {raw.pieces["advise"].value for raw in library.rules.values() if "advise" in raw.pieces}
    found: dict[str, Late] = {}
    for action, row in (document.data.get("late") or {}).items():
        path, body = ("late", action), row or {}
        harm = [
            _harm(document, (*path, "harm", n), text, library, problems)
            for n, text in enumerate(listed(body.get("harm")))
        ]
        until = body.get("until")
        if until is not None:
            until = parse_node(document, (*path, "until"), library.scope(), problems, until)
        instead = body.get("instead") or ""
        if instead and instead not in advised and not body.get("because"):
            said = f"no rule advises '{instead}': say 'because' for it here"
            problems.append(document.problem((*path, "instead"), "never-advised", said))
        found[action] = Late(
            action,
            tuple(day for day in harm if day is not None),
            until,
            body.get("say") or "",
            instead,
            body.get("because") or "",
            body.get("safety") or "",
            sources_of(Piece(document, (*path, "source"), body.get("source")), library, problems),
            Place(document.name, *document.key_place(path)),
        )
    try:
        TopologicalSorter({name: [late.instead] for name, late in found.items() if late.instead}).prepare()
    except CycleError as circle:
        names = circle.args[1]
        said = f"what is done instead leads back: {', '.join(reversed(names))}"
        problems.append(document.problem(("late", names[0], "instead"), "circle", said))
    return found


def _harm(document: Document, path: tuple, text, library: Library, problems: list[Problem]) -> Deadline | None:
    found = deadline_of(Piece(document, path, text), library, problems)
    if found is not None and found.base == "today":
        problems.append(document.problem(path, "bad-deadline", f"'{text}': harm begins on a date fact or an event"))
        return None
    return found
