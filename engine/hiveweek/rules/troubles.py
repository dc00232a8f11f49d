"""The serious troubles of ``vocabulary/troubles.yaml``: when each is known to stand, and what counts as acting on it."""

from __future__ import annotations

from hiveweek.language.conditions import parse_node
from hiveweek.language.terms import FINDING, All, NotTrue, refs
from hiveweek.problems import Place, Problem
from hiveweek.rules.model import Trouble
from hiveweek.rules.parsing import sources_of
from hiveweek.rules.reader import Library, Piece
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import texts


def parse_troubles(document: Document, library: Library, problems: list[Problem]) -> dict[str, Trouble]:
    """Return the troubles of a file by id, those that kill sooner first.

    Parameters
    ----------
    document : Document
        Its shape has been checked.
    problems : list of Problem
        Everything wrong is appended: conditions that cannot be read or that read a finding, unknown sources.
    """
    found = {}
    for name, body in (document.data.get("troubles") or {}).items():
        if not isinstance(body, dict) or "when" not in body:
            continue
        path = ("troubles", name)
        when = parse_node(document, (*path, "when"), library.scope(), problems, body["when"])
        unless = body.get("unless")
        if unless is not None:
            unless = parse_node(document, (*path, "unless"), library.scope(), problems, unless)
        source = sources_of(Piece(document, (*path, "source"), body.get("source")), library, problems)
        if when is None:
            continue
        whole = when if unless is None else All((when, NotTrue(unless)))
        for ref in refs(whole):
            if ref.is_finding:
                said = (
                    f"'{ref.name}': a trouble is known from facts alone, not from what rules make of them ({FINDING}..)"
                )
                problems.append(document.problem((*path, "when"), "no-findings", said))
        found[name] = Trouble(
            name,
            body.get("label", ""),
            whole,
            texts(body.get("acts")),
            texts(body.get("looks")),
            float(body.get("kills_days", 0)),
            source,
            tuple(body.get("more") or ()),
            dict(body.get("worse") or {}),
            Place(document.name, *document.key_place(path)),
        )
    return dict(sorted(found.items(), key=lambda item: (item[1].kills_days, item[0])))
