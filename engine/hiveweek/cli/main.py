"""The command line: ``hiveweek COMMAND``."""

from __future__ import annotations

import argparse
import errno
import gc
import os
import sys
from importlib import import_module

from hiveweek import __version__
from hiveweek.cli import letters
from hiveweek.cli.complaint import complain
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.texts.speaker import says

COMMANDS = (
    "week",
    "note",
    "facts",
    "apiary",
    "hive",
    "done",
    "later",
    "skip",
    "undo",
    "serve",
    "record",
    "practice",
    "season",
    "worth",
    "climate",
    "rules",
    "completion",
)
SELDOM = 50_000  # new objects before the collector looks: a command reads rules and facts that stay, and looks through them cost a tenth
OUTPUT_LOST, STOPPED = 74, 130  # as BSD's sysexits and shells have them
FULL = (errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EFBIG)


class _Parser(argparse.ArgumentParser):
    """A parser whose complaints look like every other problem: one line, exit 2."""

    mixed = False  # options may stand between the words of a list

    def parse_known_args(self, args=None, namespace=None):
        """Parse; where words and options may be mixed, first the options, then the words."""
        if not self.mixed:
            return super().parse_known_args(args, namespace)
        self.mixed = False  # the library comes back here for each of the two passes
        try:
            return self.parse_known_intermixed_args(args, namespace)
        finally:
            self.mixed = True

    def error(self, message):
        problem = Problem("", 0, 0, "command-line", f"{message}; see '{self.prog} --help'")
        complain([problem])
        raise SystemExit(2)


def parser(only: str | None = None) -> argparse.ArgumentParser:
    """Return the parser; with ``only`` just that command's module is imported."""
    top = _Parser(prog="hiveweek", description=says("cli.main.description"))
    top.add_argument("--version", action="version", version=f"hiveweek {__version__}")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)
    for name in COMMANDS:
        if only in (None, name):
            import_module(f"hiveweek.cli.{name}").register(commands)
        else:
            commands.add_parser(name, help=says(f"cli.main.{name}"))
    return top


def main(arguments: list[str] | None = None) -> int:
    """Run a command; return its exit code.

    0 done, 1 a check failed, 2 unusable input, 3 the channels differ, 74 the output could not be written, 130 stopped by the keeper.
    """
    letters.settle()
    gc.set_threshold(SELDOM)
    try:
        code = _run(list(sys.argv[1:] if arguments is None else arguments))
        sys.stdout.flush()  # here, where what goes wrong can still be told
        return code
    except BrokenPipeError:
        _drop_output()  # the reader went away (as with ``| head``); nothing is left to say
        return 0
    except KeyboardInterrupt:
        after = "\n" if sys.stderr.isatty() else ""  # the terminal has just shown the keys
        print(after + says("cli.main.stopped"), file=sys.stderr)
        return STOPPED
    except OSError as error:
        if error.errno not in FULL or error.filename is not None:
            raise
        _drop_output()
        complain([Problem("", 0, 0, "cannot-write", f"{says('cli.main.output')}: {error.strerror}")])
        return OUTPUT_LOST


def _drop_output() -> None:
    """Let what is still in the buffer go nowhere when the interpreter closes the stream."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _run(arguments: list[str]) -> int:
    first = next((word for word in arguments if not word.startswith("-")), None)
    if first is not None and first not in COMMANDS:
        known = ", ".join(COMMANDS)
        near = nearest(first, COMMANDS)
        complain([Problem("", 0, 0, "unknown-command", f"'{first}' is no command; there are {known}{near}")])
        return 2
    try:
        found = parser(first).parse_args(arguments)
        if not getattr(found, "run", None):
            parser(first).parse_args([*arguments, "--help"])
        return int(found.run(found) or 0)
    except InputProblems as problems:
        complain(problems.problems)
        return 2


def entry() -> None:
    """Console entry point."""
    raise SystemExit(main())


if __name__ == "__main__":
    entry()
