"""What a database must do for the store."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol


class Backend(Protocol):
    """One database."""

    where: str

    def rows(self, name: str, **values: Any) -> Sequence[Mapping[str, Any]]:
        """Return the rows of a statement."""

    def each(self, name: str, **values: Any) -> Iterator[Mapping[str, Any]]:
        """Give the rows of a statement one by one, however many they are."""

    def run(self, name: str, many: Sequence[Mapping[str, Any]]) -> None:
        """Run a statement once for each mapping of values."""

    def write(self) -> contextlib.AbstractContextManager[None]:
        """Hold the record for writing."""

    def read(self) -> contextlib.AbstractContextManager[None]:
        """Hold one state of the record for several reads."""

    def copy(self, target: Path) -> None:
        """Copy the whole record into a new file."""

    def faults(self) -> list[str]:
        """Return what the database itself finds wrong."""

    def close(self) -> None:
        """Close it."""
