"""Every command where its output is lost or the keeper stops it: one line at most, and the right code."""

import argparse
import dataclasses
import datetime as dt
import io
import os
import sys
from types import SimpleNamespace

import pytest
from kept_kit import full_device
from valley_kit import FIRST, write

from hiveweek import content
from hiveweek.authoring import book, cases, check, coverage, impact, merged, proof_report, prove, sides, year
from hiveweek.cli import record_put_off, week
from hiveweek.cli.main import main, parser
from hiveweek.practice import season as played
from hiveweek.worth import study

EACH = """
week {hive} --offline
week {hive} --offline --json
note Ash 5 seams, eggs seen --yes
facts heft
apiary new New{n} --climate boreal
apiary list
apiary show Near
apiary set Near jurisdiction=germany
hive add New{n} --apiary Near
hive list
hive show Ash
hive set Ash hive.supers=1
hive move Moved{n} --to Near
hive end Old{n} --because sold
hive rename Named{n} Renamed{n}
done Ash heft-hive
later Ash heft-hive
skip Ash heft-hive --because no
undo
record show
record import {yaml} --dry-run
record export {out}{n}.yaml
record check
record forget --by nobody --yes
record copy {out}{n}.sqlite
record treatments
practice --list --unrecorded
season --keeper nothing --alone --hives 1
worth --json
climate list
climate show boreal
climate build --normals {csv} --about {about}
climate compare boreal subarctic
rules check
rules cases {folder}
rules coverage {folder}
rules prove
rules diff {old} {new} --yards 0
rules impact --set limit.food.warn_days=22
rules year boreal
rules book
rules merged boreal
rules new extra.one --print
completion bash
""".strip().splitlines()


class Stopped(io.StringIO):
    """A terminal at which the keeper presses the keys while the answer is printed."""

    def write(self, text):
        raise KeyboardInterrupt


def _full():
    return open("/dev/full", "w", encoding="utf-8")


def _gone():
    near, far = os.pipe()
    os.close(near)
    return os.fdopen(far, "w", encoding="utf-8")


LOST = {"full": (_full, 74, "cannot-write "), "gone": (_gone, 0, ""), "stopped": (Stopped, 130, "stopped")}


@pytest.fixture(scope="module")
def places(tmp_path_factory):
    """A record with hives to work on and files to read; what authors' commands work out is left out: their printing is lost."""
    folder = tmp_path_factory.mktemp("lost")
    write(folder / "old", FIRST)
    write(folder / "cases", {**FIRST, "weeks": 5})
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("HIVEWEEK_RECORD", str(folder / "record.sqlite"))
        patch.setattr(week, "answers", _once(week.answers))
        patch.setattr(record_put_off, "asked_at", _asked)
        patch.setattr(study.Study, "run", lambda self, *asked: {"climates": {}})
        patch.setattr(check, "check", lambda paths: [])
        patch.setattr(prove, "prove", lambda *asked, **more: proof_report.Report())
        patch.setattr(impact.Impact, "run", lambda self, *asked: self.report)
        patch.setattr(sides, "settings", lambda *asked: {})
        patch.setattr(sides, "with_limits", lambda before, moved: before)
        patch.setattr(sides, "cautions", lambda before, moved: [])
        patch.setattr(coverage, "measure", lambda *asked: coverage.Coverage({"rule x fires": "x.yaml:1:1"}))
        patch.setattr(cases, "read", lambda *asked: [])
        rules = SimpleNamespace(numbers=SimpleNamespace(rows={}))
        patch.setattr(cases.Runner, "ruleset", lambda self, *asked: rules)
        patch.setattr(year, "walk", lambda profile, *asked, **more: year.Year(profile, dt.date(2027, 1, 1), []))
        patch.setattr(merged, "merged", lambda profile, *asked, **more: {"profile": profile})
        patch.setattr(merged, "as_lines", lambda found: [found["profile"]])
        patch.setattr(book, "Book", lambda *asked, **more: None)
        patch.setattr(book, "as_markdown", lambda found: "# Rules")
        patch.setattr(played, "WEEKS", 1)
        names = [f"{kind}{way}" for kind in ("Old", "Named", "Moved") for way in LOST]
        for name in ("Home", "Near", "Far"):
            assert main(["apiary", "new", name, "--climate", "boreal"]) == 0
        for hive in ("Ash", *names):
            assert (
                main(["hive", "add", hive, "--apiary", "Home" if hive == "Ash" else "Far", "--date", "2026-01-02"]) == 0
            )
        hive = "{climate: boreal, date: 2026-05-10, hives: [{id: A, facts: {colony.alive: true}}]}"
        (folder / "hive.yaml").write_text(hive, encoding="utf-8")
        assert main(["record", "export", str(folder / "all.yaml")]) == 0
        yield folder


def _once(answers):
    """Answer the first time, and show that answer ever after."""
    kept = []

    def again(yards, asking, done):
        if not kept:
            answers(yards, dataclasses.replace(asking, show=kept.append), done)
        return [asking.show(kept[0])]

    return again


def _asked(store, hives, day, *asked, **more):
    """Whatever the rules ask on the day of the test, the week asks for this."""
    heft = SimpleNamespace(
        band=1,
        rule="x.y",
        rules_hash="",
        as_answered=dict,
        may_put_off=lambda *said: True,
        comes_back=lambda *said: None,
    )
    return {hive.id: {"heft-hive": heft} for hive in hives}


def _words(line, folder, way):
    normals = content.root() / "climate_profiles" / "normals"
    files = {
        "csv": normals / "boreal.csv",
        "about": normals / "boreal.about.yaml",
        "yaml": folder / "all.yaml",
        "hive": folder / "hive.yaml",
        "old": folder / "old" / "valley.yaml",
        "new": folder / "cases" / "valley.yaml",
    }
    out = folder / f"out-{way}"
    return [word.format(n=way, out=out, folder=folder / "cases", **files) for word in line.split()]


def _leaves(found, path=()):
    below = [action for action in found._actions if isinstance(action, argparse._SubParsersAction)]
    for action in below:
        for name, part in action.choices.items():
            yield from _leaves(part, (*path, name))
    if not below:
        yield " ".join(path)


def test_every_command_is_among_them():
    lines = [" ".join(line.split()) + " " for line in EACH]
    asked = {leaf for leaf in _leaves(parser()) if any(line.startswith(f"{leaf} ") for line in lines)}
    assert set(_leaves(parser())) - asked == {"serve"}  # which says it of itself when it is ended


@full_device
@pytest.mark.parametrize("line", EACH)
def test_lost_output_and_a_stop_end_in_one_line_with_the_right_code(line, places, monkeypatch):
    for way, (stream, code, said) in LOST.items():
        errors = io.StringIO()
        with stream() as out:
            monkeypatch.setattr(sys, "stdout", out)
            monkeypatch.setattr(sys, "stderr", errors)
            found = main(_words(line, places, way))
            monkeypatch.undo()
        assert (found, errors.getvalue().count("\n")) == (code, bool(said)), (way, errors.getvalue())
        assert errors.getvalue().startswith(said)
