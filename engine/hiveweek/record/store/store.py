"""The record on disk or on a server: what may be read and written, and what always holds."""

from __future__ import annotations

from pathlib import Path

from hiveweek.record.store.soundness import mend, wrong
from hiveweek.record.store.writing import Writing


class Store(Writing):
    """A record that lasts.

    Writing is whole or not at all. An entry sent twice is kept once; the same id with other words is refused.
    """

    def copy(self, target: Path) -> None:
        """Copy the whole record into a new file, as it stands at one moment.

        Raises
        ------
        StoreFault
            On a server, which keeps copies by its own means.
        """
        self.backend.copy(target)

    def check(self) -> list[str]:
        """Return what is wrong with the record, in words; nothing where all is well. See `soundness.wrong`."""
        return wrong(self)

    def mend(self) -> None:
        """Make the index of what was told anew from the live entries."""
        mend(self)


def open_store(where: Path | str) -> Store:
    """Open a record.

    Parameters
    ----------
    where : path or str
        A file (made where there is none), or a database URL.

    Raises
    ------
    StoreFault
        In one line: newer than this program, damaged, not to be reached. Nothing is changed.
    """
    if "://" in str(where):
        from hiveweek.record.store.server import ServerBackend

        return Store(ServerBackend(str(where)))
    from hiveweek.record.store.sqlite import SqliteBackend

    return Store(SqliteBackend(Path(where)))
