"""The record in one SQLite file, with the standard library and statements compiled beforehand."""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from hiveweek.record.store import faults
from hiveweek.record.store.versions import HEAD

BUSY_MS = 5000
COMPILED = Path(__file__).with_name("statements.json")


@lru_cache(maxsize=1)
def compiled() -> dict[str, str]:
    """Return the statements by name, as SQLite takes them."""
    found: dict[str, str] = json.loads(COMPILED.read_text(encoding="utf-8"))
    return found


class SqliteBackend:
    """One connection to one file.

    Parameters
    ----------
    path : Path
        The file; made where it is not there yet, and migrated (after a copy was kept) where it is older.

    Raises
    ------
    StoreFault
        Newer than this program, damaged, no record, not to be opened. The file is left untouched.
    """

    def __init__(self, path: Path):
        self.path = path
        self.where = str(path)
        try:
            fresh = not path.exists() or path.stat().st_size == 0
            if fresh:
                self._make()
            self.connection = self._open()
            version = self._version()
            if version != HEAD:
                self.connection.close()
                self._migrate(version)
                self.connection = self._open()
            # Only now: a file that is no record of this program must stay as it is, to the byte.
            if os.access(self.path, os.W_OK):
                self.connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.Error as error:
            raise faults.told(self.where, error) from None
        except OSError as error:
            raise faults.StoreFault(self.where, "record-unreadable", f"cannot be opened: {error.strerror}") from None

    def _make(self) -> None:
        self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        # Nobody else reads what a keeper writes down: the file is private before anything stands in it.
        os.close(os.open(self.path, os.O_CREAT | os.O_RDWR, 0o600))
        from hiveweek.record.store.migrate import upgrade_sqlite

        upgrade_sqlite(self.path)

    def _open(self) -> sqlite3.Connection:
        connection = sqlite3.connect(self.path, isolation_level=None, timeout=BUSY_MS / 1000)
        connection.row_factory = sqlite3.Row
        connection.execute(f"PRAGMA busy_timeout = {BUSY_MS}")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA secure_delete = ON")
        return connection

    def _version(self) -> str:
        try:
            row = self.connection.execute("SELECT version_num FROM alembic_version").fetchone()
        except sqlite3.OperationalError as error:
            if "no such table" not in str(error):
                raise
            raise faults.StoreFault(
                self.where, "record-damaged", "this database holds no record of this program; it was left as it is"
            ) from None
        return str(row[0]) if row else ""

    def _migrate(self, version: str) -> None:
        from hiveweek.record.store.migrate import is_known, upgrade_sqlite

        if not is_known(version):
            raise faults.StoreFault(
                self.where,
                "record-newer",
                f"written by a newer hiveweek (its record is '{version}'); it was left as it is",
            )
        kept = self.path.with_name(f"{self.path.name}.before-{HEAD}")
        self.copy(kept)
        upgrade_sqlite(self.path)

    def copy(self, target: Path) -> None:
        """Copy the whole record into a new file, as it stands at one moment."""
        os.close(os.open(target, os.O_CREAT | os.O_RDWR | os.O_TRUNC, 0o600))
        try:
            with (
                contextlib.closing(sqlite3.connect(self.path)) as source,
                contextlib.closing(sqlite3.connect(target)) as out,
            ):
                source.backup(out)
        except sqlite3.Error as error:
            raise faults.told(str(target), error) from None

    def rows(self, name: str, **values: Any) -> Sequence[Mapping[str, Any]]:
        """Return the rows of a statement."""
        try:
            found: Sequence[Any] = self.connection.execute(compiled()[name], values).fetchall()
        except sqlite3.Error as error:
            raise faults.told(self.where, error) from None
        return found

    def each(self, name: str, **values: Any) -> Iterator[Mapping[str, Any]]:
        """Give the rows of a statement one by one."""
        try:
            yield from self.connection.execute(compiled()[name], values)
        except sqlite3.Error as error:
            raise faults.told(self.where, error) from None

    def run(self, name: str, many: Sequence[Mapping[str, Any]]) -> None:
        """Run a statement once for each mapping of values."""
        try:
            self.connection.executemany(compiled()[name], many)
        except sqlite3.Error as error:
            raise faults.told(self.where, error) from None

    @contextlib.contextmanager
    def write(self) -> Iterator[None]:
        """Hold the record for writing; all that was written stands, or nothing does."""
        try:
            self.connection.execute("BEGIN IMMEDIATE")
        except sqlite3.Error as error:
            raise faults.told(self.where, error) from None
        try:
            yield
            self.connection.execute("COMMIT")
        except BaseException as error:
            with contextlib.suppress(sqlite3.Error):
                if self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")
            if isinstance(error, sqlite3.Error):
                raise faults.told(self.where, error) from None
            raise

    @contextlib.contextmanager
    def read(self) -> Iterator[None]:
        """Hold one state of the record for several reads."""
        self.connection.execute("BEGIN")
        try:
            yield
        finally:
            if self.connection.in_transaction:
                self.connection.execute("COMMIT")

    def faults(self) -> list[str]:
        """Return what the database itself finds wrong."""
        try:
            said = [str(row[0]) for row in self.connection.execute("PRAGMA integrity_check")]
            loose = [
                f"{row[0]} points to a {row[2]} that is not there"
                for row in self.connection.execute("PRAGMA foreign_key_check")
            ]
        except sqlite3.Error as error:
            return [str(error)]
        return [text for text in said if text != "ok"] + loose

    def close(self) -> None:
        """Close the connection."""
        self.connection.close()
