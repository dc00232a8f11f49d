"""``hiveweek record``: the record as a whole; each command stands in a module of its own."""

from __future__ import annotations

import argparse
from importlib import import_module

from hiveweek.texts.speaker import says

PARTS = ("show", "import", "export", "check", "forget", "copy", "treatments")


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    record = subparsers.add_parser("record", help=says("cli.main.record"), description=says("cli.main.record"))
    commands = record.add_subparsers(dest="record_command", metavar="COMMAND", required=True)
    for name in PARTS:
        import_module(f"hiveweek.cli.record_{name}").register(commands)
