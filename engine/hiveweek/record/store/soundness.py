"""Whether a record is sound, and its index made anew: entry by entry, so that millions take no more memory than a few."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from typing import TYPE_CHECKING, Any

from hiveweek.record.store import codec

if TYPE_CHECKING:
    from hiveweek.record.store.store import Store

MOST_TOLD = 100  # faults that are named one by one
AT_ONCE = 5000  # rows of the index written in one go


def wrong(store: Store) -> list[str]:
    """Return what is wrong with a record, in words; nothing where all is well.

    Looks at the database itself, at every entry's fingerprint, at numbers without gaps upwards of a revision, and at the index of
    what was told, which is compared with the live entries.
    """
    found = list(store.backend.faults())
    if found:
        return found
    with store.backend.read():
        changed, fits = _entries(store)
        found += [f"entry {key} is not what was written" for key in changed[:MOST_TOLD]]
        if len(changed) > MOST_TOLD:
            found.append(f"{len(changed) - MOST_TOLD} more entries are not what was written")
        found += [
            f"apiary {row['name']}: entry {row['highest']} is newer than the apiary's revision"
            for row in store.backend.each("highest")
            if int(row["highest"]) > int(row["revision"])
        ]
    if not fits:
        found.append("the index of what was told does not fit the entries; 'record check --mend' makes it anew")
    return found


def _entries(store: Store) -> tuple[list[str], bool]:
    """Return the entries that are not what was written, and whether the index tells what the live ones tell.

    Both come in the order of the entries' ids, and the index points to nothing else than entries (the database sees to that), so that
    one goes beside the other.
    """
    changed: list[str] = []
    fits = True
    index = store.backend.each("told_by_entry")
    next_told = next(index, None)
    for row in store.backend.each("entries_by_id"):
        entry = codec.entry_of(row)
        if codec.digest(entry) != row["digest"]:
            changed.append(row["id"])
        told: list[tuple[str, str, str]] = []
        while next_told is not None and next_told["entry"] == row["id"]:
            told.append((next_told["hive"], next_told["what"], next_told["date"]))
            next_told = next(index, None)
        wanted = [(line["hive"], line["what"], line["date"]) for line in codec.told_rows(entry)] if row["live"] else []
        fits = fits and sorted(told) == sorted(wanted)
    return changed, fits and next_told is None


def mend(store: Store) -> None:
    """Make the index of what was told anew from the live entries."""
    with store.writing():
        store.backend.run("untell_all", [{}])
        rows = _told(store.backend.each("entries_by_id"))
        while batch := list(islice(rows, AT_ONCE)):
            store.backend.run("tell", batch)


def _told(rows: Iterable[Mapping[str, Any]]) -> Iterator[dict[str, str]]:
    for row in rows:
        if row["live"]:
            yield from codec.told_rows(codec.entry_of(row))
