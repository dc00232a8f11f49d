"""The record on a database server, by SQLAlchemy; loaded only where a URL names one."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, inspect, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import SQLAlchemyError

from hiveweek.record.store import faults
from hiveweek.record.store.migrate import is_known, upgrade
from hiveweek.record.store.statements import statements
from hiveweek.record.store.versions import HEAD

AT_ONCE = 1000  # rows fetched from the server at a time
LOCK = 4_711_902_113  # any number; whoever makes or migrates the tables holds it


class ServerBackend:
    """Connections to one database.

    Parameters
    ----------
    url : str
        Such as ``postgresql+psycopg://user@host/database``.

    Raises
    ------
    StoreFault
        Not to be reached, newer than this program, or no record. Passwords are never told.
    """

    def __init__(self, url: str):
        try:
            made = make_url(url)
        except SQLAlchemyError:
            raise faults.StoreFault("the record", "bad-url", "its address is no database URL") from None
        self.where = made.render_as_string(hide_password=True)
        self._statements = statements()
        self._held: Connection | None = None
        try:
            self.engine: Engine = create_engine(made, pool_pre_ping=True)
            self._prepare()
        except ModuleNotFoundError as error:
            raise faults.StoreFault(self.where, "no-driver", f"the library '{error.name}' is not installed") from None
        except SQLAlchemyError as error:
            raise self._told(error) from None

    def _told(self, error: SQLAlchemyError) -> faults.StoreFault:
        inner = getattr(error, "orig", None)
        words = str(inner if inner is not None else error)
        if any(part in words for part in ("could not obtain lock", "deadlock", "lock timeout", "could not serialize")):
            return faults.StoreFault(self.where, "record-busy", "another program is writing to the record; try again")
        if "connect" in words.lower():
            return faults.StoreFault(self.where, "record-unreachable", "the database does not answer")
        return faults.told(self.where, Exception(words))

    def _prepare(self) -> None:
        with self.engine.begin() as connection:
            postgres = connection.dialect.name == "postgresql"
            if postgres:
                connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": LOCK})
            names = set(inspect(connection).get_table_names())
            version = ""
            if "alembic_version" in names:
                version = str(connection.execute(text("SELECT version_num FROM alembic_version")).scalar() or "")
            elif names & {"entry", "hive", "apiary"}:
                raise faults.StoreFault(
                    self.where,
                    "record-damaged",
                    "its tables are not a record of this program; they were left as they are",
                )
            if version == HEAD:
                return
            if version and not is_known(version):
                raise faults.StoreFault(
                    self.where,
                    "record-newer",
                    f"written by a newer hiveweek (its record is '{version}'); it was left as it is",
                )
            upgrade(connection)

    @contextlib.contextmanager
    def _connection(self) -> Iterator[Connection]:
        if self._held is not None:
            yield self._held
            return
        with self.engine.connect() as connection:
            yield connection

    def rows(self, name: str, **values: Any) -> Sequence[Mapping[str, Any]]:
        """Return the rows of a statement."""
        try:
            with self._connection() as connection:
                return [dict(row) for row in connection.execute(self._statements[name], values).mappings()]
        except SQLAlchemyError as error:
            raise self._told(error) from None

    def each(self, name: str, **values: Any) -> Iterator[Mapping[str, Any]]:
        """Give the rows of a statement one by one, by a cursor on the server."""
        try:
            with self._connection() as connection:
                found = connection.execute(self._statements[name], values, execution_options={"yield_per": AT_ONCE})
                yield from map(dict, found.mappings())
        except SQLAlchemyError as error:
            raise self._told(error) from None

    def run(self, name: str, many: Sequence[Mapping[str, Any]]) -> None:
        """Run a statement once for each mapping of values."""
        if not many:
            return
        try:
            with self._connection() as connection:
                connection.execute(self._statements[name], [dict(values) for values in many])
        except SQLAlchemyError as error:
            raise self._told(error) from None

    @contextlib.contextmanager
    def write(self) -> Iterator[None]:
        """Hold a transaction; all that was written stands, or nothing does."""
        try:
            with self.engine.begin() as connection:
                if connection.dialect.name == "postgresql":
                    connection.execute(text("SET LOCAL lock_timeout = '5s'"))
                self._held = connection
                try:
                    yield
                finally:
                    self._held = None
        except SQLAlchemyError as error:
            raise self._told(error) from None

    @contextlib.contextmanager
    def read(self) -> Iterator[None]:
        """Hold one state of the record for several reads."""
        with self.engine.connect().execution_options(isolation_level="REPEATABLE READ") as connection:
            self._held = connection
            try:
                yield
            finally:
                self._held = None

    def copy(self, target: Path) -> None:
        """Refuse: a server keeps copies by its own means."""
        raise faults.StoreFault(
            self.where, "no-copy", "a server makes copies by its own means; 'record export' works here"
        )

    def faults(self) -> list[str]:
        """Return what the database itself finds wrong: a server keeps its own house."""
        return []

    def close(self) -> None:
        """Give all connections back."""
        self.engine.dispose()
