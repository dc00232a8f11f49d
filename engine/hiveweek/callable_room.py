"""Lets a package be called: ``hiveweek.climate`` is a room of the code and a function of the interface at once.

Importing a room anywhere sets it as an attribute of ``hiveweek`` and would put a function of the same name out of reach;
with this the name means both, whatever was imported before.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import Any


class CallableRoom(ModuleType):
    """A package that, called, does what the function of its name in `hiveweek.interface` does."""

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        """Call the function of the interface."""
        interface = import_module("hiveweek.interface")  # by name: it stands to the right of every room
        return getattr(interface, self.__name__.rpartition(".")[2])(*args, **kwargs)


def make_callable(name: str) -> None:
    """Let the loaded package of a name be called."""
    sys.modules[name].__class__ = CallableRoom
