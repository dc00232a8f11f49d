"""Which job comes before which at one hive: ``vocabulary/order.yaml``, read and checked for circles."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from graphlib import CycleError, TopologicalSorter

from hiveweek.language.conditions import parse_node
from hiveweek.problems import Place, Problem, nearest
from hiveweek.rules.model import Chain, Way
from hiveweek.rules.parsing import sources_of
from hiveweek.rules.reader import Library, Piece
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import listed, texts


def parse_order(document: Document, library: Library, problems: list[Problem]) -> tuple[Chain, ...]:
    """Return the chains of the file, in its order.

    Parameters
    ----------
    problems : list of Problem
        Everything wrong is appended: unknown actions and groups, an id that stands twice, a condition that cannot be read, ways
        that together run in a circle.
    """
    groups = {name: texts(actions) for name, actions in (document.data.get("groups") or {}).items()}
    for name in groups:
        if name in library.vocabulary.actions:
            said = f"'{name}' is an action; a group has a name of its own"
            problems.append(document.problem(("groups", name), "duplicate-id", said, key=True))
    found: list[Chain] = []
    seen: set[str] = set()
    for index, body in enumerate(listed(document.data.get("chains"))):
        if not body or "id" not in body:
            continue
        path = ("chains", index)
        if body["id"] in seen:
            problems.append(document.problem((*path, "id"), "duplicate-id", f"'{body['id']}' stands twice"))
        seen.add(body["id"])
        either = body.get("either")
        rows = [((*path, "either", n), row) for n, row in enumerate(listed(either))] if either else [(path, body)]
        ways = tuple(_way(document, at, row, groups, library, problems) for at, row in rows if row)
        found.append(Chain(body["id"], ways, Place(document.name, *document.place((*path, "id")))))
    problems += _circles(found)
    return tuple(found)


def _way(document: Document, path: tuple, body: dict, groups: dict, library: Library, problems: list[Problem]) -> Way:
    def actions(key: str) -> tuple[str, ...]:
        named: list[str] = []
        for index, name in enumerate(listed(body.get(key))):
            if name in groups:
                named += groups[name]
            elif name in library.vocabulary.actions:
                named.append(name)
            else:
                known = [*groups, *library.vocabulary.actions]
                said = f"'{name}' is neither an action nor a group{nearest(name, known)}"
                problems.append(document.problem((*path, key, index), "unknown-action", said))
        return tuple(dict.fromkeys(named))

    when = body.get("when")
    wait = body.get("wait") or {}
    return Way(
        actions("before"),
        actions("after"),
        None if when is None else parse_node(document, (*path, "when"), library.scope(), problems, when),
        texts(body.get("fits")),
        int(wait.get("days", 0)),
        wait.get("until", ""),
        body.get("why", ""),
        sources_of(Piece(document, (*path, "source"), body.get("source")), library, problems),
    )


def _circles(chains: Iterable[Chain]) -> list[Problem]:
    """Find ways that run in a circle: of each chain only one can hold at a time."""
    found: dict[tuple, Problem] = {}
    for ways in itertools.product(*(chain.ways for chain in chains)):
        graph: dict[str, set[str]] = {}
        for way in ways:
            for later in way.after:
                graph.setdefault(later, set()).update(way.before)
        try:
            TopologicalSorter(graph).prepare()
        except CycleError as error:
            circle = error.args[1]
            pairs = set(itertools.pairwise(circle))
            taking = [
                chain
                for chain, way in zip(chains, ways, strict=True)
                if any((a, b) in pairs or (b, a) in pairs for a in way.before for b in way.after)
            ]
            place = taking[-1].place
            said = f"each before the next, in a circle: {', '.join(circle)} ({', '.join(chain.id for chain in taking)})"
            found.setdefault((place, frozenset(circle)), Problem(place.file, place.line, place.col, "cycle", said))
    return list(found.values())
