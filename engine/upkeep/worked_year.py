"""The worked year of the manual: its commands run on a fresh record, and the page written from what they answer.

``python -m upkeep.worked_year`` in a checkout reads ``docs/worked-year.yaml`` and says whether ``docs/worked-year.md`` is
what the program answers today (exit code 1 where it is not); ``--write`` brings the page up to date.
"""

from __future__ import annotations

import argparse
import contextlib
import datetime as dt
import io
import json
import os
import shlex
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from babel.dates import format_date

from hiveweek import content, shapes

SOURCE, PAGE = Path("docs/worked-year.yaml"), Path("docs/worked-year.md")
# So many jobs of a hive stand in the list of a day; the whole card has them all.
JOBS = 4


@dataclass(frozen=True)
class Day:
    """One day of the year and what was answered on it.

    Attributes
    ----------
    day : datetime.date
        The day.
    told : dict
        What ``docs/worked-year.yaml`` says of it: ``commands``, and where wanted ``title``, ``before``, ``cards``, ``after``.
    said : tuple of str
        What each command printed.
    hives : dict of str to dict
        Each hive's answer, as ``hiveweek week --json`` gives it.
    cards : dict of str to str
        The cards that the page shows whole.
    """

    day: dt.date
    told: dict
    said: tuple[str, ...]
    hives: dict[str, dict]
    cards: dict[str, str]


def replay(folder: Path, root: Path | None = None) -> Iterator[Day]:
    """Run the year's commands on a record of their own, and yield each day with its answers.

    Parameters
    ----------
    folder : pathlib.Path
        Where the record is made; it must hold none yet.
    root : pathlib.Path, optional
        The checkout; the one in use without it.

    Raises
    ------
    ValueError
        Where a command fails, or a note is not understood whole.
    """
    told = shapes.read((root or content.root()) / SOURCE, "worked_year").data
    with _settings(HIVEWEEK_RECORD=str(folder / "record.sqlite"), COLUMNS="100"):
        for one in told["days"]:
            said = tuple(_run(_dated(command, one["day"])) for command in one["commands"])
            week = ["week", "--offline", "--date", one["day"].isoformat()]
            (yard,) = json.loads(_run([*week, "--json"]))["apiaries"]
            cards = {name: _card(_run([*week, "--hive", name]), name) for name in one.get("cards", ())}
            yield Day(one["day"], one, said, {hive["id"]: hive for hive in yard["hives"]}, cards)


def page(days: list[Day], root: Path | None = None) -> str:
    """Return the page: each day with its commands, the list of each hive in short, and the cards asked for."""
    told = shapes.read((root or content.root()) / SOURCE, "worked_year").data
    lines = [f"# {told['title']}", "", told["before"].strip(), ""]
    for day in days:
        title = f": {day.told['title']}" if "title" in day.told else ""
        lines += [f"## {format_date(day.day, 'd MMMM y', locale='en_GB')}{title}", ""]
        if "before" in day.told:
            lines += [day.told["before"].strip(), ""]
        if day.told["commands"]:
            lines += ["```console", *(f"$ hiveweek {command}" for command in day.told["commands"]), "```", ""]
        alike: dict[str, list[str]] = {}
        for name, hive in day.hives.items():
            alike.setdefault(_short(hive), []).append(name)
        lines += ["```text", *(f"{', '.join(names)}: {short}" for short, names in alike.items())]
        for card in day.cards.values():
            lines += ["", *card.rstrip("\n").splitlines()]
        lines += ["```", ""]
        if "after" in day.told:
            lines += [day.told["after"].strip(), ""]
    return "\n".join(lines).rstrip("\n") + "\n"


def _short(hive: dict) -> str:
    """Return one line: what runs, the first jobs with their days, how many more there are, what was put off."""
    jobs = [_job(advice) for advice in hive["advice"]]
    parts = jobs[:JOBS] + ([f"{len(jobs) - JOBS} more"] if len(jobs) > JOBS else [])
    parts += [f"{one['action']} put away until {_brief(one['until'])}" for one in hive["put_away"]]
    runs = "".join(f"[{one['active']} {one['form']}, day {one['day']}] " for one in hive["courses"])
    return runs + ("; ".join(parts) or "nothing due")


def _job(advice: dict) -> str:
    partner = f" ({advice['with']})" if advice["with"] else ""
    amount = f" {advice['amount']}" if advice["amount"] else ""
    due = ""
    if advice["overdue"]:
        due = f", overdue since {_brief(advice['due_by'])}"
    elif advice["due_by"]:
        due = f", by {_brief(advice['due_by'])}"
    return f"{advice['action']}{partner}{amount}{due}"


def _brief(day: str | None) -> str:
    return format_date(dt.date.fromisoformat(day), "d MMMM", locale="en_GB") if day else "its end"


def _dated(command: str, day: dt.date) -> list[str]:
    words = shlex.split(command)
    dated = words[0] in ("note", "done", "later", "skip") or words[:2] in (
        ["hive", "add"],
        ["hive", "end"],
        ["apiary", "set"],
    )
    return [*words, "--date", day.isoformat()] if dated and "--date" not in words else words


def _run(words: list[str]) -> str:
    from hiveweek.cli.main import main

    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(words)
    if code or "not understood" in out.getvalue():
        raise ValueError(f"hiveweek {shlex.join(words)}: exit code {code}\n{out.getvalue()}{err.getvalue()}")
    return out.getvalue()


def _card(week: str, name: str) -> str:
    """Return the part of a week that is one hive's card."""
    return f"Hive {name}\n" + week.partition(f"Hive {name}\n")[2].partition("\n\n")[0]


@contextlib.contextmanager
def _settings(**values: str) -> Iterator[None]:
    old = {name: os.environ.get(name) for name in values}
    os.environ.update(values)
    try:
        yield
    finally:
        for name, value in old.items():
            os.environ.pop(name, None)
            if value is not None:
                os.environ[name] = value


def main(arguments: list[str] | None = None) -> int:
    """Compare the page with what the program answers, or write it anew."""
    parser = argparse.ArgumentParser(prog="python -m upkeep.worked_year", description="Run the worked year.")
    parser.add_argument("--write", action="store_true", help="bring the page up to date")
    args = parser.parse_args(arguments)
    path = content.root() / PAGE
    with tempfile.TemporaryDirectory() as folder:
        new = page(list(replay(Path(folder))))
    if args.write:
        path.write_text(new, encoding="utf-8")
        return 0
    if path.read_text(encoding="utf-8") == new:
        return 0
    print(f"{PAGE}:1:1: the page has fallen behind; python -m upkeep.worked_year --write")
    return 1


if __name__ == "__main__":
    sys.exit(main())
