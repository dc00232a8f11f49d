"""Making and migrating the record's tables, with Alembic; loaded only then."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, create_engine
from sqlalchemy.pool import NullPool

SCRIPTS = Path(__file__).with_name("migrations")


def _config(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(SCRIPTS).replace("%", "%%"))
    if connection is not None:
        config.attributes["connection"] = connection
    return config


def is_known(version: str) -> bool:
    """Whether a version is one of this program's."""
    return version in {script.revision for script in ScriptDirectory.from_config(_config()).walk_revisions()}


def upgrade(connection: Connection) -> None:
    """Bring the tables behind a connection to the newest version."""
    command.upgrade(_config(connection), "head")


def upgrade_sqlite(path: Path) -> None:
    """Make or migrate the tables of a file, in one transaction."""
    engine = create_engine("sqlite://", creator=lambda: _plain(path), poolclass=NullPool)
    try:
        with engine.begin() as connection:
            upgrade(connection)
    finally:
        engine.dispose()


def _plain(path: Path) -> Any:
    import sqlite3

    # Migrations end or fail as one: statements that make tables are part of the transaction only where it is begun by hand.
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("BEGIN IMMEDIATE")
    return connection
