"""Pages whose console blocks are run: each command's output on the page is what it prints now.

``python -m upkeep.pages PAGE..`` says where a page has fallen behind (exit code 1); with ``--write`` it brings the
page up to date. Commands are ``hiveweek ..`` and ``cat FILE``, with ``| grep WORD``, ``| head -N`` and ``| tail -N`` behind.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import re
import shlex
import sys
from pathlib import Path

from hiveweek import content

_BLOCK = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)
# What differs from run to run, or moves with any edit of the shipped files, without meaning anything here.
_PASSING = (
    (re.compile(r"\bin \d+ s\b"), "in a few s"),
    (re.compile(r"\(\d+ kB\)"), "(some kB)"),
    (re.compile(r"(?<![\w/.-])(rulesets/[\w/.-]+\.yaml):\d+:\d+"), r"\1:LINE:COL"),
    (re.compile(r"\bof \d+ cases and scenarios"), "of all cases and scenarios"),
)


class PageError(ValueError):
    """A console block that cannot be run."""


def run(command: str) -> str:
    """Return what a command prints, with its complaints and ``(exit code N)`` where it does not end well.

    Behind a ``|`` the exit code is lost, as it is in a shell.

    Parameters
    ----------
    command : str
        As on the page, without the ``$``. Paths start from the folder that holds ``rulesets``.

    Raises
    ------
    PageError
        For a command of another kind.
    """
    first, *filters = command.split(" | ")
    words = shlex.split(first)
    with contextlib.chdir(content.root()):
        if words[:1] == ["cat"] and len(words) == 2:
            text, code = Path(words[1]).read_text(encoding="utf-8"), 0
        elif words[:1] == ["hiveweek"]:
            text, code = _hiveweek(words[1:])
        else:
            raise PageError(f"a page runs 'hiveweek ..' or 'cat FILE', not '{first}'")
    lines = text.rstrip("\n").splitlines()
    for word in filters:
        lines = _filtered(lines, shlex.split(word), command)
    for pattern, plain in _PASSING:
        lines = [pattern.sub(plain, line) for line in lines]
    return "".join(f"{line.rstrip()}\n" for line in lines) + (f"(exit code {code})\n" if code and not filters else "")


def _hiveweek(words: list[str]) -> tuple[str, int]:
    from hiveweek.cli.main import main

    out, err = io.StringIO(), io.StringIO()
    # Rich reads the width of the terminal from here; a page has none.
    old = os.environ.get("COLUMNS")
    os.environ["COLUMNS"] = "100"
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            try:
                code = main(words)
            except SystemExit as stopped:
                code = int(stopped.code or 0)
    finally:
        if old is None:
            del os.environ["COLUMNS"]
        else:
            os.environ["COLUMNS"] = old
    return out.getvalue() + (err.getvalue() if code else ""), code


def _filtered(lines: list[str], words: list[str], command: str) -> list[str]:
    if len(words) == 2 and words[0] == "grep":
        return [line for line in lines if words[1] in line]
    if len(words) == 2 and words[0] in ("head", "tail") and re.fullmatch(r"-\d+", words[1]):
        number = int(words[1][1:])
        return lines[:number] if words[0] == "head" else lines[-number:] if number else []
    raise PageError(f"'{' '.join(words)}' behind '|' is not known here (in '{command}')")


def renewed(text: str) -> str:
    """Return a page with each command's output as it is now."""

    def block(match: re.Match) -> str:
        commands = [line[2:] for line in match.group(1).splitlines() if line.startswith("$ ")]
        return "```console\n" + "".join(f"$ {command}\n{run(command)}" for command in commands) + "```"

    return _BLOCK.sub(block, text)


def main(arguments: list[str] | None = None) -> int:
    """Compare pages with what their commands print, or write them anew."""
    parser = argparse.ArgumentParser(prog="python -m upkeep.pages", description="Run the console blocks of pages.")
    parser.add_argument("pages", nargs="+", metavar="PAGE")
    parser.add_argument("--write", action="store_true", help="bring the pages up to date")
    args = parser.parse_args(arguments)
    behind = 0
    for name in args.pages:
        path = Path(name)
        old = path.read_text(encoding="utf-8")
        new = renewed(old)
        if new == old:
            continue
        behind += 1
        if args.write:
            path.write_text(new, encoding="utf-8")
            print(f"written: {name}")
        else:
            number = next(
                n
                for n, (a, b) in enumerate(zip(old.splitlines() + [""], new.splitlines() + [""], strict=False), 1)
                if a != b
            )
            print(f"{name}:{number}:1: the page has fallen behind; python -m upkeep.pages --write {name}")
    return 1 if behind and not args.write else 0


if __name__ == "__main__":
    sys.exit(main())
